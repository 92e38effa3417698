//! Measurement uncertainty after the GUM, coverage factors and decision rules.
