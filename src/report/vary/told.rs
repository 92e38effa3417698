//! How a fleet stands as a limit moves, as blocks of words and tables.

use crate::check::Reason;
use crate::fleet::vary::{Counts, MovedLimit, Point, TurnPoint};
use crate::quantity::{Exact, Number, show};

use super::super::figure;
use super::super::impact::count::{agree, counted, plural, several};
use super::super::impact::names::Names;
use super::super::impact::said;
use super::super::impact::told::{Block, Table, duplicates};
use super::super::standing::not_in_force;
use super::super::words::{capital, plain_name};
use super::VariedReport;

/// Turns that are told one by one; JSON has them all.
const MOST_TURNS: usize = 12;

/// Everything that is to be said.
pub(super) fn blocks(report: &VariedReport<'_>) -> Vec<Block> {
    let varied = report.varied;
    let text = |sentence: String| Block::Text(0, sentence);
    let mut all = vec![Block::Heading(title(&varied.limit))];
    all.push(text(limits(report)));
    all.push(text(said::looked_at(&varied.sample)));
    all.push(text(said::checked_as(
        &varied.sample,
        report.level,
        report.purpose,
    )));
    all.extend(notes(report).into_iter().map(text));
    all.extend(said::beside(&varied.sample).into_iter().map(text));
    all.extend(concerned(report).into_iter().map(text));
    let names = Names::of_sample(&varied.sample, report.names);
    if varied.items == 0 {
        duplicates(&varied.sample, &names, &mut all);
        return all;
    }
    all.push(Block::Table(table(report)));
    all.push(Block::Heading("What it means".to_owned()));
    all.extend(meaning(report).into_iter().map(text));
    all.extend(turns(report));
    duplicates(&varied.sample, &names, &mut all);
    all
}

/// What should be known beside the numbers: that the rules do not count on the day, what is odd about a limit.
pub(super) fn notes(report: &VariedReport<'_>) -> Vec<String> {
    let rules = report.rules;
    let day = report.varied.sample.on.unwrap_or(rules.in_force_from);
    let standing = not_in_force(rules, day).map(|words| format!("{words}."));
    let later = said::measured_later(&report.varied.sample);
    let known = standing.into_iter().chain(later);
    known.chain(report.notes.to_vec()).collect()
}

/// Clause, title, row and bound of the limit.
pub(super) fn title(limit: &MovedLimit) -> String {
    let both = format!("{} {}", limit.clause, limit.title);
    let row = match &limit.row {
        Some(row) => format!(", {}", plain_name(row)),
        None => String::new(),
    };
    format!("{}{row}: {}", both.trim(), limit.kind.words())
}

/// A limit as a class would write it: `4.70 mm`, with more digits where it needs them.
pub(super) fn amount(value: &Exact, report: &VariedReport<'_>) -> String {
    // A fraction of the rules or of the question stays one: `5/16 in`.
    if let Some((_, text)) = report.written.iter().find(|(written, _)| written == value) {
        return text.clone();
    }
    let limit = &report.varied.limit;
    let (number, exact) = show::number(value, limit.unit, limit.decimals);
    let number = match exact {
        true => number,
        // An endless fraction, or one with more digits than anybody reads.
        false => figure::limit(&Number::Exact(value.clone()), limit.unit, digits(limit)).number,
    };
    show::with_unit(&number, limit.unit)
}

/// Where something turns, to two digits more than the limit has: where it has more, the nearest limit on the mild side,
/// with which nothing has turned yet.
pub(super) fn turn(turn: &TurnPoint, report: &VariedReport<'_>) -> String {
    let limit = &report.varied.limit;
    let decimals = digits(limit).unwrap_or(2);
    let (shown, exact) = mild(&turn.turn.at, limit, decimals);
    if exact && turn.turn.exact {
        return amount(&turn.turn.at, report);
    }
    format!(
        "about {}",
        show::fixed_with_unit(&shown, limit.unit, usize::from(decimals))
    )
}

/// A limit of so many decimals that is not sterner, base units, and whether it is the same.
pub(super) fn mild(value: &Exact, limit: &MovedLimit, decimals: u8) -> (Exact, bool) {
    let step = Exact::power_of_ten(-i32::from(decimals));
    let number = limit.unit.from_base(value);
    let Some(steps) = number
        .checked_div(&step)
        .filter(|steps| !steps.is_integer())
    else {
        return (value.clone(), true);
    };
    let whole = match limit.kind.is_lower() {
        true => steps.floor(),
        false => steps.floor().add(&Exact::ONE),
    };
    (limit.unit.to_base(&whole.mul(&step)), false)
}

fn digits(limit: &MovedLimit) -> Option<u8> {
    Some(limit.decimals.unwrap_or(2).saturating_add(2))
}

/// The limit now, and the proposed one.
fn limits(report: &VariedReport<'_>) -> String {
    let varied = report.varied;
    let bound = varied.limit.kind.words();
    let now = match &varied.limit.present {
        Some(present) => format!("{bound} {} now", amount(present, report)),
        None => "no single number now".to_owned(),
    };
    let rules = format!("{} {}", report.rules.title, report.rules.version);
    match &varied.proposed {
        Some(proposed) => {
            let proposed = amount(proposed, report);
            format!("{rules}: {now}, {bound} {proposed} proposed.")
        }
        None => format!("{rules}: {now}."),
    }
}

/// To what of the fleet the limit applies, and to what it does not.
fn concerned(report: &VariedReport<'_>) -> Vec<String> {
    let varied = report.varied;
    let noun = noun(report);
    let mut all = Vec::new();
    all.push(match (varied.items, noun == "boat") {
        (0, _) => {
            format!("This limit applies to no {noun} of this fleet: there is nothing to count.")
        }
        (count, true) => format!("This limit applies to {}.", several(count, &noun)),
        (count, false) => format!(
            "This limit applies to {} of {}.",
            several(count, &noun),
            several(varied.boats, "boat")
        ),
    });
    if varied.other_row > 0 {
        let others = several(varied.other_row, &noun);
        all.push(format!("Another row of the rule applies to {others}."));
    }
    if varied.not_applicable > 0 {
        let others = several(varied.not_applicable, &noun);
        all.push(format!("The rule does not apply to {others}."));
    }
    if varied.out_whatever > 0 {
        all.push(format!(
            "{} {} whatever this limit is: by another limit of the rule, or by what it does not list.",
            several(varied.out_whatever, &noun),
            agree(varied.out_whatever, "does not conform", "do not conform"),
        ));
    }
    if !varied.open.is_empty() {
        let reasons = varied.open.iter();
        let reasons: Vec<String> = reasons
            .map(|(reason, count)| format!("{}, {}", because(*reason), several(*count, &noun)))
            .collect();
        all.push(format!(
            "Open whatever this limit is: {}.",
            reasons.join("; ")
        ));
    }
    all
}

/// Why items are open.
fn because(reason: Reason) -> String {
    match reason {
        Reason::NotMeasured => "something else that it asks for was not measured".to_owned(),
        Reason::NearLimit => "within its uncertainty of another limit of the rule".to_owned(),
        other => other.words().to_owned(),
    }
}

/// What items are called.
pub(super) fn noun(report: &VariedReport<'_>) -> String {
    plain_name(&report.varied.limit.part)
}

/// The head of a column, and its count.
type Column = (&'static str, fn(&Counts) -> u64);

/// Which columns a table has: those with any count, and always what was never measured.
fn columns(report: &VariedReport<'_>) -> Vec<Column> {
    let all: [Column; 5] = [
        ("conform", |counts| counts.conforms),
        ("in doubt", |counts| counts.in_doubt),
        ("do not conform", |counts| counts.does_not_conform),
        ("never measured", |counts| counts.never_measured),
        ("otherwise open", |counts| counts.open),
    ];
    let points = &report.varied.points;
    all.into_iter()
        .filter(|(name, of)| {
            *name != "otherwise open" || points.iter().any(|point| of(&point.items) > 0)
        })
        .collect()
}

fn table(report: &VariedReport<'_>) -> Table {
    let varied = report.varied;
    let columns = columns(report);
    let mut heads = vec!["limit".to_owned()];
    heads.extend(columns.iter().map(|(name, _)| (*name).to_owned()));
    heads.push("boats conform".to_owned());
    let row = |point: &Point| {
        let mut cells: Vec<String> = Vec::new();
        for (at, (_, of)) in columns.iter().enumerate() {
            let count = of(&point.items);
            cells.push(match at {
                0 => counted(count, varied.items),
                _ => count.to_string(),
            });
        }
        cells.push(counted(point.boats.conforms, varied.boats));
        (label(report, &point.limit), cells)
    };
    Table {
        caption: match noun(report).as_str() {
            "boat" => "Boats by how they stand with each limit".to_owned(),
            noun => format!(
                "{} by how they stand with each limit; a boat by the worst of its {}",
                capital(&plural(noun)),
                plural(noun)
            ),
        },
        heads,
        rows: varied.points.iter().map(row).collect(),
    }
}

/// A limit, and whether it is the present or the proposed one.
fn label(report: &VariedReport<'_>, limit: &Exact) -> String {
    let varied = report.varied;
    let text = amount(limit, report);
    match (
        varied.limit.present.as_ref() == Some(limit),
        varied.proposed.as_ref() == Some(limit),
    ) {
        (true, true) => format!("{text} (now, and proposed)"),
        (true, false) => format!("{text} (now)"),
        (false, true) => format!("{text} (proposed)"),
        (false, false) => text,
    }
}

/// What follows for the proposal, and how far the limit could move without a loss.
fn meaning(report: &VariedReport<'_>) -> Vec<String> {
    let varied = report.varied;
    let mut all = Vec::new();
    let present = varied.limit.present.as_ref();
    let now = present.and_then(|present| varied.point(present));
    let then = varied
        .proposed
        .as_ref()
        .and_then(|limit| varied.point(limit));
    if let (Some(now), Some(then)) = (now, then) {
        all.push(difference(report, now, then));
    }
    let way = match varied.limit.kind.is_lower() {
        true => "The limit can rise to",
        false => "The limit can fall to",
    };
    let noun = noun(report);
    let kept = format!("and no {noun} that conforms now is lost");
    if let Some(present) = present {
        match varied.next_loss(present) {
            Some(next) => {
                let at = turn(next, report);
                let lost = several(next.conform_up_to, &noun);
                let verb = agree(next.conform_up_to, "conforms", "conform");
                let (reach, from) = match next.turn.itself {
                    true => (at, "beyond it"),
                    false => (format!("just before {at}"), "from there on"),
                };
                all.push(format!(
                    "{way} {reach} {kept}; {from} {lost} no longer {verb}."
                ));
            }
            None if varied.turns.is_some() && now.is_some_and(|now| now.items.conforms > 0) => {
                let outermost = varied.points.iter().map(|point| &point.limit);
                let sternest = match varied.limit.kind.is_lower() {
                    true => outermost.max(),
                    false => outermost.min(),
                };
                let sternest = sternest.filter(|sternest| *sternest != present);
                all.extend(
                    sternest.map(|limit| format!("{way} {} {kept}.", amount(limit, report))),
                );
            }
            None => {}
        }
    }
    let unmeasured = varied
        .points
        .first()
        .map_or(0, |point| point.items.never_measured);
    if unmeasured > 0 {
        let it = |one, many| agree(unmeasured, one, many);
        all.push(format!(
            "{} {} never measured: nobody knows of {}, and no limit counts {} as conforming.",
            several(unmeasured, &noun),
            it("was", "were"),
            it("it", "them"),
            it("it", "them"),
        ));
    }
    all
}

/// What would change from one limit to another.
fn difference(report: &VariedReport<'_>, now: &Point, then: &Point) -> String {
    let noun = noun(report);
    let (from, to) = (amount(&now.limit, report), amount(&then.limit, report));
    if now.limit == then.limit {
        return "What is proposed is the limit now: nothing changes.".to_owned();
    }
    if now.items == then.items {
        return format!("With {to} in place of {from} no {noun} stands otherwise than now.");
    }
    let (is, was) = (&then.items, &now.items);
    let mut said = format!(
        "With {to} in place of {from}, {} {} (now {}), {} {} in doubt (now {}) and {} {} (now {})",
        several(is.conforms, &noun),
        agree(is.conforms, "conforms", "conform"),
        was.conforms,
        is.in_doubt,
        agree(is.in_doubt, "is", "are"),
        was.in_doubt,
        is.does_not_conform,
        agree(is.does_not_conform, "does not conform", "do not conform"),
        was.does_not_conform,
    );
    if noun != "boat" {
        said.push_str(&format!(
            "; of {} {} with all of {} {} (now {})",
            several(report.varied.boats, "boat"),
            match then.boats.conforms {
                0 => "none conforms".to_owned(),
                1 => "1 conforms".to_owned(),
                many => format!("{many} conform"),
            },
            agree(then.boats.conforms.max(1), "its", "their"),
            plural(&noun),
            now.boats.conforms,
        ));
    }
    said.push('.');
    said
}

/// The limits at which anything turns, those next to the present limit first.
fn turns(report: &VariedReport<'_>) -> Vec<Block> {
    let varied = report.varied;
    let Some(turns) = &varied.turns else {
        return vec![Block::Text(
            0,
            "There are too many limits at which something turns to list them.".to_owned(),
        )];
    };
    let losing: Vec<&TurnPoint> = turns
        .iter()
        .filter(|turn| turn.conform_up_to + turn.bearable_up_to > 0)
        .collect();
    if losing.is_empty() {
        return vec![Block::Text(
            0,
            "Between these limits nothing turns: all of them come to the same.".to_owned(),
        )];
    }
    let lower = varied.limit.kind.is_lower();
    let beyond = |turn: &&&TurnPoint| match &varied.limit.present {
        Some(present) if lower => turn.turn.at >= *present,
        Some(present) => turn.turn.at <= *present,
        None => true,
    };
    let ahead = losing.iter().filter(beyond).count();
    let shown = if ahead > 0 { ahead } else { losing.len() };
    let mut rows = losing.iter().skip(losing.len() - shown);
    let rows: Vec<(String, Vec<String>)> = rows
        .by_ref()
        .take(MOST_TURNS)
        .map(|one| {
            let at = turn(one, report);
            let from = match one.turn.itself {
                true => format!("beyond {at}"),
                false => format!("from {at} on"),
            };
            let cells = vec![
                one.conform_up_to.to_string(),
                one.bearable_up_to.to_string(),
                one.items_beyond.conforms.to_string(),
            ];
            (from, cells)
        })
        .collect();
    let told = rows.len();
    let mut all = vec![Block::Table(Table {
        caption: match ahead > 0 {
            true => format!(
                "Where {} turn, from the present limit on",
                plural(&noun(report))
            ),
            false => format!("Where {} turn", plural(&noun(report))),
        },
        heads: vec![
            "limit".to_owned(),
            "no longer conform".to_owned(),
            "known not to conform".to_owned(),
            "conform still".to_owned(),
        ],
        rows,
    })];
    if let Some(more) = losing.len().checked_sub(told).filter(|more| *more > 0) {
        let more = several(u64::try_from(more).unwrap_or(u64::MAX), "more limit");
        all.push(Block::Text(
            0,
            format!(
                "And {more} between {}: --format json has them all.",
                ends(report)
            ),
        ));
    }
    all
}

fn ends(report: &VariedReport<'_>) -> String {
    let all = report.varied.points.iter().map(|point| &point.limit);
    let (least, most) = (all.clone().min(), all.max());
    let words: Vec<String> = [least, most]
        .into_iter()
        .flatten()
        .map(|value| amount(value, report))
        .collect();
    words.join(" and ")
}
