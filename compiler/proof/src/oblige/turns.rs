//! `sized`: full turns exactly on the wall, at every pass and on the floor, each pass meeting the one before.

use borewright_base::Span;
use borewright_motion::{Condition, Expr, Field, Passes, Point, Promise, Symbol};

use super::scope::symbols_of;
use super::shape::{Solid, Wall, signed_length};
use super::tidy::tidy;
use super::walk::{Path, flat};
use super::{Context, Draft, Move, height};
use crate::{ConcreteCheck, Kind};

/// A full turn below or through the top face.
#[derive(Debug, Clone)]
pub(crate) struct Round {
    /// The move.
    pub turn: Move,
    /// Height where it begins.
    pub from: Expr,
    /// Height where it ends.
    pub to: Expr,
    /// Its centre.
    pub about: Point,
    /// From its centre to where it begins.
    pub arm: Point,
    /// The loop of passes that takes it down.
    pub descent: Option<Passes>,
    /// The loop of passes that takes it outward or inward.
    pub rings: Option<Passes>,
}

/// Full turns, in order.
pub(crate) fn rounds(context: &Context<'_>) -> Vec<Round> {
    let round = |turn: Move| {
        let Path::Turn(_, about) = turn.path.clone() else { return None };
        let (from, to) = (height(&turn.from)?.clone(), height(&turn.to)?.clone());
        let arm = flat(&turn.from.xy.as_ref()?.minus(&about));
        let within = |e: &dyn Fn(&Symbol) -> bool| {
            turn.at.loops.iter().rev().filter(|v| e(v)).find_map(|v| context.passes(v))
        };
        let descent = within(&|v| to.symbols().contains(v));
        let rings = within(&|v| arm.x.symbols().contains(v) || arm.y.symbols().contains(v));
        Some(Round { from, to, about, arm, descent, rings, turn })
    };
    context.moves().into_iter().filter_map(round).collect()
}

impl Round {
    /// Whether it runs exactly on the wall.
    pub(crate) fn on(&self, wall: &Wall) -> Condition {
        let centred = flat(&self.about.minus(&wall.centre));
        let same_centre = [centred.x, centred.y].map(|e| Condition::equal(e, Expr::zero()));
        let radius = match signed_length(&self.arm) {
            Some(root) => Condition::any([
                Condition::equal(root.clone(), wall.path.clone()),
                Condition::equal(tidy(&-root), wall.path.clone()),
            ]),
            None => Condition::equal(super::shape::flat_square(&self.arm), wall.path.squared()),
        };
        Condition::all(same_centre.into_iter().chain([radius]))
    }

    /// Whether that can be read off, without proof.
    pub(crate) fn plainly_on(&self, context: &Context<'_>, wall: &Wall) -> bool {
        let offset = flat(&self.about.minus(&wall.centre));
        let scope = &self.turn.at.scope;
        let zero = |e: &Expr| scope.same(e, &Expr::zero());
        let radius = scope.same(&self.arm.square(), &wall.path.squared());
        let _ = context;
        zero(&offset.x) && zero(&offset.y) && radius
    }

    /// It goes down as it goes round.
    pub(crate) fn is_helix(&self) -> bool {
        self.from != self.to
    }
}

/// Adds the obligations of `sized`.
pub(crate) fn oblige(context: &mut Context<'_>, solid: &Solid, promise: &Promise, because: Span) {
    if super::calls::keeps_by_calls(context, promise) {
        return;
    }
    for wall in &solid.walls {
        let all = rounds(context);
        let mut on: Vec<Round> = all.iter().filter(|r| r.plainly_on(context, wall)).cloned().collect();
        let name = if solid.walls.len() > 1 {
            format!("{}/{}", solid.name, wall.name.replace(' ', "-"))
        } else {
            solid.name.clone()
        };
        let draft = |kind, word: &str, why: String| {
            Draft::new(kind, format!("sized/{name}/{word}"), why)
                .serving(promise, because)
                .checked(ConcreteCheck::Undersize)
        };
        let why = format!("a full turn runs exactly on the {} of `{}`", wall.name, solid.name);
        if on.is_empty() {
            // None can be seen to run there; perhaps the last one does.
            on.extend(all.last().cloned());
        }
        let Some(last) = on.last() else {
            let scope = context.scope.clone();
            context.add_with(draft(Kind::Contact, "contact", why), &scope, &[], because, Condition::False);
            continue;
        };
        for round in &on {
            context.add(
                draft(Kind::Contact, &round.turn.at.site, why.clone()),
                &round.turn.at,
                round.on(wall),
            );
        }
        let lands = Landing { solid, last };
        let why = format!("the last turn on the {} lands exactly on the floor", wall.name);
        context.add(draft(Kind::Landing, "landing", why), &last.turn.at.clone(), lands.goal());
        meet(context, &on, &solid.top, &|word, why| draft(Kind::Meeting, word, why));
    }
}

/// The last of the turns, after all passes, is flat and on the floor.
pub(crate) struct Landing<'a> {
    pub solid: &'a Solid,
    pub last: &'a Round,
}

impl Landing<'_> {
    /// The goal.
    pub(crate) fn goal(&self) -> Condition {
        if self.last.is_helix() {
            return Condition::False;
        }
        let end = match &self.last.descent {
            Some(passes) => self.last.to.substitute(&|s| (*s == passes.value).then(|| passes.to.clone())),
            None => self.last.to.clone(),
        };
        Condition::equal(tidy(&end), self.solid.floor.clone())
    }
}

/// The turns follow each other down from the top with no step longer than the flutes.
pub(crate) fn meet(
    context: &mut Context<'_>,
    rounds: &[Round],
    top: &Expr,
    draft: &dyn Fn(&str, String) -> Draft,
) {
    let flutes = Expr::symbol(&Field::Flutes.symbol());
    let fits =
        |high: &Expr, low: &Expr| Condition::at_most(tidy(&(high.clone() - low.clone())), flutes.clone());
    let mut reached = top.clone();
    let mut done: Vec<Symbol> = Vec::new();
    let why = "the flutes reach from each turn up to the one before".to_owned();
    for round in rounds {
        let at = &round.turn.at;
        let word = format!("meets/{}", at.site);
        let Some(passes) = &round.descent else {
            context.add(draft(&word, why.clone()), at, fits(&reached, &round.from));
            reached = round.from.clone();
            continue;
        };
        let [value, before, index, _] = symbols_of(passes);
        if done.contains(&value) {
            continue;
        }
        done.push(value.clone());
        let put = |e: &Expr, to: Expr| e.substitute(&|s| (*s == value).then(|| to.clone()));
        if round.is_helix() {
            let start = tidy(&round.from.substitute(&|s| (*s == before).then(|| passes.from.clone())));
            context.add(draft(&format!("{word}/first"), why.clone()), at, fits(&reached, &start));
            context.add(draft(&word, why.clone()), at, fits(&round.from, &round.to));
            reached = tidy(&(put(&round.to, passes.to.clone()) + passes.by.clone()));
        } else {
            let higher = put(&round.to, Expr::symbol(&before));
            let start = tidy(&put(&round.to, passes.from.clone()));
            // From the top face to the first pass, from each pass to the next.
            let first = Condition::any([
                Condition::at_least(start.clone(), reached.clone()),
                Condition::at_least(Expr::symbol(&index), Expr::from(2)),
                fits(&reached, &round.to),
            ]);
            context.add(draft(&word, why.clone()), at, Condition::all([fits(&higher, &round.to), first]));
            reached = tidy(&put(&round.to, passes.to.clone()));
        }
    }
}
