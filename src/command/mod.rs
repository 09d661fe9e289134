//! The commands: one file each, glue and no thinking.

#![allow(clippy::doc_markdown, reason = "docs of arguments are the help that users read")]

mod audit;
mod castoff;
mod compare;
mod completions;
mod draw;
mod explain;
mod fit;
mod init;
mod manual;
mod measure;
mod output;
mod paths;
mod perform;
mod planning;
mod style;
mod text;
mod watch;
mod work;
mod writing;

use crate::report::plain::plain;
use clap::{Args, Parser, Subcommand, ValueEnum};
use clap_complete::Shell;
use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

/// Nothing at or above the gate.
const CLEAN: u8 = 0;
/// Something at or above the gate.
const FOUND: u8 = 1;
/// The job could not be done.
const FAILED: u8 = 2;

/// Why the job could not be done, for standard error.
#[derive(Debug)]
pub(super) struct Failure {
    what: String,
    help: String,
}

impl Failure {
    fn new(what: impl Into<String>, help: impl Into<String>) -> Self {
        Self { what: what.into(), help: help.into() }
    }
}

/// Audits the layout of engraved music: reads the exported MusicXML, computes the page in millimetres, and says what is
/// wrong on which page, system and bar.
#[derive(Debug, Parser)]
#[command(name = "stavegauge", version, arg_required_else_help = true, max_term_width = 100)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Measure, judge, report
    #[command(after_long_help = AUDIT_HELP)]
    Audit(AuditArgs),
    /// Show the measured layout, without judgement
    #[command(after_long_help = MEASURE_HELP)]
    Measure(MeasureArgs),
    /// Show what fits: papers, staff heights and margins, each cast off as well as it can be
    #[command(after_long_help = FIT_HELP)]
    Fit(FitArgs),
    /// Cast off anew: which bars go into which system and page, as a sheet for the engraver
    #[command(after_long_help = CASTOFF_HELP)]
    Castoff(CastoffArgs),
    /// Draw one page to scale, as SVG or PNG
    #[command(after_long_help = DRAW_HELP)]
    Draw(DrawArgs),
    /// Hold rounds of one delivery against each other: mended, new, open again, remaining
    #[command(after_long_help = COMPARE_HELP)]
    Compare(CompareArgs),
    /// Explain a rule: what, why, its limits and where each comes from
    #[command(after_long_help = EXPLAIN_HELP)]
    Explain(ExplainArgs),
    /// Write a commented house style to begin with
    #[command(after_long_help = INIT_HELP)]
    Init(InitArgs),
    /// Write the completions for a shell
    #[command(after_long_help = COMPLETIONS_HELP)]
    Completions(CompletionsArgs),
    /// Write the manual page
    #[command(after_long_help = MANUAL_HELP)]
    Manual,
}

impl Command {
    /// On how many threads it is done, where that is said or known.
    fn jobs(&self) -> Option<u16> {
        match self {
            Self::Audit(AuditArgs { input, .. })
            | Self::Measure(MeasureArgs { input, .. })
            | Self::Fit(FitArgs { input, .. })
            | Self::Castoff(CastoffArgs { input, .. }) => input.jobs,
            Self::Compare(args) => args.jobs,
            Self::Draw(_) => None,
            // They read no score, so none but this is needed.
            Self::Explain(_) | Self::Init(_) | Self::Completions(_) | Self::Manual => Some(1),
        }
    }
}

const AUDIT_HELP: &str = "\
Examples:
  stavegauge audit parts/                                all scores below a folder
  stavegauge audit --role orchestral-wind-part oboe.mxl  for the player it is meant for
  stavegauge audit --report json=audit.json score.musicxml
  stavegauge audit --printed-on A4 score.musicxml        as it comes out of an office printer
  stavegauge audit --gate warning 'parts/*.musicxml'     fail on what should change, too
  stavegauge audit --report sarif=audit.sarif --report markdown=corrections.md parts/
  stavegauge audit --before first.json --report json=revise.json parts/   numbers stay those of the first proof
  stavegauge audit --watch parts/                        again whenever the notation program exports

A file that cannot be read is reported whatever --only and --skip say.
Levels: error (must change), warning (should change), note (query).
Exit code: 0 nothing at or above the gate, 1 something is, or a rule that the house must have judged was not, 2 the job could not be done.
A role that is only inferred never makes an error. The tool advises; the house and the librarian decide.";

const MEASURE_HELP: &str = "\
Examples:
  stavegauge measure score.musicxml
  stavegauge measure --report csv=layout.csv parts/
  stavegauge measure --report json - < score.mxl

Exit code: 0 all were measured, 1 a file is damaged, 2 the job could not be done.";

const FIT_HELP: &str = "\
Examples:
  stavegauge fit score.musicxml                          papers and heights that suit the reader
  stavegauge fit --paper A4,B4 --staff 6.5..8.0 --margins 10,15 oboe.musicxml
  stavegauge fit --staff 4.5..6.0/0.1 --report csv=fit.csv score.musicxml

A range is written FROM..TO or FROM..TO/STEP; without a step, half millimetres of staff height and five of margins.
The room of the notes is measured anew at each size: text does not shrink with the staff. Gaps stay natural.
Exit code: 0 something fits, 1 nothing does, or a file is damaged, 2 the job could not be done.";

const CASTOFF_HELP: &str = "\
Examples:
  stavegauge castoff oboe.musicxml                       on its own paper, at its own staff height
  stavegauge castoff --paper B4 --staff 8 oboe.musicxml  on another, larger
  stavegauge castoff --first either --multiple-of 4 parts/
  stavegauge castoff --page-break 57 --no-break 24,25 oboe.musicxml
  stavegauge castoff --report csv=sheet.csv oboe.musicxml
  stavegauge castoff --paper B4 --staff 8 --write oboe-new.musicxml oboe.musicxml
  stavegauge castoff --paper B4 --staff ideal parts/     the whole set on one paper, each at its reader's height
  stavegauge castoff --paper B4 --write new/ parts/      every part into a folder that is there

It works on a file without any layout too, for the extent of a quotation. With --write OUT the score is written with
its new layout: scaling, paper, margins, breaks, distances, widths; the music stays as it is.
All divisions are weighed at once: room across and down, page turns, first page, blank pages, pages left short.
Exit code: 0 all are cast off, 1 one cannot be, or is damaged, 2 the job could not be done.";

const COMPARE_HELP: &str = "\
Examples:
  stavegauge compare first/ revise/                 two folders, audited on the spot
  stavegauge compare first.json revise.json         two reports of audit --report json
  stavegauge compare first.json revise.json final/  of three rounds the last against the one before it; what was
                                                    mended once and is there again is told as open again
  stavegauge compare --report markdown=changes.md first.json revise.json

A finding is known again by what it is about (rule, part, bars), on whatever page it stands now.
Exit code: 0 nothing new at or above the gate, 1 something is new or open again, 2 the job could not be done.";

const DRAW_HELP: &str = "\
Examples:
  stavegauge draw oboe.musicxml --page 2 --out page-2.svg
  stavegauge draw oboe.musicxml --out page-1.png         200 dots an inch

The page is drawn to scale as it is measured: what the file states stands where it says, what it leaves out where the
room model would set it. Signs are plain shapes, no engraving. Nothing is overwritten.
Exit code: 0 it is drawn, 2 it could not be.";

const EXPLAIN_HELP: &str = "\
Examples:
  stavegauge explain                                    all rules by family
  stavegauge explain small-staff                        one rule, with an example each way
  stavegauge explain small-staff --role chamber-part    the same with the numbers for that reader
  stavegauge explain --role chamber-part                that reader, and who says each number
  stavegauge explain --house                            every limit in force here, and where it comes from
  stavegauge explain small-staff --house=our-house.toml one rule as that house has it
  stavegauge explain --roles --report markdown=readers.md

Exit code: 0 it is explained, 2 there is no such rule or reader, or the house style is wrong.";

const INIT_HELP: &str = "\
Examples:
  stavegauge init                                stavegauge.toml in this folder, everything in it commented out
  stavegauge init parts --schema parts/house.schema.json   with a schema for the editor's completion

Nothing is overwritten.
Exit code: 0 it is written, 2 it is there already or cannot be written.";

const COMPLETIONS_HELP: &str = "\
Examples:
  stavegauge completions bash > ~/.local/share/bash-completion/completions/stavegauge
  stavegauge completions fish > ~/.config/fish/completions/stavegauge.fish
  stavegauge completions zsh > _stavegauge    then put it into a folder of $fpath";

const MANUAL_HELP: &str = "\
Example:
  stavegauge manual > stavegauge.1 && man ./stavegauge.1";

/// More threads than these, on any machine, only stand in each other's way: of two thousand, twenty seconds are spent on getting them.
const MOST_JOBS: i64 = 256;

/// What to read, and how many at a time.
#[derive(Debug, Args)]
struct Input {
    /// File, folder (searched for .musicxml, .xml and .mxl), glob, or - for standard input
    #[arg(required = true, value_name = "PATH")]
    paths: Vec<PathBuf>,
    /// Documents read at the same time, 256 at most [default: as many as there are processors]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=MOST_JOBS))]
    jobs: Option<u16>,
    /// Colour in reports for people
    #[arg(long, value_name = "WHEN", default_value = "auto")]
    color: When,
}

/// When to colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum When {
    /// On a terminal, unless NO_COLOR is set
    Auto,
    /// Always
    Always,
    /// Never
    Never,
}

#[derive(Debug, Args)]
struct AuditArgs {
    #[command(flatten)]
    input: Input,
    /// The player or reader it is meant for, such as orchestral-wind-part or full-score [default: inferred from
    /// instruments, names and number of parts]
    #[arg(long, value_name = "ROLE")]
    role: Option<String>,
    /// House style, or built-in for none [default: stavegauge.toml, looked for from the files upwards]
    #[arg(long, value_name = "FILE")]
    house: Option<PathBuf>,
    /// Size at which it is printed, in percent of its own: every millimetre judged is the printed one
    #[arg(long, value_name = "PERCENT", conflicts_with = "printed_on")]
    printed_at: Option<String>,
    /// Paper it is printed on, such as A4 or Letter: as large as it fits
    #[arg(long, value_name = "PAPER")]
    printed_on: Option<String>,
    /// Report as terminal, json, sarif, junit, markdown or html, to standard output or into a file; may be given several times
    #[arg(long, value_name = "FORMAT[=FILE]", default_value = "terminal")]
    report: Vec<String>,
    /// From which level on findings make the exit code 1 [default: error, or as the house has it]
    #[arg(long, value_name = "LEVEL")]
    gate: Option<GateArg>,
    /// Judge by this rule only; may be given several times
    #[arg(long, value_name = "RULE")]
    only: Vec<String>,
    /// Leave this rule out; may be given several times
    #[arg(long, value_name = "RULE")]
    skip: Vec<String>,
    /// Let nothing stand, whatever the house style says
    #[arg(long)]
    no_stets: bool,
    /// Write stets for all that is found into a new file, the reasons left to fill in
    #[arg(long, value_name = "FILE")]
    stet_all: Option<PathBuf>,
    /// Keep the numbers that corrections have in the JSON report of an earlier round
    #[arg(long, value_name = "REPORT")]
    before: Option<PathBuf>,
    /// Audit again whenever a file is exported anew, and show what changed, until Ctrl-C
    #[arg(long, conflicts_with = "stet_all")]
    watch: bool,
    /// When to work out repairs and judge them: where something asks for it, of copies up to a usual size (20,000 bars times staves); whatever
    /// their size; never, which is faster
    #[arg(long, value_name = "WHEN", default_value = "usual")]
    repairs: RepairsArg,
    /// On the terminal show only what stands at or above the gate
    #[arg(long)]
    quiet: bool,
}

/// When repairs are worked out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum RepairsArg {
    Usual,
    Always,
    Never,
}

/// A gate on the command line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum GateArg {
    /// What must change
    Error,
    /// What must or should change
    Warning,
    /// Every finding
    Note,
    /// No finding does
    Never,
}

#[derive(Debug, Args)]
struct MeasureArgs {
    #[command(flatten)]
    input: Input,
    /// Report as terminal, json or csv, to standard output or into a file; may be given several times
    #[arg(long, value_name = "FORMAT[=FILE]", default_value = "terminal")]
    report: Vec<String>,
}

#[derive(Debug, Args)]
struct FitArgs {
    #[command(flatten)]
    input: Input,
    /// The player or reader it is meant for [default: as the house maps it, else inferred]
    #[arg(long, value_name = "ROLE")]
    role: Option<String>,
    /// House style, or built-in for none [default: stavegauge.toml, looked for from the files upwards]
    #[arg(long, value_name = "FILE")]
    house: Option<PathBuf>,
    /// Papers, such as A4,B4 [default: those of the house, else that of the file and those that suit the reader]
    #[arg(long, value_name = "PAPER", value_delimiter = ',')]
    paper: Vec<String>,
    /// Staff heights in millimetres: a list, or a range [default: from the least to the most that suit the reader]
    #[arg(long, value_name = "MM", value_parser = planning::heights)]
    staff: Option<planning::Lengths>,
    /// Margins in millimetres: a list, or a range [default: those of the file, 10 and 15]
    #[arg(long, value_name = "MM", value_parser = planning::margins)]
    margins: Option<planning::Lengths>,
    /// Report as terminal, json, csv or html, to standard output or into a file; may be given several times
    #[arg(long, value_name = "FORMAT[=FILE]", default_value = "terminal")]
    report: Vec<String>,
}

/// Side of a first page.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum FirstArg {
    /// On the right
    Recto,
    /// On the left, behind a cover
    Verso,
    /// Whichever is better
    Either,
}

#[derive(Debug, Args)]
struct CastoffArgs {
    #[command(flatten)]
    input: Input,
    /// The player or reader it is meant for [default: as the house maps it, else inferred]
    #[arg(long, value_name = "ROLE")]
    role: Option<String>,
    /// House style, or built-in for none [default: stavegauge.toml, looked for from the files upwards]
    #[arg(long, value_name = "FILE")]
    house: Option<PathBuf>,
    /// Paper, such as A4 or B4, lying as the score lies [default: that of the file]
    #[arg(long, value_name = "PAPER")]
    paper: Option<String>,
    /// Staff height in millimetres, or ideal for the one that each reader wants [default: that of the file, else the reader's own]
    #[arg(long, value_name = "MM", value_parser = staff_height, allow_hyphen_values = true)]
    staff: Option<StaffArg>,
    /// All four margins in millimetres [default: those of the file]
    #[arg(long, value_name = "MM", value_parser = millimetres, allow_hyphen_values = true)]
    margins: Option<f64>,
    /// Side of the first page [default: as in the file or the house style]
    #[arg(long, value_name = "SIDE")]
    first: Option<FirstArg>,
    /// Exactly so many pages, blank ones counted
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1000), conflicts_with = "multiple_of")]
    pages: Option<u16>,
    /// A multiple of so many pages, blank ones at the end counted
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(2..=64))]
    multiple_of: Option<u16>,
    /// Keep the system breaks that the file has
    #[arg(long)]
    keep_breaks: bool,
    /// Bars with which a system begins, by their numbers or, as #57, by their count in the file
    #[arg(long = "break", value_name = "BARS", value_delimiter = ',')]
    breaks: Vec<String>,
    /// Bars with which a page begins
    #[arg(long, value_name = "BARS", value_delimiter = ',')]
    page_break: Vec<String>,
    /// Bars with which no system begins
    #[arg(long, value_name = "BARS", value_delimiter = ',')]
    no_break: Vec<String>,
    /// Write the score with its new layout into a new file, or several into a folder under their own names
    #[arg(long, value_name = "OUT", conflicts_with = "in_place")]
    write: Option<PathBuf>,
    /// Write the new layout into the score itself
    #[arg(long)]
    in_place: bool,
    /// Report as terminal, json or csv, to standard output or into a file; may be given several times
    #[arg(long, value_name = "FORMAT[=FILE]", default_value = "terminal")]
    report: Vec<String>,
}

/// A staff height on the command line.
#[derive(Debug, Clone, Copy, PartialEq)]
enum StaffArg {
    /// In millimetres.
    Millimetres(f64),
    /// The one that the reader wants.
    Ideal,
}

fn staff_height(text: &str) -> Result<StaffArg, String> {
    if text.trim() == "ideal" { Ok(StaffArg::Ideal) } else { millimetres(text).map(StaffArg::Millimetres) }
}

/// A length on the command line: more than nothing, less than any sheet.
fn millimetres(text: &str) -> Result<f64, String> {
    const MOST: f64 = 1000.0;
    let length: f64 = text.trim().trim_end_matches("mm").trim_end().parse().map_err(|_| "a number of millimetres is wanted".to_owned())?;
    if length > 0.0 && length <= MOST { Ok(length) } else { Err(format!("more than 0 and at most {MOST} mm")) }
}

#[derive(Debug, Args)]
struct CompareArgs {
    /// Rounds in their order: folders or files to audit, or JSON reports of audit; at least two
    #[arg(required = true, num_args = 2.., value_name = "ROUND")]
    rounds: Vec<PathBuf>,
    /// House style for what is audited on the spot, or built-in for none
    #[arg(long, value_name = "FILE")]
    house: Option<PathBuf>,
    /// Documents read at the same time, 256 at most [default: as many as there are processors]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=MOST_JOBS))]
    jobs: Option<u16>,
    /// Colour in reports for people
    #[arg(long, value_name = "WHEN", default_value = "auto")]
    color: When,
    /// Report as terminal, json or markdown, to standard output or into a file; may be given several times
    #[arg(long, value_name = "FORMAT[=FILE]", default_value = "terminal")]
    report: Vec<String>,
    /// From which level on what is new makes the exit code 1
    #[arg(long, value_name = "LEVEL", default_value = "error")]
    gate: GateArg,
}

/// What `explain --house` without a file means: the style found from here upwards.
const HOUSE_HERE: &str = ".";

#[derive(Debug, Args)]
struct ExplainArgs {
    /// The rule, by its name or a former name; without one all rules are listed
    #[arg(value_name = "RULE")]
    rule: Option<String>,
    /// With RULE, its numbers for this player or reader; alone, all that is known of the reader
    #[arg(long, value_name = "ROLE")]
    role: Option<String>,
    /// All players and readers, and what each needs
    #[arg(long, conflicts_with_all = ["rule", "role"])]
    roles: bool,
    /// All papers
    #[arg(long, conflicts_with_all = ["rule", "role", "roles"])]
    papers: bool,
    /// All values that a rule may read
    #[arg(long, conflicts_with_all = ["rule", "role", "roles", "papers"])]
    fields: bool,
    /// As the house has it: its file, or the one found from here upwards. Alone: every limit in force and where it comes
    /// from
    #[arg(long, value_name = "FILE", num_args = 0..=1, require_equals = true, default_missing_value = HOUSE_HERE)]
    house: Option<PathBuf>,
    /// Write as terminal or markdown, to standard output or into a file; may be given several times
    #[arg(long, value_name = "FORMAT[=FILE]", default_value = "terminal")]
    report: Vec<String>,
    /// Colour for people
    #[arg(long, value_name = "WHEN", default_value = "auto")]
    color: When,
}

#[derive(Debug, Args)]
struct InitArgs {
    /// Folder of the house style
    #[arg(value_name = "FOLDER", default_value = ".")]
    folder: PathBuf,
    /// Write the JSON Schema of house styles into a new file, and name it in the style
    #[arg(long, value_name = "FILE")]
    schema: Option<PathBuf>,
}

#[derive(Debug, Args)]
struct DrawArgs {
    /// The score
    #[arg(value_name = "SCORE")]
    path: PathBuf,
    /// The page, counted in the file from 1
    #[arg(long, value_name = "N", default_value = "1", value_parser = clap::value_parser!(u16).range(1..))]
    page: u16,
    /// New file, as .svg or .png [default: SVG to standard output]
    #[arg(long, value_name = "OUT")]
    out: Option<PathBuf>,
    /// House style, or built-in for none [default: stavegauge.toml, looked for from the file upwards]
    #[arg(long, value_name = "FILE")]
    house: Option<PathBuf>,
}

#[derive(Debug, Args)]
struct CompletionsArgs {
    /// The shell
    #[arg(value_name = "SHELL")]
    shell: Shell,
}

/// Runs the program with the arguments of the process.
pub fn run() -> ExitCode {
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(error) => {
            // Help and version go to standard output and are no failure; all else is wrong usage.
            let code = if error.use_stderr() { FAILED } else { CLEAN };
            // Nobody is left to be told if this cannot be written.
            let _ = error.print();
            return ExitCode::from(code);
        }
    };
    let done = work::begin(cli.command.jobs()).and_then(|()| match &cli.command {
        Command::Audit(args) => audit::run(args),
        Command::Measure(args) => measure::run(args),
        Command::Fit(args) => fit::run(args),
        Command::Castoff(args) => castoff::run(args),
        Command::Compare(args) => compare::run(args),
        Command::Explain(args) => explain::run(args),
        Command::Init(args) => init::run(args),
        Command::Draw(args) => draw::run(args),
        Command::Completions(args) => completions::run(args),
        Command::Manual => manual::run(),
    });
    match done {
        Ok(code) => ExitCode::from(code),
        Err(failure) => {
            let help = if failure.help.is_empty() { String::new() } else { format!("  {}\n", plain(&failure.help)) };
            // Where standard error is closed there is nobody to talk to.
            let _ = write!(std::io::stderr(), "stavegauge: {}\n{help}", plain(&failure.what));
            ExitCode::from(FAILED)
        }
    }
}
