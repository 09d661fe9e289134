//! The readers: what each needs, and who says so.

use super::Library;
use super::page::{Block, Name, Page, Text};
use super::rule::reader_value;
use super::words::{DECIDE, MARKS, Notes, source};
use crate::house::{Fact, Family, Kind, Light, OtherStaves, Players, Role, StaffGaps, StaffHeights, TurnedBy};
use crate::report::terminal::short;
use crate::rule::Rule;
use crate::rule::subject::said;
use crate::units::Mm;

/// A column of a table of readers: its head, and the cell of a reader with the number of its source.
struct Column {
    head: &'static str,
    cell: for<'a> fn(&'a Role, &mut Notes<'a>) -> Text,
}

/// What a cell shows where nobody says anything.
const NOBODY: &str = "-";

const HEIGHTS: [Column; 4] = [
    Column { head: "least", cell: |role, notes| height(notes, &role.staff_height.least) },
    Column { head: "good", cell: |role, notes| height(notes, &role.staff_height.good) },
    Column { head: "ideal", cell: |role, notes| height(notes, &role.staff_height.ideal) },
    Column { head: "most", cell: |role, notes| height(notes, &role.staff_height.most) },
];

/// The same in a dim pit.
const HEIGHTS_DIM: [Column; 4] = [
    Column { head: "least", cell: |role, notes| dim(role, notes, |heights| &heights.least) },
    Column { head: "good", cell: |role, notes| dim(role, notes, |heights| &heights.good) },
    Column { head: "ideal", cell: |role, notes| dim(role, notes, |heights| &heights.ideal) },
    Column { head: "most", cell: |role, notes| dim(role, notes, |heights| &heights.most) },
];

const OTHER_STAVES: [Column; 4] = [
    Column { head: "another player's", cell: |role, notes| other(role, notes, |staves| &staves.other_player) },
    Column { head: "cue", cell: |role, notes| other(role, notes, |staves| &staves.cue) },
    Column { head: "ossia", cell: |role, notes| other(role, notes, |staves| &staves.ossia) },
    Column { head: "rehearsal only", cell: |role, notes| other(role, notes, |staves| &staves.rehearsal) },
];

const TEXT: [Column; 3] = [
    Column { head: "least", cell: |role, notes| points(notes, &role.text_pt.least) },
    Column { head: "good", cell: |role, notes| points(notes, &role.text_pt.good) },
    Column { head: "ideal", cell: |role, notes| points(notes, &role.text_pt.ideal) },
];

const DESK: [Column; 3] = [
    Column { head: "light", cell: |role, _| Text::new(light(role.light)) },
    Column { head: "pages turned by", cell: |role, notes| notes.cell(turned_by(role.turns.value), &role.turns.source) },
    Column { head: "rehearses by marks", cell: |role, _| Text::new(if role.conducted { "yes" } else { "no" }) },
];

const READING: [Column; 4] = [
    Column { head: "reads", cell: |role, _| Text::new(kind(role)) },
    Column { head: "staves of", cell: |role, _| Text::new(players(role)) },
    Column { head: "family", cell: |role, _| Text::new(role.family.map_or(NOBODY, family)) },
    Column {
        head: "metres away",
        cell: |role, notes| match &role.reading_distance {
            Some(distance) => notes.cell(format_args!("{} to {}", short(distance.least_m), short(distance.most_m)), &distance.source),
            None => Text::new(NOBODY),
        },
    },
];

const GAPS: [Column; 4] = [
    Column { head: "crowded below", cell: |role, notes| gap(role, notes, |gaps| &gaps.least) },
    Column { head: "right from", cell: |role, notes| gap(role, notes, |gaps| &gaps.norm_from) },
    Column { head: "right to", cell: |role, notes| gap(role, notes, |gaps| &gaps.norm_to) },
    Column { head: "a question above", cell: |role, notes| gap(role, notes, |gaps| &gaps.most) },
];

fn height<'a>(notes: &mut Notes<'a>, fact: &'a Fact<Mm>) -> Text {
    notes.cell(short(fact.value.0), &fact.source)
}

fn dim<'a>(role: &'a Role, notes: &mut Notes<'a>, pick: fn(&StaffHeights) -> &Fact<Mm>) -> Text {
    role.staff_height_dim.as_ref().map_or_else(|| Text::new(NOBODY), |heights| height(notes, pick(heights)))
}

/// A share of the reader's own least height.
fn other<'a>(role: &'a Role, notes: &mut Notes<'a>, pick: fn(&OtherStaves) -> &Fact<f64>) -> Text {
    points(notes, pick(&role.other_staves))
}

fn points<'a>(notes: &mut Notes<'a>, fact: &'a Fact<f64>) -> Text {
    notes.cell(short(fact.value), &fact.source)
}

fn light(light: Light) -> &'static str {
    match light {
        Light::Lit => "lit platform",
        Light::Dim => "dim pit",
    }
}

fn turned_by(by: TurnedBy) -> &'static str {
    match by {
        TurnedBy::Player => "the player",
        TurnedBy::DeskPartner => "the desk partner",
        TurnedBy::PageTurner => "a page turner",
        TurnedBy::Conductor => "the conductor",
        TurnedBy::Nobody => "nobody is disturbed",
    }
}

fn gap<'a>(role: &'a Role, notes: &mut Notes<'a>, pick: fn(&StaffGaps) -> &Fact<f64>) -> Text {
    role.staff_gaps.as_ref().map_or_else(|| Text::new(NOBODY), |gaps| notes.cell(short(pick(gaps).value), &pick(gaps).source))
}

fn kind(role: &Role) -> &'static str {
    match role.kind {
        Kind::Part => "a part",
        Kind::Score => "a score",
    }
}

fn players(role: &Role) -> &'static str {
    match role.players {
        Players::One => "one player",
        Players::Several => "several",
    }
}

fn family(family: Family) -> &'static str {
    match family {
        Family::Wind => "woodwind",
        Family::Brass => "brass",
        Family::Percussion => "percussion",
        Family::Plucked => "plucked strings",
        Family::Keyboard => "keyboards",
        Family::Electronic => "electronic",
        Family::Voice => "voices",
        Family::Strings => "strings",
    }
}

/// All readers.
pub(super) fn all(library: &Library) -> Page {
    let mut page = Page::new(Name::Readers, "Readers");
    page.paragraph(
        "Who a copy is for decides how large its staves must be. Say it with --role; otherwise it is inferred from instruments, names and \
         number of parts, and the report says so. A number in brackets names who says the number before it: the list is at the end.",
    );
    let mut notes = Notes::default();
    page.heading("Staff heights");
    page.paragraph(
        "In millimetres of the printed five-line staff. Below the least the copy does not serve; from good on nobody objects, and between \
         the two the reader is at risk; ideal is what to choose; above the most paper is wasted.",
    );
    table(library, &HEIGHTS, &mut notes, |_| true, &mut page);
    page.heading("Staff heights in a dim pit");
    page.paragraph("The same where the light is poor, for readers of whom somebody says that they need more then.");
    table(library, &HEIGHTS_DIM, &mut notes, |role| role.staff_height_dim.is_some(), &mut page);
    page.heading("Staves that are not the reader's own");
    page.paragraph(
        "The least they may be, as a share of the reader's own least staff height. What a small staff is, its type, its name or its size \
         tells; of those that only their size tells, one of the reader's own part is taken for an ossia, one over a keyboard for another player's, any other for a cue.",
    );
    table(library, &OTHER_STAVES, &mut notes, |_| true, &mut page);
    page.heading("Text that is sung or read at the desk");
    page.paragraph("In points on paper. Below the least it does not serve; from good on nobody objects.");
    table(library, &TEXT, &mut notes, |_| true, &mut page);
    page.heading("At the desk");
    page.paragraph(
        "Where the reader usually sits, who turns the pages, and whether an ensemble rehearses from the copy by marks and bar numbers.",
    );
    table(library, &DESK, &mut notes, |_| true, &mut page);
    page.heading("What they read, and from how far");
    table(library, &READING, &mut notes, |_| true, &mut page);
    page.heading("White between the lines of a part of one staff");
    page.paragraph("In staff heights. Readers of whom nobody says anything are left out.");
    table(library, &GAPS, &mut notes, |role| role.staff_gaps.is_some(), &mut page);
    notes.tell(&mut page);
    page.paragraph(Text::new("One reader in full: ").and(Text::code("stavegauge explain --role ROLE")));
    page.paragraph(DECIDE);
    page
}

/// A table of those readers that belong in it.
fn table<'a>(library: &Library<'a>, columns: &[Column], notes: &mut Notes<'a>, belongs: fn(&Role) -> bool, page: &mut Page) {
    let mut rows = Vec::new();
    for role in library.house.roles.all().iter().filter(|role| belongs(role)) {
        let mut row = vec![Text::code(&role.name)];
        row.extend(columns.iter().map(|column| (column.cell)(role, notes)));
        rows.push(row);
    }
    let heads: Vec<&str> = std::iter::once("reader").chain(columns.iter().map(|column| column.head)).collect();
    page.table(heads, rows);
}

/// One reader in full.
pub(super) fn one(library: &Library, role: &Role) -> Page {
    let mut page = Page::new(Name::Reader(role.name.clone()), format!("{}: {}", role.name, role.title));
    let family = role.family.map(|one| format!(" Family: {}.", family(one))).unwrap_or_default();
    page.paragraph(format!("Reads {}, with staves of {}.{family}", kind(role), players(role)));
    if let Some(distance) = &role.reading_distance {
        let from = format!("Reads from {} to {} metres away. Who says so: ", short(distance.least_m), short(distance.most_m));
        page.paragraph(Text::new(from).and(source(&distance.source)));
    }
    if let Some(gaps) = &role.staff_gaps {
        let ends = [&gaps.norm_from, &gaps.norm_to];
        let [from, to] = ends.map(|fact| short(fact.value));
        let mut by = vec![source(&ends[0].source)];
        by.extend((ends[0].source != ends[1].source).then(|| source(&ends[1].source)));
        let right = format!("White between single staves is right from {from} to {to} staff heights. Who says so: ");
        page.paragraph(Text::new(right).and(Text::joined(by, "; ")));
    }
    page.heading("What rules read of this reader");
    page.blocks.push(Block::Terms(said(role).iter().map(reader_value).collect()));
    page.paragraph(MARKS);
    page.heading("Rules that turn on the reader");
    let turns = library.by_harm().into_iter().filter(|rule| rule.depends_on_role());
    let name = |rule: &Rule| Text::link(&*rule.id, Name::Rule(rule.id.to_string())).and(format!(": {}", rule.title));
    page.points(turns.map(name).collect());
    page.paragraph(
        Text::new("The numbers of one rule for this reader: ").and(Text::code(format!("stavegauge explain RULE --role {}", role.name))),
    );
    page.paragraph(DECIDE);
    page
}
