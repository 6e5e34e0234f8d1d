//! Names for values that need not be looked into: what is read off a table, and how often a loop turns.
//!
//! Text and motion read the same table, and what follows does so whatever stands in the row. With a name in place of
//! the value a formula says that for every value, and so for those of the rows too; it has no rows to be told apart.

use std::cell::RefCell;
use std::collections::BTreeSet;

use borewright_motion::{Condition, Expr, Node, Relation, Symbol};
use borewright_number::Rational;

/// Fewer values than this are no table: its cases are told apart.
const ROWS: usize = 3;

/// Names, each with its value, the widest values first.
#[derive(Debug, Clone, Default)]
pub(super) struct Names(Vec<(Symbol, Expr)>);

impl Names {
    /// Names for all that is read off a table in these conditions.
    pub(super) fn of_tables<'c>(conditions: impl IntoIterator<Item = &'c Condition>) -> Self {
        Self::default().and_tables(conditions)
    }

    /// Names for the numbers of turns that the facts hold counters below, and for what is read off tables.
    pub(super) fn of_counts(facts: &[Condition], goal: &Condition) -> Self {
        let mut names = Self::default();
        for fact in facts {
            let Condition::Compare(Relation::LessEqual, counter, last) = fact else { continue };
            let is_counter = counter.as_symbol().is_some_and(|s| super::is_counter(s.name()));
            if is_counter && last.as_symbol().is_none() && last.as_number().is_none() {
                names.add("turns", last);
            }
        }
        names.and_tables(facts.iter().chain([goal]))
    }

    fn and_tables<'c>(self, conditions: impl IntoIterator<Item = &'c Condition>) -> Self {
        let names = RefCell::new(self);
        // From the top: a part of a table is none.
        let name = |e: &Expr| {
            let known = names.borrow().name(e);
            known.or_else(|| is_table(e).then(|| names.borrow_mut().add("row", e)))
        };
        conditions.into_iter().for_each(|condition| drop(condition.map(&name)));
        names.into_inner()
    }

    fn add(&mut self, what: &str, value: &Expr) -> Expr {
        if let Some(name) = self.name(value) {
            return name;
        }
        let symbol = Symbol::new(format!("{what}.{}", self.0.len() + 1));
        let name = Expr::symbol(&symbol);
        self.0.push((symbol, value.clone()));
        name
    }

    /// A table whose rows are those of another by one factor, as those of a text in inches, goes by that one's name.
    fn name(&self, value: &Expr) -> Option<Expr> {
        let equal = self.0.iter().find(|(_, known)| known == value);
        equal.map(|(symbol, _)| Expr::symbol(symbol)).or_else(|| {
            let mut scaled =
                self.0.iter().filter_map(|(symbol, known)| Some((symbol, factor(known, value)?)));
            scaled.next().map(|(symbol, factor)| Expr::symbol(symbol) * Expr::number(factor))
        })
    }

    pub(super) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The condition with names for values.
    pub(super) fn put(&self, condition: &Condition) -> Condition {
        if self.is_empty() { condition.clone() } else { condition.map(&|e| self.name(e)) }
    }

    /// The expression with names for values.
    pub(super) fn put_in(&self, expr: &Expr) -> Expr {
        if self.is_empty() { expr.clone() } else { expr.map(&|e| self.name(e)) }
    }

    /// The condition with values for names.
    pub(super) fn back(&self, condition: &Condition) -> Condition {
        if self.is_empty() {
            return condition.clone();
        }
        let value = |s: &Symbol| self.0.iter().find(|(name, _)| name == s).map(|(_, value)| value.clone());
        condition.substitute(&value)
    }

    /// What holds of the names of tables whatever the row: the least and the greatest value of any.
    pub(super) fn ranges(&self, symbols: &BTreeSet<Symbol>) -> Vec<Condition> {
        let named = self.0.iter().filter(|(name, _)| symbols.contains(name));
        let range = |(name, value): &(Symbol, Expr)| {
            let mut rows = Vec::new();
            if !leaves(value, &mut rows) {
                return Vec::new();
            }
            let [least, greatest] =
                [rows.iter().min(), rows.iter().max()].map(|end| end.cloned().map(Expr::number));
            let name = || Expr::symbol(name);
            let least = least.map(|end| Condition::at_least(name(), end));
            let greatest = greatest.map(|end| Condition::at_most(name(), end));
            least.into_iter().chain(greatest).collect()
        };
        named.flat_map(range).collect()
    }
}

/// Facts and a goal with a name for each part `counter / last` of a whole, where the facts have `1 <= counter <= last`:
/// such a part is above 0 and 1 at most, and how it is made up is often of no consequence. `None` where there is none.
pub(super) fn of_parts(facts: &[Condition], goal: &Condition) -> Option<(Vec<Condition>, Condition)> {
    let wholes: Vec<(Expr, Expr)> = facts
        .iter()
        .filter_map(|fact| match fact {
            Condition::Compare(Relation::LessEqual, counter, last)
                if facts.contains(&Condition::at_least(counter.clone(), Expr::from(1))) =>
            {
                counter.as_symbol().map(|_| (counter.clone(), last.clone()))
            }
            Condition::Compare(..)
            | Condition::True
            | Condition::False
            | Condition::And(_)
            | Condition::Or(_)
            | Condition::Not(_) => None,
        })
        .collect();
    let name = |i: usize| Expr::named(&format!("part.{}", i + 1));
    let part = |e: &Expr| {
        let Node::Div(above, below) = e.node() else { return None };
        let (i, (counter, _)) = wholes.iter().enumerate().find(|(_, (_, last))| last == below)?;
        if above == counter {
            return Some(name(i));
        }
        let Node::Mul(a, b) = above.node() else { return None };
        let other = if b == counter { a } else { Some(b).filter(|_| a == counter)? };
        Some(other.clone() * name(i))
    };
    let named = goal.map(&part);
    if named == *goal {
        return None;
    }
    let symbols = named.symbols();
    let ranges = (0..wholes.len()).map(name).filter(|n| n.as_symbol().is_some_and(|s| symbols.contains(s)));
    let ranges = ranges
        .flat_map(|n| [Condition::greater(n.clone(), Expr::zero()), Condition::at_most(n, Expr::from(1))]);
    Some((facts.iter().cloned().chain(ranges).collect(), named))
}

fn is_table(expr: &Expr) -> bool {
    let mut rows = Vec::new();
    matches!(expr.node(), Node::If(..)) && leaves(expr, &mut rows) && rows.len() >= ROWS
}

/// By what all rows of one table are multiplied in the other, where both ask the same questions.
fn factor(table: &Expr, other: &Expr) -> Option<Rational> {
    let (mut rows, mut others) = (Vec::new(), Vec::new());
    let both = is_table(table) && leaves(table, &mut rows) && leaves(other, &mut others);
    if !both || rows.len() != others.len() || !asks_the_same(table, other) {
        return None;
    }
    let pairs: Vec<_> = rows.iter().zip(&others).collect();
    let (row, other) = pairs.iter().find(|(row, _)| !row.is_zero())?;
    let factor = (*other).clone() / (*row).clone();
    pairs.iter().all(|(row, other)| (*row).clone() * factor.clone() == **other).then_some(factor)
}

fn asks_the_same(table: &Expr, other: &Expr) -> bool {
    match (table.node(), other.node()) {
        (Node::If(question, a, b), Node::If(same, c, d)) => {
            question == same && asks_the_same(a, c) && asks_the_same(b, d)
        }
        // Both are rows, or one of them asks once more.
        (this, that) => !matches!(this, Node::If(..)) && !matches!(that, Node::If(..)),
    }
}

/// The numbers that a choice can have; whether it has no other values.
fn leaves(expr: &Expr, found: &mut Vec<Rational>) -> bool {
    match expr.node() {
        Node::If(_, a, b) => leaves(a, found) && leaves(b, found),
        Node::Number(number) => {
            found.push(number.clone());
            true
        }
        Node::Pi
        | Node::Symbol(_)
        | Node::Add(..)
        | Node::Sub(..)
        | Node::Mul(..)
        | Node::Div(..)
        | Node::Neg(_)
        | Node::Call(..)
        | Node::Min(..)
        | Node::Max(..) => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table(of: &str, rows: &[(i64, i64)], last: i64) -> Expr {
        rows.iter().rev().fold(Expr::number(Rational::from(last)), |rest, (key, value)| {
            let is = Condition::equal(Expr::named(of), Expr::number(Rational::from(*key)));
            Expr::choose(is, Expr::number(Rational::from(*value)), rest)
        })
    }

    #[test]
    fn a_table_has_one_name_and_the_range_of_its_rows() {
        let seat = table("screw", &[(3, 6), (4, 8)], 58);
        let goal = Condition::equal(seat.clone() + Expr::named("x"), Expr::named("x") + seat.clone());
        let names = Names::of_tables([&goal]);
        let named = names.put(&goal);
        assert_eq!(named.to_string(), "row.1 + x == x + row.1");
        assert_eq!(names.back(&named), goal);
        let ranges = names.ranges(&named.symbols());
        let told: Vec<_> = ranges.iter().map(ToString::to_string).collect();
        assert_eq!(told, ["row.1 >= 6", "row.1 <= 58"]);
    }

    #[test]
    fn tables_that_differ_in_one_row_have_two_names() {
        let (a, b) = (table("screw", &[(3, 6), (4, 8)], 58), table("screw", &[(3, 6), (4, 9)], 58));
        let names = Names::of_tables([&Condition::equal(a, b)]);
        assert_eq!(names.0.len(), 2);
    }

    #[test]
    fn a_table_in_other_units_goes_by_the_name_of_the_first() {
        let twice = |by: i64| table("screw", &[(3, 6 * by), (4, 8 * by)], 58 * by);
        let goal = Condition::equal(twice(2), twice(1) * Expr::from(2));
        let names = Names::of_tables([&goal]);
        assert_eq!(names.0.len(), 1);
        let named = names.put(&goal);
        assert_eq!(named.to_string(), "row.1 == row.1 * 0.5 * 2");
        let other = table("nut", &[(3, 6), (4, 8)], 58);
        assert_eq!(names.name(&other), None);
        assert_eq!(names.name(&table("screw", &[(3, 12)], 116)), None);
    }

    #[test]
    fn a_part_of_the_way_is_between_0_and_1_where_its_counter_is_known_to_be() {
        let [turn, turns] = ["turn.2", "turns.1"].map(Expr::named);
        let at_least_one = Condition::at_least(turn.clone(), Expr::from(1));
        let facts = [at_least_one.clone(), Condition::at_most(turn.clone(), turns.clone())];
        let goal = Condition::at_most(Expr::named("r") * turn / turns, Expr::from(9));
        let (known, named) = of_parts(&facts, &goal).unwrap();
        assert_eq!(named.to_string(), "r * part.1 <= 9");
        let told: Vec<_> = known.iter().skip(2).map(ToString::to_string).collect();
        assert_eq!(told, ["part.1 > 0", "part.1 <= 1"]);
        assert_eq!(of_parts(&[at_least_one], &goal), None);
    }

    #[test]
    fn the_turns_of_a_loop_have_a_name_where_they_are_worked_out() {
        let last = Expr::named("depth").call(borewright_motion::Function::Ceil);
        let facts = [Condition::at_most(Expr::named("turn.6"), last.clone())];
        let goal = Condition::at_most(Expr::named("turn.6") / last, Expr::from(1));
        let names = Names::of_counts(&facts, &goal);
        assert_eq!(names.put(&goal).to_string(), "turn.6 / turns.1 <= 1");
    }
}
