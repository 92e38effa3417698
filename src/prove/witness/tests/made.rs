//! Boats made by hand: what a record says of each number is exactly the number.

use std::sync::Arc;

use crate::check::{Context, FoundValue, Outcome, Plan, cases::id_of};
use crate::diagnostic::narrate;
use crate::prove::witness::{CaseOf, Complete, complete};
use crate::prove::{
    Boat, BoatItem, Common, CommonKind, Formula, HoldingIx, MeasureIx, PartIx, Poly, Side, Sort,
    Terms, TraitIx, Value, Values, Var, What, Whose,
};
use crate::quantity::{Date, Exact, Quantity};
use crate::rules::{self, RulesFile, Stage};
use crate::text::{decode, parse_yaml};

const NEW: &str = include_str!("small.yaml");

fn new_rules() -> Arc<RulesFile> {
    let found = rules::load("2.0.0.yaml", NEW.as_bytes());
    Arc::new(found.unwrap_or_else(|found| panic!("{}", narrate(&found))))
}

/// The same under old names: a measure and a choice are called otherwise, one choice is not there.
fn old_rules() -> Arc<RulesFile> {
    let text = NEW
        .replace(
            "renamed: { runner.thickness: steel_thickness, runner.construction.plain: plate }",
            "renamed: {}",
        )
        .replace("version: 2.0.0", "version: 1.0.0")
        .replace("in_force_from: 2026-11-01", "in_force_from: 2025-11-01")
        .replace("steel_thickness", "thickness")
        .replace("[plate, insert, tee]", "[plain, insert]")
        .replace("plate: { at_least: 6 mm }", "plain: { at_least: 6 mm }")
        .replace(", tee: { at_least: 4 mm }", "")
        .replace(
            "at_least: 5, spaced_at_most: 150 mm",
            "at_least: 6, spaced_at_most: 100 mm",
        )
        .replace("at_least: 3 }, zone: middle", "at_least: 4 }, zone: middle");
    let found = rules::load("1.0.0.yaml", text.as_bytes());
    Arc::new(found.unwrap_or_else(|found| panic!("{}", narrate(&found))))
}

fn number(text: &str) -> Exact {
    Quantity::parse(text).unwrap().value
}

fn any() -> Sort {
    super::boats::any()
}

/// A boat that grows.
struct Yard<'a> {
    common: &'a Common<'a>,
    terms: Terms,
    boat: Boat,
}

impl<'a> Yard<'a> {
    fn new(common: &'a Common<'a>) -> Yard<'a> {
        let boat = Boat {
            stage: Stage::Certification,
            level: None,
            day: Date::constant(2026, 11, 21),
            unlisted: false,
            items: Vec::new(),
        };
        let mut yard = Yard {
            common,
            terms: Terms::default(),
            boat,
        };
        yard.boat.items.push(BoatItem {
            part: PartIx(0),
            holding: None,
            roles: Vec::new(),
            values: Values::new(),
            places: Vec::new(),
        });
        yard
    }

    fn item(&mut self, key: &str) -> usize {
        let at = self.common.holdings.iter().position(|one| one.key == key);
        let at = at.unwrap();
        self.boat.items.push(BoatItem {
            part: self.common.holdings[at].part,
            holding: Some(HoldingIx(u16::try_from(at).unwrap())),
            roles: Vec::new(),
            values: Values::new(),
            places: Vec::new(),
        });
        self.boat.items.len() - 1
    }

    fn measure(&self, item: usize, name: &str) -> MeasureIx {
        let part = self.common.part(self.boat.items[item].part).unwrap();
        let at = part.measures.iter().position(|one| one.name == name);
        MeasureIx(u16::try_from(at.unwrap()).unwrap())
    }

    fn trait_ix(&self, item: usize, name: &str) -> TraitIx {
        let part = self.common.part(self.boat.items[item].part).unwrap();
        let at = part.traits.iter().position(|one| one.name == name);
        TraitIx(u16::try_from(at.unwrap()).unwrap())
    }

    fn set(&mut self, item: usize, what: What, value: Value) {
        let sort = match &value {
            Value::Number(_) => any(),
            Value::Day(_) => Sort::Day,
            Value::Truth(_) => Sort::Truth,
            Value::Choice(_) => Sort::Choice(4),
        };
        let term = self
            .terms
            .intern(self.boat.items[item].part, what, sort, false);
        self.boat.items[item].values.insert(term, value);
    }

    fn number(&mut self, item: usize, what: What, text: &str) {
        self.set(item, what, Value::Number(number(text)));
    }

    fn choose(&mut self, item: usize, name: &str, word: &str) {
        let slot = self.trait_ix(item, name);
        let part = self.common.part(self.boat.items[item].part).unwrap();
        let CommonKind::Choice(choices) = &part.traits[slot.index()].kind else {
            panic!("{name} is no choice");
        };
        let at = choices.iter().position(|one| one.name == word);
        let at = u16::try_from(at.unwrap_or(choices.len())).unwrap();
        self.set(item, What::Trait(slot), Value::Choice(at));
    }

    /// A polynomial that is one placed measure.
    fn placed(&mut self, item: usize, name: &str) -> Poly {
        let what = What::Measure(self.measure(item, name));
        let part = self.boat.items[item].part;
        let low = Some((Exact::ZERO, false));
        let sort = Sort::Number { low, high: None };
        let term = self.terms.intern(part, what, sort, true);
        Poly::var(Var {
            whose: Whose::Own,
            term,
        })
    }

    fn place(&mut self, item: usize, at: &str, edge: Option<&str>, readings: &[(What, &str)]) {
        let part = self.boat.items[item].part;
        let mut values = Values::new();
        let told = [(What::PlaceAt, Some(at)), (What::PlaceFromEdge, edge)];
        let told = told
            .into_iter()
            .filter_map(|(what, text)| Some((what, text?)));
        for (what, text) in told.chain(readings.iter().cloned()) {
            let low = Some((Exact::ZERO, false));
            let sort = Sort::Number { low, high: None };
            let term = self.terms.intern(part, what, sort, true);
            values.insert(term, Value::Number(number(text)));
        }
        self.boat.items[item].places.push(values);
    }

    fn complete(&self) -> Result<Complete<'_>, String> {
        complete(&self.boat, self.common, &self.terms, &|_, _| true)
    }
}

/// Values of a rule over all findings, with their outcomes.
fn values(text: &str, rules: &Arc<RulesFile>, id: &str) -> Vec<(Option<Exact>, Outcome)> {
    let source = decode("made.yaml", text.as_bytes()).unwrap();
    let node = parse_yaml(&source).unwrap_or_else(|found| panic!("{found:?}\n{text}"));
    let record = crate::record::load(&source, &node, &rules.vocabulary);
    let record = record.unwrap_or_else(|found| panic!("{}\n{text}", narrate(&found)));
    let plan = Plan::compile(Arc::clone(rules));
    let context = Context {
        purpose: Stage::Certification,
        day: record.measured.day.unwrap(),
        level: None,
    };
    let found = plan.check(&record, &context).findings.into_iter();
    let own = found.filter(|one| id_of(rules, one.rule) == id);
    own.map(|one| {
        let value = match one.value {
            Some(FoundValue::Number { value, .. }) => value.as_exact().cloned(),
            _ => None,
        };
        (value, one.outcome)
    })
    .collect()
}

fn comes_to(text: &str, rules: &Arc<RulesFile>, id: &str, wanted: &str) {
    let found = values(text, rules, id);
    let wanted = [(Some(number(wanted)), Outcome::Conforms)];
    assert_eq!(found, wanted, "{id}\n{text}");
}

#[test]
fn leaves_bind_where_a_proof_says() {
    let (old, new) = (old_rules(), new_rules());
    let common = Common::of(&old, &new);
    let mut yard = Yard::new(&common);
    let runner = yard.item("runners");
    let edge = yard.measure(runner, "edge_profile");
    let gap = |text: &str| number(text);
    yard.number(runner, What::Forward(edge, gap("0.10 mm")), "151 mm");
    yard.number(runner, What::Aft(edge, gap("0.10 mm")), "149.5 mm");
    yard.number(runner, What::Forward(edge, gap("0.20 mm")), "9 in");
    yard.number(runner, What::Aft(edge, gap("0.20 mm")), "203 mm");
    yard.number(runner, What::GapAt(edge, gap("180 mm")), "0.15 mm");
    for side in Side::BOTH {
        let text = yard.complete().unwrap().record(side).unwrap();
        let rules = if side == Side::Old { &old } else { &new };
        comes_to(&text, rules, "forward_thin", "151 mm");
        comes_to(&text, rules, "aft_thin", "149.5 mm");
        comes_to(&text, rules, "forward_thick", "9 in");
        comes_to(&text, rules, "aft_thick", "203 mm");
        comes_to(&text, rules, "gap", "0.15 mm");
    }
    // A gap that is larger nearer to the contact is no edge.
    yard.number(runner, What::GapAt(edge, gap("180 mm")), "0.25 mm");
    assert!(yard.complete().unwrap().record(Side::New).is_err());
}

#[test]
fn an_edge_has_the_crown_or_the_hollow_that_a_proof_says() {
    let (old, new) = (old_rules(), new_rules());
    let common = Common::of(&old, &new);
    for radius in ["12.5 m", "1 m", "27/7 m"] {
        let mut yard = Yard::new(&common);
        let runner = yard.item("runners");
        let edge = yard.measure(runner, "edge_profile");
        yard.number(runner, What::CrownRadius(edge), radius);
        let text = yard.complete().unwrap().record(Side::New).unwrap();
        comes_to(&text, &new, "crown", radius);
    }
    for depth in ["0 mm", "0.07 mm"] {
        let mut yard = Yard::new(&common);
        let runner = yard.item("runners");
        let edge = yard.measure(runner, "edge_profile");
        yard.number(runner, What::Hollow(edge), depth);
        yard.number(runner, What::Forward(edge, number("0.10 mm")), "151 mm");
        yard.number(runner, What::Aft(edge, number("0.10 mm")), "120 mm");
        let text = yard.complete().unwrap().record(Side::New).unwrap();
        comes_to(&text, &new, "hollow", depth);
        comes_to(&text, &new, "forward_thin", "151 mm");
        comes_to(&text, &new, "aft_thin", "120 mm");
    }
}

#[test]
fn a_plank_sinks_and_a_blade_bends_as_a_proof_says() {
    let (old, new) = (old_rules(), new_rules());
    let common = Common::of(&old, &new);
    let mut yard = Yard::new(&common);
    let plank = yard.item("plank");
    let test = yard.measure(plank, "bend_test");
    yard.number(plank, What::Sinks(test, number("20 kg"), false), "8.4 mm");
    yard.number(plank, What::Sinks(test, number("600 N"), true), "25.9 mm");
    let runner = yard.item("runners");
    let line = yard.measure(runner, "side_line");
    yard.number(runner, What::Straightness(line), "0.35 mm");
    let sail = yard.item("sails");
    let outline = yard.measure(sail, "outline");
    yard.number(sail, What::Area(outline), "23/3 m2");
    let text = yard.complete().unwrap().record(Side::New).unwrap();
    comes_to(&text, &new, "light", "8.4 mm");
    comes_to(&text, &new, "heavy", "25.9 mm");
    comes_to(&text, &new, "straight", "0.35 mm");
    comes_to(&text, &new, "area", "23/3 m2");
    // Beside them the slope over all steps.
    yard.number(plank, What::Stiffness(test), "20 N/mm");
    let text = yard.complete().unwrap().record(Side::New).unwrap();
    comes_to(&text, &new, "light", "8.4 mm");
    comes_to(&text, &new, "heavy", "25.9 mm");
    comes_to(&text, &new, "stiff", "20 N/mm");
    let mut yard = Yard::new(&common);
    let plank = yard.item("plank");
    yard.number(plank, What::Stiffness(test), "31/3 N/mm");
    let text = yard.complete().unwrap().record(Side::New).unwrap();
    comes_to(&text, &new, "stiff", "31/3 N/mm");
}

/// A runner with a toe and a heel, of a construction.
fn runner(yard: &mut Yard<'_>, construction: &str) -> usize {
    let runner = yard.item("runners");
    yard.choose(runner, "construction", construction);
    let toe = What::Measure(yard.measure(runner, "toe_at"));
    let heel = What::Measure(yard.measure(runner, "heel_at"));
    yard.number(runner, toe, "410 mm");
    yard.number(runner, heel, "-390 mm");
    runner
}

#[test]
fn places_are_enough_for_both_versions_and_keep_what_is_said_of_them() {
    let (old, new) = (old_rules(), new_rules());
    let common = Common::of(&old, &new);
    let mut yard = Yard::new(&common);
    let runner = runner(&mut yard, "insert");
    let thickness = What::Measure(yard.measure(runner, "steel_thickness"));
    yard.place(
        runner,
        "0 mm",
        Some("12 mm"),
        &[(thickness.clone(), "4.75 mm")],
    );
    let poly = yard.placed(runner, "steel_thickness");
    yard.number(runner, What::Lowest(poly.clone()), "4.71 mm");
    yard.number(runner, What::Highest(poly.clone()), "5.5 mm");
    let at = Poly::var(Var {
        whose: Whose::Own,
        term: yard
            .terms
            .known(yard.boat.items[runner].part, &What::PlaceAt)
            .unwrap(),
    });
    let sixty = Poly::constant(number("60 mm"));
    let middle = Formula::all([
        Formula::sign(&sixty.plus(&at), false, &yard.terms),
        Formula::sign(&sixty.minus(&at), false, &yard.terms),
    ]);
    yard.number(runner, What::Mean(poly, middle), "4.9 mm");
    for (side, rules, limit) in [(Side::Old, &old, "4.71 mm"), (Side::New, &new, "4.71 mm")] {
        let text = yard.complete().unwrap().record(side).unwrap();
        let id = if side == Side::Old {
            "thickness"
        } else {
            "steel_thickness"
        };
        comes_to(&text, rules, id, limit);
        comes_to(&text, rules, "lowest", "4.71 mm");
        comes_to(&text, rules, "highest", "5.5 mm");
        comes_to(&text, rules, "mean_thickness", "4.9 mm");
        assert!(
            values(&text, rules, "by_zone")
                .iter()
                .all(|(_, outcome)| *outcome == Outcome::Conforms)
        );
        assert!(text.contains(" 4.75 4.75 4.75 mm"), "{text}");
    }
}

#[test]
fn places_that_would_do_harm_are_not_added() {
    let (old, new) = (old_rules(), new_rules());
    let common = Common::of(&old, &new);
    let mut yard = Yard::new(&common);
    let runner = runner(&mut yard, "insert");
    let thickness = What::Measure(yard.measure(runner, "steel_thickness"));
    // Too thin, where the edge makes it harmless alone.
    yard.place(
        runner,
        "0 mm",
        Some("3 mm"),
        &[(thickness.clone(), "4.1 mm")],
    );
    yard.place(
        runner,
        "200 mm",
        Some("12 mm"),
        &[(thickness.clone(), "4.9 mm")],
    );
    let part = yard.boat.items[runner].part;
    let term = yard.terms.known(part, &thickness).unwrap();
    let edge = yard.terms.known(part, &What::PlaceFromEdge).unwrap();
    let above = |place: &Values, term, least: &str| match place.get(&term) {
        Some(Value::Number(found)) => *found >= number(least),
        _ => false,
    };
    let legal = |_: &BoatItem, place: &Values| {
        above(place, term, "4.70 mm") || !above(place, edge, "6.001 mm")
    };
    let whole = complete(&yard.boat, &common, &yard.terms, &legal).unwrap();
    let text = whole.record(Side::New).unwrap();
    comes_to(&text, &new, "steel_thickness", "4.9 mm");
    let none = |_: &BoatItem, _: &Values| false;
    let found = complete(&yard.boat, &common, &yard.terms, &none);
    assert!(found.unwrap_err().contains("thickness asks for"));
}

#[test]
fn sections_lie_along_the_edge() {
    let (old, new) = (old_rules(), new_rules());
    let common = Common::of(&old, &new);
    let mut yard = Yard::new(&common);
    let runner = runner(&mut yard, "insert");
    let section = yard.measure(runner, "edge_section");
    let edge = yard.measure(runner, "edge_profile");
    yard.number(runner, What::AlongEnd(edge, number("22 mm")), "300 mm");
    let bevels = [
        (What::PortBevel(section), "40.5 deg"),
        (What::StarboardBevel(section), "41 deg"),
    ];
    yard.place(runner, "10 mm", None, &bevels);
    let text = yard.complete().unwrap().record(Side::New).unwrap();
    let found = values(&text, &new, "angle");
    let angle = (Some(number("81.5 deg")), Outcome::Conforms);
    assert_eq!(found, [angle.clone(), angle], "{text}");
}

#[test]
fn names_and_choices_are_those_of_the_version() {
    let (old, new) = (old_rules(), new_rules());
    let common = Common::of(&old, &new);
    let mut yard = Yard::new(&common);
    yard.boat.level = Some(1);
    yard.boat.unlisted = true;
    let plate = runner(&mut yard, "plate");
    let tee = runner(&mut yard, "tee");
    let thickness = What::Measure(yard.measure(plate, "steel_thickness"));
    yard.place(plate, "0 mm", Some("12 mm"), &[(thickness, "13 mm")]);
    let built = What::Trait(yard.trait_ix(tee, "built"));
    yard.set(tee, built, Value::Day(Date::constant(2011, 12, 31)));
    let marked = What::Trait(yard.trait_ix(tee, "marked"));
    yard.set(tee, marked, Value::Truth(true));
    let nose = What::Measure(yard.measure(tee, "nose_rounded"));
    yard.set(tee, nose, Value::Truth(true));
    let height = What::Measure(yard.measure(tee, "height_new"));
    yard.number(tee, height, "1 in");
    let sail = yard.item("sails");
    let cloth = yard.trait_ix(sail, "cloth");
    for (at, yes) in [(0, true), (1, false), (2, false), (3, true)] {
        yard.set(sail, What::Listed(cloth, at), Value::Truth(yes));
    }
    let set = yard.item("sets");
    yard.boat.items[set].roles = vec![plate, tee];
    let whole = yard.complete().unwrap();
    let (before, after) = (
        whole.document(Side::Old).unwrap(),
        whole.document(Side::New).unwrap(),
    );
    let word = |of: &crate::prove::witness::Document, at: usize| {
        let runner = &of.get("runners").unwrap().items()[at];
        runner
            .get("construction")
            .unwrap()
            .as_text()
            .unwrap()
            .to_owned()
    };
    assert_eq!(
        (word(&before, 0), word(&before, 1)),
        ("plain".to_owned(), "other".to_owned())
    );
    assert_eq!(
        (word(&after, 0), word(&after, 1)),
        ("plate".to_owned(), "tee".to_owned())
    );
    assert!(
        before.get("runners").unwrap().items()[0]
            .get("thickness")
            .is_some()
    );
    for (side, rules) in [(Side::Old, &old), (Side::New, &new)] {
        let plan = Plan::compile(Arc::clone(rules));
        let found = whole.replay(side, &plan).unwrap();
        let of = |id: &str| found.of_rule(id).map(|(outcome, _)| outcome);
        assert_eq!(
            of("height"),
            Some(Outcome::NotDecided),
            "the plate has none"
        );
        assert_eq!(of("cloth"), Some(Outcome::Conforms));
        assert_eq!(of("alike"), Some(Outcome::Conforms));
        assert_eq!(of("old_ones"), Some(Outcome::NotDecided), "not measured");
        assert!(!found.is_legal());
        let thick = found
            .findings
            .iter()
            .filter(|one| one.rule.ends_with("thickness") && one.rule != "mean_thickness");
        let plate = thick
            .clone()
            .find(|one| one.item == crate::check::ItemRef::Item(1))
            .unwrap();
        assert_eq!(plate.outcome, Outcome::Conforms, "{:?}", plate.reason);
    }
}

#[test]
fn what_differs_is_told_alone_and_kept_in_cases() {
    let (old, new) = (old_rules(), new_rules());
    let common = Common::of(&old, &new);
    let mut yard = Yard::new(&common);
    let insert = runner(&mut yard, "insert");
    let thickness = What::Measure(yard.measure(insert, "steel_thickness"));
    yard.place(insert, "0 mm", Some("12 mm"), &[(thickness, "4.75 mm")]);
    let mass = What::Measure(yard.measure(0, "all_up_mass"));
    yard.number(0, mass.clone(), "70 kg");
    let plank = yard.item("plank");
    let length = What::Measure(yard.measure(plank, "length"));
    yard.number(plank, length, "2900 mm");
    let before = yard.boat.clone();
    yard.number(0, mass, "69.95 kg");
    yard.choose(insert, "construction", "tee");
    let from = complete(&before, &common, &yard.terms, &|_, _| true).unwrap();
    let whole = yard.complete().unwrap();
    let fragment = whole.fragment(&from, Side::New).unwrap();
    assert_eq!(
        fragment.flow(),
        "{ boat: { all_up_mass: { with: exact, readings: 69.95 kg } }, \
         runners: [ { id: R1, construction: tee } ] }"
    );
    let (one, other) = (
        Plan::compile(Arc::clone(&old)),
        Plan::compile(Arc::clone(&new)),
    );
    let ids = [
        "mass".to_owned(),
        "thickness".to_owned(),
        "steel_thickness".to_owned(),
    ];
    let cases = whole.cases(&[
        CaseOf {
            side: Side::Old,
            plan: &one,
            title: "A tee: before",
            rules: &ids,
        },
        CaseOf {
            side: Side::New,
            plan: &other,
            title: "A tee: after",
            rules: &ids,
        },
    ]);
    let cases = cases.unwrap();
    let wanted = "\
format: rimegauge-cases/1
class: tarn-8
cases:
  - title: \"A tee: before\"
    versions: \"=1.0.0\"
    purpose: certification
    on: 2026-11-21
    given:
      boat: { all_up_mass: { with: exact, readings: 69.95 kg } }
      runners:
        - { id: R1, construction: other }
    expect: { mass: does_not_conform, thickness: { outcome: does_not_conform, reason: no_row_for_choice } }
  - title: \"A tee: after\"
    versions: \"=2.0.0\"
    purpose: certification
    on: 2026-11-21
    given:
      boat: { all_up_mass: { with: exact, readings: 69.95 kg } }
      runners:
        - id: R1
          construction: tee
";
    let begins = &cases[..wanted.len().min(cases.len())];
    assert_eq!(begins, wanted, "{cases}");
    let ends = "expect: { mass: does_not_conform, steel_thickness: conforms }\n";
    assert!(cases.ends_with(ends), "{cases}");
}
