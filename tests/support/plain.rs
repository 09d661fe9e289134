//! Neutral pages that nobody could object to, in a few lines: paper, staff height, gaps.
//!
//! The music is a plain tune that keeps within the staves, the title block and running heads stand where
//! they should. A rule fixture takes such a page and spoils one thing.

use super::cast::{PagePlan, SystemPlan, cast};
use super::engrave::engrave;
use super::score::{Bar, BarLine, Clef, Credit, Direction, Event, Group, Margins, Page, Part, Pitch, Print, Says, Score, Value, Voice};

/// Quarters a minute of the neutral tune: a bar lasts three seconds.
const TEMPO: u32 = 80;
/// Bars from one rehearsal mark to the next: fewer than the 24 that libraries allow.
const MARKS_EVERY: usize = 20;
/// Room for the title block and for running heads, mm below the top margin.
pub const TITLE_MM: f64 = 26.0;
/// See [`TITLE_MM`].
pub const HEAD_MM: f64 = 8.0;

/// ISO B4, a common paper of orchestral parts.
pub const B4: (f64, f64) = (250.0, 353.0);
/// A3, of scores and of large print.
pub const A3: (f64, f64) = (297.0, 420.0);
/// A4.
pub const A4: (f64, f64) = (210.0, 297.0);
/// ISO B5, small enough for short files.
pub const B5: (f64, f64) = (176.0, 250.0);
/// ISO B5 lying, for pages of one system.
pub const B5_OBLONG: (f64, f64) = (250.0, 176.0);
/// 9 x 12 inches, a common American paper of parts.
pub const NINE_BY_TWELVE: (f64, f64) = (228.6, 304.8);

/// Pages in the making.
pub struct Sheet {
    staff_mm: f64,
    /// Paper and margins.
    pub paper: Page,
    /// The parts, still without bars.
    pub parts: Vec<Part>,
    /// Brackets at the left.
    pub groups: Vec<Group>,
    /// White between the staves of a system, mm, unless a system says otherwise.
    pub inner_mm: Vec<f64>,
    /// Bars of a system, unless a system says otherwise.
    pub bars: usize,
    /// The pages so far; to be changed at will before [`Sheet::score`].
    pub pages: Vec<PagePlan>,
    /// Printed number of the first page: 2 makes a part of two pages lie open.
    pub first_number: u32,
    /// Quarters a minute; `None` says nothing of the tempo.
    pub tempo: Option<u32>,
    /// Bars from one rehearsal mark to the next; `None` writes none.
    pub marks_every: Option<usize>,
    /// Bars of rest that a lone player gets before each turn.
    pub rests_at_turns: usize,
}

impl Sheet {
    /// One oboe, six bars a line.
    pub fn oboe(staff_mm: f64, paper: (f64, f64), margin_mm: f64) -> Self {
        Self::new(staff_mm, paper, margin_mm, vec![part("Oboe", "Ob.", "wind.reed.oboe", &[Clef::Treble])], 6)
    }

    /// A piano, five bars a line.
    pub fn piano(staff_mm: f64, paper: (f64, f64), margin_mm: f64) -> Self {
        Self::new(staff_mm, paper, margin_mm, vec![part("Piano", "Pno.", "keyboard.piano", &[Clef::Treble, Clef::Bass])], 5)
    }

    /// Up to seven winds in score, one family, five bars a line.
    pub fn winds(players: usize, staff_mm: f64, paper: (f64, f64), margin_mm: f64) -> Self {
        let all = [
            ("Flute 1", "Fl. 1", "wind.flutes.flute", Clef::Treble),
            ("Flute 2", "Fl. 2", "wind.flutes.flute", Clef::Treble),
            ("Oboe", "Ob.", "wind.reed.oboe", Clef::Treble),
            ("Bassoon 1", "Bn. 1", "wind.reed.bassoon", Clef::Bass),
            ("Bassoon 2", "Bn. 2", "wind.reed.bassoon", Clef::Bass),
            ("Bassoon 3", "Bn. 3", "wind.reed.bassoon", Clef::Bass),
            ("Contrabassoon", "Cbn.", "wind.reed.contrabassoon", Clef::Bass),
        ];
        let parts = all[..players].iter().map(|(name, short, sound, clef)| part(name, short, sound, &[*clef])).collect();
        let mut sheet = Self::new(staff_mm, paper, margin_mm, parts, 5);
        sheet.groups = vec![Group { first: 0, last: players - 1, name: "", symbol: "bracket" }];
        sheet
    }

    /// Any parts; staves 1.75 staff heights apart.
    pub fn new(staff_mm: f64, (width, height): (f64, f64), margin_mm: f64, parts: Vec<Part>, bars: usize) -> Self {
        let staves: usize = parts.iter().map(|part| part.clefs.len()).sum();
        let paper = Page::of(width, height, Margins::of(margin_mm, margin_mm));
        let inner_mm = vec![1.75 * staff_mm; staves - 1];
        Self {
            staff_mm,
            paper,
            parts,
            groups: Vec::new(),
            inner_mm,
            bars,
            pages: Vec::new(),
            first_number: 1,
            tempo: Some(TEMPO),
            marks_every: Some(MARKS_EVERY),
            rests_at_turns: 2,
        }
    }

    /// Adds a page of so many systems, each so many millimetres below the one before. The first page has
    /// room for a title block, later ones for running heads.
    #[must_use]
    pub fn page(mut self, systems: usize, above_mm: f64) -> Self {
        let top_mm = if self.pages.is_empty() { TITLE_MM } else { HEAD_MM };
        let system = SystemPlan { bars: self.bars, above_mm, gaps_mm: self.inner_mm.clone(), ..SystemPlan::default() };
        self.pages.push(PagePlan { top_mm, systems: vec![system; systems], ..PagePlan::default() });
        self
    }

    /// The same with one thing changed.
    #[must_use]
    pub fn changed(mut self, change: impl FnOnce(&mut Self)) -> Self {
        change(&mut self);
        self
    }

    /// The score with its music, before any fault is put in.
    pub fn score(self) -> Score {
        self.score_with(|_| {})
    }

    /// The same with a change of the music before it is cast off.
    pub fn score_with(self, change: impl FnOnce(&mut Score)) -> Score {
        let Self { staff_mm, paper, mut parts, groups, mut pages, first_number, tempo, marks_every, rests_at_turns: rests, .. } = self;
        let bars = pages.iter().flat_map(|page| &page.systems).map(|system| system.bars).sum();
        for (index, part) in parts.iter_mut().enumerate() {
            part.bars = tune(&part.clefs, bars, index > 0);
        }
        if let Some(tempo) = tempo {
            let says = vec![Says::Words("Andante".to_owned(), true), Says::Metronome(tempo)];
            parts[0].bars[0].voices[0].events[0].directions.push(Direction { above: true, says, tempo: Some(tempo) });
        }
        if let Some(bars) = marks_every {
            rehearsal_marks(&mut parts[0], bars);
        }
        let mut score = Score {
            staff_mm: Some(staff_mm),
            page: Some(paper),
            usual_gaps: Some([2.5 * staff_mm, HEAD_MM, 1.75 * staff_mm]),
            promises_breaks: true,
            title: "Study in White".to_owned(),
            composer: "Orla Venncastle".to_owned(),
            rights: "Harrowmere Edition".to_owned(),
            groups,
            parts,
            ..Score::default()
        };
        if first_number != 1 {
            pages[0].number = Some(first_number);
        }
        let numbers = numbers(&pages);
        rests_at_turns(&mut score, &pages, &numbers, rests);
        change(&mut score);
        engrave(&mut score);
        cast(&mut score, &pages);
        credits(&mut score, &numbers);
        score
    }
}

/// Printed numbers of the pages: each the next one, unless stated or after blank pages.
fn numbers(pages: &[PagePlan]) -> Vec<u32> {
    let next = |last: &mut u32, page: &PagePlan| {
        *last = page.number.unwrap_or(*last + 1 + page.blanks_before.unwrap_or(0));
        Some(*last)
    };
    pages.iter().scan(0, next).collect()
}

/// A part without bars.
pub fn part(name: &str, short: &str, sound: &'static str, clefs: &[Clef]) -> Part {
    Part {
        name: name.to_owned(),
        short: short.to_owned(),
        instruments: vec![(name.to_owned(), sound)],
        transpose: None,
        clefs: clefs.to_vec(),
        staff_size: None,
        other_staves: Vec::new(),
        bars: Vec::new(),
    }
}

/// Bars numbered from 1 with the given voices.
pub fn staff_bars(voices: Vec<Vec<Voice>>) -> Vec<Bar> {
    let bar = |(index, voices): (usize, Vec<Voice>)| Bar { number: (index + 1).to_string(), voices, ..Bar::default() };
    voices.into_iter().enumerate().map(bar).collect()
}

/// Rhythms of the tune, each a bar of common time, all of about the same width.
const RHYTHMS: [&[(Value, bool)]; 4] = [
    &[(Value::Half, false), (Value::Quarter, false), (Value::Quarter, false)],
    &[(Value::Quarter, false), (Value::Quarter, false), (Value::Half, false)],
    &[(Value::Quarter, false), (Value::Half, false), (Value::Quarter, false)],
    &[(Value::Quarter, true), (Value::Eighth, false), (Value::Half, false)],
];
/// What goes along with the tune on every other staff.
const LONG: [&[(Value, bool)]; 2] = [&[(Value::Whole, false)], &[(Value::Half, false), (Value::Half, false)]];

/// The tune on the topmost staff, long notes on the others.
fn tune(clefs: &[Clef], bars: usize, goes_along: bool) -> Vec<Bar> {
    let voices = |bar| {
        let staves = clefs.iter().enumerate();
        staves.map(|(staff, clef)| tune_bar(staff, *clef, bar, goes_along || staff > 0)).collect()
    };
    let mut bars = staff_bars((0..bars).map(voices).collect());
    if let Some(first) = bars.first_mut() {
        first.key = Some(0);
        first.time = Some((4, 4));
        first.print = Some(Print { numbering: Some("system"), ..Print::default() });
    }
    if let Some(last) = bars.last_mut() {
        last.right = Some(BarLine::Final);
    }
    bars
}

fn tune_bar(staff: usize, clef: Clef, bar: usize, goes_along: bool) -> Voice {
    let bottom = clef.top_line() - 8;
    let contour = [3, 4, 5, 2, 4, 6, 5];
    let rhythm = if goes_along { LONG[bar % LONG.len()] } else { RHYTHMS[bar % RHYTHMS.len()] };
    let note = |(index, (value, dotted)): (usize, &(Value, bool))| {
        let place = bottom + contour[(bar * 2 + index + staff) % contour.len()];
        Event::note(*value, *dotted, &[Pitch { place, alter: 0 }])
    };
    Voice { staff, stems: None, events: rhythm.iter().enumerate().map(note).collect() }
}

/// Ends a movement before a bar: final bar line, numbers start again.
pub fn end_movement(score: &mut Score, next: usize) {
    for part in &mut score.parts {
        part.bars[next - 1].right = Some(BarLine::Final);
        for (bar, number) in part.bars[next..].iter_mut().zip(1..) {
            bar.number = number.to_string();
        }
    }
}

/// A heading on a page, so many millimetres from the top of the paper.
pub fn heading(score: &mut Score, page: u32, y_mm: f64) {
    let width = score.page.expect("paper is stated").width;
    let words = "II. Still Water".to_owned();
    let (justify, valign) = ("center", "top");
    score.credits.push(Credit { page, kind: "subtitle", words, x_mm: width / 2.0, y_mm, justify, valign, points: 16.0 });
}

/// Rehearsal marks every so many bars.
fn rehearsal_marks(part: &mut Part, every: usize) {
    for (bar, mark) in part.bars.iter_mut().skip(every).step_by(every).zip('A'..='Z') {
        let says = vec![Says::Rehearsal(mark.to_string())];
        bar.voices[0].events[0].directions.push(Direction { above: true, says, tempo: None });
    }
}

/// A lone player gets bars of rest before each turn: at the foot of right-hand pages, and of those that a blank page faces.
fn rests_at_turns(score: &mut Score, pages: &[PagePlan], numbers: &[u32], rests: usize) {
    let [part] = score.parts.as_mut_slice() else { return };
    let mut end: usize = 0;
    for (index, number) in numbers[..pages.len() - 1].iter().enumerate() {
        end += pages[index].systems.iter().map(|system| system.bars).sum::<usize>();
        if number % 2 == 1 || pages[index + 1].blanks_before.is_some() {
            rest(part, end - rests, rests);
        }
    }
    gather_rests(part);
}

/// Silences bars of a part.
pub fn rest(part: &mut Part, first: usize, count: usize) {
    for bar in &mut part.bars[first..first + count] {
        for voice in &mut bar.voices {
            let ticks = voice.events.iter().map(|event| event.ticks).sum();
            let directions = voice.events.iter_mut().flat_map(|event| std::mem::take(&mut event.directions)).collect();
            voice.events = vec![Event { directions, ..Event::bar_rest(ticks) }];
        }
    }
}

/// Gathers two or more bars of rest in a row, never across a mark, a key or time, or a bar line that says something.
pub fn gather_rests(part: &mut Part) {
    let says_something = |bar: &Bar| {
        let marked = bar.voices.iter().flat_map(|voice| &voice.events).any(|event| !event.directions.is_empty());
        marked || bar.key.is_some() || bar.time.is_some() || bar.left.is_some()
    };
    let mut start = 0;
    while start < part.bars.len() {
        let mut end = start + 1;
        while end < part.bars.len()
            && part.bars[end - 1].is_empty()
            && part.bars[end].is_empty()
            && part.bars[end - 1].right.is_none()
            && !says_something(&part.bars[end])
        {
            end += 1;
        }
        if end - start > 1 {
            part.bars[start].gathers = Some(u32::try_from(end - start).expect("few bars"));
        }
        start = end;
    }
}

/// Title block, foot line, running heads with the name of the part (in a score that of the piece) and the page number.
fn credits(score: &mut Score, numbers: &[u32]) {
    let Some(page) = score.page else { return };
    let of_part = score.parts.len() == 1;
    let name = if of_part { score.parts[0].name.clone() } else { "Score".to_owned() };
    let credit = |page, kind, words: &str, x_mm, y_mm, justify, points| Credit {
        page,
        kind,
        words: words.to_owned(),
        x_mm,
        y_mm,
        justify,
        valign: "top",
        points,
    };
    let (left, middle, right) = (page.odd.left, page.width / 2.0, page.width - page.odd.right);
    let top = page.odd.top;
    score.credits = vec![
        credit(1, "title", &score.title, middle, top, "center", 20.0),
        credit(1, "composer", &score.composer, right, top + 10.0, "right", 11.0),
        credit(1, "part name", &name, left, top, "left", 12.0),
    ];
    // 6 mm below the music, on the sheet all the same
    let foot = page.height - (page.odd.bottom - 6.0).max(2.0);
    score.credits.push(Credit { valign: "bottom", ..credit(1, "rights", &score.rights, middle, foot, "center", 8.0) });
    for (index, number) in (2..).zip(numbers.iter().skip(1)) {
        let (kind, head) = if of_part { ("part name", &name) } else { ("", &score.title) };
        score.credits.push(credit(index, kind, head, middle, top, "center", 9.0));
        score.credits.push(credit(index, "page number", &number.to_string(), right, top, "right", 11.0));
    }
}
