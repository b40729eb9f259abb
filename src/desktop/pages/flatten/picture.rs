//! The photograph with its four corners, dragged under a magnifier.

use egui::{
    Event, EventFilter, Id, Key, Pos2, Rect, Role, Sense, Stroke, StrokeKind, Ui, Vec2, WidgetInfo,
};

use crate::desktop::ui::film_paint::{dragged_way, haloed_line, label};
use crate::desktop::ui::palette;
use crate::desktop::view::{FilmTiles, ViewTransform, ZOOM_STEP};
use crate::units::FilmPoint;

/// Names of the corners, clockwise.
pub const CORNERS: [&str; 4] = ["top left", "top right", "bottom right", "bottom left"];

/// What can be moved on the photograph.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Place {
    Corner(usize),
    /// The fifth mark.
    Check,
}

/// Side of the place that takes the pointer, points.
const REACH: f32 = 26.0;
/// Side of the magnifier, points, and how much it enlarges.
const LENS: f32 = 176.0;
const ENLARGES: f64 = 4.0;

/// Shows the photograph in `rect`; what was moved, and whereto.
pub fn show(
    ui: &mut Ui,
    rect: Rect,
    tiles: &mut FilmTiles,
    view: &mut ViewTransform,
    size_px: [u32; 2],
    corners: &[FilmPoint; 4],
    check: Option<FilmPoint>,
) -> Option<(Place, FilmPoint)> {
    ui.painter().rect_filled(rect, 0.0, palette::FILM_GROUND);
    view.move_to_viewport(rect, size_px);
    let ground = ui.interact(rect, Id::unique("photograph"), Sense::drag());
    if ground.dragged() {
        view.pan(dragged_way(ui, &ground));
    }
    if let Some(at) = ground.hover_pos() {
        let notches = ui.input(|input| input.smooth_scroll_delta().y / 50.0);
        if notches != 0.0 {
            view.zoom_about(at, ZOOM_STEP.powf(f64::from(notches)));
        }
    }
    view.keep_on_film(size_px);
    let view = *view;
    let painter = ui.painter().with_clip_rect(rect);
    tiles.paint(&painter, &view);
    frame(&painter, &view, corners);
    let mut moved = None;
    let mut looked_at = None;
    let marks = corners.iter().enumerate();
    let marks = marks.map(|(index, &corner)| (Place::Corner(index), corner));
    for (place, corner) in marks.chain(check.map(|mark| (Place::Check, mark))) {
        let at = view.screen_from_film(corner);
        let hit = Rect::from_center_size(at, Vec2::splat(REACH));
        let response = ui.interact(hit, Id::unique(("corner", place)), Sense::drag());
        response.widget_info(|| {
            let what = match place {
                Place::Corner(index) => format!("Corner {}, {}", index + 1, CORNERS[index]),
                Place::Check => "Fifth mark".to_owned(),
            };
            let name = format!("{what}, at {:.1}, {:.1} px", corner.x, corner.y);
            WidgetInfo::labeled(Role::Button, true, name)
        });
        if response.drag_started() {
            response.request_focus();
        }
        if response.dragged() {
            let to = at + dragged_way(ui, &response);
            moved = Some((place, onto(view.film_from_screen(to), size_px)));
        }
        if response.has_focus() {
            ui.memory_mut(|memory| memory.set_focus_lock_filter(response.id, ARROWS));
            let by = arrows(ui);
            if by != Vec2::ZERO {
                let to = FilmPoint::new(corner.x + f64::from(by.x), corner.y + f64::from(by.y));
                moved = Some((place, onto(to, size_px)));
            }
        }
        if response.dragged() || response.hovered() || response.has_focus() {
            let held = moved.filter(|(one, _)| *one == place);
            looked_at = Some(held.map_or(corner, |(_, to)| to));
        }
        let number = match place {
            Place::Corner(index) => index + 1,
            Place::Check => CORNERS.len() + 1,
        };
        sign(&painter, at, number, response.has_focus());
    }
    if let Some(place) = looked_at {
        magnifier(ui, rect, tiles, &view, corners, place);
    }
    moved
}

const ARROWS: EventFilter = EventFilter {
    horizontal_arrows: true,
    vertical_arrows: true,
    tab: false,
    escape: false,
};

/// Net arrow presses, px: one a press, ten with Shift, a tenth with Ctrl.
fn arrows(ui: &Ui) -> Vec2 {
    ui.input(|input| {
        let mut by = Vec2::ZERO;
        for event in &input.events {
            if let Event::Key {
                key,
                pressed: true,
                modifiers,
                ..
            } = event
            {
                let step = match (modifiers.shift, modifiers.command) {
                    (true, _) => 10.0,
                    (_, true) => 0.1,
                    _ => 1.0,
                };
                by += step
                    * match key {
                        Key::ArrowLeft => -Vec2::X,
                        Key::ArrowRight => Vec2::X,
                        Key::ArrowUp => -Vec2::Y,
                        Key::ArrowDown => Vec2::Y,
                        _ => Vec2::ZERO,
                    };
            }
        }
        by
    })
}

fn onto(at: FilmPoint, [width, height]: [u32; 2]) -> FilmPoint {
    FilmPoint::new(
        at.x.clamp(0.0, f64::from(width)),
        at.y.clamp(0.0, f64::from(height)),
    )
}

/// The rectangle as it is seen.
fn frame(painter: &egui::Painter, view: &ViewTransform, corners: &[FilmPoint; 4]) {
    let around = corners.iter().chain(corners.first());
    let around: Vec<Pos2> = around.map(|c| view.screen_from_film(*c)).collect();
    haloed_line(painter, &around, 1.0, palette::SCALE);
}

/// The sign of a corner or mark with its number.
fn sign(painter: &egui::Painter, at: Pos2, number: usize, focused: bool) {
    for way in [Vec2::X, Vec2::Y] {
        for side in [-1.0, 1.0] {
            let way = way * side;
            haloed_line(
                painter,
                &[at + way * 3.0, at + way * 11.0],
                1.5,
                palette::SCALE,
            );
        }
    }
    if focused {
        painter.circle_stroke(at, 14.0, Stroke::new(2.0, palette::FILM_TEXT));
    }
    let font = egui::FontId::proportional(12.0);
    let beside = at + Vec2::new(14.0, -14.0);
    let number = number.to_string();
    label(
        painter,
        beside,
        egui::Align2::LEFT_CENTER,
        &number,
        font,
        palette::FILM_TEXT,
    );
}

/// The place enlarged, in the corner of the view away from it.
fn magnifier(
    ui: &Ui,
    rect: Rect,
    tiles: &mut FilmTiles,
    view: &ViewTransform,
    corners: &[FilmPoint; 4],
    place: FilmPoint,
) {
    let room = rect.shrink(10.0);
    let at = view.screen_from_film(place);
    let x = match at.x < room.center().x {
        true => room.right() - LENS,
        false => room.left(),
    };
    let y = match at.y < room.center().y {
        true => room.bottom() - LENS,
        false => room.top(),
    };
    let lens = Rect::from_min_size(Pos2::new(x, y), Vec2::splat(LENS));
    let enlarged = view.magnified(lens, place, ENLARGES.max(2.0 / view.zoom));
    let painter = ui.painter_at(lens.expand(2.0));
    painter.rect_filled(lens, 4.0, palette::FILM_GROUND);
    let clipped = painter.with_clip_rect(lens);
    tiles.paint(&clipped, &enlarged);
    frame(&clipped, &enlarged, corners);
    let stroke = Stroke::new(2.0, palette::FILM_TEXT);
    painter.rect_stroke(lens, 4.0, stroke, StrokeKind::Inside);
}
