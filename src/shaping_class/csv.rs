//! The class as a table: one row per canal and line of the rubric.

use super::class::ShapingClass;
use crate::grading::rubric_line::Judged;
use crate::spreadsheet::{Dialect, inert};

/// The table as bytes; refused pairs have a row with the reason.
pub fn csv(class: &ShapingClass, dialect: Dialect) -> Vec<u8> {
    let header = [
        "student",
        "group",
        "before",
        "after",
        "canal",
        "passed",
        "points",
        "points_possible",
        "measure",
        "value",
        "u95",
        "verdict",
        "line_points",
        "remark",
        "block",
    ];
    let mut rows = vec![header.map(str::to_owned).to_vec()];
    let number = |value: f64| dialect.number(value);
    let passed = |verdict: Option<bool>| match verdict {
        Some(true) => "yes",
        Some(false) => "no",
        None => "open",
    };
    for pair in &class.pairs {
        for canal in &pair.canals {
            for line in &canal.lines {
                rows.push(vec![
                    inert(&pair.student),
                    inert(pair.group.as_deref().unwrap_or("")),
                    inert(&pair.before),
                    inert(&pair.after),
                    inert(&canal.name),
                    passed(canal.passed).to_owned(),
                    number(canal.points),
                    number(canal.points_possible),
                    line.measure.key().to_owned(),
                    line.value.map(number).unwrap_or_default(),
                    line.u95.map(number).unwrap_or_default(),
                    line.verdict.key().to_owned(),
                    number(line.points),
                    String::new(),
                    inert(pair.block.as_deref().unwrap_or("")),
                ]);
            }
        }
    }
    for refused in &class.refused {
        let mut row = vec![String::new(); header.len()];
        row[0] = inert(&refused.student);
        row[1] = inert(refused.group.as_deref().unwrap_or(""));
        row[3] = inert(&refused.after);
        row[5] = "refused".to_owned();
        row[13] = inert(refused.reason.text());
        rows.push(row);
    }
    dialect.bytes(rows)
}
