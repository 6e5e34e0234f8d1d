//! Grooves in the wall of a bore: a disc on a narrower neck goes down in the bore, out at the height of the groove,
//! round, and back into the bore before it goes up.
//!
//! Above and below the groove the bore's wall stands. So each move either keeps all of the cutter in the bore, or
//! keeps the disc between the two sides of the groove and the neck in the bore. A slope that does the one at its
//! start and the other at its end is refused: that is stricter than it need be.

use borewright_base::Span;
use borewright_motion::{Condition, Expr, Field, Made, Promise, Shape};

use super::safe::site;
use super::shape::{Course, Slot, Solid};
use super::tidy::tidy;
use super::walk::{END, Path};
use super::{At, Context, Draft, Event, Goal, Move, Place, height};
use crate::Kind;

/// Whether the motion's own moves make such a groove: how long the cutter's edges must be is a matter of the groove's
/// sides then.
pub(crate) fn cuts(context: &Context<'_>) -> bool {
    context.solids().iter().any(|s| s.slot.is_some())
}

fn at_least(a: &Expr, b: &Expr) -> Condition {
    Condition::at_least(tidy(&(a.clone() - b.clone())), Expr::zero())
}

/// Above the groove stands the wall of the bore: even a way up is safe only where the cutter stays within.
pub(crate) fn stays_in_it(context: &mut Context<'_>, made: &Made) {
    let undercut = matches!(made.feature.shape, Shape::Undercut { .. });
    if undercut && !made.promises.iter().any(|(p, _)| *p == Promise::Within) {
        let name = &made.feature.name;
        let why = format!("`{name}` promises `within`: the wall of the bore stands above it");
        context.refuse(Draft::new(Kind::Disc, format!("disc/{name}"), why), made.feature.span);
    }
}

/// Adds the obligations of `within` on the motion's own moves.
pub(crate) fn within(context: &mut Context<'_>, all: &[Solid], promise: &Promise, because: Span) {
    let moves = context.moves();
    let one = match all {
        [solid] => solid.slot.clone().map(|slot| (solid, slot)),
        [] | [_, _, ..] => None,
    };
    let Some((solid, slot)) = one else {
        if moves.iter().any(|m| m.path != Path::Rapid) {
            let why = "a groove in a bore is cut by a routine that makes nothing else, at one place; call it for each";
            context.refuse(Draft::new(Kind::Kept, "within/undercut", why).serving(promise, because), because);
        }
        return;
    };
    if moves.is_empty() {
        return;
    }
    possible(context, solid, promise, because);
    for m in &moves {
        if m.path != Path::Rapid {
            super::within::walls(context, solid, promise, because, m);
        }
        has_room(context, solid, &slot, promise, because, m);
    }
    for event in context.events.clone() {
        match &event {
            Event::Retract(place, at) => goes_up(context, solid, &slot, promise, because, place, at),
            // Whoever comes next begins by going straight up.
            Event::Dwell(place, at) if at.site == END => {
                goes_up(context, solid, &slot, promise, because, place, at);
            }
            Event::Dwell(..)
            | Event::Move(_)
            | Event::Joint(_)
            | Event::Let(_)
            | Event::Passes(..)
            | Event::Call(..)
            | Event::Tool(..)
            | Event::Spindle(..)
            | Event::Stop(_)
            | Event::ToolDone(_) => {}
        }
    }
}

/// The cutter is a disc: it has some thickness, and the neck is no wider.
fn possible(context: &mut Context<'_>, solid: &Solid, promise: &Promise, because: Span) {
    let field = |f: Field| Expr::symbol(&f.symbol());
    let goal = Condition::all([
        Condition::greater(field(Field::Flutes), Expr::zero()),
        Condition::at_least(field(Field::Tooth), Expr::zero()),
    ]);
    let why = "the disc of the cutter has some thickness, and its neck is no wider";
    let draft = Draft::new(Kind::Disc, format!("within/{}/disc", solid.name), why);
    let scope = context.scope.clone();
    context.add_with(draft.serving(promise, because), &scope, &[], because, goal);
}

/// All of the cutter stays in the bore, or the disc in the groove and the neck in the bore.
fn has_room(
    context: &mut Context<'_>,
    solid: &Solid,
    slot: &Slot,
    promise: &Promise,
    because: Span,
    m: &Move,
) {
    let (Some(from), Some(to)) = (&m.from.xy, &m.to.xy) else { return };
    let (Some(high), Some(low)) = (height(&m.from), height(&m.to)) else { return };
    // Across, rapid moves are held to air by a rule of their own.
    if m.path == Path::Rapid && m.says_xy {
        return;
    }
    let above = super::within::above(&slot.face, high, low);
    if above == Condition::True {
        return;
    }
    let scope = m.at.scope.clone();
    let course = Course { path: &m.path, from, to, sloped: true };
    let both = |holds: &dyn Fn(&Expr) -> Condition| Condition::all([holds(high), holds(low)]);
    let in_bore = Condition::all([
        slot.free.allows(context, &scope, &course).exact,
        both(&|z| at_least(z, &slot.bottom)),
    ]);
    let flutes = Expr::symbol(&Field::Flutes.symbol());
    let in_groove = Condition::all([
        slot.neck.allows(context, &scope, &course).exact,
        both(&|z| {
            Condition::all([at_least(z, &solid.floor), at_least(&solid.top, &(z.clone() + flutes.clone()))])
        }),
    ]);
    let proved = |way: &Condition| {
        context.oracle.holds(&scope.formula_without_counts(way.clone(), &m.at.turns.facts()))
    };
    let easier = [&in_groove, &in_bore].into_iter().find(|way| proved(way)).cloned();
    let exact = Condition::any([above, in_bore, in_groove]);
    let why = "all of the cutter stays in the bore, or its disc in the groove and its neck in the bore";
    let draft = Draft::new(Kind::Disc, site(&format!("within/{}/room", solid.name), &m.at), why);
    context.add(
        draft.serving(promise, because),
        &m.at,
        Goal { easier: easier.filter(|e| *e != exact), exact },
    );
}

/// Straight up only in the bore.
fn goes_up(
    context: &mut Context<'_>,
    solid: &Solid,
    slot: &Slot,
    promise: &Promise,
    because: Span,
    place: &Place,
    at: &At,
) {
    let (Some(p), Some(z)) = (&place.xy, height(place)) else { return };
    let above = Condition::at_least(z.clone(), slot.face.clone());
    let free = slot.free.allows_point(p);
    let exact = Condition::any([above, free.clone()]);
    let why = "the cutter goes straight up, or is left, in the bore";
    let draft = Draft::new(Kind::Disc, site(&format!("within/{}/up", solid.name), at), why);
    context.add(
        draft.serving(promise, because),
        at,
        Goal { easier: Some(free).filter(|f| *f != exact), exact },
    );
}
