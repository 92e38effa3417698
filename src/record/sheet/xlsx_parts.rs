//! What the cells of an XLSX workbook refer to: shared texts, formats that make a number a day, sheets by their files.

use super::xml::{Step, Walk};
use super::zip::Archive;
use super::{Bad, bad};

/// A sheet by its name and the part of the archive that holds it.
pub(super) struct Listed {
    pub name: String,
    pub part: String,
}

/// The workbook: its sheets, and whether days are counted from 1904.
pub(super) struct Workbook {
    pub sheets: Vec<Listed>,
    pub from_1904: bool,
}

/// How numbers of a format are meant (ECMA-376 part 1, 18.8.30).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Shown {
    /// As a number.
    Number,
    /// As a percentage.
    Percent,
    /// As a day, perhaps with a time.
    Day,
    /// As a time of day or a length of time.
    Time,
}

fn missing(name: &str, part: &str) -> Bad {
    bad(
        name,
        format!("the workbook has no part {part}"),
        "open and save it again as XLSX",
    )
}

/// The part of the archive that is the workbook, by the relations of the package.
fn workbook_part(name: &str, archive: &Archive<'_>) -> Result<String, Bad> {
    let usual = "xl/workbook.xml";
    if archive.has(usual) {
        return Ok(usual.to_owned());
    }
    let relations = relations(name, archive, "_rels/.rels", "")?;
    let found = relations
        .into_iter()
        .find(|one| one.kind.ends_with("/officeDocument"));
    found
        .map(|one| one.target)
        .ok_or_else(|| missing(name, usual))
}

struct Relation {
    id: String,
    kind: String,
    target: String,
}

/// The relations of a part; targets as parts of the archive.
fn relations(
    name: &str,
    archive: &Archive<'_>,
    part: &str,
    folder: &str,
) -> Result<Vec<Relation>, Bad> {
    let Some(text) = archive.text(part)? else {
        return Ok(Vec::new());
    };
    let mut walk = Walk::new(name, part, &text);
    let mut found = Vec::new();
    loop {
        match walk.step()? {
            Step::Open(element) if element.name == "Relationship" => {
                let target = element.get("Target").unwrap_or_default();
                let target = match target.strip_prefix('/') {
                    Some(whole) => whole.to_owned(),
                    None => joined(folder, &target),
                };
                found.push(Relation {
                    id: element.get("Id").unwrap_or_default(),
                    kind: element.get("Type").unwrap_or_default(),
                    target,
                });
            }
            Step::End => return Ok(found),
            Step::Open(_) | Step::Close(_) | Step::Text(_) => {}
        }
    }
}

/// A target beside a folder: `worksheets/sheet1.xml`, `../xl/worksheets/sheet1.xml`.
fn joined(folder: &str, target: &str) -> String {
    let mut steps: Vec<&str> = folder.split('/').filter(|step| !step.is_empty()).collect();
    for step in target.split('/') {
        match step {
            "" | "." => {}
            ".." => {
                steps.pop();
            }
            _ => steps.push(step),
        }
    }
    steps.join("/")
}

pub(super) fn workbook(name: &str, archive: &Archive<'_>) -> Result<(Workbook, String), Bad> {
    let part = workbook_part(name, archive)?;
    let (folder, file) = part.rsplit_once('/').unwrap_or(("", &part));
    let beside = joined(folder, &format!("_rels/{file}.rels"));
    let relations = relations(name, archive, &beside, folder)?;
    let text = archive.text(&part)?.ok_or_else(|| missing(name, &part))?;
    let mut walk = Walk::new(name, &part, &text);
    let mut book = Workbook {
        sheets: Vec::new(),
        from_1904: false,
    };
    loop {
        match walk.step()? {
            Step::Open(element) if element.name == "workbookPr" => {
                let set = element.get("date1904").unwrap_or_default();
                book.from_1904 = matches!(set.as_str(), "1" | "true" | "on");
            }
            Step::Open(element) if element.name == "sheet" => {
                let id = element.get("id").unwrap_or_default();
                let relation = relations.iter().find(|one| one.id == id);
                // A sheet of charts alone has no cells.
                let cells = relation.filter(|one| one.kind.ends_with("/worksheet"));
                if let Some(relation) = cells {
                    book.sheets.push(Listed {
                        name: element.get("name").unwrap_or_default(),
                        part: relation.target.clone(),
                    });
                }
            }
            Step::End => return Ok((book, folder.to_owned())),
            Step::Open(_) | Step::Close(_) | Step::Text(_) => {}
        }
    }
}

/// The texts that cells share (18.4.9): runs of one text are one, how it is spoken is left out.
pub(super) fn shared_texts(
    name: &str,
    archive: &Archive<'_>,
    folder: &str,
) -> Result<Vec<String>, Bad> {
    let part = joined(folder, "sharedStrings.xml");
    let Some(text) = archive.text(&part)? else {
        return Ok(Vec::new());
    };
    let mut walk = Walk::new(name, &part, &text);
    let mut texts = Vec::new();
    loop {
        match walk.step()? {
            Step::Open(element) if element.name == "si" => {
                texts.push(walk.text(&["rPh", "phoneticPr"])?);
            }
            Step::End => return Ok(texts),
            Step::Open(_) | Step::Close(_) | Step::Text(_) => {}
        }
    }
}

/// How numbers are meant, by the style of a cell (18.8.10).
pub(super) fn styles(name: &str, archive: &Archive<'_>, folder: &str) -> Result<Vec<Shown>, Bad> {
    let part = joined(folder, "styles.xml");
    let Some(text) = archive.text(&part)? else {
        return Ok(Vec::new());
    };
    let mut walk = Walk::new(name, &part, &text);
    let mut own: Vec<(u32, Shown)> = Vec::new();
    let mut styles = Vec::new();
    let mut in_cells = false;
    loop {
        match walk.step()? {
            Step::Open(element) => match element.name.as_str() {
                "numFmt" => {
                    let code = element.get("formatCode").unwrap_or_default();
                    if let Some(id) = element.number("numFmtId") {
                        own.push((id, shown_by(&code)));
                    }
                }
                "cellXfs" => in_cells = true,
                "xf" if in_cells => {
                    let id = element.number("numFmtId").unwrap_or(0);
                    let found = own.iter().find(|(own, _)| *own == id);
                    styles.push(found.map_or_else(|| built_in(id), |(_, shown)| *shown));
                }
                _ => {}
            },
            Step::Close(element) if element == "cellXfs" => in_cells = false,
            Step::End => return Ok(styles),
            Step::Close(_) | Step::Text(_) => {}
        }
    }
}

/// The formats that every workbook has (18.8.30).
fn built_in(id: u32) -> Shown {
    match id {
        14..=17 | 22 | 27..=31 | 36 | 50..=54 | 57..=58 => Shown::Day,
        9 | 10 => Shown::Percent,
        18..=21 | 32..=35 | 45..=47 | 55..=56 => Shown::Time,
        _ => Shown::Number,
    }
}

/// A format of the workbook's own: letters of days and times outside of quotes and brackets make it one.
fn shown_by(code: &str) -> Shown {
    let first = code.split(';').next().unwrap_or("");
    let (mut day, mut time, mut month_or_minute) = (false, false, false);
    let mut percent = false;
    let mut letters = first.chars().peekable();
    while let Some(letter) = letters.next() {
        match letter {
            '"' => while letters.next().is_some_and(|one| one != '"') {},
            '\\' | '_' | '*' => {
                letters.next();
            }
            '[' => {
                // `[h]` counts hours; `[Red]` and `[$-407]` are no part of the number.
                let inside: String = letters.by_ref().take_while(|one| *one != ']').collect();
                let counted = inside.to_ascii_lowercase();
                let same = |of: char| !counted.is_empty() && counted.chars().all(|one| one == of);
                time |= same('h') || same('m') || same('s');
            }
            'y' | 'Y' | 'd' | 'D' => day = true,
            'h' | 'H' | 's' | 'S' => time = true,
            'm' | 'M' => month_or_minute = true,
            '%' => percent = true,
            // `General` holds letters that stand for none of these.
            'G' | 'g' if first.to_ascii_lowercase().contains("general") => return Shown::Number,
            _ => {}
        }
    }
    match (day, time, month_or_minute) {
        (true, _, _) | (false, false, true) => Shown::Day,
        (false, true, _) => Shown::Time,
        (false, false, false) if percent => Shown::Percent,
        (false, false, false) => Shown::Number,
    }
}
