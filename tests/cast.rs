//! Casting off: worked cases, and the optimum against every division there is.

#![allow(clippy::expect_used, clippy::panic, reason = "a test says what it expects")]

use proptest::prelude::*;
use stavegauge::cast::{
    Down, Impossible, Line, Pages, PagesWanted, Setting, Sheet, cast_off, fill, lines, short_page, turn_faults, uneven, vertical,
};
use stavegauge::page::Side;
use stavegauge::room::across::Widths;
use stavegauge::units::{Mm, Sp};

/// Widths of a bar as the spacing study's cases have them: least, close and stretched a share of natural.
fn bar(natural: f64, line: f64) -> Setting {
    let widths = Widths { least: Sp(natural * 0.6), short: Sp(natural * 0.75), natural: Sp(natural), stretched: Sp(natural * 1.4) };
    Setting { opening: widths, inside: widths, line: Sp(line), ..Setting::default() }
}

/// Systems of one height, gaps of one kind.
fn across(settings: &[Setting], body: f64, gap: [f64; 3]) -> Vec<Vec<Option<Line>>> {
    let half = Down { close: Mm(gap[0] / 2.0), natural: Mm(gap[1] / 2.0), generous: Mm(gap[2] / 2.0) };
    let line = |line: Option<stavegauge::cast::LineFaults>| {
        line.map(|line| Line { faults: line.faults, body: Down::fixed(Mm(body)), above: half, below: half })
    };
    lines(settings).expect("few").into_iter().map(|row| row.into_iter().map(line).collect()).collect()
}

#[derive(Debug, Clone)]
struct Case {
    lines: Vec<Vec<Option<Line>>>,
    own_page: Vec<bool>,
    heading: Vec<Mm>,
    turns: Option<Vec<f64>>,
    sheet: Sheet,
    first: Option<Side>,
    wanted: PagesWanted,
}

impl Case {
    fn of(lines: Vec<Vec<Option<Line>>>, height: f64) -> Self {
        let bars = lines.len();
        let sheet = Sheet { height: Mm(height), first: Mm(height), may_stay_short: false };
        Self {
            lines,
            own_page: vec![false; bars + 1],
            heading: vec![Mm::ZERO; bars],
            turns: None,
            sheet,
            first: Some(Side::Recto),
            wanted: PagesWanted::Any,
        }
    }

    fn pages(&self) -> Pages<'_> {
        Pages {
            lines: &self.lines,
            own_page: &self.own_page,
            heading: &self.heading,
            turns: self.turns.as_deref(),
            sheet: self.sheet,
            first: self.first,
            wanted: self.wanted,
            most_work: u64::MAX,
            in_view: None,
        }
    }
}

/// Source: spacing study, "casting off", check A: one page is high enough for all.
#[test]
fn lines_of_the_worked_case() {
    let natural = [20.0, 24.0, 17.0, 30.0, 22.0, 18.0, 26.0, 19.0, 21.0, 25.0];
    let settings: Vec<Setting> = natural.iter().map(|natural| bar(*natural, 64.0)).collect();
    let table = lines(&settings).expect("few");
    let steps = |first: usize, bars: usize| table[first][bars - 1].expect("it is a line");
    for ((first, bars), (r, faults)) in
        [(0, 3), (3, 2), (5, 3), (8, 2)].into_iter().zip([(0.1230, 1.406), (0.5769, 408.134), (0.0397, 1.013), (0.9783, 8952.757)])
    {
        let line = steps(first, bars);
        assert!((line.steps - r).abs() < 5e-5, "from {first}: {} steps", line.steps);
        // The study weighs the last line as any other.
        let weighed = if first == 8 { stavegauge::cast::line_faults(line.steps, false, false) } else { line.faults };
        assert!((weighed - faults).abs() < 5e-3, "from {first}: {weighed}");
    }
    let mut case = Case::of(across(&settings, 1.0, [0.0, 0.0, 0.0]), 1000.0);
    for (first, row) in case.lines.iter_mut().enumerate() {
        if let Some(Some(line)) = row.get_mut(settings.len() - first - 1) {
            line.faults = stavegauge::cast::line_faults(steps(first, settings.len() - first).steps, false, false);
        }
    }
    let best = cast_off(&case.pages()).expect("there is one");
    assert_eq!(best.pages[0].systems, [0..3, 3..5, 5..8, 8..10]);
    assert!((best.faults.across - 9363.31).abs() < 0.01, "{}", best.faults.across);
}

fn forty(turns: Vec<f64>) -> Case {
    let settings: Vec<Setting> = (0..40).map(|_| bar(20.0, 80.0)).collect();
    let mut case = Case::of(across(&settings, 14.5, [7.0, 9.5, 14.0]), 100.0);
    case.turns = Some(turns);
    case
}

/// Source: spacing study, "casting off", check C.
#[test]
fn pages_and_turns_of_the_worked_case() {
    let best = cast_off(&forty(vec![9.0; 41]).pages()).expect("there is one");
    let ends = |casting: &stavegauge::cast::Casting| -> Vec<usize> {
        casting.pages.iter().map(|page| page.systems.last().expect("it holds one").end).collect()
    };
    assert_eq!(ends(&best), [16, 32, 40]);
    assert!((best.faults.total() - 22442.0).abs() < 0.05, "{:?}", best.faults);
    let mut turns = vec![0.0; 41];
    (turns[14], turns[17], turns[30]) = (4.5, 2.0, 3.0);
    let best = cast_off(&forty(turns).pages()).expect("there is one");
    assert_eq!(ends(&best), [14, 30, 40]);
    assert_eq!(best.pages[0].systems, [0..3, 3..6, 6..10, 10..14]);
    assert!((best.faults.total() - 31842.4).abs() < 0.05, "{:?}", best.faults);
}

/// Two systems that a page must hold alone: a little white goes between them, much of it stays at the foot.
#[test]
fn a_page_with_much_white_stays_short() {
    let settings: Vec<Setting> = (0..8).map(|_| bar(40.0, 80.0)).collect();
    let natural = 2.0 * 14.5 + 9.5;
    for (height, steps, white) in [(40.0, (40.0 - natural) / 4.5, None), (100.0, 0.0, Some(Mm(100.0 - natural)))] {
        let mut case = Case::of(across(&settings, 14.5, [7.0, 9.5, 14.0]), height);
        (case.own_page[4], case.sheet.may_stay_short) = (true, true);
        let best = cast_off(&case.pages()).expect("there is one");
        let [first, _] = &best.pages[..] else { panic!("two pages: {:?}", best.pages) };
        assert_eq!((&first.systems[..], first.short), (&[0..2, 2..4][..], white));
        assert!((first.steps - steps).abs() < 1e-9, "{first:?}");
    }
}

/// Source: spacing study, "turns", check values of the penalty.
#[test]
fn what_turns_weigh() {
    for (seconds, faults) in
        [(0.0, 45000.0), (1.0, 39000.0), (2.0, 33000.0), (2.5, 10000.0), (3.0, 4444.4), (3.5, 1111.1), (4.0, 0.0), (f64::INFINITY, 0.0)]
    {
        assert!((turn_faults(seconds) - faults).abs() < 0.05, "{seconds} s: {}", turn_faults(seconds));
    }
}

#[test]
fn what_cannot_be_is_said() {
    assert_eq!(cast_off(&Case::of(Vec::new(), 100.0).pages()), Err(Impossible::NoBars));
    let settings: Vec<Setting> = (0..8).map(|_| bar(20.0, 80.0)).collect();
    let high = Case::of(across(&settings, 120.0, [7.0, 9.5, 14.0]), 100.0);
    assert_eq!(cast_off(&high.pages()), Err(Impossible::TooHigh(0, Mm(20.0))));
    let mut many = Case::of(across(&settings, 14.5, [7.0, 9.5, 14.0]), 100.0);
    many.wanted = PagesWanted::Exactly(20);
    // eight pages of a bar each, and a blank one between any two
    assert_eq!(cast_off(&many.pages()), Err(Impossible::Pages(Some(15))));
    // a bar wider than any line stands alone, and is told
    let mut wide = settings.clone();
    wide[3] = bar(400.0, 80.0);
    let table = lines(&wide).expect("few");
    assert!(table[3][0].is_some_and(|line| line.overfull == Some(Sp(160.0))));
    assert_eq!(table[3].len(), 1);
}

/// Work is bounded: what would take too long is refused.
#[test]
fn there_is_an_end_to_work() {
    let settings: Vec<Setting> = (0..60).map(|_| bar(1.0, 80.0)).collect();
    let case = Case::of(across(&settings, 1.0, [1.0, 1.0, 2.0]), 100.0);
    assert!(cast_off(&case.pages()).is_ok());
    let bounded = Pages { most_work: 10_000, ..case.pages() };
    assert_eq!(cast_off(&bounded), Err(Impossible::TooMuch));
    // Ten thousand bars of which a line holds all.
    let endless: Vec<Setting> = (0..10_000).map(|_| bar(0.001, 80.0)).collect();
    assert_eq!(lines(&endless).err(), Some(Impossible::TooMuch));
}

/// Divisions into lines of one page: where each ends, and its lines.
fn page_divisions(case: &Case, start: usize, line_start: usize, held: &[Line], out: &mut Vec<(usize, Vec<Line>)>) {
    if line_start > start {
        out.push((line_start, held.to_vec()));
    }
    if line_start == case.lines.len() || (line_start > start && case.own_page[line_start]) {
        return;
    }
    for (held_bars, line) in case.lines[line_start].iter().enumerate() {
        if let Some(line) = line {
            let mut more = held.to_vec();
            more.push(*line);
            page_divisions(case, start, line_start + held_bars + 1, &more, out);
        }
    }
}
/// Pages that are made already.
struct Made {
    /// Number of the last, blank ones counted.
    number: usize,
    total: f64,
    /// Pages with music.
    printed: usize,
    /// Quarters of a step by which the last one's gaps differ from natural; nothing where that cannot be compared.
    facing: Option<f64>,
}

/// All divisions of what is left.
fn divide(case: &Case, start: usize, made: &Made, first: Side, best: &mut Option<f64>) {
    let Made { number, total, printed, facing } = *made;
    let bars = case.lines.len();
    if start == bars {
        let right = match case.wanted {
            PagesWanted::Any => true,
            PagesWanted::Exactly(wanted) => number == wanted,
            PagesWanted::MultipleOf(multiple) => number.is_multiple_of(multiple),
        };
        if right && best.is_none_or(|best| total < best) {
            *best = Some(total);
        }
        // blank pages at the end, for the multiple alone
        if let PagesWanted::MultipleOf(multiple) = case.wanted {
            let missing = number.next_multiple_of(multiple) - number;
            let total = total + 4000.0 * f64::from(u32::try_from(missing).expect("few"));
            if best.is_none_or(|best| total < best) {
                *best = Some(total);
            }
        }
        return;
    }
    if number > bars + 3 {
        return;
    }
    let mut found = Vec::new();
    page_divisions(case, start, start, &[], &mut found);
    for blank in [false, true] {
        if blank && printed == 0 {
            continue;
        }
        let recto = (number % 2 == 1) == (first == Side::Recto);
        let is_turned = printed > 0 && (recto || blank);
        let turned = if is_turned { case.turns.as_ref().map_or(0.0, |turns| turn_faults(turns[start])) } else { 0.0 };
        let facing = facing.filter(|_| !is_turned);
        let here = number + 1 + usize::from(blank);
        let height = if here == 1 { case.sheet.first } else { case.sheet.height };
        for (end, held) in &found {
            let last = *end == bars;
            let (mut close, mut natural, mut generous) = (0.0, 0.0, 0.0);
            for (index, line) in held.iter().enumerate() {
                let above = if index > 0 { held[index - 1].below + line.above } else { Down::default() };
                close += line.body.close.0 + above.close.0;
                natural += line.body.natural.0 + above.natural.0;
                generous += line.body.generous.0 + above.generous.0;
            }
            if close > height.0 {
                continue;
            }
            let over = height.0 - natural;
            let steps = if over >= 0.0 { over / (generous - natural) } else { over / (natural - close) };
            let white = over.max(0.0) / height.0;
            // What is wrong down the page, and the steps of its gaps where it has any.
            let has_gaps = generous > natural;
            let mut ways = Vec::new();
            if !has_gaps || held.len() == 1 && over >= 0.0 {
                ways.push((if last { vertical(0.0, true) } else { short_page(white) }, 0.0));
            } else if last && steps > 0.0 {
                ways.push((vertical(steps, last), 0.0));
            } else {
                ways.push((vertical(steps, last), steps.min(3.0)));
                if case.sheet.may_stay_short && steps > 0.0 {
                    ways.push((short_page(white), 0.0));
                }
            }
            let lines: f64 = held.iter().map(|line| line.faults).sum();
            let filled = if last && here > 1 { fill(natural / height.0) } else { 0.0 };
            let page = lines + filled + turned + 500.0 + if blank { 4000.0 } else { 0.0 };
            for (down, steps) in ways {
                let quarters = (has_gaps && !last && !case.own_page[*end]).then(|| (steps * 4.0_f64).round());
                let uneven = facing.zip(quarters).map_or(0.0, |(one, other)| uneven((one - other).abs() / 4.0));
                let made = Made { number: here, total: total + page + down + uneven, printed: printed + 1, facing: quarters };
                divide(case, *end, &made, first, best);
            }
        }
    }
}

/// The least faults over every division, one by one: lines, pages, blank pages.
fn exhaustive(case: &Case) -> Option<f64> {
    let bars = case.lines.len();
    let mut best = None;
    let sides = case.first.map_or(vec![Side::Recto, Side::Verso], |side| vec![side]);
    for side in sides {
        let begins = if case.first.is_none() && side == Side::Verso { 1500.0 } else { 0.0 };
        if bars > 0 {
            divide(case, 0, &Made { number: 0, total: begins, printed: 0, facing: None }, side, &mut best);
        }
    }
    best
}

fn any_case() -> impl Strategy<Value = Case> {
    let bars = 1_usize..9;
    bars.prop_flat_map(|bars| {
        (
            (prop::collection::vec(12.0_f64..40.0, bars), prop::bool::ANY),
            prop::collection::vec(0.0_f64..6.0, bars + 1),
            prop::collection::vec(prop::bool::weighted(0.15), bars + 1),
            (22.0_f64..60.0, 10.0_f64..20.0, prop::sample::select(vec![0.0, 4.0])),
            (prop::option::of(prop::bool::ANY), prop::bool::ANY, 0_usize..14),
        )
            .prop_map(|((natural, wide), turns, own, (height, body, inner), (first, short, wanted))| {
                // Of wide bars a line holds one, so that there are pages enough to face each other.
                let line = if wide { 32.0 } else { 64.0 };
                let mut settings: Vec<Setting> = natural.iter().map(|natural| bar(*natural, line)).collect();
                for (setting, own) in settings.iter_mut().zip(&own).skip(1) {
                    if *own {
                        setting.before = stavegauge::cast::At::Always;
                    }
                }
                let mut case = Case::of(across(&settings, body, [7.0, 9.5, 14.0]), height);
                // Gaps within the systems.
                for line in case.lines.iter_mut().flatten().flatten() {
                    line.body = Down { close: Mm(body), natural: Mm(body + inner), generous: Mm(body + 2.0 * inner) };
                }
                case.sheet.first = Mm(height * 0.8);
                case.sheet.may_stay_short = short;
                case.own_page = own;
                case.turns = Some(turns);
                case.first = first.map(|recto| if recto { Side::Recto } else { Side::Verso });
                case.wanted = match wanted {
                    0..6 => PagesWanted::Exactly(wanted + 1),
                    6..9 => PagesWanted::MultipleOf(4),
                    _ => PagesWanted::Any,
                };
                case
            })
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]

    /// The optimum is the best of all divisions.
    #[test]
    fn no_division_is_better(case in any_case()) {
        let found = cast_off(&case.pages());
        match (found, exhaustive(&case)) {
            (Ok(found), Some(best)) => prop_assert!((found.faults.total() - best).abs() < 1e-6 * best.max(1.0), "{} against {best}: {found:#?}", found.faults.total()),
            (Err(Impossible::Pages(nearest)), None) => {
                let PagesWanted::Exactly(wanted) = case.wanted else { panic!("no number was wanted") };
                let divides = |pages: &usize| exhaustive(&Case { wanted: PagesWanted::Exactly(*pages), ..case.clone() }).is_some();
                let numbers = (1..2 * case.lines.len()).filter(divides);
                prop_assert_eq!(nearest, numbers.min_by_key(|pages| pages.abs_diff(wanted)));
            }
            (Err(_), None) => {}
            (found, best) => prop_assert!(false, "{found:?} against {best:?}"),
        }
    }
}
