//! Words as names have them: without accents, capitals and signs.

use std::iter;
use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

/// Ends of ordinal numbers: 1st, 2nd, 3e, 1er, 1ers, 2ds, 1ª, 2º.
const ORDINALS: [&str; 19] =
    ["st", "nd", "rd", "th", "e", "er", "ere", "ers", "eres", "re", "eme", "emes", "d", "de", "ds", "o", "os", "a", "as"];

/// The runs of letters and the runs of digits of a text, without accents, capitals and the ends of ordinal numbers. A
/// flat sign belongs to its letter: `B♭` is `bb`.
pub(super) fn tokens(text: &str) -> Vec<String> {
    if text.bytes().all(|byte| byte.is_ascii_lowercase() || byte == b' ') {
        // As nearly all words of the house are.
        return text.split_ascii_whitespace().map(str::to_owned).collect();
    }
    if text.is_ascii() {
        // There is nothing to take apart.
        return runs(text.chars().map(|letter| letter.to_ascii_lowercase()));
    }
    runs(text.nfkd().filter(|letter| !is_combining_mark(*letter)).flat_map(char::to_lowercase))
}

/// The tokens of a text with a space between them, and how many they are.
pub(super) fn phrase(text: String) -> (String, usize) {
    let plain = |(last, byte): (u8, u8)| byte.is_ascii_lowercase() || byte == b' ' && last != b' ';
    if text.bytes().last().is_some_and(|last| last != b' ') && iter::once(b' ').chain(text.bytes()).zip(text.bytes()).all(plain) {
        let spaces = text.bytes().filter(|byte| *byte == b' ').count();
        return (text, 1 + spaces);
    }
    let tokens = tokens(&text);
    (tokens.join(" "), tokens.len())
}

/// The runs of plain small letters and of digits.
fn runs(letters: impl Iterator<Item = char>) -> Vec<String> {
    let mut tokens: Vec<(bool, String)> = Vec::new();
    let mut last = None;
    for letter in letters {
        let letter = if letter == '♭' && last == Some(false) { 'b' } else { letter };
        let digit = letter.is_alphanumeric().then(|| letter.is_numeric());
        if let Some(digit) = digit {
            if last != Some(digit) {
                let behind_digits = last == Some(true) && !digit;
                tokens.push((behind_digits, String::new()));
            }
            if let Some((_, token)) = tokens.last_mut() {
                match letter {
                    'ß' => token.push_str("ss"),
                    'œ' => token.push_str("oe"),
                    'æ' => token.push_str("ae"),
                    other => token.push(other),
                }
            }
        }
        last = digit;
    }
    let ordinal = |behind_digits: bool, token: &str| behind_digits && ORDINALS.contains(&token);
    tokens.into_iter().filter(|(behind_digits, token)| !ordinal(*behind_digits, token)).map(|(_, token)| token).collect()
}

#[cfg(test)]
mod tests {
    use super::{phrase, tokens};

    #[test]
    fn runs_of_letters_and_digits() {
        for (text, expected) in [
            ("Flûte à bec", "flute a bec"),
            ("B♭ Clarinet", "bb clarinet"),
            ("si♭, mi ♭", "sib mi"),
            ("Große Trommel", "grosse trommel"),
            ("Chœur", "choeur"),
            ("Ob.1,2", "ob 1 2"),
            ("3e Cor, 1st Horn, 1ª Trompa, 2ds Violons", "3 cor 1 horn 1 trompa 2 violons"),
            ("E. Hn. 3", "e hn 3"),
            ("2 E", "2 e"),
            ("♭", ""),
            ("", ""),
            (" ", ""),
            ("a flat", "a flat"),
            (" bass  flute ", "bass flute"),
            ("bass ", "bass"),
        ] {
            assert_eq!(tokens(text).join(" "), expected, "{text}");
            assert_eq!(phrase(text.to_owned()), (expected.to_owned(), tokens(text).len()), "{text}");
        }
    }
}
