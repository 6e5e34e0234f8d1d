//! The head: some values meet all requirements, defaults lie in their ranges, divisors and roots are well
//! defined.

use borewright_base::Span;
use borewright_motion::{
    Action, Clause, Condition, Expr, Feature, Function, Motion, Node, Parameter, Point, Shape, Step,
    all_steps,
};

use super::scope::Scope;
use super::{Context, Draft, Event};
use crate::{Hypothesis, HypothesisKind, Kind};

/// Adds the obligations of the head.
pub(crate) fn oblige(context: &mut Context<'_>) {
    witness(context);
    for parameter in &context.motion.parameters {
        default(context, parameter);
    }
    definitions(context);
}

/// Some values meet all requirements. The goal never holds: a counterexample is the witness.
fn witness(context: &mut Context<'_>) {
    let draft = Draft::new(Kind::Witness, "witness", "some values meet all requirements");
    let formula = context.scope.everything();
    let mut obligation = context.finished(draft, formula);
    obligation.span = context.motion.span;
    context.list.push(obligation);
}

/// `lead: length in 0.2mm..75mm = (bore - tool) / 4`
fn default(context: &mut Context<'_>, parameter: &Parameter) {
    let Some(default) = &parameter.default else { return };
    let name = &parameter.symbol;
    let draft = Draft::new(
        Kind::Default,
        format!("default/{name}"),
        format!("the default of `{name}` lies in its range whenever the other requirements are met"),
    )
    .because(parameter.span);
    let goal = Condition::all([
        Condition::at_least(default.clone(), parameter.least.clone().into()),
        Condition::at_most(default.clone(), parameter.greatest.clone().into()),
    ]);
    let mut scope = Scope::default();
    let motion = context.motion;
    motion.parameters.iter().filter(|p| p.symbol != *name).for_each(|p| scope.parameter(p));
    for clause in &motion.head {
        match clause {
            Clause::Let(l) => scope.define(l, motion.inch),
            Clause::Require(r) => {
                let uses = scope.inline_condition(&r.condition).symbols().contains(name);
                if !uses {
                    scope.assume(r.condition.clone(), HypothesisKind::Requirement, Some(r.span));
                }
            }
        }
    }
    context.add_with(draft, &scope, &[], parameter.span, goal);
}

/// Every divisor, root and the like, with what is known where it stands.
fn definitions(context: &mut Context<'_>) {
    let motion = context.motion;
    let mut scope = Scope::default();
    for parameter in &motion.parameters {
        if let Some(default) = &parameter.default {
            let known = Scope::of_head(motion);
            partial(context, &known, &[], default, parameter.span);
        }
    }
    motion.parameters.iter().for_each(|p| scope.parameter(p));
    for clause in &motion.head {
        match clause {
            Clause::Let(l) => {
                partial(context, &scope, &[], &l.value, l.span);
                scope.define(l, motion.inch);
            }
            Clause::Require(r) => {
                let mut all = Vec::new();
                r.condition.walk(&mut |e| all.push(e.clone()));
                all.iter().for_each(|e| node(context, &scope, &[], e, r.span));
                scope.assume(r.condition.clone(), HypothesisKind::Requirement, Some(r.span));
            }
        }
    }
    let whole = context.scope.clone();
    let demands = motion.demands.iter().flat_map(|d| &d.rules);
    demands.for_each(|d| partial(context, &scope, &[], &d.value, d.span));
    for feature in motion.made.iter().map(|m| &m.feature).chain(&motion.given) {
        let places = feature.at.iter().flat_map(|p| [&p.x, &p.y]);
        for e in shape_exprs(&feature.shape).into_iter().chain(places) {
            partial(context, &whole, &[], e, feature.span);
        }
    }
    motion.made.iter().for_each(|made| possible(context, &whole, &made.feature));
    in_body(context, motion);
}

/// What is made is a volume: promises about an empty one would say nothing.
fn possible(context: &mut Context<'_>, scope: &Scope, feature: &Feature) {
    let zero = Expr::zero;
    let (floor, top, sizes) = match &feature.shape {
        Shape::Hole { diameter, floor, top, pilot } => {
            let pilot = pilot.iter().map(|p| Condition::at_most(p.clone(), diameter.clone()));
            let sizes = [Condition::greater(diameter.clone(), zero())].into_iter().chain(pilot);
            (floor, top, Condition::all(sizes))
        }
        Shape::Boss { diameter, blank, floor, top } => {
            let sizes = [
                Condition::greater(diameter.clone(), zero()),
                Condition::at_least(blank.clone(), diameter.clone()),
            ];
            (floor, top, Condition::all(sizes))
        }
        Shape::Face { diameter, floor, top } => (floor, top, Condition::greater(diameter.clone(), zero())),
        Shape::Chamfer { inside, diameter, width, angle, floor, top } => {
            (floor, top, chamfer_sizes(*inside, [diameter, width, angle], &(top.clone() - floor.clone())))
        }
        Shape::Undercut { diameter, bore, floor, roof, bottom, top } => {
            let sizes = [
                Condition::greater(bore.clone(), zero()),
                Condition::greater(diameter.clone(), bore.clone()),
                Condition::at_most(bottom.clone(), floor.clone()),
                Condition::at_most(roof.clone(), top.clone()),
            ];
            (floor, roof, Condition::all(sizes))
        }
        Shape::Thread { major, minor, pitch, floor, bottom, top, taper, error, lean, .. } => {
            // A tapered one is least deep at its floor.
            let lost = taper.clone() * (top.clone() - floor.clone());
            let walls = [
                Condition::greater(minor.clone(), zero()),
                Condition::greater(major.clone() - lost, minor.clone()),
                Condition::greater(pitch.clone(), zero()),
                Condition::at_most(bottom.clone(), floor.clone()),
            ];
            let kept = [taper, error, lean].map(|e| Condition::at_least(e.clone(), zero()));
            let sizes = walls.into_iter().chain(kept);
            (floor, top, Condition::all(sizes))
        }
        Shape::Ring { outer, inner, floor, top } => {
            let sizes =
                [Condition::greater(inner.clone(), zero()), Condition::greater(outer.clone(), inner.clone())];
            (floor, top, Condition::all(sizes))
        }
    };
    let goal = Condition::all([Condition::greater(top.clone(), floor.clone()), sizes]);
    let why = format!(
        "`{}` has metal to remove: its floor lies below its top, its walls in their order",
        feature.name
    );
    let draft = Draft::new(Kind::Feature, format!("feature/{}", feature.name), why);
    context.add_with(draft, scope, &[], feature.span, goal);
}

fn chamfer_sizes(inside: bool, [diameter, width, angle]: [&Expr; 3], height: &Expr) -> Condition {
    let (zero, half) = (Expr::zero, angle.clone() / Expr::from(2));
    // Its foot lies on the bottom of the hole, or on the shoulder, or higher.
    let room = height.clone() * half.call(Function::Tan) - width.clone();
    let core = diameter.clone() - width.clone() * Expr::from(2);
    let core = (!inside).then(|| Condition::greater(core, zero()));
    let sizes = [
        Condition::greater(diameter.clone(), zero()),
        Condition::greater(width.clone(), zero()),
        Condition::greater(angle.clone(), zero()),
        Condition::less(angle.clone(), Expr::from(180)),
        Condition::at_least(room, zero()),
    ];
    Condition::all(sizes.into_iter().chain(core))
}

/// Divisors of the body, at the loops and moves where they stand.
fn in_body(context: &mut Context<'_>, motion: &Motion) {
    let mut at_span: Vec<(Span, Vec<Expr>)> = Vec::new();
    collect(&motion.body, &mut at_span);
    for (span, exprs) in at_span {
        let Some(at) = place_of(context, span) else { continue };
        // What is defined must be so on every turn of the loops around.
        exprs.iter().for_each(|e| partial(context, &at.scope, &[], e, span));
    }
}

fn place_of(context: &Context<'_>, span: Span) -> Option<super::At> {
    context.events.iter().find_map(|e| {
        let at = match e {
            Event::Move(m) => &m.at,
            Event::Joint(j) => &j.at,
            Event::Retract(_, at)
            | Event::Dwell(_, at)
            | Event::Passes(_, at)
            | Event::Call(_, at)
            | Event::Let(at)
            | Event::Tool(_, at)
            | Event::Spindle(_, _, at)
            | Event::Stop(at)
            | Event::ToolDone(at) => at,
        };
        (at.span == span).then(|| at.clone())
    })
}

fn collect(steps: &[Step], into: &mut Vec<(Span, Vec<Expr>)>) {
    let point = |p: &Point| vec![p.x.clone(), p.y.clone()];
    for step in all_steps(steps) {
        let exprs: Vec<Expr> = match &step.action {
            Action::Let(l) => vec![l.value.clone()],
            Action::RapidTo(p) => point(p),
            Action::RapidZ(z) => vec![z.clone()],
            Action::Line { to, z, feed } => {
                to.iter().flat_map(point).chain(z.clone()).chain(feed.clone()).collect()
            }
            Action::Arc { to, z, about, feed, .. } => {
                let ends = point(to).into_iter().chain(point(about));
                ends.chain(z.clone()).chain(feed.clone()).collect()
            }
            Action::Turn { z, about, feed, .. } => {
                point(about).into_iter().chain(z.clone()).chain(feed.clone()).collect()
            }
            Action::Passes(p) => vec![p.from.clone(), p.to.clone(), p.by.clone()],
            Action::Call(c) => {
                c.arguments.iter().map(|(_, e)| e.clone()).chain(c.at.iter().flat_map(point)).collect()
            }
            Action::Spindle { speed, .. } => vec![speed.clone()],
            Action::Dwell(time) => vec![time.clone()],
            Action::Repeat { count, .. } => vec![count.clone()],
            Action::With { .. } | Action::Retract | Action::Coolant(_) | Action::Stop(_) => Vec::new(),
        };
        into.push((step.span, exprs));
    }
}

fn shape_exprs(shape: &Shape) -> Vec<&Expr> {
    match shape {
        Shape::Hole { diameter, floor, top, pilot } => {
            [diameter, floor, top].into_iter().chain(pilot).collect()
        }
        Shape::Boss { diameter, blank, floor, top } => vec![diameter, blank, floor, top],
        Shape::Ring { outer, inner, floor, top } => vec![outer, inner, floor, top],
        Shape::Face { diameter, floor, top } => vec![diameter, floor, top],
        Shape::Chamfer { diameter, width, angle, floor, top, .. } => vec![diameter, width, angle, floor, top],
        Shape::Undercut { diameter, bore, floor, roof, bottom, top } => {
            vec![diameter, bore, floor, roof, bottom, top]
        }
        Shape::Thread { major, minor, pitch, hand, floor, bottom, top, taper, error, lean, .. } => {
            vec![major, minor, pitch, hand, floor, bottom, top, taper, error, lean]
        }
    }
}

/// Every part of an expression that may be undefined.
fn partial(context: &mut Context<'_>, scope: &Scope, facts: &[Hypothesis], e: &Expr, span: Span) {
    let mut parts = Vec::new();
    e.walk(&mut |part| parts.push(part.clone()));
    parts.iter().for_each(|part| node(context, scope, facts, part, span));
}

fn node(context: &mut Context<'_>, scope: &Scope, facts: &[Hypothesis], e: &Expr, span: Span) {
    let (kind, goal, why) = match e.node() {
        Node::Div(_, by) => {
            let goal = Condition::not_equal(by.clone(), Expr::zero());
            (Kind::Divisor, goal, format!("`{by}` is never zero"))
        }
        Node::Call(Function::Sqrt, a) => {
            let goal = Condition::at_least(a.clone(), Expr::zero());
            (Kind::Domain, goal, format!("`{a}` is never negative, so that it has a root"))
        }
        Node::Call(Function::Acos, a) => {
            let one = Expr::from(1);
            let goal = Condition::all([
                Condition::at_least(a.clone(), -one.clone()),
                Condition::at_most(a.clone(), one),
            ]);
            (Kind::Domain, goal, format!("`{a}` lies between -1 and 1"))
        }
        Node::Call(Function::Tan, a) => {
            let goal = Condition::not_equal(a.clone().cos(), Expr::zero());
            (Kind::Domain, goal, format!("`{a}` is never a right angle, which has no tangent"))
        }
        Node::Number(_)
        | Node::Pi
        | Node::Symbol(_)
        | Node::Add(..)
        | Node::Sub(..)
        | Node::Mul(..)
        | Node::Neg(_)
        | Node::Call(..)
        | Node::Min(..)
        | Node::Max(..)
        | Node::If(..) => return,
    };
    if goal != Condition::True {
        context.add_with(Draft::new(kind, kind.phrases().short, why), scope, facts, span, goal);
    }
}
