//! The head of the page: which rules these are, since when, by whom, and who carries the doubt.

use crate::rules::{RulesFile, Stage, Status};

use super::super::html::Html;
use super::super::rule_words::per_cent;
use super::super::words::{decision_sentence, plain_name, reference};
use super::silence;

pub(super) fn head(html: &mut Html, rules: &RulesFile, title: &str) {
    html.element("h1", &[], title);
    html.element("p", &[], standing(rules.status));
    let mut known = vec![
        ("Reference", reference(rules)),
        ("In force from", rules.in_force_from.to_string()),
    ];
    known.extend(
        rules
            .repealed_on
            .map(|day| ("Repealed on", day.to_string())),
    );
    known.extend(
        rules
            .replaces
            .as_ref()
            .map(|version| ("Replaces", version.to_string())),
    );
    known.push(("Authority", rules.authority.clone()));
    known.push(("What silence means", silence(rules.silence).to_owned()));
    let levels = &rules.vocabulary.event_levels;
    if !levels.is_empty() {
        let names: Vec<String> = levels.iter().map(|level| plain_name(&level.text)).collect();
        known.push(("Levels of events", names.join(", ")));
    }
    if !rules.events_may_change.is_empty() {
        let names: Vec<&str> = rules
            .events_may_change
            .iter()
            .map(|name| title_of(rules, &name.text))
            .collect();
        known.push(("An event may change", names.join(", ")));
    }
    known.push(("File", rules.source.name().to_owned()));
    known.push(("Digest", rules.digest.clone()));
    html.definitions(&known);
    html.element("h2", &[("id", "doubt")], "Who carries the doubt");
    let coverage = per_cent(&rules.decision.coverage_probability);
    html.element(
        "p",
        &[],
        &format!(
            "No reading is exact. U is the expanded uncertainty of a value: the true value lies within U of it with a probability of {coverage}."
        ),
    );
    let guard = rules.decision.guard_factor.to_string();
    html.within("ul", &[], |html| {
        for stage in Stage::ALL {
            let rule = *rules.decision.rules.at(stage);
            html.within("li", &[], |html| {
                html.element("b", &[], &format!("At {}. ", stage.words()));
                html.text(&decision_sentence(rule, &guard));
            });
        }
    });
    html.element(
        "p",
        &[],
        "Beside the text of each rule stands what the file holds as data, in a sentence that is made from the data alone. Where the two differ, the authority decides what was meant; the program checks by the data.",
    );
}

fn title_of<'r>(rules: &'r RulesFile, id: &'r str) -> &'r str {
    let rule = rules
        .rules
        .iter()
        .find(|rule| rule.id.text == id)
        .map(|rule| rule.title.as_str());
    let mark = rules
        .marks
        .iter()
        .find(|mark| mark.id.text == id)
        .map(|mark| mark.title.as_str());
    rule.or(mark)
        .filter(|title| !title.is_empty())
        .unwrap_or(id)
}

fn standing(status: Status) -> &'static str {
    match status {
        Status::Draft => "A draft: it is being written and is not in force.",
        Status::Proposed => "Proposed: it is put to the vote and is not in force.",
        Status::Adopted => "Adopted.",
        Status::Repealed => "Repealed: it is no longer in force.",
    }
}
