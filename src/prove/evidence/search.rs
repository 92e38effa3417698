//! Witnesses looked for, difference by difference.

use super::super::common::{MeasureIx, PartIx, Side};
use super::super::comparison::{Answer, Witness};
use super::band::{With, in_doubt};
use super::construct::{Change, left_out, tried};
use super::dates::moved_inside_months;
use super::difference::{Difference, Kind, Matched};
use super::edit::Pair;
use super::gold::{Gold, GoldBoat};
use super::matters::{covered, kept_by_others, need_covered, no_reason_to};
use super::needs::{Demand, Need, told};
use super::trial::{Bench, Toward, When};
use crate::check::Outcome;
use crate::rules::Stage;

/// Boats of one wish that are tried.
const BOATS: usize = 4;

/// What is found of a difference.
#[derive(Clone, Debug)]
pub struct Found {
    /// The first witness that something gets worse.
    pub worse: Option<Witness>,
    /// The first witness that something gets better.
    pub better: Option<Witness>,
    /// Why boats could not be had, in words.
    pub problems: Vec<String>,
    /// The rule that is looked at, by its ids in both versions; nothing where any will do.
    pub rules: Vec<String>,
}

impl Found {
    /// What is found toward a direction.
    pub fn at(&mut self, toward: Toward) -> &mut Option<Witness> {
        match toward {
            Toward::Worse => &mut self.worse,
            Toward::Better => &mut self.better,
        }
    }
}

/// Looks for witnesses.
pub struct Search<'a, 'r> {
    /// Both versions.
    pub bench: Bench<'a, 'r>,
    /// Their rules.
    pub matched: &'a Matched<'r>,
}

impl<'r> Search<'_, 'r> {
    /// The answers of a difference: whether something gets worse by it, and whether something gets better.
    pub fn answers(&self, difference: &Difference, gold: &mut dyn Gold) -> (Answer, Answer) {
        let reason = |toward| no_reason_to(difference, toward, self.bench.common, self.matched);
        let can: Vec<Toward> = Toward::BOTH
            .into_iter()
            .filter(|toward| reason(*toward).is_none())
            .collect();
        let mut found = Found {
            worse: None,
            better: None,
            problems: Vec::new(),
            rules: Side::BOTH
                .into_iter()
                .filter_map(|side| self.demand(side, difference))
                .map(|demand| demand.id.to_owned())
                .collect(),
        };
        let inside = moved_inside_months(difference, self.matched, self.bench.terms);
        if !can.is_empty() && !inside {
            self.look(difference, &can, gold, &mut found);
            self.look_for_failures(difference, &can, gold, &mut found);
        }
        let mut answer = |toward: Toward| {
            if let Some(witness) = found.at(toward).take() {
                return Answer::Witness(vec![witness]);
            }
            if inside || !can.contains(&toward) || self.is_covered(difference, toward) {
                return Answer::ProvedNone;
            }
            let direction = match toward {
                Toward::Worse => "worse",
                Toward::Better => "better",
            };
            let what = match &difference.kind {
                Kind::Needs(need) => format!("needs {}", told(*need, self.bench.common)),
                kind => kind.word().to_owned(),
            };
            let mut why = format!(
                "{} ({what}): no record that was made shows whether anything gets {direction} by it",
                difference.about
            );
            if let Some(problem) = found.problems.first() {
                why.push_str(&format!(" ({problem})"));
            }
            Answer::Undecided(vec![why])
        };
        (answer(Toward::Worse), answer(Toward::Better))
    }

    fn is_covered(&self, difference: &Difference, toward: Toward) -> bool {
        if covered(
            (self.bench.common, self.bench.terms),
            difference,
            self.matched,
        ) {
            return true;
        }
        let both = (self.bench.common, self.bench.terms);
        if kept_by_others(both, difference, self.matched, toward) {
            return true;
        }
        // What others need as well leaves them open; only a failure that this rule alone shows can be hidden.
        let gained = difference
            .new
            .and_then(|at| self.matched.new.get(at))
            .is_some_and(|one| match &difference.kind {
                Kind::Needs(need) => one.needs.contains(need),
                _ => false,
            });
        let open_anyway = match toward {
            Toward::Worse => gained,
            Toward::Better => !gained,
        };
        open_anyway
            && need_covered(
                (self.bench.common, self.bench.terms),
                difference,
                self.matched,
            )
    }

    /// Boats that the difference can show on: any, then those of a wish.
    fn look(
        &self,
        difference: &Difference,
        can: &[Toward],
        gold: &mut dyn Gold,
        found: &mut Found,
    ) {
        let wishes = self.wishes(difference);
        for wish in std::iter::once(None).chain(wishes.iter().map(Some)) {
            match gold.boats(wish) {
                Ok(boats) => {
                    for boat in boats.iter().take(BOATS) {
                        self.on_boat(difference, can, boat, found);
                        if can.iter().all(|toward| found.at(*toward).is_some()) {
                            return;
                        }
                    }
                }
                Err(problem) => {
                    if !found.problems.contains(&problem) {
                        found.problems.push(problem);
                    }
                }
            }
        }
    }

    pub(super) fn demand(&self, side: Side, difference: &Difference) -> Option<&Demand<'r>> {
        let at = match side {
            Side::Old => difference.old,
            Side::New => difference.new,
        };
        self.matched.at(side).get(at?)
    }

    /// The stages at which a boat is looked at for a difference, those at which it shows soonest first.
    pub(super) fn stages(difference: &Difference) -> Vec<Stage> {
        match &difference.kind {
            Kind::Doubt(stage) => vec![*stage],
            Kind::SetUp(..) | Kind::FirstValue(..) => {
                vec![
                    Stage::Certification,
                    Stage::EventInspection,
                    Stage::SelfCheck,
                ]
            }
            _ => vec![
                Stage::Certification,
                Stage::SelfCheck,
                Stage::EventInspection,
            ],
        }
    }

    fn on_boat(&self, difference: &Difference, can: &[Toward], boat: &GoldBoat, found: &mut Found) {
        for stage in Self::stages(difference) {
            for level in self.levels(difference, stage, boat) {
                let when = When {
                    stage,
                    level,
                    day: boat.day,
                };
                if self.bench.alike(&boat.pair, &when) == Some(Outcome::Conforms) {
                    self.at_stage(difference, can, (&boat.pair, &when), found);
                }
                if can.iter().all(|toward| found.at(*toward).is_some()) {
                    return;
                }
            }
        }
    }

    fn at_stage(
        &self,
        difference: &Difference,
        can: &[Toward],
        (gold, when): (&Pair, &When),
        found: &mut Found,
    ) {
        match &difference.kind {
            Kind::Doubt(_) => self.doubted(can, (gold, when), &With::Coarse, None, found),
            Kind::Floor(part, measure, method) => {
                let with = With::Method(method.clone());
                let only = Some((*part, *measure));
                self.doubted(can, (gold, when), &with, only, found);
                // Without any U a failure is open as well.
                for (_, failing) in self.spoilt((*part, *measure), (gold, when)) {
                    if can.iter().all(|toward| found.at(*toward).is_some()) {
                        return;
                    }
                    self.doubted(can, (&failing, when), &with, only, found);
                }
            }
            Kind::Judged => {
                if let (Some(old), Some(new)) = (difference.old, difference.new) {
                    let pairs = [(old, new)];
                    self.doubted_by(&pairs, can, (gold, when), &With::Scattering, None, found);
                    self.uneven(difference, can, (gold, when), found);
                }
            }
            Kind::Freshness(part, measure) => {
                let days = self.days_between(*part, *measure);
                self.hidden((*part, *measure), can, (gold, when), found, &|place| {
                    let each = days.iter();
                    each.map(|days| Change::Older((*part, *measure), place, *days))
                        .collect()
                });
            }
            Kind::Work(part, work, measures) => {
                for measure in measures {
                    self.hidden((*part, *measure), can, (gold, when), found, &|place| {
                        vec![Change::WorkAfter((*part, *measure), place, work.clone())]
                    });
                    if can.iter().all(|toward| found.at(*toward).is_some()) {
                        return;
                    }
                }
            }
            Kind::FirstValue(part, measure) => {
                self.hidden((*part, *measure), can, (gold, when), found, &|place| {
                    vec![Change::NoPaper((*part, *measure), place)]
                });
            }
            Kind::SetUp(part, measure) => {
                self.hidden((*part, *measure), can, (gold, when), found, &|place| {
                    Side::BOTH
                        .into_iter()
                        .map(|side| Change::SetUpAs((*part, *measure), place, side))
                        .collect()
                });
            }
            Kind::Zones => self.beside_borders(difference, can, (gold, when), found),
            Kind::Places | Kind::Spacing => self.fewer(difference, can, (gold, when), found),
            Kind::Repeats => self.fewer_readings(difference, can, (gold, when), found),
            Kind::Needs(need) => self.needed(difference, &[*need], can, (gold, when), found),
            Kind::Exemptions => {
                let needs = self.needs_of(difference, |one| {
                    one.exempting.iter().flatten().copied().collect()
                });
                // The proofs first: what else an exemption rests on is declared by every boat.
                let (proofs, others): (Vec<Need>, Vec<Need>) = needs
                    .into_iter()
                    .partition(|need| matches!(need, Need::Proof(..)));
                self.needed(difference, &proofs, can, (gold, when), found);
                self.needed(difference, &others, can, (gold, when), found);
                if !can.iter().all(|toward| found.at(*toward).is_some()) {
                    self.known_less(difference, can, (gold, when), found);
                }
            }
            Kind::Rule => {
                let needs = self.needs_of(difference, |one| one.all_needs().into_iter().collect());
                self.needed(difference, &needs, can, (gold, when), found);
                self.fewer(difference, can, (gold, when), found);
                self.fewer_readings(difference, can, (gold, when), found);
            }
        }
    }

    pub(super) fn needs_of(
        &self,
        difference: &Difference,
        needs: impl Fn(&Demand<'_>) -> Vec<Need>,
    ) -> Vec<Need> {
        let mut found: Vec<Need> = Vec::new();
        for side in [Side::New, Side::Old] {
            for need in self
                .demand(side, difference)
                .map(&needs)
                .unwrap_or_default()
            {
                if !found.contains(&need) {
                    found.push(need);
                }
            }
        }
        found
    }

    /// Ages at which one version takes a reading and the other does not.
    fn days_between(&self, part: PartIx, measure: MeasureIx) -> Vec<i64> {
        let days = |side: Side| {
            let own = self.bench.common.part(part)?;
            let id = own.measures.get(measure.index())?.at.at(side)?;
            let vocabulary = &self.bench.common.rules(side).vocabulary;
            let part = vocabulary.part(own.at.at(side)?)?;
            part.measures.get(id.index())?.fresh_for_days
        };
        let both = [days(Side::Old), days(Side::New)];
        let least = both.into_iter().flatten().min();
        least.map(|days| days + 1).into_iter().collect()
    }

    /// Keeps what a changed record shows, where it is the difference at hand by which the versions differ; tells
    /// whether all that is looked for is found.
    pub(super) fn try_one(
        &self,
        (base, shown): (&Pair, &Pair),
        when: &When,
        (told, can): (&str, &[Toward]),
        found: &mut Found,
    ) -> bool {
        let wanted = |toward: Toward, rules: Option<&[String]>| {
            let open = match toward {
                Toward::Worse => found.worse.is_none(),
                Toward::Better => found.better.is_none(),
            };
            let by_it = rules.is_none_or(|rules| {
                found.rules.is_empty() || found.rules.iter().any(|id| rules.contains(id))
            });
            can.contains(&toward) && open && by_it
        };
        let shown = self.bench.witness((base, shown), when, told, &wanted);
        if let Some((toward, witness)) = shown {
            *found.at(toward) = Some(witness);
        }
        can.iter().all(|toward| found.at(*toward).is_some())
    }

    /// Values inside the doubt, of every rule that both versions have.
    fn doubted(
        &self,
        can: &[Toward],
        gold: (&Pair, &When),
        with: &With,
        only: Option<(PartIx, MeasureIx)>,
        found: &mut Found,
    ) {
        let both = self.matched.pairs.iter();
        let both: Vec<(usize, usize)> = both
            .filter_map(|(old, new)| Some(((*old)?, (*new)?)))
            .filter(|(old, new)| self.same_statement(*old, *new))
            .collect();
        self.doubted_by(&both, can, gold, with, only, found);
    }

    fn same_statement(&self, old: usize, new: usize) -> bool {
        let holds = |side: Side, at: usize| {
            let demand = self.matched.at(side).get(at)?;
            demand.rule?;
            demand.clause.map(|clause| &clause.holds)
        };
        let old = holds(Side::Old, old);
        old.is_some() && old == holds(Side::New, new)
    }

    fn doubted_by(
        &self,
        rules: &[(usize, usize)],
        can: &[Toward],
        (gold, when): (&Pair, &When),
        with: &With,
        only: Option<(PartIx, MeasureIx)>,
        found: &mut Found,
    ) {
        for rule in rules {
            for toward in can {
                if found.at(*toward).is_some() {
                    continue;
                }
                let made = in_doubt(
                    &self.bench,
                    self.matched,
                    *rule,
                    (gold, when),
                    (with, *toward),
                    only,
                );
                for one in made {
                    if self.bench.alike(&one.exact, when).is_some()
                        && self.try_one((gold, &one.read), when, (&one.told, can), found)
                    {
                        return;
                    }
                }
            }
        }
    }

    /// What no longer counts: on a legal boat, and on one that has a failure which it hides.
    fn hidden(
        &self,
        (part, measure): (PartIx, MeasureIx),
        can: &[Toward],
        (gold, when): (&Pair, &When),
        found: &mut Found,
        changes: &dyn Fn(super::edit::Place) -> Vec<Change>,
    ) {
        let common = self.bench.common;
        for place in tried(gold, common, part) {
            let spoilt = [1, -1].map(|direction| Change::Spoil((part, measure), place, direction));
            let bases = std::iter::once(None).chain(spoilt.iter().map(Some));
            for spoil in bases {
                let base = match spoil {
                    None => Some(gold.clone()),
                    Some(spoil) => spoil.made(gold, common, when.day),
                };
                let Some(base) = base.filter(|base| self.bench.alike(base, when).is_some()) else {
                    continue;
                };
                for change in changes(place) {
                    let Some(shown) = change.made(&base, common, when.day) else {
                        continue;
                    };
                    let told = match spoil {
                        None => change.told(common),
                        Some(spoil) => {
                            format!("{}; {}", change.told(common), spoil.told(common))
                        }
                    };
                    if self.try_one((gold, &shown), when, (&told, can), found) {
                        return;
                    }
                }
            }
        }
    }

    /// Something left out that a rule needs: on a legal boat, and on one that fails by the rule.
    fn needed(
        &self,
        difference: &Difference,
        needs: &[Need],
        can: &[Toward],
        (gold, when): (&Pair, &When),
        found: &mut Found,
    ) {
        let common = self.bench.common;
        let mut bases: Vec<(Option<String>, Pair)> = vec![(None, gold.clone())];
        bases.extend(self.nominated(difference, gold, when));
        if difference.kind == Kind::Exemptions {
            let needing = self.beyond_main(difference, gold, when).into_iter();
            bases.extend(needing.filter(|(_, one)| self.bench.alike(one, when).is_some()));
        }
        let failing = matches!(difference.kind, Kind::Needs(_) | Kind::Exemptions);
        if failing {
            bases.extend(self.failing(difference, gold, when));
        }
        for (told, base) in &bases {
            for need in needs {
                for change in left_out(base, common, *need) {
                    let Some(shown) = change.made(base, common, when.day) else {
                        continue;
                    };
                    let told = match told {
                        None => change.told(common),
                        Some(more) => format!("{}; {more}", change.told(common)),
                    };
                    if self.try_one((gold, &shown), when, (&told, can), found) {
                        return;
                    }
                }
            }
        }
    }
}
