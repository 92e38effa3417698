//! The expressions of the rules language: lexer, parser, types.
