//! `farpace export`: a survey for other programs.

use std::io::Write as _;

use super::bar::Bar;
use super::run::wrong_usage;
use super::say::say;
use super::{assume, subject};
use crate::cli::{ExportArgs, ExportForm};
use crate::session::folder;
use crate::writeup::export::{csv, geojson, gpx, kml};
use crate::writeup::private::Teller;
use crate::writeup::subject::Privacy;

/// Writes a survey in the form asked for.
///
/// # Errors
/// When the folder is no survey, the form cannot hold what is asked for, the file is there already, or the disk does not
/// take it.
pub fn export(args: &ExportArgs) -> anyhow::Result<()> {
    let privacy = Privacy {
        positions: args.private,
        words: args.no_words,
    };
    if args.private && !matches!(args.form, ExportForm::Geojson | ExportForm::Csv) {
        return Err(wrong_usage(anyhow::anyhow!(
            "this form has no place for metres instead of coordinates: with --private take --as csv or --as geojson"
        )));
    }
    let printed = args.out.as_os_str() == "-";
    if !printed {
        anyhow::ensure!(
            args.force || !args.out.exists(),
            "{} is there already: give another file, or --force to write over it",
            args.out.display()
        );
        let folder = args.out.parent().filter(|folder| !folder.as_os_str().is_empty());
        if let Some(folder) = folder.filter(|folder| !folder.is_dir()) {
            anyhow::bail!(
                "there is no folder {}: make it first, or give another file",
                folder.display()
            );
        }
    }
    let wanted = assume::wanted(&args.assume).map_err(wrong_usage)?;
    let mut bar = Bar::new("reading, per cent", 100);
    let subjects = subject::read(std::slice::from_ref(&args.folder), privacy, &wanted, |done| {
        bar.at((done * 100.0) as usize);
    })?;
    bar.end();
    for subject in &subjects {
        let teller = Teller::new(&subject.setup, privacy);
        if args.private && subject.setup.station.position.is_none() {
            say("the station's position is not known, so there is nothing to count metres from: places stay empty");
        }
        let bytes = match args.form {
            ExportForm::Geojson => geojson::write(subject, &teller),
            ExportForm::Gpx => gpx::write(subject, &teller)?,
            ExportForm::Kml => kml::write(subject, &teller)?,
            ExportForm::Csv => csv::write(subject, &teller)?,
        };
        if printed {
            std::io::stdout().lock().write_all(&bytes)?;
        } else {
            folder::write_whole(&args.out, &bytes)?;
        }
    }
    Ok(())
}
