//! Formulas and proofs as text: the form that is hashed, and that the checker reads. It is described in
//! `compiler/proof-checker/README.md`; angles are in degrees. While a proof is written, its terms are bracketed lists
//! of words, `(+ a b)`; arrays of texts, `["+", "a", "b"]`, when it is done.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use borewright_motion::{Condition, Expr, Function, Node, Relation, Symbol};
use serde_json::{Value, json};

use crate::formula::{Formula, Sort, Variable};

/// The names of the variables, definitions, hypotheses, and the goal.
pub(crate) fn formula_text(formula: &Formula) -> Value {
    let free: Vec<&Variable> = formula.variables.iter().filter(|v| v.definition.is_none()).collect();
    let others = undeclared(formula);
    let symbols = free.iter().map(|v| &v.symbol).chain(&others);
    let real: Vec<String> = symbols.map(|symbol| name(symbol.name())).collect();
    let definition = |(symbol, value): (&Symbol, &Expr)| json!([name(symbol.name()), parsed(&expr(value))]);
    let definitions: Vec<Value> = definitions(formula).into_iter().map(definition).collect();
    let whole = free.iter().filter(|v| v.sort == Sort::Whole).map(|v| whole(&v.symbol));
    let hypotheses = formula.hypotheses.iter().map(|h| condition(&h.condition));
    let given: Vec<Value> = whole.chain(hypotheses).map(|text| parsed(&text)).collect();
    json!({ "real": real, "let": definitions, "given": given, "show": parsed(&condition(&formula.goal)) })
}

/// A variable is whole that is its own floor.
fn whole(symbol: &Symbol) -> String {
    format!("(= (floor {0}) {0})", name(symbol.name()))
}

/// Bracketed lists of words as arrays of texts.
pub(crate) fn parsed(text: &str) -> Value {
    let mut open = vec![Vec::new()];
    for word in text.replace('(', " ( ").replace(')', " ) ").split_whitespace() {
        let part = match word {
            "(" => {
                open.push(Vec::new());
                continue;
            }
            ")" => Value::Array(open.pop().unwrap_or_default()),
            word => Value::String(word.to_owned()),
        };
        if let Some(list) = open.last_mut() {
            list.push(part);
        }
    }
    open.pop().and_then(|mut list| list.pop()).unwrap_or(Value::Null)
}

/// Names that nobody declares: each stands for any real.
pub(crate) fn undeclared(formula: &Formula) -> Vec<Symbol> {
    names(formula).into_iter().filter(|s| formula.variables.iter().all(|v| v.symbol != *s)).collect()
}

/// The definitions, each after those that it uses.
pub(crate) fn definitions(formula: &Formula) -> Vec<(&Symbol, &Expr)> {
    let mut done: Vec<(&Symbol, &Expr)> = Vec::new();
    let all = formula.variables.iter().filter_map(|v| Some((&v.symbol, v.definition.as_ref()?)));
    let mut waiting: Vec<(&Symbol, &Expr)> = all.collect();
    while !waiting.is_empty() {
        let is_ready = |value: &Expr| value.symbols().iter().all(|s| waiting.iter().all(|(w, _)| *w != s));
        let (ready, rest): (Vec<_>, Vec<_>) = waiting.iter().partition(|(_, value)| is_ready(value));
        // A circle of definitions stands as it is: whoever reads it refuses it.
        let (ready, rest) = if ready.is_empty() { (rest, ready) } else { (ready, rest) };
        done.extend(ready);
        waiting = rest;
    }
    done
}

/// Every name that occurs, but for those in hints.
fn names(formula: &Formula) -> BTreeSet<Symbol> {
    let mut found = formula.goal.symbols();
    formula.hypotheses.iter().for_each(|h| found.extend(h.condition.symbols()));
    formula.variables.iter().filter_map(|v| v.definition.as_ref()).for_each(|d| found.extend(d.symbols()));
    found
}

/// A name without blanks and brackets, and never like a number.
pub(crate) fn name(symbol: &str) -> String {
    let plain = symbol.replace(|c: char| c.is_whitespace() || matches!(c, '(' | ')'), "_");
    let odd = plain.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '+' | '-' | '.'));
    if odd || plain.is_empty() { format!("_{plain}") } else { plain }
}

/// `(head part part ...)`
fn list(head: &str, parts: impl Iterator<Item = String>) -> String {
    let mut text = format!("({head}");
    for part in parts {
        let _ = write!(text, " {part}");
    }
    text + ")"
}

/// A condition; negations are pushed down to the comparisons.
pub(crate) fn condition(of: &Condition) -> String {
    signed(of, true)
}

fn signed(of: &Condition, holds: bool) -> String {
    let parts = |all: bool, parts: &[Condition]| {
        list(if all == holds { "and" } else { "or" }, parts.iter().map(|part| signed(part, holds)))
    };
    match of {
        Condition::True => parts(true, &[]),
        Condition::False => parts(false, &[]),
        Condition::Compare(relation, a, b) => {
            let relation = if holds { *relation } else { relation.negated() };
            let relation = if relation == Relation::Equal { "=" } else { relation.name() };
            format!("({relation} {} {})", expr(a), expr(b))
        }
        Condition::And(inner) => parts(true, inner),
        Condition::Or(inner) => parts(false, inner),
        Condition::Not(inner) => signed(inner, !holds),
    }
}

/// An expression; `-a` and `tan a` as what they mean.
pub(crate) fn expr(of: &Expr) -> String {
    match of.node() {
        Node::Number(value) => value.to_string(),
        Node::Pi => "pi".to_owned(),
        Node::Symbol(symbol) => name(symbol.name()),
        Node::Add(a, b) => format!("(+ {} {})", expr(a), expr(b)),
        Node::Sub(a, b) => format!("(- {} {})", expr(a), expr(b)),
        Node::Mul(a, b) => format!("(* {} {})", expr(a), expr(b)),
        Node::Div(a, b) => format!("(/ {} {})", expr(a), expr(b)),
        Node::Neg(a) => format!("(- 0 {})", expr(a)),
        Node::Min(a, b) => format!("(min {} {})", expr(a), expr(b)),
        Node::Max(a, b) => format!("(max {} {})", expr(a), expr(b)),
        Node::If(c, a, b) => format!("(if {} {} {})", condition(c), expr(a), expr(b)),
        Node::Call(Function::Tan, a) => format!("(/ (sin {0}) (cos {0}))", expr(a)),
        Node::Call(function, a) => format!("({} {})", function.name(), expr(a)),
    }
}
