//! G and M codes and their modal groups (NISTIR 6556, Tables 4, 5 and 7). G65, M98 and M99 are common practice of
//! macro dialects, no source.

use crate::state::{
    Coolant, Distance, FeedMode, Motion, PathControl, Plane, ReturnLevel, Side, Spindle, Units,
};

/// A preparatory code.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Preparatory {
    /// G0 to G3, and G80 which ends them.
    Motion(Motion),
    /// G4
    Dwell,
    /// G10
    SetData,
    /// G17 to G19
    Plane(Plane),
    /// G20, G21
    Units(Units),
    /// G28
    Home,
    /// G30
    SecondHome,
    /// G38.2
    Probe,
    /// G40
    CompensationOff,
    /// G41, G42
    Compensation(Side),
    /// G43
    LengthOn,
    /// G49
    LengthOff,
    /// G53
    MachineCoordinates,
    /// G54 to G59.3: system 1 to 9
    WorkOffset(u8),
    /// G61, G61.1, G64
    PathControl(PathControl),
    /// G65
    Call,
    /// G81 to G89
    Cycle(u8),
    /// G90, G91
    Distance(Distance),
    /// G92
    SetPosition,
    /// G92.1
    ClearPosition,
    /// G92.2
    SuspendPosition,
    /// G92.3
    ResumePosition,
    /// G93, G94
    FeedMode(FeedMode),
    /// G98, G99
    ReturnLevel(ReturnLevel),
}

/// A modal group: two codes of one group cannot stand in one block.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs, reason = "the names are those of NISTIR 6556, Table 4")]
pub enum Group {
    NonModal,
    Motion,
    Plane,
    Distance,
    FeedMode,
    Units,
    Compensation,
    LengthOffset,
    ReturnLevel,
    WorkOffset,
    PathControl,
    Stopping,
    ToolChange,
    Spindle,
    Coolant,
    Overrides,
    Subprogram,
}

impl Group {
    /// For messages: `motion`, `plane selection`.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::NonModal => "one-block",
            Self::Motion => "motion",
            Self::Plane => "plane",
            Self::Distance => "absolute or incremental",
            Self::FeedMode => "feed mode",
            Self::Units => "units",
            Self::Compensation => "cutter compensation",
            Self::LengthOffset => "tool length offset",
            Self::ReturnLevel => "cycle return level",
            Self::WorkOffset => "work offset",
            Self::PathControl => "path control",
            Self::Stopping => "program stop",
            Self::ToolChange => "tool change",
            Self::Spindle => "spindle",
            Self::Coolant => "coolant",
            Self::Overrides => "override",
            Self::Subprogram => "subprogram",
        }
    }
}

impl Preparatory {
    /// The code for ten times the number after G, so that G59.1 is 591.
    #[must_use]
    pub fn from_tenths(tenths: i64) -> Option<Self> {
        Some(match tenths {
            0 => Self::Motion(Motion::Rapid),
            10 => Self::Motion(Motion::Line),
            20 => Self::Motion(Motion::ArcClockwise),
            30 => Self::Motion(Motion::ArcCounterclockwise),
            40 => Self::Dwell,
            100 => Self::SetData,
            170 => Self::Plane(Plane::XY),
            180 => Self::Plane(Plane::XZ),
            190 => Self::Plane(Plane::YZ),
            200 => Self::Units(Units::Inch),
            210 => Self::Units(Units::Millimetre),
            280 => Self::Home,
            300 => Self::SecondHome,
            382 => Self::Probe,
            400 => Self::CompensationOff,
            410 => Self::Compensation(Side::Left),
            420 => Self::Compensation(Side::Right),
            430 => Self::LengthOn,
            490 => Self::LengthOff,
            530 => Self::MachineCoordinates,
            540 | 550 | 560 | 570 | 580 | 590 => Self::WorkOffset(u8::try_from(tenths / 10 - 53).ok()?),
            591..=593 => Self::WorkOffset(u8::try_from(tenths - 584).ok()?),
            610 => Self::PathControl(PathControl::ExactPath),
            611 => Self::PathControl(PathControl::ExactStop),
            640 => Self::PathControl(PathControl::Blending),
            650 => Self::Call,
            800 => Self::Motion(Motion::None),
            810 | 820 | 830 | 840 | 850 | 860 | 870 | 880 | 890 => {
                Self::Cycle(u8::try_from(tenths / 10).ok()?)
            }
            900 => Self::Distance(Distance::Absolute),
            910 => Self::Distance(Distance::Incremental),
            920 => Self::SetPosition,
            921 => Self::ClearPosition,
            922 => Self::SuspendPosition,
            923 => Self::ResumePosition,
            930 => Self::FeedMode(FeedMode::InverseTime),
            940 => Self::FeedMode(FeedMode::PerMinute),
            980 => Self::ReturnLevel(ReturnLevel::Initial),
            990 => Self::ReturnLevel(ReturnLevel::Clearance),
            _ => return None,
        })
    }

    /// Its modal group.
    #[must_use]
    pub fn group(self) -> Group {
        match self {
            Self::Motion(_) | Self::Probe | Self::Cycle(_) => Group::Motion,
            Self::Plane(_) => Group::Plane,
            Self::Units(_) => Group::Units,
            Self::CompensationOff | Self::Compensation(_) => Group::Compensation,
            Self::LengthOn | Self::LengthOff => Group::LengthOffset,
            Self::WorkOffset(_) => Group::WorkOffset,
            Self::PathControl(_) => Group::PathControl,
            Self::Distance(_) => Group::Distance,
            Self::FeedMode(_) => Group::FeedMode,
            Self::ReturnLevel(_) => Group::ReturnLevel,
            Self::Call => Group::Subprogram,
            Self::Dwell
            | Self::SetData
            | Self::Home
            | Self::SecondHome
            | Self::MachineCoordinates
            | Self::SetPosition
            | Self::ClearPosition
            | Self::SuspendPosition
            | Self::ResumePosition => Group::NonModal,
        }
    }
}

/// `59.1` for ten times the number of a code.
pub(crate) fn code_text(tenths: i64) -> String {
    match tenths % 10 {
        0 => format!("{}", tenths / 10),
        part => format!("{}.{part}", tenths / 10),
    }
}

/// A miscellaneous code.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Miscellaneous {
    /// M0, M60
    Stop,
    /// M1
    OptionalStop,
    /// M2, M30
    End,
    /// M3, M4, M5
    Spindle(Spindle),
    /// M6
    ToolChange,
    /// M7, M8, M9
    Coolant(Coolant),
    /// M48, M49
    Overrides(bool),
    /// M98
    CallSubprogram,
    /// M99
    Return,
}

impl Miscellaneous {
    /// The code for the number after M.
    #[must_use]
    pub fn from_number(number: i64) -> Option<Self> {
        Some(match number {
            0 | 60 => Self::Stop,
            1 => Self::OptionalStop,
            2 | 30 => Self::End,
            3 => Self::Spindle(Spindle::Clockwise),
            4 => Self::Spindle(Spindle::Counterclockwise),
            5 => Self::Spindle(Spindle::Stopped),
            6 => Self::ToolChange,
            7 => Self::Coolant(Coolant::Mist),
            8 => Self::Coolant(Coolant::Flood),
            9 => Self::Coolant(Coolant::Off),
            48 => Self::Overrides(true),
            49 => Self::Overrides(false),
            98 => Self::CallSubprogram,
            99 => Self::Return,
            _ => return None,
        })
    }

    /// Its modal group.
    #[must_use]
    pub fn group(self) -> Group {
        match self {
            Self::Stop | Self::OptionalStop | Self::End => Group::Stopping,
            Self::Spindle(_) => Group::Spindle,
            Self::ToolChange => Group::ToolChange,
            Self::Coolant(_) => Group::Coolant,
            Self::Overrides(_) => Group::Overrides,
            Self::CallSubprogram | Self::Return => Group::Subprogram,
        }
    }
}
