//! Roles: the player or reader a copy is meant for, and what that reader needs of it.

use super::data::{DataError, DataFile, Source, UnknownName};
use super::family::Family;
use super::group;
use super::role_file::{RawRoles, RoleNames};
use crate::packed::ROLES;
use crate::units::Mm;
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// What the reader has before the eyes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    /// The music of one player, desk or voice.
    Part,
    /// The music of several, one above the other.
    Score,
}

/// How many play from what the copy shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Players {
    /// All who read it play the same line: a rest in it is a rest for them.
    One,
    /// Its staves belong to different players.
    Several,
}

/// The light a copy is read in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Light {
    /// A lit platform, a desk at a window, a lesson.
    Lit,
    /// A dim pit, with a small lamp at the desk.
    Dim,
}

impl Light {
    /// Its name in data and conditions.
    pub fn name(self) -> &'static str {
        match self {
            Self::Lit => "lit",
            Self::Dim => "dim",
        }
    }
}

/// Who turns the pages of a copy.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum TurnedBy {
    /// The player, who needs both hands for the instrument.
    Player,
    /// The second player of a shared desk, while the first plays on.
    DeskPartner,
    /// Somebody who sits by for that.
    PageTurner,
    /// The conductor, with the free hand.
    Conductor,
    /// Nobody is disturbed: a singer holds the copy, a student reads it.
    Nobody,
}

impl TurnedBy {
    /// Its name in data and conditions.
    pub fn name(self) -> &'static str {
        match self {
            Self::Player => "player",
            Self::DeskPartner => "desk-partner",
            Self::PageTurner => "page-turner",
            Self::Conductor => "conductor",
            Self::Nobody => "nobody",
        }
    }

    /// Whether it matters how long the hands are free at a turn: whoever turns plays.
    pub fn plays(self) -> bool {
        matches!(self, Self::Player | Self::DeskPartner)
    }
}

/// A value and who says it.
#[derive(Debug, Clone, PartialEq)]
pub struct Fact<T> {
    /// The value.
    pub value: T,
    /// Who says so.
    pub source: Arc<Source>,
}

/// Staff heights of a reader: `least <= good <= ideal <= most`, all of five-line staves as printed.
#[derive(Debug, Clone, PartialEq)]
pub struct StaffHeights {
    /// Below it the copy does not serve at all.
    pub least: Fact<Mm>,
    /// From here nobody objects; between `least` and this the reader is at risk.
    pub good: Fact<Mm>,
    /// What to choose.
    pub ideal: Fact<Mm>,
    /// Above it paper is wasted.
    pub most: Fact<Mm>,
}

/// Distance from eye to page, in metres.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadingDistance {
    /// The nearest.
    pub least_m: f64,
    /// The farthest.
    pub most_m: f64,
    /// Who says so.
    pub source: Arc<Source>,
}

/// White between the single staves of a part, top line below to bottom line above, in staff heights.
#[derive(Debug, Clone, PartialEq)]
pub struct StaffGaps {
    /// Below it the page is crowded.
    pub least: Fact<f64>,
    /// Lower end of what is published as right.
    pub norm_from: Fact<f64>,
    /// Upper end of what is published as right.
    pub norm_to: Fact<f64>,
    /// Above it the white is a question.
    pub most: Fact<f64>,
}

/// Least sizes of staves that are not the reader's own, as shares of the least own staff height.
#[derive(Debug, Clone, PartialEq)]
pub struct OtherStaves {
    /// Another player's staff above one's own: the solo line over a piano.
    pub other_player: Fact<f64>,
    /// Another reading of a passage.
    pub ossia: Fact<f64>,
    /// What is heard before the reader enters.
    pub cue: Fact<f64>,
    /// A staff for rehearsals only.
    pub rehearsal: Fact<f64>,
}

/// Sizes of text that is sung or read while playing, in points: `least <= good <= ideal`.
#[derive(Debug, Clone, PartialEq)]
pub struct TextSizes {
    /// Below it the text does not serve.
    pub least: Fact<f64>,
    /// From here nobody objects.
    pub good: Fact<f64>,
    /// What to choose.
    pub ideal: Fact<f64>,
}

/// A reader.
#[derive(Debug, Clone, PartialEq)]
pub struct Role {
    /// Its stable name: `orchestral-wind-part`.
    pub name: String,
    /// Its name in a sentence, without an article: `orchestral wind part`.
    pub title: String,
    /// One player's music or a score.
    pub kind: Kind,
    /// Whether its staves belong to one player.
    pub players: Players,
    /// The family of its instrument, if it is for one.
    pub family: Option<Family>,
    /// Where this reader usually sits.
    pub light: Light,
    /// The staff heights it needs on a lit platform.
    pub staff_height: StaffHeights,
    /// The same in a dim pit, where they differ.
    pub staff_height_dim: Option<StaffHeights>,
    /// From how far it is read, where somebody says so.
    pub reading_distance: Option<ReadingDistance>,
    /// The gaps of a one-staff part, where somebody says so.
    pub staff_gaps: Option<StaffGaps>,
    /// How small staves may be that are not its own.
    pub other_staves: OtherStaves,
    /// The sizes of text it needs.
    pub text_pt: TextSizes,
    /// Who turns its pages.
    pub turns: Fact<TurnedBy>,
    /// Whether it plays in an ensemble that counts on rehearsal marks and bar numbers.
    pub conducted: bool,
}

impl Role {
    /// The staff heights it needs in this light; `None` is where this reader usually sits.
    pub fn heights(&self, light: Option<Light>) -> &StaffHeights {
        match (light.unwrap_or(self.light), &self.staff_height_dim) {
            (Light::Dim, Some(dim)) => dim,
            _ => &self.staff_height,
        }
    }
}

/// How it is known which role a copy has (the contract's `role.basis`).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Basis {
    /// It is not: there is no role.
    Unknown,
    /// Taken for want of better ground.
    Assumed,
    /// Concluded from sounds or names.
    Inferred,
    /// Mapped by the house style.
    House,
    /// Said on the command line.
    Stated,
}

/// The roles that a house knows.
#[derive(Debug, Clone, PartialEq)]
pub struct Roles {
    all: Vec<Role>,
}

impl Roles {
    /// The roles that come with the program; they fail to load only in a build whose tests fail.
    pub fn built_in() -> Result<Self, DataError> {
        let file = DataFile::of(ROLES);
        // Where it does not fit, the text says why.
        let raw = ROLES.read().or_else(|_| group::parse(file, "role"))?;
        Self::check(raw, file)
    }

    /// Their names alone, in a small part of the time: who needs no more need not wait.
    ///
    /// # Errors
    /// As [`Roles::built_in`].
    pub fn built_in_names() -> Result<Vec<&'static str>, DataError> {
        let file = DataFile::of(ROLES);
        let names: RoleNames = ROLES.read().map_err(|error| DataError::new(file.name, file.text, None, error.to_string()))?;
        Ok(names.role.into_iter().map(|role| role.name).collect())
    }

    /// The roles of a TOML `text`; `file` is its name in errors.
    pub fn load(text: &str, file: &str) -> Result<Self, DataError> {
        let file = DataFile { name: file, text };
        Self::check(group::parse(file, "role")?, file)
    }

    fn check(raw: RawRoles, file: DataFile) -> Result<Self, DataError> {
        raw.source.check(file)?;
        let mut roles = Self { all: Vec::with_capacity(raw.role.len()) };
        for role in raw.role {
            if roles.names().any(|name| name == role.name.get_ref()) {
                return Err(file.wrong(&role.name, format!("two roles are called \"{}\"; rename one", role.name.get_ref())));
            }
            roles.all.push(role.check(&raw.source, file)?);
        }
        Ok(roles)
    }

    /// The role of that name.
    pub fn get(&self, name: &str) -> Result<&Role, UnknownName> {
        self.all.iter().find(|role| role.name == name).ok_or_else(|| UnknownName::new("role", name, self.names()))
    }

    /// The same, to change it.
    pub(super) fn get_mut(&mut self, name: &str) -> Result<&mut Role, UnknownName> {
        let unknown = UnknownName::new("role", name, self.names());
        self.all.iter_mut().find(|role| role.name == name).ok_or(unknown)
    }

    /// Every role, in the order of the file.
    pub fn all(&self) -> &[Role] {
        &self.all
    }

    /// Every name, in the order of the file.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.all.iter().map(|role| role.name.as_str())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::house::data::NO_SOURCE;

    #[test]
    fn every_role_of_the_contract_is_there_and_founded() {
        let roles = Roles::built_in().expect("built-in roles load");
        let expected = "orchestral-string-part orchestral-wind-part orchestral-brass-part double-bass-part harp-part percussion-part \
            keyboard-part organ-part guitar-part solo-part chamber-part big-band-part rhythm-part pit-book film-session-part chorus-part \
            chorus-score octavo vocal-score songbook hymnal lead-sheet full-score opera-full-score wind-band-score chamber-score \
            condensed-score percussion-score study-score teaching-piece lyre-card large-print";
        assert_eq!(roles.names().collect::<Vec<_>>(), expected.split_whitespace().collect::<Vec<_>>());
        assert_eq!(Roles::built_in_names(), Ok(roles.names().collect()));
        for role in roles.all() {
            assert_eq!(role.kind == Kind::Score, role.players == Players::Several, "{}", role.name);
            assert_eq!(role.reading_distance.is_some(), role.name != "large-print", "{}", role.name);
        }
    }

    #[test]
    fn an_unknown_role_is_answered_with_the_nearest() {
        let roles = Roles::built_in().expect("built-in roles load");
        let error = roles.get("orchestral-winds-part").expect_err("misspelt");
        assert_eq!(error.nearest.as_deref(), Some("orchestral-wind-part"));
        let error = roles.get("zzz").expect_err("like none");
        assert!(error.to_string().contains("known: orchestral-string-part, "), "{error}");
    }

    #[test]
    fn errors_point_into_the_file() {
        let sound = ROLES.text.replacen("kind = \"part\"", "kind = \"prat\"", 1);
        let error = Roles::load(&sound, "house.toml").expect_err("unknown kind");
        assert_eq!(ROLES.text.lines().nth(error.line as usize - 1), Some("kind = \"part\""), "{error}");

        let text = "[source.s]\ntitle = \"common practice, no source\"\nsays = \"s\"\nmark = \"R\"\n[[role]]\n";
        let error = Roles::load(text, "house.toml").expect_err("incomplete role");
        assert_eq!(error.file, "house.toml");

        let text = ROLES.text.replacen("staff_height_mm.least = { value = 7.0", "staff_height_mm.least = { value = 70.0", 1);
        let error = Roles::load(&text, "house.toml").expect_err("least above good");
        assert!(error.message.contains("`good` is smaller than `least`"), "{error}");
        assert_eq!(text.lines().nth(error.line as usize - 1).map(|line| line.contains("good = { value")), Some(true));

        let text = ROLES.text.replacen("mark = \"R\"", "mark = \"C\"", 1);
        let error = Roles::load(&text, "house.toml").expect_err("C with a source");
        assert!(error.message.contains(NO_SOURCE), "{error}");
    }

    #[test]
    fn the_packed_file_is_what_its_text_says() {
        let text: RawRoles = group::parse(DataFile::of(ROLES), "role").expect("sound");
        assert_eq!(ROLES.read::<RawRoles>().map(|packed| format!("{packed:?}")), Ok(format!("{text:?}")));
    }
}
