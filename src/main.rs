//! Parses the command line, runs the command, returns its exit code.

use std::process::ExitCode;

use clap::Parser as _;

fn main() -> ExitCode {
    farpace::app::run::run(&farpace::cli::Cli::parse())
}
