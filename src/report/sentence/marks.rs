//! The sentences of a limit on marks.

use crate::rules::{AfterLastMark, Exchange, MarkLimits, MarkRule, Replacement};

use super::super::words::plain_name;
use super::phrase::{Phrase, with_article};
use super::table::mark_table;
use super::value::Speaker;
use super::{Says, Sentence, Wording};

/// The limit on marks at every event, where it does not go by level.
pub(in crate::report) fn mark_limit(mark: &MarkRule) -> Option<String> {
    match &mark.limits {
        MarkLimits::Direct(limit) => Some(format!("at most {}", limit.at_most)),
        MarkLimits::ByLevel { .. } => None,
    }
}

/// What is asked of marks apart from how many there may be in all.
pub(in crate::report) fn mark_frame(wording: &Wording<'_>, mark: &MarkRule) -> String {
    let said = sentences(wording, mark);
    let texts: Vec<String> = said.iter().skip(1).map(Sentence::text).collect();
    texts.join(" ")
}

pub(super) fn sentences(wording: &Wording<'_>, mark: &MarkRule) -> Vec<Sentence> {
    let rules = wording.rules;
    let holding = rules.vocabulary.holding(mark.item);
    let items = holding.map_or_else(|| "parts".to_owned(), |one| plain_name(&one.key.text));
    let lead = Phrase::of(format!("at an event, of the {items} of a boat "));
    let main = match (&mark.limits, mark_table(wording, mark)) {
        (MarkLimits::Direct(limit), _) => lead
            .words("at most ")
            .number(limit.at_most.to_string())
            .words(" may be marked"),
        (MarkLimits::ByLevel { rows, .. }, table) => {
            let labels = table.map(|table| table.rows).unwrap_or_default();
            let said = labels
                .into_iter()
                .zip(rows)
                .map(|((label, _), (_, limit))| {
                    Phrase::of(format!("{label} ")).number(limit.at_most.to_string())
                })
                .collect();
            lead.words("no more may be marked than the limit for the level of the event: ")
                .then(Phrase::joined(said, ", ", ", "))
        }
    };
    let mut all = vec![Sentence::new(Says::Demand, main)];
    let Some(holding) = holding else {
        return all;
    };
    let speaker = Speaker {
        many: true,
        ..Speaker::new(wording, holding.part)
    };
    for cap in &mark.of_which {
        let phrase = Phrase::of("of those marked, at most ")
            .number(cap.limit.at_most.to_string())
            .words(format!(" may be {items} "))
            .then(speaker.relative(&cap.condition.root));
        all.push(Sentence::new(Says::Demand, phrase));
    }
    all.extend(
        terms(&speaker, mark, &items)
            .into_iter()
            .map(|phrase| Sentence::new(Says::Evidence, phrase)),
    );
    all
}

/// What is asked beside numbers: pairs, what to bring, exchange, the last mark, replacement, where the mark goes.
fn terms(speaker: &Speaker<'_>, mark: &MarkRule, items: &str) -> Vec<Phrase> {
    let mut said = Vec::new();
    if let Some(pairs) = &mark.pairs {
        let names = pairs
            .alike
            .iter()
            .map(|(id, _)| Phrase::of(speaker.own_trait(*id)))
            .collect();
        said.push(
            Phrase::of(format!("{items} "))
                .then(speaker.relative(&pairs.condition.root))
                .words(" are marked in pairs of one ")
                .then(Phrase::listed(names, "and")),
        );
    }
    for bring in &mark.bring {
        said.push(
            Phrase::of("a boat brings at least ")
                .number(bring.at_least.to_string())
                .words(format!(" of its {}", speaker.holding(bring.holding))),
        );
    }
    let item = with_article(&speaker.item_name());
    let acts = [
        mark.exchange.map(Exchange::words),
        mark.after_last_mark.map(AfterLastMark::words),
        mark.replacement.map(Replacement::words),
    ];
    said.extend(
        acts.into_iter()
            .flatten()
            .map(|words| Phrase::of(format!("{item} that is marked {words}"))),
    );
    said.extend(
        mark.mark_on
            .as_ref()
            .map(|on| Phrase::of(format!("the mark is put on the {}", plain_name(&on.text)))),
    );
    said
}
