//! A motion at concrete values as a flat list of steps: what drawings, replays, tests and plain blocks share.

use std::collections::BTreeMap;
use std::fmt;

use borewright_base::Span;
use borewright_number::{Dimension, Rational};

use crate::bind::{BindError, bind, bind_values};
use crate::evaluate::{Environment, EvaluateError, Value, evaluate_with};
use crate::{Action, Around, Call, Coolant, Expr, Field, Job, Motion, Passes, Point, Step, Symbol, Way};

/// A place in space. A coordinate is `None` where it is not known: at entry, and in Z also at the machine's
/// home.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Position {
    /// Along X, mm.
    pub x: Option<Value>,
    /// Along Y, mm.
    pub y: Option<Value>,
    /// Along Z, mm.
    pub z: Option<Value>,
}

/// A place in the plane.
#[derive(Debug, Clone, PartialEq)]
pub struct Spot {
    /// Along X, mm.
    pub x: Value,
    /// Along Y, mm.
    pub y: Value,
}

/// Which turn of an enclosing loop.
#[derive(Debug, Clone, PartialEq)]
pub struct Turn {
    /// The name of the loop's value (`passes`) or counter (`repeat`).
    pub symbol: Symbol,
    /// 1..=count.
    pub index: i64,
    /// How many there are.
    pub count: i64,
    /// The value in this turn; a `repeat` has only its number.
    pub value: Option<Value>,
}

/// One concrete step.
#[derive(Debug, Clone, PartialEq)]
pub struct FlatStep {
    /// What is done.
    pub action: FlatAction,
    /// Where that was said.
    pub span: Span,
    /// Enclosing loops, the outermost first.
    pub turns: Vec<Turn>,
    /// Where it starts.
    pub start: Position,
    /// Where it ends; what the step does not move is the same as at the start.
    pub end: Position,
}

/// What a concrete step does.
#[derive(Debug, Clone, PartialEq)]
pub enum FlatAction {
    /// A called routine begins.
    Enter {
        /// Its name.
        routine: String,
        /// Its centre.
        at: Spot,
        /// Which of the call's places, from 1.
        place: usize,
        /// How many places the call has.
        places: usize,
        /// Its parameters in order, with what they measure.
        arguments: Vec<(Symbol, Dimension, Value)>,
        /// The circle on which the places lie, where the main program of a job is to work them out itself.
        around: Option<Around<Value>>,
    },
    /// The called routine ends.
    Leave,
    /// The tool at this position of the job's list comes into the spindle; Z is at home, nothing turns.
    Tool(usize),
    /// Up at rapid: to a height, or to the machine's home where the step ends with Z unknown.
    Retract,
    /// Straight at rapid.
    Rapid,
    /// Straight at feed.
    Line {
        /// mm/min.
        feed: Option<Value>,
    },
    /// An arc about a centre; `full` for one whole turn.
    Arc {
        /// The way round.
        way: Way,
        /// The centre.
        about: Spot,
        /// One whole turn: it ends where it began in the plane.
        full: bool,
        /// mm/min.
        feed: Option<Value>,
    },
    /// Waits, minutes.
    Dwell(Value),
    /// The spindle turns so, or stops.
    Spindle(Option<(Way, Value)>),
    /// This flows, or nothing.
    Coolant(Option<Coolant>),
    /// The operator is asked to do something.
    Stop(String),
}

/// How far unrolling may go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Most steps.
    pub steps: usize,
    /// Most calls within calls.
    pub calls: usize,
}

impl Default for Limits {
    fn default() -> Self {
        Self { steps: 1_000_000, calls: 16 }
    }
}

/// Why a motion cannot be unrolled.
#[derive(Debug, Clone, PartialEq)]
pub enum UnrollError {
    /// The values are not admitted.
    Bind(BindError),
    /// An expression has no value.
    Evaluate(EvaluateError, Span),
    /// A loop that runs a broken or huge number of times.
    Count(Value, Span),
    /// An arc whose start is not known.
    UnknownStart(Span),
    /// A tool that the list does not have.
    NoTool(usize, Span),
    /// More steps than allowed.
    TooManySteps(usize),
    /// Calls nested too deeply.
    TooDeep(Span),
}

impl fmt::Display for UnrollError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Bind(error) => error.fmt(f),
            Self::Evaluate(error, _) => error.fmt(f),
            Self::Count(value, _) => write!(f, "a loop would run {} times", value.middle().decimal_text(3)),
            Self::UnknownStart(_) => f.write_str("an arc starts where X and Y are not known"),
            Self::NoTool(index, _) => write!(f, "there is no tool {} in the list", index + 1),
            Self::TooManySteps(limit) => write!(f, "the motion has more than {limit} steps"),
            Self::TooDeep(_) => f.write_str("calls are nested too deeply"),
        }
    }
}

impl std::error::Error for UnrollError {}

impl From<BindError> for UnrollError {
    fn from(error: BindError) -> Self {
        Self::Bind(error)
    }
}

/// The flat steps of a motion at exact values of its parameters (those left out take their defaults).
pub fn unroll(
    motion: &Motion,
    arguments: &BTreeMap<Symbol, Rational>,
    limits: Limits,
) -> Result<Vec<FlatStep>, UnrollError> {
    let env = bind(motion, arguments)?;
    let mut travel = None;
    if let Some(job) = &motion.job {
        travel = Some(evaluate_at(&job.travel, &env, motion.span)?);
    }
    let mut unroller = Unroller {
        job: motion.job.as_ref(),
        travel,
        limits,
        depth: 0,
        origin: Spot::zero(),
        turns: Vec::new(),
        position: Position::default(),
        spindle: None,
        coolant: None,
        steps: Vec::new(),
    };
    unroller.block(&motion.body, env)?;
    Ok(unroller.steps)
}

fn evaluate_at(expr: &Expr, env: &Environment, span: Span) -> Result<Value, UnrollError> {
    evaluate_with(expr, &|s| env.get(s).cloned()).map_err(|e| UnrollError::Evaluate(e, span))
}

impl Spot {
    /// The work zero.
    #[must_use]
    pub fn zero() -> Self {
        Self { x: Value::Exact(Rational::ZERO), y: Value::Exact(Rational::ZERO) }
    }

    fn plus(&self, other: &Self) -> Self {
        Self { x: self.x.plus(&other.x), y: self.y.plus(&other.y) }
    }
}

struct Unroller<'m> {
    job: Option<&'m Job>,
    travel: Option<Value>,
    limits: Limits,
    depth: usize,
    origin: Spot,
    turns: Vec<Turn>,
    position: Position,
    spindle: Option<(Way, Value)>,
    coolant: Option<Coolant>,
    steps: Vec<FlatStep>,
}

impl Unroller<'_> {
    /// Runs a block; spindle and coolant hold to its brace.
    fn block(&mut self, steps: &[Step], mut env: Environment) -> Result<(), UnrollError> {
        let (spindle, coolant) = (self.spindle.clone(), self.coolant);
        for step in steps {
            self.step(step, &mut env)?;
        }
        let Some(last) = steps.last() else { return Ok(()) };
        if self.coolant != coolant {
            self.set_coolant(coolant, last.span)?;
        }
        if self.spindle != spindle {
            self.set_spindle(spindle, last.span)?;
        }
        Ok(())
    }

    fn step(&mut self, step: &Step, env: &mut Environment) -> Result<(), UnrollError> {
        let span = step.span;
        match &step.action {
            Action::Let(l) => {
                let value = evaluate_at(&l.value, env, l.span)?;
                env.insert(l.symbol.clone(), value);
                Ok(())
            }
            Action::Retract => self.retract(self.travel.clone(), span),
            Action::RapidTo(point) => {
                let to = self.spot(point, env, span)?;
                self.push(FlatAction::Rapid, span, self.end(Some(to), None))
            }
            Action::RapidZ(z) => {
                let z = evaluate_at(z, env, span)?;
                self.push(FlatAction::Rapid, span, self.end(None, Some(z)))
            }
            Action::Line { to, z, feed } => {
                let to = to.as_ref().map(|p| self.spot(p, env, span)).transpose()?;
                let z = optional(z.as_ref(), env, span)?;
                let feed = optional(feed.as_ref(), env, span)?;
                self.push(FlatAction::Line { feed }, span, self.end(to, z))
            }
            Action::Arc { way, to, z, about, feed } => {
                let end = self.end(Some(self.spot(to, env, span)?), optional(z.as_ref(), env, span)?);
                self.arc(*way, false, about, end, feed.as_ref(), env, span)
            }
            Action::Turn { way, z, about, feed } => {
                let end = self.end(None, optional(z.as_ref(), env, span)?);
                self.arc(*way, true, about, end, feed.as_ref(), env, span)
            }
            Action::Passes(passes) => self.passes(passes, env, span),
            Action::Repeat { index, count, body } => self.repeat(index, count, body, env, span),
            Action::Call(call) => self.call(call, env, span),
            Action::Dwell(time) => {
                let time = evaluate_at(time, env, span)?;
                self.push(FlatAction::Dwell(time), span, self.position.clone())
            }
            Action::With { tool, body } => self.with(*tool, body, env, span),
            Action::Spindle { way, speed } => {
                let speed = evaluate_at(speed, env, span)?;
                self.set_spindle(Some((*way, speed)), span)
            }
            Action::Coolant(coolant) => self.set_coolant(Some(*coolant), span),
            Action::Stop(text) => self.push(FlatAction::Stop(text.clone()), span, self.position.clone()),
        }
    }

    fn push(&mut self, action: FlatAction, span: Span, end: Position) -> Result<(), UnrollError> {
        if self.steps.len() >= self.limits.steps {
            return Err(UnrollError::TooManySteps(self.limits.steps));
        }
        let start = std::mem::replace(&mut self.position, end.clone());
        self.steps.push(FlatStep { action, span, turns: self.turns.clone(), start, end });
        Ok(())
    }

    /// Up to `height`; home where there is none, or where the present height is not known: from there a
    /// height could lie below.
    fn retract(&mut self, height: Option<Value>, span: Span) -> Result<(), UnrollError> {
        let z = if self.position.z.is_some() { height } else { None };
        if z.is_some() && z == self.position.z {
            return Ok(());
        }
        let end = Position { z, ..self.position.clone() };
        self.push(FlatAction::Retract, span, end)
    }

    #[allow(clippy::too_many_arguments, reason = "one call for each of the two kinds of arc")]
    fn arc(
        &mut self,
        way: Way,
        full: bool,
        about: &Point,
        end: Position,
        feed: Option<&Expr>,
        env: &Environment,
        span: Span,
    ) -> Result<(), UnrollError> {
        if self.position.x.is_none() || self.position.y.is_none() {
            return Err(UnrollError::UnknownStart(span));
        }
        let about = self.spot(about, env, span)?;
        let feed = optional(feed, env, span)?;
        self.push(FlatAction::Arc { way, about, full, feed }, span, end)
    }

    fn passes(&mut self, passes: &Passes, env: &Environment, span: Span) -> Result<(), UnrollError> {
        let count = self.count(&passes.count_value(), env, span)?;
        for index in 1..=count {
            let exact = |n: i64| Value::Exact(Rational::from(n));
            let mut inner = env.clone();
            inner.insert(passes.index.clone(), exact(index));
            inner.insert(passes.count.clone(), exact(count));
            let value = if index == count {
                evaluate_at(&passes.to, &inner, span)?
            } else {
                let (i, n) = (Expr::symbol(&passes.index), Expr::symbol(&passes.count));
                evaluate_at(&passes.value_at(i, n), &inner, span)?
            };
            inner.insert(passes.value.clone(), value.clone());
            self.turns.push(Turn { symbol: passes.value.clone(), index, count, value: Some(value) });
            self.block(&passes.body, inner)?;
            self.turns.pop();
        }
        Ok(())
    }

    fn repeat(
        &mut self,
        symbol: &Symbol,
        count: &Expr,
        body: &[Step],
        env: &Environment,
        span: Span,
    ) -> Result<(), UnrollError> {
        let count = self.count(count, env, span)?;
        for index in 1..=count {
            let value = Value::Exact(Rational::from(index));
            let mut inner = env.clone();
            inner.insert(symbol.clone(), value);
            self.turns.push(Turn { symbol: symbol.clone(), index, count, value: None });
            self.block(body, inner)?;
            self.turns.pop();
        }
        Ok(())
    }

    /// A whole number of turns that the step limit could hold.
    fn count(&self, count: &Expr, env: &Environment, span: Span) -> Result<i64, UnrollError> {
        let value = evaluate_at(count, env, span)?;
        let most = i64::try_from(self.limits.steps).unwrap_or(i64::MAX);
        let whole = value.exact().and_then(Rational::to_i64).filter(|n| (0..=most).contains(n));
        whole.ok_or(UnrollError::Count(value, span))
    }

    fn call(&mut self, call: &Call, env: &Environment, span: Span) -> Result<(), UnrollError> {
        if self.depth >= self.limits.calls {
            return Err(UnrollError::TooDeep(span));
        }
        let routine = &call.routine;
        // What the spindle holds is known to the routine as well.
        let mut given: Environment = cutter_facts(env);
        for (symbol, value) in call.bindings() {
            given.insert(symbol, evaluate_at(&value, env, span)?);
        }
        let value =
            |p: &crate::Parameter| Some((p.symbol.clone(), p.dimension, given.get(&p.symbol)?.clone()));
        let arguments: Vec<_> = routine.parameters.iter().filter_map(value).collect();
        // A requirement that floats cannot decide was decided by the proof of the call.
        let inner = bind_values(routine, &given, &mut |_| Ok(()))?;
        let places = call.at.len();
        let around = call.around.as_ref();
        let around = around.map(|a| a.try_map(|e| evaluate_at(e, env, span))).transpose()?;
        for (i, point) in call.at.iter().enumerate() {
            let at = self.spot(point, env, span)?;
            let outer = std::mem::replace(&mut self.origin, at.clone());
            self.depth += 1;
            let (routine, arguments, around) = (routine.name.clone(), arguments.clone(), around.clone());
            let enter = FlatAction::Enter { routine, at, place: i + 1, places, arguments, around };
            self.push(enter, span, self.position.clone())?;
            self.block(&call.routine.body, inner.clone())?;
            self.push(FlatAction::Leave, span, self.position.clone())?;
            self.depth -= 1;
            self.origin = outer;
        }
        Ok(())
    }

    fn with(&mut self, tool: usize, body: &[Step], env: &Environment, span: Span) -> Result<(), UnrollError> {
        let held = self.job.and_then(|job| job.tools.get(tool)).ok_or(UnrollError::NoTool(tool, span))?;
        let mut inner = env.clone();
        for (field, value) in &held.fields {
            inner.insert(field.symbol(), evaluate_at(value, env, held.span)?);
        }
        self.position = Position::default();
        self.push(FlatAction::Tool(tool), span, Position::default())?;
        for step in body {
            self.step(step, &mut inner)?;
        }
        self.retract(None, span)?;
        self.set_coolant(None, span)?;
        self.set_spindle(None, span)
    }

    fn set_spindle(&mut self, spindle: Option<(Way, Value)>, span: Span) -> Result<(), UnrollError> {
        self.spindle.clone_from(&spindle);
        self.push(FlatAction::Spindle(spindle), span, self.position.clone())
    }

    fn set_coolant(&mut self, coolant: Option<Coolant>, span: Span) -> Result<(), UnrollError> {
        self.coolant = coolant;
        self.push(FlatAction::Coolant(coolant), span, self.position.clone())
    }

    /// A point of the routine at work, in the coordinates of the work offset.
    fn spot(&self, point: &Point, env: &Environment, span: Span) -> Result<Spot, UnrollError> {
        let local = Spot { x: evaluate_at(&point.x, env, span)?, y: evaluate_at(&point.y, env, span)? };
        Ok(self.origin.plus(&local))
    }

    fn end(&self, to: Option<Spot>, z: Option<Value>) -> Position {
        let here = self.position.clone();
        let (x, y) = to.map_or((here.x, here.y), |spot| (Some(spot.x), Some(spot.y)));
        Position { x, y, z: z.or(here.z) }
    }
}

fn own((symbol, value): (&Symbol, &Value)) -> (Symbol, Value) {
    (symbol.clone(), value.clone())
}

fn cutter_facts(env: &Environment) -> Environment {
    let facts = Field::ALL.map(Field::symbol);
    facts.iter().filter_map(|s| env.get_key_value(s)).map(own).collect()
}

fn optional(expr: Option<&Expr>, env: &Environment, span: Span) -> Result<Option<Value>, UnrollError> {
    expr.map(|e| evaluate_at(e, env, span)).transpose()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Parameter;

    fn parameter(name: &str, least: i32, greatest: i32, default: Option<Expr>) -> Parameter {
        Parameter {
            symbol: Symbol::new(name),
            dimension: Dimension::LENGTH,
            whole: false,
            least: least.into(),
            greatest: greatest.into(),
            default,
            letter: None,
            meaning: String::new(),
            inch: false,
            words: Vec::new(),
            span: Span::default(),
        }
    }

    fn step(action: Action) -> Step {
        Step { action, span: Span::default() }
    }

    /// `passes level from 0 to -depth by stepdown { line to z level  turn ccw about centre }` at x = wall.
    fn rings() -> Motion {
        let name = Expr::named;
        let passes = Passes {
            whole: None,
            value: Symbol::new("level"),
            index: Symbol::new("level.index"),
            count: Symbol::new("level.count"),
            from: Expr::zero(),
            to: -name("depth"),
            by: name("stepdown"),
            body: vec![
                step(Action::Line { to: None, z: Some(name("level")), feed: Some(Expr::from(100)) }),
                step(Action::Turn { way: Way::Ccw, z: None, about: Point::centre(), feed: None }),
            ],
        };
        let body = vec![
            step(Action::Retract),
            step(Action::RapidTo(Point::new(name("wall"), Expr::zero()))),
            step(Action::RapidZ(Expr::from(5))),
            step(Action::Passes(passes)),
            step(Action::Retract),
        ];
        Motion {
            name: "rings".to_owned(),
            documentation: Vec::new(),
            span: Span::default(),
            inch: false,
            program: None,
            parameters: vec![
                parameter("wall", 1, 100, None),
                parameter("depth", 1, 100, None),
                parameter("stepdown", 1, 100, Some(name("depth"))),
            ],
            head: Vec::new(),
            demands: None,
            job: None,
            made: Vec::new(),
            given: Vec::new(),
            body,
        }
    }

    fn sizes(list: &[(&str, i32)]) -> BTreeMap<Symbol, Rational> {
        list.iter().map(|(s, v)| (Symbol::new(s), Rational::from(*v))).collect()
    }

    fn floors(steps: &[FlatStep]) -> Vec<String> {
        let arcs = steps.iter().filter(|s| matches!(s.action, FlatAction::Arc { .. }));
        arcs.map(|s| s.end.z.as_ref().unwrap().exact().unwrap().to_string()).collect()
    }

    #[test]
    fn passes_are_equal_and_land_on_the_floor() {
        let deep =
            unroll(&rings(), &sizes(&[("wall", 7), ("depth", 10), ("stepdown", 4)]), Limits::default());
        assert_eq!(floors(&deep.unwrap()), ["-10/3", "-20/3", "-10"]);
        let once = unroll(&rings(), &sizes(&[("wall", 7), ("depth", 10)]), Limits::default());
        assert_eq!(floors(&once.unwrap()), ["-10"]);
    }

    #[test]
    fn nothing_is_known_of_z_until_it_is_said() {
        let steps = unroll(&rings(), &sizes(&[("wall", 7), ("depth", 1)]), Limits::default()).unwrap();
        let known: Vec<_> = steps.iter().map(|s| (s.end.x.is_some(), s.end.z.is_some())).collect();
        let (start, moving, end) = ((false, false), (true, true), (true, false));
        assert_eq!(known, [start, (true, false), moving, moving, moving, end]);
    }

    #[test]
    fn values_that_are_not_admitted_are_refused() {
        let refused = |list: &[(&str, i32)]| match unroll(&rings(), &sizes(list), Limits::default()) {
            Err(UnrollError::Bind(error)) => error.to_string(),
            other => panic!("{other:?}"),
        };
        assert_eq!(refused(&[("wall", 7)]), "`depth` needs a value");
        assert_eq!(refused(&[("wall", 7), ("depth", 101)]), "`depth` is out of its range");
        assert_eq!(refused(&[("wal", 7)]), "there is no parameter `wal`");
    }

    #[test]
    fn a_called_routine_moves_with_its_place() {
        let mut caller = rings();
        caller.parameters.clear();
        let arguments = vec![(Symbol::new("wall"), Expr::from(2)), (Symbol::new("depth"), Expr::from(1))];
        let at = vec![Point::new(Expr::from(10), Expr::zero()), Point::new(Expr::from(-10), Expr::zero())];
        caller.body = vec![step(Action::Call(Call {
            routine: std::sync::Arc::new(rings()),
            arguments,
            at,
            around: None,
        }))];
        let steps = unroll(&caller, &BTreeMap::new(), Limits::default()).unwrap();
        let x = |s: &FlatStep| s.end.x.as_ref().unwrap().exact().unwrap().to_i64().unwrap();
        let arcs: Vec<_> =
            steps.iter().filter(|s| matches!(s.action, FlatAction::Arc { .. })).map(x).collect();
        assert_eq!(arcs, [12, -8]);
    }

    #[test]
    fn a_huge_motion_is_refused_before_memory_runs_out() {
        let limits = Limits { steps: 50, calls: 2 };
        let sizes = sizes(&[("wall", 7), ("depth", 100), ("stepdown", 2)]);
        assert_eq!(unroll(&rings(), &sizes, limits), Err(UnrollError::TooManySteps(50)));
    }
}
