//! Teeth: their notations and the published range of their total lengths.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// How a tooth number is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ToothNotation {
    /// ISO 3950 two-digit: `11`–`48`, deciduous `51`–`85`.
    Fdi,
    /// `1`–`32`, deciduous `A`–`T`.
    Universal,
}

/// A tooth, whatever notation it was written in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ToothNumber {
    /// FDI quadrant 1–8.
    quadrant: u8,
    /// Position from the midline: 1–8, deciduous 1–5.
    position: u8,
}

/// A number that names no tooth.
#[derive(Debug, PartialEq, Eq, Error)]
#[error("\"{number}\" is no tooth in {notation} notation; {expected}")]
pub struct NoSuchTooth {
    number: String,
    notation: &'static str,
    expected: &'static str,
}

/// Published total tooth lengths: mean with the smallest and largest seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TotalLength {
    /// Mean, mm.
    pub mean_mm: f64,
    /// Smallest and largest, mm.
    pub range_mm: (f64, f64),
}

impl ToothNumber {
    /// Reads a number in a notation.
    ///
    /// # Errors
    /// [`NoSuchTooth`] with what would be accepted.
    pub fn parse(notation: ToothNotation, number: &str) -> Result<Self, NoSuchTooth> {
        let number = number.trim();
        match notation {
            ToothNotation::Fdi => parse_fdi(number).ok_or_else(|| NoSuchTooth {
                number: number.to_owned(),
                notation: "FDI",
                expected: "write 11-48, or 51-85 for a deciduous tooth",
            }),
            ToothNotation::Universal => parse_universal(number).ok_or_else(|| NoSuchTooth {
                number: number.to_owned(),
                notation: "universal",
                expected: "write 1-32, or A-T for a deciduous tooth",
            }),
        }
    }

    /// ISO 3950 number, for example `36`.
    pub fn fdi(self) -> u8 {
        self.quadrant * 10 + self.position
    }

    /// Universal number, for example `19` or `K`.
    pub fn universal(self) -> String {
        let p = self.position;
        match self.quadrant {
            1 => (9 - p).to_string(),
            2 => (8 + p).to_string(),
            3 => (25 - p).to_string(),
            4 => (24 + p).to_string(),
            5 => letter(5 - p),
            6 => letter(4 + p),
            7 => letter(15 - p),
            _ => letter(14 + p),
        }
    }

    /// Its number in a notation.
    pub fn in_notation(self, notation: ToothNotation) -> String {
        match notation {
            ToothNotation::Fdi => self.fdi().to_string(),
            ToothNotation::Universal => self.universal(),
        }
    }

    /// Names that the canals of this tooth usually go by (common practice, no
    /// source): buccal before lingual, mesial before distal.
    pub fn usual_canals(self) -> &'static [&'static str] {
        let molar_from = if self.is_deciduous() { 4 } else { 6 };
        match (self.position, self.is_maxillary()) {
            (1..=3, _) => &["Canal"],
            (p, true) if p >= molar_from => &["MB", "MB2", "DB", "P"],
            (p, false) if p >= molar_from => &["MB", "ML", "D", "DB", "DL"],
            (_, true) => &["B", "P"],
            (_, false) => &["Canal", "B", "L"],
        }
    }

    /// A deciduous tooth.
    pub fn is_deciduous(self) -> bool {
        self.quadrant > 4
    }

    /// An upper tooth.
    pub fn is_maxillary(self) -> bool {
        matches!(self.quadrant, 1 | 2 | 5 | 6)
    }

    /// Total length of this permanent tooth type: Woelfel's means and ranges
    /// (upper anterior rows SEEN-2, all others MEM-H). `None` for
    /// deciduous teeth, for which no range was found.
    ///
    /// A flag for checking the scale, never a length to fill in.
    pub fn published_total_length(self) -> Option<TotalLength> {
        if self.is_deciduous() {
            return None;
        }
        const MAXILLARY: [(f64, f64, f64); 8] = [
            (23.6, 16.5, 32.6),
            (22.5, 17.7, 28.9),
            (26.4, 20.0, 38.4),
            (21.5, 15.5, 28.9),
            (21.2, 15.2, 28.4),
            (20.1, 17.0, 27.4),
            (20.0, 16.0, 26.2),
            (17.5, 14.0, 22.5),
        ];
        const MANDIBULAR: [(f64, f64, f64); 8] = [
            (20.8, 16.9, 26.7),
            (22.1, 18.5, 26.6),
            (25.9, 16.1, 34.5),
            (22.4, 17.0, 28.5),
            (22.1, 16.8, 28.1),
            (20.9, 17.0, 27.7),
            (20.6, 15.0, 25.5),
            (18.2, 14.8, 22.0),
        ];
        let row = usize::from(self.position - 1);
        let (mean_mm, least, greatest) = if self.is_maxillary() {
            MAXILLARY[row]
        } else {
            MANDIBULAR[row]
        };
        Some(TotalLength {
            mean_mm,
            range_mm: (least, greatest),
        })
    }
}

fn letter(index_from_a: u8) -> String {
    char::from(b'A' + index_from_a).to_string()
}

fn parse_fdi(number: &str) -> Option<ToothNumber> {
    let n: u8 = number.parse().ok()?;
    let (quadrant, position) = (n / 10, n % 10);
    let last = match quadrant {
        1..=4 => 8,
        5..=8 => 5,
        _ => return None,
    };
    (1..=last)
        .contains(&position)
        .then_some(ToothNumber { quadrant, position })
}

fn parse_universal(number: &str) -> Option<ToothNumber> {
    let (quadrant, position) = match number.as_bytes() {
        [byte] if byte.is_ascii_alphabetic() => match byte.to_ascii_uppercase() - b'A' {
            i @ 0..=4 => (5, 5 - i),
            i @ 5..=9 => (6, i - 4),
            i @ 10..=14 => (7, 15 - i),
            i @ 15..=19 => (8, i - 14),
            _ => return None,
        },
        _ => match number.parse().ok()? {
            n @ 1..=8 => (1, 9 - n),
            n @ 9..=16 => (2, n - 8),
            n @ 17..=24 => (3, 25 - n),
            n @ 25..=32 => (4, n - 24),
            _ => return None,
        },
    };
    Some(ToothNumber { quadrant, position })
}

#[cfg(test)]
mod tests {
    use super::{ToothNotation, ToothNumber};

    fn fdi(number: &str) -> ToothNumber {
        ToothNumber::parse(ToothNotation::Fdi, number).unwrap()
    }

    /// The FDI/universal pairs of PS3.16, CID 4018 (SEEN).
    #[test]
    fn permanent_pairs_match_the_published_table() {
        let pairs = [
            (11, 8),
            (12, 7),
            (13, 6),
            (14, 5),
            (15, 4),
            (16, 3),
            (17, 2),
            (18, 1),
            (21, 9),
            (22, 10),
            (23, 11),
            (24, 12),
            (25, 13),
            (26, 14),
            (27, 15),
            (28, 16),
            (31, 24),
            (32, 23),
            (33, 22),
            (34, 21),
            (35, 20),
            (36, 19),
            (37, 18),
            (38, 17),
            (41, 25),
            (42, 26),
            (43, 27),
            (44, 28),
            (45, 29),
            (46, 30),
            (47, 31),
            (48, 32),
        ];
        for (number, universal) in pairs {
            let tooth = fdi(&number.to_string());
            assert_eq!(tooth.universal(), universal.to_string());
            let back = ToothNumber::parse(ToothNotation::Universal, &universal.to_string());
            assert_eq!(back.unwrap().fdi(), number);
        }
    }

    /// A–J upper right to left, K–T lower left to right (MEM-H).
    #[test]
    fn deciduous_letters_run_round_the_arches() {
        let order = [
            55, 54, 53, 52, 51, 61, 62, 63, 64, 65, 75, 74, 73, 72, 71, 81, 82, 83, 84, 85,
        ];
        for (i, number) in order.into_iter().enumerate() {
            let letter = char::from(b'A' + i as u8).to_string();
            assert_eq!(fdi(&number.to_string()).universal(), letter);
            let back = ToothNumber::parse(ToothNotation::Universal, &letter).unwrap();
            assert_eq!(back.fdi(), number);
        }
    }

    #[test]
    fn numbers_that_are_no_teeth_are_refused() {
        for bad in [
            "0", "19", "10", "49", "56", "90", "-1", "3.6", "", "MB", "999",
        ] {
            assert!(
                ToothNumber::parse(ToothNotation::Fdi, bad).is_err(),
                "{bad}"
            );
        }
        for bad in ["0", "33", "U", "", "1A"] {
            assert!(
                ToothNumber::parse(ToothNotation::Universal, bad).is_err(),
                "{bad}"
            );
        }
    }

    #[test]
    fn means_lie_inside_their_ranges() {
        for quadrant in 1..=4 {
            for position in 1..=8 {
                let length = fdi(&format!("{quadrant}{position}"))
                    .published_total_length()
                    .unwrap();
                assert!(length.range_mm.0 < length.mean_mm && length.mean_mm < length.range_mm.1);
            }
        }
        assert_eq!(fdi("55").published_total_length(), None);
    }
}
