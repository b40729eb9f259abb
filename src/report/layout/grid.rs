//! Pictures of one kind in rows and columns, their names said once.

use kurbo::Rect;

use super::super::model::{Figure, FigureGrid, GridRow};
use super::super::numbers::ABSENT;
use super::flow::Flow;
use super::page::{Item, Node, Role};
use super::style::{BODY_STYLE, CELL_STYLE, MARGIN, STRONG_STYLE, Span, WHOLE, WIDTH};

/// Least and most width of the column of row names.
const NAMES_WIDTHS: (f64, f64) = (30.0, 80.0);
/// Highest picture of a grid, where it has few rows and where it has many.
const HIGHEST: f64 = 78.0;
const LOWEST: f64 = 56.0;
/// Height all rows share, within those limits.
const SHARED_HEIGHT: f64 = 198.0;
/// Space between two pictures.
const GAP: f64 = 6.0;

/// Height of one row's pictures.
fn row_height(grid: &FigureGrid) -> f64 {
    (SHARED_HEIGHT / grid.rows.len().max(1) as f64).clamp(LOWEST, HIGHEST)
}

/// Height of a grid down to its first row of pictures.
pub fn first_row_height(grid: &FigureGrid) -> f64 {
    let lead = BODY_STYLE.face.wrap(&grid.lead, BODY_STYLE.size, WIDTH);
    lead.len() as f64 * BODY_STYLE.line() + 2.0 + STRONG_STYLE.line() + 3.0 + row_height(grid) + GAP
}

impl<'a> Flow<'a> {
    /// A lead, the names of the columns, then row by row a name and its
    /// pictures.
    pub fn grid(&mut self, grid: &'a FigureGrid) {
        self.room_for(first_row_height(grid));
        let lead = self.lines(WHOLE, BODY_STYLE, &grid.lead);
        self.element(Role::Paragraph, lead);
        self.y += 2.0;
        let mut rows = vec![self.grid_head(grid)];
        for row in &grid.rows {
            self.room_for(row_height(grid) + GAP);
            rows.push(self.grid_row(grid, row));
        }
        self.element(Role::Table, rows);
    }

    fn grid_head(&mut self, grid: &FigureGrid) -> Node {
        let top = self.y;
        let corner = Node::Element {
            role: Role::ColumnHead,
            children: Vec::new(),
        };
        let mut cells = vec![corner];
        for (column, name) in grid.columns.iter().enumerate() {
            self.y = top;
            let style = STRONG_STYLE;
            let span = grid.column(column);
            let middle = span.middle(style.face.width(name, style.size));
            let text = self.lines(middle, style, name);
            cells.push(Node::Element {
                role: Role::ColumnHead,
                children: text,
            });
        }
        self.y = top + STRONG_STYLE.line() + 3.0;
        table_row(cells)
    }

    fn grid_row(&mut self, grid: &FigureGrid, row: &'a GridRow) -> Node {
        let (top, height) = (self.y, row_height(grid));
        let names = Span {
            left: MARGIN,
            width: grid.names_width() - GAP,
        };
        let mut cells = vec![Node::Element {
            role: Role::RowHead,
            children: self.lines(names, STRONG_STYLE, &row.name),
        }];
        for (column, figure) in row.figures.iter().enumerate() {
            self.y = top;
            let span = grid.column(column);
            let children = match figure {
                Some(figure) => vec![self.grid_picture(span, height, figure)],
                None => {
                    let width = CELL_STYLE.face.width(ABSENT, CELL_STYLE.size);
                    self.lines(span.middle(width), CELL_STYLE, ABSENT)
                }
            };
            cells.push(Node::Element {
                role: Role::Cell,
                children,
            });
        }
        self.y = top + height + GAP;
        table_row(cells)
    }

    fn grid_picture(&mut self, span: Span, height: f64, figure: &'a Figure) -> Node {
        let size = figure.drawing.size;
        let scale = (span.width / size.width).min(height / size.height);
        let size = size * scale;
        let origin = (span.middle(size.width).left, self.y);
        let picture = self.put(Item::Picture {
            rect: Rect::from_origin_size(origin, size),
            drawing: &figure.drawing,
        });
        Node::Element {
            role: Role::Figure(figure.alt.clone()),
            children: vec![picture],
        }
    }
}

fn table_row(cells: Vec<Node>) -> Node {
    Node::Element {
        role: Role::TableRow,
        children: cells,
    }
}

impl FigureGrid {
    /// Width of the column of row names: of their longest word.
    fn names_width(&self) -> f64 {
        let words = self.rows.iter().flat_map(|row| row.name.split_whitespace());
        let widths = words.map(|word| STRONG_STYLE.face.width(word, STRONG_STYLE.size));
        let (least, most) = NAMES_WIDTHS;
        (widths.fold(0.0, f64::max) + 0.5 + GAP).clamp(least, most)
    }

    /// Where a column of pictures stands on the page.
    fn column(&self, index: usize) -> Span {
        let names = self.names_width();
        let pitch = (WIDTH - names) / self.columns.len().max(1) as f64;
        Span {
            left: MARGIN + names + pitch * index as f64,
            width: pitch - GAP,
        }
    }
}
