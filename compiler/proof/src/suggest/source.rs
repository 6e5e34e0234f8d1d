//! From conditions to the text that their author would write: his names, his units, short decimals.

use borewright_motion::{Condition, CutterKind, Demand, Demands, Expr, Function, Node, Relation};
use borewright_number::{Dimension, Quantity, Rational, Unit};

use super::words::Words;

/// The condition as source text; `None` where the language has no words for it.
pub(crate) fn condition(words: &Words, c: &Condition) -> Option<String> {
    match c {
        Condition::Compare(relation, a, b) => {
            let dimension = of(words, a).or_else(|| of(words, b)).unwrap_or(Dimension::RATIO);
            let (a, b) = (text(words, a, dimension, 1)?, text(words, b, dimension, 1)?);
            Some(format!("{a} {} {b}", relation.name()))
        }
        Condition::And(parts) => list(words, parts, " and "),
        Condition::Or(parts) => list(words, parts, " or "),
        Condition::True | Condition::False | Condition::Not(_) => None,
    }
}

fn list(words: &Words, parts: &[Condition], word: &str) -> Option<String> {
    let part = |c: &Condition| match c {
        Condition::And(_) | Condition::Or(_) => Some(format!("({})", condition(words, c)?)),
        Condition::True | Condition::False | Condition::Compare(..) | Condition::Not(_) => {
            condition(words, c)
        }
    };
    Some(parts.iter().map(part).collect::<Option<Vec<_>>>()?.join(word))
}

/// `flutes >= stepdown`
pub(crate) fn demand(words: &Words, rule: &Demand) -> Option<String> {
    let value = text(words, &rule.value, rule.field.dimension(), 1)?;
    Some(format!("{} {} {value}", rule.field.name(), rule.relation.name()))
}

/// `cutter flat with diameter == tool, flutes >= stepdown`: the whole line, with one more rule.
pub(crate) fn cutter_line(words: &Words, demands: Option<&Demands>, rule: &Demand) -> Option<String> {
    let rules = demands.map_or(&[][..], |d| &d.rules);
    let rules: Vec<String> =
        rules.iter().chain([rule]).map(|r| demand(words, r)).collect::<Option<Vec<_>>>()?;
    let kind = match demands.map_or(CutterKind::Flat, |d| d.kind) {
        CutterKind::Flat => "flat",
        CutterKind::Corner => "corner",
        CutterKind::Ball => "ball",
        CutterKind::Point => "point",
        CutterKind::Thread => "thread",
        CutterKind::Disc => "disc",
    };
    Some(format!("cutter {kind} with {}", rules.join(", ")))
}

/// What an expression measures; `None` for a number, which takes what its place asks for.
fn of(words: &Words, e: &Expr) -> Option<Dimension> {
    match e.node() {
        Node::Number(_) => None,
        Node::Pi => Some(Dimension::RATIO),
        Node::Symbol(s) => words.get(s).map(|w| w.dimension),
        Node::Add(a, b) | Node::Sub(a, b) | Node::Min(a, b) | Node::Max(a, b) => {
            of(words, a).or_else(|| of(words, b))
        }
        Node::Mul(a, b) => match (of(words, a), of(words, b)) {
            (Some(a), Some(b)) => a.times(b),
            (a, b) => a.or(b),
        },
        Node::Div(a, b) => match (of(words, a), of(words, b)) {
            (Some(a), Some(b)) => a.over(b),
            (Some(a), None) => Some(a),
            (None, Some(b)) => Dimension::RATIO.over(b),
            (None, None) => None,
        },
        Node::Neg(a) => of(words, a),
        Node::Call(function, a) => match function {
            Function::Sin | Function::Cos | Function::Tan | Function::Ceil | Function::Floor => {
                Some(Dimension::RATIO)
            }
            Function::Atan | Function::Acos => Some(Dimension::ANGLE),
            Function::Sqrt => of(words, a)?.root(),
            Function::Abs => of(words, a),
        },
        Node::If(..) => None,
    }
}

/// The expression where that dimension is asked for, in brackets if it binds more loosely than `least`: 1 sum,
/// 2 product, 3 atom.
fn text(words: &Words, e: &Expr, asked: Dimension, least: u8) -> Option<String> {
    if of(words, e).is_some_and(|found| found != asked) {
        return None;
    }
    let (level, text) = match e.node() {
        Node::Number(value) => number(value, asked, words.inch)?,
        Node::Pi => (3, "pi".to_owned()),
        Node::Symbol(s) => {
            let word = words.get(s).filter(|w| w.field.is_none())?;
            (3, word.symbol.name().to_owned())
        }
        Node::Add(a, b) => (1, format!("{} + {}", text(words, a, asked, 1)?, text(words, b, asked, 2)?)),
        Node::Sub(a, b) => (1, format!("{} - {}", text(words, a, asked, 1)?, text(words, b, asked, 2)?)),
        Node::Mul(a, b) => {
            let left = of(words, a).or_else(|| asked.over(of(words, b)?)).unwrap_or(Dimension::RATIO);
            let right = asked.over(left)?;
            (2, format!("{} * {}", text(words, a, left, 2)?, text(words, b, right, 3)?))
        }
        Node::Div(a, b) => {
            let right = of(words, b).unwrap_or(Dimension::RATIO);
            let left = asked.times(right)?;
            (2, format!("{} / {}", text(words, a, left, 2)?, text(words, b, right, 3)?))
        }
        Node::Neg(a) => (2, format!("-{}", text(words, a, asked, 3)?)),
        Node::Min(a, b) => (3, format!("min({}, {})", text(words, a, asked, 1)?, text(words, b, asked, 1)?)),
        Node::Max(a, b) => (3, format!("max({}, {})", text(words, a, asked, 1)?, text(words, b, asked, 1)?)),
        Node::Call(function, a) => {
            let argument = match function {
                Function::Sin | Function::Cos | Function::Tan => Dimension::ANGLE,
                Function::Atan | Function::Acos | Function::Ceil | Function::Floor => Dimension::RATIO,
                Function::Sqrt => asked.times(asked)?,
                Function::Abs => asked,
            };
            (3, format!("{}({})", function.name(), text(words, a, argument, 1)?))
        }
        Node::If(..) => return None,
    };
    Some(if level < least { format!("({text})") } else { text })
}

/// `0.2mm`, `0.9`, `1 / 3`
fn number(value: &Rational, dimension: Dimension, inch: bool) -> Option<(u8, String)> {
    if value.is_zero() {
        return Some((3, "0".to_owned()));
    }
    let level = if value.signum() < 0 { 2 } else { 3 };
    match Unit::customary(dimension, inch) {
        Some(unit) => {
            let shown = value / &unit.factor();
            shown.exact_decimal().filter(|text| text.len() < 9)?;
            Some((level, Quantity { value: value.clone(), dimension }.text(inch)))
        }
        None if dimension == Dimension::RATIO => match value.exact_decimal() {
            Some(text) => Some((level, text)),
            None => Some((2, value.to_string().replace('/', " / "))),
        },
        None => None,
    }
}

/// An alarm text that names what is at fault: `LEAD TOO LARGE`.
pub(crate) fn alarm(words: &Words, c: &Condition) -> String {
    let first = |e: &Expr| {
        let mut found = None;
        e.walk(&mut |part| {
            if found.is_none() {
                found = part.as_symbol().and_then(|s| words.get(s)).map(|w| w.symbol.name().to_owned());
            }
        });
        found
    };
    let subject = |a: &Expr, b: &Expr, large: bool| match (first(a), first(b)) {
        (Some(name), _) => Some((name, large)),
        (None, Some(name)) => Some((name, !large)),
        (None, None) => None,
    };
    let said = match c {
        Condition::Compare(Relation::Less | Relation::LessEqual, a, b) => subject(a, b, true),
        Condition::Compare(Relation::Greater | Relation::GreaterEqual, a, b) => subject(a, b, false),
        Condition::Compare(Relation::Equal | Relation::NotEqual, ..)
        | Condition::True
        | Condition::False
        | Condition::And(_)
        | Condition::Or(_)
        | Condition::Not(_) => None,
    };
    match said {
        Some((name, large)) => {
            let name = name.to_uppercase().replace(['_', '.'], " ");
            let name: String = name.chars().take(20).collect();
            format!("{name} TOO {}", if large { "LARGE" } else { "SMALL" })
        }
        None => "SIZES DO NOT FIT".to_owned(),
    }
}
