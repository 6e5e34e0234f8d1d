//! What to say where a name was not found.

use borewright_base::nearest;

/// As many names are read through at a glance: a cutter has so many fields.
const MOST: usize = 20;

/// "did you mean `x`?", or the whole list where none is near.
pub(crate) fn hint<'a>(name: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<String> {
    let all: Vec<&str> = candidates.into_iter().collect();
    match nearest(name, all.iter().copied()) {
        Some(near) => Some(format!("did you mean `{near}`?")),
        None if all.is_empty() || all.len() > MOST => None,
        None => Some(format!("there is {}", all.join(", "))),
    }
}
