//! Calls: what the called routine asks for, and what its promises are worth to the caller.
//!
//! A called routine is proved on its own, so that its contract is all that counts here: its ranges,
//! requirements and demands must be met, and what it promises of its features is carried over to the features
//! of the caller.

use std::rc::Rc;

use borewright_base::Span;
use borewright_motion::{
    Bodies, Call, Clause, Condition, Expr, Feature, Instance, Point, Promise, Shape, Symbol,
};

use super::scope::Scope;
use super::shape::{Solid, strictly_within_disc, within_disc};
use super::tidy::tidy;
use super::walk::flat;
use super::{At, Context, Draft, Event};
use crate::{ConcreteCheck, HypothesisKind, Kind};

/// One call at one of its places.
#[derive(Debug, Clone)]
pub(crate) struct Placed {
    /// The call.
    pub call: Call,
    /// All of the routine there, in the caller's names.
    pub instance: Instance,
    /// The call's place in the text, with the instance's names.
    pub at: At,
    /// `call-1`, or `call-1/place-2`.
    pub site: String,
}

/// A feature that a call makes, with what is promised of it.
#[derive(Debug, Clone)]
pub(crate) struct MadeThere {
    pub solid: Solid,
    pub shape: Shape,
    pub centre: Point,
    /// The centre as it is written.
    pub written: Point,
    pub promises: Vec<Promise>,
    pub at: At,
    pub site: String,
    pub routine: String,
}

/// Every call at every place, in order.
pub(crate) fn placed(context: &Context<'_>) -> Vec<Placed> {
    let mut all: Vec<Placed> = Vec::new();
    let mut bodies = Bodies::default();
    for event in &context.events {
        let Event::Call(call, at) = event else { continue };
        for (i, place) in call.at.iter().enumerate() {
            let instance = call.instance(place, &mut bodies);
            let mut scope = (*at.scope).clone();
            for clause in &instance.clauses {
                if let Clause::Let(l) = clause {
                    scope.define(l, context.motion.inch);
                }
            }
            // What earlier calls made may be spoken of by the names that they gave it.
            if let Some(earlier) = all.last() {
                scope.know(&earlier.at.scope);
            }
            let site =
                if call.at.len() > 1 { format!("{}/place-{}", at.site, i + 1) } else { at.site.clone() };
            let at = At { scope: Rc::new(scope), site: site.clone(), ..at.clone() };
            all.push(Placed { call: (**call).clone(), instance, at, site });
        }
    }
    all
}

/// Every feature that calls make, in order.
pub(crate) fn made_there(placed: &[Placed]) -> Vec<MadeThere> {
    let mut all = Vec::new();
    for p in placed {
        for made in &p.instance.made {
            for (number, centre) in &numbered(&made.feature, &p.at.scope) {
                all.push(MadeThere {
                    solid: Solid::of(&made.feature, centre, &p.at.scope),
                    shape: made.feature.shape.clone(),
                    centre: flatten(&p.at.scope, centre),
                    written: centre.clone(),
                    promises: made.promises.iter().map(|(promise, _)| promise.clone()).collect(),
                    at: p.at.clone(),
                    site: format!("{}{number}", p.site),
                    routine: p.call.routine.name.clone(),
                });
            }
        }
    }
    all
}

/// More places of a grid than this are spoken of by their indices.
const MOST_NUMBERED: i64 = 36;

/// The places of a called routine's feature, those of a small grid one by one: only so can it be seen that one of them
/// lies beside something else.
fn numbered(feature: &Feature, scope: &Scope) -> Vec<(String, Point)> {
    let listed = || feature.at.iter().map(|p| (String::new(), p.clone())).collect();
    let [(column, columns), (row, rows)] = &feature.pattern()[..] else { return listed() };
    let number = |count: &Symbol| tidy(&scope.inline(&Expr::symbol(count))).as_number()?.to_i64();
    let (Some(columns), Some(rows)) = (number(columns), number(rows)) else { return listed() };
    if columns.checked_mul(rows).is_none_or(|all| !(1..=MOST_NUMBERED).contains(&all)) {
        return listed();
    }
    let one = |(i, j): (i64, i64), p: &Point| {
        let is = |s: &Symbol| {
            let number = [(column, i), (row, j)].into_iter().find(|(index, _)| *index == s)?.1;
            Some(Expr::number(number.into()))
        };
        (format!("/{i}-{j}"), p.substitute(&is))
    };
    let places = (1..=columns).flat_map(|i| (1..=rows).map(move |j| (i, j)));
    places.flat_map(|place| feature.at.iter().map(move |p| one(place, p))).collect()
}

fn flatten(scope: &Scope, p: &Point) -> Point {
    Point { x: scope.flatten(&p.x), y: scope.flatten(&p.y) }
}

/// Whether there are calls: promises that moves alone cannot keep are then kept by the calls.
pub(crate) fn keeps_by_calls(context: &Context<'_>, _promise: &Promise) -> bool {
    context.events.iter().any(|e| matches!(e, Event::Call(..)))
}

/// Adds the obligations of every call.
pub(crate) fn oblige(context: &mut Context<'_>) {
    let placed = placed(context);
    for p in &placed {
        asked_of_caller(context, p);
    }
    let made = made_there(&placed);
    for (i, there) in made.iter().enumerate() {
        pilot(context, there, made.get(..i).unwrap_or_default());
    }
    for (feature, promises) in
        context.motion.made.iter().map(|m| (m.feature.clone(), m.promises.clone())).collect::<Vec<_>>()
    {
        for (promise, because) in &promises {
            carried_over(context, &feature, promise, *because, &made);
        }
    }
    super::apart::called(context, &made);
}

/// Ranges, requirements and demands, with the arguments put in.
fn asked_of_caller(context: &mut Context<'_>, p: &Placed) {
    let routine = &p.call.routine;
    let facts = p.at.turns.facts();
    let given = |s: &Symbol| p.call.arguments.iter().any(|(name, _)| name == s);
    for (parameter, range) in routine.parameters.iter().zip(&p.instance.ranges) {
        // That a default lies in its range is proved of the routine itself.
        if given(&parameter.symbol) && range.condition != Condition::True {
            let id = format!("{}/argument/{}", p.site, parameter.symbol);
            let why = format!("`{}` lies in the range that `{}` admits", parameter.symbol, routine.name);
            let draft = Draft::new(Kind::Argument, id, why).because(range.span);
            context.add(draft, &p.at, range.condition.clone());
        }
    }
    let mut scope = (*p.at.scope).clone();
    let mut number = 0;
    for clause in &p.instance.clauses {
        let Clause::Require(r) = clause else { continue };
        number += 1;
        let id = format!("{}/requires/{number}", p.site);
        // With the numbers put in, the condition of a job's call is no more than true or false.
        let asked = match &r.condition {
            Condition::True | Condition::False => String::new(),
            condition @ (Condition::Compare(..)
            | Condition::And(_)
            | Condition::Or(_)
            | Condition::Not(_)) => {
                format!(": {condition}")
            }
        };
        let why = format!("`{}` is called with values that it admits{asked}", routine.name);
        let draft = Draft::new(Kind::Requirement, id, why).because(r.span);
        context.add_with(draft, &scope, &facts, p.at.span, r.condition.clone());
        scope.assume(r.condition.clone(), HypothesisKind::Requirement, Some(r.span));
    }
    cutter_demands(context, p);
}

fn cutter_demands(context: &mut Context<'_>, p: &Placed) {
    let Some(demands) = &p.instance.demands else { return };
    let held = match (&context.motion.job, super::job::tool_of(&p.at)) {
        (Some(job), Some(tool)) => job.tools.get(tool).map(|t| t.kind),
        (Some(_), None) => None,
        (None, _) => context.motion.demands.as_ref().map(|d| d.kind),
    };
    let why = format!("the cutter is of the kind that `{}` demands", p.call.routine.name);
    let draft = Draft::new(Kind::Cutter, format!("{}/cutter/kind", p.site), why).because(demands.span);
    context.add(draft, &p.at, Condition::from_bool(held == Some(demands.kind)));
    if held.is_none() {
        return;
    }
    for rule in &demands.rules {
        let id = format!("{}/cutter/{}", p.site, rule.field.name());
        let condition = rule.condition();
        let why = format!("the cutter is what `{}` demands: {condition}", p.call.routine.name);
        let draft = Draft::new(Kind::Cutter, id, why).because(rule.span);
        context.add(draft, &p.at, condition);
    }
}

/// What a call expects to be free already, round about one centre.
struct Free {
    centre: Point,
    /// Diameter: of a hole, the free inside; of a blank, the free outside.
    diameter: Expr,
    floor: Expr,
    top: Expr,
    /// Whether its inside is free.
    hole: bool,
}

impl Free {
    fn new(centre: &Point, diameter: &Expr, floor: &Expr, top: &Expr, hole: bool) -> Self {
        Self {
            centre: centre.clone(),
            diameter: diameter.clone(),
            floor: floor.clone(),
            top: top.clone(),
            hole,
        }
    }

    /// What is free before a feature is made.
    fn before(shape: &Shape, centre: &Point) -> Option<Self> {
        let free = |diameter, floor, top, hole| Self::new(centre, diameter, floor, top, hole);
        match shape {
            Shape::Hole { pilot, floor, top, .. } => Some(free(pilot.as_ref()?, floor, top, true)),
            Shape::Boss { blank, floor, top, .. } => Some(free(blank, floor, top, false)),
            Shape::Face { diameter, floor, top } => Some(free(diameter, floor, top, false)),
            Shape::Chamfer { inside, diameter, floor, top, .. } => Some(free(diameter, floor, top, *inside)),
            Shape::Undercut { bore, bottom, top, .. } => Some(free(bore, bottom, top, true)),
            Shape::Thread { inside, major, minor, bottom, top, .. } => {
                Some(free(if *inside { minor } else { major }, bottom, top, *inside))
            }
            Shape::Ring { .. } => None,
        }
    }

    /// What is free when a feature has been cleared.
    fn after(shape: &Shape, centre: &Point) -> Option<Self> {
        let free = |diameter, floor, top, hole| Self::new(centre, diameter, floor, top, hole);
        match shape {
            Shape::Hole { diameter, floor, top, .. } => Some(free(diameter, floor, top, true)),
            Shape::Boss { diameter, floor, top, .. } | Shape::Face { diameter, floor, top } => {
                Some(free(diameter, floor, top, false))
            }
            Shape::Chamfer { inside, diameter, floor, top, .. } => Some(free(diameter, floor, top, *inside)),
            Shape::Undercut { bore, bottom, top, .. } => Some(free(bore, bottom, top, true)),
            Shape::Thread { inside, major, minor, bottom, top, .. } => {
                Some(free(if *inside { minor } else { major }, bottom, top, *inside))
            }
            Shape::Ring { .. } => None,
        }
    }

    /// All that is asked for is free.
    fn grants(&self, asked: &Self) -> Condition {
        if self.hole != asked.hole {
            return Condition::False;
        }
        let (wide, narrow) = if self.hole { (self, asked) } else { (asked, self) };
        let top = if self.hole {
            Condition::at_least(tidy(&(self.top.clone() - asked.top.clone())), Expr::zero())
        } else {
            Condition::True
        };
        Condition::all([
            Condition::at_least(wide.diameter.clone(), narrow.diameter.clone()),
            Condition::at_most(self.floor.clone(), asked.floor.clone()),
            top,
        ])
    }
}

/// The hole, or the air around a blank, that a call starts from was made before, or was there.
fn pilot(context: &mut Context<'_>, there: &MadeThere, before: &[MadeThere]) {
    let Some(asked) = Free::before(&there.shape, &there.centre) else { return };
    let ways: Vec<Condition> = granting(context, there, before).iter().map(|f| f.grants(&asked)).collect();
    if ways.is_empty() && context.motion.job.is_some() {
        // Nothing is said of it there: that it is there is an assumption, printed in the program.
        return;
    }
    let (size, routine) = (&asked.diameter, &there.routine);
    let why = if asked.hole {
        format!("the hole of {size} mm that `{routine}` starts from is there")
    } else {
        format!("nothing stands any more outside the blank of {size} mm that `{routine}` starts from")
    };
    let draft = Draft::new(Kind::Pilot, format!("{}/pilot", there.site), why).because(there.solid.span);
    context.add(draft, &there.at, Condition::any(ways));
}

/// What is free about the place of a call before it.
fn granting(context: &Context<'_>, there: &MadeThere, before: &[MadeThere]) -> Vec<Free> {
    let scope = &there.at.scope;
    let cleared = |e: &&MadeThere| e.at.certain && e.promises.contains(&Promise::Cleared);
    let here = |e: &&MadeThere| same_place(context, scope, e, there);
    let earlier = before.iter().filter(cleared).filter(here);
    let made = earlier.filter_map(|e| Free::after(&e.shape, &there.centre));
    let known = free_before(context, there).into_iter();
    let said = made.chain(known.filter(|f| scope.same_point(&f.centre, &there.centre)));
    // A hole says nothing of the blank around it, nor a blank of the hole in it.
    let hole = Free::before(&there.shape, &there.centre).is_some_and(|asked| asked.hole);
    said.filter(|f| f.hole == hole).collect()
}

/// What a call starts from though nothing says that it is there.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Start {
    /// A hole, else a round blank.
    pub(crate) hole: bool,
    /// Its diameter.
    pub(crate) size: Expr,
    pub(crate) centre: Point,
    /// What is called there.
    pub(crate) routine: String,
}

/// What calls start from though nothing says that it is there.
pub(crate) fn expected(context: &Context<'_>) -> Vec<Start> {
    let made = made_there(&placed(context));
    let mut starts: Vec<Start> = Vec::new();
    for (i, there) in made.iter().enumerate() {
        let Some(asked) = Free::before(&there.shape, &there.centre) else { continue };
        if !granting(context, there, made.get(..i).unwrap_or_default()).is_empty() {
            continue;
        }
        let size = there.at.scope.inline(&asked.diameter);
        let routine = there.routine.clone();
        let start = Start { hole: asked.hole, size, centre: there.centre.clone(), routine };
        // A blank is the same for all that is made of it.
        let same = |s: &Start| {
            s.hole == start.hole
                && s.size == start.size
                && s.centre == start.centre
                && (!s.hole || s.routine == start.routine)
        };
        if !starts.iter().any(same) {
            starts.push(start);
        }
    }
    starts
}

/// Whether two calls make something at one place, or in turn at each of the same counted places.
pub(crate) fn same_place(context: &Context<'_>, scope: &Scope, a: &MadeThere, b: &MadeThere) -> bool {
    let (of_a, of_b) = (counters_of_places(&a.at), counters_of_places(&b.at));
    let mut place = a.centre.clone();
    if of_a.len() == of_b.len() {
        let count = |s: &Symbol| Some(tidy(&scope.inline(&super::apart::count_of(&context.motion.body, s)?)));
        let pairs: Vec<(&Symbol, &Symbol)> = of_a.into_iter().zip(of_b).collect();
        if pairs.iter().any(|(i, j)| i != j && count(i) != count(j)) {
            return false;
        }
        let to = |s: &Symbol| pairs.iter().find(|(i, _)| *i == s).map(|(_, j)| Expr::symbol(j));
        place = place.substitute(&to);
    }
    scope.same_point(&place, &b.centre)
}

/// The counters of the loops over places around a call, the outermost first.
fn counters_of_places(at: &At) -> Vec<&Symbol> {
    at.loops.iter().filter(|s| s.counts_places()).collect()
}

/// What the head says is free: given holes, pilots of what is made, and around its blanks.
fn free_before(context: &Context<'_>, there: &MadeThere) -> Vec<Free> {
    let scope = &there.at.scope;
    let mut free = Vec::new();
    for feature in &context.motion.given {
        for at in places(context, feature, &there.at) {
            free.extend(Free::after(&feature.shape, &flatten(scope, &at)).filter(|f| f.hole));
        }
    }
    for made in &context.motion.made {
        // A pilot hole that is made here, as another feature, is not there before.
        let dug = context.solids_of(&made.feature).iter().any(|s| super::safe::dug_here(context, s));
        if dug && matches!(made.feature.shape, Shape::Hole { .. }) {
            continue;
        }
        for at in places(context, &made.feature, &there.at) {
            free.extend(Free::before(&made.feature.shape, &flatten(scope, &at)));
        }
    }
    free
}

/// Tops of what a call makes, in the caller's own names.
pub(crate) fn tops(placed: &Placed) -> Vec<Expr> {
    let top = |made: &borewright_motion::Made| tidy(&placed.at.scope.inline(made.feature.shape.top()));
    placed.instance.made.iter().map(top).collect()
}

/// The places of a feature; of a pattern, the one that goes with a call's turn of its loops over places.
pub(crate) fn places(context: &Context<'_>, feature: &Feature, at: &At) -> Vec<Point> {
    let pattern = feature.pattern();
    // A loop over fewer places is not one over all of them.
    let over_all = |counter: &Symbol, count: &Symbol| {
        let all = tidy(&at.scope.inline(&Expr::symbol(count)));
        let turns = super::apart::count_of(&context.motion.body, counter);
        turns.is_some_and(|turns| tidy(&at.scope.inline(&turns)) == all)
    };
    // The innermost loops are those over the places of this call, as many as the pattern has indices.
    let around = counters_of_places(at);
    let inner =
        around.len().checked_sub(pattern.len()).and_then(|outer| around.get(outer..)).unwrap_or_default();
    let goes_with = |((index, count), counter): (&(Symbol, Symbol), &&Symbol)| {
        over_all(counter, count).then(|| (index.clone(), Expr::symbol(counter)))
    };
    let counters: Vec<(Symbol, Expr)> = pattern.iter().zip(inner).filter_map(goes_with).collect();
    let to = |s: &Symbol| counters.iter().find(|(index, _)| index == s).map(|(_, counter)| counter.clone());
    feature.at.iter().map(|p| p.substitute(&to)).collect()
}

/// One promise of the caller, by the promises of what it calls.
fn carried_over(
    context: &mut Context<'_>,
    feature: &Feature,
    promise: &Promise,
    because: Span,
    made: &[MadeThere],
) {
    if made.is_empty() {
        return;
    }
    match promise {
        Promise::Within => inside(context, feature, promise, because, made),
        Promise::Sized => sized(context, feature, promise, because, made),
        Promise::Cleared => cleared(context, feature, promise, because, made),
        Promise::Smooth | Promise::Climb | Promise::Conventional => {
            same_or_off(context, feature, promise, because, made);
        }
        Promise::Apart(_) => {}
    }
}

/// `feature` at the place that goes with a call there.
fn target(context: &Context<'_>, feature: &Feature, there: &MadeThere) -> Option<Solid> {
    let scope = &there.at.scope;
    let places = places(context, feature, &there.at);
    let concentric = places.iter().find(|p| scope.same_point(&flatten(scope, p), &there.centre));
    Some(Solid::of(feature, concentric?, scope))
}

/// Every made feature with its shape, at the places that go with a call there.
fn targets(context: &Context<'_>, there: &MadeThere) -> Vec<(Solid, Shape)> {
    let scope = &there.at.scope;
    let made = context.motion.made.iter();
    made.flat_map(|m| {
        let solid = |p: Point| Solid::of(&m.feature, &flatten(scope, &p), scope);
        places(context, &m.feature, &there.at).into_iter().map(solid).map(|s| (s, m.feature.shape.clone()))
    })
    .collect()
}

/// What the call removes lies within what the caller makes, and the call knows how high the work stands.
fn inside(
    context: &mut Context<'_>,
    feature: &Feature,
    promise: &Promise,
    because: Span,
    made: &[MadeThere],
) {
    let tops = context.tops().to_vec();
    for there in made {
        let mut all = targets(context, there);
        let same = |(s, _): &(Solid, Shape)| there.at.scope.same_point(&s.centre, &there.centre);
        if all.iter().any(same) {
            all.retain(same);
        }
        let kept = there.promises.contains(&Promise::Within);
        let knows =
            |top: &Expr| Condition::at_least(tidy(&(there.solid.face().clone() - top.clone())), Expr::zero());
        let within = all.iter().map(|(solid, shape)| contains(solid, shape, there));
        let within = Condition::any(within.collect::<Vec<_>>());
        let kept_too = Condition::from_bool(kept);
        let goal = Condition::all(tops.iter().map(knows).chain([within, kept_too]));
        let why = if kept {
            format!("what `{}` removes lies within `{}`", there.routine, feature.name)
        } else {
            format!("`{}` promises to stay within what it makes", there.routine)
        };
        let id = format!("within/{}/{}", feature.name, there.site);
        let draft = Draft::new(Kind::Inside, id, why).serving(promise, because);
        context.add(draft, &there.at, goal);
    }
}

/// The outer feature holds all that the inner one removes below the outer one's top.
fn contains(outer: &Solid, shape: &Shape, there: &MadeThere) -> Condition {
    let inner = &there.solid;
    let offset = flat(&there.centre.minus(&outer.centre));
    let at_least = |a: &Expr, b: &Expr| Condition::at_least(tidy(&(a.clone() - b.clone())), Expr::zero());
    let deepest = inner.bottom();
    let heights = [at_least(deepest, &outer.floor), at_least(inner.face(), &outer.top)];
    if outer.thread.is_some() || outer.cone.is_some() || outer.slot.is_some() {
        return same_walls(outer, there);
    }
    let far = within_disc(&offset, &tidy(&(outer.outer.clone() - inner.outer.clone())));
    let keeps_inner = match (shape, &there.shape) {
        (Shape::Hole { .. } | Shape::Face { .. }, _) => Condition::True,
        (Shape::Boss { .. }, Shape::Boss { .. }) | (Shape::Ring { .. }, Shape::Ring { .. }) => {
            within_disc(&offset, &tidy(&(inner.inner.clone() - outer.inner.clone())))
        }
        (
            Shape::Boss { .. }
            | Shape::Ring { .. }
            | Shape::Thread { .. }
            | Shape::Chamfer { .. }
            | Shape::Undercut { .. },
            _,
        ) => Condition::False,
    };
    // Around a blank there is nothing that could be cut.
    let far = if matches!(shape, Shape::Boss { .. } | Shape::Face { .. }) { Condition::True } else { far };
    Condition::all(heights.into_iter().chain([far, keeps_inner]))
}

/// A call at that place makes the same wall down to the same floor.
fn sized(context: &mut Context<'_>, feature: &Feature, promise: &Promise, because: Span, made: &[MadeThere]) {
    for_each_place(context, feature, made, &|context, number, here| {
        let id = format!("sized/{}{number}", feature.name);
        let why = format!("a call brings the wall of `{}` to size, down to the floor", feature.name);
        let draft = |id: String| {
            Draft::new(Kind::Kept, id, why.clone())
                .serving(promise, because)
                .checked(ConcreteCheck::Undersize)
        };
        let is_sized = |t: &&&MadeThere| t.at.certain && t.promises.contains(&Promise::Sized);
        let sized: Vec<&&MadeThere> = here.iter().filter(is_sized).collect();
        let goals = sized.iter().filter_map(|t| Some(same_walls(&target(context, feature, t)?, t)));
        let goal = Condition::any(goals.collect::<Vec<_>>());
        match sized.last().or(here.last().as_ref()) {
            Some(last) => context.add(draft(id), &last.at, goal),
            None => {
                let scope = context.scope.clone();
                context.add_with(draft(id), &scope, &[], because, Condition::False);
            }
        }
    });
}

/// The same walls, floor, and at least the same top.
fn same_walls(outer: &Solid, there: &MadeThere) -> Condition {
    let equal = |a: &Expr, b: &Expr| Condition::equal(tidy(&(a.clone() - b.clone())), Expr::zero());
    let inner = &there.solid;
    let walls = outer.walls.iter().map(|wall| {
        let same = inner.walls.iter().find(|w| w.inside == wall.inside);
        same.map_or(Condition::False, |w| equal(&w.radius, &wall.radius))
    });
    let top = Condition::at_least(tidy(&(inner.top.clone() - outer.top.clone())), Expr::zero());
    let threads = match (&outer.thread, &inner.thread) {
        (None, None) => Condition::True,
        (Some(a), Some(b)) if a.inside == b.inside => Condition::all([
            equal(&a.pitch, &b.pitch),
            equal(&a.hand, &b.hand),
            equal(&a.taper, &b.taper),
            Condition::at_least(tidy(&(a.error.clone() - b.error.clone())), Expr::zero()),
            Condition::at_least(tidy(&(a.lean.clone() - b.lean.clone())), Expr::zero()),
            equal(&outer.inner, &inner.inner),
            equal(&outer.outer, &inner.outer),
            Condition::at_least(tidy(&(b.bottom.clone() - a.bottom.clone())), Expr::zero()),
        ]),
        (Some(_) | None, _) => Condition::False,
    };
    let cones = match (&outer.cone, &inner.cone) {
        (None, None) => Condition::True,
        (Some(a), Some(b)) if a.inside == b.inside => Condition::all([
            equal(&a.half, &b.half),
            equal(&inner.top, &outer.top),
            equal(&outer.inner, &inner.inner),
            equal(&outer.outer, &inner.outer),
        ]),
        (Some(_) | None, _) => Condition::False,
    };
    let slots = match (&outer.slot, &inner.slot) {
        (None, None) => Condition::True,
        (Some(a), Some(b)) => Condition::all([
            equal(&inner.top, &outer.top),
            equal(&outer.inner, &inner.inner),
            equal(&a.face, &b.face),
            Condition::at_least(tidy(&(b.bottom.clone() - a.bottom.clone())), Expr::zero()),
        ]),
        (Some(_) | None, _) => Condition::False,
    };
    Condition::all(walls.chain([equal(&inner.floor, &outer.floor), top, threads, cones, slots]))
}

/// The calls at one place clear it one after another, each from what the one before has cleared.
fn cleared(
    context: &mut Context<'_>,
    feature: &Feature,
    promise: &Promise,
    because: Span,
    made: &[MadeThere],
) {
    for_each_place(context, feature, made, &|context, number, here| {
        let draft = |word: &str, why: String| {
            let id = format!("cleared/{}{number}/{word}", feature.name);
            Draft::new(Kind::Kept, id, why).serving(promise, because).checked(ConcreteCheck::Standing)
        };
        let clears = |t: &&&MadeThere| t.at.certain && t.promises.contains(&Promise::Cleared);
        let mut clearing: Vec<&&MadeThere> = here.iter().filter(clears).collect();
        // What does not go down to the floor clears something else.
        let deep = |t: &&&MadeThere| {
            let z = |solid: &Solid| context.sampled(&t.at.scope, &solid.floor);
            let floors = target(context, feature, t).and_then(|own| z(&t.solid).zip(z(&own)));
            floors.is_none_or(|(own, asked)| own <= asked + 1e-9)
        };
        if clearing.iter().any(&deep) {
            clearing.retain(|t| deep(t));
        }
        // From the middle outwards, in whatever order they are called.
        let inner = |t: &MadeThere| context.sampled(&t.at.scope, &t.solid.inner).unwrap_or(0.0);
        clearing.sort_by(|a, b| inner(a).total_cmp(&inner(b)));
        let Some((last, solid)) = clearing.last().and_then(|t| Some((**t, target(context, feature, t)?)))
        else {
            let scope = context.scope.clone();
            let why = format!("a call clears `{}`", feature.name);
            context.add_with(draft("calls", why), &scope, &[], because, Condition::False);
            return;
        };
        let at_least = |a: &Expr, b: &Expr| Condition::at_least(tidy(&(a.clone() - b.clone())), Expr::zero());
        let mut reached = solid.inner.clone();
        for there in &clearing {
            let inner = &there.solid;
            let why = format!("`{}` takes up where the pilot or the call before ended", there.routine);
            let goal = Condition::all([
                at_least(&reached, &inner.inner),
                at_least(&solid.floor, &inner.floor),
                at_least(&inner.top, &solid.top),
            ]);
            context.add(draft(&there.site, why), &there.at, goal);
            // The next call knows nothing of the names of this one.
            reached = there.at.scope.inline_beyond(&context.scope, &inner.outer);
        }
        let why = format!("the last call reaches the wall of `{}`", feature.name);
        context.add(draft("reaches", why), &last.at, at_least(&reached, &solid.outer));
    });
}

/// A call either makes the same wall and promises the same of it, or stays off the wall.
fn same_or_off(
    context: &mut Context<'_>,
    feature: &Feature,
    promise: &Promise,
    because: Span,
    made: &[MadeThere],
) {
    for there in made {
        let Some(solid) = target(context, feature, there) else {
            keeps_off(context, feature, promise, because, there);
            continue;
        };
        let kept = there.promises.contains(promise);
        let climbing = matches!(promise, Promise::Climb | Promise::Conventional);
        // A chip forms on inner ways round too: there the promise alone counts.
        if kept && climbing {
            continue;
        }
        let off = solid.walls.iter().map(|wall| {
            let same = there.solid.walls.iter().find(|w| w.inside == wall.inside);
            let Some(own) = same else { return Condition::False };
            let offset = flat(&there.centre.minus(&wall.centre));
            let (outer, inner) = if wall.inside { (wall, own) } else { (own, wall) };
            strictly_within_disc(&offset, &tidy(&(outer.radius.clone() - inner.radius.clone())))
        });
        let stays = Condition::from_bool(there.promises.contains(&Promise::Within));
        let off = Condition::all(off.collect::<Vec<_>>().into_iter().chain([stays]));
        let same = if kept { same_walls(&solid, there) } else { Condition::False };
        let id = format!("{}/{}/{}", promise.name(), feature.name, there.site);
        let why = format!(
            "`{}` keeps off the wall of `{}`, or promises the same of it",
            there.routine, feature.name
        );
        let draft = Draft::new(Kind::Kept, id, why).serving(promise, because);
        context.add(draft, &there.at, Condition::any([off, same]));
    }
}

/// A call at another place stays off the walls of the feature at all of its places.
fn keeps_off(
    context: &mut Context<'_>,
    feature: &Feature,
    promise: &Promise,
    because: Span,
    there: &MadeThere,
) {
    let scope = there.at.scope.clone();
    let mut off = vec![Condition::from_bool(there.promises.contains(&Promise::Within))];
    for place in places(context, feature, &there.at) {
        let solid = Solid::of(feature, &flatten(&scope, &place), &scope);
        let own = &there.solid.outer;
        for wall in &solid.walls {
            let offset = flat(&there.centre.minus(&wall.centre));
            let beyond = strictly_within_disc(&offset, &tidy(&(wall.radius.clone() + own.clone()))).negated();
            let within = strictly_within_disc(&offset, &tidy(&(wall.radius.clone() - own.clone())));
            off.push(Condition::any([beyond, within]));
        }
    }
    let id = format!("{}/{}/{}", promise.name(), feature.name, there.site);
    let why = format!("`{}` keeps off the wall of `{}`", there.routine, feature.name);
    let draft = Draft::new(Kind::Kept, id, why).serving(promise, because);
    context.add(draft, &there.at, Condition::all(off));
}

/// Calls what `act` does for each place of the feature, with what calls make there and the place's number.
fn for_each_place(
    context: &mut Context<'_>,
    feature: &Feature,
    made: &[MadeThere],
    act: &dyn Fn(&mut Context<'_>, &str, &[&MadeThere]),
) {
    for (i, _) in feature.at.iter().enumerate() {
        let here: Vec<&MadeThere> = made
            .iter()
            .filter(|t| {
                let scope = &t.at.scope;
                let place = places(context, feature, &t.at).into_iter().nth(i);
                place.is_some_and(|p| scope.same_point(&flatten(scope, &p), &t.centre))
            })
            .collect();
        let number = if feature.at.len() > 1 { format!("/place-{}", i + 1) } else { String::new() };
        act(context, &number, &here);
    }
}
