//! A rules file from text to the typed model: everything that is wrong with it, at once.

use std::collections::BTreeMap;
use std::sync::Arc;

use sha2::{Digest, Sha256};

use super::load_derived;
use super::load_rule;
use super::model::*;
use crate::diagnostic::{Diagnostic, Faults, Fields};
use crate::quantity::{Date, Dimension, Exact};
use crate::text::{self, Entry, Node, Source, Span, quoted};
use crate::uncertainty::DecisionRule;
use crate::vocabulary::{self, Name, Vocabulary, read};

/// The format line of this major version.
pub const FORMAT: &str = "rimegauge-rules/1";

/// `sha256:` and the digest of some bytes in hexadecimal.
pub fn digest(bytes: &[u8]) -> String {
    let hash = Sha256::digest(bytes);
    let mut text = String::with_capacity(71);
    text.push_str("sha256:");
    for byte in hash {
        text.push_str(&format!("{byte:02x}"));
    }
    text
}

/// Loads a rules file; `name` is what messages call it.
///
/// # Errors
/// Every fault of the text, the schema and the meaning, in the order of the file.
pub fn load(name: &str, bytes: &[u8]) -> Result<RulesFile, Vec<Diagnostic>> {
    let source =
        text::decode(name, bytes).map_err(|problem| vec![Diagnostic::undecoded(problem, name)])?;
    let node = text::parse_yaml(&source).map_err(|problems| {
        problems
            .into_iter()
            .map(|one| Diagnostic::from_problem(one, &source))
            .collect::<Vec<_>>()
    })?;
    load_tree(&source, &node, digest(bytes))
}

/// Loads a rules file from its tree; `digest` is that of its bytes.
///
/// # Errors
/// As [`load`].
pub fn load_tree(
    source: &Arc<Source>,
    node: &Node<'_>,
    digest: String,
) -> Result<RulesFile, Vec<Diagnostic>> {
    let mut faults = Faults::new(source);
    let file = rules_file(source, node, digest, &mut faults);
    faults.into_result(file)
}

struct Head {
    class: Name,
    title: String,
    version: semver::Version,
    version_span: Span,
    status: Status,
    replaces: Option<semver::Version>,
    in_force_from: Date,
    authority: String,
    silence: Silence,
    decision: DecisionPolicy,
}

fn rules_file(
    source: &Arc<Source>,
    node: &Node<'_>,
    digest: String,
    faults: &mut Faults,
) -> Option<RulesFile> {
    if node.is_null() {
        faults.fault(
            "file.empty",
            node.span,
            "the file is empty",
            "",
            format!("a rules file begins with `format: {FORMAT}`"),
        );
        return None;
    }
    let mut fields = Fields::of(node, "a rules file", None, faults)?;
    format_line(&mut fields, FORMAT, faults);
    let head = head(&mut fields, faults);
    let events_may_change = fields.take("events_may_change", faults);
    let cautions = fields
        .take("cautions", faults)
        .map(|entry| cautions(entry, faults))
        .unwrap_or_default();
    if let Some(entry) = fields.take("renamed", faults) {
        renamed(entry, faults);
    }
    let event = fields.take("event", faults);
    let equipment = fields.require("equipment", faults);
    let rules = fields.require("rules", faults);
    let marks = fields.take("marks", faults);
    let interpretations = fields.take("interpretations", faults);
    fields.finish(faults);

    let vocabulary = vocabulary::load(equipment?, event, faults);
    if vocabulary.parts.is_empty() {
        return None;
    }
    reserved_names(&vocabulary, faults);
    let derived = load_derived::load(&vocabulary, equipment?, faults);
    let context = load_rule::Context {
        vocabulary: &vocabulary,
        derived: &derived,
    };
    let rules = rules
        .map(|entry| load_rule::rules(entry, &context, faults))
        .unwrap_or_default();
    let marks = marks
        .map(|entry| load_rule::marks(entry, &context, faults))
        .unwrap_or_default();
    ids_used_once(&rules, &marks, faults);
    let known: Vec<&str> = rules
        .iter()
        .map(|rule| rule.id.text.as_str())
        .chain(marks.iter().map(|mark| mark.id.text.as_str()))
        .collect();
    let events_may_change = events_may_change
        .map(|entry| rule_names(entry, &known, faults))
        .unwrap_or_default();
    let interpretations = interpretations
        .map(|entry| interpretations_of(entry, &known, faults))
        .unwrap_or_default();
    let head = head?;
    let derived = load_derived::complete(derived)?;
    Some(RulesFile {
        source: Arc::clone(source),
        digest,
        class: head.class,
        title: head.title,
        version: head.version,
        version_span: head.version_span,
        status: head.status,
        replaces: head.replaces,
        in_force_from: head.in_force_from,
        authority: head.authority,
        silence: head.silence,
        decision: head.decision,
        vocabulary,
        derived,
        rules,
        marks,
        interpretations,
        cautions,
        events_may_change,
    })
}

/// Reads the `format` line of a file.
pub fn format_line(fields: &mut Fields<'_, '_>, format: &str, faults: &mut Faults) {
    let Some((text, node)) = fields.require_text("format", faults) else {
        return;
    };
    if text != format {
        faults.fault(
            "file.format",
            node.span,
            format!(
                "this program reads {}; the file says {}",
                quoted(format),
                quoted(text)
            ),
            "another format",
            format!("write `format: {format}`"),
        );
    }
}

fn head(fields: &mut Fields<'_, '_>, faults: &mut Faults) -> Option<Head> {
    let class = fields
        .require_text("class", faults)
        .and_then(|(text, node)| {
            let good = !text.is_empty()
                && text.len() <= 64
                && text
                    .bytes()
                    .all(|byte| byte.is_ascii_lowercase() || byte.is_ascii_digit() || byte == b'-');
            if !good {
                faults.fault(
                    "name.form",
                    node.span,
                    format!("{} can't name a class", quoted(text)),
                    "",
                    "a class is written with small letters, digits and -",
                );
            }
            good.then(|| Name {
                text: text.to_owned(),
                span: node.span,
            })
        });
    let title = fields.require_text("title", faults);
    let version = fields
        .require_text("version", faults)
        .and_then(|(text, node)| {
            read_version(text, node.span, faults).map(|found| (found, node.span))
        });
    let status = fields
        .require_text("status", faults)
        .and_then(|(text, node)| {
            let words = [
                ("draft", Status::Draft),
                ("proposed", Status::Proposed),
                ("adopted", Status::Adopted),
                ("repealed", Status::Repealed),
            ];
            read::one_of(
                text,
                node.span,
                "a status of rules",
                words.into_iter(),
                faults,
            )
        });
    let replaces = fields
        .take_text("replaces", faults)
        .and_then(|(text, node)| read_version(text, node.span, faults));
    let in_force_from = fields
        .require("in_force_from", faults)
        .and_then(|entry| read::day(&entry.node, Some(entry.key_span), "in_force_from", faults));
    let authority = fields.require_text("authority", faults);
    let silence = fields
        .require_text("silence", faults)
        .and_then(|(text, node)| {
            read::one_of(
                text,
                node.span,
                "what silence can mean",
                [("forbids", Silence::Forbids), ("permits", Silence::Permits)].into_iter(),
                faults,
            )
        });
    let decision = fields
        .require("decision", faults)
        .and_then(|entry| decision(entry, faults));
    let (version, version_span) = version?;
    if let Some(replaces) = &replaces
        && *replaces >= version
    {
        faults.fault(
            "rules.replaces",
            version_span,
            format!("version {version} does not come after {replaces}, which it replaces"),
            "",
            "",
        );
    }
    Some(Head {
        class: class?,
        title: title?.0.to_owned(),
        version,
        version_span,
        status: status?,
        replaces,
        in_force_from: in_force_from?,
        authority: authority?.0.to_owned(),
        silence: silence?,
        decision: decision?,
    })
}

fn read_version(text: &str, span: Span, faults: &mut Faults) -> Option<semver::Version> {
    match semver::Version::parse(text) {
        Ok(version) => Some(version),
        Err(_) => {
            let parts: Vec<&str> = text.split('.').collect();
            let numeric = parts
                .iter()
                .all(|part| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit()));
            let help = match (numeric, parts.as_slice()) {
                (true, [major, minor]) => format!("write {major}.{minor}.0"),
                (true, [major]) => format!("write {major}.0.0"),
                _ => "a version is three numbers: 3.1.0".to_owned(),
            };
            faults.fault(
                "rules.version",
                span,
                format!("{} is not a version", quoted(text)),
                "three numbers are needed",
                help,
            );
            None
        }
    }
}

fn decision(entry: &Entry<'_>, faults: &mut Faults) -> Option<DecisionPolicy> {
    let mut fields = Fields::of(&entry.node, "decision", Some(entry.key_span), faults)?;
    let coverage = fields
        .require("coverage_probability", faults)
        .and_then(|entry| {
            let quantity = read::quantity(
                &entry.node,
                Some(entry.key_span),
                "coverage_probability",
                Dimension::RATIO,
                faults,
            )?;
            let good = quantity.value >= Exact::from_fraction(1, 2)?
                && quantity.value <= Exact::from_fraction(9999, 10_000)?;
            if !good {
                faults.fault(
                    "decision.coverage",
                    entry.node.span,
                    format!(
                        "a coverage probability lies from 50 % to 99.99 %; {} was read",
                        quoted(entry.node.as_text().unwrap_or(""))
                    ),
                    "",
                    "95 % is usual",
                );
            }
            good.then_some(quantity.value)
        });
    let guard = match fields.take("guard_factor", faults) {
        None => Some(Exact::ONE),
        Some(entry) => read::quantity(
            &entry.node,
            Some(entry.key_span),
            "guard_factor",
            Dimension::RATIO,
            faults,
        )
        .and_then(|quantity| {
            let good = quantity.value >= Exact::ZERO && quantity.value <= Exact::from_integer(10);
            if !good {
                faults.fault(
                    "decision.guard",
                    entry.node.span,
                    "a guard factor lies from 0 to 10",
                    "",
                    "1 guards by the whole expanded uncertainty",
                );
            }
            good.then_some(quantity.value)
        }),
    };
    let mut rule = |key: &'static str, faults: &mut Faults| {
        let (text, node) = fields.require_text(key, faults)?;
        let words = [
            ("simple_acceptance", DecisionRule::SimpleAcceptance),
            ("guarded_acceptance", DecisionRule::GuardedAcceptance),
            ("guarded_rejection", DecisionRule::GuardedRejection),
        ];
        read::one_of(
            text,
            node.span,
            "a decision rule",
            words.into_iter(),
            faults,
        )
    };
    let self_check = rule("self_check", faults);
    let certification = rule("certification", faults);
    let event_inspection = rule("event_inspection", faults);
    fields.finish(faults);
    Some(DecisionPolicy {
        coverage_probability: coverage?,
        guard_factor: guard?,
        rules: ByStage {
            self_check: self_check?,
            certification: certification?,
            event_inspection: event_inspection?,
        },
    })
}

fn cautions(entry: &Entry<'_>, faults: &mut Faults) -> Vec<Caution> {
    items(entry, faults)
        .iter()
        .filter_map(|node| {
            let text = read::scalar(node, None, "a caution", "a name", faults)?;
            read::one_of(
                text,
                node.span,
                "a caution",
                Caution::WORDS.into_iter(),
                faults,
            )
        })
        .collect()
}

fn items<'n, 's>(entry: &'n Entry<'s>, faults: &mut Faults) -> &'n [Node<'s>] {
    match entry.node.as_sequence() {
        Some(items) => items,
        None => {
            faults.fault(
                "file.shape",
                entry.node.label_span(Some(entry.key_span)),
                format!(
                    "{} is a list; here stands {}",
                    quoted(&entry.key),
                    entry.node.kind_in_words()
                ),
                "not a list",
                "",
            );
            &[]
        }
    }
}

/// Old names stand in the file for records of older versions; the names are read, and only their form
/// is checked here.
fn renamed(entry: &Entry<'_>, faults: &mut Faults) {
    let Some(entries) = entry.node.as_mapping() else {
        faults.fault(
            "file.shape",
            entry.key_span,
            "renamed is written as old path with its new name",
            "not a mapping",
            "renamed: { runner.t_height: stem_height }",
        );
        return;
    };
    for entry in entries {
        let new = read::scalar(
            &entry.node,
            Some(entry.key_span),
            "a new name",
            "a name",
            faults,
        );
        if let Some(new) = new
            && !read::is_name(new)
        {
            faults.fault(
                "name.form",
                entry.node.span,
                format!("{} can't be a new name", quoted(new)),
                "",
                "",
            );
        }
    }
}

fn rule_names(entry: &Entry<'_>, known: &[&str], faults: &mut Faults) -> Vec<Name> {
    items(entry, faults)
        .iter()
        .filter_map(|node| {
            let text = read::scalar(node, None, "a rule", "the id of a rule", faults)?;
            read::one_of(
                text,
                node.span,
                "the id of a rule",
                known.iter().map(|id| (*id, ())),
                faults,
            )?;
            Some(Name {
                text: text.to_owned(),
                span: node.span,
            })
        })
        .collect()
}

fn interpretations_of(
    entry: &Entry<'_>,
    known: &[&str],
    faults: &mut Faults,
) -> Vec<Interpretation> {
    let mut found: Vec<Interpretation> = Vec::new();
    for node in items(entry, faults) {
        let Some(mut fields) = Fields::of(node, "an interpretation", None, faults) else {
            continue;
        };
        let id = fields.require_text("id", faults);
        let about = fields
            .require("about", faults)
            .map(|entry| rule_names(entry, known, faults));
        let issued = fields
            .require("issued", faults)
            .and_then(|entry| read::day(&entry.node, Some(entry.key_span), "issued", faults));
        let scope = fields.require_text("scope", faults);
        if let Some((scope, node)) = scope {
            read::one_of(
                scope,
                node.span,
                "a scope",
                std::iter::once(("permanent", ())),
                faults,
            );
        }
        let status = fields
            .require_text("status", faults)
            .and_then(|(text, node)| {
                let words = [
                    ("in_force", InterpretationStatus::InForce),
                    ("absorbed", InterpretationStatus::Absorbed),
                    ("withdrawn", InterpretationStatus::Withdrawn),
                    ("expired", InterpretationStatus::Expired),
                ];
                read::one_of(
                    text,
                    node.span,
                    "a status of an interpretation",
                    words.into_iter(),
                    faults,
                )
            });
        if let Some((effect, node)) = fields.take_text("effect", faults) {
            read::one_of(
                effect,
                node.span,
                "an effect",
                std::iter::once(("none", ())),
                faults,
            );
        }
        let text = fields.require_text("text", faults);
        fields.finish(faults);
        if let (Some((id, node)), Some(about), Some(issued), Some(status), Some((text, _))) =
            (id, about, issued, status, text)
        {
            if let Some(first) = found.iter().find(|other| other.id.text == id) {
                let first = first.id.span;
                faults.fault(
                    "name.twice",
                    node.span,
                    format!("two interpretations have the id {}", quoted(id)),
                    "again here",
                    "",
                );
                faults.also(first, "first here");
            }
            found.push(Interpretation {
                id: Name {
                    text: id.to_owned(),
                    span: node.span,
                },
                about,
                issued,
                status,
                text: text.to_owned(),
            });
        }
    }
    found
}

fn ids_used_once(rules: &[Rule], marks: &[MarkRule], faults: &mut Faults) {
    let mut seen: BTreeMap<&str, Span> = BTreeMap::new();
    for id in rules
        .iter()
        .map(|rule| &rule.id)
        .chain(marks.iter().map(|mark| &mark.id))
    {
        if matches!(id.text.as_str(), "equipment" | "silence") {
            faults.fault(
                "name.reserved",
                id.span,
                format!("{} is kept for findings of the program", quoted(&id.text)),
                "",
                "give the rule another id",
            );
        }
        if let Some(first) = seen.get(id.text.as_str()) {
            faults.fault(
                "name.twice",
                id.span,
                format!("two rules have the id {}", quoted(&id.text)),
                "again here",
                "a rule's id is its own, and stays for ever",
            );
            faults.also(*first, "first here");
        } else {
            seen.insert(&id.text, id.span);
        }
    }
}

/// Words of the expression language can't name what expressions speak of.
fn reserved_names(vocabulary: &Vocabulary, faults: &mut Faults) {
    let names = vocabulary
        .parts
        .iter()
        .flat_map(|part| {
            part.traits
                .iter()
                .flat_map(|one| {
                    let choices = match &one.kind {
                        vocabulary::TraitKind::Choice(choices) => choices.as_slice(),
                        vocabulary::TraitKind::Date | vocabulary::TraitKind::Flag => &[],
                    };
                    std::iter::once(&one.name).chain(choices)
                })
                .chain(part.measures.iter().map(|one| &one.name))
                .chain(part.derived.iter().map(|one| &one.name))
        })
        .chain(vocabulary.holdings.iter().map(|holding| &holding.key))
        .chain(&vocabulary.event_levels);
    for name in names {
        if crate::expression::is_reserved(&name.text) {
            faults.fault(
                "name.reserved",
                name.span,
                format!("{} is a word of the rules language", quoted(&name.text)),
                "can't be a name",
                "choose another name",
            );
        }
    }
}
