//! Every fact about scale a film file states, and the pitch that follows from
//! those of DICOM (docs/methods.md 3; PS3.3 10.7.1.3, C.8.11.4, C.8.11.7).

use serde::Serialize;

/// Smallest and largest pitch that is believed, mm. Detectors have
/// 0.015–0.064 mm, print scans 0.04–0.1 mm; outside these limits a unit was
/// mistaken.
pub const BELIEVABLE_PITCH_MM: std::ops::RangeInclusive<f64> = 0.001..=1.0;

/// Magnification factors that are believed when a file states one.
pub const BELIEVABLE_MAGNIFICATION: std::ops::RangeInclusive<f64> = 0.5..=5.0;

/// A condition the user must hear of.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct FilmWarning {
    /// Stable code.
    pub code: &'static str,
    /// Plain words: what, where, what to do.
    pub text: String,
}

impl FilmWarning {
    pub(crate) fn new(code: &'static str, text: impl Into<String>) -> Self {
        Self {
            code,
            text: text.into(),
        }
    }
}

/// One statement about scale, as the file makes it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ScaleFact {
    /// Name of the attribute or tag.
    pub name: String,
    /// DICOM tag `(gggg,eeee)`, absent for pictures.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tag: Option<String>,
    /// The value as stored, in words.
    pub value: String,
    /// Unit of the value, empty for text and ratios.
    pub unit: &'static str,
}

/// A resolution tag of a picture file: listed and offered, never used unasked,
/// for it rarely speaks of the detector.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ResolutionTag {
    /// Which tag.
    pub source: &'static str,
    /// Pitch `[row, column]` in mm that the tag amounts to.
    pub pitch_mm: [f64; 2],
}

impl ResolutionTag {
    /// From pixels per metre, horizontal and vertical.
    pub(crate) fn from_per_metre(source: &'static str, x: f64, y: f64) -> Option<Self> {
        Self::from_pitch(source, 1000.0 / x, 1000.0 / y)
    }

    /// From pixels per TIFF ResolutionUnit (2 inch, 3 centimetre); unit 1 has
    /// no absolute size.
    pub(crate) fn from_tiff_unit(source: &'static str, x: f64, y: f64, unit: u32) -> Option<Self> {
        let unit_mm = match unit {
            2 => 25.4,
            3 => 10.0,
            _ => return None,
        };
        Self::from_pitch(source, unit_mm / x, unit_mm / y)
    }

    fn from_pitch(source: &'static str, column_mm: f64, row_mm: f64) -> Option<Self> {
        let usable = |pitch: f64| pitch.is_finite() && pitch > 0.0;
        (usable(column_mm) && usable(row_mm)).then_some(Self {
            source,
            pitch_mm: [row_mm, column_mm],
        })
    }
}

/// An object of known size that a DICOM film describes (Device Module).
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct CalibrationDevice {
    /// Device Length (0050,0014), mm.
    pub length_mm: Option<f64>,
    /// Device Diameter (0050,0016) with its units, mm.
    pub diameter_mm: Option<f64>,
    /// Device Description (0050,0020).
    pub description: Option<String>,
}

/// Every scale fact of one film. Lengths in mm, spacings `[row, column]`
/// as DICOM gives them; values that cannot be believed are left out and
/// reported in [`ScaleFacts::warnings`].
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ScaleFacts {
    /// All statements as stored, believed or not.
    pub statements: Vec<ScaleFact>,
    /// Pixel Spacing (0028,0030).
    pub pixel_spacing_mm: Option<[f64; 2]>,
    /// Pixel Spacing Calibration Type (0028,0A02).
    pub calibration_type: Option<String>,
    /// Pixel Spacing Calibration Description (0028,0A04).
    pub calibration_description: Option<String>,
    /// Imager Pixel Spacing (0018,1164), at the detector's front plane.
    pub imager_pixel_spacing_mm: Option<[f64; 2]>,
    /// Nominal Scanned Pixel Spacing (0018,2010).
    pub nominal_scanned_pixel_spacing_mm: Option<[f64; 2]>,
    /// Detector Element Spacing (0018,7022).
    pub detector_element_spacing_mm: Option<[f64; 2]>,
    /// Estimated Radiographic Magnification Factor (0018,1114).
    pub estimated_magnification: Option<f64>,
    /// Distance Source to Detector, SID (0018,1110).
    pub source_to_detector_mm: Option<f64>,
    /// Distance Source to Patient, SOD (0018,1111).
    pub source_to_patient_mm: Option<f64>,
    /// Objects of known size.
    pub devices: Vec<CalibrationDevice>,
    /// Resolution tags of pictures, for the raster after orientation.
    pub resolution_tags: Vec<ResolutionTag>,
    /// What was not believed and why.
    pub warnings: Vec<FilmWarning>,
}

/// Where a DICOM scale comes from, most trusted first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum ScaleSource {
    /// Pixel Spacing calibrated on an object of known size.
    PixelSpacingFiducial,
    /// Pixel Spacing corrected for an assumed magnification.
    PixelSpacingGeometry,
    /// Imager Pixel Spacing with the Estimated Radiographic Magnification
    /// Factor.
    ImagerPixelSpacingErmf,
    /// Imager Pixel Spacing with SID and SOD.
    ImagerPixelSpacingSidSod,
    /// Imager Pixel Spacing alone.
    ImagerPixelSpacing,
    /// Pixel Spacing whose origin the file does not state.
    PixelSpacingOriginNotStated,
}

impl ScaleSource {
    /// Stable code for results.
    pub fn code(self) -> &'static str {
        match self {
            Self::PixelSpacingFiducial => "pixel_spacing_fiducial",
            Self::PixelSpacingGeometry => "pixel_spacing_geometry",
            Self::ImagerPixelSpacingErmf => "imager_pixel_spacing_ermf",
            Self::ImagerPixelSpacingSidSod => "imager_pixel_spacing_sid_sod",
            Self::ImagerPixelSpacing => "imager_pixel_spacing",
            Self::PixelSpacingOriginNotStated => "pixel_spacing_origin_not_stated",
        }
    }
}

/// The plane in which a pitch holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ScalePlane {
    /// The detector's front plane: divide by M for the tooth.
    Detector,
    /// The tooth: magnification is already taken out.
    Tooth,
    /// The file does not say.
    NotStated,
}

/// The pitch that the DICOM facts of a film amount to.
#[derive(Clone, Debug, PartialEq)]
pub struct DicomScale {
    /// Pitch `[row, column]`, mm per px, in `plane`.
    pub pitch_mm: [f64; 2],
    /// Where the pitch holds.
    pub plane: ScalePlane,
    /// M = apparent mm at the detector / true mm, where the file states it.
    pub magnification: Option<f64>,
    /// Which facts were used.
    pub source: ScaleSource,
    /// The same in words.
    pub description: String,
}

impl ScaleFacts {
    /// The scale by the trust order of docs/methods.md 3; `None` without a believed
    /// DICOM spacing. Resolution tags never count.
    pub fn dicom_scale(&self) -> Option<DicomScale> {
        self.calibrated_pixel_spacing()
            .or_else(|| self.imager_spacing())
            .or_else(|| self.pixel_spacing_of_unstated_origin())
    }

    /// Size of a pixel by [`ScaleFacts::dicom_scale`], mm: the geometric mean
    /// of its two pitches, magnification not taken out.
    pub fn mean_pitch_mm(&self) -> Option<f64> {
        let [row, column] = self.dicom_scale()?.pitch_mm;
        Some((row * column).sqrt())
    }

    fn calibrated_pixel_spacing(&self) -> Option<DicomScale> {
        let pitch_mm = self.pixel_spacing_mm?;
        let (source, how) = match self.calibration_type.as_deref()? {
            "FIDUCIAL" => (
                ScaleSource::PixelSpacingFiducial,
                "calibrated on an object of known size",
            ),
            "GEOMETRY" => (
                ScaleSource::PixelSpacingGeometry,
                "corrected for an assumed or known magnification",
            ),
            _ => return None,
        };
        let note = match &self.calibration_description {
            Some(words) => format!(" ({words})"),
            None => String::new(),
        };
        Some(DicomScale {
            pitch_mm,
            plane: ScalePlane::Tooth,
            magnification: self
                .imager_pixel_spacing_mm
                .map(|imager| (imager[0] / pitch_mm[0] + imager[1] / pitch_mm[1]) / 2.0),
            source,
            description: format!(
                "Pixel Spacing {how}{note}; valid near the central ray and at the depth of calibration"
            ),
        })
    }

    fn imager_spacing(&self) -> Option<DicomScale> {
        let pitch_mm = self.imager_pixel_spacing_mm?;
        let (source, magnification, description) =
            match (self.estimated_magnification, self.sid_over_sod()) {
                (Some(m), _) => (
                    ScaleSource::ImagerPixelSpacingErmf,
                    Some(m),
                    format!(
                        "Imager Pixel Spacing with Estimated Radiographic Magnification Factor {m}"
                    ),
                ),
                (None, Some(m)) => (
                    ScaleSource::ImagerPixelSpacingSidSod,
                    Some(m),
                    format!("Imager Pixel Spacing with M = SID/SOD = {m:.4}"),
                ),
                (None, None) => (
                    ScaleSource::ImagerPixelSpacing,
                    None,
                    "Imager Pixel Spacing at the detector, magnification unknown".to_owned(),
                ),
            };
        Some(DicomScale {
            pitch_mm,
            plane: ScalePlane::Detector,
            magnification,
            source,
            description,
        })
    }

    fn pixel_spacing_of_unstated_origin(&self) -> Option<DicomScale> {
        let pitch_mm = self.pixel_spacing_mm?;
        let scanned = self
            .nominal_scanned_pixel_spacing_mm
            .is_some_and(|nominal| same_spacing(nominal, pitch_mm));
        Some(DicomScale {
            pitch_mm,
            plane: if scanned {
                ScalePlane::Detector
            } else {
                ScalePlane::NotStated
            },
            magnification: None,
            source: ScaleSource::PixelSpacingOriginNotStated,
            description: if scanned {
                "Pixel Spacing equal to the scanner's: at the film, not corrected for magnification"
                    .to_owned()
            } else {
                "Pixel Spacing, origin not stated".to_owned()
            },
        })
    }

    /// M = SID/SOD (PS3.3 C.8.7.6) where both are known.
    fn sid_over_sod(&self) -> Option<f64> {
        Some(self.source_to_detector_mm? / self.source_to_patient_mm?)
    }

    /// Warns of facts that contradict each other; call once all are in.
    pub(crate) fn cross_check(&mut self) {
        const SAME_MAGNIFICATION: f64 = 0.01;
        if let (Some(m), Some(ratio)) = (self.estimated_magnification, self.sid_over_sod())
            && (m / ratio - 1.0).abs() > SAME_MAGNIFICATION
        {
            self.warnings.push(FilmWarning::new(
                "magnification_disagreement",
                format!(
                    "Estimated Radiographic Magnification Factor {m} and SID/SOD {ratio:.4} disagree; the factor is used"
                ),
            ));
        }
        let Some(pixel) = self.pixel_spacing_mm else {
            return;
        };
        let raw = self
            .imager_pixel_spacing_mm
            .or(self.nominal_scanned_pixel_spacing_mm);
        match (raw, self.calibration_type.as_deref()) {
            (Some(raw), Some("FIDUCIAL" | "GEOMETRY")) if same_spacing(raw, pixel) => {
                self.warnings.push(FilmWarning::new(
                    "calibration_without_effect",
                    "Pixel Spacing is said to be calibrated but equals the spacing at the detector: check the scale with an object of known size",
                ));
            }
            (Some(raw), None) if !same_spacing(raw, pixel) => {
                self.warnings.push(FilmWarning::new(
                    "pixel_spacing_differs",
                    "Pixel Spacing differs from the spacing at the detector, so it was corrected or calibrated, but the file does not say how: the spacing at the detector is used where there is one",
                ));
            }
            _ => {}
        }
    }
}

/// Equal within the six digits that decimal strings keep.
fn same_spacing(a: [f64; 2], b: [f64; 2]) -> bool {
    const RELATIVE: f64 = 1e-5;
    a.iter()
        .zip(b)
        .all(|(a, b)| (a - b).abs() <= RELATIVE * a.abs())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn facts() -> ScaleFacts {
        ScaleFacts {
            pixel_spacing_mm: Some([0.020, 0.021]),
            imager_pixel_spacing_mm: Some([0.022, 0.0231]),
            ..ScaleFacts::default()
        }
    }

    #[test]
    fn trust_order_is_that_of_methods_3c() {
        let mut facts = ScaleFacts {
            calibration_type: Some("FIDUCIAL".into()),
            estimated_magnification: Some(1.05),
            source_to_detector_mm: Some(330.0),
            source_to_patient_mm: Some(300.0),
            ..facts()
        };
        let fiducial = facts.dicom_scale().unwrap();
        assert_eq!(fiducial.source.code(), "pixel_spacing_fiducial");
        assert_eq!(fiducial.pitch_mm, [0.020, 0.021]);
        assert_eq!(fiducial.plane, ScalePlane::Tooth);
        assert!((fiducial.magnification.unwrap() - 1.1).abs() < 1e-12);

        facts.calibration_type = Some("GEOMETRY".into());
        let geometry = facts.dicom_scale().unwrap();
        assert_eq!(geometry.source.code(), "pixel_spacing_geometry");

        facts.calibration_type = None;
        let factor = facts.dicom_scale().unwrap();
        assert_eq!(factor.source.code(), "imager_pixel_spacing_ermf");
        assert_eq!(factor.plane, ScalePlane::Detector);
        assert_eq!(factor.magnification, Some(1.05));

        facts.estimated_magnification = None;
        let distances = facts.dicom_scale().unwrap();
        assert_eq!(distances.source.code(), "imager_pixel_spacing_sid_sod");
        assert_eq!(distances.magnification, Some(1.1));

        facts.source_to_patient_mm = None;
        let imager = facts.dicom_scale().unwrap();
        assert_eq!(imager.source.code(), "imager_pixel_spacing");
        assert_eq!(imager.magnification, None);
        assert!(imager.description.contains("at the detector"));

        facts.imager_pixel_spacing_mm = None;
        let unstated = facts.dicom_scale().unwrap();
        assert_eq!(unstated.source.code(), "pixel_spacing_origin_not_stated");
        assert_eq!(unstated.plane, ScalePlane::NotStated);
        assert!(unstated.description.contains("origin not stated"));

        facts.pixel_spacing_mm = None;
        assert_eq!(facts.dicom_scale(), None);
    }

    #[test]
    fn resolution_tags_never_become_a_scale() {
        let facts = ScaleFacts {
            resolution_tags: vec![ResolutionTag::from_tiff_unit("test", 300.0, 300.0, 2).unwrap()],
            ..ScaleFacts::default()
        };
        assert_eq!(facts.dicom_scale(), None);
        // 300 dpi = 0.08467 mm (DERIVED).
        assert!((facts.resolution_tags[0].pitch_mm[0] - 0.08467).abs() < 5e-6);
    }

    #[test]
    fn contradictions_are_told() {
        let mut facts = facts();
        facts.cross_check();
        assert_eq!(facts.warnings[0].code, "pixel_spacing_differs");

        let mut facts = ScaleFacts {
            pixel_spacing_mm: Some([0.02, 0.02]),
            imager_pixel_spacing_mm: Some([0.02, 0.02]),
            calibration_type: Some("FIDUCIAL".into()),
            estimated_magnification: Some(1.3),
            source_to_detector_mm: Some(330.0),
            source_to_patient_mm: Some(300.0),
            ..ScaleFacts::default()
        };
        facts.cross_check();
        let codes: Vec<_> = facts.warnings.iter().map(|w| w.code).collect();
        assert_eq!(
            codes,
            ["magnification_disagreement", "calibration_without_effect"]
        );
    }

    #[test]
    fn zero_resolution_is_no_tag() {
        assert_eq!(ResolutionTag::from_per_metre("test", 0.0, 100.0), None);
        assert_eq!(ResolutionTag::from_tiff_unit("test", 72.0, 72.0, 1), None);
    }
}
