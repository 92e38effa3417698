//! What a record of the class can say: parts, traits, measures with their methods, computed values, zones,
//! alterations.

use crate::text::Node;
use crate::vocabulary::{
    Alteration, FixedAt, Holding, Measure, MeasureKind, Part, PartId, QuantityKind, Role,
    TraitKind, Vocabulary,
};

use super::super::html::Html;
use super::super::sentence::{Phrase, Speaker, Wording, measure_name, with_article};
use super::super::words::plain_name;
use crate::report::words::capital;

pub(super) fn section(html: &mut Html, wording: &Wording<'_>) {
    let vocabulary = &wording.rules.vocabulary;
    html.within("section", &[("aria-labelledby", "equipment")], |html| {
        html.element("h2", &[("id", "equipment")], "What is measured, and how");
        html.element(
            "p",
            &[],
            "U stands behind each method: no reading by it is taken to be better known than that, unless a study of the instrument says so. A reading by no named method is a sieve for the self-check.",
        );
        for (at, part) in vocabulary.parts.iter().enumerate() {
            let Ok(id) = u16::try_from(at).map(PartId) else {
                continue;
            };
            self::part(html, wording, id, part);
        }
    });
}

fn part(html: &mut Html, wording: &Wording<'_>, id: PartId, part: &Part) {
    let speaker = Speaker::new(wording, id);
    let name = plain_name(&part.name.text);
    let name = capital(&name);
    let group = if part.is_group() {
        ", parts used together"
    } else {
        ""
    };
    html.element("h3", &[], &format!("{name}{group}"));
    if id == Vocabulary::BOAT {
        holdings(html, &wording.rules.vocabulary);
    }
    if part.is_group() {
        html.within("ul", &[], |html| {
            for text in roles(wording, part) {
                html.element("li", &[], &text);
            }
        });
    }
    if !part.traits.is_empty() {
        html.element("h4", &[], "Declared");
        html.within("ul", &[], |html| {
            for one in &part.traits {
                let words = declared(&one.kind);
                html.element(
                    "li",
                    &[],
                    &format!("{}: {words}", plain_name(&one.name.text)),
                );
            }
        });
    }
    if !part.measures.is_empty() {
        let rows = part.measures.iter().map(|measure| {
            let lines = measure_lines(wording, part, measure);
            (plain_name(&measure.name.text), lines)
        });
        html.table(
            &format!("{name}: measures"),
            ("measure", "kind, methods and their U"),
            rows,
            |html: &mut Html, lines: Vec<Phrase>| {
                for line in lines {
                    html.within("p", &[], |html| html.phrase(&line));
                }
            },
        );
    }
    if !part.derived.is_empty() {
        let rows = part.derived.iter().enumerate().map(|(at, one)| {
            let expression = wording.rules.derived.get(id.index());
            let expression = expression.and_then(|list| list.get(at));
            let meaning = match expression {
                Some(expression) => speaker.value(&expression.root),
                None => Phrase::of(&one.text),
            };
            (plain_name(&one.name.text), meaning)
        });
        html.table(
            &format!("{name}: computed values"),
            ("value", "what it is"),
            rows,
            |html, meaning| html.phrase(&meaning),
        );
    }
    if !part.zones.is_empty() {
        let rows = part
            .zones
            .iter()
            .map(|zone| (plain_name(&zone.name.text), speaker.zone(zone)));
        html.table(
            &format!("{name}: zones"),
            ("zone", "where; its borders belong to it"),
            rows,
            |html, zone| html.phrase(&zone),
        );
    }
    alterations(html, part, &name);
}

/// The parts and groups of a boat with how many there are: `runners`, `3 or more`.
pub(in crate::report) fn held(vocabulary: &Vocabulary) -> Vec<(String, String)> {
    let number = |holding: &Holding| match (holding.many, holding.at_least) {
        (false, _) => "one".to_owned(),
        (true, 0) => "any number".to_owned(),
        (true, least) => format!("{least} or more"),
    };
    let all = vocabulary.holdings.iter();
    all.map(|holding| (plain_name(&holding.key.text), number(holding)))
        .collect()
}

fn holdings(html: &mut Html, vocabulary: &Vocabulary) {
    html.element("h4", &[], "Parts");
    html.within("ul", &[], |html| {
        for (key, number) in held(vocabulary) {
            html.element("li", &[], &format!("{key}: {number}"));
        }
    });
}

/// The roles of a group: `port: a runner`.
pub(in crate::report) fn roles(wording: &Wording<'_>, group: &Part) -> Vec<String> {
    let role = |role: &Role| {
        let kind = wording.rules.vocabulary.part(role.part);
        let kind = kind.map_or_else(String::new, |kind| plain_name(&kind.name.text));
        format!("{}: {}", plain_name(&role.name.text), with_article(&kind))
    };
    group.roles.iter().map(role).collect()
}

/// What can be declared of a trait: `one of plate, insert`.
pub(in crate::report) fn declared(kind: &TraitKind) -> String {
    match kind {
        TraitKind::Choice(names) => {
            let names: Vec<String> = names.iter().map(|name| plain_name(&name.text)).collect();
            format!("one of {}", names.join(", "))
        }
        TraitKind::AnyOf(names) => {
            let names: Vec<String> = names.iter().map(|name| plain_name(&name.text)).collect();
            format!("any of {}", names.join(", "))
        }
        TraitKind::Date => "a date, with a proof where a rule depends on it".to_owned(),
        TraitKind::Flag => "yes or no; yes is a nomination, nothing said is no".to_owned(),
    }
}

/// What is known of a measure, as the file has it: kind, methods with U, plausible range, how long it is fresh.
pub(in crate::report) fn measure_lines(
    wording: &Wording<'_>,
    part: &Part,
    measure: &Measure,
) -> Vec<Phrase> {
    let keys = ["equipment", &part.name.text, "measures", &measure.name.text];
    let node = wording.written.node(&keys);
    let said = |key: &str| {
        node.and_then(|node| node.get(key))
            .and_then(Node::as_text)
            .map(str::to_owned)
    };
    let mut kind = kind_words(measure.kind).to_owned();
    if measure.placed {
        kind.push_str(", taken at places");
    }
    let mut lines = vec![Phrase::of(kind)];
    lines.extend(measure.ask.as_ref().map(Phrase::of));
    if let (Some(setup), Some(span)) = (&measure.setup, said("span")) {
        let supports = setup.supports.words();
        let words = format!("on {supports} that stand {span} apart");
        lines.push(Phrase::of(words));
    }
    lines.extend(measure.fixed_at.map(|fixed| match fixed {
        FixedAt::FirstCertification => {
            Phrase::of("fixed at the first certification, taken from its paper")
        }
    }));
    if let Some(methods) = node
        .and_then(|node| node.get("methods"))
        .and_then(Node::as_mapping)
    {
        let named: Vec<Phrase> = methods
            .iter()
            .map(|entry| {
                let name = match entry.key.as_ref() {
                    "unnamed" => "no named method".to_owned(),
                    other => plain_name(other),
                };
                let u = entry.node.get("expanded_uncertainty");
                let u = u.and_then(Node::as_text).unwrap_or("not said");
                Phrase::of(format!("{name}: ")).number(format!("U {u}"))
            })
            .collect();
        lines.extend(named);
    }
    lines.extend(said("plausible").map(|range| {
        let said = Phrase::of("plausible from ");
        match range.split_once(" to ") {
            Some((from, to)) => said.number(from).words(" to ").number(to),
            None => said.words(range),
        }
    }));
    lines.extend(said("fresh_for").map(|days| Phrase::of("a reading counts for ").number(days)));
    lines
}

fn kind_words(kind: MeasureKind) -> &'static str {
    match kind {
        MeasureKind::YesNo => "a question, answered yes or no",
        MeasureKind::Profile => "profile of the edge: shims or stations",
        MeasureKind::Line => "line along a flank: stations",
        MeasureKind::Section => {
            "section across the edge: bevels, points, sine bar, pins, rollers or widths"
        }
        MeasureKind::LoadTest => "test under load: loads and how far it sinks under them",
        MeasureKind::Outline => "outline: corners, or widths at equal distances",
        MeasureKind::Quantity(kind) => match kind {
            QuantityKind::Length => "length",
            QuantityKind::Position => "position: distance from the pivot, positive toward the toe",
            QuantityKind::Angle => "angle",
            QuantityKind::Mass => "mass",
            QuantityKind::Force => "force",
            QuantityKind::Area => "area",
            QuantityKind::Ratio => "ratio",
            QuantityKind::Stiffness => "stiffness",
            QuantityKind::Temperature => "temperature",
            QuantityKind::HardnessHrc => "hardness, Rockwell C",
            QuantityKind::HardnessHv => "hardness, Vickers",
            QuantityKind::HardnessHbw => "hardness, Brinell",
            QuantityKind::Number => "number",
        },
    }
}

/// What work does to identity, papers and readings.
fn alterations(html: &mut Html, part: &Part, name: &str) {
    if part.alterations.is_empty() {
        return;
    }
    let rows = part
        .alterations
        .iter()
        .map(|one| (plain_name(&one.name.text), alteration_words(part, one)));
    html.table(
        &format!("{name}: alterations"),
        ("work", "what it does"),
        rows,
        |html, text| html.text(&text),
    );
}

/// `it stays the same item; measure again: edge profile, flat`
pub(in crate::report) fn alteration_words(part: &Part, alteration: &Alteration) -> String {
    let mut said = vec![if alteration.new_item {
        "makes a new item of it: all is measured again".to_owned()
    } else {
        "it stays the same item".to_owned()
    }];
    if alteration.ends_certificate {
        said.push("its certificate ends".to_owned());
    }
    let again: Vec<String> = alteration
        .measure_again
        .iter()
        .filter_map(|id| part.measures.get(id.index()))
        .map(measure_name)
        .collect();
    if !again.is_empty() {
        said.push(format!("measure again: {}", again.join(", ")));
    }
    said.join("; ")
}
