//! Advice with proof: repairs that were worked out, and judged by the same rules as the copy itself.
//!
//! Rules say by which repairs their faults may be mended. Where such a rule has found something, the copy is cast off anew, measured and
//! judged as if it had been written that way; what that leaves of the faults is told. No rule knows anything of it.

use super::Bar;
use super::drawn::{self, Drawn, Sight};
use crate::house::CopiesAre;
use crate::measured::{Measured, measure, measure_printed};
use crate::page::Side;
use crate::repair::{Ground, Plan, Relaid, Rework, cast_off, impossible, usual_plan};
use crate::rule::subject::{self, Reader};
use crate::rule::{Finding, Level, Mends, Merge, Outcome, RuleBook};
use crate::score::{Form, Score};
use crate::units::Mm;
use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// When repairs are worked out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Repairs {
    /// Where something asks for it, of copies up to a size.
    Usual,
    /// Where something asks for it.
    Always,
    /// Never.
    Never,
}

/// Bars times staves up to which repairs are worked out unasked: forty staves and five hundred bars. To cast off and judge again takes longer
/// than to audit, and in a gate larger scores should not be waited for.
const USUAL_SIZE: usize = 20_000;

/// Work on one repair that nobody asked for: what a part of some 4,000 bars of notes of all lengths takes, more than most operas have (from
/// memory); of whole notes, of which a line holds thirty bars, one of 600.
const USUAL_WORK: u64 = 75_000_000;

/// What was tried on one copy.
#[derive(Debug, Default)]
pub struct Mending {
    /// Why nothing was tried although a finding asks for it.
    pub not_tried: Option<String>,
    /// Findings now: must change, should change, query.
    pub now: [usize; 3],
    /// The file nests its parts in its measures: it must be converted before a new layout can be written into it.
    pub timewise: bool,
    /// Pages now.
    pub pages_now: usize,
    /// What was tried, the best first.
    pub tried: Vec<Repair>,
    /// The best as pictures, where pictures are wanted and it leaves less that is wrong.
    pub drawn: Option<Box<Drawn>>,
}

/// One repair that was tried.
#[derive(Debug)]
pub struct Repair {
    /// Of which kind it is.
    pub mends: Mends,
    /// Height of the staves, in the file's own millimetres.
    pub staff: Mm,
    /// Left, right, top and bottom margin.
    pub margins: [Mm; 4],
    /// Side that it begins on.
    pub first: Side,
    /// What came of it; `None` where there is no casting off of that kind, with the reason.
    pub outcome: Result<Judged, String>,
}

/// A repair, judged.
#[derive(Debug)]
pub struct Judged {
    /// Pages with music.
    pub pages: usize,
    /// Systems.
    pub systems: usize,
    /// Findings then: must change, should change, query.
    pub levels: [usize; 3],
    /// Fewer of the grave than now; of as many, fewer of the less grave.
    pub better: bool,
    /// How many findings of each rule there are now, and then, where that differs.
    pub rules: BTreeMap<Arc<str>, [usize; 2]>,
}

/// What a repair does to the faults of one rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Mended {
    /// The repair.
    pub by: Mends,
    /// How many there are of the rule now.
    pub before: usize,
    /// How many there are then.
    pub after: usize,
}

impl Repair {
    /// Whether it leaves less that is wrong.
    pub fn is_better(&self) -> bool {
        self.outcome.as_ref().is_ok_and(|judged| judged.better)
    }

    /// What is done, in words.
    pub fn words(&self) -> String {
        let staff = || format!("{} mm", short(self.staff));
        match self.mends {
            Mends::CastingOff => "cast off anew on the same paper".to_owned(),
            Mends::FirstSide => format!("cast off anew from a {} page", if self.first == Side::Verso { "left-hand" } else { "right-hand" }),
            Mends::StaffHeight => format!("cast off anew with staves of {}", staff()),
            Mends::OneMoreSystem => {
                format!("cast off anew with staves of {} and margins of {} mm", staff(), short(self.margins[2]))
            }
        }
    }

    /// The options of `castoff` that give it.
    pub fn options(&self) -> Vec<String> {
        match self.mends {
            Mends::CastingOff => Vec::new(),
            Mends::FirstSide => vec!["--first".to_owned(), if self.first == Side::Verso { "verso" } else { "recto" }.to_owned()],
            Mends::StaffHeight => vec!["--staff".to_owned(), short(self.staff)],
            Mends::OneMoreSystem => {
                vec!["--staff".to_owned(), short(self.staff), "--margins".to_owned(), short(self.margins[2])]
            }
        }
    }
}

/// A length to a hundredth, no trailing zeros.
fn short(length: Mm) -> String {
    let text = format!("{:.2}", length.0);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

impl Mending {
    /// What the best repair that helps against a rule does to it; `None` where none was tried or none helps.
    pub fn of_rule(&self, rule: &str) -> Option<Mended> {
        self.tried.iter().filter(|repair| repair.is_better()).find_map(|repair| {
            let [before, after] = *repair.outcome.as_ref().ok()?.rules.get(rule)?;
            (after < before).then_some(Mended { by: repair.mends, before, after })
        })
    }

    /// What is known of a rule's faults, as a sentence to stand behind its advice.
    fn sentence(&self, rule: &str) -> Option<String> {
        let judged = self.tried.iter().filter(|repair| repair.outcome.is_ok()).count();
        if judged == 0 {
            return None;
        }
        let Some(Mended { by, before, after }) = self.of_rule(rule) else {
            let what = if judged == 1 { "a new casting off does not mend it" } else { "no casting off that was tried mends it" };
            return Some(format!("Computed and judged anew: {what}."));
        };
        let repair = self.tried.iter().find(|repair| repair.mends == by)?;
        let what = match (before, after) {
            (1, 0) => "it is gone".to_owned(),
            (2, 0) => "both such faults are gone".to_owned(),
            (before, 0) => format!("all {before} such faults are gone"),
            (before, after) => format!("{after} such {} left instead of {before}", if after == 1 { "fault is" } else { "faults are" }),
        };
        Some(format!("Computed and judged anew: {}, {what}.", repair.words()))
    }
}

/// Findings by level: must change, should change, query.
fn levels(findings: &[Finding]) -> [usize; 3] {
    [Level::Error, Level::Warning, Level::Note].map(|level| findings.iter().filter(|finding| finding.level == level).count())
}

/// How many faults of each rule there are. What is told once of a page counts each time it occurs there; what is told once of a part or a
/// file has one cause, and counts once.
fn by_rule(findings: &[Finding], rules: &RuleBook) -> BTreeMap<Arc<str>, usize> {
    let mut counts = BTreeMap::new();
    for finding in findings {
        let one_cause = rules.find(&finding.rule).is_some_and(|rule| matches!(rule.merge, Merge::Part | Merge::File));
        *counts.entry(finding.rule.clone()).or_default() += if one_cause { 1 } else { finding.count };
    }
    counts
}

/// A repair that is to be tried.
struct Candidate {
    mends: Mends,
    plan: Plan,
}

/// What is to be done about findings.
pub(super) enum Work {
    /// Nothing asks for a repair, or none is wanted.
    Nothing,
    /// Something does, and why no repair is tried.
    Refuse(&'static str),
    /// These are tried, at this share of the score's own size.
    Try(BTreeSet<Mends>, f64),
}

/// The repairs that a finding asks for.
fn asked<'a>(finding: &Finding, bar: &Bar<'a>) -> &'a [Mends] {
    bar.rules.find(&finding.rule).map(|rule| &rule.mended_by[..]).unwrap_or_default()
}

/// What is to be done about what was found in a score.
pub(super) fn work(score: &Score, measured: &Measured, bar: &Bar, findings: &[Finding]) -> Work {
    let wanted: BTreeSet<Mends> = findings.iter().flat_map(|finding| asked(finding, bar)).copied().collect();
    if bar.repairs == Repairs::Never || wanted.is_empty() || !measured.pages_known {
        return Work::Nothing;
    }
    let staves: usize = score.parts.iter().map(|part| usize::from(part.staves)).sum();
    if bar.repairs == Repairs::Usual && score.bar_count().saturating_mul(staves) > USUAL_SIZE {
        return Work::Refuse("a score of this size is cast off anew only with --repairs always");
    }
    let share = measured.printed_at.value();
    share.map_or(Work::Refuse("it is not known at which size it is printed"), |share| Work::Try(wanted, share))
}

/// Works out what would mend what was found, judges it, and puts that behind the advice. The score is spent: it is left in the last layout.
pub(super) fn mend(work: Work, score: &mut Score, measured: &Measured, reader: &Reader, bar: &Bar, outcome: &mut Outcome) -> Mending {
    let mut mending = Mending {
        now: levels(&outcome.findings),
        pages_now: measured.pages.len(),
        timewise: score.form == Form::Timewise,
        ..Mending::default()
    };
    let asks = |finding: &Finding| asked(finding, bar);
    let (wanted, share) = match work {
        Work::Try(wanted, share) => (wanted, share),
        Work::Refuse(why) => {
            mending.not_tried = Some(why.to_owned());
            return mending;
        }
        Work::Nothing => return mending,
    };
    let before = by_rule(&outcome.findings, bar.rules);
    let mut best = mending.now;
    for (Candidate { mends, plan }, rework) in reworked(score, measured, share, reader, bar, &wanted) {
        let judged = rework.map(|rework| {
            rework.put_on(score);
            let then = measure_printed(score, &score.instructions, bar.house, bar.printing);
            let found = subject::judge(bar.rules, &score.flaws, &then, reader, bar.enabled).findings;
            let levels = levels(&found);
            let judged = Judged {
                pages: then.pages.len(),
                systems: then.systems().count(),
                levels,
                better: levels < mending.now,
                rules: differing(&before, &by_rule(&found, bar.rules)),
            };
            if bar.draws && levels < best {
                best = levels;
                let pages = drawn::pages(score, &then);
                mending.drawn = pages.map(|pages| Box::new(Drawn { pages, measured: then, sight: Sight::of(reader) }));
            }
            judged
        });
        let first = plan.first.unwrap_or(Side::Recto);
        mending.tried.push(Repair { mends, staff: plan.staff, margins: plan.page.margins, first, outcome: judged });
    }
    // A stable sort: of equals the one that changes least comes first.
    mending.tried.sort_by(merit);
    for finding in outcome.findings.iter_mut().filter(|finding| !asks(finding).is_empty()) {
        if let Some(sentence) = mending.sentence(&finding.rule) {
            let space = if finding.advice.is_empty() { "" } else { " " };
            finding.advice = format!("{}{space}{sentence}", finding.advice);
        }
    }
    mending
}

/// Rules with more or fewer faults than before: how many before, how many after.
fn differing(before: &BTreeMap<Arc<str>, usize>, after: &BTreeMap<Arc<str>, usize>) -> BTreeMap<Arc<str>, [usize; 2]> {
    let names: BTreeSet<&Arc<str>> = before.keys().chain(after.keys()).collect();
    let counts = |rule: &Arc<str>| [before, after].map(|counts| counts.get(rule).copied().unwrap_or_default());
    names.into_iter().map(|rule| (rule.clone(), counts(rule))).filter(|(_, [before, after])| before != after).collect()
}

/// Every repair that is wanted, with the layout that it gives, or why there is none.
fn reworked(
    score: &mut Score,
    measured: &Measured,
    share: f64,
    reader: &Reader,
    bar: &Bar,
    wanted: &BTreeSet<Mends>,
) -> Vec<(Candidate, Result<Rework, String>)> {
    // A casting off is made in the file's own millimetres.
    let own = (share - 1.0).abs().gt(&1e-9).then(|| measure(score, &score.instructions, bar.house));
    let ground = Ground::of(score, own.as_ref().unwrap_or(measured), bar.house, bar.rules, reader.role);
    let mut turns_work = false;
    let mut all = Vec::new();
    for candidate in candidates(&ground, measured, share, reader, bar, wanted) {
        // Another first side is worth its blank page only where the turns ask for it.
        if candidate.mends == Mends::FirstSide && turns_work {
            continue;
        }
        let cast = cast_off(&ground, &candidate.plan);
        turns_work |= cast.as_ref().is_ok_and(|made| made.faults().turns <= 0.0);
        let relaid = cast.and_then(|made| Relaid::of(&ground, &candidate.plan, &made));
        let rework = relaid.map(|relaid| Rework::of(ground.score, &relaid)).map_err(|why| impossible(&ground, &candidate.plan, why).0);
        all.push((candidate, rework));
    }
    all
}

/// What leaves less that is wrong comes first, then what takes fewer pages.
fn merit(one: &Repair, other: &Repair) -> Ordering {
    let key = |repair: &Repair| repair.outcome.as_ref().map_or((true, [0; 3], 0), |judged| (false, judged.levels, judged.pages));
    key(one).cmp(&key(other))
}

/// The repairs to be tried, what changes least first.
fn candidates(ground: &Ground, measured: &Measured, share: f64, reader: &Reader, bar: &Bar, wanted: &BTreeSet<Mends>) -> Vec<Candidate> {
    let mut usual = usual_plan(ground, bar.house, reader.role);
    if bar.repairs == Repairs::Usual {
        usual.most_work = USUAL_WORK;
    }
    let plan = |mends: Mends| match mends {
        Mends::CastingOff => Some(usual.clone()),
        Mends::FirstSide => {
            let other = if usual.first? == Side::Recto { Side::Verso } else { Side::Recto };
            (ground.copies_are == CopiesAre::Bound).then(|| Plan { first: Some(other), ..usual.clone() })
        }
        Mends::StaffHeight => {
            let ideal = reader.role?.heights(reader.light).ideal.value;
            Some(Plan { staff: ideal * (1.0 / share), ..usual.clone() })
        }
        Mends::OneMoreSystem => {
            let more = measured.pages.iter().find_map(|page| page.one_more)?;
            let page = crate::repair::Page { margins: [more.margin * (1.0 / share); 4], ..usual.page };
            Some(Plan { staff: more.staff_height * (1.0 / share), page, ..usual.clone() })
        }
    };
    let mut found: Vec<Candidate> = Vec::new();
    for mends in wanted {
        if let Some(plan) = plan(*mends)
            && found.iter().all(|other| other.plan != plan)
        {
            found.push(Candidate { mends: *mends, plan });
        }
    }
    found
}
