//! The head of the window: menus with every command, and the case's name.

use egui::{Button, RichText, Ui};

use super::recent;
use crate::desktop::state::Desk;
use crate::desktop::state::command::Command;
use crate::desktop::state::command_group::Group;
use crate::desktop::state::commands::entries;
use crate::desktop::state::preferences::Preferences;
use crate::desktop::state::session::Session;
use crate::desktop::state::shortcut::keys_in_words;
use crate::desktop::ui::icons::{self, Icon};
use crate::desktop::ui::palette;

/// The menus; without a case only those that need none.
pub fn menus(
    ui: &mut Ui,
    preferences: &mut Preferences,
    session: &mut Session,
    commands: &mut Vec<Command>,
) {
    for group in Group::ALL {
        ui.menu_button(group.title(), |ui| {
            for entry in entries().filter(|entry| entry.group == group) {
                let mut button = Button::new(entry.name);
                if let Some(keys) = entry.shortcuts.first() {
                    button = button.shortcut_text(keys_in_words(ui.ctx(), keys));
                }
                if ui.add(button).accessible_name(entry.name).clicked() {
                    commands.push(entry.command);
                    ui.close();
                }
            }
            if group == Group::Record {
                ui.separator();
                ui.checkbox(&mut session.include_identity, "Include patient identity")
                    .on_hover_text(
                        "For the next record saved only: name, number and birth date from the film",
                    );
                ui.checkbox(&mut session.include_file_names, "Include file names")
                    .on_hover_text(
                        "For the next record saved only: what film and case are called; \
                         else a label that names nobody",
                    );
            }
            if group == Group::Place {
                ui.separator();
                ui.checkbox(
                    &mut preferences.looks_over_films,
                    "Look over films when opened",
                )
                .on_hover_text("Off: nothing is sought or marked before you ask for suggestions");
            }
            if group == Group::Case {
                ui.separator();
                let chosen = recent::list(ui, preferences, session, |ui, name| ui.button(name));
                if chosen {
                    ui.close();
                }
                recent::choices(ui, preferences);
            }
        });
    }
}

/// A film that has come into the watched folder.
pub fn new_film(ui: &mut Ui, session: &mut Session, commands: &mut Vec<Command>) {
    let Some(film) = &session.new_film else {
        return;
    };
    let palette = palette::of(ui);
    let name = film.file_name().unwrap_or(film.as_os_str());
    let words = format!("New film: {}", name.to_string_lossy());
    let open = Button::new(RichText::new(&words).color(palette.on_accent).strong())
        .fill(palette.accent)
        .truncate();
    let open = ui
        .add(open)
        .on_hover_text(Command::OpenNewestFilm.hint(ui.ctx()));
    if open.clicked() {
        commands.push(Command::OpenNewestFilm);
    }
    if ui.button("Not now").clicked() {
        session.new_film = None;
    }
}

/// Undo and redo with the step's name, and whether the case is saved.
pub fn case_state(ui: &mut Ui, desk: &mut Desk<'_>) {
    let palette = palette::of(ui);
    for (command, icon, label) in [
        (
            Command::Undo,
            Icon::Undo,
            desk.workspace.document.undo_label(),
        ),
        (
            Command::Redo,
            Icon::Redo,
            desk.workspace.document.redo_label(),
        ),
    ] {
        let what = command.entry().name;
        let name = label.map_or_else(|| what.to_owned(), |label| format!("{what}: {label}"));
        if icons::button(ui, icon, label.is_some(), &name).clicked() {
            desk.commands.push(command);
        }
    }
    let document = &desk.workspace.document;
    let name = document
        .case_path()
        .and_then(|path| path.file_name())
        .map_or_else(
            || "New case".to_owned(),
            |name| name.to_string_lossy().into_owned(),
        );
    let (state, colour) = if document.is_unsaved() {
        ("not saved", palette.caution)
    } else if document.case_path().is_some() {
        ("saved", palette.quiet_text)
    } else {
        ("nothing to save", palette.quiet_text)
    };
    ui.label(RichText::new(name).strong());
    ui.label(RichText::new(state).color(colour));
}
