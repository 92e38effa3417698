//! What became of changed rules: counts by kind, and each change that no case tells from the rules.

use serde_json::{Value, json};

use crate::diagnostic::{Diagnostic, safe_line};
use crate::prove::mutants::{Fate, Kind, LeftOut, Proof, SEED, Tried};
use crate::rules::RulesFile;
use crate::text::Span;

use super::layout::{flow, wrap};

/// How many mutants came to what.
#[derive(Clone, Copy, Debug, Default)]
struct Counts {
    all: usize,
    killed: usize,
    refused: usize,
    linted: usize,
    neutral: usize,
    witness: usize,
    undecided: usize,
}

impl Counts {
    fn of<'t>(tried: impl Iterator<Item = &'t Tried>) -> Counts {
        let mut counts = Counts::default();
        for one in tried {
            counts.all += 1;
            *match &one.fate {
                Fate::Killed { .. } => &mut counts.killed,
                Fate::Refused(_) => &mut counts.refused,
                Fate::Linted(_) => &mut counts.linted,
                Fate::Survived(Proof::Neutral) => &mut counts.neutral,
                Fate::Survived(Proof::Witness(_)) => &mut counts.witness,
                Fate::Survived(Proof::Undecided(_)) => &mut counts.undecided,
            } += 1;
        }
        counts
    }

    fn kept(self) -> usize {
        self.killed + self.refused + self.linted + self.neutral
    }

    fn json(self) -> Value {
        json!({
            "mutants": self.all,
            "killed": self.killed,
            "refused": self.refused,
            "linted": self.linted,
            "neutral": self.neutral,
            "witness": self.witness,
            "undecided": self.undecided,
        })
    }
}

/// Each mutant that no case kills and that is not proved neutral, with its place in the rules, as a message.
pub fn surviving(rules: &RulesFile, tried: &[Tried]) -> Vec<Diagnostic> {
    let told = tried.iter().filter_map(|one| {
        let help = match &one.fate {
            Fate::Refused(_)
            | Fate::Linted(_)
            | Fate::Killed { .. }
            | Fate::Survived(Proof::Neutral) => return None,
            Fate::Survived(Proof::Witness(case)) => {
                format!("this case would tell them apart:\n{case}")
            }
            Fate::Survived(Proof::Undecided(why)) => {
                format!("whether any record tells them apart is undecided: {why}")
            }
        };
        let whose = one.mutant.rule.as_deref().unwrap_or("outside the rules");
        let message = format!(
            "{whose}: no case notices this change: {}",
            one.mutant.words(&rules.source)
        );
        let label = one.mutant.kind.words();
        let found = Diagnostic::notice("cases.mutant", message);
        let span = on_one_line(rules, one.mutant.edit.span);
        Some(found.label(&rules.source, span, label).help(help))
    });
    told.collect()
}

/// What a place covers of its first line.
fn on_one_line(rules: &RulesFile, span: Span) -> Span {
    let first = rules.source.slice(span).lines().next().unwrap_or("");
    span.sub(0..first.len())
}

/// The counts of one version for people.
pub fn mutants_text(
    rules: &RulesFile,
    made: usize,
    tried: &[Tried],
    left_out: &[LeftOut],
    width: usize,
) -> String {
    let counts = Counts::of(tried.iter());
    let mut pieces = vec![match made > counts.all {
        true => format!("{} of {made} mutants, drawn with seed {SEED}", counts.all),
        false if made == 1 => "1 mutant".to_owned(),
        false => format!("{made} mutants"),
    }];
    pieces.push(format!("{} killed by a case", counts.killed));
    pieces.push(format!("{} refused when they load", counts.refused));
    let rest = [
        (counts.linted, "told by lint alone"),
        (counts.neutral, "proved neutral"),
        (counts.witness, "no case kills, but one would"),
        (counts.undecided, "no case kills, undecided"),
    ];
    let rest = rest.into_iter().filter(|(count, _)| *count > 0);
    pieces.extend(rest.map(|(count, words)| format!("{count} {words}")));
    let title = format!("{} {}", safe_line(&rules.title), rules.version);
    let mut lines = wrap(&title, width);
    lines.extend(flow(&pieces, " · ", width));
    let kinds = Kind::ALL.into_iter().filter_map(|kind| {
        let counts = Counts::of(tried.iter().filter(|one| one.mutant.kind == kind));
        (counts.all > 0).then(|| format!("{} {} of {}", kind.words(), counts.kept(), counts.all))
    });
    lines.extend(flow(&kinds.collect::<Vec<_>>(), " · ", width));
    lines.extend(left_out.iter().flat_map(|one| {
        let told = format!("not changed: {} ({})", one.why, place(rules, one.span));
        wrap(&safe_line(&told), width)
    }));
    lines.iter().map(|line| format!("{line}\n")).collect()
}

fn place(rules: &RulesFile, span: Span) -> String {
    let at = rules.source.line_column(span.start);
    format!("{}:{at}", rules.source.name())
}

/// What became of the mutants of one version, for programs.
pub fn mutants_json(
    rules: &RulesFile,
    made: usize,
    tried: &[Tried],
    left_out: &[LeftOut],
) -> Value {
    let at = |span: Span| {
        let at = rules.source.line_column(span.start);
        json!({ "file": rules.source.name(), "line": at.line, "column": at.column })
    };
    let by_kind: serde_json::Map<String, Value> = Kind::ALL
        .into_iter()
        .filter_map(|kind| {
            let counts = Counts::of(tried.iter().filter(|one| one.mutant.kind == kind));
            (counts.all > 0).then(|| (kind.word().to_owned(), counts.json()))
        })
        .collect();
    let survivors = tried.iter().filter_map(|one| {
        let (answer, case, why) = match &one.fate {
            Fate::Refused(_) | Fate::Killed { .. } => return None,
            Fate::Linted(message) => ("lint", None, Some(message)),
            Fate::Survived(Proof::Neutral) => ("neutral", None, None),
            Fate::Survived(Proof::Witness(case)) => ("witness", Some(case), None),
            Fate::Survived(Proof::Undecided(why)) => ("undecided", None, Some(why)),
        };
        Some(json!({
            "kind": one.mutant.kind.word(),
            "rule": one.mutant.rule,
            "at": at(one.mutant.edit.span),
            "was": rules.source.slice(one.mutant.edit.span),
            "is": one.mutant.edit.with,
            "answer": answer,
            "case": case,
            "why": why,
        }))
    });
    json!({
        "class": rules.class.text,
        "version": rules.version.to_string(),
        "made": made,
        "sampled_with_seed": (made > tried.len()).then_some(SEED),
        "counts": Counts::of(tried.iter()).json(),
        "by_kind": by_kind,
        "survivors": survivors.collect::<Vec<_>>(),
        "left_out": left_out
            .iter()
            .map(|one| json!({ "at": at(one.span), "why": one.why }))
            .collect::<Vec<_>>(),
    })
}
