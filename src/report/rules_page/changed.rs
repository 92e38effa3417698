//! What changed since the version that this one replaces.

use super::super::changes::{Changed, changes};
use super::super::html::Html;
use super::super::sentence::Wording;
use super::super::words;
use super::Replaced;
use crate::rules::RulesFile;

pub(super) fn section(html: &mut Html, wording: &Wording<'_>, replaced: Replaced<'_>) {
    let rules = wording.rules;
    html.within("section", &[("aria-labelledby", "changes")], |html| {
        let version = rules.replaces.as_ref();
        let title = version.map_or_else(
            || "What changed".to_owned(),
            |version| format!("What changed since {version}"),
        );
        html.element("h2", &[("id", "changes")], &title);
        let named = version.map_or_else(String::new, ToString::to_string);
        match replaced {
            Replaced::None => {
                html.element("p", &[], "The file names no version that it replaces.");
            }
            Replaced::Missing => {
                let text = format!("Version {named} was not found, neither in the library nor beside the file. Nothing was compared.");
                html.element("p", &[], &text);
            }
            Replaced::Faulty => {
                let text = format!("Version {named} is there and has faults. Nothing was compared.");
                html.element("p", &[], &text);
            }
            Replaced::Found(old) => {
                let text = format!(
                    "Compared with {named} ({}), rule by rule, by what is written. This is no proof of what becomes legal or illegal.",
                    old.digest
                );
                html.element("p", &[], &text);
                let all = changes(old, rules);
                if all.is_empty() {
                    html.element("p", &[], "Nothing differs but the version.");
                }
                list(html, "Rules added", &all.added);
                list(html, "Rules removed", &all.removed);
                list(html, "Rules changed", &all.changed);
                list(html, "Beside the rules", &all.beside);
            }
        }
        declared(html, rules);
    });
}

/// What is said of words that changed: the page only repeats it.
fn declared(html: &mut Html, rules: &RulesFile) {
    if rules.words.is_empty() {
        return;
    }
    html.element("h3", &[], "What changed words do");
    let text = "No program can decide what words do. This is claimed, not proved.";
    html.element("p", &[], text);
    html.within("ul", &[], |html| {
        for one in &rules.words {
            let about: Vec<&str> = one.about.iter().map(|name| name.text.as_str()).collect();
            let said = format!(
                "{}: {}. So says {}: {}",
                about.join(", "),
                words::claimed(one.effect),
                one.by,
                one.because
            );
            html.element("li", &[], &said);
        }
    });
}

fn list(html: &mut Html, title: &str, all: &[Changed]) {
    if all.is_empty() {
        return;
    }
    html.element("h3", &[], title);
    for one in all {
        html.within("h4", &[], |html| match &one.rule {
            Some(rule) => html.element("a", &[("href", &format!("#rule-{rule}"))], &one.title),
            None => html.text(&one.title),
        });
        html.within("ul", &[], |html| {
            for differs in &one.differs {
                html.within("li", &[], |html| {
                    html.element("b", &[], &differs.what);
                    if let Some(was) = &differs.was {
                        side(
                            html,
                            if differs.is.is_some() { "was" } else { "gone" },
                            "del",
                            was,
                        );
                    }
                    if let Some(is) = &differs.is {
                        side(
                            html,
                            if differs.was.is_some() { "is" } else { "new" },
                            "ins",
                            is,
                        );
                    }
                });
            }
        });
    }
}

/// One side of what differs, on a line of its own.
fn side(html: &mut Html, word: &str, tag: &'static str, text: &str) {
    html.within("p", &[], |html| {
        html.element("span", &[("class", "quiet")], &format!("{word}: "));
        html.element(tag, &[], text);
    });
}
