//! British and American words in what is said to people. Data keep bar and staff.

use super::WordsOf;
use std::borrow::Cow;

/// Words and what they become: the usual word, British, American (common practice, no source).
const WORDS: [(&str, &str, &str); 10] = [
    ("bar", "bar", "measure"),
    ("bars", "bars", "measures"),
    ("Bar", "Bar", "Measure"),
    ("Bars", "Bars", "Measures"),
    ("staff", "stave", "staff"),
    ("Staff", "Stave", "Staff"),
    ("semibreve", "semibreve", "whole note"),
    ("minim", "minim", "half note"),
    ("crotchet", "crotchet", "quarter note"),
    ("quaver", "quaver", "eighth note"),
];

impl WordsOf {
    /// A text in these words. What stands in quotation marks is somebody else's and stays.
    pub fn say(self, text: &str) -> Cow<'_, str> {
        let mut said = String::new();
        let mut quoted = false;
        let mut changed = false;
        let mut rest = text;
        while !rest.is_empty() {
            let word = rest.find(|sign: char| !sign.is_alphabetic()).unwrap_or(rest.len());
            if word == 0 {
                let sign = rest.chars().next().unwrap_or_default();
                quoted = match sign {
                    '\u{201c}' => true,
                    '\u{201d}' => false,
                    _ => quoted,
                };
                said.push(sign);
                rest = &rest[sign.len_utf8()..];
                continue;
            }
            let (own, after) = rest.split_at(word);
            rest = after;
            let mut becomes = own;
            if let Some((_, uk, us)) = WORDS.iter().find(|(usual, ..)| *usual == own && !quoted) {
                becomes = if self == Self::Uk { uk } else { us };
            }
            // American engravers write barline in one word.
            if self == Self::Us && matches!(own, "bar" | "Bar") && !quoted && rest.starts_with(" line") {
                said.push_str(own);
                rest = &rest[1..];
                changed = true;
                continue;
            }
            changed |= becomes != own;
            said.push_str(becomes);
        }
        if changed { Cow::Owned(said) } else { Cow::Borrowed(text) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whole_words_outside_quotation_marks() {
        let text = "p. 2, bars 3-4: a staff of 7 mm, the bar line at bar 5; \u{201c}bar one\u{201d} in Barbara's staffing";
        assert_eq!(
            WordsOf::Us.say(text),
            "p. 2, measures 3-4: a staff of 7 mm, the barline at measure 5; \u{201c}bar one\u{201d} in Barbara's staffing"
        );
        assert_eq!(WordsOf::Uk.say(text), text.replace("a staff of", "a stave of"));
        assert!(matches!(WordsOf::Uk.say("bars 1-2"), Cow::Borrowed(_)));
    }
}
