//! A map suggested from the headers of a table: what is plain is filled in, what is not is a remark to be read.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use super::dates;
use super::load::MAP_FORMAT;
use super::suggest_words::{Candidate, Fit, candidates, fit, parted, unit_of_readings};
use super::target::{Wants, parse};
use crate::quantity::{Quantity, Unit};
use crate::record::sheet::{Book, Kind, Sheet, Value, letters};
use crate::text::quoted;
use crate::vocabulary::{HoldingId, Vocabulary};

/// Rows of a sheet that are looked at.
const LOOKED_AT: usize = 1_000;

/// A map that is suggested.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Suggestion {
    /// The map as YAML.
    pub text: String,
    /// Columns that it fills.
    pub filled: usize,
    /// Columns that a person has to look at.
    pub unclear: usize,
}

/// What is seen in the cells of a table.
#[derive(Default)]
struct Seen {
    comma: bool,
    nothing: BTreeSet<String>,
    /// The orders of dates in which all texts of days can be read, once there is one.
    orders: Option<Vec<&'static str>>,
}

/// Suggests a map for a table; `titles` are other words for names: a rule's id with its title.
pub fn suggest(
    book: &Book,
    vocabulary: &Vocabulary,
    class: &str,
    titles: &[(&str, &str)],
) -> Suggestion {
    let mut seen = Seen::default();
    let mut tables = String::new();
    let (mut filled, mut unclear) = (0, 0);
    let mut has_day = false;
    let mut passed = Vec::new();
    for sheet in &book.sheets {
        let mut table = Table {
            book,
            sheet,
            vocabulary,
            titles,
            seen: &mut seen,
            text: String::new(),
            filled: 0,
            unclear: 0,
            has_day: false,
            at: None,
            ask: "",
        };
        table.suggest();
        if table.filled == 0 {
            if !sheet.rows.is_empty() {
                passed.push(quoted(&sheet.name));
            }
            continue;
        }
        filled += table.filled;
        unclear += table.unclear;
        has_day |= table.has_day;
        tables.push_str(&table.text);
    }
    let mut text = String::new();
    // Writing to a text does not fail.
    let _ = writeln!(
        text,
        "# Suggested from the headers. Read it, mend it, and only then import by it."
    );
    if unclear > 0 {
        let _ = writeln!(
            text,
            "# {unclear} of its remarks ask for a decision: look for `?`."
        );
    }
    if !passed.is_empty() {
        let _ = writeln!(text, "# No header was known in: {}", passed.join(", "));
    }
    let _ = writeln!(text, "format: {MAP_FORMAT}\nclass: {class}");
    if seen.comma {
        let _ = writeln!(text, "decimal: comma");
    }
    match seen.orders.as_deref() {
        None => {}
        Some([only]) => {
            let _ = writeln!(text, "dates: {only}");
        }
        Some([]) => {
            let _ = writeln!(
                text,
                "# dates: ?  not all days of the table are written in one order"
            );
        }
        Some(several) => {
            let _ = writeln!(
                text,
                "# dates: ?  one of: {}; all days of the table can be read in each",
                several.join(", ")
            );
        }
    }
    if !seen.nothing.is_empty() {
        let words: Vec<String> = seen.nothing.iter().map(|word| in_quotes(word)).collect();
        let _ = writeln!(text, "not_measured: [{}]", words.join(", "));
    }
    if !has_day {
        let _ = writeln!(
            text,
            "# measured: {{ day: 2026-11-21, by: AB }}  ?  no column tells the day"
        );
    }
    let _ = write!(text, "tables:\n{tables}");
    Suggestion {
        text,
        filled,
        unclear,
    }
}

/// A text in double quotes, as YAML and JSON both read it.
fn in_quotes(text: &str) -> String {
    serde_json::Value::from(text).to_string()
}

/// A remark on one line.
fn plain(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Whether a header tells whose boat a row is.
fn names_boat(known: &[Candidate], words: &[String]) -> bool {
    known
        .iter()
        .any(|one| one.path == "boat.sail_number" && fit(words, one) == Some(Fit::Same))
}

struct Table<'a> {
    book: &'a Book,
    sheet: &'a Sheet,
    vocabulary: &'a Vocabulary,
    titles: &'a [(&'a str, &'a str)],
    seen: &'a mut Seen,
    text: String,
    filled: usize,
    unclear: usize,
    has_day: bool,
    /// The distance that the next entry is at.
    at: Option<String>,
    /// What is asked about the next entry.
    ask: &'static str,
}

impl Table<'_> {
    /// The row of the headers: the first of the first ten with texts in most of its cells and more than one.
    fn header_row(&self) -> Option<u32> {
        let texts = |row: &&crate::record::sheet::Row| {
            let texts = row
                .cells
                .iter()
                .filter(|cell| matches!(cell.value, Value::Text(_)))
                .count();
            texts > 1 && texts * 2 > row.cells.len()
        };
        self.sheet
            .rows
            .iter()
            .take(10)
            .find(texts)
            .map(|row| row.number)
    }

    fn suggest(&mut self) {
        let Some(number) = self.header_row() else {
            return;
        };
        let headers: Vec<(u32, String)> = self
            .sheet
            .row(number)
            .iter()
            .flat_map(|row| &row.cells)
            .map(|cell| (cell.column, cell.value.shown().to_owned()))
            .collect();
        let rows = self.rows(&headers);
        let known = candidates(self.vocabulary, rows, self.titles);
        let mut used: Vec<String> = Vec::new();
        let mut columns = String::new();
        let mut left_out = Vec::new();
        let mut distances = super::suggest_numbered::Distances::default();
        for (at, header) in &headers {
            let words = parted(header).words;
            let fits = |wanted: Fit| -> Vec<&Candidate> {
                known
                    .iter()
                    .filter(|one| fit(&words, one) == Some(wanted))
                    .collect()
            };
            let mut same = fits(Fit::Same);
            // Of names that several parts have, those of the part that a row is come first.
            if same.len() > 1 && rows.is_some() {
                let own: Vec<&Candidate> = same
                    .iter()
                    .copied()
                    .filter(|one| one.many == rows)
                    .collect();
                if !own.is_empty() {
                    same = own;
                }
            }
            let sayable = |one: &&Candidate| parse(self.vocabulary, &one.path, rows).is_ok();
            same.retain(sayable);
            let numbered = self.numbered(header, &words);
            if same.is_empty()
                && numbered.is_none()
                && let Some(found) =
                    super::suggest_numbered::numbered(header, self.vocabulary, rows, &mut distances)
                && (found.repeated || !used.contains(&found.path))
                && parse(self.vocabulary, &found.path, rows).is_ok()
            {
                used.push(found.path.clone());
                self.filled += 1;
                self.at = found.at.clone();
                self.ask = found.ask;
                self.entry(
                    &mut columns,
                    number,
                    *at,
                    header,
                    &headers,
                    &found.path,
                    rows,
                );
                continue;
            }
            match (same.as_slice(), numbered) {
                ([only], _) if !used.contains(&only.path) => {
                    used.push(only.path.clone());
                    let path = only.path.clone();
                    self.filled += 1;
                    self.entry(&mut columns, number, *at, header, &headers, &path, rows);
                }
                ([], Some(path)) if !used.contains(&path) => {
                    used.push(path.clone());
                    self.filled += 1;
                    self.entry(&mut columns, number, *at, header, &headers, &path, rows);
                }
                ([], None) => {
                    let mut near: Vec<String> = fits(Fit::Near)
                        .iter()
                        .filter(|one| sayable(one))
                        .map(|one| one.path.clone())
                        .collect();
                    near.truncate(5);
                    if near.is_empty() {
                        left_out.push(header.clone());
                    } else {
                        self.unclear(&mut columns, *at, header, &near, "not a name; perhaps");
                    }
                }
                (several, _) => {
                    let paths: Vec<String> = several.iter().map(|one| one.path.clone()).collect();
                    let why = if several.len() > 1 {
                        "could be"
                    } else {
                        "another column fills it:"
                    };
                    self.unclear(&mut columns, *at, header, &paths, why);
                }
            }
        }
        self.write(number, rows, &used, &columns, &left_out);
    }

    fn write(
        &mut self,
        number: u32,
        rows: Option<HoldingId>,
        used: &[String],
        columns: &str,
        left_out: &[String],
    ) {
        let mut head: Vec<String> = Vec::new();
        if self.book.kind != Kind::Csv {
            head.push(format!("sheet: {}", in_quotes(&self.sheet.name)));
        }
        if number != 1 {
            head.push(format!("header_row: {number}"));
        }
        if let Some(holding) = rows.and_then(|id| self.vocabulary.holding(id)) {
            head.push(format!("rows: {}", holding.key.text));
        }
        head.push("columns:".to_owned());
        for (at, line) in head.iter().enumerate() {
            let _ = writeln!(self.text, "{}{line}", if at == 0 { "  - " } else { "    " });
        }
        self.text.push_str(columns);
        self.has_day = used.iter().any(|path| path == "measured.day");
        if !used.iter().any(|path| path == "boat.sail_number") {
            self.unclear += 1;
            let _ = writeln!(
                self.text,
                "      # - {{ header: ?, fills: boat.sail_number }}  no header names the sail number"
            );
        }
        if let Some(area) = self.sheet.merged.iter().find(|area| area.last.0 > number) {
            self.unclear += 1;
            let _ = writeln!(
                self.text,
                "    # merged: fill  ?  cells are merged, such as {}: does the value hold for all of them",
                area.name()
            );
        }
        if !left_out.is_empty() {
            let names: Vec<String> = left_out.iter().map(|name| in_quotes(name)).collect();
            let _ = writeln!(self.text, "    left_out: [{}]", names.join(", "));
        }
    }

    /// The part of which each row is one: that whose id a header names.
    fn rows(&self, headers: &[(u32, String)]) -> Option<HoldingId> {
        let many = self.vocabulary.holdings.iter().filter(|one| one.many);
        let ids = many.filter_map(|one| self.vocabulary.holding_named(&one.key.text));
        let mut best: Option<(usize, HoldingId)> = None;
        for id in ids {
            let known = candidates(self.vocabulary, Some(id), self.titles);
            let of_it: Vec<&Candidate> = known.iter().filter(|one| one.many == Some(id)).collect();
            let same =
                |words: &[String]| of_it.iter().any(|one| fit(words, one) == Some(Fit::Same));
            let is_id = |words: &[String]| {
                of_it
                    .iter()
                    .any(|one| one.path.ends_with(".id") && fit(words, one) == Some(Fit::Same))
            };
            let words: Vec<Vec<String>> = headers
                .iter()
                .map(|(_, header)| parted(header).words)
                .collect();
            let count = words.iter().filter(|words| same(words)).count();
            // The only header that tells the sail number is no id of a sail.
            let boats: Vec<&Vec<String>> = words
                .iter()
                .filter(|words| names_boat(&known, words))
                .collect();
            let is_id = |words: &Vec<String>| is_id(words) && boats != [words];
            if words.iter().any(is_id) && best.is_none_or(|(most, _)| count > most) {
                best = Some((count, id));
            }
        }
        best.map(|(_, id)| id)
    }

    /// A header that names one of many parts by its id: `S1 mass` is `runners.S1.mass`.
    fn numbered(&self, header: &str, words: &[String]) -> Option<String> {
        let (first, rest) = words.split_first()?;
        let digits = first.chars().filter(char::is_ascii_digit).count();
        if digits == 0 || digits == first.len() || first.len() > 4 || rest.is_empty() {
            return None;
        }
        let id: String = header.trim().chars().take(first.len()).collect();
        let many = self.vocabulary.holdings.iter().filter(|one| one.many);
        let paths: Vec<String> = many
            .filter_map(|one| {
                let path = format!("{}.{id}.{}", one.key.text, rest.join("_"));
                parse(self.vocabulary, &path, None).ok().map(|_| path)
            })
            .collect();
        match paths.as_slice() {
            [only] => Some(only.clone()),
            _ => None,
        }
    }

    fn unclear(
        &mut self,
        columns: &mut String,
        at: u32,
        header: &str,
        paths: &[String],
        why: &str,
    ) {
        self.unclear += 1;
        let first = paths.first().map_or("?", String::as_str);
        let _ = writeln!(
            columns,
            "      # - {{ header: {}, fills: {first} }}  ?  column {} {why} {}",
            in_quotes(&plain(header)),
            letters(at),
            paths.join(" or ")
        );
    }

    /// The values below a header.
    fn values(&self, number: u32, column: u32) -> impl Iterator<Item = &Value> {
        let rows = self
            .sheet
            .rows
            .iter()
            .filter(move |row| row.number > number)
            .take(LOOKED_AT);
        rows.filter_map(move |row| row.cell(column))
            .map(|cell| &cell.value)
    }

    #[expect(
        clippy::too_many_arguments,
        reason = "a line of the map from all that is known of its column"
    )]
    fn entry(
        &mut self,
        columns: &mut String,
        number: u32,
        at: u32,
        header: &str,
        headers: &[(u32, String)],
        path: &str,
        rows: Option<HoldingId>,
    ) {
        let Ok(target) = parse(self.vocabulary, path, rows) else {
            return;
        };
        let wants = target.wants(self.vocabulary);
        let mut line = format!("{{ header: {}", in_quotes(header));
        let twice = headers
            .iter()
            .filter(|(_, other)| super::columns::same_header(other, header))
            .count()
            > 1;
        if twice {
            let _ = write!(line, ", column: {}", letters(at));
        }
        let _ = write!(line, ", fills: {path}");
        if let Some(at) = self.at.take() {
            let _ = write!(line, ", at: {at}");
        }
        let mut remark = std::mem::take(&mut self.ask).to_owned();
        match &wants {
            Wants::Quantity(dimension) => {
                let texts: Vec<String> = self
                    .values(number, at)
                    .filter_map(|value| match value {
                        Value::Text(text) => Some(text.clone()),
                        Value::Number(_)
                        | Value::Day(_)
                        | Value::Time(_)
                        | Value::Truth(_)
                        | Value::Error(_)
                        | Value::Uncomputed => None,
                    })
                    .collect();
                self.look_at_numbers(&texts);
                let all = self.values(number, at).count();
                let with_unit = texts
                    .iter()
                    .filter(|text| {
                        Quantity::parse(&text.replace(',', "."))
                            .is_ok_and(|one| one.unit != Unit::PLAIN)
                    })
                    .count();
                match unit_of_readings(header) {
                    Some((_, Some(unit))) if unit.dimension() == *dimension => {
                        let _ = write!(line, ", unit: {}", in_quotes(unit.symbol()));
                    }
                    Some((written, _)) => {
                        remark = format!(
                            "?  {written} is not known as a unit of {}",
                            wants.in_words()
                        )
                    }
                    None if *dimension != crate::quantity::Dimension::RATIO && with_unit < all => {
                        remark = "?  unit: the header names none".to_owned();
                    }
                    None => {}
                }
            }
            Wants::Word(_) | Wants::Words(_) | Wants::YesNo => {
                let words = wants.words();
                let known = |text: &str| {
                    words
                        .iter()
                        .any(|word| *word == text.trim().to_lowercase().replace([' ', '-'], "_"))
                };
                let strange: BTreeSet<&str> = self
                    .values(number, at)
                    .filter_map(|value| match value {
                        Value::Text(text) => text
                            .split([',', ';', '/', '+'])
                            .map(str::trim)
                            .find(|piece| !piece.is_empty() && !known(piece)),
                        Value::Number(_)
                        | Value::Day(_)
                        | Value::Time(_)
                        | Value::Truth(_)
                        | Value::Error(_)
                        | Value::Uncomputed => None,
                    })
                    .collect();
                if !strange.is_empty() {
                    let named: Vec<String> = strange
                        .iter()
                        .take(5)
                        .map(|word| format!("{}: …", in_quotes(&plain(word))))
                        .collect();
                    remark = format!(
                        "?  add `words: {{ {} }}`; known are {}",
                        named.join(", "),
                        words.join(", ")
                    );
                }
            }
            Wants::Date | Wants::Day | Wants::Moment => {
                let texts: Vec<String> = self
                    .values(number, at)
                    .filter_map(|value| match value {
                        Value::Text(text) => Some(text.clone()),
                        Value::Number(_)
                        | Value::Day(_)
                        | Value::Time(_)
                        | Value::Truth(_)
                        | Value::Error(_)
                        | Value::Uncomputed => None,
                    })
                    .collect();
                self.look_at_days(&texts);
            }
            Wants::Load => match parted(header).unit {
                Some((_, Some(unit))) => {
                    let _ = write!(line, ", unit: {}", in_quotes(unit.symbol()));
                }
                Some((_, None)) | None => remark = "?  unit: kg or N".to_owned(),
            },
            Wants::Plain | Wants::Text => {}
        }
        if !remark.is_empty() {
            self.unclear += 1;
            remark = format!("  # {remark}");
        }
        let _ = writeln!(columns, "      - {line} }}{remark}");
    }

    fn look_at_numbers(&mut self, texts: &[String]) {
        for text in texts {
            let text = text.trim();
            let digits = text.bytes().any(|byte| byte.is_ascii_digit());
            if !digits
                && ["-", "–", "—", "n/a", "na", "none", "?", "x"]
                    .contains(&text.to_lowercase().as_str())
            {
                self.seen.nothing.insert(text.to_owned());
            }
            let letters: Vec<char> = text.chars().collect();
            self.seen.comma |= !text.contains('.')
                && letters.windows(3).any(|three| matches!(three, [a, ',', b] if a.is_ascii_digit() && b.is_ascii_digit()));
        }
    }

    fn look_at_days(&mut self, texts: &[String]) {
        for text in texts {
            if crate::quantity::DateSpan::parse(text).is_ok()
                || !text.bytes().any(|byte| byte.is_ascii_digit())
            {
                continue;
            }
            let here: Vec<&'static str> = dates::orders(text)
                .into_iter()
                .map(|(order, _)| order.word())
                .collect();
            self.seen.orders = Some(match self.seen.orders.take() {
                None => here,
                Some(before) => before
                    .into_iter()
                    .filter(|word| here.contains(word))
                    .collect(),
            });
        }
    }
}
