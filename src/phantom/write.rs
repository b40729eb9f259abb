//! A phantom as files: picture, DICOM, truth and a case to start from.

use std::path::{Path, PathBuf};

use super::{Phantom, PhantomError, PhantomSpec, case_from_truth, render};
use crate::film::dicom::{IntraOralFilm, write_intra_oral};
use crate::film::{self, Film, OpenLimits};
use crate::tooth::{ToothNotation, ToothNumber};
use crate::{atomic_file, case};

/// Standard deviation of a careful click per coordinate, mm at the detector
/// (the default click noise of a case).
const CLICK_NOISE_MM: f64 = 0.05;

/// What [`write`] wrote.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PhantomFiles {
    /// 16-bit PNG.
    pub png: PathBuf,
    /// Digital Intra-Oral X-Ray object at the detector's own depth.
    pub dicom: PathBuf,
    /// [`super::Truth`] as JSON.
    pub truth: PathBuf,
    /// Case on the PNG with noisy clicks.
    pub case: PathBuf,
}

/// Renders `spec` into `folder` (made if need be): `film.png`, `film.dcm`,
/// `truth.json` and `demo.case.json`.
///
/// # Errors
/// A value that cannot be built, or a file that cannot be written.
pub fn write(spec: &PhantomSpec, folder: &Path) -> Result<PhantomFiles, PhantomError> {
    let phantom = render(spec)?;
    std::fs::create_dir_all(folder).map_err(|source| PhantomError::Write {
        path: folder.to_path_buf(),
        source,
    })?;
    let files = PhantomFiles {
        png: folder.join("film.png"),
        dicom: folder.join("film.dcm"),
        truth: folder.join("truth.json"),
        case: folder.join("demo.case.json"),
    };
    phantom.save_png(&files.png)?;
    phantom.save_dicom(&files.dicom)?;
    phantom.save_truth(&files.truth)?;
    phantom.save_case(&files.case, &files.png)?;
    Ok(files)
}

fn put(path: &Path, bytes: &[u8]) -> Result<(), PhantomError> {
    atomic_file::write(path, bytes).map_err(|source| PhantomError::Write {
        path: path.to_path_buf(),
        source,
    })
}

impl Phantom {
    /// Writes the file of [`Phantom::png_bytes`].
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn save_png(&self, path: &Path) -> Result<(), PhantomError> {
        put(path, &self.png_bytes()?)
    }

    /// A 16-bit PNG; shallower samples are raised to fill 16 bits, so that any
    /// viewer shows them as they are meant.
    ///
    /// # Errors
    /// What the PNG library refuses.
    pub fn png_bytes(&self) -> Result<Vec<u8>, PhantomError> {
        let film = &self.film;
        let raise = 16 - film.bits_stored();
        let samples = film.samples().iter().map(|s| s << raise).collect();
        let deep = Film::from_samples(
            film.width_px(),
            film.height_px(),
            16,
            film.polarity(),
            samples,
        )
        .ok_or(PhantomError::Contradiction(
            "samples and raster differ in size",
        ))?;
        deep.png16_bytes().map_err(|source| PhantomError::Write {
            path: PathBuf::from("film.png"),
            source,
        })
    }

    /// Writes a Digital Intra-Oral X-Ray object with pitch and distances.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn save_dicom(&self, path: &Path) -> Result<(), PhantomError> {
        let view = &self.truth.spec.view;
        let to_tooth = view.source_to_detector_mm - view.object_to_detector_mm;
        let facts = IntraOralFilm {
            imager_pixel_spacing_mm: self.truth.pixel_pitch_mm,
            source_to_detector_mm: Some(view.source_to_detector_mm),
            source_to_patient_mm: Some(to_tooth),
            estimated_magnification: Some(view.source_to_detector_mm / to_tooth),
            tooth: ToothNumber::parse(ToothNotation::Fdi, &self.truth.spec.tooth.fdi)
                .map_err(|_| PhantomError::Contradiction("no such tooth"))?,
            phantom_name: format!("PHANTOM-{}", self.truth.spec.seed),
            seed: self.truth.spec.seed,
        };
        Ok(write_intra_oral(path, &self.film, &facts)?)
    }

    /// Writes the truth as JSON.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn save_truth(&self, path: &Path) -> Result<(), PhantomError> {
        let mut json = serde_json::to_vec(&self.truth)?;
        json.push(b'\n');
        put(path, &json)
    }

    /// Writes a case on the film file beside it, which must exist already.
    ///
    /// # Errors
    /// When the film cannot be read or the case cannot be written.
    pub fn save_case(&self, path: &Path, film_file: &Path) -> Result<(), PhantomError> {
        let sha256 = film::open(film_file, &OpenLimits::default())?.sha256;
        let name = film_file.file_name().unwrap_or_default().to_string_lossy();
        let seed = self.truth.spec.seed;
        let case = case_from_truth(&self.truth, &name, Some(sha256), CLICK_NOISE_MM, seed);
        put(path, case::to_json(&case).as_bytes())
    }
}
