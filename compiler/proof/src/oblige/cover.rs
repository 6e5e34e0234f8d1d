//! `cleared`: the ways round cover everything from the pilot to the wall, at every level down to the floor.

use borewright_base::Span;
use borewright_motion::{Condition, Expr, Field, Promise, Symbol};

use super::scope::{Goal, symbols_of};
use super::shape::{Solid, cutter_radius, length};
use super::tidy::tidy;
use super::turns::{Landing, Round, meet, rounds};
use super::{Context, Draft};
use crate::{ConcreteCheck, Kind};

/// The ways round at one level: those of one loop of passes downwards, or all at one height.
struct Level {
    key: String,
    rounds: Vec<Round>,
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
    let centre = solid.walls.first().map(|w| w.centre.clone());
    let all: Vec<Round> = rounds(context)
        .into_iter()
        .filter(|r| centre.as_ref().is_some_and(|c| r.turn.at.scope.same_point(&r.about, c)))
        .collect();
    let levels = levels(all);
    let (full, part): (Vec<Level>, Vec<Level>) =
        levels.into_iter().partition(|l| covers_at_sample(context, l, solid));
    // Where no level seems to cover, all are held to it: what fails then is told of each.
    let full = if full.is_empty() { part } else { full };
    let Some(last) = full.last().and_then(|l| l.rounds.last()) else {
        let why = format!("full turns cover everything from the pilot to the wall of `{}`", solid.name);
        let scope = context.scope.clone();
        context.add_with(draft(Kind::Standing, "turns", why), &scope, &[], because, Condition::False);
        return;
    };
    let why = format!("the last pass lands exactly on the floor of `{}`", solid.name);
    context.add(draft(Kind::Landing, "landing", why), &last.turn.at, Landing { solid, last }.goal());
    for level in &full {
        chain(context, level, solid, &draft);
    }
    let firsts: Vec<Round> = full.iter().filter_map(|l| l.rounds.first().cloned()).collect();
    meet(context, &firsts, &solid.top, &|word, why| draft(Kind::Meeting, word, why));
}

fn levels(rounds: Vec<Round>) -> Vec<Level> {
    let mut levels: Vec<Level> = Vec::new();
    for round in rounds {
        let key = match &round.descent {
            Some(passes) => format!("passes {}", passes.value),
            None => format!("z {}", tidy(&round.to)),
        };
        match levels.iter_mut().find(|l| l.key == key) {
            Some(level) => level.rounds.push(round),
            None => levels.push(Level { key, rounds: vec![round] }),
        }
    }
    levels
}

/// Whether the level covers all at the sample values: if not, it only prepares another one. Where nothing is
/// known of the sample, it is taken to cover.
fn covers_at_sample(context: &Context<'_>, level: &Level, solid: &Solid) -> bool {
    let scope = &context.scope;
    let Some(cutter) = context.sampled(scope, &cutter_radius(scope)) else { return true };
    let Some(outer) = context.sampled(scope, &solid.outer) else { return true };
    let reach = level.rounds.iter().filter_map(|r| sample_radius(context, r)).fold(0.0, f64::max);
    // The same turn, come by from two places, counts once.
    let several =
        level.rounds.iter().any(|r| Some(&r.turn.at.site) != level.rounds.first().map(|f| &f.turn.at.site));
    several || reach + cutter >= outer - 1e-9
}

/// The radius of a way round at the sample; of rings, the last.
fn sample_radius(context: &Context<'_>, round: &Round) -> Option<f64> {
    let put = |e: &Expr| match &round.rings {
        Some(p) => e.substitute(&|s: &Symbol| (*s == p.value).then(|| p.to.clone())),
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
    let mut rounds = level.rounds.clone();
    let radius = |r: &Round| sample_radius(context, r).unwrap_or(0.0);
    rounds.sort_by(|a, b| radius(a).total_cmp(&radius(b)));
    let mut reached = solid.inner.clone();
    for round in &rounds {
        reached = link(context, round, &reached, draft);
    }
    let Some(last) = rounds.last() else { return };
    let why = format!("the outermost way round reaches the wall of `{}`", solid.name);
    let id = format!("{}/reaches", last.turn.at.site);
    let goal = Condition::at_least(tidy(&(reached - solid.outer.clone())), Expr::zero());
    context.add(draft(Kind::Standing, &id, why), &last.turn.at.clone(), goal);
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
    let dead = Expr::symbol(&Field::Dead.symbol()) / Expr::from(2);
    let meets = Condition::at_most(tidy(&(path.clone() - cutter.clone() - reached.clone())), Expr::zero());
    let no_pin = |inner: &Expr| {
        Condition::at_least(tidy(&(path.clone() + inner.clone() - dead.clone())), Expr::zero())
    };
    let (meets, pin, end) = match &round.rings {
        None => (Goal::from(meets), no_pin(reached), path.clone()),
        Some(passes) => {
            let [value, before, index, _] = symbols_of(passes);
            let put = |to: &Expr| path.substitute(&|s| (*s == value).then(|| to.clone()));
            let later = Condition::at_least(Expr::symbol(&index), Expr::from(2));
            let earlier = put(&Expr::symbol(&before)) + cutter.clone();
            let meets_earlier =
                Condition::at_most(tidy(&(path.clone() - cutter.clone() - earlier.clone())), Expr::zero());
            let start = put(&passes.from) + cutter.clone();
            // The first ring takes up from the pilot, each later one from the ring before.
            let begins = Condition::any([
                Condition::at_most(tidy(&(start - reached.clone())), Expr::zero()),
                later.clone(),
                meets,
            ]);
            let pin = Condition::any([Condition::all([later, no_pin(&earlier)]), no_pin(reached)]);
            (Condition::all([meets_earlier, begins]).into(), pin, put(&passes.to))
        }
    };
    let why = "the way round takes up where the one before, or the pilot, ended".to_owned();
    context.add(draft(Kind::Standing, &at.site, why), at, meets);
    let why = "the way round leaves no pin under the cutter's dead centre".to_owned();
    context.add(draft(Kind::Pin, &format!("{}/pin", at.site), why), at, pin);
    tidy(&(end + cutter))
}
