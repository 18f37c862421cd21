//! A write-up as one HTML page: no network, no scripts, light and dark, made to be printed too.

use askama::Template;

use super::document::{Block, Document};
use super::svg::style::STYLE;

#[derive(Template)]
#[template(path = "page.html", config = "src/writeup/templates/askama.toml")]
struct Page<'a> {
    document: &'a Document,
    style: &'static str,
    figure_style: &'static str,
}

/// Writes the page; its template escapes every text, the drawings escape theirs.
///
/// # Errors
/// When the template fails, which it has no reason to.
pub fn write(document: &Document) -> Result<String, askama::Error> {
    Page {
        document,
        style: include_str!("templates/page.css"),
        figure_style: STYLE,
    }
    .render()
}
