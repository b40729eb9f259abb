//! The lines of a rubric, whatever is judged: a trace or a shaped canal.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::measures::Measure;
use super::reference_canal::is_same_name;
use crate::uncertainty::rounding::spaced;

/// What a line of a rubric judges.
pub trait Judged: Copy + PartialEq {
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

/// Whether line `index` holds for the canal of that name: its own line goes
/// before that of the same measure for all canals.
pub fn holds_for<M: Judged>(lines: &[RubricLine<M>], index: usize, canal: &str) -> bool {
    let is_own = |line: &RubricLine<M>| {
        let own = line.canal.as_ref();
        own.is_some_and(|own| is_same_name(own, canal))
    };
    let line = &lines[index];
    match &line.canal {
        Some(_) => is_own(line),
        None => !lines
            .iter()
            .any(|other| other.measure == line.measure && is_own(other)),
    }
}

/// What is wrong with the lines, if anything.
pub fn fault<M: Judged>(lines: &[RubricLine<M>]) -> Option<String> {
    if lines.is_empty() {
        return Some("a rubric needs at least one line".to_owned());
    }
    lines.iter().enumerate().find_map(|(index, line)| {
        let same_canal = |other: &RubricLine<M>| match (&other.canal, &line.canal) {
            (None, None) => true,
            (Some(one), Some(two)) => is_same_name(one, two),
            _ => false,
        };
        let twice = lines[..index]
            .iter()
            .any(|other| other.measure == line.measure && same_canal(other));
        let fault = match twice {
            true => Some("this measure has a line already"),
            false => line.fault(),
        };
        fault.map(|fault| format!("line {} ({}): {fault}", index + 1, line.measure.key()))
    })
}
