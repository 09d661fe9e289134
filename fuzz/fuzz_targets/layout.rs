//! Layout: small scores with odd numbers are laid out and measured without a panic, and no bar is lost or doubled.
//!
//! Two kinds of input: a text that begins with `<` is read as it is; other bytes say what is put into a small score.

#![no_main]

use libfuzzer_sys::arbitrary::{self, Arbitrary, Unstructured};
use libfuzzer_sys::fuzz_target;
use stavegauge::measured::{Measured, Printing, measure_printed};
use stavegauge::musicxml::read;
use stavegauge::page::{Layout, lay_out};
use stavegauge::score::Score;
use stavegauge_fuzz::{HOUSE, sources};
use std::fmt::{self, Display, Write};

fuzz_target!(|data: &[u8]| {
    if data.starts_with(b"<") {
        for source in sources(data) {
            if let Ok(score) = source.stream().and_then(read) {
                laid_out(&score, &Printing::AsIs);
            }
        }
        return;
    }
    let mut bytes = Unstructured::new(data);
    let Ok((printing, piece)) = <(Printed, Piece)>::arbitrary(&mut bytes) else { return };
    let text = piece.text();
    let source = sources(text.as_bytes()).remove(0);
    let score = source.stream().and_then(read).unwrap_or_else(|damage| panic!("{damage} ({:?}) in\n{text}", damage.at));
    laid_out(&score, &printing.meant());
});

fn laid_out(score: &Score, printing: &Printing) {
    let bars = score.bar_count();
    let layout = lay_out(score, &score.instructions);
    every_bar_once(&layout, bars);
    let measured = measure_printed(score, &score.instructions, &HOUSE, printing);
    every_bar_measured(&measured, &layout, bars);
}

/// Pages hold all bars in order, each once; so do movements.
fn every_bar_once(layout: &Layout, bars: usize) {
    let mut next = 0;
    for system in layout.pages.iter().flat_map(|page| &page.systems) {
        assert!(system.bars.start == next && system.bars.end > next, "bars {:?} follow bar {next}", system.bars);
        assert!(system.boxes.is_empty() || system.boxes.len() == system.bars.len(), "each bar of a system has its box");
        assert!(!system.boxes.is_empty() || system.boxes_missing.is_some(), "missing boxes have a reason");
        next = system.bars.end;
    }
    assert!(next == bars || layout.pages.is_empty(), "{next} of {bars} bars are on pages");
    assert!(layout.systems_known || layout.pages.is_empty(), "without systems there are no pages");
    assert!(layout.pages.iter().all(|page| !page.systems.is_empty()), "a page has music");
    let mut next = 0;
    for movement in &layout.movements {
        assert!(movement.bars.start == next && movement.bars.end > next, "movement {:?} follows bar {next}", movement.bars);
        next = movement.bars.end;
    }
    assert_eq!(next, bars, "movements hold all bars");
}

fn every_bar_measured(measured: &Measured, layout: &Layout, bars: usize) {
    assert_eq!(measured.bars.len(), bars);
    let systems = |layout: &Layout| layout.pages.iter().map(|page| page.systems.len()).collect::<Vec<_>>();
    assert_eq!(measured.pages.iter().map(|page| page.systems.len()).collect::<Vec<_>>(), systems(layout));
}

/// How it is printed.
#[derive(Arbitrary)]
enum Printed {
    AsIs,
    At(u8),
    On(u8),
}

impl Printed {
    fn meant(&self) -> Printing {
        match *self {
            Self::AsIs => Printing::AsIs,
            // What the command line lets through: 10 to 400 percent.
            Self::At(percent) => Printing::At((f64::from(percent) * 1.5 + 10.0) / 100.0),
            Self::On(paper) => {
                let papers = HOUSE.papers.all();
                Printing::On(Box::new(papers[usize::from(paper) % papers.len()].clone()))
            }
        }
    }
}

/// A number as a file may state it: mostly possible, now and then absurd.
#[derive(Arbitrary, Clone, Copy)]
enum Number {
    Small(u8),
    Tenths(i16),
    Fine(u16),
    Any(f64),
    Odd(u8),
}

const ODD: [&str; 12] = ["0", "-0", "1e308", "-1e308", "5e-324", "NaN", "inf", "", "99999999999999999999", "4294967296", "-1", "1_000"];

impl Display for Number {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Small(number) => write!(to, "{number}"),
            Self::Tenths(number) => write!(to, "{number}"),
            Self::Fine(number) => write!(to, "{}", f64::from(*number) / 16.0),
            Self::Any(number) => write!(to, "{number}"),
            Self::Odd(which) => to.write_str(ODD[usize::from(*which) % ODD.len()]),
        }
    }
}

/// A score.
#[derive(Arbitrary)]
struct Piece {
    timewise: bool,
    scaling: Option<(Number, Number)>,
    page: Option<PageLayout>,
    system: Option<SystemLayout>,
    staff_distances: Vec<(u8, Number)>,
    /// Whether all breaks are said to be there.
    promise: Option<bool>,
    credits: Vec<(u8, Number, Number, Number)>,
    parts: Vec<Vec<Bar>>,
}

#[derive(Arbitrary)]
struct PageLayout {
    size: Option<(Number, Number)>,
    /// Of all pages, odd ones or even ones: left, right, top, bottom.
    margins: Vec<(u8, [Option<Number>; 4])>,
}

#[derive(Arbitrary)]
struct SystemLayout {
    margins: Option<(Number, Number)>,
    distance: Option<Number>,
    top_distance: Option<Number>,
}

#[derive(Arbitrary)]
struct Bar {
    width: Option<Number>,
    print: Option<Print>,
    details: Option<Details>,
    multiple_rest: Option<Number>,
    notes: Vec<Note>,
    /// A double bar or a repeat at its end.
    ends: Option<u8>,
}

#[derive(Arbitrary)]
struct Print {
    new_system: Option<bool>,
    new_page: Option<bool>,
    blank_page: Option<Number>,
    page_number: Option<Number>,
    staff_spacing: Option<Number>,
    page: Option<PageLayout>,
    system: Option<SystemLayout>,
    staff_distances: Vec<(u8, Number)>,
    measure_distance: Option<Number>,
}

#[derive(Arbitrary)]
struct Details {
    number: u8,
    staves: Option<u8>,
    lines: Option<u8>,
    size: Option<Number>,
    hidden: Option<bool>,
}

#[derive(Arbitrary)]
struct Note {
    octave: u8,
    duration: Number,
    staff: u8,
    default_x: Option<Number>,
    default_y: Option<Number>,
    flags: u8,
}

/// Bars and parts beyond these make a score slow, not odd.
const MOST_PARTS: usize = 4;
const MOST_BARS: usize = 24;
const MOST_NOTES: usize = 6;

impl Piece {
    fn text(&self) -> String {
        let mut text = String::new();
        self.write(&mut text).expect("a string takes all");
        text
    }

    fn write(&self, to: &mut String) -> fmt::Result {
        let root = if self.timewise { "score-timewise" } else { "score-partwise" };
        write!(to, "<{root} version=\"4.0\">")?;
        if let Some(all) = self.promise {
            let (kind, value) = if all { ("yes", " value=\"yes\"") } else { ("no", "") };
            write!(to, "<identification><encoding>")?;
            for attribute in ["new-system", "new-page"] {
                write!(to, "<supports element=\"print\" type=\"{kind}\" attribute=\"{attribute}\"{value}/>")?;
            }
            write!(to, "</encoding></identification>")?;
        }
        write!(to, "<defaults>")?;
        if let Some((millimetres, tenths)) = self.scaling {
            write!(to, "<scaling><millimeters>{millimetres}</millimeters><tenths>{tenths}</tenths></scaling>")?;
        }
        page_layout(self.page.as_ref(), to)?;
        system_layout(self.system.as_ref(), to)?;
        staff_layouts(&self.staff_distances, to)?;
        write!(to, "</defaults>")?;
        for (page, x, y, size) in self.credits.iter().take(4) {
            write!(to, "<credit page=\"{page}\"><credit-words default-x=\"{x}\" default-y=\"{y}\" font-size=\"{size}\">")?;
            write!(to, "Title</credit-words></credit>")?;
        }
        let parts = &self.parts[..self.parts.len().min(MOST_PARTS)];
        write!(to, "<part-list>")?;
        for part in 0..parts.len() {
            write!(to, "<score-part id=\"P{part}\"><part-name>Part {part}</part-name></score-part>")?;
        }
        write!(to, "</part-list>")?;
        let bars = parts.iter().map(|bars| bars.len().min(MOST_BARS)).max().unwrap_or(0);
        if self.timewise {
            for bar in 0..bars {
                write!(to, "<measure number=\"{bar}\">")?;
                for (index, part) in parts.iter().enumerate() {
                    write!(to, "<part id=\"P{index}\">")?;
                    part.get(bar).map_or(Ok(()), |bar| bar.write(to))?;
                    write!(to, "</part>")?;
                }
                write!(to, "</measure>")?;
            }
        } else {
            for (index, part) in parts.iter().enumerate() {
                write!(to, "<part id=\"P{index}\">")?;
                for (number, bar) in part.iter().take(MOST_BARS).enumerate() {
                    write!(to, "<measure number=\"{number}\"")?;
                    attribute("width", bar.width, to)?;
                    to.push('>');
                    bar.write(to)?;
                    write!(to, "</measure>")?;
                }
                write!(to, "</part>")?;
            }
        }
        write!(to, "</{root}>")
    }
}

impl Bar {
    fn write(&self, to: &mut String) -> fmt::Result {
        if let Some(print) = &self.print {
            print.write(to)?;
        }
        write!(to, "<attributes><divisions>4</divisions>")?;
        if let Some(details) = &self.details {
            element("staves", details.staves, to)?;
            write!(to, "<staff-details number=\"{}\"", details.number)?;
            attribute("print-object", details.hidden.map(|hidden| if hidden { "no" } else { "yes" }), to)?;
            to.push('>');
            element("staff-lines", details.lines, to)?;
            element("staff-size", details.size, to)?;
            write!(to, "</staff-details>")?;
        }
        if let Some(bars) = self.multiple_rest {
            write!(to, "<measure-style><multiple-rest>{bars}</multiple-rest></measure-style>")?;
        }
        write!(to, "</attributes>")?;
        for note in self.notes.iter().take(MOST_NOTES) {
            note.write(to)?;
        }
        match self.ends.map(|ends| ends % 3) {
            None => Ok(()),
            Some(0) => write!(to, "<barline location=\"right\"><bar-style>light-light</bar-style></barline>"),
            Some(1) => write!(to, "<barline location=\"right\"><bar-style>light-heavy</bar-style></barline>"),
            Some(_) => write!(to, "<barline location=\"right\"><repeat direction=\"backward\"/></barline>"),
        }
    }
}

impl Print {
    fn write(&self, to: &mut String) -> fmt::Result {
        let yes_no = |truth: bool| if truth { "yes" } else { "no" };
        write!(to, "<print")?;
        attribute("new-system", self.new_system.map(yes_no), to)?;
        attribute("new-page", self.new_page.map(yes_no), to)?;
        attribute("blank-page", self.blank_page, to)?;
        attribute("page-number", self.page_number, to)?;
        attribute("staff-spacing", self.staff_spacing, to)?;
        to.push('>');
        page_layout(self.page.as_ref(), to)?;
        system_layout(self.system.as_ref(), to)?;
        staff_layouts(&self.staff_distances, to)?;
        if let Some(distance) = self.measure_distance {
            write!(to, "<measure-layout><measure-distance>{distance}</measure-distance></measure-layout>")?;
        }
        write!(to, "</print>")
    }
}

impl Note {
    fn write(&self, to: &mut String) -> fmt::Result {
        let flag = |bit: u8| self.flags & (1 << bit) != 0;
        if flag(4) {
            write!(to, "<backup><duration>{}</duration></backup>", self.duration)?;
        }
        write!(to, "<note")?;
        attribute("default-x", self.default_x, to)?;
        attribute("default-y", self.default_y, to)?;
        to.push('>');
        if flag(3) {
            write!(to, "<grace/>")?;
        }
        if flag(2) {
            write!(to, "<chord/>")?;
        }
        if flag(1) {
            write!(to, "<rest/>")?;
        } else {
            write!(to, "<pitch><step>G</step><octave>{}</octave></pitch>", self.octave % 12)?;
        }
        write!(to, "<duration>{}</duration><type>quarter</type><staff>{}</staff>", self.duration, self.staff)?;
        if flag(0) {
            write!(to, "<lyric><syllabic>single</syllabic><text>la</text></lyric>")?;
        }
        write!(to, "</note>")
    }
}

fn page_layout(page: Option<&PageLayout>, to: &mut String) -> fmt::Result {
    let Some(page) = page else { return Ok(()) };
    write!(to, "<page-layout>")?;
    if let Some((height, width)) = page.size {
        write!(to, "<page-height>{height}</page-height><page-width>{width}</page-width>")?;
    }
    for (kind, margins) in page.margins.iter().take(3) {
        write!(to, "<page-margins type=\"{}\">", ["both", "odd", "even"][usize::from(kind % 3)])?;
        for (name, margin) in ["left-margin", "right-margin", "top-margin", "bottom-margin"].into_iter().zip(margins) {
            element(name, *margin, to)?;
        }
        write!(to, "</page-margins>")?;
    }
    write!(to, "</page-layout>")
}

fn system_layout(system: Option<&SystemLayout>, to: &mut String) -> fmt::Result {
    let Some(system) = system else { return Ok(()) };
    write!(to, "<system-layout>")?;
    if let Some((left, right)) = system.margins {
        write!(to, "<system-margins><left-margin>{left}</left-margin><right-margin>{right}</right-margin></system-margins>")?;
    }
    element("system-distance", system.distance, to)?;
    element("top-system-distance", system.top_distance, to)?;
    write!(to, "</system-layout>")
}

fn staff_layouts(distances: &[(u8, Number)], to: &mut String) -> fmt::Result {
    distances.iter().take(4).try_for_each(|(number, distance)| {
        write!(to, "<staff-layout number=\"{number}\"><staff-distance>{distance}</staff-distance></staff-layout>")
    })
}

fn attribute(name: &str, value: Option<impl Display>, to: &mut String) -> fmt::Result {
    value.map_or(Ok(()), |value| write!(to, " {name}=\"{value}\""))
}

fn element(name: &str, value: Option<impl Display>, to: &mut String) -> fmt::Result {
    value.map_or(Ok(()), |value| write!(to, "<{name}>{value}</{name}>"))
}
