//! What a controller text does, told in the terms of the motion: what lifting gives and agreement compares.
//!
//! A text has several courses: one for each way from its first block to an end, under conditions on its
//! symbols. Lengths are in mm and coordinates in those of the program, whatever units the text is in.

use std::collections::BTreeSet;
use std::sync::Arc;

use borewright_base::Span;

use crate::{Condition, Expr, Symbol};

/// A controller text with everything it can do. What is written to a file is [`Lifted::text`]: the very text
/// that was lifted.
#[derive(Debug, Clone, PartialEq)]
pub struct Lifted {
    /// The text.
    pub text: String,
    /// Texts of the programs that it calls.
    pub others: Vec<String>,
    /// Its courses; together they cover all values of the symbols and all modes at entry.
    pub courses: Vec<Course>,
    /// Names for values that hang on a condition; later ones may use earlier ones.
    pub joined: Vec<Joined>,
    /// What the controller needs to go on: divisors that are not 0, numbers that it has room for.
    pub needs: Vec<Need>,
}

/// One way through a text.
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    /// The modes at entry for which it is taken.
    pub entry: Entry,
    /// What the conditions on the way say, in order.
    pub facts: Vec<Condition>,
    /// What the machine does.
    pub acts: Vec<Act>,
    /// How it ends.
    pub end: Ending,
    /// The block it ends with.
    pub span: Span,
    /// Names of the modes that are not what they were at entry.
    pub changed: BTreeSet<&'static str>,
    /// Variables beside its own that it writes.
    pub written: BTreeSet<u32>,
    /// What holds at its end.
    pub state: Arc<State>,
}

/// Modes at entry; `None` where the text cannot ask.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Entry {
    /// The units are inches.
    pub inch: Option<bool>,
    /// Cutter radius compensation is on.
    pub compensation: Option<bool>,
    /// The tool length offset is on.
    pub length: Option<bool>,
    /// The plane of arcs: 0 XY, 1 XZ, 2 YZ.
    pub plane: Option<u8>,
    /// Positions are incremental.
    pub incremental: Option<bool>,
    /// Feeds are by inverse time.
    pub inverse_time: Option<bool>,
}

/// How a course ends.
#[derive(Debug, Clone, PartialEq)]
pub enum Ending {
    /// With an alarm that the text raises.
    Alarm {
        /// Its number.
        number: Expr,
        /// What the operator reads.
        text: String,
    },
    /// Back to the caller.
    Return,
    /// With the end of the program.
    End,
}

/// One thing that the machine does.
#[derive(Debug, Clone, PartialEq)]
pub struct Act {
    /// What.
    pub kind: ActKind,
    /// The block, or the step of a motion, that says so.
    pub span: Span,
    /// What holds meanwhile.
    pub state: Arc<State>,
}

/// What holds besides the position.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct State {
    /// The spindle turns: counterclockwise, and its speed in rev/min. `None`: not known.
    pub spindle: Option<Spindle>,
    /// Mist and flood; `None`: not known.
    pub coolant: (Option<bool>, Option<bool>),
    /// The tool in the spindle, by the number in the changer.
    pub tool: Option<Expr>,
    /// The number of the length offset that is on.
    pub length: Option<Expr>,
    /// The work offset, from 1.
    pub work: Option<u8>,
    /// Something was computed, or a way chosen, since the act before.
    pub computed: bool,
    /// The tool length offset is known to be off.
    pub bare: bool,
    /// Cutter radius compensation is on; `None`: not known.
    pub compensation: Option<bool>,
    /// The zero of the program is not where the work offset alone puts it.
    pub shifted: bool,
}

/// What the spindle does.
#[derive(Debug, Clone, PartialEq)]
pub enum Spindle {
    /// It stands.
    Stopped,
    /// It turns.
    Turning {
        /// Seen from above.
        counterclockwise: bool,
        /// rev/min.
        speed: Option<Expr>,
    },
}

/// A place in space.
pub type Place = [Expr; 3];

/// What is done.
#[derive(Debug, Clone, PartialEq)]
pub enum ActKind {
    /// Z goes to the machine's home at rapid.
    Home,
    /// At rapid.
    Rapid {
        /// The start.
        from: Place,
        /// The end.
        to: Place,
    },
    /// Straight at feed, mm/min.
    Line {
        /// The start.
        from: Place,
        /// The end.
        to: Place,
        /// mm/min.
        feed: Option<Expr>,
    },
    /// An arc or a helix in the XY plane.
    Arc {
        /// The start.
        from: Place,
        /// The end.
        to: Place,
        /// The centre.
        centre: [Expr; 2],
        /// The way round, seen from above.
        counterclockwise: bool,
        /// When it is a full turn.
        full: Condition,
        /// mm/min.
        feed: Option<Expr>,
    },
    /// Waits, minutes.
    Dwell(Expr),
    /// Waits for the operator.
    Stop(String),
    /// `body` for every whole `index` from `first` to `last`, in order.
    Loop {
        /// The counter.
        index: Symbol,
        /// Its first value.
        first: Expr,
        /// Its last value, itself included; no turn where it is less than the first.
        last: Expr,
        /// What is done in each turn.
        body: Vec<Act>,
    },
}

/// A value that hangs on a condition, by name: `if condition then yes else no`.
#[derive(Debug, Clone, PartialEq)]
pub struct Joined {
    /// Its name.
    pub symbol: Symbol,
    /// The variable of the text in which it stands.
    pub variable: u32,
    /// On what it hangs.
    pub condition: Condition,
    /// The value where the condition holds.
    pub yes: Expr,
    /// The value where it does not.
    pub no: Expr,
}

impl Joined {
    /// The value as one expression.
    #[must_use]
    pub fn value(&self) -> Expr {
        Expr::choose(self.condition.clone(), self.yes.clone(), self.no.clone())
    }
}

/// What must hold, so that the controller goes on and does not stop with a fault of its own.
#[derive(Debug, Clone, PartialEq)]
pub struct Need {
    /// What holds there.
    pub facts: Vec<Condition>,
    /// What must hold.
    pub condition: Condition,
    /// The number of the fault's code.
    pub code: &'static str,
    /// What is wrong otherwise.
    pub message: String,
    /// The block.
    pub span: Span,
}
