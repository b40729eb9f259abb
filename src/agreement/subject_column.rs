//! Which column of a table names the subjects.

use std::collections::BTreeSet;

use super::rows::Row;
use crate::spreadsheet::parse_number;

/// Headings that say a column names the subjects; common practice, no source.
const SUBJECT_HEADINGS: [&str; 28] = [
    "",
    "#",
    "canal",
    "case",
    "fdi",
    "film",
    "id",
    "image",
    "index",
    "item",
    "label",
    "name",
    "no",
    "nr",
    "number",
    "object",
    "participant",
    "patient",
    "radiograph",
    "row",
    "sample",
    "specimen",
    "student",
    "subject",
    "target",
    "tooth",
    "trace",
    "unit",
];

/// FDI numbers of teeth, most of them different: names of subjects, not
/// ratings, beside numbers that are something else.
fn are_tooth_numbers(cells: &[&str], others: &[Option<f64>]) -> bool {
    let is_tooth = |cell: &&str| {
        cell.parse::<u8>().is_ok_and(|number| {
            let (quadrant, position) = (number / 10, number % 10);
            let last = if quadrant > 4 { 5 } else { 8 };
            (1..=8).contains(&quadrant) && (1..=last).contains(&position)
        })
    };
    let different: BTreeSet<&&str> = cells.iter().collect();
    let are_measured = others.iter().flatten().any(|value| value.fract() != 0.0)
        || others.iter().all(Option::is_none);
    cells.iter().all(is_tooth) && 2 * different.len() > cells.len() && are_measured
}

/// Decides whether the first column names the subjects: by its heading, or
/// because its cells are names where the other cells are something else.
pub(super) fn first_column_names_subjects(
    headings: &[String],
    rows: &[Row],
    decimal_comma: bool,
    remarks: &mut Vec<String>,
) -> bool {
    let heading = headings[0].to_lowercase();
    let first_word = heading
        .split(|c: char| !c.is_alphanumeric() && c != '#')
        .next()
        .unwrap_or("");
    let known = |word: &str| SUBJECT_HEADINGS.contains(&word);
    if known(&heading) || known(first_word) || known(first_word.trim_end_matches('s')) {
        return true;
    }
    if headings.len() < 2 {
        return false;
    }
    let number = |cell: &str| parse_number(cell, decimal_comma);
    let first_is_text = rows.iter().all(|row| number(&row.cells[0]).is_none());
    let mut others = rows.iter().flat_map(|row| &row.cells[1..]);
    if first_is_text && others.clone().any(|cell| number(cell).is_some()) {
        return true;
    }
    let firsts: BTreeSet<&str> = rows.iter().map(|row| row.cells[0].as_str()).collect();
    if first_is_text {
        return rows.len() > 2
            && firsts.len() == rows.len()
            && others.all(|cell| !firsts.contains(cell.as_str()));
    }
    let first_cells: Vec<&str> = rows.iter().map(|row| row.cells[0].as_str()).collect();
    let other_numbers: Vec<Option<f64>> = others.map(|cell| number(cell)).collect();
    if are_tooth_numbers(&first_cells, &other_numbers) {
        remarks.push(format!(
            "column \"{}\" holds tooth numbers and was read as the subjects",
            headings[0]
        ));
        return true;
    }
    let counts_up = rows
        .iter()
        .enumerate()
        .all(|(i, row)| number(&row.cells[0]) == Some((i + 1) as f64));
    if counts_up {
        remarks.push(format!(
            "column \"{}\" counts 1 to {} and was read as a rater; if it numbers the subjects, head it \"subject\" or name it as the subject column",
            headings[0],
            rows.len()
        ));
    }
    false
}
