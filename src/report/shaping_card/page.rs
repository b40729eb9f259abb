//! The card on A4 pages in large type: each canal on one page, set as large as
//! fits.

use kurbo::{Point, Rect};

use super::content::{Card, FILE_HEADINGS, TITLE};
use crate::report::drawing::Ink;
use crate::report::font::Face;
use crate::report::layout::{Bookmark, Item, Layout, MARGIN, Node, PAGE, Role};

const WIDTH: f64 = PAGE.0 - 2.0 * MARGIN;
const TOP: f64 = 34.0;
const BOTTOM: f64 = PAGE.1 - 40.0;
const LEADING: f64 = 1.2;

/// Sizes at full scale, pt.
const TITLE_SIZE: f64 = 24.0;
const SUBTITLE_SIZE: f64 = 18.0;
const LENGTH_SIZE: f64 = 44.0;
const NOTE_SIZE: f64 = 14.0;
const HEADING_SIZE: f64 = 14.0;
const FILE_SIZE: f64 = 21.0;
const STOP_SIZE: f64 = 27.0;
const CELL_SIZE: f64 = 16.0;
const LEVEL_SIZE: f64 = 14.0;
const CAUTION_SIZE: f64 = 11.5;

/// Scales tried, largest first. The last is a little above the type of the
/// other records.
const SCALES: [f64; 8] = [1.0, 0.94, 0.88, 0.82, 0.76, 0.72, 0.68, 0.64];

/// Widths of the columns of the files, as shares.
const FILE_COLUMNS: [f64; 5] = [0.22, 0.22, 0.15, 0.21, 0.20];
/// Width of the first column of the levels, as a share.
const LEVEL_NAME: f64 = 0.2;

/// Sets the cards, each on one page where it fits at the least scale.
pub fn set(cards: &[Card]) -> Layout<'static> {
    let mut layout = Layout {
        pages: Vec::new(),
        structure: Vec::new(),
        bookmarks: Vec::new(),
    };
    for card in cards {
        let mut page = CardPage::new(layout.pages.len(), SCALES[0]);
        for scale in SCALES {
            page = CardPage::new(layout.pages.len(), scale);
            page.card(card);
            if page.y <= BOTTOM {
                break;
            }
        }
        layout.bookmarks.push(Bookmark {
            text: card.subtitle.clone(),
            page: page.number,
            y: TOP,
        });
        layout.pages.push(page.items);
        layout.structure.extend(page.structure);
    }
    layout
}

struct CardPage {
    number: usize,
    scale: f64,
    y: f64,
    items: Vec<Item<'static>>,
    structure: Vec<Node>,
}

#[derive(Clone, Copy)]
struct Style {
    face: Face,
    size: f64,
}

impl CardPage {
    fn new(number: usize, scale: f64) -> Self {
        Self {
            number,
            scale,
            y: TOP,
            items: Vec::new(),
            structure: Vec::new(),
        }
    }

    fn style(&self, face: Face, size: f64) -> Style {
        Style {
            face,
            size: size * self.scale,
        }
    }

    fn put(&mut self, item: Item<'static>) -> Node {
        self.items.push(item);
        Node::Leaf {
            page: self.number,
            item: self.items.len() - 1,
        }
    }

    fn text(&mut self, x: f64, baseline: f64, style: Style, text: String) -> Node {
        self.put(Item::Text {
            at: Point::new(x, baseline),
            size: style.size,
            face: style.face,
            ink: Ink::Black,
            text,
        })
    }

    fn fill(&mut self, rect: Rect, ink: Ink) {
        self.items.push(Item::Box { rect, ink });
    }

    fn rule(&mut self, y: f64, weight: f64, ink: Ink) {
        self.fill(Rect::new(MARGIN, y, MARGIN + WIDTH, y + weight), ink);
    }

    fn gap(&mut self, pt: f64) {
        self.y += pt * self.scale;
    }

    fn element(&mut self, role: Role, children: Vec<Node>) {
        self.structure.push(Node::Element { role, children });
    }

    /// Sets a wrapped text from `x` and moves below it.
    fn lines(&mut self, x: f64, style: Style, text: &str) -> Vec<Node> {
        let lines = style.face.wrap(text, style.size, MARGIN + WIDTH - x);
        let mut nodes = Vec::with_capacity(lines.len());
        for line in lines {
            self.y += style.size * LEADING;
            let baseline = self.y - style.size * (LEADING - 1.0);
            nodes.push(self.text(x, baseline, style, line));
        }
        nodes
    }

    fn heading(&mut self, text: &str) {
        self.gap(8.0);
        let nodes = self.lines(MARGIN, self.style(Face::Bold, HEADING_SIZE), text);
        self.element(Role::Heading(text.to_owned()), nodes);
        self.rule(self.y + 1.0, 0.6, Ink::Grey);
        self.gap(4.0);
    }

    fn card(&mut self, card: &Card) {
        self.head(card);
        self.heading("Files, in the order of use");
        self.files(card);
        if !card.places.is_empty() {
            self.heading("Curves, for pre-curving");
            self.bullets(&card.places, NOTE_SIZE);
        }
        if !card.levels.is_empty() {
            self.heading("Diameter left, mm");
            self.levels(card);
        }
        self.heading("Cautions");
        self.bullets(&card.cautions, CAUTION_SIZE);
    }

    fn head(&mut self, card: &Card) {
        let title = self.style(Face::Bold, TITLE_SIZE);
        let subtitle = self.style(Face::Regular, SUBTITLE_SIZE);
        self.y += title.size;
        let baseline = self.y;
        let node = self.text(MARGIN, baseline, title, TITLE.to_owned());
        self.element(Role::Title, vec![node]);
        let beside = MARGIN + title.face.width(TITLE, title.size) + 16.0;
        let room = MARGIN + WIDTH - beside;
        let lines = subtitle.face.wrap(&card.subtitle, subtitle.size, room);
        let mut nodes = Vec::new();
        for (number, line) in lines.into_iter().enumerate() {
            if number > 0 {
                self.y += subtitle.size * LEADING;
            }
            nodes.push(self.text(beside, self.y, subtitle, line));
        }
        self.element(Role::Paragraph, nodes);
        self.gap(8.0);
        self.rule(self.y, 1.6, Ink::Black);
        self.gap(4.0);

        let label = self.style(Face::Bold, HEADING_SIZE);
        let nodes = self.lines(MARGIN, label, "Working length");
        self.element(Role::Heading("Working length".to_owned()), nodes);
        let figure = self.style(Face::Bold, LENGTH_SIZE);
        let nodes = self.lines(MARGIN, figure, &card.length);
        self.element(Role::Paragraph, nodes);
        let note = self.style(Face::Regular, NOTE_SIZE);
        let nodes = self.lines(MARGIN, note, &card.length_note);
        self.element(Role::Paragraph, nodes);
    }

    fn files(&mut self, card: &Card) {
        let head = self.style(Face::Bold, CAUTION_SIZE);
        let mut starts = [MARGIN; FILE_COLUMNS.len()];
        for column in 1..starts.len() {
            starts[column] = starts[column - 1] + WIDTH * FILE_COLUMNS[column - 1];
        }
        self.y += head.size;
        let cells = FILE_HEADINGS.iter().zip(starts).map(|(heading, x)| {
            let leaf = self.text(x, self.y, head, (*heading).to_owned());
            cell(Role::ColumnHead, vec![leaf])
        });
        let mut rows = vec![cell(Role::TableRow, cells.collect())];
        self.gap(4.0);
        self.rule(self.y, 1.2, Ink::Black);
        let (file, plain) = (
            self.style(Face::Bold, FILE_SIZE),
            self.style(Face::Regular, CELL_SIZE),
        );
        let stop = self.style(Face::Bold, STOP_SIZE);
        for row in &card.files {
            self.y += stop.size * LEADING;
            let baseline = self.y - stop.size * 0.22;
            let mut cells = Vec::new();
            let name = self.fitting(file, &row.file, WIDTH * FILE_COLUMNS[0] - 6.0);
            let leaf = self.text(starts[0], baseline, name, row.file.clone());
            cells.push(cell(Role::RowHead, vec![leaf]));
            let mut x = starts[1];
            if let Some(colour) = row.swatch {
                let (width, height) = (plain.size * 1.5, plain.size * 0.9);
                let rect = Rect::new(x, baseline - height + 2.0, x + width, baseline + 2.0);
                self.fill(rect, Ink::Black);
                self.fill(rect.inset(-1.2), Ink::File(colour));
                x += width + 6.0;
            }
            let room = starts[2] - x - 4.0;
            let colour = self.fitting(plain, &row.colour, room);
            let leaf = self.text(x, baseline, colour, row.colour.clone());
            cells.push(cell(Role::Cell, vec![leaf]));
            let others = [(&row.stop, stop), (&row.tip, plain), (&row.strain, plain)];
            for ((text, style), x) in others.into_iter().zip(&starts[2..]) {
                let leaf = self.text(*x, baseline, style, text.clone());
                cells.push(cell(Role::Cell, vec![leaf]));
            }
            rows.push(cell(Role::TableRow, cells));
            self.rule(self.y, 0.5, Ink::PaleGrey);
        }
        self.element(Role::Table, rows);
        self.gap(2.0);
    }

    /// The style, smaller where a text is wider than its room.
    fn fitting(&self, style: Style, text: &str, room: f64) -> Style {
        let width = style.face.width(text, style.size);
        Style {
            size: style.size * (room / width).min(1.0),
            ..style
        }
    }

    fn levels(&mut self, card: &Card) {
        let name_width = WIDTH * LEVEL_NAME;
        let column = (WIDTH - name_width) / card.levels.len().max(1) as f64;
        let head = self.style(Face::Bold, LEVEL_SIZE);
        let body = self.style(Face::Regular, LEVEL_SIZE);
        let mut rows = Vec::new();
        let heading = ("mm from the apex".to_owned(), card.levels.clone());
        let last = card.diameters.len();
        let widest = card.files.len() > 1;
        for (number, (name, cells)) in std::iter::once(&heading).chain(&card.diameters).enumerate()
        {
            let is_head = number == 0;
            let style = match number {
                0 => head,
                number if number == last && widest => head,
                _ => body,
            };
            self.y += style.size * LEADING;
            let baseline = self.y - style.size * 0.2;
            let name_style = self.fitting(style, name, name_width - 4.0);
            let leaf = self.text(MARGIN, baseline, name_style, name.clone());
            let role = if is_head {
                Role::ColumnHead
            } else {
                Role::RowHead
            };
            let mut nodes = vec![cell(role, vec![leaf])];
            for (index, text) in cells.iter().enumerate() {
                let right = MARGIN + name_width + column * (index + 1) as f64;
                let style = self.fitting(style, text, column - 3.0);
                let x = right - style.face.width(text, style.size);
                let leaf = self.text(x, baseline, style, text.clone());
                let role = if is_head {
                    Role::ColumnHead
                } else {
                    Role::Cell
                };
                nodes.push(cell(role, vec![leaf]));
            }
            rows.push(cell(Role::TableRow, nodes));
            self.rule(self.y, if is_head { 1.2 } else { 0.4 }, Ink::Grey);
        }
        self.element(Role::Table, rows);
        self.gap(2.0);
    }

    fn bullets(&mut self, items: &[String], size: f64) {
        let style = self.style(Face::Regular, size);
        let mut list = Vec::new();
        for item in items {
            let baseline = self.y + style.size;
            let mut body = vec![self.text(MARGIN, baseline, style, "•".to_owned())];
            body.extend(self.lines(MARGIN + style.size, style, item));
            self.gap(1.5);
            list.push(cell(Role::ListItem, vec![cell(Role::ListBody, body)]));
        }
        self.element(Role::List, list);
    }
}

fn cell(role: Role, children: Vec<Node>) -> Node {
    Node::Element { role, children }
}
