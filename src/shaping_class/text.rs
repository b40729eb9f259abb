//! A graded class in words.

use std::fmt::Write as _;

use super::class::ShapingClass;
use super::grade::CanalGrade;
use crate::cautions;
use crate::one_line::one_line;
use crate::uncertainty::rounding::fixed;

/// The sentences of one canal, each with its points.
pub fn line_words(canal: &CanalGrade) -> Vec<String> {
    canal
        .lines
        .iter()
        .map(|line| match line.verdict.counts() {
            true => format!("{} ({} points)", line.sentence, fixed(line.points, 2)),
            false => line.sentence.clone(),
        })
        .collect()
}

/// The class for a terminal.
pub fn class_text(class: &ShapingClass) -> String {
    let mut out = String::new();
    let _ = writeln!(
        out,
        "{} blocks of {} students, {} students passed (rubric {})",
        class.pairs.len(),
        class.students,
        class.students_passed,
        one_line(&class.rubric.name)
    );
    for pair in &class.pairs {
        let outcome = match pair.passed {
            Some(true) => "passed",
            Some(false) => "not passed",
            None => "open: something required could not be assessed",
        };
        let group = pair
            .group
            .as_ref()
            .map(|g| format!(", group {}", one_line(g)));
        let block = pair.block.as_ref().map(|b| format!(", {}", one_line(b)));
        let _ = writeln!(
            out,
            "\n{}{}{}: {} of {} points, {outcome}",
            one_line(&pair.student),
            group.unwrap_or_default(),
            block.unwrap_or_default(),
            fixed(pair.points, 1),
            fixed(pair.points_possible, 1)
        );
        for canal in &pair.canals {
            let _ = writeln!(out, "  canal {}", one_line(&canal.name));
            for line in line_words(canal) {
                let _ = writeln!(out, "    {line}");
            }
        }
        for warning in &pair.warnings {
            let _ = writeln!(out, "  note: {}", one_line(&warning.text));
        }
    }
    for refused in &class.refused {
        let _ = writeln!(
            out,
            "\n{}: not graded: {}",
            one_line(&refused.student),
            one_line(refused.reason.text())
        );
    }
    if let Some(groups) = &class.groups {
        let [first, second] = groups.groups.each_ref().map(|name| one_line(name));
        let _ = writeln!(
            out,
            "\n{second} less {first}, level by level (95 % for one level; for all levels at once)"
        );
        for level in &groups.levels {
            let _ = writeln!(
                out,
                "  canal {}, {} at {} mm: {} ({} to {}; {} to {})",
                one_line(&level.canal),
                level.quantity,
                fixed(level.from_end_mm, 1),
                fixed(level.difference, 3),
                fixed(level.ci95.low, 3),
                fixed(level.ci95.high, 3),
                fixed(level.ci95_all_levels.low, 3),
                fixed(level.ci95_all_levels.high, 3),
            );
        }
    }
    let _ = writeln!(out, "\n{}", cautions::PURPOSE);
    out
}
