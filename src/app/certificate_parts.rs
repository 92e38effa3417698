//! The findings of a certificate: by part of the class rules, what it says nothing about, exemptions.

use std::collections::{BTreeMap, BTreeSet};

use crate::check::{Finding, FoundPlace, ItemRef, Outcome, Reason, RuleRef};
use crate::expression::{Node, Op, Scope};
use crate::paper::certificate::{self, Grandfathered, NotMeasured, Part};
use crate::record::{Face, TraitValue};
use crate::report::{
    Figure, Message, capital, clause_order, exemption, limits_by_zone, plain_name, settled,
};
use crate::rules::{BoundKind, Rule, RulesFile, Stage};
use crate::vocabulary::Vocabulary;

use super::certificate::{Matter, proof};
use super::typeset::typeset;

/// What clauses are sorted by.
type ClauseOrder = Vec<(u64, String)>;

/// Findings that conform, by the first part of their clause.
pub(super) fn parts(matter: &Matter<'_>) -> Vec<Part> {
    let rules = &matter.checked.rules;
    let mut rows: Vec<(ClauseOrder, String, certificate::Finding)> = Vec::new();
    let mut pairs: BTreeMap<(usize, usize, usize), Vec<&Finding>> = BTreeMap::new();
    for finding in matter.findings() {
        if finding.outcome != Outcome::Conforms {
            continue;
        }
        pairs
            .entry((
                order_of(rules, finding.rule),
                item_of(finding),
                cap_of(finding),
            ))
            .or_default()
            .push(finding);
    }
    let mut nearest: Vec<(f64, certificate::Finding)> = Vec::new();
    for sides in pairs.values() {
        let Some(row) = row(matter, sides) else {
            continue;
        };
        let least = sides.iter().map(|side| settled(side)).reduce(f64::min);
        if let Some(least) = least.filter(|least| least.is_finite()) {
            nearest.push((least, row.clone()));
        }
        let letter = row.clause.split('.').next().unwrap_or("").to_owned();
        rows.push((clause_order(&row.clause), letter, row));
    }
    rows.sort_by(|a, b| a.0.cmp(&b.0));
    let rows = by_requirement(rows);
    let mut found: Vec<(String, Part)> = Vec::new();
    for (_, letter, row) in rows {
        match found.last_mut() {
            Some((last, part)) if *last == letter => part.findings.push(row),
            _ => {
                let part = Part {
                    heading: heading(rules, &letter),
                    findings: vec![row],
                };
                found.push((letter, part));
            }
        }
    }
    let parts = found.into_iter().map(|(_, part)| part);
    nearest_first(nearest).into_iter().chain(parts).collect()
}

/// How many findings stand before all others as the least settled.
const NEAREST: usize = 3;

/// What lies nearest to its limit, for its uncertainty, said before everything else; nothing where the findings
/// are so few that they are seen at a glance.
fn nearest_first(mut rows: Vec<(f64, certificate::Finding)>) -> Option<Part> {
    if rows.len() <= 2 * NEAREST {
        return None;
    }
    rows.sort_by(|a, b| a.0.total_cmp(&b.0));
    let findings = rows.into_iter().take(NEAREST).map(|(_, row)| row);
    Some(Part {
        heading: "Nearest to a limit for its uncertainty, the least settled first; each stands again below"
            .to_owned(),
        findings: findings.collect(),
    })
}

/// Within a clause, rows that ask the same stand together, in the order in which it is first asked: else a
/// boat with many sets would have each requirement printed once for every set.
fn by_requirement(
    rows: Vec<(ClauseOrder, String, certificate::Finding)>,
) -> Vec<(ClauseOrder, String, certificate::Finding)> {
    let same = |a: &certificate::Finding, b: &certificate::Finding| {
        a.clause == b.clause && a.title == b.title && a.requirement == b.requirement
    };
    let mut groups: Vec<Vec<(ClauseOrder, String, certificate::Finding)>> = Vec::new();
    for row in rows {
        let clause = groups.iter_mut().rev().take_while(|group| {
            group
                .first()
                .is_some_and(|first| first.2.clause == row.2.clause)
        });
        let found = clause
            .into_iter()
            .find(|group| group.first().is_some_and(|first| same(&first.2, &row.2)));
        match found {
            Some(group) => group.push(row),
            None => groups.push(vec![row]),
        }
    }
    groups.into_iter().flatten().collect()
}

/// Rules before limits on marks, both in the order of the file.
fn order_of(rules: &RulesFile, rule: RuleRef) -> usize {
    let all = rules.rules.len();
    match rule {
        RuleRef::Rule(at) => at,
        RuleRef::Marks(at, _) | RuleRef::Pairs(at) | RuleRef::Bring(at, _) => all + at,
        RuleRef::Equipment(id) | RuleRef::Role(id, _) => all + rules.marks.len() + id.index(),
        RuleRef::Silence(id) => {
            all + rules.marks.len() + rules.vocabulary.holdings.len() + id.index()
        }
        RuleRef::Unlisted(_) => usize::MAX,
    }
}

fn item_of(finding: &Finding) -> usize {
    match finding.item {
        ItemRef::Item(at) => at,
        ItemRef::Holding(id) => id.index(),
    }
}

fn cap_of(finding: &Finding) -> usize {
    match finding.rule {
        RuleRef::Marks(_, Some(cap)) => cap + 1,
        RuleRef::Role(_, role) => role.index() + 1,
        // Behind all caps.
        RuleRef::Pairs(_) => usize::MAX / 2,
        RuleRef::Bring(_, entry) => usize::MAX / 2 + 1 + entry,
        RuleRef::Marks(_, None)
        | RuleRef::Rule(_)
        | RuleRef::Equipment(_)
        | RuleRef::Silence(_)
        | RuleRef::Unlisted(_) => 0,
    }
}

/// `E Runners`: the letter with the kinds of part that its rules are about.
fn heading(rules: &RulesFile, letter: &str) -> String {
    let mut kinds: Vec<String> = Vec::new();
    for rule in &rules.rules {
        let many = rules
            .vocabulary
            .holdings
            .iter()
            .find(|holding| holding.part == rule.applies_to && holding.many);
        let name = many.map(|holding| &holding.key);
        let name = name.or_else(|| {
            rules
                .vocabulary
                .part(rule.applies_to)
                .map(|part| &part.name)
        });
        let name = name.map(|name| plain_name(&name.text));
        if rule.clause.text.split('.').next() == Some(letter)
            && let Some(name) = name
            && !kinds.contains(&name)
        {
            kinds.push(name);
        }
    }
    match kinds.as_slice() {
        [] => capital(letter),
        [one] => format!("{letter} {}", capital(one)),
        [most @ .., last] => format!("{letter} {} and {last}", capital(&most.join(", "))),
    }
}

/// The sides of a rule on an item as one row: the requirement names both, the margin is the smaller.
fn row(matter: &Matter<'_>, sides: &[&Finding]) -> Option<certificate::Finding> {
    let margin = |finding: &&&Finding| {
        finding
            .margin
            .as_ref()
            .map_or(f64::INFINITY, crate::quantity::Number::to_f64)
    };
    let nearest = sides
        .iter()
        .min_by(|a, b| margin(a).total_cmp(&margin(b)))?;
    let message = Message::of(matter.checked, matter.labels, nearest);
    let of_zones = match nearest.rule {
        RuleRef::Rule(at) if nearest.exemption.is_none() => {
            let rules = &matter.checked.rules;
            rules.rule(at).and_then(|rule| limits_by_zone(rules, rule))
        }
        _ => None,
    };
    let requirements: Vec<(Option<BoundKind>, Figure)> = sides
        .iter()
        .filter_map(|side| {
            let of_side = Message::of(matter.checked, matter.labels, side);
            Some((side.side, of_side.figures.limit?))
        })
        .collect();
    let value = message.figures.value.as_ref();
    let (measured, required) = nearest.places.unwrap_or((0, 0));
    Some(certificate::Finding {
        clause: message.clause.clone().unwrap_or_default(),
        title: message.title.clone(),
        item: message.item.clone(),
        requirement: typeset(&of_zones.unwrap_or_else(|| requirement(&requirements))),
        value: value.map_or(String::new(), |figure| typeset(&figure.text())),
        k: nearest
            .expanded
            .filter(|expanded| expanded.U > 0.0)
            .map_or(String::new(), |one| format!("{:.1}", one.k)),
        margin: message
            .figures
            .margin
            .as_ref()
            .map_or(String::new(), |figure| typeset(&figure.text())),
        places: match (measured, required) {
            (0, 0) => String::new(),
            (measured, required) if measured < required => format!("{measured} of {required}"),
            (measured, _) => measured.to_string(),
        },
        deciding: nearest.place.as_ref().map_or(String::new(), deciding),
        outcome: message.outcome.words().to_owned(),
    })
}

/// `from 4100 to 4300 mm`, `at least 4.70 mm`, `yes`
fn requirement(sides: &[(Option<BoundKind>, Figure)]) -> String {
    let find = |kind: BoundKind| {
        sides
            .iter()
            .find(|(side, _)| *side == Some(kind))
            .map(|(_, figure)| figure)
    };
    match (find(BoundKind::AtLeast), find(BoundKind::AtMost)) {
        (Some(low), Some(high)) if low.after == high.after => {
            format!("from {} to {} {}", low.number, high.number, high.after)
                .trim_end()
                .to_owned()
        }
        _ => {
            let texts: Vec<String> = sides.iter().map(|(_, figure)| figure.text()).collect();
            let bare = texts
                .iter()
                .map(|text| text.strip_suffix(" asked").unwrap_or(text));
            bare.collect::<Vec<&str>>().join(", ")
        }
    }
}

/// `−300 mm, port`
fn deciding(place: &FoundPlace) -> String {
    let unit = place.unit.unwrap_or(crate::quantity::Unit::MM);
    let distance = |value: &crate::quantity::Exact| {
        let (number, _) = crate::quantity::show::number(value, unit, None);
        typeset(&crate::quantity::show::with_unit(&number, unit))
    };
    let face = place.face.map(|face| match face {
        Face::Port => "port".to_owned(),
        Face::Starboard => "starboard".to_owned(),
    });
    let parts: Vec<String> = [place.at.as_ref().map(distance), face]
        .into_iter()
        .flatten()
        .collect();
    parts.join(", ")
}

/// Of what a rule asks nothing: items of the record, and kinds of part of which the record has none.
#[derive(Default)]
struct Silent {
    items: Vec<usize>,
    others: Vec<String>,
}

/// What the certificate says nothing about: rules that do not apply or are asked elsewhere, items that are
/// not covered.
pub(super) fn not_measured(matter: &Matter<'_>) -> Vec<NotMeasured> {
    let rules = &matter.checked.rules;
    let mut found: Vec<(ClauseOrder, NotMeasured)> = Vec::new();
    let mut silent: BTreeMap<(usize, &'static str, String), (NotMeasured, Silent)> =
        BTreeMap::new();
    for finding in matter.findings() {
        if finding.outcome != Outcome::NotApplicable {
            continue;
        }
        let message = Message::of(matter.checked, matter.labels, finding);
        let why = why(rules, finding, &message);
        let reason = finding.reason.map_or("", Reason::word);
        let gap = NotMeasured {
            clause: message.clause.clone().unwrap_or_default(),
            title: message.title.clone(),
            items: String::new(),
            how: "does not apply".to_owned(),
            why: why.clone(),
        };
        let entry = silent
            .entry((order_of(rules, finding.rule), reason, message.title.clone()))
            .or_insert_with(|| (gap, Silent::default()));
        match finding.item {
            ItemRef::Item(item) if !entry.1.items.contains(&item) => entry.1.items.push(item),
            ItemRef::Item(_) => {}
            ItemRef::Holding(_) => entry.1.others.push(message.item),
        }
    }
    for (mut gap, items) in silent.into_values() {
        let named = matter.names(&items.items);
        let all: Vec<String> = std::iter::once(named)
            .filter(|named| !named.is_empty())
            .chain(items.others)
            .collect();
        gap.items = all.join(", ");
        found.push((clause_order(&gap.clause), gap));
    }
    found.extend(
        rules
            .rules
            .iter()
            .filter_map(|rule| asked_elsewhere(matter, rule)),
    );
    found.sort_by(|a, b| a.0.cmp(&b.0));
    let mut gaps: Vec<NotMeasured> = found.into_iter().map(|(_, gap)| gap).collect();
    gaps.extend(left_out(matter));
    gaps
}

fn why(rules: &RulesFile, finding: &Finding, message: &Message) -> String {
    let words = message.why.clone().unwrap_or_default();
    match (finding.reason, finding.rule) {
        (Some(Reason::Condition), RuleRef::Rule(at)) => {
            let condition = rules.rule(at).and_then(|rule| rule.when.as_ref());
            condition.map_or(words, |when| format!("asked only when {}", when.text))
        }
        (Some(Reason::Exempt), _) => match &message.exemption {
            Some(because) => format!("{words}: {because}"),
            None => words,
        },
        _ => words,
    }
}

/// A rule that is not asked at certification, of a kind of part that is covered.
fn asked_elsewhere(matter: &Matter<'_>, rule: &Rule) -> Option<(ClauseOrder, NotMeasured)> {
    if *rule.checked_at.at(Stage::Certification) {
        return None;
    }
    let items: Vec<usize> = matter
        .covered
        .iter()
        .copied()
        .filter(|item| {
            matter
                .checked
                .record
                .items
                .get(*item)
                .is_some_and(|one| one.part == rule.applies_to)
        })
        .collect();
    let stages: Vec<&str> = Stage::ALL
        .into_iter()
        .filter(|stage| *rule.checked_at.at(*stage))
        .map(Stage::words)
        .collect();
    (!items.is_empty()).then(|| {
        let gap = NotMeasured {
            clause: rule.clause.text.clone(),
            title: rule.title.clone(),
            items: matter.names(&items),
            how: "not covered".to_owned(),
            why: format!("asked at {} only", stages.join(" and ")),
        };
        (clause_order(&rule.clause.text), gap)
    })
}

/// Items that were not asked for.
fn left_out(matter: &Matter<'_>) -> Option<NotMeasured> {
    let items: Vec<&str> = (0..matter.checked.record.items.len())
        .filter(|item| !matter.covered.contains(item))
        .map(|item| matter.name(item))
        .collect();
    (!items.is_empty()).then(|| NotMeasured {
        clause: String::new(),
        title: "All rules".to_owned(),
        items: items.join(", "),
        how: "not covered".to_owned(),
        why: "not asked for, or nothing is asked of them".to_owned(),
    })
}

/// Items accepted under another limit, with the proofs that it rests on.
pub(super) fn grandfathered(matter: &Matter<'_>) -> Vec<Grandfathered> {
    let rules = &matter.checked.rules;
    let mut found = Vec::new();
    let mut said = BTreeSet::new();
    for finding in matter.findings() {
        let (RuleRef::Rule(at), Some(row), ItemRef::Item(item)) =
            (finding.rule, finding.exemption, finding.item)
        else {
            continue;
        };
        let Some((rule, instead)) = rules
            .rule(at)
            .and_then(|rule| Some((rule, rule.instead.get(row)?)))
        else {
            continue;
        };
        if !said.insert((at, item)) {
            continue;
        }
        let mut claims = Vec::new();
        dates(&instead.condition.root, &mut claims);
        let proofs: Vec<String> = claims
            .into_iter()
            .filter_map(|(scope, slot)| claim(matter, item, scope, slot))
            .collect();
        let proofs = if proofs.is_empty() {
            String::new()
        } else {
            format!(" Proof: {}.", proofs.join("; "))
        };
        found.push(Grandfathered {
            clause: rule.clause.text.clone(),
            item: matter.name(item).to_owned(),
            basis: format!(
                "{}.{proofs}",
                capital(&typeset(&exemption(rules, rule, instead)))
            ),
        });
    }
    found
}

fn claim(matter: &Matter<'_>, item: usize, scope: Scope, slot: usize) -> Option<String> {
    let items = &matter.checked.record.items;
    let found = match scope {
        Scope::Own => items.get(item),
        Scope::Boat => items.first(),
        Scope::One(holding) => items.iter().find(|one| one.holding == Some(holding)),
        Scope::Role(role) => {
            let member = items.get(item)?.member(role)?;
            items.get(member.item)
        }
    }?;
    let part = matter
        .checked
        .rules
        .vocabulary
        .part(if scope == Scope::Boat {
            Vocabulary::BOAT
        } else {
            found.part
        })?;
    let name = plain_name(&part.traits.get(slot)?.name.text);
    match &found.traits.get(slot)?.as_ref()?.value {
        TraitValue::Date(claim) => Some(format!("{name} {}, {}", claim.date, proof(claim)?)),
        TraitValue::Choice(_) | TraitValue::AnyOf(_) | TraitValue::Flag(_) => None,
    }
}

/// The traits that a condition looks at.
fn dates(node: &Node, found: &mut Vec<(Scope, usize)>) {
    match &node.op {
        Op::Trait(scope, slot) => {
            if !found.contains(&(*scope, slot.index())) {
                found.push((*scope, slot.index()));
            }
        }
        Op::Negate(one) | Op::Not(one) | Op::Truth(one) => dates(one, found),
        Op::Arithmetic(_, left, right)
        | Op::Compare(_, left, right)
        | Op::IsSame { left, right, .. } => {
            dates(left, found);
            dates(right, found);
        }
        Op::IsChoice { subject, .. } => dates(subject, found),
        Op::And(list) | Op::Or(list) | Op::Call(_, list) => {
            list.iter().for_each(|one| dates(one, found))
        }
        // Counts and sums speak of other items.
        Op::Count { .. } | Op::Sum { .. } => {}
        Op::Quantity { .. }
        | Op::Date(_)
        | Op::YesNo(_)
        | Op::Measure(..)
        | Op::Derived(..)
        | Op::EventLevel
        | Op::EventDay
        | Op::Day
        | Op::IsLevel { .. } => {}
    }
}
