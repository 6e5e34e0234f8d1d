//! What a machine file can say. Every field has a careful default: what a file leaves out, the machine is
//! not trusted with.
//!
//! Lengths are in the machine's own unit; [`Machine::millimetres`] brings them to mm.

use std::collections::BTreeMap;

use borewright_number::{Rational, Unit};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::{Compensation, Decimal};

/// A controller and the machine it drives, as far as programs depend on them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Machine {
    /// A short name, for headers and messages.
    pub name: String,
    /// What it is, in one line.
    pub summary: String,
    /// The built-in machine whose fields hold where this file says nothing.
    pub like: Option<String>,
    /// The unit of lengths in its programs and in this file.
    pub units: Units,
    /// How numbers are written and kept.
    pub numbers: Numbers,
    /// What it accepts as an arc.
    pub arcs: Arcs,
    /// Expressions in programs.
    pub expressions: Expressions,
    /// Tests, jumps and loops in programs.
    pub flow: Flow,
    /// Numbered variables.
    pub variables: Variables,
    /// Calls of macros and subprograms.
    pub calls: Calls,
    /// Program numbers, head and tail.
    pub programs: Programs,
    /// How a program refuses to run.
    pub alarms: Alarms,
    /// Modal states that a macro can read.
    pub modes: Modes,
    /// Comments and lines.
    pub text: Text,
    /// The words that differ between controllers.
    pub words: Words,
    /// Cutter radius compensation; without the table no program may switch it on.
    pub compensation: Option<Compensation>,
    /// Axes, spindle and what they can do.
    pub axes: Axes,
}

/// The unit of lengths.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Units {
    /// Millimetres, and millimetres a minute.
    Mm,
    /// Inches, and inches a minute.
    Inch,
}

/// How numbers are written and kept.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Numbers {
    /// Decimals of a length.
    #[schemars(range(max = 9))]
    pub decimals: u32,
    /// Decimals of an angle.
    #[schemars(range(max = 9))]
    pub angle_decimals: u32,
    /// Decimals of a feed.
    #[schemars(range(max = 9))]
    pub feed_decimals: u32,
    /// Decimals of a spindle speed.
    #[schemars(range(max = 9))]
    pub speed_decimals: u32,
    /// Decimals of a dwell in seconds.
    #[schemars(range(max = 9))]
    pub dwell_decimals: u32,
    /// The greatest length, either sign, that a word or a variable may hold.
    pub greatest: Decimal,
    /// The greatest number, either sign, that a variable may hold; `greatest` where nothing is said.
    pub greatest_variable: Option<Decimal>,
    /// Significant decimal digits that its arithmetic keeps.
    #[schemars(range(min = 1, max = 34))]
    pub significant_digits: u32,
    /// The greatest error of a sine, cosine, root or arc tangent that it works out, in units of the last
    /// significant digit.
    pub function_error: Decimal,
    /// What a length without decimal point means.
    pub missing_point: MissingPoint,
}

/// What a length without decimal point means.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum MissingPoint {
    /// `X10` is 10 mm or 10 in.
    Units,
    /// `X10` is 10 of the last decimal: 0.010 mm at three decimals.
    Increments,
}

/// What the machine accepts as an arc.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Arcs {
    /// What I and J say.
    pub centre: Centre,
    /// An arc block may move Z as well.
    pub helical: bool,
    /// A full circle may be one block; else it is written as two halves.
    pub full_circle: bool,
    /// Most that the radii at start and end may differ.
    pub tolerance: Decimal,
    /// The smallest radius.
    pub smallest_radius: Decimal,
}

/// What I and J say.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Centre {
    /// The way from the start of the arc to its centre.
    Incremental,
    /// The centre in the coordinates of the program.
    Absolute,
}

/// Expressions in programs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Expressions {
    /// Words may take bracketed expressions.
    pub available: bool,
    /// How deep brackets may nest.
    pub nesting: u32,
    /// FIX cuts the fraction off (-2.8 gives -2) and FUP goes away from zero; else FIX goes down (-2.8 gives
    /// -3) and FUP up.
    pub fix_toward_zero: bool,
    /// Functions it knows, by their spelling.
    pub functions: Vec<String>,
}

/// Tests, jumps and loops in programs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Flow {
    /// `IF [...] GOTO n`
    pub if_goto: bool,
    /// `IF [...] THEN #1=2`
    pub if_then: bool,
    /// `WHILE [...] DO 1 ... END 1`
    pub while_do: bool,
    /// How deep WHILE loops may nest.
    pub loop_nesting: u32,
    /// AND and OR may join comparisons in one test.
    pub joined_tests: bool,
    /// The greatest block number that GOTO may name.
    pub greatest_label: u32,
}

/// A range of numbers, both ends included.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Range(
    /// The first.
    pub u32,
    /// The last.
    pub u32,
);

impl Range {
    /// Whether a number lies in it.
    #[must_use]
    pub fn contains(self, number: u32) -> bool {
        (self.0..=self.1).contains(&number)
    }

    /// Every number in it.
    pub fn numbers(self) -> impl Iterator<Item = u32> {
        self.0..=self.1
    }
}

/// Numbered variables: `#1`, `#100`.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Variables {
    /// Each macro call has its own of these; the arguments arrive in them.
    pub local: Vec<Range>,
    /// Shared by all programs, empty after power-off; programs written here may use them.
    pub common: Vec<Range>,
    /// Shared by all programs and kept at power-off; programs written here may use them.
    pub retained: Vec<Range>,
    /// Those of the retained ones in which the operator keeps the wear of cutters, by `axes.wear` as radius or as
    /// diameter: the first is that of pocket 1, the next that of pocket 2. Programs read them and write none.
    pub wear: Option<Range>,
    /// Every variable that can be written, ours to use or not. Other numbers are system variables.
    pub writable: Vec<Range>,
    /// `#0` is always vacant, and a test can tell a vacant variable from 0.
    pub vacant: bool,
}

/// Calls of macros and subprograms.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Calls {
    /// The word that calls a macro with letter arguments: `G65`.
    pub macro_call: Option<String>,
    /// Letters that may carry an argument, and the variable that each one fills.
    pub letters: BTreeMap<char, u32>,
    /// Letters in the order in which parameters without one of their own get them.
    pub order: Vec<char>,
    /// The word that calls a subprogram: `M98`.
    pub subprogram: Option<String>,
    /// The word that goes back: `M99`.
    pub back: Option<String>,
    /// The letter of the word that says how often a called program runs.
    pub repeat_letter: Option<char>,
    /// How deep calls may nest.
    pub nesting: u32,
}

/// Program numbers, head and tail.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Programs {
    /// The letter of the program number; none where programs have no number.
    pub letter: Option<char>,
    /// Digits of the program number; 0 where programs have no number.
    #[schemars(range(max = 9))]
    pub digits: u32,
    /// Numbers that programs may have.
    pub allowed: Vec<Range>,
    /// Numbers that the machine or its builder keeps.
    pub reserved: Vec<Range>,
    /// A line with `%` stands before and after the program.
    pub percent: bool,
    /// Blocks after the program number, before everything else.
    pub head: Vec<String>,
    /// The last blocks of a main program.
    pub tail: Vec<String>,
    /// Block numbers.
    pub block_numbers: Option<BlockNumbers>,
    /// Program memory in bytes.
    pub memory: Option<u64>,
}

/// Block numbers: `N10 G1 X0.`
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BlockNumbers {
    /// The first.
    pub first: u32,
    /// From one to the next.
    pub step: u32,
}

/// How a program refuses to run.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Alarms {
    /// Setting this variable stops the machine with an alarm: `#3000=1 (TEXT)`.
    pub variable: Option<u32>,
    /// Alarm numbers that a program may use.
    pub numbers: Range,
    /// How many characters of the text are shown.
    pub text_length: usize,
}

/// Modal states that a macro can read, by the variable that holds each.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Modes {
    /// Motion: 0, 1, 2, 3.
    pub motion: Option<u32>,
    /// Plane: 17, 18, 19.
    pub plane: Option<u32>,
    /// Absolute 90, incremental 91.
    pub distance: Option<u32>,
    /// Feed a minute 94, a turn 95, inverse time 93.
    pub feed_mode: Option<u32>,
    /// Inch or metric code.
    pub units: Option<u32>,
    /// Cutter compensation: 40, 41, 42.
    pub compensation: Option<u32>,
    /// Length offset: 43, 44, 49.
    pub length: Option<u32>,
    /// Fixed cycle: 80 where none.
    pub cycle: Option<u32>,
    /// The feed.
    pub feed: Option<u32>,
    /// The spindle speed.
    pub speed: Option<u32>,
}

/// Comments and lines.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Text {
    /// What opens a comment.
    pub open: char,
    /// What closes it.
    pub close: char,
    /// Characters that a comment may hold besides capital letters and digits.
    pub punctuation: String,
    /// Longest line, in characters: comments are broken to fit, and notes go to lines of their own.
    #[schemars(range(min = 24))]
    pub line_length: usize,
    /// Longest block, in characters: a block cannot be broken, and may be longer than a line should be.
    #[schemars(range(min = 24))]
    pub block_length: usize,
}

/// The words that differ between controllers.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Words {
    /// Millimetres.
    pub metric: String,
    /// Inches.
    pub inch: String,
    /// A full safe start, without the units: plane, compensation and cycles off, absolute, feed a minute.
    pub safe_start: String,
    /// The modes of a routine that another program calls: as the safe start, but the length offset stays.
    pub routine_start: String,
    /// Blocks that bring Z to the machine's home from anywhere.
    pub home: Vec<String>,
    /// Tool change.
    pub tool_change: String,
    /// Length offset on; the H word follows.
    pub length_on: String,
    /// The work offsets in order: the first is `work 1`.
    pub work_offsets: Vec<String>,
    /// The letter of a dwell in seconds after G4.
    pub dwell_letter: char,
    /// Mist coolant.
    pub mist: String,
}

/// Axes, spindle and what they can do.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Axes {
    /// A rapid move runs straight from its start to its end; else each axis runs for itself.
    pub rapids_straight: bool,
    /// Whether the operator keeps wear as radius or as diameter.
    pub wear: Wear,
    /// Travel in machine coordinates: least and greatest X.
    pub x: Option<Travel>,
    /// Least and greatest Y.
    pub y: Option<Travel>,
    /// Least and greatest Z.
    pub z: Option<Travel>,
    /// The greatest feed, a minute.
    pub greatest_feed: Decimal,
    /// Rapid traverse, a minute.
    pub rapid: Decimal,
    /// The least spindle speed, turns a minute.
    pub least_speed: Decimal,
    /// The greatest spindle speed, turns a minute.
    pub greatest_speed: Decimal,
    /// Acceleration of the axes, a second a second.
    pub acceleration: Decimal,
    /// Time for a tool change, in seconds.
    pub tool_change: Decimal,
    /// Blocks that it reads ahead, so that nothing stops between them; 0 where that is not known.
    pub look_ahead: u32,
}

/// How wear is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Wear {
    /// As radius.
    Radius,
    /// As diameter.
    Diameter,
}

/// Travel of one axis, from least to greatest.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Travel(
    /// The least.
    pub Decimal,
    /// The greatest.
    pub Decimal,
);

impl Machine {
    /// Whether its lengths are inches.
    #[must_use]
    pub fn inch(&self) -> bool {
        self.units == Units::Inch
    }

    /// One unit of length in mm: 1 or 127/5.
    #[must_use]
    pub fn unit(&self) -> Rational {
        match self.units {
            Units::Mm => Unit::Millimetre.factor(),
            Units::Inch => Unit::Inch.factor(),
        }
    }

    /// A length or feed of this file in mm or mm/min.
    #[must_use]
    pub fn millimetres(&self, length: &Rational) -> Rational {
        length * &self.unit()
    }

    /// The last decimal of a length, in mm.
    #[must_use]
    pub fn resolution(&self) -> Rational {
        self.unit() / Rational::from(10).pow(self.numbers.decimals as usize)
    }

    /// The variable that a call letter fills, where the letter may carry an argument.
    #[must_use]
    pub fn letter_variable(&self, letter: char) -> Option<u32> {
        self.calls.letters.get(&letter).copied()
    }

    /// Whether it keeps numbered variables that programs may use.
    #[must_use]
    pub fn has_variables(&self) -> bool {
        self.expressions.available && !self.variables.common.is_empty()
    }

    /// The code of its unit: `G21` or `G20`.
    #[must_use]
    pub fn units_code(&self) -> &str {
        if self.inch() { &self.words.inch } else { &self.words.metric }
    }
}
