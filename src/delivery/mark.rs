//! Marks that every copy must have alike: what players find their place by, and what tells them to wait, go back or change.

use crate::place::Place;
use crate::score::mark::{Side, Span};
use crate::score::{Mark, MarkKind, Score, SignKind, Traits};
use crate::turn::is_tempo;
use std::collections::BTreeMap;

/// What a mark is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// A rehearsal letter or number.
    Rehearsal,
    /// Words that tell a tempo.
    Tempo,
    /// A metronome mark.
    Metronome,
    /// A repeat begins.
    RepeatBegins,
    /// A repeat ends.
    RepeatEnds,
    /// An ending begins.
    Ending,
    /// The sign to return to.
    Segno,
    /// The sign to leave from.
    Coda,
    /// Words that tell to jump: D.C., D.S., Fine.
    Jump,
    /// A double bar.
    DoubleBar,
    /// A time signature.
    Time,
    /// A fermata over silence.
    Fermata,
    /// A key, as it sounds.
    Key,
    /// The number of a bar.
    BarNumber,
}

impl Kind {
    /// What it is called, without an article.
    pub fn words(self) -> &'static str {
        match self {
            Self::Rehearsal => "rehearsal mark",
            Self::Tempo => "tempo",
            Self::Metronome => "metronome mark",
            Self::RepeatBegins => "beginning of a repeat",
            Self::RepeatEnds => "end of a repeat",
            Self::Ending => "ending",
            Self::Segno => "segno",
            Self::Coda => "coda sign",
            Self::Jump => "jump",
            Self::DoubleBar => "double bar",
            Self::Time => "time signature",
            Self::Fermata => "fermata",
            Self::Key => "key",
            Self::BarNumber => "bar number",
        }
    }
}

/// A mark at a bar.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MarkHere {
    /// Bar, by its place in the music, from 0.
    pub bar: usize,
    /// What it is.
    pub kind: Kind,
    /// What it says; empty where its kind says all.
    pub text: String,
    /// Where it stands in the file.
    pub at: Place,
    /// Every copy must have it; else it is one player's own, and no other copy need have it.
    pub for_all: bool,
}

impl MarkHere {
    /// What makes two marks at one bar the same: small and capital letters of a tempo, and its full stop, do not matter.
    pub(super) fn says(&self) -> String {
        match self.kind {
            Kind::Tempo | Kind::Jump => self.text.to_lowercase().trim_end_matches(['.', ',', ':']).to_owned(),
            _ => self.text.clone(),
        }
    }
}

/// Words with which a jump begins (common practice, no source; small letters).
const JUMPS: [&str; 9] = ["d.c.", "d. c.", "d.s.", "d. s.", "da capo", "dal segno", "fine", "to coda", "al coda"];

fn is_jump(words: &str) -> bool {
    let words = words.to_lowercase();
    JUMPS.iter().any(|jump| words.strip_prefix(jump).is_some_and(|rest| !rest.starts_with(char::is_alphabetic)))
}

/// Every mark of a score, each once however many parts write it, in the order of the music. `places` are its bars by their
/// place in the music.
pub(super) fn all(score: &Score, places: &[usize]) -> Vec<MarkHere> {
    let mut found: BTreeMap<(usize, Kind, String), (Place, bool)> = BTreeMap::new();
    let mut put = |bar: usize, kind: Kind, text: String, at: Place, for_all: bool| {
        found.entry((bar, kind, text)).or_insert((at, for_all)).1 |= for_all;
    };
    let mut metre: Option<String> = None;
    let mut before = None;
    for (place, bar) in places.iter().enumerate() {
        if before == Some(*bar) {
            continue;
        }
        before = Some(*bar);
        let last = place + 1 == places.len();
        for sign in score.signs_at(*bar) {
            if let SignKind::Time { beats, beat_type, .. } = &sign.kind {
                let text = format!("{beats}/{beat_type}");
                if metre.as_ref() != Some(&text) {
                    put(place, Kind::Time, text.clone(), sign.at, true);
                    metre = Some(text);
                }
            }
        }
        for (index, marks) in score.marks_by_part(*bar) {
            for mark in marks {
                if let Some((at_bar, kind, text)) = told(&mark.kind, place, last) {
                    let tempo = matches!(kind, Kind::Tempo | Kind::Metronome);
                    put(at_bar, kind, text, mark.at, !tempo || index == 0 || tempo_for_all(score, *bar));
                }
            }
        }
        if let Some(at) = waits_for_all(score, *bar) {
            put(place, Kind::Fermata, String::new(), at, true);
        }
    }
    found.into_iter().map(|((bar, kind, text), (at, for_all))| MarkHere { bar, kind, text, at, for_all }).collect()
}

/// The bar a mark belongs to, its kind and its text, if it is one that every copy must have.
fn told(mark: &MarkKind, bar: usize, last: bool) -> Option<(usize, Kind, String)> {
    let plain = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let at = |kind, text: String| Some((bar, kind, text));
    match mark {
        MarkKind::Rehearsal(text) => at(Kind::Rehearsal, plain(text)),
        MarkKind::Words(words) if is_jump(words.trim()) => at(Kind::Jump, plain(words)),
        MarkKind::Words(words) if is_tempo(words) => at(Kind::Tempo, plain(words)),
        MarkKind::Metronome { beat, from, to } => {
            let beats = if from.total_cmp(to).is_eq() { format!("{from}") } else { format!("{from}-{to}") };
            at(Kind::Metronome, format!("{}/{} = {beats}", beat.numer(), beat.denom()))
        }
        MarkKind::Segno => at(Kind::Segno, String::new()),
        MarkKind::Coda => at(Kind::Coda, String::new()),
        MarkKind::Barline { style, side, repeat, ending, .. } => match (repeat, ending) {
            (Some(Span::Start), _) => at(Kind::RepeatBegins, String::new()),
            (Some(Span::Stop), _) => at(Kind::RepeatEnds, String::new()),
            (None, Some((Span::Start, number))) => at(Kind::Ending, number.replace(' ', "")),
            // What stands at the left of a bar stands at the right of the one before.
            (None, None) if style == "light-light" => match side {
                Side::Left => Some((bar.checked_sub(1)?, Kind::DoubleBar, String::new())),
                Side::Right if !last => at(Kind::DoubleBar, String::new()),
                Side::Right | Side::Middle => None,
            },
            _ => None,
        },
        _ => None,
    }
}

/// Whether what a bar says of the tempo holds for all: a tempo is stated for playback, or half of the parts write it.
fn tempo_for_all(score: &Score, bar: usize) -> bool {
    let tells = |mark: &MarkKind| match mark {
        MarkKind::Words(words) => is_tempo(words),
        MarkKind::Metronome { .. } => true,
        _ => false,
    };
    let playback = score.marks_at(bar).any(|mark| matches!(mark.kind, MarkKind::Tempo(_)));
    let telling = || score.marks_by_part(bar).filter(|(_, marks)| marks.iter().any(|mark| tells(&mark.kind)));
    playback || telling().count() * 2 >= score.parts.len()
}

/// The fermata of a bar in which everybody waits: more than half of the parts have one. In a copy of one part, its own, over
/// a rest.
fn waits_for_all(score: &Score, bar: usize) -> Option<Place> {
    let waits = |part: &crate::score::Part| {
        part.notes_of(bar).iter().find(|note| note.traits.contains(Traits::FERMATA)).map(crate::score::Note::place)
    };
    let holds = |mark: &&Mark| matches!(mark.kind, MarkKind::Barline { fermata: true, .. });
    let on_bar_line = |part: &crate::score::Part| part.marks_of(bar).iter().find(holds).map(|mark| mark.at);
    if !score.may_hold(bar, Traits::FERMATA) && score.marks_at(bar).find(holds).is_none() {
        return None;
    }
    let all: Vec<Place> = score.parts.iter().filter_map(|part| waits(part).or_else(|| on_bar_line(part))).collect();
    all.first().copied().filter(|_| all.len() * 2 > score.parts.len())
}
