//! A motion written out in one form, run on the virtual controller, and held against the exact motion within the
//! bounds that its text prints.

use std::fmt::Write as _;
use std::sync::Arc;

use borewright_base::Span;
use borewright_emit::{Bounds, EmittedFile, Form, Settings, emit_unproved};
use borewright_machine::Machine;
use borewright_motion::{
    Action, Clause, Condition, Expr, FlatAction, FlatStep, Function, Let, Limits, Motion, Node, Parameter,
    Passes, Position, Relation, Step, Symbol, Value, Way, bind, evaluate_with, unroll,
};
use borewright_number::{Dimension, Rational, Rounding};
use borewright_runtime::trace::{Kind, TracedMove};
use borewright_runtime::{Controller, RunOptions, Trace, read, run};

use crate::sizes::Sizes;

/// What came of a run.
#[derive(Debug, Clone, PartialEq)]
pub enum Outcome {
    /// The trace follows the exact motion within the printed bounds.
    Agrees,
    /// The motion does not admit these sizes.
    NotAdmitted,
    /// The machine's own range ends short of the motion's: its decimals are rounded to the safe side.
    Narrowed,
    /// More steps than are tried.
    TooLong,
    /// There is no such text, with the codes of the reasons.
    NotWritten(String),
    /// It does not follow.
    Differs(String),
}

/// The line of a text, from 1, and what is wrong there.
type Wrong = (usize, String);

/// Most steps of a motion that is tried.
const STEPS: usize = 600;
/// Most ways in which a text may count less that are tried.
const MOST_SUBSETS: usize = 64;
/// What plain floats may be off, in mm and in degrees: far below every printed bound.
const FLOATS: f64 = 1e-6;

/// The texts of a motion.
///
/// # Errors
/// The codes of what keeps it from being written.
pub fn written(
    motion: &Motion,
    machine: &Machine,
    form: Form,
    sizes: &Sizes,
) -> Result<Vec<EmittedFile>, String> {
    let own = |p: &Parameter| Some((p.symbol.clone(), sizes.get(&p.symbol)?.clone()));
    let values = motion.parameters.iter().filter_map(own).collect();
    let settings = Settings { values, program: Some(1100), ..Settings::default() };
    emit_unproved(motion, machine, form, &settings)
        .map_err(|found| found.iter().map(|d| d.code.number).collect::<Vec<_>>().join(", "))
}

/// Sizes as the words of a call can state them: with six decimals in the machine's units. A default that is a length
/// of the other unit is stated as the decimal that such a machine takes for it.
#[must_use]
pub fn typed(motion: &Motion, machine: &Machine, sizes: &Sizes) -> Sizes {
    let mut typed = sizes.clone();
    for p in &motion.parameters {
        if let Some(value) = typed.get_mut(&p.symbol) {
            let scale = scale(p, machine);
            *value = (&*value / &scale).rounded(6, Rounding::Nearest) * scale;
        } else if p.inch != machine.inch() {
            let default =
                p.default.as_ref().and_then(Expr::as_number).filter(|_| p.dimension == Dimension::LENGTH);
            typed.extend(default.map(|value| (p.symbol.clone(), fitted(value, p, machine))));
        }
    }
    typed
}

/// The nearest decimal of the machine inside the range.
fn fitted(value: &Rational, parameter: &Parameter, machine: &Machine) -> Rational {
    let unit = machine.unit();
    let rounded =
        |value: &Rational, way| (value / &unit).rounded(machine.numbers.decimals, way) * unit.clone();
    let (least, greatest) =
        (rounded(&parameter.least, Rounding::Up), rounded(&parameter.greatest, Rounding::Down));
    rounded(value, Rounding::Nearest).min(greatest).max(least)
}

fn scale(parameter: &Parameter, machine: &Machine) -> Rational {
    if parameter.dimension.length == 1 { machine.unit() } else { Rational::ONE }
}

/// The exact motion at sizes.
///
/// # Errors
/// Where the motion does not admit the sizes, or takes more steps than are tried.
pub fn exact(motion: &Motion, sizes: &Sizes) -> Result<Vec<FlatStep>, Outcome> {
    bind(motion, sizes).map_err(|_| Outcome::NotAdmitted)?;
    unroll(motion, sizes, Limits { steps: STEPS, ..Limits::default() }).map_err(|_| Outcome::TooLong)
}

/// Runs texts at sizes and compares with the exact motion there.
#[must_use]
pub fn compared(
    motion: &Motion,
    machine: &Machine,
    files: &[EmittedFile],
    sizes: &Sizes,
    exact: &[FlatStep],
) -> Outcome {
    let Some((first, others)) = files.split_first() else { return Outcome::NotWritten("no file".to_owned()) };
    let trace = traced(motion, machine, first, others, sizes);
    let said = trace.alarms.iter().map(|a| format!("alarm {}", a.text));
    let said = said.chain(trace.diagnostics.iter().map(|d| format!("{} {}", d.code.number, d.message)));
    if let Some(said) = said.reduce(|a, b| format!("{a}; {b}")) {
        let kept_clear = || trace.alarms.iter().all(|a| is_kept_clear(motion, first, sizes, &a.text));
        let refused = rounded_guards(motion, first, sizes) || kept_clear();
        let narrower = narrowed(motion, machine, sizes) || trace.diagnostics.is_empty() && refused;
        return if narrower { Outcome::Narrowed } else { Outcome::Differs(said) };
    }
    let follows = |exact: &[FlatStep], rounded: bool| {
        let moves = feeds(&trace, machine, rounded);
        let mut pairs = Pairs { moves: &moves, at: 0, bounds: &first.bounds, machine, rounded, before: None };
        pairs.all(exact)
    };
    // As the numbers come out, and as a control has them that rounds every word.
    let computed = first.form == Form::Macro;
    let follows = |exact: &[FlatStep]| {
        follows(exact, false).and_then(|()| if computed { follows(exact, true) } else { Ok(()) })
    };
    // A text may count a step or a turn less, where each is then longer by no more than it says.
    let may_be_longer = Longer::subsets(files);
    let fewer = |longer: &Longer| self::exact(&longer.motion(motion), sizes).ok();
    let follows_fewer = || may_be_longer.iter().filter_map(fewer).any(|fewer| follows(&fewer).is_ok());
    match follows(exact).or_else(|why| if follows_fewer() { Ok(()) } else { Err(why) }) {
        Ok(()) => Outcome::Agrees,
        Err((line, why)) => {
            let block = first.text.lines().nth(line.saturating_sub(1)).unwrap_or_default();
            Outcome::Differs(format!("line {line}: {why}: {block}"))
        }
    }
}

/// By how much steps are longer, and what is rounded up less.
#[derive(Debug, Clone, Default)]
struct Longer {
    /// The parts, by counter; those of a called routine have its name before their own.
    steps: Vec<(Symbol, Rational)>,
    rounded_up: Option<Rational>,
}

impl Longer {
    /// All that texts allow themselves, each of it done or not; of many, all of it or nothing.
    fn subsets(files: &[EmittedFile]) -> Vec<Self> {
        let mut all = vec![Self::default()];
        for tolerance in files.iter().map(|file| &file.interface.tolerance) {
            for (counter, part) in &tolerance.counts {
                let mut with = all.clone();
                with.iter_mut().for_each(|longer| longer.steps.push((counter.clone(), part.clone())));
                all.extend(with);
                if all.len() > MOST_SUBSETS {
                    all = all.first().cloned().into_iter().chain(all.last().cloned()).collect();
                }
            }
            if tolerance.rounded_up.is_some() {
                let mut with = all.clone();
                with.iter_mut().for_each(|longer| longer.rounded_up.clone_from(&tolerance.rounded_up));
                all.extend(with);
            }
        }
        all
    }

    fn motion(&self, motion: &Motion) -> Motion {
        let mut longer = motion.clone();
        let less = |e: &Expr| {
            let Node::Call(Function::Ceil, a) = e.node() else { return None };
            let part = self.rounded_up.as_ref()?;
            Some((a.clone() / Expr::number(Rational::ONE + part)).call(Function::Ceil))
        };
        for clause in &mut longer.head {
            if let Clause::Let(l) = clause {
                l.value = l.value.map(&less);
            }
        }
        self.steps(&mut longer.body);
        longer
    }

    fn steps(&self, steps: &mut [Step]) {
        for step in steps {
            match &mut step.action {
                Action::Passes(passes) => {
                    self.steps(&mut passes.body);
                    let Some(part) = self.part(&passes.index) else { continue };
                    match passes.whole {
                        None => passes.by = passes.by.clone() * Expr::number(Rational::ONE + part),
                        Some(_) => step.action = last_longer(passes, part),
                    }
                }
                Action::Repeat { body, .. } | Action::With { body, .. } => self.steps(body),
                Action::Call(call) => call.routine = Arc::new(self.motion(&call.routine)),
                Action::Let(_)
                | Action::Retract
                | Action::RapidTo(_)
                | Action::RapidZ(_)
                | Action::Line { .. }
                | Action::Arc { .. }
                | Action::Turn { .. }
                | Action::Dwell(_)
                | Action::Spindle { .. }
                | Action::Coolant(_)
                | Action::Stop(_) => {}
            }
        }
    }

    fn part(&self, counter: &Symbol) -> Option<&Rational> {
        let of_called = format!(".{counter}");
        let is_it = |name: &Symbol| name == counter || name.name().ends_with(&of_called);
        self.steps.iter().filter(|(name, _)| is_it(name)).map(|(_, part)| part).max()
    }
}

/// Whole steps as they are, of which the last goes on to the end where the rest is within this part of the way.
fn last_longer(passes: &Passes, part: &Rational) -> Action {
    let longer = Passes { by: passes.by.clone() * Expr::number(Rational::ONE + part), ..passes.clone() };
    let (index, count) = (passes.index.clone(), longer.count_value());
    let span = passes.body.first().map_or_else(Span::default, |step| step.span);
    let let_ = |symbol: &Symbol, dimension, value| {
        let action = Action::Let(Let { symbol: symbol.clone(), dimension, value, span });
        Step { action, span }
    };
    let value = passes.value_at(Expr::symbol(&index), Expr::symbol(&passes.count));
    let named =
        [let_(&passes.count, Dimension::RATIO, count.clone()), let_(&passes.value, Dimension::LENGTH, value)];
    Action::Repeat { index, count, body: named.into_iter().chain(passes.body.iter().cloned()).collect() }
}

/// Whether an alarm is one of a requirement that must stay off its limit, and the sizes lie closer to it than the
/// text says that it keeps clear.
fn is_kept_clear(motion: &Motion, file: &EmittedFile, sizes: &Sizes, alarm: &str) -> bool {
    let Ok(known) = bind(motion, sizes) else { return false };
    let value = |e: &Expr| evaluate_with(e, &|s| known.get(s).cloned()).ok().map(|v| v.to_f64());
    let clear = 2.0 * file.interface.tolerance.guard.to_f64();
    let is_close = |condition: &Condition| {
        let Condition::Compare(Relation::Less | Relation::Greater | Relation::NotEqual, a, b) = condition
        else {
            return false;
        };
        value(a).zip(value(b)).is_some_and(|(a, b)| (a - b).abs() <= clear)
    };
    motion.head.iter().any(|clause| match clause {
        Clause::Require(r) => alarm.contains(&r.alarm) && is_close(&r.condition),
        Clause::Let(_) => false,
    })
}

/// Whether a size lies between an end of its range and that end rounded inwards to the machine's decimals.
fn narrowed(motion: &Motion, machine: &Machine, sizes: &Sizes) -> bool {
    let numbers = &machine.numbers;
    let outside = |p: &Parameter| {
        let Some(value) = sizes.get(&p.symbol) else { return false };
        let decimals = match p.dimension {
            Dimension::LENGTH => numbers.decimals,
            Dimension::ANGLE => numbers.angle_decimals,
            Dimension::FEED => numbers.feed_decimals,
            _ => return false,
        };
        let scale = scale(p, machine);
        let end = |v: &Rational, way| (v / &scale).rounded(decimals, way) * &scale;
        *value < end(&p.least, Rounding::Up) || *value > end(&p.greatest, Rounding::Down)
    };
    motion.parameters.iter().any(outside)
}

/// Whether the sizes lie between a requirement and what the text makes of it, its literals rounded to the safe side.
fn rounded_guards(motion: &Motion, file: &EmittedFile, sizes: &Sizes) -> bool {
    let mut guarded = motion.clone();
    for clause in &mut guarded.head {
        if let Clause::Require(r) = clause
            && let Some(narrow) =
                file.interface.narrowed.iter().find(|n| n.span == r.span && n.alarm == r.alarm)
        {
            r.condition.clone_from(&narrow.condition);
        }
    }
    bind(motion, sizes).is_ok() && bind(&guarded, sizes).is_err()
}

/// The run of a text: a macro is called, what is run by itself finds spindle and length offset on.
fn traced(
    motion: &Motion,
    machine: &Machine,
    file: &EmittedFile,
    others: &[EmittedFile],
    sizes: &Sizes,
) -> Trace {
    let controller = Controller::from(machine);
    let units = machine.units_code();
    let text = if file.interface.called {
        let call = call(motion, machine, file, sizes, &controller);
        format!("%\nO1\n{units} G17 G40 G80 G90 G94 G43 H1\nS1000 M3\n{call}\nM30\n%\n")
    } else {
        unworn(&file.text, machine)
    };
    let (program, _) = read(borewright_base::FileId(0), &text);
    let with: Vec<&EmittedFile> = if file.interface.called { vec![file] } else { others.iter().collect() };
    let with: Vec<_> =
        with.iter().zip(1..).map(|(f, i)| read(borewright_base::FileId(i), &f.text).0).collect();
    // A start at odd coordinates, so that nothing is known by chance.
    let options = RunOptions {
        with: with.iter().collect(),
        start: Some([3.217, 4.119, 171.713]),
        called: motion.job.is_none(),
        ..RunOptions::default()
    };
    run(&program, &controller, &options)
}

/// The text, with the wear of all cutters set to nothing before it begins.
fn unworn(text: &str, machine: &Machine) -> String {
    let Some(kept) = machine.variables.wear else { return text.to_owned() };
    let set: Vec<String> = (kept.0..=kept.1).map(|number| format!("#{number}=0.\n")).collect();
    let head = text.find('O').map_or(0, |at| at + text.get(at..).and_then(|t| t.find('\n')).unwrap_or(0) + 1);
    let (head, rest) = text.split_at(head.min(text.len()));
    format!("{head}{}{rest}", set.concat())
}

fn call(
    motion: &Motion,
    machine: &Machine,
    file: &EmittedFile,
    sizes: &Sizes,
    controller: &Controller,
) -> String {
    let mut call = format!("G65 P{}", file.program.unwrap_or(1100));
    for p in &motion.parameters {
        let variable = file.interface.variables.get(&p.symbol);
        let letter =
            controller.call_letters.iter().find(|(_, v)| Some(*v) == variable).map(|(letter, _)| letter);
        if let (Some(letter), Some(value)) = (letter, sizes.get(&p.symbol)) {
            let digits = (value / &scale(p, machine)).decimal_text(6);
            let point = if digits.contains('.') { "" } else { "." };
            let _ = write!(call, " {letter}{digits}{point}");
        }
    }
    call
}

/// Feed moves of a trace in mm, on request as a control has them that rounds every word to its decimals.
fn feeds(trace: &Trace, machine: &Machine, rounded: bool) -> Vec<TracedMove> {
    let unit = machine.unit().to_f64();
    let step = machine.resolution().to_f64() / unit;
    let round = |v: f64| if rounded { (v / step).round() * step } else { v };
    let mut at = None;
    let mut feeds = Vec::new();
    for m in &trace.moves {
        let from = at.unwrap_or_else(|| m.from.map(round));
        let to = m.to.map(round);
        at = Some(to);
        if m.kind == Kind::Rapid {
            continue;
        }
        let mm = |place: [f64; 3]| place.map(|v| v * unit);
        let [fx, fy, fz] = from;
        let centre = m.centre.map(|[cx, cy, _]| {
            let [x, y, _] = m.from;
            [fx + round(cx - x), fy + round(cy - y), fz]
        });
        feeds.push(TracedMove {
            from: mm(from),
            to: mm(to),
            centre: centre.map(mm),
            feed: m.feed.map(|f| f * unit),
            ..m.clone()
        });
    }
    feeds
}

fn wrong(line: u32, why: impl Into<String>) -> Result<(), Wrong> {
    Err((usize::try_from(line).unwrap_or(0), why.into()))
}

/// Moves of a trace beside steps of the exact motion.
struct Pairs<'a> {
    moves: &'a [TracedMove],
    at: usize,
    bounds: &'a Bounds,
    machine: &'a Machine,
    rounded: bool,
    /// The last pair of arcs, for the joint with the next.
    before: Option<(Turned, Turned)>,
}

/// An arc: its start, its end, its centre, in the plane, and its way.
#[derive(Debug, Clone, Copy)]
struct Turned {
    from: [f64; 2],
    to: [f64; 2],
    centre: [f64; 2],
    ccw: bool,
}

impl Turned {
    fn radius(&self, at: [f64; 2]) -> f64 {
        apart(at, self.centre)
    }

    /// The direction at a point, in degrees.
    fn heading(&self, at: [f64; 2]) -> f64 {
        let ([x, y], [cx, cy]) = (at, self.centre);
        let turn = if self.ccw { 90.0 } else { -90.0 };
        (y - cy).atan2(x - cx).to_degrees() + turn
    }
}

fn apart([a, b]: [f64; 2], [c, d]: [f64; 2]) -> f64 {
    (a - c).hypot(b - d)
}

fn turn(degrees: f64) -> f64 {
    (degrees + 180.0).rem_euclid(360.0) - 180.0
}

fn plane([x, y, _]: [f64; 3]) -> [f64; 2] {
    [x, y]
}

fn height([_, _, z]: [f64; 3]) -> f64 {
    z
}

fn place(position: &Position) -> Option<[f64; 3]> {
    let of = |v: &Option<Value>| v.as_ref().map(Value::to_f64);
    Some([of(&position.x)?, of(&position.y)?, of(&position.z)?])
}

impl Pairs<'_> {
    fn all(&mut self, exact: &[FlatStep]) -> Result<(), Wrong> {
        for step in exact {
            match &step.action {
                FlatAction::Line { feed } => self.line(step, feed.as_ref())?,
                FlatAction::Arc { way, about, full, feed } => {
                    let (from, to) = (place(&step.start), place(&step.end));
                    let (Some(from), Some(to)) = (from, to) else {
                        return Err((0, "an unknown place".to_owned()));
                    };
                    let centre = [about.x.to_f64(), about.y.to_f64()];
                    let arc = Turned { from: plane(from), to: plane(to), centre, ccw: *way == Way::Ccw };
                    self.arc(arc, (from, to), *full, feed.as_ref())?;
                }
                FlatAction::Enter { .. }
                | FlatAction::Leave
                | FlatAction::Tool(_)
                | FlatAction::Retract
                | FlatAction::Rapid
                | FlatAction::Dwell(_)
                | FlatAction::Spindle(_)
                | FlatAction::Coolant(_)
                | FlatAction::Stop(_) => self.before = None,
            }
        }
        if self.at == self.moves.len() {
            Ok(())
        } else {
            Err((0, format!("{} feed moves too many", self.moves.len() - self.at)))
        }
    }

    fn next(&mut self) -> Result<TracedMove, Wrong> {
        let found = self.moves.get(self.at).cloned().ok_or((0, "feed moves are missing".to_owned()))?;
        self.at += 1;
        Ok(found)
    }

    fn within(&self, what: &str, line: u32, off: f64, bound: Option<&Rational>) -> Result<(), Wrong> {
        let Some(bound) = bound else { return Ok(()) };
        let bound = bound.to_f64() + FLOATS;
        let rounded = if self.rounded { ", words rounded" } else { "" };
        if off.abs() <= bound {
            Ok(())
        } else {
            wrong(line, format!("{what} is off by {off}, bound {bound}{rounded}"))
        }
    }

    fn ends(&self, m: &TracedMove, from: Option<[f64; 3]>, to: [f64; 3]) -> Result<(), Wrong> {
        let bound = self.bounds.end_point.as_ref();
        // A feed move may begin where a rapid move has ended, which is rounded by itself.
        let half = &self.machine.resolution() / &Rational::from(2);
        let begin = bound.map(|b| b.clone().max(half));
        for ((made, wanted), name) in m.to.iter().zip(to).zip(["X", "Y", "Z"]) {
            self.within(name, m.line, made - wanted, bound)?;
        }
        self.within("a depth", m.line, height(m.to) - height(to), self.bounds.floor.as_ref())?;
        for (made, wanted) in m.from.iter().zip(from.into_iter().flatten()) {
            self.within("the start", m.line, made - wanted, begin.as_ref())?;
        }
        Ok(())
    }

    fn feed(&self, m: &TracedMove, feed: Option<&Value>) -> Result<(), Wrong> {
        let (Some(made), Some(wanted)) = (m.feed, feed.map(Value::to_f64)) else {
            return wrong(m.line, "no feed");
        };
        let half = 0.5 * 0.1_f64.powi(i32::try_from(self.machine.numbers.feed_decimals).unwrap_or(0));
        let bound = half * self.machine.unit().to_f64() + FLOATS;
        if (made - wanted).abs() <= bound {
            Ok(())
        } else {
            wrong(m.line, format!("feed {made}, not {wanted}"))
        }
    }

    fn line(&mut self, step: &FlatStep, feed: Option<&Value>) -> Result<(), Wrong> {
        let m = self.next()?;
        if m.kind != Kind::Line {
            return wrong(m.line, "no straight line");
        }
        let to = place(&step.end).ok_or((0, "an unknown end".to_owned()))?;
        self.before = None;
        self.ends(&m, place(&step.start), to)?;
        self.feed(&m, feed)
    }

    fn arc(
        &mut self,
        exact: Turned,
        (from, to): ([f64; 3], [f64; 3]),
        full: bool,
        feed: Option<&Value>,
    ) -> Result<(), Wrong> {
        let m = self.next()?;
        if full && m.turns.is_some_and(|t| t < 0.75) {
            // In two halves: the place between them is opposite.
            let [x, y] = exact.from;
            let [cx, cy] = exact.centre;
            let across = [2.0 * cx - x, 2.0 * cy - y];
            let [_, _, start] = from;
            let [ax, ay] = across;
            let middle = [ax, ay, f64::midpoint(start, height(to))];
            self.one(&m, Turned { to: across, ..exact }, (from, middle), feed)?;
            let m = self.next()?;
            return self.one(&m, Turned { from: across, ..exact }, (middle, to), feed);
        }
        if full != m.turns.is_some_and(|t| t > 0.999) {
            return wrong(m.line, "a full turn, or none");
        }
        self.one(&m, exact, (from, to), feed)
    }

    fn one(
        &mut self,
        m: &TracedMove,
        exact: Turned,
        (from, to): ([f64; 3], [f64; 3]),
        feed: Option<&Value>,
    ) -> Result<(), Wrong> {
        let (Some(centre), Some(ccw), Some("XY")) = (m.centre, m.ccw, m.plane) else {
            return wrong(m.line, "no arc in the plane");
        };
        let made = Turned { from: plane(m.from), to: plane(m.to), centre: plane(centre), ccw };
        if ccw != exact.ccw {
            return wrong(m.line, "the other way round");
        }
        self.ends(m, Some(from), to)?;
        self.feed(m, feed)?;
        let (start, end) = (made.radius(made.from), made.radius(made.to));
        self.within("the radius", m.line, start - end, self.bounds.arc_mismatch.as_ref())?;
        let radius = exact.radius(exact.from);
        let off = made.samples(exact).map(|r| (r - radius).abs()).fold(0.0, f64::max);
        self.within("the path", m.line, off, self.bounds.wall.as_ref())?;
        if let Some((made_before, exact_before)) = self.before {
            let met = |a: &Turned, b: &Turned| turn(b.heading(b.from) - a.heading(a.to));
            let off = turn(met(&made_before, &made) - met(&exact_before, &exact));
            self.within("the joint", m.line, off, self.bounds.joint.as_ref())?;
        }
        self.before = Some((made, exact));
        Ok(())
    }
}

impl Turned {
    /// Distances of points on the arc from the centre of another.
    fn samples(&self, other: Self) -> impl Iterator<Item = f64> {
        let (start, end) = (self.radius(self.from), self.radius(self.to));
        let angle = |[x, y]: [f64; 2]| {
            let [cx, cy] = self.centre;
            (y - cy).atan2(x - cx).to_degrees()
        };
        let (a, b) = (angle(self.from), angle(self.to));
        let sweep = if self.ccw { (b - a).rem_euclid(360.0) } else { -(a - b).rem_euclid(360.0) };
        let sweep = if sweep.abs() < 1e-9 { 360.0 } else { sweep };
        let [cx, cy] = self.centre;
        (0..=16).map(move |i| {
            let part = f64::from(i) / 16.0;
            let (r, at) = (start + (end - start) * part, (a + sweep * part).to_radians());
            apart([cx + r * at.cos(), cy + r * at.sin()], other.centre)
        })
    }
}
