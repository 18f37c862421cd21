//! A write-up as Markdown: the same sections, figures as files beside it.

use std::fmt::Write as _;

use super::document::{Block, Document, ReadTable};
use super::text::markdown;

/// Writes it.
pub fn write(document: &Document) -> String {
    let mut out = format!("# {}\n", markdown(&document.title));
    if !document.subtitle.is_empty() {
        let _ = writeln!(out, "\n{}", markdown(&document.subtitle));
    }
    for section in &document.sections {
        let level = if section.sub { "###" } else { "##" };
        let _ = writeln!(out, "\n{level} {}", markdown(&section.title));
        for block in &section.blocks {
            out.push('\n');
            push(&mut out, document, block);
        }
    }
    let _ = writeln!(out, "\n---\n\n{}", markdown(&document.colophon));
    out
}

fn push(out: &mut String, document: &Document, block: &Block) {
    match block {
        Block::Lead(text) => drop(writeln!(out, "**{}**", markdown(text.trim()))),
        Block::Text(text) => drop(writeln!(out, "{}", markdown(text.trim()))),
        Block::Caution(text) => drop(writeln!(out, "> {}", markdown(text.trim()))),
        Block::List(items) => {
            for item in items {
                let _ = writeln!(out, "- {}", markdown(item.trim()));
            }
        }
        Block::Facts(facts) => {
            for (name, text) in facts {
                let _ = writeln!(out, "- **{}**: {}", markdown(name.trim()), markdown(text.trim()));
            }
        }
        Block::Table(read) => table(out, read),
        Block::Figure(index) => {
            if let Some(figure) = document.figures.get(*index) {
                let _ = writeln!(out, "![{}](figures/{}.svg)\n", markdown(&figure.alt), figure.name);
                let _ = writeln!(out, "*{}.* {}", markdown(&figure.title), markdown(&figure.caption));
            }
        }
        Block::Command(text) => {
            // Indented code cannot be ended by anything within it; its lines were made visible before.
            let _ = writeln!(out, "    {text}");
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
    let _ = writeln!(out, "\n{}", markdown(&table.caption));
}
