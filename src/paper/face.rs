//! The two faces of the one type family on paper, and what can be written with them.
//!
//! The family is Lato 2.0 by Łukasz Dziedzic, under the SIL Open Font License 1.1 (the text stands beside
//! the font files). It has tabular figures by default and the Latin, Greek and Cyrillic letters of Europe.
//! Medium is the ordinary weight and Heavy the strong one: the lighter pair loses its hairlines in a bad
//! photocopy at 8.5 pt.
//!
//! Three things are made sure before a character reaches a page, since a PDF writer would not complain:
//! every character has a glyph in both faces (else a visible substitute takes its place and is reported),
//! text is in NFC (no accent floats beside its letter), and no two characters share a glyph (so that the
//! text read back from the PDF is the text that was written).

use std::collections::{BTreeMap, BTreeSet};

use allsorts::binary::read::ReadScope;
use allsorts::font::read_cmap_subtable;
use allsorts::font_data::FontData;
use allsorts::subset::{CmapTarget, SubsetProfile, subset};
use allsorts::tables::cmap::Cmap;
use allsorts::tables::{FontTableProvider, HeadTable, HheaTable, HmtxTable, MaxpTable};
use allsorts::tag;
use printpdf::ParsedFont;
use unicode_normalization::UnicodeNormalization;

use super::PaperProblem;

const REGULAR: &[u8] = include_bytes!("fonts/Lato-Medium.ttf");
const BOLD: &[u8] = include_bytes!("fonts/Lato-Heavy.ttf");

/// Characters that the faces draw with the glyph of another one, and the one that is written instead.
/// A test holds this table against the fonts.
const SAME_GLYPH: [(char, char); 6] = [
    ('\u{2010}', '-'),
    ('\u{2219}', '·'),
    ('\u{02b9}', '′'),
    ('\u{02ba}', '″'),
    ('\u{02c9}', '¯'),
    ('\u{1fbe}', '\u{037a}'),
];

/// A blank at which a line never breaks; it is drawn and read back as an ordinary blank.
pub const HARD_BLANK: char = '\u{a0}';

/// The two weights.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Weight {
    /// Ordinary.
    Regular,
    /// Strong.
    Bold,
}

#[derive(Debug, Clone, Copy)]
struct Glyph {
    index: u16,
    advance: u16,
}

/// One weight of the family, read once.
#[derive(Debug)]
pub struct Face {
    name: &'static str,
    bytes: &'static [u8],
    units_per_em: f64,
    glyphs: BTreeMap<char, Glyph>,
    /// Pairs of glyphs as `left << 16 | right` with their correction in font units, in rising order.
    kerns: Vec<(u32, i16)>,
}

/// Text cut where the next piece moves closer or further away.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// Characters that stand at their natural distance.
    pub text: String,
    /// Correction after the text in thousandths of the type size; negative is closer.
    pub then: f64,
}

impl Face {
    fn read(name: &'static str, bytes: &'static [u8]) -> Result<Self, PaperProblem> {
        let bad = |why: &dyn std::fmt::Display| PaperProblem::Font {
            face: name,
            why: why.to_string(),
        };
        let file = ReadScope::new(bytes)
            .read::<FontData<'_>>()
            .map_err(|e| bad(&e))?;
        let tables = file.table_provider(0).map_err(|e| bad(&e))?;
        let table = |tag| tables.read_table_data(tag).map_err(|e| bad(&e));
        let (head, maxp, hhea, hmtx, cmap) = (
            table(tag::HEAD)?,
            table(tag::MAXP)?,
            table(tag::HHEA)?,
            table(tag::HMTX)?,
            table(tag::CMAP)?,
        );
        let head = ReadScope::new(&head)
            .read::<HeadTable>()
            .map_err(|e| bad(&e))?;
        let maxp = ReadScope::new(&maxp)
            .read::<MaxpTable>()
            .map_err(|e| bad(&e))?;
        let hhea = ReadScope::new(&hhea)
            .read::<HheaTable>()
            .map_err(|e| bad(&e))?;
        let hmtx = ReadScope::new(&hmtx)
            .read_dep::<HmtxTable<'_>>((
                usize::from(maxp.num_glyphs),
                usize::from(hhea.num_h_metrics),
            ))
            .map_err(|e| bad(&e))?;
        let cmap = ReadScope::new(&cmap)
            .read::<Cmap<'_>>()
            .map_err(|e| bad(&e))?;
        let (_, subtable) = read_cmap_subtable(&cmap)
            .map_err(|e| bad(&e))?
            .ok_or_else(|| bad(&"it maps no Unicode characters"))?;
        let mut glyphs = BTreeMap::new();
        subtable
            .mappings_fn(|code, index| {
                if let (Some(c), Ok(advance)) =
                    (char::from_u32(code), hmtx.horizontal_advance(index))
                    && index != 0
                {
                    glyphs.insert(c, Glyph { index, advance });
                }
            })
            .map_err(|e| bad(&e))?;
        let kerns = tables
            .table_data(tag::KERN)
            .map_err(|e| bad(&e))?
            .map(|data| kern_pairs(&data))
            .unwrap_or_default();
        Ok(Self {
            name,
            bytes,
            units_per_em: f64::from(head.units_per_em.max(1)),
            glyphs,
            kerns,
        })
    }

    /// Whether the face has a glyph for this character.
    pub fn has(&self, c: char) -> bool {
        self.glyphs.contains_key(&c)
    }

    /// Width of a line in units of the type size (1 is one em).
    pub fn width(&self, text: &str) -> f64 {
        let mut units = 0.0;
        let mut before = None;
        for c in text.chars() {
            if let Some(left) = before {
                units += f64::from(self.kern(left, c));
            }
            units += self
                .glyphs
                .get(&c)
                .map_or(0.0, |glyph| f64::from(glyph.advance));
            before = Some(c);
        }
        units / self.units_per_em
    }

    /// The line cut at its kerned pairs.
    pub fn runs(&self, text: &str) -> Vec<Run> {
        let mut runs = Vec::new();
        let mut piece = String::new();
        let mut rest = text.chars().peekable();
        while let Some(c) = rest.next() {
            piece.push(c);
            let kern = rest.peek().map_or(0, |&right| self.kern(c, right));
            if kern != 0 {
                runs.push(Run {
                    text: std::mem::take(&mut piece),
                    then: f64::from(kern) * 1000.0 / self.units_per_em,
                });
            }
        }
        if !piece.is_empty() {
            runs.push(Run {
                text: piece,
                then: 0.0,
            });
        }
        runs
    }

    /// Correction between two characters in font units. Figures keep their equal widths.
    fn kern(&self, left: char, right: char) -> i16 {
        if left.is_ascii_digit() || right.is_ascii_digit() {
            return 0;
        }
        let (Some(l), Some(r)) = (self.glyphs.get(&left), self.glyphs.get(&right)) else {
            return 0;
        };
        let key = u32::from(l.index) << 16 | u32::from(r.index);
        self.kerns
            .binary_search_by_key(&key, |&(pair, _)| pair)
            .ok()
            .and_then(|at| self.kerns.get(at))
            .map_or(0, |&(_, value)| value)
    }

    /// The part of the face that draws these characters, ready to be embedded.
    ///
    /// # Errors
    /// When the font's tables can't be cut down.
    pub fn embed(&self, used: &BTreeSet<char>) -> Result<ParsedFont, PaperProblem> {
        let bad = |why: String| PaperProblem::Font {
            face: self.name,
            why,
        };
        let mut ids: BTreeSet<u16> = used
            .iter()
            .filter_map(|c| self.glyphs.get(c).map(|glyph| glyph.index))
            .collect();
        ids.insert(0);
        let ids: Vec<u16> = ids.into_iter().collect();
        let file = ReadScope::new(self.bytes)
            .read::<FontData<'_>>()
            .map_err(|e| bad(e.to_string()))?;
        let tables = file.table_provider(0).map_err(|e| bad(e.to_string()))?;
        let part = subset(&tables, &ids, &SubsetProfile::Pdf, CmapTarget::Unicode)
            .map_err(|e| bad(e.to_string()))?;
        let mut warnings = Vec::new();
        let mut parsed = ParsedFont::from_bytes(&part, 0, &mut warnings)
            .ok_or_else(|| bad("the part that is used can't be read back".to_owned()))?;
        // ISO 32000-1, 9.6.4: a subset is named by six capitals of its own and a plus sign.
        parsed.font_name = Some(format!("{}+{}", subset_tag(used), self.name));
        Ok(parsed)
    }
}

/// Six capitals that depend on the characters used only.
fn subset_tag(used: &BTreeSet<char>) -> String {
    let mut sum: u64 = 0xcbf2_9ce4_8422_2325;
    for c in used {
        sum = (sum ^ u64::from(u32::from(*c))).wrapping_mul(0x0000_0100_0000_01b3);
    }
    (0..6)
        .map(|place| {
            let letter = (sum >> (place * 8)) % 26;
            char::from(b'A' + u8::try_from(letter).unwrap_or(0))
        })
        .collect()
}

/// Pairs of a `kern` table of version 0 with horizontal pairs (format 0), OpenType specification,
/// chapter "kern"; any other sort of table gives no pairs.
fn kern_pairs(data: &[u8]) -> Vec<(u32, i16)> {
    let word = |at: usize| {
        data.get(at..at + 2)
            .and_then(|two| two.try_into().ok())
            .map(u16::from_be_bytes)
    };
    let header = (word(0), word(2), word(8));
    if !matches!(header, (Some(0), Some(1..), Some(0x0001))) {
        return Vec::new();
    }
    let count = usize::from(word(10).unwrap_or(0));
    let mut pairs: Vec<(u32, i16)> = (0..count)
        .map_while(|n| {
            let at = 18 + n * 6;
            let (left, right, value) = (word(at)?, word(at + 2)?, word(at + 4)?);
            Some((
                u32::from(left) << 16 | u32::from(right),
                value.cast_signed(),
            ))
        })
        .collect();
    pairs.sort_unstable_by_key(|&(key, _)| key);
    pairs
}

/// Both weights.
#[derive(Debug)]
pub struct Faces {
    regular: Face,
    bold: Face,
}

impl Faces {
    /// Reads the embedded fonts.
    ///
    /// # Errors
    /// When a font is damaged.
    pub fn read() -> Result<Self, PaperProblem> {
        Ok(Self {
            regular: Face::read("Lato-Medium", REGULAR)?,
            bold: Face::read("Lato-Heavy", BOLD)?,
        })
    }

    /// The face of a weight.
    pub fn of(&self, weight: Weight) -> &Face {
        match weight {
            Weight::Regular => &self.regular,
            Weight::Bold => &self.bold,
        }
    }

    /// The text as it can be written: in NFC, on one line, with a visible substitute such as `[U+4E2D]`
    /// for each character that has no glyph or can't be seen; those characters are added to `missing`.
    pub fn writable(&self, text: &str, missing: &mut BTreeSet<char>) -> String {
        let mut out = String::with_capacity(text.len());
        for c in text.nfc() {
            let c = SAME_GLYPH
                .iter()
                .find(|(from, _)| *from == c)
                .map_or(c, |&(_, to)| to);
            match c {
                HARD_BLANK | '\u{2007}' | '\u{202f}' => out.push(HARD_BLANK),
                '\t' | '\n' | '\r' | '\u{2000}'..='\u{200a}' | '\u{2028}' | '\u{2029}' => {
                    out.push(' ');
                }
                // A hyphen that may not be broken at: lines never break there anyway.
                '\u{2011}' => out.push('-'),
                c if self.can_draw(c) => out.push(c),
                c => {
                    missing.insert(c);
                    out.push_str(&substitute(c));
                }
            }
        }
        out
    }

    /// Whether both faces draw the character so that a reader sees it.
    fn can_draw(&self, c: char) -> bool {
        !is_unfit(c) && self.regular.has(c) && self.bold.has(c)
    }
}

/// What is written for a character that can't be drawn.
fn substitute(c: char) -> String {
    format!("[U+{:04X}]", u32::from(c))
}

/// Characters that leave no trace on paper, turn the order of what is seen, or mean nothing outside one font:
/// control characters, the soft hyphen, joiners, marks of direction, private use.
fn is_unfit(c: char) -> bool {
    c.is_control()
        || matches!(c,
            '\u{ad}' | '\u{34f}' | '\u{61c}' | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}' | '\u{e000}'..='\u{f8ff}' | '\u{fe00}'..='\u{fe0f}' | '\u{feff}')
}

#[cfg(test)]
#[allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]
mod tests {
    use super::*;

    fn written(text: &str) -> (String, Vec<char>) {
        let mut missing = BTreeSet::new();
        let out = Faces::read().unwrap().writable(text, &mut missing);
        (out, missing.into_iter().collect())
    }

    #[test]
    fn letters_of_europe_and_signs_of_the_trade_are_there() {
        let latin = "ĄąĆćĘęŁłŃńÓóŚśŹźŻż ÄäÖöÜüÕõŠšŽž ÅåÆæØø ĀāČčĒēĢģĪīĶķĻļŅņŪū ĖėĮįŲų ÐðÞþ ŐőŰű ĂăȘșȚț Ďď Ěě Ňň Řř Ťť Ůů ĞğİıŞş ẞß Ññ Çç";
        let cyrillic: String = ('А'..='я')
            .chain("ЁёІіЇїЄєҐґЎўЂђЈјЉљЊњЋћЏџ".chars())
            .collect();
        let greek = "ΑΒΓΔΕΖΗΘΙΚΛΜΝΞΟΠΡΣΤΥΦΧΨΩ αβγδεζηθικλμνξοπρσςτυφχψω άέήίόύώ";
        let signs =
            "± ≤ ≥ − → · – — ° µ × ÷ ≠ ≈ √ ² ³ ½ ¼ ¾ ′ ″ ‰ € № § † “ ” ‘ ’ „ « » • … / % & @";
        for text in [latin, &cyrillic, greek, signs] {
            assert_eq!(written(text), (text.to_owned(), vec![]));
        }
    }

    #[test]
    fn a_character_without_a_glyph_is_named_and_reported() {
        assert_eq!(
            written("王 Nightjar"),
            ("[U+738B] Nightjar".to_owned(), vec!['王'])
        );
        assert_eq!(written("a\u{200b}b\u{202e}c").0, "a[U+200B]b[U+202E]c");
        assert_eq!(written("soft\u{ad}hyphen").0, "soft[U+00AD]hyphen");
    }

    #[test]
    fn text_is_composed_and_blanks_are_plain() {
        assert_eq!(written("o\u{308}ra\tb\u{2009}c").0, "öra b c");
        assert_eq!(written("5\u{202f}mm").0, "5\u{a0}mm");
    }

    #[test]
    fn no_two_characters_that_can_be_written_share_a_glyph() {
        let faces = Faces::read().unwrap();
        for weight in [Weight::Regular, Weight::Bold] {
            let face = faces.of(weight);
            let mut by_glyph: BTreeMap<u16, BTreeSet<String>> = BTreeMap::new();
            for (&c, glyph) in &face.glyphs {
                let mut missing = BTreeSet::new();
                let out = faces.writable(&c.to_string(), &mut missing);
                if missing.is_empty() && out.chars().count() == 1 {
                    let drawn = out.chars().next().unwrap();
                    if face.glyphs[&drawn].index == glyph.index {
                        by_glyph
                            .entry(glyph.index)
                            .or_default()
                            .insert(out.replace(HARD_BLANK, " "));
                    }
                }
            }
            for (glyph, texts) in by_glyph {
                assert_eq!(texts.len(), 1, "{weight:?} glyph {glyph}: {texts:?}");
            }
        }
    }

    #[test]
    fn figures_are_equally_wide_in_both_weights() {
        let faces = Faces::read().unwrap();
        for weight in [Weight::Regular, Weight::Bold] {
            let face = faces.of(weight);
            let widths: Vec<f64> = ('0'..='9').map(|c| face.width(&c.to_string())).collect();
            assert!(widths.windows(2).all(|w| w[0] == w[1]), "{widths:?}");
            assert_eq!(face.width("1174"), 4.0 * widths[0]);
        }
    }

    #[test]
    fn pairs_are_kerned_and_the_runs_keep_the_text() {
        let faces = Faces::read().unwrap();
        let face = faces.of(Weight::Regular);
        assert!(face.width("To") < face.width("T") + face.width("o"));
        let runs = face.runs("Tarn 8 To");
        assert!(runs.len() > 1);
        let text: String = runs.iter().map(|run| run.text.as_str()).collect();
        assert_eq!(text, "Tarn 8 To");
    }
}
