//! The auditor as the tests run it: the built-in house style and rules, one file or text at a time.
//!
//! The one module here that knows the library under test.

use stavegauge::audit::mending::Repairs;
use stavegauge::audit::{self, Bar, DocumentAudit, Placed, set, stets};
use stavegauge::house::{Date, House, Style};
use stavegauge::measured::{DocumentMeasure, Measured, Printing, measure};
use stavegauge::musicxml::{Source, read};
use stavegauge::report::measure_json;
use stavegauge::rule::subject::vocabulary;
use stavegauge::rule::{Examples, Finding, Level, RuleBook};
use std::fs;
use std::path::Path;

pub struct Engine {
    pub house: House,
    pub rules: RuleBook,
}

/// What was found: rule, level, message.
pub type Found = (String, Level, String);

impl Engine {
    pub fn new() -> Self {
        let house = House::built_in().expect("the house loads");
        let roles: Vec<&str> = house.roles.names().collect();
        let rules = RuleBook::built_in(&vocabulary(), &roles, Examples::Read).unwrap_or_else(|error| panic!("{error}"));
        Self { house, rules }
    }

    /// The house of a style.
    pub fn of(style: &str) -> Self {
        let mut engine = Self::new();
        let style = Style::read("house.toml", style).unwrap_or_else(|error| panic!("{error}"));
        engine.house.follow(&style).unwrap_or_else(|error| panic!("{error}"));
        for setting in engine.house.rules_of(&style).unwrap_or_else(|error| panic!("{error}")) {
            engine.rules.follow(&setting, "house.toml").unwrap_or_else(|(_, error)| panic!("{error}"));
        }
        engine
    }

    /// A file by itself.
    pub fn audit_file(&self, path: &Path, role: Option<&str>) -> Vec<DocumentAudit> {
        let mut documents = audit::file(path, &self.bar(role));
        set::together(&mut documents, &self.bar(role));
        documents
    }

    /// The scores of a folder together, on a day; with what is found of the house style itself.
    pub fn audit_folder(&self, folder: &Path, today: Date) -> (Vec<DocumentAudit>, Vec<Placed>) {
        let mut files: Vec<_> = fs::read_dir(folder).expect("a folder").flatten().map(|entry| entry.path()).collect();
        files.retain(|file| file.extension().is_some_and(|end| end == "musicxml"));
        files.sort();
        let bar = self.bar(None);
        let mut documents: Vec<DocumentAudit> = files.iter().flat_map(|file| audit::file(file, &bar)).collect();
        set::together(&mut documents, &bar);
        let findings = stets::let_stand(&mut documents, &bar, today);
        (documents, findings)
    }

    pub fn audit_text(&self, text: &str, role: Option<&str>) -> Vec<DocumentAudit> {
        audit::documents(Source::spool("text", text.as_bytes()), "text", &self.bar(role), false)
    }

    /// Whatever bytes: a text in any encoding, or a container.
    pub fn audit_bytes(&self, bytes: &[u8], role: Option<&str>) -> Vec<DocumentAudit> {
        audit::documents(Source::spool("bytes", bytes), "bytes", &self.bar(role), false)
    }

    /// All that an audit says, but for places in the text and what the file is called.
    pub fn judged(documents: &[DocumentAudit]) -> Vec<String> {
        let of = |document: &DocumentAudit| {
            let figures = document.summary.as_ref().map(|summary| {
                let paper = summary.paper.as_ref().map(|paper| (&paper.name, paper.width.value(), paper.height.value(), &paper.pages));
                let counts = (summary.pages, summary.systems, summary.bars, summary.movements);
                format!("{counts:?} {:?} {:?} {paper:?}", summary.printed_at, summary.staff_height)
            });
            let mut told = vec![format!("{:?} {figures:?}", document.role)];
            told.extend(document.findings.iter().map(|placed| format!("{:?}", Finding { at: None, also: None, ..placed.finding.clone() })));
            told.extend(document.not_judged.iter().map(|one| format!("{one:?}")));
            told.extend(document.excused.iter().map(|one| format!("{one:?}")));
            told.extend(document.good.iter().cloned());
            told
        };
        documents.iter().flat_map(of).collect()
    }

    /// All that is measured of a text, as `measure` prints it, without places in the text.
    pub fn told(&self, text: &str) -> String {
        Self::told_of(self.measure_text(text))
    }

    /// The same of what has been measured.
    pub fn told_of(measured: Measured) -> String {
        let document = DocumentMeasure { path: String::new(), member: None, measured: Ok(measured) };
        serde_json::to_string_pretty(&measure_json::measure(&[document])).expect("it is JSON")
    }

    pub fn found(documents: &[DocumentAudit]) -> Vec<Found> {
        let placed = documents.iter().flat_map(|document| &document.findings).filter(|placed| placed.counts());
        placed.map(|placed| (placed.finding.rule.to_string(), placed.finding.level, placed.finding.message.clone())).collect()
    }

    pub fn measure_text(&self, text: &str) -> Measured {
        let source = Source::spool("text", text.as_bytes()).expect("it opens").remove(0);
        let score = read(source.stream().expect("it opens")).expect("it is a score");
        measure(&score, &score.instructions, &self.house)
    }

    fn bar<'a>(&'a self, role: Option<&'a str>) -> Bar<'a> {
        Bar {
            house: &self.house,
            rules: &self.rules,
            stated_role: role,
            printing: &Printing::AsIs,
            repairs: Repairs::Never,
            draws: false,
            cores_to_spare: false,
            enabled: &|_| true,
            below: &|path| path.to_owned(),
        }
    }
}
