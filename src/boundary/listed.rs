//! Lists of choices and listed options: each choice, and each column of each option on its borders and beyond.

use super::solve::Solver;
use super::trial::Aim;
use super::world::{Frame, World};
use crate::expression::Type;
use crate::quantity::Exact;
use crate::rules::{Demand, LimitRow, Options, Rule};
use crate::vocabulary::ChoiceId;

/// Whether all declared choices may be there. What is not listed is no choice of `only`, and none that `without`
/// forbids.
pub(super) fn allows(demand: &Demand, declared: &[Option<ChoiceId>]) -> Option<bool> {
    let mut each = declared.iter();
    match demand {
        Demand::Only(list, _) => {
            Some(each.all(|choice| choice.is_some_and(|choice| list.contains(&choice))))
        }
        Demand::Without(list, _) => {
            Some(each.all(|choice| choice.is_none_or(|choice| !list.contains(&choice))))
        }
        Demand::Bounds(_) | Demand::Equals(..) | Demand::Options(_) | Demand::None => None,
    }
}

/// Each choice by itself; in a list also each one that may not be there beside one that may.
pub(super) fn of_list<'r>(
    solver: &Solver<'_>,
    rule: &'r Rule,
    row: &'r LimitRow,
) -> Vec<(String, Aim<'r>)> {
    let (part, slot, many) = match rule.value.yields.kind {
        Type::Choice(part, slot) => (part, slot, false),
        Type::AnyOf(part, slot) => (part, slot, true),
        Type::Quantity(_)
        | Type::Count
        | Type::EventLevel
        | Type::Date
        | Type::YesNo
        | Type::Truth
        | Type::Profile
        | Type::Line
        | Type::Section
        | Type::LoadTest
        | Type::Outline => return Vec::new(),
    };
    let of = Frame {
        own: Frame::of(rule.applies_to).own,
        part,
    };
    let word = |choice: Option<ChoiceId>| solver.choice_word(part, slot, choice);
    let may = |choice: Option<ChoiceId>| allows(&row.demand, &[choice]) == Some(true);
    let all = solver.choices(of, slot.index());
    let good = all.iter().copied().find(|choice| may(*choice));
    let mut found = Vec::new();
    for choice in all {
        let alone = if many {
            Aim::List(vec![choice])
        } else {
            Aim::Choice(choice)
        };
        found.push((format!("declared {}", word(choice)), alone));
        if let (true, false, Some(good)) = (many, may(choice), good) {
            let title = format!("declared {} and {}", word(good), word(choice));
            found.push((title, Aim::List(vec![good, choice])));
        }
    }
    found
}

/// Each column of each option on both borders and beyond them, the others as listed; and the columns of two options
/// mixed.
pub(super) fn of_options<'r>(options: &'r Options) -> Vec<(String, Aim<'r>)> {
    let mut found = Vec::new();
    for row in &options.rows {
        let listed: Vec<Exact> = row
            .values
            .iter()
            .map(|(one, _)| one.value.clone())
            .collect();
        let name = &row.name.text;
        found.push((format!("option {name}"), Aim::Columns(listed.clone())));
        for (at, (column, value)) in options.columns.iter().zip(&listed).enumerate() {
            let reach = column.within.of(value);
            let little = Exact::power_of_ten(value.leading_exponent() - 3);
            let beyond = reach.add(&little);
            let mut off = vec![("beyond the border", beyond)];
            if !reach.is_zero() {
                off.push(("on the border", reach));
            }
            for (words, off) in off {
                for (side, off) in [("below", off.neg()), ("above", off.clone())] {
                    let mut values = listed.clone();
                    if let Some(slot) = values.get_mut(at) {
                        *slot = value.add(&off);
                    }
                    let column = &column.value.text;
                    let title = format!("option {name}, {column} {words} {side}");
                    found.push((title, Aim::Columns(values)));
                }
            }
        }
    }
    for pair in options.rows.windows(2) {
        let [one, other] = pair else { continue };
        let (first, rest) = (one.values.iter().take(1), other.values.iter().skip(1));
        let mixed = first.chain(rest).map(|(one, _)| one.value.clone());
        let column = options.columns.first().map_or("", |one| &one.value.text);
        let title = format!(
            "{column} of {}, the rest of {}",
            one.name.text, other.name.text
        );
        found.push((title, Aim::Columns(mixed.collect())));
    }
    found
}

impl Solver<'_> {
    /// A world in which each column comes to a value.
    pub fn in_columns(&self, rule: &Rule, world: &World, values: &[Exact]) -> Option<World> {
        let frame = Frame::of(rule.applies_to);
        let Demand::Options(options) = listed_of(rule)? else {
            return None;
        };
        let mut each = options.columns.iter().zip(values);
        each.try_fold(world.clone(), |world, (column, value)| {
            let root = &column.value.root;
            match self.value(root, frame, &world) {
                Some(known) => (known == *value).then_some(world),
                None => self.reach((root, None), frame, value, &world, false),
            }
        })
    }

    /// Whether a world has one of the options, in all its columns; borders belong to them.
    pub fn is_listed(&self, rule: &Rule, options: &Options, world: &World) -> Option<bool> {
        let frame = Frame::of(rule.applies_to);
        let values = options.columns.iter();
        let values = values.map(|column| self.value(&column.value.root, frame, world));
        let values: Vec<Exact> = values.collect::<Option<_>>()?;
        Some(options.rows.iter().any(|row| {
            let cells = options.columns.iter().zip(&row.values).zip(&values);
            let mut cells = cells.map(|((column, (listed, _)), value)| {
                value.sub(&listed.value).abs() <= column.within.of(&listed.value)
            });
            cells.all(|near| near)
        }))
    }
}

/// The listed options of a rule; they stand by themselves, in no table.
fn listed_of(rule: &Rule) -> Option<&Demand> {
    match &rule.limits {
        crate::rules::Limits::Direct(row) => Some(&row.demand),
        crate::rules::Limits::ByTrait { .. }
        | crate::rules::Limits::ByTraits { .. }
        | crate::rules::Limits::ByZone { .. }
        | crate::rules::Limits::ByLevel { .. } => None,
    }
}
