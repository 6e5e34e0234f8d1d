//! From exact motions and from runs of emitted text to what the measure reads.

use std::collections::BTreeMap;

use borewright_motion::{
    self as motion, Environment, Expr, Field, FlatAction, FlatStep, Motion, Position, Symbol, Value, Way,
    evaluate_with,
};
use borewright_number::Rational;
use borewright_runtime::Trace;
use borewright_runtime::state::Spindle as Turning;
use borewright_runtime::trace::Kind;

use crate::measure::{Act, Air, Contract, Cutter, Feature, Promise, Shape, Spindle, Step};
use crate::sizes::float;

/// The contract of a motion and its cutters at concrete values.
#[derive(Debug, Clone)]
pub struct Owed {
    /// What is promised.
    pub contract: Contract,
    /// The tools of a job, or the one cutter of a routine.
    pub cutters: Vec<Cutter>,
    /// The pocket of each of them, where it has one.
    pub pockets: Vec<Option<f64>>,
}

impl Owed {
    /// Reads a contract; `None` where a part of it has no value.
    #[must_use]
    pub fn of(motion: &Motion, env: &Environment) -> Option<Self> {
        let mut features = Vec::new();
        for made in &motion.made {
            let promises = promises(&made.promises, env)?;
            features.extend(placed(&made.feature, env, &promises)?);
        }
        let mut given = Vec::new();
        for feature in &motion.given {
            given.extend(placed(feature, env, &[])?.iter().filter_map(hole));
        }
        let contract = Contract { features, given, smallest_arc: 0.05, complete: motion.job.is_some() };
        let cutters = match &motion.job {
            None => vec![cutter(&|f| env.get(&f.symbol()).map(Value::to_f64))],
            Some(job) => {
                let field = |tool: &motion::Tool, f: Field| number(tool.fields.get(&f)?, env);
                job.tools.iter().map(|t| cutter(&|f| field(t, f))).collect()
            }
        };
        let tools = motion.job.iter().flat_map(|job| &job.tools);
        let pockets = tools.map(|t| number(t.fields.get(&Field::Pocket)?, env)).collect();
        Some(Self { contract, cutters, pockets })
    }

    /// The cutter that a run has in the spindle before a move: the one called last, else the first.
    fn held(&self, trace: &Trace, before: usize) -> Option<Cutter> {
        let mut changes = trace.events.iter().filter(|e| e.kind == "tool" && e.after <= before);
        let called = changes.next_back().and_then(|e| e.text.rsplit(' ').next()?.parse::<f64>().ok());
        let place = called.and_then(|n| self.pockets.iter().position(|pocket| *pocket == Some(n)));
        self.cutters.get(place.unwrap_or(0)).copied()
    }
}

fn number(e: &Expr, env: &Environment) -> Option<f64> {
    evaluate_with(e, &|s| env.get(s).cloned()).ok().map(|v| v.to_f64())
}

fn cutter(field: &dyn Fn(Field) -> Option<f64>) -> Cutter {
    let or = |f, value| field(f).unwrap_or(value);
    let diameter = or(Field::Diameter, 0.0);
    let flutes = or(Field::Flutes, 0.0);
    Cutter {
        diameter,
        flutes,
        reach: or(Field::Reach, flutes),
        dead: or(Field::Dead, diameter),
        ramp: or(Field::Ramp, 0.0),
        plunges: or(Field::Plunges, 0.0) >= 1.0,
        left_hand: or(Field::Hand, 1.0) < 0.0,
        teeth: field(Field::Pitch)
            .filter(|pitch| *pitch > 0.0)
            .map(|pitch| [or(Field::Nose, pitch / 2.0), or(Field::Rows, 1.0), pitch]),
        neck: field(Field::Tooth)
            .filter(|tooth| *tooth > 0.0 && field(Field::Pitch).is_none_or(|pitch| pitch == 0.0))
            .map(|tooth| diameter / 2.0 - tooth),
        cone: field(Field::Angle)
            .filter(|angle| *angle > 0.0)
            .map(|angle| [(angle / 2.0).to_radians().tan(), or(Field::Tip, 0.0) / 2.0]),
    }
}

fn promises(list: &[(motion::Promise, borewright_base::Span)], env: &Environment) -> Option<Vec<Promise>> {
    let one = |promise: &motion::Promise| {
        Some(match promise {
            motion::Promise::Within => Promise::Within,
            motion::Promise::Sized => Promise::Sized,
            motion::Promise::Cleared => Promise::Cleared,
            motion::Promise::Smooth => Promise::Smooth,
            motion::Promise::Climb => Promise::Climb,
            motion::Promise::Conventional => Promise::Conventional,
            motion::Promise::Apart(web) => Promise::Apart(number(web, env)?),
        })
    };
    list.iter().map(|(p, _)| one(p)).collect()
}

/// A feature at each of its places.
fn placed(feature: &motion::Feature, env: &Environment, promises: &[Promise]) -> Option<Vec<Feature>> {
    let (shape, floor, top) = shape(&feature.shape, env)?;
    let mut placed = Vec::new();
    for place in &feature.at {
        for inner in turns(feature, env)? {
            let centre = [number(&place.x, &inner)?, number(&place.y, &inner)?];
            let (name, promises) = (feature.name.clone(), promises.to_vec());
            placed.push(Feature { name, centre, shape, floor, top, promises });
        }
    }
    Some(placed)
}

/// Where the number of places is a parameter: the names with the indices at 1, 2, ...
fn turns(feature: &motion::Feature, env: &Environment) -> Option<Vec<Environment>> {
    let mut turns = vec![env.clone()];
    for (index, count) in feature.pattern() {
        let count = env.get(&count)?.exact()?.to_i64()?;
        let mut all = Vec::new();
        for outer in &turns {
            for k in 1..=count {
                let mut inner = outer.clone();
                inner.insert(index.clone(), Value::Exact(Rational::from(k)));
                all.push(inner);
            }
        }
        turns = all;
    }
    Some(turns)
}

fn shape(shape: &motion::Shape, env: &Environment) -> Option<(Shape, f64, f64)> {
    let of = |e: &Expr| number(e, env);
    Some(match shape {
        motion::Shape::Hole { diameter, floor, top, pilot } => {
            let pilot = pilot.as_ref().map(|p| of(p).ok_or(())).transpose().ok()?;
            (Shape::Hole { diameter: of(diameter)?, pilot }, of(floor)?, of(top)?)
        }
        motion::Shape::Boss { diameter, blank, floor, top } => {
            (Shape::Boss { diameter: of(diameter)?, blank: of(blank)? }, of(floor)?, of(top)?)
        }
        motion::Shape::Face { diameter, floor, top } => {
            (Shape::Face { diameter: of(diameter)? }, of(floor)?, of(top)?)
        }
        motion::Shape::Chamfer { inside, diameter, width, angle, floor, top } => {
            let slope = (of(angle)? / 2.0).to_radians().tan();
            let (diameter, width) = (of(diameter)?, of(width)?);
            (Shape::Chamfer { inside: *inside, diameter, width, slope }, of(floor)?, of(top)?)
        }
        motion::Shape::Thread {
            inside,
            major,
            minor,
            pitch,
            hand,
            floor,
            bottom,
            top,
            taper,
            error,
            lean,
        } => {
            let lead = of(pitch)? * of(hand)?;
            let (major, minor, whole) = (of(major)?, of(minor)?, of(floor)?);
            let (grows, error, lean) = (of(taper)? / 2.0, of(error)?, of(lean)?);
            let shape = Shape::Thread { inside: *inside, major, minor, lead, whole, grows, error, lean };
            (shape, of(bottom)?, of(top)?)
        }
        motion::Shape::Undercut { diameter, bore, floor, roof, bottom, top } => {
            let (diameter, bore, low, roof) = (of(diameter)?, of(bore)?, of(floor)?, of(roof)?);
            (Shape::Undercut { diameter, bore, low, roof }, of(bottom)?, of(top)?)
        }
        motion::Shape::Ring { outer, inner, floor, top } => {
            (Shape::Ring { outer: of(outer)?, inner: of(inner)? }, of(floor)?, of(top)?)
        }
    })
}

fn hole(feature: &Feature) -> Option<Air> {
    match feature.shape {
        Shape::Hole { diameter, .. } => {
            Some(Air { inside: true, centre: feature.centre, radius: diameter / 2.0, floor: feature.floor })
        }
        Shape::Boss { .. }
        | Shape::Ring { .. }
        | Shape::Thread { .. }
        | Shape::Face { .. }
        | Shape::Undercut { .. }
        | Shape::Chamfer { .. } => None,
    }
}

/// The steps of an exactly evaluated motion. Where a loop turns, the machine may stop: a pause.
#[must_use]
pub fn exact_steps(owed: &Owed, flat: &[FlatStep]) -> Vec<Step> {
    let nothing = Cutter {
        diameter: 0.0,
        flutes: 0.0,
        reach: 0.0,
        dead: 0.0,
        ramp: 0.0,
        plunges: false,
        left_hand: false,
        teeth: None,
        neck: None,
        cone: None,
    };
    let mut state = Step {
        act: Act::Pause,
        from: [f64::NAN; 3],
        to: [f64::NAN; 3],
        cutter: owed.cutters.first().copied().unwrap_or(nothing),
        spindle: Spindle::Stopped,
        offset: false,
    };
    let mut steps = Vec::new();
    let mut turns = &[][..];
    for step in flat {
        if step.turns != turns {
            turns = &step.turns;
            steps.push(Step { act: Act::Pause, from: state.to, ..state });
        }
        state.from = state.to;
        state.act = match &step.action {
            FlatAction::Enter { .. } | FlatAction::Leave => continue,
            FlatAction::Tool(index) => {
                state.cutter = owed.cutters.get(*index).copied().unwrap_or(nothing);
                (state.to, state.offset) = ([f64::NAN; 3], true);
                Act::Pause
            }
            FlatAction::Spindle(turning) => {
                state.spindle = turning.as_ref().map_or(Spindle::Stopped, |(way, _)| spindle(*way));
                Act::Pause
            }
            FlatAction::Dwell(_) | FlatAction::Coolant(_) | FlatAction::Stop(_) => Act::Pause,
            FlatAction::Retract | FlatAction::Rapid => Act::Rapid,
            FlatAction::Line { feed } => Act::Line { feed: feed.as_ref().map(Value::to_f64) },
            FlatAction::Arc { way, about, full, feed } => Act::Arc {
                centre: [about.x.to_f64(), about.y.to_f64()],
                ccw: *way == Way::Ccw,
                full: *full,
                feed: feed.as_ref().map(Value::to_f64),
            },
        };
        if state.act != Act::Pause {
            state.to = place(&step.end);
            if matches!(step.action, FlatAction::Retract) && step.end.z.is_none() {
                state.to[2] = f64::INFINITY;
            } else if step.end.z.is_none() {
                state.to[2] = state.from[2];
            }
        }
        steps.push(state);
    }
    steps
}

fn spindle(way: Way) -> Spindle {
    match way {
        Way::Cw => Spindle::Clockwise,
        Way::Ccw => Spindle::Counterclockwise,
    }
}

fn place(p: &Position) -> [f64; 3] {
    [float(p.x.as_ref()), float(p.y.as_ref()), float(p.z.as_ref())]
}

/// The steps of a run of emitted text, in mm. A coordinate is known once the text has moved it.
#[must_use]
pub fn run_steps(owed: &Owed, trace: &Trace) -> Vec<Step> {
    let scale = if trace.units == "in" { 25.4 } else { 1.0 };
    let mut at = [f64::NAN; 3];
    let mut steps: Vec<Step> = Vec::new();
    for (i, (traced, moved)) in trace.moves.iter().zip(&trace.execution.moves).enumerate() {
        let spindle = match moved.during.spindle {
            Some(Turning::Clockwise) => Spindle::Clockwise,
            Some(Turning::Counterclockwise) => Spindle::Counterclockwise,
            Some(Turning::Stopped) | None => Spindle::Stopped,
        };
        let offset = moved.during.length_offset == Some(true);
        let Some(cutter) = owed.held(trace, i) else { return Vec::new() };
        let state = Step { act: Act::Pause, from: at, to: at, cutter, spindle, offset };
        if trace.events.iter().any(|e| e.after == i) {
            steps.push(state);
        }
        let mut to = at;
        for axis in 0..3 {
            let (a, b) = (traced.from.get(axis).copied(), traced.to.get(axis).copied());
            if let (Some(a), Some(b), Some(to)) = (a, b, to.get_mut(axis))
                && (a - b).abs() > 1e-9
            {
                *to = b * scale;
            }
        }
        if moved.during.machine_coordinates {
            to[2] = f64::INFINITY;
        }
        if traced.kind == Kind::Rapid && traced.from == traced.to && !moved.during.machine_coordinates {
            continue; // the way to a reference point begins where the machine stands
        }
        let feed = traced.feed.map(|f| f * scale);
        let act = match (traced.kind, traced.centre) {
            (Kind::Rapid, _) => Act::Rapid,
            (Kind::Arc, Some([x, y, _])) => Act::Arc {
                centre: [x * scale, y * scale],
                ccw: traced.ccw == Some(true),
                full: traced.turns.is_some_and(|t| t > 0.999_999),
                feed,
            },
            (Kind::Line | Kind::Arc, _) => Act::Line { feed },
        };
        steps.push(Step { act, to, ..state });
        at = to;
    }
    steps
}

/// The values of a counterexample as arguments: parameters and facts of the cutter.
#[must_use]
pub fn arguments(motion: &Motion, values: &BTreeMap<Symbol, Rational>) -> BTreeMap<Symbol, Rational> {
    let own =
        |s: &Symbol| s.name().starts_with("cutter.") || motion.parameters.iter().any(|p| p.symbol == *s);
    values.iter().filter(|(s, _)| own(s)).map(|(s, v)| (s.clone(), v.clone())).collect()
}
