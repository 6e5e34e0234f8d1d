//! Every row of the table of axioms at many values, by intervals with exact ends that are narrower than 10^-20.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic, reason = "tests fail by panicking")]

#[allow(dead_code, reason = "the other test makes certificates of them")]
mod lists;

use borewright_number::{Enclosure, End, Rational};
use lists::list;
use serde_json::Value;

/// What `a`, `b` and `c` stand for: two values, and a value or a condition.
struct Point {
    a: Enclosure,
    b: Enclosure,
    c: Enclosure,
    choice: bool,
}

fn q(text: &str) -> Enclosure {
    Enclosure::point(Rational::from_fraction(text).unwrap())
}

impl Point {
    fn value(&self, term: &Value) -> Enclosure {
        let (word, parts) = split(term);
        match (word, parts) {
            ("a", []) => self.a.clone(),
            ("b", []) => self.b.clone(),
            ("c", []) => self.c.clone(),
            ("if", [choice, a, b]) => self.value(if self.condition(choice) == Some(true) { a } else { b }),
            (number, []) if number != "pi" => q(number),
            (name, parts) => {
                let parts: Vec<Enclosure> = parts.iter().map(|part| self.value(part)).collect();
                Enclosure::of(name, &parts).unwrap()
            }
        }
    }

    /// Whether a condition surely holds, or surely does not. Equal is what cannot be told apart.
    fn condition(&self, condition: &Value) -> Option<bool> {
        let (word, parts) = split(condition);
        match (word, parts) {
            ("c", []) => Some(self.choice),
            ("not", [inner]) => self.condition(inner).map(|holds| !holds),
            ("and", parts) => {
                let found: Vec<_> = parts.iter().map(|part| self.condition(part)).collect();
                let all = found.iter().all(|part| *part == Some(true)).then_some(true);
                if found.contains(&Some(false)) { Some(false) } else { all }
            }
            (relation, [a, b]) => {
                let (a, b) = (self.value(a), self.value(b));
                let narrow = a == b || width(&a).max(width(&b)).is_some_and(|w| w < tiny());
                if a.hi < b.lo {
                    Some(["<", "<=", "!="].contains(&relation))
                } else if a.lo > b.hi {
                    Some([">", ">=", "!="].contains(&relation))
                } else {
                    narrow.then(|| ["=", "<=", ">="].contains(&relation))
                }
            }
            _ => panic!("{condition}"),
        }
    }
}

fn tiny() -> Rational {
    Rational::ONE / Rational::from(10).pow(20)
}

fn width(of: &Enclosure) -> Option<Rational> {
    match (&of.lo, &of.hi) {
        (End::At(lo), End::At(hi)) => Some(hi.clone() - lo.clone()),
        _ => None,
    }
}

fn split(term: &Value) -> (&str, &[Value]) {
    let list = term.as_array().map_or(std::slice::from_ref(term), Vec::as_slice);
    (list[0].as_str().unwrap(), &list[1..])
}

/// How often the condition of a row holds, and where its conclusion then does not.
fn tried(condition: &Value, says: &Value) -> (usize, Vec<String>) {
    let values = [
        "0", "1", "-1", "2", "-3", "1/2", "-7/5", "30", "45", "60", "90", "89.99", "120", "-271.3", "17.5",
        "360",
    ];
    let text = format!("{condition} {says}");
    let uses = |word: &str| text.contains(&format!("\"{word}\""));
    let (mut met, mut wrong) = (0, Vec::new());
    for (n, a) in values.iter().enumerate() {
        for (m, b) in values.iter().enumerate().filter(|(m, _)| *m == 0 || uses("b")) {
            let c = values[(n * 7 + m * 3) % values.len()];
            for choice in [true, false].into_iter().filter(|choice| *choice || uses("c")) {
                let point = Point { a: q(a), b: q(b), c: q(c), choice };
                if point.condition(condition) == Some(true) {
                    met += 1;
                    if !undefined(&point, says) && point.condition(says) != Some(true) {
                        wrong.push(format!("a = {a}, b = {b}, c = {c} or {choice}"));
                    }
                }
            }
        }
    }
    (met, wrong)
}

/// Whether some operation in it has no value that is known: then nothing is to be told apart.
fn undefined(point: &Point, term: &Value) -> bool {
    let (word, parts) = split(term);
    let comparison = ["=", "<", "<=", ">", ">=", "!="].contains(&word);
    if comparison {
        return parts.iter().any(|part| width(&point.value(part)).is_none());
    }
    word == "and" && parts.iter().any(|part| undefined(point, part))
}

fn table() -> Vec<Value> {
    let table: Vec<Value> = serde_json::from_str(include_str!("../axioms.json")).unwrap();
    table.into_iter().filter(Value::is_array).collect()
}

#[test]
fn every_axiom_holds_at_many_points() {
    let table = table();
    assert_eq!(table.len(), 30);
    for axiom in table {
        let (name, [condition, says]) = split(&axiom) else { panic!("{axiom}") };
        let (met, wrong) = tried(condition, says);
        assert!(met >= 4, "{name}: tried at {met} points only");
        assert!(wrong.is_empty(), "{name}: {wrong:?}");
    }
}

#[test]
fn what_is_nearly_an_axiom_does_not_hold() {
    for (condition, says) in [
        ("(and)", "(= (* b (/ a b)) 1)"),
        ("(and)", "(= (abs a) a)"),
        ("(and)", "(> (ceil a) a)"),
        ("(and)", "(< (floor a) a)"),
        ("(> a b)", "(>= a (+ b 1))"),
        ("(= (floor a) a)", "(= (floor (* a b)) (* a b))"),
        ("(= (floor a) a)", "(= (floor (min a b)) (min a b))"),
        ("(>= a b)", "(= (* c a) (* c b))"),
        ("(and)", "(> (* a a) 0)"),
        ("(and)", "(> (* (- a b) (- a b)) 0)"),
        ("(<= a b)", "(= (min a b) b)"),
        ("c", "(= (if c a b) b)"),
        ("(and)", "(= (sin (+ a b)) (+ (sin a) (sin b)))"),
        ("(and)", "(= (cos (- 0 a)) (- 0 (cos a)))"),
        ("(>= a 0)", "(<= (sin a) (* 1/181 (* a pi)))"),
        ("(and (>= a 0) (<= a 90))", "(<= (sin a) (* (* 1/180 (* a pi)) (cos a)))"),
        ("(and)", "(>= (* pi (sin a)) (* 2 (* 1/180 (* a pi))))"),
        ("(and)", "(= (sqrt a) a)"),
    ] {
        let (met, wrong) = tried(&list(condition), &list(says));
        assert!(met > 0 && !wrong.is_empty(), "{condition} {says}");
    }
}

/// An axiom named like an operation says when this is defined: there is no other.
#[test]
fn three_operations_are_not_defined_everywhere() {
    let names: Vec<String> =
        table().iter().map(|axiom| split(axiom).1.len().to_string() + split(axiom).0).collect();
    let all = vec![Enclosure::ENTIRE; 3];
    let is_operation = |name: &str| (0..=3).any(|parts| Enclosure::of(name, &all[..parts]).is_some());
    let like: Vec<&str> = names.iter().map(|name| &name[1..]).filter(|name| is_operation(name)).collect();
    assert_eq!(like, ["/", "sqrt", "acos"]);
    let mut once = names.clone();
    once.sort();
    once.dedup();
    assert_eq!(once.len(), names.len());
}
