//! Where millimetres come from: the source in use, all others, and how far
//! they disagree.

use egui::{Id, RichText, Ui};

use super::equipment;
use super::tool_button::tool_button;
use crate::case::edit::Tool;
use crate::case::{OBJECTS, ScaleObject, ScaleObjectKind};
use crate::desktop::state::Desk;
use crate::desktop::state::command::Command;
use crate::desktop::state::edit::Edit;
use crate::desktop::state::reading::ScaleSource;
use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::{NumberEdit, NumberField, named_value, step_heading};
use crate::statistics::Z95;

/// Lengths of instruments and objects that can be typed, mm.
const LENGTH_RANGE_MM: std::ops::RangeInclusive<f64> = 1.0..=60.0;

/// Shows the panel.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    let reading = desk.workspace.reading();
    let (scale, sources) = (reading.findings.scale.clone(), reading.scales.clone());
    step_heading(ui, 4, "Scale", scale.mm_per_px.is_some());
    let palette = palette::of(ui);
    match scale.mm_per_px {
        Some(mm_per_px) => {
            ui.label(RichText::new(format!("In use: {}", scale.description)).strong());
            let u = scale
                .u_mm_per_px
                .map_or(String::new(), |u| format!(" ± {:.5}", Z95 * u));
            named_value(ui, "mm per px", &format!("{mm_per_px:.5}{u}"));
        }
        None => {
            ui.colored_label(
                palette.caution,
                "No scale: pixels only. Type the file's set length, or mark a ruler or ball.",
            );
        }
    }
    equipment::ask(ui, desk);
    others(ui, &sources);
    if let Some(magnification) = scale.magnification {
        named_value(ui, "Magnification", &format!("{magnification:.3}"));
    }
    let objects = desk.workspace.document.case().scale.objects.clone();
    for (index, object) in objects.iter().enumerate() {
        if object.kind != ScaleObjectKind::File {
            object_row(ui, desk, index, object);
        }
    }
    ui.horizontal_wrapped(|ui| {
        for row in OBJECTS.iter().filter(|row| row.tool.is_some()) {
            tool_button(ui, desk, Tool::Object(row.kind), false, row.name);
        }
    });
    typed(ui, desk);
    earlier_film(ui, desk);
    if !desk.workspace.film.facts.is_empty() {
        ui.collapsing("Facts from the film file", |ui| {
            for fact in &desk.workspace.film.facts {
                named_value(ui, &fact.name, &fact.value);
            }
        });
    }
}

/// Sources besides the one in use, and how far each is from it.
fn others(ui: &mut Ui, sources: &[ScaleSource]) {
    let Some(in_use) = sources.iter().find(|source| source.in_use) else {
        return;
    };
    for source in sources.iter().filter(|source| *source != in_use) {
        let apart = (source.mm_per_px / in_use.mm_per_px - 1.0) * 100.0;
        let role = if source.in_use {
            "also in use"
        } else {
            "not used"
        };
        let value = format!("{:.5} ({apart:+.1} %), {role}", source.mm_per_px);
        named_value(ui, &source.name, &value);
    }
}

/// Pitch and magnification known from elsewhere.
fn typed(ui: &mut Ui, desk: &mut Desk<'_>) {
    ui.collapsing("Typed pixel pitch", |ui| {
        let film = desk.workspace.document.case().film.clone();
        let pitch = NumberField {
            label: "Pixel pitch at the detector",
            value: film
                .pixel_pitch_mm
                .map(|[row, column]| (row * column).sqrt()),
            step: 0.001,
            unit: "mm",
            range: 0.001..=1.0,
            example: "0.025",
            default: None,
            take_focus: false,
            typed: None,
        };
        if let NumberEdit::Changed(pitch) = pitch.show(ui, Id::unique("typed pitch")) {
            desk.apply(Edit::PixelPitch(pitch));
        }
        let magnification = NumberField {
            label: "Magnification",
            value: film.magnification,
            step: 0.01,
            unit: "times",
            range: 0.5..=3.0,
            example: "1.05",
            default: None,
            take_focus: false,
            typed: None,
        };
        if let NumberEdit::Changed(factor) =
            magnification.show(ui, Id::unique("typed magnification"))
        {
            desk.apply(Edit::Magnification(factor));
        }
        equipment::show(ui, desk);
    });
}

/// The scale of an earlier film: where it was taken over, or the way to it.
fn earlier_film(ui: &mut Ui, desk: &mut Desk<'_>) {
    let Some(earlier) = &desk.workspace.document.case().scale.earlier_film else {
        let command = Command::ScaleOfEarlierFilm;
        let button = ui.button("Scale of an earlier film…");
        let words = "Of the same patient, taken with the same receptor, resolution and holder";
        if button.on_hover_text(words).clicked() {
            desk.commands.push(command);
        }
        return;
    };
    let value = format!("{:.5} mm per px, {}", earlier.mm_per_px, earlier.basis);
    named_value(ui, "Earlier film", &value);
    if ui
        .button("Remove")
        .accessible_name("Remove the scale of the earlier film")
        .clicked()
    {
        desk.apply(Edit::EarlierFilm(None));
    }
}

/// The set length of the file in a canal.
pub fn set_length(ui: &mut Ui, desk: &mut Desk<'_>, canal: usize, object: Option<usize>) {
    let case = desk.workspace.document.case();
    let value = case.canals[canal]
        .file
        .as_ref()
        .and_then(|file| file.set_length_mm)
        .or_else(|| object.and_then(|object| case.scale.objects[object].true_length_mm));
    let asked_for = object.is_some() && desk.session.focus_length_of == object;
    if asked_for {
        desk.session.focus_length_of = None;
    }
    let typed = std::mem::take(&mut desk.session.typed_ahead);
    let step = desk.preferences.length_step_mm;
    let edit = NumberField {
        label: "Set length",
        value,
        step,
        unit: "mm",
        range: LENGTH_RANGE_MM,
        example: "20.5",
        default: None,
        take_focus: asked_for,
        typed: (!typed.is_empty()).then_some(typed.as_str()),
    }
    .show(ui, Id::unique(("set length", canal)));
    if let NumberEdit::Changed(length) = edit {
        let length_mm = length;
        desk.apply(Edit::SetLength { canal, length_mm });
    }
    ui.horizontal(|ui| {
        ui.label(RichText::new("Steps of").color(palette::of(ui).quiet_text));
        for step in [0.5, 0.25] {
            ui.selectable_value(
                &mut desk.preferences.length_step_mm,
                step,
                format!("{step}"),
            );
        }
    });
}

/// A ruler or ball with its known length.
fn object_row(ui: &mut Ui, desk: &mut Desk<'_>, index: usize, object: &ScaleObject) {
    let label = format!("{} {}", object.kind.row().size_name, index + 1);
    let value = object.known_size_mm();
    ui.label(RichText::new(&label).color(palette::of(ui).quiet_text));
    let take_focus = desk.session.focus_length_of == Some(index);
    if take_focus {
        desk.session.focus_length_of = None;
    }
    let edit = NumberField {
        label: &label,
        value,
        step: desk.preferences.length_step_mm,
        unit: "mm",
        range: LENGTH_RANGE_MM,
        example: "5.0",
        default: None,
        take_focus,
        typed: None,
    }
    .show(ui, Id::unique(("object length", index)));
    if let NumberEdit::Changed(length) = edit {
        let (object, length_mm) = (index, length);
        desk.apply(Edit::KnownLength { object, length_mm });
    }
}
