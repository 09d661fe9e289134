//! `system`: how a system sits between the margins, and how its space is shared out.

use super::{Line, on_bars};
use crate::measured::{Collision, Measured, Page, Remedy, Spacing, System};
use crate::room::across::Move;
use crate::rule::field::{Column, Kind, Subject, Unit};
use crate::rule::{Value, Where};
use std::sync::Arc;

/// The table.
pub(super) static SYSTEM: Subject<System> = Subject {
    name: "system",
    what: "A system: one line of music through all its staves.",
    columns: &[
        Column::new("bars", Kind::Number, Unit::Bars, "Bars in it.", |system| {
            Value::count((system.bars.index.1 + 1 - system.bars.index.0) as usize)
        }),
        Column::new("staves", Kind::Number, Unit::Count, "Staves printed in it.", |system| Value::count(system.staves.len())),
        Column::new(
            "overrun_mm",
            Kind::Number,
            Unit::Mm,
            "How far its bars reach beyond its right end; negative where they stop short of it.",
            |system| Value::of(&system.overrun, Value::mm),
        ),
        Column::new(
            "short_mm",
            Kind::Number,
            Unit::Mm,
            "How far its bars stop short of its right end; negative where they reach beyond.",
            |system| Value::of(&system.overrun.map(|overrun| -overrun), Value::mm),
        ),
        Column::new(
            "past_edge_mm",
            Kind::Number,
            Unit::Mm,
            "How far it reaches past the left or right edge of the sheet; negative where it stays within.",
            |system| Value::of(&system.past_edge, Value::mm),
        ),
        Column::new("overrun_tolerance_mm", Kind::Number, Unit::Mm, "Overrun that the rounding of bar widths explains.", |system| {
            Value::of(&system.overrun_tolerance, Value::mm)
        }),
        Column::new("short_tolerance_mm", Kind::Number, Unit::Mm, "Shortfall that the rounding of bar widths explains.", |system| {
            Value::of(&system.short_tolerance, Value::mm)
        }),
        Column::new("bars_shown", Kind::Number, Unit::Bars, "Bars in it, a multi-bar rest counted as one.", |system| {
            spacing(system, |spacing| Value::count(spacing.bars_shown as usize))
        }),
        Column::new("available_sp", Kind::Number, Unit::Sp, "Room for its bars, without clef, key and time at its beginning.", |system| {
            spacing(system, |spacing| Value::sp(spacing.available))
        }),
        Column::new("natural_sp", Kind::Number, Unit::Sp, "Room that its bars take naturally.", |system| {
            spacing(system, |spacing| Value::sp(spacing.widths.natural))
        }),
        Column::new(
            "least_sp",
            Kind::Number,
            Unit::Sp,
            "Room in which its signs all but touch; not known where durations do not tell the room of a bar.",
            |system| told(system, |spacing| Value::sp(spacing.widths.least)),
        ),
        Column::new("of_natural", Kind::Number, Unit::Ratio, "Room for its bars against the natural one.", |system| {
            spacing(system, |spacing| Value::ratio(spacing.of_natural))
        }),
        Column::new(
            "usual_of_natural",
            Kind::Number,
            Unit::Ratio,
            "The same of most systems of its movement; absent where the movement has too few systems to tell.",
            |system| spacing(system, |spacing| Value::of(&spacing.usual_of_natural, Value::ratio)),
        ),
        Column::new(
            "steps_from_natural",
            Kind::Number,
            Unit::None,
            "How far its room is from natural: 1 as if every note were twice as long, -1 half as long.",
            |system| spacing(system, |spacing| Value::ratio(spacing.steps)),
        ),
        Column::new(
            "steps_from_usual",
            Kind::Number,
            Unit::None,
            "How far its spacing is from the usual one of its movement, in the same steps; absent where the movement has too few systems to tell.",
            |system| spacing(system, |spacing| Value::of(&spacing.from_usual, Value::ratio)),
        ),
        Column::new("compared", Kind::Number, Unit::Count, "Systems of its movement that tell what is usual there.", |system| {
            spacing(system, |spacing| Value::count(spacing.compared as usize))
        }),
        Column::new(
            "ease",
            Kind::Number,
            Unit::Ratio,
            "Share of the way from the least room to the natural one; not known where durations do not tell the room of a bar.",
            |system| told(system, |spacing| Value::ratio(spacing.share_of_ease)),
        ),
        Column::new("full", Kind::Truth, Unit::None, "Its bars reach its right end.", |system| {
            spacing(system, |spacing| Value::Truth(spacing.full))
        }),
        Column::new("moments", Kind::Number, Unit::Count, "Moments at which a note or rest begins.", |system| {
            spacing(system, |spacing| Value::count(spacing.moments as usize))
        }),
        Column::new(
            "written_share",
            Kind::Number,
            Unit::Ratio,
            "Share of its bars in which more stands than a rest for the whole bar.",
            |system| spacing(system, |spacing| Value::ratio(spacing.written_share)),
        ),
        Column::new(
            "widest_bar_share",
            Kind::Number,
            Unit::Ratio,
            "The largest share of its room that one bar naturally takes.",
            |system| spacing(system, |spacing| Value::ratio(spacing.widest_bar_share)),
        ),
        Column::new(
            "unevenness",
            Kind::Number,
            Unit::Ratio,
            "Its widest gaps from note to note against its narrowest, evenly spaced ones being equal; absent where too few notes state their place.",
            |system| spacing(system, |spacing| spacing.evenness.map_or(Value::Absent, |even| Value::ratio(even.unevenness))),
        ),
        Column::new(
            "proportional",
            Kind::Truth,
            Unit::None,
            "Its notes stand in proportion to time, whatever their values, as far as they state their place.",
            |system| spacing(system, |spacing| Value::Truth(spacing.evenness.is_some_and(|even| even.proportional))),
        ),
        Column::new("cued", Kind::Truth, Unit::None, "Notes of another player stand in it.", |system| {
            spacing(system, |spacing| Value::Truth(spacing.cued))
        }),
        Column::new(
            "irregular",
            Kind::Text,
            Unit::None,
            "Why durations do not tell the room of one of its bars: a cadenza, an unmeasured bar, a tremolo; absent where they do.",
            |system| spacing(system, |spacing| spacing.irregular.map_or(Value::Absent, Value::text)),
        ),
        Column::new("places_stated", Kind::Truth, Unit::None, "Its notes state their place from left to right.", |system| {
            spacing(system, |spacing| Value::Truth(spacing.places_stated))
        }),
        Column::new(
            "collisions",
            Kind::Number,
            Unit::Count,
            "Places where a head or its accidental lies on the head before it, as far as notes state their place.",
            |system| spacing(system, |spacing| Value::count(spacing.collisions.len())),
        ),
        Column::new("collision_bar", Kind::Text, Unit::None, "Number of the bar of the worst of them.", |system| {
            collision(system, |worst| Value::text(&worst.bar))
        }),
        Column::new("collision_part", Kind::Text, Unit::None, "Its part.", |system| collision(system, |worst| Value::text(&worst.part))),
        Column::new("collision_sp", Kind::Number, Unit::Sp, "Its overlap.", |system| collision(system, |worst| Value::sp(worst.overlap))),
        Column::new(
            "avoidable",
            Kind::Truth,
            Unit::None,
            "A bar or two moved over a break would even it out with a neighbour, and take away most of what is wrong with both.",
            |system| spacing(system, |spacing| Value::Truth(spacing.remedy.is_some())),
        ),
        Column::new("moved_bars", Kind::Text, Unit::None, "The bars to move: one number, or the first and the last.", |system| {
            remedy(system, |remedy| {
                let [first, last] = &remedy.bars;
                Value::text(&if first == last { format!("bar {first}") } else { format!("bars {first}-{last}") })
            })
        }),
        Column::new("moved_where", Kind::Text, Unit::None, "Where they go.", |system| {
            remedy(system, |remedy| {
                Value::text(match remedy.go {
                    Move::ToNext => "to the next system",
                    Move::ToPrevious => "to the system before",
                    Move::FromNext => "from the next system here",
                    Move::FromPrevious => "from the system before here",
                })
            })
        }),
        Column::new("now", Kind::Number, Unit::Ratio, "Room against natural now, for a move.", |system| {
            remedy(system, |remedy| Value::ratio(remedy.now[0]))
        }),
        Column::new("then", Kind::Number, Unit::Ratio, "Room against natural after the move.", |system| {
            remedy(system, |remedy| Value::ratio(remedy.then[0]))
        }),
        Column::new(
            "other_now",
            Kind::Number,
            Unit::Ratio,
            "The same of the other system, now; absent where it is the last of its movement, which may end short.",
            |system| remedy(system, |remedy| if remedy.other_is_last { Value::Absent } else { Value::ratio(remedy.now[1]) }),
        ),
        Column::new("other_then", Kind::Number, Unit::Ratio, "The same after the move.", |system| {
            remedy(system, |remedy| if remedy.other_is_last { Value::Absent } else { Value::ratio(remedy.then[1]) })
        }),
        Column::new("first_on_page", Kind::Truth, Unit::None, "It is the first of its page.", |system| Value::Truth(system.number == 1)),
        Column::new("numbered", Kind::Truth, Unit::None, "Its first bar, or every bar, bears its number.", |system| {
            Value::of(&system.numbered, Value::Truth)
        }),
        Column::written(
            "dividers",
            Kind::Truth,
            Unit::None,
            "Dividers are drawn between it and the system above; absent where the file says nothing of dividers.",
            |system| Value::of(&system.divided, Value::Truth),
            |system| system.divided.place(),
        ),
        Column::new(
            "reaches_for_turn",
            Kind::Truth,
            Unit::None,
            "It is the last of a right-hand page and reaches for a bar in which everybody rests.",
            |system| Value::Truth(system.reaches_for_turn),
        ),
        Column::new("begins_movement", Kind::Truth, Unit::None, "A movement begins with it.", |system| {
            Value::Truth(system.begins_movement)
        }),
        Column::new("ends_movement", Kind::Truth, Unit::None, "A movement ends with it.", |system| Value::Truth(system.ends_movement)),
    ],
};

/// Something of a system's spacing.
fn spacing(system: &System, of: impl FnOnce(&Spacing) -> Value) -> Value {
    match &system.spacing {
        Ok(spacing) => of(spacing),
        Err(why) => Value::unknown(*why),
    }
}

/// What durations tell of a system's room, unless it holds a bar whose room they do not tell.
fn told(system: &System, of: impl FnOnce(&Spacing) -> Value) -> Value {
    spacing(system, |spacing| match spacing.irregular {
        Some(why) => Value::unknown(format!("a system is not judged from its durations: {why}")),
        None => of(spacing),
    })
}

fn collision(system: &System, of: impl FnOnce(&Collision) -> Value) -> Value {
    spacing(system, |spacing| {
        let worst = spacing.collisions.iter().max_by(|one, other| one.overlap.0.total_cmp(&other.overlap.0));
        worst.map_or(Value::Absent, of)
    })
}

fn remedy(system: &System, of: impl FnOnce(&Remedy) -> Value) -> Value {
    spacing(system, |spacing| spacing.remedy.as_ref().map_or(Value::Absent, of))
}

/// Where a system is.
pub(super) fn on_system(page: &Page, system: &System) -> Where {
    Where {
        page: Some(page.ordinal),
        page_label: Some(Arc::from(page.label.as_str())),
        system: Some(system.number),
        ..on_bars(&system.bars, system.movement)
    }
}

pub(super) fn lines(measured: &Measured) -> Vec<Line<'_>> {
    let line = |page: &Page, system| Line {
        facts: Box::new(SYSTEM.of(system)),
        place: system.at,
        on: on_system(page, system),
        confidence: system.confidence,
    };
    measured.pages.iter().flat_map(|page| page.systems.iter().map(move |system| line(page, system))).collect()
}
