//! Boxes to write in by hand: one field a line, 8 mm high, with its small label.

use super::text::Setter;
use super::{Block, GUTTER, Mark, Mm, SMALL, SMALL_BOLD, STEP, WIDTH};

/// A line to write on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Field {
    /// What is to be written.
    pub label: String,
    /// How many lines of 8 mm it has; one at least.
    pub lines: u32,
}

/// A box with a heading and a sentence above it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WriteBox {
    /// Who writes, in bold.
    pub heading: String,
    /// What is said by writing; empty for nothing.
    pub sentence: String,
    /// The lines, from the top.
    pub fields: Vec<Field>,
}

/// Steps of a line to write on: 8 mm.
const LINE: u32 = 2;
/// Blank between the frame and a label.
const INSET: Mm = 1.5;

/// Boxes two abreast, each pair in one block; frames of a pair begin at one height.
pub fn write_boxes(setter: &mut Setter<'_>, boxes: &[WriteBox]) -> Vec<Block> {
    let width = (WIDTH - GUTTER) / 2.0;
    boxes
        .chunks(2)
        .map(|pair| {
            let sentences: Vec<_> = pair
                .iter()
                .zip([0.0, width + GUTTER])
                .map(|(one, x)| {
                    let mut marks = vec![setter.line(x, 0, SMALL_BOLD, &one.heading)];
                    let (lines, steps) = setter.lines(x, 1, width, SMALL, &one.sentence);
                    marks.extend(lines);
                    (one, x, marks, 1 + steps)
                })
                .collect();
            let top = sentences
                .iter()
                .map(|&(.., steps)| steps)
                .max()
                .unwrap_or(0);
            let frame = pair.iter().map(height).max().unwrap_or(0);
            let mut block = Block {
                // Half a step of air between sentence and frame comes from the next step.
                steps: top + frame + 1,
                ..Block::default()
            };
            for (one, x, marks, _) in sentences {
                block.marks.extend(marks);
                block.marks.extend(framed(
                    setter,
                    one,
                    x,
                    f64::from(top) * STEP + STEP / 2.0,
                    width,
                    frame,
                ));
            }
            block
        })
        .collect()
}

/// Steps of a box's frame.
fn height(one: &WriteBox) -> u32 {
    one.fields
        .iter()
        .map(|field| field.lines.max(1) * LINE)
        .sum()
}

/// The frame with its fields. The last field takes what its neighbour is higher.
fn framed(
    setter: &mut Setter<'_>,
    one: &WriteBox,
    x: Mm,
    y: Mm,
    width: Mm,
    steps: u32,
) -> Vec<Mark> {
    let height = f64::from(steps) * STEP;
    let mut marks = vec![
        Mark::level(x, y, width),
        Mark::level(x, y + height, width),
        Mark::upright(x, y, height),
        Mark::upright(x + width, y, height),
    ];
    let mut at = 0;
    for (n, field) in one.fields.iter().enumerate() {
        let top = y + f64::from(at) * STEP;
        if n > 0 {
            marks.push(Mark::level(x, top, width));
        }
        marks.push(
            setter
                .line(x + INSET, 0, SMALL, &field.label)
                .moved(0.0, top),
        );
        at += field.lines.max(1) * LINE;
    }
    marks
}
