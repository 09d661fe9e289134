//! An audit performed: everything between the command line and the reports.

use super::audit::{role, rule};
use super::output;
use super::paths::{self, Item};
use super::style::{Begun, InForce};
use super::text::text_of;
use super::work;
use super::{AuditArgs, Failure, GateArg, RepairsArg};
use crate::audit::mending::Repairs;
use crate::audit::set::Set;
use crate::audit::{self, Bar, DocumentAudit, Placed, set, stets};
use crate::house::{Date, GateOf, House, PRINTED_PERCENT, UnknownName};
use crate::measured::Printing;
use crate::musicxml::Source;
use crate::report::{AuditReport, Gate, Style};
use crate::round::{self, number};
use crate::rule::{Level, NotJudged, Rule, RuleBook};
use std::collections::BTreeSet;
use std::path::Path;

/// An audit that was performed.
pub(super) struct Audited {
    in_force: InForce,
    style: Style,
    judged: BTreeSet<String>,
    must_judge: BTreeSet<String>,
    gate: Gate,
    house_findings: Vec<Placed>,
    sets: Vec<Set>,
    /// The documents.
    pub documents: Vec<DocumentAudit>,
    /// Files on which the program itself failed.
    pub failed: Vec<String>,
    /// Stets for all that was found, and how many, if they are asked for.
    pub baseline: Option<(String, usize)>,
}

impl Audited {
    /// Refuses a report that would take the place of the house style it was made under.
    pub fn spares<'a>(&self, mut files: impl Iterator<Item = &'a Path>) -> Result<(), Failure> {
        let Some(style) = &self.in_force.file else { return Ok(()) };
        let taken = files.any(|file| output::same_file(style, file));
        let what = || format!("the report would overwrite the house style {}", style.display());
        if taken { Err(Failure::new(what(), "Choose another file.")) } else { Ok(()) }
    }

    /// What reports show.
    pub fn report(&self) -> AuditReport<'_> {
        AuditReport {
            house: &self.style,
            rules: &self.in_force.rules,
            judged: &self.judged,
            documents: &self.documents,
            sets: &self.sets,
            house_findings: &self.house_findings,
            gate: self.gate,
            must_judge: &self.must_judge,
        }
    }
}

/// Audits what was found, as the arguments and the house say.
///
/// # Errors
/// Whatever is wrong with the arguments or the house style, before anything is read.
pub(super) fn perform(args: &AuditArgs, begun: Begun) -> Result<Audited, Failure> {
    let (items, in_force) = begun.under_style()?;
    let InForce { house, rules, .. } = &in_force;
    let role = args.role.as_deref().map(|name| role(house, name)).transpose()?;
    let only = named(rules, &args.only)?;
    let skip = named(rules, &args.skip)?;
    let printing = printing(args, house)?;
    let before = args.before.as_deref().map(round_of).transpose()?;
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
        repairs: match args.repairs {
            RepairsArg::Usual => Repairs::Usual,
            RepairsArg::Always => Repairs::Always,
            RepairsArg::Never => Repairs::Never,
        },
        draws: args.report.iter().any(|report| report.split_once('=').map_or(report.as_str(), |(name, _)| name) == "html"),
        cores_to_spare: items.len() < rayon::current_num_threads(),
        enabled: &enabled,
        below: &|path| in_force.below(path),
    };
    let mut documents: Vec<DocumentAudit> = Vec::new();
    let mut failed = Vec::new();
    for (item, done) in items.iter().zip(work::each(&items, |item| one(item, &bar))) {
        documents.extend(done.unwrap_or_else(|| {
            failed.push(item.name());
            vec![audit::crashed(&item.name(), &bar)]
        }));
    }
    paths::not_empty(&documents)?;
    let sets = set::together(&mut documents, &bar);
    let must_judge = in_force.must_judge();
    // What the house must have judged is not judged by leaving it out.
    for rule in must_judge.iter().filter(|rule| !enabled(rule)) {
        for document in documents.iter_mut().filter(|document| document.summary.is_some()) {
            document.not_judged.push(NotJudged { rule: rule.as_str().into(), reason: "it was left out of this run".to_owned() });
        }
    }
    number(&mut documents, before.as_ref());
    let house_findings = if args.no_stets { Vec::new() } else { stets::let_stand(&mut documents, &bar, Date::today()) };
    let baseline = args.stet_all.as_ref().map(|_| stets::baseline(&documents, &bar));
    let judged = rules.rules().filter(|rule| enabled(&rule.id)).map(|rule| rule.id.to_string()).collect();
    let (style, gate) = (in_force.shown(), gate(args.gate, house));
    Ok(Audited { in_force, style, judged, must_judge, gate, house_findings, sets, documents, failed, baseline })
}

/// Most MiB of an earlier report: what some ten thousand copies come to.
const MOST_MIB_OF_REPORT: u64 = 64;

/// An earlier round, from its JSON report.
pub(super) fn round_of(file: &std::path::Path) -> Result<round::Round, Failure> {
    let text = text_of(file, MOST_MIB_OF_REPORT).map_err(|error| {
        Failure::new(
            format!("the report {} cannot be read: {error}", file.display()),
            "Check the path. Of very many copies, hold fewer against their report at a time.",
        )
    })?;
    round::read(&text).map_err(|error| Failure::new(format!("{}: {}", file.display(), error.what), error.help))
}

/// The gate as said on the command line, else as the house has it.
pub(super) fn gate(said: Option<GateArg>, house: &House) -> Gate {
    match said.unwrap_or(match house.gate {
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

/// The ids of the rules that are named.
fn named(rules: &RuleBook, names: &[String]) -> Result<BTreeSet<String>, Failure> {
    names.iter().map(|name| rule(rules, name).map(|rule| rule.id.to_string())).collect()
}
