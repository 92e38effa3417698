//! A map from its bytes to typed data, with every fault at once.

use std::sync::Arc;

use super::model::{Column, Constant, DateOrder, TableMap, TableSpec};
use super::schema::map_schema;
use super::target::{Target, What};
use crate::diagnostic::{Diagnostic, Faults, Fields, Schema};
use crate::quantity::DateSpan;
use crate::record::head::{class_of, format_line, root};
use crate::text::{Entry, Node, Source, Span, decode, parse_yaml, quoted};
use crate::vocabulary::{HoldingId, Vocabulary, read};

/// The format line of this major version.
pub const MAP_FORMAT: &str = "rimegauge-map/1";

/// Columns that one map names at most.
const COLUMNS: usize = 2_000;

/// What has to be known of a map before the rules of its class can be found.
#[derive(Clone, Debug)]
pub struct MapHead {
    /// The class.
    pub class: String,
    /// The rules that it names, in place of those in force on the day.
    pub rules: Option<String>,
    /// The day of all records, where the map says one.
    pub day: Option<crate::quantity::Date>,
}

/// Reads the head of a map; `name` is what messages call it.
///
/// # Errors
/// A text that can't be read, another format, no class.
pub fn head_of_map(name: &str, bytes: &[u8]) -> Result<MapHead, Vec<Diagnostic>> {
    let source = decoded(name, bytes)?;
    let node = parsed(&source)?;
    let mut faults = Faults::new(&source);
    let entries = root(&node, MAP_FORMAT, "a map", &mut faults);
    let head = entries.and_then(|entries| {
        let format = format_line(entries, &node, MAP_FORMAT, "a map", &mut faults);
        let class = class_of(entries, &node, "a map", &mut faults);
        format?;
        let day = node.get("measured").and_then(|one| one.get("day"));
        let day = day.and_then(|day| DateSpan::parse(day.as_text()?).ok()?.as_day());
        Some(MapHead {
            class: class?.0.to_owned(),
            rules: node
                .get("rules")
                .and_then(|rules| rules.as_text())
                .map(str::to_owned),
            day,
        })
    });
    faults.into_result(head)
}

fn decoded(name: &str, bytes: &[u8]) -> Result<Arc<Source>, Vec<Diagnostic>> {
    decode(name, bytes).map_err(|problem| vec![Diagnostic::undecoded(problem, name)])
}

fn parsed(source: &Arc<Source>) -> Result<Node<'_>, Vec<Diagnostic>> {
    parse_yaml(source).map_err(|problems| Diagnostic::from_problems(problems, source))
}

/// Reads a map by the vocabulary of its class.
///
/// # Errors
/// Every fault at once.
pub fn read_map(
    name: &str,
    bytes: &[u8],
    vocabulary: &Vocabulary,
    class: &str,
) -> Result<TableMap, Vec<Diagnostic>> {
    let source = decoded(name, bytes)?;
    let node = parsed(&source)?;
    let mut faults = Faults::new(&source);
    let mut reader = Reader {
        vocabulary,
        faults: &mut faults,
    };
    let map = reader.map(&source, &node, class);
    let typed = faults.into_result(map);
    match Schema::new(map_schema(vocabulary, class)) {
        Ok(schema) => schema.beside(&source, &node, typed),
        Err(_) => typed,
    }
}

pub(super) struct Reader<'v, 'f> {
    pub(super) vocabulary: &'v Vocabulary,
    pub(super) faults: &'f mut Faults,
}

impl Reader<'_, '_> {
    fn map(&mut self, source: &Arc<Source>, node: &Node<'_>, class: &str) -> Option<TableMap> {
        let entries = root(node, MAP_FORMAT, "a map", self.faults)?;
        format_line(entries, node, MAP_FORMAT, "a map", self.faults)?;
        let mut fields = Fields::of(node, "a map", None, self.faults)?;
        fields.take_entry("format");
        if let Some((text, node)) = fields.require_text("class", self.faults)
            && text != class
        {
            let message = format!(
                "the map is for the class {}, the rules are those of {}",
                quoted(text),
                quoted(class)
            );
            self.faults.fault(
                "map.other_class",
                node.span,
                message,
                "another class",
                format!("write `class: {class}`, or name rules of the map's class"),
            );
        }
        fields.take_text("rules", self.faults);
        let decimal = fields.take_text("decimal", self.faults);
        let decimal_comma = decimal.and_then(|(text, node)| {
            let words = [("point", false), ("comma", true)];
            read::one_of(
                text,
                node.span,
                "a decimal sign",
                words.into_iter(),
                self.faults,
            )
        });
        let dates = fields.take_text("dates", self.faults);
        let dates = dates.and_then(|(text, node)| {
            read::one_of(
                text,
                node.span,
                "an order of dates",
                DateOrder::WORDS.into_iter(),
                self.faults,
            )
        });
        let parted = fields.take_text("parted_by", self.faults);
        let parted_by = parted.and_then(|(text, node)| {
            let words = [("comma", b','), ("semicolon", b';'), ("tab", b'\t')];
            read::one_of(
                text,
                node.span,
                "what parts cells",
                words.into_iter(),
                self.faults,
            )
        });
        let not_measured = fields.take("not_measured", self.faults);
        let not_measured = not_measured
            .map(|entry| self.texts(entry))
            .unwrap_or_default();
        let words = fields.take("words", self.faults);
        let words = words.map(|entry| self.words(entry)).unwrap_or_default();
        let measured = fields.take("measured", self.faults);
        let constants = measured
            .map(|entry| self.constants(entry))
            .unwrap_or_default();
        let instruments = fields
            .take("instruments", self.faults)
            .map(|entry| (entry.node.to_json().to_string(), entry.key_span));
        let tables = fields.require("tables", self.faults);
        fields.finish(self.faults);
        let mut found = Vec::new();
        for node in self.filled(tables?, "- { columns: [ … ] }") {
            found.extend(self.table(node, &constants));
        }
        if found.len() > 1 {
            for table in &found {
                if table.sheet.is_none() {
                    self.faults.fault(
                        "map.sheet",
                        table.span,
                        "of several tables each names its sheet",
                        "no `sheet` here",
                        "write `sheet: Runners`",
                    );
                }
            }
        }
        Some(TableMap {
            source: Arc::clone(source),
            class: class.to_owned(),
            decimal_comma: decimal_comma.unwrap_or(false),
            dates: dates.unwrap_or(DateOrder::YearMonthDay),
            not_measured: not_measured.into_iter().map(|(text, _)| text).collect(),
            words,
            parted_by,
            constants,
            instruments,
            tables: found,
        })
    }

    /// A list with something in it.
    fn filled<'n, 's>(&mut self, entry: &'n Entry<'s>, form: &str) -> &'n [Node<'s>] {
        match entry.node.as_sequence() {
            Some(items) if !items.is_empty() => items,
            found => {
                let what = match found {
                    Some(_) => "names nothing".to_owned(),
                    None => format!("is a list; here stands {}", entry.node.kind_in_words()),
                };
                let span = entry.node.label_span(Some(entry.key_span));
                self.faults.fault(
                    "file.shape",
                    span,
                    format!("{} {what}", quoted(&entry.key)),
                    "",
                    format!("begin each entry with `{form}`"),
                );
                &[]
            }
        }
    }

    /// Texts in a list.
    fn texts(&mut self, entry: &Entry<'_>) -> Vec<(String, Span)> {
        let nodes = self.filled(entry, "- text");
        let mut found = Vec::new();
        for node in nodes {
            match node.as_text() {
                Some(text) => found.push((
                    text.trim().to_owned(),
                    node.label_span(Some(entry.key_span)),
                )),
                None => {
                    let message = format!(
                        "an entry of {} is a text; here stands {}",
                        quoted(&entry.key),
                        node.kind_in_words()
                    );
                    self.faults.fault(
                        "file.shape",
                        node.label_span(Some(entry.key_span)),
                        message,
                        "not a text",
                        "put it in quotes: \"-\"",
                    );
                }
            }
        }
        found
    }

    /// Words of a table with what they mean here.
    pub(super) fn words(&mut self, entry: &Entry<'_>) -> Vec<(String, String)> {
        let Some(entries) = entry.node.as_mapping() else {
            let span = entry.node.label_span(Some(entry.key_span));
            self.faults.fault(
                "file.shape",
                span,
                format!(
                    "`words` is a mapping; here stands {}",
                    entry.node.kind_in_words()
                ),
                "not a mapping",
                "write the table's word and what it means: `words: { ja: yes }`",
            );
            return Vec::new();
        };
        let mut found: Vec<(String, String)> = Vec::new();
        for word in entries {
            let Some(text) = word.node.as_text() else {
                self.faults.fault(
                    "file.shape",
                    word.node.label_span(Some(word.key_span)),
                    format!(
                        "{} means one word; here stands {}",
                        quoted(&word.key),
                        word.node.kind_in_words()
                    ),
                    "",
                    "write `words: { ja: yes }`",
                );
                continue;
            };
            let said = word.key.trim().to_owned();
            let twice = found
                .iter()
                .find(|(other, to)| super::cell::same_word(other, &said) && to != text);
            if let Some((other, _)) = twice {
                let message = format!(
                    "{} and {} are one word, as capitals do not count",
                    quoted(other),
                    quoted(&said)
                );
                self.faults.fault(
                    "map.word_twice",
                    word.key_span,
                    message,
                    "again here",
                    "give it one meaning",
                );
            }
            found.push((said, text.trim().to_owned()));
        }
        found
    }

    fn constants(&mut self, entry: &Entry<'_>) -> Vec<Constant> {
        let mut found = Vec::new();
        let Some(mut fields) =
            Fields::of(&entry.node, "`measured`", Some(entry.key_span), self.faults)
        else {
            return found;
        };
        for key in ["day", "by", "place", "temperature"] {
            if let Some((text, node)) = fields.take_text(key, self.faults) {
                if key == "day" {
                    read::day(node, None, "`day`", self.faults);
                }
                found.push(Constant {
                    target: Target::Measured(key),
                    text: text.to_owned(),
                    span: node.label_span(None),
                });
            }
        }
        fields.finish(self.faults);
        found
    }

    fn table(&mut self, node: &Node<'_>, constants: &[Constant]) -> Option<TableSpec> {
        let mut fields = Fields::of(node, "a table", None, self.faults)?;
        let span = fields.span;
        let sheet = fields.take_text("sheet", self.faults);
        let header = fields.take("header_row", self.faults);
        let header_row = header.map_or(Some(1), |entry| {
            read::count(
                &entry.node,
                Some(entry.key_span),
                "`header_row`",
                self.faults,
            )
        });
        let rows_said = node.entry("rows").is_some();
        let rows = fields
            .take_text("rows", self.faults)
            .and_then(|(text, node)| {
                let vocabulary = self.vocabulary;
                let many = vocabulary
                    .holdings
                    .iter()
                    .filter(|one| one.many)
                    .filter_map(|one| {
                        let id = vocabulary.holding_named(&one.key.text)?;
                        Some((one.key.text.as_str(), id))
                    });
                let many: Vec<(&str, HoldingId)> = many.collect();
                read::one_of(
                    text,
                    node.span,
                    "a part of which a boat has many",
                    many.into_iter(),
                    self.faults,
                )
            });
        let merged = fields.take_text("merged", self.faults);
        let merged_fill = merged.and_then(|(text, node)| {
            let words = [("refuse", false), ("fill", true)];
            read::one_of(
                text,
                node.span,
                "a way with merged cells",
                words.into_iter(),
                self.faults,
            )
        });
        let left_out = fields.take("left_out", self.faults);
        let left_out = left_out.map(|entry| self.texts(entry)).unwrap_or_default();
        let listed = fields.require("columns", self.faults);
        fields.finish(self.faults);
        // Which rows there are is not known; every path would be told wrong.
        if rows_said && rows.is_none() {
            return None;
        }
        let mut columns: Vec<Column> = Vec::new();
        let nodes = self.filled(listed?, "- { header: Sail, fills: boat.sail_number }");
        if nodes.len() > COLUMNS {
            self.faults.fault(
                "map.too_many",
                span,
                format!(
                    "the table names {} columns; {COLUMNS} are read",
                    nodes.len()
                ),
                "",
                "split the table",
            );
            return None;
        }
        let before = self.faults.len();
        for node in nodes {
            if let Some(column) = self.column(node, rows) {
                self.once(&column, &columns);
                self.one_entry(&column, &columns);
                columns.push(column);
            }
        }
        let table = TableSpec {
            sheet: sheet.map(|(text, node)| (text.to_owned(), node.span)),
            header_row: header_row.unwrap_or(1),
            rows,
            merged_fill: merged_fill.unwrap_or(false),
            columns,
            left_out,
            span,
        };
        if self.faults.len() == before {
            self.whole(&table, constants);
        }
        Some(table)
    }

    /// What a table needs: a sail number in each row, and where rows are parts, their ids.
    fn whole(&mut self, table: &TableSpec, constants: &[Constant]) {
        let fills =
            |test: &dyn Fn(&Target) -> bool| table.columns.iter().any(|one| test(&one.target));
        if !fills(&|target| *target == Target::SailNumber) {
            self.faults.fault(
                "map.no_sail_number",
                table.span,
                "no column of this table fills `boat.sail_number`",
                "whose boat a row is can't be told",
                "add `- { header: Sail, fills: boat.sail_number }`",
            );
        }
        if let Some(rows) = table.rows
            && !fills(
                &|target| matches!(target, Target::Item { holding, id: None, what: What::Id } if *holding == Some(rows)),
            )
        {
            let key = self
                .vocabulary
                .holding(rows)
                .map_or("", |one| one.key.text.as_str());
            self.faults.fault(
                "map.no_id",
                table.span,
                format!("no column of this table fills `{key}.id`"),
                "which part a row is can't be told",
                format!("add `- {{ header: Runner, fills: {key}.id }}`"),
            );
        }
        for constant in constants {
            let Some(column) = table
                .columns
                .iter()
                .find(|one| one.target == constant.target)
            else {
                continue;
            };
            self.faults.fault(
                "map.twice",
                column.span,
                format!(
                    "{} is filled by this column and said for all records under `measured`",
                    quoted(&column.path)
                ),
                "filled here",
                "leave one of them out",
            );
            self.faults.also(constant.span, "said here");
        }
    }
}
