//! The `words` part of a rules file: what changed words do, as a person declares it.

use super::changed_words::DeclaredWords;
use super::interpretation::Effect;
use super::load::items;
use crate::diagnostic::{Faults, Fields};
use crate::text::{Entry, Node, Span, quoted};
use crate::vocabulary::{Name, PartId, Vocabulary, read};

/// The list under `words`. Names of rules and interpretations that are gone belong here too, so that only beside the
/// version that is replaced it can be said which names mean nothing.
pub(super) fn words(
    entry: &Entry<'_>,
    vocabulary: &Vocabulary,
    faults: &mut Faults,
) -> Vec<DeclaredWords> {
    let mut found: Vec<DeclaredWords> = Vec::new();
    for node in items(entry, faults) {
        let Some(one) = declared(node, vocabulary, faults) else {
            continue;
        };
        for (at, name) in one.about.iter().enumerate() {
            let earlier = found.iter().flat_map(|other| &other.about);
            let mut all = earlier.chain(one.about.iter().take(at));
            if let Some(first) = all.find(|other| other.text == name.text) {
                faults.fault(
                    "name.twice",
                    name.span,
                    format!(
                        "what the words of {} do is declared twice",
                        quoted(&name.text)
                    ),
                    "again here",
                    "declare it once, with the effect of everything that changed in them",
                );
                faults.also(first.span, "first here");
            }
        }
        found.push(one);
    }
    found
}

fn declared(
    node: &Node<'_>,
    vocabulary: &Vocabulary,
    faults: &mut Faults,
) -> Option<DeclaredWords> {
    let mut fields = Fields::of(node, "an entry of `words`", None, faults)?;
    let about = fields
        .require("about", faults)
        .map(|entry| about(entry, vocabulary, faults));
    let effect = fields
        .require_text("effect", faults)
        .and_then(|(text, node)| {
            read::one_of(
                text,
                node.span,
                "an effect",
                Effect::WORDS.into_iter(),
                faults,
            )
        });
    let by = said(
        &mut fields,
        "by",
        "write who says so: `by: Technical Committee`",
        faults,
    );
    let because = said(
        &mut fields,
        "because",
        "say why in a sentence: `because: the text says what the limit says`",
        faults,
    );
    fields.finish(faults);
    Some(DeclaredWords {
        about: about?,
        effect: effect?,
        by: by?,
        because: because?,
    })
}

/// A text that says something.
fn said(
    fields: &mut Fields<'_, '_>,
    key: &'static str,
    help: &str,
    faults: &mut Faults,
) -> Option<String> {
    let (text, node) = fields.require_text(key, faults)?;
    if text.trim().is_empty() {
        faults.fault(
            "words.empty",
            node.span,
            format!("{} says nothing", quoted(key)),
            "",
            help,
        );
        return None;
    }
    Some(text.to_owned())
}

fn about(entry: &Entry<'_>, vocabulary: &Vocabulary, faults: &mut Faults) -> Vec<Name> {
    let nodes = items(entry, faults);
    if entry.node.as_sequence().is_some_and(<[_]>::is_empty) {
        faults.fault(
            "words.about",
            entry.node.span,
            "`about` names nothing",
            "",
            "name rules and interpretations by their ids, questions as runner.nose_rounded",
        );
    }
    let name = |node: &Node<'_>, faults: &mut Faults| {
        let text = read::scalar(node, None, "what changed", "a name", faults)?;
        if let Some((part, measure)) = text.split_once('.')
            && let Some(part) = vocabulary.part_named(part)
        {
            question(part, measure, node.span, vocabulary, faults)?;
        }
        Some(Name {
            text: text.to_owned(),
            span: node.span,
        })
    };
    nodes.iter().filter_map(|node| name(node, faults)).collect()
}

/// A question has to be one of this version: what is asked no longer needs no words.
fn question(
    part: PartId,
    measure: &str,
    span: Span,
    vocabulary: &Vocabulary,
    faults: &mut Faults,
) -> Option<()> {
    let measures = &vocabulary.part(part)?.measures;
    let asked = measures.iter().filter(|one| one.ask.is_some());
    let names = asked.map(|one| (one.name.text.as_str(), ()));
    read::one_of(
        measure,
        span,
        "a question, answered with yes or no",
        names,
        faults,
    )
}
