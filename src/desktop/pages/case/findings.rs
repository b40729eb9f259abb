//! Right of the film: the answer, always in sight, and all that goes with it.

use egui::{Frame, RichText, ScrollArea, Ui};

use super::{answer, budget, click_noise, curvature, inputs, profile};
use crate::desktop::state::Desk;
use crate::desktop::state::command::Command;
use crate::desktop::state::edit::Edit;
use crate::desktop::ui::icons::{self, Icon};
use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::named_value;
use crate::measure::findings::CanalFindings;
use crate::uncertainty::rounding::with_u95;

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
                inputs::show(ui, desk);
                click_noise::show(ui, desk);
            });
    });
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
        let mut allowance = found.allowance_mm;
        for (mm, why) in [
            (1.0, "no resorption"),
            (1.5, "bone resorbed"),
            (2.0, "bone and root resorbed"),
        ] {
            ui.selectable_value(&mut allowance, mm, format!("{mm:.1}"))
                .on_hover_text(why)
                .accessible_name(format!("End {mm:.1} mm short: {why}"));
        }
        ui.add(
            egui::DragValue::new(&mut allowance)
                .speed(0.05)
                .range(0.0..=5.0)
                .max_decimals(2)
                .suffix(" mm"),
        )
        .accessible_name("Allowance");
        if allowance != found.allowance_mm {
            let (canal, mm) = (index, allowance);
            desk.apply(Edit::Allowance { canal, mm });
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
            let keys = ui.ctx().format_shortcut(&command.entry().shortcuts[0]);
            let name = match command {
                Command::CopyChartNote => "Copy chart note",
                _ => "Copy picture",
            };
            let button = egui::Button::new(RichText::new(name).color(colour).strong())
                .right_text(RichText::new(keys).color(colour).small())
                .fill(fill);
            let size = egui::vec2(width, 34.0);
            let response = ui
                .add_sized(size, button)
                .on_hover_text(command.hint(ui.ctx()))
                .accessible_name(command.entry().name);
            if response.clicked() {
                desk.commands.push(command);
            }
        }
    });
}
