//! One measurement at a time: what is printed, the JSON of the contract, and what is refused.

use serde_json::Value;

use super::{folder, root, run};

fn number(value: &Value) -> f64 {
    value["number"].as_str().unwrap().parse().unwrap()
}

fn table(text: &str) -> (tempfile::TempDir, String) {
    let folder = folder();
    let path = folder.path().join("readings.csv");
    std::fs::write(&path, text).unwrap();
    let path = path.display().to_string();
    (folder, path)
}

#[test]
fn a_mean_shows_its_formula_and_where_it_comes_from() {
    run(&["reckon", "mean", "--readings", "4.76 4.77 4.75 mm"])
        .exits(0)
        .says("Mean of 3 readings: 4.760 ± 0.025 mm")
        .says("k = 4.3 for 95 %, 2 degrees of freedom")
        .says("= (4.76 + 4.77 + 4.75)/3 mm")
        .says("Source: JCGM 100:2008");
}

/// The runner thickness budget of check-values 1 (constructed there): 6.352, 6.351, 6.354 mm, instrument
/// u 0.001 mm, resolution 0.001 mm: mean 6.3523333 mm, u_c 0.00136423 mm.
#[test]
fn a_mean_for_programs() {
    let json = run(&[
        "reckon",
        "mean",
        "--readings",
        "6.352 6.351 6.354 mm",
        "--calibration",
        "0.002 mm 2",
        "--format",
        "json",
    ])
    .json();
    assert!((number(&json["result"]) - 6.352_333_333).abs() < 1e-9);
    assert_eq!(json["result"]["exact"], false);
    assert!((number(&json["standard_uncertainty"]) - 0.001_333_3).abs() < 1e-6);
    for key in [
        "expanded_uncertainty",
        "coverage_factor",
        "effective_degrees_of_freedom",
        "steps",
    ] {
        assert!(!json[key].is_null(), "{key}");
    }
    assert!(json["formula"].as_str().unwrap().contains("/3 mm"));
}

/// Common practice, no source: an edge of 9 + 8 in at 0.008 in has a flat of 17 in.
#[test]
fn a_flat_from_shims() {
    let json = run(&[
        "reckon",
        "flat",
        "--shims",
        "0.008 in: 9 in, 8 in",
        "--format",
        "json",
    ])
    .json();
    assert_eq!(json["result"]["number"], "17");
    assert_eq!(json["result"]["exact"], true);
    assert_eq!(json["forward"]["number"], "9");
    assert_eq!(json["aft"]["number"], "8");
    assert!(json["radius"]["number"].is_string());
    assert!(json.get("hollow").is_some());
}

#[test]
fn a_flat_that_the_readings_do_not_reach_is_no_number() {
    let (_folder, path) = table("x [in],y [in]\n-12,0.007\n-6,0.002\n0,0\n6,0.002\n12,0.007\n");
    let ran = run(&["reckon", "flat", "--stations", &path, "--gap", "0.008 in"]);
    ran.exits(0).says("Flat at 0.008 in: at least 24");
    let json = run(&[
        "reckon",
        "flat",
        "--stations",
        &path,
        "--gap",
        "0.008 in",
        "--format",
        "json",
    ])
    .json();
    assert_eq!(json["result"]["bound"], "at_least");
}

/// The seven points with the published thickness 1.1 (see tests/data/straightness-profiles.csv).
#[test]
fn straightness_with_its_picture() {
    let (folder, path) =
        table("x [mm],y [mm]\n0.5,0.5\n1.0,1.5\n1.5,1.0\n2.0,1.5\n2.5,1.0\n3.0,2.0\n3.5,2.5\n");
    let plot = folder.path().join("zone.svg");
    let plot_name = plot.display().to_string();
    let json = run(&[
        "reckon",
        "straightness",
        "--stations",
        &path,
        "--plot",
        &plot_name,
        "--format",
        "json",
    ])
    .json();
    assert_eq!(json["result"]["number"], "1.1");
    assert_eq!(json["minimum_zone"]["number"], "1.1");
    assert_eq!(json["least_squares"]["number"], "1.25");
    assert_eq!(json["end_points"]["number"], "1.5");
    assert_eq!(json["contacts"].as_array().unwrap().len(), 3);
    let svg = std::fs::read_to_string(plot).unwrap();
    assert!(svg.contains("minimum zone 1.1 mm") && svg.matches("touches at").count() == 3);
    run(&["reckon", "straightness", "--stations", &path])
        .exits(0)
        .says("One flank alone");
}

#[test]
fn both_flanks_cancel_the_bar() {
    let (_folder, path) = table(
        "x [mm],port [mm],starboard [mm]\n-400,0.00,0.00\n-200,0.03,-0.02\n0,0.05,-0.05\n200,0.04,-0.03\n400,0.00,0.00\n",
    );
    let json = run(&[
        "reckon",
        "straightness",
        "--stations",
        &path,
        "--format",
        "json",
    ])
    .json();
    assert_eq!(json["result"]["number"], "0.05");
    assert_eq!(json["flanks"], 2);
}

/// Simpson's rule is exact for a parabolic round: 6.336 m2 (check-values 11).
#[test]
fn areas() {
    let (_folder, path) = table("width [m]\n2.4\n1.935\n1.38\n0.735\n0\n");
    let json = run(&[
        "reckon",
        "area",
        "--outline",
        &path,
        "--spacing",
        "1.2 m",
        "--format",
        "json",
    ])
    .json();
    assert_eq!(json["result"]["number"], "6.336");
    assert_eq!(json["result"]["unit"], "m2");
    let (_folder, path) = table("x [mm],y [mm]\n3,4\n5,11\n12,8\n9,5\n5,6\n");
    let json = run(&["reckon", "area", "--outline", &path, "--format", "json"]).json();
    assert_eq!(json["result"]["number"], "30");
}

#[test]
fn numbers_of_marks() {
    run(&["reckon", "mark", "--number", "H26-0117"])
        .exits(0)
        .says("On the mark: H26-0117-0");
    run(&["reckon", "mark", "--printed", "h26 0117 0"]).exits(0);
    run(&["reckon", "mark", "--printed", "H26-0171-0"])
        .exits(1)
        .says("does not fit");
}

#[test]
fn what_cannot_be_reckoned_is_underlined() {
    let refused = |args: &[&str], says: &str| {
        let mut all = vec!["reckon"];
        all.extend(args);
        run(&all).exits(2).tells(says);
    };
    refused(&["mean", "--readings", ""], "nothing");
    refused(
        &["mean", "--readings", "4.76 mm", "--resolution", "0.01 kg"],
        "length",
    );
    refused(
        &["mean", "--readings", "4.76 mm", "--resolution", "0 mm"],
        "above zero",
    );
    refused(
        &["mean", "--readings", "4.76 mm", "--calibration", "0.002 mm"],
        "without its k",
    );
    refused(
        &["mean", "--readings", "4.76 mm", "--coverage", "195 %"],
        "between 0 % and 100 %",
    );
    refused(
        &["flat", "--shims", "0.008 in 9 in 8 in"],
        "does not say where",
    );
    refused(&["flat", "--shims", "0.008 in: 9 in, -8 in"], "below zero");
    refused(&["flat", "--shims", "-0.1 mm: 90 mm, 80 mm"], "above 0 mm");
    let flat = |gap: &str, says: &str| {
        refused(
            &["flat", "--shims", "0.1 mm: 100 mm, 90 mm", "--gap", gap],
            says,
        );
    };
    flat("-1 mm", "above zero");
    flat("5000 mm", "no leaf is near");
    refused(
        &["mark", "--number", "T8/41"],
        "neither a letter nor a digit",
    );
    let stations = |text: &str, says: &str| {
        let (_folder, path) = table(text);
        refused(&["straightness", "--stations", &path], says);
    };
    stations("", "empty");
    stations("x [mm],y [mm]\n", "0 stations");
    stations("x [mm],y [mm]\n0,0\n1,1\n", "2 stations");
    stations("x [mm],y [mm]\n0,0\n1,1\n1,2\n", "two rows are at 1 mm");
    stations("x [mm],y [mm]\n0,0\n1,1 in\n2,2\n", "unit of its own");
    stations("x [mm],y [kg]\n0,0\n1,1\n2,2\n", "mass");
    stations("x,y\n0,0\n1,1\n2,2\n", "no unit");
    stations("x [mm],z [mm]\n0,0\n1,1\n2,2\n", "no column");
    stations("x [mm],y [mm]\n0,0,5\n1,1\n2,2\n", "3 cells");
    stations("x [mm],y [mm]\n0,\n1,one\n2,2\n", "nothing under");
    let (_folder, path) = table("x [mm],y [mm]\n0,0\n2,2\n2,0\n0,2\n");
    refused(&["area", "--outline", &path], "crosses");
    run(&["reckon", "straightness", "--stations", "nowhere.csv"])
        .exits(2)
        .tells("does not exist");
    run(&["reckon", "mark", "--number", "1", "--plot", "x.svg"]).exits(2);
}

#[test]
fn a_table_may_be_out_of_order_and_in_inches() {
    let (_folder, path) = table("x [in],y [in]\n2,0\n0,0\n1,0.003\n");
    run(&["reckon", "straightness", "--stations", &path])
        .exits(0)
        .says("not in order")
        .says("0.003");
}

#[test]
fn every_width_of_terminal_is_kept() {
    let (_folder, path) = table("x [mm],y [mm]\n-300,0.4\n-150,0.1\n0,0\n150,0.1\n300,0.4\n");
    let ran = run(&["reckon", "flat", "--stations", &path, "--gap", "0.2 mm"]);
    for line in ran.out.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
}

/// Where scatter makes the zone, the trials say so (JCGM 101:2008, 8.1), and the interval is turned back.
#[test]
fn a_zone_of_noise_is_not_trusted() {
    let (_folder, path) =
        table("x [mm],y [mm]\n-400,0.00\n-200,0.01\n0,0.00\n200,0.01\n400,0.00\n");
    let json = run(&[
        "reckon",
        "straightness",
        "--stations",
        &path,
        "--format",
        "json",
    ])
    .json();
    let trials = &json["monte_carlo"];
    assert_eq!(trials["linear_result_trusted"], false);
    assert!(trials["bias"].as_f64().unwrap() > 0.001);
    let low = trials["turned_interval"][0].as_f64().unwrap();
    assert!((0.0..0.01).contains(&low), "{trials}");
    // Twice the same, to the last bit.
    let again = run(&[
        "reckon",
        "straightness",
        "--stations",
        &path,
        "--format",
        "json",
    ])
    .json();
    assert_eq!(json, again);
}

#[test]
fn a_wide_zone_and_leaves_are_described_well_by_the_linear_law() {
    let json = run(&[
        "reckon",
        "flat",
        "--shims",
        "0.008 in: 9.00 in, 8.00 in",
        "--resolution",
        "0.0001 in",
        "--repeatability",
        "0.0002 in",
        "--format",
        "json",
    ])
    .json();
    assert_eq!(
        json["monte_carlo"]["linear_result_trusted"], true,
        "{}",
        json["monte_carlo"]
    );
}

#[test]
fn a_budget_names_its_sources() {
    run(&[
        "reckon",
        "mean",
        "--readings",
        "4.76 4.77 4.75 mm",
        "--max-error",
        "0.004 mm",
        "--budget",
    ])
    .exits(0)
    .says("maximum permissible error of the instrument: half width 0.004 mm")
    .says("u_c = ");
    let json = run(&[
        "reckon",
        "expansion",
        "--reading",
        "914.4 mm",
        "--tape",
        "steel",
        "--item",
        "aluminium",
        "--temperature",
        "-20 degC",
        "--budget",
        "--format",
        "json",
    ])
    .json();
    let lines = json["budget"].as_array().unwrap();
    assert_eq!(lines.len(), 4, "{lines:?}");
    assert!(!json["budget_sum"].is_null());
    let none = run(&[
        "reckon",
        "mean",
        "--readings",
        "4.76 mm",
        "--format",
        "json",
    ])
    .json();
    assert!(none.get("budget").is_none());
}

/// Bevels by definition; sine bar: sin 40° = 0.6428; pins (dovetail over pins) and rollers (vee with radii 3 and
/// 6 mm, centres 7.242640687 mm apart in height at 90 degrees) as in check-values 6; widths: 2·arctan.
#[test]
fn angles_in_every_form() {
    let of = |args: &[&str]| {
        let mut all = vec!["reckon", "angle", "--format", "json"];
        all.extend(args);
        run(&all).json()
    };
    let near = |json: &Value, expected: f64, within: f64| {
        let found = number(&json["result"]);
        assert!(
            (found - expected).abs() < within,
            "{found} is not {expected}"
        );
        assert_eq!(json["result"]["unit"], "deg");
    };
    let bevels = of(&["--bevels", "40 deg, 41 deg"]);
    assert_eq!(bevels["result"]["number"], "81");
    assert_eq!(bevels["bevel_difference"]["number"], "1");
    near(&of(&["--sine", "100 mm, 64.27876097 mm"]), 40.0, 1e-6);
    let pins = [
        "--pins",
        "3 mm: 10.242640687 mm",
        "--pins",
        "6 mm: 20.485281374 mm",
    ];
    near(&of(&pins), 90.0, 1e-6);
    let rollers = [
        "--rollers",
        "6 mm: 7.242640687 mm",
        "--rollers",
        "12 mm: 14.485281374 mm",
    ];
    near(&of(&rollers), 90.0, 1e-6);
    let widths = ["--widths", "1 mm: 2 mm", "--widths", "3 mm: 6 mm"];
    near(&of(&widths), 90.0, 1e-9);
    let section = root()
        .join("forms/readings/s1-section.csv")
        .display()
        .to_string();
    let section = of(&["--section", &section, "--edge-radius", "0.1 mm"]);
    near(&section, 80.78, 0.01);
    assert!(section["apex_offset"]["number"].is_string());
}

#[test]
fn angles_that_cannot_be() {
    let refused = |args: &[&str], says: &str| {
        let mut all = vec!["reckon", "angle"];
        all.extend(args);
        run(&all).exits(2).tells(says);
    };
    refused(&["--bevels", "95 deg, 95 deg"], "below 180 deg");
    refused(&["--bevels", "40 deg"], "two are asked");
    refused(&["--bevels", "40 mm, 41 mm"], "angle");
    refused(&["--sine", "100 mm, 164 mm"], "sine above 1");
    refused(
        &["--pins", "3 mm: 1 mm", "--pins", "6 mm: 2 mm"],
        "no more than the two pins",
    );
    refused(&["--pins", "3 mm: 10 mm"], "two pins");
    refused(
        &["--bevels", "40 deg, 41 deg", "--sine", "1 mm, 1 mm"],
        "cannot be used with",
    );
    let (_folder, path) =
        table("face,x [mm],y [mm]\nport,-1,1\nprt,-2,2\nstarboard,1,1\nstarboard,2,2\n");
    refused(&["--section", &path], "`prt` is no face");
    let (_folder, path) = table("face,x [mm],y [mm]\nport,-1,1\nstarboard,1,1\nstarboard,2,2\n");
    refused(&["--section", &path], "port");
    refused(&[], "required");
}
