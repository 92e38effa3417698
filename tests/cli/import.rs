//! `import` and `export`: tables as spreadsheet programs write them, and tables of readings that belong together.
//!
//! The spreadsheets under `tests/data/tables` were saved by a spreadsheet program; what names it and its dates was taken
//! out. They hold a title in merged cells, an empty row, headers of rich text, days as day cells counted from 1900 or from
//! 1904, formulas, numbers as text with decimal commas, yes and no as truth values, empty rows with borders behind, a second
//! sheet, and a hidden one.

use std::fs;

use super::{Ran, command, folder, ran, root};

fn tables(name: &str) -> String {
    root()
        .join("tests/data/tables")
        .join(name)
        .display()
        .to_string()
}

fn import(dir: &std::path::Path, table: &str, map: &str, more: &[&str]) -> Ran {
    let (table, map) = (tables(table), tables(map));
    let mut arguments = vec!["import", &table, "--map", &map, "--out", "out.jsonl"];
    arguments.extend(more);
    ran(command(&arguments).current_dir(dir).output().unwrap())
}

#[test]
fn a_club_s_spreadsheet_comes_in_alike_from_every_format() {
    let wanted = fs::read_to_string(tables("club.jsonl")).unwrap();
    for table in ["club.xlsx", "club-1904.xlsx", "club.ods"] {
        let dir = folder();
        import(dir.path(), table, "club.map.yaml", &[]).exits(0);
        let made = fs::read_to_string(dir.path().join("out.jsonl")).unwrap();
        assert_eq!(made, wanted, "{table}");
    }
}

#[test]
fn the_headers_of_a_club_s_spreadsheet_suggest_its_map() {
    let map = fs::read_to_string(tables("club.map.yaml")).unwrap();
    let said = |text: &str| -> Vec<String> {
        let lines = text
            .lines()
            .filter(|line| !line.trim_start().starts_with('#'));
        lines
            .filter(|line| !line.starts_with("rules:"))
            .map(str::to_owned)
            .collect()
    };
    for table in ["club.xlsx", "club-1904.xlsx", "club.ods"] {
        let table = tables(table);
        let told = ran(
            command(&["import", &table, "--suggest", "--class", "tarn-8@3.1.0"])
                .output()
                .unwrap(),
        );
        told.exits(0);
        assert_eq!(said(&told.out), said(&map), "{table}\n{}", told.out);
    }
}

#[test]
fn every_refused_cell_of_a_spreadsheet_is_named_and_nothing_is_written() {
    let wanted = fs::read_to_string(tables("faults.txt")).unwrap();
    for table in ["faults.xlsx", "faults.ods"] {
        let dir = folder();
        let told = import(dir.path(), table, "faults.map.yaml", &["--format", "plain"]);
        told.exits(2);
        let folder = format!("{}/", root().join("tests/data/tables").display());
        let said = told.err.replace(&folder, "").replace(table, "TABLE");
        assert_eq!(said.trim(), wanted.trim(), "{table}");
        assert!(!dir.path().join("out.jsonl").exists(), "{table}");
    }
}

#[test]
fn a_formula_that_nobody_computed_is_told() {
    let dir = folder();
    let told = import(
        dir.path(),
        "club-not-computed.xlsx",
        "club.map.yaml",
        &["--format", "plain"],
    );
    told.exits(2);
    let words =
        "sheet `Runners`, row 4, column G `Mass [kg]`: a formula stands here without its value";
    assert!(told.err.contains(words), "{}", told.err);
    assert!(!dir.path().join("out.jsonl").exists());
}

/// A table of one runner a row, with the headers as a club writes them.
const STATIONS: &str = "\
Sail,Date,Runner,Steel thickness at -300 mm,Side line port at -400 mm [mm],Side line port at 0 mm [mm],Side line port at 400 mm [mm],Edge profile 1 gap [mm],Edge profile 1 forward [mm],Edge profile 1 aft [mm],Edge section at 0 mm bevels port [deg],Edge section at 0 mm bevels starboard [deg],Mass 1 [kg],Mass 2 [kg]
T8 41,2026-11-21,S1,4.76 mm,0.00,0.03,0.00,0.20,228,> 219,45,45.5,3.50,3.52
";

#[test]
fn numbered_headers_suggest_readings_that_belong_together() {
    let dir = folder();
    fs::write(dir.path().join("runners.csv"), STATIONS).unwrap();
    let run =
        |arguments: &[&str]| ran(command(arguments).current_dir(dir.path()).output().unwrap());
    let told = run(&[
        "import",
        "runners.csv",
        "--suggest",
        "--class",
        "tarn-8@3.1.0",
    ]);
    told.exits(0);
    for line in [
        "{ header: \"Steel thickness at -300 mm\", fills: runners.steel_thickness, at: -300 mm }",
        "fills: runners.side_line.port.1, at: -400 mm, unit: \"mm\" }",
        "fills: runners.side_line.port.3, at: 400 mm, unit: \"mm\" }",
        "fills: runners.edge_profile.shims.1.gap, unit: \"mm\" }",
        "fills: runners.edge_profile.shims.1.aft, unit: \"mm\" }",
        "fills: runners.edge_section.places.1.bevels.starboard, at: 0 mm, unit: \"deg\" }",
        "{ header: \"Mass 2 [kg]\", fills: runners.mass, unit: \"kg\" }",
    ] {
        assert!(told.out.contains(line), "{line}\n{}", told.out);
    }
    assert!(!told.out.contains('?'), "{}", told.out);
    fs::write(dir.path().join("map.yaml"), &told.out).unwrap();
    run(&[
        "import",
        "runners.csv",
        "--map",
        "map.yaml",
        "--out",
        "out.jsonl",
    ])
    .exits(0);
    let made = fs::read_to_string(dir.path().join("out.jsonl")).unwrap();
    for words in [
        "\"side_line\":{\"stations\":[\"-400 mm\",\"0 mm\",\"400 mm\"],\"port\":[\"0.00 mm\",\"0.03 mm\",\"0.00 mm\"]}",
        "\"shims\":[{\"gap\":\"0.20 mm\",\"forward\":\"228 mm\",\"aft\":{\"more_than\":\"219 mm\"}}]",
        "\"mass\":{\"readings\":[\"3.50 kg\",\"3.52 kg\"]}",
    ] {
        assert!(made.contains(words), "{words}\n{made}");
    }
    run(&[
        "export",
        "out.jsonl",
        "--map",
        "map.yaml",
        "--out",
        "back.csv",
    ])
    .exits(0);
    let back = fs::read_to_string(dir.path().join("back.csv")).unwrap();
    assert_eq!(back, STATIONS);
}

#[test]
fn a_flank_with_a_gap_missing_is_refused_at_its_cells() {
    let dir = folder();
    let (csv, map) = (
        "forms/tables/stations.csv",
        "forms/tables/stations.map.yaml",
    );
    let text = fs::read_to_string(root().join(csv)).unwrap();
    let short = text.replace("4.77,0.00,0.05,0.00", "4.77,0.00,,0.00");
    assert_ne!(short, text);
    fs::write(dir.path().join("short.csv"), short).unwrap();
    let map = root().join(map).display().to_string();
    let arguments = [
        "import",
        "short.csv",
        "--map",
        &map,
        "--out",
        "out.jsonl",
        "--format",
        "plain",
    ];
    let told = ran(command(&arguments)
        .current_dir(dir.path())
        .output()
        .unwrap());
    told.exits(2);
    let words = "row 2, column I `Side line at -400 [mm]`: a line needs three stations or more; 2 were read";
    assert!(told.err.contains(words), "{}", told.err);
    assert!(!dir.path().join("out.jsonl").exists());
}

#[test]
fn columns_of_one_entry_that_contradict_each_other_are_told() {
    let dir = folder();
    let map = fs::read_to_string(root().join("forms/tables/stations.map.yaml")).unwrap();
    let wrong = map
        .replace("shims.1.aft, gap: 0.20 mm", "shims.1.aft, gap: 0.25 mm")
        .replace(
            "fills: runners.side_line.port.2",
            "fills: runners.side_line.prt.2",
        )
        .replace(
            "fills: runners.side_line.port.3",
            "fills: runners.side_line.port",
        );
    fs::write(dir.path().join("map.yaml"), wrong).unwrap();
    let csv = root()
        .join("forms/tables/stations.csv")
        .display()
        .to_string();
    let arguments = [
        "import",
        &csv,
        "--map",
        "map.yaml",
        "--out",
        "out.jsonl",
        "--format",
        "plain",
    ];
    let told = ran(command(&arguments)
        .current_dir(dir.path())
        .output()
        .unwrap());
    told.exits(2);
    for words in [
        "0.25 mm stands here, and 0.20 mm at another column of the same entry",
        "`runners.side_line.prt.2` names nothing that a record can say",
        "did you mean `port`?",
        "side_line.port is a list, whose entries are counted: side_line.port.1",
    ] {
        assert!(told.err.contains(words), "{words}\n{}", told.err);
    }
}

#[test]
fn a_point_has_one_unit_and_a_role_a_part() {
    let dir = folder();
    let map = "\
format: rimegauge-map/1
class: ghyll-2
rules: ghyll-2@2.0.0
tables:
  - rows: sails
    columns:
      - { header: Boat, fills: boat.sail_number }
      - { header: Day, fills: measured.day }
      - { header: Sail, fills: sails.id }
      - { header: x, fills: sails.outline.points.1.x, unit: mm }
      - { header: y, fills: sails.outline.points.1.y, unit: mm }
";
    fs::write(dir.path().join("map.yaml"), map).unwrap();
    let table = "Boat,Day,Sail,x,y\nG 4,2026-11-21,A,1.2 m,0\n";
    fs::write(dir.path().join("table.csv"), table).unwrap();
    let arguments = [
        "import",
        "table.csv",
        "--map",
        "map.yaml",
        "--out",
        "out.jsonl",
        "--format",
        "plain",
    ];
    let told = ran(command(&arguments)
        .current_dir(dir.path())
        .output()
        .unwrap());
    told.exits(2);
    let words = "row 2, column E `y`: 0 mm stands here and 1.2 m beside it: both are one point, which has one unit";
    assert!(told.err.contains(words), "{}", told.err);
    let map = map
        .replace("rules: ghyll-2@2.0.0", "rules: tarn-8@4.0.0")
        .replace("class: ghyll-2", "class: tarn-8")
        .replace("rows: sails", "rows: sets")
        .replace("sails.id", "sets.id")
        .replace("sails.outline.points.1.x, unit: mm", "sets.port")
        .replace("sails.outline.points.1.y, unit: mm", "sets.steering");
    fs::write(dir.path().join("map.yaml"), map).unwrap();
    let told = ran(command(&arguments)
        .current_dir(dir.path())
        .output()
        .unwrap());
    told.exits(2);
    let words = "row 2, column D `x`: `1.2 m` fills a role, and the record names no runner";
    assert!(told.err.contains(words), "{}", told.err);
}

#[test]
fn a_text_that_a_spreadsheet_would_run_goes_out_with_an_apostrophe_and_comes_back() {
    let dir = folder();
    let record = |sail: &str, owner: &str| {
        format!(
            "{{\"format\":\"rimegauge-record/1\",\"class\":\"tarn-8\",\"boat\":{{\"sail_number\":\"{sail}\",\"owner\":\"{owner}\"}},\"measured\":{{\"day\":\"2026-11-21\"}}}}\n"
        )
    };
    let records = [
        record("=1+1", "@SUM(A1)"),
        record("'=1+1", "-7"),
        record("T8 41", "'Tis mine"),
    ]
    .concat();
    fs::write(dir.path().join("fleet.jsonl"), &records).unwrap();
    let map = "\
format: rimegauge-map/1
class: tarn-8
rules: tarn-8@3.1.0
tables:
  - columns:
      - { header: Sail, fills: boat.sail_number }
      - { header: Day, fills: measured.day }
      - { header: Owner, fills: boat.owner }
";
    fs::write(dir.path().join("map.yaml"), map).unwrap();
    let run = |words: &str| {
        let arguments: Vec<&str> = words.split(' ').collect();
        ran(command(&arguments)
            .current_dir(dir.path())
            .output()
            .unwrap())
        .exits(0);
    };
    run("export fleet.jsonl --map map.yaml --out table.csv");
    let table = fs::read_to_string(dir.path().join("table.csv")).unwrap();
    let wanted = "\
Sail,Day,Owner
'=1+1,2026-11-21,'@SUM(A1)
''=1+1,2026-11-21,'-7
T8 41,2026-11-21,'Tis mine
";
    assert_eq!(table, wanted);
    run("import table.csv --map map.yaml --out back.jsonl");
    let back = fs::read_to_string(dir.path().join("back.jsonl")).unwrap();
    assert_eq!(back, records);
}
