//! Curvature by every method; the chosen one is drawn on the film.

use egui::{RichText, Ui};

use crate::desktop::app::Desk;
use crate::desktop::engine::Construction;
use crate::desktop::palette;
use crate::desktop::widgets::named_value;
use crate::desktop::wording::with_uncertainty;
use crate::measure::findings::{CurvatureFindings, Quantity};

/// A quantity with the unit it is shown in.
type Shown = (Option<Quantity>, &'static str);

/// Shows the table.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>, found: &CurvatureFindings) {
    ui.label(RichText::new("Curvature").heading());
    difficulty(ui, found);
    ui.label(RichText::new("Choose a method to draw it on the film").color(palette::of(ui).quiet_text));
    for construction in Construction::ALL {
        row(ui, desk, construction, &values(construction, found));
    }
    for (n, curve) in found.curves.iter().enumerate() {
        let mut text = Vec::new();
        if let Some(turn) = &curve.turn_deg {
            text.push(with_uncertainty(turn, "°"));
        }
        if let Some(radius) = &curve.radius_mm {
            text.push(format!("radius {}", with_uncertainty(radius, "mm")));
        }
        if let (Some(start), Some(end)) = (curve.start_from_apex_mm, curve.end_from_apex_mm) {
            text.push(format!("{start:.1} to {end:.1} mm from the apex"));
        }
        named_value(ui, &format!("Curve {}", n + 1), &text.join(", "));
    }
    if let Some(radius) = &found.smallest_radius_mm {
        let place = found
            .smallest_radius_from_apex_mm
            .map_or(String::new(), |mm| format!(" at {mm:.1} mm from the apex"));
        named_value(ui, "Smallest radius", &format!("{}{place}", with_uncertainty(radius, "mm")));
    }
}

fn values(construction: Construction, found: &CurvatureFindings) -> Vec<Shown> {
    match construction {
        Construction::Schneider => vec![(found.schneider_deg, "°")],
        Construction::Weine => vec![(found.weine_deg, "°")],
        Construction::AxisAxis => vec![(found.axis_axis_deg, "°")],
        Construction::Pruett => vec![(found.pruett_deg, "°"), (found.pruett_radius_mm, "mm")],
        Construction::Luiten => vec![(found.luiten_deg, "°")],
        Construction::Schafer => vec![
            (found.schafer_radius_mm, "mm"),
            (found.schafer_curve_length_mm, "mm long"),
        ],
        Construction::Gunday => vec![
            (found.canal_access_deg, "°"),
            (found.curvature_height_mm, "mm high"),
        ],
        Construction::Estrela => vec![(found.estrela_radius_mm, "mm")],
        Construction::CurveByCurve => {
            vec![(found.net_turn_deg, "° net"), (found.total_turn_deg, "° total")]
        }
    }
}

fn row(ui: &mut Ui, desk: &mut Desk<'_>, construction: Construction, values: &[Shown]) {
    let drawn = desk.preferences.construction == Some(construction);
    let words: Vec<String> = values
        .iter()
        .filter_map(|(quantity, unit)| quantity.as_ref().map(|q| with_uncertainty(q, unit)))
        .collect();
    let value = if words.is_empty() { "–".to_owned() } else { words.join(", ") };
    let response = ui
        .add(
            egui::Button::selectable(drawn, construction.name())
                .right_text(&value)
                .min_size(egui::vec2(ui.available_width(), 0.0)),
        )
        .accessible_name(format!("{}: {value}", construction.name()));
    if response.clicked() {
        desk.preferences.construction = (!drawn).then_some(construction);
    }
}

/// The curvature row of the case difficulty form (METHODS 5).
fn difficulty(ui: &mut Ui, found: &CurvatureFindings) {
    let class = &found.difficulty.class;
    if class.is_empty() {
        return;
    }
    let s_shaped = if found.s_shaped { ", S-shaped" } else { "" };
    let text = format!("{class}{s_shaped} (by {})", found.difficulty.method);
    named_value(ui, "Difficulty, curvature row", &text);
}
