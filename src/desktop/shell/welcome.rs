//! The window with nothing open.

use egui::{RichText, Ui};

use super::answer::Answer;
use super::recent;
use crate::cautions::PURPOSE;
use crate::desktop::state::command::Command;
use crate::desktop::state::long_job::LongJob;
use crate::desktop::state::page::Page;
use crate::desktop::state::preferences::Preferences;
use crate::desktop::state::session::Session;
use crate::desktop::ui::{palette, widgets};

/// Ways in: open, demo, recent.
pub fn show(
    ui: &mut Ui,
    preferences: &Preferences,
    session: &mut Session,
    commands: &mut Vec<Command>,
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
        if let Some(opening) = &session.opening {
            ui.label("Opening…");
            stop_opening(ui, opening);
            return;
        }
        for command in [
            Command::Open,
            Command::OpenByPath,
            Command::OpenDemo,
            Command::WatchFolder,
            Command::Show(Page::Class),
            Command::Show(Page::Exercises),
        ] {
            let keys = command.keys_in_words(ui.ctx());
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

fn stop_opening(ui: &mut Ui, opening: &LongJob) {
    if widgets::slow_with_stop(ui, opening.percent_once_slow(), "Stop opening") {
        opening.cancel();
    }
}

/// The ways to begin, in front of the demo case: an answer when one is taken.
pub fn begin(ui: &mut Ui, preferences: &Preferences, opening: Option<&LongJob>) -> Answer {
    let quiet = palette::of(ui).quiet_text;
    let mut answer = Answer::Waiting;
    ui.label(
        RichText::new("Lengthfilm")
            .text_style(palette::figure_style())
            .strong(),
    );
    ui.label(RichText::new("Measures root canals on periapical films").color(quiet));
    ui.add_space(10.0);
    let width = ui.available_width();
    let offer = |ui: &mut Ui, command: Command, name: &str, filled: bool| {
        let palette = palette::of(ui);
        let keys = command.keys_in_words(ui.ctx());
        let (fill, colour) = if filled {
            (palette.accent, palette.on_accent)
        } else {
            (palette.raised, palette.text)
        };
        let button = egui::Button::new(RichText::new(name).color(colour).strong())
            .right_text(RichText::new(keys).color(colour).small())
            .fill(fill)
            .min_size(egui::vec2(width, 38.0));
        let shown = ui.add(button).accessible_name(name);
        if filled && ui.memory(|memory| memory.focused().is_none()) {
            shown.request_focus();
        }
        shown.clicked()
    };
    if offer(ui, Command::Open, "Open a film or a case…", true) {
        answer = Answer::Run(Command::Open);
    }
    if offer(ui, Command::OpenDemo, "Try the demo case", false) {
        answer = Answer::Closed;
    }
    if offer(
        ui,
        Command::WatchFolder,
        "Watch a folder for new films…",
        false,
    ) {
        answer = Answer::Run(Command::WatchFolder);
    }
    match opening {
        Some(opening) => {
            ui.label(RichText::new("Opening…").color(quiet));
            stop_opening(ui, opening);
        }
        None => {
            let words = "or drop a film or a case anywhere in this window";
            ui.label(RichText::new(words).color(quiet));
        }
    }
    if !preferences.recent.is_empty() {
        ui.add_space(10.0);
        ui.label(RichText::new("Recent").color(quiet));
        for path in preferences.recent.iter().take(6) {
            let name = path.file_name().unwrap_or(path.as_os_str());
            let link = ui.link(name.to_string_lossy());
            if link.on_hover_text(path.to_string_lossy()).clicked() {
                answer = Answer::Open(path.to_string_lossy().into_owned());
            }
        }
    }
    ui.add_space(8.0);
    ui.label(RichText::new(PURPOSE).color(quiet).small());
    answer
}
