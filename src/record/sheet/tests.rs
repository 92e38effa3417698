//! Cells of small tables.

#![allow(clippy::unwrap_used, clippy::panic, clippy::indexing_slicing)]

use super::*;

fn texts(row: &Row) -> Vec<(u32, &str)> {
    row.cells
        .iter()
        .map(|cell| (cell.column, cell.value.shown()))
        .collect()
}

fn sheet(text: &str) -> Sheet {
    read("a.csv", text.as_bytes(), None)
        .unwrap()
        .sheets
        .remove(0)
}

#[test]
fn cells_of_csv_know_where_they_stand() {
    let text = "\u{feff}sail;steel [mm];note\r\nT8 41; 4,70 ;\"two\nlines; and \"\"quotes\"\"\"\r\n;;\r\nT8 7;;\r\n";
    let sheet = sheet(text);
    assert_eq!(
        texts(&sheet.rows[1]),
        [(1, "T8 41"), (2, "4,70"), (3, "two\nlines; and \"quotes\"")]
    );
    assert_eq!(sheet.rows[2].number, 4);
    assert_eq!(texts(&sheet.rows[2]), [(1, "T8 7")]);
    let source = sheet.text.clone().unwrap();
    assert_eq!(source.slice(sheet.rows[1].cells[1].span.unwrap()), "4,70");
}

#[test]
fn what_parts_cells_is_seen_or_told() {
    assert_eq!(texts(&sheet("a,b\n1,2").rows[1]), [(1, "1"), (2, "2")]);
    assert_eq!(texts(&sheet("a\tb\n1\t\n").rows[1]), [(1, "1")]);
    assert_eq!(
        texts(&sheet("sep=;\na, b;c\n1,5;2").rows[1]),
        [(1, "1,5"), (2, "2")]
    );
    assert_eq!(sheet("sep=;\na;c\n").rows[0].number, 2);
}

#[test]
fn quotes_that_do_not_fit_are_faults() {
    for text in ["a,b\n\"1,2\n", "a,b\n\"1\"2,3\n"] {
        let found = read("a.csv", text.as_bytes(), None).unwrap_err();
        assert_eq!(found[0].code, "table.quotes");
    }
}

#[test]
fn columns_have_letters() {
    for (column, name) in [(1, "A"), (26, "Z"), (27, "AA"), (702, "ZZ"), (703, "AAA")] {
        assert_eq!(letters(column), name);
        assert_eq!(column_of(name), Some(column));
    }
    assert_eq!(column_of("XFE"), None);
}

#[test]
fn a_number_is_the_shortest_decimal_of_its_double() {
    for (written, number) in [
        ("4.7000000000000002", "4.7"),
        ("0.1", "0.1"),
        ("-390", "-390"),
        ("1E-3", "0.001"),
        ("12.30", "12.3"),
    ] {
        assert_eq!(shortest(written).as_deref(), Some(number));
    }
}

#[test]
fn days_by_their_numbers() {
    let day = |number| xlsx::day(number, false);
    assert_eq!(day("1"), Some(Value::Day("1900-01-01".to_owned())));
    assert_eq!(day("59"), Some(Value::Day("1900-02-28".to_owned())));
    assert_eq!(day("61"), Some(Value::Day("1900-03-01".to_owned())));
    assert_eq!(
        day("46340.375"),
        Some(Value::Day("2026-11-14 09:00".to_owned()))
    );
    assert_eq!(
        xlsx::day("0", true),
        Some(Value::Day("1904-01-01".to_owned()))
    );
}
