//! Values taken at places: where a rule looks, whether the places are enough, and the worst of them.

use smallvec::SmallVec;

use super::decide::{Decided, Draft, Said, Threshold, Told};
use super::finding::{FoundPlace, Outcome, Reason, Settle};
use super::judge::Judge;
use super::value::{Num, PlaceNum, Val};
use crate::quantity::{Exact, Unit};
use crate::record::{Item, Where};
use crate::rules::{Rule, Stage};
use crate::uncertainty::Uncertain;
use crate::vocabulary::{ZoneId, ZoneKind};

/// A placed value against one bound: what is asked, of what, where.
pub(super) struct Asked<'a, 'r> {
    pub rule: &'r Rule,
    /// The item by its position in the record.
    pub at: usize,
    pub item: &'r Item,
    pub places: &'a [PlaceNum<'r>],
    pub threshold: Threshold<'a>,
    /// The unit to show it in.
    pub unit: Unit,
}

/// What was seen at a place.
struct Seen<'a> {
    num: &'a Num,
    looked: Looked,
    decided: Decided,
}

/// Most items have fewer places than this.
type Each<T> = SmallVec<[T; 6]>;

impl<'r> Judge<'r> {
    pub(super) fn worst_place(&mut self, asked: &Asked<'_, 'r>, mut told: Told) -> Draft {
        let Asked {
            rule, at, places, ..
        } = *asked;
        let purpose = self.context.purpose;
        let mut seen: Each<Seen<'_>> = SmallVec::new();
        for place in places {
            seen.push(Seen {
                num: &place.num,
                looked: self.looked(rule, at, asked.item, place.place),
                decided: self.decided(&place.num, &asked.threshold),
            });
        }
        let counting: Each<usize> = seen
            .iter()
            .enumerate()
            .filter(|(_, one)| one.looked == Looked::In)
            .map(|(number, _)| number)
            .collect();
        let lacking = self.lacking(rule, at, places, &counting);
        let outcomes = self.by_stage(|stage| place_outcome(&seen, asked, &lacking, stage));
        let (outcome, reason) = *outcomes.at(purpose);
        if let Some(finding) = &mut told {
            finding.left_out = count_of(&seen, Looked::Out);
            finding.places = Some(self.place_counts(rule, &counting));
        }
        let mut draft = Draft::of(told, outcomes);
        // Which place is shown matters for its words, and for its flags.
        let flagged =
            |one: &Seen<'_>| one.decided.near || *one.decided.benefit_of_doubt.at(purpose);
        if self.full() || seen.iter().any(flagged) {
            let shown = shown_place(&seen, asked, outcome, reason, purpose);
            if let Some(number) = shown
                && let (Some(one), Some(place)) = (seen.get(number), places.get(number))
            {
                let threshold = &asked.threshold;
                self.fill(
                    &mut draft,
                    one.num,
                    &one.decided,
                    threshold,
                    asked.unit,
                    at,
                    rule,
                );
                if let Some(finding) = &mut draft.told {
                    finding.place = Some(found_place(place.place, asked.unit));
                }
            }
        }
        if let Some(finding) = &mut draft.told {
            match (reason, &lacking) {
                (Some(Reason::PlaceNotStated), _) => finding.settled_by = Some(Settle::StatePlace),
                (Some(reason), Some(lacking)) if reason == lacking.0 => {
                    finding.settled_by = lacking.1.clone()
                }
                _ => {}
            }
        }
        draft
    }

    /// Places that count, and places that the rule asks for.
    fn place_counts(&self, rule: &Rule, counting: &[usize]) -> (u32, u32) {
        let required = rule.places.as_ref().map_or(1, |places| places.at_least);
        (u32::try_from(counting.len()).unwrap_or(u32::MAX), required)
    }

    pub(super) fn mean(&mut self, asked: &Asked<'_, 'r>, mut told: Told) -> Draft {
        let Asked {
            rule, at, places, ..
        } = *asked;
        let mut counting: Each<usize> = SmallVec::new();
        let mut left_out = 0;
        for (number, place) in places.iter().enumerate() {
            match self.looked(rule, at, asked.item, place.place) {
                Looked::In => counting.push(number),
                Looked::Out => left_out += 1,
                Looked::Unstated => {}
            }
        }
        let lacking = self.lacking(rule, at, places, &counting);
        let stated: Each<&Num> = counting
            .iter()
            .filter_map(|number| places.get(*number))
            .map(|one| &one.num)
            .collect();
        let count = i64::try_from(stated.len()).unwrap_or(i64::MAX);
        let counts = self.place_counts(rule, &counting);
        if let Some(finding) = &mut told {
            finding.left_out = left_out;
            finding.places = Some(counts);
        }
        let share = Exact::ONE.checked_div(&Exact::from_integer(count));
        let (Some(first), Some(share)) = (stated.first(), share) else {
            let (reason, settle) = if left_out == 0 {
                (Reason::PlaceNotStated, Settle::StatePlace)
            } else {
                (Reason::TooFewPlaces, Settle::MorePlaces(counts.1))
            };
            if let Some(finding) = &mut told {
                finding.settled_by = Some(settle);
            }
            return Draft::same(told, Outcome::NotDecided, Some(reason));
        };
        let sum = Uncertain::sum(stated.iter().map(|num| &num.value));
        let evidence = stated
            .iter()
            .fold(first.evidence, |all, num| all.and(num.evidence));
        let mean = Num {
            evidence,
            ..first.with(sum.scale(&share))
        };
        let threshold = &asked.threshold;
        let decided = self.decided(&mean, threshold);
        let outcomes = self.by_stage(|stage| {
            let (outcome, reason) = *decided.outcomes.at(stage);
            match (&lacking, outcome) {
                (Some(lacking), Outcome::Conforms | Outcome::DoesNotConform) => {
                    (Outcome::NotDecided, Some(lacking.0))
                }
                _ => (outcome, reason),
            }
        });
        let mut draft = Draft::of(told, outcomes);
        self.fill(&mut draft, &mean, &decided, threshold, asked.unit, at, rule);
        if let (Some(lacking), (_, Some(reason))) = (&lacking, outcomes.at(self.context.purpose))
            && *reason == lacking.0
            && let Some(finding) = &mut draft.told
        {
            finding.settled_by = lacking.1.clone();
        }
        draft
    }

    /// Whether a rule looks at a place: not in a zone that it leaves out, and in the only zone if it has one.
    pub(super) fn looked(&mut self, rule: &Rule, at: usize, item: &Item, place: &Where) -> Looked {
        let mut unstated = false;
        for (zone, _) in &rule.outside {
            match self.in_zone(*zone, at, item, place) {
                Some(true) => return Looked::Out,
                Some(false) => {}
                None => unstated = true,
            }
        }
        if let Some((zone, _)) = rule.zone {
            match self.in_zone(zone, at, item, place) {
                Some(true) => {}
                Some(false) => return Looked::Out,
                None => unstated = true,
            }
        }
        if unstated {
            Looked::Unstated
        } else {
            Looked::In
        }
    }

    /// Whether a place lies in a zone, borders included; `None` where that is not said.
    pub(super) fn in_zone(
        &mut self,
        zone: ZoneId,
        at: usize,
        item: &Item,
        place: &Where,
    ) -> Option<bool> {
        let rules = self.rules;
        let part = rules.vocabulary.part(item.part)?;
        match &part.zones.get(zone.index())?.kind {
            ZoneKind::WithinOfEdge(distance) => {
                place.from_edge.as_ref().map(|from| from <= distance)
            }
            ZoneKind::Between(low, high) => place.at.as_ref().map(|at| at >= low && at <= high),
            ZoneKind::WithinOf { distance, of } => {
                let position = place.at.as_ref()?;
                let border = match (part.measure_named(&of.text), part.derived_named(&of.text)) {
                    (Some(slot), _) => self.eval.measure(at, slot),
                    (None, Some(slot)) => self.eval.derived_of(at, slot),
                    (None, None) => return None,
                };
                match border {
                    Val::Number(num) => {
                        let border = num.value.value.as_exact()?;
                        Some((position - border).abs() <= *distance)
                    }
                    _ => None,
                }
            }
        }
    }

    /// What the places lack to be enough, with what would settle it.
    pub(super) fn lacking(
        &mut self,
        rule: &'r Rule,
        at: usize,
        places: &[PlaceNum<'r>],
        counting: &[usize],
    ) -> Option<(Reason, Option<Settle>)> {
        let count = u32::try_from(counting.len()).unwrap_or(u32::MAX);
        let Some(asked) = &rule.places else {
            return (count == 0).then_some((Reason::TooFewPlaces, Some(Settle::MorePlaces(1))));
        };
        if count < asked.at_least {
            return Some((
                Reason::TooFewPlaces,
                Some(Settle::MorePlaces(asked.at_least - count)),
            ));
        }
        let counted = || counting.iter().filter_map(|number| places.get(*number));
        if counted().any(|place| place.num.readings < asked.repeats) {
            return Some((
                Reason::TooFewRepeats,
                Some(Settle::MoreRepeats(asked.repeats)),
            ));
        }
        let spacing = asked.spacing.as_ref()?;
        let mut end = |expression: &'r crate::expression::Expression| match self
            .eval
            .value(&expression.root, at)
        {
            Val::Number(num) => Ok(num.value.value.as_exact().cloned()),
            Val::Unknown(why) => Err(why),
            _ => Ok(None),
        };
        let (from, to) = match (end(&spacing.from), end(&spacing.to)) {
            (Ok(Some(from)), Ok(Some(to))) => (from, to),
            (Err(why), _) | (_, Err(why)) => return Some((why.reason, self.settle_of(&why))),
            _ => return Some((Reason::NotMeasured, None)),
        };
        let mut positions: SmallVec<[&Exact; 8]> = counted()
            .filter_map(|place| place.place.at.as_ref())
            .collect();
        if positions.len() < counting.len() {
            return Some((Reason::PlaceNotStated, Some(Settle::StatePlace)));
        }
        let (low, high) = if from <= to {
            (&from, &to)
        } else {
            (&to, &from)
        };
        positions.push(low);
        positions.push(high);
        positions.sort();
        let too_wide = positions.windows(2).any(|pair| match pair {
            [a, b] => (*b - *a) > spacing.at_most.value && *a >= low && *b <= high,
            _ => false,
        });
        too_wide.then_some((Reason::TooFewPlaces, Some(Settle::CloserPlaces)))
    }
}

/// Whether a rule looks at a place.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Looked {
    /// It does.
    In,
    /// The place lies in a zone that is left out, or outside the only zone.
    Out,
    /// The place does not say enough.
    Unstated,
}

fn count_of(seen: &[Seen<'_>], which: Looked) -> u32 {
    let count = seen.iter().filter(|one| one.looked == which).count();
    u32::try_from(count).unwrap_or(u32::MAX)
}

/// The worst outcome of the places at a stage; too few places never conforms, and a place proven bad does
/// not conform however few there are.
fn place_outcome(
    seen: &[Seen<'_>],
    asked: &Asked<'_, '_>,
    lacking: &Option<(Reason, Option<Settle>)>,
    stage: Stage,
) -> Said {
    let inside = || seen.iter().filter(|one| one.looked == Looked::In);
    let at = |one: &Seen<'_>| *one.decided.outcomes.at(stage);
    if let Some(bad) = inside().find(|one| at(one).0 == Outcome::DoesNotConform) {
        return at(bad);
    }
    let mut unstated = seen.iter().filter(|one| one.looked == Looked::Unstated);
    if unstated.any(|one| at(one).0 == Outcome::DoesNotConform) {
        return (Outcome::NotDecided, Some(Reason::PlaceNotStated));
    }
    let mut open = inside().filter(|one| at(one).0 == Outcome::NotDecided);
    if let Some(first) = open.next() {
        // Where all are open for one reason, which of them is nearest makes no difference.
        if open.clone().all(|one| at(one) == at(first)) {
            return at(first);
        }
        let ratio = |one: &&Seen<'_>| ratio(one, asked).0;
        let nearest = std::iter::once(first)
            .chain(open)
            .min_by(|a, b| ratio(a).total_cmp(&ratio(b)));
        return at(nearest.unwrap_or(first));
    }
    match lacking {
        Some((Reason::TooFewPlaces, _)) if count_of(seen, Looked::Unstated) > 0 => {
            (Outcome::NotDecided, Some(Reason::PlaceNotStated))
        }
        Some((reason, _)) => (Outcome::NotDecided, Some(*reason)),
        None => (Outcome::Conforms, None),
    }
}

/// Margin over U, by which the place to show is chosen; the margin alone where U is zero. The margin stands
/// beside it.
fn ratio(one: &Seen<'_>, asked: &Asked<'_, '_>) -> (f64, f64) {
    let margin = asked.threshold.margin(one.num).to_f64();
    let ratio = match one.decided.expanded {
        Some(expanded) if expanded.U > 0.0 => margin / expanded.U,
        _ if margin < 0.0 => f64::NEG_INFINITY,
        _ if margin > 0.0 => f64::MAX,
        _ => 0.0,
    };
    (ratio, margin)
}

/// The place that a finding shows: among those that gave the outcome, the one with the smallest margin
/// over U.
fn shown_place(
    seen: &[Seen<'_>],
    asked: &Asked<'_, '_>,
    outcome: Outcome,
    reason: Option<Reason>,
    stage: Stage,
) -> Option<usize> {
    let wanted = |one: &Seen<'_>| {
        let own = *one.decided.outcomes.at(stage);
        match (outcome, reason) {
            (Outcome::NotDecided, Some(Reason::PlaceNotStated)) => one.looked == Looked::Unstated,
            (Outcome::DoesNotConform, _) => {
                one.looked == Looked::In && own.0 == Outcome::DoesNotConform
            }
            _ => one.looked == Looked::In && own == (outcome, reason),
        }
    };
    let best = |test: &dyn Fn(&Seen<'_>) -> bool| {
        let mut best: Option<(usize, (f64, f64))> = None;
        for (number, one) in seen.iter().enumerate().filter(|(_, one)| test(one)) {
            let key = ratio(one, asked);
            if best.is_none_or(|(_, other)| {
                let order = key.0.total_cmp(&other.0);
                order.then(key.1.total_cmp(&other.1)).is_lt()
            }) {
                best = Some((number, key));
            }
        }
        best.map(|(number, _)| number)
    };
    best(&wanted)
        .or_else(|| best(&|one| one.looked == Looked::In))
        .or_else(|| best(&|_| true))
}

pub(super) fn found_place(place: &Where, unit: Unit) -> FoundPlace {
    FoundPlace {
        at: place.at.clone(),
        unit: place.unit.or(Some(unit)),
        face: place.face,
        from_edge: place.from_edge.clone(),
    }
}
