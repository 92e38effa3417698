//! Conditions that can never hold, that always hold, and what they leave without a use.
//!
//! A condition is written out as alternatives of simple claims. Claims about one choice, one date, one yes or
//! no, or one number must agree; claims about different things are taken to be free of each other, so that
//! "never" and "always" are sure.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::range::{Range, range_of};
use crate::diagnostic::Diagnostic;
use crate::expression::{Comparison, Expression, Node, Op, Scope, show_node};
use crate::quantity::{DateSpan, Exact};
use crate::rules::{Limits, Rule, RulesFile};
use crate::text::{Span, quoted};
use crate::vocabulary::{ChoiceId, Name, PartId, TraitId, TraitKind};

/// Alternatives beyond this number are not written out: nothing is said of such a condition.
const MOST_ALTERNATIVES: usize = 512;

/// A simple claim, or its contrary.
#[derive(Clone, Copy)]
struct Claim<'n> {
    node: &'n Node,
    holds: bool,
}

/// All claims of an alternative hold together.
type Alternative<'n> = Vec<Claim<'n>>;

/// A condition as alternatives; `None` where there are too many.
fn alternatives(node: &Node, holds: bool) -> Option<Vec<Alternative<'_>>> {
    match (&node.op, holds) {
        (Op::Not(inner), holds) => alternatives(inner, !holds),
        (Op::And(list), true) | (Op::Or(list), false) => {
            let mut all: Vec<Alternative<'_>> = vec![Vec::new()];
            for one in list {
                let more = alternatives(one, holds)?;
                all = each_with_each(&all, &more)?;
            }
            Some(all)
        }
        (Op::Or(list), true) | (Op::And(list), false) => {
            let mut all = Vec::new();
            for one in list {
                all.extend(alternatives(one, holds)?);
                if all.len() > MOST_ALTERNATIVES {
                    return None;
                }
            }
            Some(all)
        }
        _ => Some(vec![vec![Claim { node, holds }]]),
    }
}

/// Alternatives that hold together with others, each with each; `None` where there are too many.
fn each_with_each<'n>(
    all: &[Alternative<'n>],
    more: &[Alternative<'n>],
) -> Option<Vec<Alternative<'n>>> {
    if all.len().saturating_mul(more.len()) > MOST_ALTERNATIVES {
        return None;
    }
    let pairs = all.iter().flat_map(|have| {
        let with = move |new: &Alternative<'n>| have.iter().chain(new).copied().collect();
        more.iter().map(with)
    });
    Some(pairs.collect())
}

/// What is known of the things that an alternative speaks of.
#[derive(Default)]
struct Known {
    choices: BTreeMap<String, Vec<Option<ChoiceId>>>,
    dates: BTreeMap<String, (Option<Date>, Option<Date>)>,
    answers: BTreeMap<String, bool>,
    numbers: BTreeMap<String, Narrowed>,
    levels: Option<Vec<ChoiceId>>,
}

/// A range whose ends may be left out.
struct Narrowed {
    range: Range,
    open_low: bool,
    open_high: bool,
}

impl Narrowed {
    fn above(&mut self, end: &Exact, open: bool) {
        let higher = self.range.low.as_ref().is_none_or(|low| end > low);
        let same = self.range.low.as_ref() == Some(end);
        if higher {
            self.range.low = Some(end.clone());
        }
        if higher || same {
            self.open_low = open || (same && self.open_low);
        }
    }

    fn below(&mut self, end: &Exact, open: bool) {
        let lower = self.range.high.as_ref().is_none_or(|high| end < high);
        let same = self.range.high.as_ref() == Some(end);
        if lower {
            self.range.high = Some(end.clone());
        }
        if lower || same {
            self.open_high = open || (same && self.open_high);
        }
    }

    fn is_possible(&self) -> bool {
        match (&self.range.low, &self.range.high) {
            (Some(low), Some(high)) => {
                low < high || (low == high && !self.open_low && !self.open_high)
            }
            _ => true,
        }
    }
}

struct Solver<'r> {
    rules: &'r RulesFile,
    own: PartId,
}

impl Solver<'_> {
    /// Whether some record could make all of some conditions hold together.
    fn possible(&self, conditions: &[(&Node, bool)]) -> bool {
        let mut all: Vec<Alternative<'_>> = vec![Vec::new()];
        for (node, holds) in conditions {
            let more = alternatives(node, *holds);
            let Some(both) = more.and_then(|more| each_with_each(&all, &more)) else {
                return true;
            };
            all = both;
        }
        all.iter().any(|claims| self.agree(claims))
    }

    fn agree(&self, claims: &[Claim<'_>]) -> bool {
        let mut known = Known::default();
        claims.iter().all(|claim| self.add(claim, &mut known))
    }

    fn key(&self, node: &Node) -> String {
        show_node(node, self.own, &self.rules.vocabulary)
    }

    /// Adds a claim to what is known; whether it can still be so.
    fn add(&self, claim: &Claim<'_>, known: &mut Known) -> bool {
        match &claim.node.op {
            Op::IsChoice {
                subject,
                choices,
                negated,
            } => {
                let Some(all) = self.choices_of(subject) else {
                    return true;
                };
                let left = known.choices.entry(self.key(subject)).or_insert(all);
                left.retain(|one| (choices.contains(one) != *negated) == claim.holds);
                !left.is_empty()
            }
            Op::IsLevel { levels, negated } => {
                let count = self.rules.vocabulary.event_levels.len();
                let all = || (0..count).filter_map(|at| u16::try_from(at).ok().map(ChoiceId));
                let left = known.levels.get_or_insert_with(|| all().collect());
                left.retain(|one| (levels.contains(one) != *negated) == claim.holds);
                !left.is_empty()
            }
            Op::Truth(inner) => self.answer(inner, claim.holds, known),
            Op::Compare(comparison, left, right) => {
                let comparison = if claim.holds {
                    *comparison
                } else {
                    contrary(*comparison)
                };
                self.compare(comparison, left, right, known)
            }
            _ => self.answer(claim.node, claim.holds, known),
        }
    }

    fn answer(&self, node: &Node, holds: bool, known: &mut Known) -> bool {
        if let Op::YesNo(yes) = node.op {
            return yes == holds;
        }
        *known.answers.entry(self.key(node)).or_insert(holds) == holds
    }

    fn choices_of(&self, subject: &Node) -> Option<Vec<Option<ChoiceId>>> {
        let Op::Trait(scope, slot) = &subject.op else {
            return None;
        };
        let names = choice_names(
            self.rules,
            scope.part(self.own, &self.rules.vocabulary)?,
            *slot,
        )?;
        let all = (0..names.len()).filter_map(|at| u16::try_from(at).ok());
        Some(all.map(|at| Some(ChoiceId(at))).chain([None]).collect())
    }

    fn compare(
        &self,
        comparison: Comparison,
        left: &Node,
        right: &Node,
        known: &mut Known,
    ) -> bool {
        match (&left.op, &right.op) {
            (Op::Date(a), Op::Date(b)) => {
                let holds = match comparison {
                    Comparison::Less => a.before(b),
                    Comparison::LessOrEqual => a.not_after(b),
                    Comparison::Greater => a.after(b),
                    Comparison::GreaterOrEqual => a.not_before(b),
                };
                return holds != Some(false);
            }
            (_, Op::Date(day)) => return self.date(left, comparison, day, known),
            (Op::Date(day), _) => return self.date(right, turned(comparison), day, known),
            _ => {}
        }
        let a = range_of(left, self.own, self.rules);
        let b = range_of(right, self.own, self.rules);
        match (left.constant(), right.constant()) {
            (None, Some(number)) => self.number(left, a, comparison, &number, known),
            (Some(number), None) => self.number(right, b, turned(comparison), &number, known),
            _ => {
                let (least, most, strict) = match comparison {
                    Comparison::Less => (&a.low, &b.high, true),
                    Comparison::LessOrEqual => (&a.low, &b.high, false),
                    Comparison::Greater => (&b.low, &a.high, true),
                    Comparison::GreaterOrEqual => (&b.low, &a.high, false),
                };
                match (least, most) {
                    (Some(least), Some(most)) => least < most || (!strict && least == most),
                    _ => true,
                }
            }
        }
    }

    fn number(
        &self,
        term: &Node,
        range: Range,
        comparison: Comparison,
        number: &Exact,
        known: &mut Known,
    ) -> bool {
        let narrowed = known.numbers.entry(self.key(term)).or_insert(Narrowed {
            range,
            open_low: false,
            open_high: false,
        });
        match comparison {
            Comparison::Less => narrowed.below(number, true),
            Comparison::LessOrEqual => narrowed.below(number, false),
            Comparison::Greater => narrowed.above(number, true),
            Comparison::GreaterOrEqual => narrowed.above(number, false),
        }
        narrowed.is_possible()
    }

    fn date(&self, term: &Node, comparison: Comparison, day: &DateSpan, known: &mut Known) -> bool {
        let (from, to) = known.dates.entry(self.key(term)).or_default();
        match comparison {
            Comparison::Less => earliest(to, day.first.yesterday().ok()),
            Comparison::LessOrEqual => earliest(to, Some(day.last)),
            Comparison::Greater => latest(from, day.last.tomorrow().ok()),
            Comparison::GreaterOrEqual => latest(from, Some(day.first)),
        }
        match (from, to) {
            (Some(from), Some(to)) => from <= to,
            _ => true,
        }
    }
}

fn earliest(have: &mut Option<Date>, new: Option<Date>) {
    *have = match (*have, new) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (a, b) => a.or(b),
    };
}

fn latest(have: &mut Option<Date>, new: Option<Date>) {
    *have = match (*have, new) {
        (Some(a), Some(b)) => Some(a.max(b)),
        (a, b) => a.or(b),
    };
}

fn contrary(comparison: Comparison) -> Comparison {
    match comparison {
        Comparison::Less => Comparison::GreaterOrEqual,
        Comparison::LessOrEqual => Comparison::Greater,
        Comparison::Greater => Comparison::LessOrEqual,
        Comparison::GreaterOrEqual => Comparison::Less,
    }
}

fn turned(comparison: Comparison) -> Comparison {
    match comparison {
        Comparison::Less => Comparison::Greater,
        Comparison::LessOrEqual => Comparison::GreaterOrEqual,
        Comparison::Greater => Comparison::Less,
        Comparison::GreaterOrEqual => Comparison::LessOrEqual,
    }
}

fn choice_names(rules: &RulesFile, part: PartId, slot: TraitId) -> Option<&[Name]> {
    let part = rules.vocabulary.part(part)?;
    match &part.traits.get(slot.index())?.kind {
        TraitKind::Choice(names) => Some(names),
        TraitKind::AnyOf(_) | TraitKind::Date | TraitKind::Flag => None,
    }
}

/// Whether `when` and a condition can hold together on an item, for what is said elsewhere.
pub(super) fn can_hold(rules: &RulesFile, own: PartId, conditions: &[&Node]) -> bool {
    let conditions: Vec<(&Node, bool)> = conditions.iter().map(|node| (*node, true)).collect();
    Solver { rules, own }.possible(&conditions)
}

/// The condition that traits of the item are certain choices.
pub(super) fn are_choices(by: &[TraitId], choices: &[ChoiceId]) -> Node {
    let node = |op| Node {
        span: Span::default(),
        op,
    };
    let is_choice = |(by, choice): (&TraitId, &ChoiceId)| {
        node(Op::IsChoice {
            subject: Box::new(node(Op::Trait(Scope::Own, *by))),
            choices: vec![Some(*choice)],
            negated: false,
        })
    };
    node(Op::And(by.iter().zip(choices).map(is_choice).collect()))
}

/// Whether `when` of a rule can hold for choices of traits together.
pub(super) fn can_be(rules: &RulesFile, rule: &Rule, by: &[TraitId], choices: &[ChoiceId]) -> bool {
    let Some(when) = &rule.when else {
        return true;
    };
    let chosen = are_choices(by, choices);
    can_hold(rules, rule.applies_to, &[&when.root, &chosen])
}

/// The conditions of one rule.
pub(super) fn conditions(rules: &RulesFile, rule: &Rule, found: &mut Vec<Diagnostic>) {
    let own = rule.applies_to;
    let clause = &rule.clause.text;
    let mut told = Told {
        rules,
        clause,
        found,
    };
    let solver = Solver { rules, own };
    let mut when_never = false;
    if let Some(when) = &rule.when {
        when_never = !solver.possible(&[(&when.root, true)]);
        if when_never {
            let what = format!("{} never applies", quoted(&rule.id.text));
            told.never(what, when, None);
        } else if !solver.possible(&[(&when.root, false)]) {
            told.always(&rule.id, when);
        }
    }
    for row in &rule.instead {
        let both: Vec<(&Node, bool)> = rule
            .when
            .iter()
            .map(|when| (&when.root, true))
            .chain([(&row.condition.root, true)])
            .collect();
        if !when_never && !solver.possible(&both) {
            let what = format!("{}: this exemption is for nobody", quoted(&rule.id.text));
            let alone = solver.possible(&[(&row.condition.root, true)]);
            let beside = rule.when.as_ref().filter(|_| alone);
            told.never(what, &row.condition, beside);
        }
        if let Some(until) = row.until
            && until < rules.in_force_from
        {
            let message = format!(
                "{}: this exemption ends on {until}, before the version is in force",
                quoted(&rule.id.text)
            );
            let diagnostic = Diagnostic::fault("lint.exemption_over", message)
                .label(&rules.source, row.row.span, "never counts")
                .help(format!(
                    "the version is in force from {}; take the exemption out, or mend its day",
                    rules.in_force_from
                ))
                .clause(clause.clone());
            told.found.push(diagnostic);
        }
    }
    rows_for_nobody(rules, rule, &mut told);
    let expressions = [Some(&rule.value), rule.when.as_ref()];
    let instead = rule.instead.iter().map(|row| &row.condition);
    for expression in expressions.into_iter().flatten().chain(instead) {
        told.inner(expression);
    }
}

/// Rows of a table by a trait for choices that `when` takes out.
fn rows_for_nobody(rules: &RulesFile, rule: &Rule, told: &mut Told<'_>) {
    let (Limits::ByTrait { by, rows, .. }, Some(when)) = (&rule.limits, &rule.when) else {
        return;
    };
    for (choice, row) in rows {
        if can_be(rules, rule, &[*by], &[*choice]) {
            continue;
        }
        let names = choice_names(rules, rule.applies_to, *by);
        let name = names.and_then(|names| names.get(choice.index()));
        let message = format!(
            "{}: the row for {} is for nobody",
            quoted(&rule.id.text),
            quoted(name.map_or("?", |name| &name.text))
        );
        let diagnostic = Diagnostic::notice("lint.row_for_nobody", message)
            .label(&rules.source, row.span, "never counts")
            .label(&rules.source, when.span, "takes that choice out")
            .help("take the row out, or mend `when`")
            .clause(rule.clause.text.clone());
        told.found.push(diagnostic);
    }
}

struct Told<'a> {
    rules: &'a RulesFile,
    clause: &'a str,
    found: &'a mut Vec<Diagnostic>,
}

impl Told<'_> {
    fn never(&mut self, what: String, condition: &Expression, beside: Option<&Expression>) {
        let message = format!("{what}: {} can't hold", quoted(&condition.text));
        let mut diagnostic = Diagnostic::fault("lint.condition_never", message)
            .label(&self.rules.source, condition.span, "never holds")
            .help("two parts of it exclude each other; mend the one that is wrong")
            .clause(self.clause);
        if let Some(beside) = beside {
            diagnostic = diagnostic.label(&self.rules.source, beside.span, "excluded by this");
        }
        self.found.push(diagnostic);
    }

    fn always(&mut self, id: &Name, condition: &Expression) {
        let message = format!(
            "{}: {} always holds",
            quoted(&id.text),
            quoted(&condition.text)
        );
        let diagnostic = Diagnostic::notice("lint.condition_always", message)
            .label(&self.rules.source, condition.span, "always holds")
            .help("take it out, or mend it")
            .clause(self.clause);
        self.found.push(diagnostic);
    }

    /// Conditions of counts and sums inside an expression.
    fn inner(&mut self, expression: &Expression) {
        let rules = self.rules;
        let mut never = Vec::new();
        expression
            .root
            .visit(expression.own, &rules.vocabulary, &mut |_, node| {
                let (over, condition) = match &node.op {
                    Op::Count { over, condition } => (over, condition),
                    Op::Sum {
                        over, condition, ..
                    } => (over, condition),
                    _ => return,
                };
                let part = rules.vocabulary.holding(*over).map(|one| one.part);
                if let (Some(own), Some(condition)) = (part, condition)
                    && !can_hold(rules, own, &[condition])
                {
                    never.push((condition.span, show_node(condition, own, &rules.vocabulary)));
                }
            });
        for (span, text) in never {
            let message = format!("nothing is ever counted: {} can't hold", quoted(&text));
            let diagnostic = Diagnostic::fault("lint.condition_never", message)
                .label(&rules.source, span, "never holds")
                .help("two parts of it exclude each other; mend the one that is wrong")
                .clause(self.clause);
            self.found.push(diagnostic);
        }
    }
}

/// A condition of a limit on marks.
pub(super) fn mark_condition(
    rules: &RulesFile,
    own: PartId,
    clause: &Name,
    condition: &Expression,
    found: &mut Vec<Diagnostic>,
) {
    let mut told = Told {
        rules,
        clause: &clause.text,
        found,
    };
    if !can_hold(rules, own, &[&condition.root]) {
        told.never("no item is ever counted".to_owned(), condition, None);
    }
}
