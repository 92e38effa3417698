//! Interpretations: those that stand, and what became of the others.

use crate::rules::{Effect, Interpretation, InterpretationStatus, RulesFile, Scope};

use super::super::html::Html;

pub(super) fn section(html: &mut Html, rules: &RulesFile) {
    html.within(
        "section",
        &[("aria-labelledby", "interpretations")],
        |html| {
            html.element("h2", &[("id", "interpretations")], "Interpretations");
            if rules.interpretations.is_empty() {
                html.element("p", &[], "The file has none.");
            }
            for one in &rules.interpretations {
                html.within(
                    "article",
                    &[("id", &format!("interpretation-{}", one.id.text))],
                    |html| {
                        html.element("h3", &[], &format!("{}, {}", one.id.text, one.issued));
                        html.element("p", &[], &one.text);
                        html.within("p", &[("class", "quiet")], |html| {
                            html.text(&format!("{}. About ", life(one)));
                            for (at, name) in one.about.iter().enumerate() {
                                if at > 0 {
                                    html.text(", ");
                                }
                                let href = format!("#rule-{}", name.text);
                                html.element("a", &[("href", &href)], &title_of(rules, &name.text));
                            }
                            html.text(".");
                        });
                    },
                );
            }
        },
    );
}

/// The title of a rule with its clause.
fn title_of(rules: &RulesFile, id: &str) -> String {
    let rule = rules.rules.iter().find(|rule| rule.id.text == id);
    let mark = rules.marks.iter().find(|mark| mark.id.text == id);
    match (rule, mark) {
        (Some(rule), _) => format!("{} {}", rule.clause.text, rule.title),
        (None, Some(mark)) => format!("{} {}", mark.clause.text, mark.title),
        (None, None) => id.to_owned(),
    }
}

/// What became of an interpretation: `Stands, everywhere`.
pub(in crate::report) fn life(one: &Interpretation) -> String {
    let mut said = vec![match &one.status {
        InterpretationStatus::InForce => "Stands".to_owned(),
        InterpretationStatus::Absorbed { clause, version } => {
            format!("Taken into the text by {version}, clause {clause}")
        }
        InterpretationStatus::Withdrawn { ended } => format!("Withdrawn on {ended}"),
        InterpretationStatus::Expired { ended } => format!("Over; its last day was {ended}"),
    }];
    said.push(match &one.scope {
        Scope::Event(name) => format!("only at the event {}", name.text),
        Scope::Permanent => "everywhere".to_owned(),
    });
    said.extend(one.until.map(|day| format!("until {day}")));
    match one.effect {
        Effect::None => {}
        Effect::Relaxed => said.push("makes something legal".to_owned()),
        Effect::Tightened => said.push("makes something illegal".to_owned()),
        Effect::Both => said.push("makes something legal and something illegal".to_owned()),
    }
    said.join(", ")
}
