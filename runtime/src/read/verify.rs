//! What can be said of a block without knowing the controller: words that stand twice, codes of one modal group
//! (NISTIR 6556, section 3.3.5 and Tables 4 to 7). Codes with computed numbers are looked at when the block runs.

use std::collections::BTreeMap;

use borewright_base::Span;

use crate::code::{Group, Miscellaneous, Preparatory};
use crate::errors::{self, Fault};
use crate::text::{Block, Content, Items, Word};

/// M words in one block (NISTIR 6556, section 3.3.5).
const MOST_M_WORDS: usize = 4;

/// Everything that is wrong with the words of a block.
pub(super) fn faults(block: &Block) -> Vec<Fault> {
    let Content::Items(items) = &block.content else { return Vec::new() };
    let mut faults = twice(items);
    let mut groups = Groups::default();
    let calls = items.words.iter().any(|w| w.letter == 'G' && tenths(w) == Some(650));
    for word in &items.words {
        match (word.letter, tenths(word)) {
            ('G', Some(tenths)) if calls && tenths != 650 => {
                faults.push(beside_call(word.span));
            }
            ('G', Some(tenths)) => {
                let group = Preparatory::from_tenths(tenths).map(Preparatory::group);
                faults.extend(group.and_then(|group| groups.enter(group, word.span).err()));
            }
            ('M', Some(tenths)) if !calls => {
                let group = Miscellaneous::from_number(tenths / 10).map(Miscellaneous::group);
                faults.extend(group.and_then(|group| groups.enter(group, word.span).err()));
            }
            ('N', _) => faults.push(late_sequence(word.span)),
            ('O', _) => faults.push(late_program_number(word.span)),
            _ => {}
        }
    }
    faults.extend(too_many_m_words(items));
    faults
}

/// Ten times the number of a word that is a plain number, to the nearest whole, within the tolerance of NISTIR
/// 6556, section 3.3.2.1.
pub(crate) fn tenths(word: &Word) -> Option<i64> {
    code_tenths(word.value.literal()?.float)
}

/// Ten times `value` where that is whole within 0.0001 (a G code) and not absurd.
#[allow(clippy::cast_possible_truncation, reason = "the range is checked")]
fn code_tenths(value: f64) -> Option<i64> {
    let tenths = value * 10.0;
    let whole = tenths.round();
    ((tenths - whole).abs() <= 0.0001 && (0.0..=9999.0).contains(&whole)).then_some(whole as i64)
}

fn twice(items: &Items) -> Vec<Fault> {
    let mut seen: BTreeMap<char, Span> = BTreeMap::new();
    let mut faults = Vec::new();
    for word in items.words.iter().filter(|w| !matches!(w.letter, 'G' | 'M')) {
        if let Some(first) = seen.insert(word.letter, word.span) {
            let fault = Fault::new(
                errors::WORD_TWICE,
                word.span,
                format!("{} stands twice in one block", word.letter),
            )
            .hint("a block takes each letter once, except G and M: make it two blocks");
            faults.push(fault.label(first, "the first one"));
        }
    }
    faults
}

fn too_many_m_words(items: &Items) -> Option<Fault> {
    let fifth = items.words.iter().filter(|w| w.letter == 'M').nth(MOST_M_WORDS)?;
    Some(
        Fault::new(errors::WORD_TWICE, fifth.span, "more than four M codes in one block")
            .hint("make it two blocks"),
    )
}

fn beside_call(span: Span) -> Fault {
    Fault::new(errors::SAME_MODAL_GROUP, span, "a G code beside G65")
        .hint("a macro call stands alone in its block: put the other code on the line before")
}

fn late_sequence(span: Span) -> Fault {
    Fault::new(errors::UNEXPECTED_CHARACTER, span, "an N number in the middle of a block")
        .hint("the N number comes first; start a new line")
}

fn late_program_number(span: Span) -> Fault {
    Fault::new(errors::UNEXPECTED_CHARACTER, span, "a program number O in the middle of a block")
        .hint("the O number stands first on a line of its own")
}

/// Collects the codes of one block and refuses two of one modal group.
#[derive(Debug, Default)]
pub(crate) struct Groups {
    seen: BTreeMap<Group, Span>,
}

impl Groups {
    /// Refuses a second code of a group.
    pub(crate) fn enter(&mut self, group: Group, span: Span) -> Result<(), Fault> {
        let Some(first) = self.seen.insert(group, span) else { return Ok(()) };
        let message = format!("two {} codes in one block", group.name());
        let fault = Fault::new(errors::SAME_MODAL_GROUP, span, message)
            .hint("only one code of a group can hold: delete one, or make it two blocks");
        Err(fault.label(first, "the first one"))
    }
}
