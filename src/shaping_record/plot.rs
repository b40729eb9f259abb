//! Removal, transport and centring against the level.

use kurbo::{Point, Rect, Size};

use crate::report::drawing::{Anchor, Dash, Drawing, Ink, Label, Pen, polyline};
use crate::report::model::Figure;
use crate::shaping::{CanalShaping, LevelFinding};
use crate::units::Quantity;

const SIZE: Size = Size::new(230.0, 105.0);
/// What a plot leaves for its axes: left, top, right, below.
const AXES: (f64, f64, f64, f64) = (30.0, 12.0, 6.0, 20.0);
const TEXT: f64 = 7.6;

type Of = fn(&LevelFinding) -> Option<Quantity>;

/// The plots of one canal; none without levels.
pub fn figures(shaping: &CanalShaping) -> Vec<Figure> {
    if shaping.levels.len() < 2 {
        return Vec::new();
    }
    let removal: [(Of, Dash); 2] = [
        (|l| l.removed_left_mm, Dash::Solid),
        (|l| l.removed_right_mm, Dash::Dashed),
    ];
    let transport: [(Of, Dash); 1] = [(|l| l.transport_mm, Dash::Solid)];
    let centring: [(Of, Dash); 1] = [(
        |l| {
            let value = l.centring_ratio?;
            let u95 = l.centring_ratio_u95.unwrap_or(0.0);
            Some(Quantity { value, u95 })
        },
        Dash::Solid,
    )];
    vec![
        plot(shaping, &removal, "Removed, mm: left solid, right dashed"),
        plot(
            shaping,
            &transport,
            "Transport, mm: positive towards the left",
        ),
        plot(shaping, &centring, "Centring ratio: 1 is centred"),
    ]
}

fn plot(shaping: &CanalShaping, series: &[(Of, Dash)], title: &str) -> Figure {
    let levels = &shaping.levels;
    let values = series
        .iter()
        .flat_map(|(of, _)| levels.iter().filter_map(of));
    let (low, high) = values.fold((0.0_f64, 0.1_f64), |(low, high), q| {
        (low.min(q.value - q.u95), high.max(q.value + q.u95))
    });
    let step = round_step((high - low) / 4.0);
    let (low, high) = ((low / step).floor() * step, (high / step).ceil() * step);
    let farthest = levels.last().map_or(1.0, |l| l.from_end_mm).max(1e-6);
    let area = Rect::new(AXES.0, AXES.1, SIZE.width - AXES.2, SIZE.height - AXES.3);
    let at = |from_end: f64, value: f64| {
        Point::new(
            area.x0 + area.width() * from_end / farthest,
            area.y1 - area.height() * (value - low) / (high - low),
        )
    };
    let mut drawing = Drawing::new(SIZE);
    let label = |at: Point, text: String, anchor: Anchor| Label {
        at,
        text,
        size: TEXT,
        anchor,
        ink: Ink::Black,
        bold: false,
        halo: false,
    };
    let lines = ((high - low) / step).round() as i32;
    for i in 0..=lines {
        let value = low + f64::from(i) * step;
        let pen = Pen::solid(Ink::PaleGrey, if value.abs() < 1e-9 { 1.2 } else { 0.5 });
        drawing.line(polyline([at(0.0, value), at(farthest, value)]), pen);
        let decimals = if step < 0.1 { 2 } else { 1 };
        let text = crate::uncertainty::rounding::fixed(value, decimals);
        drawing.label(label(
            at(0.0, value) + kurbo::Vec2::new(-3.0, 2.6),
            text,
            Anchor::End,
        ));
    }
    let every = if farthest > 10.0 { 2.0 } else { 1.0 };
    for i in 0..=(farthest / every).floor() as i32 {
        let from_end = f64::from(i) * every;
        let text = format!("{from_end:.0}");
        let below = Point::new(at(from_end, low).x, area.y1 + 9.0);
        drawing.label(label(below, text, Anchor::Middle));
    }
    let title_at = Point::new(area.x0, AXES.1 - 4.0);
    drawing.label(label(title_at, title.to_owned(), Anchor::Start));
    let axis_at = Point::new(area.center().x, SIZE.height - 2.0);
    drawing.label(label(axis_at, "mm from the end".to_owned(), Anchor::Middle));
    for (of, dash) in series {
        let points: Vec<(Point, [Point; 2])> = levels
            .iter()
            .filter_map(|l| {
                let q = of(l)?;
                let ends = [q.value - q.u95, q.value + q.u95].map(|v| at(l.from_end_mm, v));
                Some((at(l.from_end_mm, q.value), ends))
            })
            .collect();
        for (_, ends) in &points {
            drawing.line(polyline(*ends), Pen::solid(Ink::Grey, 0.6));
        }
        let pen = Pen::solid(Ink::Path, 1.4).dashed(*dash);
        drawing.line(polyline(points.iter().map(|p| p.0)), pen);
    }
    Figure {
        drawing,
        caption: String::new(),
        alt: format!(
            "{title}, against the distance from the end of canal {}.",
            shaping.name
        ),
    }
}

/// 1, 2 or 5 times a power of ten, not below `least`.
fn round_step(least: f64) -> f64 {
    let power = 10f64.powf(least.max(1e-6).log10().floor());
    let factor = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .find(|f| f * power >= least * (1.0 - 1e-9));
    factor.unwrap_or(10.0) * power
}
