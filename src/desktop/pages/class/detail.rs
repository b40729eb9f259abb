//! The chosen row in words, and what could not be graded.

use egui::{Button, RichText, ScrollArea, Ui};

use super::table::RowOf;
use crate::desktop::ui::icons::{self, Icon};
use crate::desktop::ui::palette;
use crate::grading::class::Refused;
use crate::grading::copies;
use crate::grading::files::ClassGrade;
use crate::grading::grade::{CanalGrade, TraceGrade, Verdict};

/// A button that opens the files of a student; whether it was pressed. Not while
/// numbers stand in place of names: files and their folders bear names, and the
/// page that opens shows them.
pub fn open_button(ui: &mut Ui, words: &str, numbers_for_names: bool) -> bool {
    ui.add_enabled(!numbers_for_names, Button::new(words))
        .on_disabled_hover_text("Its files may name the student: switch Anonymise off first")
        .clicked()
}

/// Shows both; whether the chosen case is to be opened.
pub fn show(
    ui: &mut Ui,
    class: &ClassGrade,
    selected: Option<RowOf>,
    numbers_for_names: bool,
) -> bool {
    let mut opens = false;
    let has_file = match selected {
        Some(RowOf::Canal { .. } | RowOf::Missing { .. }) => true,
        Some(RowOf::Refused { file }) => class.refused.get(file).is_some_and(Refused::is_file),
        None => false,
    };
    if has_file {
        opens = open_button(ui, "Open this case", numbers_for_names);
    }
    ScrollArea::vertical()
        .id_salt("class detail")
        .auto_shrink(false)
        .show(ui, |ui| {
            ui.spacing_mut().interact_size.y = 0.0;
            match selected {
                Some(RowOf::Canal { trace, canal }) => {
                    if let Some(trace) = class.traces.get(trace)
                        && let Some(canal) = trace.canals.get(canal)
                    {
                        of_canal(ui, trace, canal);
                    }
                }
                Some(RowOf::Missing { trace }) => {
                    if let Some(trace) = class.traces.get(trace) {
                        title(ui, &trace.student);
                        let missing = trace.missing_canals.join(", ");
                        ui.label(format!("Not traced: {missing}"));
                    }
                }
                Some(RowOf::Refused { file }) => {
                    if let Some(refused) = class.refused.get(file) {
                        let status = refused.status();
                        title(ui, &format!("{}: {status}", refused.student));
                        ui.label(refused.line());
                    }
                }
                None => {
                    let quiet = palette::of(ui).quiet_text;
                    ui.label(
                        RichText::new("Choose a row to see where along the canal it went wrong")
                            .color(quiet),
                    );
                }
            }
            refused(ui, class);
            warnings(ui, class);
        });
    opens
}

fn title(ui: &mut Ui, text: &str) {
    ui.label(RichText::new(text).heading().strong());
}

fn of_canal(ui: &mut Ui, trace: &TraceGrade, canal: &CanalGrade) {
    title(ui, &format!("{}, canal {}", trace.student, canal.name));
    let palette = palette::of(ui);
    if canal.strays.is_empty() {
        ui.label("Within tolerance throughout");
    }
    for sentence in &canal.strays {
        ui.label(format!("• {sentence}"));
    }
    for line in &canal.lines {
        let (icon, colour) = match line.verdict {
            Verdict::Met => (Icon::Tick, palette.good),
            Verdict::NotMet | Verdict::Missing => (Icon::Triangle, palette.caution),
            Verdict::NotAssessable | Verdict::NotAssessed => (Icon::Dot, palette.quiet_text),
            Verdict::NotApplicable => continue,
        };
        ui.horizontal_wrapped(|ui| {
            icons::sign(ui, icon, colour, line.verdict.key());
            ui.label(&line.sentence);
        });
    }
    let likeness = copies::words(canal);
    for warning in trace
        .warnings
        .iter()
        .chain(&canal.warnings)
        .chain(&likeness)
    {
        ui.label(RichText::new(warning).color(palette.caution));
    }
    if !trace.unmatched_canals.is_empty() {
        let names = trace.unmatched_canals.join(", ");
        ui.label(format!("Not in the reference: {names}"));
    }
}

fn refused(ui: &mut Ui, class: &ClassGrade) {
    if class.refused.is_empty() {
        return;
    }
    ui.add_space(8.0);
    let count = class.refused.len();
    title(ui, &format!("Not graded: {count}"));
    let palette = palette::of(ui);
    for refused in &class.refused {
        ui.horizontal_wrapped(|ui| {
            icons::sign(ui, Icon::Square, palette.alarm, "not graded");
            ui.label(refused.line());
        });
    }
}

fn warnings(ui: &mut Ui, class: &ClassGrade) {
    let caution = palette::of(ui).caution;
    for warning in &class.warnings {
        ui.label(RichText::new(warning.text()).color(caution));
    }
}
