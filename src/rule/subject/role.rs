//! `role`: what is known of the reader a copy is for.

use crate::house::{Basis, Fact, Kind as RoleKind, Light, OtherStaves, Players, Role, StaffGaps, StaffHeights};
use crate::rule::Value;
use crate::rule::field::{Column, Kind, Subject, Unit};
use crate::units::Mm;

/// The reader a document is judged for, and how that is known.
pub struct Reader<'a> {
    /// The role; `None` where nobody can tell.
    pub role: Option<&'a Role>,
    /// How it is known.
    pub basis: Basis,
    /// The light the copy is read in; `None`: where this reader usually sits.
    pub light: Option<Light>,
}

/// What rules read of a role: its needs in the light the copy is read in.
pub(super) struct RoleRow {
    role: Role,
    light: Light,
}

impl Reader<'_> {
    /// The row of the role, if there is one.
    pub(super) fn row(&self) -> Option<RoleRow> {
        self.role.map(|role| RoleRow { role: role.clone(), light: self.light.unwrap_or(role.light) })
    }

    /// How the role is known; not at all where there is none.
    pub(super) fn known_by(&self) -> Basis {
        if self.role.is_some() { self.basis } else { Basis::Unknown }
    }
}

impl RoleRow {
    /// The row of a role where it usually sits.
    pub fn usual(role: &Role) -> Self {
        Self { role: role.clone(), light: role.light }
    }

    fn heights(&self) -> &StaffHeights {
        self.role.heights(Some(self.light))
    }

    fn height(&self, pick: impl Fn(&StaffHeights) -> &Fact<Mm>) -> Value {
        Value::mm(pick(self.heights()).value)
    }

    fn gap(&self, pick: impl Fn(&StaffGaps) -> &Fact<f64>) -> Value {
        self.role.staff_gaps.as_ref().map_or(Value::Absent, |gaps| Value::ratio(pick(gaps).value))
    }

    /// The least height of a staff that is not the reader's own.
    fn other(&self, pick: impl Fn(&OtherStaves) -> &Fact<f64>) -> Value {
        Value::mm(self.heights().least.value * pick(&self.role.other_staves).value)
    }
}

/// The table.
pub(super) static ROLE: Subject<RoleRow> = Subject {
    name: "role",
    what: "The player or reader a copy is for.",
    columns: &[
        Column::new("name", Kind::Text, Unit::None, "The role's name in data: orchestral-wind-part.", |row| Value::text(&row.role.name)),
        Column::new("title", Kind::Text, Unit::None, "The role in words.", |row| Value::text(&row.role.title)),
        Column::new("kind", Kind::Text, Unit::None, "What it reads from: part, score.", |row| {
            Value::text(match row.role.kind {
                RoleKind::Part => "part",
                RoleKind::Score => "score",
            })
        }),
        Column::new("family", Kind::Text, Unit::None, "The family of its instrument; absent where it is for no one family.", |row| {
            row.role.family.map_or(Value::Absent, |family| Value::text(family.name()))
        }),
        Column::new("one_player", Kind::Truth, Unit::None, "All who read it play the same line: a rest in it is a rest for them.", |row| {
            Value::Truth(row.role.players == Players::One)
        }),
        Column::new("light", Kind::Text, Unit::None, "The light it is read in: lit, dim.", |row| Value::text(row.light.name())),
        Column::new("least_mm", Kind::Number, Unit::Mm, "Staff height below which the copy does not serve.", |row| {
            row.height(|heights| &heights.least)
        }),
        Column::new("good_mm", Kind::Number, Unit::Mm, "Staff height from which nobody objects.", |row| {
            row.height(|heights| &heights.good)
        }),
        Column::new("ideal_mm", Kind::Number, Unit::Mm, "Staff height to choose.", |row| row.height(|heights| &heights.ideal)),
        Column::new("most_mm", Kind::Number, Unit::Mm, "Staff height above which paper is wasted.", |row| {
            row.height(|heights| &heights.most)
        }),
        Column::new("least_says", Kind::Text, Unit::None, "Who says what the least staff height is.", |row| {
            Value::text(&row.heights().least.source.title)
        }),
        Column::new("cue_least_mm", Kind::Number, Unit::Mm, "Least height of a staff of cues.", |row| row.other(|staves| &staves.cue)),
        Column::new("ossia_least_mm", Kind::Number, Unit::Mm, "Least height of an ossia.", |row| row.other(|staves| &staves.ossia)),
        Column::new("other_least_mm", Kind::Number, Unit::Mm, "Least height of another player's staff.", |row| {
            row.other(|staves| &staves.other_player)
        }),
        Column::new("rehearsal_least_mm", Kind::Number, Unit::Mm, "Least height of a staff for rehearsals only.", |row| {
            row.other(|staves| &staves.rehearsal)
        }),
        Column::new(
            "gap_least",
            Kind::Number,
            Unit::StaffHeights,
            "White between the lines of a part of one staff below which it is crowded.",
            |row| row.gap(|gaps| &gaps.least),
        ),
        Column::new("gap_most", Kind::Number, Unit::StaffHeights, "The same above which it is a question.", |row| {
            row.gap(|gaps| &gaps.most)
        }),
        Column::new("text_least_pt", Kind::Number, Unit::Points, "Size of text below which it does not serve.", |row| {
            Value::measure(row.role.text_pt.least.value)
        }),
        Column::new("text_good_pt", Kind::Number, Unit::Points, "Size of text from which nobody objects.", |row| {
            Value::measure(row.role.text_pt.good.value)
        }),
        Column::new("text_ideal_pt", Kind::Number, Unit::Points, "Size of text to choose.", |row| {
            Value::measure(row.role.text_pt.ideal.value)
        }),
        Column::new("text_says", Kind::Text, Unit::None, "Who says what the least size of text is.", |row| {
            Value::text(&row.role.text_pt.least.source.title)
        }),
        Column::new(
            "turned_by",
            Kind::Text,
            Unit::None,
            "Who turns the pages: player, desk-partner, page-turner, conductor, nobody.",
            |row| Value::text(row.role.turns.value.name()),
        ),
        Column::new(
            "conducted",
            Kind::Truth,
            Unit::None,
            "It plays in an ensemble that counts on rehearsal marks and bar numbers.",
            |row| Value::Truth(row.role.conducted),
        ),
    ],
};
