//! One function for each thing a person does, and the [`Host`] through which they all reach the world.
//!
//! Everything below this room is pure. Here files are read and written, but only through [`Host`]; there is
//! no clock at all: a day is given or stands in the record, so that the same input gives the same answer.
//! The functions return data; words are the report's, and where they go is the caller's to say.

mod apart;
mod ballot;
mod between;
mod boats;
mod boundary;
mod certificate;
mod certificate_lists;
mod certificate_parts;
mod certificate_record;
mod certify;

mod check;
mod compare;
mod ending;
mod exit;
mod export;
mod fleet;
mod fleet_files;
mod fleet_latest;
mod fleet_make;
mod host;
mod import;
mod input;
mod items;

mod library;
mod lines;
mod mutants;
mod overlay;
mod reading;
pub mod reckon;
mod rules;
mod rules_page;
mod schemas;

mod shelf;
mod typeset;
mod vary;
mod vary_kept;

pub use apart::outputs_apart;
pub use ballot::{ballot_files, write_ballots};
pub use boundary::{GeneratedReport, generate};
pub use certify::{Certified, CertifyRequest, Paper, Refusal, certify};
pub use check::{CheckRequest, Found, Reader, check};
pub use compare::{
    ComparedVersions, compare, report_file, witness_folder, write_report, write_witnesses,
};
pub use exit::{Exit, Trouble};
pub use export::{ExportRequest, export};
pub use fleet::{FleetAsked, impact};
pub use fleet_files::{Reading, Troubles, Watcher};
pub use fleet_make::{FleetRequest, make_fleet};
pub use host::{Doing, Host, HostProblem, Kind, Listed, Terminal, Why};
pub use import::{ImportRequest, Imported, import, suggest_map};
pub use library::{Shelves, level_of};
pub use mutants::{MutantsReport, mutants};
pub use reckon::{InstrumentRequest, ReckonRequest, write_plot};
pub use rules::{CasesReport, LintReport, cases, lint, list, show};
pub use rules_page::{RulesPage, write_rules_page};
pub use schemas::{SchemaOf, schema};
pub use vary::{MOST_STEPS, VariedFleet, VaryRequest, vary};
