//! Sentences about a fleet: what was looked at, and what it comes to.

use crate::fleet::impact::{LeftOut, Moves, RuleImpact, Sample, Several, Stand};
use crate::fleet::{Unusable, UnusableRecords};

use crate::rules::Stage;
use crate::text::quoted;

use super::super::standing::before_its_day;
use super::super::words::{at_stage, plain_name};
use super::Fleet;
use super::count::{agree, counted, counted_of, listed, several};
use super::limit;
use super::names::Names;

/// What was looked at, a sentence for each thing that should be known of it.
pub(in crate::report) fn sample(fleet: &Fleet<'_>) -> Vec<String> {
    let sample = &fleet.impact.sample;
    let mut all = vec![looked_at(sample), items(fleet), day(fleet)];
    all.extend(not_in_force(fleet));
    all.extend(measured_later(sample));
    all.extend(beside(sample));
    all.extend(never(fleet));
    all
}

/// What should be known of records: broken ones, old names, boats with several.
pub(in crate::report) fn beside(sample: &Sample) -> Vec<String> {
    let mut all = Vec::new();
    if sample.broken > 0 {
        let why = why_unusable(&sample.unusable);
        let why = if why.is_empty() {
            String::new()
        } else {
            format!(": {why}")
        };
        all.push(format!(
            "{} can't be used and {} left out{why}.",
            several(sample.broken, "record"),
            agree(sample.broken, "is", "are"),
        ));
    }
    if sample.old_names > 0 {
        all.push(format!(
            "{} {} names of an older version, and {} read by those of the newer one.",
            several(sample.old_names, "record"),
            agree(sample.old_names, "uses", "use"),
            agree(sample.old_names, "was", "were"),
        ));
    }
    all.extend(unknown(&sample.left_out));
    if sample.put_together > 0 {
        let boats = several(sample.put_together, "boat");
        all.push(format!(
            "{boats} with several records: each measure of an item counts as last measured{}.",
            measured_anew(sample.superseded)
        ));
    }
    match sample.copies {
        0 => {}
        1 => {
            all.push("1 record is the same as another one of its boat, and counts once.".to_owned())
        }
        many => all.push(format!(
            "{many} records are the same as another one of their boat, and count once."
        )),
    }
    all
}

/// Why records can't be used, each with its count: `2 are of another class, 1 has no day of measuring`.
pub fn why_unusable(records: &UnusableRecords) -> String {
    let words = |(why, count): (&Unusable, &u64)| {
        let said = |one, many| format!("{count} {}", agree(*count, one, many));
        match why {
            Unusable::NotRead => said(
                "is in a file that could not be read",
                "are in files that could not be read",
            ),
            Unusable::NoRecord => said("can't be read as a record", "can't be read as records"),
            Unusable::OtherClass => said("is of another class", "are of another class"),
            Unusable::NoDay => said("has no day of measuring", "have no day of measuring"),
            Unusable::Faulty => said(
                "has faults in what the rules ask for",
                "have faults in what the rules ask for",
            ),
        }
    };
    let words: Vec<String> = records.by.iter().map(words).collect();
    listed(&words)
}

/// Keys of a line that are told; JSON has more.
const MOST_KEYS: usize = 6;

/// What records say that the rules do not know.
fn unknown(left_out: &LeftOut) -> Option<String> {
    if left_out.records == 0 {
        return None;
    }
    let mut keys: Vec<String> = left_out.keys.keys().map(|key| quoted(key)).collect();
    if keys.len() > MOST_KEYS {
        keys.truncate(MOST_KEYS);
        keys.push("others".to_owned());
    }
    let verb = if left_out.records == 1 { "says" } else { "say" };
    Some(format!(
        "{} {verb} what these rules do not know, and that is left out: {}.",
        several(left_out.records, "record"),
        keys.join(", ")
    ))
}

fn measured_anew(count: u64) -> String {
    match count {
        0 => String::new(),
        1 => "; 1 item of an earlier record was measured anew in full".to_owned(),
        many => format!("; {many} items of earlier records were measured anew in full"),
    }
}

pub(in crate::report) fn looked_at(sample: &Sample) -> String {
    let records = several(sample.records, "record");
    let measured = match sample.measured {
        Some((first, last)) if first == last => format!(", measured on {first}"),
        Some((first, last)) => format!(", measured from {first} to {last}"),
        None => String::new(),
    };
    format!(
        "Looked at: {} in {records}{measured}.",
        several(sample.boats, "boat")
    )
}

/// How many items of each kind; the boat itself is one of its items.
fn items(fleet: &Fleet<'_>) -> String {
    let kinds = fleet.impact.sample.items.iter();
    let kinds: Vec<String> = kinds
        .map(|(part, count)| format!("{} {count}", plain_name(part)))
        .collect();
    let items = several(fleet.impact.items.total(), "item");
    match kinds.is_empty() {
        true => format!("{items}."),
        false => format!("{items} by kind: {}.", kinds.join(", ")),
    }
}

/// Which of the versions do not count yet on the day that was asked for: what was counted is then what would be.
pub(super) fn not_in_force(fleet: &Fleet<'_>) -> Vec<String> {
    let Some(on) = fleet.impact.sample.on else {
        return Vec::new();
    };
    let (old, new) = fleet.in_force_from;
    let versions = [(fleet.old, old), (fleet.new, new)].into_iter();
    let early = versions.filter(|(_, from)| *from > on);
    early
        .map(|(version, from)| format!("{}.", before_its_day(version, from, on)))
        .collect()
}

/// That records are of a later day than the check: one of the days may be wrong.
pub(in crate::report) fn measured_later(sample: &Sample) -> Option<String> {
    let on = sample.on.filter(|_| sample.measured_later > 0)?;
    Some(format!(
        "{} {} measured after the day of the check, {on}: one of the days may be wrong.",
        several(sample.measured_later, "record"),
        agree(sample.measured_later, "was", "were"),
    ))
}

fn day(fleet: &Fleet<'_>) -> String {
    checked_as(&fleet.impact.sample, fleet.level, fleet.purpose)
}

/// For what boats were checked, and on which day.
pub(in crate::report) fn checked_as(
    sample: &Sample,
    level: Option<&str>,
    purpose: Stage,
) -> String {
    let level = match level {
        Some(level) => format!(", event level {level}"),
        None => String::new(),
    };
    let day = match (sample.on, sample.not_before) {
        (Some(on), _) => format!("on {on}"),
        (None, Some(first)) => {
            format!("each boat on its day of measuring, and not before {first}")
        }
        (None, None) => "each boat on its day of measuring".to_owned(),
    };
    format!("Checked as at {}{level}, {day}.", at_stage(purpose))
}

/// What was never measured, rule by rule: a gap of the sample.
fn never(fleet: &Fleet<'_>) -> Vec<String> {
    let rules = fleet.impact.rules.iter();
    let lacking = rules.filter(|rule| rule.never_measured > 0);
    lacking
        .map(|rule| {
            let of = several(rule.moves.total(), "item");
            // What is no clause of the rules has a title of ours, which is a sentence's beginning.
            match rule.clause.trim() {
                "" => format!(
                    "{}: not told of {} of {of}.",
                    title(rule),
                    rule.never_measured
                ),
                _ => format!(
                    "What {} asks for was never measured on {} of {of}.",
                    title(rule),
                    rule.never_measured
                ),
            }
        })
        .collect()
}

/// Clause and title of a rule; either may be missing.
pub(super) fn title(rule: &RuleImpact) -> String {
    let both = format!("{} {}", rule.clause, rule.title);
    match both.trim() {
        "" => plain_name(&rule.rule),
        both => both.to_owned(),
    }
}

/// What it comes to, in a sentence for boats and one for items.
pub(in crate::report) fn answer(fleet: &Fleet<'_>) -> Vec<String> {
    let impact = fleet.impact;
    let one = |moves: &Moves, noun: &str| {
        let total = moves.total();
        // None is said with a word, so that nobody reads a number where nothing happens.
        let told = |count: u64, one: &str, many: &str| match count {
            0 => format!("none {one}"),
            count => format!("{} {}", counted(count, total), agree(count, one, many)),
        };
        let illegal = told(moves.newly_illegal(), "conforms", "conform");
        let mut said = format!(
            "Of {}, {illegal} under {} and would not conform under {}",
            several(total, noun),
            fleet.old,
            fleet.new,
        );
        let legal = moves.newly_legal();
        said.push_str(&match legal {
            0 => "; none goes the other way".to_owned(),
            _ => format!(
                "; {} and would",
                told(legal, "does not conform", "do not conform")
            ),
        });
        // What was open before is decided by the change as well.
        for (old, to, one, many, words) in [
            (
                Stand::Conforms,
                Stand::NotDecided,
                "conforms",
                "conform",
                "and would be open",
            ),
            (
                Stand::NotDecided,
                Stand::DoesNotConform,
                "is",
                "are",
                "open and would not conform",
            ),
            (
                Stand::NotDecided,
                Stand::Conforms,
                "is",
                "are",
                "open and would conform",
            ),
        ] {
            let count = moves.count(old, to);
            if count > 0 {
                said.push_str(&format!("; {} {words}", told(count, one, many)));
            }
        }
        said.push('.');
        said
    };
    vec![one(&impact.boats, "boat"), one(&impact.items, "item")]
}

/// What is open, and what will be argued about.
pub(in crate::report) fn doubt(fleet: &Fleet<'_>) -> Vec<String> {
    let impact = fleet.impact;
    let total = impact.items.total();
    let within = counted_of(impact.within_uncertainty, total, "item");
    let never = counted_of(impact.never_measured, total, "item");
    vec![
        match impact.within_uncertainty {
            0 => "No item lies within its uncertainty U of a new limit.".to_owned(),
            1 => format!(
                "{within} lies within its uncertainty U of a new limit: another reading may decide otherwise at check-in."
            ),
            _ => format!(
                "{within} lie within their uncertainty U of a new limit: another reading may decide otherwise at check-in."
            ),
        },
        match impact.never_measured {
            0 => "Nothing that a changed rule asks for was left unmeasured.".to_owned(),
            1 => format!(
                "{never} was never measured for a changed rule, and is not counted as conforming."
            ),
            _ => format!(
                "{never} were never measured for a changed rule, and none of them is counted as conforming."
            ),
        },
    ]
}

/// What a rule does, in sentences.
pub(super) fn rule(fleet: &Fleet<'_>, rule: &RuleImpact) -> Vec<String> {
    let moves = &rule.moves;
    let total = moves.total();
    let mut all = Vec::new();
    match rule.in_versions {
        (false, true) => all.push(format!("New in {}.", fleet.new)),
        (true, false) => all.push(format!("Gone in {}.", fleet.new)),
        (true, true) | (false, false) => {}
    }
    // Only what there is: a row of noughts tells less than the word.
    let moved = |from, to, words| (moves.count(from, to), words);
    let counts = [
        (moves.newly_illegal(), "newly illegal"),
        (moves.newly_legal(), "newly legal"),
        moved(Stand::Conforms, Stand::NotDecided, "newly open"),
        moved(
            Stand::NotDecided,
            Stand::DoesNotConform,
            "open before and not conforming then",
        ),
        moved(
            Stand::NotDecided,
            Stand::Conforms,
            "open before and conforming then",
        ),
        moved(
            Stand::DoesNotConform,
            Stand::NotDecided,
            "not conforming before and open then",
        ),
        (rule.within_uncertainty, "within U of a new limit"),
        (rule.never_measured, "never measured"),
    ];
    let some = counts.iter().filter(|(count, _)| *count > 0);
    let some: Vec<String> = some
        .map(|(count, words)| format!("{} {words}", counted(*count, total)))
        .collect();
    let items = several(total, "item");
    all.push(match (total, some.is_empty()) {
        (_, false) => format!("Of {items}: {}.", some.join(", ")),
        (0 | 1, true) => format!("{items}, and nothing changes by it."),
        (_, true) => format!("{items}, and for none of them anything changes by it."),
    });
    if !rule.open.is_empty() || rule.open_as_before > 0 {
        let reasons = rule.open.iter();
        let mut reasons: Vec<String> = reasons
            .map(|(reason, count)| format!("{}, {}", reason.words(), several(*count, "item")))
            .collect();
        if rule.open_as_before > 0 {
            reasons.push(format!(
                "within its uncertainty of a limit that it met before, {}",
                several(rule.open_as_before, "item")
            ));
        }
        all.push(format!("Open under {}: {}.", fleet.new, reasons.join("; ")));
    }
    all
}

/// How values lie to a limit; of two limits, to the new one.
pub(super) fn limit(fleet: &Fleet<'_>, limit: &crate::fleet::impact::LimitImpact) -> String {
    let (beyond, inside) = limit::sides(limit);
    let total = beyond + inside;
    let near = limit
        .typical_u
        .and_then(|u| limit::spread(u, limit.unit))
        .map_or_else(String::new, |u| format!(" Near it U is {u} on average."));
    let it = match limit.old == limit.new {
        true => "it".to_owned(),
        false => format!("the limit under {}", fleet.new),
    };
    format!(
        "Values beyond {it}: {}; on it or inside: {}.{near}",
        counted(beyond, total),
        counted(inside, total)
    )
}

/// A boat with its records.
pub(super) fn records(names: &Names, several_of: &Several) -> String {
    let records: Vec<String> = several_of
        .records
        .iter()
        .map(|(file, line, day)| match names.shown() {
            true => format!("{day} ({file}:{line})"),
            false => day.to_string(),
        })
        .collect();
    let mut same = match several_of.same_day {
        0 => String::new(),
        1 => "; 1 item was measured twice on one day, and the later in the files counts".to_owned(),
        many => format!(
            "; {many} items were measured twice on one day, and the later in the files counts"
        ),
    };
    match several_of.copies {
        0 => {}
        1 => same.push_str("; one of them is the same as another, and counts once"),
        many => same.push_str(&format!(
            "; {many} of them are the same as another, and count once"
        )),
    }
    format!(
        "{}: {} records, of {}{same}.",
        names.boat(&several_of.sail_number),
        several_of.records.len(),
        records.join(", ")
    )
}
