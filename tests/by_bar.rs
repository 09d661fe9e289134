//! What stands at a bar in whatever part, against asking every part for it.

#![allow(clippy::expect_used, reason = "a test says what it expects")]

use proptest::prelude::*;
use stavegauge::musicxml::{Source, read};
use stavegauge::score::{Score, Traits};
use std::ptr;

/// A note, a sign, a mark or a rest of several bars, as they are written.
fn piece() -> impl Strategy<Value = &'static str> {
    prop::sample::select(vec![
        "<note><rest/><duration>1</duration><notations><fermata/></notations></note>",
        "<note><pitch><step>C</step><octave>4</octave></pitch><duration>1</duration><type size='cue'>quarter</type></note>",
        "<note><pitch><step>C</step><octave>4</octave></pitch><duration>1</duration></note>",
        "<direction><direction-type><rehearsal>A</rehearsal></direction-type></direction>",
        "<barline location='left'><repeat direction='forward'/></barline>",
        "<attributes><clef><sign>G</sign></clef></attributes>",
        "<attributes><measure-style><multiple-rest>7</multiple-rest></measure-style></attributes>",
    ])
}

fn score(parts: &[Vec<Vec<&str>>]) -> Score {
    let bars = |bars: &[Vec<&str>]| bars.iter().map(|bar| format!("<measure number='1'>{}</measure>", bar.concat())).collect::<Vec<_>>();
    let part = |(index, part): (usize, &Vec<Vec<&str>>)| format!("<part id='P{index}'>{}</part>", bars(part).concat());
    let parts: Vec<String> = parts.iter().enumerate().map(part).collect();
    let text = format!("<score-partwise version='4.0'>{}</score-partwise>", parts.concat());
    let source = Source::spool("-", text.as_bytes()).expect("it is a score").remove(0);
    read(source.unchecked_stream().expect("it opens")).expect("it is well-formed")
}

proptest! {
    /// Source: the definition. What is found by bar is what asking every part finds.
    #[test]
    fn the_same_as_asking_every_part(
        parts in prop::collection::vec(prop::collection::vec(prop::collection::vec(piece(), 0..4), 0..6), 1..5),
    ) {
        let score = score(&parts);
        for bar in 0..score.bar_count() + 2 {
            // The very same: a mark without a place is not equal to itself.
            let marks = score.parts.iter().flat_map(|part| part.marks_of(bar));
            prop_assert!(score.marks_at(bar).map(ptr::from_ref).eq(marks.map(ptr::from_ref)));
            let by_part = score.parts.iter().enumerate().map(|(part, one)| (part, ptr::from_ref(one.marks_of(bar))));
            let by_part = by_part.filter(|(part, _)| !score.parts[*part].marks_of(bar).is_empty());
            prop_assert!(score.marks_by_part(bar).map(|(part, marks)| (part, ptr::from_ref(marks))).eq(by_part));
            let signs = score.parts.iter().flat_map(|part| part.signs_of(bar));
            prop_assert!(score.signs_at(bar).map(ptr::from_ref).eq(signs.map(ptr::from_ref)));
            let notes = || score.parts.iter().flat_map(|part| part.notes_of(bar));
            for traits in [Traits::FERMATA, Traits::SMALL, Traits::CHORD] {
                prop_assert_eq!(score.may_hold(bar, traits), notes().any(|note| note.traits.contains(traits)));
            }
            let most = score.parts.iter().filter_map(|part| part.bars.get(bar)).map(|bar| bar.rest_bars).max();
            prop_assert_eq!(score.most_rest_bars(bar), most.unwrap_or(0));
        }
    }
}
