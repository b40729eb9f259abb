//! Everything a record is made from, prepared once.

use std::path::Path;

use super::options::ExportOptions;
use super::provenance::Provenance;
use crate::calibration::film_scales;
use crate::case::Case;
use crate::film::OpenedFilm;
use crate::measure::findings::Findings;
use crate::measure::{FilmSummary, Model, typed_scale};
use crate::two_view::{self, TwoViewFindings};

/// One measured case.
pub struct MeasuredCase<'a> {
    pub case: &'a Case,
    pub film: &'a OpenedFilm,
    pub findings: &'a Findings,
    /// The model behind the findings: frames, fitted paths, constructions.
    pub model: Model,
    pub provenance: Provenance,
    /// What the case and its second film say together, or why they say
    /// nothing; `None` where it remembers no second film.
    pub two_view: Option<Result<TwoViewFindings, String>>,
}

impl<'a> MeasuredCase<'a> {
    /// A case and what was found in it under the settings of `options`.
    pub fn new(
        case: &'a Case,
        case_path: &Path,
        film: &'a OpenedFilm,
        findings: &'a Findings,
        options: &ExportOptions,
    ) -> Self {
        let settings = &options.settings;
        let scales = film_scales(&film.scale, &typed_scale(case));
        let model = Model::new(case, scales.first(), settings);
        let patient = film.identity.patient();
        let open = two_view::OpenCase {
            case,
            path: case_path,
            film: &FilmSummary::from(film),
            patient: patient.as_deref(),
        };
        Self {
            model,
            provenance: Provenance::new(case, case_path, film, options.include_file_names),
            two_view: two_view::of_remembered(open, settings).map(|found| {
                found.map_err(|error| match options.include_file_names {
                    true => error.to_string(),
                    false => without_paths(&error.to_string(), case_path),
                })
            }),
            case,
            film,
            findings,
        }
    }

    /// What two films say of a canal.
    pub fn in_space(&self, canal: &str) -> Option<&TwoViewFindings> {
        let found = self.two_view.as_ref()?.as_ref().ok()?;
        (found.canal == canal).then_some(found)
    }

    /// Detector units per true mm; `None` without a scale.
    pub fn detector_per_mm(&self) -> Option<f64> {
        let mm_per_px = self.findings.scale.mm_per_px?;
        Some(self.model.frame.mean_pitch() / mm_per_px)
    }
}

/// A message about the files of a case without where they are: everything up
/// to the colon that ends the path it begins with.
fn without_paths(message: &str, case_path: &Path) -> String {
    let folder = case_path.parent().unwrap_or(Path::new(""));
    let begins_with_path = message.starts_with(&*folder.to_string_lossy()) || message.contains('/');
    match message.split_once(": ") {
        Some((_, rest)) if begins_with_path => rest.to_owned(),
        _ => message.to_owned(),
    }
}
