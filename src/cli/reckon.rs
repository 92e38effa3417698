//! `reckon`: one measurement computed with its uncertainty. Each kind has a file of its own; what they share
//! is here.

use std::path::Path;

use crate::app::{self, Exit, Host, Trouble};
use crate::report::{Format, Reckoned, reckoned_json, reckoned_plain, reckoned_text};

use super::console::Console;
use super::reckon_args::ReckonCommand;
use super::{
    reckon_angle, reckon_area, reckon_expansion, reckon_flat, reckon_hardness, reckon_mark,
    reckon_mass, reckon_mean, reckon_repeatability, reckon_straightness,
};

pub(super) fn run(host: &dyn Host, command: &ReckonCommand, console: &mut Console<'_>) -> Exit {
    match command {
        ReckonCommand::Mean(args) => reckon_mean::run(args, console),
        ReckonCommand::Flat(args) => reckon_flat::run(host, args, console),
        ReckonCommand::Straightness(args) => reckon_straightness::run(host, args, console),
        ReckonCommand::Angle(args) => reckon_angle::run(host, args, console),
        ReckonCommand::Area(args) => reckon_area::run(host, args, console),
        ReckonCommand::Hardness(args) => reckon_hardness::run(args, console),
        ReckonCommand::Expansion(args) => reckon_expansion::run(args, console),
        ReckonCommand::Mass(args) => reckon_mass::run(args, console),
        ReckonCommand::Repeatability(args) => reckon_repeatability::run(host, args, console),
        ReckonCommand::Mark(args) => reckon_mark::run(args, console),
    }
}

/// Prints a reckoning, or what kept it from its end; writes its picture first, where one was asked for.
pub(super) fn printed(
    host: Option<(&dyn Host, Option<&Path>)>,
    reckoned: Result<Reckoned, Trouble>,
    budget: bool,
    console: &mut Console<'_>,
) -> Exit {
    let drawn = reckoned.and_then(|reckoned| {
        if let Some((host, Some(path))) = host {
            app::write_plot(host, &reckoned, path)?;
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
