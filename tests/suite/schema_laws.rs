//! Whatever a JSON Schema refuses, the typed loader refuses by itself. For records this is why the lines of a
//! fleet are loaded without the schema; for rules, cases and forms it shows that the loaders overlook nothing.
//!
//! The shipped files are taken as trees and spoiled: keys left out and misspelt, values of another kind, texts
//! that are nearly right, nested junk, branches that belong elsewhere; by chance (`PROPTEST_CASES` asks for more) and,
//! where files are small, at every place.

use std::path::Path;
use std::sync::{Arc, OnceLock};

use proptest::prelude::*;
use rayon::prelude::*;
use rimegauge::check::cases;
use rimegauge::diagnostic::{Diagnostic, Schema, narrate};
use rimegauge::record;
use rimegauge::rules;
use rimegauge::text::{self, Node, Source};

use super::shipped::{forms, tarn_8};
use super::spoiled_tree::{Slip, Tree, slips, spoil, spoiled_everywhere};
use super::workbench;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
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

/// The law, on one file: whether the schema refuses it. What is no YAML is out of its reach.
fn refused_by_both(
    schema: &Schema,
    source: &Arc<Source>,
    load: impl Fn(&Arc<Source>, &Node<'_>) -> Loaded,
) -> Result<bool, TestCaseError> {
    let Ok(node) = text::parse_yaml(source) else {
        return Ok(false);
    };
    let typed = load(source, &node);
    if schema.accepts(&node) {
        return Ok(false);
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
    Ok(true)
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
    record::load_form(
        source,
        node,
        &rules.vocabulary,
        &rules.class.text,
        &rules.version,
    )
    .map(|_| ())
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
    groups: { sets: { roles: { port: runner, starboard: runner } } }
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
  - { id: S2, edge: { with: exact, stations: -400 0 400 mm, gaps: [ 0.31 mm, 0.00 mm, 1/64 in ] }, thickness: 4.7 mm, work: [ { day: 2026-10-03, did: sharpened } ], notes: a remark }
  - id: S7
    cuts: { places: [ { at: 0 mm, points: { port: [ -1.0 1.0 mm, -2 2 mm ], starboard: [ 1 1 mm, 2 2 mm ], edge_radius: 0.1 mm } }, { at: 90 mm, pins: [ { diameter: 2 mm, over: 6.1 mm }, { diameter: 3 mm, over: 9.2 mm } ] } ] }
    cut: { sine: { length: 100 mm, port: 64.28 mm, starboard: 65.61 mm } }
  - id: S8
    cuts: { places: [ { rollers: [ { diameter: 6 mm, height: 20 mm }, { diameter: 12 mm, height: 27 mm } ] } ] }
    cut: { widths: [ { depth: 0 mm, width: 1 mm }, { depth: 2 mm, width: 5 mm } ] }
sets: [ { id: hard_ice, port: S1, starboard: runners/S2, notes: a remark }, { id: soft, port: S2 } ]
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
        let file = |name: &str| {
            (
                name.to_owned(),
                std::fs::read_to_string(root().join(name)).unwrap(),
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
        let folder = root().join("rules/tarn-8/cases");
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
        let forms = rules::EMBEDDED_FORMS.iter();
        let own = forms.filter(|(name, _)| *name == "forms/tarn-8.yaml");
        let own = own.map(|(name, text)| ((*name).to_owned(), (*text).to_owned()));
        let trees = sound(own.collect(), &schema, load_form);
        (schema, trees)
    })
}

proptest! {
    #![proptest_config(workbench::cases(250))]

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
    #![proptest_config(workbench::cases(150))]

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

/// Small records of the class with every kind, each about one thing; together they say all that a record can.
const ONE_THING: &[&str] = &[
    "notes: nothing else",
    "notes: [ one ]",
    "measured: { day: 2026-11-21, by: AB, place: the lake, temperature: -6 degC }",
    "hull: { marked: yes }",
    "hull: { shell: ply }",
    "hull: { length: 4.2 m }",
    "hull: { length: { more_than: 4.2 m } }",
    "hull: { length: { readings: 4.2 m } }",
    "hull: { length: { readings: [ 4.2 m ] } }",
    "hull: { sealed: yes }",
    "hull: { sealed: { answer: yes, by: AB, day: 2026-11-21 } }",
    "instruments: { mic: { kind: micrometer, serial: M-1, resolution: 0.01 mm, study: yearly } }",
    "instruments: { mic: { kind: micrometer, max_permissible_error: 0.01 mm, repeatability: 0.003 mm } }",
    "instruments: { mic: { kind: micrometer, calibration: { day: 2026-09-30, due: 2027-09-30 } } }",
    "instruments: { mic: { kind: micrometer, calibration: { correction: 0.001 mm, expanded_uncertainty: 0.002 mm, k: 2 } } }",
    "instruments: { mic: { kind: micrometer, checks: [ { taken: 2026-11-21 09:05, reference: 5 mm, reading: 5 mm, accept_within: 0.01 mm } ] } }",
    "unlisted: [ { part: hull, what: a grip, seen_by: AB, day: 2026-11-21 } ]\nhull: {}",
    "runners: [ { id: S1, position: side } ]",
    "runners: [ { id: S1, notes: a remark, work: [ { day: 2026-10-03, did: sharpened } ] } ]",
    "runners: [ { id: S1, toe_at: -410 mm } ]",
    "runners: [ { id: S1, mass: 2.8 kg, pull: 12 N, face: 8.0 m2 } ]",
    "runners: [ { id: S1, spring: 12 N/mm, warmth: -6 degC } ]",
    "runners: [ { id: S1, hv: 600 HV, hbw: 500 HBW, holes: 3 } ]",
    "runners: [ { id: S1, angle: 82 deg 30 min, taper: 50 %, hrc: 58 HRC } ]",
    "runners: [ { id: S1, mass: { with: exact, by: AB, taken: 2026-11-21 10:42, second: no, searched: all, readings: 2.8 kg } } ]",
    "runners: [ { id: S1, mass: { readings: 2.8 2.9 kg, void: { reading: 2, because: slipped, by: AB }, confirmed_by: CD } } ]",
    "runners: [ { id: S1, thickness: { places: [ { at: 0 mm, face: port, from_edge: 12 mm, readings: 4.7 mm } ] } } ]",
    "runners: [ { id: S1, taper: { places: [ { readings: 5 } ] } } ]",
    "runners: [ { id: S1, angle: { places: [ { readings: 82 deg } ] } } ]",
    "runners: [ { id: S1, thickness: { series: [ { places: [ { readings: 4.7 mm } ] } ] } } ]",
    "runners: [ { id: S1, edge: { contact: 0 mm, shims: [ { gap: 0.20 mm, forward: 310 mm, aft: 8 in } ] } } ]",
    "runners: [ { id: S1, side: { stations: -400 0 400 mm, port: 0 0.03 0 mm } } ]",
    "runners: [ { id: S1, cut: { bevels: { port: 40 deg, starboard: 41 deg } } } ]",
    "runners: [ { id: S1, cuts: { places: [ { at: 0 mm, bevels: { port: 40 deg, starboard: 41 deg } } ] } } ]",
    "runners: [ { id: S1, cut: { points: { port: [ -1 1 mm, -2 2 mm ], starboard: [ 1 1 mm, 2 2 mm ], edge_radius: 0.1 mm } } } ]",
    "runners: [ { id: S1, cuts: { places: [ { at: 0 mm, sine: { length: 100 mm, port: 64 mm, starboard: 65 mm } } ] } } ]",
    "runners: [ { id: S1, cuts: { places: [ { at: 0 mm, pins: [ { diameter: 2 mm, over: 6 mm }, { diameter: 3 mm, over: 9 mm } ] } ] } } ]",
    "runners: [ { id: S1, cut: { rollers: [ { diameter: 6 mm, height: 20 mm }, { diameter: 12 mm, height: 27 mm } ] } } ]",
    "runners: [ { id: S1, cut: { widths: [ { depth: 0 mm, width: 1 mm }, { depth: 2 mm, width: 5 mm } ] } } ]",
    "boat: { sail_number: T8 41, name: Nightjar, owner: A. B., built: 2019-03, all_up_mass: 88 kg, crew: 1 }",
    "boat: { sail_number: T8 41, built: { date: 2019-03, proof: invoice 17, seen_by: AB, seen_on: 2026-11-20 } }",
];

/// Tries the law on everything that a tree can be spoiled to, or on every so many.
fn law_everywhere(
    schema: &Schema,
    trees: &[(Tree, usize)],
    step: usize,
    load: impl Fn(&Arc<Source>, &Node<'_>) -> Loaded + Sync,
) -> usize {
    let all: Vec<Tree> = trees
        .iter()
        .flat_map(|(tree, first)| spoiled_everywhere(tree, *first))
        .step_by(step)
        .collect();
    let refused: usize = all
        .par_iter()
        .map(|tree| {
            let source = Source::new("spoiled.yaml", tree.to_file());
            match refused_by_both(schema, &source, &load) {
                Ok(by_schema) => usize::from(by_schema),
                Err(found) => panic!("{found}\n{tree:?}"),
            }
        })
        .sum();
    assert!(refused * 4 > all.len(), "{refused} of {}", all.len());
    all.len()
}

#[test]
fn records_spoiled_at_any_place() {
    let (schema, _) = of_every_kind();
    let whole = |said: &&str| {
        let boat = match said.starts_with("boat:") {
            true => "",
            false => "boat: { sail_number: T8 41 }\n",
        };
        let text = format!("format: rimegauge-record/1\nclass: tarn-8\n{boat}{said}\n");
        ((*said).to_owned(), text)
    };
    let files = ONE_THING.iter().map(whole).collect();
    let trees = sound(files, schema, load_of_every_kind).into_iter();
    // What all have in common is tried once.
    let trees: Vec<_> = trees
        .enumerate()
        .map(|(at, tree)| (tree, if at == 0 { 1 } else { 5 }))
        .collect();
    assert!(law_everywhere(schema, &trees, 1, load_of_every_kind) > 15_000);
}

#[test]
fn cases_and_forms_spoiled_at_any_place() {
    let file = "format: rimegauge-cases/1
class: tarn-8
cases:
  - title: one
    versions: \">=3.0.0\"
    purpose: certification
    on: 2026-11-21
    level: club
    given: { hull: { length: 4 m } }
    expect: { hull_length: conforms, hull_mass: { outcome: not_decided, reason: not_measured } }
";
    let schema = rules::schema_of_cases().unwrap();
    let tree = sound(
        vec![("one".to_owned(), file.to_owned())],
        schema,
        load_cases,
    )
    .remove(0);
    assert!(law_everywhere(schema, &[(tree, 1)], 1, load_cases) > 1_000);
    let (schema, _) = of_forms();
    let file = root().join("tests/form-faults/none/form.yaml");
    let text = std::fs::read_to_string(file).unwrap();
    let tree = sound(vec![("form".to_owned(), text)], schema, load_form).remove(0);
    assert!(law_everywhere(schema, &[(tree, 1)], 1, load_form) > 2_000);
}

/// A rules file takes its time: every so many, unless `RIMEGAUGE_STEP=1` asks for all.
#[test]
fn rules_spoiled_at_any_place() {
    let asked = std::env::var("RIMEGAUGE_STEP").ok();
    let step = asked.and_then(|text| text.parse().ok()).unwrap_or(211);
    let tree = of_rules()[0].clone();
    let schema = rules::schema_of_rules().unwrap();
    assert!(law_everywhere(schema, &[(tree, 1)], step, load_rules) > 100);
}

#[test]
fn overlays_spoiled_at_any_place() {
    let folder = root().join("tests/overlay-faults");
    let text = |name: &str| std::fs::read_to_string(folder.join(name)).unwrap();
    let rules = rules::load("rules.yaml", text("rules.yaml").as_bytes()).unwrap();
    let load = |source: &Arc<Source>, _: &Node<'_>| {
        rules::lay_over(&rules, source.name(), source.text().as_bytes()).map(|_| ())
    };
    let schema = rules::schema_of_overlays().unwrap();
    let files = vec![("overlay.yaml".to_owned(), text("none/overlay.yaml"))];
    let tree = sound(files, schema, load).remove(0);
    assert!(law_everywhere(schema, &[(tree, 1)], 7, load) > 100);
}
