//! The parts of one value, in order of source and kind.
//!
//! A mean of repeats is by far the most common value. Its parts are kept as the few numbers that they are made
//! of, and written out when something is computed from them.

use smallvec::SmallVec;

use super::part::{Part, PartKind, Totals, totals_of_mean, totals_of_ordered};
use super::reading::SourceIds;

/// The parts of one value, one for each source, in order of source and kind.
#[derive(Clone, Debug, PartialEq)]
pub struct Parts(Form);

#[derive(Clone, Debug, PartialEq)]
enum Form {
    Mean(MeanParts),
    List(Vec<Part>),
}

/// What the parts of one mean of repeats are made of: standard uncertainties, base units.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct MeanParts {
    pub ids: SourceIds,
    pub scatter: f64,
    /// Degrees of freedom of the scatter.
    pub nu: f64,
    pub resolution: f64,
    pub permissible: f64,
    pub calibration: f64,
    /// The method's floor, an expanded uncertainty; 0 if none.
    pub floor: f64,
    /// All without the floor and the calibration, together.
    pub own: f64,
}

impl MeanParts {
    /// The parts, written out in their order.
    fn list(&self) -> SmallVec<[Part; 5]> {
        let mut parts = SmallVec::new();
        let mut put = |kind, source, group, u: f64, nu| {
            if u != 0.0 {
                parts.push(Part::new(kind, source, group, u, nu));
            }
        };
        let infinite = f64::INFINITY;
        let (mean, group, offset) = (self.ids.mean, self.ids.instrument, self.ids.calibration);
        let calibration = self.calibration;
        if offset < mean {
            put(PartKind::Calibration, offset, group, calibration, infinite);
        }
        put(
            PartKind::Repeatability,
            mean,
            self.ids.pool,
            self.scatter,
            self.nu,
        );
        put(PartKind::Resolution, mean, group, self.resolution, infinite);
        let kind = PartKind::MaximumPermissibleError;
        put(kind, mean, group, self.permissible, infinite);
        if offset == mean {
            put(PartKind::Calibration, offset, group, calibration, infinite);
        }
        if self.floor > 0.0 {
            let (floor, own) = (self.floor, self.own);
            parts.push(Part::method_floor(mean, offset, floor, own, calibration));
        }
        if offset > mean && calibration != 0.0 {
            let part = Part::new(PartKind::Calibration, offset, group, calibration, infinite);
            parts.push(part);
        }
        parts
    }
}

impl Parts {
    /// None.
    #[must_use]
    pub fn new() -> Parts {
        Parts(Form::List(Vec::new()))
    }

    /// Parts in any order; those of one source are added up.
    #[must_use]
    pub fn of(parts: impl IntoIterator<Item = Part>) -> Parts {
        let mut list: Vec<Part> = parts.into_iter().collect();
        normalise(&mut list);
        Parts(Form::List(list))
    }

    /// Those of a mean of repeats.
    pub(super) fn of_mean(mean: MeanParts) -> Parts {
        Parts(Form::Mean(mean))
    }

    /// Does something with all of them, written out.
    fn with<T>(&self, each: impl FnOnce(&[Part]) -> T) -> T {
        match &self.0 {
            Form::Mean(mean) => each(&mean.list()),
            Form::List(list) => each(list),
        }
    }

    /// All of them.
    #[must_use]
    pub fn to_vec(&self) -> Vec<Part> {
        self.with(<[Part]>::to_vec)
    }

    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.with(<[Part]>::is_empty)
    }

    /// `self·own + other·others`, source by source.
    pub(super) fn weighted_sum(&self, own: f64, other: &Parts, others: f64) -> Parts {
        self.with(|a| other.with(|b| weighted_sum(a, own, b, others)))
    }

    /// The parts times a factor.
    pub(super) fn times(&self, factor: f64) -> Parts {
        self.with(|parts| weighted_sum(parts, factor, &[], 0.0))
    }

    /// The sum of any number.
    pub(super) fn sum<'a>(all: impl Iterator<Item = &'a Parts>) -> Parts {
        let mut list = Vec::new();
        for parts in all {
            parts.with(|parts| list.extend_from_slice(parts));
        }
        normalise(&mut list);
        Parts(Form::List(list))
    }

    /// What they come to.
    pub(super) fn totals(&self) -> Totals {
        match &self.0 {
            Form::Mean(mean) => totals_of_mean(mean),
            Form::List(list) => totals_of_ordered(list),
        }
    }
}

impl Default for Parts {
    fn default() -> Parts {
        Parts::new()
    }
}

/// Brings parts into order and adds up those of one source; what cancels is left out.
pub(super) fn normalise(parts: &mut Vec<Part>) {
    if !parts.is_sorted_by_key(Part::key) {
        parts.sort_by_key(Part::key);
    }
    parts.dedup_by(|next, kept| {
        let same = next.key() == kept.key();
        if same {
            *kept = merged(*kept, next);
        }
        same
    });
    parts.retain(|part| part.u != 0.0);
}

fn merged(a: Part, b: &Part) -> Part {
    Part {
        u: cancelled(a.u, b.u),
        own: cancelled(a.own, b.own),
        own_offset: cancelled(a.own_offset, b.own_offset),
        nu: a.nu.min(b.nu),
        ..a
    }
}

/// The sum of two shares of one source; what is left by the rounding of their sensitivities is nothing.
fn cancelled(a: f64, b: f64) -> f64 {
    let sum = a + b;
    if sum.abs() <= 8.0 * f64::EPSILON * a.abs().max(b.abs()) {
        0.0
    } else {
        sum
    }
}

/// `a·fa + b·fb`, source by source, of parts that are in order.
fn weighted_sum(mut a: &[Part], fa: f64, mut b: &[Part], fb: f64) -> Parts {
    if fa == 0.0 {
        a = &[];
    }
    if fb == 0.0 {
        b = &[];
    }
    let mut list = Vec::with_capacity(a.len() + b.len());
    loop {
        let next = match (a, b) {
            ([x, rest_a @ ..], [y, rest_b @ ..]) => match x.key().cmp(&y.key()) {
                std::cmp::Ordering::Less => {
                    a = rest_a;
                    x.times(fa)
                }
                std::cmp::Ordering::Greater => {
                    b = rest_b;
                    y.times(fb)
                }
                std::cmp::Ordering::Equal => {
                    (a, b) = (rest_a, rest_b);
                    merged(x.times(fa), &y.times(fb))
                }
            },
            ([x, rest @ ..], []) => {
                a = rest;
                x.times(fa)
            }
            ([], [y, rest @ ..]) => {
                b = rest;
                y.times(fb)
            }
            ([], []) => return Parts(Form::List(list)),
        };
        if next.u != 0.0 {
            list.push(next);
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// The short way of a mean is the long way of its parts, to the last bit.
        #[test]
        fn a_mean_comes_to_what_its_parts_come_to(
            numbers in prop::array::uniform5(prop_oneof![Just(0.0), 1e-6..10.0_f64]),
            nu in prop_oneof![Just(f64::INFINITY), 1.0..200.0_f64],
            offset in 0_u32..3,
        ) {
            let [scatter, resolution, permissible, calibration, floor] = numbers;
            let own = if floor > 0.0 {
                (scatter * scatter + resolution * resolution + permissible * permissible).sqrt()
            } else {
                0.0
            };
            let ids = SourceIds { mean: 1, pool: 2, instrument: 3, calibration: offset };
            let mean = MeanParts { ids, scatter, nu, resolution, permissible, calibration, floor, own };
            let long = totals_of_ordered(&mean.list());
            let short = totals_of_mean(&mean);
            prop_assert_eq!(format!("{long:?}"), format!("{short:?}"));
        }
    }
}
