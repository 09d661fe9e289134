//! Faults drawn on a page: drafting lines in millimetres and staff heights, white to be won hatched. Only where a fault is.

use crate::audit::Placed;
use crate::measured::{Between, Gap, Page, System, Turn};
use crate::picture::escaped;
use crate::report::terminal::short;
use crate::units::Mm;
use std::fmt::Write;

/// Size of figures, mm on paper, and the length of the ticks.
const FIGURES: f64 = 2.7;
const TICK: f64 = 1.1;
/// Excess of a gap that is worth hatching.
const WORTH: Mm = Mm(0.5);

/// One page with what is wrong on it.
pub(super) struct Overlay<'a> {
    page: &'a Page,
    /// Millimetres of the picture in one of paper.
    scale: f64,
    svg: String,
}

/// What a fault is about, as its rule says.
pub(super) struct Fault<'a> {
    pub placed: &'a Placed,
    /// The subject and the family of its rule.
    pub about: &'a str,
    pub family: &'a str,
    /// Anchor of its mark, and of its row in the list.
    pub mark: String,
    pub row: String,
}

/// A place on the page.
fn number(value: f64) -> String {
    short(value)
}

/// A length as it is told.
fn told(value: f64) -> String {
    let text = format!("{value:.1}");
    text.trim_end_matches(".0").to_owned()
}

impl<'a> Overlay<'a> {
    pub fn of(page: &'a Page, printed_at: f64) -> Self {
        Self { page, scale: 1.0 / printed_at, svg: String::new() }
    }

    /// The drawing; empty where nothing is wrong.
    pub fn finish(self) -> String {
        if self.svg.is_empty() || (self.scale - 1.0).abs() < 1e-9 {
            return self.svg;
        }
        format!("<g transform=\"scale({})\">{}</g>", self.scale, self.svg)
    }

    fn line(&mut self, [x1, y1]: [f64; 2], [x2, y2]: [f64; 2], class: &str) {
        let (x1, y1, x2, y2) = (number(x1), number(y1), number(x2), number(y2));
        let _ = write!(self.svg, "<path class=\"{class}\" d=\"M{x1} {y1}L{x2} {y2}\"/>");
    }

    fn text(&mut self, [x, y]: [f64; 2], anchor: &str, text: &str) {
        let (x, y) = (number(x), number(y));
        let _ = write!(self.svg, "<text x=\"{x}\" y=\"{y}\" font-size=\"{FIGURES}\" text-anchor=\"{anchor}\">{}</text>", escaped(text));
    }

    fn hatch(&mut self, [x1, y1]: [f64; 2], [x2, y2]: [f64; 2]) {
        if x2 > x1 && y2 > y1 {
            let (x, y, width, height) = (number(x1), number(y1), number(x2 - x1), number(y2 - y1));
            let _ = write!(self.svg, "<rect class=\"white\" x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\"/>");
        }
    }

    /// A dimension line down, with an oblique tick at each end and one figure.
    fn down(&mut self, x: f64, from: f64, to: f64, text: &str) {
        self.line([x, from], [x, to], "dimension");
        for y in [from, to] {
            self.line([x - 2.5, y], [x + 1.5, y], "witness");
            self.line([x - TICK, y + TICK], [x + TICK, y - TICK], "tick");
        }
        self.text([x + 2.0, f64::midpoint(from, to) + FIGURES / 3.0], "start", text);
    }

    /// A drafting line across, of a length, with its words. What reaches beyond the sheet has no end there.
    fn across(&mut self, y: f64, from: f64, to: f64, text: &str) {
        let edge = self.page.width.value().map_or(f64::INFINITY, |width| width.0);
        self.line([from, y], [to.min(edge), y], "dimension");
        for x in [from, to].into_iter().filter(|x| *x <= edge) {
            self.line([x, y - 1.5], [x, y + 1.5], "witness");
            self.line([x - TICK, y + TICK], [x + TICK, y - TICK], "tick");
        }
        self.text([from + 1.5, y - 0.8], "start", text);
    }

    /// Draws a fault; `false` where it has no place on a page.
    pub fn draw(&mut self, fault: &Fault, turns: &[Turn]) -> bool {
        let placed = fault.placed;
        let before = std::mem::take(&mut self.svg);
        let drawn = match fault.about {
            "gap" => self.gaps(placed),
            "opening" => self.filling(placed),
            "page" => match fault.family {
                "filling" => self.filling(placed),
                "paper" => self.frame(placed),
                _ => self.head(placed),
            },
            "paper" => self.frame(placed),
            "system" | "movement" => self.spacing(placed),
            "turn" => self.turn(turns),
            "staff" => self.staff(placed),
            _ => self.bars(placed),
        };
        let inner = std::mem::replace(&mut self.svg, before);
        if drawn.is_none() || inner.is_empty() {
            return false;
        }
        let words = format!("{}: {}", placed.number, placed.finding.message);
        let level = placed.finding.level.name();
        let _ = write!(
            self.svg,
            "<a class=\"mark {level}\" id=\"{}\" href=\"#{}\"><title>{}</title>{inner}</a>",
            fault.mark,
            fault.row,
            escaped(&words)
        );
        true
    }

    fn system(&self, placed: &Placed) -> Option<&'a System> {
        let page = self.page;
        let wanted = placed.finding.on.system;
        match wanted {
            Some(number) => page.systems.iter().find(|system| system.number == number),
            // One that was found at several systems points at the worst; one of a whole movement or file is shown at the first.
            None => page.systems.iter().find(|system| system.at.is_some() && system.at == placed.finding.at).or(page.systems.first()),
        }
    }

    /// White between staves and systems: hatched wherever there is too much of it, with its figure at the worst place.
    fn gaps(&mut self, placed: &Placed) -> Option<()> {
        let page = self.page;
        let own = |gap: &&Gap| placed.finding.on.system.is_none_or(|system| gap.system == system);
        let excess = |gap: &Gap| gap.excess().unwrap_or_default();
        for gap in page.gaps.iter().filter(|gap| excess(gap) > WORTH) {
            self.hatch_gap(gap);
        }
        let worst = page.gaps.iter().filter(own).max_by(|one, other| excess(one).0.total_cmp(&excess(other).0))?;
        let (from, to, left) = self.between(worst)?;
        let heights = worst.white_heights().value().map(|heights| format!(", {} staff heights", told(heights))).unwrap_or_default();
        self.down(left + 6.0, from, to, &format!("{}  {} mm{heights}", placed.number, told(to - from)));
        Some(())
    }

    /// Upper and lower end of a gap, and the left end of its lower system.
    fn between(&self, gap: &Gap) -> Option<(f64, f64, f64)> {
        let system = self.page.systems.iter().find(|system| system.number == gap.system)?;
        let below = match gap.between {
            Between::Systems => system.staves.first()?,
            Between::Staves => system.staves.iter().find(|staff| (staff.of.index, staff.staff) == gap.pair()[1])?,
        };
        let to = below.top.value()?.0;
        Some((to - gap.white.value()?.0, to, system.left.value()?.0))
    }

    /// The white that a gap has beyond what it needs, in its middle: what it needs stays on both sides.
    fn hatch_gap(&mut self, gap: &Gap) {
        let Some((from, to, left)) = self.between(gap) else { return };
        let Some(system) = self.page.systems.iter().find(|system| system.number == gap.system) else { return };
        let (Some(right), Some(excess)) = (system.right.value(), gap.excess()) else { return };
        let middle = f64::midpoint(from, to);
        self.hatch([left, middle - excess.0 / 2.0], [right.0, middle + excess.0 / 2.0]);
    }

    /// White at the foot and between.
    fn filling(&mut self, placed: &Placed) -> Option<()> {
        let page = self.page;
        let last = page.systems.last()?;
        let (bottom, left, right) = (last.bottom.value()?.0, last.left.value()?.0, last.right.value()?.0);
        for gap in page.gaps.iter().filter(|gap| gap.excess().unwrap_or_default() > WORTH) {
            self.hatch_gap(gap);
        }
        self.titles(left, right);
        let white = page.white_at_foot.value()?.0;
        let own = placed.number;
        if white > WORTH.0 {
            self.hatch([left, bottom], [right, bottom + white]);
            self.down(left + 6.0, bottom, bottom + white, &format!("{own}  {} mm white", told(white)));
        } else if white < -WORTH.0 {
            self.down(left + 6.0, bottom + white, bottom, &format!("{own}  {} mm too far", told(-white)));
        } else if let Some(between) = page.white_between.value() {
            self.text([right, bottom + FIGURES + 1.5], "end", &format!("{own}  {} mm white between staves and systems", told(between.0)));
        }
        Some(())
    }

    /// A box of dots, with its words over its upper left corner.
    fn dotted(&mut self, [x1, y1]: [f64; 2], [x2, y2]: [f64; 2], text: &str) {
        let (x, y, width, height) = (number(x1), number(y1), number((x2 - x1).max(0.0)), number((y2 - y1).max(0.0)));
        let _ = write!(self.svg, "<path class=\"box\" d=\"M{x} {y}h{width}v{height}h-{width}z\"/>");
        if !text.is_empty() {
            self.text([x1, y1 - 0.8], "start", text);
        }
    }

    /// The frame that the margins leave.
    fn frame(&mut self, placed: &Placed) -> Option<()> {
        let page = self.page;
        let [left, right, top, bottom] = page.margins.map(|margin| margin.value().map(|margin| margin.0));
        let (width, height) = (page.width.value()?.0, page.height.value()?.0);
        let found = &placed.finding;
        let figure =
            found.measured.filter(|_| found.unit == Some("mm")).map(|measured| format!("  {} mm", told(measured))).unwrap_or_default();
        self.dotted([left?, top?], [width - right?, height - bottom?], &format!("{}{figure}", placed.number));
        Some(())
    }

    /// The room at the head of a page, where its name and number belong.
    fn head(&mut self, placed: &Placed) -> Option<()> {
        let page = self.page;
        let first = page.systems.first()?;
        let (left, right, top) = (first.left.value()?.0, first.right.value()?.0, first.top.value()?.0);
        let head = page.head.value().map_or(0.0, |head| head.0);
        self.dotted([left, (top - 18.0).max(5.0).min(head.max(5.0))], [right, top - 5.0], &placed.number.to_string());
        Some(())
    }

    /// The head and the foot line of the page as boxes: they take room that no music has.
    fn titles(&mut self, left: f64, right: f64) {
        let page = self.page;
        let margin = page.margins[2].value().map_or(0.0, |margin| margin.0);
        if let Some(head) = page.head.value().filter(|head| head.0 > margin) {
            self.dotted([left, margin], [right, head.0], "");
        }
        if let (Some(foot), Some(height)) = (page.foot.value().filter(|foot| *foot > Mm::ZERO), page.height.value()) {
            self.dotted([left, height.0 - foot.0], [right, height.0 - foot.0 / 2.0], "");
        }
    }

    /// Under a system what it has and what it needs.
    fn spacing(&mut self, placed: &Placed) -> Option<()> {
        let system = self.system(placed)?;
        let spacing = system.spacing.as_ref().ok()?;
        let staff = system.staves.first()?.height().value()?.0;
        let space = staff / 4.0;
        let from = system.left.value()?.0 + spacing.beginning.0 * space;
        let (has, needs) = (spacing.available.0 * space, spacing.widths.natural.0 * space);
        let y = system.bottom.value()?.0 + 4.0;
        self.across(y, from, from + has, &format!("{}  has {} mm", placed.number, told(has)));
        self.across(y + 4.0, from, from + needs, &format!("needs {} mm", told(needs)));
        Some(())
    }

    /// The silence around a turn, at the right-hand foot, and the nearest good place.
    fn turn(&mut self, turns: &[Turn]) -> Option<()> {
        let turn = turns.iter().find(|turn| turn.page == self.page.ordinal)?;
        let last = self.page.systems.last()?;
        let (right, bottom) = (last.right.value()?.0, last.bottom.value()?.0);
        let y = bottom + 7.0;
        let [before, after, _] = turn.parts;
        let seconds = |seconds: f64| if seconds.is_finite() { format!("{} s", told(seconds)) } else { "no limit".to_owned() };
        self.line([right - 64.0, y], [right, y], "dimension");
        for x in [right - 64.0, right - 40.0, right - 24.0, right] {
            self.line([x, y - 2.0], [x, y + 2.0], "witness");
        }
        self.text([right - 52.0, y - 1.0], "middle", &format!("rest {}", seconds(before)));
        self.text([right - 32.0, y - 1.0], "middle", "turn");
        self.text([right - 12.0, y - 1.0], "middle", &format!("rest {}", seconds(after)));
        if let Some(better) = &turn.better {
            self.text([right, y + 4.0], "end", &format!("easy after bar {}: {}", better.after, seconds(better.seconds)));
        }
        Some(())
    }

    /// The height of a staff.
    fn staff(&mut self, placed: &Placed) -> Option<()> {
        let system = self.system(placed)?;
        let own = placed.finding.on.part.as_ref();
        let staff = system.staves.iter().find(|staff| own.is_none_or(|part| *staff.of.id == **part)).or(system.staves.first())?;
        let (top, bottom, right) = (staff.top.value()?.0, staff.bottom().value()?.0, system.right.value()?.0);
        self.down(right + 3.0, top, bottom, &format!("{}  {} mm", placed.number, told(bottom - top)));
        Some(())
    }

    /// A line over the bars that are meant.
    fn bars(&mut self, placed: &Placed) -> Option<()> {
        let (first, last) = placed.finding.on.bar_index?;
        let mut found = None;
        for system in &self.page.systems {
            let within: Vec<_> = system.across.iter().filter(|bar| (first..=last).contains(&bar.index)).collect();
            let (Some(from), Some(to), Some(top)) = (within.first(), within.last(), system.top.value()) else { continue };
            let y = top.0 - 3.0;
            self.line([from.left.0, y], [to.left.0 + to.width.0, y], "dimension");
            if found.is_none() {
                self.text([from.left.0, y - 0.8], "start", &placed.number.to_string());
            }
            found = Some(());
        }
        found
    }
}
