//! How often the rules of spacing speak: of systems as they are, and of the same systems made wider or narrower.
//!
//! ```text
//! cargo bench --bench rates -- FOLDER [--apart TEXT]
//! ```
//!
//! Every score below the folder is measured; then, one at a time, the bars of a system (of up to [`SAMPLE`] in each file, evenly
//! chosen, last systems of movements left out) are made wider or narrower by a factor, and the file is measured anew. A system
//! counts as flagged where a rule of spacing says *must* or *should change* of it. Files whose path holds the text after `--apart` are
//! counted in rows of their own. It measures the rules, not their speed.

use stavegauge::house::{Basis, House};
use stavegauge::measured::{Measured, measure};
use stavegauge::musicxml::{Source, read};
use stavegauge::rule::subject::{Reader, judge, vocabulary};
use stavegauge::rule::{Examples, Level, RuleBook};
use stavegauge::score::Score;
use std::path::Path;
use std::process::ExitCode;

/// Systems of a file that are made wider and narrower.
const SAMPLE: usize = 12;
/// What their widths are multiplied by.
const FACTORS: [f64; 7] = [1.0, 1.25, 1.5, 2.0, 0.8, 0.7, 0.6];
/// The rules that speak of a system's spacing.
const RULES: [&str; 4] = ["signs-collide", "crowded-system", "tight-system", "loose-system"];

/// Systems looked at and flagged.
#[derive(Default, Clone, Copy)]
struct Tally {
    all: usize,
    flagged: usize,
    /// Not flagged, for a reason that a rule names.
    excused: usize,
}

impl Tally {
    fn add(&mut self, verdict: Verdict) {
        self.all += 1;
        self.flagged += usize::from(verdict == Verdict::Flagged);
        self.excused += usize::from(verdict == Verdict::Excused);
    }

    /// Flagged, in percent of all; of those without a reason where `without` says so.
    fn percent(self, without: bool) -> String {
        let number = |count: usize| u32::try_from(count).map_or(f64::NAN, f64::from);
        let of = self.all - if without { self.excused } else { 0 };
        if of == 0 { "-".to_owned() } else { format!("{:.1}", number(self.flagged) / number(of) * 100.0) }
    }
}

/// What the rules say of a system.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Verdict {
    Flagged,
    Excused,
    Silent,
}

/// A row of the table.
#[derive(Default, Clone, Copy)]
struct Row {
    as_is: Tally,
    changed: [Tally; FACTORS.len()],
}

struct Engine {
    house: House,
    rules: RuleBook,
}

/// Where a system stands: index of its page, and of the system on it.
type Spot = (usize, usize);

impl Engine {
    /// For every system whose spacing is known: where it stands, what is said of it, whether it ends its movement.
    fn verdicts(&self, mut measured: Measured, only: Option<Spot>) -> Vec<(Spot, Verdict, bool)> {
        let reader = Reader { role: None, basis: Basis::Unknown, light: None };
        let enabled = |rule: &str| RULES.contains(&rule);
        let mut found = Vec::new();
        for (page_index, mut page) in std::mem::take(&mut measured.pages).into_iter().enumerate() {
            for (index, system) in std::mem::take(&mut page.systems).into_iter().enumerate() {
                let spot = (page_index, index);
                if system.spacing.is_err() || only.is_some_and(|only| only != spot) {
                    continue;
                }
                let last = system.ends_movement;
                // Judged alone: findings of one page are told in one line otherwise.
                page.systems = vec![system];
                measured.pages = vec![page];
                let outcome = judge(&self.rules, &[], &measured, &reader, &enabled);
                let flagged = outcome.findings.iter().any(|finding| finding.level != Level::Note);
                let verdict = match flagged {
                    true => Verdict::Flagged,
                    false if outcome.excused.is_empty() => Verdict::Silent,
                    false => Verdict::Excused,
                };
                found.push((spot, verdict, last));
                page = measured.pages.remove(0);
                page.systems.clear();
            }
        }
        found
    }

    fn measured(&self, score: &Score) -> Measured {
        measure(score, &score.instructions, &self.house)
    }

    fn count(&self, score: &mut Score, row: &mut Row) {
        let as_is = self.verdicts(self.measured(score), None);
        for (_, verdict, _) in &as_is {
            row.as_is.add(*verdict);
        }
        let inner: Vec<Spot> = as_is.iter().filter(|(.., last)| !last).map(|(spot, ..)| *spot).collect();
        let step = inner.len().div_ceil(SAMPLE).max(1);
        for spot in inner.iter().step_by(step) {
            let bars = {
                let measured = self.measured(score);
                let (first, last) = measured.pages[spot.0].systems[spot.1].bars.index;
                first as usize - 1..last as usize
            };
            for (factor, tally) in FACTORS.into_iter().zip(&mut row.changed) {
                let before = score.instructions.widths.clone();
                for width in score.instructions.widths.iter_mut().flat_map(|part| part.get_mut(bars.clone()).into_iter().flatten()) {
                    *width = width.get().map(|width| width * factor).into();
                }
                let verdict = self.verdicts(self.measured(score), Some(*spot));
                tally.add(verdict.first().map_or(Verdict::Silent, |(_, verdict, _)| *verdict));
                score.instructions.widths = before;
            }
        }
    }
}

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|argument| argument != "--bench").collect();
    let (folder, apart) = match arguments.as_slice() {
        [folder] => (folder, None),
        [folder, option, apart] if option == "--apart" => (folder, Some(apart)),
        _ => {
            eprintln!("usage: cargo bench --bench rates -- FOLDER [--apart TEXT]");
            return ExitCode::from(2);
        }
    };
    let Ok(house) = House::built_in() else { return ExitCode::from(2) };
    let roles: Vec<&str> = house.roles.names().collect();
    let Ok(rules) = RuleBook::built_in(&vocabulary(), &roles, Examples::PassedOver) else { return ExitCode::from(2) };
    let engine = Engine { house, rules };
    let mut rows = [Row::default(); 2];
    let mut files = [0; 2];
    let walk = ignore::WalkBuilder::new(folder).standard_filters(false).sort_by_file_path(Path::cmp).build();
    let paths = walk.flatten().map(ignore::DirEntry::into_path);
    for path in paths.filter(|path| path.extension().is_some_and(|end| end == "mxl" || end == "musicxml" || end == "xml")) {
        let which = usize::from(apart.is_some_and(|apart| path.to_string_lossy().contains(apart.as_str())));
        for source in Source::open(&path).into_iter().flatten() {
            let Some(mut score) = source.stream().ok().and_then(|stream| read(stream).ok()) else { continue };
            files[which] += 1;
            engine.count(&mut score, &mut rows[which]);
        }
    }
    println!("{:<24}{:>8}{:>9}{:>9}", "% of systems flagged", "files", "systems", "as is");
    println!("{:<24}{:>8}{:>9}{}", "", "", "sample", FACTORS.map(|factor| format!("{:>9}", format!("x{factor}"))).concat());
    for (name, (row, files)) in ["scores", "files set apart"].into_iter().zip(rows.iter().zip(files)).take(1 + usize::from(apart.is_some()))
    {
        println!("{name:<24}{files:>8}{:>9}{:>9}", row.as_is.all, row.as_is.percent(false));
        for (label, without) in [("", false), ("  without a reason", true)] {
            let changed = row.changed.map(|tally| format!("{:>9}", tally.percent(without))).concat();
            println!("{label:<24}{:>8}{:>9}{changed}", "", row.changed[0].all);
        }
    }
    ExitCode::SUCCESS
}
