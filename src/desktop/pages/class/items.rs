//! Item analysis: what is hard, and what tells the good from the weak.

use egui::{Grid, RichText, ScrollArea, Ui};

use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::spoken;
use crate::grading::items::{Answers, Item, LevelItem};
use crate::grading::rubric::Rubric;

/// Shows every item, the hardest first.
pub fn show(ui: &mut Ui, rubric: &Rubric, items: &[Item], levels: &[LevelItem]) {
    ScrollArea::both()
        .id_salt("class items")
        .auto_shrink(false)
        .show(ui, |ui| {
            heading(ui, "Lines of the rubric, the hardest first");
            let rows = items.iter().map(|item| (item.words(), &item.answers));
            table(ui, "items", rows);
            heading(ui, "Thirds of the canal, the hardest first");
            if levels.is_empty() {
                ui.label("Not available: the reference has no scale");
            }
            let words = |item: &LevelItem| item.words(rubric.stray_mm);
            let rows = levels.iter().map(|item| (words(item), &item.answers));
            table(ui, "levels", rows);
            let note = "Discrimination: correlation of meeting it with the share met of all other \
                        lines of the rubric; near 0 it does not tell the good from the weak.";
            ui.add_space(8.0);
            ui.label(RichText::new(note).color(palette::of(ui).quiet_text));
        });
}

fn heading(ui: &mut Ui, text: &str) {
    ui.add_space(8.0);
    ui.label(RichText::new(text).heading().strong());
}

fn table<'a>(ui: &mut Ui, name: &str, rows: impl Iterator<Item = (String, &'a Answers)>) {
    Grid::new(name).spacing([14.0, 4.0]).show(ui, |ui| {
        for head in ["met", "95 % CI", "students", "discrimination", ""] {
            ui.label(RichText::new(head).color(palette::of(ui).quiet_text));
        }
        ui.end_row();
        for (item, answers) in rows {
            let share = format!("{:.0} %", 100.0 * answers.met_share);
            let ci95 = answers.met_share_ci95;
            let tells = answers
                .discrimination
                .map_or("–".to_owned(), |r| format!("{r:.2}").replace('-', "−"));
            ui.label(&share);
            ui.label(format!(
                "{:.0}–{:.0} %",
                100.0 * ci95.low,
                100.0 * ci95.high
            ));
            ui.label(answers.students.to_string());
            ui.label(&tells);
            let words = format!("{item}: met by {share}, discrimination {tells}");
            spoken(&ui.label(item), &words);
            ui.end_row();
        }
    });
}
