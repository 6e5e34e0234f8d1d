//! One obligation at chosen values: whether all that is required holds, the formula fails, and the motion with
//! it.

use std::cell::Cell;

use borewright_motion::{
    Condition, Environment, Expr, Field, Motion, Relation, Symbol, Value, decide_with, evaluate_with,
};
use borewright_number::{Dimension, Rational};

use super::look::{Finding, Look};
use super::scene::Scene;
use crate::engine::{evaluate, witness};
use crate::proved::Fault;
use crate::{Formula, Hypothesis, HypothesisKind, Kind, Obligation, Sort, Valuation, Variable};

/// A name that may be chosen freely.
#[derive(Debug, Clone)]
pub(super) struct Slot {
    pub symbol: Symbol,
    /// What it is when nobody says anything.
    pub usual: Option<Expr>,
    pub least: Option<Rational>,
    pub greatest: Option<Rational>,
    pub dimension: Dimension,
    pub inch: bool,
    pub whole: bool,
}

/// A choice for each slot, in order; `None` leaves it at what is usual.
pub(super) type Choices = Vec<Option<Rational>>;

/// Values at which an obligation really fails, and how.
#[derive(Debug, Clone)]
pub(super) struct Failure {
    pub values: Valuation,
    pub fault: Option<Fault>,
}

/// One obligation, tried at values.
pub(super) struct Trial<'a> {
    motion: &'a Motion,
    obligation: &'a Obligation,
    /// All that the head says; `None` where the obligation stands within the head.
    head: Option<Formula>,
    variables: Vec<Variable>,
    pub slots: Vec<Slot>,
    /// How many more values may be tried.
    left: Cell<u32>,
}

/// Kinds that arise where all that the head says is known. The others stand within the head, or speak of texts.
const OF_THE_MOVES: &[Kind] = &[
    Kind::ArcRadii,
    Kind::ArcSize,
    Kind::Ends,
    Kind::Feed,
    Kind::Entry,
    Kind::Rapid,
    Kind::Plunge,
    Kind::Ramp,
    Kind::Flutes,
    Kind::Shank,
    Kind::Wall,
    Kind::Floor,
    Kind::Contact,
    Kind::Landing,
    Kind::Meeting,
    Kind::Standing,
    Kind::Pin,
    Kind::Joint,
    Kind::Dwell,
    Kind::Side,
    Kind::Lead,
    Kind::Turns,
    Kind::Teeth,
    Kind::Cone,
    Kind::Disc,
    Kind::Web,
    Kind::Order,
    Kind::Argument,
    Kind::Requirement,
    Kind::Cutter,
    Kind::Pilot,
    Kind::Inside,
    Kind::Kept,
    Kind::Spindle,
    Kind::Travel,
    Kind::Stop,
];

/// Values that are tried for one obligation, at most.
const MOST_TRIALS: u32 = 400;

impl<'a> Trial<'a> {
    pub(super) fn new(motion: &'a Motion, obligation: &'a Obligation) -> Self {
        let mut head = OF_THE_MOVES.contains(&obligation.kind).then(|| crate::oblige::head_of(motion));
        let mut variables = obligation.formula.variables.clone();
        for variable in head.iter().flat_map(|h| &h.variables) {
            if !variables.iter().any(|v| v.symbol == variable.symbol) {
                variables.push(variable.clone());
            }
        }
        if let Some(head) = &mut head {
            // Of the cutter of a job nothing is known in its head: what it holds is said further down.
            let known = |s: &Symbol| variables.iter().any(|v| v.symbol == *s);
            head.hypotheses.retain(|h| h.condition.symbols().iter().all(known));
        }
        let slots = slots(motion, &variables);
        Self { motion, obligation, head, variables, slots, left: Cell::new(MOST_TRIALS) }
    }

    /// Choices that agree with the values found, what these leave open chosen as usual or by a witness.
    pub(super) fn choices(&self, found: &Valuation) -> Option<Choices> {
        let given: Choices = self.slots.iter().map(|s| found.get(&s.symbol).cloned()).collect();
        if self.values(&given).is_some_and(|values| self.admits(&values)) {
            return Some(given);
        }
        let mut everything = self.head.clone()?;
        for (symbol, value) in found {
            if everything.variables.iter().any(|v| v.symbol == *symbol) {
                let condition = Condition::equal(Expr::symbol(symbol), value.clone().into());
                everything.hypotheses.push(Hypothesis { condition, kind: HypothesisKind::Path, span: None });
            }
        }
        let all = witness(&everything)?;
        let value = |s: &Slot| found.get(&s.symbol).or_else(|| all.get(&s.symbol)).cloned();
        Some(self.slots.iter().map(value).collect())
    }

    /// The values that choices come to; `None` where something usual has no exact value.
    pub(super) fn values(&self, choices: &[Option<Rational>]) -> Option<Valuation> {
        let mut values = Valuation::new();
        for (slot, choice) in self.slots.iter().zip(choices) {
            let value = match choice {
                Some(value) => value.clone(),
                None => self.exact(slot.usual.as_ref()?, &values)?,
            };
            values.insert(slot.symbol.clone(), value);
        }
        Some(values)
    }

    fn exact(&self, expr: &Expr, values: &Valuation) -> Option<Rational> {
        if let Some(number) = expr.as_number() {
            return Some(number.clone());
        }
        let plain = evaluate_with(expr, &|s| values.get(s).cloned().map(Value::Exact));
        let value = plain.or_else(|_| {
            let env = resolve(&self.variables, values);
            evaluate_with(expr, &|s| env.get(s).cloned())
        });
        value.ok()?.exact().cloned()
    }

    /// Whether all that the head requires surely holds.
    fn admits(&self, values: &Valuation) -> bool {
        let env = resolve(&self.variables, values);
        self.head
            .iter()
            .flat_map(|h| &h.hypotheses)
            .all(|h| self.holds(&h.condition, values, &env) == Some(true))
    }

    /// Exactly, by the motion's own evaluator; where that leaves it open, by the engine's.
    fn holds(&self, condition: &Condition, values: &Valuation, env: &Environment) -> Option<bool> {
        let decided = decide_with(condition, &|s| env.get(s).cloned()).ok().flatten();
        decided.or_else(|| evaluate(condition, &self.variables, values))
    }

    /// Whether the formula surely fails: each hypothesis holds and the goal does not.
    fn refutes(&self, values: &Valuation, env: &Environment) -> bool {
        let formula = &self.obligation.formula;
        let whole = formula.variables.iter().filter(|v| v.sort == Sort::Whole && v.definition.is_none());
        whole.into_iter().all(|v| values.get(&v.symbol).is_some_and(Rational::is_whole))
            && self.holds(&formula.goal, values, env) == Some(false)
            && formula.hypotheses.iter().all(|h| self.holds(&h.condition, values, env) == Some(true))
    }

    /// Whether the obligation really fails at these choices, and how.
    pub(super) fn fails(&self, choices: &[Option<Rational>]) -> Option<Failure> {
        self.left.set(self.left.get().checked_sub(1)?);
        let values = self.values(choices)?;
        let env = resolve(&self.variables, &values);
        let required = self.head.iter().flat_map(|h| &h.hypotheses);
        let admitted = |h: &Hypothesis| self.holds(&h.condition, &values, &env) == Some(true);
        if !self.refutes(&values, &env) || !required.into_iter().all(admitted) {
            return None;
        }
        let scene = self.head.as_ref().and_then(|_| Scene::at(self.motion, &values, &env));
        let look = Look {
            motion: self.motion,
            obligation: self.obligation,
            values: &values,
            env: &env,
            scene: scene.as_ref(),
        };
        let fault = match super::find(&look) {
            Finding::Fault(fault) => Some(fault),
            Finding::Fine => return None,
            // A formula that is only sufficient shows nothing by itself.
            Finding::Unclear if self.obligation.check.is_some() => return None,
            Finding::Unclear => None,
        };
        Some(Failure { values, fault })
    }

    /// Whether more values may be tried.
    pub(super) fn is_spent(&self) -> bool {
        self.left.get() == 0
    }
}

/// Every name with its value: those chosen, and those defined by them.
pub(super) fn resolve(variables: &[Variable], values: &Valuation) -> Environment {
    let mut env: Environment = values.iter().map(|(s, v)| (s.clone(), Value::Exact(v.clone()))).collect();
    let mut open: Vec<&Variable> = variables.iter().filter(|v| !env.contains_key(&v.symbol)).collect();
    loop {
        let before = open.len();
        open.retain(|variable| {
            let definition = variable.definition.as_ref();
            let value = definition.and_then(|d| evaluate_with(d, &|s| env.get(s).cloned()).ok());
            let open = value.is_none();
            if let Some(value) = value {
                env.insert(variable.symbol.clone(), value);
            }
            open
        });
        if open.len() == before {
            return env;
        }
    }
}

/// Counters first, then parameters in their order, then facts of the cutter.
fn slots(motion: &Motion, variables: &[Variable]) -> Vec<Slot> {
    let free = |symbol: &Symbol| variables.iter().find(|v| v.symbol == *symbol && v.definition.is_none());
    let parameters = motion.parameters.iter().filter(|p| free(&p.symbol).is_some()).map(|p| Slot {
        symbol: p.symbol.clone(),
        usual: p.default.clone(),
        least: Some(p.least.clone()),
        greatest: Some(p.greatest.clone()),
        dimension: p.dimension,
        inch: p.inch,
        whole: p.whole,
    });
    let parameters: Vec<Slot> = parameters.collect();
    let fields = Field::ALL.into_iter().filter_map(|field| {
        let variable = free(&field.symbol())?;
        Some(Slot {
            symbol: variable.symbol.clone(),
            usual: Some(usual(motion, field)),
            least: None,
            greatest: None,
            dimension: variable.dimension,
            inch: variable.inch,
            whole: false,
        })
    });
    let fields: Vec<Slot> = fields.collect();
    let known = |v: &&Variable| parameters.iter().chain(&fields).all(|s| s.symbol != v.symbol);
    let counters = variables.iter().filter(|v| v.definition.is_none()).filter(known).map(|v| Slot {
        symbol: v.symbol.clone(),
        usual: Some(Expr::from(1)),
        least: None,
        greatest: None,
        dimension: v.dimension,
        inch: v.inch,
        whole: v.sort == Sort::Whole,
    });
    let counters: Vec<Slot> = counters.collect();
    counters.into_iter().chain(parameters).chain(fields).collect()
}

/// What a cutter has when it has no more than is demanded.
fn usual(motion: &Motion, field: Field) -> Expr {
    let rules = motion.demands.iter().flat_map(|d| &d.rules);
    let mut bound =
        rules.filter(|r| r.field == field && r.relation != Relation::NotEqual).map(|r| r.value.clone());
    let bound = bound.next_back();
    let of = |f: Field| Expr::symbol(&f.symbol());
    let plain = match field {
        Field::Diameter => Expr::from(10),
        Field::Flutes => Expr::from(2) * of(Field::Diameter),
        Field::Reach => of(Field::Flutes),
        Field::Dead => of(Field::Diameter),
        Field::Ramp | Field::Plunges | Field::Corner | Field::Wear | Field::Tip | Field::Taper => {
            Expr::zero()
        }
        Field::Teeth => Expr::from(3),
        Field::Pocket | Field::Hand | Field::Rows => Expr::from(1),
        Field::Pitch | Field::Tooth => Expr::from(1),
        Field::Angle => Expr::from(90),
        Field::Nose => of(Field::Pitch) / Expr::from(2),
    };
    match (field, bound) {
        (Field::Reach, Some(bound)) => bound.max(of(Field::Flutes)),
        (_, Some(bound)) => bound,
        (_, None) => plain,
    }
}
