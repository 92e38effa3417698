//! The `interpretations` part of a rules file.

use super::interpretation::{Effect, Interpretation, InterpretationStatus, Scope};
use super::load::{items, rule_names};
use super::load_head::read_version;
use crate::diagnostic::{Faults, Fields};
use crate::quantity::Date;
use crate::text::{Entry, Node, Span, quoted};
use crate::vocabulary::{Name, read};

/// The list under `interpretations`.
pub(super) fn interpretations(
    entry: &Entry<'_>,
    known: &[&str],
    faults: &mut Faults,
) -> Vec<Interpretation> {
    let mut found: Vec<Interpretation> = Vec::new();
    for node in items(entry, faults) {
        let Some(one) = interpretation(node, known, faults) else {
            continue;
        };
        if let Some(first) = found.iter().find(|other| other.id == one.id) {
            let first = first.id.span;
            faults.fault(
                "name.twice",
                one.id.span,
                format!("two interpretations have the id {}", quoted(&one.id.text)),
                "again here",
                "give one of them another id",
            );
            faults.also(first, "first here");
        }
        found.push(one);
    }
    found
}

fn interpretation(node: &Node<'_>, known: &[&str], faults: &mut Faults) -> Option<Interpretation> {
    let mut fields = Fields::of(node, "an interpretation", None, faults)?;
    let span = fields.span;
    let day = |entry: &Entry<'_>, what: &str, faults: &mut Faults| {
        read::day(&entry.node, Some(entry.key_span), what, faults)
    };
    let id = fields.require_text("id", faults);
    let about = fields
        .require("about", faults)
        .map(|entry| rule_names(entry, known, faults));
    let issued = fields
        .require("issued", faults)
        .and_then(|entry| day(entry, "issued", faults));
    let scope = fields
        .require_text("scope", faults)
        .and_then(|(text, node)| scope(text, node.span, faults));
    let status = fields
        .require_text("status", faults)
        .and_then(|(text, node)| {
            let words = [
                ("in_force", Word::InForce),
                ("absorbed", Word::Absorbed),
                ("withdrawn", Word::Withdrawn),
                ("expired", Word::Expired),
            ];
            let word = read::one_of(
                text,
                node.span,
                "a status of an interpretation",
                words.into_iter(),
                faults,
            )?;
            Some((word, node.span))
        });
    let until_entry = fields.take("until", faults);
    let until = until_entry.and_then(|entry| day(entry, "until", faults));
    let life = Life {
        clause: fields.take("clause", faults),
        version: fields.take("version", faults),
        ended: fields.take("ended", faults),
    };
    let effect = fields.take_text("effect", faults);
    let effect = match effect {
        None => Some((Effect::None, None)),
        Some((text, node)) => read::one_of(
            text,
            node.span,
            "an effect",
            Effect::WORDS.into_iter(),
            faults,
        )
        .map(|effect| (effect, Some(node.span))),
    };
    let changed_entry = fields.take("changed", faults);
    let changed = changed_entry
        .map(|entry| rule_names(entry, known, faults))
        .unwrap_or_default();
    let text = fields.require_text("text", faults);
    fields.finish(faults);

    if let (Some(entry), Some((Effect::None, said))) = (changed_entry, effect) {
        faults.fault(
            "interpretation.effect",
            entry.key_span,
            "an interpretation without an effect changes no rule",
            "names rules that it changed",
            "write `effect: relaxed`, `tightened` or `both`, or take `changed` out",
        );
        if let Some(said) = said {
            faults.also(said, "no effect");
        }
    }
    if let (Some(issued), Some(until), Some(entry)) = (issued, until, until_entry)
        && until < issued
    {
        faults.fault(
            "interpretation.day_order",
            entry.node.span,
            format!("it counts until {until} and was issued on {issued}"),
            "before it was issued",
            "mend one of the two days",
        );
    }
    let status =
        status.and_then(|(word, said)| life.status(word, said, span, (issued, until), faults));
    let (id, id_node) = id?;
    Some(Interpretation {
        id: Name {
            text: id.to_owned(),
            span: id_node.span,
        },
        about: about?,
        issued: issued?,
        scope: scope?,
        until,
        status: status?,
        effect: effect?.0,
        changed,
        text: text?.0.to_owned(),
    })
}

/// `permanent`, or the name of an event.
fn scope(text: &str, span: Span, faults: &mut Faults) -> Option<Scope> {
    if text == "permanent" {
        return Some(Scope::Permanent);
    }
    // The word for the kind of thing is no name of one.
    if text == "event" || !is_event(text) {
        faults.fault(
            "interpretation.scope",
            span,
            format!("{} is not a scope", quoted(text)),
            "",
            "write `permanent`, or the name of an event: harrowmere-2026",
        );
        return None;
    }
    Some(Scope::Event(Name {
        text: text.to_owned(),
        span,
    }))
}

/// Whether a text can name an event: small letters, digits and `-`.
pub(super) fn is_event(text: &str) -> bool {
    let letter = |byte: u8| byte.is_ascii_lowercase() || byte.is_ascii_digit() || byte == b'-';
    !text.is_empty() && text.len() <= 64 && text.bytes().all(letter)
}

/// A status by its word alone.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Word {
    InForce,
    Absorbed,
    Withdrawn,
    Expired,
}

impl Word {
    fn word(self) -> &'static str {
        match self {
            Word::InForce => "in_force",
            Word::Absorbed => "absorbed",
            Word::Withdrawn => "withdrawn",
            Word::Expired => "expired",
        }
    }
}

/// What is said of the end of an interpretation.
struct Life<'n, 's> {
    clause: Option<&'n Entry<'s>>,
    version: Option<&'n Entry<'s>>,
    ended: Option<&'n Entry<'s>>,
}

impl Life<'_, '_> {
    fn status(
        &self,
        word: Word,
        said: Span,
        span: Span,
        (issued, until): (Option<Date>, Option<Date>),
        faults: &mut Faults,
    ) -> Option<InterpretationStatus> {
        let fitting = match word {
            Word::InForce => [false, false],
            Word::Absorbed => [true, false],
            Word::Withdrawn | Word::Expired => [false, true],
        };
        let keys = [
            (self.clause, fitting[0]),
            (self.version, fitting[0]),
            (self.ended, fitting[1]),
        ];
        for (entry, fits) in keys {
            if let Some(entry) = entry
                && !fits
            {
                faults.fault(
                    "interpretation.life",
                    entry.key_span,
                    format!(
                        "{} says nothing of an interpretation that is {}",
                        quoted(&entry.key),
                        word.word()
                    ),
                    "does not fit the status",
                    "`clause` and `version` go with `status: absorbed`, `ended` with `withdrawn` and `expired`",
                );
                faults.also(said, "the status");
            }
        }
        let missing = |what: &str, help: &str, faults: &mut Faults| {
            faults.fault(
                "interpretation.life",
                said,
                format!("an interpretation that is {} needs `{what}`", word.word()),
                format!("and no `{what}` beside it"),
                help,
            );
            let _ = span;
        };
        let ended = |faults: &mut Faults| {
            let entry = self.ended?;
            let day = read::day(&entry.node, Some(entry.key_span), "ended", faults)?;
            if issued.is_some_and(|issued| day < issued) {
                faults.fault(
                    "interpretation.day_order",
                    entry.node.span,
                    format!("it ended on {day}, before it was issued"),
                    "",
                    "mend one of the two days",
                );
            }
            Some(day)
        };
        match word {
            Word::InForce => Some(InterpretationStatus::InForce),
            Word::Absorbed => {
                if self.clause.is_none() {
                    missing(
                        "clause",
                        "name the clause that says it now: `clause: D.3.2`",
                        faults,
                    );
                }
                if self.version.is_none() {
                    missing(
                        "version",
                        "name the version that says it first: `version: 3.1.0`",
                        faults,
                    );
                }
                let clause = crate::diagnostic::text_of(self.clause?, faults);
                let version = self.version?;
                let version = crate::diagnostic::text_of(version, faults)
                    .and_then(|text| read_version(text, version.node.span, faults));
                Some(InterpretationStatus::Absorbed {
                    clause: clause?.to_owned(),
                    version: version?,
                })
            }
            Word::Withdrawn => {
                if self.ended.is_none() {
                    missing(
                        "ended",
                        "say from which day on it no longer counts: `ended: 2027-01-01`",
                        faults,
                    );
                }
                ended(faults).map(|ended| InterpretationStatus::Withdrawn { ended })
            }
            Word::Expired => {
                let last = match self.ended {
                    Some(_) => ended(faults),
                    None => until,
                };
                if self.ended.is_none() && until.is_none() {
                    missing(
                        "ended",
                        "say the last day on which it counted: `ended: 2026-12-31`",
                        faults,
                    );
                }
                last.map(|ended| InterpretationStatus::Expired { ended })
            }
        }
    }
}
