//! What holds of every file as bytes: packed it says what it says plain; cut short it is refused; with a byte changed it says the
//! same, or something is found, or it is refused, and the program never fails.
//!
//! `tests/hostile.rs` does the last two with one plain file, every kind of layout in it, repairs and pictures.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

#[path = "support/run.rs"]
mod run;
mod support;

use proptest::prelude::*;
use stavegauge::audit::DocumentAudit;
use std::io::Write;
use std::sync::LazyLock;
use support::any::any;
use support::engine::Engine;
use support::plain::{B5, Sheet};
use zip::CompressionMethod;
use zip::write::SimpleFileOptions;

static ENGINE: LazyLock<Engine> = LazyLock::new(Engine::new);
/// A short score, packed.
static PACKED: LazyLock<Vec<u8>> = LazyLock::new(|| {
    let text = support::musicxml::write(&Sheet::winds(2, 6.0, B5, 13.0).page(2, 18.0).score());
    packed(&text, CompressionMethod::Deflated)
});

/// A text in a `.mxl` container.
fn packed(text: &str, method: CompressionMethod) -> Vec<u8> {
    let mut zip = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    let options = SimpleFileOptions::default().compression_method(method);
    for (name, bytes) in
        [("META-INF/container.xml", run::container("scores/a.musicxml").as_bytes()), ("scores/a.musicxml", text.as_bytes())]
    {
        zip.start_file(name, options).expect("a member");
        zip.write_all(bytes).expect("written");
    }
    zip.finish().expect("an archive").into_inner()
}

fn audit(bytes: &[u8]) -> Vec<DocumentAudit> {
    ENGINE.audit_bytes(bytes, None)
}

/// Findings with their places, line and column.
fn placed(documents: &[DocumentAudit]) -> Vec<String> {
    documents.iter().flat_map(|document| &document.findings).map(|placed| format!("{placed:?}")).collect()
}

/// Whether the file is refused: one damage, and nothing is said of a score.
fn is_refused(documents: &[DocumentAudit]) -> bool {
    let [document] = documents else { return false };
    let [placed] = document.findings.as_slice() else { return false };
    let says = !placed.finding.message.is_empty() && !placed.finding.advice.is_empty();
    says && &*placed.finding.rule == "damaged-file" && document.summary.is_none()
}

fn utf_16(text: &str) -> Vec<u8> {
    let text = text.replacen("UTF-8", "UTF-16", 1);
    format!("\u{feff}{text}").encode_utf16().flat_map(u16::to_le_bytes).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(16))]

    /// Source: `MusicXML` 4.0, the container: the score in it is the score.
    #[test]
    fn packed_is_plain(any in any()) {
        let text = any.text();
        let plain = audit(text.as_bytes());
        for method in [CompressionMethod::Deflated, CompressionMethod::Stored] {
            let packed = audit(&packed(&text, method));
            prop_assert_eq!(packed.len(), 1);
            prop_assert_eq!(packed[0].member.as_deref(), Some("scores/a.musicxml"));
            prop_assert_eq!(Engine::judged(&packed), Engine::judged(&plain));
            prop_assert_eq!(placed(&packed), placed(&plain));
        }
    }

    /// Source: XML 1.0, 2.1: a document that lacks an end tag is not well-formed; APPNOTE 4.3.16: an archive ends with its directory.
    #[test]
    fn a_file_cut_short_is_refused(any in any(), shares in prop::collection::vec(0_u32..1000, 8)) {
        let text = any.text();
        let (plain, wide, packed) = (text.as_bytes(), utf_16(&text), packed(&text, CompressionMethod::Deflated));
        prop_assert!(!is_refused(&audit(&wide)) && !is_refused(&audit(plain)));
        let last = text.rfind('>').expect("it has one");
        for share in shares {
            for (bytes, end) in [(plain, last), (&wide, 2 + 2 * text[..last].encode_utf16().count() + 2), (&packed, packed.len())] {
                let cut = end * share as usize / 1000;
                prop_assert!(is_refused(&audit(&bytes[..cut])), "cut at {} of {}", cut, bytes.len());
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    /// The members are guarded by sums: a byte changed in them is refused. Elsewhere in the archive nothing hangs on it, or it is refused.
    #[test]
    fn a_byte_changed_in_a_container_is_noticed_or_means_nothing(at in 0..PACKED.len(), byte: u8) {
        static SOUND: LazyLock<Vec<String>> = LazyLock::new(|| Engine::judged(&audit(&PACKED)));
        let mut bytes = PACKED.clone();
        bytes[at] = byte;
        let documents = audit(&bytes);
        prop_assert!(is_refused(&documents) || Engine::judged(&documents) == *SOUND, "byte {} as {}", at, byte);
    }

    /// In a text nothing guards a byte: another title is no fault. But there is one score, refused or judged to its end.
    #[test]
    fn a_byte_changed_in_a_wide_text_is_refused_or_judged(share in 0_usize..10_000, byte: u8) {
        static WIDE: LazyLock<Vec<u8>> =
            LazyLock::new(|| utf_16(&support::musicxml::write(&Sheet::winds(2, 6.0, B5, 13.0).page(2, 18.0).score())));
        let mut bytes = WIDE.clone();
        let at = share * bytes.len() / 10_000;
        bytes[at] = byte;
        let documents = audit(&bytes);
        prop_assert!(is_refused(&documents) || (documents.len() == 1 && documents[0].summary.is_some()), "byte {} as {}", at, byte);
    }
}
