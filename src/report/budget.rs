//! An uncertainty budget as a table, in sentences, and for programs (JCGM 100:2008, 7.2.7).
//!
//! The table has a line of words for each source and a line of figures under it, so that it stands in 80
//! columns; where even that is too wide, figures are named and flow.

use crate::diagnostic::safe_line;
use crate::quantity::{Exact, Unit, show};
use crate::uncertainty::{
    Bound, Budget, Combined, Governing, Line, Source, Stated, Treatment, Way,
};

use super::figure;
use super::layout::{flow, pad, width_of, wrap};
use super::message::Message;

/// Significant digits of standard uncertainties and coefficients for people.
const DIGITS: usize = 3;
/// Between columns.
const GAP: &str = "  ";
/// What sources give together that are told in one line, at most, as a share of the variance.
const LITTLE: f64 = 0.005;
/// Fewer sources are told each.
const FEW: usize = 4;

/// A difference in base units as a number in a unit, with so many significant digits.
pub(super) fn significant(difference: f64, unit: Unit, digits: usize) -> String {
    match Exact::from_f64_shortest(difference) {
        Some(exact) => unit.difference_from_base(&exact).to_decimal(digits).0,
        None => "not known".to_owned(),
    }
}

/// The same with the unit.
fn with_unit(difference: f64, unit: Unit) -> String {
    show::with_unit(&significant(difference, unit, DIGITS), unit)
}

/// The sensitivity coefficient as a number: result's unit per source's unit.
pub(super) fn coefficient(line: &Line, unit: Unit) -> f64 {
    let (over, under) = (unit.factor().to_f64(), line.source.unit.factor().to_f64());
    line.sensitivity * under / over
}

/// Its unit: nothing where both are the same.
pub(super) fn coefficient_unit(line: &Line, unit: Unit) -> String {
    let under = line.source.unit;
    match (unit.symbol(), under.symbol()) {
        _ if unit == under => String::new(),
        (over, "") => over.to_owned(),
        ("", under) => format!("1/{under}"),
        (over, under) if under.contains('/') => format!("{over}/({under})"),
        (over, under) => format!("{over}/{under}"),
    }
}

pub(super) fn plain_number(value: f64, digits: usize) -> String {
    match Exact::from_f64_shortest(value) {
        Some(exact) => exact.to_decimal(digits).0,
        None => "not known".to_owned(),
    }
}

fn degrees(nu: f64) -> String {
    if nu.is_infinite() {
        "∞".to_owned()
    } else {
        plain_number(nu, 3)
    }
}

fn per_cent(share: f64) -> String {
    let percent = share * 100.0;
    match percent.abs() {
        size if size >= 9.95 => format!("{percent:.0} %"),
        size if size >= 0.05 => format!("{percent:.1} %"),
        0.0 => "0 %".to_owned(),
        _ => "< 0.1 %".to_owned(),
    }
}

/// What is stated of a source: `half width 0.003 mm`.
fn stated(source: &Source) -> Option<String> {
    let said = |figure: f64| with_unit(figure, source.unit);
    match source.stated {
        Stated::HalfWidth(a) => Some(format!("half width {}", said(a))),
        Stated::HalfWidthBeyond { a, .. } => Some(format!("half width {} in all", said(a))),
        Stated::Expanded { U, k } => Some(format!("U {} with k {}", said(U), plain_number(k, 4))),
        Stated::StandardDeviation { s, n: 1 } => Some(format!("s {}", said(s))),
        Stated::StandardDeviation { s, n } => Some(format!("s {} of one, n {n}", said(s))),
        Stated::Standard(_) | Stated::InResult => None,
    }
}

fn estimate(source: &Source) -> Option<String> {
    let estimate = source.estimate.as_ref()?;
    let rounded = figure::value(estimate, None, source.unit, source.decimals);
    Some(show::with_unit(&rounded.number, source.unit))
}

/// How a line is combined with others, where that is not by itself.
fn treatment(line: &Line, budget: &Budget) -> Option<String> {
    let own = |own: f64| with_unit(own, budget.unit);
    match line.treatment {
        Treatment::Independent => None,
        Treatment::Uncorrelated => Some("r = 0, which gives more than r = 1".to_owned()),
        Treatment::Correlated => Some("r = 1, which gives more than r = 0".to_owned()),
        Treatment::FloorInForce { own: by } => Some(format!(
            "in place of the {} that the reading has by itself",
            own(by)
        )),
        Treatment::FloorReached { own: by } => Some(format!(
            "reached by the {} that the reading has by itself, so it adds nothing",
            own(by)
        )),
    }
}

/// The words of a source: `micrometer mic_2, calibration: U 0.002 mm with k 2`.
fn words(line: &Line, budget: &Budget) -> String {
    let source = &line.source;
    let said = [estimate(source), stated(source), treatment(line, budget)];
    let said: Vec<String> = said.into_iter().flatten().collect();
    let name = safe_line(&source.name);
    if said.is_empty() {
        name.into_owned()
    } else {
        format!("{name}: {}", said.join(", "))
    }
}

/// Decimals in which contributions are set below each other: three digits of the whole.
fn decimals(budget: &Budget) -> usize {
    let whole = budget.combined.u;
    let Some(whole) = Exact::from_f64_shortest(whole).filter(|whole| !whole.is_zero()) else {
        return 0;
    };
    let first = budget.unit.difference_from_base(&whole).leading_exponent();
    usize::try_from(2 - first).unwrap_or(0)
}

fn contribution(line: &Line, budget: &Budget) -> String {
    let decimals = decimals(budget);
    let Some(exact) = Exact::from_f64_shortest(line.contribution) else {
        return "not known".to_owned();
    };
    let number = budget.unit.difference_from_base(&exact);
    let text = number.to_fixed(decimals);
    if text.bytes().any(|digit| matches!(digit, b'1'..=b'9')) || number.is_zero() {
        text
    } else {
        "~0".to_owned()
    }
}

/// Figures of a line by column: u, distribution, divisor, c, contribution, share, ν.
fn figures(line: &Line, budget: &Budget) -> [String; 7] {
    let source = &line.source;
    let divisor = source.stated.divisor(source.distribution);
    let c = coefficient(line, budget.unit);
    let unit = coefficient_unit(line, budget.unit);
    [
        with_unit(line.u, source.unit),
        source.distribution.words().to_owned(),
        divisor.map_or("-".to_owned(), |divisor| plain_number(divisor, 4)),
        format!("{} {unit}", plain_number(c, DIGITS))
            .trim_end()
            .to_owned(),
        contribution(line, budget),
        per_cent(line.share),
        degrees(line.nu),
    ]
}

/// Heads of the columns.
fn heads(budget: &Budget) -> [String; 7] {
    let unit = budget.unit.symbol();
    let gives = if unit.is_empty() {
        "c·u".to_owned()
    } else {
        format!("c·u [{unit}]")
    };
    ["u", "distribution", "divisor", "c", &gives, "share", "ν"].map(str::to_owned)
}

/// Which columns stand to the right.
const RIGHT: [bool; 7] = [false, false, false, false, true, true, true];

/// The lines that are told each, and those that are told together.
fn parted(budget: &Budget, all: bool) -> (&[Line], &[Line]) {
    let lines = budget.lines.as_slice();
    if all {
        return (lines, &[]);
    }
    let mut rest = 0.0;
    let mut told = lines.len();
    for line in lines.iter().rev() {
        rest += line.share.abs();
        if rest > LITTLE {
            break;
        }
        told -= 1;
    }
    if lines.len() - told < FEW {
        told = lines.len();
    }
    lines.split_at_checked(told).unwrap_or((lines, &[]))
}

fn together(rest: &[Line]) -> Option<String> {
    let share: f64 = rest.iter().map(|line| line.share).sum();
    (!rest.is_empty()).then(|| {
        format!(
            "{} more sources, each of them less: together {}",
            rest.len(),
            per_cent(share)
        )
    })
}

/// `ν 11.5`, or without end.
fn with_nu(nu: f64) -> String {
    if nu.is_infinite() {
        "infinite degrees of freedom".to_owned()
    } else {
        format!("{} degrees of freedom", plain_number(nu, 4))
    }
}

/// The steps from the sum to U, each a sentence without its full stop.
fn conclusion(budget: &Budget) -> Vec<String> {
    let unit = budget.unit;
    let mut said = Vec::new();
    if budget.unknown {
        said.push(
            "U is not known: of an instrument nothing is stated, and its method has no floor"
                .to_owned(),
        );
        return said;
    }
    if budget.expanded.U == 0.0 {
        said.push("nothing in it is uncertain: U is 0".to_owned());
        return said;
    }
    if budget.beyond_lines != 0.0 {
        said.push(
            "errors that cancel between readings at their floors don't make the floors smaller"
                .to_owned(),
        );
    }
    let Combined { u, nu } = budget.combined;
    said.push(format!("u_c = {}, {}", with_unit(u, unit), with_nu(nu)));
    let p = plain_number(budget.probability * 100.0, 6);
    for way in &budget.ways {
        let governs = way.by == budget.expanded.by;
        if governs || budget.ways.len() > 1 {
            said.push(way_words(way, budget, &p));
        }
    }
    said.push(format!(
        "U = {}, k = {}",
        with_unit(budget.expanded.U, unit),
        plain_number(budget.expanded.k, 4)
    ));
    said
}

fn way_words(way: &Way, budget: &Budget, p: &str) -> String {
    let unit = budget.unit;
    let (k, u) = (plain_number(way.k, 4), with_unit(way.u, unit));
    let gives = with_unit(way.U, unit);
    let chosen = if budget.ways.len() == 1 {
        ""
    } else if way.by == budget.expanded.by {
        ", the largest: it counts"
    } else {
        ""
    };
    match way.by {
        Governing::Combined => {
            let without = if budget.plain.u == budget.combined.u {
                ""
            } else {
                " without the floors"
            };
            format!(
                "all sources{without}: k({p} %, {}) × u = {k} × {u} = {gives}{chosen}",
                degrees(way.nu)
            )
        }
        Governing::Repeatability => format!(
            "the scatter alone: k({p} %, {}) × u = {k} × {u} = {gives}{chosen}",
            degrees(way.nu)
        ),
        Governing::MethodFloor => {
            format!("each reading at its floor at least, and the rest: {gives}{chosen}")
        }
    }
}

/// What the budget is of, with its value: `Budget of steel thickness of S1: 4.620 ± 0.020 mm`.
fn heading(budget: &Budget) -> String {
    let u = (!budget.unknown).then_some(budget.expanded.U);
    let rounded = figure::value(&budget.value, u, budget.unit, budget.decimals);
    let before = match budget.bound {
        None => "",
        Some(Bound::AtLeast) => "at least ",
        Some(Bound::AtMost) => "at most ",
        Some(Bound::Neither) => "about ",
    };
    let with_u = match &rounded.uncertainty {
        Some(u) => format!("{} ± {u}", rounded.number),
        None => rounded.number.clone(),
    };
    let value = format!("{before}{}", show::with_unit(&with_u, budget.unit));
    if budget.of.is_empty() {
        format!("Budget: {value}")
    } else {
        format!("Budget of {}: {value}", safe_line(&budget.of))
    }
}

/// The budgets of some findings, each once: the two sides of a limit have the same.
pub(super) fn budgets<'m>(messages: impl Iterator<Item = &'m Message>) -> Vec<&'m Budget> {
    let mut found: Vec<(&str, &Budget)> = Vec::new();
    for message in messages {
        if let Some(budget) = message.budget.as_deref() {
            let same =
                |(path, one): &(&str, &Budget)| *path == message.item_path && one.of == budget.of;
            if !found.iter().any(same) {
                found.push((&message.item_path, budget));
            }
        }
    }
    found.into_iter().map(|(_, budget)| budget).collect()
}

/// The budget as a table of so many columns; `all` tells every source, however little it gives.
pub fn budget_table(budget: &Budget, width: usize, all: bool) -> Vec<String> {
    let mut lines = wrap(&heading(budget), width);
    let (told, rest) = parted(budget, all);
    let heads = heads(budget);
    let rows: Vec<[String; 7]> = told.iter().map(|line| figures(line, budget)).collect();
    let widths: Vec<usize> = heads
        .iter()
        .enumerate()
        .map(|(at, head)| {
            let cells = rows.iter().filter_map(|row| row.get(at));
            cells
                .map(|cell| width_of(cell))
                .fold(width_of(head), usize::max)
        })
        .collect();
    let indent = 4;
    let whole = indent + widths.iter().sum::<usize>() + GAP.len() * (widths.len() - 1);
    let as_table = whole <= width;
    let set = |row: &[String; 7]| {
        let cells = row
            .iter()
            .zip(&widths)
            .zip(RIGHT)
            .map(|((cell, width), right)| {
                if right {
                    format!("{}{cell}", pad("", width.saturating_sub(width_of(cell))))
                } else {
                    pad(cell, *width)
                }
            });
        let set = cells.collect::<Vec<_>>().join(GAP);
        format!("{}{}", pad("", indent), set.trim_end())
    };
    if as_table && !rows.is_empty() {
        lines.push(set(&heads));
    }
    for (line, row) in told.iter().zip(&rows) {
        for (at, text) in wrap(&words(line, budget), width.saturating_sub(2))
            .iter()
            .enumerate()
        {
            lines.push(format!("{}{text}", if at == 0 { "" } else { GAP }));
        }
        if as_table {
            lines.push(set(row));
        } else {
            let pieces = named(line, budget);
            let flown = flow(&pieces, " · ", width.saturating_sub(indent));
            lines.extend(
                flown
                    .iter()
                    .map(|text| format!("{}{text}", pad("", indent))),
            );
        }
    }
    lines.extend(together(rest));
    for said in conclusion(budget) {
        for (at, text) in wrap(&said, width.saturating_sub(2)).iter().enumerate() {
            lines.push(format!("{}{text}", if at == 0 { "" } else { GAP }));
        }
    }
    lines
}

/// Figures of a line with their names.
fn named(line: &Line, budget: &Budget) -> Vec<String> {
    let [u, distribution, divisor, c, _, share, nu] = figures(line, budget);
    let mut said = vec![format!("u {u}"), distribution];
    if divisor != "-" {
        said.push(format!("divisor {divisor}"));
    }
    said.push(format!("c {c}"));
    let gives = show::with_unit(&contribution(line, budget), budget.unit);
    said.push(format!("c·u {gives}"));
    said.push(share);
    said.push(format!("ν {nu}"));
    said
}

/// The budget in sentences, one to a line.
pub fn budget_sentences(budget: &Budget) -> Vec<String> {
    let mut said = vec![format!("{}.", heading(budget))];
    for line in &budget.lines {
        let [u, distribution, divisor, c, _, share, nu] = figures(line, budget);
        let gives = show::with_unit(&contribution(line, budget), budget.unit);
        let divided = if divisor == "-" {
            String::new()
        } else {
            format!(", divided by {divisor}")
        };
        let nu = if nu == "∞" {
            "infinite".to_owned()
        } else {
            nu
        };
        said.push(format!(
            "{}; {distribution}{divided}: standard uncertainty {u}, sensitivity {c}, contributes {gives}, {share} of the variance, degrees of freedom {nu}.",
            words(line, budget)
        ));
    }
    let sentence = |text: String| {
        let mut letters = text.chars();
        // u_c and U keep their case.
        let is_symbol = text.starts_with("u_c") || text.starts_with("U ");
        let first: String = match letters.next() {
            Some(letter) if !is_symbol => letter.to_uppercase().collect(),
            Some(letter) => letter.to_string(),
            None => String::new(),
        };
        format!("{first}{}.", letters.as_str()).replace('∞', "infinite")
    };
    said.extend(conclusion(budget).into_iter().map(sentence));
    said
}

#[cfg(test)]
#[path = "budget_tests.rs"]
mod tests;
