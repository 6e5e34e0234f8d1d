//! A closed formula: for all values of the variables, the hypotheses imply the goal.

use std::collections::BTreeMap;

use borewright_base::Span;
use borewright_motion::{Condition, Expr, Symbol};
use borewright_number::{Dimension, Rational};

/// Which numbers a variable ranges over.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Sort {
    /// All reals.
    Real,
    /// Whole numbers.
    Whole,
}

/// One universally quantified variable.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Variable {
    /// Its name.
    pub symbol: Symbol,
    /// Reals or whole numbers.
    pub sort: Sort,
    /// What it measures, for printing (values are in mm, degree, minute).
    pub dimension: Dimension,
    /// Whether the author wrote it in inches, for printing.
    pub inch: bool,
    /// For a name that was given by `let`: the value. It stays a variable with an equation; an engine may
    /// also put the value in its place. Counterexamples show only variables without a definition.
    pub definition: Option<Expr>,
}

/// Where a hypothesis comes from: for messages, for lints on requirements that no proof needs.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum HypothesisKind {
    /// The range of a parameter.
    Range,
    /// A `requires` of the author's.
    Requirement,
    /// A demand on the cutter, or what is true of every cutter.
    Cutter,
    /// Bounds and counts of a loop.
    Loop,
    /// Where the motion stands: the branch taken, the first turn of a loop or a later one.
    Path,
    /// Follows from the others by a named lemma.
    Lemma(Lemma),
}

/// Facts that follow from other hypotheses by a lemma of the table; stated to spare the search.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Lemma {
    /// `passes` from a to b by s > 0 in n = max(1, ceil(|b - a| / s)) equal steps, turn i of 1..=n:
    /// the value a + (b - a) * i / n and the one before it lie between a and b, in order, and are at most
    /// s apart.
    Passes,
    /// The arcs of a turn of a spiral never come nearer to its centre than a distance above zero. An obligation of
    /// its own says so of every arc of every turn.
    Nearest,
}

/// One hypothesis.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Hypothesis {
    /// What is assumed.
    pub condition: Condition,
    /// Why it may be.
    pub kind: HypothesisKind,
    /// The text it stands for.
    pub span: Option<Span>,
}

/// For all `variables`: if all `hypotheses` hold, the `goal` holds.
///
/// Every divisor and root in it must be well defined under the hypotheses: the engine proves that first.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Formula {
    /// Every variable that occurs.
    pub variables: Vec<Variable>,
    /// What may be assumed, in source order: later ones may divide by what earlier ones exclude.
    pub hypotheses: Vec<Hypothesis>,
    /// What must follow.
    pub goal: Condition,
    /// Expressions whose squares are worth adding as products (squares need no trust).
    pub hints: Vec<Expr>,
}

/// Exact values of the variables that have no definition.
pub type Valuation = BTreeMap<Symbol, Rational>;

/// What the engine found.
#[derive(Debug, Clone, PartialEq)]
pub enum Answer {
    /// Holds for all values; with the positions of the hypotheses that the proof used.
    Proved {
        /// Positions in [`Formula::hypotheses`].
        used: Vec<usize>,
    },
    /// All hypotheses hold at this point and the goal fails there, decided exactly.
    Refuted(Valuation),
    /// Neither could be shown within the step budget.
    Unknown {
        /// Why, in one line.
        why: String,
    },
}
