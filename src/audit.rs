//! One document audited: read, measured, judged, its places resolved to lines. Reports show what stands here.

pub mod drawn;
pub mod mending;
pub mod set;
pub mod stets;

use self::drawn::Drawn;
use self::mending::{Mending, Repairs, Work, mend};
use crate::delivery::{Copy, CopyReader, Course, TakenFrom};
use crate::house::{Basis, CopyMapping, FirstPage, House, Stet};
use crate::measured::{Measured, PaperUse, Printing, hints, measure_printed};
use crate::musicxml::{self, Damage, Source, Spot, locate, read_together};
use crate::place::{Lines, Place};
use crate::rule::subject::{self, Reader};
use crate::rule::{Excused, Finding, NotJudged, RuleBook};
use crate::score::{Flaw, Score};
use crate::units::Mm;
use std::sync::Arc;

/// The reader a document was judged for, and how that is known.
#[derive(Debug, Clone, PartialEq)]
pub struct RoleTaken {
    /// Name of the role; `None` where nobody can tell.
    pub name: Option<String>,
    /// How it is known.
    pub basis: Basis,
    /// The ground, in words.
    pub because: String,
}

/// A finding with the lines it points at.
#[derive(Debug, Clone)]
pub struct Placed {
    /// What was found.
    pub finding: Finding,
    /// How much harm its rule's fault does: what does most comes first, from 0.
    pub harm: u32,
    /// Its primary place in the text.
    pub spot: Option<Spot>,
    /// Its second place: where an inherited value is used.
    pub also: Option<Spot>,
    /// Its number in the correction list of its copy, from 1; the same in every round.
    pub number: u32,
    /// Who lets it stand, and why.
    pub stet: Option<Arc<Stet>>,
}

impl Placed {
    /// Whether it counts: nobody lets it stand.
    pub fn counts(&self) -> bool {
        self.stet.is_none()
    }
}

/// A document in figures.
#[derive(Debug, Clone, PartialEq)]
pub struct Summary {
    /// Pages with music; `None` where it is not stated where pages begin.
    pub pages: Option<usize>,
    /// Systems; `None` where it is not stated where they begin.
    pub systems: Option<usize>,
    /// Bars.
    pub bars: usize,
    /// Movements.
    pub movements: usize,
    /// Share of its own size at which it is printed; `None` where that cannot be known.
    pub printed_at: Option<f64>,
    /// Height of the staves on paper, of the size that most have; `None` without a scaling.
    pub staff_height: Option<Mm>,
    /// The paper that most pages are on; `None` where no size is stated.
    pub paper: Option<PaperUse>,
}

impl Summary {
    /// Height of the staves in the file's own millimetres.
    pub fn file_staff_height(&self) -> Option<Mm> {
        self.staff_height.zip(self.printed_at).map(|(height, share)| height * (1.0 / share))
    }

    /// Whether it is printed at another size than its own.
    pub fn resized(&self) -> Option<f64> {
        self.printed_at.filter(|share| (share - 1.0).abs() > 1e-9)
    }

    fn of(measured: &Measured) -> Self {
        Self {
            pages: measured.pages_known.then_some(measured.pages.len()),
            systems: measured.systems_known.then(|| measured.systems().count()),
            bars: measured.bars.len(),
            movements: measured.movements.len(),
            printed_at: measured.printed_at.value(),
            staff_height: measured.staff_height.value(),
            // Of several papers with as many pages, the first.
            paper: measured.papers.iter().rev().max_by_key(|paper| paper.pages.len()).cloned(),
        }
    }
}

/// One document audited.
#[derive(Debug)]
pub struct DocumentAudit {
    /// The file as it was named; `-` for standard input.
    pub path: String,
    /// The member of a container.
    pub member: Option<String>,
    /// Whom it was judged for.
    pub role: RoleTaken,
    /// What it is in figures; `None` where the document could not be read.
    pub summary: Option<Summary>,
    /// What was found, in order.
    pub findings: Vec<Placed>,
    /// What could not be judged, and why.
    pub not_judged: Vec<NotJudged>,
    /// What would have been found but for a reason.
    pub excused: Vec<Excused>,
    /// What is right, in words.
    pub good: Vec<String>,
    /// What was tried to mend it.
    pub mending: Mending,
    /// Its pages as pictures with what was measured, where pictures are wanted and can be made.
    pub drawn: Option<Box<Drawn>>,
    /// The program itself failed on it: nothing is known of the document.
    pub crashed: bool,
    /// The highest number given to a correction of this copy so far, in this round or an earlier one.
    pub last_number: u32,
    /// What of it is held against the other documents of the run; `None` where it could not be read.
    pub copy: Option<Box<Copy>>,
}

impl DocumentAudit {
    /// Whether it has a part of this name or id; every document has nobody's part.
    fn has_part(&self, part: Option<&str>) -> bool {
        let parts = || self.copy.iter().flat_map(|copy| &copy.parts);
        part.is_none_or(|part| parts().any(|own| *own.id == *part || *own.name == *part))
    }
}

/// The rule that speaks where a document cannot be read.
const DAMAGED_FILE: &str = "damaged-file";

/// What documents are judged by.
pub struct Bar<'a> {
    /// The house style.
    pub house: &'a House,
    /// Its rules.
    pub rules: &'a RuleBook,
    /// The role said on the command line.
    pub stated_role: Option<&'a str>,
    /// How the copies are printed.
    pub printing: &'a Printing,
    /// Whether a rule, by its id, is to be judged.
    pub enabled: &'a (dyn Fn(&str) -> bool + Sync),
    /// When repairs are worked out.
    pub repairs: Repairs,
    /// Whether pages are drawn.
    pub draws: bool,
    /// There are more cores than documents: a long one may be read on two.
    pub cores_to_spare: bool,
    /// The path of a file from the folder of the house style, whose patterns it is held against.
    pub below: &'a (dyn Fn(&str) -> String + Sync),
}

/// Reads one document. What is wrong in a well-formed one stands in its flaws.
///
/// # Errors
/// [`Damage`] where it cannot be read to its end.
pub fn score_of(source: &Source) -> Result<Score, Damage> {
    musicxml::read(source.unchecked_stream()?)
}

/// Audits every document of one file; a file that cannot be opened is one damaged document.
pub fn file(path: &std::path::Path, bar: &Bar) -> Vec<DocumentAudit> {
    documents(Source::open(path), &path.to_string_lossy(), bar, false)
}

/// Audits what was opened under a name. What is XML of another kind is passed over if it was `found`, not named.
pub fn documents(opened: Result<Vec<Source>, Damage>, path: &str, bar: &Bar, found: bool) -> Vec<DocumentAudit> {
    match opened {
        Ok(sources) => sources.iter().filter_map(|source| document(source, bar, found)).collect(),
        Err(damage) => vec![damaged(path.replace(std::path::MAIN_SEPARATOR_STR, "/"), None, None, damage, bar)],
    }
}

fn document(source: &Source, bar: &Bar, found: bool) -> Option<DocumentAudit> {
    let read = if bar.cores_to_spare { read_together(source) } else { score_of(source) };
    let mut score = match read {
        Ok(score) => score,
        Err(damage) if found && damage.other_vocabulary => return None,
        Err(damage) => return Some(damaged(source.path.clone(), source.member.clone(), Some(source), damage, bar)),
    };
    score.instructions.begins_verso = bar.house.first_page == Some(FirstPage::Verso);
    let measure = || measure_printed(&score, &score.instructions, bar.house, bar.printing);
    let (measured, course) = rayon::join(measure, || Course::of(&score));
    let below = (bar.below)(&source.path);
    let role = role_of(&score, bar, bar.house.copy_of(&below));
    let reader = reader_of(&role, &below, bar);
    let mut outcome = subject::judge(bar.rules, &score.flaws, &measured, &reader, bar.enabled);
    let good = subject::good(&measured, &outcome, bar.enabled);
    // Drawn before repairs are tried: they spend the score.
    let pages = bar.draws.then(|| drawn::pages(&score, &measured)).flatten();
    let work = mending::work(&score, &measured, bar, &outcome.findings);
    let spent = !matches!(work, Work::Try(..));
    let (places, lines) = (places(&outcome.findings), std::mem::take(&mut score.lines));
    let take_copy = || {
        let from = TakenFrom { path: &source.path, below: &below, reader: CopyReader::of(reader.role), course, measured: &measured };
        let copy = Copy::of(&mut score, spent, from, bar.house);
        let mending = mend(work, &mut score, &measured, &reader, bar, &mut outcome);
        give_back(score, bar);
        (copy, mending)
    };
    let ((copy, mending), spots) = rayon::join(take_copy, || spots(source, &lines, &places));
    let summary = Some(Summary::of(&measured));
    let sight = drawn::Sight::of(&reader);
    let drawn = if let Some(pages) = pages {
        Some(Box::new(Drawn { pages, measured, sight }))
    } else {
        give_back(measured, bar);
        None
    };
    Some(DocumentAudit {
        path: source.path.clone(),
        member: source.member.clone(),
        role,
        summary,
        findings: placed(outcome.findings, spots, bar.rules),
        not_judged: outcome.not_judged,
        excused: outcome.excused,
        good,
        mending,
        drawn,
        crashed: false,
        last_number: 0,
        copy: Some(Box::new(copy)),
    })
}

/// Gives back the memory of what is done with: with cores to spare nobody waits for it.
fn give_back<T: Send + 'static>(thing: T, bar: &Bar) {
    if bar.cores_to_spare {
        rayon::spawn(|| drop(thing));
    }
}

/// A file on which the program itself failed: no rule was judged, and that is not the fault of the score.
pub fn crashed(path: &str, bar: &Bar) -> DocumentAudit {
    let rules = bar.rules.rules().filter(|rule| (bar.enabled)(&rule.id));
    let reason = "the program itself failed on this file";
    DocumentAudit {
        path: path.to_owned(),
        member: None,
        role: RoleTaken { name: bar.stated_role.map(str::to_owned), basis: stated_basis(bar), because: String::new() },
        summary: None,
        findings: Vec::new(),
        not_judged: rules.map(|rule| NotJudged { rule: rule.id.clone(), reason: reason.to_owned() }).collect(),
        excused: Vec::new(),
        good: Vec::new(),
        mending: Mending::default(),
        drawn: None,
        crashed: true,
        last_number: 0,
        copy: None,
    }
}

/// A document that cannot be read to its end: that is its one finding, whatever rules are asked for. A copy that
/// nobody could look at must not pass.
fn damaged(path: String, member: Option<String>, source: Option<&Source>, damage: Damage, bar: &Bar) -> DocumentAudit {
    let damage = damage.account();
    let flaw = Flaw { what: damage.what, help: damage.help, at: damage.at.unwrap_or_default(), grave: true, times: 1 };
    let mut outcome = subject::judge_damage(bar.rules, &flaw, &|rule| rule == DAMAGED_FILE || (bar.enabled)(rule));
    if damage.at.is_none() {
        // A fault of the file as a whole points nowhere in its text.
        for finding in &mut outcome.findings {
            finding.at = None;
        }
    }
    DocumentAudit {
        path,
        member,
        role: RoleTaken { name: bar.stated_role.map(str::to_owned), basis: stated_basis(bar), because: String::new() },
        summary: None,
        findings: place(source, &Lines::default(), outcome.findings, bar.rules),
        not_judged: outcome.not_judged,
        excused: Vec::new(),
        good: Vec::new(),
        mending: Mending::default(),
        drawn: None,
        crashed: false,
        last_number: 0,
        copy: None,
    }
}

fn stated_basis(bar: &Bar) -> Basis {
    if bar.stated_role.is_some() { Basis::Stated } else { Basis::Unknown }
}

/// The reader that a document is judged for.
fn reader_of<'a>(role: &RoleTaken, below: &str, bar: &Bar<'a>) -> Reader<'a> {
    let known = role.name.as_deref().and_then(|name| bar.house.roles.get(name).ok());
    let light = bar.house.copy_of(below).and_then(|copy| copy.light).or(bar.house.light);
    Reader { role: known, basis: role.basis, light }
}

/// Whom a score is for: as said, else as the house maps it, else as its sounds, names and parts suggest.
pub fn role_of(score: &Score, bar: &Bar, copy: Option<&CopyMapping>) -> RoleTaken {
    if let Some(name) = bar.stated_role {
        return RoleTaken { name: Some(name.to_owned()), basis: Basis::Stated, because: "as said on the command line".to_owned() };
    }
    if let Some(name) = copy.and_then(|copy| copy.role.clone()) {
        return RoleTaken { name: Some(name), basis: Basis::House, because: "as the house style says".to_owned() };
    }
    let inferred = bar.house.instruments.infer(&hints(score));
    RoleTaken { name: inferred.role, basis: inferred.basis, because: inferred.because }
}

/// Findings with the lines they point at in a text, if there is one, of which lines may have been counted.
fn place(source: Option<&Source>, lines: &Lines, findings: Vec<Finding>, rules: &RuleBook) -> Vec<Placed> {
    let spots = source.map(|source| spots(source, lines, &places(&findings))).unwrap_or_default();
    placed(findings, spots, rules)
}

/// The places that findings point at.
fn places(findings: &[Finding]) -> Vec<Place> {
    findings.iter().flat_map(|finding| [finding.at, finding.also]).flatten().collect()
}

/// Resolves places in one more pass over the text. One that cannot be read twice leaves its findings without lines; they stand all the same.
fn spots(source: &Source, lines: &Lines, places: &[Place]) -> Vec<Spot> {
    if places.is_empty() { Vec::new() } else { locate(source, lines, places).unwrap_or_default() }
}

/// Findings with the lines of the places they point at.
fn placed(findings: Vec<Finding>, spots: Vec<Spot>, rules: &RuleBook) -> Vec<Placed> {
    let mut spots = spots.into_iter();
    findings
        .into_iter()
        .map(|finding| {
            let mut next = |place: Option<Place>| place.and_then(|_| spots.next());
            let (spot, also) = (next(finding.at), next(finding.also));
            let harm = rules.find(&finding.rule).map_or(0, |rule| rule.harm);
            Placed { finding, harm, spot, also, number: 0, stet: None }
        })
        .collect()
}
