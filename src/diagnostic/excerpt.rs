//! The lines of the sources that one message shows, cut to size and safe to print.
//!
//! An excerpt is one text for the drawing library, made of *runs*: neighbouring lines of one source
//! around the labelled places, each line cut to the width and freed of characters that act on a
//! terminal. It answers for the true names, line numbers and columns. Runs are never joined, so that
//! labels in different sources, or far apart, are drawn as separate pictures of one message.

use miette::{MietteError, MietteSpanContents, SourceCode, SourceSpan, SpanContents};

use super::model::Label;
use super::safe::{acts, safe_line, shown};
use crate::text::Source;

/// Lines shown above and below a labelled line.
pub(super) const CONTEXT: usize = 1;

/// A labelled place in the excerpt.
#[derive(Debug)]
pub(super) struct Mark {
    /// First byte in the excerpt.
    pub offset: usize,
    /// Length in bytes of what is underlined.
    pub length: usize,
    /// The words of the label, safe to print.
    pub words: String,
    /// Whether it is the message's first label.
    pub primary: bool,
    /// Characters in front of it on its line of the excerpt.
    pub indent: usize,
    /// Column in the source, from 1.
    column: usize,
}

/// Neighbouring lines of one source.
#[derive(Debug)]
struct Run {
    name: String,
    /// Number of the first line in the source, from 1.
    first_line: usize,
    /// First byte in the excerpt.
    offset: usize,
    /// The lines, each with its line end.
    lines: Vec<String>,
}

/// See the module page.
#[derive(Debug, Default)]
pub(super) struct Excerpt {
    runs: Vec<Run>,
    pub marks: Vec<Mark>,
    /// The runs' lines, one behind the other.
    text: String,
}

/// How lines are cut.
#[derive(Clone, Copy)]
pub(super) struct Cut {
    /// Characters a line may have.
    pub width: usize,
    /// What stands for the part left out.
    pub gap: &'static str,
}

impl Excerpt {
    /// The lines around the labels. Sources follow in the order of their first label. A label that
    /// covers several lines is underlined up to the end of its first line; one in an empty text
    /// shows nothing.
    pub fn new(labels: &[Label], cut: Cut) -> Excerpt {
        let mut excerpt = Excerpt::default();
        let mut sources: Vec<&Source> = Vec::new();
        for label in labels {
            let source: &Source = &label.source;
            let known = sources.iter().any(|known| std::ptr::eq(*known, source));
            if !known && !source.text().is_empty() {
                sources.push(source);
            }
        }
        for source in sources {
            let own = labels.iter().enumerate();
            let own = own.filter(|(_, label)| std::ptr::eq::<Source>(&*label.source, source));
            excerpt.add_source(source, own.collect(), cut);
        }
        excerpt
    }

    fn add_source(&mut self, source: &Source, labels: Vec<(usize, &Label)>, cut: Cut) {
        let mut lines: Vec<usize> = labels
            .iter()
            .map(|(_, label)| source.line_index(label.span.start))
            .collect();
        lines.sort_unstable();
        let last_line = source.line_count().saturating_sub(1);
        let mut ranges: Vec<(usize, usize)> = Vec::new();
        for line in lines {
            let from = line.saturating_sub(CONTEXT);
            let to = (line + CONTEXT).min(last_line);
            match ranges.last_mut() {
                Some((_, end)) if from <= *end + 1 => *end = to,
                _ => ranges.push((from, to)),
            }
        }
        for (from, to) in ranges {
            let mut run = Run {
                name: safe_line(source.name()).into_owned(),
                first_line: source.first_line() as usize + from,
                offset: self.text.len(),
                lines: Vec::new(),
            };
            for line in from..=to {
                // An empty line that only a line end at the end of the text opens says nothing.
                let own: Vec<_> = labels
                    .iter()
                    .filter(|(_, label)| source.line_index(label.span.start) == line)
                    .collect();
                let span = source.line_span_of(line);
                if line == last_line && span.is_empty() && own.is_empty() {
                    continue;
                }
                let places: Vec<(usize, usize)> = own
                    .iter()
                    .map(|(_, label)| {
                        // A place behind the line end is drawn at the line end.
                        let within = |byte: u32| byte.clamp(span.start, span.end) - span.start;
                        let start = within(label.span.start);
                        (start as usize, within(label.span.end).max(start) as usize)
                    })
                    .collect();
                let (text, marked) = fitted(source.slice(span), &places, cut);
                for ((index, label), (start, end)) in own.iter().zip(marked) {
                    self.marks.push(Mark {
                        offset: self.text.len() + start,
                        length: end - start,
                        words: safe_line(&label.words).into_owned(),
                        primary: *index == 0,
                        indent: text.get(..start).unwrap_or("").chars().count(),
                        column: source.line_column(label.span.start).column as usize,
                    });
                }
                self.text.push_str(&text);
                self.text.push('\n');
                run.lines.push(text + "\n");
            }
            self.runs.push(run);
        }
    }

    fn contents(
        &self,
        span: &SourceSpan,
        before: usize,
        after: usize,
    ) -> Option<MietteSpanContents<'_>> {
        let at = span.offset();
        let run = self.runs.iter().rev().find(|run| run.offset <= at)?;
        let mut offset = run.offset;
        let mut starts: Vec<usize> = Vec::with_capacity(run.lines.len() + 1);
        for line in &run.lines {
            starts.push(offset);
            offset += line.len();
        }
        let end = at + span.len();
        if end > offset {
            return None;
        }
        let line_of = |place: usize| starts.iter().rposition(|start| *start <= place);
        let first = line_of(at)?;
        let last = line_of(end.saturating_sub(1).max(at))?;
        let from = first.saturating_sub(before);
        let to = (last + after + 1).min(starts.len());
        starts.push(offset);
        let range = *starts.get(from)?..*starts.get(to)?;
        // Without context the question is for the place itself.
        let column = if before == 0 {
            let mark = self.marks.iter().find(|mark| mark.offset == at);
            mark.map_or(0, |mark| mark.column.saturating_sub(1))
        } else {
            0
        };
        Some(MietteSpanContents::new_named(
            run.name.clone(),
            self.text.as_bytes().get(range.clone())?,
            (range.start, range.len()).into(),
            run.first_line + from - 1,
            column,
            to - from,
        ))
    }
}

impl SourceCode for Excerpt {
    fn read_span<'a>(
        &'a self,
        span: &SourceSpan,
        context_lines_before: usize,
        context_lines_after: usize,
    ) -> Result<Box<dyn SpanContents<'a> + 'a>, MietteError> {
        self.contents(span, context_lines_before, context_lines_after)
            .map(|contents| Box::new(contents) as Box<dyn SpanContents<'a>>)
            .ok_or(MietteError::OutOfBounds)
    }
}

/// A line cut to the width around some places (byte ranges of it), safe to print, with the places in
/// the new text.
fn fitted(line: &str, places: &[(usize, usize)], cut: Cut) -> (String, Vec<(usize, usize)>) {
    // The line may have millions of letters, so that they are counted and never collected.
    let length = line.chars().count();
    // Places in characters.
    let index = |byte: usize| line.char_indices().take_while(|(at, _)| *at < byte).count();
    let mut places: Vec<(usize, usize)> = places
        .iter()
        .map(|(start, end)| (index(*start), index(*end)))
        .collect();
    let kept = kept_parts(length, &mut places, cut.width);
    let mut text = String::with_capacity(cut.width + 8);
    // Byte in the new text for each end of a place; places lie inside kept parts.
    let mut moved = vec![(0, 0); places.len()];
    let mut note = |at: usize, byte: usize| {
        for ((start, end), moved) in places.iter().zip(&mut moved) {
            if *start == at {
                moved.0 = byte;
            }
            if *end == at {
                moved.1 = byte;
            }
        }
    };
    let mut behind = 0;
    for (from, to) in &kept {
        if *from > behind {
            text.push_str(cut.gap);
        }
        for (at, letter) in line.chars().enumerate().take(*to).skip(*from) {
            note(at, text.len());
            if letter != '\t' && acts(letter) {
                shown(letter, &mut text);
            } else {
                text.push(letter);
            }
        }
        note(*to, text.len());
        behind = *to;
    }
    if behind < length {
        text.push_str(cut.gap);
    }
    (text, moved)
}

/// The parts of a line of `length` characters to show, in order and apart from one another. Places
/// too long for the width are shortened.
fn kept_parts(length: usize, places: &mut [(usize, usize)], width: usize) -> Vec<(usize, usize)> {
    /// What is shown around a place however many there are.
    const LEAST: usize = 8;
    if length <= width {
        return vec![(0, length)];
    }
    for (start, end) in places.iter_mut() {
        *end = (*end).min(*start + width / 2);
    }
    let marked: usize = places.iter().map(|(start, end)| end - start).sum();
    let around = width.saturating_sub(marked) / (2 * places.len().max(1));
    let around = around.max(LEAST);
    let mut parts: Vec<(usize, usize)> = places
        .iter()
        .map(|(start, end)| (start.saturating_sub(around), (end + around).min(length)))
        .collect();
    parts.sort_unstable();
    let mut kept: Vec<(usize, usize)> = Vec::new();
    for (from, to) in parts {
        match kept.last_mut() {
            Some((_, end)) if from <= *end + 1 => *end = to.max(*end),
            _ => kept.push((from, to)),
        }
    }
    match kept.as_mut_slice() {
        [] => vec![(0, width)],
        [(from, to)] if *to - *from < width => {
            let end = (*from + width).min(length);
            vec![(end.saturating_sub(width).min(*from), end.max(*to))]
        }
        _ => kept,
    }
}
