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
    Angle(AngleArgs),
    Area(AreaArgs),
    Hardness(HardnessArgs),
    Expansion(ExpansionArgs),
    Mass(MassArgs),
    Repeatability(RepeatabilityArgs),
    Mark(MarkArgs),
}

/// What every reckoning of readings takes.
#[derive(Clone, Debug, Args)]
pub(super) struct ReadingArgs {
    /// Smallest step that the instrument shows [default: the last digit as written]
    #[arg(long, value_name = "Q", allow_hyphen_values = true)]
    pub resolution: Option<String>,
    /// Maximum permissible error of the instrument, half width
    #[arg(long, value_name = "Q", allow_hyphen_values = true)]
    pub max_error: Option<String>,
    /// Expanded uncertainty of its calibration, and k: "0.002 mm 2"
    #[arg(long, value_name = "Q K")]
    pub calibration: Option<String>,
    /// Scatter of one reading as a standard deviation, for what was read once
    #[arg(long, value_name = "Q", allow_hyphen_values = true)]
    pub repeatability: Option<String>,
    /// Print how U comes about, source by source
    #[arg(long)]
    pub budget: bool,
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
    group = clap::ArgGroup::new("readings").required(true).args(["shims", "stations"]),
    after_help = "A table has a header with units and a row for each station: `x [mm],y [mm]`; x counts from the pivot,\ntoward the toe above zero; y is the gap to a straight edge.\n\nExamples:\n  rimegauge reckon flat --shims \"0.008 in: 9 in, 8 in\"\n  rimegauge reckon flat --shims \"0.10 mm: 160 mm, 155 mm\" --shims \"0.30 mm: 275 mm, 268 mm\" --gap \"0.20 mm\"\n  rimegauge reckon flat --stations edge.csv --gap \"0.20 mm\" --plot edge.svg"
)]
pub(super) struct FlatArgs {
    /// Thickness of a leaf, where it binds forward of the pivot, and aft; can be given several times
    #[arg(long, value_name = "GAP: FORWARD, AFT", allow_hyphen_values = true)]
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

/// The angle of an edge from bevels, a sine bar, pins, rollers, widths, or points across it.
#[derive(Debug, Args)]
#[command(
    group = clap::ArgGroup::new("readings").required(true).args(["bevels", "sine", "pins", "rollers", "widths", "section"]),
    after_help = "A table has the header `face,x [mm],y [mm]` and a row for each point: face is port or starboard, x counts\nfrom the middle plane, toward starboard above zero.\n\nExamples:\n  rimegauge reckon angle --bevels \"40 deg, 41 deg\"\n  rimegauge reckon angle --sine \"100 mm, 64.28 mm\"\n  rimegauge reckon angle --pins \"3 mm: 10.29 mm\" --pins \"6 mm: 20.58 mm\"\n  rimegauge reckon angle --section section.csv --edge-radius \"0.1 mm\" --plot section.svg"
)]
pub(super) struct AngleArgs {
    /// Both bevels, port and starboard: "40 deg, 41 deg"
    #[arg(long, value_name = "PORT, STARBOARD", allow_hyphen_values = true)]
    pub bevels: Option<String>,
    /// Length of a sine bar between its rollers, and how much higher one lies: "100 mm, 64.28 mm"
    #[arg(long, value_name = "LENGTH, HEIGHT", allow_hyphen_values = true)]
    pub sine: Option<String>,
    /// Diameter of pins between a plate and both faces, and the measure over them; twice at least
    #[arg(long, value_name = "D: M", allow_hyphen_values = true)]
    pub pins: Vec<String>,
    /// Diameter of a roller in a vee, and the height over it; twice at least
    #[arg(long, value_name = "D: H", allow_hyphen_values = true)]
    pub rollers: Vec<String>,
    /// Depth from the edge, and the width there; twice at least
    #[arg(long, value_name = "DEPTH: WIDTH", allow_hyphen_values = true)]
    pub widths: Vec<String>,
    /// A table of points across the edge
    #[arg(long, value_name = "FILE.csv")]
    pub section: Option<PathBuf>,
    /// Rounding of the edge: points within it are left out
    #[arg(
        long,
        value_name = "Q",
        requires = "section",
        allow_hyphen_values = true
    )]
    pub edge_radius: Option<String>,
    /// Draw the section into this file
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
    group = clap::ArgGroup::new("mark").required(true).args(["number", "printed"]),
    after_help = "Exit code 1 when a number that was read does not fit its check character.\n\nExamples:\n  rimegauge reckon mark --number H26-0117\n  rimegauge reckon mark --printed H26-0117-0"
)]
pub(super) struct MarkArgs {
    /// A number without its check character
    #[arg(long, value_name = "TEXT")]
    pub number: Option<String>,
    /// A number as it was read off a mark, its check character last
    #[arg(long, value_name = "TEXT")]
    pub printed: Option<String>,
}

/// A hardness on another scale, by the published table.
#[derive(Debug, Args)]
#[command(
    after_help = "What comes out is an indication, not a measurement on that scale.\n\nExample:\n  rimegauge reckon hardness --value \"58 HRC\" --to HV"
)]
pub(super) struct HardnessArgs {
    /// The hardness as read, with its scale
    #[arg(long, value_name = "Q")]
    pub value: String,
    /// The scale asked for: HRC, HV or HBW
    #[arg(long, value_name = "SCALE")]
    pub to: String,
    #[command(flatten)]
    pub reading: ReadingArgs,
}

/// The length at 20 degrees Celsius of what was read in the cold.
#[derive(Debug, Args)]
#[command(
    after_help = "Materials: steel, alloy_steel, stainless, stainless_304, aluminium, spruce, douglas_fir, wood, carbon, glass.\n\nExamples:\n  rimegauge reckon expansion --reading \"3658 mm\" --tape steel --item spruce --temperature \"-20 degC\"\n  rimegauge reckon expansion --reading \"914.4 mm\" --tape none --item steel --temperature \"-5 degC\" --within \"2 K\""
)]
pub(super) struct ExpansionArgs {
    /// The length as read
    #[arg(long = "reading", value_name = "Q")]
    pub length: String,
    /// What the scale is made of; `none` for one that is true at any temperature
    #[arg(long, value_name = "MATERIAL")]
    pub tape: String,
    /// What the item is made of
    #[arg(long, value_name = "MATERIAL")]
    pub item: String,
    /// The temperature of both
    #[arg(long, value_name = "Q", allow_hyphen_values = true)]
    pub temperature: String,
    /// To within how much it is known, half width [default: a step of its last digit]
    #[arg(long, value_name = "Q")]
    pub within: Option<String>,
    #[command(flatten)]
    pub reading: ReadingArgs,
}

/// A mass from a load cell that was adjusted at another latitude.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  rimegauge reckon mass --reading \"28.4 kg\" --latitude \"60 deg\" --adjusted-at \"43 deg\""
)]
pub(super) struct MassArgs {
    /// What the scale shows
    #[arg(long = "reading", value_name = "Q", allow_hyphen_values = true)]
    pub mass: String,
    /// The latitude where it is used
    #[arg(long, value_name = "Q", allow_hyphen_values = true)]
    pub latitude: String,
    /// The latitude where it was adjusted
    #[arg(long, value_name = "Q", allow_hyphen_values = true)]
    pub adjusted_at: String,
    /// The height above the sea where it is used [default: 0 m]
    #[arg(long, value_name = "Q", allow_hyphen_values = true)]
    pub height: Option<String>,
    /// The height above the sea where it was adjusted [default: 0 m]
    #[arg(long, value_name = "Q", allow_hyphen_values = true)]
    pub adjusted_height: Option<String>,
    #[command(flatten)]
    pub reading: ReadingArgs,
}

/// A study of a way of measuring: people x items x readings, and the U that the method has by itself.
#[derive(Debug, Args)]
#[command(
    after_help = "A table has a header and a row for each reading: `person,item,reading [mm]`; each person reads each item\nequally often, at least twice.\n\nExample:\n  rimegauge reckon repeatability --readings study.csv --mean-of 3"
)]
pub(super) struct RepeatabilityArgs {
    /// A table of readings
    #[arg(long, value_name = "FILE.csv")]
    pub readings: PathBuf,
    /// Readings at each place that are averaged when boats are measured
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=1000))]
    pub mean_of: u32,
    /// Coverage probability of U [default: 95 %]
    #[arg(long, value_name = "P")]
    pub coverage: Option<String>,
}
