//! The arguments of `fleet`.

use std::path::PathBuf;

use clap::{Args, Subcommand};
use jiff::civil::Date;

use crate::fleet::make::Share;

/// Whole fleets: makes invented ones.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  rimegauge fleet make tarn-8@3.1.0 --boats 120 --seed 8 --faults \"2 %\" --out fleet.jsonl"
)]
pub(super) struct FleetArgs {
    #[command(subcommand)]
    pub command: FleetCommand,
}

#[derive(Debug, Subcommand)]
pub(super) enum FleetCommand {
    Make(FleetMakeArgs),
}

/// Makes an invented fleet of any class, one boat a line of JSON, for demos and benchmarks.
#[derive(Debug, Args)]
#[command(
    after_help = "The boats are made of nothing but the class rules and a number. They are invented, and say\nnothing of any real fleet: neither what boats measure nor how many keep the rules. Each record\nsays so under `notes`. The same version, options and seed give the same bytes everywhere, and\na boat does not depend on how many are asked for.\n\nExamples:\n  rimegauge fleet make tarn-8@3.1.0 --boats 3 --seed 8\n  rimegauge fleet make tarn-8@3.1.0 --boats 1000 --seed 8 --missing \"5 %\" --faults \"2 %\" --out fleet.jsonl\n  rimegauge fleet make rules/ghyll-2/2.0.0.yaml --boats 50 --seed 2 | rimegauge check - --rules ghyll-2@2.0.0"
)]
pub(super) struct FleetMakeArgs {
    /// The version: CLASS@REQUIREMENT, CLASS (the newest adopted one), or a path
    #[arg(value_name = "REF")]
    pub reference: String,
    /// How many boats
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = super::usage::count::<u64>)]
    pub boats: u64,
    /// Another seed, another fleet
    #[arg(long, value_name = "S", default_value_t = 1, allow_negative_numbers = true, value_parser = super::usage::count::<u64>)]
    pub seed: u64,
    /// The share of measures that nobody took
    #[arg(long, value_name = "SHARE", default_value = "0 %", value_parser = share, allow_hyphen_values = true)]
    pub missing: Share,
    /// The share of items with one value beyond a limit
    #[arg(long, value_name = "SHARE", default_value = "0 %", value_parser = share, allow_hyphen_values = true)]
    pub faults: Share,
    /// The share of items with one value within its uncertainty of a limit
    #[arg(long, value_name = "SHARE", default_value = "1 %", value_parser = share, allow_hyphen_values = true)]
    pub close: Share,
    /// The last day of measuring; the first is three years before, and not before the version is in force
    /// [default: a year after it came into force]
    #[arg(long, value_name = "DATE", value_parser = super::args::day)]
    pub until: Option<Date>,
    /// Write the fleet to this file, whole or not at all [default: standard output]
    #[arg(long, value_name = "FLEET.jsonl")]
    pub out: Option<PathBuf>,
}

fn share(text: &str) -> Result<Share, String> {
    Share::read(text).map_err(|fault| fault.to_string())
}
