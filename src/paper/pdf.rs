//! From pages of marks to the bytes of a PDF file.
//!
//! Text is written as glyphs of the two embedded subsets at absolute places, with a map back to Unicode;
//! numbers are rounded to a hundredth of a point, so that no digit depends on the machine. What the PDF
//! writer would take from a clock or a counter (dates, the file identifier) is set from the caller's words.

use std::collections::{BTreeMap, BTreeSet};

use lopdf::{Dictionary, Object, StringFormat};
use printpdf::{
    FontId, Line, LinePoint, Mm as PdfMm, Op, PdfDocument, PdfFont, PdfFontHandle, PdfPage,
    PdfSaveOptions, Point, Pt, TextItem,
};
use sha2::{Digest, Sha256};

use super::PaperProblem;
use super::face::{Faces, HARD_BLANK};
use super::layout::{
    MARGIN, Mark, Mm, POINT, Page, RULE, SHEET_HEIGHT, SHEET_WIDTH, Style, Weight,
};

/// What the file says about itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct About {
    /// Title of the document.
    pub title: String,
    /// What it is about.
    pub subject: String,
    /// Which program wrote it.
    pub creator: String,
    /// Day it speaks of, as `YYYYMMDD`.
    pub created: String,
    /// Day it was issued, as `YYYYMMDD`.
    pub modified: String,
    /// Anything that is the same only for the same document; its digest becomes the file identifier.
    pub identity: Vec<u8>,
}

const WEIGHTS: [Weight; 2] = [Weight::Regular, Weight::Bold];

/// The file.
///
/// # Errors
/// When a font can't be embedded or the file can't be written to memory.
pub(super) fn write(pages: &[Page], faces: &Faces, about: &About) -> Result<Vec<u8>, PaperProblem> {
    let mut doc = PdfDocument::new(&about.title);
    for weight in WEIGHTS {
        let used = characters(pages, weight);
        if !used.is_empty() {
            let font = PdfFont::new(faces.of(weight).embed(&used)?);
            doc.resources.fonts.map.insert(font_id(weight), font);
        }
    }
    doc.pages = pages
        .iter()
        .map(|page| {
            PdfPage::new(
                PdfMm(to_f32(SHEET_WIDTH)),
                PdfMm(to_f32(SHEET_HEIGHT)),
                operations(page, faces),
            )
        })
        .collect();
    let mut warnings = Vec::new();
    let mut file = doc.to_lopdf_document(&PdfSaveOptions::default(), &mut warnings);
    finish(&mut file, about).map_err(|why| PaperProblem::File {
        why: why.to_string(),
    })?;
    let mut bytes = Vec::new();
    file.save_to(&mut bytes).map_err(|why| PaperProblem::File {
        why: why.to_string(),
    })?;
    Ok(bytes)
}

/// Replaces what the writer filled in by itself: version, description, identifier, language.
fn finish(file: &mut lopdf::Document, about: &About) -> Result<(), lopdf::Error> {
    file.version = "1.7".to_owned();
    let mut info = Dictionary::new();
    info.set("Title", lopdf::text_string(&about.title));
    info.set("Subject", lopdf::text_string(&about.subject));
    info.set("Creator", lopdf::text_string(&about.creator));
    info.set("Producer", lopdf::text_string(&about.creator));
    info.set("CreationDate", day(&about.created));
    info.set("ModDate", day(&about.modified));
    let info = file.add_object(info);
    file.trailer.set("Info", info);
    let digest = Sha256::digest(&about.identity);
    let id = Object::String(
        digest.iter().take(16).copied().collect(),
        StringFormat::Hexadecimal,
    );
    file.trailer.set("ID", vec![id.clone(), id]);
    let mut viewer = Dictionary::new();
    viewer.set("DisplayDocTitle", true);
    let catalog = file.catalog_mut()?;
    catalog.set("Lang", Object::string_literal("en"));
    catalog.set("ViewerPreferences", viewer);
    // The writer's own metadata repeats its placeholders.
    catalog.remove(b"Metadata");
    file.prune_objects();
    file.renumber_objects();
    file.compress();
    Ok(())
}

/// A date of whole days (ISO 32000-1, 7.9.4).
fn day(digits: &str) -> Object {
    Object::string_literal(format!("D:{digits}"))
}

fn font_id(weight: Weight) -> FontId {
    FontId(
        match weight {
            Weight::Regular => "FR",
            Weight::Bold => "FB",
        }
        .to_owned(),
    )
}

/// Characters that a weight writes.
fn characters(pages: &[Page], weight: Weight) -> BTreeSet<char> {
    pages
        .iter()
        .flat_map(|page| &page.marks)
        .filter_map(|mark| match mark {
            Mark::Text { style, text, .. } if style.weight == weight => Some(text),
            Mark::Text { .. } | Mark::Rule { .. } => None,
        })
        .flat_map(|text| text.chars())
        .map(drawn)
        .collect()
}

/// The character that is drawn for one of the text.
fn drawn(c: char) -> char {
    if c == HARD_BLANK { ' ' } else { c }
}

/// The drawing of a page: rules first, then text in reading order.
fn operations(page: &Page, faces: &Faces) -> Vec<Op> {
    let mut ops = vec![Op::SetOutlineThickness {
        pt: Pt(to_f32(RULE)),
    }];
    // The same rule may come from two blocks that meet.
    let mut seen = BTreeMap::new();
    for mark in &page.marks {
        if let Mark::Rule { from, to } = mark {
            let ends = [place(*from), place(*to)];
            let key = ends.map(|(x, y)| (x.to_bits(), y.to_bits()));
            if seen.insert(key, ()).is_none() {
                ops.push(Op::DrawLine {
                    line: Line {
                        points: ends.map(line_point).to_vec(),
                        is_closed: false,
                    },
                });
            }
        }
    }
    for mark in &page.marks {
        if let Mark::Text { x, y, style, text } = mark {
            text_operations(&mut ops, (*x, *y), *style, text, faces);
        }
    }
    ops
}

fn text_operations(ops: &mut Vec<Op>, at: (Mm, Mm), style: Style, text: &str, faces: &Faces) {
    let text: String = text.chars().map(drawn).collect();
    let mut items = Vec::new();
    for run in faces.of(style.weight).runs(&text) {
        items.push(TextItem::Text(run.text));
        if run.then != 0.0 {
            // In a PDF a positive number moves to the left.
            items.push(TextItem::Offset(to_f32((-run.then).round())));
        }
    }
    if items.is_empty() {
        return;
    }
    let (x, y) = place(at);
    ops.extend([
        Op::StartTextSection,
        Op::SetFont {
            font: PdfFontHandle::External(font_id(style.weight)),
            size: Pt(to_f32(style.size.points())),
        },
        Op::SetTextCursor {
            pos: Point { x: Pt(x), y: Pt(y) },
        },
        Op::ShowText { items },
        Op::EndTextSection,
    ]);
}

/// A place on the text area in points from the lower left corner of the sheet.
fn place((x, y): (Mm, Mm)) -> (f32, f32) {
    (
        to_f32((MARGIN + x) / POINT),
        to_f32((SHEET_HEIGHT - MARGIN - y) / POINT),
    )
}

fn line_point((x, y): (f32, f32)) -> LinePoint {
    LinePoint {
        p: Point { x: Pt(x), y: Pt(y) },
        bezier: false,
    }
}

/// Rounded to a hundredth.
#[expect(
    clippy::cast_possible_truncation,
    reason = "a place on a sheet fits in f32 with room to spare"
)]
fn to_f32(value: f64) -> f32 {
    ((value * 100.0).round() / 100.0) as f32
}
