//! What the check finds, one line each.

use serde::Serialize;

use super::sketch::FilmSketch;

/// Something the user should know before measuring.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FilmRemark {
    /// Stable code.
    pub code: &'static str,
    /// One line in plain words.
    pub text: String,
}

/// More than this share of the samples at the first or last level is too much
/// (our own limit).
const MOST_CLIPPED: f64 = 0.01;
/// Noise below the step between two levels of an 8-bit film, √12 of it to the
/// standard deviation of rounding, is not known (derived).
const ROUNDING: f64 = 0.3 / 255.0;

/// What a film shows of its making.
pub fn film_remarks(sketch: &FilmSketch) -> Vec<FilmRemark> {
    let mut remarks = Vec::new();
    let mut say = |code, text| remarks.push(FilmRemark { code, text });
    let unexposed = sketch.unexposed_share();
    if unexposed > 0.0 {
        say(
            "unexposed",
            format!(
                "{:.0} % of the film, at its border, shows nothing.",
                (100.0 * unexposed).max(1.0)
            ),
        );
    }
    let clipped = sketch.clipped_elsewhere();
    if clipped > MOST_CLIPPED {
        say(
            "clipped",
            format!(
                "{:.0} % of the samples are fully black or white: detail is lost there.",
                100.0 * clipped
            ),
        );
    }
    if sketch.noise.correlated {
        say(
            "smoothed",
            "The film was smoothed or resampled: its true detail is coarser than its pixels."
                .to_owned(),
        );
    }
    if sketch.noise.scaled[0] < ROUNDING {
        say(
            "noise_unknown",
            "The noise is finer than the grey levels and is not known.".to_owned(),
        );
    }
    remarks
}
