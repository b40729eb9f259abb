//! Measures of the page and the styles of its text.

use super::super::drawing::Ink;
use super::super::font::Face;

/// A4, pt.
pub const PAGE: (f64, f64) = (595.28, 841.89);
pub const MARGIN: f64 = 36.0;
pub const TOP: f64 = 28.0;
pub const BOTTOM: f64 = PAGE.1 - 36.0;
pub const WIDTH: f64 = PAGE.0 - 2.0 * MARGIN;
pub const LEADING: f64 = 1.22;
pub const BODY: f64 = 8.0;
/// No text is smaller, in pictures neither.
pub const SMALL: f64 = 7.5;
pub const CELL_PAD: f64 = 3.0;
pub const GUTTER: f64 = 12.0;

/// A text style.
#[derive(Clone, Copy)]
pub struct Style {
    pub face: Face,
    pub size: f64,
    pub ink: Ink,
}

pub const TITLE_STYLE: Style = Style {
    face: Face::Bold,
    size: 15.0,
    ink: Ink::Black,
};
pub const SUBTITLE_STYLE: Style = Style {
    face: Face::Regular,
    size: 11.0,
    ink: Ink::Black,
};
pub const HEADING_STYLE: Style = Style {
    face: Face::Bold,
    size: 10.0,
    ink: Ink::Black,
};
pub const BODY_STYLE: Style = Style {
    face: Face::Regular,
    size: BODY,
    ink: Ink::Black,
};
pub const CAPTION_STYLE: Style = Style {
    face: Face::Regular,
    size: SMALL,
    ink: Ink::Grey,
};
pub const SMALL_STYLE: Style = Style {
    face: Face::Regular,
    size: SMALL,
    ink: Ink::Black,
};
pub const CELL_STYLE: Style = Style {
    face: Face::Regular,
    size: SMALL,
    ink: Ink::Black,
};
pub const STRONG_STYLE: Style = Style {
    face: Face::Bold,
    ..CELL_STYLE
};
pub const FACT_STYLE: Style = Style {
    face: Face::Regular,
    size: SMALL,
    ink: Ink::Grey,
};

impl Style {
    /// Height of a line.
    pub fn line(self) -> f64 {
        self.size * LEADING
    }
}

/// A column of the page that is being filled.
#[derive(Clone, Copy)]
pub struct Span {
    pub left: f64,
    pub width: f64,
}

pub const WHOLE: Span = Span {
    left: MARGIN,
    width: WIDTH,
};

impl Span {
    /// Its middle part, where it has room for that.
    pub fn middle(self, width: f64) -> Span {
        let beside = ((self.width - width) / 2.0).max(0.0);
        Span {
            left: self.left + beside,
            width: self.width - 2.0 * beside + 0.5,
        }
    }

    /// Columns of one width beside each other.
    pub fn split(self, count: usize) -> Vec<Span> {
        let gaps = GUTTER * (count as f64 - 1.0);
        let width = (self.width - gaps) / count as f64;
        let left = |column: usize| self.left + column as f64 * (width + GUTTER);
        let columns = (0..count).map(|column| Span {
            left: left(column),
            width,
        });
        columns.collect()
    }
}
