//! The picture of a sheet: the film about the canals, the reference dashed,
//! the student's trace solid, and where it strays.

use image::GrayImage;
use kurbo::{Circle, Line, Point, Shape, Vec2};

use crate::grading::files::ClassGrade;
use crate::grading::grade::TraceGrade;
use crate::report::drawing::{Anchor, Dash, Ink, Label, Pen, polyline};
use crate::report::film_part::{FilmPart, Framing};
use crate::report::model::Figure;
use crate::units::FilmPoint;

/// The film within the sheet: 300 dpi at its size there.
const FRAMING: Framing = Framing {
    room: 0.12,
    least_breadth: 0.75,
    longest_side_px: 1100,
};

/// Every third rung is drawn: all of them would hide the film.
const EVERY_RUNG: usize = 3;

const LEGEND: &str = "Solid: the trace. Dashed: the reference, dotted its spread (± 1 standard \
    deviation). Rungs: where the trace strays. Triangles: apex; rings: file tip; filled: the \
    reference's.";

/// The figure of one trace on the reference's film.
pub fn draw(class: &ClassGrade, trace: &TraceGrade, film: &GrayImage) -> Figure {
    let references = class.reference.canals.iter();
    let wanted =
        references.flat_map(|canal| canal.points_px.iter().map(|&[x, y]| Point::new(x, y)));
    let drawn = trace.canals.iter();
    let drawn = drawn.flat_map(|canal| canal.picture.path_px.iter().map(|&p| place(p)));
    let mut part = FilmPart::about(wanted.chain(drawn), film, FRAMING);
    draw_reference(&mut part, class);
    draw_trace(&mut part, class, trace);
    let canals = trace.canals.len();
    Figure {
        drawing: part.drawing,
        caption: LEGEND.to_owned(),
        alt: format!("The film with {canals} traced canals and the reference."),
    }
}

fn place(point: FilmPoint) -> Point {
    Point::new(point.x, point.y)
}

fn draw_reference(part: &mut FilmPart, class: &ClassGrade) {
    for canal in &class.reference.canals {
        for side in 0..2 {
            let edge = canal
                .picture
                .band_px
                .iter()
                .map(|sides| part.at(place(sides[side])));
            let edge = polyline(edge.collect::<Vec<_>>());
            let pen = part.pen(Ink::White, 0.7).dashed(Dash::Dotted);
            part.drawing.line(edge, pen);
        }
        let points = canal
            .points_px
            .iter()
            .map(|&[x, y]| part.at(Point::new(x, y)));
        let path = polyline(points.collect::<Vec<_>>());
        let pen = part.pen(Ink::White, 1.0).dashed(Dash::Dashed);
        part.drawing.line(path, pen);
        let apex = triangle(part, part.at(place(canal.picture.apex_px)));
        part.drawing.area(apex, Ink::White);
        if let Some(tip) = canal.picture.tip_px {
            let ring = Circle::new(part.at(place(tip)), 3.0 * part.unit);
            part.drawing.area(ring.to_path(0.1), Ink::White);
        }
    }
}

fn draw_trace(part: &mut FilmPart, class: &ClassGrade, trace: &TraceGrade) {
    for canal in &trace.canals {
        let stretches = canal.picture.strays_px.iter();
        for &[from, to] in stretches.flat_map(|rungs| rungs.iter().step_by(EVERY_RUNG)) {
            let rung = Line::new(part.at(place(from)), part.at(place(to))).to_path(0.1);
            let pen = Pen::solid(Ink::Scale, 0.9 * part.unit);
            part.drawing.line(rung, pen);
        }
        let points = canal.picture.path_px.iter().map(|&p| part.at(place(p)));
        let path = polyline(points.collect::<Vec<_>>());
        let pen = part.pen(Ink::Path, 1.1);
        part.drawing.line(path, pen);
        let apex = triangle(part, part.at(place(canal.picture.apex_px)));
        let pen = part.pen(Ink::Path, 0.9);
        part.drawing.line(apex, pen);
        if let Some(tip) = canal.picture.tip_px {
            let ring = Circle::new(part.at(place(tip)), 4.0 * part.unit);
            part.drawing.line(ring.to_path(0.1), pen);
        }
        if class.reference.canals.len() > 1
            && let Some(&start) = canal.picture.path_px.first()
        {
            name(part, part.at(place(start)), &canal.name);
        }
    }
}

fn triangle(part: &FilmPart, at: Point) -> kurbo::BezPath {
    let r = 5.0 * part.unit;
    let corner = |x: f64, y: f64| at + Vec2::new(x * r, y * r);
    let mut path = polyline([at, corner(-0.7, 1.4), corner(0.7, 1.4)]);
    path.close_path();
    path
}

fn name(part: &mut FilmPart, near: Point, text: &str) {
    let size = 13.0 * part.unit;
    part.drawing.label(Label {
        at: Point::new(near.x, (near.y - 8.0 * part.unit).max(size)),
        text: text.to_owned(),
        size,
        anchor: Anchor::Middle,
        ink: Ink::White,
        bold: true,
        halo: true,
    });
}
