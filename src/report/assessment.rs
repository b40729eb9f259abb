//! The case difficulty assessment in the record, where something was entered
//! for it: a page of its own, so that the record's two pages stay as they are.

use super::measured_case::MeasuredCase;
use super::model::{Block, Section, Table};
use super::numbers::ABSENT;
use crate::assessment::{FORM, FORM_NAME, FormRow, RowGroup};
use crate::measure::assessment::{class_words, share_words};
use crate::measure::assessment_findings::RowFinding;
use crate::measure::capitalised;

/// The section; `None` where nothing was entered.
pub fn section(measured: &MeasuredCase) -> Option<Section> {
    measured.case.assessment.as_ref()?;
    let found = &measured.findings.assessment;
    let so_far = found.so_far?;
    let mut table = Table::of_text(
        format!(
            "{FORM_NAME}, in our own words. One or two moderate rows make a case moderate; three, \
             or one high row, make it high. Each row counts once (our choice). The clinician \
             decides."
        ),
        &["Row", "Class", "That is", "Read from"],
    );
    let of = found.rows_assessed + found.rows_open;
    table.strong_row(vec![
        "Whole case".to_owned(),
        capitalised(&share_words(so_far, found.probabilities)),
        match (found.rows_open, found.class) {
            (0, _) => format!("all {of} rows assessed"),
            (open, Some(_)) => {
                format!("{} of {of} rows assessed, {open} open", found.rows_assessed)
            }
            (open, None) => format!(
                "so far: {} of {of} rows assessed, {open} open; an open row can only raise it",
                found.rows_assessed
            ),
        },
        "The form's rule over the rows below".to_owned(),
    ]);
    for group in RowGroup::ALL {
        let rows = FORM.iter().zip(&found.rows);
        for (row, finding) in rows.filter(|(row, _)| row.group == group) {
            table.row(cells(row, finding));
        }
    }
    Some(Section {
        heading: "Case difficulty".to_owned(),
        blocks: vec![Block::Table(table)],
    })
}

fn cells(row: &FormRow, finding: &RowFinding) -> Vec<String> {
    let or_absent = |words: String| match words.as_str() {
        "" => ABSENT.to_owned(),
        _ => words,
    };
    let criterion = finding.class.and_then(|class| row.criterion(class));
    vec![
        row.name.to_owned(),
        capitalised(&class_words(finding)),
        or_absent(criterion.unwrap_or_default().to_owned()),
        or_absent(capitalised(&finding.source_words())),
    ]
}
