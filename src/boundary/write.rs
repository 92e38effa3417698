//! Generated cases as a file of cases.

use std::fmt::Write;

use super::solve::Solver;
use super::trial::Trial;
use super::world::{Claim, Frame, LoadKind, Proof, Var, What, World};
use crate::expression::Scope;
use crate::quantity::{Dimension, Exact, Unit, show};
use crate::vocabulary::{HoldingId, MeasureId, MeasureKind, Supports, TraitId};

/// No reading has more digits after the point.
const DIGITS: usize = 8;

impl Solver<'_> {
    /// A case as an entry of the list of a file; `None` where something of it can't be written.
    pub(super) fn written(&self, trial: &Trial) -> Option<String> {
        let rules = self.rules;
        let mut text = String::new();
        let title = serde_json::to_string(&trial.title).ok()?;
        // Writing to a string does not fail.
        let _ = writeln!(text, "  - title: {title}");
        let _ = writeln!(text, "    versions: \"={}\"", rules.version);
        let _ = writeln!(text, "    purpose: {}", trial.purpose.word());
        if let Some(day) = trial.world.day {
            let _ = writeln!(text, "    on: {day}");
        }
        if let Some(level) = trial.world.level {
            let level = rules.vocabulary.event_levels.get(level.index())?;
            let _ = writeln!(text, "    level: {}", level.text);
        }
        let _ = writeln!(text, "    given:");
        for line in self.given(trial)? {
            let _ = writeln!(text, "      {line}");
        }
        let expect = match trial.expect.reason {
            None => trial.expect.outcome.to_owned(),
            Some(reason) => format!("{{ outcome: {}, reason: {reason} }}", trial.expect.outcome),
        };
        let _ = writeln!(text, "    expect: {{ {}: {expect} }}", trial.rule);
        Some(text)
    }

    /// What is given, line by line.
    fn given(&self, trial: &Trial) -> Option<Vec<String>> {
        let vocabulary = &self.rules.vocabulary;
        let mut lines = Vec::new();
        for (key, of) in self.owners(trial)? {
            lines.push(format!("{key}:"));
            let said = self.item(trial, of)?;
            lines.extend(said.into_iter().map(|line| format!("  {line}")));
        }
        // Lists by key, in the order in which they come up.
        let mut lists: Vec<(&str, Vec<String>)> = Vec::new();
        for (holding, items) in &trial.world.many {
            let key = vocabulary.holding(*holding)?.key.text.as_str();
            for (number, item) in items.iter().enumerate() {
                if item.numbers.is_empty() {
                    let line = self.one_of_many(*holding, number, item)?;
                    push(&mut lists, key, vec![format!("- {{ {line} }}")]);
                    continue;
                }
                let of = super::solve::one_of_many(self, *holding)?;
                let own = Trial {
                    world: item.clone(),
                    part: of.part,
                    stations: None,
                    calm: None,
                    ..trial.clone()
                };
                let mut entry = vec![format!("- id: N{}", number + 1)];
                let said = self.item(&own, of)?;
                entry.extend(said.into_iter().map(|line| format!("  {line}")));
                push(&mut lists, key, entry);
            }
        }
        let judged = vocabulary.part(trial.part)?.is_group();
        let own = vocabulary
            .holdings
            .iter()
            .position(|one| one.part == trial.part);
        let own = own.and_then(|at| u16::try_from(at).ok()).map(HoldingId);
        let judged = own.filter(|_| judged).map(|own| (own, 1));
        for (group, count) in judged.into_iter().chain(trial.world.groups.iter().copied()) {
            let said = Some(group) == own;
            for number in 1..=count {
                self.group(trial, group, number, said, &mut lists)?;
            }
        }
        for (key, entries) in lists {
            lines.push(format!("{key}:"));
            lines.extend(entries.into_iter().map(|line| format!("  {line}")));
        }
        Some(lines)
    }

    /// A group with a part in each role; what is `said` of the roles stands with the parts.
    fn group<'v>(
        &'v self,
        trial: &Trial,
        group: HoldingId,
        number: usize,
        said: bool,
        lists: &mut Vec<(&'v str, Vec<String>)>,
    ) -> Option<()> {
        let vocabulary = &self.rules.vocabulary;
        let holding = vocabulary.holding(group)?;
        let mut members = vec![format!("id: G{number}")];
        for (slot, role) in vocabulary.part(holding.part)?.roles.iter().enumerate() {
            let role_id = crate::vocabulary::RoleId(u16::try_from(slot).ok()?);
            let filled = vocabulary
                .holdings
                .iter()
                .find(|one| one.part == role.part)?;
            let of = Frame {
                own: Scope::Role(role_id),
                part: role.part,
            };
            if !filled.many {
                return None;
            }
            let id = format!("G{number}R{}", slot + 1);
            let mut entry = vec![format!("- id: {id}")];
            if said {
                let lines = self.item(trial, of)?;
                entry.extend(lines.into_iter().map(|line| format!("  {line}")));
            }
            push(lists, &filled.key.text, entry);
            members.push(format!("{}: {id}", role.name.text));
        }
        push(
            lists,
            &holding.key.text,
            vec![format!("- {{ {} }}", members.join(", "))],
        );
        Some(())
    }

    /// What a case names, by key: the item under judgement, and what else it says something of.
    fn owners(&self, trial: &Trial) -> Option<Vec<(String, Frame)>> {
        let own = Frame::of(trial.part);
        let group = self.rules.vocabulary.part(trial.part)?.is_group();
        let mut found: Vec<Frame> = (!group).then_some(own).into_iter().collect();
        let world = &trial.world;
        let numbers = world.numbers.iter().map(|(var, _)| var.of);
        let answers = world.answers.iter().map(|(of, _, _)| *of);
        let claims = world.claims.iter().map(|(of, _, _)| *of);
        for of in numbers.chain(answers).chain(claims) {
            // What fills a role stands among the parts.
            let in_role = matches!(of.own, Scope::Role(_));
            if !in_role && !found.contains(&of) {
                found.push(of);
            }
        }
        found
            .into_iter()
            .map(|of| Some((self.key(of)?, of)))
            .collect()
    }

    fn key(&self, of: Frame) -> Option<String> {
        let vocabulary = &self.rules.vocabulary;
        match of.own {
            Scope::Boat => Some("boat".to_owned()),
            Scope::One(holding) => Some(vocabulary.holding(holding)?.key.text.clone()),
            Scope::Role(_) => None,
            Scope::Own => {
                let holding = vocabulary.holdings.iter().find(|one| one.part == of.part)?;
                let part = vocabulary.part(of.part)?;
                let key = if holding.many {
                    &part.name
                } else {
                    &holding.key
                };
                Some(key.text.clone())
            }
        }
    }

    fn one_of_many(&self, holding: HoldingId, number: usize, world: &World) -> Option<String> {
        let frame = super::solve::one_of_many(self, holding)?;
        // What is said of others than the item can't stand with it.
        let elsewhere = world.claims.iter().any(|(of, _, _)| *of != frame);
        if elsewhere || !world.numbers.is_empty() || !world.many.is_empty() {
            return None;
        }
        let mut pieces = vec![format!("id: N{}", number + 1)];
        for (of, slot, claim) in &world.claims {
            pieces.push(self.claim(*of, *slot, claim)?);
        }
        for (of, measure, yes) in &world.answers {
            pieces.push(self.answer(*of, *measure, *yes)?);
        }
        Some(pieces.join(", "))
    }

    fn item(&self, trial: &Trial, of: Frame) -> Option<Vec<String>> {
        let mut lines = Vec::new();
        for (own, slot, claim) in &trial.world.claims {
            if *own == of {
                lines.push(self.claim(of, *slot, claim)?);
            }
        }
        for (own, measure, yes) in &trial.world.answers {
            if *own == of {
                lines.push(self.answer(of, *measure, *yes)?);
            }
        }
        let mut done: Vec<MeasureId> = Vec::new();
        for (var, _) in trial.world.numbers.iter().filter(|(var, _)| var.of == of) {
            if !done.contains(&var.measure) {
                done.push(var.measure);
                lines.extend(self.measured(trial, of, var)?);
            }
        }
        if lines.is_empty() {
            lines.push("notes: nothing was measured".to_owned());
        }
        Some(lines)
    }

    fn claim(&self, of: Frame, slot: TraitId, claim: &Claim) -> Option<String> {
        let part = self.rules.vocabulary.part(of.part)?;
        let name = &part.traits.get(slot.index())?.name.text;
        Some(match claim {
            Claim::Choice(choice) => {
                format!("{name}: {}", self.choice_word(of.part, slot, *choice))
            }
            Claim::List(choices) => {
                let words = choices.iter();
                let words = words.map(|choice| self.choice_word(of.part, slot, *choice));
                format!("{name}: [{}]", words.collect::<Vec<_>>().join(", "))
            }
            Claim::Day(day, Proof::Seen) => {
                format!(
                    "{name}: {{ date: {day}, proof: builder invoice 17, seen_by: AB, seen_on: {day} }}"
                )
            }
            Claim::Day(day, Proof::Nothing) => format!("{name}: {day}"),
            Claim::Flag(true) => format!("{name}: yes"),
            Claim::Flag(false) => format!("{name}: no"),
        })
    }

    fn answer(&self, of: Frame, measure: MeasureId, yes: bool) -> Option<String> {
        let part = self.rules.vocabulary.part(of.part)?;
        let name = &part.measures.get(measure.index())?.name.text;
        let yes = if yes { "yes" } else { "no" };
        let day = self.rules.in_force_from;
        Some(format!("{name}: {{ answer: {yes}, by: AB, day: {day} }}"))
    }

    /// All that is said of one measure.
    fn measured(&self, trial: &Trial, of: Frame, var: &Var) -> Option<Vec<String>> {
        let measure = self.measure(var)?;
        let name = &measure.name.text;
        let mine = |world: &World| -> Vec<(What, Exact)> {
            let own = world.numbers.iter();
            let own = own.filter(|(other, _)| other.of == of && other.measure == var.measure);
            own.map(|(var, value)| (var.what.clone(), value.clone()))
                .collect()
        };
        let numbers = mine(&trial.world);
        let number = |what: &What, among: &[(What, Exact)]| {
            among
                .iter()
                .find(|(known, _)| known == what)
                .map(|(_, value)| value.clone())
        };
        let length = |value: &Exact| written(value, Dimension::LENGTH, Some(Unit::MM));
        if self.is_placed(var)
            && let Some(stations) = &trial.stations
        {
            let calm = trial.calm.as_ref().map(&mine);
            let mut lines = vec![
                format!("{name}:"),
                "  with: exact".to_owned(),
                "  places:".to_owned(),
            ];
            for (place, at) in stations.at.iter().enumerate() {
                let here = match &calm {
                    Some(calm) if place != stations.worst => calm,
                    Some(_) | None => &numbers,
                };
                let edge = match &stations.from_edge {
                    Some(edge) => format!("from_edge: {}, ", length(edge)?),
                    None => String::new(),
                };
                let said = match measure.kind {
                    MeasureKind::Section => bevels(here)?,
                    MeasureKind::Quantity(kind) => {
                        let value = number(&What::Value, here)?;
                        let unit = measure.plausible_unit;
                        let one = written(&value, kind.dimension(), unit)?;
                        format!("readings: {}", repeated(&one, stations.repeats))
                    }
                    MeasureKind::YesNo
                    | MeasureKind::Profile
                    | MeasureKind::Line
                    | MeasureKind::LoadTest
                    | MeasureKind::Outline => return None,
                };
                lines.push(format!("    - {{ at: {}, {edge}{said} }}", length(at)?));
            }
            return Some(lines);
        }
        Some(match measure.kind {
            MeasureKind::Quantity(kind) => {
                let write =
                    |value: &Exact| written(value, kind.dimension(), measure.plausible_unit);
                let ends = [What::Least, What::Greatest];
                let ends: Vec<Exact> = ends
                    .iter()
                    .filter_map(|end| number(end, &numbers))
                    .collect();
                if !ends.is_empty() {
                    // Each at a place of its own.
                    if number(&What::Value, &numbers).is_some() {
                        return None;
                    }
                    let mut rules = self.rules.rules.iter();
                    let rule = rules.find(|rule| rule.id.text == trial.rule);
                    let asked = rule.and_then(|rule| rule.places.as_ref());
                    let (least, repeats) =
                        asked.map_or((1, 1), |asked| (asked.at_least, asked.repeats.max(1)));
                    let count = ends.len().max(usize::try_from(least).ok()?);
                    let values = ends.iter().cycle().take(count).enumerate();
                    let places = values.map(|(at, value)| {
                        let value = repeated(&write(value)?, repeats);
                        Some(format!("{{ at: {} mm, readings: {value} }}", at * 100))
                    });
                    let places: Vec<String> = places.collect::<Option<_>>()?;
                    let places = places.join(", ");
                    return Some(vec![format!(
                        "{name}: {{ with: exact, places: [ {places} ] }}"
                    )]);
                }
                let value = write(&number(&What::Value, &numbers)?)?;
                if measure.fixed_at.is_some() {
                    let paper = if trial.world.no_papers {
                        ""
                    } else {
                        ", paper: first certificate"
                    };
                    vec![format!(
                        "{name}: {{ value: {value}, day: 2000-01-01{paper} }}"
                    )]
                } else if measure.placed {
                    vec![format!(
                        "{name}: {{ with: exact, places: [ {{ at: 0 mm, readings: {value} }} ] }}"
                    )]
                } else {
                    vec![format!("{name}: {{ with: exact, readings: {value} }}")]
                }
            }
            MeasureKind::Section => {
                vec![format!("{name}: {{ with: exact, {} }}", bevels(&numbers)?)]
            }
            MeasureKind::Line => {
                let bend = number(&What::Bend, &numbers)?;
                let (to, fro) = (bend.to_decimal(12).0, bend.neg().to_decimal(12).0);
                vec![
                    format!("{name}:"),
                    "  with: exact".to_owned(),
                    "  stations: -300 0 300 mm".to_owned(),
                    format!("  port: 0 {fro} 0 mm"),
                    format!("  starboard: 0 {to} 0 mm"),
                ]
            }
            MeasureKind::Profile => {
                let mut shims = Vec::new();
                for (what, forward) in &numbers {
                    let What::Forward(gap) = what else {
                        continue;
                    };
                    let aft = number(&What::Aft(gap.clone()), &numbers)
                        .unwrap_or_else(|| forward.clone());
                    let (gap, forward, aft) = (length(gap)?, length(forward)?, length(&aft)?);
                    shims.push(format!("{{ gap: {gap}, forward: {forward}, aft: {aft} }}"));
                }
                if shims.is_empty() {
                    return None;
                }
                vec![format!(
                    "{name}: {{ with: exact, contact: 0 mm, shims: [ {} ] }}",
                    shims.join(", ")
                )]
            }
            MeasureKind::LoadTest => {
                let steps = steps(&numbers)?;
                let setup = measure.setup.as_ref()?;
                let span = written(&setup.span, Dimension::LENGTH, Some(setup.unit))?;
                let supports = Supports::WORDS.iter();
                let mut supports = supports.filter(|(_, one)| *one == setup.supports);
                let (supports, _) = supports.next()?;
                vec![
                    format!("{name}:"),
                    "  with: exact".to_owned(),
                    format!("  span: {span}"),
                    format!("  supports: {supports}"),
                    format!("  steps: [ {{ load: 0 kg, sinks: 0 mm }}, {steps} ]"),
                ]
            }
            MeasureKind::Outline => {
                // One metre wide.
                let height = number(&What::Area, &numbers)?;
                let height = height.checked_div(&Exact::from_integer(1000))?;
                let digits = height
                    .decimals_needed()
                    .filter(|digits| *digits <= DIGITS)?;
                let height = show::fixed_with_unit(&height, Unit::MM, digits);
                let height = height.strip_suffix(" mm")?;
                vec![format!(
                    "{name}: {{ with: exact, points: [ 0 0 mm, 1000 0 mm, 1000 {height} mm, 0 {height} mm ] }}"
                )]
            }
            MeasureKind::YesNo => return None,
        })
    }
}

/// The steps of a load test behind the first without a load.
fn steps(numbers: &[(What, Exact)]) -> Option<String> {
    if let [(What::Stiffness, stiffness)] = numbers {
        // So far, and the load that it takes.
        let step = |sinks: i64| {
            let load = stiffness.mul(&Exact::from_integer(sinks));
            let load = written(&load, Dimension::FORCE, None)?;
            Some(format!("{{ load: {load}, sinks: {sinks} mm }}"))
        };
        return Some([step(10)?, step(20)?].join(", "));
    }
    let each = numbers.iter().map(|(what, sinks)| match what {
        What::Sinks(load, kind) => {
            let dimension = match kind {
                LoadKind::Mass => Dimension::MASS,
                LoadKind::Force => Dimension::FORCE,
            };
            let said = written(load, dimension, None)?;
            let sinks = written(sinks, Dimension::LENGTH, Some(Unit::MM))?;
            Some((load, format!("{{ load: {said}, sinks: {sinks} }}")))
        }
        What::Value
        | What::Forward(_)
        | What::Aft(_)
        | What::Bend
        | What::Port
        | What::Starboard
        | What::Least
        | What::Greatest
        | What::Stiffness
        | What::Area => None,
    });
    let mut each: Vec<_> = each.collect::<Option<_>>()?;
    each.sort_by_key(|(load, _)| *load);
    let each: Vec<String> = each.into_iter().map(|(_, said)| said).collect();
    Some(each.join(", "))
}

fn bevels(numbers: &[(What, Exact)]) -> Option<String> {
    let of = |what: What| {
        let found = numbers.iter().find(|(known, _)| *known == what)?;
        written(&found.1, Dimension::ANGLE, Some(Unit::DEG))
    };
    let (port, starboard) = (of(What::Port)?, of(What::Starboard)?);
    Some(format!(
        "bevels: {{ port: {port}, starboard: {starboard} }}"
    ))
}

/// `4.70 4.70 4.70 mm`
fn repeated(one: &str, times: u32) -> String {
    let number = one.split(' ').next().unwrap_or(one);
    let before = (1..times).map(|_| number);
    before.chain([one]).collect::<Vec<_>>().join(" ")
}

/// A number in a unit in which it ends: the one that is asked for, else the first that there is.
fn written(value: &Exact, dimension: Dimension, unit: Option<Unit>) -> Option<String> {
    let fits = |unit: &Unit| {
        let number = unit.from_base(value);
        unit.dimension() == dimension
            && number
                .decimals_needed()
                .is_some_and(|digits| digits <= DIGITS)
    };
    let unit = unit.into_iter().chain(Unit::all()).find(fits)?;
    let digits = unit.from_base(value).decimals_needed()?;
    Some(show::fixed_with_unit(value, unit, digits))
}

fn push<'v>(lists: &mut Vec<(&'v str, Vec<String>)>, key: &'v str, mut lines: Vec<String>) {
    match lists.iter_mut().find(|(known, _)| *known == key) {
        Some((_, list)) => list.append(&mut lines),
        None => lists.push((key, lines)),
    }
}
