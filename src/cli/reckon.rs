//! `reckon`: one measurement computed with its uncertainty. Each kind has a file of its own.

use crate::app::{Exit, Host};

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
