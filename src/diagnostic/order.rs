//! The order in which messages are printed.

use std::collections::{BTreeSet, HashMap};
use std::sync::Arc;

use super::model::Diagnostic;

/// The messages in the order of printing: those without a place first, then by source (in the order
/// in which the sources first appear), then by place, faults before notices. A message that says the
/// same about the same place as an earlier one (code, span and words) is left out: a value used
/// through aliases would repeat it.
pub fn arrange(diagnostics: &[Diagnostic]) -> Vec<&Diagnostic> {
    let mut sources = HashMap::new();
    let mut order: Vec<(_, &Diagnostic)> = Vec::with_capacity(diagnostics.len());
    for diagnostic in diagnostics {
        let place = diagnostic.primary().map(|label| {
            let next = sources.len();
            // The address only tells sources apart; their order is that of appearance.
            let index = *sources.entry(Arc::as_ptr(&label.source)).or_insert(next);
            (index, label.span)
        });
        order.push(((place, diagnostic.severity), diagnostic));
    }
    order.sort_by_key(|(key, _)| *key);
    let mut seen = BTreeSet::new();
    order.retain(|((place, _), diagnostic)| {
        seen.insert((*place, diagnostic.code, diagnostic.message.as_str()))
    });
    order
        .into_iter()
        .map(|(_, diagnostic)| diagnostic)
        .collect()
}
