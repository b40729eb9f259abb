//! Commands on the open case.

use egui::Context;

use super::Desk;
use crate::desktop::chart_note::chart_note;
use crate::desktop::command::Command;
use crate::desktop::document::{self, Handle, Tool};
use crate::desktop::film_view::{self, Tone};
use crate::desktop::repeats;
use crate::desktop::session::Grip;

/// Commands on the open case.
pub(super) fn carry_out_on_case(ctx: &Context, desk: &mut Desk<'_>, command: Command) {
    if repeats::carry_out(desk, command) {
        ctx.request_repaint();
        return;
    }
    let size = desk.workspace.film.size_px();
    let middle = desk.workspace.view.viewport.center();
    match command {
        Command::Undo => match desk.workspace.document.undo() {
            Some(step) => desk.session.say(format!("Undone: {step}")),
            None => desk.session.say("Nothing to undo"),
        },
        Command::Redo => match desk.workspace.document.redo() {
            Some(step) => desk.session.say(format!("Done again: {step}")),
            None => desk.session.say("Nothing to redo"),
        },
        Command::DeleteHandle => delete_selected(desk),
        Command::InsertPoint => insert_after_selected(desk),
        Command::PlaceAtCross => film_view::place_at_cross(desk),
        Command::Finish => finish(desk),
        Command::Cancel => {
            desk.workspace.document.cancel_live();
            desk.session.stop_assisting();
            desk.session.grip = Grip::None;
            desk.session.tool = Tool::Select;
        }
        Command::NewCanal => {
            let mut index = 0;
            desk.workspace
                .document
                .edit("New canal", |case| index = document::add_canal(case));
            desk.session.canal = index;
            desk.session.tool = Tool::File;
        }
        Command::NextCanal | Command::PreviousCanal => {
            let count = desk.workspace.document.case().canals.len().max(1);
            let step = if command == Command::NextCanal {
                1
            } else {
                count - 1
            };
            desk.session.canal = (desk.session.canal + step) % count;
        }
        Command::Use(tool) => {
            desk.session.stop_assisting();
            desk.session.tool = tool;
            if tool.places() {
                ctx.memory_mut(|memory| memory.request_focus(film_view::film_id()));
            }
        }
        Command::CopyChartNote => copy_chart_note(ctx, desk),
        Command::CopyPicture => {
            let film = desk.workspace.view.viewport;
            let copied = ctx.clone();
            ctx.request_screenshot(move |picture| {
                copied.copy_image(picture.region(&film, Some(copied.pixels_per_point())));
                copied.request_repaint();
            });
            desk.session.say("Annotated picture copied");
        }
        Command::Fit => desk.workspace.view.fit(size),
        Command::OneToOne => desk.workspace.view.one_to_one(ctx.pixels_per_point()),
        Command::ZoomIn => desk.workspace.view.zoom_about(middle, film_view::ZOOM_STEP),
        Command::ZoomOut => desk
            .workspace
            .view
            .zoom_about(middle, 1.0 / film_view::ZOOM_STEP),
        Command::TurnLeft => turn(desk, 3),
        Command::TurnRight => turn(desk, 1),
        Command::Mirror => desk.workspace.view.mirrored = !desk.workspace.view.mirrored,
        Command::Invert => desk.workspace.tone.inverted = !desk.workspace.tone.inverted,
        Command::AutoContrast => set_window(desk, Tone::automatic(&desk.workspace.film.film)),
        Command::FullContrast => set_window(desk, Tone::full(&desk.workspace.film.film)),
        Command::LocalContrast => {
            desk.workspace.show_local_contrast = !desk.workspace.show_local_contrast;
        }
        // Orders to the window, carried out before.
        _ => {}
    }
    ctx.request_repaint();
}

fn turn(desk: &mut Desk<'_>, quarters: u8) {
    let view = &mut desk.workspace.view;
    view.quarter_turns = (view.quarter_turns + quarters) % 4;
    view.fit(desk.workspace.film.size_px());
}

fn set_window(desk: &mut Desk<'_>, tone: Tone) {
    let inverted = desk.workspace.tone.inverted;
    desk.workspace.tone = Tone { inverted, ..tone };
    desk.workspace.show_local_contrast = false;
}

fn delete_selected(desk: &mut Desk<'_>) {
    let Some(handle) = desk.session.selected.take() else {
        desk.session.say("No point chosen: press on one first");
        return;
    };
    let name = document::name_of(desk.workspace.document.case(), &handle);
    let step = format!("Delete {name}");
    if desk
        .workspace
        .document
        .edit(&step, |case| document::delete(case, &handle))
    {
        desk.session.say(step);
    }
}

fn insert_after_selected(desk: &mut Desk<'_>) {
    let mut inserted: Option<Handle> = None;
    if let Some(handle) = desk.session.selected.clone() {
        desk.workspace.document.edit("Insert point", |case| {
            inserted = document::insert_next(case, &handle);
        });
    }
    match inserted {
        Some(handle) => {
            desk.session.focus_handle = Some(handle.clone());
            desk.session.selected = Some(handle);
            desk.session.say("Insert point");
        }
        None => desk
            .session
            .say("Choose a point of a file or canal line first"),
    }
}

fn finish(desk: &mut Desk<'_>) {
    /// A point placed this near to the apex was meant to be on it, points.
    const ON_THE_APEX: f64 = 6.0;
    let canal = desk.session.canal;
    let joins_px = ON_THE_APEX / desk.workspace.view.zoom;
    if desk.session.tool == Tool::Trace {
        desk.workspace
            .document
            .edit("Finish the canal at its apex", |case| {
                document::finish_trace(case, canal, joins_px)
            });
    }
    desk.session.tool = Tool::Select;
}

fn copy_chart_note(ctx: &Context, desk: &mut Desk<'_>) {
    desk.workspace.reading();
    let typed = desk.workspace.document.case().film.date.clone();
    let date = typed.or_else(|| desk.workspace.film.taken_on.clone());
    let note = chart_note(
        desk.workspace.document.case(),
        &desk.workspace.last_reading().findings,
        desk.session.canal,
        date.as_deref(),
    );
    match note {
        Some(note) => {
            ctx.copy_text(note);
            desk.session.say("Chart note copied");
        }
        None => desk
            .session
            .say("No working length yet: mark file and apex, and type the set length"),
    }
}
