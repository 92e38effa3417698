//! Values as far as a clear case needs them: floating point, with bounds on all that it leaves out.
//!
//! Most values lie far from their limits, many times their uncertainty away. For those neither the exact
//! fraction nor the exact U is needed: a value that is known to within `off`, and a bound that U can't exceed,
//! say the same. [`Rough`] carries both, and [`Rough::beyond`] answers only where every decision rule over the
//! exact numbers has to answer so too; it says nothing anywhere else. It never decides at a limit.
//!
//! The bound on U. Let y = Σ c·x be made of means x with the standard uncertainty u(x) of all parts but the
//! floor, the floor f(x), and degrees of freedom not below ν(x); u = Σ |c|·u(x), f = Σ |c|·f(x) and k the largest
//! factor k(p, ν(x)). U is the largest of three ([`Uncertain::expanded`](super::Uncertain::expanded)):
//!
//! - k(p, ν_eff)·u_c: u_c ≤ u whatever the parts share (the triangle inequality), and Welch–Satterthwaite never
//!   gives fewer degrees of freedom than the fewest of a part, so that the factor is at most k;
//! - the scatter alone: the same for some of the parts;
//! - the floors: Σ c²·max(f², k²·u²) and what the parts share beyond that, together at most f² + k²·u²; for one
//!   mean alone, where nothing is shared, max(f, k·u).
//!
//! So U ≤ √(f² + k²·u²), and U ≤ max(f, k·u) for one mean. Rounding is some 1e-15 of it, and the coverage factor is
//! good to 1e-11: both are far within the 1e-8 that a clear case has to spare.

use super::coverage::Coverage;
use super::decision::Side;
use super::reading::InstrumentError;
use crate::quantity::Exact;

/// A value to within a known distance, and a bound on its expanded uncertainty. Base units.
#[derive(Clone, Copy, Debug)]
pub struct Rough {
    value: f64,
    /// The exact value is no further away.
    off: f64,
    /// Σ |c|·u: at least the combined standard uncertainty of all parts but the floors.
    u: f64,
    /// Σ |c|·floor.
    floor: f64,
    /// The largest coverage factor of a mean in it.
    k: f64,
    /// Whether it is made of one mean.
    alone: bool,
}

/// Bound of the roundings of a few operations, relative to the largest number in them.
const ROUNDINGS: f64 = 8.0 * f64::EPSILON;

fn rounding(size: f64) -> f64 {
    size * ROUNDINGS + f64::MIN_POSITIVE
}

impl Rough {
    /// A number without uncertainty.
    #[must_use]
    pub fn certain(value: f64, off: f64) -> Rough {
        Rough {
            value,
            off,
            u: 0.0,
            floor: 0.0,
            k: 0.0,
            alone: true,
        }
    }

    /// A written number.
    #[must_use]
    pub fn exact(value: &Exact) -> Rough {
        let value = value.to_f64();
        Rough::certain(value, rounding(value.abs()))
    }

    /// The value.
    #[must_use]
    pub fn value(&self) -> f64 {
        self.value
    }

    /// How far the exact value can be from it.
    #[must_use]
    pub fn off(&self) -> f64 {
        self.off
    }

    /// What U does not exceed, but for a relative 1e-9.
    #[must_use]
    pub fn largest_u(&self) -> f64 {
        let combined = self.k * self.u;
        if self.alone {
            self.floor.max(combined)
        } else {
            (self.floor * self.floor + combined * combined).sqrt()
        }
    }

    fn is_certain(&self) -> bool {
        self.u == 0.0 && self.floor == 0.0
    }

    /// `value`, computed by the caller from two numbers with these sensitivities, not negative.
    fn of_two(value: f64, off: f64, a: (&Rough, f64), b: (&Rough, f64)) -> Rough {
        let ((a, by_a), (b, by_b)) = (a, b);
        Rough {
            value,
            off: off + rounding(value.abs()),
            u: by_a * a.u + by_b * b.u,
            floor: by_a * a.floor + by_b * b.floor,
            k: a.k.max(b.k),
            alone: (a.alone && b.is_certain()) || (b.alone && a.is_certain()),
        }
    }

    /// The sum.
    #[must_use]
    pub fn add(&self, other: &Rough) -> Rough {
        let value = self.value + other.value;
        Rough::of_two(value, self.off + other.off, (self, 1.0), (other, 1.0))
    }

    /// The difference.
    #[must_use]
    pub fn sub(&self, other: &Rough) -> Rough {
        self.add(&other.neg())
    }

    /// The value with the other sign.
    #[must_use]
    pub fn neg(&self) -> Rough {
        Rough {
            value: -self.value,
            ..*self
        }
    }

    /// The value without its sign.
    #[must_use]
    pub fn abs(&self) -> Rough {
        Rough {
            value: self.value.abs(),
            ..*self
        }
    }

    /// The product.
    #[must_use]
    pub fn mul(&self, other: &Rough) -> Rough {
        let (a, b) = (self.value.abs() + self.off, other.value.abs() + other.off);
        let off = a * other.off + b * self.off;
        Rough::of_two(self.value * other.value, off, (self, b), (other, a))
    }

    /// The quotient; `None` where the divisor is not clearly apart from zero.
    #[must_use]
    pub fn div(&self, other: &Rough) -> Option<Rough> {
        let least = other.value.abs() - other.off;
        if !(least > 1e-9 * other.value.abs() && least > other.off) {
            return None;
        }
        let by_own = least.recip();
        let largest = (self.value.abs() + self.off) * by_own;
        let off = (self.off + largest * other.off) * by_own;
        let sensitivities = ((self, by_own), (other, largest * by_own));
        let (own, others) = sensitivities;
        Some(Rough::of_two(self.value / other.value, off, own, others))
    }

    /// The mean of some values; `None` of none.
    #[must_use]
    pub fn mean<'a>(values: impl Iterator<Item = &'a Rough>) -> Option<Rough> {
        let mut count = 0_u32;
        let sum = values
            .inspect(|_| count += 1)
            .copied()
            .reduce(|sum, one| sum.add(&one))?;
        sum.div(&Rough::certain(f64::from(count), 0.0))
    }

    /// The largest (or smallest) of some values, as uncertain as the least certain of them; `None` of none.
    #[must_use]
    pub fn extreme<'a>(values: impl Iterator<Item = &'a Rough>, largest: bool) -> Option<Rough> {
        values.copied().reduce(|best, one| Rough {
            value: if largest {
                best.value.max(one.value)
            } else {
                best.value.min(one.value)
            },
            off: best.off.max(one.off),
            u: best.u.max(one.u),
            floor: best.floor.max(one.floor),
            k: best.k.max(one.k),
            alone: best.alone && one.alone,
        })
    }

    /// On which side of zero the value lies, where it is clearly more than `factor` times its U away:
    /// −1 or 1; `None` where that is not clear.
    #[must_use]
    pub fn beyond(&self, factor: f64) -> Option<i8> {
        let clear = is_clear(self.value, self.off, factor * self.largest_u());
        clear.then_some(if self.value > 0.0 { 1 } else { -1 })
    }

    /// Whether the value lies inside a limit, where it is clearly further from it than the guard band of
    /// `factor` times U; `None` where that is not clear.
    #[must_use]
    pub fn clearly_inside(&self, side: Side, limit: &Rough, factor: f64) -> Option<bool> {
        let margin = match side {
            Side::Lower => self.value - limit.value,
            Side::Upper => limit.value - self.value,
        };
        // The margin is rounded beside numbers that may be far larger.
        let off = self.off + limit.off + rounding(self.value.abs() + limit.value.abs());
        let largest_u = if limit.is_certain() {
            self.largest_u()
        } else {
            self.sub(limit).largest_u()
        };
        is_clear(margin, off, factor * largest_u).then_some(margin > 0.0)
    }
}

/// Whether a margin is clearly larger than a band; a not-a-number compares as false.
#[inline]
fn is_clear(margin: f64, off: f64, band: f64) -> bool {
    let size = margin.abs();
    size - band > 1e-8 * (size + band) + 8.0 * off
}

/// Count, mean and squared deviations of repeats at one place.
#[derive(Clone, Copy, Debug)]
pub struct RoughSample {
    n: u32,
    mean: f64,
}

impl RoughSample {
    /// Number of readings.
    #[must_use]
    pub fn n(&self) -> u32 {
        self.n
    }
}

/// The scatter of the repeats of a series over its places.
#[derive(Clone, Copy, Debug, Default)]
pub struct RoughPool {
    squares: f64,
    degrees_of_freedom: u32,
    /// The largest reading without its sign.
    largest: f64,
}

impl RoughPool {
    /// The statistics of the readings at a place, which join the pool; `None` when there are none.
    #[must_use]
    pub fn add(&mut self, mut readings: impl Iterator<Item = f64>) -> Option<RoughSample> {
        let first = readings.next()?;
        self.largest = self.largest.max(first.abs());
        // From the first reading, as the exact statistics are.
        let (mut n, mut sum, mut squares) = (1_u32, 0.0, 0.0);
        for reading in readings {
            let difference = reading - first;
            self.largest = self.largest.max(reading.abs());
            sum += difference;
            squares += difference * difference;
            n = n.saturating_add(1);
        }
        let mean = sum / f64::from(n);
        self.squares += (squares - sum * mean).max(0.0);
        self.degrees_of_freedom = self.degrees_of_freedom.saturating_add(n - 1);
        let mean = first + mean;
        Some(RoughSample { n, mean })
    }

    /// The largest coverage factor that a mean of the series can need.
    #[must_use]
    pub fn factor(&self, coverage: &Coverage) -> f64 {
        match self.degrees_of_freedom {
            0 => coverage.factor(f64::INFINITY),
            nu => coverage.factor(f64::from(nu)),
        }
    }
}

/// What an instrument adds to the mean of its readings.
#[derive(Clone, Copy, Debug)]
pub struct RoughErrors {
    /// Resolution as a variance.
    resolution: f64,
    /// Maximum permissible error and calibration as a variance.
    systematic: f64,
    /// Stated repeatability as a variance.
    repeatability: f64,
    correction: f64,
    floor: f64,
}

impl RoughErrors {
    /// None.
    pub const NONE: RoughErrors = RoughErrors {
        resolution: 0.0,
        systematic: 0.0,
        repeatability: 0.0,
        correction: 0.0,
        floor: 0.0,
    };

    /// Those of an instrument whose uncertainty is known.
    #[must_use]
    pub fn of(instrument: &InstrumentError) -> RoughErrors {
        let square = |number: f64| number * number;
        RoughErrors {
            resolution: square(instrument.resolution) / 12.0,
            systematic: square(instrument.max_permissible_error) / 3.0
                + square(instrument.calibration),
            repeatability: square(instrument.repeatability.unwrap_or(0.0)),
            correction: instrument.correction.to_f64(),
            floor: instrument.floor,
        }
    }

    /// The same with the floor of a method.
    #[must_use]
    pub fn with_floor(self, floor: f64) -> RoughErrors {
        RoughErrors { floor, ..self }
    }

    /// The same of an instrument that shows no smaller step than this.
    #[must_use]
    pub fn with_resolution(self, resolution: f64) -> RoughErrors {
        let resolution = self.resolution.max(resolution * resolution / 12.0);
        RoughErrors { resolution, ..self }
    }
}

impl Rough {
    /// The mean of the readings at a place with the errors of their instrument, all places of the series
    /// pooled; `k` is the pool's factor. As [`mean_of_sample`](super::mean_of_sample).
    #[must_use]
    pub fn of_sample(
        sample: &RoughSample,
        pool: &RoughPool,
        errors: &RoughErrors,
        k: f64,
    ) -> Rough {
        let n = f64::from(sample.n);
        let scatter = match pool.degrees_of_freedom {
            0 => errors.repeatability,
            nu => pool.squares / (f64::from(nu) * n),
        };
        let u = (scatter.max(errors.resolution) + errors.systematic).sqrt();
        // The differences of the readings are rounded: a few units in the last place of the largest of them,
        // √n times that in the mean's scatter.
        let blurred = n * rounding(pool.largest + errors.correction.abs());
        Rough {
            value: sample.mean + errors.correction,
            off: blurred,
            u: u + blurred,
            floor: errors.floor,
            k,
            alone: true,
        }
    }

    /// The mean of the readings at a place that are taken for exact.
    #[must_use]
    pub fn of_exact_sample(sample: &RoughSample, pool: &RoughPool) -> Rough {
        let off = f64::from(sample.n) * rounding(pool.largest);
        Rough::certain(sample.mean, off)
    }
}

#[cfg(test)]
#[allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_precision_loss
)]
#[path = "rough_tests.rs"]
mod tests;
