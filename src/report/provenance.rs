//! What ties a record to its input: names, date, hashes, software.

use std::path::Path;

use crate::case::{self, Case};
use crate::film::{OpenedFilm, hex_digest};
use crate::input_file;
use crate::tooth::ToothNumber;

/// Where a record comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Provenance {
    /// What the case is called: the file's name without its folder, or a label
    /// that names nobody.
    pub case_name: String,
    /// SHA-256 of the case file if it holds this case, else of the case as it
    /// would be saved.
    pub case_sha256: String,
    /// The case file holds exactly this case.
    pub saved: bool,
    /// What the film is called, likewise.
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
    /// Where a case comes from. File names often hold those of patients, so they
    /// are given only `with_file_names`.
    pub fn new(case: &Case, case_path: &Path, film: &OpenedFilm, with_file_names: bool) -> Self {
        let on_disk = input_file::read(case_path, case::MAX_CASE_BYTES)
            .ok()
            .filter(|bytes| case::parse(bytes, case_path).is_ok_and(|saved| saved == *case));
        let saved = on_disk.is_some();
        let bytes = on_disk.unwrap_or_else(|| case::to_json(case).into_bytes());
        let case_sha256 = hex_digest(&bytes);
        let name = |path: &Path, what: &str, sha256: &str| match with_file_names {
            true => file_name(path),
            false => neutral_label(what, sha256),
        };
        Self {
            case_name: name(case_path, "case", &case_sha256),
            film_name: name(&film.path, "film", &film.sha256),
            case_sha256,
            saved,
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

/// Letters of a SHA-256 in a label: enough to tell the films of a practice
/// apart.
const LABEL_LETTERS: usize = 8;

/// A name for a file that says nothing of whose it is: `film 3f2a91c0`.
pub fn neutral_label(what: &str, sha256: &str) -> String {
    let short: String = sha256.chars().take(LABEL_LETTERS).collect();
    format!("{what} {short}")
}

fn file_name(path: &Path) -> String {
    path.file_name()
        .map(|name| name.to_string_lossy().into_owned())
        .unwrap_or_default()
}
