//! What the film shows of a case, as findings.

use serde::Serialize;

use crate::film_check::FilmRemark;

/// Codes of what the film check warns of, worst first.
pub const FILM_CHECK_CODES: [&str; 6] = [
    "apical_third_not_shown",
    "unexposed_near_apex",
    "file_near_edge",
    "apex_near_edge",
    "clipped_at_apex",
    "apical_third_weak",
];

/// What the film shows of a case; key `film_check` of the findings.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct FilmCheckFinding {
    /// What hinders most, one line; `null` where nothing was found to.
    pub hinders: Option<String>,
    /// One entry per canal, in case order.
    pub canals: Vec<CanalOnFilm>,
    /// What the film shows of its making.
    pub remarks: Vec<FilmRemark>,
}

/// What the film shows of one canal.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct CanalOnFilm {
    /// The canal's name.
    pub name: String,
    /// Share of its apical third where a dark line stands out from the film's
    /// noise, 0–1; `null` without a trace, or where a file stands there.
    pub apical_third_shown: Option<f64>,
    /// From the apex to the nearest edge of the film, mm at the detector.
    pub apex_to_edge_mm: Option<f64>,
    /// From the apex to the nearest part that no rays reached, mm, within 3 mm.
    pub apex_to_unexposed_mm: Option<f64>,
    /// How much less surely its apical third is placed than elsewhere.
    pub click_factor: f64,
}
