//! What limits each result: which input its uncertainty is made of, and what
//! to do about the greatest.

use egui::{RichText, Ui};

use crate::desktop::state::Desk;
use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::{section_heading, share_bar, spoken};
use crate::measure::findings::{Budget, BudgetLine, CanalFindings};
use crate::measure::{leading_words, percent_words, result_name};

/// Inputs below this share have no bar of their own.
const LEAST_SHARE: f64 = 0.01;

/// Shows the section of one canal, if it has results.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>, found: &CanalFindings) {
    if found.budget.is_empty() {
        return;
    }
    ui.separator();
    if !section_heading(
        ui,
        "Sources of uncertainty",
        &mut desk.preferences.show_budget,
    ) {
        return;
    }
    let chosen = desk.session.budget_of.as_deref();
    let spelled_out = found
        .budget
        .iter()
        .position(|budget| Some(budget.result.as_str()) == chosen)
        .unwrap_or(0);
    for (index, budget) in found.budget.iter().enumerate() {
        let Some(leading) = leading_words(budget) else {
            continue;
        };
        let is_open = index == spelled_out;
        let name = result_name(&budget.result);
        let row = egui::Button::selectable(is_open, &name)
            .min_size(egui::vec2(ui.available_width(), 0.0));
        let response = ui.add(row).accessible_name(format!("{name}: {leading}"));
        if response.clicked() {
            desk.session.budget_of = Some(budget.result.clone());
        }
        ui.indent(index, |ui| {
            let quiet = palette::of(ui).quiet_text;
            // A number stays on one line with its sign.
            let unbroken = leading.replace(" %", "\u{a0}%");
            let sentence = ui.label(RichText::new(unbroken).color(quiet));
            spoken(&sentence, &format!("{name}: {leading}"));
            if is_open {
                spell_out(ui, budget);
            }
        });
    }
}

/// Every input with its share, and the remedy for the first.
fn spell_out(ui: &mut Ui, budget: &Budget) {
    let palette = palette::of(ui);
    if let Some(remedy) = &budget.remedy {
        ui.label(RichText::new(remedy).color(palette.accent));
    }
    let is_angle = budget.result.ends_with("_deg");
    let (seen, rest): (Vec<_>, Vec<_>) = budget
        .lines
        .iter()
        .partition(|line| line.share >= LEAST_SHARE);
    for line in seen {
        let value = format!("{}, {}", percent_words(line.share), spread(line, is_angle));
        share_bar(ui, &line.words, line.share, &value);
    }
    if !rest.is_empty() {
        // A number stays on one line with its sign and unit.
        let unbroken = |line: &BudgetLine| spread(line, is_angle).replace(' ', "\u{a0}");
        let each = |line: &&BudgetLine| format!("{} {}", line.words, unbroken(line));
        let rest: Vec<_> = rest.iter().map(each).collect();
        let words = format!("Under 1 % each: {}.", rest.join(", "));
        ui.label(RichText::new(words).color(palette.quiet_text).small());
    }
    let note = "Shares of the variance; ± one standard uncertainty each.";
    ui.label(RichText::new(note).color(palette.quiet_text).small());
}

/// "± 0.144 mm": one standard uncertainty.
fn spread(line: &BudgetLine, is_angle: bool) -> String {
    if is_angle {
        format!("± {:.1}°", line.u)
    } else {
        format!("± {:.3} mm", line.u)
    }
}
