//! What shaping did, in numbers.

use egui::{Button, Grid, RichText, ScrollArea, Ui};

use super::limits::Limits;
use super::plots;
use crate::case::edit::canal_in_words;
use crate::desktop::ui::icons::{self, Icon};
use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::{named_value, spoken};
use crate::desktop::ui::wording::{capitalised, without_options};
use crate::shaping::{
    CanalShaping, LevelFinding, RegistrationFinding, ShapingFindings, method_name,
};
use crate::uncertainty::rounding::{fixed, with_u95};
use crate::units::Quantity;

/// What stands for a number that is not available.
const ABSENT: &str = "–";

/// Share of the draws from which on a finding by a rule is taken as sure.
const SURE_SHARE: f64 = 0.95;

/// Shows the findings; `shown` is the canal chosen. Whether other limits hold
/// now.
pub fn show(
    ui: &mut Ui,
    findings: &ShapingFindings,
    shown: &mut usize,
    limits: &mut Limits,
) -> bool {
    ScrollArea::vertical()
        .id_salt("shaping results")
        .auto_shrink(false)
        .show(ui, |ui| {
            registration(ui, &findings.registration);
            for warning in &findings.warnings {
                let text = without_options(&warning.text);
                let text = match &warning.canal {
                    Some(canal) => format!("{canal}: {text}"),
                    None => text,
                };
                ui.horizontal_wrapped(|ui| {
                    icons::sign(ui, Icon::Triangle, palette::of(ui).caution, "Warning");
                    ui.label(text);
                });
            }
            *shown = (*shown).min(findings.canals.len().saturating_sub(1));
            if findings.canals.len() > 1 {
                ui.horizontal_wrapped(|ui| {
                    for (index, canal) in findings.canals.iter().enumerate() {
                        let button = Button::selectable(index == *shown, &canal.name);
                        let name = format!("Show canal {}", canal.name);
                        if ui.add(button).accessible_name(name).clicked() {
                            *shown = index;
                        }
                    }
                });
            }
            if let Some(canal) = findings.canals.get(*shown) {
                self::canal(ui, canal);
            }
            limits.show(ui)
        })
        .inner
}

/// How well the films lie over each other.
fn registration(ui: &mut Ui, found: &RegistrationFinding) {
    let length = |mm: Option<f64>, px: f64| match mm {
        Some(mm) => format!("{} mm", fixed(mm, 3)),
        None => format!("{} px", fixed(px, 1)),
    };
    let error = found.error_at_apex_mm;
    let error = error.map_or("no scale".to_owned(), |mm| format!("{} mm", fixed(mm, 3)));
    ui.label(RichText::new("The films over each other").heading());
    named_value(ui, "Predicted error at the apex", &error);
    named_value(
        ui,
        "Residual of the marks",
        &length(found.residual_mm, found.residual_px),
    );
    named_value(
        ui,
        &format!("Mark that fits worst: {}", found.worst_mark),
        &length(found.worst_mark_off_mm, found.worst_mark_off_px),
    );
    let turn = format!(
        "turned by {}°, scale {} (from the {})",
        fixed(found.rotation_deg, 2),
        fixed(found.scale, 4),
        found.scale_source
    );
    named_value(ui, "Second film against the first", &turn);
}

fn canal(ui: &mut Ui, canal: &CanalShaping) {
    ui.add_space(6.0);
    ui.label(RichText::new(capitalised(&canal_in_words(&canal.name))).heading());
    if canal.findings.is_empty() {
        ui.label("No zip, ledge, thin wall or perforation by the rules");
    }
    for finding in &canal.findings {
        ui.horizontal_wrapped(|ui| {
            let palette = palette::of(ui);
            let (icon, colour, what) = if finding.share_of_draws >= SURE_SHARE {
                (Icon::Square, palette.alarm, "Finding")
            } else {
                (Icon::Triangle, palette.caution, "Uncertain finding")
            };
            icons::sign(ui, icon, colour, what);
            ui.label(RichText::new(&finding.text).strong());
        });
    }
    if !canal.levels.is_empty() {
        levels(ui, canal);
        plots::show(ui, canal);
    }
    shape(ui, canal);
}

type Of = fn(&LevelFinding) -> Option<Quantity>;

/// Columns of the table: head, what a cell is called, value.
const COLUMNS: [(&str, &str, Of); 5] = [
    ("Before", "width before", |l| l.width_before_mm),
    ("After", "width after", |l| l.width_after_mm),
    ("Left", "removed left", |l| l.removed_left_mm),
    ("Right", "removed right", |l| l.removed_right_mm),
    ("Transport", "transport", |l| l.transport_mm),
];

fn levels(ui: &mut Ui, canal: &CanalShaping) {
    let quiet = palette::of(ui).quiet_text;
    let what = "Widths before and after, removal left and right, transport, mm with U (95 %), \
                positive towards the left; centring: 1 is centred. Left and right seen from the \
                orifice. Levels in mm from the end.";
    ui.label(RichText::new(what).color(quiet).small());
    Grid::new("levels of shaping")
        .num_columns(COLUMNS.len() + 2)
        .spacing([10.0, 2.0])
        .striped(true)
        .show(ui, |ui| {
            ui.label(RichText::new("mm").color(quiet));
            for (head, _, _) in COLUMNS {
                ui.label(RichText::new(head).color(quiet));
            }
            ui.label(RichText::new("Centring").color(quiet));
            ui.end_row();
            for level in &canal.levels {
                row(ui, level);
            }
        });
    for level in canal.levels.iter().filter(|level| !level.note.is_empty()) {
        let text = format!("{} mm: {}", fixed(level.from_end_mm, 1), level.note);
        ui.label(RichText::new(text).color(quiet).small());
    }
}

fn row(ui: &mut Ui, level: &LevelFinding) {
    let from_end = fixed(level.from_end_mm, 1);
    ui.label(&from_end);
    let mut cell = |name: &str, value: String| {
        spoken(
            &ui.label(&value),
            &format!("{from_end} mm, {name}: {value}"),
        );
    };
    for (_, name, of) in COLUMNS {
        let value = of(level).map_or(ABSENT.to_owned(), |q| with_u95(q, ""));
        cell(name, value.trim_end().to_owned());
    }
    let ratio = match (level.centring_ratio, level.centring_ratio_u95) {
        (Some(value), Some(u95)) => with_u95(Quantity { value, u95 }, ""),
        (Some(ratio), None) => fixed(ratio, 2),
        (None, _) => ABSENT.to_owned(),
    };
    cell("centring", ratio.trim_end().to_owned());
    ui.end_row();
}

/// Straightening, curve by curve, and the change of length.
fn shape(ui: &mut Ui, canal: &CanalShaping) {
    let degrees = |q: Option<Quantity>| q.map_or(ABSENT.to_owned(), |q| with_u95(q, "°"));
    ui.add_space(6.0);
    ui.label(RichText::new("Straightening and length").heading());
    for (name, straightening) in &canal.straightening_deg {
        if straightening.is_some() {
            let name = format!("Straightened, {}", method_name(name));
            named_value(ui, &name, &degrees(*straightening));
        }
    }
    for (index, curve) in canal.curves.iter().enumerate() {
        let value = format!(
            "{} before, {} after, straightened by {}",
            degrees(curve.turn_before_deg),
            degrees(curve.turn_after_deg),
            degrees(curve.straightening_deg)
        );
        named_value(ui, &format!("Curve {} from the end", index + 1), &value);
    }
    let change = canal.length_change_mm;
    let change = change.map_or("not available".to_owned(), |q| with_u95(q, "mm"));
    named_value(ui, "Change of length", &change);
    if let Some(explained) = canal.length_change_explained_mm {
        let value = format!("{} mm", fixed(explained, 2));
        named_value(ui, "of which the wider curve alone explains", &value);
    }
}
