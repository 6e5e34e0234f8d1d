//! How far the words of a macro's moves can be off at the control, for every admitted size.

use borewright_machine::{Centre, Machine};
use borewright_motion::{Clause, Expr, Function, Let, Node, Symbol};
use borewright_number::Interval;

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
    /// Where the last move ended, and how far X and Y are off there.
    at: (Option<(Expr, Expr)>, (f64, f64)),
    /// Names with their values.
    lets: Vec<(Symbol, Expr)>,
    /// What is 0 or more.
    facts: Vec<Expr>,
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
            at: (None, (f64::INFINITY, f64::INFINITY)),
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
        let word = |e: &Expr| arithmetic.value(e).off + self.half_step;
        match made {
            Move::Home | Move::Dwell(_) => self.deviation.pause(),
            Move::Rapid { x, y } => {
                let off = (word(x), word(y));
                self.deviation.pause();
                self.arrive(x, y, off);
            }
            Move::RapidZ(_) => self.deviation.pause(),
            Move::Line { x, y, z, .. } => {
                let (_, before) = self.at.clone();
                let after = (x.as_ref().map_or(before.0, word), y.as_ref().map_or(before.1, word));
                let height = z.as_ref().map(word);
                self.deviation.line(length(before.0, before.1), length(after.0, after.1));
                height.into_iter().for_each(|off| self.deviation.height(off));
                match (x, y) {
                    (Some(x), Some(y)) => self.arrive(x, y, after),
                    (None, None) => {}
                    (Some(_), None) | (None, Some(_)) => self.at = (None, after),
                }
            }
            Move::Arc(arc) => self.arc(arc, arithmetic),
            Move::Passes(..) | Move::Repeat { .. } => self.deviation.pause(),
        }
    }

    fn arrive(&mut self, x: &Expr, y: &Expr, off: (f64, f64)) {
        self.deviation.ends(off);
        self.at = (Some((x.clone(), y.clone())), off);
    }

    fn arc(&mut self, arc: &Arc, arithmetic: &Arithmetic) {
        let word = |e: &Expr| arithmetic.value(e).off + self.half_step;
        let size = |off: (f64, f64)| length(off.0, off.1);
        let (from, before) = self.at.clone();
        let (end, way) = ((word(&arc.x), word(&arc.y)), size((word(&arc.i), word(&arc.j))));
        let (start, centre) = match self.centre {
            Centre::Incremental => (way, size(before) + way),
            Centre::Absolute => (size(before) + way, way),
        };
        // A full turn ends in the very words in which it began: both radii are one.
        let full = from.is_some_and(|(x, y)| x == arc.x && y == arc.y);
        let (to, mismatch) =
            if full { (start, 0.0) } else { (size(end) + centre, start + size(end) + centre) };
        let radius = self.radius(arc, arithmetic).max(self.smallest);
        self.deviation.arc(ArcParts { start, end: to, centre, radius }, mismatch);
        if let Some(z) = &arc.z {
            let off = word(z);
            self.deviation.height(off);
        }
        self.arrive(&arc.x, &arc.y, end);
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
