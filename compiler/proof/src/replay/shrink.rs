//! From values at which something fails to values that a machinist would type, at which it still fails.

use borewright_number::{Rational, Rounding, Unit};

use super::trial::{Choices, Failure, Slot, Trial};

/// Times that all values are gone through.
const ROUNDS: usize = 3;

/// Each value in turn at what is usual, or at the roundest number, as long as the failure stays.
pub(super) fn shrink(trial: &Trial<'_>, mut choices: Choices, mut failure: Failure) -> Failure {
    for _ in 0..ROUNDS {
        let mut changed = false;
        for (index, slot) in trial.slots.iter().enumerate() {
            let Some(Some(now)) = choices.get(index).cloned() else { continue };
            for better in better(slot, &now) {
                if trial.is_spent() {
                    return failure;
                }
                let mut next = choices.clone();
                if let Some(choice) = next.get_mut(index) {
                    *choice = better;
                }
                if let Some(found) = trial.fails(&next) {
                    (choices, failure, changed) = (next, found, true);
                    break;
                }
            }
        }
        if !changed {
            break;
        }
    }
    failure
}

/// What would be better to read than a value, best first; `None` is what is usual.
fn better(slot: &Slot, now: &Rational) -> Vec<Option<Rational>> {
    let mut list: Vec<Option<Rational>> = Vec::new();
    if slot.usual.is_some() {
        list.push(None);
    }
    let weight = weight(slot, now);
    let mut rounder: Vec<(usize, Rational, Rational)> = rounder(slot, now)
        .into_iter()
        .filter(|v| {
            slot.least.as_ref().is_none_or(|l| v >= l) && slot.greatest.as_ref().is_none_or(|g| v <= g)
        })
        .map(|v| (self::weight(slot, &v), (&v - now).abs(), v))
        .filter(|(w, ..)| *w < weight)
        .collect();
    rounder.sort();
    rounder.dedup();
    list.extend(rounder.into_iter().map(|(.., value)| Some(value)));
    list
}

/// One in the unit in which the author writes it.
fn unit(slot: &Slot) -> Rational {
    Unit::customary(slot.dimension, slot.inch).map_or(Rational::ONE, Unit::factor)
}

/// Multiples of round steps near the value, within half of it and twice of it.
fn rounder(slot: &Slot, now: &Rational) -> Vec<Rational> {
    let unit = unit(slot);
    let number = now / &unit;
    let mut found = Vec::new();
    for decimals in -3..4_i32 {
        for factor in [5, 2, 1] {
            let ten = Rational::from(10).pow(decimals.unsigned_abs() as usize);
            let step = if decimals < 0 { ten } else { Rational::ONE / ten } * Rational::from(factor);
            if slot.whole && !step.is_whole() {
                continue;
            }
            let parts = &number / &step;
            for rounding in [Rounding::Nearest, Rounding::Down, Rounding::Up] {
                found.push(parts.rounded(0, rounding) * &step * &unit);
            }
        }
    }
    found
}

/// How much there is to type: digits that count, and more where the decimals are no round part.
fn weight(slot: &Slot, value: &Rational) -> usize {
    let number = value / &unit(slot);
    let Some(text) = number.exact_decimal() else { return usize::MAX };
    let digits = text.trim_start_matches('-').replace('.', "");
    let significant = digits.trim_start_matches('0').trim_end_matches('0').len();
    let decimals = text.split_once('.').map_or(0, |(_, part)| part.len());
    // 20 before 6, 6 before 17, 17 before 6.5; 0.5 before 0.37.
    let last = digits.trim_end_matches('0').chars().last();
    let plain = usize::from(!matches!(last, None | Some('1' | '2' | '5')));
    4 * significant + 3 * decimals + plain
}

#[cfg(test)]
mod tests {
    use borewright_motion::Symbol;
    use borewright_number::Dimension;

    use super::*;

    fn slot(inch: bool) -> Slot {
        Slot {
            symbol: Symbol::new("bore"),
            usual: None,
            least: Some(Rational::from(6)),
            greatest: Some(Rational::from(300)),
            dimension: Dimension::LENGTH,
            inch,
            whole: false,
        }
    }

    fn best(inch: bool, mm: &str) -> Vec<String> {
        let now = Rational::from_decimal(mm).unwrap();
        let slot = slot(inch);
        let list = better(&slot, &now).into_iter().flatten();
        list.map(|v| (v / unit(&slot)).decimal_text(6)).take(3).collect()
    }

    #[test]
    fn round_numbers_in_the_unit_of_the_text_come_first() {
        assert_eq!(best(false, "47.3"), ["50", "100", "200"]);
        assert_eq!(best(true, "12.62"), ["1", "2", "5"]);
        assert_eq!(best(false, "20"), Vec::<String>::new());
    }
}
