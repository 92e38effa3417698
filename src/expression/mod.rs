//! The expressions of the rules language: lexer, parser, types.

mod tree;

pub use tree::*;
