//! `stavegauge fit`: which papers, staff heights and margins would do.

use super::audit::{role, to_json};
use super::output::{self, Wanted};
use super::planning::{self, Prepared};
use super::style::{Begun, InForce};
use super::work;
use super::{CLEAN, FOUND, Failure, FitArgs};
use crate::house::{House, Kind, Paper, Role};
use crate::musicxml::Source;
use crate::repair::{Grid, Ground, Plan, Sheet, fit, usual_plan};
use crate::report::fitting::{self, DocumentFit};
use crate::report::fitting_page;
use crate::report::terminal::Look;
use crate::units::Mm;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Format {
    Terminal,
    Json,
    Csv,
    Html,
}

const FORMATS: [(&str, Format); 4] = [("terminal", Format::Terminal), ("json", Format::Json), ("csv", Format::Csv), ("html", Format::Html)];
/// Margins that are tried beside those of the file (common practice, no source).
const MARGINS: [Mm; 2] = [Mm(10.0), Mm(15.0)];
/// Steps of staff heights that are tried where nobody says which.
const STEP: f64 = 0.5;
/// Papers that are tried at most where nobody says which.
const MOST_PAPERS: usize = 5;

/// What the arguments ask for, once they are checked.
struct Asked<'a> {
    args: &'a FitArgs,
    in_force: &'a InForce,
    papers: Vec<&'a Paper>,
}

pub(super) fn run(args: &FitArgs) -> Result<u8, Failure> {
    let (items, in_force) = Begun::with(&args.input.paths, args.house.as_deref())?.under_style()?;
    let reports = output::wanted(&args.report, &FORMATS, &items)?;
    if let Some(name) = &args.role {
        role(&in_force.house, name)?;
    }
    let mut papers: Vec<&Paper> = Vec::new();
    for name in &args.paper {
        let paper = planning::paper(&in_force.house, name)?;
        if !papers.contains(&paper) {
            papers.push(paper);
        }
    }
    let asked = Asked { args, in_force: &in_force, papers };
    let one = |source: &Source, found: bool| asked.document(source, found);
    let (documents, failed) = planning::all(&items, one, DocumentFit::damaged)?;
    for wanted in &reports {
        output::write(&text(&documents, wanted, args)?, wanted.file.as_deref())?;
    }
    work::failed(&failed)?;
    let fits = |document: &DocumentFit| !document.damaged && document.fit.as_ref().is_ok_and(|fit| fit.best.is_some());
    Ok(if documents.iter().all(fits) { CLEAN } else { FOUND })
}

impl Asked<'_> {
    fn document(&self, source: &Source, found: bool) -> Option<DocumentFit> {
        let (path, member) = (source.path.clone(), source.member.clone());
        let mut prepared = match Prepared::of(source, self.in_force, self.args.role.as_deref()) {
            Ok(prepared) => prepared,
            Err(damage) if found && damage.other_vocabulary => return None,
            Err(damage) => {
                let damage = damage.account();
                return Some(DocumentFit { member, ..DocumentFit::damaged(path, damage.what, damage.help) });
            }
        };
        let house = &self.in_force.house;
        let reader = prepared.reader;
        let grave = std::mem::take(&mut prepared.grave);
        let ground = prepared.ground(self.in_force);
        let plan = usual_plan(&ground, house, reader);
        let grid = self.grid(&ground, &plan, reader);
        let tried = fit(&ground, &plan, &grid, reader, house.light);
        let assumed = ground.assumed.iter().chain(&grave).cloned().collect();
        let title = reader.map(|reader| reader.title.clone());
        let is_part = reader.is_some_and(|reader| reader.kind == Kind::Part);
        let desks = planning::desks(self.in_force, &path);
        Some(DocumentFit { path, member, reader: title, is_part, desks, damaged: !grave.is_empty(), assumed, fit: Ok(tried) })
    }

    /// The choices that are asked for; else what the house and the reader suggest.
    fn grid(&self, ground: &Ground, plan: &Plan, reader: Option<&Role>) -> Grid {
        let house = &self.in_force.house;
        let lies = plan.page.width > plan.page.height;
        let as_it_lies = |paper: &Paper| {
            let (width, height) = if lies { (paper.height, paper.width) } else { (paper.width, paper.height) };
            let refused = reader.is_some_and(|reader| paper.serves(&reader.name) == Some(false));
            Sheet { name: paper.name.clone(), width, height, refused }
        };
        let mut papers: Vec<Sheet> = if self.papers.is_empty() {
            usual_papers(house, ground, plan, reader).into_iter().map(as_it_lies).collect()
        } else {
            self.papers.iter().map(|paper| as_it_lies(paper)).collect()
        };
        if papers.is_empty() {
            let name = format!("{:.0} x {:.0} mm", plan.page.width.0, plan.page.height.0);
            papers.push(Sheet { name, width: plan.page.width, height: plan.page.height, refused: false });
        }
        let staffs = match (&self.args.staff, reader) {
            (Some(asked), _) => asked.0.iter().copied().map(Mm).collect(),
            (None, Some(reader)) => usual_heights(reader, house, plan.staff),
            (None, None) => vec![plan.staff],
        };
        let margins = if let Some(asked) = &self.args.margins {
            asked.0.iter().map(|margin| [Mm(*margin); 4]).collect()
        } else {
            let usual = MARGINS.map(|margin| [margin; 4]).into_iter().filter(|margins| *margins != plan.page.margins);
            std::iter::once(plan.page.margins).chain(usual).collect()
        };
        Grid { papers, staffs, margins }
    }
}

/// The papers of the house, else that of the file and those that suit the reader.
fn usual_papers<'a>(house: &'a House, ground: &Ground, plan: &Plan, reader: Option<&Role>) -> Vec<&'a Paper> {
    if !house.wanted_papers.is_empty() {
        return house.wanted_papers.iter().filter_map(|name| house.papers.get(name).ok()).collect();
    }
    let present = ground.present.paper.and_then(|_| house.papers.name_of(plan.page.width, plan.page.height)).map(|found| &found.paper.name);
    let suits = |paper: &&Paper| Some(&paper.name) == present || reader.is_some_and(|reader| paper.serves(&reader.name) == Some(true));
    let mut papers: Vec<&Paper> = house.papers.all().iter().filter(suits).collect();
    // That of the file first, so that it is never the one left out.
    papers.sort_by_key(|paper| Some(&paper.name) != present);
    papers.truncate(MOST_PAPERS);
    papers
}

/// Heights from the least that serves the reader to the most, and the present one.
fn usual_heights(reader: &Role, house: &House, present: Mm) -> Vec<Mm> {
    let heights = reader.heights(house.light);
    let (least, most) = (heights.least.value.0, heights.most.value.0);
    let mut all = vec![present.0];
    let mut next = least;
    while next <= most + 1e-9 {
        all.push(next);
        next += STEP;
    }
    all.sort_unstable_by(f64::total_cmp);
    all.dedup_by(|one, other| (*one - *other).abs() < 0.01);
    all.into_iter().map(Mm).collect()
}

fn text(documents: &[DocumentFit], wanted: &Wanted<Format>, args: &FitArgs) -> Result<String, Failure> {
    let failed = |error: &dyn std::fmt::Display| Failure::new(format!("the report could not be written: {error}"), "");
    match wanted.format {
        Format::Json => to_json(&fitting::fits(documents)),
        Format::Html => fitting_page::write(documents).map_err(|error| failed(&error)),
        Format::Csv => fitting::csv(documents).map_err(|error| failed(&error)),
        Format::Terminal => {
            let look = Look { color: output::color(args.input.color, wanted.file.as_deref()), width: output::width(), quiet: false };
            let mut text = String::new();
            fitting::write(documents, look, &mut text).map_err(|error| failed(&error))?;
            Ok(text)
        }
    }
}
