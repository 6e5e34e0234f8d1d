//! The trace for people: one line a move, events between them, a sum at the end.

use std::fmt::Write as _;

use super::{Trace, TracedEvent, TracedMove};
use crate::checks::totals;

impl Trace {
    /// A plain table in ASCII; lengths to four decimals.
    #[must_use]
    pub fn to_table(&self) -> String {
        let mut out = String::new();
        let head = ["line", "move", "X", "Y", "Z", "radius", "turns", "feed", "s"];
        push(&mut out, &head.map(str::to_owned));
        let mut events = self.events.iter().peekable();
        for (index, step) in self.moves.iter().enumerate() {
            while let Some(event) = events.next_if(|e| e.after <= index) {
                push_event(&mut out, event);
            }
            push(&mut out, &cells(step));
        }
        for event in events {
            push_event(&mut out, event);
        }
        for alarm in &self.alarms {
            let _ = writeln!(out, "{:>5}  ALARM {} {}", alarm.line, alarm.number, alarm.text);
        }
        self.push_totals(&mut out);
        out
    }

    fn push_totals(&self, out: &mut String) {
        let totals = totals(self);
        let _ = writeln!(
            out,
            "{} moves, {:.1} {u} cutting, {:.1} {u} rapid",
            self.moves.len(),
            totals.cutting,
            totals.rapid,
            u = self.units
        );
        if let Some(lowest) = totals.lowest {
            let _ = writeln!(out, "lowest Z {lowest:.4} {}", self.units);
        }
        let untimed =
            if totals.untimed > 0 { format!(", {} moves not timed", totals.untimed) } else { String::new() };
        let _ = writeln!(out, "time {:.1} s{untimed}", totals.seconds);
    }
}

/// One row; the columns are as wide as a machine's numbers need.
fn push(out: &mut String, cells: &[String; 9]) {
    let widths = [5, 6, 12, 12, 12, 11, 7, 9, 8];
    let mut line = String::new();
    for (cell, width) in cells.iter().zip(widths) {
        let _ = write!(line, "{cell:>width$}");
    }
    let _ = writeln!(out, "{}", line.trim_end());
}

fn push_event(out: &mut String, event: &TracedEvent) {
    let _ = writeln!(out, "{:>5}  -- {}: {}", event.line, event.kind, event.text);
}

fn cells(step: &TracedMove) -> [String; 9] {
    let [x, y, z] = step.to.map(|v| format!("{v:.4}"));
    let kind = match step.ccw {
        None => step.kind.name(),
        Some(true) => "ccw",
        Some(false) => "cw",
    };
    let maybe =
        |value: Option<f64>, decimals: usize| value.map(|v| format!("{v:.decimals$}")).unwrap_or_default();
    [
        step.line.to_string(),
        kind.to_owned(),
        x,
        y,
        z,
        maybe(step.radius(), 4),
        maybe(step.turns, 4),
        maybe(step.feed, 1),
        maybe(step.seconds, 2),
    ]
}
