//! Many findings of one cause become one: which one speaks, and what it can say of the others.

use super::finding::{Level, Where};
use super::loaded::Merge;
use super::words::listed;
use minijinja::Value as Word;
use std::cmp::Ordering;
use std::collections::{BTreeMap, HashSet};
use std::sync::Arc;

/// What of a finding decides which of the merged ones is the worst.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Weight {
    pub level: Level,
    pub measured: Option<f64>,
    pub limit: Option<f64>,
}

impl Weight {
    /// How far the measured value lies from the limit, as a share of the limit where it has a size.
    fn distance(&self) -> f64 {
        let Some((measured, limit)) = self.measured.zip(self.limit) else { return 0.0 };
        let distance = (measured - limit).abs();
        if limit == 0.0 { distance } else { distance / limit.abs() }
    }

    /// Graver first, then farther from the limit.
    pub fn worse_first(&self, other: &Self) -> Ordering {
        other.level.cmp(&self.level).then_with(|| other.distance().total_cmp(&self.distance()))
    }
}

/// What findings of one rule have in common if they are to be one.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Key {
    File,
    Part(Option<u32>, Option<Arc<str>>),
    Page(Option<u32>),
    Alone(usize),
}

impl Key {
    pub fn of(merge: Merge, on: &Where, index: usize) -> Self {
        match merge {
            Merge::None => Self::Alone(index),
            Merge::Page => Self::Page(on.page),
            Merge::Part => Self::Part(on.part_index, on.part.clone()),
            Merge::File => Self::File,
        }
    }
}

/// The names a template has for the merged findings: `all` in the order of the music, and the `worst` of them,
/// which `where` tells of.
pub(super) fn words(worst: &Where, all: &[&Where]) -> BTreeMap<&'static str, Word> {
    let each = |name: fn(&Where) -> Option<String>| {
        let mut names: Vec<String> = Vec::new();
        let mut known: HashSet<String> = HashSet::new();
        for name in all.iter().filter_map(|on| name(on)) {
            // The things come in order, so equal names of neighbours are the same thing; a second bar 1 of
            // another movement reads the same and is named once.
            if known.insert(name.clone()) {
                names.push(name);
            }
        }
        Word::from(listed(&names))
    };
    BTreeMap::from([
        ("count", Word::from(all.len())),
        ("pages", each(Where::page_name)),
        ("systems", each(|on| on.system.map(|system| system.to_string()))),
        ("bars", each(Where::bars_name)),
        ("staves", each(Where::staff_name)),
        ("parts", each(|on| on.part_name_or_id().map(str::to_owned))),
        ("where", Word::from(worst.to_string())),
    ])
}
