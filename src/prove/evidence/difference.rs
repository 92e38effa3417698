//! What differs between two versions in what they ask as evidence, and who carries the doubt.
//!
//! `plausible`, titles, remedies, the order and the numbers of clauses are no part of it: no outcome rests on them, but
//! for readings that nobody confirmed.

use super::super::common::{Common, MeasureIx, PartIx, Side};
use super::super::legal::{Clause, ClauseOf};
use super::needs::{Demand, Need, demands, told};
use crate::rules::{Places, Stage};
use crate::vocabulary::{Measure, Part};

/// A kind of difference. Closed: for each there are constructions of records that show it.
#[derive(Clone, Debug, PartialEq)]
pub enum Kind {
    /// The decision rule of a stage, the guard factor or the coverage probability.
    Doubt(Stage),
    /// U below which a method is never taken for a measure, or of which it is known at all; by its name.
    Floor(PartIx, MeasureIx, String),
    /// After how many days a reading is stale.
    Freshness(PartIx, MeasureIx),
    /// What some work asks for again; by its name, with the measures of which the versions differ.
    Work(PartIx, String, Vec<MeasureIx>),
    /// Whether a value is fixed for good, and a paper says it.
    FirstValue(PartIx, MeasureIx),
    /// How a load test is set up.
    SetUp(PartIx, MeasureIx),
    /// The least number of places of a rule.
    Places,
    /// The least number of readings at a place.
    Repeats,
    /// How near to each other places must be.
    Spacing,
    /// Whether each place is judged, or their mean.
    Judged,
    /// Where along an item places count, and by which row.
    Zones,
    /// Something that a rule newly needs, or no longer.
    Needs(Need),
    /// Exemptions: for whom, until when, and what counts while a proof is missing.
    Exemptions,
    /// A rule that the other version does not have.
    Rule,
}

impl Kind {
    /// The word of a kind.
    pub fn word(&self) -> &'static str {
        match self {
            Kind::Doubt(_) => "decision",
            Kind::Floor(..) => "method",
            Kind::Freshness(..) => "fresh_for",
            Kind::Work(..) => "measure_again",
            Kind::FirstValue(..) => "fixed_at",
            Kind::SetUp(..) => "set_up",
            Kind::Places => "places",
            Kind::Repeats => "repeats",
            Kind::Spacing => "spaced_at_most",
            Kind::Judged => "judged",
            Kind::Zones => "zones",
            Kind::Needs(_) => "needs",
            Kind::Exemptions => "instead",
            Kind::Rule => "rule",
        }
    }
}

/// A difference.
#[derive(Clone, Debug)]
pub struct Difference {
    /// Its kind.
    pub kind: Kind,
    /// The id of the rule that it is one of; nothing where it is one of what records can say, or of the decision.
    pub rule: Option<String>,
    /// What it is about, in words.
    pub about: String,
    /// What was written or asked.
    pub was: Option<String>,
    /// What is written or asked now.
    pub is: Option<String>,
    /// The demand in the old version, by its place.
    pub(super) old: Option<usize>,
    /// The demand in the new version.
    pub(super) new: Option<usize>,
}

impl Difference {
    /// What it is about, in words.
    pub fn what(&self) -> String {
        self.about.clone()
    }
}

/// The demands of both versions, and which of them are the same rule.
#[derive(Clone, Debug)]
pub struct Matched<'r> {
    /// Those of the old version.
    pub old: Vec<Demand<'r>>,
    /// Those of the new version.
    pub new: Vec<Demand<'r>>,
    /// Pairs, by their places.
    pub pairs: Vec<(Option<usize>, Option<usize>)>,
    /// What the old version forbids by saying nothing of it.
    unsaid_old: Vec<&'r Clause>,
    /// The same of the new version.
    unsaid_new: Vec<&'r Clause>,
}

impl<'r> Matched<'r> {
    /// The demands of a version.
    pub fn at(&self, side: Side) -> &[Demand<'r>] {
        match side {
            Side::Old => &self.old,
            Side::New => &self.new,
        }
    }

    /// What a version forbids of a kind of part by saying nothing of it.
    pub fn unsaid(&self, side: Side, on: PartIx) -> impl Iterator<Item = &'r Clause> {
        let all = match side {
            Side::Old => &self.unsaid_old,
            Side::New => &self.unsaid_new,
        };
        all.iter().copied().filter(move |one| one.on == on)
    }
}

/// Rules by their ids; one that moved to another id with the same statement is the same rule, and so is one that
/// needs the same.
pub fn matched<'r>(common: &Common<'r>, old: &'r [Clause], new: &'r [Clause]) -> Matched<'r> {
    let was = demands(common, Side::Old, old);
    let is = demands(common, Side::New, new);
    let mut of_new: Vec<Option<usize>> = vec![None; is.len()];
    let mut taken = vec![false; was.len()];
    let mut pair = |alike: &dyn Fn(&Demand<'_>, &Demand<'_>) -> bool| {
        for (one, found) in is.iter().zip(&mut of_new) {
            if found.is_some() {
                continue;
            }
            let mut free = was.iter().zip(&mut taken).enumerate();
            if let Some((at, (_, taken))) =
                free.find(|(_, (other, taken))| !**taken && alike(other, one))
            {
                *taken = true;
                *found = Some(at);
            }
        }
    };
    pair(&|one, other| one.id == other.id && one.term == other.term && one.on == other.on);
    pair(&|one, other| {
        one.term == other.term
            && one.on == other.on
            && one.clause.is_some()
            && one.clause.map(|clause| &clause.holds) == other.clause.map(|clause| &clause.holds)
    });
    // Of rules that only one version has, those that need the same are one rule with another limit: nothing else is
    // asked as evidence of the one than of the other.
    pair(&|one, other| {
        one.term.is_none()
            && other.term.is_none()
            && one.on == other.on
            && !one.needs.is_empty()
            && one.needs == other.needs
            && one.asked() == other.asked()
    });
    let both = of_new
        .iter()
        .enumerate()
        .map(|(new, old)| (*old, Some(new)));
    let gone = taken.iter().enumerate().filter(|(_, taken)| !**taken);
    let pairs = both.chain(gone.map(|(old, _)| (Some(old), None))).collect();
    let unsaid = |clauses: &'r [Clause]| {
        let silent = clauses.iter();
        let silent = silent.filter(|one| matches!(one.of, ClauseOf::Silence(..)));
        silent.collect()
    };
    Matched {
        old: was,
        new: is,
        pairs,
        unsaid_old: unsaid(old),
        unsaid_new: unsaid(new),
    }
}

/// All differences: the decision first, then what can be measured, then rule by rule.
pub fn differences(common: &Common<'_>, matched: &Matched<'_>) -> Vec<Difference> {
    let mut found = Vec::new();
    decision(common, &mut found);
    for (at, part) in common.parts.iter().enumerate() {
        let Ok(ix) = u16::try_from(at).map(PartIx) else {
            continue;
        };
        for (slot, measure) in part.measures.iter().enumerate() {
            let Ok(slot) = u16::try_from(slot).map(MeasureIx) else {
                continue;
            };
            let own = |side: Side| {
                let vocabulary = &common.rules(side).vocabulary;
                let own = part.at.at(side).and_then(|id| vocabulary.part(id))?;
                own.measures.get(measure.at.at(side)?.index())
            };
            if let (Some(old), Some(new)) = (own(Side::Old), own(Side::New)) {
                let about = told(Need::Measure(ix, slot), common);
                measured((ix, slot), (old, new), &about, &mut found);
            }
        }
        work(common, ix, &mut found);
    }
    for (old, new) in &matched.pairs {
        let (was, is) = (
            old.and_then(|at| matched.old.get(at)),
            new.and_then(|at| matched.new.get(at)),
        );
        let mut add = |kind: Kind, was: Option<String>, is: Option<String>| {
            let named = matched_name(matched, *old, *new);
            found.push(Difference {
                kind,
                rule: named.clone().map(|(id, _)| id),
                about: named.map_or(String::new(), |(_, told)| told),
                was,
                is,
                old: *old,
                new: *new,
            });
        };
        match (was, is) {
            (Some(was), Some(is)) => rules(common, was, is, &mut add),
            (Some(one), None) if !one.needs.is_empty() => {
                add(Kind::Rule, Some(asks(common, one)), None);
            }
            (None, Some(one)) if !one.needs.is_empty() => {
                add(Kind::Rule, None, Some(asks(common, one)));
            }
            // What needs nothing a record has to say is the requirement's alone.
            (Some(_), None) | (None, Some(_)) | (None, None) => {}
        }
        // Asked of others, or at other stages, a rule is one less there and one more here.
        if let (Some(was), Some(is)) = (was, is)
            && was.asked() != is.asked()
        {
            let named = matched_name(matched, *old, *new);
            let each = [(Some(was), None, *old, None), (None, Some(is), None, *new)];
            for (was, is, old, new) in each {
                let says = |one: Option<&Demand<'_>>| one.map(|one| asks(common, one));
                if was.or(is).is_some_and(|one| one.needs.is_empty()) {
                    continue;
                }
                found.push(Difference {
                    kind: Kind::Rule,
                    rule: named.clone().map(|(id, _)| id),
                    about: named.clone().map_or(String::new(), |(_, told)| told),
                    was: says(was),
                    is: says(is),
                    old,
                    new,
                });
            }
        }
    }
    found
}

fn matched_name(
    matched: &Matched<'_>,
    old: Option<usize>,
    new: Option<usize>,
) -> Option<(String, String)> {
    let is = new.and_then(|at| matched.new.get(at));
    let one = is.or(old.and_then(|at| matched.old.get(at)))?;
    Some((one.id.to_owned(), one.told()))
}

/// What a demand needs, in words.
fn asks(common: &Common<'_>, demand: &Demand<'_>) -> String {
    let each = demand.needs.iter().map(|need| told(*need, common));
    format!("needs {}", each.collect::<Vec<_>>().join(", "))
}

fn decision(common: &Common<'_>, found: &mut Vec<Difference>) {
    let (was, is) = (&common.old.decision, &common.new.decision);
    let says = |side: Side, stage: Stage| {
        let decision = &common.rules(side).decision;
        let rule = match decision.rules.at(stage) {
            crate::uncertainty::DecisionRule::SimpleAcceptance => "simple_acceptance",
            crate::uncertainty::DecisionRule::GuardedAcceptance => "guarded_acceptance",
            crate::uncertainty::DecisionRule::GuardedRejection => "guarded_rejection",
        };
        let (coverage, _) = decision
            .coverage_probability
            .mul(&crate::quantity::Exact::from_integer(100))
            .to_decimal(12);
        let (factor, _) = decision.guard_factor.to_decimal(12);
        format!("{rule}, coverage {coverage} %, guard factor {factor}")
    };
    for stage in Stage::ALL {
        let same = was.rules.at(stage) == is.rules.at(stage)
            && was.coverage_probability == is.coverage_probability
            && was.guard_factor == is.guard_factor;
        if !same {
            found.push(Difference {
                kind: Kind::Doubt(stage),
                rule: None,
                about: format!("decision at {}", stage.words()),
                was: Some(says(Side::Old, stage)),
                is: Some(says(Side::New, stage)),
                old: None,
                new: None,
            });
        }
    }
}

fn measured(
    (part, slot): (PartIx, MeasureIx),
    (old, new): (&Measure, &Measure),
    about: &str,
    found: &mut Vec<Difference>,
) {
    let mut add = |kind: Kind, was: Option<String>, is: Option<String>| {
        found.push(Difference {
            kind,
            rule: None,
            about: about.to_owned(),
            was,
            is,
            old: None,
            new: None,
        });
    };
    let names = |one: &Measure| -> Vec<String> {
        one.methods
            .iter()
            .map(|one| one.name.text.clone())
            .collect()
    };
    let mut methods = names(old);
    methods.extend(names(new));
    methods.push("unnamed".to_owned());
    methods.sort();
    methods.dedup();
    for method in methods {
        let floor = |one: &Measure| floor_of(one, &method).cloned();
        if floor(old) != floor(new) || old.methods.is_empty() != new.methods.is_empty() {
            let says = |one: &Measure| {
                floor(one)
                    .map(|floor| format!("{method}: {} in base units", floor.to_decimal(12).0))
            };
            if says(old) != says(new) || floor(old).is_none() {
                add(
                    Kind::Floor(part, slot, method.clone()),
                    says(old),
                    says(new),
                );
            }
        }
    }
    if old.fresh_for_days != new.fresh_for_days {
        let says = |one: &Measure| one.fresh_for_days.map(|days| format!("{days} days"));
        add(Kind::Freshness(part, slot), says(old), says(new));
    }
    if old.fixed_at != new.fixed_at {
        let says = |one: &Measure| one.fixed_at.map(|_| "first_certification".to_owned());
        add(Kind::FirstValue(part, slot), says(old), says(new));
    }
    let set_up = |one: &Measure| {
        one.setup.as_ref().map(|setup| {
            let span = crate::quantity::show::number(&setup.span, setup.unit, None).0;
            let span = crate::quantity::show::with_unit(&span, setup.unit);
            format!("span {span}, on {}", setup.supports.words())
        })
    };
    if set_up(old) != set_up(new) {
        add(Kind::SetUp(part, slot), set_up(old), set_up(new));
    }
}

/// Work on a kind of part, by the measures that only one version asks for again after it.
fn work(common: &Common<'_>, ix: PartIx, found: &mut Vec<Difference>) {
    let Some(part) = common.part(ix) else {
        return;
    };
    let own = |side: Side| {
        let vocabulary = &common.rules(side).vocabulary;
        part.at.at(side).and_then(|id| vocabulary.part(id))
    };
    let (Some(old), Some(new)) = (own(Side::Old), own(Side::New)) else {
        return;
    };
    let mut names: Vec<&str> = Vec::new();
    for one in old.alterations.iter().chain(&new.alterations) {
        if !names.contains(&one.name.text.as_str()) {
            names.push(&one.name.text);
        }
    }
    for name in names {
        let again = |own: &Part, id: Option<crate::vocabulary::MeasureId>| {
            let kind = own.alterations.iter().find(|one| one.name.text == name);
            let measure = id.and_then(|id| own.measures.get(id.index()));
            // What is fixed for good is asked again of a new item alone.
            match (kind, id, measure.map(|one| one.fixed_at)) {
                (Some(kind), Some(_), Some(Some(_))) => kind.new_item,
                (Some(kind), Some(id), Some(None)) => kind.asks_again(id),
                _ => false,
            }
        };
        let (mut differ, mut was, mut is) = (Vec::new(), Vec::new(), Vec::new());
        for (slot, measure) in (0..).map(MeasureIx).zip(&part.measures) {
            if measure.at.old.is_none() || measure.at.new.is_none() {
                continue;
            }
            let (before, after) = (again(old, measure.at.old), again(new, measure.at.new));
            if before != after {
                differ.push(slot);
                if before { &mut was } else { &mut is }.push(measure.name.clone());
            }
        }
        if !differ.is_empty() {
            let says = |names: Vec<String>| {
                (!names.is_empty()).then(|| format!("measure_again: {}", names.join(", ")))
            };
            found.push(Difference {
                kind: Kind::Work(ix, name.to_owned(), differ),
                rule: None,
                about: format!(
                    "{} of {}",
                    name.replace('_', " "),
                    part.name.replace('_', " ")
                ),
                was: says(was),
                is: says(is),
                old: None,
                new: None,
            });
        }
    }
}

/// The floor of an instrument's method: its own, else that of readings without an instrument.
pub(super) fn floor_of<'m>(
    measure: &'m Measure,
    method: &str,
) -> Option<&'m crate::quantity::Exact> {
    let named = |name: &str| measure.methods.iter().find(|one| one.name.text == name);
    named(method)
        .or_else(|| named("unnamed"))
        .map(|one| &one.expanded_uncertainty)
}

fn rules(
    common: &Common<'_>,
    was: &Demand<'_>,
    is: &Demand<'_>,
    add: &mut dyn FnMut(Kind, Option<String>, Option<String>),
) {
    for need in was.needs.symmetric_difference(&is.needs) {
        let says = |one: &Demand<'_>| one.needs.contains(need).then(|| told(*need, common));
        add(Kind::Needs(*need), says(was), says(is));
    }
    let (Some(old), Some(new)) = (was.rule, is.rule) else {
        return;
    };
    let (old_places, new_places) = (old.places.as_ref(), new.places.as_ref());
    let number = |places: Option<&Places>| places.map_or(1, |one| one.at_least);
    if number(old_places) != number(new_places) {
        let says = |places| Some(format!("at_least {}", number(places)));
        add(Kind::Places, says(old_places), says(new_places));
    }
    let repeats = |places: Option<&Places>| places.map_or(1, |one| one.repeats.max(1));
    if repeats(old_places) != repeats(new_places) {
        let says = |places| Some(format!("repeats {}", repeats(places)));
        add(Kind::Repeats, says(old_places), says(new_places));
    }
    let spacing = |places: Option<&Places>| {
        let spacing = places.and_then(|one| one.spacing.as_ref());
        spacing.map(|one| {
            (
                one.at_most.value.clone(),
                one.from.text.clone(),
                one.to.text.clone(),
                one.at_most.as_written(),
            )
        })
    };
    let (old_gap, new_gap) = (spacing(old_places), spacing(new_places));
    let bare = |gap: &Option<(crate::quantity::Exact, String, String, String)>| {
        let gap = gap.as_ref();
        gap.map(|(most, from, to, _)| (most.clone(), from.clone(), to.clone()))
    };
    if bare(&old_gap) != bare(&new_gap) {
        let says = |gap: Option<(crate::quantity::Exact, String, String, String)>| {
            gap.map(|(_, from, to, most)| format!("spaced_at_most {most}, from {from} to {to}"))
        };
        add(Kind::Spacing, says(old_gap), says(new_gap));
    }
    if old.judged != new.judged {
        let says = |rule: &crate::rules::Rule| {
            Some(
                match rule.judged {
                    crate::rules::Judged::Unplaced => "one value",
                    crate::rules::Judged::WorstPlace => "worst_place",
                    crate::rules::Judged::Mean => "mean",
                }
                .to_owned(),
            )
        };
        add(Kind::Judged, says(old), says(new));
    }
    let zones = |one: &Demand<'_>| one.clause.map(|clause| clause.zones.clone());
    if zones(was) != zones(is) {
        add(
            Kind::Zones,
            zones_said(common, Side::Old, old),
            zones_said(common, Side::New, new),
        );
    }
    let (before, after) = (exemptions(was), exemptions(is));
    // One more that gives way to the main limit while it is not known asks for nothing.
    let gives_way = |list: &[Exempting<'_>]| list.iter().all(|(_, takes_main, _)| *takes_main);
    let none_more =
        (before.is_empty() && gives_way(&after)) || (after.is_empty() && gives_way(&before));
    if before != after && !none_more {
        let says = |rule: &crate::rules::Rule| {
            let each = rule.instead.iter().map(|row| {
                let until = row
                    .until
                    .map_or(String::new(), |day| format!(" until {day}"));
                let unproven = if row.unproven_takes_main {
                    ", unproven: main_limit"
                } else {
                    ""
                };
                format!("if {}{until}{unproven}", row.condition.text)
            });
            let each: Vec<String> = each.collect();
            (!each.is_empty()).then(|| each.join("; "))
        };
        add(Kind::Exemptions, says(old), says(new));
    }
}

/// The zones that a rule names, in words.
fn zones_said(common: &Common<'_>, side: Side, rule: &crate::rules::Rule) -> Option<String> {
    let name = |zone: crate::vocabulary::ZoneId| {
        let name = common.zone_name(side, rule.applies_to, zone);
        name.unwrap_or("").replace('_', " ")
    };
    let mut said: Vec<String> = Vec::new();
    said.extend(rule.zone.map(|(zone, _)| format!("in {}", name(zone))));
    let outside = rule.outside.iter();
    said.extend(outside.map(|(zone, _)| format!("outside {}", name(*zone))));
    if let crate::rules::Limits::ByZone { rows, .. } = &rule.limits {
        let zones = rows.iter().filter_map(|(zone, _)| *zone);
        said.extend(zones.map(|zone| format!("a row for {}", name(zone))));
    }
    (!said.is_empty()).then(|| said.join(", "))
}

/// What of the exemptions of a rule rests on proofs. Whom they are for and until when is the requirement's, as long as
/// the main limit counts while that is not known.
fn exemptions<'d>(demand: &'d Demand<'_>) -> Vec<Exempting<'d>> {
    let statements = demand.clause.map_or(&[][..], |clause| &clause.exemptions);
    let rows = demand.rule.map_or(&[][..], |rule| &rule.instead);
    statements
        .iter()
        .zip(rows)
        .zip(&demand.exempting)
        .map(|((one, row), needs)| {
            let takes_main = row.unproven_takes_main;
            ((!takes_main).then_some(&one.applies), takes_main, needs)
        })
        .collect()
}

/// Whom an exemption is for where that matters, whether the main limit counts while it is not known, and what it needs.
type Exempting<'d> = (
    Option<&'d super::super::formula::Formula>,
    bool,
    &'d std::collections::BTreeSet<Need>,
);
