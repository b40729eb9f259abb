//! Curvature of a canal by every published method, on the fitted path.
//!
//! docs/methods.md 5. Each method stands in a file of its own with its source and
//! definition. Landmarks are placed automatically on the path; any the user
//! has moved win. Angles are rad, lengths in the unit of the path
//! ([`PathUnit`]), places in the path's frame.
//!
//! Where a method speaks of one curve and the canal has several, the most
//! apical curve is taken with the straight piece before it as its axis, and
//! [`Curvature::notes`] says so.

pub mod axis_axis;
mod catalogue;
mod constructions;
pub mod curve_by_curve;
pub mod difficulty;
pub mod estrela;
pub mod gunday;
mod landmarks;
pub mod luiten;
mod measured;
mod numbers;
pub mod profile;
pub mod pruett;
pub mod schafer;
pub mod schneider;
pub mod weine;

use arrayvec::ArrayVec;

pub use catalogue::{
    CURVATURE_METHODS, CurvatureQuantity, Dimension, Method, MethodRow, QUANTITIES, QuantityRow,
};
pub use constructions::{Construction, constructions, constructions_listed};
pub use curve_by_curve::Curve;
pub use difficulty::{Difficulty, DifficultyClass};
pub use landmarks::{ConstructionLandmarks, CurvatureLandmark, LandmarkOverrides};
pub use measured::{Measured, Missing, Note, PathUnit};
pub use numbers::{CurvatureNumber, CurvatureNumbers, CurveQuantity, MeanNumbers};

use crate::geometry::{MAX_ARCS, StraightArcPath};
use landmarks::MethodInputs;

/// Choices of the user.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CurvatureSettings {
    /// Two curves of opposite sign, each turning more than this, make an S,
    /// rad. Default 10° (docs/methods.md 5.9).
    pub s_shape_threshold_rad: f64,
}

impl Default for CurvatureSettings {
    fn default() -> Self {
        Self {
            s_shape_threshold_rad: 10_f64.to_radians(),
        }
    }
}

/// Curvature by every method. Angles rad, not negative unless said; lengths
/// in the unit of the path.
#[derive(Clone, Debug, PartialEq)]
pub struct Curvature {
    /// [`schneider`].
    pub schneider_rad: Measured,
    /// [`weine`].
    pub weine_rad: Measured,
    /// [`axis_axis`].
    pub axis_axis_rad: Measured,
    /// [`pruett`]: angle.
    pub pruett_rad: Measured,
    /// [`pruett`]: radius of the (least-squares) tangent circle.
    pub pruett_radius: Measured,
    /// [`pruett`]: coronal less apical tangent length.
    pub pruett_mismatch: Measured,
    /// [`luiten`].
    pub luiten_rad: Measured,
    /// [`schafer`]: radius.
    pub schafer_radius: Measured,
    /// [`schafer`]: length of the curve.
    pub schafer_curve_length: Measured,
    /// [`gunday`]: canal access angle.
    pub canal_access_rad: Measured,
    /// [`gunday`]: curvature height x = BD.
    pub curvature_height: Measured,
    /// [`gunday`]: curvature distance y = AD.
    pub curvature_distance: Measured,
    /// [`gunday`]: DC.
    pub curvature_distance_from_apex: Measured,
    /// [`estrela`]: radius, mean of the two below where they differ.
    pub estrela_radius: Measured,
    /// [`estrela`]: circumcentre to the middle of the apical segment.
    pub estrela_radius_apical: Measured,
    /// [`estrela`]: circumcentre to the middle of the coronal segment.
    pub estrela_radius_coronal: Measured,
    /// Every curve, coronal first.
    pub curves: ArrayVec<Curve, MAX_ARCS>,
    /// Signed sum of the turns, positive clockwise on the film.
    pub net_turn_rad: f64,
    /// Sum of the absolute turns.
    pub total_turn_rad: f64,
    /// Radius of the tightest arc.
    pub smallest_radius: Measured,
    /// Length from the middle of the tightest arc to the apical end.
    pub smallest_radius_from_apex: Measured,
    /// The smaller of the greatest turns to either side.
    pub opposed_turn_rad: f64,
    /// Two curves of opposite sign, both above the threshold.
    pub s_shaped: bool,
    /// Canal-curvature row of the case difficulty form.
    pub difficulty: Difficulty,
    /// Where every construction stands.
    pub landmarks: ConstructionLandmarks,
    /// How they were placed.
    pub notes: ArrayVec<Note, 2>,
}

/// Curvature of `path` (orifice → apex, in `unit`) by every method.
///
/// Allocates nothing, so that Monte Carlo can call it for every draw.
pub fn evaluate(
    path: &StraightArcPath,
    unit: PathUnit,
    overrides: &LandmarkOverrides,
    settings: &CurvatureSettings,
) -> Curvature {
    evaluate_listed(path, unit, overrides, settings, |_| true)
}

/// As [`evaluate`], but what speaks of one curve takes the most apical of those
/// for which `is_listed` holds, where there is one. The class still comes from
/// the worst curve of all.
pub fn evaluate_listed(
    path: &StraightArcPath,
    unit: PathUnit,
    overrides: &LandmarkOverrides,
    settings: &CurvatureSettings,
    is_listed: impl Fn(&Curve) -> bool,
) -> Curvature {
    let curves = curve_by_curve::curves(path);
    let listed = listed_or_all(&curves, is_listed);
    let placement = MethodInputs::new(path, unit, &listed, overrides);
    let MethodInputs {
        coronal_axis,
        apical_axis,
        apical_segment_axis,
        landmarks,
        ..
    } = &placement;
    let place = |landmark| landmarks.get(landmark).ok_or(Missing::NoCurve);

    let schneider_rad = placement.or_straight(|| {
        schneider::angle_rad(
            *coronal_axis,
            place(CurvatureLandmark::CurveStart)?,
            placement.apical_end,
        )
    });
    let chord =
        place(CurvatureLandmark::CurveStart).map(|start| start.distance(placement.apical_end));
    let arc = chord.and_then(|chord| schafer::arc(chord, schneider_rad?));
    let circle = place(CurvatureLandmark::CurveStart).and_then(|start| {
        pruett::circle(
            (start, *coronal_axis),
            (place(CurvatureLandmark::CurveEnd)?, *apical_axis),
        )
    });
    let height = place(CurvatureLandmark::CurveStart)
        .and_then(|start| gunday::height(placement.orifice, start, placement.apical_end));
    let estrela = placement
        .estrela
        .and_then(|segments| estrela::circle(&segments));
    let tightest = curve_by_curve::tightest_arc(path);
    let opposed_turn_rad = curve_by_curve::opposed_turn_rad(&curves);
    let s_shaped = curve_by_curve::is_s_shaped(opposed_turn_rad, settings.s_shape_threshold_rad);

    Curvature {
        schneider_rad,
        weine_rad: placement.or_straight(|| weine::angle_rad(*coronal_axis, *apical_axis)),
        axis_axis_rad: placement
            .or_straight(|| axis_axis::angle_rad(*coronal_axis, *apical_segment_axis)),
        pruett_rad: placement.or_straight(|| pruett::angle_rad(*coronal_axis, *apical_axis)),
        pruett_radius: circle.map(|circle| circle.radius),
        pruett_mismatch: circle.map(|circle| circle.tangent_mismatch()),
        luiten_rad: placement.luiten.and_then(|lines| luiten::angle_rad(&lines)),
        schafer_radius: arc.map(|arc| arc.radius),
        schafer_curve_length: arc.map(|arc| arc.length),
        canal_access_rad: placement.or_straight(|| {
            gunday::canal_access_rad(*coronal_axis, placement.orifice, placement.apical_end)
        }),
        curvature_height: height.map(|height| height.height),
        curvature_distance: height.map(|height| height.distance),
        curvature_distance_from_apex: height.map(|height| height.distance_from_apex),
        estrela_radius: estrela.map(|circle| circle.radius()),
        estrela_radius_apical: estrela.map(|circle| circle.to_apical_segment),
        estrela_radius_coronal: estrela.map(|circle| circle.to_coronal_segment),
        net_turn_rad: path.turn_rad(),
        total_turn_rad: path
            .pieces()
            .iter()
            .map(|piece| piece.turn_rad().abs())
            .sum(),
        smallest_radius: tightest.map(|arc| arc.radius),
        smallest_radius_from_apex: tightest.map(|arc| arc.middle_from_apex),
        s_shaped,
        opposed_turn_rad,
        difficulty: Difficulty::of_canal(
            schneider_rad.ok(),
            curves.iter().position(|c| Some(c) == listed.last()),
            &curves,
            s_shaped,
        ),
        landmarks: landmarks.clone(),
        notes: placement.notes,
        curves,
    }
}

/// The curves for which `is_listed` holds; all where it holds for none.
fn listed_or_all(
    curves: &ArrayVec<Curve, MAX_ARCS>,
    is_listed: impl Fn(&Curve) -> bool,
) -> ArrayVec<Curve, MAX_ARCS> {
    let listed: ArrayVec<Curve, MAX_ARCS> = curves
        .iter()
        .filter(|curve| is_listed(curve))
        .copied()
        .collect();
    if listed.is_empty() {
        curves.clone()
    } else {
        listed
    }
}
