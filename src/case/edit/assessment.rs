//! Entries of the case difficulty assessment.

use crate::case::{Case, CaseAssessment};
use crate::curvature::DifficultyClass;

/// Enters the class of a row, or leaves the row to what is measured.
pub fn assess_row(case: &mut Case, key: &str, class: Option<DifficultyClass>) {
    change_assessment(case, |assessment| match class {
        Some(class) => {
            assessment.rows.insert(key.to_owned(), class);
        }
        None => {
            assessment.rows.remove(key);
        }
    });
}

/// Says whether a canal belongs to the neighbouring tooth.
pub fn set_neighbour(case: &mut Case, canal: usize, is_neighbour: bool) {
    let Some(name) = case.canals.get(canal).map(|canal| canal.name.clone()) else {
        return;
    };
    change_assessment(case, |assessment| {
        assessment.neighbour_canals.retain(|other| *other != name);
        if is_neighbour {
            assessment.neighbour_canals.push(name);
        }
    });
}

/// Changes the entries; a case without any has none.
pub(super) fn change_assessment(case: &mut Case, change: impl FnOnce(&mut CaseAssessment)) {
    let mut assessment = case.assessment.take().unwrap_or_default();
    change(&mut assessment);
    case.assessment = (!assessment.is_empty()).then_some(assessment);
}
