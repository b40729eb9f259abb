//! The film: seen, moved, and points placed on it.
//!
//! Layout and input: this file and `handles`. Paint: `overlay`.

mod handles;
mod menu;
mod offers;
mod overlay;
mod path;
mod prompt;
mod ruler;
mod toolbar;

use egui::{
    Id, Key, Modifiers, PointerButton, Pos2, Rect, Response, Role, Sense, Ui, Vec2, WidgetInfo,
};

pub use toolbar::toolbar;

use super::repeats;
use crate::case::edit::{self, Handle, Placed, PlacedHandle, Tool};
use crate::desktop::state::Desk;
use crate::desktop::state::assist;
use crate::desktop::state::command::Command;
use crate::desktop::state::gauge;
use crate::desktop::state::reading::Mark;
use crate::desktop::state::session::Grip;
use crate::desktop::ui::film_paint::dragged_way;
use crate::desktop::ui::palette;
use crate::desktop::view::ViewTransform;
use crate::units::FilmPoint;
use path::onto_film;
use prompt::{prompt, spoken_construction};

/// Wheel travel that zooms by e, points.
const WHEEL_PER_E: f32 = 260.0;
/// One arrow key of panning, points.
const PAN_STEP: f32 = 40.0;
/// How near a press must be to a line to take hold of it, points.
const LINE_REACH: f32 = 7.0;
/// How far a held line must be pulled before it gets a point, points.
const PULL_START: f32 = 4.0;
/// Time and distance within which two presses are a double click, s and points.
const DOUBLE_CLICK_S: f64 = 0.3;
const DOUBLE_CLICK_REACH: f32 = 6.0;
/// Pointer travel that changes contrast by e, points.
const WINDOW_DRAG_PER_E: f32 = 220.0;

/// Hides all marks while it is held.
const HIDING_KEY: Key = Key::X;

/// The film view's own widget, for focus.
pub fn film_id() -> Id {
    Id::unique("film")
}

/// Shows the film, takes its input, measures, and paints the overlay.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    let rect = ui.max_rect();
    let size = desk.workspace.film.size_px();
    desk.workspace.view.move_to_viewport(rect, size);

    let film = ui.interact(rect, film_id(), Sense::drag());
    let placed = shown_handles(desk);
    // The second click of a double click finishes the line, whatever lies there.
    let finishes = finishes_line(ui, desk, rect);
    let responses = handles::interact(ui, desk, &placed, rect, !finishes);
    // Of the handles that the tool leaves alone a press is about the film.
    let takes_press = |one: &handles::HandleResponse| {
        one.response.sense.senses_drag() && one.response.contains_pointer()
    };
    let over_handle = responses.iter().any(takes_press);
    let handles_at: Vec<Rect> = responses.iter().map(|one| one.response.rect).collect();
    let offered = offers::interact(ui, desk, &film, &handles_at);
    let over_handle = over_handle || offered.under_pointer;

    wheel_and_pinch(ui, desk, &film);
    window_and_pan(ui, desk, &film);
    if finishes {
        desk.session.last_press = None;
        desk.commands.push(Command::Finish);
    } else {
        primary_button(ui, desk, &film, over_handle);
    }
    keys(ui, desk, &film);
    menu::show(ui, desk, &film);
    desk.workspace.view.keep_on_film(size);
    mark_from_pointer(ui, desk, &film);

    let held = ui.input(|input| input.key_down(HIDING_KEY)) && !ui.ctx().text_edit_focused();
    desk.session.hides_marks = held || desk.session.hides_by_button;
    // Points may have moved in this very frame.
    desk.workspace.reading();
    let view = desk.workspace.view;
    film.widget_info(|| {
        let hidden = if desk.session.hides_marks {
            ", marks hidden"
        } else {
            ""
        };
        let label = format!(
            "Film, {} by {} px, zoom {:.0} %{hidden}",
            size[0],
            size[1],
            view.zoom * 100.0
        );
        WidgetInfo::labeled(Role::Canvas, true, label)
    });

    let painter = ui.painter_at(rect);
    painter.rect_filled(rect, 0.0, palette::FILM_GROUND);
    desk.workspace.shown_tiles().paint(&painter, &view);
    if desk.session.hides_marks {
        return;
    }
    let placed = shown_handles(desk);
    let prompt = prompt(ui, desk, rect);
    let construction = spoken_construction(ui, desk, rect);
    let words = prompt.into_iter().chain(construction);
    let kept_free: Vec<Rect> = words.chain(offered.rects()).collect();
    offers::paint(&painter, &view, &offered);
    overlay::paint(&painter, desk, &view, &placed, &responses, &kept_free);
    magnifier(ui, desk, &film, &view);
    if film.has_focus() {
        let stroke = egui::Stroke::new(2.0, palette::of(ui).accent);
        painter.rect_stroke(rect, 0.0, stroke, egui::StrokeKind::Inside);
        if desk.session.aims() && desk.session.steers_by_keys {
            overlay::cross(&painter, rect.center());
        }
    }
}

/// All points of the case, and the landmarks of the construction drawn.
fn shown_handles(desk: &Desk<'_>) -> Vec<PlacedHandle> {
    if desk.session.is_blinded() {
        return Vec::new();
    }
    let mut placed = edit::handles(desk.workspace.document.case());
    let canal = desk.session.canal;
    // Walls have many points: only those worked on are taken hold of.
    placed.retain(|one| !matches!(one.handle, Handle::WallPoint { canal: of, .. } if of != canal));
    let drawing = desk.workspace.last_reading().drawings.get(canal);
    if let (Some(method), Some(drawing)) = (desk.session.construction, drawing) {
        let marks = drawing
            .constructions
            .iter()
            .filter(|(one, _)| *one == method);
        placed.extend(
            marks
                .flat_map(|(_, marks)| marks)
                .filter_map(|mark| match mark {
                    Mark::Point { at, landmark } => Some(PlacedHandle {
                        handle: Handle::CurvatureLandmark {
                            canal,
                            name: landmark.name().to_owned(),
                        },
                        at: *at,
                    }),
                    Mark::Line(_) => None,
                }),
        );
    }
    placed
}

fn wheel_and_pinch(ui: &Ui, desk: &mut Desk<'_>, film: &Response) {
    let Some(anchor) = ui.input(|input| input.pointer.hover_pos()) else {
        return;
    };
    if !(film.contains_pointer() || film.rect.contains(anchor) && film.hovered()) {
        return;
    }
    let (wheel, pinch) = ui.input(|input| (input.smooth_scroll_delta(), input.zoom_delta()));
    let factor = f64::from((wheel.y / WHEEL_PER_E).exp()) * f64::from(pinch);
    if factor != 1.0 {
        desk.workspace.view.zoom_about(anchor, factor);
    }
    if wheel.x != 0.0 {
        desk.workspace.view.pan(Vec2::new(wheel.x, 0.0));
    }
}

/// Right button: left and right changes contrast, up and down brightness.
/// Middle button: pan.
fn window_and_pan(ui: &Ui, desk: &mut Desk<'_>, film: &Response) {
    let moved = dragged_way(ui, film);
    if film.dragged_by(PointerButton::Middle) {
        desk.workspace.view.pan(moved);
    }
    if film.dragged_by(PointerButton::Secondary) && moved != Vec2::ZERO {
        let [across, down] = [moved.x, moved.y].map(|way| f64::from(way / WINDOW_DRAG_PER_E));
        desk.workspace.tone.shift_and_widen(down, (-across).exp());
        desk.workspace.show_local_contrast = false;
    }
}

fn primary_button(ui: &Ui, desk: &mut Desk<'_>, film: &Response, over_handle: bool) {
    let pointer = ui.input(|input| input.pointer.clone());
    let Some(at) = pointer.interact_pos() else {
        return;
    };
    // A press and release within one frame starts no drag.
    let tapped = film.hovered() && !over_handle && pointer.button_clicked(PointerButton::Primary);
    let pressed = film.drag_started_by(PointerButton::Primary) || tapped;
    if pressed && desk.session.grip == Grip::None {
        if !desk.awaits_length() {
            film.request_focus();
        }
        desk.session.steers_by_keys = false;
        let (now, place) = (
            ui.input(|input| input.time),
            pointer.press_origin().unwrap_or(at),
        );
        desk.session.last_press = Some((now, place));
        press(desk, place);
    }
    if film.dragged_by(PointerButton::Primary) {
        drag(desk, at, dragged_way(ui, film));
    }
    if film.drag_stopped_by(PointerButton::Primary) || tapped {
        release(desk);
    }
}

/// The trace tool's second press on one place: a double click.
fn finishes_line(ui: &Ui, desk: &Desk<'_>, viewport: Rect) -> bool {
    let (now, pointer) = ui.input(|input| (input.time, input.pointer.clone()));
    let pressed_at = pointer
        .interact_pos()
        .filter(|at| pointer.button_pressed(PointerButton::Primary) && viewport.contains(*at));
    let (Some(at), Some((then, there))) = (pressed_at, desk.session.last_press) else {
        return false;
    };
    desk.session.tool.draws_line()
        && now - then < DOUBLE_CLICK_S
        && there.distance(at) < DOUBLE_CLICK_REACH
}

fn press(desk: &mut Desk<'_>, at: Pos2) {
    // A click outdates what is being looked for.
    if let Some(running) = &desk.session.assisting {
        running.cancel();
    }
    let view = desk.workspace.view;
    let on_film = view.film_from_screen(at);
    if desk.session.aims() {
        place_at(desk, on_film);
        return;
    }
    desk.session.selected = None;
    let drawings = &desk.workspace.last_reading().drawings;
    let line = path::line_near(
        desk.workspace.document.case(),
        drawings,
        &view,
        at,
        LINE_REACH,
    );
    desk.session.grip = match line {
        Some(on) => Grip::Line { on, pressed_at: at },
        None => Grip::Film,
    };
}

/// Places the tool's point at a place of the film and keeps hold of it.
fn place_at(desk: &mut Desk<'_>, place: FilmPoint) {
    let size = desk.workspace.film.size_px();
    let on_film = onto_film(place, size);
    // A press beside the film is a slip.
    if on_film.distance_px(place) * desk.workspace.view.zoom > f64::from(LINE_REACH) {
        return;
    }
    if let Some(repeats) = desk.session.clicking() {
        repeats.press(on_film);
        desk.session.grip = Grip::Repeating;
        return;
    }
    let (tool, canal) = (desk.session.tool, desk.session.canal);
    if tool.assists() {
        ask_for_suggestion(desk, on_film);
        return;
    }
    if tool.gauges() {
        let clicks = &mut desk.session.gauge;
        if clicks.len() >= gauge::clicks_needed(tool) {
            clicks.clear();
        }
        clicks.push(on_film);
        desk.session.grip = Grip::Gauging;
        return;
    }
    let document = &mut desk.workspace.document;
    if let Some(placed) = document.place_live(tool, canal, on_film) {
        desk.session.selected = Some(placed.handle.clone());
        desk.session.grip = Grip::Placing(placed);
    }
}

/// Collects the clicks of an assisting tool; the last one makes a request.
fn ask_for_suggestion(desk: &mut Desk<'_>, at: FilmPoint) {
    let session = &mut desk.session;
    session.grip = Grip::Asking;
    session.assist_clicks.push(at);
    if let Some(sought) = assist::Sought::of_tool(session.tool, &session.assist_clicks) {
        session.assist_clicks.clear();
        let canal = session.canal;
        session.assist_request = Some(assist::Request { canal, sought });
    }
}

fn drag(desk: &mut Desk<'_>, at: Pos2, moved: Vec2) {
    let view = desk.workspace.view;
    let to = onto_film(view.film_from_screen(at), desk.workspace.film.size_px());
    match desk.session.grip.clone() {
        Grip::Film => desk.workspace.view.pan(moved),
        Grip::Repeating => {
            if let Some(repeats) = desk.session.clicking() {
                repeats.drag(to);
            }
        }
        Grip::Placing(placed) => {
            desk.workspace.document.move_live(&placed.handle, to);
        }
        Grip::Gauging => {
            if let Some(last) = desk.session.gauge.last_mut() {
                *last = to;
            }
        }
        Grip::Line { on, pressed_at } if pressed_at.distance(at) > PULL_START => {
            if let Some(handle) = desk.workspace.document.insert_live(&on, to) {
                desk.session.selected = Some(handle.clone());
                desk.session.grip = Grip::Placing(Placed {
                    handle,
                    label: "Shape the line",
                    next: Tool::Select,
                    wants_length_of: None,
                });
            }
        }
        Grip::Line { .. } | Grip::Handle { .. } | Grip::Asking | Grip::None => {}
    }
}

fn release(desk: &mut Desk<'_>) {
    match std::mem::take(&mut desk.session.grip) {
        Grip::Placing(placed) if desk.workspace.document.commit_live(placed.label) => {
            desk.session.tool = placed.next;
            desk.session.focus_length_of = placed.wants_length_of;
            desk.session.notify(placed.label);
        }
        Grip::Repeating => repeats::release(desk),
        _ => {}
    }
}

/// Places the tool's point at the middle of the view, without a mouse.
pub fn place_at_cross(desk: &mut Desk<'_>) {
    if desk.session.aims() && desk.session.grip == Grip::None {
        let centre = desk.workspace.view.centre;
        place_at(desk, centre);
        release(desk);
    }
}

/// Arrow keys move the film under the cross.
fn keys(ui: &Ui, desk: &mut Desk<'_>, film: &Response) {
    if !film.has_focus() {
        return;
    }
    ui.memory_mut(|memory| memory.set_focus_lock_filter(film.id, handles::arrow_keys()));
    let by = handles::arrow_vector(ui, Modifiers::NONE) * PAN_STEP
        + handles::arrow_vector(ui, Modifiers::COMMAND) * 1.0;
    if by != Vec2::ZERO {
        desk.workspace.view.pan(-by);
        desk.session.steers_by_keys = true;
    }
    let pressed = |key: Key| ui.input_mut(|input| input.consume_key(Modifiers::NONE, key));
    // Places only what is seen to be aimed at.
    if desk.session.steers_by_keys && pressed(Key::Space) {
        desk.commands.push(Command::PlaceAtCross);
    }
    let draws_line = desk.session.tool.draws_line() || desk.session.is_blinded();
    if draws_line && pressed(Key::Enter) {
        desk.commands.push(Command::Finish);
    }
}

/// The place on the active canal nearest to the pointer, for the graph.
fn mark_from_pointer(ui: &Ui, desk: &mut Desk<'_>, film: &Response) {
    let Some(at) = film.hover_pos() else {
        return;
    };
    let view = desk.workspace.view;
    let canal = desk.session.canal;
    let Some(drawing) = desk.workspace.last_reading().drawings.get(canal) else {
        return;
    };
    let found = path::sample_near(&drawing.path, &view, at, LINE_REACH * 2.0)
        .and_then(|sample| sample.from_apex_mm);
    if found != desk.session.marked_from_apex_mm {
        desk.session.marked_from_apex_mm = found;
        ui.ctx().request_repaint();
    }
}

/// A part of the film enlarged, while a point is placed or moved.
fn magnifier(ui: &Ui, desk: &mut Desk<'_>, film: &Response, view: &ViewTransform) {
    const SIDE: f32 = 168.0;
    const FACTOR: f64 = 3.0;
    const LEAST_ZOOM: f64 = 3.0;
    let holding = matches!(
        desk.session.grip,
        Grip::Handle { .. } | Grip::Placing(_) | Grip::Repeating | Grip::Gauging
    );
    let aiming = desk.session.aims() && film.contains_pointer();
    let Some(pointer) = ui.input(|input| input.pointer.latest_pos()) else {
        return;
    };
    if !(holding || aiming) {
        return;
    }
    // The held point itself, not the pointer that may hold it at its edge.
    let case = desk.workspace.document.case();
    let held: Option<&Handle> = match &desk.session.grip {
        Grip::Handle { handle, .. } => Some(handle),
        Grip::Placing(placed) => Some(&placed.handle),
        _ => None,
    };
    let centre = held
        .and_then(|handle| edit::position(case, handle))
        .unwrap_or_else(|| view.film_from_screen(pointer));
    // In the corner away from the pointer.
    let room = film.rect.shrink(12.0);
    let right = pointer.x < room.center().x;
    let x = if right {
        room.right() - SIDE
    } else {
        room.left()
    };
    let lens = Rect::from_min_size(Pos2::new(x, room.bottom() - SIDE), Vec2::splat(SIDE));
    let factor = FACTOR.max(LEAST_ZOOM / view.zoom);
    let enlarged = view.magnified(lens, centre, factor);

    let painter = ui.painter_at(lens.expand(2.0));
    painter.rect_filled(lens, 4.0, palette::FILM_GROUND);
    let clipped = painter.with_clip_rect(lens);
    desk.workspace.shown_tiles().paint(&clipped, &enlarged);
    overlay::lines(&clipped, desk, &enlarged);
    overlay::cross(&clipped, lens.center());
    painter.rect_stroke(
        lens,
        4.0,
        egui::Stroke::new(2.0, palette::FILM_TEXT),
        egui::StrokeKind::Inside,
    );
}
