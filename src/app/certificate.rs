//! A checked record as a certificate: every text of the paper, from the words of the report.

use std::collections::BTreeSet;

use jiff::civil::Date;

use crate::check::{Finding, ItemRef, Outcome};
use crate::paper::Certificate;
use crate::paper::certificate::{
    Boat, ClassRules, Decision, Document, Item, Overlay, Record, Signature, Validity,
};
use crate::record::{DateClaim, TraitValue};
use crate::report::{
    Checked, Labels, capital, decision_sentence, event_changes, not_in_force, per_cent, plain_name,
};
use crate::rules::Caution;
use crate::vocabulary::{Part, TraitKind};

use super::certificate_lists::{lists, stands_in_a_list};
use super::certificate_parts::{grandfathered, not_measured, parts};
use super::certificate_record::{instruments, notes};
use super::typeset::typeset;

/// What the certificate says beyond the record.
pub(super) struct Given<'g> {
    /// Its number.
    pub number: &'g str,
    /// The day of issue.
    pub issued: Option<Date>,
    /// The certificate that it replaces.
    pub replaces: Option<&'g str>,
}

/// What a certificate is made of.
pub(super) struct Matter<'m> {
    pub checked: &'m Checked,
    pub labels: &'m Labels,
    pub covered: &'m BTreeSet<usize>,
}

impl<'m> Matter<'m> {
    /// The findings on the covered items.
    pub(super) fn findings(&self) -> impl Iterator<Item = &'m Finding> {
        let covered = self.covered;
        self.checked
            .verdict
            .findings
            .iter()
            .filter(move |finding| match finding.item {
                ItemRef::Item(item) => covered.contains(&item),
                ItemRef::Holding(_) => covered.contains(&0),
            })
    }

    /// Items of one kind in few words: their names, or `all runners but S9` where that is shorter.
    pub(super) fn names(&self, items: &[usize]) -> String {
        let names = |items: &[usize]| {
            let names: Vec<&str> = items.iter().map(|item| self.name(*item)).collect();
            names.join(", ")
        };
        let record = &self.checked.record.items;
        let holding = |item: usize| record.get(item).and_then(|one| one.holding);
        let kind = items.first().and_then(|first| holding(*first));
        let alike: Vec<usize> = (self.covered.iter().copied())
            .filter(|item| holding(*item) == kind)
            .collect();
        let key = kind.and_then(|id| self.checked.rules.vocabulary.holding(id));
        let (Some(key), true) = (key, items.iter().all(|item| alike.contains(item))) else {
            return names(items);
        };
        let others: Vec<usize> = (alike.iter().copied())
            .filter(|item| !items.contains(item))
            .collect();
        let all = format!("all {}", plain_name(&key.key.text));
        match others.len() {
            _ if alike.len() < 5 || items.len() < 2 * others.len() => names(items),
            0 => all,
            _ => format!("{all} but {}", names(&others)),
        }
    }

    /// The short name of an item.
    pub(super) fn name(&self, item: usize) -> &'m str {
        self.labels.short(ItemRef::Item(item))
    }
}

/// The certificate of the covered items.
pub(super) fn certificate(
    checked: &Checked,
    labels: &Labels,
    covered: &BTreeSet<usize>,
    given: &Given<'_>,
) -> Certificate {
    let matter = Matter {
        checked,
        labels,
        covered,
    };
    let record = &checked.record;
    let rules = &checked.rules;
    let measured_on = record.measured.day.unwrap_or(checked.day).to_string();
    let measurer = record
        .measured
        .by
        .clone()
        .unwrap_or_else(|| "not stated".to_owned());
    let built = date_of_boat(checked, "built");
    Certificate {
        title: "Measurement certificate".to_owned(),
        document: Document {
            number: given.number.to_owned(),
            replaces: given.replaces.map(str::to_owned),
            first_issued: None,
            measured_on: measured_on.clone(),
            issued_on: given.issued.map(|day| day.to_string()),
            measurer: measurer.clone(),
            temperature: record.measured.temperature.as_ref().map(|(value, unit)| {
                typeset(&crate::quantity::show::with_unit(&crate::quantity::show::number(value, *unit, None).0, *unit))
            }),
        },
        boat: Boat {
            sail_number: record.sail_number.clone(),
            name: record.boat_name.clone().unwrap_or_default(),
            owner: record.owner.clone().unwrap_or_else(|| "not stated".to_owned()),
            built: built.map(|claim| claim.date.to_string()),
            built_proof: built.and_then(proof),
            further: Vec::new(),
        },
        rules: ClassRules {
            title: rules.title.clone(),
            class: rules.class.text.clone(),
            version: rules.version.to_string(),
            in_force_from: rules.in_force_from.to_string(),
            replaces: rules.replaces.as_ref().map(ToString::to_string),
            digest: bare(&rules.digest),
            authority: rules.authority.clone(),
            interpretations: rules
                .standing(checked.day)
                .map(|one| (one.id.text.clone(), one.text.clone()))
                .collect(),
            not_in_force: not_in_force(rules, checked.day).map(|words| format!("{words}.")),
            overlay: rules.overlay.as_deref().map(|overlay| Overlay {
                event: overlay.event.text.clone(),
                digest: bare(&overlay.digest),
                changes: event_changes(rules),
                rulings: rules
                    .rulings(checked.day)
                    .map(|one| (format!("{}, {}", one.id.text, one.by), one.text.clone()))
                    .collect(),
            }),
        },
        decision: Decision {
            rule: decision_sentence(checked.decision_rule(), &rules.decision.guard_factor.to_string()),
            coverage_probability: per_cent(&rules.decision.coverage_probability),
        },
        statement: statement(&matter, &measured_on),
        items: items(&matter),
        lists: lists(&matter, &|item| why_not_covered(&matter, item)),
        parts: parts(&matter),
        not_measured: not_measured(&matter),
        grandfathered: grandfathered(&matter),
        instruments: instruments(&matter),
        record: Record {
            name: file_name(record.source.name()),
            digest: bare(&checked.digest()),
        },
        notes: notes(&matter),
        validity: validity(&matter, &measured_on),
        cautions: rules
            .cautions
            .iter()
            .filter(|caution| **caution != Caution::ComplianceIsNotSafety)
            .map(|caution| caution.words().to_owned())
            .collect(),
        interest: "Interest of the measurer in this boat, its equipment or its owner, stated by hand (none, or which):".to_owned(),
        signatures: signatures(&measurer),
        made_by: concat!("rimegauge ", env!("CARGO_PKG_VERSION")).to_owned(),
    }
}

fn bare(digest: &str) -> String {
    digest.trim_start_matches("sha256:").to_owned()
}

fn file_name(path: &str) -> String {
    path.rsplit(['/', '\\']).next().unwrap_or(path).to_owned()
}

/// `builder invoice 17, seen by AB on 2026-11-20`
pub(super) fn proof(claim: &DateClaim) -> Option<String> {
    let proof = claim.proof.as_ref()?;
    Some(match &claim.seen {
        Some((by, Some(on))) => format!("{proof}, seen by {by} on {on}"),
        Some((by, None)) => format!("{proof}, seen by {by}"),
        None => proof.clone(),
    })
}

fn date_of_boat<'c>(checked: &'c Checked, name: &str) -> Option<&'c DateClaim> {
    let boat = checked.record.items.first()?;
    let slot = checked
        .rules
        .vocabulary
        .part(boat.part)?
        .trait_named(name)?;
    match &boat.traits.get(slot.index())?.as_ref()?.value {
        TraitValue::Date(claim) => Some(claim),
        TraitValue::Choice(_) | TraitValue::AnyOf(_) | TraitValue::Flag(_) => None,
    }
}

/// Which items conformed with what, on which day.
fn statement(matter: &Matter<'_>, day: &str) -> String {
    let record = &matter.checked.record;
    let rules = &matter.checked.rules;
    let boat = match &record.boat_name {
        Some(name) => format!("{} {name}", record.sail_number),
        None => record.sail_number.clone(),
    };
    let overlay = rules.overlay.as_deref();
    let overlay = overlay.map_or(String::new(), |overlay| {
        format!(" with the overlay of {}", overlay.event.text)
    });
    let rules = format!("the {} {}{overlay}", rules.title, rules.version);
    let whole = matter.covered.len() == record.items.len();
    let names: Vec<String> = matter
        .covered
        .iter()
        .map(|item| said(matter, *item))
        .collect();
    let (subject, what) = if whole {
        (
            format!("The boat {boat}"),
            "and every item named here".to_owned(),
        )
    } else {
        (capital(&listed(&names)), format!("of {boat}"))
    };
    format!(
        "{subject} {what} conformed with {rules} on {day}, in all that is checked at certification."
    )
}

/// `runner S1`, `hull`, `the boat as a whole`
fn said(matter: &Matter<'_>, item: usize) -> String {
    let Some(found) = matter.checked.record.items.get(item) else {
        return matter.name(item).to_owned();
    };
    match &found.id {
        Some(_) if found.members.is_some() => {
            format!("{} of the {}", matter.name(item), kind(matter, item))
        }
        Some(_) => format!("{} {}", kind(matter, item), matter.name(item)),
        None if found.holding.is_none() => "the boat as a whole".to_owned(),
        None => matter.name(item).to_owned(),
    }
}

fn listed(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

fn kind(matter: &Matter<'_>, item: usize) -> String {
    let part = matter.checked.record.items.get(item).map(|item| item.part);
    let part = part.and_then(|part| matter.checked.rules.vocabulary.part(part));
    part.map_or(String::new(), |part| plain_name(&part.name.text))
}

/// The items, those that are covered first.
fn items(matter: &Matter<'_>) -> Vec<Item> {
    let all = 0..matter.checked.record.items.len();
    let (covered, left): (Vec<usize>, Vec<usize>) =
        all.partition(|item| matter.covered.contains(item));
    covered
        .into_iter()
        .chain(left)
        .filter(|item| !stands_in_a_list(matter, *item))
        .map(|item| {
            let (words, position, marks) = traits(matter, item);
            Item {
                id: matter.name(item).to_owned(),
                kind: words,
                position,
                marks,
                not_covered: why_not_covered(matter, item),
            }
        })
        .collect()
}

/// Why the certificate does not cover an item; nothing for one that it covers.
fn why_not_covered(matter: &Matter<'_>, item: usize) -> Option<String> {
    let asked = matter.checked.verdict.findings.iter().any(|finding| {
        finding.item == ItemRef::Item(item) && finding.outcome != Outcome::NotApplicable
    });
    let why = if asked {
        "not asked for"
    } else {
        "nothing is asked of it"
    };
    (!matter.covered.contains(&item)).then(|| why.to_owned())
}

/// What is declared of an item: its kind with its choices, its position, its nominations.
fn traits(matter: &Matter<'_>, item: usize) -> (String, String, String) {
    let mut words = vec![kind(matter, item)];
    let mut roles = Vec::new();
    let mut position = String::new();
    let mut marks = Vec::new();
    let found = matter.checked.record.items.get(item);
    let part = found.and_then(|item| matter.checked.rules.vocabulary.part(item.part));
    if let (Some(found), Some(part)) = (found, part) {
        for (one, claim) in part.traits.iter().zip(&found.traits) {
            let Some(claim) = claim else { continue };
            match (&one.kind, &claim.value) {
                (TraitKind::Choice(names), TraitValue::Choice(choice)) => {
                    let name = choice
                        .and_then(|id| names.get(id.index()))
                        .map_or("other", |name| &name.text);
                    if one.name.text == "position" {
                        position = plain_name(name);
                    } else {
                        words.push(plain_name(name));
                    }
                }
                (TraitKind::AnyOf(names), TraitValue::AnyOf(choices)) => {
                    let word = |id: &Option<crate::vocabulary::ChoiceId>| {
                        let name = id.and_then(|id| names.get(id.index()));
                        plain_name(name.map_or("other", |name| &name.text))
                    };
                    let list: Vec<String> = choices.iter().map(word).collect();
                    words.push(format!(
                        "{} {}",
                        plain_name(&one.name.text),
                        list.join(" + ")
                    ));
                }
                (TraitKind::Flag, TraitValue::Flag(true)) => {
                    marks.push(flag(matter, item, &one.name.text))
                }
                (TraitKind::Date, TraitValue::Date(claim)) if found.holding.is_some() => {
                    marks.push(format!("{} {}", plain_name(&one.name.text), claim.date));
                }
                _ => {}
            }
        }
        let members = found.members.iter().flat_map(|members| &members.roles);
        roles.extend(part.roles.iter().zip(members).filter_map(|(role, member)| {
            let role = plain_name(&role.name.text);
            Some(format!("{role} {}", matter.name(member.as_ref()?.item)))
        }));
    }
    let mut words = words.join(", ");
    if !roles.is_empty() {
        words = format!("{words}: {}", roles.join(", "));
    }
    (words, position, marks.join(", "))
}

/// A flag that nominates an item is said as what it is: nothing has been marked by it.
fn flag(matter: &Matter<'_>, item: usize, name: &str) -> String {
    let rules = &matter.checked.rules;
    let holding = matter
        .checked
        .record
        .items
        .get(item)
        .and_then(|item| item.holding);
    let nominates = rules.marks.iter().any(|mark| {
        let part = rules
            .vocabulary
            .holding(mark.item)
            .map(|holding| holding.part);
        let slot = part
            .and_then(|part| rules.vocabulary.part(part))
            .and_then(|part| part.trait_named(name));
        Some(mark.item) == holding && slot == Some(mark.nominated_by)
    });
    if nominates {
        "to be marked".to_owned()
    } else {
        format!("{}: yes", plain_name(name))
    }
}

fn validity(matter: &Matter<'_>, day: &str) -> Validity {
    let mut statement = format!(
        "Valid from {day} until the class rules named here are replaced by a version that asks more of a covered item."
    );
    if let Some((version, from)) = &matter.checked.later {
        statement.push_str(&format!(" Version {version} is in force from {from}."));
    }
    let kept = work_that_keeps(matter);
    let altered = match kept.as_slice() {
        [] => {
            "a covered item is altered, repaired or replaced other than by sharpening;".to_owned()
        }
        kept => format!(
            "a covered item is altered, repaired or replaced, but not by work that the class rules let it keep: {};",
            kept.join("; ")
        ),
    };
    let others = [
        "the boat changes its owner;",
        "correctors are moved or changed;",
        "the authority withdraws it.",
    ];
    let ends = std::iter::once(altered).chain(others.map(str::to_owned));
    Validity {
        statement,
        ends_when: ends.collect(),
    }
}

/// Work after which a certificate still holds, for each kind of covered part: `runner sharpened, straightened`.
fn work_that_keeps(matter: &Matter<'_>) -> Vec<String> {
    let vocabulary = &matter.checked.rules.vocabulary;
    let items = &matter.checked.record.items;
    let covered = |part: &Part| {
        let name = &part.name.text;
        let mut found = matter.covered.iter().filter_map(|at| items.get(*at));
        found.any(|item| vocabulary.part_named(name) == Some(item.part))
    };
    let of_part = |part: &Part| {
        let keeps = (part.alterations.iter()).filter(|one| !one.ends_certificate && !one.new_item);
        let names: Vec<String> = keeps.map(|one| plain_name(&one.name.text)).collect();
        (!names.is_empty()).then(|| format!("{} {}", plain_name(&part.name.text), names.join(", ")))
    };
    let parts = vocabulary.parts.iter().filter(|part| covered(part));
    parts.filter_map(of_part).collect()
}

fn signatures(measurer: &str) -> Vec<Signature> {
    let sign = |who: String, sentence: &str| Signature {
        who,
        sentence: sentence.to_owned(),
    };
    vec![
        sign(
            format!("Measurer: {measurer}"),
            "I took or supervised the readings stated here, as the class rules and this paper say.",
        ),
        sign(
            "Owner: receipt".to_owned(),
            "I have received this certificate. This signature is no agreement with it.",
        ),
        sign(
            "Owner: agreement".to_owned(),
            "I agree with what is stated here about my boat, and will have it measured again when an item is altered.",
        ),
    ]
}
