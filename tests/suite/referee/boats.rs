//! Boats as records of a version, judged by the ordinary check; and boats by chance on a grid of all numbers and
//! days that stand in either version.

use std::collections::BTreeSet;

use rimegauge::check::{Context, Outcome, Plan};
use rimegauge::expression::{Node, Op};
use rimegauge::quantity::{Date, DateSpan, Exact, Unit, add_days};
use rimegauge::record::{
    Answer, Content, DateClaim, EdgeAcross, EdgeReadings, Found, Item, Measured, Member, Members,
    Place, Profile, Reading, Record, SectionPlace, Series, Session, ShimReading, TraitClaim,
    TraitValue, Unlisted, Where, With,
};
use rimegauge::rules::{Demand, Limits, RulesFile, Stage, rows};
use rimegauge::text::{Source, Span};
use rimegauge::vocabulary::{ChoiceId, HoldingId, MeasureKind, PartId, TraitKind, ZoneKind};

use super::domain::{Boat, Domain, Known, Sort, TraitDomain, View, day_number};
use super::draw::Draw;

fn int(boat: &Boat, name: &str) -> i64 {
    match boat.get(name) {
        Some(Known::Int(number)) => *number,
        other => panic!("{name} is {other:?}"),
    }
}

fn real(boat: &Boat, name: &str) -> Exact {
    match boat.get(name) {
        Some(Known::Real(number)) => number.clone(),
        other => panic!("{name} is {other:?}"),
    }
}

fn flag(boat: &Boat, name: &str) -> bool {
    match boat.get(name) {
        Some(Known::Bool(yes)) => *yes,
        other => panic!("{name} is {other:?}"),
    }
}

fn day_of(number: i64) -> Date {
    add_days(Date::constant(1970, 1, 1), number).unwrap()
}

fn reading(value: Exact) -> Reading {
    Reading {
        value,
        resolution: Exact::ZERO,
        unit: Unit::MM,
        bound: None,
        span: Span::default(),
    }
}

fn series(content: Content) -> Measured {
    let one = Series {
        span: Span::default(),
        with: With::Exact,
        by: None,
        taken: None,
        second: false,
        searched: None,
        content,
    };
    Measured {
        span: Span::default(),
        found: Found::Series(vec![one]),
        chosen: None,
    }
}

fn place(of: Where, value: Exact) -> Place {
    Place {
        place: of,
        readings: vec![reading(value)],
        void: Vec::new(),
        confirmed_by: Some("AB".to_owned()),
        span: Span::default(),
    }
}

/// How many items a boat has of a holding.
pub fn count(domain: &Domain, boat: &Boat, holding: usize) -> usize {
    if domain.holdings[holding].many {
        usize::try_from(int(boat, &format!("n_{holding}"))).unwrap()
    } else {
        1
    }
}

fn traits(
    domain: &Domain,
    view: &View,
    rules: &RulesFile,
    boat: &Boat,
    part: PartId,
    (h, i): (usize, usize),
) -> Vec<Option<TraitClaim>> {
    let own = &domain.parts[view.parts[part.index()]];
    let vocabulary = &rules.vocabulary.parts[part.index()];
    let claims = vocabulary.traits.iter().enumerate().map(|(id, one)| {
        let slot = view.traits[part.index()][id];
        let name = format!("t_{h}_{i}_{slot}");
        let codes = &view.words[part.index()][id];
        let choice = |code: usize| {
            let at = codes.iter().position(|known| *known == code);
            at.map(|at| ChoiceId(u16::try_from(at).unwrap()))
        };
        let value = match (&one.kind, &own.traits[slot].1) {
            (TraitKind::Choice(_), _) => {
                TraitValue::Choice(choice(usize::try_from(int(boat, &name)).unwrap()))
            }
            (TraitKind::AnyOf(_), TraitDomain::AnyOf(words)) => {
                let there = (0..=words.len()).filter(|code| flag(boat, &format!("{name}_{code}")));
                let mut list: Vec<Option<ChoiceId>> = there.map(choice).collect();
                list.sort();
                list.dedup();
                TraitValue::AnyOf(list.into())
            }
            (TraitKind::AnyOf(_), _) => panic!("no list"),
            (TraitKind::Date, _) => TraitValue::Date(DateClaim {
                date: DateSpan::day(day_of(int(boat, &name))),
                proof: Some("builder invoice 17".to_owned()),
                seen: Some(("AB".to_owned(), None)),
            }),
            (TraitKind::Flag, _) => TraitValue::Flag(flag(boat, &name)),
        };
        Some(TraitClaim {
            span: Span::default(),
            value,
        })
    });
    claims.collect()
}

fn measures(
    domain: &Domain,
    view: &View,
    rules: &RulesFile,
    boat: &Boat,
    part: PartId,
    (h, i): (usize, usize),
) -> Vec<Option<Measured>> {
    let own = &domain.parts[view.parts[part.index()]];
    let at = |p: usize| Where {
        at: Some(real(boat, &format!("at_{h}_{i}_{p}"))),
        face: None,
        from_edge: Some(real(boat, &format!("edge_{h}_{i}_{p}"))),
        unit: None,
    };
    let each = rules.vocabulary.parts[part.index()]
        .measures
        .iter()
        .enumerate();
    let found = each.map(|(id, one)| {
        let slot = view.measures[part.index()][id];
        let name = format!("m_{h}_{i}_{slot}");
        Some(match one.kind {
            MeasureKind::Quantity(_) if one.placed => {
                let places =
                    (0..own.places).map(|p| place(at(p), real(boat, &format!("{name}_{p}"))));
                series(Content::Places(places.collect()))
            }
            MeasureKind::Quantity(_) => series(Content::Places(vec![place(
                Where::default(),
                real(boat, &name),
            )])),
            MeasureKind::YesNo => Measured {
                span: Span::default(),
                found: Found::Answer(Answer {
                    yes: flag(boat, &name),
                    by: Some("AB".to_owned()),
                    day: None,
                    span: Span::default(),
                }),
                chosen: None,
            },
            MeasureKind::Section => {
                let places = (0..own.places).map(|p| {
                    let half = real(boat, &format!("{name}_{p}"))
                        .checked_div(&Exact::from_integer(2))
                        .unwrap();
                    SectionPlace {
                        place: at(p),
                        edge: EdgeAcross::Bevels {
                            port: reading(half.clone()),
                            starboard: reading(half),
                        },
                        span: Span::default(),
                    }
                });
                series(Content::Sections(places.collect()))
            }
            MeasureKind::Profile => {
                let gaps = own.measures[slot].gaps.iter().enumerate();
                let shims = gaps.map(|(g, gap)| ShimReading {
                    gap: reading(gap.clone()),
                    forward: reading(real(boat, &format!("fore_{h}_{i}_{slot}_{g}"))),
                    aft: reading(real(boat, &format!("aft_{h}_{i}_{slot}_{g}"))),
                });
                series(Content::Profile(Profile {
                    contact: None,
                    edge: EdgeReadings::Shims(shims.collect()),
                    span: Span::default(),
                }))
            }
            MeasureKind::Line | MeasureKind::LoadTest | MeasureKind::Outline => {
                panic!("{:?} is not made", one.kind)
            }
        })
    });
    found.collect()
}

fn unlisted() -> Unlisted {
    Unlisted {
        item: 0,
        what: "heated grip".to_owned(),
        seen_by: Some("AB".to_owned()),
        day: None,
        span: Span::default(),
    }
}

/// A boat as a record of a version.
pub fn record(domain: &Domain, view: &View, rules: &RulesFile, boat: &Boat) -> Record {
    let mut items = Vec::new();
    // Where the items of a holding of the domain begin in the record.
    let mut begins = vec![None; domain.holdings.len()];
    let mut add = |holding: Option<HoldingId>,
                   part: PartId,
                   (h, i): (usize, usize),
                   begins: &mut Vec<Option<usize>>,
                   members: Option<Box<Members>>| {
        if i == 0 {
            begins[h] = Some(items.len());
        }
        items.push(Item {
            holding,
            part,
            id: holding.map(|_| format!("I{i}")),
            span: Span::default(),
            traits: traits(domain, view, rules, boat, part, (h, i)),
            measures: measures(domain, view, rules, boat, part, (h, i)),
            work: Vec::new(),
            notes: Vec::new(),
            members,
        });
    };
    add(None, PartId(0), (0, 0), &mut begins, None);
    for (at, holding) in rules.vocabulary.holdings.iter().enumerate() {
        let h = view.holdings[at];
        let id = HoldingId(u16::try_from(at).unwrap());
        let roles = &rules.vocabulary.parts[holding.part.index()].roles;
        for i in 0..count(domain, boat, h) {
            let members = (!roles.is_empty()).then(|| {
                let each = (0..roles.len()).map(|role| {
                    let slot = view.roles[holding.part.index()][role];
                    let (_, filled_by) = domain.parts[domain.holdings[h].part].roles[slot];
                    let number = usize::try_from(int(boat, &format!("r_{h}_{i}_{slot}"))).unwrap();
                    Some(Member {
                        item: begins[filled_by].unwrap() + number,
                        span: Span::default(),
                    })
                });
                Box::new(Members {
                    roles: each.collect(),
                })
            });
            add(Some(id), holding.part, (h, i), &mut begins, members);
        }
    }
    Record {
        source: Source::new("boat", ""),
        span: Span::default(),
        sail_number: "T8 41".to_owned(),
        sail_number_span: Span::default(),
        boat_name: Some("Nightjar".to_owned()),
        owner: None,
        measured: Session {
            day: Some(day_of(int(boat, "day"))),
            by: Some("AB".to_owned()),
            place: None,
            temperature: None,
        },
        instruments: std::sync::Arc::default(),
        items,
        unlisted: flag(boat, "unlisted").then(unlisted).into_iter().collect(),
        notes: Vec::new(),
        old_names: Vec::new(),
        left_out: Vec::new(),
    }
}

/// What the check says of a boat.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Judged {
    Legal,
    Illegal,
    /// Open.
    Open,
}

/// A boat judged by the check under a version, in the brief way and by the findings.
pub fn judged(plan: &Plan, domain: &Domain, view: &View, boat: &Boat) -> Judged {
    let rules = plan.rules();
    let record = record(domain, view, rules, boat);
    let level = usize::try_from(int(boat, "level")).ok();
    let level = level.and_then(|at| rules.vocabulary.event_level_named(&domain.levels[at]));
    let context = Context {
        purpose: Stage::ALL[usize::try_from(int(boat, "stage")).unwrap()],
        day: day_of(int(boat, "day")),
        level,
    };
    let mut found = Vec::new();
    plan.outcomes(&record, &context, &mut found);
    match found.iter().map(|one| one.outcome).min() {
        None | Some(Outcome::Conforms | Outcome::NotApplicable) => Judged::Legal,
        Some(Outcome::DoesNotConform) => Judged::Illegal,
        Some(Outcome::NotDecided) => Judged::Open,
    }
}

/// The rules that a boat breaks or leaves open, for reports.
pub fn broken(plan: &Plan, domain: &Domain, view: &View, boat: &Boat) -> Vec<String> {
    let rules = plan.rules();
    let record = record(domain, view, rules, boat);
    let level = usize::try_from(int(boat, "level")).ok();
    let context = Context {
        purpose: Stage::ALL[usize::try_from(int(boat, "stage")).unwrap()],
        day: day_of(int(boat, "day")),
        level: level.and_then(|at| rules.vocabulary.event_level_named(&domain.levels[at])),
    };
    let mut found = Vec::new();
    plan.outcomes(&record, &context, &mut found);
    let bad = found.iter().filter(|one| one.outcome < Outcome::Conforms);
    bad.map(|one| {
        let id = rimegauge::check::cases::id_of(rules, one.rule);
        format!("{id}: {:?} {:?} {:?}", one.item, one.outcome, one.reason)
    })
    .collect()
}

/// What every variable is tried with.
pub struct Grid {
    variables: Vec<(String, Vec<Known>)>,
    items: Vec<(usize, i64)>,
    domain: Domain,
}

impl Grid {
    /// Of two versions: every number that stands in either, with those between and beyond.
    pub fn of(old: &RulesFile, new: &RulesFile, domain: &Domain) -> Grid {
        let mut numbers = BTreeSet::new();
        let mut days = BTreeSet::new();
        for rules in [old, new] {
            collect(rules, &mut numbers, &mut days);
        }
        let numbers: Vec<Exact> = numbers.into_iter().map(|Ordered(one)| one).collect();
        let mut tried = Vec::new();
        let half = Exact::from_fraction(1_i128, 2_i128).unwrap();
        for (at, one) in numbers.iter().enumerate() {
            match at.checked_sub(1).map(|before| &numbers[before]) {
                Some(before) => tried.push(before.add(one).mul(&half)),
                None => tried.push(one.sub(&Exact::from_integer(7))),
            }
            tried.push(one.clone());
        }
        tried.push(
            numbers
                .last()
                .map_or(Exact::ONE, |last| last.add(&Exact::from_integer(7))),
        );
        let mut days_tried: BTreeSet<i64> = days
            .iter()
            .flat_map(|day| [day - 1, *day, day + 1])
            .collect();
        days_tried.insert(domain.first_day);
        let variables = domain.variables().into_iter().map(|(name, sort)| {
            let list: Vec<Known> = match sort {
                Sort::Bool => vec![Known::Bool(false), Known::Bool(true)],
                Sort::Int(low, high) if high - low < 50 => (low..=high).map(Known::Int).collect(),
                Sort::Int(low, high) => {
                    let fits = days_tried.iter().filter(|day| (low..=high).contains(*day));
                    fits.map(|day| Known::Int(*day)).collect()
                }
                Sort::Real(range) => {
                    let fits = |one: &&Exact| {
                        let beyond = |end: Option<(i64, bool)>, sign: i32| {
                            end.is_some_and(|(end, out)| {
                                let side = one.sub(&Exact::from_integer(end)).signum() * sign;
                                side > 0 || (out && side == 0)
                            })
                        };
                        !beyond(range.low, -1) && !beyond(range.high, 1)
                    };
                    let mut list: Vec<Known> = tried
                        .iter()
                        .filter(fits)
                        .cloned()
                        .map(Known::Real)
                        .collect();
                    list.push(Known::Real(Exact::ONE));
                    list
                }
            };
            (name, list)
        });
        Grid {
            variables: variables.collect(),
            items: (0..domain.holdings.len()).map(|h| (h, 0)).collect(),
            domain: domain.clone(),
        }
    }

    /// Every boat of the grid; `None` where there are more than `most`.
    pub fn every(&self, most: usize) -> Option<Vec<Boat>> {
        let sizes = self.variables.iter().map(|(_, list)| list.len());
        let count = sizes.fold(1_usize, usize::saturating_mul);
        if count > most {
            return None;
        }
        let mut all = Vec::new();
        for number in 0..count {
            let mut rest = number;
            let mut boat = Boat::new();
            for (name, list) in &self.variables {
                boat.insert(name.clone(), list[rest % list.len()].clone());
                rest /= list.len();
            }
            // What does not hold of any boat is left out, not mended: the others are all here.
            let mut mended = boat.clone();
            let fits = self.mended(&mut Draw::new(0), &mut mended).is_some() && mended == boat;
            all.extend(fits.then_some(boat));
        }
        Some(all)
    }

    /// A boat by chance; `None` where its parts don't fit together.
    pub fn boat(&self, draw: &mut Draw) -> Option<Boat> {
        let mut boat = Boat::new();
        for (name, list) in &self.variables {
            boat.insert(name.clone(), draw.one(list).clone());
        }
        // Most have no such part, or hardly any would be legal.
        boat.insert("unlisted".to_owned(), Known::Bool(draw.percent(5)));
        self.mended(draw, &mut boat)?;
        Some(boat)
    }

    /// One thing of a boat changed.
    pub fn beside(&self, draw: &mut Draw, boat: &Boat) -> Option<Boat> {
        let mut boat = boat.clone();
        for _ in 0..1 + draw.below(3) {
            let (name, list) = draw.one(&self.variables);
            boat.insert(name.clone(), draw.one(list).clone());
        }
        self.mended(draw, &mut boat)?;
        Some(boat)
    }

    /// Keeps to what holds of every boat.
    fn mended(&self, draw: &mut Draw, boat: &mut Boat) -> Option<()> {
        let domain = &self.domain;
        if int(boat, "stage") == 2 && !domain.levels.is_empty() && int(boat, "level") < 0 {
            boat.insert("level".to_owned(), Known::Int(0));
        }
        for &(h, _) in &self.items {
            let part = &domain.parts[domain.holdings[h].part];
            for i in 0..domain.count(h) {
                for (t, (_, kind)) in part.traits.iter().enumerate() {
                    if let TraitDomain::AnyOf(words) = kind {
                        let any =
                            (0..=words.len()).any(|c| flag(boat, &format!("t_{h}_{i}_{t}_{c}")));
                        if !any {
                            boat.insert(format!("t_{h}_{i}_{t}_1"), Known::Bool(true));
                        }
                    }
                }
                for (m, measure) in part.measures.iter().enumerate() {
                    for g in 1..measure.gaps.len() {
                        for side in ["fore", "aft"] {
                            let name = |g: usize| format!("{side}_{h}_{i}_{m}_{g}");
                            if real(boat, &name(g)) < real(boat, &name(g - 1)) {
                                let least = real(boat, &name(g - 1));
                                boat.insert(name(g), Known::Real(least));
                            }
                        }
                    }
                }
                for p in 0..part.places {
                    let at = |p: usize| format!("at_{h}_{i}_{p}");
                    if (0..p).any(|other| real(boat, &at(other)) == real(boat, &at(p))) {
                        return None;
                    }
                }
                if part.roles.is_empty() || i >= count(domain, boat, h) {
                    continue;
                }
                for (r, (_, filled_by)) in part.roles.iter().enumerate() {
                    let taken: Vec<i64> = part.roles[..r]
                        .iter()
                        .enumerate()
                        .filter(|(_, (_, theirs))| theirs == filled_by)
                        .map(|(other, _)| int(boat, &format!("r_{h}_{i}_{other}")))
                        .collect();
                    let there = i64::try_from(count(domain, boat, *filled_by)).unwrap();
                    let free: Vec<i64> = (0..there).filter(|one| !taken.contains(one)).collect();
                    let name = format!("r_{h}_{i}_{r}");
                    if !free.contains(&int(boat, &name)) {
                        if free.is_empty() {
                            // A group that nobody can fill is not there.
                            boat.insert(format!("n_{h}"), Known::Int(0));
                            break;
                        }
                        boat.insert(name, Known::Int(*draw.one(&free)));
                    }
                }
            }
        }
        Some(())
    }
}

/// Numbers in their order.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
struct Ordered(Exact);

fn collect(rules: &RulesFile, numbers: &mut BTreeSet<Ordered>, days: &mut BTreeSet<i64>) {
    let mut node = |node: &Node| constants(node, numbers, days);
    for rule in &rules.rules {
        node(&rule.value.root);
        rule.when.iter().for_each(|one| node(&one.root));
        for one in &rule.instead {
            node(&one.condition.root);
        }
        for row in rows(&rule.limits, &rule.instead) {
            row.demand.expressions().for_each(|one| node(&one.root));
        }
    }
    for mark in &rules.marks {
        mark.of_which
            .iter()
            .for_each(|cap| node(&cap.condition.root));
        mark.pairs
            .iter()
            .for_each(|pairs| node(&pairs.condition.root));
    }
    for rule in &rules.rules {
        for one in &rule.instead {
            days.extend(one.until.map(day_number));
        }
        for row in rows(&rule.limits, &rule.instead) {
            for bound in row.demand.bounds() {
                numbers.extend(bound.exact_limit().map(Ordered));
            }
            if let Demand::Options(options) = &row.demand {
                for one in &options.rows {
                    for (column, (listed, _)) in options.columns.iter().zip(&one.values) {
                        let reach = column.within.of(&listed.value);
                        numbers.insert(Ordered(listed.value.sub(&reach)));
                        numbers.insert(Ordered(listed.value.add(&reach)));
                    }
                }
            }
        }
        if let Limits::ByZone { .. } = &rule.limits {
            numbers.insert(Ordered(Exact::ZERO));
        }
    }
    for part in &rules.vocabulary.parts {
        for zone in &part.zones {
            match &zone.kind {
                ZoneKind::WithinOfEdge(one) | ZoneKind::WithinOf { distance: one, .. } => {
                    numbers.insert(Ordered(one.clone()));
                }
                ZoneKind::Between(low, high) => {
                    numbers.insert(Ordered(low.clone()));
                    numbers.insert(Ordered(high.clone()));
                }
                ZoneKind::Along { .. } => {}
            }
        }
    }
}

fn constants(node: &Node, numbers: &mut BTreeSet<Ordered>, days: &mut BTreeSet<i64>) {
    match &node.op {
        // Days are written as times: they are no length.
        Op::Quantity { value, .. } if *value < Exact::from_integer(5000) => {
            numbers.insert(Ordered(value.clone()));
        }
        Op::Date(date) => {
            days.insert(day_number(date.first));
        }
        Op::Arithmetic(_, left, right) => {
            if let (Op::Quantity { value, .. }, Some(days_of)) = (&right.op, left_days(left)) {
                let shift = value
                    .checked_div(&Exact::from_integer(86_400))
                    .and_then(|one| one.to_i64());
                days.extend(
                    shift
                        .into_iter()
                        .flat_map(|shift| days_of.iter().map(move |day| day - shift)),
                );
            }
        }
        _ => {}
    }
    node.children()
        .into_iter()
        .for_each(|child| constants(child, numbers, days));
}

/// Days that matter for a trait that is moved by some days: those of the conditions of the generator.
fn left_days(node: &Node) -> Option<Vec<i64>> {
    matches!(node.op, Op::Trait(..)).then(|| {
        let days = super::class::DAYS.iter();
        days.map(|day| day_number(DateSpan::parse(day).unwrap().first))
            .collect()
    })
}

/// Whether every number and day of a version is compared with constants alone, so that a grid of those with what
/// lies between and beyond is complete.
pub fn is_plain(rules: &RulesFile) -> bool {
    let mut plain = true;
    let mut look = |node: &Node| {
        let mut each = |node: &Node| {
            let whole = match &node.op {
                Op::Arithmetic(..) | Op::Negate(_) => node.is_constant(),
                Op::Compare(_, left, right) => left.is_constant() || right.is_constant(),
                Op::IsSame { left, right, .. } => {
                    let choices = matches!((&left.op, &right.op), (Op::Trait(..), Op::Trait(..)));
                    choices || left.is_constant() || right.is_constant()
                }
                Op::Call(..) | Op::Sum { .. } => false,
                _ => true,
            };
            plain &= whole;
        };
        walk(node, &mut each);
    };
    for rule in &rules.rules {
        look(&rule.value.root);
        rule.when.iter().for_each(|one| look(&one.root));
        rule.instead
            .iter()
            .for_each(|one| look(&one.condition.root));
        for row in rows(&rule.limits, &rule.instead) {
            row.demand.expressions().for_each(|one| look(&one.root));
        }
    }
    for mark in &rules.marks {
        mark.of_which
            .iter()
            .for_each(|cap| look(&cap.condition.root));
        mark.pairs
            .iter()
            .for_each(|pairs| look(&pairs.condition.root));
    }
    let constant = rules.rules.iter().all(|rule| {
        let bounds = rows(&rule.limits, &rule.instead).flat_map(|row| row.demand.bounds());
        let mut limits = bounds.map(|bound| &bound.limit.root);
        let single = rule.judged == rimegauge::rules::Judged::Unplaced;
        single && limits.all(Node::is_constant)
    });
    plain && constant
}

fn walk(node: &Node, each: &mut dyn FnMut(&Node)) {
    each(node);
    node.children()
        .into_iter()
        .for_each(|child| walk(child, each));
}
