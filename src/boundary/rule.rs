//! The cases of one rule: every row on both sides of its limits, what is missing, another kind, both sides of a
//! condition and of an exemption.

use super::solve::Solver;
use super::trial::{Aim, Expect, Trial, aims};
use super::world::{Claim, Frame, World};
use crate::quantity::Exact;
use crate::rules::{Demand, LimitRow, Limits, Rule, Silence, Stage};
use crate::vocabulary::{ChoiceId, TraitId};

/// The cases of a rule, and in words what no case could be made of.
#[derive(Clone, Debug, Default)]
pub(super) struct Trials {
    pub list: Vec<Trial>,
    pub left_out: Vec<String>,
}

/// A row of the main limits by name, with what selects it.
pub(super) struct Row<'r> {
    pub name: String,
    pub world: World,
    pub row: &'r LimitRow,
}

/// Makes the cases of one rule.
pub(super) struct Maker<'r> {
    pub solver: Solver<'r>,
    pub rule: &'r Rule,
    pub frame: Frame,
    pub purpose: Stage,
    trials: Trials,
}

/// The cases of a rule.
pub(super) fn of_rule<'r>(solver: Solver<'r>, rule: &'r Rule) -> Trials {
    let stages = if rule.names_event {
        [
            Stage::EventInspection,
            Stage::Certification,
            Stage::SelfCheck,
        ]
    } else {
        [
            Stage::Certification,
            Stage::EventInspection,
            Stage::SelfCheck,
        ]
    };
    let purpose = stages.into_iter().find(|stage| *rule.checked_at.at(*stage));
    let mut maker = Maker {
        solver,
        rule,
        frame: Frame::of(rule.applies_to),
        purpose: purpose.unwrap_or(Stage::Certification),
        trials: Trials::default(),
    };
    maker.all();
    maker.trials
}

impl<'r> Maker<'r> {
    fn all(&mut self) {
        let rows = self.rows();
        for row in &rows {
            self.row(row);
        }
        self.zoned();
        let rows = if rows.is_empty() {
            self.first_of_zones()
        } else {
            rows
        };
        self.missing(&rows);
        self.first_values(&rows);
        self.other_kinds();
        self.condition(&rows);
        for number in 0..self.rule.instead.len() {
            self.exemption(number, &rows);
        }
        self.no_event(&rows);
    }

    pub(super) fn left_out(&mut self, what: impl Into<String>) {
        let what = what.into();
        if !self.trials.left_out.contains(&what) {
            self.trials.left_out.push(what);
        }
    }

    /// The rows of the main limits; a single row has no name.
    fn rows(&self) -> Vec<Row<'r>> {
        let row = |name: String, world: World, row: &'r LimitRow| Row { name, world, row };
        match &self.rule.limits {
            Limits::Direct(one) => vec![row(String::new(), self.at_event(), one)],
            Limits::ByTrait { by, rows, .. } => rows
                .iter()
                .map(|(choice, one)| {
                    let word = self.solver.choice_word(self.frame.part, *by, Some(*choice));
                    let world = self.chosen(*by, Some(*choice));
                    row(word.to_owned(), world, one)
                })
                .collect(),
            Limits::ByTraits { by, rows, .. } => rows
                .iter()
                .map(|(choices, one)| {
                    let each = || by.iter().zip(choices);
                    let part = self.frame.part;
                    let words =
                        each().map(|(by, id)| self.solver.choice_word(part, *by, Some(*id)));
                    let words: Vec<&str> = words.collect();
                    let mut world = self.at_event();
                    let claims = each();
                    let claims =
                        claims.map(|(by, choice)| (self.frame, *by, Claim::Choice(Some(*choice))));
                    world.claims.extend(claims);
                    row(words.join(" and "), world, one)
                })
                .collect(),
            // Each place has a limit of its own.
            Limits::ByZone { .. } => Vec::new(),
            Limits::ByLevel { rows, .. } => rows
                .iter()
                .map(|(level, one)| {
                    let levels = &self.solver.rules.vocabulary.event_levels;
                    let word = levels.get(level.index()).map_or("", |name| &name.text);
                    let world = World {
                        level: Some(*level),
                        ..World::default()
                    };
                    row(word.to_owned(), world, one)
                })
                .collect(),
        }
    }

    /// The first row of a table by zone, for cases that do not depend on where a place lies.
    fn first_of_zones(&self) -> Vec<Row<'r>> {
        let Limits::ByZone { rows, .. } = &self.rule.limits else {
            return Vec::new();
        };
        let row = |(_, row): &'r (Option<crate::vocabulary::ZoneId>, LimitRow)| Row {
            name: String::new(),
            world: self.at_event(),
            row,
        };
        rows.iter().take(1).map(row).collect()
    }

    /// A rule that names the event is asked at one.
    pub(super) fn at_event(&self) -> World {
        let levels = !self.solver.rules.vocabulary.event_levels.is_empty();
        let level = (self.rule.names_event && levels).then_some(ChoiceId(0));
        World {
            level,
            ..World::default()
        }
    }

    fn chosen(&self, by: TraitId, choice: Option<ChoiceId>) -> World {
        let mut world = self.at_event();
        world.claims.push((self.frame, by, Claim::Choice(choice)));
        world
    }

    /// Worlds in which the rule applies and no exemption does, made of one that selects a row.
    pub(super) fn applying(&self, world: &World) -> Vec<World> {
        let mut worlds = self.joined(
            vec![world.clone()],
            self.rule.when.as_ref().map(|when| &when.root),
            true,
        );
        for exemption in &self.rule.instead {
            worlds = self.joined(worlds, Some(&exemption.condition.root), false);
        }
        worlds
    }

    pub(super) fn joined(
        &self,
        worlds: Vec<World>,
        condition: Option<&crate::expression::Node>,
        wanted: bool,
    ) -> Vec<World> {
        let Some(condition) = condition else {
            return worlds;
        };
        let ways = self.solver.ways(condition, self.frame, wanted);
        let mut found: Vec<World> = Vec::new();
        for world in &worlds {
            found.extend(ways.iter().filter_map(|way| world.with(way)));
        }
        found
    }

    /// Adds a case with the value brought to an aim, if there is a way; tells what comes of it by `expect`.
    pub(super) fn add(
        &mut self,
        title: String,
        worlds: &[World],
        row: &'r LimitRow,
        aim: &Aim<'r>,
        expect: &dyn Fn(&Solver<'r>, &World) -> Option<Expect>,
    ) {
        for world in worlds {
            if let Some((world, stations, calm)) = self.made(world, row, aim)
                && let Some(expect) = expect(&self.solver, &world)
            {
                let trial = self.trial(title, world, expect);
                self.trials.list.push(Trial {
                    stations,
                    calm,
                    ..trial
                });
                return;
            }
        }
        self.left_out(format!("no numbers were found for “{title}”"));
    }

    pub(super) fn push(&mut self, trial: Trial) {
        self.trials.list.push(trial);
    }

    pub(super) fn trial(&self, title: String, world: World, expect: Expect) -> Trial {
        Trial {
            rule: self.rule.id.text.clone(),
            title,
            purpose: self.purpose,
            part: self.rule.applies_to,
            world,
            stations: None,
            calm: None,
            expect,
        }
    }

    /// A world in which the value is what it is aimed at, with the places of it.
    #[allow(clippy::type_complexity)]
    pub(super) fn made(
        &self,
        world: &World,
        row: &LimitRow,
        aim: &Aim<'r>,
    ) -> Option<(World, Option<super::places::Stations>, Option<World>)> {
        let (solver, rule) = (&self.solver, self.rule);
        if !rule.value.yields.placed {
            return Some((solver.aimed(rule, world, aim)?, None, None));
        }
        let world = solver.with_ends(rule, self.frame, world)?;
        let found = solver.aimed(rule, &world, aim)?;
        let stations = solver.stations(rule, self.frame, &found)?;
        // One place is aimed at; what the others have meets the limit anyway.
        let mut shared = found.clone();
        shared.numbers.retain(|(var, _)| !solver.is_placed(var));
        let calm = match rule.judged {
            crate::rules::Judged::WorstPlace => self.calm(row, &shared),
            crate::rules::Judged::Mean | crate::rules::Judged::Unplaced => None,
        };
        Some((found, Some(stations), calm))
    }

    /// A world well inside a row.
    fn calm(&self, row: &LimitRow, world: &World) -> Option<World> {
        self.calm_where(row, world, &|found, aim| {
            self.solver.meets(self.rule, row, found, aim) == Some(true)
        })
    }

    /// A world somewhat inside one of the bounds of a row, of which something holds.
    pub(super) fn calm_where(
        &self,
        row: &LimitRow,
        world: &World,
        holds: &dyn Fn(&World, &Aim<'_>) -> bool,
    ) -> Option<World> {
        let Demand::Bounds(bounds) = &row.demand else {
            return None;
        };
        for bound in bounds {
            let inward = if bound.kind.is_lower() { 1 } else { -1 };
            for steps in [10, 5, 2, 1] {
                let by =
                    super::trial::step(self.rule, bound).mul(&Exact::from_integer(steps * inward));
                let aim = Aim::Number {
                    less: Some(&bound.limit.root),
                    by,
                };
                if let Some(found) = self.solver.aimed(self.rule, world, &aim)
                    && holds(&found, &aim)
                {
                    return Some(found);
                }
            }
        }
        None
    }

    fn row(&mut self, row: &Row<'r>) {
        let worlds = self.applying(&row.world);
        if worlds.is_empty() {
            let name = if row.name.is_empty() {
                "it".to_owned()
            } else {
                format!("its row {}", row.name)
            };
            self.left_out(format!(
                "no way is known to bring about what {name} depends on"
            ));
            return;
        }
        let rule = self.rule;
        let aims = aims(&self.solver, rule, row.row);
        if aims.is_empty() {
            self.left_out("its limit is of a kind that no case is made for");
        }
        for (words, aim) in aims {
            let title = self.title(&row.name, &words);
            self.add(title, &worlds, row.row, &aim, &|solver, world| {
                solver.meets(rule, row.row, world, &aim).map(Expect::met)
            });
        }
    }

    pub(super) fn title(&self, row: &str, words: &str) -> String {
        if row.is_empty() {
            format!("{}: {words}", self.rule.id.text)
        } else {
            format!("{}, {row}: {words}", self.rule.id.text)
        }
    }

    /// Choices that the table has no row for, `other`, and nothing declared of what it asks.
    fn other_kinds(&mut self) {
        let (by, listed): (Vec<TraitId>, Vec<Vec<ChoiceId>>) = match &self.rule.limits {
            Limits::ByTrait { by, rows, .. } => {
                (vec![*by], rows.iter().map(|(one, _)| vec![*one]).collect())
            }
            Limits::ByTraits { by, rows, .. } => (
                by.clone(),
                rows.iter().map(|(one, _)| one.clone()).collect(),
            ),
            Limits::Direct(_) | Limits::ByZone { .. } | Limits::ByLevel { .. } => return,
        };
        let without = match self.solver.rules.silence {
            Silence::Forbids => Expect {
                outcome: "does_not_conform",
                reason: Some("no_row_for_choice"),
            },
            Silence::Permits => Expect::not_applicable("no_row"),
        };
        let mut all: Vec<Vec<Option<ChoiceId>>> = vec![Vec::new()];
        for by in &by {
            let choices = self.solver.choices(self.frame, by.index());
            let longer = all.iter().flat_map(|one| {
                choices
                    .iter()
                    .map(|choice| one.iter().copied().chain([*choice]).collect())
            });
            all = longer.collect();
        }
        for choices in all {
            let known: Option<Vec<ChoiceId>> = choices.iter().copied().collect();
            if known.is_some_and(|known| listed.contains(&known)) {
                continue;
            }
            let mut chosen = self.at_event();
            let claims = by.iter().zip(&choices);
            let claims = claims.map(|(by, choice)| (self.frame, *by, Claim::Choice(*choice)));
            chosen.claims.extend(claims);
            let worlds = self.applying(&chosen);
            if let Some(world) = worlds.into_iter().next() {
                let part = self.frame.part;
                let words = by.iter().zip(&choices);
                let words = words.map(|(by, one)| self.solver.choice_word(part, *by, *one));
                let words = words.collect::<Vec<_>>().join(" and ");
                let title = self.title(&words, "no row for it");
                let trial = self.trial(title, world, without);
                self.trials.list.push(trial);
            }
        }
        let worlds = self.applying(&self.at_event());
        let undeclared =
            |world: &&World| by.iter().all(|by| world.claim(self.frame, *by).is_none());
        if let Some(world) = worlds.iter().find(undeclared) {
            let title = self.title("", "nothing declared of what its table asks");
            let trial = self.trial(title, world.clone(), Expect::open("trait_missing"));
            self.trials.list.push(trial);
        }
    }

    /// The condition does not hold.
    fn condition(&mut self, rows: &[Row<'r>]) {
        let (Some(when), Some(row)) = (&self.rule.when, rows.first()) else {
            return;
        };
        let worlds = self.joined(vec![self.at_event()], Some(&when.root), false);
        if worlds.is_empty() {
            self.left_out("no way is known to bring about that its condition does not hold");
        }
        let aims = aims(&self.solver, self.rule, row.row);
        for (number, world) in worlds.into_iter().enumerate().take(6) {
            let title = self.title("", &format!("its condition does not hold, {}", number + 1));
            // Whatever the value is; where one can be had it is one that would not do.
            let made = aims
                .first()
                .and_then(|(_, aim)| self.made(&world, row.row, aim));
            let (world, stations, calm) = made.unwrap_or((world, None, None));
            let trial = self.trial(title, world, Expect::not_applicable("condition"));
            self.trials.list.push(Trial {
                stations,
                calm,
                ..trial
            });
        }
    }

    /// A rule that names the event, without one.
    fn no_event(&mut self, rows: &[Row<'r>]) {
        let (true, Some(row)) = (self.rule.names_event, rows.first()) else {
            return;
        };
        let worlds = self.applying(&row.world);
        let Some(world) = worlds.first() else {
            return;
        };
        let world = World {
            level: None,
            ..world.clone()
        };
        let stages = [
            (Stage::EventInspection, Expect::open("context_missing")),
            (Stage::Certification, Expect::not_applicable("no_event")),
        ];
        for (purpose, expect) in stages {
            if *self.rule.checked_at.at(purpose) {
                let title = self.title("", &format!("no event is named at {}", purpose.words()));
                let trial = self.trial(title, world.clone(), expect);
                self.trials.list.push(Trial { purpose, ..trial });
            }
        }
    }
}
