//! What is kept of each item and each boat: where it turns. How many stand where with any limit follows from it.

use std::collections::BTreeMap;

use crate::check::{Outcome, Reason, Turn, Turns};
use crate::quantity::Exact;

/// How an item stands where the limit asks nothing of it; a boat as the worst of its items. Worst first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Base {
    /// It does not conform, whatever this limit is.
    Out,
    /// What the rule asks for was never measured.
    Unmeasured,
    /// It is open for another reason.
    Open,
    /// It conforms.
    Conforms,
}

/// How an item or a boat stands with a limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stands {
    /// It does not conform.
    DoesNotConform,
    /// What the rule asks for was never measured.
    Unmeasured,
    /// It is open for another reason than this limit.
    Open,
    /// It conforms with a milder limit, and within its uncertainty of this one that is not decided.
    InDoubt,
    /// It conforms.
    Conforms,
}

/// Where an item turns, or a boat by the first of its items.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Column {
    /// How it stands with the mildest limit.
    pub base: Base,
    /// Up to where it conforms, if it ever does; nothing where it always does.
    pub conforms: Option<Turn>,
    /// Up to where it is not known not to conform; nothing where that is so everywhere.
    pub bearable: Option<Turn>,
}

/// Counts by how items or boats stand.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// They conform.
    pub conforms: u64,
    /// Within their uncertainty of the limit.
    pub in_doubt: u64,
    /// They do not conform.
    pub does_not_conform: u64,
    /// Never measured.
    pub never_measured: u64,
    /// Open for another reason.
    pub open: u64,
}

impl Counts {
    /// All of them.
    pub fn total(&self) -> u64 {
        self.conforms + self.in_doubt + self.does_not_conform + self.never_measured + self.open
    }

    pub(super) fn add(&mut self, stands: Stands, count: u64) {
        *self.of(stands) += count;
    }

    /// So many stand elsewhere.
    pub(super) fn shift(&mut self, from: Stands, to: Stands, count: u64) {
        let own = self.of(from);
        *own = own.saturating_sub(count);
        self.add(to, count);
    }

    fn of(&mut self, stands: Stands) -> &mut u64 {
        match stands {
            Stands::Conforms => &mut self.conforms,
            Stands::InDoubt => &mut self.in_doubt,
            Stands::DoesNotConform => &mut self.does_not_conform,
            Stands::Unmeasured => &mut self.never_measured,
            Stands::Open => &mut self.open,
        }
    }
}

impl Column {
    /// The column of an item.
    pub fn of(turns: &Turns) -> Column {
        let base = match turns.mildest {
            (Outcome::DoesNotConform, _) => Base::Out,
            (Outcome::NotDecided, Some(Reason::NotMeasured)) => Base::Unmeasured,
            (Outcome::NotDecided, _) => Base::Open,
            (Outcome::Conforms | Outcome::NotApplicable, _) => Base::Conforms,
        };
        Column {
            base,
            conforms: turns.conforms.clone(),
            bearable: turns.bearable.clone(),
        }
    }

    /// The column of an item of which it can't be said which limit counts.
    pub fn open() -> Column {
        Column {
            base: Base::Open,
            conforms: None,
            bearable: None,
        }
    }

    /// How it stands with a limit; `lower` says that a minimum moves.
    pub fn stands(&self, limit: &Exact, lower: bool) -> Stands {
        let within =
            |turn: &Option<Turn>| turn.as_ref().is_none_or(|turn| holds(turn, limit, lower));
        if self.base == Base::Out || !within(&self.bearable) {
            return Stands::DoesNotConform;
        }
        match self.base {
            Base::Conforms if within(&self.conforms) => Stands::Conforms,
            Base::Conforms => Stands::InDoubt,
            Base::Open => Stands::Open,
            Base::Unmeasured => Stands::Unmeasured,
            Base::Out => Stands::DoesNotConform,
        }
    }

    /// The same without some of its turns, as if what they speak of held for ever.
    pub(super) fn without(&self, left_out: &dyn Fn(&Turn) -> bool) -> Column {
        let kept = |turn: &Option<Turn>| turn.clone().filter(|turn| !left_out(turn));
        Column {
            base: self.base,
            conforms: kept(&self.conforms),
            bearable: kept(&self.bearable),
        }
    }

    /// A boat with one item more.
    pub fn and(&self, other: &Column, lower: bool) -> Column {
        let first = |one: &Option<Turn>, other: &Option<Turn>| match (one, other) {
            (Some(one), Some(other)) => Some(milder(one, other, lower).clone()),
            (one, None) => one.clone(),
            (None, other) => other.clone(),
        };
        Column {
            base: self.base.min(other.base),
            conforms: first(&self.conforms, &other.conforms),
            bearable: first(&self.bearable, &other.bearable),
        }
    }
}

/// Whether what a turn speaks of still holds with a limit.
pub(super) fn holds(turn: &Turn, limit: &Exact, lower: bool) -> bool {
    match limit.cmp(&turn.at) {
        std::cmp::Ordering::Equal => turn.itself,
        std::cmp::Ordering::Less => lower,
        std::cmp::Ordering::Greater => !lower,
    }
}

/// The turn that comes first as a limit gets sterner.
fn milder<'t>(one: &'t Turn, other: &'t Turn, lower: bool) -> &'t Turn {
    let order = match lower {
        true => one.at.cmp(&other.at),
        false => other.at.cmp(&one.at),
    };
    match order.then_with(|| one.itself.cmp(&other.itself)) {
        std::cmp::Ordering::Less | std::cmp::Ordering::Equal => one,
        std::cmp::Ordering::Greater => other,
    }
}

/// Different columns that are kept; beyond it they are told by the limits that are asked for, so that a fleet of any size
/// fits.
pub const MOST_COLUMNS: usize = 500_000;

/// How many items or boats have which column.
#[derive(Clone, Debug, Default)]
pub struct Columns {
    counts: BTreeMap<Column, u64>,
    /// Whether turns are told by the limits that were asked for alone.
    pub folded: bool,
}

impl Columns {
    /// So many more of a column. `limits` are those that are asked for, the mildest first.
    pub fn add(&mut self, column: &Column, count: u64, limits: &[Exact], lower: bool) {
        self.insert(column.clone(), count, limits, lower);
        if self.counts.len() > MOST_COLUMNS && !self.folded {
            self.fold(limits, lower);
        }
    }

    /// All of others as well.
    pub fn merge(&mut self, other: Columns, limits: &[Exact], lower: bool) {
        if other.folded && !self.folded {
            self.fold(limits, lower);
        }
        for (column, count) in other.counts {
            self.insert(column, count, limits, lower);
        }
        if self.counts.len() > MOST_COLUMNS && !self.folded {
            self.fold(limits, lower);
        }
    }

    fn insert(&mut self, column: Column, count: u64, limits: &[Exact], lower: bool) {
        let column = match self.folded {
            true => folded(&column, limits, lower),
            false => column,
        };
        *self.counts.entry(column).or_default() += count;
    }

    fn fold(&mut self, limits: &[Exact], lower: bool) {
        self.folded = true;
        for (column, count) in std::mem::take(&mut self.counts) {
            self.insert(column, count, limits, lower);
        }
    }

    /// Every column with its count.
    pub fn iter(&self) -> impl Iterator<Item = (&Column, u64)> + '_ {
        self.counts.iter().map(|(column, count)| (column, *count))
    }

    /// How many there are.
    pub fn total(&self) -> u64 {
        self.counts.values().sum()
    }

    /// How they stand with a limit.
    pub fn with(&self, limit: &Exact, lower: bool) -> Counts {
        let mut counts = Counts::default();
        for (column, count) in self.iter() {
            counts.add(column.stands(limit, lower), count);
        }
        counts
    }
}

/// A column whose turns are told by the limits that are asked for.
fn folded(column: &Column, limits: &[Exact], lower: bool) -> Column {
    let fold = |turn: &Option<Turn>| {
        let turn = turn.as_ref()?;
        let count = limits.partition_point(|limit| holds(turn, limit, lower));
        // Before the mildest limit: it never holds with any of them, and the mildest itself is outside.
        let (at, itself) = match count.checked_sub(1).and_then(|at| limits.get(at)) {
            Some(at) => (at, true),
            None => (limits.first()?, false),
        };
        Some(Turn {
            at: at.clone(),
            itself,
            exact: false,
        })
    };
    Column {
        base: column.base,
        conforms: fold(&column.conforms),
        bearable: fold(&column.bearable),
    }
}
