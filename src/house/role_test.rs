//! Check values of the trade against the readers that come with the program, each beside its source and mark.

use super::data::Mark;
use super::family::Family;
use super::role::{Kind, Light, OtherStaves, Roles, TurnedBy};
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
    assert_eq!(heights("chamber-score"), "4.5 5.0 5.5 7.0");
    for vocal in ["songbook", "vocal-score", "chorus-score", "chorus-part"] {
        assert_eq!(heights(vocal), "5.0 5.5 6.0 8.0", "{vocal}");
    }
}

/// Common practice, no source: poor light asks for more than a lit platform, and an orchestral part at 7.0 is a risk in it.
#[test]
fn poor_light_asks_for_more() {
    let roles = Roles::built_in().expect("built-in roles load");
    for role in roles.all() {
        let (lit, dim) = (role.heights(Some(Light::Lit)), role.heights(Some(Light::Dim)));
        let pairs = [(&lit.least, &dim.least), (&lit.good, &dim.good), (&lit.ideal, &dim.ideal), (&lit.most, &dim.most)];
        assert!(pairs.iter().all(|(lit, dim)| lit.value <= dim.value), "{}", role.name);
        assert!(role.staff_height_dim.is_none() || lit.ideal.value < dim.ideal.value, "{}", role.name);
        let usual = role.heights(None);
        assert_eq!(usual, if role.name == "pit-book" { dim } else { lit }, "{}", role.name);
        let desk = role.staff_height_dim.is_some() && role.kind == Kind::Part && role.family != Some(Family::Keyboard);
        assert!(!desk || dim.good.value > Mm(7.0), "{}", role.name);
    }
}

/// Dorff, 1997 (R): a conductor reads from 3 to 4 feet of 0.3048 m; told to the decimetre.
#[test]
fn a_conductor_reads_from_three_to_four_feet() {
    let roles = Roles::built_in().expect("built-in roles load");
    let decimetres = |metres: f64| format!("{metres:.1}");
    for name in ["full-score", "opera-full-score", "wind-band-score", "condensed-score"] {
        let distance = roles.get(name).expect("a known role").reading_distance.clone().expect("the podium");
        assert_eq!([distance.least_m, distance.most_m].map(decimetres), [3.0 * 0.3048, 4.0 * 0.3048].map(decimetres), "{name}");
        assert_eq!(distance.source.mark, Mark::R);
    }
}

/// Plate sizes of the Leipzig engraving houses Röder and Geidel (S; Nos. 0 to 2 also Kriterien für Orchester-Notenmaterial, R):
/// No. n is 8.5 - 0.5 n mm. What the trade engraves with them, each plate good for its reader.
#[test]
fn plate_sizes_serve_their_readers() {
    let roles = Roles::built_in().expect("built-in roles load");
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
    ] {
        let heights = &roles.get(name).expect("a known role").staff_height;
        assert!(heights.good.value <= plate(number) && plate(number) <= heights.most.value, "No. {number}, {name}");
    }
    // An orchestral part from No. 3 is at risk, from No. 4 it does not serve (Kriterien, R; common practice, no source).
    let wind = &roles.get("orchestral-wind-part").expect("a known role").staff_height;
    assert!(plate(3) < wind.good.value && plate(3) >= wind.least.value && plate(4) < wind.least.value);
}

/// Cue size 5.0, ossia 4.5 against 7.0 full size: plates of Röder and Geidel; other parts over a piano 4.9 against 6.5: Dansk
/// Center for Musikudgivelse (arithmetic on both, D).
#[test]
fn shares_of_other_staves() {
    for role in Roles::built_in().expect("built-in roles load").all() {
        let OtherStaves { other_player, ossia, cue, rehearsal } = &role.other_staves;
        for (fact, share) in [(cue, 5.0 / 7.0), (ossia, 4.5 / 7.0), (other_player, 4.9 / 6.5)] {
            assert_eq!(format!("{:.2}", fact.value), format!("{share:.2}"), "{}", role.name);
            assert_eq!(fact.source.mark, Mark::D);
        }
        // Common practice, no source: no smaller than an ossia.
        assert!(rehearsal.value >= ossia.value && rehearsal.source.mark == Mark::C, "{}", role.name);
    }
}

/// Engraving guidelines of a publisher of contemporary music (R): sung text 10 pt; from memory (M): a question below 9, too
/// small below 7.5.
#[test]
fn sizes_of_sung_text() {
    let roles = Roles::built_in().expect("built-in roles load");
    for name in ["chorus-part", "chorus-score", "octavo", "vocal-score", "songbook", "lead-sheet"] {
        let text = &roles.get(name).expect("a known role").text_pt;
        let told = [&text.least, &text.good, &text.ideal].map(|fact| format!("{} {:?}", fact.value, fact.source.mark));
        assert_eq!(told, ["7.5 M", "9 M", "10 R"], "{name}");
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
        // 10, 11 and 12 staves: 3.7, 3.2 and 2.8 staff heights (D), all of them right.
        for (staves, expected) in [(10.0_f64, "3.7"), (11.0, "3.2"), (12.0, "2.8")] {
            let told = format!("{:.1}", (364.0 - 20.0 - staves * 8.0) / (staves - 1.0) / 8.0);
            assert_eq!(told, expected);
            assert!((gaps.norm_from.value..=gaps.norm_to.value).contains(&told.parse().expect("a number")), "{staves} staves");
        }
    }
}
