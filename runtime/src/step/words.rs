//! The words of a block with their values: all are read before anything happens (NISTIR 6556, section 3.3.3).

use borewright_base::Span;

use super::{Outcome, Stepper};
use crate::code::{Miscellaneous, Preparatory};
use crate::controller::Pointless;
use crate::errors::{self, Fault};
use crate::read::Groups;
use crate::state::Units;
use crate::text::{Items, Word};
use crate::value::Value;

/// Letters whose values are lengths.
const LENGTHS: &str = "XYZIJKRUVWQ";
/// Letters of a macro call whose values count increments where a decimal point is missing; D, E, F, H, M, S and T
/// are whole numbers there (common practice, no source: controllers differ).
const CALL_LENGTHS: &str = "ABCIJKQRUVWXYZ";

/// The words of one block.
pub(super) struct Words<V> {
    pub(super) codes: Vec<(Preparatory, Span)>,
    pub(super) miscellaneous: Vec<(Miscellaneous, Span)>,
    values: Vec<Valued<V>>,
}

struct Valued<V> {
    letter: char,
    value: V,
    span: Span,
    used: bool,
}

impl<V: Value> Stepper<'_, V> {
    /// Reads all words; vacant ones count as not written (common practice of macro dialects, no source).
    pub(super) fn read_words(&mut self, items: &Items) -> Outcome<V, Words<V>> {
        let mut words = Words { codes: Vec::new(), miscellaneous: Vec::new(), values: Vec::new() };
        let mut groups = Groups::default();
        let call = self.is_macro_call(items)?;
        for word in &items.words {
            let Some(value) = self.word(word, if call { CALL_LENGTHS } else { LENGTHS })? else { continue };
            match word.letter {
                'G' => {
                    let tenths = self.code(&value, 'G', word.span)?;
                    if !self.controller.ignored_codes.contains(&tenths) {
                        let code = self.controller.preparatory(tenths);
                        let code = code.ok_or_else(|| errors::unknown_code('G', tenths, word.span))?;
                        groups.enter(code.group(), word.span)?;
                        words.codes.push((code, word.span));
                    }
                }
                'M' if !call => {
                    let tenths = self.code(&value, 'M', word.span)?;
                    let code =
                        (tenths % 10 == 0).then(|| self.controller.miscellaneous(tenths / 10)).flatten();
                    let code = code.ok_or_else(|| errors::unknown_code('M', tenths, word.span))?;
                    groups.enter(code.group(), word.span)?;
                    words.miscellaneous.push((code, word.span));
                }
                letter => words.values.push(Valued { letter, value, span: word.span, used: false }),
            }
        }
        Ok(words)
    }

    /// In a macro call every letter but G, L, N, O and P is an argument, M too.
    fn is_macro_call(&mut self, items: &Items) -> Outcome<V, bool> {
        for word in items.words.iter().filter(|w| w.letter == 'G') {
            let value = self.number(&word.value, word.span)?;
            let tenths = value.and_then(|v| v.multiply(&V::integer(10)).whole());
            if tenths.and_then(|t| self.controller.preparatory(t)) == Some(Preparatory::Call) {
                return Ok(true);
            }
        }
        Ok(false)
    }

    fn word(&mut self, word: &Word, lengths: &str) -> Outcome<V, Option<V>> {
        let literal = word.value.literal().filter(|n| !n.point && lengths.contains(word.letter));
        if let (Some(number), Pointless::Increments(decimals)) = (literal, self.controller.pointless) {
            // The units that hold when the value is read: those before the block.
            let units = self.now.units.unwrap_or(self.controller.units);
            return Ok(Some(V::number(number.as_increments(decimals.of(units)))));
        }
        self.number(&word.value, word.span)
    }

    fn code(&self, value: &V, letter: char, span: Span) -> Outcome<V, i64> {
        let tenths = value.multiply(&V::integer(10)).whole();
        let tenths = tenths.filter(|t| (0..=9999).contains(t));
        tenths.ok_or_else(|| {
            Fault::new(errors::WORD_VALUE, span, format!("the number after {letter} is no code"))
                .hint("codes are numbers such as G1, G59.1 or M30")
                .into()
        })
    }
}

impl<V: Value> Words<V> {
    /// The value of a letter, which counts as used from now on.
    pub(super) fn take(&mut self, letter: char) -> Option<(V, Span)> {
        let word = self.values.iter_mut().find(|w| w.letter == letter)?;
        word.used = true;
        Some((word.value.clone(), word.span))
    }

    /// True if the letter stands in the block and nothing has used it.
    pub(super) fn has(&self, letter: char) -> bool {
        self.values.iter().any(|w| w.letter == letter && !w.used)
    }

    /// True if the letter stands in the block at all.
    pub(super) fn was_written(&self, letter: char) -> bool {
        self.values.iter().any(|w| w.letter == letter)
    }

    /// True if an axis waits to be used; those that are not modelled too, so that they are refused by name.
    pub(super) fn has_axis(&self) -> bool {
        "XYZABCUVW".chars().any(|c| self.has(c))
    }

    /// Everything not used yet, marked as used.
    pub(super) fn take_all(&mut self) -> Vec<(char, V, Span)> {
        let unused = self.values.iter_mut().filter(|w| !w.used);
        unused
            .map(|w| {
                w.used = true;
                (w.letter, w.value.clone(), w.span)
            })
            .collect()
    }

    /// The first code that `wanted` accepts.
    pub(super) fn code<T>(&self, wanted: impl Fn(Preparatory) -> Option<T>) -> Option<(T, Span)> {
        self.codes.iter().find_map(|(code, span)| wanted(*code).map(|t| (t, *span)))
    }

    /// The place of a plain code such as G4.
    pub(super) fn place(&self, wanted: Preparatory) -> Option<Span> {
        self.codes.iter().find(|(code, _)| *code == wanted).map(|(_, span)| *span)
    }

    /// The first M code that `wanted` accepts.
    pub(super) fn misc<T>(&self, wanted: impl Fn(Miscellaneous) -> Option<T>) -> Option<(T, Span)> {
        self.miscellaneous.iter().find_map(|(code, span)| wanted(*code).map(|t| (t, *span)))
    }

    /// Nothing is skipped silently: a word that nothing used is an error.
    pub(super) fn refuse_unused(&self) -> Result<(), Fault> {
        match self.values.iter().find(|w| !w.used) {
            None => Ok(()),
            Some(word) => Err(Fault::new(
                errors::UNUSED_WORD,
                word.span,
                format!("nothing in this block uses the word {}", word.letter),
            )
            .hint("delete it, or add the code that it belongs to")),
        }
    }
}

/// Millimetres in an inch, exactly.
pub(super) fn conversion<V: Value>(value: &V, from: Units, to: Units) -> V {
    let inch = V::number(crate::text::Number { mantissa: 254, decimals: 1, point: true, float: 25.4 });
    match (from, to) {
        (Units::Inch, Units::Millimetre) => value.multiply(&inch),
        (Units::Millimetre, Units::Inch) => value.divide(&inch),
        (Units::Inch, Units::Inch) | (Units::Millimetre, Units::Millimetre) => value.clone(),
    }
}
