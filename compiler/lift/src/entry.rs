//! Where a symbolic run begins: every state of the machine that the text can ask for, nothing known of the rest.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use borewright_base::Span;
use borewright_machine::Machine;
use borewright_motion::{Condition, Course, Ending, Entry, Expr, Joined, Lifted};
use borewright_runtime::code::Group;
use borewright_runtime::controller::{Controller, SystemValue};
use borewright_runtime::state::{Distance, Plane, Registers, Triple, Units};
use borewright_runtime::text::Body;

use crate::know::Bounds;
use crate::run::{Exit, How, Runner, feed_mode};
use crate::state::{COMPENSATION, Frame, Slot, State, is_local, named};
use crate::term::{Term, banned};
use crate::{Reason, Use};

/// How a text comes to run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Style {
    /// By a call with arguments; it returns to its caller.
    Called,
    /// By itself.
    Main,
}

/// Whether a symbolic run knows this value of the controller.
pub(crate) fn is_followed(value: SystemValue) -> bool {
    match value {
        // Compensation to the left and to the right are one mode to a step and two codes to a text.
        SystemValue::Mode(group) => group != Group::Compensation,
        SystemValue::Cycle
        | SystemValue::Feed
        | SystemValue::Speed
        | SystemValue::Tool
        | SystemValue::D
        | SystemValue::H
        | SystemValue::Position(_)
        | SystemValue::MachinePosition(_) => true,
        SystemValue::Sequence => false,
    }
}

/// All courses from all entries.
pub(crate) fn every(
    text: &str,
    bodies: Vec<&Body>,
    controller: &Controller,
    machine: &Machine,
    usage: &Use,
) -> Result<Lifted, Reason> {
    let mut lifted = Lifted {
        text: text.to_owned(),
        others: usage.with.clone(),
        courses: Vec::new(),
        joined: Vec::new(),
        needs: Vec::new(),
    };
    let Some(main) = bodies.first().copied() else {
        return Err(Reason::new(Span::default(), "there is no program in it".to_owned()));
    };
    for entry in entries(machine, usage.style) {
        let mut base = 0;
        // Again only where the same names would mean something else.
        let (exits, runner, start) = loop {
            let start = begin(controller, usage, entry);
            let mut runner = Runner {
                bodies: bodies.clone(),
                controller,
                joined: Vec::new(),
                needs: Vec::new(),
                serial: base,
                blocks: 0,
                depth: 0,
                open: Vec::new(),
                home_is_zero: machine.words.home.iter().any(|block| block.contains("G53")),
                compensation: machine.modes.compensation,
            };
            let exits = runner.run(main, 0..main.blocks.len(), start.clone())?;
            if !clashes(&lifted.joined, &runner.joined) {
                break (exits, runner, start);
            }
            base = base.max(runner.serial) + 10_000;
        };
        for exit in exits {
            lifted.courses.push(course(exit, entry, &start)?);
        }
        for joined in runner.joined {
            if !lifted.joined.contains(&joined) {
                lifted.joined.push(joined);
            }
        }
        for need in runner.needs {
            if !lifted.needs.contains(&need) {
                lifted.needs.push(need);
            }
        }
    }
    Ok(lifted)
}

fn clashes(known: &[Joined], new: &[Joined]) -> bool {
    new.iter().any(|n| known.iter().any(|k| k.symbol == n.symbol && k != n))
}

fn course(exit: Exit, entry: Entry, start: &State) -> Result<Course, Reason> {
    let end = match exit.how {
        How::Ended(end) => end,
        How::Reached(_) if exit.state.frames.iter().all(|f| !f.called) => Ending::End,
        How::Reached(_) => {
            return Err(Reason::new(exit.span, "a called program ends without going back".to_owned()));
        }
    };
    Ok(Course {
        entry,
        changed: changed(&start.registers, &exit.state.registers),
        state: exit.state.snapshot(),
        facts: exit.state.facts,
        acts: Arc::unwrap_or_clone(exit.state.acts),
        end,
        span: exit.span,
        written: exit.state.written,
    })
}

/// Every combination of modes that the text can read. A program that runs by itself sets what it needs.
fn entries(machine: &Machine, style: Style) -> Vec<Entry> {
    let modes = &machine.modes;
    let mut entries = vec![Entry::default()];
    if style == Style::Main {
        return entries;
    }
    let both = |variable: Option<u32>| match variable {
        Some(_) => vec![Some(false), Some(true)],
        None => vec![None],
    };
    let mut with = |values: Vec<Option<bool>>, put: fn(&mut Entry, Option<bool>)| {
        let each = |entry: &Entry| {
            let one = |value: &Option<bool>| {
                let mut entry = *entry;
                put(&mut entry, *value);
                entry
            };
            values.iter().map(one).collect::<Vec<_>>()
        };
        entries = entries.iter().flat_map(each).collect();
    };
    with(both(modes.units), |e, v| e.inch = v);
    with(both(modes.compensation), |e, v| e.compensation = v);
    with(both(modes.length), |e, v| e.length = v);
    with(both(modes.distance), |e, v| e.incremental = v);
    with(both(modes.feed_mode), |e, v| e.inverse_time = v);
    let planes = if modes.plane.is_some() { vec![Some(0), Some(1), Some(2)] } else { vec![None] };
    let each =
        |entry: &Entry| planes.iter().map(|plane| Entry { plane: *plane, ..*entry }).collect::<Vec<_>>();
    entries.iter().flat_map(each).collect()
}

fn begin(controller: &Controller, usage: &Use, entry: Entry) -> State {
    // What is no call's own is there before: the operator keeps it.
    let (slots, common): (BTreeMap<u32, Slot>, BTreeMap<u32, Slot>) = usage
        .arguments
        .iter()
        .map(|(variable, argument)| {
            let given = Condition::not_equal(Expr::symbol(&argument.given), Expr::zero());
            (*variable, Slot::Maybe { given, value: argument.value.clone() })
        })
        .partition(|(variable, _)| is_local(&controller.variables.local, *variable));
    let mut state = State {
        registers: registers(entry),
        frames: vec![Frame { slots, called: usage.style == Style::Called, vacant: false }],
        common,
        facts: Vec::new(),
        bounds: Bounds::default(),
        acts: Arc::default(),
        written: BTreeSet::new(),
        computed: false,
    };
    let code = || Expr::named(COMPENSATION);
    if entry.compensation == Some(true) {
        state.assume(Condition::at_least(code(), Expr::from(41)));
        state.assume(Condition::at_most(code(), Expr::from(42)));
    }
    state
}

fn registers(entry: Entry) -> Registers<Term> {
    let unknown = |what: &str| Some(Term(banned(&format!("the {what} that was active before"))));
    let units = |inch| if inch { Units::Inch } else { Units::Millimetre };
    let plane = |n| match n {
        0 => Plane::XY,
        1 => Plane::XZ,
        _ => Plane::YZ,
    };
    Registers {
        motion: None,
        plane: entry.plane.map(plane),
        distance: entry.incremental.map(|i| if i { Distance::Incremental } else { Distance::Absolute }),
        feed_mode: entry.inverse_time.map(feed_mode),
        units: entry.inch.map(units),
        return_level: None,
        path_control: None,
        work: None,
        length_offset: entry.length,
        compensation: entry.compensation,
        compensated: None,
        feed: unknown("feed"),
        speed: unknown("speed"),
        spindle: None,
        mist: None,
        flood: None,
        overrides: None,
        selected: unknown("tool number"),
        tool: unknown("tool"),
        d: unknown("D number"),
        h: unknown("H number"),
        position: named("entry"),
        origin: named("origin"),
        shift: Triple::from_axes(|_| Term(Expr::zero())),
        length: Term(Expr::named("length")),
        sequence: None,
    }
}

/// Modes that differ. The motion mode and the feed are no caller's to rely on: every move states them anew.
fn changed(a: &Registers<Term>, b: &Registers<Term>) -> BTreeSet<&'static str> {
    [
        ("plane", a.plane != b.plane),
        ("absolute or incremental", a.distance != b.distance),
        ("feed mode", a.feed_mode != b.feed_mode),
        ("units", a.units != b.units),
        ("return level", a.return_level != b.return_level),
        ("path control", a.path_control != b.path_control),
        ("work offset", a.work != b.work || a.origin != b.origin || a.shift != b.shift),
        ("length offset", a.length_offset != b.length_offset || a.length != b.length || a.h != b.h),
        ("cutter compensation", a.compensation != b.compensation || a.d != b.d),
        ("spindle", a.spindle != b.spindle || a.speed != b.speed),
        ("coolant", (a.mist, a.flood) != (b.mist, b.flood)),
        ("overrides", a.overrides != b.overrides),
        ("tool", a.tool != b.tool || a.selected != b.selected),
    ]
    .into_iter()
    .filter_map(|(name, differs)| differs.then_some(name))
    .collect()
}
