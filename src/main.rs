//! Arguments in, exit code out.

#![forbid(unsafe_code)]

use std::process::ExitCode;

fn main() -> ExitCode {
    stavegauge::command::run()
}
