//! What all kinds of `reckon` share: a reckoning is drawn and printed, or what kept it from its end is told.

use std::path::Path;

use crate::app::{self, Exit, Host, Trouble};
use crate::report::{Format, Reckoned, reckoned_json, reckoned_plain, reckoned_text};

use super::console::Console;

/// Where a picture goes, if one is asked for.
pub(super) struct Picture<'a> {
    pub host: &'a dyn Host,
    /// The readings, where they come from a file.
    pub read: Option<&'a Path>,
    pub path: Option<&'a Path>,
}

/// Prints a reckoning, or what kept it from its end; writes its picture first, where one was asked for.
pub(super) fn printed(
    picture: Option<Picture<'_>>,
    reckoned: Result<Reckoned, Trouble>,
    budget: bool,
    console: &mut Console<'_>,
) -> Exit {
    let drawn = reckoned.and_then(|reckoned| {
        if let Some(Picture {
            host,
            read,
            path: Some(path),
        }) = picture
        {
            app::write_plot(host, &reckoned, read, path)?;
        }
        Ok(reckoned)
    });
    match drawn {
        Ok(reckoned) => {
            print(&reckoned, budget, console);
            Exit::Done
        }
        Err(trouble) => console.trouble(&trouble),
    }
}

/// Prints a reckoning in the format that was asked for.
pub(super) fn print(reckoned: &Reckoned, budget: bool, console: &mut Console<'_>) {
    let text = match console.format {
        Format::Human => reckoned_text(reckoned, console.width, budget),
        Format::Plain => reckoned_plain(reckoned, budget),
        Format::Json | Format::Junit => format!("{:#}\n", reckoned_json(reckoned, budget)),
    };
    let _ = console.print(&text);
}
