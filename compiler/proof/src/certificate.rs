//! What a proof consists of as the engine finds it: short, because what a fact says as a polynomial depends on all that
//! the facts decide. `engine/spell` writes it out in the steps that `compiler/proof-checker` rechecks, which knows
//! nothing of the normal form that is described here.
//!
//! # Meaning
//!
//! A formula says: for all values of the variables, the hypotheses imply the goal, and every divisor and root
//! is well defined. A certificate is a list of [`Step`]s. Each `Prove` step adds facts that follow from those
//! before it; each `Axiom` step adds what an axiom about a function says; each `Assume` step adds the next hypothesis, in order, and is allowed only if the condition under which
//! that hypothesis is well defined is `True` or was proved before, as a whole, by one step. At the end all
//! hypotheses have been assumed, and the goal's well-definedness and the goal have each been proved by one step.
//!
//! A condition is *proved* by assuming its negation on top of the facts and closing the [`Proof`] tree.
//!
//! *Well defined* is a comparison if its sides are; `a / b` if a and b are and `b != 0`; `sqrt(a)` if also `a >= 0`;
//! `tan(a)`: `cos(a) != 0`; `acos(a)`: `a >= -1` and `a <= 1`; `if c then a else b`: c is, and `not c or` a is, and `c or`
//! b is; `p and q`: p is, and (`not p or` q is); `p or q`: p is, and (`p or` q is). Conditions are joined flat, left
//! to right, parts first, without duplicates; comparisons of two numbers are decided at once. (`engine/well.rs`)
//!
//! # Facts
//!
//! Definitions are put in place of their names everywhere; two expressions are the same when they are equal
//! after that. A condition becomes facts by these rules: `True` none; `and` the facts of its parts, in order;
//! `not c` the facts of the negated c, the negation pushed down to the comparisons; a comparison, `or` and
//! `False` one fact each. Facts are numbered from 0 in the order in which they came on the way from the root.
//!
//! Division by 0, roots of negative numbers and the like have *some* value in these proofs; the rules below
//! use no property of it. That they don't occur is what the well-definedness steps prove.
//!
//! # Orders
//!
//! For each pair (a, b) of expressions, the comparison facts on the pair leave some of `a < b`, `a == b`,
//! `a > b` possible. A condition is *decided* when these settle it (`and`, `or`: by their parts).
//!
//! # Normal form
//!
//! In the place where it is used, an expression is normalised to `N / (F1^k1 ... Fm^km)`: N a polynomial over
//! *atoms* with rational coefficients, each F a primitive integer polynomial or an atom.
//! - A symbol is an atom, unless the orders say that it equals a number that a float can hold: then it is that
//!   number. Pi is an atom.
//! - `a / b`, where the order of (b, 0) excludes equality, multiplies by the inverse. The numerator of b is
//!   split into its rational content, its common atoms, and the primitive rest, each a factor F; F and -F count as one
//!   factor. Sums bring both sides to the least common multiple of the factored denominators. After every step,
//!   atoms common to all of N and in the denominator cancel. Nothing else cancels.
//! - `min`, `max`, `abs`, `if` whose condition is decided (`a <= b` for both, `a >= 0` for abs) are replaced by the
//!   chosen side.
//! - `sqrt(a)` with `a >= 0` decided and a a polynomial: the exact value for a rational square; else the atom root(a)
//!   with `root(a)^2` replaced by a wherever it occurs.
//! - `sin a`, `cos a`, `tan a`: see `engine/angle.rs`; `cos^2` is replaced by `1 - sin^2`.
//! - Everything else is an atom of its own.
//!
//! A comparison fact `a rel b` becomes the polynomial fact `P >= 0`, `P > 0`, `P == 0` or `P != 0`: with N over the factors
//! the normal form of `a - b` (of `b - a` for `<`, `<=`), P is N times, for each F with odd exponent, the sign of F
//! where it is known, and F itself where it is not. Signs of factors are collected once from all facts, in order: for
//! each comparison of a term with the number 0 that the orders make strict, normalise the term, split its
//! numerator as for a divisor; if exactly one factor with odd exponent (numerator and denominator) has no sign yet, it gets
//! the one that makes the sign of the whole right.

use borewright_motion::{Condition, Expr};
use borewright_number::Rational;

/// A proof that a formula holds for all values.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Certificate {
    /// In order.
    pub steps: Vec<Step>,
}

/// One step of a certificate.
#[derive(Debug, Clone, PartialEq)]
pub enum Step {
    /// The next hypothesis becomes a fact.
    Assume,
    /// What the axiom says becomes a fact.
    Axiom(Axiom),
    /// The condition follows from the facts so far, and becomes a fact.
    Prove {
        /// What is proved.
        condition: Condition,
        /// The facts and its negation can't all hold.
        proof: Proof,
    },
}

/// One node of a refutation: the facts on the way to it can't all hold.
#[derive(Debug, Clone, PartialEq)]
pub enum Proof {
    /// Either the condition holds or it does not.
    Split {
        /// The condition.
        condition: Condition,
        /// The facts with the condition.
        holds: Box<Proof>,
        /// The facts with its negation.
        fails: Box<Proof>,
    },
    /// The fact of that number is `p or q or ...`: one proof for each part, the part being a new fact.
    Cases {
        /// The fact's number.
        fact: usize,
        /// One for each part, in order.
        branches: Vec<Proof>,
    },
    /// One more fact by an axiom about a function.
    Axiom {
        /// The instance.
        axiom: Axiom,
        /// The proof with the axiom's conclusion as facts.
        then: Box<Proof>,
    },
    /// A sum that is identically 0 although one of its terms is positive and none is negative.
    Combine(Vec<Term>),
    /// The fact of that number is false for interval reasons. Each expression's interval is computed from
    /// those of its parts (`a - a` is 0, `a * a` a square) and cut with the facts `expression rel number` on it; an empty one, or a `False` fact, closes
    /// as well.
    Evaluate {
        /// The fact's number.
        fact: usize,
    },
}

impl Default for Proof {
    fn default() -> Self {
        Self::Combine(Vec::new())
    }
}

/// `scale` times a product of factors.
///
/// The term is not negative if `scale >= 0`, or if one factor is an equation (the term is 0). It is positive
/// if `scale > 0` and every factor is a strict fact; the empty product is 1.
#[derive(Debug, Clone, PartialEq)]
pub struct Term {
    /// The rational factor.
    pub scale: Rational,
    /// The other factors.
    pub factors: Vec<Factor>,
}

/// A factor of a [`Term`].
#[derive(Debug, Clone, PartialEq)]
pub enum Factor {
    /// The polynomial of the comparison fact of that number; its square if the fact is `P != 0`.
    Fact(usize),
    /// The square of the polynomial that this expression is.
    Square(Expr),
    /// Any polynomial, where another factor is an equation.
    Any(Expr),
}

/// Facts about functions that algebra does not know. Angles are in degrees.
#[derive(Debug, Clone, PartialEq)]
pub enum Axiom {
    /// Of `a = ceil(x)`: `a >= x`, `a < x + 1`. Of `a = floor(x)`: `a <= x`, `a > x - 1`.
    Rounding(Expr),
    /// Of `a = sqrt(x)`, with `x >= 0` decided: `a >= 0`, `a * a == x`.
    Root(Expr),
    /// Of an angle a with facts `a >= 0` and `a <= 90`, with r = a * pi / 180:
    /// `sin a <= r`, `sin a >= r * cos a`, `pi * sin a >= 2 * r`, `sin a >= 0`, `cos a >= 0`.
    Angle(Expr),
    /// Of `a > b` (or `b < a`), the fact of that number, whose sides take whole values only (sums and products
    /// of whole numbers, whole variables, ceil, floor; min, max, abs, if of such): `a >= b + 1`, where b + 1 is one number if b is.
    Whole(usize),
}
