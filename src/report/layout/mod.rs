//! From a record to placed lines, rules and pictures on A4 pages (points, y
//! down), with the logical structure a tagged PDF needs.

mod columns;
mod figures;
mod grid;
mod page;
mod small_print;
mod style;
mod table;

use kurbo::{Point, Rect};

use super::drawing::Ink;
use super::model::{Block, Report};
pub use page::{Bookmark, Item, Layout, Node, Role};
use style::{
    BODY_STYLE, BOTTOM, CAPTION_STYLE, CELL_STYLE, FACT_STYLE, GUTTER, HEADING_STYLE, LEADING,
    SUBTITLE_STYLE, Span, Style, TITLE_STYLE, TOP, WHOLE, WIDTH,
};
pub use style::{MARGIN, PAGE, SMALL};

/// Where the text of a bullet starts, and the space below it.
const BULLET_INDENT: f64 = 9.0;
const BULLET_GAP: f64 = 1.2;

/// Sets a record.
pub fn set(report: &Report) -> Layout<'_> {
    let mut flow = Flow {
        layout: Layout {
            pages: vec![Vec::new()],
            structure: Vec::new(),
            bookmarks: Vec::new(),
        },
        y: TOP,
    };
    flow.head(report);
    for section in &report.sections {
        flow.heading(&section.heading, section.blocks.first());
        for block in &section.blocks {
            flow.block(block);
        }
    }
    flow.layout
}

/// Pages a record takes.
pub fn page_count(report: &Report) -> usize {
    set(report).pages.len()
}

struct Flow<'a> {
    layout: Layout<'a>,
    y: f64,
}

impl<'a> Flow<'a> {
    fn page(&self) -> usize {
        self.layout.pages.len() - 1
    }

    fn put(&mut self, item: Item<'a>) -> Node {
        let page = self.page();
        self.layout.pages[page].push(item);
        Node::Leaf {
            page,
            item: self.layout.pages[page].len() - 1,
        }
    }

    fn new_page(&mut self) {
        self.layout.pages.push(Vec::new());
        self.y = TOP;
    }

    /// Starts a new page unless `height` still fits.
    fn room_for(&mut self, height: f64) {
        if self.y + height > BOTTOM && self.y > TOP {
            self.new_page();
        }
    }

    fn text(&mut self, at: Point, style: Style, text: String) -> Node {
        self.put(Item::Text {
            at,
            size: style.size,
            face: style.face,
            ink: style.ink,
            text,
        })
    }

    fn rule(&mut self, span: Span, y: f64, weight: f64, ink: Ink) {
        self.put(Item::Box {
            rect: Rect::new(span.left, y, span.left + span.width, y + weight),
            ink,
        });
    }

    /// Sets a wrapped text and moves below it.
    fn lines(&mut self, span: Span, style: Style, text: &str) -> Vec<Node> {
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

    fn element(&mut self, role: Role, children: Vec<Node>) {
        self.layout.structure.push(Node::Element { role, children });
    }

    fn head(&mut self, report: &Report) {
        let title = self.lines(WHOLE, TITLE_STYLE, &report.title);
        self.element(Role::Title, title);
        let subtitle = self.lines(WHOLE, SUBTITLE_STYLE, &report.subtitle);
        self.element(Role::Paragraph, subtitle);
        self.y += 5.0;

        let column = (WIDTH - GUTTER) / 2.0;
        let name_width = 76.0;
        let rows = report.facts.len().div_ceil(2);
        let mut nodes = Vec::new();
        for row in 0..rows {
            let mut deepest = self.y;
            let top = self.y;
            for (side, index) in [(0.0, row), (1.0, row + rows)] {
                let Some((name, value)) = report.facts.get(index) else {
                    continue;
                };
                self.y = top;
                let left = MARGIN + side * (column + GUTTER);
                let name_span = Span {
                    left,
                    width: name_width,
                };
                let mut fact = self.lines(name_span, FACT_STYLE, name);
                self.y = top;
                let value_span = Span {
                    left: left + name_width,
                    width: column - name_width,
                };
                fact.extend(self.lines(value_span, CELL_STYLE, value));
                nodes.push(Node::Element {
                    role: Role::Paragraph,
                    children: fact,
                });
                deepest = deepest.max(self.y);
            }
            self.y = deepest;
        }
        self.layout.structure.extend(nodes);
        self.y += 4.0;
        self.rule(WHOLE, self.y, 1.2, Ink::Black);
        self.y += 3.0;
    }

    /// A heading, on the page of what follows it.
    fn heading(&mut self, text: &str, first: Option<&Block>) {
        let follows = first.map_or(0.0, kept_with_heading);
        self.room_for(HEADING_STYLE.line() + 14.0 + follows);
        if self.y > TOP {
            self.y += 7.0;
        }
        self.layout.bookmarks.push(Bookmark {
            text: text.to_owned(),
            page: self.page(),
            y: self.y,
        });
        let nodes = self.lines(WHOLE, HEADING_STYLE, text);
        self.element(Role::Heading(text.to_owned()), nodes);
        self.rule(WHOLE, self.y + 1.0, 0.5, Ink::Grey);
        self.y += 4.0;
    }

    fn block(&mut self, block: &'a Block) {
        match block {
            Block::Paragraph(text) => {
                let nodes = self.lines(WHOLE, BODY_STYLE, text);
                self.element(Role::Paragraph, nodes);
                self.y += 3.0;
            }
            Block::Bullets(items) => self.bullets(WHOLE, items),
            Block::Alert(items) => self.alert(items),
            Block::Table(table) => {
                self.room_for(table::height(table, WHOLE.width));
                self.table(WHOLE, table);
                self.y += 6.0;
            }
            Block::Grid(grid) => self.grid(grid),
            Block::SmallPrint(items) => self.small_print(items),
            Block::TableBeside { table, figures } => self.table_beside(table, figures),
            Block::FigureBeside {
                figure,
                table,
                notes,
            } => self.figure_beside(figure, table, notes),
        }
    }

    fn bullets(&mut self, span: Span, items: &[String]) {
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

    /// Bullets with a heavy rule on their left, per page they run over: in two
    /// columns where there are several and the page has room for them.
    fn alert(&mut self, items: &[String]) {
        let inset = 10.0;
        let inner = Span {
            left: MARGIN + inset,
            width: WIDTH - inset,
        };
        let (first_page, first_y) = (self.page(), self.y);
        self.y += 1.0;
        let halves = inner.split(2);
        let height = |item: &str| bullet_height(item, halves[0].width);
        let columns = columns::balanced(items, halves.len(), height);
        let deepest = columns::deepest(&columns, height);
        if items.len() > 2 && self.y + deepest <= BOTTOM {
            let top = self.y;
            let mut bottom = top;
            for (&span, items) in halves.iter().zip(columns) {
                self.y = top;
                self.bullets(span, items);
                bottom = bottom.max(self.y);
            }
            self.y = bottom;
        } else {
            self.bullets(inner, items);
        }
        for page in first_page..=self.page() {
            let top = if page == first_page { first_y } else { TOP };
            let bottom = if page == self.page() { self.y } else { BOTTOM };
            self.layout.pages[page].push(Item::Box {
                rect: Rect::new(MARGIN, top, MARGIN + 4.0, bottom),
                ink: Ink::Black,
            });
        }
    }
}

fn bullet_height(item: &str, width: f64) -> f64 {
    let style = BODY_STYLE;
    let lines = style.face.wrap(item, style.size, width - BULLET_INDENT);
    lines.len() as f64 * style.line() + BULLET_GAP
}

fn caption_height(caption: &str, width: f64) -> f64 {
    let style = CAPTION_STYLE;
    style.face.wrap(caption, style.size, width).len() as f64 * style.line() + 2.0
}

/// Height of the part of a block that must stand below its heading.
fn kept_with_heading(block: &Block) -> f64 {
    match block {
        Block::FigureBeside { figure, .. } => figures::beside_height(figure),
        Block::Grid(grid) => grid::first_row_height(grid),
        Block::Table(table) => table::height(table, WIDTH),
        Block::TableBeside { table, figures } => figures::table_beside_height(table, figures),
        Block::SmallPrint(items) => small_print::least_height(items),
        Block::Paragraph(_) | Block::Bullets(_) | Block::Alert(_) => 3.0 * BODY_STYLE.line(),
    }
}
