//! `stavegauge castoff`: a new casting off, as a sheet for the engraver.

use super::audit::{role, to_json};
use super::output::{self, Wanted};
use super::paths;
use super::planning::{self, Prepared};
use super::style::InForce;
use super::work;
use super::{CLEAN, CastoffArgs, FOUND, Failure, FirstArg};
use crate::cast::PagesWanted;
use crate::house::Paper;
use crate::musicxml::{Damage, Source};
use crate::page::Side;
use crate::repair::{CastingSheet, Plan, cast_off, impossible, usual_plan, worth_now};
use crate::report::casting::DocumentCasting;
use crate::report::terminal::Look;
use crate::report::{casting_json, casting_table};
use crate::units::Mm;

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
    let items = paths::items(&args.input.paths)?;
    let in_force = InForce::of(args.house.as_deref(), &items)?;
    let reports = output::wanted(&args.report, &FORMATS, &items)?;
    if let Some(name) = &args.role {
        role(&in_force.house, name)?;
    }
    let paper = args.paper.as_deref().map(|name| planning::paper(&in_force.house, name)).transpose()?;
    let asked = Asked { args, in_force: &in_force, paper };
    let mut documents: Vec<DocumentCasting> = Vec::new();
    let mut failed = Vec::new();
    for (item, done) in items.iter().zip(work::each(&items, &args.input, |item| {
        planning::each(item, |source, found| asked.document(source, found), &DocumentCasting::damaged)
    })?) {
        documents.extend(done.unwrap_or_else(|| {
            failed.push(item.name());
            Vec::new()
        }));
    }
    if failed.is_empty() {
        paths::not_empty(&documents)?;
    }
    for wanted in &reports {
        output::write(&text(&documents, wanted, args)?, wanted.file.as_deref())?;
    }
    work::failed(&failed)?;
    Ok(if documents.iter().any(|document| document.sheet.is_err()) { FOUND } else { CLEAN })
}

impl Asked<'_> {
    fn document(&self, source: &Source, found: bool) -> Option<DocumentCasting> {
        let (path, member) = (source.path.clone(), source.member.clone());
        let prepared = match Prepared::of(source, self.in_force, self.args.role.as_deref()) {
            Ok(prepared) => prepared,
            Err(Damage { other_vocabulary: true, .. }) if found => return None,
            Err(damage) => return Some(DocumentCasting { path, member, reader: None, sheet: Err((damage.what, damage.help)) }),
        };
        let ground = prepared.ground(&self.in_force.house);
        let usual = usual_plan(&ground, &self.in_force.house, prepared.reader);
        let plan = self.plan(usual.clone());
        let sheet = match cast_off(&ground, &plan) {
            Ok(made) => {
                let now = worth_now(&ground, &usual);
                Ok(CastingSheet::of(&ground, plan, &made, now))
            }
            Err(why) => Err(impossible(&ground, &plan, why)),
        };
        Some(DocumentCasting { path, member, reader: prepared.reader.map(|reader| reader.title.clone()), sheet })
    }

    /// The plan of a file with what is asked for.
    fn plan(&self, mut plan: Plan) -> Plan {
        let args = self.args;
        if let Some(paper) = self.paper {
            let lies = plan.page.width > plan.page.height;
            (plan.page.width, plan.page.height) = if lies { (paper.height, paper.width) } else { (paper.width, paper.height) };
        }
        if let Some(staff) = args.staff {
            plan.staff = Mm(staff);
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
