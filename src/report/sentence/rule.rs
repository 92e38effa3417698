//! The sentences of a rule.

use crate::expression::{Node, Op, Scope};
use crate::rules::{Demand, Instead, Judged, Limits, Rule, Silence, rows};
use crate::vocabulary::{DerivedId, PartId};

use super::super::words::plain_name;
use super::phrase::{Phrase, day, with_article};
use super::table::judged_each;
use super::value::{Speaker, says_itself};
use super::{Says, Sentence, Wording, evidence};

/// Whether each place is judged by itself.
pub(super) fn each_place(judged: Judged) -> bool {
    judged_each(judged)
}

pub(super) fn sentences(wording: &Wording<'_>, rule: &Rule) -> Vec<Sentence> {
    let speaker = Speaker::new(wording, rule.applies_to);
    let mut said = vec![Sentence::new(Says::Demand, demand(&speaker, rule))];
    said.extend(silence(&speaker, rule).map(|phrase| Sentence::new(Says::Demand, phrase)));
    let mut meanings = Vec::new();
    meant(&speaker, rule, &mut meanings);
    said.extend(
        told(&meanings)
            .into_iter()
            .map(|phrase| Sentence::new(Says::Meaning, phrase)),
    );
    for instead in &rule.instead {
        for phrase in exemption(&speaker, rule, instead) {
            said.push(Sentence::new(Says::Exemption, phrase));
        }
    }
    said.extend(
        evidence::places(&speaker, rule).map(|phrase| Sentence::new(Says::Evidence, phrase)),
    );
    said.extend(evidence::stages(rule).map(|phrase| Sentence::new(Says::Stages, phrase)));
    said
}

/// `Within 300 mm of the pivot, the included angle of the edge section of a runner whose construction is not
/// angle shall at no place be less than 80 deg or more than 115 deg`
fn demand(speaker: &Speaker<'_>, rule: &Rule) -> Phrase {
    frame(speaker, rule).then(speaker.shall(rule))
}

/// Everything of the demand up to `shall`.
fn frame(speaker: &Speaker<'_>, rule: &Rule) -> Phrase {
    let root = &rule.value.root;
    let mut item = Phrase::of(speaker.item());
    let mut condition = None;
    match &rule.when {
        Some(when) if speaker.is_about_item(&when.root) && !speaker.is_single() => {
            item = item.words(" ").then(speaker.relative(&when.root));
            if let Op::Or(_) = when.root.op
                && item.text().contains(", or ")
                && speaker.is_plain(root)
            {
                item = item.words(",");
            }
        }
        Some(when) => condition = Some(Phrase::of("if ").then(speaker.clause(&when.root))),
        None => {}
    }
    let mean = match rule.judged {
        Judged::Mean => ", as the mean of its places,",
        Judged::Unplaced | Judged::WorstPlace => "",
    };
    let lists_options = match &rule.limits {
        Limits::Direct(row) => matches!(row.demand, Demand::Options(_)),
        Limits::ByTrait { .. }
        | Limits::ByTraits { .. }
        | Limits::ByZone { .. }
        | Limits::ByLevel { .. } => false,
    };
    // The item is named first where a condition speaks of it, and where no value of its own could name it.
    let named = speaker.is_plain(root) && condition.is_none();
    let (lead, main) = if lists_options {
        (None, item)
    } else if named {
        (None, speaker.value(root).words(" of ").then(item))
    } else if speaker.is_boat() && !speaker.is_answer(root) {
        (None, speaker.value(root))
    } else {
        (Some(Phrase::of("for ").then(item)), speaker.value(root))
    };
    let said = [lead, condition, place(speaker, rule)];
    let mut said: Vec<Phrase> = said.into_iter().flatten().collect();
    said.push(main.words(format!("{mean} shall ")));
    Phrase::joined(said, ", ", ", ")
}

/// What is asked apart from the limits, with what its computed values mean.
pub(in crate::report) fn rule_frame(wording: &Wording<'_>, rule: &Rule) -> String {
    let speaker = Speaker::new(wording, rule.applies_to);
    let mut meanings = Vec::new();
    meant(&speaker, rule, &mut meanings);
    let mut text = frame(&speaker, rule).text();
    text.push_str(match rule.judged {
        Judged::Unplaced => "",
        Judged::WorstPlace => "at every place",
        Judged::Mean => "as a mean",
    });
    text.push_str(&speaker.by(&rule.limits).unwrap_or_default());
    for meaning in told(&meanings) {
        text.push_str(&meaning.text());
    }
    text
}

/// The limit of a rule without a table.
pub(in crate::report) fn rule_limit(wording: &Wording<'_>, rule: &Rule) -> Option<String> {
    let speaker = Speaker::new(wording, rule.applies_to);
    match &rule.limits {
        Limits::Direct(row) => Some(speaker.demand(rule, row).text()),
        Limits::ByTrait { .. }
        | Limits::ByTraits { .. }
        | Limits::ByZone { .. }
        | Limits::ByLevel { .. } => None,
    }
}

/// Where it is measured: `outside the parts within 6 mm of the edge and within 12 mm of the toe`.
fn place(speaker: &Speaker<'_>, rule: &Rule) -> Option<Phrase> {
    let inside = rule
        .zone
        .as_ref()
        .and_then(|(id, _)| speaker.zone_of(*id))
        .map(|zone| speaker.zone(zone));
    let left_out: Vec<Phrase> = rule
        .outside
        .iter()
        .filter_map(|(id, _)| speaker.zone_of(*id))
        .map(|zone| speaker.zone(zone))
        .collect();
    let outside = match left_out.len() {
        0 => None,
        1 => Some(Phrase::of("outside the part ").then(Phrase::listed(left_out, "and"))),
        _ => Some(Phrase::of("outside the parts ").then(Phrase::listed(left_out, "and"))),
    };
    match (inside, outside) {
        (Some(inside), Some(outside)) => Some(inside.words(", ").then(outside)),
        (inside, outside) => inside.or(outside),
    }
}

/// What becomes of choices that a table has no row for.
fn silence(speaker: &Speaker<'_>, rule: &Rule) -> Option<Phrase> {
    let (Limits::ByTrait { .. } | Limits::ByTraits { .. }) = rule.limits else {
        return None;
    };
    let by = speaker.by(&rule.limits)?.replace(" and ", " or ");
    let item = with_article(&speaker.item_name());
    Some(Phrase::of(match speaker.rules.silence {
        Silence::Forbids => format!("{item} of any other {by} does not conform"),
        Silence::Permits => format!("for {item} of any other {by} there is no limit"),
    }))
}

/// What a computed value means.
struct Meaning {
    of: (PartId, DerivedId),
    name: String,
    /// Whose: `a runner`.
    item: String,
    /// `the position of the toe minus the position of the heel`
    value: Phrase,
}

/// `the steel length is …`; with the item where two kinds of parts compute one name differently.
fn told(meanings: &[Meaning]) -> Vec<Phrase> {
    let one = |meaning: &Meaning| {
        let alike = meanings.iter().filter(|other| other.name == meaning.name);
        let whose = match alike.count() {
            0 | 1 => String::new(),
            _ => format!(" of {}", meaning.item),
        };
        Phrase::of(format!("the {}{whose} is ", meaning.name)).then(meaning.value.clone())
    };
    meanings.iter().map(one).collect()
}

/// What the computed values of a rule mean, each once, in the order of their use.
fn meant(speaker: &Speaker<'_>, rule: &Rule, found: &mut Vec<Meaning>) {
    let mut roots = vec![&rule.value.root];
    roots.extend(rule.when.as_ref().map(|when| &when.root));
    for row in rows(&rule.limits, &rule.instead) {
        roots.extend(row.demand.expressions().map(|one| &one.root));
    }
    roots.extend(rule.instead.iter().map(|one| &one.condition.root));
    for root in roots {
        meant_in(speaker, root, found);
    }
}

fn meant_in(speaker: &Speaker<'_>, root: &Node, found: &mut Vec<Meaning>) {
    let vocabulary = &speaker.rules.vocabulary;
    let mut used: Vec<(PartId, DerivedId, Scope)> = Vec::new();
    root.visit(speaker.own, vocabulary, &mut |own, node| {
        if let Op::Derived(scope, id) = &node.op
            && let Some(part) = scope.part(own, vocabulary)
        {
            used.push((part, *id, *scope));
        }
    });
    for (part, id, _) in used {
        let Some(expression) = speaker.rules.derived_value(part, id) else {
            continue;
        };
        let of_part = Speaker {
            own: expression.own,
            ..*speaker
        };
        if says_itself(expression) {
            continue;
        }
        if found.iter().any(|known| known.of == (part, id)) {
            continue;
        }
        let name = vocabulary
            .part(part)
            .and_then(|part| part.derived.get(id.index()))
            .map_or_else(String::new, |one| plain_name(&one.name.text));
        let value = of_part.value(&expression.root);
        let is_alike = |known: &Meaning| known.name == name && known.value == value;
        if found.iter().any(is_alike) {
            continue;
        }
        found.push(Meaning {
            of: (part, id),
            name,
            item: of_part.item(),
            value,
        });
        meant_in(&of_part, &expression.root, found);
    }
}

/// `Instead, for a runner whose construction is insert and that was built before 1 January 2012, the limit is at
/// least 4.50 mm, until 30 June 2030 (built before the rule)`, and what counts without proof.
fn exemption(speaker: &Speaker<'_>, rule: &Rule, instead: &Instead) -> Vec<Phrase> {
    let condition = &instead.condition.root;
    let for_which = if speaker.is_about_item(condition) && !speaker.is_single() {
        Phrase::of(format!("for {} ", speaker.item())).then(speaker.relative(condition))
    } else {
        Phrase::of("if ").then(speaker.clause(condition))
    };
    let limit = match &instead.row.demand {
        Demand::Bounds(bounds) => Phrase::of("the limit is ").then(speaker.range(bounds)),
        Demand::Equals(equals, _) => {
            Phrase::of("what is asked is ").then(speaker.equals(rule, equals))
        }
        Demand::Only(..) | Demand::Without(..) | Demand::Options(_) => {
            Phrase::of("it shall ").then(speaker.shall_row(rule, &instead.row, false))
        }
        Demand::None => Phrase::of("there is no limit"),
    };
    let mut main = Phrase::of("instead, ")
        .then(for_which)
        .words(", ")
        .then(limit);
    if let Some(until) = instead.until {
        main = main.words(", until ").then(day(until));
    }
    if !instead.because.is_empty() {
        main = main.words(format!(" ({})", instead.because.trim_end_matches('.')));
    }
    let unproven = if instead.unproven_takes_main {
        "without proof, the main limit counts"
    } else {
        "without proof, it is not decided where the two limits come to different outcomes"
    };
    vec![main, Phrase::of(unproven)]
}
