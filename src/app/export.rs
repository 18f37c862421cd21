//! `farpace export`: a survey for other programs.

use super::bar::Bar;
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
    anyhow::ensure!(
        !args.private || matches!(args.form, ExportForm::Geojson | ExportForm::Csv),
        "this form has no place for metres instead of coordinates: with --private take --as csv or --as geojson"
    );
    anyhow::ensure!(
        args.force || !args.out.exists(),
        "{} is there already: give another file, or --force to write over it",
        args.out.display()
    );
    let wanted = assume::wanted(&args.assume)?;
    let mut bar = Bar::new("reading, per cent", 100);
    let subjects = subject::read(std::slice::from_ref(&args.folder), privacy, &wanted, |done| {
        bar.at((done * 100.0) as usize);
    })?;
    bar.end();
    for subject in &subjects {
        let teller = Teller::new(&subject.setup, privacy);
        if args.private && subject.setup.station.position.is_none() {
            eprintln!(
                "farpace: the station's position is not known, so there is nothing to count metres from: places stay empty"
            );
        }
        let bytes = match args.form {
            ExportForm::Geojson => geojson::write(subject, &teller),
            ExportForm::Gpx => gpx::write(subject, &teller)?,
            ExportForm::Kml => kml::write(subject, &teller)?,
            ExportForm::Csv => csv::write(subject, &teller)?,
        };
        folder::write_whole(&args.out, &bytes)?;
    }
    Ok(())
}
