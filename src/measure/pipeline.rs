//! The whole way from a case file to its findings.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use thiserror::Error;

use super::assemble::{canal_findings, scale_finding};
use super::assessment::{self, Evidence};
use super::budget;
use super::check::check;
use super::class::ClassShares;
use super::film_check;
use super::findings::Findings;
use super::fit_warnings::fit_warnings;
use super::input_error::InputError;
use super::intervals::Intervals;
use super::linear::LinearLaw;
use super::model::Model;
use super::monte_carlo::{draws as draws_of, draws_until_settled};
use super::radii;
use super::scale_warnings::{exposure_warnings, scale_warnings};
use super::settings::{MeasureSettings, Precision};
use super::warnings::{canal_warnings, missing_share_warning, stray_file_warnings};
use crate::calibration::{EarlierScale, TypedScale, film_scales};
use crate::case::{self, Case, CaseError};
use crate::film::{self, FilmCache, FilmError, OpenLimits, OpenedFilm, ScaleFacts};
use crate::film_check::FilmSketch;
use crate::progress::Progress;
use crate::uncertainty::monte_carlo::{self, Draws};

/// Why a case file gives no findings: one clear line.
#[derive(Debug, Error)]
pub enum MeasureError {
    /// The case cannot be read, or its film is missing or changed.
    #[error(transparent)]
    Case(#[from] CaseError),
    /// The film cannot be read.
    #[error(transparent)]
    Film(#[from] Arc<FilmError>),
    /// What the case says cannot be used.
    #[error("{path}: {error}")]
    Input { path: PathBuf, error: InputError },
}

/// A film's facts as far as measuring needs them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct FilmSummary {
    /// Columns.
    pub width_px: u32,
    /// Rows.
    pub height_px: u32,
    /// Every scale fact of the film.
    pub scale: ScaleFacts,
    /// Lower-case hex SHA-256 of the file.
    pub sha256: String,
    /// What the film's check needs of it; `None` where it was not looked at.
    pub sketch: Option<Arc<FilmSketch>>,
}

impl FilmSummary {
    /// The facts alone: what the film shows is not looked at.
    pub fn unchecked(opened: &OpenedFilm) -> Self {
        Self {
            width_px: opened.film.width_px(),
            height_px: opened.film.height_px(),
            scale: opened.scale.clone(),
            sha256: opened.sha256.clone(),
            sketch: None,
        }
    }
}

impl From<&OpenedFilm> for FilmSummary {
    fn from(opened: &OpenedFilm) -> Self {
        Self {
            sketch: Some(Arc::new(FilmSketch::of(&opened.film))),
            ..Self::unchecked(opened)
        }
    }
}

/// Reads a case file and opens the film it names.
///
/// # Errors
/// [`MeasureError`], one clear line; nothing is written.
pub fn open_case(path: &Path) -> Result<(Case, OpenedFilm), MeasureError> {
    let case = case::load(path)?;
    let film_path = case::existing_film_path(&case, path)?;
    let film = film::open(&film_path, &OpenLimits::default()).map_err(Arc::new)?;
    case::check_film_hash(&case, path, &film.sha256)?;
    Ok((case, film))
}

/// Reads a case file and its film and measures.
///
/// # Errors
/// [`MeasureError`], one clear line; nothing is written.
pub fn measure_file(
    path: &Path,
    films: &FilmCache<FilmSummary>,
    settings: &MeasureSettings,
) -> Result<Findings, MeasureError> {
    let (case, film) = load_measurable(path, films)?;
    measure(&case, &film, &path.display().to_string(), settings).map_err(|error| {
        MeasureError::Input {
            path: path.to_owned(),
            error,
        }
    })
}

/// Reads a case file and what measuring needs of its film.
///
/// # Errors
/// [`MeasureError`], one clear line; nothing is written.
pub fn load_measurable(
    path: &Path,
    films: &FilmCache<FilmSummary>,
) -> Result<(Case, Arc<FilmSummary>), MeasureError> {
    let case = case::load(path)?;
    let film_path = case::existing_film_path(&case, path)?;
    let film = films.get(&film_path, |opened| FilmSummary::from(&opened))?;
    case::check_film_hash(&case, path, &film.sha256)?;
    Ok((case, film))
}

/// Measures a case on its film. `name` is repeated in the findings.
///
/// # Errors
/// [`InputError`] for inputs that cannot be used.
pub fn measure(
    case: &Case,
    film: &FilmSummary,
    name: &str,
    settings: &MeasureSettings,
) -> Result<Findings, InputError> {
    measure_with_model(case, film, name, settings).map(|(findings, _)| findings)
}

/// Like [`measure`], and the model the findings were read from, for drawing.
///
/// # Errors
/// [`InputError`] for inputs that cannot be used.
pub fn measure_with_model(
    case: &Case,
    film: &FilmSummary,
    name: &str,
    settings: &MeasureSettings,
) -> Result<(Findings, Model), InputError> {
    check(case, film.width_px, film.height_px)?;
    let film_scales = film_scales(&film.scale, &typed_scale(case));
    let mut model = Model::new(case, film_scales.first(), settings);
    let (film_check, film_warnings) = film
        .sketch
        .as_deref()
        .map(|sketch| {
            let size_px = [film.width_px, film.height_px];
            let scale = model.detector_mm_per_px();
            film_check::look(case, sketch, size_px, scale, &mut model)
        })
        .unzip();
    let law = match settings.precision {
        Precision::ValuesOnly => LinearLaw::values_only(&model),
        Precision::Live | Precision::Full => LinearLaw::of(&model, &model.input_set()?),
    };
    let (intervals, drawn) = intervals(&model, &law, case.seed, settings)?;

    let scale = scale_finding(&model, &intervals, film_scales.first());
    let mut warnings = scale_warnings(&model, &scale, &film_scales, settings);
    warnings.extend(stray_file_warnings(case));
    let mut canals = Vec::with_capacity(case.canals.len());
    for (index, canal) in case.canals.iter().enumerate() {
        let curvature = model.curvature(index);
        let mut found = canal_findings(
            &model,
            &intervals,
            index,
            canal,
            curvature.as_ref().ok(),
            class_shares(&intervals, drawn.as_ref(), index, settings),
            settings,
        );
        let unresolved = curvature
            .as_ref()
            .map(|curvature| radii::withhold_unresolved(&model, index, curvature, &mut found));
        found.budget = budget::of_canal(&model, &law, index, &found);
        warnings.extend(canal_warnings(
            &model, index, case, &found, &curvature, settings,
        ));
        warnings.extend(fit_warnings(&model, index));
        warnings.extend(unresolved.into_iter().flatten());
        warnings.extend(missing_share_warning(&intervals, index, &found, settings));
        canals.push(found);
    }
    warnings.extend(exposure_warnings(
        &model,
        case,
        film_scales.first(),
        &canals,
        settings,
    ));
    let (assessment, odd) = assessment::assess(&Evidence {
        model: &model,
        case,
        canals: &canals,
        intervals: &intervals,
        drawn: drawn.as_ref(),
        settings,
    });
    warnings.extend(odd);
    warnings.extend(film_warnings.into_iter().flatten());
    let findings = Findings {
        case: name.to_owned(),
        draws: intervals.draws,
        scale,
        canals,
        assessment,
        film_check,
        warnings,
    };
    Ok((findings, model))
}

/// Value and interval of every output, as precise as the settings ask.
fn intervals(
    model: &Model,
    law: &LinearLaw,
    seed: u64,
    settings: &MeasureSettings,
) -> Result<(Intervals, Option<Draws>), InputError> {
    match settings.precision {
        Precision::ValuesOnly => Ok((Intervals::of_values(law.values.clone()), None)),
        Precision::Live => Ok((law.intervals(), None)),
        Precision::Full => {
            let draws = settings.draws;
            let amount = monte_carlo::Sampling { draws, seed };
            let progress = Progress::unwatched();
            let drawn = if settings.stop_when_settled {
                draws_until_settled(model, &law.values, amount, &progress)?
            } else {
                draws_of(model, amount, &progress)?
            };
            let intervals = Intervals::from_draws(law.values.clone(), &drawn);
            Ok((intervals, Some(drawn)))
        }
    }
}

/// How likely each class of a canal is, where its uncertainty was asked for.
fn class_shares(
    intervals: &Intervals,
    drawn: Option<&Draws>,
    canal: usize,
    settings: &MeasureSettings,
) -> Option<ClassShares> {
    let least_turn_rad = settings.s_shape_least_turn_rad;
    match (settings.precision, drawn) {
        (Precision::ValuesOnly, _) => None,
        (_, Some(drawn)) => ClassShares::of_draws(drawn, canal, least_turn_rad),
        (_, None) => ClassShares::of_law(intervals, canal, least_turn_rad),
    }
}

/// What the case says about the exposure.
pub fn typed_scale(case: &Case) -> TypedScale {
    let earlier = case.scale.earlier_film.as_ref();
    TypedScale {
        equipment: case.film.equipment.clone(),
        pitch_mm: case.film.pixel_pitch_mm,
        magnification: case.film.magnification,
        source_to_detector_mm: case.film.source_to_detector_mm,
        source_to_tooth_mm: case.film.source_to_tooth_mm,
        earlier: earlier.map(|earlier| EarlierScale {
            mm_per_px: earlier.mm_per_px,
            u_mm_per_px: earlier.u_mm_per_px,
            basis: earlier.basis.clone(),
        }),
    }
}
