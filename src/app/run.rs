//! From a command to an exit code.

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::CommandFactory as _;

use super::say::say;
use super::{
    export, figures, file_clock, gear, known, plan, rebuild, rehearse, replay, report, screen, start, terminal, walk,
};
use crate::cli::{Cli, Command, RehearseArgs, WalkArgs};

/// Runs a command: exit status 0 done, 1 failed (with the reason on standard error), 2 wrong usage.
pub fn run(cli: &Cli) -> ExitCode {
    match command(cli) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) if is_closed_pipe(&error) => ExitCode::SUCCESS,
        Err(error) if error.is::<WrongUsage>() => {
            let why: Vec<String> = error.chain().skip(1).map(ToString::to_string).collect();
            say(format!(
                "{}\n\nFor the words that may stand here, try --help.",
                why.join(": ")
            ));
            ExitCode::from(2)
        }
        Err(error) => {
            say(format!("{error:#}"));
            ExitCode::FAILURE
        }
    }
}

/// The words of the command line cannot be used: exit status 2.
#[derive(Debug)]
pub struct WrongUsage;

impl std::fmt::Display for WrongUsage {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.write_str("these words cannot be used")
    }
}

/// An error in the words of the command line.
pub fn wrong_usage(error: anyhow::Error) -> anyhow::Error {
    error.context(WrongUsage)
}

fn command(cli: &Cli) -> anyhow::Result<()> {
    match &cli.command {
        None => start::start(cli.surveys.as_deref(), terminal::theme(cli.theme)),
        Some(Command::Walk(args)) => kept(&walk(cli, args)?),
        Some(Command::Rehearse(args)) if args.scenario == "list" => rehearse::list(),
        Some(Command::Rehearse(args)) => kept(&rehearse(cli, args)?),
        Some(Command::Gear(args)) => gear::gear(args),
        Some(Command::Plan(args)) => plan::plan(args),
        Some(Command::Replay(args)) => replay::replay(&args.folders, args.speed, terminal::theme(cli.theme)),
        Some(Command::Rebuild(args)) => rebuild::rebuild(&args.folder),
        Some(Command::Figures(args)) => figures::figures(args),
        Some(Command::Report(args)) => report::report(args),
        Some(Command::Export(args)) => export::export(args),
        Some(Command::Completions { shell }) => {
            // Written whole, since the generator itself takes a closed pipe for a fault of its own.
            let mut script = Vec::new();
            clap_complete::generate(*shell, &mut Cli::command(), "farpace", &mut script);
            std::io::stdout().lock().write_all(&script)?;
            Ok(())
        }
    }
}

/// Says where a survey was kept.
#[expect(clippy::unnecessary_wraps, reason = "it ends a command")]
fn kept(folder: &Path) -> anyhow::Result<()> {
    say(format!("the survey is in {}", folder.display()));
    Ok(())
}

fn walk(cli: &Cli, args: &WalkArgs) -> anyhow::Result<PathBuf> {
    let plan = walk::plan(args, cli.surveys.as_deref()).map_err(wrong_usage)?;
    // Recordings share no clock with the person: they are read through, and looked at by `replay`.
    if args.no_screen || file_clock::applies(&plan.inputs) {
        let folder = walk::without_screen(&plan)?;
        known::learn_from(&folder);
        return Ok(folder);
    }
    terminal::must_be_there("use --no-screen to log without one")?;
    let known = known::load()?;
    let (running, warnings) = walk::with_screen(&plan)?;
    let folder = screen::field(running, terminal::theme(cli.theme), Some(known));
    for warning in warnings {
        say(&warning);
    }
    folder
}

fn rehearse(cli: &Cli, args: &RehearseArgs) -> anyhow::Result<PathBuf> {
    let plan = rehearse::plan(args, cli.surveys.as_deref()).map_err(wrong_usage)?;
    if args.no_screen {
        return rehearse::without_screen(&plan);
    }
    terminal::must_be_there("use --no-screen to rehearse without one")?;
    let (running, stage) = rehearse::begin(&plan)?;
    let folder = screen::field(running, terminal::theme(cli.theme), None);
    stage.strike()?;
    folder
}

/// A reader that has seen enough is no failure.
fn is_closed_pipe(error: &anyhow::Error) -> bool {
    let io = error.downcast_ref::<std::io::Error>();
    io.is_some_and(|io| io.kind() == std::io::ErrorKind::BrokenPipe)
}
