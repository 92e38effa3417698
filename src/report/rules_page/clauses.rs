//! The clauses: text as the class prints it, the data in a sentence, tables, remedies, interpretations.

use super::super::html::Html;
use super::super::rules_show::{Clause, about};
use super::super::sentence::{Says, Sentence, Wording};
use super::{anchor, part_of, parts};

pub(super) fn section(html: &mut Html, wording: &Wording<'_>, all: &[Clause<'_>]) {
    html.within("div", &[("id", "rules")], |html| {
        for part in parts(all) {
            let letter = part.first().map_or("", part_of);
            html.element("h2", &[], &format!("Part {letter}"));
            for one in part {
                clause(html, wording, one);
            }
        }
    });
}

fn clause(html: &mut Html, wording: &Wording<'_>, clause: &Clause<'_>) {
    html.within("article", &[("id", &anchor(clause))], |html| {
        html.within("h3", &[], |html| {
            html.element("span", &[("class", "clause")], clause.number());
            html.text(" ");
            html.text(clause.title());
        });
        if !clause.text().is_empty() {
            html.element("p", &[], clause.text());
        }
        html.within("div", &[("class", "data")], |html| {
            html.element("p", &[("class", "label")], "In data");
            let sentences = clause.sentences(wording);
            for group in
                sentences.chunk_by(|one, other| paragraph(one.says) == paragraph(other.says))
            {
                html.within("p", &[], |html| self::sentences(html, group));
            }
            if let Some(table) = clause.table(wording) {
                html.table(
                    &format!("Limits by {}", table.by),
                    (&table.by, "limit"),
                    table.rows,
                    |html, limits| html.phrase(&limits),
                );
            }
        });
        if let Some(remedy) = clause.remedy() {
            html.within("p", &[], |html| {
                html.element("b", &[], "Remedy: ");
                html.text(remedy);
            });
        }
        for one in about(wording.rules, clause.id()) {
            html.within("p", &[], |html| {
                html.element(
                    "b",
                    &[],
                    &format!("Interpretation {}, {}: ", one.id.text, one.issued),
                );
                html.text(&one.text);
            });
        }
        html.within("p", &[("class", "id")], |html| {
            html.text("id ");
            html.element("code", &[], clause.id());
        });
    });
}

/// Sentences one behind the other.
fn sentences(html: &mut Html, all: &[Sentence]) {
    for (at, sentence) in all.iter().enumerate() {
        if at > 0 {
            html.text(" ");
        }
        html.pieces(&sentence.pieces);
    }
}

/// Which sentences stand in one paragraph.
fn paragraph(says: Says) -> u8 {
    match says {
        Says::Demand | Says::Meaning => 0,
        Says::Exemption => 1,
        Says::Evidence | Says::Stages => 2,
    }
}
