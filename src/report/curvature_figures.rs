//! The construction of every curvature method, and the curvature graph.

use kurbo::{Affine, BezPath, ParamCurve, Point, Rect, Shape, Size, Vec2};

use super::drawing::{Anchor, Dash, Drawing, Ink, Label, Pen, polyline};
use super::measured_case::MeasuredCase;
use super::model::Figure;
use crate::curvature::profile::CurvatureProfile;
use crate::curvature::{Construction, Method};
use crate::geometry::StraightArcPath;
use crate::uncertainty::rounding::fixed;

/// Width of a construction picture; its height follows the canal.
const CONSTRUCTION_WIDTH: f64 = 100.0;
/// Proportions a construction picture keeps to: height / width. What reaches
/// beyond, such as the far end of a radius, is cut off.
const TALLEST: f64 = 1.6;
/// Steps a construction line is cut at.
const LINE_STEPS: u32 = 200;

/// A graph is drawn as wide as it is printed, pt.
const GRAPH_WIDTH: f64 = 197.0;
/// Height the graphs of all canals share, and the least and most of one.
const GRAPHS_HEIGHT: f64 = 250.0;
const GRAPH_HEIGHTS: std::ops::RangeInclusive<f64> = 66.0..=118.0;
/// What a graph leaves about its plot for the axes: left, top, right, below.
const AXES: (f64, f64, f64, f64) = (28.0, 4.0, 4.0, 21.0);
const GRAPH_TEXT: f64 = 7.6;

/// Draws of the fit for the graph's band.
const BAND_DRAWS: usize = 300;
/// Samples along the graph.
const GRAPH_SAMPLES: f64 = 150.0;

/// One picture per method, in the order of [`Method::ALL`]; none where a method
/// has no construction on this canal.
pub fn constructions(measured: &MeasuredCase, canal: usize) -> Vec<Option<Figure>> {
    let (Ok(bends), Ok(drawn)) = (
        measured.model.bends(canal),
        measured.model.constructions(canal),
    ) else {
        return vec![None; Method::ALL.len()];
    };
    let of_method = |method: Method| {
        let construction = drawn
            .iter()
            .find(|c| c.method == method && c.missing.is_none())?;
        Some(Figure {
            drawing: construction_drawing(bends.path_fit().path(), construction),
            caption: String::new(),
            alt: format!(
                "Construction of the {} method on canal {}.",
                method.name(),
                measured.findings.canals[canal].name
            ),
        })
    };
    Method::ALL.map(of_method).to_vec()
}

fn construction_drawing(path: &StraightArcPath, construction: &Construction) -> Drawing {
    let outline = path.to_bez_path(path.length() * 1e-4);
    let bounds = outline.bounding_box();
    let margin = bounds.size().max_side() * 0.08;
    let frame = with_proportions(bounds.inflate(margin, margin));
    let scale = CONSTRUCTION_WIDTH / frame.width();
    let place = Affine::scale(scale) * Affine::translate(-frame.origin().to_vec2());
    let mut drawing = Drawing::new(Size::new(CONSTRUCTION_WIDTH, frame.height() * scale));

    let thin = Pen::solid(Ink::Black, 1.0);
    for circle in &construction.circles {
        for piece in inside(&(place * circle.to_path(1e-3)), drawing.size.to_rect()) {
            drawing.line(piece, thin.dashed(Dash::Dotted));
        }
    }
    drawing.line(place * outline, Pen::solid(Ink::Grey, 3.4));
    for line in &construction.lines {
        let line = place * *line;
        let steps = (0..=LINE_STEPS).map(|k| line.eval(f64::from(k) / f64::from(LINE_STEPS)));
        for piece in inside(&polyline(steps), drawing.size.to_rect()) {
            drawing.line(piece, thin);
        }
    }
    for (_, point) in &construction.points {
        let dot = kurbo::Circle::new(place * *point, 2.2);
        drawing.area(dot.to_path(0.05), Ink::Black);
    }
    drawing
}

/// The frame widened to proportions that stand well in a row.
fn with_proportions(frame: Rect) -> Rect {
    let least_width = frame.height() / TALLEST;
    let more = ((least_width - frame.width()) / 2.0).max(0.0);
    frame.inflate(more, 0.0)
}

/// The pieces of a path inside `window`, as polylines.
fn inside(path: &BezPath, window: Rect) -> Vec<BezPath> {
    let mut pieces: Vec<BezPath> = Vec::new();
    let mut open = false;
    kurbo::flatten(path, 0.05, |element| {
        let point = match element {
            kurbo::PathEl::MoveTo(p) | kurbo::PathEl::LineTo(p) => p,
            _ => return,
        };
        if !window.contains(point) {
            open = false;
        } else if open {
            if let Some(piece) = pieces.last_mut() {
                piece.line_to(point);
            }
        } else {
            open = true;
            let mut piece = BezPath::new();
            piece.move_to(point);
            pieces.push(piece);
        }
    });
    pieces
}

/// The graphs of several canals, of a height that lets them stand under each
/// other.
pub fn graphs(
    measured: &MeasuredCase,
    canals: impl ExactSizeIterator<Item = usize>,
) -> Vec<Figure> {
    let (least, most) = (*GRAPH_HEIGHTS.start(), *GRAPH_HEIGHTS.end());
    let height = (GRAPHS_HEIGHT / canals.len().max(1) as f64).clamp(least, most);
    let mut graphs: Vec<Figure> = canals
        .filter_map(|canal| graph(measured, canal, height))
        .collect();
    if let Some(last) = graphs.last_mut() {
        last.caption += ". Curvature of the fitted path, positive clockwise on the film; grey: \
                         95 % band.";
    }
    graphs
}

/// Curvature against distance from the apex, with its 95 % band.
fn graph(measured: &MeasuredCase, canal: usize, height: f64) -> Option<Figure> {
    let bends = measured.model.bends(canal).ok()?;
    let fit = bends.path_fit();
    let length = fit.path().length();
    let step = length / GRAPH_SAMPLES;
    let profile = CurvatureProfile::of(fit, step, BAND_DRAWS, measured.case.seed);
    // Degrees per mm, or per px without a scale.
    let per_unit = measured.detector_per_mm();
    let (factor, unit) = match per_unit {
        Some(per_mm) => (per_mm.to_degrees(), "mm"),
        None => (1.0_f64.to_degrees(), "px"),
    };
    let along = |from_apex: f64| from_apex / per_unit.unwrap_or(1.0);
    let name = &measured.findings.canals[canal].name;

    let samples: Vec<[f64; 4]> = profile
        .samples
        .iter()
        .map(|s| [along(s.from_apex), s.curvature, s.low, s.high])
        .map(|[x, value, low, high]| [x, value * factor, low * factor, high * factor])
        .collect();
    let reach = samples
        .iter()
        .flat_map(|[_, values @ ..]| values.iter().copied())
        .filter(|v| v.is_finite())
        .fold(0.0_f64, |most, v| most.max(v.abs()));
    let axes = Axes {
        x_most: along(length),
        y_most: if reach > 0.0 { reach * 1.08 } else { 1.0 },
        size: Size::new(GRAPH_WIDTH, height),
    };
    let mut drawing = Drawing::new(axes.size);
    if samples
        .iter()
        .all(|[_, _, low, high]| low.is_finite() && high.is_finite())
    {
        let upper = samples.iter().map(|&[x, _, _, high]| axes.place(x, high));
        let lower = samples
            .iter()
            .rev()
            .map(|&[x, _, low, _]| axes.place(x, low));
        let mut band = polyline(upper.chain(lower));
        band.close_path();
        drawing.area(band, Ink::PaleGrey);
    }
    axes.draw(&mut drawing, unit);
    let line = polyline(samples.iter().map(|&[x, value, ..]| axes.place(x, value)));
    drawing.line(line, Pen::solid(Ink::Black, 1.6));
    Some(Figure {
        drawing,
        caption: format!("Canal {name}, ° per {unit}"),
        alt: format!("Graph of curvature against distance from the apex, canal {name}."),
    })
}

/// Axes of the graph: x from 0 at the apex on the left, y about 0.
struct Axes {
    x_most: f64,
    y_most: f64,
    /// Of the whole graph.
    size: Size,
}

impl Axes {
    /// Where the curves stand in the graph.
    fn plot(&self) -> Rect {
        let (left, top, right, below) = AXES;
        Rect::new(left, top, self.size.width - right, self.size.height - below)
    }

    fn place(&self, x: f64, y: f64) -> Point {
        let (plot, up) = (self.plot(), (y / self.y_most + 1.0) / 2.0);
        Point::new(
            plot.x0 + plot.width() * x / self.x_most,
            plot.y1 - plot.height() * up,
        )
    }

    fn draw(&self, drawing: &mut Drawing, unit: &str) {
        let pen = Pen::solid(Ink::Grey, 0.8);
        let mut frame = self.plot().to_path(0.1);
        frame.close_path();
        drawing.line(frame, pen);
        let zero = [self.place(0.0, 0.0), self.place(self.x_most, 0.0)];
        drawing.line(polyline(zero), pen.dashed(Dash::Dotted));
        let x_ticks = Ticks::up_to(self.x_most, 5);
        let lines_above = self.plot().height() / 2.0 / (1.2 * GRAPH_TEXT);
        let y_ticks = Ticks::up_to(self.y_most, lines_above.clamp(1.0, 5.0) as usize);
        for x in x_ticks.values() {
            let at = self.place(x, -self.y_most);
            drawing.line(polyline([at, at + Vec2::new(0.0, 3.0)]), pen);
            let below = at + Vec2::new(0.0, 3.0 + GRAPH_TEXT);
            drawing.label(text(below, x_ticks.text(x), Anchor::Middle));
        }
        let below = y_ticks.values().skip(1).map(|y| -y);
        for y in y_ticks.values().chain(below) {
            let at = self.place(0.0, y);
            drawing.line(polyline([at, at - Vec2::new(3.0, 0.0)]), pen);
            let left = at + Vec2::new(-5.0, GRAPH_TEXT * 0.36);
            drawing.label(text(left, y_ticks.text(y), Anchor::End));
        }
        let middle = Point::new(self.plot().center().x, self.size.height - 2.0);
        drawing.label(text(
            middle,
            format!("{unit} from the apex"),
            Anchor::Middle,
        ));
    }
}

/// Multiples of 1, 2 or 5 · 10ⁿ from zero up to a limit.
struct Ticks {
    step: f64,
    count: usize,
}

impl Ticks {
    /// At most `count` beside zero.
    fn up_to(most: f64, count: usize) -> Self {
        let wanted = count as f64;
        let decade = 10.0_f64.powf((most / wanted).log10().floor());
        let step = [1.0, 2.0, 5.0, 10.0]
            .map(|m| m * decade)
            .into_iter()
            .find(|step| most / step < wanted + 1.0)
            .unwrap_or(most);
        Self {
            step,
            count: (most / step).floor().min(wanted) as usize,
        }
    }

    fn values(&self) -> impl Iterator<Item = f64> + use<> {
        let step = self.step;
        (0..=self.count).map(move |k| k as f64 * step)
    }

    fn text(&self, value: f64) -> String {
        fixed(value, (-self.step.log10().floor()).clamp(0.0, 9.0) as usize)
    }
}

fn text(at: Point, text: String, anchor: Anchor) -> Label {
    Label {
        at,
        text,
        size: GRAPH_TEXT,
        anchor,
        ink: Ink::Black,
        bold: false,
        halo: false,
    }
}
