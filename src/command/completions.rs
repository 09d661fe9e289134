//! `stavegauge completions`: what a shell offers when the tabulator key is pressed.

use super::style::InForce;
use super::{CLEAN, Cli, CompletionsArgs, Failure, output};
use crate::rule::Examples;
use clap::builder::{PossibleValue, PossibleValuesParser};
use clap::{Arg, CommandFactory};

pub(super) fn run(args: &CompletionsArgs) -> Result<u8, Failure> {
    let InForce { house, rules, .. } = InForce::built_in(Examples::PassedOver)?;
    let rules: Vec<PossibleValue> = rules.rules().map(|rule| PossibleValue::new(rule.id.to_string()).help(rule.title.clone())).collect();
    let roles: Vec<PossibleValue> =
        house.roles.all().iter().map(|role| PossibleValue::new(role.name.clone()).help(role.title.clone())).collect();
    let papers: Vec<PossibleValue> = house
        .papers
        .all()
        .iter()
        // Shells part a list of words at spaces.
        .filter(|paper| !paper.name.contains(' '))
        .map(|paper| PossibleValue::new(paper.name.clone()))
        .collect();
    // Names are offered here only: what is typed is checked by whoever answers with the nearest name.
    let offer = |argument: Arg| {
        let names = match argument.get_value_names().and_then(|names| names.first()).map(clap::builder::Str::as_str) {
            Some("RULE") => &rules,
            Some("ROLE") => &roles,
            Some("PAPER") => &papers,
            _ => return argument,
        };
        argument.value_parser(PossibleValuesParser::new(names.clone()))
    };
    let mut command = Cli::command().mut_subcommands(|command| command.mut_args(offer));
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut command, "stavegauge", &mut script);
    output::write(&String::from_utf8_lossy(&script), None)?;
    Ok(CLEAN)
}
