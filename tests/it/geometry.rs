//! The curves themselves: the drawn curve against closed forms and another
//! way of measuring, the straight–arc path against circles, the fit against
//! paths it must find again.

mod drawn_curve;
mod fit;
mod straight_arc_path;
mod widths;

use kurbo::{Affine, Point, Vec2};

/// A turn and shift, and the same with a mirror in the x axis before it.
fn motions() -> [Affine; 2] {
    let moved = Affine::translate(Vec2::new(31.0, -7.5)) * Affine::rotate(0.83);
    [moved, moved * Affine::FLIP_Y]
}

#[track_caller]
fn close(value: f64, expected: f64, tolerance: f64) {
    assert!(
        (value - expected).abs() <= tolerance,
        "{value} is not {expected} within {tolerance}"
    );
}

#[track_caller]
fn same_place(place: Point, expected: Point, tolerance: f64) {
    assert!(
        place.distance(expected) <= tolerance,
        "{place} is not {expected} within {tolerance}"
    );
}
