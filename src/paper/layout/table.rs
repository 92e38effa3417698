//! Tables: columns with a width and an alignment, sections with words beside their rows, rows that never
//! split.
//!
//! Numbers in one column of a section stand with their decimal points below each other. On each page that the table
//! reaches, the heads of the columns stand again, the heading of the part with the word "continued", and
//! the words beside a section that goes on.

use super::flow::Flow;
use super::marked::Word;
use super::text::Setter;
use super::{Block, Mark, Mm, SMALL, SMALL_BOLD, Style, TEXT_BOLD, WIDTH, Weight};

/// How the cells of a column stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Align {
    /// At the left edge.
    Left,
    /// At the right edge.
    Right,
    /// Numbers on their decimal point, words at the left edge.
    Decimal,
}

/// A column. Widths include the blank to the next column.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// The head.
    pub title: std::borrow::Cow<'static, str>,
    /// Width with the blank to the right.
    pub width: Mm,
    /// How its cells stand.
    pub align: Align,
}

/// A cell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cell {
    /// The words; empty for nothing.
    pub text: String,
    /// Weight.
    pub weight: Weight,
    /// The same words, some of them set apart; empty where none is. In columns at the left edge alone.
    pub words: Vec<Word>,
}

impl From<&str> for Cell {
    fn from(text: &str) -> Self {
        Self {
            text: text.to_owned(),
            weight: Weight::Regular,
            words: Vec::new(),
        }
    }
}

impl Cell {
    /// A cell in bold.
    pub fn bold(text: &str) -> Self {
        Self {
            text: text.to_owned(),
            weight: Weight::Bold,
            words: Vec::new(),
        }
    }

    /// A cell in which some words are set apart.
    pub fn marked(words: &[Word]) -> Self {
        let texts: Vec<&str> = words.iter().map(|word| word.text.as_str()).collect();
        Self {
            words: words.to_vec(),
            ..Self::from(texts.join(" ").as_str())
        }
    }
}

/// A row: one cell for each column that the lead of its section leaves; a missing cell is empty, a surplus
/// one is left out.
pub type Row = Vec<Cell>;

/// Rows that belong together, with a rule above the first.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Section {
    /// A heading over all columns where a new part of the table begins; empty where the part goes on.
    pub part: String,
    /// What stands in the first columns beside all rows, each column a stack of cells.
    pub lead: Vec<Vec<Cell>>,
    /// The rows, in the columns that follow the lead.
    pub rows: Vec<Row>,
}

/// A table over the full width.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// The columns; their widths should sum to [`WIDTH`].
    pub columns: Vec<Column>,
}

/// Blank between the text of a column and the next column.
pub const GAP: Mm = 2.0;

/// Steps of a table with air that is not parted by the end of a page.
const SHORT: u32 = 20;

impl Table {
    /// Adds the table to the flow. Nothing is added when there are no rows.
    ///
    /// `before`: blank steps above. `title`: a heading held to the table, above the heads of the columns.
    pub fn set(
        &self,
        flow: &mut Flow,
        setter: &mut Setter<'_>,
        before: u32,
        title: Option<Block>,
        sections: &[Section],
    ) {
        self.lay(flow, setter, before, title, sections, false);
    }

    /// The same with air on both sides of each rule, at the price of a step for each section; those have no lead.
    pub fn set_airy(
        &self,
        flow: &mut Flow,
        setter: &mut Setter<'_>,
        before: u32,
        title: Option<Block>,
        sections: &[Section],
    ) {
        self.lay(flow, setter, before, title, sections, true);
    }

    fn lay(
        &self,
        flow: &mut Flow,
        setter: &mut Setter<'_>,
        before: u32,
        title: Option<Block>,
        sections: &[Section],
        airy: bool,
    ) {
        if sections.iter().all(|section| section.rows.is_empty()) {
            return;
        }
        let mut before = before;
        if let Some(title) = title {
            flow.push(title.after(before).with_next());
            before = 0;
        }
        let heads = self.heads(setter);
        flow.push(heads.clone().after(before));
        let heads_alone = flow.repeat(vec![heads.clone()]);
        let mut under = heads_alone;
        if airy {
            under = flow.repeat(vec![heads.clone(), Block::rule()]);
        }
        let mut laid: Vec<Block> = Vec::new();
        for section in sections {
            if !section.part.is_empty() {
                let mut heading = setter.heading(TEXT_BOLD, &section.part).after(1);
                // A part that begins a page has the heads of the columns above it too.
                heading.under = Some(heads_alone);
                flow.push(heading);
                let again = format!("{}, continued", section.part);
                let again = setter.heading(TEXT_BOLD, &again).after(1);
                under = flow.repeat(vec![heads.clone(), again]);
            }
            if airy && !section.rows.is_empty() {
                let mut rule = Block::rule();
                rule.under = Some(heads_alone);
                laid.push(rule);
                laid.extend(self.section(setter, section, under, airy));
            } else {
                flow.extend(self.section(setter, section, under, airy));
            }
        }
        // A short table stays on one page.
        let last = laid.len().saturating_sub(1);
        if laid.iter().map(|block| block.steps).sum::<u32>() <= SHORT {
            for block in laid.iter_mut().take(last) {
                block.with_next = true;
            }
        }
        flow.extend(laid);
    }

    /// The rows of a section. Its lead is drawn with the first row and reaches down beside the next ones,
    /// which stay on the page as far as it reaches.
    fn section(
        &self,
        setter: &mut Setter<'_>,
        section: &Section,
        under: usize,
        airy: bool,
    ) -> Vec<Block> {
        let (mut lead, lead_steps) = self.lead(setter, &section.lead);
        if !airy {
            lead.insert(0, Mark::level(0.0, 0.0, WIDTH));
        }
        let skip = section.lead.len();
        let anchors = self.anchors(setter, section);
        let mut blocks: Vec<Block> = section
            .rows
            .iter()
            .map(|row| self.row(setter, row, skip, &anchors))
            .collect();
        let rows: u32 = blocks.iter().map(|block| block.steps).sum();
        if let Some(last) = blocks.last_mut() {
            last.steps += lead_steps.saturating_sub(rows);
        }
        let total = rows.max(lead_steps);
        let count = blocks.len();
        let mut done = 0;
        for (n, block) in blocks.iter_mut().enumerate() {
            done += block.steps;
            block.under = Some(under);
            if n == 0 {
                block.marks.splice(0..0, lead.iter().cloned());
            } else {
                block.on_top = lead.clone();
            }
            // Neither the first nor the last row stands alone on a page, and the lead has room.
            block.with_next = n + 1 < count
                && (n == 0 || n + 2 == count || done < lead_steps || total - done < lead_steps);
        }
        blocks
    }

    /// The lead as marks, and its height.
    fn lead(&self, setter: &mut Setter<'_>, stacks: &[Vec<Cell>]) -> (Vec<Mark>, u32) {
        let mut marks = Vec::new();
        let mut steps = 0;
        for ((column, left), stack) in self.placed().zip(stacks) {
            let mut at = 0;
            for cell in stack {
                let style = styled(cell.weight);
                let (lines, taken) = setter.lines(left, at, column.width - GAP, style, &cell.text);
                marks.extend(lines);
                at += taken;
            }
            steps = steps.max(at);
        }
        (marks, steps)
    }

    fn heads(&self, setter: &mut Setter<'_>) -> Block {
        let mut block = Block::default();
        for (column, left) in self.placed() {
            let room = column.width - GAP;
            let mut first = 0;
            for line in setter.wrap(&column.title, SMALL, room) {
                let mark = match column.align {
                    Align::Left | Align::Decimal => setter.line(left, first, SMALL, &line),
                    Align::Right => setter.line_to(left + room, first, SMALL, &line),
                };
                block.marks.push(mark);
                first += 1;
            }
            block.steps = block.steps.max(first);
        }
        block.with_next = true;
        block
    }

    fn row(&self, setter: &mut Setter<'_>, row: &Row, skip: usize, anchors: &[Mm]) -> Block {
        let mut block = Block {
            steps: 1,
            ..Block::default()
        };
        for (((column, left), anchor), cell) in self.placed().zip(anchors).skip(skip).zip(row) {
            let style = styled(cell.weight);
            let room = column.width - GAP;
            match column.align {
                Align::Left => {
                    let (marks, steps) = match cell.words.is_empty() {
                        true => setter.lines(left, 0, room, style, &cell.text),
                        false => setter.word_lines(left, room, &cell.words),
                    };
                    block.marks.extend(marks);
                    block.steps = block.steps.max(steps);
                }
                Align::Right => {
                    let mut at = 0;
                    for line in setter.wrap(&cell.text, style, room) {
                        block
                            .marks
                            .push(setter.line_to(left + room, at, style, &line));
                        at += 1;
                    }
                    block.steps = block.steps.max(at);
                }
                Align::Decimal => {
                    let text = setter.clean(&cell.text);
                    let shift = before_point(&text)
                        .map_or(0.0, |whole| anchor - setter.width(whole, style));
                    let shift = if shift + setter.width(&text, style) <= room {
                        shift
                    } else {
                        0.0
                    };
                    let (marks, steps) = setter.lines(left + shift, 0, room - shift, style, &text);
                    block.marks.extend(marks);
                    block.steps = block.steps.max(steps);
                }
            }
        }
        block
    }

    /// For each column, how far right of its left edge the decimal points of a section stand.
    fn anchors(&self, setter: &mut Setter<'_>, section: &Section) -> Vec<Mm> {
        let cells = |n: usize| {
            let at = n.checked_sub(section.lead.len());
            section.rows.iter().filter_map(move |row| row.get(at?))
        };
        (0..self.columns.len())
            .map(|n| {
                cells(n)
                    .filter_map(|cell| {
                        let text = setter.clean(&cell.text);
                        before_point(&text).map(|whole| setter.width(whole, styled(cell.weight)))
                    })
                    .fold(0.0, f64::max)
            })
            .collect()
    }

    /// The columns with their left edges.
    fn placed(&self) -> impl Iterator<Item = (&Column, Mm)> {
        self.columns.iter().scan(0.0, |at, column| {
            let left = *at;
            *at += column.width;
            Some((column, left))
        })
    }
}

fn styled(weight: Weight) -> Style {
    match weight {
        Weight::Regular => SMALL,
        Weight::Bold => SMALL_BOLD,
    }
}

/// What stands before the decimal point of a cell that begins with a number: `4` of `4.76 ± 0.02 mm`, `12`
/// of `12 mm`. Nothing for words.
fn before_point(text: &str) -> Option<&str> {
    let unsigned = text.trim_start_matches(['+', '-', '−']);
    if !unsigned.starts_with(|c: char| c.is_ascii_digit()) {
        return None;
    }
    let sign = text.len() - unsigned.len();
    let digits = unsigned
        .find(|c: char| !c.is_ascii_digit())
        .unwrap_or(unsigned.len());
    text.get(..sign + digits)
}

#[cfg(test)]
#[allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing
)]
mod tests {
    use super::super::super::face::Faces;
    use super::super::{Furniture, Page};
    use super::*;

    fn table() -> Table {
        let column = |title, width, align| Column {
            title: std::borrow::Cow::Borrowed(title),
            width,
            align,
        };
        Table {
            columns: vec![
                column("Clause", 40.0, Align::Left),
                column("Item", 30.0, Align::Left),
                column("Value", 104.0, Align::Decimal),
            ],
        }
    }

    fn pages(sections: &[Section]) -> Vec<Page> {
        let faces = Faces::read().unwrap();
        let mut setter = Setter::new(&faces);
        let mut flow = Flow::new();
        table().set(&mut flow, &mut setter, 0, None, sections);
        let furniture = Furniture {
            identity: "whose".to_owned(),
        };
        flow.pages(&mut setter, &furniture).unwrap()
    }

    fn texts(page: &Page) -> Vec<(f64, f64, String)> {
        page.marks
            .iter()
            .filter_map(|mark| match mark {
                Mark::Text { x, y, text, .. } => Some((*x, *y, text.clone())),
                Mark::Rule { .. } => None,
            })
            .collect()
    }

    fn section(part: &str, values: &[&str]) -> Section {
        Section {
            part: part.to_owned(),
            lead: vec![vec![Cell::bold("E.3.2"), Cell::from("at least 4.70 mm")]],
            rows: values
                .iter()
                .enumerate()
                .map(|(n, value)| vec![Cell::from(format!("S{n}").as_str()), Cell::from(*value)])
                .collect(),
        }
    }

    #[test]
    fn decimal_points_stand_below_each_other() {
        let values = ["4.76 ± 0.02 mm", "104.5 ± 1.2 mm", "−12 mm", "yes"];
        let pages = pages(&[section("", &values)]);
        let faces = Faces::read().unwrap();
        let setter = Setter::new(&faces);
        let points: Vec<f64> = texts(&pages[0])
            .iter()
            .filter_map(|(x, _, text)| {
                let whole = before_point(text).filter(|_| values.contains(&text.as_str()))?;
                Some(x + setter.width(whole, SMALL))
            })
            .collect();
        assert_eq!(points.len(), 3);
        assert!(points.windows(2).all(|w| (w[0] - w[1]).abs() < 1e-9));
        let word = texts(&pages[0]).into_iter().find(|(.., t)| t == "yes");
        assert_eq!(word.unwrap().0, 70.0);
    }

    #[test]
    fn words_of_an_airy_table_keep_away_from_its_rules() {
        let faces = Faces::read().unwrap();
        let mut setter = Setter::new(&faces);
        // Every way in which its rows can meet the end of a page.
        for lines in 1..70 {
            let rows = |count: usize| Section {
                rows: vec![vec!["E.3.2".into(), "S1".into(), "4.76 mm".into()]; count],
                ..Section::default()
            };
            let mut flow = Flow::new();
            table().set_airy(
                &mut flow,
                &mut setter,
                0,
                None,
                &[rows(lines), rows(3), rows(1)],
            );
            let furniture = Furniture {
                identity: "whose".to_owned(),
            };
            for page in flow.pages(&mut setter, &furniture).unwrap() {
                let foot = page.marks.iter().rev().find_map(|mark| match mark {
                    Mark::Rule { from, .. } => Some(from.1),
                    Mark::Text { .. } => None,
                });
                for mark in &page.marks {
                    let Mark::Rule { from, .. } = mark else {
                        continue;
                    };
                    if Some(from.1) == foot {
                        continue;
                    }
                    for (_, baseline, words) in texts(&page) {
                        // Letters of 8.5 pt reach 2.2 mm above their baseline and 0.7 mm below it; a millimetre more is air.
                        let away = baseline - from.1;
                        assert!(
                            !(-1.7..=3.2).contains(&away),
                            "{words} at {baseline}, rule at {}",
                            from.1
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn what_stands_before_the_point() {
        assert_eq!(before_point("4.76 ± 0.02 mm"), Some("4"));
        assert_eq!(before_point("−12.5 mm"), Some("−12"));
        assert_eq!(before_point("447 ± 11 mm"), Some("447"));
        assert_eq!(before_point("yes"), None);
        assert_eq!(before_point("− 3"), None);
    }

    #[test]
    fn a_section_that_goes_on_says_again_what_it_is() {
        let values = vec!["4.76 mm"; 100];
        let pages = pages(&[section("E Runners", &values)]);
        assert_eq!(pages.len(), 2);
        let second: Vec<String> = texts(&pages[1]).into_iter().map(|(.., t)| t).collect();
        assert!(second.contains(&"E Runners, continued".to_owned()));
        assert!(second.contains(&"Clause".to_owned()));
        assert!(second.contains(&"E.3.2".to_owned()));
        assert!(second.contains(&"at least 4.70 mm".to_owned()));
    }

    #[test]
    fn every_page_has_the_heads_of_the_columns() {
        // Every way in which a new part can meet the end of a page.
        for lines in 1..70 {
            let sections = [
                section("D Hull", &vec!["1 mm"; lines]),
                section("E Runners", &["2 mm", "3 mm", "4 mm"]),
            ];
            for page in pages(&sections) {
                let heads = texts(&page).into_iter().filter(|(.., t)| t == "Clause");
                assert_eq!(heads.count(), 1, "{lines} rows");
            }
        }
    }

    #[test]
    fn a_lead_never_runs_into_the_next_section() {
        // Every way in which short sections can meet the end of a page.
        for lines in 1..70 {
            let sections = [
                section("", &vec!["1 mm"; lines]),
                section("", &["2 mm"]),
                section("", &["3 mm", "4 mm", "5 mm"]),
                section("", &["6 mm"]),
            ];
            for page in pages(&sections) {
                let mut lead: Vec<i64> = texts(&page)
                    .into_iter()
                    .filter(|(x, _, t)| *x == 0.0 && t != "whose" && t != "Clause")
                    .map(|(_, y, _)| (y * 100.0).round() as i64)
                    .collect();
                let count = lead.len();
                lead.sort_unstable();
                lead.dedup();
                assert_eq!(lead.len(), count, "{lines} rows");
            }
        }
    }

    #[test]
    fn no_page_begins_or_ends_with_a_single_row_of_many() {
        for filler in 1..62 {
            let sections = [
                section("", &vec!["0 mm"; filler]),
                section("", &["1 mm", "2 mm", "3 mm", "4 mm", "5 mm"]),
            ];
            for page in pages(&sections) {
                let rows = texts(&page)
                    .iter()
                    .filter(|(.., t)| {
                        ["1 mm", "2 mm", "3 mm", "4 mm", "5 mm"].contains(&t.as_str())
                    })
                    .count();
                assert_ne!(rows, 1, "{filler} rows before");
            }
        }
    }
}
