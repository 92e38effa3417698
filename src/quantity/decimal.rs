//! Exact numbers as decimal text and back, and rounding to a multiple.
//!
//! Rounding follows ISO 80000-1:2009, Annex B: always in one step, from the unrounded number, to an
//! integer multiple of the rounding range; a tie goes to the even multiple (rule A, [`Ties::Even`]) or to
//! the multiple of larger magnitude (rule B, [`Ties::Away`]).

use std::fmt;
use std::num::NonZeroU64;

use num_bigint::{BigInt, BigUint};
use num_integer::Integer as _;
use num_rational::BigRational;
use num_traits::{One as _, Signed as _, Zero as _};

use super::exact::{Exact, Repr};

/// Longest text [`Exact::from_decimal`] reads, bytes: every finite `f64` written out fits.
const LONGEST_DECIMAL: usize = 1200;

/// Farthest decimal place that is reckoned with, on either side of the point.
const FARTHEST_DECIMAL: usize = 100_000;

/// Where a number half way between two multiples goes. ISO 80000-1:2009, B.3.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Ties {
    /// To the even multiple: rule A, the one this program prints by.
    Even,
    /// To the multiple of larger magnitude: rule B.
    Away,
}

/// 10^k as a machine integer, up to the largest that fits.
pub(super) const POWERS_OF_TEN: [u64; 20] = {
    let mut powers = [1_u64; 20];
    let mut k = 1;
    #[expect(
        clippy::indexing_slicing,
        reason = "constant evaluation, bounds are the array's"
    )]
    while k < 20 {
        powers[k] = powers[k - 1] * 10;
        k += 1;
    }
    powers
};

/// 10^k as a denominator; `None` from 10^20 on.
pub(super) fn power_of_ten(k: usize) -> Option<NonZeroU64> {
    POWERS_OF_TEN.get(k).copied().and_then(NonZeroU64::new)
}

fn big_power_of_ten(k: usize) -> BigInt {
    BigInt::from(10).pow(u32::try_from(k).unwrap_or(u32::MAX))
}

impl Exact {
    /// 10 to a power, negative ones included; the exponent is held within ±100,000.
    #[must_use]
    pub fn power_of_ten(exponent: i32) -> Exact {
        let k = usize::try_from(exponent.unsigned_abs())
            .unwrap_or(0)
            .min(FARTHEST_DECIMAL);
        match (exponent < 0, power_of_ten(k)) {
            (true, Some(d)) => Exact::from_parts(1, d),
            (false, Some(n)) => Exact::from_parts(i128::from(n.get()), NonZeroU64::MIN),
            (true, None) => Exact::from_big(BigRational::new(BigInt::one(), big_power_of_ten(k))),
            (false, None) => Exact::from_big(BigRational::from_integer(big_power_of_ten(k))),
        }
    }

    /// Reads `-12.50`: an optional `-`, digits, and digits after a point if there is one.
    ///
    /// `None` for everything else: signs of other kinds, exponents, blanks, `.5`, `5.`, words.
    #[must_use]
    pub fn from_decimal(text: &str) -> Option<Exact> {
        let (negative, digits) = match text.strip_prefix('-') {
            Some(rest) => (true, rest),
            None => (false, text),
        };
        if text.len() > LONGEST_DECIMAL {
            return None;
        }
        let (whole, places) = digits.split_once('.').unwrap_or((digits, "0"));
        let all_digits = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
        if !all_digits(whole) || !all_digits(places) {
            return None;
        }
        let places = if digits.contains('.') { places } else { "" };
        Some(Exact::from_digits(negative, whole, places))
    }

    /// Digits before and after the point, already known to be digits.
    pub(super) fn from_digits(negative: bool, whole: &str, places: &str) -> Exact {
        let d = power_of_ten(places.len());
        if let (Some(d), true) = (d, whole.len() + places.len() <= 38) {
            let n = whole
                .bytes()
                .chain(places.bytes())
                .fold(0_i128, |n, b| n * 10 + i128::from(b.wrapping_sub(b'0')));
            return Exact::from_parts(if negative { -n } else { n }, d);
        }
        let all: Vec<u8> = whole
            .bytes()
            .chain(places.bytes())
            .map(|b| b.wrapping_sub(b'0'))
            .collect();
        let n = BigInt::from(BigUint::from_radix_be(&all, 10).unwrap_or_default());
        let n = if negative { -n } else { n };
        Exact::from_big(BigRational::new(n, big_power_of_ten(places.len())))
    }

    /// The exact value of the shortest decimal that reads back as this `f64`: 0.02 gives 1/50.
    ///
    /// `None` for NaN and the infinities.
    #[must_use]
    pub fn from_f64_shortest(value: f64) -> Option<Exact> {
        if !value.is_finite() {
            return None;
        }
        // A decimal of up to 15 digits is the only one of that length that reads as its f64, so the
        // first one found is the shortest.
        for (k, power) in POWERS_OF_TEN.iter().enumerate().take(16) {
            #[expect(clippy::cast_precision_loss, reason = "powers up to 10^15 are exact")]
            let power = *power as f64;
            let scaled = (value * power).round();
            if scaled.abs() >= 1e15 {
                break;
            }
            if scaled / power == value {
                #[expect(clippy::cast_possible_truncation, reason = "below 10^15")]
                return Some(Exact::from_parts(scaled as i128, power_of_ten(k)?));
            }
        }
        Exact::from_decimal(&value.to_string())
    }

    /// The exact value of the binary number itself: 0.02 gives 0.0200000000000000004…
    ///
    /// `None` for NaN and the infinities.
    #[must_use]
    pub fn from_f64_binary(value: f64) -> Option<Exact> {
        BigRational::from_float(value).map(Exact::from_big)
    }

    /// The square root when it is a fraction: 9/16 gives 3/4; `None` for others.
    #[must_use]
    pub fn exact_sqrt(&self) -> Option<Exact> {
        let (n, d) = self.small_parts()?;
        let (root_n, root_d) = (n.checked_isqrt()?, d.isqrt());
        let exact = root_n.checked_mul(root_n) == Some(n) && root_d.checked_mul(root_d) == Some(d);
        if !exact {
            return None;
        }
        Some(Exact::from_parts(root_n, NonZeroU64::new(root_d)?))
    }

    /// The largest whole number not above this one.
    #[must_use]
    pub fn floor(&self) -> Exact {
        match &self.0 {
            Repr::Small { n, d } => {
                Exact::from_parts(n.div_euclid(i128::from(d.get())), NonZeroU64::MIN)
            }
            Repr::Big(value) => Exact::from_big(value.floor()),
        }
    }

    /// The nearest integer multiple of `step` (its sign is of no account), in one step.
    ///
    /// A step of zero rounds nothing: the number comes back unchanged.
    #[must_use]
    pub fn round_to_multiple(&self, step: &Exact, ties: Ties) -> Exact {
        let step = step.abs();
        let Some(quotient) = self.checked_div(&step) else {
            return self.clone();
        };
        quotient.round_to_integer(ties).mul(&step)
    }

    /// n and k of n / 10^k, when the number is held in that form and n is not large.
    fn short_decimal(&self) -> Option<(i64, usize)> {
        let Repr::Small { n, d } = &self.0 else {
            return None;
        };
        let k = usize::try_from(d.get().ilog10()).ok()?;
        let held = POWERS_OF_TEN.get(k) == Some(&d.get());
        if held {
            Some((i64::try_from(*n).ok()?, k))
        } else {
            None
        }
    }

    /// The nearest whole number.
    #[must_use]
    pub fn round_to_integer(&self, ties: Ties) -> Exact {
        if let Repr::Small { n, d } = &self.0 {
            let d = d.get();
            let (whole, rest) = (n / i128::from(d), (n % i128::from(d)).unsigned_abs());
            let up = match (rest * 2).cmp(&u128::from(d)) {
                std::cmp::Ordering::Less => false,
                std::cmp::Ordering::Greater => true,
                std::cmp::Ordering::Equal => match ties {
                    Ties::Even => whole % 2 != 0,
                    Ties::Away => true,
                },
            };
            // With d = 1 there is no rest, so `whole` is far from the edge whenever it moves.
            let whole = if up {
                whole.saturating_add(n.signum())
            } else {
                whole
            };
            return Exact::from_parts(whole, NonZeroU64::MIN);
        }
        let value = self.to_big();
        let (whole, rest) = value.numer().abs().div_rem(value.denom());
        let up = match (rest * 2_i32).cmp(value.denom()) {
            std::cmp::Ordering::Less => false,
            std::cmp::Ordering::Greater => true,
            std::cmp::Ordering::Equal => match ties {
                Ties::Even => whole.is_odd(),
                Ties::Away => true,
            },
        };
        let whole = if up { whole + BigInt::one() } else { whole };
        let whole = if value.is_negative() { -whole } else { whole };
        Exact::from_big(BigRational::from_integer(whole))
    }

    /// The number rounded half to even to `decimals` digits after the point, with all of them:
    /// `4.70`, `-0.05`. A number that rounds to zero has no sign.
    #[must_use]
    pub fn to_fixed(&self, decimals: usize) -> String {
        if let Some((n, k)) = self.short_decimal()
            && let Some(n) = rounded_to(n, k, decimals)
        {
            return short_text(n, decimals);
        }
        let scale = Exact::power_of_ten(i32::try_from(decimals).unwrap_or(i32::MAX));
        let scaled = self.mul(&scale).round_to_integer(Ties::Even);
        let digits = match &scaled.0 {
            Repr::Small { n, d } => (n / i128::from(d.get())).to_string(),
            Repr::Big(value) => value.to_integer().to_string(),
        };
        place_point(&digits, decimals.min(FARTHEST_DECIMAL))
    }

    /// Digits after the point that write this number out in full; `None` when no number of them does.
    #[must_use]
    pub fn decimals_needed(&self) -> Option<usize> {
        if let Some((_, mut d)) = self.small_parts() {
            let twos = d.trailing_zeros();
            d >>= twos;
            let mut fives = 0_u32;
            while d.is_multiple_of(5) && d > 0 {
                d /= 5;
                fives += 1;
            }
            return (d == 1).then(|| usize::try_from(twos.max(fives)).unwrap_or(usize::MAX));
        }
        let value = self.to_big();
        let twos = value.denom().trailing_zeros().unwrap_or(0);
        let mut rest: BigInt = value.denom() >> twos;
        let mut fives = 0_u64;
        let five = BigInt::from(5);
        loop {
            let (quotient, remainder) = rest.div_rem(&five);
            if !remainder.is_zero() {
                break;
            }
            rest = quotient;
            fives += 1;
        }
        rest.is_one()
            .then(|| usize::try_from(twos.max(fives)).unwrap_or(usize::MAX))
    }

    /// Decimal exponent of the leading digit: 0 for 4.7, −2 for 0.047, 2 for 470; 0 for zero.
    #[must_use]
    pub fn leading_exponent(&self) -> i32 {
        if self.is_zero() {
            return 0;
        }
        let value = self.abs();
        // The estimate is off by one at most; the comparisons below settle it exactly.
        let estimate = match &value.0 {
            Repr::Small { n, d } => {
                let digits = |n: u128| i32::try_from(n.checked_ilog10().unwrap_or(0)).unwrap_or(0);
                digits(n.unsigned_abs()) - digits(u128::from(d.get()))
            }
            Repr::Big(value) => {
                let bits = |n: &BigInt| i64::try_from(n.bits()).unwrap_or(i64::MAX);
                let binary = bits(value.numer()) - bits(value.denom());
                // log10(2) = 0.30103, rounded toward minus infinity.
                i32::try_from((binary * 30_103).div_euclid(100_000)).unwrap_or(0)
            }
        };
        let mut exponent = estimate + 1;
        while exponent > estimate - 3 && Exact::power_of_ten(exponent) > value {
            exponent -= 1;
        }
        exponent
    }

    /// Decimal text with at most `max_digits` significant digits, and whether it is exact.
    ///
    /// A number that doesn't end, or is longer, is rounded half to even; a number that isn't zero never
    /// prints as zero. Digits after the point are no more than needed: 47/10 is `4.7`.
    #[must_use]
    pub fn to_decimal(&self, max_digits: usize) -> (String, bool) {
        if self.is_zero() {
            return ("0".to_owned(), true);
        }
        if let Some((mut n, mut k)) = self.short_decimal() {
            while k > 0 && n % 10 == 0 {
                n /= 10;
                k -= 1;
            }
            let digits = n.unsigned_abs().checked_ilog10().map_or(1, |log| log + 1);
            if usize::try_from(digits).is_ok_and(|digits| digits <= max_digits) {
                return (short_text(n, k), true);
            }
        }
        let keep = i32::try_from(max_digits.clamp(1, 4000)).unwrap_or(1);
        let step = Exact::power_of_ten(self.leading_exponent() - keep + 1);
        let rounded = self.round_to_multiple(&step, Ties::Even);
        let decimals = rounded.decimals_needed().unwrap_or(0);
        (rounded.to_fixed(decimals), rounded == *self)
    }
}

/// n / 10^from as a multiple of 1/10^to, half to even; `None` when it doesn't fit.
fn rounded_to(n: i64, from: usize, to: usize) -> Option<i64> {
    if to >= from {
        let power = i64::try_from(*POWERS_OF_TEN.get(to - from)?).ok()?;
        return n.checked_mul(power);
    }
    let power = i64::try_from(*POWERS_OF_TEN.get(from - to)?).ok()?;
    let (whole, rest) = (n / power, (n % power).abs());
    // Powers of ten are even, so half of one is exact.
    let up = rest > power / 2 || (rest == power / 2 && whole % 2 != 0);
    if up {
        whole.checked_add(n.signum())
    } else {
        Some(whole)
    }
}

/// n / 10^decimals with all its decimals.
fn short_text(n: i64, decimals: usize) -> String {
    use std::fmt::Write as _;
    let mut text = String::with_capacity(24 + decimals);
    if n < 0 {
        text.push('-');
    }
    let size = n.unsigned_abs();
    let power = POWERS_OF_TEN.get(decimals).copied();
    // Writing to a String can't fail.
    let _ = match (power, decimals) {
        (_, 0) => write!(text, "{size}"),
        (Some(power), _) => write!(text, "{}.{:0decimals$}", size / power, size % power),
        (None, _) => write!(text, "0.{size:0decimals$}"),
    };
    text
}

/// Puts the point `decimals` digits from the right.
fn place_point(digits: &str, decimals: usize) -> String {
    let (sign, digits) = match digits.strip_prefix('-') {
        Some(rest) => ("-", rest),
        None => ("", digits),
    };
    if decimals == 0 {
        return format!("{sign}{digits}");
    }
    let padded = format!("{digits:0>width$}", width = decimals + 1);
    let (whole, places) = padded.split_at(padded.len() - decimals);
    format!("{sign}{whole}.{places}")
}

impl fmt::Display for Exact {
    /// The decimal if it ends within 40 digits, else the fraction in lowest terms: `4.7625`, `1/3`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let (text, true) = self.to_decimal(40) {
            return f.write_str(&text);
        }
        let value = self.to_big();
        write!(f, "{}/{}", value.numer(), value.denom())
    }
}
