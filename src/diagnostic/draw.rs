//! The drawn printer: source lines with the places underlined.

use std::fmt;

use miette::{GraphicalReportHandler, GraphicalTheme, LabeledSpan, SourceCode};
use textwrap::{WordSeparator, WordSplitter};

use super::excerpt::{CONTEXT, Cut, Excerpt};
use super::model::{Diagnostic, Severity};
use super::order::arrange;
use super::safe::{safe_line, safe_text};

/// How to draw.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DrawOptions {
    /// Columns of the terminal; fewer than 40 are drawn as 40.
    pub width: usize,
    /// Whether escape codes for colour may be used.
    pub colour: bool,
    /// Whether lines are drawn with box characters; ASCII otherwise.
    pub unicode: bool,
}

impl Default for DrawOptions {
    /// 80 columns, no colour, box characters.
    fn default() -> DrawOptions {
        DrawOptions {
            width: 80,
            colour: false,
            unicode: true,
        }
    }
}

/// All messages drawn, in the order of [`arrange`], parted by an empty line. Lines longer than the
/// width are cut around the places; characters that act on a terminal are shown by their numbers.
pub fn draw(diagnostics: &[Diagnostic], options: DrawOptions) -> String {
    /// Columns that line number, frame and margin take.
    const FRAME: usize = 10;
    let width = options.width.max(40);
    let cut = Cut {
        width: width - FRAME,
        gap: if options.unicode { "…" } else { "..." },
    };
    let handler = GraphicalReportHandler::new_themed(theme(options))
        .with_width(width)
        .with_context_lines(CONTEXT)
        // Dates, versions and file names stay in one piece.
        .with_word_splitter(WordSplitter::NoHyphenation)
        .with_word_separator(WordSeparator::AsciiSpace)
        .with_links(false)
        .without_syntax_highlighting();
    let mut pictures = Vec::new();
    for diagnostic in arrange(diagnostics) {
        let report = Report::new(diagnostic, cut);
        let mut picture = String::new();
        if handler.render_report(&mut picture, &report).is_err() {
            // Never lose a message over its picture.
            picture = super::narrate(std::slice::from_ref(diagnostic));
        }
        let lines: Vec<&str> = picture
            .trim_matches('\n')
            .lines()
            .map(str::trim_end)
            .collect();
        pictures.push(lines.join("\n") + "\n");
    }
    pictures.join("\n")
}

/// Three colours: red for faults and their places, yellow for notices, cyan for names and help.
fn theme(options: DrawOptions) -> GraphicalTheme {
    let mut theme = match (options.unicode, options.colour) {
        (true, true) => GraphicalTheme::unicode(),
        (true, false) => GraphicalTheme::unicode_nocolor(),
        (false, true) => GraphicalTheme::ascii(),
        (false, false) => GraphicalTheme::none(),
    };
    theme.styles.highlights = vec![theme.styles.error];
    theme.characters.warning = "!".to_string();
    theme
}

/// The words of a label are never broken into narrower lines than this, in characters.
const LEAST_WORDS: usize = 28;

/// The words of a label on lines of a width; the drawing library does not break them.
fn wrapped(words: &str, width: usize) -> String {
    let mut text = String::with_capacity(words.len());
    let mut column = 0;
    for word in words.split(' ') {
        let length = word.chars().count();
        if column > 0 && column + 1 + length > width {
            text.push('\n');
            column = 0;
        } else if column > 0 {
            text.push(' ');
            column += 1;
        }
        text.push_str(word);
        column += length;
    }
    text
}

/// One message as the drawing library wants it.
#[derive(Debug)]
struct Report {
    head: String,
    message: String,
    help: Option<String>,
    severity: Severity,
    excerpt: Excerpt,
    /// Characters a line may have.
    width: usize,
}

impl Report {
    fn new(diagnostic: &Diagnostic, cut: Cut) -> Report {
        let mut message = safe_line(&diagnostic.message).into_owned();
        // A file without text has no line to show: the message names it.
        let unseen = diagnostic
            .primary()
            .filter(|label| label.source.text().is_empty());
        if let Some(label) = unseen {
            message = format!("{}: {message}", safe_line(label.source.name()));
        }
        Report {
            head: match &diagnostic.clause {
                Some(clause) => format!("{}, clause {}", diagnostic.code, safe_line(clause)),
                None => diagnostic.code.to_string(),
            },
            message,
            help: diagnostic
                .help
                .as_ref()
                .map(|help| safe_text(help).into_owned()),
            severity: diagnostic.severity,
            excerpt: Excerpt::new(&diagnostic.labels, cut),
            width: cut.width,
        }
    }
}

impl fmt::Display for Report {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for Report {}

impl miette::Diagnostic for Report {
    fn code<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        Some(Box::new(&self.head))
    }

    fn severity(&self) -> Option<miette::Severity> {
        Some(match self.severity {
            Severity::Fault => miette::Severity::Error,
            Severity::Notice => miette::Severity::Warning,
        })
    }

    fn help<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        self.help
            .as_ref()
            .map(|help| Box::new(help) as Box<dyn fmt::Display>)
    }

    fn source_code(&self) -> Option<&dyn SourceCode> {
        Some(&self.excerpt)
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        let marks = self.excerpt.marks.iter().map(|mark| {
            let room = self.width.saturating_sub(mark.indent + 4).max(LEAST_WORDS);
            let words = (!mark.words.is_empty()).then(|| wrapped(&mark.words, room));
            let place = (mark.offset, mark.length);
            if mark.primary {
                LabeledSpan::new_primary_with_span(words, place)
            } else {
                LabeledSpan::new_with_span(words, place)
            }
        });
        Some(Box::new(marks))
    }
}
