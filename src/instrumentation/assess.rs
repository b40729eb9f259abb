//! From a measured case and a list of files to findings.

use std::path::Path;

use thiserror::Error;

use super::assembly::Assembly;
use super::axis::CanalAxis;
use super::case_files::in_case;
use super::draws::{self, CanalInput, OUTPUTS};
use super::file_request::FileRequest;
use super::findings::InstrumentFindings;
use super::in_space::InSpace;
use super::nominal::FileError;
use super::words::NOTES;
use crate::case::{Canal, Case};
use crate::film::FilmCache;
use crate::measure::findings::{Findings, Warning};
use crate::measure::{
    self, FilmSummary, InputError, Intervals, MeasureError, MeasureSettings, Model, Precision,
};
use crate::progress::Progress;
use crate::tooth::ToothNumber;
use crate::uncertainty::UncertaintyError;
use crate::uncertainty::monte_carlo::{self};

/// Tips are asked for at most this far from the apex, mm.
const GREATEST_TIP_MM: f64 = 15.0;
/// Levels of the card are this far apart, mm.
const LEVEL_STEPS_MM: (f64, f64) = (0.1, 5.0);
/// Draws while something is dragged.
const LIVE_DRAWS: usize = 512;

/// Why nothing could be said; one clear line.
#[derive(Debug, Error)]
pub enum AssessError {
    /// The case or its film.
    #[error(transparent)]
    Measure(#[from] MeasureError),
    /// What the case says cannot be used.
    #[error(transparent)]
    Input(#[from] InputError),
    /// A file that is none.
    #[error("{place}: {error}")]
    File { place: String, error: FileError },
    /// No files were named.
    #[error(
        "no files: name some with --file, for example --file 25/.06, or list them in the case \
         (shaping_files)"
    )]
    NoFiles,
    /// No canal.
    #[error("no canals: trace one first")]
    NoCanals,
    /// A tip where none can stand.
    #[error("a tip {found} mm from the apex is not possible; give 0 to {GREATEST_TIP_MM} mm")]
    Tip { found: f64 },
    /// Levels that are none.
    #[error(
        "levels every {found} mm are not possible; give {} to {} mm",
        LEVEL_STEPS_MM.0,
        LEVEL_STEPS_MM.1
    )]
    LevelStep { found: f64 },
    /// The intervals cannot be worked out as asked.
    #[error("uncertainty: {0}")]
    Uncertainty(#[from] UncertaintyError),
}

/// What is asked.
#[derive(Clone, Debug, PartialEq)]
pub struct Options {
    /// Files for every canal, in the order of use; empty: each canal's own.
    pub files: Vec<FileRequest>,
    /// Where the tip of a file without step-back stands, from the apex, mm;
    /// `None`: where the working length ends (the canal's allowance).
    pub tip_from_apex_mm: Option<f64>,
    /// Distance of the card's levels, mm.
    pub level_step_mm: f64,
    /// What two films say of canals.
    pub in_space: InSpace,
    /// Settings of `measure`.
    pub settings: MeasureSettings,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            files: Vec::new(),
            tip_from_apex_mm: None,
            level_step_mm: 1.0,
            in_space: InSpace::default(),
            settings: MeasureSettings::default(),
        }
    }
}

/// Findings with what the window draws them from.
#[derive(Clone, Debug)]
pub struct Assessment {
    pub findings: InstrumentFindings,
    /// What the files of each canal are bent along; `None` where that is not
    /// known, or no scale.
    pub axes: Vec<Option<CanalAxis>>,
    /// The same as the film shows it.
    pub film_axes: Vec<Option<CanalAxis>>,
}

/// Reads a case file and its film and assesses its files, in space where the
/// case remembers a second film.
///
/// # Errors
/// [`AssessError`], one clear line.
pub fn assess_file(
    path: &Path,
    films: &FilmCache<FilmSummary>,
    options: &Options,
) -> Result<Assessment, AssessError> {
    let (case, film) = measure::load_measurable(path, films)?;
    let has_files = |canal: &&Canal| !options.files.is_empty() || !canal.shaping_files.is_empty();
    let canals = case.canals.iter().filter(has_files);
    let canals: Vec<&str> = canals.map(|canal| canal.name.as_str()).collect();
    let options = Options {
        in_space: InSpace::of_case_file(path, &case, &film, &canals, &options.settings)?,
        ..options.clone()
    };
    let name = path.display().to_string();
    assess(&case, &film, &name, &options).map_err(|error| match error {
        AssessError::Input(error) => AssessError::Measure(MeasureError::Input {
            path: path.to_owned(),
            error,
        }),
        other => other,
    })
}

/// Assesses files in the canals of a case. `name` is repeated in the findings.
///
/// # Errors
/// [`AssessError`], one clear line.
pub fn assess(
    case: &Case,
    film: &FilmSummary,
    name: &str,
    options: &Options,
) -> Result<Assessment, AssessError> {
    check(options)?;
    let (measured, model) = measure::measure_with_model(case, film, name, &options.settings)?;
    assess_measured(case, &measured, &model, options)
}

/// The same of a case that has been measured.
///
/// # Errors
/// [`AssessError`], one clear line.
pub fn assess_measured(
    case: &Case,
    measured: &Findings,
    model: &Model,
    options: &Options,
) -> Result<Assessment, AssessError> {
    check(options)?;
    if case.canals.is_empty() {
        return Err(AssessError::NoCanals);
    }
    let files = files_of_canals(case, options)?;
    let inputs: Vec<CanalInput> = (0..case.canals.len())
        .map(|canal| {
            let tip_mm = options.tip_from_apex_mm;
            let tip_mm = tip_mm.unwrap_or(model.canals[canal].allowance_mm);
            let walls = case.canals[canal].walls.as_ref();
            let course = options.in_space.course(&case.canals[canal].name);
            CanalInput::new(model, canal, &files[canal], walls, tip_mm, course)
        })
        .collect();
    let values = draws::best(&inputs);
    let draws = match options.settings.precision {
        Precision::ValuesOnly => None,
        Precision::Live => Some(LIVE_DRAWS),
        Precision::Full => Some(options.settings.draws),
    };
    let intervals = match draws {
        None => Intervals::of_values(values),
        Some(draws) => {
            let seed = case.seed;
            let amount = monte_carlo::Sampling { draws, seed };
            draws::intervals(model, &inputs, values, amount, &Progress::unwatched())?
        }
    };

    let mut warnings: Vec<Warning> = measured.warnings_beyond_advice().cloned().collect();
    warnings.extend(options.in_space.warnings());
    let mut canals = Vec::with_capacity(inputs.len());
    let mut first_output = 0;
    for input in &inputs {
        let mut assembly = Assembly {
            case_canal: &case.canals[input.canal],
            measured: &measured.canals[input.canal],
            input,
            intervals: &intervals,
            first_output,
            step_mm: options.level_step_mm,
            warnings: &mut warnings,
        };
        canals.push(assembly.findings());
        first_output += OUTPUTS * input.files.len();
    }
    Ok(Assessment {
        findings: InstrumentFindings {
            case: measured.case.clone(),
            draws: intervals.draws,
            tooth_fdi: case.tooth.as_ref().and_then(|tooth| {
                let number = ToothNumber::parse(tooth.notation, &tooth.number).ok()?;
                Some(number.fdi().to_string())
            }),
            canals,
            notes: NOTES.map(str::to_owned).to_vec(),
            warnings,
        },
        axes: inputs.iter().map(|input| input.axis.clone()).collect(),
        film_axes: inputs.into_iter().map(|input| input.film_axis).collect(),
    })
}

fn check(options: &Options) -> Result<(), AssessError> {
    if let Some(found) = options.tip_from_apex_mm
        && !(0.0..=GREATEST_TIP_MM).contains(&found)
    {
        return Err(AssessError::Tip { found });
    }
    let (least, greatest) = LEVEL_STEPS_MM;
    if !(least..=greatest).contains(&options.level_step_mm) {
        return Err(AssessError::LevelStep {
            found: options.level_step_mm,
        });
    }
    Ok(())
}

fn files_of_canals(case: &Case, options: &Options) -> Result<Vec<Vec<FileRequest>>, AssessError> {
    if !options.files.is_empty() {
        return Ok(vec![options.files.clone(); case.canals.len()]);
    }
    let of_canal = |canal: &Canal| {
        in_case(canal).map_err(|error| AssessError::File {
            place: format!("canal {}: shaping_files", canal.name),
            error,
        })
    };
    let files: Vec<_> = case.canals.iter().map(of_canal).collect::<Result<_, _>>()?;
    if files.iter().all(Vec::is_empty) {
        return Err(AssessError::NoFiles);
    }
    Ok(files)
}
