//! What a controller does in its own way: the options of the virtual controller.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::RangeInclusive;

use crate::code::Group;
use crate::state::{Axis, Triple, Units};
use crate::text::Number;

/// One value for each unit of length.
#[derive(Debug, Clone, Copy, PartialEq)]
#[allow(missing_docs, reason = "the names say it")]
pub struct ByUnit<T> {
    pub millimetre: T,
    pub inch: T,
}

impl<T: Copy> ByUnit<T> {
    /// The one for `units`.
    pub fn of(&self, units: Units) -> T {
        match units {
            Units::Millimetre => self.millimetre,
            Units::Inch => self.inch,
        }
    }
}

/// Options of the virtual controller.
#[derive(Debug, Clone, PartialEq)]
pub struct Controller {
    /// For messages.
    pub name: String,
    /// Units at power-up; home, tool lengths and rapid rate are in them.
    pub units: Units,
    /// What its text may contain.
    pub dialect: Dialect,
    /// What a length without a decimal point means.
    pub pointless: Pointless,
    /// What P of G4 means.
    pub dwell: DwellUnit,
    /// What I, J and K are measured from.
    pub arc_centre: ArcCentre,
    /// Largest difference between the radii at the start and at the end of an arc.
    pub arc_tolerance: ByUnit<Number>,
    /// An arc with a smaller radius is refused.
    pub smallest_arc: ByUnit<Number>,
    /// An arc block with a centre and no end point is a full circle.
    pub circle_without_end: bool,
    /// G28 and G30 move only the axes they name (else all).
    pub home_named_axes: bool,
    /// Where G28 goes, in machine coordinates, unless variables say it.
    pub home: Triple<Number>,
    /// First variable of the home position, for controllers that keep it there.
    pub home_variable: Option<u32>,
    /// Which way FIX and FUP go for negative numbers.
    pub fix: Fix,
    /// What ATAN gives in the third and fourth quadrant.
    pub atan: AtanRange,
    /// Variables.
    pub variables: Variables,
    /// Letters of a macro call and the local variables they fill.
    pub call_letters: BTreeMap<char, u32>,
    /// Calls in one another.
    pub call_depth: usize,
    /// Rapid rate along each axis, in the power-up units a minute; `None` when not known.
    pub rapid_rate: Option<f64>,
    /// G codes (times ten) that do nothing here.
    pub ignored_codes: BTreeSet<i64>,
}

/// What a text may contain.
#[derive(Debug, Clone, PartialEq)]
pub struct Dialect {
    /// Characters in a line.
    pub line_limit: Option<usize>,
    /// Digits of an N number.
    pub sequence_digits: Option<u32>,
    /// Letters that may begin a word.
    pub letters: &'static str,
    /// `IF`, `WHILE`, `GOTO` and comparisons.
    pub flow: bool,
    /// G65, M98, M99 and O numbers.
    pub calls: bool,
    /// WHILE loops in one another.
    pub loop_depth: usize,
    /// Operators outside brackets, signs before variables, ATAN with one argument.
    pub loose_expressions: bool,
    /// AND, OR, XOR rank with + and - and take every number but 0 for true (NISTIR 6556, section 3.3.2.3). Where
    /// false, they join only comparisons in brackets, since dialects differ on the rest.
    pub plain_logic: bool,
    /// A file ends with M2 or M30, or stands between two lines with %.
    pub marked_end: bool,
    /// G0 to G3 without axis words is an error (else it only sets the mode).
    pub motion_needs_axes: bool,
}

/// What a length written without a decimal point means.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Pointless {
    /// The number itself.
    AsWritten,
    /// That many smallest increments: 0.001 mm for 3 decimals.
    Increments(ByUnit<u32>),
}

/// What P of G4 means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs, reason = "the names say it")]
pub enum DwellUnit {
    Seconds,
    Milliseconds,
}

/// What I, J and K are measured from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ArcCentre {
    /// The start of the arc.
    FromStart,
    /// The origin of the program's coordinates.
    Absolute,
}

/// Which way FIX goes for negative numbers; FUP goes the other way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fix {
    /// FIX[-2.8] is -3 (NISTIR 6556, section 3.3.2.4).
    Down,
    /// FIX[-2.8] is -2 (common practice of macro dialects, no source).
    TowardsZero,
}

/// The range of ATAN.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AtanRange {
    /// -180 to 180 degrees.
    Signed,
    /// 0 to 360 degrees.
    Positive,
}

/// Which variables there are and what they mean.
#[derive(Debug, Clone, PartialEq)]
pub struct Variables {
    /// A variable that was never set is vacant (else it is 0).
    pub vacant: bool,
    /// Highest number.
    pub highest: u32,
    /// Variables of which each macro call has its own.
    pub local: Option<RangeInclusive<u32>>,
    /// Variables that a program may set.
    pub writable: Vec<RangeInclusive<u32>>,
    /// Values before the program starts.
    pub presets: BTreeMap<u32, f64>,
    /// Variables that show the controller's state.
    pub system: BTreeMap<u32, SystemValue>,
    /// First variable of the origins of G54, then 20 further for each system.
    pub work_offsets: Option<u32>,
    /// First variable of the shift by G92.
    pub shift: Option<u32>,
    /// Variable with the number of the active work offset.
    pub active_offset: Option<u32>,
    /// Setting it raises an alarm.
    pub alarm: Option<u32>,
    /// Setting it stops the program with a message.
    pub stop: Option<u32>,
}

/// What a system variable shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SystemValue {
    /// The active code of a modal group: 1 for G1, 17 for G17.
    Mode(Group),
    /// Last F.
    Feed,
    /// Last S.
    Speed,
    /// Last T.
    Tool,
    /// Last D.
    D,
    /// Last H.
    H,
    /// Last N number.
    Sequence,
    /// End of the last block in work coordinates.
    Position(Axis),
    /// The same in machine coordinates.
    MachinePosition(Axis),
}

const fn decimal(mantissa: i64, decimals: u32, float: f64) -> Number {
    Number { mantissa, decimals, point: true, float }
}

/// NISTIR 6556 gives no number; the reference interpreter's constants, from memory.
const ARC_TOLERANCE: ByUnit<Number> =
    ByUnit { millimetre: decimal(2, 3, 0.002), inch: decimal(2, 4, 0.0002) };
const NO_LENGTH: ByUnit<Number> = ByUnit { millimetre: Number::whole(0), inch: Number::whole(0) };

impl Controller {
    /// A controller for numbered-variable macros as most shops know it: common practice, no source.
    #[must_use]
    pub fn generic(units: Units) -> Self {
        let height = match units {
            Units::Millimetre => Number::whole(500),
            Units::Inch => Number::whole(20),
        };
        Self {
            name: "generic macro controller".to_owned(),
            units,
            dialect: Dialect {
                line_limit: None,
                sequence_digits: None,
                letters: "ABCDEFGHIJKLMNOPQRSTUVWXYZ",
                flow: true,
                calls: true,
                loop_depth: 3,
                loose_expressions: true,
                plain_logic: false,
                marked_end: false,
                motion_needs_axes: false,
            },
            pointless: Pointless::AsWritten,
            dwell: DwellUnit::Seconds,
            arc_centre: ArcCentre::FromStart,
            arc_tolerance: ARC_TOLERANCE,
            smallest_arc: NO_LENGTH,
            circle_without_end: true,
            home_named_axes: true,
            home: Triple::new(Number::whole(0), Number::whole(0), height),
            home_variable: None,
            fix: Fix::TowardsZero,
            atan: AtanRange::Signed,
            variables: Variables::generic(),
            call_letters: generic_call_letters(),
            call_depth: 4,
            rapid_rate: None,
            ignored_codes: BTreeSet::new(),
        }
    }

    /// The RS274/NGC language as NISTIR 6556 defines it: variables and expressions, but no comparisons, no flow
    /// control and no calls.
    #[must_use]
    pub fn nistir_6556() -> Self {
        let zero = Triple::new(Number::whole(0), Number::whole(0), Number::whole(0));
        Self {
            name: "RS274/NGC (NISTIR 6556)".to_owned(),
            dialect: Dialect {
                line_limit: Some(256),
                sequence_digits: Some(5),
                letters: "ABCDFGHIJKLMNPQRSTXYZ",
                flow: false,
                calls: false,
                loop_depth: 0,
                loose_expressions: false,
                plain_logic: true,
                marked_end: true,
                motion_needs_axes: true,
            },
            circle_without_end: false,
            home_named_axes: false,
            home: zero,
            home_variable: Some(5161),
            fix: Fix::Down,
            variables: Variables::nistir_6556(),
            call_letters: BTreeMap::new(),
            call_depth: 0,
            ..Self::generic(Units::Inch)
        }
    }
}

impl Variables {
    fn generic() -> Self {
        Self {
            vacant: true,
            highest: 9999,
            local: Some(1..=33),
            writable: vec![1..=33, 100..=199, 500..=999],
            presets: BTreeMap::new(),
            system: generic_system_variables(),
            work_offsets: Some(5221),
            shift: None,
            active_offset: None,
            alarm: Some(3000),
            stop: Some(3006),
        }
    }

    fn nistir_6556() -> Self {
        Self {
            vacant: false,
            highest: 5399,
            local: None,
            writable: std::iter::once(1..=5399).collect(),
            presets: BTreeMap::from([(5220, 1.0)]),
            system: BTreeMap::new(),
            work_offsets: Some(5221),
            shift: Some(5211),
            active_offset: Some(5220),
            alarm: None,
            stop: None,
        }
    }
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
