//! Coded concepts of the structured report (PS3.16) and the
//! private scheme for what the standard has no code for.

use dicom_core::{DataElement, PrimitiveValue, VR};
use dicom_dictionary_std::tags;
use dicom_object::InMemDicomObject;

use super::elements::plain_dashes;
use crate::film::dicom::tooth_codes::tooth_code;
use crate::tooth::ToothNumber;

/// Designator of our own scheme; every file that uses it declares it.
pub const OWN_SCHEME: &str = "99LENGTHFILM";

/// A coded concept (PS3.3 8.8).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Code {
    value: String,
    scheme: &'static str,
    meaning: String,
}

impl Code {
    fn new(value: &str, scheme: &'static str, meaning: &str) -> Self {
        Self {
            value: value.to_owned(),
            scheme,
            meaning: meaning.to_owned(),
        }
    }

    /// A code of PS3.16 annex D.
    pub fn dcm(value: &str, meaning: &str) -> Self {
        Self::new(value, "DCM", meaning)
    }

    /// A SNOMED CT code.
    pub fn sct(value: &str, meaning: &str) -> Self {
        Self::new(value, "SCT", meaning)
    }

    /// A unit.
    pub fn ucum(value: &str, meaning: &str) -> Self {
        Self::new(value, "UCUM", meaning)
    }

    /// A concept of the Unified Medical Language System.
    pub fn umls(value: &str, meaning: &str) -> Self {
        Self::new(value, "UMLS", meaning)
    }

    /// A language.
    pub fn language(value: &str, meaning: &str) -> Self {
        Self::new(value, "RFC5646", meaning)
    }

    /// A concept of our own.
    pub fn own(value: &str, meaning: &str) -> Self {
        Self::new(value, OWN_SCHEME, meaning)
    }

    /// The item of a code sequence.
    pub fn item(&self) -> InMemDicomObject {
        let text = |tag, vr, value: &str| {
            DataElement::new(tag, vr, PrimitiveValue::from(plain_dashes(value)))
        };
        InMemDicomObject::from_element_iter([
            text(tags::CODE_VALUE, VR::SH, &self.value),
            text(tags::CODING_SCHEME_DESIGNATOR, VR::SH, self.scheme),
            text(tags::CODE_MEANING, VR::LO, &self.meaning),
        ])
    }
}

/// Schemes a report uses: designator, UID, name (PS3.16 8, table 8-1).
pub const PUBLIC_SCHEMES: [(&str, &str, &str); 5] = [
    (
        "DCM",
        "1.2.840.10008.2.16.4",
        "DICOM Controlled Terminology",
    ),
    ("SCT", "2.16.840.1.113883.6.96", "SNOMED CT"),
    (
        "UCUM",
        "2.16.840.1.113883.6.8",
        "Unified Code for Units of Measure",
    ),
    (
        "UMLS",
        "2.16.840.1.113883.6.86",
        "Unified Medical Language System",
    ),
    (
        "RFC5646",
        "2.16.840.1.113883.6.316",
        "Tags for Identifying Languages",
    ),
];

/// The tooth of CID 4018 (permanent) and CID 4019 (deciduous), ISO 3950
/// numbers; `None` for a number the tables do not list.
pub fn tooth(number: ToothNumber) -> Option<Code> {
    tooth_code(number.fdi()).map(|(value, meaning)| Code::sct(value, meaning))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tooth::ToothNotation;

    #[test]
    fn every_tooth_has_its_own_code_and_fits_its_attributes() {
        let mut seen = std::collections::HashSet::new();
        for quadrant in 1..=8 {
            for position in 1..=(if quadrant > 4 { 5 } else { 8 }) {
                let number = format!("{quadrant}{position}");
                let parsed = ToothNumber::parse(ToothNotation::Fdi, &number).unwrap();
                let code = tooth(parsed).unwrap();
                assert!(code.value.len() <= 16 && code.meaning.len() <= 64);
                let upper = matches!(quadrant, 1 | 2 | 5 | 6);
                assert_eq!(code.meaning.to_lowercase().contains("maxillary"), upper);
                let right = matches!(quadrant, 1 | 4 | 5 | 8);
                assert_eq!(code.meaning.contains("right"), right, "{number}");
                assert!(seen.insert(code.value));
            }
        }
        assert_eq!(seen.len(), 52);
    }
}
