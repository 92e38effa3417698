//! JSON that is written with the origins of its pieces.

use std::ops::Range;

use super::build::Mark;
use super::cell::Given;

/// JSON that is being written.
pub(super) struct Out {
    pub(super) text: String,
    pub(super) marks: Vec<(Range<usize>, Mark)>,
    /// Whether nothing stands yet in the list or mapping that was opened last.
    pub(super) fresh: bool,
}

impl Out {
    pub(super) fn parted(&mut self) {
        if !self.fresh {
            self.text.push(',');
        }
        self.fresh = true;
    }

    pub(super) fn open(&mut self, bracket: char) -> usize {
        let start = self.text.len();
        self.text.push(bracket);
        self.fresh = true;
        start
    }

    pub(super) fn close(&mut self, bracket: char, start: usize, mark: Mark) {
        self.text.push(bracket);
        self.marks.push((start..self.text.len(), mark));
        self.fresh = false;
    }

    pub(super) fn key(&mut self, key: &str) {
        self.parted();
        self.string(key);
        self.text.push(':');
        self.fresh = true;
    }

    pub(super) fn string(&mut self, text: &str) {
        self.text
            .push_str(&serde_json::Value::from(text).to_string());
        self.fresh = false;
    }

    pub(super) fn pair(&mut self, key: &str, text: &str, mark: Option<Mark>) {
        self.key(key);
        let start = self.text.len();
        self.string(text);
        if let Some(mark) = mark {
            self.marks.push((start..self.text.len(), mark));
        }
    }

    pub(super) fn value(&mut self, given: &Given, mark: Mark) {
        let start = self.text.len();
        match given {
            Given::Text(text) => self.string(text),
            Given::Bound(key, text) => {
                self.open('{');
                self.key(key);
                self.string(text);
                self.text.push('}');
                self.fresh = false;
            }
            Given::List(words) => {
                self.open('[');
                for word in words {
                    self.parted();
                    self.string(word);
                }
                self.text.push(']');
                self.fresh = false;
            }
        }
        self.marks.push((start..self.text.len(), mark));
    }
}
