//! Pages drawn to scale as SVG: what is measured, made visible.
//!
//! Everything stands where the file states it, in millimetres on the sheet; what a file does not state stands where the room model would
//! set it. Signs are plain shapes of our own, right in size and place, no engraver's: a page looks like a page of music seen from two steps
//! away. No music font is needed.

mod across;
mod curves;
mod frame;
mod marks;
mod notes;
mod pen;
mod rests;
mod signs;

use crate::page::{Layout, Side, Staff, System};
use crate::place::Known;
use crate::room::across::Music;
use crate::score::Score;
use crate::units::{Mm, Scale, Tenths};
use across::Columns;
use pen::Pen;

pub use pen::escaped;

/// One page as a picture.
#[derive(Debug, Clone)]
pub struct PagePicture {
    /// Count of the page in the file, from 1.
    pub ordinal: usize,
    /// Its printed number.
    pub label: String,
    /// Right-hand or left-hand.
    pub side: Side,
    /// Width of the sheet.
    pub width: Mm,
    /// Height of the sheet.
    pub height: Mm,
    /// The music and its texts as SVG elements, in millimetres from the upper left corner.
    pub music: String,
}

/// Why a page cannot be drawn.
pub const NO_SIZE: &str = "the scaling or the page size is not stated";

/// What drawing needs at hand.
struct Bench<'a> {
    score: &'a Score,
    layout: &'a Layout,
    scale: Scale,
    music: Music<'a>,
}

impl Bench<'_> {
    fn mm(&self, length: Tenths) -> f64 {
        self.scale.mm(length).0
    }
}

/// A staff on its page.
#[derive(Debug, Clone, Copy)]
struct Lines {
    /// Its top line from the top of the sheet, mm.
    top: f64,
    /// From line to line, mm.
    space: f64,
    /// How many.
    count: u8,
}

impl Lines {
    fn of(bench: &Bench, staff: &Staff) -> Option<Self> {
        let space = bench.mm(staff.five_line_height()) / 4.0;
        Some(Self { top: bench.mm(staff.top().value()?), space, count: staff.lines })
    }

    /// Height of a place so many staff steps above the top line of five. A single line is the middle one.
    fn y(&self, steps: i32) -> f64 {
        let lifted = if self.count == 1 { 4 } else { 0 };
        self.top - f64::from(steps + lifted) * self.space / 2.0
    }

    fn bottom(&self) -> f64 {
        self.top + f64::from(self.count.saturating_sub(1)) * self.space
    }
}

/// A system about to be drawn: its bars from the left of the sheet, mm.
struct Stand<'a> {
    system: &'a System,
    /// For every bar: its left end and width, and its columns.
    bars: Vec<(f64, f64, Columns)>,
}

impl<'a> Stand<'a> {
    fn of(bench: &Bench, system: &'a System) -> Self {
        let bars = system.boxes.iter().enumerate().filter_map(|(place, one)| {
            let columns = Columns::of(bench.score, &bench.music, system, place)?;
            Some((bench.mm(one.left), bench.mm(one.width), columns))
        });
        Self { system, bars: bars.collect() }
    }
}

impl<'a> Bench<'a> {
    fn of(score: &'a Score, layout: &'a Layout) -> Result<Self, &'static str> {
        let scale = score.instructions.scale.map(|scale| scale.value).ok_or(NO_SIZE)?;
        Ok(Self { score, layout, scale, music: Music::of(score) })
    }

    fn page(&self, index: usize) -> Result<PagePicture, &'static str> {
        let page = self.layout.pages.get(index).ok_or(NO_SIZE)?;
        let (Some(width), Some(height)) = (page.width.value(), page.height.value()) else { return Err(NO_SIZE) };
        if let Some(why) = page.systems.iter().flat_map(|system| &system.staves).find_map(|staff| unknown(&staff.top())) {
            return Err(why);
        }
        let mut pen = Pen::default();
        frame::credits(self, index + 1, height, &mut pen);
        for system in &page.systems {
            let stand = Stand::of(self, system);
            frame::system(self, &stand, &mut pen);
            for staff in &system.staves {
                let Some(lines) = Lines::of(self, staff) else { continue };
                signs::on_staff(self, &stand, staff, lines, &mut pen);
                notes::on_staff(self, &stand, staff, lines, &mut pen);
                marks::on_staff(self, &stand, staff, lines, &mut pen);
            }
        }
        let usual = self.mm(Tenths(1.0));
        let stated = self.score.instructions.line_widths.iter().find(|(kind, _)| kind == "staff").map(|(_, width)| self.mm(*width));
        Ok(PagePicture {
            ordinal: index + 1,
            label: page.label.clone(),
            side: page.side,
            width: self.scale.mm(width),
            height: self.scale.mm(height),
            music: pen.finish(stated.unwrap_or(usual)),
        })
    }
}

/// Why something is not known.
fn unknown<T>(known: &Known<T>) -> Option<&'static str> {
    if let Known::Unknown(why) = known { Some(*why) } else { None }
}

/// Every page of a score as a picture.
///
/// # Errors
/// Why one cannot be: [`NO_SIZE`], or why it is not known where its staves stand.
pub fn pages(score: &Score, layout: &Layout) -> Result<Vec<PagePicture>, &'static str> {
    let bench = Bench::of(score, layout)?;
    (0..layout.pages.len()).map(|index| bench.page(index)).collect()
}

/// One page of a score as a picture, by its place from 0.
///
/// # Errors
/// [`NO_SIZE`], also where there is no such page; why it is not known where its staves stand.
pub fn page(score: &Score, layout: &Layout, index: usize) -> Result<PagePicture, &'static str> {
    Bench::of(score, layout)?.page(index)
}

impl PagePicture {
    /// The page as a whole SVG document.
    pub fn document(&self, title: &str) -> String {
        let (width, height) = (pen::number(self.width.0), pen::number(self.height.0));
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}mm\" height=\"{height}mm\" viewBox=\"0 0 {width} {height}\">\n<title>{}</title>\n<style>{STYLE}</style>\n<rect class=\"sheet\" width=\"{width}\" height=\"{height}\"/>\n{}</svg>\n",
            escaped(title),
            self.music
        )
    }
}

/// How the classes of a picture look where nothing else says.
const STYLE: &str = ".sheet{fill:#fff}.staff,.stroke{fill:none;stroke:#111}.stroke{stroke-linecap:round;stroke-linejoin:round}.ink{fill:#111}.text{fill:#111;font-family:'Liberation Serif','Times New Roman',serif}";
