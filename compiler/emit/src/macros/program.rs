//! A macro under way: lines with unnumbered variables, which get their numbers at the end.
//!
//! Variables are counted only once every line is there, so that a number can serve again where the value
//! before it is no longer needed: a controller has few of them.

use std::collections::BTreeMap;

use borewright_base::{Diagnostic, Span};
use borewright_machine::Machine;

use crate::errors;
use crate::writer::Writer;

/// A variable that has no number yet. In lines it stands as one character of Unicode's private area, which no
/// text from a source can hold: those are plain ASCII.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Slot(u32);

const FIRST: u32 = 0xE000;
const LAST: u32 = 0xF8FF;

impl Slot {
    /// `#` and the stand-in for its number.
    pub(super) fn text(self) -> String {
        format!("#{}", self.stand_in())
    }

    fn stand_in(self) -> char {
        char::from_u32(FIRST + self.0).unwrap_or('?')
    }

    fn of(c: char) -> Option<Self> {
        let code = u32::from(c);
        (FIRST..=LAST).contains(&code).then(|| Self(code - FIRST))
    }
}

/// A macro's lines.
pub(super) struct Program<'m> {
    pub(super) machine: &'m Machine,
    pub(super) w: Writer<'m>,
    slots: u32,
    labels: u32,
    /// First and last line of each loop, the outer ones after the inner ones.
    loops: Vec<(usize, usize)>,
    /// Alarms in the order of their guards: label, text, source.
    alarms: Vec<(u32, String, Option<Span>)>,
    /// Every guard in order: the label of its alarm, and its source.
    guards: Vec<(u32, Option<Span>)>,
    /// Every guard in order: the number of its alarm, and its source.
    pub(super) raised: Vec<(u32, Option<Span>)>,
    /// What the author should know.
    pub(super) warnings: Vec<Diagnostic>,
}

/// Labels of alarms start here: a person sees from the number what a jump is for.
const ALARM_LABELS: u32 = 100;

impl<'m> Program<'m> {
    pub(super) fn new(machine: &'m Machine) -> Self {
        Self {
            machine,
            w: Writer::new(machine, false),
            slots: 0,
            labels: 0,
            loops: Vec::new(),
            alarms: Vec::new(),
            guards: Vec::new(),
            raised: Vec::new(),
            warnings: Vec::new(),
        }
    }

    /// A fresh variable.
    pub(super) fn slot(&mut self, span: Span) -> Result<Slot, Diagnostic> {
        let slot = Slot(self.slots);
        self.slots += 1;
        (FIRST + slot.0 <= LAST).then_some(slot).ok_or_else(|| too_many(span, "6400"))
    }

    /// A fresh label.
    pub(super) fn label(&mut self) -> u32 {
        self.labels += 1;
        self.labels
    }

    /// The label of the alarm with this text; one alarm serves all guards with the same text.
    pub(super) fn alarm(&mut self, text: &str, span: Option<Span>) -> u32 {
        let known = self.alarms.iter().find(|(_, t, _)| t == text).map(|(label, ..)| *label);
        let label = known.unwrap_or_else(|| {
            let label = ALARM_LABELS + u32::try_from(self.alarms.len()).unwrap_or(0) + 1;
            self.alarms.push((label, text.to_owned(), span));
            label
        });
        self.guards.push((label, span));
        label
    }

    /// Notes where a loop begins; [`Self::loop_end`] takes what it gives.
    pub(super) fn loop_start(&self) -> usize {
        self.w.count()
    }

    pub(super) fn loop_end(&mut self, start: usize) {
        self.loops.push((start, self.w.count()));
    }

    /// The alarms, below everything else.
    pub(super) fn write_alarms(&mut self, span: Span, end: Option<u32>) -> Result<(), Diagnostic> {
        let alarms = std::mem::take(&mut self.alarms);
        let (numbers, most) = (self.machine.alarms.numbers, self.machine.alarms.text_length);
        let mut numbered: BTreeMap<u32, u32> = BTreeMap::new();
        for (i, (label, text, source)) in alarms.iter().enumerate() {
            match self.machine.alarms.variable {
                Some(variable) => {
                    let number = numbers.numbers().nth(i).ok_or_else(|| {
                        let text = format!("it needs {} alarms, more than the machine has", alarms.len());
                        Diagnostic::error(errors::NO_MACRO_FORM, span, text)
                    })?;
                    numbered.insert(*label, number);
                    let shown = self.w.alarm(*label, variable, number, text, *source);
                    self.warnings
                        .extend(shown.map(|shown| cut_text(text, &shown, most, source.unwrap_or(span))));
                }
                None => {
                    self.w.label(*label);
                    self.w.block(crate::writer::Block::code("M0").note(text), span);
                    if let Some(end) = end {
                        self.w.jump(end);
                    }
                }
            }
        }
        let number = |(label, span): &(u32, Option<Span>)| Some((*numbered.get(label)?, *span));
        self.raised = self.guards.iter().filter_map(number).collect();
        if self.labels >= ALARM_LABELS || ALARM_LABELS + 100 > self.machine.flow.greatest_label.max(200) {
            return Err(Diagnostic::error(
                errors::NO_MACRO_FORM,
                span,
                "it needs more labels than the machine allows",
            ));
        }
        Ok(())
    }

    /// Gives every slot a number of `free`, in order, and writes it into the lines. Where those do not suffice, an
    /// argument that nothing needs any more makes room.
    pub(super) fn number(
        mut self,
        free: &[u32],
        arguments: &[u32],
        span: Span,
    ) -> Result<Writer<'m>, Diagnostic> {
        let mut ranges = self.ranges();
        let mut numbers: BTreeMap<Slot, u32> = BTreeMap::new();
        let mut busy: BTreeMap<u32, usize> =
            arguments.iter().map(|n| (*n, self.last_use(&format!("#{n}")))).collect();
        ranges.sort_by_key(|(slot, (first, _))| (*first, *slot));
        for (slot, (first, last)) in ranges {
            busy.retain(|_, end| *end >= first);
            let number = free.iter().chain(arguments).find(|n| !busy.contains_key(n)).copied();
            let number = number.ok_or_else(|| too_many(span, &free.len().to_string()))?;
            busy.insert(number, last);
            numbers.insert(slot, number);
        }
        self.w.rewrite(|c| Slot::of(c).map(|slot| numbers.get(&slot).map_or(String::new(), u32::to_string)));
        Ok(self.w)
    }

    /// The last line on which an argument is needed.
    fn last_use(&self, variable: &str) -> usize {
        let here = |text: &str| {
            let mut ends = text.match_indices(variable).map(|(at, found)| at + found.len());
            ends.any(|end| {
                !text.get(end..).is_some_and(|rest| rest.starts_with(|c: char| c.is_ascii_digit()))
            })
        };
        let last = self.w.texts().enumerate().filter(|(_, text)| here(text)).map(|(i, _)| i).last();
        self.in_loops((0, last.unwrap_or(0))).1
    }

    /// What comes into a loop from outside is needed in its last turn as well.
    fn in_loops(&self, (first, mut last): (usize, usize)) -> (usize, usize) {
        for (start, end) in &self.loops {
            if first < *start && last >= *start && last < *end {
                last = *end;
            }
        }
        (first, last)
    }

    /// First and last line that each slot is needed on.
    fn ranges(&self) -> Vec<(Slot, (usize, usize))> {
        let mut ranges: BTreeMap<Slot, (usize, usize)> = BTreeMap::new();
        for (i, text) in self.w.texts().enumerate() {
            for slot in text.chars().filter_map(Slot::of) {
                ranges.entry(slot).or_insert((i, i)).1 = i;
            }
        }
        ranges.into_iter().map(|(slot, range)| (slot, self.in_loops(range))).collect()
    }
}

fn cut_text(text: &str, shown: &str, most: usize, span: Span) -> Diagnostic {
    let message = format!("the control shows only `{shown}` of the alarm `{text}`");
    Diagnostic::warning(errors::ALARM_CUT, span, message)
        .hint(format!("say it in {most} characters or fewer"))
}

fn too_many(span: Span, free: &str) -> Diagnostic {
    Diagnostic::error(
        errors::TOO_MANY_VARIABLES,
        span,
        format!("it needs more than the {free} variables left to it"),
    )
    .hint("fewer parameters or lets, or a machine file that gives more variables")
}
