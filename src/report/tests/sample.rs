//! A record, a rules file and findings, made by hand.

use std::sync::Arc;

use jiff::civil::date;

use crate::check::{
    Finding, FoundLimit, FoundPlace, FoundValue, ItemRef, Outcome, Reason, RuleRef, Settle, Verdict,
};
use crate::expression::{Expression, Node, Op, Type, Yield};
use crate::quantity::{Exact, Number, Unit};
use crate::record::{Face, Item, Record, Session};
use crate::rules::{
    Bound, BoundKind, ByStage, Caution, DecisionPolicy, Demand, Judged, LimitRow, Limits, Rule,
    RulesFile, Silence, Stage, Status,
};
use crate::text::{Source, Span};
use crate::uncertainty::{DecisionRule, Expanded, Governing};
use crate::vocabulary::{Holding, HoldingId, Name, Part, PartId, Vocabulary};

use super::super::Checked;

pub const RECORD: &str = "\
format: rimegauge-record/1
class: tarn-8
boat: { sail_number: T8 41, name: Nightjar }
runners:
  - id: S1
    edge_section: { with: protractor_1 }
  - id: S3
    steel_thickness: 4.62 mm
";

pub const RULES: &str = "\
format: rimegauge-rules/1
rules:
  - id: steel_thickness
    at_least: 4.70 mm
  - id: edge_angle
    at_least: 75 deg
";

pub fn span(text: &str, part: &str) -> Span {
    let start = text.find(part).unwrap();
    Span::new(start, start + part.len())
}

pub fn name(text: &str) -> Name {
    Name {
        text: text.to_owned(),
        span: Span::default(),
    }
}

fn expression(text: &str) -> Expression {
    let unit = Unit::MM;
    Expression {
        own: PartId(1),
        text: text.to_owned(),
        span: Span::default(),
        yields: Yield {
            kind: Type::Quantity(unit.dimension()),
            placed: false,
            numbers: 1,
        },
        root: Node {
            span: Span::default(),
            op: Op::Quantity {
                value: Exact::ZERO,
                unit,
            },
        },
    }
}

fn rule(id: &str, clause: &str, title: &str, remedy: &str) -> Rule {
    let bound = Bound {
        kind: BoundKind::AtLeast,
        limit: expression("4.70 mm"),
        rounded: None,
        span: Span::default(),
    };
    Rule {
        id: name(id),
        clause: name(clause),
        title: title.to_owned(),
        text: "The steel shall at no point be thinner.".to_owned(),
        text_span: Span::default(),
        applies_to: PartId(1),
        when: None,
        value: expression(id),
        judged: Judged::WorstPlace,
        places: None,
        outside: Vec::new(),
        zone: None,
        limits: Limits::Direct(LimitRow {
            span: Span::default(),
            demand: Demand::Bounds(vec![bound]),
        }),
        instead: Vec::new(),
        checked_at: ByStage::of(|_| true),
        remedy: Some(remedy.to_owned()),
        names_event: false,
    }
}

pub fn rules() -> RulesFile {
    let part = |text: &str| Part {
        name: name(text),
        traits: Vec::new(),
        measures: Vec::new(),
        derived: Vec::new(),
        zones: Vec::new(),
        roles: Vec::new(),
        alterations: Vec::new(),
    };
    RulesFile {
        source: Source::new("tarn-8/3.1.0.yaml", RULES),
        digest: "sha256:aa".to_owned(),
        class: name("tarn-8"),
        title: "Tarn 8 Class Rules".to_owned(),
        version: semver::Version::new(3, 1, 0),
        version_span: Span::default(),
        status: Status::Adopted,
        replaces: None,
        in_force_from: date(2026, 11, 1),
        authority: "Tarn 8 Class Association".to_owned(),
        silence: Silence::Forbids,
        decision: DecisionPolicy {
            coverage_probability: Exact::from_fraction(95, 100).unwrap(),
            guard_factor: Exact::ONE,
            rules: ByStage::of(|stage| match stage {
                Stage::EventInspection => DecisionRule::GuardedRejection,
                Stage::SelfCheck | Stage::Certification => DecisionRule::GuardedAcceptance,
            }),
        },
        vocabulary: Vocabulary {
            parts: vec![part("boat"), part("runner")],
            holdings: vec![Holding {
                key: name("runners"),
                part: PartId(1),
                many: true,
                at_least: 3,
                at_least_span: Span::default(),
            }],
            event_levels: vec![name("club"), name("continental")],
            methods: Vec::new(),
            renamed: Vec::new(),
        },
        derived: Vec::new(),
        rules: vec![
            rule(
                "steel_thickness",
                "D.3.2",
                "Steel thickness",
                "Steel can't be added; use another runner.",
            ),
            rule("edge_angle", "D.4.1", "Included edge angle", "Grind."),
        ],
        marks: Vec::new(),
        interpretations: Vec::new(),
        words: Vec::new(),
        cautions: vec![Caution::Edges, Caution::ComplianceIsNotSafety],
        events_may_change: Vec::new(),
        repealed_on: None,
        overlay: None,
    }
}

fn item(holding: Option<u16>, id: Option<&str>) -> Item {
    Item {
        holding: holding.map(HoldingId),
        part: PartId(u16::from(holding.is_some())),
        id: id.map(str::to_owned),
        span: Span::default(),
        traits: Vec::new(),
        measures: Vec::new(),
        work: Vec::new(),
        notes: Vec::new(),
        members: None,
    }
}

pub fn record() -> Record {
    let source = Source::new("forms/nightjar.yaml", RECORD);
    Record {
        span: Span::new(0, RECORD.len()),
        source,
        sail_number: "T8 41".to_owned(),
        sail_number_span: span(RECORD, "T8 41"),
        boat_name: Some("Nightjar".to_owned()),
        owner: None,
        measured: Session::default(),
        instruments: Arc::default(),
        items: vec![
            item(None, None),
            item(Some(0), Some("S1")),
            item(Some(0), Some("S3")),
        ],
        unlisted: Vec::new(),
        notes: Vec::new(),
        old_names: Vec::new(),
        left_out: Vec::new(),
    }
}

pub fn exact(text: &str) -> Number {
    Number::Exact(Exact::from_decimal(text).unwrap())
}

pub fn expanded(size: f64) -> Expanded {
    Expanded {
        U: size,
        k: 2.0,
        nu: 58.13,
        by: Governing::Combined,
    }
}

pub fn bound(kind: BoundKind, number: &str, unit: Unit, decimals: u8) -> FoundLimit {
    FoundLimit::Bound {
        rounded: None,
        kind,
        value: exact(number),
        unit,
        decimals: Some(decimals),
    }
}

pub fn finding(rule: usize, item: usize, outcome: Outcome) -> Finding {
    Finding {
        rule: RuleRef::Rule(rule),
        item: ItemRef::Item(item),
        side: None,
        outcome,
        reason: None,
        by_purpose: ByStage::of(|_| Some(outcome)),
        value: None,
        expanded: None,
        limit: None,
        margin: None,
        place: None,
        places: None,
        left_out: Vec::new(),
        settled_by: None,
        benefit_of_doubt: false,
        second_measurer: false,
        exemption: None,
        notes: Vec::new(),
        source_at: span(RECORD, "4.62 mm"),
        also_at: Vec::new(),
        limit_at: span(RULES, "4.70 mm"),
        budget: None,
    }
}

/// 4.62 mm against at least 4.70 mm.
pub fn thin() -> Finding {
    Finding {
        side: Some(BoundKind::AtLeast),
        value: Some(FoundValue::Number {
            value: exact("4.62"),
            unit: Unit::MM,
            decimals: Some(2),
            bound: None,
        }),
        expanded: Some(expanded(0.02)),
        limit: Some(bound(BoundKind::AtLeast, "4.70", Unit::MM, 2)),
        margin: Some(exact("-0.08")),
        place: Some(FoundPlace {
            at: Exact::from_decimal("-300"),
            unit: Some(Unit::MM),
            face: Some(Face::Port),
            from_edge: None,
        }),
        places: Some((5, 5)),
        ..finding(0, 2, Outcome::DoesNotConform)
    }
}

/// 75.4 deg with U = 1.2 deg against at least 75 deg.
pub fn near() -> Finding {
    Finding {
        side: Some(BoundKind::AtLeast),
        reason: Some(Reason::NearLimit),
        by_purpose: ByStage::of(|stage| {
            Some(match stage {
                Stage::EventInspection => Outcome::Conforms,
                Stage::SelfCheck | Stage::Certification => Outcome::NotDecided,
            })
        }),
        value: Some(FoundValue::Number {
            value: exact("75.4"),
            unit: Unit::DEG,
            decimals: Some(1),
            bound: None,
        }),
        expanded: Some(expanded(1.2)),
        limit: Some(bound(BoundKind::AtLeast, "75", Unit::DEG, 0)),
        margin: Some(exact("0.4")),
        settled_by: Some(Settle::SmallerUncertainty {
            at_most: 0.4,
            unit: Unit::DEG,
        }),
        source_at: span(RECORD, "edge_section"),
        limit_at: span(RULES, "75 deg"),
        ..finding(1, 1, Outcome::NotDecided)
    }
}

/// Steel thickness not measured on an item.
pub fn missing(item: usize) -> Finding {
    Finding {
        reason: Some(Reason::NotMeasured),
        limit: Some(bound(BoundKind::AtLeast, "4.70", Unit::MM, 2)),
        settled_by: Some(Settle::Measure("steel_thickness".to_owned())),
        source_at: span(RECORD, "S1"),
        ..finding(0, item, Outcome::NotDecided)
    }
}

pub fn checked(findings: Vec<Finding>) -> Checked {
    let outcome = findings
        .iter()
        .map(|finding| finding.outcome)
        .min()
        .unwrap_or(Outcome::NotDecided);
    let reason = findings.is_empty().then_some(Reason::NothingChecked);
    Checked {
        record: record(),
        rules: Arc::new(rules()),
        later: None,
        purpose: Stage::SelfCheck,
        day: date(2026, 11, 21),
        level: None,
        digest: Some("sha256:bb".to_owned()),
        verdict: Verdict {
            outcome,
            reason,
            findings,
        },
    }
}
