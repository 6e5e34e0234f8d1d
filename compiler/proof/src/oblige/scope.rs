//! What is known at one place of a motion: names with their meanings, and facts about them.

use std::collections::BTreeSet;

use borewright_base::Span;
use borewright_motion::{
    Clause, Condition, CutterKind, Demand, Expr, Field, Let, Motion, Node, Parameter, Passes, Point,
    Relation, Symbol, Tool,
};
use borewright_number::{Dimension, Rational};

use super::tidy::{Sum, tidy};
use crate::{Formula, Hypothesis, HypothesisKind, Lemma, Sort, Variable};

/// Names and facts, in source order.
#[derive(Debug, Clone, Default)]
pub(crate) struct Scope {
    variables: Vec<Variable>,
    hypotheses: Vec<Hypothesis>,
    /// Values and counters of loops: their defining equations are left out of the easier formulas.
    loops: BTreeSet<Symbol>,
}

/// A goal as formulas: the exact one, and easier ones that imply it.
#[derive(Debug, Clone)]
pub(crate) struct Goal {
    /// Fails exactly when the thing fails.
    pub exact: Condition,
    /// Implies `exact`, and is tried first.
    pub easier: Option<Condition>,
}

impl From<Condition> for Goal {
    fn from(exact: Condition) -> Self {
        Self { exact, easier: None }
    }
}

impl Scope {
    /// Everything that the head of a motion says.
    pub(crate) fn of_head(motion: &Motion) -> Self {
        let mut scope = Self::default();
        motion.parameters.iter().for_each(|p| scope.parameter(p));
        if motion.job.is_none() {
            let rules = motion.demands.as_ref().map_or(&[][..], |d| &d.rules);
            scope.cutter(motion.inch, rules);
        }
        for clause in &motion.head {
            match clause {
                Clause::Let(l) => scope.define(l, motion.inch),
                Clause::Require(r) => {
                    scope.assume(r.condition.clone(), HypothesisKind::Requirement, Some(r.span));
                }
            }
        }
        scope.demands(motion.demands.as_ref().map_or(&[][..], |d| &d.rules));
        // A flat end has a sharp corner: who demands another of it admits no cutter at all.
        let flat = motion.demands.as_ref().filter(|d| d.kind == CutterKind::Flat);
        if flat.is_some_and(|d| d.rules.iter().any(|r| r.field == Field::Corner)) {
            let sharp = Condition::equal(Expr::symbol(&Field::Corner.symbol()), Expr::zero());
            scope.assume(sharp, HypothesisKind::Cutter, None);
        }
        scope
    }

    /// A parameter with its range.
    pub(crate) fn parameter(&mut self, parameter: &Parameter) {
        self.variables.push(Variable {
            symbol: parameter.symbol.clone(),
            sort: if parameter.whole { Sort::Whole } else { Sort::Real },
            dimension: parameter.dimension,
            inch: parameter.inch,
            definition: None,
        });
        let value = || Expr::symbol(&parameter.symbol);
        let span = Some(parameter.span);
        let least = Condition::at_least(value(), parameter.least.clone().into());
        let greatest = Condition::at_most(value(), parameter.greatest.clone().into());
        self.assume(least, HypothesisKind::Range, span);
        self.assume(greatest, HypothesisKind::Range, span);
    }

    /// A `let`.
    pub(crate) fn define(&mut self, l: &Let, inch: bool) {
        self.declare(l.symbol.clone(), Sort::Real, l.dimension, inch, Some(l.value.clone()));
    }

    /// A name.
    pub(crate) fn declare(
        &mut self,
        symbol: Symbol,
        sort: Sort,
        dimension: Dimension,
        inch: bool,
        definition: Option<Expr>,
    ) {
        self.variables.push(Variable { symbol, sort, dimension, inch, definition });
    }

    /// A fact.
    pub(crate) fn assume(&mut self, condition: Condition, kind: HypothesisKind, span: Option<Span>) {
        if condition != Condition::True {
            self.hypotheses.push(Hypothesis { condition, kind, span });
        }
    }

    /// The cutter in the spindle of a routine: a field that is demanded by `==` has that value.
    fn cutter(&mut self, inch: bool, rules: &[Demand]) {
        for field in Field::ALL {
            let definition = rules
                .iter()
                .find(|r| r.field == field && r.relation == Relation::Equal)
                .map(|r| r.value.clone());
            self.declare(field.symbol(), Sort::Real, field.dimension(), inch, definition);
        }
    }

    /// The tool of a job's list in the spindle.
    pub(crate) fn tool(&mut self, tool: &Tool, inch: bool) {
        let worn = |field: &Field| *field == Field::Diameter && may_wear(tool);
        for (field, value) in &tool.fields {
            let definition = (!worn(field)).then(|| value.clone());
            self.declare(field.symbol(), Sort::Real, field.dimension(), inch, definition);
        }
        let nominal = tool.fields.get(&Field::Diameter).filter(|_| may_wear(tool));
        if let Some((nominal, wear)) = nominal.zip(tool.fields.get(&Field::Wear)) {
            // The operator corrects the diameter by up to that much, either way.
            let diameter = Expr::symbol(&Field::Diameter.symbol());
            let least = Condition::at_least(diameter.clone(), tidy(&(nominal.clone() - wear.clone())));
            let greatest = Condition::at_most(diameter, tidy(&(nominal.clone() + wear.clone())));
            self.assume(least, HypothesisKind::Range, Some(tool.span));
            self.assume(greatest, HypothesisKind::Range, Some(tool.span));
        }
    }

    /// Takes over names of another scope that are not known here, without facts about them.
    pub(crate) fn know(&mut self, other: &Self) {
        for variable in &other.variables {
            if !self.variables.iter().any(|v| v.symbol == variable.symbol) {
                self.variables.push(variable.clone());
            }
        }
        self.loops.extend(other.loops.iter().cloned());
    }

    /// Takes over names and facts of another scope that are not known here.
    pub(crate) fn join(&mut self, other: &Self) {
        self.know(other);
        for hypothesis in &other.hypotheses {
            if !self.hypotheses.contains(hypothesis) {
                self.hypotheses.push(hypothesis.clone());
            }
        }
    }

    /// What is demanded of the cutter, and what is true of every cutter.
    fn demands(&mut self, rules: &[Demand]) {
        for rule in rules.iter().filter(|r| r.relation != Relation::Equal) {
            self.assume(rule.condition(), HypothesisKind::Cutter, Some(rule.span));
        }
        for rule in rules.iter().filter(|r| r.relation == Relation::Equal) {
            // A definition holds but once: a second `==` on the same field is a fact.
            let defined = self.definition(&rule.field.symbol()) == Some(&rule.value);
            if !defined {
                self.assume(rule.condition(), HypothesisKind::Cutter, Some(rule.span));
            }
        }
        for fact in cutter_facts() {
            self.assume(fact, HypothesisKind::Cutter, None);
        }
    }

    /// The value, the counter and the count of `passes`, the value before, and what is known of them.
    pub(crate) fn passes(&mut self, passes: &Passes, inch: bool, dimension: Dimension, order: Order) {
        let [value, before, index, count] = symbols_of(passes).map(|s| Expr::symbol(&s));
        // Where the way is known, whole steps need no question about it; of none there is one turn, the last.
        let whole = passes.whole.clone().map(|whole| match order {
            Order::Up => Expr::from(1),
            Order::Down => Expr::from(-1),
            Order::Either => whole,
        });
        let passes = &Passes { whole, ..passes.clone() };
        let turn = passes.value_at(index.clone(), count.clone());
        let turn_before = passes.step_to(index.clone() - Expr::from(1), count.clone());
        let [value_name, before_name, index_name, count_name] = symbols_of(passes);
        self.loops.extend([value_name.clone(), before_name.clone(), count_name.clone()]);
        self.declare(count_name, Sort::Whole, Dimension::RATIO, inch, Some(passes.count_value()));
        self.declare(index_name, Sort::Whole, Dimension::RATIO, inch, None);
        self.declare(value_name, Sort::Real, dimension, inch, Some(turn));
        self.declare(before_name, Sort::Real, dimension, inch, Some(turn_before));
        let mut fact = |c: Condition, kind: HypothesisKind| self.assume(c, kind, None);
        fact(Condition::greater(passes.by.clone(), Expr::zero()), HypothesisKind::Loop);
        fact(Condition::at_least(index.clone(), Expr::from(1)), HypothesisKind::Loop);
        fact(Condition::at_most(index, count), HypothesisKind::Loop);
        for lemma in order.facts(passes, &value, &before) {
            fact(lemma, HypothesisKind::Lemma(Lemma::Passes));
        }
    }

    /// The counter of a `repeat`.
    pub(crate) fn repeat(&mut self, index: &Symbol, count: &Expr) {
        self.declare(index.clone(), Sort::Whole, Dimension::RATIO, false, None);
        let value = || Expr::symbol(index);
        self.assume(Condition::at_least(value(), Expr::from(1)), HypothesisKind::Loop, None);
        self.assume(Condition::at_most(value(), count.clone()), HypothesisKind::Loop, None);
    }

    /// What a name is defined as.
    pub(crate) fn definition(&self, symbol: &Symbol) -> Option<&Expr> {
        self.variables.iter().rev().find(|v| v.symbol == *symbol)?.definition.as_ref()
    }

    /// These names, and all whose definitions rest on them.
    pub(crate) fn that_hang_on(&self, names: &[Symbol]) -> BTreeSet<Symbol> {
        let mut found: BTreeSet<Symbol> = names.iter().cloned().collect();
        loop {
            let rests = |v: &&Variable| {
                let uses = |e: &Expr| e.symbols().iter().any(|s| found.contains(s));
                !found.contains(&v.symbol) && v.definition.as_ref().is_some_and(uses)
            };
            let Some(next) = self.variables.iter().find(rests) else { return found };
            let next = next.symbol.clone();
            found.insert(next);
        }
    }

    /// The names that stand for values of loops.
    pub(crate) fn is_of_loop(&self, symbol: &Symbol) -> bool {
        self.loops.contains(symbol)
    }

    /// Every definition but those of loops put in the place of its name.
    pub(crate) fn inline(&self, expr: &Expr) -> Expr {
        expr.substitute(&|s| {
            let value = if self.is_of_loop(s) { None } else { self.definition(s) };
            value.map(|v| self.inline(v))
        })
    }

    /// Names that are given here but not in the scope outside, put out again.
    pub(crate) fn inline_beyond(&self, outside: &Self, expr: &Expr) -> Expr {
        expr.substitute(&|s| {
            let known = outside.variables.iter().any(|v| v.symbol == *s);
            let value = if known || self.is_of_loop(s) { None } else { self.definition(s) };
            value.map(|v| self.inline_beyond(outside, v))
        })
    }

    /// As [`Self::inline`], for a condition.
    pub(crate) fn inline_condition(&self, condition: &Condition) -> Condition {
        condition.substitute(&|s| {
            let value = if self.is_of_loop(s) { None } else { self.definition(s) };
            value.map(|v| self.inline(v))
        })
    }

    /// A name's definition in its place, once.
    pub(crate) fn inline_once(&self, name: &Expr) -> Expr {
        name.as_symbol().and_then(|s| self.definition(s)).unwrap_or(name).clone()
    }

    /// The expression in one form, with names that stand for points along a direction put in.
    pub(crate) fn flatten(&self, expr: &Expr) -> Expr {
        tidy(&self.with_directions(expr))
    }

    /// Names that stand for points along a direction put in.
    pub(crate) fn with_directions(&self, expr: &Expr) -> Expr {
        expr.substitute(&|s| {
            let value = if self.is_of_loop(s) { None } else { self.definition(s) }?;
            has_direction(&self.inline(value)).then(|| self.with_directions(value))
        })
    }

    /// Whether two expressions are one and the same, definitions put in.
    pub(crate) fn same(&self, a: &Expr, b: &Expr) -> bool {
        a == b || Sum::of(&self.inline(&(a.clone() - b.clone()))).is_some_and(|s| s.is_zero())
    }

    /// Whether two points are one and the same, definitions put in.
    pub(crate) fn same_point(&self, a: &Point, b: &Point) -> bool {
        self.same(&a.x, &b.x) && self.same(&a.y, &b.y)
    }

    /// A name that is defined as this value, or the value itself.
    pub(crate) fn named(&self, value: &Expr) -> Expr {
        let known = self.variables.iter().find(|v| {
            v.definition.is_some()
                && !self.is_of_loop(&v.symbol)
                && self.same(&Expr::symbol(&v.symbol), value)
        });
        known.map_or_else(|| value.clone(), |v| Expr::symbol(&v.symbol))
    }

    /// The formula that a goal follows from all that is known here. Facts that share no name with the goal,
    /// even through other facts, are left out: they can neither help nor hinder it.
    pub(crate) fn formula(&self, goal: Condition, extra: &[Hypothesis]) -> Formula {
        self.formula_with(goal, extra, true)
    }

    /// As [`Self::formula`], without the equations of loops: more general, and easier to prove.
    pub(crate) fn formula_without_counts(&self, goal: Condition, extra: &[Hypothesis]) -> Formula {
        self.formula_with(goal, extra, false)
    }

    fn formula_with(&self, goal: Condition, extra: &[Hypothesis], counts: bool) -> Formula {
        let variables: Vec<Variable> = self
            .variables
            .iter()
            .map(|v| {
                let keep = counts || !self.is_of_loop(&v.symbol);
                Variable { definition: v.definition.clone().filter(|_| keep), ..v.clone() }
            })
            .collect();
        let all: Vec<&Hypothesis> = self.hypotheses.iter().chain(extra).collect();
        let reached = reach(&goal, &all, &variables);
        let kept = |h: &&&Hypothesis| h.condition.symbols().iter().any(|s| reached.contains(s));
        let hypotheses: Vec<Hypothesis> = all.iter().filter(kept).map(|h| (*h).clone()).collect();
        let variables = variables.into_iter().filter(|v| reached.contains(&v.symbol)).collect();
        Formula { variables, hypotheses, goal, hints: Vec::new() }
    }

    /// Everything that is known, as one formula with a goal that never holds: refuted by any witness.
    pub(crate) fn everything(&self) -> Formula {
        Formula {
            variables: self.variables.clone(),
            hypotheses: self.hypotheses.clone(),
            goal: Condition::False,
            hints: Vec::new(),
        }
    }

    /// Whether an expression has whole values only, by its looks.
    pub(crate) fn is_whole(&self, expr: &Expr) -> bool {
        match expr.node() {
            Node::Number(number) => number.is_whole(),
            Node::Symbol(symbol) => {
                let known = self.variables.iter().rev().find(|v| v.symbol == *symbol);
                known.is_some_and(|v| v.sort == Sort::Whole)
            }
            Node::Add(a, b) | Node::Sub(a, b) | Node::Mul(a, b) | Node::Min(a, b) | Node::Max(a, b) => {
                self.is_whole(a) && self.is_whole(b)
            }
            Node::Neg(a) => self.is_whole(a),
            Node::If(_, a, b) => self.is_whole(a) && self.is_whole(b),
            Node::Call(f, _) => {
                matches!(f, borewright_motion::Function::Ceil | borewright_motion::Function::Floor)
            }
            Node::Pi | Node::Div(..) => false,
        }
    }

    /// Bounds by reading ranges alone; `None` where there is none.
    pub(crate) fn bounds(&self, expr: &Expr) -> (Option<Rational>, Option<Rational>) {
        match expr.node() {
            Node::Number(value) => (Some(value.clone()), Some(value.clone())),
            Node::Symbol(symbol) => self.symbol_bounds(symbol),
            Node::Neg(a) => {
                let (lo, hi) = self.bounds(a);
                (hi.map(|v| -v), lo.map(|v| -v))
            }
            Node::Add(a, b) => {
                let ((a, b), (c, d)) = (self.bounds(a), self.bounds(b));
                (a.zip(c).map(|(a, c)| a + c), b.zip(d).map(|(b, d)| b + d))
            }
            Node::Sub(a, b) => {
                let ((a, b), (c, d)) = (self.bounds(a), self.bounds(b));
                (a.zip(d).map(|(a, d)| a - d), b.zip(c).map(|(b, c)| b - c))
            }
            Node::Pi => (Some(Rational::from(3)), Some(Rational::from(4))),
            Node::Max(a, b) => {
                let ((a, b), (c, d)) = (self.bounds(a), self.bounds(b));
                // One known lower end is enough.
                (a.clone().max(c.clone()), b.zip(d).map(|(b, d)| b.max(d)))
            }
            Node::Min(a, b) => {
                let ((a, b), (c, d)) = (self.bounds(a), self.bounds(b));
                let least = |b: Rational| d.clone().map_or(b.clone(), |d| d.min(b));
                (a.zip(c).map(|(a, c)| a.min(c)), b.map(least).or(d.clone()))
            }
            Node::Mul(..) | Node::Div(..) | Node::Call(..) | Node::If(..) => (None, None),
        }
    }

    fn symbol_bounds(&self, symbol: &Symbol) -> (Option<Rational>, Option<Rational>) {
        if let Some(value) = self.definition(symbol).filter(|_| !self.is_of_loop(symbol)) {
            return self.bounds(value);
        }
        let (mut least, mut greatest) = (None, None);
        for h in self.hypotheses.iter().filter(|h| h.kind == HypothesisKind::Range) {
            let Condition::Compare(relation, a, b) = &h.condition else { continue };
            if a.as_symbol() != Some(symbol) {
                continue;
            }
            match relation {
                Relation::GreaterEqual => least = b.as_number().cloned(),
                Relation::LessEqual => greatest = b.as_number().cloned(),
                Relation::Equal | Relation::NotEqual | Relation::Less | Relation::Greater => {}
            }
        }
        (least, greatest)
    }
}

/// Whether the operator may correct the diameter.
pub(crate) fn may_wear(tool: &Tool) -> bool {
    tool.fields.get(&Field::Wear).is_some_and(|wear| wear.as_number().is_none_or(|n| !n.is_zero()))
}

/// Whether the value holds a sine or cosine: a coordinate of a point along a direction.
pub(crate) fn has_direction(expr: &Expr) -> bool {
    let mut found = false;
    expr.walk(&mut |e| {
        if let Node::Call(f, _) = e.node() {
            found |= matches!(f, borewright_motion::Function::Sin | borewright_motion::Function::Cos);
        }
    });
    found
}

/// True of every cutter.
pub(crate) fn cutter_facts() -> Vec<Condition> {
    let field = |f: Field| Expr::symbol(&f.symbol());
    vec![
        Condition::greater(field(Field::Diameter), Expr::zero()),
        Condition::greater(field(Field::Flutes), Expr::zero()),
        Condition::at_least(field(Field::Reach), field(Field::Flutes)),
        Condition::at_least(field(Field::Dead), Expr::zero()),
        Condition::at_most(field(Field::Dead), field(Field::Diameter)),
    ]
}

/// Names that a goal depends on: through definitions, and through facts that tie names together.
fn reach(goal: &Condition, hypotheses: &[&Hypothesis], variables: &[Variable]) -> BTreeSet<Symbol> {
    let close = |seed: BTreeSet<Symbol>| -> BTreeSet<Symbol> {
        let mut closed = BTreeSet::new();
        let mut open: Vec<Symbol> = seed.into_iter().collect();
        while let Some(symbol) = open.pop() {
            let definition =
                variables.iter().find(|v| v.symbol == symbol).and_then(|v| v.definition.as_ref());
            open.extend(definition.into_iter().flat_map(Expr::symbols));
            closed.insert(symbol);
        }
        closed
    };
    let mut reached = close(goal.symbols());
    let mut rest: Vec<BTreeSet<Symbol>> = hypotheses.iter().map(|h| close(h.condition.symbols())).collect();
    loop {
        let (linked, free): (Vec<_>, Vec<_>) = rest.into_iter().partition(|s| !s.is_disjoint(&reached));
        if linked.is_empty() {
            return reached;
        }
        linked.into_iter().for_each(|s| reached.extend(s));
        rest = free;
    }
}

/// The names of a loop of passes: value, value before, counter, count.
pub(crate) fn symbols_of(passes: &Passes) -> [Symbol; 4] {
    [passes.value.clone(), before_of(&passes.value), passes.index.clone(), passes.count.clone()]
}

/// The name of the value before this one.
pub(crate) fn before_of(value: &Symbol) -> Symbol {
    Symbol::new(format!("{value}.before"))
}

/// Which way passes go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Order {
    /// From a lower value to a higher one, or equal.
    Up,
    /// From a higher value to a lower one, or equal.
    Down,
    /// Not known.
    Either,
}

impl Order {
    /// The lemma of passes: both values lie between the ends, in order, and no more than a step apart.
    fn facts(self, passes: &Passes, value: &Expr, before: &Expr) -> Vec<Condition> {
        let (from, to) = (passes.from.clone(), passes.to.clone());
        let (value, before) = (value.clone(), before.clone());
        let up = || {
            vec![
                Condition::at_most(from.clone(), before.clone()),
                Condition::at_most(before.clone(), value.clone()),
                Condition::at_most(value.clone(), to.clone()),
                Condition::at_most(value.clone() - before.clone(), passes.by.clone()),
            ]
        };
        let down = || {
            vec![
                Condition::at_least(from.clone(), before.clone()),
                Condition::at_least(before.clone(), value.clone()),
                Condition::at_least(value.clone(), to.clone()),
                Condition::at_most(before.clone() - value.clone(), passes.by.clone()),
            ]
        };
        match self {
            Self::Up => up(),
            Self::Down => down(),
            Self::Either => vec![Condition::any([Condition::all(up()), Condition::all(down())])],
        }
    }
}
