//! A set document: pages of placed items and their logical structure.

use kurbo::{Point, Rect};

use super::super::drawing::{Drawing, Ink};
use super::super::font::Face;

/// Something placed on a page.
pub enum Item<'a> {
    /// A line of text from its baseline start.
    Text {
        at: Point,
        size: f64,
        face: Face,
        ink: Ink,
        text: String,
    },
    /// A filled rectangle: rules, boxes, shading.
    Box { rect: Rect, ink: Ink },
    /// A picture scaled into a rectangle of its own proportions.
    Picture { rect: Rect, drawing: &'a Drawing },
}

/// What part of the document an element is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Role {
    Title,
    Heading(String),
    Paragraph,
    List,
    ListItem,
    ListBody,
    Table,
    TableRow,
    ColumnHead,
    RowHead,
    Cell,
    Figure(String),
    Caption,
}

/// The logical structure: elements down to placed items.
pub enum Node {
    Element {
        role: Role,
        children: Vec<Node>,
    },
    /// Page and item.
    Leaf {
        page: usize,
        item: usize,
    },
}

/// A bookmark.
pub struct Bookmark {
    pub text: String,
    pub page: usize,
    pub y: f64,
}

/// A set document.
pub struct Layout<'a> {
    pub pages: Vec<Vec<Item<'a>>>,
    pub structure: Vec<Node>,
    pub bookmarks: Vec<Bookmark>,
}
