//! Lengths on the film: the ruler along the canal, and what is measured in
//! passing.

use egui::{Align2, Color32, FontId, Painter, Pos2, Vec2};

use super::path::place_at_mm;
use crate::desktop::state::Desk;
use crate::desktop::state::reading::CanalDrawing;
use crate::desktop::ui::film_paint::haloed_line;
use crate::desktop::ui::labels::Labels;
use crate::desktop::ui::palette;
use crate::desktop::view::ViewTransform;

/// Half the length of a millimetre tick, points.
const TICK: f32 = 5.0;

/// Half the size of a place that is measured from, points.
const GAUGE: f32 = 6.0;

/// What is measured in passing.
pub fn gauge(painter: &Painter, desk: &Desk<'_>, view: &ViewTransform) {
    let places: Vec<Pos2> = desk
        .session
        .gauge
        .iter()
        .map(|place| view.screen_from_film(*place))
        .collect();
    haloed_line(painter, &places, 1.5, palette::SCALE);
    for place in places {
        for way in [Vec2::X, Vec2::Y] {
            let reach = way * GAUGE;
            haloed_line(
                painter,
                &[place - reach, place + reach],
                1.5,
                palette::SCALE,
            );
        }
    }
}

/// Ticks at every millimetre: from the apex, with the thirds of the canal as
/// longer bars; or from the reference point, where its distance is known.
pub fn ruler(
    painter: &Painter,
    view: &ViewTransform,
    drawing: &CanalDrawing,
    to_reference_mm: Option<f64>,
    labels: &mut Labels,
) {
    let Some(length_mm) = drawing.path.first().and_then(|sample| sample.from_apex_mm) else {
        return;
    };
    let mm_on_screen = place_at_mm(&drawing.path, 0.0)
        .zip(place_at_mm(&drawing.path, length_mm.min(1.0)))
        .map_or(0.0, |(a, b)| {
            view.screen_from_film(a).distance(view.screen_from_film(b))
        });
    // Ticks nearer than this run into each other.
    if mm_on_screen < 4.0 {
        return;
    }
    let side_at = |mm: f64| -> Option<(Pos2, Vec2)> {
        let here = view.screen_from_film(place_at_mm(&drawing.path, mm)?);
        let near = (mm + 0.05).min(length_mm);
        let far = (mm - 0.05).max(0.0);
        let along = view.screen_from_film(place_at_mm(&drawing.path, near)?)
            - view.screen_from_film(place_at_mm(&drawing.path, far)?);
        let along = along.normalized();
        Some((here, Vec2::new(-along.y, along.x)))
    };
    if let Some(to_reference) = to_reference_mm {
        let first = (to_reference - length_mm).max(0.0).ceil() as u32;
        for mm in first..=to_reference.floor() as u32 {
            if let Some((at, side)) = side_at(to_reference - f64::from(mm)) {
                tick(painter, at, -side, mm, palette::REFERENCE, labels);
            }
        }
        return;
    }
    for mm in 0..=length_mm.floor() as u32 {
        if let Some((at, side)) = side_at(f64::from(mm)) {
            tick(painter, at, side, mm, palette::CANAL, labels);
        }
    }
    for third in [1.0, 2.0] {
        if let Some((at, side)) = side_at(length_mm * third / 3.0) {
            let reach = side * TICK * 3.5;
            haloed_line(painter, &[at - reach, at + reach], 2.0, palette::CANAL);
        }
    }
}

/// One millimetre of the ruler, to one side of the path; every fifth is longer
/// and has its number.
fn tick(painter: &Painter, at: Pos2, side: Vec2, mm: u32, colour: Color32, labels: &mut Labels) {
    let fifth = mm.is_multiple_of(5);
    let long = if fifth { 2.0 } else { 1.0 };
    haloed_line(painter, &[at, at + side * TICK * long], 1.0, colour);
    if fifth && mm > 0 {
        labels.add(
            painter,
            at + side * (TICK * long + 9.0),
            Align2::CENTER_CENTER,
            &mm.to_string(),
            FontId::proportional(10.5),
            colour,
        );
    }
}
