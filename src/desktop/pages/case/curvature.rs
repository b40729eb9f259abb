//! Curvature by every method; the chosen one is drawn on the film.

use egui::{RichText, Ui};

use crate::curvature::{CurvatureQuantity, Method, QuantityRow};
use crate::desktop::state::Desk;
use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::named_value;
use crate::measure::capitalised;
use crate::measure::findings::{CurvatureFindings, CurveFinding};
use crate::uncertainty::rounding::with_u95;

/// Shows the table.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>, found: &CurvatureFindings) {
    ui.label(RichText::new("Curvature").heading());
    difficulty(ui, found);
    let quiet = palette::of(ui).quiet_text;
    if let Some(words) = found.angles_from_words() {
        ui.label(RichText::new(format!("Angles from {words}")).color(quiet));
    }
    for (n, curve) in found.curves.iter().enumerate() {
        named_value(ui, &format!("Curve {}", n + 1), &curve_in_words(curve));
        if let (Some(start), Some(end)) = (curve.start_from_apex_mm, curve.end_from_apex_mm) {
            let text = format!("from {start:.1} to {end:.1} mm from the apex");
            ui.label(RichText::new(text).color(quiet));
        }
    }
    for row in CurvatureQuantity::of_method(None) {
        let Some(quantity) = found[row.quantity] else {
            continue;
        };
        let sign = row.dimension.sign();
        if row.has_interval {
            let words = found.words(row, sign).unwrap_or_default();
            named_value(ui, &capitalised(row.name), &words);
        } else {
            let text = format!("{:.1} {sign} from the apex", quantity.value);
            ui.label(RichText::new(text).color(quiet));
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
    parts.extend(curve.radius_words("mm").map(|radius| format!("r {radius}")));
    if parts.is_empty() {
        "–".to_owned()
    } else {
        parts.join(", ")
    }
}

/// The numbers of a method in words, each after what it is where the method
/// gives several.
pub fn values(method: Method, found: &CurvatureFindings) -> Vec<String> {
    let shown = |row: &QuantityRow| {
        let value = found.words(row, row.dimension.sign())?;
        Some(format!("{} {value}", row.part).trim_start().to_owned())
    };
    CurvatureQuantity::of_method(Some(method))
        .filter_map(shown)
        .collect()
}

fn row(ui: &mut Ui, desk: &mut Desk<'_>, method: Method, words: &[String]) {
    let drawn = desk.session.construction == Some(method);
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

/// The curvature row of the case difficulty form (docs/methods.md 5).
fn difficulty(ui: &mut Ui, found: &CurvatureFindings) {
    if let Some(text) = found.difficulty.words() {
        named_value(ui, "AAE form 2022, canal-curvature row only", &text);
    }
}
