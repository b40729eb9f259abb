//! Records of a case, saved beside the window.

use std::path::{Path, PathBuf};

use super::file_chooser::{ALL_FILES, FileKind, with_ending};
use super::open_film::OpenFilm;
use super::reading::complete_findings;
use crate::atomic_file;
use crate::case::Case;
use crate::film::{self, Film, OpenLimits, OpenedFilm};
use crate::input_file;
use crate::measure::findings::Findings;
use crate::measure::{MeasureSettings, Precision};
use crate::phantom;
use crate::report::{self, Existing, ExportOptions};

/// Kinds of record.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum RecordKind {
    Pdf,
    Html,
    Csv,
    Picture,
    StructuredReport,
}

impl RecordKind {
    /// Ending of its files, without the dot.
    pub fn ending(self) -> &'static str {
        match self {
            Self::Pdf => "pdf",
            Self::Html => "html",
            Self::Csv => "csv",
            Self::Picture => "png",
            Self::StructuredReport => "dcm",
        }
    }

    /// What is asked when it is saved.
    pub fn question(self) -> &'static str {
        match self {
            Self::Pdf | Self::Html => "Save the report",
            Self::Csv => "Save the table",
            Self::Picture => "Save the annotated film",
            Self::StructuredReport => "Save the DICOM structured report",
        }
    }

    /// The files shown while it is saved.
    pub fn file_kinds(self) -> &'static [FileKind] {
        macro_rules! kinds {
            ($name:literal, $ending:literal) => {
                &[
                    FileKind {
                        name: $name,
                        endings: &[$ending],
                    },
                    ALL_FILES,
                ]
            };
        }
        match self {
            Self::Pdf => kinds!("Reports (PDF)", "pdf"),
            Self::Html => kinds!("Reports (HTML)", "html"),
            Self::Csv => kinds!("Tables (CSV)", "csv"),
            Self::Picture => kinds!("Pictures (PNG)", "png"),
            Self::StructuredReport => kinds!("DICOM files", "dcm"),
        }
    }

    /// `path` with the ending of this kind.
    pub fn with_ending(self, path: PathBuf) -> PathBuf {
        with_ending(path, self.ending())
    }
}

/// All that one record is made from.
#[derive(Clone)]
pub struct RecordOrder {
    pub case: Case,
    /// File of the case; `None` before it was saved.
    pub case_path: Option<PathBuf>,
    pub film: OpenFilm,
    pub settings: MeasureSettings,
    pub include_identity: bool,
    pub include_file_names: bool,
}

impl RecordOrder {
    /// Measures with full precision and writes the record. Returns the files
    /// written.
    ///
    /// # Errors
    /// One line in plain words; nothing was replaced then.
    pub fn write(&self, out_path: &Path, existing: Existing) -> Result<Vec<PathBuf>, String> {
        let film = self.opened_film()?;
        let settings = MeasureSettings {
            precision: Precision::Full,
            ..self.settings.clone()
        };
        let (case, findings) = self.measured(&settings)?;
        let options = ExportOptions {
            include_identity: self.include_identity,
            include_file_names: self.include_file_names,
            existing,
            settings,
        };
        let case_path = self.case_path.as_deref().unwrap_or(Path::new("not saved"));
        report::write(&case, case_path, &film, &findings, out_path, &options)
            .map_err(|error| error.to_string())
    }

    /// The DICOM structured report in memory, to be filed under its film's
    /// study: it has the film's UIDs, so it is written nowhere as it is.
    ///
    /// # Errors
    /// One line in plain words.
    pub fn structured_report(&self) -> Result<Vec<Vec<u8>>, String> {
        if self.is_empty() {
            return Err("nothing is marked on the film yet: there is no record to send".to_owned());
        }
        let film = self.opened_film()?;
        if film.instance.is_none() {
            return Err(
                "the film belongs to no study of an archive, so that there is nothing to file the \
                 record under; fetch the film from the archive, or save the report as a file"
                    .to_owned(),
            );
        }
        let settings = MeasureSettings {
            precision: Precision::Full,
            ..self.settings.clone()
        };
        let (case, findings) = self.measured(&settings)?;
        let options = ExportOptions {
            include_identity: true,
            include_file_names: false,
            existing: Existing::Keep,
            settings,
        };
        let case_path = self.case_path.as_deref().unwrap_or(Path::new("not saved"));
        report::structured_report(&case, case_path, &film, &findings, &options)
    }

    /// Nothing of a canal is placed: a record would say nothing.
    fn is_empty(&self) -> bool {
        self.case.canals.iter().all(|canal| {
            let tip = canal.file.as_ref().and_then(|file| file.tip_px);
            canal.trace_px.is_empty() && canal.apex_px.is_none() && tip.is_none()
        })
    }

    fn measured(&self, settings: &MeasureSettings) -> Result<(Case, Findings), String> {
        complete_findings(&self.case, &self.film, settings)
    }

    /// The film with all that its file states.
    fn opened_film(&self) -> Result<OpenedFilm, String> {
        let Some(path) = &self.film.path else {
            return phantom::demo()
                .map(|demo| demo.film)
                .map_err(|error| error.to_string());
        };
        let opened = film::open(path, &OpenLimits::default()).map_err(|error| error.to_string())?;
        if self.film.sha256.as_ref() != Some(&opened.sha256) {
            return Err(format!(
                "{}: the film on disk is no longer the one shown; open it again first",
                path.display()
            ));
        }
        Ok(opened)
    }
}

/// Writes the demo film beside its case, unless it is there already.
///
/// # Errors
/// One line in plain words: it cannot be written, or another film has that
/// name and is kept.
pub fn save_film_beside(film: &Film, path: &Path) -> Result<(), String> {
    let bytes = film.png16_bytes().map_err(|error| error.to_string())?;
    let taken = || {
        format!(
            "{}: another file has the name of the demo film and is kept; save the case in another folder",
            path.display()
        )
    };
    match input_file::read(path, 2 * bytes.len() as u64) {
        Ok(there) if there == bytes => Ok(()),
        Ok(_) => Err(taken()),
        Err(error) if error.kind() == std::io::ErrorKind::FileTooLarge => Err(taken()),
        Err(_) => atomic_file::write(path, &bytes).map_err(|error| {
            let reason = atomic_file::reason(&error);
            format!("{}: cannot be written: {reason}", path.display())
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn endings_are_added_once() {
        let named = |path: &str| RecordKind::Pdf.with_ending(path.into());
        assert_eq!(named("/a/x"), PathBuf::from("/a/x.pdf"));
        assert_eq!(named("/a/x.PDF"), PathBuf::from("/a/x.PDF"));
        assert_eq!(named("/a/x.case"), PathBuf::from("/a/x.case.pdf"));
    }
}
