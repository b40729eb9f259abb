//! One list of marks for every picture of a record.
//!
//! The PDF, the HTML (as SVG) and the annotated film (as pixels) all paint the
//! same [`Drawing`], so they cannot disagree. Marks must read without colour:
//! lines differ by dash and width, and on a film every line and label has a
//! dark halo.

use std::sync::Arc;

use image::GrayImage;
use kurbo::{BezPath, Point, Size};

use crate::instrumentation::IsoColour;

/// A picture: marks painted in order over an optional film.
#[derive(Clone, Debug)]
pub struct Drawing {
    /// Extent in the drawing's own unit, x right, y down, origin top left.
    pub size: Size,
    /// Film under the marks, filling the whole extent.
    pub film: Option<Arc<GrayImage>>,
    /// In painting order.
    pub marks: Vec<Mark>,
}

/// One thing to paint.
#[derive(Clone, Debug)]
pub enum Mark {
    /// A line along a path.
    Line { path: BezPath, pen: Pen },
    /// A filled area.
    Area { path: BezPath, ink: Ink },
    /// One line of text.
    Label(Label),
}

/// How a line is drawn.
#[derive(Clone, Copy, Debug)]
pub struct Pen {
    pub ink: Ink,
    /// Width in the drawing's unit.
    pub width: f64,
    pub dash: Dash,
    /// A dark rim that keeps the line visible on bright film.
    pub halo: bool,
}

/// Line styles that differ in black and white.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dash {
    Solid,
    Dashed,
    Dotted,
}

/// Colours of the record; each keeps its contrast when printed in grey.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ink {
    Black,
    White,
    /// Secondary text and axes.
    Grey,
    /// Fills behind text and bands.
    PaleGrey,
    /// The canal's path.
    Path,
    /// Measured distances and landmarks.
    Landmark,
    /// Objects of known size.
    Scale,
    /// A colour of the code for file sizes, named beside it.
    File(IsoColour),
}

/// One line of text.
#[derive(Clone, Debug)]
pub struct Label {
    /// Baseline point.
    pub at: Point,
    pub text: String,
    /// Font size in the drawing's unit.
    pub size: f64,
    pub anchor: Anchor,
    pub ink: Ink,
    pub bold: bool,
    /// A dark rim, as for lines.
    pub halo: bool,
}

/// Which part of a label stands at its point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    Start,
    Middle,
    End,
}

/// Width of a halo on each side, as a share of the line width.
pub const LINE_HALO: f64 = 0.7;
/// Width of a halo round letters, as a share of the font size.
pub const LABEL_HALO: f64 = 0.11;

impl Drawing {
    /// An empty drawing of `size`.
    pub fn new(size: Size) -> Self {
        Self {
            size,
            film: None,
            marks: Vec::new(),
        }
    }

    /// Adds a line.
    pub fn line(&mut self, path: impl Into<BezPath>, pen: Pen) {
        self.marks.push(Mark::Line {
            path: path.into(),
            pen,
        });
    }

    /// Adds a filled area.
    pub fn area(&mut self, path: impl Into<BezPath>, ink: Ink) {
        self.marks.push(Mark::Area {
            path: path.into(),
            ink,
        });
    }

    /// Adds a label.
    pub fn label(&mut self, label: Label) {
        self.marks.push(Mark::Label(label));
    }
}

impl Pen {
    /// A solid line without halo.
    pub fn solid(ink: Ink, width: f64) -> Self {
        Self {
            ink,
            width,
            dash: Dash::Solid,
            halo: false,
        }
    }

    /// The same with another dash.
    pub fn dashed(self, dash: Dash) -> Self {
        Self { dash, ..self }
    }

    /// The same with a halo.
    pub fn on_film(self) -> Self {
        Self { halo: true, ..self }
    }

    /// Lengths of strokes and gaps in the drawing's unit; empty for solid.
    pub fn dash_pattern(&self) -> Vec<f64> {
        let w = self.width;
        match self.dash {
            Dash::Solid => Vec::new(),
            Dash::Dashed => vec![5.0 * w, 3.0 * w],
            Dash::Dotted => vec![1.2 * w, 2.2 * w],
        }
    }
}

impl Ink {
    /// sRGB.
    pub fn rgb(self) -> [u8; 3] {
        match self {
            Ink::Black => [0, 0, 0],
            Ink::White => [255, 255, 255],
            Ink::Grey => [95, 95, 95],
            Ink::PaleGrey => [226, 226, 226],
            Ink::Path => [255, 214, 92],
            Ink::Landmark => [255, 255, 255],
            Ink::Scale => [140, 214, 255],
            Ink::File(colour) => colour.rgb(),
        }
    }

    /// `#rrggbb`.
    pub fn hex(self) -> String {
        let [r, g, b] = self.rgb();
        format!("#{r:02x}{g:02x}{b:02x}")
    }
}

/// Straight lines from point to point.
pub fn polyline(points: impl IntoIterator<Item = Point>) -> BezPath {
    let mut path = BezPath::new();
    for (i, point) in points.into_iter().enumerate() {
        if i == 0 {
            path.move_to(point);
        } else {
            path.line_to(point);
        }
    }
    path
}
