//! From a command to an exit code.

use std::process::ExitCode;

use clap::CommandFactory as _;

use super::{figures, file_clock, known, rebuild, rehearse, replay, screen, terminal, walk};
use crate::cli::{Cli, Command};
use crate::findings::curves::Known;

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
            // Recordings share no clock with the person: they are read through, and looked at by `replay`.
            let recordings = file_clock::applies(&plan.inputs);
            if !args.no_screen && !recordings {
                terminal::must_be_there("use --no-screen to log without one")?;
            }
            let folder = if args.no_screen || recordings {
                walk::without_screen(plan)?
            } else {
                let known = known::load()?;
                let (running, warnings) = walk::with_screen(&plan)?;
                let folder = screen::field(running, terminal::theme(cli.theme), known);
                for warning in warnings {
                    eprintln!("farpace: {warning}");
                }
                folder?
            };
            eprintln!("farpace: the survey is in {}", folder.display());
            Ok(())
        }
        Some(Command::Rehearse(args)) => {
            if !args.no_screen {
                terminal::must_be_there("use --no-screen to rehearse without one")?;
            }
            let plan = rehearse::plan(args, cli.surveys.as_deref())?;
            let folder = if args.no_screen {
                rehearse::without_screen(&plan)?
            } else {
                let (running, stage) = rehearse::begin(&plan)?;
                let folder = screen::field(running, terminal::theme(cli.theme), Known::default());
                stage.strike()?;
                folder?
            };
            eprintln!("farpace: the survey is in {}", folder.display());
            Ok(())
        }
        Some(Command::Replay(args)) => replay::replay(&args.folder, args.speed, terminal::theme(cli.theme)),
        Some(Command::Figures(args)) => figures::figures(args),
        Some(Command::Rebuild(args)) => rebuild::rebuild(&args.folder),
        Some(Command::Completions { shell }) => {
            clap_complete::generate(*shell, &mut Cli::command(), "farpace", &mut std::io::stdout());
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
