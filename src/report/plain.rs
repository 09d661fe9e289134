//! Text from a file made harmless: nothing in it reaches a terminal as anything but text.

use std::borrow::Cow;
use unicode_width::UnicodeWidthStr;

/// What stands for a sign that is not shown.
const SHOWN_INSTEAD: char = '\u{fffd}';

/// Signs that steer a terminal or the direction of reading, or cannot be seen: controls, separators, the format characters
/// that leave no mark (general categories Cc, Zl, Zp and Cf of the Unicode Character Database, from memory), Hangul fillers.
fn steers(sign: char) -> bool {
    if sign.is_ascii() {
        return sign.is_ascii_control();
    }
    sign.is_control()
        || matches!(
            sign,
            '\u{ad}'
                | '\u{61c}'
                | '\u{115f}'..='\u{1160}'
                | '\u{180e}'
                | '\u{200b}'..='\u{200f}'
                | '\u{2028}'..='\u{202e}'
                | '\u{2060}'..='\u{206f}'
                | '\u{3164}'
                | '\u{feff}'
                | '\u{ffa0}'
                | '\u{fff9}'..='\u{fffb}'
                | '\u{13430}'..='\u{1343f}'
                | '\u{1bca0}'..='\u{1bca3}'
                | '\u{1d173}'..='\u{1d17a}'
                | '\u{e0000}'..='\u{e007f}'
        )
}

/// The text with every sign that steers replaced: white space by a space, others by a visible mark.
pub fn plain(text: &str) -> Cow<'_, str> {
    if !text.contains(steers) {
        return Cow::Borrowed(text);
    }
    let shown = |sign: char| match sign {
        '\t' | '\n' | '\r' => ' ',
        sign if steers(sign) => SHOWN_INSTEAD,
        sign => sign,
    };
    Cow::Owned(text.chars().map(shown).collect())
}

/// The same for text of several lines: line ends stay.
pub(super) fn plain_lines(text: &str) -> String {
    text.split('\n').map(|line| plain(line.trim_end_matches('\r'))).collect::<Vec<_>>().join("\n")
}

/// JSON text whose strings spell out every sign that steers; their values stay the same.
pub fn plain_json(json: &str) -> Cow<'_, str> {
    let mut shown = String::new();
    let (mut from, mut looked) = (0, 0);
    while let Some(at) = may_steer(json.as_bytes(), looked) {
        let sign = json.get(at..).and_then(|rest| rest.chars().next()).unwrap_or_default();
        looked = at + sign.len_utf8();
        if steers(sign) {
            shown.push_str(json.get(from..at).unwrap_or_default());
            let mut units = [0; 2];
            shown.extend(sign.encode_utf16(&mut units).iter().map(|unit| format!("\\u{unit:04x}")));
            from = looked;
        }
    }
    if from == 0 {
        return Cow::Borrowed(json);
    }
    shown.push_str(json.get(from..).unwrap_or_default());
    Cow::Owned(shown)
}

/// Where the next sign of JSON stands that may steer. Nearly all is ASCII, and between its strings JSON has no control but line ends; those
/// within are spelt out already.
fn may_steer(json: &[u8], from: usize) -> Option<usize> {
    /// Looked at in one go, without a way out on the way.
    const PIECE: usize = 128;
    let rest = json.get(from..).unwrap_or_default();
    let may_steer = |byte: &u8| !matches!(byte, b' '..=b'~' | b'\n');
    let any = |piece: &[u8]| piece.iter().fold(false, |any, byte| any | may_steer(byte));
    let sound = rest.chunks_exact(PIECE).take_while(|piece| !any(piece)).count() * PIECE;
    let left = rest.get(sound..).unwrap_or_default();
    left.iter().position(may_steer).map(|at| from + sound + at)
}

/// A text cut or filled up to some columns.
pub(super) fn padded(text: &str, columns: usize) -> String {
    let fill = columns.saturating_sub(text.width());
    format!("{text}{}", " ".repeat(fill))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn nothing_steers_a_terminal() {
        let hostile = "Oboe\u{1b}[31m\r\n\t\u{202e}eno\u{7}\u{9b}2J\u{200b}\u{2029}\0";
        let shown = plain(hostile);
        assert!(!shown.contains(steers), "{shown:?}");
        assert_eq!(shown, "Oboe\u{fffd}[31m   \u{fffd}eno\u{fffd}\u{fffd}2J\u{fffd}\u{fffd}\u{fffd}");
        assert!(matches!(plain("Kl\u{e4}rinette, 1\u{266d}"), Cow::Borrowed(_)));
    }

    proptest! {
        #[test]
        fn json_without_steering_signs_says_the_same(before in 0..300_usize, behind in 0..300_usize, text in "[a\u{0}-\u{1f}\u{7f}-\u{9f}\u{200b}-\u{202e}\u{2066}\u{feff}\u{1d15e}]{0,12}") {
            let text = format!("{}{text}{}", "b".repeat(before), "c".repeat(behind));
            let json = serde_json::to_string(&text).expect("a string");
            let shown = plain_json(&json);
            prop_assert!(!shown.contains(steers));
            prop_assert_eq!(serde_json::from_str::<String>(&shown).expect("JSON still"), text);
        }
    }
}
