//! Double-double arithmetic: the unevaluated sum of two floating-point numbers, about 31 digits.
//!
//! Source: T. J. Dekker, A floating-point technique for extending the available precision, Numerische
//! Mathematik 18 (1971), 224–242; D. E. Knuth, The Art of Computer Programming 2, 4.2.2 (sum of two with its
//! error). Each operation here is good to a few 2⁻¹⁰⁴ relative to its operands.

use std::ops::{Add, Div, Mul, Neg, Sub};

use crate::quantity::Exact;

/// A number as the sum of two, the second no larger than half a unit in the last place of the first.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Double {
    high: f64,
    low: f64,
}

/// a + b and its rounding error.
fn two_sum(a: f64, b: f64) -> (f64, f64) {
    let sum = a + b;
    let back = sum - a;
    (sum, (a - (sum - back)) + (b - back))
}

/// a + b and its rounding error, |a| ≥ |b|.
fn quick_two_sum(a: f64, b: f64) -> Double {
    let high = a + b;
    Double {
        high,
        low: b - (high - a),
    }
}

/// The number in two halves of 26 bits.
fn split(a: f64) -> (f64, f64) {
    const FACTOR: f64 = 134_217_729.0; // 2^27 + 1
    let scaled = FACTOR * a;
    let high = scaled - (scaled - a);
    (high, a - high)
}

/// a · b and its rounding error, without a fused operation, so that every machine gives the same digits.
fn two_product(a: f64, b: f64) -> (f64, f64) {
    let product = a * b;
    let ((a1, a2), (b1, b2)) = (split(a), split(b));
    let error = ((a1 * b1 - product) + a1 * b2 + a2 * b1) + a2 * b2;
    (product, error)
}

impl Double {
    pub const ZERO: Double = Double {
        high: 0.0,
        low: 0.0,
    };

    pub const fn new(value: f64) -> Double {
        Double {
            high: value,
            low: 0.0,
        }
    }

    /// The exact number to about 31 digits.
    pub fn of(exact: &Exact) -> Double {
        let high = exact.to_f64();
        let rest = Exact::from_f64_binary(high).map(|nearest| exact.sub(&nearest));
        quick_two_sum(high, rest.map_or(0.0, |rest| rest.to_f64()))
    }

    pub fn to_f64(self) -> f64 {
        self.high
    }

    pub fn is_finite(self) -> bool {
        self.high.is_finite() && self.low.is_finite()
    }

    pub fn square(self) -> Double {
        self * self
    }

    /// The root of a number that is not negative: one step of Newton from the root in floating point.
    pub fn sqrt(self) -> Double {
        if self.high <= 0.0 {
            return Double::ZERO;
        }
        let near = Double::new(self.high.sqrt());
        near + (self - near.square()) / (near + near)
    }
}

impl Add for Double {
    type Output = Double;
    fn add(self, other: Double) -> Double {
        let (high, error) = two_sum(self.high, other.high);
        let (low, rest) = two_sum(self.low, other.low);
        let first = quick_two_sum(high, error + low);
        quick_two_sum(first.high, first.low + rest)
    }
}

impl Neg for Double {
    type Output = Double;
    fn neg(self) -> Double {
        Double {
            high: -self.high,
            low: -self.low,
        }
    }
}

impl Sub for Double {
    type Output = Double;
    fn sub(self, other: Double) -> Double {
        self + -other
    }
}

impl Mul for Double {
    type Output = Double;
    fn mul(self, other: Double) -> Double {
        let (product, error) = two_product(self.high, other.high);
        let cross = self.high * other.low + self.low * other.high;
        quick_two_sum(product, error + cross)
    }
}

impl Div for Double {
    type Output = Double;
    fn div(self, other: Double) -> Double {
        let first = self.high / other.high;
        let rest = self - other * Double::new(first);
        let second = rest.high / other.high;
        let rest = rest - other * Double::new(second);
        let third = rest.high / other.high;
        quick_two_sum(first, second) + Double::new(third)
    }
}

impl std::iter::Sum for Double {
    fn sum<I: Iterator<Item = Double>>(numbers: I) -> Double {
        numbers.fold(Double::ZERO, |total, one| total + one)
    }
}

/// The solution of as many equations as unknowns by elimination with the largest pivot; `None`
/// where a pivot vanishes.
pub(super) fn solve<const N: usize>(
    matrix: &[[Double; N]; N],
    right: &[Double; N],
) -> Option<[Double; N]> {
    let mut rows: Vec<(Vec<Double>, Double)> = matrix
        .iter()
        .zip(right)
        .map(|(row, right)| (row.to_vec(), *right))
        .collect();
    let mut done: Vec<(Vec<Double>, Double)> = Vec::with_capacity(N);
    for column in 0..N {
        let size =
            |row: &(Vec<Double>, Double)| row.0.get(column).map_or(0.0, |one| one.high.abs());
        let best = (0..rows.len()).max_by(|&a, &b| {
            let of = |place: usize| rows.get(place).map_or(0.0, size);
            of(a).total_cmp(&of(b))
        })?;
        let pivot = rows.swap_remove(best);
        let lead = *pivot.0.get(column)?;
        if lead.high == 0.0 || !lead.is_finite() {
            return None;
        }
        for (row, right) in &mut rows {
            let factor = *row.get(column)? / lead;
            for (own, above) in row.iter_mut().zip(&pivot.0) {
                *own = *own - factor * *above;
            }
            *right = *right - factor * pivot.1;
        }
        done.push(pivot);
    }
    let mut found = [Double::ZERO; N];
    for (place, (row, right)) in done.iter().enumerate().rev() {
        let known: Double = row
            .iter()
            .zip(&found)
            .skip(place + 1)
            .map(|(factor, one)| *factor * *one)
            .sum();
        let value = (*right - known) / *row.get(place)?;
        if let Some(slot) = found.get_mut(place) {
            *slot = value;
        }
    }
    found.iter().all(|one| one.is_finite()).then_some(found)
}
