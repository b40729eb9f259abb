//! The shaping card on the page: what the printed one says.

use egui::{Grid, RichText, Ui};

use super::files::swatch;
use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::spoken;
use crate::instrumentation::InstrumentFindings;
use crate::report::shaping_card::{Card, cards};

/// Shows the card of one canal.
pub fn show(ui: &mut Ui, findings: &InstrumentFindings, canal: usize) {
    let mut of_canal = findings.clone();
    let Some(content) = findings.canals.get(canal) else {
        return;
    };
    of_canal.keep_canal(&content.name);
    let Some(card) = cards(&of_canal).into_iter().next() else {
        return;
    };
    ui.add_space(8.0);
    ui.label(RichText::new("Shaping card").heading());
    let quiet = palette::of(ui).quiet_text;
    ui.horizontal_wrapped(|ui| {
        let words = format!("Working length {}", card.length);
        spoken(&ui.label(RichText::new(&words).strong()), &words);
        ui.label(RichText::new(&card.length_note).color(quiet));
    });
    let sizes: Vec<f64> = content.files.iter().map(|file| file.size).collect();
    stops(ui, &card, &sizes);
    ui.add_space(4.0);
    diameters(ui, &card);
    for place in &card.places {
        ui.add(egui::Label::new(place).wrap());
    }
}

fn stops(ui: &mut Ui, card: &Card, sizes: &[f64]) {
    let quiet = palette::of(ui).quiet_text;
    let headings = ["File", "ISO colour", "Stop, mm", "Tip from apex, mm"];
    Grid::new("card stops").striped(true).show(ui, |ui| {
        for heading in headings {
            ui.label(RichText::new(heading).color(quiet).small());
        }
        ui.end_row();
        for (row, &size) in card.files.iter().zip(sizes) {
            ui.horizontal(|ui| {
                swatch(ui, size);
                ui.label(&row.file);
            });
            ui.label(&row.colour);
            let stop = ui.label(RichText::new(&row.stop).strong());
            spoken(&stop, &format!("{}, stop: {} mm", row.file, row.stop));
            ui.label(&row.tip);
            ui.end_row();
        }
    });
}

fn diameters(ui: &mut Ui, card: &Card) {
    let quiet = palette::of(ui).quiet_text;
    let title = "Diameter left, mm, at these distances from the apex, mm";
    ui.label(RichText::new(title).color(quiet));
    Grid::new("card diameters")
        .striped(true)
        .min_col_width(30.0)
        .show(ui, |ui| {
            ui.label("");
            for level in &card.levels {
                ui.label(RichText::new(level).color(quiet));
            }
            ui.end_row();
            for (name, row) in &card.diameters {
                ui.label(name);
                for (level, cell) in card.levels.iter().zip(row) {
                    let response = ui.label(cell);
                    let words = format!("{name}, {level} mm from the apex: {cell} mm");
                    spoken(&response, &words);
                }
                ui.end_row();
            }
        });
}
