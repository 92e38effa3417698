//! Records to a table and back: what a map can say of any measure of the shipped classes comes back as it was.

use proptest::prelude::*;
use rimegauge::diagnostic::narrate;
use rimegauge::quantity::Dimension;
use rimegauge::record::sheet::{self, Book};
use rimegauge::record::table::{Import, TableMap, export, read_map};
use rimegauge::record::{Loader, Record};
use rimegauge::rules::{self, RulesFile};
use rimegauge::text::{Source, parse_json_line};
use rimegauge::vocabulary::{Measure, MeasureKind, Part, QuantityKind, TraitKind, Vocabulary};
use serde_json::{Map, Value, json};

const CLASSES: [(&str, &str); 2] = [("tarn-8", "4.0.0"), ("ghyll-2", "2.0.0")];

fn class(name: &str, version: &str) -> RulesFile {
    let path = format!("{}/rules/{name}/{version}.yaml", env!("CARGO_MANIFEST_DIR"));
    rules::load(&path, &std::fs::read(&path).unwrap()).unwrap()
}

/// Numbers that follow from a seed.
struct Dice(u64);

impl Dice {
    fn below(&mut self, count: usize) -> usize {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        usize::try_from((self.0 >> 33) % u64::try_from(count).unwrap()).unwrap()
    }

    fn one(&mut self) -> bool {
        self.below(2) == 0
    }

    /// A number above zero with its own digits, zeros at its end among them.
    fn number(&mut self) -> String {
        let whole = 1 + self.below(170);
        match self.below(4) {
            0 => whole.to_string(),
            1 => format!("{whole}.{}", self.below(10)),
            2 => format!("{whole}.{:02}", self.below(100)),
            _ => format!("{whole}.{:03}", self.below(1000)),
        }
    }

    fn length(&mut self) -> String {
        match self.below(5) {
            0 => format!("{} {}/16 in", 1 + self.below(20), 1 + 2 * self.below(8)),
            1 => format!("{} m", self.number()),
            _ => format!("{} mm", self.number()),
        }
    }

    fn of(&mut self, dimension: Dimension) -> String {
        if dimension == Dimension::LENGTH {
            return self.length();
        }
        if dimension == Dimension::ANGLE && self.one() {
            return format!("{} deg {} min", 10 + self.below(60), 1 + self.below(59));
        }
        let units = dimension.likely_units();
        let unit = units.first().map_or("", |unit| unit.symbol());
        format!("{} {unit}", self.number()).trim_end().to_owned()
    }

    /// What could be read only on one side stands as such.
    fn sided(&mut self, text: String) -> Value {
        match self.below(6) {
            0 => json!({ "more_than": text }),
            1 => json!({ "less_than": text }),
            _ => json!(text),
        }
    }

    fn lengths(&mut self, count: usize) -> Vec<String> {
        (0..count).map(|_| self.length()).collect()
    }

    /// So many different distances in millimetres.
    fn stations(&mut self, count: usize) -> Vec<String> {
        let first = self.below(300);
        let each = (0..count).map(|at| format!("{} mm", at * 50 + first));
        each.map(|text| match self.one() {
            true => format!("-{text}"),
            false => text,
        })
        .collect()
    }

    fn point(&mut self, at: usize) -> String {
        // On a curve that never crosses itself.
        format!("{} {} mm", at * 100, at * at * 10 + self.below(9))
    }
}

/// Entries of a list that records have at most and columns are made for.
const MOST: usize = 5;

fn section(dice: &mut Dice) -> (&'static str, Value) {
    let bevel = |dice: &mut Dice| format!("{} deg", 10 + dice.below(70));
    let sized = |dice: &mut Dice, size: &str, own: &str| {
        let all = (0..2 + dice.below(2))
            .map(|at| json!({ size: format!("{} mm", at + 2), own: format!("{} mm", 9 + at * 7) }));
        Value::Array(all.collect())
    };
    match dice.below(6) {
        0 => (
            "points",
            json!({ "port": ["-1.0 1.0 mm", "-2.0 2.0 mm", "-3.00 3.00 mm"], "starboard": ["1.0 1.1 mm", "2.0 2.1 mm", "3.0 3.1 mm"], "edge_radius": "0.1 mm" }),
        ),
        1 => (
            "sine",
            json!({ "length": "100.000 mm", "port": "70.71 mm", "starboard": "70.75 mm" }),
        ),
        2 => ("pins", sized(dice, "diameter", "over")),
        3 => ("rollers", sized(dice, "diameter", "height")),
        4 => ("widths", sized(dice, "depth", "width")),
        _ => (
            "bevels",
            json!({ "port": bevel(dice), "starboard": bevel(dice) }),
        ),
    }
}

/// A measure as a record says it.
fn measured(dice: &mut Dice, measure: &Measure) -> Value {
    let mut series = Map::new();
    if dice.one() {
        series.insert("by".to_owned(), json!("CD"));
    }
    if dice.one() {
        series.insert("taken".to_owned(), json!("2026-11-20 10:42"));
    }
    let put = |series: &mut Map<String, Value>, key: &str, value: Value| {
        series.insert(key.to_owned(), value);
    };
    match measure.kind {
        MeasureKind::YesNo => {
            return json!({ "answer": if dice.one() { "yes" } else { "no" }, "by": "CD", "day": "2026-11-20" });
        }
        MeasureKind::Quantity(kind) => {
            let value = |dice: &mut Dice| match kind {
                QuantityKind::Number => dice.number(),
                _ => dice.of(kind.dimension()),
            };
            if measure.fixed_at.is_some() {
                return json!({ "value": value(dice), "day": "2019-11-20", "paper": "C-0117" });
            }
            if dice.below(3) == 0 {
                return json!(value(dice));
            }
            let readings = |dice: &mut Dice| {
                let all: Vec<Value> = (0..1 + dice.below(2))
                    .map(|_| {
                        let one = value(dice);
                        dice.sided(one)
                    })
                    .collect();
                all
            };
            if measure.placed {
                let places: Vec<Value> = PLACES
                    .iter()
                    .filter_map(|at| {
                        let read = json!([value(dice)]);
                        dice.one().then(|| json!({ "at": at, "readings": read }))
                    })
                    .collect();
                match places.is_empty() {
                    true => return json!(value(dice)),
                    false => put(&mut series, "places", Value::Array(places)),
                }
            } else {
                let all = readings(dice);
                put(&mut series, "readings", Value::Array(all));
            }
        }
        MeasureKind::Profile if dice.one() => {
            let count = 3 + dice.below(MOST - 2);
            put(&mut series, "stations", json!(dice.stations(count)));
            put(&mut series, "gaps", json!(dice.lengths(count)));
        }
        MeasureKind::Profile => {
            let shims: Vec<Value> = (0..1 + dice.below(MOST))
                .map(|_| {
                    let (forward, aft) = (dice.length(), dice.length());
                    json!({ "gap": dice.length(), "forward": dice.sided(forward), "aft": dice.sided(aft) })
                })
                .collect();
            put(&mut series, "shims", Value::Array(shims));
            if dice.one() {
                put(&mut series, "contact", json!("-2.5 mm"));
            }
        }
        MeasureKind::Line => {
            let count = 3 + dice.below(MOST - 2);
            put(&mut series, "stations", json!(dice.stations(count)));
            put(&mut series, "port", json!(dice.lengths(count)));
            if dice.one() {
                put(&mut series, "starboard", json!(dice.lengths(count)));
            }
        }
        MeasureKind::Section if measure.placed => {
            // One instrument reads all sections in one way.
            let (key, first) = section(dice);
            let count = 1 + dice.below(3);
            let stations = dice.stations(count);
            let places: Vec<Value> = stations
                .iter()
                .map(|at| json!({ "at": at, key: first }))
                .collect();
            put(&mut series, "places", Value::Array(places));
        }
        MeasureKind::Section => {
            let (key, value) = section(dice);
            put(&mut series, key, value);
        }
        MeasureKind::LoadTest => {
            put(&mut series, "span", json!("2400 mm"));
            put(&mut series, "supports", json!("knife_edges"));
            let unit = if dice.one() { "kg" } else { "N" };
            let steps: Vec<Value> = (0..1 + dice.below(MOST))
                .map(|_| json!({ "load": format!("{} {unit}", dice.number()), "sinks": dice.length() }))
                .collect();
            put(&mut series, "steps", Value::Array(steps));
        }
        MeasureKind::Outline if dice.one() => {
            put(&mut series, "spacing", json!("1200 mm"));
            let count = if dice.one() { 3 } else { 5 };
            put(&mut series, "widths", json!(dice.lengths(count)));
        }
        MeasureKind::Outline => {
            let points: Vec<String> = (0..3 + dice.below(MOST - 2))
                .map(|at| dice.point(at))
                .collect();
            put(&mut series, "points", json!(points));
        }
    }
    Value::Object(series)
}

const PLACES: [&str; 3] = ["-120.5 mm", "0 mm", "7 1/4 in"];

/// What a part says, now and then leaving something out.
fn part(dice: &mut Dice, part: &Part) -> Map<String, Value> {
    let mut all = Map::new();
    for one in &part.traits {
        if dice.below(4) == 0 {
            continue;
        }
        let names: Vec<&str> = one
            .kind
            .names()
            .iter()
            .map(|name| name.text.as_str())
            .collect();
        let value = match &one.kind {
            TraitKind::Choice(_) => json!(names[dice.below(names.len())]),
            TraitKind::AnyOf(_) => json!([names[dice.below(names.len())]]),
            TraitKind::Date => {
                json!({ "date": "2019-03", "proof": "invoice 17", "seen_by": "AB", "seen_on": "2026-11-20" })
            }
            TraitKind::Flag => json!(if dice.one() { "yes" } else { "no" }),
        };
        all.insert(one.name.text.clone(), value);
    }
    for one in &part.measures {
        if dice.below(5) > 0 {
            all.insert(one.name.text.clone(), measured(dice, one));
        }
    }
    all
}

fn record(rules: &RulesFile, seed: u64) -> Value {
    let vocabulary = &rules.vocabulary;
    let mut dice = Dice(seed);
    let mut all = Map::new();
    all.insert("format".to_owned(), json!("rimegauge-record/1"));
    all.insert("class".to_owned(), json!(rules.class.text));
    let mut boat = part(&mut dice, vocabulary.part(Vocabulary::BOAT).unwrap());
    boat.insert("sail_number".to_owned(), json!("X 41"));
    // What a spreadsheet would run, and what looks like it was kept from that.
    let names = ["Nightjar", "=1+1", "'@x", "''-7", "+5", "'Tis"];
    boat.insert("name".to_owned(), json!(names[dice.below(names.len())]));
    all.insert("boat".to_owned(), Value::Object(boat));
    all.insert(
        "measured".to_owned(),
        json!({ "day": "2026-11-21", "by": "AB", "temperature": "-6 degC" }),
    );
    for holding in &vocabulary.holdings {
        let kind = vocabulary.part(holding.part).unwrap();
        let key = holding.key.text.clone();
        if kind.is_group() {
            let mut group = Map::new();
            group.insert("id".to_owned(), json!("g1"));
            for role in &kind.roles {
                let of = vocabulary.holdings.iter();
                let of = of.filter(|one| one.part == role.part && one.many);
                let held = of.map(|one| one.key.text.as_str()).next().unwrap();
                // Ids are those of `IDS`; each fills one role at most.
                let taken = group.len() - 1;
                group.insert(
                    role.name.text.clone(),
                    json!(format!("{held}/{}", IDS[taken])),
                );
            }
            all.insert(key, json!([group]));
        } else if holding.many {
            let items = IDS.iter().map(|id| {
                let mut item = part(&mut dice, kind);
                item.insert("id".to_owned(), json!(id));
                Value::Object(item)
            });
            all.insert(key, Value::Array(items.collect()));
        } else {
            let item = part(&mut dice, kind);
            if !item.is_empty() {
                all.insert(key, Value::Object(item));
            }
        }
    }
    Value::Object(all)
}

const IDS: [&str; 3] = ["R1", "R2", "R3"];

/// Every column that a part can have, below a path.
fn columns(first: &str, part: &Part, all: &mut Vec<String>) {
    fn add(all: &mut Vec<String>, path: &str, more: &str) {
        let header = all.len();
        all.push(format!("{{ header: \"{header}\", fills: {path}{more} }}"));
    }
    for one in &part.traits {
        let path = format!("{first}.{}", one.name.text);
        add(all, &path, "");
        if matches!(one.kind, TraitKind::Date) {
            for detail in [".proof", ".seen_by", ".seen_on"] {
                add(all, &path, detail);
            }
        }
    }
    for role in &part.roles {
        add(all, &format!("{first}.{}", role.name.text), "");
    }
    for one in &part.measures {
        let path = format!("{first}.{}", one.name.text);
        let whole: &[&str] = match one.kind {
            MeasureKind::YesNo => &["by", "day"],
            MeasureKind::Quantity(_) if one.fixed_at.is_some() => &["day", "paper"],
            _ => &["by", "taken"],
        };
        for detail in whole {
            add(all, &path, &format!(".{detail}"));
        }
        let list =
            |key: &str| -> Vec<String> { (1..=MOST).map(|at| format!("{key}.{at}")).collect() };
        let entries = |key: &str, keys: &[&str]| -> Vec<String> {
            let each = list(key).into_iter();
            each.flat_map(|entry| {
                keys.iter()
                    .map(move |key| format!("{entry}.{key}"))
                    .collect::<Vec<_>>()
            })
            .collect()
        };
        let across = || {
            let mut all: Vec<String> = [
                "bevels.port",
                "bevels.starboard",
                "sine.length",
                "sine.port",
                "sine.starboard",
                "points.edge_radius",
            ]
            .map(str::to_owned)
            .to_vec();
            all.extend(entries("points.port", &["x", "y"]));
            all.extend(entries("points.starboard", &["x", "y"]));
            all.extend(entries("pins", &["diameter", "over"]));
            all.extend(entries("rollers", &["diameter", "height"]));
            all.extend(entries("widths", &["depth", "width"]));
            all
        };
        let inside: Vec<String> = match one.kind {
            MeasureKind::Quantity(_) | MeasureKind::YesNo => Vec::new(),
            MeasureKind::Profile => {
                let mut all = vec!["contact".to_owned()];
                all.extend(entries("shims", &["gap", "forward", "aft"]));
                all.extend(list("stations"));
                all.extend(list("gaps"));
                all
            }
            MeasureKind::Line => [list("stations"), list("port"), list("starboard")].concat(),
            MeasureKind::Section if one.placed => (1..=3)
                .flat_map(|at| {
                    let mut all = across();
                    all.push("at".to_owned());
                    all.into_iter().map(move |key| format!("places.{at}.{key}"))
                })
                .collect(),
            MeasureKind::Section => across(),
            MeasureKind::LoadTest => {
                let mut all = vec!["span".to_owned(), "supports".to_owned()];
                all.extend(entries("steps", &["load", "sinks"]));
                all
            }
            MeasureKind::Outline => {
                let mut all = vec!["spacing".to_owned()];
                all.extend(list("widths"));
                all.extend(entries("points", &["x", "y"]));
                all
            }
        };
        for step in inside {
            add(all, &path, &format!(".{step}"));
        }
        match one.kind {
            MeasureKind::YesNo => add(all, &path, ""),
            MeasureKind::Quantity(_) if one.fixed_at.is_some() => add(all, &path, ""),
            MeasureKind::Quantity(_) if one.placed => {
                add(all, &path, "");
                for at in PLACES {
                    add(all, &path, &format!(", at: {at}"));
                }
            }
            MeasureKind::Quantity(_) => {
                for _ in 0..2 {
                    add(all, &path, "");
                }
            }
            _ => {}
        }
    }
}

/// Maps that together say everything: all of a boat in one row by halves of its parts, and one part a row.
fn maps(rules: &RulesFile) -> Vec<String> {
    let vocabulary = &rules.vocabulary;
    let head = format!(
        "format: rimegauge-map/1\nclass: {}\nmeasured: {{ by: AB, temperature: -6 degC }}\ntables:\n",
        rules.class.text
    );
    let boat = ["boat.sail_number", "boat.name", "measured.day"]
        .map(|path| format!("{{ header: \"{path}\", fills: {path} }}"))
        .to_vec();
    let table = |rows: Option<&str>, columns: &[String]| {
        let rows = rows.map_or(String::new(), |rows| format!("rows: {rows}\n    "));
        let listed: Vec<String> = columns
            .iter()
            .map(|one| format!("      - {one}\n"))
            .collect();
        format!("{head}  - {rows}columns:\n{}", listed.concat())
    };
    let mut all = Vec::new();
    let mut of_boat = boat.clone();
    columns(
        "boat",
        vocabulary.part(Vocabulary::BOAT).unwrap(),
        &mut of_boat,
    );
    for holding in vocabulary.holdings.iter().filter(|one| !one.many) {
        columns(
            &holding.key.text,
            vocabulary.part(holding.part).unwrap(),
            &mut of_boat,
        );
    }
    all.push(table(None, &of_boat));
    for holding in vocabulary.holdings.iter().filter(|one| one.many) {
        let part = vocabulary.part(holding.part).unwrap();
        let key = &holding.key.text;
        let mut rows = boat.clone();
        rows.push(format!("{{ header: id, fills: {key}.id }}"));
        columns(key, part, &mut rows);
        // A group is nothing without the parts in its roles, which stand in the same row below.
        if !part.is_group() {
            all.push(table(Some(key), &rows));
        }
        // One of several parts in the row of its boat.
        let id = if part.is_group() { "g1" } else { "R2" };
        let mut rows = boat.clone();
        columns(&format!("{key}.{id}"), part, &mut rows);
        for other in vocabulary
            .holdings
            .iter()
            .filter(|one| one.many && part.is_group())
        {
            let kind = vocabulary.part(other.part).unwrap();
            for id in IDS.iter().filter(|_| !kind.is_group()) {
                let path = format!("{}.{id}.id", other.key.text);
                rows.push(format!("{{ header: {path}, fills: {path} }}"));
            }
        }
        all.push(table(None, &rows));
    }
    all
}

fn told(found: Vec<rimegauge::diagnostic::Diagnostic>) -> String {
    narrate(&found)
}

fn loaded(rules: &RulesFile, text: &str) -> Record {
    let source = Source::new("record.jsonl", text);
    let node = parse_json_line(&source, 0..text.len()).unwrap();
    Loader::new(&rules.vocabulary)
        .load(&source, &node)
        .unwrap_or_else(|found| panic!("{text}\n{}", told(found)))
}

fn imported(rules: &RulesFile, map: &TableMap, table: &str) -> Vec<(String, Record)> {
    let book: Book = sheet::read("table.csv", table.as_bytes(), None)
        .unwrap_or_else(|found| panic!("{}", told(found)));
    let import = Import::read(map, &book, &rules.vocabulary)
        .unwrap_or_else(|found| panic!("{table}\n{}", told(found)));
    let loader = Loader::new(&rules.vocabulary);
    import
        .made
        .iter()
        .map(|made| {
            let record = import
                .load(made, &loader)
                .unwrap_or_else(|found| panic!("{table}\n{}", told(found)));
            (made.text.clone(), record)
        })
        .collect()
}

/// What a record says of a measure, without where it stands in its file.
fn without_places(shown: &str) -> String {
    let mut text = String::new();
    let mut rest = shown;
    while let Some((before, after)) = rest.split_once("Span {") {
        text.push_str(before);
        rest = after.split_once('}').map_or("", |(_, after)| after);
    }
    text + rest
}

/// Whether a table says all that a record says of what it covers, to the last digit.
fn same(rules: &RulesFile, one: &Record, other: &Record, text: &str) {
    for item in &other.items {
        let path = item.path(&rules.vocabulary);
        let before = one
            .items
            .iter()
            .find(|one| one.path(&rules.vocabulary) == path)
            .unwrap();
        for (at, found) in item
            .measures
            .iter()
            .enumerate()
            .filter(|(_, found)| found.is_some())
        {
            let was = without_places(&format!("{:?}", before.measures[at]));
            let is = without_places(&format!("{found:?}"));
            assert_eq!(was, is, "{path} in {text}");
        }
        for (at, claim) in item
            .traits
            .iter()
            .enumerate()
            .filter(|(_, claim)| claim.is_some())
        {
            let was = without_places(&format!("{:?}", before.traits[at]));
            let is = without_places(&format!("{claim:?}"));
            assert_eq!(was, is, "{path} in {text}");
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    #[test]
    fn what_comes_in_goes_out_and_comes_in_again(seed: u64) {
        for (name, version) in CLASSES {
            let rules = class(name, version);
            let text = record(&rules, seed).to_string();
            let first = loaded(&rules, &text);
            for yaml in maps(&rules) {
                let map = read_map("map.yaml", yaml.as_bytes(), &rules.vocabulary, &rules.class.text)
                    .unwrap_or_else(|found| panic!("{yaml}\n{}", told(found)));
                let out = export(&map, &rules.vocabulary, std::slice::from_ref(&first), None).unwrap();
                // What the map names is told whole.
                let inside: Vec<_> = out.left.iter().filter(|(what, _)| what.contains(": ")).collect();
                prop_assert!(inside.is_empty(), "{inside:?}\n{text}");
                let again = imported(&rules, &map, &out.text);
                prop_assert_eq!(again.len(), 1);
                same(&rules, &first, &again[0].1, &out.text);
                prop_assert_eq!(&first.boat_name, &again[0].1.boat_name);
                let twice = export(&map, &rules.vocabulary, std::slice::from_ref(&again[0].1), None).unwrap();
                prop_assert_eq!(&out.text, &twice.text);
            }
        }
    }
}
