//! Cases made from the shipped rules: what the check says is what the rules say.

use rimegauge::boundary;
use rimegauge::check::cases::{self, Coverage};
use rimegauge::diagnostic::narrate;
use rimegauge::text;

use super::cases::plans;

/// By version, what no case could be made of. The list holds what is not yet known how to try, and nothing else.
const LEFT_OUT: &[(&str, &str)] = &[
    (
        "ghyll-2 2.0.0",
        "carbon_edge: no numbers were found for “carbon_edge: at least 85 deg: just outside”",
    ),
    (
        "ghyll-2 2.0.0",
        "carbon_edge: no numbers were found for “carbon_edge: at least 85 deg: on it”",
    ),
    (
        "ghyll-2 2.0.0",
        "carbon_edge: no numbers were found for “carbon_edge: at least 85 deg: just inside”",
    ),
];

/// By version, what the cases that are made do not touch.
const UNTOUCHED: &[(&str, &str)] = &[
    ("ghyll-2 2.0.0", "carbon_edge: conforms"),
    ("ghyll-2 2.0.0", "carbon_edge: does not conform"),
    ("ghyll-2 2.0.0", "carbon_edge: at least 85 deg met"),
    ("ghyll-2 2.0.0", "carbon_edge: at least 85 deg not met"),
];

/// What a rule's own words ask is what the check answers, for every rule of every version that cases can be made for.
#[test]
fn generated_cases_come_out_as_the_rules_say() {
    for plan in plans() {
        let rules = plan.rules();
        let generated = boundary::generate(rules);
        let source = text::decode("generated.yaml", generated.text.as_bytes()).unwrap();
        let node = text::parse_yaml(&source).unwrap();
        let file =
            cases::load(&source, &node).unwrap_or_else(|found| panic!("{}", narrate(&found)));
        assert_eq!(file.cases.len(), generated.cases());
        let mut coverage = Coverage::default();
        let results = cases::run(&source, &file, &plan, &mut coverage)
            .unwrap_or_else(|found| panic!("{}", narrate(&found)));
        let wrong: Vec<_> = results
            .into_iter()
            .flat_map(|result| result.wrong)
            .collect();
        assert!(wrong.is_empty(), "{}", narrate(&wrong));
        let left_out: Vec<String> = generated
            .rules
            .iter()
            .flat_map(|rule| {
                rule.left_out
                    .iter()
                    .map(|why| format!("{}: {why}", rule.id))
            })
            .collect();
        let name = format!("{} {}", rules.class.text, rules.version);
        let known: Vec<&str> = LEFT_OUT
            .iter()
            .filter(|(version, _)| *version == name)
            .map(|(_, what)| *what)
            .collect();
        let tried = generated.with_cases();
        println!(
            "{name}: {} cases for {tried} of {} rules",
            generated.cases(),
            generated.rules.len()
        );
        let missing: Vec<String> = coverage
            .of(rules)
            .missing
            .iter()
            .map(ToString::to_string)
            .collect();
        let untouched: Vec<&str> = UNTOUCHED
            .iter()
            .filter(|(version, _)| *version == name)
            .map(|(_, what)| *what)
            .collect();
        assert_eq!(
            (left_out, missing),
            (owned(&known), owned(&untouched)),
            "{name}"
        );
    }
}

fn owned(list: &[&str]) -> Vec<String> {
    list.iter().map(|one| (*one).to_owned()).collect()
}
