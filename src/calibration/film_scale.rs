//! Scale known without an object on the film: what the file says about its
//! detector, or what the user typed.

use super::magnification_from_distances;

/// The plane a pixel pitch speaks of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ScalePlane {
    /// The detector's front plane: apparent mm.
    Detector,
    /// The plane of the tooth, or of a calibration object near it.
    Tooth,
    /// The file does not say.
    NotStated,
}

/// A pixel pitch with everything needed to judge it.
#[derive(Clone, Debug, PartialEq)]
pub struct FilmScale {
    /// Stable source code, for example `imager_pixel_spacing`.
    pub source: String,
    /// The source in words.
    pub description: String,
    /// Pitch `[row, column]`, mm in `plane`.
    pub pitch_mm: [f64; 2],
    /// Where those mm hold.
    pub plane: ScalePlane,
    /// Magnification of the tooth's plane against the detector, where known.
    pub magnification: Option<f64>,
}

impl FilmScale {
    /// Detector unit / true mm: what a length must be divided by. 1 where the
    /// pitch already speaks of the tooth or nothing better is known.
    pub fn divisor(&self) -> f64 {
        match self.plane {
            ScalePlane::Detector => self.magnification.unwrap_or(1.0),
            ScalePlane::Tooth | ScalePlane::NotStated => 1.0,
        }
    }
}

/// The scale that the user typed (METHODS 3 d): a pitch at the detector, with
/// the magnification typed or following from the distances. `None` without a
/// pitch.
pub fn film_scale_from_typed(
    pitch_mm: Option<[f64; 2]>,
    magnification: Option<f64>,
    source_to_detector_mm: Option<f64>,
    source_to_tooth_mm: Option<f64>,
) -> Option<FilmScale> {
    let pitch_mm = pitch_mm?;
    let from_distances = source_to_detector_mm
        .zip(source_to_tooth_mm)
        .and_then(|(sid, sod)| magnification_from_distances(sid, sod));
    let (magnification, description) = match (magnification, from_distances) {
        (Some(m), _) => (Some(m), "typed pixel pitch and magnification"),
        (None, Some(m)) => (Some(m), "typed pixel pitch, magnification from SID / SOD"),
        (None, None) => (None, "typed pixel pitch at the detector"),
    };
    Some(FilmScale {
        source: "typed_pitch".to_owned(),
        description: description.to_owned(),
        pitch_mm,
        plane: ScalePlane::Detector,
        magnification,
    })
}
