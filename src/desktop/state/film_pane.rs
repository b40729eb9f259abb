//! A film shown in a part of a page: as large as fits, moved and zoomed there.

use egui::{PointerButton, Rect, Response, Ui};

use crate::desktop::ui::film_paint::dragged_way;
use crate::desktop::view::ViewTransform;
use crate::units::FilmPoint;

/// Wheel travel that zooms by e, points.
const WHEEL_PER_E: f32 = 260.0;
/// Room around what is shown when the view opens, as a share of its extent.
const ROOM: f64 = 0.12;

/// How a film is seen through its part of the page.
#[derive(Clone, Debug)]
pub struct FilmPane {
    pub view: ViewTransform,
    /// It has been fitted to its place on the screen.
    fitted: bool,
}

impl FilmPane {
    /// To be fitted when its place is known.
    pub fn new(size_px: [u32; 2]) -> Self {
        Self {
            view: ViewTransform::fitted(Rect::ZERO, size_px),
            fitted: false,
        }
    }

    /// Fits it again in the next frame.
    pub fn refit(&mut self) {
        self.fitted = false;
    }

    /// Puts it at its place; anew where that has another size. `part` are the
    /// corners of what is looked at; `None`: the whole film.
    pub fn place(&mut self, rect: Rect, size_px: [u32; 2], part: Option<[FilmPoint; 2]>) {
        let moved = self.view.viewport.size() != rect.size();
        self.view.move_to_viewport(rect, size_px);
        if self.fitted && (!moved || rect.is_negative()) {
            return;
        }
        self.fitted = true;
        self.view.fit(size_px);
        let Some([low, high]) = part else {
            return;
        };
        let (w, h) = (high.x - low.x, high.y - low.y);
        let (across, down) = match self.view.quarter_turns % 2 {
            0 => (w, h),
            _ => (h, w),
        };
        let room = ROOM * w.max(h);
        let zoom = (f64::from(rect.width()) / (across + 2.0 * room))
            .min(f64::from(rect.height()) / (down + 2.0 * room));
        self.view.centre = FilmPoint::new((low.x + high.x) / 2.0, (low.y + high.y) / 2.0);
        let middle = self.view.viewport.center();
        self.view.zoom_about(middle, zoom / self.view.zoom);
    }

    /// Moves it by a drag, zooms it by wheel and pinch.
    pub fn take_input(&mut self, ui: &Ui, film: &Response, size_px: [u32; 2]) {
        if film.dragged_by(PointerButton::Primary) || film.dragged_by(PointerButton::Middle) {
            self.view.pan(dragged_way(ui, film));
        }
        if let Some(anchor) = film.hover_pos() {
            let (wheel, pinch) =
                ui.input(|input| (input.smooth_scroll_delta(), input.zoom_delta()));
            let factor = f64::from((wheel.y / WHEEL_PER_E).exp()) * f64::from(pinch);
            if factor != 1.0 {
                self.view.zoom_about(anchor, factor);
            }
        }
        self.view.keep_on_film(size_px);
    }
}

/// Corners of places on a film; `None` of none.
pub fn extent(points: impl IntoIterator<Item = FilmPoint>) -> Option<[FilmPoint; 2]> {
    let mut corners: Option<[FilmPoint; 2]> = None;
    for point in points {
        let [low, high] = corners.get_or_insert([point; 2]);
        *low = FilmPoint::new(low.x.min(point.x), low.y.min(point.y));
        *high = FilmPoint::new(high.x.max(point.x), high.y.max(point.y));
    }
    corners
}
