//! Checks on a trace.

use crate::trace::{Kind, Trace, TracedMove};

/// Sums over a trace, in its units.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Totals {
    /// Length of all lines and arcs.
    pub cutting: f64,
    /// Length of all rapid moves, taken straight.
    pub rapid: f64,
    /// Time of all moves and dwells whose time is known, in seconds.
    pub seconds: f64,
    /// Moves whose time is not known.
    pub untimed: usize,
    /// Lowest Z of any move's end.
    pub lowest: Option<f64>,
}

/// Adds up a trace.
#[must_use]
pub fn totals(trace: &Trace) -> Totals {
    let mut totals = Totals::default();
    for step in &trace.moves {
        let length = match step.kind {
            Kind::Rapid => &mut totals.rapid,
            Kind::Line | Kind::Arc => &mut totals.cutting,
        };
        *length += step.length();
        match step.seconds {
            Some(seconds) => totals.seconds += seconds,
            None => totals.untimed += 1,
        }
        let [.., z] = step.to;
        totals.lowest = Some(totals.lowest.map_or(z, |lowest| lowest.min(z)));
    }
    totals.seconds += trace.events.iter().map(|e| e.seconds).sum::<f64>();
    totals
}

/// How two traces differ.
#[derive(Debug, Clone, PartialEq)]
pub enum Comparison {
    /// The same moves; numbers apart by at most this.
    Same(Deviation),
    /// The moves differ in kind, direction, plane or feed: index of the first.
    Different(usize),
}

/// Largest distances between two traces of the same moves.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Deviation {
    /// Along any axis, between end points.
    pub ends: f64,
    /// Along any axis, between arc centres.
    pub centres: f64,
    /// Between feeds.
    pub feeds: f64,
    /// Between the turns of arcs.
    pub turns: f64,
}

/// Compares two traces move by move; both must be in the same units.
#[must_use]
pub fn compare(one: &Trace, other: &Trace) -> Comparison {
    let mut deviation = Deviation::default();
    for (index, (a, b)) in one.moves.iter().zip(&other.moves).enumerate() {
        if !same_shape(a, b) {
            return Comparison::Different(index);
        }
        deviation.ends = deviation.ends.max(apart(a.to, b.to)).max(apart(a.from, b.from));
        if let (Some(a), Some(b)) = (a.centre, b.centre) {
            deviation.centres = deviation.centres.max(apart(a, b));
        }
        deviation.feeds = deviation.feeds.max(between(a.feed, b.feed));
        deviation.turns = deviation.turns.max(between(a.turns, b.turns));
    }
    if one.moves.len() != other.moves.len() || one.units != other.units {
        return Comparison::Different(one.moves.len().min(other.moves.len()));
    }
    Comparison::Same(deviation)
}

fn same_shape(a: &TracedMove, b: &TracedMove) -> bool {
    (a.kind, a.plane, a.ccw, a.feed.is_some()) == (b.kind, b.plane, b.ccw, b.feed.is_some())
}

fn apart(a: [f64; 3], b: [f64; 3]) -> f64 {
    a.iter().zip(b).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
}

fn between(a: Option<f64>, b: Option<f64>) -> f64 {
    match (a, b) {
        (Some(a), Some(b)) => (a - b).abs(),
        (None, _) | (_, None) => 0.0,
    }
}
