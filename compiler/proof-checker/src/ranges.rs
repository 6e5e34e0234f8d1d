//! What exact intervals say: the values that the facts leave to a term, and the conditions that these decide.

use std::collections::HashMap;

use borewright_number::{Enclosure, End, Rational};

use crate::terms::{EQUAL, GREATER, Id, LESS, Terms, swapped};

/// The intervals of terms.
#[derive(Debug)]
pub(crate) struct Ranges<'a> {
    terms: &'a Terms,
    /// What the facts `term rel number` leave.
    cuts: HashMap<Id, Enclosure>,
    known: HashMap<Id, Enclosure>,
    /// Whether some term has no value left: then the facts cannot all hold.
    pub(crate) empty: bool,
}

impl<'a> Ranges<'a> {
    pub(crate) fn new(terms: &'a Terms, facts: &[Id]) -> Self {
        let mut cuts = HashMap::new();
        for (orders, a, b) in facts.iter().filter_map(|fact| terms.comparison(*fact)) {
            for (id, orders, other) in [(a, orders, b), (b, swapped(orders), a)] {
                let Some(bound) = terms.number(other) else { continue };
                let cut: &mut Enclosure = cuts.entry(id).or_insert(Enclosure::ENTIRE);
                let lo = if orders & LESS == 0 { End::At(bound.clone()) } else { End::Low };
                let hi = if orders & GREATER == 0 { End::At(bound) } else { End::High };
                *cut = cut.meet(&Enclosure { lo, hi });
            }
        }
        Self { terms, cuts, known: HashMap::new(), empty: false }
    }

    /// Whether a condition surely holds, or surely does not.
    pub(crate) fn decide(&mut self, condition: Id) -> Option<bool> {
        if let Some((allowed, a, b)) = self.terms.comparison(condition) {
            let (a, b) = (self.enclose(a), self.enclose(b));
            let less = if a.lo < b.hi { LESS } else { 0 };
            let equal = if a.lo <= b.hi && b.lo <= a.hi { EQUAL } else { 0 };
            let possible = less | equal | if a.hi > b.lo { GREATER } else { 0 };
            let surely = possible & allowed == 0 || possible & !allowed == 0;
            return surely.then_some(possible & allowed != 0);
        }
        let term = self.terms.get(condition);
        let (name @ ("and" | "or"), parts) = term.view() else { return None };
        let found: Vec<_> = parts.iter().map(|part| self.decide(*part)).collect();
        let unit = name == "and";
        let all = found.iter().all(|part| *part == Some(unit)).then_some(unit);
        if found.contains(&Some(!unit)) { Some(!unit) } else { all }
    }

    /// Every value that a term can have.
    fn enclose(&mut self, id: Id) -> Enclosure {
        if let Some(known) = self.known.get(&id) {
            return known.clone();
        }
        let mut all = self.by_parts(id);
        if let Some(cut) = self.cuts.get(&id) {
            all = all.meet(cut);
        }
        self.empty |= all.is_empty();
        self.known.insert(id, all.clone());
        all
    }

    fn by_parts(&mut self, id: Id) -> Enclosure {
        let term = self.terms.get(id);
        let choice = if let ("if", [choice, ..]) = term.view() { self.decide(*choice) } else { None };
        let parts: Vec<Enclosure> = term.view().1.iter().map(|part| self.enclose(*part)).collect();
        match (term.view(), parts.as_slice(), self.terms.number(id)) {
            ((_, []), _, Some(value)) => Enclosure::point(value),
            (("-", [x, y]), ..) if x == y => Enclosure::point(Rational::ZERO),
            (("*", [x, y]), [a, _], _) if x == y => a.squared(),
            (("if", _), [_, a, _], _) if choice == Some(true) => a.clone(),
            (("if", _), [_, _, b], _) if choice == Some(false) => b.clone(),
            (("if", _), [_, a, b], _) => a.hull(b),
            ((name, _), parts, _) => Enclosure::of(name, parts),
        }
    }
}
