//! Learning curves in words.

use super::analysis::Progress;
use super::compare::{Comparison, Design, Difference};
use crate::uncertainty::rounding::fixed;

/// One line per student, then what the chart is worth.
pub fn text(progress: &Progress, equivalence: Option<f64>) -> String {
    let mut lines = Vec::new();
    for student in &progress.students {
        let cases = student.passed.len();
        let passes = student.passed.iter().filter(|passed| **passed).count();
        let score = student.score.last().copied().unwrap_or(0.0);
        let verdict = match student.competent_at {
            Some(case) => format!("competence shown at case {case}"),
            None => "competence not shown".to_owned(),
        };
        let decline = student.declined_at.map_or(String::new(), |case| {
            format!("; decline shown at case {case}")
        });
        let signed = match (&student.signed, student.signed_competent_at) {
            (None, _) => String::new(),
            (Some(_), Some(case)) => format!("; by signed errors at case {case}"),
            (Some(_), None) => "; not by signed errors".to_owned(),
        };
        lines.push(format!(
            "{}: {passes} of {cases} passed, score {}, {verdict}{signed}{decline}",
            student.student,
            fixed(score, 2)
        ));
    }
    lines.push(format!(
        "A pass adds {}, a failure {}; the barrier {} takes {} passes in a row.",
        fixed(progress.weights.pass, 4),
        fixed(progress.weights.fail, 4),
        fixed(progress.barrier, 2),
        progress.passes_in_a_row
    ));
    for (name, rate, found) in [
        ("inadequate", progress.inadequate, progress.false_pass),
        ("adequate", progress.adequate, progress.true_pass),
    ] {
        lines.push(format!(
            "Within {} cases, one who fails {} % ({name}) is called competent with a probability of {} %.",
            found.cases,
            fixed(100.0 * rate, 0),
            fixed(100.0 * found.probability, 1)
        ));
    }
    if let Some(signed) = &progress.signed {
        lines.push(format!(
            "Signed errors: bias of {} mm is inadequate, standard deviation {} mm{}; one with that bias is called competent within {} cases with a probability of at most {} %.",
            fixed(signed.plan.delta_mm, 2),
            fixed(signed.plan.sd_mm, 3),
            if signed.sd_from_table { " (from the table)" } else { "" },
            signed.false_pass.cases,
            fixed(100.0 * signed.false_pass.probability, 1)
        ));
    }
    if let Some(comparison) = &progress.comparison {
        lines.extend(of_groups(comparison, equivalence));
    }
    lines.extend(
        progress
            .warnings
            .iter()
            .map(|warning| format!("Warning: {}", warning.text)),
    );
    lines.join("\n") + "\n"
}

fn of_groups(comparison: &Comparison, equivalence: Option<f64>) -> Vec<String> {
    let [first, second] = &comparison.groups;
    let [n, m] = comparison.students;
    let design = match comparison.design {
        Design::Paired => format!("{n} students in both"),
        Design::Independent => format!("{n} and {m} students"),
    };
    let mut lines = vec![format!("{second} against {first} ({design}):")];
    let mut add = |name: &str, found: &Option<Difference>, decimals: usize, unit: &str| {
        let Some(found) = found else { return };
        let number = |value: f64| fixed(value, decimals);
        let equivalent = match equivalence {
            None => String::new(),
            Some(margin) if found.is_equivalent(margin) => {
                format!("; equivalent within ± {margin}{unit}")
            }
            Some(margin) => format!("; not shown equivalent within ± {margin}{unit}"),
        };
        lines.push(format!(
            "  {name}: {}{unit} against {}{unit}, difference {}{unit} (95 % CI {} to {}){equivalent}",
            number(found.second_mean),
            number(found.first_mean),
            number(found.difference),
            number(found.ci95.low),
            number(found.ci95.high)
        ));
    };
    add("share passed", &comparison.pass_rate, 3, "");
    add(
        "mean absolute error",
        &comparison.absolute_error_mm,
        3,
        " mm",
    );
    add("mean error", &comparison.error_mm, 3, " mm");
    lines
}
