//! Words as names have them: without accents, capitals and signs; a flat is spelt with a b.

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

/// What follows the digits of an ordinal number in the languages of scores: 1st, 2nd, 1er, 1re, 2e, 1a, 2os.
const ORDINALS: [&str; 18] = ["st", "nd", "rd", "d", "th", "er", "ere", "re", "e", "eme", "de", "ds", "es", "te", "a", "o", "as", "os"];

/// The runs of letters and the runs of digits of a text, without accents and capitals. The ending of an ordinal number is
/// no word, so that "2e Hn." is no "E. Hn."; a flat behind a letter belongs to it, so that a horn in E flat is none either.
pub(super) fn tokens(text: &str) -> Vec<String> {
    let mut tokens: Vec<String> = Vec::new();
    let mut last = None;
    let mut behind_digits = false;
    for letter in text.nfkd().filter(|letter| !is_combining_mark(*letter)).flat_map(char::to_lowercase) {
        let letter = if letter == '♭' && last == Some(false) { 'b' } else { letter };
        let kind = letter.is_alphanumeric().then(|| letter.is_numeric());
        if kind != last {
            end_run(&mut tokens, behind_digits);
            behind_digits = last == Some(true) && kind == Some(false);
            if kind.is_some() {
                tokens.push(String::new());
            }
        }
        if kind.is_some()
            && let Some(token) = tokens.last_mut()
        {
            match letter {
                'ß' => token.push_str("ss"),
                'œ' => token.push_str("oe"),
                'æ' => token.push_str("ae"),
                other => token.push(other),
            }
        }
        last = kind;
    }
    end_run(&mut tokens, behind_digits);
    tokens
}

/// Drops the last run if it ends the ordinal number before it.
fn end_run(tokens: &mut Vec<String>, behind_digits: bool) {
    if behind_digits && tokens.last().is_some_and(|token| ORDINALS.contains(&token.as_str())) {
        tokens.pop();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_without_accents_signs_and_ordinal_endings() {
        for (text, expected) in [
            ("Große Flöte", "grosse flote"),
            ("Chœur d'enfants", "choeur d enfants"),
            ("1ère Flûte", "1 flute"),
            ("2e Hn.", "2 hn"),
            ("E. Hn. 2", "e hn 2"),
            ("E♭ Hn.", "eb hn"),
            ("♭", ""),
            ("2ds Violons", "2 violons"),
            ("Violines 2.os", "violines 2 os"),
            ("Fl.1Ob.2", "fl 1 ob 2"),
            ("3e", "3"),
            ("", ""),
        ] {
            assert_eq!(tokens(text).join(" "), expected, "{text}");
        }
    }
}
