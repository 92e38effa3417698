//! The numbers of a rule's text against those of its data: a committee must not print one and check another.
//!
//! Each number with a unit, each day and each year of the text has to stand in the data of the rule. Where the
//! text names numbers at all, it has to name those that the rule's own limits say; a table may stand for its
//! rows. A number written as a word counts for the data, and is never held against it.

use super::words::{Written, written_in};
use crate::diagnostic::Diagnostic;
use crate::expression::{Expression, Node, Op};
use crate::quantity::{DateSpan, Dimension, Exact};
use crate::rules::{Demand, Limits, MarkLimits, MarkRule, Rule, RulesFile, Within, rows};
use crate::text::{Span, quoted};
use crate::vocabulary::{MeasureKind, Name, PartId, ZoneKind};

/// What the data of a rule names.
#[derive(Default)]
struct Named {
    /// Quantities in base units.
    quantities: Vec<(Exact, Dimension)>,
    /// Days, months and years.
    dates: Vec<DateSpan>,
    /// Questions of looks, whose numbers are words only.
    asks: Vec<String>,
}

/// A number that the text has to name.
struct Limit {
    text: String,
    value: Exact,
    dimension: Dimension,
    span: Span,
}

/// A rule's text and its data.
pub(super) fn numbers(rules: &RulesFile, rule: &Rule, found: &mut Vec<Diagnostic>) {
    let mut named = Named::default();
    let own = rule.applies_to;
    expression(rules, &rule.value, &mut named);
    for one in rule
        .when
        .iter()
        .chain(rule.instead.iter().map(|row| &row.condition))
    {
        expression(rules, one, &mut named);
    }
    let mut limits = Vec::new();
    for (number, row) in rows(&rule.limits, &rule.instead).enumerate() {
        let direct = matches!(rule.limits, Limits::Direct(_)) && number == 0;
        match &row.demand {
            Demand::Bounds(bounds) => {
                for bound in bounds {
                    expression(rules, &bound.limit, &mut named);
                    if let Some(rounded) = &bound.rounded {
                        let step = (rounded.to.difference(), rounded.to.dimension());
                        named.quantities.push(step);
                    }
                    let dimension = rule.value.yields.kind.dimension();
                    if let (true, Some(value), Some(dimension)) =
                        (direct, bound.limit.root.constant(), dimension)
                    {
                        limits.push(Limit {
                            text: bound.limit.text.clone(),
                            value,
                            dimension,
                            span: bound.span,
                        });
                    }
                }
            }
            Demand::Equals(crate::rules::Equals::Count(count), span) => {
                let value = Exact::from_integer(*count);
                named.quantities.push((value.clone(), Dimension::RATIO));
                if direct {
                    limits.push(Limit {
                        text: count.to_string(),
                        value,
                        dimension: Dimension::RATIO,
                        span: *span,
                    });
                }
            }
            Demand::Options(options) => {
                for column in &options.columns {
                    expression(rules, &column.value, &mut named);
                    if let Within::Share(near) | Within::Distance(near) = &column.within {
                        named.quantities.push((near.difference(), near.dimension()));
                    }
                }
                for (value, _) in options.rows.iter().flat_map(|row| &row.values) {
                    named
                        .quantities
                        .push((value.value.clone(), value.dimension()));
                }
            }
            Demand::Equals(..) | Demand::Only(..) | Demand::Without(..) | Demand::None => {}
        }
    }
    for row in &rule.instead {
        named.dates.extend(row.until.map(DateSpan::day));
    }
    if let Some(places) = &rule.places {
        named.whole(i64::from(places.at_least));
        named.whole(i64::from(places.repeats));
        if let Some(spacing) = &places.spacing {
            let value = spacing.at_most.value.clone();
            named.quantities.push((value, Dimension::LENGTH));
        }
    }
    let zones = rule.outside.iter().chain(&rule.zone).map(|(zone, _)| *zone);
    for zone in zones.chain(super::in_table(&rule.limits)) {
        let part = rules.vocabulary.part(own);
        if let Some(zone) = part.and_then(|part| part.zones.get(zone.index())) {
            named.zone(&zone.kind);
        }
    }
    let text = (&rule.id, &rule.clause, rule.text.as_str(), rule.text_span);
    compare(rules, text, &named, &limits, found);
}

/// A limit on marks.
pub(super) fn mark_numbers(rules: &RulesFile, mark: &MarkRule, found: &mut Vec<Diagnostic>) {
    let mut named = Named::default();
    let mut limits = Vec::new();
    match &mark.limits {
        MarkLimits::Direct(limit) => {
            named.whole(limit.at_most);
            limits.push(Limit {
                text: limit.at_most.to_string(),
                value: Exact::from_integer(limit.at_most),
                dimension: Dimension::RATIO,
                span: limit.span,
            });
        }
        MarkLimits::ByLevel { rows, .. } => {
            rows.iter()
                .for_each(|(_, limit)| named.whole(limit.at_most));
        }
    }
    for cap in &mark.of_which {
        expression(rules, &cap.condition, &mut named);
        named.whole(cap.limit.at_most);
    }
    if let Some(pairs) = &mark.pairs {
        expression(rules, &pairs.condition, &mut named);
    }
    for bring in &mark.bring {
        named.whole(bring.at_least);
    }
    let text = (&mark.id, &mark.clause, mark.text.as_str(), mark.text_span);
    compare(rules, text, &named, &limits, found);
}

impl Named {
    fn whole(&mut self, number: i64) {
        let number = Exact::from_integer(number);
        self.quantities.push((number, Dimension::RATIO));
    }

    fn zone(&mut self, kind: &ZoneKind) {
        let mut length = |value: &Exact| {
            self.quantities.push((value.clone(), Dimension::LENGTH));
            // "within 300 mm of the pivot" says both ends.
            self.quantities.push((value.abs(), Dimension::LENGTH));
        };
        match kind {
            ZoneKind::WithinOfEdge(distance) | ZoneKind::WithinOf { distance, .. } => {
                length(distance);
            }
            ZoneKind::Along { to_height, .. } => length(to_height),
            ZoneKind::Between(low, high) => {
                length(low);
                length(high);
            }
        }
    }
}

/// Everything that an expression names, derived values written out.
fn expression(rules: &RulesFile, expression: &Expression, named: &mut Named) {
    nodes(rules, &expression.root, expression.own, named);
}

fn nodes(rules: &RulesFile, node: &Node, own: PartId, named: &mut Named) {
    let vocabulary = &rules.vocabulary;
    node.visit(own, vocabulary, &mut |own, node| match &node.op {
        Op::Quantity { value, unit } => {
            named.quantities.push((value.clone(), unit.dimension()));
        }
        Op::Date(date) => named.dates.push(*date),
        Op::Derived(scope, slot) => {
            let part = scope.part(own, vocabulary);
            let derived = part.and_then(|part| Some((part, rules.derived_value(part, *slot)?)));
            if let Some((part, derived)) = derived {
                nodes(rules, &derived.root, part, named);
            }
        }
        Op::Measure(scope, slot) => {
            let part = scope.part(own, vocabulary);
            let part = part.and_then(|part| vocabulary.part(part));
            let measure = part.and_then(|part| part.measures.get(slot.index()));
            let Some(measure) = measure else {
                return;
            };
            if measure.kind == MeasureKind::YesNo {
                named.asks.extend(measure.ask.clone());
            }
            if let Some(setup) = &measure.setup {
                let span = setup.span.clone();
                named.quantities.push((span, Dimension::LENGTH));
            }
        }
        _ => {}
    });
}

fn compare(
    rules: &RulesFile,
    (id, clause, text, text_span): (&Name, &Name, &str, Span),
    named: &Named,
    limits: &[Limit],
    found: &mut Vec<Diagnostic>,
) {
    let written = written_in(text);
    let asked: Vec<Written> = named.asks.iter().flat_map(|ask| written_in(ask)).collect();
    let strangers: Vec<&str> = written
        .iter()
        .filter(|one| !one.by_word() && !stands_in(one, named, &asked))
        .map(Written::text)
        .collect();
    if !strangers.is_empty() {
        let message = format!(
            "{}: the text says {}, and the data does not",
            quoted(&id.text),
            strangers.join(", ")
        );
        let diagnostic = Diagnostic::fault("lint.text_differs", message)
            .label(&rules.source, text_span, "the text")
            .help("mend the text or the data, so that both say the same")
            .clause(clause.text.clone());
        found.push(diagnostic);
    }
    for limit in limits {
        let same = |one: &Written| one.is_quantity(&limit.value, limit.dimension);
        let speaks = written
            .iter()
            .any(|one| !one.by_word() && one.has_dimension(limit.dimension));
        if speaks && !written.iter().any(same) {
            let message = format!(
                "{}: the data says {}, and the text does not",
                quoted(&id.text),
                limit.text
            );
            let diagnostic = Diagnostic::fault("lint.text_differs", message)
                .label(&rules.source, limit.span, "not in the text")
                .help("mend the text or the data, so that both say the same")
                .clause(clause.text.clone());
            found.push(diagnostic);
        }
    }
}

fn stands_in(one: &Written, named: &Named, asked: &[Written]) -> bool {
    named
        .quantities
        .iter()
        .any(|(value, dimension)| one.is_quantity(value, *dimension))
        || named.dates.iter().any(|date| one.is_date(date))
        || asked.contains(one)
}
