//! The files of a film, one to each tip that the reader names.

use super::AssistError;
use super::file_line::{ReadFile, file_to_tip};
use super::reader::{FilmReading, Sign};
use crate::progress::Progress;
use crate::units::FilmPoint;

/// Tips less likely than this are not tried: what they lead to is never used.
const LEAST_TIP: f32 = 0.06;
/// Files in one film, at most.
const MOST_FILES: usize = 8;
/// Two lines that end this near to one another are one file, mm.
const SAME_TIP_MM: f64 = 0.5;

/// All files, surest first.
///
/// # Errors
/// [`AssistError::Cancelled`].
pub(super) fn find_files(
    reading: &FilmReading,
    px_per_mm: f64,
    progress: &Progress,
) -> Result<Vec<ReadFile>, AssistError> {
    let mut files: Vec<ReadFile> = Vec::new();
    for tip in reading.peaks(Sign::Tip, LEAST_TIP).iter().take(MOST_FILES) {
        let near = |p: FilmPoint| p.distance_px(tip.place) < SAME_TIP_MM * px_per_mm;
        if files.iter().filter_map(|f| f.line.last()).any(|p| near(*p)) {
            continue;
        }
        files.extend(file_to_tip(reading, tip, None, px_per_mm, progress)?);
    }
    files.sort_by(|a, b| b.tip_confidence().total_cmp(&a.tip_confidence()));
    Ok(files)
}
