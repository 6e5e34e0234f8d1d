//! From a name or a path to a machine.

use borewright_base::{Diagnostics, SourceMap};
use borewright_machine::Machine;

use crate::errors;
use crate::host::{Host, Trouble};
use crate::load::decode;

/// Name and summary of every built-in machine, sorted by name.
#[must_use]
pub fn built_in() -> Vec<(&'static str, String)> {
    Machine::builtin_names()
        .map(|name| (name, Machine::builtin(name).map_or(String::new(), |m| m.summary)))
        .collect()
}

/// The JSON schema of machine files, as text.
#[must_use]
pub fn schema() -> String {
    format!("{:#}\n", borewright_machine::schema())
}

/// The text of a machine file, built in or not, that was found to be in order.
pub fn text(host: &dyn Host, name: &str, sources: &mut SourceMap, found: &mut Diagnostics) -> Option<String> {
    let text = match Machine::builtin_text(name) {
        Some(text) => text.to_owned(),
        None => read(host, name, sources, found)?,
    };
    find(host, name, sources, found).map(|_| text)
}

/// The built-in machine of that name, else the one in the file at that path.
pub fn find(
    host: &dyn Host,
    name: &str,
    sources: &mut SourceMap,
    found: &mut Diagnostics,
) -> Option<Machine> {
    if let Some(machine) = Machine::builtin(name) {
        return Some(machine);
    }
    at(host, name, sources, found)
}

/// The same; where there is no file at that path, one that lies beside another file: `mill` beside `jobs/seat.bore`
/// is `jobs/mill.toml`, and `mill.toml` is it too.
pub fn find_beside(
    host: &dyn Host,
    name: &str,
    beside: &str,
    sources: &mut SourceMap,
    found: &mut Diagnostics,
) -> Option<Machine> {
    if Machine::builtin(name).is_some() || host.read(name) != Err(Trouble::Missing) {
        return find(host, name, sources, found);
    }
    let folder = beside.rfind('/').map_or("", |end| beside.get(..=end).unwrap_or_default());
    let tried = [format!("{folder}{name}"), format!("{folder}{name}.toml")];
    let lies = |path: &&String| !name.starts_with('/') && host.read(path) != Err(Trouble::Missing);
    match tried.iter().find(lies) {
        Some(path) => at(host, path, sources, found),
        None => find(host, name, sources, found),
    }
}

/// The machine in the file at a path.
fn at(host: &dyn Host, path: &str, sources: &mut SourceMap, found: &mut Diagnostics) -> Option<Machine> {
    let text = read(host, path, sources, found)?;
    let file = sources.add(path, text.as_str());
    match borewright_machine::parse(file, &text) {
        Ok(machine) => Some(machine),
        Err(faults) => {
            found.append(faults);
            None
        }
    }
}

fn read(host: &dyn Host, path: &str, sources: &mut SourceMap, found: &mut Diagnostics) -> Option<String> {
    match host.read(path) {
        Ok(bytes) => decode(path, &bytes, sources, found),
        Err(Trouble::Missing) => {
            let known: Vec<&str> = Machine::builtin_names().collect();
            let _said = found.report(errors::unknown_machine(path, &known));
            None
        }
        Err(trouble) => {
            let _said = found.report(errors::trouble(path, &trouble));
            None
        }
    }
}
