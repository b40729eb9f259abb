//! The open case and that of a second film, in space.

use std::path::Path;

use super::complete_part;
use crate::case::Case;
use crate::desktop::state::open_film::OpenFilm;
use crate::instrumentation::InSpace;
use crate::measure::MeasureSettings;
use crate::two_view::{
    Exposures, OpenCase, PairOnFilms, Side, TwoViewFindings, check_patients, two_view_on_films,
};

/// One of both cases.
#[derive(Clone, Copy)]
pub struct OneSide<'a> {
    pub case: &'a Case,
    pub film: &'a OpenFilm,
    /// For messages.
    pub name: &'a str,
}

/// Refuses films that state different patients.
///
/// # Errors
/// One line in plain words, which names no patient.
pub fn same_patient([a, b]: [OneSide<'_>; 2]) -> Result<(), String> {
    let patients = [a, b].map(|side| side.film.patient.as_deref());
    check_patients(patients, [a.name, b.name]).map_err(|error| error.to_string())
}

/// What the complete parts of two cases say together, and where it shows.
///
/// # Errors
/// One line in plain words, when they cannot be used together.
pub fn two_films(
    [a, b]: [OneSide<'_>; 2],
    exposures: &Exposures,
    settings: &MeasureSettings,
) -> Result<(TwoViewFindings, PairOnFilms), String> {
    same_patient([a, b])?;
    let complete = [a, b].map(|side| complete_part(side.case, &mut Vec::new()));
    let sides = [
        Side {
            case: &complete[0],
            film: &a.film.summary,
            name: a.name,
        },
        Side {
            case: &complete[1],
            film: &b.film.summary,
            name: b.name,
        },
    ];
    let found = two_view_on_films(sides, exposures, settings).map_err(|error| error.to_string())?;
    Ok((found.findings, found.on_films))
}

/// What the second film that a complete case remembers says of the courses of
/// its canals with files.
pub fn courses(
    case: &Case,
    case_path: &Path,
    film: &OpenFilm,
    settings: &MeasureSettings,
) -> InSpace {
    let open = OpenCase {
        case,
        path: case_path,
        film: &film.summary,
        patient: film.patient.as_deref(),
    };
    let with_files = case.canals.iter().filter(|c| !c.shaping_files.is_empty());
    let canals: Vec<&str> = with_files.map(|canal| canal.name.as_str()).collect();
    InSpace::of_remembered(open, &canals, settings)
}
