//! One thing that must hold, and why.

use borewright_base::Span;

use crate::{Formula, Kind};

/// One formula that must hold, with what a person needs to know about it.
#[derive(Debug, Clone, PartialEq)]
pub struct Obligation {
    /// Stable name: `finish_bore/within/seat/arc-2`.
    pub id: String,
    /// The routine or job.
    pub routine: String,
    /// The promise it is part of; `None` for what always must hold.
    pub promise: Option<String>,
    /// What kind of thing must hold.
    pub kind: Kind,
    /// What must hold here, in words.
    pub why: String,
    /// Where it arises.
    pub span: Span,
    /// The written line it serves: a promise, a demand, a parameter.
    pub because: Option<Span>,
    /// What must hold, exactly.
    pub formula: Formula,
    /// Stronger formulas, easier to prove: any of them proved settles the matter; refuting one means nothing.
    pub easier: Vec<Formula>,
    /// Where the formula is only sufficient: how the matter is decided at concrete values.
    pub check: Option<ConcreteCheck>,
}

/// How a matter is decided at concrete values, by running the motion.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum ConcreteCheck {
    /// Some point of the feature is never swept.
    Standing,
    /// The wall is not touched all round, down to the floor.
    Undersize,
    /// A rapid move meets metal.
    RapidInMetal,
    /// A straight plunge meets metal.
    PlungeInMetal,
    /// A cut is deeper than the flutes.
    DeepCut,
    /// A move forms the chip on the wrong side.
    WrongSide,
    /// A tooth bites beside the thread.
    OffLead,
    /// A turn of the thread is not cut whole.
    ThreadShort,
}
