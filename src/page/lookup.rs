//! Which stated value holds: this print's own, else another part's, else the defaults; child by child.

use crate::place::Known;
use crate::score::Given;
use crate::score::instructions::Print;

/// The prints of one system in the order in which their values count: those of parts with a printed staff
/// first, top of the score first, then the others.
pub(super) fn in_order<'a>(prints: impl Iterator<Item = &'a Print>, is_printed: impl Fn(usize) -> bool) -> Vec<&'a Print> {
    let mut prints: Vec<&Print> = prints.collect();
    prints.sort_by_key(|print| (!is_printed(print.part), print.part));
    prints
}

/// The value in force: the first print's that states it, else the default, else unknown for the given reason.
pub(super) fn in_force<T: Copy>(prints: &[&Print], pick: impl Fn(&Print) -> Given<T>, default: Given<T>, why: &'static str) -> Known<T> {
    if let Some(own) = prints.iter().find_map(|print| pick(print)) {
        return Known::Stated(own.value, own.at);
    }
    default.map_or(Known::Unknown(why), |default| Known::Inherited(default.value, default.at))
}
