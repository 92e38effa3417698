//! Start-up only: the real host, the streams, the exit code.

mod host;

use std::io::{self, BufWriter};
use std::process::ExitCode;

fn main() -> ExitCode {
    let mut out = BufWriter::with_capacity(64 * 1024, io::stdout().lock());
    let mut err = io::stderr();
    let exit = rimegauge::cli::run(&host::RealHost, std::env::args_os(), &mut out, &mut err);
    // What could not be written was told; dropping the writer must not try again.
    let (_, _) = out.into_parts();
    ExitCode::from(exit.code())
}
