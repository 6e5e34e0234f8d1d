//! Bundled routines and sample jobs as motions, their texts, and whether a text agrees.

#![allow(dead_code, reason = "each test file takes what it needs")]

use std::sync::Arc;

use borewright_base::FileId;
use borewright_check::{Loader, check};
use borewright_emit::{EmittedFile, Form, Settings, emit_unproved};
use borewright_lift::{Argument, Reason, Style, Use, lift};
use borewright_machine::Machine;
use borewright_motion::{Lifted, Motion, Symbol};
use borewright_number::Rational;
use borewright_proof::{Budget, Formula, Interface, Settled, Verdict, agree, decide};
use borewright_syntax::{ast, parse};

struct Library;

impl Loader for Library {
    fn load(&self, name: &str) -> Option<Arc<ast::File>> {
        let (_, text) = borewright_stdlib::FILES.iter().find(|(n, _)| *n == name)?;
        Some(Arc::new(parse(FileId(1), text).0))
    }
}

/// The motions of a text.
pub fn motions(text: &str) -> Vec<Arc<Motion>> {
    let (file, _) = parse(FileId(0), text);
    let (checked, _) = check(&file, FileId(0), &Library);
    lower(&checked)
}

fn lower(checked: &borewright_check::Checked) -> Vec<Arc<Motion>> {
    let (motions, found) = borewright_lower::lower(checked);
    assert!(!found.has_errors(), "{:?}", found.iter().map(|d| &d.message).collect::<Vec<_>>());
    motions
}

/// Every bundled routine.
pub fn routines() -> Vec<Arc<Motion>> {
    borewright_stdlib::FILES.iter().flat_map(|(_, text)| motions(text)).collect()
}

/// A bundled routine.
pub fn routine(name: &str) -> Arc<Motion> {
    routines().into_iter().find(|m| m.name == name).unwrap()
}

pub fn machine(name: &str) -> Machine {
    Machine::builtin(name).unwrap()
}

/// The programs of a motion.
pub fn emitted(motion: &Motion, machine: &Machine, form: Form, settings: &Settings) -> Vec<EmittedFile> {
    match emit_unproved(motion, machine, form, settings) {
        Ok(files) => files,
        Err(found) => panic!("{}: {:?}", motion.name, found.iter().map(|d| &d.message).collect::<Vec<_>>()),
    }
}

/// Lifts a text that is used as the interface says.
pub fn lifted(
    text: &str,
    motion: &Motion,
    machine: &Machine,
    (interface, with): (&Interface, &[String]),
) -> Result<Lifted, Reason> {
    let arguments = interface.arguments(motion, machine).into_iter();
    let arguments = arguments.map(|(v, a)| (v, Argument { value: a.value, given: a.given })).collect();
    let style = if interface.called { Style::Called } else { Style::Main };
    lift(text, FileId(7), machine, &Use { style, arguments, with: with.to_vec() })
}

/// What keeps a text from agreeing, or the formulas that were proved. Those of `known` are proved already.
pub fn disagreement(
    text: &str,
    motion: &Motion,
    machine: &Machine,
    interface: &Interface,
    known: &[Formula],
) -> Result<Vec<Formula>, String> {
    compared(text, motion, machine, (interface, &[]), known)
}

/// The same for a text with the programs that it calls.
pub fn compared(
    text: &str,
    motion: &Motion,
    machine: &Machine,
    (interface, with): (&Interface, &[String]),
    known: &[Formula],
) -> Result<Vec<Formula>, String> {
    let lifted = lifted(text, motion, machine, (interface, with)).map_err(|reason| {
        let block = text.get(reason.span.range()).unwrap_or_default().trim();
        format!("not followed: {reason}: {block}")
    })?;
    let settings = borewright_proof::Settings {
        budget: Budget { steps: 60_000 },
        trial: Budget { steps: 5_000 },
        ..borewright_proof::Settings::default()
    };
    let mut proved = Vec::new();
    for obligation in agree(motion, &lifted, machine, interface) {
        if !known.contains(&obligation.formula) {
            let settled = decide(motion, obligation, &settings);
            if !matches!(settled.verdict, Verdict::Proved { .. }) {
                return Err(told(&settled));
            }
            proved.push(settled.obligation.formula);
        }
    }
    Ok(proved)
}

/// An obligation, and what is known of it.
pub fn told(Settled { obligation, verdict, .. }: &Settled) -> String {
    let outcome = match verdict {
        Verdict::Proved { .. } => "proved".to_owned(),
        Verdict::Refuted(counter) => {
            let values = counter.values.iter().map(|(s, v)| format!("{s}={}", v.decimal_text(4)));
            format!("refuted with {}", values.collect::<Vec<_>>().join(" "))
        }
        Verdict::Unknown { why } => format!("unknown, {why}"),
    };
    format!("{}: {}: {outcome}: {}", obligation.id, obligation.why, obligation.formula.goal)
}

pub fn settings(program: u32) -> Settings {
    Settings { program: Some(program), ..Settings::default() }
}

pub fn value(name: &str, decimal: &str) -> (Symbol, Rational) {
    (Symbol::new(name), Rational::from_decimal(decimal).unwrap())
}
