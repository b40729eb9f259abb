//! The rubric, changed in the window.

use egui::{ComboBox, DragValue, Grid, RichText, ScrollArea, TextEdit, Ui};

use crate::desktop::ui::palette;
use crate::grading::measures::Measure;
use crate::grading::rubric::{Attempt, Rubric, RubricLine};

/// Width of a measure's name, points: the whole of it is told on hovering.
const NAME_WIDTH: f32 = 190.0;

/// Everything of a rubric, to be changed.
pub fn edit(ui: &mut Ui, rubric: &mut Rubric) {
    ui.horizontal_wrapped(|ui| {
        ui.label("Name");
        ui.add(TextEdit::singleline(&mut rubric.name).desired_width(160.0))
            .on_hover_text("Stands on the feedback sheets")
            .accessible_name("Name of the rubric");
        ui.label("Share of the points that passes");
        let mut percent = 100.0 * rubric.pass_share;
        let share = DragValue::new(&mut percent).range(0.0..=100.0).suffix(" %");
        let share = ui
            .add(share)
            .accessible_name("Share of the points that passes");
        if share.changed() {
            rubric.pass_share = percent / 100.0;
        }
        ui.label("Told in words from");
        ui.add(
            DragValue::new(&mut rubric.stray_mm)
                .speed(0.05)
                .range(0.05..=5.0)
                .suffix(" mm"),
        )
        .accessible_name("Told in words from");
    });
    ui.horizontal_wrapped(|ui| {
        ui.label("Attempt that counts");
        ComboBox::from_id_salt("attempt that counts")
            .selected_text(rubric.attempt.words())
            .show_ui(ui, |ui| {
                for attempt in Attempt::ALL {
                    ui.selectable_value(&mut rubric.attempt, attempt, attempt.words());
                }
            })
            .response
            .accessible_name("Attempt that counts");
        ui.checkbox(&mut rubric.forbid_assisted, "Forbid suggested traces");
        ui.checkbox(&mut rubric.forbid_copied, "Forbid copied traces");
    });
    ScrollArea::horizontal()
        .id_salt("rubric lines")
        .show(ui, |ui| lines(ui, rubric));
    add_line(ui, rubric);
    if let Some(fault) = rubric.fault() {
        ui.label(RichText::new(fault).color(palette::of(ui).alarm));
    }
}

fn lines(ui: &mut Ui, rubric: &mut Rubric) {
    let mut gone = None;
    Grid::new("rubric grid")
        .striped(true)
        .spacing([10.0, 4.0])
        .show(ui, |ui| {
            for name in [
                "Measure",
                "at least",
                "at most",
                "points",
                "partly over",
                "canal",
                "required",
                "",
            ] {
                ui.label(RichText::new(name).color(palette::of(ui).quiet_text));
            }
            ui.end_row();
            for (index, line) in rubric.lines.iter_mut().enumerate() {
                let unit = line.measure.unit();
                let name = format!("{}, {unit}", line.measure.words());
                ui.scope(|ui| {
                    ui.set_width(NAME_WIDTH);
                    ui.add(egui::Label::new(&name).truncate())
                        .on_hover_text(&name);
                });
                optional(ui, &mut line.at_least, -0.5, &format!("{name}: at least"));
                optional(ui, &mut line.at_most, 0.5, &format!("{name}: at most"));
                ui.add(
                    DragValue::new(&mut line.points)
                        .speed(0.1)
                        .range(0.1..=100.0),
                )
                .accessible_name(format!("{name}: points"));
                optional(
                    ui,
                    &mut line.partial_over,
                    0.5,
                    &format!("{name}: partly over"),
                );
                canal(ui, line, &name);
                ui.checkbox(&mut line.required, "")
                    .on_hover_text("A canal that does not meet it does not pass")
                    .accessible_name(format!("{name}: required"));
                let remove = ui.small_button("Remove");
                if remove.accessible_name(format!("Remove {name}")).clicked() {
                    gone = Some(index);
                }
                ui.end_row();
            }
        });
    if let Some(index) = gone {
        rubric.lines.remove(index);
    }
}

/// A number that may be absent.
fn optional(ui: &mut Ui, value: &mut Option<f64>, usual: f64, name: &str) {
    ui.horizontal(|ui| {
        let mut is_there = value.is_some();
        let switch = ui.checkbox(&mut is_there, "");
        if switch
            .accessible_name(format!("{name}, in force"))
            .changed()
        {
            *value = is_there.then_some(usual);
        }
        if let Some(number) = value {
            ui.add(DragValue::new(number).speed(0.05).max_decimals(2))
                .accessible_name(name);
        }
    });
}

/// The canal a line holds for; empty: all.
fn canal(ui: &mut Ui, line: &mut RubricLine, of: &str) {
    let mut name = line.canal.clone().unwrap_or_default();
    let field = TextEdit::singleline(&mut name)
        .hint_text("all")
        .desired_width(50.0);
    let field = ui.add(field).accessible_name(format!("{of}: canal"));
    if field.changed() {
        line.canal = (!name.trim().is_empty()).then_some(name);
    }
}

fn add_line(ui: &mut Ui, rubric: &mut Rubric) {
    ComboBox::from_id_salt("add a line")
        .selected_text("Add a line…")
        .width(220.0)
        .show_ui(ui, |ui| {
            for &measure in Measure::all() {
                let name = format!("{}, {}", measure.words(), measure.unit());
                if ui.selectable_label(false, name).clicked() {
                    rubric.lines.push(RubricLine {
                        measure,
                        at_least: None,
                        at_most: Some(1.0),
                        points: 1.0,
                        partial_over: None,
                        canal: None,
                        required: false,
                        source: "set in the window".to_owned(),
                    });
                }
            }
        })
        .response
        .accessible_name("Add a line");
}
