//! A publisher's style: who reads a copy, what staff height that reader needs, which papers there are.
//!
//! Everything here is data from `rules/`, each value with its source, loaded once and passed down.

mod data;
mod date;
mod ensemble;
mod family;
mod group;
#[cfg(test)]
mod inference_test;
mod instrument;
mod paper;
#[cfg(test)]
mod paper_test;
mod reader;
mod role;
mod role_file;
#[cfg(test)]
mod role_test;
mod staff_name;
mod stet;
mod style;
mod word;

pub use data::{DataError, Mark, NO_SOURCE, Source, UnknownName};
pub use date::Date;
pub use family::Family;
pub use instrument::Instruments;
pub use paper::{Paper, PaperMatch, Papers, Said};
pub use reader::{Inferred, PartHint};
pub use role::{
    Basis, Fact, Kind, Light, OtherStaves, Players, ReadingDistance, Role, Roles, StaffGaps, StaffHeights, TextSizes, TurnedBy,
};
pub use staff_name::NamedStaff;
pub use stet::Stet;
pub use style::{
    BUILT_IN, Binding, CopiesAre, CopyMapping, FirstPage, GateOf, LastLine, LimitSetting, MovementMapping, Named, PRINTED_PERCENT, Pattern,
    RuleLevel, RuleSetting, Style, StyleFile, Units, WordsOf,
};

/// A house style.
#[derive(Debug, Clone, PartialEq)]
pub struct House {
    /// Its name in reports.
    pub name: String,
    /// The light its copies are read in; `None`: each reader where that reader usually sits.
    pub light: Option<Light>,
    /// The readers it knows.
    pub roles: Roles,
    /// The papers it knows.
    pub papers: Papers,
    /// The instruments by which it tells whom a file is for.
    pub instruments: Instruments,
    /// Share of its own size at which a copy is printed.
    pub printed_at: Option<f64>,
    /// Name of the paper that copies are printed on, as large as they fit.
    pub printed_on: Option<String>,
    /// Side of the first page of a copy that states no page numbers.
    pub first_page: Option<FirstPage>,
    /// How copies lie before their reader.
    pub copies_are: CopiesAre,
    /// Edge at which copies are bound.
    pub binding: Option<Binding>,
    /// Names of the papers it prints on; empty where it does not say.
    pub wanted_papers: Vec<String>,
    /// What it wants of the last line of a movement.
    pub last_line: LastLine,
    /// Rules that must have been judged for a copy to pass.
    pub must_judge: Vec<Named>,
    /// The words of its reports; `None`: bar and staff.
    pub words: Option<WordsOf>,
    /// The units of its reports.
    pub units: Units,
    /// From which level on findings fail.
    pub gate: Option<GateOf>,
    /// Which files are which copies; of several that fit, the first counts.
    pub copies: Vec<CopyMapping>,
    /// Movements that are files of their own, in their order.
    pub movements: Vec<MovementMapping>,
    /// Findings that may stand.
    pub stets: Vec<Stet>,
}

impl House {
    /// The style that comes with the program; it fails to load only in a build whose tests fail.
    pub fn built_in() -> Result<Self, DataError> {
        let roles = Roles::built_in()?;
        let instruments = Instruments::built_in(&roles)?;
        let papers = Papers::built_in(&roles)?;
        Ok(Self {
            name: BUILT_IN.to_owned(),
            light: None,
            roles,
            papers,
            instruments,
            printed_at: None,
            printed_on: None,
            first_page: None,
            copies_are: CopiesAre::Bound,
            binding: None,
            wanted_papers: Vec::new(),
            last_line: LastLine::Either,
            must_judge: Vec::new(),
            words: None,
            units: Units::Mm,
            gate: None,
            copies: Vec::new(),
            movements: Vec::new(),
            stets: Vec::new(),
        })
    }

    /// What the name of its part says the staves of a part are for, where that is not the reader's own music. Of the only
    /// part of a file that is no matter: it is what the reader has.
    pub fn staff_named(&self, part_name: &str) -> Option<NamedStaff> {
        self.instruments.staff_names.find(part_name)
    }
}
