//! Learning over the graded cases: the score of every student case after case,
//! one of them in front, and the share of the class that passes.

use egui::{ComboBox, DragValue, RichText, Ui};
use egui_plot::{HLine, Line, LineStyle, PlotPoints};

use crate::desktop::ui::widgets::spoken;
use crate::desktop::ui::{palette, plots};
use crate::grading::grade::TraceGrade;
use crate::learning::analysis::{Plan, Progress, analyse};
use crate::learning::table::{Case, Results, Series};
use crate::uncertainty::rounding::fixed;

/// What is shown, and by which plan.
#[derive(Default)]
pub struct ProgressTab {
    student: String,
    plan: Plan,
    /// Of the plan and results last analysed.
    known: Option<(Plan, usize, Result<Progress, String>)>,
}

/// The results of every student in the order of the films, attempts of one
/// film in their own order.
pub fn results(films: &[&[TraceGrade]]) -> Results {
    let mut students: Vec<Series> = Vec::new();
    for trace in films.iter().flat_map(|traces| traces.iter()) {
        let Some(passed) = trace.passed else { continue };
        let at = students
            .iter()
            .position(|series| series.student == trace.student);
        let at = at.unwrap_or_else(|| {
            students.push(Series {
                student: trace.student.clone(),
                cases: Vec::new(),
            });
            students.len() - 1
        });
        students[at].cases.push(Case {
            passed,
            error_mm: None,
            group: None,
        });
    }
    students.sort_by(|a, b| a.student.cmp(&b.student));
    Results {
        students,
        has_errors: false,
        remarks: Vec::new(),
    }
}

impl ProgressTab {
    /// Forgets what was analysed: another class is shown.
    pub fn forget(&mut self) {
        self.known = None;
    }

    /// Shows the curves of what `films` came to.
    pub fn show(&mut self, ui: &mut Ui, films: &[&[TraceGrade]]) {
        self.settings(ui);
        let count = films.iter().map(|traces| traces.len()).sum();
        let is_known =
            matches!(&self.known, Some((plan, of, _)) if *plan == self.plan && *of == count);
        if !is_known {
            let found = analyse(&results(films), &self.plan).map_err(|error| error.to_string());
            self.known = Some((self.plan, count, found));
        }
        let Some((_, _, found)) = &self.known else {
            return;
        };
        let quiet = palette::of(ui).quiet_text;
        let progress = match found {
            Ok(progress) if !progress.students.is_empty() => progress,
            Ok(_) => {
                ui.label("No trace could be assessed");
                return;
            }
            Err(problem) => {
                ui.label(problem);
                return;
            }
        };
        if !progress.students.iter().any(|s| s.student == self.student) {
            self.student.clone_from(&progress.students[0].student);
        }
        ComboBox::from_id_salt("student of the curve")
            .selected_text(&self.student)
            .show_ui(ui, |ui| {
                for student in &progress.students {
                    let name = &student.student;
                    ui.selectable_value(&mut self.student, name.clone(), name);
                }
            })
            .response
            .on_hover_text("Whose curve stands in front")
            .accessible_name("Student whose curve stands in front");
        curves(ui, progress, &self.student);
        for words in verdicts(progress, &self.student) {
            let label = ui.label(&words);
            spoken(&label, &words);
        }
        ui.label(RichText::new("The score of a learning-curve CUSUM (Biau & Porcher 2010): a student counts as inadequate until it reaches the barrier.").color(quiet));
    }

    fn settings(&mut self, ui: &mut Ui) {
        let plan = &mut self.plan;
        ui.horizontal_wrapped(|ui| {
            let rate = |value| {
                DragValue::new(value)
                    .speed(0.01)
                    .range(0.01..=0.99)
                    .max_decimals(2)
            };
            ui.label("Failure rate adequate");
            ui.add(rate(&mut plan.adequate))
                .accessible_name("Failure rate of an adequate student");
            ui.label("inadequate");
            ui.add(rate(&mut plan.inadequate))
                .accessible_name("Failure rate of an inadequate student");
            ui.label("barrier");
            ui.add(
                DragValue::new(&mut plan.barrier)
                    .speed(0.05)
                    .range(0.05..=20.0)
                    .max_decimals(2),
            )
            .accessible_name("Barrier");
            ui.label("planned cases");
            ui.add(DragValue::new(&mut plan.cases).range(1..=1000))
                .accessible_name("Planned cases");
        });
    }
}

fn curves(ui: &mut Ui, progress: &Progress, chosen: &str) {
    let palette = palette::of(ui);
    let points = |score: &[f64]| -> PlotPoints<'static> {
        let after = score.iter().enumerate().map(|(i, s)| [(i + 1) as f64, *s]);
        std::iter::once([0.0, 0.0]).chain(after).collect()
    };
    let row = ui.text_style_height(&egui::TextStyle::Body) + ui.spacing().item_spacing.y;
    plots::still("learning curves")
        .height((ui.available_height() - 9.0 * row).max(140.0))
        .x_axis_label("case")
        .y_axis_label("score")
        .include_y(0.0)
        .include_y(1.1 * progress.barrier)
        .show(ui, |plot| {
            for student in progress.students.iter().filter(|s| s.student != chosen) {
                let line = Line::new(student.student.clone(), points(&student.score));
                plot.line(
                    line.color(palette.quiet_text.gamma_multiply(0.4))
                        .width(1.0),
                );
            }
            if let Some(student) = progress.students.iter().find(|s| s.student == chosen) {
                let line = Line::new(student.student.clone(), points(&student.score));
                plot.line(line.color(palette.accent).width(2.5));
            }
            let barrier = HLine::new("barrier", progress.barrier).color(palette.text);
            plot.hline(barrier.style(LineStyle::dashed_loose()));
        });
}

fn verdicts(progress: &Progress, chosen: &str) -> Vec<String> {
    let mut said = Vec::new();
    if let Some(student) = progress.students.iter().find(|s| s.student == chosen) {
        let passes = student.passed.iter().filter(|passed| **passed).count();
        let verdict = match student.competent_at {
            Some(case) => format!("competence shown at case {case}"),
            None => "competence not shown".to_owned(),
        };
        said.push(format!(
            "{chosen}: {passes} of {} passed, {verdict}",
            student.passed.len()
        ));
    }
    let competent = progress
        .students
        .iter()
        .filter(|s| s.competent_at.is_some())
        .count();
    said.push(format!(
        "Of {} students, {competent} have shown competence",
        progress.students.len()
    ));
    if let [first, .., last] = progress.class.as_slice() {
        let share = |point: &crate::learning::analysis::ClassPoint| {
            format!(
                "{} % (95 % CI {} to {})",
                fixed(100.0 * point.pass_rate, 0),
                fixed(100.0 * point.ci95.low, 0),
                fixed(100.0 * point.ci95.high, 0)
            )
        };
        said.push(format!(
            "The class passes {} of first cases, {} of cases number {}",
            share(first),
            share(last),
            last.case
        ));
    }
    said.push(format!(
        "Within {} cases, one who fails {} % is called competent with a probability of {} %, one who fails {} % of {} %",
        progress.false_pass.cases,
        fixed(100.0 * progress.inadequate, 0),
        fixed(100.0 * progress.false_pass.probability, 1),
        fixed(100.0 * progress.adequate, 0),
        fixed(100.0 * progress.true_pass.probability, 1)
    ));
    said
}
