//! Mutants of the rules of a file.

use std::collections::BTreeMap;

use super::edit::{Maker, plain};
use super::expressions;
use super::kind::Kind;
use super::step::{date_steps, steps};
use crate::expression::{Expression, Type};
use crate::rules::{BoundKind, Demand, Limits, Rule, Stage, rows};
use crate::text::{Entry, Node, Span};

/// The expressions of a rule by where their value stands in the tree.
type Expressions<'r> = BTreeMap<Span, &'r Expression>;

/// Adds the mutants of all rules.
pub(super) fn mutate(maker: &mut Maker<'_>, file: &Node<'_>) {
    let items = file.get("rules").and_then(Node::as_sequence).unwrap_or(&[]);
    for (node, rule) in items.iter().zip(&maker.rules.rules) {
        maker.rule = Some(rule.id.text.clone());
        one(maker, node, rule);
    }
    maker.rule = None;
}

fn one(maker: &mut Maker<'_>, node: &Node<'_>, rule: &Rule) {
    let mut found = Expressions::new();
    for row in rows(&rule.limits, &rule.instead) {
        for bound in row.demand.bounds() {
            found.insert(bound.span, &bound.limit);
        }
    }
    for entry in node.as_mapping().unwrap_or(&[]) {
        match entry.key.as_ref() {
            "when" => {
                if let Some(when) = &rule.when {
                    expressions::mutate(maker, when, &entry.node, Kind::Constant);
                }
                maker.drop_entry(Kind::Condition, node, "when");
            }
            "value" => expressions::mutate(maker, &rule.value, &entry.node, Kind::Constant),
            "limits" => table(maker, &entry.node, rule, &found),
            "instead" => instead(maker, node, entry, rule, &found),
            "judged" => {
                let other = match entry.node.as_text() {
                    Some("mean") => "worst_place",
                    Some(_) | None => "mean",
                };
                if let Some(span) = plain(&entry.node) {
                    maker.add(Kind::Judged, span, other);
                }
            }
            "places" => {
                places(maker, &entry.node);
                let spacing = rule.places.as_ref().and_then(|one| one.spacing.as_ref());
                if let Some(spacing) = spacing {
                    for (key, end) in [("from", &spacing.from), ("to", &spacing.to)] {
                        if let Some(text) = entry.node.get(key) {
                            expressions::mutate(maker, end, text, Kind::Spacing);
                        }
                    }
                }
            }
            "outside" => {
                let zones = entry.node.as_sequence().map_or(0, <[Node<'_>]>::len);
                for at in 0..zones {
                    maker.drop_item(Kind::Zone, node, "outside", at);
                }
            }
            "zone" => maker.drop_entry(Kind::Zone, node, "zone"),
            "checked_at" => stages(maker, &entry.node),
            "options" => options(maker, &entry.node, rule),
            _ => {}
        }
    }
    row(maker, node, rule, &found);
}

/// The limits of one row, which stand among the keys of a mapping.
fn row(maker: &mut Maker<'_>, node: &Node<'_>, rule: &Rule, found: &Expressions<'_>) {
    let entries = node.as_mapping().unwrap_or(&[]);
    let bounds = || {
        let kinds = entries.iter().filter_map(|entry| {
            let kind = BoundKind::ALL
                .into_iter()
                .find(|kind| kind.word() == entry.key)?;
            Some((entry, kind))
        });
        kinds.filter(|(entry, _)| found.contains_key(&entry.node.span))
    };
    for (entry, kind) in bounds() {
        let other = match kind {
            BoundKind::AtLeast => BoundKind::MoreThan,
            BoundKind::MoreThan => BoundKind::AtLeast,
            BoundKind::AtMost => BoundKind::LessThan,
            BoundKind::LessThan => BoundKind::AtMost,
        };
        maker.add(Kind::Strictness, entry.key_span, other.word());
        if let Some(limit) = found.get(&entry.node.span) {
            expressions::mutate(maker, limit, &entry.node, Kind::Limit);
        }
        if bounds().count() > 1 {
            maker.drop_entry(Kind::Side, node, kind.word());
        }
    }
    if let Some(entry) = node.entry("rounded_to") {
        maker.number_of(Kind::Rounding, entry);
        maker.drop_entry(Kind::Rounding, node, "rounded_to");
    }
    if let Some(entry) = node.entry("equals") {
        equals(maker, entry, rule);
    }
    for key in ["only", "without"] {
        if let Some(entry) = node.entry(key) {
            choices(maker, entry, rule);
        }
    }
}

/// The rows of a table, which may be tables themselves.
fn table(maker: &mut Maker<'_>, node: &Node<'_>, rule: &Rule, found: &Expressions<'_>) {
    let entries = node.as_mapping().unwrap_or(&[]);
    let is_row = |entry: &Entry<'_>| {
        let inner = entry.node.as_mapping().unwrap_or(&[]);
        !inner.iter().any(|one| one.node.as_mapping().is_some())
    };
    for entry in entries {
        if is_row(entry) {
            row(maker, &entry.node, rule, found);
        } else {
            table(maker, &entry.node, rule, found);
        }
        if entries.len() > 1 {
            maker.drop_entry(Kind::Row, node, &entry.key);
        }
    }
}

fn instead(
    maker: &mut Maker<'_>,
    rule_node: &Node<'_>,
    entry: &Entry<'_>,
    rule: &Rule,
    found: &Expressions<'_>,
) {
    let items = entry.node.as_sequence().unwrap_or(&[]);
    for (at, (node, exemption)) in items.iter().zip(&rule.instead).enumerate() {
        if let Some(condition) = node.get("if") {
            expressions::mutate(maker, &exemption.condition, condition, Kind::Constant);
        }
        row(maker, node, rule, found);
        maker.drop_entry(Kind::Unproven, node, "unproven");
        if let Some(span) = node.get("until").and_then(plain) {
            for stepped in date_steps(maker.slice(span)) {
                maker.add(Kind::Date, span, stepped);
            }
        }
        maker.drop_entry(Kind::Until, node, "until");
        maker.drop_item(Kind::Exemption, rule_node, "instead", at);
    }
}

fn equals(maker: &mut Maker<'_>, entry: &Entry<'_>, rule: &Rule) {
    let Some(span) = plain(&entry.node) else {
        return;
    };
    match rule.value.yields.kind {
        Type::YesNo => {
            let other = match maker.slice(span) {
                "yes" | "true" => "no",
                _ => "yes",
            };
            maker.add(Kind::Equals, span, other);
        }
        Type::Count => {
            for stepped in steps(maker.slice(span)) {
                maker.add(Kind::Equals, span, stepped);
            }
        }
        Type::Choice(part, id) => {
            let part = maker.rules.vocabulary.part(part);
            let one = part.and_then(|part| part.traits.get(id.index()));
            for name in one.map_or(&[][..], |one| one.kind.names()) {
                maker.add(Kind::Equals, span, name.text.as_str());
            }
        }
        Type::Quantity(_)
        | Type::AnyOf(..)
        | Type::EventLevel
        | Type::Date
        | Type::Truth
        | Type::Profile
        | Type::Line
        | Type::Section
        | Type::LoadTest
        | Type::Outline => {}
    }
}

/// A list of choices with one fewer, and with one more.
fn choices(maker: &mut Maker<'_>, entry: &Entry<'_>, rule: &Rule) {
    let span = entry.node.span;
    if !maker.slice(span).starts_with('[') {
        maker.leave_out(span, "a list of choices that is not written in brackets");
        return;
    }
    let items = entry.node.as_sequence().unwrap_or(&[]);
    let listed: Vec<&str> = items.iter().filter_map(Node::as_text).collect();
    if listed.len() > 1 {
        for at in 0..listed.len() {
            let others = listed.iter().enumerate().filter(|(one, _)| *one != at);
            let others: Vec<&str> = others.map(|(_, word)| *word).collect();
            maker.add(Kind::Choice, span, format!("[{}]", others.join(", ")));
        }
    }
    let (Type::Choice(part, id) | Type::AnyOf(part, id)) = rule.value.yields.kind else {
        return;
    };
    let part = maker.rules.vocabulary.part(part);
    let one = part.and_then(|part| part.traits.get(id.index()));
    for name in one.map_or(&[][..], |one| one.kind.names()) {
        if !listed.contains(&name.text.as_str()) {
            let all = [listed.as_slice(), &[name.text.as_str()]].concat();
            maker.add(Kind::Choice, span, format!("[{}]", all.join(", ")));
        }
    }
}

fn places(maker: &mut Maker<'_>, node: &Node<'_>) {
    for (key, kind) in [
        ("at_least", Kind::Places),
        ("repeats", Kind::Repeats),
        ("spaced_at_most", Kind::Spacing),
    ] {
        if let Some(entry) = node.entry(key) {
            maker.number_of(kind, entry);
        }
    }
}

/// The list of stages with one fewer, and with one more.
fn stages(maker: &mut Maker<'_>, node: &Node<'_>) {
    if !maker.slice(node.span).starts_with('[') {
        maker.leave_out(
            node.span,
            "a list of stages that is not written in brackets",
        );
        return;
    }
    let items = node.as_sequence().unwrap_or(&[]);
    let listed: Vec<&str> = items.iter().filter_map(Node::as_text).collect();
    for stage in Stage::ALL {
        let with = Stage::ALL.into_iter().filter(|one| {
            let is_listed = listed.contains(&one.word());
            is_listed != (*one == stage)
        });
        let with: Vec<&str> = with.map(Stage::word).collect();
        if !with.is_empty() {
            maker.add(Kind::Stage, node.span, format!("[{}]", with.join(", ")));
        }
    }
}

fn options(maker: &mut Maker<'_>, node: &Node<'_>, rule: &Rule) {
    let Limits::Direct(direct) = &rule.limits else {
        return;
    };
    let Demand::Options(options) = &direct.demand else {
        return;
    };
    if let Some(within) = node.get("within") {
        let several = within.as_sequence().unwrap_or(std::slice::from_ref(within));
        for span in several.iter().filter_map(plain) {
            maker.number(Kind::Tolerance, span);
        }
    }
    let of = node.get("of").and_then(Node::as_sequence).unwrap_or(&[]);
    for (text, column) in of.iter().zip(&options.columns) {
        expressions::mutate(maker, &column.value, text, Kind::Constant);
    }
    let Some(listed) = node.get("rows") else {
        return;
    };
    let rows = listed.as_mapping().unwrap_or(&[]);
    for entry in rows {
        for span in entry
            .node
            .as_sequence()
            .unwrap_or(&[])
            .iter()
            .filter_map(plain)
        {
            maker.number(Kind::Size, span);
        }
        if rows.len() > 1 {
            maker.drop_entry(Kind::OptionRow, listed, &entry.key);
        }
    }
}
