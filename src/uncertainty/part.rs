//! The parts of an uncertainty and how they combine (JCGM 100:2008, clauses 5.1, 5.2 and annex G.4).
//!
//! A part is one source's share: sensitivity times standard uncertainty, with its sign, so that a source that
//! enters twice adds up or cancels before anything is squared.

use super::parts::MeanParts;
use smallvec::SmallVec;

/// Where a part comes from. Within one kind, two parts with the same `source` are fully correlated.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PartKind {
    /// Scatter of repeated readings (Type A), or the instrument's stated repeatability.
    Repeatability,
    /// What the resolution adds where it is larger than the scatter (rectangular, half width r/2), or what the
    /// distance of stations leaves open between them (rectangular).
    Resolution,
    /// Maximum permissible error of the instrument (rectangular).
    MaximumPermissibleError,
    /// Calibration offset of the instrument: one source for all its readings of a dimension.
    Calibration,
    /// A value from a published table, such as an expansion coefficient or a conversion (rectangular): one source
    /// wherever it enters.
    Table,
    /// A temperature, or another condition of measuring, that was taken for that of what was measured.
    Condition,
    /// The method's floor. It adds what the reading's own uncertainty lacks of it; see [`Part::own`].
    MethodFloor,
}

/// One source's share of the uncertainty of one value. Base units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Part {
    /// Kind of source.
    pub kind: PartKind,
    /// Identity of the source within its kind: a calibration offset has one per instrument and dimension,
    /// every other kind one per mean of repeats.
    pub source: u32,
    /// For a maximum permissible error the instrument: its readings are combined once as independent and once
    /// as fully correlated, and the larger is kept. For repeatability the pool whose scatter was used: the
    /// means that share it share its degrees of freedom. For a method floor the source of the reading's
    /// calibration offset. Otherwise without meaning.
    pub group: u32,
    /// Sensitivity times standard uncertainty, with its sign; for a method floor half of the floor.
    pub u: f64,
    /// Degrees of freedom, infinite allowed.
    pub nu: f64,
    /// For a method floor: sensitivity times the standard uncertainty that the reading has without it, the
    /// calibration offset left out. Otherwise 0.
    pub own: f64,
    /// For a method floor: sensitivity times the standard uncertainty of the calibration offset. Otherwise 0.
    pub own_offset: f64,
}

impl Part {
    /// A part other than a method floor.
    #[must_use]
    pub fn new(kind: PartKind, source: u32, group: u32, u: f64, nu: f64) -> Part {
        Part {
            kind,
            source,
            group,
            u,
            nu,
            own: 0.0,
            own_offset: 0.0,
        }
    }

    /// The part of a method floor, an expanded uncertainty at k = 2, of the reading `source`, whose standard
    /// uncertainty without it is `own` and, from the calibration offset `calibration`, `own_offset`.
    #[must_use]
    pub fn method_floor(
        source: u32,
        calibration: u32,
        floor: f64,
        own: f64,
        own_offset: f64,
    ) -> Part {
        Part {
            kind: PartKind::MethodFloor,
            source,
            group: calibration,
            u: floor / 2.0,
            nu: f64::INFINITY,
            own,
            own_offset,
        }
    }

    pub(super) fn key(&self) -> (u32, PartKind) {
        (self.source, self.kind)
    }

    pub(super) fn times(mut self, factor: f64) -> Part {
        self.u *= factor;
        self.own *= factor;
        self.own_offset *= factor;
        self
    }
}

/// A combined standard uncertainty with its effective degrees of freedom.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Combined {
    /// Combined standard uncertainty u_c, not negative, base units.
    pub u: f64,
    /// Effective degrees of freedom ν_eff by Welch–Satterthwaite; infinite allowed.
    pub nu: f64,
}

impl Combined {
    /// No uncertainty.
    pub const ZERO: Combined = Combined {
        u: 0.0,
        nu: f64::INFINITY,
    };
}

/// Effective degrees of freedom of independent standard uncertainties `(u, ν)`:
/// ν_eff = u_c⁴ / Σ (u_i⁴/ν_i). Infinite when no part has finite degrees of freedom.
///
/// Source: JCGM 100:2008 (GUM), formula G.2b.
#[must_use]
pub fn welch_satterthwaite(parts: &[(f64, f64)]) -> Combined {
    let variances: SmallVec<[(f64, f64); 8]> = parts.iter().map(|&(u, nu)| (u * u, nu)).collect();
    let variance = variances.iter().fold(0.0, |sum, (square, _)| sum + square);
    from_variances(variance, &variances)
}

/// (u_i²/u_c²)²/ν_i: as ratios, so that no unit makes the fourth power overflow or vanish.
fn share(variance: f64, total: f64, nu: f64) -> f64 {
    if variance == 0.0 || nu.is_infinite() {
        return 0.0;
    }
    let ratio = variance / total;
    ratio * ratio / nu
}

/// Parts that are not independent of each other, gathered.
#[derive(Clone, Copy)]
struct Gathered {
    kind: PartKind,
    group: u32,
    independent: f64,
    correlated: f64,
    nu: f64,
}

/// What the parts come to.
#[derive(Clone, Debug)]
pub(super) struct Totals {
    /// Everything but the floors: plain GUM.
    pub plain: Combined,
    /// Repeatability with finite degrees of freedom alone: what was seen in repeats, not what is stated.
    pub type_a: Combined,
    /// Variances of the readings that have a floor: (half the floor)² and (own)², offset included.
    floored: SmallVec<[(f64, f64); 2]>,
    /// Variance beyond the own one of the floored readings; offsets that cancel between them count as nothing,
    /// not as less.
    others: f64,
}

/// Adds the parts up, which stand in order: repeatability by pool, maximum permissible errors by instrument,
/// once with r = 0 and once with r = 1, the larger kept; everything else by source. Sums are taken in one
/// order for any parts: first what stands alone, then group by group.
pub(super) fn totals_of_ordered(parts: &[Part]) -> Totals {
    let mut kinds = 0_u8;
    let one_of_each = parts.iter().all(|part| {
        let kind = 1 << part.kind as u8;
        let new = kinds & kind == 0;
        kinds |= kind;
        new
    });
    if one_of_each {
        totals_of_one_each(parts)
    } else {
        totals_of_groups(parts)
    }
}

/// The totals of one reading, or of several that share nothing of a kind: every group has one part.
fn totals_of_one_each(parts: &[Part]) -> Totals {
    let square = |part: &Part| part.u * part.u;
    let alone = || {
        let kinds = [
            PartKind::Resolution,
            PartKind::Calibration,
            PartKind::Table,
            PartKind::Condition,
        ];
        parts.iter().filter(move |part| kinds.contains(&part.kind))
    };
    let grouped = || {
        let kinds = [PartKind::Repeatability, PartKind::MaximumPermissibleError];
        parts.iter().filter(move |part| kinds.contains(&part.kind))
    };
    let variance = alone()
        .chain(grouped())
        .fold(0.0, |sum, part| sum + square(part));
    let finite = alone().chain(grouped()).filter(|part| part.nu.is_finite());
    let weight = finite.fold(0.0, |sum, part| {
        sum + share(square(part), variance, part.nu)
    });
    let seen = |part: &&Part| part.kind == PartKind::Repeatability && part.nu.is_finite();
    let type_a = parts.iter().find(seen).map_or(Combined::ZERO, |part| {
        from_variances(square(part), &[(square(part), part.nu)])
    });
    let mut totals = Totals {
        plain: from_weight(variance, weight),
        type_a,
        floored: SmallVec::new(),
        others: 0.0,
    };
    if parts.iter().any(|part| part.kind == PartKind::MethodFloor) {
        totals.take_floors(parts, variance);
    }
    totals
}

/// The totals of one mean of repeats, without writing its parts out: the same sums in the same order.
pub(super) fn totals_of_mean(mean: &MeanParts) -> Totals {
    let square = |u: f64| u * u;
    let (scatter, calibration) = (square(mean.scatter), square(mean.calibration));
    let variance = square(mean.resolution) + calibration + scatter + square(mean.permissible);
    let seen = mean.scatter != 0.0 && mean.nu.is_finite();
    let mut totals = Totals {
        plain: from_weight(
            variance,
            if seen {
                share(scatter, variance, mean.nu)
            } else {
                0.0
            },
        ),
        type_a: if seen {
            from_variances(scatter, &[(scatter, mean.nu)])
        } else {
            Combined::ZERO
        },
        floored: SmallVec::new(),
        others: 0.0,
    };
    if mean.floor > 0.0 {
        let own = square(mean.own);
        totals
            .floored
            .push((square(mean.floor / 2.0), own + calibration));
        totals.others = beyond(variance - calibration, own);
    }
    totals
}

fn totals_of_groups(parts: &[Part]) -> Totals {
    let mut groups: SmallVec<[Gathered; 8]> = SmallVec::new();
    let mut variance = 0.0;
    let mut weights: SmallVec<[(f64, f64); 4]> = SmallVec::new();
    let mut has_floor = false;
    for part in parts {
        match part.kind {
            PartKind::Repeatability | PartKind::MaximumPermissibleError => {
                gather(&mut groups, part)
            }
            PartKind::Resolution
            | PartKind::Calibration
            | PartKind::Table
            | PartKind::Condition => {
                variance += part.u * part.u;
                if part.nu.is_finite() {
                    weights.push((part.u * part.u, part.nu));
                }
            }
            PartKind::MethodFloor => has_floor = true,
        }
    }
    let (mut type_a_variance, mut type_a_weights) = (0.0, SmallVec::<[(f64, f64); 4]>::new());
    for group in &groups {
        let square = if group.kind == PartKind::Repeatability {
            if group.nu.is_finite() {
                type_a_variance += group.independent;
                type_a_weights.push((group.independent, group.nu));
            }
            group.independent
        } else {
            group.independent.max(group.correlated * group.correlated)
        };
        variance += square;
        weights.push((square, group.nu));
    }
    let mut totals = Totals {
        plain: from_variances(variance, &weights),
        type_a: from_variances(type_a_variance, &type_a_weights),
        floored: SmallVec::new(),
        others: 0.0,
    };
    if has_floor {
        totals.take_floors(parts, variance);
    }
    totals
}

fn gather(groups: &mut SmallVec<[Gathered; 8]>, part: &Part) {
    let found = groups
        .iter_mut()
        .find(|group| group.kind == part.kind && group.group == part.group);
    match found {
        Some(group) => {
            group.independent += part.u * part.u;
            group.correlated += part.u;
            group.nu = group.nu.min(part.nu);
        }
        None => groups.push(Gathered {
            kind: part.kind,
            group: part.group,
            independent: part.u * part.u,
            correlated: part.u,
            nu: part.nu,
        }),
    }
}

fn from_variances(variance: f64, weights: &[(f64, f64)]) -> Combined {
    let weight = weights
        .iter()
        .fold(0.0, |sum, &(square, nu)| sum + share(square, variance, nu));
    from_weight(variance, weight)
}

fn from_weight(variance: f64, weight: f64) -> Combined {
    Combined {
        u: variance.sqrt(),
        nu: if weight > 0.0 {
            weight.recip()
        } else {
            f64::INFINITY
        },
    }
}

impl Totals {
    fn take_floors(&mut self, parts: &[Part], variance: f64) {
        let floors = || {
            parts
                .iter()
                .filter(|part| part.kind == PartKind::MethodFloor)
        };
        let (mut own, mut offsets) = (0.0, 0.0);
        for floor in floors() {
            let (apart, offset) = (floor.own * floor.own, floor.own_offset * floor.own_offset);
            self.floored.push((floor.u * floor.u, apart + offset));
            own += apart;
        }
        let mut more_offset = 0.0;
        for part in parts
            .iter()
            .filter(|part| part.kind == PartKind::Calibration)
        {
            let floored = floors()
                .filter(|floor| floor.group == part.source)
                .fold(0.0, |sum, floor| sum + floor.own_offset * floor.own_offset);
            offsets += part.u * part.u;
            more_offset += beyond(part.u * part.u, floored);
        }
        self.others = beyond(variance - offsets, own) + more_offset;
    }

    /// Variance with every floored reading at its floor at least, which counts `floor_factor` times half of
    /// it; all else counts with `k`.
    pub fn with_floors(&self, k: f64, floor_factor: f64) -> f64 {
        let floored = self.floored.iter().fold(0.0, |sum, &(floor, own)| {
            sum + (floor_factor * floor_factor * floor).max(k * k * own)
        });
        floored + k * k * self.others
    }

    pub fn has_floors(&self) -> bool {
        !self.floored.is_empty()
    }

    /// The combined standard uncertainty with every reading under its floor counted as half the floor, with
    /// infinite degrees of freedom for what the floor adds.
    pub fn combined(&self) -> Combined {
        let plain = self.plain.u * self.plain.u;
        if !self.has_floors() {
            return self.plain;
        }
        let variance = self.with_floors(1.0, 1.0);
        if variance <= plain * (1.0 + 1e-12) {
            return self.plain;
        }
        let ratio = variance / plain;
        Combined {
            u: variance.sqrt(),
            nu: if plain == 0.0 {
                f64::INFINITY
            } else {
                self.plain.nu * ratio * ratio
            },
        }
    }
}

/// What a variance has beyond one that it contains; a difference of rounding counts as none.
fn beyond(variance: f64, contained: f64) -> f64 {
    let more = variance - contained;
    if more < 1e-12 * variance { 0.0 } else { more }
}

#[cfg(test)]
#[allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]
mod tests {
    use super::*;
    use crate::uncertainty::parts::normalise;

    fn totals(parts: &[Part]) -> Totals {
        let mut list = parts.to_vec();
        if !list.is_sorted_by_key(Part::key) {
            normalise(&mut list);
        }
        totals_of_ordered(&list)
    }

    /// Course notes quoted in check-values 1: u 0.57 (ν 9) and 0.25 (ν infinite) give ν_eff 12.8.
    #[test]
    fn effective_degrees_of_freedom_of_the_course_notes() {
        let found = welch_satterthwaite(&[(0.57, 9.0), (0.25, f64::INFINITY)]);
        assert!((found.nu - 12.7956).abs() < 5e-5, "{found:?}");
        assert!((found.nu - 12.8).abs() < 0.05);
    }

    #[test]
    fn degrees_of_freedom_do_not_depend_on_the_unit() {
        let parts = [(0.57, 9.0), (0.25, 30.0), (0.1, f64::INFINITY)];
        let expected = welch_satterthwaite(&parts).nu;
        for scale in [1e-120, 1e-9, 25.4, 1e100] {
            let scaled: Vec<_> = parts.iter().map(|&(u, nu)| (u * scale, nu)).collect();
            let found = welch_satterthwaite(&scaled).nu;
            assert!((found / expected - 1.0).abs() < 1e-14, "{scale}: {found}");
        }
        assert_eq!(welch_satterthwaite(&[]).nu, f64::INFINITY);
        assert_eq!(welch_satterthwaite(&[(0.0, 2.0)]).nu, f64::INFINITY);
    }

    #[test]
    fn parts_of_one_source_add_before_they_are_squared() {
        let part = |source, u| Part::new(PartKind::Calibration, source, 0, u, f64::INFINITY);
        let apart = totals(&[part(1, 3.0), part(2, 4.0)]).plain.u;
        assert_eq!(apart, 5.0);
        let together = totals(&[part(1, 3.0), part(1, 4.0)]);
        assert_eq!(
            together.plain.u, 5.0,
            "ordered parts of one source are merged by the caller"
        );
        let unordered = totals(&[part(2, 1.0), part(1, 3.0), part(1, 4.0), part(2, -1.0)]);
        assert_eq!(unordered.plain.u, 7.0);
    }

    #[test]
    fn a_maximum_permissible_error_takes_the_larger_of_both_correlations() {
        let part = |source, group, u| {
            Part::new(
                PartKind::MaximumPermissibleError,
                source,
                group,
                u,
                f64::INFINITY,
            )
        };
        assert_eq!(totals(&[part(1, 7, 3.0), part(2, 7, 4.0)]).plain.u, 7.0);
        assert_eq!(totals(&[part(1, 7, 3.0), part(2, 7, -4.0)]).plain.u, 5.0);
        assert_eq!(totals(&[part(1, 7, 3.0), part(2, 8, 4.0)]).plain.u, 5.0);
    }

    #[test]
    fn means_of_one_pool_share_its_degrees_of_freedom() {
        let part = |source, group| Part::new(PartKind::Repeatability, source, group, 1.0, 10.0);
        assert!((totals(&[part(1, 7), part(2, 7)]).plain.nu - 10.0).abs() < 1e-12);
        assert!((totals(&[part(1, 7), part(2, 8)]).plain.nu - 20.0).abs() < 1e-12);
    }
}
