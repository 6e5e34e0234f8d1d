//! `cleared`: the ways round cover everything from the pilot to the wall, at every level down to the floor.

use borewright_base::Span;
use borewright_motion::{Condition, Expr, Field, Point, Promise, Symbol};

use super::shape::{Solid, cutter_radius, length};
use super::tidy::tidy;
use super::turns::{Ring, Round, Site, meet, rounds};
use super::walk::Path;
use super::{Context, Draft, Move, height, spiral};
use crate::{ConcreteCheck, Kind};

/// The ways round at one level: those of one loop of passes downwards at one height of its value, or all at
/// one height.
struct Level {
    key: String,
    sites: Vec<Site>,
}

/// Adds the obligations of `cleared`.
pub(crate) fn oblige(context: &mut Context<'_>, solid: &Solid, promise: &Promise, because: Span) {
    if super::calls::keeps_by_calls(context, promise) {
        return;
    }
    let draft = |kind, word: &str, why: String| {
        Draft::new(kind, format!("cleared/{}/{word}", solid.name), why)
            .serving(promise, because)
            .checked(ConcreteCheck::Standing)
    };
    let centre = solid.centre.clone();
    let mut all: Vec<Round> =
        rounds(context).into_iter().filter(|r| r.turn.at.scope.same_point(&r.about, &centre)).collect();
    all.extend(plunges(context, solid, &centre));
    all.extend(spiral::rounds(context, &centre, &draft));
    // In the order of the text, as they are cut.
    let place = |r: &Round| context.place_of(&r.turn);
    all.sort_by_key(place);
    let levels = levels(Site::group(all));
    let (full, part): (Vec<Level>, Vec<Level>) =
        levels.into_iter().partition(|l| covers_at_sample(context, l, solid));
    // Where no level seems to cover, all are held to it: what fails then is told of each.
    let full = if full.is_empty() { part } else { full };
    let Some(last) = full.last().and_then(|l| l.sites.last()).cloned() else {
        let why = format!("full turns cover everything from the pilot to the wall of `{}`", solid.name);
        let scope = context.scope.clone();
        context.add_with(draft(Kind::Standing, "turns", why), &scope, &[], because, Condition::False);
        return;
    };
    let why = format!("the last pass lands exactly on the floor of `{}`", solid.name);
    last.lands(context, solid, &|word| draft(Kind::Landing, word, why.clone()));
    for level in &full {
        chain(context, level, solid, &draft);
    }
    let firsts: Vec<Site> = full.iter().filter_map(|l| l.sites.first().cloned()).collect();
    meet(context, &firsts, &solid.top, &|word, why| draft(Kind::Meeting, word, why));
}

/// Straight down in the middle of the solid: as good as a way round of no radius.
fn plunges(context: &Context<'_>, solid: &Solid, centre: &Point) -> Vec<Round> {
    if solid.inner != Expr::zero() {
        return Vec::new();
    }
    let moves = context.moves();
    // However the cutter got there, it goes down in the middle.
    let in_the_middle = |m: &Move| {
        let there = m.from.xy.as_ref().is_some_and(|p| m.at.scope.same_point(p, centre));
        m.path == Path::Line && !m.says_xy && there && m.at.certain && m.from.z != m.to.z
    };
    let always = |m: &&Move| moves.iter().filter(|e| e.at.site == m.at.site).all(in_the_middle);
    let down = |m: &Move| {
        let z = height(&m.to)?.clone();
        let descent = Round::descent_of(context, m, &z);
        Some(Round {
            from: z.clone(),
            to: z,
            about: centre.clone(),
            arm: Point::centre(),
            reach: None,
            descent,
            rings: None,
            turn: m.clone(),
        })
    };
    moves.iter().filter(always).filter_map(down).collect()
}

fn levels(sites: Vec<Site>) -> Vec<Level> {
    let mut levels: Vec<Level> = Vec::new();
    for site in sites {
        // A turn that may run at several heights belongs to no level.
        let apart = || site.ways.first().map_or_else(String::new, |r| format!("apart {}", r.turn.at.site));
        let key = site.common(key).unwrap_or_else(apart);
        match levels.iter_mut().find(|l| l.key == key) {
            Some(level) => level.sites.push(site),
            None => levels.push(Level { key, sites: vec![site] }),
        }
    }
    levels
}

/// What the turns of one level have in common.
fn key(round: &Round) -> String {
    // A helix leaves a ramp behind it: it makes a level of its own.
    let from = if round.is_helix() { format!(" helix {}", round.turn.at.site) } else { String::new() };
    // Each tool is held to its own diameter.
    let tool = round.turn.at.tool.map_or_else(String::new, |i| format!(" tool {i}"));
    match &round.descent {
        Some(passes) => format!("passes {} z {}{from}{tool}", passes.value, tidy(&round.to)),
        None => format!("z {}{from}{tool}", tidy(&round.to)),
    }
}

/// Whether the level covers all at the sample values: if not, it only prepares another one. Where nothing is
/// known of the sample, it is taken to cover.
fn covers_at_sample(context: &Context<'_>, level: &Level, solid: &Solid) -> bool {
    let scope = &context.scope;
    let Some(cutter) = context.sampled(scope, &cutter_radius(scope)) else { return true };
    let Some(outer) = context.sampled(scope, &solid.outer) else { return true };
    let reach = level.sites.iter().filter_map(|s| sample_radius(context, s)).fold(0.0, f64::max);
    if !joined_at_sample(context, level, solid) {
        return false;
    }
    level.sites.len() > 1 || reach + cutter >= outer - 1e-9
}

/// Whether, at the sample, each way round takes up where the one before ended; rings are taken to.
fn joined_at_sample(context: &Context<'_>, level: &Level, solid: &Solid) -> bool {
    let scope = &context.scope;
    let cutter = context.sampled(scope, &cutter_radius(scope)).unwrap_or(f64::MAX);
    let Some(mut reached) = context.sampled(scope, &solid.inner) else { return true };
    if level.sites.iter().flat_map(|s| &s.ways).any(|r| r.rings.is_some()) {
        return true;
    }
    let mut radii: Vec<f64> = level.sites.iter().filter_map(|s| sample_radius(context, s)).collect();
    radii.sort_by(f64::total_cmp);
    radii.iter().all(|radius| {
        let joined = radius - cutter <= reached + 1e-9;
        reached = radius + cutter;
        joined
    })
}

/// The radius of a turn at the sample, the least of all ways of getting there.
fn sample_radius(context: &Context<'_>, site: &Site) -> Option<f64> {
    let radii: Option<Vec<f64>> = site.ways.iter().map(|r| sample_radius_of(context, r)).collect();
    radii?.into_iter().min_by(f64::total_cmp)
}

/// The radius of a way round at the sample; of rings, the outermost.
fn sample_radius_of(context: &Context<'_>, round: &Round) -> Option<f64> {
    let put = |e: &Expr| match &round.rings {
        Some(ring) => {
            let outermost = ring.inward.as_ref().unwrap_or(&ring.to);
            e.substitute(&|s: &Symbol| (*s == ring.value).then(|| outermost.clone()))
        }
        None => e.clone(),
    };
    let scope = &round.turn.at.scope;
    let square = put(&round.arm.square());
    Some(context.sampled(scope, &square)?.max(0.0).sqrt())
}

/// From the pilot outwards, each way round takes up where the one before ended.
fn chain(
    context: &mut Context<'_>,
    level: &Level,
    solid: &Solid,
    draft: &dyn Fn(Kind, &str, String) -> Draft,
) {
    let mut sites = level.sites.clone();
    let radius = |s: &Site| sample_radius(context, s).unwrap_or(0.0);
    sites.sort_by(|a, b| radius(a).total_cmp(&radius(b)));
    let mut reached = solid.inner.clone();
    for site in &sites {
        reached = link_all(context, site, &reached, draft);
    }
    let Some(last) = sites.last().and_then(|s| s.ways.first()) else { return };
    let why = format!("the outermost way round reaches the wall of `{}`", solid.name);
    let id = format!("{}/reaches", last.turn.at.site);
    let goal = Condition::at_least(tidy(&(reached - solid.outer.clone())), Expr::zero());
    context.add(draft(Kind::Standing, &id, why), &last.turn.at.clone(), goal);
}

/// By whatever way the cutter got to a turn, the turn takes up what is reached, and reaches at least as far as by
/// the way that seems to reach least.
fn link_all(
    context: &mut Context<'_>,
    site: &Site,
    reached: &Expr,
    draft: &dyn Fn(Kind, &str, String) -> Draft,
) -> Expr {
    let mut ways: Vec<&Round> = site.ways.iter().collect();
    let radius = |r: &Round| sample_radius_of(context, r).unwrap_or(0.0);
    ways.sort_by(|a, b| radius(a).total_cmp(&radius(b)));
    let mut least: Option<Expr> = None;
    for round in ways {
        let end = link(context, round, reached, draft);
        let Some(known) = least.clone().filter(|known| *known != end) else {
            least = Some(end);
            continue;
        };
        let at = &round.turn.at;
        let why = "by each way of getting there, the way round reaches as far".to_owned();
        let goal = Condition::at_least(tidy(&(end - known)), Expr::zero());
        context.add(draft(Kind::Standing, &format!("{}/as-far", at.site), why), at, goal);
    }
    least.unwrap_or_else(|| reached.clone())
}

/// A turn at path radius w sweeps from w - t to w + t, but for what the dead centre does not cut.
fn link(
    context: &mut Context<'_>,
    round: &Round,
    reached: &Expr,
    draft: &dyn Fn(Kind, &str, String) -> Draft,
) -> Expr {
    let at = &round.turn.at;
    let scope = at.scope.clone();
    let cutter = cutter_radius(&scope);
    let path = length(context, &scope, &round.arm);
    // A turn of a spiral is not everywhere equally far from the centre.
    let (least, greatest) = round.reach.clone().unwrap_or((path.clone(), path));
    let dead = Expr::symbol(&Field::Dead.symbol()) / Expr::from(2);
    let joins = |reached: &Expr| {
        Condition::at_most(tidy(&(greatest.clone() - cutter.clone() - reached.clone())), Expr::zero())
    };
    let no_pin = |inner: &Expr| {
        Condition::at_least(tidy(&(least.clone() + inner.clone() - dead.clone())), Expr::zero())
    };
    let (meets, pin, end) = match &round.rings {
        None => (joins(reached), no_pin(reached), least.clone()),
        Some(Ring { value, before, to, later, inward: Some(first), .. }) => {
            // From outside in: the last is the innermost, each touches the one before, the first reaches out.
            let put = |to: &Expr| least.substitute(&|s| (s == value).then(|| to.clone()));
            let at_most = |e: Expr| Condition::at_most(tidy(&e), Expr::zero());
            let touches = at_most(put(before) - least.clone() - cutter.clone() * Expr::from(2));
            let innermost = at_most(put(to) - cutter.clone() - reached.clone());
            let meets = Condition::all([Condition::any([later.negated(), touches]), innermost]);
            let pin = tidy(&(put(to) + reached.clone() - dead.clone()));
            (meets, Condition::at_least(pin, Expr::zero()), put(first))
        }
        Some(ring) => {
            let put = |to: &Expr| least.substitute(&|s| (*s == ring.value).then(|| to.clone()));
            let earlier = put(&ring.before) + cutter.clone();
            // The first ring takes up from the pilot, each later one from the ring before.
            let begins = match &ring.from {
                Some(from) => {
                    let start = tidy(&(put(from) + cutter.clone() - reached.clone()));
                    let begins = Condition::at_most(start, Expr::zero());
                    let first = Condition::any([begins, ring.later.clone(), joins(reached)]);
                    Condition::all([joins(&earlier), first])
                }
                None => {
                    Condition::any([Condition::all([ring.later.clone(), joins(&earlier)]), joins(reached)])
                }
            };
            let pin =
                Condition::any([Condition::all([ring.later.clone(), no_pin(&earlier)]), no_pin(reached)]);
            (begins, pin, put(&ring.to))
        }
    };
    let why = "the way round takes up where the one before, or the pilot, ended".to_owned();
    context.add(draft(Kind::Standing, &at.site, why), at, meets);
    let why = "the way round leaves no pin under the cutter's dead centre".to_owned();
    context.add(draft(Kind::Pin, &format!("{}/pin", at.site), why), at, pin);
    tidy(&(end + cutter))
}
