//! What both films say together, and what each hides alone.

use egui::{Label, RichText, Ui};

use crate::case::edit::canal_in_words;
use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::spoken;
use crate::desktop::ui::wording::capitalised;
use crate::two_view::findings::SpaceCurveFinding;
use crate::two_view::{TwoViewFindings, rows};
use crate::uncertainty::rounding::fixed;

/// Turns that differ by less than this look alike, degrees: half of the last
/// digit shown.
const ALIKE_DEG: f64 = 0.05;

/// Shows it.
pub fn show(ui: &mut Ui, found: &TwoViewFindings, is_current: bool) {
    let palette = palette::of(ui);
    let heading = format!("{} in space", capitalised(&canal_in_words(&found.canal)));
    ui.label(RichText::new(heading).heading().strong());
    if !is_current {
        let words = "Of the state before; being worked out again…";
        ui.label(RichText::new(words).color(palette.caution));
    }
    for (name, value) in rows(found) {
        ui.label(RichText::new(&name).color(palette.quiet_text).small());
        let response = ui.add(Label::new(&value).wrap());
        spoken(&response, &format!("{name}: {value}"));
    }
    if !found.curves.is_empty() {
        ui.add_space(4.0);
        ui.label(RichText::new("What one film hides").heading());
        for (index, curve) in found.curves.iter().enumerate() {
            let words = hidden(index + 1, curve);
            spoken(&ui.add(Label::new(&words).wrap()), &words);
        }
    }
    if !found.warnings.is_empty() {
        ui.add_space(4.0);
        ui.label(RichText::new("Check").heading());
        for warning in &found.warnings {
            let text = RichText::new(&warning.text).color(palette.caution);
            ui.add(Label::new(text).wrap());
        }
    }
    ui.add_space(4.0);
    let angle = format!(
        "Films {}° ± {}° apart, {}; {} draws. A film may show a smaller or a larger radius than \
         the true one. Confirm lengths electronically and clinically.",
        fixed(found.angle_deg, 1),
        fixed(found.angle_half_width_deg, 1),
        found.receptor.words(),
        found.draws
    );
    ui.add(Label::new(RichText::new(angle).color(palette.quiet_text)).wrap());
}

/// What each film shows of a curve against what there is.
fn hidden(number: usize, curve: &SpaceCurveFinding) -> String {
    if !curve.distinguishable {
        return format!("Curve {number} is not distinguishable from straight.");
    }
    let true_deg = curve.turn_deg.value;
    let film = |name: &str, shown_deg: f64| {
        let missing = true_deg - shown_deg;
        let by = fixed(missing.abs(), 1);
        if missing.abs() < ALIKE_DEG {
            format!("film {name} shows all of it")
        } else if missing > 0.0 {
            format!("film {name} hides {by}° of it")
        } else {
            format!("film {name} shows {by}° more than there is")
        }
    };
    format!(
        "Curve {number} turns by {}°: {}, {}.",
        fixed(true_deg, 1),
        film("A", curve.film_a_turn_deg),
        film("B", curve.film_b_turn_deg)
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Quantity;

    #[test]
    fn a_film_may_hide_and_may_exaggerate() {
        let quantity = |value| Quantity { value, u95: 3.0 };
        let curve = SpaceCurveFinding {
            turn_deg: quantity(30.0),
            radius_mm: quantity(8.0),
            plane_deg: 80.0,
            plane_u95_deg: Some(9.0),
            towards: "towards the source".to_owned(),
            start_from_apex_mm: 6.0,
            end_from_apex_mm: 1.0,
            distinguishable: true,
            noise_floor_deg: 4.0,
            film_a_turn_deg: 6.24,
            film_b_turn_deg: 31.5,
        };
        assert_eq!(
            hidden(2, &curve),
            "Curve 2 turns by 30.0°: film A hides 23.8° of it, film B shows 1.5° more than there \
             is."
        );
        let slight = SpaceCurveFinding {
            distinguishable: false,
            ..curve
        };
        assert_eq!(
            hidden(1, &slight),
            "Curve 1 is not distinguishable from straight."
        );
    }
}
