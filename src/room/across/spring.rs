//! Springs: the space that durations ask for, and how willingly it stretches.
//!
//! A power law, because it is free of context: the same bar always has the same natural width. The exponent was fitted
//! on open scores (between .47 and .58 by exporter; spacing study of open scores).

use crate::units::{Sp, Time};

/// One note or rest in time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Event {
    /// When it begins.
    pub onset: Time,
    /// When it ends.
    pub end: Time,
    /// How long it lasts.
    pub duration: Time,
}

/// A spring between one column and the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spring {
    /// Natural length.
    pub length: Sp,
    /// How willingly it stretches: steps of twice the duration it gives way as a whole note would.
    pub give: f64,
}

/// Natural space of a duration: as its square root, a quarter four and a half staff spaces, none less than 2.1.
pub fn natural_space(duration: Time) -> Sp {
    space(duration.whole_notes())
}

fn space(whole_notes: f64) -> Sp {
    Sp((4.5 * (4.0 * whole_notes.max(0.0)).sqrt()).max(2.1))
}

/// How willingly the space of a duration stretches.
fn give(whole_notes: f64) -> f64 {
    if whole_notes < 0.5 {
        1.0
    } else if whole_notes < 1.0 {
        1.4
    } else {
        2.0
    }
}

/// Room to reckon springs in, for one bar after the other.
#[derive(Debug, Default)]
pub struct Steps {
    /// From column to column, and from the last to the end.
    deltas: Vec<Time>,
    /// The shortest event that lasts all through each.
    active: Vec<Option<Time>>,
    /// Of each, and the end, the first at or after it that no event is known for yet.
    next: Vec<usize>,
}

/// The springs between columns (in order, at least one) and on to `end`, for the events that make them. `None` where a time does not fit.
pub fn springs(events: &mut [Event], columns: &[Time], end: Time, steps: &mut Steps) -> Option<Vec<Spring>> {
    let Steps { deltas, active, next } = steps;
    deltas.clear();
    deltas.reserve(columns.len());
    for (index, column) in columns.iter().enumerate() {
        deltas.push(columns.get(index + 1).copied().unwrap_or(end).minus(*column)?);
    }
    shortest_active(events, columns, end, active, next);
    // Where nothing sounds all the way, the step itself counts.
    let act = |index: usize| active[index].unwrap_or(deltas[index]);
    let spring = |index: usize| {
        let delta = deltas[index];
        let duration = act(index).max(delta);
        let before = index.checked_sub(1).map(act);
        let after = (index + 1 < deltas.len()).then(|| act(index + 1));
        let local = before.into_iter().chain(after).fold(act(index), Time::min);
        let length = if delta >= local {
            natural_space(delta)
        } else {
            // A fragment of a polyrhythm: its share of the note that governs it.
            natural_space(duration) * (delta.whole_notes() / duration.whole_notes())
        };
        Spring { length, give: give(duration.whole_notes()) }
    };
    Some((0..columns.len()).map(spring).collect())
}

/// For every step from column to column, the shortest event that lasts all through it.
///
/// The events paint the steps they cover, shortest first, each step once: near linear, where asking every event of every
/// column takes a second for a bar of 60,000 notes.
fn shortest_active(events: &mut [Event], columns: &[Time], end: Time, active: &mut Vec<Option<Time>>, next: &mut Vec<usize>) {
    let steps = columns.len();
    active.clear();
    active.resize(steps, None);
    next.clear();
    next.extend(0..=steps);
    events.sort_unstable_by_key(|event| event.duration);
    for event in events.iter() {
        let first = columns.partition_point(|column| *column < event.onset);
        // A step is covered when its end is not after the event's.
        let covered = if event.end >= end { steps } else { columns.partition_point(|column| *column <= event.end).saturating_sub(1) };
        let mut step = unpainted(next, first);
        while step < covered {
            active[step] = Some(event.duration);
            next[step] = step + 1;
            step = unpainted(next, step + 1);
        }
    }
}

/// The first unpainted step at or after `step`; shortens the way for the next who asks.
fn unpainted(next: &mut [usize], step: usize) -> usize {
    let mut found = step;
    while next[found] != found {
        found = next[found];
    }
    let mut walked = step;
    while next[walked] != found {
        walked = std::mem::replace(&mut next[walked], found);
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn time(numer: i64, denom: i64) -> Time {
        Time::new(numer, denom).expect("fits")
    }

    /// The notes of one voice one after the other.
    fn voice(durations: &[(i64, i64)]) -> Vec<Event> {
        let mut onset = Time::ZERO;
        let event = |(numer, denom): &(i64, i64)| {
            let duration = time(*numer, *denom);
            let end = onset.plus(duration).expect("fits");
            Event { onset: std::mem::replace(&mut onset, end), end, duration }
        };
        durations.iter().map(event).collect()
    }

    fn lengths(voices: &[&[(i64, i64)]]) -> Vec<f64> {
        let mut events: Vec<Event> = voices.iter().flat_map(|durations| voice(durations)).collect();
        let mut columns: Vec<Time> = events.iter().map(|event| event.onset).collect();
        columns.sort_unstable();
        columns.dedup();
        let end = events.iter().map(|event| event.end).max().expect("some");
        springs(&mut events, &columns, end, &mut Steps::default()).expect("fits").iter().map(|spring| spring.length.0).collect()
    }

    fn near(found: &[f64], wanted: &[f64]) {
        assert_eq!(found.len(), wanted.len(), "{found:?}");
        assert!(found.iter().zip(wanted).all(|(found, wanted)| (found - wanted).abs() < 0.0005), "{found:?}, wanted {wanted:?}");
    }

    /// Spacing study of open scores, the list of S.
    #[test]
    fn space_of_durations() {
        let all = [(1, 32), (1, 16), (1, 12), (1, 8), (1, 6), (3, 16), (1, 4), (3, 8), (1, 2), (3, 4), (1, 1), (2, 1)];
        let found: Vec<f64> = all.iter().map(|(numer, denom)| natural_space(time(*numer, *denom)).0).collect();
        near(&found, &[2.100, 2.250, 2.598, 3.182, 3.674, 3.897, 4.500, 5.511, 6.364, 7.794, 9.000, 12.728]);
    }

    /// Spacing study of open scores, the checks of polyrhythm.
    #[test]
    fn space_of_polyrhythm() {
        near(&lengths(&[&[(1, 12); 3], &[(1, 8); 2]]), &[2.598, 1.299, 1.299, 2.598]);
        near(&lengths(&[&[(1, 16); 4], &[(1, 12); 3]]), &[2.25, 0.75, 1.5, 1.5, 0.75, 2.25]);
        near(&lengths(&[&[(1, 8), (1, 4), (1, 8)], &[(1, 4); 2]]), &[3.182; 4]);
    }
}
