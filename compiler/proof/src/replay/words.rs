//! Short numbers in the unit that an author thinks in.

use borewright_motion::{Condition, Expr, Node, Relation, Symbol};
use borewright_number::{Dimension, Quantity, Rational, Rounding};

use super::measure::{exact, middle};
use borewright_number::Interval;

/// A length of three digits or so: `1.4mm`, `0.0123in`.
pub(super) fn length(mm: f64, inch: bool) -> String {
    let Some(value) = exact(mm) else { return "a great length".to_owned() };
    let unit = if inch { Rational::from(127) / Rational::from(5) } else { Rational::ONE };
    let number = value / unit;
    let most = if inch { 5 } else { 4 };
    let rounded = short(&number, most);
    let name = if inch { "in" } else { "mm" };
    if rounded.is_zero() && !number.is_zero() {
        return format!("less than 0.{}1{name}", "0".repeat(most as usize - 1));
    }
    format!("{}{name}", rounded.decimal_text(most))
}

/// The number to three digits or so, and no more decimals than `most`.
fn short(number: &Rational, most: u32) -> Rational {
    let size = number.abs();
    let tenth = Rational::ONE / Rational::from(10);
    let bounds = [(Rational::from(100), 1), (Rational::ONE, 2), (tenth, 3)];
    let decimals = bounds.into_iter().find(|(at_least, _)| size >= *at_least).map_or(most, |(_, d)| d);
    number.rounded(decimals.min(most), Rounding::Nearest)
}

/// An angle to two digits or so: `1deg`, `0.057deg`.
pub(super) fn angle(degrees: f64) -> String {
    let Some(value) = exact(degrees) else { return "an angle".to_owned() };
    let rounded = short(&value, 4);
    if rounded.is_zero() && !value.is_zero() {
        return "less than 0.0001deg".to_owned();
    }
    format!("{}deg", rounded.decimal_text(4))
}

/// `x 9mm, y 0mm, z -3mm`
pub(super) fn place(x: f64, y: f64, z: f64, inch: bool) -> String {
    let [x, y, z] = [x, y, z].map(|v| coordinate(v, inch));
    format!("x {x}, y {y}, z {z}")
}

/// A coordinate: what is 0 but for rounding is 0.
pub(super) fn coordinate(mm: f64, inch: bool) -> String {
    let mm = if mm.abs() < 5e-5 { 0.0 } else { mm };
    length(mm, inch)
}

/// The value in its customary unit, short.
pub(super) fn quantity(value: Interval, dimension: Dimension, inch: bool) -> String {
    let middle = middle(value);
    match dimension {
        Dimension::LENGTH => length(middle, inch),
        Dimension::ANGLE => angle(middle),
        _ => {
            let value = exact(middle).map_or(Rational::ZERO, |v| v.rounded(6, Rounding::Nearest));
            Quantity { value, dimension }.text(inch)
        }
    }
}

/// A condition as its author would write it, lengths with their unit.
pub(super) fn condition(
    condition: &Condition,
    dimension: &dyn Fn(&Symbol) -> Option<Dimension>,
    inch: bool,
) -> String {
    let part = |c: &Condition| self::condition(c, dimension, inch);
    let list = |parts: &[Condition], word: &str| {
        let parts: Vec<String> = parts.iter().map(part).collect();
        parts.join(word)
    };
    match condition {
        Condition::Compare(relation, a, b) => {
            let of = of_either(a, b, dimension);
            let (a, b) = (with_units(a, of, inch), with_units(b, of, inch));
            format!("{a} {} {b}", relation.name())
        }
        Condition::And(parts) => list(parts, " and "),
        Condition::Or(parts) => list(parts, " or "),
        Condition::True | Condition::False | Condition::Not(_) => condition.to_string(),
    }
}

/// What an expression measures, as far as names tell.
fn measures(e: &Expr, dimension: &dyn Fn(&Symbol) -> Option<Dimension>) -> Option<Dimension> {
    match e.node() {
        Node::Symbol(symbol) => dimension(symbol),
        Node::Add(a, b) | Node::Sub(a, b) | Node::Min(a, b) | Node::Max(a, b) | Node::If(_, a, b) => {
            measures(a, dimension).or_else(|| measures(b, dimension))
        }
        Node::Neg(a) => measures(a, dimension),
        Node::Mul(a, b) => match (measures(a, dimension), measures(b, dimension)) {
            (Some(a), Some(b)) => a.times(b),
            (one, other) => one.or(other),
        },
        Node::Div(a, b) => match (measures(a, dimension), measures(b, dimension)) {
            (Some(a), Some(b)) => a.over(b),
            (one, None) => one,
            (None, Some(_)) => None,
        },
        Node::Number(_) | Node::Pi | Node::Call(..) => None,
    }
}

fn of_either(a: &Expr, b: &Expr, dimension: &dyn Fn(&Symbol) -> Option<Dimension>) -> Option<Dimension> {
    measures(a, dimension).or_else(|| measures(b, dimension))
}

/// The expression with units on the numbers that stand where that dimension is wanted.
fn with_units(e: &Expr, of: Option<Dimension>, inch: bool) -> String {
    let part = |e: &Expr| with_units(e, of, inch);
    let bracketed = |e: &Expr| match e.node() {
        Node::Add(..) | Node::Sub(..) => format!("({})", part(e)),
        Node::Number(_)
        | Node::Pi
        | Node::Symbol(_)
        | Node::Mul(..)
        | Node::Div(..)
        | Node::Neg(_)
        | Node::Call(..)
        | Node::Min(..)
        | Node::Max(..)
        | Node::If(..) => part(e),
    };
    match e.node() {
        Node::Number(value) => match of {
            Some(dimension) => Quantity { value: value.clone(), dimension }.text(inch),
            None => e.to_string(),
        },
        Node::Add(a, b) => format!("{} + {}", part(a), bracketed(b)),
        Node::Sub(a, b) => format!("{} - {}", part(a), bracketed(b)),
        Node::Neg(_)
        | Node::Pi
        | Node::Symbol(_)
        | Node::Mul(..)
        | Node::Div(..)
        | Node::Call(..)
        | Node::Min(..)
        | Node::Max(..)
        | Node::If(..) => e.to_string(),
    }
}

/// `at least`, `exactly`...
pub(super) fn relation(relation: Relation) -> &'static str {
    match relation {
        Relation::Equal => "exactly",
        Relation::NotEqual => "anything but",
        Relation::Less => "less than",
        Relation::LessEqual => "at most",
        Relation::Greater => "more than",
        Relation::GreaterEqual => "at least",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_short_and_never_read_as_nothing() {
        assert_eq!(length(1.4, false), "1.4mm");
        assert_eq!(length(12.3456, false), "12.35mm");
        assert_eq!(length(0.012_34, false), "0.0123mm");
        assert_eq!(length(1e-7, false), "less than 0.0001mm");
        assert_eq!(length(12.7, true), "0.5in");
        assert_eq!(coordinate(-1e-9, false), "0mm");
    }

    #[test]
    fn conditions_show_their_units() {
        let n = Expr::named;
        let of = |_: &Symbol| Some(Dimension::LENGTH);
        let fits = Condition::at_most(n("tool") + Expr::from(1), n("pilot"));
        assert_eq!(condition(&fits, &of, false), "tool + 1mm <= pilot");
        let twice = Condition::at_most(n("bore") - n("pilot"), Expr::from(2) * n("tool"));
        assert_eq!(condition(&twice, &of, false), "bore - pilot <= 2 * tool");
    }
}
