//! Who carries the doubt, compared: what a value of each distance from a limit comes to under two policies.
//!
//! Under every decision rule the outcome depends on the margin alone, by its order to 0 and to the guard band on
//! either side (JCGM 106:2012, clause 8). So two policies differ in a direction if and only if they do on a band's
//! border or between two neighbouring ones, and these are finitely many.

use crate::check::Outcome;
use crate::quantity::{Exact, Number};
use crate::uncertainty::{DecisionRule, Limit, Side, Uncertain, Verdict, decide};

/// A policy at a stage, with what it makes of one and the same reading.
#[derive(Clone, Debug, PartialEq)]
pub struct Policy {
    /// The decision rule.
    pub rule: DecisionRule,
    /// The guard band is this many times U.
    pub guard_factor: Exact,
    /// Expanded uncertainty of the reading.
    pub expanded: f64,
}

impl Policy {
    /// The outcome of a value so far inside the limit, the limit itself inside.
    pub fn outcome(&self, margin: f64) -> Outcome {
        let Some(value) = Exact::from_f64_shortest(margin) else {
            return Outcome::NotDecided;
        };
        let limit = Limit {
            side: Side::Lower,
            strict: false,
            value: &Number::ZERO,
        };
        let value = Uncertain::exact(value);
        let found = decide(
            self.rule,
            &limit,
            &value,
            Some(self.expanded),
            &self.guard_factor,
        );
        match found.verdict {
            Verdict::Conforms => Outcome::Conforms,
            Verdict::DoesNotConform => Outcome::DoesNotConform,
            Verdict::NearLimit | Verdict::NotReached | Verdict::UncertaintyUnknown => {
                Outcome::NotDecided
            }
        }
    }

    fn band(&self) -> f64 {
        self.guard_factor.to_f64() * self.expanded
    }
}

/// Margins, one on each border of a band and one between each two neighbours, with what they come to under the old
/// policy and under the new one, from the lowest. Margins between borders stand first in each pair.
pub fn outcomes(old: &Policy, new: &Policy) -> Vec<(f64, Outcome, Outcome)> {
    let (a, b) = (old.band(), new.band());
    let mut borders = vec![-a, -b, 0.0, a, b];
    borders.sort_by(f64::total_cmp);
    borders.dedup();
    let reach = a.max(b).max(f64::MIN_POSITIVE);
    let mut margins = Vec::new();
    let mut before = None;
    for border in &borders {
        let between = before.map_or(border - reach, |before: f64| f64::midpoint(before, *border));
        margins.extend([between, *border]);
        before = Some(*border);
    }
    margins.extend(before.map(|last| last + reach));
    margins
        .into_iter()
        .map(|margin| (margin, old.outcome(margin), new.outcome(margin)))
        .collect()
}

/// Whether some value fares worse under the new policy, and whether some fares better.
pub fn directions(old: &Policy, new: &Policy) -> (bool, bool) {
    let found = outcomes(old, new);
    (
        found.iter().any(|(_, was, is)| is < was),
        found.iter().any(|(_, was, is)| is > was),
    )
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

    fn policy(rule: DecisionRule, factor: i64, expanded: f64) -> Policy {
        Policy {
            rule,
            guard_factor: Exact::from_integer(factor),
            expanded,
        }
    }

    /// The rows of the table of versions that are about doubt, and the same backwards.
    #[test]
    fn policies_differ_in_the_directions_of_the_table() {
        use DecisionRule::{GuardedAcceptance, GuardedRejection, SimpleAcceptance};
        let simple = policy(SimpleAcceptance, 1, 1.0);
        let guarded = policy(GuardedAcceptance, 1, 1.0);
        let rejection = policy(GuardedRejection, 1, 1.0);
        let rows = [
            (&simple, &guarded, (true, true)),
            (&simple, &rejection, (false, true)),
            (&guarded, &rejection, (false, true)),
            (&guarded, &policy(GuardedAcceptance, 2, 1.0), (true, true)),
            (&guarded, &policy(GuardedAcceptance, 1, 1.5), (true, true)),
            (&simple, &policy(SimpleAcceptance, 3, 1.5), (false, false)),
            (&rejection, &policy(GuardedRejection, 2, 1.0), (false, true)),
            (&guarded, &policy(GuardedAcceptance, 0, 1.0), (true, true)),
        ];
        for (old, new, (worse, better)) in rows {
            assert_eq!(directions(old, new), (worse, better), "{old:?} to {new:?}");
            assert_eq!(directions(new, old), (better, worse), "{new:?} to {old:?}");
            assert_eq!(directions(old, old), (false, false), "{old:?}");
        }
    }
}
