//! `audit --report sarif`: SARIF 2.1.0 (OASIS) for whatever shows findings beside a change.
//!
//! Paths are relative URIs; a member of a container is a nested artifact. Columns count Unicode scalar values. A stet is a
//! suppression, what could not be judged a notification of the tool.

use super::{AuditReport, Verdict, mended};
use crate::audit::{DocumentAudit, Placed};
use crate::house::Source;
use crate::musicxml::Spot;
use crate::rule::finding::Where;
use crate::rule::{Level, Rule};
use percent_encoding::{AsciiSet, NON_ALPHANUMERIC, utf8_percent_encode};
use serde_json::{Value, json};

const SCHEMA: &str = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json";
/// The folder in which the audit was run.
const BASE: &str = "%SRCROOT%";
/// The name under which the fingerprint of a finding is kept; a new way of reckoning it would get another.
const FINGERPRINT: &str = "stavegauge/v1";
/// What stands in a URI as it is (RFC 3986, unreserved characters and the slash between folders).
const IN_URI: &AsciiSet = &NON_ALPHANUMERIC.remove(b'-').remove(b'.').remove(b'_').remove(b'~').remove(b'/');

/// The report as data.
pub fn sarif(report: &AuditReport) -> Value {
    let rules: Vec<&Rule> = report.rules_judged().collect();
    let mut artifacts = Artifacts::default();
    let mut results = Vec::new();
    let mut notifications = Vec::new();
    for document in report.documents {
        let artifact = artifacts.of(&document.path, document.member.as_deref());
        results.extend(document.findings.iter().map(|placed| result(placed, &artifact, &rules)));
        notifications.extend(document.not_judged.iter().map(|one| {
            json!({
                "descriptor": { "id": &*one.rule },
                "associatedRule": descriptor(&one.rule, &rules),
                "level": "note",
                "message": { "text": format!("not judged: {}", one.reason) },
                "locations": [{ "physicalLocation": { "artifactLocation": artifact } }],
            })
        }));
    }
    if let Some(file) = &report.house.file {
        let artifact = artifacts.of(file, None);
        results.extend(report.house_findings.iter().map(|placed| result(placed, &artifact, &rules)));
    }
    let crashed = report.documents.iter().any(|document| document.crashed);
    json!({
        "$schema": SCHEMA,
        "version": "2.1.0",
        "runs": [{
            "tool": { "driver": {
                "name": "stavegauge",
                "semanticVersion": env!("CARGO_PKG_VERSION"),
                "rules": rules.iter().map(|rule| about(rule)).collect::<Vec<_>>(),
            } },
            "invocations": [{ "executionSuccessful": !crashed, "toolExecutionNotifications": notifications }],
            "originalUriBaseIds": { BASE: { "description": { "text": "the folder in which the audit was run" } } },
            "artifacts": artifacts.all,
            "columnKind": "unicodeCodePoints",
            "results": results,
            "properties": { "house": report.house.name, "verdict": report.verdict(), "copies": copies(report) },
        }],
    })
}

/// What each copy comes to.
fn copies(report: &AuditReport) -> Vec<Value> {
    let one = |document: &DocumentAudit| {
        let verdict: Verdict = report.verdict_on(document);
        let repairs: Vec<String> = document.mending.tried.iter().map(|repair| mended::told(&document.mending, repair)).collect();
        json!({
            "path": document.path,
            "member": document.member,
            "role": document.role.name,
            "verdict": verdict,
            "good": document.good,
            "repairs": repairs,
        })
    };
    report.documents.iter().map(one).collect()
}

/// Files, and members within them, each once.
#[derive(Default)]
struct Artifacts {
    all: Vec<Value>,
}

impl Artifacts {
    /// The location of a document; what is not listed yet is added.
    fn of(&mut self, path: &str, member: Option<&str>) -> Value {
        let file = self.index(json!({ "location": location(path) }));
        let Some(member) = member else { return with_index(location(path), file) };
        let within = json!({ "uri": uri(member) });
        let index = self.index(json!({ "location": within, "parentIndex": file }));
        with_index(within, index)
    }

    fn index(&mut self, artifact: Value) -> usize {
        if let Some(known) = self.all.iter().position(|one| *one == artifact) {
            return known;
        }
        self.all.push(artifact);
        self.all.len() - 1
    }
}

fn with_index(mut location: Value, index: usize) -> Value {
    location["index"] = index.into();
    location
}

fn uri(path: &str) -> String {
    utf8_percent_encode(path, IN_URI).to_string()
}

fn location(path: &str) -> Value {
    // What lies elsewhere on the machine has no relative name.
    if path.starts_with('/') {
        return json!({ "uri": format!("file://{}", uri(path)) });
    }
    json!({ "uri": uri(path), "uriBaseId": BASE })
}

fn descriptor(rule: &str, rules: &[&Rule]) -> Value {
    match rules.iter().position(|one| *one.id == *rule) {
        Some(index) => json!({ "id": rule, "index": index }),
        None => json!({ "id": rule }),
    }
}

/// A rule as its readers elsewhere see it.
fn about(rule: &Rule) -> Value {
    let source = |source: &Source| format!("{}: {}", source.title, source.says);
    let mut help = vec![rule.why.clone()];
    help.extend(rule.exemptions.iter().map(|words| format!("Left alone: {words}")));
    help.extend(rule.sources.iter().map(|one| format!("Source: {}", source(one))));
    help.push("This is advice; the house and the librarian decide.".to_owned());
    json!({
        "id": &*rule.id,
        "deprecatedIds": rule.aliases,
        "shortDescription": { "text": rule.title },
        "fullDescription": { "text": rule.why },
        "help": { "text": help.join("\n") },
        "defaultConfiguration": { "level": rule.gravest(), "rank": rank(rule.harm) },
        "properties": { "family": rule.family, "about": rule.about },
    })
}

/// SARIF ranks from 0 to 100, what matters most highest; harm counts from 0, what does most first.
fn rank(harm: u32) -> f64 {
    f64::from(100 - harm.min(100))
}

fn result(placed: &Placed, artifact: &Value, rules: &[&Rule]) -> Value {
    let found = &placed.finding;
    let advice = if found.advice.is_empty() { String::new() } else { format!(" To do: {}", found.advice) };
    let mut result = json!({
        "ruleId": &*found.rule,
        "level": level(found.level),
        "rank": rank(placed.harm),
        "message": { "text": format!("{}.{advice}", found.message.trim_end_matches('.')) },
        "locations": [place(placed.spot.as_ref(), Some(&found.on), artifact)],
        "partialFingerprints": { FINGERPRINT: found.fingerprint },
        "properties": {
            "number": placed.number,
            "measured": found.measured,
            "limit": found.limit,
            "unit": found.unit,
            "confidence": found.confidence,
            "because": found.because,
            "count": found.count,
        },
    });
    if let Some(index) = rules.iter().position(|rule| rule.id == found.rule) {
        result["ruleIndex"] = index.into();
    }
    if let Some(also) = &placed.also {
        result["relatedLocations"] = json!([place(Some(also), None, artifact)]);
    }
    // An empty list says that nobody lets it stand.
    result["suppressions"] = placed.stet.iter().map(|stet| suppression(stet)).collect();
    result
}

fn suppression(stet: &crate::house::Stet) -> Value {
    let by = stet.by.as_ref().map(|by| format!(" ({by})")).unwrap_or_default();
    let until = stet.until.map(|day| format!(", until {day}")).unwrap_or_default();
    json!({ "kind": "external", "status": "accepted", "justification": format!("{}{by}{until}", stet.reason) })
}

fn level(level: Level) -> &'static str {
    level.name()
}

/// Where it is: in the file, and in the music.
fn place(spot: Option<&Spot>, on: Option<&Where>, artifact: &Value) -> Value {
    let mut physical = json!({ "artifactLocation": artifact });
    if let Some(spot) = spot {
        physical["region"] = json!({ "startLine": spot.line, "startColumn": spot.column });
    }
    let mut place = json!({ "physicalLocation": physical });
    let logical = on.map(logical).unwrap_or_default();
    if !logical.is_empty() {
        place["logicalLocations"] = logical.into();
    }
    place
}

/// Page, system, bars, part and staff.
fn logical(on: &Where) -> Vec<Value> {
    let named = [
        ("page", on.page_name()),
        ("system", on.system.map(|system| system.to_string())),
        ("movement", on.movement.map(|movement| movement.to_string())),
        ("bars", on.bars_name()),
        ("part", on.part_name_or_id().map(str::to_owned)),
        ("staff", on.staff.map(|staff| staff.to_string())),
    ];
    let named = named.into_iter().filter_map(|(kind, name)| Some((kind, name?)));
    named.map(|(kind, name)| json!({ "name": name, "kind": kind })).collect()
}
