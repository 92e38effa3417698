//! The rules of two versions side by side, as far as a fleet is asked for them: which are the same, which limits they have.

use super::before::New;
use super::model::LimitText;
use super::same::Shared;
use crate::check::RowRef;
use crate::prove::{Common, Side};
use crate::quantity::{Exact, Unit};
use crate::rules::{Bound, BoundKind, Demand, LimitRow, Limits, Rule, RulesFile};
use crate::vocabulary::{ChoiceId, PartId, ZoneId};

/// A rule of either version, or of both; a limit on marks; or what is asked beside the rules.
#[derive(Clone, Debug)]
pub(super) struct RuleHead {
    pub id: String,
    pub clause: String,
    pub title: String,
    pub part: String,
    pub of: Of,
    /// Whether both versions say the same, so that one answer serves both.
    pub same: bool,
    /// Whether it is proved that its change changes nothing.
    pub neutral: bool,
    /// The limits on numbers of the new version, where it is not the same.
    pub limits: Vec<LimitHead>,
}

/// What a head stands for, with the place in either file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Of {
    /// A rule.
    Rule {
        old: Option<usize>,
        new: Option<usize>,
    },
    /// A limit on marks.
    Marks {
        old: Option<usize>,
        new: Option<usize>,
    },
    /// Parts that must be there.
    Equipment,
    /// What the rules do not list.
    Silence,
}

impl Of {
    pub(super) fn versions(self) -> (bool, bool) {
        match self {
            Of::Rule { old, new } | Of::Marks { old, new } => (old.is_some(), new.is_some()),
            Of::Equipment | Of::Silence => (true, true),
        }
    }
}

/// A limit on a number.
#[derive(Clone, Debug)]
pub(super) struct LimitHead {
    pub row: RowRef,
    pub row_name: Option<String>,
    pub kind: BoundKind,
    pub unit: Unit,
    pub decimals: Option<u8>,
    pub old: Option<Exact>,
    /// The unit and the decimals of the old limit, as its file has them.
    pub old_written: Option<(Unit, Option<u8>)>,
    /// The old limit and the new one as the files have them.
    pub texts: (Option<LimitText>, Option<LimitText>),
    pub new: Option<Exact>,
    /// Which bound the old version has on this side of this row.
    pub old_kind: Option<BoundKind>,
    /// Whether it is new to items that meet it.
    pub new_to: New,
    /// The width of a bin, base units.
    pub width: f64,
}

/// The rules of both versions: the new version's in the order of its file, then what only the old one has, then marks, then
/// what is asked beside.
pub(super) fn heads(common: &Common<'_>, neutral: &[String]) -> Vec<RuleHead> {
    let (old, new) = (common.old, common.new);
    let shared = Shared::of(old, new);
    let same_marks = shared.marks();
    let mut found = Vec::new();
    for (at, rule) in new.rules.iter().enumerate() {
        let old_at = old.rules.iter().position(|one| one.id.text == rule.id.text);
        let same = old_at.is_some() && shared.rule(&rule.id.text);
        let old_rule = old_at.and_then(|at| old.rule(at));
        found.push(RuleHead {
            id: rule.id.text.clone(),
            clause: rule.clause.text.clone(),
            title: rule.title.clone(),
            part: part_name(new, rule.applies_to),
            of: Of::Rule {
                old: old_at,
                new: Some(at),
            },
            same,
            neutral: false,
            limits: if same {
                Vec::new()
            } else {
                limits(common, rule, old_rule, shared.reach(&rule.id.text))
            },
        });
    }
    for (at, rule) in old.rules.iter().enumerate() {
        if new.rules.iter().all(|one| one.id.text != rule.id.text) {
            found.push(RuleHead {
                id: rule.id.text.clone(),
                clause: rule.clause.text.clone(),
                title: rule.title.clone(),
                part: part_name(old, rule.applies_to),
                of: Of::Rule {
                    old: Some(at),
                    new: None,
                },
                same: false,
                neutral: false,
                limits: Vec::new(),
            });
        }
    }
    let marks = |at: Option<usize>, file: &RulesFile, of: Of| {
        at.and_then(|at| file.marks.get(at)).map(|one| RuleHead {
            id: one.id.text.clone(),
            clause: one.clause.text.clone(),
            title: one.title.clone(),
            part: part_name(file, crate::vocabulary::Vocabulary::BOAT),
            of,
            same: same_marks,
            neutral: false,
            limits: Vec::new(),
        })
    };
    for (at, one) in new.marks.iter().enumerate() {
        let old_at = old
            .marks
            .iter()
            .position(|other| other.id.text == one.id.text);
        found.extend(marks(
            Some(at),
            new,
            Of::Marks {
                old: old_at,
                new: Some(at),
            },
        ));
    }
    for (at, one) in old.marks.iter().enumerate() {
        if new.marks.iter().all(|other| other.id.text != one.id.text) {
            found.extend(marks(
                Some(at),
                old,
                Of::Marks {
                    old: Some(at),
                    new: None,
                },
            ));
        }
    }
    // A rule that goes takes what it listed with it.
    let listed = same_marks && found.iter().all(|head: &RuleHead| head.same);
    for (id, title, of, same) in [
        (
            "equipment",
            "Parts that a boat must have",
            Of::Equipment,
            shared.equipment(),
        ),
        ("silence", "What the rules do not list", Of::Silence, listed),
    ] {
        found.push(RuleHead {
            id: id.to_owned(),
            clause: String::new(),
            title: title.to_owned(),
            part: part_name(new, crate::vocabulary::Vocabulary::BOAT),
            of,
            same,
            neutral: false,
            limits: Vec::new(),
        });
    }
    for head in &mut found {
        head.neutral = neutral.contains(&head.id);
    }
    found
}

fn part_name(rules: &RulesFile, part: PartId) -> String {
    let part = rules.vocabulary.part(part);
    part.map_or(String::new(), |part| part.name.text.clone())
}

/// A row with what it is called.
type Named<'r> = (RowRef, Option<String>, &'r LimitRow);

fn limits(
    common: &Common<'_>,
    rule: &Rule,
    old_rule: Option<&Rule>,
    same_reach: bool,
) -> Vec<LimitHead> {
    let was = old_rule
        .map(|old| named_rows(common, Side::Old, old))
        .unwrap_or_default();
    let mut found = Vec::new();
    for (row, name, limit) in named_rows(common, Side::New, rule) {
        let Demand::Bounds(bounds) = &limit.demand else {
            continue;
        };
        let before = was.iter().find(|(other, other_name, _)| {
            std::mem::discriminant(other) == std::mem::discriminant(&row) && *other_name == name
        });
        for bound in bounds {
            let before = before.and_then(|(_, _, before)| match &before.demand {
                Demand::Bounds(list) => list
                    .iter()
                    .find(|one| one.kind.is_lower() == bound.kind.is_lower()),
                Demand::Equals(..)
                | Demand::Only(..)
                | Demand::Without(..)
                | Demand::Options(_)
                | Demand::None => None,
            });
            let old = before.and_then(Bound::exact_limit);
            let new = bound.exact_limit();
            let unit = bound.unit();
            let mut limit = LimitHead {
                row,
                row_name: name.clone(),
                kind: bound.kind,
                unit,
                decimals: bound.decimals(),
                width: bin_width(old.as_ref(), new.as_ref(), unit),
                old,
                old_written: before.map(|before| (before.unit(), before.decimals())),
                texts: (before.map(text_of), Some(text_of(bound))),
                new,
                old_kind: before.map(|bound| bound.kind),
                new_to: New::All,
            };
            limit.new_to = limit.new_to(old_rule.is_some(), same_reach);
            found.push(limit);
        }
    }
    found
}

/// A limit as its file has it.
fn text_of(bound: &Bound) -> LimitText {
    let rounded = bound.rounded.as_ref();
    LimitText {
        text: bound.limit.text.clone(),
        rounded_to: rounded.map(|rounded| rounded.to.as_written()),
    }
}

/// What the rows of a rule are called, in the order of [`crate::rules::rows`]; nothing where there is a single row.
pub fn row_names(common: &Common<'_>, rule: &Rule) -> Vec<Option<String>> {
    let named = named_rows(common, Side::New, rule).into_iter();
    named.map(|(_, name, _)| name).collect()
}

/// The rows of a rule: main rows by the names of their choices in the new version, where it has them; exemptions by their
/// reasons.
fn named_rows<'r>(common: &Common<'_>, side: Side, rule: &'r Rule) -> Vec<Named<'r>> {
    let file = match side {
        Side::Old => common.old,
        Side::New => common.new,
    };
    let part = file.vocabulary.part(rule.applies_to);
    let word = |by: crate::vocabulary::TraitId, id: ChoiceId| {
        let own = part
            .and_then(|part| part.traits.get(by.index()))
            .and_then(|one| one.kind.names().get(id.index()))
            .map_or(String::new(), |name| name.text.clone());
        let parts = common
            .parts
            .iter()
            .find(|part| part.at.at(side) == Some(rule.applies_to));
        let same = parts
            .and_then(|part| part.traits.iter().find(|one| one.at.at(side) == Some(by)))
            .and_then(|one| {
                one.kind
                    .choices()
                    .iter()
                    .find(|choice| choice.at.at(side) == Some(id))
            });
        same.map_or(own, |choice| choice.name.clone())
    };
    let main = |at: usize| RowRef::Main(at);
    let mut found: Vec<Named<'r>> = match &rule.limits {
        Limits::Direct(row) => vec![(main(0), None, row)],
        Limits::ByTrait { by, rows, .. } => {
            let rows = rows.iter().enumerate();
            rows.map(|(at, (id, row))| (main(at), Some(word(*by, *id)), row))
                .collect()
        }
        Limits::ByTraits { by, rows, .. } => {
            let name = |ids: &[ChoiceId]| {
                let words: Vec<String> =
                    by.iter().zip(ids).map(|(by, id)| word(*by, *id)).collect();
                words.join(", ")
            };
            let rows = rows.iter().enumerate();
            rows.map(|(at, (ids, row))| (main(at), Some(name(ids)), row))
                .collect()
        }
        Limits::ByZone { rows, .. } => {
            let zone = |id: &Option<ZoneId>| match id {
                Some(id) => {
                    let zone = part.and_then(|part| part.zones.get(id.index()));
                    zone.map_or(String::new(), |zone| zone.name.text.clone())
                }
                None => "elsewhere".to_owned(),
            };
            let rows = rows.iter().enumerate();
            rows.map(|(at, (id, row))| (main(at), Some(zone(id)), row))
                .collect()
        }
        Limits::ByLevel { rows, .. } => {
            let level = |id: &ChoiceId| {
                let name = file.vocabulary.event_levels.get(id.index());
                name.map_or(String::new(), |name| name.text.clone())
            };
            let rows = rows.iter().enumerate();
            rows.map(|(at, (id, row))| (main(at), Some(level(id)), row))
                .collect()
        }
    };
    let instead = rule.instead.iter().enumerate();
    found.extend(
        instead.map(|(at, one)| (RowRef::Exemption(at), Some(one.because.clone()), &one.row)),
    );
    found
}

/// A quarter of the step between two limits, or a two-hundredth of a limit, rounded to 1, 2 or 5 times a power of ten of the
/// unit that numbers are shown in.
fn bin_width(old: Option<&Exact>, new: Option<&Exact>, unit: Unit) -> f64 {
    let base = unit.factor().to_f64().abs();
    let base = if base > 0.0 { base } else { 1.0 };
    let step = match (old, new) {
        (Some(old), Some(new)) if old != new => new.sub(old).to_f64().abs() / 4.0,
        (_, Some(limit)) if !limit.is_zero() => limit.to_f64().abs() / 200.0,
        _ => base / 100.0,
    };
    nice(step / base) * base
}

/// The nearest of 1, 2 and 5 times a power of ten that is not larger.
fn nice(step: f64) -> f64 {
    let mut power = 1e-9;
    while power * 10.0 <= step && power < 1e12 {
        power *= 10.0;
    }
    let times = step / power;
    let first = [5.0, 2.0].into_iter().find(|digit| *digit <= times);
    first.unwrap_or(1.0) * power
}
