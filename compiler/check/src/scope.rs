//! The names that are visible at a place in a routine.

use std::collections::BTreeMap;

use borewright_base::Span;
use borewright_number::Rational;

use crate::typed::{Local, Tool};
use crate::value::Value;

/// What a name was introduced as; decides how an unused one is spoken of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Origin {
    Parameter,
    Let,
    LoopValue,
    Tool,
}

impl Origin {
    pub(crate) fn name(self) -> &'static str {
        match self {
            Self::Parameter => "parameter",
            Self::Let => "let",
            Self::LoopValue => "loop value",
            Self::Tool => "cutter",
        }
    }
}

#[derive(Debug, Clone)]
pub(crate) struct Binding {
    pub(crate) name: String,
    pub(crate) span: Span,
    pub(crate) origin: Origin,
    pub(crate) value: Value,
    pub(crate) used: bool,
}

/// Where expressions are being understood: the names in scope, and what kind of text surrounds them.
#[derive(Debug, Clone, Default)]
pub(crate) struct Scope {
    /// The file whose top-level names are visible.
    pub(crate) module: usize,
    /// Innermost last.
    pub(crate) bindings: Vec<Binding>,
    /// How often a name has been introduced in this routine: a second `level` is called `level.2`.
    introduced: BTreeMap<String, usize>,
    /// The greatest value of each parameter that is a quantity.
    ranges: BTreeMap<Local, Rational>,
    /// The names that have gone without being used.
    pub(crate) unused: Vec<(Origin, String, Span)>,
    /// How many errors there had been where this scope began.
    pub(crate) errors_before: usize,
    /// Whether this is a job.
    pub(crate) is_job: bool,
    /// The cutter in the spindle, inside `with`.
    pub(crate) with: Option<usize>,
    /// A job's tool list so far.
    pub(crate) tools: Vec<Tool>,
    /// Length and feed literals seen so far: in inches, and metric.
    pub(crate) literals: (usize, usize),
}

impl Scope {
    pub(crate) fn new(module: usize) -> Self {
        Self { module, ..Self::default() }
    }

    pub(crate) fn find(&self, name: &str) -> Option<&Binding> {
        self.bindings.iter().rev().find(|b| b.name == name)
    }

    /// The value of a name, which counts as a use of it.
    pub(crate) fn look_up(&mut self, name: &str) -> Option<Value> {
        let binding = self.bindings.iter_mut().rev().find(|b| b.name == name)?;
        binding.used = true;
        Some(binding.value.clone())
    }

    /// A name for a new value, different from all others of the routine.
    pub(crate) fn fresh(&mut self, name: &str) -> Local {
        let times = self.introduced.entry(name.to_owned()).or_insert(0);
        *times += 1;
        if *times == 1 { Local::from(name) } else { Local::from(format!("{name}.{times}")) }
    }

    pub(crate) fn bind(&mut self, name: &str, span: Span, origin: Origin, value: Value) {
        self.bindings.push(Binding { name: name.to_owned(), span, origin, value, used: false });
    }

    /// Leaves a block: the names from `mark` on go.
    pub(crate) fn leave(&mut self, mark: usize) {
        let gone = self.bindings.split_off(mark.min(self.bindings.len()));
        self.unused.extend(gone.into_iter().filter(|b| !b.used).map(|b| (b.origin, b.name, b.span)));
    }

    pub(crate) fn set_greatest(&mut self, name: &Local, value: Rational) {
        self.ranges.insert(name.clone(), value);
    }

    /// The greatest value of a parameter.
    pub(crate) fn greatest(&self, name: &Local) -> Option<Rational> {
        self.ranges.get(name).cloned()
    }
}
