//! A whole write-up as files: page, Markdown, figures, tables.

use super::compose::whole;
use super::document::Document;
use super::subject::{Making, Subject};
use super::svg::raster::{NoPng, png};
use super::{html, markdown, tables};

/// A file of a write-up.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct File {
    /// Where it goes, with slashes, below the folder asked for.
    pub path: String,
    /// What is in it.
    pub bytes: Vec<u8>,
}

/// Why a write-up cannot be made.
#[derive(Debug, thiserror::Error)]
pub enum NoWriteUp {
    /// The page could not be put together.
    #[error("the page cannot be put together: {0}")]
    Page(#[from] askama::Error),
    /// A figure could not be drawn as PNG.
    #[error("figure {name}: {cause}")]
    Figure {
        /// Which.
        name: String,
        /// What is wrong.
        cause: NoPng,
    },
    /// A table could not be written.
    #[error("table {name}: {cause}")]
    Table {
        /// Which.
        name: String,
        /// What is wrong.
        cause: csv::Error,
    },
}

/// Makes every file of a write-up; `step` is told how many of how many are done.
///
/// # Errors
/// When a part cannot be made.
pub fn write(
    subjects: &[Subject],
    making: &Making,
    mut step: impl FnMut(usize, usize),
) -> Result<Vec<File>, NoWriteUp> {
    let document: Document = whole::document(subjects, making);
    let total = 2 + document.figures.len() + document.tables.len();
    let mut files = vec![
        File {
            path: "report.html".to_owned(),
            bytes: html::write(&document)?.into_bytes(),
        },
        File {
            path: "report.md".to_owned(),
            bytes: markdown::write(&document).into_bytes(),
        },
    ];
    step(files.len(), total);
    for (index, figure) in document.figures.iter().enumerate() {
        let picture = png(&figure.file).map_err(|cause| NoWriteUp::Figure {
            name: figure.name.clone(),
            cause,
        })?;
        files.push(File {
            path: format!("figures/{}.svg", figure.name),
            bytes: figure.file.clone().into_bytes(),
        });
        files.push(File {
            path: format!("figures/{}.png", figure.name),
            bytes: picture,
        });
        step(3 + index, total);
    }
    for table in &document.tables {
        let bytes = tables::csv(table).map_err(|cause| NoWriteUp::Table {
            name: table.name.clone(),
            cause,
        })?;
        files.push(File {
            path: format!("tables/{}.csv", table.name),
            bytes,
        });
    }
    step(total, total);
    Ok(files)
}
