//! What is judged of a document as part of its delivery: `mark`, `music`, `copy`, `player`, `part`.

use super::{Line, Reader, judge_lines};
use crate::delivery::{Copy, CopyFact, MarkFact, MusicFact, PartMusic, PlayerFact, Side, Status, What};
use crate::place::{Confidence, Place};
use crate::rule::field::{Column, Kind, Subject, Unit};
use crate::rule::judge::Outcome;
use crate::rule::{RuleBook, Value, Where};
use std::sync::Arc;

/// A mark that a copy has otherwise.
struct MarkRow {
    fact: MarkFact,
    /// Number of the bar it is about.
    bar: String,
    against: &'static str,
}

/// The table.
static MARK: Subject<MarkRow> = Subject {
    name: "mark",
    what: "A mark that a copy has otherwise than the score, or than most copies where there is no score.",
    columns: &[
        Column::new(
            "kind",
            Kind::Text,
            Unit::None,
            "What it is: rehearsal mark, tempo, metronome mark, beginning of a repeat, end of a repeat, ending, segno, coda sign, jump, \
             double bar, time signature, fermata, key, bar number.",
            |row| Value::text(row.fact.kind.words()),
        ),
        Column::new("status", Kind::Text, Unit::None, "What is wrong: missing, all-missing, otherwise, elsewhere, extra.", |row| {
            Value::text(match row.fact.status {
                Status::Missing => "missing",
                Status::AllMissing => "all-missing",
                Status::Otherwise => "otherwise",
                Status::Elsewhere => "elsewhere",
                Status::Extra => "extra",
            })
        }),
        Column::new("what", Kind::Text, Unit::None, "The mark in words, with what it should say.", |row| {
            Value::text(&quoted(row.fact.kind.words(), &row.fact.text))
        }),
        Column::new("here", Kind::Text, Unit::None, "What it says in this copy; absent where it is not there.", |row| {
            row.fact.here.as_deref().map_or(Value::Absent, Value::text)
        }),
        Column::new(
            "bar",
            Kind::Text,
            Unit::None,
            "Number of the bar where it should stand, or where it stands if only this copy has it.",
            |row| Value::text(&row.bar),
        ),
        Column::new("stands_at", Kind::Text, Unit::None, "Number of the bar where it stands instead; absent where it does not.", |row| {
            row.fact.stands_at.as_deref().map_or(Value::Absent, Value::text)
        }),
        Column::new("many", Kind::Number, Unit::Count, "How many marks are meant.", |row| Value::count(row.fact.count)),
        Column::new("against", Kind::Text, Unit::None, "What it is held against: the score, most copies.", |row| Value::text(row.against)),
    ],
};

/// A kind of mark with its text.
fn quoted(kind: &str, text: &str) -> String {
    if text.is_empty() { kind.to_owned() } else { format!("{kind} \u{201c}{text}\u{201d}") }
}

/// Music that differs.
struct MusicRow {
    fact: MusicFact,
    /// The bars, by number.
    bars: String,
    against: &'static str,
}

/// The table.
static MUSIC: Subject<MusicRow> = Subject {
    name: "music",
    what: "Music that a copy and its score have otherwise: bars more or fewer, notes that only one of them has.",
    columns: &[
        Column::new(
            "status",
            Kind::Text,
            Unit::None,
            "What differs: count (of bars), only-here (notes that the score has not), unplayed (notes of the score that no copy has).",
            |row| {
                Value::text(match row.fact.what {
                    What::Count { .. } => "count",
                    What::Bars(Side::Copy) => "only-here",
                    What::Bars(Side::Score) => "unplayed",
                })
            },
        ),
        Column::new("bars_here", Kind::Number, Unit::Bars, "Bars of this copy; absent where their number is no matter.", |row| {
            if let What::Count { here, .. } = row.fact.what { Value::count(here) } else { Value::Absent }
        }),
        Column::new("bars_there", Kind::Number, Unit::Bars, "Bars of the score, or of most copies; absent likewise.", |row| {
            if let What::Count { there, .. } = row.fact.what { Value::count(there) } else { Value::Absent }
        }),
        Column::new("bars", Kind::Text, Unit::None, "The bars, by number; absent where it cannot be told which.", |row| {
            if row.bars.is_empty() { Value::Absent } else { Value::text(&row.bars) }
        }),
        Column::new("many", Kind::Number, Unit::Bars, "How many bars those are.", |row| {
            Value::count(row.fact.bars.iter().map(ExactSizeIterator::len).sum())
        }),
        Column::new("against", Kind::Text, Unit::None, "What it is held against: the score, most copies.", |row| Value::text(row.against)),
    ],
};

/// Runs of bars by number; more than a few are not all told.
fn runs(fact: &MusicFact, copy: &Copy) -> String {
    const TOLD: usize = 6;
    let number = |bar: usize| copy.bars.get(bar).map_or_else(String::new, |bar| bar.number.to_string());
    let one = |run: &std::ops::Range<usize>| match run.len() {
        1 => number(run.start),
        _ => format!("{}-{}", number(run.start), number(run.end - 1)),
    };
    let mut told: Vec<String> = fact.bars.iter().take(TOLD).map(one).collect();
    if fact.bars.len() > TOLD {
        told.push(format!("and {} more places", fact.bars.len() - TOLD));
    }
    told.join(", ")
}

/// A copy in its delivery.
struct CopyRow {
    fact: CopyFact,
}

fn odd<T>(odd: Option<&crate::delivery::Odd<T>>, value: impl Fn(&T) -> Value, usual: bool) -> Value {
    odd.map_or(Value::Absent, |odd| value(if usual { &odd.usual } else { &odd.here }))
}

/// The table.
static COPY: Subject<CopyRow> = Subject {
    name: "copy",
    what: "A document as part of its delivery: one of the copies of a score, or of several copies of one piece.",
    columns: &[
        Column::new("is_score", Kind::Truth, Unit::None, "It is the score that the others are held against.", |row| {
            Value::Truth(row.fact.is_score)
        }),
        Column::new("matched", Kind::Truth, Unit::None, "Its music is in the score; absent where there is no score.", |row| {
            row.fact.matched.map_or(Value::Absent, Value::Truth)
        }),
        Column::new("plays", Kind::Texts, Unit::None, "Parts of the score whose music it holds.", |row| {
            Value::texts(row.fact.plays.iter().map(String::as_str))
        }),
        Column::new("twin", Kind::Text, Unit::None, "An earlier file that is the same copy; absent where there is none.", |row| {
            row.fact.twin.as_ref().map_or(Value::Absent, |twin| Value::text(&twin.path))
        }),
        Column::new("paper", Kind::Text, Unit::None, "Its paper, where most copies for its reader are on another; else absent.", |row| {
            odd(row.fact.other.paper.as_ref(), |paper| Value::text(paper), false)
        }),
        Column::new("usual_paper", Kind::Text, Unit::None, "The paper that those are on; else absent.", |row| {
            odd(row.fact.other.paper.as_ref(), |paper| Value::text(paper), true)
        }),
        Column::new("margin", Kind::Text, Unit::None, "A margin that is another than in most copies for its reader; else absent.", |row| {
            row.fact.other.margin.as_ref().map_or(Value::Absent, |(side, _)| Value::text(side))
        }),
        Column::new("margin_mm", Kind::Number, Unit::Mm, "What that margin is.", |row| {
            odd(row.fact.other.margin.as_ref().map(|(_, odd)| odd), |margin| Value::mm(*margin), false)
        }),
        Column::new("usual_margin_mm", Kind::Number, Unit::Mm, "What it is in most.", |row| {
            odd(row.fact.other.margin.as_ref().map(|(_, odd)| odd), |margin| Value::mm(*margin), true)
        }),
        Column::new(
            "staff_height_mm",
            Kind::Number,
            Unit::Mm,
            "Its staff height, where most copies for its reader have another; else absent.",
            |row| odd(row.fact.other.staff_height.as_ref(), |height| Value::mm(*height), false),
        ),
        Column::new("usual_staff_height_mm", Kind::Number, Unit::Mm, "The staff height of those; else absent.", |row| {
            odd(row.fact.other.staff_height.as_ref(), |height| Value::mm(*height), true)
        }),
        Column::new("of", Kind::Number, Unit::Count, "Copies for its reader, itself included.", |row| Value::count(row.fact.other.of)),
        Column::new("title", Kind::Text, Unit::None, "Its title, where the score has another; else absent.", |row| {
            row.fact.title.as_ref().map_or(Value::Absent, |(here, _)| Value::text(here))
        }),
        Column::new("score_title", Kind::Text, Unit::None, "The score's title; else absent.", |row| {
            row.fact.title.as_ref().map_or(Value::Absent, |(_, there)| Value::text(there))
        }),
        Column::new(
            "first_page",
            Kind::Number,
            Unit::None,
            "Number of its first page, where it does not run on from the movement before; else absent.",
            |row| row.fact.first_page.map_or(Value::Absent, |(here, _)| Value::measure(whole(here))),
        ),
        Column::new("next_page", Kind::Number, Unit::None, "The number it should bear; else absent.", |row| {
            row.fact.first_page.map_or(Value::Absent, |(_, next)| Value::measure(whole(next)))
        }),
    ],
};

fn whole(number: i64) -> f64 {
    i32::try_from(number).map_or(f64::NAN, f64::from)
}

/// A part of the score and who plays it.
struct PlayerRow {
    fact: PlayerFact,
    name: Arc<str>,
    at: Place,
}

/// The table.
static PLAYER: Subject<PlayerRow> = Subject {
    name: "player",
    what: "A part of the score, and the copies from which it is played.",
    columns: &[
        Column::new("name", Kind::Text, Unit::None, "Its name in the score.", |row| Value::text(&row.name)),
        Column::new("sounds", Kind::Truth, Unit::None, "It sounds somewhere.", |row| Value::Truth(row.fact.sounds)),
        Column::new(
            "from_score",
            Kind::Truth,
            Unit::None,
            "It is read from the score itself: a keyboard player's in chamber music.",
            |row| Value::Truth(row.fact.from_score),
        ),
        Column::new("copies", Kind::Number, Unit::Count, "Copies from which it is played.", |row| Value::count(row.fact.played_by.len())),
        Column::new("share_played", Kind::Number, Unit::Ratio, "Share of the score's parts for which there is a copy.", |row| {
            let (all, played) = row.fact.of;
            #[expect(clippy::cast_precision_loss, reason = "numbers of parts")]
            let share = played as f64 / all.max(1) as f64;
            Value::ratio(share)
        }),
    ],
};

/// A part of a document.
struct PartRow {
    name: Arc<str>,
    named_in: Option<&'static str>,
    transposed: bool,
    tacet: bool,
    off: Option<i32>,
    at: Place,
}

impl PartRow {
    fn of(part: &PartMusic, off: Option<i32>) -> Self {
        let PartMusic { name, named_in, transposed, at, .. } = part;
        Self { name: name.clone(), named_in: *named_in, transposed: *transposed, tacet: part.tacet(), off, at: *at }
    }
}

/// The table.
static PART: Subject<PartRow> = Subject {
    name: "part",
    what: "A part of the document.",
    columns: &[
        Column::new("name", Kind::Text, Unit::None, "Its name.", |row| Value::text(&row.name)),
        Column::new(
            "named_in",
            Kind::Text,
            Unit::None,
            "The key that its name says it is in: B flat, A, F, E flat, D; else absent.",
            |row| row.named_in.map_or(Value::Absent, Value::text),
        ),
        Column::new("transposed", Kind::Truth, Unit::None, "The file says how it sounds from how it is written.", |row| {
            Value::Truth(row.transposed)
        }),
        Column::new("tacet", Kind::Truth, Unit::None, "It is silent from beginning to end.", |row| Value::Truth(row.tacet)),
        Column::new(
            "off_semitones",
            Kind::Number,
            Unit::None,
            "Semitones by which it must be raised to sound as in the score of its delivery; absent where it does, or there is none.",
            |row| row.off.map_or(Value::Absent, |off| Value::measure(off.into())),
        ),
    ],
};

/// The subjects of this file, for the vocabulary.
pub(super) fn add(vocabulary: crate::rule::field::Vocabulary) -> crate::rule::field::Vocabulary {
    vocabulary.with(&MARK).with(&MUSIC).with(&COPY).with(&PLAYER).with(&PART)
}

/// Judges a document as part of its delivery, if it has one, and its parts.
pub fn judge_in_set(
    book: &RuleBook,
    copy: &Copy,
    fact: Option<&CopyFact>,
    players: &[PlayerFact],
    reader: &Reader,
    enabled: &(dyn Fn(&str) -> bool + Sync),
) -> Outcome {
    let mut outcome = Outcome::default();
    let against = if fact.is_some_and(|fact| fact.against_score) { "the score" } else { "most copies" };
    let mut about = |subject: &str, lines: Vec<Line>| outcome.append(judge_lines(book, subject, &lines, Some(reader), enabled));
    let off = |index: usize| fact.and_then(|fact| fact.off.iter().find(|(part, _)| *part == index)).map(|(_, off)| *off);
    let parts: Vec<PartRow> = copy.parts.iter().enumerate().map(|(index, part)| PartRow::of(part, off(index))).collect();
    let of_part = |index: usize| Where {
        part: copy.parts.get(index).map(|part| part.id.clone()),
        part_name: copy.parts.get(index).map(|part| part.name.clone()),
        part_index: u32::try_from(index + 1).ok(),
        ..Where::default()
    };
    about("part", parts.iter().enumerate().map(|(index, row)| line(PART.of(row), Some(row.at), of_part(index))).collect());
    let Some(fact) = fact else { return outcome };
    let marks: Vec<MarkRow> = fact
        .marks
        .iter()
        .map(|fact| MarkRow {
            fact: fact.clone(),
            bar: copy.bars.get(fact.bar).map_or_else(String::new, |bar| bar.number.to_string()),
            against,
        })
        .collect();
    let at_bar = |bar: usize| copy.bars.get(bar).and_then(|bar| bar.at);
    about(
        "mark",
        marks
            .iter()
            .map(|row| line(MARK.of(row), row.fact.at.or_else(|| at_bar(row.fact.bar)), on_bars(copy, row.fact.bar, row.fact.bar)))
            .collect(),
    );
    let music: Vec<MusicRow> = fact.music.iter().map(|fact| MusicRow { fact: fact.clone(), bars: runs(fact, copy), against }).collect();
    let on_music = |row: &MusicRow| {
        let ends = row.fact.bars.first().zip(row.fact.bars.last());
        let on = ends.map(|(first, last)| on_bars(copy, first.start, last.end.saturating_sub(1))).unwrap_or_default();
        let part = row.fact.part.map(of_part).unwrap_or_default();
        let place = row.fact.bars.first().and_then(|run| at_bar(run.start));
        (place, Where { part: part.part, part_name: part.part_name, part_index: part.part_index, ..on })
    };
    about(
        "music",
        music
            .iter()
            .map(|row| {
                let (place, on) = on_music(row);
                line(MUSIC.of(row), place, on)
            })
            .collect(),
    );
    let row = CopyRow { fact: fact.clone() };
    let place = copy.look.paper_at.or(copy.look.scaling_at).or_else(|| at_bar(0));
    about("copy", vec![line(COPY.of(&row), place, Where::default())]);
    let players: Vec<PlayerRow> = players
        .iter()
        .filter_map(|fact| copy.parts.get(fact.part).map(|part| PlayerRow { fact: fact.clone(), name: part.name.clone(), at: part.at }))
        .collect();
    about("player", players.iter().map(|row| line(PLAYER.of(row), Some(row.at), of_part(row.fact.part))).collect());
    outcome
}

fn line<T: Sync>(row: crate::rule::field::Row<'_, T>, place: Option<Place>, on: Where) -> Line<'_> {
    Line { facts: Box::new(row), place, on, confidence: Confidence::High }
}

/// Where bars of a copy stand, by their place in the music.
fn on_bars(copy: &Copy, first: usize, last: usize) -> Where {
    let Some((first, last)) = copy.bars.get(first).zip(copy.bars.get(last)) else { return Where::default() };
    let same_page = first.page == last.page;
    Where {
        page: first.page.as_ref().filter(|_| same_page).map(|(page, _)| *page),
        page_label: first.page.as_ref().filter(|_| same_page).map(|(_, label)| label.clone()),
        system: first.system.filter(|_| same_page && first.system == last.system),
        movement: Some(first.movement).filter(|_| first.movement == last.movement),
        bar_index: Some((first.index, last.index)),
        bars: Some([first.number.clone(), last.number.clone()]),
        ..Where::default()
    }
}
