//! The motion at concrete values: what every move does, and what the features are, in numbers.

use std::collections::BTreeMap;

use borewright_base::Span;
use borewright_motion::{
    Environment, Expr, Feature, Field, FlatAction, FlatStep, Function, Limits, Motion, Position, Shape, Spot,
    Symbol, Turn, Value, evaluate_with, unroll,
};
use borewright_number::{Interval, Rational};

use super::measure::{Course, Point};
use crate::{Obligation, Valuation};

/// Motions of more steps are not replayed.
const MOST_STEPS: usize = 20_000;

/// What the spindle holds.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cutter {
    pub radius: Interval,
    pub flutes: Interval,
    /// Half the diameter of what does not cut at its end.
    pub dead: Interval,
    pub plunges: bool,
    /// Of a thread cutter: teeth in a row, and the middle of the lowest above the end.
    pub rows: f64,
    pub nose: f64,
    /// Of a pointed cutter: half the flat at its end.
    pub tip: Interval,
}

/// How a move goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Speed {
    /// At feed: it cuts.
    Feed,
    /// At rapid, to a place: by whatever way in the box between its ends.
    Rapid,
    /// Up out of the way.
    Retract,
}

/// One move.
#[derive(Debug, Clone)]
pub(super) struct Motile {
    pub speed: Speed,
    pub course: Course,
    /// Height at its start; `None` at home.
    pub from: Option<Interval>,
    /// Height at its end; `None` at home.
    pub to: Option<Interval>,
    pub cutter: Cutter,
    pub span: Span,
    pub turns: Vec<Turn>,
    /// Whether the axes were at rest, or moved at rapid, before it.
    pub broken: bool,
}

/// A round wall.
#[derive(Debug, Clone, Copy)]
pub(super) struct Wall {
    pub inside: bool,
    pub radius: Interval,
    pub name: &'static str,
}

/// A feature at one place.
#[derive(Debug, Clone)]
pub(super) struct Body {
    pub name: String,
    pub centre: Point,
    pub walls: Vec<Wall>,
    /// Metal goes from here
    pub inner: Interval,
    /// to here.
    pub outer: Interval,
    pub floor: Interval,
    pub top: Interval,
    /// All around it is air.
    pub boss: bool,
    /// The inner disc is air (a pilot), not metal that stays.
    pub hollow: bool,
    /// Of a thread: its pitch, negative of a left-hand one.
    pub lead: Option<Interval>,
    /// Of a thread: half of what its diameter changes by with height, and how far teeth may be beside the groove.
    pub taper: Interval,
    pub error: Interval,
    /// Of a thread: how far its flanks go over to the side, over how deep they go.
    pub lean: Interval,
    /// Of a chamfer: how much wider its cone grows with height, on one side.
    pub slope: Option<Interval>,
}

/// A round hole that is there.
#[derive(Debug, Clone, Copy)]
pub(super) struct Hole {
    pub centre: Point,
    pub radius: Interval,
    pub floor: Interval,
}

/// Everything at concrete values.
#[derive(Debug)]
pub(super) struct Scene {
    pub moves: Vec<Motile>,
    pub bodies: Vec<Body>,
    pub given: Vec<Hole>,
    /// Nothing is said of any feature: the work's top face is at zero.
    bare: bool,
}

impl Scene {
    /// `None` where the motion cannot be run at these values, or moves from where nobody knows.
    pub(super) fn at(motion: &Motion, values: &Valuation, env: &Environment) -> Option<Self> {
        let mut arguments: BTreeMap<Symbol, Rational> = BTreeMap::new();
        for parameter in &motion.parameters {
            arguments.insert(parameter.symbol.clone(), values.get(&parameter.symbol)?.clone());
        }
        for field in Field::ALL.map(Field::symbol) {
            if let Some(Value::Exact(value)) = env.get(&field) {
                arguments.insert(field, value.clone());
            }
        }
        let steps = unroll(motion, &arguments, Limits { steps: MOST_STEPS, calls: 16 }).ok()?;
        let mut bodies = Vec::new();
        for made in &motion.made {
            for centre in places(&made.feature, env)? {
                bodies.push(body(&made.feature, centre, env)?);
            }
        }
        let mut given = Vec::new();
        for feature in &motion.given {
            if let Shape::Hole { diameter, floor, .. } = &feature.shape {
                let (radius, floor) = (half(number(diameter, env)?), number(floor, env)?);
                given.extend(places(feature, env)?.into_iter().map(|centre| Hole { centre, radius, floor }));
            }
        }
        let calls = steps.iter().any(|s| matches!(s.action, FlatAction::Enter { .. }));
        let bare = bodies.is_empty() && !calls;
        let mut scene = Self { moves: moves(motion, env, &steps)?, bodies, given, bare };
        scene.come_down_from_home();
        scene.widen_cones();
        Some(scene)
    }

    /// The highest top face, not above it.
    pub(super) fn top(&self) -> f64 {
        let bare = if self.bare { 0.0 } else { f64::NEG_INFINITY };
        self.bodies.iter().map(|b| b.top.lo).fold(bare, f64::max)
    }

    /// Whether nothing is said of any feature.
    pub(super) fn is_bare(&self) -> bool {
        self.bare
    }

    /// A cut that begins at the machine's home begins above every top face.
    fn come_down_from_home(&mut self) {
        let top = self.bodies.iter().map(|b| b.top.hi).fold(self.top().max(0.0), f64::max);
        for m in self.moves.iter_mut().filter(|m| m.speed == Speed::Feed) {
            m.from.get_or_insert(Interval::new(top, f64::INFINITY));
        }
    }

    /// A cone is held to the edge of a chamfer by its width at the top face (see `oblige::chamfer`).
    fn widen_cones(&mut self) {
        let Some((top, slope)) = self.bodies.iter().find_map(|b| Some((b.top, b.slope?))) else { return };
        for m in &mut self.moves {
            let ends = [m.from, m.to].into_iter().flatten();
            let Some(low) = ends.reduce(|a, b| if a.lo <= b.lo { a } else { b }) else { continue };
            m.cutter.radius = m.cutter.tip + (top - low) * slope;
        }
    }

    /// The moves of the step that an obligation arises at, on the turns of its counters.
    pub(super) fn moves_of<'a>(
        &'a self,
        obligation: &'a Obligation,
        values: &'a Valuation,
    ) -> impl Iterator<Item = (usize, &'a Motile)> {
        let numbered = self.moves.iter().enumerate();
        numbered.filter(|(_, m)| m.span == obligation.span && on_turn(&m.turns, values))
    }
}

/// Whether these are the turns that counters among the values speak of.
fn on_turn(turns: &[Turn], values: &Valuation) -> bool {
    turns.iter().all(|turn| {
        let counter = Symbol::new(format!("{}.index", turn.symbol));
        let index = Rational::from(turn.index);
        [&counter, &turn.symbol].into_iter().filter_map(|s| values.get(s)).all(|value| *value == index)
    })
}

fn half(value: Interval) -> Interval {
    value * Interval::point(0.5)
}

/// The enclosed value of an expression.
pub(super) fn number(expr: &Expr, env: &Environment) -> Option<Interval> {
    let value = evaluate_with(expr, &|s| env.get(s).cloned()).ok()?;
    Some(value.interval())
}

/// Every place of a feature.
fn places(feature: &Feature, env: &Environment) -> Option<Vec<Point>> {
    let mut turns = vec![env.clone()];
    for (index, count) in feature.pattern() {
        let count = env.get(&count)?.exact()?.to_i64().filter(|n| (0..=1000).contains(n))?;
        let at = |outer: &Environment, i: i64| {
            let mut inner = outer.clone();
            inner.insert(index.clone(), Value::Exact(Rational::from(i)));
            inner
        };
        turns = turns.iter().flat_map(|outer| (1..=count).map(move |i| at(outer, i))).collect();
    }
    let places = turns.iter().flat_map(|env| feature.at.iter().map(move |p| (p, env)));
    places.map(|(p, env)| Some(Point::new(number(&p.x, env)?, number(&p.y, env)?))).collect()
}

fn body(feature: &Feature, centre: Point, env: &Environment) -> Option<Body> {
    let n = |e| number(e, env);
    let r = |e| Some(half(n(e)?));
    let wall = |inside, radius, name| Wall { inside, radius, name };
    let (walls, inner, outer, floor, top) = match &feature.shape {
        Shape::Hole { diameter, floor, top, pilot } => {
            let inner = pilot.as_ref().map_or(Some(Interval::ZERO), r)?;
            (vec![wall(true, r(diameter)?, "wall")], inner, r(diameter)?, floor, top)
        }
        Shape::Boss { diameter, blank, floor, top } => {
            (vec![wall(false, r(diameter)?, "wall")], r(diameter)?, r(blank)?, floor, top)
        }
        Shape::Thread { inside, major, minor, floor, top, .. } => {
            let deep = if *inside { major } else { minor };
            (vec![wall(*inside, r(deep)?, "wall")], r(minor)?, r(major)?, floor, top)
        }
        Shape::Face { diameter, floor, top } => (Vec::new(), Interval::ZERO, r(diameter)?, floor, top),
        Shape::Chamfer { inside, diameter, width, floor, top, .. } => {
            let (edge, width) = (r(diameter)?, n(width)?);
            let wide = if *inside { edge + width } else { edge - width };
            let (inner, outer) = if *inside { (edge, wide) } else { (wide, edge) };
            (vec![wall(*inside, wide, "chamfer")], inner, outer, floor, top)
        }
        Shape::Undercut { diameter, bore, floor, roof, .. } => {
            (vec![wall(true, r(diameter)?, "wall")], r(bore)?, r(diameter)?, floor, roof)
        }
        Shape::Ring { outer, inner, floor, top } => {
            let walls = vec![wall(true, r(outer)?, "outer wall"), wall(false, r(inner)?, "inner wall")];
            (walls, r(inner)?, r(outer)?, floor, top)
        }
    };
    let (lead, slope) = (lead(&feature.shape, env)?, slope(&feature.shape, env)?);
    let [taper, error, lean] = growth(&feature.shape, env)?;
    Some(Body {
        lead,
        taper,
        error,
        lean,
        slope,
        name: feature.name.clone(),
        centre,
        walls,
        inner,
        outer,
        floor: n(floor)?,
        top: n(top)?,
        boss: matches!(
            feature.shape,
            Shape::Boss { .. }
                | Shape::Face { .. }
                | Shape::Thread { inside: false, .. }
                | Shape::Chamfer { inside: false, .. }
        ),
        hollow: matches!(
            feature.shape,
            Shape::Hole { .. }
                | Shape::Undercut { .. }
                | Shape::Thread { inside: true, .. }
                | Shape::Chamfer { inside: true, .. }
        ),
    })
}

/// Of a thread: half of its taper, its error and its lean; nothing of anything else.
fn growth(shape: &Shape, env: &Environment) -> Option<[Interval; 3]> {
    let Shape::Thread { taper, error, lean, .. } = shape else { return Some([Interval::ZERO; 3]) };
    let taper = half(number(taper, env)?);
    Some([taper, number(error, env)?, number(lean, env)?])
}

/// Of a thread: what it gains in a counterclockwise turn; the outer `None` where that has no value.
fn lead(shape: &Shape, env: &Environment) -> Option<Option<Interval>> {
    Some(match shape {
        Shape::Thread { pitch, hand, .. } => Some(number(pitch, env)? * number(hand, env)?),
        Shape::Hole { .. }
        | Shape::Boss { .. }
        | Shape::Ring { .. }
        | Shape::Face { .. }
        | Shape::Undercut { .. }
        | Shape::Chamfer { .. } => None,
    })
}

/// Of a chamfer: how much wider its cone grows with height, on one side.
fn slope(shape: &Shape, env: &Environment) -> Option<Option<Interval>> {
    Some(match shape {
        Shape::Chamfer { angle, .. } => {
            let half = angle.clone() / Expr::from(2);
            Some(number(&half.call(Function::Tan), env)?)
        }
        Shape::Hole { .. }
        | Shape::Boss { .. }
        | Shape::Ring { .. }
        | Shape::Face { .. }
        | Shape::Undercut { .. }
        | Shape::Thread { .. } => None,
    })
}

/// The cutter of a routine's spindle, or a tool of a job's list.
fn cutter(field: &dyn Fn(Field) -> Option<Interval>) -> Option<Cutter> {
    let radius = half(field(Field::Diameter)?);
    Some(Cutter {
        radius,
        flutes: field(Field::Flutes).unwrap_or(Interval::new(0.0, f64::INFINITY)),
        dead: field(Field::Dead).map_or(Interval::new(0.0, radius.hi), half),
        plunges: field(Field::Plunges).is_none_or(|p| p.hi >= 1.0),
        rows: field(Field::Rows).map_or(1.0, |n| n.lo),
        nose: field(Field::Nose).map_or(0.0, |n| n.lo),
        tip: field(Field::Tip).map_or(Interval::ZERO, half),
    })
}

fn moves(motion: &Motion, env: &Environment, steps: &[FlatStep]) -> Option<Vec<Motile>> {
    let mut held = cutter(&|f| env.get(&f.symbol()).map(Value::interval));
    let mut moves = Vec::new();
    let mut broken = true;
    for step in steps {
        if let FlatAction::Tool(index) = step.action {
            let tool = motion.job.as_ref()?.tools.get(index)?;
            held = cutter(&|f| number(tool.fields.get(&f)?, env));
        }
        let speed = match &step.action {
            FlatAction::Line { .. } | FlatAction::Arc { .. } => Speed::Feed,
            FlatAction::Rapid => Speed::Rapid,
            FlatAction::Retract => Speed::Retract,
            FlatAction::Enter { .. }
            | FlatAction::Leave
            | FlatAction::Tool(_)
            | FlatAction::Dwell(_)
            | FlatAction::Spindle(_)
            | FlatAction::Coolant(_)
            | FlatAction::Stop(_) => {
                broken = true;
                continue;
            }
        };
        let Some(course) = course(step) else {
            // A cut from nobody knows where may have cut anything.
            if speed == Speed::Feed {
                return None;
            }
            broken = true;
            continue;
        };
        let height = |p: &Position| p.z.as_ref().map(Value::interval);
        moves.push(Motile {
            speed,
            course,
            from: height(&step.start),
            to: height(&step.end),
            cutter: held?,
            span: step.span,
            turns: step.turns.clone(),
            broken,
        });
        if speed == Speed::Feed && step.end.z.is_none() {
            return None;
        }
        broken = speed != Speed::Feed;
    }
    Some(moves)
}

fn course(step: &FlatStep) -> Option<Course> {
    let place = |p: &Position| Some(Point::new(p.x.as_ref()?.interval(), p.y.as_ref()?.interval()));
    let (from, to) = (place(&step.start), place(&step.end)?);
    if let FlatAction::Arc { way, about, full, .. } = &step.action {
        return Some(Course::arc(spot(about), from?, to, *way, *full));
    }
    // From home, where it came from does not matter.
    Some(Course::Line(from.or(step.start.z.is_none().then_some(to))?, to))
}

fn spot(spot: &Spot) -> Point {
    Point::new(spot.x.interval(), spot.y.interval())
}

impl Motile {
    /// Its heights at the start and the end, where both are known.
    pub(super) fn heights(&self) -> Option<(Interval, Interval)> {
        Some((self.from?, self.to?))
    }

    /// The height after a part of the way.
    pub(super) fn height(&self, part: f64) -> Option<Interval> {
        let (a, b) = self.heights()?;
        Some(if part == 1.0 || a == b { b } else { a + (b - a) * Interval::point(part) })
    }

    /// The parts of the way on which its end may be at or below a height, and, where `top` is given, at or
    /// above that one: never too few.
    pub(super) fn parts_below(&self, height: f64, least: f64) -> Option<(f64, f64)> {
        let (a, b) = self.heights()?;
        if a.lo > height && b.lo > height || a.hi < least && b.hi < least {
            return None;
        }
        let (p, q) = (a.lo / 2.0 + a.hi / 2.0, b.lo / 2.0 + b.hi / 2.0);
        let way = q - p;
        // From home down, any of the way may run at any height.
        if way == 0.0 || a == b || !way.is_finite() {
            return Some((0.0, 1.0));
        }
        let slack = 1e-9;
        let at = |z: f64| (z - p) / way;
        let (low, high) = if way < 0.0 { (at(height), at(least)) } else { (at(least), at(height)) };
        let first = if low.is_finite() { (low - slack).clamp(0.0, 1.0) } else { 0.0 };
        let last = if high.is_finite() { (high + slack).clamp(0.0, 1.0) } else { 1.0 };
        Some(if first < last { (first, last) } else { (0.0, 1.0) })
    }
}
