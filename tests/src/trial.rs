//! A motion at concrete sizes, held against its contract by the measure.

use std::collections::BTreeMap;

use borewright_emit::{Bounds, Form, Settings, emit_unproved};
use borewright_machine::Machine;
use borewright_motion::{
    BindError, Demand, Environment, Limits, Motion, Relation, Symbol, UnrollError, bind, decide_with, unroll,
};
use borewright_number::Rational;
use borewright_runtime::{Controller, RunOptions, read};

use crate::measure::{Fault, Meant, Tolerance, measure, measure_meant};
use crate::witness::{Owed, exact_steps, run_steps};

/// What came of a trial.
#[derive(Debug, Clone, PartialEq)]
pub enum Trial {
    /// Nothing to complain of.
    Kept,
    /// The motion does not admit these sizes.
    NotAdmitted,
    /// Too many steps to try.
    TooLong,
    /// Not written out, for this reason.
    NotWritten(String),
    /// The motion has no meaning at these sizes: a division by zero, a default out of its range.
    Broken(String),
    /// Promises that are broken.
    Faults(Vec<Fault>),
}

impl Trial {
    fn of(faults: Vec<Fault>) -> Self {
        if faults.is_empty() { Self::Kept } else { Self::Faults(faults) }
    }

    /// Whether it speaks against a proof.
    #[must_use]
    pub fn contradicts(&self) -> bool {
        matches!(self, Self::Broken(_) | Self::Faults(_))
    }
}

/// Most steps of a motion that is tried.
const STEPS: usize = 400;

/// Evaluates the motion exactly and measures it.
#[must_use]
pub fn exact(motion: &Motion, sizes: &BTreeMap<Symbol, Rational>, tolerance: Tolerance) -> Trial {
    let env = match bind(motion, sizes) {
        Ok(env) => env,
        Err(error) => return refused(&error, sizes),
    };
    if !is_demanded(motion, &env) {
        return Trial::NotAdmitted;
    }
    let flat = match unroll(motion, sizes, Limits { steps: STEPS, ..Limits::default() }) {
        Ok(flat) => flat,
        Err(UnrollError::TooManySteps(_)) => return Trial::TooLong,
        Err(UnrollError::Count(n, _)) if n.exact().is_some_and(Rational::is_whole) => return Trial::TooLong,
        Err(error) => return Trial::Broken(error.to_string()),
    };
    let Some(owed) = Owed::of(motion, &env) else {
        return Trial::Broken("a feature or a tool has no value".to_owned());
    };
    Trial::of(measure(&owed.contract, &exact_steps(&owed, &flat), tolerance))
}

fn refused(error: &BindError, sizes: &BTreeMap<Symbol, Rational>) -> Trial {
    match error {
        // The caller may leave it out, and then it must fit.
        BindError::OutOfRange(p, _) if !sizes.contains_key(&p.symbol) => Trial::Broken(error.to_string()),
        BindError::Evaluate(_) => Trial::Broken(error.to_string()),
        BindError::OutOfRange(..)
        | BindError::NoParameter(_)
        | BindError::Missing(_)
        | BindError::NotWhole(..)
        | BindError::Refused(_)
        | BindError::Undecided(_) => Trial::NotAdmitted,
    }
}

/// Whether the cutter is not another one than is demanded: one with `diameter == tool` and a tool of 0 mm is none.
fn is_demanded(motion: &Motion, env: &Environment) -> bool {
    let rules = motion.demands.as_ref().map_or(&[][..], |d| &d.rules);
    let known = |s: &Symbol| env.get(s).cloned();
    let fails = |r: &Demand| decide_with(&r.condition(), &known) == Ok(Some(false));
    !rules.iter().any(|r| r.relation == Relation::Equal && fails(r))
}

/// Writes the motion out as plain blocks, runs them on the virtual controller, and measures that.
#[must_use]
pub fn text(motion: &Motion, sizes: &BTreeMap<Symbol, Rational>, machine: &Machine) -> Trial {
    let Ok(env) = bind(motion, sizes) else { return Trial::NotAdmitted };
    if !is_demanded(motion, &env) {
        return Trial::NotAdmitted;
    }
    let Some(owed) = Owed::of(motion, &env) else {
        return Trial::Broken("a feature or a tool has no value".to_owned());
    };
    let own = |s: &&Symbol| motion.parameters.iter().any(|p| p.symbol == **s);
    let values = sizes.iter().filter(|(s, _)| own(s)).map(|(s, v)| (s.clone(), v.clone())).collect();
    let settings = Settings { values, ..Settings::default() };
    let files = match emit_unproved(motion, machine, Form::Blocks, &settings) {
        Ok(files) => files,
        Err(found) => {
            return Trial::NotWritten(found.iter().map(|d| d.code.number).collect::<Vec<_>>().join(", "));
        }
    };
    let Some(file) = files.first() else { return Trial::NotWritten("no file".to_owned()) };
    let (program, found) = read(borewright_base::FileId(0), &file.text);
    // A start at odd coordinates, so that nothing is known by chance.
    let options = RunOptions { start: Some([3.217, 4.119, 171.713]), ..RunOptions::default() };
    let trace = borewright_runtime::run(&program, &Controller::from(machine), &options);
    let faults = found.iter().chain(&trace.diagnostics);
    let mut said: Vec<String> = faults.map(|d| format!("{} {}", d.code.number, d.message)).collect();
    // A lone routine leaves spindle and offset to its caller.
    if motion.job.is_none() {
        said.clear();
    }
    if let Some(first) = said.first() {
        return Trial::Broken(first.clone());
    }
    let Some(tolerance) = told(&file.bounds) else {
        return Trial::Broken("the text has no bounds".to_owned());
    };
    let Ok(flat) = unroll(motion, sizes, Limits { steps: STEPS, ..Limits::default() }) else {
        return Trial::TooLong;
    };
    let meant = exact_steps(&owed, &flat);
    let steps = run_steps(&owed, &trace);
    Trial::of(measure_meant(&owed.contract, &steps, Meant::of(&meant), tolerance))
}

/// What a text says of itself: the worst of all lengths, and the angle of joints.
fn told(bounds: &Bounds) -> Option<Tolerance> {
    let lengths = [&bounds.end_point, &bounds.wall, &bounds.floor, &bounds.arc_mismatch];
    let lengths: Option<Vec<f64>> = lengths.into_iter().map(|b| Some(b.as_ref()?.to_f64())).collect();
    let worst = lengths?.into_iter().fold(0.0, f64::max);
    Some(Tolerance::told(worst, bounds.joint.as_ref().map(Rational::to_f64)))
}
