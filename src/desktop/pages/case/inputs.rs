//! How well each input is known: what is in force, its default and what that
//! rests on.

use egui::{Id, RichText, Ui};

use crate::case::Case;
use crate::desktop::state::Desk;
use crate::desktop::state::edit::Edit;
use crate::desktop::ui::palette::{self, text_scale};
use crate::desktop::ui::widgets::{NumberEdit, NumberField, section_heading};
use crate::measure::{InputUncertainty, PlaceKind, STATED_INPUTS, StatedInput};

/// Greatest click noise that can be stated, mm.
const GREATEST_CLICK_MM: f64 = 5.0;

/// Shows the section.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    ui.separator();
    let open = &mut desk.preferences.show_inputs;
    if !section_heading(ui, "Input uncertainties", open) {
        return;
    }
    let quiet = palette::of(ui).quiet_text;
    let note = "Empty: the default holds. u is one standard uncertainty, ± the limits of an even \
                spread.";
    ui.label(RichText::new(note).color(quiet));
    ui.label(RichText::new("Clicks, mm at the detector, per coordinate").strong());
    for kind in PlaceKind::ALL {
        click(ui, desk, kind);
    }
    let why =
        "Default: a careful hand, assumed. Better measured: Your placement repeatability, below.";
    ui.label(RichText::new(why).color(quiet).small());
    ui.label(RichText::new("Lengths, exposure and root").strong());
    let defaults = InputUncertainty::default();
    for input in &STATED_INPUTS {
        stated(ui, desk, input, &defaults);
    }
}

/// Width of a field with its buttons and unit at normal text size, points.
const FIELD_WIDTH: f32 = 178.0;

/// A name with its field beside it.
fn row(ui: &mut Ui, name: &str, field: NumberField<'_>, id: Id) -> NumberEdit {
    let name_width = ui.available_width() - FIELD_WIDTH * text_scale(ui);
    ui.horizontal(|ui| {
        ui.scope(|ui| {
            ui.set_max_width(name_width);
            ui.set_min_width(name_width);
            ui.add(egui::Label::new(name).wrap());
        });
        field.show(ui, id)
    })
    .inner
}

/// The noise of the clicks on one kind of place.
fn click(ui: &mut Ui, desk: &mut Desk<'_>, kind: PlaceKind) {
    let case = desk.workspace.document.case();
    let measured = case.click_noise_dof_by_kind.and_then(|dof| dof.of(kind));
    let default = default_click(case, kind);
    let label = format!("Click noise: {}", kind.label());
    let value = case.click_noise_by_kind_mm.and_then(|noise| noise.of(kind));
    let field = NumberField {
        label: &label,
        value,
        step: 0.01,
        unit: "mm",
        range: 0.0..=GREATEST_CLICK_MM,
        example: "0.05",
        default: Some(default),
        take_focus: false,
        typed: None,
    };
    let id = Id::unique(("click noise", kind));
    if let NumberEdit::Changed(sd_mm) = row(ui, kind.label(), field, id) {
        desk.apply(Edit::ClickNoise { kind, sd_mm });
    }
    if let Some(dof) = measured {
        let words = format!("measured, {dof:.0} degrees of freedom");
        ui.label(
            RichText::new(words)
                .color(palette::of(ui).quiet_text)
                .small(),
        );
    }
}

/// What holds where a case states nothing for this kind, mm.
fn default_click(case: &Case, kind: PlaceKind) -> f64 {
    let defaults = InputUncertainty::default();
    case.click_noise_mm
        .unwrap_or_else(|| defaults.click_of(kind))
}

fn stated(
    ui: &mut Ui,
    desk: &mut Desk<'_>,
    input: &'static StatedInput,
    defaults: &InputUncertainty,
) {
    let default = input.default_in(defaults);
    // Degrees come back from radians with a last digit of their own.
    let default = (default * 1e6).round() / 1e6;
    let example = format!("{default}");
    let field = NumberField {
        label: input.label,
        value: input.of(desk.workspace.document.case()),
        step: input.step,
        unit: input.unit,
        range: 0.0..=input.greatest,
        example: &example,
        default: Some(default),
        take_focus: false,
        typed: None,
    };
    let id = Id::unique(("stated", input.key));
    if let NumberEdit::Changed(value) = row(ui, input.label, field, id) {
        desk.apply(Edit::Uncertainty { input, value });
    }
    let space = if input.unit == "°" { "" } else { " " };
    let reason = format!("Default {default}{space}{}: {}", input.unit, input.reason);
    ui.label(
        RichText::new(reason)
            .color(palette::of(ui).quiet_text)
            .small(),
    );
}
