//! A write-up before it takes a form: sections of blocks, figures and tables, from which page and Markdown are made alike.

use super::text::clean;

/// A write-up.
#[derive(Clone, Debug, Default)]
pub struct Document {
    /// What it is about.
    pub title: String,
    /// When and where, in a line.
    pub subtitle: String,
    /// Its sections, in order.
    pub sections: Vec<Section>,
    /// The figures that blocks name by their place here.
    pub figures: Vec<Figure>,
    /// The tables that go into files of their own.
    pub tables: Vec<DataTable>,
    /// What the last line says: program and version.
    pub colophon: String,
}

/// A section.
#[derive(Clone, Debug, Default)]
pub struct Section {
    /// Names it within the page; letters, digits and dashes, made by us.
    pub id: String,
    /// Its heading.
    pub title: String,
    /// Whether it stands under the section before that is not.
    pub sub: bool,
    /// What is in it.
    pub blocks: Vec<Block>,
}

/// A part of a section.
#[derive(Clone, Debug)]
pub enum Block {
    /// The sentence that answers.
    Lead(String),
    /// A paragraph.
    Text(String),
    /// Something to be careful about.
    Caution(String),
    /// A list.
    List(Vec<String>),
    /// Pairs of a name and what it is.
    Facts(Vec<(String, String)>),
    /// A table to read.
    Table(ReadTable),
    /// A figure, by its place in [`Document::figures`].
    Figure(usize),
    /// Something to type.
    Command(String),
}

/// A table to read.
#[derive(Clone, Debug, Default)]
pub struct ReadTable {
    /// What it shows.
    pub caption: String,
    /// Its columns: heading, and whether they hold numbers.
    pub head: Vec<(String, bool)>,
    /// Its rows.
    pub rows: Vec<Vec<String>>,
}

/// A figure.
#[derive(Clone, Debug, Default)]
pub struct Figure {
    /// Names its files; letters, digits and dashes, made by us.
    pub name: String,
    /// Its title.
    pub title: String,
    /// What it shows, with numbers, for who cannot see it.
    pub alt: String,
    /// How to read it.
    pub caption: String,
    /// The drawing as it stands within a page: an `svg` element without style.
    pub inline: String,
    /// The drawing as a file.
    pub file: String,
}

/// A table as a file: plain numbers with the unit in the column's name.
#[derive(Clone, Debug, Default)]
pub struct DataTable {
    /// Names its file.
    pub name: String,
    /// Its columns.
    pub head: Vec<&'static str>,
    /// Its rows.
    pub rows: Vec<Vec<Cell>>,
}

/// A cell of a [`DataTable`].
#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    /// Words, guarded against formulas when written.
    Text(String),
    /// A number already written out, or nothing.
    Number(String),
}

impl Document {
    /// Adds a figure, and says how blocks name it.
    pub fn add_figure(&mut self, figure: Figure) -> Block {
        self.figures.push(figure);
        Block::Figure(self.figures.len() - 1)
    }

    /// Makes every text visible, once, so that no form has to.
    pub fn cleaned(mut self) -> Self {
        wash(&mut self.title);
        wash(&mut self.subtitle);
        wash(&mut self.colophon);
        for section in &mut self.sections {
            wash(&mut section.title);
            section.blocks.iter_mut().for_each(Block::wash);
        }
        for figure in &mut self.figures {
            wash(&mut figure.title);
            wash(&mut figure.alt);
            wash(&mut figure.caption);
        }
        self
    }
}

impl Block {
    fn wash(&mut self) {
        match self {
            Self::Lead(text) | Self::Text(text) | Self::Caution(text) | Self::Command(text) => wash(text),
            Self::List(texts) => texts.iter_mut().for_each(wash),
            Self::Facts(pairs) => pairs.iter_mut().for_each(|(name, text)| {
                wash(name);
                wash(text);
            }),
            Self::Table(table) => {
                wash(&mut table.caption);
                table.head.iter_mut().for_each(|(name, _)| wash(name));
                table.rows.iter_mut().flatten().for_each(wash);
            }
            Self::Figure(_) => {}
        }
    }
}

fn wash(text: &mut String) {
    if let std::borrow::Cow::Owned(washed) = clean(text) {
        *text = washed;
    }
}
