//! Everything measured: score, instructions and house in, millimetres out. The one entry for audit, measure, fit,
//! castoff and watch.
//!
//! Lengths are millimetres on paper: the file's own unless it is printed at another size. What cannot be known is [`Known::Unknown`] with its reason.

mod gap;
mod last_page;
mod margin;
mod opening;
mod page;
mod part;
mod printing;
mod rest;
mod running_head;
mod spacing;
mod staff;
mod stretch;
mod system;
mod text;
mod turn;

pub use gap::{Between, Gap};
pub use last_page::Spill;
pub use margin::OtherMargin;
pub use opening::Opening;
pub use page::{Page, PaperUse};
pub use part::{Bar, HiddenStaff, hints};
pub use printing::Printing;
pub use rest::Across;
pub use running_head::RunningHead;
pub use spacing::{Collision, Remedy, Spacing, Usual};
pub use staff::{OfPart, Staff, Whose};
pub use stretch::{Stretch, StretchKind};
pub use system::{BarAcross, System};
pub use text::{Text, TextKind};
pub use turn::{Better, Turn, turning_of};

use crate::house::{Family, House, LastLine};
use crate::musicxml::Damage;
use crate::page::{self as layout, Agreement, Dialect, Stating};
use crate::place::Known;
use crate::score::instructions::BarNumbering;
use crate::score::{BarNumber, Instructions, Part, Score};
use crate::units::{Mm, Scale, Tenths};
use rayon::prelude::*;
use std::collections::BTreeSet;
use std::sync::Arc;

/// Why nothing can be said in millimetres.
pub const NO_SCALING: &str = "the file states no scaling that can be used, so nothing can be said in millimetres";

/// A score measured.
#[derive(Debug)]
pub struct Measured {
    /// Share of its own size at which it is printed: all millimetres here are those on paper.
    pub printed_at: Known<f64>,
    /// The bridge from tenths to millimetres on paper.
    pub scale: Option<Scale>,
    /// How much of its layout the file states.
    pub stating: Stating,
    /// What of it the file leaves out, in words.
    pub missing: Vec<&'static str>,
    /// Whether it is known where systems begin.
    pub systems_known: bool,
    /// Whether it is known where pages begin.
    pub pages_known: bool,
    /// Height of the staves: of the size that most have.
    pub staff_height: Known<Mm>,
    /// Width of the lines of its staves.
    pub staff_line: Known<Mm>,
    /// The papers it is on.
    pub papers: Vec<PaperUse>,
    /// Its pages.
    pub pages: Vec<Page>,
    /// Its movements: first and last bar, from 1.
    pub movements: Vec<(u32, u32)>,
    /// The usual spacing of its movements, where enough systems tell it.
    pub usual_spacing: Vec<Usual>,
    /// Its openings: pages that face each other.
    pub openings: Vec<Opening>,
    /// Seconds of every bar at the tempi that are stated; `None` where they cannot be known.
    pub bar_seconds: Vec<Option<f64>>,
    /// Where pages must be turned, forward and back.
    pub turns: Vec<Turn>,
    /// Its bars.
    pub bars: Vec<Bar>,
    /// Long rests, and music without rehearsal marks.
    pub stretches: Vec<Stretch>,
    /// Every bar bears its number, in some part and from some bar on.
    pub every_bar_numbered: bool,
    /// Bars with a rehearsal mark.
    pub rehearsal_marks: u32,
    /// Its texts by part and size.
    pub texts: Vec<Text>,
    /// Staves that are hidden although they sound.
    pub hidden: Vec<HiddenStaff>,
    /// Its parts: id and name.
    pub parts: Vec<(Arc<str>, Arc<str>)>,
    /// Families of its parts' instruments, where known, each once.
    pub families: BTreeSet<Family>,
    /// Staves whose place was checked against the stated heights of their notes.
    pub heights_checked: Agreement,
    /// How the file hides staves.
    pub dialect: Dialect,
    /// What the house wants of the last line of a movement.
    pub last_line: LastLine,
}

/// One document measured, or why it could not be read.
#[derive(Debug)]
pub struct DocumentMeasure {
    /// The file as it was named; `-` for standard input.
    pub path: String,
    /// The member of a container.
    pub member: Option<String>,
    /// What was measured.
    pub measured: Result<Measured, Damage>,
}

impl Measured {
    /// All its systems.
    pub fn systems(&self) -> impl Iterator<Item = &System> {
        self.pages.iter().flat_map(|page| &page.systems)
    }
}

/// What the measuring of one score needs at hand.
struct Bench<'a> {
    score: &'a Score,
    instructions: &'a Instructions,
    layout: &'a layout::Layout,
    /// How it is printed.
    printing: &'a Printing,
    /// Share of its own size at which it is printed.
    printed_at: Known<f64>,
    /// From tenths to millimetres on paper, or why there are none.
    scale: Result<Scale, &'static str>,
    /// Size in percent that most printed staves have.
    main_size: f64,
    /// What staves call their parts.
    parts: Vec<Arc<OfPart>>,
    /// Family of each part's instruments, where known.
    families: Vec<Option<Family>>,
    /// Parts with a staff of the size that most have.
    full_size: BTreeSet<usize>,
    /// The file says somewhere whether dividers are drawn between systems.
    speaks_of_dividers: bool,
    /// What stands on the pages beside the music.
    writing: running_head::Writing<'a>,
    /// What the names of the parts say of their staves.
    names: Vec<Option<Whose>>,
}

impl<'a> Bench<'a> {
    fn of(score: &'a Score, instructions: &'a Instructions, layout: &'a layout::Layout, house: &House, printing: &'a Printing) -> Self {
        let own_scale = instructions.scale.map(|scale| scale.value);
        let printed_at = match own_scale {
            Some(scale) => printing.share(page_sizes(layout, scale)),
            None => printing.share(std::iter::empty()),
        };
        let scale = match (own_scale, printed_at) {
            (None, _) => Err(NO_SCALING),
            (_, Known::Unknown(why)) => Err(why),
            (Some(scale), share) => share.value().and_then(|share| scale.printed(share)).ok_or(NO_SCALING),
        };
        let main_size = main_size(layout);
        let families = house.instruments.families(&hints(score));
        let names = staff::names(score, house);
        let cue_percent = staff::cue_percent(instructions);
        let of = |(index, part): (usize, &Part)| OfPart { index: count(index), id: part.id.clone(), name: part_name(part), cue_percent };
        let parts = score.parts.iter().enumerate().map(of).map(Arc::new).collect();
        let staves = layout.pages.iter().flat_map(|page| &page.systems).flat_map(|system| &system.staves);
        let full_size = staves.filter(|staff| !is_small(staff.size_percent, main_size)).map(|staff| staff.part).collect();
        let labels: Vec<&str> = layout.pages.iter().map(|page| page.label.as_str()).collect();
        let writing = running_head::Writing::of(score, &labels);
        let stated_dividers = || instructions.prints.iter().filter_map(|print| print.system().dividers);
        let speaks_of_dividers = instructions.system.dividers.or_else(|| stated_dividers().next()).is_some();
        Self {
            score,
            instructions,
            layout,
            printing,
            printed_at,
            scale,
            main_size,
            parts,
            families,
            full_size,
            speaks_of_dividers,
            writing,
            names,
        }
    }
}

impl Bench<'_> {
    /// A length in millimetres, or why there is none.
    fn mm(&self, length: Known<Tenths>) -> Known<Mm> {
        match self.scale {
            Ok(scale) => length.map(|length| scale.mm(length)),
            Err(_) if matches!(length, Known::Absent) => Known::Absent,
            Err(why) => Known::Unknown(why),
        }
    }

    fn part_name(&self, part: usize) -> Arc<str> {
        part_name(&self.score.parts[part])
    }

    /// Whether a staff is smaller than most: another player's, an ossia, a cue.
    fn is_small(&self, staff: &layout::Staff) -> bool {
        is_small(staff.size_percent, self.main_size)
    }

    /// Movement of a bar, from 1.
    fn movement(&self, bar: usize) -> u32 {
        // In order, and each bar lies in one.
        count(self.layout.movements.partition_point(|movement| movement.bars.start <= bar).max(1))
    }
}

/// What a part is called.
fn part_name(part: &Part) -> Arc<str> {
    if part.name.is_empty() { part.abbreviation.clone() } else { part.name.clone() }
}

/// Staves below this share of the main size are small on purpose (cue size is .71, other parts over a piano .75;
/// Leipzig plate sizes and Danish editorial guidelines, trade).
const SMALL_SHARE: f64 = 0.9;

fn is_small(size_percent: f64, main_size: f64) -> bool {
    size_percent < main_size * SMALL_SHARE
}

/// A number of things.
fn count(number: usize) -> u32 {
    u32::try_from(number).unwrap_or(u32::MAX)
}

/// Measures a score as its instructions lay it out, in its own size.
pub fn measure(score: &Score, instructions: &Instructions, house: &House) -> Measured {
    measure_printed(score, instructions, house, &Printing::AsIs)
}

/// Measures a score as its instructions lay it out, in millimetres on the paper it is printed on.
pub fn measure_printed(score: &Score, instructions: &Instructions, house: &House, printing: &Printing) -> Measured {
    let layout = layout::lay_out(score, instructions);
    let bench = Bench::of(score, instructions, &layout, house, printing);
    let (scale, main_size, printed_at) = (bench.scale, bench.main_size, bench.printed_at);
    // What is reckoned from the music alone comes first, so that its silences are given back before the pages take their room; each page
    // for itself. All that on whatever cores have nothing else to do.
    let from_music = || {
        let turning = turn::turning(&bench);
        let seconds: Vec<Option<f64>> = (0..score.bar_count()).map(|bar| turning.tempi().seconds(bar)).collect();
        let turns = turn::all(&bench, house, &turning);
        (turns, stretch::all(&bench, &seconds), text::sizes(&bench), seconds)
    };
    let from_pages = || layout.pages.par_iter().enumerate().map(|(index, page)| page::measure(&bench, index, page)).collect();
    let ((turns, stretches, texts, bar_seconds), mut pages): (_, Vec<Page>) = rayon::join(from_music, from_pages);
    for page in &mut pages {
        page.binding = house.binding;
    }
    system::number(&mut pages, instructions);
    let usual_spacing = spacing::measure(&bench, &mut pages);
    gap::compare(&mut pages);
    page::compare(&mut pages);
    let at = instructions.millimeters_at.unwrap_or_default();
    let staff_height = match scale {
        Ok(scale) => Known::Inherited(scale.staff_height() * (main_size / 100.0), at),
        Err(why) => Known::Unknown(why),
    };
    Measured {
        printed_at,
        scale: scale.ok(),
        staff_line: bench.mm(staff::line_width(instructions)),
        stating: layout.stating,
        missing: layout.missing.clone(),
        systems_known: layout.systems_known,
        pages_known: layout.pages_known,
        staff_height,
        papers: page::papers(&bench, &pages, house),
        usual_spacing,
        openings: opening::of(&pages),
        turns,
        bars: part::bars(&bench, &pages),
        stretches,
        bar_seconds,
        every_bar_numbered: instructions.bar_numbering.iter().any(|(.., shown)| *shown == BarNumbering::Measure),
        rehearsal_marks: stretch::rehearsal_marks(score),
        texts,
        hidden: part::hidden(&bench),
        pages,
        movements: layout.movements.iter().map(|movement| (count(movement.bars.start + 1), count(movement.bars.end))).collect(),
        parts: (0..score.parts.len()).map(|part| (score.parts[part].id.clone(), bench.part_name(part))).collect(),
        families: bench.families.iter().copied().flatten().collect(),
        heights_checked: layout.heights_checked,
        dialect: layout.dialect,
        last_line: house.last_line,
    }
}

/// Width and height of every page in the file's own millimetres, where both are stated.
fn page_sizes(layout: &layout::Layout, scale: Scale) -> impl Iterator<Item = (Mm, Mm)> {
    layout.pages.iter().filter_map(move |page| Some((scale.mm(page.width.value()?), scale.mm(page.height.value()?))))
}

/// Size in percent that most printed staves have; the usual one where none is printed.
fn main_size(layout: &layout::Layout) -> f64 {
    let staves = layout.pages.iter().flat_map(|page| &page.systems).flat_map(|system| &system.staves);
    let mut sizes: Vec<f64> = staves.map(|staff| staff.size_percent).collect();
    sizes.sort_unstable_by(f64::total_cmp);
    let most = sizes.chunk_by(|a, b| (a - b).abs() < 1e-9).max_by_key(|same| same.len());
    most.and_then(|same| same.first().copied()).unwrap_or(100.0)
}

/// First and last of some bars: counted from 1, and as the file numbers them.
#[derive(Debug, Clone, PartialEq)]
pub struct Bars {
    /// Counted from 1.
    pub index: (u32, u32),
    /// As numbered.
    pub numbers: [BarNumber; 2],
}

impl Bars {
    fn of(score: &Score, first: usize, last: usize) -> Self {
        Self { index: (count(first + 1), count(last + 1)), numbers: [score.bar_number(first), score.bar_number(last)] }
    }
}

/// Median of some numbers; `None` of none.
fn median(mut numbers: Vec<f64>) -> Option<f64> {
    numbers.sort_unstable_by(f64::total_cmp);
    let middle = numbers.len() / 2;
    let upper = *numbers.get(middle)?;
    Some(if numbers.len().is_multiple_of(2) { f64::midpoint(numbers[middle - 1], upper) } else { upper })
}
