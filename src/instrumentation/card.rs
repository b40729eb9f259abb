//! What a series of files leaves behind: diameters per level.

use super::nominal::NominalFile;

/// Diameter of a canal at one level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Level {
    /// From the apex, mm.
    pub from_apex_mm: f64,
    /// Diameter, mm.
    pub diameter_mm: f64,
}

/// What all files together leave at one level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShapedLevel {
    pub level: Level,
    /// Index of the file that leaves it.
    pub file: usize,
}

/// Whole steps from the apex up to `greatest_mm`, 0 included.
pub fn levels_mm(step_mm: f64, greatest_mm: f64) -> Vec<f64> {
    let count = (greatest_mm / step_mm + 1e-9).floor();
    if !(count.is_finite() && step_mm > 0.0) {
        return Vec::new();
    }
    (0..=count.clamp(0.0, 1000.0) as usize)
        .map(|k| k as f64 * step_mm)
        .collect()
}

/// Diameter that `file` leaves `from_apex_mm` from the apex with its tip at
/// `tip_mm` from it: D(s − tip); `None` where its working part does not reach.
pub fn diameter_left_mm(file: &NominalFile, tip_mm: f64, from_apex_mm: f64) -> Option<f64> {
    file.diameter_mm(from_apex_mm - tip_mm)
}

/// The widest that files leave at a level, each given with its tip from the
/// apex; the first of several. `None` where none reaches.
pub fn shaped_mm(files: &[(NominalFile, f64)], from_apex_mm: f64) -> Option<ShapedLevel> {
    let mut widest: Option<ShapedLevel> = None;
    for (index, (file, tip_mm)) in files.iter().enumerate() {
        let Some(diameter_mm) = diameter_left_mm(file, *tip_mm, from_apex_mm) else {
            continue;
        };
        if widest.is_none_or(|widest| diameter_mm > widest.level.diameter_mm + 1e-12) {
            let level = Level {
                from_apex_mm,
                diameter_mm,
            };
            widest = Some(ShapedLevel { level, file: index });
        }
    }
    widest
}
