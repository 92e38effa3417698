//! Linear least squares: any model that is a sum of given terms with unknown factors, polynomials among them.
//!
//! Solved by the normal equations XᵀX·b = Xᵀy in exact fractions, so that their squared condition costs nothing:
//! for numbers as they are written every digit of b is right. Source of the statistics: NIST Statistical Reference
//! Datasets, linear least squares (residual standard deviation √(S/(n − p)), standard deviations of b from it and
//! the diagonal of (XᵀX)⁻¹, R²).
//!
//! Condition number: κ = √(‖G‖·‖G⁻¹‖) in the Frobenius norm, G being XᵀX with its columns scaled to unit length: an
//! upper bound of the condition of the scaled X, by which relative changes of the readings can grow in b. Beyond
//! κ = 2⁴⁶ there is no answer: readings would have to be known to more than 14 digits for b to have one.

#![expect(
    clippy::indexing_slicing,
    reason = "square matrices of one size, swept by loops over it; the tests sweep the published sets"
)]

use num_bigint::BigInt;
use num_integer::Integer as _;
use num_rational::BigRational;
use num_traits::{One as _, Zero as _};

use super::fit_line::KAPPA_MOST;
use super::problem::GeometryProblem;
use crate::quantity::{Exact, Number};
use crate::uncertainty::Uncertain;

/// A linear model by least squares.
#[derive(Clone, Debug)]
pub struct LinearFit {
    /// The factors b, exact.
    pub b: Vec<Exact>,
    /// Standard deviations of b from the residual scatter alone; 0 without degrees of freedom.
    pub sd_b: Vec<f64>,
    /// (XᵀX)⁻¹: times s² the covariances of b.
    pub inverse: Vec<Vec<f64>>,
    /// Sum of squared residuals S, exact.
    pub residual_squares: Exact,
    /// Residual standard deviation s = √(S/(n − p)); `None` without degrees of freedom.
    pub s: Option<f64>,
    /// Degrees of freedom n − p.
    pub nu: f64,
    /// Condition number κ; see the head of the module's source.
    pub kappa: f64,
    /// ∂b_j/∂y_i: a row for each reading.
    pub by_reading: Vec<Vec<f64>>,
}

impl LinearFit {
    /// A factor with the uncertainty of the readings, in their order; the scatter is left out.
    #[must_use]
    pub fn factor_of(&self, place: usize, readings: &[Uncertain]) -> Option<Uncertain> {
        let value = self.b.get(place)?.clone();
        let terms: Vec<(&Uncertain, f64)> = readings
            .iter()
            .zip(&self.by_reading)
            .filter_map(|(reading, row)| Some((reading, *row.get(place)?)))
            .collect();
        Some(Uncertain::linear(Number::Exact(value), &terms))
    }

    /// R² = 1 − S/Σ(y − ȳ)², or with Σy² for a model without a constant; `None` for readings that are all equal.
    #[must_use]
    pub fn r_squared(&self, readings: &[Exact], with_constant: bool) -> Option<f64> {
        let n = Exact::from_integer(i64::try_from(readings.len()).ok()?);
        let squares: Exact = readings.iter().map(|y| y.mul(y)).sum();
        let total = if with_constant {
            let sum: Exact = readings.iter().sum();
            squares.sub(&sum.mul(&sum).checked_div(&n)?)
        } else {
            squares
        };
        let share = self.residual_squares.checked_div(&total)?;
        Some(Exact::ONE.sub(&share).to_f64())
    }
}

/// The factors b of `rows`·b ≈ `readings`: each row the terms of one reading.
///
/// # Errors
/// No terms; another number of rows than readings; rows of different lengths; fewer readings than terms; terms that
/// the rows do not tell apart, or so badly that κ is beyond 2⁴⁶.
pub fn fit_linear(rows: &[Vec<Exact>], readings: &[Exact]) -> Result<LinearFit, GeometryProblem> {
    let terms = rows.first().map_or(0, Vec::len);
    let fits = rows.len() == readings.len() && rows.iter().all(|row| row.len() == terms);
    if terms == 0 || !fits || rows.len() < terms {
        return Err(GeometryProblem::new(
            "too_few_readings",
            format!("{} readings for {terms} unknown factors", readings.len()),
            "a reading for each row of terms, and as many as there are factors at least",
        ));
    }
    let system = Whole::of(rows, readings, terms);
    let alike = || {
        GeometryProblem::new(
            "ill_conditioned",
            "the readings do not tell the unknown factors apart",
            "readings at more places, or farther apart",
        )
    };
    let gram = system.gram();
    let (adjugate, determinant) = adjugate(&gram).ok_or_else(alike)?;
    let ratio = |over: BigInt, under: BigInt| BigRational::new(over, under);
    let inverse: Vec<Vec<f64>> = (0..terms)
        .map(|j| {
            let one = |k: usize| {
                let scales = &system.scales[j] * &system.scales[k];
                Exact::from_big(ratio(&adjugate[j][k] * scales, determinant.clone())).to_f64()
            };
            (0..terms).map(one).collect()
        })
        .collect();
    let kappa = condition(&gram, &adjugate, &determinant);
    if kappa > KAPPA_MOST {
        return Err(alike());
    }
    let right = system.right();
    let solved: Vec<BigInt> = adjugate.iter().map(|row| times(row, &right)).collect();
    let b: Vec<Exact> = solved
        .iter()
        .zip(&system.scales)
        .map(|(one, scale)| {
            Exact::from_big(ratio(one * scale, &determinant * &system.reading_scale))
        })
        .collect();
    let squares = times(&system.readings, &system.readings) * &determinant - times(&solved, &right);
    let reading_square = &system.reading_scale * &system.reading_scale;
    let residual_squares = Exact::from_big(ratio(squares, &determinant * reading_square));
    let free = rows.len() - terms;
    #[expect(clippy::cast_precision_loss, reason = "a number of readings")]
    let nu = free as f64;
    let s = (free > 0).then(|| (residual_squares.to_f64() / nu).sqrt());
    let scatter = s.unwrap_or(0.0);
    let sd_b = (0..terms).map(|j| scatter * inverse[j][j].sqrt()).collect();
    let by_reading = system
        .rows
        .iter()
        .map(|row| {
            let weight = |(line, scale): (&Vec<BigInt>, &BigInt)| {
                Exact::from_big(ratio(times(line, row) * scale, determinant.clone())).to_f64()
            };
            adjugate.iter().zip(&system.scales).map(weight).collect()
        })
        .collect();
    Ok(LinearFit {
        b,
        sd_b,
        inverse,
        residual_squares,
        s,
        nu,
        kappa,
        by_reading,
    })
}

fn times(row: &[BigInt], vector: &[BigInt]) -> BigInt {
    row.iter().zip(vector).map(|(a, b)| a * b).sum()
}

/// The rows and readings as whole numbers: each column times the least number that clears its fractions.
struct Whole {
    rows: Vec<Vec<BigInt>>,
    scales: Vec<BigInt>,
    readings: Vec<BigInt>,
    reading_scale: BigInt,
}

impl Whole {
    fn of(rows: &[Vec<Exact>], readings: &[Exact], terms: usize) -> Whole {
        let clearing = |column: &mut dyn Iterator<Item = &BigRational>| {
            column.fold(BigInt::one(), |scale, one| scale.lcm(one.denom()))
        };
        let cleared = |one: &BigRational, scale: &BigInt| one.numer() * (scale / one.denom());
        let big: Vec<Vec<BigRational>> = rows
            .iter()
            .map(|row| row.iter().map(Exact::to_big).collect())
            .collect();
        let scales: Vec<BigInt> = (0..terms)
            .map(|j| clearing(&mut big.iter().map(|row| &row[j])))
            .collect();
        let read: Vec<BigRational> = readings.iter().map(Exact::to_big).collect();
        let reading_scale = clearing(&mut read.iter());
        Whole {
            rows: big
                .iter()
                .map(|row| {
                    row.iter()
                        .zip(&scales)
                        .map(|(one, scale)| cleared(one, scale))
                        .collect()
                })
                .collect(),
            readings: read
                .iter()
                .map(|one| cleared(one, &reading_scale))
                .collect(),
            scales,
            reading_scale,
        }
    }

    fn gram(&self) -> Vec<Vec<BigInt>> {
        let terms = self.scales.len();
        let product = |j: usize, k: usize| self.rows.iter().map(|row| &row[j] * &row[k]).sum();
        (0..terms)
            .map(|j| (0..terms).map(|k| product(j, k)).collect())
            .collect()
    }

    fn right(&self) -> Vec<BigInt> {
        let product = |j: usize| {
            let both = self.rows.iter().zip(&self.readings);
            both.map(|(row, y)| &row[j] * y).sum()
        };
        (0..self.scales.len()).map(product).collect()
    }
}

/// The polynomial b_0 + b_1·(x − x_0) + … of a degree through readings `y` at `x`. An x_0 near the places keeps κ
/// small, whatever their offset.
///
/// # Errors
/// Those of [`fit_linear`]: fewer readings than factors, fewer different places than factors.
pub fn fit_polynomial(
    points: &[(Exact, Exact)],
    degree: usize,
    x_0: &Exact,
) -> Result<LinearFit, GeometryProblem> {
    let rows: Vec<Vec<Exact>> = points
        .iter()
        .map(|(x, _)| {
            let from = x.sub(x_0);
            let powers = std::iter::successors(Some(Exact::ONE), |last| Some(last.mul(&from)));
            powers.take(degree + 1).collect()
        })
        .collect();
    let readings: Vec<Exact> = points.iter().map(|(_, y)| y.clone()).collect();
    fit_linear(&rows, &readings)
}

/// The adjugate and the determinant of a positive definite matrix, by elimination without fractions (E. H. Bareiss,
/// Mathematics of Computation 22 (1968), 565–578): every division comes out even. `None` where a pivot is zero.
fn adjugate(matrix: &[Vec<BigInt>]) -> Option<(Vec<Vec<BigInt>>, BigInt)> {
    let size = matrix.len();
    let mut rows: Vec<Vec<BigInt>> = matrix
        .iter()
        .enumerate()
        .map(|(place, row)| {
            let unit = (0..size).map(|k| BigInt::from(u8::from(k == place)));
            row.iter().cloned().chain(unit).collect()
        })
        .collect();
    let mut before = BigInt::one();
    for column in 0..size {
        // The pivots are the leading minors, above zero as long as the columns differ.
        let pivot = rows[column][column].clone();
        if pivot.is_zero() {
            return None;
        }
        let lead = rows[column].clone();
        for (place, row) in rows.iter_mut().enumerate() {
            if place == column {
                continue;
            }
            let factor = row[column].clone();
            for (own, above) in row.iter_mut().zip(&lead) {
                *own = (&*own * &pivot - &factor * above) / &before;
            }
        }
        before = pivot;
    }
    let right = rows.into_iter().map(|row| row[size..].to_vec()).collect();
    Some((right, before))
}

/// √(‖G‖·‖G⁻¹‖) of the matrix scaled to a unit diagonal.
fn condition(gram: &[Vec<BigInt>], adjugate: &[Vec<BigInt>], determinant: &BigInt) -> f64 {
    let (mut own, mut inverse) = (0.0, 0.0);
    for j in 0..gram.len() {
        for k in 0..gram.len() {
            // Squares of G_jk/√(G_jj·G_kk) and of (G⁻¹)_jk·√(G_jj·G_kk).
            let lengths = &gram[j][j] * &gram[k][k];
            let square = |one: &BigInt| one * one;
            own += quotient(square(&gram[j][k]), lengths.clone());
            inverse += quotient(square(&adjugate[j][k]) * lengths, square(determinant));
        }
    }
    (own.sqrt() * inverse.sqrt()).sqrt().max(1.0)
}

fn quotient(over: BigInt, under: BigInt) -> f64 {
    Exact::from_big(BigRational::new(over, under)).to_f64()
}

#[cfg(test)]
#[path = "fit_linear_tests.rs"]
mod tests;
