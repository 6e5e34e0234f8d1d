//! What the numbers and variables of a text stand for: what it is compared by with its motion.

use std::collections::{BTreeMap, BTreeSet};

use borewright_base::Span;
use borewright_machine::Machine;
use borewright_motion::{Clause, Motion, Parameter, Requirement, Symbol};
use borewright_number::Rational;
use borewright_proof::{Interface, Tolerance};

use crate::{Arguments, Bounds, Settings, arcs, macros};

/// Of a macro.
pub(crate) struct MacroParts<'a> {
    pub(crate) variables: Vec<(Symbol, u32)>,
    /// The names of the centre's coordinates.
    pub(crate) centre: Option<(Symbol, Symbol)>,
    pub(crate) style: Arguments,
    /// Numbers of alarms, in the order of the guards, with the source of each.
    pub(crate) alarms: Vec<(u32, Option<Span>)>,
    /// The most that a guard allows for the control's rounding, in the machine's unit.
    pub(crate) slack: Option<Rational>,
    /// Requirements whose literals are rounded so that less is let in, in base units.
    pub(crate) narrowed: Vec<Requirement>,
    /// By which part a step of each counter may be longer than asked.
    pub(crate) longer: BTreeMap<Symbol, Rational>,
    /// By which part what is rounded up to a whole number may exceed it.
    pub(crate) fewer: Option<Rational>,
    /// Parameters that come as the number of a table's row.
    pub(crate) rows: BTreeSet<Symbol>,
    /// The height that a job travels at.
    pub(crate) travel: Option<Parameter>,
    pub(crate) settings: &'a Settings,
}

pub(crate) fn of_macro(motion: &Motion, machine: &Machine, parts: MacroParts<'_>) -> Interface {
    let variable = |s: &Symbol| parts.variables.iter().find(|(name, _)| name == s).map(|(_, v)| *v);
    let called = parts.style == Arguments::Letters;
    let centre = parts.centre.as_ref();
    let own = |s: &Symbol| centre.is_none_or(|(x, y)| s != x && s != y);
    let tolerance = Tolerance {
        // More than the slack itself: the decimals of pi in a text are not all of it.
        guard: parts.slack.map_or(Rational::ZERO, |slack| machine.millimetres(&slack) * percent(110)),
        counts: parts.longer,
        rounded_up: parts.fewer,
        ..Tolerance::default()
    };
    Interface {
        of: motion.span,
        variables: parts.variables.iter().filter(|(s, _)| own(s)).cloned().collect(),
        centre: centre.filter(|_| called).and_then(|(x, y)| Some([variable(x)?, variable(y)?])),
        called,
        values: parts.settings.values.clone(),
        reach: Some(['X', 'Y'].map(|axis| macros::farthest(machine, axis))),
        alarms: parts.alarms,
        demanded: demanded(motion, parts.travel.as_ref()),
        rows: parts.rows,
        narrowed: parts.narrowed,
        travel: parts.travel,
        wear: Vec::new(),
        tolerance,
    }
}

fn percent(n: i64) -> Rational {
    Rational::ratio(n, 100).unwrap_or(Rational::ONE)
}

/// The requirements that speak of the height at which a job travels.
fn demanded(motion: &Motion, travel: Option<&Parameter>) -> Vec<Requirement> {
    let own = |clause: &Clause| match clause {
        Clause::Require(r) => Some(r.clone()),
        Clause::Let(_) => None,
    };
    let speaks = |r: &Requirement| travel.is_some_and(|t| r.condition.symbols().contains(&t.symbol));
    motion.head.iter().filter_map(own).filter(speaks).collect()
}

/// Of plain blocks.
pub(crate) fn of_blocks(
    motion: &Motion,
    machine: &Machine,
    settings: &Settings,
    bounds: &Bounds,
) -> Interface {
    let tenth = |n: u32| Rational::from(10).pow(n as usize).recip().unwrap_or(Rational::ONE);
    let half = |n: u32| tenth(n) / Rational::from(2);
    let numbers = &machine.numbers;
    let tolerance = Tolerance {
        // The bound is that of feed moves; rapid moves are rounded as well.
        end: bounds.end_point.clone().unwrap_or(Rational::ZERO).max(half(numbers.decimals) * machine.unit()),
        // The centre is chosen among the steps near its exact place.
        centre: machine.resolution() * Rational::from(arcs::REACH + 1),
        feed: half(numbers.feed_decimals) * machine.unit(),
        speed: half(numbers.speed_decimals),
        dwell: tenth(numbers.dwell_decimals) / Rational::from(60),
        ..Tolerance::default()
    };
    Interface { of: motion.span, values: settings.values.clone(), tolerance, ..Interface::default() }
}
