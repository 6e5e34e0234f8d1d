//! What must always hold, unasked: real arcs, loops that end, feeds, a known position, rapids through air, no
//! plunge and no ramp that the cutter cannot take, no cut deeper than the flutes, no shank in the hole.

use borewright_motion::{Condition, Expr, Field, Function, Node, Point, Relation, Shape, Symbol};

use super::scope::{Scope, has_direction};
use super::shape::{
    Air, Course, Wall, cutter_radius, flat_square, length, outside_disc, strictly_within_disc,
};
use super::tidy::tidy;
use super::walk::{Path, flat};
use super::{At, Context, Draft, Event, Height, Move, deeper, height};
use crate::{ConcreteCheck, Kind};

/// Adds what every motion must keep.
pub(crate) fn oblige(context: &mut Context<'_>) {
    for event in context.events.clone() {
        match event {
            Event::Passes(passes, at) => {
                let why = format!("the step `{}` is above zero, so that the passes end", passes.by);
                let goal = Condition::greater(passes.by.clone(), Expr::zero());
                context.add(Draft::new(Kind::Ends, format!("ends/{}", at.site), why), &at, goal);
            }
            Event::Move(move_) => one_move(context, &move_),
            Event::Joint(_)
            | Event::Retract(..)
            | Event::Dwell(..)
            | Event::Let(_)
            | Event::Call(..)
            | Event::Tool(..)
            | Event::Spindle(..)
            | Event::Stop(_)
            | Event::ToolDone(_) => {}
        }
    }
}

fn one_move(context: &mut Context<'_>, m: &Move) {
    if !entry(context, m) {
        return;
    }
    match &m.path {
        Path::Rapid => rapid(context, m),
        Path::Line => feed(context, m),
        Path::Arc(_, about) => {
            feed(context, m);
            arc_radii(context, m, about);
            arc_size(context, m, about);
        }
        Path::Turn(_, about) => {
            feed(context, m);
            arc_size(context, m, about);
        }
    }
    if m.path != Path::Rapid {
        descent(context, m);
        if !super::thread::cuts(context, m) && !super::undercut::cuts(context) {
            flutes(context, m);
        }
    }
    shank(context, m);
}

/// The id of something at a step; a later way of getting there says so.
pub(crate) fn site(word: &str, at: &At) -> String {
    let later = if at.variant == 0 { String::new() } else { format!("/way-{}", at.variant + 1) };
    format!("{word}/{}{later}", at.site)
}

/// Retract first, then XY, then down. False where the position matters and is not known.
fn entry(context: &mut Context<'_>, m: &Move) -> bool {
    let lowers = m.from.z != m.to.z;
    let why = match (&m.from.xy, &m.from.z) {
        (_, Height::Unknown) => "nobody knows how high the cutter stands: retract first",
        (_, Height::Retracted) if lowers && m.path != Path::Rapid => {
            "nobody knows how high the machine retracts: come down at rapid to a stated height first"
        }
        (None, _) if lowers => "nobody knows where the cutter stands in XY: go there before coming down",
        (None, _) if !m.says_xy || !matches!(m.path, Path::Rapid | Path::Line) => {
            "nobody knows where the cutter stands in XY: go there first"
        }
        _ => return true,
    };
    let draft = Draft::new(Kind::Entry, site("entry", &m.at), why);
    context.add(draft, &m.at, Condition::False);
    false
}

fn feed(context: &mut Context<'_>, m: &Move) {
    let id = site("feed", &m.at);
    let Some(feed) = &m.feed else {
        let why = "a cutting move has a feed, stated in its own block";
        context.add(Draft::new(Kind::Feed, id, why), &m.at, Condition::False);
        return;
    };
    let why = format!("the feed `{feed}` is above zero");
    let limit = context.limits.greatest_feed.clone();
    let most = limit.map(|f| Condition::at_most(feed.clone(), f.into()));
    let goal = Condition::all([Condition::greater(feed.clone(), Expr::zero())].into_iter().chain(most));
    context.add(Draft::new(Kind::Feed, id, why), &m.at, goal);
}

fn arc_radii(context: &mut Context<'_>, m: &Move, about: &Point) {
    let (Some(from), Some(to)) = (&m.from.xy, &m.to.xy) else { return };
    let square = |p: &Point| flat(&p.minus(about)).square();
    let goal = Condition::equal(square(from), square(to));
    let why = "both ends of the arc are equally far from its centre";
    context.add(Draft::new(Kind::ArcRadii, site("arc", &m.at), why), &m.at, goal);
}

fn arc_size(context: &mut Context<'_>, m: &Move, about: &Point) {
    let (Some(from), Some(to)) = (&m.from.xy, &m.to.xy) else { return };
    let smallest = Expr::number(context.limits.smallest_arc.clone());
    let arm = flat(&from.minus(about));
    let large = match super::shape::signed_length(&arm) {
        Some(_) => Condition::at_least(length(context, &m.at.scope, &arm), smallest.clone()),
        None => Condition::at_least(arm.square(), smallest.squared()),
    };
    // An arc that ends where it begins is a full circle to a controller.
    let chord = flat(&to.minus(from));
    let (moves, easier) = match m.path {
        Path::Arc(..) => {
            let apart = [&chord.x, &chord.y].map(|e| Condition::not_equal(e.clone(), Expr::zero()));
            (Condition::greater(flat_square(&chord), Expr::zero()), Condition::any(apart))
        }
        Path::Turn(..) | Path::Rapid | Path::Line => (Condition::True, Condition::True),
    };
    let exact = Condition::all([large.clone(), moves]);
    // Along a direction the square is the shorter thing to say.
    let plain = ![&chord.x, &chord.y].into_iter().any(has_direction);
    let easier = match super::shape::signed_length(&chord) {
        // But not where it is that of a sum.
        Some(root) if !plain && matches!(root.node(), Node::Add(..) | Node::Sub(..)) => {
            let zero = Expr::zero();
            Some(Condition::any([
                Condition::greater(root.clone(), zero.clone()),
                Condition::less(root, zero),
            ]))
        }
        Some(_) | None => Some(easier).filter(|_| plain),
    };
    let easier = easier.map(|easier| Condition::all([large, easier])).filter(|e| *e != exact);
    let why = format!("the arc's radius is at least {smallest} mm, and it does not end where it begins");
    let goal = super::Goal { exact, easier };
    context.add(Draft::new(Kind::ArcSize, site("arc-size", &m.at), why), &m.at, goal);
}

/// `z` is above every top face.
pub(crate) fn above(context: &Context<'_>, z: &Expr) -> Condition {
    Condition::all(context.tops().iter().map(|top| Condition::greater(z.clone(), top.clone())))
}

/// `z` is on or above every top face.
pub(crate) fn on_or_above(context: &Context<'_>, z: &Expr) -> Condition {
    Condition::all(context.tops().iter().map(|top| Condition::at_least(z.clone(), top.clone())))
}

/// Air that is there before: pilot holes, holes given, and all around a blank.
fn air(context: &Context<'_>) -> Vec<Air> {
    let solids = context.solids();
    let there = |s: &super::Solid| s.air.clone().filter(|air| !air.inside || !dug_here(context, s));
    let made = solids.iter().filter_map(there);
    let given = context.motion.given.iter().filter(|f| matches!(f.shape, Shape::Hole { .. })).flat_map(|f| {
        let solid = |at: &Point| super::Solid::of(f, at, &context.scope);
        f.at.iter().map(solid).collect::<Vec<_>>()
    });
    let hole = |s: super::Solid| {
        let wall = s.walls.into_iter().find(|w| w.inside)?;
        Some(Air { inside: true, centre: wall.centre, radius: wall.radius, floor: s.floor, top: s.top })
    };
    made.chain(given.filter_map(hole)).collect()
}

/// The pilot hole of a feature is made here, as another feature with the same centre: it is not there before.
pub(crate) fn dug_here(context: &Context<'_>, solid: &super::Solid) -> bool {
    context.solids().iter().filter(|other| other.name != solid.name).any(|other| {
        let same = context.scope.same_point(&other.centre, &solid.centre);
        same && !context.scope.same(&other.inner, &solid.inner) && !wider_pilot(context, other, solid)
    })
}

/// The pilot hole of one feature is never narrower than that of the other.
fn wider_pilot(context: &Context<'_>, other: &super::Solid, solid: &super::Solid) -> bool {
    let wider = Condition::at_least(tidy(&(other.inner.clone() - solid.inner.clone())), Expr::zero());
    context.oracle.holds(&context.scope.formula_without_counts(wider, &[]))
}

impl Air {
    /// At rapid the cutter stands free of metal there, all of it, and touches nothing.
    fn holds_point(&self, context: &Context<'_>, p: &Point, z: &Expr, cutter: &Expr) -> Condition {
        let v = flat(&p.minus(&self.centre));
        let place = if self.inside {
            strictly_within_disc(&v, &(self.radius.clone() - cutter.clone()))
        } else {
            outside_disc(&v, &(self.radius.clone() + cutter.clone()))
        };
        Condition::all([place, Condition::greater(z.clone(), self.floor.clone()), self.open_above(context)])
    }

    /// At feed the cutter goes all that way, down to `z`, through this air.
    fn holds_way(&self, context: &Context<'_>, scope: &Scope, way: &Course<'_>, z: &Expr) -> Condition {
        let cutter = cutter_radius(scope);
        let path = if self.inside { self.radius.clone() - cutter } else { self.radius.clone() + cutter };
        let edge = Wall { inside: self.inside, ..Wall::disc(self.centre.clone(), path) };
        let low = Condition::at_least(z.clone(), self.floor.clone());
        Condition::all([edge.allows(context, scope, way).exact, low, self.open_above(context)])
    }

    /// No metal stands above a hole that is there; around a blank there is none anyway.
    fn open_above(&self, context: &Context<'_>) -> Condition {
        let reaches = |top: &Expr| Condition::at_least(tidy(&(self.top.clone() - top.clone())), Expr::zero());
        if self.inside { Condition::all(context.tops().iter().map(reaches)) } else { Condition::True }
    }
}

/// A rapid move goes above the top face or through air, by whatever way between its ends.
fn rapid(context: &mut Context<'_>, m: &Move) {
    let Some(z) = height(&m.to) else { return };
    let scope = m.at.scope.clone();
    let cutter = cutter_radius(&scope);
    let why;
    let mut ways = vec![above(context, z)];
    if m.says_xy {
        why = "the rapid move runs above the top face, or every way between its ends is through air";
        if let (Some(a), Some(b)) = (&m.from.xy, &m.to.xy) {
            let corners = [
                a.clone(),
                b.clone(),
                Point { x: a.x.clone(), y: b.y.clone() },
                Point { x: b.x.clone(), y: a.y.clone() },
            ];
            for air in air(context).into_iter().filter(|air| air.inside) {
                ways.push(Condition::all(corners.iter().map(|p| air.holds_point(context, p, z, &cutter))));
            }
        }
    } else {
        why = "the rapid move ends above the top face or in air, or goes up";
        ways.extend(height(&m.from).map(|from| Condition::at_least(z.clone(), from.clone())));
        let p = m.to.xy.as_ref();
        let held = |(a, p): (&Air, &Point)| a.holds_point(context, p, z, &cutter);
        ways.extend(air(context).iter().zip(p.into_iter().cycle()).map(held));
    }
    let draft = Draft::new(Kind::Rapid, site("rapid", &m.at), why).checked(ConcreteCheck::RapidInMetal);
    context.add(draft, &m.at, Condition::any(ways));
}

/// Straight down only through air or with a cutter that may; slanting down no steeper than it may.
fn descent(context: &mut Context<'_>, m: &Move) {
    let (Some(from), Some(to)) = (height(&m.from), height(&m.to)) else { return };
    let (Some(p), Some(q)) = (&m.from.xy, &m.to.xy) else { return };
    let scope = m.at.scope.clone();
    let drop = tidy(&(from.clone() - to.clone()));
    if scope.bounds(&drop).1.is_some_and(|most| most.signum() <= 0) {
        return;
    }
    let free = Condition::any([Condition::at_least(to.clone(), from.clone()), on_or_above(context, to)]);
    let course = Course { path: &m.path, from: p, to: q, sloped: true };
    let open = air(context).into_iter().map(|a| a.holds_way(context, &scope, &course, to));
    let cut = opened(context, m).into_iter().map(|o| {
        let deep = Condition::at_least(to.clone(), o.bottom);
        Condition::all([o.disc.allows(context, &scope, &course).exact, o.solid_middle.negated(), deep])
    });
    let beside_edge = super::chamfer::open_ways(context, m, &course, to);
    let in_air: Vec<Condition> = open.chain(cut).chain(beside_edge).collect();
    let way = tidy_way(context, m, &scope);
    let vertical = way == Expr::zero();
    let allowed = if vertical {
        let may = Condition::at_least(Expr::symbol(&Field::Plunges.symbol()), Expr::from(1));
        Condition::all([may, shallow(context, m, to).0])
    } else if super::thread::cuts(context, m) {
        // Teeth that follow the thread cut sideways, not downwards.
        Condition::any(
            context.solids().iter().map(|s| super::thread::keeps(context, s, m)).collect::<Vec<_>>(),
        )
    } else {
        let ramp = demanded(context, m, Field::Ramp).unwrap_or_else(Expr::zero);
        let slope = if ramp == Expr::zero() { Expr::zero() } else { ramp.call(Function::Tan) };
        Condition::at_most(drop, way * slope)
    };
    let (kind, word, why) = if vertical {
        (Kind::Plunge, "plunge", "the cutter goes straight down through air, or it may plunge")
    } else {
        (Kind::Ramp, "ramp", "the way down is no steeper than the cutter may ramp")
    };
    let air_first = Condition::any(in_air.clone());
    let exact = Condition::any([free, air_first.clone(), allowed.clone()]);
    let easier = if vertical { air_first } else { allowed };
    let easier = Some(easier).filter(|e| *e != Condition::False && *e != exact);
    let draft = Draft::new(kind, site(word, &m.at), why).checked(ConcreteCheck::PlungeInMetal);
    context.add(draft, &m.at, super::Goal { exact, easier });
}

/// The length of the way in the plane; for arcs other than half and full turns, no more than it.
fn tidy_way(context: &Context<'_>, m: &Move, scope: &Scope) -> Expr {
    let (Some(p), Some(q)) = (&m.from.xy, &m.to.xy) else { return Expr::zero() };
    let chord = flat(&q.minus(p));
    match &m.path {
        Path::Rapid | Path::Line | Path::Arc(..) => length(context, scope, &chord),
        Path::Turn(_, about) => {
            let radius = length(context, scope, &flat(&p.minus(about)));
            Expr::from(2) * Expr::pi() * radius
        }
    }
}

/// The least that is demanded of a field, from every cutter that is admitted; in a job, what the tool has.
fn demanded(context: &Context<'_>, m: &Move, field: Field) -> Option<Expr> {
    if let (Some(job), Some(tool)) = (&context.motion.job, m.at.tool) {
        return job.tools.get(tool)?.fields.get(&field).cloned();
    }
    let rules = context.motion.demands.as_ref().map_or(&[][..], |d| &d.rules);
    let least = |r: &&borewright_motion::Demand| {
        r.field == field && matches!(r.relation, Relation::GreaterEqual | Relation::Equal | Relation::Greater)
    };
    rules.iter().find(least).map(|r| r.value.clone())
}

/// No cut is deeper than the flutes: metal stands from the tool's end up to the pass before, or to the top.
fn flutes(context: &mut Context<'_>, m: &Move) {
    let (Some(_), Some(z)) = (height(&m.from), height(&m.to)) else { return };
    if is_vertical(m) {
        return;
    }
    let (shallow, easier) = shallow(context, m, z);
    let exact = Condition::any([shallow].into_iter().chain(already_cut(context, m, z)));
    let draft = Draft::new(Kind::Flutes, site("flutes", &m.at), "no cut is deeper than the flutes are long")
        .checked(ConcreteCheck::DeepCut);
    context.add(draft, &m.at, super::Goal { easier: easier.filter(|e| *e != exact), exact });
}

/// The flutes reach up to the top face, or to the pass before; that last alone comes second.
fn shallow(context: &Context<'_>, m: &Move, z: &Expr) -> (Condition, Option<Condition>) {
    let tops = context.tops().to_vec();
    let from_top = both_ends(m, z, |low| Condition::all(tops.iter().map(|top| fits(low, top))));
    let by_pass = deeper::by_passes(context, m, z, &from_top);
    (Condition::any([from_top].into_iter().chain(by_pass.clone())), by_pass)
}

/// What holds at the end of a move, and where it begins lower than it ends, at its start too.
fn both_ends(m: &Move, to: &Expr, holds: impl Fn(&Expr) -> Condition) -> Condition {
    match height(&m.from) {
        Some(from) if from != to && !is_vertical(m) => {
            let goes_down = Condition::at_least(tidy(&(from.clone() - to.clone())), Expr::zero());
            Condition::all([holds(to), Condition::any([goes_down, holds(from)])])
        }
        Some(_) | None => holds(to),
    }
}

/// The flutes reach from `low` up to `high`.
pub(super) fn fits(low: &Expr, high: &Expr) -> Condition {
    let flutes = Expr::symbol(&Field::Flutes.symbol());
    Condition::at_most(tidy(&(high.clone() - low.clone())), flutes)
}

pub(super) fn is_vertical(m: &Move) -> bool {
    matches!(m.path, Path::Line | Path::Rapid) && (!m.says_xy || m.from.xy == m.to.xy)
}

/// A disc in which the cutter's centre may go down to `bottom` because earlier turns have cut all of it.
struct Opened {
    /// The turn that opened it.
    turn: Move,
    /// Where the cutter's centre may be.
    disc: Wall,
    /// Something is left standing in its middle.
    solid_middle: Condition,
    /// So far down it is empty.
    bottom: Expr,
}

/// What turns before this move have opened: those of loops that have ended, and those before it in the same
/// turn of its own loops.
fn opened(context: &Context<'_>, m: &Move) -> Vec<Opened> {
    let scope = &m.at.scope;
    let moves = context.moves();
    let earlier = moves.iter().take_while(|e| e.at.site != m.at.site);
    let mut all: Vec<Opened> = Vec::new();
    for turn in earlier.filter(|e| e.at.certain && e.at.variant == 0) {
        // However the cutter got to the turn, it opened the same disc, and no wider cutter goes there.
        if turn.at.tool != m.at.tool {
            continue;
        }
        let alike = |e: &Move| e.from.xy == turn.from.xy && e.to == turn.to && is_flat(e) == is_flat(turn);
        if !moves.iter().filter(|e| e.at.site == turn.at.site).all(alike) {
            continue;
        }
        let (Path::Turn(_, about), Some(start)) = (&turn.path, &turn.from.xy) else { continue };
        let (Some(from), Some(to)) = (height(&turn.from), height(&turn.to)) else { continue };
        let Some(bottom) = bottom(context, m, turn, from, to) else { continue };
        let radius = length(context, scope, &flat(&start.minus(about)));
        let dead = Expr::symbol(&Field::Dead.symbol()) / Expr::from(2);
        let empty = [
            Condition::at_most(radius.clone(), cutter_radius(scope)),
            Condition::at_least(radius.clone(), dead),
        ];
        let disc = Wall::disc(about.clone(), radius);
        all.push(Opened { disc, solid_middle: Condition::all(empty).negated(), bottom, turn: turn.clone() });
    }
    all
}

fn is_flat(m: &Move) -> bool {
    m.from.z == m.to.z
}

/// How far down a turn has cut when the move begins: a flat one to where it runs, a helix to where its last
/// turn began.
fn bottom(context: &Context<'_>, m: &Move, turn: &Move, from: &Expr, to: &Expr) -> Option<Expr> {
    let flat = from == to;
    let outer: Vec<&Symbol> = turn.at.loops.iter().filter(|v| !m.at.loops.contains(v)).collect();
    let Some(value) = outer.first() else { return flat.then(|| to.clone()) };
    let passes = context.passes(value)?;
    // Only a height that goes down with the value itself is known at the end of the loop.
    let beside = tidy(&(to.clone() - Expr::symbol(value)));
    if outer.len() > 1 || beside.symbols().contains(*value) {
        return None;
    }
    let last = tidy(&(beside.clone() + passes.to.clone()));
    if flat {
        return Some(last);
    }
    let begins = tidy(&(beside + passes.from.clone()));
    (begins == tidy(from)).then(|| tidy(&(last + passes.by.clone())))
}

/// The move stays where earlier turns have cut down to within the length of the flutes from here.
fn already_cut(context: &Context<'_>, m: &Move, z: &Expr) -> Vec<Condition> {
    let (Some(from), Some(to)) = (&m.from.xy, &m.to.xy) else { return Vec::new() };
    let course = Course { path: &m.path, from, to, sloped: true };
    let way = |o: Opened| {
        let same_turn = match (&m.path, &o.turn.path) {
            (Path::Turn(_, a), Path::Turn(_, b)) => {
                Condition::from_bool(a == b && m.from.xy == o.turn.from.xy)
            }
            (Path::Rapid | Path::Line | Path::Arc(..) | Path::Turn(..), _) => Condition::False,
        };
        let inside = o.disc.allows(context, &m.at.scope, &course).exact;
        let inside = Condition::all([o.solid_middle.negated(), inside]);
        let deep = both_ends(m, z, |low| fits(low, &o.bottom));
        Condition::all([deep, Condition::any([same_turn, inside])])
    };
    opened(context, m).into_iter().map(way).collect()
}

/// Nothing wider than the cutter goes below the top face.
fn shank(context: &mut Context<'_>, m: &Move) {
    let Some(z) = height(&m.to) else { return };
    if m.from.z == m.to.z {
        return;
    }
    let reach = Expr::symbol(&Field::Reach.symbol());
    let fits = |top: &Expr| Condition::at_most(tidy(&(top.clone() - z.clone())), reach.clone());
    let goal = Condition::all(context.tops().iter().map(fits));
    if goal == Condition::True {
        return;
    }
    let why = "the cutter reaches down there with nothing wider than its cutting diameter below the top face";
    context.add(Draft::new(Kind::Shank, site("shank", &m.at), why), &m.at, goal);
}
