//! One case: its folder, what is to be set up, how the program is run in it.

use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use tempfile::TempDir;

use super::made;

/// A case as its folder says it.
pub(super) struct Case {
    pub name: String,
    pub path: PathBuf,
    /// The comment above the command.
    pub shows: String,
    /// Lines before the command.
    pub setup: Vec<String>,
    pub arguments: Vec<String>,
}

/// What came of a case.
pub(super) struct Ran {
    pub code: Option<i32>,
    pub output: String,
    pub problems: String,
    /// Files that were not there before.
    pub left: Vec<String>,
    /// Where it ran.
    pub place: String,
}

impl Ran {
    /// As it stands in `expected`.
    pub(super) fn shown(&self) -> String {
        let mut text = match self.code {
            Some(code) => format!("exit {code}\n"),
            None => "ended from outside\n".to_owned(),
        };
        for (title, part) in [
            ("standard output", &self.output),
            ("standard error", &self.problems),
        ] {
            text.push_str(&format!("--- {title}\n{part}"));
            if !part.is_empty() && !part.ends_with('\n') {
                text.push_str("\n(no line end)\n");
            }
        }
        if !self.left.is_empty() {
            text.push_str(&format!("--- files\n{}\n", self.left.join("\n")));
        }
        text
    }
}

/// All cases in the order of their names.
pub(super) fn all() -> Vec<Case> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/bad-input");
    let mut found: Vec<Case> = fs::read_dir(&root)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.is_dir())
        .map(|path| {
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            let command = fs::read_to_string(path.join("command"));
            Case::new(
                &name,
                &path,
                &command.unwrap_or_else(|error| panic!("{name}/command: {error}")),
            )
        })
        .collect();
    found.sort_by(|a, b| a.name.cmp(&b.name));
    found
}

impl Case {
    pub(super) fn new(name: &str, path: &Path, command: &str) -> Case {
        let mut lines: Vec<&str> = command
            .lines()
            .map(str::trim)
            .filter(|line| !line.is_empty())
            .collect();
        let comments: Vec<&str> = lines
            .iter()
            .filter_map(|line| line.strip_prefix('#'))
            .map(str::trim)
            .collect();
        let shows = comments.join(" ");
        lines.retain(|line| !line.starts_with('#'));
        let arguments = words(
            lines
                .pop()
                .unwrap_or_else(|| panic!("{name}: the command file has no command")),
        );
        Case {
            name: name.to_owned(),
            path: path.to_path_buf(),
            shows,
            setup: lines.into_iter().map(str::to_owned).collect(),
            arguments,
        }
    }

    /// Runs the program in a copy of the folder. `None` where the system can't set it up.
    pub(super) fn run(&self) -> Option<Ran> {
        let place = Place::of(self)?;
        let before = files(place.path());
        let done = place.command(self).output().unwrap();
        let mut left = files(place.path());
        left.retain(|name| !before.contains(name));
        let text = |bytes: Vec<u8>| {
            String::from_utf8(bytes).unwrap_or_else(|_| panic!("{}: not UTF-8", self.name))
        };
        Some(Ran {
            code: done.status.code(),
            output: text(done.stdout),
            problems: text(done.stderr),
            left,
            place: place.path().to_string_lossy().into_owned(),
        })
    }
}

/// A copy of the folder of a case, set up.
pub(super) struct Place {
    folder: TempDir,
    input: Option<PathBuf>,
    output: Option<PathBuf>,
    mounted: Vec<PathBuf>,
}

impl Place {
    /// `None` where the system can't set it up.
    pub(super) fn of(case: &Case) -> Option<Place> {
        let mut place = Place {
            folder: TempDir::new().unwrap(),
            input: None,
            output: None,
            mounted: Vec::new(),
        };
        copy(&case.path, place.folder.path());
        for line in &case.setup {
            let words = words(line);
            let words: Vec<&str> = words.iter().map(String::as_str).collect();
            let at = |name: &str| place.folder.path().join(name);
            match words.as_slice() {
                ["folder", name] => fs::create_dir_all(at(name)).unwrap(),
                ["input", name] => place.input = Some(at(name)),
                ["output", path] => {
                    place.output = Some(PathBuf::from(path));
                    if !Path::new(path).exists() {
                        return None;
                    }
                }
                ["needs", path] => {
                    if !Path::new(path).exists() {
                        return None;
                    }
                }
                ["link", name, to] => link(&at(name), Path::new(to))?,
                ["full", name] => {
                    let folder = at(name);
                    place.fill(&folder)?;
                }
                _ => panic!("{}: nothing is known of `{line}`", case.name),
            }
        }
        Some(place)
    }

    pub(super) fn path(&self) -> &Path {
        self.folder.path()
    }

    /// The program with its arguments and streams.
    pub(super) fn command(&self, case: &Case) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_rimegauge"));
        command
            .args(&case.arguments)
            .current_dir(self.path())
            .env_clear()
            .env("NO_COLOR", "1");
        match &self.input {
            Some(path) => command.stdin(File::open(path).unwrap()),
            None => command.stdin(Stdio::null()),
        };
        command.stdout(Stdio::piped()).stderr(Stdio::piped());
        if let Some(path) = &self.output {
            command.stdout(File::options().write(true).open(path).unwrap());
        }
        command
    }

    /// A small disk with no room left. Only root may mount one.
    fn fill(&mut self, folder: &Path) -> Option<()> {
        fs::create_dir_all(folder).unwrap();
        let mounted = Command::new("mount")
            .args(["-t", "tmpfs", "-o", "size=16k", "tmpfs"])
            .arg(folder)
            .stderr(Stdio::null())
            .status();
        if !mounted.is_ok_and(|status| status.success()) {
            return None;
        }
        self.mounted.push(folder.to_path_buf());
        // What can't be written any more is what is wanted.
        let _ = fs::write(folder.join("filling"), vec![b'x'; 64 * 1024]);
        Some(())
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        for folder in &self.mounted {
            let _ = Command::new("umount").arg(folder).status();
        }
    }
}

#[cfg(unix)]
fn link(name: &Path, to: &Path) -> Option<()> {
    std::os::unix::fs::symlink(to, name).ok()
}

#[cfg(not(unix))]
fn link(_name: &Path, _to: &Path) -> Option<()> {
    None
}

/// Copies a folder; a file `x.made` becomes `x`.
fn copy(from: &Path, to: &Path) {
    for entry in fs::read_dir(from).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if path.is_dir() {
            fs::create_dir_all(to.join(&name)).unwrap();
            copy(&path, &to.join(&name));
        } else if let Some(name) = name.strip_suffix(".made") {
            let recipe = fs::read_to_string(&path).unwrap();
            fs::write(to.join(name), made::bytes(&recipe)).unwrap();
        } else if name != "command" && name != "expected" {
            fs::copy(&path, to.join(&name)).unwrap();
        }
    }
}

/// The files under a folder.
fn files(folder: &Path) -> Vec<String> {
    let mut found = Vec::new();
    let mut folders = vec![folder.to_path_buf()];
    while let Some(next) = folders.pop() {
        for entry in fs::read_dir(&next).unwrap() {
            let entry = entry.unwrap();
            if entry.file_type().unwrap().is_dir() {
                folders.push(entry.path());
            } else {
                found.push(
                    entry
                        .path()
                        .strip_prefix(folder)
                        .unwrap()
                        .to_string_lossy()
                        .into_owned(),
                );
            }
        }
    }
    found.sort();
    found
}

/// The words of a line; quotes keep blanks in one.
fn words(line: &str) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    let mut word: Option<String> = None;
    let mut quoted = false;
    for letter in line.chars() {
        match letter {
            '"' => {
                quoted = !quoted;
                word.get_or_insert_default();
            }
            ' ' if !quoted => found.extend(word.take()),
            other => word.get_or_insert_default().push(other),
        }
    }
    found.extend(word);
    found
}
