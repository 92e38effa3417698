//! Propagation of distributions by Monte Carlo, as a check of the linear result and in its place where the model
//! is far from linear (JCGM 101:2008).
//!
//! Pure and repeatable: the seed and the number of trials are stated, the generator is xoshiro256++ (Blackman and
//! Vigna, 2019), and everything computed from its bits uses additions, products, quotients and square roots, which
//! IEEE 754 fixes to the last bit, or functions that are part of the program. The same inputs give the same result
//! on every machine, as far as the model does.

use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::{Rng, SeedableRng};

use super::distribution::Distribution;

/// Trials where nothing else is asked: ends of a 95 % interval then wander by some 0.3 % of u.
pub const TRIALS: usize = 1_000_000;
/// The seed where nothing else is asked. Any would do; a fixed one makes results repeatable.
pub const SEED: u64 = 101;

/// The distribution of one input with its figures, in whatever unit the model takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Law {
    /// Known without doubt.
    Exact(f64),
    /// Normal, with best value and standard uncertainty (JCGM 101:2008, 6.4.7).
    Normal {
        /// Best value.
        mean: f64,
        /// Standard uncertainty.
        u: f64,
    },
    /// Scaled and shifted t (6.4.9): best value, scale and degrees of freedom. Its standard deviation is
    /// scale·√(ν/(ν − 2)), and infinite for ν ≤ 2.
    StudentT {
        /// Best value.
        mean: f64,
        /// Scale: s/√n of repeats, U/k of a certificate.
        scale: f64,
        /// Degrees of freedom, above 0; infinite gives the normal law.
        nu: f64,
    },
    /// Equally likely between two borders (6.4.2).
    Rectangular {
        /// Lower border.
        low: f64,
        /// Upper border.
        high: f64,
    },
    /// Falling evenly from the middle (6.4.5).
    Triangular {
        /// Lower border.
        low: f64,
        /// Upper border.
        high: f64,
    },
    /// A top of width β times the base (6.4.4).
    Trapezoidal {
        /// Lower border.
        low: f64,
        /// Upper border.
        high: f64,
        /// Width of the top over that of the base, 0 to 1.
        beta: f64,
    },
    /// That of a cycle (6.4.6).
    ArcSine {
        /// Lower border.
        low: f64,
        /// Upper border.
        high: f64,
    },
    /// Rectangular with borders that are themselves known to ± d only (6.4.3).
    CurvilinearTrapezoid {
        /// Lower border.
        low: f64,
        /// Upper border.
        high: f64,
        /// Half width of what is not known of each border.
        d: f64,
    },
}

impl Law {
    /// The law of a distribution with a best value, standard uncertainty `u` and degrees of freedom.
    ///
    /// For Student's t `u` is the scale, since that is what the linear result multiplies by t.
    #[must_use]
    pub fn of(distribution: Distribution, mean: f64, u: f64, nu: f64) -> Law {
        let a = u * distribution.divisor().unwrap_or(1.0);
        let (low, high) = (mean - a, mean + a);
        match distribution {
            Distribution::Normal if nu.is_infinite() => Law::Normal { mean, u },
            Distribution::Normal | Distribution::StudentT => Law::StudentT { mean, scale: u, nu },
            Distribution::Rectangular => Law::Rectangular { low, high },
            Distribution::Triangular => Law::Triangular { low, high },
            Distribution::ArcSine => Law::ArcSine { low, high },
            Distribution::Trapezoidal { beta } => Law::Trapezoidal { low, high, beta },
        }
    }

    fn draw(self, draws: &mut Draws) -> f64 {
        match self {
            Law::Exact(value) => value,
            Law::Normal { mean, u } => mean + u * draws.normal(),
            Law::StudentT { mean, scale, nu } => mean + scale * draws.student(nu),
            Law::Rectangular { low, high } => low + (high - low) * draws.uniform(),
            Law::Triangular { low, high } => {
                low + (high - low) / 2.0 * (draws.uniform() + draws.uniform())
            }
            Law::Trapezoidal { low, high, beta } => {
                let (r1, r2) = (draws.uniform(), draws.uniform());
                low + (high - low) / 2.0 * ((1.0 + beta) * r1 + (1.0 - beta) * r2)
            }
            Law::ArcSine { low, high } => {
                // The cosine of twice a random angle, from a point of the disc.
                let (x, y, square) = draws.disc();
                f64::midpoint(low, high) + (high - low) / 2.0 * ((x * x - y * y) / square)
            }
            Law::CurvilinearTrapezoid { low, high, d } => {
                let from = (low - d) + 2.0 * d * draws.uniform();
                let to = (low + high) - from;
                from + (to - from) * draws.uniform()
            }
        }
    }
}

/// Random numbers from a seed.
struct Draws {
    bits: Xoshiro256PlusPlus,
    /// The second of a pair of normal numbers.
    spare: Option<f64>,
}

impl Draws {
    fn new(seed: u64) -> Draws {
        Draws {
            bits: Xoshiro256PlusPlus::seed_from_u64(seed),
            spare: None,
        }
    }

    /// Above 0 and below 1, in steps of 2⁻⁵³ from the middle of the first.
    fn uniform(&mut self) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "53 bits are exact")]
        let whole = (self.bits.next_u64() >> 11) as f64;
        (whole + 0.5) * (0.5_f64).powi(53)
    }

    /// A point of the unit disc but its centre, and the square of its distance from there.
    fn disc(&mut self) -> (f64, f64, f64) {
        loop {
            let (x, y) = (2.0 * self.uniform() - 1.0, 2.0 * self.uniform() - 1.0);
            let square = x * x + y * y;
            if square < 1.0 && square > 0.0 {
                return (x, y, square);
            }
        }
    }

    /// Standard normal: JCGM 101:2008, C.4, in the polar form that needs no sine (Marsaglia and Bray, 1964).
    fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        let (x, y, square) = self.disc();
        let factor = (-2.0 * libm::log(square) / square).sqrt();
        self.spare = Some(y * factor);
        x * factor
    }

    /// Central t with any real ν > 0 (Bailey, Mathematics of Computation 62 (1994), 779–781).
    fn student(&mut self, nu: f64) -> f64 {
        if nu.is_infinite() {
            return self.normal();
        }
        let (x, _, square) = self.disc();
        let more = libm::expm1(-2.0 / nu * libm::log(square));
        x * (nu * more / square).sqrt()
    }
}

/// An input that is not drawn by itself.
#[derive(Clone, Debug)]
enum Drawn {
    One(Law),
    /// Jointly normal: means and the lower triangle of the covariance's Cholesky factor.
    Joint(Vec<f64>, Vec<Vec<f64>>),
}

/// The inputs of a model, in the order in which it gets their drawn values.
#[derive(Clone, Debug, Default)]
pub struct Inputs {
    drawn: Vec<Drawn>,
    count: usize,
}

/// Why inputs or a run make no result.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MonteCarloProblem {
    /// What is wrong, in words.
    pub message: String,
}

fn problem(message: impl Into<String>) -> MonteCarloProblem {
    MonteCarloProblem {
        message: message.into(),
    }
}

impl Inputs {
    /// None.
    #[must_use]
    pub fn new() -> Inputs {
        Inputs::default()
    }

    /// One more input, drawn independently of the others; its place among the drawn values. A source that
    /// enters the model in several places is one input.
    pub fn add(&mut self, law: Law) -> usize {
        self.drawn.push(Drawn::One(law));
        self.count += 1;
        self.count - 1
    }

    /// Jointly normal inputs with their covariances, row by row; the place of the first of them.
    ///
    /// # Errors
    /// Sizes that don't fit, or a matrix that is no covariance. Source: JCGM 101:2008, 6.4.8 and C.5.
    pub fn add_joint_normal(
        &mut self,
        means: &[f64],
        covariance: &[Vec<f64>],
    ) -> Result<usize, MonteCarloProblem> {
        let n = means.len();
        if covariance.len() != n || covariance.iter().any(|row| row.len() != n) {
            return Err(problem(format!(
                "{n} means need a covariance of {n} rows with {n} numbers each"
            )));
        }
        let factor = cholesky(covariance)
            .ok_or_else(|| problem("the covariances are those of no joint normal law"))?;
        self.drawn.push(Drawn::Joint(means.to_vec(), factor));
        let first = self.count;
        self.count += n;
        Ok(first)
    }

    /// Draws all inputs so many times and gives the distribution of the model's values. The model gives `None`,
    /// or no finite number, outside its domain: such trials are counted, and the rest is the result.
    ///
    /// # Errors
    /// Fewer than two trials inside the domain, or a probability that is not between 0 and 1.
    /// Source: JCGM 101:2008, 7.2 to 7.7.
    pub fn run(
        &self,
        trials: usize,
        seed: u64,
        probability: f64,
        model: impl Fn(&[f64]) -> Option<f64>,
    ) -> Result<MonteCarlo, MonteCarloProblem> {
        if !(probability > 0.0 && probability < 1.0) {
            return Err(problem("a coverage probability lies between 0 and 1"));
        }
        let mut draws = Draws::new(seed);
        let mut drawn = Vec::with_capacity(self.count);
        let mut normals = Vec::new();
        let mut values = Vec::with_capacity(trials);
        for _ in 0..trials {
            drawn.clear();
            for input in &self.drawn {
                match input {
                    Drawn::One(law) => drawn.push(law.draw(&mut draws)),
                    Drawn::Joint(means, factor) => {
                        normals.clear();
                        normals.extend(means.iter().map(|_| draws.normal()));
                        for (mean, row) in means.iter().zip(factor) {
                            let terms = row.iter().zip(&normals);
                            let sum = terms.fold(0.0, |sum, (l, z)| sum + l * z);
                            drawn.push(mean + sum);
                        }
                    }
                }
            }
            values.extend(model(&drawn).filter(|value| value.is_finite()));
        }
        MonteCarlo::of(values, trials, seed, probability)
            .ok_or_else(|| problem("fewer than two trials lie where the model can be computed"))
    }
}

/// The lower triangle L with L·Lᵀ = V; `None` where V is not symmetric or not positive semidefinite.
#[expect(
    clippy::indexing_slicing,
    reason = "the matrix was seen to be square, and the loops stay inside"
)]
fn cholesky(v: &[Vec<f64>]) -> Option<Vec<Vec<f64>>> {
    let n = v.len();
    let mut l: Vec<Vec<f64>> = Vec::with_capacity(n);
    for i in 0..n {
        let mut row = vec![0.0; i + 1];
        for j in 0..i {
            let size = 1e-12 * (v[i][i] * v[j][j]).abs().sqrt();
            if (v[i][j] - v[j][i]).abs() > size {
                return None;
            }
            let inner: f64 = (0..j).map(|k| row[k] * l[j][k]).sum();
            let rest = v[i][j] - inner;
            let below: f64 = l[j][j];
            row[j] = if below > 0.0 { rest / below } else { 0.0 };
            if below == 0.0 && rest.abs() > size {
                return None;
            }
        }
        let square: f64 = (0..i).map(|k| row[k] * row[k]).sum();
        let rest = v[i][i] - square;
        // Fully correlated inputs leave nothing but rounding.
        if !rest.is_finite() || rest < -1e-12 * v[i][i].abs() {
            return None;
        }
        row[i] = if rest <= 1e-14 * v[i][i] {
            0.0
        } else {
            rest.sqrt()
        };
        l.push(row);
    }
    Some(l)
}

/// An interval of values.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl Interval {
    /// How wide it is.
    #[must_use]
    pub fn width(self) -> f64 {
        self.high - self.low
    }
}

/// The distribution of a model's values.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MonteCarlo {
    /// Trials, those outside the domain among them.
    pub trials: usize,
    /// Trials outside the model's domain.
    pub failures: usize,
    /// The seed.
    pub seed: u64,
    /// Coverage probability p.
    pub probability: f64,
    /// Mean of the values (7.6, formula 16).
    pub mean: f64,
    /// Standard uncertainty u: their standard deviation (formula 17).
    pub u: f64,
    /// Probabilistically symmetric coverage interval (7.7.2).
    pub symmetric: Interval,
    /// Shortest coverage interval (7.7.4).
    pub shortest: Interval,
    /// How far the ends of the symmetric interval may be off by chance, two standard deviations.
    pub doubt: Interval,
}

impl MonteCarlo {
    fn of(mut values: Vec<f64>, trials: usize, seed: u64, probability: f64) -> Option<MonteCarlo> {
        let m = values.len();
        let first = *values.first().filter(|_| m >= 2)?;
        #[expect(clippy::cast_precision_loss, reason = "far below 2⁵³")]
        let count = m as f64;
        // From the first value, so that a large common offset costs no digits.
        let shift = values.iter().fold(0.0, |sum, value| sum + (value - first)) / count;
        let squares = values.iter().fold(0.0, |sum, value| {
            let off = value - first - shift;
            sum + off * off
        });
        values.sort_unstable_by(f64::total_cmp);
        let rank = |share: f64| {
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "a share of the count"
            )]
            let whole = (share + 0.5).max(0.0) as usize;
            whole
        };
        // 7.7.2: q = pM or the nearest whole number; r = (M − q)/2, rounded up.
        let q = rank(probability * count).clamp(1, m - 1);
        let r = (m - q).div_ceil(2);
        let at = |rank: usize| values.get(rank.clamp(1, m) - 1).copied().unwrap_or(first);
        let symmetric = Interval {
            low: at(r),
            high: at(r + q),
        };
        let mut shortest = symmetric;
        for r in 1..=(m - q) {
            let here = Interval {
                low: at(r),
                high: at(r + q),
            };
            if here.width() < shortest.width() {
                shortest = here;
            }
        }
        // The rank of a quantile is binomial: two of its standard deviations, as values (order statistics).
        let tail = (1.0 - probability) / 2.0;
        let wander = rank(2.0 * (count * tail * (1.0 - tail)).sqrt());
        let doubt = |rank: usize| (at(rank + wander) - at(rank.saturating_sub(wander))) / 2.0;
        Some(MonteCarlo {
            trials,
            failures: trials - m,
            seed,
            probability,
            mean: first + shift,
            u: (squares / (count - 1.0)).sqrt(),
            symmetric,
            shortest,
            doubt: Interval {
                low: doubt(r),
                high: doubt(r + q),
            },
        })
    }

    /// The linear result y ± U held against this one, with so many significant digits of u that matter.
    ///
    /// Source: JCGM 101:2008, 8.1.
    #[expect(non_snake_case, reason = "U is the letter of the GUM")]
    #[must_use]
    pub fn validate(&self, y: f64, U: f64, digits: u32) -> Validation {
        let tolerance = numerical_tolerance(self.u, digits);
        let d_low = ((y - U) - self.symmetric.low).abs();
        let d_high = ((y + U) - self.symmetric.high).abs();
        let ends = [(d_low, self.doubt.low), (d_high, self.doubt.high)];
        let differs = ends.iter().any(|(d, doubt)| d - doubt > tolerance);
        let agrees = ends.iter().all(|(d, doubt)| d + doubt <= tolerance);
        Validation {
            tolerance,
            d_low,
            d_high,
            linear_result_trusted: self.failures == 0 && d_low <= tolerance && d_high <= tolerance,
            beyond_chance: self.failures > 0 || differs || agrees,
        }
    }
}

/// The numerical tolerance δ of a standard uncertainty of which so many significant digits matter: with
/// u = c·10^l, c of so many digits, δ = 10^l/2. Source: JCGM 101:2008, 7.9.2.
#[must_use]
pub fn numerical_tolerance(u: f64, digits: u32) -> f64 {
    if !(u.is_finite() && u > 0.0) {
        return 0.0;
    }
    let decimals = usize::try_from(digits.max(1) - 1).unwrap_or(0);
    // Decimal text rounds as it is defined: 0.0996 to two digits is 0.10, and l that of 0.10.
    let text = format!("{u:.decimals$e}");
    let exponent = text
        .rsplit_once('e')
        .and_then(|(_, exponent)| exponent.parse::<i32>().ok());
    let digits = i32::try_from(digits.max(1)).unwrap_or(1);
    exponent.map_or(0.0, |exponent| {
        let text = format!("5e{}", exponent - digits);
        text.parse().unwrap_or(0.0)
    })
}

/// A linear result held against a Monte Carlo one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Validation {
    /// Numerical tolerance δ.
    pub tolerance: f64,
    /// |y − U − y_low|.
    pub d_low: f64,
    /// |y + U − y_high|.
    pub d_high: f64,
    /// Both ends agree within δ, and no trial left the model's domain.
    pub linear_result_trusted: bool,
    /// With other draws the answer would be the same, as far as two standard deviations of the ends tell.
    pub beyond_chance: bool,
}

#[cfg(test)]
#[path = "monte_carlo_published.rs"]
mod published;

#[cfg(test)]
#[path = "monte_carlo_tests.rs"]
mod tests;
