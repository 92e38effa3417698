//! For the tests: numbers of 120 decimals and more as whole numbers over 2^400, and fits computed with them. Nothing
//! here is shared with the fits that are tested.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]

use num_bigint::BigInt;
use num_traits::{Signed as _, ToPrimitive as _, Zero as _};

use crate::quantity::Exact;

const BITS: u32 = 400;

/// A number times 2^400.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Fixed(BigInt);

impl Fixed {
    pub fn whole(n: i64) -> Fixed {
        Fixed(BigInt::from(n) << BITS)
    }

    pub fn zero() -> Fixed {
        Fixed(BigInt::zero())
    }

    /// A decimal number as written.
    pub fn of(text: &str) -> Fixed {
        let (sign, digits) = match text.strip_prefix('-') {
            Some(rest) => (-1, rest),
            None => (1, text),
        };
        let (whole, part) = digits.split_once('.').unwrap_or((digits, ""));
        let number: BigInt = format!("{whole}{part}").parse().unwrap();
        let power = BigInt::from(10).pow(part.len() as u32);
        Fixed(((number * sign) << BITS) / power)
    }

    pub fn of_ratio(over: &BigInt, under: &BigInt) -> Fixed {
        Fixed((over << BITS) / under)
    }

    pub fn add(&self, other: &Fixed) -> Fixed {
        Fixed(&self.0 + &other.0)
    }

    pub fn sub(&self, other: &Fixed) -> Fixed {
        Fixed(&self.0 - &other.0)
    }

    pub fn mul(&self, other: &Fixed) -> Fixed {
        Fixed((&self.0 * &other.0) >> BITS)
    }

    pub fn div(&self, other: &Fixed) -> Fixed {
        Fixed((&self.0 << BITS) / &other.0)
    }

    pub fn sqrt(&self) -> Fixed {
        Fixed((&self.0 << BITS).sqrt())
    }

    pub fn abs(&self) -> Fixed {
        Fixed(self.0.abs())
    }

    /// To about 17 digits, however small.
    pub fn to_f64(&self) -> f64 {
        let shift = (self.0.bits() as i64 - 100).max(0);
        let top = (&self.0 >> shift).to_f64().unwrap();
        top * 2.0_f64.powi(shift as i32 - BITS as i32)
    }

    /// The binary number that a double is.
    pub fn of_double(value: f64) -> Fixed {
        let bits = value.abs().to_bits();
        let exponent = (bits >> 52) as i64;
        let (mantissa, exponent) = if exponent == 0 {
            (bits, 1)
        } else {
            ((bits & ((1 << 52) - 1)) | (1 << 52), exponent)
        };
        let shift = exponent - 1075 + i64::from(BITS);
        let number = BigInt::from(mantissa);
        let number = if shift >= 0 {
            number << shift
        } else {
            number >> -shift
        };
        Fixed(if value < 0.0 { -number } else { number })
    }

    /// |found/self − 1|; the distance where self is zero.
    pub fn relative(&self, found: f64) -> f64 {
        let off = Fixed::of_double(found).sub(self).abs();
        if self.0.is_zero() {
            off.to_f64()
        } else {
            off.div(&self.abs()).to_f64()
        }
    }
}

/// A point as two written numbers.
pub(super) type Written = (String, String);

pub(super) fn exact(points: &[Written]) -> Vec<(Exact, Exact)> {
    let read = |text: &str| Exact::from_decimal(text).unwrap();
    points.iter().map(|(x, y)| (read(x), read(y))).collect()
}

fn fixed(points: &[Written]) -> Vec<(Fixed, Fixed)> {
    points
        .iter()
        .map(|(x, y)| (Fixed::of(x), Fixed::of(y)))
        .collect()
}

/// Centre and radius of least Σ(ρ − mean ρ)², by Newton's method in the centre alone from near it. Also the greatest
/// last step.
pub(super) fn circle(
    points: &[Written],
    near: (f64, f64),
    origin: (&str, &str),
) -> ([Fixed; 3], f64) {
    let points = fixed(points);
    let n = Fixed::whole(points.len() as i64);
    let mut centre = [
        Fixed::of_double(near.0).add(&Fixed::of(origin.0)),
        Fixed::of_double(near.1).add(&Fixed::of(origin.1)),
    ];
    let mut last = f64::INFINITY;
    for _ in 0..60 {
        // ρ, u = ∂ρ/∂a = −cos, v = ∂ρ/∂b = −sin; F = ½Σρ² − ½(Σρ)²/n.
        let mut rays = Vec::new();
        let [mut sum, mut sum_u, mut sum_v] = [Fixed::zero(), Fixed::zero(), Fixed::zero()];
        for (x, y) in &points {
            let (dx, dy) = (centre[0].sub(x), centre[1].sub(y));
            let rho = dx.mul(&dx).add(&dy.mul(&dy)).sqrt();
            let (u, v) = (dx.div(&rho), dy.div(&rho));
            sum = sum.add(&rho);
            sum_u = sum_u.add(&u);
            sum_v = sum_v.add(&v);
            rays.push((rho, u, v));
        }
        let mean = sum.div(&n);
        let [mut g, mut h, mut aa, mut ab, mut bb] = [(); 5].map(|()| Fixed::zero());
        for (rho, u, v) in &rays {
            let off = rho.sub(&mean);
            g = g.add(&off.mul(u));
            h = h.add(&off.mul(v));
            let turn = off.div(rho);
            aa = aa.add(&u.mul(u)).add(&turn.mul(&v.mul(v)));
            ab = ab.add(&u.mul(v)).sub(&turn.mul(&u.mul(v)));
            bb = bb.add(&v.mul(v)).add(&turn.mul(&u.mul(u)));
        }
        aa = aa.sub(&sum_u.mul(&sum_u).div(&n));
        ab = ab.sub(&sum_u.mul(&sum_v).div(&n));
        bb = bb.sub(&sum_v.mul(&sum_v).div(&n));
        let det = aa.mul(&bb).sub(&ab.mul(&ab));
        let step_a = bb.mul(&g).sub(&ab.mul(&h)).div(&det);
        let step_b = aa.mul(&h).sub(&ab.mul(&g)).div(&det);
        centre = [centre[0].sub(&step_a), centre[1].sub(&step_b)];
        last = step_a.abs().add(&step_b.abs()).to_f64();
        if last < 1e-80 {
            break;
        }
    }
    let mut sum = Fixed::zero();
    for (x, y) in &points {
        let (dx, dy) = (centre[0].sub(x), centre[1].sub(y));
        sum = sum.add(&dx.mul(&dx).add(&dy.mul(&dy)).sqrt());
    }
    let [a, b] = centre;
    ([a, b, sum.div(&n)], last)
}

/// The slope tan φ of the orthogonal-distance line, from the sums as they stand, and the least sum of squares.
pub(super) fn line(points: &[Written]) -> (Fixed, Fixed) {
    let points = fixed(points);
    let n = Fixed::whole(points.len() as i64);
    let sum = |of: &dyn Fn(&(Fixed, Fixed)) -> Fixed| {
        points
            .iter()
            .fold(Fixed::zero(), |total, one| total.add(&of(one)))
    };
    let (x, y) = (sum(&|p| p.0.clone()), sum(&|p| p.1.clone()));
    let xx = n.mul(&sum(&|p| p.0.mul(&p.0))).sub(&x.mul(&x)).div(&n);
    let yy = n.mul(&sum(&|p| p.1.mul(&p.1))).sub(&y.mul(&y)).div(&n);
    let xy = n.mul(&sum(&|p| p.0.mul(&p.1))).sub(&x.mul(&y)).div(&n);
    let d = xx.sub(&yy);
    let root = d.mul(&d).add(&Fixed::whole(4).mul(&xy.mul(&xy))).sqrt();
    // Sxy·t² + D·t − Sxy = 0, the root of the larger spread.
    let slope = root.sub(&d).div(&xy.add(&xy));
    let least = xx.add(&yy).sub(&root).div(&Fixed::whole(2));
    (slope, least)
}
