//! The arguments of `vary`.

use std::path::PathBuf;

use clap::Args;
use jiff::civil::Date;

use super::args::PurposeArg;
use super::usage::count;
use crate::rules::BoundKind;

/// Tells how many of a fleet conform as one limit moves.
///
/// For each limit from one to another: how many items conform, are in doubt, were never measured and do not conform, and
/// how many boats conform with all of theirs. Between them it tells exactly where anything turns. The limit of the
/// rules, and the one that is proposed, are always among them.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  rimegauge vary tarn-8@3.1.0 steel_thickness --row insert --limit at_least --from \"4.60 mm\" --to \"5.00 mm\" --steps 8 --fleet fleet.jsonl\n  rimegauge vary tarn-8@3.1.0 E.3.2 --row insert --from \"4.60 mm\" --to \"5.00 mm\" --propose \"4.80 mm\" --fleet fleet.jsonl --plot thickness.svg\n  rimegauge vary tarn-8@3.1.0 E.3.2 --row insert --from \"4.60 mm\" --to \"5.00 mm\" --fleet fleet.jsonl --keep thickness.columns\n  rimegauge vary tarn-8@3.1.0 E.3.2 --row insert --from \"4.70 mm\" --to \"4.72 mm\" --kept thickness.columns\n\nExit codes: 0 done; 2 bad input or usage, or records that can't be used (they are named, the rest\nis counted); 3 the limit applies to nothing in the fleet; 4 a read or write that did not succeed."
)]
pub(super) struct VaryArgs {
    /// The version: CLASS@REQUIREMENT, CLASS (the newest adopted one), or a path
    #[arg(value_name = "REF")]
    pub reference: String,
    /// The rule: its id or its clause
    #[arg(value_name = "RULE")]
    pub rule: String,
    /// The row of its table, in the words of the rules; asked for where there are several; `main` for the one beside exemptions
    #[arg(long, value_name = "ROW")]
    pub row: Option<String>,
    /// Which limit: at_least, more_than, at_most or less_than; asked for where there are two
    #[arg(long, value_name = "LIMIT", value_parser = bound)]
    pub limit: Option<BoundKind>,
    /// The first limit: "4.60 mm"
    #[arg(long, value_name = "Q", allow_hyphen_values = true)]
    pub from: String,
    /// The last limit; it may be the lower one
    #[arg(long, value_name = "Q", allow_hyphen_values = true)]
    pub to: String,
    /// In how many equal steps
    #[arg(long, value_name = "N", default_value_t = 10, allow_negative_numbers = true, value_parser = count::<u32>)]
    pub steps: u32,
    /// The limit that is proposed
    #[arg(long, value_name = "Q", allow_hyphen_values = true)]
    pub propose: Option<String>,
    /// The records of the fleet: files (a record, or JSON Lines) or folders; can be given several times. Records of
    /// one sail number are one boat, each measure of which counts as last measured
    #[arg(long, value_name = "PATH", conflicts_with = "kept")]
    pub fleet: Vec<PathBuf>,
    /// Keep what was read in this file: other limits of the same rule are then asked without the fleet; it names no boat
    #[arg(long, value_name = "FILE")]
    pub keep: Option<PathBuf>,
    /// Ask what was kept, in place of a fleet
    #[arg(long, value_name = "FILE", conflicts_with = "keep")]
    pub kept: Option<PathBuf>,
    /// Name boats that have several records, and lines of files; else they are numbered: boat 1
    #[arg(long, requires = "fleet")]
    pub names: bool,
    /// Draw it into this file
    #[arg(long, value_name = "FILE.svg")]
    pub plot: Option<PathBuf>,
    /// One day of the check for the whole fleet [default: each boat's day of measuring, and not before the version is in
    /// force]
    #[arg(long, value_name = "DATE", value_parser = super::args::day)]
    pub on: Option<Date>,
    /// The level of an event at which the fleet is checked, in the words of the class rules
    #[arg(long, value_name = "LEVEL")]
    pub level: Option<String>,
    /// What the fleet is checked for: self_check, certification or event_inspection
    #[arg(long, value_enum, default_value_t = PurposeArg::Certification, hide_possible_values = true)]
    pub purpose: PurposeArg,
}

fn bound(text: &str) -> Result<BoundKind, String> {
    let known = BoundKind::ALL.into_iter().find(|kind| kind.word() == text);
    known.ok_or_else(|| {
        let words: Vec<&str> = BoundKind::ALL.iter().map(|kind| kind.word()).collect();
        format!("a limit is one of {}", words.join(", "))
    })
}
