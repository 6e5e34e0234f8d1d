//! From text to terms. Equal terms have one number; definitions stand in place of their names; conditions are terms.

use std::collections::{BTreeMap, HashMap};

use borewright_number::Rational;
use serde_json::Value::{self, Array, String as Word};

use crate::Checked;

/// Stands for a term.
pub(crate) type Id = usize;

#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(crate) enum Term {
    Number(Rational),
    /// A variable, and whether it is whole.
    Name(String, bool),
    Apply(&'static str, Vec<Id>),
}
use Term::{Apply, Number};

/// Which orders may hold between two terms: a sum of these.
pub(crate) const LESS: u8 = 1;
pub(crate) const EQUAL: u8 = 2;
pub(crate) const GREATER: u8 = 4;

/// The orders seen from the other side.
pub(crate) fn swapped(orders: u8) -> u8 {
    (orders & EQUAL) | ((orders & LESS) << 2) | ((orders & GREATER) >> 2)
}

/// The relations that allow the orders 1 to 6.
const RELATIONS: [&str; 6] = ["<", "=", "<=", ">", "!=", ">="];
/// By their number of parts.
const OPERATIONS: [&[&str]; 4] = [
    &["pi"],
    &["abs", "sqrt", "sin", "cos", "atan", "acos", "ceil", "floor"],
    &["+", "-", "*", "/", "min", "max", "<", "=", "<=", ">", "!=", ">="],
    &["if"],
];

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
        if open.len() > 800 {
            return Err("nested too deeply".into());
        }
    }
    match (open.len(), open.pop().as_deref()) {
        (1, Some([one])) => Ok(one.clone()),
        _ => Err(format!("not one expression: {text}")),
    }
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
    terms: Vec<Term>,
    index: HashMap<Term, Id>,
    depths: HashMap<Id, usize>,
    names: BTreeMap<String, Id>,
}

impl Terms {
    pub(crate) fn get(&self, id: Id) -> Term {
        self.terms.get(id).cloned().unwrap_or(Number(Rational::ZERO))
    }

    pub(crate) fn number(&self, id: Id) -> Option<&Rational> {
        if let Some(Number(value)) = self.terms.get(id) { Some(value) } else { None }
    }

    pub(crate) fn intern(&mut self, term: Term) -> Id {
        *self.index.entry(term).or_insert_with_key(|term| {
            self.terms.push(term.clone());
            self.terms.len() - 1
        })
    }

    /// Names a variable or a value.
    pub(crate) fn declare(&mut self, name: &str, id: Id) -> Checked<()> {
        let taken = ["pi", "true", "false"].contains(&name) || Rational::from_fraction(name).is_some();
        let known = self.names.insert(name.into(), id).is_some();
        if taken || known { Err(format!("`{name}` cannot be declared")) } else { Ok(()) }
    }

    /// The term of a text, in which the given words stand for terms.
    pub(crate) fn of(&mut self, text: &str, words: &[(&str, Id)]) -> Checked<Id> {
        self.term(&read(text)?, words)
    }

    pub(crate) fn term(&mut self, text: &Value, words: &[(&str, Id)]) -> Checked<Id> {
        let (word, rest) = split(text)?;
        let known = words.iter().find(|(w, _)| *w == word).map(|(_, id)| *id);
        if let (Some(id), []) = (known.or_else(|| self.names.get(word).copied()), rest) {
            return Ok(id);
        }
        if let (Some(value), []) = (Rational::from_fraction(word), rest) {
            return Ok(self.intern(Number(value)));
        }
        let parts: Vec<Id> = rest.iter().map(|part| self.term(part, words)).collect::<Checked<_>>()?;
        let known = OPERATIONS.get(rest.len()).and_then(|names| names.iter().find(|name| **name == word));
        let term = match (word, parts.as_slice(), known) {
            ("true", [], _) | ("and", ..) => Apply("and", parts.clone()),
            ("false", [], _) | ("or", ..) => Apply("or", parts.clone()),
            ("not", [inner], _) => return self.negated(*inner),
            ("-", [a], _) => return self.of("(- 0 a)", &[("a", *a)]),
            ("tan", [a], _) => return self.of("(/ (sin a) (cos a))", &[("a", *a)]),
            (_, _, Some(name)) => Apply(name, parts.clone()),
            _ => return Err(format!("`{word}` is not known, or not with {} parts", parts.len())),
        };
        let depth = 1 + parts.iter().filter_map(|part| self.depths.get(part)).max().unwrap_or(&0);
        let id = self.intern(term);
        self.depths.insert(id, depth);
        if depth > 1000 { Err("defined too deeply".into()) } else { Ok(id) }
    }

    /// The orders that a comparison allows between two terms.
    pub(crate) fn comparison(&self, id: Id) -> Option<(u8, Id, Id)> {
        let Some(Apply(name, parts)) = self.terms.get(id) else { return None };
        let (orders, _) = (1..).zip(RELATIONS).find(|(_, relation)| relation == name)?;
        if let [a, b] = parts.as_slice() { Some((orders, *a, *b)) } else { None }
    }

    /// The opposite of a condition, the negation pushed down to the comparisons.
    pub(crate) fn negated(&mut self, id: Id) -> Checked<Id> {
        if let Some((orders, a, b)) = self.comparison(id) {
            let name = (1..).zip(RELATIONS).find(|(allowed, _)| *allowed == 7 ^ orders).map_or("!=", |r| r.1);
            return Ok(self.intern(Apply(name, vec![a, b])));
        }
        let Apply(name @ ("and" | "or"), parts) = self.get(id) else { return Err("no condition".into()) };
        let parts = parts.iter().map(|part| self.negated(*part)).collect::<Checked<_>>()?;
        Ok(self.intern(Apply(if name == "and" { "or" } else { "and" }, parts)))
    }

    /// Whether a condition holds, by the orders that are possible between two terms.
    pub(crate) fn decide(&self, id: Id, orders: &mut dyn FnMut(Id, Id) -> u8) -> Option<bool> {
        if let Some((allowed, a, b)) = self.comparison(id) {
            let possible = orders(a, b);
            let refuted = (possible & allowed == 0).then_some(false);
            return (possible & !allowed == 0).then_some(true).or(refuted);
        }
        let Some(Apply(name @ ("and" | "or"), parts)) = self.terms.get(id) else { return None };
        let unit = *name == "and";
        let found: Vec<_> = parts.iter().map(|part| self.decide(*part, orders)).collect();
        let all = found.iter().all(|f| *f == Some(unit)).then_some(unit);
        found.contains(&Some(!unit)).then_some(!unit).or(all)
    }

    /// The orders possible between two terms without any facts: two numbers, or pi and 0.
    pub(crate) fn plain_orders(&self, a: Id, b: Id) -> u8 {
        match (self.terms.get(a), self.number(b)) {
            (Some(Number(x)), Some(y)) if x < y => LESS,
            (Some(Number(x)), Some(y)) if x > y => GREATER,
            (Some(Apply("pi", _)), Some(y)) if y.is_zero() => GREATER,
            _ if a == b => EQUAL,
            _ => LESS | EQUAL | GREATER,
        }
    }
}
