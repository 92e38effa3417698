//! Statements of the versions that are shipped: decided, and without a meeting of rules.

use std::sync::Arc;

use super::super::requirement::{Proved, requirement};
use crate::rules::RulesFile;

fn shipped(path: &str) -> Arc<RulesFile> {
    let at = format!("{}/rules/{path}.yaml", env!("CARGO_MANIFEST_DIR"));
    let bytes = std::fs::read(&at).unwrap();
    let loaded = crate::rules::load(path, &bytes);
    Arc::new(loaded.map_err(|faults| format!("{faults:?}")).unwrap())
}

/// Of the versions that are shipped nothing is left open.
#[test]
fn shipped_versions_are_decided() {
    let pairs = [
        ("tarn-8/2.4.0", "tarn-8/3.0.0"),
        ("tarn-8/3.0.0", "tarn-8/3.1.0"),
        ("tarn-8/3.1.0", "tarn-8/4.0.0"),
        ("ghyll-2/1.0.0", "ghyll-2/2.0.0"),
    ];
    for (old, new) in pairs {
        let (old, new) = (shipped(old), shipped(new));
        let found = requirement(&old, &new);
        for one in [&found.becomes_illegal, &found.becomes_legal] {
            assert!(!matches!(one, Proved::Unknown(_)), "{one:?}");
        }
        let turned = requirement(&new, &old);
        assert_eq!(
            found.becomes_illegal == Proved::None,
            turned.becomes_legal == Proved::None
        );
        assert_eq!(
            found.becomes_legal == Proved::None,
            turned.becomes_illegal == Proved::None
        );
        let same = requirement(&old, &old);
        assert_eq!(
            (same.becomes_illegal, same.becomes_legal),
            (Proved::None, Proved::None)
        );
    }
}

/// Nothing is tighter in 3.1.0, as its head says.
#[test]
fn a_relaxed_version_outlaws_nothing() {
    let found = requirement(&shipped("tarn-8/3.0.0"), &shipped("tarn-8/3.1.0"));
    assert_eq!(found.becomes_illegal, Proved::None);
    assert!(matches!(found.becomes_legal, Proved::Some(_)));
}

/// Lint finds nothing between the rules of the versions that are shipped.
#[test]
fn shipped_rules_do_not_meet() {
    for path in [
        "tarn-8/2.4.0",
        "tarn-8/3.0.0",
        "tarn-8/3.1.0",
        "tarn-8/4.0.0",
        "ghyll-2/1.0.0",
        "ghyll-2/2.0.0",
    ] {
        assert_eq!(super::super::between(&shipped(path)), Vec::new(), "{path}");
    }
}
