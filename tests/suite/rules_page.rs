//! The page of a version: well formed, whole, self-contained, and the same every time.

use std::collections::BTreeSet;
use std::sync::Arc;

use rimegauge::report::{Replaced, changes, rules_page};
use rimegauge::rules::{self, RulesFile};

use super::sentences::{limits_of, shipped};

fn version(class: &str, wanted: &str) -> Arc<RulesFile> {
    let found = shipped()
        .into_iter()
        .find(|(_, rules)| rules.class.text == class && rules.version.to_string() == wanted);
    found.unwrap().1
}

fn with(rules: &RulesFile, from: &str, to: &str) -> RulesFile {
    let text = rules.source.text();
    assert!(text.contains(from), "{from}");
    rules::load("changed.yaml", text.replacen(from, to, 1).as_bytes()).unwrap()
}

/// The tags of a page in their order, each with its attributes; panics where they don't nest.
fn tags(page: &str) -> Vec<(String, Vec<(String, String)>)> {
    let mut all = Vec::new();
    let mut open: Vec<String> = Vec::new();
    let mut rest = page.strip_prefix("<!DOCTYPE html>\n").unwrap();
    while let Some(at) = rest.find('<') {
        let text = &rest[..at];
        assert!(
            !text.contains('>') || open.last().is_some_and(|tag| tag == "style"),
            "{text}"
        );
        let end = at + rest[at..].find('>').unwrap();
        let tag = &rest[at + 1..end];
        rest = &rest[end + 1..];
        if let Some(name) = tag.strip_prefix('/') {
            assert_eq!(
                open.pop().as_deref(),
                Some(name),
                "</{name}> closes what is not open"
            );
            continue;
        }
        let (name, mut given) = tag.split_once(' ').unwrap_or((tag, ""));
        let mut attributes = Vec::new();
        while let Some((key, after)) = given.split_once("=\"") {
            let (value, after) = after.split_once('"').unwrap();
            attributes.push((key.trim().to_owned(), value.to_owned()));
            given = after;
        }
        assert!(given.trim().is_empty(), "{tag}");
        if name != "meta" {
            open.push(name.to_owned());
        }
        all.push((name.to_owned(), attributes));
    }
    assert!(open.is_empty(), "{open:?} is left open");
    all
}

fn attribute<'t>(attributes: &'t [(String, String)], key: &str) -> Option<&'t str> {
    attributes
        .iter()
        .find(|(name, _)| name == key)
        .map(|(_, value)| value.as_str())
}

#[test]
fn every_page_is_well_formed_and_fetches_nothing() {
    let all = shipped();
    for (_, rules) in &all {
        let old = all.iter().find(|(_, old)| {
            old.class == rules.class && Some(&old.version) == rules.replaces.as_ref()
        });
        let replaced = old.map_or(Replaced::Missing, |(_, old)| Replaced::Found(old));
        let page = rules_page(rules, replaced);
        assert_eq!(page, rules_page(rules, replaced), "the same, byte for byte");
        for outside in [
            "http://",
            "https://",
            "src=",
            "url(",
            "@import",
            "<link",
            "<script",
            "javascript:",
        ] {
            assert!(
                !page.contains(outside),
                "{} {}: {outside}",
                rules.class.text,
                rules.version
            );
        }
        let tags = tags(&page);
        let ids: Vec<&str> = tags
            .iter()
            .filter_map(|(_, given)| attribute(given, "id"))
            .collect();
        let unique: BTreeSet<&str> = ids.iter().copied().collect();
        assert_eq!(ids.len(), unique.len(), "an id stands twice");
        for (name, given) in &tags {
            if let Some(href) = attribute(given, "href") {
                let target = href
                    .strip_prefix('#')
                    .unwrap_or_else(|| panic!("{href} leads outside"));
                assert!(unique.contains(target), "{href} leads nowhere");
            }
            if name == "th" {
                assert!(
                    attribute(given, "scope").is_some(),
                    "a head of a table says what it is the head of"
                );
            }
        }
        let count = |tag: &str| tags.iter().filter(|(name, _)| name == tag).count();
        assert_eq!(
            (count("h1"), count("main"), count("nav"), count("title")),
            (1, 1, 1, 1)
        );
        assert_eq!(count("table"), count("caption"));
        let headings: Vec<u8> = tags
            .iter()
            .filter_map(|(name, _)| name.strip_prefix('h')?.parse().ok())
            .collect();
        assert!(
            headings.windows(2).all(|pair| pair[1] <= pair[0] + 1),
            "a heading skips a level"
        );
    }
}

#[test]
fn every_rule_stands_on_the_page_with_every_limit() {
    for (_, rules) in shipped() {
        let page = rules_page(&rules, Replaced::None);
        let ids = rules.rules.iter().map(|rule| &rule.id.text);
        let marks = rules.marks.iter().map(|mark| &mark.id.text);
        for id in ids.clone().chain(marks) {
            assert_eq!(
                page.matches(&format!("<article id=\"rule-{id}\">")).count(),
                1,
                "{id}"
            );
            assert!(page.contains(&format!("href=\"#rule-{id}\"")), "{id}");
        }
        for id in ids {
            let begin = page.find(&format!("<article id=\"rule-{id}\">")).unwrap();
            let article = &page[begin..begin + page[begin..].find("</article>").unwrap()];
            for limit in limits_of(&rules, id) {
                assert!(
                    article.contains(&format!(">{limit}<")),
                    "{id} without {limit}"
                );
            }
        }
        for part in &rules.vocabulary.parts {
            for measure in &part.measures {
                let name = measure.name.text.replace('_', " ");
                assert!(
                    page.contains(&format!("<th scope=\"row\">{name}</th>")),
                    "{name}"
                );
            }
        }
        assert!(page.contains(&rules.digest));
        for caution in &rules.cautions {
            let words = caution.words().replace('\'', "&#39;");
            assert!(page.contains(&words), "{words}");
        }
    }
}

#[test]
fn texts_of_the_file_are_never_markup() {
    let rules = version("tarn-8", "3.1.0");
    let hostile = with(
        &rules,
        "text: The leading edge of the steel shall be rounded, without point or corner.",
        "text: \"<script>alert('1')</script> & <img src=x onerror=y>\"",
    );
    let hostile = with(
        &hostile,
        "Tarn 8 Class Association, Technical Committee",
        "\"</dd><b onclick='x'>\"",
    );
    let page = rules_page(&hostile, Replaced::Found(&rules));
    assert!(!page.contains("<script"), "a script got through");
    assert!(!page.contains("<img") && !page.contains("<b onclick"));
    assert!(page.contains("&lt;script&gt;alert(&#39;1&#39;)&lt;/script&gt; &amp; &lt;img src=x"));
    tags(&page);
}

#[test]
fn what_changed_is_told_rule_by_rule() {
    let (old, new) = (version("tarn-8", "3.0.0"), version("tarn-8", "3.1.0"));
    assert!(changes(&new, &new).is_empty());
    let forth = changes(&old, &new);
    let back = changes(&new, &old);
    assert_eq!(
        (forth.added.len(), forth.removed.len(), forth.changed.len()),
        (back.removed.len(), back.added.len(), back.changed.len())
    );
    let of = |all: &rimegauge::report::Changes, id: &str, what: &str| {
        all.changed
            .iter()
            .find(|one| one.rule.as_deref() == Some(id))
            .and_then(|one| one.differs.iter().find(|differs| differs.what == what))
            .map(|differs| (differs.was.clone(), differs.is.clone()))
    };
    let text = |text: &str| Some(text.to_owned());
    assert_eq!(
        of(&forth, "edge_angle", "limit"),
        Some((
            text("from 80 deg to 110 deg"),
            text("from 80 deg to 115 deg")
        ))
    );
    assert_eq!(
        of(&back, "edge_angle", "limit"),
        Some((
            text("from 80 deg to 115 deg"),
            text("from 80 deg to 110 deg")
        ))
    );
    assert_eq!(
        of(&forth, "hull_mass", "limit for strip plank"),
        Some((None, text("at least 24.0 kg")))
    );
    assert!(of(&forth, "cloth", "exemption").is_some());
    // What a rule asks is told where more than its limits differ, and only there.
    assert_eq!(of(&forth, "edge_angle", "what is asked"), None);
    let moved = with(&new, "zone: contact_part", "zone: middle_part");
    assert!(of(&changes(&new, &moved), "edge_angle", "what is asked").is_some());
    let added = with(&new, "id: limit_bands\n", "id: bands\n");
    let all = changes(&new, &added);
    assert_eq!((all.added.len(), all.removed.len()), (1, 1));
    let dropped = with(&new, "  - id: i_2026_2\n", "  - id: i_2026_9\n");
    let all = changes(&new, &dropped);
    assert!(all.beside.iter().any(|one| {
        one.differs
            .iter()
            .any(|differs| differs.what.starts_with("i_2026_2, dropped out"))
    }));
    let finer = with(
        &new,
        "micrometer: { expanded_uncertainty: 0.02 mm }",
        "micrometer: { expanded_uncertainty: 0.01 mm }",
    );
    let all = changes(&new, &finer);
    assert!(all.changed.is_empty());
    assert_eq!(
        all.beside[0].differs[0].what,
        "steel thickness of the runner"
    );
}

#[test]
fn a_page_says_what_it_could_not_compare() {
    let rules = version("tarn-8", "3.1.0");
    let missing = rules_page(&rules, Replaced::Missing);
    assert!(missing.contains("Version 3.0.0 was not found"));
    let faulty = rules_page(&rules, Replaced::Faulty);
    assert!(faulty.contains("Version 3.0.0 is there and has faults"));
    let found = rules_page(&rules, Replaced::Found(&version("tarn-8", "3.0.0")));
    assert!(found.contains("This is no proof of what becomes legal or illegal."));
}

/// What is declared of words is told with the name of whoever says it, and is never called proved.
#[test]
fn what_changed_words_do_is_told_as_a_claim() {
    let new = version("tarn-8", "4.0.0");
    for replaced in [
        Replaced::Missing,
        Replaced::Found(&version("tarn-8", "3.1.0")),
    ] {
        let page = rules_page(&new, replaced);
        assert!(page.contains("This is claimed, not proved."));
        assert!(page.contains(
            "body_depth: nothing becomes legal or illegal. So says Technical Committee: \
             The text does not name plates, which the rule leaves out. A plate has no body."
        ));
    }
    let first = version("tarn-8", "2.4.0");
    assert!(!rules_page(&first, Replaced::Missing).contains("claimed, not proved"));
}
