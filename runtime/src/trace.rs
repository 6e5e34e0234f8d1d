//! Trace: what a run did, move by move, in plain numbers.

mod csv;
mod table;

use borewright_base::{Diagnostic, Diagnostics, SourceMap};
use serde::Serialize;

use crate::conform::conform;
use crate::controller::Controller;
use crate::run::{Event, EventKind, Execution, RunOptions, execute, idle};
use crate::state::{Axis, Coolant, Spindle, Triple, Units};
use crate::step::{Arc, Feed, Move, Path};
use crate::text::Program;
use crate::value::{Elementary, Truth, Value};

/// What a run did. Lengths are in the program's units (those of its first move), angles in turns, times in seconds.
#[derive(Debug, Clone, Serialize)]
pub struct Trace {
    /// Version of this form.
    pub version: u32,
    /// `mm` or `in`.
    pub units: &'static str,
    /// Moves in order.
    pub moves: Vec<TracedMove>,
    /// All else that the machine did, in order.
    pub events: Vec<TracedEvent>,
    /// Alarms that the program raised.
    pub alarms: Vec<TracedAlarm>,
    /// What was wrong with the text or its run, in the form of [`Trace::locate`]; empty until then.
    pub errors: Vec<TracedError>,
    /// The same with all places and hints.
    #[serde(skip)]
    pub diagnostics: Vec<Diagnostic>,
    /// The run itself.
    #[serde(skip)]
    pub execution: Execution<f64>,
}

/// One move.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TracedMove {
    /// Line in its file, from 1.
    pub line: u32,
    /// `rapid`, `line` or `arc`.
    pub kind: Kind,
    /// Start.
    pub from: [f64; 3],
    /// End.
    pub to: [f64; 3],
    /// Centre of an arc, at the height of its start.
    pub centre: Option<[f64; 3]>,
    /// Plane of an arc: `XY`, `XZ` or `YZ`.
    pub plane: Option<&'static str>,
    /// An arc is counterclockwise, seen from the positive end of the axis normal to its plane.
    pub ccw: Option<bool>,
    /// How far an arc turns: 1 is a full circle.
    pub turns: Option<f64>,
    /// Feed in units a minute along the path; none for rapids and where the program gave none.
    pub feed: Option<f64>,
    /// Duration; none where it is not known.
    pub seconds: Option<f64>,
}

/// The kind of a move.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs, reason = "the names say it")]
pub enum Kind {
    Rapid,
    Line,
    Arc,
}

impl Kind {
    /// As in JSON.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Rapid => "rapid",
            Self::Line => "line",
            Self::Arc => "arc",
        }
    }
}

/// Something other than a move.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TracedEvent {
    /// Line in its file.
    pub line: u32,
    /// `spindle`, `coolant`, `tool`, `dwell`, `stop` or `end`.
    pub kind: &'static str,
    /// What happened.
    pub text: String,
    /// Count of moves before it.
    #[serde(skip)]
    pub after: usize,
    /// Time it takes.
    #[serde(skip)]
    pub seconds: f64,
}

/// An alarm that the program raised.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TracedAlarm {
    /// Line in its file.
    pub line: u32,
    /// Its number.
    pub number: f64,
    /// What the operator reads.
    pub text: String,
}

/// An error, for scripts.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[allow(missing_docs, reason = "the names are those of the diagnostics everywhere")]
pub struct TracedError {
    pub code: &'static str,
    pub name: &'static str,
    pub message: String,
    pub file: String,
    pub line: usize,
    pub column: usize,
    pub hints: Vec<String>,
}

/// Runs a program on floats and traces it. A text that the controller's language does not have is not run, unless
/// the options say to go on.
#[must_use]
pub fn run(program: &Program, controller: &Controller, options: &RunOptions<'_>) -> Trace {
    let mut found = conform(program, controller);
    for other in &options.with {
        found.append(conform(other, controller));
    }
    let runs = options.keep_going || !found.has_errors();
    let execution = if runs {
        execute(program, controller, options, |x| x)
    } else {
        idle(program, controller, options, |x| x)
    };
    let mut trace = Trace::new(execution, controller);
    trace.prepend(found);
    trace
}

impl Trace {
    /// From what happened to plain numbers.
    #[must_use]
    pub fn new(execution: Execution<f64>, controller: &Controller) -> Self {
        let units = execution.moves.first().map_or(controller.units, |m| m.units);
        let rapid_rate = controller.rapid_rate.map(|rate| rate * factor(controller.units, units));
        let moves = execution.moves.iter().map(|m| traced_move(m, units, rapid_rate)).collect();
        let events = execution.events.iter().filter_map(|e| traced_event(e, controller)).collect();
        let alarms = execution.alarms.iter();
        let alarms = alarms.map(|a| TracedAlarm { line: a.line, number: a.number, text: a.text.clone() });
        let alarms = alarms.collect();
        let diagnostics = execution.errors.iter().map(|f| (*f.diagnostic).clone()).collect();
        let (version, errors) = (1, Vec::new());
        Self { version, units: units.name(), moves, events, alarms, errors, diagnostics, execution }
    }

    /// Puts what reading the text found before what its run found.
    pub fn prepend(&mut self, found: Diagnostics) {
        let run = std::mem::replace(&mut self.diagnostics, found.into_sorted());
        self.diagnostics.extend(run);
    }

    /// Fills in [`Trace::errors`] with file names, lines and columns.
    pub fn locate(&mut self, sources: &SourceMap) {
        self.errors = self.diagnostics.iter().map(|d| traced_error(d, sources)).collect();
    }

    /// JSON in the published form.
    #[must_use]
    pub fn to_json(&self) -> String {
        // Plain structs of numbers and texts always serialise.
        serde_json::to_string_pretty(self).unwrap_or_default()
    }

    /// True when the program ran to an end: no alarm, no error.
    #[must_use]
    pub fn is_clean(&self) -> bool {
        self.alarms.is_empty() && self.diagnostics.is_empty()
    }
}

fn factor(from: Units, to: Units) -> f64 {
    match (from, to) {
        (Units::Inch, Units::Millimetre) => 25.4,
        (Units::Millimetre, Units::Inch) => 1.0 / 25.4,
        (Units::Inch, Units::Inch) | (Units::Millimetre, Units::Millimetre) => 1.0,
    }
}

fn point(triple: &Triple<f64>, scale: f64) -> [f64; 3] {
    // Adding 0 turns -0 into 0.
    [triple.x, triple.y, triple.z].map(|v| v * scale + 0.0)
}

fn traced_move(step: &Move<f64>, units: Units, rapid_rate: Option<f64>) -> TracedMove {
    let scale = factor(step.units, units);
    let (from, to) = (point(&step.from, scale), point(&step.to, scale));
    let arc = match &step.path {
        Path::Arc(arc) => Some(arc),
        Path::Rapid | Path::Line => None,
    };
    let turns = arc.map(|arc| turns(arc, &step.from, &step.to));
    let kind = match &step.path {
        Path::Rapid => Kind::Rapid,
        Path::Line => Kind::Line,
        Path::Arc(_) => Kind::Arc,
    };
    let mut traced = TracedMove {
        line: step.line,
        kind,
        from,
        to,
        centre: arc.map(|arc| point(&arc.centre, scale)),
        plane: arc.map(|arc| arc.plane.name()),
        ccw: arc.map(|arc| arc.counterclockwise),
        turns,
        feed: None,
        seconds: None,
    };
    set_time(&mut traced, step.feed.as_ref(), scale, rapid_rate);
    traced
}

/// Feed and duration. A rapid is timed by its longest axis: how the axes share the way differs.
fn set_time(traced: &mut TracedMove, feed: Option<&Feed<f64>>, scale: f64, rapid_rate: Option<f64>) {
    let length = traced.length();
    match feed {
        Some(Feed::PerMinute(feed)) => {
            traced.feed = Some(feed * scale);
            traced.seconds = (*feed > 0.0).then(|| 60.0 * length / (feed * scale));
        }
        Some(Feed::InverseTime(rate)) => {
            traced.feed = Some(length * rate);
            traced.seconds = (*rate > 0.0).then(|| 60.0 / rate);
        }
        None if traced.kind == Kind::Rapid => {
            let [x, y, z] = difference(traced.from, traced.to).map(f64::abs);
            traced.seconds = rapid_rate.map(|rate| 60.0 * x.max(y).max(z) / rate);
        }
        None => {}
    }
}

fn difference(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    let ([ax, ay, az], [bx, by, bz]) = (a, b);
    [bx - ax, by - ay, bz - az]
}

fn norm(v: [f64; 3]) -> f64 {
    v.iter().map(|c| c * c).sum::<f64>().apply(Elementary::Sqrt)
}

/// How far an arc turns, over 0 and up to 1.
fn turns(arc: &Arc<f64>, from: &Triple<f64>, to: &Triple<f64>) -> f64 {
    if arc.full == Truth::True {
        return 1.0;
    }
    let [first, second, _] = arc.plane.axes();
    let angle = |p: &Triple<f64>| {
        let out = |axis: Axis| p.along(axis) - arc.centre.along(axis);
        f64::arc_tangent(&out(second), &out(first))
    };
    let sweep = angle(to) - angle(from);
    let sweep = if arc.counterclockwise { sweep } else { -sweep };
    let sweep = if sweep <= 0.0 { sweep + 360.0 } else { sweep };
    sweep / 360.0
}

impl TracedMove {
    /// Length of the path.
    #[must_use]
    pub fn length(&self) -> f64 {
        let [x, y, z] = difference(self.from, self.to);
        let (Some(radius), Some(turns)) = (self.radius(), self.turns) else {
            return norm([x, y, z]);
        };
        let climb = match self.plane {
            Some("XZ") => y,
            Some("YZ") => x,
            Some(_) | None => z,
        };
        norm([radius * turns * std::f64::consts::TAU, climb, 0.0])
    }

    /// Radius of an arc, at its start.
    #[must_use]
    pub fn radius(&self) -> Option<f64> {
        // The centre is given at the height of the start, so the way to it lies in the plane.
        Some(norm(difference(self.centre?, self.from)))
    }
}

fn traced_event(event: &Event<f64>, controller: &Controller) -> Option<TracedEvent> {
    let mut seconds = 0.0;
    let (kind, text) = match &event.kind {
        EventKind::Spindle(Spindle::Stopped, _) => ("spindle", "stop".to_owned()),
        EventKind::Spindle(turning, speed) => {
            let way = if *turning == Spindle::Clockwise { "clockwise" } else { "counterclockwise" };
            (
                "spindle",
                speed.map_or_else(|| format!("{way}, no speed set"), |s| format!("{way} {s} rev/min")),
            )
        }
        EventKind::Coolant(Coolant::Mist) => ("coolant", "mist".to_owned()),
        EventKind::Coolant(Coolant::Flood) => ("coolant", "flood".to_owned()),
        EventKind::Coolant(Coolant::Off) => ("coolant", "off".to_owned()),
        EventKind::Tool(tool) => {
            seconds = controller.tool_change_seconds;
            ("tool", tool.map_or_else(|| "no tool called".to_owned(), |t| format!("tool {t}")))
        }
        EventKind::Dwell(time) => {
            seconds = *time;
            ("dwell", format!("{time} s"))
        }
        EventKind::Stop { optional, text } => {
            let what = if *optional { "optional stop" } else { "stop" };
            ("stop", if text.is_empty() { what.to_owned() } else { format!("{what}: {text}") })
        }
        EventKind::Message(_) => return None,
        EventKind::End(text) => ("end", (*text).to_owned()),
    };
    Some(TracedEvent { line: event.line, kind, text, after: event.after, seconds })
}

fn traced_error(diagnostic: &Diagnostic, sources: &SourceMap) -> TracedError {
    let place = diagnostic.span.and_then(|span| sources.locate(span));
    let (file, line, column) =
        place.map_or((String::new(), 0, 0), |(name, start, _)| (name.to_owned(), start.line, start.column));
    TracedError {
        code: diagnostic.code.number,
        name: diagnostic.code.name,
        message: diagnostic.message.clone(),
        file,
        line,
        column,
        hints: diagnostic.hints.clone(),
    }
}
