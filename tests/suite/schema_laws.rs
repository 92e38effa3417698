//! Whatever a JSON Schema refuses, the typed loader refuses by itself. For records this is why the lines of a
//! fleet are loaded without the schema; for rules, cases and forms it shows that the loaders overlook nothing.
//!
//! The shipped files are taken as trees and spoiled: keys left out and misspelt, values of another kind, texts
//! that are nearly right, nested junk, branches that belong elsewhere. `PROPTEST_CASES` asks for more.

use std::path::Path;
use std::sync::{Arc, OnceLock};

use proptest::prelude::*;
use rimegauge::check::cases;
use rimegauge::diagnostic::{Diagnostic, Schema, narrate};
use rimegauge::record;
use rimegauge::rules;
use rimegauge::text::{self, Node, Source, Style, Value};

use super::shipped::{forms, tarn_8};
use super::workbench;

/// A file as a tree that can be spoiled; texts remember whether they stood in quotes.
#[derive(Clone, PartialEq)]
enum Tree {
    Null,
    Plain(String),
    Quoted(String),
    List(Vec<Tree>),
    Map(Vec<(String, Tree)>),
}

impl std::fmt::Debug for Tree {
    /// As a file, so that a counterexample can be read and tried.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.to_file())
    }
}

impl Tree {
    fn of(node: &Node<'_>) -> Tree {
        match &node.value {
            Value::Null => Tree::Null,
            Value::Scalar(scalar) => match scalar.style {
                Style::Plain => Tree::Plain(scalar.text.to_string()),
                Style::Quoted | Style::Block => Tree::Quoted(scalar.text.to_string()),
            },
            Value::Sequence(items) => Tree::List(items.iter().map(Tree::of).collect()),
            Value::Mapping(entries) => {
                let entries = entries.iter();
                let entries = entries.map(|entry| (entry.key.to_string(), Tree::of(&entry.node)));
                Tree::Map(entries.collect())
            }
        }
    }

    /// In flow style, a line for each entry.
    fn to_file(&self) -> String {
        let mut file = String::new();
        self.write(&mut file);
        file.push('\n');
        file
    }

    fn write(&self, file: &mut String) {
        match self {
            Tree::Null => file.push('~'),
            Tree::Plain(text) if stands_plain(text) => file.push_str(text),
            Tree::Plain(text) | Tree::Quoted(text) => quote(text, file),
            Tree::List(items) => {
                file.push('[');
                for (at, item) in items.iter().enumerate() {
                    file.push_str(if at == 0 { "" } else { ",\n " });
                    item.write(file);
                }
                file.push(']');
            }
            Tree::Map(entries) => {
                file.push('{');
                for (at, (key, item)) in entries.iter().enumerate() {
                    file.push_str(if at == 0 { "" } else { ",\n " });
                    match stands_plain(key) {
                        true => file.push_str(key),
                        false => quote(key, file),
                    }
                    file.push_str(": ");
                    item.write(file);
                }
                file.push('}');
            }
        }
    }

    fn size(&self) -> usize {
        1 + match self {
            Tree::Null | Tree::Plain(_) | Tree::Quoted(_) => 0,
            Tree::List(items) => items.iter().map(Tree::size).sum(),
            Tree::Map(entries) => entries.iter().map(|(_, item)| item.size()).sum(),
        }
    }

    /// The node of a number, counted from the root down.
    fn nth(&mut self, mut at: usize) -> &mut Tree {
        if at == 0 {
            return self;
        }
        at -= 1;
        let children: Vec<&mut Tree> = match self {
            Tree::Null | Tree::Plain(_) | Tree::Quoted(_) => unreachable!("counted by size"),
            Tree::List(items) => items.iter_mut().collect(),
            Tree::Map(entries) => entries.iter_mut().map(|(_, item)| item).collect(),
        };
        for child in children {
            let size = child.size();
            if at < size {
                return child.nth(at);
            }
            at -= size;
        }
        unreachable!("counted by size")
    }

    fn keys(&self, found: &mut Vec<String>) {
        match self {
            Tree::Null | Tree::Plain(_) | Tree::Quoted(_) => {}
            Tree::List(items) => items.iter().for_each(|item| item.keys(found)),
            Tree::Map(entries) => entries.iter().for_each(|(key, item)| {
                found.push(key.clone());
                item.keys(found);
            }),
        }
    }
}

fn stands_plain(text: &str) -> bool {
    !text.is_empty()
        && !text.starts_with([' ', '-', '?', '.'])
        && !text.ends_with(' ')
        && !text.contains(|letter: char| {
            letter.is_control() || ",[]{}#:&*!|>'\"%@`\\\u{a0}\u{feff}".contains(letter)
        })
        || text.strip_prefix('-').is_some_and(|rest| {
            rest.starts_with(|letter: char| letter.is_ascii_digit()) && stands_plain(rest)
        })
}

fn quote(text: &str, file: &mut String) {
    file.push('"');
    for letter in text.chars() {
        match letter {
            '"' | '\\' => file.extend(['\\', letter]),
            '\n' => file.push_str("\\n"),
            '\t' => file.push_str("\\t"),
            _ => file.push(letter),
        }
    }
    file.push('"');
}

/// Texts that are nearly right somewhere.
const TEXTS: &[&str] = &[
    "",
    " ",
    "abc",
    "Abc",
    "a b",
    "0",
    "1",
    "-1",
    "5",
    "7.5",
    "1e3",
    "0x10",
    "0041",
    "1_000",
    "true",
    "false",
    "yes",
    "no",
    "null",
    "other",
    "exact",
    "unnamed",
    "none",
    "mean",
    "conforms",
    "4.70",
    "4.70 mm",
    "-4.70 mm",
    "+4.70 mm",
    "4.70mm",
    "4,70 mm",
    ".5 mm",
    "5. mm",
    "4.70  mm",
    " 4.70 mm ",
    "4.70 kg",
    "4.70 mm 5 mm",
    "4.7 4.8 mm",
    "3/16 in",
    "1 3/16 in",
    "3/0 in",
    "0 mm",
    "95 %",
    "95",
    "100 deg",
    "82 deg 30 min",
    "58 HRC",
    "-6 degC",
    "28.4 kg",
    "365 days",
    "4.70\u{a0}mm",
    "４.70 mm",
    "12 N/mm",
    "4.70 mm/mm",
    "2 mm to 12 mm",
    "12 mm to 2 mm",
    "2026-11-21",
    "2026-11",
    "2026",
    "1700",
    "2026-13-01",
    "2026-11-21 09:05",
    "2026-11-21 9:05",
    "26-11-21",
    "3.1.0",
    "3.1",
    ">=3.0.0",
    "S1",
    "a-very-long-name-of-an-item",
    "runner",
    "runners",
    "runners/S1",
    "edge",
    "toe_at",
    "toe_at - heel_at",
    "event.level",
    "construction is insert",
    "steel_thickness",
    "port",
    "tarn-8",
    "T8 41",
    "a\nb",
    "a\tb",
    "é",
    "999999999999999999999",
    "0.000000000000000000001 mm",
    "1999",
    "12345678901234567",
];

/// Spoils one place of a tree: `what` is the kind of slip, `which` chooses among its forms.
fn spoil(tree: &mut Tree, place: usize, what: usize, which: usize) {
    let other = {
        let size = tree.size();
        tree.nth(which % size).clone()
    };
    let mut keys = Vec::new();
    tree.keys(&mut keys);
    let size = tree.size();
    let node = tree.nth(place % size);
    match (what % 9, &mut *node) {
        // A key, or an item, that is left out.
        (0, Tree::Map(entries)) if !entries.is_empty() => {
            entries.remove(which % entries.len());
        }
        (0, Tree::List(items)) if !items.is_empty() => {
            items.remove(which % items.len());
        }
        // A key that is misspelt, or that belongs elsewhere.
        (1, Tree::Map(entries)) if !entries.is_empty() => {
            let at = which % entries.len();
            let key = &mut entries[at].0;
            *key = match which / 7 % 6 {
                0 => format!("{key}s"),
                1 => key.chars().skip(1).collect(),
                2 => key.to_uppercase(),
                3 => format!("{key} "),
                4 => keys[which / 42 % keys.len()].clone(),
                _ => TEXTS[which / 42 % TEXTS.len()].to_owned(),
            };
        }
        // A key too many.
        (2, Tree::Map(entries)) => {
            let key = match which % 2 {
                0 => keys.get(which / 2 % keys.len().max(1)).cloned(),
                _ => None,
            };
            entries.push((key.unwrap_or_else(|| "colour".to_owned()), other));
        }
        // An item that is there twice, or that belongs elsewhere.
        (2, Tree::List(items)) => {
            let again = items.get(which / 2 % items.len().max(1)).cloned();
            items.push(match which % 2 {
                0 => again.unwrap_or(other),
                _ => other,
            });
        }
        // A text that is nearly right.
        (3 | 4, Tree::Plain(_) | Tree::Quoted(_) | Tree::Null) => {
            let text = TEXTS[which / 3 % TEXTS.len()].to_owned();
            *node = match which % 3 {
                0 => Tree::Quoted(text),
                _ => Tree::Plain(text),
            };
        }
        // A text with a letter too many or too few.
        (5, Tree::Plain(text) | Tree::Quoted(text)) => {
            let mut letters: Vec<char> = text.chars().collect();
            let at = which / 4 % (letters.len() + 1);
            match which % 4 {
                0 if at < letters.len() => {
                    letters.remove(at);
                }
                1 => letters.insert(at, ' '),
                2 => letters.insert(at, '9'),
                _ => letters.insert(at, 'x'),
            }
            *text = letters.into_iter().collect();
        }
        // Another kind of value.
        (6 | 7, _) => {
            let old = node.clone();
            *node = match which % 10 {
                0 => Tree::Null,
                1 => Tree::List(Vec::new()),
                2 => Tree::Map(Vec::new()),
                3 => Tree::List(vec![old]),
                4 => Tree::Map(vec![("a".to_owned(), old)]),
                5 => Tree::List(vec![old.clone(), old]),
                6 => Tree::Plain("7".to_owned()),
                7 => Tree::Plain("true".to_owned()),
                8 => Tree::List(vec![Tree::Null]),
                _ => Tree::Plain(TEXTS[which / 10 % TEXTS.len()].to_owned()),
            };
        }
        // A branch of another place.
        _ => *node = other,
    }
}

type Slip = (usize, usize, usize);

/// Mostly one slip: after several a refusal may be for another one.
fn slips() -> impl Strategy<Value = Vec<Slip>> {
    let slip = || (any::<u32>(), 0usize..9, any::<u32>());
    let one = prop::collection::vec(slip(), 1);
    let some = prop::collection::vec(slip(), 2..4);
    prop_oneof![4 => one, 1 => some].prop_map(|slips| {
        let wide = |(place, what, which): (u32, usize, u32)| (place as usize, what, which as usize);
        slips.into_iter().map(wide).collect()
    })
}

fn tree_of(name: &str, text: &str) -> Tree {
    let source = Source::new(name, text);
    Tree::of(&text::parse_yaml(&source).unwrap_or_else(|found| panic!("{name}: {found:?}")))
}

fn spoiled(tree: &Tree, slips: &[Slip]) -> Arc<Source> {
    let mut tree = tree.clone();
    for (place, what, which) in slips {
        spoil(&mut tree, *place, *what, *which);
    }
    Source::new("spoiled.yaml", tree.to_file())
}

type Loaded = Result<(), Vec<Diagnostic>>;

/// The law, on one file. What is no YAML is out of its reach.
fn refused_by_both(
    schema: &Schema,
    source: &Arc<Source>,
    load: impl Fn(&Arc<Source>, &Node<'_>) -> Loaded,
) -> Result<(), TestCaseError> {
    let Ok(node) = text::parse_yaml(source) else {
        return Ok(());
    };
    let typed = load(source, &node);
    if schema.accepts(&node) {
        return Ok(());
    }
    let Err(found) = typed else {
        let by_schema = schema.beside(source, &node, Ok(())).unwrap_err();
        let said = narrate(&by_schema);
        return Err(TestCaseError::fail(format!(
            "only the schema refuses:\n{said}"
        )));
    };
    prop_assert!(!found.is_empty(), "refused without a word");
    let both = schema
        .beside(source, &node, Err::<(), _>(found))
        .unwrap_err();
    for one in &both {
        prop_assert!(
            one.message.len() > 4 && !one.message.ends_with('.'),
            "{}",
            one.message
        );
    }
    Ok(())
}

/// Trees of some files, each accepted by both as it is.
fn sound(
    files: Vec<(String, String)>,
    schema: &Schema,
    load: impl Fn(&Arc<Source>, &Node<'_>) -> Loaded,
) -> Vec<Tree> {
    let mut trees = Vec::new();
    for (name, text) in files {
        let tree = tree_of(&name, &text);
        let source = Source::new(&*name, tree.to_file());
        let node = text::parse_yaml(&source).unwrap_or_else(|found| panic!("{name}: {found:?}"));
        if let Err(found) = schema.beside(&source, &node, load(&source, &node)) {
            panic!("{name}: {}", narrate(&found));
        }
        trees.push(tree);
    }
    trees
}

fn load_record(source: &Arc<Source>, node: &Node<'_>) -> Loaded {
    record::load(source, node, &tarn_8().plan.rules().vocabulary).map(|_| ())
}

fn load_rules(source: &Arc<Source>, node: &Node<'_>) -> Loaded {
    rules::load_tree(source, node, String::new()).map(|_| ())
}

fn load_cases(source: &Arc<Source>, node: &Node<'_>) -> Loaded {
    cases::load(source, node).map(|_| ())
}

fn load_form(source: &Arc<Source>, node: &Node<'_>) -> Loaded {
    let bench = tarn_8();
    let rules = bench.plan.rules();
    record::load_form(source, node, &rules.vocabulary, &rules.class.text).map(|_| ())
}

fn of_records() -> &'static (Schema, Vec<Tree>) {
    static MADE: OnceLock<(Schema, Vec<Tree>)> = OnceLock::new();
    MADE.get_or_init(|| {
        let bench = tarn_8();
        let rules = bench.plan.rules();
        let schema = Schema::new(record::schema(&rules.vocabulary, &rules.class.text)).unwrap();
        // The largest has more of the same.
        let files = forms().into_iter().filter(|(_, text)| text.len() < 40_000);
        let trees = sound(files.collect(), &schema, load_record);
        assert!(trees.len() >= 7);
        (schema, trees)
    })
}

/// A class with every kind of measure and trait, alone and at places.
const EVERY_KIND: &str = "  boat:
    parts: { hull: { one: hull }, runners: { many: runner, at_least: 0 } }
    traits: { built: { date: proven } }
    measures: { all_up_mass: mass, crew: number }
  hull:
    traits: { marked: { flag: intended }, shell: [ply, foam, n1] }
    measures: { length: length, sealed: { kind: yes_no, ask: \"Is it sealed?\" } }
  runner:
    traits: { position: [side, steering] }
    measures:
      toe_at: position
      angle: { kind: angle, placed: yes }
      mass: mass
      pull: force
      face: area
      taper: { kind: ratio, placed: yes }
      spring: stiffness
      warmth: temperature
      hrc: { kind: hardness_hrc, placed: yes }
      hv: hardness_hv
      hbw: hardness_hbw
      holes: number
      thickness: { kind: length, placed: yes, plausible: 2 mm to 12 mm }
      edge: profile
      side: line
      cut: section
      cuts: { kind: section, placed: yes }";

const EVERY_VALUE: &str = "format: rimegauge-record/1
class: tarn-8
boat: { sail_number: T8 41, name: Nightjar, owner: A. B., built: { date: 2019-03, proof: invoice 17, seen_by: AB, seen_on: 2026-11-20 }, all_up_mass: 88 kg, crew: 1, work: [ { day: 2026-10-03, did: trimmed } ], notes: [ one, two ] }
measured: { day: 2026-11-21, by: AB, place: the lake, temperature: -6 degC }
instruments:
  mic: { kind: micrometer, serial: M-1, resolution: 0.01 mm, max_permissible_error: 0.004 mm, repeatability: 0.003 mm, calibration: { day: 2026-09-30, due: 2027-09-30, correction: 0.001 mm, expanded_uncertainty: 0.002 mm, k: 2 }, checks: [ { taken: 2026-11-21 09:05, reference: 5.000 mm, reading: 5.00 mm, accept_within: 0.01 mm } ], study: yearly }
  gauge: { kind: protractor }
hull: { marked: yes, shell: ply, length: { more_than: 4.2 m }, sealed: { answer: yes, by: AB, day: 2026-11-21 } }
runners:
  - id: S1
    position: side
    toe_at: 410 mm
    angle: { places: [ { at: 0 mm, face: port, readings: 82 deg 30 min }, { at: 10 mm, readings: [ 80 deg, { less_than: 90 deg } ] } ] }
    mass: { with: exact, readings: 2.8 2.9 kg, void: { reading: 2, because: slipped, by: AB } }
    pull: 12 N
    face: 8.0 m2
    taper: { places: [ { at: 0 mm, readings: 5 }, { at: 20 mm, readings: 50 % } ] }
    spring: 12 N/mm
    warmth: -6 degC
    hrc: { places: [ { at: 0 mm, readings: 58 HRC } ] }
    hv: 600 HV
    hbw: 500 HBW
    holes: 3
    thickness: { series: [ { by: AB, with: mic, taken: 2026-11-21 10:42, searched: along both faces, places: [ { at: 0 mm, face: port, from_edge: 12 mm, readings: 4.76 4.77 mm, void: [ { reading: 1, because: slipped, by: AB } ], confirmed_by: CD } ] }, { second: yes, by: CD, places: [ { at: 0 mm, face: port, from_edge: 12 mm, readings: 4.75 mm } ] } ] }
    edge: { contact: 0 mm, shims: [ { gap: 0.20 mm, forward: { more_than: 310 mm }, aft: 8 in } ] }
    side: { with: mic, stations: -400 0 400 mm, port: 0.00 0.03 0.00 mm, starboard: [ 0 mm, 0.01 mm, 0 mm ] }
    cut: { bevels: { port: 40 deg, starboard: 41 deg } }
    cuts: { with: gauge, places: [ { at: 0 mm, bevels: { port: 40 deg, starboard: 41 deg } } ] }
  - { id: S2, thickness: 4.7 mm, work: [ { day: 2026-10-03, did: sharpened } ], notes: a remark }
unlisted: [ { part: runners/S1, what: heated grip, seen_by: AB, day: 2026-11-21 } ]
notes: nothing else
";

fn every_kind() -> &'static workbench::Bench {
    static BENCH: OnceLock<workbench::Bench> = OnceLock::new();
    BENCH.get_or_init(|| {
        let rules = "rules:
  - { id: length, clause: A.1, title: Length, text: It has one., applies_to: hull, value: length, at_least: 4 m }";
        let text = workbench::rules_text(workbench::SHIPPED, EVERY_KIND, rules);
        workbench::Bench::new(&text)
    })
}

fn load_of_every_kind(source: &Arc<Source>, node: &Node<'_>) -> Loaded {
    record::load(source, node, &every_kind().plan.rules().vocabulary).map(|_| ())
}

fn of_every_kind() -> &'static (Schema, Tree) {
    static MADE: OnceLock<(Schema, Tree)> = OnceLock::new();
    MADE.get_or_init(|| {
        let rules = every_kind().plan.rules();
        let schema = Schema::new(record::schema(&rules.vocabulary, &rules.class.text)).unwrap();
        let file = ("every.yaml".to_owned(), EVERY_VALUE.to_owned());
        let tree = sound(vec![file], &schema, load_of_every_kind).remove(0);
        (schema, tree)
    })
}

fn of_rules() -> &'static Vec<Tree> {
    static MADE: OnceLock<Vec<Tree>> = OnceLock::new();
    MADE.get_or_init(|| {
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        let file = |name: &str| {
            (
                name.to_owned(),
                std::fs::read_to_string(root.join(name)).unwrap(),
            )
        };
        let files = vec![
            file("tests/suite/every_rule.yaml"),
            file("rules/tarn-8/3.1.0.yaml"),
        ];
        sound(files, rules::schema_of_rules().unwrap(), load_rules)
    })
}

fn of_cases() -> &'static Vec<Tree> {
    static MADE: OnceLock<Vec<Tree>> = OnceLock::new();
    MADE.get_or_init(|| {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("rules/tarn-8/cases");
        let mut files: Vec<(String, String)> = std::fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .map(|path| {
                (
                    path.display().to_string(),
                    std::fs::read_to_string(&path).unwrap(),
                )
            })
            .filter(|(_, text)| text.len() < 6_000)
            .collect();
        files.sort();
        sound(files, rules::schema_of_cases().unwrap(), load_cases)
    })
}

fn of_forms() -> &'static (Schema, Vec<Tree>) {
    static MADE: OnceLock<(Schema, Vec<Tree>)> = OnceLock::new();
    MADE.get_or_init(|| {
        let bench = tarn_8();
        let rules = bench.plan.rules();
        let schema =
            Schema::new(record::form_schema(&rules.vocabulary, &rules.class.text)).unwrap();
        let (name, text) = rules::EMBEDDED_FORM;
        let trees = sound(vec![(name.to_owned(), text.to_owned())], &schema, load_form);
        (schema, trees)
    })
}

proptest! {
    #![proptest_config(workbench::cases(400))]

    #[test]
    fn records(which: usize, slips in slips()) {
        let (schema, trees) = of_records();
        let source = spoiled(&trees[which % trees.len()], &slips);
        refused_by_both(schema, &source, load_record)?;
    }

    #[test]
    fn records_of_every_kind(slips in slips()) {
        let (schema, tree) = of_every_kind();
        refused_by_both(schema, &spoiled(tree, &slips), load_of_every_kind)?;
    }

    #[test]
    fn cases_of_rules(which: usize, slips in slips()) {
        let trees = of_cases();
        let source = spoiled(&trees[which % trees.len()], &slips);
        refused_by_both(rules::schema_of_cases().unwrap(), &source, load_cases)?;
    }

    #[test]
    fn measurement_forms(slips in slips()) {
        let (schema, trees) = of_forms();
        refused_by_both(schema, &spoiled(&trees[0], &slips), load_form)?;
    }
}

proptest! {
    #![proptest_config(workbench::cases(300))]

    /// Mostly on a small file, which has one of everything.
    #[test]
    fn rules_files(which in 0usize..12, slips in slips()) {
        let trees = of_rules();
        let source = spoiled(&trees[usize::from(which == 0)], &slips);
        refused_by_both(rules::schema_of_rules().unwrap(), &source, load_rules)?;
    }
}

/// Slips are slips: many of them are refused, and many of these by the schema alone would be enough.
#[test]
fn slips_are_noticed() {
    let (schema, trees) = of_records();
    let mut dice = super::tree::Dice::new(5);
    let (mut tried, mut refused) = (0, 0);
    for round in 0..120 {
        let slip = (dice.throw(1 << 30), round % 9, dice.throw(1 << 30));
        let source = spoiled(&trees[dice.throw(trees.len())], &[slip]);
        let Ok(node) = text::parse_yaml(&source) else {
            continue;
        };
        tried += 1;
        refused += usize::from(!schema.accepts(&node));
    }
    assert!(tried > 100 && refused > 50, "{refused} of {tried}");
}
