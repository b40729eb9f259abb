//! The whole way from two cases to what both films say together.

use std::path::Path;

use super::error::TwoViewError;
use super::exposures::Exposures;
use super::findings::TwoViewFindings;
use super::observation::{Observation, Side, names};
use super::on_films::PairOnFilms;
use super::pair::{MISMATCH_LIMIT_MM, Pair, views};
use super::search::best_forms;
use super::shared_object::{SAME_LENGTH_MM, SharedCalibration, calibrate};
use super::summary::finish;
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

/// What a case and the second film that it remembers say together; `None`
/// where it remembers none.
pub fn of_remembered(
    case: &Case,
    case_path: &Path,
    film: &crate::film::OpenedFilm,
    settings: &MeasureSettings,
) -> Option<Result<TwoViewFindings, TwoViewError>> {
    let second = case.second_film.as_ref()?;
    let path = second_case_path(case_path, second);
    let find = || {
        let exposures = Exposures::remembered(second);
        exposures.check()?;
        let (case_b, film_b) = open_case(&path)?;
        let (a, b) = (case_path.display().to_string(), path.display().to_string());
        let patients = [film, &film_b].map(|film| film.identity.patient());
        check_patients(patients.each_ref().map(Option::as_deref), [&a, &b])?;
        let summaries = [film, &film_b].map(FilmSummary::from);
        let sides = [
            Side {
                case,
                film: &summaries[0],
                name: &a,
            },
            Side {
                case: &case_b,
                film: &summaries[1],
                name: &b,
            },
        ];
        two_view(sides, &exposures, settings)
    };
    Some(find())
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
    two_view_on_films(sides, exposures, settings).map(|(findings, _)| findings)
}

/// The same, and where places in space show on the films.
///
/// # Errors
/// As [`two_view`].
pub fn two_view_on_films(
    sides: [Side; 2],
    exposures: &Exposures,
    settings: &MeasureSettings,
) -> Result<(TwoViewFindings, PairOnFilms), TwoViewError> {
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
    let shared = match (&sides[0].file, &sides[1].file) {
        (Some(a), Some(b)) if (a.true_length_mm - b.true_length_mm).abs() <= SAME_LENGTH_MM => {
            calibrate([a, b], views(&sides, exposures))
        }
        _ => None,
    };
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
