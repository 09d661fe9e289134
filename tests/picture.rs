//! The picture of the README: the first clarinet of the demo set as it is and as it could be, and below it a page of the score the same way.
//! What could be was cast off, measured and judged by the same rules; this test checks the figures under it.
//!
//! `STAVEGAUGE_WRITE=1 cargo test --test picture` draws it anew; the test holds it in step.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

mod support;

use std::fmt::Write;
use std::fs;
use std::path::Path;
use support::engine::Engine;

use stavegauge::audit::drawn::Drawn;
use stavegauge::audit::mending::{Judged, Repair, Repairs};
use stavegauge::audit::{self, Bar, DocumentAudit};
use stavegauge::measured::Printing;

const PICTURE: &str = "docs/pages.svg";
/// Room around the pages, between them, and for a line of words, mm.
const AROUND: f64 = 14.0;
const BETWEEN: f64 = 6.0;
const LINE: f64 = 13.0;
/// Width of the picture, mm on its paper.
const WIDTH: f64 = 900.0;
const STYLE: &str = ".sheet{fill:#fff;stroke:#9a958a;stroke-width:.6}.staff,.stroke{fill:none;stroke:#2b2b2b}.stroke{stroke-linecap:round;stroke-linejoin:round}.ink,.text{fill:#2b2b2b}.text{font-family:'Liberation Serif','Times New Roman',serif}.words{font:9px 'Liberation Sans',Arial,sans-serif;fill:#1d2733}.quiet{font:7.5px 'Liberation Sans',Arial,sans-serif;fill:#55606c}";

fn document(engine: &Engine, name: &str, role: &str) -> DocumentAudit {
    let bar = Bar {
        house: &engine.house,
        rules: &engine.rules,
        stated_role: Some(role),
        printing: &Printing::AsIs,
        enabled: &|_| true,
        repairs: Repairs::Usual,
        draws: true,
        cores_to_spare: false,
        below: &str::to_owned,
    };
    audit::file(&Path::new("fixtures/demo").join(name), &bar).remove(0)
}

/// A copy as it is, as it could be, and what that is.
fn both(document: &DocumentAudit) -> (&Drawn, &Drawn, &Repair, &Judged) {
    let now = document.drawn.as_deref().expect("it is drawn");
    let then = document.mending.drawn.as_deref().expect("something is better");
    let repair = document.mending.tried.first().expect("it was tried");
    (now, then, repair, repair.outcome.as_ref().expect("it can be"))
}

/// Height of paper that four bars take, mm.
fn four_bars(drawn: &Drawn) -> f64 {
    let height: f64 = drawn.pages.iter().map(|page| page.height.0).sum();
    height * 4.0 / f64::from(u32::try_from(drawn.measured.bars.len()).expect("few"))
}

/// Seconds of the worst turn.
fn worst_turn(drawn: &Drawn) -> f64 {
    drawn.measured.turns.iter().filter_map(|turn| turn.seconds.value()).fold(f64::INFINITY, f64::min)
}

fn staff(drawn: &Drawn) -> f64 {
    drawn.measured.staff_height.value().expect("it is stated").0
}

struct Canvas {
    svg: String,
    y: f64,
}

impl Canvas {
    fn words(&mut self, class: &str, text: &str) {
        self.y += LINE;
        writeln!(self.svg, r#"<text class="{class}" x="{AROUND}" y="{:.1}">{text}</text>"#, self.y - 4.0).expect("text");
    }

    /// Pages side by side, so large that a number of them fills the width.
    fn pages(&mut self, drawn: &Drawn, pages: usize, of: f64) {
        let room = (WIDTH - 2.0 * AROUND - BETWEEN * (of - 1.0)) / of;
        let mut x = AROUND;
        let mut lowest: f64 = 0.0;
        for page in drawn.pages.iter().take(pages) {
            let scale = room / page.width.0;
            let (width, height) = (page.width.0, page.height.0);
            write!(
                self.svg,
                "<g transform=\"translate({x:.2} {:.2}) scale({scale:.4})\"><rect class=\"sheet\" width=\"{width:.2}\" height=\"{height:.2}\"/>\n{}</g>\n",
                self.y, page.music
            )
            .expect("text");
            x += room + BETWEEN;
            lowest = lowest.max(height * scale);
        }
        self.y += lowest + 4.0;
    }
}

#[test]
fn the_picture_shows_what_is_measured() {
    let engine = Engine::new();
    let clarinet = document(&engine, "part-clarinet-1.musicxml", "orchestral-wind-part");
    let score = document(&engine, "score-loose.musicxml", "full-score");
    let (now, then, _, judged) = both(&clarinet);
    // Larger staves, fewer pages, turns in a rest, and nothing left that must or should change.
    assert!(staff(then) > staff(now) && then.pages.len() < now.pages.len());
    assert!(worst_turn(now) < 1.0 && worst_turn(then) >= 4.0);
    assert!(clarinet.mending.now[0] > 0 && judged.levels[..2] == [0, 0], "{judged:?}");
    let mut canvas = Canvas { svg: String::new(), y: AROUND };
    canvas.words("words", "First clarinet of the demo set, as it is");
    let told = |drawn: &Drawn, levels: [usize; 3]| {
        format!(
            "{} pages, staves of {:.1} mm, {}; must change {}, should change {}",
            drawn.pages.len(),
            staff(drawn),
            if worst_turn(drawn) < 1.0 { "no time to turn".to_owned() } else { format!("{:.1} s or more to turn", worst_turn(drawn)) },
            levels[0],
            levels[1]
        )
    };
    canvas.words("quiet", &told(now, clarinet.mending.now));
    canvas.pages(now, now.pages.len(), 4.0);
    canvas.words("words", "As it could be: cast off anew, measured, and judged by the same rules");
    canvas.words("quiet", &told(then, judged.levels));
    canvas.pages(then, then.pages.len(), 4.0);
    let (now, then, repair, judged) = both(&score);
    assert!(four_bars(then) < four_bars(now) && judged.levels[..2] == [0, 0], "{judged:?}");
    canvas.words("words", "A page of its score, as it is and as it could be");
    canvas.words(
        "quiet",
        &format!(
            "four bars take {:.0} mm of paper on {} pages; {}, {:.0} mm on {}",
            four_bars(now),
            now.pages.len(),
            repair.words(),
            four_bars(then),
            then.pages.len()
        ),
    );
    let top = canvas.y;
    canvas.pages(now, 1, 2.0);
    let bottom = canvas.y;
    canvas.y = top;
    // Beside it.
    write!(canvas.svg, "<g transform=\"translate({:.2} 0)\">", (WIDTH - 2.0 * AROUND - BETWEEN) / 2.0 + BETWEEN).expect("text");
    canvas.pages(then, 1, 2.0);
    canvas.svg.push_str("</g>\n");
    let height = bottom.max(canvas.y) + AROUND;
    let title = "The first clarinet of the demo set and a page of its score, as they are and as they could be";
    let picture = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {height:.1}\" role=\"img\">\n<title>{title}</title>\n<style>{STYLE}</style>\n<rect width=\"100%\" height=\"100%\" fill=\"#eceae4\"/>\n{}</svg>\n",
        canvas.svg
    );
    roxmltree::Document::parse(&picture).expect("it is XML");
    if std::env::var_os("STAVEGAUGE_WRITE").is_some() {
        fs::write(PICTURE, &picture).expect("written");
    }
    assert!(fs::read_to_string(PICTURE).expect("it is committed") == picture, "draw it anew with STAVEGAUGE_WRITE=1");
}
