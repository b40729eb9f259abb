//! The case difficulty assessment of a case: rows that were measured with
//! their probability, rows that were entered, and the class they make
//! together (docs/methods.md 5.12).
//!
//! The entry of the clinician wins over a measurement; what is neither entered
//! nor measured stays open, and an open row can only raise the class.

mod evidence;
mod inclination;
mod measured;
mod opening;
mod words;

use super::assessment_findings::{AssessmentFinding, MeasuredRow, RowFinding};
use super::class_probabilities::ClassProbabilities;
use super::findings::Warning;
use crate::assessment::{
    FORM, FORM_NAME, FormRow, RowKey, Shares, Tally, certain, independent_probabilities, row_of_key,
};
use crate::case::CaseAssessment;
use crate::curvature::DifficultyClass;
pub use evidence::Evidence;
use evidence::{Measured, Spread, probabilities, shares_of};
pub use words::{class_words, share_words};

/// A measured class less likely than this contradicts an entry.
const LEAST_LIKELY: f64 = 0.025;

/// The assessment, and what is odd about its entries.
pub fn assess(evidence: &Evidence) -> (AssessmentFinding, Vec<Warning>) {
    let none = CaseAssessment::default();
    let entered = evidence.case.assessment.as_ref().unwrap_or(&none);
    let mut warnings = entry_warnings(evidence, entered);
    if !entered.rows.contains_key("apex_opening") {
        warnings.extend(opening::unseen_warnings(evidence));
    }
    let mut rows = Vec::with_capacity(FORM.len());
    let mut spreads = Vec::new();
    for row in &FORM {
        let entry = entered.rows.get(row.key).copied();
        let entry = entry.filter(|class| row.criterion(*class).is_some());
        let measured = measured::row(evidence, row.row);
        if let (Some(entry), Some(measured)) = (entry, &measured) {
            warnings.extend(contradiction(row, entry, &measured.finding));
        }
        let (finding, spread) = row_finding(row, entry, measured, evidence);
        rows.push(finding);
        spreads.extend(spread);
    }
    let mut tally = Tally::default();
    rows.iter()
        .filter_map(|row| row.class)
        .for_each(|class| tally.add(class));
    let rows_assessed = rows.iter().filter(|row| row.class.is_some()).count();
    let rows_open = rows.len() - rows_assessed;
    let so_far = (rows_assessed > 0).then(|| tally.class());
    let found = AssessmentFinding {
        form: FORM_NAME,
        class: so_far.filter(|class| rows_open == 0 || *class == DifficultyClass::High),
        so_far,
        probabilities: so_far.and_then(|_| whole_case(&spreads, evidence)),
        rows_assessed,
        rows_open,
        rows,
    };
    (found, warnings)
}

fn row_finding(
    row: &'static FormRow,
    entry: Option<DifficultyClass>,
    measured: Option<Measured>,
    evidence: &Evidence,
) -> (RowFinding, Option<Spread>) {
    let (finding, film) = measured.map_or((None, None), |m| (Some(m.finding), Some(m.spread)));
    let source_of_film = if row.row == RowKey::Position {
        "tooth"
    } else {
        "measured"
    };
    let spread = entry.map(Spread::Certain).or(film);
    let class = entry.or(finding.as_ref().map(|found| found.class));
    let source = match (entry, class) {
        (Some(_), _) => Some("entered"),
        (None, Some(_)) => Some(source_of_film),
        (None, None) => None,
    };
    let found = RowFinding {
        key: row.key,
        group: row.group.code(),
        name: row.name,
        class,
        source,
        probabilities: spread.as_ref().and_then(|spread| spread.shares(evidence)),
        measured: finding,
        limits: row.mark,
    };
    (found, spread)
}

/// How likely each class of the case is: counted over the draws, in which all
/// rows come from the same clicks; by the linear law as of independent rows.
fn whole_case(spreads: &[Spread], evidence: &Evidence) -> Option<ClassProbabilities> {
    let Some(drawn) = evidence.drawn else {
        let shares: Option<Vec<Shares>> = spreads
            .iter()
            .map(|spread| match spread {
                Spread::Certain(class) => Some(certain(*class)),
                Spread::Shares(shares) => *shares,
                Spread::Draws(_) => None,
            })
            .collect();
        return Some(probabilities(independent_probabilities(shares?)));
    };
    let mut counted = [0usize; 3];
    for draw in 0..drawn.draw_count() {
        let mut tally = Tally::default();
        let mut is_complete = true;
        for spread in spreads {
            match spread {
                Spread::Certain(class) => tally.add(*class),
                Spread::Draws(classes) => match classes[draw] {
                    Some(class) => tally.add(class),
                    None => is_complete = false,
                },
                Spread::Shares(_) => return None,
            }
        }
        if is_complete {
            counted[tally.class() as usize] += 1;
        }
    }
    shares_of(counted)
}

fn warning(code: &str, text: String) -> Warning {
    Warning {
        code: code.to_owned(),
        text,
        canal: None,
    }
}

/// Entries that mean nothing.
fn entry_warnings(evidence: &Evidence, entered: &CaseAssessment) -> Vec<Warning> {
    let mut warnings = Vec::new();
    for (key, class) in &entered.rows {
        let row = row_of_key(key);
        if row.is_none_or(|row| row.criterion(*class).is_none()) {
            let text = format!(
                "Case difficulty: \"{key}\": \"{}\" is no row and class of the form and is not \
                 counted; docs/case-format.md lists the rows.",
                class.label()
            );
            warnings.push(warning("assessment_unknown_row", text));
        }
    }
    for name in &entered.neighbour_canals {
        if !evidence.case.canals.iter().any(|canal| canal.name == *name) {
            let text = format!(
                "Case difficulty: the neighbouring tooth's canal \"{name}\" is not in the case: \
                 trace it, or choose another."
            );
            warnings.push(warning("assessment_neighbour_missing", text));
        }
    }
    warnings
}

/// An entry that the film makes unlikely. The entry still holds.
fn contradiction(row: &FormRow, entry: DifficultyClass, measured: &MeasuredRow) -> Option<Warning> {
    let contradicts = match measured.probabilities {
        Some(shares) => shares.of(entry) < LEAST_LIKELY,
        None => measured.class != entry,
    };
    contradicts.then(|| {
        let text = format!(
            "Case difficulty, {}: entered as {}, {} says {}. The entry counts: check which is right.",
            row.name.to_lowercase(),
            entry.label(),
            measured.from,
            share_words(measured.class, measured.probabilities),
        );
        warning("assessment_contradicts_film", text)
    })
}
