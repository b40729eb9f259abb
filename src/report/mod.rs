//! Records of one case: PDF, HTML, spreadsheet table, annotated film and DICOM
//! structured report.
//!
//! [`content`] says once what a record holds; [`pdf`] and [`html`] set it.
//! Every picture is one [`drawing::Drawing`], painted by the PDF, the HTML and
//! [`raster`]. Nothing of the patient's identity is written unless
//! [`ExportOptions::include_identity`] asks for it.

mod assessment;
mod budget;
pub mod content;
mod csv;
mod curvature_figures;
mod dicom;
pub mod drawing;
mod escape;
mod film_figure;
pub mod film_part;
mod font;
mod font_file;
mod html;
mod in_space;
mod layout;
mod measured_case;
mod methods;
pub mod model;
pub mod numbers;
mod options;
mod path_on_film;
mod pdf;
mod picture;
mod provenance;
pub mod raster;
pub mod shaping_card;
mod svg;

use std::path::{Path, PathBuf};

use thiserror::Error;

use crate::atomic_file;
use crate::case::Case;
use crate::film::{OpenedFilm, PatientIdentity};
use crate::measure::findings::Findings;
use crate::shaping::Comparison;

use film_figure::Lettering;
use measured_case::MeasuredCase;

pub use font_file::OTHER_LETTERS;
pub use html::page as html_page;
pub use layout::page_count;
pub use options::{Existing, ExportOptions};
pub use pdf::bytes as pdf_bytes;
pub use picture::for_viewing as film_for_viewing;
pub use provenance::{Provenance, neutral_label};

/// Whether the built-in fonts have every letter of a text.
pub fn is_printable(text: &str) -> bool {
    let faces = [false, true].map(font::Face::bold_if);
    faces.iter().all(|face| face.printable(text) == text)
}

/// Why a record was not written. The file that was there before is whole.
#[derive(Debug, Error)]
pub enum ReportError {
    /// The ending names no kind of record.
    #[error("{path}: the ending must be .pdf, .html, .csv, .png or .dcm")]
    UnknownEnding { path: PathBuf },
    /// The ending names no kind of shaping card.
    #[error("{path}: the ending must be .pdf, .html or .csv")]
    NoCardEnding { path: PathBuf },
    /// A file of that name exists.
    #[error(
        "{path}: exists already and is kept; choose another name or ask for it to be replaced (--replace)"
    )]
    Exists { path: PathBuf },
    /// The operating system could not write.
    #[error("{path}: cannot be written: {}; nothing there has changed", atomic_file::reason(.source))]
    Write {
        path: PathBuf,
        source: std::io::Error,
    },
    /// The record cannot be made from this case.
    #[error("{path}: {reason}")]
    Content { path: PathBuf, reason: String },
}

/// Kinds of record, by file ending.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    Pdf,
    Html,
    Csv,
    Picture,
    StructuredReport,
}

impl Kind {
    fn of(path: &Path) -> Option<Self> {
        let ending = path.extension()?.to_str()?.to_ascii_lowercase();
        Some(match ending.as_str() {
            "pdf" => Self::Pdf,
            "html" | "htm" => Self::Html,
            "csv" => Self::Csv,
            "png" => Self::Picture,
            "dcm" => Self::StructuredReport,
            _ => return None,
        })
    }
}

/// Writes the record of one case, its kind named by the ending of `out_path`,
/// and returns every file written (a structured report may need a film beside
/// it).
///
/// # Errors
/// [`ReportError`], one line each; an existing file is then as it was.
pub fn write(
    case: &Case,
    case_path: &Path,
    film: &OpenedFilm,
    findings: &Findings,
    out_path: &Path,
    options: &ExportOptions,
) -> Result<Vec<PathBuf>, ReportError> {
    let kind = Kind::of(out_path).ok_or_else(|| ReportError::UnknownEnding {
        path: out_path.to_owned(),
    })?;
    refuse_existing(out_path, options)?;
    let failed = |reason: String| ReportError::Content {
        path: out_path.to_owned(),
        reason,
    };
    let measured = MeasuredCase::new(case, case_path, film, findings, options);
    let identity = if options.include_identity {
        identity_facts(&film.identity)
    } else {
        Vec::new()
    };
    let record = || content::build(&measured, &identity);
    let bytes = match kind {
        Kind::Csv => csv::bytes(&measured),
        Kind::Picture => {
            let drawing = film_figure::draw(&measured, Lettering::Picture);
            let image = raster::paint(&drawing)
                .ok_or_else(|| failed("the film is empty or too large to draw on".to_owned()))?;
            picture::png_bytes(&image)
        }
        Kind::Html => html::page(&record()).into_bytes(),
        Kind::Pdf => pdf::bytes(&record()).map_err(failed)?,
        Kind::StructuredReport => return write_structured_report(&measured, out_path, options),
    };
    save(out_path, &bytes)?;
    Ok(vec![out_path.to_owned()])
}

/// The DICOM structured report of one case in memory, first the film where the
/// report needs one of its own.
///
/// # Errors
/// Why it cannot be made, one line.
pub fn structured_report(
    case: &Case,
    case_path: &Path,
    film: &OpenedFilm,
    findings: &Findings,
    options: &ExportOptions,
) -> Result<Vec<Vec<u8>>, String> {
    let measured = MeasuredCase::new(case, case_path, film, findings, options);
    let export = dicom::export(&measured, options.include_identity)?;
    Ok(export.film.into_iter().chain([export.report]).collect())
}

/// The DICOM structured report of a comparison before and after shaping; both
/// films must be DICOM films, which it names by their UIDs, with the patient's
/// identity.
///
/// # Errors
/// Why it cannot be made, one line.
pub fn shaping_structured_report(
    comparison: &Comparison,
    case_paths: [&Path; 2],
    films: &[OpenedFilm; 2],
) -> Result<Vec<u8>, String> {
    let options = ExportOptions {
        include_identity: true,
        ..ExportOptions::default()
    };
    let pictures = [&comparison.pair.before, &comparison.pair.after];
    let measured = [0, 1].map(|place| {
        let picture = pictures[place];
        let (case, found) = (&picture.case, &picture.findings);
        MeasuredCase::new(case, case_paths[place], &films[place], found, &options)
    });
    dicom::shaping_report([&measured[0], &measured[1]], &comparison.findings)
}

/// Writes the report and, for a film without a DICOM instance, the film beside
/// it: first, so that no report refers to a film that is not there. It takes
/// the place of the film that a replaced report referred to last of all, so
/// that no failure parts the two.
fn write_structured_report(
    measured: &MeasuredCase,
    out_path: &Path,
    options: &ExportOptions,
) -> Result<Vec<PathBuf>, ReportError> {
    let export = dicom::export(measured, options.include_identity).map_err(|reason| {
        ReportError::Content {
            path: out_path.to_owned(),
            reason,
        }
    })?;
    let Some(film) = export.film else {
        save(out_path, &export.report)?;
        return Ok(vec![out_path.to_owned()]);
    };
    let replaced_film = film_of(out_path);
    let mut film_path = companion_paths(out_path)
        .find(|path| path.symlink_metadata().is_err())
        .expect("some number is free");
    save(&film_path, &film)?;
    save(out_path, &export.report)?;
    if let Some(replaced) = replaced_film
        && std::fs::rename(&film_path, &replaced).is_ok()
    {
        film_path = replaced;
    }
    Ok(vec![out_path.to_owned(), film_path])
}

/// The film beside a report that is there already, if the report refers to it.
fn film_of(report: &Path) -> Option<PathBuf> {
    let instance = dicom::companion::captured_instance(report)?;
    companion_paths(report)
        .take_while(|path| path.symlink_metadata().is_ok())
        .find(|path| dicom::companion::instance(path).as_ref() == Some(&instance))
}

/// Where the film beside `NAME.dcm` may stand: `NAME-film.dcm`, or the same
/// with a number behind it.
fn companion_paths(out_path: &Path) -> impl Iterator<Item = PathBuf> + use<'_> {
    let stem = out_path.file_stem().unwrap_or_default().to_string_lossy();
    let numbers = std::iter::once(String::new()).chain((2_u32..).map(|n| format!("-{n}")));
    numbers.map(move |number| out_path.with_file_name(format!("{stem}-film{number}.dcm")))
}

/// The patient's name, number and birth date as facts of the record.
fn identity_facts(identity: &PatientIdentity) -> Vec<(String, String)> {
    [
        ("Patient", &identity.name),
        ("Patient ID", &identity.id),
        ("Born", &identity.birth_date),
    ]
    .into_iter()
    .filter_map(|(name, value)| Some((name.to_owned(), value.clone()?)))
    .collect()
}

fn refuse_existing(path: &Path, options: &ExportOptions) -> Result<(), ReportError> {
    if options.existing == Existing::Keep && path.symlink_metadata().is_ok() {
        return Err(ReportError::Exists {
            path: path.to_owned(),
        });
    }
    Ok(())
}

fn save(path: &Path, bytes: &[u8]) -> Result<(), ReportError> {
    atomic_file::write(path, bytes).map_err(|source| ReportError::Write {
        path: path.to_owned(),
        source,
    })
}
