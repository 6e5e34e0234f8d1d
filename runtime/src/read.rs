//! Read: from controller text to blocks of words, assignments and statements.
//!
//! Block form and expressions are those of NISTIR 6556, section 3.3. Statements with IF, WHILE, GOTO, subprograms
//! and O numbers are common practice of macro dialects, no source; [`crate::conform`] says what a given
//! controller does not know. The reader never stops at an error: the block is kept as unreadable, the rest is read.

mod block;
mod cursor;
mod expression;
mod verify;

use std::collections::BTreeMap;

use borewright_base::{Diagnostics, FileId, Span};

pub(crate) use verify::{Groups, tenths};

use crate::errors::{self, Fault};
use crate::text::{Block, Body, Content, Layout, Program};

/// Characters in a line of RS274/NGC (NISTIR 6556, section 3.3).
const LONGEST_LINE: usize = 256;

/// Something that only some dialects have, and where.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Note {
    pub(crate) feature: Feature,
    pub(crate) span: Span,
}

/// Things that only some dialects have, or read in their own way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Feature {
    /// AND, OR, XOR beside another operator without brackets.
    MixedLogic,
    /// An operator outside brackets: `#1 = #2 + 1`.
    BareOperator,
    /// `-#1`, `-[..]`.
    SignedValue,
    /// `ATAN[x]`.
    OneArgumentAtan,
    /// Brackets in one another, with their depth.
    Brackets(u32),
}

/// Reads a text. Every error is among the diagnostics; blocks with errors are [`Content::Unreadable`].
#[must_use]
pub fn read(file: FileId, text: &str) -> (Program, Diagnostics) {
    let mut reader = Reader::new(file);
    let mut base = 0;
    for (line, number) in text.split_inclusive('\n').zip(1..) {
        if !reader.line(line.trim_end_matches(['\n', '\r']), base, number) {
            break;
        }
        base += line.len();
    }
    reader.finish(text.len())
}

/// Text from bytes: what is not UTF-8 becomes a mark that [`read`] reports where it matters.
#[must_use]
pub fn decode(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

struct Reader {
    file: FileId,
    bodies: Vec<Body>,
    layout: Layout,
    diagnostics: Diagnostics,
    notes: Vec<Note>,
    started: bool,
}

impl Reader {
    fn new(file: FileId) -> Self {
        Self {
            file,
            bodies: Vec::new(),
            layout: Layout::default(),
            diagnostics: Diagnostics::default(),
            notes: Vec::new(),
            started: false,
        }
    }

    /// Reads one line; false when the text ends with it.
    fn line(&mut self, line: &str, base: usize, number: u32) -> bool {
        let span = Span::new(self.file, base..base + line.len());
        if line.len() > LONGEST_LINE && line.chars().count() > LONGEST_LINE {
            self.layout.long_lines.push(span);
        }
        let trimmed = line.trim_matches([' ', '\t', '\r', '\u{feff}']);
        if trimmed.is_empty() {
            return true;
        }
        if trimmed == "%" {
            return self.percent(span);
        }
        self.started = true;
        let line = line.strip_prefix('\u{feff}').map_or((line, base), |rest| (rest, base + 3));
        self.block(line.0, line.1, number);
        true
    }

    /// The first `%` opens a file that has not begun yet; any other ends it.
    fn percent(&mut self, span: Span) -> bool {
        if self.layout.opened.is_none() && !self.started {
            self.layout.opened = Some(span);
            return true;
        }
        self.layout.closed = Some(span);
        false
    }

    fn block(&mut self, line: &str, base: usize, number: u32) {
        let outcome = block::read_block(self.file, base, line, number, &mut self.notes);
        let block = match outcome {
            Ok(block::Line::Block(block)) => block,
            Ok(block::Line::Head { number, span, rest }) => {
                self.bodies.push(Body { number: Some(number), span, blocks: Vec::new() });
                match rest {
                    Some(block) => block,
                    None => return,
                }
            }
            Err(fault) => {
                self.diagnostics.report(fault.into());
                block::unreadable(self.file, base, line, number)
            }
        };
        if self.bodies.is_empty() {
            self.bodies.push(Body { number: None, span: block.span, blocks: Vec::new() });
        }
        if let Some(body) = self.bodies.last_mut() {
            body.blocks.push(block);
        }
    }

    fn finish(mut self, length: usize) -> (Program, Diagnostics) {
        if self.bodies.is_empty() {
            let span = Span::new(self.file, length..length);
            self.bodies.push(Body { number: None, span, blocks: Vec::new() });
        }
        self.refuse_equal_numbers();
        for body in &mut self.bodies {
            pair_loops(body, &mut self.diagnostics);
            for block in &mut body.blocks {
                for fault in verify::faults(block) {
                    self.diagnostics.report(fault.into());
                    block.content = Content::Unreadable;
                }
            }
        }
        let program =
            Program { file: self.file, bodies: self.bodies, layout: self.layout, notes: self.notes };
        (program, self.diagnostics)
    }

    fn refuse_equal_numbers(&mut self) {
        let mut seen: BTreeMap<u32, Span> = BTreeMap::new();
        for body in &self.bodies {
            let Some(number) = body.number else { continue };
            if let Some(first) = seen.insert(number, body.span) {
                let message = format!("there are two programs O{number} in this text");
                let fault = Fault::new(errors::PROGRAM_TWICE, body.span, message)
                    .hint("give one of them another number");
                self.diagnostics.report(fault.label(first, "the first one").into());
            }
        }
    }
}

/// Ties each WHILE to its END.
fn pair_loops(body: &mut Body, diagnostics: &mut Diagnostics) {
    let mut open: Vec<(usize, u32)> = Vec::new();
    let mut pairs: Vec<(usize, usize)> = Vec::new();
    let mut broken: Vec<usize> = Vec::new();
    for (index, block) in body.blocks.iter().enumerate() {
        match &block.content {
            Content::While { id, .. } => open.push((index, *id)),
            Content::End { id, .. } => match open.pop_if(|(_, opened)| opened == id) {
                Some((start, _)) => pairs.push((start, index)),
                None => {
                    broken.push(index);
                    diagnostics
                        .report(unmatched(block, &format!("END {id} closes no WHILE"), open.last()).into());
                }
            },
            Content::Items(_) | Content::If { .. } | Content::Goto(_) | Content::Unreadable => {}
        }
    }
    for (index, id) in open {
        broken.push(index);
        if let Some(block) = body.blocks.get(index) {
            let message = format!("WHILE .. DO {id} has no END {id}");
            diagnostics.report(unmatched(block, &message, None).into());
        }
    }
    for (first, last) in pairs {
        set_partner(body, first, last);
        set_partner(body, last, first);
    }
    for index in broken {
        if let Some(block) = body.blocks.get_mut(index) {
            block.content = Content::Unreadable;
        }
    }
}

fn set_partner(body: &mut Body, at: usize, partner: usize) {
    match body.blocks.get_mut(at).map(|b| &mut b.content) {
        Some(Content::While { end, .. }) => *end = partner,
        Some(Content::End { start, .. }) => *start = partner,
        _ => {}
    }
}

fn unmatched(block: &Block, message: &str, open: Option<&(usize, u32)>) -> Fault {
    let fault = Fault::new(errors::LOOP_UNMATCHED, block.span, message);
    match open {
        Some((_, id)) => fault.hint(format!("DO {id} is still open: loops close in the reverse order")),
        None => fault.hint("each WHILE [..] DO n needs one END n below it, in the same program"),
    }
}
