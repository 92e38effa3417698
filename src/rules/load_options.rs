//! `options`: an item has to be one of some listed ones, in every column.

use super::load_rule::Context;
use super::model::*;
use crate::diagnostic::{Faults, Fields};
use crate::expression::{Expression, Op, Type};
use crate::quantity::{Dimension, Quantity};
use crate::text::{Entry, Node, Span, quoted};
use crate::vocabulary::{Name, PartId, read};

const ROWS: &str = "rows: { t25: [25 mm, 25 mm, 5 mm] }";
const WITHIN: &str =
    "write `within: 10 %`, `within: 0.5 mm`, `within: exactly`, or a list with one for each column";

/// Reads `options`; the first column stands for the value of the rule.
pub(super) fn options(
    entry: &Entry<'_>,
    context: &Context<'_>,
    part: PartId,
    faults: &mut Faults,
) -> Option<Options> {
    let what = "options";
    let mut fields = Fields::of(&entry.node, what, Some(entry.key_span), faults)?;
    let within = fields.require("within", faults);
    let of = fields.require("of", faults);
    let rows = fields.require("rows", faults);
    fields.finish(faults);
    let values = columns(of?, context, part, faults);
    let (within, rows) = (within?, rows?);
    let values = values?;
    let nearness = nearness(within, &values, faults);
    let rows = option_rows(rows, &values, faults);
    let columns = values.into_iter().zip(nearness?);
    let columns = columns
        .map(|(value, within)| Column { value, within })
        .collect();
    let options = Options {
        span: entry.key_span,
        columns,
        rows: rows?,
    };
    shares_of_nothing(&options, faults).then_some(options)
}

fn list<'n, 's>(
    entry: &'n Entry<'s>,
    what: &str,
    example: &str,
    faults: &mut Faults,
) -> Option<&'n [Node<'s>]> {
    let Some(nodes) = entry.node.as_sequence() else {
        faults.fault(
            "file.shape",
            entry.node.label_span(Some(entry.key_span)),
            format!("{} is a list of {what}", quoted(&entry.key)),
            "not a list",
            example,
        );
        return None;
    };
    if nodes.is_empty() {
        faults.fault(
            "rules.options",
            entry.key_span,
            format!("{} names nothing", quoted(&entry.key)),
            "an empty list",
            example,
        );
        return None;
    }
    Some(nodes)
}

fn columns(
    of: &Entry<'_>,
    context: &Context<'_>,
    part: PartId,
    faults: &mut Faults,
) -> Option<Vec<Expression>> {
    const EXAMPLE: &str = "of: [flange_width, stem_height, stem_thickness]";
    let nodes = list(of, "measures or derived values", EXAMPLE, faults)?;
    let mut found: Vec<Expression> = Vec::new();
    let mut whole = true;
    for node in nodes {
        match column(node, context, part, faults) {
            Some(column) if found.iter().any(|one| one.text == column.text) => {
                whole = false;
                faults.fault(
                    "name.twice",
                    node.span,
                    format!("{} is a column twice", quoted(&column.text)),
                    "again here",
                    "take one of the two out, with its values in the rows",
                );
            }
            Some(column) => found.push(column),
            None => whole = false,
        }
    }
    whole.then_some(found)
}

/// A column: one measured or derived number.
fn column(
    node: &Node<'_>,
    context: &Context<'_>,
    part: PartId,
    faults: &mut Faults,
) -> Option<Expression> {
    let value = context.value(node, part, faults)?;
    let named = matches!(value.root.op, Op::Measure(..) | Op::Derived(..));
    let number = matches!(value.yields.kind, Type::Quantity(_));
    let (message, help) = if !number {
        (
            format!(
                "{} is {}; a column of options is a number",
                quoted(&value.text),
                value.yields.kind.in_words()
            ),
            "name a measure or a derived value that is a number",
        )
    } else if !named {
        (
            format!("{} is computed here", quoted(&value.text)),
            "give it a name under `derived` of the part, and name that",
        )
    } else if value.yields.placed {
        (
            format!("{} has a value for each place", quoted(&value.text)),
            "derive one value of it, `lowest(…)` or `highest(…)`, and name that",
        )
    } else {
        return Some(value);
    };
    faults.fault("rules.options", node.span, message, "no column", help);
    None
}

fn dimension(column: &Expression) -> Dimension {
    match column.yields.kind {
        Type::Quantity(dimension) => dimension,
        _ => Dimension::RATIO,
    }
}

/// How near each column must come: one for all, or a list with one for each.
fn nearness(entry: &Entry<'_>, columns: &[Expression], faults: &mut Faults) -> Option<Vec<Within>> {
    if entry.node.as_sequence().is_none() {
        return one_for_all(entry, columns, faults);
    }
    let nodes = list(entry, "as many as there are columns", WITHIN, faults)?;
    if nodes.len() != columns.len() {
        faults.fault(
            "rules.options",
            entry.node.label_span(Some(entry.key_span)),
            format!(
                "`within` has {} and `of` names {}",
                entries(nodes.len()),
                entries(columns.len())
            ),
            "not one for each column",
            WITHIN,
        );
        return None;
    }
    let each = nodes.iter().zip(columns);
    let found: Vec<Option<Within>> = each
        .map(|(node, column)| one_within(node, None, column, faults))
        .collect();
    found.into_iter().collect()
}

/// One nearness for all columns; a quantity must fit every one of them.
fn one_for_all(
    entry: &Entry<'_>,
    columns: &[Expression],
    faults: &mut Faults,
) -> Option<Vec<Within>> {
    let first = columns.first()?;
    let within = one_within(&entry.node, Some(entry.key_span), first, faults)?;
    let own = dimension(first);
    let other = columns.iter().find(|column| dimension(column) != own);
    if let (Within::Distance(distance), Some(other)) = (&within, other) {
        faults.fault(
            "quantity.dimension",
            entry.node.span,
            format!(
                "{} is {}; {} is {}",
                distance.as_written(),
                own.in_words(),
                quoted(&other.text),
                dimension(other).in_words()
            ),
            "does not fit every column",
            "write a list with one for each column",
        );
        return None;
    }
    Some(columns.iter().map(|_| within.clone()).collect())
}

fn one_within(
    node: &Node<'_>,
    key_span: Option<Span>,
    column: &Expression,
    faults: &mut Faults,
) -> Option<Within> {
    let text = read::scalar(
        node,
        key_span,
        "within",
        "a share, a quantity or `exactly`",
        faults,
    )?;
    if text == "exactly" {
        return Some(Within::Exactly);
    }
    let own = dimension(column);
    // A share of the listed value has the sign of a percentage; a ratio in a column could be either.
    let share = text.ends_with('%') || own == Dimension::RATIO && text.ends_with("percent");
    let expected = if share { Dimension::RATIO } else { own };
    let found = read::quantity(node, key_span, "within", expected, faults)?;
    if found.difference().signum() < 0 {
        faults.fault(
            "quantity.negative",
            node.span,
            "a distance is never below zero",
            "",
            "write it without the sign",
        );
        return None;
    }
    Some(if share {
        Within::Share(found)
    } else {
        Within::Distance(found)
    })
}

fn option_rows(
    rows: &Entry<'_>,
    columns: &[Expression],
    faults: &mut Faults,
) -> Option<Vec<OptionRow>> {
    let entries_of = rows.node.as_mapping().filter(|list| !list.is_empty());
    let Some(list_of_rows) = entries_of else {
        faults.fault(
            "file.shape",
            rows.node.label_span(Some(rows.key_span)),
            "`rows` names each option with its values",
            "no options",
            ROWS,
        );
        return None;
    };
    let mut found = Vec::new();
    let mut whole = true;
    for entry in list_of_rows {
        match option_row(entry, columns, faults) {
            Some(row) => found.push(row),
            None => whole = false,
        }
    }
    whole.then_some(found)
}

fn option_row(entry: &Entry<'_>, columns: &[Expression], faults: &mut Faults) -> Option<OptionRow> {
    if !read::is_name(&entry.key) {
        faults.fault(
            "name.form",
            entry.key_span,
            format!("{} can't name an option", quoted(&entry.key)),
            "not a name",
            "a name has small letters, digits and _, and begins with a letter",
        );
    }
    let nodes = list(entry, "values, one for each column", ROWS, faults)?;
    if nodes.len() != columns.len() {
        faults.fault(
            "rules.options",
            entry.node.label_span(Some(entry.key_span)),
            format!(
                "{} has {} and `of` names {}",
                quoted(&entry.key),
                entries(nodes.len()),
                entries(columns.len())
            ),
            "not one value for each column",
            format!("columns are {}", names(columns)),
        );
        return None;
    }
    let values: Vec<Option<(Quantity, Span)>> = nodes
        .iter()
        .zip(columns)
        .map(|(node, column)| {
            let found = read::quantity(node, None, &column.text, dimension(column), faults)?;
            Some((found, node.span))
        })
        .collect();
    Some(OptionRow {
        name: Name {
            text: entry.key.to_string(),
            span: entry.key_span,
        },
        values: values.into_iter().collect::<Option<Vec<_>>>()?,
    })
}

/// A share of zero is zero, and a temperature has no share: such a column would be met by nothing else.
fn shares_of_nothing(options: &Options, faults: &mut Faults) -> bool {
    let mut sound = true;
    for row in &options.rows {
        for (column, (value, span)) in options.columns.iter().zip(&row.values) {
            let Within::Share(share) = &column.within else {
                continue;
            };
            let scale = value.dimension() == Dimension::TEMPERATURE;
            if !(scale || value.value.is_zero() && !share.value.is_zero()) {
                continue;
            }
            sound = false;
            faults.fault(
                "rules.options",
                *span,
                format!(
                    "{} of {} is nothing that can be measured",
                    share.as_written(),
                    value.as_written()
                ),
                if scale { "a temperature" } else { "zero" },
                "write `within` as a list, with a quantity for this column",
            );
        }
    }
    sound
}

fn entries(count: usize) -> String {
    match count {
        1 => "1 entry".to_owned(),
        count => format!("{count} entries"),
    }
}

fn names(columns: &[Expression]) -> String {
    let names: Vec<&str> = columns.iter().map(|column| column.text.as_str()).collect();
    names.join(", ")
}
