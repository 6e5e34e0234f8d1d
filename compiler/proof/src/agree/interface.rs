//! How a text and its motion speak of the same things.

use std::collections::{BTreeMap, BTreeSet};

use borewright_base::Span;
use borewright_machine::Machine;
use borewright_motion::{Expr, Motion, Parameter, Requirement, Symbol};
use borewright_number::{Dimension, Rational};

/// What stands for what in a text.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Interface {
    /// The routine or job that the text is of: the place of its name.
    pub of: Span,
    /// The variable that each parameter comes in.
    pub variables: BTreeMap<Symbol, u32>,
    /// The variables that the place of the routine comes in, where it can be given.
    pub centre: Option<[u32; 2]>,
    /// The text is called with arguments; else it stands for one set of values.
    pub called: bool,
    /// The values that a text stands for, in base units; the others have their defaults.
    pub values: BTreeMap<Symbol, Rational>,
    /// How far from the work zero the place may be, in the units of the text.
    pub reach: Option<[Rational; 2]>,
    /// The alarms of the text in the order of its guards, each with its number and the parameter or requirement
    /// that it speaks of.
    pub alarms: Vec<(u32, Option<Span>)>,
    /// For a subprogram of a job: the height to which it retracts, one more parameter.
    pub travel: Option<Parameter>,
    /// What it demands of that height, beyond the requirements of its motion.
    pub demanded: Vec<Requirement>,
    /// Requirements as the text has them, where a number of theirs is rounded to the decimals of the text so that less
    /// is let in. They say which sizes a text may refuse besides; what it must refuse is what its motion does.
    pub narrowed: Vec<Requirement>,
    /// Parameters that name the row of a table and come as the number in it, whatever the unit of the text is.
    pub rows: BTreeSet<Symbol>,
    /// The cutters of a job whose diameter the operator may correct.
    pub wear: Vec<Wear>,
    /// How far the numbers of the text may be from the exact ones.
    pub tolerance: Tolerance,
}

/// A cutter that the operator may correct at the control: its diameter is the nominal one and what is kept for it.
#[derive(Debug, Clone, PartialEq)]
pub struct Wear {
    /// Its place in the job's list.
    pub tool: usize,
    /// Where the job names it.
    pub span: Span,
    /// The variable in which the operator keeps it.
    pub variable: u32,
    /// It is kept as a radius: half of what the diameter is corrected by.
    pub radius: bool,
    /// The most by which the diameter may be corrected, either way, in base units.
    pub greatest: Rational,
}

impl Wear {
    /// The name of what the diameter is corrected by: no source can hold a name with blanks.
    pub(super) fn symbol(&self) -> Symbol {
        Symbol::new(format!("wear of cutter {}", self.tool))
    }

    /// As the variable holds it.
    fn kept(&self, machine: &Machine) -> Expr {
        let length = in_text(&Expr::symbol(&self.symbol()), Dimension::LENGTH, machine);
        if self.radius { length / Expr::from(2) } else { length }
    }
}

/// Differences that rounding to decimals may bring, in base units. All are 0 for a text that computes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tolerance {
    /// Of an end, along one axis.
    pub end: Rational,
    /// Of the centre of an arc, along one axis.
    pub centre: Rational,
    /// Of a feed.
    pub feed: Rational,
    /// Of a speed.
    pub speed: Rational,
    /// Of a dwell, which may be longer and never shorter.
    pub dwell: Rational,
    /// By this much a guard may let in what lies outside its limit, or keep out what lies inside.
    pub guard: Rational,
    /// By this part a step of passes may be longer than asked, for each counter of passes; no longer where it is
    /// not listed.
    pub counts: BTreeMap<Symbol, Rational>,
    /// By this part what a text rounds up to a whole number may exceed it; `None` where it rounds up just what its
    /// motion does.
    pub rounded_up: Option<Rational>,
}

impl Default for Tolerance {
    fn default() -> Self {
        let none = || Rational::ZERO;
        Self {
            end: none(),
            centre: none(),
            feed: none(),
            speed: none(),
            dwell: none(),
            guard: none(),
            counts: BTreeMap::new(),
            rounded_up: None,
        }
    }
}

/// An argument as the text sees it.
#[derive(Debug, Clone, PartialEq)]
pub struct Given {
    /// Its value, in the units of the text.
    pub value: Expr,
    /// The name that is 0 where it is vacant.
    pub given: Symbol,
}

impl Interface {
    /// What the variable of a parameter measures in the text.
    pub(super) fn measured(&self, parameter: &Parameter) -> Dimension {
        if self.rows.contains(&parameter.symbol) { Dimension::RATIO } else { parameter.dimension }
    }

    /// The arguments of a called text by variable.
    #[must_use]
    pub fn arguments(&self, motion: &Motion, machine: &Machine) -> BTreeMap<u32, Given> {
        let mut arguments = BTreeMap::new();
        let own = |t: &&Parameter| !motion.parameters.iter().any(|p| p.symbol == t.symbol);
        for parameter in motion.parameters.iter().chain(self.travel.iter().filter(own)) {
            let Some(variable) = self.variables.get(&parameter.symbol) else { continue };
            let value = in_text(&supplied(parameter), self.measured(parameter), machine);
            arguments.insert(*variable, Given { value, given: given(&parameter.symbol) });
        }
        for worn in &self.wear {
            let given = given(&worn.symbol());
            arguments.insert(worn.variable, Given { value: worn.kept(machine), given });
        }
        for (symbol, variable) in centre().into_iter().zip(self.centre.into_iter().flatten()) {
            let value = in_text(&argument(&symbol), Dimension::LENGTH, machine);
            arguments.insert(variable, Given { value, given: given(&symbol) });
        }
        arguments
    }
}

/// The names of the place of a routine: words of no language.
pub(super) fn centre() -> [Symbol; 2] {
    [Symbol::new("centre.x"), Symbol::new("centre.y")]
}

/// The name that is 0 where an argument is vacant.
pub(super) fn given(symbol: &Symbol) -> Symbol {
    Symbol::new(format!("{symbol}.given"))
}

/// The name of what is supplied for an argument that may be left out.
pub(super) fn argument(symbol: &Symbol) -> Expr {
    Expr::named(&format!("{symbol}.argument"))
}

/// What is supplied for a parameter: itself, where it has to be.
pub(super) fn supplied(parameter: &Parameter) -> Expr {
    match parameter.default {
        None => Expr::symbol(&parameter.symbol),
        Some(_) => argument(&parameter.symbol),
    }
}

/// A value in base units, as the text has it.
pub(super) fn in_text(value: &Expr, dimension: Dimension, machine: &Machine) -> Expr {
    value.clone() / Expr::number(scale(dimension, machine))
}

/// The decimals of an argument that measures this.
pub(super) fn decimals(dimension: Dimension, machine: &Machine) -> u32 {
    match dimension {
        Dimension::LENGTH => machine.numbers.decimals,
        Dimension::ANGLE => machine.numbers.angle_decimals,
        Dimension::FEED => machine.numbers.feed_decimals,
        _ => 6,
    }
}

/// How many base units a unit of the text is.
pub(super) fn scale(dimension: Dimension, machine: &Machine) -> Rational {
    let power = usize::from(dimension.length.unsigned_abs());
    let unit = machine.unit().pow(power);
    if dimension.length < 0 { unit.recip().unwrap_or(Rational::ONE) } else { unit }
}
