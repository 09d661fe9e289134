//! The program run as its users run it.

#![allow(dead_code, reason = "each test target uses its own part of this module")]

use std::io::Write;
use std::path::Path;
use std::process::{Command, Output, Stdio};

/// What a run came to.
#[derive(Debug)]
pub struct Run {
    /// Exit code.
    pub code: Option<i32>,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub err: String,
}

impl Run {
    fn of(output: Output) -> Self {
        let text = |bytes| String::from_utf8(bytes).expect("UTF-8");
        Self { code: output.status.code(), out: text(output.stdout), err: text(output.stderr) }
    }

    /// Standard output as JSON.
    pub fn json(&self) -> serde_json::Value {
        serde_json::from_str(&self.out).unwrap_or_else(|error| panic!("{error}\n{self:?}"))
    }
}

/// The program in a folder, with nothing on standard input.
pub fn run(folder: &Path, arguments: &[&str]) -> Run {
    run_with(folder, arguments, b"")
}

/// The program in a folder, with bytes on standard input.
pub fn run_with(folder: &Path, arguments: &[&str], input: &[u8]) -> Run {
    let mut command = program(folder, arguments);
    let mut child = command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().expect("starts");
    let mut stdin = child.stdin.take().expect("a pipe");
    let input = input.to_vec();
    let writer = std::thread::spawn(move || {
        // A program that reads nothing closes the pipe.
        let _ = stdin.write_all(&input);
    });
    let output = child.wait_with_output().expect("ends");
    writer.join().expect("written");
    Run::of(output)
}

/// The program, not yet started.
pub fn program(folder: &Path, arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_stavegauge"));
    command.current_dir(folder).args(arguments).env_remove("COLUMNS").env_remove("NO_COLOR");
    command
}

/// A file of the demo set or of the rule fixtures.
pub fn fixture(name: &str) -> Vec<u8> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures").join(name);
    std::fs::read(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// A `.mxl` container of some members.
pub fn mxl(members: &[(&str, &[u8])]) -> Vec<u8> {
    let mut zip = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    for (name, bytes) in members {
        zip.start_file(*name, zip::write::SimpleFileOptions::default()).expect("a member");
        zip.write_all(bytes).expect("written");
    }
    zip.finish().expect("an archive").into_inner()
}

/// `META-INF/container.xml` that names one score.
pub fn container(score: &str) -> String {
    format!(r#"<?xml version="1.0"?><container><rootfiles><rootfile full-path="{score}"/></rootfiles></container>"#)
}
