//! A distance or an angle measured freely: in passing, no part of the case.

use kurbo::Point;

use super::workspace::Workspace;
use crate::case::edit::Tool;
use crate::measure::InputUncertainty;
use crate::statistics::Z95;
use crate::uncertainty::rounding::with_u95;
use crate::units::{FilmPoint, Quantity};

/// Clicks that a tool of this kind needs; 0 for every other tool.
pub fn clicks_needed(tool: Tool) -> usize {
    match tool {
        Tool::Distance => 2,
        Tool::Angle => 3,
        _ => 0,
    }
}

/// What the clicks measure, in words; `None` before the last of them.
pub fn words(workspace: &Workspace, tool: Tool, clicks: &[FilmPoint]) -> Option<String> {
    let scale = &workspace.last_reading().findings.scale;
    let at = workspace.click_frame();
    let frame = at.frame;
    let places: Vec<Point> = clicks
        .iter()
        .map(|click| frame.detector_from_film(*click))
        .collect();
    let defaults = InputUncertainty::default();
    let stated_mm = workspace.document.case().click_noise_mm;
    let click_sd = match at.unit {
        "mm" => stated_mm.unwrap_or(defaults.click_mm),
        _ => defaults.click_px,
    };
    match (tool, &places[..]) {
        (Tool::Distance, [a, b]) => {
            let length = a.distance(*b);
            let u_click = std::f64::consts::SQRT_2 * click_sd;
            let Some((mm_per_px, u_mm_per_px)) = scale.mm_per_px.zip(scale.u_mm_per_px) else {
                return Some(format!("Distance: {length:.1} {} (no scale)", at.unit));
            };
            let true_per_length = mm_per_px / frame.mean_pitch();
            let of_scale = length * u_mm_per_px / frame.mean_pitch();
            let distance = Quantity {
                value: length * true_per_length,
                u95: Z95 * (u_click * true_per_length).hypot(of_scale),
            };
            let source = &scale.description;
            Some(format!(
                "Distance: {}, scale: {source}",
                with_u95(distance, "mm")
            ))
        }
        (Tool::Angle, [a, vertex, b]) => {
            let (angle_rad, per_click) = angle(*a, *vertex, *b)?;
            let angle = Quantity {
                value: angle_rad.to_degrees(),
                u95: (Z95 * click_sd * per_click).to_degrees(),
            };
            Some(format!("Angle, as projected: {}", with_u95(angle, "°")))
        }
        _ => None,
    }
}

/// The angle at `vertex`, rad, and its standard deviation for clicks of
/// standard deviation 1 per coordinate: the ends move across their arms, the
/// vertex against both (law of first order).
fn angle(a: Point, vertex: Point, b: Point) -> Option<(f64, f64)> {
    let (to_a, to_b) = (a - vertex, b - vertex);
    let (la, lb) = (to_a.hypot(), to_b.hypot());
    if la == 0.0 || lb == 0.0 {
        return None;
    }
    let angle = to_a.cross(to_b).atan2(to_a.dot(to_b)).abs();
    let of_vertex = a.distance(b) / (la * lb);
    Some((angle, la.recip().hypot(lb.recip()).hypot(of_vertex)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed forms: a right angle; half a turn, where each end moves the
    /// angle by 1/10 per unit and the vertex by 2/10.
    #[test]
    fn angles_and_how_sure_they_are() {
        let at = |x, y| Point::new(x, y);
        let (right, _) = angle(at(3.0, 0.0), at(0.0, 0.0), at(0.0, 8.0)).expect("an angle");
        assert!((right.to_degrees() - 90.0).abs() < 1e-12);
        let (flat, u) = angle(at(-10.0, 0.0), at(0.0, 0.0), at(10.0, 0.0)).expect("an angle");
        assert!((flat.to_degrees() - 180.0).abs() < 1e-12);
        assert!((u - (0.01f64 + 0.01 + 0.04).sqrt()).abs() < 1e-12);
        assert_eq!(angle(at(1.0, 1.0), at(1.0, 1.0), at(2.0, 0.0)), None);
    }
}
