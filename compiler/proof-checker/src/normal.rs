//! The normal form of a term under facts: a fraction of polynomials; and the polynomial that a fact is about.

use std::collections::{BTreeMap, HashMap};

use borewright_number::Rational;

use crate::Checked;
use crate::algebra::{Atom, Fraction, Poly, as_constant, atom, constant, factors, scaled, times, without};
use crate::check::Checker;
use crate::terms::{EQUAL, GREATER, Id, LESS, Term};

/// What was worked out under some facts.
#[derive(Debug, Default)]
pub(crate) struct Memo {
    normal: HashMap<Id, Fraction>,
    signs: Option<BTreeMap<Poly, i32>>,
}

impl Checker {
    pub(crate) fn normal(&mut self, facts: &[Id], memo: &mut Memo, id: Id) -> Checked<Fraction> {
        if let Some(known) = memo.normal.get(&id) {
            return Ok(known.clone());
        }
        let normal = self.normalise(facts, memo, id)?.unwrap_or_else(|| atom(Atom::Term(id)).into());
        memo.normal.insert(id, normal.clone());
        Ok(normal)
    }

    /// `None` for what is an atom of its own.
    fn normalise(&mut self, facts: &[Id], memo: &mut Memo, id: Id) -> Checked<Option<Fraction>> {
        let (name, parts) = match self.terms.get(id) {
            Term::Number(value) => return Ok(Some(constant(value).into())),
            Term::Name(..) => return Ok(self.fixed(facts, id).map(|value| constant(value).into())),
            Term::Apply(name, parts) => (name, parts),
        };
        let words: Vec<(&str, Id)> = ["a", "b", "c"].into_iter().zip(parts).collect();
        // Which part it is, or when it is what it looks like.
        let condition = match name {
            "min" | "max" => "(<= a b)",
            "abs" | "sqrt" => "(>= a 0)",
            "/" => "(!= b 0)",
            "if" => "a",
            _ => "true",
        };
        let Some(holds) = self.knows(facts, condition, &words)? else { return Ok(None) };
        let mut of = |word: &str| {
            let id = words.iter().find(|(w, _)| *w == word).map(|(_, id)| *id);
            self.normal(facts, memo, id.ok_or("a part is missing")?)
        };
        Ok(match (name, holds) {
            ("+", _) => Some(of("a")?.plus(&of("b")?)),
            ("-", _) => Some(of("a")?.plus(&of("b")?.scaled(-1))),
            ("*", _) => Some(of("a")?.times(&of("b")?)),
            ("/", true) => {
                let (a, b) = (of("a")?, of("b")?);
                b.inverse().map(|inverse| a.times(&inverse))
            }
            ("abs", _) => Some(of("a")?.scaled(if holds { 1 } else { -1 })),
            ("min", true) | ("max", false) => Some(of("a")?),
            ("if", false) => Some(of("c")?),
            ("if" | "min" | "max", _) => Some(of("b")?),
            ("sqrt", true) => Some(of("a")?).filter(|of| of.den.is_empty()).map(|of| {
                let root = as_constant(&of.num).and_then(|value| value.exact_sqrt());
                root.map_or_else(|| atom(Atom::Root(of.num)), constant).into()
            }),
            ("sin", _) => Some(sine_cosine(&of("a")?).0),
            ("cos", _) => Some(sine_cosine(&of("a")?).1),
            ("ceil" | "floor", _) => {
                let of = of("a")?;
                Some(match as_constant(&of.num).filter(|_| of.den.is_empty()) {
                    Some(value) => constant(if name == "ceil" { value.ceil() } else { value.floor() }).into(),
                    None => atom(Atom::Call(name, of)).into(),
                })
            }
            _ => None,
        })
    }

    /// The number that a variable equals by the facts, if a 64-bit float can hold it.
    fn fixed(&self, facts: &[Id], id: Id) -> Option<Rational> {
        let sides = facts.iter().filter_map(|fact| self.terms.comparison(*fact)).map(|(_, a, b)| (a, b));
        let other = |(a, b)| if a == id { Some(b) } else { (b == id).then_some(a) };
        let mut equal = sides.filter_map(other).filter(|other| self.orders(facts, id, *other) == EQUAL);
        let short = |v: &Rational| v.numerator_text().parse().is_ok_and(|n: i64| n.unsigned_abs() <= 1 << 53);
        let binary = |v: &Rational| (v * &Rational::from(2).pow(100)).is_whole();
        equal.find_map(|other| self.terms.number(other).filter(|v| short(v) && binary(v)).cloned())
    }

    /// A comparison `a - b rel 0` as a polynomial, and the orders that it may have with 0.
    pub(crate) fn poly_fact(&mut self, facts: &[Id], memo: &mut Memo, at: usize) -> Checked<(Poly, u8)> {
        let fact = facts.get(at).and_then(|fact| self.terms.comparison(*fact));
        let (orders, a, b) = match fact.ok_or("the fact is no comparison")? {
            (orders, a, b) if orders & GREATER == 0 && orders != EQUAL => (orders ^ (LESS | GREATER), b, a),
            fact => fact,
        };
        let (a, b) = (self.normal(facts, memo, a)?, self.normal(facts, memo, b)?);
        let Fraction { mut num, den } = a.plus(&b.scaled(-1));
        if orders & LESS == 0 && orders != EQUAL {
            let signs = self.signs(facts, memo)?;
            for factor in odd(den) {
                num = match signs.get(&factor) {
                    Some(sign) => scaled(&num, &Rational::from(*sign)),
                    None => times(&num, &factor),
                };
            }
        }
        Ok((num, orders))
    }

    /// From each term that is surely positive or negative: the sign of the one factor that has none yet.
    fn signs(&mut self, facts: &[Id], memo: &mut Memo) -> Checked<BTreeMap<Poly, i32>> {
        if let Some(signs) = &memo.signs {
            return Ok(signs.clone());
        }
        let (pi, zero) = (self.terms.of("pi", &[])?, self.terms.of("0", &[])?);
        let mut signs = BTreeMap::from([(atom(Atom::Term(pi)), 1)]);
        for (_, a, b) in facts.iter().filter_map(|fact| self.terms.comparison(*fact)).collect::<Vec<_>>() {
            let term = if a == zero { b } else { a };
            let sign = match self.orders(facts, term, zero) {
                LESS => -1,
                GREATER => 1,
                _ => continue,
            };
            let Fraction { num, den } = self.normal(facts, memo, term)?;
            let Some((scale, list)) = factors(&num) else { continue };
            let all = odd([list, den].concat());
            let (known, unknown): (Vec<_>, Vec<_>) = all.into_iter().partition(|f| signs.contains_key(f));
            let sign = known.iter().filter_map(|f| signs.get(f)).product::<i32>() * sign * scale.signum();
            if let [factor] = unknown.as_slice() {
                signs.insert(factor.clone(), sign);
            }
        }
        memo.signs = Some(signs.clone());
        Ok(signs)
    }
}

/// One of each factor that occurs an odd number of times.
fn odd(list: Vec<Poly>) -> Vec<Poly> {
    list.into_iter().fold(Vec::new(), |mut odd, factor| {
        let rest = without(&odd, std::slice::from_ref(&factor));
        if rest.len() < odd.len() { rest } else { [odd.split_off(0), vec![factor]].concat() }
    })
}

fn wave(angle: &Fraction) -> (Fraction, Fraction) {
    let call = |name| atom(Atom::Call(name, angle.clone())).into();
    (call("sin"), call("cos"))
}

/// By the addition theorems, one unit vector for each summand.
fn sine_cosine(angle: &Fraction) -> (Fraction, Fraction) {
    if !angle.den.is_empty() {
        return wave(angle);
    }
    let mut sum = (Fraction::default(), Fraction::from(constant(1)));
    for (mono, c) in &angle.num {
        let (sine, cosine) = if mono.is_empty() {
            constant_angle(c)
        } else {
            let (sine, cosine) = wave(&Poly::from([(mono.clone(), c.abs())]).into());
            (sine.scaled(c.signum()), cosine)
        };
        sum = (
            sum.0.times(&cosine).plus(&sum.1.times(&sine)),
            sum.1.times(&cosine).plus(&sum.0.times(&sine).scaled(-1)),
        );
    }
    sum
}

/// Quarter turns, 30 and 45 degrees have exact values; 45 to 90 degrees are mirrored.
fn constant_angle(degrees: &Rational) -> (Fraction, Fraction) {
    let [turn, right, eighth] = [360, 90, 45].map(Rational::from);
    let rest = degrees - &((degrees / &turn).floor() * turn);
    let half =
        |root: i32| scaled(&atom(Atom::Root(constant(root))), &(Rational::ONE / Rational::from(2))).into();
    match rest.to_i64() {
        Some(0) => (Fraction::default(), constant(1).into()),
        Some(30) => (constant(Rational::ONE / Rational::from(2)).into(), half(3)),
        Some(45) => (half(2), half(2)),
        _ if rest >= right => {
            let (sine, cosine) = constant_angle(&(rest - right));
            (cosine, sine.scaled(-1))
        }
        _ if rest > eighth => {
            let (sine, cosine) = constant_angle(&(right - rest));
            (cosine, sine)
        }
        _ => wave(&constant(rest).into()),
    }
}
