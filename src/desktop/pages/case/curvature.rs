//! Curvature by every method; the chosen one is drawn on the film.

use egui::{RichText, Ui};

use crate::curvature::Method;
use crate::desktop::state::Desk;
use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::named_value;
use crate::measure::findings::{CurvatureFindings, CurveFinding, Quantity};
use crate::uncertainty::rounding::with_u95;

/// A quantity with its unit and what it is, where the method gives several.
type Shown = (Option<Quantity>, &'static str, &'static str);

/// Shows the table.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>, found: &CurvatureFindings) {
    ui.label(RichText::new("Curvature").heading());
    difficulty(ui, found);
    let quiet = palette::of(ui).quiet_text;
    for (n, curve) in found.curves.iter().enumerate() {
        named_value(ui, &format!("Curve {}", n + 1), &curve_in_words(curve));
        if let (Some(start), Some(end)) = (curve.start_from_apex_mm, curve.end_from_apex_mm) {
            let text = format!("from {start:.1} to {end:.1} mm before the apex");
            ui.label(RichText::new(text).color(quiet));
        }
    }
    for (name, quantity) in [
        ("Net turn", found.net_turn_deg),
        ("Total turn", found.total_turn_deg),
    ] {
        if let Some(quantity) = quantity {
            named_value(ui, name, &with_u95(quantity, "°"));
        }
    }
    if let Some(radius) = found.smallest_radius_mm {
        named_value(ui, "Smallest radius", &with_u95(radius, "mm"));
        if let Some(mm) = found.smallest_radius_from_apex_mm {
            ui.label(RichText::new(format!("{mm:.1} mm before the apex")).color(quiet));
        }
    }
    ui.label(RichText::new("Published methods: choose one to draw it on the film").color(quiet));
    for method in Method::ALL {
        row(ui, desk, method, &values(method, found));
    }
}

fn curve_in_words(curve: &CurveFinding) -> String {
    let mut parts = Vec::new();
    parts.extend(curve.turn_deg.map(|turn| with_u95(turn, "°")));
    parts.extend(
        curve
            .radius_mm
            .map(|radius| format!("r {}", with_u95(radius, "mm"))),
    );
    if parts.is_empty() {
        "–".to_owned()
    } else {
        parts.join(", ")
    }
}

fn values(method: Method, found: &CurvatureFindings) -> Vec<Shown> {
    match method {
        Method::Schneider => vec![(found.schneider_deg, "°", "")],
        Method::Weine => vec![(found.weine_deg, "°", "")],
        Method::AxisAxis => vec![(found.axis_axis_deg, "°", "")],
        Method::Pruett => vec![
            (found.pruett_deg, "°", ""),
            (found.pruett_radius_mm, "mm", "radius "),
        ],
        Method::Luiten => vec![(found.luiten_deg, "°", "")],
        Method::Schafer => vec![
            (found.schafer_radius_mm, "mm", "radius "),
            (found.schafer_curve_length_mm, "mm", "length "),
        ],
        Method::Gunday => vec![
            (found.canal_access_deg, "°", "access "),
            (found.curvature_height_mm, "mm", "height "),
            (found.curvature_distance_mm, "mm", "distance AD "),
            (found.curvature_distance_from_apex_mm, "mm", "DC "),
        ],
        Method::Estrela => vec![(found.estrela_radius_mm, "mm", "radius ")],
    }
}

fn row(ui: &mut Ui, desk: &mut Desk<'_>, method: Method, values: &[Shown]) {
    let drawn = desk.session.construction == Some(method);
    let words: Vec<String> = values
        .iter()
        .filter_map(|(quantity, unit, what)| {
            quantity.map(|quantity| format!("{what}{}", with_u95(quantity, unit)))
        })
        .collect();
    let (first, rest) = match words.split_first() {
        Some((first, rest)) => (first.as_str(), rest),
        None => ("–", &[][..]),
    };
    let name = format!(
        "{}: {}",
        method.name(),
        if words.is_empty() {
            "–".to_owned()
        } else {
            words.join(", ")
        }
    );
    let response = ui
        .add(
            egui::Button::selectable(drawn, method.name())
                .right_text(first)
                .min_size(egui::vec2(ui.available_width(), 0.0)),
        )
        .on_hover_text(method.source())
        .accessible_name(&name);
    if response.clicked() {
        desk.session.construction = (!drawn).then_some(method);
    }
    for line in rest {
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Min), |ui| {
            ui.add_space(8.0);
            ui.label(RichText::new(line).color(palette::of(ui).quiet_text));
        });
    }
}

/// The curvature row of the case difficulty form (METHODS 5).
fn difficulty(ui: &mut Ui, found: &CurvatureFindings) {
    if let Some(text) = found.difficulty.words() {
        named_value(ui, "Difficulty, curvature row", &text);
    }
}
