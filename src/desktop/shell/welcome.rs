//! The window with nothing open.

use egui::{RichText, Ui};

use super::recent;
use crate::desktop::state::command::Command;
use crate::desktop::state::page::Page;
use crate::desktop::state::preferences::Preferences;
use crate::desktop::state::session::Session;
use crate::desktop::ui::palette;

/// Ways in: open, demo, recent.
pub fn show(
    ui: &mut Ui,
    preferences: &Preferences,
    session: &mut Session,
    commands: &mut Vec<Command>,
    opening: bool,
) {
    ui.vertical_centered(|ui| {
        ui.add_space(ui.available_height() * 0.22);
        ui.label(
            RichText::new("Lengthfilm")
                .text_style(palette::figure_style())
                .strong(),
        );
        ui.label(
            RichText::new("Measures root canals on periapical films")
                .color(palette::of(ui).quiet_text),
        );
        ui.add_space(16.0);
        if opening {
            ui.label("Opening…");
            return;
        }
        for command in [
            Command::Open,
            Command::OpenByPath,
            Command::OpenDemo,
            Command::Show(Page::Class),
            Command::Show(Page::Exercises),
        ] {
            let keys = ui.ctx().format_shortcut(&command.entry().shortcuts[0]);
            let button = egui::Button::new(command.entry().name)
                .shortcut_text(keys)
                .min_size(egui::vec2(300.0, 34.0));
            if ui
                .add(button)
                .accessible_name(command.entry().name)
                .clicked()
            {
                commands.push(command);
            }
        }
        ui.add_space(8.0);
        ui.label(
            RichText::new("or drop a film or a case here, or the cases of a class")
                .color(palette::of(ui).quiet_text),
        );
        if !preferences.recent.is_empty() {
            ui.add_space(16.0);
            recent::list(ui, preferences, session, |ui, name| ui.link(name));
        }
    });
}
