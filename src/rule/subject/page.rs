//! `page`: how a page is filled.

use super::{Line, on_page};
use crate::house::Binding;
use crate::measured::{Measured, OtherMargin, Page};
use crate::page::Side;
use crate::place::Known;
use crate::rule::Value;
use crate::rule::field::{Column, Kind, Subject, Unit};
use crate::units::Mm;

/// What cannot be said of pages where it is not known where they begin.
const NO_PAGES: &str = "it is not stated where pages begin";

fn of<T: Copy>(page: &Page, known: &Known<T>, make: impl FnOnce(T) -> Value) -> Value {
    if page.begin_known { Value::of(known, make) } else { Value::unknown(NO_PAGES) }
}

fn share(page: &Page, length: &Known<Mm>) -> Value {
    match page.usable {
        Known::Unknown(why) => of(page, length, |_| Value::unknown(why)),
        usable => of(page, length, |length| usable.value().map_or(Value::Absent, |usable| Value::ratio(length / usable))),
    }
}

/// The narrowest margin to the edge of the paper, and which it is.
fn narrowest(page: &Page) -> Result<(&'static str, Mm), &'static str> {
    if !page.begin_known {
        return Err(NO_PAGES);
    }
    let mut least: Option<(&'static str, Mm)> = None;
    for (side, margin) in ["left", "right", "top", "bottom"].into_iter().zip(&page.sheet_margins) {
        let Some(margin) = margin.value() else { return Err("a margin is not stated") };
        if least.is_none_or(|(_, least)| margin < least) {
            least = Some((side, margin));
        }
    }
    least.ok_or("a margin is not stated")
}

fn of_other_margin(page: &Page, get: fn(&OtherMargin) -> Value) -> Value {
    match &page.other_margin {
        _ if !page.begin_known => Value::unknown(NO_PAGES),
        Some(other) => get(other),
        None => Value::unknown("a margin is not stated"),
    }
}

/// A column of numbers that are known or not.
macro_rules! number {
    ($name:literal, $unit:ident, $what:literal, $field:ident, $make:expr) => {
        Column::written($name, Kind::Number, Unit::$unit, $what, |page: &Page| of(page, &page.$field, $make), |page| page.$field.place())
    };
}
/// A column of truths.
macro_rules! truth {
    ($name:literal, $what:literal, $get:expr) => {
        Column::new($name, Kind::Truth, Unit::None, $what, |page: &Page| {
            let get: fn(&Page) -> bool = $get;
            Value::Truth(get(page))
        })
    };
}

/// The table.
pub(super) static PAGE: Subject<Page> = Subject {
    name: "page",
    what: "A page with music.",
    columns: &[
        number!("width_mm", Mm, "Width of the sheet.", width, Value::mm),
        number!("height_mm", Mm, "Height of the sheet.", height, Value::mm),
        number!(
            "usable_mm",
            Mm,
            "Height from where its head lets the first system start to its foot line or bottom margin.",
            usable,
            Value::mm
        ),
        number!("depth_used", Ratio, "Share of the usable height down to the last staff's bottom line.", depth_used, Value::ratio),
        number!(
            "sheet_used",
            Ratio,
            "Share of the height of the sheet from its first staff's top line to its last staff's bottom line: large margins hide white.",
            sheet_used,
            Value::ratio
        ),
        number!("white_at_foot_mm", Mm, "White below its last staff, down to the foot line or bottom margin.", white_at_foot, Value::mm),
        number!("white_between_mm", Mm, "White between its staves and systems beyond what they need.", white_between, Value::mm),
        Column::new("white_between_share", Kind::Number, Unit::Ratio, "That white as a share of the usable height.", |page: &Page| {
            share(page, &page.white_between)
        }),
        Column::new(
            "white_share",
            Kind::Number,
            Unit::Ratio,
            "White between and white at the foot together, as a share of the usable height.",
            |page: &Page| match page.white_at_foot.value() {
                Some(foot) => share(page, &page.white_between.map(|white| white + foot.max(Mm::ZERO))),
                None => share(page, &page.white_at_foot),
            },
        ),
        number!(
            "past_bottom_mm",
            Mm,
            "How far its last staff reaches below the bottom margin; negative where it stays above it.",
            past_bottom,
            Value::mm
        ),
        number!(
            "past_top_mm",
            Mm,
            "How far its highest staff stands above the top margin; negative where it stands below it.",
            past_top,
            Value::mm
        ),
        number!(
            "past_top_edge_mm",
            Mm,
            "How far its highest staff stands above the edge of the sheet; negative where it stands below it.",
            past_top_edge,
            Value::mm
        ),
        number!(
            "past_edge_mm",
            Mm,
            "How far its last staff reaches below the edge of the sheet; negative where it stays above it.",
            past_edge,
            Value::mm
        ),
        Column::new("systems", Kind::Number, Unit::Count, "Systems on it.", |page: &Page| Value::count(page.systems.len())),
        Column::new("staves_a_system", Kind::Number, Unit::Count, "Staves of the reader's own in its largest system.", |page: &Page| {
            Value::count(page.staves_a_system())
        }),
        number!("systems_that_fit", Count, "Systems that would fit with the gaps they need.", systems_that_fit, |fit| Value::count(
            fit as usize
        )),
        Column::new(
            "one_more_staff_mm",
            Kind::Number,
            Unit::Mm,
            "Staff height at which one system more than it holds would fit; absent where that cannot be reckoned.",
            |page: &Page| page.one_more.map_or(Value::Absent, |more| Value::mm(more.staff_height)),
        ),
        Column::new("one_more_margin_mm", Kind::Number, Unit::Mm, "Top and bottom margin at which it would fit.", |page: &Page| {
            page.one_more.map_or(Value::Absent, |more| Value::mm(more.margin))
        }),
        Column::new("staff_height_mm", Kind::Number, Unit::Mm, "Height of the staves, of the size that most have.", |page: &Page| {
            Value::of(&page.staff_height, Value::mm)
        }),
        Column::new("margin_mm", Kind::Number, Unit::Mm, "The wider of its top and bottom margins.", |page: &Page| {
            let [.., top, bottom] = page.margins;
            Value::of(&top, |top| Value::of(&bottom, |bottom| Value::mm(top.max(bottom))))
        }),
        Column::new(
            "widest_gap_heights",
            Kind::Number,
            Unit::StaffHeights,
            "The widest gap between its staves and systems, headings left out.",
            |page: &Page| {
                let gaps = page.gaps.iter().filter(|gap| !gap.heading).filter_map(|gap| gap.white_heights().value());
                gaps.reduce(f64::max).map_or(Value::Absent, Value::ratio)
            },
        ),
        Column::new(
            "narrowest_margin_mm",
            Kind::Number,
            Unit::Mm,
            "Its narrowest margin, to the edge of the paper it is printed on.",
            |page: &Page| narrowest(page).map_or_else(Value::unknown, |(_, margin)| Value::mm(margin)),
        ),
        Column::new("narrowest_margin", Kind::Text, Unit::None, "Which that is: left, right, top, bottom.", |page: &Page| {
            narrowest(page).map_or_else(Value::unknown, |(side, _)| Value::text(side))
        }),
        Column::new(
            "binding_margin_mm",
            Kind::Number,
            Unit::Mm,
            "Its margin at the edge where the house binds copies; absent where the house does not say.",
            |page: &Page| {
                let [left, right, top, _] = &page.margins;
                let edge = match (page.binding, page.side) {
                    (None, _) => return Value::Absent,
                    (Some(Binding::Top), _) => top,
                    (Some(Binding::Inner), Side::Verso) => right,
                    (Some(Binding::Inner | Binding::Left), _) => left,
                };
                Value::of(edge, Value::mm)
            },
        ),
        Column::new(
            "margin_off_mm",
            Kind::Number,
            Unit::Mm,
            "By how much the margin furthest from the usual one of its side and paper differs.",
            |page: &Page| of_other_margin(page, |other| Value::mm(other.off())),
        ),
        Column::new("margin_off", Kind::Text, Unit::None, "Which margin that is: left, right, top, bottom.", |page: &Page| {
            of_other_margin(page, |other| Value::text(other.side))
        }),
        Column::new("margin_here_mm", Kind::Number, Unit::Mm, "What that margin is.", |page: &Page| {
            of_other_margin(page, |other| Value::mm(other.here))
        }),
        Column::new("margin_usual_mm", Kind::Number, Unit::Mm, "What it usually is.", |page: &Page| {
            of_other_margin(page, |other| Value::mm(other.usual))
        }),
        Column::new(
            "margin_between_sides",
            Kind::Truth,
            Unit::None,
            "All left-hand pages differ so from the right-hand ones, neither alike nor mirrored.",
            |page: &Page| of_other_margin(page, |other| Value::Truth(other.between_sides)),
        ),
        Column::new(
            "named",
            Kind::Truth,
            Unit::None,
            "The name of the part or of the piece stands on it; absent for the first page.",
            |page: &Page| of(page, &page.running_head.named, Value::Truth),
        ),
        Column::new("numbered", Kind::Truth, Unit::None, "Its number stands on it; absent for the first page.", |page: &Page| {
            of(page, &page.running_head.numbered, Value::Truth)
        }),
        Column::new(
            "spilled_bars",
            Kind::Number,
            Unit::Bars,
            "Bars on it, where it is the last page of a movement and holds nothing else; absent elsewhere.",
            |page: &Page| page.spill.map_or(Value::Absent, |spill| Value::count(spill.bars as usize)),
        ),
        Column::new("systems_before", Kind::Number, Unit::Count, "Systems of that movement on the pages before it.", |page: &Page| {
            page.spill.map_or(Value::Absent, |spill| Value::count(spill.systems_before as usize))
        }),
        Column::new(
            "of_natural_after",
            Kind::Number,
            Unit::Ratio,
            "Room against natural that those systems would have if they took those bars in.",
            |page: &Page| match page.spill {
                None => Value::Absent,
                Some(spill) => spill.of_natural_after.map_or_else(|| Value::unknown("the widths of the bars are not stated"), Value::ratio),
            },
        ),
        Column::new(
            "fits_before",
            Kind::Truth,
            Unit::None,
            "Its systems would fit on the pages before, with the gaps they need.",
            |page: &Page| page.spill.map_or(Value::Absent, |spill| Value::Truth(spill.fits_before)),
        ),
        Column::new("label", Kind::Text, Unit::None, "Its printed number.", |page: &Page| Value::text(&page.label)),
        truth!("first", "It is the first page of the document.", |page| page.ordinal == 1),
        truth!("last", "It is the last page of the document.", |page| page.last),
        truth!("ends_movement", "A movement ends with it.", |page| page.ends_movement),
        truth!("begins_movement", "A movement begins on it.", |page| page.begins_movement),
        truth!("blank_after", "Blank pages are announced after it.", |page| page.blank_after),
        truth!("next_has_heading", "The next page opens with a heading: what follows wants a page of its own.", |page| page
            .next_has_heading),
        truth!("turns_at_rest", "It is right-hand, and everybody rests in its last bar or the first bar overleaf.", |page| page
            .turns_at_rest),
        truth!("lies_open", "All pages of the document lie open at once.", |page| page.lies_open),
        truth!("tacet", "Nothing sounds on it.", |page| page.tacet),
        truth!("cutaway", "A hidden staff keeps its room on it.", |page| page.gaps.iter().any(|gap| gap.cutaway)),
    ],
};

pub(super) fn lines(measured: &Measured) -> Vec<Line<'_>> {
    let line = |page| Line { facts: Box::new(PAGE.of(page)), place: page.at, on: on_page(page), confidence: page.confidence };
    measured.pages.iter().map(line).collect()
}
