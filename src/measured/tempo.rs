//! How long a bar lasts, as far as tempo marks say. First version: each bar at the tempo in force at its beginning.

use crate::score::{MarkKind, Score, SignKind};
use crate::units::Time;

/// Quarters in a whole note.
const QUARTERS: f64 = 4.0;

/// Words with which a tempo begins, in Italian, German, French and English (from memory; small letters).
const TEMPI: [&str; 40] = [
    "adagietto",
    "adagio",
    "allegretto",
    "allegro",
    "andante",
    "andantino",
    "grave",
    "larghetto",
    "largo",
    "lento",
    "moderato",
    "presto",
    "prestissimo",
    "vivace",
    "vivo",
    "più mosso",
    "piu mosso",
    "meno mosso",
    "a tempo",
    "tempo",
    "l'istesso tempo",
    "doppio movimento",
    "ritardando",
    "rallentando",
    "accelerando",
    "stringendo",
    "rit.",
    "rall.",
    "accel.",
    "langsam",
    "schnell",
    "mäßig",
    "lebhaft",
    "bewegt",
    "lent",
    "vif",
    "modéré",
    "slow",
    "fast",
    "faster",
];

/// Whether words to the player tell a tempo: they begin as one does.
pub fn is_tempo(words: &str) -> bool {
    let words = words.trim().to_lowercase();
    let ends = |rest: &str| rest.chars().next().is_none_or(|letter| !letter.is_alphabetic());
    TEMPI.iter().any(|tempo| words.strip_prefix(tempo).is_some_and(ends))
}

/// Seconds of every bar; `None` where no tempo or no length is known.
pub(super) fn seconds(score: &Score) -> Vec<Option<f64>> {
    let mut quarters_a_minute: Option<f64> = None;
    let mut metre: Option<Time> = None;
    (0..score.bar_count())
        .map(|bar| {
            let parts = || score.parts.iter();
            for sign in parts().flat_map(|part| part.signs_of(bar)) {
                if let SignKind::Time { bar, .. } = &sign.kind {
                    metre = *bar;
                }
            }
            // What is stated for playback is a number of quarters; a metronome mark may count another beat.
            let marks = || parts().flat_map(|part| part.marks_of(bar)).filter(|mark| mark.onset == Time::ZERO);
            let stated = marks().find_map(|mark| match &mark.kind {
                MarkKind::Tempo(quarters) => Some(f64::from(*quarters)),
                _ => None,
            });
            let marked = marks().find_map(|mark| match &mark.kind {
                MarkKind::Metronome { beat, from, to } => {
                    Some(f64::midpoint(f64::from(*from), f64::from(*to)) * beat.whole_notes() * QUARTERS)
                }
                _ => None,
            });
            quarters_a_minute = stated.or(marked).filter(|quarters| quarters.is_finite() && *quarters > 0.0).or(quarters_a_minute);
            let length = parts().filter_map(|part| part.bars.get(bar)?.length).max().filter(|length| *length > Time::ZERO).or(metre)?;
            Some(length.whole_notes() * QUARTERS * 60.0 / quarters_a_minute?)
        })
        .collect()
}
