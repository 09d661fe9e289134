//! Texts that a command takes besides scores, each read no further than any of its kind is long.

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

/// The text of a file of at most so many MiB.
///
/// # Errors
/// A file that cannot be read, is longer, or is no UTF-8 text.
pub(super) fn text_of(file: &Path, most_mib: u64) -> io::Result<String> {
    let most = most_mib << 20;
    let mut bytes = Vec::new();
    File::open(file)?.take(most + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > most {
        return Err(io::Error::other(format!("it is longer than {most_mib} MiB")));
    }
    String::from_utf8(bytes).map_err(|_| io::Error::other("it is no UTF-8 text"))
}
