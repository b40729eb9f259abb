//! Agreement within the class, and what most of it got wrong.

use egui::{Grid, RichText, ScrollArea, Ui};

use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::spoken;
use crate::grading::class::{ClassStatistics, Statistic};
use crate::grading::files::ClassGrade;
use crate::grading::statistics::LengthIcc;

/// Shows the numbers.
pub fn show(ui: &mut Ui, class: &ClassGrade) {
    ScrollArea::vertical()
        .id_salt("class numbers")
        .auto_shrink(false)
        .show(ui, |ui| {
            let found = &class.class;
            most_got_wrong(ui, found);
            lines(ui, class);
            lengths(ui, found);
            twice(ui, found);
            let note = "Bands such as “good” or “excellent” are conventions and are not shown.";
            ui.add_space(8.0);
            ui.label(RichText::new(note).color(palette::of(ui).quiet_text));
        });
}

fn heading(ui: &mut Ui, text: &str) {
    ui.add_space(8.0);
    ui.label(RichText::new(text).heading().strong());
}

fn most_got_wrong(ui: &mut Ui, found: &ClassStatistics) {
    heading(ui, "What most of the class got wrong");
    if found.most_got_wrong.is_empty() {
        ui.label("Nothing: no limit was missed by more than half");
    }
    for sentence in &found.most_got_wrong {
        ui.label(format!("• {sentence}"));
    }
}

/// A row of values under a named first column.
fn row(ui: &mut Ui, name: &str, values: &[String]) {
    let label = ui.label(name);
    spoken(&label, &format!("{name}: {}", values.join(", ")));
    for value in values {
        ui.label(value);
    }
    ui.end_row();
}

fn head(ui: &mut Ui, names: &[&str]) {
    for name in names {
        ui.label(RichText::new(*name).color(palette::of(ui).quiet_text));
    }
    ui.end_row();
}

fn lines(ui: &mut Ui, class: &ClassGrade) {
    heading(ui, "Limits of the rubric");
    let several = class.reference.canals.len() > 1;
    let table = |ui: &mut Ui| {
        head(ui, &["", "met", "not met", "not assessed"]);
        for line in &class.class.lines {
            let name = if several {
                format!("{}: {}", line.canal, line.measure.words())
            } else {
                line.measure.words().to_owned()
            };
            let counts = [line.met, line.not_met, line.not_assessed];
            row(ui, &name, &counts.map(|count| count.to_string()));
        }
    };
    // Scrolled by itself: a wide table shall not push the sentences off the
    // page.
    ScrollArea::horizontal()
        .id_salt("limits of the rubric")
        .show(ui, |ui| {
            Grid::new("class lines")
                .spacing([10.0, 4.0])
                .show(ui, table);
        });
}

/// A statistic in rows, or why it cannot be had.
fn statistic<T>(ui: &mut Ui, name: &str, statistic: &Statistic<T>, show: impl FnOnce(&mut Ui, &T)) {
    match statistic {
        Statistic::Known(known) => show(ui, known),
        Statistic::Refused { refused } => {
            let words = format!("{name}: not available: {refused}");
            ui.label(RichText::new(words).color(palette::of(ui).quiet_text));
        }
    }
}

fn lengths(ui: &mut Ui, found: &ClassStatistics) {
    let unit = found.length_unit;
    heading(ui, "Lengths, student against reference");
    statistic(ui, "Dahlberg's error", &found.length_dahlberg, |ui, d| {
        let p = match d.p {
            None => "not defined".to_owned(),
            Some(p) if p < 0.001 => "p < 0.001".to_owned(),
            Some(p) => format!("p = {p:.3}"),
        };
        let without = d
            .error_without_bias
            .map_or("–".to_owned(), |e| format!("{e:.3}"));
        let words = format!(
            "Dahlberg's error {:.3} {unit}; without bias {without} {unit}; paired t-test of the bias: {p}; {} pairs",
            d.error, d.pairs
        );
        ui.label(words);
    });
    heading(ui, "Lengths, students among themselves (canals × students)");
    statistic(ui, "Intraclass correlation", &found.length_icc, icc);
}

fn icc(ui: &mut Ui, found: &LengthIcc) {
    let set = &found.icc;
    let left_out = match found.students_left_out {
        0 => String::new(),
        some => format!("; {some} left out who did not trace every canal"),
    };
    ui.label(format!(
        "{} canals × {} students who traced every canal{left_out}",
        found.canals, found.students
    ));
    Grid::new("class icc").spacing([18.0, 4.0]).show(ui, |ui| {
        head(ui, &["", "ICC", "95 % confidence interval"]);
        for (name, one) in [
            ("ICC(1,1)", &set.icc_1_1),
            ("ICC(2,1)", &set.icc_2_1),
            ("ICC(3,1)", &set.icc_3_1),
        ] {
            let interval = format!("{:.3} to {:.3}", one.ci95.low, one.ci95.high);
            row(ui, name, &[format!("{:.3}", one.value), interval]);
        }
        for (name, one) in [
            ("ICC(1,k), average", &set.icc_1_k),
            ("ICC(2,k), average", &set.icc_2_k),
            ("ICC(3,k), average", &set.icc_3_k),
        ] {
            let values = match one {
                Some(one) => [
                    format!("{:.3}", one.value),
                    format!("{:.3} to {:.3}", one.ci95.low, one.ci95.high),
                ],
                None => ["not defined".to_owned(), String::new()],
            };
            row(ui, name, &values);
        }
    });
}

fn twice(ui: &mut Ui, found: &ClassStatistics) {
    let unit = found.length_unit;
    heading(ui, "Repeat tracings");
    statistic(ui, "Repeatability", &found.length_repeatability, |ui, r| {
        let words = format!(
            "Length: within-subject standard deviation {:.3} {unit}; two tracings of one student differ by less than {:.2} {unit} in 95 % of cases; {} pairs",
            r.within_subject_sd, r.repeatability_coefficient, r.subjects
        );
        ui.label(words);
    });
    statistic(
        ui,
        "Cohen's κ of the verdicts",
        &found.verdict_kappa,
        |ui, k| {
            let interval = k
                .ci95
                .map_or("no 95 % CI: too few verdicts".to_owned(), |ci95| {
                    format!("95 % CI {:.3} to {:.3}", ci95.low, ci95.high)
                });
            let words = format!(
                "Cohen's κ of the verdicts {:.3} ({interval}); observed agreement {:.1} %, by chance {:.1} %; {} verdicts",
                k.kappa,
                100.0 * k.observed_agreement,
                100.0 * k.expected_agreement,
                k.subjects
            );
            ui.label(words);
        },
    );
}
