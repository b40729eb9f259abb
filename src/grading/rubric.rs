//! The rubric: limits a trace is held against (docs/rubric.schema.json).

use std::path::Path;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::measures::Measure;
pub use super::rubric_file::RubricError;
use super::rubric_file::{self, Head, RubricFile};
use super::rubric_line;
pub use super::rubric_line::{Judged, RubricLine};
use crate::curvature::CurvatureQuantity;

/// Value of the `format` key in every rubric.
pub const FORMAT: &str = "lengthfilm-rubric";
/// Newest rubric version this program reads.
pub const VERSION: u32 = 1;
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
                    "Liang et al. 2012, Clin Oral Investig 16:1619–26: 0–2 mm short of the apex; others say 0.5–2 mm (Int J Dent 2015:135120, authors not seen) or 0–3 mm (Vukadinov et al. 2014, Sci World J 2014:751274)",
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
        rubric_file::load(path, Self::fault)
    }

    /// The rubric as it stands in a file.
    pub fn to_json(&self) -> String {
        rubric_file::to_json(self)
    }

    /// Whether line `index` holds for the canal of that name.
    pub fn holds_for(&self, index: usize, canal: &str) -> bool {
        rubric_line::holds_for(&self.lines, index, canal)
    }

    /// What is wrong with the rubric, if anything.
    pub fn fault(&self) -> Option<String> {
        let stray = (self.stray_mm.is_nan() || self.stray_mm <= 0.0)
            .then(|| "stray_mm must be above 0".to_owned());
        rubric_file::fault(self).or(stray)
    }
}

impl RubricFile for Rubric {
    const FORMAT: &'static str = FORMAT;
    const VERSION: u32 = VERSION;
    const KIND: &'static str = "rubric";
    const EXPECTED_IN: &'static str = "docs/rubric.schema.json";
    type Measure = Measure;

    fn head(&self) -> Head<'_> {
        Head {
            format: &self.format,
            version: self.version,
            pass_share: self.pass_share,
        }
    }

    fn lines(&self) -> &[RubricLine] {
        &self.lines
    }
}
