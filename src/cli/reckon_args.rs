//! The arguments of `reckon`, a struct for each kind of measurement.

use std::path::PathBuf;

use clap::{Args, Subcommand};

use crate::app::{InstrumentRequest, ReckonRequest};

/// Reckons one measurement with its uncertainty, and shows the formula.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  rimegauge reckon mean --readings \"4.76 4.77 4.75 mm\"\n  rimegauge reckon flat --shims \"0.008 in: 9 in, 8 in\"\n  rimegauge reckon straightness --stations side.csv --plot side.svg"
)]
pub(super) struct ReckonArgs {
    #[command(subcommand)]
    pub command: ReckonCommand,
}

#[derive(Debug, Subcommand)]
pub(super) enum ReckonCommand {
    Mean(MeanArgs),
    Flat(FlatArgs),
    Straightness(StraightnessArgs),
    Area(AreaArgs),
    Mark(MarkArgs),
}

/// What every reckoning of readings takes.
#[derive(Clone, Debug, Args)]
pub(super) struct ReadingArgs {
    /// Smallest step that the instrument shows [default: the last digit as written]
    #[arg(long, value_name = "Q")]
    pub resolution: Option<String>,
    /// Maximum permissible error of the instrument, half width
    #[arg(long, value_name = "Q")]
    pub max_error: Option<String>,
    /// Expanded uncertainty of its calibration, and k: "0.002 mm 2"
    #[arg(long, value_name = "Q K")]
    pub calibration: Option<String>,
    /// Scatter of one reading as a standard deviation, for what was read once
    #[arg(long, value_name = "Q")]
    pub repeatability: Option<String>,
    /// Coverage probability of U [default: 95 %]
    #[arg(long, value_name = "P")]
    pub coverage: Option<String>,
}

impl ReadingArgs {
    pub(super) fn request(&self) -> ReckonRequest {
        ReckonRequest {
            instrument: InstrumentRequest {
                resolution: self.resolution.clone(),
                max_error: self.max_error.clone(),
                calibration: self.calibration.clone(),
                repeatability: self.repeatability.clone(),
            },
            coverage: self.coverage.clone(),
        }
    }
}

/// The mean of repeats with its uncertainty.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  rimegauge reckon mean --readings \"4.76 4.77 4.75 mm\"\n  rimegauge reckon mean --readings \"4.76 4.77 4.75 mm\" --resolution \"0.01 mm\" --max-error \"0.004 mm\" --calibration \"0.002 mm 2\"\n  rimegauge reckon mean --readings \"3/16 in\" --repeatability \"0.002 in\""
)]
pub(super) struct MeanArgs {
    /// Readings of one place, with the unit last: "4.76 4.77 4.75 mm"
    #[arg(long, value_name = "LIST", allow_hyphen_values = true)]
    pub readings: String,
    #[command(flatten)]
    pub reading: ReadingArgs,
}

/// The flat of an edge at a gap, from shims or from gaps at stations.
#[derive(Debug, Args)]
#[command(
    after_help = "A table has a header with units and a row for each station: `x [mm],y [mm]`; x counts from the pivot,\ntoward the toe above zero; y is the gap to a straight edge.\n\nExamples:\n  rimegauge reckon flat --shims \"0.008 in: 9 in, 8 in\"\n  rimegauge reckon flat --shims \"0.10 mm: 160 mm, 155 mm\" --shims \"0.30 mm: 275 mm, 268 mm\" --gap \"0.20 mm\"\n  rimegauge reckon flat --stations edge.csv --gap \"0.20 mm\" --plot edge.svg"
)]
pub(super) struct FlatArgs {
    /// Thickness of a leaf, where it binds forward of the pivot, and aft; can be given several times
    #[arg(
        long,
        value_name = "GAP: FORWARD, AFT",
        required_unless_present = "stations",
        conflicts_with = "stations",
        allow_hyphen_values = true
    )]
    pub shims: Vec<String>,
    /// A table of gaps at stations
    #[arg(long, value_name = "FILE.csv")]
    pub stations: Option<PathBuf>,
    /// The gap at which the flat is told [default: that of the only leaf]
    #[arg(long, value_name = "Q", allow_hyphen_values = true)]
    pub gap: Option<String>,
    /// Where the straight edge touches, from the pivot [default: under it]
    #[arg(long, value_name = "Q", allow_hyphen_values = true)]
    pub contact: Option<String>,
    /// Draw the gap along the edge into this file
    #[arg(long, value_name = "FILE.svg")]
    pub plot: Option<PathBuf>,
    #[command(flatten)]
    pub reading: ReadingArgs,
}

/// Straightness of a blade from gaps to a bar: the minimum zone, with least squares and end points beside it.
#[derive(Debug, Args)]
#[command(
    after_help = "A table has a header with units and a row for each station: `x [mm],y [mm]` for one flank, or\n`x [mm],port [mm],starboard [mm]` for both against one bar.\n\nExample:\n  rimegauge reckon straightness --stations side.csv --resolution \"0.01 mm\" --plot side.svg"
)]
pub(super) struct StraightnessArgs {
    /// A table of gaps at stations
    #[arg(long, value_name = "FILE.csv")]
    pub stations: PathBuf,
    /// Draw the readings with the zone and its contact points into this file
    #[arg(long, value_name = "FILE.svg")]
    pub plot: Option<PathBuf>,
    #[command(flatten)]
    pub reading: ReadingArgs,
}

/// The area of an outline, by its corners or by widths at equal distances.
#[derive(Debug, Args)]
#[command(
    after_help = "A table has a header with units: `x [m],y [m]`, a row for each corner in order; or `width [mm]`, an odd\nnumber of rows from one end to the other, with --spacing.\n\nExamples:\n  rimegauge reckon area --outline sail.csv\n  rimegauge reckon area --outline widths.csv --spacing \"1.2 m\""
)]
pub(super) struct AreaArgs {
    /// A table of corners or of widths
    #[arg(long, value_name = "FILE.csv")]
    pub outline: PathBuf,
    /// How far apart widths stand
    #[arg(long, value_name = "Q", allow_hyphen_values = true)]
    pub spacing: Option<String>,
    /// Draw the outline into this file
    #[arg(long, value_name = "FILE.svg")]
    pub plot: Option<PathBuf>,
    #[command(flatten)]
    pub reading: ReadingArgs,
}

/// The check character of the number on a mark, or whether one that was read off a mark fits.
#[derive(Debug, Args)]
#[command(
    after_help = "Exit code 1 when a number that was read does not fit its check character.\n\nExamples:\n  rimegauge reckon mark --number H26-0117\n  rimegauge reckon mark --printed H26-0117-0"
)]
pub(super) struct MarkArgs {
    /// A number without its check character
    #[arg(
        long,
        value_name = "TEXT",
        required_unless_present = "printed",
        conflicts_with = "printed"
    )]
    pub number: Option<String>,
    /// A number as it was read off a mark, its check character last
    #[arg(long, value_name = "TEXT")]
    pub printed: Option<String>,
}
