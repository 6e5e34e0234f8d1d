//! Expressions in the controller's own notation.

use std::collections::BTreeMap;

use borewright_base::{Diagnostic, Span};
use borewright_machine::Machine;
use borewright_motion::{Condition, Expr, Function, Let, Node, Relation, Symbol};
use borewright_number::{Rational, Rounding};

use super::Thrift;
use super::inline::told;
use super::program::Program;
use super::terms::simplify;
use crate::arithmetic::{Arithmetic, MOST_LESS, one_digit_up};
use crate::errors;
use crate::number::{Digits, Literal, pointed};

/// A printed expression.
#[derive(Debug, Clone)]
pub(super) struct Printed {
    pub(super) text: String,
    /// 1 sum, 2 product, 4 atom.
    level: u8,
    /// Begins with a minus: only the first operand of a sum or product may do that without brackets.
    signed: bool,
    /// How deep its brackets nest.
    depth: u32,
}

/// Prints expressions; values that need a variable of their own get it, once.
pub(super) struct Printer<'m> {
    pub(super) program: Program<'m>,
    digits: Digits<'m>,
    /// Values that stand in a variable, as `#7`.
    known: BTreeMap<Expr, String>,
    /// How far the control's values are from the exact ones.
    pub(super) arithmetic: Arithmetic,
    /// The most that a guard allows for that.
    pub(super) slack: Option<Rational>,
    /// What it is sparing of.
    pub(super) thrift: Thrift,
    /// By which part a step may be longer than asked, by the counter of its loop.
    pub(super) longer: BTreeMap<Symbol, Rational>,
    /// By which part what is rounded up to a whole number may exceed it.
    pub(super) fewer: Option<Rational>,
    /// Operators stand in brackets only and nothing but a number has a sign [NISTIR 6556, 3.3.2.1 to 3.3.2.3].
    strict: bool,
}

/// A place in the list of known values, to go back to where a loop ends.
pub(super) struct Scope(BTreeMap<Expr, String>);

impl<'m> Printer<'m> {
    pub(super) fn new(machine: &'m Machine, thrift: Thrift) -> Self {
        Self {
            program: Program::new(machine),
            digits: Digits::new(machine),
            known: BTreeMap::new(),
            arithmetic: Arithmetic::of(machine),
            slack: None,
            thrift,
            longer: BTreeMap::new(),
            fewer: None,
            strict: !machine.flow.if_goto,
        }
    }

    /// From here on the value stands in this variable.
    pub(super) fn define(&mut self, expr: Expr, variable: String) {
        self.known.insert(expr, variable);
    }

    pub(super) fn define_symbol(&mut self, symbol: &Symbol, variable: String) {
        self.define(Expr::symbol(symbol), variable);
    }

    pub(super) fn scope(&self) -> Scope {
        Scope(self.known.clone())
    }

    pub(super) fn leave(&mut self, scope: Scope) {
        self.known = scope.0;
    }

    /// Whether every name in it stands in a variable.
    pub(super) fn can_print(&self, expr: &Expr) -> bool {
        expr.symbols().iter().all(|s| self.known.contains_key(&Expr::symbol(s)))
    }

    /// Assigns the value to a fresh variable.
    pub(super) fn assign(&mut self, expr: &Expr, note: &str, span: Span) -> Result<String, Diagnostic> {
        let printed = self.expr(expr, span)?;
        let text = self.assigned(&printed);
        let slot = self.program.slot(span)?.text();
        let variable = slot.trim_start_matches('#').to_owned();
        self.program.w.assign_text(&variable, &text, note, Some(span));
        self.define(expr.clone(), slot.clone());
        Ok(slot)
    }

    /// Assigns the value to a fresh variable of its own, whatever is known already.
    pub(super) fn assign_named(&mut self, expr: &Expr, note: &str, span: Span) -> Result<String, Diagnostic> {
        // What is chosen stands in a variable of its own already.
        let chosen = match expr.node() {
            _ if self.known.contains_key(expr) => None,
            Node::If(condition, a, b) => Some(self.choice((condition, a, b), (expr, note), span)?),
            Node::Min(a, b) => Some(self.extreme(Relation::Greater, (a, b), note, span)?),
            Node::Max(a, b) => Some(self.extreme(Relation::Less, (a, b), note, span)?),
            Node::Number(_)
            | Node::Pi
            | Node::Symbol(_)
            | Node::Add(..)
            | Node::Sub(..)
            | Node::Mul(..)
            | Node::Div(..)
            | Node::Neg(_)
            | Node::Call(..) => None,
        };
        if let Some(printed) = chosen {
            return Ok(printed.text);
        }
        let printed = self.expr(expr, span)?;
        let text = self.assigned(&printed);
        let slot = self.program.slot(span)?.text();
        self.program.w.assign_text(slot.trim_start_matches('#'), &text, note, Some(span));
        Ok(slot)
    }

    /// What may stand behind the equals sign.
    fn assigned(&self, printed: &Printed) -> String {
        if self.strict && printed.level < 4 { format!("[{}]", printed.text) } else { printed.text.clone() }
    }

    /// Assigns a printed value to a fresh variable.
    pub(super) fn assign_printed(
        &mut self,
        printed: &Printed,
        note: &str,
        span: Span,
    ) -> Result<String, Diagnostic> {
        let slot = self.program.slot(span)?.text();
        self.program.w.assign_text(slot.trim_start_matches('#'), &printed.text, note, Some(span));
        Ok(slot)
    }

    /// 0.999999, or less where the control's arithmetic needs more room: a quotient of two arguments times this is
    /// never above the whole number that it exactly is.
    pub(super) fn just_below_one(
        &mut self,
        way: &Expr,
        by: &Expr,
        (counter, span): (&Symbol, Span),
    ) -> Result<Rational, Diagnostic> {
        let off = self.arithmetic.count(self.arithmetic.value(way), self.arithmetic.value(by));
        let found = less_by(off).and_then(|less| Some((self.fewer_by(&less, off)?, Rational::ONE - less)));
        let (part, below) = found.ok_or_else(|| uncounted(span))?;
        self.longer.insert(counter.clone(), part);
        Ok(below)
    }

    /// 0.999, or so: what is added to a number of whole steps before it is cut off, so that a rest that rounding may
    /// have made is no step of its own. The last step is longer by no more than what is missing to 1.
    pub(super) fn nearly_one(
        &mut self,
        steps: &Expr,
        (counter, span): (&Symbol, Span),
    ) -> Result<Rational, Diagnostic> {
        let sum = self.arithmetic.value(&(steps.clone() + Expr::from(1)));
        let found = one_digit_up(sum.off, 6).filter(|less| less.to_f64() <= MOST_REST);
        let found = found.zip(Rational::from_f64(sum.off).map(|off| off.rounded(9, Rounding::Up)));
        let (less, off) = found.ok_or_else(|| uncounted(span))?;
        self.longer.insert(counter.clone(), &less + &off);
        Ok(Rational::ONE - less)
    }

    /// By which part a step is longer where what is counted is taken less by `less`, and the control's value of it may
    /// be off by `off`.
    fn fewer_by(&self, less: &Rational, off: f64) -> Option<Rational> {
        let most = (less + &Rational::from_f64(off)?).rounded(9, Rounding::Up);
        // One part in so many of pi is lost to its decimals.
        let pi = Rational::from(10).pow(self.pi_decimals() as usize).recip()?;
        Some(&most / &(Rational::ONE - &most) + pi)
    }

    /// What is rounded up, a little less: where it is a whole number, the control's value of it is never above that.
    fn taken_less(&mut self, a: &Expr) -> Option<Expr> {
        let off = self.arithmetic.rounding_up(self.arithmetic.value(a))?;
        let less = less_by(off)?;
        let part = self.fewer_by(&less, off)?;
        let known = self.fewer.take().unwrap_or(Rational::ZERO);
        self.fewer = Some(known.max(part));
        Some(Expr::number(Rational::ONE - less) * a.clone())
    }

    /// `FUP[a]` of what is not negative.
    pub(super) fn rounded_up(&mut self, a: &Expr, span: Span) -> Result<Printed, Diagnostic> {
        if !self.program.machine.expressions.functions.iter().any(|f| f == "FUP") {
            let text = "the machine has no function FUP, which counts the steps";
            return Err(Diagnostic::error(errors::NO_MACRO_FORM, span, text));
        }
        let inner = self.expr(a, span)?;
        let inner = self.bracketed(a, inner, span)?;
        let argument = if inner.depth == 0 { format!("[{}]", inner.text) } else { inner.text.clone() };
        Ok(Printed { text: format!("FUP{argument}"), level: 4, signed: false, depth: inner.depth.max(1) })
    }

    /// A counter that begins at 1.
    pub(super) fn assign_counter(&mut self, note: &str, span: Span) -> Result<String, Diagnostic> {
        let slot = self.program.slot(span)?.text();
        self.program.w.assign_text(slot.trim_start_matches('#'), "1", note, Some(span));
        Ok(slot)
    }

    /// `let`: the name stands in a variable from here on.
    pub(super) fn assign_let(&mut self, l: &Let) -> Result<(), Diagnostic> {
        let slot = self.assign_named(&l.value, told(&l.symbol), l.span)?;
        self.arithmetic.define_let(&l.symbol, &l.value);
        self.define_symbol(&l.symbol, slot);
        Ok(())
    }

    /// `requires`: past the guard the condition holds, within its slack.
    pub(super) fn suppose(&mut self, condition: &Condition) {
        let known = self.slack.clone().unwrap_or(Rational::ZERO);
        self.arithmetic.suppose(condition, &known);
    }

    /// The value in a form that a word can take without computing: digits, `#7` or `-#7`; in a fresh variable
    /// where it is none of these.
    pub(super) fn simple(&mut self, expr: &Expr, note: &str, span: Span) -> Result<String, Diagnostic> {
        match self.ready(expr) {
            Some(text) => Ok(text),
            None => self.assign(expr, note, span),
        }
    }

    /// As [`Self::simple`], where nothing has to be computed first.
    pub(super) fn ready(&self, expr: &Expr) -> Option<String> {
        if let Some(variable) = self.known.get(expr) {
            return Some(variable.clone());
        }
        if let Some(variable) = self.known.get(&-expr.clone()).filter(|_| !self.strict) {
            return Some(format!("-{variable}"));
        }
        match self.digits.literal(expr.as_number()?) {
            Literal::Digits(text) => Some(text),
            Literal::Quotient(..) => None,
        }
    }

    /// The value as an argument of a word: simple, or in brackets.
    pub(super) fn word(&mut self, expr: &Expr, span: Span) -> Result<String, Diagnostic> {
        if let Some(text) = self.ready(expr) {
            return Ok(text);
        }
        let printed = self.expr(expr, span)?;
        Ok(if printed.level == 4 && !printed.text.contains('[') {
            printed.text
        } else {
            format!("[{}]", printed.text)
        })
    }

    pub(super) fn expr(&mut self, expr: &Expr, span: Span) -> Result<Printed, Diagnostic> {
        if let Some(variable) = self.known.get(expr) {
            return Ok(Printed { text: variable.clone(), level: 4, signed: false, depth: 0 });
        }
        let printed = match expr.node() {
            Node::Number(value) => self.number(value),
            Node::Pi => {
                Printed { text: pointed(&pi(), self.pi_decimals()), level: 4, signed: false, depth: 0 }
            }
            Node::Symbol(symbol) => {
                let text = format!("`{symbol}` stands in no variable here");
                return Err(Diagnostic::error(errors::NO_MACRO_FORM, span, text));
            }
            Node::Add(a, b) => self.infix((a, b), "+", (1, 1), span)?,
            Node::Sub(a, b) => self.infix((a, b), "-", (1, 2), span)?,
            Node::Mul(a, b) => match self.multiple_of_pi(expr) {
                Some(printed) => printed,
                None => self.infix((a, b), "*", (2, 3), span)?,
            },
            Node::Div(a, b) => self.infix((a, b), "/", (2, 3), span)?,
            Node::Neg(a) if self.strict => {
                let inner = self.operand(a, 2, true, span)?;
                Printed { text: format!("0.-{}", inner.text), level: 1, signed: false, depth: inner.depth }
            }
            Node::Neg(a) => {
                let inner = self.operand(a, 2, true, span)?;
                // A minus before a product is the product's, whichever of the two the control takes first.
                Printed { text: format!("-{}", inner.text), level: 2, signed: true, depth: inner.depth }
            }
            Node::Call(function, a) => self.call(*function, a, expr, span)?,
            Node::Min(a, b) => self.extreme(Relation::Greater, (a, b), "", span)?,
            Node::Max(a, b) => self.extreme(Relation::Less, (a, b), "", span)?,
            Node::If(condition, a, b) => self.choice((condition, a, b), (expr, ""), span)?,
        };
        Ok(printed)
    }

    fn number(&self, value: &Rational) -> Printed {
        let (text, level) = match self.digits.literal(value) {
            Literal::Digits(text) => (text, 4),
            Literal::Quotient(a, b) => (format!("{a}/{b}"), 2),
        };
        Printed { signed: text.starts_with('-'), text, level, depth: 0 }
    }

    /// `6.2831853` and not `2.*3.1415927`, where that keeps as many digits.
    fn multiple_of_pi(&self, expr: &Expr) -> Option<Printed> {
        let (value, has_pi) = constant(expr)?;
        let keeps = has_pi && value >= Rational::ONE && value < Rational::from(10);
        keeps.then(|| Printed {
            text: pointed(&value, self.pi_decimals()),
            level: 4,
            signed: false,
            depth: 0,
        })
    }

    fn pi_decimals(&self) -> u32 {
        self.program.machine.numbers.significant_digits.saturating_sub(1).clamp(2, 15)
    }

    /// Two operands; `levels`: the level of the whole, and the least of the right operand.
    fn infix(
        &mut self,
        (a, b): (&Expr, &Expr),
        op: &str,
        (level, right): (u8, u8),
        span: Span,
    ) -> Result<Printed, Diagnostic> {
        let a = self.operand(a, level, false, span)?;
        let b = self.operand(b, right, true, span)?;
        let depth = a.depth.max(b.depth);
        Ok(Printed { text: format!("{}{op}{}", a.text, b.text), level, signed: a.signed, depth })
    }

    /// An operand, in brackets where it binds less tightly than asked, or has a sign where none may be.
    fn operand(&mut self, expr: &Expr, least: u8, unsigned: bool, span: Span) -> Result<Printed, Diagnostic> {
        let printed = self.expr(expr, span)?;
        if printed.level >= least && !(unsigned && printed.signed) {
            return Ok(printed);
        }
        self.bracketed(expr, printed, span)
    }

    /// In brackets; where they would nest too deeply, in a variable of its own.
    fn bracketed(&mut self, expr: &Expr, printed: Printed, span: Span) -> Result<Printed, Diagnostic> {
        // Two levels are kept for the word or the test around it.
        if printed.depth + 3 > self.program.machine.expressions.nesting {
            let text = self.assign(expr, "PART OF THE NEXT", span)?;
            return Ok(Printed { text, level: 4, signed: false, depth: 0 });
        }
        Ok(Printed { text: format!("[{}]", printed.text), level: 4, signed: false, depth: printed.depth + 1 })
    }

    fn call(
        &mut self,
        function: Function,
        a: &Expr,
        whole: &Expr,
        span: Span,
    ) -> Result<Printed, Diagnostic> {
        let name = match function {
            Function::Sin => "SIN",
            Function::Cos => "COS",
            Function::Tan => "TAN",
            Function::Atan => "ATAN",
            Function::Acos => "ACOS",
            Function::Sqrt => "SQRT",
            Function::Abs => "ABS",
            Function::Ceil => "FUP",
            Function::Floor => "FIX",
        };
        if !self.program.machine.expressions.functions.iter().any(|f| f == name) {
            let text = format!("the machine has no function {name}");
            return Err(Diagnostic::error(errors::NO_MACRO_FORM, span, text));
        }
        // Sine and cosine of one angle mostly come together: the angle is worked out once.
        let waves = matches!(function, Function::Sin | Function::Cos) && self.thrift == Thrift::Work;
        if waves && self.ready(a).is_none() {
            self.assign(a, "ANGLE", span)?;
        }
        let less = if function == Function::Ceil { self.taken_less(a) } else { None };
        let a = less.as_ref().unwrap_or(a);
        let inner = self.expr(a, span)?;
        let inner = self.bracketed(a, inner, span)?;
        let argument = if inner.depth == 0 { format!("[{}]", inner.text) } else { inner.text.clone() };
        let suffix = if function == Function::Atan { "/[1.]" } else { "" };
        let text = format!("{name}{argument}{suffix}");
        let printed = Printed { text, level: 4, signed: false, depth: inner.depth.max(1) };
        match function {
            // One sine and one cosine for each angle: computed once, named once.
            Function::Sin
            | Function::Cos
            | Function::Tan
            | Function::Atan
            | Function::Acos
            | Function::Sqrt => {
                let slot = self.program.slot(span)?.text();
                let note = format!("{} OF {a}", function.name());
                let note = if a.as_symbol().is_some() { note } else { String::new() };
                self.program.w.assign_text(slot.trim_start_matches('#'), &printed.text, &note, Some(span));
                self.define(whole.clone(), slot.clone());
                Ok(Printed { text: slot, level: 4, signed: false, depth: 0 })
            }
            Function::Ceil | Function::Floor if self.whole_is_safe(a) => Ok(printed),
            Function::Ceil | Function::Floor => self.whole(function, a, printed, span),
            Function::Abs => Ok(printed),
        }
    }

    /// FIX and FUP mean the same on every control where nothing is negative.
    fn whole_is_safe(&self, a: &Expr) -> bool {
        !self.program.machine.expressions.fix_toward_zero || self.arithmetic.value(a).exact.lo >= 0.0
    }

    /// Whether it is greater than 0, or an absolute value, for sure; told by its looks.
    pub(super) fn is_positive(&self, expr: &Expr) -> bool {
        match expr.node() {
            Node::Number(value) => *value > Rational::ZERO,
            Node::Symbol(_) => self.arithmetic.value(expr).exact.lo > 0.0,
            Node::Add(a, b) | Node::Mul(a, b) | Node::Div(a, b) | Node::Min(a, b) => {
                self.is_positive(a) && self.is_positive(b)
            }
            Node::Max(a, b) => self.is_positive(a) || self.is_positive(b),
            Node::Pi | Node::Call(Function::Abs, _) => true,
            Node::Sub(..) | Node::Neg(_) | Node::Call(..) | Node::If(..) => {
                self.arithmetic.value(expr).exact.lo > 0.0
            }
        }
    }

    /// Rounding where the sign is not known and the control rounds toward or away from zero.
    fn whole(
        &mut self,
        function: Function,
        a: &Expr,
        printed: Printed,
        span: Span,
    ) -> Result<Printed, Diagnostic> {
        let slot = self.program.slot(span)?.text();
        let bare = slot.trim_start_matches('#').to_owned();
        self.program.w.assign_text(&bare, &printed.text, "", Some(span));
        let argument = self.word(a, span)?;
        let other = if function == Function::Ceil { "FIX" } else { "FUP" };
        let argument_in = if argument.starts_with('[') { argument.clone() } else { format!("[{argument}]") };
        self.assign_if(&format!("{argument} LT 0"), &bare, &format!("{other}{argument_in}"), span);
        Ok(Printed { text: slot, level: 4, signed: false, depth: 0 })
    }

    /// The smaller or greater of two: one of them, replaced by the other where it stands in that relation to it. What
    /// has to be worked out is worked out once.
    fn extreme(
        &mut self,
        relation: Relation,
        (a, b): (&Expr, &Expr),
        note: &str,
        span: Span,
    ) -> Result<Printed, Diagnostic> {
        let (first, other) = if self.ready(b).is_none() && self.ready(a).is_some() { (b, a) } else { (a, b) };
        let other = self.simple(other, "TO COMPARE WITH THE NEXT", span)?;
        let first = self.expr(first, span)?;
        let text = self.assigned(&first);
        let slot = self.program.slot(span)?.text();
        let bare = slot.trim_start_matches('#').to_owned();
        self.program.w.assign_text(&bare, &text, note, Some(span));
        self.assign_if(&format!("{slot} {} {other}", code(relation)), &bare, &other, span);
        Ok(Printed { text: slot, level: 4, signed: false, depth: 0 })
    }

    /// `if c then a else b`: only the branch that is taken is computed.
    fn choice(
        &mut self,
        (condition, a, b): (&Condition, &Expr, &Expr),
        (whole, note): (&Expr, &str),
        span: Span,
    ) -> Result<Printed, Diagnostic> {
        if self.program.machine.flow.if_then
            && let Some((others, last)) = table(condition, a, b)
        {
            return self.row((&others, last), (whole, note), span);
        }
        let slot = self.program.slot(span)?.text();
        let bare = slot.trim_start_matches('#').to_owned();
        let (otherwise, end) = (self.program.label(), self.program.label());
        self.jump_unless(condition, otherwise, "", span)?;
        let scope = self.scope();
        let then = self.expr(a, span)?;
        self.program.w.assign_text(&bare, &then.text, note, Some(span));
        self.program.w.jump(end);
        self.leave(scope);
        self.program.w.label(otherwise);
        let scope = self.scope();
        let other = self.expr(b, span)?;
        self.program.w.assign_text(&bare, &other.text, note, Some(span));
        self.leave(scope);
        self.program.w.label(end);
        Ok(Printed { text: slot, level: 4, signed: false, depth: 0 })
    }

    /// A value for each row of a table: the last one, and each of the others in its case; the first case last, since
    /// it is the one that counts.
    fn row(
        &mut self,
        (others, last): (&[(&Condition, &Expr)], &Expr),
        (whole, note): (&Expr, &str),
        span: Span,
    ) -> Result<Printed, Diagnostic> {
        let slot = self.program.slot(span)?.text();
        let bare = slot.trim_start_matches('#').to_owned();
        let value = self.expr(last, span)?;
        self.program.w.assign_text(&bare, &value.text, note, Some(span));
        for (condition, value) in others.iter().rev() {
            let Condition::Compare(relation, a, b) = condition else { continue };
            let test = self.comparison(*relation, a, b, span)?;
            let value = self.expr(value, span)?;
            self.program.w.assign_if(&test, &bare, &value.text, "", Some(span));
        }
        if self.thrift == Thrift::Work {
            self.define(whole.clone(), slot.clone());
        }
        Ok(Printed { text: slot, level: 4, signed: false, depth: 0 })
    }

    /// `IF [test] THEN #v=value`, or a jump around the assignment.
    pub(super) fn assign_if(&mut self, test: &str, bare: &str, value: &str, span: Span) {
        self.assign_if_noted(test, bare, value, "", span);
    }

    /// The same, with a note for the one who reads it.
    pub(super) fn assign_if_noted(&mut self, test: &str, bare: &str, value: &str, note: &str, span: Span) {
        if self.program.machine.flow.if_then {
            self.program.w.assign_if(test, bare, value, note, Some(span));
            return;
        }
        let (take, skip) = (self.program.label(), self.program.label());
        self.program.w.jump_if(test, take, "", None);
        self.program.w.jump(skip);
        self.program.w.label(take);
        self.program.w.assign_text(bare, value, note, Some(span));
        self.program.w.label(skip);
    }

    /// Goes to `label` unless the condition holds.
    pub(super) fn jump_unless(
        &mut self,
        condition: &Condition,
        label: u32,
        note: &str,
        span: Span,
    ) -> Result<(), Diagnostic> {
        self.jump_when(&condition.negated(), label, note, span)
    }

    /// Goes to `label` when the condition holds.
    fn jump_when(
        &mut self,
        condition: &Condition,
        label: u32,
        note: &str,
        span: Span,
    ) -> Result<(), Diagnostic> {
        match condition {
            Condition::True => self.program.w.jump(label),
            Condition::False => {}
            Condition::Compare(relation, a, b) => {
                let test = self.comparison(*relation, a, b, span)?;
                self.program.w.jump_if(&test, label, note, Some(span));
            }
            Condition::Or(parts) => {
                for part in parts {
                    self.jump_when(part, label, note, span)?;
                }
            }
            Condition::And(parts) => {
                let skip = self.program.label();
                let Some((last, first)) = parts.split_last() else { return Ok(()) };
                for part in first {
                    self.jump_unless(part, skip, "", span)?;
                }
                self.jump_when(last, label, note, span)?;
                self.program.w.label(skip);
            }
            Condition::Not(inner) => self.jump_when(&inner.negated(), label, note, span)?,
        }
        Ok(())
    }
}

impl Printer<'_> {
    /// A comparison as a test. What is computed may be off by the control's own rounding, so that a size exactly
    /// on the limit could fall on either side: a limit that belongs to what holds is moved outwards by more than
    /// that, one that does not belong is moved inwards, and `not` of either is the other.
    fn comparison(
        &mut self,
        relation: Relation,
        a: &Expr,
        b: &Expr,
        span: Span,
    ) -> Result<String, Diagnostic> {
        let Some(mut off) = self.arithmetic.comparison(a, b) else {
            return Ok(format!("{} {} {}", self.word(a, span)?, code(relation), self.word(b, span)?));
        };
        let mut difference = a.clone() - b.clone();
        let short = simplify(&difference);
        if short != difference && short.as_number().is_none() {
            off = self.arithmetic.value(&short).off;
            difference = short;
        }
        let slack = self.slack_of(off, span)?;
        let digits = pointed(&slack, self.program.machine.numbers.significant_digits.min(9));
        Ok(match relation {
            Relation::Greater | Relation::LessEqual => {
                format!("{} {} {digits}", self.word(&difference, span)?, code(relation))
            }
            Relation::Less | Relation::GreaterEqual => {
                format!("{} {} -{digits}", self.word(&difference, span)?, code(relation))
            }
            Relation::Equal | Relation::NotEqual => {
                let apart = self.word(&difference.call(Function::Abs), span)?;
                let word = if relation == Relation::Equal { "LE" } else { "GT" };
                format!("{apart} {word} {digits}")
            }
        })
    }

    /// What a guard allows for a value that may be off by so much.
    pub(super) fn slack_of(&mut self, off: f64, span: Span) -> Result<Rational, Diagnostic> {
        let decimals = self.program.machine.numbers.decimals + 1;
        let slack = one_digit_up(off, decimals).ok_or_else(|| {
            let text = "how exactly the control works out this condition cannot be told";
            Diagnostic::error(errors::NO_MACRO_FORM, span, text)
                .hint("name its parts with `let`, or keep divisors away from 0 by the ranges")
        })?;
        if self.slack.as_ref().is_none_or(|known| *known < slack) {
            self.slack = Some(slack.clone());
        }
        Ok(slack)
    }
}

/// Cases with their values, and the value in all others: nothing that could fail is worked out for a case that
/// does not hold.
fn table<'e>(
    condition: &'e Condition,
    a: &'e Expr,
    b: &'e Expr,
) -> Option<(Vec<(&'e Condition, &'e Expr)>, &'e Expr)> {
    let plain = |e: &Expr| e.as_number().is_some() || e.as_symbol().is_some();
    let compares = |c: &Condition| matches!(c, Condition::Compare(_, a, b) if plain(a) && plain(b));
    let mut cases = vec![(condition, a)];
    let mut last = b;
    while let Node::If(condition, a, b) = last.node() {
        cases.push((&**condition, a));
        last = b;
    }
    let fits = cases.iter().all(|(c, value)| compares(c) && is_tame(value));
    (fits && is_tame(last)).then_some((cases, last))
}

/// Whether it can be worked out whatever the values of its names: sums and products of names and numbers.
fn is_tame(e: &Expr) -> bool {
    match e.node() {
        Node::Number(_) | Node::Pi | Node::Symbol(_) => true,
        Node::Neg(a) => is_tame(a),
        Node::Add(a, b) | Node::Sub(a, b) | Node::Mul(a, b) => is_tame(a) && is_tame(b),
        Node::Div(a, b) => is_tame(a) && b.as_number().is_some(),
        Node::Call(..) | Node::Min(..) | Node::Max(..) | Node::If(..) => false,
    }
}

/// The value of what holds pi and numbers alone.
fn constant(e: &Expr) -> Option<(Rational, bool)> {
    let both = |a: &Expr, b: &Expr| Some((constant(a)?, constant(b)?));
    match e.node() {
        Node::Number(value) => Some((value.clone(), false)),
        Node::Pi => Some((pi(), true)),
        Node::Mul(a, b) => both(a, b).map(|((a, pa), (b, pb))| (a * b, pa || pb)),
        Node::Div(a, b) => {
            let ((a, pa), (b, pb)) = both(a, b)?;
            Some((a * b.recip()?, pa || pb))
        }
        Node::Symbol(_)
        | Node::Add(..)
        | Node::Sub(..)
        | Node::Neg(_)
        | Node::Call(..)
        | Node::Min(..)
        | Node::Max(..)
        | Node::If(..) => None,
    }
}

/// The most of a step that the last of whole steps may be longer by.
const MOST_REST: f64 = 0.02;

/// The decimal of one digit by which a value is taken less that may be off by `off`.
fn less_by(off: f64) -> Option<Rational> {
    one_digit_up(off, 6).filter(|less| less.to_f64() <= MOST_LESS)
}

fn uncounted(span: Span) -> Diagnostic {
    let text = "how exactly the control counts these steps cannot be told";
    Diagnostic::error(errors::NO_MACRO_FORM, span, text)
        .hint("keep the step well above 0 by its range, or write the blocks form")
}

/// What the header says of whole numbers that what is rounded up may exceed by this part.
pub(super) fn told_fewer(most: &Rational) -> String {
    let shown = pointed(&most.rounded(7, Rounding::Up), 7);
    format!(
        "WHAT IS ROUNDED UP TO A WHOLE NUMBER IS TAKEN LESS BY A PART OF {shown}, SO THAT ROUNDING NEVER COUNTS ONE MORE"
    )
}

/// What the header says of steps that may be longer by this part.
pub(super) fn told_longer(most: &Rational) -> String {
    let part = most.rounded(7, Rounding::Up);
    let shown = pointed(&part, 7);
    format!(
        "STEPS ARE COUNTED SO THAT ROUNDING NEVER MAKES ONE MORE OF THEM: A STEP MAY BE LONGER BY A PART OF {shown}"
    )
}

/// The comparison's word.
pub(super) fn code(relation: Relation) -> &'static str {
    match relation {
        Relation::Equal => "EQ",
        Relation::NotEqual => "NE",
        Relation::Less => "LT",
        Relation::LessEqual => "LE",
        Relation::Greater => "GT",
        Relation::GreaterEqual => "GE",
    }
}

/// 3.14159265358979323846
fn pi() -> Rational {
    Rational::from_decimal("3.14159265358979323846").unwrap_or(Rational::ZERO)
}
