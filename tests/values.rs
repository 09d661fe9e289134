//! Values of the trade against the tables that rules judge by, each beside its source and mark: R read there, S quoted, D
//! arithmetic from an R value, C common practice without a source, M from memory.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

mod support;

use stavegauge::house::{House, Light, Papers, Role};
use stavegauge::units::Mm;
use support::engine::Engine;
use support::musicxml::write;
use support::plain::Sheet;

fn house() -> House {
    House::built_in().expect("it loads")
}

fn role<'a>(house: &'a House, name: &str) -> &'a Role {
    house.roles.get(name).unwrap_or_else(|error| panic!("{error}"))
}

/// Printed on another paper: the smaller of the two ratios (practice of printing, D: arithmetic on ISO 216, JIS P 0138 and
/// ANSI/ASME Y14.1). 7.5 mm of A4 become 7.06 on Letter.
#[test]
fn printed_size_factors() {
    let house = house();
    for (from, to, expected) in [
        ("A4", "Letter", 0.941),
        ("A3", "A4", 0.707),
        ("B4", "A4", 0.840),
        ("JIS B4", "A4", 0.816),
        ("Tabloid", "Letter", 0.647),
        ("9 x 12 in", "Letter", 0.917),
    ] {
        let paper = |name: &str| house.papers.get(name).unwrap_or_else(|error| panic!("{error}"));
        let page = (paper(from).width, paper(from).height);
        let factor = Papers::factor(page, paper(to));
        assert!((factor - expected).abs() < 0.0005, "{from} to {to}: {factor}");
        let lying = Papers::factor((page.1, page.0), paper(to));
        assert!((lying - factor).abs() < 1e-12, "{from} lying: {lying}");
        if (from, to) == ("A4", "Letter") {
            assert!((7.5 * factor - 7.06).abs() < 0.005);
        }
    }
}

/// Plate sizes of the Leipzig engraving houses Röder and Geidel (S; Nos. 0 to 2 also Kriterien für Orchester-Notenmaterial, R):
/// No. n is 8.5 - 0.5 n mm. What the trade engraves with them, each plate good for its reader.
#[test]
fn plate_sizes() {
    let house = house();
    let plate = |number: u8| Mm(8.5 - 0.5 * f64::from(number));
    assert_eq!([plate(0), plate(3), plate(6), plate(8)], [Mm(8.5), Mm(7.0), Mm(5.5), Mm(4.5)]);
    for (number, name) in [
        // Kriterien (R): strings, harp, timpani, percussion 8.0 to 8.5; winds 7.5.
        (0, "orchestral-string-part"),
        (0, "percussion-part"),
        (1, "orchestral-string-part"),
        (1, "harp-part"),
        (2, "orchestral-wind-part"),
        // Common practice, no source: 7.0 for a player alone at a lit desk; Dansk Center (R): piano 6.5, song 6.
        (3, "solo-part"),
        (4, "keyboard-part"),
        (5, "vocal-score"),
        // Röder and Geidel (S): choral plates 5.5.
        (6, "octavo"),
        // Dansk Center (R): chamber score 5; common practice, no source: conductor's score from 4.5.
        (7, "chamber-score"),
        (8, "full-score"),
        // Morimoto (R): study scores 3 to 5.
        (8, "study-score"),
    ] {
        let heights = &role(&house, name).staff_height;
        assert!(heights.good.value <= plate(number) && plate(number) <= heights.most.value, "No. {number}, {name}");
    }
    // An orchestral part from No. 3 is at risk, from No. 4 it does not serve (Kriterien, R; common practice, no source).
    let wind = &role(&house, "orchestral-wind-part").staff_height;
    assert!(plate(3) < wind.good.value && plate(3) >= wind.least.value && plate(4) < wind.least.value);
}

/// Cue 5.0 and ossia 4.5 to a staff of 7.0 (plate sizes of Röder and Geidel, D), the others 4.9 over a piano of 6.5 (Dansk
/// Center for Musikudgivelse, D).
#[test]
fn sizes_of_other_staves() {
    let house = house();
    for role in house.roles.all() {
        let staves = &role.other_staves;
        for (share, expected) in [(&staves.cue, 5.0 / 7.0), (&staves.ossia, 4.5 / 7.0), (&staves.other_player, 4.9 / 6.5)] {
            assert!((share.value - expected).abs() < 0.005, "{}: {} against {expected}", role.name, share.value);
        }
    }
}

/// Ten, eleven and twelve staves of 8 mm on JIS B4 with margins of 10 mm at top and bottom leave gaps of 3.7, 3.2 and 2.8
/// staff heights (Metropole Orkest library, "Parts": R for the page, D for the gaps): as the tool measures them, and within
/// what a part's reader finds right.
#[test]
fn gaps_of_the_published_norm() {
    let engine = Engine::new();
    let gaps = role(&engine.house, "orchestral-wind-part").staff_gaps.as_ref().expect("a desk part");
    for (staves, expected) in [(10_usize, 3.7), (11, 3.2), (12, 2.8)] {
        let count = f64::from(u32::try_from(staves).expect("few"));
        let gap_mm = (364.0 - 20.0 - count * 8.0) / (count - 1.0);
        let mut sheet = Sheet::oboe(8.0, (257.0, 364.0), 10.0).page(staves, gap_mm);
        sheet.pages[0].top_mm = 0.0;
        let measured = engine.measure_text(&write(&sheet.score()));
        let page = &measured.pages[0];
        let found: Vec<f64> = page.gaps.iter().filter_map(|gap| gap.white_heights().value()).collect();
        assert_eq!(found.len(), staves - 1);
        for heights in found {
            assert!((heights - expected).abs() < 0.05, "{staves}: {heights}");
            let shown = (heights * 10.0).round() / 10.0;
            assert!(gaps.norm_from.value <= shown && shown <= gaps.norm_to.value, "{staves}: {heights}");
        }
    }
}

/// Margins of scores, sides / top / bottom (Sydney Symphony Orchestra, "Music preparation": R): about 70 % of the sheet lies
/// inside them (D). All pass as wide enough.
#[test]
fn margins_as_shares_of_the_sheet() {
    let house = house();
    for (name, [sides, top, bottom]) in [("A3", [25.0, 35.0, 30.0]), ("255 x 358 mm", [22.0, 30.0, 26.0]), ("A4", [18.0, 25.0, 21.0])] {
        let paper = house.papers.get(name).unwrap_or_else(|error| panic!("{error}"));
        let (width, height) = (paper.width.0, paper.height.0);
        let share = (width - 2.0 * sides) * (height - top - bottom) / (width * height);
        assert!((share - 0.70).abs() < 0.02, "{name}: {share}");
        assert_eq!(paper.serves("full-score"), Some(true), "{name}");
    }
    let least = Engine::new()
        .rules
        .find("narrow-margin")
        .expect("a rule")
        .limits
        .iter()
        .find(|limit| limit.name == "least_mm")
        .expect("a limit")
        .value;
    // Parts 15/10/10 (Metropole Orkest, R), at least 20/30/30 (Kriterien, R).
    assert!([18.0, 21.0, 22.0, 10.0, 15.0, 20.0, 30.0].iter().all(|margin| *margin >= least));
}

/// Kriterien für Orchester-Notenmaterial (R): parts at most 270 x 360 mm, A4 refused. Metropole Orkest (R): JIS B4. Common
/// practice, no source: B4 preferred, A4 for keyboard and choral copies.
#[test]
fn papers_of_readers() {
    let house = house();
    let serves = |paper: &str, role: &str| house.papers.get(paper).unwrap_or_else(|error| panic!("{error}")).serves(role);
    for part in ["orchestral-string-part", "orchestral-wind-part", "orchestral-brass-part", "percussion-part", "harp-part"] {
        assert_eq!(serves("A4", part), Some(false), "{part}");
        assert_eq!(serves("JIS B4", part), Some(true), "{part}");
        assert_eq!(serves("B4", part), Some(true), "{part}");
        for paper in house.papers.all().iter().filter(|paper| paper.width.0 > 280.0 || paper.height.0 > 370.0) {
            assert_eq!(paper.serves(part), Some(false), "{part} on {}", paper.name);
        }
    }
    for reader in ["keyboard-part", "chorus-score", "full-score"] {
        assert_eq!(serves("A4", reader), Some(true), "{reader}");
    }
    assert_eq!(serves("A4", "big-band-part"), None, "nobody says");
}

/// Lyrics at 10 points (engraving guidelines of a publisher of contemporary music, R), a question below 9, too small below
/// 7.5 (M).
#[test]
fn words_that_are_sung() {
    let house = house();
    for name in ["chorus-part", "chorus-score", "vocal-score", "songbook"] {
        let text = &role(&house, name).text_pt;
        let values = [text.least.value, text.good.value, text.ideal.value];
        assert!(values.iter().zip([7.5, 9.0, 10.0]).all(|(value, expected)| (value - expected).abs() < 1e-9), "{name}: {values:?}");
    }
}

/// Staff lines from 0.1 to 0.4 mm, at 0.4 mm twice the errors of 0.1 mm (Wilkins and Kiff, R); below 0.08 mm they drop out (M).
#[test]
fn staff_lines() {
    let engine = Engine::new();
    let limit = |name: &str| {
        let rule = engine.rules.find("staff-line-weight").expect("a rule");
        rule.limits.iter().find(|limit| limit.name == name).expect("a limit").value
    };
    assert!((limit("thick_mm") - 0.4).abs() < 1e-9 && (limit("thin_mm") - 0.08).abs() < 1e-9);
}

/// Rehearsal marks at most 24 bars apart (Quince, Part preparation for composers, R); a cue after more than 24 bars or 40
/// seconds of rest (M). An opening is compared as far as possible (Dansk Center, R).
#[test]
fn marks_and_rests() {
    let engine = Engine::new();
    let limit = |rule: &str, name: &str| {
        let rule = engine.rules.find(rule).expect("a rule");
        rule.limits.iter().find(|limit| limit.name == name).expect("a limit").value
    };
    for (rule, name, value) in
        [("marks-far-apart", "bars", 24.0), ("long-rest-no-cue", "bars", 24.0), ("long-rest-no-cue", "seconds", 40.0)]
    {
        assert!((limit(rule, name) - value).abs() < 1e-9, "{rule}");
    }
}

/// Dorff 1997 (R): a conductor reads from 3 to 4 feet; a foot is 304.8 mm.
#[test]
fn the_podium() {
    let house = house();
    let distance = role(&house, "full-score").reading_distance.as_ref().expect("somebody says");
    assert!((distance.least_m - 3.0 * 0.3048).abs() < 0.03 && (distance.most_m - 4.0 * 0.3048).abs() < 0.03, "{distance:?}");
}

/// Poor light asks for more (common practice, no source): no reader needs less in a dim pit, and a pit book is read there.
#[test]
fn poor_light_asks_for_more() {
    let house = house();
    assert_eq!(role(&house, "pit-book").light, Light::Dim);
    for role in house.roles.all() {
        let (lit, dim) = (role.heights(Some(Light::Lit)), role.heights(Some(Light::Dim)));
        let pairs = [(&lit.least, &dim.least), (&lit.good, &dim.good), (&lit.ideal, &dim.ideal), (&lit.most, &dim.most)];
        assert!(pairs.iter().all(|(lit, dim)| lit.value <= dim.value), "{}", role.name);
        assert!(role.staff_height_dim.is_none() || lit.ideal.value < dim.ideal.value, "{}", role.name);
        assert_eq!(role.heights(None), if role.name == "pit-book" { dim } else { lit }, "{}", role.name);
    }
    // An orchestral part of 7.0 mm is a risk in it (common practice, no source).
    let parts = house.roles.all().iter().filter(|role| role.name.starts_with("orchestral-") || role.name == "pit-book");
    for part in parts {
        assert!(part.heights(Some(Light::Dim)).good.value > Mm(7.0), "{}", part.name);
    }
}
