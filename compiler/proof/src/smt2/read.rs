//! Reads one file: constants, assertions, the last of which is the negated goal.

use std::fmt;
use std::sync::Arc;

use borewright_motion::{Condition, Expr, Function, Node, Relation, Symbol};
use borewright_number::{Dimension, Rational};

use crate::formula::{Formula, Hypothesis, HypothesisKind, Sort, Variable};

/// Why a text can't be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadError {
    /// One line.
    pub message: String,
}

impl fmt::Display for ReadError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for ReadError {}

fn error<T>(message: impl Into<String>) -> Result<T, ReadError> {
    Err(ReadError { message: message.into() })
}

/// An s-expression.
#[derive(Debug, Clone, PartialEq)]
enum Sexp {
    Word(String),
    List(Vec<Sexp>),
}

/// Reads a file of the subset: `declare-const` of Real and Int, `define-fun` without arguments, `assert`,
/// arithmetic, comparisons, `ite`, `and`, `or`, `not`, `=>`, `abs`, `to_int`, `sqrt`, `sin`, `cos`, `tan`, `arctan`,
/// `arccos`, `real.pi`. The last assertion must be `(not goal)`.
/// Lines `; hint EXPRESSION` become hints. A Real constant `n` or `k` whose asserted range has whole ends that
/// are more than 2 apart counts something and is whole.
///
/// # Errors
/// Anything outside the subset, and names that are not declared.
pub fn from_smt2(text: &str) -> Result<Formula, ReadError> {
    let mut reader = Reader::default();
    for command in parse(text)? {
        reader.command(&command)?;
    }
    for line in text.lines() {
        if let Some(hint) = line.trim().strip_prefix("; hint ") {
            for sexp in parse(hint)? {
                reader.hints.push((sexp, true));
            }
        }
    }
    reader.finish()
}

/// Splits text into s-expressions; comments are skipped.
fn parse(text: &str) -> Result<Vec<Sexp>, ReadError> {
    let mut open: Vec<Vec<Sexp>> = vec![Vec::new()];
    for line in text.lines() {
        let code = line.split(';').next().unwrap_or("");
        let spaced = code.replace('(', " ( ").replace(')', " ) ");
        for word in spaced.split_whitespace() {
            match word {
                "(" if open.len() > 2000 => return error("nested too deeply"),
                "(" => open.push(Vec::new()),
                ")" => {
                    let list = open.pop().unwrap_or_default();
                    match open.last_mut() {
                        Some(outer) => outer.push(Sexp::List(list)),
                        None => return error("a `)` too many"),
                    }
                }
                word => {
                    if let Some(last) = open.last_mut() {
                        last.push(Sexp::Word(word.to_owned()));
                    }
                }
            }
        }
    }
    match (open.pop(), open.is_empty()) {
        (Some(all), true) => Ok(all),
        _ => error("a `)` is missing"),
    }
}

#[derive(Debug, Default)]
struct Reader {
    variables: Vec<Variable>,
    assertions: Vec<Sexp>,
    hints: Vec<(Sexp, bool)>,
}

impl Reader {
    fn command(&mut self, command: &Sexp) -> Result<(), ReadError> {
        let Sexp::List(parts) = command else { return error("a command is a list") };
        match parts.as_slice() {
            [Sexp::Word(name), Sexp::Word(constant), Sexp::Word(sort)] if name == "declare-const" => {
                let sort = match sort.as_str() {
                    "Real" => Sort::Real,
                    "Int" => Sort::Whole,
                    other => return error(format!("unknown sort `{other}`")),
                };
                self.variables.push(Variable {
                    symbol: Symbol::new(constant),
                    sort,
                    dimension: Dimension::RATIO,
                    inch: false,
                    definition: None,
                });
                Ok(())
            }
            [Sexp::Word(name), Sexp::Word(constant), Sexp::List(none), Sexp::Word(_), value]
                if name == "define-fun" && none.is_empty() =>
            {
                let definition = Some(self.expr(value)?);
                self.variables.push(Variable {
                    symbol: Symbol::new(constant),
                    sort: Sort::Real,
                    dimension: Dimension::RATIO,
                    inch: false,
                    definition,
                });
                Ok(())
            }
            [Sexp::Word(name), assertion] if name == "assert" => {
                self.assertions.push(assertion.clone());
                Ok(())
            }
            [Sexp::Word(name), ..]
                if matches!(
                    name.as_str(),
                    "set-info" | "set-logic" | "set-option" | "check-sat" | "get-model" | "exit"
                ) =>
            {
                Ok(())
            }
            _ => error("unknown command"),
        }
    }

    fn finish(mut self) -> Result<Formula, ReadError> {
        let Some(Sexp::List(last)) = self.assertions.pop() else { return error("no goal") };
        let [Sexp::Word(not), goal] = last.as_slice() else { return error("the last assertion is the goal") };
        if not != "not" {
            return error("the last assertion must be `(not goal)`");
        }
        let goal = self.condition(goal)?;
        let mut hypotheses = Vec::new();
        for assertion in &self.assertions {
            let condition = self.condition(assertion)?;
            hypotheses.push(Hypothesis { condition, kind: HypothesisKind::Requirement, span: None });
        }
        let hints =
            self.hints.iter().map(|(hint, _)| self.expr(hint)).collect::<Result<Vec<_>, ReadError>>()?;
        let mut formula = Formula { variables: self.variables, hypotheses, goal, hints };
        count_with_whole_numbers(&mut formula);
        Ok(formula)
    }

    fn condition(&self, sexp: &Sexp) -> Result<Condition, ReadError> {
        let list = match sexp {
            Sexp::Word(word) if word == "true" => return Ok(Condition::True),
            Sexp::Word(word) if word == "false" => return Ok(Condition::False),
            Sexp::Word(word) => return error(format!("`{word}` is no condition")),
            Sexp::List(list) => list,
        };
        let Some((Sexp::Word(operator), rest)) = list.split_first() else { return error("empty condition") };
        let relation = match operator.as_str() {
            "and" => return Ok(Condition::And(self.conditions(rest)?)),
            "or" => return Ok(Condition::Or(self.conditions(rest)?)),
            "not" | "=>" => return self.connective(operator, rest),
            "=" => Relation::Equal,
            "distinct" => Relation::NotEqual,
            "<" => Relation::Less,
            "<=" => Relation::LessEqual,
            ">" => Relation::Greater,
            ">=" => Relation::GreaterEqual,
            other => return error(format!("unknown relation `{other}`")),
        };
        let [a, b] = rest else { return error(format!("`{operator}` takes two sides")) };
        Ok(Condition::Compare(relation, self.expr(a)?, self.expr(b)?))
    }

    fn connective(&self, operator: &str, rest: &[Sexp]) -> Result<Condition, ReadError> {
        match rest {
            [inner] if operator == "not" => Ok(Condition::Not(Arc::new(self.condition(inner)?))),
            [a, b] if operator == "=>" => {
                Ok(Condition::Or(vec![Condition::Not(Arc::new(self.condition(a)?)), self.condition(b)?]))
            }
            _ => error(format!("wrong number of parts of `{operator}`")),
        }
    }

    fn conditions(&self, rest: &[Sexp]) -> Result<Vec<Condition>, ReadError> {
        rest.iter().map(|part| self.condition(part)).collect()
    }

    fn expr(&self, sexp: &Sexp) -> Result<Expr, ReadError> {
        let list = match sexp {
            Sexp::Word(word) => return self.word(word),
            Sexp::List(list) => list,
        };
        let Some((Sexp::Word(operator), rest)) = list.split_first() else { return error("empty expression") };
        if operator == "ite" {
            let [c, a, b] = rest else { return error("`ite` takes three parts") };
            let node = Node::If(Arc::new(self.condition(c)?), self.expr(a)?, self.expr(b)?);
            return Ok(Expr::from_node(node));
        }
        let parts = rest.iter().map(|part| self.expr(part)).collect::<Result<Vec<_>, _>>()?;
        let fold = |f: fn(Expr, Expr) -> Expr| match parts.iter().cloned().reduce(f) {
            Some(result) if parts.len() > 1 => Ok(result),
            _ => error(format!("`{operator}` takes at least two parts")),
        };
        match (operator.as_str(), parts.as_slice()) {
            ("-", [a]) => Ok(negative(a)),
            ("+", _) => fold(|a, b| a + b),
            ("-", _) => fold(|a, b| a - b),
            ("*", _) => fold(|a, b| a * b),
            ("/", _) => fold(|a, b| a / b),
            ("sqrt", [a]) => Ok(a.clone().call(Function::Sqrt)),
            ("sin", [a]) => Ok(degrees(a).sin()),
            ("cos", [a]) => Ok(degrees(a).cos()),
            ("tan", [a]) => Ok(degrees(a).call(Function::Tan)),
            ("abs", [a]) => Ok(a.clone().call(Function::Abs)),
            ("arctan", [a]) => Ok(radians(a.clone().call(Function::Atan))),
            ("arccos", [a]) => Ok(radians(a.clone().call(Function::Acos))),
            ("to_real", [a]) => Ok(a.clone()),
            ("to_int", [a]) => Ok(a.clone().call(Function::Floor)),
            _ => error(format!("unknown operation `{operator}` of {} parts", parts.len())),
        }
    }

    fn word(&self, word: &str) -> Result<Expr, ReadError> {
        if word == "real.pi" {
            return Ok(Expr::pi());
        }
        if let Some(value) = Rational::from_decimal(word) {
            return Ok(Expr::number(value));
        }
        match self.variables.iter().find(|v| v.symbol.name() == word) {
            Some(variable) => Ok(Expr::symbol(&variable.symbol)),
            None => error(format!("`{word}` is not declared")),
        }
    }
}

/// The negative; that of the greatest whole number up to `-x` is the smallest one from x.
fn negative(a: &Expr) -> Expr {
    if let Node::Call(Function::Floor, inner) = a.node()
        && let Node::Neg(x) = inner.node()
    {
        return x.clone().call(Function::Ceil);
    }
    -a.clone()
}

fn radians(degrees: Expr) -> Expr {
    degrees * Expr::pi() / Expr::from(180)
}

/// An angle in radians, in degrees. A plain quotient of pi, and degrees times pi over 180, stay exact.
fn degrees(radians: &Expr) -> Expr {
    if let Node::Div(a, b) = radians.node() {
        if matches!(a.node(), Node::Pi) {
            return Expr::from(180) / b.clone();
        }
        if let Node::Mul(x, pi) = a.node()
            && matches!(pi.node(), Node::Pi)
            && b.as_number() == Some(&Rational::from(180))
        {
            return x.clone();
        }
    }
    match radians.as_number() {
        Some(number) if number.is_zero() => Expr::zero(),
        _ => radians.clone() * (Expr::from(180) / Expr::pi()),
    }
}

/// Makes the Real constants `n` and `k` whole where their range says that they count something.
fn count_with_whole_numbers(formula: &mut Formula) {
    for variable in &mut formula.variables {
        let symbol = &variable.symbol;
        if !matches!(symbol.name(), "n" | "k") {
            continue;
        }
        let ends: Vec<&Rational> =
            formula.hypotheses.iter().filter_map(|h| range_end(&h.condition, symbol)).collect();
        if let [lo, hi, ..] = ends.as_slice()
            && lo.is_whole()
            && hi.is_whole()
            && (*hi - *lo).abs() > Rational::from(2)
        {
            variable.sort = Sort::Whole;
        }
    }
}

fn range_end<'c>(condition: &'c Condition, symbol: &Symbol) -> Option<&'c Rational> {
    let Condition::Compare(_, a, b) = condition else { return None };
    if a.as_symbol() == Some(symbol) {
        b.as_number()
    } else if b.as_symbol() == Some(symbol) {
        a.as_number()
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn constants_hypotheses_hints_and_goal_are_read() {
        let formula = from_smt2(
            "; hint (- x 1.0)\n(set-logic QF_NRAT)\n(declare-const x Real)\n(declare-const n Real)\n\
             (assert (<= 1 n))\n(assert (<= n 9))\n(assert (> x (sin (/ real.pi n))))\n\
             (assert (not (>= (* x (- 2)) (ite (< x 1) 0 x))))\n(check-sat)",
        )
        .unwrap();
        let shown: Vec<String> = formula.hypotheses.iter().map(|h| format!("{:?}", h.condition)).collect();
        assert_eq!(formula.variables[1].sort, Sort::Whole);
        assert_eq!(formula.hints.len(), 1);
        assert!(shown[2].contains("180"), "{shown:?}");
    }

    #[test]
    fn what_is_not_in_the_subset_is_an_error() {
        assert!(from_smt2("(assert (not (= x 1)))").is_err());
        assert!(from_smt2("(declare-const x Real)(assert (= x 1))").is_err());
        assert!(from_smt2("(declare-const x Real)(assert (not (exp x)))").is_err());
        assert!(from_smt2("(assert").is_err());
    }
}
