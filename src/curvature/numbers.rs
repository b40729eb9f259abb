//! The results as plain numbers, for Monte Carlo.

use super::{Curvature, Measured};
use crate::geometry::MAX_ARCS;

/// A number of [`CurvatureNumbers`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum CurvatureQuantity {
    SchneiderRad,
    WeineRad,
    AxisAxisRad,
    PruettRad,
    PruettRadius,
    PruettMismatch,
    LuitenRad,
    SchaferRadius,
    SchaferCurveLength,
    CanalAccessRad,
    CurvatureHeight,
    CurvatureDistance,
    CurvatureDistanceFromApex,
    EstrelaRadius,
    EstrelaRadiusApical,
    EstrelaRadiusCoronal,
    NetTurnRad,
    TotalTurnRad,
    SmallestRadius,
    SmallestRadiusFromApex,
    /// Signed turn of a curve; 0 is the most apical one.
    CurveTurnRad(usize),
    /// Radius of a curve.
    CurveRadius(usize),
    /// Length of a curve's arcs.
    CurveArcLength(usize),
    /// Length from a curve's start to the apical end.
    CurveStartFromApex(usize),
    /// Length from a curve's end to the apical end.
    CurveEndFromApex(usize),
}

const SINGLE: usize = 20;
const PER_CURVE: usize = 5;

impl CurvatureQuantity {
    /// Number of quantities.
    pub const COUNT: usize = SINGLE + PER_CURVE * MAX_ARCS;

    /// Whether the number at that [`CurvatureQuantity::index`] is an angle.
    pub fn is_angle(index: usize) -> bool {
        let single = [
            Self::SchneiderRad,
            Self::WeineRad,
            Self::AxisAxisRad,
            Self::PruettRad,
            Self::LuitenRad,
            Self::CanalAccessRad,
            Self::NetTurnRad,
            Self::TotalTurnRad,
        ];
        let turns = (0..MAX_ARCS).map(Self::CurveTurnRad);
        let mut angles = single.into_iter().chain(turns);
        angles.any(|quantity| quantity.index() == Some(index))
    }

    /// Place in [`CurvatureNumbers::values`]; `None` for a curve beyond
    /// [`MAX_ARCS`].
    pub fn index(self) -> Option<usize> {
        let of_curve =
            |curve: usize, k: usize| (curve < MAX_ARCS).then_some(SINGLE + PER_CURVE * curve + k);
        Some(match self {
            Self::SchneiderRad => 0,
            Self::WeineRad => 1,
            Self::AxisAxisRad => 2,
            Self::PruettRad => 3,
            Self::PruettRadius => 4,
            Self::PruettMismatch => 5,
            Self::LuitenRad => 6,
            Self::SchaferRadius => 7,
            Self::SchaferCurveLength => 8,
            Self::CanalAccessRad => 9,
            Self::CurvatureHeight => 10,
            Self::CurvatureDistance => 11,
            Self::CurvatureDistanceFromApex => 12,
            Self::EstrelaRadius => 13,
            Self::EstrelaRadiusApical => 14,
            Self::EstrelaRadiusCoronal => 15,
            Self::NetTurnRad => 16,
            Self::TotalTurnRad => 17,
            Self::SmallestRadius => 18,
            Self::SmallestRadiusFromApex => 19,
            Self::CurveTurnRad(curve) => return of_curve(curve, 0),
            Self::CurveRadius(curve) => return of_curve(curve, 1),
            Self::CurveArcLength(curve) => return of_curve(curve, 2),
            Self::CurveStartFromApex(curve) => return of_curve(curve, 3),
            Self::CurveEndFromApex(curve) => return of_curve(curve, 4),
        })
    }
}

/// Every number of a [`Curvature`]; NaN where there is none. Curves are
/// counted from the apex, so that the same curve keeps its place when a
/// coronal one comes or goes between draws.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CurvatureNumbers {
    /// By [`CurvatureQuantity::index`].
    pub values: [f64; CurvatureQuantity::COUNT],
    /// Number of curves.
    pub curve_count: usize,
}

impl CurvatureNumbers {
    /// The value of `quantity`; NaN where there is none.
    pub fn get(&self, quantity: CurvatureQuantity) -> f64 {
        quantity
            .index()
            .map_or(f64::NAN, |index| self.values[index])
    }
}

impl Curvature {
    /// Every number of these results.
    pub fn numbers(&self) -> CurvatureNumbers {
        let or_nan = |measured: Measured| measured.unwrap_or(f64::NAN);
        let mut values = [f64::NAN; CurvatureQuantity::COUNT];
        values[..SINGLE].copy_from_slice(&[
            or_nan(self.schneider_rad),
            or_nan(self.weine_rad),
            or_nan(self.axis_axis_rad),
            or_nan(self.pruett_rad),
            or_nan(self.pruett_radius),
            or_nan(self.pruett_mismatch),
            or_nan(self.luiten_rad),
            or_nan(self.schafer_radius),
            or_nan(self.schafer_curve_length),
            or_nan(self.canal_access_rad),
            or_nan(self.curvature_height),
            or_nan(self.curvature_distance),
            or_nan(self.curvature_distance_from_apex),
            or_nan(self.estrela_radius),
            or_nan(self.estrela_radius_apical),
            or_nan(self.estrela_radius_coronal),
            self.net_turn_rad,
            self.total_turn_rad,
            or_nan(self.smallest_radius),
            or_nan(self.smallest_radius_from_apex),
        ]);
        let slots = values[SINGLE..].chunks_exact_mut(PER_CURVE);
        for (slot, curve) in slots.zip(self.curves.iter().rev()) {
            slot.copy_from_slice(&[
                curve.turn_rad,
                curve.radius,
                curve.arc_length,
                curve.start_from_apex,
                curve.end_from_apex,
            ]);
        }
        CurvatureNumbers {
            values,
            curve_count: self.curves.len(),
        }
    }
}
