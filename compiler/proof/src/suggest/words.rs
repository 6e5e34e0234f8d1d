//! From a motion to the words that a requirement may use: parameters, lets of the head, facts of the cutter.

use std::collections::BTreeSet;

use borewright_motion::{Clause, Condition, Demands, Expr, Field, Motion, Node, Relation, Symbol};
use borewright_number::Dimension;

/// A name with a value, as the author may write it in a requirement or a demand.
#[derive(Debug, Clone)]
pub(crate) struct Word {
    pub symbol: Symbol,
    pub dimension: Dimension,
    /// The value over parameters and facts of the cutter.
    pub value: Expr,
    /// For a fact of the cutter: which. It can only be demanded, never required.
    pub field: Option<Field>,
}

/// All words of a motion.
#[derive(Debug, Clone)]
pub(crate) struct Words {
    pub list: Vec<Word>,
    /// Whether lengths are written in inches.
    pub inch: bool,
    lets: Vec<(Symbol, Expr)>,
}

impl Words {
    /// The words that are known below the first `lines` lines of the head.
    pub(crate) fn of(motion: &Motion, lines: usize) -> Self {
        let mut words = Self { list: Vec::new(), inch: motion.inch, lets: Vec::new() };
        for p in &motion.parameters {
            if !is_row(motion, &p.symbol) && !is_choice(motion, &p.symbol) {
                words.add(p.symbol.clone(), p.dimension, Expr::symbol(&p.symbol), None);
            }
        }
        for clause in motion.head.iter().take(lines) {
            let Clause::Let(l) = clause else { continue };
            words.lets.push((l.symbol.clone(), l.value.clone()));
            let value = words.inline(&l.value);
            if is_speakable(motion, &l.symbol) && value.as_number().is_none() {
                words.add(l.symbol.clone(), l.dimension, value, None);
            }
        }
        if motion.job.is_none() {
            for field in [Field::Flutes, Field::Reach, Field::Dead, Field::Ramp, Field::Diameter] {
                let symbol = field.symbol();
                if !is_settled(motion.demands.as_ref(), field) {
                    words.add(symbol.clone(), field.dimension(), Expr::symbol(&symbol), Some(field));
                }
            }
        }
        words
    }

    fn add(&mut self, symbol: Symbol, dimension: Dimension, value: Expr, field: Option<Field>) {
        self.list.push(Word { symbol, dimension, value, field });
    }

    /// The word of that name.
    pub(crate) fn get(&self, symbol: &Symbol) -> Option<&Word> {
        self.list.iter().find(|w| w.symbol == *symbol)
    }

    /// Lets put in, all the way down.
    pub(crate) fn inline(&self, expr: &Expr) -> Expr {
        expr.substitute(&|s| self.value_of(s))
    }

    /// As [`Self::inline`], for a condition.
    pub(crate) fn inline_condition(&self, condition: &Condition) -> Condition {
        condition.substitute(&|s| self.value_of(s))
    }

    fn value_of(&self, symbol: &Symbol) -> Option<Expr> {
        self.lets.iter().rev().find(|(s, _)| s == symbol).map(|(_, value)| self.inline(value))
    }

    /// As [`Self::inline`], but cells of a table's row keep their names.
    pub(crate) fn inline_plain(&self, expr: &Expr) -> Expr {
        expr.substitute(&|s| {
            let is_cell = s.name().contains('.') && self.get(s).is_some();
            let value = self.lets.iter().rev().find(|(name, _)| name == s).filter(|_| !is_cell)?;
            Some(self.inline_plain(&value.1))
        })
    }

    /// Whether each name in it is a word.
    pub(crate) fn knows(&self, condition: &Condition) -> bool {
        condition.symbols().iter().all(|s| self.get(s).is_some())
    }

    /// The one fact of the cutter in a condition; `Err` where there are several.
    pub(crate) fn field_in(&self, symbols: &BTreeSet<Symbol>) -> Result<Option<Field>, ()> {
        let mut fields = symbols.iter().filter_map(|s| self.get(s)?.field);
        match (fields.next(), fields.next()) {
            (field, None) => Ok(field),
            (_, Some(_)) => Err(()),
        }
    }
}

/// The parameter stands for a row of a table: its columns are named after it.
pub(crate) fn is_row(motion: &Motion, symbol: &Symbol) -> bool {
    let prefix = format!("{symbol}.");
    motion.head.iter().any(|c| matches!(c, Clause::Let(l) if l.symbol.name().starts_with(&prefix)))
}

/// The parameter is one of some words, which are told apart by `==`.
fn is_choice(motion: &Motion, symbol: &Symbol) -> bool {
    let mut found = false;
    let mut look = |c: &Condition| {
        if let Condition::Compare(Relation::Equal | Relation::NotEqual, a, b) = c {
            found |= a.as_symbol() == Some(symbol) && b.as_number().is_some();
        }
    };
    for clause in &motion.head {
        match clause {
            // What a table or a pattern brings tells numbers apart as well.
            Clause::Let(l) if l.symbol.name().contains('.') => {}
            Clause::Let(l) => l.value.walk(&mut |e| {
                if let Node::If(c, _, _) = e.node() {
                    look(c);
                }
            }),
            Clause::Require(r) => look(&r.condition),
        }
    }
    found
}

/// A let that the author wrote, or a column of a parameter that stands for a row.
fn is_speakable(motion: &Motion, symbol: &Symbol) -> bool {
    match symbol.name().split_once('.') {
        None => true,
        Some((row, column)) => {
            !column.contains('.') && motion.parameters.iter().any(|p| p.symbol.name() == row)
        }
    }
}

/// The field has a value already.
fn is_settled(demands: Option<&Demands>, field: Field) -> bool {
    demands.is_some_and(|d| d.rules.iter().any(|r| r.field == field && r.relation == Relation::Equal))
}
