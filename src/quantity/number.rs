//! A number met in evaluation: exact as long as it can be, else floating point with a rounding bound.
//!
//! Sums, products and quotients of written numbers stay exact. A root or an angle function gives a real
//! number: an `f64` together with a bound on how far the true value can be from it, carried through every
//! later step in the manner of interval arithmetic. Two numbers are ordered only when their bounds leave
//! no doubt, and a real number is never equal to anything.

use std::cmp::Ordering;
use std::ops::{Add, Mul, Neg, Sub};

use super::exact::Exact;

/// An exact number, or a real one with a bound on its rounding.
#[derive(Clone, Debug)]
pub enum Number {
    /// Exact.
    Exact(Exact),
    /// The true value lies within `value ± bound`; an infinite bound says that nothing is known.
    Real {
        /// The computed value.
        value: f64,
        /// Largest distance of the true value from it; not negative.
        bound: f64,
    },
}

/// Relative bound of one correctly rounded operation, with room for the rounding of the bound itself.
const ONE_ROUNDING: f64 = f64::EPSILON;
/// Relative bound of one function of the mathematical library: a few units in the last place.
const FUNCTION_ROUNDING: f64 = 4.0 * f64::EPSILON;

/// A real number from a computed value and a bound that does not yet count the last rounding.
fn real(value: f64, bound: f64, relative: f64) -> Number {
    let own = value.abs() * relative + f64::MIN_POSITIVE;
    let bound = (bound + own) * (1.0 + 4.0 * f64::EPSILON);
    if value.is_finite() && bound.is_finite() {
        Number::Real { value, bound }
    } else {
        Number::Real {
            value: if value.is_nan() { 0.0 } else { value },
            bound: f64::INFINITY,
        }
    }
}

impl Number {
    /// 0.
    pub const ZERO: Number = Number::Exact(Exact::ZERO);

    /// A real number with a bound that the caller vouches for; NaN is a number of which nothing is known.
    #[must_use]
    pub fn real(value: f64, bound: f64) -> Number {
        real(
            value,
            if bound.is_nan() {
                f64::INFINITY
            } else {
                bound.abs()
            },
            0.0,
        )
    }

    /// The nearest floating-point number.
    #[must_use]
    pub fn to_f64(&self) -> f64 {
        match self {
            Number::Exact(exact) => exact.to_f64(),
            Number::Real { value, .. } => *value,
        }
    }

    /// Largest distance of the true value from [`Number::to_f64`]; 0 when the number is exact.
    #[must_use]
    pub fn bound(&self) -> f64 {
        match self {
            Number::Exact(_) => 0.0,
            Number::Real { bound, .. } => *bound,
        }
    }

    /// The exact number, if it is one.
    #[must_use]
    pub fn as_exact(&self) -> Option<&Exact> {
        match self {
            Number::Exact(exact) => Some(exact),
            Number::Real { .. } => None,
        }
    }

    /// Value and bound as floating point, the rounding of an exact number included.
    fn parts(&self) -> (f64, f64) {
        match self {
            Number::Exact(exact) => {
                let value = exact.to_f64();
                let off = if exact.is_zero() {
                    0.0
                } else if value.is_finite() {
                    value.abs() * ONE_ROUNDING + f64::MIN_POSITIVE
                } else {
                    f64::INFINITY
                };
                (value, off)
            }
            Number::Real { value, bound } => (*value, *bound),
        }
    }

    /// The order of two numbers; `None` when their bounds overlap, so never `Equal` for a real number.
    #[must_use]
    pub fn compare(&self, other: &Number) -> Option<Ordering> {
        if let (Number::Exact(a), Number::Exact(b)) = (self, other) {
            return Some(a.cmp(b));
        }
        let ((a, x), (b, y)) = (self.parts(), other.parts());
        let distance = (a - b).abs();
        let doubt = (x + y + distance * ONE_ROUNDING) * (1.0 + 4.0 * f64::EPSILON);
        if distance > doubt {
            a.partial_cmp(&b)
        } else {
            None
        }
    }

    /// −1, 0 or 1; `None` when the bound leaves it open.
    #[must_use]
    pub fn signum(&self) -> Option<i32> {
        match self {
            Number::Exact(exact) => Some(exact.signum()),
            Number::Real { value, bound } if *value > *bound => Some(1),
            Number::Real { value, bound } if *value < -*bound => Some(-1),
            Number::Real { .. } => None,
        }
    }

    /// The sum.
    #[must_use]
    pub fn add(&self, other: &Number) -> Number {
        if let (Number::Exact(a), Number::Exact(b)) = (self, other) {
            return Number::Exact(a.add(b));
        }
        let ((a, x), (b, y)) = (self.parts(), other.parts());
        real(a + b, x + y, ONE_ROUNDING)
    }

    /// The difference.
    #[must_use]
    pub fn sub(&self, other: &Number) -> Number {
        if let (Number::Exact(a), Number::Exact(b)) = (self, other) {
            return Number::Exact(a.sub(b));
        }
        let ((a, x), (b, y)) = (self.parts(), other.parts());
        real(a - b, x + y, ONE_ROUNDING)
    }

    /// The product. A product with an exact zero is exactly zero.
    #[must_use]
    pub fn mul(&self, other: &Number) -> Number {
        match (self, other) {
            (Number::Exact(a), Number::Exact(b)) => Number::Exact(a.mul(b)),
            (Number::Exact(zero), _) | (_, Number::Exact(zero)) if zero.is_zero() => Number::ZERO,
            _ => {
                let ((a, x), (b, y)) = (self.parts(), other.parts());
                real(a * b, a.abs() * y + b.abs() * x + x * y, ONE_ROUNDING)
            }
        }
    }

    /// The quotient; `None` when `other` is zero or its bound reaches zero.
    #[must_use]
    pub fn checked_div(&self, other: &Number) -> Option<Number> {
        if let (Number::Exact(a), Number::Exact(b)) = (self, other) {
            return a.checked_div(b).map(Number::Exact);
        }
        if other.signum()? == 0 {
            return None;
        }
        let ((a, x), (b, y)) = (self.parts(), other.parts());
        let smallest = b.abs() - y;
        if smallest <= 0.0 {
            return None;
        }
        let value = a / b;
        Some(real(value, (x + value.abs() * y) / smallest, ONE_ROUNDING))
    }

    /// The number with the other sign.
    #[must_use]
    pub fn neg(&self) -> Number {
        match self {
            Number::Exact(exact) => Number::Exact(exact.neg()),
            Number::Real { value, bound } => Number::Real {
                value: -value,
                bound: *bound,
            },
        }
    }

    /// The number without its sign.
    #[must_use]
    pub fn abs(&self) -> Number {
        match self {
            Number::Exact(exact) => Number::Exact(exact.abs()),
            // The absolute value moves no two numbers apart, so the bound holds.
            Number::Real { value, bound } => Number::Real {
                value: value.abs(),
                bound: *bound,
            },
        }
    }

    /// The smaller of two; where the order is open, a real number that covers both.
    #[must_use]
    pub fn min(&self, other: &Number) -> Number {
        match self.compare(other) {
            Some(Ordering::Greater) => other.clone(),
            Some(_) => self.clone(),
            None => covering(self, other, f64::min),
        }
    }

    /// The larger of two; where the order is open, a real number that covers both.
    #[must_use]
    pub fn max(&self, other: &Number) -> Number {
        match self.compare(other) {
            Some(Ordering::Less) => other.clone(),
            Some(_) => self.clone(),
            None => covering(self, other, f64::max),
        }
    }

    /// The square root, exact for a square of a fraction; `None` for a number that is, or may be, negative.
    #[must_use]
    pub fn sqrt(&self) -> Option<Number> {
        if let Number::Exact(exact) = self {
            if exact.signum() < 0 {
                return None;
            }
            if let Some(root) = exact.exact_sqrt() {
                return Some(Number::Exact(root));
            }
        }
        let (value, bound) = self.parts();
        if value < 0.0 || (value < bound && self.as_exact().is_none()) {
            return None;
        }
        let root = value.sqrt();
        // |√a − √b| = |a − b| / (√a + √b), and never more than √|a − b|.
        let off = if root > 0.0 {
            (bound / root).min(bound.sqrt())
        } else {
            bound.sqrt()
        };
        Some(real(root, off, ONE_ROUNDING))
    }

    /// A function whose slope is at most `slope` near the number.
    fn map(&self, function: impl Fn(f64) -> f64, slope: f64) -> Number {
        let (value, bound) = self.parts();
        real(function(value), bound * slope, FUNCTION_ROUNDING)
    }

    /// The sine of an angle in degrees.
    #[must_use]
    pub fn sin(&self) -> Number {
        let (value, _) = self.parts();
        let radians = value.to_radians();
        // Turning degrees into radians rounds the argument; the slope is at most 1 per radian.
        let turned = radians.abs() * 2.0 * ONE_ROUNDING;
        self.map(|_| radians.sin(), DEGREE).wider(turned)
    }

    /// The cosine of an angle in degrees.
    #[must_use]
    pub fn cos(&self) -> Number {
        let (value, _) = self.parts();
        let radians = value.to_radians();
        let turned = radians.abs() * 2.0 * ONE_ROUNDING;
        self.map(|_| radians.cos(), DEGREE).wider(turned)
    }

    /// The tangent of an angle in degrees; `None` where the cosine may be zero.
    #[must_use]
    pub fn tan(&self) -> Option<Number> {
        self.sin().checked_div(&self.cos())
    }

    /// The angle in degrees whose tangent this is.
    #[must_use]
    pub fn atan(&self) -> Number {
        self.map(|x| x.atan().to_degrees(), 1.0 / DEGREE)
    }

    /// The angle in degrees, −90 to 90, whose sine this is; `None` outside −1 to 1.
    #[must_use]
    pub fn asin(&self) -> Option<Number> {
        let (value, bound) = self.parts();
        if value.abs() - bound > 1.0 {
            return None;
        }
        // A true value inside lies no farther from the end than from what was computed beyond it.
        let value = value.clamp(-1.0, 1.0);
        let angle = value.asin().to_degrees();
        // The slope grows without limit at ±1. Over a doubt of b the angle moves most at the end, by
        // acos(1 − b) = 2·asin(√(b/2)) ≤ π·√(b/2), which is 90·√(2b) in degrees.
        let room = 1.0 - value.abs() - bound;
        let near_end = 90.0 * (2.0 * bound).sqrt();
        let off = if room > 1e-8 {
            // Far enough from the end for `room` to be good to seven digits.
            let slope = (1.0 + 1e-7) / (room * (2.0 - room)).sqrt() / DEGREE;
            (bound * slope).min(near_end)
        } else {
            near_end
        };
        Some(real(angle, off, FUNCTION_ROUNDING))
    }

    /// The angle in degrees, 0 to 180, whose cosine this is; `None` outside −1 to 1.
    #[must_use]
    pub fn acos(&self) -> Option<Number> {
        Some(Number::Exact(Exact::from_integer(90)).sub(&self.asin()?))
    }

    fn wider(self, by: f64) -> Number {
        match self {
            Number::Real { value, bound } => real(value, bound + by, 0.0),
            exact @ Number::Exact(_) => exact,
        }
    }
}

/// One degree in radians, rounded up.
const DEGREE: f64 = 0.017_453_292_519_943_3;

fn covering(a: &Number, b: &Number, pick: fn(f64, f64) -> f64) -> Number {
    let ((a, x), (b, y)) = (a.parts(), b.parts());
    let (low, high) = (pick(a - x, b - y), pick(a + x, b + y));
    real(
        low / 2.0 + high / 2.0,
        (high - low) / 2.0,
        2.0 * ONE_ROUNDING,
    )
}

impl From<Exact> for Number {
    fn from(exact: Exact) -> Number {
        Number::Exact(exact)
    }
}

impl From<&Exact> for Number {
    fn from(exact: &Exact) -> Number {
        Number::Exact(exact.clone())
    }
}

macro_rules! operator {
    ($trait:ident, $method:ident) => {
        impl $trait<&Number> for &Number {
            type Output = Number;
            fn $method(self, other: &Number) -> Number {
                Number::$method(self, other)
            }
        }
        impl $trait<Number> for Number {
            type Output = Number;
            fn $method(self, other: Number) -> Number {
                Number::$method(&self, &other)
            }
        }
        impl $trait<&Number> for Number {
            type Output = Number;
            fn $method(self, other: &Number) -> Number {
                Number::$method(&self, other)
            }
        }
    };
}

operator!(Add, add);
operator!(Sub, sub);
operator!(Mul, mul);

impl Neg for Number {
    type Output = Number;
    fn neg(self) -> Number {
        Number::neg(&self)
    }
}

impl Neg for &Number {
    type Output = Number;
    fn neg(self) -> Number {
        Number::neg(self)
    }
}
