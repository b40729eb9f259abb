//! The pairs of a class, and what was found of the one chosen.

use egui::{Align, Button, Layout, RichText, ScrollArea, Sense, Ui};
use egui_extras::{Column, TableBuilder};

use super::super::detail::open_button;
use crate::case::edit::canal_in_words;
use crate::desktop::ui::icons::{self, Icon};
use crate::desktop::ui::palette::{self, text_scale};
use crate::desktop::ui::widgets::spoken;
use crate::desktop::ui::wording::{capitalised, without_options};
use crate::shaping_class::{GradedPair, ShapingClass, ShapingMeasure, line_words};
use crate::uncertainty::rounding::fixed;

/// Columns: head and width at normal text size, points.
const COLUMNS: [(&str, f32); 7] = [
    ("Student", 150.0),
    ("Group", 90.0),
    ("Block", 80.0),
    ("Verdict", 110.0),
    ("Points", 76.0),
    ("Transport, mm", 110.0),
    ("Centring", 80.0),
];

/// A verdict as the class table of traces shows it.
fn verdict(passed: Option<bool>) -> &'static str {
    match passed {
        Some(true) => "passed",
        Some(false) => "not passed",
        None => "open",
    }
}

/// The worst transport and the least mean centring of all canals.
fn extremes(pair: &GradedPair) -> [String; 2] {
    let of = |measure: ShapingMeasure| {
        let canals = pair.shaping.iter();
        canals.filter_map(move |canal| Some(measure.of(canal, None)?.value))
    };
    let transport = of(ShapingMeasure::GreatestTransportMm).reduce(f64::max);
    let centring = of(ShapingMeasure::MeanCentringRatio).reduce(f64::min);
    [transport, centring].map(|value| value.map_or("–".to_owned(), |value| fixed(value, 2)))
}

/// Lists the pairs; the one chosen in this frame.
pub fn pairs(ui: &mut Ui, class: &ShapingClass, selected: usize) -> Option<usize> {
    let scale = text_scale(ui);
    let row_height = ui.spacing().interact_size.y;
    let mut chosen = None;
    ScrollArea::horizontal()
        .id_salt("block pairs")
        .show(ui, |ui| {
            let mut builder = TableBuilder::new(ui)
                .id_salt("block rows")
                .striped(true)
                .sense(Sense::click())
                .auto_shrink(false)
                .cell_layout(Layout::left_to_right(Align::Center));
            for (_, width) in COLUMNS {
                builder = builder.column(Column::exact(width * scale).clip(true));
            }
            builder
                .header(row_height, |mut header| {
                    for (head, _) in COLUMNS {
                        header.col(|ui| {
                            ui.label(RichText::new(head).strong());
                        });
                    }
                })
                .body(|body| {
                    body.rows(row_height, class.pairs.len(), |mut row| {
                        let index = row.index();
                        let pair = &class.pairs[index];
                        row.set_selected(index == selected);
                        row.col(|ui| {
                            let button = Button::selectable(index == selected, &pair.student);
                            let name = format!(
                                "Pair {}: {}, {}",
                                index + 1,
                                pair.student,
                                verdict(pair.passed)
                            );
                            if ui.add(button).accessible_name(name).clicked() {
                                chosen = Some(index);
                            }
                        });
                        let points = format!(
                            "{}/{}",
                            fixed(pair.points, 1),
                            fixed(pair.points_possible, 1)
                        );
                        let [transport, centring] = extremes(pair);
                        let group = pair.group.clone().unwrap_or_default();
                        let block = pair.block.clone().unwrap_or_default();
                        let cells = [
                            group,
                            block,
                            verdict(pair.passed).to_owned(),
                            points,
                            transport,
                        ];
                        for cell in cells.into_iter().chain([centring]) {
                            row.col(|ui| {
                                ui.add(egui::Label::new(cell).selectable(false));
                            });
                        }
                        if row.response().clicked() {
                            chosen = Some(index);
                        }
                    });
                });
        });
    chosen
}

/// What was found of one pair, line by line of the rubric; `true`: it is to be
/// looked at on the page of before and after.
pub fn detail(ui: &mut Ui, pair: &GradedPair, numbers_for_names: bool) -> bool {
    let palette = palette::of(ui);
    ui.label(RichText::new(&pair.student).heading().strong());
    for path in [&pair.before, &pair.after] {
        ui.add(egui::Label::new(RichText::new(path).color(palette.quiet_text)).truncate())
            .on_hover_text(path);
    }
    let opens = open_button(ui, "Open before and after", numbers_for_names);
    for canal in &pair.canals {
        ui.add_space(6.0);
        let mut outcome = format!(
            "{}: {}",
            capitalised(&canal_in_words(&canal.name)),
            verdict(canal.passed)
        );
        if canal.passed.is_none() {
            outcome += ", something required could not be assessed";
        }
        ui.label(RichText::new(outcome).strong());
        for line in line_words(canal) {
            ui.label(line);
        }
    }
    for canal in &pair.shaping {
        for finding in &canal.findings {
            ui.horizontal_wrapped(|ui| {
                icons::sign(ui, Icon::Triangle, palette.caution, "Finding");
                ui.label(&finding.text);
            });
        }
    }
    for warning in &pair.warnings {
        let text = without_options(&warning.text);
        ui.label(RichText::new(text).color(palette.quiet_text));
    }
    opens
}

/// What could not be graded, with the reasons.
pub fn refused(ui: &mut Ui, class: &ShapingClass) {
    if class.refused.is_empty() {
        return;
    }
    let palette = palette::of(ui);
    ui.add_space(6.0);
    let title = format!("Not graded: {}", class.refused.len());
    ui.label(RichText::new(title).heading());
    for refused in &class.refused {
        let reason = without_options(refused.reason.text());
        let words = format!("{}: {reason}", refused.student);
        ui.horizontal_wrapped(|ui| {
            icons::sign(ui, Icon::Square, palette.alarm, "Not graded");
            spoken(&ui.label(&words), &words);
        });
    }
}
