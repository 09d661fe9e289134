//! Many findings of one cause become one: which one speaks, and what it can say of the others.

use super::finding::{Level, Where};
use super::loaded::Merge;
use super::template::shortened;
use super::words::listed;
use minijinja::Value as Word;
use std::cmp::Ordering;
use std::collections::{BTreeMap, HashSet};
use std::sync::Arc;

/// What of a finding decides which of the merged ones is the worst.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Weight {
    pub level: Level,
    /// How far the measured value lies from the limit, as a share of the limit where it has a size.
    distance: f64,
}

impl Weight {
    /// The weight of a measured value against its limit.
    pub fn of(level: Level, measured: Option<f64>, limit: Option<f64>) -> Self {
        let distance = measured.zip(limit).map_or(0.0, |(measured, limit)| {
            let distance = (measured - limit).abs();
            if limit == 0.0 { distance } else { distance / limit.abs() }
        });
        Self { level, distance }
    }

    /// Graver first, then farther from the limit.
    pub fn worse_first(&self, other: &Self) -> Ordering {
        other.level.cmp(&self.level).then_with(|| other.distance.total_cmp(&self.distance))
    }
}

/// What findings of one rule have in common if they are to be one.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Key {
    File,
    Part(Option<u32>, Option<Arc<str>>),
    Page(Option<u32>),
    /// A thing by its lot and its place in it.
    Alone(u32, u32),
}

impl Key {
    pub fn of(merge: Merge, on: &Where, lot: u32, index: u32) -> Self {
        match merge {
            Merge::None => Self::Alone(lot, index),
            Merge::Page => Self::Page(on.page),
            Merge::Part => Self::Part(on.part_index, on.part.clone()),
            Merge::File => Self::File,
        }
    }
}

/// What a template can say of merged findings, gathered one by one in the order of the music.
#[derive(Debug, Default)]
pub(super) struct Told {
    count: usize,
    last: Where,
    pages: Names,
    systems: Names,
    bars: Names,
    staves: Names,
    parts: Names,
}

impl Told {
    /// Takes in one more.
    pub fn add(&mut self, on: &Where) {
        self.count += 1;
        // There may be tens of thousands, and neighbours share most: what was just named is not put into words again, nor kept anew.
        let Self { last, .. } = self;
        if (last.page, &last.page_label) != (on.page, &on.page_label) {
            (last.page, last.page_label) = (on.page, on.page_label.clone());
            self.pages.add(on.page_name());
        }
        if last.system != on.system {
            last.system = on.system;
            self.systems.add(on.system.map(|system| system.to_string()));
        }
        if last.bars != on.bars {
            last.bars.clone_from(&on.bars);
            self.bars.add(on.bars_name());
        }
        if (last.staff, &last.part, &last.part_name) != (on.staff, &on.part, &on.part_name) {
            (last.staff, last.part, last.part_name) = (on.staff, on.part.clone(), on.part_name.clone());
            self.staves.add(on.staff_name());
            self.parts.add(on.part_name_or_id());
        }
    }

    /// The names a template has for them; `where` tells of the worst.
    pub fn words(&self, worst: &Where) -> BTreeMap<&'static str, Word> {
        BTreeMap::from([
            ("count", Word::from(self.count)),
            ("pages", self.pages.word()),
            ("systems", self.systems.word()),
            ("bars", self.bars.word()),
            ("staves", self.staves.word()),
            ("parts", self.parts.word()),
            ("where", Word::from(shortened(&worst.to_string()).as_ref())),
        ])
    }
}

/// Names in the order in which they came, each once. The things come in order, so equal names of neighbours are the same
/// thing; a second bar 1 of another movement reads the same and is named once.
#[derive(Debug, Default)]
struct Names {
    all: Vec<String>,
    known: HashSet<String>,
}

impl Names {
    fn add(&mut self, name: Option<impl AsRef<str> + Into<String>>) {
        let Some(name) = name.filter(|name| !self.known.contains(name.as_ref())) else { return };
        let name = name.into();
        self.known.insert(name.clone());
        self.all.push(name);
    }

    fn word(&self) -> Word {
        Word::from(shortened(&listed(&self.all)).as_ref())
    }
}

/// The names a template has for the merged findings: `all` in the order of the music, and the `worst` of them,
/// which `where` tells of.
pub(super) fn words(worst: &Where, all: &[&Where]) -> BTreeMap<&'static str, Word> {
    let mut told = Told::default();
    for on in all {
        told.add(on);
    }
    told.words(worst)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Of two of one level the one farther from its own limit, as a share of that, is the worse: below as above.
    #[test]
    fn farther_from_the_limit_is_worse() {
        let weight = |level, measured, limit| Weight::of(level, Some(measured), Some(limit));
        let worse = |one: (f64, f64), other: (f64, f64)| {
            weight(Level::Note, one.0, one.1).worse_first(&weight(Level::Note, other.0, other.1)) == Ordering::Less
        };
        assert!(worse((5.0, 3.0), (4.0, 3.0)) && worse((1.0, 3.0), (2.0, 3.0)) && worse((2.0, 1.0), (12.0, 10.0)));
        let graver = weight(Level::Error, 3.1, 3.0).worse_first(&weight(Level::Note, 9.0, 3.0));
        assert_eq!(graver, Ordering::Less, "a graver one is worse, however near");
    }
}
