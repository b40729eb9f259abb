//! Radii that the points of a trace cannot tell.

use super::findings::{CanalFindings, Warning};
use super::model::Model;
use super::warnings::warning;
use crate::curvature::{Curvature, CurvatureQuantity};

/// Fitted arcs stand on their lower bound within this share of it.
const ON_THE_BOUND: f64 = 1.001;

/// Takes the radius of every bend that was fitted as a kink out of the
/// findings, and says so.
///
/// A kink is an arc as short as the standard deviation of one point: shorter
/// ones fit the points just as well, so that its radius is the fit's bound and
/// no result.
pub fn withhold_unresolved(
    model: &Model,
    index: usize,
    curvature: &Curvature,
    found: &mut CanalFindings,
) -> Vec<Warning> {
    let mut warnings = Vec::new();
    let Some(shortest) = model.shortest_arc(index) else {
        return warnings;
    };
    let has_scale = model.nominal_tooth_per_detector().is_some();
    let Some(findings) = &mut found.curvature else {
        return warnings;
    };
    let is_kink: Vec<bool> = curvature
        .curves
        .iter()
        .map(|curve| curve.arc_length <= ON_THE_BOUND * shortest)
        .collect();
    for (number, (kink, curve)) in is_kink.iter().zip(&mut findings.curves).enumerate() {
        if *kink && has_scale {
            curve.radius_mm = None;
            (curve.radius_low_mm, curve.radius_high_mm) = (None, None);
            let turn = curve.turn_deg.map_or(0.0, |turn| turn.value.abs());
            warnings.push(warning(
                "radius_not_resolved",
                Some(&found.name),
                format!(
                    "Curve {}: no radius. Its turn of {turn:.0}° fits the points as well in a \
                     kink as in an arc; place points in the bend, closer together.",
                    number + 1
                ),
            ));
        }
    }
    if is_kink.contains(&true) {
        findings[CurvatureQuantity::SmallestRadius] = None;
        findings[CurvatureQuantity::SmallestRadiusFromApex] = None;
    }
    // The method speaks of the most apical curve.
    if is_kink.last() == Some(&true) {
        findings[CurvatureQuantity::PruettRadius] = None;
    }
    warnings
}
