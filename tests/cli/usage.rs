use super::run;

#[test]
fn help_has_an_example_for_every_command() {
    let commands: [&[&str]; 10] = [
        &[],
        &["check"],
        &["certify"],
        &["rules", "list"],
        &["rules", "show"],
        &["rules", "lint"],
        &["rules", "cases"],
        &["rules", "schema"],
        &["completions"],
        &["man"],
    ];
    for command in commands {
        let ran = run(&[command, &["--help"]].concat());
        ran.exits(0).says("Example").says("  rimegauge ");
        for line in ran.out.lines().filter(|line| !line.contains("rimegauge ")) {
            assert!(line.chars().count() <= 80, "{command:?}: {line}");
        }
    }
}

#[test]
fn a_command_line_that_can_not_be_read_is_told_in_the_format_asked_for() {
    run(&["check"])
        .exits(2)
        .tells("check needs a record")
        .tells("- for standard input");
    run(&["chek"]).exits(2).tells("'chek'").tells("'check'");
    run(&["check", "x.yaml", "--on", "2026-02-30"])
        .exits(2)
        .tells("2026-02 has no day 30");
    run(&["check", "x.yaml", "--on", "2026-11"])
        .exits(2)
        .tells("is not one day");
    run(&["rules", "list", "--format", "junit"])
        .exits(2)
        .tells("only check prints JUnit");
    run(&["certify", "x.yaml"]).exits(2).tells("--out");
    for arguments in [
        &["check", "--bogus", "--format", "json"][..],
        &["check", "--format=json"],
        &["check", "nope.yaml", "--format", "json"],
    ] {
        let ran = run(arguments);
        let json = ran.exits(2).json();
        assert_eq!(json["format"], "rimegauge-diagnostics/1");
        assert!(
            !json["diagnostics"][0]["message"]
                .as_str()
                .unwrap()
                .is_empty()
        );
        assert!(ran.out.starts_with("{\"format\":"), "{}", ran.out);
    }
}

#[test]
fn completions_and_manual_pages_are_printed() {
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        run(&["completions", shell]).exits(0).says("certify");
    }
    run(&["man"]).exits(0).says(".TH RIMEGAUGE 1");
    run(&["man", "rules", "show"])
        .exits(0)
        .says("rimegauge\\-rules\\-show");
    run(&["man", "chek"])
        .exits(2)
        .tells("did you mean `check`?");
    run(&["--version"])
        .exits(0)
        .says(concat!("rimegauge ", env!("CARGO_PKG_VERSION")));
}

#[test]
fn nothing_is_promised_that_is_not_there() {
    for absent in [
        "verify",
        "worksheet",
        "enter",
        "import",
        "compare",
        "desk",
        "book",
    ] {
        run(&[absent]).exits(2);
    }
}
