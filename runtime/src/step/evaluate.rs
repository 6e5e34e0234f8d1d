//! Expressions, on a stack of operands.

use std::ops::RangeInclusive;

use borewright_base::Span;

use super::{Outcome, Stepper, Stop};
use crate::code::Group;
use crate::controller::{AtanRange, Fix, Logic, SystemValue};
use crate::errors::{self, Fault};
use crate::state::{
    Axis, Compensated, Coolant, Distance, FeedMode, Motion, Offset, PathControl, Plane, ReturnLevel, Side,
    Units,
};
use crate::text::{Binary, Expression, Function, Instruction, Number, Operation, Relation};
use crate::value::{Condition, Elementary, Value};

/// What an expression gives.
#[derive(Debug, Clone)]
pub enum Operand<V: Value> {
    /// A variable that was never set.
    Vacant,
    /// A number.
    Number(V),
    /// What a comparison gives: 1 or 0 when used as a number.
    Truth(V::Condition),
}

impl<V: Value> Stepper<'_, V> {
    /// The value of an expression.
    pub(super) fn operand(&mut self, expression: &Expression, span: Span) -> Outcome<V, Operand<V>> {
        let code = match expression {
            Expression::Literal(number) => return Ok(Operand::Number(V::number(*number))),
            Expression::Code(code) => code,
        };
        let mut stack: Vec<Operand<V>> = Vec::new();
        for instruction in code {
            let result = self.instruction(instruction, &mut stack)?;
            stack.push(result);
        }
        pop(&mut stack, span)
    }

    /// The same as a number; `None` when vacant.
    pub(super) fn number(&mut self, expression: &Expression, span: Span) -> Outcome<V, Option<V>> {
        match self.operand(expression, span)? {
            Operand::Vacant => Ok(None),
            Operand::Number(value) => Ok(Some(value)),
            Operand::Truth(condition) => self.as_number(&condition, span).map(Some),
        }
    }

    /// The same as a condition.
    pub(super) fn condition(&mut self, expression: &Expression, span: Span) -> Outcome<V, V::Condition> {
        Ok(match self.operand(expression, span)? {
            Operand::Vacant => V::Condition::constant(false),
            Operand::Number(value) => value.against_zero(Relation::NotEqual),
            Operand::Truth(condition) => condition,
        })
    }

    /// A whole number that is not negative, for variables, sequence numbers and the like.
    pub(super) fn index(&mut self, expression: &Expression, what: &str, span: Span) -> Outcome<V, u32> {
        let value = self.number(expression, span)?;
        whole(value.as_ref(), what, span).map_err(Stop::from)
    }

    fn as_number(&self, condition: &V::Condition, span: Span) -> Outcome<V, V> {
        self.select(condition, &V::integer(1), &V::integer(0), span)
    }

    /// Vacant counts as 0 in arithmetic.
    fn plain(&self, operand: &Operand<V>, span: Span) -> Outcome<V, V> {
        match operand {
            Operand::Vacant => Ok(V::integer(0)),
            Operand::Number(value) => Ok(value.clone()),
            Operand::Truth(condition) => self.as_number(condition, span),
        }
    }

    fn instruction(&mut self, at: &Instruction, stack: &mut Vec<Operand<V>>) -> Outcome<V, Operand<V>> {
        let span = at.span;
        let result = match at.operation {
            Operation::Number(number) => return Ok(Operand::Number(V::number(number))),
            Operation::Variable => {
                let number = pop(stack, span)?;
                let number = self.plain(&number, span)?;
                let number = whole(Some(&number), "the number of a variable", span)?;
                return self.variable(number, span);
            }
            Operation::Negate => self.pop_number(stack, span)?.negate(),
            Operation::Function(function) => {
                let argument = self.pop_number(stack, span)?;
                self.function(function, &argument, span)?
            }
            Operation::ArcTangent => {
                let x = self.pop_number(stack, span)?;
                let y = self.pop_number(stack, span)?;
                self.arc_tangent(&y, &x, span)?
            }
            Operation::Binary(operator) => {
                let right = pop(stack, span)?;
                let left = pop(stack, span)?;
                return self.binary(operator, &left, &right, span);
            }
        };
        self.within_range(result, span).map(Operand::Number)
    }

    fn pop_number(&self, stack: &mut Vec<Operand<V>>, span: Span) -> Outcome<V, V> {
        let operand = pop(stack, span)?;
        self.plain(&operand, span)
    }

    fn within_range(&mut self, value: V, span: Span) -> Outcome<V, V> {
        self.need(value.finite(), || domain("the result is too large for the controller", span))?;
        Ok(value)
    }

    fn binary(
        &mut self,
        operator: Binary,
        left: &Operand<V>,
        right: &Operand<V>,
        span: Span,
    ) -> Outcome<V, Operand<V>> {
        match operator {
            Binary::Compare(relation) => self.compare(relation, left, right, span).map(Operand::Truth),
            Binary::And | Binary::Or | Binary::Xor => {
                self.logic(operator, left, right, span).map(Operand::Truth)
            }
            Binary::Add
            | Binary::Subtract
            | Binary::Multiply
            | Binary::Divide
            | Binary::Modulo
            | Binary::Power => {
                let (left, right) = (self.plain(left, span)?, self.plain(right, span)?);
                let result = self.arithmetic(operator, &left, &right, span)?;
                self.within_range(result, span).map(Operand::Number)
            }
        }
    }

    fn arithmetic(&mut self, operator: Binary, left: &V, right: &V, span: Span) -> Outcome<V, V> {
        let zero = V::integer(0);
        Ok(match operator {
            Binary::Subtract => left.subtract(right),
            Binary::Multiply => left.multiply(right),
            Binary::Divide => {
                self.need(right.compare(Relation::NotEqual, &zero), || domain("a division by zero", span))?;
                left.divide(right)
            }
            Binary::Modulo => {
                let fit = left.compare(Relation::GreaterOrEqual, &zero);
                let fit = fit.and(&right.compare(Relation::Greater, &zero));
                self.need(fit, || {
                    domain("MOD of numbers that are not positive", span)
                        .hint("controllers differ on what that gives: make both numbers positive")
                })?;
                left.remainder(right)
            }
            Binary::Power => {
                if right.whole().is_none() {
                    self.need(left.compare(Relation::Greater, &zero), || {
                        domain("a negative number raised to a power that is not whole", span)
                    })?;
                } else {
                    let fit = left.compare(Relation::NotEqual, &zero);
                    let fit = fit.or(&right.compare(Relation::GreaterOrEqual, &zero));
                    self.need(fit, || domain("zero raised to a negative power", span))?;
                }
                left.power(right)
            }
            // The comparisons and the logic never come here.
            Binary::Add | Binary::And | Binary::Or | Binary::Xor | Binary::Compare(_) => left.add(right),
        })
    }

    /// Vacant equals only vacant; in an order it counts as 0 (common practice of macro dialects, no source).
    fn compare(
        &mut self,
        relation: Relation,
        left: &Operand<V>,
        right: &Operand<V>,
        span: Span,
    ) -> Outcome<V, V::Condition> {
        let vacant = |o: &Operand<V>| matches!(o, Operand::Vacant);
        let differ = vacant(left) != vacant(right);
        match relation {
            Relation::Equal if differ => return Ok(V::Condition::constant(false)),
            Relation::NotEqual if differ => return Ok(V::Condition::constant(true)),
            Relation::Equal
            | Relation::NotEqual
            | Relation::Less
            | Relation::LessOrEqual
            | Relation::Greater
            | Relation::GreaterOrEqual => {}
        }
        Ok(self.plain(left, span)?.compare(relation, &self.plain(right, span)?))
    }

    fn logic(
        &mut self,
        operator: Binary,
        left: &Operand<V>,
        right: &Operand<V>,
        span: Span,
    ) -> Outcome<V, V::Condition> {
        let (left, right) = (self.truth(left, span)?, self.truth(right, span)?);
        let either = left.or(&right);
        let both = left.and(&right);
        Ok(match operator {
            Binary::And => both,
            Binary::Xor => either.and(&both.negated()),
            Binary::Or
            | Binary::Add
            | Binary::Subtract
            | Binary::Multiply
            | Binary::Divide
            | Binary::Modulo
            | Binary::Power
            | Binary::Compare(_) => either,
        })
    }

    /// Any number but 0 is true where the dialect says so; elsewhere only 0 and 1 mean the same on all controllers.
    fn truth(&mut self, operand: &Operand<V>, span: Span) -> Outcome<V, V::Condition> {
        let value = match operand {
            Operand::Truth(condition) => return Ok(condition.clone()),
            Operand::Vacant => return Ok(V::Condition::constant(false)),
            Operand::Number(value) => value,
        };
        if self.controller.dialect.logic == Logic::Comparisons {
            let bit = value.compare(Relation::Equal, &V::integer(1));
            self.need(bit.or(&value.against_zero(Relation::Equal)), || {
                Fault::new(
                    errors::AMBIGUOUS_EXPRESSION,
                    span,
                    "AND, OR, XOR of a number that is neither 0 nor 1",
                )
                .hint("some controllers combine bits, others yes and no: compare first, [#1 NE 0]")
            })?;
        }
        Ok(value.against_zero(Relation::NotEqual))
    }

    fn function(&mut self, function: Function, x: &V, span: Span) -> Outcome<V, V> {
        let (zero, one) = (V::integer(0), V::integer(1));
        let elementary = match function {
            Function::Abs => Elementary::Abs,
            Function::Sin => Elementary::Sin,
            Function::Cos => Elementary::Cos,
            Function::Exp => Elementary::Exp,
            Function::Fix => return self.whole_part(x, Elementary::Floor, Elementary::Ceil, span),
            Function::Fup => return self.whole_part(x, Elementary::Ceil, Elementary::Floor, span),
            Function::Round => return self.round(x, span),
            Function::Acos | Function::Asin => {
                let fit = x.abs().compare(Relation::LessOrEqual, &one);
                self.need(fit, || domain(&format!("{} of a number beyond -1 to 1", function.name()), span))?;
                if function == Function::Acos { Elementary::Acos } else { Elementary::Asin }
            }
            Function::Ln => {
                self.need(x.compare(Relation::Greater, &zero), || {
                    domain("LN of a number that is not positive", span)
                })?;
                Elementary::Ln
            }
            Function::Sqrt => {
                let fit = x.compare(Relation::GreaterOrEqual, &zero);
                self.need(fit, || domain("the square root of a negative number", span))?;
                Elementary::Sqrt
            }
            Function::Tan => {
                let fit = x.apply(Elementary::Cos).compare(Relation::NotEqual, &zero);
                self.need(fit, || domain("TAN of a right angle", span))?;
                Elementary::Tan
            }
        };
        Ok(x.apply(elementary))
    }

    /// FIX and FUP: controllers agree for positive numbers only.
    fn whole_part(&mut self, x: &V, up: Elementary, down: Elementary, span: Span) -> Outcome<V, V> {
        match self.controller.fix {
            Fix::Down => Ok(x.apply(up)),
            Fix::TowardsZero => {
                let positive = x.against_zero(Relation::GreaterOrEqual);
                self.select(&positive, &x.apply(up), &x.apply(down), span)
            }
        }
    }

    /// To the nearest; an exact half goes away from zero.
    fn round(&mut self, x: &V, span: Span) -> Outcome<V, V> {
        let half = V::number(Number { mantissa: 5, decimals: 1, point: true, float: 0.5 });
        let up = x.add(&half).apply(Elementary::Floor);
        let down = x.subtract(&half).apply(Elementary::Ceil);
        self.select(&x.against_zero(Relation::GreaterOrEqual), &up, &down, span)
    }

    fn arc_tangent(&mut self, y: &V, x: &V, span: Span) -> Outcome<V, V> {
        let somewhere = y.against_zero(Relation::NotEqual).or(&x.against_zero(Relation::NotEqual));
        self.need(somewhere, || domain("ATAN[0]/[0] has no angle", span))?;
        let angle = V::arc_tangent(y, x);
        match self.controller.atan {
            AtanRange::Signed => Ok(angle),
            AtanRange::Positive => {
                let turned = angle.add(&V::integer(360));
                self.select(&angle.against_zero(Relation::Less), &turned, &angle, span)
            }
        }
    }

    fn variable(&mut self, number: u32, span: Span) -> Outcome<V, Operand<V>> {
        let variables = &self.controller.variables;
        let among = |ranges: &[RangeInclusive<u32>]| ranges.iter().any(|range| range.contains(&number));
        let (value, vacant) = if number == 0 && variables.vacant {
            (None, true)
        } else if let Some(system) = variables.system.get(&number) {
            (self.system(*system, span)?, variables.vacant)
        } else if among(&variables.writable) {
            (self.memory.read(number)?, variables.vacant)
        } else if among(&variables.readable) {
            (self.memory.read(number)?, false)
        } else {
            return Err(no_such_variable(number, span).into());
        };
        Ok(match value {
            Some(value) => Operand::Number(value),
            None if vacant => Operand::Vacant,
            None => Operand::Number(V::integer(0)),
        })
    }

    fn system(&self, value: SystemValue, span: Span) -> Outcome<V, Option<V>> {
        let before = self.before;
        Ok(match value {
            SystemValue::Mode(group) => return self.mode(group, span).map(Some),
            SystemValue::Cycle => Some(V::integer(80)),
            SystemValue::Feed => before.feed.clone(),
            SystemValue::Speed => before.speed.clone(),
            SystemValue::Tool => before.selected.clone(),
            SystemValue::D => before.d.clone(),
            SystemValue::H => before.h.clone(),
            SystemValue::Sequence => before.sequence.and_then(|n| i32::try_from(n).ok()).map(V::integer),
            SystemValue::Position(axis) => Some(before.position.along(axis).clone()),
            SystemValue::MachinePosition(axis) => Some(self.to_machine(axis, before.position.along(axis))),
        })
    }

    /// The code number of an active mode, as macro programs read it.
    fn mode(&self, group: Group, span: Span) -> Outcome<V, V> {
        let before = self.before;
        let tenths = match group {
            Group::Motion => before.motion.map(motion_tenths),
            Group::Plane => before.plane.map(plane_tenths),
            Group::Distance => before.distance.map(|d| if d == Distance::Absolute { 900 } else { 910 }),
            Group::FeedMode => before.feed_mode.map(|m| if m == FeedMode::PerMinute { 940 } else { 930 }),
            Group::Units => before.units.map(|u| if u == Units::Inch { 200 } else { 210 }),
            Group::Compensation => before.compensation.map(|on| match (&before.compensated, on) {
                (Some(Compensated::On(Offset { side: Side::Right, .. })), true) => 420,
                (_, true) => 410,
                (_, false) => 400,
            }),
            Group::LengthOffset => before.length_offset.map(|on| if on { 430 } else { 490 }),
            Group::ReturnLevel => {
                before.return_level.map(|l| if l == ReturnLevel::Initial { 980 } else { 990 })
            }
            Group::WorkOffset => before.work.map(work_tenths),
            Group::PathControl => before.path_control.map(path_tenths),
            Group::NonModal
            | Group::Stopping
            | Group::ToolChange
            | Group::Spindle
            | Group::Coolant
            | Group::Overrides
            | Group::Subprogram => None,
        };
        let tenths = tenths.ok_or_else(|| {
            Fault::new(errors::MODE_UNKNOWN, span, format!("the active {} code is not known", group.name()))
                .hint("program the mode before reading it")
        })?;
        Ok(V::integer(tenths).divide(&V::integer(10)))
    }

    /// A coordinate of the program in machine coordinates.
    pub(super) fn to_machine(&self, axis: Axis, value: &V) -> V {
        let now = &self.now;
        let sum = value.add(now.origin.along(axis)).add(now.shift.along(axis));
        if axis == Axis::Z { sum.add(&now.length) } else { sum }
    }

    /// A machine coordinate in coordinates of the program.
    pub(super) fn to_program(&self, axis: Axis, value: &V) -> V {
        let now = &self.now;
        let rest = value.subtract(now.origin.along(axis)).subtract(now.shift.along(axis));
        if axis == Axis::Z { rest.subtract(&now.length) } else { rest }
    }
}

fn motion_tenths(motion: Motion) -> i32 {
    match motion {
        Motion::None => 800,
        Motion::Rapid => 0,
        Motion::Line => 10,
        Motion::ArcClockwise => 20,
        Motion::ArcCounterclockwise => 30,
    }
}

fn plane_tenths(plane: Plane) -> i32 {
    match plane {
        Plane::XY => 170,
        Plane::XZ => 180,
        Plane::YZ => 190,
    }
}

fn path_tenths(path: PathControl) -> i32 {
    match path {
        PathControl::ExactPath => 610,
        PathControl::ExactStop => 611,
        PathControl::Blending => 640,
    }
}

fn work_tenths(system: u8) -> i32 {
    match system {
        1..=6 => 530 + 10 * i32::from(system),
        _ => 584 + i32::from(system),
    }
}

/// `M7` and `M8` hold at once; kept here so that every mode's reading is in one file.
pub(super) fn switch_coolant<V>(registers: &mut crate::state::Registers<V>, coolant: Coolant) {
    match coolant {
        Coolant::Mist => registers.mist = Some(true),
        Coolant::Flood => registers.flood = Some(true),
        Coolant::Off => {
            registers.mist = Some(false);
            registers.flood = Some(false);
        }
    }
}

/// A whole number that is not negative.
pub(super) fn whole<V: Value>(value: Option<&V>, what: &str, span: Span) -> Result<u32, Fault> {
    let number = value.and_then(Value::whole).and_then(|n| u32::try_from(n).ok());
    number.ok_or_else(|| {
        Fault::new(errors::VARIABLE_NUMBER, span, format!("{what} is not a whole number from 0 up"))
            .hint("round it with ROUND[..] or FIX[..], and check for vacant variables")
    })
}

fn pop<V: Value>(stack: &mut Vec<Operand<V>>, span: Span) -> Outcome<V, Operand<V>> {
    // The reader writes code that always finds its operands.
    stack.pop().ok_or_else(|| domain("an operand is missing", span).into())
}

fn domain(message: &str, span: Span) -> Fault {
    Fault::new(errors::OUTSIDE_DOMAIN, span, message).hint("look at the values of the variables in it")
}

fn no_such_variable(number: u32, span: Span) -> Fault {
    Fault::new(errors::VARIABLE_NUMBER, span, format!("there is no variable #{number} on this controller"))
        .hint("the machine file says which variables there are")
}
