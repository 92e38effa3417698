//! HTML: elements with their text escaped, and nothing that a browser would fetch or run.

use crate::diagnostic::safe_text;

use super::sentence::{Phrase, Piece};

/// A whole page with its styles; it fetches nothing and runs nothing.
pub(super) fn page(title: &str, styles: &[&'static str], body: impl FnOnce(&mut Html)) -> String {
    let mut html = Html::default();
    html.markup("<!DOCTYPE html>\n");
    html.within("html", &[("lang", "en")], |html| {
        html.within("head", &[], |html| {
            html.markup("<meta charset=\"utf-8\">\n");
            html.markup("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n");
            html.markup("<meta name=\"color-scheme\" content=\"light dark\">\n");
            html.markup("<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n");
            html.element("title", &[], title);
            html.within("style", &[], |html| {
                for style in styles {
                    html.markup(style);
                }
            });
        });
        html.within("body", &[], body);
    });
    html.into_text()
}

/// A page, or a part of one.
#[derive(Clone, Debug, Default)]
pub(super) struct Html {
    text: String,
}

/// Attributes of an element.
pub(super) type Attributes<'a> = &'a [(&'a str, &'a str)];

impl Html {
    /// The text.
    pub(super) fn into_text(self) -> String {
        self.text
    }

    /// Markup that is written here in the program; never a text from a file.
    pub(super) fn markup(&mut self, markup: &'static str) {
        self.text.push_str(markup);
    }

    /// A text, escaped.
    pub(super) fn text(&mut self, text: &str) {
        self.text.push_str(&escaped(text));
    }

    /// An element around what `inside` writes.
    pub(super) fn within(
        &mut self,
        tag: &'static str,
        attributes: Attributes<'_>,
        inside: impl FnOnce(&mut Html),
    ) {
        self.open(tag, attributes);
        inside(self);
        self.text.push_str("</");
        self.text.push_str(tag);
        self.text.push('>');
        if !is_inline(tag) {
            self.text.push('\n');
        }
    }

    /// An element with a text.
    pub(super) fn element(&mut self, tag: &'static str, attributes: Attributes<'_>, text: &str) {
        self.within(tag, attributes, |html| html.text(text));
    }

    /// Pieces of a sentence; a number stays together with its unit.
    pub(super) fn pieces<'p>(&mut self, pieces: impl IntoIterator<Item = &'p Piece>) {
        for piece in pieces {
            match piece {
                Piece::Words(words) => self.text(words),
                Piece::Number(number) => self.element("span", &[("class", "number")], number),
                Piece::Day { written, words } => {
                    self.element("time", &[("datetime", written)], words);
                }
            }
        }
    }

    /// A phrase.
    pub(super) fn phrase(&mut self, phrase: &Phrase) {
        self.pieces(phrase.pieces());
    }

    /// A table of two columns, the first the heads of the rows.
    pub(super) fn table<T>(
        &mut self,
        caption: &str,
        heads: (&str, &str),
        rows: impl IntoIterator<Item = (String, T)>,
        mut cell: impl FnMut(&mut Html, T),
    ) {
        self.within("table", &[], |html| {
            html.element("caption", &[], caption);
            html.within("thead", &[], |html| {
                html.within("tr", &[], |html| {
                    html.element("th", &[("scope", "col")], heads.0);
                    html.element("th", &[("scope", "col")], heads.1);
                });
            });
            html.within("tbody", &[], |html| {
                for (label, one) in rows {
                    html.within("tr", &[], |html| {
                        html.element("th", &[("scope", "row")], &label);
                        html.within("td", &[], |html| cell(html, one));
                    });
                }
            });
        });
    }

    /// Names with what they mean.
    pub(super) fn definitions(&mut self, pairs: &[(&str, String)]) {
        self.within("dl", &[], |html| {
            for (name, meaning) in pairs {
                html.within("div", &[], |html| {
                    html.element("dt", &[], name);
                    html.element("dd", &[], meaning);
                });
            }
        });
    }

    fn open(&mut self, tag: &'static str, attributes: Attributes<'_>) {
        self.text.push('<');
        self.text.push_str(tag);
        for (name, value) in attributes {
            self.text
                .push_str(&format!(" {name}=\"{}\"", escaped(value)));
        }
        self.text.push('>');
    }
}

/// Whether blanks around an element could be seen.
fn is_inline(tag: &str) -> bool {
    matches!(tag, "a" | "span" | "time" | "code" | "b" | "del" | "ins")
}

/// A text in which nothing is markup, and no letter is invisible or turns the line round.
fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for letter in safe_text(text).chars() {
        match letter {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            other => safe.push(other),
        }
    }
    safe
}

#[cfg(test)]
mod tests {
    use super::Html;

    #[test]
    fn texts_and_attributes_are_escaped() {
        let mut html = Html::default();
        html.element(
            "p",
            &[("id", "a\" onclick=\"b")],
            "<script>1 & '2'</script>",
        );
        assert_eq!(
            html.into_text(),
            "<p id=\"a&quot; onclick=&quot;b\">&lt;script&gt;1 &amp; &#39;2&#39;&lt;/script&gt;</p>\n"
        );
    }
}
