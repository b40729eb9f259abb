//! Scale known without an object on the film: what the file says about its
//! detector, what the user typed, or what an earlier film gave.

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
    /// Relative standard uncertainty in the tooth's plane where it rests on an
    /// earlier film; `None`: that of pitch and magnification.
    pub u_relative: Option<f64>,
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

    /// True mm per px in the tooth's plane (geometric mean of row and column),
    /// where it is known for that plane.
    pub fn tooth_mm_per_px(&self) -> Option<f64> {
        let [row, column] = self.pitch_mm;
        let known = match self.plane {
            ScalePlane::Tooth => true,
            ScalePlane::Detector => self.magnification.is_some(),
            ScalePlane::NotStated => false,
        };
        known.then(|| (row * column).sqrt() / self.divisor())
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
            u_relative: None,
        }
    }
}

/// Relative standard uncertainty that a film of the same receptor and holder
/// adds to the scale of an earlier one: 3 mm of object distance at 300 mm from
/// the source. Our own choice.
const SAME_GEOMETRY_RELATIVE: f64 = 0.01;

/// Scale in the tooth's plane that an earlier film gave.
#[derive(Clone, Debug, PartialEq)]
pub struct EarlierScale {
    /// True mm per px on the earlier film.
    pub mm_per_px: f64,
    /// Its standard uncertainty.
    pub u_mm_per_px: f64,
    /// What it rested on there, in words.
    pub basis: String,
}

impl EarlierScale {
    /// Code of a scale that rests on an earlier film alone.
    pub const CODE: &str = "earlier_film";

    fn description(&self) -> String {
        let basis = &self.basis;
        format!("earlier film ({basis}), same receptor and geometry assumed")
    }

    fn u_relative(&self) -> f64 {
        (self.u_mm_per_px / self.mm_per_px).hypot(SAME_GEOMETRY_RELATIVE)
    }

    /// Magnification of the tooth on a detector of that pitch.
    fn magnification(&self, [row, column]: [f64; 2]) -> f64 {
        (row * column).sqrt() / self.mm_per_px
    }

    fn film_scale(&self) -> FilmScale {
        FilmScale {
            source: Self::CODE.to_owned(),
            description: self.description(),
            pitch_mm: [self.mm_per_px; 2],
            plane: ScalePlane::Tooth,
            magnification: None,
            u_relative: Some(self.u_relative()),
        }
    }
}

/// What the user stated about the exposure.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TypedScale {
    /// What made the film, by the name its pitch is known under.
    pub equipment: Option<String>,
    /// Pixel pitch `[row, column]` at the detector, mm.
    pub pitch_mm: Option<[f64; 2]>,
    /// Magnification.
    pub magnification: Option<f64>,
    /// SID, mm.
    pub source_to_detector_mm: Option<f64>,
    /// SOD, mm.
    pub source_to_tooth_mm: Option<f64>,
    /// Scale of an earlier film of the same patient, receptor and geometry.
    pub earlier: Option<EarlierScale>,
}

/// A magnification with where it comes from.
struct StatedMagnification {
    value: f64,
    origin: String,
    u_relative: Option<f64>,
}

impl TypedScale {
    /// The typed magnification, or SID / SOD, or what an earlier film says of a
    /// detector of that pitch.
    fn magnification(&self, pitch_mm: [f64; 2]) -> Option<StatedMagnification> {
        let typed = self.magnification.map(|m| (m, "typed magnification"));
        let from_distances = || {
            let (sid, sod) = self.source_to_detector_mm.zip(self.source_to_tooth_mm)?;
            let origin = "typed distances, source to detector over source to tooth";
            Some((magnification_from_distances(sid, sod)?, origin))
        };
        let stated = typed.or_else(from_distances);
        let stated = stated.map(|(value, origin)| StatedMagnification {
            value,
            origin: origin.to_owned(),
            u_relative: None,
        });
        stated.or_else(|| {
            let earlier = self.earlier.as_ref()?;
            Some(StatedMagnification {
                value: earlier.magnification(pitch_mm),
                origin: format!("magnification by an {}:", earlier.description()),
                u_relative: Some(earlier.u_relative()),
            })
        })
    }

    /// The scale of a typed pitch (docs/methods.md 3).
    fn film_scale(&self) -> Option<FilmScale> {
        let pitch_mm = self.pitch_mm?;
        let name = match &self.equipment {
            Some(equipment) => format!("pixel pitch of {equipment}"),
            None => "typed pixel pitch".to_owned(),
        };
        let scale = FilmScale {
            source: "typed_pitch".to_owned(),
            description: format!("{name} at the detector, magnification unknown"),
            pitch_mm,
            plane: ScalePlane::Detector,
            magnification: None,
            u_relative: None,
        };
        Some(self.complete(scale, &format!("{name}, ")))
    }

    /// A scale at the detector with the magnification that was stated; its
    /// description then begins with `name`.
    fn complete(&self, scale: FilmScale, name: &str) -> FilmScale {
        match self.magnification(scale.pitch_mm) {
            Some(stated) => FilmScale {
                description: format!("{name}{} {:.4}", stated.origin, stated.value),
                magnification: Some(stated.value),
                u_relative: stated.u_relative,
                ..scale
            },
            None => scale,
        }
    }
}

/// All scales known without an object on the film, most trusted first: DICOM
/// (docs/methods.md 3), completed by a stated magnification where it states
/// none, then the typed pitch, then an earlier film where it gives none of them
/// its magnification.
pub fn film_scales(facts: &ScaleFacts, typed: &TypedScale) -> Vec<FilmScale> {
    let dicom = facts.dicom_scale().map(FilmScale::from).map(|scale| {
        let unknown = scale.plane == ScalePlane::Detector && scale.magnification.is_none();
        if unknown {
            typed.complete(scale, "Imager Pixel Spacing with ")
        } else {
            scale
        }
    });
    let mut scales: Vec<FilmScale> = dicom.into_iter().chain(typed.film_scale()).collect();
    let in_use = scales.iter().any(|scale| scale.u_relative.is_some());
    let earlier = typed.earlier.as_ref().filter(|_| !in_use);
    scales.extend(earlier.map(EarlierScale::film_scale));
    scales
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

    fn earlier() -> Option<EarlierScale> {
        Some(EarlierScale {
            mm_per_px: 0.04,
            u_mm_per_px: 0.0003,
            basis: "file in canal MB".to_owned(),
        })
    }

    #[test]
    fn an_earlier_film_gives_the_scale_where_nothing_else_is_known() {
        let typed = TypedScale {
            earlier: earlier(),
            ..TypedScale::default()
        };
        let scales = film_scales(&ScaleFacts::default(), &typed);
        assert_eq!(scales.len(), 1);
        assert_eq!(scales[0].source, EarlierScale::CODE);
        assert_eq!(scales[0].plane, ScalePlane::Tooth);
        assert_eq!(scales[0].pitch_mm, [0.04, 0.04]);
        // 0.75 % of the earlier film and 1 % of the geometry (DERIVED).
        let u = scales[0].u_relative.unwrap();
        assert!((u - 0.0125).abs() < 1e-12, "{u}");
    }

    /// 0.042 mm at the detector over 0.04 mm in the tooth's plane: M 1.05.
    #[test]
    fn an_earlier_film_tells_the_magnification_of_a_known_pitch() {
        let typed = TypedScale {
            pitch_mm: Some([0.042, 0.042]),
            equipment: Some("plate reader 2".to_owned()),
            earlier: earlier(),
            ..TypedScale::default()
        };
        let scales = film_scales(&ScaleFacts::default(), &typed);
        assert_eq!(scales.len(), 1, "not told twice");
        assert_eq!(scales[0].source, "typed_pitch");
        assert!((scales[0].divisor() - 1.05).abs() < 1e-12);
        assert!(scales[0].u_relative.is_some());
        let description = &scales[0].description;
        assert!(
            description.starts_with("pixel pitch of plate reader 2"),
            "{description}"
        );

        let distances = TypedScale {
            source_to_detector_mm: Some(200.0),
            source_to_tooth_mm: Some(190.0),
            ..typed
        };
        let scales = film_scales(&ScaleFacts::default(), &distances);
        assert!((scales[0].divisor() - 1.05263).abs() < 5e-6);
        assert_eq!(scales[0].u_relative, None);
        assert_eq!(scales[1].source, EarlierScale::CODE, "to compare with");
    }

    #[test]
    fn nothing_known_is_no_scale() {
        assert_eq!(
            film_scales(&ScaleFacts::default(), &TypedScale::default()),
            []
        );
    }
}
