//! A document as a stream of decoded text that can be opened again and again: a plain file, a member
//! of a container, or what came over standard input.

use super::container::{self, Member};
use super::damage::Damage;
use super::decode;
use memchr::memmem;
use std::fs::{self, File};
use std::io::{self, Cursor, Read, Seek, SeekFrom, Write};
use std::ops::Range;
use std::path::{MAIN_SEPARATOR_STR, Path, PathBuf};
use std::sync::Arc;
use tempfile::NamedTempFile;

/// Most bytes of a spooled input that stay in memory.
const SPOOL_IN_MEMORY: u64 = 16 << 20;
/// Most bytes of a spooled input at all.
const SPOOL_LIMIT: u64 = 8 << 30;

/// Where the raw bytes are.
#[derive(Debug, Clone)]
pub(super) enum Store {
    File(PathBuf),
    Memory(Arc<[u8]>),
    Spooled(Arc<NamedTempFile>),
}

/// Raw bytes, opened.
pub(super) trait Bytes: Read + Seek + Send {}
impl<T: Read + Seek + Send> Bytes for T {}

impl Store {
    /// Opens the bytes anew, at their beginning.
    pub fn open(&self) -> io::Result<Box<dyn Bytes>> {
        Ok(match self {
            Self::File(path) => Box::new(File::open(path)?),
            Self::Memory(bytes) => Box::new(Cursor::new(Arc::clone(bytes))),
            Self::Spooled(file) => Box::new(file.reopen()?),
        })
    }
}

/// One document to audit.
#[derive(Debug, Clone)]
pub struct Source {
    /// The file as it was named, with `/` between its parts; `-` for standard input.
    pub path: String,
    /// The member, if the file is a container.
    pub member: Option<String>,
    store: Store,
    span: Option<Member>,
}

impl Source {
    /// The documents of a file: one, or each score that its container names, in that order. A pipe is
    /// kept as standard input is.
    pub fn open(path: &Path) -> Result<Vec<Self>, Damage> {
        let shown = path.to_string_lossy().replace(MAIN_SEPARATOR_STR, "/");
        let failed = |error| Damage::from_io(error, &format!("opening {shown}"));
        let about = fs::metadata(path).map_err(failed)?;
        if about.is_dir() {
            return Err(Damage::new(format!("{shown} is a folder"), "Give a file"));
        }
        if !about.is_file() {
            return Self::spool(&shown, File::open(path).map_err(failed)?);
        }
        Self::of_store(shown, Store::File(path.to_owned()))
    }

    /// The documents that standard input holds, named `-`.
    pub fn standard_input() -> Result<Vec<Self>, Damage> {
        Self::spool("-", io::stdin().lock())
    }

    /// The documents of a stream that can be read only once: kept in memory, or in a temporary file if it is long.
    pub fn spool(shown: &str, mut stream: impl Read) -> Result<Vec<Self>, Damage> {
        let failed = |error| Damage::from_io(error, &format!("reading {shown}"));
        let mut bytes = Vec::new();
        (&mut stream).take(SPOOL_IN_MEMORY).read_to_end(&mut bytes).map_err(failed)?;
        if (bytes.len() as u64) < SPOOL_IN_MEMORY {
            return Self::of_store(shown.to_owned(), Store::Memory(bytes.into()));
        }
        if !may_be_score(&bytes) {
            return Err(Damage::new(format!("{shown} is neither XML nor a zip archive"), "Give a MusicXML file (.musicxml, .xml or .mxl)"));
        }
        let mut file = NamedTempFile::new().map_err(failed)?;
        file.write_all(&bytes).map_err(failed)?;
        let more = io::copy(&mut stream.take(SPOOL_LIMIT), &mut file).map_err(failed)?;
        if more == SPOOL_LIMIT {
            return Err(Damage::new(format!("{shown} is longer than 8 GiB"), "Split the score into movements or parts"));
        }
        file.flush().map_err(failed)?;
        Self::of_store(shown.to_owned(), Store::Spooled(Arc::new(file)))
    }

    /// Looks at the first bytes: a container or a plain document.
    fn of_store(path: String, store: Store) -> Result<Vec<Self>, Damage> {
        let failed = |error| Damage::from_io(error, &format!("reading {path}"));
        let mut head = Vec::new();
        store.open().map_err(failed)?.take(4).read_to_end(&mut head).map_err(failed)?;
        // The two ways a zip archive begins: with a member, or empty (APPNOTE 4.3.7, 4.3.16).
        if !matches!(&*head, b"PK\x03\x04" | b"PK\x05\x06") {
            return Ok(vec![Self { path, member: None, store, span: None }]);
        }
        let members = container::scores(&store)?;
        let source = |(name, span)| Self { path: path.clone(), member: Some(name), store: store.clone(), span: Some(span) };
        Ok(members.into_iter().map(source).collect())
    }

    /// Opens the text anew: UTF-8 without a byte order mark. A fault later in the stream is an
    /// [`io::Error`] that [`Damage::from_io`] turns back into the [`Damage`] it was.
    pub fn stream(&self) -> Result<Box<dyn Read + Send>, Damage> {
        let bytes = self.bytes()?;
        Ok(match self.span {
            None => Box::new(decode::decode(bytes)?),
            Some(span) => Box::new(decode::decode(span.open(bytes)?)?),
        })
    }

    /// The same for [`super::read`] and [`super::read_together`], which check that the text is UTF-8: where the file is to be, its
    /// bytes come as they are.
    pub fn unchecked_stream(&self) -> Result<Box<dyn Read + Send>, Damage> {
        let bytes = self.bytes()?;
        Ok(match self.span {
            None => Box::new(decode::decode(bytes)?.unchecked()),
            Some(span) => Box::new(decode::decode(span.open(bytes)?)?.unchecked()),
        })
    }

    /// The text of a file that is to be UTF-8 and no container: it can be opened anywhere.
    pub(super) fn plain(&self) -> Option<Plain<'_>> {
        if self.span.is_some() {
            return None;
        }
        let mut bytes = self.bytes().ok()?;
        let mark = decode::plain_mark(&mut bytes)?;
        let length = bytes.seek(SeekFrom::End(0)).ok()?.checked_sub(mark)?;
        Some(Plain { source: self, mark, length })
    }

    fn bytes(&self) -> Result<Box<dyn Bytes>, Damage> {
        self.store.open().map_err(|error| Damage::from_io(error, &format!("opening {}", self.path)))
    }
}

/// A text that is to be UTF-8, and can be opened anywhere.
pub(super) struct Plain<'a> {
    source: &'a Source,
    /// Bytes of the file before it.
    mark: u64,
    /// Its bytes.
    pub length: u64,
}

impl Plain<'_> {
    /// Opens the text so many bytes behind its start, as [`Source::unchecked_stream`] gives it.
    pub fn stream_at(&self, start: u64) -> io::Result<Box<dyn Bytes>> {
        let mut bytes = self.source.store.open()?;
        bytes.seek(SeekFrom::Start(self.mark.saturating_add(start)))?;
        Ok(bytes)
    }

    /// Where some words are next written in a stretch of the text.
    pub fn find(&self, words: &str, stretch: Range<u64>) -> io::Result<Option<u64>> {
        const CHUNK: usize = 64 << 10;
        let mut stream = self.stream_at(stretch.start)?.take(stretch.end - stretch.start);
        let mut room = vec![0; CHUNK];
        // What may be the beginning of the words stays.
        let (mut base, mut kept) = (stretch.start, 0);
        loop {
            let (read, ended) = fill(&mut stream, room.get_mut(kept..).unwrap_or_default());
            let text = room.get(..kept + read).unwrap_or_default();
            if let Some(at) = memmem::find(text, words.as_bytes()) {
                return Ok(Some(base + at as u64));
            }
            if ended? {
                return Ok(None);
            }
            let passed = text.len().saturating_sub(words.len());
            kept = text.len() - passed;
            base += passed as u64;
            room.copy_within(passed.., 0);
        }
    }
}

/// Reads a stream until some room is full or the stream ends: how many bytes came, and whether it has ended.
pub(super) fn fill(stream: &mut impl Read, room: &mut [u8]) -> (usize, io::Result<bool>) {
    let mut filled = 0;
    loop {
        let rest = room.get_mut(filled..).unwrap_or_default();
        if rest.is_empty() {
            return (filled, Ok(false));
        }
        match stream.read(rest) {
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return (filled, Err(error)),
            Ok(0) => return (filled, Ok(true)),
            Ok(read) => filled += read,
        }
    }
}

/// Whether a text or archive begins as one does, in any encoding: what has no end, such as a stream of zeros, need not be kept
/// to find that out.
fn may_be_score(bytes: &[u8]) -> bool {
    let marks: [&[u8]; 3] = [b"\xEF\xBB\xBF", b"\xFE\xFF", b"\xFF\xFE"];
    let text = marks.iter().find_map(|mark| bytes.strip_prefix(*mark)).unwrap_or(bytes);
    // A character of UTF-16 has a zero before or behind it.
    let first = text.iter().find(|byte| !byte.is_ascii_whitespace() && **byte != 0);
    first == Some(&b'<') || text.starts_with(b"PK\x03\x04") || text.starts_with(b"PK\x05\x06")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_spooled_text_opens_again_wherever_it_is_kept() {
        let long = "x".repeat(usize::try_from(SPOOL_IN_MEMORY).expect("fits"));
        for filling in ["", &long] {
            let text = format!("<a>{filling}</a>");
            let sources = Source::spool("-", text.as_bytes()).expect("readable");
            assert_eq!(sources.len(), 1);
            assert_eq!((sources[0].path.as_str(), &sources[0].member), ("-", &None));
            for _ in 0..2 {
                let mut again = String::new();
                sources[0].stream().expect("opens").read_to_string(&mut again).expect("readable");
                assert!(again == text);
            }
        }
    }

    #[test]
    fn a_stream_without_end_that_is_no_score_is_not_kept() {
        for endless in [0, b'x', 0xFF] {
            let refused = Source::spool("-", io::repeat(endless)).expect_err("no score begins so");
            assert!(refused.what.contains("neither XML nor a zip archive"), "{endless}: {}", refused.what);
        }
        let long = "x".repeat(usize::try_from(SPOOL_IN_MEMORY).expect("fits"));
        let text = format!("\u{FEFF}\n<a>{long}</a>");
        let wide: Vec<u8> = text.encode_utf16().flat_map(u16::to_be_bytes).collect();
        for sound in [text.as_bytes(), &wide, &wide[2..], b"PK\x03\x04"] {
            assert!(may_be_score(sound));
        }
    }

    #[test]
    fn what_cannot_be_opened_is_named() {
        let folder = tempfile::tempdir().expect("made");
        let missing = folder.path().join("oboe.xml");
        assert!(Source::open(&missing).expect_err("missing").what.contains("oboe.xml"));
        assert!(Source::open(folder.path()).expect_err("a folder").what.contains("folder"));
    }
}
