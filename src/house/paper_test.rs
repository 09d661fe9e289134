//! Check values of the trade against the papers that come with the program, each beside its source and mark.

use super::paper::Papers;
use super::role::Roles;
use crate::units::Mm;

fn built_in() -> Papers {
    Papers::built_in(&Roles::built_in().expect("built-in roles load")).expect("built-in papers load")
}

/// "Kriterien für Orchester-Notenmaterial" (R): orchestral parts at most 270 x 360 mm, A4 refused; so what is no larger than
/// A4 either way is refused too (arithmetic, D). 11 x 14 in is above by 9 mm, but American parts are printed on it (common
/// practice, no source): nothing is said. Letter is refused as A4 is (common practice, no source).
#[test]
fn orchestral_parts_are_refused_by_size() {
    let papers = built_in();
    let parts =
        ["orchestral-string-part", "orchestral-wind-part", "orchestral-brass-part", "double-bass-part", "harp-part", "percussion-part"];
    for paper in papers.all() {
        let large = paper.width > Mm(270.0) || paper.height > Mm(360.0);
        let small = paper.width <= Mm(210.0) && paper.height <= Mm(297.0);
        for part in parts {
            let serves = paper.serves(part);
            match paper.name.as_str() {
                "11 x 14 in" => assert_eq!(serves, None),
                "Letter" => assert_eq!(serves, Some(false)),
                // JIS B4 (Metropole Orkest, R) is 4 mm higher than the Kriterien allow: what a library asks for goes first.
                "JIS B4" => assert_eq!(serves, Some(true)),
                name if large || small => assert_eq!(serves, Some(false), "{name}"),
                name => assert_ne!(serves, Some(false), "{name}"),
            }
        }
    }
}

/// Each row of the trade's list of papers, with its mark.
#[test]
fn papers_suit_whom_the_trade_says() {
    let papers = built_in();
    for (paper, role, serves, mark) in [
        // Metropole Orkest library, guidelines "Parts" and "Score" (R).
        ("JIS B4", "orchestral-wind-part", Some(true), "R"),
        ("A3", "full-score", Some(true), "R"),
        // Guidelines of orchestra libraries (R).
        ("9.5 x 13 in", "orchestral-string-part", Some(true), "R"),
        // Kriterien für Orchester-Notenmaterial (R); A3 is larger than its most (D).
        ("270 x 360 mm", "harp-part", Some(true), "R"),
        ("A4", "orchestral-brass-part", Some(false), "R"),
        ("A3", "percussion-part", Some(false), "D"),
        ("Tabloid", "double-bass-part", Some(false), "D"),
        // Sydney Symphony Orchestra, Music preparation (R).
        ("255 x 358 mm", "full-score", Some(true), "R"),
        ("A4", "full-score", Some(true), "R"),
        // Common practice, no source.
        ("B4", "orchestral-wind-part", Some(true), "C"),
        ("A4", "keyboard-part", Some(true), "C"),
        ("A4", "chorus-score", Some(true), "C"),
        ("10 x 14 in", "orchestral-wind-part", Some(true), "C"),
        ("Legal", "full-score", Some(false), "C"),
        ("Octavo", "octavo", Some(true), "C"),
        ("Lyre card", "lyre-card", Some(true), "C"),
    ] {
        let format = papers.get(paper).expect("a known paper");
        assert_eq!(format.serves(role), serves, "{paper}, {role}");
        let said = if serves == Some(true) { &format.suits } else { &format.refused };
        let source = said.iter().find(|said| said.roles.iter().any(|one| one == role)).map(|said| &said.source);
        assert_eq!(source.map(|source| format!("{:?}", source.mark)).as_deref(), Some(mark), "{paper}, {role}");
    }
    // Nobody says anything.
    for (paper, role) in [("A4", "big-band-part"), ("Legal", "orchestral-wind-part"), ("11 x 14 in", "orchestral-wind-part")] {
        assert_eq!(papers.get(paper).expect("a known paper").serves(role), None, "{paper}, {role}");
    }
}

/// What has no extent stays as it is.
#[test]
fn a_page_of_no_size_is_not_shrunk() {
    let papers = built_in();
    for nonsense in [Mm(0.0), Mm(f64::NAN), Mm(-1.0)] {
        let factor = Papers::factor((nonsense, nonsense), papers.get("A4").expect("a known paper"));
        assert!((factor - 1.0).abs() < f64::EPSILON, "{nonsense:?}");
    }
}
