//! Tables: how wide their columns are, how high their rows, and where each
//! cell stands.

use kurbo::{Point, Rect};

use super::super::drawing::Ink;
use super::super::font::Face;
use super::super::model::{Align, Table};
use super::flow::{Flow, caption_height};
use super::page::{Item, Node, Role};
use super::style::{BOTTOM, CAPTION_STYLE, CELL_PAD, CELL_STYLE, SMALL, STRONG_STYLE, Span, Style};

/// Space of a row beyond its lines.
const ROW_PAD: f64 = 1.6;

impl<'a> Flow<'a> {
    /// Sets a table, over as many pages as it needs.
    pub fn table(&mut self, span: Span, table: &'a Table) {
        let widths = column_widths(table, span.width);
        let mut rows = Vec::new();
        if !table.caption.is_empty() {
            let caption = self.lines(span, CAPTION_STYLE, &table.caption);
            rows.push(Node::Element {
                role: Role::Caption,
                children: caption,
            });
            self.y += 1.0;
        }
        let heads: Vec<&str> = table.columns.iter().map(|c| c.heading.as_str()).collect();
        rows.push(self.row(span, table, &widths, &heads, RowKind::Head));
        for row in &table.rows {
            let kind = if row.emphasis {
                RowKind::Strong
            } else {
                RowKind::Plain
            };
            let cells: Vec<&str> = row.cells.iter().map(String::as_str).collect();
            if self.y + row_height(table, &widths, &cells, kind) > BOTTOM {
                self.new_page();
                rows.push(self.row(span, table, &widths, &heads, RowKind::Head));
            }
            rows.push(self.row(span, table, &widths, &cells, kind));
        }
        self.element(Role::Table, rows);
    }

    fn row(
        &mut self,
        span: Span,
        table: &Table,
        widths: &[f64],
        cells: &[&str],
        kind: RowKind,
    ) -> Node {
        let height = row_height(table, widths, cells, kind);
        self.room_for(height);
        let (top, style) = (self.y, kind.style());
        if kind == RowKind::Strong {
            let rect = Rect::new(span.left, top, span.left + span.width, top + height);
            self.put(Item::Box {
                rect,
                ink: Ink::PaleGrey,
            });
            self.rule(span, top, 0.9, Ink::Black);
        }
        let mut x = span.left;
        let mut nodes = Vec::with_capacity(cells.len());
        for (i, (cell, width)) in cells.iter().zip(widths).enumerate() {
            let inner = width - 2.0 * CELL_PAD;
            let mut children = Vec::new();
            for (n, line) in style
                .face
                .wrap(cell, style.size, inner)
                .into_iter()
                .enumerate()
            {
                let shift = match table.columns[i].align {
                    Align::Left => 0.0,
                    Align::Right => inner - style.face.width(&line, style.size),
                };
                let baseline = top + 1.0 + style.line() * n as f64 + style.size;
                if !line.is_empty() {
                    let at = Point::new(x + CELL_PAD + shift, baseline);
                    children.push(self.text(at, style, line));
                }
            }
            let role = match (kind, i) {
                (RowKind::Head, _) => Role::ColumnHead,
                (_, 0) => Role::RowHead,
                _ => Role::Cell,
            };
            nodes.push(Node::Element { role, children });
            x += width;
        }
        self.y = top + height;
        match kind {
            RowKind::Plain => self.rule(span, self.y - 0.4, 0.4, Ink::PaleGrey),
            RowKind::Head | RowKind::Strong => self.rule(span, self.y - 0.9, 0.9, Ink::Black),
        }
        Node::Element {
            role: Role::TableRow,
            children: nodes,
        }
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum RowKind {
    Head,
    Plain,
    Strong,
}

impl RowKind {
    fn style(self) -> Style {
        match self {
            RowKind::Plain => CELL_STYLE,
            RowKind::Head | RowKind::Strong => STRONG_STYLE,
        }
    }
}

/// Height of a table set `width` wide.
pub fn height(table: &Table, width: f64) -> f64 {
    let widths = column_widths(table, width);
    let caption = if table.caption.is_empty() {
        0.0
    } else {
        caption_height(&table.caption, width)
    };
    let heads: Vec<&str> = table.columns.iter().map(|c| c.heading.as_str()).collect();
    let rows = table.rows.iter().map(|row| {
        let cells: Vec<&str> = row.cells.iter().map(String::as_str).collect();
        row_height(table, &widths, &cells, RowKind::Plain)
    });
    caption + row_height(table, &widths, &heads, RowKind::Head) + rows.sum::<f64>()
}

/// Whether no word and no number need be broken in a table `width` wide.
pub fn fits(table: &Table, width: f64) -> bool {
    least_widths(table).iter().sum::<f64>() <= width
}

/// How wide a table is whose cells each stand on one line.
pub fn unbroken_width(table: &Table) -> f64 {
    (0..table.columns.len()).map(|i| needs(table, i).0).sum()
}

fn row_height(table: &Table, widths: &[f64], cells: &[&str], kind: RowKind) -> f64 {
    let style = kind.style();
    let lines = cells
        .iter()
        .zip(widths)
        .take(table.columns.len())
        .map(|(cell, width)| {
            style
                .face
                .wrap(cell, style.size, width - 2.0 * CELL_PAD)
                .len()
        })
        .max()
        .unwrap_or(1);
    style.line() * lines as f64 + ROW_PAD
}

/// Widths of a column's cells: all of each, and its longest piece that should
/// not be broken (a word; a whole number in a column of numbers).
fn needs(table: &Table, column: usize) -> (f64, f64) {
    let (mut whole, mut piece) = (0.0_f64, 0.0_f64);
    let heading = (table.columns[column].heading.as_str(), Face::Bold, true);
    let cells = table.rows.iter().filter_map(|row| {
        let face = Face::bold_if(row.emphasis);
        Some((row.cells.get(column)?.as_str(), face, false))
    });
    for (text, face, is_heading) in std::iter::once(heading).chain(cells) {
        let width = face.width(text, SMALL);
        whole = whole.max(width);
        let is_number = table.columns[column].align == Align::Right
            && !is_heading
            && text.contains(|c: char| c.is_ascii_digit());
        let longest_word = if is_number {
            width
        } else {
            text.split_whitespace()
                .map(|word| face.width(word, SMALL))
                .fold(0.0, f64::max)
        };
        piece = piece.max(longest_word);
    }
    let pad = 2.0 * CELL_PAD + 0.5;
    (whole + pad, piece + pad)
}

fn least_widths(table: &Table) -> Vec<f64> {
    (0..table.columns.len())
        .map(|i| {
            let (whole, piece) = needs(table, i);
            // A column of names should not fall to one word a line.
            if i == 0 {
                piece.max(whole.min(70.0))
            } else {
                piece
            }
        })
        .collect()
}

/// Widths that fill `width`: each column gets its least, the column of names
/// then all it wants, the others a share of the rest by what they still want;
/// what is over is spread.
fn column_widths(table: &Table, width: f64) -> Vec<f64> {
    let mut least = least_widths(table);
    let wanted: Vec<f64> = (0..table.columns.len())
        .map(|i| needs(table, i).0.max(least[i]))
        .collect();
    let (least_sum, wanted_sum): (f64, f64) = (least.iter().sum(), wanted.iter().sum());
    if least_sum >= width {
        return least.iter().map(|w| w * width / least_sum).collect();
    }
    if table
        .columns
        .iter()
        .skip(1)
        .all(|c| c.align == Align::Right)
    {
        least[0] = wanted[0].min(least[0] + width - least_sum);
    }
    let least_sum: f64 = least.iter().sum();
    let spread = wanted_sum - least_sum;
    let share = if spread > 0.0 {
        ((width - least_sum) / spread).min(1.0)
    } else {
        0.0
    };
    let mut widths: Vec<f64> = least
        .iter()
        .zip(&wanted)
        .map(|(least, wanted)| least + (wanted - least) * share)
        .collect();
    let over = width - widths.iter().sum::<f64>();
    let numbers = table
        .columns
        .iter()
        .filter(|c| c.align == Align::Right)
        .count();
    if numbers > 0 {
        // Numbers stay in reach of their names on a wide page.
        let each = over / (numbers as f64 + 1.0);
        for (width, column) in widths.iter_mut().zip(&table.columns) {
            if column.align == Align::Right {
                *width += each;
            }
        }
        widths[0] += each;
    } else if let Some(last) = widths.last_mut() {
        *last += over;
    }
    widths
}
