//! Short decimals next to a number: what a machinist would type.

use borewright_number::Rational;

/// How many steps of `10^-decimals` make up the value, where that is a whole number.
fn steps(value: f64, decimals: i32) -> Option<f64> {
    let scaled = value * power(decimals);
    ((scaled - scaled.round()).abs() <= 1e-7 * scaled.abs().max(1e-3)).then(|| scaled.round())
}

fn power(decimals: i32) -> f64 {
    10f64.powi(decimals)
}

/// The number itself, where it is a short one: a digit or two, at most two places.
pub(crate) fn as_short(value: f64) -> Option<Rational> {
    (0..=2).find_map(|decimals| {
        let whole = steps(value, decimals)?;
        (whole.abs() < 100.0 || (decimals == 0 && whole.abs() < 1000.0)).then(|| exact(whole, decimals))?
    })
}

/// The decimal with the fewest places above a value, no further from it than a twelfth of it or `least`.
pub(crate) fn above(value: f64, least: f64) -> Option<Rational> {
    let most = value + (value.abs() / 12.0).max(least);
    (0..=5).find_map(|decimals| {
        let next = match steps(value, decimals) {
            Some(whole) => whole + 1.0,
            None => (value * power(decimals)).ceil(),
        };
        (next / power(decimals) <= most).then(|| exact(next, decimals))?
    })
}

fn exact(whole: f64, decimals: i32) -> Option<Rational> {
    let numerator = Rational::from_f64(whole)?;
    let places = usize::try_from(decimals).ok()?;
    Some(numerator / Rational::from(10).pow(places))
}

/// How many digits a person reads.
pub(crate) fn digits(value: &Rational) -> usize {
    match value.exact_decimal() {
        Some(text) => text.chars().filter(|c| c.is_ascii_digit()).count(),
        None => 9,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(value: Option<Rational>) -> String {
        value.and_then(|v| v.exact_decimal()).unwrap_or_default()
    }

    #[test]
    fn short_numbers_stand_just_above() {
        assert_eq!(text(above(0.7999, 0.05)), "0.8");
        assert_eq!(text(above(0.8, 0.05)), "0.81");
        assert_eq!(text(above(-0.02, 0.05)), "0");
        assert_eq!(text(above(-1.913, 0.05)), "-1.9");
        assert_eq!(text(above(47.3, 0.05)), "48");
        assert_eq!(text(above(0.001, 0.002)), "0.002");
    }

    #[test]
    fn numbers_are_short_with_a_digit_or_two() {
        assert_eq!(text(as_short(0.9)), "0.9");
        assert_eq!(text(as_short(0.0)), "0");
        assert_eq!(text(as_short(120.0)), "120");
        assert_eq!(as_short(0.123), None);
        assert_eq!(as_short(std::f64::consts::PI), None);
    }
}
