//! What is assumed and not proved: a numbered list, printed in program headers, sheets and JSON.

use borewright_motion::{Demand, Expr, Motion, Relation, Shape};

/// One thing that is assumed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Assumption {
    /// Its number, from 1.
    pub id: usize,
    /// What it is about: a stable name.
    pub name: &'static str,
    /// What is assumed.
    pub text: String,
}

/// What a motion assumes.
#[must_use]
pub fn assume(motion: &Motion) -> Vec<Assumption> {
    let pilots = motion.made.iter().filter_map(pilot).chain(motion.given.iter().map(given));
    let cutter = motion.demands.iter().flat_map(|d| &d.rules).map(demand);
    let always = ALWAYS.iter().map(|(name, text)| (*name, (*text).to_owned()));
    let routine = ROUTINE.iter().map(|(name, text)| (*name, (*text).to_owned()));
    let routine = routine.filter(|_| motion.job.is_none());
    let all = pilots.chain(cutter).chain(routine).chain(always);
    all.enumerate().map(|(i, (name, text))| Assumption { id: i + 1, name, text }).collect()
}

/// Assumed of every program.
const ALWAYS: &[(&str, &str)] = &[
    ("top", "nothing stands above the top face"),
    ("clamps", "no clamp, vice or fixture is in the way"),
    ("cutter-size", "the cutter has the stated diameter; runout and deflection are not counted"),
    ("offsets", "tool length and work offset are set right"),
    ("modes", "rotation, scaling, mirror image and coordinate shifts are off"),
    ("blending", "the control follows the path as written; path blending may round its corners"),
    ("functions", "the control works out its functions to the accuracy its machine file states"),
    ("variables", "no other program writes the variables that this one uses"),
];

/// Assumed of a routine that stands alone; a job proves it.
const ROUTINE: &[(&str, &str)] = &[
    ("spindle", "a right-hand cutter turns clockwise, seen from above, before the routine is called"),
    ("length", "the tool length offset is on before the routine is called"),
];

fn pilot(made: &borewright_motion::Made) -> Option<(&'static str, String)> {
    let name = &made.feature.name;
    match &made.feature.shape {
        Shape::Hole { pilot: Some(pilot), .. } => Some((
            "pilot",
            format!(
                "before `{name}` is made there is a hole of diameter {pilot} at its centre, to its floor or deeper"
            ),
        )),
        Shape::Boss { blank, .. } => Some((
            "blank",
            format!("around `{name}` there is nothing outside a round blank of diameter {blank}"),
        )),
        Shape::Hole { pilot: None, .. } | Shape::Ring { .. } => None,
    }
}

fn given(feature: &borewright_motion::Feature) -> (&'static str, String) {
    let size: &Expr = match &feature.shape {
        Shape::Hole { diameter, .. } | Shape::Boss { diameter, .. } => diameter,
        Shape::Ring { outer, .. } => outer,
    };
    ("given", format!("`{}` is there before: diameter {size}", feature.name))
}

fn demand(demand: &Demand) -> (&'static str, String) {
    let relation = match demand.relation {
        Relation::Equal => "is",
        Relation::NotEqual => "is not",
        Relation::Less => "is less than",
        Relation::LessEqual => "is at most",
        Relation::Greater => "is more than",
        Relation::GreaterEqual => "is at least",
    };
    ("cutter", format!("the cutter's {} {relation} {}", demand.field.name(), demand.value))
}
