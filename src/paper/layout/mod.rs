//! Layout of papers: an A4 sheet, a grid, four type sizes, and blocks that fall onto pages.
//!
//! Everything stands on steps of 4 mm. A [`Block`] is as many whole steps high and never splits; a
//! paragraph is a row of one-step blocks, a table row is one block. [`Flow`] puts blocks on pages. What
//! must not be parted says so by `with_next`; what is repeated at the top of a page is named by `under`.
//!
//! Lengths are millimetres; x from the left edge of the text area, y downward from the top of a block.

mod boxes;
mod flow;
mod marked;
mod table;
mod text;

pub use boxes::{Field, WriteBox, write_boxes};
pub use flow::{Flow, Furniture, Page};
pub use marked::Word;
pub use table::{Align, Cell, Column, GAP, Row, Section, Table};
pub use text::{Setter, Span};

pub use super::face::Weight;

/// A length on paper in millimetres.
pub type Mm = f64;

/// Width of an A4 sheet (ISO 216).
pub const SHEET_WIDTH: Mm = 210.0;
/// Height of an A4 sheet (ISO 216).
pub const SHEET_HEIGHT: Mm = 297.0;
/// Margin on all four sides.
pub const MARGIN: Mm = 18.0;
/// Width of the text area.
pub const WIDTH: Mm = SHEET_WIDTH - 2.0 * MARGIN;
/// The distance of baselines; every block is a whole number of these high.
pub const STEP: Mm = 4.0;
/// Steps on a page, running line included: 65 of them fill 260 of the 261 mm between the margins.
pub const PAGE_STEPS: u32 = 65;
/// Columns of the grid.
pub const COLUMNS: u32 = 6;
/// Blank between two columns of the grid.
pub const GUTTER: Mm = 4.0;
/// Where the baseline stands below the top of the last step of a line.
pub const BASELINE: Mm = 3.05;
/// Thickness of rules in points.
pub const RULE: f64 = 0.4;
/// Millimetres in a point of 1/72 inch.
pub const POINT: Mm = 25.4 / 72.0;

/// Left edge of a column of the grid, the first being 0.
pub fn column_at(column: u32) -> Mm {
    f64::from(column) * (WIDTH + GUTTER) / f64::from(COLUMNS)
}

/// Width of so many columns with the gutters between them.
pub fn span(columns: u32) -> Mm {
    column_at(columns) - GUTTER
}

/// The four type sizes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Size {
    /// 8.5 pt: tables, labels, running text.
    Small,
    /// 10 pt: what is filled in, group headings.
    Text,
    /// 13 pt: headings.
    Heading,
    /// 18 pt: the title.
    Title,
}

impl Size {
    /// Size in points.
    pub fn points(self) -> f64 {
        match self {
            Self::Small => 8.5,
            Self::Text => 10.0,
            Self::Heading => 13.0,
            Self::Title => 18.0,
        }
    }

    /// Steps from baseline to baseline.
    pub fn steps(self) -> u32 {
        match self {
            Self::Small | Self::Text => 1,
            Self::Heading | Self::Title => 2,
        }
    }
}

/// Size and weight of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Style {
    /// Type size.
    pub size: Size,
    /// Weight.
    pub weight: Weight,
}

/// 8.5 pt regular.
pub const SMALL: Style = style(Size::Small, Weight::Regular);
/// 8.5 pt bold.
pub const SMALL_BOLD: Style = style(Size::Small, Weight::Bold);
/// 10 pt regular.
pub const TEXT: Style = style(Size::Text, Weight::Regular);
/// 10 pt bold.
pub const TEXT_BOLD: Style = style(Size::Text, Weight::Bold);
/// 13 pt regular.
pub const LEAD: Style = style(Size::Heading, Weight::Regular);
/// 13 pt bold.
pub const HEADING: Style = style(Size::Heading, Weight::Bold);
/// 18 pt bold.
pub const TITLE: Style = style(Size::Title, Weight::Bold);

const fn style(size: Size, weight: Weight) -> Style {
    Style { size, weight }
}

/// One thing that is drawn.
#[derive(Debug, Clone, PartialEq)]
pub enum Mark {
    /// A line of text, written from its left end; the text is as [`Setter::clean`] gives it.
    Text {
        /// Left end.
        x: Mm,
        /// Baseline.
        y: Mm,
        /// Size and weight.
        style: Style,
        /// The words.
        text: String,
    },
    /// A rule from one point to another.
    Rule {
        /// One end.
        from: (Mm, Mm),
        /// The other end.
        to: (Mm, Mm),
    },
}

impl Mark {
    /// A level rule.
    pub fn level(x: Mm, y: Mm, width: Mm) -> Self {
        Self::Rule {
            from: (x, y),
            to: (x + width, y),
        }
    }

    /// An upright rule.
    pub fn upright(x: Mm, y: Mm, height: Mm) -> Self {
        Self::Rule {
            from: (x, y),
            to: (x, y + height),
        }
    }

    /// The same mark elsewhere.
    pub fn moved(&self, dx: Mm, dy: Mm) -> Self {
        match self {
            Self::Text { x, y, style, text } => Self::Text {
                x: x + dx,
                y: y + dy,
                style: *style,
                text: text.clone(),
            },
            Self::Rule { from, to } => Self::Rule {
                from: (from.0 + dx, from.1 + dy),
                to: (to.0 + dx, to.1 + dy),
            },
        }
    }
}

/// A piece of the paper that never splits.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Block {
    /// Blank steps above, left out at the top of a page.
    pub before: u32,
    /// Height in steps, without `before`.
    pub steps: u32,
    /// What is drawn.
    pub marks: Vec<Mark>,
    /// What is drawn besides when the block begins a page, as words that belong to the rows above it.
    pub on_top: Vec<Mark>,
    /// Whether the next block must begin on the same page.
    pub with_next: bool,
    /// What is repeated above this block when it begins a page: an index given by [`Flow::repeat`].
    pub under: Option<usize>,
}

impl Block {
    /// A blank step with a rule in its middle, held by what follows.
    pub fn rule() -> Self {
        Self {
            steps: 1,
            marks: vec![Mark::level(0.0, STEP / 2.0, WIDTH)],
            with_next: true,
            ..Self::default()
        }
    }

    /// Keeps the block on the page of the next one.
    #[must_use]
    pub fn with_next(mut self) -> Self {
        self.with_next = true;
        self
    }

    /// Leaves so many blank steps above.
    #[must_use]
    pub fn after(mut self, steps: u32) -> Self {
        self.before = steps;
        self
    }

    /// The first words of the block, to name it in a message.
    pub fn beginning(&self) -> String {
        self.marks
            .iter()
            .find_map(|mark| match mark {
                Mark::Text { text, .. } => Some(text.chars().take(60).collect()),
                Mark::Rule { .. } => None,
            })
            .unwrap_or_default()
    }
}
