//! Where on which page a record has come, and what is set there.

use kurbo::{Point, Rect};

use super::page::{Item, Layout, Node, Role};
use super::style::{BODY_STYLE, BOTTOM, CAPTION_STYLE, LEADING, Span, Style, TOP};
use crate::report::drawing::Ink;

/// Where the text of a bullet starts, and the space below it.
const BULLET_INDENT: f64 = 9.0;
const BULLET_GAP: f64 = 1.2;

/// A record being set.
pub struct Flow<'a> {
    pub layout: Layout<'a>,
    /// How far down the page it has come.
    pub y: f64,
}

impl<'a> Flow<'a> {
    /// At the top of the first page.
    pub fn new() -> Self {
        Self {
            layout: Layout {
                pages: vec![Vec::new()],
                structure: Vec::new(),
                bookmarks: Vec::new(),
            },
            y: TOP,
        }
    }

    pub fn page(&self) -> usize {
        self.layout.pages.len() - 1
    }

    pub fn put(&mut self, item: Item<'a>) -> Node {
        let page = self.page();
        self.layout.pages[page].push(item);
        Node::Leaf {
            page,
            item: self.layout.pages[page].len() - 1,
        }
    }

    pub fn new_page(&mut self) {
        self.layout.pages.push(Vec::new());
        self.y = TOP;
    }

    /// Starts a new page unless `height` still fits.
    pub fn room_for(&mut self, height: f64) {
        if self.y + height > BOTTOM && self.y > TOP {
            self.new_page();
        }
    }

    pub fn text(&mut self, at: Point, style: Style, text: String) -> Node {
        self.put(Item::Text {
            at,
            size: style.size,
            face: style.face,
            ink: style.ink,
            text,
        })
    }

    pub fn rule(&mut self, span: Span, y: f64, weight: f64, ink: Ink) {
        self.put(Item::Box {
            rect: Rect::new(span.left, y, span.left + span.width, y + weight),
            ink,
        });
    }

    /// Sets a wrapped text and moves below it.
    pub fn lines(&mut self, span: Span, style: Style, text: &str) -> Vec<Node> {
        let lines = style.face.wrap(text, style.size, span.width);
        let mut nodes = Vec::with_capacity(lines.len());
        for line in lines {
            self.room_for(style.line());
            self.y += style.line();
            let baseline = Point::new(span.left, self.y - style.size * (LEADING - 1.0));
            nodes.push(self.text(baseline, style, line));
        }
        nodes
    }

    pub fn element(&mut self, role: Role, children: Vec<Node>) {
        self.layout.structure.push(Node::Element { role, children });
    }

    pub fn bullets(&mut self, span: Span, items: &[String]) {
        if items.is_empty() {
            return;
        }
        let mut list = Vec::new();
        for item in items {
            self.room_for(BODY_STYLE.line());
            let mark = Point::new(
                span.left,
                self.y + BODY_STYLE.line() - BODY_STYLE.size * (LEADING - 1.0),
            );
            let page_before = self.page();
            let mut body = Vec::new();
            let bullet = self.text(mark, BODY_STYLE, "•".to_owned());
            debug_assert_eq!(page_before, self.page());
            body.push(bullet);
            let inner = Span {
                left: span.left + BULLET_INDENT,
                width: span.width - BULLET_INDENT,
            };
            body.extend(self.lines(inner, BODY_STYLE, item));
            self.y += BULLET_GAP;
            list.push(Node::Element {
                role: Role::ListItem,
                children: vec![Node::Element {
                    role: Role::ListBody,
                    children: body,
                }],
            });
        }
        self.element(Role::List, list);
        self.y += 2.0;
    }
}

pub fn bullet_height(item: &str, width: f64) -> f64 {
    let style = BODY_STYLE;
    let lines = style.face.wrap(item, style.size, width - BULLET_INDENT);
    lines.len() as f64 * style.line() + BULLET_GAP
}

pub fn caption_height(caption: &str, width: f64) -> f64 {
    let style = CAPTION_STYLE;
    style.face.wrap(caption, style.size, width).len() as f64 * style.line() + 2.0
}
