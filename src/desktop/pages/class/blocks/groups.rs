//! Two groups beside each other, level by level.

use egui::{ComboBox, RichText, ScrollArea, Ui};
use egui_plot::{HLine, Line, Points};

use crate::desktop::ui::palette::text_scale;
use crate::desktop::ui::widgets::spoken;
use crate::desktop::ui::{palette, plots};
use crate::shaping_class::{GroupComparison, LevelDifference};
use crate::uncertainty::rounding::fixed;

/// Height of the plot at normal text size, points.
const HEIGHT: f32 = 220.0;

/// Quantities: key, and what it is called.
const QUANTITIES: [(&str, &str); 4] = [
    ("transport_mm", "Transport, mm, positive to the left"),
    ("absolute_transport_mm", "Transport to either side, mm"),
    ("centring_ratio", "Centring ratio"),
    ("removed_mm", "Removed on both sides, mm"),
];

/// What is compared.
#[derive(Default)]
pub struct Groups {
    quantity: usize,
    canal: Option<String>,
}

impl Groups {
    /// Shows the differences of one quantity.
    pub fn show(&mut self, ui: &mut Ui, groups: &GroupComparison) {
        let mut canals: Vec<&str> = Vec::new();
        for level in &groups.levels {
            if !canals.contains(&level.canal.as_str()) {
                canals.push(&level.canal);
            }
        }
        let Some(first) = canals.first() else {
            ui.label("No level is in both groups");
            return;
        };
        let canal = self.canal.get_or_insert_with(|| (*first).to_owned());
        if !canals.contains(&canal.as_str()) {
            *canal = (*first).to_owned();
        }
        ui.horizontal_wrapped(|ui| {
            ComboBox::from_id_salt("groups quantity")
                .width(240.0)
                .selected_text(QUANTITIES[self.quantity].1)
                .show_ui(ui, |ui| {
                    for (index, (_, words)) in QUANTITIES.iter().enumerate() {
                        ui.selectable_value(&mut self.quantity, index, *words);
                    }
                })
                .response
                .accessible_name("Quantity compared");
            if canals.len() > 1 {
                ComboBox::from_id_salt("groups canal")
                    .selected_text(canal.as_str())
                    .show_ui(ui, |ui| {
                        for one in &canals {
                            ui.selectable_value(canal, (*one).to_owned(), *one);
                        }
                    })
                    .response
                    .accessible_name("Canal compared");
            }
        });
        let (key, words) = QUANTITIES[self.quantity];
        let levels: Vec<&LevelDifference> = groups
            .levels
            .iter()
            .filter(|level| level.quantity == key && level.canal == *canal)
            .collect();
        let [first, second] = &groups.groups;
        let title = format!("{words}: {second} less {first}");
        let quiet = palette::of(ui).quiet_text;
        let shown = ui.label(RichText::new(&title).color(quiet));
        spoken(&shown, &format!("Plot. {title}, {} levels", levels.len()));
        plot(ui, &levels);
        let key = "Thick: 95 % for one level. Thin: 95 % for all levels at once (Bonferroni); at \
                   the border it goes farther. Each student counts once.";
        ui.label(RichText::new(key).color(quiet).small());
        ScrollArea::vertical()
            .id_salt("group levels")
            .show(ui, |ui| {
                for level in levels {
                    ui.label(level_words(level));
                }
            });
    }
}

/// One level in words.
fn level_words(level: &LevelDifference) -> String {
    let p = level.p_all_levels.map_or(String::new(), |p| {
        let p = if p < 0.001 {
            "< 0.001".to_owned()
        } else {
            fixed(p, 3)
        };
        format!("; p over all levels {p} (Holm)")
    });
    format!(
        "{} mm from the end: {} ({} to {}), {} and {} students{p}",
        fixed(level.from_end_mm, 1),
        fixed(level.difference, 3),
        fixed(level.ci95.low, 3),
        fixed(level.ci95.high, 3),
        level.students[0],
        level.students[1],
    )
}

/// Half the height of the plot: all differences and most intervals for one
/// level; one level of few students does not flatten the others.
fn half_height(levels: &[&LevelDifference]) -> f64 {
    let mut ends: Vec<f64> = levels
        .iter()
        .map(|level| level.ci95.low.abs().max(level.ci95.high.abs()))
        .collect();
    ends.sort_by(f64::total_cmp);
    let most = ends.get(ends.len() * 3 / 4).copied().unwrap_or(1.0);
    let differences = levels.iter().map(|level| level.difference.abs());
    1.3 * differences.fold(most, f64::max).max(1e-6)
}

fn plot(ui: &mut Ui, levels: &[&LevelDifference]) {
    let palette = palette::of(ui);
    let height = half_height(levels);
    plots::still("groups of blocks")
        .height(HEIGHT * text_scale(ui))
        .include_x(0.0)
        .include_y(-height)
        .include_y(height)
        .x_axis_label("mm from the end")
        .show(ui, |plot| {
            plot.hline(
                HLine::new("no difference", 0.0)
                    .color(palette.line)
                    .width(1.5),
            );
            for level in levels {
                for (ends, width) in [(level.ci95_all_levels, 1.0), (level.ci95, 3.0)] {
                    let at = level.from_end_mm;
                    let [low, high] = [ends.low, ends.high].map(|end| end.clamp(-height, height));
                    let ends = vec![[at, low], [at, high]];
                    plot.line(Line::new("", ends).color(palette.accent).width(width));
                }
            }
            let points: Vec<[f64; 2]> = levels
                .iter()
                .map(|level| [level.from_end_mm, level.difference])
                .collect();
            plot.points(
                Points::new("difference", points)
                    .radius(4.0)
                    .color(palette.text),
            );
        });
}
