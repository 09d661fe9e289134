//! Bars of a part: prints, attributes, directions, notes.

use super::{Paper, Sides, decimal, part_id};
use crate::support::score::{Bar, BarLine, Clef, Direction, Edge, Event, Head, Part, Print, QUARTER, Says, Stem, Voice};

/// Where syllables stand: tenths above the top line of their *staff*.
const LYRIC_LINE: &str = "-78";

impl Paper {
    pub(super) fn open_bar(&mut self, bar: &Bar) {
        let mut attributes = vec![("number", bar.number.clone())];
        attributes.extend(bar.width.map(|width| ("width", decimal(width))));
        self.xml.open("measure", &attributes);
    }

    /// What a bar of a part holds.
    pub(super) fn bar(&mut self, index: usize, part: &Part, position: usize) {
        let (bar, first) = (&part.bars[position], position == 0);
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
        let distances = print.system_mm.or(print.top_system_mm);
        if print.system_margins.is_some() || distances.is_some() || print.dividers.is_some() {
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
            self.dividers(print.dividers);
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
        let sized = first && (part.staff_size.is_some() || !part.other_staves.is_empty());
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
            let other = part.other_staves.iter().find(|other| sized && other.staff == staff);
            let size = part.staff_size.filter(|_| sized);
            if size.is_none() && other.is_none() && shown.is_none() {
                continue;
            }
            let mut attributes = vec![("number", (staff + 1).to_string())];
            if let Some((_, print, spacing)) = shown {
                attributes.push(("print-object", yes_no(*print)));
                if *spacing {
                    attributes.push(("print-spacing", yes_no(true)));
                }
            }
            match (other, size) {
                (None, None) => self.xml.empty("staff-details", &attributes),
                (Some(other), _) => {
                    self.xml.open("staff-details", &attributes);
                    self.xml.leaf("staff-type", &[], other.kind);
                    self.xml.leaf("staff-size", &[("scaling", decimal(other.percent))], &decimal(other.percent));
                    self.xml.close();
                }
                (None, Some(percent)) => {
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
        if let (Some(head), Some(top)) = (sounding, bar.tops_mm.get(voice.staff).copied().flatten()) {
            let below = part.clefs[voice.staff].top_line() - head.pitch.place;
            let size = part.size_of(voice.staff);
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
                let size: Vec<_> = event.lyric_points.iter().map(|points| ("font-size", decimal(*points))).collect();
                self.xml.leaf("text", &size, &lyric.text);
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
        let size: &[_] = if event.small { &[("size", "cue".to_owned())] } else { &[] };
        self.xml.leaf("type", size, event.value.name());
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
