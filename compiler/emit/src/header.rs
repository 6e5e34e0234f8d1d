//! What stands above the blocks: who, what, proved what, assumed what, and what to do first.

use borewright_base::{Diagnostic, Span};
use borewright_machine::Machine;
use borewright_motion::{Motion, evaluate};

use crate::assumptions::{Assumption, CAUTIONS};
use crate::writer::Writer;
use crate::{Settings, errors};

/// The number of the program, where one is stated, checked against the machine.
pub(crate) fn program_number(
    motion: &Motion,
    machine: &Machine,
    settings: &Settings,
) -> Result<Option<u32>, Diagnostic> {
    let stated = match (&settings.program, &motion.program) {
        (Some(number), _) => Some(*number),
        (None, None) => None,
        (None, Some(expr)) => {
            let value = evaluate(expr, &settings.values).ok();
            let whole = value.and_then(|v| v.exact().and_then(borewright_number::Rational::to_i64));
            let number = whole.and_then(|n| u32::try_from(n).ok());
            let wrong = || refuse(motion.span, format!("the program number {expr} is not a whole number"));
            Some(number.ok_or_else(wrong)?)
        }
    };
    let (Some(number), Some(_)) = (stated, machine.programs.letter) else {
        return Ok(None);
    };
    allowed(number, motion.span, machine).map(Some)
}

/// The number, where the machine takes it.
pub(crate) fn allowed(number: u32, span: Span, machine: &Machine) -> Result<u32, Diagnostic> {
    let programs = &machine.programs;
    if let Some(range) = programs.reserved.iter().find(|r| r.contains(number)) {
        let text =
            format!("program number {number} lies in {} to {}, which the machine keeps", range.0, range.1);
        return Err(refuse(span, text));
    }
    let fits = number.to_string().len() <= programs.digits as usize;
    if !fits || !programs.allowed.iter().any(|r| r.contains(number)) {
        let ranges: Vec<_> = programs.allowed.iter().map(|r| format!("{} to {}", r.0, r.1)).collect();
        let text =
            format!("program number {number} is not one that the machine takes ({})", ranges.join(", "));
        return Err(refuse(span, text));
    }
    Ok(number)
}

fn refuse(span: Span, text: String) -> Diagnostic {
    Diagnostic::error(errors::PROGRAM_NUMBER, span, text)
        .hint("state one with `program 1200` in the head; the machine file says which numbers are free")
}

/// `O1200`
pub(crate) fn program_word(number: u32, machine: &Machine) -> Option<String> {
    let digits = machine.programs.digits as usize;
    machine.programs.letter.map(|letter| format!("{letter}{number:0>digits$}"))
}

/// The name of the file: `O1200.nc`, or the name of the motion.
pub(crate) fn file_name(motion: &Motion, number: Option<u32>, machine: &Machine) -> String {
    let word = number.and_then(|n| program_word(n, machine));
    let plain = |c: char| if c.is_ascii_alphanumeric() || c == '_' || c == '-' { c } else { '_' };
    let stem = word.unwrap_or_else(|| motion.name.chars().map(plain).collect());
    if stem.is_empty() { "program.nc".to_owned() } else { format!("{stem}.nc") }
}

/// Whether every line is one that the machine takes.
pub(crate) fn fits(w: &Writer, machine: &Machine, span: Span) -> Result<(), Diagnostic> {
    match w.longest() {
        Some((line, at)) if line.len() > machine.text.block_length.max(machine.text.line_length) => {
            let text = format!("a line of {} characters is too long for the machine: `{line}`", line.len());
            Err(Diagnostic::error(errors::BLOCK_TOO_LONG, at.unwrap_or(span), text).hint(format!(
                "the machine file allows {}; name parts of long expressions with `let`, or give fewer arguments",
                machine.text.block_length
            )))
        }
        _ => Ok(()),
    }
}

/// Percent sign, number, name, what it is for.
pub(crate) fn open(w: &mut Writer, motion: &Motion, number: Option<u32>, machine: &Machine) {
    if machine.programs.percent {
        w.percent();
    }
    let word = number.and_then(|n| program_word(n, machine));
    w.title(word.as_deref(), &motion.name);
    for line in &motion.documentation {
        w.comment(line);
    }
    let unit = if machine.inch() { "INCHES" } else { "MILLIMETRES" };
    let name = &machine.name;
    w.comment(&format!(
        "WRITTEN BY BOREWRIGHT {} FOR THE MACHINE FILE {name}, IN {unit}",
        env!("CARGO_PKG_VERSION")
    ));
}

/// What the features are promised.
pub(crate) fn promises(w: &mut Writer, motion: &Motion) {
    for made in &motion.made {
        let words: Vec<_> = made.promises.iter().map(|(p, _)| p.name()).collect();
        if !words.is_empty() {
            w.comment(&format!("PROMISED FOR {}: {}", made.feature.name, words.join(", ")));
        }
    }
}

/// The numbered assumptions.
pub(crate) fn assumed(w: &mut Writer, list: &[Assumption]) {
    w.comment("ASSUMED, NOT PROVED:");
    for (i, assumption) in list.iter().enumerate() {
        w.comment(&format!("{}. {}", i + 1, assumption.plain));
    }
}

/// The usual cautions.
pub(crate) fn cautions(w: &mut Writer) {
    w.comment("BEFORE METAL IS CUT:");
    for text in CAUTIONS {
        w.comment(&format!("- {text}"));
    }
}
