//! From a motion and its contract to every formula that must hold.
//!
//! Each rule is a function in a file of its own; all of them look at the same list of symbolic moves, made by
//! one walk over the body (`walk`). A formula is exact wherever that is possible: it fails for some values
//! exactly when the motion fails for them.

use std::collections::BTreeMap;
use std::rc::Rc;

use borewright_base::Span;
use borewright_motion::{
    Condition, CutterKind, Expr, Feature, Motion, Passes, Point, Promise, Symbol, decide, evaluate,
};
use borewright_number::Rational;

use crate::{ConcreteCheck, Formula, Kind, Obligation, Valuation};

mod apart;
mod calls;
mod chamfer;
mod cover;
mod deeper;
mod head;
mod job;
mod joints;
mod safe;
mod scope;
mod shape;
mod spiral;
mod taper;
mod thread;
pub(crate) mod tidy;
mod turns;
mod undercut;
mod walk;
mod winding;
mod within;

pub(crate) use calls::Start;
use scope::{Goal, Order, Scope};
use shape::Solid;
pub(crate) use tidy::{Monomial, Sum};
use walk::{At, Event, Height, Move, Place, Turns};

/// What a job's calls start from without anything in the job saying that it is there.
pub(crate) fn expected(motion: &Motion) -> Vec<Start> {
    /// No question is worth asking here.
    struct Nobody;
    impl Oracle for Nobody {
        fn holds(&self, _: &Formula) -> bool {
            false
        }
        fn witness(&self, _: &Formula) -> Option<Valuation> {
            None
        }
    }
    if motion.job.is_none() {
        return Vec::new();
    }
    let limits = Limits::default();
    let context = Context::of(motion, &limits, &Nobody, None);
    calls::expected(&context)
}

/// What a machine, or every machine, sets as limits to a motion.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Limits {
    /// Smallest radius of an arc, mm.
    pub smallest_arc: Rational,
    /// Greatest cutting feed, mm/min.
    pub greatest_feed: Option<Rational>,
    /// Greatest spindle speed, turns per minute.
    pub greatest_speed: Option<Rational>,
}

impl Default for Limits {
    /// An arc of 0.05 mm: common practice, no source.
    fn default() -> Self {
        let smallest_arc = Rational::ratio(1, 20).unwrap_or(Rational::ZERO);
        Self { smallest_arc, greatest_feed: None, greatest_speed: None }
    }
}

/// What the rules may ask of the engine, to choose how to phrase a formula.
///
/// A "no" is always safe: the rules then write what holds either way. A wrong "yes" would put a false hypothesis
/// or a wrong length into a formula, so whoever rechecks certificates asks for one of every "yes" as well.
/// Values only choose among sufficient formulas.
pub trait Oracle {
    /// Whether a formula is proved within a small budget.
    fn holds(&self, formula: &Formula) -> bool;
    /// Values that meet all hypotheses.
    fn witness(&self, formula: &Formula) -> Option<Valuation>;
}

/// Every obligation of a motion, in the order of its text.
#[must_use]
pub fn oblige(motion: &Motion, limits: &Limits, oracle: &dyn Oracle) -> Vec<Obligation> {
    let sample = oracle.witness(&Scope::of_head(motion).everything());
    let mut context = Context::of(motion, limits, oracle, sample);
    head::oblige(&mut context);
    safe::oblige(&mut context);
    context.features();
    calls::oblige(&mut context);
    job::oblige(&mut context);
    context.list
}

/// All that a motion's head says, as one formula with a goal that never holds.
pub(crate) fn head_of(motion: &Motion) -> Formula {
    Scope::of_head(motion).everything()
}

fn order_of(oracle: &dyn Oracle, scope: &Scope, passes: &Passes, turns: &Turns) -> Order {
    let difference = tidy::tidy(&(passes.to.clone() - passes.from.clone()));
    let (least, greatest) = scope.bounds(&difference);
    let holds = |c: Condition| oracle.holds(&scope.formula_without_counts(c, &turns.facts()));
    if least.is_some_and(|v| v.signum() >= 0) {
        Order::Up
    } else if greatest.is_some_and(|v| v.signum() <= 0)
        || holds(Condition::at_most(difference.clone(), Expr::zero()))
    {
        Order::Down
    } else if holds(Condition::at_least(difference, Expr::zero())) {
        Order::Up
    } else {
        Order::Either
    }
}

/// What the rules read, and the list they write.
pub(crate) struct Context<'a> {
    motion: &'a Motion,
    limits: &'a Limits,
    oracle: &'a dyn Oracle,
    /// What the head says.
    scope: Rc<Scope>,
    /// Values that meet all requirements: to tell which of several ways is the usual one.
    sample: Option<Valuation>,
    events: Vec<Event>,
    tops: Vec<Expr>,
    list: Vec<Obligation>,
}

/// An obligation in the making.
pub(crate) struct Draft {
    kind: Kind,
    why: String,
    /// What follows the routine's name in the id: `within/seat/arc-2`.
    id: String,
    promise: Option<&'static str>,
    because: Option<Span>,
    check: Option<ConcreteCheck>,
}

impl Draft {
    pub(crate) fn new(kind: Kind, id: impl Into<String>, why: impl Into<String>) -> Self {
        Self { kind, why: why.into(), id: id.into(), promise: None, because: None, check: None }
    }

    pub(crate) fn serving(mut self, promise: &Promise, because: Span) -> Self {
        (self.promise, self.because) = (Some(promise.name()), Some(because));
        self
    }

    pub(crate) fn because(mut self, span: Span) -> Self {
        self.because = Some(span);
        self
    }

    /// The formula is sufficient only: this decides at concrete values.
    pub(crate) fn checked(mut self, check: ConcreteCheck) -> Self {
        self.check = Some(check);
        self
    }
}

impl<'a> Context<'a> {
    /// The moves of a motion with what is known of them.
    fn of(motion: &'a Motion, limits: &'a Limits, oracle: &'a dyn Oracle, sample: Option<Valuation>) -> Self {
        let scope = Rc::new(Scope::of_head(motion));
        let order = |scope: &Scope, passes: &Passes, turns: &Turns| order_of(oracle, scope, passes, turns);
        let travel = motion.job.as_ref().map(|j| scope.flatten(&j.travel));
        let (events, _) = walk::walk(scope.clone(), motion, &motion.body, travel, &order);
        let (tops, list) = (Vec::new(), Vec::new());
        let mut context = Self { motion, limits, oracle, scope, sample, events, tops, list };
        context.tops = context.find_tops();
        context
    }
}

impl Context<'_> {
    /// Adds an obligation that arises at a step.
    pub(crate) fn add(&mut self, draft: Draft, at: &At, goal: impl Into<Goal>) {
        let facts = at.turns.facts();
        self.add_with(draft, &at.scope, &facts, at.span, goal);
    }

    /// Adds an obligation that arises anywhere.
    pub(crate) fn add_with(
        &mut self,
        draft: Draft,
        scope: &Scope,
        facts: &[crate::Hypothesis],
        span: Span,
        goal: impl Into<Goal>,
    ) {
        let goal = goal.into();
        let formula = scope.formula(goal.exact.clone(), facts);
        let easier_goal = goal.easier.map(|g| scope.formula_without_counts(g, facts));
        let mut easier: Vec<Formula> =
            easier_goal.into_iter().chain([scope.formula_without_counts(goal.exact, facts)]).collect();
        easier.retain(|f| *f != formula);
        let same = |o: &Obligation| {
            o.kind == draft.kind && o.promise.as_deref() == draft.promise && o.formula == formula
        };
        // The same thing said by two moves is proved once, for the first.
        if self.list.iter().any(same) && formula.goal != Condition::False {
            return;
        }
        let mut obligation = self.finished(draft, formula);
        (obligation.span, obligation.easier) = (span, easier);
        self.list.push(obligation);
    }

    fn finished(&self, draft: Draft, formula: Formula) -> Obligation {
        Obligation {
            id: self.unused(format!("{}/{}", self.motion.name, draft.id)),
            routine: self.motion.name.clone(),
            promise: draft.promise.map(str::to_owned),
            kind: draft.kind,
            why: draft.why,
            span: self.motion.span,
            because: draft.because,
            formula,
            easier: Vec::new(),
            check: draft.check,
        }
    }

    fn unused(&self, id: String) -> String {
        let taken = |id: &str| self.list.iter().any(|o| o.id == id);
        if !taken(&id) {
            return id;
        }
        (2..).map(|n| format!("{id}/{n}")).find(|id| !taken(id)).unwrap_or(id)
    }

    /// Moves, in order.
    pub(crate) fn moves(&self) -> Vec<Move> {
        let moves = self.events.iter().filter_map(|e| if let Event::Move(m) = e { Some(m) } else { None });
        moves.map(|m| (**m).clone()).collect()
    }

    /// Where a move stands among all moves.
    pub(crate) fn place_of(&self, m: &Move) -> Option<usize> {
        self.events.iter().position(|e| match e {
            Event::Move(other) => other.at.site == m.at.site && other.at.variant == m.at.variant,
            Event::Joint(_)
            | Event::Passes(..)
            | Event::Retract(..)
            | Event::Dwell(..)
            | Event::Let(_)
            | Event::Call(..)
            | Event::Tool(..)
            | Event::Spindle(..)
            | Event::Stop(_)
            | Event::ToolDone(_) => false,
        })
    }

    /// The loop of passes whose value has this name.
    pub(crate) fn passes(&self, value: &Symbol) -> Option<Passes> {
        self.events.iter().find_map(|e| match e {
            Event::Passes(p, _) => (p.value == *value).then(|| (**p).clone()),
            Event::Move(_)
            | Event::Joint(_)
            | Event::Retract(..)
            | Event::Dwell(..)
            | Event::Let(_)
            | Event::Call(..)
            | Event::Tool(..)
            | Event::Spindle(..)
            | Event::Stop(_)
            | Event::ToolDone(_) => None,
        })
    }

    /// `abs(e)`, or `e` or `-e` where its sign is known.
    pub(crate) fn magnitude(&self, scope: &Scope, e: &Expr) -> Expr {
        let sign = |c: Condition| self.oracle.holds(&scope.formula_without_counts(c, &[]));
        let (least, greatest) = scope.bounds(e);
        if least.is_some_and(|v| v.signum() >= 0) || sign(Condition::at_least(e.clone(), Expr::zero())) {
            e.clone()
        } else if greatest.is_some_and(|v| v.signum() <= 0)
            || sign(Condition::at_most(e.clone(), Expr::zero()))
        {
            tidy::tidy(&-e.clone())
        } else {
            e.clone().call(borewright_motion::Function::Abs)
        }
    }

    /// The value of an expression over the head's names at the sample.
    pub(crate) fn sampled(&self, scope: &Scope, e: &Expr) -> Option<f64> {
        let values: &BTreeMap<Symbol, Rational> = self.sample.as_ref()?;
        Some(evaluate(&scope.inline(e), values).ok()?.to_f64())
    }

    /// Whether a condition surely holds at the sample, in the second turn of the loops around.
    pub(crate) fn holds_at_sample(&self, at: &At, condition: &Condition) -> bool {
        let Some(mut values) = self.sample.clone() else { return false };
        let second = || Rational::from(2);
        for name in &at.loops {
            let Some(passes) = self.passes(name) else {
                values.insert(name.clone(), second());
                continue;
            };
            let [value, before, index, count] = scope::symbols_of(&passes);
            let at_sample = |e: &Expr| evaluate(&at.scope.inline(e), &values).ok()?.exact().cloned();
            let Some((from, to)) = at_sample(&passes.from).zip(at_sample(&passes.to)) else { return false };
            values.extend([(value, to), (before, from), (index, second()), (count, second())]);
        }
        decide(&at.scope.inline_condition(condition), &values) == Some(true)
    }

    /// Every made feature at each of its places, where their number is known.
    pub(crate) fn solids(&self) -> Vec<Solid> {
        self.motion.made.iter().flat_map(|m| self.solids_of(&m.feature)).collect()
    }

    pub(crate) fn solids_of(&self, feature: &Feature) -> Vec<Solid> {
        if !feature.pattern().is_empty() {
            return Vec::new();
        }
        let several = feature.at.len() > 1;
        let place = |(i, centre): (usize, &Point)| {
            let solid = Solid::of(feature, centre, &self.scope);
            let name = if several { format!("{}/place-{}", solid.name, i + 1) } else { solid.name.clone() };
            Solid { name, ..solid }
        };
        feature.at.iter().enumerate().map(place).collect()
    }

    /// Heights below which there may be metal: above all of them the air is free. Where nothing is made, the
    /// work's top face is at zero.
    pub(crate) fn tops(&self) -> &[Expr] {
        &self.tops
    }

    fn find_tops(&self) -> Vec<Expr> {
        let called = calls::placed(self);
        let by_calls = called.iter().flat_map(calls::tops);
        let own = self.motion.made.iter().map(|m| m.feature.shape.top().clone());
        let mut tops: Vec<Expr> = Vec::new();
        for top in own.chain(by_calls) {
            if !tops.iter().any(|t| tidy::same(t, &top)) {
                tops.push(top);
            }
        }
        if tops.is_empty() { vec![Expr::zero()] } else { tops }
    }

    fn features(&mut self) {
        for made in self.motion.made.clone() {
            let solids = self.solids_of(&made.feature);
            undercut::stays_in_it(self, &made);
            for (promise, because) in &made.promises {
                if let Promise::Within = promise {
                    within::oblige(self, &made.feature.name, promise, *because);
                }
                self.by_calls_only(&made.feature, promise, *because);
                self.flat_end(&made.feature, promise, *because);
                for solid in &solids {
                    self.feature(solid, promise, *because);
                }
                if let Promise::Apart(web) = promise {
                    apart::promised(self, &made.feature, web, promise, *because);
                }
            }
        }
        apart::unasked(self);
    }

    /// At a number of places that is a parameter, a feature is made by calls: no move can be at all of them.
    fn by_calls_only(&mut self, feature: &Feature, promise: &Promise, because: Span) {
        let called = self.events.iter().any(|e| matches!(e, Event::Call(..)));
        if feature.pattern().is_empty() || called || matches!(promise, Promise::Within | Promise::Apart(_)) {
            return;
        }
        let why = format!("`{}` is made by a call at its places, whose number is a parameter", feature.name);
        let id = format!("{}/{}/places", promise.name(), feature.name);
        self.refuse(Draft::new(Kind::Kept, id, why).serving(promise, because), because);
    }

    /// Floor and wall meet in a sharp corner: only a flat end leaves one.
    fn flat_end(&mut self, feature: &Feature, promise: &Promise, because: Span) {
        let called = self.events.iter().any(|e| matches!(e, Event::Call(..)));
        if called {
            return;
        }
        let thread = matches!(feature.shape, borewright_motion::Shape::Thread { .. });
        let chamfer = matches!(feature.shape, borewright_motion::Shape::Chamfer { .. });
        let cutting = self.moves().into_iter().filter(|m| m.path != walk::Path::Rapid);
        if chamfer && cutting.clone().any(|m| held(self, &m) != Some(CutterKind::Point)) {
            let why = "a chamfer is made by a pointed cutter";
            let id = format!("{}/{}/kind", promise.name(), feature.name);
            self.refuse(Draft::new(Kind::Cone, id, why).serving(promise, because), because);
        }
        let undercut = matches!(feature.shape, borewright_motion::Shape::Undercut { .. });
        if cutting.clone().any(|m| (held(self, &m) == Some(CutterKind::Disc)) != undercut) {
            let why =
                "a groove in the wall of a bore is made by a disc, and everything else by another cutter";
            let id = format!("{}/{}/kind", promise.name(), feature.name);
            self.refuse(Draft::new(Kind::Disc, id, why).serving(promise, because), because);
        }
        if cutting.into_iter().any(|m| thread::cuts(self, &m) != thread) {
            let why = "a thread is made by a thread cutter, and everything else by another";
            let id = format!("{}/{}/kind", promise.name(), feature.name);
            self.refuse(Draft::new(Kind::Teeth, id, why).serving(promise, because), because);
        }
        if thread
            || chamfer
            || undercut
            || !matches!(promise, Promise::Sized | Promise::Cleared)
            || self.cuts_with_flat_ends()
        {
            return;
        }
        let why = format!("a flat end reaches into the corner between wall and floor of `{}`", feature.name);
        let id = format!("{}/{}/flat", promise.name(), feature.name);
        self.refuse(Draft::new(Kind::Landing, id, why).serving(promise, because), because);
    }

    /// Every cutting move of the motion's own is made by a cutter with a flat end.
    fn cuts_with_flat_ends(&self) -> bool {
        let Some(job) = &self.motion.job else {
            return self.motion.demands.as_ref().is_some_and(|d| d.kind == CutterKind::Flat);
        };
        let flat = |m: &Move| {
            let held = m.at.tool.and_then(|i| job.tools.get(i));
            held.is_some_and(|tool| tool.kind == CutterKind::Flat)
        };
        self.moves().iter().filter(|m| m.path != walk::Path::Rapid).all(flat)
    }

    /// What cannot hold, whatever the values.
    fn refuse(&mut self, draft: Draft, span: Span) {
        let scope = self.scope.clone();
        self.add_with(draft, &scope, &[], span, Condition::False);
    }

    fn feature(&mut self, solid: &Solid, promise: &Promise, because: Span) {
        match promise {
            Promise::Sized | Promise::Cleared if solid.thread.is_some() => {
                thread::sized(self, solid, promise, because);
            }
            Promise::Climb | Promise::Conventional if solid.thread.is_some() => {
                thread::side(self, solid, promise, because);
            }
            Promise::Sized | Promise::Cleared if solid.cone.is_some() => {
                if let Some(cone) = &solid.cone {
                    chamfer::sized(self, solid, cone, promise, because);
                }
            }
            Promise::Sized => turns::oblige(self, solid, promise, because),
            Promise::Cleared => cover::oblige(self, solid, promise, because),
            Promise::Smooth => joints::smooth(self, solid, promise, because),
            Promise::Climb | Promise::Conventional => joints::side(self, solid, promise, because),
            Promise::Within | Promise::Apart(_) => {}
        }
    }
}

/// The kind of the cutter in the spindle.
pub(crate) fn held(context: &Context<'_>, m: &Move) -> Option<CutterKind> {
    match (&context.motion.job, m.at.tool) {
        (Some(job), Some(tool)) => job.tools.get(tool).map(|t| t.kind),
        (Some(_) | None, _) => context.motion.demands.as_ref().map(|d| d.kind),
    }
}

/// The height as an expression, where there is one.
pub(crate) fn height(place: &Place) -> Option<&Expr> {
    match &place.z {
        Height::At(z) => Some(z),
        Height::Unknown | Height::Retracted => None,
    }
}
