//! Where the film stands on the screen.
//!
//! The view turns, mirrors, zooms and shifts the film; stored points stay in
//! the film frame. Screen positions are egui points (x right, y down).

use egui::{Pos2, Rect, Vec2};

use crate::units::FilmPoint;

/// One key press or wheel notch of zoom.
pub const ZOOM_STEP: f64 = 1.25;

/// Smallest and largest zoom, screen points per film px.
const ZOOM_RANGE: (f64, f64) = (0.01, 64.0);
/// Part of the viewport a fitted film fills.
const FIT_FILL: f64 = 0.96;

/// A similarity between the film frame and the screen that allows only
/// quarter turns and mirroring, so that pixels stay squares.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ViewTransform {
    /// Place on the screen the film is seen through.
    pub viewport: Rect,
    /// Film point in the middle of the viewport.
    pub centre: FilmPoint,
    /// Screen points per film px.
    pub zoom: f64,
    /// Quarter turns clockwise, 0–3.
    pub quarter_turns: u8,
    /// Mirrored left to right, before turning.
    pub mirrored: bool,
}

impl ViewTransform {
    /// An upright view in which the whole film of `size_px` fits.
    pub fn fitted(viewport: Rect, size_px: [u32; 2]) -> Self {
        let mut view = Self {
            viewport,
            centre: FilmPoint::new(0.0, 0.0),
            zoom: 1.0,
            quarter_turns: 0,
            mirrored: false,
        };
        view.fit(size_px);
        view
    }

    /// Shows the whole film without turning or mirroring it anew.
    pub fn fit(&mut self, size_px: [u32; 2]) {
        let (w, h) = (
            f64::from(size_px[0]).max(1.0),
            f64::from(size_px[1]).max(1.0),
        );
        let (across, down) = if self.quarter_turns.is_multiple_of(2) {
            (w, h)
        } else {
            (h, w)
        };
        let room = (
            f64::from(self.viewport.width()) / across,
            f64::from(self.viewport.height()) / down,
        );
        self.centre = FilmPoint::new(w / 2.0, h / 2.0);
        self.zoom = (room.0.min(room.1) * FIT_FILL).clamp(ZOOM_RANGE.0, ZOOM_RANGE.1);
    }

    /// Looks through another place of the screen; a film that was shown whole
    /// stays whole.
    pub fn move_to_viewport(&mut self, viewport: Rect, size_px: [u32; 2]) {
        if self.viewport == viewport {
            return;
        }
        let mut whole = *self;
        whole.fit(size_px);
        let was_whole = *self == whole;
        self.viewport = viewport;
        if was_whole {
            self.fit(size_px);
        }
    }

    /// One film px on one pixel of the device.
    pub fn one_to_one(&mut self, pixels_per_point: f32) {
        self.zoom = 1.0 / f64::from(pixels_per_point);
    }

    /// Screen position of a film point.
    pub fn screen_from_film(&self, point: FilmPoint) -> Pos2 {
        let offset =
            self.screen_vector_from_film([point.x - self.centre.x, point.y - self.centre.y]);
        self.viewport.center() + Vec2::new(offset[0] as f32, offset[1] as f32)
    }

    /// Film point under a screen position.
    pub fn film_from_screen(&self, position: Pos2) -> FilmPoint {
        let offset = position - self.viewport.center();
        let [x, y] = self.film_vector_from_screen([f64::from(offset.x), f64::from(offset.y)]);
        FilmPoint::new(self.centre.x + x, self.centre.y + y)
    }

    /// A film vector (px) as a screen vector (points).
    fn screen_vector_from_film(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        let x = if self.mirrored { -x } else { x };
        let [x, y] = match self.quarter_turns % 4 {
            0 => [x, y],
            1 => [-y, x],
            2 => [-x, -y],
            _ => [y, -x],
        };
        [x * self.zoom, y * self.zoom]
    }

    /// A screen vector (points) as a film vector (px).
    pub fn film_vector_from_screen(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        let [x, y] = [x / self.zoom, y / self.zoom];
        let [x, y] = match self.quarter_turns % 4 {
            0 => [x, y],
            1 => [y, -x],
            2 => [-x, -y],
            _ => [-y, x],
        };
        [if self.mirrored { -x } else { x }, y]
    }

    /// Zooms by `factor` and keeps the film point under `anchor` where it is.
    pub fn zoom_about(&mut self, anchor: Pos2, factor: f64) {
        let held = self.film_from_screen(anchor);
        self.zoom = (self.zoom * factor).clamp(ZOOM_RANGE.0, ZOOM_RANGE.1);
        let drifted = self.film_from_screen(anchor);
        self.centre.x += held.x - drifted.x;
        self.centre.y += held.y - drifted.y;
    }

    /// Shifts the film by a screen vector.
    pub fn pan(&mut self, by: Vec2) {
        let [x, y] = self.film_vector_from_screen([f64::from(by.x), f64::from(by.y)]);
        self.centre.x -= x;
        self.centre.y -= y;
    }

    /// Keeps the middle of the viewport on the film.
    pub fn keep_on_film(&mut self, size_px: [u32; 2]) {
        self.centre.x = self.centre.x.clamp(0.0, f64::from(size_px[0]));
        self.centre.y = self.centre.y.clamp(0.0, f64::from(size_px[1]));
    }

    /// The part of the film that shows, as two opposite corners with
    /// `min ≤ max`.
    pub fn visible_film(&self) -> [FilmPoint; 2] {
        let a = self.film_from_screen(self.viewport.min);
        let b = self.film_from_screen(self.viewport.max);
        [
            FilmPoint::new(a.x.min(b.x), a.y.min(b.y)),
            FilmPoint::new(a.x.max(b.x), a.y.max(b.y)),
        ]
    }

    /// The same film, seen larger through another hole: `factor` times the
    /// zoom, with `point` in the middle of `viewport`.
    pub fn magnified(&self, viewport: Rect, point: FilmPoint, factor: f64) -> Self {
        Self {
            viewport,
            centre: point,
            zoom: self.zoom * factor,
            ..*self
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn views() -> impl Strategy<Value = ViewTransform> {
        (
            0u8..4,
            any::<bool>(),
            0.02f64..40.0,
            0.0f64..3000.0,
            0.0f64..3000.0,
        )
            .prop_map(|(quarter_turns, mirrored, zoom, x, y)| ViewTransform {
                viewport: Rect::from_min_max(Pos2::new(200.0, 40.0), Pos2::new(960.0, 690.0)),
                centre: FilmPoint::new(x, y),
                zoom,
                quarter_turns,
                mirrored,
            })
    }

    #[test]
    fn a_whole_film_stays_whole_and_a_closer_look_stays_where_it_is() {
        let small = Rect::from_min_max(Pos2::ZERO, Pos2::new(50.0, 80.0));
        let large = Rect::from_min_max(Pos2::new(200.0, 40.0), Pos2::new(960.0, 690.0));
        let mut view = ViewTransform::fitted(small, [900, 1200]);
        view.move_to_viewport(large, [900, 1200]);
        assert_eq!(view, ViewTransform::fitted(large, [900, 1200]));
        view.zoom *= 2.0;
        let closer = view;
        view.move_to_viewport(small, [900, 1200]);
        assert_eq!((view.zoom, view.centre), (closer.zoom, closer.centre));
    }

    proptest! {
        #[test]
        fn film_to_screen_and_back_is_the_same_place(view in views(), dx in -1.0f64..1.0, dy in -1.0f64..1.0) {
            // Points within the viewport: f32 screen positions carry 1e-4 points there.
            let point = FilmPoint::new(view.centre.x + dx * 300.0 / view.zoom, view.centre.y + dy * 300.0 / view.zoom);
            let back = view.film_from_screen(view.screen_from_film(point));
            prop_assert!(back.distance_px(point) * view.zoom < 1e-3);
        }

        #[test]
        fn zooming_holds_the_point_under_the_cursor(view in views(), factor in 0.5f64..2.0, x in 200f32..960.0, y in 40f32..690.0) {
            let anchor = Pos2::new(x, y);
            let before = view.film_from_screen(anchor);
            let mut zoomed = view;
            zoomed.zoom_about(anchor, factor);
            prop_assert!(zoomed.screen_from_film(before).distance(anchor) < 0.01);
        }

        #[test]
        fn panning_moves_every_point_by_the_same_screen_vector(view in views(), dx in -50f32..50.0, dy in -50f32..50.0) {
            let mut panned = view;
            panned.pan(Vec2::new(dx, dy));
            let moved = panned.screen_from_film(view.centre) - view.screen_from_film(view.centre);
            prop_assert!((moved - Vec2::new(dx, dy)).length() < 0.01);
        }
    }

    #[test]
    fn a_quarter_turn_is_clockwise_and_mirroring_swaps_left_and_right() {
        let viewport = Rect::from_min_max(Pos2::ZERO, Pos2::new(100.0, 100.0));
        let mut view = ViewTransform::fitted(viewport, [100, 100]);
        view.zoom = 1.0;
        let right_of_centre = FilmPoint::new(60.0, 50.0);
        assert_eq!(
            view.screen_from_film(right_of_centre),
            Pos2::new(60.0, 50.0)
        );
        view.quarter_turns = 1;
        assert_eq!(
            view.screen_from_film(right_of_centre),
            Pos2::new(50.0, 60.0)
        );
        view.quarter_turns = 0;
        view.mirrored = true;
        assert_eq!(
            view.screen_from_film(right_of_centre),
            Pos2::new(40.0, 50.0)
        );
    }

    #[test]
    fn one_to_one_is_one_device_pixel_per_film_px() {
        let viewport = Rect::from_min_max(Pos2::ZERO, Pos2::new(100.0, 100.0));
        let mut view = ViewTransform::fitted(viewport, [1000, 10]);
        view.one_to_one(2.0);
        let a = view.screen_from_film(FilmPoint::new(10.0, 0.0));
        let b = view.screen_from_film(FilmPoint::new(12.0, 0.0));
        assert!(((b - a).length() * 2.0 - 2.0).abs() < 1e-5);
    }
}
