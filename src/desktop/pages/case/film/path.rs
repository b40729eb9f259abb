//! Places along drawn lines, in view of a screen position.

use egui::Pos2;

use crate::case::edit::{Handle, file_object_index};
use crate::case::{Case, WallSide};
use crate::desktop::state::reading::{CanalDrawing, PathSample};
use crate::desktop::view::ViewTransform;
use crate::units::FilmPoint;

/// The place on the film nearest to a place in its frame: points lie on it.
pub fn onto_film(at: FilmPoint, [width, height]: [u32; 2]) -> FilmPoint {
    FilmPoint::new(
        at.x.clamp(0.0, f64::from(width)),
        at.y.clamp(0.0, f64::from(height)),
    )
}

/// The sample of a path nearest to a screen position, within `reach` points.
pub fn sample_near(
    path: &[PathSample],
    view: &ViewTransform,
    at: Pos2,
    reach: f32,
) -> Option<PathSample> {
    path.iter()
        .map(|sample| (view.screen_from_film(sample.at).distance(at), *sample))
        .filter(|(distance, _)| *distance <= reach)
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, sample)| sample)
}

/// The place on a path at a distance from the apex.
pub fn place_at_mm(path: &[PathSample], from_apex_mm: f64) -> Option<FilmPoint> {
    /// The ends are reached within rounding.
    const ROUNDING_MM: f64 = 1e-6;
    let (first, last) = (path.first()?.from_apex_mm?, path.last()?.from_apex_mm?);
    if !(last - ROUNDING_MM..=first + ROUNDING_MM).contains(&from_apex_mm) {
        return None;
    }
    let from_apex_mm = from_apex_mm.clamp(last, first.max(last));
    path.windows(2).find_map(|pair| {
        let (a, b) = (pair[0].from_apex_mm?, pair[1].from_apex_mm?);
        let within = (a >= from_apex_mm && from_apex_mm >= b) && a > b;
        within.then(|| {
            let t = (a - from_apex_mm) / (a - b);
            FilmPoint::new(
                pair[0].at.x + t * (pair[1].at.x - pair[0].at.x),
                pair[0].at.y + t * (pair[1].at.y - pair[0].at.y),
            )
        })
    })
}

/// The line drawn nearest to a screen position, within `reach` points. A
/// derived canal path gives way to the file's line it follows.
pub fn line_near(
    case: &Case,
    drawings: &[CanalDrawing],
    view: &ViewTransform,
    at: Pos2,
    reach: f32,
) -> Option<Handle> {
    let mut lines: Vec<(f32, Handle)> = Vec::new();
    for (canal, drawing) in drawings.iter().enumerate() {
        if let Some(object) = file_object_index(case, canal) {
            let distance = distance_to_line(drawing.file.iter().copied(), view, at);
            lines.push((distance, Handle::ScalePoint { object, index: 0 }));
        }
        let distance = distance_to_line(drawing.path.iter().map(|sample| sample.at), view, at);
        lines.push((distance, Handle::TracePoint { canal, index: 0 }));
    }
    for (canal, content) in case.canals.iter().enumerate() {
        let Some(walls) = &content.walls else {
            continue;
        };
        for side in WallSide::BOTH {
            let distance = distance_to_line(walls.side(side).iter().copied(), view, at);
            let index = 0;
            lines.push((distance, Handle::WallPoint { canal, side, index }));
        }
    }
    lines
        .into_iter()
        .filter(|(distance, _)| *distance <= reach)
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, handle)| handle)
}

fn distance_to_line(
    points: impl Iterator<Item = FilmPoint>,
    view: &ViewTransform,
    at: Pos2,
) -> f32 {
    let mut nearest = f32::INFINITY;
    let mut before: Option<Pos2> = None;
    for point in points {
        let here = view.screen_from_film(point);
        let from = before.unwrap_or(here);
        let along = here - from;
        let length_squared = along.length_sq();
        let t = if length_squared > 0.0 {
            ((at - from).dot(along) / length_squared).clamp(0.0, 1.0)
        } else {
            0.0
        };
        nearest = nearest.min((from + along * t).distance(at));
        before = Some(here);
    }
    nearest
}

#[cfg(test)]
mod tests {
    use super::*;

    fn straight_path() -> Vec<PathSample> {
        (0..=10)
            .map(|i| PathSample {
                at: FilmPoint::new(50.0, f64::from(i) * 10.0),
                from_apex_mm: Some(10.0 - f64::from(i)),
            })
            .collect()
    }

    #[test]
    fn a_distance_from_the_apex_is_found_between_samples() {
        let place = place_at_mm(&straight_path(), 2.5).expect("on the path");
        assert!(place.distance_px(FilmPoint::new(50.0, 75.0)) < 1e-9);
        assert_eq!(place_at_mm(&straight_path(), 10.5), None);
        // The last sample is the apex but for the last digit.
        let mut path = straight_path();
        path.last_mut().expect("samples").from_apex_mm = Some(2e-15);
        assert!(place_at_mm(&path, 0.0).is_some());
    }
}
