//! What a user asks for on the command line: a call such as `G65 P9010 B50. D10.` and settings such as `#101=50`.

use borewright_base::{FileId, Span};

use crate::errors::{self, Fault};
use crate::read::read;
use crate::state::Units;
use crate::text::{Block, Content};

/// A call to run instead of the main program.
#[derive(Debug, Clone, PartialEq)]
pub struct Request(pub(super) Block);

/// A variable to set before the run.
#[derive(Debug, Clone, PartialEq)]
pub struct Setting(pub(super) Block);

/// Reads a call. Spans lie in `text` under the id `file`.
///
/// # Errors
/// When the text is no call of a program.
pub fn parse_call(file: FileId, text: &str) -> Result<Request, Fault> {
    let block = one_block(file, text)?;
    let Content::Items(items) = &block.content else { return Err(not_a_call(&block)) };
    let calls = items.words.iter().any(|word| {
        let code = word.value.literal().map(|n| n.float.round());
        matches!((word.letter, code), ('G', Some(65.0)) | ('M', Some(98.0)))
    });
    if calls && items.assignments.is_empty() { Ok(Request(block)) } else { Err(not_a_call(&block)) }
}

/// Reads a block that runs before a call, such as `G49`.
///
/// # Errors
/// When the text is not one block.
pub fn parse_block(file: FileId, text: &str) -> Result<Request, Fault> {
    one_block(file, text).map(Request)
}

/// Reads a setting.
///
/// # Errors
/// When the text is no assignment to a variable.
pub fn parse_set(file: FileId, text: &str) -> Result<Setting, Fault> {
    let block = one_block(file, text)?;
    match &block.content {
        Content::Items(items) if items.words.is_empty() && !items.assignments.is_empty() => {
            Ok(Setting(block))
        }
        Content::Items(_)
        | Content::If { .. }
        | Content::While { .. }
        | Content::End { .. }
        | Content::Goto(_)
        | Content::Unreadable => {
            Err(Fault::new(errors::NOT_A_CALL, block.span, format!("`{}` sets no variable", text.trim()))
                .hint("write for example #101=50"))
        }
    }
}

/// A cutter offset before the run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CutterOffset {
    /// Its D number.
    pub d: u32,
    /// What the controller keeps, a radius or a diameter.
    pub value: f64,
    /// Unit of the value.
    pub units: Units,
}

impl CutterOffset {
    /// The value in other units.
    #[must_use]
    pub fn within(self, units: Units) -> f64 {
        match (self.units, units) {
            (Units::Inch, Units::Millimetre) => self.value * 25.4,
            (Units::Millimetre, Units::Inch) => self.value / 25.4,
            (Units::Inch, Units::Inch) | (Units::Millimetre, Units::Millimetre) => self.value,
        }
    }
}

/// Reads a cutter offset: `1=0.05mm`.
///
/// # Errors
/// When the text is no D number with a length.
pub fn parse_offset(file: FileId, text: &str) -> Result<CutterOffset, Fault> {
    let of = |text: &str| {
        let (d, length) = text.split_once('=')?;
        let d = d.trim().trim_start_matches('D').parse().ok()?;
        let length = length.trim();
        let metric = length.strip_suffix("mm").map(|value| (value, Units::Millimetre));
        let (value, units) =
            metric.or_else(|| length.strip_suffix("in").map(|value| (value, Units::Inch)))?;
        let value: f64 = value.trim().parse().ok().filter(|v: &f64| v.is_finite())?;
        Some(CutterOffset { d, value, units })
    };
    of(text).ok_or_else(|| {
        let span = Span::new(file, 0..text.len());
        Fault::new(errors::NOT_A_CALL, span, format!("`{}` is no cutter offset", text.trim()))
            .hint("write the D number and a length with its unit, for example 1=0.05mm")
    })
}

fn one_block(file: FileId, text: &str) -> Result<Block, Fault> {
    let (program, diagnostics) = read(file, text);
    if let Some(first) = diagnostics.into_sorted().into_iter().next() {
        return Err(first.into());
    }
    let mut blocks = program.bodies.into_iter().flat_map(|body| body.blocks);
    match (blocks.next(), blocks.next()) {
        (Some(block), None) => Ok(block),
        (None, _) | (Some(_), Some(_)) => {
            let span = Span::new(file, 0..text.len());
            Err(Fault::new(errors::NOT_A_CALL, span, format!("`{}` is not one block", text.trim()))
                .hint("write for example G65 P9010 B50. D10., or #101=50"))
        }
    }
}

fn not_a_call(block: &Block) -> Fault {
    Fault::new(errors::NOT_A_CALL, block.span, "this calls no program")
        .hint("write for example G65 P9010 B50. D10.")
}
