//! Spreadsheets made of a few lines of text, as XLSX and as ODS, so that one case tells of both.
//!
//! `sheet NAME` begins a sheet, `merge A2:A3` merges cells, any other line is a row of cells parted by `|`. A cell
//! is text; `#4.7` a number, `@2026-11-21` a day, `?yes` a truth, `!#REF!` an error, `=A1*2 -> 4.7` a formula with
//! its value, `=A1*2` one without. `T` between day and time: `@2026-11-21T09:00`.

use std::io::Write;

use flate2::Compression;
use flate2::Crc;
use flate2::write::DeflateEncoder;

#[derive(Default)]
struct Sheet {
    name: String,
    merged: Vec<((usize, usize), (usize, usize))>,
    rows: Vec<Vec<String>>,
}

fn sheets(text: &str) -> Vec<Sheet> {
    let mut sheets: Vec<Sheet> = Vec::new();
    for line in text.lines().filter(|line| !line.starts_with("//")) {
        if let Some(name) = line.strip_prefix("sheet ") {
            sheets.push(Sheet {
                name: name.to_owned(),
                ..Sheet::default()
            });
            continue;
        }
        let sheet = sheets.last_mut().expect("a sheet is begun");
        if let Some(area) = line.strip_prefix("merge ") {
            let (first, last) = area.split_once(':').unwrap();
            sheet.merged.push((place(first), place(last)));
            continue;
        }
        let cells = line.split('|').map(|cell| cell.trim().to_owned());
        sheet.rows.push(cells.collect());
    }
    sheets
}

/// `B3` as row and column from 0.
fn place(name: &str) -> (usize, usize) {
    let column = usize::from(name.as_bytes()[0] - b'A');
    (name[1..].parse::<usize>().unwrap() - 1, column)
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('"', "&quot;")
}

/// A formula and the value behind it.
fn parted(cell: &str) -> (Option<&str>, Option<&str>) {
    match cell.strip_prefix('=') {
        None => (None, Some(cell)),
        Some(rest) => match rest.split_once("->") {
            Some((formula, value)) => (Some(formula.trim()), Some(value.trim())),
            None => (Some(rest), None),
        },
    }
}

/// The number that a spreadsheet keeps for a day.
fn serial(day: &str) -> f64 {
    let (date, time) = day.split_once('T').unwrap_or((day, "00:00"));
    let date: jiff::civil::Date = date.parse().unwrap();
    let zero = jiff::civil::date(1899, 12, 30);
    let days = f64::from((date - zero).get_days());
    let (hours, minutes) = time.split_once(':').unwrap();
    let minutes = hours.parse::<f64>().unwrap() * 60.0 + minutes.parse::<f64>().unwrap();
    days + minutes / 1440.0
}

pub fn xlsx(text: &str) -> Vec<u8> {
    let sheets = sheets(text);
    let mut parts = vec![
        ("[Content_Types].xml".to_owned(), "<Types/>".to_owned()),
        ("xl/styles.xml".to_owned(), "<styleSheet><numFmts count=\"1\"><numFmt numFmtId=\"164\" formatCode=\"[$-809]dd\\.mm\\.yyyy;@\"/></numFmts><cellXfs count=\"3\"><xf numFmtId=\"0\"/><xf numFmtId=\"14\"/><xf numFmtId=\"164\"/></cellXfs></styleSheet>".to_owned()),
    ];
    let mut shared: Vec<String> = Vec::new();
    let (mut listed, mut relations) = (String::new(), String::new());
    for (at, sheet) in sheets.iter().enumerate() {
        let number = at + 1;
        listed.push_str(&format!(
            "<sheet name=\"{}\" sheetId=\"{number}\" r:id=\"rId{number}\"/>",
            escaped(&sheet.name)
        ));
        relations.push_str(&format!("<Relationship Id=\"rId{number}\" Type=\"http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet\" Target=\"worksheets/sheet{number}.xml\"/>"));
        let mut rows = String::new();
        for (row, cells) in sheet.rows.iter().enumerate() {
            rows.push_str(&format!("<row r=\"{}\">", row + 1));
            for (column, cell) in cells.iter().enumerate() {
                let name = format!(
                    "{}{}",
                    char::from(b'A' + u8::try_from(column).unwrap()),
                    row + 1
                );
                let (formula, value) = parted(cell);
                let formula =
                    formula.map_or(String::new(), |one| format!("<f>{}</f>", escaped(one)));
                let (attributes, value) = match value {
                    None => (String::new(), String::new()),
                    Some("") => (" s=\"1\"".to_owned(), String::new()),
                    Some(value) => {
                        let rest = &value[1..];
                        match value.as_bytes()[0] {
                            b'#' => (String::new(), rest.to_owned()),
                            b'@' => (
                                format!(" s=\"{}\"", 1 + column % 2),
                                serial(rest).to_string(),
                            ),
                            b'?' => (" t=\"b\"".to_owned(), u8::from(rest == "yes").to_string()),
                            b'!' => (" t=\"e\"".to_owned(), rest.to_owned()),
                            _ if !formula.is_empty() => (" t=\"str\"".to_owned(), escaped(value)),
                            _ => {
                                shared.push(value.to_owned());
                                (" t=\"s\"".to_owned(), (shared.len() - 1).to_string())
                            }
                        }
                    }
                };
                let value = if value.is_empty() {
                    value
                } else {
                    format!("<v>{value}</v>")
                };
                rows.push_str(&format!("<c r=\"{name}\"{attributes}>{formula}{value}</c>"));
            }
            rows.push_str("</row>");
        }
        let name = |(row, column): (usize, usize)| {
            format!(
                "{}{}",
                char::from(b'A' + u8::try_from(column).unwrap()),
                row + 1
            )
        };
        let merged: String = sheet
            .merged
            .iter()
            .map(|(first, last)| format!("<mergeCell ref=\"{}:{}\"/>", name(*first), name(*last)))
            .collect();
        parts.push((format!("xl/worksheets/sheet{number}.xml"), format!("<?xml version=\"1.0\"?><worksheet xmlns=\"http://schemas.openxmlformats.org/spreadsheetml/2006/main\"><sheetData>{rows}</sheetData><mergeCells>{merged}</mergeCells></worksheet>")));
    }
    // Texts in runs, as they are kept where a part of them is bold.
    let texts: String = shared
        .iter()
        .map(|text| {
            let (a, b) = text.split_at(text.char_indices().nth(1).map_or(text.len(), |(at, _)| at));
            format!(
                "<si><r><t>{}</t></r><r><rPr><b/></rPr><t xml:space=\"preserve\">{}</t></r></si>",
                escaped(a),
                escaped(b)
            )
        })
        .collect();
    parts.push((
        "xl/sharedStrings.xml".to_owned(),
        format!("<sst>{texts}</sst>"),
    ));
    parts.push((
        "xl/workbook.xml".to_owned(),
        format!("<workbook xmlns:r=\"r\"><workbookPr/><sheets>{listed}</sheets></workbook>"),
    ));
    parts.push((
        "xl/_rels/workbook.xml.rels".to_owned(),
        format!("<Relationships>{relations}</Relationships>"),
    ));
    zip(&parts)
}

pub fn ods(text: &str) -> Vec<u8> {
    let mut tables = String::new();
    for sheet in sheets(text) {
        let mut rows = String::new();
        for (row, cells) in sheet.rows.iter().enumerate() {
            rows.push_str("<table:table-row>");
            for (column, cell) in cells.iter().enumerate() {
                let here = (row, column);
                let span = sheet.merged.iter().find(|(first, _)| *first == here);
                let covered = sheet.merged.iter().any(|(first, last)| {
                    *first != here
                        && (first.0..=last.0).contains(&row)
                        && (first.1..=last.1).contains(&column)
                });
                let span = span.map_or(String::new(), |(first, last)| {
                    format!(
                        " table:number-rows-spanned=\"{}\" table:number-columns-spanned=\"{}\"",
                        last.0 - first.0 + 1,
                        last.1 - first.1 + 1
                    )
                });
                let name = if covered {
                    "table:covered-table-cell"
                } else {
                    "table:table-cell"
                };
                let (formula, value) = parted(cell);
                let formula = formula.map_or(String::new(), |one| {
                    format!(" table:formula=\"of:={}\"", escaped(one))
                });
                let (attributes, shown) = match value {
                    None | Some("") => (String::new(), String::new()),
                    Some(value) => {
                        let rest = &value[1..];
                        match value.as_bytes()[0] {
                            b'#' => (
                                format!(" office:value-type=\"float\" office:value=\"{rest}\""),
                                rest.to_owned(),
                            ),
                            b'@' => (
                                format!(" office:value-type=\"date\" office:date-value=\"{rest}\""),
                                rest.to_owned(),
                            ),
                            b'?' => (
                                format!(
                                    " office:value-type=\"boolean\" office:boolean-value=\"{}\"",
                                    rest == "yes"
                                ),
                                rest.to_uppercase(),
                            ),
                            b'!' => (" office:value-type=\"string\"".to_owned(), rest.to_owned()),
                            _ => (" office:value-type=\"string\"".to_owned(), escaped(value)),
                        }
                    }
                };
                let shown = if shown.is_empty() {
                    shown
                } else {
                    format!("<text:p>{shown}</text:p>")
                };
                let remark = "<office:annotation><text:p>a remark</text:p></office:annotation>";
                let remark = if column == 0 && !shown.is_empty() {
                    remark
                } else {
                    ""
                };
                rows.push_str(&format!(
                    "<{name}{span}{formula}{attributes}>{remark}{shown}</{name}>"
                ));
            }
            rows.push_str(
                "<table:table-cell table:number-columns-repeated=\"16000\"/></table:table-row>",
            );
        }
        // To the end of the sheet, as every writer has it.
        rows.push_str("<table:table-row table:number-rows-repeated=\"1048000\"><table:table-cell table:number-columns-repeated=\"16384\"/></table:table-row>");
        tables.push_str(&format!(
            "<table:table table:name=\"{}\">{rows}</table:table>",
            escaped(&sheet.name)
        ));
    }
    let content = format!(
        "<?xml version=\"1.0\"?><office:document-content xmlns:office=\"o\" xmlns:table=\"t\" xmlns:text=\"x\"><office:body><office:spreadsheet>{tables}</office:spreadsheet></office:body></office:document-content>"
    );
    zip(&[
        (
            "mimetype".to_owned(),
            "application/vnd.oasis.opendocument.spreadsheet".to_owned(),
        ),
        ("content.xml".to_owned(), content),
    ])
}

/// A zip archive of deflated parts.
pub fn zip(parts: &[(String, String)]) -> Vec<u8> {
    let (mut bytes, mut directory) = (Vec::new(), Vec::new());
    for (name, text) in parts {
        let mut crc = Crc::new();
        crc.update(text.as_bytes());
        let mut packer = DeflateEncoder::new(Vec::new(), Compression::default());
        packer.write_all(text.as_bytes()).unwrap();
        let packed = packer.finish().unwrap();
        let at = u32::try_from(bytes.len()).unwrap();
        let mut common = Vec::new();
        common.extend([20, 0, 0, 0, 8, 0, 0, 0, 0, 0]);
        common.extend(crc.sum().to_le_bytes());
        common.extend(u32::try_from(packed.len()).unwrap().to_le_bytes());
        common.extend(u32::try_from(text.len()).unwrap().to_le_bytes());
        common.extend(u16::try_from(name.len()).unwrap().to_le_bytes());
        common.extend([0, 0]);
        bytes.extend(b"PK\x03\x04");
        bytes.extend(&common);
        bytes.extend(name.as_bytes());
        bytes.extend(packed);
        directory.extend(b"PK\x01\x02");
        directory.extend([20, 0]);
        directory.extend(&common);
        directory.extend([0; 10]);
        directory.extend(at.to_le_bytes());
        directory.extend(name.as_bytes());
    }
    let at = u32::try_from(bytes.len()).unwrap();
    let count = u16::try_from(parts.len()).unwrap();
    let length = u32::try_from(directory.len()).unwrap();
    bytes.extend(directory);
    bytes.extend(b"PK\x05\x06");
    bytes.extend([0; 4]);
    bytes.extend(count.to_le_bytes());
    bytes.extend(count.to_le_bytes());
    bytes.extend(length.to_le_bytes());
    bytes.extend(at.to_le_bytes());
    bytes.extend([0, 0]);
    bytes
}
