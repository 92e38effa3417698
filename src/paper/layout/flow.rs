//! Putting blocks on pages.

use super::super::PaperProblem;
use super::text::Setter;
use super::{Block, Mark, PAGE_STEPS, SMALL, STEP, WIDTH};

/// Lines of the foot at most; more of an identity than that identifies nothing.
const FOOT_LINES: usize = 3;

/// What a page holds, y downward from the top margin.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Page {
    /// Everything drawn on the page.
    pub marks: Vec<Mark>,
}

/// What stands at the foot of every page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Furniture {
    /// Whose paper this is, so that a loose page finds its way home.
    pub identity: String,
}

/// Blocks in reading order, and what is repeated above them.
#[derive(Debug, Default)]
pub struct Flow {
    blocks: Vec<Block>,
    repeats: Vec<Vec<Block>>,
}

impl Flow {
    /// Nothing yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a block.
    pub fn push(&mut self, block: Block) {
        self.blocks.push(block);
    }

    /// Adds blocks.
    pub fn extend(&mut self, blocks: impl IntoIterator<Item = Block>) {
        self.blocks.extend(blocks);
    }

    /// Holds what was added last to what comes next.
    pub fn hold(&mut self) {
        if let Some(last) = self.blocks.last_mut() {
            last.with_next = true;
        }
    }

    /// Leaves blank steps above the next thing: adds `blocks`, the first of them so much lower.
    pub fn extend_after(&mut self, steps: u32, mut blocks: Vec<Block>) {
        if let Some(first) = blocks.first_mut() {
            first.before = steps;
        }
        self.blocks.append(&mut blocks);
    }

    /// Names blocks that are set again above any block with this index in `under` that begins a page.
    pub fn repeat(&mut self, blocks: Vec<Block>) -> usize {
        self.repeats.push(blocks);
        self.repeats.len() - 1
    }

    /// The pages, each with the running line and its number. The count is known only when all pages are
    /// made, so the foot is set last.
    ///
    /// # Errors
    /// A block higher than a page.
    pub fn pages(
        self,
        setter: &mut Setter<'_>,
        furniture: &Furniture,
    ) -> Result<Vec<Page>, PaperProblem> {
        let number_room = setter.width("page 000 of 000", SMALL) + STEP;
        let mut identity = setter.wrap(&furniture.identity, SMALL, WIDTH - number_room);
        identity.truncate(FOOT_LINES);
        let foot_lines = u32::try_from(identity.len()).unwrap_or(1).max(1);
        // One blank step between the text and the rule over the foot.
        let room = PAGE_STEPS - foot_lines - 1;
        let mut pages = self.place(room)?;
        let count = pages.len();
        for (n, page) in pages.iter_mut().enumerate() {
            let top = room + 1;
            page.marks
                .push(Mark::level(0.0, f64::from(top) * STEP, WIDTH));
            for (line, text) in (top..).zip(&identity) {
                page.marks.push(setter.line(0.0, line, SMALL, text));
            }
            let number = format!("page {} of {count}", n + 1);
            page.marks.push(setter.line_to(WIDTH, top, SMALL, &number));
        }
        Ok(pages)
    }

    fn place(self, room: u32) -> Result<Vec<Page>, PaperProblem> {
        let mut pages = Pages {
            room,
            used: 0,
            page: Page::default(),
            done: Vec::new(),
            repeats: &self.repeats,
        };
        let mut rest = self.blocks.as_slice();
        while !rest.is_empty() {
            let held = rest.iter().take_while(|block| block.with_next).count() + 1;
            let (chain, after) = rest.split_at(held.min(rest.len()));
            if !pages.fits(chain) {
                pages.turn();
            }
            for block in chain {
                // Only in a chain that is longer than a page.
                if !pages.fits(std::slice::from_ref(block)) {
                    pages.turn();
                }
                pages.put(block)?;
            }
            rest = after;
        }
        pages.turn();
        Ok(pages.done)
    }
}

struct Pages<'r> {
    room: u32,
    used: u32,
    page: Page,
    done: Vec<Page>,
    repeats: &'r [Vec<Block>],
}

impl Pages<'_> {
    /// Whether the blocks fit on what is left of this page.
    fn fits(&self, blocks: &[Block]) -> bool {
        let height: u32 = blocks.iter().map(|block| block.before + block.steps).sum();
        let saved = match blocks.first() {
            Some(first) if self.used == 0 => first.before,
            Some(_) | None => 0,
        };
        self.used + height - saved <= self.room
    }

    /// Ends the page, unless nothing stands on it.
    fn turn(&mut self) {
        if self.used > 0 {
            self.done.push(std::mem::take(&mut self.page));
            self.used = 0;
        }
    }

    fn put(&mut self, block: &Block) -> Result<(), PaperProblem> {
        let begins = self.used == 0;
        if begins && let Some(above) = block.under.and_then(|index| self.repeats.get(index)) {
            for head in above {
                self.draw(head)?;
            }
        }
        let top = self.draw(block)?;
        if begins {
            self.mark(&block.on_top, top);
        }
        Ok(())
    }

    /// Draws a block below what stands there; gives the step it begins at.
    fn draw(&mut self, block: &Block) -> Result<u32, PaperProblem> {
        if self.used > 0 {
            self.used += block.before;
        }
        let top = self.used;
        self.used += block.steps;
        if self.used > self.room {
            return Err(PaperProblem::TooTall {
                part: block.beginning(),
            });
        }
        self.mark(&block.marks, top);
        Ok(top)
    }

    fn mark(&mut self, marks: &[Mark], top: u32) {
        let down = f64::from(top) * STEP;
        self.page
            .marks
            .extend(marks.iter().map(|mark| mark.moved(0.0, down)));
    }
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
    use super::*;

    /// A block that says its name.
    fn named(setter: &mut Setter<'_>, name: &str, steps: u32) -> Block {
        Block {
            steps,
            marks: vec![setter.line(0.0, 0, SMALL, name)],
            ..Block::default()
        }
    }

    fn names(pages: &[Page]) -> Vec<Vec<String>> {
        pages
            .iter()
            .map(|page| {
                page.marks
                    .iter()
                    .filter_map(|mark| match mark {
                        Mark::Text { text, .. } => Some(text.clone()),
                        Mark::Rule { .. } => None,
                    })
                    .collect()
            })
            .collect()
    }

    fn paged(flow: Flow, setter: &mut Setter<'_>) -> Vec<Vec<String>> {
        let furniture = Furniture {
            identity: "whose".to_owned(),
        };
        names(&flow.pages(setter, &furniture).unwrap())
    }

    #[test]
    fn a_held_block_goes_to_the_next_page_with_what_it_holds() {
        let faces = Faces::read().unwrap();
        let mut setter = Setter::new(&faces);
        let mut flow = Flow::new();
        flow.push(named(&mut setter, "filler", 62));
        flow.push(named(&mut setter, "heading", 1).with_next());
        flow.push(named(&mut setter, "row", 1));
        let pages = paged(flow, &mut setter);
        assert_eq!(pages[0], ["filler", "whose", "page 1 of 2"]);
        assert_eq!(pages[1], ["heading", "row", "whose", "page 2 of 2"]);
    }

    #[test]
    fn a_row_that_begins_a_page_stands_under_its_repeated_heading() {
        let faces = Faces::read().unwrap();
        let mut setter = Setter::new(&faces);
        let mut flow = Flow::new();
        let again = vec![named(&mut setter, "head, continued", 1)];
        let under = Some(flow.repeat(again));
        flow.push(named(&mut setter, "head", 1).with_next());
        for n in 0..70 {
            let mut row = named(&mut setter, &format!("row {n}"), 1);
            row.under = under;
            flow.push(row);
        }
        let pages = paged(flow, &mut setter);
        assert_eq!(pages.len(), 2);
        assert_eq!(pages[0][0], "head");
        assert_eq!(pages[1][0], "head, continued");
        let rows = pages
            .concat()
            .iter()
            .filter(|t| t.starts_with("row"))
            .count();
        assert_eq!(rows, 70);
    }

    #[test]
    fn a_chain_longer_than_a_page_breaks_and_a_block_higher_than_a_page_is_a_problem() {
        let faces = Faces::read().unwrap();
        let mut setter = Setter::new(&faces);
        let mut flow = Flow::new();
        for n in 0..100 {
            flow.push(named(&mut setter, &format!("held {n}"), 1).with_next());
        }
        assert_eq!(paged(flow, &mut setter).len(), 2);
        let mut flow = Flow::new();
        flow.push(named(&mut setter, "giant", 80));
        let furniture = Furniture {
            identity: String::new(),
        };
        assert_eq!(
            flow.pages(&mut setter, &furniture),
            Err(PaperProblem::TooTall {
                part: "giant".to_owned()
            })
        );
    }

    #[test]
    fn blank_above_is_left_out_at_the_top_of_a_page() {
        let faces = Faces::read().unwrap();
        let mut setter = Setter::new(&faces);
        let mut flow = Flow::new();
        flow.push(named(&mut setter, "a", 1).after(5));
        flow.push(named(&mut setter, "b", 1).after(2));
        let pages = flow
            .pages(
                &mut setter,
                &Furniture {
                    identity: "x".to_owned(),
                },
            )
            .unwrap();
        let ys: Vec<f64> = pages[0]
            .marks
            .iter()
            .filter_map(|m| match m {
                Mark::Text { y, .. } => Some(*y),
                Mark::Rule { .. } => None,
            })
            .collect();
        assert_eq!(ys[0], super::super::BASELINE);
        assert_eq!(ys[1], 3.0 * STEP + super::super::BASELINE);
    }
}
