//! The whole way from two cases to what both films say together.

use std::path::Path;

use super::course::SpaceCourse;
use super::error::TwoViewError;
use super::exposures::Exposures;
use super::findings::TwoViewFindings;
use super::observation::{Observation, Side, names};
use super::pair::{MISMATCH_LIMIT_MM, Pair, views};
use super::search::best_forms;
use super::shared_object::{SharedCalibration, calibrate};
use super::summary::{PairInSpace, finish};
use super::warnings;
use crate::case::{Case, SecondFilm};
use crate::measure::{FilmSummary, MeasureSettings, open_case};
use crate::tooth::ToothNumber;

/// Opens two case files with their films and finds what both say.
///
/// # Errors
/// [`TwoViewError`], one clear line; nothing is written.
pub fn two_view_files(
    paths: [&Path; 2],
    exposures: &Exposures,
    settings: &MeasureSettings,
) -> Result<TwoViewFindings, TwoViewError> {
    exposures.check()?;
    let [a, b] =
        paths.map(|path| Ok::<_, TwoViewError>((open_case(path)?, path.display().to_string())));
    let (((case_a, film_a), name_a), ((case_b, film_b), name_b)) = (a?, b?);
    let patient = |film: &crate::film::OpenedFilm| film.identity.patient();
    let patients = [patient(&film_a), patient(&film_b)];
    check_patients(
        patients.each_ref().map(Option::as_deref),
        [&name_a, &name_b],
    )?;
    let summaries = [&film_a, &film_b].map(FilmSummary::from);
    let sides = [
        Side {
            case: &case_a,
            film: &summaries[0],
            name: &name_a,
        },
        Side {
            case: &case_b,
            film: &summaries[1],
            name: &name_b,
        },
    ];
    two_view(sides, exposures, settings)
}

/// Refuses films that state different patients; names are those of the cases.
///
/// # Errors
/// [`TwoViewError::DifferentPatients`], which repeats no patient's name.
pub fn check_patients(patients: [Option<&str>; 2], [a, b]: [&str; 2]) -> Result<(), TwoViewError> {
    match patients {
        [Some(one), Some(other)] if one.trim() != other.trim() => {
            Err(TwoViewError::DifferentPatients {
                a: a.to_owned(),
                b: b.to_owned(),
            })
        }
        _ => Ok(()),
    }
}

/// The open case of a remembered pair.
#[derive(Clone, Copy, Debug)]
pub struct OpenCase<'a> {
    pub case: &'a Case,
    pub path: &'a Path,
    pub film: &'a FilmSummary,
    /// What its film states of the patient.
    pub patient: Option<&'a str>,
}

/// The second case that an open one remembers, of the same patient.
struct Remembered {
    exposures: Exposures,
    case: Case,
    film: FilmSummary,
    names: [String; 2],
}

impl Remembered {
    fn open(open: OpenCase, second: &SecondFilm) -> Result<Self, TwoViewError> {
        let path = second_case_path(open.path, second);
        let exposures = Exposures::remembered(second);
        exposures.check()?;
        let (case, film) = open_case(&path)?;
        let names = [open.path, &path].map(|path| path.display().to_string());
        let other = film.identity.patient();
        check_patients([open.patient, other.as_deref()], [&names[0], &names[1]])?;
        Ok(Self {
            exposures,
            case,
            film: FilmSummary::from(&film),
            names,
        })
    }

    fn sides<'a>(&'a self, open: OpenCase<'a>) -> [Side<'a>; 2] {
        let [a, b] = &self.names;
        [
            Side {
                case: open.case,
                film: open.film,
                name: a,
            },
            Side {
                case: &self.case,
                film: &self.film,
                name: b,
            },
        ]
    }
}

/// What a case and the second film that it remembers say together; `None`
/// where it remembers none.
pub fn of_remembered(
    open: OpenCase,
    settings: &MeasureSettings,
) -> Option<Result<TwoViewFindings, TwoViewError>> {
    let second = open.case.second_film.as_ref()?;
    let find = || {
        let remembered = Remembered::open(open, second)?;
        two_view(remembered.sides(open), &remembered.exposures, settings)
    };
    Some(find())
}

/// A canal's name, and its course or why there is none.
pub type CourseOfCanal = (String, Result<SpaceCourse, TwoViewError>);

/// The courses of the canals named `canals` that a case and its remembered
/// second film both show.
///
/// # Errors
/// [`TwoViewError`] where the second case cannot be used at all.
pub fn courses_of_remembered(
    open: OpenCase,
    canals: &[&str],
    settings: &MeasureSettings,
) -> Result<Vec<CourseOfCanal>, TwoViewError> {
    let Some(second) = &open.case.second_film else {
        return Ok(Vec::new());
    };
    let remembered = Remembered::open(open, second)?;
    let on_both = |name: &&&str| remembered.case.canals.iter().any(|c| c.name == **name);
    let course = |name: &&str| {
        let exposures = Exposures {
            canal: Some((*name).to_owned()),
            ..remembered.exposures.clone()
        };
        let found = two_view_on_films(remembered.sides(open), &exposures, settings);
        let course = found.and_then(|found| {
            found.course.ok_or_else(|| TwoViewError::NoFit {
                canal: (*name).to_owned(),
            })
        });
        ((*name).to_owned(), course)
    };
    Ok(canals.iter().filter(on_both).map(course).collect())
}

/// Where the second case is: relative paths start at the first one's folder.
pub fn second_case_path(case_path: &Path, second: &SecondFilm) -> std::path::PathBuf {
    case_path
        .parent()
        .unwrap_or(Path::new("."))
        .join(&second.case)
}

/// The path of case B as case A stores it: relative where both lie in one
/// folder, else absolute.
pub fn stored_path(path: &Path, case_a: &Path) -> String {
    let absolute = |p: &Path| std::path::absolute(p).unwrap_or_else(|_| p.to_owned());
    let (b, a) = (absolute(path), absolute(case_a));
    match (b.parent(), a.parent(), b.file_name()) {
        (Some(folder_b), Some(folder_a), Some(name)) if folder_b == folder_a => {
            name.to_string_lossy().into_owned()
        }
        _ => b.to_string_lossy().into_owned(),
    }
}

/// What two films of one canal say together.
///
/// # Errors
/// [`TwoViewError`] for films that cannot be used together.
pub fn two_view(
    sides: [Side; 2],
    exposures: &Exposures,
    settings: &MeasureSettings,
) -> Result<TwoViewFindings, TwoViewError> {
    two_view_on_films(sides, exposures, settings).map(|found| found.findings)
}

/// The same, where places in space show on the films, and the canal's course.
///
/// # Errors
/// As [`two_view`].
pub fn two_view_on_films(
    sides: [Side; 2],
    exposures: &Exposures,
    settings: &MeasureSettings,
) -> Result<PairInSpace, TwoViewError> {
    exposures.check()?;
    check_pair(&sides)?;
    let canal = common_canal(&sides, exposures.canal.as_deref())?;
    let [a, b] = sides.map(|side| Observation::new(&side, &canal, settings));
    let sides_seen = [a?, b?];
    refuse_different_stretches(&canal, &sides_seen)?;

    let (observations, shared) = calibrated(sides_seen, exposures);
    let pair = Pair::new(observations.clone(), exposures, shared);
    let candidates = best_forms(&pair.films);
    let best = candidates.first().ok_or(TwoViewError::NoFit {
        canal: canal.clone(),
    })?;
    let mismatch_mm = pair.mismatch_mm(&best.fitted);

    // The opposite sign, where it explains the heights and this one does not.
    let mut notes = Vec::new();
    if mismatch_mm > MISMATCH_LIMIT_MM {
        let turned = Exposures {
            angle_rad: -exposures.angle_rad,
            ..exposures.clone()
        };
        let other = Pair::new(observations, &turned, shared);
        let found = best_forms(&other.films);
        if let Some(better) = found.first()
            && other.mismatch_mm(&better.fitted) < 0.5 * mismatch_mm
        {
            notes.push(warnings::sign_of_angle(exposures.angle_rad));
            return finish(canal, other, found, &turned, notes, settings);
        }
    }
    notes.extend(warnings::mirrored(
        &pair,
        exposures,
        &best.fitted,
        mismatch_mm,
    ));
    finish(canal, pair, candidates, exposures, notes, settings)
}

fn check_pair(sides: &[Side; 2]) -> Result<(), TwoViewError> {
    let [a, b] = sides;
    let same_film = !a.film.sha256.is_empty() && a.film.sha256 == b.film.sha256;
    if same_film {
        return Err(TwoViewError::SameFilm {
            a: a.name.to_owned(),
            b: b.name.to_owned(),
        });
    }
    let fdi = |side: &Side| {
        let tooth = side.case.tooth.as_ref()?;
        ToothNumber::parse(tooth.notation, &tooth.number)
            .ok()
            .map(ToothNumber::fdi)
    };
    match (fdi(a), fdi(b)) {
        (Some(tooth_a), Some(tooth_b)) if tooth_a != tooth_b => Err(TwoViewError::DifferentTeeth {
            a: a.name.to_owned(),
            b: b.name.to_owned(),
            tooth_a,
            tooth_b,
        }),
        _ => Ok(()),
    }
}

/// The canal asked for, or the first one of case A that case B has too.
fn common_canal(sides: &[Side; 2], asked: Option<&str>) -> Result<String, TwoViewError> {
    let [a, b] = sides;
    let has = |side: &Side, name: &str| side.case.canals.iter().any(|c| c.name == name);
    if let Some(asked) = asked {
        for side in sides {
            if !has(side, asked) {
                return Err(TwoViewError::NoSuchCanal {
                    case: side.name.to_owned(),
                    canal: asked.to_owned(),
                    has: names(side.case),
                });
            }
        }
        return Ok(asked.to_owned());
    }
    let common = a.case.canals.iter().find(|c| has(b, &c.name));
    common
        .map(|c| c.name.clone())
        .ok_or_else(|| TwoViewError::NoCommonCanal {
            a: a.name.to_owned(),
            b: b.name.to_owned(),
            canals_a: names(a.case),
            canals_b: names(b.case),
        })
}

/// Heights that differ by more than 2 mm and by more than 15 % are no longer
/// explained by scales or rays (own limits).
fn refuse_different_stretches(
    canal: &str,
    observations: &[Observation; 2],
) -> Result<(), TwoViewError> {
    let [a, b] = [0, 1].map(|f| observations[f].height_mm());
    let apart = (a - b).abs();
    if apart > 2.0 && apart > 0.15 * a.max(b) {
        return Err(TwoViewError::DifferentStretches {
            canal: canal.to_owned(),
            a: observations[0].name.clone(),
            b: observations[1].name.clone(),
            height_a_mm: a,
            height_b_mm: b,
        });
    }
    Ok(())
}

/// Both sides in the scale of a file that both show, where there is one.
fn calibrated(
    sides: [Observation; 2],
    exposures: &Exposures,
) -> ([Observation; 2], Option<SharedCalibration>) {
    let shared = calibrate(&sides, views(&sides, exposures));
    let Some(found) = shared else {
        return (sides, None);
    };
    let half = found.length_half_width / 3f64.sqrt();
    let u = [0, 1].map(|f| found.clicks.row(f).norm().hypot(half));
    let [a, b] = sides;
    let both = [
        a.rescaled(found.factors[0], u[0]),
        b.rescaled(found.factors[1], u[1]),
    ];
    (both, Some(found))
}
