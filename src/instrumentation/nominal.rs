//! The nominal geometry of a file: its diameter against the distance from its
//! tip.

use thiserror::Error;

use super::colour::{StandardSize, colour_of, tip_tolerance_mm};

/// Length of the working part where none is given, mm (ISO 3630-1: at least
/// 16, MEM-H).
pub const WORKING_PART_MM: f64 = 16.0;

/// Sizes of ISO 3630-1, hundredths of a millimetre.
const SIZES: (f64, f64) = (6.0, 140.0);
/// No taper at all up to the greatest in use (common practice, no source).
const TAPERS: (f64, f64) = (0.0, 0.12);
/// Lengths of a working part, mm (our choice).
const WORKING_PARTS_MM: (f64, f64) = (4.0, 30.0);
/// Diameters of a variable taper, mm (our choice).
const DIAMETERS_MM: (f64, f64) = (0.05, 2.0);
/// Most diameters of a variable taper.
const MOST_STATIONS: usize = 32;
/// How far short of the working length a file may be set, mm (our choice).
const STEP_BACKS_MM: (f64, f64) = (0.0, 16.0);

/// Why something is no file; one clear line each.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum FileError {
    /// Not written as a file.
    #[error(
        "\"{text}\": not a file; write size and taper, for example 25/.06, or diameters from the \
         tip, for example 0=0.25,3=0.43,16=0.86; a step-back follows a colon, for example \
         30/.02:1"
    )]
    Unreadable { text: String },
    /// A number outside what a file can have.
    #[error("{what} {found} is not possible; give a value from {least} to {greatest}{unit}")]
    OutOfRange {
        what: &'static str,
        found: f64,
        least: f64,
        greatest: f64,
        unit: &'static str,
    },
    /// Diameters that are not a list from the tip up.
    #[error(
        "diameters: give 2 to {MOST_STATIONS} of them, the first at the tip (0) and each farther \
         from it than the one before"
    )]
    Stations,
    /// Neither size with taper nor diameters.
    #[error("a shaping file needs a size and a taper, or diameters_mm")]
    Incomplete,
    /// Both.
    #[error("a shaping file has either a size and a taper, or diameters_mm, not both")]
    Both,
}

/// A file by its nominal diameters.
#[derive(Clone, Debug, PartialEq)]
pub struct NominalFile {
    /// `[from the tip, diameter]`, mm, from 0 to the end of the working part.
    stations: Vec<[f64; 2]>,
    /// mm per mm; `None`: variable.
    taper: Option<f64>,
}

impl NominalFile {
    /// A file of one taper: tip diameter `size` hundredths of a millimetre,
    /// D(x) = D0 + taper·x over `working_part_mm`.
    ///
    /// # Errors
    /// [`FileError::OutOfRange`].
    pub fn tapered(size: f64, taper: f64, working_part_mm: f64) -> Result<Self, FileError> {
        in_range("size", size, SIZES, "")?;
        in_range("taper", taper, TAPERS, "")?;
        in_range("working part", working_part_mm, WORKING_PARTS_MM, " mm")?;
        let tip = size / 100.0;
        Ok(Self {
            stations: vec![[0.0, tip], [working_part_mm, tip + taper * working_part_mm]],
            taper: Some(taper),
        })
    }

    /// A file of ISO 3630-1: taper 0.02 over 16 mm.
    ///
    /// # Errors
    /// [`FileError::OutOfRange`].
    pub fn iso(size: f64) -> Result<Self, FileError> {
        Self::tapered(size, 0.02, WORKING_PART_MM)
    }

    /// A file of variable taper through diameters at stated places
    /// `[from the tip, diameter]`, mm; straight between them.
    ///
    /// # Errors
    /// [`FileError::Stations`], [`FileError::OutOfRange`].
    pub fn variable(stations: &[[f64; 2]]) -> Result<Self, FileError> {
        let ascending = stations.windows(2).all(|pair| pair[0][0] < pair[1][0]);
        let from_tip = stations.first().is_some_and(|first| first[0] == 0.0);
        if !(from_tip && ascending && (2..=MOST_STATIONS).contains(&stations.len())) {
            return Err(FileError::Stations);
        }
        for &[_, diameter] in stations {
            in_range("diameter", diameter, DIAMETERS_MM, " mm")?;
        }
        let working_part = stations[stations.len() - 1][0];
        in_range("working part", working_part, WORKING_PARTS_MM, " mm")?;
        in_range("size", 100.0 * stations[0][1], SIZES, "")?;
        Ok(Self {
            stations: stations.to_vec(),
            taper: None,
        })
    }

    /// Reads `25/.06`, `25/06`, `25/.06/18` (working part 18 mm) or
    /// `0=0.25,3=0.43,16=0.86`.
    ///
    /// # Errors
    /// [`FileError`], one line.
    pub fn parse(text: &str) -> Result<Self, FileError> {
        let unreadable = || FileError::Unreadable {
            text: text.to_owned(),
        };
        let number = |text: &str| -> Result<f64, FileError> {
            let number: f64 = text.trim().parse().map_err(|_| unreadable())?;
            Some(number)
                .filter(|n| n.is_finite())
                .ok_or_else(unreadable)
        };
        if text.contains('=') {
            let stations: Result<Vec<_>, FileError> = text
                .split(',')
                .map(|station| {
                    let (from_tip, diameter) = station.split_once('=').ok_or_else(unreadable)?;
                    Ok([number(from_tip)?, number(diameter)?])
                })
                .collect();
            return Self::variable(&stations?);
        }
        let parts: Vec<&str> = text.split('/').map(str::trim).collect();
        let (size, taper, working_part) = match parts.as_slice() {
            [size, taper] => (*size, *taper, WORKING_PART_MM),
            [size, taper, working_part] => (*size, *taper, number(working_part)?),
            _ => return Err(unreadable()),
        };
        // As engraved: 06 stands for six hundredths.
        let in_hundredths = !taper.contains('.');
        let taper = number(taper)? / if in_hundredths { 100.0 } else { 1.0 };
        Self::tapered(number(size)?, taper, working_part)
    }

    /// Tip diameter in hundredths of a millimetre.
    pub fn size(&self) -> f64 {
        // Sizes are whole hundredths; the product need not be.
        (1e4 * self.stations[0][1]).round() / 100.0
    }

    /// Taper, mm per mm; `None`: variable.
    pub fn taper(&self) -> Option<f64> {
        self.taper
    }

    /// Length of the working part, mm.
    pub fn working_part_mm(&self) -> f64 {
        self.stations[self.stations.len() - 1][0]
    }

    /// `[from the tip, diameter]`, mm, tip first.
    pub fn stations_mm(&self) -> &[[f64; 2]] {
        &self.stations
    }

    /// Diameter `from_tip_mm` from the tip, mm; `None` off the working part.
    pub fn diameter_mm(&self, from_tip_mm: f64) -> Option<f64> {
        // A hair of slack for sums that binary fractions cannot hold.
        const SLACK_MM: f64 = 1e-9;
        let end = self.working_part_mm();
        if !(-SLACK_MM..=end + SLACK_MM).contains(&from_tip_mm) {
            return None;
        }
        let x = from_tip_mm.clamp(0.0, end);
        let pair = self.stations.windows(2).find(|pair| x <= pair[1][0])?;
        let [from, to] = [pair[0], pair[1]];
        Some(from[1] + (to[1] - from[1]) * (x - from[0]) / (to[0] - from[0]))
    }

    /// Largest deviation of a diameter that the standard allows, mm.
    pub fn tolerance_mm(&self) -> f64 {
        tip_tolerance_mm(self.size())
    }

    /// The standard's colour of its size.
    pub fn colour(&self) -> Option<StandardSize> {
        colour_of(self.size())
    }

    /// `25/.06`; with the working part where that is not the standard's; of a
    /// variable taper the tip and the end: `25 variable, 0.86 at 16 mm`.
    pub fn label(&self) -> String {
        let size = size_words(self.size());
        let working_part = self.working_part_mm();
        match self.taper {
            Some(taper) => {
                let text = format!("{taper:.4}");
                let digits = text.trim_end_matches('0').trim_start_matches('0');
                // At least two digits, as engraved.
                let digits = format!("{digits:0<3}");
                let length = if (working_part - WORKING_PART_MM).abs() < 1e-9 {
                    String::new()
                } else {
                    format!(", {working_part} mm")
                };
                format!("{size}/{digits}{length}")
            }
            None => {
                let end = self.stations[self.stations.len() - 1];
                format!("{size} variable, {:.2} at {working_part} mm", end[1])
            }
        }
    }

    /// The colour in words: `red`, `red with gold`, `no ISO colour`.
    pub fn colour_words(&self) -> String {
        match self.colour() {
            Some(standard) if standard.half => format!("{} with gold", standard.colour.name()),
            Some(standard) => standard.colour.name().to_owned(),
            None => "no ISO colour".to_owned(),
        }
    }
}

/// `06`, `25`, `12.5`.
fn size_words(size: f64) -> String {
    if size.fract() == 0.0 {
        format!("{size:02.0}")
    } else {
        format!("{size}")
    }
}

/// Checks a step-back.
///
/// # Errors
/// [`FileError::OutOfRange`].
pub fn check_step_back(step_back_mm: f64) -> Result<(), FileError> {
    in_range("step-back", step_back_mm, STEP_BACKS_MM, " mm")
}

fn in_range(
    what: &'static str,
    found: f64,
    (least, greatest): (f64, f64),
    unit: &'static str,
) -> Result<(), FileError> {
    if (least..=greatest).contains(&found) {
        return Ok(());
    }
    Err(FileError::OutOfRange {
        what,
        found,
        least,
        greatest,
        unit,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_are_read_as_they_are_engraved() {
        for (text, label) in [
            ("25/.06", "25/.06"),
            ("25/0.06", "25/.06"),
            ("25/06", "25/.06"),
            ("25/6", "25/.06"),
            ("8/.02", "08/.02"),
            ("30/.045", "30/.045"),
            ("40/0", "40/.00"),
            ("25/.06/18", "25/.06, 18 mm"),
            ("0=0.25,3=0.43,16=0.86", "25 variable, 0.86 at 16 mm"),
        ] {
            assert_eq!(NominalFile::parse(text).unwrap().label(), label);
        }
    }

    #[test]
    fn what_is_no_file_gets_one_clear_line() {
        for (text, said) in [
            ("", "not a file"),
            ("25", "not a file"),
            ("x/.06", "not a file"),
            ("25/NaN", "not a file"),
            ("25/.06/16/2", "not a file"),
            ("5/.02", "size 5 is not possible"),
            ("141/.02", "size 141 is not possible"),
            ("25/.13", "taper 0.13 is not possible"),
            ("25/-.02", "taper -0.02 is not possible"),
            ("25/.06/3", "working part 3 is not possible"),
            ("0=0.25", "diameters"),
            ("1=0.25,16=0.6", "diameters"),
            ("0=0.25,3=0.4,2=0.5", "diameters"),
            ("0=0.25,16=3", "diameter 3 is not possible"),
            ("0=0.25,a=3", "not a file"),
        ] {
            let error = NominalFile::parse(text).unwrap_err().to_string();
            assert!(error.contains(said), "{text}: {error}");
            assert_eq!(error.lines().count(), 1);
        }
    }

    /// ISO 3630-1: D16 = D0 + 0.32 (MEM-H).
    #[test]
    fn diameters_run_straight_between_stations() {
        let file = NominalFile::iso(25.0).unwrap();
        assert!((file.diameter_mm(16.0).unwrap() - 0.57).abs() < 1e-12);
        assert_eq!(file.diameter_mm(16.1), None);
        assert_eq!(file.diameter_mm(-0.1), None);
        let variable = NominalFile::parse("0=0.25,3=0.43,16=0.86").unwrap();
        assert!((variable.diameter_mm(1.5).unwrap() - 0.34).abs() < 1e-12);
        assert!((variable.diameter_mm(9.5).unwrap() - 0.645).abs() < 1e-12);
        assert_eq!(variable.size(), 25.0);
    }
}
