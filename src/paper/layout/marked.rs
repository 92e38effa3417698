//! Words of a text that are set apart: bold and underlined, so that they are seen on a bad copy too.

use super::text::{Setter, belongs};
use super::{Mark, Mm, SMALL, SMALL_BOLD, Style};

/// A word, with what stands fast around it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Word {
    /// The letters.
    pub text: String,
    /// Whether it is set apart.
    pub marked: bool,
}

/// How far below the baseline a line under words runs.
const UNDER: Mm = 0.55;

fn style(marked: bool) -> Style {
    match marked {
        true => SMALL_BOLD,
        false => SMALL,
    }
}

impl Setter<'_> {
    /// Words in lines no wider than `width`; a number keeps its unit where there is room.
    pub fn wrap_words(&mut self, words: &[Word], width: Mm) -> Vec<Vec<Word>> {
        let mut groups: Vec<Vec<Word>> = Vec::new();
        for word in words {
            let held = groups
                .last()
                .and_then(|group| group.last())
                .is_some_and(|before| belongs(&before.text, &word.text));
            match groups.last_mut() {
                Some(group) if held => group.push(word.clone()),
                Some(_) | None => groups.push(vec![word.clone()]),
            }
        }
        let mut lines: Vec<Vec<Word>> = Vec::new();
        let mut line: Vec<Word> = Vec::new();
        for group in groups {
            for part in self.pieces(group, width) {
                let mut longer = line.clone();
                longer.extend(part.iter().cloned());
                if line.is_empty() || self.words_width(&longer) <= width {
                    line = longer;
                } else {
                    lines.push(std::mem::replace(&mut line, part));
                }
            }
        }
        if !line.is_empty() {
            lines.push(line);
        }
        lines
    }

    /// A group that may not be parted, unless it is wider than a line.
    fn pieces(&mut self, group: Vec<Word>, width: Mm) -> Vec<Vec<Word>> {
        if self.words_width(&group) <= width {
            return vec![group];
        }
        let mut all = Vec::new();
        for word in group {
            let pieces = self.wrap(&word.text, style(word.marked), width);
            all.extend(pieces.into_iter().map(|text| {
                vec![Word {
                    text,
                    marked: word.marked,
                }]
            }));
        }
        all
    }

    fn words_width(&self, words: &[Word]) -> Mm {
        let all: Mm = words
            .iter()
            .map(|word| self.width(&word.text, style(word.marked)))
            .sum();
        let gaps = u32::try_from(words.len().saturating_sub(1)).unwrap_or(u32::MAX);
        all + f64::from(gaps) * self.width(" ", SMALL)
    }

    /// Words as marks of one block, and the steps they take.
    pub fn word_lines(&mut self, x: Mm, width: Mm, words: &[Word]) -> (Vec<Mark>, u32) {
        let mut marks = Vec::new();
        let mut at = 0;
        for line in self.wrap_words(words, width) {
            let mut left = x;
            for run in line.chunk_by(|one, next| one.marked == next.marked) {
                let Some(marked) = run.first().map(|word| word.marked) else {
                    continue;
                };
                let texts: Vec<&str> = run.iter().map(|word| word.text.as_str()).collect();
                let text = texts.join(" ");
                let wide = self.width(&text, style(marked));
                let mark = self.line(left, at, style(marked), &text);
                if let (true, Mark::Text { y, .. }) = (marked, &mark) {
                    marks.push(Mark::level(left, y + UNDER, wide));
                }
                marks.push(mark);
                left += wide + self.width(" ", SMALL);
            }
            at += 1;
        }
        (marks, at)
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

    fn words(text: &str, marked: &[&str]) -> Vec<Word> {
        let words = text.split(' ').map(|word| Word {
            text: word.to_owned(),
            marked: marked.contains(&word),
        });
        words.collect()
    }

    #[test]
    fn a_marked_word_is_bold_and_underlined_where_it_stands() {
        let faces = Faces::read().unwrap();
        let mut setter = Setter::new(&faces);
        let words = words("4.70 mm in an insert runner", &["insert"]);
        let (marks, steps) = setter.word_lines(10.0, 60.0, &words);
        assert_eq!(steps, 1);
        let texts: Vec<(f64, String, Style)> = marks
            .iter()
            .filter_map(|mark| match mark {
                Mark::Text { x, text, style, .. } => Some((*x, text.clone(), *style)),
                Mark::Rule { .. } => None,
            })
            .collect();
        assert_eq!(texts.len(), 3);
        assert_eq!(texts[1].1, "insert");
        assert_eq!(texts[1].2, SMALL_BOLD);
        let rules: Vec<_> = marks
            .iter()
            .filter_map(|mark| match mark {
                Mark::Rule { from, to } => Some((*from, *to)),
                Mark::Text { .. } => None,
            })
            .collect();
        assert_eq!(rules.len(), 1);
        assert!((rules[0].0.0 - texts[1].0).abs() < 1e-9);
        assert!((rules[0].1.0 - rules[0].0.0 - setter.width("insert", SMALL_BOLD)).abs() < 1e-9);
    }

    #[test]
    fn lines_fit_keep_every_word_and_a_number_its_unit() {
        let faces = Faces::read().unwrap();
        let mut setter = Setter::new(&faces);
        let text = "thinner than 6.00 mm in a plate runner and 4.80 mm in an insert_runner_of_a_very_long_name_that_never_ends.";
        for width in 20..70 {
            let all = setter.wrap_words(&words(text, &["4.80", "plate"]), f64::from(width));
            let mut said = String::new();
            for line in &all {
                assert!(setter.words_width(line) <= f64::from(width), "{line:?}");
                assert!(line.first().unwrap().text != "mm", "{line:?}");
                said.extend(line.iter().map(|word| word.text.as_str()));
            }
            assert_eq!(said, text.replace(' ', ""));
        }
    }
}
