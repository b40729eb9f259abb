//! The foot of the window: what was just done, where the pointer is, and the
//! way to the cautions.

use egui::{RichText, Ui};

use crate::desktop::state::Desk;
use crate::desktop::state::command::Command;
use crate::desktop::ui::palette::{self, text_scale};
use crate::desktop::ui::widgets;

/// Shows the line.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>, busy: bool) {
    let quiet = palette::of(ui).quiet_text;
    ui.horizontal_centered(|ui| {
        if ui
            .small_button("Cautions")
            .on_hover_text(Command::ShowCautions.hint(ui.ctx()))
            .clicked()
        {
            desk.commands.push(Command::ShowCautions);
        }
        if ui
            .small_button("Keys")
            .on_hover_text(Command::ShowCommands.hint(ui.ctx()))
            .clicked()
        {
            desk.commands.push(Command::ShowCommands);
        }
        let assisting = desk.session.assisting.as_ref();
        if let Some(words) = assisting.and_then(|running| running.percent_once_slow()) {
            ui.label(words);
        } else if let Some(opening) = &desk.session.opening {
            if widgets::slow_with_stop(ui, opening.percent_once_slow(), "Stop opening") {
                opening.cancel();
            }
        } else if busy && assisting.is_none() {
            ui.label(RichText::new("Working…").color(quiet));
        }
        // Long paths leave room for what can be done next.
        let room = ui.available_width() - 330.0 * text_scale(ui);
        let message = RichText::new(&desk.session.message);
        let galley = ui.fonts_mut(|fonts| {
            let font = egui::TextStyle::Body.resolve(ui.style());
            fonts.layout_no_wrap(desk.session.message.clone(), font, egui::Color32::WHITE)
        });
        if galley.size().x > room && room > 60.0 {
            let size = egui::vec2(room, ui.spacing().interact_size.y);
            let cut = egui::Label::new(message).truncate();
            ui.add_sized(size, cut).on_hover_text(&desk.session.message);
        } else {
            ui.label(message);
        }
        let sends = desk.session.has_saved_record
            && ui
                .small_button("Send record to the archive")
                .on_hover_text(Command::SendRecord.hint(ui.ctx()))
                .clicked();
        if sends {
            desk.commands.push(Command::SendRecord);
        }
        let case = desk.workspace.document.case();
        if let Some(offers) = &desk.workspace.offers
            && !desk.session.has_saved_record
            && !offers.shown(case, desk.session.canal).is_empty()
        {
            ui.label(RichText::new(offers.words()).color(quiet));
        }
        let revision = desk.workspace.document.revision();
        if desk
            .session
            .suggested
            .is_some_and(|s| s.revision == revision)
            && ui.button("Undo suggestion").clicked()
        {
            desk.commands.push(Command::Undo);
        }
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
            let view = desk.workspace.view;
            let zoom = view.zoom * f64::from(ui.pixels_per_point()) * 100.0;
            ui.label(RichText::new(format!("{zoom:.0} %")).color(quiet));
            let pointer = ui.input(|input| input.pointer.hover_pos());
            if let Some(pointer) = pointer.filter(|at| view.viewport.contains(*at)) {
                let at = view.film_from_screen(pointer);
                let [width, height] = desk.workspace.film.size_px();
                let on_film = (0.0..f64::from(width)).contains(&at.x)
                    && (0.0..f64::from(height)).contains(&at.y);
                if on_film {
                    let index = at.y as usize * width as usize + at.x as usize;
                    let grey = desk.workspace.film.film.samples()[index];
                    let text = format!("x {:.1}  y {:.1}  grey {grey}", at.x, at.y);
                    ui.label(RichText::new(text).color(quiet));
                }
            }
        });
    });
}
