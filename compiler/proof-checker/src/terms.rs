//! From text to terms. Equal terms have one number; definitions stand in place of their names; conditions are terms.

use std::collections::BTreeMap;

use borewright_number::{Enclosure, Rational};
use indexmap::IndexMap;
use serde_json::Value::{self, String as Word};

use crate::{Checked, require};

/// Stands for a term.
pub(crate) type Id = usize;

/// No word is longer, and no term is nested deeper.
const MOST_LETTERS: usize = 2000;
const MOST_DEPTH: usize = 1000;

/// The orders of two terms: a sum of these may hold.
pub(crate) const LESS: u8 = 1;
pub(crate) const EQUAL: u8 = 2;
pub(crate) const GREATER: u8 = 4;

/// The relations that allow the orders 1 to 6: each as far from the one end as its opposite from the other.
const RELATIONS: [&str; 6] = ["<", "=", "<=", ">", "!=", ">="];

/// The orders seen from the other side.
pub(crate) fn swapped(orders: u8) -> u8 {
    (orders & EQUAL) | ((orders & LESS) << 2) | ((orders & GREATER) >> 2)
}

/// The first word, and the rest.
pub(crate) fn split(text: &Value) -> Checked<(&str, &[Value])> {
    let list = text.as_array().map_or(std::slice::from_ref(text), Vec::as_slice);
    let Some((Word(word), rest)) = list.split_first() else { return Err(format!("what is {text}?")) };
    Ok((word, rest))
}

/// All terms met so far.
#[derive(Debug, Default)]
pub(crate) struct Terms {
    /// What a term is and what it is made of, by number; and how deep it is. Of variables the name is `real x`.
    terms: IndexMap<(String, Vec<Id>), usize>,
    names: BTreeMap<String, Id>,
}

impl Terms {
    /// What a term is and what it is made of.
    pub(crate) fn get(&self, id: Id) -> (&str, &[Id]) {
        self.terms.get_index(id).map_or(("", &[]), |((name, parts), _)| (name, parts))
    }

    pub(crate) fn intern(&mut self, name: &str, parts: Vec<Id>) -> Checked<Id> {
        let depths = parts.iter().filter_map(|part| self.terms.get_index(*part));
        let depth = depths.map(|(_, depth)| depth + 1).max().unwrap_or(0);
        require(depth <= MOST_DEPTH, "defined too deeply")?;
        let entry = self.terms.entry((name.into(), parts));
        let id = entry.index();
        entry.or_insert(depth);
        Ok(id)
    }

    /// Gives a term a name that is still free.
    pub(crate) fn declare(&mut self, name: &str, id: Id) -> Checked<()> {
        let free = name != "pi" && Rational::from_fraction(name).is_none();
        let known = self.names.insert(name.into(), id).is_some();
        require(free && !known, "a name is not free")
    }

    pub(crate) fn variable(&mut self, name: &str) -> Checked<Id> {
        let variable = self.intern(&format!("real {name}"), Vec::new())?;
        self.declare(name, variable).map(|()| variable)
    }

    /// The term of a text, in which the given words stand for terms.
    pub(crate) fn term(&mut self, text: &Value, words: &[(&str, Id)]) -> Checked<Id> {
        let (word, rest) = split(text)?;
        require(word.len() <= MOST_LETTERS, "a word is too long")?;
        let given = words.iter().find(|(known, _)| *known == word).map(|(_, id)| id);
        if let (Some(id), []) = (given.or_else(|| self.names.get(word)), rest) {
            return Ok(*id);
        }
        let parts: Vec<Id> = rest.iter().map(|part| self.term(part, words)).collect::<Checked<_>>()?;
        match (word, parts.as_slice(), Rational::from_fraction(word)) {
            (_, [], Some(value)) => self.intern(&value.to_string(), parts),
            ("not", [condition], _) => self.negated(*condition),
            ("/", &[a, b], _) if let Some(inverse) = self.number(b).and_then(|b| b.recip()) => {
                let inverse = self.intern(&inverse.to_string(), Vec::new())?;
                self.intern("*", vec![inverse, a])
            }
            ("and" | "or", ..) => self.intern(word, parts),
            (_, [_, _], _) if RELATIONS.contains(&word) => self.intern(word, parts),
            (_, all, _) if Enclosure::of(word, &vec![Enclosure::ENTIRE; all.len()]).is_some() => {
                self.intern(word, parts)
            }
            _ => Err(format!("what is `{word}` of {}?", parts.len())),
        }
    }

    /// The opposite of a condition, the negation pushed down to the comparisons.
    pub(crate) fn negated(&mut self, id: Id) -> Checked<Id> {
        let (name, parts) = self.get(id);
        let (name, mut parts) = (name.to_owned(), parts.to_vec());
        if let "and" | "or" = name.as_str() {
            parts = parts.into_iter().map(|part| self.negated(part)).collect::<Checked<_>>()?;
            return self.intern(if name == "and" { "or" } else { "and" }, parts);
        }
        let opposite = RELATIONS.iter().rev().zip(RELATIONS).find(|(_, relation)| *relation == name);
        self.intern(opposite.ok_or("no condition")?.0, parts)
    }

    /// The orders that a comparison allows between two terms.
    pub(crate) fn comparison(&self, id: Id) -> Option<(u8, Id, Id)> {
        let (name, &[a, b]) = self.get(id) else { return None };
        (1..).zip(RELATIONS).find(|(_, relation)| *relation == name).map(|(orders, _)| (orders, a, b))
    }

    /// The conditions that are joined by `and`.
    pub(crate) fn conjuncts(&self, id: Id) -> Vec<Id> {
        match self.get(id) {
            ("and", parts) => parts.iter().flat_map(|part| self.conjuncts(*part)).collect(),
            _ => vec![id],
        }
    }

    pub(crate) fn number(&self, id: Id) -> Option<Rational> {
        Rational::from_fraction(self.get(id).0)
    }
}
