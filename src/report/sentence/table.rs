//! Limits in words, and tables of them.

use crate::expression::{Op, Type};
use crate::quantity::Quantity;
use crate::rules::{
    Bound, BoundKind, Column, Demand, Equals, Judged, LimitRow, Limits, MarkLimits, MarkRule,
    OptionRow, Options, Rule, Within,
};
use crate::vocabulary::{ChoiceId, TraitId, ZoneId};

use super::super::words::plain_name;
use super::phrase::Phrase;
use super::value::Speaker;
use super::{Wording, rule};

/// A table of limits.
#[derive(Clone, Debug)]
pub(in crate::report) struct Table {
    /// What the rows go by: `construction`, `level of the event`.
    pub by: String,
    /// The rows: what they are for, and the limits.
    pub rows: Vec<(String, Phrase)>,
}

/// The table of a rule that has one.
pub(in crate::report) fn rule_table(wording: &Wording<'_>, rule: &Rule) -> Option<Table> {
    let speaker = Speaker::new(wording, rule.applies_to);
    let rows = speaker.rows(&rule.limits)?;
    Some(Table {
        by: speaker.by(&rule.limits)?,
        rows: rows
            .into_iter()
            .map(|(label, row)| (label, speaker.demand(rule, row)))
            .collect(),
    })
}

/// The table of limits on marks that go by the level of the event.
pub(in crate::report) fn mark_table(wording: &Wording<'_>, mark: &MarkRule) -> Option<Table> {
    match &mark.limits {
        MarkLimits::Direct(_) => None,
        MarkLimits::ByLevel { rows, .. } => Some(Table {
            by: LEVEL.to_owned(),
            rows: rows
                .iter()
                .map(|(id, limit)| {
                    let label = wording.rules.vocabulary.event_levels.get(id.index());
                    let label = label.map_or_else(String::new, |name| plain_name(&name.text));
                    (
                        label,
                        Phrase::of("at most ").number(limit.at_most.to_string()),
                    )
                })
                .collect(),
        }),
    }
}

const LEVEL: &str = "level of the event";
const ZONE: &str = "place";

impl Speaker<'_> {
    /// What a table goes by.
    pub(super) fn by(&self, limits: &Limits) -> Option<String> {
        match limits {
            Limits::Direct(_) => None,
            Limits::ByTrait { by, .. } => {
                let part = self.rules.vocabulary.part(self.own);
                let one = part.and_then(|part| part.traits.get(by.index()));
                Some(one.map_or_else(String::new, |one| plain_name(&one.name.text)))
            }
            Limits::ByTraits { by, .. } => {
                let part = self.rules.vocabulary.part(self.own);
                let name = |id: &TraitId| {
                    let one = part.and_then(|part| part.traits.get(id.index()));
                    one.map_or_else(String::new, |one| plain_name(&one.name.text))
                };
                Some(by.iter().map(name).collect::<Vec<_>>().join(" and "))
            }
            Limits::ByZone { .. } => Some(ZONE.to_owned()),
            Limits::ByLevel { .. } => Some(LEVEL.to_owned()),
        }
    }

    /// The words of a choice of a trait of the item.
    fn word(&self, of: TraitId, id: ChoiceId) -> String {
        let part = self.rules.vocabulary.part(self.own);
        let names = part
            .and_then(|part| part.traits.get(of.index()))
            .map_or(&[][..], |one| one.kind.names());
        names
            .get(id.index())
            .map_or_else(String::new, |name| plain_name(&name.text))
    }

    /// The rows of a table with what they are for.
    pub(super) fn rows<'l>(&self, limits: &'l Limits) -> Option<Vec<(String, &'l LimitRow)>> {
        match limits {
            Limits::Direct(_) => None,
            Limits::ByTrait { by, rows, .. } => {
                let rows = rows.iter();
                Some(rows.map(|(id, row)| (self.word(*by, *id), row)).collect())
            }
            Limits::ByTraits { by, rows, .. } => {
                let label = |ids: &[ChoiceId]| {
                    let words = by.iter().zip(ids).map(|(by, id)| self.word(*by, *id));
                    words.collect::<Vec<_>>().join(" ")
                };
                Some(rows.iter().map(|(ids, row)| (label(ids), row)).collect())
            }
            Limits::ByZone { rows, .. } => {
                let label = |id: &Option<ZoneId>| match id {
                    Some(id) => self
                        .zone_of(*id)
                        .map_or_else(String::new, |zone| self.zone(zone).text()),
                    None => "elsewhere".to_owned(),
                };
                Some(rows.iter().map(|(id, row)| (label(id), row)).collect())
            }
            Limits::ByLevel { rows, .. } => {
                let levels = &self.rules.vocabulary.event_levels;
                let label = |id: ChoiceId| {
                    levels
                        .get(id.index())
                        .map_or_else(String::new, |name| plain_name(&name.text))
                };
                Some(rows.iter().map(|(id, row)| (label(*id), row)).collect())
            }
        }
    }

    /// What a row asks: `at least 4.70 mm`, `from 60.0 mm to 120.0 mm`, `woven`, `no limit`.
    pub(in crate::report) fn demand(&self, rule: &Rule, row: &LimitRow) -> Phrase {
        match &row.demand {
            Demand::Bounds(bounds) => self.range(bounds),
            Demand::Equals(equals, _) => self.equals(rule, equals),
            Demand::Only(choices, _) => Phrase::of("only ").then(self.choices(rule, choices, "or")),
            Demand::Without(choices, _) => {
                Phrase::of("without ").then(self.choices(rule, choices, "and"))
            }
            Demand::Options(options) => self.options(options),
            Demand::None => Phrase::of("no limit"),
        }
    }

    /// Whether the value of a rule is several choices at once, as the timbers of a hull are.
    fn lists_several(&self, rule: &Rule) -> bool {
        matches!(rule.value.yields.kind, Type::AnyOf(..))
    }

    /// Choices of the value of a rule: `wood, glass or epoxy`.
    fn choices(&self, rule: &Rule, choices: &[ChoiceId], last: &str) -> Phrase {
        let (Type::Choice(part, of) | Type::AnyOf(part, of)) = rule.value.yields.kind else {
            return Phrase::default();
        };
        let speaker = Speaker { own: part, ..*self };
        let words = choices.iter().map(|id| Phrase::of(speaker.word(of, *id)));
        Phrase::listed(words.collect(), last)
    }

    /// `one of these, within 10 % in each: t25 with a flange width of 25 mm and …`
    fn options(&self, options: &Options) -> Phrase {
        let near = |column: &Column| match &column.within {
            Within::Exactly => Phrase::of("exactly"),
            Within::Share(within) | Within::Distance(within) => {
                Phrase::of("within ").number(within.as_written())
            }
        };
        // What holds for every column is said once.
        let nears: Vec<Phrase> = options.columns.iter().map(near).collect();
        let (lead, said_once) = match nears.split_first() {
            Some((first, others)) if others.iter().all(|one| one == first) => {
                let each = if others.is_empty() {
                    ""
                } else {
                    ", each value"
                };
                let lead = Phrase::of(format!("one of these{each} "));
                (lead.then(first.clone()).words(": "), true)
            }
            _ => (Phrase::of("one of these: "), false),
        };
        let value = |column: &Column, listed: &Quantity| {
            let said = self
                .value(&column.value.root)
                .words(" ")
                .number(listed.as_written());
            if said_once {
                said
            } else {
                said.words(" ").then(near(column))
            }
        };
        let row = |row: &OptionRow| {
            let cells = options.columns.iter().zip(&row.values);
            let cells = cells.map(|(column, (listed, _))| value(column, listed));
            Phrase::of(format!("{} with ", plain_name(&row.name.text)))
                .then(Phrase::listed(cells.collect(), "and"))
        };
        let rows = options.rows.iter().map(row).collect();
        lead.then(Phrase::joined(rows, "; ", "; "))
    }

    /// A limit: as written if it is a number, else in words; with the step that values are rounded to.
    pub(super) fn limit(&self, bound: &Bound) -> Phrase {
        self.bare(bound).then(rounding(&[bound]))
    }

    /// A limit without the step.
    fn bare(&self, bound: &Bound) -> Phrase {
        match &bound.limit.root.op {
            Op::Quantity { .. } => Phrase::of_number(words_of(&bound.limit.text)),
            _ if bound.rounded.is_some() => Phrase::of_number(words_of(&bound.limit.text)),
            _ => self.value(&bound.limit.root),
        }
    }

    /// What is allowed: `from 75 deg to 110 deg`, `at least 4.70 mm`, `at least 4.7 mm when rounded to 0.1 mm`.
    pub(super) fn range(&self, bounds: &[Bound]) -> Phrase {
        let (lower, upper) = sides(bounds);
        let both = match (lower, upper) {
            (Some(lower), Some(upper)) => rounding(&[lower, upper]),
            _ => Phrase::default(),
        };
        let one_step = !both.is_empty();
        let limit = |bound: &Bound| {
            if one_step {
                self.bare(bound)
            } else {
                self.limit(bound)
            }
        };
        if let (Some(lower), Some(upper)) = (lower, upper)
            && !lower.kind.is_strict()
            && !upper.kind.is_strict()
        {
            return Phrase::of("from ")
                .then(limit(lower))
                .words(" to ")
                .then(limit(upper))
                .then(both);
        }
        let said = [lower, upper]
            .into_iter()
            .flatten()
            .map(|bound| Phrase::of(format!("{} ", bound.kind.words())).then(limit(bound)))
            .collect();
        Phrase::listed(said, "and").then(both)
    }

    /// What is not allowed: `less than 75 deg or more than 110 deg`.
    pub(super) fn breach(&self, bounds: &[Bound]) -> Phrase {
        let (lower, upper) = sides(bounds);
        let both = match (lower, upper) {
            (Some(lower), Some(upper)) => rounding(&[lower, upper]),
            _ => Phrase::default(),
        };
        let one_step = !both.is_empty();
        let limit = |bound: &Bound| {
            if one_step {
                self.bare(bound)
            } else {
                self.limit(bound)
            }
        };
        let said = [lower, upper]
            .into_iter()
            .flatten()
            .map(|bound| match bound.kind {
                BoundKind::AtLeast => Phrase::of("less than ").then(limit(bound)),
                BoundKind::AtMost => Phrase::of("more than ").then(limit(bound)),
                BoundKind::MoreThan => limit(bound).words(" or less"),
                BoundKind::LessThan => limit(bound).words(" or more"),
            })
            .collect();
        Phrase::listed(said, "or").then(both)
    }

    pub(super) fn equals(&self, rule: &Rule, equals: &Equals) -> Phrase {
        match equals {
            Equals::YesNo(true) => Phrase::of("yes"),
            Equals::YesNo(false) => Phrase::of("no"),
            Equals::Count(count) => Phrase::of_number(count.to_string()),
            Equals::Choice(id) => {
                let Type::Choice(part, of) = rule.value.yields.kind else {
                    return Phrase::of("a choice");
                };
                Phrase::of(Speaker { own: part, ..*self }.word(of, *id))
            }
        }
    }

    /// What follows `shall`: `be at least 4.70 mm`, `at no place be less than the limit for its construction:
    /// plate 6.00 mm, insert 4.70 mm`.
    pub(super) fn shall(&self, rule: &Rule) -> Phrase {
        let each_place = rule::each_place(rule.judged);
        let (Some(rows), Some(by)) = (self.rows(&rule.limits), self.by(&rule.limits)) else {
            return match &rule.limits {
                Limits::Direct(row) => self.shall_row(rule, row, each_place),
                Limits::ByTrait { .. }
                | Limits::ByTraits { .. }
                | Limits::ByZone { .. }
                | Limits::ByLevel { .. } => Phrase::default(),
            };
        };
        let its = match rule.limits {
            Limits::ByTrait { .. } | Limits::ByTraits { .. } => format!("its {by}"),
            Limits::ByZone { .. } | Limits::ByLevel { .. } | Limits::Direct(_) => {
                format!("the {by}")
            }
        };
        let listed = |said: Vec<Phrase>| self.listed_rows(&rule.limits, &rows, said);
        if let Some(kind) = single_kind(&rows) {
            let lead = match (each_place, kind) {
                (true, BoundKind::AtLeast) => "at no place be less than the limit for ",
                (true, BoundKind::AtMost) => "at no place be more than the limit for ",
                (true, BoundKind::MoreThan) => "at every place be more than the limit for ",
                (true, BoundKind::LessThan) => "at every place be less than the limit for ",
                (false, BoundKind::AtLeast) => "be at least the limit for ",
                (false, BoundKind::AtMost) => "be at most the limit for ",
                (false, BoundKind::MoreThan) => "be more than the limit for ",
                (false, BoundKind::LessThan) => "be less than the limit for ",
            };
            let bounds: Vec<&Bound> = rows
                .iter()
                .filter_map(|(_, row)| first_bound(row))
                .collect();
            let step = rounding(&bounds);
            let one_step = !step.is_empty();
            let said = bounds
                .into_iter()
                .map(|bound| {
                    if one_step {
                        self.bare(bound)
                    } else {
                        self.limit(bound)
                    }
                })
                .collect();
            return Phrase::of(format!("{lead}{its}"))
                .then(step)
                .words(": ")
                .then(listed(said));
        }
        let numbers = rows
            .iter()
            .all(|(_, row)| matches!(row.demand, Demand::Bounds(_) | Demand::None));
        let lead = match (numbers, each_place) {
            (true, true) => "at no place lie outside the limits for ",
            (true, false) => "lie within the limits for ",
            (false, true) => "at every place be as asked for ",
            (false, false) => "be as asked for ",
        };
        let said = rows.iter().map(|(_, row)| self.demand(rule, row)).collect();
        Phrase::of(format!("{lead}{its}: ")).then(listed(said))
    }

    /// The rows of a table one after another: `plate 6.00 mm, insert 4.70 mm`; by two traits `gale woven 6.00 m2,
    /// laminate 5.50 m2; small woven …`; by place `within 80 mm of the pivot, from 60 mm to 110 mm; elsewhere, …`.
    fn listed_rows(
        &self,
        limits: &Limits,
        rows: &[(String, &LimitRow)],
        said: Vec<Phrase>,
    ) -> Phrase {
        let labels = rows.iter().map(|(label, _)| label.as_str());
        match limits {
            Limits::Direct(_) | Limits::ByTrait { .. } | Limits::ByLevel { .. } => {
                let rows = labels.zip(said);
                let rows = rows.map(|(label, said)| Phrase::of(format!("{label} ")).then(said));
                Phrase::joined(rows.collect(), ", ", ", ")
            }
            Limits::ByZone { .. } => {
                let rows = labels.zip(said);
                let rows = rows.map(|(label, said)| Phrase::of(format!("{label}, ")).then(said));
                Phrase::joined(rows.collect(), "; ", "; ")
            }
            Limits::ByTraits { by, rows, .. } => {
                let mut groups: Vec<(String, Vec<Phrase>)> = Vec::new();
                for ((ids, _), said) in rows.iter().zip(said) {
                    let mut words = by.iter().zip(ids).map(|(by, id)| self.word(*by, *id));
                    let first = words.next().unwrap_or_default();
                    let others: Vec<String> = words.collect();
                    let said = Phrase::of(format!("{} ", others.join(" "))).then(said);
                    match groups.last_mut() {
                        Some((label, group)) if *label == first => group.push(said),
                        _ => groups.push((first, vec![said])),
                    }
                }
                let groups = groups.into_iter().map(|(label, group)| {
                    Phrase::of(format!("{label} ")).then(Phrase::joined(group, ", ", ", "))
                });
                Phrase::joined(groups.collect(), "; ", "; ")
            }
        }
    }

    pub(super) fn shall_row(&self, rule: &Rule, row: &LimitRow, each_place: bool) -> Phrase {
        match (&row.demand, each_place) {
            (Demand::Bounds(bounds), true) => {
                Phrase::of("at no place be ").then(self.breach(bounds))
            }
            (Demand::Bounds(bounds), false) => Phrase::of("be ").then(self.range(bounds)),
            (Demand::Equals(equals, _), true) => {
                Phrase::of("at every place be ").then(self.equals(rule, equals))
            }
            (Demand::Equals(equals, _), false) => Phrase::of("be ").then(self.equals(rule, equals)),
            (Demand::Only(choices, _), _) if self.lists_several(rule) => {
                Phrase::of("be nothing but ").then(self.choices(rule, choices, "and"))
            }
            (Demand::Only(choices, _), _) => {
                Phrase::of("be ").then(self.choices(rule, choices, "or"))
            }
            (Demand::Without(choices, _), _) if self.lists_several(rule) => {
                Phrase::of("hold no ").then(self.choices(rule, choices, "or"))
            }
            (Demand::Without(choices, _), _) => {
                Phrase::of("not be ").then(self.choices(rule, choices, "or"))
            }
            (Demand::Options(_), _) => Phrase::of("be ").then(self.demand(rule, row)),
            (Demand::None, _) => Phrase::of("have no limit"),
        }
    }
}

/// ` when rounded to 0.1 mm`, where all bounds have that one step; nothing where one has another, or none.
fn rounding(bounds: &[&Bound]) -> Phrase {
    let step = |bound: &&Bound| {
        bound
            .rounded
            .as_ref()
            .map(|rounded| rounded.to.as_written())
    };
    let mut steps = bounds.iter().map(step);
    match steps.next().flatten() {
        Some(first) if steps.all(|other| other.as_ref() == Some(&first)) => {
            Phrase::of(" when rounded to ").number(first)
        }
        _ => Phrase::default(),
    }
}

/// A text without line breaks and doubled blanks.
fn words_of(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The lower and the upper bound.
fn sides(bounds: &[Bound]) -> (Option<&Bound>, Option<&Bound>) {
    let lower = bounds.iter().find(|bound| bound.kind.is_lower());
    let upper = bounds.iter().find(|bound| !bound.kind.is_lower());
    (lower, upper)
}

fn first_bound(row: &LimitRow) -> Option<&Bound> {
    row.demand.bounds().first()
}

/// The kind of bound that every row has, if each has just one.
fn single_kind(rows: &[(String, &LimitRow)]) -> Option<BoundKind> {
    let mut kinds = rows.iter().map(|(_, row)| match row.demand.bounds() {
        [one] => Some(one.kind),
        _ => None,
    });
    let first = kinds.next()??;
    kinds.all(|kind| kind == Some(first)).then_some(first)
}

/// Whether the judgement is of each place.
pub(super) fn judged_each(judged: Judged) -> bool {
    match judged {
        Judged::WorstPlace => true,
        Judged::Unplaced | Judged::Mean => false,
    }
}
