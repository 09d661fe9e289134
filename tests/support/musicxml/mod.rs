//! A [`Score`] in the words of `MusicXML` 4.0, partwise or timewise.
//!
//! Element order follows the schema of the standard. Heights of notes are written as real files write them:
//! `default-y` counts from the top line of the *system*.

mod bar;

use crate::support::score::{Credit, Group, Margins, Page, Part, Score};
use crate::support::xml::Xml;

/// Writes the file, part by part.
pub fn write(score: &Score) -> String {
    let mut paper = Paper::new("partwise", score);
    paper.xml.open("score-partwise", &[("version", "4.0".to_owned())]);
    paper.header(score);
    for (index, part) in score.parts.iter().enumerate() {
        paper.part(index, part);
    }
    paper.xml.close();
    paper.xml.finish()
}

/// Writes the same file bar by bar, the parts within each.
pub fn write_timewise(score: &Score) -> String {
    let mut paper = Paper::new("timewise", score);
    paper.xml.open("score-timewise", &[("version", "4.0".to_owned())]);
    paper.header(score);
    for position in 0..score.bar_count() {
        paper.open_bar(&score.parts[0].bars[position]);
        for (index, part) in score.parts.iter().enumerate() {
            paper.xml.open("part", &[("id", part_id(index))]);
            paper.bar(index, part, position);
            paper.xml.close();
        }
        paper.xml.close();
    }
    paper.xml.close();
    paper.xml.finish()
}

/// The id of a part.
pub fn part_id(index: usize) -> String {
    format!("P{}", index + 1)
}

/// A number with at most two decimals.
pub fn decimal(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

struct Paper {
    xml: Xml,
    tenths_per_mm: f64,
}

impl Paper {
    fn new(form: &str, score: &Score) -> Self {
        Self { xml: Xml::score(form), tenths_per_mm: 40.0 / score.staff_height() }
    }

    fn tenths(&self, mm: f64) -> String {
        decimal(mm * self.tenths_per_mm)
    }

    fn header(&mut self, score: &Score) {
        self.xml.open("work", &[]);
        self.xml.leaf("work-title", &[], &score.title);
        self.xml.close();
        self.xml.open("identification", &[]);
        self.xml.leaf("creator", &[("type", "composer".to_owned())], &score.composer);
        self.xml.leaf("rights", &[], &score.rights);
        if score.promises_breaks {
            self.xml.open("encoding", &[]);
            for attribute in ["new-page", "new-system"] {
                let promise = [("element", "print"), ("attribute", attribute), ("type", "yes"), ("value", "yes")];
                self.xml.empty("supports", &promise.map(|(name, value)| (name, value.to_owned())));
            }
            self.xml.close();
        }
        self.xml.close();
        self.defaults(score);
        for credit in &score.credits {
            let height = score.page.map_or(0.0, |page| page.height);
            self.credit(credit, height);
        }
        self.part_list(score);
    }

    fn defaults(&mut self, score: &Score) {
        let styled = score.staff_line_tenths.is_some() || !score.note_sizes.is_empty();
        let laid_out = score.staff_mm.is_some() || score.page.is_some() || score.usual_gaps.is_some() || score.dividers.is_some();
        if !laid_out && !styled && score.lyric_points.is_none() {
            return;
        }
        self.xml.open("defaults", &[]);
        if let Some(height) = score.staff_mm {
            self.xml.open("scaling", &[]);
            self.xml.leaf("millimeters", &[], &decimal(height));
            self.xml.leaf("tenths", &[], "40");
            self.xml.close();
        }
        if let Some(page) = score.page {
            self.page(&page, if page.odd == page.even { Sides::Both } else { Sides::OddAndEven });
        }
        if score.usual_gaps.is_some() || score.dividers.is_some() {
            self.xml.open("system-layout", &[]);
            if let Some([system, top, _]) = score.usual_gaps {
                self.leaf_mm("system-distance", system);
                self.leaf_mm("top-system-distance", top);
            }
            self.dividers(score.dividers);
            self.xml.close();
        }
        if let Some([_, _, staff]) = score.usual_gaps {
            self.xml.open("staff-layout", &[]);
            self.leaf_mm("staff-distance", staff);
            self.xml.close();
        }
        if styled {
            self.xml.open("appearance", &[]);
            if let Some(tenths) = score.staff_line_tenths {
                self.xml.leaf("line-width", &[("type", "staff".to_owned())], &decimal(tenths));
            }
            for (kind, percent) in &score.note_sizes {
                self.xml.leaf("note-size", &[("type", (*kind).to_owned())], &decimal(*percent));
            }
            self.xml.close();
        }
        if let Some(points) = score.lyric_points {
            self.xml.empty("lyric-font", &[("font-size", decimal(points))]);
        }
        self.xml.close();
    }

    /// Dividers between systems, at the left and the right alike.
    fn dividers(&mut self, printed: Option<bool>) {
        let Some(printed) = printed else { return };
        let print = if printed { "yes" } else { "no" };
        self.xml.open("system-dividers", &[]);
        for side in ["left-divider", "right-divider"] {
            self.xml.empty(side, &[("print-object", print.to_owned())]);
        }
        self.xml.close();
    }

    fn leaf_mm(&mut self, name: &'static str, mm: f64) {
        let text = self.tenths(mm);
        self.xml.leaf(name, &[], &text);
    }

    fn page(&mut self, page: &Page, sides: Sides) {
        self.xml.open("page-layout", &[]);
        self.leaf_mm("page-height", page.height);
        self.leaf_mm("page-width", page.width);
        match sides {
            Sides::Both => self.margins("both", page.odd),
            Sides::OddAndEven => {
                self.margins("odd", page.odd);
                self.margins("even", page.even);
            }
            Sides::This(number) => self.margins(if number % 2 == 1 { "odd" } else { "even" }, page.margins(number)),
        }
        self.xml.close();
    }

    fn margins(&mut self, kind: &str, margins: Margins) {
        self.xml.open("page-margins", &[("type", kind.to_owned())]);
        self.leaf_mm("left-margin", margins.left);
        self.leaf_mm("right-margin", margins.right);
        self.leaf_mm("top-margin", margins.top);
        self.leaf_mm("bottom-margin", margins.bottom);
        self.xml.close();
    }

    fn credit(&mut self, credit: &Credit, page_height: f64) {
        self.xml.open("credit", &[("page", credit.page.to_string())]);
        if !credit.kind.is_empty() {
            self.xml.leaf("credit-type", &[], credit.kind);
        }
        let attributes = [
            ("default-x", self.tenths(credit.x_mm)),
            ("default-y", self.tenths(page_height - credit.y_mm)),
            ("font-size", decimal(credit.points)),
            ("justify", credit.justify.to_owned()),
            ("valign", credit.valign.to_owned()),
        ];
        self.xml.leaf("credit-words", &attributes, &credit.words);
        self.xml.close();
    }

    fn part_list(&mut self, score: &Score) {
        self.xml.open("part-list", &[]);
        for (index, part) in score.parts.iter().enumerate() {
            for (number, group) in score.groups.iter().enumerate() {
                if group.first == index {
                    self.group(number + 1, group);
                }
            }
            self.score_part(index, part);
            for (number, group) in score.groups.iter().enumerate().rev() {
                if group.last == index {
                    self.xml.empty("part-group", &[("type", "stop".to_owned()), ("number", (number + 1).to_string())]);
                }
            }
        }
        self.xml.close();
    }

    fn group(&mut self, number: usize, group: &Group) {
        self.xml.open("part-group", &[("type", "start".to_owned()), ("number", number.to_string())]);
        if !group.name.is_empty() {
            self.xml.leaf("group-name", &[], group.name);
        }
        self.xml.leaf("group-symbol", &[], group.symbol);
        self.xml.leaf("group-barline", &[], "yes");
        self.xml.close();
    }

    fn score_part(&mut self, index: usize, part: &Part) {
        let id = part_id(index);
        self.xml.open("score-part", &[("id", id.clone())]);
        self.xml.leaf("part-name", &[], &part.name);
        self.xml.leaf("part-abbreviation", &[], &part.short);
        for (number, (name, sound)) in part.instruments.iter().enumerate() {
            self.xml.open("score-instrument", &[("id", format!("{id}-I{}", number + 1))]);
            self.xml.leaf("instrument-name", &[], name);
            self.xml.leaf("instrument-sound", &[], sound);
            self.xml.close();
        }
        self.xml.close();
    }

    fn part(&mut self, index: usize, part: &Part) {
        self.xml.open("part", &[("id", part_id(index))]);
        for (position, bar) in part.bars.iter().enumerate() {
            self.open_bar(bar);
            self.bar(index, part, position);
            self.xml.close();
        }
        self.xml.close();
    }
}

/// Which margins a `page-layout` states.
#[derive(Clone, Copy)]
enum Sides {
    Both,
    OddAndEven,
    This(u32),
}
