//! From a record to placed lines, rules and pictures on A4 pages (points, y
//! down), with the logical structure a tagged PDF needs.

use kurbo::{Point, Rect};

use super::drawing::{Drawing, Ink};
use super::font::Face;
use super::model::{Align, Block, Figure, Report, Table};

/// A4, pt.
pub const PAGE: (f64, f64) = (595.28, 841.89);
const MARGIN: f64 = 42.0;
const TOP: f64 = 40.0;
const BOTTOM: f64 = PAGE.1 - 46.0;
const WIDTH: f64 = PAGE.0 - 2.0 * MARGIN;
const LEADING: f64 = 1.32;
const BODY: f64 = 8.2;
const SMALL: f64 = 6.8;
const CELL: f64 = 7.6;
const CELL_PAD: f64 = 3.0;
const GUTTER: f64 = 14.0;
const FIGURE_SHARE: f64 = 0.43;
const TABLE_SHARE: f64 = 0.57;
const FIGURE_HEIGHT: f64 = 256.0;
const ROW_HEIGHT: f64 = 100.0;

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

/// A text style.
#[derive(Clone, Copy)]
struct Style {
    face: Face,
    size: f64,
    ink: Ink,
}

const TITLE_STYLE: Style = Style {
    face: Face::Bold,
    size: 17.0,
    ink: Ink::Black,
};
const SUBTITLE_STYLE: Style = Style {
    face: Face::Regular,
    size: 11.5,
    ink: Ink::Black,
};
const HEADING_STYLE: Style = Style {
    face: Face::Bold,
    size: 10.5,
    ink: Ink::Black,
};
const BODY_STYLE: Style = Style {
    face: Face::Regular,
    size: BODY,
    ink: Ink::Black,
};
const CAPTION_STYLE: Style = Style {
    face: Face::Regular,
    size: SMALL,
    ink: Ink::Grey,
};
const SMALL_STYLE: Style = Style {
    face: Face::Regular,
    size: SMALL,
    ink: Ink::Black,
};
const CELL_STYLE: Style = Style {
    face: Face::Regular,
    size: CELL,
    ink: Ink::Black,
};
const STRONG_STYLE: Style = Style {
    face: Face::Bold,
    ..CELL_STYLE
};
const FACT_STYLE: Style = Style {
    face: Face::Regular,
    size: CELL,
    ink: Ink::Grey,
};

impl Style {
    fn line(self) -> f64 {
        self.size * LEADING
    }
}

/// A column of the page that is being filled.
#[derive(Clone, Copy)]
struct Span {
    left: f64,
    width: f64,
}

const WHOLE: Span = Span {
    left: MARGIN,
    width: WIDTH,
};

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
        self.y += 6.0;
        self.rule(WHOLE, self.y, 1.2, Ink::Black);
        self.y += 3.0;
    }

    fn heading(&mut self, text: &str, first: Option<&Block>) {
        let follows = match first {
            Some(Block::FigureBeside { .. }) => FIGURE_HEIGHT,
            Some(Block::Figures { .. }) => 150.0,
            Some(Block::Table(table)) => {
                table_height(table, &column_widths(table, WHOLE.width), WHOLE.width)
            }
            Some(Block::TableBeside { table, .. }) => {
                let width = WHOLE.width * TABLE_SHARE;
                table_height(table, &column_widths(table, width), width)
            }
            Some(Block::SmallPrint(items)) => small_print_height(items),
            _ => 45.0,
        };
        self.room_for(HEADING_STYLE.line() + 14.0 + follows);
        if self.y > TOP {
            self.y += 10.0;
        }
        self.layout.bookmarks.push(Bookmark {
            text: text.to_owned(),
            page: self.page(),
            y: self.y,
        });
        let nodes = self.lines(WHOLE, HEADING_STYLE, text);
        self.element(Role::Heading(text.to_owned()), nodes);
        self.rule(WHOLE, self.y + 1.0, 0.5, Ink::Grey);
        self.y += 5.0;
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
                self.room_for(table_height(
                    table,
                    &column_widths(table, WHOLE.width),
                    WHOLE.width,
                ));
                self.table(WHOLE, table);
                self.y += 6.0;
            }
            Block::Figures { figures, in_row } => self.figures(figures, *in_row),
            Block::SmallPrint(items) => self.small_print(items),
            Block::TableBeside { table, figures } => self.table_beside(table, figures),
            Block::FigureBeside { figure, table } => self.beside(figure, table),
        }
    }

    fn bullets(&mut self, span: Span, items: &[String]) {
        let indent = 9.0;
        let mut list = Vec::new();
        for item in items {
            self.room_for(BODY_STYLE.line());
            let mark = Point::new(
                span.left,
                self.y + BODY_STYLE.line() - BODY * (LEADING - 1.0),
            );
            let page_before = self.page();
            let mut body = Vec::new();
            let bullet = self.text(mark, BODY_STYLE, "•".to_owned());
            debug_assert_eq!(page_before, self.page());
            body.push(bullet);
            let inner = Span {
                left: span.left + indent,
                width: span.width - indent,
            };
            body.extend(self.lines(inner, BODY_STYLE, item));
            self.y += 1.2;
            list.push(Node::Element {
                role: Role::ListItem,
                children: vec![Node::Element {
                    role: Role::ListBody,
                    children: body,
                }],
            });
        }
        self.element(Role::List, list);
        self.y += 3.0;
    }

    /// Bullets with a heavy rule on their left, per page they run over.
    fn alert(&mut self, items: &[String]) {
        let inset = 12.0;
        let inner = Span {
            left: MARGIN + inset,
            width: WIDTH - inset,
        };
        let (first_page, first_y) = (self.page(), self.y);
        self.y += 2.0;
        self.bullets(inner, items);
        for page in first_page..=self.page() {
            let top = if page == first_page { first_y } else { TOP };
            let bottom = if page == self.page() { self.y } else { BOTTOM };
            self.layout.pages[page].push(Item::Box {
                rect: Rect::new(MARGIN, top, MARGIN + 4.0, bottom),
                ink: Ink::Black,
            });
        }
    }

    fn figure(&mut self, span: Span, height: f64, figure: &'a Figure) {
        let size = figure.drawing.size;
        let scale = (span.width / size.width).min(height / size.height);
        let (w, h) = (size.width * scale, size.height * scale);
        let rect = Rect::new(span.left, self.y, span.left + w, self.y + h);
        let picture = self.put(Item::Picture {
            rect,
            drawing: &figure.drawing,
        });
        self.y += h + 2.0;
        let caption = self.lines(span, CAPTION_STYLE, &figure.caption);
        self.element(Role::Figure(figure.alt.clone()), vec![picture]);
        self.element(Role::Paragraph, caption);
    }

    fn figures(&mut self, figures: &'a [Figure], in_row: usize) {
        let columns = in_row.max(1) as f64;
        let gap = if in_row > 4 { 8.0 } else { GUTTER };
        let width = (WIDTH - gap * (columns - 1.0)) / columns;
        for row in figures.chunks(in_row.max(1)) {
            let tallest = row
                .iter()
                .map(|figure| {
                    let size = figure.drawing.size;
                    let picture = (width / size.width * size.height).min(ROW_HEIGHT);
                    picture + caption_height(&figure.caption, width)
                })
                .fold(0.0, f64::max);
            self.room_for(tallest + 6.0);
            let top = self.y;
            for (i, figure) in row.iter().enumerate() {
                self.y = top;
                let left = MARGIN + i as f64 * (width + gap);
                self.figure(Span { left, width }, ROW_HEIGHT, figure);
            }
            self.y = top + tallest + 6.0;
        }
    }

    /// Small lines in columns of about one height.
    fn small_print(&mut self, items: &[String]) {
        self.room_for(small_print_height(items));
        let top = self.y;
        let mut deepest = top;
        let mut list = Vec::new();
        for (column, items) in small_print_columns(items).into_iter().enumerate() {
            self.y = top;
            let span = Span {
                left: MARGIN + column as f64 * (SMALL_PRINT_WIDTH + GUTTER),
                width: SMALL_PRINT_WIDTH,
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

    fn beside(&mut self, figure: &'a Figure, table: &'a Table) {
        let right_width = WIDTH * (1.0 - FIGURE_SHARE) - GUTTER;
        let fits = least_widths(table).iter().sum::<f64>() <= right_width;
        let left = Span {
            left: MARGIN,
            width: WIDTH * FIGURE_SHARE,
        };
        let left_height = {
            let size = figure.drawing.size;
            (left.width / size.width * size.height).min(FIGURE_HEIGHT)
                + caption_height(&figure.caption, left.width)
        };
        self.room_for(left_height);
        let (page, top) = (self.page(), self.y);
        self.figure(left, FIGURE_HEIGHT, figure);
        if !fits {
            self.y += 4.0;
            self.table(WHOLE, table);
            self.y += 6.0;
            return;
        }
        let after_figure = self.y;
        self.y = top;
        let right = Span {
            left: MARGIN + left.width + GUTTER,
            width: right_width,
        };
        self.table(right, table);
        if self.page() == page {
            self.y = self.y.max(after_figure);
        }
        self.y += 6.0;
    }

    fn table_beside(&mut self, table: &'a Table, figures: &'a [Figure]) {
        let left = Span {
            left: MARGIN,
            width: WIDTH * TABLE_SHARE,
        };
        let right = Span {
            left: MARGIN + left.width + GUTTER,
            width: WIDTH - left.width - GUTTER,
        };
        let figures_height: f64 = figures
            .iter()
            .map(|figure| {
                let size = figure.drawing.size;
                right.width / size.width * size.height
                    + caption_height(&figure.caption, right.width)
            })
            .sum();
        let narrow = least_widths(table).iter().sum::<f64>() <= left.width;
        let rows = table_height(table, &column_widths(table, left.width), left.width);
        let tallest = figures_height.max(rows);
        if !narrow || TOP + tallest > BOTTOM {
            self.table(WHOLE, table);
            self.y += 6.0;
            self.figures(figures, 2);
            return;
        }
        self.room_for(tallest);
        let top = self.y;
        self.table(left, table);
        let after_table = self.y;
        self.y = top;
        for figure in figures {
            self.figure(right, ROW_HEIGHT * 2.0, figure);
        }
        self.y = self.y.max(after_table) + 6.0;
    }

    fn table(&mut self, span: Span, table: &'a Table) {
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

/// Columns of small print.
const SMALL_PRINT_COLUMNS: usize = 3;
const SMALL_PRINT_WIDTH: f64 =
    (WIDTH - GUTTER * (SMALL_PRINT_COLUMNS as f64 - 1.0)) / SMALL_PRINT_COLUMNS as f64;

/// Height of small print in one column.
fn column_height(items: &[String]) -> f64 {
    let heights = items.iter();
    heights
        .map(|item| caption_height(item, SMALL_PRINT_WIDTH))
        .sum()
}

/// Small print split so that each column takes its share of what is left.
fn small_print_columns(items: &[String]) -> Vec<&[String]> {
    let mut columns = Vec::with_capacity(SMALL_PRINT_COLUMNS);
    let mut rest = items;
    for left in (1..=SMALL_PRINT_COLUMNS).rev() {
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
fn small_print_height(items: &[String]) -> f64 {
    let columns = small_print_columns(items);
    columns.into_iter().map(column_height).fold(0.0, f64::max)
}

fn caption_height(caption: &str, width: f64) -> f64 {
    let style = CAPTION_STYLE;
    style.face.wrap(caption, style.size, width).len() as f64 * style.line() + 2.0
}

fn table_height(table: &Table, widths: &[f64], width: f64) -> f64 {
    let caption = if table.caption.is_empty() {
        0.0
    } else {
        caption_height(&table.caption, width)
    };
    let heads: Vec<&str> = table.columns.iter().map(|c| c.heading.as_str()).collect();
    let rows = table.rows.iter().map(|row| {
        let cells: Vec<&str> = row.cells.iter().map(String::as_str).collect();
        row_height(table, widths, &cells, RowKind::Plain)
    });
    caption + row_height(table, widths, &heads, RowKind::Head) + rows.sum::<f64>()
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
    style.line() * lines as f64 + 2.4
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
        let width = face.width(text, CELL);
        whole = whole.max(width);
        let is_number = table.columns[column].align == Align::Right
            && !is_heading
            && text.contains(|c: char| c.is_ascii_digit());
        let longest_word = if is_number {
            width
        } else {
            text.split_whitespace()
                .map(|word| face.width(word, CELL))
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

/// Widths that fill `width`: each column gets its least, then a share of the
/// rest by what it still wants; what is over goes to the first column.
fn column_widths(table: &Table, width: f64) -> Vec<f64> {
    let least = least_widths(table);
    let wanted: Vec<f64> = (0..table.columns.len())
        .map(|i| needs(table, i).0.max(least[i]))
        .collect();
    let (least_sum, wanted_sum): (f64, f64) = (least.iter().sum(), wanted.iter().sum());
    if least_sum >= width {
        return least.iter().map(|w| w * width / least_sum).collect();
    }
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
