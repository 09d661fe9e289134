//! Arguments in, exit code out.

use std::process::ExitCode;

fn main() -> ExitCode {
    stavegauge::command::run()
}
