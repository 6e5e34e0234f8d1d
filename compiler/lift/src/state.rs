//! What is known between two blocks: modes, variables, facts, and what was done so far.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::RangeInclusive;
use std::sync::Arc;

use borewright_motion::{self as motion, Act, Condition, Expr};
use borewright_runtime::controller::Controller;
use borewright_runtime::state::{Axis, Registers, Spindle, Triple};
use borewright_runtime::step::{Memory, Stop};

use crate::know::Bounds;
use crate::term::{Claim, Term, banned};

/// What stands in a variable.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Slot {
    /// Nothing.
    Vacant,
    /// A value.
    Value(Expr),
    /// The value if the condition holds, else nothing.
    Maybe {
        /// When there is a value.
        given: Condition,
        /// The value.
        value: Expr,
    },
}

/// Variables of one call.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Frame {
    pub(crate) slots: BTreeMap<u32, Slot>,
    /// It goes back to a caller.
    pub(crate) called: bool,
    /// What was never set is vacant, since the call is known; else nobody knows: a caller may pass any letter.
    pub(crate) vacant: bool,
}

/// Everything that is known at one place of the text.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct State {
    pub(crate) registers: Registers<Term>,
    pub(crate) frames: Vec<Frame>,
    pub(crate) common: BTreeMap<u32, Slot>,
    pub(crate) facts: Vec<Condition>,
    pub(crate) bounds: Bounds,
    pub(crate) acts: Arc<Vec<Act>>,
    pub(crate) written: BTreeSet<u32>,
    /// Something was computed, or a way chosen, since the last act.
    pub(crate) computed: bool,
}

impl State {
    /// Takes in a fact.
    pub(crate) fn assume(&mut self, fact: Condition) {
        if let Condition::And(parts) = fact {
            parts.into_iter().for_each(|part| self.assume(part));
        } else if fact != Condition::True && !self.facts.contains(&fact) {
            self.bounds.learn(&fact);
            self.facts.push(fact);
        }
    }

    /// Puts other facts in place of these.
    pub(crate) fn replace_facts(&mut self, facts: Vec<Condition>) {
        (self.facts, self.bounds) = (Vec::new(), Bounds::default());
        facts.into_iter().for_each(|fact| self.assume(fact));
    }

    /// Whether a condition holds, where that can be told at a glance.
    pub(crate) fn decide(&self, condition: &Condition) -> Option<bool> {
        if self.facts.contains(condition) {
            return Some(true);
        }
        if self.facts.contains(&condition.negated()) {
            return Some(false);
        }
        self.bounds.decide(condition)
    }

    pub(crate) fn push(&mut self, act: Act) {
        self.computed = false;
        Arc::make_mut(&mut self.acts).push(act);
    }

    /// Whether the zero is anywhere but where it was, or where a work offset chosen here puts it.
    fn shifted(&self) -> bool {
        let Registers { shift, origin, work, .. } = &self.registers;
        let zero = |t: &Term| t.0 == Expr::zero();
        let moved = Axis::ALL.into_iter().any(|axis| !zero(shift.along(axis)));
        moved || (work.is_none() && *origin != named("origin"))
    }

    /// What holds besides the position.
    pub(crate) fn snapshot(&self) -> Arc<motion::State> {
        let registers = &self.registers;
        let speed = || registers.speed.as_ref().map(|s| s.0.clone());
        let turning = |counterclockwise| motion::Spindle::Turning { counterclockwise, speed: speed() };
        Arc::new(motion::State {
            spindle: registers.spindle.map(|s| match s {
                Spindle::Stopped => motion::Spindle::Stopped,
                Spindle::Clockwise => turning(false),
                Spindle::Counterclockwise => turning(true),
            }),
            coolant: (registers.mist, registers.flood),
            tool: registers.tool.as_ref().map(|t| t.0.clone()),
            length: registers.length_offset.filter(|on| *on).and(registers.h.as_ref()).map(|h| h.0.clone()),
            work: registers.work,
            computed: self.computed,
            bare: registers.length_offset == Some(false),
            compensation: registers.compensation,
            shifted: self.shifted(),
        })
    }
}

/// Coordinates by name.
pub(crate) fn named(group: &str) -> Triple<Term> {
    Triple::from_axes(|axis: Axis| {
        Term(Expr::named(&format!("{group}.{}", axis.letter().to_ascii_lowercase())))
    })
}

/// The variables as a step sees them.
pub(crate) struct View<'a> {
    pub(crate) state: &'a State,
    pub(crate) controller: &'a Controller,
    pub(crate) compensation: Option<u32>,
}

/// Whether a variable belongs to a call.
pub(crate) fn is_local(local: &[RangeInclusive<u32>], variable: u32) -> bool {
    local.iter().any(|range| range.contains(&variable))
}

/// Whether a variable holds a coordinate of a work offset.
fn is_offset(controller: &Controller, variable: u32) -> bool {
    let first = controller.variables.work_offsets;
    (first..first + 9 * 20).contains(&variable)
}

impl Memory<Term> for View<'_> {
    fn read(&self, variable: u32) -> Result<Option<Term>, Stop<Term>> {
        if self.compensation == Some(variable) {
            return Ok(Some(Term(match self.state.registers.compensation {
                Some(true) => Expr::named(COMPENSATION),
                Some(false) => Expr::from(40),
                None => banned("the cutter compensation that was active before"),
            })));
        }
        let frame = self.state.frames.last();
        let local = is_local(&self.controller.variables.local, variable);
        let slots = if local { frame.map(|f| &f.slots) } else { Some(&self.state.common) };
        match slots.and_then(|s| s.get(&variable)) {
            Some(Slot::Vacant) => Ok(None),
            Some(Slot::Value(value)) => Ok(Some(Term(value.clone()))),
            Some(Slot::Maybe { given, .. }) => Err(Stop::Undecided {
                condition: Claim(given.clone()),
                span: borewright_base::Span::default(),
            }),
            None if local && frame.is_some_and(|f| f.vacant) => Ok(None),
            None if is_offset(self.controller, variable) => {
                Ok(Some(Term(Expr::named(&format!("#{variable}")))))
            }
            // It may be vacant or not: whatever is asked of it hangs on that.
            None => {
                let why = format!("what was in #{variable} before the program began");
                let condition = Claim(Condition::not_equal(banned(&why), Expr::zero()));
                Err(Stop::Undecided { condition, span: borewright_base::Span::default() })
            }
        }
    }

    fn tool_length(&self, h: &Term) -> Result<Term, Stop<Term>> {
        Ok(Term(Expr::named(&format!("length.{}", h.0))))
    }

    fn cutter_offset(&self, _: &Term) -> Result<Term, Stop<Term>> {
        let span = borewright_base::Span::default();
        let message = "it switches cutter radius compensation on, whose offset is the operator's";
        Err(Stop::Fault(
            borewright_base::Diagnostic::error(borewright_runtime::errors::NOT_MODELLED, span, message)
                .into(),
        ))
    }

    fn home(&self, axis: Axis) -> Term {
        let name = match axis {
            Axis::X => "home.x",
            Axis::Y => "home.y",
            Axis::Z => HOME,
        };
        Term(Expr::named(name))
    }
}

/// The name of the code of cutter compensation that was on at entry: 41 or 42.
pub(crate) const COMPENSATION: &str = "entry.compensation";

/// The name of the machine's home in Z.
pub(crate) const HOME: &str = "home.z";

/// What differs between two states that came from one by a question answered yes and no.
struct Fork {
    common: Vec<Condition>,
    condition: Condition,
    either: Condition,
}

fn fork(a: &State, b: &State) -> Option<Fork> {
    let same = shared(a, b)?;
    let (left, right) = (a.facts.get(same..)?, b.facts.get(same..)?);
    let condition = left.first()?.clone();
    // Of `c` and `not c`, one need not be said beside the other where it stands alone: `c or not c and d` is `c or d`.
    let either = match (left, right) {
        ([_], [_]) => Condition::True,
        ([only], [_, rest @ ..]) | ([_, rest @ ..], [only]) => {
            Condition::any([only.clone(), Condition::all(rest.iter().cloned())])
        }
        (left, right) => {
            Condition::any([Condition::all(left.iter().cloned()), Condition::all(right.iter().cloned())])
        }
    };
    Some(Fork { common: a.facts.get(..same)?.to_vec(), condition, either })
}

/// How many facts two states share from the start, where they part with a question.
pub(crate) fn shared(a: &State, b: &State) -> Option<usize> {
    let same = a.facts.iter().zip(&b.facts).take_while(|(x, y)| x == y).count();
    (*b.facts.get(same)? == a.facts.get(same)?.negated()).then_some(same)
}

/// Gives a name to a value that hangs on a condition.
pub(crate) type Namer<'a> = &'a mut dyn FnMut(u32, &Condition, &Expr, &Expr) -> Expr;

/// One state for two at the same block, where both did the same until now; else both as they are.
pub(crate) fn join(a: State, b: State, name: Namer<'_>) -> Result<State, Box<(State, State)>> {
    let kinds = |s: &State| s.frames.iter().map(|f| (f.called, f.vacant)).collect::<Vec<_>>();
    let alike = a.registers == b.registers && a.acts == b.acts && kinds(&a) == kinds(&b);
    let Some(fork) = fork(&a, &b).filter(|_| alike) else { return Err(Box::new((a, b))) };
    let mut joined = a.clone();
    for (frame, (left, right)) in joined.frames.iter_mut().zip(a.frames.iter().zip(&b.frames)) {
        let unset = left.vacant.then_some(Slot::Vacant);
        match join_slots(&left.slots, &right.slots, unset.as_ref(), &fork.condition, name) {
            Some(slots) => frame.slots = slots,
            None => return Err(Box::new((a, b))),
        }
    }
    match join_slots(&a.common, &b.common, None, &fork.condition, name) {
        Some(slots) => joined.common = slots,
        None => return Err(Box::new((a, b))),
    }
    joined.computed |= b.computed;
    joined.written.extend(b.written);
    joined.replace_facts(fork.common);
    joined.assume(fork.either);
    Ok(joined)
}

fn join_slots(
    a: &BTreeMap<u32, Slot>,
    b: &BTreeMap<u32, Slot>,
    unset: Option<&Slot>,
    condition: &Condition,
    name: Namer<'_>,
) -> Option<BTreeMap<u32, Slot>> {
    let variables: BTreeSet<u32> = a.keys().chain(b.keys()).copied().collect();
    let mut joined = BTreeMap::new();
    for variable in variables {
        let unknown = Slot::Value(banned(&format!("#{variable}, which is set in one case only")));
        let of = |slots: &BTreeMap<u32, Slot>| {
            slots.get(&variable).or(unset).cloned().unwrap_or_else(|| unknown.clone())
        };
        let slot = match (of(a), of(b)) {
            (left, right) if left == right => left,
            (Slot::Value(yes), Slot::Value(no)) => Slot::Value(name(variable, condition, &yes, &no)),
            (Slot::Value(value), Slot::Vacant) => Slot::Maybe { given: condition.clone(), value },
            (Slot::Vacant, Slot::Value(value)) => Slot::Maybe { given: condition.negated(), value },
            (Slot::Maybe { .. } | Slot::Value(_) | Slot::Vacant, _) => return None,
        };
        joined.insert(variable, slot);
    }
    Some(joined)
}
