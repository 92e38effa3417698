//! What the file says letter for letter, where the loaded rules keep only the value of it.

use crate::quantity::Quantity;
use crate::rules::RulesFile;
use crate::text::{Node, Span, parse_yaml};

/// The text of a rules file as a tree.
#[derive(Debug)]
pub(in crate::report) struct Written<'r> {
    rules: &'r RulesFile,
    tree: Option<Node<'r>>,
}

impl<'r> Written<'r> {
    /// The tree of the text that the rules were read from.
    pub(super) fn of(rules: &'r RulesFile) -> Written<'r> {
        Written {
            rules,
            tree: parse_yaml(&rules.source).ok(),
        }
    }

    /// What stands under some keys.
    pub(in crate::report) fn node(&self, keys: &[&str]) -> Option<&Node<'r>> {
        keys.iter()
            .try_fold(self.tree.as_ref()?, |node, key| node.get(key))
    }

    /// The text under some keys; nothing where there is no text.
    pub(in crate::report) fn text(&self, keys: &[&str]) -> Option<String> {
        self.node(keys)?.as_text().map(tidy)
    }

    /// A number as it stands at a place of the file, if it is the one that was read there.
    pub(super) fn number(&self, span: Span, value: &crate::quantity::Exact) -> Option<String> {
        let (source, span) = self.rules.place(span);
        let text = tidy(source.slice(span));
        let read = Quantity::parse(&text).ok()?;
        (read.value == *value).then_some(text)
    }
}

/// Without line breaks and doubled blanks.
fn tidy(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
