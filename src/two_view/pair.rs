//! What both films show of one canal, ready to be fitted.

use nalgebra::Vector2;

use super::exposures::Exposures;
use super::fit::{FilmPoints, Fitted};
use super::geometry::{View, place_of};
use super::observation::Observation;
use super::shared_object::SharedCalibration;

/// Mismatch in height that warns, mm.
pub const MISMATCH_LIMIT_MM: f64 = 0.5;

/// Standard uncertainty per coordinate of the root's end about the canal's
/// end, mm, as on one film.
const APEX_ASIDE_MM: f64 = 0.08;

/// The views of both films; cone beam where both distances are known.
pub(super) fn views(sides: &[Observation; 2], exposures: &Exposures) -> [View; 2] {
    let source = sides[0].source_mm.zip(sides[1].source_mm);
    let [a, b] = [source.map(|s| s.0), source.map(|s| s.1)];
    [
        View::new(0.0, exposures.receptor, a),
        View::new(exposures.angle_rad, exposures.receptor, b),
    ]
}

/// Both films in the scale that holds at the depth of the canal's middle, the
/// origin of space: a film's own holds at the depth of the tooth's or the file's
/// middle, and what lies nearer to the source shows larger.
fn in_the_canals_plane(observations: [Observation; 2], views: [View; 2]) -> [Observation; 2] {
    let middles = [0, 1].map(|f: usize| observations[f].middle());
    let places = [0, 1].map(|f: usize| Some(observations[f].scale_place? - middles[f]));
    let [Some(a), Some(b)] = places else {
        return observations;
    };
    let views = [0, 1].map(|f: usize| views[f].with_centre(middles[f]));
    let Some(place) = place_of([&views[0], &views[1]], [a, b]) else {
        return observations;
    };
    let factors = views.map(|view| 1.0 + view.nearness_of(&place));
    let [a, b] = observations;
    [(a, factors[0]), (b, factors[1])].map(|(seen, factor)| {
        let u_scale = seen.u_scale;
        let moved = seen.rescaled(factor, u_scale);
        Observation {
            scale_place: None,
            ..moved
        }
    })
}

/// Two observations ready to be fitted.
pub struct Pair {
    pub observations: [Observation; 2],
    pub films: [FilmPoints; 2],
    pub shared: Option<SharedCalibration>,
    /// Middle of each trace: where the origin of space shows.
    pub(super) middles: [Vector2<f64>; 2],
    pub(super) apex_aside_mm: f64,
}

impl Pair {
    pub(super) fn new(
        observations: [Observation; 2],
        exposures: &Exposures,
        shared: Option<SharedCalibration>,
    ) -> Self {
        let views = views(&observations, exposures);
        let observations = in_the_canals_plane(observations, views);
        let ends_on_apex = observations.iter().all(|o| o.ends_on_apex);
        let apex_aside_mm = if ends_on_apex { APEX_ASIDE_MM } else { 0.0 };
        let middles = [0, 1].map(|f: usize| observations[f].middle());
        let films = [0, 1].map(|f: usize| {
            let seen = &observations[f];
            let mut sd = seen.sd.clone();
            // The scale moves the ends along the canal; the root's end lies
            // beside the canal's.
            let stretch = 0.5 * seen.height_mm() * seen.u_scale;
            let end_sd_along = [sd[0], sd[sd.len() - 1]].map(|sd| sd.hypot(stretch));
            if let Some(last) = sd.last_mut() {
                *last = last.hypot(apex_aside_mm);
            }
            FilmPoints {
                view: views[f].with_centre(middles[f]),
                points: seen.points.iter().map(|p| p - middles[f]).collect(),
                sd,
                end_sd_along,
            }
        });
        Self {
            observations,
            films,
            shared,
            middles,
            apex_aside_mm,
        }
    }

    /// The pair with film B seen from behind.
    pub fn with_b_mirrored(&self, exposures: &Exposures) -> Self {
        let [a, b] = self.observations.clone();
        Self::new([a, b.mirrored()], exposures, self.shared)
    }

    /// Greatest difference in height of the same end on both films.
    pub fn mismatch_mm(&self, fitted: &Fitted) -> f64 {
        let whole = fitted.path.length_mm();
        [0, 1]
            .map(|end: usize| {
                let along = if end == 0 { 0.0 } else { whole };
                let off = [0, 1].map(|f: usize| {
                    let points = &self.films[f].points;
                    let clicked = points[end * (points.len() - 1)];
                    clicked.y - fitted.shadow(&self.films, f, along).y
                });
                (off[0] - off[1]).abs()
            })
            .into_iter()
            .fold(0.0, f64::max)
    }

    pub(super) fn references(&self) -> Option<[(Vector2<f64>, f64); 2]> {
        let [a, b] = [0, 1].map(|f: usize| {
            let seen = &self.observations[f];
            Some((seen.reference? - self.middles[f], seen.reference_sd))
        });
        Some([a?, b?])
    }
}
