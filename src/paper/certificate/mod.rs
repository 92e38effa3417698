//! The certificate of a boat: what stands on it, in words that are ready to be printed.
//!
//! The caller decides, rounds and formats; this room only places. Every text is one or more plain
//! sentences or a value as it is to be read ("4.76 ± 0.02 mm"). Days are written `2026-11-21`.

mod compose;
mod words;

use serde::Serialize;
use sha2::{Digest, Sha256};

use super::face::Faces;
use super::{PaperProblem, Printed, day_digits, pdf};

pub use words::{SAYS, SAYS_NOT};

/// Everything on a certificate.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Certificate {
    /// The title, such as "Measurement certificate".
    pub title: String,
    /// Which paper this is.
    pub document: Document,
    /// The boat it is for.
    pub boat: Boat,
    /// The class rules it was measured under.
    pub rules: ClassRules,
    /// How readings were turned into outcomes.
    pub decision: Decision,
    /// The statement in one sentence, with the items, the boat, the rules and the day.
    pub statement: String,
    /// The items of the boat, those that are covered first; those of a list stand there.
    pub items: Vec<Item>,
    /// Items of which little is measured, with all of it: correctors with place and mass.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub lists: Vec<List>,
    /// Findings by part of the class rules, in the order of the rules.
    pub parts: Vec<Part>,
    /// What was not measured, is not covered or does not apply.
    pub not_measured: Vec<NotMeasured>,
    /// Where an item is accepted under an earlier rule, and on what proof.
    pub grandfathered: Vec<Grandfathered>,
    /// Instruments that gave a reading.
    pub instruments: Vec<Instrument>,
    /// The record that was checked.
    pub record: Record,
    /// Remarks that belong to no single finding.
    pub notes: Vec<String>,
    /// How long the certificate holds and what ends it.
    pub validity: Validity,
    /// Cautions, each a sentence or two. Those on the face of the certificate, [`SAYS_NOT`], are
    /// always printed and need not be repeated.
    pub cautions: Vec<String>,
    /// Whether the measurer has an interest in this boat, in one sentence.
    pub interest: String,
    /// Places to sign, in order; see [`Signature`].
    pub signatures: Vec<Signature>,
    /// The program that made the paper, with its version.
    pub made_by: String,
}

/// Which paper this is.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Document {
    /// The number of the certificate.
    pub number: String,
    /// Number of the certificate that it replaces.
    pub replaces: Option<String>,
    /// Day of the first certificate of this boat.
    pub first_issued: Option<String>,
    /// Day of measurement, `YYYY-MM-DD`.
    pub measured_on: String,
    /// Day of issue, `YYYY-MM-DD`.
    pub issued_on: Option<String>,
    /// Name of the measurer.
    pub measurer: String,
    /// Temperature of the air at measurement, such as "−6 °C".
    pub temperature: Option<String>,
}

/// The boat.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Boat {
    /// Sail number.
    pub sail_number: String,
    /// Name.
    pub name: String,
    /// Owner.
    pub owner: String,
    /// When it was built.
    pub built: Option<String>,
    /// How the day of building is proven, and who saw the proof.
    pub built_proof: Option<String>,
    /// Further facts of the boat as label and value, such as correctors with number, total and places.
    pub further: Vec<(String, String)>,
}

/// The class rules.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct ClassRules {
    /// Title of the class rules.
    pub title: String,
    /// Id of the class.
    pub class: String,
    /// Version.
    pub version: String,
    /// First day in force, `YYYY-MM-DD`.
    pub in_force_from: String,
    /// Version that it replaces.
    pub replaces: Option<String>,
    /// SHA-256 of the rules file, 64 hexadecimal digits.
    pub digest: String,
    /// Who answers for the rules.
    pub authority: String,
    /// Interpretations in force on the day, each as id and text.
    pub interpretations: Vec<(String, String)>,
    /// That these rules are not in force, in one sentence.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub not_in_force: Option<String>,
    /// What an event changes of them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub overlay: Option<Overlay>,
}

/// What an event changes of the class rules.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Overlay {
    /// The name of the event.
    pub event: String,
    /// SHA-256 of the overlay, 64 hexadecimal digits.
    pub digest: String,
    /// Each limit that is changed, in words.
    pub changes: Vec<String>,
    /// What was ruled for the event, each as id with who ruled, and text.
    pub rulings: Vec<(String, String)>,
}

/// How readings were turned into outcomes.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Decision {
    /// The decision rule in words, one or two sentences.
    pub rule: String,
    /// Coverage probability of the stated uncertainties, such as "95 %".
    pub coverage_probability: String,
}

/// An item of the boat.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Item {
    /// Its id: "hull", "S1".
    pub id: String,
    /// What it is: "runner, insert".
    pub kind: String,
    /// The position it is declared for; empty where it has none.
    pub position: String,
    /// Marks, labels and numbers it carries.
    pub marks: String,
    /// Nothing for an item that this certificate covers; else why it does not.
    pub not_covered: Option<String>,
}

/// Items of one kind with all that is declared and measured of them.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct List {
    /// Heading: "Correctors".
    pub heading: String,
    /// What stands in each column, behind the item and before whether it is covered: "place", "mass".
    pub columns: Vec<String>,
    /// The items.
    pub rows: Vec<ListRow>,
}

/// An item of a list.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct ListRow {
    /// Its id: "K1".
    pub id: String,
    /// What stands in each column.
    pub values: Vec<String>,
    /// Nothing for an item that this certificate covers; else why it does not.
    pub not_covered: Option<String>,
}

/// Findings under one part of the class rules.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Part {
    /// Heading: "E Runners".
    pub heading: String,
    /// Findings in the order of the clauses. Neighbours with the same clause, title and requirement stand
    /// beside one naming of it.
    pub findings: Vec<Finding>,
}

/// What was found about one item under one clause. A clause with two sides may come as two findings, or as
/// one whose requirement names both and whose margin is the smaller.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Finding {
    /// Clause number.
    pub clause: String,
    /// Title of the rule.
    pub title: String,
    /// Id of the item.
    pub item: String,
    /// Requirement: "at least 4.70 mm".
    pub requirement: String,
    /// Value with its expanded uncertainty: "4.76 ± 0.02 mm"; or the answer.
    pub value: String,
    /// Coverage factor of that uncertainty: "2.0"; empty where there is none.
    pub k: String,
    /// Margin: "0.06 mm inside"; empty where there is none.
    pub margin: String,
    /// Places measured of those asked for: "5 of 5"; empty for a value without places.
    pub places: String,
    /// The place that decides: "−300 mm, port"; empty for a value without places.
    pub deciding: String,
    /// The outcome in words.
    pub outcome: String,
}

/// Something that this certificate says nothing about.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct NotMeasured {
    /// Clause number; empty where no single clause is meant.
    pub clause: String,
    /// Title of the rule, or what was left out.
    pub title: String,
    /// Items, such as "S1, S2".
    pub items: String,
    /// "not measured", "not covered" or "does not apply".
    pub how: String,
    /// Why.
    pub why: String,
}

/// An item that is accepted under an earlier rule.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Grandfathered {
    /// Clause number.
    pub clause: String,
    /// Id of the item.
    pub item: String,
    /// The earlier rule, the proof and who saw it, and until when it holds.
    pub basis: String,
}

/// An instrument that gave a reading.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Instrument {
    /// Its id in the record.
    pub id: String,
    /// What it is.
    pub kind: String,
    /// Serial number.
    pub serial: String,
    /// Day of its last calibration.
    pub calibrated: String,
    /// Day the next calibration is due.
    pub due: String,
    /// Check before the readings, reference and reading: "09:05 5.000 → 5.01 mm".
    pub check_before: String,
    /// Check after the readings.
    pub check_after: String,
}

/// The record that was checked.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Record {
    /// Its name, without folders.
    pub name: String,
    /// SHA-256 of its bytes, 64 hexadecimal digits.
    pub digest: String,
}

/// How long the certificate holds.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Validity {
    /// From when, and until when.
    pub statement: String,
    /// What ends it, each a half sentence.
    pub ends_when: Vec<String>,
}

/// A place to sign. Receipt of the paper and agreement with it are two signatures.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Signature {
    /// Who signs and as what: "Measurer: A. B."
    pub who: String,
    /// What the signature says, in one sentence.
    pub sentence: String,
}

/// Prints the certificate.
///
/// The same model gives the same bytes. Characters that the fonts lack are written as `[U+4E2D]` and named
/// in a note, on the paper and in [`Printed::notes`].
///
/// # Errors
/// [`PaperProblem::Day`] when the day of measurement or of issue is no date, [`PaperProblem::TooTall`] when
/// one cell of a table fills more than a page, and the two that mean a damaged build.
pub fn print(model: &Certificate) -> Result<Printed, PaperProblem> {
    let measured = day_digits("the day of measurement", &model.document.measured_on)?;
    let issued = match &model.document.issued_on {
        Some(day) => day_digits("the day of issue", day)?,
        None => measured.clone(),
    };
    let faces = Faces::read()?;
    let code = check_code(model);
    let laid = compose::compose(model, &code, &faces)?;
    let about = pdf::About {
        title: format!(
            "{} {} · {}",
            model.title, model.document.number, model.boat.sail_number
        ),
        subject: model.statement.clone(),
        creator: model.made_by.clone(),
        created: measured,
        modified: issued,
        identity: canonical(model),
    };
    Ok(Printed {
        pdf: pdf::write(&laid.pages, &faces, &about)?,
        pages: laid.pages.len(),
        notes: laid.notes,
    })
}

/// The check code of a certificate: the first 80 bits of the SHA-256 of everything on it, in four groups of
/// four signs of the alphabet `0-9 A-Z` without I, L, O and U. The same version of the program gives
/// the same code for the same words.
pub fn check_code(model: &Certificate) -> String {
    const SIGNS: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";
    let digest = Sha256::digest(canonical(model));
    let bits = digest
        .iter()
        .take(10)
        .fold(0u128, |bits, byte| bits << 8 | u128::from(*byte));
    let mut code = String::new();
    for place in 0..16u32 {
        if place > 0 && place % 4 == 0 {
            code.push('-');
        }
        let five = (bits >> (75 - 5 * place)) & 31;
        let sign = usize::try_from(five).ok().and_then(|n| SIGNS.get(n));
        code.extend(sign.map(|&sign| char::from(sign)));
    }
    code
}

/// The certificate as bytes that differ whenever one of its words differs.
fn canonical(model: &Certificate) -> Vec<u8> {
    let mut bytes = b"rimegauge-certificate/1\n".to_vec();
    // Structs of strings always have a JSON form.
    if let Ok(json) = serde_json::to_vec(model) {
        bytes.extend(json);
    }
    bytes
}
