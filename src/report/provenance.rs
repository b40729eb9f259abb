//! What ties a record to its input: names, date, hashes, software.

use std::path::Path;

use crate::case::{self, Case};
use crate::film::{OpenedFilm, hex_digest};
use crate::tooth::ToothNumber;

/// Where a record comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Provenance {
    /// File name of the case, without its folder.
    pub case_name: String,
    /// SHA-256 of the case file if it holds this case, else of the case as it
    /// would be saved.
    pub case_sha256: String,
    /// The case file holds exactly this case.
    pub saved: bool,
    /// File name of the film, without its folder.
    pub film_name: String,
    /// SHA-256 of the film file.
    pub film_sha256: String,
    /// Date of exposure, ISO 8601.
    pub film_date: Option<String>,
    /// ISO 3950 number.
    pub tooth_fdi: Option<String>,
    /// Program and version.
    pub software: String,
}

impl Provenance {
    /// Where a case comes from.
    pub fn new(case: &Case, case_path: &Path, film: &OpenedFilm) -> Self {
        let on_disk = std::fs::read(case_path)
            .ok()
            .filter(|bytes| case::parse(bytes, case_path).is_ok_and(|saved| saved == *case));
        let saved = on_disk.is_some();
        let bytes = on_disk.unwrap_or_else(|| case::to_json(case).into_bytes());
        Self {
            case_name: file_name(case_path),
            case_sha256: hex_digest(&bytes),
            saved,
            film_name: file_name(&film.path),
            film_sha256: film.sha256.clone(),
            film_date: case
                .film
                .date
                .clone()
                .or_else(|| film.facts.acquisition_date.clone()),
            tooth_fdi: case.tooth.as_ref().and_then(|tooth| {
                ToothNumber::parse(tooth.notation, &tooth.number)
                    .ok()
                    .map(|number| number.fdi().to_string())
            }),
            software: format!("Lengthfilm {}", env!("CARGO_PKG_VERSION")),
        }
    }
}

fn file_name(path: &Path) -> String {
    path.file_name()
        .map(|name| name.to_string_lossy().into_owned())
        .unwrap_or_default()
}
