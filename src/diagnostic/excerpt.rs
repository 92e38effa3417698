//! The lines of the sources that a message shows, cut to size and safe to print.
