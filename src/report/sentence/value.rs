//! Values in words: measures, computed values and functions.

use crate::expression::{Arithmetic, Expression, Function, Node, Op, Scope};
use crate::quantity::Unit;
use crate::rules::RulesFile;
use crate::vocabulary::{
    HoldingId, Measure, MeasureKind, Part, PartId, QuantityKind, RoleId, TraitId, Vocabulary,
};

use super::super::words::plain_name;
use super::phrase::{self, Phrase, with_article};
use super::{Wording, Written};

/// Says expressions in words, where bare names are those of one kind of part.
#[derive(Clone, Copy)]
pub(in crate::report) struct Speaker<'w> {
    pub(super) rules: &'w RulesFile,
    pub(super) written: &'w Written<'w>,
    /// Whose the bare names are.
    pub(super) own: PartId,
    /// Whether many of them are spoken of.
    pub(super) many: bool,
}

impl<'w> Speaker<'w> {
    /// A speaker about a kind of part.
    pub(in crate::report) fn new(wording: &'w Wording<'w>, own: PartId) -> Speaker<'w> {
        Speaker {
            rules: wording.rules,
            written: &wording.written,
            own,
            many: false,
        }
    }

    fn vocabulary(&self) -> &'w Vocabulary {
        &self.rules.vocabulary
    }

    /// The kind of part that a scope means.
    pub(super) fn part(&self, scope: Scope) -> Option<&'w Part> {
        let id = scope.part(self.own, self.vocabulary())?;
        self.vocabulary().part(id)
    }

    /// Whether a scope means the item itself.
    pub(super) fn is_own(&self, scope: Scope) -> bool {
        match scope {
            Scope::Own => true,
            Scope::Boat => self.own == Vocabulary::BOAT,
            Scope::One(_) | Scope::Role(_) => false,
        }
    }

    /// `the boat`, `the plank`, `a runner`
    pub(in crate::report) fn item(&self) -> String {
        let name = self.item_name();
        let group = self.vocabulary().part(self.own);
        if group.is_some_and(Part::is_group) {
            format!("each of the {name}")
        } else if self.is_single() {
            format!("the {name}")
        } else {
            with_article(&name)
        }
    }

    /// `runner`
    pub(super) fn item_name(&self) -> String {
        self.vocabulary()
            .part(self.own)
            .map_or_else(|| "item".to_owned(), |part| plain_name(&part.name.text))
    }

    /// Whether the item is the boat itself.
    pub(super) fn is_boat(&self) -> bool {
        self.own == Vocabulary::BOAT
    }

    /// Whether a value is the answer to a question.
    pub(super) fn is_answer(&self, node: &Node) -> bool {
        match &node.op {
            Op::Measure(scope, id) => self.measure(*scope, id.index()).is_some_and(is_question),
            _ => false,
        }
    }

    /// Whether a boat has just one of them.
    pub(super) fn is_single(&self) -> bool {
        if self.is_boat() {
            return true;
        }
        let mut holders = self
            .vocabulary()
            .holdings
            .iter()
            .filter(|holding| holding.part == self.own);
        matches!((holders.next(), holders.next()), (Some(one), None) if !one.many)
    }

    /// The key of a holding as words: `runners`.
    pub(super) fn holding(&self, id: HoldingId) -> String {
        self.vocabulary()
            .holding(id)
            .map_or_else(|| "parts".to_owned(), |one| plain_name(&one.key.text))
    }

    /// The part in a role as words: `port runner`; a mast in the role of a mast is the `mast`.
    pub(super) fn role(&self, id: RoleId) -> String {
        let group = self.vocabulary().part(self.own);
        let Some(role) = group.and_then(|group| group.role(id)) else {
            return "part".to_owned();
        };
        // A steering blade that the boat holds as its `rudders` is the rudder in the role of one.
        let holdings = &self.vocabulary().holdings;
        let is_held = holdings.iter().any(|holding| {
            let key = holding.key.text.strip_suffix('s');
            holding.part == role.part && key == Some(role.name.text.as_str())
        });
        if is_held {
            return plain_name(&role.name.text);
        }
        let kind = self.vocabulary().part(role.part);
        match kind.map(|kind| &kind.name.text) {
            Some(kind) if *kind != role.name.text => {
                format!("{} {}", plain_name(&role.name.text), plain_name(kind))
            }
            Some(_) | None => plain_name(&role.name.text),
        }
    }

    /// Whose something is, behind its name: nothing for the item itself, ` of the boat`.
    fn owner(&self, scope: Scope) -> String {
        match scope {
            _ if self.is_own(scope) => String::new(),
            Scope::Own => String::new(),
            Scope::Boat => " of the boat".to_owned(),
            Scope::One(id) => format!(" of the {}", self.holding(id)),
            Scope::Role(id) => format!(" of the {}", self.role(id)),
        }
    }

    /// Whether ` of a runner` can stand behind the words of a value.
    pub(super) fn is_plain(&self, node: &Node) -> bool {
        match &node.op {
            Op::Measure(scope, id) => {
                self.is_own(*scope) && !self.measure(*scope, id.index()).is_some_and(is_question)
            }
            Op::Trait(scope, _) | Op::Derived(scope, _) => self.is_own(*scope),
            Op::Call(function, arguments) => match function {
                Function::Abs | Function::Min | Function::Max => false,
                Function::Lowest
                | Function::Highest
                | Function::FlatLength
                | Function::ForwardFlat
                | Function::AftFlat
                | Function::GapAt
                | Function::CrownRadius
                | Function::Hollow
                | Function::Straightness
                | Function::IncludedAngle
                | Function::BevelDifference
                | Function::Stiffness
                | Function::DeflectionAt
                | Function::Area
                | Function::ConvertedHardness { .. }
                | Function::At20Degrees { .. } => {
                    arguments.first().is_some_and(|first| self.is_plain(first))
                }
            },
            Op::Quantity { .. }
            | Op::Date(_)
            | Op::YesNo(_)
            | Op::EventLevel
            | Op::EventDay
            | Op::Day
            | Op::Negate(_)
            | Op::Arithmetic(..)
            | Op::Compare(..)
            | Op::IsChoice { .. }
            | Op::IsLevel { .. }
            | Op::IsSame { .. }
            | Op::Truth(_)
            | Op::Not(_)
            | Op::And(_)
            | Op::Or(_)
            | Op::Count { .. }
            | Op::Sum { .. } => false,
        }
    }

    pub(super) fn measure(&self, scope: Scope, at: usize) -> Option<&'w Measure> {
        self.part(scope)?.measures.get(at)
    }

    /// The name of a trait.
    pub(super) fn trait_name(&self, scope: Scope, at: usize) -> &'w str {
        self.part(scope)
            .and_then(|part| part.traits.get(at))
            .map_or("trait", |one| one.name.text.as_str())
    }

    /// The name of a trait of the item itself.
    pub(super) fn own_trait(&self, id: TraitId) -> String {
        plain_name(self.trait_name(Scope::Own, id.index()))
    }

    /// The word of a choice of a trait; without one it is the silent `other`.
    pub(super) fn choice(
        &self,
        scope: Scope,
        at: usize,
        choice: Option<crate::vocabulary::ChoiceId>,
    ) -> String {
        let Some(choice) = choice else {
            return "something else".to_owned();
        };
        let names = self
            .part(scope)
            .and_then(|part| part.traits.get(at))
            .map_or(&[][..], |one| one.kind.names());
        names
            .get(choice.index())
            .map_or_else(String::new, |name| plain_name(&name.text))
    }

    /// A value as a noun with its article.
    pub(in crate::report) fn value(&self, node: &Node) -> Phrase {
        match &node.op {
            Op::Quantity { value, unit } => self.quantity(node, value, *unit),
            Op::Date(date) => phrase::span(date),
            Op::YesNo(yes) => Phrase::of(if *yes { "yes" } else { "no" }),
            Op::Measure(scope, id) => match self.measure(*scope, id.index()) {
                Some(measure) => Phrase::of(format!(
                    "the {}{}",
                    measure_name(measure),
                    self.owner(*scope)
                )),
                None => Phrase::of("the measure"),
            },
            Op::Trait(scope, id) => Phrase::of(format!(
                "the {}{}",
                plain_name(self.trait_name(*scope, id.index())),
                self.owner(*scope)
            )),
            Op::Derived(scope, id) => {
                let part = scope.part(self.own, self.vocabulary());
                let named = part.and_then(|part| self.rules.derived_value(part, *id));
                match named {
                    Some(expression) if says_itself(expression) => Speaker {
                        own: expression.own,
                        ..*self
                    }
                    .value(&expression.root)
                    .words(self.owner(*scope)),
                    Some(_) | None => {
                        let name = self
                            .part(*scope)
                            .and_then(|part| part.derived.get(id.index()))
                            .map_or_else(String::new, |one| plain_name(&one.name.text));
                        Phrase::of(format!("the {name}{}", self.owner(*scope)))
                    }
                }
            }
            Op::EventLevel => Phrase::of("the level of the event"),
            Op::EventDay => Phrase::of("the day of the event"),
            Op::Day => Phrase::of("the day of the check"),
            Op::Negate(inner) => Phrase::of("minus ").then(self.operand(inner, false)),
            Op::Arithmetic(operation, left, right) => self.arithmetic(*operation, left, right),
            Op::Call(function, arguments) => self.call(*function, arguments),
            Op::Count { over, condition } => {
                Phrase::of(format!("the number of {}", self.holding(*over)))
                    .then(self.which(*over, condition.as_deref()))
            }
            Op::Sum {
                over,
                value,
                condition,
            } => {
                let counted = self.counted(*over);
                Phrase::of("the sum of ")
                    .then(counted.value(value))
                    .words(if counted.is_plain(value) {
                        " of all "
                    } else {
                        " over all "
                    })
                    .words(self.holding(*over))
                    .then(self.which(*over, condition.as_deref()))
            }
            Op::Compare(..)
            | Op::IsChoice { .. }
            | Op::IsLevel { .. }
            | Op::IsSame { .. }
            | Op::Truth(_)
            | Op::Not(_)
            | Op::And(_)
            | Op::Or(_) => Phrase::of("whether ").then(self.clause(node)),
        }
    }

    /// A speaker about the items counted.
    fn counted(&self, over: HoldingId) -> Speaker<'w> {
        Speaker {
            own: self
                .vocabulary()
                .holding(over)
                .map_or(self.own, |holding| holding.part),
            many: true,
            ..*self
        }
    }

    /// Which of the items are counted: ` whose position is side or either`.
    fn which(&self, over: HoldingId, condition: Option<&Node>) -> Phrase {
        condition.map_or_else(Phrase::default, |condition| {
            Phrase::of(" ").then(self.counted(over).relative(condition))
        })
    }

    fn quantity(&self, node: &Node, value: &crate::quantity::Exact, unit: Unit) -> Phrase {
        let written = self.written.number(node.span, value);
        Phrase::of_number(written.unwrap_or_else(|| {
            let number = unit.from_base(value).to_string();
            crate::quantity::show::with_unit(&number, unit)
        }))
    }

    /// An operand, in brackets where its words could be read otherwise.
    fn operand(&self, node: &Node, is_sum: bool) -> Phrase {
        let bracketed = match &node.op {
            Op::Arithmetic(Arithmetic::Add | Arithmetic::Subtract, ..) => !is_sum,
            Op::Arithmetic(Arithmetic::Multiply | Arithmetic::Divide, ..)
            | Op::Quantity { .. }
            | Op::Date(_)
            | Op::YesNo(_)
            | Op::Measure(..)
            | Op::Trait(..)
            | Op::Derived(..)
            | Op::EventLevel
            | Op::EventDay
            | Op::Day
            | Op::Negate(_)
            | Op::Compare(..)
            | Op::IsChoice { .. }
            | Op::IsLevel { .. }
            | Op::IsSame { .. }
            | Op::Truth(_)
            | Op::Not(_)
            | Op::And(_)
            | Op::Or(_)
            | Op::Call(..)
            | Op::Count { .. }
            | Op::Sum { .. } => false,
        };
        let said = self.value(node);
        if bracketed {
            Phrase::of("(").then(said).words(")")
        } else {
            said
        }
    }

    fn arithmetic(&self, operation: Arithmetic, left: &Node, right: &Node) -> Phrase {
        if let Op::Date(_) | Op::EventDay | Op::Day | Op::Trait(..) = left.op {
            // A date moved by days.
            let way = match operation {
                Arithmetic::Add => " after ",
                Arithmetic::Subtract | Arithmetic::Multiply | Arithmetic::Divide => " before ",
            };
            let days = self.value(right);
            return Phrase::of("the day ")
                .then(days)
                .words(way)
                .then(self.value(left));
        }
        let (word, is_sum) = match operation {
            Arithmetic::Add => (" plus ", true),
            Arithmetic::Subtract => (" minus ", true),
            Arithmetic::Multiply => (" times ", false),
            Arithmetic::Divide => (" divided by ", false),
        };
        // A sum behind a minus, and a product or quotient behind a division, keep their brackets.
        let right = match (operation, &right.op) {
            (Arithmetic::Divide, Op::Arithmetic(Arithmetic::Multiply | Arithmetic::Divide, ..))
            | (Arithmetic::Subtract, Op::Arithmetic(Arithmetic::Add | Arithmetic::Subtract, ..)) => {
                Phrase::of("(").then(self.value(right)).words(")")
            }
            _ => self.operand(right, is_sum),
        };
        self.operand(left, is_sum).words(word).then(right)
    }

    fn call(&self, function: Function, arguments: &[Node]) -> Phrase {
        let first = || {
            arguments
                .first()
                .map_or_else(Phrase::default, |node| self.value(node))
        };
        let gap = || {
            arguments
                .get(1)
                .map_or_else(Phrase::default, |node| self.value(node))
        };
        let all = || {
            let said = arguments.iter().map(|node| self.value(node)).collect();
            Phrase::listed(said, "and")
        };
        match function {
            Function::Abs => match arguments.first().map(|node| &node.op) {
                Some(Op::Arithmetic(Arithmetic::Subtract, left, right)) => {
                    Phrase::of("the difference between ").then(self.pair(left, right))
                }
                Some(_) | None => first().words(", whatever its sign,"),
            },
            Function::Min if arguments.len() == 2 => Phrase::of("the lesser of ").then(all()),
            Function::Max if arguments.len() == 2 => Phrase::of("the greater of ").then(all()),
            Function::Min => Phrase::of("the least of ").then(all()),
            Function::Max => Phrase::of("the greatest of ").then(all()),
            Function::Lowest => first().qualified("smallest"),
            Function::Highest => first().qualified("greatest"),
            Function::FlatLength => Phrase::of("the flat at ").then(gap()),
            Function::ForwardFlat => Phrase::of("the forward part of the flat at ").then(gap()),
            Function::AftFlat => Phrase::of("the after part of the flat at ").then(gap()),
            Function::GapAt => {
                let gap = Phrase::of("the gap under the edge ");
                self.off_pivot(gap, arguments.get(1))
            }
            Function::CrownRadius => Phrase::of("the crown radius of ").then(first()),
            Function::Hollow => Phrase::of("the depth of any hollow in ").then(first()),
            Function::Straightness => Phrase::of("the straightness of ").then(first()),
            Function::IncludedAngle => Phrase::of("the included angle of ").then(first()),
            Function::BevelDifference => {
                Phrase::of("the difference between the two bevels of ").then(first())
            }
            Function::Stiffness => Phrase::of("the stiffness in ").then(first()),
            Function::DeflectionAt => {
                let load = Phrase::of("the deflection under ").then(gap());
                load.words(" in ").then(first())
            }
            Function::Area => Phrase::of("the area inside ").then(first()),
            Function::ConvertedHardness { to, .. } => {
                let scale = to.unit().symbol();
                first().words(format!(" converted to {scale}"))
            }
            Function::At20Degrees { .. } => first().words(" at 20 °C"),
        }
    }

    /// `250 mm aft of the pivot`, behind what is said of the place.
    fn off_pivot(&self, said: Phrase, place: Option<&Node>) -> Phrase {
        let Some(node) = place else {
            return said;
        };
        let (inner, turned) = match &node.op {
            Op::Negate(inner) => (&**inner, true),
            _ => (node, false),
        };
        let sign = inner.constant().map_or(0, |place| place.signum());
        let side = match (sign, turned) {
            (0, _) => return said.words("at the pivot"),
            (1.., false) | (..0, true) => " forward of the pivot",
            (..0, false) | (1.., true) => " aft of the pivot",
        };
        said.then(self.value(inner).without_sign()).words(side)
    }

    /// `the port and starboard arm`, `the luff and the foot width`
    fn pair(&self, left: &Node, right: &Node) -> Phrase {
        Phrase::paired(self.value(left), self.value(right))
    }
}

/// Whether a measure is a question that is answered.
pub(super) fn is_question(measure: &Measure) -> bool {
    match measure.kind {
        MeasureKind::YesNo => true,
        MeasureKind::Quantity(_)
        | MeasureKind::Profile
        | MeasureKind::Line
        | MeasureKind::Section
        | MeasureKind::LoadTest
        | MeasureKind::Outline => false,
    }
}

/// The name of a measure: `steel thickness`, `position of the toe`, the question of an answer.
pub(in crate::report) fn measure_name(measure: &Measure) -> String {
    let name = &measure.name.text;
    match measure.kind {
        MeasureKind::YesNo => match &measure.ask {
            Some(ask) => format!("answer to “{ask}”"),
            None => format!("answer on {}", plain_name(name)),
        },
        MeasureKind::Quantity(QuantityKind::Position) => match name.strip_suffix("_at") {
            Some(what) => format!("position of the {}", plain_name(what)),
            None => plain_name(name),
        },
        MeasureKind::Quantity(_) if measure.fixed_at.is_some() && name.ends_with("_new") => {
            let what = name.strip_suffix("_new").unwrap_or(name);
            format!("{} when new", plain_name(what))
        }
        MeasureKind::Quantity(_)
        | MeasureKind::Profile
        | MeasureKind::Line
        | MeasureKind::Section
        | MeasureKind::LoadTest
        | MeasureKind::Outline => plain_name(name),
    }
}

/// Whether the words of a computed value say all of it, so that its own name is not needed: a measuring
/// function on a measure.
pub(super) fn says_itself(expression: &Expression) -> bool {
    match &expression.root.op {
        Op::Call(function, _) => match function {
            Function::FlatLength
            | Function::ForwardFlat
            | Function::AftFlat
            | Function::GapAt
            | Function::CrownRadius
            | Function::Hollow
            | Function::Straightness
            | Function::IncludedAngle
            | Function::BevelDifference
            | Function::Stiffness
            | Function::DeflectionAt
            | Function::Area => true,
            // The value is still called by its name.
            Function::ConvertedHardness { .. } | Function::At20Degrees { .. } => false,
            Function::Abs
            | Function::Min
            | Function::Max
            | Function::Lowest
            | Function::Highest => false,
        },
        _ => false,
    }
}
