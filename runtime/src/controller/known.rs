//! Two controllers that need no machine file.

use std::collections::{BTreeMap, BTreeSet};

use super::{
    ArcCentre, AtanRange, ByUnit, Compensation, Controller, Dialect, DwellUnit, Fix, Logic, Pointless,
    SystemValue, Variables,
};
use crate::code::Group;
use crate::state::{Axis, Triple, Units};
use crate::text::Number;

const fn decimal(mantissa: i64, decimals: u32, float: f64) -> Number {
    Number { mantissa, decimals, point: true, float }
}

/// NISTIR 6556 gives no number; the reference interpreter's constants, from memory.
const ARC_TOLERANCE: ByUnit<Number> =
    ByUnit { millimetre: decimal(2, 3, 0.002), inch: decimal(2, 4, 0.0002) };
const NO_LENGTH: ByUnit<Number> = ByUnit { millimetre: Number::whole(0), inch: Number::whole(0) };
const HOME: Triple<Number> = Triple::new(Number::whole(0), Number::whole(0), Number::whole(0));

impl Controller {
    /// A controller for numbered-variable macros as most shops know it: common practice, no source.
    #[must_use]
    pub fn generic(units: Units) -> Self {
        Self {
            name: "generic macro controller".to_owned(),
            units,
            dialect: Dialect::generic(),
            pointless: Pointless::AsWritten,
            dwell: DwellUnit::Seconds,
            dwell_letter: 'P',
            arc_centre: ArcCentre::FromStart,
            arc_tolerance: ARC_TOLERANCE,
            smallest_arc: NO_LENGTH,
            circle_without_end: true,
            full_circles: true,
            helices: true,
            greatest: None,
            greatest_variable: None,
            home_named_axes: true,
            home: HOME,
            home_variable: None,
            fix: Fix::TowardsZero,
            atan: AtanRange::Signed,
            variables: Variables::generic(units),
            repeat_letter: 'L',
            call_letters: generic_call_letters(),
            call_depth: 4,
            rapid_rate: None,
            tool_change_seconds: 0.0,
            compensation: None,
            codes: BTreeMap::new(),
            miscellaneous: BTreeMap::new(),
            ignored_codes: BTreeSet::new(),
        }
    }

    /// The RS274/NGC language as NISTIR 6556 defines it: variables and expressions, but no comparisons, no flow
    /// control and no calls.
    #[must_use]
    pub fn nistir_6556() -> Self {
        Self {
            name: "RS274/NGC (NISTIR 6556)".to_owned(),
            dialect: Dialect::nistir_6556(),
            circle_without_end: false,
            home_named_axes: false,
            home_variable: Some(5161),
            fix: Fix::Down,
            variables: Variables::nistir_6556(),
            compensation: Some(Compensation::nistir_6556()),
            call_letters: BTreeMap::new(),
            call_depth: 0,
            ..Self::generic(Units::Inch)
        }
    }
}

impl Compensation {
    /// NISTIR 6556, section 3.5.10 and appendix B. The tangent entry, the arcs at outside corners and the tool in the
    /// spindle are the reference interpreter's, from memory; the greatest offset is our choice.
    fn nistir_6556() -> Self {
        Self {
            letter: 'D',
            diameter: true,
            values: None,
            greatest: ByUnit { millimetre: Number::whole(100), inch: Number::whole(4) },
            tangent_entry: true,
            corner_arcs: true,
            spindle_tool: true,
            look_ahead: u32::MAX,
        }
    }
}

impl Dialect {
    fn generic() -> Self {
        Self {
            line_limit: None,
            sequence_digits: None,
            letters: "ABCDEFGHIJKLMNOPQRSTUVWXYZ",
            expressions: true,
            functions: None,
            bracket_depth: None,
            loose_expressions: true,
            logic: Logic::Comparisons,
            if_goto: true,
            if_then: true,
            while_do: true,
            loop_depth: 3,
            macro_calls: true,
            subprograms: true,
            program_numbers: true,
            marked_end: false,
            motion_needs_axes: false,
        }
    }

    fn nistir_6556() -> Self {
        Self {
            line_limit: Some(256),
            sequence_digits: Some(5),
            letters: "ABCDFGHIJKLMNPQRSTXYZ",
            expressions: true,
            functions: None,
            bracket_depth: None,
            loose_expressions: false,
            logic: Logic::Numbers,
            if_goto: false,
            if_then: false,
            while_do: false,
            loop_depth: 0,
            macro_calls: false,
            subprograms: false,
            program_numbers: false,
            marked_end: true,
            motion_needs_axes: true,
        }
    }
}

impl Variables {
    pub(super) fn generic(units: Units) -> Self {
        Self {
            vacant: true,
            local: std::iter::once(1..=33).collect(),
            writable: vec![1..=33, 100..=199, 500..=999],
            readable: std::iter::once(5201..=5400).collect(),
            presets: work_heights(units),
            system: generic_system_variables(),
            work_offsets: 5221,
            shift: None,
            active_offset: None,
            alarm: Some(3000),
            stop: Some(3006),
        }
    }

    fn nistir_6556() -> Self {
        Self {
            vacant: false,
            local: Vec::new(),
            writable: std::iter::once(1..=5399).collect(),
            readable: Vec::new(),
            presets: BTreeMap::from([(5220, Number::whole(1))]),
            system: BTreeMap::new(),
            work_offsets: 5221,
            shift: Some(5211),
            active_offset: Some(5220),
            alarm: None,
            stop: None,
        }
    }
}

/// The work lies well below the machine's home, as on a real machine: else a move home would look like one down
/// to the work. 500 mm or 20 in are our choice.
pub(super) fn work_heights(units: Units) -> BTreeMap<u32, Number> {
    let height = match units {
        Units::Millimetre => Number::whole(-500),
        Units::Inch => Number::whole(-20),
    };
    (0..9).map(|system| (5223 + 20 * system, height)).collect()
}

/// Common practice of macro dialects, no source.
fn generic_call_letters() -> BTreeMap<char, u32> {
    BTreeMap::from([
        ('A', 1),
        ('B', 2),
        ('C', 3),
        ('D', 7),
        ('E', 8),
        ('F', 9),
        ('H', 11),
        ('I', 4),
        ('J', 5),
        ('K', 6),
        ('M', 13),
        ('Q', 17),
        ('R', 18),
        ('S', 19),
        ('T', 20),
        ('U', 21),
        ('V', 22),
        ('W', 23),
        ('X', 24),
        ('Y', 25),
        ('Z', 26),
    ])
}

/// Common practice of macro dialects, no source.
fn generic_system_variables() -> BTreeMap<u32, SystemValue> {
    let modes = [
        (4001, Group::Motion),
        (4002, Group::Plane),
        (4003, Group::Distance),
        (4005, Group::FeedMode),
        (4006, Group::Units),
        (4007, Group::Compensation),
        (4008, Group::LengthOffset),
        (4010, Group::ReturnLevel),
        (4014, Group::WorkOffset),
    ];
    let words = [
        (4009, SystemValue::Cycle),
        (4107, SystemValue::D),
        (4109, SystemValue::Feed),
        (4111, SystemValue::H),
        (4114, SystemValue::Sequence),
        (4119, SystemValue::Speed),
        (4120, SystemValue::Tool),
    ];
    let axes = (0..).zip(Axis::ALL);
    modes
        .into_iter()
        .map(|(n, group)| (n, SystemValue::Mode(group)))
        .chain(words)
        .chain(axes.clone().map(|(n, axis)| (5001 + n, SystemValue::Position(axis))))
        .chain(axes.clone().map(|(n, axis)| (5021 + n, SystemValue::MachinePosition(axis))))
        .chain(axes.map(|(n, axis)| (5041 + n, SystemValue::Position(axis))))
        .collect()
}
