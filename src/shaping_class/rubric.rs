//! The rubric of a class that shapes: limits a shaped canal is held against.

use std::path::Path;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::measures::ShapingMeasure;
use crate::grading::rubric_file::{self, Head, RubricError, RubricFile};
use crate::grading::rubric_line::{RubricLine, holds_for};

/// Value of the `format` key in every rubric for shaping.
pub const FORMAT: &str = "lengthfilm-shaping-rubric";
/// Newest version this program reads.
const VERSION: u32 = 1;
const OWN_LIMIT: &str = "our own limit";

/// Limits and what they are worth.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ShapingRubric {
    /// Always `lengthfilm-shaping-rubric`.
    pub format: String,
    /// 1.
    pub version: u32,
    /// The rubric's name.
    pub name: String,
    /// Share of the points that passes a canal, 0–1.
    pub pass_share: f64,
    /// The limits, one line each.
    pub lines: Vec<RubricLine<ShapingMeasure>>,
}

impl Default for ShapingRubric {
    /// The built-in rubric.
    fn default() -> Self {
        use ShapingMeasure::*;
        let up_to = |measure, limit| RubricLine::within(measure, None, limit, OWN_LIMIT);
        let both =
            |measure, limit: f64| RubricLine::within(measure, Some(-limit), limit, OWN_LIMIT);
        Self {
            format: FORMAT.to_owned(),
            version: VERSION,
            name: "built-in".to_owned(),
            pass_share: 0.75,
            lines: vec![
                up_to(GreatestTransportMm, 0.3),
                RubricLine {
                    at_most: None,
                    ..RubricLine::within(MeanCentringRatio, Some(0.5), 1.0, OWN_LIMIT)
                },
                both(SchneiderStraighteningDeg, 5.0),
                both(LengthChangeMm, 0.5).required(),
                up_to(Zips, 0.0),
                up_to(Ledges, 0.0),
                up_to(Perforations, 0.0).required(),
            ],
        }
    }
}

impl ShapingRubric {
    /// The built-in rubric of an exercise set: how near the truth the student
    /// measures. Clicks of 0.03 mm stay within (docs/practice.md).
    pub fn exercise() -> Self {
        use ShapingMeasure::*;
        let up_to = |measure, limit| RubricLine::within(measure, None, limit, OWN_LIMIT);
        Self {
            name: "built-in, exercise".to_owned(),
            lines: vec![
                up_to(EndErrorMm, 0.3),
                up_to(WidthErrorMm, 0.1),
                up_to(TransportErrorMm, 0.15),
                up_to(ZipsMistaken, 0.0),
            ],
            ..Self::default()
        }
    }

    /// Reads and checks a rubric file.
    ///
    /// # Errors
    /// [`RubricError`], one clear line.
    pub fn load(path: &Path) -> Result<Self, RubricError> {
        rubric_file::load(path, Self::fault)
    }

    /// What is wrong with the rubric, if anything.
    pub fn fault(&self) -> Option<String> {
        rubric_file::fault(self)
    }

    /// The rubric as it stands in a file.
    pub fn to_json(&self) -> String {
        rubric_file::to_json(self)
    }

    /// The lines that hold for a canal: its own before those for all.
    pub fn lines_for(&self, canal: &str) -> Vec<&RubricLine<ShapingMeasure>> {
        (0..self.lines.len())
            .filter(|&index| holds_for(&self.lines, index, canal))
            .map(|index| &self.lines[index])
            .collect()
    }
}

impl RubricFile for ShapingRubric {
    const FORMAT: &'static str = FORMAT;
    const VERSION: u32 = VERSION;
    const KIND: &'static str = "rubric for shaping";
    const EXPECTED_IN: &'static str = "docs/before-after.md";
    type Measure = ShapingMeasure;

    fn head(&self) -> Head<'_> {
        Head {
            format: &self.format,
            version: self.version,
            pass_share: self.pass_share,
        }
    }

    fn lines(&self) -> &[RubricLine<ShapingMeasure>] {
        &self.lines
    }
}
