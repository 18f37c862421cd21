//! `farpace report`: a survey written up.

use super::bar::Bar;
use super::run::wrong_usage;
use super::say::say;
use super::{assume, subject};
use crate::cli::ReportArgs;
use crate::session::folder;
use crate::writeup::bundle;
use crate::writeup::subject::{Making, Privacy};

/// Writes the write-up of some surveys.
///
/// # Errors
/// When a folder is no survey, a file is there already, or the disk does not take one.
pub fn report(args: &ReportArgs) -> anyhow::Result<()> {
    if args.out.as_os_str() == "-" {
        return Err(wrong_usage(anyhow::anyhow!(
            "--out -: a write-up is several files, give a folder"
        )));
    }
    let privacy = Privacy {
        positions: args.private,
        words: args.no_words,
    };
    let wanted = assume::wanted(&args.assume).map_err(wrong_usage)?;
    let mut bar = Bar::new("reading, per cent", args.folders.len() * 100);
    let subjects = subject::read(&args.folders, privacy, &wanted, |done| bar.at((done * 100.0) as usize))?;
    bar.end();
    let making = Making {
        version: env!("CARGO_PKG_VERSION").to_owned(),
        privacy,
        assumed: wanted,
    };
    let mut bar: Option<Bar> = None;
    let files = bundle::write(&subjects, &making, |done, total| {
        bar.get_or_insert_with(|| Bar::new("drawing", total)).at(done);
    })?;
    if let Some(bar) = bar {
        bar.end();
    }
    if !args.force
        && let Some(there) = files
            .iter()
            .map(|file| args.out.join(&file.path))
            .find(|path| path.exists())
    {
        anyhow::bail!(
            "{} is there already: give another folder, or --force to write over it",
            there.display()
        );
    }
    for file in &files {
        let path = args.out.join(&file.path);
        if let Some(parent) = path.parent() {
            fs_err::create_dir_all(parent)?;
        }
        folder::write_whole(&path, &file.bytes)?;
    }
    say(format!("the write-up is {}", args.out.join("report.html").display()));
    Ok(())
}
