//! Inverse angle functions in degrees that stay exact where the angle is rational.
//!
//! Of the rational numbers only 0, ±1/2 and ±1 are sines of rational numbers of degrees, and only 0 and ±1 are
//! tangents of them (Niven's theorem); everything else is a real number with its rounding bound.

use crate::quantity::{Exact, Number};

/// The exact number of so many degrees.
pub(super) fn degrees(whole: i64) -> Number {
    Number::Exact(Exact::from_integer(whole))
}

fn is(number: &Number, numerator: i64, denominator: i64) -> bool {
    let times = number.mul(&degrees(denominator));
    times.as_exact() == Some(&Exact::from_integer(numerator))
}

/// The angle in degrees whose tangent this is.
pub(super) fn arc_tangent(tangent: &Number) -> Number {
    match () {
        () if is(tangent, 0, 1) => Number::ZERO,
        () if is(tangent, 1, 1) => degrees(45),
        () if is(tangent, -1, 1) => degrees(-45),
        () => tangent.atan(),
    }
}

/// The angle in degrees, −90 to 90, whose sine this is; `None` outside −1 to 1.
pub(super) fn arc_sine(sine: &Number) -> Option<Number> {
    let known = [
        (0, 1, 0),
        (1, 2, 30),
        (-1, 2, -30),
        (1, 1, 90),
        (-1, 1, -90),
    ];
    let exact = known
        .into_iter()
        .find(|&(numerator, denominator, _)| is(sine, numerator, denominator));
    match exact {
        Some((_, _, angle)) => Some(degrees(angle)),
        None => sine.asin(),
    }
}

/// The angle in degrees, above −180 and up to 180, of the direction (`cosine`, `sine`), whatever its length;
/// `None` where both are, or may be, zero.
pub(super) fn arc_of(sine: &Number, cosine: &Number) -> Option<Number> {
    let (s, c) = (sine.to_f64(), cosine.to_f64());
    if s.abs() <= c.abs() {
        let angle = arc_tangent(&sine.checked_div(cosine)?);
        return Some(match (c > 0.0, s < 0.0) {
            (true, _) => angle,
            (false, false) => angle.add(&degrees(180)),
            (false, true) => angle.sub(&degrees(180)),
        });
    }
    let beyond = arc_tangent(&cosine.checked_div(sine)?);
    let right = degrees(if s > 0.0 { 90 } else { -90 });
    Some(right.sub(&beyond))
}
