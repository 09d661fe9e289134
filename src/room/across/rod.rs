//! Rods: what the signs of one staff and the syllables of one verse keep apart.

use super::bar::Music;
use super::graph::Rod;
use super::lyric::{self, Syllable};
use super::object::Object;
use crate::page::Staff;
use crate::score::Traits;
use crate::units::{Sp, Time};

/// Between objects of one staff: below the first signs touch, the second reads comfortably.
const APART: (Sp, Sp) = (Sp(0.25), Sp(0.65));
/// Rods ahead among which one between the same nodes is looked for.
const NEAR: usize = 8;

impl Music<'_> {
    /// What the syllables of one staff keep apart, verse by verse.
    pub(super) fn lyric_rods(&self, staff: &Staff, bar: usize, columns: &[Time], end: u32, rods: &mut Vec<Rod>) {
        let part = &self.score.parts[staff.part];
        let lyrics = part.lyrics_of(bar);
        if lyrics.is_empty() {
            return;
        }
        let instructions = &self.score.instructions;
        let scale = self.scale;
        let mut sung: Vec<(&str, Syllable)> = Vec::with_capacity(lyrics.len());
        for lyric in lyrics {
            let Some(note) = part.notes.get(lyric.note as usize) else { continue };
            let shown = note.staff == staff.staff && !note.traits.intersects(Traits::HIDDEN | Traits::GRACE);
            let Some(column) = shown.then(|| node_of(columns, note.onset)).flatten() else { continue };
            sung.push((&lyric.verse, lyric::syllable(lyric, column - 1, instructions, scale)));
        }
        sung.sort_by_key(|(verse, syllable)| (*verse, syllable.column));
        for verse in sung.chunk_by(|one, other| one.0 == other.0) {
            let mut syllables: Vec<Syllable> = Vec::with_capacity(verse.len());
            for (_, syllable) in verse {
                match syllables.last_mut().filter(|last| last.column == syllable.column) {
                    // Of two voices that sing at once the wider counts.
                    Some(last) if syllable.width > last.width => *last = *syllable,
                    Some(_) => {}
                    None => syllables.push(*syllable),
                }
            }
            lyric::rods(&syllables, end, rods);
        }
    }
}

/// The node of a column; `None` where there is none at that moment.
fn node_of(columns: &[Time], onset: Time) -> Option<u32> {
    let column = columns.binary_search(&onset).ok()?;
    u32::try_from(column + 1).ok()
}

/// What the objects of one staff keep apart.
pub(super) fn lane_rods(lane: &[Object], end: u32, rods: &mut Vec<Rod>) {
    let node = |object: &Object| object.column + 1;
    let mut met = 0;
    if let Some(first) = lane.first() {
        let hard = Sp(0.80).max(Sp(0.30) + first.left);
        let comfortable = Sp(1.30).max(Sp(0.60) + first.left);
        add(rods, &mut met, Rod { from: 0, to: node(first), hard, comfortable });
    }
    for pair in lane.windows(2) {
        let [one, next] = pair else { continue };
        let touching = one.right + next.left;
        add(rods, &mut met, Rod { from: node(one), to: node(next), hard: touching + APART.0, comfortable: touching + APART.1 });
    }
    if let Some(last) = lane.last() {
        add(rods, &mut met, Rod { from: node(last), to: end, hard: last.right + Sp(0.50), comfortable: last.right + Sp(1.30) });
    }
}

/// Adds a rod, unless one is found near the one met last that keeps the same nodes at least as far apart; one that it outdoes there gives way.
fn add(rods: &mut Vec<Rod>, met: &mut usize, rod: Rod) {
    let near = rods[*met..].iter().take(NEAR).position(|one| (one.from, one.to) == (rod.from, rod.to));
    if let Some(near) = near {
        *met += near;
        let one = &mut rods[*met];
        if one.outdoes(&rod) {
            return;
        }
        if rod.outdoes(one) {
            *one = rod;
            return;
        }
    }
    *met = rods.len();
    rods.push(rod);
}
