//! Walls between features: `apart(w)`, and that no two features run into each other unasked.

use borewright_base::Span;
use borewright_motion::{
    Action, Condition, Expr, Feature, Function, Node, Point, Promise, Shape, Step, Symbol, all_steps,
};

use super::calls::MadeThere;
use super::scope::Scope;
use super::shape::{Solid, outside_disc, signed_length};
use super::tidy::tidy;
use super::walk::flat;
use super::{Context, Draft, Goal};
use crate::{HypothesisKind, Kind};

/// `apart(w)`: between every two places of the feature, and between it and every other.
pub(crate) fn promised(
    context: &mut Context<'_>,
    feature: &Feature,
    web: &Expr,
    promise: &Promise,
    because: Span,
) {
    let serve = |d: Draft| d.serving(promise, because);
    among_places(context, feature, web, because, &serve);
    for other in context.motion.made.clone() {
        if other.feature != *feature {
            between(context, feature, &other.feature, web, because, &serve);
        }
    }
}

/// Features that are made by the motion's own moves do not run into each other unless they have one centre.
pub(crate) fn unasked(context: &mut Context<'_>) {
    let made = context.motion.made.clone();
    for (i, a) in made.iter().enumerate() {
        if a.promises.iter().any(|(p, _)| matches!(p, Promise::Apart(_))) {
            continue;
        }
        let span = a.feature.span;
        among_places(context, &a.feature, &Expr::zero(), span, &|d| d);
        for b in made.iter().skip(i + 1) {
            if !b.promises.iter().any(|(p, _)| matches!(p, Promise::Apart(_))) {
                between(context, &a.feature, &b.feature, &Expr::zero(), span, &|d| d);
            }
        }
    }
}

/// Between every two places of one feature.
fn among_places(
    context: &mut Context<'_>,
    feature: &Feature,
    web: &Expr,
    because: Span,
    serve: &dyn Fn(Draft) -> Draft,
) {
    let mut scope = (*context.scope).clone();
    let radius = Solid::of(feature, &Point::centre(), &scope).outer;
    let across = Expr::from(2) * radius + web.clone();
    let pattern = feature.pattern();
    if !pattern.is_empty() {
        let why = format!("neighbours among the places of `{}` keep their wall", feature.name);
        let draft = Draft::new(Kind::Web, format!("apart/{}", feature.name), why);
        let goal = match pattern.as_slice() {
            [(index, count)] => on_circle(&mut scope, feature, (index, count), &across),
            _ => {
                let easier = in_grid(&scope, &pattern, &across);
                Goal { exact: two_of(&mut scope, feature, &pattern, &across), easier }
            }
        };
        context.add_with(serve(draft), &scope, &[], because, goal);
        return;
    }
    for (i, a) in feature.at.iter().enumerate() {
        for (j, b) in feature.at.iter().enumerate().skip(i + 1) {
            let why = format!("places {} and {} of `{}` keep their wall", i + 1, j + 1, feature.name);
            let draft = Draft::new(Kind::Web, format!("apart/{}/{}-{}", feature.name, i + 1, j + 1), why);
            let goal = distance(&scope, a, b, &across);
            context.add_with(serve(draft), &scope, &[], because, goal);
        }
    }
}

/// Places on a circle or a part of one.
fn on_circle(scope: &mut Scope, feature: &Feature, counted: (&Symbol, &Symbol), across: &Expr) -> Goal {
    let (index, count) = counted;
    let radius = Expr::symbol(&Feature::pattern_radius(index));
    match scope.definition(&Feature::pattern_step(index)) {
        None => neighbours(&radius, &Expr::symbol(count), across).into(),
        Some(step) => {
            let easier = part_of_circle(&radius, step, &Expr::symbol(count), across);
            let exact = two_of(scope, feature, &[(index.clone(), count.clone())], across);
            Goal { exact, easier: Some(easier) }
        }
    }
}

/// Columns along X and rows along Y: the nearest places are neighbours in a row or in a column; one column, or one
/// row, has no neighbour.
fn in_grid(scope: &Scope, pattern: &[(Symbol, Symbol)], across: &Expr) -> Option<Condition> {
    let apart = |(index, count): &(Symbol, Symbol)| {
        let way = scope.definition(&Feature::pattern_step(index))?;
        let next = outside_disc(&Point { x: way.clone(), y: Expr::zero() }, across);
        Some(Condition::any([Condition::less(Expr::symbol(count), Expr::from(2)), next]))
    };
    Some(Condition::all(pattern.iter().map(apart).collect::<Option<Vec<_>>>()?))
}

fn flattened(scope: &Scope, p: &Point) -> Point {
    Point { x: scope.flatten(&p.x), y: scope.flatten(&p.y) }
}

/// Places spread evenly on a circle about the centre: the nearest two are neighbours, `2 r sin(180deg / n)`
/// apart; one place alone has no neighbour.
fn neighbours(radius: &Expr, count: &Expr, across: &Expr) -> Condition {
    let between = Expr::from(2) * radius.clone() * (Expr::from(180) / count.clone()).sin();
    Condition::any([
        Condition::less(count.clone(), Expr::from(2)),
        Condition::at_least(between, across.clone()),
    ])
}

/// Places on part of a circle, each a step further round: the nearest two are neighbours, where all of them stay
/// within one way round.
fn part_of_circle(radius: &Expr, step: &Expr, count: &Expr, across: &Expr) -> Condition {
    let chord = Expr::from(2) * radius.clone() * (step.clone() / Expr::from(2)).sin();
    let round = tidy(&(step.clone() * count.clone()));
    Condition::all([
        Condition::at_least(chord, across.clone()),
        Condition::at_least(step.clone(), Expr::zero()),
        Condition::at_most(round, Expr::from(360)),
    ])
}

/// Any two places of a pattern, by their numbers, are so far apart.
fn two_of(scope: &mut Scope, feature: &Feature, pattern: &[(Symbol, Symbol)], across: &Expr) -> Condition {
    let mut differ = Vec::new();
    for (index, count) in pattern {
        let other = other_turn(index);
        for symbol in [index, &other] {
            scope.repeat(symbol, &Expr::symbol(count));
        }
        differ.push(Condition::not_equal(Expr::symbol(index), Expr::symbol(&other)));
    }
    scope.assume(Condition::any(differ), HypothesisKind::Loop, None);
    let copy = |s: &Symbol| pattern.iter().any(|(index, _)| index == s).then(|| Expr::symbol(&other_turn(s)));
    let pairs = feature.at.iter().map(|p| distance(scope, p, &p.substitute(&copy), across).exact);
    Condition::all(pairs)
}

/// Two points are so far from each other.
fn distance(scope: &Scope, a: &Point, b: &Point, across: &Expr) -> Goal {
    let exact = outside_disc(&flat(&flattened(scope, a).minus(&flattened(scope, b))), across);
    // Two points at one distance from the centre: the chord is `2 r sin` of half the angle between them.
    let easier = polar(scope, a).zip(polar(scope, b)).and_then(|((r, p), (s, q))| {
        let angle = tidy(&((p - q) / Expr::from(2)));
        (r == s).then(|| {
            let chord = Expr::from(2) * r * angle.sin();
            Condition::any([
                Condition::at_least(chord.clone(), across.clone()),
                Condition::at_most(chord, tidy(&-across.clone())),
            ])
        })
    });
    Goal { exact, easier }
}

/// Radius and angle of a point that is written by them.
fn polar(scope: &Scope, p: &Point) -> Option<(Expr, Expr)> {
    let (plain, x) = (flattened(scope, p), scope.with_directions(&p.x));
    let radius = signed_length(&plain)?;
    let mut angle = None;
    x.walk(&mut |e| {
        if let Node::Call(Function::Cos, a) = e.node() {
            angle = angle.take().or_else(|| Some(a.clone()));
        }
    });
    let angle = angle?;
    let it = Point::polar(&radius, &angle);
    let same = |a: &Expr, b: &Expr| super::tidy::same(a, b);
    (same(&it.x, &plain.x) && same(&it.y, &plain.y)).then_some((radius, angle))
}

/// Between all places of two features that have not one centre.
fn between(
    context: &mut Context<'_>,
    a: &Feature,
    b: &Feature,
    web: &Expr,
    because: Span,
    serve: &dyn Fn(Draft) -> Draft,
) {
    let mut scope = (*context.scope).clone();
    for (index, count) in [a, b].into_iter().flat_map(Feature::pattern) {
        if scope.definition(&index).is_none() {
            scope.repeat(&index, &Expr::symbol(&count));
        }
    }
    for (i, p) in a.at.iter().enumerate() {
        for (j, q) in b.at.iter().enumerate() {
            if scope.same_point(p, q) {
                continue;
            }
            let (u, v) = (Solid::of(a, p, &scope), Solid::of(b, q, &scope));
            let across = tidy(&(u.outer.clone() + v.outer.clone() + web.clone()));
            let Goal { exact, easier } = distance(&scope, p, q, &across);
            let over = |upper: &Solid, lower: &Solid| {
                Condition::at_least(tidy(&(upper.floor.clone() - lower.face().clone())), web.clone())
            };
            let exact = Condition::any([exact, over(&u, &v), over(&v, &u)]);
            let why = format!("a wall stands between `{}` and `{}`", a.name, b.name);
            let id = format!("apart/{}-{}/{}-{}", a.name, b.name, i + 1, j + 1);
            let easier = easier.or_else(|| circles_apart(a, b, &across));
            context.add_with(
                serve(Draft::new(Kind::Web, id, why)),
                &scope,
                &[],
                because,
                Goal { exact, easier },
            );
        }
    }
}

/// Two circles of places about the centre are so far apart wherever their places lie.
fn circles_apart(a: &Feature, b: &Feature, across: &Expr) -> Option<Condition> {
    let radius = |f: &Feature| match f.pattern().as_slice() {
        [(index, _)] => Some(Expr::symbol(&Feature::pattern_radius(index))),
        _ => None,
    };
    let (r, s) = (radius(a)?, radius(b)?);
    Some(Condition::any([
        Condition::at_least(r.clone() - s.clone(), across.clone()),
        Condition::at_least(s - r, across.clone()),
    ]))
}

/// What calls make does not overlap, but where it has one centre.
pub(crate) fn called(context: &mut Context<'_>, made: &[MadeThere]) {
    let made: Vec<MadeThere> = made.iter().map(|there| by_counters(context, there)).collect();
    for there in &made {
        turn_by_turn(context, there);
    }
    for (i, a) in made.iter().enumerate() {
        // Places of one call that are numbered keep apart by what is proved of the routine.
        let numbered_with =
            |b: &&MadeThere| a.at.site == b.at.site && a.site != a.at.site && b.site != b.at.site;
        for b in made.iter().skip(i + 1).filter(|b| !numbered_with(b)) {
            two_calls(context, a, b);
        }
    }
}

/// Names that hang on a counter of the loops around put out, so that it can be seen what differs from turn to turn.
fn by_counters(context: &Context<'_>, there: &MadeThere) -> MadeThere {
    let loops = &there.at.loops;
    let plain = |e: &Expr| {
        let full = there.at.scope.inline_beyond(&context.scope, e);
        let counts = |e: &Expr| loops.iter().filter(|s| e.symbols().contains(*s)).count();
        if counts(&full) > counts(e) { full } else { e.clone() }
    };
    let point = |p: &Point| Point { x: plain(&p.x), y: plain(&p.y) };
    let mut changed = there.clone();
    changed.written = point(&there.written);
    changed.centre = flattened(&there.at.scope, &point(&there.centre));
    changed.solid.outer = plain(&there.solid.outer);
    changed
}

fn two_calls(context: &mut Context<'_>, a: &MadeThere, b: &MadeThere) {
    let mut scope = (*a.at.scope).clone();
    scope.join(&b.at.scope);
    // In different turns of a loop that both stand in, too.
    let shared: Vec<&Symbol> = a.at.loops.iter().filter(|s| b.at.loops.contains(s)).collect();
    if shared.is_empty() && [a, b].iter().any(|t| matches!(t.shape, Shape::Face { .. })) {
        face_and_other(context, &scope, a, b);
        return;
    }
    let sized_by = |s: &&&Symbol| [a, b].iter().any(|t| t.solid.outer.symbols().contains(*s));
    let concentric = super::calls::same_place(context, &scope, a, b);
    if concentric && !shared.iter().any(|s| sized_by(&s)) {
        return;
    }
    let why = format!("what is made by {} and by {} does not overlap", a.site, b.site);
    let draft = Draft::new(Kind::Web, format!("apart/{}-{}", a.site, b.site), why);
    let (mut centre, mut outer, mut differ) = (b.centre.clone(), b.solid.outer.clone(), Vec::new());
    for index in shared {
        let Some(count) = count_of(&context.motion.body, index) else { continue };
        let other = other_turn(index);
        scope.repeat(&other, &count);
        let copy = |s: &Symbol| (s == index).then(|| Expr::symbol(&other));
        (centre, outer) = (centre.substitute(&copy), outer.substitute(&copy));
        differ.push(Condition::not_equal(Expr::symbol(index), Expr::symbol(&other)));
    }
    if concentric {
        scope.assume(Condition::any(differ), HypothesisKind::Loop, None);
    }
    let across = tidy(&(a.solid.outer.clone() + outer));
    let goal = distance(&scope, &a.centre, &centre, &across);
    if goal.exact != Condition::True {
        context.add_with(draft, &scope, &a.at.turns.facts(), b.at.span, goal);
    }
}

/// What is called after a face lies below what the face has cleared; what is called before it came down from as high.
fn face_and_other(context: &mut Context<'_>, scope: &Scope, first: &MadeThere, second: &MadeThere) {
    let at_least = |a: &Expr, b: &Expr| Condition::at_least(tidy(&(a.clone() - b.clone())), Expr::zero());
    let cleared = first.at.certain && first.promises.contains(&Promise::Cleared);
    let below = match first.shape {
        Shape::Face { .. } => {
            Condition::all([Condition::from_bool(cleared), at_least(second.solid.face(), &first.solid.floor)])
        }
        Shape::Hole { .. }
        | Shape::Boss { .. }
        | Shape::Ring { .. }
        | Shape::Thread { .. }
        | Shape::Chamfer { .. }
        | Shape::Undercut { .. } => at_least(first.solid.face(), second.solid.face()),
    };
    let across = tidy(&(first.solid.outer.clone() + second.solid.outer.clone()));
    let beside = distance(scope, &first.centre, &second.centre, &across);
    let why = format!("the face is milled before what lies below it: {}, then {}", first.site, second.site);
    let draft = Draft::new(Kind::Order, format!("order/{}-{}", first.site, second.site), why);
    let exact = Condition::any([below.clone(), beside.exact]);
    let easier = Some(below).filter(|b| *b != Condition::False && *b != exact);
    context.add_with(draft, scope, &first.at.turns.facts(), second.at.span, Goal { exact, easier });
}

fn other_turn(index: &Symbol) -> Symbol {
    Symbol::new(format!("{index}.other"))
}

/// A call in a loop makes something at a place of its own in each turn.
fn turn_by_turn(context: &mut Context<'_>, there: &MadeThere) {
    let moved = |s: &&Symbol| [&there.centre.x, &there.centre.y].iter().any(|e| e.symbols().contains(s));
    let counters: Vec<Symbol> = there.at.loops.iter().filter(moved).cloned().collect();
    if counters.is_empty() {
        return;
    }
    let counts: Option<Vec<Expr>> = counters.iter().map(|s| count_of(&context.motion.body, s)).collect();
    let why = format!("what `{}` makes at one place does not overlap the next", there.routine);
    let draft = Draft::new(Kind::Web, format!("apart/{}", there.site), why);
    let Some(counts) = counts else {
        // Places that follow the value of passes are told apart by nobody.
        context.add(draft, &there.at, Condition::False);
        return;
    };
    let mut scope = (*there.at.scope).clone();
    let mut differ = Vec::new();
    for (index, count) in counters.iter().zip(&counts) {
        let copy = other_turn(index);
        scope.repeat(&copy, count);
        differ.push(Condition::not_equal(Expr::symbol(index), Expr::symbol(&copy)));
    }
    scope.assume(Condition::any(differ), HypothesisKind::Loop, None);
    let copy = |s: &Symbol| counters.contains(s).then(|| Expr::symbol(&other_turn(s)));
    let (other, outer) = (there.centre.substitute(&copy), there.solid.outer.substitute(&copy));
    let across = tidy(&(there.solid.outer.clone() + outer.clone()));
    let exact = distance(&scope, &there.centre, &other, &across).exact;
    let alike = outer == there.solid.outer;
    let easier = evenly(there, &counters, &counts, &across).filter(|_| alike);
    context.add_with(draft, &scope, &there.at.turns.facts(), there.at.span, Goal { exact, easier });
}

/// Places evenly on a circle, on a straight line, or on a grid: the nearest are neighbours.
fn evenly(there: &MadeThere, counters: &[Symbol], counts: &[Expr], across: &Expr) -> Option<Condition> {
    let next = |e: &Expr, index: &Symbol| {
        let more = e.substitute(&|s| (s == index).then(|| Expr::symbol(index) + Expr::from(1)));
        tidy(&(more - e.clone()))
    };
    let free = |e: &Expr| !e.symbols().iter().any(|s| counters.contains(s));
    if let ([index], [count]) = (counters, counts) {
        if index.counts_places() && all_round(there, index, count) {
            let radius = signed_length(&there.centre).filter(|r| free(r))?;
            return Some(neighbours(&radius, count, across));
        }
        if let Some((radius, angle)) = polar(&there.at.scope, &there.written) {
            let step = next(&angle, index);
            return (free(&radius) && free(&step)).then(|| part_of_circle(&radius, &step, count, across));
        }
        let step = Point { x: next(&there.centre.x, index), y: next(&there.centre.y, index) };
        return (free(&step.x) && free(&step.y)).then(|| outside_disc(&step, across));
    }
    // A grid: one counter along X, one along Y.
    let along = |e: &Expr| -> Option<(Symbol, Expr)> {
        let [index] = counters.iter().filter(|c| e.symbols().contains(*c)).collect::<Vec<_>>()[..] else {
            return None;
        };
        Some((index.clone(), next(e, index))).filter(|(_, step)| free(step))
    };
    let ((i, x), (j, y)) = along(&there.centre.x).zip(along(&there.centre.y))?;
    let far = |e: Expr| outside_disc(&Point { x: e, y: Expr::zero() }, across);
    (i != j && counters.len() == 2).then(|| Condition::all([far(x), far(y)]))
}

/// Whether the places of a counted pattern go evenly all round: each is a whole turn over their number further.
fn all_round(there: &MadeThere, index: &Symbol, count: &Expr) -> bool {
    let whole = tidy(&(Expr::from(360) / count.clone()));
    let (mut found, mut all) = (false, true);
    for e in [&there.written.x, &there.written.y] {
        e.walk(&mut |part| {
            let Node::Call(Function::Cos | Function::Sin, angle) = part.node() else { return };
            if angle.symbols().contains(index) {
                let more = angle.substitute(&|s| (s == index).then(|| Expr::symbol(index) + Expr::from(1)));
                found = true;
                all &= tidy(&(more - angle.clone())) == whole;
            }
        });
    }
    found && all
}

/// How often the `repeat` with this counter runs.
pub(crate) fn count_of(steps: &[Step], counter: &Symbol) -> Option<Expr> {
    all_steps(steps).into_iter().find_map(|step| {
        let Action::Repeat { index, count, .. } = &step.action else { return None };
        (index == counter).then(|| count.clone())
    })
}
