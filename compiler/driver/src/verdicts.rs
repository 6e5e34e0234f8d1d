//! From verdicts to findings.

use borewright_base::{Diagnostics, Severity};
use borewright_motion::{Field, Motion, Symbol};
use borewright_number::{Dimension, Quantity, Rational};
use borewright_proof::{Settled, Verdict};

use crate::pipeline::Judged;

/// What is refuted or could not be proved; and, of a file that was asked for, what is worth a look.
pub(crate) fn findings(judged: &Judged) -> Diagnostics {
    let all = borewright_proof::errors::findings(&judged.motion, &judged.verdicts);
    if judged.asked {
        return all;
    }
    let mut errors = Diagnostics::default();
    for error in all.iter().filter(|d| d.severity == Severity::Error) {
        let _said = errors.report(error.clone());
    }
    errors
}

/// For a refuted obligation: each value of the counterexample, in the unit in which its author wrote.
pub(crate) fn values(settled: &Settled, motion: &Motion) -> Vec<(String, String)> {
    match &settled.verdict {
        Verdict::Refuted(counter) => counter
            .values
            .iter()
            .filter(|(symbol, value)| !is_first_turn(symbol, value))
            .map(|(symbol, value)| (symbol.name().to_owned(), text(symbol, value, settled, motion)))
            .collect(),
        Verdict::Proved { .. } | Verdict::Unknown { .. } => Vec::new(),
    }
}

/// What goes wrong on the first turn of a loop need not say so.
fn is_first_turn(symbol: &Symbol, value: &Rational) -> bool {
    symbol.name().ends_with(".index") && *value == Rational::ONE
}

fn text(symbol: &Symbol, value: &Rational, settled: &Settled, motion: &Motion) -> String {
    let variable = settled.obligation.formula.variables.iter().find(|v| v.symbol == *symbol);
    let parameter = motion.parameters.iter().find(|p| p.symbol == *symbol);
    let field = Field::ALL.into_iter().find(|field| field.symbol() == *symbol);
    let dimension = variable
        .map(|v| v.dimension)
        .or_else(|| parameter.map(|p| p.dimension))
        .or_else(|| field.map(Field::dimension))
        .unwrap_or(Dimension::RATIO);
    let inch = variable.map_or(motion.inch, |v| v.inch);
    Quantity { value: value.clone(), dimension }.text(inch)
}
