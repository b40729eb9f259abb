//! The rubric: limits a trace is held against (docs/rubric.schema.json).

use std::fs;
use std::path::{Path, PathBuf};

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use thiserror::Error;

use super::measures::Measure;
use super::reference_canal::is_same_name;
use crate::atomic_file;
use crate::curvature::CurvatureQuantity;
use crate::input_file;
use crate::uncertainty::rounding::spaced;

/// Value of the `format` key in every rubric.
pub const FORMAT: &str = "lengthfilm-rubric";
/// Newest rubric version this program reads.
pub const VERSION: u32 = 1;
/// Largest rubric read, bytes.
const MAX_RUBRIC_BYTES: u64 = 1 << 20;
const OWN_LIMIT: &str = "our own limit";

/// Limits and what they are worth.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Rubric {
    /// Always `lengthfilm-rubric`.
    pub format: String,
    /// 1.
    pub version: u32,
    /// The rubric's name.
    pub name: String,
    /// Share of the points that passes a canal, 0–1.
    pub pass_share: f64,
    /// Stretches where a trace strays farther than this are told in words, mm.
    pub stray_mm: f64,
    /// Which attempt of a student counts; absent: the last.
    #[serde(default)]
    pub attempt: Attempt,
    /// A canal whose trace was suggested, and not moved since, earns nothing.
    #[serde(default)]
    pub forbid_assisted: bool,
    /// A canal whose points are those of another hand-in earns nothing.
    #[serde(default)]
    pub forbid_copied: bool,
    /// The limits, one line each.
    pub lines: Vec<RubricLine>,
}

/// Which of a student's attempts counts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Attempt {
    First,
    #[default]
    Last,
    /// That with the greatest share of the points, the earlier of equals.
    Best,
}

impl Attempt {
    /// Every choice.
    pub const ALL: [Attempt; 3] = [Attempt::First, Attempt::Last, Attempt::Best];

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Attempt::First => "first",
            Attempt::Last => "last",
            Attempt::Best => "best",
        }
    }
}

/// What a line of a rubric judges.
pub trait Judged: Copy {
    /// The key in JSON and CSV.
    fn key(self) -> &'static str;
    /// In words, as a sentence begins with them.
    fn words(self) -> &'static str;
    /// The unit's sign; empty for a count or a ratio.
    fn unit(self) -> &'static str;
}

impl Judged for Measure {
    fn key(self) -> &'static str {
        Measure::key(self)
    }

    fn words(self) -> &'static str {
        Measure::words(self)
    }

    fn unit(self) -> &'static str {
        Measure::unit(self)
    }
}

/// One limit: the measure must lie in `at_least`–`at_most`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "RubricLine")]
pub struct RubricLine<M = Measure> {
    /// What is held against the limit.
    pub measure: M,
    /// Least value that meets it, unit of the measure.
    #[serde(default)]
    pub at_least: Option<f64>,
    /// Greatest value that meets it, unit of the measure.
    #[serde(default)]
    pub at_most: Option<f64>,
    /// What meeting it is worth.
    pub points: f64,
    /// Outside the limit the points fall to none over this much more, in a
    /// straight line; absent: no points outside.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub partial_over: Option<f64>,
    /// Name of the only canal this holds for; it takes the place of the line
    /// of the same measure that holds for all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub canal: Option<String>,
    /// A canal that does not meet it does not pass, whatever else it earns.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub required: bool,
    /// Where the limit comes from.
    pub source: String,
}

/// Why a rubric cannot be used: one clear line.
#[derive(Debug, Error)]
pub enum RubricError {
    #[error("{path}: {reason}")]
    Read { path: PathBuf, reason: String },
    #[error("{path}: {source}; docs/rubric.schema.json says what is expected")]
    Shape {
        path: PathBuf,
        source: serde_json::Error,
    },
    #[error("{path}: {reason}")]
    Invalid { path: PathBuf, reason: String },
}

impl<M: Judged> RubricLine<M> {
    /// One point for a value from `low` to `high`.
    pub fn within(measure: M, low: Option<f64>, high: f64, source: &str) -> Self {
        Self {
            measure,
            at_least: low,
            at_most: Some(high),
            points: 1.0,
            partial_over: None,
            canal: None,
            required: false,
            source: source.to_owned(),
        }
    }

    /// The same, and a canal that does not meet it does not pass.
    #[must_use]
    pub fn required(self) -> Self {
        Self {
            required: true,
            ..self
        }
    }

    /// How far outside the limit `value` lies, unit of the measure; 0 within.
    pub fn outside_by(&self, value: f64) -> f64 {
        let below = self.at_least.map_or(0.0, |low| low - value);
        let above = self.at_most.map_or(0.0, |high| value - high);
        below.max(above).max(0.0)
    }

    /// The points that `value` earns.
    pub fn points_of(&self, value: f64) -> f64 {
        if self.is_met_by(value) {
            return self.points;
        }
        let over = self.partial_over.unwrap_or(0.0);
        if over > 0.0 && value.is_finite() {
            self.points * (1.0 - self.outside_by(value) / over).max(0.0)
        } else {
            0.0
        }
    }

    /// Half the width of the limit: the largest uncertainty (95 %) at which
    /// the line can be judged. `None` for a limit that is open to one side and
    /// has no width but its own number.
    pub fn half_width(&self) -> Option<f64> {
        match (self.at_least, self.at_most) {
            (Some(low), Some(high)) => Some((high - low) / 2.0),
            (None, Some(high)) => Some(high.abs()),
            (Some(low), None) => Some(low.abs()),
            (None, None) => None,
        }
    }

    /// The limit in words: `± 0.5 mm`, `at most 0.2 mm`, `0 to 2 mm`.
    pub fn limit_words(&self) -> String {
        let unit = spaced(self.measure.unit());
        match (self.at_least, self.at_most) {
            (Some(low), Some(high)) if low == -high => format!("± {high}{unit}"),
            (Some(low), Some(high)) => format!("{low} to {high}{unit}"),
            (Some(low), None) => format!("at least {low}{unit}"),
            (None, Some(high)) => format!("at most {high}{unit}"),
            (None, None) => "any".to_owned(),
        }
    }

    /// What is wrong with the line by itself, if anything.
    pub fn fault(&self) -> Option<&'static str> {
        if self
            .partial_over
            .is_some_and(|over| !(over.is_finite() && over > 0.0))
        {
            return Some("partial_over must be above 0");
        }
        if self
            .canal
            .as_ref()
            .is_some_and(|canal| canal.trim().is_empty())
        {
            return Some("the canal has no name");
        }
        match (self.at_least, self.at_most) {
            (None, None) => Some("give at_least, at_most or both"),
            (Some(low), Some(high)) if low > high => Some("at_least is above at_most"),
            _ if !(self.points.is_finite() && self.points > 0.0) => Some("points must be above 0"),
            _ => None,
        }
    }

    /// Whether `value` meets the limit.
    pub fn is_met_by(&self, value: f64) -> bool {
        self.at_least.is_none_or(|low| value >= low)
            && self.at_most.is_none_or(|high| value <= high)
    }
}

impl Default for Rubric {
    /// The built-in rubric.
    fn default() -> Self {
        use Measure::*;
        let agrees =
            "our own limit; 0.5 mm is a convention for two lengths that agree, no guideline";
        let both =
            |measure, limit: f64| RubricLine::within(measure, Some(-limit), limit, OWN_LIMIT);
        let up_to = |measure, limit| RubricLine::within(measure, None, limit, OWN_LIMIT);
        Self {
            format: FORMAT.to_owned(),
            version: VERSION,
            name: "built-in".to_owned(),
            pass_share: 0.75,
            stray_mm: 0.2,
            attempt: Attempt::default(),
            forbid_assisted: false,
            forbid_copied: false,
            lines: vec![
                up_to(MeanDistanceMm, 0.2),
                up_to(Percentile95Mm, 0.5),
                both(LengthErrorMm, 0.5),
                up_to(ApexErrorMm, 0.5),
                up_to(TipErrorMm, 0.5),
                RubricLine::within(ChartErrorMm, Some(-0.5), 0.5, agrees).required(),
                RubricLine::within(
                    WorkingEndToApexMm,
                    Some(0.0),
                    2.0,
                    "Liang et al. 2012 (PMC3501171): 0–2 mm short of the apex; others say 0.5–2 (Int J Dent 2015:135120) or 0–3 mm (Sci World J 2014:751274)",
                )
                .required(),
                both(ScaleErrorPercent, 5.0),
                both(Curvature(CurvatureQuantity::Schneider), 5.0),
            ],
        }
    }
}

impl Rubric {
    /// Reads and checks a rubric file.
    ///
    /// # Errors
    /// [`RubricError`], one clear line.
    pub fn load(path: &Path) -> Result<Self, RubricError> {
        let unreadable = |reason: String| RubricError::Read {
            path: path.to_owned(),
            reason,
        };
        let unread = |error| unreadable(atomic_file::reading_reason(&error));
        let size = fs::metadata(path).map_err(unread)?.len();
        if size > MAX_RUBRIC_BYTES {
            return Err(unreadable("too large for a rubric".to_owned()));
        }
        let bytes = input_file::read(path, MAX_RUBRIC_BYTES).map_err(unread)?;
        let rubric: Self = serde_json::from_slice(&bytes).map_err(|source| RubricError::Shape {
            path: path.to_owned(),
            source,
        })?;
        match rubric.fault() {
            None => Ok(rubric),
            Some(reason) => Err(RubricError::Invalid {
                path: path.to_owned(),
                reason,
            }),
        }
    }

    /// The rubric as it stands in a file.
    pub fn to_json(&self) -> String {
        let mut text = serde_json::to_string_pretty(self).expect("a rubric has string keys only");
        text.push('\n');
        text
    }

    /// Whether line `index` holds for the canal of that name.
    pub fn holds_for(&self, index: usize, canal: &str) -> bool {
        let line = &self.lines[index];
        match &line.canal {
            Some(own) => is_same_name(own, canal),
            None => !self.lines.iter().any(|other| {
                let of_canal = other
                    .canal
                    .as_ref()
                    .is_some_and(|own| is_same_name(own, canal));
                other.measure == line.measure && of_canal
            }),
        }
    }

    /// What is wrong with the rubric, if anything.
    pub fn fault(&self) -> Option<String> {
        if self.format != FORMAT {
            return Some(format!("not a rubric (its \"format\" is not \"{FORMAT}\")"));
        }
        if self.version != VERSION {
            return Some(format!(
                "rubric version {} is not known ({VERSION})",
                self.version
            ));
        }
        if !(0.0..=1.0).contains(&self.pass_share) {
            return Some("pass_share must lie in 0–1".to_owned());
        }
        if self.stray_mm.is_nan() || self.stray_mm <= 0.0 {
            return Some("stray_mm must be above 0".to_owned());
        }
        if self.lines.is_empty() {
            return Some("a rubric needs at least one line".to_owned());
        }
        self.lines.iter().enumerate().find_map(|(index, line)| {
            let name = format!("line {} ({})", index + 1, line.measure.key());
            let same_canal = |other: &RubricLine| match (&other.canal, &line.canal) {
                (None, None) => true,
                (Some(one), Some(two)) => is_same_name(one, two),
                _ => false,
            };
            if self.lines[..index]
                .iter()
                .any(|l| l.measure == line.measure && same_canal(l))
            {
                return Some(format!("{name}: this measure has a line already"));
            }
            line.fault().map(|fault| format!("{name}: {fault}"))
        })
    }
}
