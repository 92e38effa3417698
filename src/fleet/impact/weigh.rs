//! Plain values against plain rules: what is said of them, and how far inside their limits they lie.

use super::model::Stand;
use super::plain::{Band, Billionths, Condition, Limit, Row, Subject, Term, Test};
use crate::check::Reason;
use crate::record::{Both, PlainValue};
use crate::uncertainty::DecisionRule;
use crate::vocabulary::ChoiceId;

/// What a rule says of an item.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Said {
    /// Where the item stands by it, and why it is open.
    Stands(Stand, Option<Reason>),
    /// Only the whole check can tell.
    Asks,
}

/// The values of an item as one of the versions sees them.
#[derive(Clone, Copy)]
pub(super) struct Values<'b> {
    /// Column by column.
    pub own: &'b [PlainValue],
    /// Numbers at places, of the whole boat.
    pub places: &'b [Billionths],
    /// Which of two choices counts.
    pub of: fn(&Both<ChoiceId>) -> ChoiceId,
}

/// A signed distance inside a limit.
#[derive(Clone, Copy)]
pub(super) struct Lies<'t> {
    /// The limit.
    pub limit: &'t Limit,
    /// How far inside.
    pub margin: Billionths,
}

impl Values<'_> {
    fn get(&self, column: usize) -> PlainValue {
        self.own.get(column).copied().unwrap_or(PlainValue::Missing)
    }

    fn choice(&self, column: usize) -> Option<usize> {
        match self.get(column) {
            PlainValue::Choice(both) => Some((self.of)(&both).index()),
            PlainValue::Missing
            | PlainValue::Number(_)
            | PlainValue::Places(..)
            | PlainValue::Answer(_) => None,
        }
    }

    /// Whether a condition holds, where all that it looks at is declared.
    fn holds(&self, condition: &Condition) -> Option<bool> {
        match condition {
            Condition::Is(column, is) => is.get(self.choice(*column)?).copied(),
            Condition::Not(inner) => self.holds(inner).map(|holds| !holds),
            Condition::All(list) => {
                let mut all = true;
                for one in list {
                    all &= self.holds(one)?;
                }
                Some(all)
            }
            Condition::Any(list) => {
                let mut any = false;
                for one in list {
                    any |= self.holds(one)?;
                }
                Some(any)
            }
        }
    }

    /// What a rule says; `told` hears how values lie to limits.
    #[inline]
    pub(super) fn weigh<'t>(
        &self,
        test: &'t Test,
        decision: DecisionRule,
        told: &mut impl FnMut(Lies<'t>),
    ) -> Said {
        if let Some(when) = &test.when {
            match self.holds(when) {
                Some(true) => {}
                Some(false) => return Said::Stands(Stand::Conforms, None),
                None => return Said::Asks,
            }
        }
        let row = match &test.table {
            None => Some(0),
            Some((column, rows)) => self
                .choice(*column)
                .and_then(|choice| rows.get(choice).copied().flatten()),
        };
        let Some(row) = row.and_then(|at| test.rows.get(at)) else {
            return Said::Asks;
        };
        let holds = |holds: bool| {
            let stand = if holds {
                Stand::Conforms
            } else {
                Stand::DoesNotConform
            };
            Said::Stands(stand, None)
        };
        let limits = match row {
            Row::Nothing => return holds(true),
            Row::Answer(asked) => {
                return match &test.subject {
                    Subject::Answer(column) => match self.get(*column) {
                        PlainValue::Answer(yes) => holds(yes == *asked),
                        PlainValue::Missing => NOT_MEASURED,
                        PlainValue::Number(_) | PlainValue::Places(..) | PlainValue::Choice(_) => {
                            Said::Asks
                        }
                    },
                    Subject::Sum(_) | Subject::Places(..) | Subject::Choice(_) => Said::Asks,
                };
            }
            Row::Choices(allowed) => {
                let Subject::Choice(column) = &test.subject else {
                    return Said::Asks;
                };
                let choice = self.choice(*column);
                return match choice.and_then(|choice| allowed.get(choice)) {
                    Some(allowed) => holds(*allowed),
                    None => Said::Asks,
                };
            }
            Row::Bounds(limits) => limits,
        };
        match &test.subject {
            Subject::Sum(terms) => self.weigh_sum(terms, test, limits, decision, told),
            Subject::Places(term, least) => {
                self.weigh_places((term, *least), test, limits, decision, told)
            }
            Subject::Answer(_) | Subject::Choice(_) => Said::Asks,
        }
    }

    #[inline]
    fn weigh_sum<'t>(
        &self,
        terms: &[Term],
        test: &Test,
        limits: &'t [Limit],
        decision: DecisionRule,
        told: &mut impl FnMut(Lies<'t>),
    ) -> Said {
        let mut value: Billionths = 0;
        let mut missing = false;
        for term in terms {
            match self.get(term.column) {
                PlainValue::Number(number) if likely(term, number) => {
                    let added = number
                        .checked_mul(term.times)
                        .and_then(|number| value.checked_add(number));
                    let Some(added) = added else {
                        return Said::Asks;
                    };
                    value = added;
                }
                PlainValue::Missing => missing = true,
                PlainValue::Number(_)
                | PlainValue::Places(..)
                | PlainValue::Answer(_)
                | PlainValue::Choice(_) => return Said::Asks,
            }
        }
        if missing {
            return NOT_MEASURED;
        }
        let mut worst = Stand::Conforms;
        for limit in limits {
            let Some((stand, margin)) = against(value, limit, test.band, decision) else {
                return Said::Asks;
            };
            told(Lies { limit, margin });
            worst = worst.min(stand);
        }
        stands(worst)
    }

    #[inline]
    fn weigh_places<'t>(
        &self,
        (term, least): (&Term, usize),
        test: &Test,
        limits: &'t [Limit],
        decision: DecisionRule,
        told: &mut impl FnMut(Lies<'t>),
    ) -> Said {
        let list = match self.get(term.column) {
            PlainValue::Places(from, to) => {
                let range = usize::try_from(from).ok().zip(usize::try_from(to).ok());
                range.and_then(|(from, to)| self.places.get(from..to))
            }
            PlainValue::Missing => return NOT_MEASURED,
            PlainValue::Number(_) | PlainValue::Answer(_) | PlainValue::Choice(_) => None,
        };
        let Some(list) = list.filter(|list| list.len() >= least && !list.is_empty()) else {
            return Said::Asks;
        };
        if !list.iter().all(|number| likely(term, *number)) {
            return Said::Asks;
        }
        let mut worst = Stand::Conforms;
        for limit in limits {
            // All places are as uncertain: the one that lies worst speaks for all.
            let extreme = if limit.lower {
                list.iter().min()
            } else {
                list.iter().max()
            };
            let against = extreme.and_then(|value| against(*value, limit, test.band, decision));
            let Some((stand, margin)) = against else {
                return Said::Asks;
            };
            told(Lies { limit, margin });
            worst = worst.min(stand);
        }
        stands(worst)
    }
}

const NOT_MEASURED: Said = Said::Stands(Stand::NotDecided, Some(Reason::NotMeasured));

fn stands(stand: Stand) -> Said {
    let open = (stand == Stand::NotDecided).then_some(Reason::NearLimit);
    Said::Stands(stand, open)
}

/// Whether a reading is plausible.
fn likely(term: &Term, number: Billionths) -> bool {
    term.plausible
        .is_none_or(|(low, high)| (low..=high).contains(&number))
}

/// A value against a limit, with its distance inside; nothing where only the whole check can tell.
#[inline]
fn against(
    value: Billionths,
    limit: &Limit,
    band: Band,
    decision: DecisionRule,
) -> Option<(Stand, Billionths)> {
    let margin = if limit.lower {
        value.checked_sub(limit.at)?
    } else {
        limit.at.checked_sub(value)?
    };
    // Whether the value lies inside the limit moved inward so many times the band.
    let inside = |times: i8| match (times, band) {
        (0, _) => Some(margin > 0 || (margin == 0 && !limit.strict)),
        (times, Band::Whole(band)) => {
            let border = band.checked_mul(i64::from(times))?;
            Some(margin > border || (margin == border && !limit.strict))
        }
        (times, Band::Rounded(band)) => {
            #[expect(clippy::cast_precision_loss, reason = "far within the border's doubt")]
            let margin = margin as f64;
            let border = f64::from(times) * band;
            let apart = margin - border;
            let clear = apart.abs() > 1e-8 * (margin.abs() + band.abs());
            clear.then_some(apart > 0.0)
        }
    };
    let stand = match decision {
        DecisionRule::SimpleAcceptance => either(inside(0)?),
        DecisionRule::GuardedRejection => either(inside(-1)?),
        DecisionRule::GuardedAcceptance => {
            if inside(1)? {
                Stand::Conforms
            } else if inside(-1)? {
                Stand::NotDecided
            } else {
                Stand::DoesNotConform
            }
        }
    };
    Some((stand, margin))
}

fn either(conforms: bool) -> Stand {
    if conforms {
        Stand::Conforms
    } else {
        Stand::DoesNotConform
    }
}
