//! Paper formats, and which one a page is.

use super::data::{DataError, DataFile, Source, Sources, UnknownName};
use super::role::Roles;
use crate::packed::PAPERS;
use crate::units::{MM_PER_INCH, Mm};
use serde::Deserialize;
use std::collections::{BTreeMap, HashSet};
use std::sync::Arc;
use toml::Spanned;

/// A paper format, upright.
#[derive(Debug, Clone, PartialEq)]
pub struct Paper {
    /// What it is called.
    pub name: String,
    /// Other names it answers to when asked for by name.
    pub also: Vec<String>,
    /// The shorter side.
    pub width: Mm,
    /// The longer side.
    pub height: Mm,
    /// Whether its source gives it in inches.
    pub inches: bool,
    /// Who says so.
    pub source: Arc<Source>,
    /// Whom it is for.
    pub suits: Vec<Said>,
    /// For whom it is refused.
    pub refused: Vec<Said>,
}

/// What somebody says of a format and some readers.
#[derive(Debug, Clone, PartialEq)]
pub struct Said {
    /// Names of their roles.
    pub roles: Vec<String>,
    /// Who says so.
    pub source: Arc<Source>,
}

impl Paper {
    /// Whether it serves the reader of that role; `None` where nobody says.
    pub fn serves(&self, role: &str) -> Option<bool> {
        let names = |said: &[Said]| said.iter().flat_map(|said| &said.roles).any(|one| one == role);
        if names(&self.suits) { Some(true) } else { names(&self.refused).then_some(false) }
    }
}

/// A page recognised as a format.
#[derive(Debug, Clone, PartialEq)]
pub struct PaperMatch<'a> {
    /// The format.
    pub paper: &'a Paper,
    /// Whether it lies on its long side.
    pub landscape: bool,
    /// How far the side that differs most is off.
    pub off_by: Mm,
}

impl PaperMatch<'_> {
    /// Name for reports: `A4`, or `Letter landscape`.
    pub fn name(&self) -> String {
        if self.landscape { format!("{} landscape", self.paper.name) } else { self.paper.name.clone() }
    }
}

/// The formats that a house knows.
#[derive(Debug, Clone, PartialEq)]
pub struct Papers {
    tolerance: Mm,
    all: Vec<Paper>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawPapers {
    tolerance_mm: Spanned<f64>,
    #[serde(default)]
    readers: BTreeMap<String, Vec<Spanned<String>>>,
    source: Sources,
    paper: Vec<RawPaper>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawPaper {
    name: Spanned<String>,
    #[serde(default)]
    also: Vec<Spanned<String>>,
    width_mm: Option<Spanned<f64>>,
    height_mm: Option<Spanned<f64>>,
    width_in: Option<Spanned<f64>>,
    height_in: Option<Spanned<f64>>,
    source: Spanned<String>,
    #[serde(default)]
    suits: Vec<RawSaid>,
    #[serde(default)]
    refused: Vec<RawSaid>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawSaid {
    readers: Vec<Spanned<String>>,
    source: Spanned<String>,
}

/// What a format is checked against.
#[derive(Clone, Copy)]
struct Known<'a> {
    sources: &'a Sources,
    roles: &'a Roles,
    readers: &'a BTreeMap<String, Vec<Spanned<String>>>,
    file: DataFile<'a>,
}

impl Known<'_> {
    /// The roles that are named, one by one or as readers together, and who says it.
    fn said(self, all: &[RawSaid]) -> Result<Vec<Said>, DataError> {
        let one = |said: &RawSaid| {
            let mut roles = Vec::new();
            for name in &said.readers {
                match self.readers.get(name.get_ref()) {
                    Some(readers) => roles.extend(readers.iter().map(|name| name.get_ref().clone())),
                    None => roles.push(self.role(name)?),
                }
            }
            Ok(Said { roles, source: self.sources.get(&said.source, self.file)? })
        };
        all.iter().map(one).collect()
    }

    fn role(self, name: &Spanned<String>) -> Result<String, DataError> {
        match self.roles.get(name.get_ref()) {
            Ok(role) => Ok(role.name.clone()),
            Err(error) => Err(self.file.wrong(name, error.to_string())),
        }
    }
}

impl RawPaper {
    fn check(self, known: Known) -> Result<Paper, DataError> {
        let file = known.file;
        let (width, height, factor) = match (&self.width_mm, &self.height_mm, &self.width_in, &self.height_in) {
            (Some(width), Some(height), None, None) => (width, height, 1.0),
            (None, None, Some(width), Some(height)) => (width, height, MM_PER_INCH),
            _ => return Err(file.wrong(&self.name, "a paper needs width_mm and height_mm, or width_in and height_in")),
        };
        let source = known.sources.get(&self.source, file)?;
        let (suits, refused) = (known.said(&self.suits)?, known.said(&self.refused)?);
        let mut suited = suits.iter().flat_map(|said| &said.roles);
        if let Some(twice) = suited.find(|role| refused.iter().any(|said| said.roles.contains(role))) {
            return Err(file.wrong(&self.name, format!("\"{twice}\" stands in `suits` and in `refused`; strike one")));
        }
        let paper = Paper {
            width: Mm(file.positive(width, "the width")? * factor),
            height: Mm(file.positive(height, "the height")? * factor),
            inches: factor > 1.0,
            also: self.also.into_iter().map(Spanned::into_inner).collect(),
            source,
            suits,
            refused,
            name: self.name.get_ref().clone(),
        };
        if paper.width > paper.height {
            return Err(file.wrong(width, "papers are given upright: the width is the shorter side"));
        }
        Ok(paper)
    }
}

impl Papers {
    /// The formats that come with the program; they fail to load only in a build whose tests fail.
    pub fn built_in(roles: &Roles) -> Result<Self, DataError> {
        let file = DataFile::of(PAPERS);
        // Where it does not fit, the text says why.
        let raw = PAPERS.read().or_else(|_| file.parse())?;
        Self::check(raw, file, roles)
    }

    /// The formats of a TOML `text`, whose readers must be among `roles`; `file` is its name in errors.
    pub fn load(text: &str, file: &str, roles: &Roles) -> Result<Self, DataError> {
        let file = DataFile { name: file, text };
        Self::check(file.parse()?, file, roles)
    }

    fn check(raw: RawPapers, file: DataFile, roles: &Roles) -> Result<Self, DataError> {
        raw.source.check(file)?;
        let known = Known { sources: &raw.source, roles, readers: &raw.readers, file };
        for name in raw.readers.values().flatten() {
            known.role(name)?;
        }
        let tolerance = Mm(file.positive(&raw.tolerance_mm, "the tolerance")?);
        let mut papers = Self { tolerance, all: Vec::with_capacity(raw.paper.len()) };
        let mut taken: HashSet<String> = HashSet::new();
        for paper in raw.paper {
            let mut own = Vec::with_capacity(1 + paper.also.len());
            for name in std::iter::once(&paper.name).chain(&paper.also) {
                own.push(name.get_ref().to_lowercase());
                if taken.contains(name.get_ref().trim().to_lowercase().as_str()) {
                    return Err(file.wrong(name, format!("two papers are called \"{}\"; rename one", name.get_ref())));
                }
            }
            let place = paper.name.clone();
            let paper = paper.check(known)?;
            if let Some(twin) = papers.all.iter().find(|other| off_by(other, paper.width, paper.height) < Mm(0.001)) {
                return Err(file.wrong(&place, format!("this is the size of \"{}\"; add the name to its `also`", twin.name)));
            }
            papers.all.push(paper);
            taken.extend(own);
        }
        Ok(papers)
    }

    /// Adds a format; it goes before those of its size that are there.
    ///
    /// # Errors
    /// That its name is taken, in words.
    pub(super) fn add(&mut self, paper: Paper) -> Result<(), String> {
        if self.find(&paper.name).is_some() {
            return Err(format!("there is a paper \"{}\" already; take another name", paper.name));
        }
        self.all.insert(0, paper);
        Ok(())
    }

    /// How far a side of a page may be off its format.
    pub fn tolerance(&self) -> Mm {
        self.tolerance
    }

    /// Every format, in the order of its file.
    pub fn all(&self) -> &[Paper] {
        &self.all
    }

    /// The format called `name`, or by one of its other names; capitals don't matter.
    pub fn get(&self, name: &str) -> Result<&Paper, UnknownName> {
        self.find(name).ok_or_else(|| UnknownName::new("paper", name, self.all.iter().flat_map(names)))
    }

    /// By how much a page (width, height) shrinks or grows when it is fitted onto another sheet, turned as the page is:
    /// the smaller of the ratios of the widths and of the heights. 1 for a page without extent.
    pub fn factor(from: (Mm, Mm), to: &Paper) -> f64 {
        let (width, height) = from;
        let (across, down) = if width > height { (to.height, to.width) } else { (to.width, to.height) };
        let factor = (across / width).min(down / height);
        if factor.is_finite() && factor > 0.0 { factor } else { 1.0 }
    }

    fn find(&self, name: &str) -> Option<&Paper> {
        self.all.iter().find(|paper| names(paper).any(|one| one.to_lowercase() == name.trim().to_lowercase()))
    }

    /// The format nearest to a page of this size, upright or turned, if both sides are within the
    /// tolerance. Of two formats equally near the one that stands first in the file wins.
    pub fn name_of(&self, width: Mm, height: Mm) -> Option<PaperMatch<'_>> {
        if !(width.0.is_finite() && height.0.is_finite()) {
            return None;
        }
        let landscape = width > height;
        let (short, long) = if landscape { (height, width) } else { (width, height) };
        self.all
            .iter()
            .map(|paper| PaperMatch { paper, landscape, off_by: off_by(paper, short, long) })
            .filter(|found| found.off_by <= self.tolerance)
            .min_by(|a, b| a.off_by.0.total_cmp(&b.off_by.0))
    }
}

fn names(paper: &Paper) -> impl Iterator<Item = &str> {
    std::iter::once(&paper.name).chain(&paper.also).map(String::as_str)
}

/// How far the side that differs most is off, rounded to 0.001 mm as every judged length is.
fn off_by(paper: &Paper, short: Mm, long: Mm) -> Mm {
    let most = (paper.width - short).abs().max((paper.height - long).abs());
    Mm((most.0 * 1000.0).round() / 1000.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn roles() -> Roles {
        Roles::built_in().expect("built-in roles load")
    }

    fn built_in() -> Papers {
        Papers::built_in(&roles()).expect("built-in papers load")
    }

    fn name(width: f64, height: f64) -> Option<String> {
        built_in().name_of(Mm(width), Mm(height)).map(|found| found.name())
    }

    #[test]
    fn standard_formats_are_named_both_ways_round() {
        let cases = [
            // ISO 216 (B4 from memory).
            (210.0, 297.0, "A4"),
            (297.0, 420.0, "A3"),
            (250.0, 353.0, "B4"),
            // JIS P 0138.
            (257.0, 364.0, "JIS B4"),
            // ANSI/ASME Y14.1: Letter 8.5 x 11 in, Tabloid 11 x 17 in; an inch is 25.4 mm.
            (215.9, 279.4, "Letter"),
            (279.4, 431.8, "Tabloid"),
            // Trade papers: 9.5 x 13 in, 255 x 358 mm (orchestra libraries' guidelines).
            (241.3, 330.2, "9.5 x 13 in"),
            (255.0, 358.0, "255 x 358 mm"),
        ];
        for (width, height, expected) in cases {
            assert_eq!(name(width, height).as_deref(), Some(expected));
            assert_eq!(name(height, width), Some(format!("{expected} landscape")));
        }
    }

    #[test]
    fn the_tolerance_is_a_millimetre_a_side_and_the_nearest_wins() {
        assert_eq!(name(211.0, 296.0).as_deref(), Some("A4"));
        assert_eq!(name(211.01, 297.0), None);
        assert_eq!(name(216.9, 279.4).as_deref(), Some("Letter"), "1 mm although binary fractions say a little more");
        assert_eq!(name(f64::NAN, 297.0), None);
        assert_eq!(name(210.0, f64::INFINITY), None);
        let text = r#"
            tolerance_mm = 1.0
            [source.s]
            title = "invented"
            says = "two sizes that overlap"
            mark = "M"
            [[paper]]
            name = "near"
            width_mm = 200
            height_mm = 300
            source = "s"
            [[paper]]
            name = "nearer"
            width_mm = 201
            height_mm = 300
            source = "s"
        "#;
        let papers = Papers::load(text, "papers.toml", &roles()).expect("sound");
        let found = papers.name_of(Mm(300.0), Mm(200.7)).expect("both are within 1 mm");
        assert_eq!(found.name(), "nearer landscape");
        assert!((found.off_by.0 - 0.3).abs() < 1e-9);
    }

    #[test]
    fn no_two_built_in_formats_are_nearer_than_the_tolerance() {
        let papers = built_in();
        for paper in papers.all() {
            let found = papers.name_of(paper.width, paper.height).expect("its own size");
            assert_eq!(found.paper, paper);
            assert_eq!(papers.all().iter().filter(|other| off_by(other, paper.width, paper.height) <= papers.tolerance).count(), 1);
        }
    }

    #[test]
    fn papers_by_name() {
        let papers = built_in();
        assert_eq!(papers.get("iso b4").map(|paper| paper.name.as_str()), Ok("B4"));
        assert_eq!(papers.get("Ledger").map(|paper| paper.name.as_str()), Ok("Tabloid"));
        let unknown = papers.get("Tabliod").expect_err("misspelt");
        assert_eq!(unknown.to_string(), "there is no paper \"Tabliod\"; did you mean \"Tabloid\"?");
    }

    #[test]
    fn errors_point_into_the_file() {
        let head = "tolerance_mm = 1\n[source.s]\ntitle = \"t\"\nsays = \"s\"\nmark = \"M\"\n";
        let cases = [
            ("[[paper]]\nname = \"x\"\nwidth_mm = 1\nheight_mm = 2\nsource = \"s\"\ncolour = 1\n", (11, 1), "colour"),
            ("[[paper]]\nname = \"x\"\nwidth_mm = 1\nheight_in = 2\nsource = \"s\"\n", (7, 8), "width_mm and height_mm"),
            ("[[paper]]\nname = \"x\"\nwidth_mm = 3\nheight_mm = 2\nsource = \"s\"\n", (8, 12), "upright"),
            ("[[paper]]\nname = \"x\"\nwidth_mm = -1\nheight_mm = 2\nsource = \"s\"\n", (8, 12), "above 0"),
            ("[[paper]]\nname = \"x\"\nwidth_mm = 1\nheight_mm = 2\nsource = \"tt\"\n", (10, 10), "no source \"tt\""),
            ("[[paper]]\nname = \n", (7, 8), ""),
        ];
        for (tail, at, says) in cases {
            let error = Papers::load(&format!("{head}{tail}"), "house.toml", &roles()).expect_err(tail);
            assert_eq!((error.line, error.column), at, "{error}");
            assert!(error.message.contains(says), "{error}");
        }
    }
    #[test]
    fn the_packed_file_is_what_its_text_says() {
        let text: RawPapers = DataFile::of(PAPERS).parse().expect("sound");
        assert_eq!(PAPERS.read::<RawPapers>().map(|packed| format!("{packed:?}")), Ok(format!("{text:?}")));
    }
}
