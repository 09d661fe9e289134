//! From places to lines and columns, with a few lines to look at: a second pass over the text.
//!
//! Reading keeps byte offsets only. What is reported gets its line here, all places of a document in
//! one pass, with a bounded stretch of text in memory.

use super::damage::Damage;
use super::source::{self, Source};
use crate::place::{Lines, Place};
use std::io::{self, Read};
use std::ops::Range;

/// Most characters of a line in an excerpt.
const WIDTH: usize = 160;
/// Bytes kept on either side of a place: two lines of that width in the widest characters, and their ends.
const AROUND: usize = 2 * 4 * WIDTH + 64;
/// Bytes read at a time.
const CHUNK: usize = 64 << 10;

/// A place for people.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Spot {
    /// Line, from 1; lines end at LF.
    pub line: u64,
    /// Column, from 1, in Unicode scalar values; CR is none.
    pub column: u64,
    /// The line with the one before and after, each cut to about 160 characters ("…" where it is cut).
    pub excerpt: String,
    /// Line number of the excerpt's first line.
    pub first_line: u64,
    /// The place within the excerpt, in bytes; cut to its first line.
    pub mark: Range<usize>,
}

/// The spot of each place, in the order of the places. A place behind the end is the end. Of a text in which lines were counted, what lies
/// between is passed over.
///
/// A text that cannot be decoded to its end is no fault here as long as every place lies before that.
pub fn locate(source: &Source, lines: &Lines, places: &[Place]) -> Result<Vec<Spot>, Damage> {
    let stream = source.unchecked_stream()?;
    let Some(plain) = source.plain() else { return locate_in(stream, None, places) };
    let open_at = |start| plain.stream_at(start).map(|stream| -> Box<dyn Read + Send> { Box::new(stream) });
    locate_in(stream, Some(Leaps { lines, open_at: &open_at }), places)
}

fn locate_in<R: Read>(stream: R, leaps: Option<Leaps<R>>, places: &[Place]) -> Result<Vec<Spot>, Damage> {
    let mut order: Vec<usize> = (0..places.len()).collect();
    order.sort_by_key(|number| places.get(*number));
    let mut walk = Walk { leaps, ..Walk::new(stream) };
    let mut spots = Vec::with_capacity(places.len());
    for number in order {
        let Some(place) = places.get(number) else { continue };
        spots.push((number, walk.spot(*place)?));
    }
    spots.sort_by_key(|(number, _)| *number);
    Ok(spots.into_iter().map(|(_, spot)| spot).collect())
}

/// How to pass over what lies between places.
struct Leaps<'a, R> {
    lines: &'a Lines,
    /// Opens the text so many bytes behind its start.
    open_at: &'a dyn Fn(u64) -> io::Result<R>,
}

/// A stretch of the text that moves along.
struct Walk<'a, R> {
    stream: R,
    leaps: Option<Leaps<'a, R>>,
    /// The stretch, and room behind it.
    buffer: Vec<u8>,
    /// Bytes of the stretch.
    filled: usize,
    /// Bytes before the buffer.
    base: u64,
    /// Position in the buffer that has been reached, its line, and its column if the beginning of that line has been seen.
    at: usize,
    line: u64,
    column: Option<u64>,
    ended: bool,
    failure: Option<Damage>,
}

impl<R: Read> Walk<'_, R> {
    /// A walk from the beginning of a text.
    fn new(stream: R) -> Self {
        Self { stream, leaps: None, buffer: Vec::new(), filled: 0, base: 0, at: 0, line: 1, column: Some(1), ended: false, failure: None }
    }

    fn spot(&mut self, place: Place) -> Result<Spot, Damage> {
        let offset = u64::from(place.offset);
        self.leap(offset);
        self.walk(offset);
        if self.column.is_none() {
            // So long a line is walked along from the beginning of the text.
            if let Some(stream) = self.leaps.take().and_then(|leaps| (leaps.open_at)(0).ok()) {
                *self = Self { buffer: std::mem::take(&mut self.buffer), ..Self::new(stream) };
                self.walk(offset);
            }
        }
        if let Some(damage) = self.failure.as_ref().filter(|_| self.base + (self.at as u64) < offset) {
            return Err(damage.clone());
        }
        Ok(self.excerpt(place.length as usize))
    }

    /// Passes over what need not be seen before a place, if its lines are counted.
    fn leap(&mut self, offset: u64) {
        let Some(leaps) = &self.leaps else { return };
        let Some((start, line_ends)) = leaps.lines.up_to(offset.saturating_sub(AROUND as u64)) else { return };
        if start > self.base + self.filled as u64
            && let Ok(stream) = (leaps.open_at)(start)
        {
            self.stream = stream;
            (self.filled, self.base, self.at) = (0, start, 0);
            (self.line, self.column) = (line_ends + 1, None);
        }
    }

    /// Goes on to a place, and reads what lies around it.
    fn walk(&mut self, offset: u64) {
        loop {
            let goal = usize::try_from(offset - self.base.min(offset)).unwrap_or(usize::MAX);
            self.advance(goal.min(self.filled));
            if self.ended || goal.saturating_add(AROUND) <= self.filled {
                return;
            }
            self.read_on();
        }
    }

    fn text(&self) -> &[u8] {
        self.buffer.get(..self.filled).unwrap_or_default()
    }

    /// Counts lines and columns up to a position of the buffer.
    fn advance(&mut self, to: usize) {
        let passed = self.text().get(self.at..to).unwrap_or_default();
        let lines = memchr::memchr_iter(b'\n', passed).count() as u64;
        let last = memchr::memrchr(b'\n', passed).map_or(passed, |end| passed.get(end + 1..).unwrap_or_default());
        let columns = last.iter().filter(|byte| !continues(**byte) && **byte != b'\r').count() as u64;
        self.column = if lines > 0 { Some(1) } else { self.column }.map(|column| column + columns);
        self.line += lines;
        self.at = self.at.max(to);
    }

    /// Drops what lies far behind and reads a chunk more.
    fn read_on(&mut self) {
        let behind = self.at.saturating_sub(AROUND);
        self.buffer.copy_within(behind..self.filled, 0);
        self.filled -= behind;
        self.base += behind as u64;
        self.at -= behind;
        self.buffer.resize(self.buffer.len().max(self.filled + CHUNK), 0);
        let (read, ended) = source::fill(&mut self.stream, self.buffer.get_mut(self.filled..).unwrap_or_default());
        self.filled += read;
        match ended {
            Ok(ended) => self.ended = ended,
            Err(error) => {
                self.ended = true;
                self.failure = Some(Damage::from_io(error, "reading"));
            }
        }
    }

    /// The spot at the position that has been reached.
    fn excerpt(&self, length: usize) -> Spot {
        let (before, behind) = self.text().split_at_checked(self.at).unwrap_or((self.text(), &[]));
        // As much as is there however the place was come to.
        let near = boundary(before, before.len().saturating_sub(AROUND));
        let before = before.get(near..).unwrap_or_default();
        let unseen = self.base + near as u64 > 0;
        let line_start = before.iter().rposition(|byte| *byte == b'\n').map_or(0, |end| end + 1);
        let line_length = behind.iter().position(|byte| *byte == b'\n');
        let head = before.get(line_start..).unwrap_or_default();
        let tail = without_cr(behind.get(..line_length.unwrap_or(behind.len())).unwrap_or_default());
        let unseen_start = line_start == 0 && unseen;

        let mut excerpt = String::new();
        let mut first_line = self.line;
        if let Some(above) = line_start.checked_sub(1).and_then(|end| before.get(..end)) {
            let start = above.iter().rposition(|byte| *byte == b'\n').map_or(0, |end| end + 1);
            let line = without_cr(above.get(start..).unwrap_or_default());
            if start == 0 && unseen {
                push_end(line, WIDTH, true, &mut excerpt);
            } else {
                push_start(line, WIDTH, false, &mut excerpt);
            }
            excerpt.push('\n');
            first_line -= 1;
        }
        let shown = push_end(head, WIDTH / 2, unseen_start, &mut excerpt);
        let start = excerpt.len();
        let (marked, rest) = tail.split_at_checked(boundary(tail, length)).unwrap_or((tail, &[]));
        let more = line_length.is_none() && !self.ended;
        let taken = push_start(marked, WIDTH - shown, more && rest.is_empty(), &mut excerpt);
        let mark = start..excerpt.len();
        if taken < WIDTH - shown {
            push_start(rest, WIDTH - shown - taken, more, &mut excerpt);
        } else if !rest.is_empty() && !excerpt.ends_with('…') {
            excerpt.push('…');
        }
        if let Some(below) = line_length.and_then(|end| behind.get(end + 1..)).filter(|below| !below.is_empty()) {
            let end = below.iter().position(|byte| *byte == b'\n');
            excerpt.push('\n');
            push_start(
                without_cr(below.get(..end.unwrap_or(below.len())).unwrap_or_default()),
                WIDTH,
                end.is_none() && !self.ended,
                &mut excerpt,
            );
        }
        Spot { line: self.line, column: self.column.unwrap_or(1), excerpt, first_line, mark }
    }
}

/// A byte within a character, not its first.
fn continues(byte: u8) -> bool {
    byte & 0xC0 == 0x80
}

/// The next end of a character at or behind a position.
fn boundary(text: &[u8], position: usize) -> usize {
    let rest = text.get(position..).unwrap_or_default();
    position.min(text.len()) + rest.iter().take_while(|byte| continues(**byte)).count()
}

fn without_cr(line: &[u8]) -> &[u8] {
    line.strip_suffix(b"\r").unwrap_or(line)
}

/// Adds the first `width` characters of a text, with "…" if there are more; the number added.
fn push_start(text: &[u8], width: usize, more: bool, to: &mut String) -> usize {
    let end = text.iter().enumerate().filter(|(_, byte)| !continues(**byte)).nth(width).map(|(at, _)| at);
    let shown = text.get(..end.unwrap_or(text.len())).unwrap_or_default();
    let count = push_clean(shown, to);
    if more || end.is_some() {
        to.push('…');
    }
    count
}

/// Adds the last `width` characters of a text, with "…" before them if there are more; the number added.
fn push_end(text: &[u8], width: usize, more: bool, to: &mut String) -> usize {
    let start = width.checked_sub(1).and_then(|last| text.iter().enumerate().rev().filter(|(_, byte)| !continues(**byte)).nth(last));
    let start = start.map_or(0, |(at, _)| at);
    if more || start > 0 {
        to.push('…');
    }
    push_clean(text.get(start..).unwrap_or_default(), to)
}

/// Adds text for the eyes: a control character but tab would play tricks on a terminal.
fn push_clean(text: &[u8], to: &mut String) -> usize {
    let mut count = 0;
    for character in String::from_utf8_lossy(text).chars() {
        count += 1;
        to.push(if character.is_control() && character != '\t' { char::REPLACEMENT_CHARACTER } else { character });
    }
    count
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn place(offset: usize, length: usize) -> Place {
        Place::new(offset as u64, length as u64)
    }

    #[test]
    fn three_lines_and_a_mark() {
        let text = "eins\r\nzwéi <x>\r\ndrei\nvier";
        let at = text.find("<x>").expect("there");
        let spots = locate_in(text.as_bytes(), None, &[place(text.len(), 0), place(at, 3), place(0, 4)]).expect("readable");
        assert_eq!((spots[1].line, spots[1].column, spots[1].first_line), (2, 6, 1));
        assert_eq!(spots[1].excerpt, "eins\nzwéi <x>\ndrei");
        assert_eq!(&spots[1].excerpt[spots[1].mark.clone()], "<x>");
        assert_eq!((spots[0].line, spots[0].column, spots[0].excerpt.as_str()), (4, 5, "drei\nvier"));
        assert_eq!((spots[2].line, spots[2].column, spots[2].excerpt.as_str()), (1, 1, "eins\nzwéi <x>"));
    }

    #[test]
    fn one_line_without_end() {
        let text = format!("{}<mark/>{}", "é".repeat(200_000), "x".repeat(200_000));
        let spot = locate_in(text.as_bytes(), None, &[place(400_000, 7)]).expect("readable").remove(0);
        assert_eq!((spot.line, spot.column), (1, 200_001));
        assert_eq!(&spot.excerpt[spot.mark.clone()], "<mark/>");
        assert_eq!(spot.excerpt.chars().count(), WIDTH + 2);
        let long = locate_in(text.as_bytes(), None, &[place(0, text.len())]).expect("readable").remove(0);
        assert!(long.excerpt.chars().count() <= WIDTH + 1 && long.mark.end == long.excerpt.len());
    }

    #[test]
    fn a_text_broken_behind_the_place_is_no_fault() {
        struct Broken;
        impl Read for Broken {
            fn read(&mut self, _: &mut [u8]) -> std::io::Result<usize> {
                Err(Damage::new("broken", "mend it").into())
            }
        }
        let stream = || b"a\nbc".as_slice().chain(Broken);
        let spot = locate_in(stream(), None, &[place(4, 1)]).expect("up to here").remove(0);
        assert_eq!((spot.line, spot.column), (2, 3));
        assert_eq!(locate_in(stream(), None, &[place(5, 1)]).expect_err("not beyond").what, "broken");
    }

    proptest! {
        /// Source: the definition, counted over the whole text.
        #[test]
        fn lines_and_columns_by_definition(text in "[aé\n\r\u{1D15E}]{0,60}", filling in 0_usize..140_000, counted in 500_usize..70_000, one_line in any::<bool>(), offsets in prop::collection::vec(prop_oneof![0_usize..100, 0..100_000_usize], 1..5)) {
            let text = format!("{}{text}", if one_line { "--" } else { "-\n" }.repeat(filling / 2));
            let ends: Vec<usize> = text.char_indices().map(|(at, _)| at).chain([text.len()]).collect();
            let places: Vec<Place> = offsets.iter().map(|back| place(ends[ends.len().saturating_sub(1 + back)], 1)).collect();
            let mut lines = Lines::default();
            for counted in (0..text.len()).step_by(counted) {
                lines.add(counted as u64, memchr::memchr_iter(b'\n', &text.as_bytes()[..counted]).count() as u64);
            }
            let open_at = |start| Ok(text.as_bytes().get(usize::try_from(start).unwrap_or(usize::MAX)..).unwrap_or_default());
            let leaping = locate_in(text.as_bytes(), Some(Leaps { lines: &lines, open_at: &open_at }), &places);
            let spots = locate_in(text.as_bytes(), None, &places).expect("readable");
            prop_assert_eq!(&leaping.expect("readable"), &spots);
            for (spot, place) in spots.iter().zip(&places) {
                let before = &text[..place.offset as usize];
                let line = before.rsplit('\n').next().unwrap_or_default();
                prop_assert_eq!(spot.line, before.matches('\n').count() as u64 + 1);
                prop_assert_eq!(spot.column, line.chars().filter(|character| *character != '\r').count() as u64 + 1);
                prop_assert!(spot.excerpt.get(spot.mark.clone()).is_some());
            }
        }
    }
}
