//! A score in another layout, as it would be read from the text that [`super::rewrite`] makes of it: what is judged anew without writing it.

use super::Relaid;
use super::credits::{OldPaper, is_number, new_pages};
use super::relaid::RelaidSystem;
use crate::place::{Place, Stated};
use crate::score::instructions::{BarWidth, Margins, PageLayout, Parity, Print, PrintLayout, StaffDetails, StaffLayout, SystemLayout};
use crate::score::{Credit, Given, Instructions, Score};
use crate::units::{STAFF_TENTHS, Scale, Tenths};

/// The layout that a score would have.
#[derive(Debug)]
pub struct Rework {
    instructions: Instructions,
    credits: Vec<Credit>,
}

/// A value that stands nowhere yet.
#[expect(clippy::unnecessary_wraps, reason = "what a score states is given")]
fn given<T>(value: T) -> Given<T> {
    Some(Stated::new(value, Place::default()))
}

impl Rework {
    /// The layout of a casting off of this score.
    pub fn of(score: &Score, relaid: &Relaid) -> Self {
        let old = &score.instructions;
        let length = |length| given(relaid.tenths(length));
        let [left, right, top, bottom] = relaid.margins.map(length);
        let [width, height] = relaid.paper.map(length);
        let dividers = old.prints.iter().map(|print| print.system().dividers).chain([old.system.dividers]).flatten();
        let dividers = dividers.map(|stated| stated.value).reduce(|one, other| one || other);
        let system = SystemLayout { dividers: dividers.and_then(given), ..SystemLayout::default() };
        let mut prints = Vec::new();
        for system in &relaid.systems {
            // A part that ends earlier, or is only listed, has no bar to say it in.
            let parts = score.parts.iter().enumerate().filter(|(_, part)| part.bars.len() > system.bars.start);
            prints.extend(parts.map(|(part, _)| print(system, part, relaid)));
        }
        let widths_of = |part: &crate::score::Part| {
            let mut widths = vec![BarWidth::from(None); part.bars.len()];
            for system in &relaid.systems {
                for (bar, width) in system.bars.clone().zip(&system.widths) {
                    if let Some(stated) = widths.get_mut(bar) {
                        *stated = Some(*width).into();
                    }
                }
            }
            widths
        };
        let instructions = Instructions {
            scale: Scale::new(relaid.staff.0, STAFF_TENTHS).and_then(given),
            scaling_stated: true,
            millimeters_at: Some(Place::default()),
            page: PageLayout { height, width, margins: vec![(Parity::Both, Margins { left, right, top, bottom })] },
            system,
            staff_layouts: Vec::new(),
            prints,
            staff_details: staff_details(&old.staff_details, score, relaid),
            widths: score.parts.iter().map(widths_of).collect(),
            line_widths: old.line_widths.clone(),
            note_sizes: old.note_sizes.clone(),
            word_points: old.word_points,
            lyric_fonts: old.lyric_fonts.clone(),
            bar_numbering: old.bar_numbering.clone(),
            begins_verso: old.begins_verso,
        };
        Self { instructions, credits: credits(score, relaid) }
    }

    /// The score in this layout.
    pub fn put_on(self, score: &mut Score) {
        score.instructions = self.instructions;
        score.credits = self.credits;
    }
}

/// What one part says of a system.
fn print(system: &RelaidSystem, part: usize, relaid: &Relaid) -> Print {
    let length = |length| given(relaid.tenths(length));
    let begins = system.bars.start == 0;
    let [left, right] = system.indents.map(length);
    let distance = length(system.distance);
    let layout = SystemLayout { left, right, ..SystemLayout::default() };
    let own = system.gaps.iter().filter(|(own, ..)| *own == part);
    let more = PrintLayout {
        page_number: relaid.first_number.clone().filter(|_| begins),
        system: if system.new_page.is_some() {
            SystemLayout { top_distance: distance, ..layout }
        } else {
            SystemLayout { distance, ..layout }
        },
        staff_layouts: own.map(|(_, staff, gap)| StaffLayout { staff: *staff, distance: length(*gap) }).collect(),
        ..PrintLayout::default()
    };
    Print {
        part,
        bar: system.bars.start,
        new_system: (!begins && system.new_page.is_none()).then_some(true),
        new_page: (!begins && system.new_page.is_some()).then_some(true),
        blank_pages: u32::from(!begins && system.new_page == Some(true)),
        more: Some(Box::new(more)),
        ..Print::default()
    }
}

/// The details of staves, with which are hidden in which system.
fn staff_details(old: &[StaffDetails], score: &Score, relaid: &Relaid) -> Vec<StaffDetails> {
    if relaid.hidden.is_empty() {
        return old.to_vec();
    }
    let has_bar = |part: usize, bar: usize| score.parts.get(part).is_some_and(|part| part.bars.len() > bar);
    let mut all: Vec<StaffDetails> =
        old.iter().map(|details| StaffDetails { printed: None, keeps_room: false, ..details.clone() }).collect();
    for system in &relaid.systems {
        let said = relaid.hidden.iter().filter(|(part, _)| has_bar(*part, system.bars.start));
        all.extend(said.map(|(part, staff)| StaffDetails {
            part: *part,
            bar: system.bars.start,
            staff: Some(*staff),
            at: Place::default(),
            printed: Some(system.shown.contains(&(*part, *staff))),
            keeps_room: false,
            lines: None,
            size_percent: None,
            size_scaling: None,
            kind: None,
        }));
    }
    all.sort_by_key(|details| (details.part, details.bar));
    all
}

/// The credits on their new pages.
fn credits(score: &Score, relaid: &Relaid) -> Vec<Credit> {
    let paper = OldPaper::of(score);
    let mut all = Vec::new();
    for old in &score.credits {
        let new = new_pages(old, score, relaid);
        all.extend(new.pages.into_iter().map(|page| {
            let mut credit = Credit { page: u32::try_from(page).unwrap_or(u32::MAX), ..old.clone() };
            for words in &mut credit.words {
                let place = |at: Option<Tenths>, new: &dyn Fn(&OldPaper, Tenths) -> Tenths| Some(new(paper.as_ref()?, at?));
                words.x = place(words.x, &|paper, x| paper.x(x, relaid));
                words.y = place(words.y, &|paper, y| paper.y(y, relaid));
                if new.numbers && is_number(&words.text) {
                    words.text = relaid.page_numbers.get(page - 1).copied().unwrap_or(page).to_string();
                }
            }
            credit
        }));
    }
    all
}
