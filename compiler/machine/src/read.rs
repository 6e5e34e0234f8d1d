//! From the text of a machine file to a [`Machine`], or to one finding for each field that is wrong.

use borewright_base::{Diagnostic, Diagnostics, FileId, Span};
use toml::Table;
use toml::de::DeTable;

use crate::fields::Fields;
use crate::{Machine, errors, judge, validate};

/// Reads a machine file. Fields that it leaves out come from the built-in machine that it is `like`, else from
/// the plain blocks of its unit.
///
/// ```
/// use borewright_base::FileId;
/// use borewright_machine::{parse, Machine};
/// let mill = parse(FileId::default(), "like = 'hash-mm'\nname = 'knee mill'").unwrap();
/// assert_eq!(mill.alarms, Machine::builtin("hash-mm").unwrap().alarms);
/// assert!(parse(FileId::default(), "units = 'furlong'").unwrap_err().has_errors());
/// ```
pub fn parse(file: FileId, text: &str) -> Result<Machine, Diagnostics> {
    let mut diagnostics = Diagnostics::default();
    let (tree, syntax) = DeTable::parse_recoverable(text);
    for error in syntax {
        let span = Span::new(file, error.span().unwrap_or(0..0));
        diagnostics.report(Diagnostic::error(errors::MACHINE_SYNTAX, span, lower_first(error.message())));
    }
    let fields = Fields::of(file, &tree);
    if !diagnostics.has_errors() {
        validate::against_schema(&tree, &fields, &mut diagnostics);
    }
    if diagnostics.has_errors() {
        return Err(diagnostics);
    }
    let machine = merge(text, &fields, &mut diagnostics);
    if let Some(machine) = &machine {
        judge::judge(machine, &fields, &mut diagnostics);
    }
    match machine {
        Some(machine) if !diagnostics.has_errors() => Ok(machine),
        _ => Err(diagnostics),
    }
}

/// Lays the file over the one it builds upon.
fn merge(text: &str, fields: &Fields, diagnostics: &mut Diagnostics) -> Option<Machine> {
    let mut report = |code, at: &str, message: String| {
        diagnostics.report(Diagnostic::error(code, fields.span(at), message));
    };
    let over = match text.parse::<Table>() {
        Ok(table) => table,
        Err(error) => {
            report(errors::MACHINE_SYNTAX, "", lower_first(error.message()));
            return None;
        }
    };
    let stated = |name: &str| over.get(name).and_then(toml::Value::as_str);
    let plain = if stated("units") == Some("inch") { "blocks-inch" } else { "blocks-mm" };
    let base_name = stated("like").unwrap_or(plain);
    let Some(base) = Machine::builtin_text(base_name) else {
        let known: Vec<_> = Machine::builtin_names().collect();
        let message = format!("no built-in machine has this name: they are {}", known.join(", "));
        report(errors::UNKNOWN_MACHINE, "like", message);
        return None;
    };
    let mut whole = base.parse::<Table>().unwrap_or_default();
    if stated("units").is_some_and(|units| whole.get("units").and_then(toml::Value::as_str) != Some(units)) {
        let message = format!("`{base_name}` is in the other unit: its lengths would be misread");
        report(errors::IMPOSSIBLE_MACHINE, "units", message);
        return None;
    }
    overlay(&mut whole, over);
    match whole.try_into::<Machine>() {
        Ok(mut machine) => {
            // TOML has no way to take a field away: no digits is how a file says that programs have no number.
            if machine.programs.digits == 0 {
                machine.programs.letter = None;
            }
            // Nor a table: an offset that may be 0 at most is how it says that there is no compensation.
            machine.compensation = machine.compensation.filter(|c| c.greatest.signum() != 0);
            Some(machine)
        }
        Err(error) => {
            report(errors::WRONG_VALUE, "", lower_first(error.message()));
            None
        }
    }
}

/// Fields of `over` win; tables are laid over one another field by field.
fn overlay(base: &mut Table, over: Table) {
    for (name, value) in over {
        match (base.get_mut(&name), value) {
            (Some(toml::Value::Table(below)), toml::Value::Table(above)) => overlay(below, above),
            (_, value) => {
                base.insert(name, value);
            }
        }
    }
}

fn lower_first(message: &str) -> String {
    let mut chars = message.trim_end_matches('.').chars();
    chars.next().map_or_else(String::new, |c| c.to_lowercase().chain(chars).collect())
}
