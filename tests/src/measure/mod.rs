//! From a trace and a contract to faults: every promise measured from its definition, in plain floats.
//!
//! This is a witness from outside. It shares no code with the prover: it knows no formulas, only where the
//! cutter went, and asks of each point of the feature and of each move whether the promise was kept. What a
//! prover calls proved must show no fault here, at whatever admitted sizes.
//!
//! A fault is reported only beyond the stated [`Tolerance`]; a measure that samples (`cleared`, flutes) can
//! miss a fault but does not invent one.

mod chamfer;
mod cleared;
mod meant;
mod safe;
mod side;
mod sized;
mod smooth;
mod stock;
mod thread;
mod track;
mod undercut;
mod within;

use std::fmt;

pub use meant::Meant;
pub use stock::Stock;
pub use track::Track;

/// A place in space, mm. A coordinate that nobody knows is `NAN`; a height at the machine's home is
/// `INFINITY`.
pub type Place = [f64; 3];

/// A place in the plane, mm.
pub type Spot = [f64; 2];

/// The cutter: lengths in mm, the ramp in degrees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cutter {
    /// Cutting diameter.
    pub diameter: f64,
    /// Length that cuts.
    pub flutes: f64,
    /// Length with nothing wider than the cutting diameter.
    pub reach: f64,
    /// Diameter at the end that does not cut.
    pub dead: f64,
    /// Steepest ramp.
    pub ramp: f64,
    /// May go straight down into metal.
    pub plunges: bool,
    /// Cuts when turning counterclockwise.
    pub left_hand: bool,
    /// Of a thread cutter: height of the lowest tooth above the end, teeth in a row, from one to the next.
    pub teeth: Option<[f64; 3]>,
    /// Of a disc: the radius of the neck above it.
    pub neck: Option<f64>,
    /// Of a pointed cutter: how its radius grows with height above the end, and the radius of the flat there.
    pub cone: Option<[f64; 2]>,
}

impl Cutter {
    /// Half the diameter.
    #[must_use]
    pub fn radius(&self) -> f64 {
        self.diameter / 2.0
    }
}

/// Shape of a feature; diameters, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
#[allow(missing_docs, reason = "the names are the language's own")]
pub enum Shape {
    Hole {
        diameter: f64,
        pilot: Option<f64>,
    },
    Boss {
        diameter: f64,
        blank: f64,
    },
    Ring {
        outer: f64,
        inner: f64,
    },
    Face {
        diameter: f64,
    },
    /// `width` along the top face; the radius of the cone changes by `slope` with height.
    Chamfer {
        inside: bool,
        diameter: f64,
        width: f64,
        slope: f64,
    },
    /// A groove from `low` up to `roof` in the wall of a bore that goes down to the feature's floor.
    Undercut {
        diameter: f64,
        bore: f64,
        low: f64,
        roof: f64,
    },
    /// `lead` is gained in a counterclockwise turn; the thread is whole down to `whole`. Tapered where it `grows`.
    Thread {
        inside: bool,
        major: f64,
        minor: f64,
        lead: f64,
        whole: f64,
        /// Of its radii with height; both diameters are those at the top face.
        grows: f64,
        /// How far teeth may be beside its groove.
        error: f64,
        /// How far its flanks go over to the side, over how deep they go.
        lean: f64,
    },
}

/// What is promised.
#[derive(Debug, Clone, Copy, PartialEq)]
#[allow(missing_docs, reason = "the names are the language's own")]
pub enum Promise {
    Within,
    Sized,
    Cleared,
    Smooth,
    Climb,
    Conventional,
    Apart(f64),
}

/// A feature at one place.
#[derive(Debug, Clone, PartialEq)]
pub struct Feature {
    /// Its name; a feature at several places has it several times.
    pub name: String,
    /// Its centre.
    pub centre: Spot,
    /// Its shape.
    pub shape: Shape,
    /// Z of its floor.
    pub floor: f64,
    /// Z of its top face.
    pub top: f64,
    /// What is promised.
    pub promises: Vec<Promise>,
}

/// A round wall.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wall {
    /// The cutter is inside it.
    pub inside: bool,
    /// Its radius.
    pub radius: f64,
}

impl Wall {
    /// How far from the wall's centre the cutter's centre is when its edge touches.
    #[must_use]
    pub fn path(&self, cutter: &Cutter) -> f64 {
        if self.inside { self.radius - cutter.radius() } else { self.radius + cutter.radius() }
    }
}

impl Feature {
    /// Its walls.
    #[must_use]
    pub fn walls(&self) -> Vec<Wall> {
        let wall = |inside, diameter: f64| Wall { inside, radius: diameter / 2.0 };
        match self.shape {
            Shape::Hole { diameter, .. } | Shape::Undercut { diameter, .. } => vec![wall(true, diameter)],
            Shape::Boss { diameter, .. } => vec![wall(false, diameter)],
            Shape::Face { .. } => Vec::new(),
            // Its wide end, which a cutter as wide as its cone is at the top face is held to.
            Shape::Chamfer { inside, diameter, width, .. } => {
                vec![wall(inside, if inside { diameter + 2.0 * width } else { diameter - 2.0 * width })]
            }
            Shape::Ring { outer, inner } => vec![wall(true, outer), wall(false, inner)],
            // What a tapered one has is no wall of one radius.
            Shape::Thread { grows, .. } if grows != 0.0 => Vec::new(),
            Shape::Thread { inside, major, minor, .. } => {
                vec![wall(inside, if inside { major } else { minor })]
            }
        }
    }

    /// Radii between which metal must go.
    #[must_use]
    pub fn band(&self) -> (f64, f64) {
        match self.shape {
            Shape::Hole { diameter, pilot } => (pilot.unwrap_or(0.0) / 2.0, diameter / 2.0),
            Shape::Boss { diameter, blank } => (diameter / 2.0, blank / 2.0),
            Shape::Face { diameter } => (0.0, diameter / 2.0),
            Shape::Chamfer { inside: true, diameter, width, .. } => (diameter / 2.0, diameter / 2.0 + width),
            Shape::Chamfer { inside: false, diameter, width, .. } => (diameter / 2.0 - width, diameter / 2.0),
            Shape::Ring { outer, inner } => (inner / 2.0, outer / 2.0),
            Shape::Undercut { diameter, bore, .. } => (bore / 2.0, diameter / 2.0),
            Shape::Thread { major, minor, .. } => (minor / 2.0, major / 2.0),
        }
    }

    fn promises(&self, promise: Promise) -> bool {
        self.promises.contains(&promise)
    }
}

/// Air that is there before, down to a height: inside a circle (a hole), or outside it (around a blank).
#[derive(Debug, Clone, Copy, PartialEq)]
#[allow(missing_docs, reason = "the doc of the whole says it")]
pub struct Air {
    pub inside: bool,
    pub centre: Spot,
    pub radius: f64,
    pub floor: f64,
}

/// What the motion owes.
#[derive(Debug, Clone, PartialEq)]
pub struct Contract {
    /// Made features.
    pub features: Vec<Feature>,
    /// Holes that are there before, beside the features' own pilots.
    pub given: Vec<Air>,
    /// Smallest radius of an arc that controllers take.
    pub smallest_arc: f64,
    /// A complete program: spindle and length offset must be set by it.
    pub complete: bool,
}

/// What the machine does in one step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Act {
    /// At rapid.
    Rapid,
    /// Straight at feed.
    Line {
        /// mm/min
        feed: Option<f64>,
    },
    /// Round an arc at feed.
    Arc {
        /// Centre.
        centre: Spot,
        /// Counterclockwise from above.
        ccw: bool,
        /// A whole turn.
        full: bool,
        /// mm/min
        feed: Option<f64>,
    },
    /// The axes stand: a dwell, a branch, a computation, a switch.
    Pause,
}

/// Which way the spindle turns, seen from above.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs, reason = "the names say it")]
pub enum Spindle {
    Stopped,
    Clockwise,
    Counterclockwise,
}

/// One step of a trace.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// What is done.
    pub act: Act,
    /// Start.
    pub from: Place,
    /// End.
    pub to: Place,
    /// The cutter in the spindle.
    pub cutter: Cutter,
    /// The spindle.
    pub spindle: Spindle,
    /// The length offset is active.
    pub offset: bool,
}

impl Step {
    /// The way of a cutting move.
    #[must_use]
    pub fn track(&self) -> Option<Track> {
        match self.act {
            Act::Line { .. } => Some(Track::line(self.from, self.to)),
            Act::Arc { centre, ccw, full, .. } => Some(Track::arc(self.from, self.to, centre, ccw, full)),
            Act::Rapid | Act::Pause => None,
        }
    }
}

/// How far a trace may be off without a fault.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tolerance {
    /// Of places, mm.
    pub length: f64,
    /// Points of a feature that are looked at, each way; the more, the finer.
    pub grid: usize,
    /// Of the angle at which two arcs meet, degrees; of each by its size alone where nothing is said.
    pub joint: Option<f64>,
}

impl Tolerance {
    /// For motions that were evaluated exactly and then turned into floats.
    pub const EXACT: Self = Self { length: 1e-7, grid: 24, joint: None };

    /// For emitted text, by the bounds that it says of itself: how far it may be off anywhere, and how far the
    /// angle of a joint may be.
    #[must_use]
    pub fn told(length: f64, joint: Option<f64>) -> Self {
        Self { length: length + 1e-9, grid: 24, joint }
    }
}

/// What is broken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Rule {
    /// The cutter moves from where nobody knows.
    Position,
    /// A cut without a feed above zero.
    Feed,
    /// An arc whose ends are not equally far from its centre.
    Arc,
    /// An arc smaller than controllers take, or one that ends where it begins.
    ArcSize,
    /// A rapid move that can meet metal.
    Rapid,
    /// Straight down into metal.
    Plunge,
    /// Down into metal more steeply than the cutter may.
    Ramp,
    /// Metal above the flutes.
    Flutes,
    /// What is wider than the cutter below the top face.
    Shank,
    /// The spindle stands or turns the wrong way in a cut.
    Spindle,
    /// A cut without a length offset.
    Offset,
    /// Past the wall.
    Wall,
    /// Below the floor.
    Floor,
    /// The wall is not touched all round at the floor.
    Sized,
    /// A band of the wall between two passes is not touched.
    Meeting,
    /// Metal is left standing.
    Cleared,
    /// A corner or a stop on the wall.
    Smooth,
    /// The chip forms on the other side.
    Side,
    /// A tooth bites beside the groove of a thread.
    Lead,
    /// A turn of the groove is not cut whole.
    Thread,
    /// Too little wall between two features.
    Apart,
}

/// One fault.
#[derive(Debug, Clone, PartialEq)]
pub struct Fault {
    /// What is broken.
    pub rule: Rule,
    /// Position of the step that does it, where it is one.
    pub step: Option<usize>,
    /// By how much, mm or degrees.
    pub by: f64,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let step = self.step.map_or(String::new(), |s| format!(" at step {s}"));
        write!(f, "{:?}{step} by {:.6}", self.rule, self.by)
    }
}

/// Faults as they are found: the first of each rule is kept.
#[derive(Debug, Default)]
struct Faults(Vec<Fault>);

impl Faults {
    fn add(&mut self, rule: Rule, step: Option<usize>, by: f64) {
        if !self.0.iter().any(|f| f.rule == rule) {
            self.0.push(Fault { rule, step, by });
        }
    }
}

/// The first fault of each rule that a trace breaks.
#[must_use]
pub fn measure(contract: &Contract, steps: &[Step], tolerance: Tolerance) -> Vec<Fault> {
    measure_meant(contract, steps, Meant::ITSELF, tolerance)
}

/// The same for the trace of a text that was written for a motion.
#[must_use]
pub fn measure_meant(
    contract: &Contract,
    steps: &[Step],
    meant: Meant<'_>,
    tolerance: Tolerance,
) -> Vec<Fault> {
    let mut faults = Faults::default();
    let pointed = contract.features.iter().find(|f| matches!(f.shape, Shape::Chamfer { .. }));
    let widened = pointed.map(|f| chamfer::as_wide_as_at_the_top(f, steps));
    let (cones, steps) = (steps, widened.as_deref().unwrap_or(steps));
    let stock = Stock::new(contract, steps, tolerance);
    safe::measure(contract, steps, &stock, tolerance, &mut faults);
    for feature in &contract.features {
        within::apart(contract, feature, tolerance, &mut faults);
        if let Shape::Thread { .. } = feature.shape {
            thread::measure(feature, steps, tolerance, &mut faults);
            continue;
        }
        if let Shape::Chamfer { .. } = feature.shape {
            chamfer::measure(feature, cones, tolerance, &mut faults);
            smooth::measure(feature, steps, meant, tolerance, &mut faults);
            side::measure(feature, steps, meant, tolerance, &mut faults);
            continue;
        }
        if let Shape::Undercut { .. } = feature.shape {
            undercut::measure(feature, steps, tolerance, &mut faults);
            smooth::measure(feature, steps, meant, tolerance, &mut faults);
            side::measure(feature, steps, meant, tolerance, &mut faults);
            continue;
        }
        sized::measure(feature, steps, tolerance, &mut faults);
        cleared::measure(contract, feature, &stock, tolerance, &mut faults);
        smooth::measure(feature, steps, meant, tolerance, &mut faults);
        side::measure(feature, steps, meant, tolerance, &mut faults);
    }
    within::measure(contract, steps, tolerance, &mut faults);
    let mut found = faults.0;
    found.sort_by_key(|f| f.rule);
    found
}

/// `abs(p - q)` in the plane.
fn distance(p: Spot, q: Spot) -> f64 {
    (p[0] - q[0]).hypot(p[1] - q[1])
}

fn flat(p: Place) -> Spot {
    [p[0], p[1]]
}
