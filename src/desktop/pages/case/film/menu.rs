//! What can be done at a place of the film, by the right button.

use egui::{Button, Id, LayerId, Order, Popup, PopupCloseBehavior, Pos2, Response, Ui};

use super::path;
use crate::case::LANDMARKS;
use crate::case::edit::{self, Handle, Tool};
use crate::desktop::state::Desk;
use crate::desktop::state::command::Command;
use crate::desktop::state::edit::Edit;
use crate::desktop::state::shortcut::keys_in_words;
use crate::units::FilmPoint;

/// How near to a point or line the click must be, points.
const REACH: f32 = 12.0;

/// Where the menu was opened, and on what.
#[derive(Clone)]
struct Opened {
    at: Pos2,
    place: FilmPoint,
    handle: Option<Handle>,
    line: Option<Handle>,
}

/// Opens the menu on a click with the right button, and shows it.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>, film: &Response) {
    let id = Id::unique("film menu");
    let clicked = ui.input(|input| {
        let pointer = &input.pointer;
        let clicked = pointer.secondary_clicked();
        pointer.interact_pos().filter(|_| clicked)
    });
    let inside = clicked.filter(|at| film.rect.contains(*at) && film.contains_pointer());
    if let Some(at) = inside.filter(|_| !desk.session.is_blinded()) {
        ui.data_mut(|data| data.insert_temp(id, opened_at(desk, at)));
        Popup::open_id(ui.ctx(), id);
    }
    let Some(opened) = ui.data(|data| data.get_temp::<Opened>(id)) else {
        return;
    };
    let layer = LayerId::new(Order::Middle, id.with("film"));
    Popup::new(id, ui.ctx().clone(), opened.at, layer)
        .open_memory(None)
        .close_behavior(PopupCloseBehavior::CloseOnClick)
        .show(|ui| {
            ui.set_min_width(220.0);
            entries(ui, desk, &opened);
        });
}

fn opened_at(desk: &Desk<'_>, at: Pos2) -> Opened {
    let (view, case) = (desk.workspace.view, desk.workspace.document.case());
    let handles = edit::handles(case).into_iter();
    let distance = |place: FilmPoint| view.screen_from_film(place).distance(at);
    let handle = handles
        .filter(|placed| distance(placed.at) <= REACH)
        .min_by(|a, b| distance(a.at).total_cmp(&distance(b.at)))
        .map(|placed| placed.handle);
    let drawings = &desk.workspace.last_reading().drawings;
    Opened {
        at,
        place: view.film_from_screen(at),
        handle,
        line: path::line_near(case, drawings, &view, at, REACH),
    }
}

fn entries(ui: &mut Ui, desk: &mut Desk<'_>, opened: &Opened) {
    let canal = desk.session.canal;
    if desk.session.tool.draws_line() && ui.button("Finish the line").clicked() {
        desk.commands.push(Command::Finish);
    }
    if desk.session.tool != Tool::Select && ui.button("Deselect tool").clicked() {
        desk.commands.push(Command::Cancel);
    }
    if let Some(handle) = &opened.handle {
        let name = edit::name_of(desk.workspace.document.case(), handle);
        if ui.button(format!("Delete {name}")).clicked() {
            let applied = desk.apply(Edit::Delete(handle.clone()));
            if let Some(step) = applied.step {
                desk.session.notify(step);
            }
        }
    } else if let Some(line) = &opened.line
        && ui.button("Add a point to the line here").clicked()
    {
        let (on, at) = (line.clone(), opened.place);
        desk.apply(Edit::InsertOnLine { on, at });
    }
    ui.separator();
    let started = desk.session.tool;
    for row in &LANDMARKS {
        if ui.button(format!("{} here", row.name)).clicked() {
            let (tool, at) = (Tool::Landmark(row.landmark), opened.place);
            let applied = desk.apply(Edit::Place { tool, canal, at });
            desk.session.selected = applied.handle;
            if let Some(step) = applied.step {
                desk.session.notify(step);
            }
            if started == tool {
                desk.session.tool = Tool::Select;
            }
        }
    }
    ui.separator();
    for command in [
        Command::Use(Tool::Distance),
        Command::Use(Tool::Angle),
        Command::Fit,
        Command::OneToOne,
        Command::AutoContrast,
    ] {
        let entry = command.entry();
        let mut button = Button::new(entry.name);
        if let Some(keys) = entry.shortcuts.first() {
            button = button.shortcut_text(keys_in_words(ui.ctx(), keys));
        }
        if ui.add(button).clicked() {
            desk.commands.push(command);
        }
    }
}
