//! The report put into words: of many documents that is work for several threads.

use super::{File, audit, files, with_files};
use crate::report::AuditReport;
use rayon::prelude::*;
use serde::Serialize;
use serde::ser::Error;
use serde_json::ser::{Formatter, PrettyFormatter};

/// The report as text, laid out over many lines. Documents are put into words on all threads: of many they are most of the work.
///
/// # Errors
/// What cannot be said in JSON.
pub fn text(report: &AuditReport) -> Result<String, serde_json::Error> {
    /// So many documents are worth a thread.
    const WORTH_SHARING: usize = 8;
    /// The line of the files where there are none. No other line is like it: what else stands this far in has another name, and no text in
    /// JSON holds a line end.
    const NO_FILES: &str = "\n  \"files\": []";
    const END_OF_LIST: &str = "\n  ]";
    if report.documents.len() <= WORTH_SHARING {
        return serde_json::to_string_pretty(&audit(report));
    }
    let frame = serde_json::to_string_pretty(&with_files(Vec::new(), report))?;
    let Some((before, after)) = frame.split_once(NO_FILES) else { return serde_json::to_string_pretty(&audit(report)) };
    let pieces = report.documents.par_chunks(WORTH_SHARING).map(|documents| within(&files(documents, report)));
    let pieces = pieces.collect::<Result<Vec<String>, _>>()?;
    // Of very many documents this is much text: it grows in one place, and what it was put together from goes.
    let mut text = String::with_capacity(frame.len() + pieces.iter().map(String::len).sum::<usize>() + 1);
    text.push_str(before);
    text.push_str("\n  \"files\": [");
    for (index, piece) in pieces.into_iter().enumerate() {
        text.push_str(if index > 0 { "," } else { "" });
        let files = piece.strip_prefix('[').and_then(|piece| piece.strip_suffix(END_OF_LIST));
        text.push_str(files.unwrap_or_default());
    }
    text.push_str(END_OF_LIST);
    text.push_str(after);
    Ok(text)
}

/// A list as it stands one step within a text that is laid out over many lines.
fn within(list: &[File]) -> Result<String, serde_json::Error> {
    /// What the text of a document usually comes to.
    const USUAL_BYTES: usize = 4096;
    // What has begun an object stands one step further in.
    let mut formatter = PrettyFormatter::new();
    formatter.begin_object(&mut std::io::sink()).map_err(serde_json::Error::io)?;
    let mut text = Vec::with_capacity(list.len() * USUAL_BYTES);
    list.serialize(&mut serde_json::Serializer::with_formatter(&mut text, formatter))?;
    String::from_utf8(text).map_err(Error::custom)
}
