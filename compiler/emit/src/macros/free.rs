//! Programs for a control that works out expressions but compares nothing: RS274/NGC after NISTIR 6556.
//!
//! Nothing can be refused and nothing repeated there. So whatever decides a count, a branch or a requirement is
//! fixed when the program is written; loops are written out; the parameters that decide nothing stay variables at
//! the top of the program, each with its range in the header.

use std::collections::{BTreeMap, BTreeSet};

use borewright_base::{Diagnostic, Span};
use borewright_machine::Machine;
use borewright_motion::{
    Action, Clause, Expr, Function, Let, Motion, Node, Parameter, Passes, Step, Symbol, Value, all_steps,
    bind, evaluate,
};
use borewright_number::Rational;

use super::fitted;
use super::inline::inline_calls;
use crate::number::Digits;
use crate::{Settings, blocks, errors};

/// Most steps that are written out.
const MOST: usize = 20_000;

/// A motion for one set of values.
pub(super) struct Fixed {
    /// The motion with all but its free parameters fixed, its loops written out and its requirements met. The
    /// defaults of the free ones are their values.
    pub(super) motion: Motion,
    /// The fixed parameters with their values.
    pub(super) told: Vec<(Symbol, Rational)>,
    /// All parameters with the values for which it is written.
    pub(super) values: BTreeMap<Symbol, Rational>,
}

/// Fixes what decides something.
pub(super) fn fix(motion: &Motion, machine: &Machine, settings: &Settings) -> Result<Fixed, Diagnostic> {
    let known = bind(motion, &settings.values)
        .map_err(|e| blocks::unroll_error(motion, &borewright_motion::UnrollError::Bind(e)))?;
    let mut fixed_motion = motion.clone();
    fixed_motion.body = inline_calls(&motion.body);
    let deciding = deciding(&fixed_motion);
    let mut fixed: BTreeMap<Symbol, Expr> = BTreeMap::new();
    let mut told = Vec::new();
    let mut values = BTreeMap::new();
    for parameter in &mut fixed_motion.parameters {
        let Some(value) = known.get(&parameter.symbol).and_then(Value::exact) else {
            let text = format!("`{}` has no exact value", parameter.symbol);
            return Err(Diagnostic::error(errors::SIZES, parameter.span, text));
        };
        if deciding.contains(&parameter.symbol) {
            fixed.insert(parameter.symbol.clone(), Expr::number(value.clone()));
            told.push((parameter.symbol.clone(), value.clone()));
            values.insert(parameter.symbol.clone(), value.clone());
        } else {
            let value = written(value, parameter, machine);
            parameter.default = Some(Expr::number(value.clone()));
            values.insert(parameter.symbol.clone(), value);
        }
    }
    fixed_motion.parameters.retain(|p| !deciding.contains(&p.symbol));
    let mut put = Putting { values: fixed, named: BTreeMap::new(), left: MOST, unroll: true };
    let mut head = Vec::new();
    for clause in &fixed_motion.head {
        // Requirements hold: the values have just been bound.
        if let Clause::Let(l) = clause
            && let Some(l) = put.named(l)
        {
            head.push(Clause::Let(l));
        }
    }
    fixed_motion.head = head;
    fixed_motion.body = put.steps(&fixed_motion.body)?;
    Ok(Fixed { motion: fixed_motion, told, values })
}

/// A value as it stands at the top of the program: itself where its digits end, else the nearest that the decimals
/// of an argument hold. It decides nothing, so that any value of its range is as good.
fn written(value: &Rational, parameter: &Parameter, machine: &Machine) -> Rational {
    let unit = if parameter.dimension.length == 1 { machine.unit() } else { Rational::ONE };
    let shown = value / &unit;
    if Digits::new(machine).ends(&shown) { value.clone() } else { fitted(&shown, parameter, machine) * unit }
}

/// The parameters that decide a count, a branch, a requirement or a rounding.
fn deciding(motion: &Motion) -> BTreeSet<Symbol> {
    let mut names = BTreeSet::new();
    for clause in &motion.head {
        match clause {
            Clause::Require(r) => names.extend(r.condition.symbols()),
            Clause::Let(l) => choosing(&l.value, &mut names),
        }
    }
    for parameter in &motion.parameters {
        parameter.default.iter().for_each(|d| choosing(d, &mut names));
    }
    in_steps(&motion.body, &mut names);
    // Through the names of values to the parameters behind them.
    for _ in 0..64 {
        let before = names.len();
        behind(&motion.body, &mut names);
        for clause in motion.head.iter().rev() {
            if let Clause::Let(l) = clause
                && names.contains(&l.symbol)
            {
                names.extend(l.value.symbols());
            }
        }
        if names.len() == before {
            break;
        }
    }
    names
}

fn behind(steps: &[Step], names: &mut BTreeSet<Symbol>) {
    for step in all_steps(steps) {
        if let Action::Let(l) = &step.action
            && names.contains(&l.symbol)
        {
            names.extend(l.value.symbols());
        }
    }
}

fn in_steps(steps: &[Step], names: &mut BTreeSet<Symbol>) {
    for step in all_steps(steps) {
        if let Action::Passes(passes) = &step.action {
            names.extend([&passes.from, &passes.to, &passes.by].into_iter().flat_map(Expr::symbols));
        }
        if let Action::Repeat { count, .. } = &step.action {
            names.extend(count.symbols());
        }
        each_expr(&step.action, &mut |e| choosing(e, names));
    }
}

/// What a value chooses by.
fn choosing(e: &Expr, names: &mut BTreeSet<Symbol>) {
    e.walk(&mut |part| match part.node() {
        Node::If(condition, ..) => names.extend(condition.symbols()),
        Node::Min(a, b) | Node::Max(a, b) => {
            names.extend(a.symbols());
            names.extend(b.symbols());
        }
        Node::Call(Function::Ceil | Function::Floor, a) => names.extend(a.symbols()),
        Node::Number(_)
        | Node::Pi
        | Node::Symbol(_)
        | Node::Add(..)
        | Node::Sub(..)
        | Node::Mul(..)
        | Node::Div(..)
        | Node::Neg(_)
        | Node::Call(..) => {}
    });
}

fn each_expr(action: &Action, visit: &mut dyn FnMut(&Expr)) {
    match action {
        Action::Let(l) => visit(&l.value),
        Action::RapidTo(p) => [&p.x, &p.y].into_iter().for_each(visit),
        Action::RapidZ(z) | Action::Dwell(z) => visit(z),
        Action::Line { to, z, feed } => {
            let plane = to.iter().flat_map(|p| [&p.x, &p.y]);
            plane.chain(z).chain(feed).for_each(visit);
        }
        Action::Arc { to, z, about, feed, .. } => {
            [&to.x, &to.y, &about.x, &about.y].into_iter().chain(z).chain(feed).for_each(visit);
        }
        Action::Turn { z, about, feed, .. } => {
            [&about.x, &about.y].into_iter().chain(z).chain(feed).for_each(visit);
        }
        Action::Retract
        | Action::Passes(_)
        | Action::Repeat { .. }
        | Action::Call(_)
        | Action::With { .. }
        | Action::Spindle { .. }
        | Action::Coolant(_)
        | Action::Stop(_) => {}
    }
}

/// The steps with numbers for all names of the body that stand for one.
pub(super) fn with_numbers(steps: &[Step]) -> Result<Vec<Step>, Diagnostic> {
    Putting { values: BTreeMap::new(), named: BTreeMap::new(), left: usize::MAX, unroll: false }.steps(steps)
}

struct Putting {
    values: BTreeMap<Symbol, Expr>,
    /// How often each name was given to a value so far.
    named: BTreeMap<Symbol, usize>,
    left: usize,
    /// Loops are written out.
    unroll: bool,
}

impl Putting {
    fn expr(&self, e: &Expr) -> Expr {
        e.substitute(&|s| self.values.get(s).cloned())
    }

    fn optional(&self, e: Option<&Expr>) -> Option<Expr> {
        e.map(|e| self.expr(e))
    }

    /// A name whose value is a number now is put in itself. Where loops are written out, each time round has names of
    /// its own.
    fn named(&mut self, l: &Let) -> Option<Let> {
        let value = self.expr(&l.value);
        if value.as_number().is_some() {
            self.values.insert(l.symbol.clone(), value);
            return None;
        }
        self.values.remove(&l.symbol);
        let times = self.named.entry(l.symbol.clone()).or_insert(0);
        *times += 1;
        if !self.unroll || *times == 1 {
            return Some(Let { value, ..l.clone() });
        }
        let symbol = Symbol::new(format!("{}.{times}", l.symbol));
        self.values.insert(l.symbol.clone(), Expr::symbol(&symbol));
        Some(Let { symbol, value, ..l.clone() })
    }

    fn steps(&mut self, steps: &[Step]) -> Result<Vec<Step>, Diagnostic> {
        let mut put = Vec::new();
        for step in steps {
            self.step(step, &mut put)?;
        }
        Ok(put)
    }

    fn step(&mut self, step: &Step, put: &mut Vec<Step>) -> Result<(), Diagnostic> {
        let span = step.span;
        self.left = self.left.checked_sub(1).ok_or_else(|| {
            Diagnostic::error(errors::UNROLL, span, format!("written out, it has more than {MOST} steps"))
        })?;
        let point = |p| borewright_motion::Point::substitute(p, &|s| self.values.get(s).cloned());
        let action = match &step.action {
            Action::Let(l) => match self.named(l) {
                Some(l) => Action::Let(l),
                None => return Ok(()),
            },
            Action::RapidTo(p) => Action::RapidTo(point(p)),
            Action::RapidZ(z) => Action::RapidZ(self.expr(z)),
            Action::Dwell(time) => Action::Dwell(self.expr(time)),
            Action::Line { to, z, feed } => Action::Line {
                to: to.as_ref().map(point),
                z: self.optional(z.as_ref()),
                feed: self.optional(feed.as_ref()),
            },
            Action::Arc { way, to, z, about, feed } => Action::Arc {
                way: *way,
                to: point(to),
                z: self.optional(z.as_ref()),
                about: point(about),
                feed: self.optional(feed.as_ref()),
            },
            Action::Turn { way, z, about, feed } => Action::Turn {
                way: *way,
                z: self.optional(z.as_ref()),
                about: point(about),
                feed: self.optional(feed.as_ref()),
            },
            Action::Passes(passes) if self.unroll => return self.passes(passes, span, put),
            Action::Passes(passes) => Action::Passes(Passes {
                from: self.expr(&passes.from),
                to: self.expr(&passes.to),
                by: self.expr(&passes.by),
                whole: self.optional(passes.whole.as_ref()),
                body: self.steps(&passes.body)?,
                ..passes.clone()
            }),
            Action::Repeat { index, count, body } if !self.unroll => {
                Action::Repeat { index: index.clone(), count: self.expr(count), body: self.steps(body)? }
            }
            Action::Repeat { index, count, body } => {
                let turns = self.whole(count, span)?;
                for turn in 1..=turns {
                    self.values.insert(index.clone(), Expr::number(Rational::from(turn)));
                    put.extend(self.steps(body)?);
                }
                return Ok(());
            }
            Action::Retract => Action::Retract,
            Action::Call(_)
            | Action::With { .. }
            | Action::Spindle { .. }
            | Action::Coolant(_)
            | Action::Stop(_) => step.action.clone(),
        };
        put.push(Step { action, span });
        Ok(())
    }

    fn passes(&mut self, passes: &Passes, span: Span, put: &mut Vec<Step>) -> Result<(), Diagnostic> {
        let count = self.whole(&passes.count_value(), span)?;
        for index in 1..=count {
            let number = |n: i64| Expr::number(Rational::from(n));
            let value = if index == count {
                passes.to.clone()
            } else {
                passes.value_at(number(index), number(count))
            };
            let value = self.expr(&value);
            self.values.insert(passes.value.clone(), value);
            self.values.insert(passes.index.clone(), number(index));
            self.values.insert(passes.count.clone(), number(count));
            put.extend(self.steps(&passes.body)?);
        }
        Ok(())
    }

    fn whole(&self, count: &Expr, span: Span) -> Result<i64, Diagnostic> {
        let value = evaluate(&self.expr(count), &BTreeMap::new()).ok();
        let whole = value.and_then(|v| v.exact().and_then(Rational::to_i64));
        let most = i64::try_from(MOST).unwrap_or(i64::MAX);
        whole.filter(|n| (0..=most).contains(n)).ok_or_else(|| {
            Diagnostic::error(
                errors::UNROLL,
                span,
                "how often this loop runs cannot be told, or it is too often",
            )
        })
    }
}
