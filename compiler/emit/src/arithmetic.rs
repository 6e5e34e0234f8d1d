//! How far a control's own arithmetic is from the exact value of an expression: rigorous bounds, from the digits
//! and the accuracy of functions that its machine file states.
//!
//! Every literal, argument and result is taken to be off by up to one unit of the last digit kept, whether the
//! control rounds or cuts off. Bounds are sums and products of non-negative floats; all together they are made
//! greater by a part in 10^9, far more than the rounding of the few hundred operations behind any of them.

use std::collections::BTreeMap;

use borewright_machine::Machine;
use borewright_motion::{Condition, Expr, Function, Node, Relation, Symbol};
use borewright_number::{Interval, Rational};

use crate::macros::least;

/// An exact value's enclosure, and how far the control's value can be from it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Computed {
    /// Encloses the exact value for every admitted size.
    pub(crate) exact: Interval,
    /// Most that the computed value is off.
    pub(crate) off: f64,
    /// Most that it is off in parts of the exact value; infinite where only `off` is known.
    pub(crate) relative: f64,
    /// A whole number that the control keeps exactly.
    whole: bool,
    /// A literal or an argument, not computed: two such compare as their exact values do.
    plain: bool,
}

/// Makes a bound greater than all that its own computation can have lost.
const ENLARGED: f64 = 1.0 + 1e-9;

/// The most that a value may be taken less by before it is rounded up.
pub(crate) const MOST_LESS: f64 = 0.002;

/// A degree in radians, rounded up.
const RADIANS: f64 = 0.017_453_292_519_943_3;

impl Computed {
    fn of(exact: Interval, off: f64, relative: f64) -> Self {
        let most = exact.abs().hi;
        let off = if relative.is_finite() { off.min(relative * most) } else { off };
        // What is off by 0 of infinity is not known to be off by nothing.
        let off = if off.is_nan() { f64::INFINITY } else { off };
        Self { exact, off, relative, whole: false, plain: false }.tightened()
    }

    /// What is off by so much of a value that keeps away from 0 is off by no more than that part of it.
    fn tightened(self) -> Self {
        let least = self.exact.abs().lo;
        let part = if least > 0.0 { self.off / least * ENLARGED } else { f64::INFINITY };
        Self { relative: self.relative.min(part), ..self }
    }

    /// A whole number that is counted, not computed.
    pub(crate) fn counted(exact: Interval) -> Self {
        Self { exact, off: 0.0, relative: 0.0, whole: true, plain: true }
    }

    /// Whether nothing was computed to get it.
    pub(crate) fn is_plain(self) -> bool {
        self.plain
    }
}

/// A control's arithmetic, and what is known of each name.
#[derive(Debug, Clone)]
pub(crate) struct Arithmetic {
    /// One unit of the last digit kept, in parts of the value.
    unit: f64,
    /// How far a function's value of size 1 is off.
    function: f64,
    /// Whole numbers up to this are kept exactly.
    exact_to: f64,
    names: BTreeMap<Symbol, Computed>,
    /// Names of the head with their values.
    lets: Vec<(Symbol, Expr)>,
    /// What is 0 or more where the guards so far have passed, with those names put in.
    facts: Vec<Expr>,
}

impl Arithmetic {
    pub(crate) fn of(machine: &Machine) -> Self {
        let digits = i32::try_from(machine.numbers.significant_digits).unwrap_or(1);
        let unit = 10f64.powi(1 - digits) * ENLARGED;
        let function = Interval::from_rational(&machine.numbers.function_error).abs().hi * unit;
        let exact_to = 10f64.powi(digits - 1);
        Self {
            unit,
            function: function.max(unit),
            exact_to,
            names: BTreeMap::new(),
            lets: Vec::new(),
            facts: Vec::new(),
        }
    }

    /// The name stands for this from here on.
    pub(crate) fn define(&mut self, symbol: &Symbol, value: Computed) {
        self.names.insert(symbol.clone(), value);
    }

    /// The same where the control's own value of a name is what is meant by it.
    pub(crate) fn with_exact(&self, symbol: &Symbol) -> Self {
        let mut arithmetic = self.clone();
        let known = self.value(&Expr::symbol(symbol));
        let exact = Interval::new(known.exact.lo - known.off, known.exact.hi + known.off);
        arithmetic.lets.retain(|(name, _)| name != symbol);
        arithmetic.define(symbol, Computed { exact, off: 0.0, relative: 0.0, ..known });
        arithmetic
    }

    /// The name stands for this value, which a control has worked out.
    pub(crate) fn define_let(&mut self, symbol: &Symbol, value: &Expr) {
        let (known, expanded) = (self.value(value), self.expanded(value));
        self.names.insert(symbol.clone(), known);
        self.lets.retain(|(name, _)| name != symbol);
        self.lets.push((symbol.clone(), expanded));
    }

    /// From here on the condition holds, but for what the control's rounding of both sides and the slack of its
    /// guard let through.
    pub(crate) fn suppose(&mut self, condition: &Condition, slack: &Rational) {
        match condition {
            Condition::And(parts) => parts.iter().for_each(|part| self.suppose(part, slack)),
            Condition::Compare(relation, a, b) => {
                let (a, b) = (self.expanded(a), self.expanded(b));
                let more = || Expr::number(slack + slack);
                match relation {
                    Relation::Less | Relation::LessEqual => self.facts.push(b - a + more()),
                    Relation::Greater | Relation::GreaterEqual => self.facts.push(a - b + more()),
                    Relation::Equal | Relation::NotEqual => {}
                }
            }
            Condition::True | Condition::False | Condition::Or(_) | Condition::Not(_) => {}
        }
    }

    /// Works out again what is known of the names of the head: guards that came after them say more.
    pub(crate) fn know_more(&mut self) {
        for (symbol, value) in self.lets.clone() {
            let known = self.value(&value);
            if let Some(before) = self.names.get_mut(&symbol) {
                let exact = before.exact.intersect(known.exact);
                let relative = before.relative.min(known.relative);
                *before = Computed { exact, relative, ..*before }.tightened();
            }
        }
    }

    fn expanded(&self, expr: &Expr) -> Expr {
        expr.substitute(&|s| self.lets.iter().find(|(name, _)| name == s).map(|(_, value)| value.clone()))
    }

    /// A difference that may seem to reach 0 or less, bounded by what guards have made sure of.
    fn bounded(&self, expr: &Expr, sum: Computed) -> Computed {
        if self.facts.is_empty() || sum.exact.lo > 0.0 {
            return sum;
        }
        let low = least(&self.expanded(expr), &self.facts, &|e| self.worked(e, false).exact);
        let exact = Interval::new(sum.exact.lo.max(low.min(sum.exact.hi)), sum.exact.hi);
        Computed { exact, ..sum }.tightened()
    }

    /// An argument anywhere in its range.
    pub(crate) fn argument(&self, range: Interval, whole: bool) -> Computed {
        let off = self.unit * range.abs().hi;
        if whole && range.abs().hi <= self.exact_to {
            return Computed::counted(range);
        }
        Computed { plain: true, ..Computed::of(range, off, self.unit) }
    }

    /// An argument that takes a computed value where none is given.
    pub(crate) fn defaulted(&self, argument: Computed, default: Computed) -> Computed {
        let relative = argument.relative.max(default.relative);
        let off = argument.off.max(default.off);
        let both = Computed::of(argument.exact, off, relative);
        Computed { whole: argument.whole && default.whole, plain: argument.plain && default.plain, ..both }
    }

    /// `from + way * i / n` for whole `0 <= i <= n`, worked out in that order; the last one is `to` itself.
    pub(crate) fn between(&self, from: Computed, way: Computed, to: Computed) -> Computed {
        let most = way.exact.abs().hi;
        let part = if way.relative.is_finite() { most * way.relative } else { way.off };
        let exact = from.exact.hull(to.exact);
        let off = from.off + (part + 3.0 * self.unit * (most + part)) + self.unit * exact.abs().hi;
        Computed::of(exact, (off * ENLARGED).max(to.off), f64::INFINITY)
    }

    /// How far, in parts of it, `f * way / by` can be off, where it decides between whole numbers: `way` is not
    /// below `by` there. `f` is a literal.
    pub(crate) fn count(&self, way: Computed, by: Computed) -> f64 {
        let least = by.exact.lo;
        let part = |v: Computed| if least > 0.0 { v.relative.min(v.off / least) } else { v.relative };
        (part(way) + part(by) * 1.001 + 3.001 * self.unit) * ENLARGED
    }

    /// How far, in parts of it, `f * a` can be off that is then rounded up; `f` is a literal. Nothing where the sign
    /// of `a` is not known, or where it is a whole number that is counted.
    pub(crate) fn rounding_up(&self, a: Computed) -> Option<f64> {
        let fits = !a.whole && a.exact.lo >= 0.0 && a.exact.hi < self.exact_to;
        fits.then_some((a.relative + 3.001 * self.unit) * ENLARGED).filter(|off| *off <= MOST_LESS)
    }

    /// What is known of an expression's value as the control works it out.
    pub(crate) fn value(&self, expr: &Expr) -> Computed {
        self.worked(expr, true)
    }

    /// `guarded`: what the guards say is used.
    fn worked(&self, expr: &Expr, guarded: bool) -> Computed {
        let of = |e: &Expr| self.worked(e, guarded);
        let bounded = |sum: Computed| if guarded { self.bounded(expr, sum) } else { sum };
        match expr.node() {
            Node::Number(value) => self.literal(value),
            Node::Pi => Computed::of(Interval::PI, self.unit * 4.0, self.unit * 2.0),
            Node::Symbol(symbol) => self.names.get(symbol).copied().unwrap_or(Computed::of(
                Interval::ENTIRE,
                f64::INFINITY,
                f64::INFINITY,
            )),
            Node::Add(a, b) => bounded(self.sum(of(a), of(b), Interval::ENTIRE)),
            Node::Sub(a, b) => bounded(self.sum(of(a), negated(of(b)), Interval::ENTIRE)),
            Node::Mul(a, b) => self.product(of(a), of(b)),
            Node::Div(a, b) => self.quotient(of(a), of(b)),
            Node::Neg(a) => negated(of(a)),
            Node::Call(function, a) => self.call(*function, of(a)),
            Node::Min(a, b) => extreme(of(a), of(b), Interval::min),
            Node::Max(a, b) => extreme(of(a), of(b), Interval::max),
            Node::If(condition, a, b) => self.choice(condition, of(a), of(b)),
        }
    }

    fn literal(&self, value: &Rational) -> Computed {
        let exact = Interval::from_rational(value);
        if value.is_whole() && exact.abs().hi <= self.exact_to {
            return Computed::counted(exact);
        }
        // What does not end within the digits is written as a quotient: two literals and a division.
        let ends = value.exact_decimal().is_some_and(|t| t.len() <= 8);
        let relative = if ends { self.unit } else { 4.0 * self.unit };
        Computed { plain: ends, ..Computed::of(exact, relative * exact.abs().hi, relative) }
    }

    fn sum(&self, a: Computed, b: Computed, within: Interval) -> Computed {
        let exact = (a.exact + b.exact).intersect(within);
        if a.whole && b.whole && exact.abs().hi <= self.exact_to {
            return Computed { plain: false, ..Computed::counted(exact) };
        }
        let parts = a.off + b.off;
        let off = (parts + self.unit * (exact.abs().hi + parts)) * ENLARGED;
        let same = (a.exact.lo >= 0.0 && b.exact.lo >= 0.0) || (a.exact.hi <= 0.0 && b.exact.hi <= 0.0);
        let worse = a.relative.max(b.relative);
        let relative = if same { (worse + self.unit * (1.0 + worse)) * ENLARGED } else { f64::INFINITY };
        Computed::of(exact, off, relative)
    }

    fn product(&self, a: Computed, b: Computed) -> Computed {
        let exact = a.exact * b.exact;
        if a.whole && b.whole && exact.abs().hi <= self.exact_to {
            return Computed { plain: false, ..Computed::counted(exact) };
        }
        let (most_a, most_b) = (a.exact.abs().hi, b.exact.abs().hi);
        let parts = times(most_a, b.off) + times(most_b, a.off) + times(a.off, b.off);
        let off = (parts + self.unit * (exact.abs().hi + parts)) * ENLARGED;
        Computed::of(exact, off, self.joined(a.relative, b.relative))
    }

    fn quotient(&self, a: Computed, b: Computed) -> Computed {
        let exact = a.exact / b.exact;
        let least = b.exact.abs().lo;
        let rb = b.relative / (1.0 - b.relative);
        let rb = if b.relative < 1.0 { rb } else { f64::INFINITY };
        let off = if least > b.off {
            // |a'/b' - a/b| <= |a' - a| / |b'| + |a/b| |b/b' - 1|
            let part = (b.off / (least - b.off)).min(rb);
            let parts = a.off / (least - b.off) + times(exact.abs().hi, part);
            (parts + self.unit * (exact.abs().hi + parts)) * ENLARGED
        } else {
            f64::INFINITY
        };
        Computed::of(exact, off, self.joined(a.relative, rb))
    }

    /// (1 + a)(1 + b)(1 + unit) - 1
    fn joined(&self, a: f64, b: f64) -> f64 {
        let both = a + b + a * b;
        if both.is_finite() { (both + self.unit * (1.0 + both)) * ENLARGED } else { f64::INFINITY }
    }

    fn call(&self, function: Function, a: Computed) -> Computed {
        let (e, f) = (a.exact, self.function);
        let plain = |exact: Interval, off: f64| Computed::of(exact, off * ENLARGED, f64::INFINITY);
        match function {
            Function::Sin => plain(e.sin_degrees(), a.off * RADIANS + f),
            Function::Cos => plain(e.cos_degrees(), a.off * RADIANS + f),
            Function::Tan => {
                let wide = Interval::new(e.lo - a.off, e.hi + a.off);
                let (sine, cosine) = (wide.sin_degrees(), wide.cos_degrees());
                let exact = sine / cosine;
                let steepest = 1.0 + exact.abs().hi * exact.abs().hi;
                plain(exact, a.off * RADIANS * steepest + f * steepest)
            }
            // The arc tangent moves by at most 57.3 degrees a unit; the arc cosine by the root near its ends.
            Function::Atan => plain(e.atan_degrees(), 57.3 * a.off + 180.0 * f),
            Function::Acos => plain(e.acos_degrees(), 132.0 * a.off.sqrt() + 180.0 * f),
            Function::Sqrt => {
                let exact = e.sqrt();
                let off = a.off.sqrt() + f * (exact.abs().hi + a.off.sqrt());
                let relative =
                    if a.relative < 1.0 { a.relative + f * (1.0 + a.relative) } else { f64::INFINITY };
                Computed::of(exact, off * ENLARGED, relative * ENLARGED)
            }
            Function::Abs => Computed { exact: e.abs(), ..a },
            // What is rounded up is taken a little less: the whole number is one that the motion may count.
            Function::Ceil if self.rounding_up(a).is_some() => {
                let least = e.lo * (1.0 - 3.0 * MOST_LESS);
                let counted = Computed::counted(Interval::new(least.ceil(), e.ceil().hi));
                Computed { plain: false, ..counted }
            }
            Function::Ceil => whole(e.ceil(), a),
            Function::Floor => whole(e.floor(), a),
        }
    }

    fn choice(&self, condition: &Condition, a: Computed, b: Computed) -> Computed {
        let exact = a.exact.hull(b.exact);
        let mut sure = true;
        condition.walk(&mut |e| {
            sure &= matches!(e.node(), Node::Number(_) | Node::Symbol(_)) && self.value(e).plain
        });
        // Near its limit the control may take the other branch.
        let other = if sure { 0.0 } else { exact.width() };
        Computed::of(exact, (a.off.max(b.off) + other) * ENLARGED, f64::INFINITY)
    }

    /// Most that the control's `a - b` is off; `None` where both are plain, so that their comparison is exact.
    pub(crate) fn comparison(&self, a: &Expr, b: &Expr) -> Option<f64> {
        let (a, b) = (self.value(a), self.value(b));
        let whole = a.whole && b.whole;
        (!(whole || a.plain && b.plain)).then(|| self.sum(a, negated(b), Interval::ENTIRE).off)
    }
}

fn negated(a: Computed) -> Computed {
    Computed { exact: -a.exact, ..a }
}

fn extreme(a: Computed, b: Computed, of: fn(Interval, Interval) -> Interval) -> Computed {
    let merged = Computed::of(of(a.exact, b.exact), a.off.max(b.off), a.relative.max(b.relative));
    Computed { whole: a.whole && b.whole, ..merged }
}

/// Rounded to whole numbers: exact where its argument is, else one off where the argument lies close to a step.
fn whole(exact: Interval, a: Computed) -> Computed {
    if a.whole { a } else { Computed::of(exact, 1.0, f64::INFINITY) }
}

/// The product of bounds, with 0 times infinity = 0.
fn times(a: f64, b: f64) -> f64 {
    if a == 0.0 || b == 0.0 { 0.0 } else { a * b }
}

/// The least decimal with one digit, at least 10^-`decimals`, that is not below the value: 0.00013 becomes 0.0002.
pub(crate) fn one_digit_up(value: f64, decimals: u32) -> Option<Rational> {
    let mut step = Rational::ONE / Rational::from(10).pow(decimals as usize);
    let exact = Rational::from_f64(value)?;
    for _ in 0..40 {
        let digits = (&exact / &step).ceil();
        if digits <= Rational::from(9) {
            return Some(digits.max(Rational::ONE) * step);
        }
        step = step * Rational::from(10);
    }
    None
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn n(name: &str) -> Expr {
        Expr::named(name)
    }

    fn control() -> Arithmetic {
        let mut arithmetic = Arithmetic::of(&Machine::builtin("hash-mm").unwrap());
        for (name, lo, hi) in [("bore", 6.0, 300.0), ("tool", 2.0, 50.0), ("start", -360.0, 360.0)] {
            let value = arithmetic.argument(Interval::new(lo, hi), false);
            arithmetic.define(&Symbol::new(name), value);
        }
        arithmetic
    }

    #[test]
    fn arguments_compare_exactly_and_sums_do_not() {
        let control = control();
        assert_eq!(control.comparison(&n("bore"), &Expr::from(6)), None);
        assert_eq!(control.comparison(&n("bore"), &n("tool")), None);
        let off = control.comparison(&(n("bore") - n("tool")), &Expr::from(6)).unwrap();
        assert!(off > 3e-5 && off < 2e-4, "{off}");
        assert_eq!(control.comparison(&n("nobody"), &n("tool")), Some(f64::INFINITY));
    }

    #[test]
    fn slack_has_one_digit() {
        let shown = |value| one_digit_up(value, 4).unwrap().decimal_text(9);
        assert_eq!(
            [shown(0.000_13), shown(0.0), shown(0.0095), shown(3.0)],
            ["0.0002", "0.0001", "0.01", "3"]
        );
    }

    /// The value with seven digits after each operation: a control that keeps less than it promises.
    fn rounded(value: f64, cut: bool) -> f64 {
        if value == 0.0 {
            return 0.0;
        }
        let scale = 10f64.powi(7 - value.abs().log10().floor() as i32);
        if cut { (value * scale).trunc() / scale } else { (value * scale).round() / scale }
    }

    fn worked(expr: &Expr, names: &BTreeMap<&str, f64>, cut: bool) -> f64 {
        let of = |e: &Expr| worked(e, names, cut);
        let value = match expr.node() {
            Node::Number(value) => value.to_f64(),
            Node::Symbol(symbol) => names[symbol.name()],
            Node::Add(a, b) => of(a) + of(b),
            Node::Sub(a, b) => of(a) - of(b),
            Node::Mul(a, b) => of(a) * of(b),
            Node::Div(a, b) => of(a) / of(b),
            Node::Neg(a) => -of(a),
            Node::Call(Function::Cos, a) => of(a).to_radians().cos(),
            Node::Call(Function::Sin, a) => of(a).to_radians().sin(),
            _ => unreachable!(),
        };
        rounded(value, cut)
    }

    proptest! {
        #[test]
        fn a_control_with_eight_digits_stays_within_the_bound(
            bore in 6.0..300.0_f64, tool in 2.0..50.0_f64, start in -360.0..360.0_f64, cut: bool,
        ) {
            let (bore, tool, start) = (rounded(bore, false), rounded(tool, false), rounded(start, false));
            let names = BTreeMap::from([("bore", bore), ("tool", tool), ("start", start)]);
            let wall = (n("bore") - n("tool")) / Expr::from(2);
            let tried = [
                wall.clone(),
                wall.clone() * n("start").cos(),
                Expr::number(Rational::ratio(9, 10).unwrap()) * wall.clone() - n("tool"),
                (wall - n("tool") / Expr::from(4)) * n("start").sin() + n("bore"),
                n("tool") / n("bore"),
            ];
            for expr in tried {
                let exact = {
                    let w = (bore - tool) / 2.0;
                    let (s, c) = start.to_radians().sin_cos();
                    match expr.to_string().as_str() {
                        "(bore - tool) / 2" => w,
                        "(bore - tool) / 2 * cos(start)" => w * c,
                        "0.9 * ((bore - tool) / 2) - tool" => 0.9 * w - tool,
                        "((bore - tool) / 2 - tool / 4) * sin(start) + bore" => (w - tool / 4.0) * s + bore,
                        "tool / bore" => tool / bore,
                        other => panic!("{other}"),
                    }
                };
                let known = control().value(&expr);
                let off = (worked(&expr, &names, cut) - exact).abs();
                prop_assert!(off <= known.off + 1e-12, "{expr}: {off} > {}", known.off);
                prop_assert!(known.exact.lo - 1e-12 <= exact && exact <= known.exact.hi + 1e-12);
            }
        }
    }
}
