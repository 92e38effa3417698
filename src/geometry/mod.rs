//! Pure functions from readings to values: edge profile, straightness, section.
