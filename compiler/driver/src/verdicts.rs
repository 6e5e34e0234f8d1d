//! From verdicts to findings.

use borewright_base::Diagnostics;
use borewright_motion::{Field, Motion, Symbol};
use borewright_number::{Dimension, Quantity, Rational};
use borewright_proof::{Settled, Verdict};

use crate::pipeline::Judged;

/// What is refuted or could not be proved.
pub(crate) fn findings(_judged: &Judged) -> Diagnostics {
    Diagnostics::default()
}

/// For a refuted obligation: each value of the counterexample, in the unit in which its author wrote.
pub(crate) fn values(settled: &Settled, motion: &Motion) -> Vec<(String, String)> {
    match &settled.verdict {
        Verdict::Refuted(counter) => counter
            .values
            .iter()
            .map(|(symbol, value)| (symbol.name().to_owned(), text(symbol, value, settled, motion)))
            .collect(),
        Verdict::Proved { .. } | Verdict::Unknown { .. } => Vec::new(),
    }
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
