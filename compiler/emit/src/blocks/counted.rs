//! Places that the main program of a job works out itself: a loop that counts them round their circle.

use borewright_base::{Diagnostic, Span};
use borewright_motion::{Around, Expr, FlatStep, Function, Symbol, Turn, Value};
use borewright_number::{Interval, Rational};

use super::Emitter;
use super::called::{Centre, Entered};
use crate::arithmetic::{Arithmetic, Computed};
use crate::errors;
use crate::number::{Digits, Literal, pointed};

/// A part of a circle is written as a quotient where the circle has no more parts than this.
const GREATEST_DIVISOR: i64 = 1000;

/// The circle that a call goes round.
pub(super) struct Round<'s> {
    around: &'s Around<Value>,
    /// Which of its places is next, from 1.
    place: i64,
    places: i64,
    /// The loops around all of the places.
    outside: &'s [Turn],
}

impl<'s> Round<'s> {
    /// Nothing where there is but one place to go to. Places whose number is a parameter are turns of a loop.
    pub(super) fn of(
        around: &'s Around<Value>,
        step: &'s FlatStep,
        place: usize,
        places: usize,
    ) -> Option<Self> {
        let (place, places, outside) = match step.turns.split_last() {
            Some((turn, outside)) if turn.symbol.counts_places() => (turn.index, turn.count, outside),
            Some(_) | None => {
                (i64::try_from(place).ok()?, i64::try_from(places).ok()?, step.turns.as_slice())
            }
        };
        (places > 1).then_some(Self { around, place, places, outside })
    }
}

/// A circle in the machine's unit, and the variables in which its places are worked out.
struct Loop {
    radius: Rational,
    first: Rational,
    step: Rational,
    counter: u32,
    angle: u32,
    place: [u32; 2],
}

impl Emitter<'_> {
    /// The whole loop at the first of the places; at each, how far it may be off.
    pub(super) fn call_round(
        &mut self,
        entered: &Entered<'_>,
        round: &Round<'_>,
        step: &FlatStep,
    ) -> Result<(), Diagnostic> {
        let sub = self.subprogram(entered)?;
        let travel = self.travel_above(entered)?;
        let way = self.round(entered, round)?;
        let off = way.off(round.places, &Arithmetic::of(self.machine));
        let centre = Centre::Computed { variables: way.place, off };
        if round.place == 1 {
            self.turns_comment(round.outside);
            let text = format!("{}: {} PLACES ROUND A CIRCLE, COUNTED", entered.routine, round.places);
            self.w.comment(&text);
            self.down_to_travel(entered, &travel)?;
            self.follows_wear(sub, entered.span)?;
        }
        let given = self.given(sub, entered, &centre)?;
        if round.place == 1 {
            self.open_round(&way, round.places, entered.span)?;
            self.call_block(sub, &given, &centre, &travel, entered.span)?;
            let counter = way.counter;
            self.w.assign_text(&counter.to_string(), &format!("#{counter}+1"), "", None);
            self.w.close_loop(1);
        }
        step.turns.clone_into(&mut self.turns);
        Ok(())
    }

    /// What the loop is written with.
    fn round(&self, entered: &Entered<'_>, round: &Round<'_>) -> Result<Loop, Diagnostic> {
        let machine = self.machine;
        let refuse = |text: String| {
            Diagnostic::error(errors::COUNTED, entered.span, text)
                .hint("leave `counted` out: then the places are listed, one call each")
        };
        let functions = &machine.expressions.functions;
        let computes = ["SIN", "COS"].iter().all(|f| functions.iter().any(|known| known == f));
        if !machine.flow.while_do || machine.flow.loop_nesting == 0 || !computes {
            let name = &machine.name;
            return Err(refuse(format!(
                "the machine `{name}` has no loop with sines in which to count places"
            )));
        }
        let sub = self.subprogram(entered)?;
        if !sub.interface.vacant || sub.interface.centre.is_none() {
            let text = format!("`{}` takes no place by letters of a call", entered.routine);
            return Err(refuse(text));
        }
        let mut free = machine.variables.common.iter().flat_map(|range| range.numbers());
        let (Some(counter), Some(angle), Some(x), Some(y)) =
            (free.next(), free.next(), free.next(), free.next())
        else {
            return Err(refuse("counting places takes four common variables".to_owned()));
        };
        let number = |value: &Value| match value {
            Value::Exact(number) => Ok(number.clone()),
            Value::Near(_) => {
                Err(refuse("a size of the circle is not a number that can be written".to_owned()))
            }
        };
        let Around { radius, first, step } = round.around.try_map(number)?;
        let radius = radius / machine.unit();
        Ok(Loop { radius, first, step, counter, angle, place: [x, y] })
    }

    fn open_round(&mut self, way: &Loop, places: i64, span: Span) -> Result<(), Diagnostic> {
        let digits = |number: &Rational| {
            exactly(&self.digits, number).ok_or_else(|| {
                let text = "a size of the circle has more digits than the machine keeps";
                Diagnostic::error(errors::COUNTED, span, text).hint("leave `counted` out")
            })
        };
        let (counter, angle) = (way.counter, way.angle);
        let turned = format!("[#{counter}-1]*{}", digits(&way.step.abs())?);
        let sign = if way.step.signum() < 0 { '-' } else { '+' };
        let turned = match sign {
            '+' if way.first.is_zero() => turned,
            _ => format!("{}{sign}{turned}", digits(&way.first)?),
        };
        let radius = digits(&way.radius)?;
        self.w.assign_text(&counter.to_string(), "1", "COUNTS THE PLACES", Some(span));
        self.w.open_loop(&format!("#{counter} LE {places}"), 1);
        self.w.assign_text(&angle.to_string(), &turned, "ANGLE OF THE PLACE", Some(span));
        for (variable, function, axis) in [(way.place[0], "COS", 'X'), (way.place[1], "SIN", 'Y')] {
            let value = format!("{radius}*{function}[#{angle}]");
            self.w.assign_text(&variable.to_string(), &value, &format!("{axis} OF THE PLACE"), Some(span));
        }
        Ok(())
    }
}

impl Loop {
    /// How far the control's arithmetic may bring a place along an axis, in the machine's unit.
    fn off(&self, places: i64, arithmetic: &Arithmetic) -> f64 {
        let (counter, mut arithmetic) = (Symbol::new("counter"), arithmetic.clone());
        let last = Interval::from_rational(&Rational::from(places));
        arithmetic.define(&counter, Computed::counted(Interval::ONE.hull(last)));
        let number = |n: &Rational| Expr::number(n.clone());
        let angle = number(&self.first) + (Expr::symbol(&counter) - Expr::from(1)) * number(&self.step);
        let along = |function| arithmetic.value(&(number(&self.radius) * angle.clone().call(function))).off;
        // A literal may be a quotient of two: three roundings where one is counted.
        4.0 * along(Function::Cos).max(along(Function::Sin))
    }
}

/// A number as digits, or as a quotient of two, that are all of it.
fn exactly(digits: &Digits<'_>, number: &Rational) -> Option<String> {
    match digits.literal(number) {
        Literal::Digits(text) if digits.ends(number) => Some(text),
        Literal::Quotient(dividend, divisor) => Some(format!("{dividend}/{divisor}")),
        Literal::Digits(_) => {
            let whole = |divisor: &i64| (number * &Rational::from(*divisor)).is_whole();
            let divisor = Rational::from((1..=GREATEST_DIVISOR).find(whole)?);
            let dividend = number * &divisor;
            digits.ends(&dividend).then(|| format!("{}/{}", pointed(&dividend, 0), pointed(&divisor, 0)))
        }
    }
}
