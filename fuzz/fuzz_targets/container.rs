//! The container: any bytes as an archive; and a text packed is the same text as plain.
//!
//! Three kinds of input: an archive as it is; `container.xml` and a score behind a mark, packed here so that the check sums
//! hold; a score alone.

#![no_main]

use libfuzzer_sys::fuzz_target;
use stavegauge::musicxml::{Damage, Source};
use stavegauge_fuzz::{decoded, sources};
use std::io::{Cursor, Write};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

/// Between `container.xml` and the score.
const MARK: &[u8] = b"\n%%%%\n";
const CONTAINER: &[u8] = br#"<container><rootfiles><rootfile full-path="score.xml"/></rootfiles></container>"#;

fuzz_target!(|data: &[u8]| {
    if data.starts_with(b"PK") {
        texts(&sources(data));
    } else if let Some(at) = data.windows(MARK.len()).position(|window| window == MARK) {
        let (container, score) = (&data[..at], &data[at + MARK.len()..]);
        let found = sources(&packed(container, score, CompressionMethod::Stored));
        let mut members: Vec<&str> = found.iter().filter_map(|source| source.member.as_deref()).collect();
        members.sort_unstable();
        members.dedup();
        assert_eq!(members.len(), found.len(), "a member is audited once");
        for (source, text) in found.iter().zip(texts(&found)) {
            let bytes = if source.member.as_deref() == Some("score.xml") { score } else { container };
            if let Some(plain) = plain(bytes) {
                assert_eq!(text, plain, "a member is the bytes that were packed");
            }
        }
    } else {
        for method in [CompressionMethod::Stored, CompressionMethod::Deflated] {
            let found = sources(&packed(CONTAINER, data, method));
            if let Some(plain) = plain(data) {
                assert_eq!(texts(&found), [plain], "packed or plain, a text is the same");
            }
        }
    }
});

/// The text of each document, which must be the same whenever it is opened.
fn texts(found: &[Source]) -> Vec<Result<String, Damage>> {
    let texts = || found.iter().map(decoded).collect::<Vec<_>>();
    let first = texts();
    assert_eq!(first, texts(), "a document opened again is the same");
    first
}

/// The text of bytes as they are; none of those that begin like an archive: they are opened as one, whatever their name.
fn plain(bytes: &[u8]) -> Option<Result<String, Damage>> {
    sources(bytes).first().filter(|source| source.member.is_none()).map(decoded)
}

fn packed(container: &[u8], score: &[u8], method: CompressionMethod) -> Vec<u8> {
    let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in [("META-INF/container.xml", container), ("score.xml", score)] {
        archive.start_file(name, SimpleFileOptions::default().compression_method(method)).expect("begun");
        archive.write_all(bytes).expect("written");
    }
    archive.finish().expect("packed").into_inner()
}
