//! The text of an element: in one piece as nearly always, or put together.

use super::super::cutter::TOKEN_LIMIT;
use super::super::damage::Damage;
use super::super::wellformed::{EXPORT_AGAIN, is_space, is_space_char};
use super::super::window::Kind;
use super::Pull;
use crate::place::Place;

/// Texts up to this many bytes are not counted among what is kept: numbers, names, syllables.
const SHORT: usize = 32;

/// What a text of so many bytes counts for if it may be kept.
pub(super) fn counted(bytes: usize) -> usize {
    if bytes > SHORT { bytes } else { 0 }
}

impl Pull {
    /// Consumes the element last opened and gives its text without the white space around it and
    /// without the text of nested elements; references resolved, line ends as LF. The place is that of
    /// the trimmed text, or of no length behind the tag.
    pub fn text(&mut self) -> Result<(&str, Place), Damage> {
        self.content(true)
    }

    /// Like [`Pull::text`] with the white space around it.
    pub fn raw_text(&mut self) -> Result<(&str, Place), Damage> {
        self.content(false)
    }

    fn content(&mut self, trimmed: bool) -> Result<(&str, Place), Damage> {
        if self.in_leaf && !self.tag.is_repeat() {
            let (start, end) = (self.tag.end, self.tag.leaf.0);
            self.close_leaf();
            let (start, end) = if trimmed { trim(self.window.text(start, end), start) } else { (start, end) };
            self.kept += counted((end - start) as usize);
            return Ok((self.window.text(start, end), self.window.place(start, end)));
        }
        self.alive()?;
        if self.depth == 0 {
            return Ok(("", Place::new(self.offset(), 0)));
        }
        let put_together = self.put_together(trimmed);
        self.kept += counted(self.pieces.len());
        match put_together {
            Ok(place) if trimmed => Ok((self.pieces.trim_matches(is_space_char), place)),
            Ok(place) => Ok((&self.pieces, place)),
            Err(damage) => Err(self.die(damage)),
        }
    }

    /// Consumes the element last opened and gathers its text in `pieces`; the place of that text.
    fn put_together(&mut self, trimmed: bool) -> Result<Place, Damage> {
        self.pieces.clear();
        let depth = self.depth;
        let behind_tag = self.offset();
        let mut covered: Option<(u64, u64)> = None;
        while self.depth >= depth {
            let direct = self.depth == depth;
            let Some(kind) = self.step()? else { break };
            if !direct {
                continue;
            }
            // White space before a token is text too.
            let (start, end) = self.span;
            let text_end = if kind == Kind::Text { end } else { start };
            self.add_piece(self.window.from(), text_end, trimmed, &mut covered);
            match kind {
                Kind::CData => self.add_piece(start + 9, end - 3, trimmed, &mut covered),
                Kind::Reference => {
                    let before = self.pieces.len();
                    self.entities.push(self.window.text(start + 1, end - 1), &mut self.pieces);
                    let blank = self.pieces.get(before..).unwrap_or_default().chars().all(is_space_char);
                    if !(trimmed && blank) {
                        cover(&mut covered, self.window.place(start, end));
                    }
                }
                _ => {}
            }
            if self.pieces.len() > TOKEN_LIMIT {
                return Err(Damage::new("the text of an element is longer than 8 MiB", EXPORT_AGAIN).at(self.tag_place));
            }
        }
        let (start, end) = covered.unwrap_or((behind_tag, behind_tag));
        Ok(Place::new(start, end - start))
    }

    /// Adds a span of plain text to `pieces`, and what of it counts to the stretch that is covered.
    fn add_piece(&mut self, start: u32, end: u32, trimmed: bool, covered: &mut Option<(u64, u64)>) {
        let text = self.window.text(start, end);
        push_lines(text, &mut self.pieces);
        let (start, end) = if trimmed { trim(text, start) } else { (start, end) };
        if start < end {
            cover(covered, self.window.place(start, end));
        }
    }
}

/// Span of a text without the white space around it, if it starts at `start`; of no length if there is no more to it.
fn trim(text: &str, start: u32) -> (u32, u32) {
    let short = |bytes: usize| u32::try_from(bytes).unwrap_or(u32::MAX);
    if let [first, .., last] | [first @ last] = text.as_bytes()
        && !is_space(*first)
        && !is_space(*last)
    {
        return (start, start + short(text.len()));
    }
    let inner = text.trim_start_matches(is_space_char);
    let length = inner.trim_end_matches(is_space_char).len();
    if length == 0 {
        return (start, start);
    }
    let start = start + short(text.len() - inner.len());
    (start, start + short(length))
}

/// Widens a stretch of the document by a place behind it.
fn cover(covered: &mut Option<(u64, u64)>, place: Place) {
    let offset = u64::from(place.offset);
    let start = covered.map_or(offset, |(start, _)| start);
    *covered = Some((start, offset + u64::from(place.length)));
}

/// Adds text with CR LF and CR as LF (XML 1.0, 2.11).
fn push_lines(text: &str, to: &mut String) {
    let mut rest = text;
    while let Some((line, behind)) = rest.split_once('\r') {
        to.push_str(line);
        to.push('\n');
        rest = behind.strip_prefix('\n').unwrap_or(behind);
    }
    to.push_str(rest);
}
