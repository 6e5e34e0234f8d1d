//! What exact intervals say: the values that the facts leave to a term, and the facts that cannot hold.

use std::collections::HashMap;

use borewright_number::{Enclosure, End, Rational};

use crate::terms::{EQUAL, GREATER, Id, LESS, Terms, swapped};

/// The intervals of terms.
#[derive(Debug)]
pub(crate) struct Ranges<'a> {
    terms: &'a Terms,
    /// The facts that compare a term with a number or with one of its own parts: the orders that they allow.
    cuts: HashMap<Id, Vec<(u8, Id)>>,
    known: HashMap<Id, Enclosure>,
    /// Whether some term has no value left.
    empty: bool,
}

impl<'a> Ranges<'a> {
    pub(crate) fn new(terms: &'a Terms, facts: &[Id]) -> Self {
        let mut cuts: HashMap<Id, Vec<(u8, Id)>> = HashMap::new();
        for (orders, a, b) in facts.iter().filter_map(|fact| terms.comparison(*fact)) {
            for (id, orders, other) in [(a, orders, b), (b, swapped(orders), a)] {
                if terms.get(id).1.contains(&other) || terms.number(other).is_some() {
                    cuts.entry(id).or_default().push((orders, other));
                }
            }
        }
        Self { terms, cuts, known: HashMap::new(), empty: false }
    }

    /// Whether a comparison cannot hold, or some term has no value left: then the facts cannot all hold.
    pub(crate) fn exclude(&mut self, fact: Id) -> bool {
        let Some((allowed, a, b)) = self.terms.comparison(fact) else { return false };
        let (a, b) = (self.enclose(a), self.enclose(b));
        let less = a.lo < b.hi && allowed & LESS != 0;
        let equal = a.lo <= b.hi && b.lo <= a.hi && allowed & EQUAL != 0;
        let greater = a.hi > b.lo && allowed & GREATER != 0;
        self.empty || !(less || equal || greater)
    }

    /// Every value that a term can have.
    fn enclose(&mut self, id: Id) -> Enclosure {
        if let Some(value) = self.terms.number(id) {
            return Enclosure::point(value);
        }
        if let Some(known) = self.known.get(&id) {
            return known.clone();
        }
        let (name, parts) = self.terms.get(id);
        let values: Vec<Enclosure> = parts.iter().map(|part| self.enclose(*part)).collect();
        let mut all = match (name, parts, values.as_slice()) {
            ("-", [x, y], _) if x == y => Enclosure::point(Rational::ZERO),
            ("*", [x, y], [value, _]) if x == y => value.squared(),
            _ => Enclosure::of(name, &values).unwrap_or(Enclosure::ENTIRE),
        };
        for (orders, other) in self.cuts.get(&id).cloned().unwrap_or_default() {
            let bound = self.enclose(other);
            let lo = if orders & LESS == 0 { bound.lo } else { End::Low };
            let hi = if orders & GREATER == 0 { bound.hi } else { End::High };
            all = all.meet(&Enclosure { lo, hi });
        }
        self.empty |= all.is_empty();
        self.known.insert(id, all.clone());
        all
    }
}
