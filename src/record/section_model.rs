//! Sections across the edge as typed data.

use super::model::{Reading, Where};
use crate::text::Span;

/// A section across the edge at a place.
#[derive(Clone, Debug)]
pub struct SectionPlace {
    /// Where.
    pub place: Where,
    /// How it was read.
    pub edge: EdgeAcross,
    /// What to underline.
    pub span: Span,
}

/// How a section across the edge was read.
#[derive(Clone, Debug)]
pub enum EdgeAcross {
    /// Two bevels, each against the middle plane.
    Bevels {
        /// Port.
        port: Reading,
        /// Starboard.
        starboard: Reading,
    },
    /// Points of both ground faces.
    Points(Box<EdgePoints>),
    /// A sine bar on each ground face.
    Sine(Box<SineBar>),
    /// Pins beside the edge.
    Pins(Vec<SizedReading>),
    /// Rollers in a cast of the edge.
    Rollers(Vec<SizedReading>),
    /// Widths at depths.
    Widths(Vec<SizedReading>),
}

/// Points of both ground faces, each from the middle plane, positive toward starboard, and its height.
#[derive(Clone, Debug)]
pub struct EdgePoints {
    /// Of the port face.
    pub port: Vec<[Reading; 2]>,
    /// Of the starboard face.
    pub starboard: Vec<[Reading; 2]>,
    /// The radius with which the apex is rounded, where it is told.
    pub edge_radius: Option<Reading>,
}

/// How much higher one roller of a sine bar stands that lies along a ground face.
#[derive(Clone, Debug)]
pub struct SineBar {
    /// From roller to roller.
    pub length: Reading,
    /// Height for the port face.
    pub port: Reading,
    /// Height for the starboard face.
    pub starboard: Reading,
}

/// What was read with a pair of pins, with a roller, or at a depth.
#[derive(Clone, Debug)]
pub struct SizedReading {
    /// The diameter, or the depth from the edge.
    pub size: Reading,
    /// The measure over the pins, the height over the roller, or the width.
    pub reading: Reading,
}
