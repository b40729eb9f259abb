//! One canal of the reference, of one expert or the consensus of several.

use kurbo::Point;
use thiserror::Error;

use super::consensus::consensus;
use super::distances::runs_backwards;
use super::measures::{Measure, Values};
use super::own::OwnCanal;
use super::path::MeasuredPath;
use crate::statistics::{mean, sample_sd};
use crate::units::FilmPoint;
use crate::working_length::DEFAULT_ALLOWANCE_MM;

/// Places at which a consensus is taken.
pub const CONSENSUS_POINTS: usize = 200;
/// Why there is no reference to grade against: one clear line.
#[derive(Debug, Error)]
pub enum ReferenceError {
    #[error("no reference case is named")]
    None,
    #[error("{0}")]
    Unusable(String),
    #[error("no reference case has a canal with a trace of two or more points")]
    NoCanal,
}

/// One canal of the reference, tooth frame (px without a scale).
#[derive(Clone, Debug)]
pub struct ReferenceCanal {
    /// The canal's name.
    pub name: String,
    /// Experts who traced it.
    pub experts: usize,
    /// The path, orifice → apex.
    pub path: MeasuredPath,
    /// Standard deviation of the experts across the path, at
    /// [`CONSENSUS_POINTS`] equal steps of it; zero for one expert.
    pub spread_across: Vec<f64>,
    /// The same along the path.
    pub spread_along: Vec<f64>,
    /// Mean of the experts' numbers, by the measure their error goes by.
    pub values: Values,
    /// Standard deviation of the same, where several experts have them.
    pub spread: Values,
    /// Mean of the experts' apex marks (else ends of trace).
    pub apex: Point,
    /// Mean of the experts' file tip marks.
    pub tip: Option<Point>,
    /// Expanded uncertainty (95 %) of `values` from the experts' clicks.
    pub u95: Values,
    /// Mean of the experts' lengths from the reference point to the apex, true
    /// mm.
    pub tooth_length_mm: Option<f64>,
    /// The experts' points, px of the film.
    pub traces_px: Vec<Vec<FilmPoint>>,
}

impl ReferenceCanal {
    /// The reference as a student who traced it exactly would have drawn it.
    pub fn as_drawn(&self) -> DrawnCanal {
        DrawnCanal {
            name: self.name.clone(),
            path: self.path.clone(),
            values: self.values.clone(),
            apex: self.apex,
            tip: self.tip,
            allowance_mm: DEFAULT_ALLOWANCE_MM,
            u95: self.u95.clone(),
            own: OwnCanal {
                chart_mm: self.values.get(&Measure::ChartErrorMm).copied(),
                tooth_length_mm: self.tooth_length_mm,
                ..OwnCanal::default()
            },
            assisted: false,
            trace_px: Vec::new(),
            warnings: Vec::new(),
        }
    }
}

/// One canal as someone drew it, measured by the reference's scale. Tooth
/// frame (px without a scale).
#[derive(Clone, Debug)]
pub struct DrawnCanal {
    /// The canal's name.
    pub name: String,
    /// The drawn curve, flattened.
    pub path: MeasuredPath,
    /// Numbers by the measure their error goes by.
    pub values: Values,
    /// Apex mark, else end of trace.
    pub apex: Point,
    /// File tip mark.
    pub tip: Option<Point>,
    /// Allowance in force, mm.
    pub allowance_mm: f64,
    /// Expanded uncertainty (95 %) of `values` from the clicks.
    pub u95: Values,
    /// The canal by its owner's entries.
    pub own: OwnCanal,
    /// The trace was suggested and not moved since.
    pub assisted: bool,
    /// The trace's points, px of the reference's film.
    pub trace_px: Vec<FilmPoint>,
    /// What the user should know.
    pub warnings: Vec<String>,
}

/// Canal names are the same whatever their case and the blanks about them.
pub fn is_same_name(one: &str, other: &str) -> bool {
    one.trim().to_lowercase() == other.trim().to_lowercase()
}

/// The canal `name` from what the experts drew.
///
/// # Errors
/// [`ReferenceError::Unusable`].
pub fn reference_canal(
    name: &str,
    drawn: &[&DrawnCanal],
) -> Result<ReferenceCanal, ReferenceError> {
    let unusable =
        |reason: String| ReferenceError::Unusable(format!("reference canal {name}: {reason}"));
    let mut paths: Vec<MeasuredPath> = Vec::with_capacity(drawn.len());
    for canal in drawn {
        if paths
            .first()
            .is_some_and(|first| runs_backwards(first, &canal.path))
        {
            return Err(unusable(
                "the experts traced it in opposite directions".to_owned(),
            ));
        }
        paths.push(canal.path.clone());
    }
    let agreed = consensus(&paths, CONSENSUS_POINTS).map_err(|e| unusable(e.to_string()))?;
    let path = match paths.as_slice() {
        [only] => only.clone(),
        _ => MeasuredPath::new(&agreed.points).map_err(|e| unusable(e.to_string()))?,
    };
    let centre = |places: Vec<Point>| {
        let sum: kurbo::Vec2 = places.iter().map(|p| p.to_vec2()).sum();
        (!places.is_empty()).then(|| (sum / places.len() as f64).to_point())
    };
    let (mut values, mut spread, mut u95) = (Values::new(), Values::new(), Values::new());
    for &measure in Measure::all() {
        let known: Vec<f64> = drawn
            .iter()
            .filter_map(|c| c.values.get(&measure).copied())
            .collect();
        if !known.is_empty() {
            values.insert(measure, mean(&known));
        }
        if known.len() > 1 {
            spread.insert(measure, sample_sd(&known));
        }
        let uncertain: Vec<f64> = drawn
            .iter()
            .filter_map(|c| c.u95.get(&measure).copied())
            .collect();
        if !uncertain.is_empty() {
            let squares: f64 = uncertain.iter().map(|u| u * u).sum();
            u95.insert(measure, squares.sqrt() / uncertain.len() as f64);
        }
    }
    Ok(ReferenceCanal {
        name: name.to_owned(),
        experts: drawn.len(),
        apex: centre(drawn.iter().map(|c| c.apex).collect()).unwrap_or(path.end()),
        tip: centre(drawn.iter().filter_map(|c| c.tip).collect()),
        path,
        spread_across: agreed.spread_across,
        spread_along: agreed.spread_along,
        values,
        spread,
        u95,
        tooth_length_mm: {
            let known: Vec<f64> = drawn.iter().filter_map(|c| c.own.tooth_length_mm).collect();
            (!known.is_empty()).then(|| mean(&known))
        },
        traces_px: drawn.iter().map(|c| c.trace_px.clone()).collect(),
    })
}
