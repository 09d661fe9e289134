//! Elements to score: the root, its two forms, and what the parts of the reader share.

use super::bodies::Bodies;
use super::damage::Damage;
use super::element::Element;
use super::pull::Pull;
use super::told::ToldBefore;
use crate::place::Place;
use crate::score::{BarNumber, Flaw, Form, Instructions, Part, Score};
use crate::units::Time;
use std::borrow::Cow;
use std::collections::{HashMap, HashSet};
use std::sync::Arc;

/// More parts than this is no score (the largest real one has about 60).
pub(super) const MOST_PARTS: usize = 4_096;
/// More bars a part than this is no piece of music.
pub(super) const MOST_BARS: usize = 200_000;
/// More notes a bar than this cannot be engraved.
pub(super) const MOST_NOTES_A_BAR: usize = 1_000_000;
/// Most bytes of what a part is called and of the number of a bar: findings tell both over and over.
const LONGEST_NAME: usize = 16 << 10;
/// Flaws beyond this many are the same fault over and over.
const MOST_FLAWS: usize = 500;

/// Reads one document.
///
/// # Errors
/// [`Damage`] where the stream (decoded UTF-8) is not well-formed, is no score, or breaks a limit. What is wrong in a
/// well-formed score is kept in [`Score::flaws`].
pub fn read(stream: impl std::io::Read + Send + 'static) -> Result<Score, Damage> {
    score_of(Pull::new(stream))
}

/// The same where a core is to spare: what a long document holds is the same, and sooner known.
pub(super) fn read_ahead(stream: impl std::io::Read + Send + 'static) -> Result<Score, Damage> {
    score_of(Pull::ahead(stream))
}

fn score_of(pull: Pull) -> Result<Score, Damage> {
    let mut reader = Reader::new(pull);
    reader.root()?;
    reader.rest()
}

/// The reading in progress.
pub(super) struct Reader {
    pub pull: Pull,
    pub score: Score,
    pub states: Vec<PartState>,
    by_id: HashMap<Arc<str>, usize>,
    numbers: HashSet<BarNumber>,
    /// The part that was read last.
    last_part: usize,
    pub bodies: Bodies,
    pub told: ToldBefore,
    /// The element of a part is open, which is to be read next.
    pub waiting: bool,
    /// Something other than a part was met among the children of the root.
    pub beside_parts: bool,
}

/// What a part carries from bar to bar while it is read.
#[derive(Default)]
pub(super) struct PartState {
    /// Divisions of a quarter as a fraction; `None` until stated.
    pub divisions: Option<(i64, i64)>,
    /// Where the next note begins; `None` once the exact time is lost, until the next bar.
    pub cursor: Option<Time>,
    /// Where the note before began, for chords.
    pub onset: Option<Time>,
    /// How far the bar reaches so far.
    pub reach: Option<Time>,
    /// Whether the part's own element has been met.
    pub met: bool,
}

impl Reader {
    /// A reader before the beginning.
    pub fn new(pull: Pull) -> Self {
        Self {
            pull,
            score: Score::default(),
            states: Vec::new(),
            by_id: HashMap::new(),
            numbers: HashSet::new(),
            last_part: 0,
            bodies: Bodies::default(),
            told: ToldBefore::default(),
            waiting: false,
            beside_parts: false,
        }
    }

    /// Opens the root, if it is that of a score.
    pub fn root(&mut self) -> Result<(), Damage> {
        let root = self.pull.child()?;
        self.score.root = self.pull.tag_place();
        self.score.form = match root {
            Some(Element::ScorePartwise) => Form::Partwise,
            Some(Element::ScoreTimewise) => Form::Timewise,
            _ => {
                let name = self.pull.name().to_owned();
                // Whether it is whole decides if it may be passed over.
                self.pull.skip()?;
                self.pull.finish()?;
                let damage = Damage::new(
                    format!("the root element is <{name}>, not a score"),
                    "Export the score as MusicXML (score-partwise or score-timewise).",
                );
                return Err(damage.at(self.score.root).of_other_vocabulary());
            }
        };
        self.score.version = self.pull.value("version").map(Cow::into_owned);
        Ok(())
    }

    /// Reads the children of the root: up to the first part that begins at `end` or behind it, whose element is open then and waits to be
    /// read; false where the document ends before.
    pub fn children(&mut self, end: u64) -> Result<bool, Damage> {
        let timewise = self.score.form == Form::Timewise;
        loop {
            let element = if std::mem::take(&mut self.waiting) { Some(Element::Part) } else { self.pull.child()? };
            let Some(element) = element else { return Ok(false) };
            self.beside_parts |= element != Element::Part;
            match element {
                Element::Work => self.work()?,
                Element::MovementTitle => self.score.movement_title = Some(self.line()?),
                Element::MovementNumber => self.score.movement_number = Some(self.line()?),
                Element::Identification => self.identification()?,
                Element::Defaults => self.defaults()?,
                Element::Credit => self.credit()?,
                Element::PartList => self.part_list()?,
                Element::Part if !timewise => {
                    if u64::from(self.pull.tag_place().offset) >= end {
                        self.waiting = true;
                        return Ok(true);
                    }
                    self.part()?;
                }
                Element::Measure if timewise => self.timewise_measure()?,
                _ => self.pull.skip()?,
            }
        }
    }

    /// Reads what is left, and sees to what can be seen only then.
    pub fn rest(mut self) -> Result<Score, Damage> {
        self.children(u64::MAX)?;
        self.pull.finish()?;
        super::amount::check(&self.score)?;
        self.close();
        self.score.lines = self.pull.lines();
        Ok(self.score)
    }

    /// Where the part begins that waits to be read.
    pub fn waits_at(&self) -> Option<u64> {
        self.waiting.then(|| self.pull.tag_place().offset.into())
    }

    fn part(&mut self) -> Result<(), Damage> {
        let part = self.named_part("part")?;
        if std::mem::replace(&mut self.states[part].met, true) {
            let id = &self.score.parts[part].id;
            let (what, at) = (format!("part \"{id}\" stands twice in the file"), self.pull.tag_place());
            self.flaw(what, "Export the file again; each part may stand once.", at, true);
            return self.pull.skip();
        }
        while let Some(element) = self.pull.child()? {
            match element {
                Element::Measure => {
                    let head = self.bar_head(part)?;
                    self.bar(part, &head)?;
                }
                _ => self.pull.skip()?,
            }
        }
        // What is kept of a part has room to grow to twice its size: given back before the next one is read.
        shrink(&mut self.score.parts[part]);
        self.score.instructions.widths[part].shrink_to_fit();
        self.last_part = part;
        Ok(())
    }

    fn timewise_measure(&mut self) -> Result<(), Damage> {
        let bar = self.score.bar_count();
        let head = self.bar_head(0)?;
        while let Some(element) = self.pull.child()? {
            match element {
                Element::Part => {
                    let part = self.named_part("part")?;
                    if self.score.parts[part].bars.len() > bar {
                        let id = &self.score.parts[part].id;
                        let what = format!("part \"{id}\" stands twice in bar {}", head.number);
                        let at = self.pull.tag_place();
                        self.flaw(what, "Export the file again; each part may stand once in a bar.", at, true);
                        self.pull.skip()?;
                        continue;
                    }
                    self.states[part].met = true;
                    self.bar(part, &head)?;
                }
                _ => self.pull.skip()?,
            }
        }
        // A part that a bar leaves out keeps its place in time.
        for part in 0..self.score.parts.len() {
            if self.score.parts[part].bars.len() == bar && self.states[part].met {
                self.empty_bar(part, &head);
            }
        }
        Ok(())
    }

    /// Index of the part that the open tag's `id` names; a part that no list names is added at the end.
    fn named_part(&mut self, what: &str) -> Result<usize, Damage> {
        let at = self.pull.tag_place();
        let id = self.pull.value("id").map(Cow::into_owned).unwrap_or_default();
        if let Some(&part) = self.by_id.get(id.as_str()) {
            return Ok(part);
        }
        self.flaw(format!("{what} \"{id}\" is not in the part list"), "Export the file again, or add a score-part with this id.", at, true);
        self.add_part(Part { id: id.into(), at, ..Part::default() })
    }

    /// Adds a part to the score.
    pub fn add_part(&mut self, mut part: Part) -> Result<usize, Damage> {
        if self.score.parts.len() >= MOST_PARTS {
            return Err(Damage::new(format!("more than {MOST_PARTS} parts"), "No score has so many; export the file again.").at(part.at));
        }
        check_length("the id of a part", &part.id, part.at)?;
        check_length("the name of a part", &part.name, part.at)?;
        part.staves = part.staves.max(1);
        let index = self.score.parts.len();
        self.by_id.insert(part.id.clone(), index);
        self.score.parts.push(part);
        self.score.instructions.widths.push(Vec::new());
        self.states.push(PartState::default());
        Ok(index)
    }

    /// Whether a part of this id is known.
    pub fn knows_part(&self, id: &str) -> bool {
        self.by_id.contains_key(id)
    }

    /// The file is read: what can only be seen now.
    fn close(&mut self) {
        let bars = self.score.bar_count();
        if self.score.parts.is_empty() {
            let at = self.score.root;
            self.flaw("the score has no parts".into(), "Export the file again; there is nothing to judge in this one.", at, true);
        } else if bars == 0 {
            let at = self.score.root;
            self.flaw("the score has no bars".into(), "Export the file again; there is nothing to judge in this one.", at, true);
        }
        for part in 0..self.score.parts.len() {
            let Part { id, bars: own, at, .. } = &self.score.parts[part];
            let (own, at) = (own.len(), *at);
            if bars > 0 && own == 0 {
                let what = format!("the part list names part \"{id}\", but the file holds no such part");
                self.flaw(what, "Export the file again, or take the part out of the list.", at, true);
            } else if own < bars {
                let what = format!("part \"{id}\" holds {own} bars, another holds {bars}");
                self.flaw(what, "Export the file again; all parts must hold the same bars.", at, true);
            }
        }
        let Instructions { prints, staff_details, bar_numbering, .. } = &mut self.score.instructions;
        prints.sort_by_key(|print| (print.bar, print.part));
        staff_details.sort_by_key(|details| (details.bar, details.part));
        bar_numbering.sort_by_key(|(part, bar, _)| (*bar, *part));
        prints.shrink_to_fit();
        self.score.parts.iter_mut().for_each(shrink);
        self.score.instructions.widths.iter_mut().for_each(Vec::shrink_to_fit);
        self.score.by_bar.close(&self.score.parts);
        super::sanity::check(&mut self.score);
    }

    /// Notes a flaw.
    pub fn flaw(&mut self, what: String, help: &str, at: Place, grave: bool) {
        self.note_flaw(Flaw { what, help: help.to_owned(), at, grave, times: 1 });
    }

    /// The same. One that is not grave and calls for the same help as an earlier one is counted there.
    pub fn note_flaw(&mut self, flaw: Flaw) {
        if let Some(alike) = self.score.flaws.iter_mut().find(|alike| !flaw.grave && !alike.grave && alike.help == flaw.help) {
            alike.times += flaw.times;
        } else if self.score.flaws.len() < MOST_FLAWS {
            self.score.flaws.push(flaw);
        }
    }

    /// Whether there may be flaws that were not noted.
    pub fn has_most_flaws(&self) -> bool {
        self.score.flaws.len() >= MOST_FLAWS
    }

    /// The number in the start tag of a bar of a part, one shared copy of it. Most parts have the same numbers as the one before.
    pub fn bar_number(&mut self, part: usize) -> BarNumber {
        let number = self.pull.value("number").unwrap_or_default();
        let number = number.trim();
        let parts = &self.score.parts;
        let likely = parts.get(part).and_then(|part| parts.get(self.last_part)?.bars.get(part.bars.len()));
        if let Some(bar) = likely.filter(|bar| *bar.number == *number) {
            return bar.number.clone();
        }
        if let Some(known) = self.numbers.get(number) {
            return known.clone();
        }
        let number = BarNumber::from(number.to_owned());
        self.numbers.insert(number.clone());
        number
    }
}

/// Refuses what is too long to be told.
pub(super) fn check_length(what: &str, text: &str, at: Place) -> Result<(), Damage> {
    if text.len() <= LONGEST_NAME {
        return Ok(());
    }
    let what = format!("{what} is {} bytes long, more than {} KiB", text.len(), LONGEST_NAME >> 10);
    Err(Damage::new(what, "No score calls anything so; write a shorter one, or export the file again.").at(at))
}

/// Gives back the room that a part has not grown into.
fn shrink(part: &mut Part) {
    part.bars.shrink_to_fit();
    part.notes.shrink_to_fit();
    part.note_heights.shrink_to_fit();
    part.lyrics.shrink_to_fit();
    part.marks.shrink_to_fit();
    part.signs.shrink_to_fit();
}
