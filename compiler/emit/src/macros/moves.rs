//! From planned moves to lines.

use std::collections::{BTreeMap, BTreeSet};

use borewright_base::{Diagnostic, Span};
use borewright_motion::{Expr, Function, Node, Passes, Symbol, Way};
use borewright_number::Interval;

use super::Thrift;
use super::off::Off;
use super::plan::{Arc, Move, Sequence};
use super::print::Printer;
use super::terms::simplify;
use crate::arithmetic::Computed;
use crate::writer::Block;

/// Writes moves, and before them what they need.
pub(super) struct Moves<'p, 'm> {
    pub(super) p: &'p mut Printer<'m>,
    /// The feed that holds, where that is known.
    pub(super) feed: Option<Expr>,
    /// How many loops are open.
    pub(super) depth: usize,
    /// The numbers of steps of loops that were counted before the motion, by the names of those numbers.
    pub(super) counts: BTreeMap<Symbol, String>,
    /// How far the path may be off.
    pub(super) off: Off,
}

impl Moves<'_, '_> {
    /// Names, then every value that can be worked out before the moves.
    pub(super) fn names_and_values(
        &mut self,
        sequence: &Sequence,
        needed: &BTreeSet<Symbol>,
    ) -> Result<(), Diagnostic> {
        sequence.lets.iter().for_each(|l| self.off.know(l));
        for l in sequence.lets.iter().filter(|l| needed.contains(&l.symbol)) {
            // What does not hang on the turn was worked out before the loop.
            if !self.p.can_print(&Expr::symbol(&l.symbol)) {
                self.p.assign_let(l)?;
            }
        }
        if self.p.thrift == Thrift::Work {
            self.names_of_loops(&sequence.moves, needed)?;
        }
        self.prepare(&sequence.moves)
    }

    /// Names of loops that mean the same in every turn.
    fn names_of_loops(
        &mut self,
        moves: &[(Move, Span)],
        needed: &BTreeSet<Symbol>,
    ) -> Result<(), Diagnostic> {
        for (made, _) in moves {
            let (Move::Passes(_, body) | Move::Repeat { body, .. }) = made else { continue };
            for l in body.lets.iter().filter(|l| needed.contains(&l.symbol)) {
                let known = self.p.can_print(&Expr::symbol(&l.symbol));
                if !known && self.p.can_print(&l.value) {
                    self.p.assign_let(l)?;
                }
            }
            self.names_of_loops(&body.moves, needed)?;
        }
        Ok(())
    }

    /// Counts the steps of these loops, and of those in them, where that can be done before the motion begins.
    pub(super) fn counts(&mut self, sequence: &Sequence) -> Result<(), Diagnostic> {
        for (made, span) in &sequence.moves {
            match made {
                Move::Passes(passes, body) => {
                    let ends = [&passes.from, &passes.to, &passes.by];
                    if ends.into_iter().all(|e| self.p.can_print(e)) {
                        let way = self.distance(passes);
                        let count = self.count(passes, &way, *span)?;
                        self.counts.insert(passes.count.clone(), count);
                    }
                    if self.p.thrift == Thrift::Work {
                        self.counts(body)?;
                    }
                }
                Move::Repeat { body, .. } if self.p.thrift == Thrift::Work => self.counts(body)?,
                Move::Repeat { .. }
                | Move::Home
                | Move::Rapid { .. }
                | Move::RapidZ(_)
                | Move::Line { .. }
                | Move::Arc(_)
                | Move::Dwell(_) => {}
            }
        }
        Ok(())
    }

    pub(super) fn each(&mut self, sequence: &Sequence) -> Result<(), Diagnostic> {
        for (made, span) in &sequence.moves {
            self.one(made, *span)?;
        }
        Ok(())
    }

    /// Works out every value of these moves and of the loops in them that can be worked out here: nothing is
    /// computed while the cutter moves on the wall.
    fn prepare(&mut self, moves: &[(Move, Span)]) -> Result<(), Diagnostic> {
        let mut wanted = Vec::new();
        for (made, span) in moves {
            wants(made, *span, &mut wanted);
        }
        for (expr, note, span) in wanted {
            if self.p.can_print(&expr) && self.p.ready(&expr).is_none() {
                self.p.assign(&expr, &note, span)?;
            }
        }
        Ok(())
    }

    fn one(&mut self, made: &Move, span: Span) -> Result<(), Diagnostic> {
        self.off.add(made, &self.p.arithmetic);
        match made {
            Move::Home => {
                for block in &self.p.program.machine.words.home {
                    self.p.program.w.raw(block);
                }
                Ok(())
            }
            Move::Rapid { x, y } => {
                let block =
                    Block::code("G0").word('X', &self.p.word(x, span)?).word('Y', &self.p.word(y, span)?);
                self.p.program.w.block(block, span);
                Ok(())
            }
            Move::RapidZ(z) => {
                let block = Block::code("G0").word('Z', &self.p.word(z, span)?);
                self.p.program.w.block(block, span);
                Ok(())
            }
            Move::Line { x, y, z, feed } => {
                let mut block = Block::code("G1");
                for (letter, value) in [('X', x), ('Y', y), ('Z', z)] {
                    if let Some(value) = value {
                        block = block.word(letter, &self.p.word(value, span)?);
                    }
                }
                let block = self.feed_word(block, feed.as_ref(), span)?;
                self.p.program.w.block(block, span);
                Ok(())
            }
            Move::Arc(arc) => self.arc(arc, span),
            Move::Dwell(minutes) => {
                let seconds = minutes.clone() * Expr::from(60);
                let value = self.p.word(&seconds, span)?;
                let letter = self.p.program.machine.words.dwell_letter;
                self.p.program.w.block(Block::code("G4").word(letter, &value), span);
                Ok(())
            }
            Move::Passes(passes, body) => self.passes(passes, body, span),
            Move::Repeat { index, count, body } => self.repeat(index, count, body, span),
        }
    }

    fn arc(&mut self, arc: &Arc, span: Span) -> Result<(), Diagnostic> {
        let code = if arc.way == Way::Ccw { "G3" } else { "G2" };
        let mut block = Block::code(code);
        let words = [
            ('X', Some(&arc.x)),
            ('Y', Some(&arc.y)),
            ('Z', arc.z.as_ref()),
            ('I', Some(&arc.i)),
            ('J', Some(&arc.j)),
        ];
        for (letter, value) in words {
            if let Some(value) = value {
                block = block.word(letter, &self.p.word(value, span)?);
            }
        }
        let block = self.feed_word(block, arc.feed.as_ref(), span)?;
        self.p.program.w.block(block.note(arc.note), span);
        Ok(())
    }

    fn feed_word(&mut self, block: Block, feed: Option<&Expr>, span: Span) -> Result<Block, Diagnostic> {
        match feed {
            Some(feed) if self.feed.as_ref() != Some(feed) => {
                self.feed = Some(feed.clone());
                Ok(block.word('F', &self.p.word(feed, span)?))
            }
            Some(_) | None => Ok(block),
        }
    }

    /// Equal or whole steps; each value from the counter, the last one assigned.
    fn passes(&mut self, passes: &Passes, body: &Sequence, span: Span) -> Result<(), Diagnostic> {
        let scope = self.p.scope();
        let way = self.distance(passes);
        let name = passes.value.name();
        let count = match self.counts.get(&passes.count) {
            Some(counted) => counted.clone(),
            None => self.count(passes, &way, span)?,
        };
        let index = self.p.assign_counter(&format!("COUNTS THE STEPS OF {name}"), span)?;
        self.p.define_symbol(&passes.count, count.clone());
        self.p.define_symbol(&passes.index, index.clone());
        self.known_values(passes, &way);
        let open = self.open(&index, &count);
        let each = each(passes);
        let value = self.p.assign_named(&each, name, span)?;
        let last = self.p.expr(&passes.to, span)?.text;
        self.p.assign_if(&format!("{index} EQ {count}"), value.trim_start_matches('#'), &last, span);
        self.p.define_symbol(&passes.value, value);
        self.close(open, body, &index)?;
        self.p.leave(scope);
        Ok(())
    }

    /// What is known of counter, count and value.
    fn known_values(&mut self, passes: &Passes, way: &Expr) {
        let most = self.most_steps(passes, way);
        let arithmetic = &mut self.p.arithmetic;
        let (from, to) = (arithmetic.value(&passes.from), arithmetic.value(&passes.to));
        let level = arithmetic.between(from, arithmetic.value(way), to);
        let counted = Computed::counted(Interval::new(1.0, most));
        arithmetic.define(&passes.value, level);
        arithmetic.define(&passes.index, counted);
        arithmetic.define(&passes.count, counted);
    }

    fn most_steps(&self, passes: &Passes, way: &Expr) -> f64 {
        let value = |e: &Expr| self.p.arithmetic.value(e).exact;
        (value(way).abs() / value(&passes.by)).ceil().hi.max(1.0)
    }

    /// How many steps. A way of exactly so many steps may come out a little above a whole number at the control,
    /// which would be one step more: so a millionth is taken off before rounding up. Each step is then at most a
    /// millionth longer than asked. The way has no sign and the step is proved to be above 0, so that rounding up
    /// means the same on every control.
    fn count(&mut self, passes: &Passes, way: &Expr, span: Span) -> Result<String, Diagnostic> {
        if passes.whole.is_some() {
            return self.count_whole(passes, way, span);
        }
        let below = self.p.just_below_one(way, &passes.by, (&passes.index, span))?;
        let quotient = Expr::number(below) * way.clone() / passes.by.clone();
        let rounded = self.p.rounded_up(&quotient, span)?;
        let note = format!("HOW MANY STEPS OF {}", passes.value.name());
        let count = self.p.assign_printed(&rounded, &note, span)?;
        // A way of none, which an absolute value may be, still takes one step.
        if !self.p.is_positive(way) || matches!(way.node(), Node::Call(..)) {
            self.p.assign_if(&format!("{count} LT 1"), count.trim_start_matches('#'), "1", span);
        }
        Ok(count)
    }

    /// How many whole steps, and one for what remains: a rest that is so small that rounding could have made it is
    /// taken by the step before it.
    fn count_whole(&mut self, passes: &Passes, way: &Expr, span: Span) -> Result<String, Diagnostic> {
        let steps = way.clone() / passes.by.clone();
        let nearly_one = self.p.nearly_one(&steps, (&passes.index, span))?;
        let least = self.p.arithmetic.value(&steps).exact.lo;
        let counted = (steps + Expr::number(nearly_one)).call(Function::Floor);
        let note = format!("HOW MANY STEPS OF {}", passes.value.name());
        let count = self.p.assign(&counted, &note, span)?;
        if least < 1.0 {
            self.p.assign_if(&format!("{count} LT 1"), count.trim_start_matches('#'), "1", span);
        }
        Ok(count)
    }

    fn repeat(
        &mut self,
        symbol: &Symbol,
        count: &Expr,
        body: &Sequence,
        span: Span,
    ) -> Result<(), Diagnostic> {
        let scope = self.p.scope();
        let (name, how_many) = match symbol.counts_places() {
            true => ("THE PLACES", "HOW MANY PLACES".to_owned()),
            false => (symbol.name(), format!("HOW OFTEN {}", symbol.name())),
        };
        let turns = self.p.arithmetic.value(count);
        let count = self.p.simple(count, &how_many, span)?;
        let index = self.p.assign_counter(&format!("COUNTS {name}"), span)?;
        self.p.define_symbol(symbol, index.clone());
        self.p.arithmetic.define(symbol, Computed::counted(turns.exact.hull(Interval::ONE)));
        let open = self.open(&index, &count);
        self.close(open, body, &index)?;
        self.p.leave(scope);
        Ok(())
    }

    /// `to - from` without its sign, where that is known; else its absolute value.
    fn distance(&self, passes: &Passes) -> Expr {
        let way = simplify(&(passes.to.clone() - passes.from.clone()));
        if self.p.is_positive(&way) {
            return way;
        }
        let back = simplify(&(passes.from.clone() - passes.to.clone()));
        if self.p.is_positive(&back) {
            return back;
        }
        way.call(Function::Abs)
    }

    /// Opens a loop while `index <= count`.
    fn open(&mut self, index: &str, count: &str) -> Open {
        let flow = &self.p.program.machine.flow;
        let (while_do, nesting) = (flow.while_do, flow.loop_nesting as usize);
        self.depth += 1;
        // The feed of the first turn is that of the last move before, or of the last turn.
        self.feed = None;
        let start = self.p.program.loop_start();
        if while_do && self.depth <= nesting {
            self.p.program.w.open_loop(&format!("{index} LE {count}"), self.depth);
            return Open { start, labels: None };
        }
        let (again, out) = (self.p.program.label(), self.p.program.label());
        self.p.program.w.label(again);
        self.p.program.w.jump_if(&format!("{index} GT {count}"), out, "", None);
        Open { start, labels: Some((again, out)) }
    }

    fn close(&mut self, open: Open, body: &Sequence, index: &str) -> Result<(), Diagnostic> {
        let mut needed = BTreeSet::new();
        names_used(body, &mut needed);
        self.names_and_values(body, &needed)?;
        self.each(body)?;
        let bare = index.trim_start_matches('#');
        self.p.program.w.assign_text(bare, &format!("{index}+1"), "", None);
        match open.labels {
            None => self.p.program.w.close_loop(self.depth),
            Some((again, out)) => {
                self.p.program.w.jump(again);
                self.p.program.w.label(out);
            }
        }
        self.p.program.loop_end(open.start);
        self.depth -= 1;
        self.feed = None;
        Ok(())
    }
}

/// The value of a turn other than the last: the start, and so many parts of the way in its shortest form.
fn each(passes: &Passes) -> Expr {
    let (index, count) = (Expr::symbol(&passes.index), Expr::symbol(&passes.count));
    if passes.whole.is_some() {
        return passes.step_to(index, count);
    }
    let way = simplify(&(passes.to.clone() - passes.from.clone()));
    passes.from.clone() + way * index / count
}

/// A loop that waits for its end.
struct Open {
    start: usize,
    labels: Option<(u32, u32)>,
}

/// Every value that the words of a move need, with a note for the one who reads it.
fn wants(made: &Move, span: Span, wanted: &mut Vec<(Expr, String, Span)>) {
    let mut want = |expr: Option<&Expr>, letter: &str, what: &str| {
        if let Some(expr) = expr {
            wanted.push((expr.clone(), format!("{letter} {what}"), span));
        }
    };
    match made {
        Move::Home => {}
        Move::Rapid { x, y } => {
            want(Some(x), "X", "OF THE RAPID MOVE");
            want(Some(y), "Y", "OF THE RAPID MOVE");
        }
        Move::RapidZ(z) => want(Some(z), "Z", "OF THE RAPID MOVE"),
        Move::Line { x, y, z, feed } => {
            want(x.as_ref(), "X", "END OF THE LINE");
            want(y.as_ref(), "Y", "END OF THE LINE");
            want(z.as_ref(), "Z", "END OF THE LINE");
            want(feed.as_ref(), "F", "FEED");
        }
        Move::Arc(arc) => {
            let what = if arc.note.is_empty() { "ARC" } else { arc.note };
            want(Some(&arc.x), "X", &format!("END OF {what}"));
            want(Some(&arc.y), "Y", &format!("END OF {what}"));
            want(arc.z.as_ref(), "Z", &format!("END OF {what}"));
            want(Some(&arc.i), "I", &format!("OF {what}"));
            want(Some(&arc.j), "J", &format!("OF {what}"));
            want(arc.feed.as_ref(), "F", "FEED");
        }
        Move::Dwell(_) => {}
        Move::Passes(_, body) | Move::Repeat { body, .. } => {
            for (inner, span) in &body.moves {
                wants(inner, *span, wanted);
            }
        }
    }
}

/// Every name that the moves and the needed lets of a block use.
pub(super) fn names_used(sequence: &Sequence, names: &mut BTreeSet<Symbol>) {
    let mut wanted = Vec::new();
    for (made, span) in &sequence.moves {
        wants(made, *span, &mut wanted);
        match made {
            Move::Passes(passes, body) => {
                for e in [&passes.from, &passes.to, &passes.by] {
                    names.extend(e.symbols());
                }
                names_used(body, names);
            }
            Move::Repeat { count, body, .. } => {
                names.extend(count.symbols());
                names_used(body, names);
            }
            Move::Dwell(time) => names.extend(time.symbols()),
            Move::Home | Move::Rapid { .. } | Move::RapidZ(_) | Move::Line { .. } | Move::Arc(_) => {}
        }
    }
    names.extend(wanted.iter().flat_map(|(e, ..)| e.symbols()));
    for l in sequence.lets.iter().rev() {
        if names.contains(&l.symbol) {
            names.extend(l.value.symbols());
        }
    }
}
