//! `stavegauge castoff`: a new casting off, as a sheet for the engraver.

use super::audit::{role, to_json};
use super::output::{self, Wanted};
use super::planning::{self, Prepared};
use super::style::{Begun, InForce};
use super::work;
use super::writing::Target;
use super::{CLEAN, CastoffArgs, FOUND, Failure, FirstArg, StaffArg};
use crate::cast::PagesWanted;
use crate::house::{CopiesAre, Paper, Role};
use crate::measured::measure;
use crate::musicxml::{Damage, Source};
use crate::page::Side;
use crate::repair::{CastOff, CastingSheet, Ground, HandBreaks, Plan, Relaid, cast_off, impossible, rewrite, usual_plan, worth_now};
use crate::report::casting::DocumentCasting;
use crate::report::terminal::Look;
use crate::report::{casting_json, casting_table};
use crate::room::across::Music;
use crate::score::Score;
use crate::units::Mm;
use std::io::Read;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Format {
    Terminal,
    Json,
    Csv,
}

const FORMATS: [(&str, Format); 3] = [("terminal", Format::Terminal), ("json", Format::Json), ("csv", Format::Csv)];

/// What the arguments ask for, once they are checked.
struct Asked<'a> {
    args: &'a CastoffArgs,
    in_force: &'a InForce,
    paper: Option<&'a Paper>,
}

pub(super) fn run(args: &CastoffArgs) -> Result<u8, Failure> {
    let (items, in_force) = Begun::with(&args.input.paths, args.house.as_deref())?.under_style()?;
    let reports = output::wanted(&args.report, &FORMATS, &items)?;
    if let Some(name) = &args.role {
        role(&in_force.house, name)?;
    }
    let paper = args.paper.as_deref().map(|name| planning::paper(&in_force.house, name)).transpose()?;
    let twice = args.no_break.iter().find(|bar| args.breaks.contains(bar) || args.page_break.contains(bar));
    if let Some(bar) = twice {
        return Err(Failure::new(format!("a break before bar {bar} is wanted and forbidden at once"), "Take it out of one of the lists."));
    }
    let asked = Asked { args, in_force: &in_force, paper };
    let target = Target::of(args, &items)?;
    let reported = |target: &Target| reports.iter().filter_map(|wanted| wanted.file.as_deref()).any(|file| target.takes(file, &items));
    if target.as_ref().is_some_and(reported) {
        return Err(Failure::new("a report and the new score would go into one file", "Choose another file for one of them."));
    }
    let one = |source: &Source, found: bool| asked.document(source, found);
    let (documents, failed) = planning::all(&items, one, DocumentCasting::damaged)?;
    let refused = target.as_ref().map_or(Ok(0), |target| target.write(&documents))?;
    for wanted in &reports {
        output::write(&text(&documents, wanted, args)?, wanted.file.as_deref())?;
    }
    work::failed(&failed)?;
    Ok(if refused > 0 || documents.iter().any(|document| document.damaged || document.sheet.is_err()) { FOUND } else { CLEAN })
}

impl Asked<'_> {
    fn document(&self, source: &Source, found: bool) -> Option<DocumentCasting> {
        let (path, member) = (source.path.clone(), source.member.clone());
        let mut prepared = match Prepared::of(source, self.in_force, self.args.role.as_deref()) {
            Ok(prepared) => prepared,
            Err(damage) if found && damage.other_vocabulary => return None,
            Err(damage) => {
                let damage = damage.account();
                return Some(DocumentCasting { member, ..DocumentCasting::damaged(path, damage.what, damage.help) });
            }
        };
        let reader = prepared.reader;
        let grave = std::mem::take(&mut prepared.grave);
        let ground = prepared.ground(self.in_force);
        let usual = usual_plan(&ground, &self.in_force.house, reader);
        let mut plan = self.plan(usual.clone(), reader);
        let mut written = None;
        let breaks = self.breaks(ground.score);
        let made = breaks.and_then(|breaks| {
            plan.breaks = breaks;
            cast_off(&ground, &plan).map_err(|why| impossible(&ground, &plan, why))
        });
        let sheet = match made {
            Ok(made) => {
                if self.args.write.is_some() || self.args.in_place {
                    written = Some(self.written(source, &ground, &plan, &made));
                }
                let now = worth_now(&ground, &usual);
                plan.assumed.extend(grave.iter().cloned());
                Ok(CastingSheet::of(&ground, plan, &made, now))
            }
            Err(why) => Err(why),
        };
        let house = &self.in_force.house;
        let desks = planning::desks(self.in_force, &path);
        let sheets = sheet.as_ref().map_or(0, |sheet: &CastingSheet| match house.copies_are {
            CopiesAre::Loose | CopiesAre::FoldOut => sheet.then.pages,
            CopiesAre::Bound => sheet.then.leaves.div_ceil(2),
            CopiesAre::Screen => 0,
        });
        let title = reader.map(|reader| reader.title.clone());
        Some(DocumentCasting { path, member, reader: title, damaged: !grave.is_empty(), sheet, desks, sheets, written })
    }

    /// The text with the new layout, read back to see that it says what was promised.
    fn written(&self, source: &Source, ground: &Ground, plan: &Plan, made: &CastOff) -> Result<String, String> {
        const LOST: &str = "the new layout does not read back as it was planned; this is a fault of the program, please report it";
        let relaid = Relaid::of(ground, plan, made).map_err(|why| impossible(ground, plan, why).0)?;
        let mut text = String::new();
        let read = |damage: Damage| damage.account().what;
        source.stream().map_err(read)?.read_to_string(&mut text).map_err(|error| read(Damage::from_io(error, "reading it again")))?;
        let text = rewrite(&text, ground.score, &relaid).map_err(str::to_owned)?;
        let again = Source::spool("the new text", text.as_bytes()).map_err(read)?;
        let mut score = again.first().ok_or(LOST)?.stream().map_err(read).and_then(|stream| crate::musicxml::read(stream).map_err(read))?;
        score.instructions.begins_verso = ground.score.instructions.begins_verso;
        let measured = measure(&score, &score.instructions, &self.in_force.house);
        let index = |bar: usize| u32::try_from(bar).unwrap_or(u32::MAX);
        let promised =
            relaid.systems.iter().map(|system| (system.new_page.is_some(), (index(system.bars.start + 1), index(system.bars.end))));
        let found = measured.pages.iter().flat_map(|page| page.systems.iter().map(|system| (system.number == 1, system.bars.index)));
        if promised.eq(found) { Ok(text) } else { Err(LOST.to_owned()) }
    }

    /// The breaks that are asked for by hand.
    ///
    /// # Errors
    /// Bars that are not there, that stand several times, or inside a multi-bar rest: what is wrong, and what to do.
    fn breaks(&self, score: &Score) -> Result<HandBreaks, (String, String)> {
        let all = |names: &[String]| names.iter().map(|name| bar_named(score, name)).collect::<Result<Vec<usize>, _>>();
        let breaks = HandBreaks { systems: all(&self.args.breaks)?, pages: all(&self.args.page_break)?, never: all(&self.args.no_break)? };
        let music = Music::of(score);
        match breaks.systems.iter().chain(&breaks.pages).find(|bar| music.is_gathered(**bar)) {
            Some(bar) => Err((
                format!("bar {} lies inside a multi-bar rest, and no system can begin there", score.bar_number(*bar)),
                "Name its first bar, or part the rest in the score.".to_owned(),
            )),
            None => Ok(breaks),
        }
    }

    /// The plan of a file with what is asked for.
    fn plan(&self, mut plan: Plan, reader: Option<&Role>) -> Plan {
        let args = self.args;
        if let Some(paper) = self.paper {
            let lies = plan.page.width > plan.page.height;
            (plan.page.width, plan.page.height) = if lies { (paper.height, paper.width) } else { (paper.width, paper.height) };
        }
        match (args.staff, reader) {
            (Some(StaffArg::Millimetres(staff)), _) => plan.staff = Mm(staff),
            (Some(StaffArg::Ideal), Some(reader)) => plan.staff = reader.heights(self.in_force.house.light).ideal.value,
            (Some(StaffArg::Ideal), None) => {
                plan.assumed.push("who reads it is not known: the staff height is that of the file".to_owned());
            }
            (None, _) => {}
        }
        if let Some(margin) = args.margins {
            plan.page.margins = [Mm(margin); 4];
        }
        match args.first {
            Some(FirstArg::Recto) => plan.first = Some(Side::Recto),
            Some(FirstArg::Verso) => plan.first = Some(Side::Verso),
            Some(FirstArg::Either) => plan.first = None,
            None => {}
        }
        plan.wanted = match (args.pages, args.multiple_of) {
            (Some(pages), _) => PagesWanted::Exactly(usize::from(pages)),
            (None, Some(multiple)) => PagesWanted::MultipleOf(usize::from(multiple)),
            (None, None) => PagesWanted::Any,
        };
        plan.keep_breaks = args.keep_breaks;
        plan
    }
}

/// The bar of a number, or of a count from 1 with `#` before it.
fn bar_named(score: &Score, name: &str) -> Result<usize, (String, String)> {
    let name = name.trim();
    let count = name.strip_prefix('#').and_then(|count| count.parse::<usize>().ok());
    let mut found: Vec<usize> = match count {
        Some(count) => count.checked_sub(1).filter(|bar| *bar < score.bar_count()).into_iter().collect(),
        None => (0..score.bar_count()).filter(|bar| *score.bar_number(*bar) == *name).collect(),
    };
    match (found.pop(), found.first()) {
        (Some(bar), None) => Ok(bar),
        (Some(_), Some(first)) => Err((
            format!("{} bars have the number {name}", found.len() + 1),
            format!("Name it by its count in the file: the first is #{}.", first + 1),
        )),
        (None, _) => Err((format!("there is no bar {name}"), format!("The bars are counted from #1 to #{}.", score.bar_count()))),
    }
}

fn text(documents: &[DocumentCasting], wanted: &Wanted<Format>, args: &CastoffArgs) -> Result<String, Failure> {
    let failed = |error: &dyn std::fmt::Display| Failure::new(format!("the report could not be written: {error}"), "");
    match wanted.format {
        Format::Json => to_json(&casting_json::cast_offs(documents)),
        Format::Csv => casting_json::csv(documents).map_err(|error| failed(&error)),
        Format::Terminal => {
            let look = Look { color: output::color(args.input.color, wanted.file.as_deref()), width: output::width(), quiet: false };
            let mut text = String::new();
            casting_table::write(documents, look, &mut text).map_err(|error| failed(&error))?;
            Ok(text)
        }
    }
}
