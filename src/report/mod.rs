//! Reports: what a check found, in words for people, for screen readers and logs, and for programs.
//!
//! Everything here is a pure function from checked records to text. The way of a finding:
//!
//! ```text
//! Checked (record, rules, verdict) ─► Message (its parts in words) ─► human │ plain │ JSON │ JUnit │ Diagnostic
//! ```
//!
//! A [`Message`] is made once and feeds every printer, so that a terminal, a log and a paper say the same.
//! This room decides nothing: outcomes, margins and reasons come from the check. It rounds only for
//! people; programs get exact decimal text.

mod ballot;
mod budget;
mod budget_json;
mod cases;
mod changes;
mod changes_beside;
mod checked;
mod compare;
mod details;
mod figure;
mod generated;
mod html;
mod human;
mod impact;
mod json;
mod json_limit;
mod junit;
mod labels;
mod layout;
mod message;
mod mutants;
mod parts;
mod plain;
mod pointer;
mod printer;
mod problems;
mod reckon;
mod record_notes;
mod rule_words;
mod rules_list;
mod rules_page;
mod rules_show;
mod sentence;
mod standing;
mod vary;
mod words;

pub use ballot::{Ballot, Blank, Part, Run, Side, ballot, ballot_page};
pub use budget::{budget_sentences, budget_table};
pub use budget_json::{BudgetLineJson, BudgetSumJson, budget_json, budget_sum_json};
pub use cases::{cases_json, cases_text};
pub use changes::{Changed, Changes, Differs, changes};
pub use checked::{Checked, Counts};
pub use compare::{Compared, compare_json, compare_plain, compare_text};
pub use details::diagnostic;
pub use generated::{generated_json, generated_text};
pub use impact::{
    Fleet, Table, compare_page, impact_json, impact_plain, impact_text, listed, several,
    why_unusable,
};
pub use labels::Labels;
pub use layout::{flow, wrap};
pub use message::{At, Message, left_out, settled};
pub use mutants::{mutants_json, mutants_text, surviving};
pub use parts::{Figure, Figures, Fractions};
pub use printer::{Format, Options, Piece, Printer};
pub use problems::{problem_counts, problems};
pub use reckon::{
    Amount, Beside, Mark, Outcome as ReckonedOutcome, Picture, Reckoned, Rule as PictureRule, plot,
    reckoned_json, reckoned_plain, reckoned_text, value_json,
};
pub use record_notes::work_said;
pub use rule_words::{clause_order, exemption, limits_by_zone, per_cent};
pub use rules_list::{InForce, in_force, list, list_json, list_plain};
pub use rules_page::{Replaced, rules_page};
pub use rules_show::{rule_ids, show, show_json, show_plain, unknown_rules};
pub use sentence::{
    Piece as SentencePiece, Says, Sentence, Wording, sentence_numbers, sentence_text,
};
pub use standing::{Said, event_changes, not_in_force, said_about};
pub use vary::{VariedReport, vary_json, vary_plain, vary_plot, vary_text};
pub use words::{
    capital, caution, decision_sentence, decision_word, later_version, plain_name, reference,
};

#[cfg(test)]
mod tests;
