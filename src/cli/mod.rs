//! Arguments, one file per subcommand, exit codes.
