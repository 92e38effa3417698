//! A vocabulary that has every kind of name.

use crate::text::Span;
use crate::vocabulary::{
    Derived, Holding, Measure, MeasureKind, Name, Part, PartId, QuantityKind, Trait, TraitKind,
    Vocabulary, Zone, ZoneKind,
};

fn name(text: &str) -> Name {
    Name {
        text: text.to_owned(),
        span: Span::default(),
    }
}

fn measure(text: &str, kind: MeasureKind, placed: bool) -> Measure {
    Measure {
        name: name(text),
        kind,
        placed,
        plausible: None,
        plausible_unit: None,
        methods: Vec::new(),
        fresh_for_days: None,
        ask: None,
        setup: None,
        fixed_at: None,
    }
}

fn quantity(text: &str, kind: QuantityKind) -> Measure {
    measure(text, MeasureKind::Quantity(kind), false)
}

fn placed(text: &str) -> Measure {
    measure(text, MeasureKind::Quantity(QuantityKind::Length), true)
}

fn choice(text: &str, choices: &[&str]) -> Trait {
    let choices = choices.iter().map(|choice| name(choice)).collect();
    Trait {
        name: name(text),
        kind: TraitKind::Choice(choices),
        optional: false,
    }
}

fn date(text: &str) -> Trait {
    Trait {
        name: name(text),
        kind: TraitKind::Date,
        optional: false,
    }
}

fn flag(text: &str) -> Trait {
    Trait {
        name: name(text),
        kind: TraitKind::Flag,
        optional: true,
    }
}

fn derived(text: &str, expression: &str) -> Derived {
    Derived {
        name: name(text),
        text: expression.to_owned(),
        span: Span::default(),
    }
}

fn part(text: &str, traits: Vec<Trait>, measures: Vec<Measure>, derived: Vec<Derived>) -> Part {
    Part {
        name: name(text),
        traits,
        measures,
        derived,
        zones: Vec::new(),
        roles: Vec::new(),
        alterations: Vec::new(),
    }
}

fn holding(key: &str, part: u16, many: bool) -> Holding {
    Holding {
        key: name(key),
        part: PartId(part),
        many,
        at_least: 0,
        at_least_span: Span::default(),
    }
}

/// Boat, hull, plank, runner, corrector.
pub(super) fn vocabulary() -> Vocabulary {
    let boat = part(
        "boat",
        vec![date("built"), flag("numbered")],
        vec![
            quantity("all_up_mass", QuantityKind::Mass),
            quantity("load", QuantityKind::Force),
            quantity("air", QuantityKind::Temperature),
        ],
        vec![derived("mass_over", "all_up_mass - 70.0 kg")],
    );
    let hull = part(
        "hull",
        vec![
            choice("material", &["wood", "composite"]),
            choice("finish", &["plate", "insert", "tee", "angle"]),
        ],
        vec![
            quantity("length", QuantityKind::Length),
            quantity("width", QuantityKind::Length),
            placed("skin"),
        ],
        Vec::new(),
    );
    let plank = part(
        "plank",
        Vec::new(),
        vec![
            quantity("length", QuantityKind::Length),
            quantity("stiffness", QuantityKind::Stiffness),
        ],
        Vec::new(),
    );
    let mut runner = part(
        "runner",
        vec![
            choice("position", &["steering", "side", "either"]),
            choice("construction", &["plate", "insert", "tee", "angle"]),
            choice("shape", &["plate", "insert", "tee", "angle"]),
            date("built"),
            date("sold"),
            flag("marked"),
        ],
        vec![
            placed("steel_thickness"),
            placed("exposed_depth"),
            quantity("toe_at", QuantityKind::Position),
            quantity("heel_at", QuantityKind::Position),
            quantity("pivot_height", QuantityKind::Length),
            quantity("hardness", QuantityKind::HardnessHrc),
            quantity("core_hardness", QuantityKind::HardnessHv),
            quantity("wear", QuantityKind::Ratio),
            quantity("steel_temperature", QuantityKind::Temperature),
            measure("edge_profile", MeasureKind::Profile, false),
            measure("side_line", MeasureKind::Line, false),
            measure("edge_section", MeasureKind::Section, true),
            measure("nose_rounded", MeasureKind::YesNo, false),
        ],
        vec![
            derived("steel_length", "toe_at - heel_at"),
            derived("flat", "flat_length(edge_profile, 0.20 mm)"),
            derived("bend", "straightness(side_line)"),
            derived("edge_angle", "included_angle(edge_section)"),
            derived("broken", "toe_at + missing"),
        ],
    );
    runner.zones.push(Zone {
        name: name("middle"),
        kind: ZoneKind::WithinOfEdge(crate::quantity::Exact::ONE),
    });
    let corrector = part(
        "corrector",
        Vec::new(),
        vec![quantity("mass", QuantityKind::Mass)],
        Vec::new(),
    );
    Vocabulary {
        parts: vec![boat, hull, plank, runner, corrector],
        holdings: vec![
            holding("hull", 1, false),
            holding("plank", 2, false),
            holding("runners", 3, true),
            holding("correctors", 4, true),
        ],
        event_levels: vec![name("club"), name("regional"), name("continental")],
        methods: Vec::new(),
        renamed: Vec::new(),
    }
}
