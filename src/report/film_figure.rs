//! The annotated film: paths, landmarks, length ruler and scale objects over
//! the film at full resolution. One drawing unit is one film px.

use std::sync::Arc;

use kurbo::{Circle, Line, Point, Rect, Shape, Size, Vec2};

use super::drawing::{Anchor, Dash, Drawing, Ink, Label, Pen, polyline};
use super::font::{CAP_HEIGHT, Face};
use super::measured_case::MeasuredCase;
use super::numbers;
use super::path_on_film::PathOnFilm;
use super::picture;
use crate::calibration::DetectorFrame;
use crate::case::{Canal, Case, LANDMARKS, Outline, ScaleObject, ScaleObjectKind, Stroke};
use crate::measure::findings::CanalFindings;
use crate::units::FilmPoint;

/// What the marks mean, for the caption.
pub fn legend() -> String {
    let signs = LANDMARKS.iter().filter_map(|row| row.legend);
    format!(
        "Solid line: canal path. {} Ticks every 1 mm, longer every 5 mm: right of the path from \
         the apex, left of it from the reference point. Bars across: thirds. Diamonds: start and \
         end of each bend. Dashed: objects of known size.",
        signs.collect::<Vec<_>>().join(" ")
    )
}

/// No tooth is longer; a wrong scale must not fill the film with ticks.
const LONGEST_RULER_MM: f64 = 60.0;

/// What the lettering must be legible on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lettering {
    /// A screen that shows the film whole or enlarged.
    Picture,
    /// A printed page, on which the film is a few centimetres large.
    Page,
}

impl Lettering {
    /// Font size as a share of the film's longer side.
    fn share(self) -> f64 {
        match self {
            Lettering::Picture => 0.022,
            Lettering::Page => 0.034,
        }
    }
}

/// The film with everything that was placed and measured on it.
pub fn draw(measured: &MeasuredCase, lettering: Lettering) -> Drawing {
    let (film, findings) = (&measured.film.film, measured.findings);
    let size = Size::new(f64::from(film.width_px()), f64::from(film.height_px()));
    let mut page = Annotator::new(size, Arc::new(picture::for_viewing(film)), lettering);
    page.scale_objects(measured.case);
    let canals = || measured.case.canals.iter().zip(&findings.canals);
    for (canal, found) in canals() {
        page.canal(
            measured.model.frame,
            canal,
            found,
            measured.detector_per_mm(),
        );
    }
    let middle = canals()
        .filter_map(|(canal, _)| Some(end_of(canal)?.x))
        .sum::<f64>()
        / (findings.canals.len().max(1) as f64);
    for (canal, found) in canals() {
        page.canal_labels(canal, found, middle);
    }
    for object in &measured.case.scale.objects {
        page.scale_object_label(object);
    }
    page.scale_bar(findings.scale.mm_per_px);
    page.drawing
}

fn end_of(canal: &Canal) -> Option<Point> {
    canal.apex_px.or(canal.trace_px.last().copied()).map(place)
}

/// A drawing in progress with the places its labels already take.
struct Annotator {
    drawing: Drawing,
    taken: Vec<Rect>,
    /// Size of small things: the film's longer side / 500.
    unit: f64,
    lettering: Lettering,
    /// Font size of the labels.
    letters: f64,
}

impl Annotator {
    fn new(size: Size, film: Arc<image::GrayImage>, lettering: Lettering) -> Self {
        let unit = (size.max_side() / 500.0).max(0.5);
        Self {
            drawing: Drawing {
                film: Some(film),
                ..Drawing::new(size)
            },
            taken: Vec::new(),
            unit,
            lettering,
            letters: lettering.share() * 500.0 * unit,
        }
    }

    fn pen(&self, ink: Ink, width: f64) -> Pen {
        Pen::solid(ink, width * self.unit).on_film()
    }

    fn scale_objects(&mut self, case: &Case) {
        let pen = self.pen(Ink::Scale, 1.2).dashed(Dash::Dashed);
        for object in &case.scale.objects {
            let points: Vec<Point> = object.points_px.iter().map(|&p| place(p)).collect();
            let (Some(&first), Some(&last)) = (points.first(), points.last()) else {
                continue;
            };
            match object.kind.row().outline {
                Outline::Circle if points.len() == 2 => {
                    let circle = Circle::new(first.midpoint(last), first.distance(last) / 2.0);
                    self.drawing.line(circle.to_path(0.1), pen);
                }
                Outline::Circle | Outline::Line => self.drawing.line(polyline(points), pen),
            }
        }
    }

    fn scale_object_label(&mut self, object: &ScaleObject) {
        let known = object.known_size_mm();
        let (Some(&first), Some(&last), Some(mm)) =
            (object.points_px.first(), object.points_px.last(), known)
        else {
            return;
        };
        // A file is named at its stop, which stands clear of the roots.
        let at = match object.kind {
            ScaleObjectKind::File => place(first),
            _ => place(first).midpoint(place(last)),
        };
        let text = format!("{} {} mm", object.kind.row().code, numbers::chart(mm));
        self.place_label(at, text, Ink::Scale, Vec2::new(1.0, 0.0));
    }

    /// `units_per_mm`: detector units per true mm.
    fn canal(
        &mut self,
        frame: DetectorFrame,
        canal: &Canal,
        found: &CanalFindings,
        units_per_mm: Option<f64>,
    ) {
        let Some(path) = PathOnFilm::new(frame, canal) else {
            self.landmarks(canal);
            return;
        };
        if let Some(reference) = canal.reference_px {
            let lead = polyline([place(reference), path.start()]);
            let pen = self.pen(Ink::Path, 1.0).dashed(Dash::Dotted);
            self.drawing.line(lead, pen);
        }
        if let Some(units_per_mm) = units_per_mm {
            self.ruler(&path, units_per_mm);
            self.thirds(&path);
        }
        let pen = self.pen(Ink::Path, 1.2);
        self.drawing.line(path.outline(), pen);
        if let (Some(units_per_mm), Some(curvature)) = (units_per_mm, &found.curvature) {
            let ends = curvature
                .curves
                .iter()
                .flat_map(|curve| [curve.start_from_apex_mm, curve.end_from_apex_mm]);
            for from_apex_mm in ends.flatten() {
                if let Some((point, _)) = path.at_from_end(from_apex_mm * units_per_mm) {
                    self.diamond(point);
                }
            }
        }
        self.landmarks(canal);
    }

    /// Ticks every 1 mm: on the right from the apex, on the left from the
    /// reference point.
    fn ruler(&mut self, path: &PathOnFilm, units_per_mm: f64) {
        let whole_mm = (path.length() + path.lead()) / units_per_mm;
        for mm in 1..=(whole_mm.min(LONGEST_RULER_MM) as u32) {
            let distance = f64::from(mm) * units_per_mm;
            if let Some((point, right)) = path.at_from_end(distance) {
                self.tick(point, right, mm);
            }
            if let Some((point, right)) = path.at_from_reference(distance) {
                self.tick(point, -right, mm);
            }
        }
    }

    fn tick(&mut self, at: Point, towards: Vec2, mm: u32) {
        let reach = if mm.is_multiple_of(5) { 6.5 } else { 3.5 } * self.unit;
        let pen = self.pen(Ink::Landmark, 0.6);
        self.drawing
            .line(Line::new(at, at + towards * reach).to_path(0.1), pen);
    }

    fn thirds(&mut self, path: &PathOnFilm) {
        let pen = self.pen(Ink::Landmark, 1.2);
        for share in [1.0, 2.0] {
            if let Some((point, right)) = path.at_from_end(path.length() * share / 3.0) {
                let reach = right * 7.5 * self.unit;
                self.drawing
                    .line(Line::new(point - reach, point + reach).to_path(0.1), pen);
            }
        }
    }

    fn diamond(&mut self, at: Point) {
        let r = 3.0 * self.unit;
        let mut path = polyline([at + (0.0, -r), at + (r, 0.0), at + (0.0, r), at + (-r, 0.0)]);
        path.close_path();
        let pen = self.pen(Ink::Landmark, 0.8);
        self.drawing.line(path, pen);
    }

    fn landmarks(&mut self, canal: &Canal) {
        let pen = self.pen(Ink::Landmark, 1.0);
        for row in &LANDMARKS {
            let Some(at) = row.landmark.of(canal).map(place) else {
                continue;
            };
            let corner = |&[x, y]: &[f64; 2]| at + Vec2::new(x, y) * self.unit;
            let strokes: Vec<_> = row
                .on_record
                .iter()
                .map(|stroke| match stroke {
                    Stroke::Open(corners) => polyline(corners.iter().map(corner)),
                    Stroke::Closed(corners) => {
                        let mut outline = polyline(corners.iter().map(corner));
                        outline.close_path();
                        outline
                    }
                    Stroke::Ring(radius) => Circle::new(at, radius * self.unit).to_path(0.1),
                })
                .collect();
            for stroke in strokes {
                self.drawing.line(stroke, pen);
            }
        }
    }

    /// Labels stand outwards of the middle between the canals.
    fn canal_labels(&mut self, canal: &Canal, found: &CanalFindings, middle_x: f64) {
        let start = canal.reference_px.or(canal.trace_px.first().copied());
        let end = end_of(canal);
        let outwards = match end {
            Some(end) if end.x < middle_x => -1.0,
            _ => 1.0,
        };
        if let Some(start) = start {
            let text = match found.working_length_chart_mm {
                Some(mm) => format!("{}  {} mm", canal.name, numbers::chart(mm)),
                None => canal.name.clone(),
            };
            self.place_label(place(start), text, Ink::White, Vec2::new(outwards, -1.0));
        }
        if let (Some(end), Some(distance)) = (end, found.tip_to_apex_mm) {
            let tip = match self.lettering {
                Lettering::Picture => numbers::with_uncertainty(distance),
                // The table beside it has the rest.
                Lettering::Page => numbers::rounded_by_uncertainty(distance),
            };
            let text = format!("{} tip {tip} mm", canal.name);
            self.place_label(end, text, Ink::White, Vec2::new(outwards, 1.0));
        }
    }

    /// Puts a label beside a point, on the side of `towards` where it fits,
    /// clear of the labels placed before.
    fn place_label(&mut self, near: Point, text: String, ink: Ink, towards: Vec2) {
        let size = self.letters;
        let gap = 10.0 * self.unit;
        let width = Face::Bold.width(&text, size);
        let height = size * CAP_HEIGHT;
        let canvas = self.drawing.size;
        let margin = 0.3 * size;
        let fits_right = near.x + gap + width + margin <= canvas.width;
        let fits_left = near.x - gap - width >= margin;
        let right = if towards.x > 0.0 {
            fits_right
        } else {
            !fits_left
        };
        let x = if right {
            near.x + gap
        } else {
            near.x - gap - width
        }
        .clamp(margin, (canvas.width - width - margin).max(margin));
        let top_least = margin;
        let top_most = (canvas.height - height - margin).max(top_least);
        let wanted = near.y + towards.y * gap * 0.6 - height / 2.0;
        let step = height * 1.6;
        let free_top = (0..40)
            .map(|i| {
                let offset = f64::from((i + 1) / 2) * step;
                let sign = if i % 2 == 0 { 1.0 } else { -1.0 };
                (wanted + sign * offset).clamp(top_least, top_most)
            })
            .find(|&top| {
                let place = Rect::new(x, top, x + width, top + height).inset(margin);
                self.taken.iter().all(|other| !other.overlaps(place))
            })
            .unwrap_or(wanted.clamp(top_least, top_most));
        self.taken
            .push(Rect::new(x, free_top, x + width, free_top + height));
        self.drawing.label(Label {
            at: Point::new(x, free_top + height),
            text,
            size,
            anchor: Anchor::Start,
            ink,
            bold: true,
            halo: true,
        });
    }

    fn scale_bar(&mut self, mm_per_px: Option<f64>) {
        let canvas = self.drawing.size;
        let margin = 12.0 * self.unit;
        let left = Point::new(margin, canvas.height - margin);
        let Some(mm_per_px) = mm_per_px.filter(|s| *s > 0.0) else {
            self.place_label(
                left,
                "no scale: px only".to_owned(),
                Ink::White,
                Vec2::new(1.0, 0.0),
            );
            return;
        };
        let bar_mm = if 5.0 / mm_per_px < canvas.width / 2.0 {
            5.0
        } else {
            1.0
        };
        let right = left + (bar_mm / mm_per_px, 0.0);
        let up = Vec2::new(0.0, -4.0 * self.unit);
        let bar = polyline([left + up, left, right, right + up]);
        let pen = self.pen(Ink::White, 1.4);
        self.drawing.line(bar, pen);
        self.place_label(
            right,
            format!("{bar_mm:.0} mm"),
            Ink::White,
            Vec2::new(1.0, 0.0),
        );
    }
}

fn place(point: FilmPoint) -> Point {
    Point::new(point.x, point.y)
}
