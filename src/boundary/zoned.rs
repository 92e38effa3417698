//! The cases of a table by zone: each limit at a place inside its zone, on the border of the zone, and in no zone.

use super::places::Lies;
use super::rule::Maker;
use super::trial::{Aim, Expect, Trial, aims};
use super::world::World;
use crate::rules::{Demand, LimitRow, Limits};
use crate::vocabulary::ZoneId;

impl<'r> Maker<'r> {
    /// All cases of a table by zone.
    pub(super) fn zoned(&mut self) {
        let rule = self.rule;
        let Limits::ByZone { rows, .. } = &rule.limits else {
            return;
        };
        let zones: Vec<ZoneId> = rows.iter().filter_map(|(zone, _)| *zone).collect();
        let elsewhere = rows
            .iter()
            .find(|(zone, _)| zone.is_none())
            .map(|(_, row)| row);
        for (zone, row) in rows {
            let name = self.zone_word(*zone).to_owned();
            for (words, aim) in aims(&self.solver, rule, row) {
                let title = self.title(&name, &words);
                self.at_place(&title, rows, &[row], &aim, (*zone, &zones, Lies::Inside));
                // The border of a zone belongs to it, and to elsewhere as well.
                if let (Some(_), Some(elsewhere)) = (zone, elsewhere) {
                    let title = format!("{title}, at the border of the zone");
                    let both = [row, elsewhere];
                    self.at_place(&title, rows, &both, &aim, (*zone, &zones, Lies::Border));
                }
            }
        }
    }

    fn zone_word(&self, zone: Option<ZoneId>) -> &'r str {
        let part = self.solver.rules.vocabulary.part(self.rule.applies_to);
        let zone = zone.and_then(|zone| part?.zones.get(zone.index()));
        zone.map_or("elsewhere", |zone| &zone.name.text)
    }

    /// One case: a place with the value that is aimed at, which has to meet some rows; all others meet every row.
    fn at_place(
        &mut self,
        title: &str,
        rows: &'r [(Option<ZoneId>, LimitRow)],
        asked: &[&'r LimitRow],
        aim: &Aim<'r>,
        (zone, zones, lies): (Option<ZoneId>, &[ZoneId], Lies),
    ) {
        let (solver, rule) = (self.solver, self.rule);
        let worlds = self.applying(&self.at_event());
        let stations = solver.stations_of_zones(rule, zones, (zone, lies));
        let made = worlds.iter().find_map(|world| {
            let found = solver.aimed(rule, world, aim)?;
            let met = asked.iter().map(|row| solver.meets(rule, row, &found, aim));
            let met: Vec<bool> = met.collect::<Option<_>>()?;
            let mut shared = found.clone();
            shared.numbers.retain(|(var, _)| !solver.is_placed(var));
            let calm = self.calm_everywhere(rows, &shared)?;
            Some((found, calm, met.into_iter().all(|met| met)))
        });
        let (Some(stations), Some((world, calm, met))) = (stations, made) else {
            self.left_out(format!("no numbers were found for “{title}”"));
            return;
        };
        let trial = self.trial(title.to_owned(), world, Expect::met(met));
        self.push(Trial {
            stations: Some(stations),
            calm: Some(calm),
            ..trial
        });
    }

    /// A world that meets every row of a table by zone.
    fn calm_everywhere(&self, rows: &[(Option<ZoneId>, LimitRow)], world: &World) -> Option<World> {
        rows.iter().find_map(|(_, row)| {
            let Demand::Bounds(_) = &row.demand else {
                return None;
            };
            self.calm_where(row, world, &|found, aim| {
                rows.iter()
                    .all(|(_, row)| self.solver.meets(self.rule, row, found, aim) == Some(true))
            })
        })
    }
}
