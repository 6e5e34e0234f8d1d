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
    let text = read(host, name, sources, found)?;
    let file = sources.add(name, text.as_str());
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
