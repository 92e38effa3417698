//! Tables to records and back. Every folder of `tests/import/` is a case: a `map.yaml` with a `book.txt`, of which
//! both an XLSX and an ODS are made, or a `table.csv`; `expected` has what comes out, the same for both.
//!
//! `RIMEGAUGE_REWRITE=1` writes `expected` anew, to be read before it is kept. A case whose folder holds a `suggest`
//! asks for a map instead, and imports by what was suggested.

mod book;

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use proptest::prelude::*;
use rimegauge::record::sheet;
use rimegauge::record::table::{Import, export, map_schema, read_map};
use rimegauge::record::{Loader, Record};
use rimegauge::rules::Library;

fn program(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_rimegauge"))
        .args(arguments)
        .current_dir(folder)
        .env_remove("COLUMNS")
        .output()
        .unwrap()
}

fn shown(out: &Output, name: &str) -> String {
    let code = out.status.code().unwrap();
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    let whole = format!(
        "exit {code}\n--- standard output\n{}--- standard error\n{}",
        text(&out.stdout),
        text(&out.stderr)
    );
    assert!(!whole.contains("panicked"), "{whole}");
    whole.replace(name, "BOOK")
}

#[test]
fn every_case_comes_out_as_it_says() {
    let rewrite = std::env::var_os("RIMEGAUGE_REWRITE").is_some();
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/import");
    let mut cases: Vec<_> = fs::read_dir(&root)
        .unwrap()
        .map(|one| one.unwrap().path())
        .filter(|path| path.is_dir())
        .collect();
    cases.sort();
    assert!(cases.len() >= 8, "only {} cases are there", cases.len());
    let mut wrong = Vec::new();
    for case in cases {
        let name = case.file_name().unwrap().to_string_lossy().into_owned();
        let folder = tempfile::TempDir::new().unwrap();
        let at = folder.path();
        let mut books = Vec::new();
        match fs::read_to_string(case.join("book.txt")) {
            Ok(text) => {
                // A name of one length, so that lines break alike.
                fs::write(at.join("book.xlsx"), book::xlsx(&text)).unwrap();
                fs::write(at.join("bookk.ods"), book::ods(&text)).unwrap();
                books.extend(["book.xlsx", "bookk.ods"]);
            }
            Err(_) => {
                fs::copy(case.join("table.csv"), at.join("table.csv")).unwrap();
                books.push("table.csv");
            }
        }
        let file = case.join("expected");
        for book in books {
            let shown = if case.join("suggest").exists() {
                let map = program(at, &["import", book, "--suggest", "--class", "tarn-8"]);
                fs::write(at.join("map.yaml"), &map.stdout).unwrap();
                let records = program(at, &["import", book, "--map", "map.yaml", "--out", "-"]);
                format!(
                    "{}--- by this map\n{}",
                    shown(&map, book),
                    shown(&records, book)
                )
            } else {
                fs::copy(case.join("map.yaml"), at.join("map.yaml")).unwrap();
                shown(
                    &program(at, &["import", book, "--map", "map.yaml", "--out", "-"]),
                    book,
                )
            };
            if rewrite && fs::read_to_string(&file).ok().as_ref() != Some(&shown) {
                fs::write(&file, &shown).unwrap();
            }
            let expected = fs::read_to_string(&file).unwrap_or_default();
            if expected != shown {
                wrong.push(format!("{name}, {book}: is\n{shown}\nwas\n{expected}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n\n"));
}

/// What a hostile archive can claim costs little: a part that unpacks to far more than is read, and rows that repeat.
#[test]
fn archives_that_swell_are_refused() {
    let cells = "<table:table-cell office:value-type=\"float\" office:value=\"1\" table:number-columns-repeated=\"16384\"/>";
    let rows = format!(
        "<o:d xmlns:table=\"t\" xmlns:office=\"o\" xmlns:o=\"o\"><table:table table:name=\"a\"><table:table-row table:number-rows-repeated=\"1000000\">{cells}</table:table-row></table:table></o:d>"
    );
    let repeated = book::zip(&[("content.xml".to_owned(), rows)]);
    let swelling = book::zip(&[(
        "content.xml".to_owned(),
        " ".repeat(sheet::limits::PART_BYTES + 1),
    )]);
    for bytes in [repeated, swelling] {
        assert!(bytes.len() < 400_000);
        let found = sheet::read("bomb.ods", &bytes, None).unwrap_err();
        assert_eq!(found[0].code, "table.size", "{}", found[0].message);
    }
}

#[test]
fn spoilt_archives_are_told_and_never_end_the_program() {
    let text = "sheet A\nSail | Runner | Steel\nT8 41 | S1 | #4.7\n";
    for bytes in [book::xlsx(text), book::ods(text)] {
        for at in 0..bytes.len() {
            let mut spoilt = bytes.clone();
            spoilt[at] ^= 0x55;
            let _ = sheet::read("spoilt", &spoilt, None);
            let _ = sheet::read("cut", &bytes[..at], None);
        }
    }
}

const MAP: &str = r#"format: rimegauge-map/1
class: tarn-8
not_measured: ["-"]
words: { ja: yes, nein: no }
tables:
  - rows: runners
    columns:
      - { header: Sail, fills: boat.sail_number }
      - { header: Boat, fills: boat.name }
      - { header: Day, fills: measured.day }
      - { header: Runner, fills: runners.id }
      - { header: Position, fills: runners.position, words: { Seite: side } }
      - { header: Built, fills: runners.built }
      - { header: Proof, fills: runners.built.proof }
      - { header: "At -300 mm", fills: runners.steel_thickness, at: -300 mm, from_edge: 12 mm, unit: mm, decimals: 2 }
      - { header: "At -300 mm again", fills: runners.steel_thickness, at: -300 mm, from_edge: 12 mm, unit: mm }
      - { header: "At 0 mm", fills: runners.steel_thickness, at: 0 mm, from_edge: 12 mm, unit: mm }
      - { header: Measured by, fills: runners.steel_thickness.by }
      - { header: Mass, fills: runners.mass, unit: kg }
      - { header: Nose, fills: runners.nose_rounded }
      - { header: Cloth, fills: sails.A.cloth }
      - { header: Hull, fills: hull.length, unit: m }
"#;

/// The records without their texts and places.
fn said(records: &[Record]) -> String {
    let text = format!("{records:?}");
    let spans =
        text.split("Span {")
            .enumerate()
            .map(|(at, piece)| match (at, piece.split_once('}')) {
                (0, _) | (_, None) => piece.to_owned(),
                (_, Some((_, rest))) => rest.to_owned(),
            });
    let text: String = spans.collect();
    let sources =
        text.split("Source(")
            .enumerate()
            .map(|(at, piece)| match (at, piece.split_once(')')) {
                (0, _) | (_, None) => piece.to_owned(),
                (_, Some((_, rest))) => rest.to_owned(),
            });
    sources.collect()
}

fn imported(comma: bool, text: &str) -> Result<Vec<Record>, String> {
    let rules = Library::embedded()
        .unwrap()
        .resolve("tarn-8@3.1.0", jiff::civil::date(2026, 11, 21))
        .unwrap()
        .rules;
    let map = if comma {
        MAP.replacen("class: tarn-8", "class: tarn-8\ndecimal: comma", 1)
    } else {
        MAP.to_owned()
    };
    let map = read_map("map.yaml", map.as_bytes(), &rules.vocabulary, "tarn-8").unwrap();
    let book = sheet::read("table.csv", text.as_bytes(), map.parted_by)
        .map_err(|found| format!("{found:?}"))?;
    let import =
        Import::read(&map, &book, &rules.vocabulary).map_err(|found| format!("{found:?}"))?;
    let loader = Loader::new(&rules.vocabulary);
    import
        .made
        .iter()
        .map(|made| {
            import
                .load(made, &loader)
                .map_err(|found| format!("{found:?}"))
        })
        .collect()
}

fn exported(comma: bool, records: &[Record]) -> (String, Vec<(String, usize)>) {
    let rules = Library::embedded()
        .unwrap()
        .resolve("tarn-8@3.1.0", jiff::civil::date(2026, 11, 21))
        .unwrap()
        .rules;
    let map = if comma {
        MAP.replacen("class: tarn-8", "class: tarn-8\ndecimal: comma", 1)
    } else {
        MAP.to_owned()
    };
    let map = read_map("map.yaml", map.as_bytes(), &rules.vocabulary, "tarn-8").unwrap();
    let table = export(&map, &rules.vocabulary, records, None).unwrap();
    (table.text, table.left)
}

fn number() -> impl Strategy<Value = String> {
    prop_oneof![
        (1_u32..9, 0_u32..100).prop_map(|(a, b)| format!("{a}.{b:02}")),
        (1_u32..9, 1_u32..10).prop_map(|(a, b)| format!("{a}.{b}")),
        (1_u32..9).prop_map(|a| a.to_string()),
        (1_u32..16).prop_map(|a| format!("{a}/16 in")),
        (1_u32..9, 0_u32..1000).prop_map(|(a, b)| format!("{a}.{b:03} mm")),
        Just("-".to_owned()),
        Just(String::new()),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// A table, the records of it, the table of these, and the records of that: the same.
    #[test]
    fn what_is_exported_is_imported_as_the_same(
        rows in prop::collection::vec((
            (0_usize..4, 0_usize..2, 1_u32..20),
            prop::sample::select(vec!["side", "Seite", "steering", "other", ""]),
            prop::sample::select(vec!["2019", "2019-11", "2019-11-05", ""]),
            prop::sample::select(vec!["invoice 17", "a \"quoted\" paper; and more", ""]),
            number(), number(), number(),
            prop::sample::select(vec!["AB", ""]),
            prop::sample::select(vec!["3.52", "3.5", "0.5", "7 lb", ""]),
            prop::sample::select(vec!["ja", "nein", "yes", "TRUE", ""]),
        ), 1..12),
        comma in any::<bool>(),
    ) {
        let by = if comma { ';' } else { ',' };
        let boats = ["T8 41", "T8 29", "T8 63", "T8 7"];
        let days = ["2026-11-21", "2026-11-22"];
        let mut seen = Vec::new();
        let header = "Sail,Boat,Day,Runner,Position,Built,Proof,At -300 mm,At -300 mm again,At 0 mm,Measured by,Mass,Nose,Cloth,Hull";
        let mut text = header.replace(',', &by.to_string());
        text.push('\n');
        for ((boat, day, id), position, built, proof, one, two, three, measurer, mass, nose) in rows {
            if seen.contains(&(boat, day, id)) {
                continue;
            }
            seen.push((boat, day, id));
            let sign = |number: &str| if comma { number.replace('.', ",") } else { number.to_owned() };
            let cells = [
                boats[boat].to_owned(), "Nightjar".to_owned(), days[day].to_owned(), format!("S{id}"), position.to_owned(),
                built.to_owned(), if built.is_empty() { String::new() } else { proof.to_owned() },
                sign(&one), sign(&two), sign(&three), measurer.to_owned(), sign(mass), nose.to_owned(), "woven".to_owned(), sign("4.21"),
            ];
            let cells: Vec<String> = cells.iter().map(|cell| if cell.contains(['"', by]) { format!("\"{}\"", cell.replace('"', "\"\"")) } else { cell.clone() }).collect();
            text.push_str(&cells.join(&by.to_string()));
            text.push('\n');
        }
        let first = imported(comma, &text).unwrap();
        let (table, left) = exported(comma, &first);
        prop_assert_eq!(&left, &Vec::new(), "{}", table);
        let again = imported(comma, &table).unwrap();
        prop_assert_eq!(said(&first), said(&again), "{}", table);
        let (twice, _) = exported(comma, &again);
        prop_assert_eq!(table, twice);
    }
}

#[test]
fn what_a_map_does_not_cover_is_counted() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let folder = tempfile::TempDir::new().unwrap();
    fs::write(folder.path().join("map.yaml"), MAP).unwrap();
    let record = root.join("forms/filled/conforming.yaml");
    let out = program(
        folder.path(),
        &[
            "export",
            record.to_str().unwrap(),
            "--map",
            "map.yaml",
            "--out",
            "-",
            "--rules",
            "tarn-8@3.1.0",
        ],
    );
    let told = String::from_utf8(out.stderr).unwrap();
    assert_eq!(out.status.code(), Some(0), "{told}");
    for what in [
        "instruments (",
        "runners.side_line (",
        "plank.length (1)",
        "runners.steel_thickness: further series",
    ] {
        let flat = told
            .split_whitespace()
            .filter(|word| *word != "│")
            .collect::<Vec<_>>()
            .join(" ");
        assert!(flat.contains(what), "{what} is not in\n{told}");
    }
}

/// The table of the README: it imports, is checked, and comes back as it was but for its own words.
#[test]
fn the_shipped_table_imports() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let folder = tempfile::TempDir::new().unwrap();
    let out = folder.path().join("fleet.jsonl");
    let ran = program(
        root,
        &[
            "import",
            "forms/tables/runners.csv",
            "--map",
            "forms/tables/runners.map.yaml",
            "--out",
            out.to_str().unwrap(),
        ],
    );
    assert_eq!(
        ran.status.code(),
        Some(0),
        "{}",
        String::from_utf8_lossy(&ran.stderr)
    );
    let checked = program(root, &["check", out.to_str().unwrap(), "--format", "json"]);
    assert_ne!(
        checked.status.code(),
        Some(2),
        "{}",
        String::from_utf8_lossy(&checked.stderr)
    );
    let suggested = program(
        root,
        &[
            "import",
            "forms/tables/runners.csv",
            "--suggest",
            "--class",
            "tarn-8",
        ],
    );
    assert_eq!(suggested.status.code(), Some(0));
}

/// What only the schema refuses would be refused without a word of the loader.
#[test]
fn the_schema_of_maps_is_one() {
    let rules = Library::embedded()
        .unwrap()
        .resolve("tarn-8@3.1.0", jiff::civil::date(2026, 11, 21))
        .unwrap()
        .rules;
    assert!(rimegauge::diagnostic::Schema::new(map_schema(&rules.vocabulary, "tarn-8")).is_ok());
}
