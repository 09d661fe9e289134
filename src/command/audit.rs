//! `stavegauge audit`: measure, judge, report.

use super::output::{self, Wanted};
use super::paths::{self, Item};
use super::work;
use super::{AuditArgs, CLEAN, FOUND, Failure, GateArg};
use crate::audit::{self, Bar, DocumentAudit};
use crate::house::{House, Role, UnknownName};
use crate::measured::Printing;
use crate::musicxml::Source;
use crate::report::plain::plain_json;
use crate::report::terminal::{self, Look};
use crate::report::{AuditReport, Gate, Style, Verdict, json};
use crate::rule::subject::vocabulary;
use crate::rule::{Level, Rule, RuleBook};
use std::collections::BTreeSet;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Format {
    Terminal,
    Json,
}

const FORMATS: [(&str, Format); 2] = [("terminal", Format::Terminal), ("json", Format::Json)];

pub(super) fn run(args: &AuditArgs) -> Result<u8, Failure> {
    let house = house()?;
    let rules = rules(&house)?;
    let role = args.role.as_deref().map(|name| role(&house, name)).transpose()?;
    let only = named(&rules, &args.only)?;
    let skip = named(&rules, &args.skip)?;
    let printing = printing(args, &house)?;
    let items = paths::items(&args.input.paths)?;
    let reports = output::wanted(&args.report, &FORMATS, &items)?;
    let enabled = |rule: &str| (only.is_empty() || only.contains(rule)) && !skip.contains(rule);
    if !rules.rules().any(|rule| enabled(&rule.id)) {
        return Err(Failure::new("no rule is left to judge by", "Give --only and --skip other rules."));
    }
    let bar =
        Bar { house: &house, rules: &rules, stated_role: role.map(|role| role.name.as_str()), printing: &printing, enabled: &enabled };
    let mut documents: Vec<DocumentAudit> = Vec::new();
    let mut failed = Vec::new();
    for (item, done) in items.iter().zip(work::each(&items, &args.input, |item| one(item, &bar))?) {
        documents.extend(done.unwrap_or_else(|| {
            failed.push(item.name());
            vec![audit::crashed(&item.name(), &bar)]
        }));
    }
    paths::not_empty(&documents)?;
    let gate = match args.gate {
        GateArg::Error => Gate::At(Level::Error),
        GateArg::Warning => Gate::At(Level::Warning),
        GateArg::Note => Gate::At(Level::Note),
        GateArg::Never => Gate::Never,
    };
    audit::number(&mut documents);
    let style = Style { name: house.name.clone(), file: None };
    let must_judge = BTreeSet::new();
    let report = AuditReport { house: &style, rules: &rules, documents: &documents, house_findings: &[], gate, must_judge: &must_judge };
    for wanted in &reports {
        let text = text(&report, wanted, args)?;
        output::write(&text, wanted.file.as_deref())?;
    }
    work::failed(&failed)?;
    Ok(if report.verdict() == Verdict::Pass { CLEAN } else { FOUND })
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
        Format::Terminal => {
            let look = Look { color: output::color(args.input.color, wanted.file.as_deref()), width: output::width(), quiet: args.quiet };
            let mut text = String::new();
            terminal::write(report, look, &mut text).map_err(|_| Failure::new("the report could not be written", ""))?;
            Ok(text)
        }
    }
}

/// A report as JSON text, one line end at its end.
pub(super) fn to_json(report: &impl serde::Serialize) -> Result<String, Failure> {
    let text =
        serde_json::to_string_pretty(report).map_err(|error| Failure::new(format!("the report could not be written: {error}"), ""))?;
    Ok(plain_json(&text).into_owned() + "\n")
}

/// Percentages outside this range are a slip of the hand.
const PRINTED_PERCENT: std::ops::RangeInclusive<f64> = 10.0..=400.0;

/// How the copies are printed, as said on the command line.
fn printing(args: &AuditArgs, house: &House) -> Result<Printing, Failure> {
    if let Some(name) = &args.printed_on {
        let unknown = |error: UnknownName| Failure::new(error.to_string(), "`stavegauge explain --papers` lists them.");
        return Ok(Printing::On(Box::new(house.papers.get(name).map_err(unknown)?.clone())));
    }
    let Some(percent) = &args.printed_at else { return Ok(Printing::AsIs) };
    let number = percent.trim().trim_end_matches('%').trim_end().parse::<f64>().ok();
    number.filter(|number| PRINTED_PERCENT.contains(number)).map(|number| Printing::At(number / 100.0)).ok_or_else(|| {
        let what = format!("--printed-at {percent} is no percentage from {} to {}", PRINTED_PERCENT.start(), PRINTED_PERCENT.end());
        Failure::new(what, "Write 94 or 94%, for a copy printed at 94 percent of its size.")
    })
}

/// The built-in house style.
pub(super) fn house() -> Result<House, Failure> {
    House::built_in().map_err(|error| Failure::new(error.to_string(), "This is a fault of the program. Please report it."))
}

/// The rules that come with the program.
pub(super) fn rules(house: &House) -> Result<RuleBook, Failure> {
    let roles: Vec<&str> = house.roles.names().collect();
    let built_in = RuleBook::built_in(&vocabulary(), &roles);
    built_in.map_err(|error| Failure::new(error.to_string(), "This is a fault of the program. Please report it."))
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
