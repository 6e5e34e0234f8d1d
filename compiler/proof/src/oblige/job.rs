//! Jobs: tools that are possible, a spindle that turns before the first cut, travel high enough, and stops
//! only between tools; with exact values.

use std::rc::Rc;

use borewright_motion::{Condition, Expr, Field, Motion, Promise, Step, Symbol, Tool, Way};

use super::calls::{Placed, placed};
use super::scope::{Order, Scope, cutter_facts};
use super::tidy::{Sum, tidy};
use super::walk::{self, Height, Path};
use super::{At, Context, Draft, Event};
use crate::Kind;

/// The tool in the spindle at a step, by its position in the list.
pub(crate) fn tool_of(at: &At) -> Option<usize> {
    at.tool
}

/// Adds the obligations of a job.
pub(crate) fn oblige(context: &mut Context<'_>) {
    let Some(job) = &context.motion.job else { return };
    let used = |i: usize| context.events.iter().any(|e| matches!(e, Event::Tool(t, _) if *t == i));
    let tools: Vec<&Tool> = job.tools.iter().enumerate().filter(|(i, _)| used(*i)).map(|(_, t)| t).collect();
    for tool in tools {
        possible(context, tool);
    }
    spindle(context);
    stops(context);
    for p in placed(context) {
        travel(context, &p, &job.travel);
    }
    own_heights(context, &job.travel);
}

/// The job's own moves never go above the travel height: `retract` never goes down.
fn own_heights(context: &mut Context<'_>, travel: &Expr) {
    for event in context.events.clone() {
        let Event::Retract(place, at) = event else { continue };
        let Height::At(z) = place.z else { continue };
        let goal = Condition::at_least(tidy(&(travel.clone() - z)), Expr::zero());
        let why = "retracting to the travel height never goes down";
        context.add(Draft::new(Kind::Travel, format!("travel/{}", at.site), why), &at, goal);
    }
}

/// The fields of a tool fit together.
fn possible(context: &mut Context<'_>, tool: &Tool) {
    let put = |c: &Condition| {
        c.substitute(&|s| {
            let field = Field::ALL.into_iter().find(|f| f.symbol() == *s)?;
            tool.fields.get(&field).cloned()
        })
    };
    let hand = Expr::symbol(&Field::Hand.symbol());
    let hands = Condition::any([1, -1].map(|h| Condition::equal(hand.clone(), Expr::from(h))));
    let goal = Condition::all(cutter_facts().iter().chain([&hands]).map(put));
    let why = format!("the lengths and diameters of `{}` fit together", tool.name);
    let draft = Draft::new(Kind::Tool, format!("tool/{}", tool.name), why);
    let scope = context.scope.clone();
    context.add_with(draft, &scope, &[], tool.span, goal);
}

/// Before each call, and before each cutting move, the spindle turns, the way the cutter cuts.
fn spindle(context: &mut Context<'_>) {
    let events = context.events.clone();
    let mut turning: Option<(Way, Expr, At)> = None;
    let mut told = false;
    let mut used: Vec<(Symbol, Way)> = Vec::new();
    for event in events {
        match event {
            Event::Tool(..) | Event::ToolDone(_) => (turning, told) = (None, false),
            Event::Spindle(way, speed, at) => {
                speed_limits(context, &speed, &at);
                next_turn(context, way, &at, &used);
                (turning, told) = (Some((way, speed, at)), false);
            }
            Event::Call(call, at) => {
                let one_way = call.routine.made.iter().flat_map(|m| &m.promises);
                let right_hand =
                    one_way.into_iter().any(|(p, _)| matches!(p, Promise::Climb | Promise::Conventional));
                before_cut(context, turning.as_ref(), &at, right_hand);
                used.extend(set_outside(turning.as_ref(), &at));
            }
            Event::Move(m) if m.path != Path::Rapid => {
                if !told {
                    before_cut(context, turning.as_ref(), &m.at, true);
                    told = true;
                }
                used.extend(set_outside(turning.as_ref(), &m.at));
            }
            Event::Move(_)
            | Event::Joint(_)
            | Event::Retract(..)
            | Event::Let(_)
            | Event::Dwell(..)
            | Event::Passes(..)
            | Event::Stop(_) => {}
        }
    }
}

/// The loops around a cut that began with the spindle turning already, and which way.
fn set_outside(turning: Option<&(Way, Expr, At)>, cut: &At) -> Vec<(Symbol, Way)> {
    let Some((way, _, set)) = turning else { return Vec::new() };
    let outside = cut.loops.iter().filter(|s| !set.loops.contains(s));
    outside.map(|s| (s.clone(), *way)).collect()
}

/// A loop that began with the spindle turning one way does not end a turn with it turning the other way: the next
/// turn would cut so.
fn next_turn(context: &mut Context<'_>, way: Way, at: &At, used: &[(Symbol, Way)]) {
    let changed = used.iter().any(|(index, before)| *before != way && at.loops.contains(index));
    if changed {
        let why = "the spindle turns as before when the loop begins its next turn";
        context.add(
            Draft::new(Kind::Spindle, format!("spindle/{}/next-turn", at.site), why),
            at,
            Condition::False,
        );
    }
}

fn speed_limits(context: &mut Context<'_>, speed: &Expr, at: &At) {
    let most = context.limits.greatest_speed.clone();
    let most = most.map(|s| Condition::at_most(speed.clone(), s.into()));
    let goal = Condition::all([Condition::greater(speed.clone(), Expr::zero())].into_iter().chain(most));
    let why = "the spindle speed is above zero and within the machine's limit";
    context.add(Draft::new(Kind::Spindle, format!("spindle/{}/speed", at.site), why), at, goal);
}

fn before_cut(context: &mut Context<'_>, turning: Option<&(Way, Expr, At)>, at: &At, right_hand: bool) {
    let hand = |h: i32| Condition::equal(Expr::symbol(&Field::Hand.symbol()), Expr::from(h));
    let (goal, why) = match turning {
        // What a block states holds to its brace.
        Some((_, _, set)) if !at.loops.starts_with(&set.loops) => {
            (Condition::False, "the spindle turns before the first cut")
        }
        Some((Way::Cw, _, _)) => (hand(1), "a cutter that turns clockwise cuts right-hand"),
        Some((Way::Ccw, _, _)) if right_hand => {
            (Condition::False, "climb and conventional are promised for a spindle that turns clockwise")
        }
        Some((Way::Ccw, _, _)) => (hand(-1), "a cutter that turns counterclockwise cuts left-hand"),
        None => (Condition::False, "the spindle turns before the first cut"),
    };
    context.add(Draft::new(Kind::Spindle, format!("spindle/{}", at.site), why), at, goal);
}

/// `stop` stands between tools: there the spindle is off and Z is up.
fn stops(context: &mut Context<'_>) {
    for event in context.events.clone() {
        if let Event::Stop(at) = event {
            let goal = Condition::from_bool(tool_of(&at).is_none());
            let why = "the program stops between tools, with the spindle off and Z up";
            context.add(Draft::new(Kind::Stop, format!("stop/{}", at.site), why), &at, goal);
        }
    }
}

/// Travel is above every top face and never below a height that the called routine goes to: then `retract`
/// never goes down.
fn travel(context: &mut Context<'_>, p: &Placed, travel: &Expr) {
    let above =
        Condition::all(context.tops().iter().map(|top| Condition::greater(travel.clone(), top.clone())));
    let reached = heights_reached(context.motion, p);
    let over = Condition::all(
        reached.iter().map(|z| Condition::at_least(tidy(&(travel.clone() - z.clone())), Expr::zero())),
    );
    let why = format!("the travel height is above the work, and `{}` never goes higher", p.call.routine.name);
    let draft = Draft::new(Kind::Travel, format!("{}/travel", p.site), why);
    context.add(draft, &p.at, Condition::all([above, over]));
}

/// Every height that the called routine names, in the caller's names; of loops in which it changes evenly, both ends.
fn heights_reached(motion: &Motion, p: &Placed) -> Vec<Expr> {
    let order = |_: &Scope, _: &borewright_motion::Passes, _: &walk::Turns| Order::Either;
    let (events, _) = walk::walk(Rc::clone(&p.at.scope), motion, &p.instance.body, None, &order);
    let loops: Vec<borewright_motion::Passes> = events
        .iter()
        .filter_map(|e| if let Event::Passes(passes, _) = e { Some((**passes).clone()) } else { None })
        .collect();
    let mut heights: Vec<Expr> = Vec::new();
    for event in &events {
        let Event::Move(m) = event else { continue };
        let Height::At(z) = &m.to.z else { continue };
        let mut ends = vec![z.clone()];
        for name in &m.at.loops {
            let Some([first, last]) = values(&loops, &p.instance.body, name) else { continue };
            let put = |e: &Expr, to: &Expr| e.substitute(&|s| (s == name).then(|| to.clone()));
            ends = ends
                .into_iter()
                .flat_map(|e| {
                    let inlined = m.at.scope.inline(&e);
                    // What changes otherwise stays as it is, and nothing is proved of it.
                    if is_even(&inlined, name) {
                        vec![put(&inlined, &first), put(&inlined, &last)]
                    } else {
                        vec![e]
                    }
                })
                .collect();
        }
        for end in ends {
            if !heights.contains(&end) {
                heights.push(end);
            }
        }
    }
    heights
}

/// Between which ends the name of a loop's value or counter runs.
fn values(loops: &[borewright_motion::Passes], body: &[Step], name: &Symbol) -> Option<[Expr; 2]> {
    match loops.iter().find(|passes| passes.value == *name) {
        Some(passes) => Some([passes.from.clone(), passes.to.clone()]),
        None => Some([Expr::from(1), super::apart::count_of(body, name)?]),
    }
}

/// Whether it changes by the same for each step of the name: it is greatest and least at the ends.
fn is_even(e: &Expr, name: &Symbol) -> bool {
    let own = Expr::symbol(name);
    let Some(sum) = Sum::of(e) else { return false };
    sum.terms().all(|(product, _)| {
        product.iter().all(
            |(factor, power)| {
                if *factor == own { *power == 1 } else { !factor.symbols().contains(name) }
            },
        )
    })
}
