//! Cases of what is not there: nothing measured, an item of a sum or of a count in doubt, a first value on no paper.

use super::rule::{Maker, Row};
use super::solve::{Solver, one_of_many};
use super::trial::{Aim, Expect, aims};
use super::world::{Claim, Var, World};
use crate::expression::{Node, Op};
use crate::rules::{Demand, Stage};
use crate::vocabulary::HoldingId;

impl<'r> Maker<'r> {
    /// Nothing was measured, answered or declared.
    pub(super) fn missing(&mut self, rows: &[Row<'r>]) {
        let Some(row) = rows.first() else {
            return;
        };
        let Some(world) = self.applying(&row.world).into_iter().next() else {
            return;
        };
        let reason = match &self.rule.value.root.op {
            Op::Trait(..) => "trait_missing",
            Op::Count { over, condition } => {
                self.in_doubt(*over, condition.as_deref(), row, &world);
                return;
            }
            Op::Sum {
                over, condition, ..
            } => {
                self.not_summed(*over, condition.as_deref(), row, &world);
                return;
            }
            _ => "not_measured",
        };
        let taken = self
            .solver
            .numbers(&self.rule.value.root, self.frame)
            .unwrap_or_default();
        let mut world = world;
        world.numbers.retain(|(var, _)| !taken.contains(var));
        if let Op::Trait(scope, slot) = &self.rule.value.root.op
            && let Some(of) = self.frame.resolve(*scope, self.solver.rules)
            && world.claim(of, *slot).is_some()
        {
            return;
        }
        let title = self.title(&row.name, "nothing said of it");
        let trial = self.trial(title, world, Expect::open(reason));
        self.push(trial);
    }

    /// A value that rests on a first value, on no paper.
    pub(super) fn first_values(&mut self, rows: &[Row<'r>]) {
        let (solver, rule) = (self.solver, self.rule);
        let Some(row) = rows.first() else { return };
        let mut vars = solver
            .numbers(&rule.value.root, self.frame)
            .unwrap_or_default();
        for value in row.row.demand.expressions() {
            vars.extend(solver.numbers(&value.root, self.frame).unwrap_or_default());
        }
        let fixed = |var: &Var| {
            solver
                .measure(var)
                .is_some_and(|measure| measure.fixed_at.is_some())
        };
        if !vars.iter().any(fixed) || self.purpose == Stage::SelfCheck {
            return;
        }
        let worlds = self.applying(&row.world).into_iter();
        let worlds: Vec<World> = worlds
            .map(|world| World {
                no_papers: true,
                ..world
            })
            .collect();
        let aims = aims(&solver, rule, row.row);
        let met = |solver: &Solver<'r>, world: &World, aim: &Aim<'r>| {
            solver.meets(rule, row.row, world, aim)
        };
        let title = self.title(&row.name, "its first value is on no paper");
        let Some((_, aim)) = aims.into_iter().find(|(_, aim)| {
            let mut made = worlds
                .iter()
                .filter_map(|world| self.made(world, row.row, aim));
            made.next()
                .is_some_and(|(world, _, _)| met(&solver, &world, aim) == Some(true))
        }) else {
            return;
        };
        self.add(title, &worlds, row.row, &aim, &|_, _| {
            Some(Expect::open("proof_missing"))
        });
    }

    /// One item of a sum, of which nothing is measured.
    fn not_summed(
        &mut self,
        over: HoldingId,
        condition: Option<&Node>,
        row: &Row<'r>,
        world: &World,
    ) {
        let Some(of) = one_of_many(&self.solver, over) else {
            return;
        };
        let way = match condition {
            Some(condition) => self.solver.ways(condition, of, true).into_iter().next(),
            None => Some(World::default()),
        };
        let many = way.map(|way| World {
            many: vec![(over, vec![way])],
            ..World::default()
        });
        if let Some(world) = many.and_then(|many| world.with(&many)) {
            let title = self.title(&row.name, "one of its items not measured");
            let trial = self.trial(title, world, Expect::open("not_measured"));
            self.push(trial);
        }
    }

    /// One item more or less than the limit, if it counts.
    fn in_doubt(
        &mut self,
        over: HoldingId,
        condition: Option<&Node>,
        row: &Row<'r>,
        world: &World,
    ) {
        let (Some(condition), Demand::Bounds(bounds)) = (condition, &row.row.demand) else {
            return;
        };
        let Some(of) = one_of_many(&self.solver, over) else {
            return;
        };
        // A flag that is not set says no; anything else that is not said leaves it open.
        let ways = self.solver.ways(condition, of, true);
        let open = |way: &World| {
            way.claims
                .iter()
                .any(|(_, _, claim)| !matches!(claim, Claim::Flag(_)))
        };
        if ways.is_empty() || !ways.iter().all(open) {
            return;
        }
        for bound in bounds {
            let Some(limit) = bound.limit.root.constant().and_then(|limit| limit.to_i64()) else {
                continue;
            };
            let sure = if bound.kind.is_lower() {
                limit - 1
            } else {
                limit
            };
            let sure = if bound.kind.is_strict() {
                sure + if bound.kind.is_lower() { 1 } else { -1 }
            } else {
                sure
            };
            let Some(mut items) = self.solver.items(over, Some(condition), sure) else {
                continue;
            };
            items.push(World::default());
            let many = World {
                many: vec![(over, items)],
                ..World::default()
            };
            if let Some(world) = world.with(&many) {
                let words = format!(
                    "{} {}: in doubt by one item",
                    bound.kind.words(),
                    bound.limit.text
                );
                let title = self.title(&row.name, &words);
                let trial = self.trial(title, world, Expect::open("condition_unknown"));
                self.push(trial);
            }
        }
    }
}
