//! `staff`: a staff of a system, or one that is hidden although it sounds.

use super::lots::Lots;
use super::system::on_system;
use super::{Line, Owned, on_bars};
use crate::house::Family;
use crate::measured::{HiddenStaff, Measured, Page, Staff, System, Whose};
use crate::page::Dialect;
use crate::place::{Confidence, Known};
use crate::rule::field::{Column, Kind, Subject, Unit};
use crate::rule::{Value, Where};
use crate::score::instructions::StaffKind;
use crate::units::Mm;
use std::sync::Arc;

/// What rules read of a staff.
pub(super) struct StaffRow {
    printed: bool,
    hidden_throughout: bool,
    height: Known<Mm>,
    size: Known<f64>,
    whose: Whose,
    family: Option<Family>,
    cue_notes: Known<Mm>,
    kind: Option<StaffKind>,
    part: Arc<str>,
}

/// The table.
pub(super) static STAFF: Subject<StaffRow> = Subject {
    name: "staff",
    what: "A staff of a system, or one that is hidden although it sounds.",
    columns: &[
        Column::new("printed", Kind::Truth, Unit::None, "It is printed; one that is not sounds all the same.", |staff| {
            Value::Truth(staff.printed)
        }),
        Column::new("hidden_throughout", Kind::Truth, Unit::None, "It is printed nowhere in the file.", |staff| {
            Value::Truth(staff.hidden_throughout)
        }),
        Column::written(
            "height_mm",
            Kind::Number,
            Unit::Mm,
            "Height of five lines at its size; absent where it is not printed.",
            |staff| Value::of(&staff.height, Value::mm),
            |staff| staff.height.place(),
        ),
        Column::new("size", Kind::Number, Unit::Ratio, "Its size against the file's usual one, as its own details state.", |staff| {
            Value::of(&staff.size, |percent| Value::ratio(percent / 100.0))
        }),
        Column::new(
            "own",
            Kind::Truth,
            Unit::None,
            "The reader's own music stands on it: it is as large as most, and neither said nor called to be anything else.",
            |staff| Value::Truth(staff.whose == Whose::Own),
        ),
        Column::new(
            "whose",
            Kind::Text,
            Unit::None,
            "Whose music it holds, as said, called or told by its size: own, other, ossia, cue, rehearsal.",
            |staff| {
                Value::text(match staff.whose {
                    Whose::Own => "own",
                    Whose::Other => "other",
                    Whose::Ossia => "ossia",
                    Whose::Cue => "cue",
                    Whose::Rehearsal => "rehearsal",
                })
            },
        ),
        Column::new(
            "family",
            Kind::Text,
            Unit::None,
            "Family of its instruments, where known: wind, brass, percussion, plucked, keyboard, electronic, voice, strings.",
            |staff| staff.family.map_or(Value::Absent, |family| Value::text(family.name())),
        ),
        Column::new(
            "cue_notes_mm",
            Kind::Number,
            Unit::Mm,
            "Staff height that the cue notes on it would fit; absent where there are none.",
            |staff| Value::of(&staff.cue_notes, Value::mm),
        ),
        Column::new(
            "kind",
            Kind::Text,
            Unit::None,
            "What it is for, where the file says so: regular, ossia, editorial, cue, alternate.",
            |staff| {
                staff.kind.map_or(Value::Absent, |kind| {
                    Value::text(match kind {
                        StaffKind::Regular => "regular",
                        StaffKind::Ossia => "ossia",
                        StaffKind::Editorial => "editorial",
                        StaffKind::Cue => "cue",
                        StaffKind::Alternate => "alternate",
                    })
                })
            },
        ),
        Column::new("part", Kind::Text, Unit::None, "Name of its part.", |staff| Value::text(&staff.part)),
    ],
};

fn printed<'a>(page: &Page, system: &System, staff: &Staff) -> Line<'a> {
    let row = StaffRow {
        printed: true,
        hidden_throughout: false,
        height: staff.five_line_height,
        size: Known::Derived(staff.size_percent),
        whose: staff.whose,
        family: staff.family,
        cue_notes: staff.cue_notes(),
        kind: staff.kind,
        part: staff.of.name.clone(),
    };
    let on = Where {
        part: Some(staff.of.id.clone()),
        part_name: Some(staff.of.name.clone()),
        part_index: staff.of.index.checked_add(1),
        staff: Some(u32::from(staff.staff)),
        ..on_system(page, system)
    };
    // The height of a staff does not hang on where it stands.
    Line { facts: Box::new(Owned { table: &STAFF, row }), place: system.at, on, confidence: Confidence::High }
}

fn hidden<'a>(measured: &Measured, staff: &HiddenStaff) -> Line<'a> {
    let row = StaffRow {
        printed: false,
        hidden_throughout: staff.throughout,
        height: Known::Absent,
        size: Known::Absent,
        whose: Whose::Own,
        family: None,
        cue_notes: Known::Absent,
        kind: None,
        part: staff.part_name.clone(),
    };
    let page = measured.bars.get(staff.bars.index.0 as usize - 1).and_then(|bar| bar.page.clone());
    let on = Where {
        page: page.as_ref().map(|(ordinal, _)| *ordinal),
        page_label: page.map(|(_, label)| label),
        part: Some(staff.part_id.clone()),
        part_name: Some(staff.part_name.clone()),
        part_index: u32::try_from(staff.part + 1).ok(),
        staff: Some(u32::from(staff.staff)),
        ..on_bars(&staff.bars, staff.movement)
    };
    Line { facts: Box::new(Owned { table: &STAFF, row }), place: Some(staff.at), on, confidence: Confidence::High }
}

/// Where it is not known where systems begin, the scaling alone still tells how high a staff is, and a file that hides no
/// staff hides no music.
fn by_scaling<'a>(measured: &Measured) -> Option<Line<'a>> {
    let unplaced = measured.pages.is_empty() && measured.dialect == Dialect::None;
    let (_, name) = measured.parts.first().filter(|_| unplaced)?;
    let height = measured.staff_height;
    let row = StaffRow {
        printed: true,
        hidden_throughout: false,
        height,
        size: Known::Derived(100.0),
        whose: Whose::Own,
        family: None,
        cue_notes: Known::Absent,
        kind: None,
        part: name.clone(),
    };
    Some(Line { facts: Box::new(Owned { table: &STAFF, row }), place: height.place(), on: Where::default(), confidence: Confidence::High })
}

pub(super) fn lots(measured: &Measured) -> Lots<'_> {
    let beside = measured.hidden.iter().map(|staff| hidden(measured, staff)).chain(by_scaling(measured)).collect();
    Lots::new(
        measured,
        |_, system| system.staves.len(),
        |page, system, index| system.staves.get(index).map(|staff| printed(page, system, staff)),
        beside,
    )
}
