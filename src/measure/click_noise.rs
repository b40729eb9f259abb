//! How well a place is hit with a click: by kind of landmark, from settings,
//! from the case, or measured from repeated clicks.

use kurbo::Point;
use thiserror::Error;

use super::inputs::LandmarkKind;
use super::settings::InputUncertainty;
use crate::calibration::{DetectorFrame, DetectorUnit};
use crate::case::Case;
use crate::geometry::{DrawnCurve, GeometryError};
use crate::units::FilmPoint;

/// Standard deviation of a click per coordinate, detector units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClickNoise {
    by_kind: [f64; LandmarkKind::ALL.len()],
    assisted: f64,
    apex_aside: f64,
}

impl ClickNoise {
    /// The noise in force for a case: its own by kind, its own for all, the
    /// settings', in this order. `mm_per_px` is the scale of an object, for
    /// films of unknown pitch.
    pub fn new(
        case: &Case,
        frame: DetectorFrame,
        mm_per_px: Option<f64>,
        settings: &InputUncertainty,
    ) -> Self {
        let unit_per_mm = match (frame.unit(), mm_per_px) {
            (DetectorUnit::Mm, _) => Some(1.0),
            (DetectorUnit::Px, scale) => scale.map(f64::recip),
        };
        let own = case.click_noise_by_kind_mm.unwrap_or_default();
        let of_kind = |kind: LandmarkKind| match unit_per_mm {
            Some(unit) => {
                let mm = own.of(kind).or(case.click_noise_mm);
                mm.unwrap_or_else(|| settings.click_of(kind)) * unit
            }
            None => settings.click_px,
        };
        Self {
            by_kind: LandmarkKind::ALL.map(of_kind),
            assisted: unit_per_mm.map_or(settings.click_px, |unit| settings.assisted_mm * unit),
            apex_aside: match unit_per_mm {
                Some(unit) => settings.apex_aside_mm * unit,
                // In the ratio of the two in mm.
                None => settings.click_px * settings.apex_aside_mm / settings.click_mm,
            },
        }
    }

    /// Offset of a root's end from its canal's end.
    pub fn apex_aside(&self) -> f64 {
        self.apex_aside
    }

    /// The noise of a landmark.
    pub fn of(&self, kind: LandmarkKind, assisted: bool) -> f64 {
        match assisted {
            true => self.assisted,
            false => self.by_kind[kind as usize],
        }
    }
}

impl crate::case::ClickNoiseByKind {
    /// What is stated for one kind, mm.
    pub(super) fn of(&self, kind: LandmarkKind) -> Option<f64> {
        match kind {
            LandmarkKind::Reference => self.reference,
            LandmarkKind::Tip => self.tip,
            LandmarkKind::Apex => self.apex,
            LandmarkKind::Canal => self.canal,
            LandmarkKind::ScaleObject => self.scale_object,
            LandmarkKind::Curvature => self.curvature,
        }
    }
}

/// A person's own click noise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeasuredClickNoise {
    /// Standard deviation per coordinate, in the unit of the points' frame.
    pub sd: f64,
    /// Degrees of freedom of `sd`: it is itself known to about 1/√(2ν).
    pub dof: usize,
}

/// Why repeats give no click noise.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum RepeatError {
    /// Fewer than two repeats, or none with a place.
    #[error("click noise needs at least two repeats of the same places")]
    TooFew,
    /// The repeats do not have the same places.
    #[error(
        "repeat {repeat} has {found} places, the first has {expected}; click the same ones in the same order"
    )]
    Uneven {
        repeat: usize,
        expected: usize,
        found: usize,
    },
    /// A trace that cannot be drawn.
    #[error("repeat {repeat}: {error}")]
    Trace { repeat: usize, error: GeometryError },
}

/// Click noise from places (landmarks) clicked several times in the same
/// order: the spread of each place about its own mean, pooled over places and
/// both coordinates.
///
/// # Errors
/// [`RepeatError`] for fewer than two repeats, or repeats of unequal length.
pub fn of_landmarks(
    repeats: &[Vec<FilmPoint>],
    frame: DetectorFrame,
) -> Result<MeasuredClickNoise, RepeatError> {
    let places = repeats.first().map_or(0, Vec::len);
    if repeats.len() < 2 || places == 0 {
        return Err(RepeatError::TooFew);
    }
    if let Some(repeat) = repeats.iter().position(|r| r.len() != places) {
        return Err(RepeatError::Uneven {
            repeat: repeat + 1,
            expected: places,
            found: repeats[repeat].len(),
        });
    }
    let count = repeats.len() as f64;
    let squares: f64 = (0..places)
        .map(|place| {
            let clicks = || repeats.iter().map(|r| frame.detector_from_film(r[place]));
            let mean = clicks().map(|p| p.to_vec2()).sum::<kurbo::Vec2>() / count;
            clicks().map(|p| (p.to_vec2() - mean).hypot2()).sum::<f64>()
        })
        .sum();
    let dof = 2 * places * (repeats.len() - 1);
    Ok(MeasuredClickNoise {
        sd: (squares / dof as f64).sqrt(),
        dof,
    })
}

/// Variance of the curve drawn through another trace, in that of its points,
/// averaged along it: the natural cubic spline through evenly spaced points of
/// unit noise (numerical: 0.848 for 8 points, 0.858 for 12, 0.871 for 60).
const DRAWN_CURVE_VARIANCE: f64 = 0.86;

/// Click noise from one canal traced several times, each time with points
/// wherever the hand put them: the distances of each trace's inner points from
/// the curves drawn through the others, across the path.
///
/// # Errors
/// [`RepeatError`] for fewer than two traces, traces without inner points, or
/// one that cannot be drawn.
pub fn of_traces(
    traces: &[Vec<FilmPoint>],
    frame: DetectorFrame,
) -> Result<MeasuredClickNoise, RepeatError> {
    let points: Vec<Vec<Point>> = traces
        .iter()
        .map(|t| t.iter().map(|&p| frame.detector_from_film(p)).collect())
        .collect();
    let mut curves = Vec::with_capacity(points.len());
    for (i, trace) in points.iter().enumerate() {
        let curve = DrawnCurve::through(trace);
        curves.push(curve.map_err(|error| RepeatError::Trace {
            repeat: i + 1,
            error,
        })?);
    }
    let (mut squares, mut pairs, mut places) = (0.0, 0usize, 0);
    for (i, trace) in points.iter().enumerate() {
        let inner = trace.iter().skip(1).take(trace.len().saturating_sub(2));
        for &point in inner {
            places += 1;
            for (j, curve) in curves.iter().enumerate() {
                if j != i {
                    squares += curve.project(point).distance().powi(2);
                    pairs += 1;
                }
            }
        }
    }
    if pairs == 0 {
        return Err(RepeatError::TooFew);
    }
    let variance = squares / pairs as f64 / (1.0 + DRAWN_CURVE_VARIANCE);
    Ok(MeasuredClickNoise {
        sd: variance.sqrt(),
        // One mean path is taken out of the traces.
        dof: places * (traces.len() - 1) / traces.len(),
    })
}
