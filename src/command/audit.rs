//! `stavegauge audit`: measure, judge, report.

use super::output::{self, Wanted};
use super::paths::{self, Item};
use super::style::InForce;
use super::work;
use super::{AuditArgs, CLEAN, FOUND, Failure, GateArg};
use crate::audit::{self, Bar, DocumentAudit, set, stets};
use crate::house::{Date, GateOf, House, PRINTED_PERCENT, Role, UnknownName};
use crate::measured::Printing;
use crate::musicxml::Source;
use crate::report::plain::plain_json;
use crate::report::terminal::{self, Look};
use crate::report::{AuditReport, Gate, Verdict, json, junit, markdown, sarif};
use crate::rule::{Level, Rule, RuleBook};
use std::collections::BTreeSet;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Format {
    Terminal,
    Json,
    Sarif,
    Junit,
    Markdown,
}

const FORMATS: [(&str, Format); 5] = [
    ("terminal", Format::Terminal),
    ("json", Format::Json),
    ("sarif", Format::Sarif),
    ("junit", Format::Junit),
    ("markdown", Format::Markdown),
];

pub(super) fn run(args: &AuditArgs) -> Result<u8, Failure> {
    let items = paths::items(&args.input.paths)?;
    let in_force = InForce::of(args.house.as_deref(), &items)?;
    let InForce { house, rules, .. } = &in_force;
    let role = args.role.as_deref().map(|name| role(house, name)).transpose()?;
    let only = named(rules, &args.only)?;
    let skip = named(rules, &args.skip)?;
    let printing = printing(args, house)?;
    let reports = output::wanted(&args.report, &FORMATS, &items)?;
    if let Some(file) = &args.stet_all {
        output::new_file(file)?;
    }
    // What is asked for by name is judged even where the house has it switched off.
    let on = |rule: &str| only.contains(rule) || only.is_empty() && rules.find(rule).is_none_or(Rule::is_on);
    let enabled = |rule: &str| on(rule) && !skip.contains(rule);
    if !rules.rules().any(|rule| enabled(&rule.id)) {
        return Err(Failure::new("no rule is left to judge by", "Give --only and --skip other rules."));
    }
    let bar = Bar {
        house,
        rules,
        stated_role: role.map(|role| role.name.as_str()),
        printing: &printing,
        enabled: &enabled,
        below: &|path| in_force.below(path),
    };
    let mut documents: Vec<DocumentAudit> = Vec::new();
    let mut failed = Vec::new();
    for (item, done) in items.iter().zip(work::each(&items, &args.input, |item| one(item, &bar))?) {
        documents.extend(done.unwrap_or_else(|| {
            failed.push(item.name());
            vec![audit::crashed(&item.name(), &bar)]
        }));
    }
    paths::not_empty(&documents)?;
    let _sets = set::together(&mut documents, &bar);
    audit::number(&mut documents);
    let house_findings = if args.no_stets { Vec::new() } else { stets::let_stand(&mut documents, &bar, Date::today()) };
    let report = AuditReport {
        house: &in_force.shown(),
        rules,
        judged: &rules.rules().filter(|rule| enabled(&rule.id)).map(|rule| rule.id.to_string()).collect(),
        documents: &documents,
        house_findings: &house_findings,
        gate: gate(args.gate, house),
        must_judge: &in_force.must_judge(),
    };
    for wanted in &reports {
        let text = text(&report, wanted, args)?;
        output::write(&text, wanted.file.as_deref())?;
    }
    if let Some(file) = &args.stet_all {
        let (text, count) = stets::baseline(&documents, &bar);
        output::write(&text, Some(file))?;
        let stets = if count == 1 { "1 stet".to_owned() } else { format!("{count} stets") };
        work::talk(&format!("{stets} written to {}; each still needs its reason.", file.display()));
    }
    work::failed(&failed)?;
    Ok(if report.verdict() == Verdict::Pass { CLEAN } else { FOUND })
}

/// The gate as said on the command line, else as the house has it.
fn gate(said: Option<GateArg>, house: &House) -> Gate {
    match said.unwrap_or_else(|| match house.gate {
        Some(GateOf::Error) | None => GateArg::Error,
        Some(GateOf::Warning) => GateArg::Warning,
        Some(GateOf::Note) => GateArg::Note,
        Some(GateOf::Never) => GateArg::Never,
    }) {
        GateArg::Error => Gate::At(Level::Error),
        GateArg::Warning => Gate::At(Level::Warning),
        GateArg::Note => Gate::At(Level::Note),
        GateArg::Never => Gate::Never,
    }
}

fn one(item: &Item, bar: &Bar) -> Vec<DocumentAudit> {
    match item {
        Item::StandardInput => audit::documents(Source::standard_input(), "-", bar, false),
        Item::File { path, found } => audit::documents(Source::open(path), &item.name(), bar, *found),
        Item::Unreadable { damage, .. } => audit::documents(Err(damage.clone()), &item.name(), bar, false),
    }
}

fn text(report: &AuditReport, wanted: &Wanted<Format>, args: &AuditArgs) -> Result<String, Failure> {
    match wanted.format {
        Format::Json => to_json(&json::audit(report)),
        Format::Sarif => to_json(&sarif::sarif(report)),
        Format::Junit => {
            let mut bytes = Vec::new();
            junit::write(report, &mut bytes).map_err(unwritten)?;
            String::from_utf8(bytes).map_err(unwritten)
        }
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

fn unwritten(error: impl std::fmt::Display) -> Failure {
    Failure::new(format!("the report could not be written: {error}"), "")
}

/// A report as JSON text, one line end at its end.
pub(super) fn to_json(report: &impl serde::Serialize) -> Result<String, Failure> {
    let text =
        serde_json::to_string_pretty(report).map_err(|error| Failure::new(format!("the report could not be written: {error}"), ""))?;
    Ok(plain_json(&text).into_owned() + "\n")
}

/// How the copies are printed, as said on the command line, else as the house has it.
fn printing(args: &AuditArgs, house: &House) -> Result<Printing, Failure> {
    let on = |name: &str| {
        let unknown = |error: UnknownName| Failure::new(error.to_string(), "`stavegauge explain --papers` lists them.");
        Ok(Printing::On(Box::new(house.papers.get(name).map_err(unknown)?.clone())))
    };
    if let Some(name) = &args.printed_on {
        return on(name);
    }
    let Some(percent) = &args.printed_at else {
        return match (house.printed_at, &house.printed_on) {
            (Some(share), _) => Ok(Printing::At(share)),
            (None, Some(paper)) => on(paper),
            (None, None) => Ok(Printing::AsIs),
        };
    };
    let number = percent.trim().trim_end_matches('%').trim_end().parse::<f64>().ok();
    number.filter(|number| PRINTED_PERCENT.contains(number)).map(|number| Printing::At(number / 100.0)).ok_or_else(|| {
        let what = format!("--printed-at {percent} is no percentage from {} to {}", PRINTED_PERCENT.start(), PRINTED_PERCENT.end());
        Failure::new(what, "Write 94 or 94%, for a copy printed at 94 percent of its size.")
    })
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

/// The ids of the rules that are named.
fn named(rules: &RuleBook, names: &[String]) -> Result<BTreeSet<String>, Failure> {
    names.iter().map(|name| rule(rules, name).map(|rule| rule.id.to_string())).collect()
}
