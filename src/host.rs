//! The real host: files, folders, standard input, the terminal.

use std::fs::{self, File, OpenOptions};
use std::io::{self, ErrorKind, IsTerminal, Read, Write};
use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use std::time::{Duration, Instant};

use rimegauge::app::{Doing, Host, HostProblem, Kind, Listed, Terminal, Why};

/// The computer this runs on.
#[derive(Clone, Copy, Debug, Default)]
pub struct RealHost;

impl Host for RealHost {
    fn kind(&self, path: &Path) -> Result<Kind, HostProblem> {
        let found = fs::metadata(path).map_err(|error| problem(Doing::Reading, path, &error))?;
        Ok(if found.is_dir() {
            Kind::Folder
        } else {
            Kind::File
        })
    }

    fn read(&self, path: &Path, most: usize) -> Result<Vec<u8>, HostProblem> {
        let failed = |error: io::Error| problem(Doing::Reading, path, &error);
        let file = opened(path)?;
        let too_large = || HostProblem::new(Doing::Reading, path, Why::TooLarge { most });
        let length = file.metadata().map_err(failed)?.len();
        let limit = u64::try_from(most).unwrap_or(u64::MAX);
        // Told beforehand where the system knows it; a pipe is read and counted.
        if length > limit {
            return Err(too_large());
        }
        let mut bytes = Vec::with_capacity(usize::try_from(length).unwrap_or(0));
        file.take(limit.saturating_add(1))
            .read_to_end(&mut bytes)
            .map_err(failed)?;
        if bytes.len() > most {
            Err(too_large())
        } else {
            Ok(bytes)
        }
    }

    fn open(&self, path: &Path) -> Result<Box<dyn Read + Send>, HostProblem> {
        Ok(Box::new(opened(path)?))
    }

    fn size(&self, path: &Path) -> Option<u64> {
        let found = fs::metadata(path).ok()?;
        found.is_file().then_some(found.len())
    }

    fn place(&self, path: &Path) -> PathBuf {
        let there = fs::canonicalize(path).ok();
        let beside = || {
            let folder = fs::canonicalize(folder_of(path)?).ok()?;
            Some(folder.join(path.file_name()?))
        };
        there.or_else(beside).unwrap_or_else(|| path.to_path_buf())
    }

    fn running(&self) -> Duration {
        static BEGAN: OnceLock<Instant> = OnceLock::new();
        BEGAN.get_or_init(Instant::now).elapsed()
    }

    fn list(&self, folder: &Path) -> Result<Vec<Listed>, HostProblem> {
        let failed = |error: io::Error| problem(Doing::Listing, folder, &error);
        let mut entries = Vec::new();
        for entry in fs::read_dir(folder).map_err(failed)? {
            let entry = entry.map_err(failed)?;
            let path = entry.path();
            let own = entry.file_type().map_err(failed)?;
            let kind = if own.is_dir() {
                Kind::Folder
            } else if own.is_symlink() && path.is_dir() {
                continue;
            } else {
                Kind::File
            };
            entries.push(Listed { path, kind });
        }
        entries.sort_by(|a, b| a.path.cmp(&b.path));
        Ok(entries)
    }

    fn write(&self, path: &Path, bytes: &[u8]) -> Result<(), HostProblem> {
        let mut rest = Some(bytes);
        self.write_pieces(path, &mut |piece| {
            piece.extend_from_slice(rest.take().unwrap_or(&[]));
        })
    }

    fn write_pieces(
        &self,
        path: &Path,
        next: &mut dyn FnMut(&mut Vec<u8>),
    ) -> Result<(), HostProblem> {
        let failed = |error: io::Error| problem(Doing::Writing, path, &error);
        match fs::metadata(path) {
            Ok(found) if found.is_dir() => {
                return Err(HostProblem::new(Doing::Writing, path, Why::IsFolder));
            }
            // A device or a pipe can't be replaced, only written to.
            Ok(found) if !found.is_file() => {
                let mut file = OpenOptions::new().write(true).open(path).map_err(failed)?;
                return pieces(&mut file, next)
                    .and_then(|()| file.flush())
                    .map_err(failed);
            }
            Ok(_) | Err(_) => {}
        }
        // What a link leads to is replaced, not the link.
        let target = fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
        let (mut file, temporary) = temporary(&target).map_err(failed)?;
        let written = pieces(&mut file, next)
            .and_then(|()| file.sync_all())
            .and_then(|()| keep_permissions(&target, &file))
            .and_then(|()| fs::rename(&temporary, &target));
        if let Err(error) = written {
            // Best effort: what matters is that the old file stands.
            let _ = fs::remove_file(&temporary);
            return Err(failed(error));
        }
        // The name is safe on disk once the folder is; not every system allows it.
        if let Some(folder) = folder_of(&target)
            && let Ok(folder) = File::open(folder)
        {
            let _ = folder.sync_all();
        }
        Ok(())
    }

    fn make_folder(&self, path: &Path) -> Result<(), HostProblem> {
        fs::create_dir(path).map_err(|error| problem(Doing::Making, path, &error))
    }

    fn input(&self) -> Box<dyn Read + Send> {
        Box::new(io::stdin())
    }

    fn terminal(&self) -> Terminal {
        let set = |name: &str| std::env::var_os(name).is_some_and(|value| !value.is_empty());
        let dumb = std::env::var_os("TERM").is_some_and(|term| term == "dumb");
        // `COLUMNS` counts in pipes as well, for whoever sends the report on to a printer.
        let columns = std::env::var("COLUMNS")
            .ok()
            .and_then(|columns| columns.parse().ok());
        // Into a pipe or a file the width is the same whatever terminal it was sent from.
        let width = columns.or_else(|| {
            terminal_size::terminal_size_of(io::stdout()).map(|(width, _)| usize::from(width.0))
        });
        Terminal {
            output: io::stdout().is_terminal(),
            error: io::stderr().is_terminal(),
            width: width.filter(|width| *width > 0),
            no_colour: set("NO_COLOR") || dumb,
        }
    }
}

fn opened(path: &Path) -> Result<File, HostProblem> {
    let file = File::open(path).map_err(|error| problem(Doing::Reading, path, &error))?;
    match file.metadata() {
        Ok(found) if found.is_dir() => Err(HostProblem::new(Doing::Reading, path, Why::IsFolder)),
        Ok(_) | Err(_) => Ok(file),
    }
}

/// Writes pieces until one is empty.
fn pieces(file: &mut File, next: &mut dyn FnMut(&mut Vec<u8>)) -> io::Result<()> {
    let mut piece = Vec::new();
    loop {
        piece.clear();
        next(&mut piece);
        if piece.is_empty() {
            return Ok(());
        }
        file.write_all(&piece)?;
    }
}

/// A new file beside the target, under a name that nothing has yet.
fn temporary(target: &Path) -> io::Result<(File, PathBuf)> {
    const TRIES: u32 = 1000;
    let name = target
        .file_name()
        .map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    let mut last = io::Error::from(ErrorKind::AlreadyExists);
    for attempt in 0..TRIES {
        let beside = target.with_file_name(format!(".{name}.{attempt}.part"));
        match OpenOptions::new()
            .write(true)
            .create_new(true)
            .open(&beside)
        {
            Ok(file) => return Ok((file, beside)),
            Err(error) if error.kind() == ErrorKind::AlreadyExists => last = error,
            Err(error) => return Err(error),
        }
    }
    Err(last)
}

fn keep_permissions(target: &Path, file: &File) -> io::Result<()> {
    match fs::metadata(target) {
        Ok(old) => file.set_permissions(old.permissions()),
        Err(_) => Ok(()),
    }
}

fn folder_of(path: &Path) -> Option<&Path> {
    path.parent().map(|folder| {
        if folder.as_os_str().is_empty() {
            Path::new(".")
        } else {
            folder
        }
    })
}

fn problem(doing: Doing, path: &Path, error: &io::Error) -> HostProblem {
    let why = match error.kind() {
        ErrorKind::NotFound => Why::Missing,
        ErrorKind::IsADirectory => Why::IsFolder,
        ErrorKind::NotADirectory if doing == Doing::Listing => Why::NotFolder,
        // A file stands where a folder of the path should be: the path leads to nothing.
        ErrorKind::NotADirectory => Why::Missing,
        ErrorKind::PermissionDenied => Why::Denied,
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded | ErrorKind::FileTooLarge => Why::NoRoom,
        ErrorKind::BrokenPipe => Why::BrokenPipe,
        _ => Why::Other(words(error)),
    };
    HostProblem::new(doing, path, why)
}

/// The words of the system without the number behind them.
fn words(error: &io::Error) -> String {
    let text = error.to_string();
    let text = text.split(" (os error").next().unwrap_or(&text);
    let mut letters = text.chars();
    let first: String = letters
        .next()
        .map(|letter| letter.to_lowercase().collect())
        .unwrap_or_default();
    format!("{first}{}", letters.as_str())
}
