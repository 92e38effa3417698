//! A finding in words, part by part: the one thing that every printer and paper is fed from.

use std::fmt;
use std::sync::Arc;

use crate::check::{Finding, ItemRef, Outcome, Reason, RuleRef, Settle};
use crate::diagnostic::safe_line;
use crate::quantity::Number;
use crate::rules::{BoundKind, MarkRule};
use crate::text::{LineColumn, Source, Span};
use crate::uncertainty::Budget;
use crate::vocabulary::{PartId, TraitId, Vocabulary};

use super::checked::Checked;
use super::labels::Labels;
use super::parts::{Figure, Figures, Fractions};
use super::standing::{Said, said_about};
use super::words;

/// A place in a file. Line and column are counted when they are asked for: a line of a fleet is long.
#[derive(Clone, Debug)]
pub struct At {
    /// The file.
    pub source: Arc<Source>,
    /// What stands there.
    pub span: Span,
    /// Whether the text around is known to be ASCII, so that a column is a number of bytes.
    ascii: bool,
}

impl At {
    /// The place of a span; `ascii` when the text around it is known to be ASCII.
    pub fn new(source: &Arc<Source>, span: Span, ascii: bool) -> At {
        At {
            source: Arc::clone(source),
            span,
            ascii,
        }
    }

    /// The file as it was named.
    pub fn file(&self) -> &str {
        self.source.name()
    }

    /// Line and column, both from 1; columns in characters.
    pub fn line_column(&self) -> LineColumn {
        if !self.ascii {
            return self.source.line_column(self.span.start);
        }
        let index = self.source.line_index(self.span.start);
        let start = self.source.line_span_of(index).start;
        let line = u32::try_from(index).unwrap_or(u32::MAX);
        LineColumn {
            line: self.source.first_line().saturating_add(line),
            column: self.span.start.saturating_sub(start).saturating_add(1),
        }
    }

    /// The file without its folders, with line and column: `nightjar.yaml:41:24`.
    pub fn short(&self) -> String {
        format!("{}:{}", base_name(self.file()), self.line_column())
    }
}

impl fmt::Display for At {
    /// `forms/filled/nightjar.yaml:41:24`
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}", self.file(), self.line_column())
    }
}

/// A path without its folders.
pub(super) fn base_name(path: &str) -> &str {
    path.rsplit(['/', '\\']).next().unwrap_or(path)
}

/// A finding in words. Texts from files are safe to print; none ends with a line break.
#[derive(Clone, Debug)]
pub struct Message {
    /// The outcome.
    pub outcome: Outcome,
    /// Why, for outcomes that need a reason.
    pub reason: Option<Reason>,
    /// The item, short: `S1`, `hull`, `boat`.
    pub item: String,
    /// The item, whole: `runners/S1`.
    pub item_path: String,
    /// The id of the rule.
    pub rule: String,
    /// The printed number of the clause, if the rule has one.
    pub clause: Option<String>,
    /// The heading of the rule.
    pub title: String,
    /// The text of the rule as the class prints it.
    pub text: String,
    /// Which side of a two-sided limit it is about.
    pub side: Option<&'static str>,
    /// Value, limit and margin.
    pub figures: Figures,
    /// The margin as a number in base units, to tell which of two is the smaller.
    pub margin_size: Option<f64>,
    /// The coverage factor of the value's U: `k = 2.0`.
    pub coverage: Option<String>,
    /// How many times its U the value lies from the limit; infinite without U, and where there is no margin.
    pub settled: f64,
    /// Where on the item: `at -300 mm, port face`.
    pub place: Option<String>,
    /// How many places there are, where they are fewer than asked: `3 of 5 places`.
    pub places: Option<String>,
    /// Where the value stands.
    pub record_at: At,
    /// Where further sources of the value stand.
    pub also_at: Vec<At>,
    /// Where the limit stands.
    pub rules_at: At,
    /// Why, in words: `within its uncertainty of the limit`.
    pub why: Option<String>,
    /// What would settle it: `U of 0.4 deg or less would decide`.
    pub settle: Option<String>,
    /// What the other stages say where they say something else.
    pub elsewhere: Vec<String>,
    /// The exemption that gave the limit, in the words of the class.
    pub exemption: Option<String>,
    /// How its uncertainty comes about, where that was asked for.
    pub budget: Option<Box<Budget>>,
    /// Remarks: benefit of the doubt, a second measurer, places left out.
    pub remarks: Vec<String>,
    /// What was assumed on the way, and what readings can't show.
    pub notes: Vec<String>,
    /// Interpretations and rulings that stand about the rule on the day.
    pub said: Vec<Said>,
    /// What can be done, for what does not conform.
    pub remedy: Option<String>,
}

struct RuleWords {
    id: String,
    clause: Option<String>,
    title: String,
    text: String,
    remedy: Option<String>,
    exemption: Option<String>,
}

impl Message {
    /// The findings of a record in words, in their order: all, or those that are open or marked.
    pub fn some(checked: &Checked, all: bool) -> Vec<Message> {
        let wanted = |finding: &&Finding| all || is_open_or_marked(finding) || is_named(finding);
        let shown: Vec<&Finding> = checked.verdict.findings.iter().filter(wanted).collect();
        if shown.is_empty() {
            return Vec::new();
        }
        let labels = Labels::of(&checked.record, &checked.rules);
        shown
            .into_iter()
            .map(|finding| Message::of(checked, &labels, finding))
            .collect()
    }

    /// One finding in words.
    pub fn of(checked: &Checked, labels: &Labels, finding: &Finding) -> Message {
        let rule = rule_words(checked, finding);
        let said = said_about(&checked.rules, &rule.id, checked.day);
        // Of a limit that an event changes it is the event's own paper that has the line.
        let (source, limit_at) = checked.rules.place(finding.limit_at);
        let ascii = labels.rules_ascii && Arc::ptr_eq(source, &checked.rules.source);
        let at_record = |span| At::new(&checked.record.source, span, labels.record_ascii);
        let line = |text: &str| safe_line(text).into_owned();
        let fractions = Fractions {
            limit: Fractions::read(source.slice(limit_at)),
            value: Fractions::read(checked.record.source.slice(finding.source_at)),
        };
        let budget = budget(finding, labels.short(finding.item), &rule);
        Message {
            outcome: finding.outcome,
            reason: finding.reason,
            item: line(labels.short(finding.item)),
            item_path: line(labels.whole(finding.item)),
            rule: rule.id,
            clause: rule.clause.as_deref().map(line),
            title: line(&rule.title),
            text: line(&rule.text),
            side: finding.side.map(side),
            figures: Figures::of(finding, &fractions),
            place: finding.place.as_ref().and_then(words::place),
            places: places(finding),
            record_at: at_record(finding.source_at),
            also_at: finding
                .also_at
                .iter()
                .map(|span| at_record(*span))
                .collect(),
            rules_at: At::new(source, limit_at, ascii),
            margin_size: finding.margin.as_ref().map(Number::to_f64),
            coverage: finding
                .expanded
                .filter(|expanded| expanded.U > 0.0)
                .map(|expanded| format!("k = {:.1}", expanded.k)),
            settled: settled(finding),
            why: finding.reason.map(|reason| why(finding, reason).to_owned()),
            settle: finding.settled_by.as_ref().map(|settle| {
                line(&words::settle(
                    finding,
                    settle,
                    part_of(checked, finding),
                    &checked.rules,
                ))
            }),
            elsewhere: words::elsewhere(finding, checked.purpose),
            exemption: rule.exemption.as_deref().map(line),
            budget,
            remarks: remarks(finding),
            notes: finding.notes.iter().map(|note| line(note)).collect(),
            said,
            remedy: rule
                .remedy
                .as_deref()
                .map(line)
                .filter(|_| can_be_mended(finding)),
        }
    }

    /// Clause and title: `E.3.2 Steel thickness`.
    pub fn heading(&self) -> String {
        match &self.clause {
            Some(clause) => format!("{clause} {}", self.title),
            None => self.title.clone(),
        }
    }

    /// Outcome, numbers and reason in a few words: `does not conform: 4.62 mm, at least 4.70 mm asked`.
    pub fn brief(&self) -> String {
        let value = self.figures.value.as_ref().map(Figure::text);
        let limit = self.figures.limit.as_ref().map(asked);
        let margin = self.figures.margin.as_ref().map(Figure::text);
        let parts: Vec<String> = [value, limit, margin, self.why.clone(), self.places.clone()]
            .into_iter()
            .flatten()
            .collect();
        let outcome = self.outcome.words();
        if parts.is_empty() {
            outcome.to_owned()
        } else {
            format!("{outcome}: {}", parts.join(", "))
        }
    }

    /// The whole finding as one sentence, with its places in record and rules; without the remedy.
    pub fn sentence(&self) -> String {
        self.sentence_about(&self.item)
    }

    /// The same with other words for the item, for one that stands for several.
    pub fn sentence_about(&self, item: &str) -> String {
        let mut parts = Vec::new();
        match (&self.figures.value, &self.figures.limit) {
            (Some(value), Some(limit)) => {
                let place = self
                    .place
                    .as_ref()
                    .map_or(String::new(), |place| format!(" {place}"));
                parts.push(format!("{}{place}, {}", value.text(), asked(limit)));
            }
            (Some(value), None) => parts.push(value.text()),
            (None, Some(limit)) => parts.push(asked(limit)),
            (None, None) => {}
        }
        parts.extend(self.coverage.clone());
        parts.extend(self.figures.margin.as_ref().map(Figure::text));
        parts.extend(self.why.clone());
        parts.extend(self.places.clone());
        parts.extend(
            self.exemption
                .as_ref()
                .map(|because| format!("other limit: {because}")),
        );
        parts.extend(self.settle.clone());
        parts.extend(self.elsewhere.iter().cloned());
        parts.extend(self.remarks.iter().cloned());
        parts.extend(self.notes.iter().cloned());
        parts.extend(self.said.iter().map(Said::short));
        parts.push(format!("record {}", self.record_at));
        parts.push(format!("rule {}", self.rules_at));
        let heading = self.heading();
        let said = match self.outcome {
            Outcome::DoesNotConform => format!("{item} does not conform to {heading}"),
            Outcome::NotDecided => format!("{item} is not decided under {heading}"),
            Outcome::Conforms => format!("{item} conforms to {heading}"),
            Outcome::NotApplicable => format!("{heading} does not apply to {item}"),
        };
        format!("{said}: {}.", parts.join("; "))
    }
}

/// How many times its U a value lies from its limit: the least settled has the smallest.
pub fn settled(finding: &Finding) -> f64 {
    match (&finding.margin, finding.expanded) {
        (Some(margin), Some(expanded)) if expanded.U > 0.0 => margin.to_f64().abs() / expanded.U,
        _ => f64::INFINITY,
    }
}

/// Whether the budget of its rule was asked for by name.
fn is_named(finding: &Finding) -> bool {
    finding.budget.as_ref().is_some_and(|budget| budget.named)
}

/// The budget of a finding, with what it is of: `S1, E.3.2 Steel thickness, at -300 mm`.
fn budget(finding: &Finding, item: &str, rule: &RuleWords) -> Option<Box<Budget>> {
    let found = finding.budget.as_ref()?;
    let heading = match &rule.clause {
        Some(clause) => format!("{clause} {}", rule.title),
        None => rule.title.clone(),
    };
    let mut of = format!("{item}, {heading}");
    if let Some(place) = finding.place.as_ref().and_then(words::place) {
        of.push_str(&format!(", {place}"));
    }
    if found.of_difference {
        of.push_str(", value less limit");
    }
    let decimals = found.budget.decimals;
    Some(Box::new(found.budget.clone().about(of, decimals)))
}

/// Whether a finding is shown without being asked for: everything but what conforms or does not apply, and
/// what conforms with a remark.
fn is_open_or_marked(finding: &Finding) -> bool {
    match finding.outcome {
        Outcome::DoesNotConform | Outcome::NotDecided => true,
        Outcome::Conforms => finding.benefit_of_doubt || finding.second_measurer,
        Outcome::NotApplicable => false,
    }
}

/// The reason in words; a part that is missing was not forgotten by a measurer.
fn why(finding: &Finding, reason: Reason) -> &'static str {
    match (finding.rule, reason) {
        (RuleRef::Equipment(_) | RuleRef::Bring(..), Reason::NotMeasured) => "not in the record",
        (RuleRef::Role(..), Reason::NotMeasured) => "no part is named for it",
        (_, Reason::Stale) if is_altered(finding) => "not known to be read since work on it",
        _ => reason.words(),
    }
}

/// Whether a stale value is so because of work on the item.
fn is_altered(finding: &Finding) -> bool {
    matches!(finding.settled_by, Some(Settle::MeasureAgain(why)) if why == Settle::AFTER_WORK)
}

/// Whether the remedy of a rule is about what was found: it speaks of its limits, and there have to be some.
fn can_be_mended(finding: &Finding) -> bool {
    finding.outcome == Outcome::DoesNotConform
        && (finding.reason != Some(Reason::NoRowForChoice)
            || matches!(finding.rule, RuleRef::Silence(_)))
}

fn part_of(checked: &Checked, finding: &Finding) -> Option<PartId> {
    match finding.item {
        ItemRef::Item(at) => checked.record.items.get(at).map(|item| item.part),
        ItemRef::Holding(id) => checked
            .rules
            .vocabulary
            .holding(id)
            .map(|holding| holding.part),
    }
}

/// `at least 4.70 mm asked`; an `equals` says it already.
fn asked(limit: &Figure) -> String {
    if limit.number.is_empty() {
        limit.text()
    } else {
        format!("{} asked", limit.text())
    }
}

fn side(kind: BoundKind) -> &'static str {
    if kind.is_lower() { "lower" } else { "upper" }
}

fn places(finding: &Finding) -> Option<String> {
    let (measured, required) = finding.places?;
    (measured < required).then(|| format!("{measured} of {required} places"))
}

/// Places that a finding leaves out: `1 place lies where the rule does not look: at 0 mm, 4 mm from the edge`.
pub fn left_out(finding: &Finding) -> Option<String> {
    const NAMED: usize = 3;
    let count = finding.left_out.len();
    let mut named: Vec<String> = finding
        .left_out
        .iter()
        .filter_map(words::place)
        .take(NAMED)
        .collect();
    if count > NAMED {
        named.push(format!("{} more", count - NAMED));
    }
    let lie = match count {
        0 => return None,
        1 => "place lies",
        _ => "places lie",
    };
    Some(format!(
        "{count} {lie} where the rule does not look: {}",
        named.join("; ")
    ))
}

fn remarks(finding: &Finding) -> Vec<String> {
    let mut remarks = Vec::new();
    if finding.benefit_of_doubt {
        remarks.push("beyond the limit, within its uncertainty: benefit of the doubt".to_owned());
    }
    if finding.second_measurer {
        remarks.push("a second measurer should read it".to_owned());
    }
    remarks.extend(left_out(finding));
    remarks
}

fn rule_words(checked: &Checked, finding: &Finding) -> RuleWords {
    let rules = &checked.rules;
    let vocabulary = &rules.vocabulary;
    let bare = |id: &str, title: String, text: String, remedy: Option<String>| RuleWords {
        id: id.to_owned(),
        clause: None,
        title,
        text,
        remedy,
        exemption: None,
    };
    match finding.rule {
        RuleRef::Rule(at) => {
            let Some(rule) = rules.rule(at) else {
                return bare("rule", "rule".to_owned(), String::new(), None);
            };
            let exemption = finding.exemption.and_then(|row| rule.instead.get(row));
            RuleWords {
                id: rule.id.text.clone(),
                clause: Some(rule.clause.text.clone()),
                title: if rule.title.is_empty() {
                    words::plain_name(&rule.id.text)
                } else {
                    rule.title.clone()
                },
                text: rule.text.clone(),
                remedy: rule.remedy.clone(),
                exemption: exemption.map(|row| row.because.clone()),
            }
        }
        RuleRef::Marks(at, cap) => {
            let Some(marks) = rules.marks.get(at) else {
                return bare("marks", "marks".to_owned(), String::new(), None);
            };
            let condition = cap
                .and_then(|cap| marks.of_which.get(cap))
                .map(|cap| cap.condition.text.clone());
            RuleWords {
                id: marks.id.text.clone(),
                clause: Some(marks.clause.text.clone()),
                title: match condition {
                    Some(condition) => format!("{}, of which {condition}", marks.title),
                    None => marks.title.clone(),
                },
                text: marks.text.clone(),
                remedy: marks.remedy.clone(),
                exemption: None,
            }
        }
        RuleRef::Pairs(at) => match rules.marks.get(at) {
            Some(marks) => of_marks(marks, words::pairs(marks, rules)),
            None => bare("marks", "marks".to_owned(), String::new(), None),
        },
        RuleRef::Bring(at, entry) => match rules.marks.get(at) {
            Some(marks) => of_marks(marks, words::bring(marks, entry, rules)),
            None => bare("marks", "marks".to_owned(), String::new(), None),
        },
        RuleRef::Role(id, role) => {
            let key = vocabulary.holding(id).map(|holding| &holding.key.text);
            let key = words::plain_name(key.map_or("groups", String::as_str));
            let part = part_of(checked, finding).and_then(|part| vocabulary.part(part));
            let role = part.and_then(|part| part.role(role));
            let name = role.map_or("role", |role| role.name.text.as_str());
            let kind = role.and_then(|role| vocabulary.part(role.part));
            let kind = kind.map_or("part", |kind| kind.name.text.as_str());
            bare(
                "equipment",
                format!("Equipment: {} of {key}", words::plain_name(name)),
                format!(
                    "Each of {key} names a {} as {}.",
                    words::plain_name(kind),
                    words::plain_name(name)
                ),
                None,
            )
        }
        RuleRef::Equipment(id) => {
            let key = vocabulary
                .holding(id)
                .map_or("parts", |holding| holding.key.text.as_str());
            let least = vocabulary.holding(id).map_or(1, |holding| holding.at_least);
            bare(
                "equipment",
                format!("Equipment: {}", words::plain_name(key)),
                format!(
                    "A record names at least {least} of {}.",
                    words::plain_name(key)
                ),
                None,
            )
        }
        RuleRef::Unlisted(_) => bare(
            "silence",
            "Not in the rules".to_owned(),
            "What the rules do not list is not allowed; the class authority decides.".to_owned(),
            None,
        ),
        RuleRef::Silence(id) => {
            let name =
                trait_name(checked, finding, id, vocabulary).unwrap_or_else(|| "trait".to_owned());
            bare(
                "silence",
                format!("Not in the rules: {}", words::plain_name(&name)),
                "What the rules do not list is not allowed.".to_owned(),
                listed(checked, finding, id).map(|names| {
                    format!("The rules list {names}. The class authority decides about others.")
                }),
            )
        }
    }
}

/// What else than a number of marks an entry of `marks` asks.
fn of_marks(marks: &MarkRule, what: String) -> RuleWords {
    RuleWords {
        id: marks.id.text.clone(),
        clause: Some(marks.clause.text.clone()),
        title: format!("{}, {what}", marks.title),
        text: marks.text.clone(),
        remedy: marks.remedy.clone(),
        exemption: None,
    }
}

/// The choices that the rules list for a trait: `wood, glass, epoxy`.
fn listed(checked: &Checked, finding: &Finding, id: TraitId) -> Option<String> {
    let part = checked.rules.vocabulary.part(part_of(checked, finding)?)?;
    let names = part.traits.get(id.index())?.kind.names().iter();
    let names: Vec<String> = names.map(|name| words::plain_name(&name.text)).collect();
    (!names.is_empty()).then(|| names.join(", "))
}

fn trait_name(
    checked: &Checked,
    finding: &Finding,
    id: TraitId,
    vocabulary: &Vocabulary,
) -> Option<String> {
    let found = vocabulary
        .part(part_of(checked, finding)?)?
        .traits
        .get(id.index())?;
    Some(found.name.text.clone())
}
