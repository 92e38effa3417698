//! What a file is called that something is written into: its ending says what it is, so that neither rules nor records are
//! written over by a slip, and whoever opens it opens it with the right program.

use std::path::Path;

use crate::diagnostic::Diagnostic;
use crate::text::quoted;

/// Something that is written, by the endings of its files.
pub(super) struct Named {
    /// The code of the message.
    pub code: &'static str,
    /// What it is, with its article: `a page`.
    pub what: &'static str,
    /// Endings that it may have, in small letters, the usual one first; of others none where `refused` is empty.
    pub endings: &'static [&'static str],
    /// Endings that it may not have; all others do then.
    pub refused: &'static [&'static str],
    /// How it is asked for: `--report impact.html`.
    pub example: &'static str,
}

impl Named {
    /// That a file has another ending, if it has.
    pub(super) fn fault(&self, out: &Path) -> Option<Diagnostic> {
        let ending = ending(out);
        let among = |list: &[&str]| list.contains(&ending.as_str());
        let fits = match self.refused {
            [] => among(self.endings),
            refused => !among(refused),
        };
        if fits {
            return None;
        }
        let shown = quoted(&out.display().to_string()).to_string();
        let why = match ending.as_str() {
            "" => "it has no ending".to_owned(),
            ending => format!("it ends in .{ending}"),
        };
        let endings: Vec<String> = self.endings.iter().map(|one| format!(".{one}")).collect();
        let endings = match endings.as_slice() {
            [before @ .., last] if !before.is_empty() => {
                format!("{} or {last}", before.join(", "))
            }
            all => all.concat(),
        };
        let message = format!("{shown} is no name of {}: {why}", self.what);
        let help = format!("name a file that ends in {}: {}", endings, self.example);
        Some(Diagnostic::fault(self.code, message).help(help))
    }
}

/// The ending of a file in small letters; nothing where it has none.
pub(super) fn ending(out: &Path) -> String {
    let ending = out.extension().map(|ending| ending.to_ascii_lowercase());
    ending.map_or(String::new(), |ending| {
        ending.to_string_lossy().into_owned()
    })
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::Named;

    #[test]
    fn an_ending_says_what_a_file_is() {
        let page = Named {
            code: "usage.report",
            what: "a page",
            endings: &["html", "htm"],
            refused: &[],
            example: "--report impact.html",
        };
        for name in ["a.html", "b/c.HTM", ".x.html"] {
            assert!(page.fault(Path::new(name)).is_none(), "{name}");
        }
        for (name, why) in [
            ("fleet.jsonl", "it ends in .jsonl"),
            ("page", "it has no ending"),
            (".html", "it has no ending"),
        ] {
            let fault = page.fault(Path::new(name)).map(|fault| fault.message);
            assert_eq!(fault, Some(format!("`{name}` is no name of a page: {why}")));
        }
        let table = Named {
            refused: &["xlsx"],
            ..page
        };
        assert!(table.fault(Path::new("a.csv")).is_none());
        assert!(table.fault(Path::new("a.Xlsx")).is_some());
    }
}
