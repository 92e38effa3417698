//! An overlay from text to limits that are laid over those of its version: everything that is wrong with it, at
//! once.

use std::sync::Arc;

use super::load::{digest, format_line};
use super::load_derived::Derived;
use super::load_interpretations::is_event;
use super::load_limits::{RowReader, take_row};
use super::load_overlay_target::{Slot, Target, target};
use super::load_rounded::rounded;
use super::load_rule::Context;
use super::model::*;
use super::overlay::{Change, Overlay, Ruling, RulingUntil};
use super::schema_overlay;
use crate::diagnostic::{Diagnostic, Faults, Fields};
use crate::quantity::Exact;
use crate::text::{self, Entry, Node, Source, Span, quoted};
use crate::vocabulary::{Name, read};

/// The format line of this major version.
pub const OVERLAY_FORMAT: &str = "rimegauge-overlay/1";

/// The version of class rules that an overlay is for.
#[derive(Clone, Debug)]
pub struct OverlayFor {
    /// The class: `tarn-8`.
    pub class: String,
    /// The version.
    pub version: semver::Version,
    /// The text of the overlay.
    pub source: Arc<Source>,
    /// Where the overlay names class and version.
    pub span: Span,
}

/// Rules with an overlay on them.
#[derive(Clone, Debug)]
pub struct LaidOver {
    /// The rules as they are at the event.
    pub rules: RulesFile,
    /// What should be known of the overlay; nothing of it is wrong.
    pub notices: Vec<Diagnostic>,
}

/// Reads which version an overlay is for; `name` is what messages call it.
///
/// # Errors
/// The faults of its text, its format line, and of the line that names the version.
pub fn overlay_for(name: &str, bytes: &[u8]) -> Result<OverlayFor, Vec<Diagnostic>> {
    let source =
        text::decode(name, bytes).map_err(|problem| vec![Diagnostic::undecoded(problem, name)])?;
    let node = text::parse_yaml(&source)
        .map_err(|problems| Diagnostic::from_problems(problems, &source))?;
    let mut faults = Faults::new(&source);
    let found = mapping(&node, &mut faults).and_then(|mut fields| {
        format_line(&mut fields, OVERLAY_FORMAT, &mut faults)?;
        version(&mut fields, &mut faults)
    });
    faults.into_result(found.map(|(class, version, span)| OverlayFor {
        class,
        version,
        source: Arc::clone(&source),
        span,
    }))
}

/// Lays an overlay over the rules it is for.
///
/// # Errors
/// Every fault of the overlay: its text, its shape, another version, a limit that is not there or not open to
/// events.
pub fn lay_over(rules: &RulesFile, name: &str, bytes: &[u8]) -> Result<LaidOver, Vec<Diagnostic>> {
    let source =
        text::decode(name, bytes).map_err(|problem| vec![Diagnostic::undecoded(problem, name)])?;
    let node = text::parse_yaml(&source)
        .map_err(|problems| Diagnostic::from_problems(problems, &source))?;
    let mut faults = Faults::new(&source);
    let mut notices = Vec::new();
    let laid = overlay(rules, &source, &node, bytes, &mut faults, &mut notices);
    let typed = faults
        .into_result(laid)
        .map(|rules| LaidOver { rules, notices });
    let another = |found: &Diagnostic| found.code == "file.format";
    match (&typed, schema_overlay::schema_of_overlays()) {
        // The schema says what else is wrong with one that is refused; it accepts whatever is accepted here.
        (Err(found), Some(schema)) if !found.iter().any(another) => {
            schema.beside(&source, &node, typed)
        }
        (Err(_), _) | (Ok(_), _) => typed,
    }
}

fn mapping<'n, 's>(node: &'n Node<'s>, faults: &mut Faults) -> Option<Fields<'n, 's>> {
    if node.is_null() {
        faults.fault(
            "file.empty",
            node.span,
            "the file is empty",
            "",
            format!("an overlay begins with `format: {OVERLAY_FORMAT}`"),
        );
        return None;
    }
    Fields::of(node, "an overlay", None, faults)
}

fn version(
    fields: &mut Fields<'_, '_>,
    faults: &mut Faults,
) -> Option<(String, semver::Version, Span)> {
    let (text, node) = fields.require_text("rules", faults)?;
    let found = text
        .split_once('@')
        .and_then(|(class, version)| Some((class, semver::Version::parse(version).ok()?)));
    let Some((class, version)) = found else {
        faults.fault(
            "overlay.rules",
            node.span,
            format!(
                "{} is not one version of the rules of a class",
                quoted(text)
            ),
            "an overlay is for one version",
            "write class and version: tarn-8@3.1.0",
        );
        return None;
    };
    Some((class.to_owned(), version, node.span))
}

fn overlay(
    rules: &RulesFile,
    source: &Arc<Source>,
    node: &Node<'_>,
    bytes: &[u8],
    faults: &mut Faults,
    notices: &mut Vec<Diagnostic>,
) -> Option<RulesFile> {
    let mut fields = mapping(node, faults)?;
    format_line(&mut fields, OVERLAY_FORMAT, faults)?;
    let event = event(&mut fields, faults);
    let version = version(&mut fields, faults);
    let changes_entry = fields.take("changes", faults);
    let rulings_entry = fields.take("rulings", faults);
    fields.finish(faults);
    let (class, version, span) = version?;
    if class != rules.class.text || version != rules.version {
        faults.push(other_version(rules, source, span, &class, &version));
        // Nothing that is said of the limits of another version would help.
        return None;
    }
    let derived: Derived = rules
        .derived
        .iter()
        .map(|list| list.iter().cloned().map(Some).collect())
        .collect();
    let mut laying = Laying {
        rules,
        laid: rules.clone(),
        context: Context {
            vocabulary: &rules.vocabulary,
            derived: &derived,
            sound: true,
        },
        begins: rules.overlay_begins(),
        changed: Vec::new(),
        changes: Vec::new(),
    };
    for node in nodes(changes_entry, "changes", faults) {
        laying.change(node, faults, notices);
    }
    laying.order(faults);
    let rulings = rulings(rules, rulings_entry, faults);
    if laying.changes.is_empty() && rulings.is_empty() && faults.is_empty() {
        notices.push(
            Diagnostic::notice("overlay.nothing", "this overlay changes nothing")
                .label(source, span, "the rules stay as they are")
                .help("name limits under `changes`, or what the jury said under `rulings`"),
        );
    }
    let Laying {
        mut laid, changes, ..
    } = laying;
    laid.overlay = Some(Box::new(Overlay {
        source: Arc::clone(source),
        digest: digest(bytes),
        event: event?,
        changes,
        rulings,
    }));
    Some(laid)
}

/// What is said where an overlay is for other rules than those it is laid over.
fn other_version(
    rules: &RulesFile,
    source: &Arc<Source>,
    span: Span,
    class: &str,
    version: &semver::Version,
) -> Diagnostic {
    let is = format!("{}@{}", rules.class.text, rules.version);
    let message = format!("the overlay is for {class}@{version}; the check is under {is}");
    Diagnostic::fault("overlay.version", message)
        .label(source, span, "for this version")
        .label(&rules.source, rules.version_span, "that version")
        .help(format!(
            "check under --rules {class}@{version}, or write an overlay for {is}"
        ))
}

fn event(fields: &mut Fields<'_, '_>, faults: &mut Faults) -> Option<Name> {
    let (text, node) = fields.require_text("event", faults)?;
    if !is_event(text) {
        faults.fault(
            "name.form",
            node.span,
            format!("{} can't name an event", quoted(text)),
            "",
            "an event is written with small letters, digits and -: harrowmere-2026",
        );
        return None;
    }
    Some(Name {
        text: text.to_owned(),
        span: node.span,
    })
}

/// The entries of a list that may be absent.
fn nodes<'n, 's>(entry: Option<&'n Entry<'s>>, key: &str, faults: &mut Faults) -> &'n [Node<'s>] {
    let Some(entry) = entry else { return &[] };
    entry.node.as_sequence().unwrap_or_else(|| {
        faults.fault(
            "file.shape",
            entry.node.label_span(Some(entry.key_span)),
            format!(
                "{} is a list; here stands {}",
                quoted(key),
                entry.node.kind_in_words()
            ),
            "not a list",
            "begin each entry with a dash",
        );
        &[]
    })
}

struct Laying<'r> {
    rules: &'r RulesFile,
    laid: RulesFile,
    context: Context<'r>,
    /// The number from which on spans are those of the overlay.
    begins: u32,
    /// Limits that were changed, with the places of their changes.
    changed: Vec<(Slot, Span)>,
    changes: Vec<Change>,
}

impl Laying<'_> {
    fn change(&mut self, node: &Node<'_>, faults: &mut Faults, notices: &mut Vec<Diagnostic>) {
        let Some(mut fields) = Fields::of(node, "a change", None, faults) else {
            return;
        };
        let target = target(self.rules, &mut fields, faults);
        let document = fields.require_text("document", faults);
        let dated = fields
            .require("dated", faults)
            .and_then(|entry| read::day(&entry.node, Some(entry.key_span), "dated", faults));
        let entries = take_row(&mut fields, faults);
        let span = fields.span;
        let before = faults.len();
        fields.finish(faults);
        if entries.is_empty() {
            // A key that is not known may be the limit, misspelt.
            if faults.len() == before {
                faults.fault(
                    "overlay.no_limit",
                    span,
                    "this change has no limit",
                    "nothing is changed",
                    "write the limit at the event: `at_most: 8`",
                );
            }
            return;
        }
        let Some(target) = target else { return };
        for entry in entries {
            let Some((slot, was, now)) = self.limit(&target, entry, faults, notices) else {
                continue;
            };
            if let Some((_, first)) = self.changed.iter().find(|(other, _)| *other == slot) {
                let first = *first;
                faults.fault(
                    "overlay.twice",
                    entry.key_span,
                    format!(
                        "this limit of {} is changed twice",
                        quoted(&target.rule.text)
                    ),
                    "again here",
                    "keep the change that is meant",
                );
                faults.also(first, "first here");
                continue;
            }
            self.changed.push((slot, entry.key_span));
            if let (Some((document, _)), Some(dated)) = (document, dated) {
                self.changes.push(Change {
                    rule: target.rule.clone(),
                    row: target.row.clone(),
                    was,
                    now,
                    document: document.to_owned(),
                    dated,
                    span: entry.node.span,
                });
            }
        }
    }

    /// Puts one limit into its slot; gives the slot, and the limit before and now in words.
    fn limit(
        &mut self,
        target: &Target,
        entry: &Entry<'_>,
        faults: &mut Faults,
        notices: &mut Vec<Diagnostic>,
    ) -> Option<(Slot, String, String)> {
        let (slot, kind) = target.limit(self.rules, entry, faults)?;
        let at = moved(entry.node.span, self.begins);
        let in_words = |text: &str| format!("{} {text}", kind.words());
        let (was, now, same) = match slot {
            Slot::Bound { rule, .. } => {
                let of = self.rules.rule(rule)?;
                let was = slot.bound(&self.rules.rules)?;
                let reader = RowReader {
                    context: &self.context,
                    part: of.applies_to,
                    value: &of.value,
                    of_options: false,
                };
                let read = reader.limit(entry, faults)?;
                let by_rounding = match &was.rounded {
                    Some(old) => Some(Box::new(rounded(kind, &read, &old.to, entry, faults)?)),
                    None => None,
                };
                let begins = self.begins;
                let place = |span: Span| moved(span, begins);
                let limit = self
                    .context
                    .value_at(&entry.node, of.applies_to, &place)
                    .unwrap_or(read);
                let same = limit.text.trim() == was.limit.text.trim()
                    || constant(&limit.root)
                        .is_some_and(|now| constant(&was.limit.root) == Some(now));
                let words = (in_words(&was.limit.text), in_words(&limit.text));
                let on_event = limit.root.names_event();
                let bound = slot.bound_mut(&mut self.laid.rules)?;
                bound.limit = limit;
                bound.rounded = by_rounding;
                bound.span = at;
                if let Some(of) = self.laid.rules.get_mut(rule) {
                    of.names_event |= on_event;
                }
                (words.0, words.1, same)
            }
            Slot::Mark { .. } | Slot::Cap { .. } => {
                let number = read::count(&entry.node, Some(entry.key_span), "at_most", faults)?;
                let limit = slot.mark_mut(&mut self.laid.marks)?;
                let was = limit.at_most;
                limit.at_most = i64::from(number);
                limit.span = at;
                let words = (in_words(&was.to_string()), in_words(&number.to_string()));
                (words.0, words.1, was == i64::from(number))
            }
        };
        if same {
            notices.push(
                Diagnostic::notice(
                    "overlay.no_change",
                    format!(
                        "{} asks {was} without this change",
                        quoted(&target.rule.text)
                    ),
                )
                .label(faults.source(), entry.node.span, "the limit of the class")
                .help("take the change out, or mend the number"),
            );
        }
        Some((slot, was, now))
    }

    /// Limits that leave nothing between them after the changes.
    fn order(&self, faults: &mut Faults) {
        for (slot, span) in &self.changed {
            let Slot::Bound { .. } = slot else { continue };
            let Some(bounds) = slot.row(&self.laid.rules) else {
                continue;
            };
            let side = |lower: bool| {
                let found = bounds.iter().find(|bound| bound.kind.is_lower() == lower)?;
                constant(&found.limit.root)
            };
            if let (Some(low), Some(high)) = (side(true), side(false))
                && low > high
            {
                faults.fault(
                    "overlay.order",
                    *span,
                    "with this change nothing lies between the lower and the upper limit",
                    "",
                    "mend the number",
                );
            }
        }
    }
}

/// A limit that is written as a number.
fn constant(node: &crate::expression::Node) -> Option<&Exact> {
    match &node.op {
        crate::expression::Op::Quantity { value, .. } => Some(value),
        _ => None,
    }
}

/// A span of the overlay among those of the rules.
fn moved(span: Span, begins: u32) -> Span {
    Span {
        start: span.start.saturating_add(begins),
        end: span.end.saturating_add(begins),
    }
}

fn rulings(rules: &RulesFile, entry: Option<&Entry<'_>>, faults: &mut Faults) -> Vec<Ruling> {
    let mut found: Vec<Ruling> = Vec::new();
    for node in nodes(entry, "rulings", faults) {
        let Some(ruling) = ruling(rules, node, faults) else {
            continue;
        };
        if let Some(first) = found.iter().find(|other| other.id == ruling.id) {
            let first = first.id.span;
            faults.fault(
                "name.twice",
                ruling.id.span,
                format!("two rulings have the id {}", quoted(&ruling.id.text)),
                "again here",
                "give one of them another id",
            );
            faults.also(first, "first here");
        }
        found.push(ruling);
    }
    found
}

fn ruling(rules: &RulesFile, node: &Node<'_>, faults: &mut Faults) -> Option<Ruling> {
    let mut fields = Fields::of(node, "a ruling", None, faults)?;
    let id = fields.require_text("id", faults);
    let about = fields.require("about", faults).map(|entry| {
        let one = std::slice::from_ref(&entry.node);
        let list = entry.node.as_sequence().unwrap_or(one);
        let names = list
            .iter()
            .filter_map(|node| rule_named(rules, node, faults));
        names.collect::<Vec<Name>>()
    });
    let by = fields.require_text("by", faults);
    let until = fields
        .require_text("until", faults)
        .and_then(|(text, node)| {
            let day = crate::quantity::DateSpan::parse(text).ok();
            match (text, day.and_then(|day| day.as_day())) {
                ("end_of_event", _) => Some(RulingUntil::EndOfEvent),
                (_, Some(day)) => Some(RulingUntil::Day(day)),
                (_, None) => {
                    faults.fault(
                        "overlay.until",
                        node.span,
                        format!("{} does not say how long it counts", quoted(text)),
                        "",
                        "write `until: end_of_event`, or a day: 2026-12-06",
                    );
                    None
                }
            }
        });
    let text = fields.require_text("text", faults);
    fields.finish(faults);
    let (id, id_node) = id?;
    Some(Ruling {
        id: Name {
            text: id.to_owned(),
            span: id_node.span,
        },
        about: about?,
        by: by?.0.to_owned(),
        until: until?,
        text: text?.0.to_owned(),
    })
}

fn rule_named(rules: &RulesFile, node: &Node<'_>, faults: &mut Faults) -> Option<Name> {
    let text = read::scalar(node, None, "a rule", "the id of a rule", faults)?;
    let known = rules
        .rules
        .iter()
        .map(|rule| &rule.id)
        .chain(rules.marks.iter().map(|mark| &mark.id));
    read::one_of(
        text,
        node.span,
        "the id of a rule",
        known.map(|id| (id.text.as_str(), ())),
        faults,
    )?;
    Some(Name {
        text: text.to_owned(),
        span: node.span,
    })
}
