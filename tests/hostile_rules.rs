//! House styles and rule files from a stranger: none of them can keep the program busy, look at other files or at the environment.
//! What is wrong is told with its place, and nothing is audited.
//!
//! Source: the program's own promise (exit code 2 for a bad house style or rule file; conditions of at most 2,000 bytes).

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

#[path = "support/run.rs"]
mod run;

use run::{fixture, program};
use std::fs;
use std::path::Path;
use std::process::Stdio;
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// Far more than any of these may take in a debug build on a busy machine; a run that does not end is ended, and fails.
const PATIENCE: Duration = Duration::from_mins(1);

const RULE: &str = r#"
id = "few-bars"
title = "Hardly a piece"
family = "file"
harm = 80
about = "file"
why = "We print nothing shorter."
sources = [{ title = "common practice, no source", says = "a page at least", mark = "C" }]
[[case]]
level = "warning"
when = '''file.bars < 200'''
message = '''too short'''
advice = "Put it into a collection."
[[example]]
name = "short"
breaks = "warning"
values = { "file.bars" = 4 }
[[example]]
name = "long"
values = { "file.bars" = 400 }
"#;

struct Desk(TempDir);

impl Desk {
    /// A copy of the demo set under a house style.
    fn under(style: &str) -> Self {
        let desk = Self(tempfile::tempdir().expect("made"));
        desk.put("oboe.musicxml", &fixture("demo/part-oboe-1.musicxml"));
        desk.put("stavegauge.toml", style.as_bytes());
        desk
    }

    /// The same with a rule of the house, one thing in it replaced.
    fn with_rule(from: &str, to: &str) -> Self {
        assert!(RULE.contains(from), "{from}");
        let desk = Self::under("rule-files = [\"own.toml\"]\n");
        desk.put("own.toml", RULE.replacen(from, to, 1).as_bytes());
        desk
    }

    fn put(&self, name: &str, bytes: &[u8]) {
        fs::write(self.path().join(name), bytes).expect("written");
    }

    fn path(&self) -> &Path {
        self.0.path()
    }

    /// An audit of the copy: exit code, standard output, standard error.
    fn audit(&self) -> (Option<i32>, String, String) {
        let mut command = program(self.path(), &["audit", "oboe.musicxml"]);
        let (out, err) = (self.path().join("out"), self.path().join("err"));
        let file = |path: &Path| Stdio::from(fs::File::create(path).expect("made"));
        let mut child = command
            .env("STAVEGAUGE_SECRET", "nightingale")
            .stdin(Stdio::null())
            .stdout(file(&out))
            .stderr(file(&err))
            .spawn()
            .expect("starts");
        let begun = Instant::now();
        let status = loop {
            if let Some(status) = child.try_wait().expect("ours") {
                break status;
            }
            if begun.elapsed() > PATIENCE {
                child.kill().expect("ours");
                child.wait().expect("ours");
                panic!("it does not end");
            }
            std::thread::sleep(Duration::from_millis(10));
        };
        let text = |path: &Path| String::from_utf8(fs::read(path).expect("there")).expect("UTF-8");
        (status.code(), text(&out), text(&err))
    }

    /// Nothing is audited, and what is said has all these words.
    fn refuses(&self, words: &[&str]) {
        let (code, out, err) = self.audit();
        assert_eq!((code, out.as_str()), (Some(2), ""), "{words:?}: {err}");
        assert!(!err.contains("panicked") && !err.contains("nightingale"), "{err}");
        // The message is folded to the width of a terminal.
        let told = err.split_whitespace().collect::<String>();
        for one in words {
            assert!(told.contains(&one.split_whitespace().collect::<String>()), "{one}: {err}");
        }
    }
}

/// The line of the house style that names the rule file, the file, and the line there: 11 is that of the condition.
#[test]
fn a_condition_that_would_run_away_is_refused_where_it_stands() {
    let many = |piece: &str, count: usize| piece.repeat(count);
    for (condition, words) in [
        (format!("file.bars < {}200", many("0+", 1000)), "a condition of 2015 bytes; 2000 is the most"),
        (format!("{}file.bars{} < 2", many("(", 900), many(")", 900)), "nested too deeply"),
        (format!("{}true", many("true ? ", 250)), "no condition"),
        (format!("file.bars < {}", many("2 - ", 480)), "no condition"),
        ("file.missing.exists(a, file.missing.exists(b, a == b))".to_owned(), "inside another"),
        ("file.missing.all(a, a in file.families)".to_owned(), "`in` with a field inside `exists` or `all`"),
        ("size(file.missing.map(a, a + a)) > 3".to_owned(), "cannot stand in a condition"),
        ("file.missing.exists(a, a.matches('(a*)*b'))".to_owned(), "cannot stand in a condition"),
        (format!("file.bars < {}", many("9", 1000)), "invalid int literal"),
        ("file.bars < 1e999".to_owned(), "condition"),
        ("string(file.bars) + 'x' == 'x'".to_owned(), "cannot"),
        ("read('oboe.musicxml') == ''".to_owned(), "cannot"),
        ("env.STAVEGAUGE_SECRET == ''".to_owned(), "there is no `env` here"),
    ] {
        let desk = Desk::with_rule("file.bars < 200", &condition);
        desk.refuses(&["stavegauge.toml:1:15", "own.toml:11:", words]);
    }
}

#[test]
fn a_message_that_would_run_away_or_look_around_is_refused_where_it_stands() {
    for (message, words) in [
        ("{% for a in 'ab' %}{% for b in 'ab' %}x{% endfor %}{% endfor %}", "cannot use `for`"),
        ("{% include 'oboe.musicxml' %}", "cannot use `include`"),
        ("{% import 'own.toml' as own %}", "cannot use `import`"),
        ("{% extends '/etc/hostname' %}", "cannot use `extends`"),
        ("{% set a = 'x' %}", "cannot use `set`"),
        ("{{ env.STAVEGAUGE_SECRET }}", "there is no `env` here"),
        ("{{ range(1000000) }}", "cannot call `range`"),
        ("{{ file.bars.__class__ }}", "no field `bars.__class__`"),
        ("{{ [1] * 100000000 }}", "cannot use `[`"),
        ("{{ 'x' ~ 'x' }}", "cannot use `~`"),
        ("{{ file.bars | format }}", "there is no filter `format`"),
    ] {
        Desk::with_rule("too short", message).refuses(&["stavegauge.toml:1:15", "own.toml:12:", words]);
    }
    for (message, words) in [
        (format!("{{{{ {}1{} }}}}", "(".repeat(900), ")".repeat(900)), "this message cannot be read"),
        ("x".repeat(2001), "a message of 2001 bytes; 2000 is the most"),
    ] {
        Desk::with_rule("too short", &message).refuses(&["own.toml:12:", words]);
    }
}

/// What loads may still fail as it is written; it says so in its place, in no time.
#[test]
fn a_message_that_grows_is_cut_off() {
    for message in [
        "{{ 'x' * 90000000 }}",
        "{{ 'x' * 3000 }}{{ 'x' * 3000 }}",
        "{{ (1, 2) * 90000000 }}",
        "{{ 9 ** 9 ** 9 ** 9 }}",
        "{% if 'y' in 'x' * 90000000 %}{% endif %}",
    ] {
        let (code, out, err) = Desk::with_rule("too short", message).audit();
        assert_eq!(code, Some(0), "{message}: {err}");
        let out = out.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(out.contains("[few-bars]") && out.contains("(message cannot be written: "), "{message}: {out}");
    }
}

/// Files that a house style names: only plain ones are read, and none of them without end.
#[cfg(unix)]
#[test]
fn a_house_style_names_no_pipe_and_no_file_without_end() {
    let pipe = |desk: &Desk| {
        let made = std::process::Command::new("mkfifo").arg(desk.path().join("pipe")).status().expect("mkfifo is there");
        assert!(made.success());
    };
    for key in ["base = \"FILE\"", "rule-files = [\"FILE\"]", "stet-files = [\"FILE\"]"] {
        for (file, words) in
            [("/dev/zero", "no plain file"), ("pipe", "no plain file"), (".", "no plain file"), ("gone.toml", "cannot be read")]
        {
            let desk = Desk::under(&format!("{}\n", key.replace("FILE", file)));
            pipe(&desk);
            desk.refuses(&[words]);
        }
        let desk = Desk::under(&format!("{}\n", key.replace("FILE", "long.toml")));
        let long = fs::File::create(desk.path().join("long.toml")).expect("made");
        long.set_len(1 << 40).expect("a file of nothing takes no room");
        desk.refuses(&["longer than 8 MiB"]);
    }
    let desk = Desk::under("");
    fs::remove_file(desk.path().join("stavegauge.toml")).expect("there");
    let long = fs::File::create(desk.path().join("stavegauge.toml")).expect("made");
    long.set_len(1 << 40).expect("a file of nothing takes no room");
    desk.refuses(&["stavegauge.toml", "longer than 8 MiB"]);
}

/// A file that is no rule file is not shown: what is said of it has none of its text but a name of a key.
#[test]
fn a_file_that_is_no_rule_file_is_not_shown() {
    for (key, text) in [
        ("rule-files = [\"../secret\"]", "the nightingale sings at midnight\n"),
        ("rule-files = [\"../secret\"]", "[account]\npassword = \"nightingale\"\n"),
        ("base = \"../secret\"", "[account]\npassword = \"nightingale\"\n"),
        ("stet-files = [\"../secret\"]", "password = \"nightingale\"\n"),
    ] {
        let outer = tempfile::tempdir().expect("made");
        fs::write(outer.path().join("secret"), text).expect("written");
        let desk = Desk(tempfile::tempdir_in(outer.path()).expect("made"));
        desk.put("oboe.musicxml", &fixture("demo/part-oboe-1.musicxml"));
        desk.put("stavegauge.toml", key.as_bytes());
        desk.refuses(&["secret"]);
    }
}

#[test]
fn styles_above_styles_end() {
    let desk = Desk::under("base = \"stavegauge.toml\"\n");
    desk.refuses(&["stavegauge.toml:1:8", "changes one that changes it in turn"]);
    let desk = Desk::under("base = \"1.toml\"\n");
    for number in 1..30 {
        desk.put(&format!("{number}.toml"), format!("base = \"{}.toml\"\n", number + 1).as_bytes());
    }
    desk.refuses(&["7.toml:1:8", "too many above each other"]);
}

#[test]
fn a_house_style_of_any_size_and_depth_is_read_or_refused() {
    for (style, words) in [
        (format!("x = {}{}\n", "[".repeat(100_000), "]".repeat(100_000)), "stavegauge.toml:1:"),
        (format!("x = {}1{}\n", "{x=".repeat(50_000), "}".repeat(50_000)), "stavegauge.toml:1:"),
        (format!("{}x = 1\n", "x.".repeat(50_000)), "stavegauge.toml:1:"),
        (format!("[{}x]\n", "x.".repeat(50_000)), "stavegauge.toml:1:"),
        (format!("name = \"{}\"\nname = \"x\"\n", "x".repeat(1 << 20)), "stavegauge.toml:2:"),
        (format!("papers = [{}\"A44\"]\n", "\"A4\", ".repeat(200_000)), "stavegauge.toml:1:"),
        (format!("printed-at = {}\n", "9".repeat(100_000)), "stavegauge.toml:1:"),
        ("[rules.small-staff.limits]\ntolerance_mm = nan\n".to_owned(), "stavegauge.toml:2:"),
        ("[rules.small-staff.limits]\ntolerance_mm = 1e999\n".to_owned(), "stavegauge.toml:2:"),
        ("[[copy]]\nfiles = \"[[[\"\nname = \"x\"\n".to_owned(), "stavegauge.toml:2:"),
    ] {
        Desk::under(&style).refuses(&[words]);
    }
    // Long, and nothing wrong with it.
    let copies: Vec<String> = (0..10_000).map(|number| format!("[[copy]]\nfiles = \"{number}*x*y*\"\nname = \"x\"\n")).collect();
    for style in [
        format!("papers = [{}\"B4\"]\n", "\"A4\", ".repeat(200_000)),
        copies.concat(),
        format!("[[copy]]\nfiles = \"{}\"\nname = \"x\"\n", "*b*o".repeat(500)),
        format!("[[copy]]\nfiles = \"{}\"\nname = \"x\"\n", "**/".repeat(500) + "*.none"),
    ] {
        let (code, out, err) = Desk::under(&style).audit();
        assert_eq!(code, Some(0), "{}: {err}", &style[..60]);
        assert!(out.contains("oboe.musicxml"), "{out}");
    }
}
