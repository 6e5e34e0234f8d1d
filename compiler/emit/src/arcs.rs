//! Where the centre of an arc goes when its ends have been rounded.
//!
//! Ends and centre rounded each for itself put the two radii up to four half-steps apart on the diagonal,
//! 0.0028 mm at three decimals, which a controller with a tolerance of 0.002 mm refuses. So the ends are
//! rounded first, as they decide where the wall is, and the centre is chosen among the steps around its exact
//! place: the nearest one whose radii agree within half the tolerance.

use borewright_number::{Interval, Rational, Rounding};

use crate::number::Steps;

/// A place in the plane in steps of the last decimal.
pub(crate) type Grid = (Steps, Steps);

/// A centre that the controller accepts.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Chosen {
    /// Where it is.
    pub(crate) at: Grid,
    /// At most this far are the radii at start and end apart, in steps.
    pub(crate) mismatch: f64,
}

/// How far around its exact place a centre is looked for, in steps.
pub(crate) const REACH: Steps = 3;

/// The centre for an arc from `start` to `end`; `None` where no centre near `ideal` brings the radii within
/// `tolerance`. All in steps.
pub(crate) fn choose_centre(
    start: Grid,
    end: Grid,
    ideal: &(Rational, Rational),
    tolerance: &Rational,
) -> Option<Chosen> {
    let nearest = (nearest(&ideal.0)?, nearest(&ideal.1)?);
    let target = tolerance / &Rational::from(2);
    let around = || {
        let range = || -REACH..=REACH;
        range().flat_map(move |dx| range().map(move |dy| (nearest.0 + dx, nearest.1 + dy)))
    };
    let mut candidates: Vec<(Rational, Grid)> =
        around().map(|at| (distance_squared(at, ideal), at)).collect();
    candidates.sort();
    let fits =
        |within: &Rational| candidates.iter().map(|(_, at)| *at).find(|at| agree(start, end, *at, within));
    let at = fits(&target).or_else(|| fits(tolerance))?;
    Some(Chosen { at, mismatch: mismatch(start, end, at) })
}

/// An end and a centre for an arc that may end a step beside the nearest one: the nearest end has the first choice,
/// then those around it. `free` is false where the end is given, as for a full turn.
pub(crate) fn choose(
    start: Grid,
    end: &(Rational, Rational),
    ideal: &(Rational, Rational),
    tolerance: &Rational,
    free: bool,
) -> Option<(Grid, Chosen)> {
    let close = (nearest(&end.0)?, nearest(&end.1)?);
    if let Some(chosen) = choose_centre(start, close, ideal, tolerance) {
        return Some((close, chosen));
    }
    let beside = [-1, 0, 1].into_iter().flat_map(|dx| [-1, 0, 1].map(|dy| (close.0 + dx, close.1 + dy)));
    let mut ends: Vec<(Rational, Grid)> =
        beside.filter(|at| free && *at != start).map(|at| (distance_squared(at, end), at)).collect();
    ends.sort();
    ends.into_iter().find_map(|(_, at)| Some((at, choose_centre(start, at, ideal, tolerance)?)))
}

/// The nearest step.
pub(crate) fn nearest(steps: &Rational) -> Option<Steps> {
    steps.rounded(0, Rounding::Nearest).to_i64()
}

fn distance_squared(at: Grid, ideal: &(Rational, Rational)) -> Rational {
    let (dx, dy) = (Rational::from(at.0) - &ideal.0, Rational::from(at.1) - &ideal.1);
    &dx * &dx + &dy * &dy
}

/// The square of the radius, exactly.
pub(crate) fn radius_squared(at: Grid, centre: Grid) -> Rational {
    let (dx, dy) =
        (Rational::from(at.0) - Rational::from(centre.0), Rational::from(at.1) - Rational::from(centre.1));
    &dx * &dx + &dy * &dy
}

/// Whether the radii differ by at most `within`, decided exactly: |√a - √b| <= t if a + b - t² <= 2 √(ab).
fn agree(start: Grid, end: Grid, centre: Grid, within: &Rational) -> bool {
    let (a, b) = (radius_squared(start, centre), radius_squared(end, centre));
    let left = &(&a + &b) - &(within * within);
    left.signum() <= 0 || &left * &left <= Rational::from(4) * a * b
}

/// An upper bound of the difference of the radii.
fn mismatch(start: Grid, end: Grid, centre: Grid) -> f64 {
    let (a, b) = (radius_squared(start, centre), radius_squared(end, centre));
    if a == b {
        return 0.0;
    }
    let sum = Interval::from_rational(&a).sqrt() + Interval::from_rational(&b).sqrt();
    let difference = Interval::from_rational(&(a - b).abs());
    if sum.lo > 0.0 { (difference / sum).hi } else { f64::INFINITY }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn steps(value: f64) -> Rational {
        Rational::from_f64(value).unwrap()
    }

    #[test]
    fn exact_ends_keep_the_exact_centre() {
        // NISTIR 6556, table 12: from (-2, -2) `G2 Y-0.2 J1`: radius 1 at both ends.
        let chosen = choose_centre(
            (-2000, -2000),
            (-2600, -200),
            &(Rational::from(-2000), Rational::from(-1000)),
            &Rational::from(2),
        );
        assert_eq!(chosen, Some(Chosen { at: (-2000, -1000), mismatch: 0.0 }));
    }

    #[test]
    fn rounding_each_number_by_itself_would_not_do() {
        // Both ends and the centre rounded to the nearest, found by search: the radii are 2.1 steps apart.
        let worst = (0..3000_i64).find_map(|k| {
            let (radius, turn) = (5000.0 + (k as f64) * 0.37, (k as f64) * 0.011);
            let at = |degrees: f64| {
                let angle = Interval::point(degrees);
                (radius * angle.cos_degrees().lo + 0.4 + turn, radius * angle.sin_degrees().lo - 0.3 - turn)
            };
            let (start, end) = (at(40.0 + turn), at(130.0 + turn * 3.0));
            let grid = |p: (f64, f64)| (nearest(&steps(p.0)).unwrap(), nearest(&steps(p.1)).unwrap());
            let ideal = (0.4 + turn, -0.3 - turn);
            (mismatch(grid(start), grid(end), grid(ideal)) > 2.0).then_some((grid(start), grid(end), ideal))
        });
        let (start, end, ideal) = worst.unwrap();
        let chosen =
            choose_centre(start, end, &(steps(ideal.0), steps(ideal.1)), &Rational::from(2)).unwrap();
        assert!(chosen.mismatch <= 1.0, "{chosen:?}");
    }

    #[test]
    fn the_worst_of_all_roundings_is_mended() {
        // Both ends and the centre half a step off along the diagonal, each in the direction that hurts: rounded one
        // by one, the radii are 2 sqrt(2) steps apart, 0.0028 mm at three decimals against a tolerance of 0.002 mm
        // (TOLERANCE_MM of the NIST reference interpreter).
        for radius in [50, 400, 9_000, 24_000] {
            let ideal = (steps(0.499), steps(0.499));
            let (start, end) = ((radius + 1, radius + 1), (-radius + 1, -radius + 1));
            assert!(mismatch(start, end, (0, 0)) > 2.8, "{}", mismatch(start, end, (0, 0)));
            let chosen = choose_centre(start, end, &ideal, &Rational::from(2)).unwrap();
            assert!(chosen.mismatch <= 1.0, "{chosen:?}");
        }
    }

    #[test]
    fn an_end_gives_way_where_no_centre_would_do() {
        // A tolerance of one step and a short arc: moving the centre hardly changes the difference of the radii.
        let (start, end) = ((70_711, 70_711), (steps(70_640.4), steps(70_781.6)));
        let ideal = (steps(0.45), steps(0.45));
        let tight = Rational::ratio(1, 3).unwrap();
        let (at, chosen) = choose(start, &end, &ideal, &tight, true).unwrap();
        assert!(chosen.mismatch <= 0.34 && at != start);
        let far = ((at.0 as f64) - 70_640.4).abs().max(((at.1 as f64) - 70_781.6).abs());
        assert!(far <= 1.5, "{at:?}");
    }

    #[test]
    fn ten_thousand_random_arcs_are_all_accepted() {
        // A fixed sequence (multiplier of Knuth's MMIX generator), radii from the smallest to 100 mm and sweeps from a
        // tenth of a degree.
        let mut state = 0x2545_F491_4F6C_DD1D_u64;
        let mut random = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 11) as f64 / (1u64 << 53) as f64
        };
        let mut worst = 0.0f64;
        for _ in 0..10_000 {
            let radius = 50.0 * (2000.0f64).powf(random());
            let (from, sweep) = (360.0 * random(), 0.1 + 359.8 * random());
            let ideal = (1e6 * (random() - 0.5), 1e6 * (random() - 0.5));
            let at = |degrees: f64| {
                let angle = Interval::point(degrees);
                (
                    steps(ideal.0 + radius * angle.cos_degrees().lo),
                    steps(ideal.1 + radius * angle.sin_degrees().lo),
                )
            };
            let (first, end) = (at(from), at(from + sweep));
            let start = (nearest(&first.0).unwrap(), nearest(&first.1).unwrap());
            if start == (nearest(&end.0).unwrap(), nearest(&end.1).unwrap()) {
                continue;
            }
            let ideal = (steps(ideal.0), steps(ideal.1));
            let (end, chosen) = choose(start, &end, &ideal, &Rational::from(2), true).unwrap();
            assert!(agree(start, end, chosen.at, &Rational::from(2)));
            worst = worst.max(chosen.mismatch);
        }
        assert!(worst <= 1.5, "{worst}");
    }

    #[test]
    fn a_centre_that_cannot_be_is_refused() {
        let ideal = (Rational::from(50), Rational::ZERO);
        assert_eq!(choose_centre((0, 0), (1000, 0), &ideal, &Rational::from(2)), None);
    }

    proptest! {
        #[test]
        fn every_rounded_arc_passes_with_its_centre_within_two_steps(
            radius in 50.0..1.0e5_f64, from in -360.0..360.0_f64, sweep in 10.0..350.0_f64,
            x in -1.0e6..1.0e6_f64, y in -1.0e6..1.0e6_f64,
        ) {
            let at = |degrees: f64| {
                let angle = Interval::point(degrees);
                (nearest(&steps(x + radius * angle.cos_degrees().lo)).unwrap(),
                 nearest(&steps(y + radius * angle.sin_degrees().lo)).unwrap())
            };
            let ideal = (steps(x), steps(y));
            let chosen = choose_centre(at(from), at(from + sweep), &ideal, &Rational::from(2)).unwrap();
            prop_assert!(chosen.mismatch <= 1.0 + 1e-9);
            prop_assert!(distance_squared(chosen.at, &ideal) <= Rational::from(8));
        }
    }
}
