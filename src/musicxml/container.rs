//! The `.mxl` container: a zip archive whose `META-INF/container.xml` names its scores.
//!
//! Source: the `MusicXML` 4.0 container schema. The first root file is the score; further ones may be
//! other scores, or prints and sound, which are passed over.

use super::damage::Damage;
use super::decode;
use super::element::Element;
use super::pull::Pull;
use super::source::{Bytes, Store};
use flate2::CrcReader;
use flate2::read::DeflateDecoder;
use percent_encoding::percent_decode_str;
use roxmltree::{Document, ParsingOptions};
use std::io::{self, BufReader, Read, Seek, SeekFrom};
use zip::result::ZipError;
use zip::{CompressionMethod, ZipArchive};

/// Where the container says what it holds.
const CONTAINER: &str = "META-INF/container.xml";
/// Most bytes of that text, and most nodes of its tree.
const CONTAINER_LIMIT: u64 = 1 << 20;
const NODES_LIMIT: u32 = 10_000;
/// Most bytes read to learn what an archive holds: three hundred thousand members, which take five times as much memory.
const DIRECTORY_LIMIT: u64 = 16 << 20;
/// Media type of a score, without the parameters that may follow it.
const SCORE_TYPE: &str = "application/vnd.recordare.musicxml+xml";
/// A member may swell by this factor, and to this length by any factor. Of nine published scores none swells more than 33 times, made-up ones
/// of bars that are all alike 73 to 231 times; the packing itself could swell 1,000 times.
const RATIO_LIMIT: u64 = 300;
const RATIO_FREE: u64 = 64 << 20;
/// Bytes read from the archive at a time.
const CHUNK: usize = 64 << 10;
/// Help for an archive that is broken.
const ZIP_AGAIN: &str = "Export or copy the .mxl file again";

/// Where a member's bytes are in the archive, and what they must come to.
#[derive(Debug, Clone, Copy)]
pub(super) struct Member {
    start: u64,
    compressed: u64,
    size: u64,
    crc: u32,
    deflated: bool,
}

impl Member {
    /// Whether bytes of the archive belong to both.
    fn lies_over(&self, other: &Self) -> bool {
        let end = |member: &Self| member.start.saturating_add(member.compressed);
        self.start < end(other) && other.start < end(self)
    }
}

type Archive = ZipArchive<BufReader<Sparing>>;

/// Bytes of an archive of which only so many may be read.
struct Sparing {
    bytes: Box<dyn Bytes>,
    left: u64,
}

impl Read for Sparing {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let read = self.bytes.read(into)?;
        self.left = self.left.checked_sub(read as u64).ok_or_else(|| {
            let what = format!("the container lists its members in more than {} MiB", DIRECTORY_LIMIT >> 20);
            Damage::new(what, "Pack the score alone: no score has so many members")
        })?;
        Ok(read)
    }
}

impl Seek for Sparing {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.bytes.seek(to)
    }
}

/// The scores of a container with the names of their members, in the container's order.
pub(super) fn scores(store: &Store) -> Result<Vec<(String, Member)>, Damage> {
    let bytes = store.open().map_err(|error| Damage::from_io(error, "opening the container"))?;
    let sparing = Sparing { bytes, left: DIRECTORY_LIMIT };
    let mut archive = ZipArchive::new(BufReader::new(sparing)).map_err(broken)?;
    let Some(index) = archive.index_for_name(CONTAINER) else { return Err(without_container(&archive)) };
    let container = text_of(member(&mut archive, index, CONTAINER)?, store)?;
    let options = ParsingOptions { allow_dtd: true, nodes_limit: NODES_LIMIT, ..ParsingOptions::default() };
    let document = Document::parse_with_options(&container, options)
        .map_err(|error| Damage::new(format!("{CONTAINER} is not well-formed: {error}"), ZIP_AGAIN))?;
    let mut found: Vec<(String, Member)> = Vec::new();
    let mut named = 0;
    for rootfile in document.descendants().filter(|node| node.tag_name().name() == "rootfile") {
        let path = rootfile.attribute("full-path").map(str::trim).filter(|path| !path.is_empty());
        let path = path.ok_or_else(|| Damage::new(format!("a root file in {CONTAINER} has no full-path"), ZIP_AGAIN))?;
        named += 1;
        let (name, index) = find(&archive, path)?;
        let span = member(&mut archive, index, &name)?;
        let media_type = rootfile.attribute("media-type").and_then(|text| text.split(';').next()).map_or(SCORE_TYPE, str::trim);
        let wanted = media_type.eq_ignore_ascii_case(SCORE_TYPE) || is_score(span, store);
        if wanted && found.iter().all(|(other, _)| *other != name) {
            // Read once for each of its names a few bytes could come to any length.
            if let Some((other, _)) = found.iter().find(|(_, other)| other.lies_over(&span)) {
                return Err(Damage::new(format!("the members {other:?} and {name:?} of the container lie over each other"), ZIP_AGAIN));
            }
            found.push((name, span));
        }
    }
    match (found.is_empty(), named) {
        (false, _) => Ok(found),
        (true, 0) => Err(Damage::new(format!("{CONTAINER} names no root file"), ZIP_AGAIN)),
        (true, _) => {
            Err(Damage::new(format!("no root file named in {CONTAINER} is a score"), "Give a container with a MusicXML score in it"))
        }
    }
}

/// The member of that name; the name may be percent-encoded.
fn find(archive: &Archive, path: &str) -> Result<(String, usize), Damage> {
    let decoded = percent_decode_str(path).decode_utf8_lossy();
    for name in [path, &decoded] {
        if name.starts_with('/') || name.contains(['\\', '\0', ':']) || name.split('/').any(|part| part == "..") {
            return Err(Damage::new(format!("{CONTAINER} names {path:?}, which leads out of the container"), ZIP_AGAIN));
        }
        if let Some(index) = archive.index_for_name(name) {
            return Ok((name.to_owned(), index));
        }
    }
    Err(Damage::new(format!("{CONTAINER} names {path:?}, but the container has no such member"), ZIP_AGAIN))
}

/// Where a member lies, if it can be read at all.
fn member(archive: &mut Archive, index: usize, name: &str) -> Result<Member, Damage> {
    let file = archive.by_index_raw(index).map_err(broken)?;
    if file.encrypted() {
        return Err(Damage::new(format!("the member {name:?} is encrypted"), "Pack the container without a password"));
    }
    let deflated = match file.compression() {
        CompressionMethod::Stored => false,
        CompressionMethod::Deflated => true,
        other => return Err(Damage::new(format!("the member {name:?} is compressed by {other}, not by Deflate"), ZIP_AGAIN)),
    };
    let start = file.data_start().ok_or_else(|| Damage::new(format!("the member {name:?} cannot be found"), ZIP_AGAIN))?;
    Ok(Member { start, compressed: file.compressed_size(), size: file.size(), crc: file.crc32(), deflated })
}

/// Whether a member of another media type, or of none we know, is a score all the same.
fn is_score(span: Member, store: &Store) -> bool {
    let stream = store.open().map_err(|error| Damage::from_io(error, "opening")).and_then(|bytes| decode::decode(span.open(bytes)?));
    let root = stream.and_then(|stream| Pull::new(stream).child());
    matches!(root, Ok(Some(Element::ScorePartwise | Element::ScoreTimewise)))
}

/// Text of `container.xml`.
fn text_of(span: Member, store: &Store) -> Result<String, Damage> {
    let failed = |error| Damage::from_io(error, "reading META-INF/container.xml");
    let stream = decode::decode(span.open(store.open().map_err(failed)?)?)?;
    let mut text = String::new();
    stream.take(CONTAINER_LIMIT).read_to_string(&mut text).map_err(failed)?;
    if text.len() as u64 == CONTAINER_LIMIT {
        return Err(Damage::new(format!("{CONTAINER} is longer than 1 MiB"), ZIP_AGAIN));
    }
    Ok(text)
}

/// What to say of an archive without `container.xml`.
fn without_container(archive: &Archive) -> Damage {
    let at_root = |name: &str| !name.contains('/') && [".xml", ".musicxml"].iter().any(|end| name.to_ascii_lowercase().ends_with(end));
    let scores: Vec<String> =
        archive.file_names().filter_map(Result::ok).filter(|name| at_root(name)).map(|name| name.to_string()).collect();
    match &*scores {
        [] => Damage::new(
            "this is a zip archive, but no MusicXML container and without a score",
            "Give a .mxl file, or unpack it and give its scores",
        ),
        [score] => Damage::new(
            format!("{CONTAINER} is missing, which should name the score {score:?}"),
            "Export the .mxl file again, or unpack it and give the score itself",
        ),
        _ => Damage::new(
            format!("{CONTAINER} is missing, and several members may be the score"),
            "Export the .mxl file again, or unpack it and give the scores",
        ),
    }
}

/// What the archive's reader says of it.
fn broken(error: ZipError) -> Damage {
    match error {
        ZipError::Io(error) => Damage::from_io(error, "reading the container"),
        error => Damage::new(format!("the container is a damaged zip archive: {error}"), ZIP_AGAIN),
    }
}

impl Member {
    /// Opens the member's own bytes within those of the archive.
    pub fn open(self, mut archive: Box<dyn Bytes>) -> Result<impl Read + Send, Damage> {
        archive.seek(SeekFrom::Start(self.start)).map_err(|error| Damage::from_io(error, "reading the container"))?;
        let bytes = BufReader::with_capacity(CHUNK, archive.take(self.compressed));
        let content: Box<dyn Read + Send> = if self.deflated { Box::new(DeflateDecoder::new(bytes)) } else { Box::new(bytes) };
        Ok(Checked { content: CrcReader::new(content), member: self, length: 0 })
    }
}

/// The bytes of a member, checked against what the archive says of them.
struct Checked {
    content: CrcReader<Box<dyn Read + Send>>,
    member: Member,
    length: u64,
}

impl Read for Checked {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let damaged = || io::Error::from(Damage::new("the score in the container is damaged", ZIP_AGAIN));
        let read = match self.content.read(into) {
            Ok(read) => read,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => return Err(error),
            Err(_) => return Err(damaged()),
        };
        self.length += read as u64;
        if self.length > RATIO_FREE && self.length / RATIO_LIMIT > self.member.compressed {
            let damage = Damage::new(
                "a member of the container unpacks to more than three hundred times its size",
                "No score does: export it again",
            );
            return Err(damage.into());
        }
        let ended = read == 0 && !into.is_empty();
        let sound = self.length == self.member.size && self.content.crc().sum() == self.member.crc;
        if self.length > self.member.size || (ended && !sound) { Err(damaged()) } else { Ok(read) }
    }
}

#[cfg(test)]
mod tests;
