//! How far a comparison is, for whoever waits for it.

/// How far a comparison is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Progress {
    /// Questions of what is required.
    Asked {
        /// Those that are answered.
        done: usize,
        /// All.
        all: usize,
    },
    /// Differences of what is asked as evidence.
    Evidence {
        /// Those that are answered.
        done: usize,
        /// All.
        all: usize,
    },
}
