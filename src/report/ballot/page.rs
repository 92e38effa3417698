//! The sheet as a page: it fetches nothing and runs nothing, and prints on A4.

use super::super::html::{Html, page};
use super::super::impact::page::table;
use super::super::rules_page::STYLE;
use super::{Ballot, Blank, Part, Run, Side};

const SHEET: &str = include_str!("sheet.css");

/// The sheet as a page. The same input gives the same page, byte for byte.
pub fn ballot_page(ballot: &Ballot) -> String {
    let title = format!("{}: {}", ballot.title, ballot.lead);
    page(&title, &[STYLE, SHEET], |html| {
        html.within("main", &[("class", "sheet")], |html| {
            html.within("header", &[], |html| {
                html.element("p", &[("class", "quiet")], &ballot.authority);
                html.element("h1", &[], &ballot.title);
                html.element("p", &[("class", "lead")], &ballot.lead);
            });
            let facts: Vec<(&str, String)> = ballot
                .facts
                .iter()
                .map(|(name, is)| (name.as_str(), is.clone()))
                .collect();
            html.definitions(&facts);
            for part in &ballot.parts {
                one(html, ballot, part);
            }
        });
    })
}

fn one(html: &mut Html, ballot: &Ballot, part: &Part) {
    match part {
        Part::Heading(words) => html.element("h2", &[], words),
        Part::Clause(words) => html.element("h3", &[], words),
        Part::Text(words) => html.element("p", &[], words),
        Part::Lead(words) => html.element("p", &[("class", "held")], words),
        Part::List(all) => html.within("ul", &[], |html| {
            for one in all {
                html.element("li", &[], one);
            }
        }),
        Part::Sides(sides) => both(html, ballot, sides),
        Part::Table(rows) => table(html, rows),
        Part::Copy(lines) => html.element("pre", &[], lines.trim_end()),
        Part::Boxes(boxes) => blanks(html, boxes),
    }
}

/// Old and new side by side; on a narrow page one under the other, each with its head.
fn both(html: &mut Html, ballot: &Ballot, sides: &[Side]) {
    let [now, proposed] = &ballot.sides;
    html.within("table", &[("class", "both"), ("role", "table")], |html| {
        html.within("thead", &[("role", "rowgroup")], |html| {
            html.within("tr", &[("role", "row")], |html| {
                for head in ["", now.as_str(), proposed.as_str()] {
                    html.element("th", &[("scope", "col"), ("role", "columnheader")], head);
                }
            });
        });
        html.within("tbody", &[("role", "rowgroup")], |html| {
            for side in sides {
                html.within("tr", &[("role", "row")], |html| {
                    let scope = [("scope", "row"), ("role", "rowheader")];
                    html.element("th", &scope, &side.what);
                    for (head, text, none) in
                        [(now, &side.was, "not there"), (proposed, &side.is, "gone")]
                    {
                        let cell = [("role", "cell"), ("data-head", head.as_str())];
                        html.within("td", &cell, |html| match text {
                            Some(runs) => written(html, runs),
                            None => html.element("span", &[("class", "quiet")], none),
                        });
                    }
                });
            }
        });
    });
}

/// A text in which what differs is marked by more than colour.
fn written(html: &mut Html, runs: &[Run]) {
    html.within("span", &[], |html| {
        for run in runs {
            match run.differs {
                true => {
                    let text = run.text.trim_end();
                    html.element("b", &[("class", "differs")], text);
                    if text.len() < run.text.len() {
                        html.text(" ");
                    }
                }
                false => html.text(&run.text),
            }
        }
    });
}

fn blanks(html: &mut Html, boxes: &[Blank]) {
    html.within("div", &[("class", "boxes")], |html| {
        for one in boxes {
            html.within("section", &[], |html| {
                html.element("h3", &[], &one.heading);
                if !one.sentence.is_empty() {
                    html.element("p", &[], &one.sentence);
                }
                html.within("div", &[("class", "box")], |html| {
                    for (label, lines) in &one.fields {
                        let class = match lines {
                            0 | 1 => "field",
                            _ => "field tall",
                        };
                        html.element("div", &[("class", class)], label);
                    }
                });
            });
        }
    });
}
