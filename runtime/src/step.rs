//! Step: from one block and what the controller remembers to what the block does.
//!
//! A step is a function: it changes nothing and never branches by itself. It returns effects in the order in which
//! the controller acts (NISTIR 6556, Table 8) and the registers after the block; whoever runs it applies them. The
//! numbers are of any kind ([`Value`]); where the meaning of a block hangs on a question that this kind of number
//! leaves open, the step says so ([`Stop::Undecided`]) and may be repeated with the question answered.

mod arc;
mod assign;
mod compensation;
mod evaluate;
mod flow;
mod modes;
mod motion;
mod words;

use borewright_base::Span;

use crate::controller::Controller;
use crate::errors::{self, Fault};
use crate::state::{Axis, Coolant, Motion, Plane, Registers, Spindle, Triple, Units};
use crate::text::{Block, Content, Number, Relation};
use crate::value::{Condition, Truth, Value};

pub use evaluate::Operand;

/// Where variables, tool lengths and the home position live.
pub trait Memory<V: Value> {
    /// The value of a variable that is no system variable: `None` when it is vacant.
    ///
    /// # Errors
    /// When it is not known whether it is vacant.
    fn read(&self, variable: u32) -> Result<Option<V>, Stop<V>>;

    /// Length of a tool by its H number, in the controller's power-up units; 0 when nobody said.
    ///
    /// # Errors
    /// When the number is not known well enough.
    fn tool_length(&self, h: &V) -> Result<V, Stop<V>>;

    /// What the controller keeps as the cutter offset of a D number, in its power-up units; 0 when nobody said.
    ///
    /// # Errors
    /// When it is not known well enough.
    fn cutter_offset(&self, d: &V) -> Result<V, Stop<V>>;

    /// Home position (G28) along an axis, in machine coordinates and power-up units.
    fn home(&self, axis: Axis) -> V;
}

/// Why a block has no step.
#[derive(Debug, Clone)]
pub enum Stop<V: Value> {
    /// Something is wrong.
    Fault(Fault),
    /// What the block means hangs on this.
    Undecided {
        /// The open question.
        condition: V::Condition,
        /// Where it arises.
        span: Span,
    },
}

impl<V: Value> From<Fault> for Stop<V> {
    fn from(fault: Fault) -> Self {
        Self::Fault(fault)
    }
}

/// What a block does.
#[derive(Debug, Clone)]
pub struct Step<V: Value> {
    /// In the order in which they happen.
    pub effects: Vec<Effect<V>>,
    /// What the controller remembers after it.
    pub registers: Registers<V>,
}

/// One thing that a block does.
#[derive(Debug, Clone)]
pub enum Effect<V: Value> {
    /// Must hold, or the run ends with this fault. Comes before what relies on it.
    Require {
        /// What must hold.
        condition: V::Condition,
        /// What is wrong otherwise.
        fault: Fault,
    },
    /// Shows a message to the operator.
    Message(String),
    /// The cutter moves.
    Move(Box<Move<V>>),
    /// Waits, in seconds.
    Dwell(V),
    /// Starts or stops the spindle; the speed is in the registers.
    Spindle(Spindle),
    /// Sets the speed in rev/min.
    Speed(V),
    /// Switches coolant.
    Coolant(Coolant),
    /// Calls a tool to the changer.
    Select(V),
    /// Puts the called tool into the spindle.
    ToolChange(Option<V>),
    /// Gives a variable a value; `None` makes it vacant.
    Set {
        /// Its number.
        variable: u32,
        /// Its value.
        value: Option<V>,
    },
    /// The effects happen only if the condition holds.
    When {
        /// The condition.
        condition: V::Condition,
        /// What happens then.
        effects: Vec<Effect<V>>,
    },
    /// The program goes on elsewhere.
    Jump(Target),
    /// Runs another program.
    Call(Call<V>),
    /// The program returns to its caller, to a sequence number there if one is given.
    Return(Option<u32>),
    /// The run ends with an alarm.
    Alarm {
        /// Its number.
        number: V,
        /// What the operator reads.
        text: String,
    },
    /// The program waits for the operator.
    Pause {
        /// M1: only if the operator wants it.
        optional: bool,
        /// What the operator reads.
        text: String,
    },
    /// The program ends.
    End,
}

/// Where a program goes on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Target {
    /// The block with this N number, in the same program.
    Sequence {
        /// The number.
        number: u32,
        /// Where it is asked for.
        span: Span,
    },
    /// The block with this index.
    Block(usize),
}

/// A call of another program.
#[derive(Debug, Clone)]
pub struct Call<V> {
    /// Its O number.
    pub program: u32,
    /// How often it runs.
    pub repeats: u32,
    /// Local variables of a macro call (G65); `None` for a subprogram (M98), which shares its caller's.
    pub arguments: Option<Vec<(u32, V)>>,
    /// Where it is called.
    pub span: Span,
}

/// One move of the cutter.
#[derive(Debug, Clone)]
pub struct Move<V: Value> {
    /// Line of the block.
    pub line: u32,
    /// The block.
    pub span: Span,
    /// Rapid, line or arc.
    pub path: Path<V>,
    /// Start, in the coordinates of the program.
    pub from: Triple<V>,
    /// End.
    pub to: Triple<V>,
    /// Units of both.
    pub units: Units,
    /// Feed; `None` for rapid moves, and where the program gave none.
    pub feed: Option<Feed<V>>,
    /// What held during the move.
    pub during: During,
}

/// What held during a move.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct During {
    /// The spindle; `None` when the program did not say.
    pub spindle: Option<Spindle>,
    /// A tool length offset is active.
    pub length_offset: Option<bool>,
    /// Positions were incremental.
    pub incremental: bool,
    /// The target was in machine coordinates (G53, G28).
    pub machine_coordinates: bool,
}

/// The way from start to end.
#[derive(Debug, Clone)]
pub enum Path<V: Value> {
    /// As fast as the axes go, not always straight.
    Rapid,
    /// Straight.
    Line,
    /// A circular arc or a helix.
    Arc(Arc<V>),
}

/// A circular arc; with a way along the normal axis, a helix.
#[derive(Debug, Clone)]
pub struct Arc<V: Value> {
    /// Its centre, at the height of the start.
    pub centre: Triple<V>,
    /// Its plane.
    pub plane: Plane,
    /// Counterclockwise, seen from the positive end of the normal axis.
    pub counterclockwise: bool,
    /// Start and end coincide in the plane: a full circle.
    pub full: V::Condition,
}

/// A feed.
#[derive(Debug, Clone)]
pub enum Feed<V> {
    /// Length a minute, along the path.
    PerMinute(V),
    /// Turns of the whole move a minute: 2 means half a minute.
    InverseTime(V),
}

/// What a step needs beside the block.
pub(crate) struct Stepper<'a, V: Value> {
    block: &'a Block,
    controller: &'a Controller,
    memory: &'a dyn Memory<V>,
    before: &'a Registers<V>,
    now: Registers<V>,
    effects: Vec<Effect<V>>,
}

type Outcome<V, T = ()> = Result<T, Stop<V>>;

/// Runs one block on paper.
///
/// # Errors
/// When the block is wrong, or its meaning hangs on an open question.
pub fn step<V: Value>(
    block: &Block,
    before: &Registers<V>,
    controller: &Controller,
    memory: &dyn Memory<V>,
) -> Result<Step<V>, Stop<V>> {
    let now = before.clone();
    let mut stepper = Stepper { block, controller, memory, before, now, effects: Vec::new() };
    if let Some(sequence) = block.sequence {
        stepper.now.sequence = Some(sequence.number);
    }
    stepper.messages();
    match &block.content {
        Content::Items(items) => stepper.items(items)?,
        Content::If { condition, then } => stepper.if_statement(condition, then)?,
        Content::While { condition, end, .. } => stepper.while_statement(condition, *end)?,
        Content::End { start, .. } => stepper.effects.push(Effect::Jump(Target::Block(*start))),
        Content::Goto(number) => stepper.goto(number)?,
        Content::Unreadable => return Err(unreadable(block).into()),
    }
    Ok(Step { effects: stepper.effects, registers: stepper.now })
}

fn unreadable(block: &Block) -> Fault {
    Fault::new(errors::UNREADABLE_BLOCK, block.span, "the run reached a block that could not be read")
        .hint("mend the error reported for this line first")
}

impl<V: Value> Stepper<'_, V> {
    /// Refuses the block if the condition does not hold; keeps it as a requirement if that is not known.
    fn need(&mut self, condition: V::Condition, fault: impl FnOnce() -> Fault) -> Outcome<V> {
        match condition.truth() {
            Truth::True => Ok(()),
            Truth::False => Err(fault().into()),
            Truth::Unknown => {
                self.effects.push(Effect::Require { condition, fault: fault() });
                Ok(())
            }
        }
    }

    /// Like [`Self::need`], but whoever runs the step may choose to go on.
    fn expect(&mut self, condition: V::Condition, fault: impl FnOnce() -> Fault) {
        if condition.truth() != Truth::True {
            self.effects.push(Effect::Require { condition, fault: fault() });
        }
    }

    /// `yes` or `no`, or the open question.
    fn select(&self, condition: &V::Condition, yes: &V, no: &V, span: Span) -> Outcome<V, V> {
        V::choose(condition, yes, no).ok_or_else(|| Stop::Undecided { condition: condition.clone(), span })
    }

    /// Refuses numbers that the controller has no room for.
    fn within_greatest(&mut self, value: &V, span: Span) -> Outcome<V> {
        self.within(self.controller.greatest, value, span)
    }

    fn within(&mut self, greatest: Option<Number>, value: &V, span: Span) -> Outcome<V> {
        let Some(greatest) = greatest else { return Ok(()) };
        let fit = value.abs().compare(Relation::LessOrEqual, &V::number(greatest));
        self.need(fit, || {
            let message = format!("a number beyond {}, the greatest on this controller", greatest.text());
            Fault::new(errors::OUTSIDE_DOMAIN, span, message)
                .hint("look at the values of the variables in it")
        })
    }

    fn messages(&mut self) {
        let mut messages = self.block.comments.iter().filter(|c| c.message);
        self.effects.extend(messages.next_back().map(|c| Effect::Message(c.text.clone())));
    }

    /// What the last comment says, for alarms and stops.
    fn comment(&self) -> String {
        self.block.comments.last().map(|c| c.text.clone()).unwrap_or_default()
    }

    fn units(&self) -> Result<Units, Fault> {
        self.now.units.ok_or_else(|| self.unknown_mode("units", "G20 or G21"))
    }

    fn unknown_mode(&self, mode: &str, codes: &str) -> Fault {
        let message = format!("this block relies on the {mode} that somebody else left active");
        Fault::new(errors::MODE_UNKNOWN, self.block.span, message).hint(format!("program {codes} before it"))
    }

    fn motion_mode(&self) -> Result<Motion, Fault> {
        self.now.motion.ok_or_else(|| self.unknown_mode("motion mode", "G0, G1, G2 or G3"))
    }
}
