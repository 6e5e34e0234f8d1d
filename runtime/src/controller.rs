//! What a controller does in its own way: the options of the virtual controller.

mod from_machine;
mod known;

use std::collections::{BTreeMap, BTreeSet};
use std::ops::RangeInclusive;

use crate::code::{Group, Miscellaneous, Preparatory};
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
    /// What the time after G4 means.
    pub dwell: DwellUnit,
    /// Letter of the time after G4.
    pub dwell_letter: char,
    /// What I, J and K are measured from.
    pub arc_centre: ArcCentre,
    /// Largest difference between the radii at the start and at the end of an arc.
    pub arc_tolerance: ByUnit<Number>,
    /// An arc with a smaller radius is refused.
    pub smallest_arc: ByUnit<Number>,
    /// An arc block with a centre and no end point is a full circle.
    pub circle_without_end: bool,
    /// A full circle may be one block.
    pub full_circles: bool,
    /// An arc may move along the third axis too.
    pub helices: bool,
    /// The greatest length, either sign, that a word or a variable may hold.
    pub greatest: Option<Number>,
    /// The greatest number, either sign, that a variable may hold; where nothing is said, as in a word.
    pub greatest_variable: Option<Number>,
    /// G28 and G30 move only the axes they name (else all).
    pub home_named_axes: bool,
    /// Where G28 goes, in machine coordinates, unless variables say it. The run begins there.
    pub home: Triple<Number>,
    /// First variable of the home position, for controllers that keep it there.
    pub home_variable: Option<u32>,
    /// Which way FIX and FUP go for negative numbers.
    pub fix: Fix,
    /// What ATAN gives in the third and fourth quadrant.
    pub atan: AtanRange,
    /// Cutter radius compensation, where it is modelled.
    pub compensation: Option<Compensation>,
    /// Variables.
    pub variables: Variables,
    /// Letter of the count of repeats in a call.
    pub repeat_letter: char,
    /// Letters of a macro call and the local variables they fill.
    pub call_letters: BTreeMap<char, u32>,
    /// Calls in one another.
    pub call_depth: usize,
    /// Rapid rate along each axis, in the power-up units a minute; `None` when not known.
    pub rapid_rate: Option<f64>,
    /// Time of a tool change in seconds, when known.
    pub tool_change_seconds: f64,
    /// G codes (times ten) with another meaning than in NISTIR 6556, or none there.
    pub codes: BTreeMap<i64, Preparatory>,
    /// M codes with another meaning than in NISTIR 6556, or none there.
    pub miscellaneous: BTreeMap<i64, Miscellaneous>,
    /// G codes (times ten) that do nothing here.
    pub ignored_codes: BTreeSet<i64>,
}

impl Controller {
    /// The meaning of a G code, given ten times its number.
    #[must_use]
    pub fn preparatory(&self, tenths: i64) -> Option<Preparatory> {
        self.codes.get(&tenths).copied().or_else(|| Preparatory::from_tenths(tenths))
    }

    /// The meaning of an M code.
    #[must_use]
    pub fn miscellaneous(&self, number: i64) -> Option<Miscellaneous> {
        self.miscellaneous.get(&number).copied().or_else(|| Miscellaneous::from_number(number))
    }
}

/// How cutter radius compensation works.
#[derive(Debug, Clone, PartialEq)]
pub struct Compensation {
    /// Letter of the number of the offset.
    pub letter: char,
    /// The offset is a diameter (else a radius).
    pub diameter: bool,
    /// Variables in which programs read the offsets, from that of offset 1.
    pub values: Option<RangeInclusive<u32>>,
    /// The greatest offset, either sign.
    pub greatest: ByUnit<Number>,
    /// The first move ends where the centre is square to its own way beside the programmed end; else square to the
    /// programmed line.
    pub tangent_entry: bool,
    /// The centre goes around outside corners on an arc; else they are refused.
    pub corner_arcs: bool,
    /// Without a number the offset is that of the tool in the spindle.
    pub spindle_tool: bool,
    /// Blocks without a way in X or Y that may stand between two compensated moves.
    pub look_ahead: u32,
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
    /// Variables and brackets.
    pub expressions: bool,
    /// Functions; `None` for all.
    pub functions: Option<Vec<String>>,
    /// Brackets in one another.
    pub bracket_depth: Option<u32>,
    /// Operators outside brackets, signs before variables, ATAN with one argument.
    pub loose_expressions: bool,
    /// What AND, OR and XOR may join.
    pub logic: Logic,
    /// `IF [..] GOTO` and `GOTO`.
    pub if_goto: bool,
    /// `IF [..] THEN`.
    pub if_then: bool,
    /// `WHILE [..] DO` and `END`.
    pub while_do: bool,
    /// WHILE loops in one another.
    pub loop_depth: usize,
    /// G65.
    pub macro_calls: bool,
    /// M98 and M99.
    pub subprograms: bool,
    /// O numbers.
    pub program_numbers: bool,
    /// A file ends with M2 or M30, or stands between two lines with %.
    pub marked_end: bool,
    /// G0 to G3 without axis words is an error (else it only sets the mode).
    pub motion_needs_axes: bool,
}

/// What AND, OR and XOR may join.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Logic {
    /// They rank with + and - and take every number but 0 for true (NISTIR 6556, section 3.3.2.3).
    Numbers,
    /// Comparisons and truth values in brackets; on the rest dialects differ.
    Comparisons,
}

/// What a length written without a decimal point means.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Pointless {
    /// The number itself.
    AsWritten,
    /// That many smallest increments: 0.001 mm for 3 decimals.
    Increments(ByUnit<u32>),
}

/// What the time after G4 means.
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
    /// Variables of which each macro call has its own.
    pub local: Vec<RangeInclusive<u32>>,
    /// Variables that a program may set, the local ones among them.
    pub writable: Vec<RangeInclusive<u32>>,
    /// Variables beside those that a program may only read; 0 when nothing set them.
    pub readable: Vec<RangeInclusive<u32>>,
    /// Values before the program starts.
    pub presets: BTreeMap<u32, Number>,
    /// Variables that show the controller's state.
    pub system: BTreeMap<u32, SystemValue>,
    /// First variable of the origins of G54, then 20 further for each system.
    pub work_offsets: u32,
    /// First variable of the shift by G92, where programs can see it.
    pub shift: Option<u32>,
    /// Variable with the number of the active work offset.
    pub active_offset: Option<u32>,
    /// Setting it raises an alarm.
    pub alarm: Option<u32>,
    /// Setting it stops the program with a message.
    pub stop: Option<u32>,
}

impl Variables {
    /// Variable of an axis of a work offset (1 to 9).
    #[must_use]
    pub fn work_offset(&self, system: u8, axis: Axis) -> u32 {
        let along = match axis {
            Axis::X => 0,
            Axis::Y => 1,
            Axis::Z => 2,
        };
        self.work_offsets + 20 * (u32::from(system).saturating_sub(1)) + along
    }
}

/// What a system variable shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SystemValue {
    /// The active code of a modal group: 1 for G1, 17 for G17.
    Mode(Group),
    /// 80: no canned cycle is active, since none is modelled.
    Cycle,
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
