//! A [`Score`] in the words of `MusicXML` 4.0, partwise.
//!
//! Element order follows the schema of the standard. Heights of notes are written as real files write them:
//! `default-y` counts from the top line of the *system*.

use super::score::{Bar, BarLine, Clef, Credit, Direction, Edge, Event, Group, Head, Margins, Page, Part, Print, QUARTER, Says, Score, Stem, Voice};
use super::xml::Xml;

/// Where syllables stand: tenths above the top line of their *staff*.
const LYRIC_LINE: &str = "-78";

/// Writes the file.
pub fn write(score: &Score) -> String {
    let mut paper = Paper { xml: Xml::partwise(), tenths_per_mm: 40.0 / score.staff_height() };
    paper.xml.open("score-partwise", &[("version", "4.0".to_owned())]);
    paper.header(score);
    for (index, part) in score.parts.iter().enumerate() {
        paper.part(index, part);
    }
    paper.xml.close();
    paper.xml.finish()
}

/// The id of a part.
pub fn part_id(index: usize) -> String {
    format!("P{}", index + 1)
}

/// A number with at most two decimals.
pub fn decimal(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

struct Paper {
    xml: Xml,
    tenths_per_mm: f64,
}

impl Paper {
    fn tenths(&self, mm: f64) -> String {
        decimal(mm * self.tenths_per_mm)
    }

    fn header(&mut self, score: &Score) {
        self.xml.open("work", &[]);
        self.xml.leaf("work-title", &[], &score.title);
        self.xml.close();
        self.xml.open("identification", &[]);
        self.xml.leaf("creator", &[("type", "composer".to_owned())], &score.composer);
        self.xml.leaf("rights", &[], &score.rights);
        if score.promises_breaks {
            self.xml.open("encoding", &[]);
            for attribute in ["new-page", "new-system"] {
                let promise = [("element", "print"), ("attribute", attribute), ("type", "yes"), ("value", "yes")];
                self.xml.empty("supports", &promise.map(|(name, value)| (name, value.to_owned())));
            }
            self.xml.close();
        }
        self.xml.close();
        self.defaults(score);
        for credit in &score.credits {
            let height = score.page.map_or(0.0, |page| page.height);
            self.credit(credit, height);
        }
        self.part_list(score);
    }

    fn defaults(&mut self, score: &Score) {
        if score.staff_mm.is_none() && score.page.is_none() && score.usual_gaps.is_none() {
            return;
        }
        self.xml.open("defaults", &[]);
        if let Some(height) = score.staff_mm {
            self.xml.open("scaling", &[]);
            self.xml.leaf("millimeters", &[], &decimal(height));
            self.xml.leaf("tenths", &[], "40");
            self.xml.close();
        }
        if let Some(page) = score.page {
            self.page(&page, if page.odd == page.even { Sides::Both } else { Sides::OddAndEven });
        }
        if let Some([system, top, staff]) = score.usual_gaps {
            self.xml.open("system-layout", &[]);
            self.leaf_mm("system-distance", system);
            self.leaf_mm("top-system-distance", top);
            self.xml.close();
            self.xml.open("staff-layout", &[]);
            self.leaf_mm("staff-distance", staff);
            self.xml.close();
        }
        self.xml.close();
    }

    fn leaf_mm(&mut self, name: &'static str, mm: f64) {
        let text = self.tenths(mm);
        self.xml.leaf(name, &[], &text);
    }

    fn page(&mut self, page: &Page, sides: Sides) {
        self.xml.open("page-layout", &[]);
        self.leaf_mm("page-height", page.height);
        self.leaf_mm("page-width", page.width);
        match sides {
            Sides::Both => self.margins("both", page.odd),
            Sides::OddAndEven => {
                self.margins("odd", page.odd);
                self.margins("even", page.even);
            }
            Sides::This(number) => self.margins(if number % 2 == 1 { "odd" } else { "even" }, page.margins(number)),
        }
        self.xml.close();
    }

    fn margins(&mut self, kind: &str, margins: Margins) {
        self.xml.open("page-margins", &[("type", kind.to_owned())]);
        self.leaf_mm("left-margin", margins.left);
        self.leaf_mm("right-margin", margins.right);
        self.leaf_mm("top-margin", margins.top);
        self.leaf_mm("bottom-margin", margins.bottom);
        self.xml.close();
    }

    fn credit(&mut self, credit: &Credit, page_height: f64) {
        self.xml.open("credit", &[("page", credit.page.to_string())]);
        self.xml.leaf("credit-type", &[], credit.kind);
        let attributes = [
            ("default-x", self.tenths(credit.x_mm)),
            ("default-y", self.tenths(page_height - credit.y_mm)),
            ("font-size", decimal(credit.points)),
            ("justify", credit.justify.to_owned()),
            ("valign", credit.valign.to_owned()),
        ];
        self.xml.leaf("credit-words", &attributes, &credit.words);
        self.xml.close();
    }

    fn part_list(&mut self, score: &Score) {
        self.xml.open("part-list", &[]);
        for (index, part) in score.parts.iter().enumerate() {
            for (number, group) in score.groups.iter().enumerate() {
                if group.first == index {
                    self.group(number + 1, group);
                }
            }
            self.score_part(index, part);
            for (number, group) in score.groups.iter().enumerate().rev() {
                if group.last == index {
                    self.xml.empty("part-group", &[("type", "stop".to_owned()), ("number", (number + 1).to_string())]);
                }
            }
        }
        self.xml.close();
    }

    fn group(&mut self, number: usize, group: &Group) {
        self.xml.open("part-group", &[("type", "start".to_owned()), ("number", number.to_string())]);
        if !group.name.is_empty() {
            self.xml.leaf("group-name", &[], group.name);
        }
        self.xml.leaf("group-symbol", &[], group.symbol);
        self.xml.leaf("group-barline", &[], "yes");
        self.xml.close();
    }

    fn score_part(&mut self, index: usize, part: &Part) {
        let id = part_id(index);
        self.xml.open("score-part", &[("id", id.clone())]);
        self.xml.leaf("part-name", &[], &part.name);
        self.xml.leaf("part-abbreviation", &[], &part.short);
        for (number, (name, sound)) in part.instruments.iter().enumerate() {
            self.xml.open("score-instrument", &[("id", format!("{id}-I{}", number + 1))]);
            self.xml.leaf("instrument-name", &[], name);
            self.xml.leaf("instrument-sound", &[], sound);
            self.xml.close();
        }
        self.xml.close();
    }

    fn part(&mut self, index: usize, part: &Part) {
        self.xml.open("part", &[("id", part_id(index))]);
        for (position, bar) in part.bars.iter().enumerate() {
            self.bar(index, part, position == 0, bar);
        }
        self.xml.close();
    }

    fn bar(&mut self, index: usize, part: &Part, first: bool, bar: &Bar) {
        let mut attributes = vec![("number", bar.number.clone())];
        attributes.extend(bar.width.map(|width| ("width", decimal(width))));
        self.xml.open("measure", &attributes);
        if let Some(print) = &bar.print {
            self.print(print);
        }
        self.attributes(part, first, bar);
        if let Some(line) = bar.left {
            self.bar_line("left", line);
        }
        for (number, voice) in bar.voices.iter().enumerate() {
            if number > 0 {
                let back: u32 = bar.voices[number - 1].events.iter().map(|event| event.ticks).sum();
                self.xml.open("backup", &[]);
                self.xml.leaf("duration", &[], &back.to_string());
                self.xml.close();
            }
            self.voice(index, part, bar, number, voice);
        }
        if let Some(line) = bar.right {
            self.bar_line("right", line);
        }
        self.xml.close();
    }

    fn print(&mut self, print: &Print) {
        let mut attributes = Vec::new();
        if print.new_system {
            attributes.push(("new-system", "yes".to_owned()));
        }
        if print.new_page {
            attributes.push(("new-page", "yes".to_owned()));
        }
        attributes.extend(print.blank_pages.map(|pages| ("blank-page", pages.to_string())));
        attributes.extend(print.page_number.clone().map(|number| ("page-number", number)));
        self.xml.open("print", &attributes);
        if let Some((page, number)) = print.page {
            self.page(&page, Sides::This(number));
        }
        if print.system_margins.is_some() || print.system_mm.is_some() || print.top_system_mm.is_some() {
            self.xml.open("system-layout", &[]);
            if let Some((left, right)) = print.system_margins {
                self.xml.open("system-margins", &[]);
                self.leaf_mm("left-margin", left);
                self.leaf_mm("right-margin", right);
                self.xml.close();
            }
            if let Some(mm) = print.system_mm {
                self.leaf_mm("system-distance", mm);
            }
            if let Some(mm) = print.top_system_mm {
                self.leaf_mm("top-system-distance", mm);
            }
            self.xml.close();
        }
        for (staff, mm) in &print.staves_mm {
            self.xml.open("staff-layout", &[("number", (staff + 1).to_string())]);
            self.leaf_mm("staff-distance", *mm);
            self.xml.close();
        }
        if let Some(numbering) = print.numbering {
            self.xml.leaf("measure-numbering", &[], numbering);
        }
        self.xml.close();
    }

    fn attributes(&mut self, part: &Part, first: bool, bar: &Bar) {
        let sized = first && part.staff_size.is_some();
        if !first && !sized && bar.key.is_none() && bar.time.is_none() && bar.shown.is_empty() && bar.gathers.is_none() {
            return;
        }
        self.xml.open("attributes", &[]);
        if first {
            self.xml.leaf("divisions", &[], &QUARTER.to_string());
        }
        if let Some(fifths) = bar.key {
            self.xml.open("key", &[]);
            self.xml.leaf("fifths", &[], &fifths.to_string());
            self.xml.close();
        }
        if let Some((beats, unit)) = bar.time {
            self.xml.open("time", &[]);
            self.xml.leaf("beats", &[], &beats.to_string());
            self.xml.leaf("beat-type", &[], &unit.to_string());
            self.xml.close();
        }
        if first {
            if part.clefs.len() > 1 {
                self.xml.leaf("staves", &[], &part.clefs.len().to_string());
            }
            for (staff, clef) in part.clefs.iter().enumerate() {
                self.clef(staff, *clef);
            }
        }
        self.staff_details(part, sized, bar);
        if let Some((diatonic, chromatic)) = part.transpose.filter(|_| first) {
            self.xml.open("transpose", &[]);
            self.xml.leaf("diatonic", &[], &diatonic.to_string());
            self.xml.leaf("chromatic", &[], &chromatic.to_string());
            self.xml.close();
        }
        if let Some(bars) = bar.gathers {
            self.xml.open("measure-style", &[]);
            self.xml.leaf("multiple-rest", &[], &bars.to_string());
            self.xml.close();
        }
        self.xml.close();
    }

    fn clef(&mut self, staff: usize, clef: Clef) {
        let (sign, line) = match clef {
            Clef::Treble | Clef::TrebleDown => ("G", "2"),
            Clef::Bass => ("F", "4"),
        };
        self.xml.open("clef", &[("number", (staff + 1).to_string())]);
        self.xml.leaf("sign", &[], sign);
        self.xml.leaf("line", &[], line);
        if clef == Clef::TrebleDown {
            self.xml.leaf("clef-octave-change", &[], "-1");
        }
        self.xml.close();
    }

    fn staff_details(&mut self, part: &Part, sized: bool, bar: &Bar) {
        for staff in 0..part.clefs.len() {
            let shown = bar.shown.iter().find(|(number, ..)| *number == staff);
            if !sized && shown.is_none() {
                continue;
            }
            let mut attributes = vec![("number", (staff + 1).to_string())];
            if let Some((_, print, spacing)) = shown {
                attributes.push(("print-object", yes_no(*print)));
                if *spacing {
                    attributes.push(("print-spacing", yes_no(true)));
                }
            }
            match part.staff_size.filter(|_| sized) {
                None => self.xml.empty("staff-details", &attributes),
                Some(percent) => {
                    self.xml.open("staff-details", &attributes);
                    self.xml.leaf("staff-size", &[], &decimal(percent));
                    self.xml.close();
                }
            }
        }
    }

    fn bar_line(&mut self, location: &str, line: BarLine) {
        let (style, repeat) = match line {
            BarLine::Double => ("light-light", None),
            BarLine::Final => ("light-heavy", None),
            BarLine::RepeatFrom => ("heavy-light", Some("forward")),
            BarLine::RepeatBack => ("light-heavy", Some("backward")),
        };
        self.xml.open("barline", &[("location", location.to_owned())]);
        self.xml.leaf("bar-style", &[], style);
        if let Some(direction) = repeat {
            self.xml.empty("repeat", &[("direction", direction.to_owned())]);
        }
        self.xml.close();
    }

    fn voice(&mut self, index: usize, part: &Part, bar: &Bar, number: usize, voice: &Voice) {
        for event in &voice.events {
            for direction in &event.directions {
                self.direction(part, voice.staff, direction);
            }
            if event.is_rest() {
                self.note(index, part, bar, number, voice, event, None);
            }
            for head in 0..event.heads.len() {
                self.note(index, part, bar, number, voice, event, Some(head));
            }
        }
    }

    fn direction(&mut self, part: &Part, staff: usize, direction: &Direction) {
        let placement = if direction.above { "above" } else { "below" };
        self.xml.open("direction", &[("placement", placement.to_owned())]);
        for says in &direction.says {
            self.xml.open("direction-type", &[]);
            match says {
                Says::Words(words, true) => self.xml.leaf("words", &[("font-weight", "bold".to_owned())], words),
                Says::Words(words, false) => self.xml.leaf("words", &[("font-style", "italic".to_owned())], words),
                Says::Rehearsal(mark) => self.xml.leaf("rehearsal", &[], mark),
                Says::Wedge(kind) => self.xml.empty("wedge", &[("type", (*kind).to_owned())]),
                Says::Dynamic(mark) => {
                    self.xml.open("dynamics", &[]);
                    self.xml.empty(mark, &[]);
                    self.xml.close();
                }
                Says::Metronome(quarters) => {
                    self.xml.open("metronome", &[]);
                    self.xml.leaf("beat-unit", &[], "quarter");
                    self.xml.leaf("per-minute", &[], &quarters.to_string());
                    self.xml.close();
                }
            }
            self.xml.close();
        }
        if part.clefs.len() > 1 {
            self.xml.leaf("staff", &[], &(staff + 1).to_string());
        }
        if let Some(quarters) = direction.tempo {
            self.xml.empty("sound", &[("tempo", quarters.to_string())]);
        }
        self.xml.close();
    }

    #[expect(clippy::too_many_arguments, reason = "a note is written where it stands: part, bar, voice, chord")]
    fn note(&mut self, index: usize, part: &Part, bar: &Bar, number: usize, voice: &Voice, event: &Event, head: Option<usize>) {
        let mut attributes = Vec::new();
        attributes.extend(event.x.map(|x| ("default-x", decimal(x))));
        let sounding = head.map(|position| &event.heads[position]);
        if let (Some(head), Some(top)) = (sounding, bar.tops_mm.get(voice.staff)) {
            let below = part.clefs[voice.staff].top_line() - head.pitch.place;
            let size = part.staff_size.unwrap_or(100.0) / 100.0;
            attributes.push(("default-y", decimal(-top * self.tenths_per_mm - f64::from(below) * 5.0 * size)));
        }
        self.xml.open("note", &attributes);
        if event.cue {
            self.xml.empty("cue", &[]);
        }
        if head.is_some_and(|position| position > 0) {
            self.xml.empty("chord", &[]);
        }
        self.pitch_or_rest(event, sounding);
        self.xml.leaf("duration", &[], &event.ticks.to_string());
        let ties = sounding.map_or([false; 2], |head| [head.tie_from, head.tie_on]);
        if !event.cue {
            self.ties("tie", ties);
        }
        if part.instruments.len() > 1 {
            let instrument = number.min(part.instruments.len() - 1);
            self.xml.empty("instrument", &[("id", format!("{}-I{}", part_id(index), instrument + 1))]);
        }
        self.xml.leaf("voice", &[], &(number + 1).to_string());
        if !event.whole_bar {
            self.value(event, sounding);
        }
        if let Some(stem) = event.stem.filter(|_| sounding.is_some()) {
            self.xml.leaf("stem", &[], if stem == Stem::Up { "up" } else { "down" });
        }
        if part.clefs.len() > 1 {
            self.xml.leaf("staff", &[], &(voice.staff + 1).to_string());
        }
        if head.is_none_or(|position| position == 0) {
            for (level, beam) in event.beams.iter().enumerate() {
                self.xml.leaf("beam", &[("number", (level + 1).to_string())], beam);
            }
            self.notations(event, ties);
            if let Some(lyric) = &event.lyric {
                self.xml.open("lyric", &[("number", "1".to_owned()), ("default-y", LYRIC_LINE.to_owned())]);
                self.xml.leaf("syllabic", &[], lyric.syllabic);
                self.xml.leaf("text", &[], &lyric.text);
                self.xml.close();
            }
        } else if ties != [false; 2] {
            self.xml.open("notations", &[]);
            self.ties("tied", ties);
            self.xml.close();
        }
        self.xml.close();
    }

    fn pitch_or_rest(&mut self, event: &Event, head: Option<&Head>) {
        match head {
            None if event.whole_bar => self.xml.empty("rest", &[("measure", yes_no(true))]),
            None => self.xml.empty("rest", &[]),
            Some(Head { pitch, .. }) => {
                self.xml.open("pitch", &[]);
                self.xml.leaf("step", &[], pitch.step());
                if pitch.alter != 0 {
                    self.xml.leaf("alter", &[], &pitch.alter.to_string());
                }
                self.xml.leaf("octave", &[], &pitch.octave().to_string());
                self.xml.close();
            }
        }
    }

    fn value(&mut self, event: &Event, head: Option<&Head>) {
        self.xml.leaf("type", &[], event.value.name());
        if event.dotted {
            self.xml.empty("dot", &[]);
        }
        if let Some(head) = head.filter(|head| head.accidental) {
            let sign = match head.pitch.alter {
                ..=-2 => "flat-flat",
                -1 => "flat",
                0 => "natural",
                1 => "sharp",
                2.. => "double-sharp",
            };
            self.xml.leaf("accidental", &[], sign);
        }
        if event.triplet.is_some() {
            self.xml.open("time-modification", &[]);
            self.xml.leaf("actual-notes", &[], "3");
            self.xml.leaf("normal-notes", &[], "2");
            self.xml.close();
        }
    }

    fn ties(&mut self, element: &'static str, [from, on]: [bool; 2]) {
        for kind in [("stop", from), ("start", on)].into_iter().filter_map(|(kind, holds)| holds.then_some(kind)) {
            self.xml.empty(element, &[("type", kind.to_owned())]);
        }
    }

    fn notations(&mut self, event: &Event, ties: [bool; 2]) {
        let tuplet = event.triplet.filter(|edge| *edge != Edge::Inner);
        let plain = event.slurs.is_empty() && event.marks.is_empty();
        if plain && tuplet.is_none() && ties == [false; 2] {
            return;
        }
        self.xml.open("notations", &[]);
        self.ties("tied", ties);
        for edge in &event.slurs {
            self.xml.empty("slur", &[("type", edge_name(*edge)), ("number", "1".to_owned())]);
        }
        if let Some(edge) = tuplet {
            self.xml.empty("tuplet", &[("type", edge_name(edge)), ("bracket", yes_no(false))]);
        }
        let (holds, articulations): (Vec<_>, Vec<_>) = event.marks.iter().partition(|mark| **mark == "fermata");
        if !articulations.is_empty() {
            self.xml.open("articulations", &[]);
            for mark in articulations {
                self.xml.empty(mark, &[]);
            }
            self.xml.close();
        }
        for hold in holds {
            self.xml.empty(hold, &[("type", "upright".to_owned())]);
        }
        self.xml.close();
    }
}

/// Which margins a `page-layout` states.
#[derive(Clone, Copy)]
enum Sides {
    Both,
    OddAndEven,
    This(u32),
}

impl Clef {
    /// Diatonic place of the top line.
    pub fn top_line(self) -> i32 {
        match self {
            Self::Treble => 5 * 7 + 3,
            Self::TrebleDown => 4 * 7 + 3,
            Self::Bass => 3 * 7 + 5,
        }
    }
}

fn yes_no(holds: bool) -> String {
    if holds { "yes" } else { "no" }.to_owned()
}

fn edge_name(edge: Edge) -> String {
    match edge {
        Edge::Start => "start",
        Edge::Inner => "continue",
        Edge::Stop => "stop",
    }
    .to_owned()
}
