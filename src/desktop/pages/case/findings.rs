//! The answer: how far the tip is from the apex, and the working length.

use egui::{Frame, RichText, ScrollArea, Ui};

use super::{budget, click_noise, curvature, inputs, profile};
use crate::desktop::state::Desk;
use crate::desktop::state::command::Command;
use crate::desktop::state::edit::Edit;
use crate::desktop::ui::icons::{self, Icon};
use crate::desktop::ui::palette::{self, Palette, answer_style, figure_style};
use crate::desktop::ui::widgets::{named_value, spoken};
use crate::desktop::ui::wording::{chart_length, tip_in_words, uncertainty_alone};
use crate::measure::findings::{CanalFindings, Quantity};
use crate::uncertainty::rounding::with_u95;
use crate::working_length::{Advice, TipLimits, advise};

/// Shows the panel.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    desk.workspace.reading();
    egui::Panel::bottom("record")
        .frame(Frame::NONE)
        .show(ui, |ui| record(ui, desk));
    egui::CentralPanel::no_frame().show(ui, |ui| {
        ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
            let index = desk.session.canal;
            let reading = desk.workspace.last_reading();
            let Some(found) = reading.findings.canals.get(index).cloned() else {
                ui.label("No canal yet: make one with Ctrl+N.");
                return;
            };
            answer(ui, &found);
            allowance(ui, desk, index, &found);
            if is_begun(desk, index) {
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

/// Something has been placed: before that every warning only says that
/// nothing has.
fn is_begun(desk: &Desk<'_>, canal: usize) -> bool {
    let case = desk.workspace.document.case();
    let canal = &case.canals[canal];
    !case.scale.objects.is_empty() || !canal.trace_px.is_empty() || canal.apex_px.is_some()
}

/// Tip-to-apex and working length, to be read at arm's length.
fn answer(ui: &mut Ui, found: &CanalFindings) {
    let palette = palette::of(ui);
    Frame::new()
        .fill(palette.raised)
        .corner_radius(6.0)
        .inner_margin(12.0)
        .show(ui, |ui| {
            ui.set_width(ui.available_width());
            ui.label(RichText::new(&found.name).color(palette.quiet_text));
            match &found.tip_to_apex_mm {
                Some(tip) => tip_answer(ui, palette, found, tip),
                None => {
                    let dash = ui.label(RichText::new("–").text_style(answer_style()));
                    spoken(&dash, "Tip to apex: not known yet");
                    ui.label(RichText::new(missing(found)).color(palette.quiet_text));
                }
            }
            ui.add_space(6.0);
            ui.label(RichText::new("Working length").color(palette.quiet_text));
            match found.working_length_chart_mm {
                Some(chart) => {
                    let chart = chart_length(chart);
                    let shown = ui.label(RichText::new(&chart).text_style(figure_style()).strong());
                    spoken(&shown, &format!("Working length for the chart: {chart}"));
                    let raw = found
                        .working_length_additive_mm
                        .or(found.working_length_proportion_mm);
                    if let Some(raw) = raw {
                        let raw = with_u95(raw, "mm");
                        ui.label(
                            RichText::new(format!("unrounded {raw}")).color(palette.quiet_text),
                        );
                    }
                }
                None => {
                    let dash = ui.label(RichText::new("–").text_style(figure_style()));
                    spoken(&dash, "Working length: not known yet");
                }
            }
        });
}

fn tip_answer(ui: &mut Ui, palette: &Palette, found: &CanalFindings, tip: &Quantity) {
    let words = tip_in_words(tip.value);
    let advice = advise(
        tip.value,
        tip.u95,
        found.allowance_mm,
        &TipLimits::default(),
    );
    let (icon, colour, verdict) = match advice.first() {
        Some(Advice::BeyondApex) => (Icon::Square, palette.alarm, "Beyond the apex"),
        Some(Advice::Acceptable) => (Icon::Disc, palette.good, "Within the usual limits"),
        _ => (Icon::Triangle, palette.caution, "To be looked at"),
    };
    let (big, rest) = match words.split_once(" mm ") {
        Some((number, rest)) => (format!("{number} mm"), rest.to_owned()),
        None => (words.clone(), String::new()),
    };
    ui.horizontal(|ui| {
        let shown = ui.label(
            RichText::new(&big)
                .text_style(answer_style())
                .color(colour)
                .strong(),
        );
        spoken(&shown, &format!("Tip: {words}"));
        ui.label(RichText::new(uncertainty_alone(*tip, "mm")).color(palette.quiet_text));
    });
    if !rest.is_empty() {
        ui.horizontal(|ui| {
            icons::sign(ui, icon, colour, verdict);
            ui.label(RichText::new(rest).heading().color(colour));
        });
    }
    for line in &found.advice {
        ui.label(line);
    }
}

/// What has to be clicked or typed before there is an answer.
fn missing(found: &CanalFindings) -> &'static str {
    if found.curved_length_px.is_none() {
        "Mark the file and the apex."
    } else {
        "Type the set length."
    }
}

/// Where to stop short of the apex.
fn allowance(ui: &mut Ui, desk: &mut Desk<'_>, index: usize, found: &CanalFindings) {
    ui.horizontal_wrapped(|ui| {
        ui.label(RichText::new("Stop short by").color(palette::of(ui).quiet_text));
        let mut allowance = found.allowance_mm;
        for (mm, why) in [
            (1.0, "no resorption"),
            (1.5, "bone resorbed"),
            (2.0, "bone and root resorbed"),
        ] {
            ui.selectable_value(&mut allowance, mm, format!("{mm:.1}"))
                .on_hover_text(why)
                .accessible_name(format!("Stop {mm:.1} mm short: {why}"));
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
