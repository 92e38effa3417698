//! Items of which little is declared and measured, as lists with all of it: correctors with place and mass.

use crate::check::{Brief, Context, Finding, ItemRef, MeasuredValue, Outcome, Plan, RuleRef};
use crate::paper::certificate::{List, ListRow};
use crate::record::{Found, Item, TraitClaim, TraitValue};
use crate::report::{Figures, Fractions, capital, plain_name};
use crate::vocabulary::{ChoiceId, Holding, MeasureKind, Name, Part, Trait, TraitKind};

use super::certificate::Matter;
use super::typeset::typeset;

/// Most columns of a list: more are read better as findings, one below the other.
const COLUMNS: usize = 4;

/// Whether the items of a holding are told in a list: many of a kind, of which a line holds everything.
fn is_listed(holding: &Holding, part: &Part) -> bool {
    let single = |kind: MeasureKind| match kind {
        MeasureKind::Quantity(_) | MeasureKind::YesNo => true,
        MeasureKind::Profile
        | MeasureKind::Line
        | MeasureKind::Section
        | MeasureKind::LoadTest
        | MeasureKind::Outline => false,
    };
    let all_single = (part.measures.iter()).all(|one| single(one.kind) && !one.placed);
    holding.many
        && !part.is_group()
        && !part.measures.is_empty()
        && part.traits.len() + part.measures.len() <= COLUMNS
        && all_single
}

/// Whether an item is told in a list.
pub(super) fn stands_in_a_list(matter: &Matter<'_>, item: usize) -> bool {
    let vocabulary = &matter.checked.rules.vocabulary;
    let holding = matter.checked.record.items.get(item);
    let holding = holding.and_then(|item| vocabulary.holding(item.holding?));
    holding.is_some_and(|holding| {
        let part = vocabulary.part(holding.part);
        part.is_some_and(|part| is_listed(holding, part))
    })
}

/// The lists, in the order of the class; `why` says why an item is not covered.
pub(super) fn lists(matter: &Matter<'_>, why: &dyn Fn(usize) -> Option<String>) -> Vec<List> {
    let vocabulary = &matter.checked.rules.vocabulary;
    let mut found = Vec::new();
    let mut plan = None;
    for holding in &vocabulary.holdings {
        let Some(part) = vocabulary.part(holding.part) else {
            continue;
        };
        let id = vocabulary.holding_named(&holding.key.text);
        let items = matter.checked.record.items.iter().enumerate();
        let items: Vec<usize> = items
            .filter(|(_, item)| item.holding == id && item.holding.is_some())
            .map(|(at, _)| at)
            .collect();
        if items.is_empty() || !is_listed(holding, part) {
            continue;
        }
        let plan = plan.get_or_insert_with(|| Plan::compile(matter.checked.rules.clone()));
        let names = part.traits.iter().map(|one| &one.name);
        let names = names.chain(part.measures.iter().map(|one| &one.name));
        let rows = items.into_iter().filter_map(|at| {
            let item = matter.checked.record.items.get(at)?;
            Some(ListRow {
                id: matter.name(at).to_owned(),
                values: values(matter, plan, part, (at, item)),
                not_covered: why(at),
            })
        });
        found.push(List {
            heading: capital(&plain_name(&holding.key.text)),
            columns: names.map(|name| capital(&plain_name(&name.text))).collect(),
            rows: rows.collect(),
        });
    }
    found
}

/// What stands in the columns of an item.
fn values(
    matter: &Matter<'_>,
    plan: &Plan,
    part: &Part,
    (at, item): (usize, &Item),
) -> Vec<String> {
    let checked = matter.checked;
    let context = Context {
        purpose: checked.purpose,
        day: checked.day,
        level: checked.level,
    };
    let claims = part.traits.iter().zip(&item.traits);
    let mut cells: Vec<String> = claims
        .map(|(one, claim)| {
            claim
                .as_ref()
                .map_or(String::new(), |claim| declared(one, claim))
        })
        .collect();
    let measured = plan.measured(&checked.record, &context, at);
    cells.extend(
        measured
            .into_iter()
            .map(|value| value.map_or(String::new(), shown)),
    );
    cells
}

fn declared(one: &Trait, claim: &TraitClaim) -> String {
    let word = |names: &[Name], id: &Option<ChoiceId>| {
        let name = id.and_then(|id| names.get(id.index()));
        plain_name(name.map_or("other", |name| &name.text))
    };
    match (&one.kind, &claim.value) {
        (TraitKind::Choice(names), TraitValue::Choice(choice)) => word(names, choice),
        (TraitKind::AnyOf(names), TraitValue::AnyOf(choices)) => {
            let words: Vec<String> = choices.iter().map(|id| word(names, id)).collect();
            words.join(", ")
        }
        (_, TraitValue::Flag(yes)) => if *yes { "yes" } else { "no" }.to_owned(),
        (_, TraitValue::Date(claim)) => claim.date.to_string(),
        (_, TraitValue::Choice(_) | TraitValue::AnyOf(_)) => String::new(),
    }
}

/// `1.502 ± 0.010 kg`, in the words of a finding.
fn shown((value, expanded): MeasuredValue) -> String {
    let mut finding = Finding::from(Brief {
        rule: RuleRef::Rule(0),
        item: ItemRef::Item(0),
        side: None,
        outcome: Outcome::Conforms,
        reason: None,
        benefit_of_doubt: false,
        second_measurer: false,
    });
    finding.value = Some(value);
    finding.expanded = expanded;
    let figure = Figures::of(&finding, &Fractions::default()).value;
    figure.map_or(String::new(), |figure| typeset(&figure.text()))
}

/// Items that a finding about other items draws on: the correctors behind their sum.
pub(super) fn drawn_on(items: &[Item], finding: &Finding, item: usize) -> bool {
    let Some(found) = items.get(item) else {
        return false;
    };
    let behind = |span| finding.source_at == span || finding.also_at.contains(&span);
    found.measures.iter().flatten().any(|measured| {
        behind(measured.span)
            || match &measured.found {
                Found::Answer(answer) => behind(answer.span),
                Found::Series(_) | Found::First(_) => false,
            }
    })
}
