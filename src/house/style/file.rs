//! The house style as its file writes it: `stavegauge.toml`. The JSON Schema for editors is made from these types.

use crate::house::{Light, TurnedBy};
use schemars::JsonSchema;
use serde::Deserialize;
use std::collections::BTreeMap;
use toml::Spanned;

/// A house style.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case", default)]
#[schemars(title = "stavegauge house style")]
pub struct StyleFile {
    /// Name of the house in reports.
    pub(super) name: Option<String>,
    /// The style this one changes: `built-in`, or the path of another house style from this file's folder.
    #[schemars(with = "Option<String>")]
    pub(super) base: Option<Spanned<String>>,
    /// The light its copies are read in; without it, each reader's usual one.
    pub(super) light: Option<Light>,
    /// Size at which copies are printed, in percent of their own.
    #[schemars(with = "Option<f64>")]
    pub(super) printed_at: Option<Spanned<f64>>,
    /// Paper that copies are printed on, as large as they fit.
    #[schemars(with = "Option<String>")]
    pub(super) printed_on: Option<Spanned<String>>,
    /// Side of the first page of a copy that states no page numbers.
    pub(super) first_page: Option<FirstPage>,
    /// How copies lie before their reader, and so where they are turned.
    pub(super) copies_are: Option<CopiesAre>,
    /// Edge at which copies are bound.
    pub(super) binding: Option<Binding>,
    /// Papers the house prints on.
    #[schemars(with = "Option<Vec<String>>")]
    pub(super) papers: Option<Vec<Spanned<String>>>,
    /// Last line of a movement: spread to the margin, left short, or as it comes.
    pub(super) last_line: Option<LastLine>,
    /// Rules that must have been judged for a copy to pass; where one could not be, the verdict is undecided.
    #[schemars(with = "Option<Vec<String>>")]
    pub(super) must_judge: Option<Vec<Spanned<String>>>,
    /// Words of reports for people.
    pub(super) words: Option<WordsOf>,
    /// Units of reports for people.
    pub(super) units: Option<Units>,
    /// Rule files of the house, as paths from this file's folder.
    #[schemars(with = "Option<Vec<String>>")]
    pub(super) rule_files: Option<Vec<Spanned<String>>>,
    /// Files of stets, as paths from this file's folder.
    #[schemars(with = "Option<Vec<String>>")]
    pub(super) stet_files: Option<Vec<Spanned<String>>>,
    /// From which level on findings make the exit code 1.
    pub(super) gate: Option<GateOf>,
    /// Rules, by name.
    #[schemars(with = "BTreeMap<String, RuleTable>")]
    pub(super) rules: BTreeMap<Spanned<String>, RuleTable>,
    /// Readers, by name of their role.
    #[schemars(with = "BTreeMap<String, RoleTable>")]
    pub(super) roles: BTreeMap<Spanned<String>, RoleTable>,
    /// Papers of the house's own.
    pub(super) paper: Vec<PaperTable>,
    /// Which file is which copy of a delivery. Of several that fit a file, the first counts.
    pub(super) copy: Vec<CopyTable>,
    /// Movements of a delivery whose movements are files of their own, in their order.
    pub(super) movement: Vec<MovementTable>,
    /// Findings that may stand.
    pub(super) stet: Vec<StetTable>,
}

/// Side of a first page.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum FirstPage {
    /// On the right.
    Recto,
    /// On the left, behind a cover.
    Verso,
}

/// How copies lie before their reader.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum CopiesAre {
    /// Bound, or folded sheets in each other: two pages in view, turned after each right-hand page.
    #[default]
    Bound,
    /// Single sheets printed on one side: two in view, moved after every second.
    Loose,
    /// Three pages side by side, moved after every third.
    FoldOut,
    /// One page at a time, on a screen.
    Screen,
}

impl CopiesAre {
    /// Its name in data.
    pub fn name(self) -> &'static str {
        match self {
            Self::Bound => "bound",
            Self::Loose => "loose",
            Self::FoldOut => "fold-out",
            Self::Screen => "screen",
        }
    }

    /// Pages in view at once where that does not depend on which is right-hand; `None` for what is bound.
    pub fn in_view(self) -> Option<usize> {
        match self {
            Self::Bound => None,
            Self::Loose => Some(2),
            Self::FoldOut => Some(3),
            Self::Screen => Some(1),
        }
    }
}

/// Edge at which copies are bound.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Binding {
    /// At the inner edge of each page.
    Inner,
    /// At the left edge of every page: single sheets.
    Left,
    /// At the top edge.
    Top,
}

/// What the house wants of the last line of a movement.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum LastLine {
    /// Spread to the margin.
    Full,
    /// Left short.
    Short,
    /// As it comes.
    #[default]
    Either,
}

impl LastLine {
    /// Its name in data and conditions.
    pub fn name(self) -> &'static str {
        match self {
            Self::Full => "full",
            Self::Short => "short",
            Self::Either => "either",
        }
    }
}

/// Words of reports for people.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum WordsOf {
    /// Bar and stave.
    Uk,
    /// Measure and staff.
    Us,
}

/// Units of reports for people. Data stay in millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Units {
    /// Millimetres.
    #[default]
    Mm,
    /// Inches.
    In,
}

/// A gate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum GateOf {
    /// What must change.
    Error,
    /// What must or should change.
    Warning,
    /// Every finding.
    Note,
    /// Nothing.
    Never,
}

/// How grave a rule is in the house.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum RuleLevel {
    /// It is not judged.
    Off,
    /// A query.
    Note,
    /// Should change.
    Warning,
    /// Must change.
    Error,
}

/// What the house says of a rule.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct RuleTable {
    /// How grave the gravest that the rule finds is; what is milder follows. `off`: the rule is not judged, and `reason` says why.
    #[schemars(with = "Option<RuleLevel>")]
    pub level: Option<Spanned<RuleLevel>>,
    /// Why the house sees it so.
    pub reason: Option<String>,
    /// Its limits: a number for all readers, or a table of numbers by role, `any` for all others.
    #[serde(default)]
    #[schemars(with = "BTreeMap<String, LimitValue>")]
    pub limits: BTreeMap<Spanned<String>, Spanned<toml::Value>>,
}

/// What the house says of a reader.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct RoleTable {
    /// Why, or who says so.
    pub reason: Option<String>,
    /// Where this reader usually sits.
    pub light: Option<Light>,
    /// Staff heights in millimetres.
    #[serde(default)]
    pub staff_height_mm: HeightsTable,
    /// The same in dim light.
    #[serde(default)]
    pub staff_height_dim_mm: HeightsTable,
    /// Sizes of text in points.
    #[serde(default)]
    pub text_pt: TextTable,
    /// White between the lines of a part of one staff, in staff heights.
    #[serde(default)]
    pub gap_staff_heights: GapsTable,
    /// Who turns its pages.
    pub turned_by: Option<TurnedBy>,
    /// Whether it plays in an ensemble that counts on rehearsal marks and bar numbers.
    pub conducted: Option<bool>,
}

/// Staff heights, `least <= good <= ideal <= most`.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub(super) struct HeightsTable {
    /// Below it the copy does not serve.
    #[schemars(with = "Option<f64>")]
    pub least: Option<Spanned<f64>>,
    /// From here nobody objects.
    #[schemars(with = "Option<f64>")]
    pub good: Option<Spanned<f64>>,
    /// What to choose.
    #[schemars(with = "Option<f64>")]
    pub ideal: Option<Spanned<f64>>,
    /// Above it paper is wasted.
    #[schemars(with = "Option<f64>")]
    pub most: Option<Spanned<f64>>,
}

/// Sizes of text, `least <= good <= ideal`.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub(super) struct TextTable {
    /// Below it the text does not serve.
    #[schemars(with = "Option<f64>")]
    pub least: Option<Spanned<f64>>,
    /// From here nobody objects.
    #[schemars(with = "Option<f64>")]
    pub good: Option<Spanned<f64>>,
    /// What to choose.
    #[schemars(with = "Option<f64>")]
    pub ideal: Option<Spanned<f64>>,
}

/// White, `least <= norm-from <= norm-to <= most`.
#[derive(Debug, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case", default)]
pub(super) struct GapsTable {
    /// Below it the page is crowded.
    #[schemars(with = "Option<f64>")]
    pub least: Option<Spanned<f64>>,
    /// Lower end of what is right.
    #[schemars(with = "Option<f64>")]
    pub norm_from: Option<Spanned<f64>>,
    /// Upper end of what is right.
    #[schemars(with = "Option<f64>")]
    pub norm_to: Option<Spanned<f64>>,
    /// Above it the white is a question.
    #[schemars(with = "Option<f64>")]
    pub most: Option<Spanned<f64>>,
}

/// A paper of the house's own, upright.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct PaperTable {
    /// Its name.
    #[schemars(with = "String")]
    pub name: Spanned<String>,
    /// Its shorter side.
    #[schemars(with = "f64")]
    pub width_mm: Spanned<f64>,
    /// Its longer side.
    #[schemars(with = "f64")]
    pub height_mm: Spanned<f64>,
}

/// Which files are a copy.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct CopyTable {
    /// A pattern of paths from this file's folder; one without `/` is a pattern of file names in any folder.
    #[schemars(with = "String")]
    pub files: Spanned<String>,
    /// Name of the copy: files of the same name are its movements.
    pub name: Option<String>,
    /// Whom it is for.
    #[schemars(with = "Option<String>")]
    pub role: Option<Spanned<String>>,
    /// Parts of the score that it shows, by their names there. For the score itself leave it out.
    pub plays: Option<Vec<String>>,
    /// The light it is read in.
    pub light: Option<Light>,
    /// How many of it are printed: one a desk, or one a singer.
    #[schemars(range(min = 1))]
    pub desks: Option<std::num::NonZeroU16>,
    /// It stands by itself: files of it are compared with no others.
    #[serde(default)]
    pub apart: bool,
}

/// A movement that is a file of its own in every copy.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct MovementTable {
    /// Its name.
    pub name: String,
    /// A pattern of paths from this file's folder; one without `/` is a pattern of file names in any folder.
    #[schemars(with = "String")]
    pub files: Spanned<String>,
}

/// A finding that may stand.
#[derive(Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct StetTable {
    /// The rule.
    #[schemars(with = "String")]
    pub rule: Spanned<String>,
    /// A pattern of paths from this file's folder; one without `/` is a pattern of file names in any folder. Without it: every copy.
    #[schemars(with = "Option<String>")]
    pub file: Option<Spanned<String>>,
    /// The part, by its name in the score or its id.
    pub part: Option<String>,
    /// The movement, counted in the file from 1.
    pub movement: Option<u32>,
    /// The bars as the file numbers them: `12`, or `12-15`; first and last apart where that is not clear, as over a movement's end:
    /// `["60", "1"]`.
    #[schemars(with = "Option<BarsValue>")]
    pub bars: Option<Spanned<toml::Value>>,
    /// Why it may stand.
    #[schemars(with = "String")]
    pub reason: Option<Spanned<String>>,
    /// Who says so.
    pub by: Option<String>,
    /// The last day on which it may (UTC): 2027-03-31.
    #[schemars(with = "Option<String>")]
    pub until: Option<Spanned<toml::Value>>,
}

/// A number for all readers, or numbers by role, `any` for all others.
#[derive(JsonSchema)]
#[serde(untagged)]
#[expect(dead_code, reason = "only its schema is used")]
enum LimitValue {
    All(f64),
    ByRole(BTreeMap<String, f64>),
}

/// A bar, or bars such as `12-15`, or the first and the last.
#[derive(JsonSchema)]
#[serde(untagged)]
#[expect(dead_code, reason = "only its schema is used")]
enum BarsValue {
    One(i64),
    Range(String),
    Ends([String; 2]),
}
