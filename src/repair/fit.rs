//! What fits: every paper, staff height and margin of a grid, cast off as well as it can be.

use super::sheet::figures_of;
use super::{CastOff, Figures, Ground, Page, Plan, cast_off};
use crate::cast::Impossible;
use crate::house::{Light, Role};
use crate::units::Mm;

/// The choices there are.
#[derive(Debug, Clone, PartialEq)]
pub struct Grid {
    /// Papers as the score lies.
    pub papers: Vec<Sheet>,
    /// Staff heights.
    pub staffs: Vec<Mm>,
    /// Margins: left, right, top and bottom.
    pub margins: Vec<[Mm; 4]>,
}

/// A paper to choose.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// Its name.
    pub name: String,
    /// Its width.
    pub width: Mm,
    /// Its height.
    pub height: Mm,
    /// Somebody refuses it for the reader.
    pub refused: bool,
}

/// Whether a staff height suits the reader.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Suits {
    /// Nobody objects.
    Good,
    /// Larger than is needed.
    Large,
    /// Nobody can tell: the reader is not known.
    Unknown,
    /// The reader is at risk.
    AtRisk,
    /// It does not serve.
    TooSmall,
}

impl Suits {
    fn of(staff: Mm, role: Option<&Role>, light: Option<Light>) -> Self {
        /// Exporters round: heights are held against limits with so much to spare.
        const SPARE: Mm = Mm(0.05);
        let Some(role) = role else { return Self::Unknown };
        let heights = role.heights(light);
        if staff + SPARE < heights.least.value {
            Self::TooSmall
        } else if staff + SPARE < heights.good.value {
            Self::AtRisk
        } else if staff > heights.most.value + SPARE {
            Self::Large
        } else {
            Self::Good
        }
    }

    /// In words.
    pub fn name(self) -> &'static str {
        match self {
            Self::Good => "good",
            Self::Large => "larger than needed",
            Self::Unknown => "not known",
            Self::AtRisk => "at risk",
            Self::TooSmall => "too small",
        }
    }
}

/// One choice, cast off.
#[derive(Debug)]
pub struct Choice {
    /// Name of the paper.
    pub paper: String,
    /// Its plan.
    pub plan: Plan,
    /// Whether the staff height suits the reader.
    pub suits: Suits,
    /// Somebody refuses the paper for the reader.
    pub refused: bool,
    /// How far the staff height is from the one to choose for the reader.
    pub from_ideal: Mm,
    /// What comes of it, or why nothing does.
    pub fitted: Result<Fitted, Impossible>,
    /// No other choice is as good on every count and better on one.
    pub unbeaten: bool,
}

/// What comes of a choice.
#[derive(Debug, Clone, PartialEq)]
pub struct Fitted {
    /// Most systems on a page.
    pub systems_a_page: usize,
    /// In figures.
    pub figures: Figures,
    /// Room across against natural: of the tightest line, and of the median line.
    pub across: [f64; 2],
    /// Height of the pages against what their music naturally takes, without last pages; `None` where there is but one page.
    pub down: Option<f64>,
    /// Bars that no line can hold.
    pub overfull: usize,
}

/// Everything that was tried.
#[derive(Debug)]
pub struct Fit {
    /// The choices, by paper, staff height and margins.
    pub choices: Vec<Choice>,
    /// The best, by its place among them.
    pub best: Option<usize>,
    /// The best on each paper, by the paper's name.
    pub on_paper: Vec<(String, Option<usize>)>,
    /// Why it is the best; or that nothing fits, and what would have to give.
    pub because: String,
    /// Whether turns matter to the reader.
    pub turns_matter: bool,
}

/// Tries every choice of a grid. Gaps stay natural: what only fits squeezed does not fit.
pub fn fit(ground: &Ground, plan: &Plan, grid: &Grid, role: Option<&Role>, light: Option<Light>) -> Fit {
    let mut choices = Vec::new();
    for paper in &grid.papers {
        for staff in &grid.staffs {
            for margins in &grid.margins {
                let page = Page { width: paper.width, height: paper.height, margins: *margins };
                let plan = Plan { page, staff: *staff, natural_gaps: true, ..plan.clone() };
                let fitted = cast_off(ground, &plan).map(|made| fitted(ground, &made));
                let ideal = role.map(|role| role.heights(light).ideal.value);
                choices.push(Choice {
                    paper: paper.name.clone(),
                    suits: Suits::of(*staff, role, light),
                    refused: paper.refused,
                    from_ideal: ideal.map_or(Mm::ZERO, |ideal| (*staff - ideal).abs()),
                    plan,
                    fitted,
                    unbeaten: false,
                });
            }
        }
    }
    let counts: Vec<Option<[f64; COUNTS]>> = choices.iter().map(counts).collect();
    for (index, choice) in choices.iter_mut().enumerate() {
        let beaten = |own: &[f64; COUNTS]| counts.iter().flatten().any(|other| beats(other, own));
        choice.unbeaten = counts[index].as_ref().is_some_and(|own| !beaten(own));
    }
    let (best, because) = best(&choices, ground.turns_matter);
    let best_on = |paper: &Sheet| (paper.name.clone(), best_among(&choices, |choice| choice.paper == paper.name));
    let on_paper = grid.papers.iter().map(best_on).collect();
    Fit { choices, best, on_paper, because, turns_matter: ground.turns_matter }
}

fn fitted(ground: &Ground, made: &CastOff) -> Fitted {
    let mut across: Vec<f64> = made.lines.iter().map(|line| line.of_natural).collect();
    across.sort_unstable_by(f64::total_cmp);
    let pages = &made.casting.pages;
    let inner = &pages[..pages.len().saturating_sub(1)];
    let height = |index: usize| if index == 0 { made.first_height } else { made.height };
    let down: Vec<f64> = inner.iter().enumerate().map(|(index, page)| height(index) / page.natural).collect();
    #[expect(clippy::cast_precision_loss, reason = "a number of pages")]
    let mean = (!down.is_empty()).then(|| down.iter().sum::<f64>() / down.len() as f64);
    Fitted {
        systems_a_page: pages.iter().map(|page| page.systems.len()).max().unwrap_or(0),
        figures: figures_of(ground, made),
        across: [across.first().copied().unwrap_or_default(), across.get(across.len() / 2).copied().unwrap_or_default()],
        down: mean,
        overfull: made.lines.iter().filter(|line| line.overfull.is_some()).count(),
    }
}

/// Counts that choices are held by.
const COUNTS: usize = 8;

/// What a choice is held by: less is better. Of choices alike in all else the one with wider margins is better.
fn counts(choice: &Choice) -> Option<[f64; COUNTS]> {
    let fitted = choice.fitted.as_ref().ok()?;
    let [.., quick, none] = fitted.figures.turns;
    let number = |number: usize| f64::from(u32::try_from(number).unwrap_or(u32::MAX));
    let suits = f64::from(choice.suits as u8);
    let area = choice.plan.page.width.0 * choice.plan.page.height.0;
    Some([
        suits + if choice.refused { 10.0 } else { 0.0 },
        -choice.plan.staff.0,
        area,
        number(fitted.figures.pages),
        number(none),
        number(quick + fitted.figures.turns_back),
        number(fitted.overfull),
        -choice.plan.page.margins.iter().map(|margin| margin.0).fold(f64::INFINITY, f64::min),
    ])
}

fn beats(one: &[f64; COUNTS], other: &[f64; COUNTS]) -> bool {
    // The last count only decides between choices that are alike in all others.
    let [one_counts @ .., one_last] = one;
    let [other_counts @ .., other_last] = other;
    let all = one_counts.iter().zip(other_counts).all(|(one, other)| one <= other);
    let better = one_counts.iter().zip(other_counts).any(|(one, other)| one < other);
    all && (better || one_last < other_last)
}

/// Lines tighter than this share of natural are crowded (spacing study of open scores: as if every note were half as long).
const TIGHT: f64 = 0.75;

impl Choice {
    /// Whether it serves the reader: the staff height, and the paper.
    fn serves(&self) -> bool {
        !self.refused && matches!(self.suits, Suits::Good | Suits::Large | Suits::Unknown)
    }

    /// Whether the music fits.
    fn fits(&self) -> bool {
        self.fitted.as_ref().is_ok_and(|fitted| fitted.overfull == 0 && fitted.across[0] >= TIGHT)
    }

    /// Turns that are quick or leave no time, and repeats back over a turn; `None` where nothing comes of it.
    pub fn bad_turns(&self) -> Option<usize> {
        let figures = &self.fitted.as_ref().ok()?.figures;
        let [.., quick, none] = figures.turns;
        Some(quick + none + figures.turns_back)
    }

    /// What makes one choice better than another, the most important first.
    fn key(&self) -> ((Suits, usize, usize, usize), [f64; 3]) {
        let (leaves, pages, faults) = self.fitted.as_ref().map_or((usize::MAX, usize::MAX, f64::INFINITY), |fitted| {
            (fitted.figures.leaves, fitted.figures.pages, fitted.figures.faults.total())
        });
        let page = &self.plan.page;
        ((self.suits, self.bad_turns().unwrap_or(usize::MAX), leaves, pages), [self.from_ideal.0, page.width.0 * page.height.0, faults])
    }
}

/// The best of some choices that serve and fit.
fn best_among(choices: &[Choice], of: impl Fn(&Choice) -> bool) -> Option<usize> {
    let better = |one: &Choice, other: &Choice| {
        let ((one, one_more), (other, other_more)) = (one.key(), other.key());
        let more = one_more.iter().zip(other_more).map(|(one, other)| one.total_cmp(&other));
        more.fold(one.cmp(&other), std::cmp::Ordering::then)
    };
    let candidates = choices.iter().enumerate().filter(|(_, choice)| choice.serves() && choice.fits() && of(choice));
    candidates.min_by(|(_, one), (_, other)| better(one, other)).map(|(index, _)| index)
}

/// The best of all, and why.
fn best(choices: &[Choice], turns_matter: bool) -> (Option<usize>, String) {
    if let Some(index) = best_among(choices, |_| true) {
        let choice = &choices[index];
        let suits = match choice.suits {
            Suits::Good => "nobody objects to its staff height",
            Suits::Large => "its staves are larger than needed, but no smaller ones were asked for",
            _ => "who reads it is not known",
        };
        let turned = match choice.bad_turns().unwrap_or(0) {
            _ if !turns_matter => String::new(),
            0 => ", every turn leaves time".to_owned(),
            1 => ", and no choice has fewer than its one bad turn".to_owned(),
            bad => format!(", and no choice has fewer than its {bad} bad turns"),
        };
        let because = format!(
            "{suits}{turned}, it takes the fewest leaves, and of those that do its staves come nearest to the height to choose, on the smallest paper"
        );
        return (Some(index), because);
    }
    (None, nothing(choices))
}

/// That nothing fits, and what would have to give.
fn nothing(choices: &[Choice]) -> String {
    let small = choices.iter().filter(|choice| choice.fits() && !choice.serves());
    let largest = small.max_by(|one, other| one.plan.staff.0.total_cmp(&other.plan.staff.0));
    if let Some(choice) = largest {
        return format!(
            "nothing fits at a staff height that serves the reader: the largest that does is {:.1} mm on {}. Larger paper, resting staves left out, or natural gaps with white at the foot would have to help",
            choice.plan.staff.0, choice.paper
        );
    }
    let squeezed = choices.iter().filter_map(|choice| Some((choice, choice.fitted.as_ref().ok()?.across[0])));
    match squeezed.max_by(|one, other| one.1.total_cmp(&other.1)) {
        Some((choice, across)) => format!(
            "nothing fits: even on {} at {:.1} mm the tightest line has {:.0} % of its natural room. Larger paper, smaller staves or smaller margins would have to help",
            choice.paper,
            choice.plan.staff.0,
            across * 100.0
        ),
        None if choices.iter().all(|choice| matches!(choice.fitted, Err(Impossible::NoTime(_) | Impossible::NoBars))) => {
            "nothing can be tried: the score holds no bars, or the exact time of one cannot be known".to_owned()
        }
        None if choices.iter().all(|choice| matches!(choice.fitted, Err(Impossible::NoWidth(_) | Impossible::NoHeight(_)))) => {
            "nothing fits: the margins leave no room for music".to_owned()
        }
        None => {
            "nothing fits: no page holds one system. Larger paper, smaller staves, or resting staves left out would have to help".to_owned()
        }
    }
}
