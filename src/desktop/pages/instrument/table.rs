//! Files beside each other, and the chosen one in sentences.

use egui::{Button, Grid, RichText, Ui};

use super::files::swatch;
use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::spoken;
use crate::instrumentation::words::{
    binds_sentence, place_sentence, ratio_sentence, strain_sentence,
};
use crate::instrumentation::{CanalInstruments, CourseFrom, FileFinding};
use crate::report::numbers::ABSENT;
use crate::uncertainty::rounding::{fixed, with_u95};

const HEADINGS: [&str; 6] = [
    "File",
    "Tip from apex",
    "Bent to about",
    "Peak from tip, apex",
    "Times the first",
    "In the curve",
];

/// Every file of a canal; the one clicked.
pub fn show(ui: &mut Ui, canal: &CanalInstruments, chosen: usize) -> Option<usize> {
    let mut clicked = None;
    let quiet = palette::of(ui).quiet_text;
    Grid::new(("files beside each other", &canal.name))
        .num_columns(HEADINGS.len())
        .striped(true)
        .show(ui, |ui| {
            for heading in HEADINGS {
                ui.label(RichText::new(heading).color(quiet).small());
            }
            ui.end_row();
            for (index, file) in canal.files.iter().enumerate() {
                ui.horizontal(|ui| {
                    swatch(ui, file.size);
                    let button = Button::selectable(index == chosen, &file.file);
                    let name = format!("Show {}, file {}", file.file, index + 1);
                    if ui.add(button).accessible_name(name).clicked() {
                        clicked = Some(index);
                    }
                });
                for (heading, cell) in HEADINGS.iter().skip(1).zip(cells(file)) {
                    let response = ui.label(&cell);
                    spoken(&response, &format!("{}, {heading}: {cell}", file.file));
                }
                ui.end_row();
            }
        });
    clicked
}

fn cells(file: &FileFinding) -> [String; 5] {
    let absent = || ABSENT.to_owned();
    let place = file.peak_from_tip_mm.zip(file.peak_from_apex_mm);
    [
        format!("{} mm", fixed(file.tip_from_apex_mm, 1)),
        file.peak_strain_percent
            .map_or_else(absent, |peak| with_u95(peak, "%")),
        place.map_or_else(absent, |(tip, apex)| {
            format!("{}, {} mm", fixed(tip, 1), fixed(apex, 1))
        }),
        file.times_first
            .map_or_else(absent, |times| with_u95(times, "")),
        file.in_bend_mm
            .map_or_else(absent, |mm| format!("{} mm", fixed(mm, 1))),
    ]
}

/// What is said of the chosen file.
pub fn sentences(ui: &mut Ui, canal: &CanalInstruments, chosen: usize) {
    let Some(file) = canal.files.get(chosen) else {
        return;
    };
    ui.add_space(4.0);
    let mut said = vec![format!(
        "Files are bent along the {}.",
        canal.canal_from.words()
    )];
    if let Some(peak) = file.peak_strain_percent {
        said.push(strain_sentence(&file.file, peak));
        if peak.value == 0.0 {
            let seen = match canal.canal_from {
                CourseFrom::OneFilm => "On this film",
                CourseFrom::TwoFilms => "In space",
            };
            said.push(format!(
                "{seen} the canal is straight along the file: nothing bends it."
            ));
        }
    }
    if let Some((tip, apex)) = file.peak_from_tip_mm.zip(file.peak_from_apex_mm) {
        said.push(place_sentence(tip, apex));
    }
    let first = canal.files.first().filter(|_| chosen > 0);
    if let Some((first, times)) = first.zip(file.times_first) {
        said.push(ratio_sentence(&file.file, &first.file, times));
    }
    for part in &file.in_bends {
        said.push(format!(
            "In curve {}: {} to {} mm from its tip, {} % of its working part.",
            part.bend,
            fixed(part.from_tip_mm, 1),
            fixed(part.to_tip_mm, 1),
            fixed(part.share_percent, 0)
        ));
    }
    if let Some(binds) = file.binds {
        said.push(binds_sentence(binds));
    }
    for sentence in said {
        ui.add(egui::Label::new(sentence).wrap());
    }
}
