//! Questions and lists in front of the window.

use egui::{Context, Id, Key, Modal, RichText, ScrollArea, TextEdit, Ui};

use super::answer::Answer;
use super::{watch, welcome};
use crate::cautions::CAUTIONS;
use crate::desktop::state::command_group::Group;
use crate::desktop::state::commands::entries;
use crate::desktop::state::long_job::LongJob;
use crate::desktop::state::preferences::Preferences;
use crate::desktop::state::recovery::Leftover;
use crate::desktop::state::session::{Dialog, Next};
use crate::desktop::state::shortcut::keys_in_words;
use crate::desktop::ui::palette;

/// Shows a dialog and hears its answer.
pub fn show(
    ctx: &Context,
    dialog: &mut Dialog,
    preferences: &mut Preferences,
    opening: Option<&LongJob>,
) -> Answer {
    let modal = Modal::new(Id::unique("dialog")).show(ctx, |ui| {
        ui.set_width(dialog_width(dialog).min(ctx.content_rect().width() - 60.0));
        match dialog {
            Dialog::Commands { filter } => commands(ui, filter),
            Dialog::Cautions => cautions(ui),
            Dialog::OpenByPath { path } => open_by_path(ui, path),
            Dialog::Unsaved { then } => unsaved(ui, then),
            Dialog::Recover(leftover) => recover(ui, leftover),
            Dialog::WatchFolder => watch::settings(ui, preferences),
            Dialog::Begin => welcome::begin(ui, preferences, opening),
            Dialog::FilmReplaced { path } => film_replaced(ui, &path.to_string_lossy()),
            Dialog::CaseChanged { path, .. } => case_changed(ui, &path.to_string_lossy()),
            Dialog::RemoveCanal { canal } => remove_canal(ui, *canal),
        }
    });
    if matches!(modal.inner, Answer::Waiting) && modal.should_close() {
        // A leftover stays for the next start unless it is settled.
        return Answer::Closed;
    }
    modal.inner
}

fn dialog_width(dialog: &Dialog) -> f32 {
    match dialog {
        Dialog::Commands { .. } | Dialog::Cautions | Dialog::Begin => 560.0,
        _ => 420.0,
    }
}

fn commands(ui: &mut Ui, filter: &mut String) -> Answer {
    let mut answer = Answer::Waiting;
    ui.heading("All commands and keys");
    let field = ui
        .add(
            TextEdit::singleline(filter)
                .hint_text("Find a command")
                .desired_width(f32::INFINITY),
        )
        .accessible_name("Find a command");
    if ui.memory(|memory| memory.focused().is_none()) {
        field.request_focus();
    }
    let wanted = filter.to_lowercase();
    ScrollArea::vertical()
        .max_height(ui.ctx().content_rect().height() - 180.0)
        .show(ui, |ui| {
            for group in Group::ALL {
                let mut listed = entries()
                    .filter(|e| e.group == group && e.name.to_lowercase().contains(&wanted))
                    .peekable();
                if listed.peek().is_none() {
                    continue;
                }
                ui.label(RichText::new(group.title()).color(palette::of(ui).quiet_text));
                for entry in listed {
                    let keys: Vec<String> = entry
                        .shortcuts
                        .iter()
                        .map(|keys| keys_in_words(ui.ctx(), keys))
                        .collect();
                    let button = egui::Button::new(entry.name)
                        .frame_when_inactive(false)
                        .right_text(RichText::new(keys.join(" or ")).monospace())
                        .min_size(egui::vec2(ui.available_width(), 0.0));
                    if ui.add(button).accessible_name(entry.name).clicked() {
                        answer = Answer::Run(entry.command);
                    }
                }
            }
            ui.label(RichText::new("On the film").color(palette::of(ui).quiet_text));
            for (keys, what) in ON_THE_FILM {
                ui.horizontal(|ui| {
                    ui.label(RichText::new(*keys).monospace());
                    ui.label(*what);
                });
            }
        });
    if ui.button("Close").clicked() {
        answer = Answer::Closed;
    }
    answer
}

/// Gestures that are no commands.
const ON_THE_FILM: &[(&str, &str)] = &[
    ("Wheel", "zoom at the pointer"),
    (
        "Drag",
        "move a point; pull a line to shape it; elsewhere move the film",
    ),
    (
        "Right drag",
        "contrast left and right, brightness up and down",
    ),
    ("Middle drag", "move the film"),
    ("Right click", "what can be done there"),
    ("Hold X", "hide all marks"),
    ("Tab", "next point or button"),
    (
        "Arrows",
        "on a point: 1 px, Shift 10 px, Ctrl 0.1 px; on the film: move it under the cross",
    ),
];

fn cautions(ui: &mut Ui) -> Answer {
    ui.heading("Cautions");
    for caution in CAUTIONS {
        ui.horizontal_top(|ui| {
            ui.label("–");
            let said = ui.add(egui::Label::new(caution.text).wrap());
            if !caution.source.is_empty() {
                said.on_hover_text(caution.source);
            }
        });
    }
    close_button(ui)
}

fn close_button(ui: &mut Ui) -> Answer {
    ui.add_space(6.0);
    let close = ui.button("Close");
    if ui.memory(|memory| memory.focused().is_none()) {
        close.request_focus();
    }
    if close.clicked() {
        Answer::Closed
    } else {
        Answer::Waiting
    }
}

fn open_by_path(ui: &mut Ui, path: &mut String) -> Answer {
    ui.heading("Open by path");
    ui.label("A film (DICOM, PNG, TIFF, JPEG, BMP) or a case (*.case.json).");
    let field = ui
        .add(
            TextEdit::singleline(path)
                .hint_text("/films/tooth-36.dcm")
                .desired_width(f32::INFINITY),
        )
        .accessible_name("Path of a film or case");
    let entered = field.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
    if ui.memory(|memory| memory.focused().is_none()) && !entered {
        field.request_focus();
    }
    let mut answer = Answer::Waiting;
    ui.horizontal(|ui| {
        if ui.button("Open").clicked() || entered {
            answer = Answer::Open(path.clone());
        }
        if ui.button("Cancel").clicked() {
            answer = Answer::Closed;
        }
    });
    answer
}

fn unsaved(ui: &mut Ui, then: &Next) -> Answer {
    ui.heading("This case is not saved");
    ui.label("Save it first, or go on and lose the changes?");
    choices(
        ui,
        &[
            ("Save", Answer::SaveThen(then.clone())),
            ("Go on without saving", Answer::Proceed(then.clone())),
            ("Stay here", Answer::Closed),
        ],
    )
}

fn recover(ui: &mut Ui, leftover: &Leftover) -> Answer {
    ui.heading("A case was left unsaved");
    ui.label(leftover.words());
    ui.label("The window closed before it was saved. Its last state is kept.");
    choices(
        ui,
        &[
            ("Restore it", Answer::Restore),
            ("Throw it away", Answer::DiscardLeftover),
            ("Ask again next time", Answer::Closed),
        ],
    )
}

fn film_replaced(ui: &mut Ui, path: &str) -> Answer {
    ui.heading("The film file has changed");
    ui.label(format!(
        "{path} is no longer the film shown here. The points were placed on the film as it was."
    ));
    choices(
        ui,
        &[
            ("Keep the film shown", Answer::Closed),
            ("Load the new film", Answer::ReloadFilm),
        ],
    )
}

fn case_changed(ui: &mut Ui, path: &str) -> Answer {
    ui.heading("The case file has changed");
    ui.label(format!(
        "Another program or window has written {path} since it was opened here. \
         Your work is not saved yet."
    ));
    choices(
        ui,
        &[
            ("Keep both: save mine beside it", Answer::SaveBeside),
            ("Replace it with mine", Answer::SaveOver),
            ("Stay here", Answer::Closed),
        ],
    )
}

fn remove_canal(ui: &mut Ui, canal: usize) -> Answer {
    ui.heading("Remove this canal?");
    ui.label("Its trace, landmarks and file go with it. Undo brings them back.");
    choices(
        ui,
        &[
            ("Remove canal", Answer::RemoveCanal(canal)),
            ("Keep it", Answer::Closed),
        ],
    )
}

/// Buttons of a question; the first has the keyboard.
fn choices(ui: &mut Ui, choices: &[(&str, Answer)]) -> Answer {
    let mut chosen = Answer::Waiting;
    ui.add_space(6.0);
    ui.horizontal_wrapped(|ui| {
        for (n, (name, answer)) in choices.iter().enumerate() {
            let button = ui.button(*name);
            if n == 0 && ui.memory(|memory| memory.focused().is_none()) {
                button.request_focus();
            }
            if button.clicked() {
                chosen = answer.clone();
            }
        }
    });
    chosen
}
