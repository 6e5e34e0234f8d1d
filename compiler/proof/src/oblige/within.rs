//! `within`: below the top face the cutter stays on its side of every wall and above the floor.

use borewright_base::Span;
use borewright_motion::{Condition, Expr, Promise};

use super::safe::site;
use super::scope::Scope;
use super::shape::{Course, Solid};
use super::tidy::tidy;
use super::walk::Path;
use super::{Context, Draft, Goal, Move, height};
use crate::Kind;

/// Adds the obligations of `within` on the motion's own moves.
pub(crate) fn oblige(context: &mut Context<'_>, name: &str, promise: &Promise, because: Span) {
    let all = context.solids();
    let one = context.motion.made.len() == 1;
    if all.iter().any(|s| s.thread.is_some()) {
        super::thread::within(context, &all, promise, because);
        return;
    }
    if all.iter().any(|s| s.cone.is_some()) {
        super::chamfer::within(context, &all, promise, because);
        return;
    }
    if all.iter().any(|s| s.slot.is_some()) {
        super::undercut::within(context, &all, promise, because);
        return;
    }
    for m in context.moves() {
        // Rapid moves below the top face are held to air by a rule of their own.
        if m.path == Path::Rapid {
            continue;
        }
        match all.as_slice() {
            [solid] if one => {
                walls(context, solid, promise, because, &m);
                floor(context, solid, promise, because, &m);
            }
            several => union(context, several, name, promise, because, &m),
        }
    }
}

/// The way of a move, where its ends are known, with the heights of both.
pub(crate) fn course(m: &Move) -> Option<(Course<'_>, &Expr, &Expr)> {
    let (Some(from), Some(to)) = (&m.from.xy, &m.to.xy) else { return None };
    let (high, low) = (height(&m.from)?, height(&m.to)?);
    // The start has been looked at where it is the end of a cut at this height.
    let sloped = high != low || m.fresh;
    Some((Course { path: &m.path, from, to, sloped }, high, low))
}

/// All of the move is on or above that height.
pub(crate) fn above(top: &Expr, high: &Expr, low: &Expr) -> Condition {
    let above = |z: &Expr| Condition::at_least(z.clone(), top.clone());
    if high == low { above(low) } else { Condition::all([above(high), above(low)]) }
}

pub(crate) fn walls(context: &mut Context<'_>, solid: &Solid, promise: &Promise, because: Span, m: &Move) {
    let Some((course, high, low)) = course(m) else { return };
    let free = above(&solid.top, high, low);
    if free == Condition::True {
        return;
    }
    for wall in &solid.walls {
        let goal = wall.allows(context, &m.at.scope, &course);
        let word = format!("within/{}", solid.name);
        let why = format!("the cutter stays {} the {} of `{}`", side(wall.inside), wall.name, solid.name);
        let draft = Draft::new(Kind::Wall, site(&word, &m.at), why).serving(promise, because);
        let easier = Some(goal.easier.unwrap_or_else(|| goal.exact.clone()));
        let exact = Condition::any([free.clone(), goal.exact]);
        context.add(draft, &m.at, Goal { exact, easier });
    }
}

fn side(inside: bool) -> &'static str {
    if inside { "inside" } else { "outside" }
}

pub(crate) fn floor(context: &mut Context<'_>, solid: &Solid, promise: &Promise, because: Span, m: &Move) {
    let Some((course, high, low)) = course(m) else { return };
    if !course.sloped {
        return;
    }
    let word = format!("within/{}/floor", solid.name);
    let why = format!("the cutter stays above the floor of `{}`", solid.name);
    let draft = Draft::new(Kind::Floor, site(&word, &m.at), why).serving(promise, because);
    let goal = over(&solid.floor, m, high, low);
    let exact = Condition::any([goal.clone(), above(&solid.top, high, low)]);
    context.add(draft, &m.at, Goal { easier: Some(goal).filter(|g| *g != exact), exact });
}

/// Both ends of the move are on or above a floor; the start only where nothing is known of it.
fn over(floor: &Expr, m: &Move, high: &Expr, low: &Expr) -> Condition {
    let over = |z: &Expr| Condition::at_least(tidy(&(z.clone() - floor.clone())), Expr::zero());
    if m.fresh && high != low { Condition::all([over(high), over(low)]) } else { over(low) }
}

/// Where several features are made, the move stays in one of them, and above it in the air or in another.
fn union(context: &mut Context<'_>, all: &[Solid], name: &str, promise: &Promise, because: Span, m: &Move) {
    let Some((course, high, low)) = course(m) else { return };
    let tops = context.tops().to_vec();
    let free = Condition::all(tops.iter().map(|top| above(top, high, low)));
    if free == Condition::True {
        return;
    }
    let scope = m.at.scope.clone();
    let course = Course { sloped: true, ..course };
    let inside: Vec<Condition> = all
        .iter()
        .map(|s| Condition::all(s.walls.iter().map(|w| w.allows(context, &scope, &course).exact)))
        .collect();
    let column = Column { all, inside: &inside, tops: &tops };
    let ways: Vec<Condition> = (0..all.len())
        .filter_map(|i| {
            let floor = over(&all.get(i)?.floor, m, high, low);
            Some(Condition::all([floor, column.open_from(i, &[])]))
        })
        .collect();
    let easier = ways.iter().find(|w| holds(context, &scope, m, w)).cloned();
    let exact = Condition::any([free].into_iter().chain(ways));
    let why = "the cutter stays within one of the features that are made, and above it in air or in another";
    let id = site(&format!("within/{name}"), &m.at);
    let draft = Draft::new(Kind::Wall, id, why).serving(promise, because);
    context.add(draft, &m.at, Goal { exact, easier });
}

fn holds(context: &Context<'_>, scope: &Scope, m: &Move, goal: &Condition) -> bool {
    context.oracle.holds(&scope.formula_without_counts(goal.clone(), &m.at.turns.facts()))
}

/// What stands above a cutter that goes down into a feature.
struct Column<'a> {
    all: &'a [Solid],
    /// Whether the cutter keeps within the walls of each.
    inside: &'a [Condition],
    tops: &'a [Expr],
}

impl Column<'_> {
    /// Within the walls of feature `i`, and from its top on in the air or in a feature above it.
    fn open_from(&self, i: usize, below: &[usize]) -> Condition {
        let (Some(solid), Some(inside)) = (self.all.get(i), self.inside.get(i)) else {
            return Condition::False;
        };
        let at_least = |a: &Expr, b: &Expr| Condition::at_least(tidy(&(a.clone() - b.clone())), Expr::zero());
        let air = Condition::all(self.tops.iter().map(|top| at_least(&solid.top, top)));
        let used: Vec<usize> = below.iter().copied().chain([i]).collect();
        let mut ways = vec![air.clone()];
        if air != Condition::True {
            for (j, upper) in self.all.iter().enumerate().filter(|(j, _)| !used.contains(j)) {
                let joined = at_least(&solid.top, &upper.floor);
                ways.push(Condition::all([joined, self.open_from(j, &used)]));
            }
        }
        Condition::all([inside.clone(), Condition::any(ways)])
    }
}
