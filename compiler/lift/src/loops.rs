//! Loops with a counter, summed up: one symbolic turn stands for all of them.
//!
//! A loop is recognised by its shape and then checked: its condition compares one variable with a bound that the
//! loop leaves alone; that variable begins at a whole number and is one more after each turn; and nothing that
//! a turn assigns is used before the same turn has assigned it. So each turn is a function of the counter and
//! of what was known before the loop, and no invariant is asked of anyone.

use std::collections::BTreeSet;
use std::ops::Range;

use borewright_base::Span;
use borewright_motion::{Act, ActKind, Condition, Expr, Need, Relation, Symbol};
use borewright_runtime::state::{Axis, Registers, Triple};
use borewright_runtime::step::{Effect, Target};
use borewright_runtime::text::{Block, Body, Content, Items, Then};

use crate::Reason;
use crate::know::Bounds;
use crate::run::{Exit, How, Runner, literal};
use crate::state::{Slot, State, is_local};
use crate::term::{Term, ban, banned};

/// Where a loop stands.
struct Shape {
    /// The block that asks whether to go on.
    test: usize,
    /// Its turns: from the block behind the test to the block that leads back, which is left out.
    turn: Range<usize>,
    /// Where it goes on behind the loop.
    behind: usize,
}

impl<'a> Runner<'a> {
    /// If a loop begins here that has no plain number of turns: the state behind it.
    pub(crate) fn summed_up(
        &mut self,
        body: &'a Body,
        at: usize,
        state: &State,
    ) -> Result<Option<Exit>, Reason> {
        let key = (body.span, at);
        if self.open.contains(&key) {
            return Ok(None);
        }
        let Some(shape) = shape(body, at) else { return Ok(None) };
        let Some(block) = body.blocks.get(shape.test) else { return Ok(None) };
        // A test between numbers is no riddle: such a loop is simply run.
        if let Some(Condition::True | Condition::False) = self.leaves(block, state) {
            return Ok(None);
        }
        self.open.push(key);
        let state = self.sum_up(body, &shape, block, state)?;
        self.open.pop();
        Ok(Some(Exit { state, how: How::Reached(shape.behind), span: block.span }))
    }

    /// The condition on which a test leaves its loop.
    fn leaves(&self, block: &Block, state: &State) -> Option<Condition> {
        let effects = self.step(block, state).ok()?.effects;
        effects.into_iter().find_map(|effect| {
            if let Effect::When { condition, effects } = effect
                && matches!(effects.as_slice(), [Effect::Jump(Target::Block(_) | Target::Sequence { .. })])
            {
                Some(state.bounds.settle_in(&condition.0))
            } else {
                None
            }
        })
    }

    fn sum_up(
        &mut self,
        body: &'a Body,
        shape: &Shape,
        block: &Block,
        before: &State,
    ) -> Result<State, Reason> {
        let span = block.span;
        let assigned = self.assigned(body, shape.turn.clone(), true, 0)?;
        let mut probe = before.clone();
        for variable in &assigned {
            self.put(&mut probe, *variable, left_over(*variable));
        }
        let counter = self
            .leaves(block, &probe)
            .and_then(|leaves| counter(&leaves.negated(), &assigned))
            .ok_or_else(|| Reason::new(span, "a loop that counts nothing up to a fixed bound".to_owned()))?;
        let first = self
            .value(before, counter.variable)
            .filter(|e| e.as_number().is_some_and(borewright_number::Rational::is_whole))
            .ok_or_else(|| {
                Reason::new(span, "a loop whose counter does not begin at a whole number".to_owned())
            })?;
        self.serial += 1;
        let index = Symbol::new(format!("turn.{}", self.serial));
        let mut entry = probe;
        self.put(&mut entry, counter.variable, Expr::symbol(&index));
        entry.assume(Condition::at_least(Expr::symbol(&index), first.clone()));
        entry.assume(Condition::at_most(Expr::symbol(&index), counter.last.clone()));
        entry.acts = std::sync::Arc::default();
        let after = self.any_turn(body, shape, entry, (&index, &first), span)?;
        let turn = || Expr::symbol(&index);
        let next = [turn() + Expr::from(1), Expr::from(1) + turn()];
        if !self.value(&after, counter.variable).is_some_and(|value| next.contains(&value)) {
            return Err(Reason::new(span, "a loop whose counter does not go up by 1".to_owned()));
        }
        Ok(self.behind(before, &after, (&index, first, counter.last), &assigned, span))
    }

    /// A turn that stands for every turn: from what is the same at the start of each, or else from where the one before ends.
    fn any_turn(
        &mut self,
        body: &'a Body,
        shape: &Shape,
        entry: State,
        counter: (&Symbol, &Expr),
        span: Span,
    ) -> Result<State, Reason> {
        let (joined, needs, open) = (self.joined.len(), self.needs.len(), self.open.len());
        let fault = match self.turn(body, shape, entry.clone(), span) {
            Ok(after) => return Ok(after),
            Err(fault) => fault,
        };
        self.joined.truncate(joined);
        self.needs.truncate(needs);
        self.open.truncate(open);
        match self.flowing(body, shape, &entry, counter) {
            Ok(Some(after)) => Ok(after),
            Ok(None) | Err(_) => Err(fault),
        }
    }

    /// One turn from where the turn before it has ended, where that is a place in the plane that hangs on the counter: a turn
    /// from there must end where it would end from anywhere. That the first turn begins there is a need of the text.
    fn flowing(
        &mut self,
        body: &'a Body,
        shape: &Shape,
        entry: &State,
        (index, first): (&Symbol, &Expr),
    ) -> Result<Option<State>, Reason> {
        let (joined, needs) = (self.joined.len(), self.needs.len());
        let span = body.span;
        let once = self.only_way(body, shape, entry.clone(), span)?;
        let end = |runner: &Self, state: &State, axis| {
            runner.expanded(&state.registers.position.along(axis).0, index)
        };
        let ends: Vec<(Axis, Expr)> = [Axis::X, Axis::Y]
            .map(|axis| (axis, end(self, &once, axis)))
            .into_iter()
            .filter(|(_, end)| end.symbols().contains(index))
            .collect();
        let own: BTreeSet<&Symbol> = self.joined.iter().skip(joined).map(|j| &j.symbol).collect();
        let names = |e: &Expr| e.symbols().iter().any(|s| own.contains(s)) || ban(e).is_some();
        if ends.is_empty() || ends.iter().any(|(_, end)| names(end)) {
            return Ok(None);
        }
        // The numbers of names go on: none of the turn that is given up means anything else later.
        self.joined.truncate(joined);
        self.needs.truncate(needs);
        let at = |turn: &Expr, end: &Expr| end.substitute(&|s| (s == index).then(|| turn.clone()));
        let mut begins = entry.clone();
        begins.registers = either(&entry.registers, &once.registers, span)?;
        for (axis, end) in &ends {
            let before = Expr::symbol(index) - Expr::from(1);
            *begins.registers.position.along_mut(*axis) = Term(at(&before, end));
        }
        let after = self.only_way(body, shape, begins.clone(), span)?;
        let mut both = either(&begins.registers, &after.registers, span)?;
        for (axis, wanted) in &ends {
            if end(self, &after, *axis) != *wanted {
                return Ok(None);
            }
            *both.position.along_mut(*axis) = begins.registers.position.along(*axis).clone();
        }
        if both != begins.registers {
            return Ok(None);
        }
        let zeroth = first.clone() - Expr::from(1);
        let start = |(axis, end): &(Axis, Expr)| {
            Condition::equal(at(&zeroth, end), entry.registers.position.along(*axis).0.clone())
        };
        self.needs.push(Need {
            facts: entry.facts.clone(),
            condition: Condition::all(ends.iter().map(start)),
            code: "loop",
            message: "the first turn begins where a turn before it would have ended".to_owned(),
            span,
        });
        Ok(Some(after))
    }

    /// One turn that can end in one way only.
    fn only_way(&mut self, body: &'a Body, shape: &Shape, entry: State, span: Span) -> Result<State, Reason> {
        let mut exits = self.run(body, shape.turn.clone(), entry)?;
        let (Some(exit), None) = (exits.pop(), exits.pop()) else {
            return Err(Reason::new(span, "a loop whose turn can end in several ways".to_owned()));
        };
        if exit.how != How::Reached(shape.turn.end) {
            return Err(Reason::new(span, "a loop that can be left in the middle of a turn".to_owned()));
        }
        Ok(exit.state)
    }

    /// One turn, from registers that hold at the start of every turn.
    fn turn(&mut self, body: &'a Body, shape: &Shape, entry: State, span: Span) -> Result<State, Reason> {
        let mut entry = entry;
        for _ in 0..8 {
            let before = (self.joined.len(), self.needs.len(), self.serial);
            let after = self.only_way(body, shape, entry.clone(), span)?;
            let both = either(&entry.registers, &after.registers, span)?;
            if both == entry.registers {
                return Ok(after);
            }
            self.joined.truncate(before.0);
            self.needs.truncate(before.1);
            self.serial = before.2;
            entry.registers = both;
        }
        Err(Reason::new(span, "a loop whose turns never become alike".to_owned()))
    }

    /// What is known behind the loop.
    fn behind(
        &mut self,
        before: &State,
        after: &State,
        (index, first, last): (&Symbol, Expr, Expr),
        assigned: &BTreeSet<u32>,
        span: Span,
    ) -> State {
        let mut state = before.clone();
        let now = state.snapshot();
        let body: Vec<Act> = (*after.acts).clone();
        let kind = ActKind::Loop { index: index.clone(), first: first.clone(), last: last.clone(), body };
        state.push(Act { kind, span, state: now });
        let at_end = self.at_last(&after.registers, index, &last);
        if at_end != state.registers {
            state.registers = at_end;
            let condition = Condition::at_least(last, first);
            if state.decide(&condition) != Some(true) {
                self.needs.push(Need {
                    facts: state.facts.clone(),
                    condition,
                    code: "loop",
                    message: "the loop may turn not even once".to_owned(),
                    span,
                });
            }
        }
        for variable in assigned {
            self.put(&mut state, *variable, left_over(*variable));
        }
        state.written.extend(after.written.iter().copied());
        state
    }

    /// The registers after the last turn.
    fn at_last(&self, registers: &Registers<Term>, index: &Symbol, last: &Expr) -> Registers<Term> {
        let put = |t: &Term| {
            let expanded = self.expanded(&t.0, index);
            let value = expanded.substitute(&|s| (s == index).then(|| last.clone()));
            Term(if value == t.0 { value } else { Bounds::default().settle(&value) })
        };
        let optional = |t: &Option<Term>| t.as_ref().map(put);
        Registers {
            feed: optional(&registers.feed),
            speed: optional(&registers.speed),
            selected: optional(&registers.selected),
            tool: optional(&registers.tool),
            d: optional(&registers.d),
            h: optional(&registers.h),
            position: Triple::from_axes(|axis| put(registers.position.along(axis))),
            ..registers.clone()
        }
    }

    /// The expression with the values of joined names that hang on the counter.
    fn expanded(&self, expr: &Expr, index: &Symbol) -> Expr {
        expr.substitute(&|s| {
            let joined = self.joined.iter().find(|j| j.symbol == *s)?;
            let value = self.expanded(&joined.value(), index);
            value.symbols().contains(index).then_some(value)
        })
    }

    fn value(&self, state: &State, variable: u32) -> Option<Expr> {
        let local = is_local(&self.controller.variables.local, variable);
        let slots = if local { &state.frames.last()?.slots } else { &state.common };
        match slots.get(&variable)? {
            Slot::Value(value) => Some(value.clone()),
            Slot::Vacant | Slot::Maybe { .. } => None,
        }
    }

    fn put(&self, state: &mut State, variable: u32, value: Expr) {
        let slots = match state.frames.last_mut() {
            Some(frame) if is_local(&self.controller.variables.local, variable) => &mut frame.slots,
            Some(_) | None => &mut state.common,
        };
        slots.insert(variable, Slot::Value(value));
    }

    /// Every variable that blocks, and the programs that they call, may assign.
    fn assigned(
        &self,
        body: &Body,
        range: Range<usize>,
        locals: bool,
        depth: usize,
    ) -> Result<BTreeSet<u32>, Reason> {
        let mut found = BTreeSet::new();
        for block in body.blocks.get(range).unwrap_or_default() {
            let assignments = match &block.content {
                Content::Items(items) => {
                    if let Some((program, own)) = called(items) {
                        if depth > self.controller.call_depth {
                            return Err(Reason::new(block.span, "it calls too deeply".to_owned()));
                        }
                        let number = program.ok_or_else(|| {
                            Reason::new(block.span, "a call of a program whose number is computed".to_owned())
                        })?;
                        let callee = self.program(number, block.span)?;
                        let all = 0..callee.blocks.len();
                        found.extend(self.assigned(callee, all, locals && !own, depth + 1)?);
                    }
                    &items.assignments
                }
                Content::If { then: Then::Assign(assignments), .. } => assignments,
                Content::If { then: Then::Goto(_), .. }
                | Content::While { .. }
                | Content::End { .. }
                | Content::Goto(_)
                | Content::Unreadable => continue,
            };
            for assignment in assignments {
                let number = literal(&assignment.variable).ok_or_else(|| {
                    Reason::new(assignment.span, "a variable whose number is computed".to_owned())
                })?;
                if locals || !is_local(&self.controller.variables.local, number) {
                    found.insert(number);
                }
            }
        }
        Ok(found)
    }
}

/// What an earlier turn has left in a variable.
fn left_over(variable: u32) -> Expr {
    banned(&format!("#{variable}, in which the turn before has left its value"))
}

/// The program that a block calls, and whether the call has variables of its own.
fn called(items: &Items) -> Option<(Option<u32>, bool)> {
    let code = |letter: char, number: u32| {
        items.words.iter().any(|w| w.letter == letter && literal(&w.value) == Some(number))
    };
    let own = code('G', 65);
    (own || code('M', 98)).then(|| {
        let program = items.words.iter().find(|w| w.letter == 'P');
        (program.and_then(|w| literal(&w.value)), own)
    })
}

/// A counter and the last value for which the loop turns.
struct Counter {
    variable: u32,
    last: Expr,
}

/// From the condition on which a loop goes on.
fn counter(stays: &Condition, assigned: &BTreeSet<u32>) -> Option<Counter> {
    let Condition::Compare(relation, a, b) = stays else { return None };
    let of = |e: &Expr| assigned.iter().copied().find(|v| *e == left_over(*v));
    let (variable, bound, relation) = match (of(a), of(b)) {
        (Some(variable), None) => (variable, b, *relation),
        (None, Some(variable)) => match relation {
            Relation::GreaterEqual => (variable, a, Relation::LessEqual),
            Relation::Greater => (variable, a, Relation::Less),
            Relation::Less | Relation::LessEqual | Relation::Equal | Relation::NotEqual => return None,
        },
        (Some(_), Some(_)) | (None, None) => return None,
    };
    if ban(bound).is_some() {
        return None;
    }
    let last = match relation {
        Relation::LessEqual => bound.clone(),
        Relation::Less => (bound.clone()).call(borewright_motion::Function::Ceil) - Expr::from(1),
        Relation::Equal | Relation::NotEqual | Relation::Greater | Relation::GreaterEqual => return None,
    };
    Some(Counter { variable, last })
}

/// The loop that begins at a block: `WHILE … END`, or a label that is jumped back to, with a test behind it
/// that leads past the jump.
fn shape(body: &Body, at: usize) -> Option<Shape> {
    let block = body.blocks.get(at)?;
    if let Content::While { end, .. } = &block.content {
        return Some(Shape { test: at, turn: at + 1..*end, behind: end + 1 });
    }
    let label = block.sequence?.number;
    let goes = |b: &Block| matches!(&b.content, Content::Goto(n) if literal(n) == Some(label));
    let back = at + body.blocks.iter().skip(at).position(goes)?;
    let empty = |b: &Block| matches!(&b.content, Content::Items(i) if *i == Items::default());
    let test = at + body.blocks.iter().skip(at).take_while(|b| empty(b)).count();
    let Content::If { then: Then::Goto(out), .. } = &body.blocks.get(test)?.content else { return None };
    let behind = body.find_sequence(literal(out)?, block.span).ok()?;
    (test < back && behind > back).then_some(Shape { test, turn: test + 1..back, behind })
}

/// Registers that hold where either of two may: what differs is not known.
fn either(a: &Registers<Term>, b: &Registers<Term>, span: Span) -> Result<Registers<Term>, Reason> {
    if (&a.origin, &a.shift, &a.length) != (&b.origin, &b.shift, &b.length) {
        return Err(Reason::new(span, "a loop that moves its own zero".to_owned()));
    }
    let term = |x: &Option<Term>, y: &Option<Term>, what: &str| {
        let differs = || Term(banned(&format!("{what} that the turn before has left")));
        if x == y { x.clone() } else { Some(differs()) }
    };
    let along = |axis: Axis| {
        let (x, y) = (a.position.along(axis), b.position.along(axis));
        let unknown = || Term(banned(&format!("the {} that the turn before has left", axis.letter())));
        if x == y { x.clone() } else { unknown() }
    };
    Ok(Registers {
        motion: same(&a.motion, &b.motion),
        plane: same(&a.plane, &b.plane),
        distance: same(&a.distance, &b.distance),
        feed_mode: same(&a.feed_mode, &b.feed_mode),
        units: same(&a.units, &b.units),
        return_level: same(&a.return_level, &b.return_level),
        path_control: same(&a.path_control, &b.path_control),
        work: same(&a.work, &b.work),
        length_offset: same(&a.length_offset, &b.length_offset),
        compensation: same(&a.compensation, &b.compensation),
        compensated: same(&a.compensated, &b.compensated),
        feed: term(&a.feed, &b.feed, "the feed"),
        speed: term(&a.speed, &b.speed, "the speed"),
        spindle: same(&a.spindle, &b.spindle),
        mist: same(&a.mist, &b.mist),
        flood: same(&a.flood, &b.flood),
        overrides: same(&a.overrides, &b.overrides),
        selected: term(&a.selected, &b.selected, "the tool number"),
        tool: term(&a.tool, &b.tool, "the tool"),
        d: term(&a.d, &b.d, "the D number"),
        h: term(&a.h, &b.h, "the H number"),
        position: Triple::from_axes(along),
        origin: a.origin.clone(),
        shift: a.shift.clone(),
        length: a.length.clone(),
        sequence: None,
    })
}

fn same<T: Clone + PartialEq>(a: &Option<T>, b: &Option<T>) -> Option<T> {
    if a == b { a.clone() } else { None }
}
