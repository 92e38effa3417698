//! How many of a fleet conform as one limit moves.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::diagnostic::{Diagnostic, near_misses};
use crate::fleet::impact::{BoatAt, Sample};
use crate::fleet::vary::{
    Asked, MovedLimit, Question, Varied, VaryTally, limits_of, steps, varied,
};
use crate::fleet::{Days, Part, Piece, ReadBoat, Together};
use crate::quantity::{Date, Exact, Quantity, show};
use crate::report::{Fractions, several};
use crate::rules::{BoundKind, RulesFile, Stage, ends_of_values};
use crate::text::{Source, Span, quoted};

use super::apart::outputs_apart;
use super::ending::Named;
use super::exit::{Exit, Trouble};
use super::fleet::some_boat;
use super::fleet_files::{FleetFiles, Troubles, Watcher};
use super::fleet_latest::{Looker, latest};
use super::host::Host;
use super::library::{Shelves, level_of};
use super::reckon::problem as problem_in;
use super::vary_kept as kept;

/// The row of a rule without a table, where exemptions stand beside it.
const MAIN: &str = "main";

/// Most steps of one limit.
pub const MOST_STEPS: u32 = 1000;

/// Which limit moves, how far, under which fleet.
#[derive(Clone, Debug)]
pub struct VaryRequest {
    /// The version: a reference or a path.
    pub reference: String,
    /// The rule: its id or its clause.
    pub rule: String,
    /// The row of its table, in the words of the rules.
    pub row: Option<String>,
    /// Which bound.
    pub limit: Option<BoundKind>,
    /// The first limit, as written.
    pub from: String,
    /// The last limit, as written.
    pub to: String,
    /// In how many steps.
    pub steps: u32,
    /// The limit that is proposed, as written.
    pub propose: Option<String>,
    /// Files and folders of records.
    pub paths: Vec<PathBuf>,
    /// What was kept of a fleet that was read before, in place of one.
    pub kept: Option<PathBuf>,
    /// Where to keep what was read.
    pub keep: Option<PathBuf>,
    /// Where it is drawn.
    pub plot: Option<PathBuf>,
    /// The same day for all, in place of each boat's own.
    pub on: Option<Date>,
    /// The level of an event.
    pub level: Option<String>,
    /// The purpose.
    pub purpose: Stage,
}

/// What a fleet comes to as a limit moves.
#[derive(Debug)]
pub struct VariedFleet {
    /// The rules whose limit was moved.
    pub rules: Arc<RulesFile>,
    /// The numbers.
    pub varied: Varied,
    /// What is wrong with records.
    pub troubles: Troubles,
    /// What should be known of the question, in sentences.
    pub notes: Vec<String>,
    /// Limits that are written as fractions, base units, and as they are written.
    pub written: Vec<(Exact, String)>,
}

impl VariedFleet {
    /// What it comes to.
    pub fn exit(&self) -> Exit {
        // What was kept of a fleet with broken records tells no more than the fleet did.
        let broken = self.varied.sample.broken > 0;
        let known = match (broken, self.is_empty()) {
            (true, _) => Exit::BadInput,
            (false, true) => Exit::NotDecided,
            (false, false) => Exit::Done,
        };
        known.worst(self.troubles.exit.unwrap_or(Exit::Done))
    }

    /// Whether the limit applies to nothing in the fleet: then there is nothing to draw and nothing to keep.
    pub fn is_empty(&self) -> bool {
        self.varied.items == 0
    }
}

/// Moves a limit under a fleet.
///
/// # Errors
/// No such version, rule, row, bound or level; quantities that are no limits of it; a fleet that can't be read.
pub fn vary(
    host: &dyn Host,
    shelves: &Shelves,
    request: &VaryRequest,
    watcher: Watcher<'_>,
) -> Result<VariedFleet, Trouble> {
    outputs(host, shelves, request)?;
    let rules = shelves.find(host, &request.reference, None)?.rules;
    let limit = limit(&rules, request)?;
    let (limits, proposed, notes) = limits(&rules, &limit, request)?;
    let level = match &request.level {
        Some(word) => Some(level_of(&rules, word)?),
        None => None,
    };
    let asked = Asked {
        purpose: request.purpose,
        days: Days {
            on: request.on,
            not_before: Some(rules.in_force_from),
        },
        level,
    };
    let (tally, mut troubles) = match &request.kept {
        Some(path) => (
            kept::read(host, path, &rules, &limit, request)?,
            Troubles::default(),
        ),
        None => read(host, &rules, &limit, &limits, (asked, request), watcher)?,
    };
    if request.kept.is_some() && tally.sample.broken > 0 {
        let records = several(tally.sample.broken, "record");
        let message = format!("{records} of the fleet could not be used when it was kept");
        let notice = Diagnostic::notice("vary.kept_broken", message);
        let help = "vary with --fleet names them; mend them, and keep the fleet anew";
        troubles.told.push(notice.help(help));
    }
    if let Some(path) = request.keep.as_ref().filter(|_| tally.items.total() > 0) {
        kept::write(host, path, &rules, &limit, request, &tally)?;
    }
    Ok(VariedFleet {
        varied: varied(limit.clone(), &limits, proposed, tally),
        troubles,
        notes,
        written: written(&limit, request),
        rules,
    })
}

/// A plot.
const PLOT: Named = Named {
    code: "usage.plot",
    what: "a plot",
    endings: &["svg"],
    refused: &[],
    example: "--plot limit.svg",
};

/// Whether files can be written where they are asked for: not over what is read, nor over each other.
fn outputs(host: &dyn Host, shelves: &Shelves, request: &VaryRequest) -> Result<(), Trouble> {
    if let Some(fault) = request.plot.as_ref().and_then(|plot| PLOT.fault(plot)) {
        return Err(Trouble::one(fault));
    }
    let read: Vec<&Path> = request
        .paths
        .iter()
        .chain(&request.kept)
        .chain(shelves.folders())
        .map(PathBuf::as_path)
        .chain([Path::new(&request.reference)])
        .collect();
    let out = request.keep.iter().chain(&request.plot);
    let help = "give each output a file of its own";
    outputs_apart(host, out.map(PathBuf::as_path), &read, help)
}

fn read(
    host: &dyn Host,
    rules: &Arc<RulesFile>,
    limit: &MovedLimit,
    limits: &[Exact],
    (asked, request): (Asked, &VaryRequest),
    watcher: Watcher<'_>,
) -> Result<(VaryTally, Troubles), Trouble> {
    let files = FleetFiles::of(host, &request.paths)?;
    let question = Question::new(rules, limit.clone(), limits.to_vec(), asked);
    let (mut tally, troubles) = latest(&files, &question, watcher);
    some_boat(&tally.sample, &troubles, (&request.paths, rules))?;
    tally.sample.unusable = troubles.unusable.clone();
    tally.sample.on = asked.days.on;
    tally.sample.not_before = asked.days.not_before.filter(|_| asked.days.on.is_none());
    Ok((tally, troubles))
}

impl Looker for Question<'_> {
    type Tally = VaryTally;

    fn read(&self, source: &Arc<Source>, piece: &Piece) -> Result<ReadBoat, Vec<Diagnostic>> {
        Question::read(self, source, piece)
    }

    fn look_plainly(
        &self,
        _: &Arc<Source>,
        _: &std::ops::Range<usize>,
        _: &BoatAt,
        _: &mut Self::Tally,
    ) -> Option<Result<std::ops::Range<usize>, Vec<Diagnostic>>> {
        None
    }

    fn sail_number_of(
        &self,
        _: &Source,
        _: &std::ops::Range<usize>,
        _: &mut VaryTally,
    ) -> Option<std::ops::Range<usize>> {
        None
    }

    fn together(&self, parts: Vec<Part>) -> Option<Together> {
        Question::together(self, parts)
    }

    fn look(&self, boat: &ReadBoat, _: &BoatAt, tally: &mut VaryTally) {
        Question::look(self, boat, tally);
    }

    fn sample<'t>(&self, tally: &'t mut VaryTally) -> &'t mut Sample {
        &mut tally.sample
    }

    fn merge(&self, own: &mut VaryTally, other: VaryTally) {
        Question::merge(self, own, other);
    }
}

/// The limit that is meant.
fn limit(rules: &Arc<RulesFile>, request: &VaryRequest) -> Result<MovedLimit, Trouble> {
    let title = format!("{} {}", rules.class.text, rules.version);
    let named = |rule: &crate::rules::Rule| {
        rule.id.text == request.rule || rule.clause.text == request.rule
    };
    let Some(at) = rules.rules.iter().position(named) else {
        let ids = || rules.rules.iter().map(|rule| rule.id.text.as_str());
        let message = format!("{} is no rule of {title}", quoted(&request.rule));
        let help = match near_misses(&request.rule, ids()) {
            Some(near) => format!("did you mean {}?", quoted(near)),
            None => format!("its rules are {}", listed(ids().map(str::to_owned))),
        };
        return Err(fault("vary.rule", message, &help));
    };
    let Some(rule) = rules.rule(at) else {
        return Err(fault("vary.rule", format!("{title} has no rule"), ""));
    };
    if !rule.checked_at.at(request.purpose) {
        let stages = Stage::ALL
            .into_iter()
            .filter(|stage| *rule.checked_at.at(*stage));
        let stages: Vec<String> = stages
            .map(|stage| format!("--purpose {}", stage.word()))
            .collect();
        let message = format!(
            "{} of {title} is not asked at this purpose",
            quoted(&rule.id.text)
        );
        let help = format!("ask with {}", stages.join(" or "));
        return Err(refused(rules, "vary.purpose", message, rule.id.span, &help));
    }
    let mut all = limits_of(rules, at);
    if all.is_empty() {
        let message = format!(
            "{} asks for no number: no limit of it can move",
            quoted(&rule.id.text)
        );
        let help = "name a rule with at_least, more_than, at_most or less_than";
        return Err(refused(rules, "vary.no_limit", message, rule.id.span, help));
    }
    if let Some(kind) = request.limit {
        let left = all.clone().into_iter().filter(|one| one.kind == kind);
        let left: Vec<MovedLimit> = left.collect();
        if left.is_empty() {
            let kinds = each(&all, |one| one.kind.word().to_owned());
            let message = format!("{} has no {}", quoted(&rule.id.text), quoted(kind.word()));
            let help = format!("it has {}", listed(kinds.into_iter()));
            return Err(refused(rules, "vary.limit", message, rule.id.span, &help));
        }
        all = left;
    }
    // A single main limit has no name of its own; exemptions beside it have.
    let main = all.iter().any(|one| one.row.is_none());
    if main && request.row.as_deref().is_none_or(|row| row == MAIN) {
        all.retain(|one| one.row.is_none());
    } else if let Some(row) = &request.row {
        let left = all
            .clone()
            .into_iter()
            .filter(|one| one.row.as_ref() == Some(row));
        let left: Vec<MovedLimit> = left.collect();
        if left.is_empty() {
            let rows = each(&all, |one| one.row.clone().unwrap_or_default());
            let rows: Vec<String> = rows.into_iter().filter(|row| !row.is_empty()).collect();
            let message = format!("{} has no row {}", quoted(&rule.id.text), quoted(row));
            let help = match rows.is_empty() {
                true => "it has a single row: leave --row out".to_owned(),
                false => format!("its rows are {}", listed(rows.into_iter())),
            };
            return Err(refused(rules, "vary.row", message, rule.id.span, &help));
        }
        all = left;
    }
    let rows = each(&all, |one| one.row.clone().unwrap_or_default());
    if rows.len() > 1 {
        let message = format!(
            "{} has several rows; one of them is moved",
            quoted(&rule.id.text)
        );
        let rows = rows
            .into_iter()
            .map(|row| format!("--row {}", quoted(&row)));
        let help = format!("choose one: {}", listed(rows));
        return Err(refused(rules, "vary.row", message, rule.id.span, &help));
    }
    let kinds = each(&all, |one| one.kind.word().to_owned());
    if kinds.len() > 1 {
        let message = format!(
            "{} has two limits; one of them is moved",
            quoted(&rule.id.text)
        );
        let kinds = kinds.into_iter().map(|kind| format!("--limit {kind}"));
        let help = format!("choose one: {}", listed(kinds));
        return Err(refused(rules, "vary.limit", message, rule.id.span, &help));
    }
    let Some(found) = all.into_iter().next() else {
        return Err(fault("vary.no_limit", "no limit is left".to_owned(), ""));
    };
    if found.present.is_none() {
        let message = format!("this limit is computed on each item: {}", found.written);
        let help =
            "a limit that is one number can move; propose a changed rules file and compare the two";
        return Err(refused(rules, "vary.computed", message, found.span, help));
    }
    Ok(found)
}

/// Limits in the order of the question, the proposed one, and what should be known of them.
type Limits = (Vec<Exact>, Option<Exact>, Vec<String>);

/// The limits that are asked for, in the order of the question, with the present one and the proposed one among them.
fn limits(
    rules: &Arc<RulesFile>,
    limit: &MovedLimit,
    request: &VaryRequest,
) -> Result<Limits, Trouble> {
    let mut wrong: Vec<Diagnostic> = Vec::new();
    let mut notes: Vec<String> = Vec::new();
    let reach = rules.rule(limit.at.rule);
    let (least, most) = reach.map_or((None, None), |rule| ends_of_values(rules, rule));
    let mut given = |name: &str, text: &str| {
        let source = Source::new(name, text);
        match Quantity::parse_as(text.trim(), limit.unit.dimension()) {
            Ok(quantity) => {
                let value = quantity.value;
                let end = match (&least, &most) {
                    (Some(least), _) if value < *least => Some(("below", least)),
                    (_, Some(most)) if value > *most => Some(("above", most)),
                    _ => None,
                };
                if let Some((side, end)) = end {
                    let message = format!(
                        "{name} {} says nothing: no value of this rule lies {side} {}",
                        text.trim(),
                        shown(limit, end)
                    );
                    let span = Span::new(0, text.len());
                    let found = Diagnostic::fault("vary.beyond", message)
                        .label(&source, span, "")
                        .label(&rules.source, limit.span, "the limit that is to move");
                    wrong.push(found.help(match side {
                        "below" => format!("give a limit of {} or more", shown(limit, end)),
                        _ => format!("give a limit of {} or less", shown(limit, end)),
                    }));
                    return None;
                }
                let other_sign = limit
                    .present
                    .as_ref()
                    .is_some_and(|present| present.signum() * value.signum() < 0);
                if other_sign {
                    let side = if value.signum() < 0 { "below" } else { "above" };
                    notes.push(format!(
                        "{name} {} lies {side} zero, and the limit now does not.",
                        text.trim()
                    ));
                }
                Some((value, source))
            }
            Err(problem) => {
                let before = text.len() - text.trim_start().len();
                let found = problem_in(problem, &source, before);
                wrong.push(found.label(&rules.source, limit.span, "the limit that is to move"));
                None
            }
        }
    };
    let from = given("--from", &request.from);
    let to = given("--to", &request.to);
    let propose = request
        .propose
        .as_deref()
        .map(|text| given("--propose", text));
    if !(1..=MOST_STEPS).contains(&request.steps) {
        let message = format!("a limit can't move in {} steps", request.steps);
        let help = format!("ask for 1 to {MOST_STEPS}: --steps 20");
        wrong.push(Diagnostic::fault("vary.steps", message).help(help));
    }
    if let (Some((from, source)), Some((to, _))) = (&from, &to)
        && from == to
    {
        let message = format!(
            "--from {} and --to {} are one limit",
            request.from.trim(),
            request.to.trim()
        );
        let span = Span::new(0, source.text().len());
        let found = Diagnostic::fault("vary.same", message).label(source, span, "");
        wrong.push(found.help("give two limits that differ"));
    }
    let (Some((from, _)), Some((to, _)), true) = (from, to, wrong.is_empty()) else {
        return Err(Trouble::input(wrong));
    };
    let proposed = propose.flatten().map(|(value, _)| value);
    let mut all = steps(&from, &to, request.steps);
    if let Some(step) = &limit.rounded_to {
        let size = step.difference();
        let whole = |at: &Exact| {
            at.checked_div(&size)
                .is_some_and(|count| count.is_integer())
        };
        if let Some(at) = all.iter().chain(&proposed).find(|at| !whole(at)) {
            let message = format!(
                "{} is no multiple of {}, to which values are rounded before they are compared",
                shown(limit, at),
                step.as_written()
            );
            let help = "choose --from, --to and --steps so that each limit is one";
            return Err(refused(rules, "vary.rounded", message, limit.span, help));
        }
    }
    all.extend(limit.present.clone());
    all.extend(proposed.clone());
    all.sort();
    all.dedup();
    if from > to {
        all.reverse();
    }
    Ok((all, proposed, notes))
}

/// Limits of the rules and of the question that are written as fractions in the unit of the rules.
fn written(limit: &MovedLimit, request: &VaryRequest) -> Vec<(Exact, String)> {
    let texts = [&limit.written, &request.from, &request.to];
    let read = |text: &String| {
        let found = Fractions::read(text.trim())?;
        (found.unit == limit.unit).then(|| (found.value.clone(), found.as_written()))
    };
    texts
        .into_iter()
        .chain(&request.propose)
        .filter_map(read)
        .collect()
}

/// A limit in the unit of the rules.
fn shown(limit: &MovedLimit, value: &Exact) -> String {
    let (number, _) = show::number(value, limit.unit, None);
    show::with_unit(&number, limit.unit)
}

/// What limits are called, each once, in their order.
fn each(all: &[MovedLimit], called: impl Fn(&MovedLimit) -> String) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    for one in all.iter().map(called) {
        if !found.contains(&one) {
            found.push(one);
        }
    }
    found
}

fn listed(words: impl Iterator<Item = String>) -> String {
    words.collect::<Vec<_>>().join(", ")
}

fn fault(code: &'static str, message: String, help: &str) -> Trouble {
    let found = Diagnostic::fault(code, message);
    Trouble::one(match help {
        "" => found,
        help => found.help(help.to_owned()),
    })
}

fn refused(
    rules: &RulesFile,
    code: &'static str,
    message: String,
    at: Span,
    help: &str,
) -> Trouble {
    Trouble::one(
        Diagnostic::fault(code, message)
            .label(&rules.source, at, "")
            .help(help.to_owned()),
    )
}
