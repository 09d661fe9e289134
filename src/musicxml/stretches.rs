//! A long score read by several threads: each takes the parts that begin in its stretch of the text.
//!
//! Where a stretch begins is guessed: where `<part ` is next written. That may be in a comment, so a reader goes on until it meets just
//! that tag as a part of the score. Then the guess was right, and what was read from there on is taken in: the same as if one had read
//! everything. In all other cases (the guess was wrong, the text is damaged, a part stands twice) what was read ahead is thrown away, and
//! the one reader goes on.

use super::damage::Damage;
use super::pull::Pull;
use super::reader::{Reader, read, read_ahead};
use super::source::{Plain, Source};
use super::supply::Idle;
use crate::score::{Part, Score};
use rayon::prelude::*;
use std::ops::Range;

/// Bytes of text that are worth a thread.
const WORTH: u64 = 256 << 10;

/// A stretch may begin before its share of the text, by one in so many bytes of it, if a part begins nearer there.
const BEFORE: u64 = 16;
/// Most places that are looked at for it.
const TRIED: usize = 16;

/// What a reader has read of the parts from a guess on.
struct Stretch {
    /// Where its first part is guessed to begin.
    start: u64,
    reader: Reader,
    sound: bool,
}

/// Reads one document with the threads of the pool that this is called in: what it holds is the same as what [`read`] finds, and sooner
/// known.
///
/// # Errors
/// As [`read`].
pub fn read_together(source: &Source) -> Result<Score, Damage> {
    together(source, rayon::current_num_threads(), WORTH)
}

/// The same, where so many bytes are worth a thread.
fn together(source: &Source, threads: usize, worth: u64) -> Result<Score, Damage> {
    let stream = source.unchecked_stream()?;
    if threads < 2 {
        return read(stream);
    }
    let Some(plain) = source.plain() else { return read_ahead(stream) };
    let guesses = guesses(&plain, threads, worth);
    // A single part, as most files hold, is no shorter for many threads.
    if guesses.is_empty() {
        return read_ahead(stream);
    }
    let idle = Idle::default();
    let mut first = Reader::new(Pull::beside(stream, &idle));
    first.root()?;
    if !first.children(0)? || first.pull.declares_entities() {
        return first.rest();
    }
    let listed = first.score.parts.len();
    let begin = |start: &u64| {
        let stream = plain.stream_at(*start).ok()?;
        Some(Stretch { start: *start, reader: first.behind(Pull::within_score(stream, *start, guesses.len(), &idle)), sound: false })
    };
    let mut stretches: Vec<Stretch> = guesses.iter().map_while(begin).collect();
    let ends: Vec<u64> = stretches.iter().map(|stretch| stretch.start).chain([u64::MAX]).collect();
    let (first_end, ends) = ends.split_first().unwrap_or((&u64::MAX, &[]));
    // Who is ready first helps the others.
    let read = |reader: &mut Reader, end: u64| {
        let read = reader.children(end);
        idle.one_more();
        read
    };
    let all_others =
        || stretches.par_iter_mut().zip(ends).for_each(|(stretch, end)| stretch.sound = read(&mut stretch.reader, *end).is_ok());
    rayon::join(|| read(&mut first, *first_end), all_others).0?;
    for stretch in stretches {
        if !stretch.sound || first.waits_at() != Some(stretch.start) || !first.take_in(stretch.reader, listed) {
            break;
        }
    }
    first.rest()
}

/// Where parts may begin, so that as many threads have stretches of about the same length.
fn guesses(plain: &Plain, threads: usize, worth: u64) -> Vec<u64> {
    let count = plain.length.checked_div(worth).unwrap_or_default().clamp(1, threads as u64);
    let stretch = plain.length / count;
    let guess = |number: u64| {
        let target = stretch * number;
        let begin = |number: u64| stretch * number - stretch / BEFORE;
        nearest(plain, begin(number)..begin(number + 1), target)
    };
    (1..count).filter_map(guess).collect()
}

/// Where a part may begin that is nearest to a target, of the first few in a stretch of the text.
fn nearest(plain: &Plain, stretch: Range<u64>, target: u64) -> Option<u64> {
    let mut best: Option<u64> = None;
    let mut from = stretch.start;
    for _ in 0..TRIED {
        let Some(at) = plain.find("<part ", from..stretch.end).ok().flatten() else { break };
        best = best.filter(|best| best.abs_diff(target) <= at.abs_diff(target)).or(Some(at));
        if at >= target {
            break;
        }
        from = at + 1;
    }
    best
}

impl Reader {
    /// A reader of the parts from a place on, which knows what this one knows before the first of them.
    fn behind(&self, pull: Pull) -> Self {
        let mut reader = Self::new(pull);
        reader.score.form = self.score.form;
        for part in &self.score.parts {
            // There is room: they are as many as here.
            let _ = reader.add_part(Part { id: part.id.clone(), at: part.at, staves: part.staves, ..Part::default() });
        }
        reader
    }

    /// Takes in what another has read of the parts behind, who knew so many; false, and nothing is taken in, where one reader would not have
    /// read the same.
    fn take_in(&mut self, other: Self, listed: usize) -> bool {
        let twice = self.states.iter().zip(&other.states).any(|(one, other)| one.met && other.met);
        let known = [&self.score, &other.score].iter().all(|score| score.parts.len() == listed);
        if twice || !known || other.beside_parts || other.has_most_flaws() || !self.pull.go_on_as(other.pull) {
            return false;
        }
        self.waiting = other.waiting;
        // The texts of notes have the numbers that the other's pull gave them.
        self.told = other.told;
        let (widths, prints, staff_details, bar_numbering) = {
            let own = other.score.instructions;
            (own.widths, own.prints, own.staff_details, own.bar_numbering)
        };
        let instructions = &mut self.score.instructions;
        instructions.prints.extend(prints);
        instructions.staff_details.extend(staff_details);
        instructions.bar_numbering.extend(bar_numbering);
        for (index, ((part, state), widths)) in other.score.parts.into_iter().zip(other.states).zip(widths).enumerate() {
            if state.met {
                let own = &mut self.score.parts[index];
                let Part { id, name, abbreviation, link, instruments, at, .. } = std::mem::take(own);
                *own = Part { id, name, abbreviation, link, instruments, at, ..part };
                self.states[index] = state;
                self.score.instructions.widths[index] = widths;
            }
        }
        self.score.by_bar.hold_all(&other.score.by_bar);
        other.score.flaws.into_iter().for_each(|flaw| self.note_flaw(flaw));
        true
    }
}

#[cfg(test)]
mod tests {
    use super::super::repeats::tests::of_one_slot;
    use super::*;
    use crate::place::Lines;
    use proptest::prelude::*;

    /// The same whether one reads it or several.
    fn both(text: &[u8]) -> Result<(String, String), TestCaseError> {
        let source = Source::spool("-", text).map_err(|damage| TestCaseError::fail(damage.what.clone()))?.remove(0);
        let written = text.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(text);
        let shown = |score: Result<Score, Damage>| {
            let score = score.map(|score| {
                let (offset, ends) = score.lines.up_to(u64::MAX).expect("the first window is counted");
                let before = &written[..usize::try_from(offset).expect("fits")];
                assert_eq!(memchr::memchr_iter(b'\n', before).count() as u64, ends);
                Score { lines: Lines::default(), ..score }
            });
            format!("{score:#?}")
        };
        let alone = shown(read(source.unchecked_stream().expect("opens")));
        for (threads, worth) in [(2, 1), (5, 1), (64, 1), (3, 200)] {
            prop_assert!(shown(together(&source, threads, worth)) == alone, "{threads} threads differ: {}", String::from_utf8_lossy(text));
        }
        let one = together(&source, 1, 1);
        Ok((shown(one), alone))
    }

    /// Pieces of a score: sound ones, and what makes guesses wrong.
    fn piece() -> impl Strategy<Value = String> {
        let number = 0..6_u8;
        prop_oneof![
            12 => (number.clone(), 0..3_usize, prop::sample::select(vec!["4", "x", "1", ""])).prop_map(|(id, bars, duration)| {
                let bar = format!("<measure number='1' width='{duration}0'><print new-system='yes'/><attributes><staves>2</staves></attributes>\
                    <note><pitch><step>C</step><octave>4</octave></pitch><duration>{duration}</duration><voice>{id}</voice></note></measure>\n");
                format!("<part id='P{id}'>{}</part>", bar.repeat(bars))
            }),
            2 => number.clone().prop_map(|id| format!("<!-- <part id='P{id}'> -->")),
            1 => number.prop_map(|id| format!("<x><part id='P{id}'></part></x>")),
            1 => Just("<credit><credit-words><![CDATA[<part >]]></credit-words></credit>".to_owned()),
            1 => Just("<part-list><score-part id='P5'><part-name>late</part-name></score-part></part-list>".to_owned()),
            1 => Just("<part id='P1'/><part  id='P2'></part>".to_owned()),
            1 => prop::sample::select(vec!["</part>", "<part ", "&lt;", "&who;", "</score-partwise>", "\u{1}", "x"]).prop_map(str::to_owned),
        ]
    }

    proptest! {
        /// Source: the definition. What one reader finds is what several find.
        #[test]
        fn several_find_what_one_finds(
            entities in prop::bool::weighted(0.2),
            mark in any::<bool>(),
            pieces in prop::collection::vec(piece(), 0..12),
            cut in prop::option::weighted(0.2, any::<prop::sample::Index>()),
        ) {
            let list: Vec<String> = (0..4).map(|id| format!("<score-part id='P{id}'><part-name>{id}</part-name></score-part>")).collect();
            let list = list.concat();
            let text = format!(
                "{}{}<score-partwise version='4.0'><part-list>{list}</part-list>\n{}</score-partwise>\n",
                if mark { "\u{FEFF}" } else { "" },
                if entities { "<!DOCTYPE score-partwise [<!ENTITY who 'A'>]>" } else { "" },
                pieces.join("\n"),
            );
            let bytes = text.as_bytes();
            let (one, alone) = both(cut.map_or(bytes, |cut| &bytes[..cut.index(bytes.len())]))?;
            prop_assert!(one == alone);
        }
    }

    #[test]
    fn parts_that_become_known_on_the_way_keep_their_places() {
        let parts = "<part id='P0'/><part-list><score-part id='P5'/></part-list><part id='P0'/><part id='P4'><measure number='1'/></part>";
        let text = format!("<score-partwise><part-list><score-part id='P0'/></part-list>{parts}</score-partwise>");
        let (one, alone) = both(text.as_bytes()).expect("several find the same");
        assert!(one == alone && alone.contains("\"P4\""));
    }

    /// Two notes whose texts share a slot, and their numbers too: each the first that a reader meets. The second of them is met again by the
    /// one who goes on behind a wrong guess.
    #[test]
    fn who_goes_on_knows_what_the_other_was_told() {
        let [dotted, cue] = ["<dot/>", "<cue/>"].map(of_one_slot);
        let bar = |note: &str| format!("<measure number='1'>{note}</measure>");
        let list: Vec<String> = (0..3).map(|id| format!("<score-part id='P{id}'/>")).collect();
        // Each a third of the text: the second begins with a part, the last with what only looks like one.
        let thirds = [
            format!("<score-partwise><part-list>{}</part-list><part id='P0'>{}", list.concat(), bar(&dotted)),
            format!("<part id='P1'><x>{cue}</x>"),
            format!("<!-- <part  --><part id='P2'>{}", bar(&cue)),
        ];
        let ends = ["</part>", "</part>", "</part></score-partwise>"];
        let text: Vec<String> =
            thirds.iter().zip(ends).map(|(third, end)| format!("{third:<width$}{end}", width = 400 - end.len())).collect();
        let text = text.concat();
        let source = Source::spool("-", text.as_bytes()).expect("opens").remove(0);
        assert_eq!(guesses(&source.plain().expect("it is plain"), 3, 200), [400, 805]);
        let (one, alone) = both(text.as_bytes()).expect("several find the same");
        assert!(one == alone);
    }

    #[test]
    fn every_part_is_read_once_by_as_many_as_there_are() {
        let parts: Vec<String> = (0..40).map(|id| format!("<part id='P{id}'><measure number='1'/>{}</part>", " ".repeat(100))).collect();
        let text = format!("<score-partwise>{}</score-partwise>", parts.concat());
        let source = Source::spool("-", text.as_bytes()).expect("opens").remove(0);
        let plain = source.plain().expect("it is plain");
        let found = guesses(&plain, 8, 1);
        assert_eq!(found.len(), 7);
        assert!(found.iter().all(|start| text[usize::try_from(*start).expect("fits")..].starts_with("<part id=")));
        assert_eq!(guesses(&plain, 8, 1_000).len(), 4);
        assert!(guesses(&plain, 8, 10_000).is_empty());
    }

    #[test]
    fn a_stretch_begins_with_the_part_nearest_to_its_share() {
        let found = |before: usize, between: usize, behind: usize| {
            let spaces = |count: usize| " ".repeat(count);
            let text = format!("<s>{}<part />{}<part />{}</s>", spaces(before), spaces(between), spaces(behind));
            let source = Source::spool("-", text.as_bytes()).expect("opens").remove(0);
            guesses(&source.plain().expect("it is plain"), 2, 1)
        };
        // The half lies at 517, at 520 and at 601.
        assert_eq!(found(500, 60, 451), [503], "the one before is nearer");
        assert_eq!(found(500, 14, 503), [525], "the one behind is nearer");
        assert_eq!(found(300, 800, 80), [1_111], "the one before is too far off");
    }
}
