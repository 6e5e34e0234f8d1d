//! The one place where a value becomes digits.

use borewright_base::{Diagnostic, Span};
use borewright_machine::Machine;
use borewright_motion::Value;
use borewright_number::{Rational, Rounding};

use crate::errors;

/// A length as whole steps of the machine's last decimal: what a rounded coordinate is.
pub(crate) type Steps = i64;

/// The number format of a machine.
#[derive(Clone, Copy)]
pub(crate) struct Digits<'m> {
    machine: &'m Machine,
}

impl<'m> Digits<'m> {
    pub(crate) fn new(machine: &'m Machine) -> Self {
        Self { machine }
    }

    /// A length in mm as exact, unrounded steps.
    pub(crate) fn exact_steps(&self, mm: &Rational) -> Rational {
        mm / &self.machine.resolution()
    }

    /// The nearest step, where the format holds it.
    pub(crate) fn steps(&self, mm: &Value, span: Span) -> Result<Steps, Diagnostic> {
        let length = mm.middle();
        let nearest = self.exact_steps(&length).rounded(0, Rounding::Nearest);
        let greatest = self.exact_steps(&self.machine.millimetres(&self.machine.numbers.greatest));
        match nearest.to_i64() {
            Some(steps) if nearest.abs() <= greatest => Ok(steps),
            _ => Err(self.too_great(&length, span)),
        }
    }

    fn too_great(&self, mm: &Rational, span: Span) -> Diagnostic {
        let inch = self.machine.inch();
        let shown = borewright_number::Quantity {
            value: mm.clone(),
            dimension: borewright_number::Dimension::LENGTH,
        };
        let message = format!("{} does not fit the machine's number format", shown.text(inch));
        Diagnostic::error(errors::VALUE_OUT_OF_FORMAT, span, message)
            .hint(format!("the greatest length is {}", self.machine.numbers.greatest.decimal_text(6)))
    }

    /// Steps as digits with a decimal point: `-12.`, `0.005`.
    pub(crate) fn of_steps(&self, steps: Steps) -> String {
        let decimals = self.machine.numbers.decimals;
        let value = Rational::from(steps) / Rational::from(10).pow(decimals as usize);
        pointed(&value, decimals)
    }

    /// A length in mm, rounded to the nearest.
    pub(crate) fn length(&self, mm: &Rational) -> String {
        pointed(&(mm / &self.machine.unit()), self.machine.numbers.decimals)
    }

    /// A feed in mm/min; never 0, never above the machine's greatest.
    pub(crate) fn feed(&self, value: &Value, span: Span) -> Result<String, Diagnostic> {
        let feed = value.middle() / self.machine.unit();
        let decimals = self.machine.numbers.feed_decimals;
        let rounded = feed.rounded(decimals, Rounding::Nearest);
        let shown = feed.decimal_text(4);
        if rounded.signum() <= 0 {
            let message = format!("a feed of {shown} is nothing at {decimals} decimals");
            return Err(Diagnostic::error(errors::VALUE_OUT_OF_FORMAT, span, message));
        }
        if rounded > *self.machine.axes.greatest_feed {
            let most = self.machine.axes.greatest_feed.decimal_text(4);
            let message = format!("a feed of {shown} is more than the machine's {most}");
            return Err(Diagnostic::error(errors::MACHINE_LIMIT, span, message));
        }
        Ok(pointed(&rounded, decimals))
    }

    /// A spindle speed within the machine's limits.
    pub(crate) fn speed(&self, value: &Value, span: Span) -> Result<String, Diagnostic> {
        let decimals = self.machine.numbers.speed_decimals;
        let rounded = value.middle().rounded(decimals, Rounding::Nearest);
        let (least, most) = (&self.machine.axes.least_speed, &self.machine.axes.greatest_speed);
        if rounded < **least || rounded > **most {
            let (least, most) = (least.decimal_text(1), most.decimal_text(1));
            let message = format!("{} rpm is not between {least} and {most}", rounded.decimal_text(1));
            return Err(Diagnostic::error(errors::MACHINE_LIMIT, span, message));
        }
        Ok(rounded.decimal_text(decimals))
    }

    /// A dwell in minutes, as seconds; longer rather than shorter.
    pub(crate) fn dwell(&self, minutes: &Value, span: Span) -> Result<String, Diagnostic> {
        let decimals = self.machine.numbers.dwell_decimals;
        let seconds = (minutes.middle() * Rational::from(60)).rounded(decimals, Rounding::Up);
        if seconds.signum() < 0 || seconds > Rational::from(9999) {
            let message = format!("a dwell of {} seconds cannot be written", seconds.decimal_text(3));
            return Err(Diagnostic::error(errors::VALUE_OUT_OF_FORMAT, span, message));
        }
        Ok(pointed(&seconds, decimals))
    }

    /// An exact number in an expression: digits where it ends within the machine's precision, else a quotient
    /// of two such numbers, which the machine works out itself.
    pub(crate) fn literal(&self, value: &Rational) -> Literal {
        if self.ends(value) {
            return Literal::Digits(pointed(value, self.most_decimals()));
        }
        let inch = Rational::from(127) / Rational::from(5);
        for divisor in [inch, Rational::from(3), Rational::from(7), Rational::from(9)] {
            let dividend = value * &divisor;
            if self.ends(&dividend) {
                let digits = |v: &Rational| pointed(v, self.most_decimals());
                return Literal::Quotient(digits(&dividend), digits(&divisor));
            }
        }
        // As near as the machine's own arithmetic could keep it.
        let magnitude = value.abs().floor().decimal_text(0).len();
        let significant = self.machine.numbers.significant_digits as usize;
        let decimals = u32::try_from(significant.saturating_sub(magnitude)).unwrap_or(0);
        Literal::Digits(pointed(value, decimals))
    }

    fn most_decimals(&self) -> u32 {
        self.machine.numbers.significant_digits.min(9)
    }

    /// Whether the digits that the machine keeps hold all of the value.
    pub(crate) fn ends(&self, value: &Rational) -> bool {
        let text = value.abs().exact_decimal();
        let significant = self.machine.numbers.significant_digits as usize;
        text.is_some_and(|t| {
            let digits = t.replace('.', "");
            let places = t.split_once('.').map_or(0, |(_, p)| p.len());
            digits.trim_start_matches('0').len() <= significant && places <= self.most_decimals() as usize
        })
    }
}

/// An exact number in an expression.
pub(crate) enum Literal {
    /// `0.2`
    Digits(String),
    /// `0.2/25.4`
    Quotient(String, String),
}

/// Digits with a decimal point and no idle zeros: `25.`, `0.5`, `0.`; never `-0.`.
pub(crate) fn pointed(value: &Rational, decimals: u32) -> String {
    let fixed = value.fixed_text(decimals);
    if decimals == 0 {
        return format!("{fixed}.");
    }
    fixed.trim_end_matches('0').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn q(text: &str) -> Rational {
        Rational::from_fraction(text).unwrap()
    }

    #[test]
    fn every_length_has_its_point() {
        assert_eq!(
            [q("25"), q("-0.5"), q("0"), q("-0.0004"), q("100")].map(|v| pointed(&v, 3)),
            ["25.", "-0.5", "0.", "0.", "100."]
        );
    }

    #[test]
    fn the_edges_of_the_format_fit_and_what_is_past_them_does_not() {
        let machine = Machine::builtin("hash-mm").unwrap();
        let digits = Digits::new(&machine);
        let steps = |text| digits.steps(&Value::Exact(q(text)), Span::default());
        assert_eq!(digits.of_steps(steps("99999.999").unwrap()), "99999.999");
        assert_eq!(digits.of_steps(steps("-99999.9994").unwrap()), "-99999.999");
        assert_eq!(digits.of_steps(steps("0.0005").unwrap()), "0.001");
        assert_eq!(digits.of_steps(steps("-0.0004").unwrap()), "0.");
        assert_eq!(steps("99999.9995").unwrap_err().code, errors::VALUE_OUT_OF_FORMAT);
        assert_eq!(steps("1000000000000000000000000").unwrap_err().code, errors::VALUE_OUT_OF_FORMAT);
    }

    #[test]
    fn inches_are_exact_multiples_of_millimetres() {
        let machine = Machine::builtin("hash-inch").unwrap();
        let digits = Digits::new(&machine);
        assert_eq!(digits.length(&q("25.4")), "1.");
        assert_eq!(digits.length(&q("6")), "0.2362");
    }

    #[test]
    fn feeds_and_speeds_keep_within_the_machine() {
        let machine = Machine::builtin("hash-mm").unwrap();
        let digits = Digits::new(&machine);
        let feed = |text| digits.feed(&Value::Exact(q(text)), Span::default());
        assert_eq!(feed("400").unwrap(), "400.");
        assert_eq!(feed("0.04").unwrap_err().code, errors::VALUE_OUT_OF_FORMAT);
        assert_eq!(feed("5001").unwrap_err().code, errors::MACHINE_LIMIT);
        assert_eq!(digits.speed(&Value::Exact(q("2400")), Span::default()).unwrap(), "2400");
        assert!(digits.speed(&Value::Exact(q("90000")), Span::default()).is_err());
    }

    #[test]
    fn literals_stay_exact_where_they_can() {
        let machine = Machine::builtin("hash-inch").unwrap();
        let digits = Digits::new(&machine);
        let shown = |value| match digits.literal(&value) {
            Literal::Digits(text) => text,
            Literal::Quotient(a, b) => format!("{a}/{b}"),
        };
        assert_eq!(shown(q("0.9")), "0.9");
        assert_eq!(shown(q("0.2") / q("25.4")), "0.2/25.4");
        assert_eq!(shown(q("1/3")), "1./3.");
        assert_eq!(shown(q("1/11")), "0.0909091");
    }
}
