//! Two versions as formulas of SMT-LIB, straight from the definitions of the formats: explicit items, explicit
//! places, three-valued truth. Made to be obviously right rather than fast.
//!
//! Source: Barrett, Fontaine, Tinelli, The SMT-LIB Standard, version 2.6 (2017).

use rimegauge::expression::{Arithmetic, Comparison, Expression, Function, Node, Op, Scope};
use rimegauge::quantity::{DateSpan, Exact};
use rimegauge::rules::{
    BoundKind, Demand, Equals, Judged, LimitRow, Limits, MarkLimits, Options, Rule, RulesFile,
    Silence, Stage,
};
use rimegauge::vocabulary::{
    ChoiceId, HoldingId, MeasureId, MeasureKind, PartId, TraitId, TraitKind, ZoneId, ZoneKind,
};

use super::domain::{Domain, Figure, Sort, TraitDomain, View, day_number};

/// A term or formula.
type S = String;

const YES: &str = "true";
const NO: &str = "false";

pub fn and(list: impl IntoIterator<Item = S>) -> S {
    let mut kept: Vec<S> = Vec::new();
    for one in list {
        if one == NO {
            return NO.to_owned();
        }
        if one != YES && !kept.contains(&one) {
            kept.push(one);
        }
    }
    match &kept[..] {
        [] => YES.to_owned(),
        [one] => one.clone(),
        _ => format!("(and {})", kept.join(" ")),
    }
}

pub fn or(list: impl IntoIterator<Item = S>) -> S {
    let mut kept: Vec<S> = Vec::new();
    for one in list {
        if one == YES {
            return YES.to_owned();
        }
        if one != NO && !kept.contains(&one) {
            kept.push(one);
        }
    }
    match &kept[..] {
        [] => NO.to_owned(),
        [one] => one.clone(),
        _ => format!("(or {})", kept.join(" ")),
    }
}

pub fn not(one: &str) -> S {
    match one {
        YES => NO.to_owned(),
        NO => YES.to_owned(),
        _ => format!("(not {one})"),
    }
}

fn implies(one: &str, other: S) -> S {
    or([not(one), other])
}

fn ite(of: &str, yes: &str, no: &str) -> S {
    match of {
        YES => yes.to_owned(),
        NO => no.to_owned(),
        _ if yes == no => yes.to_owned(),
        _ => format!("(ite {of} {yes} {no})"),
    }
}

fn same(a: &str, b: &str) -> S {
    if a == b {
        YES.to_owned()
    } else {
        format!("(= {a} {b})")
    }
}

/// An exact number as a term.
pub fn number(exact: &Exact) -> S {
    let text = exact.to_string();
    let (sign, text) = match text.strip_prefix('-') {
        Some(rest) => (true, rest.to_owned()),
        None => (false, text),
    };
    let real = |text: &str| {
        if text.contains('.') {
            text.to_owned()
        } else {
            format!("{text}.0")
        }
    };
    let text = match text.split_once('/') {
        Some((n, d)) => format!("(/ {} {})", real(n), real(d)),
        None => real(&text),
    };
    if sign { format!("(- {text})") } else { text }
}

fn integer(number: i64) -> S {
    if number < 0 {
        format!("(- {})", -number)
    } else {
        number.to_string()
    }
}

/// A truth: when it is sure to hold, when it is sure not to. Neither is a doubt.
#[derive(Clone, Debug)]
struct Truth {
    yes: S,
    no: S,
}

impl Truth {
    fn sure(yes: S) -> Truth {
        let no = not(&yes);
        Truth { yes, no }
    }

    fn flip(self) -> Truth {
        Truth {
            yes: self.no,
            no: self.yes,
        }
    }

    fn doubt(&self) -> S {
        if self.no == not(&self.yes) {
            return NO.to_owned();
        }
        and([not(&self.yes), not(&self.no)])
    }
}

/// An item: a holding of the domain and its number.
type Item = (usize, usize);

/// A value, with when it is known.
#[derive(Clone, Debug)]
enum Val {
    Number(S, S),
    /// At each place of the item.
    Places(Vec<(S, S)>),
    /// From, to.
    Count(S, S),
    Choice(S),
    /// By choice of the version; the first is `other`.
    AnyOf(Vec<S>),
    Date(S),
    Level,
    Answer(Truth),
    Structured(Item, usize),
}

/// One version being written.
pub struct Version<'a> {
    rules: &'a RulesFile,
    domain: &'a Domain,
    view: &'a View,
    mark: &'static str,
    /// Definitions so far.
    pub text: String,
    count: usize,
}

/// What a rule comes to on an item.
struct Outcome {
    /// It conforms, or does not apply.
    good: S,
    /// It does not apply.
    idle: S,
}

impl Outcome {
    fn idle() -> Outcome {
        Outcome {
            good: YES.to_owned(),
            idle: YES.to_owned(),
        }
    }

    fn of(good: S) -> Outcome {
        Outcome {
            good,
            idle: NO.to_owned(),
        }
    }
}

fn item_count(domain: &Domain, holding: usize) -> usize {
    domain.count(holding)
}

impl<'a> Version<'a> {
    pub fn new(
        rules: &'a RulesFile,
        domain: &'a Domain,
        view: &'a View,
        mark: &'static str,
    ) -> Version<'a> {
        Version {
            rules,
            domain,
            view,
            mark,
            text: String::new(),
            count: 0,
        }
    }

    /// Gives a long term a name, so that it is written once.
    fn named(&mut self, term: S, sort: &str) -> S {
        // A quotient stays one, so that what it is compared with can be multiplied out.
        if term.len() < 40 || quotient(&term).is_some() {
            return term;
        }
        self.count += 1;
        let name = format!("{}{}", self.mark, self.count);
        self.text
            .push_str(&format!("(define-fun {name} () {sort} {term})\n"));
        name
    }

    fn named_truth(&mut self, truth: Truth) -> Truth {
        if truth.no == not(&truth.yes) {
            return Truth::sure(self.named(truth.yes, "Bool"));
        }
        Truth {
            yes: self.named(truth.yes, "Bool"),
            no: self.named(truth.no, "Bool"),
        }
    }

    fn exists(&self, item: Item) -> S {
        if self.domain.holdings[item.0].many {
            format!("(< {} n_{})", item.1, item.0)
        } else {
            YES.to_owned()
        }
    }

    fn items(&self, holding: usize) -> Vec<Item> {
        (0..item_count(self.domain, holding))
            .map(|i| (holding, i))
            .collect()
    }

    /// The part of the version that an item is.
    fn part_of(&self, item: Item) -> Option<PartId> {
        let part = self.domain.holdings[item.0].part;
        let slot = self.view.parts.iter().position(|one| *one == part)?;
        Some(PartId(u16::try_from(slot).unwrap()))
    }

    fn holding(&self, id: HoldingId) -> usize {
        self.view.holdings[id.index()]
    }

    /// The choice of a trait as the version sees it: 0 for all that it does not list.
    fn choice(&self, item: Item, part: PartId, id: TraitId) -> S {
        let slot = self.view.traits[part.index()][id.index()];
        let name = format!("t_{}_{}_{slot}", item.0, item.1);
        let codes = &self.view.words[part.index()][id.index()];
        let (_, kind) = &self.domain.parts[self.view.parts[part.index()]].traits[slot];
        let TraitDomain::Choice(words) = kind else {
            panic!("not a choice")
        };
        if codes.len() == words.len() {
            return name;
        }
        let known = or(codes.iter().map(|code| same(&name, &code.to_string())));
        ite(&known, &name, "0")
    }

    fn code(&self, part: PartId, id: TraitId, choice: Option<ChoiceId>) -> S {
        match choice {
            None => "0".to_owned(),
            Some(choice) => self.view.words[part.index()][id.index()][choice.index()].to_string(),
        }
    }

    fn trait_value(&self, item: Item, id: TraitId) -> Val {
        let part = self.part_of(item).unwrap();
        let slot = self.view.traits[part.index()][id.index()];
        let name = format!("t_{}_{}_{slot}", item.0, item.1);
        match &self.rules.vocabulary.parts[part.index()].traits[id.index()].kind {
            TraitKind::Choice(_) => Val::Choice(self.choice(item, part, id)),
            TraitKind::AnyOf(_) => {
                let codes = &self.view.words[part.index()][id.index()];
                let (_, kind) = &self.domain.parts[self.view.parts[part.index()]].traits[slot];
                let TraitDomain::AnyOf(words) = kind else {
                    panic!("not a list")
                };
                let strange = (0..=words.len()).filter(|code| !codes.contains(code));
                let mut list = vec![or(strange.map(|code| format!("{name}_{code}")))];
                list.extend(codes.iter().map(|code| format!("{name}_{code}")));
                Val::AnyOf(list)
            }
            TraitKind::Date => Val::Date(name),
            TraitKind::Flag => Val::Answer(Truth::sure(name)),
        }
    }

    fn measure_value(&self, item: Item, id: MeasureId) -> Val {
        let part = self.part_of(item).unwrap();
        let slot = self.view.measures[part.index()][id.index()];
        let name = format!("m_{}_{}_{slot}", item.0, item.1);
        let own = &self.domain.parts[self.view.parts[part.index()]];
        let places = || {
            let each = (0..own.places).map(|p| (format!("{name}_{p}"), YES.to_owned()));
            Val::Places(each.collect())
        };
        let measure = &own.measures[slot];
        match measure.kind {
            MeasureKind::Quantity(_) if measure.placed => places(),
            MeasureKind::Quantity(_) => Val::Number(name, YES.to_owned()),
            MeasureKind::YesNo => Val::Answer(Truth::sure(name)),
            MeasureKind::Section => places(),
            MeasureKind::Profile
            | MeasureKind::Line
            | MeasureKind::LoadTest
            | MeasureKind::Outline => Val::Structured(item, slot),
        }
    }

    /// What a scope means on an item: one item, or any of several, each with when it is meant.
    fn meant(&self, scope: Scope, own: Item) -> Vec<(S, Item)> {
        match scope {
            Scope::Own => vec![(YES.to_owned(), own)],
            Scope::Boat => vec![(YES.to_owned(), (0, 0))],
            Scope::One(id) => vec![(YES.to_owned(), (self.holding(id), 0))],
            Scope::Role(role) => {
                let part = self.part_of(own).unwrap();
                let slot = self.view.roles[part.index()][role.index()];
                let (_, filled_by) =
                    self.domain.parts[self.domain.holdings[own.0].part].roles[slot];
                let name = format!("r_{}_{}_{slot}", own.0, own.1);
                let items = self.items(filled_by).into_iter();
                items
                    .map(|item| (same(&name, &item.1.to_string()), item))
                    .collect()
            }
        }
    }

    fn leaf(&mut self, scope: Scope, own: Item, each: &dyn Fn(&mut Self, Item) -> Val) -> Val {
        let mut meant = self.meant(scope, own);
        let (_, last) = meant.pop().unwrap();
        let mut found = each(self, last);
        for (when, item) in meant.into_iter().rev() {
            let one = each(self, item);
            found = merged(&when, one, found);
        }
        found
    }

    fn value(&mut self, node: &Node, own: Item) -> Val {
        match &node.op {
            Op::Quantity { value, .. } => Val::Number(number(value), YES.to_owned()),
            Op::Date(date) => Val::Date(integer(day_number(only_day(date)))),
            Op::YesNo(yes) => Val::Answer(Truth::sure(yes.to_string())),
            Op::Measure(scope, id) => {
                self.leaf(*scope, own, &|this, item| this.measure_value(item, *id))
            }
            Op::Trait(scope, id) => {
                self.leaf(*scope, own, &|this, item| this.trait_value(item, *id))
            }
            Op::Derived(scope, id) => self.leaf(*scope, own, &|this, item| {
                let part = this.part_of(item).unwrap();
                let rules = this.rules;
                let of = rules.derived_value(part, *id).unwrap();
                this.value(&of.root, item)
            }),
            Op::EventLevel => Val::Level,
            Op::EventDay | Op::Day => Val::Date("day".to_owned()),
            Op::Negate(inner) => match self.value(inner, own) {
                Val::Number(one, known) => Val::Number(format!("(- {one})"), known),
                Val::Count(a, b) => Val::Count(format!("(- {b})"), format!("(- {a})")),
                Val::Places(list) => Val::Places(
                    list.into_iter()
                        .map(|(one, known)| (format!("(- {one})"), known))
                        .collect(),
                ),
                other => panic!("no sign before {other:?}"),
            },
            Op::Arithmetic(operation, left, right) => {
                let (a, b) = (self.value(left, own), self.value(right, own));
                if let Val::Date(date) = &a {
                    let time = right.constant().unwrap();
                    let days = time.checked_div(&Exact::from_integer(86_400)).unwrap();
                    let sign = if *operation == Arithmetic::Add {
                        "+"
                    } else {
                        "-"
                    };
                    return Val::Date(format!(
                        "({sign} {date} {})",
                        integer(days.to_i64().unwrap())
                    ));
                }
                arithmetic(*operation, a, b)
            }
            Op::Compare(..)
            | Op::IsChoice { .. }
            | Op::IsLevel { .. }
            | Op::IsSame { .. }
            | Op::Truth(_)
            | Op::Not(_)
            | Op::And(_)
            | Op::Or(_) => Val::Answer(self.truth(node, own)),
            Op::Call(function, arguments) => self.call(*function, arguments, own),
            Op::Count { over, condition } => {
                let (mut low, mut high) = (Vec::new(), Vec::new());
                for item in self.items(self.holding(*over)) {
                    let there = self.exists(item);
                    let truth = match condition {
                        None => Truth::sure(YES.to_owned()),
                        Some(of) => self.truth(of, item),
                    };
                    low.push(ite(&and([there.clone(), truth.yes]), "1.0", "0.0"));
                    high.push(ite(&and([there, not(&truth.no)]), "1.0", "0.0"));
                }
                let low = total(&low);
                let high = total(&high);
                let low = self.named(low, "Real");
                let high = self.named(high, "Real");
                // One name for one number where nothing is in doubt.
                let high = if self.text.contains(&format!("(define-fun {high} () Real "))
                    && definition(&self.text, &high) == definition(&self.text, &low)
                {
                    low.clone()
                } else {
                    high
                };
                Val::Count(low, high)
            }
            Op::Sum {
                over,
                value,
                condition,
            } => {
                let (mut sum, mut known) = (Vec::new(), Vec::new());
                for item in self.items(self.holding(*over)) {
                    let there = self.exists(item);
                    let truth = match condition {
                        None => Truth::sure(YES.to_owned()),
                        Some(of) => self.truth(of, item),
                    };
                    let (one, fine) = self.single(value, item);
                    let taken = and([there.clone(), truth.yes.clone()]);
                    sum.push(ite(&taken, &one, "0.0"));
                    known.push(implies(&there, not(&truth.doubt())));
                    known.push(implies(&taken, fine));
                }
                Val::Number(total(&sum), and(known))
            }
        }
    }

    /// One number, with when it is known.
    fn single(&mut self, node: &Node, own: Item) -> (S, S) {
        let value = self.value(node, own);
        let (one, known) = whole(value);
        (self.named(one, "Real"), self.named(known, "Bool"))
    }

    fn call(&mut self, function: Function, arguments: &[Node], own: Item) -> Val {
        match function {
            Function::Abs => match self.value(&arguments[0], own) {
                Val::Places(list) => Val::Places(
                    list.into_iter()
                        .map(|(one, known)| (absolute(&one), known))
                        .collect(),
                ),
                other => {
                    let (one, known) = whole(other);
                    let one = self.named(one, "Real");
                    Val::Number(absolute(&one), known)
                }
            },
            Function::Min | Function::Max => {
                let sign = if function == Function::Min {
                    "<="
                } else {
                    ">="
                };
                let mut found: Option<(S, S)> = None;
                for node in arguments {
                    let (one, known) = self.single(node, own);
                    found = Some(match found {
                        None => (one, known),
                        Some((best, both)) => {
                            let best = self.named(best, "Real");
                            (
                                ite(&format!("({sign} {best} {one})"), &best, &one),
                                and([both, known]),
                            )
                        }
                    });
                }
                let (one, known) = found.unwrap();
                Val::Number(one, known)
            }
            Function::Lowest | Function::Highest => {
                let sign = if function == Function::Lowest {
                    "<="
                } else {
                    ">="
                };
                let Val::Places(list) = self.value(&arguments[0], own) else {
                    panic!("nothing at places")
                };
                let mut list = list.into_iter();
                let (mut best, mut known) = list.next().unwrap();
                for (one, fine) in list {
                    let one = self.named(one, "Real");
                    best = self.named(best, "Real");
                    best = ite(&format!("({sign} {best} {one})"), &best, &one);
                    known = and([known, fine]);
                }
                Val::Number(best, known)
            }
            Function::FlatLength | Function::ForwardFlat | Function::AftFlat => {
                let Val::Structured(item, m) = self.value(&arguments[0], own) else {
                    panic!("no profile")
                };
                let gap = arguments[1].constant().unwrap();
                let (fore, aft) = self.reaches(item, m, &gap);
                let one = match function {
                    Function::ForwardFlat => fore,
                    Function::AftFlat => aft,
                    _ => format!("(+ {fore} {aft})"),
                };
                Val::Number(one, YES.to_owned())
            }
            Function::IncludedAngle => self.value(&arguments[0], own),
            Function::BevelDifference => {
                let Op::Measure(scope, id) = &arguments[0].op else {
                    panic!("no section")
                };
                self.leaf(*scope, own, &|this, (h, i)| {
                    let part = this.part_of((h, i)).unwrap();
                    let slot = this.view.measures[part.index()][id.index()];
                    let places = this.domain.parts[this.view.parts[part.index()]].places;
                    let each = (0..places).map(|p| {
                        let apart = format!("apart_{h}_{i}_{slot}_{p}");
                        (absolute(&apart), YES.to_owned())
                    });
                    Val::Places(each.collect())
                })
            }
            Function::GapAt
            | Function::CrownRadius
            | Function::Hollow
            | Function::Straightness
            | Function::Stiffness
            | Function::DeflectionAt
            | Function::Area => {
                let Val::Structured((h, i), m) = self.value(&arguments[0], own) else {
                    panic!("nothing structured")
                };
                let figure = Figure::of(function, arguments).unwrap();
                let part = &self.domain.parts[self.domain.holdings[h].part];
                let known = part.measures[m].figures.iter();
                let f = known.clone().position(|one| *one == figure).unwrap();
                Val::Number(format!("figure_{h}_{i}_{m}_{f}"), YES.to_owned())
            }
            other => panic!("{other:?} is not encoded"),
        }
    }

    /// How far from the pivot a leaf of a profile binds, fore and aft.
    fn reaches(&self, (h, i): Item, m: usize, gap: &Exact) -> (S, S) {
        let part = &self.domain.parts[self.domain.holdings[h].part];
        let gaps = &part.measures[m].gaps;
        let g = gaps.iter().position(|one| one == gap).unwrap();
        (
            format!("fore_{h}_{i}_{m}_{g}"),
            format!("aft_{h}_{i}_{m}_{g}"),
        )
    }

    fn truth(&mut self, node: &Node, own: Item) -> Truth {
        let found = match &node.op {
            Op::And(list) => {
                let list: Vec<Truth> = list.iter().map(|one| self.truth(one, own)).collect();
                let (yes, no) = (
                    list.iter().map(|one| one.yes.clone()),
                    list.iter().map(|one| one.no.clone()),
                );
                joined(and(yes), or(no), &list)
            }
            Op::Or(list) => {
                let list: Vec<Truth> = list.iter().map(|one| self.truth(one, own)).collect();
                let (yes, no) = (
                    list.iter().map(|one| one.yes.clone()),
                    list.iter().map(|one| one.no.clone()),
                );
                joined(or(yes), and(no), &list)
            }
            Op::Not(inner) => self.truth(inner, own).flip(),
            Op::Truth(inner) => self.answer(inner, own),
            Op::IsChoice {
                subject,
                choices,
                negated,
            } => {
                let Op::Trait(scope, id) = &subject.op else {
                    panic!("no trait")
                };
                let part = scope
                    .part(self.part_of(own).unwrap(), &self.rules.vocabulary)
                    .unwrap();
                let Val::Choice(is) = self.value(subject, own) else {
                    panic!("no choice")
                };
                let is = self.named(is, "Int");
                let codes = choices
                    .iter()
                    .map(|one| same(&is, &self.code(part, *id, *one)));
                let truth = Truth::sure(or(codes));
                if *negated { truth.flip() } else { truth }
            }
            Op::IsLevel { levels, negated } => {
                let codes = levels.iter().map(|one| same("level", &self.level(*one)));
                let held = or(codes);
                let given = "(>= level 0)".to_owned();
                let truth = Truth {
                    no: and([given, not(&held)]),
                    yes: held,
                };
                if *negated { truth.flip() } else { truth }
            }
            Op::IsSame {
                left,
                right,
                negated,
            } => {
                let (a, b) = (self.value(left, own), self.value(right, own));
                let truth = match (a, b) {
                    (Val::Choice(a), Val::Choice(b)) | (Val::Date(a), Val::Date(b)) => {
                        Truth::sure(same(&a, &b))
                    }
                    (Val::Answer(a), Val::Answer(b)) => Truth {
                        yes: or([
                            and([a.yes.clone(), b.yes.clone()]),
                            and([a.no.clone(), b.no.clone()]),
                        ]),
                        no: or([and([a.yes, b.no]), and([a.no, b.yes])]),
                    },
                    (a, b) => {
                        let ((al, ah, ak), (bl, bh, bk)) = (range(a), range(b));
                        Truth {
                            yes: and([
                                ak.clone(),
                                bk.clone(),
                                same(&al, &ah),
                                same(&bl, &bh),
                                same(&al, &bl),
                            ]),
                            no: and([
                                ak,
                                bk,
                                or([format!("(< {ah} {bl})"), format!("(< {bh} {al})")]),
                            ]),
                        }
                    }
                };
                if *negated { truth.flip() } else { truth }
            }
            Op::Compare(comparison, left, right) => {
                let (a, b) = (self.value(left, own), self.value(right, own));
                match (a, b) {
                    (Val::Date(a), Val::Date(b)) => {
                        Truth::sure(format!("({} {a} {b})", comparison.word()))
                    }
                    (a, b) => {
                        let ((al, ah, ak), (bl, bh, bk)) = (range(a), range(b));
                        let known = and([ak, bk]);
                        let (yes, no) = match comparison {
                            Comparison::Less => {
                                (format!("(< {ah} {bl})"), format!("(>= {al} {bh})"))
                            }
                            Comparison::LessOrEqual => {
                                (format!("(<= {ah} {bl})"), format!("(> {al} {bh})"))
                            }
                            Comparison::Greater => {
                                (format!("(> {al} {bh})"), format!("(<= {ah} {bl})"))
                            }
                            Comparison::GreaterOrEqual => {
                                (format!("(>= {al} {bh})"), format!("(< {ah} {bl})"))
                            }
                        };
                        if known == YES && al == ah && bl == bh {
                            Truth::sure(yes)
                        } else {
                            Truth {
                                yes: and([known.clone(), yes]),
                                no: and([known, no]),
                            }
                        }
                    }
                }
            }
            _ => self.answer(node, own),
        };
        self.named_truth(found)
    }

    fn answer(&mut self, node: &Node, own: Item) -> Truth {
        match self.value(node, own) {
            Val::Answer(truth) => truth,
            other => panic!("no answer: {other:?}"),
        }
    }

    fn level(&self, id: ChoiceId) -> S {
        let name = &self.rules.vocabulary.event_levels[id.index()].text;
        let at = self
            .domain
            .levels
            .iter()
            .position(|one| one == name)
            .unwrap();
        at.to_string()
    }

    // ---- rules

    /// When a boat is legal, and when its places are enough, as the names of two formulas.
    pub fn legal(&mut self) -> (S, S) {
        let mut legal = Vec::new();
        let mut enough = Vec::new();
        let vocabulary = &self.rules.vocabulary;
        for (at, holding) in vocabulary.holdings.iter().enumerate() {
            let own = self.view.holdings[at];
            if self.domain.holdings[own].many {
                legal.push(format!("(>= n_{own} {})", holding.at_least));
            }
        }
        for h in 0..self.domain.holdings.len() {
            let known = h == 0 || self.view.holdings.contains(&h);
            if !known {
                continue;
            }
            for item in self.items(h) {
                let part = self.part_of(item).unwrap();
                let there = self.exists(item);
                for rule in &self.rules.rules {
                    if rule.applies_to == part {
                        let (good, places) = self.rule(rule, item);
                        legal.push(implies(&there, good));
                        enough.push(implies(&there, places));
                    }
                }
                let good = self.silence(item, part);
                legal.push(implies(&there, good));
            }
        }
        if self.rules.silence == Silence::Forbids {
            legal.push(not("unlisted"));
        }
        self.marks(&mut legal);
        let legal: Vec<S> = legal
            .into_iter()
            .map(|one| self.named(one, "Bool"))
            .collect();
        let enough: Vec<S> = enough
            .into_iter()
            .map(|one| self.named(one, "Bool"))
            .collect();
        (and(legal), and(enough))
    }

    /// When a rule is asked at all.
    fn asked(&self, rule: &Rule) -> S {
        let stages = Stage::ALL
            .into_iter()
            .filter(|stage| *rule.checked_at.at(*stage));
        let stages: Vec<S> = stages
            .map(|stage| same("stage", &stage.index().to_string()))
            .collect();
        let stage = if stages.len() == 3 {
            YES.to_owned()
        } else {
            or(stages)
        };
        // Without a level it is asked at the event alone, and there it is open.
        let event = if rule.names_event {
            or(["(>= level 0)".to_owned(), same("stage", "2")])
        } else {
            YES.to_owned()
        };
        and([stage, event])
    }

    /// When a rule is met by all items that it speaks of.
    #[allow(dead_code, reason = "the measure of proofs asks rule by rule")]
    pub fn met(&mut self, rule: &Rule) -> S {
        let mut all = Vec::new();
        for h in 0..self.domain.holdings.len() {
            if h > 0 && !self.view.holdings.contains(&h) {
                continue;
            }
            for item in self.items(h) {
                if self.part_of(item) == Some(rule.applies_to) {
                    let there = self.exists(item);
                    let (good, _) = self.rule(rule, item);
                    all.push(implies(&there, good));
                }
            }
        }
        and(all)
    }

    /// When a rule is met on an item, and when its places are enough.
    fn rule(&mut self, rule: &Rule, item: Item) -> (S, S) {
        let asked = self.asked(rule);
        let when = match &rule.when {
            None => Truth::sure(YES.to_owned()),
            Some(when) => self.truth(&when.root, item),
        };
        let mut found = self.main(rule, item);
        for one in rule.instead.iter().rev() {
            let over = match one.until {
                None => NO.to_owned(),
                Some(until) => format!("(> day {})", integer(day_number(until))),
            };
            let of = self.truth(&one.condition.root, item);
            let row = self.row(rule, &one.row, item);
            let doubt = of.doubt();
            let both = |a: &Outcome, b: &Outcome| {
                and([a.good.clone(), b.good.clone(), same(&a.idle, &b.idle)])
            };
            let doubtful = if one.unproven_takes_main {
                found.good.clone()
            } else {
                both(&row, &found)
            };
            let next = or([over, of.no.clone()]);
            let good = ite(
                &next,
                &found.good,
                &ite(&of.yes, &row.good, &ite(&doubt, &doubtful, NO)),
            );
            let idle = ite(&next, &found.idle, &ite(&of.yes, &row.idle, &found.idle));
            found = Outcome {
                good: self.named(good, "Bool"),
                idle: self.named(idle, "Bool"),
            };
        }
        let doubt = when.doubt();
        let good = or([
            when.no.clone(),
            and([when.yes.clone(), found.good.clone()]),
            and([doubt, found.idle.clone(), found.good.clone()]),
        ]);
        let open = if rule.names_event {
            not(&and([same("stage", "2"), "(< level 0)".to_owned()]))
        } else {
            YES.to_owned()
        };
        let good = implies(&asked, and([open, good]));
        let places = self.enough(rule, item);
        (good, implies(&and([asked, not(&when.no)]), places))
    }

    /// What the table of a rule asks, where nothing is exempt.
    fn main(&mut self, rule: &Rule, item: Item) -> Outcome {
        let part = self.part_of(item).unwrap();
        let no_row = match self.rules.silence {
            Silence::Forbids => Outcome::of(NO.to_owned()),
            Silence::Permits => Outcome::idle(),
        };
        let choose = |this: &mut Self, cases: Vec<(S, &LimitRow)>, rest: Outcome| {
            let mut found = rest;
            for (when, row) in cases.into_iter().rev() {
                let one = this.row(rule, row, item);
                found = Outcome {
                    good: ite(&when, &one.good, &found.good),
                    idle: ite(&when, &one.idle, &found.idle),
                };
            }
            Outcome {
                good: this.named(found.good, "Bool"),
                idle: this.named(found.idle, "Bool"),
            }
        };
        match &rule.limits {
            Limits::Direct(row) => self.row(rule, row, item),
            Limits::ByTrait { by, rows, .. } => {
                let is = self.choice(item, part, *by);
                let is = self.named(is, "Int");
                let cases = rows
                    .iter()
                    .map(|(choice, row)| (same(&is, &self.code(part, *by, Some(*choice))), row));
                let cases = cases.collect();
                choose(self, cases, no_row)
            }
            Limits::ByTraits { by, rows, .. } => {
                let mut cases = Vec::new();
                for (choices, row) in rows {
                    let each = by.iter().zip(choices).map(|(id, choice)| {
                        same(
                            &self.choice(item, part, *id),
                            &self.code(part, *id, Some(*choice)),
                        )
                    });
                    cases.push((and(each), row));
                }
                choose(self, cases, no_row)
            }
            Limits::ByLevel { rows, .. } => {
                let cases = rows
                    .iter()
                    .map(|(level, row)| (same("level", &self.level(*level)), row));
                let cases = cases.collect();
                choose(self, cases, Outcome::idle())
            }
            Limits::ByZone { rows, .. } => {
                let Val::Places(places) = self.value(&rule.value.root, item) else {
                    panic!("nothing at places")
                };
                let mut all = Vec::new();
                for (p, (one, known)) in places.iter().enumerate() {
                    let looked = self.looked(rule, item, p);
                    for (zone, row) in rows {
                        let meets = self.meets(rows, *zone, item, p);
                        let good = self.bounds(row.demand.bounds(), (one, known), item);
                        all.push(implies(&and([looked.clone(), meets]), good));
                    }
                }
                Outcome::of(and(all))
            }
        }
    }

    fn row(&mut self, rule: &Rule, row: &LimitRow, item: Item) -> Outcome {
        match &row.demand {
            Demand::None => Outcome::idle(),
            Demand::Equals(equals, _) => {
                let value = self.value(&rule.value.root, item);
                Outcome::of(match (value, equals) {
                    (Val::Answer(truth), Equals::YesNo(true)) => truth.yes,
                    (Val::Answer(truth), Equals::YesNo(false)) => truth.no,
                    (Val::Choice(is), Equals::Choice(asked)) => {
                        let (part, id) = self.trait_of(&rule.value, item);
                        same(&is, &self.code(part, id, Some(*asked)))
                    }
                    (Val::Count(low, high), Equals::Count(asked)) => {
                        let asked = number(&Exact::from_integer(*asked));
                        and([same(&low, &asked), same(&high, &asked)])
                    }
                    other => panic!("{other:?}"),
                })
            }
            Demand::Only(list, _) => Outcome::of(self.listed(rule, item, &|choice| {
                choice.is_some_and(|choice| list.contains(&choice))
            })),
            Demand::Without(list, _) => Outcome::of(self.listed(rule, item, &|choice| {
                choice.is_none_or(|choice| !list.contains(&choice))
            })),
            Demand::Options(options) => {
                let good = self.options(options, item);
                Outcome::of(good)
            }
            Demand::Bounds(bounds) => match self.value(&rule.value.root, item) {
                Val::Number(one, known) => {
                    let (one, known) = (self.named(one, "Real"), self.named(known, "Bool"));
                    Outcome::of(self.bounds(bounds, (&one, &known), item))
                }
                Val::Count(low, high) => {
                    let both = [&low, &high];
                    let each = both.map(|one| self.bounds(bounds, (one, YES), item));
                    Outcome::of(and(each))
                }
                Val::Places(places) => self.placed(rule, bounds, &places, item),
                other => panic!("no bound on {other:?}"),
            },
        }
    }

    /// The trait that a value is.
    fn trait_of(&self, value: &Expression, item: Item) -> (PartId, TraitId) {
        let Op::Trait(scope, id) = &value.root.op else {
            panic!("no trait")
        };
        let part = scope.part(self.part_of(item).unwrap(), &self.rules.vocabulary);
        (part.unwrap(), *id)
    }

    /// Nothing is declared that is not allowed.
    fn listed(&mut self, rule: &Rule, item: Item, allowed: &dyn Fn(Option<ChoiceId>) -> bool) -> S {
        let (part, id) = self.trait_of(&rule.value, item);
        let count = u16::try_from(self.view.words[part.index()][id.index()].len()).unwrap();
        let choices: Vec<Option<ChoiceId>> = std::iter::once(None)
            .chain((0..count).map(|at| Some(ChoiceId(at))))
            .collect();
        match self.value(&rule.value.root, item) {
            Val::AnyOf(list) => {
                let bad = choices
                    .iter()
                    .zip(list)
                    .filter(|(choice, _)| !allowed(**choice));
                and(bad.map(|(_, there)| not(&there)))
            }
            Val::Choice(is) => {
                let good = choices.iter().filter(|choice| allowed(**choice));
                or(good.map(|choice| same(&is, &self.code(part, id, *choice))))
            }
            other => panic!("no list: {other:?}"),
        }
    }

    fn options(&mut self, options: &Options, item: Item) -> S {
        let mut rows = Vec::new();
        for row in &options.rows {
            let mut columns = Vec::new();
            for (column, (listed, _)) in options.columns.iter().zip(&row.values) {
                let (one, known) = self.single(&column.value.root, item);
                let reach = column.within.of(&listed.value);
                columns.push(known);
                columns.push(format!("(>= {one} {})", number(&listed.value.sub(&reach))));
                columns.push(format!("(<= {one} {})", number(&listed.value.add(&reach))));
            }
            rows.push(and(columns));
        }
        or(rows)
    }

    /// One number within all bounds of a row.
    fn bounds(
        &mut self,
        bounds: &[rimegauge::rules::Bound],
        (one, known): (&str, &str),
        item: Item,
    ) -> S {
        let mut all = vec![known.to_owned()];
        for bound in bounds {
            let (limit, fine) = match &bound.rounded {
                Some(rounded) => (number(&rounded.limit), YES.to_owned()),
                None => self.single(&bound.limit.root, item),
            };
            all.push(fine);
            all.push(compared(sign(bound.exact_kind()), one, &limit));
        }
        and(all)
    }

    /// A placed value: every place that is looked at, or their mean.
    fn placed(
        &mut self,
        rule: &Rule,
        bounds: &[rimegauge::rules::Bound],
        places: &[(S, S)],
        item: Item,
    ) -> Outcome {
        let looked: Vec<S> = (0..places.len())
            .map(|p| self.looked(rule, item, p))
            .collect();
        let may_leave_out = rule.places.is_none() && rule.zone.is_none();
        let idle = if may_leave_out {
            and(looked.iter().map(|one| not(one)))
        } else {
            NO.to_owned()
        };
        let good = match rule.judged {
            Judged::Mean => {
                let mut all: Vec<S> = looked
                    .iter()
                    .zip(places)
                    .map(|(at, (_, known))| implies(at, known.clone()))
                    .collect();
                for bound in bounds {
                    let (limit, fine) = match &bound.rounded {
                        Some(rounded) => (number(&rounded.limit), YES.to_owned()),
                        None => self.single(&bound.limit.root, item),
                    };
                    let off = looked
                        .iter()
                        .zip(places)
                        .map(|(at, (one, _))| ite(at, &format!("(- {one} {limit})"), "0.0"));
                    let off: Vec<S> = off.collect();
                    // The mean of nothing is none.
                    let met = format!("({} {} 0.0)", sign(bound.exact_kind()), total(&off));
                    all.push(implies(&or(looked.clone()), and([fine, met])));
                }
                and(all)
            }
            Judged::WorstPlace | Judged::Unplaced => {
                let mut all = Vec::new();
                for (at, (one, known)) in looked.iter().zip(places) {
                    let one = self.named(one.clone(), "Real");
                    let good = self.bounds(bounds, (&one, known), item);
                    all.push(implies(at, good));
                }
                and(all)
            }
        };
        Outcome { good, idle }
    }

    // ---- places

    /// Where a place lies to a zone: inside with the border, inside without it.
    fn lies(&mut self, zone: ZoneId, item: Item, p: usize) -> (S, S) {
        let part = self.part_of(item).unwrap();
        let (h, i) = item;
        let within = |size: &str, of: &Exact| {
            let of = number(of);
            (format!("(<= {size} {of})"), format!("(< {size} {of})"))
        };
        let rules = self.rules;
        let own = &rules.vocabulary.parts[part.index()];
        match &own.zones[zone.index()].kind {
            ZoneKind::WithinOfEdge(distance) => within(&format!("edge_{h}_{i}_{p}"), distance),
            ZoneKind::Between(low, high) => {
                let (at, low, high) = (format!("at_{h}_{i}_{p}"), number(low), number(high));
                (
                    format!("(and (<= {low} {at}) (<= {at} {high}))"),
                    format!("(and (< {low} {at}) (< {at} {high}))"),
                )
            }
            ZoneKind::WithinOf { distance, of } => {
                let border = self.position(part, &of.text, item);
                let size = absolute(&format!("(- at_{h}_{i}_{p} {border})"));
                let size = self.named(size, "Real");
                within(&size, distance)
            }
            ZoneKind::Along {
                profile,
                from,
                to_height,
            } => {
                let measure = own.measure_named(&profile.text).unwrap();
                let slot = self.view.measures[part.index()][measure.index()];
                let (end, _) = self.reaches(item, slot, to_height);
                let from = self.position(part, &from.text, item);
                let at = format!("at_{h}_{i}_{p}");
                (
                    format!("(and (<= {from} {at}) (<= {at} {end}))"),
                    format!("(and (< {from} {at}) (< {at} {end}))"),
                )
            }
        }
    }

    /// A position of an item by its name.
    fn position(&mut self, part: PartId, name: &str, item: Item) -> S {
        let rules = self.rules;
        let own = &rules.vocabulary.parts[part.index()];
        let found = match (own.measure_named(name), own.derived_named(name)) {
            (Some(id), _) => self.measure_value(item, id),
            (None, Some(id)) => {
                let of = rules.derived_value(part, id).unwrap();
                self.value(&of.root, item)
            }
            (None, None) => panic!("no such position"),
        };
        whole(found).0
    }

    fn looked(&mut self, rule: &Rule, item: Item, p: usize) -> S {
        let mut all = Vec::new();
        for (zone, _) in &rule.outside {
            all.push(not(&self.lies(*zone, item, p).0));
        }
        if let Some((zone, _)) = rule.zone {
            all.push(self.lies(zone, item, p).0);
        }
        and(all)
    }

    /// Whether a place meets a row of a table by zone; borders belong to both sides.
    fn meets(
        &mut self,
        rows: &[(Option<ZoneId>, LimitRow)],
        zone: Option<ZoneId>,
        item: Item,
        p: usize,
    ) -> S {
        match zone {
            Some(zone) => self.lies(zone, item, p).0,
            None => {
                let zones: Vec<ZoneId> = rows.iter().filter_map(|(zone, _)| *zone).collect();
                let each = zones
                    .into_iter()
                    .map(|zone| not(&self.lies(zone, item, p).1));
                and(each.collect::<Vec<S>>())
            }
        }
    }

    /// A place where the rule looks, and for a table by zone one for each row on each side.
    fn enough(&mut self, rule: &Rule, item: Item) -> S {
        let count = self.domain.parts[self.domain.holdings[item.0].part].places;
        if rule.judged == Judged::Unplaced {
            return YES.to_owned();
        }
        match &rule.limits {
            Limits::ByZone { rows, .. } => {
                let mut all = Vec::new();
                for (zone, _) in rows {
                    let mut some = Vec::new();
                    for p in 0..count {
                        let looked = self.looked(rule, item, p);
                        let meets = self.meets(rows, *zone, item, p);
                        some.push(and([looked, meets]));
                    }
                    all.push(or(some));
                }
                and(all)
            }
            Limits::Direct(_)
            | Limits::ByTrait { .. }
            | Limits::ByTraits { .. }
            | Limits::ByLevel { .. } => {
                if rule.places.is_none() && rule.zone.is_none() {
                    return YES.to_owned();
                }
                or((0..count)
                    .map(|p| self.looked(rule, item, p))
                    .collect::<Vec<S>>())
            }
        }
    }

    // ---- silence and marks

    fn silence(&mut self, item: Item, part: PartId) -> S {
        if self.rules.silence == Silence::Permits {
            return YES.to_owned();
        }
        let count = self.rules.vocabulary.parts[part.index()].traits.len();
        let all: Vec<S> = (0..count)
            .map(|slot| self.spoken_of(item, part, TraitId(u16::try_from(slot).unwrap())))
            .collect();
        and(all)
    }

    /// What a trait declares the rules list, or a rule speaks of what they do not list.
    fn spoken_of(&mut self, item: Item, part: PartId, id: TraitId) -> S {
        let rules = self.rules;
        let other = match &rules.vocabulary.parts[part.index()].traits[id.index()].kind {
            TraitKind::Choice(_) => same(&self.choice(item, part, id), "0"),
            TraitKind::AnyOf(_) => match self.trait_value(item, id) {
                Val::AnyOf(list) => list[0].clone(),
                _ => NO.to_owned(),
            },
            TraitKind::Date | TraitKind::Flag => return YES.to_owned(),
        };
        let mut spoken = Vec::new();
        for rule in rules.rules.iter().filter(|rule| rule.applies_to == part) {
            let by_it = match &rule.limits {
                Limits::ByTrait { by, .. } => *by == id,
                Limits::ByTraits { by, .. } => by.contains(&id),
                Limits::Direct(row) => {
                    matches!(row.demand, Demand::Only(..))
                        && matches!(rule.value.root.op, Op::Trait(Scope::Own, of) if of == id)
                }
                Limits::ByZone { .. } | Limits::ByLevel { .. } => false,
            };
            if by_it {
                let when = match &rule.when {
                    None => Truth::sure(YES.to_owned()),
                    Some(when) => self.truth(&when.root, item),
                };
                spoken.push(and([self.asked(rule), not(&when.no)]));
            }
        }
        implies(&other, or(spoken))
    }

    // ---- clause by clause

    /// When a trait is spoken of on all items of a kind.
    #[allow(
        dead_code,
        reason = "only the shipped versions are asked clause by clause"
    )]
    pub fn spoken_of_all(&mut self, part: PartId, id: TraitId) -> S {
        let mut all = Vec::new();
        for h in 0..self.domain.holdings.len() {
            if h > 0 && !self.view.holdings.contains(&h) {
                continue;
            }
            for item in self.items(h) {
                if self.part_of(item) == Some(part) {
                    let there = self.exists(item);
                    let spoken = self.spoken_of(item, part, id);
                    all.push(implies(&there, spoken));
                }
            }
        }
        and(all)
    }

    /// When a boat has as many of a holding as it needs.
    #[allow(
        dead_code,
        reason = "only the shipped versions are asked clause by clause"
    )]
    pub fn has_enough(&self, id: HoldingId) -> S {
        let own = self.holding(id);
        if self.domain.holdings[own].many {
            let least = self.rules.vocabulary.holdings[id.index()].at_least;
            format!("(>= n_{own} {least})")
        } else {
            YES.to_owned()
        }
    }

    pub fn marks(&mut self, legal: &mut Vec<S>) {
        for at in 0..self.rules.marks.len() {
            self.mark(at, legal);
        }
    }

    /// What one rule on marks asks.
    pub fn mark(&mut self, at: usize, legal: &mut Vec<S>) {
        let rules = self.rules;
        let mark = &rules.marks[at];
        let holding = self.holding(mark.item);
        let items = self.items(holding);
        let part = self.part_of(items[0]).unwrap();
        let flag = self.view.traits[part.index()][mark.nominated_by.index()];
        let nominated: Vec<S> = items
            .iter()
            .map(|item| {
                and([
                    self.exists(*item),
                    format!("t_{}_{}_{flag}", item.0, item.1),
                ])
            })
            .collect();
        let count = |list: &[S]| {
            total(
                &list
                    .iter()
                    .map(|one| ite(one, "1.0", "0.0"))
                    .collect::<Vec<S>>(),
            )
        };
        let most =
            |count: S, most: i64| format!("(<= {count} {})", number(&Exact::from_integer(most)));
        let mut own = Vec::new();
        let mut asked = YES.to_owned();
        match &mark.limits {
            MarkLimits::Direct(limit) => own.push(most(count(&nominated), limit.at_most)),
            MarkLimits::ByLevel { rows, .. } => {
                asked = "(>= level 0)".to_owned();
                legal.push(or([asked.clone(), not(&same("stage", "2"))]));
                for (level, limit) in rows {
                    let at = same("level", &self.level(*level));
                    own.push(implies(&at, most(count(&nominated), limit.at_most)));
                }
            }
        }
        for cap in &mark.of_which {
            let mut some = Vec::new();
            for (item, nominated) in items.iter().zip(&nominated) {
                let truth = self.truth(&cap.condition.root, *item);
                // What may be one of them counts as well: otherwise it is open.
                some.push(and([nominated.clone(), not(&truth.no)]));
            }
            own.push(most(count(&some), cap.limit.at_most));
        }
        if let Some(pairs) = &mark.pairs {
            own.push(self.pairs(pairs, &items, &nominated, part));
        }
        for bring in &mark.bring {
            let of = self.holding(bring.holding);
            own.push(or([
                not(&same("stage", "2")),
                format!("(>= n_{of} {})", bring.at_least),
            ]));
        }
        legal.push(implies(&asked, and(own)));
    }

    /// An even number of every kind, and no doubt about any.
    fn pairs(
        &mut self,
        pairs: &rimegauge::rules::MarkPairs,
        items: &[Item],
        nominated: &[S],
        part: PartId,
    ) -> S {
        let mut all = Vec::new();
        let mut taken = Vec::new();
        for (item, nominated) in items.iter().zip(nominated) {
            let truth = self.truth(&pairs.condition.root, *item);
            let is = and([nominated.clone(), truth.yes.clone()]);
            all.push(implies(nominated, not(&truth.doubt())));
            let kind: Vec<S> = pairs
                .alike
                .iter()
                .map(|(id, _)| self.choice(*item, part, *id))
                .collect();
            all.push(implies(
                &is,
                and(kind.iter().map(|one| not(&same(one, "0")))),
            ));
            let is = self.named(is, "Bool");
            taken.push((is, kind));
        }
        // An item has a partner where an odd number of the others are of its kind.
        for (at, (is, kind)) in taken.iter().enumerate() {
            let mut odd = NO.to_owned();
            for (other, (there, theirs)) in taken.iter().enumerate() {
                if other != at {
                    let alike = kind.iter().zip(theirs).map(|(a, b)| same(a, b));
                    let one = and(std::iter::once(there.clone()).chain(alike));
                    odd = self.named(format!("(xor {odd} {one})"), "Bool");
                }
            }
            all.push(implies(is, odd));
        }
        and(all)
    }
}

fn joined(yes: S, no: S, list: &[Truth]) -> Truth {
    if list.iter().all(|one| one.doubt() == NO) {
        Truth::sure(yes)
    } else {
        Truth { yes, no }
    }
}

fn only_day(date: &DateSpan) -> rimegauge::quantity::Date {
    date.as_day().unwrap()
}

fn definition<'t>(text: &'t str, name: &str) -> Option<&'t str> {
    let head = format!("(define-fun {name} () Real ");
    let at = text.find(&head)? + head.len();
    text[at..].lines().next()
}

/// A quotient of terms as both of them.
fn quotient(term: &str) -> Option<(&str, &str)> {
    let inside = term.strip_prefix("(/ ")?.strip_suffix(')')?;
    let mut depth = 0;
    let blank = inside.char_indices().find(|(_, letter)| {
        match letter {
            '(' => depth += 1,
            ')' => depth -= 1,
            _ => {}
        }
        depth == 0 && *letter == ' '
    })?;
    let (over, under) = (&inside[..blank.0], &inside[blank.0 + 1..]);
    // A constant is no quotient.
    let constant = |one: &str| one.bytes().all(|b| b.is_ascii_digit() || b == b'.');
    (!constant(under)).then_some((over, under))
}

/// A comparison. Of a quotient it is multiplied out, since a solver that takes it as it stands finds little; what is
/// below the line is not zero where the quotient is known.
fn compared(sign: &str, one: &str, limit: &str) -> S {
    let Some((over, under)) = quotient(one).filter(|_| quotient(limit).is_none()) else {
        return format!("({sign} {one} {limit})");
    };
    let (above, below) = (
        format!("({sign} {over} (* {limit} {under}))"),
        format!("({sign} (* {limit} {under}) {over})"),
    );
    format!("(ite (> {under} 0.0) {above} {below})")
}

fn sign(kind: BoundKind) -> &'static str {
    match kind {
        BoundKind::AtLeast => ">=",
        BoundKind::AtMost => "<=",
        BoundKind::MoreThan => ">",
        BoundKind::LessThan => "<",
    }
}

fn absolute(one: &str) -> S {
    format!("(ite (>= {one} 0.0) {one} (- {one}))")
}

fn total(list: &[S]) -> S {
    let list: Vec<&str> = list
        .iter()
        .map(String::as_str)
        .filter(|one| *one != "0.0")
        .collect();
    match &list[..] {
        [] => "0.0".to_owned(),
        [one] => (*one).to_owned(),
        _ => format!("(+ {})", list.join(" ")),
    }
}

/// One number; a count in doubt is none.
fn whole(value: Val) -> (S, S) {
    match value {
        Val::Number(one, known) => (one, known),
        Val::Count(low, high) => {
            let known = same(&low, &high);
            (low, known)
        }
        other => panic!("no number: {other:?}"),
    }
}

/// From, to, and when that is known.
fn range(value: Val) -> (S, S, S) {
    match value {
        Val::Number(one, known) => (one.clone(), one, known),
        Val::Count(low, high) => (low, high, YES.to_owned()),
        other => panic!("no number: {other:?}"),
    }
}

fn arithmetic(operation: Arithmetic, a: Val, b: Val) -> Val {
    if let (Val::Count(a, b), Val::Count(c, d)) = (&a, &b) {
        match operation {
            Arithmetic::Add => return Val::Count(format!("(+ {a} {c})"), format!("(+ {b} {d})")),
            Arithmetic::Subtract => {
                return Val::Count(format!("(- {a} {d})"), format!("(- {b} {c})"));
            }
            Arithmetic::Multiply | Arithmetic::Divide => {}
        }
    }
    let each = |(a, ak): (&S, &S), (b, bk): (&S, &S)| {
        let known = and([ak.clone(), bk.clone()]);
        let sign = match operation {
            Arithmetic::Add => "+",
            Arithmetic::Subtract => "-",
            Arithmetic::Multiply => "*",
            Arithmetic::Divide => "/",
        };
        let known = match operation {
            Arithmetic::Divide => and([known, not(&same(b, "0.0"))]),
            Arithmetic::Add | Arithmetic::Subtract | Arithmetic::Multiply => known,
        };
        (format!("({sign} {a} {b})"), known)
    };
    match (a, b) {
        (Val::Places(a), Val::Places(b)) => {
            let pairs = a.iter().zip(&b);
            Val::Places(
                pairs
                    .map(|((a, ak), (b, bk))| each((a, ak), (b, bk)))
                    .collect(),
            )
        }
        (Val::Places(a), b) => {
            let (b, bk) = whole(b);
            Val::Places(a.iter().map(|(a, ak)| each((a, ak), (&b, &bk))).collect())
        }
        (a, Val::Places(b)) => {
            let (a, ak) = whole(a);
            Val::Places(b.iter().map(|(b, bk)| each((&a, &ak), (b, bk))).collect())
        }
        (a, b) => {
            let ((a, ak), (b, bk)) = (whole(a), whole(b));
            let (one, known) = each((&a, &ak), (&b, &bk));
            Val::Number(one, known)
        }
    }
}

fn merged(when: &str, a: Val, b: Val) -> Val {
    match (a, b) {
        (Val::Number(a, ak), Val::Number(b, bk)) => {
            Val::Number(ite(when, &a, &b), ite(when, &ak, &bk))
        }
        (Val::Choice(a), Val::Choice(b)) => Val::Choice(ite(when, &a, &b)),
        (Val::Date(a), Val::Date(b)) => Val::Date(ite(when, &a, &b)),
        (Val::Answer(a), Val::Answer(b)) => {
            let yes = ite(when, &a.yes, &b.yes);
            if a.doubt() == NO && b.doubt() == NO {
                Val::Answer(Truth::sure(yes))
            } else {
                Val::Answer(Truth {
                    yes,
                    no: ite(when, &a.no, &b.no),
                })
            }
        }
        (Val::Places(a), Val::Places(b)) => {
            let pairs = a.iter().zip(&b);
            Val::Places(
                pairs
                    .map(|((a, ak), (b, bk))| (ite(when, a, b), ite(when, ak, bk)))
                    .collect(),
            )
        }
        (Val::AnyOf(a), Val::AnyOf(b)) => {
            Val::AnyOf(a.iter().zip(&b).map(|(a, b)| ite(when, a, b)).collect())
        }
        (a, b) => panic!("not one of {a:?} and {b:?}"),
    }
}

/// What is true of every boat of the domain.
pub fn frame(domain: &Domain) -> String {
    let mut text = String::new();
    for (name, sort) in domain.variables() {
        match sort {
            Sort::Bool => text.push_str(&format!("(declare-const {name} Bool)\n")),
            Sort::Int(low, high) => text.push_str(&format!(
                "(declare-const {name} Int)\n(assert (and (<= {} {name}) (<= {name} {})))\n",
                integer(low),
                integer(high)
            )),
            Sort::Real(range) => {
                text.push_str(&format!("(declare-const {name} Real)\n"));
                for (end, open, closed) in [(range.low, ">", ">="), (range.high, "<", "<=")] {
                    if let Some((end, out)) = end {
                        let sign = if out { open } else { closed };
                        text.push_str(&format!("(assert ({sign} {name} {end}.0))\n"));
                    }
                }
            }
        }
    }
    let mut assert = |one: S| text.push_str(&format!("(assert {one})\n"));
    // Everything that is asked for is given: an event has a level. Elsewhere there may be no event.
    if !domain.levels.is_empty() {
        assert(implies(&same("stage", "2"), "(>= level 0)".to_owned()));
    }
    for (h, holding) in domain.holdings.iter().enumerate() {
        let part = &domain.parts[holding.part];
        for i in 0..domain.count(h) {
            for (t, (_, kind)) in part.traits.iter().enumerate() {
                if let TraitDomain::AnyOf(words) = kind {
                    assert(or((0..=words.len()).map(|c| format!("t_{h}_{i}_{t}_{c}"))));
                }
            }
            for (m, measure) in part.measures.iter().enumerate() {
                // Both bevels are above zero.
                for p in (0..part.places).filter(|_| measure.apart) {
                    let (apart, both) = (
                        format!("apart_{h}_{i}_{m}_{p}"),
                        format!("m_{h}_{i}_{m}_{p}"),
                    );
                    assert(format!("(and (< {apart} {both}) (< (- {apart}) {both}))"));
                }
                // More load does not sink less.
                for (f, figure) in measure.figures.iter().enumerate() {
                    for (g, other) in measure.figures.iter().enumerate() {
                        if let (Figure::Sinks(one, a), Figure::Sinks(two, b)) = (figure, other)
                            && a == b
                            && one < two
                        {
                            assert(format!(
                                "(<= figure_{h}_{i}_{m}_{f} figure_{h}_{i}_{m}_{g})"
                            ));
                        }
                    }
                }
                // A thicker leaf binds farther out on both sides.
                for g in 1..measure.gaps.len() {
                    for side in ["fore", "aft"] {
                        assert(format!(
                            "(<= {side}_{h}_{i}_{m}_{} {side}_{h}_{i}_{m}_{g})",
                            g - 1
                        ));
                    }
                }
            }
            // One place of a series stands once.
            for p in 0..part.places {
                for other in 0..p {
                    assert(not(&same(
                        &format!("at_{h}_{i}_{p}"),
                        &format!("at_{h}_{i}_{other}"),
                    )));
                }
            }
            let there = format!("(< {i} n_{h})");
            for (r, (_, filled_by)) in part.roles.iter().enumerate() {
                let name = format!("r_{h}_{i}_{r}");
                if domain.holdings[*filled_by].many {
                    assert(implies(&there, format!("(< {name} n_{filled_by})")));
                }
                for (other, (_, theirs)) in part.roles.iter().enumerate().take(r) {
                    if theirs == filled_by {
                        assert(implies(
                            &there,
                            not(&same(&name, &format!("r_{h}_{i}_{other}"))),
                        ));
                    }
                }
            }
        }
    }
    text
}

/// Both versions with the boats they speak of: what stands before a question.
pub struct Question {
    pub domain: Domain,
    pub views: [View; 2],
    /// Declarations, definitions and what holds for all boats.
    pub text: String,
    /// When a boat is legal, by version.
    pub legal: [S; 2],
}

/// The questions about two versions.
pub fn question(old: &RulesFile, new: &RulesFile) -> Question {
    let (domain, old_view, new_view) = Domain::of(old, new);
    let mut text = frame(&domain);
    let mut one = Version::new(old, &domain, &old_view, "o");
    let (old_legal, old_enough) = one.legal();
    text.push_str(&one.text);
    let mut other = Version::new(new, &domain, &new_view, "w");
    let (new_legal, new_enough) = other.legal();
    text.push_str(&other.text);
    text.push_str(&format!("(assert {old_enough})\n(assert {new_enough})\n"));
    Question {
        legal: [old_legal, new_legal],
        text,
        views: [old_view, new_view],
        domain,
    }
}
