//! `gap`: white between neighbouring staves, and between neighbouring systems.

use super::Line;
use super::system::on_system;
use crate::measured::{Between, Gap, Measured, Page};
use crate::place::Known;
use crate::rule::field::{Column, Kind, Subject, Unit};
use crate::rule::{Value, Where};

fn heights(gap: &Gap, length: &Known<crate::units::Mm>) -> Value {
    match gap.staff_height {
        Known::Unknown(why) => Value::unknown(why),
        height => Value::of(length, |length| height.value().map_or(Value::Absent, |height| Value::ratio(length / height))),
    }
}

/// The table.
pub(super) static GAP: Subject<Gap> = Subject {
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
        Column::new("needed_mm", Kind::Number, Unit::Mm, "White that it needs at most.", |gap| Value::of(&gap.needed, Value::mm)),
        Column::new("needed_heights", Kind::Number, Unit::StaffHeights, "The same in heights of the larger of the two staves.", |gap| {
            heights(gap, &gap.needed)
        }),
        Column::new(
            "clearance_mm",
            Kind::Number,
            Unit::Mm,
            "Clear white between the ink of both sides where it comes closest; negative where it overlaps.",
            |gap| Value::of(&gap.clearance, Value::mm),
        ),
        Column::new("clear_heights", Kind::Number, Unit::StaffHeights, "The same in heights of the larger of the two staves.", |gap| {
            heights(gap, &gap.clearance)
        }),
        Column::new(
            "note_clearance_mm",
            Kind::Number,
            Unit::Mm,
            "Clear white between heads, and stems whose ends the file states, where it comes closest.",
            |gap| Value::of(&gap.note_clearance, Value::mm),
        ),
        Column::new(
            "note_distance_mm",
            Kind::Number,
            Unit::Mm,
            "From the lowest note above to the highest below, wherever they stand: room for pencil marks.",
            |gap| Value::of(&gap.note_distance, Value::mm),
        ),
        Column::new("comfortable_mm", Kind::Number, Unit::Mm, "White that what hangs into it wants comfortably.", |gap| {
            Value::of(&gap.comfortable, Value::mm)
        }),
        Column::new("staff_height_mm", Kind::Number, Unit::Mm, "Height of the larger of the two staves.", |gap| {
            Value::of(&gap.staff_height, Value::mm)
        }),
        Column::new(
            "usual_heights",
            Kind::Number,
            Unit::StaffHeights,
            "The same pair's usual gap in this piece; absent where it stands only once.",
            |gap| gap.usual_heights.map_or(Value::Absent, Value::ratio),
        ),
        Column::new("upper", Kind::Text, Unit::None, "Name of the part above.", |gap| Value::text(&gap.names[0])),
        Column::new("lower", Kind::Text, Unit::None, "Name of the part below.", |gap| Value::text(&gap.names[1])),
        Column::new("same_part", Kind::Truth, Unit::None, "Both staves are of one part.", |gap| {
            Value::Truth(gap.pair[0].0 == gap.pair[1].0)
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

fn line<'a>(page: &Page, gap: &'a Gap) -> Line<'a> {
    let system = page.systems.get(gap.system as usize - 1);
    let on = system.map(|system| on_system(page, system)).unwrap_or_default();
    let on = match gap.between {
        // The lower staff: its gap is the one above it.
        Between::Staves => {
            let (part, staff) = gap.pair[1];
            let id = system.and_then(|system| system.staves.iter().find(|one| one.part == part)).map(|one| one.part_id.clone());
            Where {
                part: id,
                part_name: Some(gap.names[1].clone()),
                part_index: u32::try_from(part + 1).ok(),
                staff: Some(u32::from(staff)),
                ..on
            }
        }
        Between::Systems => on,
    };
    Line { facts: Box::new(GAP.of(gap)), place: system.and_then(|system| system.at), on, confidence: gap.confidence }
}

pub(super) fn lines(measured: &Measured) -> Vec<Line<'_>> {
    measured.pages.iter().flat_map(|page| page.gaps.iter().map(move |gap| line(page, gap))).collect()
}
