//! The assessment in words.

use crate::curvature::DifficultyClass;
use crate::measure::assessment_findings::{AssessmentFinding, RowFinding};
use crate::measure::class_probabilities::ClassProbabilities;
use crate::uncertainty::rounding::with_u95;

/// Classes less likely than this are not named.
const LEAST_IN_WORDS: f64 = 0.005;

/// A class with the probabilities of all, the likeliest first: "moderate 84 %,
/// high 16 %"; the class alone where it is certain or nothing is known of it.
pub fn share_words(class: DifficultyClass, shares: Option<ClassProbabilities>) -> String {
    let Some(shares) = shares else {
        return class.label().to_owned();
    };
    let mut likely: Vec<_> = DifficultyClass::ALL
        .into_iter()
        .map(|class| (class, shares.of(class)))
        .filter(|(_, share)| *share >= LEAST_IN_WORDS)
        .collect();
    likely.sort_by(|a, b| b.1.total_cmp(&a.1));
    match likely[..] {
        [] => class.label().to_owned(),
        [(only, _)] => only.label().to_owned(),
        _ => {
            let parts = likely
                .iter()
                .map(|(class, share)| format!("{} {:.0} %", class.label(), 100.0 * share));
            parts.collect::<Vec<_>>().join(", ")
        }
    }
}

/// [`share_words`] of a row; "not assessed" for an open one.
pub fn class_words(row: &RowFinding) -> String {
    row.class.map_or_else(
        || "not assessed".to_owned(),
        |class| share_words(class, row.probabilities),
    )
}

impl RowFinding {
    /// Where the class comes from: "measured: canal MB, Schneider's angle,
    /// 24 ± 4°"; empty for an open row.
    pub fn source_words(&self) -> String {
        let measured = self.measured.as_ref().map(|measured| {
            let unit = if measured.unit == "deg" {
                "°"
            } else {
                measured.unit
            };
            match measured.value {
                Some(value) => format!("{}, {}", measured.from, with_u95(value, unit)),
                None => measured.from.clone(),
            }
        });
        match (self.source, measured) {
            (Some("entered"), Some(measured)) => {
                let film = self.measured.as_ref();
                let says = film.map(|film| share_words(film.class, film.probabilities));
                format!(
                    "entered; the film: {} ({measured})",
                    says.unwrap_or_default()
                )
            }
            (Some("entered"), None) => "entered".to_owned(),
            (Some("measured"), Some(measured)) => format!("measured: {measured}"),
            (Some(_), Some(measured)) => measured,
            _ => String::new(),
        }
    }
}

impl AssessmentFinding {
    /// The class of the case in one sentence with what is open; `None` where
    /// nothing was assessed.
    pub fn whole_words(&self) -> Option<String> {
        let so_far = self.so_far?;
        let shares = share_words(so_far, self.probabilities);
        let of = self.rows_assessed + self.rows_open;
        Some(match (self.rows_open, self.class) {
            (0, _) => format!("{shares} (all {of} rows assessed)"),
            (open, Some(_)) => format!(
                "{shares} ({} of {of} rows assessed, {open} open)",
                self.rows_assessed
            ),
            (open, None) => format!(
                "at least {} so far: {shares} ({} of {of} rows assessed, {open} open; an open row \
                 can only raise it)",
                so_far.label(),
                self.rows_assessed
            ),
        })
    }
}
