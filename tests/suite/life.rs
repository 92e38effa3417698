//! The life of a rules text: old names, interpretations and their ends, overlays, versions that are not in force,
//! and what is said of what the rules do not name.

use std::fs;
use std::path::Path;
use std::sync::Arc;

use rimegauge::check::{Context, Finding, Outcome, Plan, Reason, RuleRef};
use rimegauge::record::{self, Loader, OldName, Record};
use rimegauge::report::Checked;
use rimegauge::rules::{self, Limits, RulesFile, Stage, dropped_out};
use rimegauge::text;

use super::workbench::{Policy, SHIPPED, day, rules_text};

const EQUIPMENT: &str = "  boat:
    parts: { plank: { one: plank, at_least: 0 }, bars: { many: bar } }
    traits: { built: { date: proven } }
  plank: { measures: { length: length } }
  bar:
    traits: { material: [wood, steel], finish: [oiled, painted], marked: { flag: intended } }
    measures: { length: length, width: length }";

const RULES: &str = "rules:
  - { id: long, clause: A.1, title: T, text: T, applies_to: bar, value: length, by: material, limits: { wood: { at_most: 900 mm }, steel: { at_most: 800 mm } } }
  - { id: plank_length, clause: A.2, title: T, text: T, applies_to: plank, value: length, at_most: 3000 mm }
marks:
  - { id: marked_bars, clause: E.1, title: Marked bars, item: bar, by: event.level, limits: { club: { at_most: 3 }, regional: { at_most: 2 } } }
events_may_change: [long, marked_bars]";

fn loaded(text: &str) -> RulesFile {
    match rules::load("rules.yaml", text.as_bytes()) {
        Ok(rules) => rules,
        Err(found) => panic!("{}", rimegauge::diagnostic::narrate(&found)),
    }
}

fn with(more: &str) -> RulesFile {
    loaded(&rules_text(SHIPPED, EQUIPMENT, &format!("{RULES}\n{more}")))
}

fn read(rules: &RulesFile, text: &str) -> Record {
    let source = text::Source::new("record.yaml", text);
    let node = text::parse_yaml(&source).unwrap();
    match record::load(&source, &node, &rules.vocabulary) {
        Ok(record) => record,
        Err(found) => panic!("{}", rimegauge::diagnostic::narrate(&found)),
    }
}

fn checked(rules: RulesFile, record: &Record, level: Option<&str>) -> Vec<Finding> {
    let level = level.map(|word| rules.vocabulary.event_level_named(word).unwrap());
    let context = Context {
        purpose: Stage::EventInspection,
        day: day("2026-11-21"),
        level,
    };
    Plan::compile(Arc::new(rules))
        .check(record, &context)
        .findings
}

const HEAD: &str = "format: rimegauge-record/1\nclass: tarn-8\nboat: { sail_number: T8 41 }\nmeasured: { day: 2026-11-21, by: AB }\n";

const RENAMED: &str = "renamed: { deck: plank, rods: bars, bar.stuff: material, bar.material.timber: wood, bar.span: length }";

// ---- old names

#[test]
fn a_record_with_old_names_is_read_as_one_with_the_new() {
    let rules = with(RENAMED);
    let old = read(
        &rules,
        &format!(
            "{HEAD}deck: {{ length: 2950 mm }}\nrods: [ {{ id: S1, stuff: timber, span: 850 mm }} ]\nunlisted: [ {{ part: rods/S1, what: a grip }} ]\n"
        ),
    );
    let new = read(
        &rules,
        &format!(
            "{HEAD}plank: {{ length: 2950 mm }}\nbars: [ {{ id: S1, material: wood, length: 850 mm }} ]\nunlisted: [ {{ part: bars/S1, what: a grip }} ]\n"
        ),
    );
    assert!(new.old_names.is_empty());
    let told: Vec<(&str, &str)> = old
        .old_names
        .iter()
        .map(|OldName { old, new, .. }| (old.as_str(), new.as_str()))
        .collect();
    let expected = [
        ("deck", "plank"),
        ("bar.stuff", "material"),
        ("bar.material.timber", "wood"),
        ("bar.span", "length"),
        ("rods", "bars"),
    ];
    for pair in expected {
        assert!(told.contains(&pair), "{pair:?} is not in {told:?}");
    }
    assert_eq!(told.len(), expected.len());
    let outcomes = |record: &Record| -> Vec<(RuleRef, Outcome, Option<Reason>)> {
        let found = checked(rules.clone(), record, Some("club"));
        found
            .into_iter()
            .map(|one| (one.rule, one.outcome, one.reason))
            .collect()
    };
    assert_eq!(outcomes(&old), outcomes(&new));
    assert_eq!(old.unlisted[0].item, new.unlisted[0].item);
}

#[test]
fn the_schema_of_records_accepts_old_names() {
    let rules = with(RENAMED);
    let schema = record::schema(&rules.vocabulary, "tarn-8");
    let schema = rimegauge::diagnostic::Schema::new(schema).unwrap();
    let good = format!(
        "{HEAD}deck: {{ length: 2950 mm }}\nrods: [ {{ id: S1, stuff: timber, span: 850 mm }} ]\n"
    );
    let bad = good.replace("timber", "timbre");
    for (text, accepted) in [(good, true), (bad, false)] {
        let source = text::Source::new("record.yaml", text);
        let node = text::parse_yaml(&source).unwrap();
        assert_eq!(schema.beside(&source, &node, Ok(())).is_ok(), accepted);
    }
}

#[test]
fn the_quick_way_leaves_old_names_to_the_long_one() {
    let rules = with(RENAMED);
    let loader = Loader::new(&rules.vocabulary);
    let line = |bar: &str| {
        format!(
            r#"{{"format":"rimegauge-record/1","class":"tarn-8","boat":{{"sail_number":"T8 41"}},"measured":{{"day":"2026-11-21"}},"bars":[{{"id":"S1",{bar}}}]}}"#
        )
    };
    let quick = |bar: &str| {
        let source = text::Source::new("fleet.jsonl", line(bar));
        let range = 0..source.text().len();
        loader.quick(&source, range).is_some()
    };
    assert!(quick(r#""material":"wood","length":"850 mm""#));
    assert!(!quick(r#""material":"timber","length":"850 mm""#));
    assert!(!quick(r#""material":"wood","span":"850 mm""#));
}

// ---- interpretations

const LIVES: &str = "interpretations:
  - { id: now, about: [long], issued: 2026-02-11, scope: permanent, status: in_force, text: A. }
  - { id: later, about: [long], issued: 2027-02-11, scope: permanent, status: in_force, text: A. }
  - { id: short, about: [long], issued: 2026-02-11, until: 2026-11-21, scope: permanent, status: in_force, text: A. }
  - { id: cup, about: [long], issued: 2026-02-11, scope: harrowmere-2026, status: in_force, text: A. }
  - { id: taken_in, about: [long], issued: 2026-02-11, scope: permanent, status: absorbed, clause: A.1, version: 1.0.0, text: A. }
  - { id: taken_back, about: [long], issued: 2026-02-11, scope: permanent, status: withdrawn, ended: 2026-11-22, effect: relaxed, changed: [long], text: A. }
  - { id: over, about: [long], issued: 2026-02-11, until: 2026-11-20, scope: permanent, status: expired, text: A. }";

fn standing(rules: &RulesFile, on: &str) -> Vec<String> {
    rules
        .standing(day(on))
        .map(|one| one.id.text.clone())
        .collect()
}

const OVERLAY: &str = "format: rimegauge-overlay/1
event: harrowmere-2026
rules: tarn-8@1.0.0
changes:
  - { rule: marked_bars, level: regional, at_most: 1, document: notice of race 9.3, dated: 2026-10-01 }
  - { rule: long, row: steel, at_most: 790 mm, document: notice of race 9.4, dated: 2026-10-01 }
rulings:
  - { id: r1, about: long, by: jury, until: end_of_event, text: Paint is not steel. }
  - { id: r2, about: [plank_length], by: jury, until: 2026-11-20, text: Ice is not wood. }
";

fn laid(rules: &RulesFile) -> RulesFile {
    match rules::lay_over(rules, "overlay.yaml", OVERLAY.as_bytes()) {
        Ok(laid) => {
            assert!(laid.notices.is_empty());
            laid.rules
        }
        Err(found) => panic!("{}", rimegauge::diagnostic::narrate(&found)),
    }
}

#[test]
fn an_interpretation_stands_from_its_issue_to_its_end_where_it_counts() {
    let rules = with(LIVES);
    assert_eq!(standing(&rules, "2026-02-10"), [""; 0]);
    assert_eq!(
        standing(&rules, "2026-02-11"),
        ["now", "short", "taken_back", "over"]
    );
    assert_eq!(
        standing(&rules, "2026-11-20"),
        ["now", "short", "taken_back", "over"]
    );
    assert_eq!(
        standing(&rules, "2026-11-21"),
        ["now", "short", "taken_back"]
    );
    assert_eq!(standing(&rules, "2026-11-22"), ["now"]);
    assert_eq!(standing(&rules, "2027-02-11"), ["now", "later"]);
    let at_the_cup = laid(&rules);
    assert_eq!(standing(&at_the_cup, "2026-11-22"), ["now", "cup"]);
}

#[test]
fn what_drops_out_between_versions_is_what_stood_and_is_not_named() {
    let old = with(LIVES);
    let kept = LIVES
        .replace("id: now", "id: other_words")
        .replace("id: cup", "id: regatta");
    let new = with(&kept);
    let ids: Vec<&str> = dropped_out(&old, &new)
        .iter()
        .map(|one| one.id.text.as_str())
        .collect();
    assert_eq!(ids, ["now", "cup"]);
    assert!(dropped_out(&old, &old).is_empty());
}

// ---- overlays

#[test]
fn an_overlay_changes_the_limits_it_names_and_no_others() {
    let rules = with("");
    let at_event = laid(&rules);
    let text = format!(
        "{HEAD}bars:\n  - {{ id: A, material: steel, marked: yes, length: {{ with: exact, readings: 795 mm }} }}\n  - {{ id: B, material: wood, marked: yes, length: {{ with: exact, readings: 895 mm }} }}\n"
    );
    let record = read(&rules, &text);
    let outcomes = |rules: &RulesFile, level: &str| -> Vec<Outcome> {
        let found = checked(rules.clone(), &record, Some(level));
        let asked = found
            .iter()
            .filter(|one| matches!(one.rule, RuleRef::Rule(0) | RuleRef::Marks(..)));
        asked.map(|one| one.outcome).collect()
    };
    use Outcome::{Conforms, DoesNotConform};
    assert_eq!(outcomes(&rules, "regional"), [Conforms, Conforms, Conforms]);
    assert_eq!(
        outcomes(&at_event, "regional"),
        [DoesNotConform, Conforms, DoesNotConform]
    );
    assert_eq!(
        outcomes(&at_event, "club"),
        [DoesNotConform, Conforms, Conforms]
    );
    assert_eq!(rules.digest, at_event.digest);
    let overlay = at_event.overlay.as_deref().unwrap();
    assert_eq!(overlay.digest, rules::digest(OVERLAY.as_bytes()));
    assert_eq!(overlay.changes.len(), 2);
    assert_eq!(overlay.changes[0].was, "at most 2");
    assert_eq!(overlay.changes[1].now, "at most 790 mm");
}

#[test]
fn a_changed_limit_points_into_the_overlay_and_others_into_the_rules() {
    let at_event = laid(&with(""));
    let Limits::ByTrait { rows, .. } = &at_event.rules[0].limits else {
        panic!("no table");
    };
    let spans: Vec<_> = rows
        .iter()
        .map(|(_, row)| match &row.demand {
            rules::Demand::Bounds(bounds) => bounds[0].span,
            other => panic!("{other:?}"),
        })
        .collect();
    let told: Vec<(&str, &str)> = spans
        .iter()
        .map(|span| {
            let (source, span) = at_event.place(*span);
            (source.name(), source.slice(span))
        })
        .collect();
    assert_eq!(told, [("rules.yaml", "900 mm"), ("overlay.yaml", "790 mm")]);
}

#[test]
fn rulings_stand_until_their_day() {
    let at_event = laid(&with(""));
    let ids = |on: &str| -> Vec<String> {
        let rulings = at_event.rulings(day(on));
        rulings.map(|one| one.id.text.clone()).collect()
    };
    assert_eq!(ids("2026-11-20"), ["r1", "r2"]);
    assert_eq!(ids("2026-11-21"), ["r1"]);
}

#[test]
fn the_shipped_overlay_is_for_the_version_it_names() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("forms/overlays/harrowmere-2026.yaml");
    let bytes = fs::read(path).unwrap();
    let asked = rules::overlay_for("overlay.yaml", &bytes).unwrap();
    let library = rules::Library::embedded().unwrap();
    let reference = format!("{}@{}", asked.class, asked.version);
    let found = library.resolve(&reference, day("2026-12-05")).unwrap();
    let laid = rules::lay_over(&found.rules, "overlay.yaml", &bytes).unwrap();
    assert!(laid.notices.is_empty());
}

// ---- statuses

#[test]
fn only_adopted_versions_are_found_by_day_and_others_by_their_name() {
    let text = rules_text(SHIPPED, EQUIPMENT, RULES).replace("class: tarn-8", "class: small");
    for status in ["draft", "proposed", "repealed", "adopted"] {
        let mut library = rules::Library::embedded().unwrap();
        let text = text.replace("status: adopted", &format!("status: {status}"));
        library.add("small.yaml", text.as_bytes()).unwrap();
        let on = day("2026-12-01");
        assert_eq!(library.resolve("small", on).is_ok(), status == "adopted");
        assert_eq!(library.resolve("small@^1", on).is_ok(), status == "adopted");
        let named = library.resolve("small@1.0.0", on).unwrap();
        assert_eq!(named.rules.status.word(), status);
        assert_eq!(named.rules.in_force(on), status == "adopted");
        assert!(!named.rules.in_force(day("2026-10-31")));
        let said = rimegauge::report::not_in_force(&named.rules, on);
        assert_eq!(said.is_none(), status == "adopted");
    }
}

// ---- what the rules do not name

#[test]
fn a_part_that_the_rules_do_not_list_waits_for_the_authority_or_is_noted() {
    for (silence, outcome, reason) in [
        ("forbids", Outcome::NotDecided, Reason::UnlistedPart),
        ("permits", Outcome::NotApplicable, Reason::NoRow),
    ] {
        let rules = loaded(&rules_text(Policy { silence, ..SHIPPED }, EQUIPMENT, RULES));
        let record = read(
            &rules,
            &format!(
                "{HEAD}bars: [ {{ id: A, material: wood }} ]\nunlisted:\n  - {{ part: bars/A, what: a grip }}\n  - {{ part: boat, what: a lamp }}\n"
            ),
        );
        let found = checked(rules.clone(), &record, Some("club"));
        let unlisted = |found: &[Finding]| -> Vec<(Outcome, Option<Reason>)> {
            let about = |one: &&Finding| matches!(one.rule, RuleRef::Unlisted(_));
            let found = found.iter().filter(about);
            found.map(|one| (one.outcome, one.reason)).collect()
        };
        assert_eq!(unlisted(&found), [(outcome, Some(reason)); 2], "{silence}");
        let context = Context {
            purpose: Stage::EventInspection,
            day: day("2026-11-21"),
            level: rules.vocabulary.event_level_named("club"),
        };
        let plan = Plan::compile(Arc::new(rules));
        let briefly = plan.check_briefly(&record, &context);
        assert_eq!(unlisted(&briefly.findings), unlisted(&found), "{silence}");
        let verdict = plan.check(&record, &context);
        let checked = Checked {
            rules: Arc::clone(plan.rules()),
            later: None,
            purpose: context.purpose,
            day: context.day,
            level: context.level,
            digest: None,
            verdict,
            record,
        };
        let noted = checked.notes();
        match silence {
            "permits" => assert_eq!(
                noted,
                [
                    "a grip on bars/A is not named by the rules",
                    "a lamp on boat is not named by the rules"
                ]
            ),
            _ => assert!(noted.is_empty(), "{noted:?}"),
        }
    }
}
