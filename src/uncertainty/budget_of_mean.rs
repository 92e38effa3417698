//! The sources of a mean of repeats, for a budget: the same figures that [`mean_of_sample`] makes parts of.
//!
//! [`mean_of_sample`]: super::mean_of_sample

use super::budget::{Register, Source};
use super::distribution::{Distribution, Stated};
use super::part::PartKind;
use super::reading::{InstrumentError, Pool, Sample, SourceIds};
use crate::quantity::{Exact, Number, Unit};

/// What the sources of a mean are called.
#[derive(Clone, Copy, Debug)]
pub struct MeanWords<'w> {
    /// What was read, and where: `steel thickness of S1 at -300 mm`.
    pub what: &'w str,
    /// What it was read with: `micrometer mic_2`.
    pub instrument: &'w str,
    /// The method whose floor counts: `micrometer`.
    pub method: &'w str,
    /// The stated U and k of the calibration; without them its standard uncertainty is named.
    pub calibration: Option<(f64, f64)>,
    /// The unit that was read in.
    pub unit: Unit,
    /// Decimals that were read.
    pub decimals: Option<u8>,
    /// Places whose repeats are pooled.
    pub places: usize,
}

impl Register {
    /// Keeps the sources of a mean of repeats, as [`mean_of_sample`] makes its parts.
    ///
    /// [`mean_of_sample`]: super::mean_of_sample
    pub fn mean(
        &mut self,
        ids: SourceIds,
        sample: &Sample,
        pool: &Pool,
        errors: &InstrumentError,
        words: &MeanWords<'_>,
    ) {
        let value = Number::Exact(sample.mean.add(&errors.correction));
        let MeanWords {
            what,
            instrument,
            unit,
            decimals,
            ..
        } = *words;
        let new =
            |name: String, stated, distribution| Source::new(name, unit, stated, distribution);
        let readings = match sample.n {
            1 => "a single reading".to_owned(),
            n => format!("{n} readings"),
        };
        let mut scatter_u = 0.0;
        let seen = match (pool.standard_deviation(), sample.standard_deviation()) {
            (Some(s), _) => Some((s, pool.degrees_of_freedom(), words.places)),
            (None, Some(s)) => Some((s, sample.n.saturating_sub(1), 1)),
            (None, None) => None,
        };
        let scatter = match (seen, errors.repeatability) {
            (Some((s, nu, places)), _) => {
                let pooled = if places > 1 {
                    format!(", pooled over {places} places")
                } else {
                    String::new()
                };
                let name = format!("{what}, scatter of {readings}{pooled}");
                let stated = Stated::StandardDeviation { s, n: sample.n };
                Some(new(name, stated, Distribution::StudentT).with_nu(f64::from(nu)))
            }
            (None, Some(s)) => {
                let name = format!("{what}, {readings}: stated repeatability of {instrument}");
                Some(new(name, Stated::Standard(s), Distribution::Normal))
            }
            (None, None) => None,
        };
        if let Some(scatter) = scatter {
            scatter_u = scatter.u();
            let scatter = scatter.with_estimate(value.clone(), decimals);
            self.add(PartKind::Repeatability, ids.mean, scatter);
        }
        let a = errors.resolution / 2.0;
        let resolution = if scatter_u > 0.0 {
            let name = format!("{what}, resolution of {instrument} beyond the scatter");
            let already = scatter_u;
            new(
                name,
                Stated::HalfWidthBeyond { a, already },
                Distribution::Rectangular,
            )
        } else {
            let name = format!("{what}, resolution of {instrument}");
            new(name, Stated::HalfWidth(a), Distribution::Rectangular)
                .with_estimate(value.clone(), decimals)
        };
        self.add(PartKind::Resolution, ids.mean, resolution);
        let name = format!("{what}, maximum permissible error of {instrument}");
        let stated = Stated::HalfWidth(errors.max_permissible_error);
        let error = new(name, stated, Distribution::Rectangular);
        self.add(PartKind::MaximumPermissibleError, ids.mean, error);
        let stated = match words.calibration {
            Some((expanded, k)) => Stated::Expanded { U: expanded, k },
            None => Stated::Standard(errors.calibration),
        };
        let calibration = new(
            format!("{instrument}, calibration"),
            stated,
            Distribution::Normal,
        );
        let correction = Some(&errors.correction).filter(|one| **one != Exact::ZERO);
        let calibration = match correction {
            Some(correction) => calibration.with_estimate(Number::Exact(correction.clone()), None),
            None => calibration,
        };
        self.add(PartKind::Calibration, ids.calibration, calibration);
        let stated = Stated::Expanded {
            U: errors.floor,
            k: 2.0,
        };
        let name = format!("{what}, floor of the method {}", words.method);
        self.add(
            PartKind::MethodFloor,
            ids.mean,
            new(name, stated, Distribution::Normal),
        );
    }
}
