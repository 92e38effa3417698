//! The world as far as this program touches it: files, folders, standard input, what the terminal can do.
//!
//! There is no clock, no randomness, no network and no environment beyond [`Terminal`]. Another host, one
//! in memory for example, makes every action testable without files.

use std::io::Read;
use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::diagnostic::Diagnostic;

use super::exit::{Exit, Trouble};

/// What a path leads to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A file, or something else that is read like one.
    File,
    /// A folder.
    Folder,
}

/// An entry of a folder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Listed {
    /// The path: the folder's with the name.
    pub path: PathBuf,
    /// What it is; a link to a folder counts as nothing and is not listed, so that no walk goes in circles.
    pub kind: Kind,
}

/// What the terminal can do.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Terminal {
    /// Whether standard output is one.
    pub output: bool,
    /// Whether standard error is one.
    pub error: bool,
    /// Its columns, if it has some.
    pub width: Option<usize>,
    /// Whether the person asked for no colour (`NO_COLOR`, or a terminal called `dumb`).
    pub no_colour: bool,
}

/// The world.
pub trait Host: Sync {
    /// What a path leads to.
    ///
    /// # Errors
    /// There is nothing there, or it can't be looked at.
    fn kind(&self, path: &Path) -> Result<Kind, HostProblem>;

    /// The bytes of a file of at most `most` bytes; of a larger one no more is read than shows it.
    ///
    /// # Errors
    /// No such file, a folder, not allowed, too large, a read that did not succeed.
    fn read(&self, path: &Path, most: usize) -> Result<Vec<u8>, HostProblem>;

    /// A file to be read from its beginning, piece by piece.
    ///
    /// # Errors
    /// No such file, a folder, not allowed.
    fn open(&self, path: &Path) -> Result<Box<dyn Read + Send>, HostProblem>;

    /// How many bytes a file has; nothing of what is no file on a disk, such as a pipe.
    fn size(&self, path: &Path) -> Option<u64>;

    /// Where a path leads, whatever it is called: links followed, from the root. Of what is not there, where it would be.
    fn place(&self, path: &Path) -> PathBuf;

    /// How long the program has run; for progress alone, and never in what it finds.
    fn running(&self) -> Duration;

    /// The entries of a folder in the order of their names.
    ///
    /// # Errors
    /// No such folder, a file, not allowed.
    fn list(&self, folder: &Path) -> Result<Vec<Listed>, HostProblem>;

    /// Writes a file whole or not at all: whoever reads the path sees the old bytes or the new ones.
    ///
    /// # Errors
    /// No such folder, not allowed, no room, a write that did not succeed.
    fn write(&self, path: &Path, bytes: &[u8]) -> Result<(), HostProblem>;

    /// Makes a folder in one that is there.
    ///
    /// # Errors
    /// No folder to make it in, something of that name, not allowed, no room.
    fn make_folder(&self, path: &Path) -> Result<(), HostProblem>;

    /// The same for a file of any size, which comes in pieces: `next` fills an empty buffer with the next piece, and
    /// leaves it empty when there is no more.
    ///
    /// # Errors
    /// As [`Host::write`].
    fn write_pieces(
        &self,
        path: &Path,
        next: &mut dyn FnMut(&mut Vec<u8>),
    ) -> Result<(), HostProblem>;

    /// Standard input.
    fn input(&self) -> Box<dyn Read + Send>;

    /// What the terminal can do.
    fn terminal(&self) -> Terminal;
}

/// What was being done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Doing {
    /// Reading a file.
    Reading,
    /// Listing a folder.
    Listing,
    /// Writing a file.
    Writing,
    /// Making a folder.
    Making,
}

/// Why it did not succeed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Why {
    /// There is nothing of that name.
    Missing,
    /// A folder stands where a file is asked.
    IsFolder,
    /// A file stands where a folder is asked.
    NotFolder,
    /// The system does not allow it.
    Denied,
    /// The file is larger than what is read.
    TooLarge {
        /// The limit in bytes.
        most: usize,
    },
    /// The disk is full.
    NoRoom,
    /// The reader of a pipe has gone.
    BrokenPipe,
    /// Something else, in the words of the system.
    Other(String),
}

/// A read or write that did not succeed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HostProblem {
    /// What was being done.
    pub doing: Doing,
    /// To what.
    pub path: String,
    /// Why it did not succeed.
    pub why: Why,
}

impl HostProblem {
    /// A problem with a path.
    pub fn new(doing: Doing, path: &Path, why: Why) -> HostProblem {
        HostProblem {
            doing,
            path: path.display().to_string(),
            why,
        }
    }

    /// Bad input, such as a path that does not exist; or a read or write that did not succeed.
    pub fn exit(&self) -> Exit {
        match self.why {
            Why::Missing | Why::IsFolder | Why::NotFolder | Why::TooLarge { .. } => Exit::BadInput,
            Why::Denied | Why::NoRoom | Why::BrokenPipe | Why::Other(_) => Exit::CouldNot,
        }
    }

    /// The problem as a message.
    pub fn diagnostic(&self) -> Diagnostic {
        let path = &self.path;
        let (code, message, help) = match (&self.why, self.doing) {
            (Why::Missing, Doing::Writing) => (
                "path.missing",
                format!("{path} can't be written: its folder does not exist"),
                Some("make the folder first, or name another"),
            ),
            (Why::Missing, Doing::Reading | Doing::Listing) => (
                "path.missing",
                format!("{path} does not exist"),
                Some("look at the spelling, and at the folder you are in"),
            ),
            (Why::Missing, Doing::Making) => (
                "path.missing",
                format!("the folder {path} can't be made: there is none to make it in"),
                Some("make the folder that it is to lie in first, or name another"),
            ),
            (Why::IsFolder, Doing::Making) => {
                ("path.folder", format!("{path} is a folder already"), None)
            }
            (Why::IsFolder, Doing::Writing) => (
                "path.folder",
                format!("{path} is a folder; a file is written"),
                Some("name a file in it"),
            ),
            (Why::IsFolder, Doing::Reading | Doing::Listing) => (
                "path.folder",
                format!("{path} is a folder; a file is asked here"),
                Some("name a file in it"),
            ),
            (Why::NotFolder, _) => (
                "path.file",
                format!("{path} is a file; a folder is asked here"),
                None,
            ),
            (Why::TooLarge { most }, _) => (
                "text.size",
                format!("{path} is larger than {most} bytes, and is not read"),
                Some("split it; many records go into one JSON Lines file (.jsonl), one a line"),
            ),
            (Why::Denied, Doing::Writing) => (
                "path.denied",
                format!("{path} can't be written: the system does not allow it"),
                Some("look at the permissions of the file and its folder"),
            ),
            (Why::Denied, Doing::Making) => (
                "path.denied",
                format!("the folder {path} can't be made: the system does not allow it"),
                Some("look at the permissions of the folder that it is to lie in"),
            ),
            (Why::Denied, Doing::Reading | Doing::Listing) => (
                "path.denied",
                format!("{path} can't be read: the system does not allow it"),
                Some("look at the permissions of the file and its folder"),
            ),
            (Why::NoRoom, Doing::Making) => (
                "path.no_room",
                format!("the folder {path} can't be made: there is no room left"),
                Some("make room, or name another place"),
            ),
            (Why::NoRoom, _) => (
                "path.no_room",
                format!("{path} can't be written: there is no room left"),
                Some("nothing was changed; make room, or name another place"),
            ),
            (Why::BrokenPipe, _) => (
                "path.pipe",
                format!("{path} can't be written: its reader has gone"),
                None,
            ),
            (Why::Other(words), Doing::Making) => (
                "path.write",
                format!("the folder {path} can't be made: {words}"),
                None,
            ),
            (Why::Other(words), Doing::Writing) => (
                "path.write",
                format!("{path} can't be written: {words}"),
                None,
            ),
            (Why::Other(words), Doing::Reading | Doing::Listing) => {
                ("path.read", format!("{path} can't be read: {words}"), None)
            }
        };
        let diagnostic = Diagnostic::fault(code, message);
        match help {
            Some(help) => diagnostic.help(help),
            None => diagnostic,
        }
    }
}

impl From<HostProblem> for Trouble {
    fn from(problem: HostProblem) -> Trouble {
        Trouble {
            exit: problem.exit(),
            diagnostics: vec![problem.diagnostic()],
        }
    }
}
