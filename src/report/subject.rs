//! Everything a record is made from, prepared once.

use std::path::Path;

use super::trace::CaseTrace;
use crate::calibration::film_scales;
use crate::case::Case;
use crate::film::OpenedFilm;
use crate::measure::findings::Findings;
use crate::measure::{Model, Settings, typed_scale};

/// One measured case.
pub struct Subject<'a> {
    pub case: &'a Case,
    pub film: &'a OpenedFilm,
    pub findings: &'a Findings,
    /// The model behind the findings: frames, fitted paths, constructions.
    pub model: Model,
    pub trace: CaseTrace,
}

impl<'a> Subject<'a> {
    /// A case and what was found in it under `settings`.
    pub fn new(
        case: &'a Case,
        case_path: &Path,
        film: &'a OpenedFilm,
        findings: &'a Findings,
        settings: &Settings,
    ) -> Self {
        let scales = film_scales(&film.scale, &typed_scale(case));
        let model = Model::new(case, scales.first(), settings);
        Self {
            model,
            trace: CaseTrace::new(case, case_path, film),
            case,
            film,
            findings,
        }
    }

    /// Detector units per true mm; `None` without a scale.
    pub fn detector_per_mm(&self) -> Option<f64> {
        let mm_per_px = self.findings.scale.mm_per_px?;
        Some(self.model.frame.mean_pitch() / mm_per_px)
    }
}
