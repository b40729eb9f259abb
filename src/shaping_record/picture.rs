//! The first picture with both outlines over each other and what was removed
//! on each side.

use std::sync::Arc;

use image::GrayImage;
use image::imageops::{self, FilterType};
use kurbo::{BezPath, Point, Rect, Vec2};

use crate::case::{Canal, Walls};
use crate::geometry::DrawnCurve;
use crate::report::drawing::{Anchor, Dash, Drawing, Ink, Label, Pen, polyline};
use crate::report::model::Figure;
use crate::shaping::{CanalShaping, Pair};

/// What is shown around the canal, as a share of its extent.
const ROOM: f64 = 0.15;
/// Broadest the picture is against its height, so that labels have room.
const LEAST_BREADTH: f64 = 0.5;
/// Longest side of the film within the record, px: 300 dpi at its size there.
const LONGEST_SIDE_PX: u32 = 1200;
/// Steps at which outlines are drawn.
const STEPS: u32 = 150;

const LEGEND: &str = "Solid: the walls before; dashed: after. Dark fill: removed on the left; pale \
    fill: removed on the right, seen from the orifice towards the end. Ticks: levels in mm from \
    the end.";

/// The figure of one canal on the film before; `None` without a drawable canal.
pub fn figure(pair: &Pair, shaping: &CanalShaping, film: &GrayImage) -> Option<Figure> {
    let find = |canals: &[Canal]| canals.iter().find(|c| c.name == shaping.name).cloned();
    let before = find(&pair.before.case.canals)?;
    let after = find(&pair.after.case.canals)?;
    let transform = pair.registration.transform;
    let on_film = |place_mm: Point| {
        let p = pair.film_from_mm(place_mm);
        Point::new(p.x, p.y)
    };
    let trace: Vec<Point> = before
        .trace_px
        .iter()
        .map(|p| Point::new(p.x, p.y))
        .collect();
    let extent = trace
        .iter()
        .map(|&p| Rect::from_points(p, p))
        .reduce(|a, b| a.union(b))?;
    let frame = frame(extent, film);
    let mut page = FilmDrawing {
        corner: frame.origin().to_vec2(),
        unit: frame.size().max_side() / 500.0,
        drawing: Drawing {
            film: Some(Arc::new(cut(film, frame))),
            ..Drawing::new(frame.size())
        },
    };
    if let (Some(before), Some(after)) = (&before.walls, &after.walls) {
        let first = outlines(before, |p| on_film(pair.before_mm(p)));
        let second = outlines(after, |p| on_film(pair.after_mm(p, &transform)));
        page.removal(&first, &second);
    }
    page.levels(&trace, shaping, pair);
    Some(Figure {
        drawing: page.drawing,
        caption: LEGEND.to_owned(),
        alt: format!(
            "Canal {} before and after shaping, laid over each other.",
            shaping.name
        ),
    })
}

/// Left and right wall as closely spaced points.
fn outlines(walls: &Walls, place: impl Fn(crate::units::FilmPoint) -> Point) -> [Vec<Point>; 2] {
    [&walls.left_px, &walls.right_px].map(|points| {
        let points: Vec<Point> = points.iter().map(|&p| place(p)).collect();
        match DrawnCurve::through(&points) {
            Ok(curve) => {
                let at = |i: u32| curve.length() * f64::from(i) / f64::from(STEPS);
                (0..=STEPS).map(|i| curve.point_at_length(at(i))).collect()
            }
            Err(_) => points,
        }
    })
}

fn frame(extent: Rect, film: &GrayImage) -> Rect {
    let whole = Rect::new(0.0, 0.0, f64::from(film.width()), f64::from(film.height()));
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
    let (width, height) = (frame.width() as u32, frame.height() as u32);
    let cut = imageops::crop_imm(film, frame.x0 as u32, frame.y0 as u32, width, height).to_image();
    let longer = cut.width().max(cut.height());
    if longer <= LONGEST_SIDE_PX {
        return cut;
    }
    let shrunk = |side: u32| {
        (u64::from(side) * u64::from(LONGEST_SIDE_PX) / u64::from(longer)).max(1) as u32
    };
    imageops::resize(&cut, shrunk(width), shrunk(height), FilterType::Triangle)
}

/// A drawing whose origin is `corner` of the film.
struct FilmDrawing {
    drawing: Drawing,
    corner: Vec2,
    /// Size of small things.
    unit: f64,
}

impl FilmDrawing {
    fn removal(&mut self, before: &[Vec<Point>; 2], after: &[Vec<Point>; 2]) {
        let corner = self.corner;
        let on_page = |points: &[Point]| points.iter().map(|p| *p - corner).collect::<Vec<_>>();
        for (side, ink) in [(0, Ink::Landmark), (1, Ink::PaleGrey)] {
            let (inner, outer) = (on_page(&before[side]), on_page(&after[side]));
            let mut area: BezPath = polyline(inner.iter().copied());
            for p in outer.iter().rev() {
                area.line_to(*p);
            }
            area.close_path();
            self.drawing.area(area, ink);
        }
        for (walls, dash) in [(before, Dash::Solid), (after, Dash::Dashed)] {
            for wall in walls {
                let pen = Pen::solid(Ink::Path, 1.1 * self.unit)
                    .dashed(dash)
                    .on_film();
                self.drawing.line(polyline(on_page(wall)), pen);
            }
        }
    }

    fn levels(&mut self, trace: &[Point], shaping: &CanalShaping, pair: &Pair) {
        let Ok(curve) = DrawnCurve::through(trace) else {
            return;
        };
        let px_per_mm = pair.px_per_mm();
        for level in &shaping.levels {
            let at = curve.length() - level.from_end_mm * px_per_mm;
            if at < 0.0 {
                continue;
            }
            let place = curve.point_at_length(at) - self.corner;
            let across = curve.tangent_at_length(at).turn_90();
            let tick = |from: f64, to: f64| {
                polyline([
                    place + across * from * self.unit,
                    place + across * to * self.unit,
                ])
            };
            let whole = (level.from_end_mm - level.from_end_mm.round()).abs() < 1e-6;
            let long = if whole { 30.0 } else { 24.0 };
            self.drawing.line(
                tick(18.0, long),
                Pen::solid(Ink::Scale, self.unit).on_film(),
            );
            if whole && (level.from_end_mm.round() as i64) % 2 == 0 {
                self.drawing.label(Label {
                    at: place + across * 40.0 * self.unit + Vec2::new(0.0, 4.0 * self.unit),
                    text: format!("{:.0}", level.from_end_mm),
                    size: 13.0 * self.unit,
                    anchor: Anchor::Middle,
                    ink: Ink::Scale,
                    bold: false,
                    halo: true,
                });
            }
        }
        for finding in &shaping.findings {
            let at = curve.length() - finding.from_end_mm * px_per_mm;
            let place = curve.point_at_length(at.max(0.0)) - self.corner;
            let across = curve.tangent_at_length(at.max(0.0)).turn_90();
            self.drawing.label(Label {
                at: place - across * 34.0 * self.unit,
                text: finding.kind.words().to_owned(),
                size: 14.0 * self.unit,
                anchor: Anchor::Middle,
                ink: Ink::Landmark,
                bold: true,
                halo: true,
            });
        }
    }
}
