//! The picture of a sheet: the film about the canals, the reference dashed,
//! the student's trace solid, and where it strays.

use std::sync::Arc;

use image::GrayImage;
use image::imageops::{self, FilterType};
use kurbo::{Circle, Line, Point, Rect, Shape, Vec2};

use crate::grading::files::ClassGrade;
use crate::grading::grade::TraceGrade;
use crate::report::drawing::{Anchor, Dash, Drawing, Ink, Label, Pen, polyline};
use crate::report::model::Figure;
use crate::units::FilmPoint;

/// Film shown around the canals, as a share of their extent.
const ROOM: f64 = 0.12;
/// Broadest the picture is against its height, so that labels have room.
const LEAST_BREADTH: f64 = 0.6;
/// Longest side of the film within the sheet, px: 300 dpi at its size there.
const LONGEST_SIDE_PX: u32 = 1100;

/// Every third rung is drawn: all of them would hide the film.
const EVERY_RUNG: usize = 3;

const LEGEND: &str = "Solid: the trace. Dashed: the reference, dotted its spread (± 1 standard \
    deviation). Rungs: where the trace strays. Triangles: apex; rings: file tip; filled: the \
    reference's.";

/// The figure of one trace on the reference's film.
pub fn draw(class: &ClassGrade, trace: &TraceGrade, film: &GrayImage) -> Figure {
    let frame = frame(class, trace, film);
    let mut page = FilmDrawing {
        corner: frame.origin(),
        unit: frame.size().max_side() / 500.0,
        drawing: Drawing {
            film: Some(Arc::new(cut(film, frame))),
            ..Drawing::new(frame.size())
        },
    };
    page.reference(class);
    page.trace(class, trace);
    let canals = trace.canals.len();
    Figure {
        drawing: page.drawing,
        caption: LEGEND.to_owned(),
        alt: format!("The film with {canals} traced canals and the reference."),
    }
}

/// The part of the film that is shown, whole px.
fn frame(class: &ClassGrade, trace: &TraceGrade, film: &GrayImage) -> Rect {
    let whole = Rect::new(0.0, 0.0, f64::from(film.width()), f64::from(film.height()));
    let references = class.reference.canals.iter();
    let wanted =
        references.flat_map(|canal| canal.points_px.iter().map(|&[x, y]| Point::new(x, y)));
    let drawn = trace.canals.iter();
    let drawn = drawn.flat_map(|canal| canal.picture.path_px.iter().map(|&p| place(p)));
    let Some(extent) = wanted
        .chain(drawn)
        .map(|p| Rect::from_points(p, p))
        .reduce(|all, one| all.union(one))
    else {
        return whole;
    };
    let room = ROOM * extent.size().max_side();
    let mut frame = extent.inflate(room, room);
    let missing = LEAST_BREADTH * frame.height() - frame.width();
    frame = frame.inflate((missing / 2.0).max(0.0), 0.0).expand();
    let shown = frame.intersect(whole);
    if shown.width() >= 1.0 && shown.height() >= 1.0 {
        shown
    } else {
        whole
    }
}

fn cut(film: &GrayImage, frame: Rect) -> GrayImage {
    let cut = imageops::crop_imm(
        film,
        frame.x0 as u32,
        frame.y0 as u32,
        frame.width() as u32,
        frame.height() as u32,
    )
    .to_image();
    let longer = cut.width().max(cut.height());
    if longer <= LONGEST_SIDE_PX {
        return cut;
    }
    let shrunk =
        |side: u32| (u64::from(side) * u64::from(LONGEST_SIDE_PX) / u64::from(longer)).max(1);
    let (width, height) = (shrunk(cut.width()) as u32, shrunk(cut.height()) as u32);
    imageops::resize(&cut, width, height, FilterType::Triangle)
}

fn place(point: FilmPoint) -> Point {
    Point::new(point.x, point.y)
}

/// A drawing whose origin is `corner` of the film.
struct FilmDrawing {
    drawing: Drawing,
    corner: Point,
    /// Size of small things.
    unit: f64,
}

impl FilmDrawing {
    fn at(&self, point: FilmPoint) -> Point {
        (place(point) - self.corner).to_point()
    }

    fn pen(&self, ink: Ink, width: f64) -> Pen {
        Pen::solid(ink, width * self.unit).on_film()
    }

    fn reference(&mut self, class: &ClassGrade) {
        for canal in &class.reference.canals {
            for side in 0..2 {
                let edge = canal
                    .picture
                    .band_px
                    .iter()
                    .map(|sides| self.at(sides[side]));
                let edge = polyline(edge.collect::<Vec<_>>());
                let pen = self.pen(Ink::White, 0.7).dashed(Dash::Dotted);
                self.drawing.line(edge, pen);
            }
            let points = canal.points_px.iter().map(|&p| self.at(p.into()));
            let path = polyline(points.collect::<Vec<_>>());
            let pen = self.pen(Ink::White, 1.0).dashed(Dash::Dashed);
            self.drawing.line(path, pen);
            let apex = self.triangle(self.at(canal.picture.apex_px));
            self.drawing.area(apex, Ink::White);
            if let Some(tip) = canal.picture.tip_px {
                let ring = Circle::new(self.at(tip), 3.0 * self.unit);
                self.drawing.area(ring.to_path(0.1), Ink::White);
            }
        }
    }

    fn trace(&mut self, class: &ClassGrade, trace: &TraceGrade) {
        for canal in &trace.canals {
            let stretches = canal.picture.strays_px.iter();
            for &[from, to] in stretches.flat_map(|rungs| rungs.iter().step_by(EVERY_RUNG)) {
                let rung = Line::new(self.at(from), self.at(to)).to_path(0.1);
                let pen = Pen::solid(Ink::Scale, 0.9 * self.unit);
                self.drawing.line(rung, pen);
            }
            let points = canal.picture.path_px.iter().map(|&p| self.at(p));
            let path = polyline(points.collect::<Vec<_>>());
            let pen = self.pen(Ink::Path, 1.1);
            self.drawing.line(path, pen);
            let apex = self.triangle(self.at(canal.picture.apex_px));
            let pen = self.pen(Ink::Path, 0.9);
            self.drawing.line(apex, pen);
            if let Some(tip) = canal.picture.tip_px {
                let ring = Circle::new(self.at(tip), 4.0 * self.unit);
                self.drawing.line(ring.to_path(0.1), pen);
            }
            if class.reference.canals.len() > 1
                && let Some(&start) = canal.picture.path_px.first()
            {
                self.name(self.at(start), &canal.name);
            }
        }
    }

    fn triangle(&self, at: Point) -> kurbo::BezPath {
        let r = 5.0 * self.unit;
        let corner = |x: f64, y: f64| at + Vec2::new(x * r, y * r);
        let mut path = polyline([at, corner(-0.7, 1.4), corner(0.7, 1.4)]);
        path.close_path();
        path
    }

    fn name(&mut self, near: Point, text: &str) {
        let size = 13.0 * self.unit;
        self.drawing.label(Label {
            at: Point::new(near.x, (near.y - 8.0 * self.unit).max(size)),
            text: text.to_owned(),
            size,
            anchor: Anchor::Middle,
            ink: Ink::White,
            bold: true,
            halo: true,
        });
    }
}
