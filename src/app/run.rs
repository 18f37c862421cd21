//! From a command to an exit code.

use std::io::Write as _;
use std::process::ExitCode;

use clap::CommandFactory as _;

use super::{figures, rebuild, rehearse, walk};
use crate::cli::{Cli, Command};

/// Runs a command: exit status 0 done, 1 failed (with the reason on standard error).
pub fn run(cli: &Cli) -> ExitCode {
    match command(cli) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) if is_closed_pipe(&error) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("farpace: {error:#}");
            ExitCode::FAILURE
        }
    }
}

fn command(cli: &Cli) -> anyhow::Result<()> {
    match &cli.command {
        Some(Command::Walk(args)) => {
            let plan = walk::plan(args, cli.surveys.as_deref())?;
            let folder = walk::without_screen(&plan)?;
            eprintln!("farpace: the survey is in {}", folder.display());
            Ok(())
        }
        Some(Command::Rehearse(args)) => {
            let plan = rehearse::plan(args, cli.surveys.as_deref())?;
            let folder = rehearse::without_screen(&plan)?;
            eprintln!("farpace: the survey is in {}", folder.display());
            Ok(())
        }
        Some(Command::Figures(args)) => figures::figures(args),
        Some(Command::Rebuild(args)) => rebuild::rebuild(&args.folder),
        Some(Command::Completions { shell }) => {
            // Written whole, since the generator itself takes a closed pipe for a fault of its own.
            let mut script = Vec::new();
            clap_complete::generate(*shell, &mut Cli::command(), "farpace", &mut script);
            std::io::stdout().lock().write_all(&script)?;
            Ok(())
        }
        _ => anyhow::bail!("not yet"),
    }
}

/// A reader that has seen enough is no failure.
fn is_closed_pipe(error: &anyhow::Error) -> bool {
    let io = error.downcast_ref::<std::io::Error>();
    io.is_some_and(|io| io.kind() == std::io::ErrorKind::BrokenPipe)
}
