//! Every student's total, over all films of an exercise set or the one film of
//! a class, and what could not be graded.

use egui::{Align, Label, Layout, RichText, Ui};
use egui_extras::{Column, TableBuilder};

use crate::desktop::ui::icons::{self, Icon};
use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::spoken;
use crate::desktop::ui::wording::counted;
use crate::grading::class::Refused;
use crate::grading::totals::StudentTotal;
use crate::uncertainty::rounding::fixed;

/// Share of the height that the table may take beside refused files.
const TABLE_SHARE: f32 = 0.6;

/// Shows both; `work` is what was graded: "Traces", "Pairs".
pub fn show(ui: &mut Ui, work: &str, students: &[StudentTotal], refused: &[Refused]) {
    let room = ui.available_height();
    let height = match refused.is_empty() {
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
        .columns(Column::auto().at_least(56.0), 6)
        .header(row_height, |mut header| {
            let names = [
                "Student", work, "Passed", "Points", "Percent", "Undone", "Result",
            ];
            for name in names {
                header.col(|ui| {
                    ui.label(RichText::new(name).strong());
                });
            }
        })
        .body(|body| {
            body.rows(row_height, students.len(), |mut line| {
                let student = &students[line.index()];
                line.col(|ui| {
                    let name = ui.add(Label::new(&student.student).truncate());
                    spoken(&name, &words(student, work));
                });
                for value in [
                    student.traces.to_string(),
                    format!("{} of {}", student.passed, student.films),
                    points(student),
                    percent(student),
                    undone(student),
                ] {
                    line.col(|ui| {
                        ui.label(value);
                    });
                }
                line.col(|ui| result(ui, student.has_passed));
            });
        });
    if refused.is_empty() {
        return;
    }
    let alarm = palette::of(ui).alarm;
    ui.add_space(8.0);
    ui.label(RichText::new("Not graded: not readable, on another film, or not handed in").strong());
    egui::ScrollArea::vertical()
        .id_salt("refused of the set")
        .auto_shrink(false)
        .show(ui, |ui| {
            for refused in refused {
                ui.horizontal_wrapped(|ui| {
                    icons::sign(ui, Icon::Square, alarm, refused.status());
                    ui.label(RichText::new(&refused.student).strong());
                    ui.label(refused.reason.text());
                });
            }
        });
}

fn result(ui: &mut Ui, has_passed: Option<bool>) {
    let palette = palette::of(ui);
    let (icon, colour, words) = match has_passed {
        Some(true) => (Icon::Tick, palette.good, "passed"),
        Some(false) => (Icon::Triangle, palette.caution, "not passed"),
        None => (Icon::Dot, palette.quiet_text, "not assessed"),
    };
    icons::sign(ui, icon, colour, words);
    ui.label(RichText::new(words).color(colour));
}

fn points(student: &StudentTotal) -> String {
    format!("{:.0}/{:.0}", student.points, student.points_possible)
}

fn percent(student: &StudentTotal) -> String {
    let percent = student
        .percent
        .map(|percent| format!("{} %", fixed(percent, 0)));
    percent.unwrap_or_default()
}

fn undone(student: &StudentTotal) -> String {
    match student.excused {
        0 => student.undone.to_string(),
        excused => format!("{} ({excused} excused)", student.undone),
    }
}

/// A row as one readable item.
fn words(student: &StudentTotal, work: &str) -> String {
    format!(
        "{}: {}, {} passed, {} points, {}, {} undone",
        student.student,
        counted(student.traces, work.to_lowercase().trim_end_matches('s')),
        student.passed,
        points(student),
        percent(student),
        undone(student)
    )
}
