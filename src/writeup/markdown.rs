//! A write-up as Markdown: the same sections, figures as files beside it.

use super::document::{Block, Document, ReadTable};
use super::text::markdown;

/// Writes it.
pub fn write(document: &Document) -> String {
    let mut out = format!("# {}\n", markdown(&document.title));
    if !document.subtitle.is_empty() {
        out.push_str(&format!("\n{}\n", markdown(&document.subtitle)));
    }
    for section in &document.sections {
        let level = if section.sub { "###" } else { "##" };
        out.push_str(&format!("\n{level} {}\n", markdown(&section.title)));
        for block in &section.blocks {
            out.push('\n');
            push(&mut out, document, block);
        }
    }
    out.push_str(&format!("\n---\n\n{}\n", markdown(&document.colophon)));
    out
}

fn push(out: &mut String, document: &Document, block: &Block) {
    match block {
        Block::Lead(text) => out.push_str(&format!("**{}**\n", markdown(text.trim()))),
        Block::Text(text) => out.push_str(&format!("{}\n", markdown(text.trim()))),
        Block::Caution(text) => out.push_str(&format!("> {}\n", markdown(text.trim()))),
        Block::List(items) => items
            .iter()
            .for_each(|item| out.push_str(&format!("- {}\n", markdown(item.trim())))),
        Block::Facts(facts) => facts.iter().for_each(|(name, text)| {
            out.push_str(&format!("- **{}**: {}\n", markdown(name.trim()), markdown(text.trim())));
        }),
        Block::Table(read) => table(out, read),
        Block::Figure(index) => {
            if let Some(figure) = document.figures.get(*index) {
                out.push_str(&format!(
                    "![{}](figures/{}.svg)\n\n",
                    markdown(&figure.alt),
                    figure.name
                ));
                out.push_str(&format!(
                    "*{}.* {}\n",
                    markdown(&figure.title),
                    markdown(&figure.caption)
                ));
            }
        }
        Block::Command(text) => {
            // Indented code cannot be ended by anything within it; its lines were made visible before.
            out.push_str(&format!("    {text}\n"));
        }
    }
}

fn table(out: &mut String, table: &ReadTable) {
    let row = |cells: &mut dyn Iterator<Item = String>| {
        let cells: Vec<String> = cells.collect();
        format!("| {} |\n", cells.join(" | "))
    };
    out.push_str(&row(&mut table.head.iter().map(|(name, _)| markdown(name))));
    out.push_str(&row(&mut table
        .head
        .iter()
        .map(|(_, numeric)| if *numeric { "---:" } else { "---" }.to_owned())));
    for cells in &table.rows {
        out.push_str(&row(&mut cells.iter().map(|cell| markdown(cell))));
    }
    out.push_str(&format!("\n{}\n", markdown(&table.caption)));
}
