//! The record as a neutral document: what is said, in which order; how it is
//! set is for [`super::html`] and [`super::pdf`].

use super::drawing::Drawing;

/// A whole record.
#[derive(Clone, Debug)]
pub struct Report {
    pub title: String,
    /// One line under the title: tooth and canals.
    pub subtitle: String,
    /// What identifies the record: name and value.
    pub facts: Vec<(String, String)>,
    pub sections: Vec<Section>,
    /// Repeated at the foot of every page.
    pub footer: String,
}

/// A headed part of a record.
#[derive(Clone, Debug)]
pub struct Section {
    pub heading: String,
    pub blocks: Vec<Block>,
}

/// One piece of a section.
#[derive(Clone, Debug)]
pub enum Block {
    Paragraph(String),
    Bullets(Vec<String>),
    /// Set apart by a rule: what must not be missed.
    Alert(Vec<String>),
    Table(Table),
    /// Pictures of one kind in rows and columns.
    Grid(FigureGrid),
    /// A table with figures under each other next to it where there is room.
    TableBeside {
        table: Table,
        figures: Vec<Figure>,
    },
    /// What is looked up rather than read.
    SmallPrint(Vec<String>),
    /// A figure with a table, and what is to be noted, next to it where the
    /// page is wide enough.
    FigureBeside {
        figure: Figure,
        table: Table,
        notes: Vec<String>,
    },
    /// The same with a larger figure: what the page is about.
    TallFigureBeside {
        figure: Figure,
        table: Table,
    },
}

/// A table whose first column names the rows.
#[derive(Clone, Debug)]
pub struct Table {
    pub caption: String,
    pub columns: Vec<Column>,
    pub rows: Vec<Row>,
}

/// One column.
#[derive(Clone, Debug)]
pub struct Column {
    pub heading: String,
    pub align: Align,
}

/// One row of a table.
#[derive(Clone, Debug)]
pub struct Row {
    pub cells: Vec<String>,
    pub emphasis: bool,
}

/// How the cells of a column stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Align {
    Left,
    Right,
}

/// Pictures of one kind in rows and columns, under a line that says what they
/// show.
#[derive(Clone, Debug)]
pub struct FigureGrid {
    pub lead: String,
    /// Names of the columns.
    pub columns: Vec<String>,
    pub rows: Vec<GridRow>,
}

/// One row of a grid: one figure per column, without caption, or none.
#[derive(Clone, Debug)]
pub struct GridRow {
    pub name: String,
    pub figures: Vec<Option<Figure>>,
}

/// A picture with its caption.
#[derive(Clone, Debug)]
pub struct Figure {
    pub drawing: Drawing,
    pub caption: String,
    /// What it shows, for readers who do not see it.
    pub alt: String,
}

impl Table {
    /// An empty table with a left column of names and right-aligned others.
    pub fn of_quantities(
        caption: impl Into<String>,
        first: &str,
        others: impl IntoIterator<Item = String>,
    ) -> Self {
        let mut columns = vec![Column {
            heading: first.to_owned(),
            align: Align::Left,
        }];
        columns.extend(others.into_iter().map(|heading| Column {
            heading,
            align: Align::Right,
        }));
        Self {
            caption: caption.into(),
            columns,
            rows: Vec::new(),
        }
    }

    /// An empty table of text columns.
    pub fn of_text(caption: impl Into<String>, headings: &[&str]) -> Self {
        Self {
            caption: caption.into(),
            columns: headings
                .iter()
                .map(|&heading| Column {
                    heading: heading.to_owned(),
                    align: Align::Left,
                })
                .collect(),
            rows: Vec::new(),
        }
    }

    /// Adds a row.
    pub fn row(&mut self, cells: Vec<String>) {
        self.rows.push(Row {
            cells,
            emphasis: false,
        });
    }

    /// Adds a row that stands out.
    pub fn strong_row(&mut self, cells: Vec<String>) {
        self.rows.push(Row {
            cells,
            emphasis: true,
        });
    }
}
