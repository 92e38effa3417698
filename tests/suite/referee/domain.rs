//! The boats that two versions of rules speak of, under common names: what can be different between two boats,
//! each as a variable with a name of its own.

use std::collections::BTreeMap;

use rimegauge::expression::{Expression, Function, Node, Op, Type};
use rimegauge::quantity::{Date, Dimension, Exact, days_between};
use rimegauge::rules::{Demand, Equals, Judged, MarkLimits, RulesFile, rows};
use rimegauge::vocabulary::{Measure, MeasureKind, Part, QuantityKind, TraitKind, ZoneKind};

/// What a trait can be in both versions together; 0 is `other`, the words count from 1.
#[derive(Clone, Debug, PartialEq)]
pub enum TraitDomain {
    Choice(Vec<String>),
    AnyOf(Vec<String>),
    Date,
    Flag,
}

#[derive(Clone, Debug)]
pub struct MeasureDomain {
    pub name: String,
    pub kind: MeasureKind,
    pub placed: bool,
    /// Of a profile: the gaps that are asked, ascending.
    pub gaps: Vec<Exact>,
    /// Numbers of a structured measure that nothing else is known of.
    pub figures: Vec<Figure>,
    /// Of a section: whether the difference of its bevels is asked.
    pub apart: bool,
    /// Whether its numbers are above zero, or from zero; nothing where any will do.
    pub low: Option<Low>,
}

/// Where the numbers of a measure begin; the later the tighter.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Low {
    FromZero,
    AboveZero,
}

/// A number that is made of a structured measure.
#[derive(Clone, Debug, PartialEq)]
pub enum Figure {
    GapAt(Exact),
    CrownRadius,
    Hollow,
    Straightness,
    Stiffness,
    Area,
    /// Under a load; whether it is a force.
    Sinks(Exact, bool),
}

impl Figure {
    /// What a call asks of a structured measure, if it is one of these.
    pub fn of(function: Function, arguments: &[Node]) -> Option<Figure> {
        let constant = || arguments.get(1).and_then(Node::constant);
        Some(match function {
            Function::GapAt => Figure::GapAt(constant()?),
            Function::CrownRadius => Figure::CrownRadius,
            Function::Hollow => Figure::Hollow,
            Function::Straightness => Figure::Straightness,
            Function::Stiffness => Figure::Stiffness,
            Function::Area => Figure::Area,
            Function::DeflectionAt => {
                let mass = matches!(&arguments[1].op, Op::Quantity { unit, .. } if unit.dimension() == Dimension::MASS);
                Figure::Sinks(constant()?, !mass)
            }
            _ => return None,
        })
    }

    fn sort(&self) -> Sort {
        match self {
            Figure::GapAt(_) | Figure::Hollow | Figure::Straightness => FROM_ZERO,
            Figure::CrownRadius | Figure::Stiffness | Figure::Area => ABOVE_ZERO,
            Figure::Sinks(..) => FREE,
        }
    }
}

/// Where the numbers of a measure begin by its kind and what is plausible.
fn low(measure: &Measure) -> Option<Low> {
    let MeasureKind::Quantity(kind) = measure.kind else {
        return None;
    };
    let sign = measure.plausible.as_ref().map(|(low, _)| low.signum());
    match (kind, sign) {
        (
            QuantityKind::Length | QuantityKind::Mass | QuantityKind::Area | QuantityKind::Force,
            None | Some(1..),
        ) => Some(Low::AboveZero),
        (
            QuantityKind::Length | QuantityKind::Mass | QuantityKind::Area | QuantityKind::Force,
            Some(0),
        )
        | (QuantityKind::Temperature, _) => Some(Low::FromZero),
        _ => None,
    }
}

#[derive(Clone, Debug, Default)]
pub struct PartDomain {
    pub name: String,
    pub traits: Vec<(String, TraitDomain)>,
    pub measures: Vec<MeasureDomain>,
    /// Of a group: the name of each role and the holding that fills it.
    pub roles: Vec<(String, usize)>,
    /// How many places each item of the kind has; 0 where nothing is placed.
    pub places: usize,
}

#[derive(Clone, Debug)]
pub struct HoldingDomain {
    pub key: String,
    pub part: usize,
    pub many: bool,
}

/// Everything that can be different between two boats, and between two checks of one.
#[derive(Clone, Debug)]
pub struct Domain {
    pub parts: Vec<PartDomain>,
    /// The boat first.
    pub holdings: Vec<HoldingDomain>,
    pub levels: Vec<String>,
    /// The most items of a holding of many.
    pub items: usize,
    /// The first day of a check, counted from 1970-01-01.
    pub first_day: i64,
}

/// Where the slots of one version lie in the domain.
#[derive(Clone, Debug, Default)]
pub struct View {
    pub parts: Vec<usize>,
    /// By holding of the version.
    pub holdings: Vec<usize>,
    pub traits: Vec<Vec<usize>>,
    /// By part, trait and choice.
    pub words: Vec<Vec<Vec<usize>>>,
    pub measures: Vec<Vec<usize>>,
    pub roles: Vec<Vec<usize>>,
}

/// A day counted from 1970-01-01.
pub fn day_number(day: Date) -> i64 {
    days_between(Date::constant(1970, 1, 1), day)
}

/// What a path of one version is called in the other one.
fn common(path: &str, other: &RulesFile) -> String {
    let renamed = other
        .vocabulary
        .renamed
        .iter()
        .find(|one| one.old.text == path);
    let own = path.rsplit('.').next().unwrap_or(path);
    renamed.map_or_else(|| own.to_owned(), |one| one.new.text.clone())
}

impl MeasureDomain {
    fn add_gap(&mut self, gap: Exact) {
        if !self.gaps.contains(&gap) {
            self.gaps.push(gap);
            self.gaps.sort();
        }
    }
}

impl Domain {
    /// The union of two vocabularies, with the view of each.
    pub fn of(old: &RulesFile, new: &RulesFile) -> (Domain, View, View) {
        let first_day = day_number(old.in_force_from.max(new.in_force_from));
        let mut domain = Domain {
            parts: Vec::new(),
            holdings: vec![HoldingDomain {
                key: "boat".to_owned(),
                part: 0,
                many: false,
            }],
            levels: Vec::new(),
            items: 1,
            first_day,
        };
        let one = domain.add(new, old);
        let other = domain.add(old, new);
        let largest = largest_count(old).max(largest_count(new));
        domain.items = usize::try_from(largest).unwrap() + 2;
        for rules in [old, new] {
            for part in &rules.vocabulary.parts {
                domain.items = domain.items.max(part.roles.len());
            }
        }
        for (rules, view) in [(new, &one), (old, &other)] {
            domain.add_figures(rules, view);
            for (at, part) in rules.vocabulary.parts.iter().enumerate() {
                let placed = part.measures.iter().any(|one| one.placed);
                // One for each side of a border and one more that may fail. A mean is below half of its highest
                // place with three, and other places may have to be elsewhere.
                let mean = rules.rules.iter().any(|rule| rule.judged == Judged::Mean);
                let places = match (placed, mean, part.zones.is_empty()) {
                    (false, _, _) => 0,
                    (true, true, false) => 5,
                    (true, true, true) => 3,
                    (true, false, false) => 4,
                    (true, false, true) => 2,
                };
                let own = &mut domain.parts[view.parts[at]].places;
                *own = (*own).max(places);
            }
        }
        (domain, other, one)
    }

    fn add(&mut self, rules: &RulesFile, other: &RulesFile) -> View {
        let vocabulary = &rules.vocabulary;
        let mut view = View::default();
        for part in &vocabulary.parts {
            let name = common(&part.name.text, other);
            let known = self.parts.iter().position(|one| one.name == name);
            let at = known.unwrap_or_else(|| {
                self.parts.push(PartDomain {
                    name: name.clone(),
                    ..PartDomain::default()
                });
                self.parts.len() - 1
            });
            view.parts.push(at);
            self.add_part(part, at, other, &mut view);
        }
        for level in &vocabulary.event_levels {
            if !self.levels.contains(&level.text) {
                self.levels.push(level.text.clone());
            }
        }
        for holding in &vocabulary.holdings {
            let key = common(&holding.key.text, other);
            let known = self.holdings.iter().position(|one| one.key == key);
            let at = known.unwrap_or_else(|| {
                self.holdings.push(HoldingDomain {
                    key,
                    part: view.parts[holding.part.index()],
                    many: holding.many,
                });
                self.holdings.len() - 1
            });
            view.holdings.push(at);
        }
        // Roles name kinds of part; the first holding of the kind fills them.
        for part in &vocabulary.parts {
            let at = view.parts[view.roles.len()];
            let mut slots = Vec::new();
            for role in &part.roles {
                let kind = view.parts[role.part.index()];
                let holding = self
                    .holdings
                    .iter()
                    .position(|one| one.part == kind)
                    .unwrap();
                let known = self.parts[at]
                    .roles
                    .iter()
                    .position(|(name, _)| *name == role.name.text);
                slots.push(known.unwrap_or_else(|| {
                    self.parts[at].roles.push((role.name.text.clone(), holding));
                    self.parts[at].roles.len() - 1
                }));
            }
            view.roles.push(slots);
        }
        view
    }

    fn add_part(&mut self, part: &Part, at: usize, other: &RulesFile, view: &mut View) {
        let own = &mut self.parts[at];
        let mut traits = Vec::new();
        let mut words_of = Vec::new();
        for one in &part.traits {
            let name = common(&format!("{}.{}", own.name, one.name.text), other);
            let kind = match &one.kind {
                TraitKind::Choice(_) => TraitDomain::Choice(Vec::new()),
                TraitKind::AnyOf(_) => TraitDomain::AnyOf(Vec::new()),
                TraitKind::Date => TraitDomain::Date,
                TraitKind::Flag => TraitDomain::Flag,
            };
            let known = own.traits.iter().position(|(known, _)| *known == name);
            let slot = known.unwrap_or_else(|| {
                own.traits.push((name.clone(), kind));
                own.traits.len() - 1
            });
            traits.push(slot);
            let mut codes = Vec::new();
            if let TraitDomain::Choice(words) | TraitDomain::AnyOf(words) = &mut own.traits[slot].1
            {
                for word in one.kind.names() {
                    let word = common(&format!("{}.{name}.{}", own.name, word.text), other);
                    let known = words.iter().position(|known| *known == word);
                    codes.push(
                        known.unwrap_or_else(|| {
                            words.push(word);
                            words.len() - 1
                        }) + 1,
                    );
                }
            }
            words_of.push(codes);
        }
        let mut measures = Vec::new();
        for one in &part.measures {
            let name = common(&format!("{}.{}", own.name, one.name.text), other);
            let known = own.measures.iter().position(|known| known.name == name);
            measures.push(known.unwrap_or_else(|| {
                own.measures.push(MeasureDomain {
                    name,
                    kind: one.kind,
                    placed: one.placed,
                    gaps: Vec::new(),
                    figures: Vec::new(),
                    apart: false,
                    low: None,
                });
                own.measures.len() - 1
            }));
            // What one version has above zero is above zero in both.
            let known = measures.last().map(|slot| &mut own.measures[*slot].low);
            known
                .into_iter()
                .for_each(|known| *known = low(one).max(*known));
        }
        view.traits.push(traits);
        view.words.push(words_of);
        view.measures.push(measures);
    }

    /// What is asked of structured measures: gaps of profiles, differences of bevels, other numbers.
    fn add_figures(&mut self, rules: &RulesFile, view: &View) {
        let vocabulary = &rules.vocabulary;
        let mut all: Vec<&Expression> = rules.derived.iter().flatten().collect();
        for rule in &rules.rules {
            all.extend(rule.when.iter().chain([&rule.value]));
            all.extend(rule.instead.iter().map(|one| &one.condition));
            for row in rows(&rule.limits, &rule.instead) {
                all.extend(row.demand.bounds().iter().map(|bound| &bound.limit));
            }
        }
        for one in all {
            one.root.visit(one.own, vocabulary, &mut |own, node| {
                let Op::Call(function, arguments) = &node.op else {
                    return;
                };
                let Op::Measure(scope, slot) = &arguments[0].op else {
                    return;
                };
                let at = scope.part(own, vocabulary).unwrap().index();
                let part = &mut self.parts[view.parts[at]];
                let measure = &mut part.measures[view.measures[at][slot.index()]];
                match function {
                    Function::FlatLength | Function::ForwardFlat | Function::AftFlat => {
                        measure.add_gap(arguments[1].constant().unwrap());
                    }
                    Function::BevelDifference => measure.apart = true,
                    _ => {
                        if let Some(figure) = Figure::of(*function, arguments)
                            && !measure.figures.contains(&figure)
                        {
                            measure.figures.push(figure);
                        }
                    }
                }
            });
        }
        for (at, own) in vocabulary.parts.iter().enumerate() {
            for zone in &own.zones {
                if let ZoneKind::Along {
                    profile, to_height, ..
                } = &zone.kind
                {
                    let slot = own.measure_named(&profile.text).unwrap();
                    let part = &mut self.parts[view.parts[at]];
                    part.measures[view.measures[at][slot.index()]].add_gap(to_height.clone());
                }
            }
        }
    }

    /// Items of a holding at most.
    pub fn count(&self, holding: usize) -> usize {
        if self.holdings[holding].many {
            self.items
        } else {
            1
        }
    }
}

/// The largest limit on a count of a version; 0 where nothing is counted.
fn largest_count(rules: &RulesFile) -> i64 {
    let mut largest = 0;
    let mut take = |count: Option<i64>| largest = largest.max(count.unwrap_or(0));
    for holding in &rules.vocabulary.holdings {
        take(Some(i64::from(holding.at_least)));
    }
    let counts = |one: &Expression| one.yields.kind == Type::Count;
    for rule in &rules.rules {
        for row in rows(&rule.limits, &rule.instead) {
            match &row.demand {
                Demand::Equals(Equals::Count(count), _) => take(Some(*count)),
                Demand::Bounds(bounds) if counts(&rule.value) => {
                    for bound in bounds {
                        take(bound.limit.root.constant().and_then(|one| ceiling(&one)));
                    }
                }
                _ => {}
            }
        }
        let conditions = rule.instead.iter().map(|one| &one.condition);
        for one in rule.when.iter().chain(conditions).chain([&rule.value]) {
            counted(&one.root, &mut take);
        }
    }
    for mark in &rules.marks {
        match &mark.limits {
            MarkLimits::Direct(limit) => take(Some(limit.at_most)),
            MarkLimits::ByLevel { rows, .. } => {
                rows.iter().for_each(|(_, limit)| take(Some(limit.at_most)));
            }
        }
        mark.of_which
            .iter()
            .for_each(|cap| take(Some(cap.limit.at_most)));
        mark.bring.iter().for_each(|one| take(Some(one.at_least)));
    }
    largest
}

fn ceiling(number: &Exact) -> Option<i64> {
    #[allow(clippy::cast_possible_truncation)]
    Some(number.to_f64().ceil() as i64)
}

/// Constants that counts are compared with in a condition.
fn counted(node: &Node, take: &mut impl FnMut(Option<i64>)) {
    if let Op::Compare(_, a, b)
    | Op::IsSame {
        left: a, right: b, ..
    } = &node.op
    {
        for (one, other) in [(a, b), (b, a)] {
            if has_count(one) {
                take(other.constant().and_then(|one| ceiling(&one)));
            }
        }
    }
    node.children()
        .into_iter()
        .for_each(|child| counted(child, take));
}

fn has_count(node: &Node) -> bool {
    matches!(node.op, Op::Count { .. }) || node.children().into_iter().any(has_count)
}

/// What a variable can be.
#[derive(Clone, Debug, PartialEq)]
pub enum Sort {
    Bool,
    /// A whole number from, to.
    Int(i64, i64),
    /// A number.
    Real(Range),
}

/// What numbers a variable can be; `None` is without end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    /// The least, and whether it is out of the range itself.
    pub low: Option<(i64, bool)>,
    /// The largest, and whether it is out of the range itself.
    pub high: Option<(i64, bool)>,
}

/// What a variable is in one boat.
#[derive(Clone, Debug, PartialEq)]
pub enum Known {
    Bool(bool),
    Int(i64),
    Real(Exact),
}

/// A boat and a check of it: every variable of the domain with its value.
pub type Boat = BTreeMap<String, Known>;

const FREE: Sort = Sort::Real(Range {
    low: None,
    high: None,
});

const FROM_ZERO: Sort = Sort::Real(Range {
    low: Some((0, false)),
    high: None,
});

const ABOVE_ZERO: Sort = Sort::Real(Range {
    low: Some((0, true)),
    high: None,
});

impl Domain {
    /// Every variable with what it can be, in a fixed order.
    pub fn variables(&self) -> Vec<(String, Sort)> {
        let levels = i64::try_from(self.levels.len()).unwrap();
        let day = |year| day_number(Date::constant(year, 1, 1));
        let items = i64::try_from(self.items).unwrap();
        let mut all = vec![
            ("stage".to_owned(), Sort::Int(0, 2)),
            ("level".to_owned(), Sort::Int(-1, levels - 1)),
            ("day".to_owned(), Sort::Int(self.first_day, day(2100))),
            // Whether it has a part that no version lists.
            ("unlisted".to_owned(), Sort::Bool),
        ];
        for (h, holding) in self.holdings.iter().enumerate() {
            if holding.many {
                all.push((format!("n_{h}"), Sort::Int(0, items)));
            }
            let part = &self.parts[holding.part];
            for i in 0..self.count(h) {
                for (t, (_, kind)) in part.traits.iter().enumerate() {
                    let codes = |words: &[String]| i64::try_from(words.len()).unwrap();
                    let name = format!("t_{h}_{i}_{t}");
                    match kind {
                        TraitDomain::Choice(words) => all.push((name, Sort::Int(0, codes(words)))),
                        TraitDomain::AnyOf(words) => {
                            let each =
                                (0..=words.len()).map(|c| (format!("{name}_{c}"), Sort::Bool));
                            all.extend(each);
                        }
                        TraitDomain::Date => {
                            all.push((name, Sort::Int(day(1900), day(2100))));
                        }
                        TraitDomain::Flag => all.push((name, Sort::Bool)),
                    }
                }
                for (m, measure) in part.measures.iter().enumerate() {
                    let name = format!("m_{h}_{i}_{m}");
                    match measure.kind {
                        MeasureKind::Quantity(kind) => {
                            let sort = match (kind, measure.low) {
                                (QuantityKind::Angle, _) => Sort::Real(Range {
                                    low: Some((0, false)),
                                    high: Some((180, false)),
                                }),
                                (_, Some(Low::AboveZero)) => ABOVE_ZERO,
                                (_, Some(Low::FromZero)) => FROM_ZERO,
                                (_, None) => FREE,
                            };
                            if measure.placed {
                                let each =
                                    (0..part.places).map(|p| (format!("{name}_{p}"), sort.clone()));
                                all.extend(each);
                            } else {
                                all.push((name, sort));
                            }
                        }
                        MeasureKind::YesNo => all.push((name, Sort::Bool)),
                        MeasureKind::Section => {
                            // Two bevels, each above 0 and below 90 degrees.
                            let angle = Sort::Real(Range {
                                low: Some((0, true)),
                                high: Some((180, true)),
                            });
                            let each =
                                (0..part.places).map(|p| (format!("{name}_{p}"), angle.clone()));
                            all.extend(each);
                            if measure.apart {
                                let each = (0..part.places)
                                    .map(|p| (format!("apart_{h}_{i}_{m}_{p}"), FREE));
                                all.extend(each);
                            }
                        }
                        MeasureKind::Profile => {
                            for g in 0..measure.gaps.len() {
                                all.push((format!("fore_{h}_{i}_{m}_{g}"), ABOVE_ZERO));
                                all.push((format!("aft_{h}_{i}_{m}_{g}"), ABOVE_ZERO));
                            }
                        }
                        MeasureKind::Line | MeasureKind::LoadTest | MeasureKind::Outline => {}
                    }
                    for (f, figure) in measure.figures.iter().enumerate() {
                        all.push((format!("figure_{h}_{i}_{m}_{f}"), figure.sort()));
                    }
                }
                for p in 0..part.places {
                    all.push((format!("at_{h}_{i}_{p}"), FREE));
                    all.push((format!("edge_{h}_{i}_{p}"), FROM_ZERO));
                }
                for (r, (_, filled_by)) in part.roles.iter().enumerate() {
                    let count = i64::try_from(self.count(*filled_by)).unwrap();
                    all.push((format!("r_{h}_{i}_{r}"), Sort::Int(0, count - 1)));
                }
            }
        }
        all
    }
}
