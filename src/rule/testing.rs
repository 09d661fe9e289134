//! Subjects and rules for the tests of this room. The real ones stand elsewhere; the numbers here are
//! made up to exercise the machinery, no claim about good engraving.

use super::RuleBook;
use super::field::{Column, Facts, Kind, Subject, Unit, Vocabulary};
use super::finding::Where;
use super::judge::{Context, Thing};
use super::value::Value;
use crate::house::Basis;
use crate::place::{Confidence, Known, Place};
use crate::units::Mm;
use std::borrow::Cow;

pub(super) struct Gap {
    pub white: Known<Mm>,
    pub heights: Value,
    pub needed: Value,
    pub family_border: bool,
    pub above: &'static str,
    pub marks: Vec<&'static str>,
    pub depths: Vec<f64>,
}

impl Default for Gap {
    fn default() -> Self {
        Self {
            white: Known::Derived(Mm(20.0)),
            heights: Value::Number(2.8),
            needed: Value::Number(8.0),
            family_border: false,
            above: "strings",
            marks: vec!["p", "cresc."],
            depths: vec![1.5, 2.5],
        }
    }
}

pub(super) static GAP: Subject<Gap> = Subject {
    name: "gap",
    what: "The white between two neighbouring staves of a system.",
    columns: &[
        Column::written("white_mm", Kind::Number, Unit::Mm, "Its depth.", |gap| gap.white.into(), |gap| gap.white.place()),
        Column::new("white_heights", Kind::Number, Unit::StaffHeights, "Its depth.", |gap| gap.heights.clone()),
        Column::new("needed_mm", Kind::Number, Unit::Mm, "What the ink needs.", |gap| gap.needed.clone()),
        Column::new("family_border", Kind::Truth, Unit::None, "Two families meet.", |gap| gap.family_border.into()),
        Column::new("above", Kind::Text, Unit::None, "Family above.", |gap| gap.above.into()),
        Column::new("marks", Kind::Texts, Unit::None, "What stands in it.", |gap| Value::texts(gap.marks.iter().copied())),
        Column::new("depths_mm", Kind::Numbers, Unit::Mm, "Depths of the ink.", |gap| Value::numbers(gap.depths.iter().copied())),
    ],
};

pub(super) struct File {
    pub layout: &'static str,
    pub staff_height: Known<Mm>,
}

pub(super) static FILE: Subject<File> = Subject {
    name: "file",
    what: "The whole file.",
    columns: &[
        Column::new("layout", Kind::Text, Unit::None, "How much layout it states.", |file| file.layout.into()),
        Column::written(
            "staff_height_mm",
            Kind::Number,
            Unit::Mm,
            "Height of a staff.",
            |file| file.staff_height.into(),
            |file| file.staff_height.place(),
        ),
    ],
};

pub(super) struct Role {
    pub least: f64,
}

pub(super) static ROLE: Subject<Role> = Subject {
    name: "role",
    what: "The reader.",
    columns: &[Column::new("least_mm", Kind::Number, Unit::Mm, "Least height of a staff.", |role| Value::mm(Mm(role.least)))],
};

pub(super) const ROLES: [&str; 3] = ["orchestral-wind-part", "chorus-score", "conductor-score"];

pub(super) fn vocabulary() -> Vocabulary {
    Vocabulary::new().with(&GAP).with(&FILE).with(&ROLE)
}

pub(super) const WIDE_STAFF_GAP: &str = r#"
id = "wide-staff-gap"
title = "Too much white between neighbouring staves"
family = "gaps"
harm = 50
about = "gap"
why = "The eye loses the line below."
sources = [{ title = "common practice, no source", says = "three staff heights at most", mark = "C" }]
exemptions = ["cutaway scores"]
merge = "page"

[[case]]
level = "warning"
when = """
gap.white_heights >= limit.heights
&& gap.white_mm > gap.needed_mm + 1.5 * file.staff_height_mm"""
measured = "gap.white_heights"
against = "limit.heights"
message = """
p. {{ pages }}: {{ gap.white_heights | heights }} of white, {{ limit.heights | heights }} is the most
{%- if count > 1 %}, {{ count | plural("gap", "gaps") }} in systems {{ systems }}{% endif %}"""
advice = "Close it to {{ gap.needed_mm | mm }}."

[[reason]]
when = "file.layout == 'facing'"
says = "the piece is laid out on facing pages"
effect = "silent"

[[reason]]
when = "gap.family_border && gap.white_heights < 1.5 * limit.heights"
says = "two families meet here"
effect = "softer"

[limits.heights]
value = 3
what = "the most white"
source = "common practice, no source"
unit = "staff heights"
[limits.heights.role]
"chorus-score" = 4

[[example]]
name = "four staff heights in a part"
breaks = "warning"
values = { "gap.white_heights" = 4, "gap.white_mm" = 28.0, "gap.needed_mm" = 8, "gap.family_border" = false, "file.staff_height_mm" = 7, "file.layout" = "stated" }

[[example]]
name = "what a chorus reads well"
role = "chorus-score"
values = { "gap.white_heights" = 3.5, "gap.white_mm" = 24.5, "gap.needed_mm" = 8, "gap.family_border" = false, "file.staff_height_mm" = 7, "file.layout" = "stated" }
"#;

pub(super) const SMALL_STAFF: &str = r#"
id = "small-staff"
aliases = ["tiny-staff"]
title = "Staff too small"
family = "size"
harm = 10
about = "file"
why = "It cannot be read at the desk."
merge = "file"
points_at = "file.staff_height_mm"

[[case]]
level = "error"
when = "file.staff_height_mm < role.least_mm"
measured = "file.staff_height_mm"
against = "role.least_mm"
message = "The staff is {{ file.staff_height_mm | mm }} high, {{ role.least_mm | mm }} is the least."
advice = "Scale it up."

[[example]]
name = "6 mm at an orchestra desk"
breaks = "error"
values = { "file.staff_height_mm" = 6.0, "role.least_mm" = 7.0 }

[[example]]
name = "no staff"
values = { "role.least_mm" = 7.0 }
absent = ["file.staff_height_mm"]
"#;

pub(super) fn book() -> RuleBook {
    let mut book = RuleBook::empty();
    for (file, text) in [("small-staff.toml", SMALL_STAFF), ("wide-staff-gap.toml", WIDE_STAFF_GAP)] {
        if let Err(error) = book.add(file, text, &vocabulary(), &ROLES) {
            panic!("{error}");
        }
    }
    book
}

pub(super) fn on(page: u32, system: u32) -> Where {
    Where { page: Some(page), system: Some(system), part_name: Some("Oboe".into()), ..Where::default() }
}

pub(super) fn thing(facts: &dyn Facts, on: Where) -> Thing<'_> {
    Thing { facts, place: Some(Place::new(900, 9)), on: Cow::Owned(on), confidence: Confidence::High }
}

/// A file of a staff height, and everything else as it may be.
pub(super) fn file(staff_height: Known<Mm>) -> File {
    File { layout: "stated", staff_height }
}

pub(super) fn context<'a>(file: &'a dyn Facts, role: &'a dyn Facts, role_name: Option<&'a str>, role_basis: Basis) -> Context<'a> {
    Context { file, role, role_name, role_basis, enabled: &|_| true }
}
