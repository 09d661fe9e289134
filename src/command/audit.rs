//! `stavegauge audit`: measure, judge, report.

use super::output::{self, Wanted};
use super::perform::{Audited, perform};
use super::style::Begun;
use super::work;
use super::{AuditArgs, CLEAN, FOUND, Failure, watch};
use crate::house::{House, Role};
use crate::report::plain::plain_json;
use crate::report::terminal::{self, Look};
use crate::report::{AuditReport, Verdict, json, junit, markdown, proof, sarif};
use crate::rule::{Rule, RuleBook};
use std::borrow::Cow;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Format {
    Terminal,
    Json,
    Sarif,
    Junit,
    Markdown,
    Html,
}

const FORMATS: [(&str, Format); 6] = [
    ("terminal", Format::Terminal),
    ("json", Format::Json),
    ("sarif", Format::Sarif),
    ("junit", Format::Junit),
    ("markdown", Format::Markdown),
    ("html", Format::Html),
];

/// A report of an audit that is asked for.
pub(super) type WantedReport = Wanted<Format>;

pub(super) fn run(args: &AuditArgs) -> Result<u8, Failure> {
    let begun = Begun::with(&args.input.paths, args.house.as_deref())?;
    let reports = output::wanted(&args.report, &FORMATS, &begun.items)?;
    if let Some(file) = &args.stet_all {
        output::new_file(file)?;
    }
    if args.watch {
        return watch::run(args, &reports);
    }
    let audited = perform(args, begun)?;
    audited.spares(reports.iter().filter_map(|wanted| wanted.file.as_deref()))?;
    write(&audited, &reports, args)?;
    if let (Some(file), Some((text, count))) = (&args.stet_all, &audited.baseline) {
        output::write(text, Some(file))?;
        let stets = if *count == 1 { "1 stet".to_owned() } else { format!("{count} stets") };
        work::talk(&format!("{stets} written to {}; each still needs its reason.", file.display()));
    }
    work::failed(&audited.failed)?;
    let code = if audited.report().verdict() == Verdict::Pass { CLEAN } else { FOUND };
    // The process ends here: the system takes back at once what it would take long to give back piece by piece.
    std::mem::forget(audited);
    Ok(code)
}

/// Writes every report that is asked for.
pub(super) fn write(audited: &Audited, reports: &[WantedReport], args: &AuditArgs) -> Result<(), Failure> {
    for wanted in reports {
        let text = text(&audited.report(), wanted, args)?;
        output::write(&text, wanted.file.as_deref())?;
    }
    Ok(())
}

fn text(report: &AuditReport, wanted: &Wanted<Format>, args: &AuditArgs) -> Result<String, Failure> {
    match wanted.format {
        Format::Json => json::text(report).map(shown).map_err(unwritten),
        Format::Sarif => to_json(&sarif::sarif(report)),
        Format::Junit => {
            let mut bytes = Vec::new();
            junit::write(report, &mut bytes).map_err(unwritten)?;
            String::from_utf8(bytes).map_err(unwritten)
        }
        Format::Html => proof::write(report).map_err(unwritten),
        Format::Markdown => {
            let mut text = String::new();
            markdown::write(report, &mut text).map_err(unwritten)?;
            Ok(text)
        }
        Format::Terminal => {
            let look = Look { color: output::color(args.input.color, wanted.file.as_deref()), width: output::width(), quiet: args.quiet };
            let mut text = String::new();
            terminal::write(report, look, &mut text).map_err(unwritten)?;
            Ok(text)
        }
    }
}

/// A report that could not be put into words.
pub(super) fn unwritten(error: impl std::fmt::Display) -> Failure {
    Failure::new(format!("the report could not be written: {error}"), "")
}

/// A report as JSON text, one line end at its end.
pub(super) fn to_json(report: &impl serde::Serialize) -> Result<String, Failure> {
    serde_json::to_string_pretty(report).map(shown).map_err(unwritten)
}

/// JSON as it is written: what steers a terminal spelt out, one line end at its end.
fn shown(mut json: String) -> String {
    json.push('\n');
    match plain_json(&json) {
        Cow::Borrowed(_) => json,
        Cow::Owned(shown) => shown,
    }
}

/// The reader that is named.
pub(super) fn role<'a>(house: &'a House, name: &str) -> Result<&'a Role, Failure> {
    let all = || format!("There are: {}.", house.roles.names().collect::<Vec<_>>().join(", "));
    // Where no name is near, the error itself tells them all.
    house.roles.get(name).map_err(|error| Failure::new(error.to_string(), if error.nearest.is_some() { all() } else { String::new() }))
}

/// The rule that is named, by id or former name.
pub(super) fn rule<'a>(rules: &'a RuleBook, name: &str) -> Result<&'a Rule, Failure> {
    rules.find(name).ok_or_else(|| {
        let help = rules.nearest(name).map_or_else(String::new, |nearest| format!("Did you mean {nearest}? "));
        let all: Vec<String> = rules.rules().map(|rule| rule.id.to_string()).collect();
        Failure::new(format!("there is no rule {name}"), format!("{help}There are: {}.", all.join(", ")))
    })
}
