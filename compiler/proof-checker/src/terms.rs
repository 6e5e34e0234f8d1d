//! From text to terms. Equal terms have one number; definitions stand in place of their names; conditions are terms.

use std::collections::{BTreeMap, HashMap};
use std::rc::Rc;

use borewright_number::Rational;
use serde_json::Value::{self, Array, String as Word};

use crate::{Checked, require};

/// Stands for a term.
pub(crate) type Id = usize;

/// What a term is and what it is made of. Of variables the name is `real x` or `whole n`.
#[derive(Debug, Default, PartialEq, Eq, Hash)]
pub(crate) struct Term(String, Vec<Id>);

/// The orders of two terms: a sum of these may hold.
pub(crate) const LESS: u8 = 1;
pub(crate) const EQUAL: u8 = 2;
pub(crate) const GREATER: u8 = 4;

/// The relations that allow the orders 1 to 6: each as far from the one end as its opposite from the other.
const RELATIONS: [&str; 6] = ["<", "=", "<=", ">", "!=", ">="];

/// The operations and relations, by their number of parts.
const OPERATIONS: [&[&str]; 4] = [
    &["pi"],
    &["abs", "sqrt", "sin", "cos", "atan", "acos", "ceil", "floor"],
    &["+", "-", "*", "/", "min", "max", "<", "=", "<=", ">", "!=", ">="],
    &["if"],
];

/// The orders seen from the other side.
pub(crate) fn swapped(orders: u8) -> u8 {
    (orders & EQUAL) | ((orders & LESS) << 2) | ((orders & GREATER) >> 2)
}

/// Words, and lists of expressions.
pub(crate) fn read(text: &str) -> Checked<Value> {
    let mut open = vec![Vec::new()];
    for word in text.replace('(', " ( ").replace(')', " ) ").split_whitespace() {
        if word == "(" {
            open.push(Vec::new());
        } else {
            let part = if word == ")" { Array(open.pop().unwrap_or_default()) } else { Word(word.into()) };
            open.last_mut().ok_or("a `)` too many")?.push(part);
        }
        require(open.len() <= 800, "nested too deeply")?;
    }
    match open.as_mut_slice() {
        [list] if list.len() == 1 => Ok(list.remove(0)),
        _ => Err(format!("not one expression: {text}")),
    }
}

/// The first word, and the rest.
pub(crate) fn split(text: &Value) -> Checked<(&str, &[Value])> {
    let list = text.as_array().map_or(std::slice::from_ref(text), Vec::as_slice);
    let Some((Word(word), rest)) = list.split_first() else { return Err(format!("what is {text}?")) };
    Ok((word, rest))
}

impl Term {
    pub(crate) fn view(&self) -> (&str, &[Id]) {
        (&self.0, &self.1)
    }
}

/// All terms met so far, with their depths.
#[derive(Debug, Default)]
pub(crate) struct Terms {
    terms: Vec<(Rc<Term>, usize)>,
    index: HashMap<Rc<Term>, Id>,
    names: BTreeMap<String, Id>,
}

impl Terms {
    pub(crate) fn get(&self, id: Id) -> Rc<Term> {
        self.terms.get(id).map(|(term, _)| term.clone()).unwrap_or_default()
    }

    pub(crate) fn intern(&mut self, name: &str, parts: Vec<Id>) -> Checked<Id> {
        let depths = parts.iter().filter_map(|part| self.terms.get(*part));
        let depth = depths.map(|(_, depth)| depth + 1).max().unwrap_or(0);
        require(depth <= 1000, "defined too deeply")?;
        let term = Rc::new(Term(name.into(), parts));
        Ok(*self.index.entry(term).or_insert_with_key(|term| {
            self.terms.push((term.clone(), depth));
            self.terms.len() - 1
        }))
    }

    /// Gives a variable or a value a name that is still free.
    pub(crate) fn declare(&mut self, name: &str, id: Id) -> Checked<()> {
        let free = name != "pi" && Rational::from_fraction(name).is_none();
        let known = self.names.insert(name.into(), id).is_some();
        require(free && !known, "a name is not free")
    }

    pub(crate) fn variable(&mut self, sort: &str, name: &str) -> Checked<Id> {
        let variable = self.intern(&format!("{sort} {name}"), Vec::new())?;
        self.declare(name, variable).map(|()| variable)
    }

    pub(crate) fn either(&mut self, a: Id, b: Id) -> Checked<Id> {
        self.intern("or", vec![a, b])
    }

    /// The term of a text, in which the given words stand for terms.
    pub(crate) fn term(&mut self, text: &Value, words: &[(&str, Id)]) -> Checked<Id> {
        let (word, rest) = split(text)?;
        let given = words.iter().find(|(known, _)| *known == word).map(|(_, id)| id);
        if let (Some(id), []) = (given.or_else(|| self.names.get(word)), rest) {
            return Ok(*id);
        }
        let parts: Vec<Id> = rest.iter().map(|part| self.term(part, words)).collect::<Checked<_>>()?;
        match (word, parts.as_slice(), Rational::from_fraction(word)) {
            (_, [], Some(value)) => self.intern(&value.to_string(), parts),
            ("not", [condition], _) => self.negated(*condition),
            ("and" | "or", ..) => self.intern(word, parts),
            ("/", &[a, b], _) if let Some(inverse) = self.number(b).and_then(|b| b.recip()) => {
                let inverse = self.intern(&inverse.to_string(), Vec::new())?;
                self.intern("*", vec![inverse, a])
            }
            (_, all, _) if OPERATIONS.get(all.len()).is_some_and(|known| known.contains(&word)) => {
                self.intern(word, parts)
            }
            _ => Err(format!("what is `{word}` of {}?", parts.len())),
        }
    }

    /// The opposite of a condition, the negation pushed down to the comparisons.
    pub(crate) fn negated(&mut self, id: Id) -> Checked<Id> {
        let term = self.get(id);
        let (name, parts) = term.view();
        if let "and" | "or" = name {
            let parts = parts.iter().map(|part| self.negated(*part)).collect::<Checked<_>>()?;
            return self.intern(if name == "and" { "or" } else { "and" }, parts);
        }
        let opposite = RELATIONS.iter().rev().zip(RELATIONS).find(|(_, relation)| *relation == name);
        self.intern(opposite.ok_or("no condition")?.0, parts.to_vec())
    }

    /// The orders that a comparison allows between two terms.
    pub(crate) fn comparison(&self, id: Id) -> Option<(u8, Id, Id)> {
        let term = self.get(id);
        let (name, &[a, b]) = term.view() else { return None };
        (1..).zip(RELATIONS).find(|(_, relation)| *relation == name).map(|(orders, _)| (orders, a, b))
    }

    /// The conditions that are joined by `and`.
    pub(crate) fn conjuncts(&self, id: Id) -> Vec<Id> {
        match self.get(id).view() {
            ("and", parts) => parts.iter().flat_map(|part| self.conjuncts(*part)).collect(),
            _ => vec![id],
        }
    }

    pub(crate) fn number(&self, id: Id) -> Option<Rational> {
        Rational::from_fraction(self.get(id).view().0)
    }

    /// Whether all values of a term are whole.
    pub(crate) fn is_whole(&self, id: Id) -> bool {
        match self.get(id).view() {
            ("ceil" | "floor", _) => true,
            ("+" | "-" | "*" | "min" | "max" | "abs", parts) => parts.iter().all(|part| self.is_whole(*part)),
            ("if", [_, sides @ ..]) => sides.iter().all(|side| self.is_whole(*side)),
            (name, []) => name.starts_with("whole ") || self.number(id).is_some_and(|value| value.is_whole()),
            _ => false,
        }
    }
}
