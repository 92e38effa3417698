//! The shipped rules: they load, they lint clean, every case comes out as it says, and nothing is untouched.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use rimegauge::check::Plan;
use rimegauge::check::cases::{self, Coverage};
use rimegauge::diagnostic::{Diagnostic, narrate};
use rimegauge::rules;
use rimegauge::text;

pub(super) fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).to_path_buf()
}

pub(super) fn files(folder: &str, ending: &str) -> Vec<PathBuf> {
    let mut found: Vec<PathBuf> = fs::read_dir(root().join(folder))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|one| one == ending))
        .collect();
    found.sort();
    found
}

pub(super) fn name_of(path: &Path) -> String {
    path.strip_prefix(root())
        .unwrap()
        .to_string_lossy()
        .into_owned()
}

/// The classes that are shipped, in the order of their names.
pub(super) fn classes() -> Vec<String> {
    let mut found: Vec<String> = fs::read_dir(root().join("rules"))
        .unwrap()
        .map(|entry| entry.unwrap())
        .filter(|entry| entry.path().is_dir())
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .collect();
    found.sort();
    found
}

/// The versions of a class, each as a plan.
pub(super) fn plans_of(class: &str) -> Vec<Plan> {
    files(&format!("rules/{class}"), "yaml")
        .iter()
        .map(|path| {
            let rules = rules::load(&name_of(path), &fs::read(path).unwrap());
            Plan::compile(Arc::new(
                rules.unwrap_or_else(|found| panic!("{}", narrate(&found))),
            ))
        })
        .collect()
}

/// All versions of all classes.
pub(super) fn plans() -> Vec<Plan> {
    let classes = classes();
    classes.iter().flat_map(|class| plans_of(class)).collect()
}

#[test]
fn the_shipped_rules_lint_clean() {
    for plan in plans() {
        let found = rules::lint(plan.rules());
        assert!(found.is_empty(), "{}", narrate(&found));
    }
}

#[test]
fn every_case_comes_out_as_it_says_and_every_rule_is_tried() {
    let plans = plans();
    assert!(plans.len() >= 3);
    let mut wrong: Vec<Diagnostic> = Vec::new();
    let mut count = 0;
    for plan in &plans {
        let mut coverage = Coverage::default();
        let class = &plan.rules().class.text;
        for path in files(&format!("rules/{class}/cases"), "yaml") {
            let source = text::decode(&name_of(&path), &fs::read(&path).unwrap()).unwrap();
            let node = text::parse_yaml(&source).unwrap();
            let file =
                cases::load(&source, &node).unwrap_or_else(|found| panic!("{}", narrate(&found)));
            let results = cases::run(&source, &file, plan, &mut coverage)
                .unwrap_or_else(|found| panic!("{}", narrate(&found)));
            count += results.len();
            wrong.extend(results.into_iter().flat_map(|result| result.wrong));
        }
        let covered = coverage.of(plan.rules());
        let missing: Vec<String> = covered.missing.iter().map(ToString::to_string).collect();
        assert_eq!(
            missing,
            Vec::<String>::new(),
            "untouched under {class} {}",
            plan.rules().version
        );
        assert_eq!(covered.touched, covered.all);
    }
    assert!(
        wrong.is_empty(),
        "{} of {count} cases are wrong\n{}",
        wrong.len(),
        narrate(&wrong)
    );
    assert!(count > 1000, "only {count} cases ran");
}
