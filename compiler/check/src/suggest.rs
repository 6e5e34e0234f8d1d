//! The nearest of several names to one that was not found.

/// The candidate that differs in the fewest letters, if it is near enough to be meant: at most a third of the
/// name's letters, and at least one.
pub(crate) fn nearest<'a>(name: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let limit = (name.chars().count() / 3).max(1);
    candidates
        .into_iter()
        .map(|c| (distance(name, c), c))
        .filter(|(d, _)| *d <= limit)
        .min()
        .map(|(_, candidate)| candidate)
}

/// "did you mean `x`?", or the whole list where none is near.
pub(crate) fn hint<'a>(name: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<String> {
    let all: Vec<&str> = candidates.into_iter().collect();
    match nearest(name, all.iter().copied()) {
        Some(near) => Some(format!("did you mean `{near}`?")),
        None if all.is_empty() || all.len() > 12 => None,
        None => Some(format!("there is {}", all.join(", "))),
    }
}

/// How many letters must be added, dropped or changed; upper and lower case are the same letter.
fn distance(a: &str, b: &str) -> usize {
    let (a, b): (Vec<char>, Vec<char>) =
        (a.to_lowercase().chars().collect(), b.to_lowercase().chars().collect());
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.iter().enumerate() {
        let mut diagonal = i;
        let mut left = i + 1;
        for (cell, y) in row.iter_mut().skip(1).zip(&b) {
            let best = (diagonal + usize::from(x != y)).min(*cell + 1).min(left + 1);
            diagonal = *cell;
            *cell = best;
            left = best;
        }
        if let Some(first) = row.first_mut() {
            *first = i + 1;
        }
    }
    row.last().copied().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distance_counts_changed_letters() {
        assert_eq!(distance("stepdown", "stepdwon"), 2);
        assert_eq!(distance("bore", "bore"), 0);
        assert_eq!(distance("", "abc"), 3);
        assert_eq!(distance("tool", "pool"), 1);
    }

    #[test]
    fn a_far_name_is_not_suggested() {
        assert_eq!(nearest("depht", ["depth", "bore"]), Some("depth"));
        assert_eq!(nearest("x", ["depth", "bore"]), None);
    }
}
