//! From a machine file to the options of the virtual controller.
//!
//! What a machine file does not say keeps the value of [`Controller::generic`]. Its arithmetic precision is not
//! played here: runs use floats, and proofs of text account for the rest.

use std::collections::BTreeMap;
use std::ops::RangeInclusive;

use borewright_machine::{Centre, Decimal, Entry, Machine, MissingPoint, OutsideCorners, Range, Wear};

use super::known::work_heights;
use super::{
    ArcCentre, ByUnit, Compensation, Controller, Dialect, Fix, Logic, Pointless, SystemValue, Variables,
};
use crate::code::{Group, Miscellaneous, Preparatory};
use crate::state::{Coolant, Side, Units};
use crate::text::Number;

impl From<&Machine> for Controller {
    fn from(machine: &Machine) -> Self {
        let units = if machine.inch() { Units::Inch } else { Units::Millimetre };
        let by_unit = |length: &Decimal| lengths(length, units);
        Self {
            name: machine.name.clone(),
            dialect: dialect(machine),
            pointless: match machine.numbers.missing_point {
                MissingPoint::Units => Pointless::AsWritten,
                MissingPoint::Increments => Pointless::Increments(increments(machine, units)),
            },
            dwell_letter: machine.words.dwell_letter,
            arc_centre: match machine.arcs.centre {
                Centre::Incremental => ArcCentre::FromStart,
                Centre::Absolute => ArcCentre::Absolute,
            },
            arc_tolerance: by_unit(&machine.arcs.tolerance),
            smallest_arc: by_unit(&machine.arcs.smallest_radius),
            full_circles: machine.arcs.full_circle,
            helices: machine.arcs.helical,
            greatest: Some(number(&machine.numbers.greatest)),
            greatest_variable: machine.numbers.greatest_variable.as_ref().map(number),
            fix: if machine.expressions.fix_toward_zero { Fix::TowardsZero } else { Fix::Down },
            variables: variables(machine, units),
            compensation: machine.compensation.as_ref().map(|c| compensation(c, units)),
            repeat_letter: machine.calls.repeat_letter.unwrap_or('L'),
            call_letters: machine.calls.letters.clone(),
            call_depth: usize::try_from(machine.calls.nesting).unwrap_or(usize::MAX),
            rapid_rate: Some(machine.axes.rapid.to_f64()),
            tool_change_seconds: machine.axes.tool_change.to_f64(),
            codes: codes(machine),
            miscellaneous: miscellaneous(machine),
            ..Self::generic(units)
        }
    }
}

fn compensation(c: &borewright_machine::Compensation, units: Units) -> Compensation {
    Compensation {
        letter: c.letter,
        diameter: c.holds == Wear::Diameter,
        values: c.values.map(|Range(first, last)| first..=last),
        greatest: lengths(&c.greatest, units),
        tangent_entry: c.entry == Entry::Tangent,
        corner_arcs: c.outside_corners == OutsideCorners::Arc,
        spindle_tool: c.spindle_tool,
        look_ahead: c.look_ahead,
    }
}

fn dialect(machine: &Machine) -> Dialect {
    let flow = &machine.flow;
    let calls = &machine.calls;
    Dialect {
        line_limit: Some(256),
        expressions: machine.expressions.available,
        functions: Some(machine.expressions.functions.clone()),
        bracket_depth: Some(machine.expressions.nesting),
        // A machine without tests speaks the language of NISTIR 6556, if it has expressions at all.
        loose_expressions: flow.if_goto,
        logic: Logic::Comparisons,
        if_goto: flow.if_goto,
        if_then: flow.if_then,
        while_do: flow.while_do,
        loop_depth: usize::try_from(flow.loop_nesting).unwrap_or(usize::MAX),
        macro_calls: calls.macro_call.is_some(),
        subprograms: calls.subprogram.is_some(),
        program_numbers: machine.programs.letter.is_some(),
        ..Controller::generic(Units::Millimetre).dialect
    }
}

fn variables(machine: &Machine, units: Units) -> Variables {
    Variables {
        vacant: machine.variables.vacant,
        local: ranges(&machine.variables.local),
        writable: ranges(&machine.variables.writable),
        presets: work_heights(units),
        system: modes(machine),
        readable: readable(machine, units),
        alarm: machine.alarms.variable,
        stop: None,
        ..Variables::generic(units)
    }
}

/// What programs only read: the usual ones, and those with the cutter offsets.
fn readable(machine: &Machine, units: Units) -> Vec<RangeInclusive<u32>> {
    let offsets = machine.compensation.as_ref().and_then(|c| c.values);
    let offsets = offsets.map(|Range(first, last)| first..=last);
    Variables::generic(units).readable.into_iter().chain(offsets).collect()
}

fn ranges(ranges: &[Range]) -> Vec<RangeInclusive<u32>> {
    ranges.iter().map(|range| range.0..=range.1).collect()
}

fn modes(machine: &Machine) -> BTreeMap<u32, SystemValue> {
    let modes = &machine.modes;
    [
        (modes.motion, SystemValue::Mode(Group::Motion)),
        (modes.plane, SystemValue::Mode(Group::Plane)),
        (modes.distance, SystemValue::Mode(Group::Distance)),
        (modes.feed_mode, SystemValue::Mode(Group::FeedMode)),
        (modes.units, SystemValue::Mode(Group::Units)),
        (modes.compensation, SystemValue::Mode(Group::Compensation)),
        (modes.length, SystemValue::Mode(Group::LengthOffset)),
        (modes.cycle, SystemValue::Cycle),
        (modes.feed, SystemValue::Feed),
        (modes.speed, SystemValue::Speed),
    ]
    .into_iter()
    .filter_map(|(variable, value)| Some((variable?, value)))
    .collect()
}

/// Codes that the machine file writes in its own way.
fn codes(machine: &Machine) -> BTreeMap<i64, Preparatory> {
    let words = &machine.words;
    let sides = machine.compensation.as_ref();
    let own = [
        (Some(words.metric.as_str()), Preparatory::Units(Units::Millimetre)),
        (Some(words.inch.as_str()), Preparatory::Units(Units::Inch)),
        (Some(words.length_on.as_str()), Preparatory::LengthOn),
        (machine.calls.macro_call.as_deref(), Preparatory::Call),
        (sides.map(|c| c.left.as_str()), Preparatory::Compensation(Side::Left)),
        (sides.map(|c| c.right.as_str()), Preparatory::Compensation(Side::Right)),
        (sides.map(|c| c.off.as_str()), Preparatory::CompensationOff),
    ];
    let offsets = words
        .work_offsets
        .iter()
        .zip(1..)
        .map(|(word, system)| (Some(word.as_str()), Preparatory::WorkOffset(system)));
    own.into_iter().chain(offsets).filter_map(|(word, code)| Some((tenths(word?, 'G')?, code))).collect()
}

fn miscellaneous(machine: &Machine) -> BTreeMap<i64, Miscellaneous> {
    [
        (Some(machine.words.mist.as_str()), Miscellaneous::Coolant(Coolant::Mist)),
        (Some(machine.words.tool_change.as_str()), Miscellaneous::ToolChange),
        (machine.calls.subprogram.as_deref(), Miscellaneous::CallSubprogram),
        (machine.calls.back.as_deref(), Miscellaneous::Return),
    ]
    .into_iter()
    .filter_map(|(word, code)| Some((tenths(word?, 'M')? / 10, code)))
    .collect()
}

/// Ten times the number of a word such as `G59.1`.
fn tenths(word: &str, letter: char) -> Option<i64> {
    let number = word.trim().strip_prefix(letter)?;
    let (whole, part) = number.split_once('.').unwrap_or((number, "0"));
    Some(whole.parse::<i64>().ok()? * 10 + part.parse::<i64>().ok().filter(|p| (0..10).contains(p))?)
}

fn number(value: &Decimal) -> Number {
    // Machine files hold decimals, so an exact decimal text always exists.
    value.exact_decimal().and_then(|text| Number::parse(&text)).unwrap_or(Number::whole(0))
}

/// A length of the machine file; programs in the other units meet the same length in theirs.
fn lengths(length: &Decimal, units: Units) -> ByUnit<Number> {
    let own = number(length);
    let inch = borewright_number::Unit::Inch.factor();
    match units {
        Units::Millimetre => {
            // Shown to nine decimals: far below any tolerance.
            let other = (&**length / &inch).decimal_text(9);
            ByUnit { millimetre: own, inch: Number::parse(&other).unwrap_or(own) }
        }
        Units::Inch => {
            let other = (&**length * &inch).decimal_text(9);
            ByUnit { millimetre: Number::parse(&other).unwrap_or(own), inch: own }
        }
    }
}

/// The other units have one decimal more or less: 0.001 mm and 0.0001 in.
fn increments(machine: &Machine, units: Units) -> ByUnit<u32> {
    let decimals = machine.numbers.decimals;
    match units {
        Units::Millimetre => ByUnit { millimetre: decimals, inch: decimals + 1 },
        Units::Inch => ByUnit { millimetre: decimals.saturating_sub(1), inch: decimals },
    }
}
