//! Scores in as few words as tell a set of copies apart: bars of notes and marks, no layout.
//!
//! A bar is a text: notes such as `c5 d5 e5 f5` (crotchets), `r` for a bar of rest, `c5+e5` for a chord, `(c5)` for a cue;
//! before them marks: `[A]` a rehearsal mark, `{Allegro}` words with a tempo for playback, `|:` and `:|` repeats, `||` a double bar
//! at its end, `^` a fermata over its last note or rest, `!1` and `!F` a key of so many sharps or flats, `%` a segno, `@` a coda sign,
//! `~96` a metronome mark, `t3/4` a time, `<1` an ending.

use std::fmt::Write;

/// A part: name, semitones and staff steps by which it is written above how it sounds, bars.
pub struct Tiny<'a> {
    pub name: &'a str,
    pub transpose: Option<(i32, i32)>,
    pub bars: Vec<String>,
}

/// A file of some parts under a title.
pub fn file(title: &str, parts: &[Tiny]) -> String {
    let mut text = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<score-partwise version=\"4.0\">\n<work><work-title>{title}</work-title></work>\n<part-list>\n"
    );
    for (index, part) in parts.iter().enumerate() {
        let name = escape(part.name);
        let _ = writeln!(text, "<score-part id=\"P{0}\"><part-name>{name}</part-name></score-part>", index + 1);
    }
    text.push_str("</part-list>\n");
    for (index, part) in parts.iter().enumerate() {
        let _ = writeln!(text, "<part id=\"P{}\">", index + 1);
        for (number, bar) in (1..).zip(&part.bars) {
            write_bar(&mut text, number, bar, part.transpose);
        }
        text.push_str("</part>\n");
    }
    text.push_str("</score-partwise>\n");
    text
}

/// A text as XML writes it.
pub fn escape(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

fn write_bar(text: &mut String, number: usize, bar: &str, transpose: Option<(i32, i32)>) {
    let _ = writeln!(text, "<measure number=\"{number}\">");
    let words: Vec<&str> = bar.split_whitespace().collect();
    let keys: Vec<&str> = words.iter().filter_map(|word| word.strip_prefix('!')).collect();
    let time = words.iter().find_map(|word| word.strip_prefix('t')).and_then(|time| time.split_once('/'));
    if number == 1 || !keys.is_empty() || time.is_some() {
        text.push_str("<attributes><divisions>1</divisions>");
        for key in keys {
            let fifths = if key == "F" { "-1" } else { key };
            let _ = write!(text, "<key><fifths>{fifths}</fifths></key>");
        }
        if let Some((beats, unit)) = time.or((number == 1).then_some(("4", "4"))) {
            let _ = write!(text, "<time><beats>{beats}</beats><beat-type>{unit}</beat-type></time>");
        }
        if let Some((diatonic, chromatic)) = transpose.filter(|_| number == 1) {
            let _ = write!(text, "<transpose><diatonic>{diatonic}</diatonic><chromatic>{chromatic}</chromatic></transpose>");
        }
        text.push_str("</attributes>\n");
    }
    let fermata = words.contains(&"^");
    let notes: Vec<&str> = words.iter().copied().filter(|word| word.starts_with(|sign: char| "abcdefgr(".contains(sign))).collect();
    for word in &words {
        if let Some(mark) = word.strip_prefix('[').and_then(|word| word.strip_suffix(']')) {
            let _ = writeln!(text, "<direction><direction-type><rehearsal>{}</rehearsal></direction-type></direction>", escape(mark));
        } else if let Some(tempo) = word.strip_prefix('{').and_then(|word| word.strip_suffix('}')) {
            let _ = writeln!(
                text,
                "<direction placement=\"above\"><direction-type><words>{tempo}</words></direction-type><sound tempo=\"90\"/></direction>"
            );
        } else if let Some(beats) = word.strip_prefix('~') {
            let _ = writeln!(
                text,
                "<direction placement=\"above\"><direction-type><metronome><beat-unit>quarter</beat-unit><per-minute>{beats}</per-minute></metronome></direction-type><sound tempo=\"{beats}\"/></direction>"
            );
        } else if *word == "%" {
            text.push_str("<direction><direction-type><segno/></direction-type></direction>\n");
        } else if *word == "@" {
            text.push_str("<direction><direction-type><coda/></direction-type></direction>\n");
        } else if let Some(ending) = word.strip_prefix('<') {
            let _ = writeln!(text, "<barline location=\"left\"><ending number=\"{ending}\" type=\"start\"/></barline>");
        } else if *word == "|:" {
            text.push_str("<barline location=\"left\"><bar-style>heavy-light</bar-style><repeat direction=\"forward\"/></barline>\n");
        }
    }
    for (index, word) in notes.iter().enumerate() {
        let last = index + 1 == notes.len();
        write_note(text, word, fermata && last);
    }
    if words.contains(&":|") {
        text.push_str("<barline location=\"right\"><bar-style>light-heavy</bar-style><repeat direction=\"backward\"/></barline>\n");
    }
    if words.contains(&"||") {
        text.push_str("<barline location=\"right\"><bar-style>light-light</bar-style></barline>\n");
    }
    text.push_str("</measure>\n");
}

fn write_note(text: &mut String, word: &str, fermata: bool) {
    let cue = word.starts_with('(');
    let word = word.trim_matches(['(', ')']);
    let over = if fermata { "<notations><fermata/></notations>" } else { "" };
    if word == "r" {
        let _ = writeln!(text, "<note><rest measure=\"yes\"/><duration>4</duration><voice>1</voice>{over}</note>");
        return;
    }
    for (index, pitch) in word.split('+').enumerate() {
        let mut signs = pitch.chars();
        let step = signs.next().map(|sign| sign.to_ascii_uppercase()).expect("a step");
        let rest: String = signs.collect();
        let alter = if rest.starts_with('#') {
            "<alter>1</alter>"
        } else if rest.starts_with('b') {
            "<alter>-1</alter>"
        } else {
            ""
        };
        let octave = rest.trim_start_matches(['#', 'b']);
        let (chord, cue) = (if index > 0 { "<chord/>" } else { "" }, if cue { "<cue/>" } else { "" });
        let _ = writeln!(
            text,
            "<note>{cue}{chord}<pitch><step>{step}</step>{alter}<octave>{octave}</octave></pitch><duration>1</duration><voice>1</voice><type>quarter</type>{over}</note>"
        );
    }
}
