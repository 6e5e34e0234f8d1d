//! `sized`: full turns exactly on the wall, at every pass and on the floor, each pass meeting the one before.

use borewright_base::Span;
use borewright_motion::{Condition, Expr, Field, Passes, Point, Promise, Symbol};

use super::scope::{Order, symbols_of};
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
    /// Of a turn of a spiral: its least and its greatest distance from the centre.
    pub reach: Option<(Expr, Expr)>,
    /// The loop of passes that takes it down.
    pub descent: Option<Passes>,
    /// The loop that takes it outward or inward.
    pub rings: Option<Ring>,
}

/// A loop in which each way round follows the one before, further out.
#[derive(Debug, Clone)]
pub(crate) struct Ring {
    /// What changes from one to the next.
    pub value: Symbol,
    /// Its value before, in the turn before, and at the end.
    pub before: Expr,
    /// Its value before the first turn, where there is a way round to be thought of there.
    pub from: Option<Expr>,
    /// Its value in the last turn.
    pub to: Expr,
    /// It is not the first turn.
    pub later: Condition,
    /// Where its value is the radius but for a constant, and goes down: at least so far out is it in the first turn.
    pub inward: Option<Expr>,
}

impl Ring {
    /// The innermost loop about a move that changes one of these.
    pub(crate) fn of(context: &Context<'_>, m: &Move, changing: &[&Expr]) -> Option<Self> {
        let changes = |v: &&Symbol| changing.iter().any(|e| e.symbols().contains(*v));
        let value = m.at.loops.iter().rev().find(changes)?;
        if let Some(passes) = context.passes(value) {
            let [value, before, index, _] = symbols_of(&passes);
            return Some(Self {
                value,
                before: Expr::symbol(&before),
                inward: inward(context, m, &passes, changing),
                from: Some(passes.from),
                to: passes.to,
                later: Condition::at_least(Expr::symbol(&index), Expr::from(2)),
            });
        }
        let count = super::apart::count_of(&context.motion.body, value)?;
        Some(Self {
            value: value.clone(),
            before: Expr::symbol(value) - Expr::from(1),
            from: None,
            inward: None,
            to: count,
            later: Condition::at_least(Expr::symbol(value), Expr::from(2)),
        })
    }
}

/// The least that the value of passes inwards is in the first turn: one step, which is no longer than stated, from
/// where they begin, or where they end.
fn inward(context: &Context<'_>, m: &Move, passes: &Passes, changing: &[&Expr]) -> Option<Expr> {
    let [x, y] = changing else { return None };
    let arm = Point { x: (*x).clone(), y: (*y).clone() };
    let beside = tidy(&(signed_length(&arm)? - Expr::symbol(&passes.value)));
    let down = matches!(super::order_of(context.oracle, &m.at.scope, passes, &m.at.turns), Order::Down);
    let even = !beside.symbols().contains(&passes.value);
    (down && even).then(|| (passes.from.clone() - passes.by.clone()).max(passes.to.clone()))
}

/// Full turns that surely happen, in order; one that is come by from several places, once for each.
pub(crate) fn rounds(context: &Context<'_>) -> Vec<Round> {
    let head = context.scope.clone();
    let round = |turn: Move| {
        let Path::Turn(_, about) = turn.path.clone() else { return None };
        // Names that the body gives are put out, so that what changes from turn to turn can be seen.
        let plain = |e: &Expr| tidy(&turn.at.scope.inline_beyond(&head, e));
        let (from, to) = (plain(height(&turn.from)?), plain(height(&turn.to)?));
        let arm = flat(&turn.from.xy.as_ref()?.minus(&about));
        let arm = Point { x: plain(&arm.x), y: plain(&arm.y) };
        let descent = Round::descent_of(context, &turn, &to);
        let rings = Ring::of(context, &turn, &[&arm.x, &arm.y]);
        Some(Round { from, to, about, arm, reach: None, descent, rings, turn })
    };
    context.moves().into_iter().filter(|m| m.at.certain).filter_map(round).collect()
}

impl Round {
    /// The innermost loop of passes that takes a move down.
    pub(crate) fn descent_of(context: &Context<'_>, m: &Move, z: &Expr) -> Option<Passes> {
        let down = |v: &&Symbol| z.symbols().contains(*v);
        m.at.loops.iter().rev().filter(down).find_map(|v| context.passes(v))
    }

    /// Whether it runs exactly on the wall.
    pub(crate) fn on(&self, wall: &Wall) -> Condition {
        let centred = flat(&self.about.minus(&wall.centre));
        let same_centre = [centred.x, centred.y].map(|e| Condition::equal(e, Expr::zero()));
        let arm = self.last_arm();
        let radius = match signed_length(&arm) {
            Some(root) => Condition::any([
                Condition::equal(root.clone(), wall.path.clone()),
                Condition::equal(tidy(&-root), wall.path.clone()),
            ]),
            None => Condition::equal(super::shape::flat_square(&arm), wall.path.squared()),
        };
        Condition::all(same_centre.into_iter().chain([radius]))
    }

    /// The arm of the outermost of its rings at one level.
    fn last_arm(&self) -> Point {
        let Some(ring) = self.rings.as_ref().filter(|r| !self.to.symbols().contains(&r.value)) else {
            return self.arm.clone();
        };
        flat(&self.arm.substitute(&|s| (*s == ring.value).then(|| ring.to.clone())))
    }

    /// Whether that can be read off, without proof.
    pub(crate) fn plainly_on(&self, context: &Context<'_>, wall: &Wall) -> bool {
        let offset = flat(&self.about.minus(&wall.centre));
        let scope = &self.turn.at.scope;
        let zero = |e: &Expr| scope.same(e, &Expr::zero());
        let radius = scope.same(&self.last_arm().square(), &wall.path.squared());
        let _ = context;
        zero(&offset.x) && zero(&offset.y) && radius
    }

    /// Height where it ends after all passes.
    pub(crate) fn end(&self) -> Expr {
        match &self.descent {
            Some(passes) => self.to.substitute(&|s| (*s == passes.value).then(|| passes.to.clone())),
            None => self.to.clone(),
        }
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
        let all = Site::group(rounds(context));
        let on_wall = |site: &&Site| site.ways.iter().all(|r| r.plainly_on(context, wall));
        let mut on: Vec<Site> = all.iter().filter(on_wall).cloned().collect();
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
        let Some(last) = on.last().cloned() else {
            let scope = context.scope.clone();
            context.add_with(draft(Kind::Contact, "contact", why), &scope, &[], because, Condition::False);
            continue;
        };
        for round in on.iter().flat_map(|site| &site.ways) {
            context.add(
                draft(Kind::Contact, &round.turn.at.site, why.clone()),
                &round.turn.at,
                round.on(wall),
            );
        }
        let why = format!("the last turn on the {} lands exactly on the floor", wall.name);
        last.lands(context, solid, &|word| draft(Kind::Landing, word, why.clone()));
        meet(context, &on, &solid.top, &|word, why| draft(Kind::Meeting, word, why));
    }
}

/// A full turn of the text, by each way of getting there. One of them happens whenever the turn does, so what is
/// said of the turn must hold of them all.
#[derive(Debug, Clone)]
pub(crate) struct Site {
    /// One for each place where it may begin; never none.
    pub ways: Vec<Round>,
}

impl Site {
    /// The turns that stand at one step of the text, together.
    pub(crate) fn group(rounds: Vec<Round>) -> Vec<Self> {
        let mut sites: Vec<Self> = Vec::new();
        for round in rounds {
            let same = |s: &&mut Self| s.ways.first().is_some_and(|r| r.turn.at.site == round.turn.at.site);
            match sites.iter_mut().find(same) {
                Some(site) => site.ways.push(round),
                None => sites.push(Self { ways: vec![round] }),
            }
        }
        sites
    }

    /// What all ways have in common; `None` where they differ.
    pub(crate) fn common<T: PartialEq>(&self, of: impl Fn(&Round) -> T) -> Option<T> {
        let mut all = self.ways.iter().map(of);
        let first = all.next()?;
        all.all(|other| other == first).then_some(first)
    }

    /// After all passes it is flat and on the floor.
    pub(crate) fn lands(&self, context: &mut Context<'_>, solid: &Solid, draft: &dyn Fn(&str) -> Draft) {
        for round in &self.ways {
            let word = format!("landing{}", later(&round.turn.at));
            context.add(draft(&word), &round.turn.at, round.landing(solid));
        }
    }
}

/// The turns follow each other down from the top with no step longer than the flutes.
pub(crate) fn meet(
    context: &mut Context<'_>,
    sites: &[Site],
    top: &Expr,
    draft: &dyn Fn(&str, String) -> Draft,
) {
    let mut reached = top.clone();
    let why = "the flutes reach from each turn up to the one before".to_owned();
    for site in sites {
        for round in &site.ways {
            let word = format!("meets/{}{}", round.turn.at.site, later(&round.turn.at));
            context.add(draft(&word, why.clone()), &round.turn.at, round.meets(&reached));
        }
        reached = site.common(Round::reaches).flatten().unwrap_or(reached);
    }
}

/// The end of the id of what is said of a later way of getting somewhere.
fn later(at: &super::At) -> String {
    if at.variant == 0 { String::new() } else { format!("/way-{}", at.variant + 1) }
}

impl Round {
    /// It is flat, and after all passes on the floor.
    fn landing(&self, solid: &Solid) -> Condition {
        if self.is_helix() {
            return Condition::False;
        }
        Condition::equal(tidy(&self.end()), solid.floor.clone())
    }
}

impl Round {
    /// The flutes reach up to the turn before, or to what was reached before.
    fn meets(&self, reached: &Expr) -> Condition {
        let flutes = Expr::symbol(&Field::Flutes.symbol());
        let fits = |high: &Expr| Condition::at_most(tidy(&(high.clone() - self.to.clone())), flutes.clone());
        let Some(passes) = &self.descent else { return fits(reached) };
        let [_, before, index, _] = symbols_of(passes);
        let (start, higher) = (self.at_value(&passes.from), self.at_value(&Expr::symbol(&before)));
        // From the top face to the first pass, from each pass to the next.
        let later = Condition::at_least(Expr::symbol(&index), Expr::from(2));
        let first = Condition::any([
            Condition::at_least(start.clone(), reached.clone()),
            later.clone(),
            fits(reached),
        ]);
        // A helix takes up where the turn before ended, and the first turn no higher than its passes begin.
        let steady = if self.is_helix() {
            let from = |e: &Expr| tidy(&(self.from.clone() - e.clone()));
            Condition::any([
                Condition::all([later, Condition::equal(from(&higher), Expr::zero())]),
                Condition::all([
                    Condition::equal(Expr::symbol(&index), Expr::from(1)),
                    Condition::at_most(from(&start), Expr::zero()),
                ]),
            ])
        } else {
            Condition::True
        };
        Condition::all([fits(&higher), first, steady])
    }

    /// Where it ends when the value of its passes is this.
    fn at_value(&self, value: &Expr) -> Expr {
        let Some(passes) = &self.descent else { return self.to.clone() };
        tidy(&self.to.substitute(&|s| (*s == passes.value).then(|| value.clone())))
    }

    /// What is cut all round when its passes have ended; `None` where that cannot be said.
    fn reaches(&self) -> Option<Expr> {
        let scope = &self.turn.at.scope;
        let known_down = |way: &Expr| scope.bounds(way).0.is_some_and(|least| least.signum() >= 0);
        let end = match (&self.descent, self.is_helix()) {
            (None, true) if known_down(&tidy(&(self.from.clone() - self.to.clone()))) => self.from.clone(),
            (None, true) => self.from.clone().max(self.to.clone()),
            (None, false) => self.to.clone(),
            (Some(passes), true) => {
                // A step is never longer than the whole way, where that is known to go down.
                let (first, last) = (self.at_value(&passes.from), self.at_value(&passes.to));
                let way = tidy(&(first - last.clone()));
                let step = if known_down(&way) { passes.by.clone().min(way) } else { passes.by.clone() };
                tidy(&(last + step))
            }
            (Some(passes), false) => self.at_value(&passes.to),
        };
        let loops = &self.turn.at.loops;
        (!end.symbols().iter().any(|s| loops.contains(s))).then_some(end)
    }
}
