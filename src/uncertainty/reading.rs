//! From repeated readings and an instrument to a value with the parts of its uncertainty
//! (JCGM 100:2008, 4.2 Type A, 4.3 Type B; pooling: 4.2.4).

use smallvec::SmallVec;

use super::parts::{MeanParts, Parts};
use super::uncertain::{Bound, Uncertain};
use crate::quantity::{Exact, Number};

/// Count, exact mean and sum of squared deviations of repeats at one place.
#[derive(Clone, Debug)]
pub struct Sample {
    /// Number of readings, at least 1.
    pub n: u32,
    /// Exact arithmetic mean, base units.
    pub mean: Exact,
    /// Σ (x_i − x̄)², base units squared.
    pub sum_of_squares: f64,
}

/// Up to this many readings the squares are summed in floating point, to some 1e-15; beyond it exactly.
const FEW: u32 = 16;

impl Sample {
    /// The statistics of readings in base units; `None` when there are none.
    #[must_use]
    pub fn of<'a>(
        readings: impl IntoIterator<Item = &'a Exact, IntoIter: ExactSizeIterator>,
    ) -> Option<Sample> {
        let mut rest = readings.into_iter();
        let n = u32::try_from(rest.len()).ok()?;
        let first = rest.next()?;
        if n == 1 {
            return Some(Sample {
                n,
                mean: first.clone(),
                sum_of_squares: 0.0,
            });
        }
        let count = Exact::from_integer(i64::from(n));
        // From the first reading, so that a large common offset makes no large squares.
        let mut sum = Exact::ZERO;
        let sum_of_squares;
        if n <= FEW {
            let mut differences: SmallVec<[f64; 8]> = SmallVec::new();
            for reading in rest {
                let difference = reading.sub(first);
                differences.push(difference.to_f64());
                sum = sum.add(&difference);
            }
            let middle = sum.to_f64() / f64::from(n);
            sum_of_squares = differences.iter().fold(middle * middle, |sum, difference| {
                sum + (difference - middle) * (difference - middle)
            });
        } else {
            let mut squares = Exact::ZERO;
            for reading in rest {
                let difference = reading.sub(first);
                squares = squares.add(&difference.mul(&difference));
                sum = sum.add(&difference);
            }
            let n_times = count.mul(&squares).sub(&sum.mul(&sum));
            sum_of_squares = n_times.to_f64() / f64::from(n);
        }
        let mean = first.add(&sum.checked_div(&count)?);
        Some(Sample {
            n,
            mean,
            sum_of_squares,
        })
    }

    /// Experimental standard deviation s (JCGM 100:2008, 4.2.2); `None` for a single reading.
    #[must_use]
    pub fn standard_deviation(&self) -> Option<f64> {
        (self.n > 1).then(|| (self.sum_of_squares / f64::from(self.n - 1)).sqrt())
    }
}

/// Repeats over the places of one item, quantity and instrument, pooled:
/// s_p² = Σ (n_i − 1)·s_i² / Σ (n_i − 1) with ν = Σ (n_i − 1). Source: JCGM 100:2008, 4.2.4.
#[derive(Clone, Copy, Debug, Default)]
pub struct Pool {
    sum_of_squares: f64,
    degrees_of_freedom: u32,
}

impl Pool {
    /// Nothing pooled yet.
    #[must_use]
    pub fn new() -> Pool {
        Pool::default()
    }

    /// Adds the repeats at one place, in base units; a single reading adds nothing.
    pub fn add(&mut self, readings: &[Exact]) {
        if readings.len() > 1
            && let Some(sample) = Sample::of(readings)
        {
            self.add_sample(&sample);
        }
    }

    /// Adds the statistics of one place.
    pub fn add_sample(&mut self, sample: &Sample) {
        self.sum_of_squares += sample.sum_of_squares;
        self.degrees_of_freedom += sample.n.saturating_sub(1);
    }

    /// The pool of the repeats at several places.
    pub fn of<'a>(places: impl IntoIterator<Item = &'a [Exact]>) -> Pool {
        let mut pool = Pool::new();
        for readings in places {
            pool.add(readings);
        }
        pool
    }

    /// Pooled standard deviation s_p of one reading, base units; `None` before two repeats at one place.
    #[must_use]
    pub fn standard_deviation(&self) -> Option<f64> {
        (self.degrees_of_freedom > 0)
            .then(|| (self.sum_of_squares / f64::from(self.degrees_of_freedom)).sqrt())
    }

    /// Degrees of freedom ν = Σ (n_i − 1).
    #[must_use]
    pub fn degrees_of_freedom(&self) -> u32 {
        self.degrees_of_freedom
    }
}

/// What is known of an instrument's errors, in base units. The default has none: `with: exact`.
#[derive(Clone, Debug, Default)]
pub struct InstrumentError {
    /// Smallest step it shows, full width; 0 if none. A written fraction has 1/denominator.
    pub resolution: f64,
    /// Maximum permissible error, half width; 0 if none.
    pub max_permissible_error: f64,
    /// Stated repeatability as a standard deviation of one reading: for a lone reading without repeats.
    pub repeatability: Option<f64>,
    /// Standard uncertainty of its calibration, U/k; 0 if none.
    pub calibration: f64,
    /// Correction from its calibration, added to the mean.
    pub correction: Exact,
    /// The method's floor, an expanded uncertainty; 0 if none.
    pub floor: f64,
    /// Neither instrument nor method say anything: U is unknown.
    pub unknown: bool,
}

/// Identities of the sources of one mean.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SourceIds {
    /// This mean of repeats: unlike every other one's.
    pub mean: u32,
    /// The pool whose scatter it uses: one for each item, quantity and instrument.
    pub pool: u32,
    /// The instrument: groups maximum permissible errors.
    pub instrument: u32,
    /// The calibration offset: one for each instrument and dimension.
    pub calibration: u32,
}

/// The exact mean of `readings` (base units) plus the correction, with the parts of its uncertainty.
///
/// - Type A: s_p/√n with the pool's degrees of freedom. A lone reading whose pool has none borrows the stated
///   repeatability, with infinite ν.
/// - Resolution (rectangular, r/√12): repeatability or resolution, the larger, not both. So that the scatter
///   keeps its few degrees of freedom, the resolution adds in quadrature only what the scatter lacks of it.
/// - Maximum permissible error (rectangular, a/√3), calibration (U/k).
/// - The method's floor, as [`Part::method_floor`].
///
/// Without any reading the result is a zero that decides nothing. Source: JCGM 100:2008, 4.2, 4.3.7, F.2.2.1.
#[must_use]
pub fn mean_of_repeats(
    readings: &[Exact],
    pool: &Pool,
    instrument: &InstrumentError,
    ids: SourceIds,
) -> Uncertain {
    match Sample::of(readings) {
        Some(sample) => mean_of_sample(&sample, pool, instrument, ids),
        None => Uncertain::exact(Exact::ZERO)
            .with_bound(Some(Bound::Neither))
            .with_unknown_uncertainty(),
    }
}

/// As [`mean_of_repeats`], from statistics already taken.
#[must_use]
pub fn mean_of_sample(
    sample: &Sample,
    pool: &Pool,
    instrument: &InstrumentError,
    ids: SourceIds,
) -> Uncertain {
    let root_n = f64::from(sample.n).sqrt();
    let (scatter, nu) = match (pool.standard_deviation(), sample.standard_deviation()) {
        (Some(s), _) => (s / root_n, f64::from(pool.degrees_of_freedom())),
        (None, Some(s)) => (s / root_n, f64::from(sample.n - 1)),
        (None, None) => (instrument.repeatability.unwrap_or(0.0), f64::INFINITY),
    };
    let scatter_squared = scatter * scatter;
    let resolution_squared =
        (instrument.resolution * instrument.resolution / 12.0 - scatter_squared).max(0.0);
    let permissible = instrument.max_permissible_error / 3.0_f64.sqrt();

    let own = if instrument.floor > 0.0 {
        (scatter_squared + resolution_squared + permissible * permissible).sqrt()
    } else {
        0.0
    };
    let parts = Parts::of_mean(MeanParts {
        ids,
        scatter,
        nu,
        resolution: resolution_squared.sqrt(),
        permissible,
        calibration: instrument.calibration,
        floor: instrument.floor,
        own,
    });
    let value = sample.mean.add(&instrument.correction);
    Uncertain {
        value: Number::Exact(value),
        parts,
        bound: None,
        unknown: instrument.unknown,
    }
}
