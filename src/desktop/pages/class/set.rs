//! Every student over all films of a practice set, and what belongs to none.

use egui::{Align, Label, Layout, RichText, Ui};
use egui_extras::{Column, TableBuilder};

use crate::desktop::ui::icons::{self, Icon};
use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::spoken;
use crate::desktop::ui::wording::counted;
use crate::practice::{PracticeGrade, StudentTotal};

/// Share of the height that the table may take beside refused files.
const TABLE_SHARE: f32 = 0.6;

/// Shows both.
pub fn show(ui: &mut Ui, set: &PracticeGrade) {
    let room = ui.available_height();
    let height = match set.refused.is_empty() {
        true => room,
        false => TABLE_SHARE * room,
    };
    let row_height = ui.spacing().interact_size.y;
    TableBuilder::new(ui)
        .id_salt("students of the set")
        .striped(true)
        .max_scroll_height(height)
        .auto_shrink([false, true])
        .cell_layout(Layout::left_to_right(Align::Center))
        .column(Column::remainder().clip(true))
        .columns(Column::auto().at_least(70.0), 3)
        .header(row_height, |mut header| {
            for name in ["Student", "Traces", "Passed", "Points"] {
                header.col(|ui| {
                    ui.label(RichText::new(name).strong());
                });
            }
        })
        .body(|body| {
            body.rows(row_height, set.students.len(), |mut line| {
                let student = &set.students[line.index()];
                line.col(|ui| {
                    let name = ui.add(Label::new(&student.student).truncate());
                    spoken(&name, &words(student));
                });
                for value in [
                    student.traces.to_string(),
                    student.passed.to_string(),
                    points(student),
                ] {
                    line.col(|ui| {
                        ui.label(value);
                    });
                }
            });
        });
    if set.refused.is_empty() {
        return;
    }
    let alarm = palette::of(ui).alarm;
    ui.add_space(8.0);
    ui.label(RichText::new("Not graded: of no film of this set, or not readable").strong());
    egui::ScrollArea::vertical()
        .id_salt("refused of the set")
        .auto_shrink(false)
        .show(ui, |ui| {
            for refused in &set.refused {
                ui.horizontal_wrapped(|ui| {
                    icons::sign(ui, Icon::Square, alarm, "not graded");
                    ui.label(&refused.reason);
                });
            }
        });
}

fn points(student: &StudentTotal) -> String {
    format!("{:.0}/{:.0}", student.points, student.points_possible)
}

/// A row as one readable item.
fn words(student: &StudentTotal) -> String {
    format!(
        "{}: {}, {} passed, {} points",
        student.student,
        counted(student.traces, "trace"),
        student.passed,
        points(student)
    )
}
