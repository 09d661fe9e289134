//! The inner loops, each for itself: reading, laying out and measuring, judging, the JSON of it.
//!
//! ```text
//! cargo bench --bench inner [-- FILE]
//! ```
//!
//! Without a file it takes the score of the demo set. What a whole audit comes to, and against what, is told by `benches/whole`.

use criterion::{Criterion, Throughput};
use stavegauge::house::{Basis, House};
use stavegauge::measured::measure;
use stavegauge::musicxml::{Pull, Source, read};
use stavegauge::rule::subject::{Reader, judge, vocabulary};
use stavegauge::rule::{Examples, RuleBook};
use std::hint::black_box;
use std::io::Cursor;
use std::path::PathBuf;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let named = std::env::args().skip(1).find(|argument| !argument.starts_with('-'));
    let file = named.map_or_else(|| PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("fixtures/demo/score.musicxml"), PathBuf::from);
    let source = Source::open(&file)?.into_iter().next().ok_or("the file holds no score")?;
    let mut text = Vec::new();
    std::io::Read::read_to_end(&mut source.stream()?, &mut text)?;
    let house = House::built_in()?;
    let roles: Vec<&str> = house.roles.names().collect();
    let rules = RuleBook::built_in(&vocabulary(), &roles, Examples::PassedOver)?;
    let score = read(Cursor::new(text.clone()))?;
    let measured = measure(&score, &score.instructions, &house);
    let reader = Reader { role: None, basis: Basis::Unknown, light: None };

    let mut criterion = Criterion::default();
    let mut reading = criterion.benchmark_group("text");
    reading.throughput(Throughput::Bytes(text.len() as u64));
    reading.bench_function("pull with every check", |bench| {
        bench.iter(|| Pull::new(Cursor::new(text.clone())).finish());
    });
    reading.bench_function("read into a score", |bench| bench.iter(|| read(Cursor::new(text.clone()))));
    reading.finish();
    let mut score_group = criterion.benchmark_group("score");
    score_group.bench_function("measure", |bench| bench.iter(|| measure(black_box(&score), &score.instructions, &house)));
    score_group.bench_function("judge", |bench| bench.iter(|| judge(&rules, &score.flaws, black_box(&measured), &reader, &|_| true)));
    score_group.finish();
    let mut start = criterion.benchmark_group("start");
    start.bench_function("the rule book", |bench| bench.iter(|| RuleBook::built_in(&vocabulary(), &roles, Examples::PassedOver)));
    start.finish();
    Ok(())
}
