//! Expressions in words that need no brackets, for the comments of programs: a control ends a comment at the first
//! closing bracket, so none may stand in one.
//!
//! Sums are multiplied out: `(major - minor) / 2` becomes `major / 2 - minor / 2`. What cannot be multiplied out
//! gets a name: `depth / part 1, where part 1 = bore + tool`.

use borewright_motion::{Condition, Expr, Function, Node};
use borewright_number::{Dimension, Quantity, Rational};

/// More terms than a person reads: such a sum is not multiplied out.
const TERMS: usize = 6;

/// The expression with a unit on each number that stands for itself; `dimension` is that of the whole.
pub(crate) fn plain(e: &Expr, dimension: Dimension, inch: bool) -> String {
    let mut writer = Writer { parts: Vec::new(), dimension, inch };
    let text = writer.whole(e);
    writer.parts.iter().enumerate().fold(text, |text, (i, part)| {
        let joint = if i == 0 { "where" } else { "and" };
        format!("{text}, {joint} part {} = {part}", i + 1)
    })
}

/// A product: a number, what is multiplied, what divides, and one function's value at the end.
#[derive(Debug, Clone)]
struct Term {
    number: Rational,
    factors: Vec<String>,
    divisors: Vec<String>,
    function: Option<String>,
}

/// Writes one expression; what needed brackets becomes a part.
struct Writer {
    parts: Vec<String>,
    dimension: Dimension,
    inch: bool,
}

impl Term {
    fn number(number: Rational) -> Self {
        Self { number, factors: Vec::new(), divisors: Vec::new(), function: None }
    }

    fn factor(text: String) -> Self {
        Self { factors: vec![text], ..Self::number(Rational::ONE) }
    }

    fn scaled(self, by: &Rational) -> Self {
        Self { number: self.number * by, ..self }
    }

    /// One name or one number.
    fn is_atom(&self) -> bool {
        let names = self.factors.len() + usize::from(self.function.is_some());
        let bare = self.divisors.is_empty() && self.function.is_none();
        bare && (names == 0 && self.number.signum() >= 0 || names == 1 && self.number == Rational::ONE)
    }
}

impl Writer {
    /// A whole expression, which may say `the smaller of`.
    fn whole(&mut self, e: &Expr) -> String {
        match e.node() {
            Node::Min(a, b) => format!("the smaller of {} and {}", self.atom(a), self.atom(b)),
            Node::Max(a, b) => format!("the greater of {} and {}", self.atom(a), self.atom(b)),
            Node::If(condition, a, b) => {
                let (yes, no) = (self.whole(a), self.whole(b));
                format!("{yes} if {}, else {no}", self.condition(condition))
            }
            Node::Number(_)
            | Node::Pi
            | Node::Symbol(_)
            | Node::Add(..)
            | Node::Sub(..)
            | Node::Mul(..)
            | Node::Div(..)
            | Node::Neg(_)
            | Node::Call(..) => {
                let terms = self.terms(e);
                self.sum(&terms)
            }
        }
    }

    fn condition(&mut self, condition: &Condition) -> String {
        let joined = |parts: Vec<String>, word: &str| parts.join(word);
        match condition {
            Condition::True => "always".to_owned(),
            Condition::False => "never".to_owned(),
            Condition::Compare(relation, a, b) => {
                format!("{} {} {}", self.whole(a), relation.in_words(), self.whole(b))
            }
            Condition::And(parts) => joined(parts.iter().map(|p| self.condition(p)).collect(), " and "),
            Condition::Or(parts) => joined(parts.iter().map(|p| self.condition(p)).collect(), " or "),
            Condition::Not(inner) => self.condition(&inner.negated()),
        }
    }

    /// A name, a number, or a part.
    fn atom(&mut self, e: &Expr) -> String {
        let terms = self.terms(e);
        match terms.as_slice() {
            [only] if only.is_atom() => self.sum(&terms),
            _ => {
                let text = self.sum(&terms);
                self.part(text)
            }
        }
    }

    fn part(&mut self, text: String) -> String {
        let known = self.parts.iter().position(|part| *part == text);
        let at = known.unwrap_or_else(|| {
            self.parts.push(text);
            self.parts.len() - 1
        });
        format!("part {}", at + 1)
    }

    fn terms(&mut self, e: &Expr) -> Vec<Term> {
        match e.node() {
            Node::Number(number) => vec![Term::number(number.clone())],
            Node::Pi => vec![Term::factor("pi".to_owned())],
            Node::Symbol(symbol) => vec![Term::factor(symbol.to_string())],
            Node::Add(a, b) => [self.terms(a), self.terms(b)].concat(),
            Node::Sub(a, b) => {
                let minus = self.terms(b).into_iter().map(|t| t.scaled(&-Rational::ONE));
                let mut all = self.terms(a);
                all.extend(minus);
                all
            }
            Node::Neg(a) => self.terms(a).into_iter().map(|t| t.scaled(&-Rational::ONE)).collect(),
            Node::Mul(a, b) => {
                let (a, b) = (self.terms(a), self.terms(b));
                self.product(a, b)
            }
            Node::Div(a, b) => {
                let above = self.terms(a);
                let below = self.inverse(b);
                self.product(above, vec![below])
            }
            Node::Call(function, a) => vec![self.call(*function, a)],
            Node::Min(..) | Node::Max(..) | Node::If(..) => {
                let text = self.whole(e);
                vec![Term::factor(self.part(text))]
            }
        }
    }

    fn call(&mut self, function: Function, a: &Expr) -> Term {
        let text = format!("{} of {}", function.name(), self.atom(a));
        Term { function: Some(text), ..Term::number(Rational::ONE) }
    }

    /// 1 over it.
    fn inverse(&mut self, e: &Expr) -> Term {
        let mut terms = self.terms(e);
        let single = if terms.len() == 1 { terms.pop() } else { None };
        match single.and_then(|t| Some((t.number.recip()?, t))) {
            Some((number, mut term)) => {
                if let Some(function) = term.function.take() {
                    term.factors.push(self.part(function));
                }
                Term { number, factors: term.divisors, divisors: term.factors, function: None }
            }
            None => {
                let text = self.sum(&terms);
                let divisors = vec![self.part(text)];
                Term { divisors, ..Term::number(Rational::ONE) }
            }
        }
    }

    /// Each term of one times each of the other, where that stays short.
    fn product(&mut self, a: Vec<Term>, b: Vec<Term>) -> Vec<Term> {
        let sides = if a.len() * b.len() > TERMS { [a, b].map(|side| self.single(side)) } else { [a, b] };
        let [a, b] = sides;
        let pairs = a.iter().flat_map(|a| b.iter().map(move |b| (a, b)));
        pairs.map(|(a, b)| self.both(a, b)).collect()
    }

    fn single(&mut self, terms: Vec<Term>) -> Vec<Term> {
        if terms.len() == 1 {
            return terms;
        }
        let text = self.sum(&terms);
        vec![Term::factor(self.part(text))]
    }

    fn both(&mut self, a: &Term, b: &Term) -> Term {
        let mut factors = [a.factors.clone(), b.factors.clone()].concat();
        // What a function is taken of ends where the product ends: only one can stand there.
        let function = match (&a.function, &b.function) {
            (Some(a), Some(b)) => {
                factors.push(self.part(a.clone()));
                Some(b.clone())
            }
            (one, other) => one.clone().or_else(|| other.clone()),
        };
        let divisors = [a.divisors.clone(), b.divisors.clone()].concat();
        Term { number: &a.number * &b.number, factors, divisors, function }
    }

    fn sum(&self, terms: &[Term]) -> String {
        let mut text = String::new();
        for term in terms {
            let minus = term.number.signum() < 0;
            match (text.is_empty(), minus) {
                (true, false) => {}
                (true, true) => text.push('-'),
                (false, false) => text.push_str(" + "),
                (false, true) => text.push_str(" - "),
            }
            text.push_str(&self.term(term));
        }
        text
    }

    fn term(&self, term: &Term) -> String {
        let size = term.number.abs();
        let mut factors = term.factors.clone();
        let mut divisors = Vec::new();
        let alone = factors.is_empty() && term.function.is_none() && term.divisors.is_empty();
        if alone {
            return Quantity { value: size, dimension: self.dimension }.text(self.inch);
        }
        let whole = size.recip().filter(|r| r.is_whole() && !factors.is_empty() && size != Rational::ONE);
        match whole {
            Some(divisor) => divisors.push(Expr::number(divisor).to_string()),
            None if size == Rational::ONE && !(factors.is_empty() && term.function.is_none()) => {}
            None => factors.insert(0, Expr::number(size).to_string()),
        }
        divisors.extend(term.divisors.iter().cloned());
        let above = factors.join(" * ");
        let below = divisors.iter().map(|d| format!(" / {d}")).collect::<String>();
        let joint = if above.is_empty() { "" } else { " * " };
        let function = term.function.iter().map(|f| format!("{joint}{f}")).collect::<String>();
        format!("{above}{below}{function}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn n(name: &str) -> Expr {
        Expr::named(name)
    }

    fn d(text: &str) -> Expr {
        Expr::number(Rational::from_decimal(text).unwrap())
    }

    fn told(e: &Expr) -> String {
        plain(e, Dimension::LENGTH, false)
    }

    #[test]
    fn sums_are_multiplied_out() {
        assert_eq!(told(&((n("major") - n("minor")) / d("2"))), "major / 2 - minor / 2");
        assert_eq!(told(&(n("a") - (n("b") - d("0.5")))), "a - b + 0.5mm");
        assert_eq!(told(&(-(n("a") + n("b")))), "-a - b");
    }

    #[test]
    fn a_function_ends_its_product() {
        let drop = d("2") * Expr::pi() * (d("0.4") * n("tool")) * n("ramp").call(Function::Tan);
        assert_eq!(told(&drop), "0.8 * pi * tool * tan of ramp");
        let slope = n("sink") * (n("angle") / d("2")).call(Function::Tan);
        assert_eq!(told(&slope), "sink * tan of part 1, where part 1 = angle / 2");
        assert_eq!(told(&(slope / n("wide"))), "sink / wide * tan of part 1, where part 1 = angle / 2");
    }

    #[test]
    fn what_cannot_be_multiplied_out_has_a_name() {
        let e = n("depth") / (n("bore") + n("tool"));
        assert_eq!(told(&e), "depth / part 1, where part 1 = bore + tool");
        let e = n("a").min(n("b") + n("c"));
        assert_eq!(told(&e), "the smaller of a and part 1, where part 1 = b + c");
        let e = d("2") * n("a").max(n("b"));
        assert_eq!(told(&e), "2 * part 1, where part 1 = the greater of a and b");
    }

    #[test]
    fn choices_are_said_in_words() {
        let e = Expr::choose(Condition::at_most(n("a"), d("3")), n("b"), n("c") - n("d"));
        assert_eq!(told(&e), "b if a is at most 3mm, else c - d");
    }
}
