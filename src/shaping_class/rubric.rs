//! The rubric of a class that shapes: limits a shaped canal is held against.

use std::path::Path;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::measures::ShapingMeasure;
use crate::atomic_file;
use crate::grading::rubric::{Judged, RubricLine};
use crate::input_file;

/// Value of the `format` key in every rubric for shaping.
pub const FORMAT: &str = "lengthfilm-shaping-rubric";
/// Newest version this program reads.
const VERSION: u32 = 1;
/// Largest rubric read, bytes.
const MAX_BYTES: u64 = 1 << 20;
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
    /// Reads and checks a rubric file.
    ///
    /// # Errors
    /// One clear line without the path.
    pub fn load(path: &Path) -> Result<Self, String> {
        let bytes =
            input_file::read(path, MAX_BYTES).map_err(|e| atomic_file::reading_reason(&e))?;
        let rubric: Self = serde_json::from_slice(&bytes)
            .map_err(|e| format!("{e}; docs/before-after.md says what is expected"))?;
        match rubric.fault() {
            None => Ok(rubric),
            Some(fault) => Err(fault),
        }
    }

    /// The rubric as it stands in a file.
    pub fn to_json(&self) -> String {
        let mut text = serde_json::to_string_pretty(self).expect("a rubric has string keys only");
        text.push('\n');
        text
    }

    /// What is wrong with the rubric, if anything.
    pub fn fault(&self) -> Option<String> {
        if self.format != FORMAT {
            return Some(format!(
                "not a rubric for shaping (its \"format\" is not \"{FORMAT}\")"
            ));
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
        if self.lines.is_empty() {
            return Some("a rubric needs at least one line".to_owned());
        }
        self.lines.iter().enumerate().find_map(|(index, line)| {
            let twice = self.lines[..index]
                .iter()
                .any(|other| other.measure == line.measure && other.canal == line.canal);
            let fault = match twice {
                true => Some("this measure has a line already"),
                false => line.fault(),
            };
            fault.map(|fault| format!("line {} ({}): {fault}", index + 1, line.measure.key()))
        })
    }

    /// The lines that hold for a canal: its own before those for all.
    pub fn lines_for(&self, canal: &str) -> Vec<&RubricLine<ShapingMeasure>> {
        let own = |line: &RubricLine<ShapingMeasure>| line.canal.as_deref() == Some(canal);
        let holds = |line: &&RubricLine<ShapingMeasure>| match &line.canal {
            Some(_) => own(line),
            None => !self
                .lines
                .iter()
                .any(|other| own(other) && other.measure == line.measure),
        };
        self.lines.iter().filter(holds).collect()
    }
}
