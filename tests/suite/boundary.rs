//! Cases made from the shipped rules: what the check says is what the rules say.

use rimegauge::boundary;
use rimegauge::check::cases::{self, Coverage};
use rimegauge::diagnostic::narrate;
use rimegauge::text;

use super::cases::plans;

/// What a rule's own words ask is what the check answers, for every rule of every version that cases can be made for.
#[test]
fn generated_cases_come_out_as_the_rules_say() {
    for plan in plans() {
        let rules = plan.rules();
        let generated = boundary::generate(rules);
        if let Some(folder) = std::env::var_os("RIMEGAUGE_KEEP") {
            let name = format!("{}-{}.yaml", rules.class.text, rules.version);
            std::fs::write(std::path::Path::new(&folder).join(name), &generated.text).unwrap();
        }
        let source = text::decode("generated.yaml", generated.text.as_bytes()).unwrap();
        let node = text::parse_yaml(&source).unwrap();
        let file = cases::load(&source, &node).unwrap_or_else(|found| panic!("{}", narrate(&found)));
        assert_eq!(file.cases.len(), generated.cases());
        let mut coverage = Coverage::default();
        let results = cases::run(&source, &file, &plan, &mut coverage)
            .unwrap_or_else(|found| panic!("{}", narrate(&found)));
        let wrong: Vec<_> = results.into_iter().flat_map(|result| result.wrong).collect();
        let left_out: Vec<String> = generated
            .rules
            .iter()
            .flat_map(|rule| rule.left_out.iter().map(|why| format!("{}: {why}", rule.id)))
            .collect();
        let covered = coverage.of(rules);
        println!(
            "{} {}: {} cases for {} of {} rules, {} of {} touched, {} wrong\n{}\n{}",
            rules.class.text,
            rules.version,
            generated.cases(),
            generated.with_cases(),
            generated.rules.len(),
            covered.touched,
            covered.all,
            wrong.len(),
            left_out.join("\n"),
            covered.missing.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"),
        );
        assert!(wrong.is_empty(), "{}", narrate(&wrong));
    }
}
