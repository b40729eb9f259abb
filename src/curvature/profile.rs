//! Curvature against the distance from the apex, with its uncertainty.
//!
//! docs/methods.md 5.10. Where a piece ends, and which form the canal has, is
//! itself uncertain, so the band cannot come from one variance per piece: it is
//! taken from draws of the forms.

use kurbo::Point;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use super::curve_by_curve::{TightestArc, tightest_arc};
use crate::geometry::{PathFit, StraightArcPath};
use crate::statistics::quantile;

/// The profile at one distance from the apex.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ProfileSample {
    /// Length along the path from its apical end.
    pub from_apex: f64,
    /// The place on the path.
    pub point: Point,
    /// Signed curvature of the fit, rad per unit length.
    pub curvature: f64,
    /// 2.5 % quantile of the curvature.
    pub low: f64,
    /// 97.5 % quantile of the curvature.
    pub high: f64,
}

/// Curvature along a fitted path.
#[derive(Clone, Debug, PartialEq)]
pub struct CurvatureProfile {
    /// Apical end first.
    pub samples: Vec<ProfileSample>,
    /// The tightest arc; `None` on a straight path.
    pub tightest: Option<TightestArc>,
}

impl CurvatureProfile {
    /// The profile of `fit` every `step` (in the unit of its path, at most
    /// 10,000 samples), with a band from `draws` draws of its forms.
    ///
    /// Without a form that is bent the band is NaN.
    pub fn of(fit: &PathFit, step: f64, draws: usize, seed: u64) -> Self {
        let path = fit.path();
        let length = path.length();
        let count = (length / step).floor();
        let count = if count.is_finite() {
            count.clamp(0.0, 1e4) as usize
        } else {
            0
        };
        let stations: Vec<f64> = (0..=count).map(|k| k as f64 * step).collect();
        let drawn = drawn_paths(fit, draws, seed);
        let mut values = Vec::with_capacity(drawn.len());
        let sample = |&from_apex: &f64| {
            values.clear();
            values.extend(drawn.iter().map(|path| curvature_at(path, from_apex)));
            let at = path.length() - from_apex;
            ProfileSample {
                from_apex,
                point: path.point_at_length(at),
                curvature: path.curvature_at_length(at),
                low: quantile(&mut values, 0.025).unwrap_or(f64::NAN),
                high: quantile(&mut values, 0.975).unwrap_or(f64::NAN),
            }
        };
        Self {
            samples: stations.iter().map(sample).collect(),
            tightest: tightest_arc(path).ok(),
        }
    }
}

fn curvature_at(path: &StraightArcPath, from_apex: f64) -> f64 {
    path.curvature_at_length(path.length() - from_apex)
}

fn drawn_paths(fit: &PathFit, draws: usize, seed: u64) -> Vec<StraightArcPath> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    (0..draws)
        .filter_map(|_| {
            let share = rng.random();
            fit.drawn_path(share, &mut || StandardNormal.sample(&mut rng))
        })
        .collect()
}
