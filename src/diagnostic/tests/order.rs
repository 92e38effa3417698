//! Order, repetition, and near words.

use super::at;
use crate::diagnostic::{Diagnostic, arrange, near_misses};
use crate::text::{Source, Span};

#[test]
fn by_source_as_they_appear_then_by_place() {
    let first = Source::new("b.yaml", "one two three");
    let second = Source::new("a.yaml", "one two three");
    let all = [
        Diagnostic::notice("t.x", "1").label(&first, at(&first, "two"), ""),
        Diagnostic::fault("t.x", "2").label(&second, at(&second, "one"), ""),
        Diagnostic::fault("t.x", "3").label(&first, at(&first, "three"), ""),
        Diagnostic::fault("t.x", "4").label(&first, at(&first, "two"), ""),
        Diagnostic::fault("t.x", "5").label(&first, at(&first, "one"), ""),
        Diagnostic::fault("t.x", "6"),
    ];
    let order: Vec<&str> = arrange(&all)
        .iter()
        .map(|found| found.message.as_str())
        .collect();
    assert_eq!(order, ["6", "5", "4", "1", "3", "2"]);
}

#[test]
fn the_same_about_the_same_place_is_said_once() {
    let source = Source::new("a.yaml", "one two");
    let other = Source::new("a.yaml", "one two");
    let place = Span::new(0, 3);
    let all = [
        Diagnostic::fault("t.x", "said").label(&source, place, "first"),
        Diagnostic::fault("t.x", "said").label(&source, place, "again"),
        Diagnostic::fault("t.y", "said").label(&source, place, ""),
        Diagnostic::fault("t.x", "said differently").label(&source, place, ""),
        Diagnostic::fault("t.x", "said").label(&source, Span::new(4, 7), ""),
        Diagnostic::fault("t.x", "said").label(&other, place, ""),
    ];
    let kept = arrange(&all);
    assert_eq!(kept.len(), 5);
    assert_eq!(kept[0].labels[0].words, "first");
}

#[test]
fn near_words() {
    let names = [
        "steel_thickness",
        "steel_length",
        "toe_at",
        "heel_at",
        "mm",
        "m",
        "in",
        "deg",
    ];
    let near = |word| near_misses(word, names);
    assert_eq!(near("steel_thicknes"), Some("steel_thickness"));
    assert_eq!(near("stele_thikness"), Some("steel_thickness"));
    assert_eq!(near("Steel-Thickness"), Some("steel_thickness"));
    assert_eq!(near("steel length"), Some("steel_length"));
    assert_eq!(near("heal_at"), Some("heel_at"));
    assert_eq!(near("toat_"), None);
    assert_eq!(near("dge"), Some("deg"));
    assert_eq!(near("mn"), Some("mm"), "the first of equally near ones");
    assert_eq!(near("kg"), None, "two letters keep one in its place");
    assert_eq!(near("x"), None);
    assert_eq!(near(""), None);
    assert_eq!(near("hardness"), None);
    assert_eq!(near(&"steel".repeat(50)), None);
    assert_eq!(near_misses("łyżwa", ["łyżwy", "lyzwa"]), Some("łyżwy"));
    assert_eq!(near_misses("any", []), None);
}
