//! What stands before the music: titles, promises, defaults, credits, the part list.

use super::damage::Damage;
use super::element::Element;
use super::number;
use super::reader::{MOST_PARTS, Reader};
use crate::place::Stated;
use crate::score::instructions::{Margins, PageLayout, Parity, StaffLayout, SystemLayout};
use crate::score::part::Instrument;
use crate::score::{Credit, CreditWords, Given, Justify, Part, PartGroup, Promise, Valign};
use crate::units::{Scale, Tenths};
use std::collections::HashMap;

impl Reader {
    pub(super) fn work(&mut self) -> Result<(), Damage> {
        while let Some(element) = self.pull.child()? {
            match element {
                Element::WorkTitle => self.score.work_title = Some(self.line()?),
                Element::WorkNumber => self.score.work_number = Some(self.line()?),
                _ => self.pull.skip()?,
            }
        }
        Ok(())
    }

    pub(super) fn identification(&mut self) -> Result<(), Damage> {
        while let Some(element) = self.pull.child()? {
            if element != Element::Encoding {
                self.pull.skip()?;
                continue;
            }
            while let Some(element) = self.pull.child()? {
                if element == Element::Supports && self.attribute_is("element", "print") {
                    let promise = match (self.attribute_yes("type"), self.attribute_yes("value")) {
                        (Some(true), Some(true)) => Promise::All,
                        (Some(false), _) => Promise::None,
                        _ => Promise::Unsaid,
                    };
                    if self.attribute_is("attribute", "new-system") {
                        self.score.system_breaks = promise;
                    } else if self.attribute_is("attribute", "new-page") {
                        self.score.page_breaks = promise;
                    }
                }
                self.pull.skip()?;
            }
        }
        Ok(())
    }

    pub(super) fn defaults(&mut self) -> Result<(), Damage> {
        while let Some(element) = self.pull.child()? {
            match element {
                Element::Scaling => self.scaling()?,
                Element::PageLayout => self.score.instructions.page = self.page_layout()?,
                Element::SystemLayout => self.score.instructions.system = self.system_layout()?,
                Element::StaffLayout => {
                    let layout = self.staff_layout()?;
                    self.pull.keep::<StaffLayout>();
                    self.score.instructions.staff_layouts.push(layout);
                }
                Element::Appearance => self.appearance()?,
                Element::WordFont => {
                    self.score.instructions.word_points = self.attribute_decimal("font-size");
                    self.pull.skip()?;
                }
                Element::LyricFont => {
                    let verse = self.attribute_text("number").map(|number| number.trim().to_owned());
                    let points = self.attribute_decimal("font-size");
                    self.score.instructions.lyric_fonts.extend(points.map(|points| (verse, points)));
                    self.pull.skip()?;
                }
                _ => self.pull.skip()?,
            }
        }
        Ok(())
    }

    fn scaling(&mut self) -> Result<(), Damage> {
        let at = self.pull.tag_place();
        if std::mem::replace(&mut self.score.instructions.scaling_stated, true) {
            self.flaw("the scaling is stated twice; the first counts".into(), "Keep one scaling; every millimetre hangs on it.", at, true);
            return self.pull.skip();
        }
        let (mut millimeters, mut tenths): (Given<f64>, Given<f64>) = (None, None);
        // A number that is none has been told already.
        let told = self.score.flaws.len();
        while let Some(element) = self.pull.child()? {
            match element {
                Element::Millimeters => millimeters = self.decimal("the millimeters of the scaling")?,
                Element::Tenths => tenths = self.decimal("the tenths of the scaling")?,
                _ => self.pull.skip()?,
            }
        }
        let help = "A staff of 7 mm is written as millimeters 7 and tenths 40; export the file again or correct it.";
        match (millimeters, tenths) {
            (Some(mm), Some(per)) => {
                if let Some(scale) = Scale::new(mm.value, per.value) {
                    self.score.instructions.scale = Some(Stated::new(scale, at));
                    self.score.instructions.millimeters_at = Some(mm.at);
                } else {
                    let what = format!("the scaling says {} mm to {} tenths: both must be positive", mm.value, per.value);
                    self.flaw(what, help, mm.at, true);
                }
            }
            _ if self.score.flaws.len() > told => {}
            _ => self.flaw("the scaling lacks a number of millimeters or of tenths".into(), help, at, true),
        }
        Ok(())
    }

    fn appearance(&mut self) -> Result<(), Damage> {
        while let Some(element) = self.pull.child()? {
            let kind = self.attribute_text("type").unwrap_or_default();
            match element {
                Element::LineWidth => {
                    if let Some(width) = self.tenths("a line width")? {
                        self.score.instructions.line_widths.push((kind, width.value));
                    }
                }
                Element::NoteSize => {
                    if let Some(size) = self.decimal("a note size")? {
                        self.score.instructions.note_sizes.push((kind, size.value));
                    }
                }
                _ => self.pull.skip()?,
            }
        }
        Ok(())
    }

    /// `<page-layout>`, now open.
    pub(super) fn page_layout(&mut self) -> Result<PageLayout, Damage> {
        let mut layout = PageLayout::default();
        while let Some(element) = self.pull.child()? {
            match element {
                Element::PageHeight => layout.height = self.tenths("the page height")?,
                Element::PageWidth => layout.width = self.tenths("the page width")?,
                Element::PageMargins => {
                    let parity = match self.attribute_text("type").as_deref() {
                        Some("odd") => Parity::Odd,
                        Some("even") => Parity::Even,
                        _ => Parity::Both,
                    };
                    let margins = self.page_margins()?;
                    // Two sets at most: a repeated one replaces the first.
                    layout.margins.retain(|(known, _)| *known != parity);
                    layout.margins.push((parity, margins));
                }
                _ => self.pull.skip()?,
            }
        }
        Ok(layout)
    }

    fn page_margins(&mut self) -> Result<Margins, Damage> {
        let mut margins = Margins::default();
        while let Some(element) = self.pull.child()? {
            match element {
                Element::LeftMargin => margins.left = self.tenths("the left page margin")?,
                Element::RightMargin => margins.right = self.tenths("the right page margin")?,
                Element::TopMargin => margins.top = self.tenths("the top page margin")?,
                Element::BottomMargin => margins.bottom = self.tenths("the bottom page margin")?,
                _ => self.pull.skip()?,
            }
        }
        Ok(margins)
    }

    /// `<system-layout>`, now open.
    pub(super) fn system_layout(&mut self) -> Result<SystemLayout, Damage> {
        let mut layout = SystemLayout::default();
        while let Some(element) = self.pull.child()? {
            match element {
                Element::SystemMargins => {
                    while let Some(element) = self.pull.child()? {
                        match element {
                            Element::LeftMargin => layout.left = self.tenths("the left system margin")?,
                            Element::RightMargin => layout.right = self.tenths("the right system margin")?,
                            _ => self.pull.skip()?,
                        }
                    }
                }
                Element::SystemDistance => layout.distance = self.tenths("the system distance")?,
                Element::TopSystemDistance => layout.top_distance = self.tenths("the top system distance")?,
                Element::SystemDividers => layout.dividers = self.system_dividers()?,
                _ => self.pull.skip()?,
            }
        }
        Ok(layout)
    }

    fn system_dividers(&mut self) -> Result<Given<bool>, Damage> {
        let at = self.pull.tag_place();
        let mut drawn = false;
        while let Some(element) = self.pull.child()? {
            let divider = matches!(element, Element::LeftDivider | Element::RightDivider);
            drawn |= divider && self.attribute_yes("print-object") != Some(false);
            self.pull.skip()?;
        }
        Ok(Some(Stated::new(drawn, at)))
    }

    /// `<staff-layout>`, now open.
    pub(super) fn staff_layout(&mut self) -> Result<StaffLayout, Damage> {
        let staff = self.attribute_whole("number").unwrap_or(1);
        let mut distance = None;
        while let Some(element) = self.pull.child()? {
            match element {
                Element::StaffDistance => distance = self.tenths("the staff distance")?,
                _ => self.pull.skip()?,
            }
        }
        Ok(StaffLayout { staff, distance })
    }

    pub(super) fn credit(&mut self) -> Result<(), Damage> {
        let at = self.pull.tag_place();
        let page = self.attribute_text("page").and_then(|text| number::whole(&text)).unwrap_or(1);
        let mut credit = Credit { page, kinds: Vec::new(), words: Vec::new(), at };
        while let Some(element) = self.pull.child()? {
            match element {
                Element::CreditType => {
                    self.pull.keep::<String>();
                    credit.kinds.push(self.line()?);
                }
                Element::CreditWords => {
                    let words = self.credit_words()?;
                    self.pull.keep::<CreditWords>();
                    credit.words.push(words);
                }
                _ => self.pull.skip()?,
            }
        }
        // A list that is not empty has room for four.
        self.pull.keep::<(Credit, [String; 4], [CreditWords; 4])>();
        self.score.credits.push(credit);
        Ok(())
    }

    fn credit_words(&mut self) -> Result<CreditWords, Damage> {
        let x = self.attribute_decimal("default-x").map(Tenths);
        let y = self.attribute_decimal("default-y").map(Tenths);
        let points = self.attribute_decimal("font-size");
        let valign = match self.attribute_text("valign").as_deref() {
            Some("top") => Valign::Top,
            Some("middle") => Valign::Middle,
            Some("bottom") => Valign::Bottom,
            _ => Valign::Baseline,
        };
        let justify = match self.attribute_text("halign").or_else(|| self.attribute_text("justify")).as_deref() {
            Some("center") => Justify::Center,
            Some("right") => Justify::Right,
            _ => Justify::Left,
        };
        let (text, at) = self.pull.raw_text()?;
        Ok(CreditWords { text: text.into(), x, y, points, valign, justify, at })
    }

    pub(super) fn part_list(&mut self) -> Result<(), Damage> {
        // Groups that have begun, in their order, by the number that ends them: the last of a number ends first.
        let mut open: HashMap<String, Vec<(usize, PartGroup)>> = HashMap::new();
        let mut begun = 0;
        while let Some(element) = self.pull.child()? {
            match element {
                Element::ScorePart => self.score_part()?,
                Element::PartGroup => {
                    let number = self.attribute_text("number").unwrap_or_else(|| "1".into());
                    if self.attribute_is("type", "start") {
                        begun += 1;
                        if begun > MOST_PARTS {
                            let what = format!("more than {MOST_PARTS} groups of parts");
                            return Err(Damage::new(what, "No score has so many; export the file again.").at(self.pull.tag_place()));
                        }
                        let group = self.part_group()?;
                        open.entry(number).or_default().push((begun, group));
                    } else {
                        self.pull.skip()?;
                        if let Some((_, group)) = open.get_mut(&number).and_then(Vec::pop) {
                            self.close_group(group);
                        }
                    }
                }
                _ => self.pull.skip()?,
            }
        }
        let mut never_ended: Vec<(usize, PartGroup)> = open.into_values().flatten().collect();
        never_ended.sort_by_key(|(begun, _)| *begun);
        for (_, group) in never_ended {
            self.close_group(group);
        }
        self.score.groups.sort_by_key(|group| (group.first, std::cmp::Reverse(group.last)));
        Ok(())
    }

    fn close_group(&mut self, group: PartGroup) {
        if self.score.parts.len() > group.first {
            self.score.groups.push(PartGroup { last: self.score.parts.len() - 1, ..group });
        }
    }

    fn part_group(&mut self) -> Result<PartGroup, Damage> {
        self.pull.keep::<PartGroup>();
        let mut group = PartGroup { first: self.score.parts.len(), ..PartGroup::default() };
        while let Some(element) = self.pull.child()? {
            match element {
                Element::GroupName => group.name = self.line()?,
                Element::GroupSymbol => group.symbol = self.line()?,
                Element::GroupBarline => group.joined_barlines = self.line()? == "yes",
                _ => self.pull.skip()?,
            }
        }
        Ok(group)
    }

    fn score_part(&mut self) -> Result<(), Damage> {
        let at = self.pull.tag_place();
        let id = self.attribute_text("id").unwrap_or_default();
        let mut part = Part { id: id.as_str().into(), at, ..Part::default() };
        let mut display = (String::new(), String::new());
        while let Some(element) = self.pull.child()? {
            match element {
                Element::PartLink => {
                    part.link = self.attribute_text("xlink:href").or(part.link);
                    self.pull.skip()?;
                }
                Element::PartName => part.name = self.line()?.into(),
                Element::PartAbbreviation => part.abbreviation = self.line()?.into(),
                Element::PartNameDisplay => display.0 = self.display_text()?,
                Element::PartAbbreviationDisplay => display.1 = self.display_text()?,
                Element::ScoreInstrument => {
                    let instrument = self.instrument()?;
                    self.pull.keep::<Instrument>();
                    part.instruments.push(instrument);
                }
                _ => self.pull.skip()?,
            }
        }
        if part.name.is_empty() {
            part.name = display.0.into();
        }
        if part.abbreviation.is_empty() {
            part.abbreviation = display.1.into();
        }
        if self.knows_part(&id) {
            self.flaw(format!("the part list names part \"{id}\" twice"), "Export the file again; each id may stand once.", at, true);
            return Ok(());
        }
        self.add_part(part)?;
        Ok(())
    }

    fn display_text(&mut self) -> Result<String, Damage> {
        let mut shown = String::new();
        while let Some(element) = self.pull.child()? {
            match element {
                Element::DisplayText => shown.push_str(self.pull.raw_text()?.0),
                Element::AccidentalText => {
                    let sign = self.line()?;
                    shown.push_str(match sign.as_str() {
                        "flat" => "\u{266d}",
                        "sharp" => "\u{266f}",
                        "natural" => "\u{266e}",
                        _ => "",
                    });
                }
                _ => self.pull.skip()?,
            }
        }
        Ok(super::values::one_line(&shown))
    }

    fn instrument(&mut self) -> Result<Instrument, Damage> {
        let mut instrument = Instrument { id: self.attribute_text("id").unwrap_or_default(), ..Instrument::default() };
        while let Some(element) = self.pull.child()? {
            match element {
                Element::InstrumentName => instrument.name = self.line()?,
                Element::InstrumentSound => instrument.sound = Some(self.line()?),
                _ => self.pull.skip()?,
            }
        }
        Ok(instrument)
    }
}
