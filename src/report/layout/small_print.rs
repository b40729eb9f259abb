//! Small print: what is looked up rather than read, in columns of about one
//! height.

use super::style::{GUTTER, MARGIN, SMALL_STYLE, Span, WIDTH};
use super::{Flow, Node, Role, caption_height};

/// Columns of small print.
const COLUMNS: usize = 3;
const COLUMN_WIDTH: f64 = (WIDTH - GUTTER * (COLUMNS as f64 - 1.0)) / COLUMNS as f64;

/// Height of small print in one column.
fn column_height(items: &[String]) -> f64 {
    let heights = items.iter();
    heights.map(|item| caption_height(item, COLUMN_WIDTH)).sum()
}

/// Small print split so that each column takes its share of what is left.
fn columns(items: &[String]) -> Vec<&[String]> {
    let mut columns = Vec::with_capacity(COLUMNS);
    let mut rest = items;
    for left in (1..=COLUMNS).rev() {
        let share = column_height(rest) / left as f64;
        let off = |n: usize| (column_height(&rest[..n]) - share).abs();
        let count = (0..=rest.len())
            .min_by(|&a, &b| off(a).total_cmp(&off(b)))
            .unwrap_or(rest.len());
        let (column, after) = rest.split_at(count);
        columns.push(column);
        rest = after;
    }
    columns
}

/// Height of small print in its columns.
pub fn height(items: &[String]) -> f64 {
    columns(items)
        .into_iter()
        .map(column_height)
        .fold(0.0, f64::max)
}

impl Flow<'_> {
    /// Small lines in columns of about one height.
    pub fn small_print(&mut self, items: &[String]) {
        self.room_for(height(items));
        let top = self.y;
        let mut deepest = top;
        let mut list = Vec::new();
        for (column, items) in columns(items).into_iter().enumerate() {
            self.y = top;
            let span = Span {
                left: MARGIN + column as f64 * (COLUMN_WIDTH + GUTTER),
                width: COLUMN_WIDTH,
            };
            for item in items {
                let lines = self.lines(span, SMALL_STYLE, item);
                self.y += 2.0;
                list.push(Node::Element {
                    role: Role::ListItem,
                    children: vec![Node::Element {
                        role: Role::ListBody,
                        children: lines,
                    }],
                });
            }
            deepest = deepest.max(self.y);
        }
        self.y = deepest;
        self.element(Role::List, list);
    }
}
