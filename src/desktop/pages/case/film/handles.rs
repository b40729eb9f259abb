//! Handles: one focusable, named, draggable widget for each point.

use egui::{
    EventFilter, Id, Key, Modifiers, PointerButton, Rect, Response, Role, Sense, Ui, Vec2,
    WidgetInfo,
};

use super::path::onto_film;
use crate::case::edit::{self, Handle, PlacedHandle};
use crate::desktop::state::Desk;
use crate::desktop::state::edit::Edit;
use crate::desktop::state::session::Grip;
use crate::units::FilmPoint;

/// Side of the place that takes the pointer, points.
const REACH: f32 = 22.0;
/// The same while a tool places points: smaller, so that a new point can lie
/// beside an old one, and an old one can still be mended.
const REACH_WHILE_PLACING: f32 = 11.0;
/// One arrow key, film px.
const STEP_PX: f64 = 1.0;
/// One arrow key with Ctrl.
const FINE_STEP_PX: f64 = 0.1;
/// One arrow key with Shift.
const COARSE_STEP_PX: f64 = 10.0;

/// A handle's widget in this frame.
pub struct HandleResponse {
    pub handle: Handle,
    pub response: Response,
}

/// From a point to where it is taken hold of: curvature landmarks, which often
/// lie on points of the trace, stand beside theirs like flags.
pub fn lever(handle: &Handle) -> Vec2 {
    match handle {
        Handle::CurvatureLandmark { .. } => lever_of_landmarks(),
        _ => Vec2::ZERO,
    }
}

/// From a curvature landmark to its handle.
pub fn lever_of_landmarks() -> Vec2 {
    Vec2::new(18.0, -18.0)
}

/// The widget id of a handle, the same in every frame.
pub fn id_of(handle: &Handle) -> Id {
    Id::unique(("handle", handle))
}

/// Makes the handles' widgets, moves what is dragged or nudged. Without
/// `takes_press` no handle is taken hold of in this frame.
pub fn interact(
    ui: &mut Ui,
    desk: &mut Desk<'_>,
    placed: &[PlacedHandle],
    viewport: Rect,
    takes_press: bool,
) -> Vec<HandleResponse> {
    let view = desk.workspace.view;
    let mut responses = Vec::with_capacity(placed.len());
    let nearest = nearest_to_pointer(ui, desk, placed);
    for (index, PlacedHandle { handle, at }) in placed.iter().enumerate() {
        let on_screen = view.screen_from_film(*at);
        let reach = if desk.session.tool.places() {
            REACH_WHILE_PLACING
        } else {
            REACH
        };
        let rect = Rect::from_center_size(on_screen + lever(handle), Vec2::splat(reach));
        let visible = rect.intersect(viewport);
        let hit = if visible.is_positive() {
            visible
        } else {
            Rect::from_center_size(viewport.center(), Vec2::ZERO)
        };
        // Other clicks of a tool are about the film itself, whatever lies on it.
        let (tool, canal) = (desk.session.tool, desk.session.canal);
        let case = desk.workspace.document.case();
        let is_held =
            matches!(&desk.session.grip, Grip::Handle { handle: held, .. } if held == handle);
        let is_meant = is_held || nearest.is_none_or(|nearest| nearest == index);
        let sense = if is_meant && tool.takes_hold_of(case, canal, handle) {
            Sense::drag()
        } else {
            Sense::focusable_noninteractive()
        };
        let response = ui.interact(hit, id_of(handle), sense);
        response.widget_info(|| {
            let name = edit::name_of(desk.workspace.document.case(), handle);
            WidgetInfo::labeled(
                Role::Button,
                true,
                format!("{name}, at {:.1}, {:.1} px", at.x, at.y),
            )
        });
        if desk.session.focus_handle.as_ref() == Some(handle) {
            response.request_focus();
            desk.session.focus_handle = None;
        }
        if takes_press {
            drag(ui, desk, handle, &response, on_screen);
        }
        nudge(ui, desk, handle, *at, &response);
        responses.push(HandleResponse {
            handle: handle.clone(),
            response,
        });
    }
    responses
}

/// The handle nearest to the pointer that the tool may take hold of: where
/// several lie under it, the press is for that one.
fn nearest_to_pointer(ui: &Ui, desk: &Desk<'_>, placed: &[PlacedHandle]) -> Option<usize> {
    let pointer = ui.input(|input| input.pointer.press_origin().or(input.pointer.latest_pos()))?;
    let (view, case) = (desk.workspace.view, desk.workspace.document.case());
    let (tool, canal) = (desk.session.tool, desk.session.canal);
    let distance = |placed: &PlacedHandle| {
        let middle = view.screen_from_film(placed.at) + lever(&placed.handle);
        middle.distance_sq(pointer)
    };
    placed
        .iter()
        .enumerate()
        .filter(|(_, placed)| tool.takes_hold_of(case, canal, &placed.handle))
        .min_by(|(_, a), (_, b)| distance(a).total_cmp(&distance(b)))
        .map(|(index, _)| index)
}

fn drag(ui: &Ui, desk: &mut Desk<'_>, handle: &Handle, response: &Response, on_screen: egui::Pos2) {
    let view = desk.workspace.view;
    if response.drag_started_by(PointerButton::Primary) {
        let pressed_at = ui
            .input(|input| input.pointer.press_origin())
            .unwrap_or(on_screen);
        response.request_focus();
        desk.session.selected = Some(handle.clone());
        desk.session.grip = Grip::Handle {
            handle: handle.clone(),
            offset: on_screen - pressed_at,
        };
    }
    if response.dragged_by(PointerButton::Primary)
        && let Grip::Handle {
            handle: held,
            offset,
        } = &desk.session.grip
        && held == handle
        && let Some(pointer) = response.interact_pointer_pos()
    {
        // Rounding on the way to the screen and back is no move.
        const LEAST_MOVE: f32 = 0.01;
        let target = pointer + *offset;
        if on_screen.distance(target) > LEAST_MOVE {
            let to = onto_film(view.film_from_screen(target), desk.workspace.film.size_px());
            desk.workspace.document.move_live(handle, to);
        }
    }
    if response.drag_stopped() {
        desk.session.grip = Grip::None;
        let name = edit::name_of(desk.workspace.document.case(), handle);
        let step = format!("Move {name}");
        if desk.workspace.document.commit_live(&step) {
            desk.session.notify(step);
        }
    }
}

fn nudge(ui: &Ui, desk: &mut Desk<'_>, handle: &Handle, at: FilmPoint, response: &Response) {
    if !response.has_focus() {
        return;
    }
    desk.session.selected = Some(handle.clone());
    ui.memory_mut(|memory| memory.set_focus_lock_filter(response.id, arrow_keys()));
    for (modifiers, step_px) in [
        (Modifiers::COMMAND, FINE_STEP_PX),
        (Modifiers::SHIFT, COARSE_STEP_PX),
        (Modifiers::NONE, STEP_PX),
    ] {
        let arrows = arrow_vector(ui, modifiers);
        if arrows == Vec2::ZERO {
            continue;
        }
        let view = desk.workspace.view;
        let [x, y] = view.film_vector_from_screen([f64::from(arrows.x), f64::from(arrows.y)]);
        let by = view.zoom * step_px;
        let to = FilmPoint::new(at.x + x * by, at.y + y * by);
        let to = onto_film(to, desk.workspace.film.size_px());
        let handle = handle.clone();
        desk.apply(Edit::Nudge { handle, to });
    }
}

/// Arrow keys go to the focused widget instead of moving the focus.
pub fn arrow_keys() -> EventFilter {
    EventFilter {
        horizontal_arrows: true,
        vertical_arrows: true,
        ..EventFilter::default()
    }
}

/// Net arrow presses with exactly these modifiers, as a screen vector.
pub fn arrow_vector(ui: &Ui, modifiers: Modifiers) -> Vec2 {
    ui.input_mut(|input| {
        if !input.modifiers.matches_exact(modifiers) {
            return Vec2::ZERO;
        }
        let mut presses = |key: Key| input.count_and_consume_key(modifiers, key) as f32;
        Vec2::new(
            presses(Key::ArrowRight) - presses(Key::ArrowLeft),
            presses(Key::ArrowDown) - presses(Key::ArrowUp),
        )
    })
}
