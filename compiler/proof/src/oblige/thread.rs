//! Threads: wherever the teeth bite, the path keeps the lead about the thread's axis; full turns at full depth
//! reach from the floor to the top face.
//!
//! The groove winds about the axis: its middle rises by the pitch in each turn. A tooth is as wide as the groove
//! at each depth, so it may bite only where its middle is on that helix: the height is linear in the angle about
//! the *axis*. That holds of turns and quarter turns about the axis, of half circles that begin or end on it
//! (the angle about the axis is half of their own), and of straight ways along a radius at one height. Half
//! circles from one side of the axis to the other come near enough (`winding`, `taper`). All else stays where no
//! tooth reaches the metal.

use borewright_base::Span;
use borewright_motion::{Condition, CutterKind, Expr, Field, Node, Point, Promise, Symbol, Way};
use borewright_number::Rational;

use super::safe::site;
use super::scope::{Scope, before_of};
use super::shape::{Solid, Thread, flat_square};
use super::tidy::{Sum, tidy};
use super::turns::{Round, rounds};
use super::walk::{Path, flat};
use super::{Context, Draft, Event, Goal, Move, height, taper, winding};
use crate::{ConcreteCheck, Kind};

pub(crate) fn field(f: Field) -> Expr {
    Expr::symbol(&f.symbol())
}

pub(crate) fn zero(e: &Expr) -> Condition {
    Condition::equal(tidy(e), Expr::zero())
}

pub(crate) fn at_least(a: &Expr, b: &Expr) -> Condition {
    Condition::at_least(tidy(&(a.clone() - b.clone())), Expr::zero())
}

/// Whether the cutter in the spindle is a thread cutter.
pub(crate) fn cuts(context: &Context<'_>, m: &Move) -> bool {
    super::held(context, m) == Some(CutterKind::Thread)
}

/// What is gained in Z by a counterclockwise turn.
pub(crate) fn rise(thread: &Thread) -> Expr {
    thread.hand.clone() * thread.pitch.clone()
}

fn axis(solid: &Solid) -> Point {
    solid.centre.clone()
}

/// A quarter turn counterclockwise, so many times.
fn turned(p: &Point, quarters: usize) -> Point {
    (0..quarters).fold(p.clone(), |p, _| Point { x: -p.y, y: p.x })
}

/// Whether the whole move keeps the lead about the axis of the thread. Sufficient.
pub(crate) fn keeps(context: &Context<'_>, solid: &Solid, m: &Move) -> Condition {
    let (Some(thread), Some(from), Some(to)) = (&solid.thread, &m.from.xy, &m.to.xy) else {
        return Condition::False;
    };
    if taper::is_tapered(thread) {
        return taper::keeps(solid, thread, m);
    }
    let (Some(start), Some(end)) = (height(&m.from), height(&m.to)) else { return Condition::False };
    let axis = axis(solid);
    let (u, v) = (flat(&from.minus(&axis)), flat(&to.minus(&axis)));
    let gained = tidy(&(end.clone() - start.clone()));
    let gains = |way: Way, part: Expr| {
        let risen = rise(thread) * part;
        zero(&if way == Way::Ccw { gained.clone() - risen } else { gained.clone() + risen })
    };
    match &m.path {
        Path::Rapid => Condition::False,
        // Straight up or down.
        Path::Line if u == v => Condition::False,
        Path::Line => Condition::all([zero(&gained), along_radius(solid, m)]),
        Path::Turn(way, about) => Condition::all([here(&about.minus(&axis)), gains(*way, Expr::from(1))]),
        Path::Arc(way, about) => {
            let quarter = |n: usize| {
                let times = if *way == Way::Ccw { n } else { 4 - n };
                Condition::all([here(&v.minus(&turned(&u, times))), gains(*way, quarters(n))])
            };
            let round = Condition::any((1..4).map(quarter));
            let own = flat(&about.minus(&axis));
            let half = Condition::all([through(solid, m, about), gains(*way, quarters(1))]);
            let beside = winding::keeps(context, solid, thread, m);
            if beside != Condition::False {
                return beside;
            }
            Condition::any([Condition::all([here(&own), round]), half])
        }
    }
}

/// The point is the axis, or the vector none.
pub(crate) fn here(p: &Point) -> Condition {
    Condition::all([zero(&p.x), zero(&p.y)])
}

/// A half circle that begins or ends on the axis.
pub(crate) fn through(solid: &Solid, m: &Move, about: &Point) -> Condition {
    let (Some(from), Some(to)) = (&m.from.xy, &m.to.xy) else { return Condition::False };
    let axis = axis(solid);
    let [u, v, own] = [from, to, about].map(|p| flat(&p.minus(&axis)));
    let twice = Point { x: own.x.clone() * Expr::from(2), y: own.y.clone() * Expr::from(2) };
    Condition::all([here(&u.plus(&v).minus(&twice)), Condition::any([here(&u), here(&v)])])
}

/// Straight along a radius, on one side of the axis.
pub(crate) fn along_radius(solid: &Solid, m: &Move) -> Condition {
    let (Some(from), Some(to)) = (&m.from.xy, &m.to.xy) else { return Condition::False };
    let axis = axis(solid);
    let [u, v] = [from, to].map(|p| flat(&p.minus(&axis)));
    if u == v {
        return Condition::False;
    }
    Condition::all([zero(&u.cross(&v)), Condition::at_least(tidy(&u.dot(&v)), Expr::zero())])
}

/// Adds the obligations of `within` on the motion's own moves.
pub(crate) fn within(context: &mut Context<'_>, all: &[Solid], promise: &Promise, because: Span) {
    let moves = context.moves();
    let [solid] = all else {
        if moves.iter().any(|m| m.path != Path::Rapid) {
            let why = "a thread is cut by a routine that makes nothing else, at one place; call it for each";
            context.refuse(Draft::new(Kind::Kept, "within/thread", why).serving(promise, because), because);
        }
        return;
    };
    let Some(thread) = solid.thread.clone() else { return };
    if moves.is_empty() {
        return;
    }
    teeth(context, solid, &thread, promise, because);
    let deep = Solid { floor: thread.bottom.clone(), ..solid.clone() };
    let mut first: Option<(Point, Expr)> = None;
    for m in &moves {
        if m.path != Path::Rapid {
            // A cone is held to with the lead.
            if !taper::is_tapered(&thread) {
                super::within::walls(context, solid, promise, because, m);
            }
            super::within::floor(context, &deep, promise, because, m);
        }
        lead(context, solid, &thread, promise, because, m);
        entry(context, solid, &thread, promise, because, m, &mut first);
    }
    for event in context.events.clone() {
        let Event::Retract(place, at) = event else { continue };
        let (Some(p), Some(z)) = (&place.xy, height(&place)) else { continue };
        let above = Condition::at_least(z.clone(), solid.top.clone());
        let goal = Condition::any([above, thread.free.allows_point(p)]);
        let why = "no tooth bites where the cutter goes straight up";
        let draft = Draft::new(Kind::Lead, site(&format!("within/{}/lead", solid.name), &at), why);
        context.add(draft.serving(promise, because).checked(ConcreteCheck::OffLead), &at, goal);
    }
}

/// The teeth are those of the thread, and nothing between them reaches the metal.
fn teeth(context: &mut Context<'_>, solid: &Solid, thread: &Thread, promise: &Promise, because: Span) {
    let depth = solid.outer.clone() - solid.inner.clone();
    let goal = Condition::all([
        zero(&(field(Field::Pitch) - thread.pitch.clone())),
        at_least(&field(Field::Tooth), &depth),
        at_least(&field(Field::Nose), &Expr::zero()),
        taper::fits(thread),
        Condition::at_least(field(Field::Rows), Expr::from(1)),
    ]);
    let why = "the teeth of the cutter have the thread's pitch and taper, and stand out at least as far as it is deep";
    let draft = Draft::new(Kind::Teeth, format!("within/{}/teeth", solid.name), why);
    let scope = context.scope.clone();
    context.add_with(draft.serving(promise, because), &scope, &[], because, goal);
}

/// The move stays off the metal, above it or in what is free; the second is the shorter thing to say.
pub(crate) fn off_metal(
    context: &Context<'_>,
    solid: &Solid,
    thread: &Thread,
    m: &Move,
) -> Option<(Condition, Condition)> {
    if m.path == Path::Rapid {
        // Across, rapid moves go through air anyway; up, they need only not begin in the metal.
        let (Some(p), Some(high), Some(low)) = (&m.from.xy, height(&m.from), height(&m.to)) else {
            return None;
        };
        if m.says_xy {
            return None;
        }
        let above = super::within::above(&solid.top, high, low);
        return Some((above, thread.free.allows_point(p)));
    }
    let (course, high, low) = super::within::course(m)?;
    let course = super::shape::Course { sloped: true, ..course };
    let free = thread.free.allows(context, &m.at.scope, &course);
    Some((super::within::above(&solid.top, high, low), free.easier.unwrap_or(free.exact)))
}

fn lead(
    context: &mut Context<'_>,
    solid: &Solid,
    thread: &Thread,
    promise: &Promise,
    because: Span,
    m: &Move,
) {
    let Some((above, free)) = off_metal(context, solid, thread, m) else { return };
    let keeps = keeps(context, solid, m);
    let easier = if keeps == Condition::False { free.clone() } else { keeps.clone() };
    let exact = Condition::any([above.clone(), free.clone(), keeps]);
    let why = "the teeth stay off the metal, or the height follows the angle about the thread's axis";
    let draft = |kind, word: &str, why: &str| {
        let id = site(&format!("within/{}/{word}", solid.name), &m.at);
        Draft::new(kind, id, why).serving(promise, because)
    };
    let whole = Goal { easier: Some(easier).filter(|e| *e != exact && *e != Condition::False), exact };
    context.add(draft(Kind::Lead, "lead", why).checked(ConcreteCheck::OffLead), &m.at, whole);
    let (Some(high), Some(low)) = (height(&m.from), height(&m.to)) else { return };
    if m.path == Path::Rapid {
        return;
    }
    let lowest = solid.floor.clone() - thread.pitch.clone() - field(Field::Nose);
    let over = Condition::all([at_least(high, &lowest), at_least(low, &lowest)]);
    let exact = Condition::any([above, free, over.clone()]);
    let why = "no tooth bites deeper than one pitch below the floor of the thread";
    let goal = Goal { easier: Some(over).filter(|e| *e != exact), exact };
    context.add(draft(Kind::Floor, "run-out", why), &m.at, goal);
}

/// Where the teeth come into the metal, they come into the same groove each time.
fn entry(
    context: &mut Context<'_>,
    solid: &Solid,
    thread: &Thread,
    promise: &Promise,
    because: Span,
    m: &Move,
    first: &mut Option<(Point, Expr)>,
) {
    if m.path == Path::Rapid || keeps(context, solid, m) == Condition::False {
        return;
    }
    let Some((above, free)) = off_metal(context, solid, thread, m) else { return };
    let (Some(from), Some(to), Some(z)) = (&m.from.xy, &m.to.xy, height(&m.to)) else { return };
    let axis = axis(solid);
    let (u, v) = (flat(&from.minus(&axis)), flat(&to.minus(&axis)));
    // A way that ends no deeper in the metal than it began was in it before if it ever is, or comes from above.
    let (less, more) = if thread.inside { (&v, &u) } else { (&u, &v) };
    let no_deeper = Condition::at_most(tidy(&(flat_square(less) - flat_square(more))), Expr::zero());
    let Some(begins) = height(&m.from) else { return };
    let below = Condition::less(begins.clone(), solid.top.clone());
    let leaves = Condition::all([no_deeper, below]);
    if free == Condition::True || above == Condition::True {
        return;
    }
    let of_loop = |e: &Expr| e.symbols().iter().any(|s| m.at.loops.contains(s));
    let changes = [&v.x, &v.y, z].into_iter().any(of_loop);
    let reference = match first {
        Some(known) => known.clone(),
        None if changes => (earlier(context, m, &v), earlier_z(context, m, z)),
        None => {
            *first = Some((v, z.clone()));
            return;
        }
    };
    let known = |e: &Expr| {
        e.symbols().iter().all(|s| {
            m.at.scope.definition(s).is_some() || !context_loop(context, s) || m.at.loops.contains(s)
        })
    };
    let ways: Vec<Condition> = if [&reference.0.x, &reference.0.y, &reference.1].into_iter().all(known) {
        // A way that keeps the lead and begins in the groove ends in it.
        let begun = Some((&u, begins)).filter(|_| thread.lean != Expr::zero());
        let places: Vec<(&Point, &Expr)> = [(&v, z)].into_iter().chain(begun).collect();
        let in_groove = |place| (0..4).map(move |k| (place, k));
        let all = places.into_iter().flat_map(in_groove);
        all.map(|(place, k)| same_groove(&m.at.scope, thread, &reference, place, k)).collect()
    } else {
        Vec::new()
    };
    // Where one way asks for a direction alone, that is all that has to be looked at.
    let plain = ways.iter().find(|way| matches!(way, Condition::Compare(..))).cloned();
    let same = Condition::any(ways);
    let easier = plain.unwrap_or_else(|| same.clone());
    let exact = Condition::any([above, free, leaves, same]);
    let why = "the teeth come into the groove that they were in before";
    let draft = Draft::new(Kind::Lead, site(&format!("within/{}/groove", solid.name), &m.at), why)
        .serving(promise, because)
        .checked(ConcreteCheck::OffLead);
    context.add(
        draft,
        &m.at,
        Goal { easier: Some(easier).filter(|e| *e != Condition::False && *e != exact), exact },
    );
}

fn context_loop(context: &Context<'_>, symbol: &Symbol) -> bool {
    context.moves().iter().any(|m| m.at.loops.contains(symbol))
}

/// In the turn before of the loops around.
fn earlier(context: &Context<'_>, m: &Move, p: &Point) -> Point {
    Point { x: earlier_z(context, m, &p.x), y: earlier_z(context, m, &p.y) }
}

fn earlier_z(context: &Context<'_>, m: &Move, e: &Expr) -> Expr {
    e.substitute(&|s| {
        if !m.at.loops.contains(s) {
            return None;
        }
        Some(match context.passes(s) {
            Some(_) => Expr::symbol(&before_of(s)),
            None => Expr::symbol(s) - Expr::from(1),
        })
    })
}

/// Whether it is a whole number of pitches, by its looks: every product in it is one pitch, a whole number and
/// whole names.
fn whole_pitches(scope: &Scope, gained: &Expr, pitch: &Expr) -> bool {
    let pitch = tidy(&scope.inline(pitch));
    sides(&scope.inline(gained)).is_some_and(|both| both.iter().all(|e| is_whole_pitches(scope, e, &pitch)))
}

/// What it is for either answer to the one question in it: a hand that is a parameter chooses between two values.
pub(crate) fn sides(e: &Expr) -> Option<[Expr; 2]> {
    let mut questions: Vec<Condition> = Vec::new();
    e.walk(&mut |part| {
        if let Node::If(question, ..) = part.node()
            && !questions.contains(question)
        {
            questions.push((**question).clone());
        }
    });
    let side = |first: bool| {
        e.map(&|part| {
            let Node::If(_, a, b) = part.node() else { return None };
            Some(if first { a.clone() } else { b.clone() })
        })
    };
    (questions.len() <= 1).then(|| [side(true), side(false)])
}

fn is_whole_pitches(scope: &Scope, gained: &Expr, pitch: &Expr) -> bool {
    let Some(sum) = Sum::of(gained) else { return false };
    sum.terms().all(|(product, coefficient)| {
        let mut rest = product.clone();
        let unit = match pitch.as_number() {
            Some(number) => number.clone(),
            None => match rest.remove(pitch) {
                Some(1) => Rational::ONE,
                Some(_) | None => return false,
            },
        };
        !unit.is_zero() && (coefficient / &unit).is_whole() && rest.keys().all(|e| scope.is_whole(e))
    })
}

fn quarters(times: usize) -> Expr {
    Expr::from(i32::try_from(times).unwrap_or(0)) / Expr::from(4)
}

/// Two places in one groove: so many quarter turns apart, and that part of the pitch higher, or a pitch more
/// or less.
fn same_groove(
    scope: &Scope,
    thread: &Thread,
    a: &(Point, Expr),
    b: (&Point, &Expr),
    times: usize,
) -> Condition {
    let u = turned(&a.0, times);
    let gained = b.1.clone() - a.1.clone() - rise(thread) * quarters(times);
    let whole = [0, 1, -1].map(|n| zero(&(gained.clone() - thread.pitch.clone() * Expr::from(n))));
    let seen = Condition::from_bool(whole_pitches(scope, &gained, &thread.pitch));
    Condition::all([
        zero(&u.cross(b.0)),
        Condition::greater(tidy(&u.dot(b.0)), Expr::zero()),
        Condition::any([seen].into_iter().chain(whole)),
    ])
}

/// Adds the obligations of `sized`; `cleared` asks the same, as the teeth fill the groove.
pub(crate) fn sized(context: &mut Context<'_>, solid: &Solid, promise: &Promise, because: Span) {
    if super::calls::keeps_by_calls(context, promise) {
        return;
    }
    let (Some(thread), Some(wall)) = (solid.thread.clone(), solid.walls.first().cloned()) else { return };
    let word = promise.name();
    let draft = |kind, part: &str, why: String| {
        Draft::new(kind, format!("{word}/{}/{part}", solid.name), why)
            .serving(promise, because)
            .checked(ConcreteCheck::ThreadShort)
    };
    if taper::is_tapered(&thread) {
        taper::sized(context, solid, &thread, because, &draft);
        return;
    }
    let all = rounds(context);
    let mut on: Vec<Round> = all.iter().filter(|r| r.plainly_on(context, &wall)).cloned().collect();
    if on.is_empty() {
        on.extend(all.last().cloned());
    }
    let why = format!("a full turn cuts `{}` to its full depth", solid.name);
    let Some(last) = on.last().cloned() else {
        context.refuse(draft(Kind::Contact, "contact", why), because);
        return;
    };
    for round in &on {
        context.add(draft(Kind::Contact, &round.turn.at.site, why.clone()), &round.turn.at, round.on(&wall));
        let why = format!("a full turn that cuts `{}` gains one pitch", solid.name);
        let lead = draft(Kind::Turns, &site("lead", &round.turn.at), why);
        context.add(lead, &round.turn.at, keeps(context, solid, &round.turn));
    }
    let mut sites: Vec<String> = on.iter().map(|r| r.turn.at.site.clone()).collect();
    sites.dedup();
    let ways: Vec<(Round, [Condition; 3])> = sites
        .iter()
        .filter_map(|site| {
            let same: Vec<&Round> = on.iter().filter(|r| r.turn.at.site == *site).collect();
            Some(((*same.last()?).clone(), covers(context, solid, &thread, &same)?))
        })
        .collect();
    let holds = |(r, goals): &&(Round, [Condition; 3])| {
        let facts = r.turn.at.turns.facts();
        let goal = Condition::all(goals.iter().cloned());
        ways.len() == 1 || context.oracle.holds(&r.turn.at.scope.formula(goal, &facts))
    };
    let chosen = ways.iter().find(holds).or(ways.last()).cloned();
    let (round, goals) = chosen.unwrap_or((last, [Condition::False, Condition::False, Condition::False]));
    let words = ["follow each other", "begin or end at the floor", "reach past the top face"];
    for (goal, (part, words)) in goals.into_iter().zip(["turns", "low", "high"].into_iter().zip(words)) {
        let why = format!("the full turns that cut `{}` {words}", solid.name);
        context.add(draft(Kind::Turns, part, why), &round.turn.at, goal);
    }
}

/// The turns at one step of the text follow each other, and reach from the floor to half a pitch above the top:
/// then every turn of the groove between is cut all round.
pub(crate) fn covers(
    context: &Context<'_>,
    solid: &Solid,
    thread: &Thread,
    rounds: &[&Round],
) -> Option<[Condition; 3]> {
    let (first, last) = (*rounds.first()?, *rounds.last()?);
    let changes = |s: &&Symbol| last.to.symbols().contains(*s);
    let value = last.turn.at.loops.iter().rev().find(changes);
    let put = |e: &Expr, s: &Symbol, to: &Expr| tidy(&e.substitute(&|t| (t == s).then(|| to.clone())));
    let (start, end, joined) = match value {
        None => (first.from.clone(), last.to.clone(), Condition::True),
        Some(value) => {
            let (before, ends) = match context.passes(value) {
                Some(passes) => (Expr::symbol(&before_of(value)), passes.to),
                None => {
                    let count = super::apart::count_of(&context.motion.body, value)?;
                    (Expr::symbol(value) - Expr::from(1), count)
                }
            };
            // Each turn begins where the one before ended; of the first, where it begins is known.
            let follows = |r: &&&Round| {
                r.from.symbols().contains(value) || r.from.symbols().contains(&before_of(value))
            };
            let later: Vec<Condition> = rounds
                .iter()
                .filter(follows)
                .map(|r| zero(&(r.from.clone() - put(&last.to, value, &before))))
                .collect();
            let begins = rounds.iter().find(|r| !follows(r)).map(|r| r.from.clone())?;
            (begins, put(&last.to, value, &ends), Condition::all(later))
        }
    };
    let (nose, rows) = (field(Field::Nose), field(Field::Rows));
    let teeth = nose.clone() + (rows - Expr::from(1)) * thread.pitch.clone();
    let half = thread.pitch.clone() / Expr::from(2);
    let low = |z: &Expr| at_least(&solid.floor, &(z.clone() + nose.clone()));
    let high = |z: &Expr| at_least(&(z.clone() + teeth.clone()), &(solid.top.clone() + half.clone()));
    Some([joined, Condition::any([low(&start), low(&end)]), Condition::any([high(&start), high(&end)])])
}

/// Adds the obligations of `climb` or `conventional`: every way that bites goes round the promised way.
pub(crate) fn side(context: &mut Context<'_>, solid: &Solid, promise: &Promise, because: Span) {
    let Some(thread) = solid.thread.clone() else { return };
    let climb = *promise == Promise::Climb;
    let promised = if thread.inside == climb { Way::Ccw } else { Way::Cw };
    for m in context.moves().into_iter().filter(|m| m.path != Path::Rapid) {
        let Some((above, free)) = off_metal(context, solid, &thread, &m) else { continue };
        let right = match &m.path {
            Path::Turn(way, _) | Path::Arc(way, _) if *way == promised && taper::is_tapered(&thread) => {
                taper::keeps(solid, &thread, &m)
            }
            // About the axis, through it or nearly about it: about anything else the lead is not kept.
            Path::Turn(way, about) | Path::Arc(way, about) if *way == promised => {
                let own = flat(&about.minus(&axis(solid)));
                let beside = winding::keeps(context, solid, &thread, &m);
                let round = Condition::any([here(&own), through(solid, &m, about)]);
                if beside == Condition::False { round } else { beside }
            }
            // Straight in or out along a radius has no side.
            Path::Line => along_radius(solid, &m),
            Path::Rapid | Path::Turn(..) | Path::Arc(..) => Condition::False,
        };
        let exact = Condition::any([above, free.clone(), right.clone()]);
        let easier = if right == Condition::False { free } else { right };
        let why = format!("where the teeth bite, the path runs {} about the axis", promised.name());
        let id = site(&format!("{}/{}", promise.name(), solid.name), &m.at);
        let draft =
            Draft::new(Kind::Side, id, why).serving(promise, because).checked(ConcreteCheck::WrongSide);
        // What does not keep the lead at all is told elsewhere.
        context.add(draft, &m.at, Goal { easier: Some(easier).filter(|e| *e != exact), exact });
    }
}
