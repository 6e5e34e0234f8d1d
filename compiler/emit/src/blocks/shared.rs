//! Blocks that come again: on a machine that calls programs but keeps no variables, what a pass does in the plane is
//! written once and called at each of its heights.
//!
//! The main program keeps every height, every rapid move and every mode, so that it reads as the list of its heights and
//! may be begun again at any of them. A subprogram holds feed moves along X and Y alone, absolute as everywhere: the same
//! blocks as would stand in the main program. It is called and left only where a height is changed, never where moves
//! flow into each other. What comes once, or is too short to gain by it, stays where it is.

use std::collections::BTreeMap;

use borewright_base::Span;
use borewright_machine::Machine;
use borewright_motion::Motion;
use borewright_proof::Interface;

use crate::writer::Writer;
use crate::{Bounds, EmittedFile, Form, header};

/// A line with the source that it serves.
type Line = (String, Option<Span>);

/// A subprogram of plain blocks.
pub(super) struct Shared {
    pub(super) number: u32,
    text: String,
    spans: Vec<Option<Span>>,
}

impl Shared {
    /// As a file beside its main program.
    pub(super) fn file(self, motion: &Motion, machine: &Machine, bounds: &Bounds) -> EmittedFile {
        EmittedFile {
            name: header::file_name(motion, Some(self.number), machine),
            text: self.text,
            lines: self.spans,
            program: Some(self.number),
            form: Form::Blocks,
            bounds: bounds.clone(),
            warnings: Vec::new(),
            interface: Interface { of: motion.span, ..Interface::default() },
        }
    }
}

/// What a block does to the path.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Part {
    /// Says something, moves nothing.
    Comment,
    /// Feeds along X and Y alone.
    Plane,
    /// Changes the height alone, or moves at rapid: nothing flows across it.
    Apart,
    /// Anything else.
    Other,
}

/// The lines of a main program with calls in them, and what they call; `own` is the number of the main program.
pub(super) fn share(
    lines: Vec<Line>,
    own: u32,
    motion: &Motion,
    machine: &Machine,
) -> (Vec<Line>, Vec<Shared>) {
    let stretches = stretches(&lines, machine);
    let mut alike: BTreeMap<Vec<&str>, Vec<usize>> = BTreeMap::new();
    for (start, end) in &stretches {
        let text = lines.get(*start..*end).unwrap_or_default().iter().map(|(text, _)| text.as_str());
        alike.entry(text.collect()).or_default().push(*start);
    }
    let mut groups: Vec<Vec<usize>> = alike.into_values().filter(|starts| starts.len() > 1).collect();
    groups.sort();
    let mut calls: BTreeMap<usize, (usize, u32)> = BTreeMap::new();
    let mut shared: Vec<Shared> = Vec::new();
    for starts in groups {
        let Some((start, end)) = stretches.iter().find(|(start, _)| Some(start) == starts.first()) else {
            continue;
        };
        let next = own.saturating_add(1 + u32::try_from(shared.len()).unwrap_or(u32::MAX));
        let Ok(number) = header::allowed(next, motion.span, machine) else { break };
        let body = lines.get(*start..*end).unwrap_or_default();
        let made = subprogram(body, number, own, motion, machine);
        let call = call_of(number, machine).len() + 1;
        let long: usize = body.iter().map(|(text, _)| text.len() + 1).sum();
        if starts.len() * long > made.text.len() + starts.len() * call {
            calls.extend(starts.iter().map(|at| (*at, (end - start, number))));
            shared.push(made);
        }
    }
    (with_calls(lines, &calls, machine), shared)
}

/// Stretches of blocks along X and Y between two changes of the height, each from its first line to behind its last. The
/// first states its feed, so that it does not matter where the stretch is called.
fn stretches(lines: &[Line], machine: &Machine) -> Vec<(usize, usize)> {
    let parts: Vec<Part> = lines.iter().map(|(text, _)| part(text, machine)).collect();
    let is_apart = |part: Option<&Part>| part == Some(&Part::Apart);
    let mut found = Vec::new();
    let mut at = 0;
    while at < parts.len() {
        let long = parts.iter().skip(at).take_while(|part| **part == Part::Plane).count();
        if long > 0 {
            let end = at + long;
            let before = parts.iter().take(at).rev().find(|part| **part != Part::Comment);
            let behind = parts.iter().skip(end).find(|part| **part != Part::Comment);
            let feeds =
                lines.get(at).is_some_and(|(text, _)| words(text, machine).any(|w| w.starts_with('F')));
            if is_apart(before) && is_apart(behind) && feeds {
                found.push((at, end));
            }
        }
        at += long.max(1);
    }
    found
}

fn words<'t>(text: &'t str, machine: &Machine) -> impl Iterator<Item = &'t str> {
    text.split(machine.text.open).next().unwrap_or_default().split_whitespace()
}

fn part(text: &str, machine: &Machine) -> Part {
    let mut words = words(text, machine);
    let Some(code) = words.next() else { return Part::Comment };
    let letters: Vec<char> = words.filter_map(|word| word.chars().next()).collect();
    let only = |known: &str| letters.iter().all(|letter| known.contains(*letter));
    let plane = letters.iter().any(|letter| matches!(letter, 'X' | 'Y'));
    match code {
        "G1" | "G2" | "G3" if plane && only("XYIJF") => Part::Plane,
        "G1" if only("ZF") => Part::Apart,
        "G0" => Part::Apart,
        _ => Part::Other,
    }
}

fn subprogram(body: &[Line], number: u32, own: u32, motion: &Motion, machine: &Machine) -> Shared {
    let mut w = Writer::new(machine, false);
    if machine.programs.percent {
        w.percent();
    }
    let word = header::program_word(number, machine);
    let main = header::program_word(own, machine).unwrap_or_default();
    w.title(word.as_deref(), &format!("{}, WHAT COMES AGAIN", motion.name));
    w.comment(&format!("CALLED BY {main}, WHICH SETS UNITS, OFFSETS AND HEIGHT: NEVER RUN IT BY ITSELF"));
    w.comment("X AND Y FROM THE WORK ZERO, Z STAYS. MODES ARE LEFT AS THIS BLOCK STATES THEM:");
    w.raw(&machine.words.routine_start);
    w.extend(body.iter().cloned());
    w.raw(machine.calls.back.as_deref().unwrap_or_default());
    if machine.programs.percent {
        w.percent();
    }
    let (text, spans) = w.finish();
    Shared { number, text, spans }
}

fn call_of(number: u32, machine: &Machine) -> String {
    format!("{} P{number}", machine.calls.subprogram.as_deref().unwrap_or_default())
}

/// The lines with a call in the place of each stretch that has one.
fn with_calls(lines: Vec<Line>, calls: &BTreeMap<usize, (usize, u32)>, machine: &Machine) -> Vec<Line> {
    let mut left = 0usize;
    let mut written = Vec::with_capacity(lines.len());
    for (i, line) in lines.into_iter().enumerate() {
        if let Some((long, number)) = calls.get(&i) {
            written.push((call_of(*number, machine), line.1));
            left = *long;
        } else if left == 0 {
            written.push(line);
        }
        left = left.saturating_sub(1);
    }
    written
}
