//! Right of the film: the answer, always in sight, and all that goes with it.

use egui::{Frame, Id, RichText, ScrollArea, Ui};

use super::commands::chart_note_now;
use super::{answer, budget, canal_table, click_noise, curvature, inputs, profile};
use crate::case::Landmark;
use crate::case::edit::Tool;
use crate::desktop::state::Desk;
use crate::desktop::state::command::Command;
use crate::desktop::state::edit::Edit;
use crate::desktop::ui::icons::{self, Icon};
use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::{NumberEdit, NumberField, named_value, section_heading};
use crate::measure::MeasureSettings;
use crate::measure::findings::CanalFindings;
use crate::uncertainty::rounding::with_u95;

/// Greatest allowance that can be typed, mm: our own limit.
const GREATEST_ALLOWANCE_MM: f64 = 5.0;

/// Shows the panel.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    desk.workspace.reading();
    egui::Panel::bottom("record")
        .frame(Frame::NONE)
        .show(ui, |ui| record(ui, desk));
    let index = desk.session.canal;
    let reading = desk.workspace.last_reading();
    let Some(found) = reading.findings.canals.get(index).cloned() else {
        ui.label("No canal yet: make one with Ctrl+N.");
        return;
    };
    let found = without_what_is_being_placed(found, desk);
    egui::Panel::top("answer")
        .frame(Frame::NONE)
        .show_separator_line(false)
        .show(ui, |ui| answer::show(ui, desk, &found));
    egui::CentralPanel::no_frame().show(ui, |ui| {
        ScrollArea::vertical()
            .auto_shrink(false)
            // Another film begins at the top.
            .id_salt(("findings", desk.session.case_count))
            .show(ui, |ui| {
                allowance(ui, desk, index, &found);
                advice(ui, &found);
                if has_results(&found) {
                    warnings(ui, desk, &found);
                    ui.separator();
                    lengths(ui, &found);
                }
                budget::show(ui, desk, &found);
                if let Some(curvature) = &found.curvature {
                    ui.separator();
                    curvature::show(ui, desk, curvature);
                }
                profile::show(ui, desk);
                canal_table::show(ui, desk);
                note(ui, desk);
                inputs::show(ui, desk);
                click_noise::show(ui, desk);
            });
    });
}

/// While the canal is being traced and no apex is marked, the last point of the
/// line is no apex: nothing is measured to it.
fn without_what_is_being_placed(found: CanalFindings, desk: &Desk<'_>) -> CanalFindings {
    let canals = &desk.workspace.document.case().canals;
    let has_apex = canals
        .get(desk.session.canal)
        .is_some_and(|canal| canal.apex_px.is_some());
    if has_apex
        || !matches!(
            desk.session.tool,
            Tool::Trace | Tool::Landmark(Landmark::Apex)
        )
    {
        return found;
    }
    CanalFindings {
        name: found.name,
        allowance_mm: found.allowance_mm,
        ..CanalFindings::default()
    }
}

/// The chart note before it is copied.
fn note(ui: &mut Ui, desk: &mut Desk<'_>) {
    ui.separator();
    let title = "Chart note";
    if !section_heading(ui, title, &mut desk.preferences.show_note) {
        return;
    }
    match chart_note_now(desk) {
        Some(note) => {
            let label = egui::Label::new(RichText::new(&note).monospace()).wrap();
            ui.add(label.selectable(true));
        }
        None => {
            let quiet = palette::of(ui).quiet_text;
            ui.label(RichText::new("No working length to note yet").color(quiet));
        }
    }
}

/// There is a number that warnings can be about.
fn has_results(found: &CanalFindings) -> bool {
    found.tip_to_apex_mm.is_some()
        || found.curved_length_px.is_some()
        || found.reference_to_apex_mm.is_some()
        || found.curvature.is_some()
}

/// What the convention says about the tip.
fn advice(ui: &mut Ui, found: &CanalFindings) {
    for line in &found.advice {
        ui.label(line);
    }
}

/// How far short of the apex to end.
fn allowance(ui: &mut Ui, desk: &mut Desk<'_>, index: usize, found: &CanalFindings) {
    ui.horizontal_wrapped(|ui| {
        ui.label(RichText::new("End short of the apex by").color(palette::of(ui).quiet_text));
        for (mm, why) in [
            (1.0, "no resorption"),
            (1.5, "bone resorbed"),
            (2.0, "bone and root resorbed"),
        ] {
            let chosen = egui::Button::selectable(found.allowance_mm == mm, format!("{mm:.1}"));
            let shown = ui
                .add(chosen)
                .on_hover_text(why)
                .accessible_name(format!("End {mm:.1} mm short: {why}"));
            if shown.clicked() {
                desk.apply(Edit::Allowance {
                    canal: index,
                    mm: Some(mm),
                });
            }
        }
    });
    ui.horizontal(|ui| {
        ui.label(RichText::new("Other allowance").color(palette::of(ui).quiet_text));
        let canals = &desk.workspace.document.case().canals;
        let field = NumberField {
            label: "Allowance",
            value: canals.get(index).and_then(|canal| canal.allowance_mm),
            step: 0.25,
            unit: "mm",
            range: 0.0..=GREATEST_ALLOWANCE_MM,
            example: "1.0",
            default: Some(MeasureSettings::default().default_allowance_mm),
            take_focus: false,
            typed: None,
        };
        if let NumberEdit::Changed(mm) = field.show(ui, Id::unique(("allowance", index))) {
            desk.apply(Edit::Allowance { canal: index, mm });
        }
    });
    ui.horizontal(|ui| {
        ui.label(RichText::new("Chart in steps of").color(palette::of(ui).quiet_text));
        for step in [0.5, 0.25] {
            ui.selectable_value(&mut desk.preferences.chart_step_mm, step, format!("{step}"))
                .accessible_name(format!("Round the chart value to {step} mm"));
        }
    });
}

/// Warnings of this canal and of the case: what to do about each.
fn warnings(ui: &mut Ui, desk: &Desk<'_>, found: &CanalFindings) {
    let palette = palette::of(ui);
    let findings = &desk.workspace.last_reading().findings;
    let mine = findings.warnings_beyond_advice().filter(|warning| {
        warning
            .canal
            .as_ref()
            .is_none_or(|canal| canal == &found.name)
    });
    let is_traced = found.curved_length_px.is_some();
    // What nobody has asked for is not missing.
    let mine = mine.filter(|warning| {
        is_traced || !matches!(warning.code.as_str(), "no_trace" | "no_curvature")
    });
    for warning in mine {
        Frame::new()
            .stroke(egui::Stroke::new(1.0, palette.caution))
            .corner_radius(4.0)
            .inner_margin(6.0)
            .show(ui, |ui| {
                ui.set_width(ui.available_width());
                ui.horizontal_top(|ui| {
                    icons::sign(ui, Icon::Triangle, palette.caution, "Warning");
                    ui.add(egui::Label::new(&warning.text).wrap());
                });
            });
    }
}

fn lengths(ui: &mut Ui, found: &CanalFindings) {
    ui.label(RichText::new("Lengths").heading());
    let rows = [
        ("Curved length", found.curved_length_mm),
        ("Straight, orifice to apex", found.chord_mm),
        ("Reference to apex", found.reference_to_apex_mm),
        ("Tip to apex, straight", found.tip_to_apex_straight_mm),
        ("Working length, additive", found.working_length_additive_mm),
        (
            "Working length, proportion",
            found.working_length_proportion_mm,
        ),
    ];
    for (name, quantity) in rows {
        if let Some(quantity) = quantity {
            named_value(ui, name, &with_u95(quantity, "mm"));
        }
    }
    if found.curved_length_mm.is_none()
        && let Some(px) = found.curved_length_px
    {
        named_value(ui, "Curved length", &format!("{px:.1} px"));
    }
}

/// One key each: the note and the picture.
fn record(ui: &mut Ui, desk: &mut Desk<'_>) {
    ui.add_space(6.0);
    ui.horizontal(|ui| {
        let width = (ui.available_width() - ui.spacing().item_spacing.x) / 2.0;
        let palette = palette::of(ui);
        for (command, fill, colour) in [
            (Command::CopyChartNote, palette.accent, palette.on_accent),
            (Command::CopyPicture, palette.raised, palette.text),
        ] {
            let keys = command.keys_in_words(ui.ctx());
            let name = match command {
                Command::CopyChartNote => "Copy chart note",
                _ => "Copy picture",
            };
            let button = egui::Button::new(RichText::new(name).color(colour).strong())
                .right_text(RichText::new(keys).color(colour).small())
                .fill(fill);
            let size = egui::vec2(width, 34.0);
            let hover = match command {
                Command::CopyChartNote => chart_note_now(desk),
                _ => None,
            };
            let response = ui
                .add_sized(size, button)
                .on_hover_text(hover.unwrap_or_else(|| command.hint(ui.ctx())))
                .accessible_name(command.entry().name);
            if response.clicked() {
                desk.commands.push(command);
            }
        }
    });
}
