//! An impact made by hand, told in all formats.

mod made;

use proptest::prelude::*;

use made::*;

use super::super::compare::tests::{as_kept, comparison, new, old};
use super::bins::{bars, frame, place};
use super::{Fleet, compare_page, impact_json, impact_plain, impact_text};
use crate::fleet::impact::{Impact, LimitImpact, LimitText, Moves};
use crate::quantity::{Date, Exact, Unit};
use crate::report::Compared;
use crate::rules::Stage;

fn told<T>(impact: &Impact, names: bool, tell: impl FnOnce(&Fleet<'_>) -> T) -> T {
    let (old, new) = (semver::Version::new(3, 1, 0), semver::Version::new(3, 2, 0));
    tell(&Fleet {
        impact,
        old: &old,
        new: &new,
        in_force_from: (Date::constant(2026, 11, 1), Date::constant(2027, 11, 1)),
        purpose: Stage::Certification,
        level: None,
        names,
    })
}

/// The page of the handmade comparison, with what it does to a fleet.
fn page(impact: Option<&Impact>, names: bool) -> String {
    let (old, new) = (old(), new());
    let comparison = comparison(&old, &new);
    let compared = Compared {
        old: &old,
        new: &new,
        comparison: &comparison,
        notes: &[],
    };
    match impact {
        Some(impact) => told(impact, names, |fleet| compare_page(&compared, Some(fleet))),
        None => compare_page(&compared, None),
    }
}

#[test]
fn a_fleet_is_told_in_all_formats() {
    let impact = impact();
    as_kept(
        "impact-human.txt",
        &told(&impact, false, |fleet| impact_text(fleet, 80)),
    );
    as_kept("impact-plain.txt", &told(&impact, false, impact_plain));
    as_kept(
        "impact-named.txt",
        &told(&impact, true, |fleet| impact_text(fleet, 80)),
    );
    let json = told(&impact, false, impact_json);
    as_kept("impact.json", &format!("{json:#}\n"));
    as_kept("impact.html", &page(Some(&impact), false));
    for width in [60, 80, 120] {
        let text = told(&impact, true, |fleet| impact_text(fleet, width));
        for line in text.lines() {
            assert!(line.chars().count() <= width, "{width}: {line}");
            assert_eq!(line, line.trim_end());
        }
    }
}

#[test]
fn an_item_has_one_number_in_every_rule() {
    let mut impact = impact();
    let again = impact.rules[0].limits[0].worst[1].clone();
    impact.rules[1].limits[0].worst.push(again);
    impact.rules[1].part = "runner".to_owned();
    let text = told(&impact, false, |fleet| impact_text(fleet, 200));
    assert_eq!(text.matches("boat 1, runner 2: 4.710").count(), 2, "{text}");
    // One boat, however its sail number is written; the boat with several records is the one among the worst.
    assert!(text.contains("boat 2: 2 records"), "{text}");
    assert!(
        text.contains("boat 3: 2.01 mm, U not known, over by 0.01 mm"),
        "{text}"
    );
}

/// A limit stands in the unit of the file that says it, digit for digit.
#[test]
fn each_limit_is_told_in_the_unit_of_its_own_file() {
    let mut one = limit(Some("795 mm"), Some("800 mm"), "plate", 0);
    one.unit = Unit::M;
    one.decimals = Some(1);
    one.old_written = Some((Unit::MM, Some(0)));
    let both = |one: &LimitImpact| {
        let impact = impact();
        told(&impact, false, |fleet| super::limit::both(fleet, one))
    };
    assert_eq!(
        both(&one),
        "Plate: at least 795 mm under 3.1.0, at least 0.8 m under 3.2.0"
    );
    one.old = one.new.clone();
    assert_eq!(
        both(&one),
        "Plate: at least 800 mm under 3.1.0, at least 0.8 m under 3.2.0, which is the same"
    );
    one.old_written = Some((Unit::M, Some(1)));
    assert_eq!(both(&one), "Plate: at least 0.8 m, as before");
    // A fraction stays one.
    let mut inches = limit(Some("5/16 in"), Some("3/8 in"), "plate", 0);
    (inches.unit, inches.decimals) = (Unit::IN, None);
    let text = |text: &str, step: Option<&str>| {
        Some(LimitText {
            text: text.to_owned(),
            rounded_to: step.map(str::to_owned),
        })
    };
    inches.texts = (text("5/16 in", None), text("3/8 in", None));
    assert_eq!(
        both(&inches),
        "Plate: at least 5/16 in under 3.1.0, at least 3/8 in under 3.2.0"
    );
    // What rounding lets through is no number of the file.
    inches.new = Some(Exact::from_decimal("0.009325").unwrap());
    inches.texts.1 = text("3/8 in", Some("1/64 in"));
    assert_eq!(
        both(&inches),
        "Plate: at least 5/16 in under 3.1.0, at least 3/8 in when rounded to 1/64 in under 3.2.0"
    );
}

/// One, none and many: nouns and verbs agree, and none is told as a word.
#[test]
fn sentences_agree_with_their_counts() {
    let mut impact = impact();
    impact.boats = Moves::default();
    impact.items = moves(&[(C, D, 1), (D, C, 2), (C, N, 1), (N, D, 3), (C, C, 5)]);
    let said = told(&impact, false, super::said::answer);
    assert_eq!(
        said[0],
        "Of 0 boats, none conforms under 3.1.0 and would not conform under 3.2.0; none goes the other way."
    );
    assert_eq!(
        said[1],
        "Of 12 items, 1 conforms under 3.1.0 and would not conform under 3.2.0; 2 do not conform and would; 1 conforms and would be open; 3 are open and would not conform."
    );
    // Of a rule only what there is is told, and nothing changes only where nothing moves.
    let mut rule = impact.rules[0].clone();
    (rule.within_uncertainty, rule.never_measured) = (0, 0);
    for (moved, words) in [
        (vec![(C, C, 1)], "1 item, and nothing changes by it."),
        (
            vec![(C, C, 3), (D, D, 1)],
            "4 items, and for none of them anything changes by it.",
        ),
        (
            vec![(C, D, 1), (D, C, 2)],
            "Of 3 items: 1 newly illegal, 2 newly legal.",
        ),
        (
            vec![(N, D, 1), (D, N, 1)],
            "Of 2 items: 1 open before and not conforming then, 1 not conforming before and open then.",
        ),
    ] {
        rule.moves = moves(&moved);
        let said = told(&impact, false, |fleet| super::said::rule(fleet, &rule));
        assert_eq!(said[0], words);
    }
    impact.sample.old_names = 1;
    let said = told(&impact, false, super::said::sample);
    let words = "1 record uses names of an older version, and was read by those of the newer one.";
    assert!(said.iter().any(|one| one == words), "{said:#?}");
}

#[test]
fn few_have_counts_and_no_shares() {
    let mut impact = impact();
    assert!(told(&impact, false, impact_plain).contains('%'));
    impact.items = impact.boats;
    impact.parts.clear();
    impact.rules.clear();
    impact.years.clear();
    let text = told(&impact, false, impact_plain);
    assert!(!text.contains('%'), "{text}");
    assert!(
        text.contains("Of 31 boats, 4 conform under 3.1.0"),
        "{text}"
    );
}

#[test]
fn nothing_at_all_is_told_without_a_fault() {
    let impact = Impact::default();
    let text = told(&impact, false, impact_plain);
    assert!(text.contains("Looked at: 0 boats in 0 records."), "{text}");
    balanced(&page(Some(&impact), false));
}

/// Every tag that is opened is closed, in order, and no attribute is written twice.
fn balanced(page: &str) {
    let mut open: Vec<&str> = Vec::new();
    let mut ids: Vec<&str> = Vec::new();
    let body = page.strip_prefix("<!DOCTYPE html>").unwrap();
    for part in body.split('<').skip(1) {
        let (tag, _) = part.split_once('>').expect(part);
        if let Some(name) = tag.strip_prefix('/') {
            assert_eq!(open.pop(), Some(name), "{part}");
            continue;
        }
        let name = tag.split(' ').next().unwrap();
        assert_eq!(tag.matches('"').count() % 2, 0, "{tag}");
        if let Some((_, rest)) = tag.split_once(" id=\"") {
            let id = rest.split('"').next().unwrap();
            assert!(!ids.contains(&id), "twice: {id}");
            ids.push(id);
        }
        if name != "meta" {
            open.push(name);
        }
    }
    assert_eq!(open, Vec::<&str>::new());
    for target in body.split("href=\"#").skip(1) {
        let id = target.split('"').next().unwrap();
        assert!(ids.contains(&id), "leads nowhere: {id}");
    }
}

#[test]
fn pages_are_well_formed_and_fetch_nothing() {
    let with = page(Some(&impact()), true);
    let without = page(None, false);
    for page in [&with, &without] {
        balanced(page);
        for word in ["<script", "src=", "url(", "@import", "http://", "https://"] {
            let found = page.replace("xmlns=\"http://www.w3.org/2000/svg\"", "");
            assert!(!found.contains(word), "{word}");
        }
    }
    assert!(with.contains("&lt;measured&gt; &amp; told"));
    assert!(with.contains("T8 41") && with.contains("fleet.jsonl:12"));
    assert!(!without.contains("<svg"));
    // Each picture has its numbers beside it, and words for those who do not see it.
    let pictures = with.matches("<svg").count();
    assert!(pictures >= 5, "{pictures}");
    assert_eq!(with.matches("<details>").count(), pictures);
    assert_eq!(with.matches("<desc ").count(), pictures);
}

/// What is open and what is illegal are told apart without colour, and on paper as on a screen.
#[test]
fn bars_are_told_apart_without_colour() {
    let page = page(Some(&impact()), false);
    let flips = picture(&page, "flips");
    let open = attribute(flips, "bar open", "width");
    let stripes = attribute(flips, "stripes", "x2");
    assert!(!open.is_empty());
    assert_eq!(open.len(), stripes.len());
    let print = page.split_once("@media print").unwrap().1;
    assert!(print.contains("table.numbers { break-inside: avoid; }"));
}

/// Numbers of an attribute of elements with a class, in order.
fn attribute(picture: &str, class: &str, name: &str) -> Vec<f64> {
    let head = format!(" class=\"{class}\"");
    let elements = picture.split('<').filter(|element| element.contains(&head));
    let values = elements.map(|element| {
        let rest = element.split_once(&format!(" {name}=\"")).unwrap().1;
        rest.split('"').next().unwrap().parse().unwrap()
    });
    values.collect()
}

fn picture<'p>(page: &'p str, id: &str) -> &'p str {
    let from = page.find(&format!("aria-labelledby=\"{id}-title")).unwrap();
    let rest = &page[from..];
    &rest[..rest.find("</svg>").unwrap()]
}

#[test]
fn bars_are_as_high_as_their_counts_and_limits_stand_at_their_values() {
    let impact = impact();
    let page = page(Some(&impact), false);
    let limits = &impact.rules[0].limits;
    for (row, limit) in limits.iter().enumerate() {
        let drawn = picture(&page, &format!("margins-0-{row}"));
        let frame = frame(limit, limits).unwrap();
        let found = bars(limit, &frame);
        let sizes = |out: bool| -> Vec<u64> {
            let own = found.bars.iter().filter(|bar| (bar.to <= 1e-9) == out);
            own.map(|bar| bar.count)
                .filter(|count| *count > 0)
                .collect()
        };
        for (class, out) in [("bar out", true), ("bar in", false)] {
            let heights = attribute(drawn, class, "height");
            let tops = attribute(drawn, class, "y");
            let counts = sizes(out);
            assert_eq!(heights.len(), counts.len(), "{class}");
            for ((height, top), count) in heights.iter().zip(&tops).zip(&counts) {
                let asked = *count as f64 / frame.most as f64 * 130.0;
                assert!((height - asked).abs() < 0.02, "{height} for {count}");
                assert!((height + top - 200.0).abs() < 0.02, "stands on the axis");
            }
        }
        // A place in the picture for a margin, by the frame alone.
        let (low, high) = (place(frame.first, &frame), place(frame.end, &frame));
        let x = |margin: f64| 34.0 + (margin - low) / (high - low) * (348.0 - 34.0);
        let new = attribute(drawn, "limit", "x1");
        assert_eq!(new.len(), 1);
        assert!((new[0] - x(0.0)).abs() < 0.02, "{new:?}");
        let old = attribute(drawn, "limit old", "x1");
        let band = attribute(drawn, "band", "width");
        match row {
            0 => {
                assert!((old[0] - x(-0.1)).abs() < 0.02, "{old:?}");
                assert!((band[0] - (x(0.021) - x(-0.021))).abs() < 0.02, "{band:?}");
            }
            // As before, and nothing near it.
            _ => assert!(old.is_empty() && band.is_empty()),
        }
        // Every bar that is beyond the limit ends where the limit stands, or before.
        let lefts = attribute(drawn, "bar out", "x");
        let widths = attribute(drawn, "bar out", "width");
        for (left, width) in lefts.iter().zip(&widths) {
            assert!(left + width <= new[0] + 0.02);
        }
    }
}

#[test]
fn an_upper_limit_has_what_is_beyond_it_to_the_right() {
    let impact = impact();
    let page = page(Some(&impact), false);
    let drawn = picture(&page, "margins-1-0");
    let limit = attribute(drawn, "limit", "x1")[0];
    assert!(attribute(drawn, "bar out", "x").iter().all(|x| *x >= limit));
    let inside = attribute(drawn, "bar in", "x");
    let widths = attribute(drawn, "bar in", "width");
    assert!(!inside.is_empty());
    for (left, width) in inside.iter().zip(&widths) {
        assert!(left + width <= limit + 0.02);
    }
}

fn names() -> impl Strategy<Value = String> {
    "zq[a-zA-Z0-9<>&'\" ./é\u{202e}-]{4,12}zq"
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn no_name_is_told_unless_asked(sails in proptest::collection::vec(names(), 4), items in proptest::collection::vec(names(), 4), file in names()) {
        let mut impact = impact();
        let mut sails = sails.iter().cycle();
        let mut items = items.iter().cycle();
        for case in impact.rules.iter_mut().flat_map(|rule| &mut rule.limits).flat_map(|limit| &mut limit.worst) {
            case.sail_number = sails.next().unwrap().clone();
            case.item = format!("runners/{}", items.next().unwrap());
            case.at.0 = file.clone();
        }
        for one in &mut impact.sample.several {
            one.sail_number = sails.next().unwrap().clone();
            one.records.iter_mut().for_each(|record| record.0 = file.clone());
        }
        // Records that can't be used are no boats that were counted: programs are told where they are, as standard error is.
        let json = |names: bool| {
            let mut json = told(&impact, names, impact_json);
            let broken = json["sample"]["broken_records"].take();
            assert_eq!(broken.as_array().unwrap().len(), 3);
            json
        };
        let all = |names: bool| [
            told(&impact, names, |fleet| impact_text(fleet, 4000)),
            told(&impact, names, impact_plain),
            json(names).to_string(),
            page(Some(&impact), names),
        ];
        for text in all(false) {
            prop_assert!(!text.contains("zq"), "{}", text);
            prop_assert!(!text.contains("fleet.jsonl"));
            prop_assert!(!text.contains(":90"));
        }
        for text in all(true) {
            prop_assert!(text.contains("zq"));
        }
    }

    #[test]
    fn bars_hold_every_value_once(first in -420_i64..400, counts in proptest::collection::vec(0_u64..40, 0..500), beyond in (0_u64..9, 0_u64..9)) {
        let mut one = limit(Some("4.70 mm"), Some("4.80 mm"), "insert", 0);
        one.margins.first = first;
        one.margins.counts = counts;
        one.margins.beyond = beyond;
        let other = limit(Some("6.35 mm"), Some("6.35 mm"), "plate", 1);
        let both = [one.clone(), other];
        let frame = frame(&one, &both).unwrap();
        prop_assert_eq!(Some(frame), super::bins::frame(&both[1], &both), "one scale for both");
        let found = bars(&one, &frame);
        prop_assert!(found.bars.len() <= 30, "{}", found.bars.len());
        let inside: u64 = found.bars.iter().map(|bar| bar.count).sum();
        prop_assert_eq!(inside + found.beyond.0 + found.beyond.1, one.margins.total());
        // The limit is a border of bars.
        prop_assert!(frame.first % frame.group == 0 && frame.first < 0 && frame.end > 0);
        let out: u64 = found.bars.iter().filter(|bar| bar.to <= 1e-9).map(|bar| bar.count).sum();
        prop_assert_eq!(out + found.beyond.0, super::limit::sides(&one).0);
    }
}
