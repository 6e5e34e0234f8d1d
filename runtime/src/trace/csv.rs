//! The moves as comma-separated values, one a line, for spreadsheets.

use std::fmt::Write as _;

use super::{Trace, TracedMove};

impl Trace {
    /// Moves as CSV with a head line; a column without a value is empty.
    #[must_use]
    pub fn to_csv(&self) -> String {
        let mut out = String::from(
            "line,kind,from_x,from_y,from_z,to_x,to_y,to_z,centre_x,centre_y,centre_z,plane,ccw,turns,feed,seconds\n",
        );
        for step in &self.moves {
            // Writing to a string cannot fail.
            let _ = writeln!(out, "{}", row(step));
        }
        out
    }
}

fn row(step: &TracedMove) -> String {
    let numbers = |triple: [f64; 3]| triple.map(|v| v.to_string()).join(",");
    let maybe = |value: Option<f64>| value.map(|v| v.to_string()).unwrap_or_default();
    [
        step.line.to_string(),
        step.kind.name().to_owned(),
        numbers(step.from),
        numbers(step.to),
        step.centre.map_or_else(|| ",,".to_owned(), numbers),
        step.plane.unwrap_or_default().to_owned(),
        step.ccw.map(|c| c.to_string()).unwrap_or_default(),
        maybe(step.turns),
        maybe(step.feed),
        maybe(step.seconds),
    ]
    .join(",")
}
