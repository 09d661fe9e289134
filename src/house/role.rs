//! Roles: the player or reader a copy is meant for, and what staff height that reader needs.

use super::data::{DataError, DataFile, Source, Sources, UnknownName};
use super::family::Family;
use crate::units::Mm;
use serde::{Deserialize, Serialize};
use toml::Spanned;

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

/// A number and who says it.
#[derive(Debug, Clone, PartialEq)]
pub struct Fact<T> {
    /// The number.
    pub value: T,
    /// Who says so.
    pub source: Source,
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
    pub source: Source,
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
    /// The staff heights it needs.
    pub staff_height: StaffHeights,
    /// From how far it is read, where somebody says so.
    pub reading_distance: Option<ReadingDistance>,
    /// The gaps of a one-staff part, where somebody says so.
    pub staff_gaps: Option<StaffGaps>,
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

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawRoles {
    source: Sources,
    role: Vec<RawRole>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawRole {
    name: Spanned<String>,
    title: String,
    kind: Kind,
    players: Players,
    family: Option<Family>,
    staff_height_mm: RawHeights,
    reading_distance_m: Option<RawDistance>,
    gap_staff_heights: Option<RawGaps>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawHeights {
    least: RawFact,
    good: RawFact,
    ideal: RawFact,
    most: RawFact,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawGaps {
    least: RawFact,
    norm_from: RawFact,
    norm_to: RawFact,
    most: RawFact,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawFact {
    value: Spanned<f64>,
    source: Spanned<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawDistance {
    least: Spanned<f64>,
    most: Spanned<f64>,
    source: Spanned<String>,
}

/// Four facts, smallest first.
fn rising(facts: [RawFact; 4], names: [&str; 4], sources: &Sources, file: DataFile) -> Result<[Fact<f64>; 4], DataError> {
    for (pair, name) in facts.windows(2).zip(names.windows(2)) {
        if let ([smaller, larger], [smaller_name, larger_name]) = (pair, name)
            && smaller.value.get_ref() > larger.value.get_ref()
        {
            return Err(file.wrong(&larger.value, format!("`{larger_name}` is smaller than `{smaller_name}`")));
        }
    }
    let [first, second, third, fourth] =
        facts.map(|fact| Ok(Fact { value: file.positive(&fact.value, "this value")?, source: sources.get(&fact.source, file)? }));
    Ok([first?, second?, third?, fourth?])
}

impl RawRole {
    fn check(self, sources: &Sources, file: DataFile) -> Result<Role, DataError> {
        let RawHeights { least, good, ideal, most } = self.staff_height_mm;
        let heights = rising([least, good, ideal, most], ["least", "good", "ideal", "most"], sources, file)?;
        let [least, good, ideal, most] = heights.map(|fact| Fact { value: Mm(fact.value), source: fact.source });
        let staff_gaps = match self.gap_staff_heights {
            None => None,
            Some(RawGaps { least, norm_from, norm_to, most }) => {
                let names = ["least", "norm_from", "norm_to", "most"];
                let [least, norm_from, norm_to, most] = rising([least, norm_from, norm_to, most], names, sources, file)?;
                Some(StaffGaps { least, norm_from, norm_to, most })
            }
        };
        let reading_distance = match self.reading_distance_m {
            None => None,
            Some(raw) if raw.least.get_ref() > raw.most.get_ref() => {
                return Err(file.wrong(&raw.most, "`most` is smaller than `least`"));
            }
            Some(raw) => Some(ReadingDistance {
                least_m: file.positive(&raw.least, "this value")?,
                most_m: file.positive(&raw.most, "this value")?,
                source: sources.get(&raw.source, file)?,
            }),
        };
        Ok(Role {
            name: self.name.into_inner(),
            title: self.title,
            kind: self.kind,
            players: self.players,
            family: self.family,
            staff_height: StaffHeights { least, good, ideal, most },
            reading_distance,
            staff_gaps,
        })
    }
}

const BUILT_IN: &str = include_str!("../../rules/roles.toml");

impl Roles {
    /// The roles that come with the program; they fail to load only in a build whose tests fail.
    pub fn built_in() -> Result<Self, DataError> {
        Self::load(BUILT_IN, "rules/roles.toml")
    }

    /// The roles of a TOML `text`; `file` is its name in errors.
    pub fn load(text: &str, file: &str) -> Result<Self, DataError> {
        let file = DataFile { name: file, text };
        let raw: RawRoles = file.parse()?;
        raw.source.check(file)?;
        let mut roles = Self { all: Vec::with_capacity(raw.role.len()) };
        for role in raw.role {
            if roles.get(role.name.get_ref()).is_ok() {
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

    /// least, good, ideal, most
    fn heights(name: &str) -> String {
        let roles = Roles::built_in().expect("built-in roles load");
        let height = roles.get(name).expect("a known role").staff_height.clone();
        [height.least, height.good, height.ideal, height.most].map(|fact| format!("{:.1}", fact.value.0)).join(" ")
    }

    #[test]
    fn published_staff_heights() {
        // "Kriterien für Orchester-Notenmaterial" (R): no orchestral part below 7.5, winds 7.5 still
        // good, strings, harp, timpani and percussion 8.0 to 8.5. Dansk Center for Musikudgivelse and
        // Laukkanen (R): parts 7 to 9. At 6.0 below desk use (common practice, no source).
        for part in ["orchestral-string-part", "double-bass-part", "harp-part", "percussion-part"] {
            assert_eq!(heights(part), "7.0 7.5 8.0 9.0", "{part}");
        }
        assert_eq!(heights("orchestral-wind-part"), "7.0 7.5 7.5 9.0");
        // Metropole Orkest (R): conductor's score at least 4; from 4.5 and 5 preferred (common
        // practice, no source); Laukkanen (R): 4 to 6. 3.7 is below all of them.
        assert_eq!(heights("full-score"), "4.0 4.5 5.0 6.0");
        // Morimoto (R): study scores 3 to 5. Dansk Center (R): piano and organ 6.5, range 6 to 8.
        assert_eq!(heights("study-score"), "3.0 3.0 4.0 5.0");
        assert_eq!(heights("keyboard-part"), "6.0 6.0 6.5 8.0");
        // Dansk Center (R): chamber score 5; song, vocal score and choir 6.
        assert_eq!(heights("chamber-score"), "4.5 5.0 5.5 7.0");
        for vocal in ["songbook", "vocal-score", "chorus-score", "chorus-part"] {
            assert_eq!(heights(vocal), "5.0 5.5 6.0 8.0", "{vocal}");
        }
    }

    #[test]
    fn the_published_page_of_parts_passes() {
        // Metropole Orkest, "Parts" (R): 10 staves of 8 mm on JIS B4 with margins of 10 mm; that leaves
        // (364 - 20 - 10 x 8) / 9 = 29.3 mm, 3.7 staff heights, between two staves (D).
        let roles = Roles::built_in().expect("built-in roles load");
        let gap: f64 = (364.0 - 20.0 - 10.0 * 8.0) / 9.0 / 8.0;
        for name in ["orchestral-string-part", "orchestral-wind-part", "orchestral-brass-part", "double-bass-part"] {
            let role = roles.get(name).expect("a known role");
            assert!(role.staff_height.good.value <= Mm(8.0) && Mm(8.0) <= role.staff_height.most.value);
            let gaps = role.staff_gaps.as_ref().expect("a desk part");
            assert!(gaps.norm_from.value <= gap && (gap * 10.0).round() / 10.0 <= gaps.norm_to.value, "{gap}");
        }
    }

    #[test]
    fn every_role_of_the_contract_is_there_and_founded() {
        let roles = Roles::built_in().expect("built-in roles load");
        let expected = "orchestral-string-part orchestral-wind-part orchestral-brass-part double-bass-part harp-part percussion-part \
            keyboard-part organ-part guitar-part solo-part chamber-part big-band-part rhythm-part pit-book film-session-part chorus-part \
            chorus-score octavo vocal-score songbook hymnal lead-sheet full-score opera-full-score wind-band-score chamber-score \
            condensed-score percussion-score study-score teaching-piece lyre-card large-print";
        assert_eq!(roles.names().collect::<Vec<_>>(), expected.split_whitespace().collect::<Vec<_>>());
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
        let sound = BUILT_IN.replacen("kind = \"part\"", "kind = \"prat\"", 1);
        let error = Roles::load(&sound, "house.toml").expect_err("unknown kind");
        assert_eq!(BUILT_IN.lines().nth(error.line as usize - 1), Some("kind = \"part\""), "{error}");

        let text = "[source.s]\ntitle = \"common practice, no source\"\nsays = \"s\"\nmark = \"R\"\n[[role]]\n";
        let error = Roles::load(text, "house.toml").expect_err("incomplete role");
        assert_eq!(error.file, "house.toml");

        let text = BUILT_IN.replacen("staff_height_mm.least = { value = 7.0", "staff_height_mm.least = { value = 70.0", 1);
        let error = Roles::load(&text, "house.toml").expect_err("least above good");
        assert!(error.message.contains("`good` is smaller than `least`"), "{error}");
        assert_eq!(text.lines().nth(error.line as usize - 1).map(|line| line.contains("good = { value")), Some(true));

        let text = BUILT_IN.replacen("mark = \"R\"", "mark = \"C\"", 1);
        let error = Roles::load(&text, "house.toml").expect_err("C with a source");
        assert!(error.message.contains(NO_SOURCE), "{error}");
    }
}
