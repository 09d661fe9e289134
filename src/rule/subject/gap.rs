//! `gap`: white between neighbouring staves, and between neighbouring systems.

use super::lots::Lots;
use super::system::on_system;
use super::{Line, Owned};
use crate::measured::{Between, Gap, Measured, Page, System};
use crate::place::Known;
use crate::rule::field::{Column, Kind, Subject, Unit};
use crate::rule::{Value, Where};
use std::sync::Arc;

fn heights(gap: &Gap, length: &Known<crate::units::Mm>) -> Value {
    match gap.staff_height() {
        Known::Unknown(why) => Value::unknown(why),
        height => Value::of(length, |length| height.value().map_or(Value::Absent, |height| Value::ratio(length / height))),
    }
}

/// What rules read of a gap.
pub(super) struct GapRow {
    gap: Gap,
    /// Names of the parts above and below.
    names: [Arc<str>; 2],
}

impl std::ops::Deref for GapRow {
    type Target = Gap;

    fn deref(&self) -> &Gap {
        &self.gap
    }
}

/// The table.
pub(super) static GAP: Subject<GapRow> = Subject {
    name: "gap",
    what: "White between neighbouring staves of a system, or between neighbouring systems of a page.",
    columns: &[
        Column::new("between", Kind::Text, Unit::None, "What it lies between: staves, systems.", |gap| {
            Value::text(if gap.between == Between::Staves { "staves" } else { "systems" })
        }),
        Column::written(
            "white_mm",
            Kind::Number,
            Unit::Mm,
            "White from line to line.",
            |gap| Value::of(&gap.white, Value::mm),
            |gap| gap.white.place(),
        ),
        Column::new("white_heights", Kind::Number, Unit::StaffHeights, "The same in heights of the larger of the two staves.", |gap| {
            heights(gap, &gap.white)
        }),
        Column::new("needed_mm", Kind::Number, Unit::Mm, "White that it needs at most.", |gap| Value::of(&gap.needed(), Value::mm)),
        Column::new("needed_heights", Kind::Number, Unit::StaffHeights, "The same in heights of the larger of the two staves.", |gap| {
            heights(gap, &gap.needed())
        }),
        Column::new(
            "clearance_mm",
            Kind::Number,
            Unit::Mm,
            "Clear white between the ink of both sides where it comes closest; negative where it overlaps.",
            |gap| Value::of(&gap.clearance(), Value::mm),
        ),
        Column::new("clear_heights", Kind::Number, Unit::StaffHeights, "The same in heights of the larger of the two staves.", |gap| {
            heights(gap, &gap.clearance())
        }),
        Column::new(
            "note_clearance_mm",
            Kind::Number,
            Unit::Mm,
            "Clear white between heads, and stems whose ends the file states, where it comes closest.",
            |gap| Value::of(&gap.note_clearance(), Value::mm),
        ),
        Column::new(
            "note_distance_mm",
            Kind::Number,
            Unit::Mm,
            "From the lowest note above to the highest below, wherever they stand: room for pencil marks.",
            |gap| Value::of(&gap.note_distance(), Value::mm),
        ),
        Column::new("comfortable_mm", Kind::Number, Unit::Mm, "White that what hangs into it wants comfortably.", |gap| {
            Value::of(&gap.comfortable(), Value::mm)
        }),
        Column::new("staff_height_mm", Kind::Number, Unit::Mm, "Height of the larger of the two staves.", |gap| {
            Value::of(&gap.staff_height(), Value::mm)
        }),
        Column::new(
            "usual_heights",
            Kind::Number,
            Unit::StaffHeights,
            "The same pair's usual gap in this piece; absent where it stands only once.",
            |gap| gap.usual_heights().map_or(Value::Absent, Value::ratio),
        ),
        Column::new("upper", Kind::Text, Unit::None, "Name of the part above.", |gap| Value::text(&gap.names[0])),
        Column::new("lower", Kind::Text, Unit::None, "Name of the part below.", |gap| Value::text(&gap.names[1])),
        Column::new("same_part", Kind::Truth, Unit::None, "Both staves are of one part.", |gap| {
            Value::Truth(gap.pair()[0].0 == gap.pair()[1].0)
        }),
        Column::new("family_border", Kind::Truth, Unit::None, "Instruments of different families meet here.", |gap| {
            Value::Truth(gap.family_border)
        }),
        Column::new("voice_above", Kind::Truth, Unit::None, "A voice stands above instruments.", |gap| Value::Truth(gap.voice_above)),
        Column::new("cutaway", Kind::Truth, Unit::None, "A hidden staff keeps its room here.", |gap| Value::Truth(gap.cutaway)),
        Column::new("heading", Kind::Truth, Unit::None, "A heading stands here, or a movement ends above it.", |gap| {
            Value::Truth(gap.heading)
        }),
        Column::new("small_staff", Kind::Truth, Unit::None, "One of the two is a small staff: a cue, an ossia, another player's.", |gap| {
            Value::Truth(gap.small_staff)
        }),
        Column::new("single_staves", Kind::Truth, Unit::None, "Both systems have but one staff.", |gap| Value::Truth(gap.single_staves)),
    ],
};

fn line<'a>(page: &Page, system: &System, gap: &Gap) -> Line<'a> {
    let [upper, lower] = gap.pair();
    let in_system = |number: u32, (part, staff): (u32, u8)| {
        let staves = &page.systems.get((number as usize).checked_sub(1)?)?.staves;
        // They stand in the order of the parts, and a system may have tens of thousands.
        staves.binary_search_by_key(&(part, staff), |one| (one.of.index, one.staff)).ok().and_then(|at| staves.get(at))
    };
    let above = if gap.between == Between::Staves { system.number } else { system.number - 1 };
    let (above, below) = (in_system(above, upper), in_system(system.number, lower));
    let on = on_system(page, system);
    let on = match gap.between {
        // The lower staff: its gap is the one above it.
        Between::Staves => Where {
            part: below.map(|staff| staff.of.id.clone()),
            part_name: below.map(|staff| staff.of.name.clone()),
            part_index: lower.0.checked_add(1),
            staff: Some(u32::from(lower.1)),
            ..on
        },
        Between::Systems => on,
    };
    let names = [above, below].map(|staff| staff.map(|staff| staff.of.name.clone()).unwrap_or_default());
    let row = Owned { table: &GAP, row: GapRow { gap: *gap, names } };
    Line { facts: Box::new(row), place: system.at, on, confidence: gap.confidence }
}

pub(super) fn lots(measured: &Measured) -> Lots<'_> {
    Lots::new(
        measured,
        |page, system| page.gaps_of(system.number).len(),
        |page, system, index| page.gaps_of(system.number).get(index).map(|gap| line(page, system, gap)),
        Vec::new(),
    )
}
