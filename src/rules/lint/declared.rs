//! What a version declares of its changed words, beside the version that it replaces.

use semver::Version;

use crate::diagnostic::{Diagnostic, near_misses};
use crate::rules::{ChangedWords, RulesFile, WordsOf, changed_words};
use crate::text::{Span, quoted};

/// Names that are declared and did not change, or mean nothing; words that changed and are not declared.
pub(super) fn declared(rules: &RulesFile, before: &RulesFile, found: &mut Vec<Diagnostic>) {
    let changed = changed_words(before, rules);
    for name in rules.words.iter().flat_map(|one| &one.about) {
        if changed.iter().any(|one| one.about == name.text) {
            continue;
        }
        let is_known = names(rules)
            .chain(names(before))
            .any(|one| one == name.text);
        let diagnostic = if is_known {
            let message = format!(
                "the words of {} are as they were in {}",
                quoted(&name.text),
                before.version
            );
            Diagnostic::fault("lint.words_unchanged", message)
                .label(&rules.source, name.span, "did not change")
                .help("take it out of `about`: only words that changed are declared")
        } else {
            unknown(
                rules,
                &name.text,
                name.span,
                names(rules).chain(names(before)),
            )
        };
        found.push(diagnostic);
    }
    let silent: Vec<&ChangedWords> = changed
        .iter()
        .filter(|one| one.own.is_none() && rules.declared_of(&one.about).is_none())
        .collect();
    if silent.is_empty() {
        return;
    }
    let names: Vec<&str> = silent.iter().map(|one| one.about.as_str()).collect();
    let message = format!(
        "words differ from {}, and nobody says what that does: {}",
        before.version,
        names.join(", ")
    );
    let mut diagnostic = Diagnostic::notice("lint.words_undeclared", message).help(format!(
        "`words: [{{ about: [{}], effect: none, by: …, because: … }}]`, or another effect; without it a comparison can't tell what changes",
        names.join(", ")
    ));
    for one in silent {
        let (span, said) = place(rules, one);
        diagnostic = diagnostic.label(&rules.source, span, said);
    }
    found.push(diagnostic);
}

/// Where the version that is replaced is not here, a name that this version does not have can't be looked up.
pub(super) fn not_looked_up(rules: &RulesFile, replaced: &Version, found: &mut Vec<Diagnostic>) {
    for name in rules.words.iter().flat_map(|one| &one.about) {
        if names(rules).any(|one| one == name.text) {
            continue;
        }
        let message = format!(
            "{} is neither a rule nor an interpretation of this version, and {replaced} is not beside it",
            quoted(&name.text)
        );
        let diagnostic = Diagnostic::notice("lint.words_unknown", message)
            .label(&rules.source, name.span, "not looked up")
            .help("put the version that is replaced beside this one, and lint again");
        found.push(diagnostic);
    }
}

fn unknown(
    rules: &RulesFile,
    name: &str,
    span: Span,
    names: impl Iterator<Item = String>,
) -> Diagnostic {
    let names: Vec<String> = names.collect();
    let help = match near_misses(name, names.iter().map(String::as_str)) {
        Some(near) => format!("did you mean {}?", quoted(near)),
        None => "name rules and interpretations by their ids, questions as runner.nose_rounded"
            .to_owned(),
    };
    let message = format!(
        "{} is no rule, no interpretation and no question of either version",
        quoted(name)
    );
    Diagnostic::fault("lint.words_unknown", message)
        .label(&rules.source, span, "not known")
        .help(help)
}

/// What words can be declared of.
fn names(rules: &RulesFile) -> impl Iterator<Item = String> {
    let of_rules = rules.rules.iter().map(|one| one.id.text.clone());
    let of_marks = rules.marks.iter().map(|one| one.id.text.clone());
    let of_interpretations = rules.interpretations.iter().map(|one| one.id.text.clone());
    let questions = rules.vocabulary.parts.iter().flat_map(|part| {
        let asked = part.measures.iter().filter(|one| one.ask.is_some());
        asked.map(|one| format!("{}.{}", part.name.text, one.name.text))
    });
    of_rules
        .chain(of_marks)
        .chain(of_interpretations)
        .chain(questions)
}

/// Where the words stand in the new version, else the version itself.
fn place(rules: &RulesFile, one: &ChangedWords) -> (Span, &'static str) {
    let found = match one.of {
        WordsOf::Text => {
            let rule = rules.rules.iter().find(|rule| rule.id.text == one.about);
            let mark = rules.marks.iter().find(|mark| mark.id.text == one.about);
            let mark = mark.map(|mark| mark.text_span);
            rule.map(|rule| rule.text_span).or(mark)
        }
        WordsOf::Question => rules.vocabulary.parts.iter().find_map(|part| {
            let name = one.about.strip_prefix(&part.name.text)?.strip_prefix('.')?;
            let measure = part.measures.iter().find(|one| one.name.text == name)?;
            Some(measure.name.span)
        }),
        WordsOf::Interpretation => {
            let mut all = rules.interpretations.iter();
            all.find(|found| found.id.text == one.about)
                .map(|found| found.id.span)
        }
    };
    match (found, &one.was) {
        (Some(span), _) if one.is.is_none() => (span, "counts no longer"),
        (Some(span), Some(_)) => (span, "other words than before"),
        (Some(span), None) => (span, "new words"),
        (None, _) => (rules.version_span, "gone in this version"),
    }
}
