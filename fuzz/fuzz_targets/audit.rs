//! The whole audit with its repairs: every report holds all that was found, and twice the same comes out.

#![no_main]

use libfuzzer_sys::fuzz_target;
use serde_json::Value;
use stavegauge::audit::{DocumentAudit, documents, set};
use stavegauge::measured::Printing;
use stavegauge::musicxml::Source;
use stavegauge::report::terminal::{self, Look};
use stavegauge::report::{AuditReport, Gate, Style, json, junit, markdown, proof, sarif};
use stavegauge::round::number;
use stavegauge::rule::{Level, RuleBook};
use stavegauge_fuzz::{HOUSE, bar, decoded, findings, points_into, role_names, rules};
use std::collections::BTreeSet;
use std::sync::LazyLock;

static RULES: LazyLock<RuleBook> = LazyLock::new(rules);

fuzz_target!(|data: &[u8]| {
    // Which reader, turns on the length: a seed stays a plain file.
    let roles = role_names(&HOUSE);
    let role = roles.get(data.len() % (roles.len() + 1)).copied();
    let (audited, text) = audit(data, role);
    assert_eq!(text, audit(data, role).1, "the same comes out twice");
    reports(&audited, &text);
});

fn audit(data: &[u8], role: Option<&str>) -> (Vec<DocumentAudit>, Value) {
    let bar = bar(&HOUSE, &RULES, role, &Printing::AsIs);
    let source = Source::spool("bytes", data);
    let texts: Vec<_> = source.iter().flatten().map(decoded).collect();
    let mut audited = documents(source, "bytes", &bar, false);
    for (document, text) in audited.iter().zip(texts) {
        let Ok(text) = text else { continue };
        document
            .findings
            .iter()
            .flat_map(|placed| [placed.finding.at, placed.finding.also])
            .flatten()
            .for_each(|at| points_into(at, &text));
    }
    let sets = set::together(&mut audited, &bar);
    number(&mut audited, None);
    let json = with_report(&audited, &sets, |report| serde_json::to_value(json::audit(report)).expect("it is data"));
    (audited, json)
}

fn with_report<T>(audited: &[DocumentAudit], sets: &[set::Set], make: impl Fn(&AuditReport) -> T) -> T {
    let all: BTreeSet<String> = RULES.rules().map(|rule| rule.id.to_string()).collect();
    make(&AuditReport {
        house: &Style { name: "built-in".to_owned(), file: None, words: None },
        rules: &RULES,
        judged: &all,
        documents: audited,
        sets,
        house_findings: &[],
        gate: Gate::At(Level::Error),
        must_judge: &BTreeSet::new(),
    })
}

fn reports(audited: &[DocumentAudit], text: &Value) {
    let found = findings(audited).count();
    let listed = text["files"].as_array().into_iter().flatten().filter_map(|file| file["findings"].as_array()).map(Vec::len);
    assert_eq!(listed.sum::<usize>(), found, "the report holds all findings");
    with_report(audited, &[], |report| {
        let results = &sarif::sarif(report)["runs"][0]["results"];
        assert_eq!(results.as_array().map(Vec::len), Some(found));
        let mut bytes = Vec::new();
        junit::write(report, &mut bytes).expect("written");
        roxmltree::Document::parse(std::str::from_utf8(&bytes).expect("UTF-8")).expect("well-formed");
        let mut text = String::new();
        markdown::write(report, &mut text).expect("written");
        terminal::write(report, Look { color: false, width: 100, quiet: false }, &mut text).expect("written");
        proof::write(report).expect("written");
    });
}
