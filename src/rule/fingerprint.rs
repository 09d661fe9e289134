//! The fingerprint of a finding: what it is about, in 64 bits that are the same on every machine.

use super::finding::Where;
use super::rule::Merge;
use std::collections::HashMap;
use std::hash::Hasher;

/// Gives out fingerprints; the second finding with the same key gets one of its own.
#[derive(Debug, Default)]
pub(super) struct Fingerprints {
    given: HashMap<String, u32>,
}

impl Fingerprints {
    /// The fingerprint of a finding of `rule` on `on`. A finding merged over a scope is about that scope,
    /// whichever of the merged was the worst this time.
    pub fn next(&mut self, rule: &str, merge: Merge, on: &Where) -> String {
        let key = key(rule, merge, on);
        let nth = self.given.entry(key.clone()).or_default();
        *nth += 1;
        let mut hash = fnv::FnvHasher::default();
        hash.write(key.as_bytes());
        hash.write(&nth.to_le_bytes());
        format!("{:016x}", hash.finish())
    }
}

/// The words that name what a finding is about. Pages and systems count only where there are no bars to
/// name it by: a new casting off moves them.
fn key(rule: &str, merge: Merge, on: &Where) -> String {
    let or_none = |text: Option<String>| text.unwrap_or_default();
    let part = or_none(on.part_name_or_id().map(str::to_owned));
    let movement = or_none(on.movement.map(|number| number.to_string()));
    let mut words = vec![rule.to_owned()];
    match merge {
        Merge::File => {}
        Merge::Part => words.push(part),
        Merge::Page => words.extend([movement, or_none(on.page.map(|page| page.to_string()))]),
        Merge::None => {
            words.extend([part, movement, or_none(on.staff.map(|staff| staff.to_string()))]);
            match on.bars_name() {
                Some(bars) => words.push(bars),
                None => words.extend([on.page, on.system].map(|number| or_none(number.map(|number| number.to_string())))),
            }
        }
    }
    // A separator that no name in a score holds.
    words.join("\u{1f}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bar(page: u32, part: &str, bars: &str) -> Where {
        Where { page: Some(page), part_name: Some(part.into()), bars: Some([bars.into(), bars.into()]), ..Where::default() }
    }

    #[test]
    fn a_bar_keeps_its_fingerprint_on_another_page() {
        let of = |on: &Where| Fingerprints::default().next("tight-system", Merge::None, on);
        assert_eq!(of(&bar(1, "Oboe", "12")), of(&bar(2, "Oboe", "12")));
        assert_ne!(of(&bar(1, "Oboe", "12")), of(&bar(1, "Oboe", "13")));
        assert_ne!(of(&bar(1, "Oboe", "12")), of(&bar(1, "Flute", "12")));
    }

    #[test]
    fn equal_keys_are_told_apart_by_their_order() {
        let mut given = Fingerprints::default();
        let first = given.next("tight-system", Merge::None, &bar(1, "Oboe", "12"));
        assert_ne!(given.next("tight-system", Merge::None, &bar(1, "Oboe", "12")), first);
    }
}
