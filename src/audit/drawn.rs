//! A document as pictures, with what was measured on its pages.

use crate::house::Fact;
use crate::measured::Measured;
use crate::page::lay_out;
use crate::picture::{self, PagePicture};
use crate::rule::subject::Reader;
use crate::score::Score;
use crate::units::Mm;

/// A document drawn.
#[derive(Debug)]
pub struct Drawn {
    /// Its pages.
    pub pages: Vec<PagePicture>,
    /// What was measured, in millimetres on paper.
    pub measured: Measured,
    /// What its reader needs to see of it; `None` where nobody can tell who reads it.
    pub sight: Option<Sight>,
}

/// What a reader needs of the staves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sight {
    /// Heights: least, from where nobody objects, ideal, most.
    pub heights: [Mm; 4],
    /// Whoever turns its pages plays.
    pub turns: bool,
    /// Metres from eye to page, nearest and farthest, where known.
    pub distance: Option<[f64; 2]>,
}

impl Sight {
    /// That of a reader.
    pub fn of(reader: &Reader) -> Option<Self> {
        let role = reader.role?;
        let heights = role.heights(reader.light);
        let distance = role.reading_distance.as_ref().map(|distance| [distance.least_m, distance.most_m]);
        let value = |height: &Fact<Mm>| height.value;
        Some(Self {
            heights: [&heights.least, &heights.good, &heights.ideal, &heights.most].map(value),
            turns: role.turns.value.plays(),
            distance,
        })
    }
}

/// The pages of a score; `None` where they cannot be drawn, or where it is not known where they begin.
pub(super) fn pages(score: &Score, measured: &Measured) -> Option<Vec<PagePicture>> {
    if !measured.pages_known {
        return None;
    }
    picture::pages(score, &lay_out(score, &score.instructions)).ok()
}
