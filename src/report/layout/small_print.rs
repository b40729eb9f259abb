//! Small print: what is looked up rather than read, in columns.

use super::columns;
use super::flow::Flow;
use super::page::{Node, Role};
use super::style::{BOTTOM, SMALL_STYLE, Span, WHOLE};

/// Columns of small print.
const COLUMNS: usize = 3;
/// Space below an item.
const ITEM_GAP: f64 = 1.5;
/// Lines below which small print is not begun on a page.
const LEAST_LINES: f64 = 6.0;

fn spans() -> Vec<Span> {
    WHOLE.split(COLUMNS)
}

fn item_height(item: &str) -> f64 {
    let style = SMALL_STYLE;
    let lines = style.face.wrap(item, style.size, spans()[0].width);
    lines.len() as f64 * style.line() + ITEM_GAP
}

/// Height of the least that must stand below a heading.
pub fn least_height(items: &[String]) -> f64 {
    height(items).min(LEAST_LINES * SMALL_STYLE.line())
}

/// Height of small print in its columns.
fn height(items: &[String]) -> f64 {
    let split = columns::balanced(items, COLUMNS, item_height);
    columns::deepest(&split, item_height)
}

impl Flow<'_> {
    /// Small lines in columns of about one height, over the end of the page
    /// where they must.
    pub fn small_print(&mut self, items: &[String]) {
        let mut rest = items;
        while !rest.is_empty() {
            self.room_for(least_height(rest));
            let room = BOTTOM - self.y;
            let fit = (1..=rest.len()).rev().find(|&n| height(&rest[..n]) <= room);
            let (now, later) = rest.split_at(fit.unwrap_or(1));
            self.small_columns(now);
            rest = later;
            if !rest.is_empty() {
                self.new_page();
            }
        }
    }

    fn small_columns(&mut self, items: &[String]) {
        let top = self.y;
        let mut deepest = top;
        let mut list = Vec::new();
        let columns = columns::balanced(items, COLUMNS, item_height);
        for (span, items) in spans().into_iter().zip(columns) {
            self.y = top;
            for item in items {
                let lines = self.lines(span, SMALL_STYLE, item);
                self.y += ITEM_GAP;
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
