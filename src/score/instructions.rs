//! The layout instructions of a file as plain data: scaling, defaults, prints, widths, staff details.
//!
//! They are read from a file or made by a new casting off; everything downstream treats both alike.
//! Which value holds where is *not* decided here but in the page room.

use super::Given;
use crate::place::Place;
use crate::units::{Scale, Tenths};

/// All layout instructions of one score.
#[derive(Debug, Clone, Default)]
pub struct Instructions {
    /// `<scaling>`: what a tenth is, where it is stated and sound.
    pub scale: Given<Scale>,
    /// A scaling is stated, whether or not it can be used.
    pub scaling_stated: bool,
    /// Place of `<millimeters>` within the scaling, for findings about size.
    pub millimeters_at: Option<Place>,
    /// Page layout of the defaults.
    pub page: PageLayout,
    /// System layout of the defaults.
    pub system: SystemLayout,
    /// Staff distances of the defaults.
    pub staff_layouts: Vec<StaffLayout>,
    /// Line widths of `<appearance>`: kind as written, width.
    pub line_widths: Vec<(String, Tenths)>,
    /// Note sizes of `<appearance>` in percent: kind as written, size.
    pub note_sizes: Vec<(String, f64)>,
    /// Size in points of the usual text font.
    pub word_points: Option<f64>,
    /// Sizes in points of the usual lyric fonts: the verse they are for, or all verses, and the size.
    pub lyric_fonts: Vec<(Option<String>, f64)>,
    /// Every `<print>`, by part and bar, in the order of the file within a part.
    pub prints: Vec<Print>,
    /// Every `<staff-details>`, in the order of the file within a part.
    pub staff_details: Vec<StaffDetails>,
    /// Every `<measure-numbering>`, as (part, bar, text).
    pub bar_numbering: Vec<(usize, usize, BarNumbering)>,
    /// Whether a copy that states no page number begins on the left, behind a cover. No file says so; the house does.
    pub begins_verso: bool,
    /// Width of every bar by part (outer) and bar (inner), where stated.
    pub widths: Vec<Vec<BarWidth>>,
}

/// Width of a bar, which a file may leave out, in eight bytes: a large score has some ten thousand.
#[derive(Debug, Clone, Copy)]
pub struct BarWidth(f64);

impl BarWidth {
    /// The width, if one is stated.
    pub fn get(self) -> Option<Tenths> {
        (!self.0.is_nan()).then_some(Tenths(self.0))
    }
}

impl From<Option<Tenths>> for BarWidth {
    fn from(stated: Option<Tenths>) -> Self {
        Self(stated.map_or(f64::NAN, |width| width.0))
    }
}

impl Instructions {
    /// Size in points of the words of a verse, where neither they nor their syllable say another: that of the verse's own font,
    /// else that of the font for all.
    pub fn lyric_points(&self, verse: &str) -> Option<f64> {
        let of = |wanted: Option<&str>| {
            self.lyric_fonts.iter().rfind(|(for_verse, _)| for_verse.as_deref() == wanted).map(|(_, points)| *points)
        };
        // A verse without a number is the first.
        let verse = if verse.trim().is_empty() { "1" } else { verse.trim() };
        of(Some(verse)).or_else(|| of(None))
    }

    /// The prints of one bar, the parts in the order of the score.
    pub fn prints_at(&self, bar: usize) -> impl Iterator<Item = &Print> {
        let first = self.prints.partition_point(|print| print.bar < bar);
        self.prints[first..].iter().take_while(move |print| print.bar == bar)
    }
}

/// Where bar numbers are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BarNumbering {
    /// Nowhere.
    None,
    /// At every bar.
    Measure,
    /// At every system.
    System,
}

/// Which pages a set of margins holds for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Parity {
    /// Right-hand pages.
    Odd,
    /// Left-hand pages.
    Even,
    /// All pages.
    #[default]
    Both,
}

/// The four margins of a page, each where stated.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Margins {
    /// From the left edge.
    pub left: Given<Tenths>,
    /// From the right edge.
    pub right: Given<Tenths>,
    /// From the top edge.
    pub top: Given<Tenths>,
    /// From the bottom edge.
    pub bottom: Given<Tenths>,
}

/// `<page-layout>`.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct PageLayout {
    /// Height of the page.
    pub height: Given<Tenths>,
    /// Width of the page.
    pub width: Given<Tenths>,
    /// Margins by the pages they hold for; two at most.
    pub margins: Vec<(Parity, Margins)>,
}

/// `<system-layout>`.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct SystemLayout {
    /// Indent from the left page margin.
    pub left: Given<Tenths>,
    /// Indent from the right page margin.
    pub right: Given<Tenths>,
    /// From the bottom line of the system above to the top line of this one.
    pub distance: Given<Tenths>,
    /// From the top margin to the top line of a page's first system.
    pub top_distance: Given<Tenths>,
    /// Whether system dividers are drawn, where stated.
    pub dividers: Given<bool>,
}

/// `<staff-layout>`: the distance from the staff above.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StaffLayout {
    /// Staff of the part, from 1.
    pub staff: u8,
    /// From the bottom line of the staff above to the top line of this one; a file may name the staff and state none.
    pub distance: Given<Tenths>,
}

/// `<print>`: what one part says of the page or system that begins with a bar. A score may have one in every part and system, and few
/// of them say more than that something begins.
#[derive(Debug, Clone, Default)]
pub struct Print {
    /// Index of the part.
    pub part: usize,
    /// Index of the bar.
    pub bar: usize,
    /// Place of the tag.
    pub at: Place,
    /// `new-system`, where stated.
    pub new_system: Option<bool>,
    /// `new-page`, where stated.
    pub new_page: Option<bool>,
    /// Blank pages before this one.
    pub blank_pages: u32,
    /// What else it says.
    pub more: Option<Box<PrintLayout>>,
}

/// What a `<print>` says of layout.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct PrintLayout {
    /// The page's printed number: a token, may be `iv`.
    pub page_number: Option<String>,
    /// Distance between staves in the manner of old files.
    pub staff_spacing: Given<Tenths>,
    /// Page layout for this page only.
    pub page: Option<PageLayout>,
    /// System layout for this system only.
    pub system: SystemLayout,
    /// Staff distances for this system only.
    pub staff_layouts: Vec<StaffLayout>,
    /// Room before this bar.
    pub measure_distance: Given<Tenths>,
}

impl Print {
    /// The page's printed number.
    pub fn page_number(&self) -> Option<&str> {
        self.more.as_ref()?.page_number.as_deref()
    }

    /// Distance between staves in the manner of old files.
    pub fn staff_spacing(&self) -> Given<Tenths> {
        self.more.as_ref()?.staff_spacing
    }

    /// Page layout for this page only.
    pub fn page(&self) -> Option<&PageLayout> {
        self.more.as_ref()?.page.as_ref()
    }

    /// System layout for this system only.
    pub fn system(&self) -> SystemLayout {
        self.more.as_ref().map(|more| more.system).unwrap_or_default()
    }

    /// Staff distances for this system only.
    pub fn staff_layouts(&self) -> &[StaffLayout] {
        self.more.as_ref().map_or(&[], |more| &more.staff_layouts)
    }

    /// Room before this bar.
    pub fn measure_distance(&self) -> Given<Tenths> {
        self.more.as_ref()?.measure_distance
    }
}

/// `<staff-details>`: from its bar on (or for one system; the page room decides which dialect a file speaks).
#[derive(Debug, Clone)]
pub struct StaffDetails {
    /// Index of the part.
    pub part: usize,
    /// Index of the bar.
    pub bar: usize,
    /// Staff of the part, from 1; `None`: all its staves.
    pub staff: Option<u8>,
    /// Place of the tag.
    pub at: Place,
    /// `print-object`, where stated.
    pub printed: Option<bool>,
    /// `print-spacing="yes"`: hidden, but its room is left.
    pub keeps_room: bool,
    /// Number of lines, where stated.
    pub lines: Option<u8>,
    /// `staff-size` in percent, where stated, and whether its `scaling` attribute stands.
    pub size_percent: Given<f64>,
    /// `staff-size@scaling` in percent, where stated.
    pub size_scaling: Option<f64>,
    /// `staff-type` (ossia, cue, editorial, regular, alternate), where stated.
    pub kind: Option<StaffKind>,
}

/// What a staff is for, as `staff-type` says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum StaffKind {
    /// The usual kind.
    Regular,
    /// Another version of the passage.
    Ossia,
    /// Added by the editor.
    Editorial,
    /// Another player's music.
    Cue,
    /// The same music in another notation.
    Alternate,
}
