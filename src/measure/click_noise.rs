//! How well a place is hit with a click: by kind of landmark, from settings,
//! from the case, or measured from repeated clicks.

use kurbo::Point;
use thiserror::Error;

use super::inputs::PlaceKind;
use super::settings::InputUncertainty;
use crate::calibration::{DetectorFrame, DetectorUnit};
use crate::case::{ByPlaceKind, Case};
use crate::geometry::{DrawnCurve, GeometryError};
use crate::statistics::chi_squared_quantile;
use crate::units::FilmPoint;

/// Standard deviation of a click per coordinate, detector units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClickNoise {
    by_kind: [f64; PlaceKind::ALL.len()],
    /// Degrees of freedom of `by_kind`; infinite where it is not measured.
    dof: [f64; PlaceKind::ALL.len()],
    assisted: f64,
    assisted_apex: f64,
    followed_end: f64,
    apex_aside: f64,
    foramen_to_apex: f64,
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
        let of_kind = |kind: PlaceKind| match unit_per_mm {
            Some(unit) => {
                let mm = own.of(kind).or(case.click_noise_mm);
                mm.unwrap_or_else(|| settings.click_of(kind)) * unit
            }
            None => settings.click_px,
        };
        // Without a scale the ratio of a click in px to one in mm serves.
        let unit = unit_per_mm.unwrap_or(settings.click_px / settings.click_mm);
        let measured = case.click_noise_dof_by_kind.unwrap_or_default();
        let dof_of_kind = |kind| {
            let counts = unit_per_mm.is_some() && own.of(kind).is_some();
            let dof = measured.of(kind).filter(|_| counts);
            dof.unwrap_or(f64::INFINITY)
        };
        Self {
            by_kind: PlaceKind::ALL.map(of_kind),
            dof: PlaceKind::ALL.map(dof_of_kind),
            assisted: unit_per_mm.map_or(settings.click_px, |unit| settings.assisted_mm * unit),
            assisted_apex: settings.assisted_apex_mm * unit,
            followed_end: settings.followed_end_mm * unit,
            apex_aside: settings.apex_aside_mm * unit,
            foramen_to_apex: settings.foramen_to_apex_mm * unit,
        }
    }

    /// An end of a followed line in the fit to its readings.
    pub fn followed_end(&self) -> f64 {
        self.followed_end
    }

    /// Offset of a root's end from its canal's end.
    pub fn apex_aside(&self) -> f64 {
        self.apex_aside
    }

    /// Way from a canal's end to the root's end, straight on.
    pub fn foramen_to_apex(&self) -> f64 {
        self.foramen_to_apex
    }

    /// The noise of a landmark.
    pub fn of(&self, kind: PlaceKind, assisted: bool) -> f64 {
        match (assisted, kind) {
            (true, PlaceKind::Apex) => self.assisted_apex,
            (true, _) => self.assisted,
            (false, _) => self.by_kind[kind as usize],
        }
    }

    /// Degrees of freedom of the noise of a landmark.
    pub fn dof(&self, kind: PlaceKind, assisted: bool) -> f64 {
        match assisted {
            true => f64::INFINITY,
            false => self.dof[kind as usize],
        }
    }
}

/// Fewest degrees of freedom a measured click noise may have and be used:
/// three clicks on one place. With two or fewer, t has no variance.
pub const LEAST_CLICK_DOF: f64 = 3.0;

/// Greatest standard deviation that a hand can have, mm: twenty times the
/// default. More is a press on another place.
pub const GREATEST_OWN_SD_MM: f64 = 1.0;

/// A person's own click noise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeasuredClickNoise {
    /// Standard deviation per coordinate, in the unit of the points' frame.
    pub sd: f64,
    /// Degrees of freedom of `sd`: it is itself known to about 1/√(2ν).
    pub dof: usize,
}

impl MeasuredClickNoise {
    /// 95 % confidence interval of the standard deviation, from chi-squared.
    pub fn interval_95(&self) -> Option<[f64; 2]> {
        let dof = self.dof as f64;
        let end = |p| Some(self.sd * (dof / chi_squared_quantile(p, dof)?).sqrt());
        Some([end(0.975)?, end(0.025)?])
    }

    /// It is known well enough to be used, and that of one hand on one place.
    pub fn is_usable(&self) -> bool {
        self.sd <= GREATEST_OWN_SD_MM && self.dof as f64 >= LEAST_CLICK_DOF
    }

    /// States it as the noise of one kind of place, with its degrees of
    /// freedom. `sd` must be in mm at the detector.
    pub fn state(&self, case: &mut Case, kind: PlaceKind) {
        let noise = case.click_noise_by_kind_mm.get_or_insert_default();
        *noise.slot(kind) = Some(self.sd);
        let dof = case.click_noise_dof_by_kind.get_or_insert_default();
        *dof.slot(kind) = Some(self.dof as f64);
    }
}

/// States a click noise for one kind of place, mm, taken as exactly known;
/// `None`: what holds for all kinds.
pub fn state(case: &mut Case, kind: PlaceKind, sd_mm: Option<f64>) {
    for (values, value) in [
        (&mut case.click_noise_by_kind_mm, sd_mm),
        (&mut case.click_noise_dof_by_kind, None),
    ] {
        let mut by_kind = values.unwrap_or_default();
        *by_kind.slot(kind) = value;
        *values = (by_kind != ByPlaceKind::default()).then_some(by_kind);
    }
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
