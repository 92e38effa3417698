//! What a change does to a fleet, as blocks of words and tables.

use crate::fleet::impact::{LimitImpact, Moves, RuleImpact, Sample, Stand};

use super::super::words::plain_name;
use super::Fleet;
use super::count::{counted, several};
use super::limit;
use super::names::Names;
use super::others;
use super::said;

/// Boats with several records that are told one by one; JSON has them all.
const MOST_BOATS: usize = 20;

/// Rows of numbers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Table {
    /// What it shows.
    pub caption: String,
    /// Heads: of the rows, then of each column.
    pub heads: Vec<String>,
    /// Rows: what, and a cell for each column.
    pub rows: Vec<(String, Vec<String>)>,
}

/// A block of words.
pub(in crate::report) enum Block {
    /// What the following is about.
    Heading(String),
    /// A paragraph, so far from the left.
    Text(usize, String),
    /// Rows of numbers.
    Table(Table),
}

/// Everything that is to be said.
pub(super) fn blocks(fleet: &Fleet<'_>, names: &Names) -> Vec<Block> {
    let impact = fleet.impact;
    let mut all = vec![Block::Heading("What it does to the fleet".to_owned())];
    let text = |sentence: String| Block::Text(0, sentence);
    all.extend(said::sample(fleet).into_iter().map(text));
    all.push(Block::Heading("Boats and items".to_owned()));
    all.extend(said::answer(fleet).into_iter().map(text));
    all.extend(said::doubt(fleet).into_iter().map(text));
    all.push(Block::Table(moves(fleet)));
    if impact.parts.len() > 1 {
        all.push(Block::Table(parts(fleet)));
    }
    if impact.rules.is_empty() {
        all.push(text(
            "No rule that differs is asked of anything in this fleet.".to_owned(),
        ));
    } else {
        all.push(Block::Heading("By rule".to_owned()));
        all.push(Block::Table(rules(fleet)));
    }
    for rule in &impact.rules {
        all.push(Block::Heading(said::title(rule)));
        all.extend(said::rule(fleet, rule).into_iter().map(text));
        limits(fleet, names, rule, &mut all);
    }
    if let Some(mut years) = years(fleet) {
        all.push(Block::Heading("By year of build".to_owned()));
        // Most years of a fleet are not hit; the page and JSON have them all.
        years.rows.retain(|(_, cells)| {
            let moved = cells.split_last().map_or(&[][..], |(_, moved)| moved);
            moved.iter().any(|cell| cell != "0")
        });
        match years.rows.is_empty() {
            true => all.push(text(
                "In no year of build does an item become illegal, legal or open.".to_owned(),
            )),
            false => all.push(Block::Table(years)),
        }
    }
    duplicates(&fleet.impact.sample, names, &mut all);
    all
}

fn limits(fleet: &Fleet<'_>, names: &Names, rule: &RuleImpact, all: &mut Vec<Block>) {
    for limit in &rule.limits {
        all.push(Block::Text(0, format!("{}.", limit::both(fleet, limit))));
        all.push(Block::Text(2, said::limit(fleet, limit)));
        if limit.worst.is_empty() {
            continue;
        }
        all.push(Block::Text(2, lead(limit).to_owned()));
        for case in &limit.worst {
            let sentence = limit::case(fleet, names, rule, limit, case);
            all.push(Block::Text(4, format!("{sentence}.")));
        }
    }
    for (lead, list) in others::lists(rule) {
        all.push(Block::Text(0, lead.to_owned()));
        for case in list {
            let sentence = others::case(fleet, names, rule, case);
            all.push(Block::Text(2, format!("{sentence}.")));
        }
    }
}

/// What stands before the worst cases at a limit.
pub(super) fn lead(limit: &LimitImpact) -> &'static str {
    match limit.worst.len() {
        1 => "The one that conformed or was open, and would not conform:",
        _ => "The worst of those that conformed or were open, and would not conform:",
    }
}

/// Boats with several records.
pub(in crate::report) fn duplicates(sample: &Sample, names: &Names, all: &mut Vec<Block>) {
    let boats = &sample.several;
    if boats.is_empty() {
        return;
    }
    all.push(Block::Heading(
        "Boats with several records; each measure counts as last measured".to_owned(),
    ));
    for boat in boats.iter().take(MOST_BOATS) {
        all.push(Block::Text(0, said::records(names, boat)));
    }
    if let Some(more) = boats.len().checked_sub(MOST_BOATS).filter(|more| *more > 0) {
        let more = several(u64::try_from(more).unwrap_or(u64::MAX), "more boat");
        all.push(Block::Text(
            0,
            format!("And {more}: --format json has them all."),
        ));
    }
}

/// The nine ways from old to new, the moves first.
pub(super) const WAYS: [(Stand, Stand, &str); 9] = [
    (
        Stand::Conforms,
        Stand::DoesNotConform,
        "conform, and would not",
    ),
    (
        Stand::DoesNotConform,
        Stand::Conforms,
        "do not conform, and would",
    ),
    (
        Stand::Conforms,
        Stand::NotDecided,
        "conform, and would be open",
    ),
    (
        Stand::NotDecided,
        Stand::DoesNotConform,
        "are open, and would not conform",
    ),
    (
        Stand::NotDecided,
        Stand::Conforms,
        "are open, and would conform",
    ),
    (
        Stand::DoesNotConform,
        Stand::NotDecided,
        "do not conform, and would be open",
    ),
    (
        Stand::DoesNotConform,
        Stand::DoesNotConform,
        "do not conform, as before",
    ),
    (Stand::NotDecided, Stand::NotDecided, "are open, as before"),
    (Stand::Conforms, Stand::Conforms, "conform, as before"),
];

/// From where to where boats and items move.
pub(in crate::report) fn moves(fleet: &Fleet<'_>) -> Table {
    let (boats, items) = (&fleet.impact.boats, &fleet.impact.items);
    let cell = |moves: &Moves, old, new| counted(moves.count(old, new), moves.total());
    let ways = WAYS.iter();
    let mut rows: Vec<(String, Vec<String>)> = ways
        .map(|(old, new, words)| {
            let cells = vec![cell(boats, *old, *new), cell(items, *old, *new)];
            ((*words).to_owned(), cells)
        })
        .collect();
    rows.push((
        "all".to_owned(),
        vec![boats.total().to_string(), items.total().to_string()],
    ));
    Table {
        caption: format!(
            "Under {}, and what they would do under {}",
            fleet.old, fleet.new
        ),
        heads: vec![
            "from, to".to_owned(),
            "boats".to_owned(),
            "items".to_owned(),
        ],
        rows,
    }
}

/// What moves, in columns: newly illegal, newly legal, newly open, all.
fn moved(moves: &Moves) -> Vec<String> {
    let total = moves.total();
    vec![
        counted(moves.newly_illegal(), total),
        counted(moves.newly_legal(), total),
        counted(moves.count(Stand::Conforms, Stand::NotDecided), total),
        total.to_string(),
    ]
}

fn moved_heads(of: &str) -> Vec<String> {
    let heads = [of, "newly illegal", "newly legal", "newly open", "of"];
    heads.iter().map(|head| (*head).to_owned()).collect()
}

/// Items by kind of part.
pub(super) fn parts(fleet: &Fleet<'_>) -> Table {
    let parts = fleet.impact.parts.iter();
    Table {
        caption: "Items by kind of part".to_owned(),
        heads: moved_heads("part"),
        rows: parts
            .map(|(part, moves)| (plain_name(part), moved(moves)))
            .collect(),
    }
}

/// Items by rule.
pub(in crate::report) fn rules(fleet: &Fleet<'_>) -> Table {
    let heads = [
        "rule",
        "newly illegal",
        "newly legal",
        "newly open",
        "within U",
        "never measured",
        "of",
    ];
    let rows = fleet.impact.rules.iter().map(|rule| {
        let moves = &rule.moves;
        let numbers = [
            moves.newly_illegal(),
            moves.newly_legal(),
            moves.count(Stand::Conforms, Stand::NotDecided),
            rule.within_uncertainty,
            rule.never_measured,
            moves.total(),
        ];
        let cells = numbers.iter().map(u64::to_string).collect();
        (said::title(rule), cells)
    });
    Table {
        caption: "Items by what each rule says of them".to_owned(),
        heads: heads.iter().map(|head| (*head).to_owned()).collect(),
        rows: rows.collect(),
    }
}

/// A year of build in words.
pub(super) fn year(year: Option<i16>) -> String {
    year.map_or_else(|| "not known".to_owned(), |year| year.to_string())
}

/// Items by year of build; nothing where no part has a date.
pub(super) fn years(fleet: &Fleet<'_>) -> Option<Table> {
    let years = &fleet.impact.years;
    (!years.is_empty()).then(|| Table {
        caption: "Items by year of build".to_owned(),
        heads: moved_heads("year"),
        rows: years
            .iter()
            .map(|(at, moves)| (year(*at), moved(moves)))
            .collect(),
    })
}
