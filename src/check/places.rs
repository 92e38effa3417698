//! Values taken at places: where a rule looks, whether the places are enough, and the worst of them.

use super::clear::lacked;
use super::decide::{Decided, Met};
use super::draft::{Draft, Ruling};
use super::finding::{FoundPlace, Outcome, Reason, Settle};
use super::judge::Judge;
use super::reading::same_place;
use super::value::{Num, PlaceNum, Val};
use crate::quantity::{Exact, Unit};
use crate::record::{Item, Where};
use crate::rules::{ByStage, Rule, Stage};
use crate::uncertainty::Uncertain;
use smallvec::SmallVec;

/// A place by its number, where it lies, and what it comes to.
pub(super) type LookedAt = (usize, Looked, Decided);

/// A place that counts, with the number of readings there.
#[derive(Clone, Copy)]
pub(super) struct Counting<'p> {
    pub place: &'p Where,
    pub readings: u32,
}

/// Some places by their numbers.
pub(super) fn counted<'p>(
    places: &'p [PlaceNum<'_>],
    numbers: &[usize],
) -> SmallVec<[Counting<'p>; 8]> {
    let chosen = numbers.iter().filter_map(|number| places.get(*number));
    let counting = chosen.map(|one| Counting {
        place: one.place,
        readings: one.num.readings,
    });
    counting.collect()
}

impl<'r> Judge<'r> {
    pub(super) fn worst_place(
        &mut self,
        rule: &'r Rule,
        at: usize,
        item: &'r Item,
        places: &[PlaceNum<'r>],
        met: &Met<'r>,
        mut draft: Draft,
    ) -> Draft {
        let mut looked: SmallVec<[LookedAt; 8]> = SmallVec::with_capacity(places.len());
        let mut counting: SmallVec<[usize; 8]> = SmallVec::new();
        for (number, place) in places.iter().enumerate() {
            let where_it_is = self.looked(rule, at, item, place.place);
            if where_it_is == Looked::In {
                counting.push(number);
            }
            looked.push((number, where_it_is, self.decided(&place.num, met)));
        }
        let unstated = looked.iter().any(|(_, at, _)| *at == Looked::Unstated);
        let untold = unstated.then(|| self.untold(rule, at)).flatten();
        let lacking = untold.or_else(|| self.lacking(rule, at, &counted(places, &counting)));
        self.tell_places(&mut draft, rule, counting.len(), |told| {
            let out = looked
                .iter()
                .filter(|(_, looked, _)| *looked == Looked::Out);
            let out = out.filter_map(|(number, _, _)| places.get(*number));
            told.extend(out.map(|one| found_place(one.place, met.unit)));
        });
        let place = |number: usize| places.get(number).map(|one| (one.place, &one.num));
        self.conclude(&mut draft, &looked, &lacking, &place, (met.unit, at, rule));
        self.keep(&mut draft, looked, lacking, met.unit, places);
        draft
    }

    /// Keeps the places behind a draft where another measurer's are compared with them.
    pub(super) fn keep(
        &self,
        draft: &mut Draft,
        looked: SmallVec<[LookedAt; 8]>,
        lacking: Option<(Reason, Option<Settle>)>,
        unit: Unit,
        places: &[PlaceNum<'_>],
    ) {
        if !self.compares {
            return;
        }
        let each = places.iter();
        draft.places = Some(Box::new(Seen {
            looked: looked.into_vec(),
            lacking,
            unit,
            places: each
                .map(|one| (one.place.clone(), one.num.clone()))
                .collect(),
        }));
    }

    /// Tells how many places count of those that the rule asks for, and which were left out.
    pub(super) fn tell_places(
        &self,
        draft: &mut Draft,
        rule: &Rule,
        counting: usize,
        left_out: impl FnOnce(&mut Vec<FoundPlace>),
    ) {
        let required = rule.places.as_ref().map_or(1, |places| places.at_least);
        draft.tell(|told| {
            told.places = Some((u32::try_from(counting).unwrap_or(u32::MAX), required));
            left_out(&mut told.left_out);
        });
    }

    /// The outcome of the places, and the place to show.
    pub(super) fn conclude<'p>(
        &self,
        draft: &mut Draft,
        looked: &[LookedAt],
        lacking: &Option<(Reason, Option<Settle>)>,
        place: &dyn Fn(usize) -> Option<(&'p Where, &'p Num)>,
        (unit, at, rule): (Unit, usize, &Rule),
    ) -> Option<usize> {
        let left_out = |(_, looked, _): &LookedAt| *looked == Looked::Out;
        if may_leave_out(rule) && !looked.is_empty() && looked.iter().all(left_out) {
            let (outcome, reason) = LEFT_OUT;
            draft.rulings = ByStage::of(|_| (outcome, reason));
            return None;
        }
        let purpose = self.context.purpose;
        let lack = lacking.as_ref().map(|(reason, _)| *reason);
        draft.rulings = self.by_stage(|stage| {
            let at = |decided: &Decided| *decided.rulings.at(stage);
            let mut tally = Tally::default();
            for (_, looked, decided) in looked {
                tally.add(*looked, at(decided));
            }
            tally.outcome(lack, || {
                let open = looked.iter().filter(|(_, looked, decided)| {
                    *looked == Looked::In && at(decided).0 == Outcome::NotDecided
                });
                let least = open.min_by(|a, b| ratio(&a.2).total_cmp(&ratio(&b.2)));
                least.map(|(_, _, decided)| at(decided))
            })
        });
        let (outcome, reason) = *draft.rulings.at(purpose);
        let shown = shown_place(looked, outcome, reason, purpose);
        if let Some((number, _, decided)) = shown.and_then(|shown| looked.get(shown))
            && let Some((place, num)) = place(*number)
        {
            self.fill(draft, num, decided, unit, at, rule);
            draft.tell(|told| told.place = Some(found_place(place, unit)));
        }
        draft.tell(|told| match (reason, lacking) {
            (Some(Reason::PlaceNotStated), _) => told.settled_by = Some(Settle::StatePlace),
            (Some(reason), Some(lacking)) if reason == lacking.0 => {
                told.settled_by = lacking.1.clone()
            }
            _ => {}
        });
        shown
    }

    /// Compares another measurer's places with the first one's, place by place.
    pub(super) fn compare_places(&self, draft: &mut Draft, other: &Seen, at: usize, rule: &Rule) {
        let Some(mut seen) = draft.places.take() else {
            return;
        };
        for (number, looked, decided) in &mut seen.looked {
            let Some((own, _)) = seen.places.get(*number) else {
                continue;
            };
            let same = other
                .places
                .iter()
                .position(|(place, _)| same_place(own, place));
            let theirs = other
                .looked
                .iter()
                .filter(|(number, _, _)| Some(*number) == same);
            let theirs = theirs
                .clone()
                .find(|(_, at, _)| at == looked)
                .or(theirs.clone().next());
            if let Some((_, _, theirs)) = theirs {
                decided.rulings = agreed(&decided.rulings, &theirs.rulings);
            }
        }
        let places = &seen.places;
        let place = |number: usize| places.get(number).map(|(place, num)| (place, num));
        let shown_in = (seen.unit, at, rule);
        self.conclude(draft, &seen.looked, &seen.lacking, &place, shown_in);
        draft.places = Some(seen);
    }

    pub(super) fn mean(
        &mut self,
        rule: &'r Rule,
        at: usize,
        item: &'r Item,
        places: &[PlaceNum<'r>],
        met: &Met<'r>,
        mut draft: Draft,
    ) -> Draft {
        let mut counting: SmallVec<[usize; 8]> = SmallVec::new();
        let mut out: SmallVec<[usize; 8]> = SmallVec::new();
        for (number, place) in places.iter().enumerate() {
            match self.looked(rule, at, item, place.place) {
                Looked::In => counting.push(number),
                Looked::Out => out.push(number),
                Looked::Unstated => {}
            }
        }
        let unstated = counting.len() + out.len() < places.len();
        let untold = unstated.then(|| self.untold(rule, at)).flatten();
        let lacking = untold
            .clone()
            .or_else(|| self.lacking(rule, at, &counted(places, &counting)));
        let stated: SmallVec<[&Num; 8]> = counting
            .iter()
            .filter_map(|number| places.get(*number))
            .map(|one| &one.num)
            .collect();
        let count = i64::try_from(stated.len()).unwrap_or(i64::MAX);
        self.tell_places(&mut draft, rule, counting.len(), |told| {
            let out = out.iter().filter_map(|number| places.get(*number));
            told.extend(out.map(|one| found_place(one.place, met.unit)));
        });
        let share = Exact::ONE.checked_div(&Exact::from_integer(count));
        let (Some(first), Some(share)) = (stated.first(), share) else {
            if may_leave_out(rule) && !out.is_empty() && out.len() == places.len() {
                let (outcome, reason) = LEFT_OUT;
                return draft.ruled(outcome, reason);
            }
            let (reason, settle) = if let Some(untold) = untold {
                untold
            } else if out.is_empty() {
                (Reason::PlaceNotStated, Some(Settle::StatePlace))
            } else {
                let required = rule.places.as_ref().map_or(1, |places| places.at_least);
                (Reason::TooFewPlaces, Some(Settle::MorePlaces(required)))
            };
            draft.tell(|told| told.settled_by = settle);
            return draft.ruled(Outcome::NotDecided, Some(reason));
        };
        let sum = Uncertain::sum(stated.iter().map(|num| &num.value));
        let evidence = stated
            .iter()
            .fold(first.evidence, |all, num| all.and(num.evidence));
        let mut mean = first.with(sum.scale(&share));
        mean.evidence = evidence;
        let decided = self.decided(&mean, met);
        self.fill(&mut draft, &mean, &decided, met.unit, at, rule);
        let lack = lacking.as_ref().map(|(reason, _)| *reason);
        let rulings = self.by_stage(|stage| lacked(*decided.rulings.at(stage), lack));
        if let (Some(lacking), (_, Some(reason))) = (&lacking, rulings.at(self.context.purpose))
            && *reason == lacking.0
        {
            draft.tell(|told| told.settled_by = lacking.1.clone());
        }
        draft.ruled_by(rulings)
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

    /// What the places lack to be enough, with what would settle it.
    pub(super) fn lacking(
        &mut self,
        rule: &'r Rule,
        at: usize,
        counting: &[Counting<'_>],
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
        if counting.iter().any(|one| one.readings < asked.repeats) {
            return Some((
                Reason::TooFewRepeats,
                Some(Settle::MoreRepeats(asked.repeats)),
            ));
        }
        let spacing = asked.spacing.as_ref()?;
        let stated = || counting.iter().filter_map(|one| one.place.at.as_ref());
        let all_stated = stated().count() == counting.len();
        if all_stated && let Some(too_wide) = self.eval.too_wide_at_a_glance(spacing, at, stated())
        {
            return too_wide.then_some((Reason::TooFewPlaces, Some(Settle::CloserPlaces)));
        }
        let mut end = |expression: &'r crate::expression::Expression| match self
            .eval
            .value(&expression.root, at)
        {
            // What nothing can rest on at home, no place can be told from.
            Val::Number(num) => match num.evidence.reason(Stage::SelfCheck) {
                None => Ok(num.value.value.as_exact().cloned()),
                Some(reason) => Err(super::value::Why {
                    reason,
                    missing: super::value::Missing::Evidence(num.evidence),
                    span: Some(num.span),
                }),
            },
            Val::Unknown(why) => Err(why),
            _ => Ok(None),
        };
        let (from, to) = match (end(&spacing.from), end(&spacing.to)) {
            (Ok(Some(from)), Ok(Some(to))) => (from, to),
            (Err(why), _) | (_, Err(why)) => return Some((why.reason, self.settle_of(&why))),
            _ => return Some((Reason::NotMeasured, None)),
        };
        if !all_stated {
            return Some((Reason::PlaceNotStated, Some(Settle::StatePlace)));
        }
        let (low, high) = if from <= to {
            (&from, &to)
        } else {
            (&to, &from)
        };
        let mut positions: SmallVec<[&Exact; 8]> = stated().chain([low, high]).collect();
        positions.sort();
        let too_wide = positions.windows(2).any(|pair| match pair {
            [a, b] => (*b - *a) > spacing.at_most.value && *a >= low && *b <= high,
            _ => false,
        });
        too_wide.then_some((Reason::TooFewPlaces, Some(Settle::CloserPlaces)))
    }
}

/// Whether a rule is done with where every place lies in a zone that it leaves out: it asks neither for a number
/// of places nor for places in a zone.
fn may_leave_out(rule: &Rule) -> bool {
    rule.places.is_none() && rule.zone.is_none()
}

/// What is said then.
const LEFT_OUT: Ruling = (Outcome::NotApplicable, Some(Reason::LeftOut));

/// The places behind a draft.
#[derive(Clone, Debug)]
pub struct Seen {
    looked: Vec<LookedAt>,
    lacking: Option<(Reason, Option<Settle>)>,
    unit: Unit,
    places: Vec<(Where, Num)>,
}

/// Two measurers' outcomes: where they differ, neither stands until a named person chooses.
pub(super) fn agreed(one: &ByStage<Ruling>, other: &ByStage<Ruling>) -> ByStage<Ruling> {
    ByStage::of(|stage| {
        let (a, b) = (*one.at(stage), *other.at(stage));
        if a.0 == b.0 {
            a
        } else {
            (Outcome::NotDecided, Some(Reason::MeasurersDisagree))
        }
    })
}

/// Whether a rule looks at a place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Looked {
    /// It does.
    In,
    /// The place lies in a zone that is left out, or outside the only zone.
    Out,
    /// The place does not say enough.
    Unstated,
}

/// The worst outcome of the places at a stage; too few places never conforms, and a place proven bad does
/// not conform however few there are.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Tally {
    bad: Option<Ruling>,
    implausible: bool,
    unstated: bool,
    unstated_bad: bool,
    unstated_open: bool,
}

impl Tally {
    /// Takes what is said of one place.
    pub fn add(&mut self, looked: Looked, ruling: Ruling) {
        let (bad, open) = match ruling.0 {
            Outcome::DoesNotConform => (true, false),
            Outcome::NotDecided => (false, true),
            Outcome::Conforms | Outcome::NotApplicable => (false, false),
        };
        match looked {
            Looked::In if bad => {
                self.bad.get_or_insert(ruling);
            }
            Looked::In => {}
            // A place that is left out has no say.
            Looked::Out => return,
            Looked::Unstated => {
                self.unstated = true;
                self.unstated_bad |= bad;
                self.unstated_open |= open;
            }
        }
        self.implausible |= open && ruling.1 == Some(Reason::Implausible);
    }

    /// The outcome of all. `open` gives what is said of the place inside that is open with the smallest margin
    /// over U.
    pub fn outcome(self, lacking: Option<Reason>, open: impl FnOnce() -> Option<Ruling>) -> Ruling {
        if let Some(bad) = self.bad {
            return bad;
        }
        // A slip of the pencil is told as one, wherever its place lies.
        if self.implausible {
            return (Outcome::NotDecided, Some(Reason::Implausible));
        }
        // Where a zone ends that nobody measured, no place can be stated to lie.
        let not_stated = match lacking {
            None | Some(Reason::TooFewPlaces | Reason::TooFewRepeats | Reason::PlaceNotStated) => {
                (Outcome::NotDecided, Some(Reason::PlaceNotStated))
            }
            Some(reason) => (Outcome::NotDecided, Some(reason)),
        };
        if self.unstated_bad {
            return not_stated;
        }
        if let Some(open) = open() {
            return open;
        }
        // A doubt where it is not said that the rule looks is no pass either: with less uncertainty it might
        // have been a failure.
        if self.unstated_open {
            return not_stated;
        }
        match lacking {
            Some(Reason::TooFewPlaces) if self.unstated => not_stated,
            Some(reason) => (Outcome::NotDecided, Some(reason)),
            None => (Outcome::Conforms, None),
        }
    }
}

/// Margin over U, by which the place to show is chosen; the margin alone where U is zero.
pub(super) fn ratio(decided: &Decided) -> f64 {
    let margin = decided.margin.to_f64();
    match decided.expanded {
        Some(expanded) if expanded.U > 0.0 => margin / expanded.U,
        _ if margin < 0.0 => f64::NEG_INFINITY,
        _ if margin > 0.0 => f64::MAX,
        _ => 0.0,
    }
}

/// The place that a finding shows: among those that gave the outcome, the one with the smallest margin
/// over U.
pub(super) fn shown_place(
    looked: &[LookedAt],
    outcome: Outcome,
    reason: Option<Reason>,
    stage: Stage,
) -> Option<usize> {
    let wanted = |(_, at, decided): &LookedAt| {
        let own = *decided.rulings.at(stage);
        match (outcome, reason) {
            (Outcome::NotDecided, Some(Reason::PlaceNotStated)) => *at == Looked::Unstated,
            (Outcome::DoesNotConform, _) => *at == Looked::In && own.0 == Outcome::DoesNotConform,
            _ => *at == Looked::In && own == (outcome, reason),
        }
    };
    let best = |test: &dyn Fn(&LookedAt) -> bool| {
        let mut best: Option<(usize, f64, f64)> = None;
        for (number, one) in looked.iter().enumerate().filter(|(_, one)| test(one)) {
            let key = (ratio(&one.2), one.2.margin.to_f64());
            if best.is_none_or(|(_, ratio, margin)| {
                key.0
                    .total_cmp(&ratio)
                    .then(key.1.total_cmp(&margin))
                    .is_lt()
            }) {
                best = Some((number, key.0, key.1));
            }
        }
        best.map(|(number, _, _)| number)
    };
    best(&wanted)
        .or_else(|| best(&|one| one.1 == Looked::In))
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
