//! Sines and their kin in degrees, the same on every platform: `libm` computes, angles are first brought near 0 by
//! exact steps of 90 degrees, so that multiples of 90 degrees come out exactly.

use std::f64::consts::PI;

const DEGREE: f64 = PI / 180.0;

/// The angle as quarter turns (0 to 3) and a rest of at most 45 degrees either way. Both steps are exact.
fn quarters(degrees: f64) -> (u8, f64) {
    let turned = degrees % 360.0;
    let quarter = (turned / 90.0).round();
    let rest = turned - quarter * 90.0;
    // -4 to 4, brought to 0 to 3.
    let index = match quarter as i8 {
        -4 | 0 | 4 => 0,
        -3 | 1 => 1,
        -2 | 2 => 2,
        _ => 3,
    };
    (index, rest)
}

pub(super) fn sin(degrees: f64) -> f64 {
    let (quarter, rest) = quarters(degrees);
    let angle = rest * DEGREE;
    match quarter {
        0 => libm::sin(angle),
        1 => libm::cos(angle),
        2 => -libm::sin(angle),
        _ => -libm::cos(angle),
    }
}

pub(super) fn cos(degrees: f64) -> f64 {
    let (quarter, rest) = quarters(degrees);
    let angle = rest * DEGREE;
    match quarter {
        0 => libm::cos(angle),
        1 => -libm::sin(angle),
        2 => -libm::cos(angle),
        _ => libm::sin(angle),
    }
}

pub(super) fn tan(degrees: f64) -> f64 {
    sin(degrees) / cos(degrees)
}

pub(super) fn asin(ratio: f64) -> f64 {
    libm::asin(ratio) / DEGREE
}

pub(super) fn acos(ratio: f64) -> f64 {
    libm::acos(ratio) / DEGREE
}

pub(super) fn atan2(y: f64, x: f64) -> f64 {
    libm::atan2(y, x) / DEGREE
}
