//! The cross-check by Monte Carlo: readings drawn anew within their errors, and what comes of them.

use serde_json::json;

use crate::quantity::{Unit, show};
use crate::report::{Amount, Beside};
use crate::uncertainty::{
    Coverage, Inputs, InstrumentError, Law, MonteCarlo, SEED, numerical_tolerance,
};

/// Work that trials may take, in readings drawn.
const WORK: usize = 4_000_000;
/// Trials where readings are few.
const MOST: usize = 200_000;
/// Fewer trials say nothing of an interval.
const LEAST: usize = 2_000;

/// Errors of the readings of one instrument as inputs of trials: each reading has its own, the calibration is
/// one for all.
pub(super) struct Errors {
    inputs: Inputs,
    each: usize,
    shared: Option<usize>,
}

impl Errors {
    /// For so many readings.
    pub fn new(instrument: &InstrumentError, readings: usize) -> Errors {
        let mut own = Vec::new();
        let scatter = instrument.repeatability.unwrap_or(0.0);
        // Repeatability or resolution, the larger, as in the linear result.
        let step = instrument.resolution / 2.0;
        if scatter > step / 3.0_f64.sqrt() {
            own.push(Law::Normal {
                mean: 0.0,
                u: scatter,
            });
        } else if step > 0.0 {
            own.push(Law::Rectangular {
                low: -step,
                high: step,
            });
        }
        let error = instrument.max_permissible_error;
        if error > 0.0 {
            own.push(Law::Rectangular {
                low: -error,
                high: error,
            });
        }
        let mut inputs = Inputs::new();
        for _ in 0..readings {
            for law in &own {
                inputs.add(*law);
            }
        }
        let u = instrument.calibration;
        let shared = (u > 0.0).then(|| inputs.add(Law::Normal { mean: 0.0, u }));
        Errors {
            inputs,
            each: own.len(),
            shared,
        }
    }

    /// Adds an input that belongs to no reading, such as a distance read off a scale; its place among the
    /// drawn values.
    pub fn add(&mut self, law: Law) -> usize {
        self.inputs.add(law)
    }

    /// The error of a reading in one trial.
    pub fn of(&self, drawn: &[f64], reading: usize) -> f64 {
        let from = reading * self.each;
        let own = drawn.get(from..from + self.each).unwrap_or(&[]);
        let shared = self.shared.and_then(|at| drawn.get(at)).copied();
        own.iter().sum::<f64>() + shared.unwrap_or(0.0)
    }

    /// Runs the trials of a model, fewer where there are many readings; nothing where there are too many for
    /// trials, or nothing is uncertain.
    pub fn run(
        &self,
        readings: usize,
        coverage: &Coverage,
        model: impl Fn(&[f64]) -> Option<f64>,
    ) -> Option<MonteCarlo> {
        let trials = (WORK / readings.max(1)).min(MOST);
        if trials < LEAST || (self.each == 0 && self.shared.is_none()) {
            return None;
        }
        let found = self
            .inputs
            .run(trials, SEED, coverage.probability(), model)
            .ok()?;
        Some(found)
    }
}

/// What trials say beside the linear result: words, JSON, and a notice where the linear result can't be trusted.
pub(super) fn beside(
    found: &MonteCarlo,
    amount: &Amount,
    coverage: &Coverage,
) -> (Beside, Option<String>) {
    let unit = amount.unit;
    let linear = amount.value.expanded(coverage);
    let y = amount.value.value.to_f64();
    let valid = found.validate(y, linear.U, 1);
    let text = |number: f64| show::with_unit(&digits(number, found.u, unit), unit);
    // δ is a step of the digits in which u is told, so it is that of the unit shown.
    let factor = unit.factor().to_f64();
    let tolerance = numerical_tolerance(found.u / factor, 1) * factor;
    let trusted = found.failures == 0 && valid.d_low <= tolerance && valid.d_high <= tolerance;
    let says = if trusted {
        "the linear result holds to one digit of u"
    } else {
        "the linear result does not hold to one digit of u"
    };
    let words = format!(
        "Monte Carlo, {} trials: mean {}, u = {}, {} % from {} to {}; {says}",
        found.trials,
        text(found.mean),
        text(found.u),
        (found.probability * 100.0).round(),
        digits(found.symmetric.low, found.u, unit),
        text(found.symmetric.high)
    );
    let over = |number: f64| number / unit.factor().to_f64();
    let json = json!({
        "trials": found.trials,
        "seed": found.seed,
        "failures": found.failures,
        "unit": unit.symbol(),
        "mean": over(found.mean),
        "standard_uncertainty": over(found.u),
        "interval": [over(found.symmetric.low), over(found.symmetric.high)],
        "shortest_interval": [over(found.shortest.low), over(found.shortest.high)],
        "numerical_tolerance": over(tolerance),
        "linear_result_trusted": trusted,
        "source": "JCGM 101:2008, 7 and 8.1",
    });
    let notice = (!trusted).then(|| {
        format!(
            "The linear law of propagation does not describe this value well (JCGM 101:2008, 8.1): take the \
             interval from {} to {} instead of ± U",
            digits(found.symmetric.low, found.u, unit),
            text(found.symmetric.high)
        )
    });
    (Beside::new("monte_carlo", words, json), notice)
}

/// A number in a unit to two digits of a standard uncertainty.
pub(super) fn digits(number: f64, u: f64, unit: Unit) -> String {
    let factor = unit.factor().to_f64();
    let step = (u / factor).abs().log10().floor();
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "held between 0 and 12"
    )]
    let decimals = (1.0 - step).clamp(0.0, 12.0) as usize;
    format!("{:.decimals$}", number / factor)
}
