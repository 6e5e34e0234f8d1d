//! Run: from programs and options to everything that happens, block by block.
//!
//! Generic over the number type: floats give a plain run, intervals an enclosure of it. A question that the numbers
//! leave open ends the run with an error; nothing is ever guessed.

mod memory;
mod request;

use borewright_base::Span;

use crate::controller::Controller;
use crate::errors::{self, Fault};
use crate::state::{
    Coolant, Distance, FeedMode, Motion, PathControl, Plane, Registers, ReturnLevel, Spindle, Triple,
};
use crate::step::{Call, Effect, Move, Stop, Target, step};
use crate::text::{Block, Body, Program};
use crate::value::{Condition, Truth, Value};

pub use memory::Store;
pub use request::{CutterOffset, Request, Setting, parse_block, parse_call, parse_offset, parse_set};

/// How a run begins and how far it goes.
#[derive(Debug, Clone)]
pub struct RunOptions<'a> {
    /// Runs this call instead of the first program.
    pub call: Option<Request>,
    /// Blocks that run before the call.
    pub before: Vec<Request>,
    /// Begins as a caller leaves the machine: length offset on, spindle turning clockwise.
    pub called: bool,
    /// Sets variables first, in order.
    pub set: Vec<Setting>,
    /// Texts with further programs.
    pub with: Vec<&'a Program>,
    /// Where the cutter is at first, in the controller's power-up units; `None` for its home position.
    pub start: Option<[f64; 3]>,
    /// Block skip is on: blocks that begin with `/` are left out.
    pub skip: bool,
    /// Tool lengths by H number, in the controller's power-up units.
    pub tool_lengths: std::collections::BTreeMap<u32, f64>,
    /// Cutter offsets by D number, as the controller keeps them (radius or diameter), in its power-up units.
    pub cutter_offsets: std::collections::BTreeMap<u32, f64>,
    /// Blocks after which the run counts as endless.
    pub budget: usize,
    /// Goes on after errors that leave the way of the cutter clear (no feed, arc mismatch).
    pub keep_going: bool,
}

impl Default for RunOptions<'_> {
    fn default() -> Self {
        Self {
            call: None,
            before: Vec::new(),
            called: false,
            set: Vec::new(),
            with: Vec::new(),
            start: None,
            skip: false,
            tool_lengths: std::collections::BTreeMap::new(),
            cutter_offsets: std::collections::BTreeMap::new(),
            budget: 1_000_000,
            keep_going: false,
        }
    }
}

/// Everything that happened in a run.
#[derive(Debug, Clone)]
pub struct Execution<V: Value> {
    /// Moves in order.
    pub moves: Vec<Move<V>>,
    /// All else that the machine did.
    pub events: Vec<Event<V>>,
    /// Alarms that the program raised: at most one, since it ends the run.
    pub alarms: Vec<Alarm<V>>,
    /// What was wrong.
    pub errors: Vec<Fault>,
    /// What the controller remembers at the end.
    pub registers: Registers<V>,
    /// Variables at the end.
    pub store: Store<V>,
    /// Blocks that were run.
    pub blocks: usize,
}

/// Something other than a move.
#[derive(Debug, Clone)]
pub struct Event<V> {
    /// Line of the block.
    pub line: u32,
    /// The block.
    pub span: Span,
    /// Count of moves before it.
    pub after: usize,
    /// What happened.
    pub kind: EventKind<V>,
}

/// What happened.
#[derive(Debug, Clone)]
pub enum EventKind<V> {
    /// The spindle starts or stops; with its speed in rev/min.
    Spindle(Spindle, Option<V>),
    /// Coolant.
    Coolant(Coolant),
    /// A tool is put into the spindle.
    Tool(Option<V>),
    /// Waits, in seconds.
    Dwell(V),
    /// Waits for the operator.
    Stop {
        /// M1.
        optional: bool,
        /// What the operator reads.
        text: String,
    },
    /// A message to the operator.
    Message(String),
    /// The program ends: by M2 or M30, M99 without a caller, or with its text.
    End(&'static str),
}

/// An alarm raised by the program.
#[derive(Debug, Clone)]
pub struct Alarm<V> {
    /// Line of the block.
    pub line: u32,
    /// The block.
    pub span: Span,
    /// Its number.
    pub number: V,
    /// What the operator reads.
    pub text: String,
}

/// Runs a program to its end, its alarm or its first error.
#[must_use]
pub fn execute<V: Value>(
    program: &Program,
    controller: &Controller,
    options: &RunOptions<'_>,
    number: impl Fn(f64) -> V,
) -> Execution<V> {
    let mut runner = Runner::new(program, controller, options, &number);
    if let Err(fault) = runner.begin() {
        runner.log.errors.push(fault);
        return runner.log;
    }
    while runner.advance() {}
    runner.log
}

/// The run of nothing: the state before the first block.
#[must_use]
pub fn idle<V: Value>(
    program: &Program,
    controller: &Controller,
    options: &RunOptions<'_>,
    number: impl Fn(f64) -> V,
) -> Execution<V> {
    Runner::new(program, controller, options, &number).log
}

/// The registers at power-up, with the first work offset active: what NISTIR 6556, section 3.6.1, resets to, with the controller's units.
pub fn power_up<V: Value>(controller: &Controller, position: Triple<V>, origin: Triple<V>) -> Registers<V> {
    Registers {
        motion: Some(Motion::Line),
        plane: Some(Plane::XY),
        distance: Some(Distance::Absolute),
        feed_mode: Some(FeedMode::PerMinute),
        units: Some(controller.units),
        return_level: Some(ReturnLevel::Initial),
        path_control: Some(PathControl::ExactPath),
        work: Some(1),
        length_offset: Some(false),
        compensation: Some(false),
        compensated: None,
        feed: None,
        speed: None,
        spindle: Some(Spindle::Stopped),
        mist: Some(false),
        flood: Some(false),
        overrides: Some(true),
        selected: None,
        tool: None,
        d: None,
        h: None,
        position,
        origin,
        shift: Triple::from_axes(|_| V::integer(0)),
        length: V::integer(0),
        sequence: None,
    }
}

/// A program that is running.
struct Frame<'a, V> {
    body: &'a Body,
    at: usize,
    /// Runs still to come after this one.
    repeats: u32,
    /// Local variables that each repeat begins with; `None` for a subprogram or the main program.
    arguments: Option<Vec<(u32, V)>>,
}

struct Runner<'a, V: Value> {
    controller: &'a Controller,
    options: &'a RunOptions<'a>,
    program: &'a Program,
    frames: Vec<Frame<'a, V>>,
    log: Execution<V>,
}

impl<'a, V: Value> Runner<'a, V> {
    fn new(
        program: &'a Program,
        controller: &'a Controller,
        options: &'a RunOptions<'a>,
        number: &impl Fn(f64) -> V,
    ) -> Self {
        let store = Store::new(controller, options, number);
        let origin = store.work_origin(controller);
        let home = |axis| V::number(*controller.home.along(axis)).subtract(origin.along(axis));
        let position = match options.start {
            Some([x, y, z]) => Triple::new(number(x), number(y), number(z)),
            None => Triple::from_axes(home),
        };
        let mut log = Execution {
            moves: Vec::new(),
            events: Vec::new(),
            alarms: Vec::new(),
            errors: Vec::new(),
            registers: power_up(controller, position, origin),
            store,
            blocks: 0,
        };
        if options.called {
            log.registers.length_offset = Some(true);
            log.registers.spindle = Some(Spindle::Clockwise);
        }
        Self { controller, options, program, frames: Vec::new(), log }
    }

    /// Sets the variables and starts the first program.
    fn begin(&mut self) -> Result<(), Fault> {
        for setting in &self.options.set {
            let effects = self.effects_of(&setting.0)?;
            for effect in effects {
                if let Effect::Set { variable, value } = effect {
                    self.log.store.write(variable, value);
                }
            }
        }
        for request in &self.options.before {
            let step =
                step(&request.0, &self.log.registers, self.controller, &self.log.store).map_err(stopped)?;
            self.log.registers = step.registers;
            self.apply_all(step.effects, &request.0);
        }
        match &self.options.call {
            None => self.enter_main(),
            Some(request) => {
                for effect in self.effects_of(&request.0)? {
                    if let Effect::Call(call) = effect {
                        self.call(&call)?;
                    }
                }
            }
        }
        Ok(())
    }

    fn enter_main(&mut self) {
        if let Some(body) = self.program.bodies.first() {
            self.frames.push(Frame { body, at: 0, repeats: 0, arguments: None });
        }
    }

    fn effects_of(&self, block: &Block) -> Result<Vec<Effect<V>>, Fault> {
        match step(block, &self.log.registers, self.controller, &self.log.store) {
            Ok(step) => Ok(step.effects),
            Err(stop) => Err(stopped(stop)),
        }
    }

    /// Runs one block; false when the run is over.
    fn advance(&mut self) -> bool {
        let Some(frame) = self.frames.last_mut() else { return false };
        let Some(block) = frame.body.blocks.get(frame.at) else { return self.text_ends() };
        frame.at += 1;
        if block.skip && self.options.skip {
            return true;
        }
        self.log.blocks += 1;
        if self.log.blocks > self.options.budget {
            self.log.errors.push(endless(block, self.options.budget));
            return false;
        }
        match step(block, &self.log.registers, self.controller, &self.log.store) {
            Ok(step) => {
                self.log.registers = step.registers;
                self.apply_all(step.effects, block)
            }
            Err(stop) => {
                self.log.errors.push(stopped(stop));
                false
            }
        }
    }

    /// The text of a program ends without M99, M2 or M30.
    fn text_ends(&mut self) -> bool {
        let Some(frame) = self.frames.pop() else { return false };
        let last = frame.body.blocks.last().map_or(frame.body.span, |b| b.span);
        if frame.arguments.is_some() || !self.frames.is_empty() {
            let fault = Fault::new(errors::FILE_END, last, "a called program ends without M99")
                .hint("end it with M99, so that the caller goes on");
            self.log.errors.push(fault);
            return false;
        }
        let line = frame.body.blocks.last().map_or(1, |b| b.line);
        self.log.event(line, last, EventKind::End("end of the text"));
        false
    }

    fn apply_all(&mut self, effects: Vec<Effect<V>>, block: &Block) -> bool {
        for effect in effects {
            match self.apply(effect, block) {
                Ok(true) => {}
                Ok(false) => return false,
                Err(fault) => {
                    let go_on = self.options.keep_going && fault.recoverable();
                    self.log.errors.push(fault);
                    if !go_on {
                        return false;
                    }
                }
            }
        }
        true
    }

    /// Lets one effect happen; false ends the run.
    fn apply(&mut self, effect: Effect<V>, block: &Block) -> Result<bool, Fault> {
        let event = match effect {
            Effect::Require { condition, fault } => return require::<V>(&condition, fault, block),
            Effect::When { condition, effects } => return self.when(&condition, effects, block),
            Effect::Move(step) => {
                self.log.moves.push(*step);
                return Ok(true);
            }
            Effect::Set { variable, value } => {
                self.log.store.write(variable, value);
                return Ok(true);
            }
            Effect::Jump(target) => return self.jump(target).map(|()| true),
            Effect::Call(call) => return self.call(&call).map(|()| true),
            Effect::Return(to) => return self.give_back(to, block),
            Effect::Alarm { number, text } => {
                self.log.alarms.push(Alarm { line: block.line, span: block.span, number, text });
                return Ok(false);
            }
            Effect::Select(_) => return Ok(true),
            Effect::Speed(speed) => match self.log.registers.spindle {
                Some(turning @ (Spindle::Clockwise | Spindle::Counterclockwise)) if !starts(block) => {
                    EventKind::Spindle(turning, Some(speed))
                }
                _ => return Ok(true),
            },
            Effect::Message(text) => EventKind::Message(text),
            Effect::Dwell(seconds) => EventKind::Dwell(seconds),
            Effect::Spindle(spindle) => EventKind::Spindle(spindle, self.log.registers.speed.clone()),
            Effect::Coolant(coolant) => EventKind::Coolant(coolant),
            Effect::ToolChange(tool) => EventKind::Tool(tool),
            Effect::Pause { optional, text } => EventKind::Stop { optional, text },
            Effect::End => {
                self.log.event(block.line, block.span, EventKind::End("program end"));
                return Ok(false);
            }
        };
        self.log.event(block.line, block.span, event);
        Ok(true)
    }

    fn when(
        &mut self,
        condition: &V::Condition,
        effects: Vec<Effect<V>>,
        block: &Block,
    ) -> Result<bool, Fault> {
        match condition.truth() {
            Truth::True => Ok(self.apply_all(effects, block)),
            Truth::False => Ok(true),
            Truth::Unknown => Err(undecided(block.span)),
        }
    }

    fn jump(&mut self, target: Target) -> Result<(), Fault> {
        let Some(frame) = self.frames.last_mut() else { return Ok(()) };
        frame.at = match target {
            Target::Block(index) => index,
            Target::Sequence { number, span } => frame.body.find_sequence(number, span)?,
        };
        Ok(())
    }

    fn call(&mut self, call: &Call<V>) -> Result<(), Fault> {
        if self.frames.len() > self.controller.call_depth {
            let message = format!("more than {} calls in one another", self.controller.call_depth);
            return Err(Fault::new(errors::CALLS_TOO_DEEP, call.span, message)
                .hint("controllers allow few; does a program call itself?"));
        }
        let body = self.find_program(call)?;
        if call.repeats == 0 {
            return Ok(());
        }
        if let Some(arguments) = &call.arguments {
            self.log.store.enter(arguments);
        }
        self.frames.push(Frame { body, at: 0, repeats: call.repeats - 1, arguments: call.arguments.clone() });
        Ok(())
    }

    fn find_program(&self, call: &Call<V>) -> Result<&'a Body, Fault> {
        let all = std::iter::once(self.program).chain(self.options.with.iter().copied());
        if let Some(body) = all.flat_map(|p| &p.bodies).find(|b| b.number == Some(call.program)) {
            return Ok(body);
        }
        // A macro in a file without O number takes its number from the call.
        match self.program.bodies.as_slice() {
            [body] if body.number.is_none() && self.frames.is_empty() => Ok(body),
            _ => Err(Fault::new(
                errors::NO_SUCH_PROGRAM,
                call.span,
                format!("there is no program O{}", call.program),
            )
            .hint("give its file too, or check the number after P")),
        }
    }

    /// M99: the next repeat, or back to the caller.
    fn give_back(&mut self, to: Option<u32>, block: &Block) -> Result<bool, Fault> {
        let Some(mut frame) = self.frames.pop() else { return Ok(false) };
        if let Some(arguments) = &frame.arguments {
            self.log.store.leave();
            if frame.repeats > 0 {
                self.log.store.enter(arguments);
            }
        }
        if frame.repeats > 0 {
            frame.repeats -= 1;
            frame.at = 0;
            self.frames.push(frame);
            return Ok(true);
        }
        let Some(caller) = self.frames.last_mut() else {
            self.log.event(block.line, block.span, EventKind::End("return to the caller"));
            return Ok(false);
        };
        if let Some(number) = to {
            caller.at = caller.body.find_sequence(number, block.span)?;
        }
        Ok(true)
    }
}

impl<V: Value> Execution<V> {
    fn event(&mut self, line: u32, span: Span, kind: EventKind<V>) {
        let after = self.moves.len();
        self.events.push(Event { line, span, after, kind });
    }
}

impl Body {
    /// Index of the block with a sequence number.
    ///
    /// # Errors
    /// When there is none, or more than one.
    pub fn find_sequence(&self, number: u32, span: Span) -> Result<usize, Fault> {
        let mut found =
            self.blocks.iter().enumerate().filter(|(_, b)| b.sequence.is_some_and(|s| s.number == number));
        match (found.next(), found.next()) {
            (Some((index, _)), None) => Ok(index),
            (None, _) => Err(Fault::new(
                errors::NO_SUCH_BLOCK,
                span,
                format!("there is no block N{number} in this program"),
            )
            .hint("a jump stays in its own program; check the number")),
            (Some(_), Some((_, second))) => {
                let fault =
                    Fault::new(errors::NO_SUCH_BLOCK, span, format!("there are several blocks N{number}"))
                        .hint("give each block that is jumped to a number of its own");
                Err(fault.label(second.span, "one of them"))
            }
        }
    }
}

/// The block itself starts or stops the spindle, so that a change of speed needs no event of its own.
fn starts(block: &Block) -> bool {
    let crate::text::Content::Items(items) = &block.content else { return false };
    items
        .words
        .iter()
        .filter(|w| w.letter == 'M')
        .filter_map(|w| w.value.literal())
        .any(|n| [3.0, 4.0, 5.0].iter().any(|code: &f64| (n.float - code).abs() < 0.5))
}

fn require<V: Value>(condition: &V::Condition, fault: Fault, block: &Block) -> Result<bool, Fault> {
    match condition.truth() {
        Truth::True => Ok(true),
        Truth::False => Err(fault),
        Truth::Unknown => Err(undecided(block.span)),
    }
}

fn stopped<V: Value>(stop: Stop<V>) -> Fault {
    match stop {
        Stop::Fault(fault) => fault,
        Stop::Undecided { span, .. } => undecided(span),
    }
}

fn undecided(span: Span) -> Fault {
    Fault::new(errors::UNDECIDED, span, "the numbers are not known well enough to tell what happens here")
        .hint("a comparison is too close: give exact values")
}

fn endless(block: &Block, budget: usize) -> Fault {
    Fault::new(errors::ENDLESS_LOOP, block.span, format!("the program did not end within {budget} blocks"))
        .hint("look for a loop whose condition never becomes false")
}
