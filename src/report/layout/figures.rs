//! Figures in rows, and figures and tables beside each other.

use kurbo::Rect;

use super::super::model::{Figure, Table};
use super::flow::{Flow, bullet_height, caption_height};
use super::page::{Item, Role};
use super::style::{BOTTOM, CAPTION_STYLE, GUTTER, MARGIN, Span, TOP, WHOLE, WIDTH};
use super::table;

/// Width of a table with figures next to it.
const TABLE_WIDTH: f64 = WIDTH * 0.6;
/// What it leaves to them.
const BESIDE_TABLE: f64 = WIDTH - TABLE_WIDTH - GUTTER;
/// Narrowest column for the caption of a figure with a table next to it.
const FIGURE_COLUMN_LEAST: f64 = WIDTH * 0.34;

/// Highest and widest figure with a table next to it.
#[derive(Clone, Copy, Debug)]
pub struct FigureSize {
    height: f64,
    width: f64,
}

impl FigureSize {
    /// Beside a record's card.
    pub const USUAL: Self = Self {
        height: 240.0,
        width: WIDTH * 0.43,
    };
    /// What the sheet is about.
    pub const TALL: Self = Self {
        height: 300.0,
        width: WIDTH * 0.5,
    };
}

/// The column of a figure with a table next to it: as wide as the figure, and
/// narrower where the table would have to break its lines.
fn figure_column(figure: &Figure, most: FigureSize, table: &Table) -> Span {
    let size = figure.drawing.size;
    let width = most.height / size.height * size.width;
    let left_over = WIDTH - GUTTER - table::unbroken_width(table);
    let widest = left_over.clamp(FIGURE_COLUMN_LEAST, most.width);
    Span {
        left: MARGIN,
        width: width.clamp(FIGURE_COLUMN_LEAST, widest),
    }
}

impl<'a> Flow<'a> {
    /// A figure and its caption.
    fn figure(&mut self, span: Span, height: f64, figure: &'a Figure) {
        self.picture(span, height, figure);
        self.caption(span, figure);
    }

    fn picture(&mut self, span: Span, height: f64, figure: &'a Figure) {
        let size = figure.drawing.size;
        let scale = (span.width / size.width).min(height / size.height);
        let (w, h) = (size.width * scale, size.height * scale);
        let rect = Rect::new(span.left, self.y, span.left + w, self.y + h);
        let picture = self.put(Item::Picture {
            rect,
            drawing: &figure.drawing,
        });
        self.y += h + 2.0;
        self.element(Role::Figure(figure.alt.clone()), vec![picture]);
    }

    fn caption(&mut self, span: Span, figure: &Figure) {
        let caption = self.lines(span, CAPTION_STYLE, &figure.caption);
        self.element(Role::Paragraph, caption);
    }

    /// Figures beside each other, at most four.
    fn figures_in_row(&mut self, figures: &'a [Figure]) {
        let spans = WHOLE.split(figures.len().max(2));
        let heights = figures
            .iter()
            .zip(&spans)
            .map(|(figure, span)| height(figure, span.width, f64::INFINITY));
        let tallest = heights.fold(0.0, f64::max);
        self.room_for(tallest);
        let top = self.y;
        for (figure, span) in figures.iter().zip(spans) {
            self.y = top;
            self.figure(span, f64::INFINITY, figure);
        }
        self.y = top + tallest;
    }

    /// A figure with a table and what is to be noted next to it; below it where
    /// the table is too wide. The caption stands in the figure's column where
    /// it fits there, else below all.
    pub fn figure_beside(
        &mut self,
        figure: &'a Figure,
        most: FigureSize,
        table: &'a Table,
        notes: &[String],
    ) {
        self.room_for(beside_height(figure, most, table));
        let (page, top) = (self.page(), self.y);
        let column = figure_column(figure, most, table);
        let right = Span {
            left: MARGIN + column.width + GUTTER,
            width: WIDTH - column.width - GUTTER,
        };
        if !table::fits(table, right.width) {
            self.figure(column, most.height, figure);
            self.y += 4.0;
            self.table(WHOLE, table);
            self.y += 4.0;
            self.bullets(WHOLE, notes);
            return;
        }
        self.picture(column, most.height, figure);
        let after_picture = self.y;
        let notes_height: f64 = notes.iter().map(|n| bullet_height(n, right.width)).sum();
        let beside = table::height(table, right.width) + notes_height;
        let in_column = caption_height(&figure.caption, column.width);
        let fits_in_column = after_picture + in_column <= top + beside;
        if fits_in_column {
            self.caption(column, figure);
        }
        self.y = top;
        self.table(right, table);
        self.y += 4.0;
        self.bullets(right, notes);
        if self.page() == page {
            self.y = self.y.max(after_picture);
        }
        if !fits_in_column {
            self.caption(WHOLE, figure);
        }
        self.y += 3.0;
    }

    /// A table with figures under each other next to it; below it where there
    /// is no room.
    pub fn table_beside(&mut self, table: &'a Table, figures: &'a [Figure]) {
        let left = Span {
            left: MARGIN,
            width: TABLE_WIDTH,
        };
        let right = Span {
            left: MARGIN + left.width + GUTTER,
            width: BESIDE_TABLE,
        };
        let tallest = table_beside_height(table, figures);
        if !table::fits(table, left.width) || TOP + tallest > BOTTOM {
            self.table(WHOLE, table);
            self.y += 6.0;
            for row in figures.chunks(4) {
                self.figures_in_row(row);
            }
            self.y += 6.0;
            return;
        }
        self.room_for(tallest);
        let top = self.y;
        self.table(left, table);
        let after_table = self.y;
        self.y = top;
        for figure in figures {
            self.figure(right, f64::INFINITY, figure);
        }
        self.y = self.y.max(after_table) + 6.0;
    }
}

/// Height of a figure with a table next to it, with its caption.
pub fn beside_height(figure: &Figure, most: FigureSize, table: &Table) -> f64 {
    height(
        figure,
        figure_column(figure, most, table).width,
        most.height,
    )
}

/// Height of a table with figures under each other next to it.
pub fn table_beside_height(table: &Table, figures: &[Figure]) -> f64 {
    let stacked: f64 = figures
        .iter()
        .map(|figure| height(figure, BESIDE_TABLE, f64::INFINITY))
        .sum();
    stacked.max(table::height(table, TABLE_WIDTH))
}

/// Height of a figure with its caption in a column.
fn height(figure: &Figure, width: f64, at_most: f64) -> f64 {
    let size = figure.drawing.size;
    let picture = (width / size.width * size.height).min(at_most);
    picture + caption_height(&figure.caption, width)
}
