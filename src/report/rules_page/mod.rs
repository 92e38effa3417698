//! The rules of a version as one page of HTML: no script, nothing fetched, readable on paper, on a telephone and
//! on a desk.
//!
//! ```text
//! RulesFile ─► head │ contents │ clauses with their sentences │ equipment │ interpretations │ what changed
//! ```

mod changed;
mod clauses;
mod equipment;
mod head;
mod rulings;

use crate::rules::{RulesFile, Silence};

use super::html::{Html, page};
use super::rules_show::{Clause, clauses};
use super::sentence::Wording;

pub(super) use equipment::{alteration_words, declared, held, measure_lines, roles};
pub(super) use rulings::life;

/// What is known of the version that a version replaces.
#[derive(Clone, Copy, Debug)]
pub enum Replaced<'r> {
    /// The file names none.
    None,
    /// It is here.
    Found(&'r RulesFile),
    /// It is neither in the library nor beside the file.
    Missing,
    /// It is there and can't be read without faults.
    Faulty,
}

/// How pages look: both colour schemes, narrow and wide, and on paper.
pub(super) const STYLE: &str = include_str!("style.css");

/// The page of a version. The same rules give the same page, byte for byte.
pub fn rules_page(rules: &RulesFile, replaced: Replaced<'_>) -> String {
    let wording = Wording::of(rules);
    let all = clauses(rules, &[]);
    let title = format!("{} {}", rules.title, rules.version);
    page(&title, &[STYLE], |html| {
        html.element(
            "a",
            &[("class", "skip"), ("href", "#rules")],
            "Skip to the rules",
        );
        html.within("header", &[], |html| head::head(html, rules, &title));
        html.within("div", &[("class", "columns")], |html| {
            html.within("nav", &[("aria-labelledby", "contents")], |html| {
                contents(html, &all);
            });
            html.within("main", &[], |html| {
                clauses::section(html, &wording, &all);
                equipment::section(html, &wording);
                rulings::section(html, rules);
                changed::section(html, &wording, replaced);
                cautions(html, rules);
            });
        });
    })
}

/// The letter of a part: everything of a clause number before its first stop.
fn part_of<'c>(clause: &Clause<'c>) -> &'c str {
    clause.number().split('.').next().unwrap_or("")
}

/// The clauses part by part, in their order.
fn parts<'a, 'c>(all: &'a [Clause<'c>]) -> impl Iterator<Item = &'a [Clause<'c>]> {
    all.chunk_by(|one, other| part_of(one) == part_of(other))
}

fn anchor(clause: &Clause<'_>) -> String {
    format!("rule-{}", clause.id())
}

fn contents(html: &mut Html, all: &[Clause<'_>]) {
    html.element("h2", &[("id", "contents")], "Contents");
    for part in parts(all) {
        let letter = part.first().map_or("", part_of);
        html.element("h3", &[], &format!("Part {letter}"));
        html.within("ol", &[], |html| {
            for clause in part {
                link(
                    html,
                    &anchor(clause),
                    &format!("{} {}", clause.number(), clause.title()),
                );
            }
        });
    }
    html.element("h3", &[], "Beside the rules");
    html.within("ol", &[], |html| {
        for (id, title) in [
            ("equipment", "What is measured, and how"),
            ("interpretations", "Interpretations"),
            ("changes", "What changed"),
            ("cautions", "Cautions"),
        ] {
            link(html, id, title);
        }
    });
}

fn link(html: &mut Html, id: &str, text: &str) {
    html.within("li", &[], |html| {
        html.element("a", &[("href", &format!("#{id}"))], text);
    });
}

fn cautions(html: &mut Html, rules: &RulesFile) {
    html.within("section", &[("aria-labelledby", "cautions")], |html| {
        html.element("h2", &[("id", "cautions")], "Cautions");
        html.within("ul", &[], |html| {
            for caution in &rules.cautions {
                html.element("li", &[], caution.words());
            }
        });
        html.element(
            "p",
            &[],
            "Nothing on this page says that a boat is safe, or that the ice is.",
        );
    });
}

/// What silence means, in a sentence.
fn silence(silence: Silence) -> &'static str {
    match silence {
        Silence::Forbids => "Closed rules: what they do not list is not allowed.",
        Silence::Permits => "Open rules: what they do not forbid is allowed.",
    }
}
