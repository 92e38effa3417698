//! What differs between two versions beside their rules: what a boat has, traits, zones, work, groups.

use crate::rules::{Caution, RulesFile};
use crate::vocabulary::{Part, PartId};

use super::changes::{Differs, one, rows};
use super::rules_page::{alteration_words, declared, held, roles};
use super::sentence::{Speaker, Wording};
use super::words::plain_name;

/// Names with what is said of them.
type Named = Vec<(String, String)>;

/// Titles with what differs under them, in the order of the page.
pub(super) fn beside(was: &Wording<'_>, is: &Wording<'_>) -> Vec<(&'static str, Vec<Differs>)> {
    let of_parts = |said: fn(&Wording<'_>, PartId, &Part) -> Named| {
        named(&all_parts(was, said), &all_parts(is, said))
    };
    let boat = |wording: &Wording<'_>| held(&wording.rules.vocabulary);
    vec![
        ("Events", events(was.rules, is.rules)),
        ("What a boat has", named(&boat(was), &boat(is))),
        ("Declared", of_parts(traits)),
        ("Zones", of_parts(zones)),
        ("Work on a part", of_parts(work)),
        ("Parts used together", of_parts(groups)),
        ("Cautions", cautions(was.rules, is.rules)),
    ]
}

/// What differs under each name, told by the name alone.
fn named(was: &Named, is: &Named) -> Vec<Differs> {
    let mut all = rows("", was, is);
    for one in &mut all {
        if let Some(name) = one.what.strip_prefix(" for ") {
            one.what = name.to_owned();
        }
    }
    all
}

fn all_parts(wording: &Wording<'_>, said: fn(&Wording<'_>, PartId, &Part) -> Named) -> Named {
    let mut all = Vec::new();
    for (at, part) in wording.rules.vocabulary.parts.iter().enumerate() {
        if let Ok(id) = u16::try_from(at).map(PartId) {
            all.extend(said(wording, id, part));
        }
    }
    all
}

/// `construction of the runner`
fn of_part(name: &str, part: &Part) -> String {
    format!(
        "{} of the {}",
        plain_name(name),
        plain_name(&part.name.text)
    )
}

fn traits(_: &Wording<'_>, _: PartId, part: &Part) -> Named {
    let all = part.traits.iter();
    all.map(|one| (of_part(&one.name.text, part), declared(&one.kind)))
        .collect()
}

fn zones(wording: &Wording<'_>, id: PartId, part: &Part) -> Named {
    let speaker = Speaker::new(wording, id);
    let all = part.zones.iter();
    all.map(|zone| (of_part(&zone.name.text, part), speaker.zone(zone).text()))
        .collect()
}

fn work(_: &Wording<'_>, _: PartId, part: &Part) -> Named {
    let all = part.alterations.iter();
    all.map(|one| (of_part(&one.name.text, part), alteration_words(part, one)))
        .collect()
}

fn groups(wording: &Wording<'_>, _: PartId, part: &Part) -> Named {
    if part.is_group() {
        let said = roles(wording, part).join(", ");
        vec![(plain_name(&part.name.text), said)]
    } else {
        Vec::new()
    }
}

/// The levels of events, and what an event may change.
fn events(old: &RulesFile, new: &RulesFile) -> Vec<Differs> {
    let levels = |rules: &RulesFile| {
        let names = rules.vocabulary.event_levels.iter();
        let names: Vec<String> = names.map(|level| plain_name(&level.text)).collect();
        names.join(", ")
    };
    let may_change = |rules: &RulesFile| {
        let names = rules.events_may_change.iter();
        let names: Vec<&str> = names.map(|name| name.text.as_str()).collect();
        names.join(", ")
    };
    let mut all = Vec::new();
    all.extend(one("levels of events", &levels(old), &levels(new)));
    all.extend(one(
        "what an event may change",
        &may_change(old),
        &may_change(new),
    ));
    all
}

fn cautions(old: &RulesFile, new: &RulesFile) -> Vec<Differs> {
    let said = |rules: &RulesFile| {
        let all: Vec<&str> = rules
            .cautions
            .iter()
            .map(|one| Caution::words(*one))
            .collect();
        all.join(" ")
    };
    one("what is said on papers", &said(old), &said(new))
        .into_iter()
        .collect()
}
