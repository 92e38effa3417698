//! The columns of a map: what each fills, in which unit, and what is said of all its readings.

use super::columns::one_unit;
use super::load::Reader;
use super::model::{Column, Lies};
use super::suggest_words::other_unit;
use super::target::{self, Target, Wants, What};
use crate::diagnostic::Fields;
use crate::quantity::{Dimension, Unit};
use crate::record::measures::wanted;
use crate::record::sheet::{column_of, limits};
use crate::text::{Node, Span, quoted};
use crate::vocabulary::{HoldingId, MeasureKind, read};

impl Reader<'_, '_> {
    /// A column is named once, and but for readings each place is filled by one column.
    pub(super) fn once(&mut self, column: &Column, before: &[Column]) {
        let same_header = |other: &&Column| match (&column.header, &other.header) {
            (Some(one), Some(two)) => {
                super::columns::same_header(one, two) && column.letter == other.letter
            }
            _ => column.letter.is_some() && column.letter == other.letter,
        };
        if let Some(first) = before.iter().find(same_header) {
            self.faults.fault("map.column_twice", column.span, "this column is named twice", "again here", "a column fills one place; where two columns have one header, add the letter: `column: C`");
            self.faults.also(first.span, "first here");
            return;
        }
        let readings = matches!(
            &column.target,
            Target::Item {
                what: What::Measure(_, ""),
                ..
            }
        ) && matches!(column.wants, Wants::Quantity(_) | Wants::Plain);
        if let Some(first) = before.iter().find(|other| other.target == column.target)
            && !readings
        {
            let first = first.span;
            self.faults.fault(
                "map.twice",
                column.span,
                format!("two columns fill {}", quoted(&column.path)),
                "again here",
                "leave one of them out",
            );
            self.faults.also(first, "first here");
        }
    }

    /// Columns of one entry say the same of it: two readings of one station have one distance.
    pub(super) fn one_entry(&mut self, column: &Column, before: &[Column]) {
        let vocabulary = self.vocabulary;
        let said = |one: &Column| -> Vec<(Target, String, Span)> {
            let Target::Item {
                holding,
                id,
                what: What::Inside(measure, place),
            } = &one.target
            else {
                return Vec::new();
            };
            let part = target::part_of(vocabulary, *holding);
            let Some(found) = part.and_then(|part| part.measures.get(measure.index())) else {
                return Vec::new();
            };
            let beside = one.details.iter().filter_map(|(key, text, span)| {
                let what = What::Inside(*measure, place.beside(found, key)?);
                let target = Target::Item {
                    holding: *holding,
                    id: id.clone(),
                    what,
                };
                Some((target, text.clone(), *span))
            });
            beside.collect()
        };
        for (target, text, span) in said(column) {
            let first = before.iter().flat_map(said);
            let other = first
                .filter(|(known, other, _)| *known == target && *other != text)
                .map(|(_, other, span)| (other, span))
                .next();
            if let Some((other, first)) = other {
                self.faults.fault(
                    "map.detail",
                    span,
                    format!("{text} stands here, and {other} at another column of the same entry"),
                    "another one",
                    "columns of one entry say the same of it; another entry has another number",
                );
                self.faults.also(first, "first here");
            }
        }
    }

    pub(super) fn column(&mut self, node: &Node<'_>, rows: Option<HoldingId>) -> Option<Column> {
        let mut fields = Fields::of(node, "a column", None, self.faults)?;
        let span = fields.span;
        let header = fields.take_text("header", self.faults);
        let letter = fields.take_text("column", self.faults);
        let fills = fields.require_text("fills", self.faults);
        let unit = fields.take_text("unit", self.faults);
        let decimals = fields.take("decimals", self.faults);
        let words = fields.take("words", self.faults);
        let mut details = Vec::new();
        for key in [
            "with",
            "by",
            "taken",
            "at",
            "from_edge",
            "face",
            "day",
            "paper",
            "gap",
            "load",
            "diameter",
            "depth",
        ] {
            if let Some((text, node)) = fields.take_text(key, self.faults) {
                details.push((key, text.to_owned(), node.label_span(None)));
            }
        }
        fields.finish(self.faults);
        if header.is_none() && letter.is_none() {
            if node.entry("header").is_none() && node.entry("column").is_none() {
                self.faults.fault(
                    "map.column",
                    span,
                    "a column is named by its header or its letter",
                    "neither is here",
                    "write `header: Sail` or `column: C`",
                );
            }
            return None;
        }
        let number = letter.and_then(|(text, node)| {
            let found = column_of(text.trim());
            if found.is_none() {
                let last = crate::record::sheet::letters(limits::COLUMNS);
                self.faults.fault(
                    "map.letter",
                    node.span,
                    format!("{} is no column", quoted(text)),
                    "",
                    format!("a column is A to {last}"),
                );
            }
            found
        });
        if letter.is_some() && number.is_none() {
            return None;
        }
        let (path, path_node) = fills?;
        let path = path.trim();
        let target = match target::parse(self.vocabulary, path, rows) {
            Ok(target) => target,
            Err((message, help)) => {
                self.faults
                    .fault("map.fills", path_node.span, message, "not known", help);
                return None;
            }
        };
        let wants = target.wants(self.vocabulary);
        let written = unit.map(|(_, node)| node.label_span(None));
        let unit = unit.and_then(|(text, node)| self.unit(text, node, &wants));
        if let (Some((header, header_node)), Some(unit), Some(span)) = (header, unit, written)
            && let Some(other) = other_unit(header, unit)
        {
            let message = format!(
                "the header {} says {}, the map `unit: {}`",
                quoted(header),
                other.symbol(),
                unit.symbol()
            );
            self.faults.fault(
                "map.unit",
                span,
                message,
                "another unit",
                one_unit(other, unit),
            );
            self.faults.also(header_node.label_span(None), "this unit");
        }
        let decimals = decimals.and_then(|entry| {
            let count = read::count(&entry.node, Some(entry.key_span), "`decimals`", self.faults)?;
            u8::try_from(count).ok().filter(|count| *count <= 15)
        });
        self.details(&target, &wants, &details, rows);
        let lies = self.lies(&target);
        let column = Column {
            header: header.map(|(text, _)| text.trim().to_owned()),
            letter: number,
            span: header
                .or(letter)
                .map_or(span, |(_, node)| node.label_span(None)),
            target,
            path: path.to_owned(),
            wants,
            unit,
            decimals,
            words: words.map(|entry| self.words(entry)).unwrap_or_default(),
            lies,
            details,
        };
        Some(column)
    }

    /// Where the readings of a column can lie.
    fn lies(&self, target: &Target) -> Option<Lies> {
        let Target::Item {
            holding,
            what: What::Measure(id, ""),
            ..
        } = target
        else {
            return None;
        };
        let part = target::part_of(self.vocabulary, *holding)?;
        let measure = part.measures.get(id.index())?;
        let MeasureKind::Quantity(kind) = measure.kind else {
            return None;
        };
        Some(Lies {
            allowed: wanted(measure, kind).allowed,
            plausible: measure.plausible.clone(),
            unit: measure.plausible_unit,
        })
    }

    pub(super) fn unit(&mut self, text: &str, node: &Node<'_>, wants: &Wants) -> Option<Unit> {
        if *wants == Wants::Load {
            let found = Unit::from_symbol(text.trim())
                .filter(|unit| [Dimension::MASS, Dimension::FORCE].contains(&unit.dimension()));
            if found.is_none() {
                let message = format!("{} is no unit of a mass or a force", quoted(text));
                self.faults.fault(
                    "map.unit",
                    node.span,
                    message,
                    "not a unit here",
                    "write kg or N",
                );
            }
            return found;
        }
        let Wants::Quantity(dimension) = wants else {
            self.faults.fault(
                "map.unit",
                node.span,
                format!("this column has no unit: it wants {}", wants.in_words()),
                "",
                "leave `unit` out",
            );
            return None;
        };
        let found = Unit::from_symbol(text.trim()).filter(|unit| unit.dimension() == *dimension);
        if found.is_none() {
            let message = format!("{} is no unit of {}", quoted(text), dimension.in_words());
            self.faults.fault(
                "map.unit",
                node.span,
                message,
                "not a unit here",
                read::written_in(*dimension),
            );
        }
        found
    }

    /// What the map says of every reading of a column must be sayable there.
    pub(super) fn details(
        &mut self,
        target: &Target,
        wants: &Wants,
        details: &[(&'static str, String, Span)],
        rows: Option<HoldingId>,
    ) {
        for (key, text, span) in details {
            let beside = match target {
                Target::Item {
                    holding,
                    id,
                    what: What::Measure(measure, ""),
                } => {
                    let part = target::part_of(self.vocabulary, *holding);
                    let name = part
                        .and_then(|part| part.measures.get(measure.index()))
                        .map(|one| one.name.text.as_str());
                    let first = match holding.and_then(|id| self.vocabulary.holding(id)) {
                        Some(holding) => holding.key.text.as_str(),
                        None => "boat",
                    };
                    let id = id.as_ref().map(|id| format!("{id}.")).unwrap_or_default();
                    target::parse(
                        self.vocabulary,
                        &format!("{first}.{id}{}.{key}", name.unwrap_or("")),
                        rows,
                    )
                    .ok()
                }
                Target::Item {
                    holding,
                    id,
                    what: What::Inside(measure, place),
                } => {
                    let part = target::part_of(self.vocabulary, *holding);
                    let found = part.and_then(|part| part.measures.get(measure.index()));
                    let what = match *key {
                        "with" | "by" | "taken" => Some(What::Measure(*measure, key)),
                        _ => found
                            .and_then(|found| place.beside(found, key))
                            .map(|place| What::Inside(*measure, place)),
                    };
                    what.map(|what| Target::Item {
                        holding: *holding,
                        id: id.clone(),
                        what,
                    })
                }
                Target::SailNumber
                | Target::Boat(_)
                | Target::Measured(_)
                | Target::Item { .. } => None,
            };
            let Some(beside) = beside else {
                self.faults.fault(
                    "map.detail",
                    *span,
                    format!(
                        "`{key}` can't stand beside this column, which wants {}",
                        wants.in_words()
                    ),
                    "",
                    "leave it out",
                );
                continue;
            };
            if let Wants::Quantity(dimension) = beside.wants(self.vocabulary)
                && let Err(problem) = crate::quantity::Quantity::parse_as(text, dimension)
            {
                self.faults.fault(
                    "map.detail",
                    *span,
                    problem.message,
                    "",
                    problem.help.unwrap_or_default(),
                );
            }
        }
    }
}
