//! A round read from the JSON report of its audit.

use super::{Round, RoundCopy, RoundFinding};
use crate::rule::Level;
use serde::Deserialize;
use std::fmt;

/// The format that is read.
const FORMAT: &str = "stavegauge-audit/1";

/// Why a text is no report of an audit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotAReport {
    /// What is wrong, and where.
    pub what: String,
    /// What to do.
    pub help: String,
}

impl fmt::Display for NotAReport {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        to.write_str(&self.what)
    }
}

impl std::error::Error for NotAReport {}

#[derive(Deserialize)]
struct Head {
    format: Option<String>,
}

#[derive(Deserialize)]
struct Report {
    files: Vec<File>,
}

#[derive(Deserialize)]
struct File {
    path: String,
    member: Option<String>,
    findings: Vec<Finding>,
    #[serde(default)]
    last_number: u32,
}

#[derive(Deserialize)]
struct Finding {
    rule: String,
    level: Level,
    message: String,
    #[serde(default)]
    advice: String,
    page: Option<u32>,
    page_label: Option<String>,
    system: Option<u32>,
    movement: Option<u32>,
    bars: Option<[String; 2]>,
    covers: Option<[String; 2]>,
    part: Option<String>,
    part_name: Option<String>,
    staff: Option<u32>,
    #[serde(default)]
    number: u32,
    stet: Option<serde_json::Value>,
}

/// Reads the JSON report of an audit. Keys that are not known are passed over.
///
/// # Errors
/// What is no JSON, another format or version, or lacks what a report has.
pub fn read(text: &str) -> Result<Round, NotAReport> {
    let help = "Give a report of `stavegauge audit --report json`, or a folder or file to audit.";
    let wrong = |what: String| NotAReport { what, help: help.to_owned() };
    let head: Head = serde_json::from_str(text).map_err(|error| wrong(format!("this is no JSON report: {error}")))?;
    match head.format.as_deref() {
        Some(FORMAT) => {}
        Some(other) => return Err(wrong(format!("its format is {other}; {FORMAT} is read here"))),
        None => return Err(wrong(format!("it says no format; {FORMAT} is read here"))),
    }
    let report: Report = serde_json::from_str(text).map_err(|error| wrong(format!("it is not whole: {error}")))?;
    Ok(Round { copies: report.files.into_iter().map(copy).collect() })
}

fn copy(file: File) -> RoundCopy {
    let findings: Vec<RoundFinding> = file.findings.into_iter().map(finding).collect();
    let last_number = file.last_number.max(findings.iter().map(|finding| finding.number).max().unwrap_or(0));
    RoundCopy { path: file.path, member: file.member, findings, last_number }
}

fn finding(found: Finding) -> RoundFinding {
    let place = place(&found);
    RoundFinding {
        place,
        rule: found.rule,
        level: found.level,
        message: found.message,
        advice: found.advice,
        part: found.part_name.filter(|name| !name.trim().is_empty()).or(found.part),
        movement: found.movement,
        staff: found.staff,
        bars: found.bars.or(found.covers),
        number: found.number,
        stet: found.stet.is_some(),
    }
}

/// In the words of [`crate::rule::Where`].
fn place(found: &Finding) -> String {
    let bars = found.bars.as_ref().map(|[first, last]| if first == last { format!("bar {first}") } else { format!("bars {first}-{last}") });
    let part = found.part_name.as_ref().filter(|name| !name.trim().is_empty()).or(found.part.as_ref());
    let staff = match (part, found.staff) {
        (Some(part), Some(staff)) => Some(format!("{part} staff {staff}")),
        (Some(part), None) => Some(part.clone()),
        (None, staff) => staff.map(|staff| format!("staff {staff}")),
    };
    let page = found.page_label.clone().or_else(|| found.page.map(|page| page.to_string()));
    let words = [page.map(|page| format!("p. {page}")), found.system.map(|system| format!("system {system}")), bars, staff];
    words.into_iter().flatten().collect::<Vec<_>>().join(", ")
}
