//! Once round on several arcs, each about a centre of its own: a spiral.

use borewright_motion::{Condition, Expr, Point, Way};

use super::safe::site;
use super::shape::{length, within_disc};
use super::tidy::tidy;
use super::turns::{Ring, Round};
use super::walk::{Path, flat};
use super::{Context, Draft, Move, height};
use crate::Kind;

/// Arcs that follow each other once round a centre.
struct Spiral {
    arcs: Vec<Move>,
    /// Where it may begin: one move for each place that the first arc is come by from.
    begins: Vec<Move>,
    way: Way,
}

/// Every run of three or more arcs of one height and one way round, taken as one way round `centre`, together
/// with the obligations that make it one.
pub(crate) fn rounds(
    context: &mut Context<'_>,
    centre: &Point,
    draft: &dyn Fn(Kind, &str, String) -> Draft,
) -> Vec<Round> {
    spirals(context).iter().filter_map(|spiral| round(context, spiral, centre, draft)).collect()
}

fn spirals(context: &Context<'_>) -> Vec<Spiral> {
    let mut all: Vec<Spiral> = Vec::new();
    let mut run: Option<Spiral> = None;
    for m in context.moves().into_iter().filter(|m| m.at.certain) {
        let Path::Arc(way, _) = m.path else {
            all.extend(run.take());
            continue;
        };
        let flat = m.from.z == m.to.z && height(&m.to).is_some();
        run = match run.take() {
            Some(mut spiral) if flat && spiral.takes(&m, way) => {
                spiral.add(m);
                Some(spiral)
            }
            other => {
                all.extend(other);
                flat.then(|| Spiral { arcs: vec![m.clone()], begins: vec![m], way })
            }
        };
    }
    all.extend(run);
    all.retain(|s| s.arcs.len() >= 3);
    all
}

impl Spiral {
    fn takes(&self, m: &Move, way: Way) -> bool {
        let last = self.arcs.last();
        way == self.way && last.is_some_and(|l| l.at.loops == m.at.loops && l.to.z == m.to.z)
    }

    fn add(&mut self, m: Move) {
        if self.arcs.last().is_some_and(|l| l.at.site == m.at.site) {
            if self.arcs.len() == 1 {
                self.begins.push(m);
            }
        } else {
            self.arcs.push(m);
        }
    }
}

/// The arc's centre and the radius about it, in coordinates about the feature's centre.
struct Arm {
    about: Point,
    radius: Expr,
    off: Expr,
}

fn arm(context: &Context<'_>, m: &Move, centre: &Point) -> Option<Arm> {
    let (Path::Arc(_, about), Some(to)) = (&m.path, &m.to.xy) else { return None };
    let scope = &m.at.scope;
    let radius = length(context, scope, &flat(&to.minus(about)));
    let about = flat(&about.minus(centre));
    let off = length(context, scope, &about);
    Some(Arm { about, radius, off })
}

fn round(
    context: &mut Context<'_>,
    spiral: &Spiral,
    centre: &Point,
    draft: &dyn Fn(Kind, &str, String) -> Draft,
) -> Option<Round> {
    let (first, last) = (spiral.arcs.first()?.clone(), spiral.arcs.last()?.clone());
    let arms: Option<Vec<Arm>> = spiral.arcs.iter().map(|m| arm(context, m, centre)).collect();
    let arms = arms?;
    // A growing spiral is nearest to the centre on its first arc and farthest from it on its last.
    let least = tidy(&(arms.first()?.radius.clone() - arms.first()?.off.clone()));
    let greatest = tidy(&(arms.last()?.radius.clone() + arms.last()?.off.clone()));
    let mut goals: Vec<(Draft, Move, Condition)> = Vec::new();
    let why =
        "each arc of the way round goes about the centre, no nearer than the first, no farther than the last";
    for (m, arm) in spiral.arcs.iter().zip(&arms) {
        let goal = Condition::all([
            within_disc(&arm.about, &tidy(&(arm.radius.clone() - least.clone()))),
            within_disc(&arm.about, &tidy(&(greatest.clone() - arm.radius.clone()))),
            Condition::greater(least.clone(), Expr::zero()),
        ]);
        goals.push((draft(Kind::Standing, &site("round", &m.at), why.to_owned()), m.clone(), goal));
    }
    let why = "the arcs go once round";
    for begin in &spiral.begins {
        let goal = once_round(spiral, begin, &last, centre)?;
        goals.push((draft(Kind::Standing, &site("closes", &begin.at), why.to_owned()), begin.clone(), goal));
    }
    let holds = |(_, m, goal): &(Draft, Move, Condition)| {
        context.oracle.holds(&m.at.scope.formula_without_counts(goal.clone(), &m.at.turns.facts()))
    };
    if !goals.iter().all(holds) {
        // Arcs that follow each other for some other reason.
        return None;
    }
    goals.into_iter().for_each(|(draft, m, goal)| context.add(draft, &m.at, goal));
    let z = height(&first.to)?.clone();
    let known = context.scope.clone();
    let plain = |e: &Expr| tidy(&first.at.scope.inline_beyond(&known, e));
    let (least, greatest) = (plain(&least), plain(&greatest));
    let rings = Ring::of(context, &first, &[&least, &greatest]);
    Some(Round {
        from: z.clone(),
        to: z.clone(),
        about: centre.clone(),
        arm: Point { x: least.clone(), y: Expr::zero() },
        descent: Round::descent_of(context, &first, &z),
        rings,
        reach: Some((least, greatest)),
        turn: first,
    })
}

/// Each arc goes on round the centre by less than half a circle, and the last ends in the direction in which
/// the first began: then they have gone round at least once.
fn once_round(spiral: &Spiral, begin: &Move, last: &Move, centre: &Point) -> Option<Condition> {
    let about = |p: &Point| flat(&p.minus(centre));
    let mut ahead = Vec::new();
    let start = about(begin.from.xy.as_ref()?);
    let mut from = start.clone();
    for m in &spiral.arcs {
        let to = about(m.to.xy.as_ref()?);
        let round = tidy(&from.cross(&to));
        ahead.push(match spiral.way {
            Way::Ccw => Condition::greater(round, Expr::zero()),
            Way::Cw => Condition::less(round, Expr::zero()),
        });
        from = to;
    }
    let end = about(last.to.xy.as_ref()?);
    ahead.push(Condition::equal(tidy(&start.cross(&end)), Expr::zero()));
    ahead.push(Condition::greater(tidy(&start.dot(&end)), Expr::zero()));
    Some(Condition::all(ahead))
}
