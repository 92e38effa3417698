//! What cases have touched of one version of the rules, counted exactly: every rule with an item that conforms,
//! one that does not and one that stays open; every row of limits; both sides of every bound; every condition, and
//! what it is made of, where it holds and where it does not; every exemption taken, not taken and in doubt; the
//! entries of `marks` with their caps.

use std::collections::BTreeSet;

use super::finding::{Finding, ItemRef, Outcome, Reason, RuleRef};
use super::judge::Judge;
use super::value::Truth;
use crate::expression::{Expression, Node, Op};
use crate::rules::{Demand, LimitRow, Limits, MarkLimit, MarkLimits, MarkRule, Rule, RulesFile};
use crate::text::Span;
use crate::vocabulary::{ChoiceId, ELSEWHERE, Name, PartId, TraitId, ZoneId};

/// The kinds of things that a case can touch.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    /// A rule with an outcome.
    Rule,
    /// A row of limits.
    Row,
    /// One side of a limit: a value that meets it, or one that does not.
    Side,
    /// A condition, or one of those that it is made of, that holds or does not.
    Condition,
    /// An exemption that is taken, not taken, or in doubt.
    Exemption,
    /// A limit on marks.
    Marks,
}

impl Kind {
    /// Every kind, in the order in which they are told.
    pub const ALL: [Kind; 6] = [
        Kind::Rule,
        Kind::Row,
        Kind::Side,
        Kind::Condition,
        Kind::Exemption,
        Kind::Marks,
    ];

    /// The word in JSON.
    pub fn word(self) -> &'static str {
        match self {
            Kind::Rule => "rule",
            Kind::Row => "row",
            Kind::Side => "side",
            Kind::Condition => "condition",
            Kind::Exemption => "exemption",
            Kind::Marks => "marks",
        }
    }

    /// Whether lint tells one that no case touches. Outcomes and sides are for the counts alone.
    pub fn is_linted(self) -> bool {
        match self {
            Kind::Row | Kind::Condition | Kind::Exemption | Kind::Marks => true,
            Kind::Rule | Kind::Side => false,
        }
    }

    /// The words for people.
    pub fn words(self) -> &'static str {
        match self {
            Kind::Rule => "outcomes of rules",
            Kind::Row => "rows of limits",
            Kind::Side => "sides of limits",
            Kind::Condition => "conditions",
            Kind::Exemption => "exemptions",
            Kind::Marks => "limits on marks",
        }
    }
}

/// Something that a case can touch.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Piece {
    /// What kind of thing it is.
    pub kind: Kind,
    /// The id of its rule.
    pub rule: String,
    /// What it is, in words: `row plate`.
    pub words: String,
    /// Where it stands in the rules file.
    pub span: Span,
}

impl std::fmt::Display for Piece {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}: {}", self.rule, self.words)
    }
}

/// A count of what is touched among what there is.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Covered {
    /// What was touched.
    pub touched: usize,
    /// What there is.
    pub all: usize,
    /// Each kind that there is, with how much of it was touched of how much.
    pub by_kind: Vec<(Kind, usize, usize)>,
    /// What no case touches, in the order of the rules file.
    pub missing: Vec<Piece>,
}

/// What cases have touched of one version.
#[derive(Clone, Debug, Default)]
pub struct Coverage {
    touched: BTreeSet<(String, String)>,
}

impl Coverage {
    /// Counts what the findings of one rule touch, on the record that the judge looks at.
    pub(super) fn add(
        &mut self,
        rules: &RulesFile,
        id: &str,
        findings: &[&Finding],
        judge: &mut Judge<'_>,
    ) {
        for finding in findings {
            self.touch(id, finding.outcome.words().to_owned());
            match finding.rule {
                RuleRef::Rule(at) => {
                    if let Some(rule) = rules.rules.get(at) {
                        self.add_rule(rules, rule, finding, judge);
                    }
                }
                RuleRef::Marks(at, _) | RuleRef::Pairs(at) | RuleRef::Bring(at, _) => {
                    if let Some(mark) = rules.marks.get(at) {
                        self.add_mark(rules, mark, finding);
                    }
                }
                RuleRef::Equipment(_)
                | RuleRef::Role(..)
                | RuleRef::Silence(_)
                | RuleRef::Unlisted(_) => {}
            }
        }
    }

    fn touch(&mut self, id: &str, words: String) {
        self.touched.insert((id.to_owned(), words));
    }

    fn add_rule(
        &mut self,
        rules: &RulesFile,
        rule: &Rule,
        finding: &Finding,
        judge: &mut Judge<'_>,
    ) {
        let id = rule.id.text.as_str();
        for (name, row) in all_rows(rules, rule) {
            let mut met = row.span == finding.limit_at;
            for (words, span) in sides(row) {
                if holds(span, finding.limit_at) {
                    met = true;
                    if let Some(side) = side(finding.outcome) {
                        self.touch(id, side_words(&name, &words, side));
                    }
                }
            }
            if met && !name.is_empty() {
                self.touch(id, name);
            }
        }
        let ItemRef::Item(at) = finding.item else {
            return;
        };
        if let Some(when) = &rule.when {
            for (words, node) in conditions(rules, "condition", when) {
                if let Some(words) = held(&words, judge.eval.truth(node, at)) {
                    self.touch(id, words);
                }
            }
            if finding.reason == Some(Reason::Condition) {
                return;
            }
        }
        for (number, exemption) in rule.instead.iter().enumerate() {
            let name = exemption_name(number);
            let over = exemption
                .until
                .is_some_and(|until| judge.context.day > until);
            let truth = judge.eval.truth(&exemption.condition.root, at);
            let state = match truth {
                _ if over => "over",
                Truth::True => "taken",
                Truth::False => "not taken",
                Truth::Unknown(_) => "in doubt",
            };
            self.touch(id, format!("{name} {state}"));
            if over {
                continue;
            }
            for (words, node) in conditions(rules, &name, &exemption.condition)
                .into_iter()
                .skip(1)
            {
                if let Some(words) = held(&words, judge.eval.truth(node, at)) {
                    self.touch(id, words);
                }
            }
            if truth == Truth::True {
                break;
            }
        }
    }

    fn add_mark(&mut self, rules: &RulesFile, mark: &MarkRule, finding: &Finding) {
        let Some(side) = side(finding.outcome) else {
            return;
        };
        for (name, limit, span) in mark_limits(rules, mark) {
            if span == finding.limit_at {
                self.touch(&mark.id.text, side_words(&name, &limit, side));
            }
        }
    }

    /// How much of a version the cases touch.
    pub fn of(&self, rules: &RulesFile) -> Covered {
        let all = pieces(rules);
        let is_touched = |piece: &Piece| {
            let key = (piece.rule.clone(), piece.words.clone());
            self.touched.contains(&key)
        };
        let count = |kind: Option<Kind>| {
            let of_kind = all
                .iter()
                .filter(|piece| kind.is_none_or(|kind| piece.kind == kind));
            let found = of_kind.map(|piece| usize::from(is_touched(piece)));
            found.fold((0, 0), |(touched, all), one| (touched + one, all + 1))
        };
        let (touched, number) = count(None);
        let by_kind = Kind::ALL.into_iter().filter_map(|kind| {
            let (touched, all) = count(Some(kind));
            (all > 0).then_some((kind, touched, all))
        });
        Covered {
            touched,
            all: number,
            by_kind: by_kind.collect(),
            missing: all
                .iter()
                .filter(|piece| !is_touched(piece))
                .cloned()
                .collect(),
        }
    }

    /// Id and clause of the rules, and of the limits on marks, that no case touches at all.
    pub fn untouched<'r>(&self, rules: &'r RulesFile) -> Vec<(&'r Name, &'r Name)> {
        let touched = |id: &str| self.touched.iter().any(|(rule, _)| rule == id);
        let marks = rules.marks.iter().map(|mark| (&mark.id, &mark.clause));
        rules
            .rules
            .iter()
            .map(|rule| (&rule.id, &rule.clause))
            .chain(marks)
            .filter(|(id, _)| !touched(&id.text))
            .collect()
    }
}

/// Everything that cases can touch, in the order of the file.
pub fn pieces(rules: &RulesFile) -> Vec<Piece> {
    let mut all = Vec::new();
    for rule in &rules.rules {
        of_rule(rules, rule, &mut all);
    }
    for mark in &rules.marks {
        let mut add = |kind: Kind, words: String, span: Span| {
            all.push(Piece {
                kind,
                rule: mark.id.text.clone(),
                words,
                span,
            });
        };
        for outcome in [Outcome::Conforms, Outcome::DoesNotConform] {
            add(Kind::Rule, outcome.words().to_owned(), mark.id.span);
        }
        for (name, limit, span) in mark_limits(rules, mark) {
            for side in [Side::Met, Side::NotMet] {
                add(Kind::Marks, side_words(&name, &limit, side), span);
            }
        }
    }
    all
}

fn of_rule(rules: &RulesFile, rule: &Rule, all: &mut Vec<Piece>) {
    let mut add = |kind: Kind, words: String, span: Span| {
        all.push(Piece {
            kind,
            rule: rule.id.text.clone(),
            words,
            span,
        });
    };
    for outcome in [
        Outcome::Conforms,
        Outcome::DoesNotConform,
        Outcome::NotDecided,
    ] {
        add(Kind::Rule, outcome.words().to_owned(), rule.id.span);
    }
    for (name, row) in all_rows(rules, rule) {
        if !name.is_empty() {
            add(Kind::Row, name.clone(), row.span);
        }
        for (words, span) in sides(row) {
            for side in [Side::Met, Side::NotMet] {
                add(Kind::Side, side_words(&name, &words, side), span);
            }
        }
    }
    if let Some(when) = &rule.when {
        for (words, node) in conditions(rules, "condition", when) {
            add(Kind::Condition, format!("{words} holds"), node.span);
            add(Kind::Condition, format!("{words} does not hold"), node.span);
        }
    }
    for (number, exemption) in rule.instead.iter().enumerate() {
        let name = exemption_name(number);
        let span = exemption.condition.span;
        for state in ["taken", "not taken", "in doubt"] {
            add(Kind::Exemption, format!("{name} {state}"), span);
        }
        if exemption.until.is_some() {
            add(Kind::Exemption, format!("{name} over"), span);
        }
        for (words, node) in conditions(rules, &name, &exemption.condition)
            .into_iter()
            .skip(1)
        {
            add(Kind::Condition, format!("{words} holds"), node.span);
            add(Kind::Condition, format!("{words} does not hold"), node.span);
        }
    }
}

/// On which side of a limit a value lies.
#[derive(Clone, Copy)]
enum Side {
    Met,
    NotMet,
}

fn side(outcome: Outcome) -> Option<Side> {
    match outcome {
        Outcome::Conforms => Some(Side::Met),
        Outcome::DoesNotConform => Some(Side::NotMet),
        Outcome::NotDecided | Outcome::NotApplicable => None,
    }
}

fn side_words(row: &str, limit: &str, side: Side) -> String {
    let what = match side {
        Side::Met => "met",
        Side::NotMet => "not met",
    };
    if row.is_empty() {
        format!("{limit} {what}")
    } else {
        format!("{row}, {limit} {what}")
    }
}

fn held(words: &str, truth: Truth) -> Option<String> {
    match truth {
        Truth::True => Some(format!("{words} holds")),
        Truth::False => Some(format!("{words} does not hold")),
        Truth::Unknown(_) => None,
    }
}

fn exemption_name(number: usize) -> String {
    format!("exemption {}", number + 1)
}

fn at_most(limit: &MarkLimit) -> String {
    format!("at most {}", limit.at_most)
}

/// A condition by a name, and those that it is made of in their own words.
fn conditions<'e>(
    rules: &RulesFile,
    name: &str,
    condition: &'e Expression,
) -> Vec<(String, &'e Node)> {
    fn atoms<'e>(node: &'e Node, found: &mut Vec<&'e Node>) {
        if let Op::And(list) | Op::Or(list) = &node.op {
            list.iter().for_each(|one| atoms(one, found));
        } else if let Op::Not(inner) = &node.op {
            atoms(inner, found);
        } else {
            found.push(node);
        }
    }
    let mut parts = Vec::new();
    atoms(&condition.root, &mut parts);
    let mut found = vec![(name.to_owned(), &condition.root)];
    if parts.len() > 1 {
        let words = |span: Span| rules.source.slice(span).trim().to_owned();
        found.extend(
            parts
                .into_iter()
                .map(|node| (format!("{name}, `{}`", words(node.span)), node)),
        );
    }
    found
}

/// The rows of a rule by name, exemptions included; a single row has no name.
fn all_rows<'r>(rules: &RulesFile, rule: &'r Rule) -> Vec<(String, &'r LimitRow)> {
    let mut found = named_rows(rules, rule);
    let exemptions = rule.instead.iter().enumerate();
    found.extend(exemptions.map(|(at, one)| (exemption_name(at), &one.row)));
    found
}

/// The rows of the limits of a rule by name; a single row has no name.
fn named_rows<'r>(rules: &RulesFile, rule: &'r Rule) -> Vec<(String, &'r LimitRow)> {
    match &rule.limits {
        Limits::Direct(row) => vec![(String::new(), row)],
        Limits::ByTrait { by, rows, .. } => rows
            .iter()
            .map(|(choice, row)| {
                (
                    row_name(choice_word(rules, rule.applies_to, *by, *choice)),
                    row,
                )
            })
            .collect(),
        Limits::ByTraits { by, rows, .. } => rows
            .iter()
            .map(|(choices, row)| {
                let words = by
                    .iter()
                    .zip(choices)
                    .map(|(by, choice)| choice_word(rules, rule.applies_to, *by, *choice));
                let words: Vec<&str> = words.collect();
                (row_name(&words.join(" and ")), row)
            })
            .collect(),
        Limits::ByZone { rows, .. } => rows
            .iter()
            .map(|(zone, row)| (row_name(zone_word(rules, rule.applies_to, *zone)), row))
            .collect(),
        Limits::ByLevel { rows, .. } => rows
            .iter()
            .map(|(level, row)| (row_name(level_word(rules, *level)), row))
            .collect(),
    }
}

/// Whether one place in a file lies in another.
fn holds(outer: Span, inner: Span) -> bool {
    outer.start <= inner.start && inner.end <= outer.end
}

fn zone_word(rules: &RulesFile, part: PartId, zone: Option<ZoneId>) -> &str {
    let zones = rules.vocabulary.part(part).map(|part| &part.zones);
    match zone {
        Some(zone) => zones
            .and_then(|zones| zones.get(zone.index()))
            .map_or("", |zone| &zone.name.text),
        None => ELSEWHERE,
    }
}

fn row_name(word: &str) -> String {
    format!("row {word}")
}

fn choice_word(rules: &RulesFile, part: PartId, of: TraitId, choice: ChoiceId) -> &str {
    let part = rules.vocabulary.part(part);
    let names = part
        .and_then(|part| part.traits.get(of.index()))
        .map_or(&[][..], |one| one.kind.names());
    names.get(choice.index()).map_or("", |name| &name.text)
}

fn level_word(rules: &RulesFile, level: ChoiceId) -> &str {
    let levels = &rules.vocabulary.event_levels;
    levels.get(level.index()).map_or("", |name| &name.text)
}

/// The sides of a row: each bound in words, with its place.
fn sides(row: &LimitRow) -> Vec<(String, Span)> {
    match &row.demand {
        Demand::Bounds(bounds) => bounds
            .iter()
            .map(|bound| {
                (
                    format!("{} {}", bound.kind.words(), bound.limit.text),
                    bound.span,
                )
            })
            .collect(),
        Demand::Equals(_, span) => vec![("equals".to_owned(), *span)],
        Demand::Only(_, span) => vec![("only".to_owned(), *span)],
        Demand::Without(_, span) => vec![("without".to_owned(), *span)],
        Demand::Options(options) => options
            .rows
            .iter()
            .map(|row| {
                let end = row.values.last().map_or(row.name.span, |(_, span)| *span);
                let span = Span {
                    end: end.end,
                    ..row.name.span
                };
                (format!("option {}", row.name.text), span)
            })
            .collect(),
        Demand::None => Vec::new(),
    }
}

/// What an entry of `marks` asks, by name and limit in words, with its place: its rows, its caps, its pairs, what
/// to bring.
fn mark_limits(rules: &RulesFile, mark: &MarkRule) -> Vec<(String, String, Span)> {
    let numbered = |name: String, limit: &MarkLimit| (name, at_most(limit), limit.span);
    let mut found: Vec<(String, String, Span)> = match &mark.limits {
        MarkLimits::Direct(limit) => vec![numbered(String::new(), limit)],
        MarkLimits::ByLevel { rows, .. } => rows
            .iter()
            .map(|(level, limit)| numbered(row_name(level_word(rules, *level)), limit))
            .collect(),
    };
    let caps = mark.of_which.iter().enumerate();
    found.extend(caps.map(|(at, cap)| numbered(format!("cap {}", at + 1), &cap.limit)));
    let pairs = mark.pairs.iter();
    found.extend(pairs.map(|pairs| (String::new(), "pairs".to_owned(), pairs.span)));
    found.extend(mark.bring.iter().map(|bring| {
        let holding = rules.vocabulary.holding(bring.holding);
        let key = holding.map_or("", |holding| holding.key.text.as_str());
        let limit = format!("at least {} of {key}", bring.at_least);
        ("bring".to_owned(), limit, bring.span)
    }));
    found
}
