//! The yardstick of `benches/whole`: the bare pull of the XML library.
//!
//! Every event of a mapped file, in the library's default configuration, and nothing done with it. Prints how many there were.

#![allow(unsafe_code)]

use memmap2::Mmap;
use quick_xml::Reader;
use quick_xml::events::Event;
use std::fs::File;
use std::process::ExitCode;

fn main() -> ExitCode {
    let Some(path) = std::env::args().nth(1).filter(|path| !path.starts_with('-')) else {
        // What `cargo bench` runs without a file.
        println!("usage: pull FILE (it is run by benches/whole)");
        return ExitCode::SUCCESS;
    };
    match events(&path) {
        Ok(events) => {
            println!("{events}");
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("{path}: {error}");
            ExitCode::FAILURE
        }
    }
}

fn events(path: &str) -> Result<u64, Box<dyn std::error::Error>> {
    // SAFETY: nothing changes the file while it is measured; if something did, a wrong count would be all.
    let map = unsafe { Mmap::map(&File::open(path)?)? };
    let mut reader = Reader::from_reader(&map[..]);
    let mut events = 0;
    while !matches!(reader.read_event()?, Event::Eof) {
        events += 1;
    }
    Ok(events)
}
