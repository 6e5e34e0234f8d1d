//! A second reading of certificates, written from the description in `certificate.rs` alone: it shares no code with
//! the engine, so that a slip in one of the two shows.

#![allow(
    clippy::wildcard_enum_match_arm,
    clippy::too_many_lines,
    reason = "a witness that follows the written description rule by rule, as one table"
)]

use std::collections::{BTreeMap, HashMap};

use borewright_motion::{Condition, Expr, Function, Node, Relation, Symbol};
use borewright_number::{Interval, Rational};
use borewright_proof::certificate::{Axiom, Certificate, Factor, Proof, Step, Term};
use borewright_proof::{Formula, Sort, well_defined};

type Id = usize;
type Mono = Vec<usize>;
type Poly = BTreeMap<Mono, Rational>;
type Checked<T> = Result<T, String>;

/// A fraction with a factored denominator.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Fraction {
    num: Poly,
    den: BTreeMap<Poly, u32>,
}

#[derive(Clone, Debug, PartialEq, Eq, Hash)]
enum Key {
    Number(Rational),
    Pi,
    Name(Symbol),
    Op(u8, Vec<Id>),
    Call(Function, Id),
    If(Cond, Id, Id),
}

#[derive(Clone, Debug, PartialEq, Eq, Hash)]
enum Cond {
    True,
    False,
    Compare(Relation, Id, Id),
    And(Vec<Cond>),
    Or(Vec<Cond>),
}

#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Atom {
    Opaque(Id),
    Root(Poly),
    Sin(Fraction),
    Cos(Fraction),
    Rounded(bool, Fraction),
}

pub struct Checker<'f> {
    formula: &'f Formula,
    keys: Vec<Key>,
    index: HashMap<Key, Id>,
    atoms: Vec<Atom>,
}

fn negated(c: &Cond) -> Cond {
    match c {
        Cond::True => Cond::False,
        Cond::False => Cond::True,
        Cond::Compare(r, a, b) => Cond::Compare(r.negated(), *a, *b),
        Cond::And(parts) => Cond::Or(parts.iter().map(negated).collect()),
        Cond::Or(parts) => Cond::And(parts.iter().map(negated).collect()),
    }
}

fn add(p: &mut Poly, m: Mono, c: Rational) {
    let entry = p.entry(m.clone()).or_insert(Rational::ZERO);
    *entry += &c;
    if entry.is_zero() {
        p.remove(&m);
    }
}

fn plus(a: &Poly, b: &Poly, scale: &Rational) -> Poly {
    let mut sum = a.clone();
    for (m, c) in b {
        add(&mut sum, m.clone(), c * scale);
    }
    sum
}

fn constant(value: Rational) -> Poly {
    let mut p = Poly::new();
    add(&mut p, Vec::new(), value);
    p
}

fn as_constant(p: &Poly) -> Option<Rational> {
    if p.is_empty() {
        return Some(Rational::ZERO);
    }
    (p.len() == 1).then(|| p.get(&Vec::new()).cloned()).flatten()
}

fn whole_fraction(num: Poly) -> Fraction {
    Fraction { num, den: BTreeMap::new() }
}

/// The facts of one branch.
#[derive(Clone, Default)]
struct Facts {
    list: Vec<Cond>,
}

impl Facts {
    fn assume(&mut self, c: &Cond) {
        match c {
            Cond::True => {}
            Cond::And(parts) => parts.iter().for_each(|p| self.assume(p)),
            _ => self.list.push(c.clone()),
        }
    }

    /// Which of less, equal, greater remain.
    fn orders(&self, a: Id, b: Id) -> [bool; 3] {
        if a == b {
            return [false, true, false];
        }
        let mut left = [true; 3];
        for fact in &self.list {
            let Cond::Compare(r, x, y) = fact else { continue };
            let flip = if (*x, *y) == (a, b) {
                false
            } else if (*x, *y) == (b, a) {
                true
            } else {
                continue;
            };
            use std::cmp::Ordering::{Equal, Greater, Less};
            for (slot, order) in [Less, Equal, Greater].into_iter().enumerate() {
                left[slot] &= r.holds(if flip { order.reverse() } else { order });
            }
        }
        left
    }

    fn decides(&self, c: &Cond) -> Option<bool> {
        use std::cmp::Ordering::{Equal, Greater, Less};
        match c {
            Cond::True => Some(true),
            Cond::False => Some(false),
            Cond::Compare(r, a, b) => {
                let left = self.orders(*a, *b);
                let possible: Vec<bool> = [Less, Equal, Greater]
                    .into_iter()
                    .zip(left)
                    .filter(|(_, l)| *l)
                    .map(|(o, _)| r.holds(o))
                    .collect();
                if possible.iter().all(|p| *p) {
                    Some(true)
                } else if possible.iter().all(|p| !*p) {
                    Some(false)
                } else {
                    None
                }
            }
            Cond::And(parts) => {
                let all: Vec<_> = parts.iter().map(|p| self.decides(p)).collect();
                if all.contains(&Some(false)) {
                    Some(false)
                } else {
                    all.iter().all(|v| *v == Some(true)).then_some(true)
                }
            }
            Cond::Or(parts) => {
                let all: Vec<_> = parts.iter().map(|p| self.decides(p)).collect();
                if all.contains(&Some(true)) {
                    Some(true)
                } else {
                    all.iter().all(|v| *v == Some(false)).then_some(false)
                }
            }
        }
    }
}

#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Sign {
    NotNegative,
    Positive,
    Zero,
    NotZero,
}

impl<'f> Checker<'f> {
    pub fn new(formula: &'f Formula) -> Self {
        Self { formula, keys: Vec::new(), index: HashMap::new(), atoms: Vec::new() }
    }

    pub fn check(&mut self, certificate: &Certificate) -> Checked<()> {
        let mut facts = Facts::default();
        let mut proved: Vec<Cond> = Vec::new();
        let mut next = 0;
        for (number, step) in certificate.steps.iter().enumerate() {
            match step {
                Step::Assume => {
                    let hypothesis = self.formula.hypotheses.get(next).ok_or("too many hypotheses")?;
                    self.need_defined(&hypothesis.condition, &proved)?;
                    let condition = self.condition(&hypothesis.condition)?;
                    facts.assume(&condition);
                    next += 1;
                }
                Step::Axiom(axiom) => {
                    let conclusion = self.axiom(axiom, &facts)?;
                    facts.assume(&conclusion);
                }
                Step::Prove { condition, proof } => {
                    let condition = self.condition(condition)?;
                    let mut branch = facts.clone();
                    branch.assume(&negated(&condition));
                    self.refute(branch, proof).map_err(|e| format!("step {number}: {e}"))?;
                    facts.assume(&condition);
                    proved.push(condition);
                }
            }
        }
        if next != self.formula.hypotheses.len() {
            return Err("not all hypotheses were assumed".into());
        }
        self.need_defined(&self.formula.goal.clone(), &proved)?;
        let goal = self.condition(&self.formula.goal.clone())?;
        if goal == Cond::True || proved.contains(&goal) {
            Ok(())
        } else {
            Err("the goal is not proved".into())
        }
    }

    fn need_defined(&mut self, condition: &Condition, proved: &[Cond]) -> Checked<()> {
        let inlined = condition.substitute(&|_| None);
        let _ = inlined;
        let needed = well_defined(&self.inline_condition(condition));
        let needed = self.condition(&needed)?;
        if needed == Cond::True || proved.contains(&needed) {
            Ok(())
        } else {
            Err(format!("not shown to be well defined: {condition:?}"))
        }
    }

    /// Definitions in place of names, without folding.
    fn inline(&self, e: &Expr) -> Expr {
        let go = |x: &Expr| self.inline(x);
        Expr::from_node(match e.node() {
            Node::Symbol(s) => {
                let definition =
                    self.formula.variables.iter().find(|v| v.symbol == *s).and_then(|v| v.definition.clone());
                return definition.map_or_else(|| e.clone(), |d| self.inline(&d));
            }
            Node::Number(_) | Node::Pi => return e.clone(),
            Node::Add(a, b) => Node::Add(go(a), go(b)),
            Node::Sub(a, b) => Node::Sub(go(a), go(b)),
            Node::Mul(a, b) => Node::Mul(go(a), go(b)),
            Node::Div(a, b) => Node::Div(go(a), go(b)),
            Node::Neg(a) => Node::Neg(go(a)),
            Node::Call(f, a) => Node::Call(*f, go(a)),
            Node::Min(a, b) => Node::Min(go(a), go(b)),
            Node::Max(a, b) => Node::Max(go(a), go(b)),
            Node::If(c, a, b) => Node::If(self.inline_condition(c).into(), go(a), go(b)),
        })
    }

    fn inline_condition(&self, c: &Condition) -> Condition {
        match c {
            Condition::True | Condition::False => c.clone(),
            Condition::Compare(r, a, b) => Condition::Compare(*r, self.inline(a), self.inline(b)),
            Condition::And(parts) => Condition::And(parts.iter().map(|p| self.inline_condition(p)).collect()),
            Condition::Or(parts) => Condition::Or(parts.iter().map(|p| self.inline_condition(p)).collect()),
            Condition::Not(inner) => Condition::Not(self.inline_condition(inner).into()),
        }
    }

    fn intern(&mut self, key: Key) -> Id {
        if let Some(id) = self.index.get(&key) {
            return *id;
        }
        self.keys.push(key.clone());
        self.index.insert(key, self.keys.len() - 1);
        self.keys.len() - 1
    }

    fn term(&mut self, e: &Expr) -> Checked<Id> {
        let key = match e.node() {
            Node::Number(v) => Key::Number(v.clone()),
            Node::Pi => Key::Pi,
            Node::Symbol(s) => {
                let variable =
                    self.formula.variables.iter().find(|v| v.symbol == *s).ok_or("unknown name")?;
                match variable.definition.clone() {
                    Some(definition) => return self.term(&definition),
                    None => Key::Name(s.clone()),
                }
            }
            Node::Add(a, b) => Key::Op(0, vec![self.term(a)?, self.term(b)?]),
            Node::Sub(a, b) => Key::Op(1, vec![self.term(a)?, self.term(b)?]),
            Node::Mul(a, b) => Key::Op(2, vec![self.term(a)?, self.term(b)?]),
            Node::Div(a, b) => Key::Op(3, vec![self.term(a)?, self.term(b)?]),
            Node::Neg(a) => Key::Op(4, vec![self.term(a)?]),
            Node::Min(a, b) => Key::Op(5, vec![self.term(a)?, self.term(b)?]),
            Node::Max(a, b) => Key::Op(6, vec![self.term(a)?, self.term(b)?]),
            Node::Call(f, a) => Key::Call(*f, self.term(a)?),
            Node::If(c, a, b) => Key::If(self.condition(c)?, self.term(a)?, self.term(b)?),
        };
        Ok(self.intern(key))
    }

    fn condition(&mut self, c: &Condition) -> Checked<Cond> {
        Ok(match c {
            Condition::True => Cond::True,
            Condition::False => Cond::False,
            Condition::Compare(r, a, b) => Cond::Compare(*r, self.term(a)?, self.term(b)?),
            Condition::And(parts) => {
                Cond::And(parts.iter().map(|p| self.condition(p)).collect::<Checked<_>>()?)
            }
            Condition::Or(parts) => {
                Cond::Or(parts.iter().map(|p| self.condition(p)).collect::<Checked<_>>()?)
            }
            Condition::Not(inner) => negated(&self.condition(inner)?),
        })
    }

    fn refute(&mut self, facts: Facts, proof: &Proof) -> Checked<()> {
        match proof {
            Proof::Split { condition, holds, fails } => {
                let condition = self.condition(condition)?;
                let (mut yes, mut no) = (facts.clone(), facts);
                yes.assume(&condition);
                no.assume(&negated(&condition));
                self.refute(yes, holds)?;
                self.refute(no, fails)
            }
            Proof::Cases { fact, branches } => {
                let Some(Cond::Or(parts)) = facts.list.get(*fact).cloned() else {
                    return Err("cases of what is no `or`".into());
                };
                if parts.len() != branches.len() {
                    return Err("a case is missing".into());
                }
                for (part, branch) in parts.iter().zip(branches) {
                    let mut next = facts.clone();
                    next.assume(part);
                    self.refute(next, branch)?;
                }
                Ok(())
            }
            Proof::Axiom { axiom, then } => {
                let conclusion = self.axiom(axiom, &facts)?;
                let mut next = facts;
                next.assume(&conclusion);
                self.refute(next, then)
            }
            Proof::Combine(terms) => self.combine(&facts, terms),
            Proof::Evaluate { fact } => self.evaluate(&facts, *fact),
        }
    }

    fn axiom(&mut self, axiom: &Axiom, facts: &Facts) -> Checked<Cond> {
        use Relation::{Equal, Greater, GreaterEqual, Less, LessEqual};
        let zero = self.intern(Key::Number(Rational::ZERO));
        let one = self.intern(Key::Number(Rational::ONE));
        match axiom {
            Axiom::Rounding(e) => {
                let id = self.term(e)?;
                match self.keys[id].clone() {
                    Key::Call(Function::Ceil, x) => {
                        let far = self.intern(Key::Op(0, vec![x, one]));
                        Ok(Cond::And(vec![Cond::Compare(GreaterEqual, id, x), Cond::Compare(Less, id, far)]))
                    }
                    Key::Call(Function::Floor, x) => {
                        let far = self.intern(Key::Op(1, vec![x, one]));
                        Ok(Cond::And(vec![Cond::Compare(LessEqual, id, x), Cond::Compare(Greater, id, far)]))
                    }
                    _ => Err("no rounding".into()),
                }
            }
            Axiom::Root(e) => {
                let id = self.term(e)?;
                let Key::Call(Function::Sqrt, x) = self.keys[id].clone() else {
                    return Err("no root".into());
                };
                if self.against_zero(facts, x, GreaterEqual) != Some(true) {
                    return Err("root of what may be negative".into());
                }
                let square = self.intern(Key::Op(2, vec![id, id]));
                Ok(Cond::And(vec![Cond::Compare(GreaterEqual, id, zero), Cond::Compare(Equal, square, x)]))
            }
            Axiom::Angle(e) => {
                let a = self.term(e)?;
                let right = self.intern(Key::Number(Rational::from(90)));
                if self.against_zero(facts, a, GreaterEqual) != Some(true)
                    || facts.decides(&Cond::Compare(LessEqual, a, right)) != Some(true)
                {
                    return Err("angle outside 0..90".into());
                }
                let sine = self.intern(Key::Call(Function::Sin, a));
                let cosine = self.intern(Key::Call(Function::Cos, a));
                let pi = self.intern(Key::Pi);
                let half_turn = self.intern(Key::Number(Rational::from(180)));
                let product = self.intern(Key::Op(2, vec![a, pi]));
                let radians = self.intern(Key::Op(3, vec![product, half_turn]));
                let scaled = self.intern(Key::Op(2, vec![radians, cosine]));
                let two = self.intern(Key::Number(Rational::from(2)));
                let chord = self.intern(Key::Op(2, vec![two, radians]));
                let stretched = self.intern(Key::Op(2, vec![pi, sine]));
                Ok(Cond::And(vec![
                    Cond::Compare(LessEqual, sine, radians),
                    Cond::Compare(GreaterEqual, sine, scaled),
                    Cond::Compare(GreaterEqual, stretched, chord),
                    Cond::Compare(GreaterEqual, sine, zero),
                    Cond::Compare(GreaterEqual, cosine, zero),
                ]))
            }
            Axiom::Whole(number) => {
                let Some(Cond::Compare(r, a, b)) = facts.list.get(*number).cloned() else {
                    return Err("no comparison".into());
                };
                let (a, b) = match r {
                    Greater => (a, b),
                    Less => (b, a),
                    _ => return Err("no strict comparison".into()),
                };
                if !self.is_whole(a) || !self.is_whole(b) {
                    return Err("not whole".into());
                }
                let far = match self.keys[b].clone() {
                    Key::Number(v) => self.intern(Key::Number(v + Rational::ONE)),
                    _ => self.intern(Key::Op(0, vec![b, one])),
                };
                Ok(Cond::Compare(GreaterEqual, a, far))
            }
        }
    }

    fn is_whole(&self, id: Id) -> bool {
        match &self.keys[id] {
            Key::Number(v) => v.is_whole(),
            Key::Name(s) => self.formula.variables.iter().any(|v| v.symbol == *s && v.sort == Sort::Whole),
            Key::Op(0 | 1 | 2 | 4 | 5 | 6, parts) => parts.iter().all(|p| self.is_whole(*p)),
            Key::Call(Function::Ceil | Function::Floor, _) => true,
            Key::Call(Function::Abs, a) => self.is_whole(*a),
            Key::If(_, a, b) => self.is_whole(*a) && self.is_whole(*b),
            _ => false,
        }
    }

    fn combine(&mut self, facts: &Facts, terms: &[Term]) -> Checked<()> {
        let mut memo = Memo::default();
        let mut sum = Poly::new();
        let mut strict = false;
        for term in terms {
            let mut product = constant(Rational::ONE);
            let (mut positive, mut zero, mut any) = (true, false, false);
            for factor in &term.factors {
                let poly = match factor {
                    Factor::Fact(number) => {
                        let (poly, sign) = self.poly_fact(facts, &mut memo, *number)?;
                        match sign {
                            Sign::Positive => poly,
                            Sign::NotNegative => {
                                positive = false;
                                poly
                            }
                            Sign::Zero => {
                                zero = true;
                                poly
                            }
                            Sign::NotZero => self.times(&poly, &poly),
                        }
                    }
                    Factor::Square(e) => {
                        positive = false;
                        let poly = self.polynomial(facts, &mut memo, e)?;
                        self.times(&poly, &poly)
                    }
                    Factor::Any(e) => {
                        any = true;
                        self.polynomial(facts, &mut memo, e)?
                    }
                };
                product = self.times(&product, &poly);
            }
            if !zero && (any || term.scale.signum() < 0) {
                return Err("a term may be negative".into());
            }
            strict |= !zero && positive && term.scale.signum() > 0;
            sum = plus(&sum, &product, &term.scale);
        }
        if !strict {
            return Err("no term is positive".into());
        }
        if sum.is_empty() { Ok(()) } else { Err(format!("the sum is not 0 but has {} terms", sum.len())) }
    }

    fn polynomial(&mut self, facts: &Facts, memo: &mut Memo, e: &Expr) -> Checked<Poly> {
        let id = self.term(e)?;
        let normal = self.normal(facts, memo, id)?;
        if normal.den.is_empty() { Ok(normal.num) } else { Err("no polynomial".into()) }
    }

    fn poly_fact(&mut self, facts: &Facts, memo: &mut Memo, number: usize) -> Checked<(Poly, Sign)> {
        let Some(Cond::Compare(r, a, b)) = facts.list.get(number).cloned() else {
            return Err("no comparison".into());
        };
        let (a, b) = match r {
            Relation::Less | Relation::LessEqual => (b, a),
            _ => (a, b),
        };
        let sign = match r {
            Relation::Less | Relation::Greater => Sign::Positive,
            Relation::LessEqual | Relation::GreaterEqual => Sign::NotNegative,
            Relation::Equal => Sign::Zero,
            Relation::NotEqual => Sign::NotZero,
        };
        let (x, y) = (self.normal(facts, memo, a)?, self.normal(facts, memo, b)?);
        let difference = self.add_fractions(&x, &y, &Rational::from(-1));
        let mut poly = difference.num;
        if matches!(sign, Sign::Positive | Sign::NotNegative) {
            let signs = self.signs(facts, memo)?;
            for (factor, k) in difference.den {
                if k % 2 == 1 {
                    match signs.get(&factor) {
                        Some(s) => poly = plus(&Poly::new(), &poly, &Rational::from(*s)),
                        None => poly = self.times(&poly, &factor),
                    }
                }
            }
        }
        Ok((poly, sign))
    }

    fn signs(&mut self, facts: &Facts, memo: &mut Memo) -> Checked<BTreeMap<Poly, i32>> {
        if let Some(signs) = &memo.signs {
            return Ok(signs.clone());
        }
        let zero = self.intern(Key::Number(Rational::ZERO));
        let pi = self.intern(Key::Pi);
        let pi = self.atom(Atom::Opaque(pi));
        let mut signs = BTreeMap::from([(Poly::from([(vec![pi], Rational::ONE)]), 1)]);
        let mut seen = Vec::new();
        for fact in facts.list.clone() {
            let Cond::Compare(_, a, b) = fact else { continue };
            let term = if b == zero {
                a
            } else if a == zero {
                b
            } else {
                continue;
            };
            let mut sign = match facts.orders(term, zero) {
                [true, false, false] => -1,
                [false, false, true] => 1,
                _ => continue,
            };
            if seen.contains(&term) {
                continue;
            }
            seen.push(term);
            let normal = self.normal(facts, memo, term)?;
            let Some((scale, mut parts)) = split(&normal.num) else { continue };
            sign *= scale.signum();
            for (factor, k) in normal.den {
                *parts.entry(factor).or_insert(0) += k;
            }
            let mut unknown = Vec::new();
            for (factor, k) in parts {
                if k % 2 == 1 {
                    match signs.get(&factor) {
                        Some(s) => sign *= s,
                        None => unknown.push(factor),
                    }
                }
            }
            if let [factor] = unknown.as_slice() {
                signs.insert(factor.clone(), sign);
            }
        }
        memo.signs = Some(signs.clone());
        Ok(signs)
    }

    fn atom(&mut self, atom: Atom) -> usize {
        if let Some(at) = self.atoms.iter().position(|a| *a == atom) {
            return at;
        }
        self.atoms.push(atom);
        self.atoms.len() - 1
    }

    fn atom_poly(&mut self, atom: Atom) -> Poly {
        Poly::from([(vec![self.atom(atom)], Rational::ONE)])
    }

    fn times(&self, a: &Poly, b: &Poly) -> Poly {
        let mut result = Poly::new();
        let mut waiting = Vec::new();
        for (m, c) in a {
            for (n, d) in b {
                let mut all: Mono = m.iter().chain(n).copied().collect();
                all.sort_unstable();
                waiting.push((all, c * d));
            }
        }
        while let Some((mono, c)) = waiting.pop() {
            let repeated = mono.windows(2).position(|w| w[0] == w[1] && self.square(w[0]).is_some());
            match repeated {
                None => add(&mut result, mono, c),
                Some(at) => {
                    let square = self.square(mono[at]).unwrap();
                    let mut rest = mono.clone();
                    rest.drain(at..at + 2);
                    for (m, d) in square {
                        let mut all: Mono = m.iter().chain(&rest).copied().collect();
                        all.sort_unstable();
                        waiting.push((all, &c * &d));
                    }
                }
            }
        }
        result
    }

    fn square(&self, atom: usize) -> Option<Poly> {
        match &self.atoms[atom] {
            Atom::Root(p) => Some(p.clone()),
            Atom::Cos(angle) => {
                let sine = self.atoms.iter().position(|a| *a == Atom::Sin(angle.clone())).unwrap();
                let mut p = constant(Rational::ONE);
                add(&mut p, vec![sine, sine], Rational::from(-1));
                Some(p)
            }
            _ => None,
        }
    }

    fn cancel(&self, mut f: Fraction) -> Fraction {
        if f.num.is_empty() {
            f.den.clear();
        }
        let factors: Vec<Poly> = f.den.keys().cloned().collect();
        for factor in factors {
            let Some((mono, _)) = factor.iter().next().filter(|_| factor.len() == 1) else { continue };
            let atom = mono[0];
            while f.den.contains_key(&factor) && f.num.keys().all(|m| m.contains(&atom)) {
                f.num = f
                    .num
                    .into_iter()
                    .map(|(mut m, c)| {
                        let at = m.iter().position(|a| *a == atom).unwrap();
                        m.remove(at);
                        (m, c)
                    })
                    .collect();
                let k = f.den.get_mut(&factor).unwrap();
                *k -= 1;
                if *k == 0 {
                    f.den.remove(&factor);
                }
            }
        }
        f
    }

    fn add_fractions(&self, a: &Fraction, b: &Fraction, scale: &Rational) -> Fraction {
        let mut den = a.den.clone();
        for (factor, k) in &b.den {
            let entry = den.entry(factor.clone()).or_insert(0);
            *entry = (*entry).max(*k);
        }
        let raise = |f: &Fraction| {
            let mut num = f.num.clone();
            for (factor, k) in &den {
                for _ in 0..k - f.den.get(factor).copied().unwrap_or(0) {
                    num = self.times(&num, factor);
                }
            }
            num
        };
        let num = plus(&raise(a), &raise(b), scale);
        self.cancel(Fraction { num, den })
    }

    fn mul_fractions(&self, a: &Fraction, b: &Fraction) -> Fraction {
        let mut den = a.den.clone();
        for (factor, k) in &b.den {
            *den.entry(factor.clone()).or_insert(0) += k;
        }
        self.cancel(Fraction { num: self.times(&a.num, &b.num), den })
    }

    fn inverse(&self, b: &Fraction) -> Option<Fraction> {
        let (scale, den) = split(&b.num)?;
        let mut num = constant(scale.recip()?);
        for (factor, k) in &b.den {
            for _ in 0..*k {
                num = self.times(&num, factor);
            }
        }
        Some(self.cancel(Fraction { num, den }))
    }

    fn against_zero(&mut self, facts: &Facts, id: Id, r: Relation) -> Option<bool> {
        match &self.keys[id] {
            Key::Number(v) => Some(r.holds(v.cmp(&Rational::ZERO))),
            Key::Pi => Some(r.holds(std::cmp::Ordering::Greater)),
            _ => {
                let zero = self.intern(Key::Number(Rational::ZERO));
                facts.decides(&Cond::Compare(r, id, zero))
            }
        }
    }

    fn normal(&mut self, facts: &Facts, memo: &mut Memo, id: Id) -> Checked<Fraction> {
        if let Some(known) = memo.normal.get(&id) {
            return Ok(known.clone());
        }
        let result = self.normalise(facts, memo, id)?;
        memo.normal.insert(id, result.clone());
        Ok(result)
    }

    fn normalise(&mut self, facts: &Facts, memo: &mut Memo, id: Id) -> Checked<Fraction> {
        use Relation::{GreaterEqual, LessEqual, NotEqual};
        let opaque = |me: &mut Self| whole_fraction(me.atom_poly(Atom::Opaque(id)));
        let minus = Rational::from(-1);
        Ok(match self.keys[id].clone() {
            Key::Number(v) => whole_fraction(constant(v)),
            Key::Name(_) => {
                let number = |me: &Self, x: Id| match &me.keys[x] {
                    Key::Number(v) if Rational::from_f64(v.to_f64()).as_ref() == Some(v) => Some(v.clone()),
                    _ => None,
                };
                let equal = facts.list.iter().find_map(|fact| {
                    let Cond::Compare(_, a, b) = fact else { return None };
                    let other = if *a == id {
                        *b
                    } else if *b == id {
                        *a
                    } else {
                        return None;
                    };
                    number(self, other).filter(|_| facts.orders(id, other) == [false, true, false])
                });
                equal.map_or_else(|| opaque(self), |v| whole_fraction(constant(v)))
            }
            Key::Pi => opaque(self),
            Key::Op(op @ (0 | 1), ab) => {
                let (a, b) = (self.normal(facts, memo, ab[0])?, self.normal(facts, memo, ab[1])?);
                self.add_fractions(&a, &b, &if op == 0 { Rational::ONE } else { minus })
            }
            Key::Op(2, ab) => {
                let (a, b) = (self.normal(facts, memo, ab[0])?, self.normal(facts, memo, ab[1])?);
                self.mul_fractions(&a, &b)
            }
            Key::Op(3, ab) => {
                if self.against_zero(facts, ab[1], NotEqual) != Some(true) {
                    return Ok(opaque(self));
                }
                let (a, b) = (self.normal(facts, memo, ab[0])?, self.normal(facts, memo, ab[1])?);
                match self.inverse(&b) {
                    Some(inverse) => self.mul_fractions(&a, &inverse),
                    None => opaque(self),
                }
            }
            Key::Op(4, a) => {
                let a = self.normal(facts, memo, a[0])?;
                Fraction { num: plus(&Poly::new(), &a.num, &minus), den: a.den }
            }
            Key::Op(op, ab) => match facts.decides(&Cond::Compare(LessEqual, ab[0], ab[1])) {
                None => opaque(self),
                Some(less) => self.normal(facts, memo, if less == (op == 5) { ab[0] } else { ab[1] })?,
            },
            Key::If(c, a, b) => match facts.decides(&c) {
                None => opaque(self),
                Some(holds) => self.normal(facts, memo, if holds { a } else { b })?,
            },
            Key::Call(Function::Abs, a) => match self.against_zero(facts, a, GreaterEqual) {
                None => opaque(self),
                Some(positive) => {
                    let a = self.normal(facts, memo, a)?;
                    let scale = Rational::from(if positive { 1 } else { -1 });
                    Fraction { num: plus(&Poly::new(), &a.num, &scale), den: a.den }
                }
            },
            Key::Call(Function::Sqrt, a) => {
                let argument = self.normal(facts, memo, a)?;
                if self.against_zero(facts, a, GreaterEqual) != Some(true) || !argument.den.is_empty() {
                    return Ok(opaque(self));
                }
                match as_constant(&argument.num).and_then(|v| v.exact_sqrt()) {
                    Some(root) => whole_fraction(constant(root)),
                    None => whole_fraction(self.atom_poly(Atom::Root(argument.num))),
                }
            }
            Key::Call(f @ (Function::Sin | Function::Cos), a) => {
                let angle = self.normal(facts, memo, a)?;
                let (sine, cosine) = self.sine_cosine(&angle);
                if f == Function::Sin { sine } else { cosine }
            }
            Key::Call(Function::Tan, a) => {
                let cosine = self.intern(Key::Call(Function::Cos, a));
                if self.against_zero(facts, cosine, NotEqual) != Some(true) {
                    return Ok(opaque(self));
                }
                let angle = self.normal(facts, memo, a)?;
                let (sine, cosine) = self.sine_cosine(&angle);
                match self.inverse(&cosine) {
                    Some(inverse) => self.mul_fractions(&sine, &inverse),
                    None => opaque(self),
                }
            }
            Key::Call(f @ (Function::Ceil | Function::Floor), a) => {
                let up = f == Function::Ceil;
                let argument = self.normal(facts, memo, a)?;
                match as_constant(&argument.num).filter(|_| argument.den.is_empty()) {
                    Some(v) => whole_fraction(constant(if up { v.ceil() } else { v.floor() })),
                    None => whole_fraction(self.atom_poly(Atom::Rounded(up, argument))),
                }
            }
            Key::Call(Function::Atan | Function::Acos, _) => opaque(self),
        })
    }

    fn unit(&mut self, angle: &Fraction) -> (Fraction, Fraction) {
        let sine = self.atom_poly(Atom::Sin(angle.clone()));
        let cosine = self.atom_poly(Atom::Cos(angle.clone()));
        (whole_fraction(sine), whole_fraction(cosine))
    }

    fn sine_cosine(&mut self, angle: &Fraction) -> (Fraction, Fraction) {
        if !angle.den.is_empty() {
            return self.unit(angle);
        }
        let mut sum = (whole_fraction(Poly::new()), whole_fraction(constant(Rational::ONE)));
        let minus = Rational::from(-1);
        for (mono, c) in &angle.num {
            let part = if mono.is_empty() {
                self.constant_angle(c)
            } else {
                let summand = Poly::from([(mono.clone(), c.abs())]);
                let (mut sine, cosine) = self.unit(&whole_fraction(summand));
                if c.signum() < 0 {
                    sine.num = plus(&Poly::new(), &sine.num, &minus);
                }
                (sine, cosine)
            };
            let m = |a: &Fraction, b: &Fraction| self.mul_fractions(a, b);
            sum = (
                self.add_fractions(&m(&sum.0, &part.1), &m(&sum.1, &part.0), &Rational::ONE),
                self.add_fractions(&m(&sum.1, &part.1), &m(&sum.0, &part.0), &minus),
            );
        }
        sum
    }

    fn constant_angle(&mut self, degrees: &Rational) -> (Fraction, Fraction) {
        let right = Rational::from(90);
        let quarters = (degrees / &right).floor();
        let rest = degrees - &(&quarters * &right);
        let (mut sine, mut cosine) = if rest > Rational::from(45) {
            let (s, c) = self.small(&(&right - &rest));
            (c, s)
        } else {
            self.small(&rest)
        };
        let turn = quarters.to_i64().unwrap().rem_euclid(4);
        for _ in 0..turn {
            let flipped = Fraction { num: plus(&Poly::new(), &sine.num, &Rational::from(-1)), den: sine.den };
            (sine, cosine) = (cosine, flipped);
        }
        (sine, cosine)
    }

    fn small(&mut self, degrees: &Rational) -> (Fraction, Fraction) {
        let half = Rational::ratio(1, 2).unwrap();
        let root = |me: &mut Self, n: i64| {
            let p = me.atom_poly(Atom::Root(constant(Rational::from(n))));
            whole_fraction(plus(&Poly::new(), &p, &Rational::ratio(1, 2).unwrap()))
        };
        match degrees.to_i64() {
            Some(0) => (whole_fraction(Poly::new()), whole_fraction(constant(Rational::ONE))),
            Some(30) => (whole_fraction(constant(half)), root(self, 3)),
            Some(45) => (root(self, 2), root(self, 2)),
            _ => self.unit(&whole_fraction(constant(degrees.clone()))),
        }
    }

    fn evaluate(&mut self, facts: &Facts, number: usize) -> Checked<()> {
        let fact = facts.list.get(number).ok_or("no such fact")?.clone();
        if fact == Cond::False {
            return Ok(());
        }
        let Cond::Compare(r, a, b) = fact else { return Err("no comparison".into()) };
        let (x, y) = (self.interval(facts, a), self.interval(facts, b));
        let (Some(x), Some(y)) = (x, y) else { return Ok(()) };
        let less = x.hi < y.lo;
        let greater = x.lo > y.hi;
        let wrong = match r {
            Relation::Equal => less || greater,
            Relation::NotEqual => x.lo == x.hi && x == y,
            Relation::Less => x.lo >= y.hi,
            Relation::LessEqual => greater,
            Relation::Greater => x.hi <= y.lo,
            Relation::GreaterEqual => less,
        };
        if wrong { Ok(()) } else { Err(format!("{x:?} {} {y:?} may hold", r.name())) }
    }

    /// `None` if no value is left.
    fn interval(&self, facts: &Facts, id: Id) -> Option<Interval> {
        let get = |x: Id| self.interval(facts, x);
        let mut own = match &self.keys[id] {
            Key::Number(v) => Interval::from_rational(v),
            Key::Pi => Interval::PI,
            Key::Name(_) => Interval::ENTIRE,
            Key::Op(0, ab) => get(ab[0])? + get(ab[1])?,
            Key::Op(1, ab) => get(ab[0])? - get(ab[1])?,
            Key::Op(2, ab) if ab[0] == ab[1] => get(ab[0])?.squared(),
            Key::Op(2, ab) => get(ab[0])? * get(ab[1])?,
            Key::Op(3, ab) => get(ab[0])? / get(ab[1])?,
            Key::Op(4, a) => -get(a[0])?,
            Key::Op(5, ab) => get(ab[0])?.min(get(ab[1])?),
            Key::Op(_, ab) => get(ab[0])?.max(get(ab[1])?),
            Key::If(_, a, b) => get(*a)?.hull(get(*b)?),
            Key::Call(f, a) => {
                let x = get(*a)?;
                match f {
                    Function::Sin => x.sin_degrees(),
                    Function::Cos => x.cos_degrees(),
                    Function::Tan => x.sin_degrees() / x.cos_degrees(),
                    Function::Atan => x.atan_degrees(),
                    Function::Acos if x.lo >= -1.0 && x.hi <= 1.0 => x.acos_degrees(),
                    Function::Sqrt if x.lo >= 0.0 => x.sqrt(),
                    Function::Acos | Function::Sqrt => Interval::ENTIRE,
                    Function::Abs => x.abs(),
                    Function::Ceil => x.ceil(),
                    Function::Floor => x.floor(),
                }
            }
        };
        for fact in &facts.list {
            let Cond::Compare(r, a, b) = fact else { continue };
            for (x, y, flip) in [(*a, *b, false), (*b, *a, true)] {
                let Key::Number(v) = &self.keys[y] else { continue };
                if x != id {
                    continue;
                }
                let point = Interval::from_rational(v);
                match (r, flip) {
                    (Relation::Equal, _) => own = own.intersect(point),
                    (Relation::Less | Relation::LessEqual, false)
                    | (Relation::Greater | Relation::GreaterEqual, true) => own.hi = own.hi.min(point.hi),
                    (Relation::Greater | Relation::GreaterEqual, false)
                    | (Relation::Less | Relation::LessEqual, true) => own.lo = own.lo.max(point.lo),
                    (Relation::NotEqual, _) => {}
                }
            }
        }
        (!own.is_empty()).then_some(own)
    }
}

#[derive(Default)]
struct Memo {
    normal: HashMap<Id, Fraction>,
    signs: Option<BTreeMap<Poly, i32>>,
}

/// Rational scale, and the factors: atoms, and the primitive rest with a positive first coefficient.
fn split(p: &Poly) -> Option<(Rational, BTreeMap<Poly, u32>)> {
    let first = p.keys().next()?;
    let mut scale: Option<Rational> = None;
    for c in p.values() {
        scale = Some(match scale {
            None => c.abs(),
            Some(mut a) => {
                let mut b = c.abs();
                while !b.is_zero() {
                    let rest = &a - &(&(&a / &b).floor() * &b);
                    a = b;
                    b = rest;
                }
                a
            }
        });
    }
    let mut scale = scale?;
    let mut factors = BTreeMap::new();
    let mut common: Mono = first.clone();
    for m in p.keys() {
        let mut rest = m.clone();
        common.retain(|a| match rest.iter().position(|x| x == a) {
            Some(at) => {
                rest.remove(at);
                true
            }
            None => false,
        });
    }
    for atom in &common {
        *factors.entry(Poly::from([(vec![*atom], Rational::ONE)])).or_insert(0) += 1;
    }
    if p.values().next()?.signum() < 0 {
        scale = -scale;
    }
    let rest: Poly = p
        .iter()
        .map(|(m, c)| {
            let mut m = m.clone();
            for atom in &common {
                let at = m.iter().position(|x| x == atom).unwrap();
                m.remove(at);
            }
            (m, c / &scale)
        })
        .collect();
    if as_constant(&rest).is_none() {
        *factors.entry(rest).or_insert(0) += 1;
    }
    Some((scale, factors))
}
