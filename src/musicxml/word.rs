//! Eight bytes of markup at a time: names and values are short, and to ask byte by byte where they end costs more than the answer.

/// The lowest bit of every byte.
const ONES: u64 = u64::from_le_bytes([1; 8]);
/// The highest bit of every byte.
const HIGH: u64 = ONES << 7;

/// The eight bytes at a position, the first of them lowest; `None` where there are fewer.
pub(super) fn word(bytes: &[u8], at: usize) -> Option<u64> {
    Some(u64::from_le_bytes(*bytes.get(at..)?.first_chunk()?))
}

/// Which bits of a word are its first bytes, one to eight.
pub(super) fn first_bytes(count: u32) -> u64 {
    u64::MAX >> (u64::BITS - 8 * count.clamp(1, 8))
}

/// A hash with one word more: that of the compiler's own tables, a turn, a sum without carry and a product.
pub(super) fn hashed(hash: u64, word: u64) -> u64 {
    (hash.rotate_left(5) ^ word).wrapping_mul(0x517c_c1b7_2722_0a95)
}

/// The highest bit of the first byte that is `byte`, and perhaps of some behind it.
fn equal(word: u64, byte: u8) -> u64 {
    let others = word ^ (ONES * u64::from(byte));
    others.wrapping_sub(ONES) & !others & HIGH
}

/// The highest bit of the first byte below a limit of at most 0x80, and perhaps of some behind it.
fn below(word: u64, limit: u8) -> u64 {
    word.wrapping_sub(ONES * u64::from(limit)) & !word & HIGH
}

/// Number of bytes before the next `END`, where they are no more than 15 and plain: ASCII without controls, `&` and `ODD`.
pub(super) fn plain_up_to<const END: u8, const ODD: u8>(bytes: &[u8], at: usize) -> Option<usize> {
    for before in [0, 8] {
        let word = word(bytes, at + before)?;
        let ends = equal(word, END);
        let odd = below(word, b' ') | equal(word, b'&') | equal(word, ODD) | word & HIGH;
        // All bits before the first end; all there are where there is none.
        let passed = (ends & ends.wrapping_neg()).wrapping_sub(1);
        if odd & passed != 0 {
            return None;
        }
        if ends != 0 {
            return Some(before + ends.trailing_zeros() as usize / 8);
        }
    }
    None
}

/// Number of letters that a word begins with; a few signs that are in no name of the standard count as such.
pub(super) fn letters(word: u64) -> u32 {
    // The bytes from 0x40 to 0x7F.
    let others = (!(word << 1) | word) & HIGH;
    others.trailing_zeros() / 8
}

/// Number of letters and hyphens at a position, where they are no more than 15 and begin with a letter.
pub(super) fn name(bytes: &[u8], at: usize) -> Option<usize> {
    bytes.get(at).filter(|first| first.is_ascii_alphabetic())?;
    for before in [0, 8] {
        let others = !in_names(word(bytes, at + before)?) & HIGH;
        if others != 0 {
            return Some(before + others.trailing_zeros() as usize / 8);
        }
    }
    None
}

/// The highest bit of every byte that is a letter or a hyphen.
fn in_names(word: u64) -> u64 {
    // Letters are what has bit 6 and 1 to 26 in the lower five.
    let low = word & (ONES * 0x1F);
    let letters = (word << 1) & (low + ONES * 0x7F) & !(low + ONES * (0x80 - 27)) & !word;
    let other = word ^ (ONES * u64::from(b'-'));
    let hyphens = !(((other & !HIGH) + (ONES * 0x7F)) | other);
    (letters | hyphens) & HIGH
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Source: the definitions, byte by byte.
        #[test]
        fn a_word_tells_what_its_bytes_tell(
            bytes in prop::collection::vec(prop_oneof![any::<u8>(), 0x2A..0x7B_u8, prop::sample::select(b"<&]\"-@[`{\x1F ".to_vec())], 0..20),
        ) {
            for (end, odd, found) in [(b'<', b']', plain_up_to::<b'<', b']'>(&bytes, 0)), (b'"', b'<', plain_up_to::<b'"', b'<'>(&bytes, 0))] {
                let length = bytes.iter().position(|byte| *byte == end).filter(|length| *length < 16);
                let plain = |byte: &u8| (b' '..0x80).contains(byte) && *byte != b'&' && *byte != odd;
                // What is near the end of a text is for others.
                let known = length.filter(|length| bytes.len() >= length / 8 * 8 + 8 && bytes[..*length].iter().all(plain));
                prop_assert_eq!(found, known);
            }

            let letter = |byte: &u8| byte.is_ascii_alphabetic() || *byte == b'-';
            let length = bytes.iter().position(|byte| !letter(byte)).unwrap_or(bytes.len());
            let known = (length < 16 && bytes.len() >= length / 8 * 8 + 8 && bytes[0].is_ascii_alphabetic()).then_some(length);
            prop_assert_eq!(name(&bytes, 0), known);
        }
    }
}
