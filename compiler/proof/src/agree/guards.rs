//! Sizes that a text admits against those that its motion admits.
//!
//! A motion refuses in order: modes, then parameters (missing, out of range, not whole) and requirements as they are
//! settled, then the place. The text must raise the alarm of the first that fails.

use std::cell::RefCell;
use std::collections::BTreeMap;

use borewright_base::Span;
use borewright_machine::Machine;
use borewright_motion::{
    Clause, Condition, Course, Entry, Expr, Function, Motion, Parameter, Relation, Requirement, Settling,
    Symbol,
};
use borewright_number::{Dimension, Rational, Rounding};

use super::interface::{Interface, Wear, centre, decimals, given, scale};

/// One reason to refuse.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Guard {
    /// What should hold, in words.
    pub(super) what: String,
    pub(super) span: Span,
    /// The number of its alarm; `None` where it shares one, or nobody said.
    pub(super) number: Option<u32>,
    /// What the author wants the operator to read.
    pub(super) alarm: Option<String>,
    pub(super) test: Test,
}

/// What a guard looks at.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Test {
    /// The modes at entry.
    Entry(Mode),
    /// The arguments: what a text may take for granted of a size that is admitted, and what it must have made
    /// sure of when it goes on. Between the two lies what its own rounding may decide.
    Size { granted: Condition, required: Condition },
}

/// A mode at entry.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Mode {
    Units,
    Compensation,
    Length,
}

impl Mode {
    /// Whether the motion may run so at all.
    fn fits(self, entry: &Entry, machine: &Machine) -> bool {
        match self {
            Self::Units => entry.inch.is_none_or(|inch| inch == machine.inch()),
            Self::Compensation => entry.compensation != Some(true),
            Self::Length => entry.length != Some(false),
        }
    }
}

impl Guard {
    /// Whether an alarm can be the one of this guard, by its number and its words.
    pub(super) fn is_named(&self, number: Option<i64>, text: &str) -> bool {
        let Some(own) = self.number.filter(|_| number.is_some()) else { return true };
        Some(i64::from(own)) == number && self.alarm.as_ref().is_none_or(|alarm| tells(text, alarm))
    }

    /// What shows that it holds.
    pub(super) fn holds(&self, course: &Course, machine: &Machine) -> Condition {
        match &self.test {
            Test::Entry(mode) => Condition::from_bool(mode.fits(&course.entry, machine)),
            Test::Size { required, .. } => required.clone(),
        }
    }

    /// What shows that it fails.
    pub(super) fn fails(&self, course: &Course, machine: &Machine) -> Condition {
        match &self.test {
            Test::Entry(mode) => Condition::from_bool(!mode.fits(&course.entry, machine)),
            Test::Size { granted, .. } => granted.negated(),
        }
    }
}

/// Whether a text tells the words of an alarm, or as many of them as there is room for. Letters that a control may
/// lack are spelled in ways that are not compared.
fn tells(text: &str, alarm: &str) -> bool {
    let letters = |t: &str| -> String {
        t.chars().filter(char::is_ascii_alphanumeric).map(|c| c.to_ascii_uppercase()).collect()
    };
    let (text, all) = (letters(text), letters(alarm));
    !alarm.is_ascii() || (all.starts_with(&text) && (!text.is_empty() || all.is_empty()))
}

/// Modes at entry with which the motion may run at all.
pub(super) fn fit(course: &Course, machine: &Machine) -> bool {
    [Mode::Units, Mode::Compensation, Mode::Length].iter().all(|mode| mode.fits(&course.entry, machine))
}

/// Every guard that the text of a motion should have, in order.
pub(super) fn guards(
    motion: &Motion,
    machine: &Machine,
    interface: &Interface,
    names: &BTreeMap<Symbol, Expr>,
) -> Vec<Guard> {
    let mut list = List { guards: Vec::new(), alarms: interface.alarms.iter().copied().map(Some).collect() };
    if !interface.called {
        interface.wear.iter().for_each(|worn| list.wear(worn));
        return list.guards;
    }
    let modes = &machine.modes;
    for (variable, mode, what) in [
        (modes.units, Mode::Units, "the right units are active"),
        (modes.compensation, Mode::Compensation, "cutter compensation is off"),
        (modes.length, Mode::Length, "the length offset is on"),
    ] {
        if variable.is_some() {
            list.add(what.to_owned(), None, motion.span, Test::Entry(mode));
        }
    }
    let slack = &interface.tolerance.guard;
    for line in motion.settled() {
        match line {
            Settling::Parameter(parameter) => list.parameter(parameter, machine, interface),
            Settling::Clause(Clause::Let(_)) => {}
            Settling::Clause(Clause::Require(r)) => {
                list.requirement(r, (slack, &narrowest(r, machine, interface)), names);
            }
        }
    }
    if interface.centre.is_some() {
        list.place(machine, interface, motion.span);
    }
    list.guards
}

struct List {
    guards: Vec<Guard>,
    /// Alarms that belong to no guard so far.
    alarms: Vec<Option<(u32, Option<Span>)>>,
}

impl List {
    fn add(&mut self, what: String, of: Option<Span>, span: Span, test: Test) {
        let mut alarms = self.alarms.iter_mut();
        let own = alarms.find(|a| a.is_some_and(|(_, s)| s == of)).and_then(Option::take);
        self.guards.push(Guard { what, span, number: own.map(|(number, _)| number), alarm: None, test });
    }

    fn parameter(&mut self, parameter: &Parameter, machine: &Machine, interface: &Interface) {
        let (slack, measured) = (&interface.tolerance.guard, interface.measured(parameter));
        let span = parameter.span;
        let value = || Expr::symbol(&parameter.symbol);
        let exact = |condition: Condition| Test::Size { granted: condition.clone(), required: condition };
        if parameter.default.is_none() {
            let supplied = Condition::not_equal(Expr::symbol(&given(&parameter.symbol)), Expr::zero());
            self.add(format!("`{}` is supplied", parameter.symbol), Some(span), span, exact(supplied));
        }
        let between = |least: Rational, greatest: Rational| {
            Condition::all([
                Condition::at_least(value(), least.into()),
                Condition::at_most(value(), greatest.into()),
            ])
        };
        let (least, greatest) = narrowed(parameter, measured, machine);
        let test = Test::Size {
            granted: between(least, greatest),
            required: between(&parameter.least - slack, &parameter.greatest + slack),
        };
        self.add(format!("`{}` is in its range", parameter.symbol), Some(span), span, test);
        if parameter.whole {
            let whole = Condition::equal(value(), value().call(Function::Floor));
            self.add(format!("`{}` is a whole number", parameter.symbol), Some(span), span, exact(whole));
        }
    }

    fn wear(&mut self, worn: &Wear) {
        let value = || Expr::symbol(&worn.symbol());
        let exact = |condition: Condition| Test::Size { granted: condition.clone(), required: condition };
        let supplied = Condition::not_equal(Expr::symbol(&given(&worn.symbol())), Expr::zero());
        self.add("the wear is set".to_owned(), Some(worn.span), worn.span, exact(supplied));
        let within = Condition::all([
            Condition::at_least(value(), Expr::number(-worn.greatest.clone())),
            Condition::at_most(value(), Expr::number(worn.greatest.clone())),
        ]);
        self.add("the wear is within what is admitted".to_owned(), Some(worn.span), worn.span, exact(within));
    }

    /// `narrow`: what the text may make of it, so that it lets in less.
    fn requirement(
        &mut self,
        r: &Requirement,
        (slack, narrow): (&Rational, &Condition),
        names: &BTreeMap<Symbol, Expr>,
    ) {
        let told = |c: &Condition| c.substitute(&|s| names.get(s).cloned());
        let test = Test::Size {
            granted: moved(&told(narrow), &-slack.clone()),
            required: moved(&told(&r.condition), slack),
        };
        self.add(format!("`{}` holds", r.condition), Some(r.span), r.span, test);
        if let Some(guard) = self.guards.last_mut() {
            guard.alarm = Some(r.alarm.clone());
        }
    }

    /// The place; without a stated reach, half of what the controller has room for: off any machine.
    fn place(&mut self, machine: &Machine, interface: &Interface, span: Span) {
        let half = &*machine.numbers.greatest / &Rational::from(2);
        let reach = interface.reach.clone().unwrap_or_else(|| [half.clone(), half]);
        for (symbol, reach) in centre().iter().zip(&reach) {
            let reach = machine.millimetres(reach);
            let within = Condition::all([
                Condition::at_least(Expr::symbol(symbol), (-reach.clone()).into()),
                Condition::at_most(Expr::symbol(symbol), reach.into()),
            ]);
            let required = if interface.reach.is_some() { within.clone() } else { Condition::True };
            self.add(
                format!("`{symbol}` is within reach"),
                None,
                span,
                Test::Size { granted: within, required },
            );
        }
    }
}

/// A requirement as the text is said to have it: the same but for numbers, each within a step of the last decimal of a
/// length. Any other claim counts for nothing.
fn narrowest(r: &Requirement, machine: &Machine, interface: &Interface) -> Condition {
    let (shape, own) = numbers(&r.condition);
    let near = |claim: &&Condition| {
        let (other_shape, others) = numbers(claim);
        let close = |(a, b): (&Rational, &Rational)| (a - b).abs() <= machine.resolution();
        shape == other_shape && own.len() == others.len() && own.iter().zip(&others).all(close)
    };
    let claims = interface.narrowed.iter().filter(|n| n.span == r.span && n.alarm == r.alarm);
    claims.map(|n| &n.condition).find(near).unwrap_or(&r.condition).clone()
}

/// A condition with a name in the place of each of its numbers, and the numbers in order.
fn numbers(condition: &Condition) -> (Condition, Vec<Rational>) {
    let found = RefCell::new(Vec::new());
    let shape = condition.map(&|e| {
        let number = e.as_number()?;
        found.borrow_mut().push(number.clone());
        Some(Expr::named("?"))
    });
    (shape, found.into_inner())
}

/// A range as the text has it: its ends rounded inwards to decimals of the text.
fn narrowed(parameter: &Parameter, measured: Dimension, machine: &Machine) -> (Rational, Rational) {
    let decimals = decimals(measured, machine);
    let scale = scale(measured, machine);
    let end = |v: &Rational, r| (v / &scale).rounded(decimals, r) * &scale;
    (end(&parameter.least, Rounding::Up), end(&parameter.greatest, Rounding::Down))
}

/// A condition that lets in more by `slack`, or less where that is negative. A limit that belongs to what is
/// admitted stays where it is when less is let in: a size exactly on it is admitted. One that does not belong to it stays
/// when more is let in: a size exactly on it never is.
fn moved(condition: &Condition, slack: &Rational) -> Condition {
    let by = || Expr::number(slack.clone());
    let apart = |a: &Expr, b: &Expr| (a.clone() - b.clone()).call(Function::Abs);
    let outwards = slack.signum() > 0;
    match condition {
        Condition::True | Condition::False => condition.clone(),
        Condition::And(parts) => Condition::all(parts.iter().map(|p| moved(p, slack))),
        Condition::Or(parts) => Condition::any(parts.iter().map(|p| moved(p, slack))),
        Condition::Not(inner) => moved(&inner.negated(), slack),
        Condition::Compare(relation, a, b) => match relation {
            Relation::LessEqual if outwards => Condition::at_most(a.clone(), b.clone() + by()),
            Relation::GreaterEqual if outwards => Condition::at_least(a.clone() + by(), b.clone()),
            Relation::Less if !outwards => Condition::less(a.clone(), b.clone() + by()),
            Relation::Greater if !outwards => Condition::greater(a.clone() + by(), b.clone()),
            Relation::Equal if outwards => Condition::at_most(apart(a, b), by()),
            Relation::NotEqual if slack.signum() < 0 => {
                Condition::greater(apart(a, b), Expr::number(-slack.clone()))
            }
            Relation::Less
            | Relation::LessEqual
            | Relation::Greater
            | Relation::GreaterEqual
            | Relation::Equal
            | Relation::NotEqual => condition.clone(),
        },
    }
}
