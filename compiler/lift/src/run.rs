//! The symbolic runner: from a text and what is known at its start to all its ways through.
//!
//! It shares [`step`] with the concrete runner: a misreading of the controller's language would be shared by
//! both. Where a question is open, it goes both ways; where both meet again and nothing has moved meanwhile,
//! the two ways become one, with values that hang on the question. The way that is furthest behind always goes
//! first, so that ways meet wherever they can.

use std::collections::{BTreeMap, VecDeque};
use std::ops::Range;

use borewright_base::Span;
use borewright_motion::{Act, ActKind, Condition, Ending, Expr, Joined, Need, Symbol};
use borewright_number::Rational;
use borewright_runtime::controller::Controller;
use borewright_runtime::state::{FeedMode, Plane, Triple, Units};
use borewright_runtime::step::{self, Effect, Feed, Move, Path, Step, Stop, Target};
use borewright_runtime::text::{Block, Body, Content};

use crate::Reason;
use crate::state::{Frame, HOME, Slot, State, View, is_local, join, shared};
use crate::term::{Term, ban, ban_in, banned};

/// Blocks after which a text counts as one that cannot be followed.
const BUDGET: usize = 200_000;
/// Ways side by side, after which the same.
const WAYS: usize = 64;

/// A way that left a stretch of blocks.
pub(crate) struct Exit {
    pub(crate) state: State,
    pub(crate) how: How,
    pub(crate) span: Span,
}

/// How it left.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum How {
    /// For the block with this index.
    Reached(usize),
    /// For good.
    Ended(Ending),
}

/// Runs texts with symbols.
pub(crate) struct Runner<'a> {
    pub(crate) bodies: Vec<&'a Body>,
    pub(crate) controller: &'a Controller,
    pub(crate) joined: Vec<Joined>,
    pub(crate) needs: Vec<Need>,
    /// Numbers of the names given so far.
    pub(crate) serial: u32,
    pub(crate) blocks: usize,
    /// Calls in one another.
    pub(crate) depth: usize,
    /// Heads of the loops that are being summed up.
    pub(crate) open: Vec<(Span, usize)>,
    /// The machine's home in Z is the zero of its coordinates.
    pub(crate) home_is_zero: bool,
    /// The variable in which the code of cutter compensation is read.
    pub(crate) compensation: Option<u32>,
}

impl<'a> Runner<'a> {
    /// Follows a state through a stretch of a program until it has left it on every way.
    pub(crate) fn run(
        &mut self,
        body: &'a Body,
        range: Range<usize>,
        state: State,
    ) -> Result<Vec<Exit>, Reason> {
        let mut waiting: BTreeMap<usize, Vec<State>> = BTreeMap::new();
        let mut exits = Vec::new();
        let mut last = body.span;
        waiting.insert(range.start, vec![state]);
        while let Some((at, states)) = waiting.pop_first() {
            let Some(block) = body.blocks.get(at).filter(|_| range.contains(&at)) else {
                let outside = |state| Exit { state, how: How::Reached(at), span: last };
                exits.extend(states.into_iter().map(outside));
                continue;
            };
            last = block.span;
            let states = self.together(states, block);
            if states.len() > WAYS {
                return Err(Reason::new(block.span, format!("there are more than {WAYS} ways through it")));
            }
            for state in states {
                for exit in self.block(body, at, state)? {
                    match exit.how {
                        How::Reached(next) => waiting.entry(next).or_default().push(exit.state),
                        How::Ended(_) => exits.push(exit),
                    }
                }
            }
        }
        Ok(exits)
    }

    /// States at one block, as few as they can be. At an alarm each keeps its own reason.
    fn together(&mut self, states: Vec<State>, block: &Block) -> Vec<State> {
        let alarm = self.controller.variables.alarm;
        let raises = matches!(&block.content, Content::Items(items) if items.assignments.iter().any(|a| {
            literal(&a.variable).is_some() && literal(&a.variable) == alarm
        }));
        if raises {
            return states;
        }
        let mut open = states;
        let mut apart: Vec<(usize, usize)> = Vec::new();
        // Those that parted last first: so each pair meets where its question was asked.
        while let Some((i, j)) = latest_fork(&open, &apart) {
            let (b, a) = (open.remove(j), open.remove(i));
            match self.join(a, b) {
                Ok(one) => {
                    open.insert(i, one);
                    apart.clear();
                }
                Err(two) => {
                    open.insert(i, two.0);
                    open.insert(j, two.1);
                    apart.push((i, j));
                }
            }
        }
        open
    }

    fn join(&mut self, a: State, b: State) -> Result<State, Box<(State, State)>> {
        let (serial, count) = (self.serial, self.joined.len());
        let (mut names, mut next) = (Vec::new(), self.serial);
        let one = join(a, b, &mut |variable, condition, yes, no| {
            if let Some(why) = ban(yes).or_else(|| ban(no)) {
                return banned(&why);
            }
            next += 1;
            let symbol = Symbol::new(format!("#{variable}.{next}"));
            let value = Expr::symbol(&symbol);
            names.push(Joined {
                symbol,
                variable,
                condition: condition.clone(),
                yes: yes.clone(),
                no: no.clone(),
            });
            value
        });
        if one.is_ok() {
            self.joined.extend(names);
            self.serial = next;
        } else {
            (self.serial, _) = (serial, self.joined.truncate(count));
        }
        one
    }

    /// One block of one state: where it leads.
    fn block(&mut self, body: &'a Body, at: usize, state: State) -> Result<Vec<Exit>, Reason> {
        let Some(block) = body.blocks.get(at) else { return Ok(Vec::new()) };
        if block.skip {
            return Err(Reason::new(block.span, "block skip may be on or off".to_owned()));
        }
        if let Some(exit) = self.summed_up(body, at, &state)? {
            return Ok(vec![exit]);
        }
        self.blocks += 1;
        if self.blocks > BUDGET {
            return Err(Reason::new(block.span, format!("it did not end within {BUDGET} blocks")));
        }
        match self.step(block, &state) {
            Ok(step) => {
                let mut state = state;
                state.registers = Registers::forget_sequence(step.registers);
                let mut exits = Vec::new();
                self.apply(body, block, state, step.effects.into(), at + 1, &mut exits)?;
                Ok(exits)
            }
            Err(Stop::Fault(fault)) => Err(Reason::new(block.span, fault.diagnostic.message.clone())),
            Err(Stop::Undecided { condition, .. }) => self.ask(body, at, &state, &condition.0, block),
        }
    }

    pub(crate) fn step(&self, block: &Block, state: &State) -> Result<Step<Term>, Stop<Term>> {
        let view = View { state, controller: self.controller, compensation: self.compensation };
        step::step(block, &state.registers, self.controller, &view)
    }

    /// Takes the block once with the answer yes and once with no. Only questions about vacant arguments come
    /// here.
    fn ask(
        &mut self,
        body: &'a Body,
        at: usize,
        state: &State,
        condition: &Condition,
        block: &Block,
    ) -> Result<Vec<Exit>, Reason> {
        if let Some(why) = ban_in(condition) {
            return Err(Reason::new(block.span, format!("it uses {why}")));
        }
        let mut exits = Vec::new();
        for (holds, fact) in [(true, condition.clone()), (false, condition.negated())] {
            if state.decide(&fact) == Some(false) {
                continue;
            }
            let mut answered = state.clone();
            let mut found = false;
            let frames = answered.frames.iter_mut().flat_map(|f| f.slots.values_mut());
            for slot in frames.chain(answered.common.values_mut()) {
                if let Slot::Maybe { given, value } = slot
                    && *given == *condition
                {
                    *slot = if holds { Slot::Value(value.clone()) } else { Slot::Vacant };
                    found = true;
                }
            }
            if !found {
                return Err(Reason::new(block.span, format!("it hangs on `{condition}`")));
            }
            answered.assume(fact);
            exits.extend(self.block(body, at, answered)?);
        }
        Ok(exits)
    }

    /// Lets effects happen in order; adds where each way leads.
    pub(crate) fn apply(
        &mut self,
        body: &'a Body,
        block: &Block,
        mut state: State,
        mut effects: VecDeque<Effect<Term>>,
        next: usize,
        exits: &mut Vec<Exit>,
    ) -> Result<(), Reason> {
        let span = block.span;
        while let Some(effect) = effects.pop_front() {
            state.computed |= matches!(
                effect,
                Effect::When { .. }
                    | Effect::Jump(_)
                    | Effect::Set { .. }
                    | Effect::Call(_)
                    | Effect::Return(_)
            );
            if let Effect::When { condition, effects: inner } = effect {
                let condition = state.bounds.settle_in(&condition.0);
                if let Some(why) = ban_in(&condition) {
                    return Err(Reason::new(span, format!("a condition hangs on {why}")));
                }
                let holds = state.decide(&condition);
                if holds.is_none() {
                    let mut other = state.clone();
                    other.assume(condition.negated());
                    self.apply(body, block, other, effects.clone(), next, exits)?;
                    state.assume(condition);
                }
                if holds != Some(false) {
                    inner.into_iter().rev().for_each(|e| effects.push_front(e));
                }
            } else if let Effect::Call(call) = &effect {
                return self.call(state, call, next, span, exits);
            } else if let Some(how) = self.happen(&mut state, effect, body, span)? {
                if let How::Reached(index) = how
                    && enters(body, next, index)
                {
                    return Err(Reason::new(span, "it jumps into the middle of a loop".to_owned()));
                }
                exits.push(Exit { state, how, span });
                return Ok(());
            }
        }
        exits.push(Exit { state, how: How::Reached(next), span });
        Ok(())
    }

    /// One effect; where it leads, if it leads away.
    fn happen(
        &mut self,
        state: &mut State,
        effect: Effect<Term>,
        body: &Body,
        span: Span,
    ) -> Result<Option<How>, Reason> {
        let done = |kind: ActKind, state: &mut State| {
            let now = state.snapshot();
            state.push(Act { kind, span, state: now });
        };
        match effect {
            Effect::Require { condition, fault } => self.require(state, &condition.0, &fault, span)?,
            // These stand in the registers, and so in the state of every act.
            Effect::Speed(_) | Effect::Spindle(_) | Effect::Coolant(_) => {}
            Effect::Select(_) | Effect::Message(_) => {}
            // A changer, or the hand that changes the tool, may have moved the table.
            Effect::ToolChange(_) => {
                let left =
                    |axis: &str| Term(banned(&format!("the {axis} in which the tool change leaves it")));
                (state.registers.position.x, state.registers.position.y) = (left("X"), left("Y"));
            }
            Effect::Move(step) => self.moved(state, &step)?,
            Effect::Dwell(seconds) => {
                let minutes = usable(&state.bounds.settle(&seconds.0), span)? / Expr::from(60);
                done(ActKind::Dwell(minutes), state);
            }
            Effect::Pause { optional: true, .. } => {
                return Err(Reason::new(span, "an optional stop may be on or off".to_owned()));
            }
            Effect::Pause { text, .. } => done(ActKind::Stop(text), state),
            Effect::Set { variable, value } => self.set(state, variable, value),
            Effect::Jump(Target::Block(index)) => return Ok(Some(How::Reached(index))),
            Effect::Jump(Target::Sequence { number, span }) => {
                let found = body.find_sequence(number, span);
                let index = found.map_err(|f| Reason::new(span, f.diagnostic.message.clone()))?;
                return Ok(Some(How::Reached(index)));
            }
            Effect::Return(None) => return Ok(Some(How::Ended(Ending::Return))),
            Effect::Return(Some(_)) => {
                return Err(Reason::new(span, "it returns to a block of its caller".to_owned()));
            }
            Effect::Alarm { number, text } => {
                return Ok(Some(How::Ended(Ending::Alarm { number: number.0, text })));
            }
            Effect::End => return Ok(Some(How::Ended(Ending::End))),
            // The caller takes these apart.
            Effect::When { .. } | Effect::Call(_) => {}
        }
        Ok(None)
    }

    /// What must hold for the controller to go on: noted, where it is not plain that it does.
    fn require(
        &mut self,
        state: &mut State,
        condition: &Condition,
        fault: &borewright_runtime::Fault,
        span: Span,
    ) -> Result<(), Reason> {
        let condition = state.bounds.settle_in(condition);
        match state.decide(&condition) {
            Some(true) => Ok(()),
            Some(false) => Err(Reason::new(span, fault.diagnostic.message.clone())),
            // Nobody can use such a value: that is noticed where somebody tries to.
            None if ban_in(&condition).is_some() => Ok(()),
            None => {
                self.needs.push(Need {
                    facts: state.facts.clone(),
                    condition,
                    code: fault.diagnostic.code.number,
                    message: fault.diagnostic.message.clone(),
                    span,
                });
                Ok(())
            }
        }
    }

    fn set(&mut self, state: &mut State, variable: u32, value: Option<Term>) {
        let slot = match value {
            Some(value) => Slot::Value(state.bounds.settle(&value.0)),
            None => Slot::Vacant,
        };
        let variables = &self.controller.variables;
        if is_local(&variables.local, variable) {
            if let Some(frame) = state.frames.last_mut() {
                frame.slots.insert(variable, slot);
            }
        } else {
            if variables.active_offset != Some(variable) {
                state.written.insert(variable);
            }
            state.common.insert(variable, slot);
        }
    }

    fn moved(&self, state: &mut State, step: &Move<Term>) -> Result<(), Reason> {
        let span = step.span;
        let unit = match step.units {
            Units::Millimetre => Expr::from(1),
            Units::Inch => Expr::number(inch()),
        };
        let place = |t: &Triple<Term>| [&t.x, &t.y, &t.z].map(|v| state.bounds.settle(&v.0) * unit.clone());
        let (from, to) = (place(&step.from), place(&step.to));
        for (a, b) in from.iter().zip(&to) {
            // What is not known and does not change need not be known.
            if a != b {
                usable(b, span)?;
            }
        }
        let feed = match &step.feed {
            None => None,
            Some(Feed::PerMinute(feed)) => Some(usable(&state.bounds.settle(&feed.0), span)? * unit.clone()),
            Some(Feed::InverseTime(_)) => {
                return Err(Reason::new(span, "it feeds by inverse time".to_owned()));
            }
        };
        let kind = match &step.path {
            // A move home is one even where the cutter is there already: where it was need not be known for it.
            Path::Rapid if from == to && !step.during.machine_coordinates => return Ok(()),
            Path::Rapid if step.during.machine_coordinates => {
                let [x, y, z] = &to;
                let [before_x, before_y, _] = &from;
                let zero = self.zero(state) * unit;
                let home = z.symbols().iter().any(|s| s.name() == HOME) || (self.home_is_zero && *z == zero);
                if x != before_x || y != before_y || !home {
                    let why = "it moves in machine coordinates, and not to the home in Z alone";
                    return Err(Reason::new(span, why.to_owned()));
                }
                ActKind::Home
            }
            Path::Line if step.during.machine_coordinates => {
                return Err(Reason::new(span, "it cuts in machine coordinates".to_owned()));
            }
            Path::Rapid => ActKind::Rapid { from, to },
            Path::Line => ActKind::Line { from, to, feed },
            Path::Arc(arc) => {
                if arc.plane != Plane::XY {
                    return Err(Reason::new(span, "an arc in another plane than XY".to_owned()));
                }
                let [x, y, _] = place(&arc.centre);
                let centre = [usable(&x, span)?, usable(&y, span)?];
                let full = state.bounds.settle_in(&arc.full.0);
                ActKind::Arc { from, to, centre, counterclockwise: arc.counterclockwise, full, feed }
            }
        };
        let now = state.snapshot();
        state.push(Act { kind, span, state: now });
        Ok(())
    }

    /// The zero of the machine's coordinates along Z, in coordinates of the program.
    fn zero(&self, state: &State) -> Expr {
        let registers = &state.registers;
        let shifts = [&registers.origin.z, &registers.shift.z, &registers.length];
        shifts.iter().fold(Expr::zero(), |z, shift| z - shift.0.clone())
    }

    fn call(
        &mut self,
        state: State,
        call: &step::Call<Term>,
        next: usize,
        span: Span,
        exits: &mut Vec<Exit>,
    ) -> Result<(), Reason> {
        let callee = self.program(call.program, span)?;
        self.depth += 1;
        if self.depth > self.controller.call_depth || call.repeats > 1000 {
            return Err(Reason::new(span, "it calls too deeply, or too often".to_owned()));
        }
        let mut ready = vec![state];
        for _ in 0..call.repeats {
            let mut returned = Vec::new();
            for mut state in ready {
                if let Some(arguments) = &call.arguments {
                    let slot = |(n, v): &(u32, Term)| (*n, Slot::Value(state.bounds.settle(&v.0)));
                    let slots = arguments.iter().map(slot).collect();
                    state.frames.push(Frame { slots, called: true, vacant: true });
                }
                for mut exit in self.run(callee, 0..callee.blocks.len(), state)? {
                    match exit.how {
                        How::Ended(Ending::Return) => {
                            if call.arguments.is_some() {
                                exit.state.frames.pop();
                            }
                            returned.push(exit.state);
                        }
                        How::Ended(Ending::Alarm { .. } | Ending::End) => exits.push(exit),
                        How::Reached(_) => {
                            return Err(Reason::new(exit.span, "a called program has no end".to_owned()));
                        }
                    }
                }
            }
            ready = returned;
        }
        self.depth -= 1;
        exits.extend(ready.into_iter().map(|state| Exit { state, how: How::Reached(next), span }));
        Ok(())
    }

    pub(crate) fn program(&self, number: u32, span: Span) -> Result<&'a Body, Reason> {
        let body = self.bodies.iter().find(|b| b.number == Some(number)).copied();
        body.ok_or_else(|| Reason::new(span, format!("program O{number}, which it calls, is not here")))
    }
}

/// Of the states that parted with one question, and are not known to stay apart, the two that did so last.
fn latest_fork(states: &[State], apart: &[(usize, usize)]) -> Option<(usize, usize)> {
    let mut latest: Option<(usize, (usize, usize))> = None;
    for (i, a) in states.iter().enumerate() {
        for (j, b) in states.iter().enumerate().skip(i + 1) {
            if let Some(facts) = shared(a, b)
                && latest.is_none_or(|(most, _)| facts >= most)
                && !apart.contains(&(i, j))
            {
                latest = Some((facts, (i, j)));
            }
        }
    }
    latest.map(|(_, pair)| pair)
}

/// Whether a jump from the block before `next` leads into a `WHILE` that it does not stand in itself.
fn enters(body: &Body, next: usize, index: usize) -> bool {
    body.blocks.iter().enumerate().any(|(start, block)| {
        let Content::While { end, .. } = &block.content else { return false };
        let inside = |at: usize| start < at && at <= *end;
        inside(index) && !inside(next.saturating_sub(1))
    })
}

/// Block numbers are no state.
struct Registers;

impl Registers {
    fn forget_sequence(
        mut registers: borewright_runtime::state::Registers<Term>,
    ) -> borewright_runtime::state::Registers<Term> {
        registers.sequence = None;
        registers
    }
}

/// The number of a variable or label, where it is written out.
pub(crate) fn literal(expression: &borewright_runtime::text::Expression) -> Option<u32> {
    let number = crate::term::exact(expression.literal()?);
    number.to_i64().filter(|_| number.is_whole()).and_then(|n| u32::try_from(n).ok())
}

/// Millimetres in an inch.
pub(crate) fn inch() -> Rational {
    borewright_number::Unit::Inch.factor()
}

/// The expression, unless it holds what nobody knows.
fn usable(expr: &Expr, span: Span) -> Result<Expr, Reason> {
    match ban(expr) {
        None => Ok(expr.clone()),
        Some(why) => Err(Reason::new(span, format!("it uses {why}"))),
    }
}

/// Feed modes by their names at entry.
pub(crate) fn feed_mode(inverse: bool) -> FeedMode {
    if inverse { FeedMode::InverseTime } else { FeedMode::PerMinute }
}
