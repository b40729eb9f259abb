//! A further curve that the points neither show nor exclude: what the draws say
//! of it.

use super::curves::SpaceCurve;
use crate::statistics::quantile;

/// Share of the draws with a further curve from which on it is told (own rule).
const LEAST_SHARE: f64 = 0.2;

/// A curve that is not listed and cannot be excluded.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PossibleCurve {
    /// 95 % of the draws have less of a further turn, rad.
    pub turn_upto_rad: f64,
    /// Middle of its place, mm from the apex: median of the draws with one.
    pub from_apex_mm: f64,
    /// Share of the draws with one.
    pub share: f64,
}

/// Which of `found` each curve of `listed` is: that which bends to the same side
/// and shares most of its place; in order where there are as many.
pub fn matched(listed: &[SpaceCurve], found: &[SpaceCurve]) -> Vec<Option<usize>> {
    if listed.len() == found.len() {
        return (0..found.len()).map(Some).collect();
    }
    listed
        .iter()
        .map(|curve| {
            let shared = |other: &SpaceCurve| {
                curve.start_from_apex_mm.min(other.start_from_apex_mm)
                    - curve.end_from_apex_mm.max(other.end_from_apex_mm)
            };
            (0..found.len())
                .filter(|&j| found[j].change.dot(&curve.change) > 0.0 && shared(&found[j]) > 0.0)
                .max_by(|&a, &b| shared(&found[a]).total_cmp(&shared(&found[b])))
        })
        .collect()
}

/// Turn, rad, and middle, mm from the apex, of the greatest of `found` that is
/// none of those `matched`; no turn and no place without one.
pub fn greatest_of_others(found: &[SpaceCurve], matched: &[Option<usize>]) -> [f64; 2] {
    (0..found.len())
        .filter(|&j| !matched.contains(&Some(j)))
        .map(|j| &found[j])
        .max_by(|a, b| a.turn_rad.total_cmp(&b.turn_rad))
        .map_or([0.0, f64::NAN], |curve| {
            let middle = 0.5 * (curve.start_from_apex_mm + curve.end_from_apex_mm);
            [curve.turn_rad, middle]
        })
}

/// What the draws' further turns and their places say; a draw that gave no path
/// has neither. `None` where too few have one.
pub fn possible_curve(mut turns_rad: Vec<f64>, mut places_mm: Vec<f64>) -> Option<PossibleCurve> {
    turns_rad.retain(|turn| turn.is_finite());
    places_mm.retain(|place| place.is_finite());
    let share = places_mm.len() as f64 / turns_rad.len().max(1) as f64;
    if share < LEAST_SHARE {
        return None;
    }
    Some(PossibleCurve {
        turn_upto_rad: quantile(&mut turns_rad, 0.95)?,
        from_apex_mm: quantile(&mut places_mm, 0.5)?,
        share,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Draws that went astray say nothing, and take nothing from what others say.
    #[test]
    fn draws_without_a_path_are_left_out() {
        let turns: Vec<f64> = (0..10).map(f64::from).collect();
        let places = vec![2.0; 10];
        let found = possible_curve(turns.clone(), places.clone());
        assert!(found.is_some());
        let with_astray = |of: &[f64]| [of, &[f64::NAN; 3]].concat();
        assert_eq!(
            possible_curve(with_astray(&turns), with_astray(&places)),
            found
        );
    }
}
