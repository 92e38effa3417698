//! One measurement reckoned by itself, with its uncertainty and the formula shown: a file for each kind.

mod angle;
mod area;
mod expansion;
mod flat;
mod flat_picture;
mod given;
mod hardness;
mod mark;
mod mass;
mod mean;
mod repeatability;
mod straightness;
mod table;
mod trial;

use std::path::Path;

use crate::report::{Reckoned, plot};

use super::apart::outputs_apart;
use super::{Host, Trouble};

pub use angle::{AngleReadings, angle};
pub use area::area;
pub use expansion::{ExpansionRequest, expansion};
pub use flat::{FlatReadings, flat};
pub(super) use given::problem;
pub use given::{InstrumentRequest, ReckonRequest};
pub use hardness::hardness;
pub use mark::{mark, mark_read};
pub use mass::{MassRequest, mass};
pub use mean::mean;
pub use repeatability::repeatability;
pub use straightness::straightness;

/// Writes the picture of a reckoning as SVG; a reckoning without one is told so.
///
/// # Errors
/// No picture, a picture over the readings themselves, or a write that did not succeed.
pub fn write_plot(
    host: &dyn Host,
    reckoned: &Reckoned,
    read: Option<&Path>,
    path: &Path,
) -> Result<(), Trouble> {
    let Some(picture) = &reckoned.picture else {
        let fault = crate::diagnostic::Diagnostic::fault(
            "reckon.plot",
            format!("{}: there is nothing to draw", reckoned.what),
        );
        return Err(Trouble::one(
            fault.help("leave --plot out, or give readings at stations"),
        ));
    };
    let read: Vec<&Path> = read.into_iter().collect();
    outputs_apart(
        host,
        [path],
        &read,
        "name another file: --plot reckoned.svg",
    )?;
    host.write(path, plot(picture).as_bytes())?;
    Ok(())
}
