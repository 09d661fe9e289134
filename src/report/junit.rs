//! `audit --report junit`: `JUnit` XML, as continuous-integration servers read it: a suite a copy, a case a rule.
//!
//! What stands at or above the gate fails its case. What stands below passes, and says so. What could not be judged and what
//! the house lets stand is skipped with its reason. There are no times: the same copies give the same bytes.

use super::plain::plain;
use super::{AuditReport, level_words};
use crate::audit::{DocumentAudit, Placed};
use crate::rule::NotJudged;
use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesEnd, BytesStart, BytesText, Event};
use std::collections::BTreeMap;
use std::io;

/// One case of a suite.
struct Case {
    name: String,
    outcome: Outcome,
}

enum Outcome {
    Passed(Option<String>),
    Failed {
        kind: &'static str,
        message: String,
        text: String,
    },
    /// With its reason.
    Skipped(String),
    Broken(String),
}

/// Writes the report.
///
/// # Errors
/// Those of `out`.
pub fn write(report: &AuditReport, out: &mut dyn io::Write) -> io::Result<()> {
    let mut suites: Vec<(String, Vec<Case>)> = Vec::new();
    for document in report.documents {
        let member = document.member.as_ref().map(|member| format!(" ({member})")).unwrap_or_default();
        suites.push((format!("{}{member}", document.path), cases(report, document)));
    }
    if let Some(file) = &report.house.file {
        let name = |placed: &Placed| format!("{} {}", placed.finding.rule, placed.number);
        let of = |placed: &Placed| Case { name: name(placed), outcome: outcome(report, placed) };
        suites.push((file.clone(), report.house_findings.iter().map(of).collect()));
    }
    let mut writer = Writer::new_with_indent(out, b' ', 2);
    writer.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
    let sum = |count: fn(&Outcome) -> bool| suites.iter().flat_map(|(_, cases)| cases).filter(|case| count(&case.outcome)).count();
    let all = counts("stavegauge", sum(|_| true), sum(Outcome::failed), sum(Outcome::broken), None);
    start(&mut writer, "testsuites", &all)?;
    for (name, cases) in &suites {
        suite(&mut writer, name, cases)?;
    }
    end(&mut writer, "testsuites")?;
    writer.into_inner().write_all(b"\n")
}

impl Outcome {
    fn failed(&self) -> bool {
        matches!(self, Self::Failed { .. })
    }

    fn broken(&self) -> bool {
        matches!(self, Self::Broken(_))
    }

    fn skipped(&self) -> bool {
        matches!(self, Self::Skipped(_))
    }
}

/// A case for every rule that was asked for: one for each finding, one for what could not be judged, one for a rule that found
/// nothing.
fn cases(report: &AuditReport, document: &DocumentAudit) -> Vec<Case> {
    let mut cases = Vec::new();
    if document.crashed {
        let what = "the program itself failed on this file; please report it".to_owned();
        cases.push(Case { name: "audit".to_owned(), outcome: Outcome::Broken(what) });
        return cases;
    }
    let mut by_rule: BTreeMap<&str, (Vec<&Placed>, Vec<&NotJudged>)> = BTreeMap::new();
    for rule in report.rules_judged().filter(|_| document.summary.is_some()) {
        by_rule.entry(&rule.id).or_default();
    }
    for placed in &document.findings {
        by_rule.entry(&placed.finding.rule).or_default().0.push(placed);
    }
    for one in &document.not_judged {
        by_rule.entry(&one.rule).or_default().1.push(one);
    }
    for (rule, (findings, not_judged)) in by_rule {
        cases.extend(findings.iter().map(|placed| Case { name: format!("{rule} {}", placed.number), outcome: outcome(report, placed) }));
        if !not_judged.is_empty() {
            let reasons: Vec<&str> = not_judged.iter().map(|one| one.reason.as_str()).collect();
            let name = if findings.is_empty() { rule.to_owned() } else { format!("{rule} (not judged)") };
            cases.push(Case { name, outcome: Outcome::Skipped(format!("not judged: {}", reasons.join("; "))) });
        } else if findings.is_empty() {
            cases.push(Case { name: rule.to_owned(), outcome: Outcome::Passed(None) });
        }
    }
    cases
}

fn outcome(report: &AuditReport, placed: &Placed) -> Outcome {
    let found = &placed.finding;
    let place = report.house.say(&found.on.to_string()).into_owned();
    let mut told = vec![format!("{}: {}", level_words(found.level), found.message)];
    if !place.is_empty() {
        told.insert(0, place);
    }
    if !found.advice.is_empty() {
        told.push(format!("To do: {}", found.advice));
    }
    told.extend(found.because.as_ref().map(|because| format!("Taken lightly: {because}.")));
    told.extend(placed.spot.as_ref().map(|spot| format!("Line {}, column {}.", spot.line, spot.column)));
    let text = told.join("\n");
    match &placed.stet {
        Some(stet) => Outcome::Skipped(format!("stet: {}\n{text}", stet.reason)),
        None if report.gate.stops(found.level) => Outcome::Failed { kind: found.level.name(), message: found.message.clone(), text },
        None => Outcome::Passed(Some(text)),
    }
}

type Attributes = Vec<(&'static str, String)>;

fn counts(name: &str, tests: usize, failures: usize, errors: usize, skipped: Option<usize>) -> Attributes {
    let mut all =
        vec![("name", name.to_owned()), ("tests", tests.to_string()), ("failures", failures.to_string()), ("errors", errors.to_string())];
    all.extend(skipped.map(|skipped| ("skipped", skipped.to_string())));
    all
}

fn suite<W: io::Write>(writer: &mut Writer<W>, name: &str, cases: &[Case]) -> io::Result<()> {
    let number = |is: fn(&Outcome) -> bool| cases.iter().filter(|case| is(&case.outcome)).count();
    let attributes = counts(name, cases.len(), number(Outcome::failed), number(Outcome::broken), Some(number(Outcome::skipped)));
    start(writer, "testsuite", &attributes)?;
    for case in cases {
        start(writer, "testcase", &[("classname", name.to_owned()), ("name", case.name.clone())])?;
        match &case.outcome {
            Outcome::Passed(None) => {}
            Outcome::Passed(Some(text)) => told(writer, "system-out", &[], text)?,
            Outcome::Failed { kind, message, text } => {
                told(writer, "failure", &[("type", (*kind).to_owned()), ("message", message.clone())], text)?;
            }
            Outcome::Skipped(text) => told(writer, "skipped", &[], text)?,
            Outcome::Broken(what) => told(writer, "error", &[("type", "crash".to_owned()), ("message", what.clone())], what)?,
        }
        end(writer, "testcase")?;
    }
    end(writer, "testsuite")
}

fn start<W: io::Write>(writer: &mut Writer<W>, name: &str, attributes: &[(&'static str, String)]) -> io::Result<()> {
    writer.write_event(Event::Start(element(name, attributes)))
}

fn element<'a>(name: &'a str, attributes: &[(&'static str, String)]) -> BytesStart<'a> {
    let mut element = BytesStart::new(name);
    for (name, value) in attributes {
        // Signs that XML forbids, and those that steer a terminal, are shown as such.
        element.push_attribute((*name, &*plain(value)));
    }
    element
}

fn end<W: io::Write>(writer: &mut Writer<W>, name: &str) -> io::Result<()> {
    writer.write_event(Event::End(BytesEnd::new(name)))
}

fn told<W: io::Write>(writer: &mut Writer<W>, name: &str, attributes: &[(&'static str, String)], text: &str) -> io::Result<()> {
    let lines: Vec<_> = text.lines().map(plain).collect();
    start(writer, name, attributes)?;
    writer.write_event(Event::Text(BytesText::new(&lines.join("\n"))))?;
    end(writer, name)
}
