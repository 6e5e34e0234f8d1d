//! Expressions brought from mm to the machine's unit: every literal length in them is divided by it.
//!
//! An expression does not say what its literals measure; it follows from what they are added to, compared with
//! or multiplied into. Where it does not follow, the literal is refused, never guessed.

use std::collections::BTreeMap;

use borewright_base::{Diagnostic, Span};
use borewright_motion::{
    Action, Clause, Condition, Expr, Field, Function, Let, Motion, Node, Passes, Point, Step, Symbol,
};
use borewright_number::{Dimension, Rational};

use crate::errors;

/// Knows what each name measures.
pub(super) struct Scale {
    /// One unit of length of the machine, in mm.
    pub(super) unit: Rational,
    /// Dimensions by name.
    pub(super) dimensions: BTreeMap<Symbol, Dimension>,
}

/// Raised inside; the place is added outside.
struct Untold(Expr);

impl Scale {
    /// Knows the cutter; a motion's own names come with it.
    pub(super) fn new(unit: Rational) -> Self {
        let dimensions = Field::ALL.into_iter().map(|f| (f.symbol(), f.dimension())).collect();
        Self { unit, dimensions }
    }

    /// The motion in machine units. Ranges stay as they are: they are rounded where they are written.
    pub(super) fn motion(&mut self, motion: &Motion) -> Result<Motion, Diagnostic> {
        let mut scaled = motion.clone();
        for parameter in &motion.parameters {
            self.dimensions.insert(parameter.symbol.clone(), parameter.dimension);
        }
        for parameter in &mut scaled.parameters {
            if let Some(default) = &mut parameter.default {
                *default = self.expr(default, parameter.dimension, parameter.span)?;
            }
        }
        for clause in &mut scaled.head {
            match clause {
                Clause::Let(l) => self.named(l)?,
                Clause::Require(r) => r.condition = self.condition(&r.condition, r.span)?,
            }
        }
        self.steps(&mut scaled.body)?;
        Ok(scaled)
    }

    fn named(&mut self, l: &mut Let) -> Result<(), Diagnostic> {
        l.value = self.expr(&l.value, l.dimension, l.span)?;
        self.dimensions.insert(l.symbol.clone(), l.dimension);
        Ok(())
    }

    fn steps(&mut self, steps: &mut [Step]) -> Result<(), Diagnostic> {
        steps.iter_mut().try_for_each(|step| self.step(step))
    }

    fn step(&mut self, step: &mut Step) -> Result<(), Diagnostic> {
        let span = step.span;
        match &mut step.action {
            Action::Let(l) => self.named(l),
            Action::RapidTo(point) => self.point(point, span),
            Action::RapidZ(z) => self.length(z, span),
            Action::Line { to, z, feed } => {
                if let Some(to) = to {
                    self.point(to, span)?;
                }
                self.words(z.as_mut(), feed.as_mut(), span)
            }
            Action::Arc { to, z, about, feed, .. } => {
                self.point(to, span)?;
                self.point(about, span)?;
                self.words(z.as_mut(), feed.as_mut(), span)
            }
            Action::Turn { z, about, feed, .. } => {
                self.point(about, span)?;
                self.words(z.as_mut(), feed.as_mut(), span)
            }
            Action::Passes(passes) => self.passes(passes, span),
            Action::Repeat { index, count, body } => {
                *count = self.expr(count, Dimension::RATIO, span)?;
                self.dimensions.insert(index.clone(), Dimension::RATIO);
                self.steps(body)
            }
            Action::Dwell(time) => {
                *time = self.expr(time, Dimension::TIME, span)?;
                Ok(())
            }
            Action::With { body, .. } => self.steps(body),
            Action::Retract
            | Action::Call(_)
            | Action::Spindle { .. }
            | Action::Coolant(_)
            | Action::Stop(_) => Ok(()),
        }
    }

    fn passes(&mut self, passes: &mut Passes, span: Span) -> Result<(), Diagnostic> {
        let told = [&passes.from, &passes.to, &passes.by].into_iter().find_map(|e| self.infer(e, None));
        let dimension = told.unwrap_or(Dimension::LENGTH);
        for e in [&mut passes.from, &mut passes.to, &mut passes.by] {
            *e = self.expr(e, dimension, span)?;
        }
        self.dimensions.insert(passes.value.clone(), dimension);
        self.dimensions.insert(passes.index.clone(), Dimension::RATIO);
        self.dimensions.insert(passes.count.clone(), Dimension::RATIO);
        self.steps(&mut passes.body)
    }

    fn point(&self, point: &mut Point, span: Span) -> Result<(), Diagnostic> {
        self.length(&mut point.x, span)?;
        self.length(&mut point.y, span)
    }

    fn length(&self, e: &mut Expr, span: Span) -> Result<(), Diagnostic> {
        *e = self.expr(e, Dimension::LENGTH, span)?;
        Ok(())
    }

    fn words(&self, z: Option<&mut Expr>, feed: Option<&mut Expr>, span: Span) -> Result<(), Diagnostic> {
        if let Some(z) = z {
            self.length(z, span)?;
        }
        if let Some(feed) = feed {
            *feed = self.expr(feed, Dimension::FEED, span)?;
        }
        Ok(())
    }

    /// The expression, which has this dimension, in machine units.
    pub(super) fn expr(&self, expr: &Expr, dimension: Dimension, span: Span) -> Result<Expr, Diagnostic> {
        self.convert(expr, dimension).map_err(|untold| refuse(&untold, span))
    }

    /// The condition in machine units.
    pub(super) fn condition(&self, condition: &Condition, span: Span) -> Result<Condition, Diagnostic> {
        self.convert_condition(condition).map_err(|untold| refuse(&untold, span))
    }

    /// What an expression measures, where its names tell.
    pub(super) fn told(&self, expr: &Expr) -> Option<Dimension> {
        self.infer(expr, None)
    }

    /// What an expression measures, as far as names tell.
    pub(super) fn dimension(&self, expr: &Expr) -> Option<Dimension> {
        self.infer(expr, None).or_else(|| self.infer(expr, Some(Dimension::RATIO)))
    }

    /// `number`: what a literal is taken for in a product.
    fn infer(&self, expr: &Expr, number: Option<Dimension>) -> Option<Dimension> {
        let of = |e: &Expr| self.infer(e, number);
        match expr.node() {
            Node::Number(_) => number,
            Node::Pi => Some(Dimension::RATIO),
            Node::Symbol(symbol) => self.dimensions.get(symbol).copied(),
            // In a sum the literal says nothing.
            Node::Add(a, b) | Node::Sub(a, b) | Node::Min(a, b) | Node::Max(a, b) | Node::If(_, a, b) => {
                let strict = |e: &Expr| self.infer(e, None);
                strict(a).or_else(|| strict(b)).or_else(|| of(a)).or_else(|| of(b))
            }
            Node::Mul(a, b) => of(a)?.times(of(b)?),
            Node::Div(a, b) => of(a)?.over(of(b)?),
            Node::Neg(a) => of(a),
            Node::Call(function, a) => match function {
                Function::Sin | Function::Cos | Function::Tan | Function::Ceil | Function::Floor => {
                    Some(Dimension::RATIO)
                }
                Function::Atan | Function::Acos => Some(Dimension::ANGLE),
                Function::Sqrt => of(a)?.root(),
                Function::Abs => of(a),
            },
        }
    }

    fn convert(&self, expr: &Expr, want: Dimension) -> Result<Expr, Untold> {
        let same = |e: &Expr| self.convert(e, want);
        match expr.node() {
            Node::Number(value) => Ok(Expr::number(self.number(value, want))),
            Node::Pi | Node::Symbol(_) => Ok(expr.clone()),
            Node::Add(a, b) => Ok(same(a)? + same(b)?),
            Node::Sub(a, b) => Ok(same(a)? - same(b)?),
            Node::Min(a, b) => Ok(same(a)?.min(same(b)?)),
            Node::Max(a, b) => Ok(same(a)?.max(same(b)?)),
            Node::Neg(a) => Ok(-same(a)?),
            Node::If(c, a, b) => Ok(Expr::choose(self.convert_condition(c)?, same(a)?, same(b)?)),
            Node::Mul(a, b) => {
                let (da, db) =
                    self.factors(a, b, want, Dimension::over).ok_or_else(|| Untold(expr.clone()))?;
                Ok(self.convert(a, da)? * self.convert(b, db)?)
            }
            Node::Div(a, b) => {
                // a = want * b; b = a / want
                let told = (self.infer(a, None), self.infer(b, None));
                let loose = || (self.infer(a, Some(Dimension::RATIO)), self.infer(b, Some(Dimension::RATIO)));
                let pair = match told {
                    (Some(da), Some(db)) => Some((da, db)),
                    (Some(da), None) => da.over(want).map(|db| (da, db)),
                    (None, Some(db)) => want.times(db).map(|da| (da, db)),
                    (None, None) => match loose() {
                        (Some(da), Some(db)) => (da.over(db) == Some(want)).then_some((da, db)),
                        _ => None,
                    },
                };
                let (da, db) = pair.ok_or_else(|| Untold(expr.clone()))?;
                Ok(self.convert(a, da)? / self.convert(b, db)?)
            }
            Node::Call(function, a) => {
                let inner = match function {
                    Function::Sin | Function::Cos | Function::Tan => Dimension::ANGLE,
                    Function::Atan | Function::Acos | Function::Ceil | Function::Floor => Dimension::RATIO,
                    Function::Sqrt => want.times(want).ok_or_else(|| Untold(expr.clone()))?,
                    Function::Abs => want,
                };
                Ok(self.convert(a, inner)?.call(*function))
            }
        }
    }

    /// What the factors of a product of dimension `want` measure.
    fn factors(
        &self,
        a: &Expr,
        b: &Expr,
        want: Dimension,
        rest: impl Fn(Dimension, Dimension) -> Option<Dimension>,
    ) -> Option<(Dimension, Dimension)> {
        match (self.infer(a, None), self.infer(b, None)) {
            (Some(da), Some(db)) => Some((da, db)),
            (Some(da), None) => Some((da, rest(want, da)?)),
            (None, Some(db)) => Some((rest(want, db)?, db)),
            (None, None) => {
                let ratio = Some(Dimension::RATIO);
                let (da, db) = (self.infer(a, ratio)?, self.infer(b, ratio)?);
                (da.times(db) == Some(want)).then_some((da, db))
            }
        }
    }

    fn number(&self, value: &Rational, dimension: Dimension) -> Rational {
        let factor = self.unit.pow(usize::from(dimension.length.unsigned_abs()));
        if dimension.length >= 0 { value / &factor } else { value * &factor }
    }

    fn convert_condition(&self, condition: &Condition) -> Result<Condition, Untold> {
        match condition {
            Condition::True | Condition::False => Ok(condition.clone()),
            Condition::Compare(relation, a, b) => {
                let told = self.infer(a, None).or_else(|| self.infer(b, None));
                let dimension = told.or_else(|| self.dimension(a)).or_else(|| self.dimension(b));
                let dimension = dimension.ok_or_else(|| Untold(a.clone()))?;
                Ok(Condition::compare(*relation, self.convert(a, dimension)?, self.convert(b, dimension)?))
            }
            Condition::And(parts) => {
                Ok(Condition::And(parts.iter().map(|p| self.convert_condition(p)).collect::<Result<_, _>>()?))
            }
            Condition::Or(parts) => {
                Ok(Condition::Or(parts.iter().map(|p| self.convert_condition(p)).collect::<Result<_, _>>()?))
            }
            Condition::Not(inner) => Ok(Condition::Not(self.convert_condition(inner)?.into())),
        }
    }
}

fn refuse(untold: &Untold, span: Span) -> Diagnostic {
    let text = format!("what the literals in `{}` measure cannot be told, so it has no inch form", untold.0);
    Diagnostic::error(errors::LITERAL_UNIT, span, text)
        .hint("give the literal a name of its own with `let`, or write for a machine in mm")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn inch() -> Scale {
        let length = ["bore", "tool", "pilot", "wall"].map(|n| (Symbol::new(n), Dimension::LENGTH));
        let mut dimensions: BTreeMap<_, _> = length.into_iter().collect();
        dimensions.insert(Symbol::new("start"), Dimension::ANGLE);
        dimensions.insert(Symbol::new("cut"), Dimension::FEED);
        Scale { unit: Rational::from(127) / Rational::from(5), dimensions }
    }

    fn n(name: &str) -> Expr {
        Expr::named(name)
    }

    fn mm(text: &str) -> Expr {
        Expr::number(Rational::from_decimal(text).unwrap())
    }

    fn told(expr: &Expr, dimension: Dimension) -> String {
        inch()
            .expr(expr, dimension, Span::default())
            .map_or_else(|d| d.code.number.to_owned(), |e| e.to_string())
    }

    #[test]
    fn literals_are_divided_where_they_are_lengths() {
        assert_eq!(told(&(n("tool") + mm("5.08")), Dimension::LENGTH), "tool + 0.2");
        assert_eq!(told(&(mm("0.9") * n("wall")), Dimension::LENGTH), "0.9 * wall");
        assert_eq!(told(&(mm("12.7") * n("start").sin()), Dimension::LENGTH), "0.5 * sin(start)");
        assert_eq!(told(&(n("cut") / mm("4")), Dimension::FEED), "cut / 4");
        // 1 mm2 over an area is 25/16129 in2 over an area.
        assert_eq!(told(&(mm("1") / (n("bore") * n("bore"))), Dimension::RATIO), "25/16129 / (bore * bore)");
    }

    #[test]
    fn comparisons_take_the_unit_of_either_side() {
        let condition = Condition::at_most(n("bore") - n("pilot"), mm("2") * n("tool"));
        assert_eq!(
            inch().condition(&condition, Span::default()).unwrap().to_string(),
            "bore - pilot <= 2 * tool"
        );
        let condition = Condition::less(mm("25.4"), n("bore"));
        assert_eq!(inch().condition(&condition, Span::default()).unwrap().to_string(), "1 < bore");
    }
}
