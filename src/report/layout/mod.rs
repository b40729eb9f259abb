//! From a record to placed lines, rules and pictures on A4 pages (points, y
//! down), with the logical structure a tagged PDF needs.

mod columns;
mod figures;
mod flow;
mod grid;
mod page;
mod small_print;
mod style;
mod table;

use kurbo::Rect;

use super::drawing::Ink;
use super::model::{Block, Report};
use figures::FigureSize;
use flow::{Flow, bullet_height};
pub use page::{Bookmark, Item, Layout, Node, Role};
use style::{
    BODY_STYLE, BOTTOM, CELL_STYLE, FACT_STYLE, GUTTER, HEADING_STYLE, SUBTITLE_STYLE, Span,
    TITLE_STYLE, TOP, WHOLE, WIDTH,
};
pub use style::{MARGIN, PAGE, SMALL};

/// Sets a record.
pub fn set(report: &Report) -> Layout<'_> {
    let mut flow = Flow::new();
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

impl<'a> Flow<'a> {
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
            self.y += 4.0;
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
            } => self.figure_beside(figure, FigureSize::USUAL, table, notes),
            Block::TallFigureBeside { figure, table } => {
                self.figure_beside(figure, FigureSize::TALL, table, &[]);
            }
        }
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

/// Height of the part of a block that must stand below its heading.
fn kept_with_heading(block: &Block) -> f64 {
    match block {
        Block::FigureBeside { figure, table, .. } => {
            figures::beside_height(figure, FigureSize::USUAL, table)
        }
        Block::TallFigureBeside { figure, table, .. } => {
            figures::beside_height(figure, FigureSize::TALL, table)
        }
        Block::Grid(grid) => grid::first_row_height(grid),
        Block::Table(table) => table::height(table, WIDTH),
        Block::TableBeside { table, figures } => figures::table_beside_height(table, figures),
        Block::SmallPrint(items) => small_print::least_height(items),
        Block::Paragraph(_) | Block::Bullets(_) | Block::Alert(_) => 3.0 * BODY_STYLE.line(),
    }
}
