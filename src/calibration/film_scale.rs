//! Scale known without an object on the film: what the file says about its
//! detector, or what the user typed.

use super::magnification_from_distances;
use crate::film::{DicomScale, ScaleFacts, ScalePlane};

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

impl From<DicomScale> for FilmScale {
    fn from(scale: DicomScale) -> Self {
        Self {
            source: scale.source.code().to_owned(),
            description: scale.description,
            pitch_mm: scale.pitch_mm,
            plane: scale.plane,
            magnification: scale.magnification,
        }
    }
}

/// What the user typed about the exposure.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct TypedScale {
    /// Pixel pitch `[row, column]` at the detector, mm.
    pub pitch_mm: Option<[f64; 2]>,
    /// Magnification.
    pub magnification: Option<f64>,
    /// SID, mm.
    pub source_to_detector_mm: Option<f64>,
    /// SOD, mm.
    pub source_to_tooth_mm: Option<f64>,
}

impl TypedScale {
    /// The typed magnification, or SID / SOD.
    fn magnification(&self) -> Option<(f64, &'static str)> {
        let from_distances = || {
            let (sid, sod) = self.source_to_detector_mm.zip(self.source_to_tooth_mm)?;
            Some((
                magnification_from_distances(sid, sod)?,
                "typed distances, source to detector over source to tooth",
            ))
        };
        let typed = self.magnification.map(|m| (m, "typed magnification"));
        typed.or_else(from_distances)
    }

    /// The scale of a typed pitch (docs/methods.md 3).
    fn film_scale(&self) -> Option<FilmScale> {
        let magnification = self.magnification();
        let description = match magnification {
            Some((m, origin)) => format!("typed pixel pitch, {origin} {m:.4}"),
            None => "typed pixel pitch at the detector, magnification unknown".to_owned(),
        };
        Some(FilmScale {
            source: "typed_pitch".to_owned(),
            description,
            pitch_mm: self.pitch_mm?,
            plane: ScalePlane::Detector,
            magnification: magnification.map(|(m, _)| m),
        })
    }
}

/// All scales known without an object on the film, most trusted first: DICOM
/// (docs/methods.md 3), completed by a typed magnification where it states
/// none, then the typed pitch.
pub fn film_scales(facts: &ScaleFacts, typed: &TypedScale) -> Vec<FilmScale> {
    let dicom = facts.dicom_scale().map(FilmScale::from).map(|mut scale| {
        let unknown = scale.plane == ScalePlane::Detector && scale.magnification.is_none();
        if let (true, Some((m, origin))) = (unknown, typed.magnification()) {
            scale.magnification = Some(m);
            scale.description = format!("Imager Pixel Spacing with {origin} {m:.4}");
        }
        scale
    });
    dicom.into_iter().chain(typed.film_scale()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn detector_facts() -> ScaleFacts {
        ScaleFacts {
            imager_pixel_spacing_mm: Some([0.03, 0.03]),
            ..ScaleFacts::default()
        }
    }

    #[test]
    fn a_file_that_states_its_scale_comes_before_a_typed_pitch() {
        let typed = TypedScale {
            pitch_mm: Some([0.04, 0.04]),
            ..TypedScale::default()
        };
        let scales = film_scales(&detector_facts(), &typed);
        let sources: Vec<_> = scales.iter().map(|s| s.source.as_str()).collect();
        assert_eq!(sources, ["imager_pixel_spacing", "typed_pitch"]);
        assert_eq!(scales[1].divisor(), 1.0);
    }

    /// M = SID/SOD: SID 200, SOD 190 → M 1.05263 (DERIVED).
    #[test]
    fn a_typed_magnification_completes_a_detector_pitch() {
        let typed = TypedScale {
            source_to_detector_mm: Some(200.0),
            source_to_tooth_mm: Some(190.0),
            ..TypedScale::default()
        };
        let scales = film_scales(&detector_facts(), &typed);
        assert_eq!(scales.len(), 1);
        assert!((scales[0].divisor() - 1.05263).abs() < 5e-6);
    }

    #[test]
    fn a_magnification_that_the_film_states_is_not_replaced() {
        let facts = ScaleFacts {
            estimated_magnification: Some(1.1),
            ..detector_facts()
        };
        let typed = TypedScale {
            magnification: Some(1.3),
            ..TypedScale::default()
        };
        let scales = film_scales(&facts, &typed);
        assert_eq!(scales.len(), 1);
        assert!((scales[0].divisor() - 1.1).abs() < 1e-12);
    }

    #[test]
    fn nothing_known_is_no_scale() {
        assert_eq!(
            film_scales(&ScaleFacts::default(), &TypedScale::default()),
            []
        );
    }
}
