//! Bytes to UTF-8 text: finds the encoding as XML 1.0 (appendix F) tells, and decodes as a stream.

use super::damage::Damage;
use crate::place::Place;
use encoding_rs::{Decoder, DecoderResult, Encoding, UTF_8, UTF_16BE, UTF_16LE};
use std::io::{self, Cursor, Read};

/// Bytes looked at to find the encoding.
const HEAD: usize = 1024;
/// Bytes taken from the raw stream at a time.
const CHUNK: usize = 64 << 10;
/// Room that the decoder needs to be sure to get on.
const LEAST_ROOM: usize = 16;

/// A stream of decoded UTF-8 without a byte order mark. A malformed byte is an [`io::Error`] with a
/// [`Damage`] inside, after all the text before it.
pub(super) struct Decoded<R> {
    raw: io::Chain<Cursor<Vec<u8>>, R>,
    decoder: Decoder,
    /// Raw bytes read, and those of them not decoded yet.
    source: Vec<u8>,
    at: usize,
    ended: bool,
    /// Decoded text for readers that take less than the decoder needs.
    spare: Vec<u8>,
    given: usize,
    /// Bytes decoded so far.
    offset: u64,
    failure: Option<Damage>,
    done: bool,
    /// The raw bytes are the text: whoever takes it looks whether they are UTF-8.
    as_it_is: bool,
}

impl<R> Decoded<R> {
    /// The same for one who checks that the text is UTF-8: bytes that are to be UTF-8 already come as they are.
    pub fn unchecked(self) -> Self {
        Self { as_it_is: self.decoder.encoding() == UTF_8, ..self }
    }
}

/// Begins to decode a raw stream.
pub(super) fn decode<R: Read>(mut raw: R) -> Result<Decoded<R>, Damage> {
    let mut head = head_of(&mut raw).map_err(|error| Damage::from_io(error, "reading"))?;
    let (encoding, mark) = find_encoding(&head)?;
    head.drain(..mark);
    Ok(Decoded {
        raw: Cursor::new(head).chain(raw),
        decoder: encoding.new_decoder_without_bom_handling(),
        source: Vec::new(),
        at: 0,
        ended: false,
        spare: Vec::new(),
        given: 0,
        offset: 0,
        failure: None,
        done: false,
        as_it_is: false,
    })
}

/// Length of the byte order mark of a document whose bytes are to be UTF-8, by its first bytes.
pub(super) fn plain_mark(raw: impl Read) -> Option<u64> {
    let head = head_of(raw).ok()?;
    let (encoding, mark) = find_encoding(&head).ok()?;
    (encoding == UTF_8).then_some(mark as u64)
}

/// The first bytes of a document.
fn head_of(raw: impl Read) -> io::Result<Vec<u8>> {
    // Room that grows would be filled by many small readings.
    let mut head = Vec::with_capacity(HEAD);
    raw.take(HEAD as u64).read_to_end(&mut head)?;
    Ok(head)
}

/// The encoding of a document by its first bytes, and the length of its byte order mark.
fn find_encoding(head: &[u8]) -> Result<(&'static Encoding, usize), Damage> {
    match head {
        [0xFF, 0xFE, 0, 0, ..] | [0, 0, 0xFE, 0xFF, ..] | [b'<', 0, 0, 0, ..] | [0, 0, 0, b'<', ..] => {
            Err(Damage::new("the file is encoded in UTF-32", "Save it as UTF-8"))
        }
        [0xEF, 0xBB, 0xBF, ..] => Ok((UTF_8, 3)),
        [0xFF, 0xFE, ..] => Ok((UTF_16LE, 2)),
        [0xFE, 0xFF, ..] => Ok((UTF_16BE, 2)),
        [b'<', 0, ..] => Ok((UTF_16LE, 0)),
        [0, b'<', ..] => Ok((UTF_16BE, 0)),
        _ => Ok((declared(head)?, 0)),
    }
}

/// The encoding that the XML declaration names; UTF-8 without one.
fn declared(head: &[u8]) -> Result<&'static Encoding, Damage> {
    let end = head.windows(2).position(|two| two == b"?>").unwrap_or(0);
    let declaration = head.get(..end).and_then(|bytes| std::str::from_utf8(bytes).ok()).filter(|text| text.starts_with("<?xml"));
    let Some((before, label)) = declaration.and_then(encoding_label) else { return Ok(UTF_8) };
    let at = Place::new(before as u64, label.len() as u64);
    match Encoding::for_label_no_replacement(label.as_bytes()) {
        Some(encoding) if encoding == UTF_16LE || encoding == UTF_16BE => {
            Err(Damage::new(format!("the file says it is encoded in {label}, but its bytes are not"), "Save it as UTF-8 and say so").at(at))
        }
        Some(encoding) => Ok(encoding),
        None => Err(Damage::new(format!("the file is encoded in \"{label}\", which is unknown here"), "Save it as UTF-8").at(at)),
    }
}

/// Value of `encoding=` in a declaration, and the bytes before it.
fn encoding_label(declaration: &str) -> Option<(usize, &str)> {
    let (_, rest) = declaration.split_once("encoding")?;
    let rest = rest.trim_start().strip_prefix('=')?.trim_start();
    let quote = rest.chars().next().filter(|quote| matches!(quote, '"' | '\''))?;
    let (label, _) = rest.get(1..)?.split_once(quote)?;
    Some((declaration.len() - rest.len() + 1, label))
}

/// The damage of a byte that does not fit, so far from the beginning of the decoded text.
pub(super) fn malformed(encoding: &'static Encoding, offset: u64) -> Damage {
    let what = format!("a byte is not {}, the file's encoding", encoding.name());
    Damage::new(what, "Save the file as UTF-8, or declare the encoding it really has").at(Place::new(offset, 1))
}

impl<R: Read> Decoded<R> {
    /// Decodes into `into`, which has at least [`LEAST_ROOM`]; 0 only at the end or before a failure.
    fn decode_into(&mut self, into: &mut [u8]) -> io::Result<usize> {
        while !self.done {
            if self.at == self.source.len() && !self.ended {
                self.source.clear();
                self.at = 0;
                let read = (&mut self.raw).take(CHUNK as u64).read_to_end(&mut self.source)?;
                self.ended = read < CHUNK;
            }
            let source = self.source.get(self.at..).unwrap_or_default();
            let (result, read, written) = self.decoder.decode_to_utf8_without_replacement(source, into, self.ended);
            self.at += read;
            self.offset += written as u64;
            match result {
                DecoderResult::InputEmpty => self.done = self.ended,
                DecoderResult::OutputFull => {}
                DecoderResult::Malformed(..) => {
                    self.done = true;
                    self.failure = Some(malformed(self.decoder.encoding(), self.offset));
                }
            }
            if written > 0 {
                return Ok(written);
            }
        }
        Ok(0)
    }
}

impl<R: Read> Read for Decoded<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        if into.is_empty() {
            return Ok(0);
        }
        if self.as_it_is {
            return self.raw.read(into);
        }
        if self.given == self.spare.len() {
            let decoded = if into.len() >= LEAST_ROOM {
                self.decode_into(into)?
            } else {
                let mut room = [0; LEAST_ROOM];
                let length = self.decode_into(&mut room)?;
                self.spare.clear();
                self.spare.extend_from_slice(room.get(..length).unwrap_or_default());
                self.given = 0;
                length
            };
            if decoded == 0 {
                return self.failure.clone().map_or(Ok(0), |damage| Err(damage.into()));
            }
            if into.len() >= LEAST_ROOM {
                return Ok(decoded);
            }
        }
        let length = self.spare.get(self.given..).unwrap_or_default().read(into)?;
        self.given += length;
        Ok(length)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn text_of(bytes: &[u8], step: usize) -> io::Result<String> {
        let mut decoded = decode(bytes)?;
        let mut text = Vec::new();
        let mut room = vec![0; step];
        loop {
            match decoded.read(&mut room)? {
                0 => return String::from_utf8(text).map_err(io::Error::other),
                length => text.extend_from_slice(&room[..length]),
            }
        }
    }

    fn utf_16(text: &str, unit: fn(u16) -> [u8; 2]) -> Vec<u8> {
        text.encode_utf16().flat_map(unit).collect()
    }

    #[test]
    fn one_text_in_every_encoding() {
        let text = format!("<?xml version='1.0'?><a>{}</a>", "é\u{1D15E}x".repeat(9_000));
        for (mark, bytes) in [
            (&[][..], text.clone().into_bytes()),
            (&[0xEF, 0xBB, 0xBF], text.clone().into_bytes()),
            (&[], utf_16(&text, u16::to_le_bytes)),
            (&[], utf_16(&text, u16::to_be_bytes)),
            (&[0xFF, 0xFE], utf_16(&text, u16::to_le_bytes)),
            (&[0xFE, 0xFF], utf_16(&text, u16::to_be_bytes)),
        ] {
            let bytes = [mark, &bytes].concat();
            for step in [1, 5, 16, 100_000] {
                assert!(text_of(&bytes, step).expect("well-formed") == text, "{mark:?} {step}");
            }
        }
        let latin = b"<?xml version=\"1.0\" encoding = 'ISO-8859-1' ?><a>\xE9</a>";
        assert_eq!(text_of(latin, 7).expect("known"), "<?xml version=\"1.0\" encoding = 'ISO-8859-1' ?><a>é</a>");
    }

    #[test]
    fn malformed_and_unknown_say_where() {
        let damage = |bytes: &[u8], step| Damage::from_io(text_of(bytes, step).expect_err("damaged"), "reading");
        for step in [1, 64] {
            assert_eq!(damage(b"<a>\xC3\xA9\xFF</a>", step).at, Some(Place { offset: 5, length: 1 }));
            assert_eq!(damage(b"<a>\xE2\x82", step).at, Some(Place { offset: 3, length: 1 }), "cut within a character");
            assert_eq!(damage(b"\xFF\xFE<\0a\0\x00\xDC>\0", step).at, Some(Place { offset: 2, length: 1 }), "half a surrogate pair");
        }
        let unknown = damage(b"<?xml version='1.0' encoding='klingon'?><a/>", 64);
        assert!(unknown.what.contains("klingon"));
        assert_eq!(unknown.at, Some(Place { offset: 30, length: 7 }));
        assert!(damage(b"<?xml version='1.0' encoding='UTF-16'?><a/>", 64).what.contains("UTF-16"));
        assert!(damage(b"<\0\0\0a\0\0\0", 64).what.contains("UTF-32"));
    }

    proptest! {
        #[test]
        fn bytes_are_utf_8_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..64), step in 1_usize..20) {
            let declared = [b"<a>", &bytes[..]].concat();
            prop_assert_eq!(text_of(&declared, step).ok(), String::from_utf8(declared.clone()).ok());
            let _ = text_of(&bytes, step);
        }
    }
}
