//! Linear systems decided by elimination, sharing nothing with the simplex.
//!
//! Source: J. Fourier, 1826, and T. Motzkin, 1936: a number is eliminated by adding each constraint that bounds it from
//! below to each that bounds it from above.

use crate::quantity::Exact;

/// Σ factor · number + constant >= 0, strict: > 0.
#[derive(Clone, Debug)]
pub(super) struct Inequality {
    pub(super) factors: Vec<Exact>,
    pub(super) constant: Exact,
    pub(super) strict: bool,
}

impl Inequality {
    pub(super) fn complement(&self) -> Inequality {
        Inequality {
            factors: self.factors.iter().map(Exact::neg).collect(),
            constant: self.constant.neg(),
            strict: !self.strict,
        }
    }

    pub(super) fn holds_at(&self, point: &[Exact]) -> bool {
        let products = self.factors.iter().zip(point).map(|(a, x)| a.mul(x));
        let sign = products.sum::<Exact>().add(&self.constant).signum();
        if self.strict { sign > 0 } else { sign >= 0 }
    }

    /// This over the absolute value of a factor.
    fn scaled(&self, number: usize) -> Inequality {
        let by = Exact::ONE.checked_div(&self.factors[number].abs()).unwrap();
        Inequality {
            factors: self.factors.iter().map(|a| a.mul(&by).lowest()).collect(),
            constant: self.constant.mul(&by).lowest(),
            strict: self.strict,
        }
    }

    fn plus(&self, other: &Inequality) -> Inequality {
        let pairs = self.factors.iter().zip(&other.factors);
        Inequality {
            factors: pairs.map(|(a, b)| a.add(b)).collect(),
            constant: self.constant.add(&other.constant),
            strict: self.strict || other.strict,
        }
    }
}

/// What is left when every number but one is eliminated (`None`: every number).
fn eliminated(system: &[Inequality], numbers: usize, keep: Option<usize>) -> Vec<Inequality> {
    let mut system = system.to_vec();
    for number in (0..numbers).filter(|&number| Some(number) != keep) {
        let of_sign = |sign: i32| {
            let fitting = system
                .iter()
                .filter(move |one| one.factors[number].signum() == sign);
            fitting.cloned().collect::<Vec<_>>()
        };
        let mut next = of_sign(0);
        for low in of_sign(1) {
            for high in of_sign(-1) {
                next.push(low.scaled(number).plus(&high.scaled(number)));
            }
        }
        system = next;
    }
    system
}

pub(super) fn can_hold(system: &[Inequality], numbers: usize) -> bool {
    let rest = eliminated(system, numbers, None);
    rest.iter()
        .all(|one| one.holds_at(&vec![Exact::ZERO; numbers]))
}

type End = Option<(Exact, bool)>;

/// The ends of one number in a system that can hold.
pub(super) fn range(system: &[Inequality], numbers: usize, number: usize) -> (End, End) {
    let (mut least, mut greatest): (End, End) = (None, None);
    for one in eliminated(system, numbers, Some(number)) {
        let factor = &one.factors[number];
        let Some(at) = one.constant.neg().checked_div(factor) else {
            continue;
        };
        let end = (at, !one.strict);
        let (side, tighter) = if factor.signum() > 0 {
            let tighter = least
                .as_ref()
                .is_none_or(|(old, belongs)| end.0 > *old || (end.0 == *old && *belongs && !end.1));
            (&mut least, tighter)
        } else {
            let tighter = greatest
                .as_ref()
                .is_none_or(|(old, belongs)| end.0 < *old || (end.0 == *old && *belongs && !end.1));
            (&mut greatest, tighter)
        };
        if tighter {
            *side = Some(end);
        }
    }
    (least, greatest)
}
