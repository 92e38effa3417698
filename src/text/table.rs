//! A table with one header line, cells parted by commas (RFC 4180), to cells with the bytes they were
//! written with.
//!
//! Lines that begin with `#` are remarks and are passed over, and so are empty lines. Semicolons or tabs part
//! cells where the header has them and no comma.

use super::limits::{PROBLEMS, TABLE_COLUMNS, TABLE_ROWS};
use super::problem::{TextProblem, quoted, too_many};
use super::source::Span;

/// One cell.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cell {
    /// What stands in it, without blanks around it.
    pub text: String,
    /// Where.
    pub span: Span,
}

/// A table: every row has as many cells as the header.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Table {
    /// The names of the columns.
    pub header: Vec<Cell>,
    /// The rows below it.
    pub rows: Vec<Vec<Cell>>,
}

/// A line and where it begins.
struct Line<'t> {
    text: &'t str,
    start: usize,
}

fn lines(text: &str) -> impl Iterator<Item = Line<'_>> {
    let mut start = 0;
    text.split_inclusive('\n').filter_map(move |whole| {
        let line = Line {
            text: whole.trim_end_matches(['\n', '\r']),
            start,
        };
        start += whole.len();
        let bare = line.text.trim();
        (!bare.is_empty() && !bare.starts_with('#')).then_some(line)
    })
}

/// What parts the cells of a table with this header.
fn parting(header: &str) -> u8 {
    if header.contains(',') {
        b','
    } else if header.contains(';') {
        b';'
    } else if header.contains('\t') {
        b'\t'
    } else {
        b','
    }
}

/// The cells of one line. A line that is written without quotes tells each cell's place; one with quotes is
/// underlined whole.
fn cells(line: &Line<'_>, by: u8) -> Option<Vec<Cell>> {
    if !line.text.contains('"') {
        let mut at = line.start;
        let cell = |piece: &str| {
            let before = piece.len() - piece.trim_start().len();
            let bare = piece.trim();
            let start = at + before;
            at += piece.len() + 1;
            Cell {
                text: bare.to_owned(),
                span: Span::new(start, start + bare.len()),
            }
        };
        return Some(line.text.split(char::from(by)).map(cell).collect());
    }
    let span = Span::new(line.start, line.start + line.text.len());
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .delimiter(by)
        .trim(csv::Trim::All)
        .from_reader(line.text.as_bytes());
    let record = reader.records().next()?.ok()?;
    let cell = |text: &str| Cell {
        text: text.to_owned(),
        span,
    };
    Some(record.iter().map(cell).collect())
}

/// Reads a table.
///
/// # Errors
/// No header; a row with more or fewer cells than the header; more rows or columns than are read. All rows that
/// do not fit are told.
pub fn parse_table(text: &str) -> Result<Table, Vec<TextProblem>> {
    const FORM: &str =
        "the first line names the columns, each further line is a row: `x [mm],y [mm]`";
    let mut lines = lines(text);
    let Some(first) = lines.next() else {
        let problem = TextProblem::new("text.table", "the table is empty").help(FORM);
        return Err(vec![problem]);
    };
    let by = parting(first.text);
    let whole = |line: &Line<'_>| Span::new(line.start, line.start + line.text.len());
    let unreadable = |line: &Line<'_>| {
        TextProblem::new("text.table", "this line can't be parted into cells")
            .label(whole(line), "not cells")
            .help("a quote that opens a cell closes it; numbers need none")
    };
    let Some(header) = cells(&first, by) else {
        return Err(vec![unreadable(&first)]);
    };
    if header.len() > TABLE_COLUMNS {
        let message = format!(
            "the table has {} columns; {TABLE_COLUMNS} are read",
            header.len()
        );
        return Err(vec![
            TextProblem::new("text.table", message).label(whole(&first), ""),
        ]);
    }
    let mut problems = Vec::new();
    let mut rows = Vec::new();
    for line in lines {
        if problems.len() >= PROBLEMS {
            problems.push(too_many());
            break;
        }
        if rows.len() >= TABLE_ROWS {
            let message =
                format!("the table has more than {TABLE_ROWS} rows (the limit TABLE_ROWS)");
            problems.push(TextProblem::new("text.table", message).label(whole(&line), ""));
            break;
        }
        match cells(&line, by) {
            None => problems.push(unreadable(&line)),
            Some(row) if row.len() == header.len() => rows.push(row),
            Some(row) => {
                let s = |count: usize| if count == 1 { "" } else { "s" };
                let message = format!(
                    "{} has {} cell{}; the header {} names {}",
                    quoted(line.text),
                    row.len(),
                    s(row.len()),
                    quoted(first.text),
                    header.len()
                );
                let problem = TextProblem::new("text.table", message)
                    .label(whole(&line), "another number of cells")
                    .label(whole(&first), "the header")
                    .help("a cell for each column; a decimal point, not a comma");
                problems.push(problem);
            }
        }
    }
    if problems.is_empty() {
        Ok(Table { header, rows })
    } else {
        Err(problems)
    }
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

    fn texts(row: &[Cell]) -> Vec<&str> {
        row.iter().map(|cell| cell.text.as_str()).collect()
    }

    #[test]
    fn cells_know_where_they_stand() {
        let text = "# remark\r\nx [mm], y [mm]\r\n\r\n-400, 0.31\n0,0.00\n";
        let table = parse_table(text).unwrap();
        assert_eq!(texts(&table.header), ["x [mm]", "y [mm]"]);
        assert_eq!(texts(&table.rows[0]), ["-400", "0.31"]);
        for cell in table.header.iter().chain(table.rows.iter().flatten()) {
            assert_eq!(&text[cell.span.range()], cell.text);
        }
    }

    #[test]
    fn semicolons_tabs_and_quotes() {
        assert_eq!(texts(&parse_table("a;b\n1;2").unwrap().rows[0]), ["1", "2"]);
        assert_eq!(
            texts(&parse_table("a\tb\n1\t2").unwrap().rows[0]),
            ["1", "2"]
        );
        let quoted = parse_table("a,b\n\"1, 2\",3").unwrap();
        assert_eq!(texts(&quoted.rows[0]), ["1, 2", "3"]);
    }

    #[test]
    fn what_does_not_fit_is_told_row_by_row() {
        let problems = parse_table("a,b\n1\n1,2\n1,2,3\n").unwrap_err();
        assert_eq!(problems.len(), 2);
        assert_eq!(
            problems[1].message,
            "`1,2,3` has 3 cells; the header `a,b` names 2"
        );
        assert_eq!(
            parse_table(" \n# only\n").unwrap_err()[0].code,
            "text.table"
        );
    }
}
