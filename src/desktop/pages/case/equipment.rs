//! What made the film: its pixel pitch is typed once and remembered by name,
//! for films whose file says nothing of their detector.

use egui::{Id, RichText, Ui};

use crate::desktop::state::Desk;
use crate::desktop::state::edit::Edit;
use crate::desktop::state::preferences::Equipment;
use crate::desktop::ui::checked_field::CheckedField;
use crate::desktop::ui::palette;

/// Longest name.
const MOST_LETTERS: usize = 60;

/// Asks which of the equipment known made a film of unknown pixel pitch.
pub fn ask(ui: &mut Ui, desk: &mut Desk<'_>) {
    let film = &desk.workspace.document.case().film;
    let known = &desk.preferences.equipment;
    let states_its_own = desk.workspace.film.summary().scale.dicom_scale().is_some();
    if known.is_empty() || film.pixel_pitch_mm.is_some() || states_its_own {
        return;
    }
    let question = "What made this film? The pixel pitch of these is remembered:";
    ui.label(RichText::new(question).color(palette::of(ui).quiet_text));
    let mut chosen = None;
    ui.horizontal_wrapped(|ui| {
        for Equipment { name, pitch_mm } in known {
            if ui.button(format!("{name}, {pitch_mm} mm")).clicked() {
                chosen = Some((name.clone(), *pitch_mm));
            }
        }
    });
    if let Some((name, pitch_mm)) = chosen {
        desk.apply(Edit::Equipment {
            name: Some(name),
            pitch_mm: Some(pitch_mm),
        });
    }
}

/// Its name beside the typed pitch, and whether that is remembered.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    let film = &desk.workspace.document.case().film;
    let name = film.equipment.clone().unwrap_or_default();
    let pitch_mm = film
        .pixel_pitch_mm
        .map(|[row, column]| (row * column).sqrt());
    let field = CheckedField {
        label: "Equipment",
        value: &name,
        hint: "equipment, for example plate reader 2",
        width: f32::INFINITY,
    };
    let check = |text: &str| match text.chars().count() {
        0..=MOST_LETTERS => Ok(()),
        _ => Err(format!("Give at most {MOST_LETTERS} letters")),
    };
    if let Some(name) = field.show(ui, Id::unique("equipment"), check) {
        desk.apply(Edit::Equipment {
            name: (!name.is_empty()).then_some(name),
            pitch_mm: None,
        });
    }
    let (false, Some(pitch_mm)) = (name.is_empty(), pitch_mm) else {
        return;
    };
    let equipment = &mut desk.preferences.equipment;
    let known = equipment.iter().position(|known| known.name == name);
    match known.filter(|&index| equipment[index].pitch_mm == pitch_mm) {
        Some(index) => {
            let words = "Take this pitch out of those remembered";
            if ui.button("Forget").on_hover_text(words).clicked() {
                equipment.remove(index);
            }
        }
        None => {
            let words = "Offered for other films whose file does not state its pitch";
            let button = ui.button("Remember this pitch").on_hover_text(words);
            if button.clicked() {
                desk.preferences.remember_pitch(&name, pitch_mm);
            }
        }
    }
}
