//! What commands do to the open case.

use egui::Context;

use super::chart_note::chart_note;
use super::film;
use crate::case::edit::Tool;
use crate::case::{Landmark, WallSide};
use crate::desktop::state::Desk;
use crate::desktop::state::clipboard::{ToCopy, keep_picture};
use crate::desktop::state::edit::Edit;
use crate::desktop::state::session::Grip;
use crate::desktop::view::Tone;

/// Takes the last step back.
pub fn undo(desk: &mut Desk<'_>) {
    match desk.workspace.document.undo() {
        Some(step) => desk.session.notify(format!("Undone: {step}")),
        None => desk.session.notify("Nothing to undo"),
    }
}

/// Does the step last taken back again.
pub fn redo(desk: &mut Desk<'_>) {
    match desk.workspace.document.redo() {
        Some(step) => desk.session.notify(format!("Redone: {step}")),
        None => desk.session.notify("Nothing to redo"),
    }
}

/// Gives up what is under way; if nothing is, hides what is offered; if nothing
/// is offered, puts the tool down.
pub fn cancel(desk: &mut Desk<'_>) {
    let session = &desk.session;
    let is_idle = session.grip == Grip::None
        && session.assist_clicks.is_empty()
        && session.assisting.is_none()
        && session.gauge.is_empty();
    let case = desk.workspace.document.case();
    if let Some(offers) = &mut desk.workspace.offers
        && is_idle
        && !offers.shown(case, session.canal).is_empty()
    {
        offers.hidden = true;
        desk.session
            .notify("Suggestions hidden; Shift+S shows them again");
        return;
    }
    desk.workspace.document.cancel_live();
    desk.session.stop_assisting();
    desk.session.gauge.clear();
    desk.session.grip = Grip::None;
    desk.session.tool = Tool::Select;
}

/// Adds a canal and turns to it.
pub fn new_canal(desk: &mut Desk<'_>) {
    desk.apply(Edit::NewCanal);
    desk.session.canal = desk.workspace.document.case().canals.len() - 1;
    desk.session.tool = Tool::File;
    desk.session.focus_canal_name = true;
}

/// Turns to the canal `step` further, round and round.
pub fn next_canal(desk: &mut Desk<'_>, step: isize) {
    let count = desk.workspace.document.case().canals.len().max(1);
    let next = desk.session.canal as isize + step;
    desk.session.canal = next.rem_euclid(count as isize) as usize;
}

/// Takes a tool.
pub fn use_tool(ctx: &Context, desk: &mut Desk<'_>, tool: Tool) {
    desk.session.stop_assisting();
    desk.session.gauge.clear();
    desk.session.tool = tool;
    if tool.places() {
        ctx.memory_mut(|memory| memory.request_focus(film::film_id()));
    }
}

/// Shows what was found on the film, or hides it; a film not yet looked at is.
pub fn show_offers(desk: &mut Desk<'_>) {
    let Some(offers) = &mut desk.workspace.offers else {
        desk.session.wants_look = desk.session.looking.is_none();
        return;
    };
    offers.hidden = !offers.hidden;
    let case = desk.workspace.document.case();
    let words = match (offers.hidden, offers.shown(case, desk.session.canal).len()) {
        (true, _) => "Suggestions hidden".to_owned(),
        (false, 0) => "No suggestion for this canal".to_owned(),
        (false, _) => "Suggestions shown".to_owned(),
    };
    desk.session.notify(words);
}

/// Copies the film as it is shown.
pub fn copy_picture(ctx: &Context, desk: &mut Desk<'_>) {
    let film = desk.workspace.view.viewport;
    let keeper = ctx.clone();
    ctx.request_screenshot(move |picture| {
        let region = picture.region(&film, Some(keeper.pixels_per_point()));
        keep_picture(&keeper, region);
    });
}

/// Zooms about the middle of the film's view.
pub fn zoom(desk: &mut Desk<'_>, factor: f64) {
    let middle = desk.workspace.view.viewport.center();
    desk.workspace.view.zoom_about(middle, factor);
}

/// Fits the whole film into its view.
pub fn fit(desk: &mut Desk<'_>) {
    let size = desk.workspace.film.size_px();
    desk.workspace.view.fit(size);
}

/// Turns the film by quarters, clockwise.
pub fn turn(desk: &mut Desk<'_>, quarters: u8) {
    let view = &mut desk.workspace.view;
    view.quarter_turns = (view.quarter_turns + quarters) % 4;
    view.fit(desk.workspace.film.size_px());
}

/// Puts another window in force.
pub fn set_window(desk: &mut Desk<'_>, tone: Tone) {
    let inverted = desk.workspace.tone.inverted;
    desk.workspace.tone = Tone { inverted, ..tone };
    desk.workspace.show_local_contrast = false;
}

/// Takes the chosen point away.
pub fn delete_selected(desk: &mut Desk<'_>) {
    let Some(handle) = desk.session.selected.take() else {
        desk.session.notify("No point chosen: click one first");
        return;
    };
    let applied = desk.apply(Edit::Delete(handle));
    if let Some(step) = applied.step {
        desk.session.notify(step);
    }
}

/// Puts a point after the chosen one.
pub fn insert_after_selected(desk: &mut Desk<'_>) {
    let selected = desk.session.selected.clone();
    let inserted = selected.and_then(|handle| desk.apply(Edit::InsertAfter(handle)).handle);
    match inserted {
        Some(handle) => {
            desk.session.focus_handle = Some(handle.clone());
            desk.session.selected = Some(handle);
            desk.session.notify("Insert point");
        }
        None => desk
            .session
            .notify("Choose a point of a file or canal line first"),
    }
}

/// Finishes the line being drawn.
pub fn finish(desk: &mut Desk<'_>) {
    /// A point placed this near to the apex was meant to be on it, points.
    const ON_THE_APEX: f64 = 6.0;
    let canal = desk.session.canal;
    let joins_px = ON_THE_APEX / desk.workspace.view.zoom;
    if let Tool::Wall(side) = desk.session.tool {
        finish_wall(desk, side);
        return;
    }
    let was_tracing = desk.session.tool == Tool::Trace;
    if was_tracing {
        desk.apply(Edit::FinishTrace { canal, joins_px });
    }
    let case = desk.workspace.document.case();
    let has_apex = case.canals.get(canal).is_some_and(|c| c.apex_px.is_some());
    desk.session.tool = if was_tracing && !has_apex {
        Tool::Landmark(Landmark::Apex)
    } else {
        Tool::Select
    };
}

/// Finishes a wall; after the first of both the other one is next.
fn finish_wall(desk: &mut Desk<'_>, side: WallSide) {
    let canal = desk.session.canal;
    desk.apply(Edit::FinishWalls { canal });
    let case = desk.workspace.document.case();
    let walls = case.canals.get(canal).and_then(|c| c.walls.as_ref());
    let is_empty = |side| walls.is_none_or(|walls| walls.side(side).is_empty());
    let other = WallSide::BOTH.into_iter().find(|one| *one != side);
    let missing = other.filter(|other| !is_empty(side) && is_empty(*other));
    desk.session.tool = missing.map_or(Tool::Select, Tool::Wall);
}

/// The chart note as it would be copied now.
pub fn chart_note_now(desk: &Desk<'_>) -> Option<String> {
    let typed = desk.workspace.document.case().film.date.clone();
    let date = typed.or_else(|| desk.workspace.film.taken_on.clone());
    chart_note(
        desk.workspace.document.case(),
        &desk.workspace.last_reading().findings,
        date.as_deref(),
        desk.preferences.chart_step_mm,
    )
}

/// Copies the chart note of all canals.
pub fn copy_chart_note(desk: &mut Desk<'_>) {
    desk.workspace.reading();
    match chart_note_now(desk) {
        Some(note) => {
            desk.session.to_copy = Some(ToCopy::Text(note, "Chart note"));
        }
        None => desk
            .session
            .notify("No working length yet: mark file and apex, and type the set length"),
    }
}
