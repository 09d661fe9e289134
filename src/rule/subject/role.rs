//! `role`: what is known of the reader a copy is for.

use crate::house::{Basis, Fact, Kind as RoleKind, Players, Role, StaffGaps};
use crate::rule::Value;
use crate::rule::field::{Column, Kind, Subject, Unit};
use crate::units::Mm;

/// The reader a document is judged for, and how that is known.
pub struct Reader<'a> {
    /// The role; `None` where nobody can tell.
    pub role: Option<&'a Role>,
    /// How it is known.
    pub basis: Basis,
}

impl Reader<'_> {
    /// How the role is known; not at all where there is none.
    pub(super) fn known_by(&self) -> Basis {
        if self.role.is_some() { self.basis } else { Basis::Unknown }
    }
}

fn height(role: &Role, pick: impl Fn(&Role) -> &Fact<Mm>) -> Value {
    Value::mm(pick(role).value)
}

fn gap(role: &Role, pick: impl Fn(&StaffGaps) -> &Fact<f64>) -> Value {
    role.staff_gaps.as_ref().map_or(Value::Absent, |gaps| Value::ratio(pick(gaps).value))
}

/// The table.
pub(super) static ROLE: Subject<Role> = Subject {
    name: "role",
    what: "The player or reader a copy is for.",
    columns: &[
        Column::new("title", Kind::Text, Unit::None, "The role in words.", |role| Value::text(&role.title)),
        Column::new("kind", Kind::Text, Unit::None, "What it reads from: part, score.", |role| {
            Value::text(match role.kind {
                RoleKind::Part => "part",
                RoleKind::Score => "score",
            })
        }),
        Column::new(
            "one_player",
            Kind::Truth,
            Unit::None,
            "All who read it play the same line: a rest in it is a rest for them.",
            |role| Value::Truth(role.players == Players::One),
        ),
        Column::new("least_mm", Kind::Number, Unit::Mm, "Staff height below which the copy does not serve.", |role| {
            height(role, |role| &role.staff_height.least)
        }),
        Column::new("good_mm", Kind::Number, Unit::Mm, "Staff height from which nobody objects.", |role| {
            height(role, |role| &role.staff_height.good)
        }),
        Column::new("ideal_mm", Kind::Number, Unit::Mm, "Staff height to choose.", |role| height(role, |role| &role.staff_height.ideal)),
        Column::new("most_mm", Kind::Number, Unit::Mm, "Staff height above which paper is wasted.", |role| {
            height(role, |role| &role.staff_height.most)
        }),
        Column::new("least_says", Kind::Text, Unit::None, "Who says what the least staff height is.", |role| {
            let source = &role.staff_height.least.source;
            Value::text(&source.title)
        }),
        Column::new(
            "gap_least",
            Kind::Number,
            Unit::StaffHeights,
            "White between the lines of a part of one staff below which it is crowded.",
            |role| gap(role, |gaps| &gaps.least),
        ),
        Column::new("gap_most", Kind::Number, Unit::StaffHeights, "The same above which it is a question.", |role| {
            gap(role, |gaps| &gaps.most)
        }),
    ],
};
