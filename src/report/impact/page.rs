//! A comparison as a page: the answer, both directions with their boats, clause by clause, and what it does to a fleet, with
//! plots. It fetches nothing and runs nothing.

use crate::fleet::impact::RuleImpact;

use super::super::compare::{Block as Said, blocks as compared_blocks};
use super::super::html::{Html, page};
use super::super::rules_page::STYLE;
use super::Fleet;
use super::count::several;
use super::limit;
use super::names::Names;
use super::others;
use super::plots;
use super::said;
use super::told::{Table, lead, moves, parts, rules, years};
use crate::report::Compared;
use crate::rules::RulesFile;

const PLOTS: &str = include_str!("plots.css");

/// Words of the comparison under one heading.
struct Section {
    id: String,
    title: String,
    blocks: Vec<Said>,
}

/// The page of a comparison, with what it does to a fleet where one was looked at. The same input gives the same page, byte
/// for byte.
pub fn compare_page(compared: &Compared<'_>, fleet: Option<&Fleet<'_>>) -> String {
    let (old, new) = (compared.old, compared.new);
    let title = format!("{}: from {} to {}", new.title, old.version, new.version);
    let (lead, sections) = sections(compared);
    page(&title, &[STYLE, PLOTS], |html| {
        html.element(
            "a",
            &[("class", "skip"), ("href", "#answer")],
            "Skip to the answer",
        );
        html.within("header", &[], |html| {
            html.element("h1", &[], &title);
            html.element("p", &[("class", "quiet")], &lead);
        });
        html.within("div", &[("class", "columns")], |html| {
            html.within("nav", &[("aria-labelledby", "contents")], |html| {
                contents(html, &sections, fleet);
            });
            html.within("main", &[], |html| {
                for (at, one) in sections.iter().enumerate() {
                    html.within("section", &[("aria-labelledby", &one.id)], |html| {
                        html.element("h2", &[("id", &one.id)], &one.title);
                        for block in &one.blocks {
                            said_block(html, block);
                        }
                        if let Some(fleet) = fleet.filter(|_| at == 0) {
                            summary(html, fleet);
                        }
                    });
                }
                if let Some(fleet) = fleet {
                    of_fleet(html, fleet);
                }
                sources(html, compared);
            });
        });
    })
}

/// The first line of a comparison, and its words under their headings; before the first heading stands the answer.
fn sections(compared: &Compared<'_>) -> (String, Vec<Section>) {
    let mut lead = String::new();
    let mut answer: Option<String> = None;
    let mut all = vec![Section {
        id: "answer".to_owned(),
        title: "The answer".to_owned(),
        blocks: Vec::new(),
    }];
    for block in compared_blocks(compared) {
        match block {
            Said::Text(0, words) if lead.is_empty() => lead = words,
            // The first heading is the answer itself.
            Said::Heading(title) if answer.is_none() => answer = Some(title),
            Said::Heading(title) => all.push(Section {
                id: format!("part-{}", all.len()),
                title,
                blocks: Vec::new(),
            }),
            other => {
                if let Some(last) = all.last_mut() {
                    last.blocks.push(other);
                }
            }
        }
    }
    if let (Some(first), Some(answer)) = (all.first_mut(), answer) {
        first.title = answer;
    }
    (lead, all)
}

/// Lines of a record that stand open on the page; more are folded away, on paper as well.
const MOST_LINES: usize = 40;

fn said_block(html: &mut Html, block: &Said) {
    match block {
        Said::Heading(words) | Said::Clause(words) => html.element("h3", &[], words),
        Said::Apart(words) | Said::Text(0, words) => html.element("p", &[], words),
        Said::Text(_, words) => html.element("p", &[("class", "indent")], words),
        Said::Sides(_, was, is) => {
            let words = match (was, is) {
                (Some(_), Some(_)) => ("was", "is"),
                (Some(_), None) | (None, Some(_)) | (None, None) => ("gone", "new"),
            };
            let sides = [(words.0, "del", was), (words.1, "ins", is)];
            for (word, tag, text) in sides {
                let Some(text) = text else { continue };
                html.within("p", &[("class", "indent")], |html| {
                    html.element("span", &[("class", "quiet")], &format!("{word}: "));
                    html.element(tag, &[], text);
                });
            }
        }
        Said::Copy(lines) if lines.lines().count() > MOST_LINES => {
            html.within("details", &[("class", "copy")], |html| {
                let count = lines.lines().count();
                let text = format!(
                    "{count} lines of a record; compare --witness DIR writes it into a file"
                );
                html.element("summary", &[], &text);
                html.element("pre", &[], lines.trim_end());
            });
        }
        Said::Copy(lines) => html.element("pre", &[], lines.trim_end()),
    }
}

fn contents(html: &mut Html, sections: &[Section], fleet: Option<&Fleet<'_>>) {
    html.element("h2", &[("id", "contents")], "Contents");
    let link = |html: &mut Html, id: &str, text: &str| {
        html.within("li", &[], |html| {
            html.element("a", &[("href", &format!("#{id}"))], text);
        });
    };
    html.within("ol", &[], |html| {
        for one in sections {
            link(html, &one.id, &one.title);
        }
        if let Some(fleet) = fleet {
            link(html, "fleet", "What it does to the fleet");
            if !fleet.impact.rules.is_empty() {
                link(html, "by-rule", "By rule");
            }
            if !fleet.impact.years.is_empty() {
                link(html, "by-year", "By year of build");
            }
            if !fleet.impact.sample.several.is_empty() {
                link(html, "several", "Boats with several records");
            }
        }
        link(html, "sources", "What was compared");
    });
}

/// What it comes to for a fleet, beside the answer.
fn summary(html: &mut Html, fleet: &Fleet<'_>) {
    if let Some(first) = said::answer(fleet).first() {
        html.within("p", &[], |html| {
            html.text(first);
            html.text(" ");
            html.element("a", &[("href", "#fleet")], "What it does to the fleet");
        });
    }
}

fn of_fleet(html: &mut Html, fleet: &Fleet<'_>) {
    let names = Names::of(fleet.impact, fleet.names);
    html.within("section", &[("aria-labelledby", "fleet")], |html| {
        html.element("h2", &[("id", "fleet")], "What it does to the fleet");
        html.element("h3", &[], "What was looked at");
        html.within("ul", &[], |html| {
            for sentence in said::sample(fleet) {
                html.element("li", &[], &sentence);
            }
        });
        html.element("h3", &[], "Boats and items");
        for sentence in said::answer(fleet) {
            html.element("p", &[("class", "lead")], &sentence);
        }
        for sentence in said::doubt(fleet) {
            html.element("p", &[], &sentence);
        }
        table(html, &moves(fleet));
        if fleet.impact.parts.len() > 1 {
            table(html, &parts(fleet));
        }
    });
    by_rule(html, fleet, &names);
    by_year(html, fleet);
    duplicates(html, fleet, &names);
}

fn by_rule(html: &mut Html, fleet: &Fleet<'_>, names: &Names) {
    let all = &fleet.impact.rules;
    if all.is_empty() {
        let text = "No rule that differs is asked of anything in this fleet.";
        html.element("p", &[], text);
        return;
    }
    html.within("section", &[("aria-labelledby", "by-rule")], |html| {
        html.element("h2", &[("id", "by-rule")], "By rule");
        html.within("figure", &[], |html| {
            html.element("figcaption", &[], "Items that move, by rule");
            plots::flips(html, "flips", fleet);
            behind(html, |html| table(html, &rules(fleet)));
        });
        for (at, rule) in all.iter().enumerate() {
            html.element("h3", &[], &said::title(rule));
            // Words before a drawing stay with it on paper.
            let before: &[(&str, &str)] = match rule.limits.is_empty() {
                true => &[],
                false => &[("class", "before")],
            };
            for sentence in said::rule(fleet, rule) {
                html.element("p", before, &sentence);
            }
            of_limits(html, fleet, names, (at, rule));
            for (lead, list) in others::lists(rule) {
                html.element("p", &[], lead);
                html.within("ol", &[("class", "cases")], |html| {
                    for case in list {
                        html.element("li", &[], &others::case(fleet, names, rule, case));
                    }
                });
            }
        }
    });
}

/// The limits of a rule, side by side in one scale.
fn of_limits(html: &mut Html, fleet: &Fleet<'_>, names: &Names, (at, rule): (usize, &RuleImpact)) {
    if rule.limits.is_empty() {
        return;
    }
    html.within("div", &[("class", "plots")], |html| {
        for (row, limit) in rule.limits.iter().enumerate() {
            html.within("div", &[], |html| {
                html.within("figure", &[], |html| {
                    html.element("figcaption", &[], &plots::margins_title(rule, limit));
                    html.element("p", &[], &format!("{}.", limit::both(fleet, limit)));
                    plots::margins(html, &format!("margins-{at}-{row}"), fleet, rule, limit);
                    let numbers = plots::margins_numbers(rule, limit);
                    behind(html, |html| {
                        let rows = numbers.into_iter();
                        let rows = rows.map(|(label, count)| (label, vec![count]));
                        table(
                            html,
                            &Table {
                                caption: said::limit(fleet, limit),
                                heads: vec!["value".to_owned(), "items".to_owned()],
                                rows: rows.collect(),
                            },
                        );
                    });
                });
                if !limit.worst.is_empty() {
                    html.element("p", &[], lead(limit));
                    html.within("ol", &[("class", "cases")], |html| {
                        for case in &limit.worst {
                            let text = limit::case(fleet, names, rule, limit, case);
                            html.element("li", &[], &text);
                        }
                    });
                }
            });
        }
    });
}

fn by_year(html: &mut Html, fleet: &Fleet<'_>) {
    let Some(numbers) = years(fleet) else {
        return;
    };
    html.within("section", &[("aria-labelledby", "by-year")], |html| {
        html.element("h2", &[("id", "by-year")], "By year of build");
        html.within("figure", &[], |html| {
            let caption = "Items newly illegal, of all items, by year of build";
            html.element("figcaption", &[], caption);
            plots::years(html, "years", fleet);
            behind(html, |html| table(html, &numbers));
        });
    });
}

/// Boats with several records that are listed; JSON has them all.
const MOST_BOATS: usize = 100;

fn duplicates(html: &mut Html, fleet: &Fleet<'_>, names: &Names) {
    let boats = &fleet.impact.sample.several;
    if boats.is_empty() {
        return;
    }
    html.within("section", &[("aria-labelledby", "several")], |html| {
        html.element("h2", &[("id", "several")], "Boats with several records");
        html.element("p", &[], "Each measure of an item counts as last measured, and the boat is judged by all of them together.");
        html.within("ul", &[], |html| {
            for boat in boats.iter().take(MOST_BOATS) {
                html.element("li", &[], &said::records(names, boat));
            }
        });
        if let Some(more) = boats.len().checked_sub(MOST_BOATS).filter(|more| *more > 0) {
            let more = several(u64::try_from(more).unwrap_or(u64::MAX), "more boat");
            html.element(
                "p",
                &[],
                &format!("And {more}: --format json has them all."),
            );
        }
    });
}

/// The numbers behind a plot, for those who can't see it and those who want to know.
fn behind(html: &mut Html, inside: impl FnOnce(&mut Html)) {
    html.within("details", &[], |html| {
        html.element("summary", &[], "The numbers");
        inside(html);
    });
}

/// Rows of numbers. A narrow page sets those with many columns one under another; each cell then has its head beside it.
pub(in crate::report) fn table(html: &mut Html, table: &Table) {
    let class = match table.heads.len() {
        0..=3 => "numbers",
        _ => "numbers many",
    };
    html.within("table", &[("class", class), ("role", "table")], |html| {
        html.element("caption", &[], &table.caption);
        html.within("thead", &[("role", "rowgroup")], |html| {
            html.within("tr", &[("role", "row")], |html| {
                for head in &table.heads {
                    html.element("th", &[("scope", "col"), ("role", "columnheader")], head);
                }
            });
        });
        html.within("tbody", &[("role", "rowgroup")], |html| {
            for (label, cells) in &table.rows {
                html.within("tr", &[("role", "row")], |html| {
                    html.element("th", &[("scope", "row"), ("role", "rowheader")], label);
                    for (head, cell) in table.heads.iter().skip(1).zip(cells) {
                        html.element("td", &[("role", "cell"), ("data-head", head)], cell);
                    }
                });
            }
        });
    });
}

/// Which two files: by these anybody can compare again.
fn sources(html: &mut Html, compared: &Compared<'_>) {
    html.within("section", &[("aria-labelledby", "sources")], |html| {
        html.element("h2", &[("id", "sources")], "What was compared");
        let version =
            |rules: &RulesFile| format!("{} {}, {}", rules.class.text, rules.version, rules.digest);
        html.definitions(&[
            ("was", version(compared.old)),
            ("is to be", version(compared.new)),
        ]);
        html.element(
            "p",
            &[],
            "Nothing on this page says that a boat is safe, or that the ice is.",
        );
    });
}
