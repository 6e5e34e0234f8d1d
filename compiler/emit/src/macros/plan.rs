//! From steps to moves whose words are expressions: coordinates from the work zero, offsets of centres worked
//! out in symbols.

use borewright_base::{Diagnostic, Span};
use borewright_machine::{Centre, Machine};
use borewright_motion::{Action, Expr, Let, Passes, Point, Step, Symbol, Way};

use super::inline::{Axis, centre_in, of_centre};
use super::terms::{simplify, size};
use crate::errors;

/// A block of the motion: names first, then moves.
pub(super) struct Sequence {
    pub(super) lets: Vec<Let>,
    pub(super) moves: Vec<(Move, Span)>,
}

/// One move, or a loop of moves.
pub(super) enum Move {
    /// Up to the machine's home.
    Home,
    /// X and Y at rapid.
    Rapid { x: Expr, y: Expr },
    /// Z at rapid.
    RapidZ(Expr),
    /// Straight at feed, with the words that change.
    Line { x: Option<Expr>, y: Option<Expr>, z: Option<Expr>, feed: Option<Expr> },
    /// An arc with all its words.
    Arc(Arc),
    /// Waits, minutes.
    Dwell(Expr),
    /// `passes`
    Passes(Box<Passes>, Sequence),
    /// `repeat`
    Repeat { index: Symbol, count: Expr, body: Sequence },
}

/// An arc with all its words.
pub(super) struct Arc {
    pub(super) way: Way,
    pub(super) x: Expr,
    pub(super) y: Expr,
    pub(super) z: Option<Expr>,
    pub(super) i: Expr,
    pub(super) j: Expr,
    pub(super) feed: Option<Expr>,
    pub(super) note: &'static str,
}

/// Follows the place in the plane through the steps.
pub(super) struct Planner<'m> {
    pub(super) machine: &'m Machine,
    /// The centre of the routine, from the work zero.
    pub(super) centre: Point,
    /// Values of lets, to be put in where an offset gets shorter by it.
    pub(super) lets: Vec<(Symbol, Expr)>,
    /// Where the cutter is, from the routine's centre; `None` where that is not one expression.
    pub(super) at: Option<Point>,
    /// Where a retract goes to; `None` for the machine's home.
    pub(super) travel: Option<Expr>,
}

impl Planner<'_> {
    pub(super) fn sequence(&mut self, steps: &[Step]) -> Result<Sequence, Diagnostic> {
        let mut lets = Vec::new();
        let mut moves = Vec::new();
        for (i, step) in steps.iter().enumerate() {
            if let Action::Let(l) = &step.action {
                self.lets.push((l.symbol.clone(), l.value.clone()));
                lets.push(Let { value: self.counted_from_zero(l), ..l.clone() });
                continue;
            }
            let before = i.checked_sub(1).and_then(|j| steps.get(j));
            let note = arc_note(before, step, steps.get(i + 1));
            self.step(step, note, &mut moves)?;
        }
        Ok(Sequence { lets, moves })
    }

    fn step(
        &mut self,
        step: &Step,
        note: &'static str,
        moves: &mut Vec<(Move, Span)>,
    ) -> Result<(), Diagnostic> {
        let span = step.span;
        let made = match &step.action {
            Action::Let(_) => return Ok(()),
            Action::Retract => self.travel.clone().map_or(Move::Home, Move::RapidZ),
            Action::RapidTo(to) => {
                self.at = Some(to.clone());
                let to = self.absolute(to);
                Move::Rapid { x: to.x, y: to.y }
            }
            Action::RapidZ(z) => Move::RapidZ(simplify(z)),
            Action::Line { to, z, feed } => self.line(to.as_ref(), z.as_ref(), feed.as_ref()),
            Action::Arc { way, to, z, about, feed } => {
                let start = self.start(span)?;
                self.at = Some(to.clone());
                Move::Arc(self.arc(*way, &start, to, about, z.as_ref(), feed.as_ref(), note))
            }
            Action::Turn { way, z, about, feed } => {
                return self.turn(*way, z.as_ref(), about, feed.as_ref(), span, moves);
            }
            Action::Passes(passes) => self.passes(passes, span)?,
            Action::Repeat { index, count, body } => {
                let last = |at: Point| Some(at.substitute(&|s| (s == index).then(|| count.clone())));
                let body = self.body(body, &last, &[index])?;
                Move::Repeat { index: index.clone(), count: count.clone(), body }
            }
            Action::Dwell(time) => Move::Dwell(time.clone()),
            Action::Call(call) => {
                let text = format!("the call of `{}` was not put in: our own fault", call.routine.name);
                return Err(Diagnostic::error(errors::NO_MACRO_FORM, span, text));
            }
            Action::With { .. } | Action::Spindle { .. } | Action::Coolant(_) | Action::Stop(_) => {
                return Err(Diagnostic::error(errors::JOB_AS_MACRO, span, "a job has no macro form yet"));
            }
        };
        // Home, and home again where the next routine begins, is once.
        if !(matches!(made, Move::Home) && matches!(moves.last(), Some((Move::Home, _)))) {
            moves.push((made, span));
        }
        Ok(())
    }

    fn start(&self, span: Span) -> Result<Point, Diagnostic> {
        self.at.clone().ok_or_else(|| {
            let text = "the arc starts at one place the first time round and at another later";
            Diagnostic::error(errors::ARC_START, span, text).hint("put a `line to` before it")
        })
    }

    fn absolute(&self, local: &Point) -> Point {
        Point { x: self.offset_by(&self.centre.x, &local.x), y: self.offset_by(&self.centre.y, &local.y) }
    }

    /// A centre that has a name is counted from the work zero, and so is what is counted from it.
    fn offset_by(&self, centre: &Expr, local: &Expr) -> Expr {
        let local = self.shortest(local);
        if centre_in(&local).is_some() { local } else { centre.clone() + local }
    }

    /// The value of a name: of a centre, from the work zero.
    fn counted_from_zero(&self, l: &Let) -> Expr {
        match of_centre(&l.symbol) {
            Some(Axis::X) => self.offset_by(&self.centre.x, &l.value),
            Some(Axis::Y) => self.offset_by(&self.centre.y, &l.value),
            None => l.value.clone(),
        }
    }

    /// The shortest of the expression, its normal form, and its normal forms with lets put in.
    fn shortest(&self, expr: &Expr) -> Expr {
        let mut best = simplify(expr);
        let mut expanded = expr.clone();
        // The names given last stand for the longest values: one after the other is put in.
        for (name, value) in self.lets.iter().rev().filter(|(name, _)| of_centre(name).is_none()) {
            expanded = expanded.substitute(&|s| (s == name).then(|| value.clone()));
            let short = simplify(&expanded);
            if size(&short) < size(&best) {
                best = short;
            }
        }
        best
    }

    fn line(&mut self, to: Option<&Point>, z: Option<&Expr>, feed: Option<&Expr>) -> Move {
        let end = to.map(|p| self.absolute(p));
        let start = self.at.as_ref().map(|p| self.absolute(p));
        let changed = |of: fn(&Point) -> &Expr| {
            let end = end.as_ref().map(of)?;
            (start.as_ref().map(of) != Some(end)).then(|| end.clone())
        };
        let (mut x, mut y) = (changed(|p| &p.x), changed(|p| &p.y));
        if x.is_none() && y.is_none() && z.is_none() {
            (x, y) = (end.as_ref().map(|p| p.x.clone()), end.as_ref().map(|p| p.y.clone()));
        }
        if let Some(to) = to {
            self.at = Some(to.clone());
        }
        Move::Line { x, y, z: z.map(simplify), feed: feed.cloned() }
    }

    #[allow(clippy::too_many_arguments, reason = "an arc has that many words")]
    fn arc(
        &self,
        way: Way,
        start: &Point,
        to: &Point,
        about: &Point,
        z: Option<&Expr>,
        feed: Option<&Expr>,
        note: &'static str,
    ) -> Arc {
        let end = self.absolute(to);
        let centre = match self.machine.arcs.centre {
            Centre::Absolute => self.absolute(about),
            Centre::Incremental => {
                let way = about.minus(start);
                Point { x: self.shortest(&way.x), y: self.shortest(&way.y) }
            }
        };
        let (z, feed) = (z.map(simplify), feed.cloned());
        Arc { way, x: end.x, y: end.y, z, i: centre.x, j: centre.y, feed, note }
    }

    /// A full turn: one block, or two halves where the machine wants that.
    fn turn(
        &mut self,
        way: Way,
        z: Option<&Expr>,
        about: &Point,
        feed: Option<&Expr>,
        span: Span,
        moves: &mut Vec<(Move, Span)>,
    ) -> Result<(), Diagnostic> {
        if z.is_some() && !self.machine.arcs.helical {
            return Err(Diagnostic::error(errors::HELIX, span, "the machine takes no helical arcs"));
        }
        let start = self.start(span)?;
        if self.machine.arcs.full_circle {
            let arc = self.arc(way, &start, &start, about, z, feed, "FULL TURN");
            moves.push((Move::Arc(arc), span));
            return Ok(());
        }
        if z.is_some() {
            let text = "a helix turn in one block needs full circles in one block on this machine";
            return Err(Diagnostic::error(errors::HELIX, span, text));
        }
        let across = about.plus(&about.minus(&start));
        let first = self.arc(way, &start, &across, about, None, feed, "FULL TURN, FIRST HALF");
        let second = self.arc(way, &across, &start, about, None, feed, "FULL TURN, SECOND HALF");
        moves.push((Move::Arc(first), span));
        moves.push((Move::Arc(second), span));
        Ok(())
    }

    fn passes(&mut self, passes: &Passes, _span: Span) -> Result<Move, Diagnostic> {
        let last = |at: Point| Some(at.substitute(&|s| (*s == passes.value).then(|| passes.to.clone())));
        let body = self.body(&passes.body, &last, &[&passes.index, &passes.count])?;
        let bare = Passes { body: Vec::new(), ..passes.clone() };
        Ok(Move::Passes(Box::new(bare), body))
    }

    /// The body of a loop. Where the place on its return is not the one on entry, a turn begins where the turn before it has
    /// ended, if the first of `inner` counts the turns and that goes for the first turn as well; else nothing is known of
    /// the place at its start. `last` gives the place behind the loop, which may not depend on `inner` names.
    fn body(
        &mut self,
        steps: &[Step],
        last: &dyn Fn(Point) -> Option<Point>,
        inner: &[&Symbol],
    ) -> Result<Sequence, Diagnostic> {
        let entry = self.at.clone();
        let names = self.lets.len();
        let mut body = self.sequence(steps)?;
        if self.at != entry {
            let begins =
                entry.as_ref().zip(inner.first()).and_then(|(entry, index)| self.begins(entry, index, names));
            self.lets.truncate(names);
            self.at = begins;
            body = self.sequence(steps)?;
        }
        let own: Vec<(Symbol, Expr)> = self.lets.drain(names..).collect();
        let free = |p: &Point| {
            let symbols: Vec<_> = p.x.symbols().into_iter().chain(p.y.symbols()).collect();
            !symbols.iter().any(|s| inner.contains(&s))
        };
        let at = self.at.take().map(|p| Point { x: put_in(&own, &p.x), y: put_in(&own, &p.y) });
        self.at = at.and_then(last).filter(free);
        Ok(body)
    }
}

impl Planner<'_> {
    /// Where each turn begins: the place at which a turn ends, said of the turn before, if that makes the first turn begin
    /// at the entry. Names from `names` on are those of a turn.
    fn begins(&self, entry: &Point, index: &Symbol, names: usize) -> Option<Point> {
        let (own, end) = (self.lets.get(names..)?, self.at.as_ref()?);
        let end = Point { x: put_in(own, &end.x), y: put_in(own, &end.y) };
        let at = |turn: &Expr| end.substitute(&|s| (s == index).then(|| turn.clone()));
        let first = at(&Expr::zero());
        let none =
            |a: &Expr, b: &Expr| simplify(&put_in(&self.lets, &(a.clone() - b.clone()))) == Expr::zero();
        let begins = at(&(Expr::symbol(index) - Expr::from(1)));
        (none(&first.x, &entry.x) && none(&first.y, &entry.y)).then_some(begins)
    }
}

/// The expression with values for names, the last of which stand for the longest.
fn put_in(lets: &[(Symbol, Expr)], expr: &Expr) -> Expr {
    let put =
        |expr: Expr, (name, value): &(Symbol, Expr)| expr.substitute(&|s| (s == name).then(|| value.clone()));
    lets.iter().rev().fold(expr.clone(), put)
}

/// What an arc is for, told from its neighbours: leads roll onto and off a full turn.
fn arc_note(before: Option<&Step>, step: &Step, after: Option<&Step>) -> &'static str {
    let turns = |s: Option<&Step>| s.is_some_and(|s| matches!(s.action, Action::Turn { .. }));
    match (matches!(step.action, Action::Arc { .. }), turns(after), turns(before)) {
        (true, true, _) => "LEAD IN",
        (true, false, true) => "LEAD OUT",
        _ => "",
    }
}
