//! The roles as their file writes them, and the checks that turn them into [`Role`]s.

use super::data::{DataError, DataFile, Sources};
use super::family::Family;
use super::role::{Fact, Kind, Light, OtherStaves, Players, ReadingDistance, Role, StaffGaps, StaffHeights, TextSizes, TurnedBy};
use crate::units::Mm;
use serde::Deserialize;
use toml::Spanned;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawRoles {
    pub source: Sources,
    pub role: Vec<RawRole>,
}

/// The same as far as the names.
#[derive(Deserialize)]
pub(super) struct RoleNames<'a> {
    #[serde(borrow)]
    pub role: Vec<RoleName<'a>>,
}

#[derive(Deserialize)]
pub(super) struct RoleName<'a> {
    pub name: &'a str,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RawRole {
    pub name: Spanned<String>,
    title: String,
    kind: Kind,
    players: Players,
    family: Option<Family>,
    light: Light,
    staff_height_mm: RawHeights,
    staff_height_dim_mm: Option<RawHeights>,
    reading_distance_m: Option<RawDistance>,
    gap_staff_heights: Option<RawGaps>,
    other_staves: RawStaves,
    text_pt: RawTexts,
    turned_by: RawFact<TurnedBy>,
    conducted: bool,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawFact<T> {
    value: Spanned<T>,
    source: Spanned<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawHeights {
    least: RawFact<f64>,
    good: RawFact<f64>,
    ideal: RawFact<f64>,
    most: RawFact<f64>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawGaps {
    least: RawFact<f64>,
    norm_from: RawFact<f64>,
    norm_to: RawFact<f64>,
    most: RawFact<f64>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawStaves {
    other_player: RawFact<f64>,
    ossia: RawFact<f64>,
    cue: RawFact<f64>,
    rehearsal: RawFact<f64>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawTexts {
    least: RawFact<f64>,
    good: RawFact<f64>,
    ideal: RawFact<f64>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawDistance {
    least: Spanned<f64>,
    most: Spanned<f64>,
    source: Spanned<String>,
}

/// The file while its values are checked.
#[derive(Clone, Copy)]
struct Check<'a> {
    file: DataFile<'a>,
    sources: &'a Sources,
}

impl Check<'_> {
    fn fact<T>(self, raw: RawFact<T>) -> Result<Fact<T>, DataError> {
        Ok(Fact { source: self.sources.get(&raw.source, self.file)?, value: raw.value.into_inner() })
    }

    fn positive(self, raw: RawFact<f64>) -> Result<Fact<f64>, DataError> {
        self.file.positive(&raw.value, "this value")?;
        self.fact(raw)
    }

    /// A share of something: above 0, at most all of it.
    fn share(self, raw: RawFact<f64>) -> Result<Fact<f64>, DataError> {
        if *raw.value.get_ref() > 1.0 {
            return Err(self.file.wrong(&raw.value, "this is a share of the reader's own staff: at most 1"));
        }
        self.positive(raw)
    }

    /// Facts, smallest first.
    fn rising<const N: usize>(self, facts: [RawFact<f64>; N], names: [&str; N]) -> Result<[Fact<f64>; N], DataError> {
        for (pair, name) in facts.windows(2).zip(names.windows(2)) {
            if let ([smaller, larger], [smaller_name, larger_name]) = (pair, name)
                && smaller.value.get_ref() > larger.value.get_ref()
            {
                return Err(self.file.wrong(&larger.value, format!("`{larger_name}` is smaller than `{smaller_name}`")));
            }
        }
        let mut checked = Vec::with_capacity(N);
        for fact in facts {
            checked.push(self.positive(fact)?);
        }
        checked.try_into().map_err(|_| DataError::new(self.file.name, self.file.text, None, "a value is missing"))
    }

    fn heights(self, raw: RawHeights) -> Result<StaffHeights, DataError> {
        let facts = self.rising([raw.least, raw.good, raw.ideal, raw.most], ["least", "good", "ideal", "most"])?;
        let [least, good, ideal, most] = facts.map(|fact| Fact { value: Mm(fact.value), source: fact.source });
        Ok(StaffHeights { least, good, ideal, most })
    }

    fn gaps(self, raw: RawGaps) -> Result<StaffGaps, DataError> {
        let facts = [raw.least, raw.norm_from, raw.norm_to, raw.most];
        let [least, norm_from, norm_to, most] = self.rising(facts, ["least", "norm_from", "norm_to", "most"])?;
        Ok(StaffGaps { least, norm_from, norm_to, most })
    }

    fn staves(self, raw: RawStaves) -> Result<OtherStaves, DataError> {
        Ok(OtherStaves {
            other_player: self.share(raw.other_player)?,
            ossia: self.share(raw.ossia)?,
            cue: self.share(raw.cue)?,
            rehearsal: self.share(raw.rehearsal)?,
        })
    }

    fn texts(self, raw: RawTexts) -> Result<TextSizes, DataError> {
        let [least, good, ideal] = self.rising([raw.least, raw.good, raw.ideal], ["least", "good", "ideal"])?;
        Ok(TextSizes { least, good, ideal })
    }

    fn distance(self, raw: &RawDistance) -> Result<ReadingDistance, DataError> {
        if raw.least.get_ref() > raw.most.get_ref() {
            return Err(self.file.wrong(&raw.most, "`most` is smaller than `least`"));
        }
        Ok(ReadingDistance {
            least_m: self.file.positive(&raw.least, "this value")?,
            most_m: self.file.positive(&raw.most, "this value")?,
            source: self.sources.get(&raw.source, self.file)?,
        })
    }
}

impl RawRole {
    /// The role, if its values are numbers in their order and their sources are there.
    pub fn check(self, sources: &Sources, file: DataFile) -> Result<Role, DataError> {
        let check = Check { file, sources };
        Ok(Role {
            name: self.name.into_inner(),
            title: self.title,
            kind: self.kind,
            players: self.players,
            family: self.family,
            light: self.light,
            staff_height: check.heights(self.staff_height_mm)?,
            staff_height_dim: self.staff_height_dim_mm.map(|raw| check.heights(raw)).transpose()?,
            reading_distance: self.reading_distance_m.as_ref().map(|raw| check.distance(raw)).transpose()?,
            staff_gaps: self.gap_staff_heights.map(|raw| check.gaps(raw)).transpose()?,
            other_staves: check.staves(self.other_staves)?,
            text_pt: check.texts(self.text_pt)?,
            turns: check.fact(self.turned_by)?,
            conducted: self.conducted,
        })
    }
}
