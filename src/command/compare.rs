//! `stavegauge compare`: rounds of one delivery held against each other.

use super::audit::{to_json, unwritten};
use super::output::{self, Wanted};
use super::perform::{gate, perform, round_of};
use super::style::Begun;
use super::{AuditArgs, CLEAN, CompareArgs, FOUND, Failure, Input, RepairsArg, work};
use crate::house::House;
use crate::report::terminal::Look;
use crate::report::{rounds, rounds_json};
use crate::round::{Comparison, Round, compare};
use std::path::Path;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Format {
    Terminal,
    Json,
    Markdown,
}

const FORMATS: [(&str, Format); 3] = [("terminal", Format::Terminal), ("json", Format::Json), ("markdown", Format::Markdown)];

pub(super) fn run(args: &CompareArgs) -> Result<u8, Failure> {
    // Paths first: nothing is audited if one of them is not there.
    if let Some(missing) = args.rounds.iter().find(|path| !path.exists()) {
        return Err(Failure::new(format!("there is no {}", missing.display()), "Give folders, files or JSON reports, the older first."));
    }
    let reports = output::wanted(&args.report, &FORMATS, &[])?;
    if let Some(same) = reports
        .iter()
        .filter_map(|wanted| wanted.file.as_deref())
        .find(|file| args.rounds.iter().any(|round| output::same_file(round, file)))
    {
        return Err(Failure::new(format!("the report would overwrite {}, which is read", same.display()), "Choose another file."));
    }
    let mut failed = Vec::new();
    let rounds: Vec<Round> = args.rounds.iter().map(|path| one(path, args, &reports, &mut failed)).collect::<Result<_, _>>()?;
    let comparison = compare(&rounds);
    for wanted in &reports {
        output::write(&text(&comparison, wanted, args)?, wanted.file.as_deref())?;
    }
    work::failed(&failed)?;
    let house = House::built_in().map_err(|error| Failure::new(error.to_string(), ""))?;
    let gate = gate(Some(args.gate), &house);
    Ok(if comparison.worse(|level| gate.stops(level)) { FOUND } else { CLEAN })
}

/// A round: read from its report, or audited now.
fn one(path: &Path, args: &CompareArgs, reports: &[Wanted<Format>], failed: &mut Vec<String>) -> Result<Round, Failure> {
    if path.extension().is_some_and(|end| end.eq_ignore_ascii_case("json")) {
        return round_of(path);
    }
    let audit = AuditArgs {
        input: Input { paths: vec![path.to_owned()], jobs: args.jobs, color: args.color },
        role: None,
        house: args.house.clone(),
        printed_at: None,
        printed_on: None,
        report: Vec::new(),
        gate: None,
        only: Vec::new(),
        skip: Vec::new(),
        no_stets: false,
        stet_all: None,
        before: None,
        watch: false,
        repairs: RepairsArg::Usual,
        quiet: false,
    };
    let begun = Begun::with(&audit.input.paths, audit.house.as_deref())?;
    for report in reports {
        report.spares(&begun.items)?;
    }
    let audited = perform(&audit, begun)?;
    audited.spares(reports.iter().filter_map(|wanted| wanted.file.as_deref()))?;
    failed.extend(audited.failed);
    Ok(Round::of(&audited.documents))
}

fn text(comparison: &Comparison, wanted: &Wanted<Format>, args: &CompareArgs) -> Result<String, Failure> {
    let mut text = String::new();
    match wanted.format {
        Format::Json => return to_json(&rounds_json::compare(comparison)),
        Format::Markdown => rounds::markdown(comparison, &mut text).map_err(unwritten)?,
        Format::Terminal => {
            let look = Look { color: output::color(args.color, wanted.file.as_deref()), width: output::width(), quiet: false };
            rounds::terminal(comparison, look, &mut text).map_err(unwritten)?;
        }
    }
    Ok(text)
}
