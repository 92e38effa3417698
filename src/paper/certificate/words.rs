//! The fixed words of a certificate, in one place, so that they can be read as a whole.

/// What a certificate says, on the face of every one, whatever the caller says.
pub const SAYS: &str = "This certificate says that these items conformed with the class rules named here on the day of measurement.";

/// What it does not say, after [`SAYS`].
pub const SAYS_NOT: &str = "Compliance is not safety. Local rules on ice and the organiser's decisions come first. Edges are sharp: guards on.";

/// Before the causes that end a certificate.
pub(super) const ENDS: &str = "It ends when";

/// Below the findings.
pub(super) const READING: &str = "± is the expanded uncertainty U with its coverage factor k. Places: how many were measured of those asked for. Deciding at: the distance from the item's zero, which on a runner is the pivot centre, positive toward the toe. A later reading at another place can overturn a finding.";

/// Above the signatures.
pub(super) const CORRECTING: &str = "To correct by hand: one line through, so that the old value stays readable, with initials and day. A corrected certificate needs the measurer's initials to count.";

/// Beside the check code.
pub(super) const CODE: &str = "Taken from the SHA-256 of everything stated here. The program named below gives the same code for the same record, class rules, number and days; another code means that something differs.";
