//! Check values of the trade against the readers that come with the program, each beside its source and mark.

use super::role::{Roles, TurnedBy};
use crate::units::Mm;

/// least, good, ideal, most
fn heights(name: &str) -> String {
    let roles = Roles::built_in().expect("built-in roles load");
    let height = roles.get(name).expect("a known role").staff_height.clone();
    [height.least, height.good, height.ideal, height.most].map(|fact| format!("{:.1}", fact.value.0)).join(" ")
}
#[test]
fn published_staff_heights() {
    // "Kriterien für Orchester-Notenmaterial" (R): no orchestral part below 7.5, winds 7.5 still
    // good, strings, harp, timpani and percussion 8.0 to 8.5. Dansk Center for Musikudgivelse and
    // Laukkanen (R): parts 7 to 9. At 6.0 below desk use (common practice, no source).
    for part in ["orchestral-string-part", "double-bass-part", "harp-part", "percussion-part"] {
        assert_eq!(heights(part), "7.0 7.5 8.0 9.0", "{part}");
    }
    // Of the brass nobody says more than that (common practice, no source).
    for part in ["orchestral-wind-part", "orchestral-brass-part"] {
        assert_eq!(heights(part), "7.0 7.5 7.5 9.0", "{part}");
    }
    // Metropole Orkest (R): conductor's score at least 4; from 4.5 and 5 preferred (common
    // practice, no source); Laukkanen (R): 4 to 6. 3.7 is below all of them. Less than 4.5 only for
    // very large forces (common practice, no source): the opera.
    assert_eq!(heights("full-score"), "4.0 4.5 5.0 6.0");
    assert_eq!(heights("wind-band-score"), "4.0 4.5 5.0 6.0");
    assert_eq!(heights("opera-full-score"), "4.0 4.0 4.5 6.0");
    // Morimoto (R): study scores 3 to 5. Dansk Center (R): piano and organ 6.5, range 6 to 8.
    assert_eq!(heights("study-score"), "3.0 3.0 4.0 5.0");
    assert_eq!(heights("keyboard-part"), "6.0 6.0 6.5 8.0");
    assert_eq!(heights("organ-part"), "6.0 6.0 6.5 8.0");
    // Morimoto (R): children 8, older learners 10. Plate sizes of Röder and Geidel (S): choral 5.5.
    assert_eq!(heights("teaching-piece"), "6.5 7.0 8.0 10.0");
    assert_eq!(heights("octavo"), "5.0 5.5 5.5 7.0");
    // Dansk Center (R): chamber score 5; song, vocal score and choir 6.
    assert_eq!(heights("chamber-score"), "4.5 4.9 5.5 7.0"); // with piano the others 4.9 (R)
    for vocal in ["songbook", "vocal-score", "chorus-score", "chorus-part"] {
        assert_eq!(heights(vocal), "5.0 5.5 6.0 8.0", "{vocal}");
    }
}

/// Practice of the trade (common practice, no source): a turn is never an error for a conductor, a chorus, a student.
#[test]
fn who_turns() {
    let roles = Roles::built_in().expect("built-in roles load");
    let by =
        |turned: TurnedBy| roles.all().iter().filter(|role| role.turns.value == turned).map(|role| role.name.as_str()).collect::<Vec<_>>();
    assert_eq!(by(TurnedBy::DeskPartner), ["orchestral-string-part", "double-bass-part"]);
    assert_eq!(by(TurnedBy::Conductor), ["full-score", "opera-full-score", "wind-band-score", "condensed-score"]);
    assert_eq!(by(TurnedBy::Nobody), ["chorus-part", "chorus-score", "octavo", "hymnal", "study-score"]);
    assert_eq!(by(TurnedBy::PageTurner), ["chamber-score"]);
}

#[test]
fn the_published_page_of_parts_passes() {
    // Metropole Orkest, "Parts" (R): 10 staves of 8 mm on JIS B4 with margins of 10 mm; that leaves
    // (364 - 20 - 10 x 8) / 9 = 29.3 mm, 3.7 staff heights, between two staves (D).
    let roles = Roles::built_in().expect("built-in roles load");
    let gap: f64 = (364.0 - 20.0 - 10.0 * 8.0) / 9.0 / 8.0;
    for name in ["orchestral-string-part", "orchestral-wind-part", "orchestral-brass-part", "double-bass-part"] {
        let role = roles.get(name).expect("a known role");
        assert!(role.staff_height.good.value <= Mm(8.0) && Mm(8.0) <= role.staff_height.most.value);
        let gaps = role.staff_gaps.as_ref().expect("a desk part");
        assert!(gaps.norm_from.value <= gap && (gap * 10.0).round() / 10.0 <= gaps.norm_to.value, "{gap}");
    }
}
