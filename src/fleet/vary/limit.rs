//! The limits of a rules file that can be moved: one number each.

use std::sync::Arc;

use crate::check::MovingLimit;
use crate::fleet::impact::row_names;
use crate::prove::Common;
use crate::quantity::{Exact, Quantity, Unit};
use crate::rules::{BoundKind, RulesFile, rows};
use crate::text::Span;
use crate::vocabulary::Vocabulary;

/// A limit of a rule that is one number.
#[derive(Clone, Debug)]
pub struct MovedLimit {
    /// Where it stands in the rules.
    pub at: MovingLimit,
    /// The rule's id.
    pub rule: String,
    /// Its clause.
    pub clause: String,
    /// Its title.
    pub title: String,
    /// The kind of part that it is about.
    pub part: String,
    /// What its row is called; nothing where there is a single row.
    pub row: Option<String>,
    /// Which bound it is.
    pub kind: BoundKind,
    /// The unit that it is written in.
    pub unit: Unit,
    /// Decimals that it is written with.
    pub decimals: Option<u8>,
    /// As it is now, base units; nothing where it is computed on each item.
    pub present: Option<Exact>,
    /// As it is written.
    pub written: String,
    /// The step to a multiple of which values are rounded before they are compared.
    pub rounded_to: Option<Quantity>,
    /// Where it stands in the text.
    pub span: Span,
}

/// All bounds of a rule by position, those of the table first, then those of exemptions.
pub fn limits_of(rules: &Arc<RulesFile>, rule_at: usize) -> Vec<MovedLimit> {
    let Some(rule) = rules.rule(rule_at) else {
        return Vec::new();
    };
    let common = Common::of(rules, rules);
    let names = row_names(&common, rule);
    let part = rules.vocabulary.part(rule.applies_to);
    let part = part.or_else(|| rules.vocabulary.part(Vocabulary::BOAT));
    let part = part.map_or(String::new(), |part| part.name.text.clone());
    let mut found = Vec::new();
    for (row, limits) in rows(&rule.limits, &rule.instead).enumerate() {
        for (bound_at, bound) in limits.demand.bounds().iter().enumerate() {
            found.push(MovedLimit {
                at: MovingLimit {
                    rule: rule_at,
                    row,
                    bound: bound_at,
                },
                rule: rule.id.text.clone(),
                clause: rule.clause.text.clone(),
                title: rule.title.clone(),
                part: part.clone(),
                row: names.get(row).cloned().flatten(),
                kind: bound.kind,
                unit: bound.unit(),
                decimals: bound.decimals(),
                present: bound.limit.root.constant(),
                written: bound.limit.text.clone(),
                rounded_to: bound.rounded.as_ref().map(|rounded| rounded.to.clone()),
                span: bound.span,
            });
        }
    }
    found
}
