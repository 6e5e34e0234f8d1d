//! What a controller remembers from block to block.

/// Unit of lengths.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Units {
    /// G21
    Millimetre,
    /// G20
    Inch,
}

impl Units {
    /// `mm` or `in`.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Millimetre => "mm",
            Self::Inch => "in",
        }
    }
}

/// The motion mode.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Motion {
    /// G80: axis words alone move nothing.
    None,
    /// G0
    Rapid,
    /// G1
    Line,
    /// G2, seen from the positive end of the axis normal to the plane
    ArcClockwise,
    /// G3
    ArcCounterclockwise,
}

/// The plane of arcs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Plane {
    /// G17
    XY,
    /// G18
    XZ,
    /// G19
    YZ,
}

impl Plane {
    /// First, second and normal axis, so that first to second is counterclockwise seen from the positive end of
    /// the normal axis.
    #[must_use]
    pub fn axes(self) -> [Axis; 3] {
        match self {
            Self::XY => [Axis::X, Axis::Y, Axis::Z],
            Self::XZ => [Axis::Z, Axis::X, Axis::Y],
            Self::YZ => [Axis::Y, Axis::Z, Axis::X],
        }
    }

    /// `XY`, `XZ`, `YZ`.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::XY => "XY",
            Self::XZ => "XZ",
            Self::YZ => "YZ",
        }
    }
}

/// A linear axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs, reason = "the names say it")]
pub enum Axis {
    X,
    Y,
    Z,
}

impl Axis {
    /// All three.
    pub const ALL: [Self; 3] = [Self::X, Self::Y, Self::Z];

    /// Its letter.
    #[must_use]
    pub fn letter(self) -> char {
        match self {
            Self::X => 'X',
            Self::Y => 'Y',
            Self::Z => 'Z',
        }
    }

    /// The letter of the arc centre along it.
    #[must_use]
    pub fn centre_letter(self) -> char {
        match self {
            Self::X => 'I',
            Self::Y => 'J',
            Self::Z => 'K',
        }
    }
}

/// One value for each linear axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[allow(missing_docs, reason = "the names say it")]
pub struct Triple<T> {
    pub x: T,
    pub y: T,
    pub z: T,
}

impl<T> Triple<T> {
    /// X, Y and Z.
    pub const fn new(x: T, y: T, z: T) -> Self {
        Self { x, y, z }
    }

    /// The value along an axis.
    pub fn along(&self, axis: Axis) -> &T {
        match axis {
            Axis::X => &self.x,
            Axis::Y => &self.y,
            Axis::Z => &self.z,
        }
    }

    /// The value along an axis, to change.
    pub fn along_mut(&mut self, axis: Axis) -> &mut T {
        match axis {
            Axis::X => &mut self.x,
            Axis::Y => &mut self.y,
            Axis::Z => &mut self.z,
        }
    }

    /// One value for each axis from a function of the axis.
    pub fn from_axes(mut f: impl FnMut(Axis) -> T) -> Self {
        Self { x: f(Axis::X), y: f(Axis::Y), z: f(Axis::Z) }
    }
}

/// G90 or G91.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs, reason = "the names say it")]
pub enum Distance {
    Absolute,
    Incremental,
}

/// The side of the programmed path on which the cutter runs, looking along it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// G41
    Left,
    /// G42
    Right,
}

/// What cutter radius compensation remembers. While it is on, the position of the registers is on the programmed path.
#[derive(Debug, Clone, PartialEq)]
pub enum Compensated<V> {
    /// On.
    On(Offset<V>),
    /// Switched off; the next way in X or Y brings the centre back to the programmed path.
    Leaving,
}

/// Cutter radius compensation that is on.
#[derive(Debug, Clone, PartialEq)]
pub struct Offset<V> {
    /// Which code switched it on.
    pub side: Side,
    /// How far the centre runs to the left of the programmed path; negative to the right of it.
    pub left: V,
    /// The offset is negative: the cutter runs on the other side than the code says.
    pub negative: bool,
    /// X and Y of the cutter's centre.
    pub centre: [V; 2],
    /// Direction at the end of the last programmed move, of length 1; none before the first.
    pub heading: Option<[V; 2]>,
    /// Blocks since the last way in X or Y.
    pub waiting: u32,
}

/// G93 or G94.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FeedMode {
    /// G94: F is a length per minute.
    PerMinute,
    /// G93: F is 1 / minutes for the move.
    InverseTime,
}

/// G98 or G99.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ReturnLevel {
    /// G98
    Initial,
    /// G99
    Clearance,
}

/// G61, G61.1 or G64.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PathControl {
    /// G61
    ExactPath,
    /// G61.1
    ExactStop,
    /// G64
    Blending,
}

/// M3, M4 or M5.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs, reason = "the names say it")]
pub enum Spindle {
    Stopped,
    Clockwise,
    Counterclockwise,
}

/// M7, M8 or M9.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs, reason = "the names say it")]
pub enum Coolant {
    Mist,
    Flood,
    Off,
}

/// Everything that holds from block to block except the variables.
///
/// A mode that is `None` is not known: reading it is an error, setting it is not. A concrete run begins with all of
/// them known; a run that must hold for any state at entry begins with none.
#[derive(Debug, Clone, PartialEq)]
pub struct Registers<V> {
    /// G0 to G3, G80.
    pub motion: Option<Motion>,
    /// G17 to G19.
    pub plane: Option<Plane>,
    /// G90, G91.
    pub distance: Option<Distance>,
    /// G93, G94.
    pub feed_mode: Option<FeedMode>,
    /// G20, G21.
    pub units: Option<Units>,
    /// G98, G99.
    pub return_level: Option<ReturnLevel>,
    /// G61, G61.1, G64.
    pub path_control: Option<PathControl>,
    /// G54 to G59.3: 1 to 9.
    pub work: Option<u8>,
    /// G43 (true) or G49.
    pub length_offset: Option<bool>,
    /// G41 or G42 (true) or G40.
    pub compensation: Option<bool>,
    /// How it moves the centre; `None` while it is off, and where nobody knows who switched it on.
    pub compensated: Option<Compensated<V>>,
    /// Last F, in the active feed mode and units.
    pub feed: Option<V>,
    /// Last S.
    pub speed: Option<V>,
    /// M3, M4, M5.
    pub spindle: Option<Spindle>,
    /// M7 holds.
    pub mist: Option<bool>,
    /// M8 holds.
    pub flood: Option<bool>,
    /// M48 (true) or M49.
    pub overrides: Option<bool>,
    /// Last T.
    pub selected: Option<V>,
    /// Tool in the spindle since the last M6.
    pub tool: Option<V>,
    /// Last D.
    pub d: Option<V>,
    /// Last H.
    pub h: Option<V>,
    /// Where the controlled point is, in the active coordinates and units.
    pub position: Triple<V>,
    /// Origin of the active work offset.
    pub origin: Triple<V>,
    /// Shift by G92.
    pub shift: Triple<V>,
    /// Length that G43 added to Z.
    pub length: V,
    /// Last N number.
    pub sequence: Option<u32>,
}
