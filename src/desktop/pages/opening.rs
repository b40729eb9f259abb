//! A file being opened: how far it is, and a way to stop.

use egui::Ui;

use crate::desktop::state::long_job::LongJob;

/// Shows it once it takes long enough to be noticed.
pub fn show(ui: &mut Ui, opening: &LongJob) {
    let Some(words) = opening.percent_once_slow() else {
        return;
    };
    ui.horizontal(|ui| {
        ui.label(words);
        let stop = ui.button("Stop opening");
        if stop.on_hover_text("What is open stays as it is").clicked() {
            opening.cancel();
        }
    });
}
