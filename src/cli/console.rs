//! Where a command prints, how wide and in which format; and what becomes of a write that does not succeed.

use std::ffi::OsString;
use std::io::{self, ErrorKind, Write};
use std::ops::ControlFlow;

use crate::app::{Doing, Exit, Host, HostProblem, Trouble, Why};
use crate::diagnostic::Diagnostic;
use crate::report::{Format, Options, problems};

use super::args::{ColorArg, Common, FormatArg};

/// Columns where nothing is known of the terminal.
const WIDTH: usize = 80;
/// Columns that are laid out for at least.
const NARROWEST: usize = 60;
/// Columns beyond which lines get too long to read.
const WIDEST: usize = 160;

/// Standard output and standard error, with what is known of them.
pub(super) struct Console<'w> {
    out: &'w mut dyn Write,
    err: &'w mut dyn Write,
    /// The format that was asked for.
    pub format: Format,
    /// Columns of standard output.
    pub width: usize,
    /// Whether standard output may have colour.
    pub colour: bool,
    colour_of_problems: bool,
    broken: Option<ErrorKind>,
    problem: Option<String>,
}

impl<'w> Console<'w> {
    /// The console of a command.
    pub(super) fn new(
        host: &dyn Host,
        common: &Common,
        out: &'w mut dyn Write,
        err: &'w mut dyn Write,
    ) -> Console<'w> {
        let terminal = host.terminal();
        let coloured = |is_terminal: bool| match common.color {
            ColorArg::Auto => is_terminal && !terminal.no_colour,
            ColorArg::Never => false,
            ColorArg::Always => true,
        };
        Console {
            out,
            err,
            format: match common.format {
                FormatArg::Human => Format::Human,
                FormatArg::Plain => Format::Plain,
                FormatArg::Json => Format::Json,
                FormatArg::Junit => Format::Junit,
            },
            width: terminal.width.unwrap_or(WIDTH).clamp(NARROWEST, WIDEST),
            colour: coloured(terminal.output),
            colour_of_problems: coloured(terminal.error),
            broken: None,
            problem: None,
        }
    }

    /// The console of a command line that can't be read: the format is looked for in its words.
    pub(super) fn before_parsing(
        host: &dyn Host,
        args: &[OsString],
        out: &'w mut dyn Write,
        err: &'w mut dyn Write,
    ) -> Console<'w> {
        let is_json = |at: usize, arg: &OsString| {
            let next = args.get(at + 1).is_some_and(|next| next == "json");
            arg == "--format=json" || (arg == "--format" && next)
        };
        let json = args.iter().enumerate().any(|(at, arg)| is_json(at, arg));
        let format = if json {
            FormatArg::Json
        } else {
            FormatArg::Human
        };
        let common = Common {
            format,
            rules_dir: Vec::new(),
            color: ColorArg::Auto,
        };
        Console::new(host, &common, out, err)
    }

    /// How a report is printed here.
    pub(super) fn options(&self) -> Options {
        Options {
            format: self.format,
            width: self.width,
            colour: self.colour,
            all: false,
            details: false,
            many: false,
        }
    }

    /// Prints to standard output. Breaks when it can't be written to; a second try is not made.
    pub(super) fn print(&mut self, text: &str) -> ControlFlow<()> {
        if self.broken.is_some() {
            return ControlFlow::Break(());
        }
        match self.out.write_all(text.as_bytes()) {
            Ok(()) => ControlFlow::Continue(()),
            Err(error) => {
                self.broke(&error);
                ControlFlow::Break(())
            }
        }
    }

    /// Says something beside the report, on standard error.
    pub(super) fn tell(&mut self, text: &str) {
        // Nothing is left to be told where standard error can't be written to.
        let _ = self.err.write_all(text.as_bytes());
    }

    /// Tells what kept a command from its end, in the format that was asked for.
    pub(super) fn trouble(&mut self, trouble: &Trouble) -> Exit {
        self.problems(&trouble.diagnostics);
        trouble.exit
    }

    /// Prints messages: for programs on standard output, for people beside the report.
    pub(super) fn problems(&mut self, diagnostics: &[Diagnostic]) {
        let (text, on_output) = problems(
            diagnostics,
            self.format,
            self.width,
            self.colour_of_problems,
        );
        if on_output {
            let _ = self.print(&text);
        } else {
            self.tell(&text);
        }
    }

    /// Messages that are what was asked for, on standard output in every format.
    pub(super) fn report(&mut self, diagnostics: &[Diagnostic]) {
        let (text, _) = problems(diagnostics, self.format, self.width, self.colour);
        let _ = self.print(&text);
    }

    /// Messages beside a report that carries them itself: on standard error whatever the format.
    pub(super) fn beside(&mut self, diagnostics: &[Diagnostic]) {
        let format = match self.format {
            Format::Human => Format::Human,
            Format::Plain | Format::Json | Format::Junit => Format::Plain,
        };
        let (text, _) = problems(diagnostics, format, self.width, self.colour_of_problems);
        self.tell(&text);
    }

    /// The end of a command: what was printed is sent on, and a write that did not succeed counts.
    pub(super) fn end(mut self, exit: Exit) -> Exit {
        if self.broken.is_none()
            && let Err(error) = self.out.flush()
        {
            self.broke(&error);
        }
        match (self.broken, self.problem.take()) {
            (None, _) => exit,
            // Whoever read it has gone, with all they wanted: that is no news to anyone.
            (Some(ErrorKind::BrokenPipe), _) => exit,
            (Some(_), Some(text)) => {
                self.tell(&text);
                Exit::CouldNot
            }
            (Some(_), None) => Exit::CouldNot,
        }
    }

    fn broke(&mut self, error: &io::Error) {
        self.broken = Some(error.kind());
        let why = match error.kind() {
            ErrorKind::StorageFull | ErrorKind::QuotaExceeded => Why::NoRoom,
            ErrorKind::BrokenPipe => Why::BrokenPipe,
            _ => Why::Other(error.to_string()),
        };
        let path = std::path::Path::new("standard output");
        let diagnostic = HostProblem::new(Doing::Writing, path, why).diagnostic();
        self.problem = Some(problems(&[diagnostic], Format::Plain, self.width, false).0);
    }
}
