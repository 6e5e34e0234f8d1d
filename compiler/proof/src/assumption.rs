//! What is assumed and not proved: a numbered list, printed in program headers, sheets and JSON.

use std::collections::BTreeMap;

use borewright_motion::{
    Clause, Demand, Expr, Feature, Field, Made, Motion, Node, Promise, Shape, Symbol, Tool,
};
use borewright_number::{Dimension, Quantity};

use crate::oblige::Start;
use crate::plain::plain;

/// One thing that is assumed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Assumption {
    /// Its number, from 1.
    pub id: usize,
    /// What it is about: a stable name.
    pub name: &'static str,
    /// What is assumed.
    pub text: String,
    /// The same without brackets, for the comments of a program.
    pub plain: String,
}

/// A motion, and how its expressions are put in words.
#[derive(Clone, Copy)]
struct Words<'m> {
    motion: &'m Motion,
    /// Brackets may be used.
    brackets: bool,
}

/// What a motion assumes.
#[must_use]
pub fn assume(motion: &Motion) -> Vec<Assumption> {
    let text = list(Words { motion, brackets: true });
    let plain = list(Words { motion, brackets: false });
    let both = text.into_iter().zip(plain).enumerate();
    both.map(|(i, ((name, text), (_, plain)))| Assumption { id: i + 1, name, text, plain }).collect()
}

fn list(words: Words<'_>) -> Vec<(&'static str, String)> {
    let motion = words.motion;
    let pilots = motion
        .made
        .iter()
        .filter_map(|m| pilot(words, m))
        .chain(motion.given.iter().map(|g| given(words, g)));
    let expected = crate::oblige::expected(motion).into_iter().map(|start| ("pilot", before(words, &start)));
    let cores = motion.made.iter().filter(|m| !dug_here(motion, m)).filter_map(core);
    let worn = motion.job.iter().flat_map(|job| &job.tools).filter_map(|tool| wear(words, tool));
    let flanks = motion.made.iter().filter_map(flanks);
    let flanks = flanks.chain(motion.made.iter().filter_map(|m| beside(words, m)));
    let flanks = flanks.chain(motion.made.iter().filter_map(|m| leaning(words, m)));
    let cutter = motion.demands.iter().flat_map(|d| &d.rules).map(|d| demand(words, d));
    let always = ALWAYS.iter().map(|(name, text)| (*name, (*text).to_owned()));
    let routine = ROUTINE.iter().map(|(name, text)| (*name, (*text).to_owned()));
    let routine = routine.filter(|_| motion.job.is_none());
    pilots
        .chain(expected)
        .chain(cores)
        .chain(flanks)
        .chain(worn)
        .chain(cutter)
        .chain(routine)
        .chain(always)
        .collect()
}

/// Assumed of every program.
const ALWAYS: &[(&str, &str)] = &[
    ("top", "nothing stands above the top face"),
    ("clamps", "no clamp, vice or fixture is in the way"),
    ("cutter-size", "the cutter has the stated diameter: runout and deflection are not counted"),
    ("offsets", "tool length and work offset are set right"),
    ("modes", "rotation, scaling, mirror image and coordinate shifts are off"),
    ("blending", "the control follows the path as written: path blending may round its corners"),
    ("functions", "the control works out its functions to the accuracy its machine file states"),
    ("variables", "no other program writes the variables that this one uses"),
];

/// Assumed of a routine that stands alone; a job proves it.
const ROUTINE: &[(&str, &str)] = &[
    ("spindle", "a right-hand cutter turns clockwise, seen from above, before the routine is called"),
    ("length", "the tool length offset is on before the routine is called"),
];

/// The pilot hole of a feature is another feature that is made here, at the same places.
fn dug_here(motion: &Motion, made: &Made) -> bool {
    let Shape::Hole { pilot: Some(pilot), .. } = &made.feature.shape else { return false };
    motion.made.iter().any(|other| {
        let same = other.feature.at == made.feature.at && other.feature.name != made.feature.name;
        same && matches!(&other.feature.shape, Shape::Hole { diameter, .. } if diameter == pilot)
    })
}

fn pilot(words: Words<'_>, made: &Made) -> Option<(&'static str, String)> {
    let name = &made.feature.name;
    let to = |z: &Expr| format!("down to {}", words.length(z));
    let hole = |diameter: &Expr, how_deep: String| {
        let size = words.length(diameter);
        let text = format!(
            "before `{name}` is made there is a hole of diameter {size} at its centre, {how_deep} or deeper"
        );
        Some(("pilot", text))
    };
    let blank = |diameter: &Expr, how_deep: String| {
        let size = words.length(diameter);
        Some(("blank", format!("around `{name}` there is nothing outside diameter {size}, {how_deep}")))
    };
    match &made.feature.shape {
        Shape::Hole { pilot: Some(pilot), .. } => hole(pilot, "to its floor".to_owned()),
        Shape::Boss { blank, .. } => {
            let size = words.length(blank);
            let text = format!("around `{name}` there is nothing outside a round blank of diameter {size}");
            Some(("blank", text))
        }
        Shape::Face { diameter, .. } => blank(diameter, "down to its floor".to_owned()),
        Shape::Chamfer { inside: true, diameter, floor, .. } => hole(diameter, to(floor)),
        Shape::Chamfer { inside: false, diameter, floor, .. } => blank(diameter, to(floor)),
        Shape::Undercut { bore, bottom, .. } => hole(bore, to(bottom)),
        Shape::Thread { inside: true, minor, bottom, .. } => hole(minor, to(bottom)),
        Shape::Thread { inside: false, major, bottom, .. } => blank(major, to(bottom)),
        Shape::Hole { pilot: None, .. } | Shape::Ring { .. } => None,
    }
}

/// What is left standing inside a groove, or inside a wall of which nobody promised that all is cleared, must
/// hold to the work below it.
fn core(made: &Made) -> Option<(&'static str, String)> {
    let name = &made.feature.name;
    let cleared = made.promises.iter().any(|(p, _)| *p == Promise::Cleared);
    let stays = match &made.feature.shape {
        Shape::Ring { .. } => true,
        Shape::Hole { .. } => !cleared,
        Shape::Boss { .. }
        | Shape::Thread { .. }
        | Shape::Face { .. }
        | Shape::Chamfer { .. }
        | Shape::Undercut { .. } => false,
    };
    let text = format!("`{name}` does not go through the work: what stands inside it stays fast");
    stays.then_some(("core", text))
}

/// A tooth of the thread's own profile leaves flanks that are a little off it, the more, the wider the cutter.
fn flanks(made: &Made) -> Option<(&'static str, String)> {
    let name = &made.feature.name;
    let text = format!(
        "the teeth have a profile made for `{name}`: what a round cutter shaves off the flanks beside it is not counted"
    );
    matches!(made.feature.shape, Shape::Thread { .. }).then_some(("flanks", text))
}

/// Arcs stand for a line that no arc follows: how far they are off it is proved, that it is little enough is not.
fn beside(words: Words<'_>, made: &Made) -> Option<(&'static str, String)> {
    let Shape::Thread { error, .. } = &made.feature.shape else { return None };
    let name = &made.feature.name;
    let (most, none) = (words.length(error), *error == Expr::zero());
    let text = format!(
        "arcs lead the teeth up to {most} beside the groove of `{name}` or past its cone: the thread allows it"
    );
    (!none).then_some(("arcs", text))
}

/// Where arcs come in from beside a thread, its flanks make room for them.
fn leaning(words: Words<'_>, made: &Made) -> Option<(&'static str, String)> {
    let Shape::Thread { lean, .. } = &made.feature.shape else { return None };
    let (name, part) = (&made.feature.name, words.worded(lean, Dimension::RATIO));
    let text =
        format!("either flank of `{name}` goes over to the side by at least {part} of what it goes in");
    (*lean != Expr::zero()).then_some(("lean", text))
}

/// How far the operator may correct a diameter.
fn wear(words: Words<'_>, tool: &Tool) -> Option<(&'static str, String)> {
    let wear = tool.fields.get(&Field::Wear).filter(|w| w.as_number().is_none_or(|n| !n.is_zero()))?;
    let text = format!("the diameter of `{}` is corrected by no more than {}", tool.name, words.length(wear));
    Some(("wear", text))
}

fn given(words: Words<'_>, feature: &Feature) -> (&'static str, String) {
    let (what, size, floor) = match &feature.shape {
        Shape::Hole { diameter, floor, .. } => ("a hole", diameter, floor),
        Shape::Boss { diameter, floor, .. } => ("a boss", diameter, floor),
        Shape::Ring { outer, floor, .. } => ("a ring", outer, floor),
        Shape::Thread { major, floor, .. } => ("a thread", major, floor),
        Shape::Face { diameter, floor, .. } => ("a face", diameter, floor),
        Shape::Chamfer { diameter, floor, .. } => ("a chamfer", diameter, floor),
        Shape::Undercut { diameter, floor, .. } => ("a groove in a bore", diameter, floor),
    };
    let (size, floor) = (words.length(size), words.length(floor));
    (
        "given",
        format!("`{}` is there before: {what} of diameter {size}, floor at {floor} or deeper", feature.name),
    )
}

fn demand(words: Words<'_>, demand: &Demand) -> (&'static str, String) {
    let relation = demand.relation.in_words();
    let value = words.worded(&demand.value, demand.field.dimension());
    ("cutter", format!("the cutter's {} {relation} {value}", part(demand.field)))
}

/// A fact of the cutter, as it is called in the shop.
fn part(field: Field) -> &'static str {
    match field {
        Field::Flutes => "flute length",
        Field::Dead => "dead centre, in diameter,",
        Field::Ramp => "steepest ramp",
        Field::Teeth => "number of teeth",
        Field::Corner => "corner radius",
        Field::Plunges => "leave to plunge (1 it may, 0 it may not)",
        Field::Hand => "hand (1 right, -1 left)",
        Field::Wear => "wear allowance",
        Field::Pitch => "pitch",
        Field::Rows => "number of teeth in a row along its axis",
        Field::Nose => "height of its lowest tooth above its end",
        Field::Tooth => "depth of its teeth",
        Field::Angle => "angle of its cone, from side to side,",
        Field::Tip => "flat at its end, in diameter,",
        Field::Taper => "growth of its diameter upwards",
        Field::Diameter | Field::Reach | Field::Pocket => field.name(),
    }
}

impl Words<'_> {
    fn length(self, value: &Expr) -> String {
        self.worded(value, Dimension::LENGTH)
    }

    /// A value in the words of the person who calls the motion: parameters by their names, constants in the unit
    /// that its author thinks in, and names of the head only together with what they stand for.
    fn worded(self, value: &Expr, dimension: Dimension) -> String {
        let lets: BTreeMap<&Symbol, &Expr> = self
            .motion
            .head
            .iter()
            .filter_map(|clause| match clause {
                Clause::Let(l) => Some((&l.symbol, &l.value)),
                Clause::Require(_) => None,
            })
            .collect();
        let whole = |e: &Expr| e.substitute(&|s| lets.get(s).map(|e| (*e).clone()));
        let mut full = value.clone();
        // A let speaks of earlier ones only, so that this ends after as many rounds as there are lets.
        for _ in 0..lets.len() {
            full = whole(&full);
        }
        let text = if self.brackets {
            phrase(&full, dimension, self.motion.inch)
        } else {
            plain(&full, dimension, self.motion.inch)
        };
        match value.as_symbol() {
            Some(name) if full != *value && full.as_number().is_none() => format!("{name} = {text}"),
            Some(_) | None => text,
        }
    }
}

/// What a call starts from though nothing says that it is there.
fn before(words: Words<'_>, start: &Start) -> String {
    let size = words.length(&start.size);
    let [x, y] = [&start.centre.x, &start.centre.y].map(|e| words.length(e));
    let place = if words.brackets { format!("({x}, {y})") } else { format!("X = {x}, Y = {y}") };
    if start.hole {
        let below = &start.routine;
        format!("there is a hole of diameter {size} at {place}, to the floor of `{below}` or deeper")
    } else {
        format!("there is nothing outside a round blank of diameter {size} at {place}")
    }
}

/// The expression with a unit on each number that has one; `dimension` is that of the whole.
fn phrase(e: &Expr, dimension: Dimension, inch: bool) -> String {
    let same = |e: &Expr| phrase(e, dimension, inch);
    match e.node() {
        Node::Number(value) => Quantity { value: value.clone(), dimension }.text(inch),
        Node::Add(a, b) => format!("{} + {}", same(a), same(b)),
        Node::Sub(a, b) => format!("{} - {}", same(a), bracketed(b, same(b))),
        Node::Neg(a) => format!("-{}", bracketed(a, same(a))),
        Node::Min(a, b) => format!("min({}, {})", same(a), same(b)),
        Node::Max(a, b) => format!("max({}, {})", same(a), same(b)),
        Node::Mul(k, a) if k.as_number().is_some() => format!("{k} * {}", bracketed(a, same(a))),
        Node::Mul(a, k) | Node::Div(a, k) if k.as_number().is_some() => {
            let sign = if matches!(e.node(), Node::Div(..)) { "/" } else { "*" };
            format!("{} {sign} {k}", bracketed(a, same(a)))
        }
        Node::Pi | Node::Symbol(_) | Node::Call(..) | Node::If(..) | Node::Mul(..) | Node::Div(..) => {
            e.to_string()
        }
    }
}

fn bracketed(e: &Expr, text: String) -> String {
    if matches!(e.node(), Node::Add(..) | Node::Sub(..) | Node::If(..)) { format!("({text})") } else { text }
}

#[cfg(test)]
mod tests {
    use borewright_number::Rational;

    use super::*;

    fn symbol(name: &str) -> Expr {
        Expr::symbol(&Symbol::new(name))
    }

    #[test]
    fn numbers_carry_the_unit_of_the_author() {
        let quarter = Expr::from(Rational::from_decimal("6.35").unwrap());
        let e = (symbol("bore") - quarter) / Expr::from(2);
        assert_eq!(phrase(&e, Dimension::LENGTH, true), "(bore - 0.25in) / 2");
        assert_eq!(phrase(&e, Dimension::LENGTH, false), "(bore - 6.35mm) / 2");
    }

    #[test]
    fn a_factor_carries_none() {
        let e = Expr::from(2) * symbol("tool") + Expr::from(1);
        assert_eq!(phrase(&e, Dimension::LENGTH, false), "2 * tool + 1mm");
    }
}
