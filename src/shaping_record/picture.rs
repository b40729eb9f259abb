//! The first picture with both outlines over each other and what was removed
//! on each side.

use image::GrayImage;
use kurbo::{BezPath, Point, Vec2};

use crate::case::{Canal, Walls};
use crate::geometry::DrawnCurve;
use crate::report::drawing::{Anchor, Dash, Ink, Label, Pen, polyline};
use crate::report::film_part::{FilmPart, Framing};
use crate::report::model::Figure;
use crate::shaping::{CanalShaping, Pair};

/// The film within the record: 300 dpi at its size there.
const FRAMING: Framing = Framing {
    room: 0.15,
    least_breadth: 0.5,
    longest_side_px: 1200,
};
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
    if trace.is_empty() {
        return None;
    }
    let mut part = FilmPart::about(trace.iter().copied(), film, FRAMING);
    if let (Some(before), Some(after)) = (&before.walls, &after.walls) {
        let first = outlines(before, |p| on_film(pair.before_mm(p)));
        let second = outlines(after, |p| on_film(pair.after_mm(p, &transform)));
        draw_removal(&mut part, &first, &second);
    }
    draw_levels(&mut part, &trace, shaping, pair);
    Some(Figure {
        drawing: part.drawing,
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

fn draw_removal(part: &mut FilmPart, before: &[Vec<Point>; 2], after: &[Vec<Point>; 2]) {
    let on_page = |points: &[Point]| points.iter().map(|&p| part.at(p)).collect::<Vec<_>>();
    let (mut areas, mut lines) = (Vec::new(), Vec::new());
    for (side, ink) in [(0, Ink::Landmark), (1, Ink::PaleGrey)] {
        let (inner, outer) = (on_page(&before[side]), on_page(&after[side]));
        let mut area: BezPath = polyline(inner.iter().copied());
        for p in outer.iter().rev() {
            area.line_to(*p);
        }
        area.close_path();
        areas.push((area, ink));
    }
    for (walls, dash) in [(before, Dash::Solid), (after, Dash::Dashed)] {
        for wall in walls {
            let pen = part.pen(Ink::Path, 1.1).dashed(dash);
            lines.push((polyline(on_page(wall)), pen));
        }
    }
    for (area, ink) in areas {
        part.drawing.area(area, ink);
    }
    for (line, pen) in lines {
        part.drawing.line(line, pen);
    }
}

fn draw_levels(part: &mut FilmPart, trace: &[Point], shaping: &CanalShaping, pair: &Pair) {
    let Ok(curve) = DrawnCurve::through(trace) else {
        return;
    };
    let px_per_mm = pair.px_per_mm();
    for level in &shaping.levels {
        let at = curve.length() - level.from_end_mm * px_per_mm;
        if at < 0.0 {
            continue;
        }
        let place = part.at(curve.point_at_length(at));
        let across = curve.tangent_at_length(at).turn_90();
        let tick = |from: f64, to: f64| {
            polyline([
                place + across * from * part.unit,
                place + across * to * part.unit,
            ])
        };
        let whole = (level.from_end_mm - level.from_end_mm.round()).abs() < 1e-6;
        let long = if whole { 30.0 } else { 24.0 };
        part.drawing.line(
            tick(18.0, long),
            Pen::solid(Ink::Scale, part.unit).on_film(),
        );
        if whole && (level.from_end_mm.round() as i64) % 2 == 0 {
            part.drawing.label(Label {
                at: place + across * 40.0 * part.unit + Vec2::new(0.0, 4.0 * part.unit),
                text: format!("{:.0}", level.from_end_mm),
                size: 13.0 * part.unit,
                anchor: Anchor::Middle,
                ink: Ink::Scale,
                bold: false,
                halo: true,
            });
        }
    }
    for finding in &shaping.findings {
        let at = curve.length() - finding.from_end_mm * px_per_mm;
        let place = part.at(curve.point_at_length(at.max(0.0)));
        let across = curve.tangent_at_length(at.max(0.0)).turn_90();
        part.drawing.label(Label {
            at: place - across * 34.0 * part.unit,
            text: finding.kind.words().to_owned(),
            size: 14.0 * part.unit,
            anchor: Anchor::Middle,
            ink: Ink::Landmark,
            bold: true,
            halo: true,
        });
    }
}
