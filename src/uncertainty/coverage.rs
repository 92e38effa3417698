//! Coverage factors k(p, ν) from Student's t distribution (JCGM 100:2008, G.3 and Table G.2), for any real
//! number of degrees of freedom.
//!
//! Two ways to one number. [`exact_factor`] solves the distribution function by Newton's method on a
//! Gauss–Legendre quadrature: right to about 1e-14, some ten microseconds a call. [`Coverage::factor`] reads
//! it from polynomials in 1/ν over 32 equal pieces of 0 < 1/ν ≤ 1, each built from [`exact_factor`] when it
//! is first asked for (those of 95 % are written down in `ninety_five`): within 1e-11 of it, a few nanoseconds a call, and the same number warm or cold because
//! the polynomial answers in both cases.
//!
//! The quadrature is our own because the usual routes lose digits where they are needed: a quantile through
//! the incomplete beta function cancels as ν grows (1e-8 at ν = 3,000).

#![expect(
    clippy::indexing_slicing,
    reason = "fixed tables; every index is bounded in the line above it, and the tests sweep them all"
)]

use std::f64::consts::PI;
use std::sync::OnceLock;

use super::ninety_five;

/// Positive abscissas and weights of the 16-point Gauss–Legendre rule on −1 to 1 (recomputed in 40 digits).
const GAUSS_LEGENDRE: [(f64, f64); 8] = [
    (0.095_012_509_837_637_44, 0.189_450_610_455_068_5),
    (0.281_603_550_779_258_9, 0.182_603_415_044_923_6),
    (0.458_016_777_657_227_4, 0.169_156_519_395_002_54),
    (0.617_876_244_402_643_7, 0.149_595_988_816_576_73),
    (0.755_404_408_355_003, 0.124_628_971_255_533_87),
    (0.865_631_202_387_831_7, 0.095_158_511_682_492_78),
    (0.944_575_023_073_232_6, 0.062_253_523_938_647_89),
    (0.989_400_934_991_649_9, 0.027_152_459_411_754_095),
];

/// Integral of `f` from `a` to `b` by 16-point Gauss–Legendre.
fn gauss_legendre(f: impl Fn(f64) -> f64, a: f64, b: f64) -> f64 {
    let (half, middle) = ((b - a) / 2.0, f64::midpoint(a, b));
    let sum: f64 = GAUSS_LEGENDRE
        .iter()
        .map(|&(x, w)| w * (f(middle - half * x) + f(middle + half * x)))
        .sum();
    sum * half
}

/// Integral of `f` from `a` to `b` in panels no wider than `widest`.
fn integral(f: impl Fn(f64) -> f64 + Copy, a: f64, b: f64, widest: f64) -> f64 {
    let panels = ((b - a) / widest).ceil().max(1.0);
    let step = (b - a) / panels;
    let mut total = 0.0;
    let mut done = 0.0;
    while done < panels {
        let part = gauss_legendre(f, a + step * done, a + step * (done + 1.0));
        total += part;
        done += 1.0;
        // The density only falls: once a panel adds nothing, no later one does.
        if part < total * 1e-18 {
            break;
        }
    }
    total
}

/// Γ((ν + 1)/2) / (Γ(ν/2)·√(ν/2)), for ν > 0: Stirling's series for the ratio, from ν ≥ 60 down by recurrence.
fn gamma_ratio(nu: f64) -> f64 {
    const SERIES: [f64; 9] = [
        1.0,
        -1.0 / 4.0,
        1.0 / 32.0,
        5.0 / 128.0,
        -21.0 / 2048.0,
        -399.0 / 8192.0,
        869.0 / 65536.0,
        39325.0 / 262_144.0,
        -334_477.0 / 8_388_608.0,
    ];
    let mut high = nu;
    let mut factor = 1.0;
    while high < 60.0 {
        factor *= high / (high + 1.0);
        high += 2.0;
    }
    let series = SERIES.iter().rev().fold(0.0, |sum, c| sum / high + c);
    factor * series * (high / nu).sqrt()
}

/// The distribution of |T| in the variable v, where t = √ν·sinh v: the density is c·cosh(v) to the power −ν, smooth and
/// falling, with no long tail. ν = ∞ is the normal law with t = v.
#[derive(Clone, Copy)]
struct Folded {
    nu: f64,
    scale: f64,
    widest: f64,
}

impl Folded {
    fn new(nu: f64) -> Folded {
        if nu.is_infinite() {
            let scale = (2.0 / PI).sqrt();
            let widest = 2.0;
            return Folded { nu, scale, widest };
        }
        // 2·√ν·Γ((ν+1)/2)/(Γ(ν/2)·√(νπ)), with √(ν/2) taken into the ratio.
        let scale = (2.0 * nu / PI).sqrt() * gamma_ratio(nu);
        let widest = (2.0 / nu.sqrt()).min(1.0);
        Folded { nu, scale, widest }
    }

    fn density(self, v: f64) -> f64 {
        if self.nu.is_infinite() {
            return self.scale * (-v * v / 2.0).exp();
        }
        // ln cosh v = ln(1 + sinh² v)/2, exact for small v too.
        let s = v.sinh();
        self.scale * (-self.nu / 2.0 * (s * s).ln_1p()).exp()
    }

    fn between(self, a: f64, b: f64) -> f64 {
        integral(|v| self.density(v), a, b, self.widest)
    }

    /// What lies beyond `v`, to full relative accuracy.
    fn beyond(self, v: f64) -> f64 {
        // 60 panels of the widest kind (more below one degree of freedom, where the density falls as
        // e^(-nu v)): past them the density has fallen by more than 1e-19.
        let reach = 60.0 * self.widest / self.nu.min(1.0);
        integral(|v| self.density(v), v, v + reach, self.widest)
    }

    fn to_t(self, v: f64) -> f64 {
        if self.nu.is_infinite() {
            v
        } else {
            self.nu.sqrt() * v.sinh()
        }
    }

    fn variable_at(self, t: f64) -> f64 {
        if self.nu.is_infinite() {
            t
        } else {
            (t / self.nu.sqrt()).asinh()
        }
    }
}

/// k(p, ν): the t for which a share `p` of Student's distribution lies within ±t.
///
/// `p` above 0 and below 1, `nu` above 0, infinite allowed. Infinite when `nu` is not above 0 or not a number:
/// without a degree of freedom nothing is covered.
/// Source: JCGM 100:2008 (GUM), G.3.2 and Table G.2.
#[must_use]
pub fn exact_factor(p: f64, nu: f64) -> f64 {
    if nu.is_nan() || nu <= 0.0 {
        return f64::INFINITY;
    }
    let law = Folded::new(nu);
    let (mut v, mut covered) = (0.0, 0.0);
    // The distribution function is concave, so Newton's method from 0 rises to the root without passing it.
    for _ in 0..100 {
        let step = (p - covered) / law.density(v);
        if !step.is_finite() {
            break;
        }
        let next = v + step;
        covered += if step > 0.0 {
            law.between(v, next)
        } else {
            -law.between(next, v)
        };
        v = next;
        if step.abs() <= 1e-9 * v {
            // The next step would be the last. It is taken on the smaller of the two shares, so that a p
            // near 1 loses no digits.
            let missing = if p > 0.5 {
                law.beyond(v) - (1.0 - p)
            } else {
                p - covered
            };
            v += missing / law.density(v);
            break;
        }
    }
    law.to_t(v)
}

/// Share of Student's distribution within ±`t` (the normal law where `nu` is infinite); absolute error about
/// 1e-15. 0 for `t` not above 0 or `nu` not above 0.
#[must_use]
pub fn central_share(t: f64, nu: f64) -> f64 {
    if t.is_nan() || t <= 0.0 || nu.is_nan() || nu <= 0.0 {
        return 0.0;
    }
    if t.is_infinite() {
        return 1.0;
    }
    let law = Folded::new(nu);
    let v = law.variable_at(t);
    if t < 1.0 {
        law.between(0.0, v)
    } else {
        1.0 - law.beyond(v)
    }
}

/// Number of pieces of 0 < 1/ν ≤ 1.
const PIECES: usize = 32;
/// Coefficients of a piece: a polynomial of degree 7.
const TERMS: usize = 8;
/// Above this probability the pieces are not used: the factor at ν = 1 rises too steeply for them.
const STEEP: f64 = 0.9999;

/// Coverage factors for one coverage probability.
#[derive(Clone, Debug)]
pub struct Coverage {
    probability: f64,
    normal: OnceLock<f64>,
    pieces: [OnceLock<[f64; TERMS]>; PIECES],
}

impl Coverage {
    /// Coverage factors for a two-sided probability above 0 and below 1 (95 % is 0.95); `None` otherwise.
    #[must_use]
    pub fn new(probability: f64) -> Option<Coverage> {
        if probability.to_bits() == 0.95_f64.to_bits() {
            return Some(Coverage::ninety_five());
        }
        (probability > 0.0 && probability < 1.0).then(|| Coverage::unread(probability))
    }

    /// 95 %, the usual one. Its pieces are written down: to build them takes longer than to check a boat.
    #[must_use]
    pub fn ninety_five() -> Coverage {
        Coverage {
            probability: 0.95,
            normal: OnceLock::from(ninety_five::NORMAL),
            pieces: ninety_five::TERMS.map(OnceLock::from),
        }
    }

    /// No piece is built yet.
    fn unread(probability: f64) -> Coverage {
        Coverage {
            probability,
            normal: OnceLock::new(),
            pieces: [const { OnceLock::new() }; PIECES],
        }
    }

    /// The coverage probability.
    #[must_use]
    pub fn probability(&self) -> f64 {
        self.probability
    }

    /// The coverage factor k(p, ν) for any real `nu`; infinite `nu` gives the normal law's.
    ///
    /// Infinite when `nu` is not above 0 or not a number. Within 1e-11 of [`exact_factor`].
    #[must_use]
    #[inline]
    pub fn factor(&self, nu: f64) -> f64 {
        if nu == f64::INFINITY {
            return *self
                .normal
                .get_or_init(|| exact_factor(self.probability, f64::INFINITY));
        }
        let s = nu.recip();
        if !(s > 0.0 && s <= 1.0) || self.probability > STEEP {
            return exact_factor(self.probability, nu);
        }
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "s is above 0 and at most 1"
        )]
        let index = ((s * 32.0) as usize).min(PIECES - 1);
        let terms = self.pieces[index].get_or_init(|| piece(self.probability, index));
        let x = s * 64.0 - centre(index);
        // Estrin's order: short chains of multiplications, and no more rounding than Horner's.
        let x2 = x * x;
        let low = (terms[0] + terms[1] * x) + (terms[2] + terms[3] * x) * x2;
        let high = (terms[4] + terms[5] * x) + (terms[6] + terms[7] * x) * x2;
        low + high * (x2 * x2)
    }
}

/// Where x = 0 of a piece lies, in units of 1/64.
#[expect(clippy::cast_precision_loss, reason = "below 32")]
fn centre(index: usize) -> f64 {
    2.0 * index as f64 + 1.0
}

/// The polynomial of a piece through the factors at its eight Chebyshev–Lobatto points, as coefficients of
/// powers of x from −1 to 1.
fn piece(probability: f64, index: usize) -> [f64; TERMS] {
    #[expect(clippy::cast_precision_loss, reason = "below 8")]
    let angle = |i: usize| PI * i as f64 / (TERMS - 1) as f64;
    let mut nodes = [0.0; TERMS];
    let mut divided = [0.0; TERMS];
    for i in 0..TERMS {
        // The ends exactly, so that neighbouring pieces meet in the same factor.
        nodes[i] = if i == 0 {
            1.0
        } else if i == TERMS - 1 {
            -1.0
        } else {
            angle(i).cos()
        };
        let s = (nodes[i] + centre(index)) / 64.0;
        divided[i] = exact_factor(probability, s.recip());
    }
    // Newton's divided differences, then expanded to powers: well behaved for eight points on −1 to 1.
    for order in 1..TERMS {
        for i in (order..TERMS).rev() {
            divided[i] = (divided[i] - divided[i - 1]) / (nodes[i] - nodes[i - order]);
        }
    }
    let mut terms = [0.0; TERMS];
    for i in (0..TERMS).rev() {
        for power in (1..TERMS).rev() {
            terms[power] = terms[power - 1] - nodes[i] * terms[power];
        }
        terms[0] = divided[i] - nodes[i] * terms[0];
    }
    terms
}

#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]
mod tests {
    use super::*;

    fn close(a: f64, b: f64, relative: f64) -> bool {
        (a - b).abs() <= relative * b.abs()
    }

    /// `tests/data/t-quantiles.csv`: quantiles recomputed in 50 digits, for whole and fractional ν.
    #[test]
    fn exact_factors_agree_with_the_reference_in_50_digits() {
        let mut rows = 0;
        for line in include_str!("../../tests/data/t-quantiles.csv").lines() {
            if line.starts_with('#') || line.starts_with('p') {
                continue;
            }
            let fields: Vec<f64> = line
                .split(',')
                .map(|field| match field {
                    "inf" => f64::INFINITY,
                    field => field.parse().unwrap(),
                })
                .collect();
            let [p, nu, expected] = fields[..] else {
                panic!("three fields: {line}")
            };
            let found = exact_factor(p, nu);
            assert!(close(found, expected, 4e-14), "{line}: {found}");
            let quick = Coverage::new(p).unwrap().factor(nu);
            assert!(close(quick, expected, 1e-11), "{line}: {quick}");
            rows += 1;
        }
        assert!(rows > 150);
    }

    /// GUM Table G.2, all rows: two decimals as printed, six recomputed.
    #[test]
    fn gum_table_g2() {
        let shares = [0.6827, 0.90, 0.95, 0.9545, 0.99, 0.9973];
        let coverages: Vec<_> = shares.iter().map(|&p| Coverage::new(p).unwrap()).collect();
        let mut rows = 0;
        for line in include_str!("../../tests/data/gum-t-table.csv").lines() {
            if line.starts_with('#') || line.starts_with("nu") {
                continue;
            }
            let fields: Vec<&str> = line.split(',').collect();
            let nu = match fields[0] {
                "inf" => f64::INFINITY,
                field => field.parse().unwrap(),
            };
            for (i, coverage) in coverages.iter().enumerate() {
                let k = coverage.factor(nu);
                assert_eq!(format!("{k:.6}"), fields[7 + i], "{line}, column {i}");
                let printed: f64 = fields[1 + i].parse().unwrap();
                assert!((k - printed).abs() <= 0.005 + 1e-9, "{line}, column {i}");
            }
            rows += 1;
        }
        assert!(rows >= 26);
    }

    #[test]
    fn the_pieces_follow_the_exact_factors_everywhere() {
        for p in [0.5, 0.6827, 0.90, 0.95, 0.9545, 0.99, 0.9973, 0.9999] {
            let coverage = Coverage::new(p).unwrap();
            let mut worst = 0.0_f64;
            for i in 0..=4000 {
                let s = (f64::from(i) + 0.3) / 4000.3;
                let exact = exact_factor(p, s.recip());
                worst = worst.max((coverage.factor(s.recip()) / exact - 1.0).abs());
            }
            for exponent in 1..40 {
                let nu = 10_f64.powf(f64::from(exponent) / 2.0);
                let exact = exact_factor(p, nu.min(1e12));
                let relative = (coverage.factor(nu) / exact - 1.0).abs();
                assert!(relative <= 1e-11, "p {p}, nu {nu}: {relative:e}");
            }
            assert!(worst <= 1e-11, "p {p}: {worst:e}");
        }
    }

    #[test]
    fn the_factor_falls_as_degrees_of_freedom_rise() {
        for p in [0.6827, 0.95, 0.99, 0.9999] {
            let coverage = Coverage::new(p).unwrap();
            let mut last = coverage.factor(1.0);
            for i in 1..=20_000 {
                let k = coverage.factor((1.0 - f64::from(i) / 20_001.0).recip());
                assert!(k < last, "p {p}, step {i}");
                last = k;
            }
            assert!(coverage.factor(f64::INFINITY) <= last);
        }
    }

    /// Adding an uncertainty with infinite degrees of freedom multiplies u² by x and ν by x²; the product
    /// k·u may first fall and then rises for good. The largest-of rule for U rests on this.
    #[test]
    fn expanded_uncertainty_falls_and_then_rises_with_an_added_part() {
        for p in [0.6827, 0.90, 0.95, 0.99, 0.9973] {
            let coverage = Coverage::new(p).unwrap();
            for nu in [1.0, 1.5, 2.0, 3.0, 5.0, 10.0, 30.0, 200.0] {
                let mut rising = false;
                let mut last = f64::INFINITY;
                for i in 0..2000 {
                    let x = 1.01_f64.powi(i);
                    let expanded = coverage.factor(nu * x * x) * x.sqrt();
                    assert!(
                        !(rising && expanded < last * (1.0 - 1e-12)),
                        "p {p}, nu {nu}, x {x}"
                    );
                    rising = expanded > last;
                    last = expanded;
                }
                assert!(rising);
            }
        }
    }

    /// The numbers written down for 95 % are those that would be computed. The mathematical functions of
    /// another system may differ in the last digits.
    #[test]
    fn the_pieces_of_ninety_five_are_as_computed() {
        let normal = exact_factor(0.95, f64::INFINITY);
        let mut same = (ninety_five::NORMAL - normal).abs() <= 1e-14;
        let mut text = format!(
            "pub(super) const NORMAL: f64 = {normal:?};\n\npub(super) const TERMS: [[f64; 8]; 32] = [\n"
        );
        for (index, written) in ninety_five::TERMS.iter().enumerate() {
            let computed = piece(0.95, index);
            let pairs = written.iter().zip(&computed);
            same &= pairs.into_iter().all(|(a, b)| (a - b).abs() <= 1e-13);
            text.push_str(&format!("    {computed:?},\n"));
        }
        assert!(same, "{text}];");
        // A piece that is read is the piece that is built.
        let built = Coverage::unread(0.95);
        for i in 0..500 {
            let nu = 1.0 + f64::from(i * i) / 7.0;
            let (read, built) = (Coverage::ninety_five().factor(nu), built.factor(nu));
            assert!(close(read, built, 1e-14), "{nu}: {read} and {built}");
        }
    }

    #[test]
    fn warm_and_cold_answers_are_the_same_bits() {
        let warm = Coverage::new(0.9545).unwrap();
        for i in 0..500 {
            let nu = 1.0 + f64::from(i * i) / 7.0;
            let cold = Coverage::new(0.9545).unwrap().factor(nu);
            assert_eq!(warm.factor(nu).to_bits(), cold.to_bits());
            assert_eq!(warm.factor(nu).to_bits(), cold.to_bits());
        }
        assert_eq!(
            warm.factor(f64::INFINITY),
            exact_factor(0.9545, f64::INFINITY)
        );
    }

    #[test]
    fn the_share_within_the_factor_is_the_probability() {
        for p in [0.1, 0.6827, 0.95, 0.9973] {
            for nu in [0.4, 1.0, 1.7, 4.0, 33.3, 1e4, 1e7, f64::INFINITY] {
                let share = central_share(exact_factor(p, nu), nu);
                assert!((share - p).abs() < 1e-14, "p {p}, nu {nu}: {share}");
            }
        }
        assert_eq!(central_share(0.0, 3.0), 0.0);
        assert_eq!(central_share(f64::INFINITY, 3.0), 1.0);
        assert!((central_share(1e9, f64::INFINITY) - 1.0).abs() < 1e-14);
        assert!((central_share(1e9, 1e6) - 1.0).abs() < 1e-13);
    }

    #[test]
    fn nothing_is_covered_without_a_degree_of_freedom() {
        let coverage = Coverage::ninety_five();
        for nu in [0.0, -1.0, f64::NAN, f64::NEG_INFINITY] {
            assert_eq!(coverage.factor(nu), f64::INFINITY);
        }
        assert!(coverage.factor(0.5) > coverage.factor(1.0));
        for p in [0.0, 1.0, -0.5, 1.5, f64::NAN] {
            assert!(Coverage::new(p).is_none());
        }
        assert!(Coverage::new(0.999_999).unwrap().factor(1.0) > 6e5);
    }
}
