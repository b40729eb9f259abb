//! The answer: how far the tip is from the apex, and the working length.

use egui::{Frame, RichText, Ui};

use super::next_step::next_step;
use crate::case::CanalFile;
use crate::case::edit::canal_in_words;
use crate::desktop::state::Desk;
use crate::desktop::ui::icons::{self, Icon};
use crate::desktop::ui::palette::text_scale;
use crate::desktop::ui::palette::{self, Palette, answer_style, figure_style};
use crate::desktop::ui::widgets::spoken;
use crate::desktop::ui::wording::{
    capitalised, chart_length, rounded_from, set_length_change, tip_in_words, uncertainty_alone,
};
use crate::measure::findings::{CanalFindings, Findings, Quantity};
use crate::working_length::{Advice, TipLimits, advise};

/// Code of the warning that lengths hold at the detector alone.
const AT_DETECTOR: &str = "magnification_unknown";
/// How much shorter a true length may be than the one at the detector, where
/// the magnification is not known: our own limit, that of the plausible
/// magnifications.
const GREATEST_SHORTENING: f64 = 0.15;

/// Height of the card with every number, at normal text size, points.
const FULL_HEIGHT: f32 = 206.0;

/// Shows the card, to be read at arm's length.
pub fn show(ui: &mut Ui, desk: &Desk<'_>, found: &CanalFindings) {
    let palette = palette::of(ui);
    let findings = &desk.workspace.last_reading().findings;
    let case = desk.workspace.document.case();
    let file = case.canals.get(desk.session.canal);
    let file = file.and_then(|canal| canal.file.as_ref());
    let step_mm = desk.preferences.chart_step_mm;
    Frame::new()
        .fill(palette.raised)
        .corner_radius(6.0)
        .inner_margin(10.0)
        .show(ui, |ui| {
            ui.set_width(ui.available_width());
            // Of its full height from the beginning: what stands below never moves.
            ui.set_min_height(FULL_HEIGHT * text_scale(ui));
            let name = capitalised(&canal_in_words(&found.name));
            ui.label(RichText::new(name).color(palette.quiet_text));
            match &found.tip_to_apex_mm {
                Some(tip) if is_at_detector(findings) => detector_answer(ui, palette, tip.value),
                Some(tip) => tip_answer(ui, palette, found, tip),
                None => {
                    let dash = ui.label(RichText::new("–").text_style(answer_style()));
                    spoken(&dash, "Tip to apex: not known yet");
                }
            }
            if let Some(step) = next_step(case, findings, desk.session.canal) {
                ui.label(RichText::new(step).color(palette.quiet_text));
            }
            working_length(ui, palette, found, file, step_mm);
        });
    ui.add_space(6.0);
}

/// Lengths hold at the detector, the magnification is not known.
fn is_at_detector(findings: &Findings) -> bool {
    let mut warnings = findings.warnings.iter();
    warnings.any(|warning| warning.code == AT_DETECTOR)
}

fn working_length(
    ui: &mut Ui,
    palette: &Palette,
    found: &CanalFindings,
    file: Option<&CanalFile>,
    step_mm: f64,
) {
    let Some(chart_mm) = found.working_length_chart_mm else {
        ui.horizontal(|ui| {
            ui.label(RichText::new("Working length").color(palette.quiet_text));
            let dash = ui.label(RichText::new("–").text_style(figure_style()));
            spoken(&dash, "Working length: not known yet");
        });
        return;
    };
    ui.label(RichText::new("Working length").color(palette.quiet_text));
    let chart = chart_length(chart_mm);
    let raw = found
        .working_length_additive_mm
        .or(found.working_length_proportion_mm);
    let rounding = raw.map(|raw| rounded_from(raw.value, step_mm));
    let rounding = rounding.unwrap_or_default();
    let shown = ui.label(RichText::new(&chart).text_style(figure_style()).strong());
    let words = format!("Working length for the chart: {chart} {rounding}");
    spoken(&shown, words.trim());
    ui.label(RichText::new(rounding).color(palette.quiet_text));
    if let Some(set_mm) = file.and_then(|file| file.set_length_mm) {
        let change = set_length_change(set_mm, chart_mm);
        ui.label(format!("By the convention: {change}"));
    }
}

/// The distance as a range: at the detector it is longer than in the tooth by
/// a magnification nobody has stated.
fn detector_answer(ui: &mut Ui, palette: &Palette, tip_mm: f64) {
    let ends = [tip_mm * (1.0 - GREATEST_SHORTENING), tip_mm].map(f64::abs);
    let side = tip_in_words(tip_mm);
    let side = side.split_once(" mm ").map_or("", |(_, side)| side);
    let range = format!("{:.1}–{:.1} mm", ends[0], ends[1]);
    let shown = ui.label(
        RichText::new(&range)
            .text_style(figure_style())
            .color(palette.caution)
            .strong(),
    );
    spoken(
        &shown,
        &format!("Tip: {range} {side}, the scale being at the detector"),
    );
    ui.horizontal(|ui| {
        icons::sign(ui, Icon::Triangle, palette.caution, "At the detector");
        ui.label(RichText::new(side).heading().color(palette.caution));
    });
    let note = format!(
        "{:.2} mm at the detector; the true length is 0–15 % shorter",
        tip_mm.abs()
    );
    ui.label(RichText::new(note).color(palette.quiet_text));
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
        _ => (Icon::Triangle, palette.caution, "Check"),
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
        ui.vertical(|ui| {
            ui.label(RichText::new(uncertainty_alone(*tip, "mm")).color(palette.quiet_text));
            if !rest.is_empty() {
                ui.horizontal(|ui| {
                    icons::sign(ui, icon, colour, verdict);
                    ui.label(RichText::new(rest).color(colour));
                });
            }
        });
    });
}
