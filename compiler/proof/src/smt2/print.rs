//! Prints a formula.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use borewright_motion::{Condition, Expr, Function, Node, Relation, Symbol};
use borewright_number::Rational;

use crate::certify::text::{definitions, undeclared};
use crate::formula::{Formula, Sort, Variable};

/// The formula as SMT-LIB 2 text; `unsat` means that it holds for all values.
///
/// Definitions become `define-fun`; whole numbers stand within `to_real`; `ceil` and `floor` are printed by `to_int`, the other functions by their names
/// (`sqrt`, `sin`, `cos`, `tan`, `arctan`, `arccos` of radians, `real.pi`); division by 0 does not occur, because that
/// is proved on its own.
#[must_use]
pub fn to_smt2(formula: &Formula) -> String {
    let is_whole = |v: &&Variable| v.definition.is_none() && v.sort == Sort::Whole;
    let whole: Whole<'_> = &formula.variables.iter().filter(is_whole).map(|v| v.symbol.clone()).collect();
    let mut text = String::from(if whole.is_empty() { "(set-logic QF_NRAT)\n" } else { "(set-logic ALL)\n" });
    for variable in formula.variables.iter().filter(|v| v.definition.is_none()) {
        let sort = if variable.sort == Sort::Whole { "Int" } else { "Real" };
        let _ = writeln!(text, "(declare-const {} {sort})", name(variable.symbol.name()));
    }
    for symbol in undeclared(formula) {
        let _ = writeln!(text, "(declare-const {} Real)", name(symbol.name()));
    }
    for (symbol, value) in definitions(formula) {
        let _ = writeln!(text, "(define-fun {} () Real {})", name(symbol.name()), expr(whole, value));
    }
    for hypothesis in &formula.hypotheses {
        let _ = writeln!(text, "(assert {})", condition(whole, &hypothesis.condition));
    }
    let _ = writeln!(text, "(assert (not {}))\n(check-sat)", condition(whole, &formula.goal));
    text
}

/// The constants of sort Int, which stand within `to_real` among reals.
type Whole<'a> = &'a BTreeSet<Symbol>;

/// Quoted where it has to be.
fn name(symbol: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '_' | '.' | '-');
    if symbol.chars().all(plain) && symbol.starts_with(|c: char| c.is_ascii_alphabetic()) {
        symbol.to_owned()
    } else {
        format!("|{symbol}|")
    }
}

fn number(value: &Rational) -> String {
    let size = value.abs();
    let text = match size.exact_decimal() {
        Some(decimal) if decimal.contains('.') => decimal,
        Some(whole) => format!("{whole}.0"),
        None => {
            let text = size.to_string();
            let (p, q) = text.split_once('/').unwrap_or((text.as_str(), "1"));
            format!("(/ {p}.0 {q}.0)")
        }
    };
    if value.signum() < 0 { format!("(- {text})") } else { text }
}

fn condition(whole: Whole<'_>, of: &Condition) -> String {
    match of {
        Condition::True => "true".to_owned(),
        Condition::False => "false".to_owned(),
        Condition::Compare(relation, a, b) => {
            let operator = match relation {
                Relation::Equal => "=",
                Relation::NotEqual => "distinct",
                Relation::Less => "<",
                Relation::LessEqual => "<=",
                Relation::Greater => ">",
                Relation::GreaterEqual => ">=",
            };
            format!("({operator} {} {})", expr(whole, a), expr(whole, b))
        }
        Condition::And(parts) => connective(whole, "and", "true", parts),
        Condition::Or(parts) => connective(whole, "or", "false", parts),
        Condition::Not(inner) => format!("(not {})", condition(whole, inner)),
    }
}

fn connective(whole: Whole<'_>, operator: &str, none: &str, parts: &[Condition]) -> String {
    if parts.is_empty() {
        return none.to_owned();
    }
    let parts: Vec<String> = parts.iter().map(|part| condition(whole, part)).collect();
    format!("({operator} {})", parts.join(" "))
}

fn expr(whole: Whole<'_>, of: &Expr) -> String {
    match of.node() {
        Node::Number(value) => number(value),
        Node::Pi => "real.pi".to_owned(),
        Node::Symbol(symbol) if whole.contains(symbol) => format!("(to_real {})", name(symbol.name())),
        Node::Symbol(symbol) => name(symbol.name()),
        Node::Add(a, b) => format!("(+ {} {})", expr(whole, a), expr(whole, b)),
        Node::Sub(a, b) => format!("(- {} {})", expr(whole, a), expr(whole, b)),
        Node::Mul(a, b) => format!("(* {} {})", expr(whole, a), expr(whole, b)),
        Node::Div(a, b) => format!("(/ {} {})", expr(whole, a), expr(whole, b)),
        Node::Neg(a) => format!("(- {})", expr(whole, a)),
        Node::Min(a, b) => format!("(ite (<= {0} {1}) {0} {1})", expr(whole, a), expr(whole, b)),
        Node::Max(a, b) => format!("(ite (>= {0} {1}) {0} {1})", expr(whole, a), expr(whole, b)),
        Node::If(c, a, b) => format!("(ite {} {} {})", condition(whole, c), expr(whole, a), expr(whole, b)),
        Node::Call(function, a) => call(*function, &expr(whole, a)),
    }
}

fn call(function: Function, a: &str) -> String {
    let radians = || format!("(/ (* {a} real.pi) 180.0)");
    match function {
        Function::Sin => format!("(sin {})", radians()),
        Function::Cos => format!("(cos {})", radians()),
        Function::Tan => format!("(tan {})", radians()),
        Function::Atan => format!("(/ (* (arctan {a}) 180.0) real.pi)"),
        Function::Acos => format!("(/ (* (arccos {a}) 180.0) real.pi)"),
        Function::Sqrt => format!("(sqrt {a})"),
        Function::Abs => format!("(ite (>= {a} 0.0) {a} (- {a}))"),
        Function::Ceil => format!("(- (to_real (to_int (- {a}))))"),
        Function::Floor => format!("(to_real (to_int {a}))"),
    }
}

#[cfg(test)]
mod tests {
    use crate::{from_smt2, to_smt2};

    #[test]
    fn what_is_printed_reads_back_to_the_same_text() {
        let text = "(declare-const x Real)\n(declare-const m Int)\n(assert (<= 0.5 x))\n\
                    (assert (or (< x m) (not (= (sqrt x) (/ 1 3)))))\n\
                    (assert (not (and (> (* x x) (- 2.5)) (<= x (ite (<= x 1) x 1)))))";
        let once = to_smt2(&from_smt2(text).unwrap());
        assert_eq!(to_smt2(&from_smt2(&once).unwrap()), once);
        assert!(once.contains("(declare-const m Int)\n(assert (<= 0.5 x))"), "{once}");
    }
}
