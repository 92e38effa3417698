//! Exact rational numbers: what a person wrote, and sums, products and quotients of it.
//!
//! Most numbers of a record are short decimals, so the common form is an `i128` over a `u64` that is left
//! unreduced: two readings with the same number of decimals add and compare without a division. What
//! outgrows that form is reduced, and what still doesn't fit becomes a big rational. Nothing is ever
//! rounded, nothing panics, and equality, order and hash go by value (1/2 and 2/4 are one number).

use std::cmp::Ordering;
use std::fmt;
use std::hash::{Hash, Hasher};
use std::iter::Sum;
use std::num::NonZeroU64;
use std::ops::{Add, Mul, Neg, Sub};

use num_bigint::BigInt;
use num_integer::Integer as _;
use num_rational::BigRational;
use num_traits::{Signed as _, ToPrimitive as _};

const ONE_U64: NonZeroU64 = NonZeroU64::MIN;

/// An exact rational number of any size.
#[derive(Clone)]
pub struct Exact(pub(super) Repr);

/// The two forms. `Big` is reduced and holds only what doesn't fit `Small` reduced, so that a value has
/// one form only.
#[derive(Clone)]
pub(super) enum Repr {
    /// Numerator over denominator, not necessarily reduced.
    Small { n: i128, d: NonZeroU64 },
    /// Everything else.
    Big(Box<BigRational>),
}

const fn small(n: i128, d: NonZeroU64) -> Exact {
    Exact(Repr::Small { n, d })
}

/// A small fraction from a denominator that may have outgrown its type.
fn small_if_fits(n: Option<i128>, d: Option<u64>) -> Option<Exact> {
    Some(small(n?, NonZeroU64::new(d?)?))
}

/// A numerator that fits 64 bits, as nearly all do: its products with a denominator fit 128 bits, and the
/// processor computes them in one step.
#[inline]
fn short(n: i128) -> Option<i64> {
    i64::try_from(n).ok()
}

/// n·d in 128 bits, where that is sure to fit.
#[inline]
fn wide(n: i64, d: u64) -> Option<i128> {
    let d = i64::try_from(d).ok()?;
    Some(i128::from(n) * i128::from(d))
}

/// Greatest common divisor of a numerator and a denominator.
fn gcd(n: i128, d: u64) -> u64 {
    let n = n.unsigned_abs();
    let rest = match u64::try_from(n) {
        Ok(n) => n,
        Err(_) => u64::try_from(n % u128::from(d.max(1))).unwrap_or(0),
    };
    rest.gcd(&d).max(1)
}

pub(super) fn reduced(n: i128, d: NonZeroU64) -> (i128, NonZeroU64) {
    if d == ONE_U64 {
        return (n, d);
    }
    let g = gcd(n, d.get());
    if g == 1 {
        return (n, d);
    }
    if let (Some(n), Ok(g)) = (short(n), i64::try_from(g))
        && let Some(d) = NonZeroU64::new(d.get() / g.unsigned_abs())
    {
        return (i128::from(n / g), d);
    }
    match NonZeroU64::new(d.get() / g) {
        Some(d) => (n / i128::from(g), d),
        None => (n, d),
    }
}

impl Exact {
    /// 0.
    pub const ZERO: Exact = small(0, ONE_U64);
    /// 1.
    pub const ONE: Exact = small(1, ONE_U64);

    /// A whole number.
    #[must_use]
    pub const fn from_integer(n: i64) -> Exact {
        small(n as i128, ONE_U64)
    }

    /// `numerator / denominator`; `None` when the denominator is zero.
    pub fn from_fraction(
        numerator: impl Into<i128>,
        denominator: impl Into<i128>,
    ) -> Option<Exact> {
        let (n, d) = (numerator.into(), denominator.into());
        if d == 0 {
            return None;
        }
        let fits = if d > 0 {
            small_if_fits(Some(n), u64::try_from(d).ok())
        } else {
            small_if_fits(n.checked_neg(), u64::try_from(d.unsigned_abs()).ok())
        };
        Some(
            fits.unwrap_or_else(|| {
                Exact::from_big(BigRational::new(BigInt::from(n), BigInt::from(d)))
            }),
        )
    }

    /// A numerator over a denominator known not to be zero, kept unreduced.
    pub(super) const fn from_parts(n: i128, d: NonZeroU64) -> Exact {
        small(n, d)
    }

    /// The one form of a big rational: small again when it fits.
    pub(crate) fn from_big(value: BigRational) -> Exact {
        let fits = small_if_fits(value.numer().to_i128(), value.denom().to_u64());
        fits.unwrap_or_else(|| Exact(Repr::Big(Box::new(value))))
    }

    /// The same number as a big rational, in lowest terms.
    pub(crate) fn to_big(&self) -> BigRational {
        match &self.0 {
            Repr::Small { n, d } => BigRational::new(BigInt::from(*n), BigInt::from(d.get())),
            Repr::Big(value) => (**value).clone(),
        }
    }

    /// Numerator and denominator in lowest terms when both fit, for the parts of this room.
    pub(super) fn small_parts(&self) -> Option<(i128, u64)> {
        match &self.0 {
            Repr::Small { n, d } => {
                let (n, d) = reduced(*n, *d);
                Some((n, d.get()))
            }
            Repr::Big(_) => None,
        }
    }

    /// The sum.
    #[must_use]
    #[inline]
    pub fn add(&self, other: &Exact) -> Exact {
        if let (Repr::Small { n: a, d: p }, Repr::Small { n: b, d: q }) = (&self.0, &other.0) {
            if p == q {
                if let Some(n) = a.checked_add(*b) {
                    return small(n, *p);
                }
            } else if let Some(sum) = add_small(*a, *p, *b, *q) {
                return sum;
            }
        }
        Exact::from_big(self.to_big() + other.to_big())
    }

    /// The difference.
    #[must_use]
    #[inline]
    pub fn sub(&self, other: &Exact) -> Exact {
        if let (Repr::Small { n: a, d: p }, Repr::Small { n: b, d: q }) = (&self.0, &other.0) {
            if p == q {
                if let Some(n) = a.checked_sub(*b) {
                    return small(n, *p);
                }
            } else if let Some(difference) = b.checked_neg().and_then(|b| add_small(*a, *p, b, *q))
            {
                return difference;
            }
        }
        Exact::from_big(self.to_big() - other.to_big())
    }

    /// The product.
    #[must_use]
    #[inline]
    pub fn mul(&self, other: &Exact) -> Exact {
        if let (Repr::Small { n: a, d: p }, Repr::Small { n: b, d: q }) = (&self.0, &other.0) {
            let product = match (short(*a), short(*b)) {
                (Some(a), Some(b)) => Some(i128::from(a) * i128::from(b)),
                _ => a.checked_mul(*b),
            };
            let quick = small_if_fits(product, p.get().checked_mul(q.get()));
            if let Some(product) = quick.or_else(|| mul_small(*a, *p, *b, *q)) {
                return product;
            }
        }
        Exact::from_big(self.to_big() * other.to_big())
    }

    /// The quotient; `None` when `other` is zero.
    #[must_use]
    pub fn checked_div(&self, other: &Exact) -> Option<Exact> {
        match &other.0 {
            Repr::Small { n: 0, .. } => None,
            Repr::Small { n: b, d: q } => {
                let (b, q) = reduced(*b, *q);
                let numerator = i128::from(q.get()) * b.signum();
                let divisor = u64::try_from(b.unsigned_abs())
                    .ok()
                    .and_then(NonZeroU64::new);
                Some(match divisor {
                    Some(d) => self.mul(&small(numerator, d)),
                    None => Exact::from_big(self.to_big() / other.to_big()),
                })
            }
            Repr::Big(divisor) => Some(Exact::from_big(self.to_big() / &**divisor)),
        }
    }

    /// The number with the other sign.
    #[must_use]
    pub fn neg(&self) -> Exact {
        match &self.0 {
            Repr::Small { n, d } => match n.checked_neg() {
                Some(n) => small(n, *d),
                None => Exact::from_big(-self.to_big()),
            },
            Repr::Big(value) => Exact::from_big(-(**value).clone()),
        }
    }

    /// The number without its sign.
    #[must_use]
    pub fn abs(&self) -> Exact {
        if self.signum() < 0 {
            self.neg()
        } else {
            self.clone()
        }
    }

    /// −1, 0 or 1.
    #[must_use]
    pub fn signum(&self) -> i32 {
        match &self.0 {
            Repr::Small { n, .. } => match n.cmp(&0) {
                Ordering::Less => -1,
                Ordering::Equal => 0,
                Ordering::Greater => 1,
            },
            Repr::Big(value) => {
                if value.is_negative() {
                    -1
                } else {
                    1
                }
            }
        }
    }

    /// The same number in lowest terms, so that long chains of reckoning do not grow the short form.
    #[must_use]
    #[inline]
    pub(crate) fn lowest(&self) -> Exact {
        match &self.0 {
            Repr::Small { n, d } => {
                let (n, d) = reduced(*n, *d);
                small(n, d)
            }
            Repr::Big(_) => self.clone(),
        }
    }

    /// The same number, in lowest terms where its denominator begins to be long.
    #[must_use]
    #[inline]
    pub(crate) fn trimmed(self) -> Exact {
        match &self.0 {
            Repr::Small { n, d } if d.get() >> 20 != 0 => {
                let (n, d) = reduced(*n, *d);
                small(n, d)
            }
            Repr::Small { .. } | Repr::Big(_) => self,
        }
    }

    /// Bits of numerator and denominator, where they outgrew the short form; else 0.
    #[must_use]
    #[inline]
    pub(crate) fn bits(&self) -> u64 {
        match &self.0 {
            Repr::Small { .. } => 0,
            Repr::Big(value) => value.numer().bits() + value.denom().bits(),
        }
    }

    /// Whether this is 0.
    #[must_use]
    pub fn is_zero(&self) -> bool {
        matches!(self.0, Repr::Small { n: 0, .. })
    }

    /// Whether this is a whole number.
    #[must_use]
    pub fn is_integer(&self) -> bool {
        match &self.0 {
            Repr::Small { n, d } => n % i128::from(d.get()) == 0,
            Repr::Big(value) => value.is_integer(),
        }
    }

    /// The whole number; `None` when this is not whole or doesn't fit.
    #[must_use]
    pub fn to_i64(&self) -> Option<i64> {
        match &self.0 {
            Repr::Small { n, d } => {
                let d = i128::from(d.get());
                if n % d == 0 {
                    i64::try_from(n / d).ok()
                } else {
                    None
                }
            }
            Repr::Big(_) => None,
        }
    }

    /// The nearest floating-point number, correctly rounded; infinite beyond its range.
    #[must_use]
    #[inline]
    pub fn to_f64(&self) -> f64 {
        if let Repr::Small { n, d } = &self.0
            && let Some(quotient) = rounded_once(*n, d.get())
        {
            return quotient;
        }
        self.to_f64_by_reducing()
    }

    #[cold]
    fn to_f64_by_reducing(&self) -> f64 {
        if let Some(quotient) = self.small_parts().and_then(|(n, d)| rounded_once(n, d)) {
            return quotient;
        }
        let value = self.to_big();
        value.to_f64().unwrap_or(if value.is_negative() {
            f64::NEG_INFINITY
        } else {
            f64::INFINITY
        })
    }
}

/// n/d where both are at most 2^53 and so exact in floating point: IEEE 754 division rounds correctly.
#[inline]
fn rounded_once(n: i128, d: u64) -> Option<f64> {
    const LIMIT: u64 = 1 << 53;
    let (n, d) = (short(n)?, i64::try_from(d).ok()?);
    #[expect(clippy::cast_precision_loss, reason = "both are at most 2^53")]
    (n.unsigned_abs() <= LIMIT && d.unsigned_abs() <= LIMIT).then_some(n as f64 / d as f64)
}

/// a/p + b/q while it fits.
fn add_small(a: i128, p: NonZeroU64, b: i128, q: NonZeroU64) -> Option<Exact> {
    let times = |n: i128, d: u64| {
        let quick = short(n).and_then(|n| wide(n, d));
        quick.or_else(|| n.checked_mul(i128::from(d)))
    };
    let unreduced = || {
        let (p, q) = (p.get(), q.get());
        if q.is_multiple_of(p) {
            return small_if_fits(times(a, q / p)?.checked_add(b), Some(q));
        }
        if p.is_multiple_of(q) {
            return small_if_fits(times(b, p / q)?.checked_add(a), Some(p));
        }
        let d = p.checked_mul(q)?;
        small_if_fits(times(a, q)?.checked_add(times(b, p)?), Some(d))
    };
    let in_lowest_terms = || {
        let ((a, p), (b, q)) = (reduced(a, p), reduced(b, q));
        let g = p.get().gcd(&q.get()).max(1);
        let n = a
            .checked_mul(i128::from(q.get() / g))?
            .checked_add(b.checked_mul(i128::from(p.get() / g))?)?;
        small_if_fits(Some(n), (p.get() / g).checked_mul(q.get()))
    };
    unreduced().or_else(in_lowest_terms)
}

/// a/p · b/q in lowest terms while it fits.
fn mul_small(a: i128, p: NonZeroU64, b: i128, q: NonZeroU64) -> Option<Exact> {
    let ((a, p), (b, q)) = (reduced(a, p), reduced(b, q));
    let ((a, q), (b, p)) = (reduced(a, q), reduced(b, p));
    small_if_fits(a.checked_mul(b), p.get().checked_mul(q.get()))
}

impl Ord for Exact {
    #[inline]
    fn cmp(&self, other: &Exact) -> Ordering {
        if let (Repr::Small { n: a, d: p }, Repr::Small { n: b, d: q }) = (&self.0, &other.0) {
            if p == q {
                return a.cmp(b);
            }
            if let (Some(a), Some(b)) = (short(*a), short(*b))
                && let (Some(left), Some(right)) = (wide(a, q.get()), wide(b, p.get()))
            {
                return left.cmp(&right);
            }
            let left = a.checked_mul(i128::from(q.get()));
            let right = b.checked_mul(i128::from(p.get()));
            if let (Some(left), Some(right)) = (left, right) {
                return left.cmp(&right);
            }
        }
        match self.signum().cmp(&other.signum()) {
            Ordering::Equal => self.to_big().cmp(&other.to_big()),
            order => order,
        }
    }
}

impl PartialOrd for Exact {
    #[inline]
    fn partial_cmp(&self, other: &Exact) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Exact {
    #[inline]
    fn eq(&self, other: &Exact) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Exact {}

impl Hash for Exact {
    fn hash<H: Hasher>(&self, state: &mut H) {
        match &self.0 {
            Repr::Small { n, d } => reduced(*n, *d).hash(state),
            Repr::Big(value) => value.hash(state),
        }
    }
}

impl Default for Exact {
    fn default() -> Exact {
        Exact::ZERO
    }
}

impl From<i64> for Exact {
    fn from(n: i64) -> Exact {
        Exact::from_integer(n)
    }
}

impl From<i32> for Exact {
    fn from(n: i32) -> Exact {
        Exact::from_integer(i64::from(n))
    }
}

impl From<u32> for Exact {
    fn from(n: u32) -> Exact {
        Exact::from_integer(i64::from(n))
    }
}

impl fmt::Debug for Exact {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

macro_rules! operator {
    ($trait:ident, $method:ident) => {
        impl $trait<&Exact> for &Exact {
            type Output = Exact;
            #[inline]
            fn $method(self, other: &Exact) -> Exact {
                Exact::$method(self, other)
            }
        }
        impl $trait<Exact> for &Exact {
            type Output = Exact;
            #[inline]
            fn $method(self, other: Exact) -> Exact {
                Exact::$method(self, &other)
            }
        }
        impl $trait<&Exact> for Exact {
            type Output = Exact;
            #[inline]
            fn $method(self, other: &Exact) -> Exact {
                Exact::$method(&self, other)
            }
        }
        impl $trait<Exact> for Exact {
            type Output = Exact;
            #[inline]
            fn $method(self, other: Exact) -> Exact {
                Exact::$method(&self, &other)
            }
        }
    };
}

operator!(Add, add);
operator!(Sub, sub);
operator!(Mul, mul);

impl Neg for &Exact {
    type Output = Exact;
    fn neg(self) -> Exact {
        Exact::neg(self)
    }
}

impl Neg for Exact {
    type Output = Exact;
    fn neg(self) -> Exact {
        Exact::neg(&self)
    }
}

impl Sum for Exact {
    fn sum<I: Iterator<Item = Exact>>(numbers: I) -> Exact {
        numbers.fold(Exact::ZERO, |total, n| total.add(&n))
    }
}

impl<'a> Sum<&'a Exact> for Exact {
    fn sum<I: Iterator<Item = &'a Exact>>(numbers: I) -> Exact {
        numbers.fold(Exact::ZERO, |total, n| total.add(n))
    }
}
