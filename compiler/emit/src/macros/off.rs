//! How far the words of a macro's moves can be off at the control, for every admitted size.

use borewright_machine::{Centre, Machine};
use borewright_motion::{Clause, Expr, Function, Let, Node, Symbol};
use borewright_number::Interval;

use super::inline::centre_in;
use super::plan::{Arc, Move};
use super::terms::{least, simplify};
use crate::arithmetic::Arithmetic;
use crate::deviation::{ArcParts, Deviation, length};

/// Follows the moves of a macro as they are written.
pub(super) struct Off {
    /// What has come together.
    pub(super) deviation: Deviation,
    /// Half of the last decimal, to which a control may round each word.
    half_step: f64,
    /// The least radius of an arc: that is proved of every arc.
    smallest: f64,
    /// What I and J count from.
    centre: Centre,
    /// Where the last move ended, where that is known.
    at: Option<(Expr, Expr)>,
    /// How far X and Y are off there.
    there: (Word, Word),
    /// Names with their values.
    lets: Vec<(Symbol, Expr)>,
    /// What is 0 or more.
    facts: Vec<Expr>,
}

/// How far the word of an end is off.
#[derive(Debug, Clone, PartialEq)]
struct Word {
    /// Its whole error.
    whole: f64,
    /// The centre from which it is counted, the error of that, and what comes on top of it.
    counted: Option<(Symbol, f64, f64)>,
}

impl Word {
    /// Nobody knows where.
    const NOWHERE: Self = Self { whole: f64::INFINITY, counted: None };

    /// The errors of both, seen from the centre from which both are counted, and the error of that centre; else their
    /// whole errors.
    fn from_one_centre(a: &Self, b: &Self) -> (f64, f64, f64) {
        match (&a.counted, &b.counted) {
            (Some((one, off, a)), Some((other, _, b))) if one == other => (*a, *b, *off),
            _ => (a.whole, b.whole, 0.0),
        }
    }
}

impl Off {
    pub(super) fn new(machine: &Machine, head: &[Clause], facts: Vec<Expr>) -> Self {
        let lets = head.iter().filter_map(|clause| match clause {
            Clause::Let(l) => Some((l.symbol.clone(), l.value.clone())),
            Clause::Require(_) => None,
        });
        let step = machine.resolution() / machine.unit();
        Self {
            deviation: Deviation::default(),
            half_step: Interval::from_rational(&step).hi / 2.0,
            smallest: Interval::from_rational(&machine.arcs.smallest_radius).lo,
            centre: machine.arcs.centre,
            at: None,
            there: (Word::NOWHERE, Word::NOWHERE),
            lets: lets.collect(),
            facts,
        }
    }

    /// A name of the body.
    pub(super) fn know(&mut self, l: &Let) {
        self.lets.push((l.symbol.clone(), l.value.clone()));
    }

    /// Adds a move. What stands in loops is added when they are written, with what is known of their values.
    pub(super) fn add(&mut self, made: &Move, arithmetic: &Arithmetic) {
        match made {
            Move::Home | Move::Dwell(_) => self.deviation.pause(),
            Move::Rapid { x, y } => {
                self.deviation.pause();
                self.arrive(x, y, (self.word(x, arithmetic), self.word(y, arithmetic)));
            }
            Move::RapidZ(_) => self.deviation.pause(),
            Move::Line { x, y, z, .. } => {
                let before = self.there.clone();
                let end = |to: &Option<Expr>, before: &Word| {
                    to.as_ref().map_or_else(|| before.clone(), |to| self.word(to, arithmetic))
                };
                let after = (end(x, &before.0), end(y, &before.1));
                let size = |end: &(Word, Word)| length(end.0.whole, end.1.whole);
                self.deviation.line(size(&before), size(&after));
                let height = z.as_ref().map(|z| self.word(z, arithmetic).whole);
                height.into_iter().for_each(|off| self.deviation.height(off));
                match (x, y) {
                    (Some(x), Some(y)) => self.arrive(x, y, after),
                    (None, None) => {}
                    (Some(_), None) | (None, Some(_)) => (self.at, self.there) = (None, after),
                }
            }
            Move::Arc(arc) => self.arc(arc, arithmetic),
            Move::Passes(..) | Move::Repeat { .. } => self.deviation.pause(),
        }
    }

    fn arrive(&mut self, x: &Expr, y: &Expr, off: (Word, Word)) {
        self.deviation.ends((off.0.whole, off.1.whole));
        self.at = Some((x.clone(), y.clone()));
        self.there = off;
    }

    fn word(&self, e: &Expr, arithmetic: &Arithmetic) -> Word {
        let whole = arithmetic.value(e).off + self.half_step;
        let counted = centre_in(e).filter(|centre| {
            let rest = simplify(&(e.clone() - Expr::symbol(centre)));
            centre_in(&rest).is_none()
        });
        let counted = counted.map(|centre| {
            let off = arithmetic.value(&Expr::symbol(&centre)).off;
            let beyond = arithmetic.with_exact(&centre).value(e).off + self.half_step;
            (centre, off, beyond)
        });
        Word { whole, counted }
    }

    fn arc(&mut self, arc: &Arc, arithmetic: &Arithmetic) {
        let ends = (self.word(&arc.x, arithmetic), self.word(&arc.y, arithmetic));
        let offsets = (self.word(&arc.i, arithmetic), self.word(&arc.j, arithmetic));
        let from = self.at.take();
        let axis = |start: &Word, end: &Word| match self.centre {
            Centre::Incremental => Word::from_one_centre(start, end),
            // A centre that is written is off as it is.
            Centre::Absolute => (start.whole, end.whole, 0.0),
        };
        let (x, y) = (axis(&self.there.0, &ends.0), axis(&self.there.1, &ends.1));
        let (before, end, shift) = (length(x.0, y.0), length(x.1, y.1), length(x.2, y.2));
        let way = length(offsets.0.whole, offsets.1.whole);
        let (start, centre) = match self.centre {
            Centre::Incremental => (way, before + way),
            Centre::Absolute => (before + way, way),
        };
        // A full turn ends in the very words in which it began: both radii are one.
        let full = from.is_some_and(|(x, y)| x == arc.x && y == arc.y);
        let (to, mismatch) = if full { (start, 0.0) } else { (end + centre, start + end + centre) };
        let radius = self.radius(arc, arithmetic).max(self.smallest);
        self.deviation.arc(ArcParts { start, end: to, centre, radius, shift }, mismatch);
        if let Some(z) = &arc.z {
            self.deviation.height(self.word(z, arithmetic).whole);
        }
        self.arrive(&arc.x, &arc.y, ends);
    }

    /// The least radius, where the way to the centre is a length along an axis or at an angle.
    fn radius(&self, arc: &Arc, arithmetic: &Arithmetic) -> f64 {
        if self.centre == Centre::Absolute {
            return 0.0;
        }
        let Some(long) = self.length(arc) else { return 0.0 };
        let mut long = long;
        for (name, value) in self.lets.iter().rev() {
            long = long.substitute(&|s| (s == name).then(|| value.clone()));
        }
        least(&long, &self.facts, &|e| arithmetic.value(e).exact).max(0.0)
    }

    /// The radius in names; one name after the other is put in, the last one first, until it shows.
    fn length(&self, arc: &Arc) -> Option<Expr> {
        let (mut i, mut j) = (arc.i.clone(), arc.j.clone());
        for (name, value) in self.lets.iter().rev() {
            if let Some(long) = length_of(&simplify(&i), &simplify(&j)) {
                return Some(long);
            }
            let put = |e: &Expr| e.substitute(&|s| (s == name).then(|| value.clone()));
            (i, j) = (put(&i), put(&j));
        }
        length_of(&simplify(&i), &simplify(&j))
    }
}

/// The length of a way along an axis or at an angle.
fn length_of(i: &Expr, j: &Expr) -> Option<Expr> {
    match (along(i), along(j)) {
        ((a, Some((Function::Sin, t))), (b, Some((Function::Cos, u))))
        | ((a, Some((Function::Cos, t))), (b, Some((Function::Sin, u))))
            if a == b && t == u =>
        {
            Some(a)
        }
        ((a, _), _) if j.as_number().is_some_and(|n| n.is_zero()) => Some(a),
        (_, (b, _)) if i.as_number().is_some_and(|n| n.is_zero()) => Some(b),
        _ => None,
    }
}

/// A length, and the sine or cosine that it is multiplied by; signs left out.
fn along(e: &Expr) -> (Expr, Option<(Function, Expr)>) {
    match e.node() {
        Node::Neg(a) => along(a),
        Node::Div(a, b) if b.as_number().is_some() => {
            let (long, wave) = along(a);
            (long / b.clone(), wave)
        }
        Node::Mul(a, b) => {
            for (long, wave) in [(a, b), (b, a)] {
                if let Node::Call(function @ (Function::Sin | Function::Cos), angle) = wave.node() {
                    return (long.clone(), Some((*function, angle.clone())));
                }
            }
            (e.clone(), None)
        }
        Node::Number(_)
        | Node::Pi
        | Node::Symbol(_)
        | Node::Add(..)
        | Node::Sub(..)
        | Node::Div(..)
        | Node::Call(..)
        | Node::Min(..)
        | Node::Max(..)
        | Node::If(..) => (e.clone(), None),
    }
}
