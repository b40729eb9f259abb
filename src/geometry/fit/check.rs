//! Do the points contradict what the fit was told? Their scatter against the
//! stated standard deviation, their residuals against straight pieces and arcs.

use kurbo::Point;

use crate::geometry::StraightArcPath;
use crate::statistics::{chi_squared_share_above, f_share_above, normal_share_above};

/// What the points say against the fit; each a probability of as much or more
/// by chance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FitCheck {
    /// Standard deviation of the points about the fitted forms, over that
    /// stated.
    pub scatter_ratio: f64,
    /// Of this scatter, were the statement right.
    pub scatter_p: f64,
    /// Of these residuals, were the canal made of straight pieces and arcs.
    pub straight_arc_p: f64,
    /// Residuals more than parameters of the straight–arc path.
    pub dof: usize,
}

/// χ² of a form with its degrees of freedom.
pub(super) type Misfit = (f64, f64);

/// Fewest points that residuals are tested on.
const LEAST_POINTS: usize = 10;
/// Fewest points whose scatter about their neighbours is free of the path's own
/// curvature.
const LEAST_LOCAL: usize = 12;
/// Variance of a point about the cubic through its neighbours is known from
/// about this share of the points: neighbouring deviations share points.
const LOCAL_SHARE: f64 = 0.55;

/// `forms` are the likely forms, `straight_arc` the best of straight pieces and
/// arcs, `local_ratio` the points' scatter about their neighbours over that
/// stated.
pub(super) fn check(
    points: &[Point],
    forms: &[Misfit],
    straight_arc: (&StraightArcPath, Misfit),
    scatter_ratio: f64,
    local_ratio: f64,
) -> FitCheck {
    let (path, (chi_square, dof)) = straight_arc;
    let local_dof = LOCAL_SHARE * (points.len() as f64 - 4.0);
    let by_form =
        |&(chi_square, dof): &Misfit| chi_squared_share_above(chi_square, dof).unwrap_or(1.0);
    let mut scatter_p = forms.iter().map(by_form).fold(0.0, f64::max);
    if forms.is_empty() {
        scatter_p = by_form(&(chi_square, dof));
    }
    let mut ratio = scatter_ratio;
    if points.len() >= LEAST_LOCAL {
        let squares = local_ratio * local_ratio * local_dof;
        let by_neighbours = chi_squared_share_above(squares, local_dof).unwrap_or(1.0);
        // Many bends can follow the noise of few points; neighbours cannot.
        if by_neighbours < scatter_p {
            (scatter_p, ratio) = ((2.0 * by_neighbours).min(1.0), ratio.max(local_ratio));
        }
    }
    let mut straight_arc_p = 1.0;
    if points.len() >= LEAST_POINTS && dof >= 1.0 {
        let by_variance = f_share_above(
            chi_square / dof / (local_ratio * local_ratio).max(f64::MIN_POSITIVE),
            dof,
            local_dof,
        );
        let by_order = autocorrelation_p(path, points);
        let least = by_variance.unwrap_or(1.0).min(by_order);
        straight_arc_p = (2.0 * least).min(1.0);
    }
    FitCheck {
        scatter_ratio: ratio,
        scatter_p,
        straight_arc_p,
        dof: dof as usize,
    }
}

/// Probability that neighbouring residuals are as alike by chance; without
/// noise, where rounding is all that is left, 1.
fn autocorrelation_p(path: &StraightArcPath, points: &[Point]) -> f64 {
    let between = &points[1..points.len() - 1];
    let offsets: Vec<f64> = between.iter().map(|p| path.project(*p).offset).collect();
    let squares: f64 = offsets.iter().map(|o| o * o).sum();
    if squares <= 1e-16 * path.length().powi(2) {
        return 1.0;
    }
    let products: f64 = offsets.windows(2).map(|pair| pair[0] * pair[1]).sum();
    let n = offsets.len() as f64;
    normal_share_above(products / squares, 0.0, n.sqrt().recip()).unwrap_or(1.0)
}
