//! Small print: what is looked up rather than read, in columns.

use super::style::{SMALL_STYLE, Span, WHOLE};
use super::{Flow, Node, Role, columns};

/// Columns of small print.
const COLUMNS: usize = 3;
/// Space below an item.
const ITEM_GAP: f64 = 1.5;

fn spans() -> Vec<Span> {
    WHOLE.split(COLUMNS)
}

fn item_height(item: &String) -> f64 {
    let style = SMALL_STYLE;
    let lines = style.face.wrap(item, style.size, spans()[0].width);
    lines.len() as f64 * style.line() + ITEM_GAP
}

/// Height of small print in its columns.
pub fn height(items: &[String]) -> f64 {
    let split = columns::balanced(items, COLUMNS, item_height);
    columns::deepest(&split, item_height)
}

impl Flow<'_> {
    /// Small lines in columns of about one height.
    pub fn small_print(&mut self, items: &[String]) {
        self.room_for(height(items));
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
