//! Courses of canals in space, from a second film that the case remembers.

use std::path::Path;
use std::sync::Arc;

use crate::case::Case;
use crate::measure::findings::Warning;
use crate::measure::{FilmSummary, MeasureError, MeasureSettings, open_case};
use crate::two_view::{OpenCase, SpaceCourse, courses_of_remembered};

/// What two films say of the canals of one case.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct InSpace {
    courses: Vec<Arc<SpaceCourse>>,
    /// Why there is none: of one canal, or of all.
    problems: Vec<(Option<String>, String)>,
}

impl InSpace {
    /// What the films of an open case and the second one that it remembers say
    /// of its canals named `canals`; nothing where it remembers none.
    pub fn of_remembered(open: OpenCase, canals: &[&str], settings: &MeasureSettings) -> Self {
        let mut all = Self::default();
        match courses_of_remembered(open, canals, settings) {
            Ok(found) => {
                for (canal, course) in found {
                    match course {
                        Ok(course) => all.courses.push(Arc::new(course)),
                        Err(error) => all.problems.push((Some(canal), error.to_string())),
                    }
                }
            }
            Err(error) => all.problems.push((None, error.to_string())),
        }
        all
    }

    /// The same of a case file.
    pub(super) fn of_case_file(
        path: &Path,
        case: &Case,
        film: &FilmSummary,
        canals: &[&str],
        settings: &MeasureSettings,
    ) -> Result<Self, MeasureError> {
        if case.second_film.is_none() || canals.is_empty() {
            return Ok(Self::default());
        }
        // Read again for what it states of the patient, which is kept nowhere.
        let (_, opened) = open_case(path)?;
        let patient = opened.identity.patient();
        let open = OpenCase {
            case,
            path,
            film,
            patient: patient.as_deref(),
        };
        Ok(Self::of_remembered(open, canals, settings))
    }

    /// The course of a canal.
    pub(super) fn course(&self, canal: &str) -> Option<&SpaceCourse> {
        let courses = self.courses.iter().map(Arc::as_ref);
        courses.into_iter().find(|c| c.findings.canal == canal)
    }

    /// What is to be looked at: why a course is that of one film, and what the
    /// pair itself warns of.
    pub(super) fn warnings(&self) -> impl Iterator<Item = Warning> {
        let problems = self.problems.iter().map(|(canal, problem)| Warning {
            code: "second_film_unused".to_owned(),
            text: format!("The course is that of this film alone: {problem}"),
            canal: canal.clone(),
        });
        let of_pairs = self.courses.iter().flat_map(|course| {
            let found = &course.findings;
            found.warnings.iter().map(|warning| Warning {
                text: format!("Two films: {}", warning.text),
                canal: Some(found.canal.clone()),
                ..warning.clone()
            })
        });
        problems.chain(of_pairs)
    }
}
