//! Coded concepts of the structured report (PS3.16) and the
//! private scheme for what the standard has no code for.

use dicom_core::{DataElement, PrimitiveValue, VR};
use dicom_dictionary_std::tags;
use dicom_object::InMemDicomObject;

use super::elements::plain_dashes;
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
    TEETH
        .iter()
        .find(|(fdi, ..)| *fdi == number.fdi())
        .map(|(_, value, meaning)| Code::sct(value, meaning))
}

const TEETH: [(u8, &str, &str); 52] = [
    (11, "422653006", "Maxillary right central incisor tooth"),
    (12, "424877001", "Maxillary right lateral incisor tooth"),
    (13, "860767006", "Maxillary right canine tooth"),
    (14, "57826002", "Maxillary right first premolar tooth"),
    (15, "36492000", "Maxillary right second premolar tooth"),
    (16, "865995000", "Maxillary right first molar tooth"),
    (17, "863902006", "Maxillary right second molar tooth"),
    (18, "68085002", "Maxillary right third molar tooth"),
    (21, "424399000", "Maxillary left central incisor tooth"),
    (22, "423185002", "Maxillary left lateral incisor tooth"),
    (23, "860780009", "Maxillary left canine tooth"),
    (24, "61897005", "Maxillary left first premolar tooth"),
    (25, "23226009", "Maxillary left second premolar tooth"),
    (26, "865988009", "Maxillary left first molar tooth"),
    (27, "863901004", "Maxillary left second molar tooth"),
    (28, "87704003", "Maxillary left third molar tooth"),
    (31, "425106001", "Mandibular left central incisor tooth"),
    (32, "423331005", "Mandibular left lateral tooth"),
    (33, "860782001", "Mandibular left canine tooth"),
    (34, "2400006", "Mandibular left first premolar tooth"),
    (35, "24573005", "Mandibular left second premolar tooth"),
    (36, "866006002", "Mandibular left first molar tooth"),
    (37, "863898000", "Mandibular left second molar tooth"),
    (38, "74344005", "Mandibular left third molar tooth"),
    (41, "424575004", "Mandibular right central incisor tooth"),
    (42, "423937004", "Mandibular right lateral incisor tooth"),
    (43, "860785004", "Mandibular right canine tooth"),
    (44, "80140008", "Mandibular right first premolar tooth"),
    (45, "8873007", "Mandibular right second premolar tooth"),
    (46, "866005003", "Mandibular right first molar tooth"),
    (47, "863899008", "Mandibular right second molar tooth"),
    (48, "38994002", "Mandibular right third molar tooth"),
    (
        51,
        "88824007",
        "Deciduous maxillary right central incisor tooth",
    ),
    (
        52,
        "65624003",
        "Deciduous maxillary right lateral incisor tooth",
    ),
    (53, "30618001", "Deciduous maxillary right canine tooth"),
    (
        54,
        "17505006",
        "Deciduous maxillary right first molar tooth",
    ),
    (
        55,
        "27855007",
        "Deciduous maxillary right second molar tooth",
    ),
    (
        61,
        "51678005",
        "Deciduous maxillary left central incisor tooth",
    ),
    (
        62,
        "43622005",
        "Deciduous maxillary left lateral incisor tooth",
    ),
    (63, "73937000", "Deciduous maxillary left canine tooth"),
    (64, "45234009", "Deciduous maxillary left first molar tooth"),
    (
        65,
        "51943008",
        "Deciduous maxillary left second molar tooth",
    ),
    (
        71,
        "89552004",
        "Deciduous mandibular left central incisor tooth",
    ),
    (
        72,
        "14770005",
        "Deciduous mandibular left lateral incisor tooth",
    ),
    (73, "43281008", "Deciduous mandibular left canine tooth"),
    (
        74,
        "38896004",
        "Deciduous mandibular left first molar tooth",
    ),
    (
        75,
        "49330006",
        "Deciduous mandibular left second molar tooth",
    ),
    (
        81,
        "67834006",
        "Deciduous mandibular right central incisor tooth",
    ),
    (
        82,
        "22445006",
        "Deciduous mandibular right lateral incisor tooth",
    ),
    (83, "6062009", "Deciduous mandibular right canine tooth"),
    (
        84,
        "58646007",
        "Deciduous mandibular right first molar tooth",
    ),
    (
        85,
        "61868007",
        "Deciduous mandibular right second molar tooth",
    ),
];

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
