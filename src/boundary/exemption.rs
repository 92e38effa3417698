//! The cases of an exemption: its own limit, where it is not taken, a day that nothing shows, its last day.

use super::rule::{Maker, Row};
use super::solve::Solver;
use super::trial::{Aim, Expect, aims};
use super::world::World;
use crate::quantity::add_days;
use crate::rules::{Demand, Instead};

impl<'r> Maker<'r> {
    pub(super) fn exemption(&mut self, number: usize, rows: &[Row<'r>]) {
        let rule = self.rule;
        let Some(exemption) = rule.instead.get(number) else {
            return;
        };
        let name = format!("exemption {}", number + 1);
        let mut worlds = self.joined(
            vec![self.at_event()],
            rule.when.as_ref().map(|when| &when.root),
            true,
        );
        for earlier in rule.instead.iter().take(number) {
            worlds = self.joined(worlds, Some(&earlier.condition.root), false);
        }
        let before = worlds.clone();
        let selected = |world: &World| row_in(rows, world).and_then(|row| world.with(&row.world));
        worlds = self.joined(worlds, Some(&exemption.condition.root), true);
        worlds = worlds.iter().filter_map(&selected).collect();
        let Some(world) = worlds.first().cloned() else {
            self.left_out(format!("no way is known to bring about {name}"));
            return;
        };
        let Some(main) = row_in(rows, &world) else {
            return;
        };
        let own = aims(&self.solver, rule, &exemption.row);
        for (words, aim) in &own {
            let title = self.title(&name, words);
            self.add(title, &worlds, &exemption.row, aim, &|solver, world| {
                solver
                    .meets(rule, &exemption.row, world, aim)
                    .map(Expect::met)
            });
        }
        // What the two limits see differently shows which of them counts.
        let main_aims = aims(&self.solver, rule, main.row);
        let told = |aim: &&Aim<'r>| {
            let made = self.solver.aimed(rule, &world, aim);
            made.is_some_and(|made| {
                let exempt = self.solver.meets(rule, &exemption.row, &made, aim);
                exempt != self.solver.meets(rule, main.row, &made, aim)
            })
        };
        let all = own.iter().chain(&main_aims).map(|(_, aim)| aim);
        let Some(aim) = all
            .clone()
            .find(told)
            .or(main_aims.first().map(|(_, aim)| aim))
        else {
            return;
        };
        let aim = aim.clone();
        if matches!(exemption.row.demand, Demand::None) {
            let title = self.title(&name, "no limit");
            self.add(title, &worlds, main.row, &aim, &|_, _| {
                Some(Expect::not_applicable("exempt"))
            });
        }
        let outside = self.joined(before, Some(&exemption.condition.root), false);
        let mut later: Vec<World> = outside.iter().filter_map(&selected).collect();
        for rest in rule.instead.iter().skip(number + 1) {
            later = self.joined(later, Some(&rest.condition.root), false);
        }
        later.truncate(6);
        for (count, world) in later.iter().enumerate() {
            let Some(row) = row_in(rows, world).map(|row| row.row) else {
                continue;
            };
            // What is declared in this world may leave no choice of what is aimed at.
            let fits = |aim: &&Aim<'r>| self.solver.aimed(rule, world, aim).is_some();
            let others = main_aims.iter().map(|(_, aim)| aim);
            let fitting = std::iter::once(&aim).chain(others).find(fits);
            let aim = fitting.unwrap_or(&aim).clone();
            let title = self.title(&name, &format!("not taken, {}", count + 1));
            self.add(
                title,
                std::slice::from_ref(world),
                row,
                &aim,
                &|solver, world| solver.meets(rule, row, world, &aim).map(Expect::met),
            );
        }
        self.doubted(&name, exemption, &world, main, &aim);
    }

    /// The exemption rests on a day that nothing shows, and is over after its last day.
    fn doubted(
        &mut self,
        name: &str,
        exemption: &'r Instead,
        world: &World,
        main: &Row<'r>,
        aim: &Aim<'r>,
    ) {
        let rule = self.rule;
        let main = main.row;
        let exempt = |solver: &Solver<'r>, world: &World| match exemption.row.demand {
            Demand::None => Some(Expect::not_applicable("exempt")),
            Demand::Bounds(_)
            | Demand::Equals(..)
            | Demand::Only(..)
            | Demand::Without(..)
            | Demand::Options(_) => solver
                .meets(rule, &exemption.row, world, aim)
                .map(Expect::met),
        };
        if let Some(world) = world.unproven() {
            let title = self.title(name, "its day is not proven");
            self.add(title, &[world], main, aim, &|solver, world| {
                let main = solver.meets(rule, main, world, aim).map(Expect::met)?;
                let exempt = exempt(solver, world)?;
                let same = exemption.unproven_takes_main || main.outcome == exempt.outcome;
                Some(if same {
                    main
                } else {
                    Expect::open("date_not_proven")
                })
            });
        }
        let Some(until) = exemption.until else {
            return;
        };
        for (words, day) in [
            ("its last day", Some(until)),
            ("the day after its last", add_days(until, 1)),
        ] {
            let on = World {
                day,
                ..World::default()
            };
            let Some(world) = world.with(&on) else {
                continue;
            };
            let title = self.title(name, words);
            self.add(title, &[world], main, aim, &|solver, world| {
                if day > Some(until) {
                    solver.meets(rule, main, world, aim).map(Expect::met)
                } else {
                    exempt(solver, world)
                }
            });
        }
    }
}

/// The main row that counts in a world.
fn row_in<'a, 'r>(rows: &'a [Row<'r>], world: &World) -> Option<&'a Row<'r>> {
    rows.iter().find(|row| world.with(&row.world).is_some())
}
