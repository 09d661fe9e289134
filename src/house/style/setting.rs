//! What a house style says, checked as far as the style alone can tell. Rules are checked where rules are known.

use super::file::RuleLevel;
use super::pattern::Pattern;
use crate::house::Light;
use crate::place::Place;

/// A name in a house style, with its place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Named {
    /// The name.
    pub name: String,
    /// Where it stands.
    pub at: Place,
}

/// What the house says of a rule.
#[derive(Debug, Clone, PartialEq)]
pub struct RuleSetting {
    /// The rule.
    pub rule: Named,
    /// How grave it is.
    pub level: Option<RuleLevel>,
    /// Why.
    pub reason: Option<String>,
    /// Its limits.
    pub limits: Vec<LimitSetting>,
}

/// A limit as the house has it.
#[derive(Debug, Clone, PartialEq)]
pub struct LimitSetting {
    /// The limit.
    pub limit: Named,
    /// Whom for; `None`: all that have none of their own.
    pub reader: Option<String>,
    /// The number.
    pub value: f64,
}

/// Which files are a copy.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CopyMapping {
    /// Its files.
    pub files: Pattern,
    /// Its name.
    pub name: Option<String>,
    /// Whom it is for.
    pub role: Option<String>,
    /// Parts of the score that it shows, by name.
    pub plays: Option<Vec<String>>,
    /// The light it is read in.
    pub light: Option<Light>,
    /// How many of it are printed; one where nobody says.
    pub desks: Option<std::num::NonZeroU16>,
    /// Its files are compared with no others.
    pub apart: bool,
}

/// A movement that is a file of its own in every copy.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MovementMapping {
    /// Its name.
    pub name: String,
    /// Its files.
    pub files: Pattern,
}
