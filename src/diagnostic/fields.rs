//! Reading a mapping key by key, with every fault collected.
//!
//! A typed loader takes the keys it knows from a [`Fields`]; what is left at the end is unknown. The
//! good path allocates nothing.

use std::sync::Arc;

use super::{Diagnostic, Label, Severity, near_misses};
use crate::text::{Entry, Node, Source, Span, TextProblem, quoted};

/// Faults found while one source is read.
#[derive(Debug)]
pub struct Faults {
    source: Arc<Source>,
    found: Vec<Diagnostic>,
}

impl Faults {
    /// Nothing found yet.
    pub fn new(source: &Arc<Source>) -> Faults {
        Faults {
            source: Arc::clone(source),
            found: Vec::new(),
        }
    }

    /// The source that is read.
    pub fn source(&self) -> &Arc<Source> {
        &self.source
    }

    /// Whether nothing was found.
    pub fn is_empty(&self) -> bool {
        self.found.is_empty()
    }

    /// How many were found.
    pub fn len(&self) -> usize {
        self.found.len()
    }

    /// Adds a fault; `words` stand at the underlined text.
    pub fn fault(
        &mut self,
        code: &'static str,
        span: Span,
        message: impl Into<String>,
        words: impl Into<String>,
        help: impl Into<String>,
    ) {
        let help = help.into();
        self.push(Diagnostic {
            code,
            severity: Severity::Fault,
            message: message.into(),
            labels: vec![Label {
                source: Arc::clone(&self.source),
                span,
                words: words.into(),
            }],
            help: (!help.is_empty()).then_some(help),
            clause: None,
        });
    }

    /// Adds a second place to the last fault.
    pub fn also(&mut self, span: Span, words: impl Into<String>) {
        let label = Label {
            source: Arc::clone(&self.source),
            span,
            words: words.into(),
        };
        if let Some(last) = self.found.last_mut() {
            last.labels.push(label);
        }
    }

    /// Adds a diagnostic as it is.
    pub fn push(&mut self, diagnostic: Diagnostic) {
        self.found.push(diagnostic);
    }

    /// Adds the problems of a text.
    pub fn text(&mut self, problems: Vec<TextProblem>) {
        for problem in problems {
            self.found
                .push(Diagnostic::from_problem(problem, &self.source));
        }
    }

    /// Everything found, in the order of the file.
    pub fn into_found(self) -> Vec<Diagnostic> {
        self.found
    }

    /// The value if nothing was found.
    ///
    /// # Errors
    /// Everything found.
    pub fn into_result<T>(self, value: Option<T>) -> Result<T, Vec<Diagnostic>> {
        match value {
            Some(value) if self.found.iter().all(|one| one.severity != Severity::Fault) => {
                Ok(value)
            }
            _ => Err(self.found),
        }
    }
}

/// A mapping that is read key by key.
pub struct Fields<'n, 's> {
    what: &'static str,
    entries: &'n [Entry<'s>],
    taken: Taken,
    known: Vec<&'static str>,
    /// What to underline for the mapping as a whole.
    pub span: Span,
}

/// Which entries were taken: a bit each for the first 64, a list beyond.
#[derive(Default)]
struct Taken {
    bits: u64,
    more: Vec<usize>,
}

impl Taken {
    fn set(&mut self, at: usize) {
        if at < 64 {
            self.bits |= 1 << at;
        } else {
            self.more.push(at);
        }
    }

    fn has(&self, at: usize) -> bool {
        if at < 64 {
            self.bits & (1 << at) != 0
        } else {
            self.more.contains(&at)
        }
    }
}

impl<'n, 's> Fields<'n, 's> {
    /// Opens a mapping; `what` is what it stands for, with its article: `a rule`. Anything but a mapping
    /// is a fault, underlined at `key_span` where the node is a block.
    pub fn of(
        node: &'n Node<'s>,
        what: &'static str,
        key_span: Option<Span>,
        faults: &mut Faults,
    ) -> Option<Fields<'n, 's>> {
        let span = node.label_span(key_span);
        let Some(entries) = node.as_mapping() else {
            faults.fault(
                "file.shape",
                span,
                format!(
                    "{what} is written as keys with values; here stands {}",
                    node.kind_in_words()
                ),
                "not a mapping",
                "write keys, each with its value: `key: …`",
            );
            return None;
        };
        Some(Fields {
            what,
            entries,
            taken: Taken::default(),
            known: Vec::new(),
            span,
        })
    }

    /// What the mapping stands for.
    pub fn what(&self) -> &'static str {
        self.what
    }

    /// All entries, taken or not.
    pub fn entries(&self) -> &'n [Entry<'s>] {
        self.entries
    }

    /// Marks an entry by its position as known.
    pub fn mark(&mut self, at: usize) {
        self.taken.set(at);
    }

    /// Takes a key if it is there.
    pub fn take_entry(&mut self, key: &'static str) -> Option<&'n Entry<'s>> {
        self.known.push(key);
        let at = self.entries.iter().position(|entry| entry.key == key)?;
        self.taken.set(at);
        self.entries.get(at)
    }

    /// Takes a key if it is there and holds something; a key with nothing is a fault.
    pub fn take(&mut self, key: &'static str, faults: &mut Faults) -> Option<&'n Entry<'s>> {
        self.take_filled(key, true, faults)
    }

    fn take_filled(
        &mut self,
        key: &'static str,
        may_go: bool,
        faults: &mut Faults,
    ) -> Option<&'n Entry<'s>> {
        let entry = self.take_entry(key)?;
        if entry.node.is_null() {
            faults.fault(
                "file.nothing",
                entry.key_span,
                format!("{} has nothing behind it", quoted(key)),
                "no value",
                if may_go {
                    format!("give it a value or leave the key out of {}", self.what)
                } else {
                    "give it a value".to_owned()
                },
            );
            return None;
        }
        Some(entry)
    }

    /// Takes a key that must be there.
    pub fn require(&mut self, key: &'static str, faults: &mut Faults) -> Option<&'n Entry<'s>> {
        if self.entries.iter().any(|entry| entry.key == key) {
            return self.take_filled(key, false, faults);
        }
        self.known.push(key);
        faults.fault(
            "file.missing_key",
            self.span,
            format!("{} needs the key {}", self.what, quoted(key)),
            format!("no {} here", quoted(key)),
            format!("add `{key}: …`"),
        );
        None
    }

    /// Takes a text: a scalar with something in it.
    pub fn take_text(
        &mut self,
        key: &'static str,
        faults: &mut Faults,
    ) -> Option<(&'n str, &'n Node<'s>)> {
        let entry = self.take(key, faults)?;
        text_of(entry, faults).map(|text| (text, &entry.node))
    }

    /// Takes a text that must be there.
    pub fn require_text(
        &mut self,
        key: &'static str,
        faults: &mut Faults,
    ) -> Option<(&'n str, &'n Node<'s>)> {
        let entry = self.require(key, faults)?;
        text_of(entry, faults).map(|text| (text, &entry.node))
    }

    /// Reports the keys that nobody took, each with a near miss among the known ones.
    pub fn finish(self, faults: &mut Faults) {
        for (at, entry) in self.entries.iter().enumerate() {
            if self.taken.has(at) {
                continue;
            }
            let help = match near_misses(&entry.key, self.known.iter().copied()) {
                Some(near) => format!("did you mean {}?", quoted(near)),
                None => {
                    let mut known = self.known.clone();
                    known.sort_unstable();
                    known.dedup();
                    format!("{} can have: {}", self.what, known.join(", "))
                }
            };
            faults.fault(
                "file.unknown_key",
                entry.key_span,
                format!("{} has no key {}", self.what, quoted(&entry.key)),
                "not known here",
                help,
            );
        }
    }
}

/// The text of an entry's scalar.
pub fn text_of<'n>(entry: &'n Entry<'_>, faults: &mut Faults) -> Option<&'n str> {
    match entry.node.as_text() {
        Some(text) => Some(text),
        None => {
            faults.fault(
                "file.shape",
                entry.node.label_span(Some(entry.key_span)),
                format!(
                    "{} is a text; here stands {}",
                    quoted(&entry.key),
                    entry.node.kind_in_words()
                ),
                "not a text",
                format!("write one text behind `{}:`", entry.key),
            );
            None
        }
    }
}
