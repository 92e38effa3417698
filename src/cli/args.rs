//! The arguments, as they are written on the command line.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};
use jiff::civil::Date;

use super::reckon_args::ReckonArgs;
use crate::quantity::DateSpan;
use crate::rules::Stage;

/// Checks racing ice yachts and their runners against versioned class rules, and prints certificates.
#[derive(Debug, Parser)]
#[command(
    name = "rimegauge",
    version,
    about,
    subcommand_required = true,
    arg_required_else_help = true,
    disable_help_subcommand = true,
    max_term_width = 80,
    after_help = "Examples:\n  rimegauge check nightjar.yaml\n  rimegauge certify nightjar.yaml --out nightjar.pdf\n  rimegauge rules show tarn-8@3.1.0\n  rimegauge compare tarn-8@3.1.0 tarn-8@4.0.0\n\nExit codes: 0 done, conforms; 1 does not conform; 2 bad input or usage; 3 not decided;\n4 a read or write that did not succeed.\nCompliance is not safety. Local rules on ice and the organiser's decisions come first."
)]
pub(super) struct Cli {
    #[command(flatten)]
    pub common: Common,
    #[command(subcommand)]
    pub command: Command,
}

/// What every command takes.
#[derive(Clone, Debug, Args)]
pub(super) struct Common {
    /// How to print: human, plain (narrated), json; for check also junit
    #[arg(long, global = true, value_enum, default_value_t = FormatArg::Human, hide_possible_values = true)]
    pub format: FormatArg,
    /// A folder with more class rules, as CLASS/VERSION.yaml; can be given several times
    #[arg(long, global = true, value_name = "DIR")]
    pub rules_dir: Vec<PathBuf>,
    /// Colour: auto (at a terminal, unless NO_COLOR is set), never, always
    #[arg(long, global = true, value_enum, default_value_t = ColorArg::Auto, hide_possible_values = true)]
    pub color: ColorArg,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum FormatArg {
    /// For a person at a terminal
    Human,
    /// In sentences, for screen readers and logs
    Plain,
    /// For programs
    Json,
    /// Test results in XML
    Junit,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum ColorArg {
    /// At a terminal, unless NO_COLOR is set
    Auto,
    /// Never
    Never,
    /// Always
    Always,
}

#[derive(Debug, Subcommand)]
pub(super) enum Command {
    Check(CheckArgs),
    Certify(CertifyArgs),
    Compare(CompareArgs),
    Vary(super::vary_args::VaryArgs),
    Fleet(super::fleet_args::FleetArgs),
    Import(ImportArgs),
    Export(ExportArgs),
    Rules(RulesArgs),
    Reckon(ReckonArgs),
    Completions(CompletionsArgs),
    Man(ManArgs),
}

/// Checks records against the rules of their class and reports every finding.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  rimegauge check nightjar.yaml\n  rimegauge check nightjar.yaml --purpose event_inspection --level continental\n  rimegauge check nightjar.yaml --level continental --overlay harrowmere-2026.yaml\n  rimegauge check records/ --format junit\n  rimegauge check fleet.jsonl --rules tarn-8@3.1.0 --format json\n  rimegauge check nightjar.yaml --budget=steel_thickness\n  cat nightjar.yaml | rimegauge check -"
)]
pub(super) struct CheckArgs {
    /// Records: files, folders, or - for standard input
    #[arg(value_name = "RECORD")]
    pub records: Vec<PathBuf>,
    /// Class rules: a path, or CLASS@REQUIREMENT such as tarn-8@^3 [default: those in force on the day]
    #[arg(long, value_name = "REF")]
    pub rules: Option<String>,
    /// What for: self_check, certification or event_inspection
    #[arg(long, value_enum, default_value_t = PurposeArg::SelfCheck, hide_possible_values = true)]
    pub purpose: PurposeArg,
    /// The day of the check [default: the day of measuring]
    #[arg(long, value_name = "DATE", value_parser = day)]
    pub on: Option<Date>,
    /// The level of the event, in the words of the class rules
    #[arg(long, value_name = "LEVEL")]
    pub level: Option<String>,
    /// What the event changes of the rules
    #[arg(long, value_name = "FILE")]
    pub overlay: Option<PathBuf>,
    /// List what conforms and what does not apply as well
    #[arg(long)]
    pub all: bool,
    /// Draw each finding with the lines of record and rules
    #[arg(long)]
    pub details: bool,
    /// Print the uncertainty budget behind each value that is shown, or with --budget=RULE,RULE those of some rules
    /// (by id or clause) whatever their outcome
    #[arg(long, value_name = "RULE", num_args = 0.., require_equals = true, value_delimiter = ',')]
    pub budget: Option<Vec<String>>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum PurposeArg {
    /// At home, before travel
    #[value(name = "self_check", alias = "self-check")]
    SelfCheck,
    /// By the measurer, for a certificate
    #[value(name = "certification")]
    Certification,
    /// By the inspector at an event
    #[value(name = "event_inspection", alias = "event-inspection")]
    EventInspection,
}

impl PurposeArg {
    pub(super) fn stage(self) -> Stage {
        match self {
            PurposeArg::SelfCheck => Stage::SelfCheck,
            PurposeArg::Certification => Stage::Certification,
            PurposeArg::EventInspection => Stage::EventInspection,
        }
    }
}

/// Checks a record for certification and prints the certificate of the chosen items.
#[derive(Debug, Args)]
#[command(
    after_help = "Nothing is written unless every rule that is checked at certification conforms for the chosen items.\n\nExamples:\n  rimegauge certify nightjar.yaml --out nightjar.pdf\n  rimegauge certify nightjar.yaml --out runners.pdf --items S1,S2,F1 --issued 2026-11-22"
)]
pub(super) struct CertifyArgs {
    /// The record of one boat
    #[arg(value_name = "RECORD")]
    pub record: PathBuf,
    /// Where to write the certificate
    #[arg(long, value_name = "FILE.pdf")]
    pub out: PathBuf,
    /// Items to certify, by id or key, parted by commas: boat, hull, S1 [default: all]
    #[arg(long, value_name = "ITEMS", value_delimiter = ',')]
    pub items: Vec<String>,
    /// Class rules: a path, or CLASS@REQUIREMENT [default: those in force on the day]
    #[arg(long, value_name = "REF")]
    pub rules: Option<String>,
    /// The day of the check [default: the day of measuring]
    #[arg(long, value_name = "DATE", value_parser = day)]
    pub on: Option<Date>,
    /// The level of an event, where the certificate is for one
    #[arg(long, value_name = "LEVEL")]
    pub level: Option<String>,
    /// What the event changes of the rules
    #[arg(long, value_name = "FILE")]
    pub overlay: Option<PathBuf>,
    /// The day of issue, printed on the certificate
    #[arg(long, value_name = "DATE", value_parser = day)]
    pub issued: Option<Date>,
    /// The number of the certificate [default: made from record, rules and items]
    #[arg(long, value_name = "NUMBER")]
    pub number: Option<String>,
    /// Print what conforms as well
    #[arg(long)]
    pub all: bool,
    /// The number of the certificate that this one replaces
    #[arg(long, value_name = "NUMBER")]
    pub replaces: Option<String>,
}

/// Proves what a change of class rules makes illegal or legal, and which version number it needs.
///
/// Two versions of one class are compared as sets of boats, by what they mean and not by how they are written. Either a
/// boat is shown that one version allows and the other does not, checked under both; or it is proved that there is
/// none; or the reason is told why it is not known. What changed words do can't be computed: the newer version declares
/// it under `words`, and that is printed as claimed, not proved.
#[derive(Debug, Args)]
#[command(
    after_help = "Where something becomes illegal, major is needed; where something becomes legal and\nnothing illegal, minor; else patch. From OLD to NEW at least this step is asked.\n\nExamples:\n  rimegauge compare tarn-8@3.0.0 tarn-8@3.1.0\n  rimegauge compare tarn-8 proposed/4.1.0.yaml\n  rimegauge compare tarn-8@3.1.0 proposed/3.2.0.yaml --format json\n  rimegauge compare tarn-8@3.1.0 proposed/3.2.0.yaml --witness witnesses/\n  rimegauge compare tarn-8@3.1.0 proposed/3.2.0.yaml --fleet fleet.jsonl --report impact.html\n  rimegauge compare tarn-8@3.1.0 proposed/3.2.0.yaml --fleet fleet.jsonl --ballot ballot.pdf\n\nExit codes: 0 the step is enough (more than enough is told); 1 a higher one is needed;\n2 bad input or usage; 3 it rests on something that is not known;\n4 a read or write that did not succeed."
)]
pub(super) struct CompareArgs {
    /// The version as it was: CLASS@REQUIREMENT, CLASS (the newest adopted one), or a path
    #[arg(value_name = "OLD")]
    pub old: String,
    /// The version as it is to be, in the same way
    #[arg(value_name = "NEW")]
    pub new: String,
    /// Write the whole records of all boats that show a change, for both versions, and cases of them into this folder,
    /// which is made where there is none
    #[arg(long, value_name = "DIR")]
    pub witness: Option<PathBuf>,
    /// Count what the change does to the boats of these records: files (a record, or JSON Lines) or folders; can be
    /// given several times. Records of one sail number are one boat, each measure of which counts as last measured
    #[arg(long, value_name = "PATH")]
    pub fleet: Vec<PathBuf>,
    /// Write all of it as a page with plots into this file
    #[arg(long, value_name = "FILE.html")]
    pub report: Option<PathBuf>,
    /// Write the sheet that is voted on into this file, as a paper or as a page: old and new side by side, what the change
    /// does, whom it hits, and room for what people write; can be given several times
    #[arg(long, value_name = "FILE.pdf|FILE.html")]
    pub ballot: Vec<PathBuf>,
    /// Name boats, items and lines of files; else they are numbered: boat 1, item 2
    #[arg(long, requires = "fleet")]
    pub names: bool,
    /// One day of the check for the whole fleet [default: each boat's day of measuring, and not before the later
    /// version is in force]
    #[arg(long, value_name = "DATE", value_parser = day, requires = "fleet")]
    pub on: Option<Date>,
    /// The level of an event at which the fleet is checked, in the words of the class rules
    #[arg(long, value_name = "LEVEL", requires = "fleet")]
    pub level: Option<String>,
    /// What the fleet is checked for: self_check, certification or event_inspection
    #[arg(long, value_enum, default_value_t = PurposeArg::Certification, hide_possible_values = true, requires = "fleet")]
    pub purpose: PurposeArg,
}

/// Turns a table (CSV, XLSX, ODS) into records, by a map that says what each column fills.
///
/// Every cell is read by the map and every record by the class rules before anything is written; a cell that can't be
/// used is named with its sheet, row, column and what would be accepted. A map is YAML; --suggest writes one from the
/// headers of the table, to be read and mended.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  rimegauge import runners.xlsx --suggest --class tarn-8 > runners.map.yaml\n  rimegauge import runners.xlsx --map runners.map.yaml --out fleet.jsonl\n  rimegauge import runners.csv --map runners.map.yaml --out - | rimegauge check -\n  rimegauge rules schema tarn-8 --of map > map.schema.json\n\nExit codes: 0 written; 2 bad input or usage, nothing is written; 4 a read or write that did not succeed."
)]
pub(super) struct ImportArgs {
    /// The table: CSV in UTF-8, XLSX or ODS, or - for standard input
    #[arg(value_name = "TABLE")]
    pub table: PathBuf,
    /// The map
    #[arg(long, value_name = "MAP.yaml", conflicts_with = "suggest")]
    pub map: Option<PathBuf>,
    /// Where to write the records, one a line, or - to print them
    #[arg(long, value_name = "FLEET.jsonl", conflicts_with = "suggest")]
    pub out: Option<PathBuf>,
    /// Print a map that the headers suggest
    #[arg(long)]
    pub suggest: bool,
    /// The class, for --suggest
    #[arg(long, value_name = "CLASS", requires = "suggest")]
    pub class: Option<String>,
    /// Class rules by whose names the columns are read: a path, or CLASS@REQUIREMENT [default: those in force on the
    /// day of measuring]
    #[arg(long, value_name = "REF")]
    pub rules: Option<String>,
}

/// Turns records into a table (CSV), by the map that would read it.
///
/// What the records say and the map does not cover is counted and named.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  rimegauge export fleet.jsonl --map runners.map.yaml --out runners.csv\n  rimegauge export records/ --map fleet.map.yaml --sheet Runners --out runners.csv"
)]
pub(super) struct ExportArgs {
    /// Records: files or folders
    #[arg(value_name = "RECORD")]
    pub records: Vec<PathBuf>,
    /// The map
    #[arg(long, value_name = "MAP.yaml")]
    pub map: PathBuf,
    /// Where to write the table, or - to print it
    #[arg(long, value_name = "TABLE.csv")]
    pub out: PathBuf,
    /// Which sheet of the map, where it describes several
    #[arg(long, value_name = "NAME")]
    pub sheet: Option<String>,
    /// Class rules by whose names the columns are read: a path, or CLASS@REQUIREMENT [default: the newest]
    #[arg(long, value_name = "REF")]
    pub rules: Option<String>,
}

/// The library of class rules: list, show, lint, cases, schema.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  rimegauge rules list\n  rimegauge rules show tarn-8@3.1.0 --rule steel_thickness\n  rimegauge rules lint rules/tarn-8/3.1.0.yaml"
)]
pub(super) struct RulesArgs {
    #[command(subcommand)]
    pub command: RulesCommand,
}

#[derive(Debug, Subcommand)]
pub(super) enum RulesCommand {
    List(RulesListArgs),
    Show(RulesShowArgs),
    Lint(RulesLintArgs),
    Cases(RulesCasesArgs),
    Schema(RulesSchemaArgs),
}

/// Lists the versions of class rules with the days on which they are in force.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  rimegauge rules list\n  rimegauge rules list --rules-dir rules --on 2026-11-21"
)]
pub(super) struct RulesListArgs {
    /// Only this class
    #[arg(value_name = "CLASS")]
    pub class: Option<String>,
    /// Mark the version that is in force on this day
    #[arg(long, value_name = "DATE", value_parser = day)]
    pub on: Option<Date>,
}

/// Prints the rules of a version in the order of their clauses, or writes them as a page.
///
/// Beside the text of each rule stands what the file holds as data, in a sentence made from the data alone.
#[derive(Debug, Args)]
#[command(
    after_help = "With --out a page of HTML is written, with everything in the file and what changed since the version\nit replaces; a browser shows and prints it.\n\nExamples:\n  rimegauge rules show tarn-8@3.1.0\n  rimegauge rules show tarn-8 --on 2026-11-21\n  rimegauge rules show tarn-8@^3 --rule steel_thickness\n  rimegauge rules show tarn-8@3.1.0 --out tarn-8.html"
)]
pub(super) struct RulesShowArgs {
    /// CLASS@REQUIREMENT, CLASS, or a path
    #[arg(value_name = "REF")]
    pub reference: String,
    /// The day that decides which version is meant [default: the newest adopted one]
    #[arg(long, value_name = "DATE", value_parser = day)]
    pub on: Option<Date>,
    /// Only these rules, by id or clause; can be given several times
    #[arg(long, value_name = "RULE")]
    pub rule: Vec<String>,
    /// Write the whole version as a page into this file
    #[arg(long, value_name = "FILE.html")]
    pub out: Option<PathBuf>,
}

/// Tells what is wrong or doubtful in a rules file.
#[derive(Debug, Args)]
#[command(
    after_help = "Exit code 1 when there is a fault. Rules without a case are looked for in the folder `cases` beside the file.\n\nExample:\n  rimegauge rules lint rules/tarn-8/3.1.0.yaml"
)]
pub(super) struct RulesLintArgs {
    /// A rules file, or a folder of them
    #[arg(value_name = "PATH")]
    pub path: PathBuf,
}

/// Runs the cases of rules and counts what they cover.
#[derive(Debug, Args)]
#[command(
    after_help = "With --mutants the exit code is 1 where a record is known that shows a change no case notices, 3 where that is\nundecided.\n\nExamples:\n  rimegauge rules cases tarn-8\n  rimegauge rules cases rules/tarn-8\n  rimegauge rules cases tarn-8@3.1.0 --cases proposed.yaml\n  rimegauge rules cases tarn-8@3.1.0 --generate boundary.yaml\n  rimegauge rules cases tarn-8@3.1.0 --mutants"
)]
pub(super) struct RulesCasesArgs {
    /// A rules file, a folder of them with `cases` beside them, or CLASS@REQUIREMENT
    #[arg(value_name = "PATH|REF")]
    pub target: String,
    /// The folder or file with the cases [default: `cases` beside the rules]
    #[arg(long, value_name = "PATH")]
    pub cases: Option<PathBuf>,
    /// Make cases from the rules instead, at both sides of every limit, write them to this new file and run them
    #[arg(long, value_name = "FILE", conflicts_with = "cases")]
    pub generate: Option<PathBuf>,
    /// Change the rules one place at a time and tell which changes no case notices
    #[arg(long, conflicts_with = "generate")]
    pub mutants: bool,
}

/// Prints a JSON Schema, for editors that complete keys.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  rimegauge rules schema tarn-8@3.1.0 --of record > tarn-8.schema.json"
)]
pub(super) struct RulesSchemaArgs {
    /// CLASS@REQUIREMENT, CLASS, or a path
    #[arg(value_name = "REF")]
    pub reference: String,
    /// Of what: record, rules, form, case, overlay or map
    #[arg(long, value_enum, hide_possible_values = true)]
    pub of: SchemaArg,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum SchemaArg {
    /// A record of the class
    Record,
    /// A rules file
    Rules,
    /// A form of the class
    Form,
    /// A file of cases
    Case,
    /// What one event changes of the rules
    Overlay,
    /// What the columns of a table fill
    Map,
}

/// Prints completions for a shell.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  rimegauge completions bash > ~/.local/share/bash-completion/completions/rimegauge"
)]
pub(super) struct CompletionsArgs {
    /// bash, zsh, fish, elvish or powershell
    #[arg(value_name = "SHELL", value_enum, hide_possible_values = true)]
    pub shell: clap_complete::Shell,
}

/// Prints the manual page, of the program or of one command.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  rimegauge man > rimegauge.1\n  rimegauge man rules show | man -l -"
)]
pub(super) struct ManArgs {
    /// A command: check, certify, compare, rules, rules show
    #[arg(value_name = "COMMAND")]
    pub command: Vec<String>,
}

/// One day: a partial date names several.
pub(super) fn day(text: &str) -> Result<Date, String> {
    let found = DateSpan::parse(text).map_err(|problem| match problem.help {
        Some(help) => format!("{}; {help}", problem.message),
        None => problem.message,
    })?;
    found
        .as_day()
        .ok_or_else(|| format!("{text} is not one day; write 2026-11-21"))
}
