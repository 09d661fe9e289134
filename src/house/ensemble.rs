//! Kinds of scores, told by the parts they show.

use super::data::{DataError, DataFile, UnknownName};
use super::family::Family;
use super::instrument::Instrument;
use super::role::Roles;
use serde::Deserialize;
use std::collections::BTreeMap;
use toml::Spanned;

/// A number of parts, both ends included.
#[derive(Debug, Clone, Copy, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
struct Range {
    least: Option<usize>,
    most: Option<usize>,
}

impl Range {
    fn holds(self, count: usize) -> bool {
        self.least.is_none_or(|least| count >= least) && self.most.is_none_or(|most| count <= most)
    }
}

/// A kind of score, told by the parts it shows.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Ensemble {
    /// The role of a copy that shows it.
    pub role: String,
    /// The parts in words.
    pub says: String,
    parts: Range,
    families: BTreeMap<Family, Range>,
    instruments: BTreeMap<String, Range>,
    others: Range,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawEnsemble {
    role: Spanned<String>,
    says: String,
    #[serde(default)]
    parts: Range,
    #[serde(default)]
    families: BTreeMap<Family, Range>,
    #[serde(default)]
    instruments: BTreeMap<Spanned<String>, Range>,
    #[serde(default)]
    others: Range,
}

impl RawEnsemble {
    /// The ensemble, if its role and its instruments are known.
    pub fn check(self, known: &[Instrument], roles: &Roles, file: DataFile) -> Result<Ensemble, DataError> {
        roles.get(self.role.get_ref()).map_err(|error| file.wrong(&self.role, error.to_string()))?;
        if let Some(unknown) = self.instruments.keys().find(|name| known.iter().all(|one| one.name != *name.get_ref())) {
            let error = UnknownName::new("instrument", unknown.get_ref(), known.iter().map(|one| one.name.as_str()));
            return Err(file.wrong(unknown, error.to_string()));
        }
        Ok(Ensemble {
            role: self.role.into_inner(),
            says: self.says,
            parts: self.parts,
            families: self.families,
            instruments: self.instruments.into_iter().map(|(name, range)| (name.into_inner(), range)).collect(),
            others: self.others,
        })
    }
}

/// How many parts of what a file shows.
#[derive(Debug, Default)]
pub(super) struct Count<'a> {
    parts: usize,
    /// Parts of which neither sound nor name is known.
    unknown: usize,
    families: BTreeMap<Family, usize>,
    instruments: BTreeMap<&'a str, usize>,
    /// Parts of each family, whatever the number of their staves.
    parts_of: BTreeMap<Family, usize>,
}

impl<'a> Count<'a> {
    /// One part more.
    pub fn add(&mut self, instrument: Option<&'a Instrument>, staves: u8) {
        self.parts += 1;
        let Some(instrument) = instrument else {
            self.unknown += 1;
            return;
        };
        // Two staves of voices are two voices and more, two staves of a piano one player.
        let count = if instrument.role_on_staves.is_some() { usize::from(staves.max(1)) } else { 1 };
        *self.families.entry(instrument.family).or_default() += count;
        *self.instruments.entry(&instrument.name).or_default() += count;
        *self.parts_of.entry(instrument.family).or_default() += 1;
    }
}

impl Ensemble {
    /// Whether a file with these parts is a score of this kind.
    pub fn fits(&self, count: &Count) -> bool {
        let named: usize = self.families.keys().filter_map(|family| count.parts_of.get(family)).sum();
        let known: usize = count.parts_of.values().sum();
        let family = |(family, range): (&Family, &Range)| range.holds(count.families.get(family).copied().unwrap_or_default());
        let instrument = |(name, range): (&String, &Range)| range.holds(count.instruments.get(name.as_str()).copied().unwrap_or_default());
        self.parts.holds(count.parts)
            && self.others.holds(count.unknown + known - named)
            && self.families.iter().all(family)
            && self.instruments.iter().all(instrument)
    }
}
