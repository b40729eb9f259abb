//! The files of a film, one to each tip that the reader names.

use super::AssistError;
use super::file_ends::{FoundFile, found_file};
use super::file_line::file_to_tip;
use super::reader::{FilmReading, Sign};
use crate::film::Film;
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
    film: &Film,
    reading: &FilmReading,
    px_per_mm: f64,
    progress: &Progress,
) -> Result<Vec<FoundFile>, AssistError> {
    let is_known = |files: &[FoundFile], tip: FilmPoint| {
        let mut tips = files.iter().filter_map(|f| f.line.last());
        tips.any(|p| p.distance_px(tip) < SAME_TIP_MM * px_per_mm)
    };
    let mut files: Vec<FoundFile> = Vec::new();
    for tip in reading.peaks(Sign::Tip, LEAST_TIP).iter().take(MOST_FILES) {
        if is_known(&files, tip.place) {
            continue;
        }
        let Some(read) = file_to_tip(reading, tip, px_per_mm, progress)? else {
            continue;
        };
        let Some(found) = found_file(film, reading, &read, None, px_per_mm) else {
            continue;
        };
        // The line may end at a file's tip that is known by now.
        if found.line.last().is_some_and(|tip| !is_known(&files, *tip)) {
            files.push(found);
        }
    }
    files.sort_by(|a, b| b.tip_confidence.total_cmp(&a.tip_confidence));
    Ok(files)
}
