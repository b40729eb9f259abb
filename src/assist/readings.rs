//! Readings of a line on the film: where its centre lies across it, stretch by
//! stretch, each with its own standard uncertainty, and none where the film
//! does not show it.
//!
//! The centre line that [`super::follow()`] suggests is smoothed, so its points
//! are no independent observations and nothing can be said of their noise. A
//! reading takes the film of one short stretch alone: the mean profile across
//! the line, to which a ridge on a bent background is fitted by least squares.
//! Its standard error follows from the slope of the ridge and from the residuals
//! of the whole line, whose correlation across is measured on the same film.

use nalgebra::{SMatrix, SVector};

use super::polyline::resampled;
use super::raster::Raster;
use super::ribbon::Ribbon;
use crate::units::FilmPoint;

/// Way along the line that one reading averages, mm.
pub(super) const STRETCH_MM: f64 = 0.4;
/// Rows of the ribbon, mm apart.
const ROW_MM: f64 = 0.05;
/// Columns across, mm apart; never finer than half a pixel.
const COLUMN_MM: f64 = 0.02;
/// Half widths (σ) that ridges of a canal and of an instrument may have, mm.
const CANAL_SIGMAS_MM: [f64; 7] = [0.08, 0.11, 0.15, 0.2, 0.27, 0.36, 0.48];
const METAL_SIGMAS_MM: [f64; 6] = [0.06, 0.08, 0.1, 0.13, 0.17, 0.22];
/// The profile is fitted this many σ, and so much more, to either side.
const WINDOW_SIGMAS: f64 = 2.2;
const WINDOW_MORE_MM: f64 = 0.12;
/// The centre is sought this far beside a followed line, mm: on tuning films nine
/// of ten places of it lie within 0.05 of the canal's, and what stands out farther
/// aside is a neighbour. A hand's line may lie farther aside.
const REACH_MM: f64 = 0.12;
const REACH_BY_HAND_MM: f64 = 0.25;
/// A place of a canal farther than this from the followed line is none of it,
/// mm: on tuning films such places are off by more than the line is.
const FARTHEST_CANAL_MM: f64 = 0.08;
/// Neighbouring stretches whose ridges are taken to be equally wide, each way.
const WIDTH_STRETCHES: usize = 3;
/// A ridge counts as seen from this many standard errors of its height on, on a
/// canal and on an instrument. That one lies there the film reader has said; where
/// it passes bone and the root's edge its ridge stands out less and its centre is
/// still good.
const LEAST_HEIGHT: [f64; 2] = [4.0, 2.0];
/// A reading less certain than this says nothing, mm.
const LARGEST_U_MM: f64 = 0.12;

/// Way along the line over which readings err alike, mm: one reading. Measured
/// on tuning films, see docs/accuracy.md: errors on an instrument are a shift of
/// the whole line, which turns nothing, and little besides; on a canal those of
/// neighbours are alike by 0.3.
pub(super) const COMMON_OVER_MM: f64 = 0.45;
/// Error of a reading over what the noise of the film makes it, on a canal and
/// on an instrument: what lies beside a canal pulls at it. Measured on tuning
/// films.
const OVER_NOISE: [f64; 2] = [3.5, 1.0];
/// What readings err alike, on a canal and on an instrument, mm. Along an
/// instrument they scatter less (0.003, nine of ten films below 0.008); what the
/// film's geometry and a stretch's bend add is in it, so that turns are held.
const COMMON_MM: [f64; 2] = [0.01, 0.007];

/// What is read along a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sought {
    /// A bright instrument that was followed.
    Metal,
    /// A dark canal that was followed.
    Canal,
    /// A dark canal along a line placed by hand.
    CanalByHand,
}

impl Sought {
    fn is_metal(self) -> bool {
        self == Self::Metal
    }

    fn reach_mm(self) -> f64 {
        match self {
            Self::CanalByHand => REACH_BY_HAND_MM,
            _ => REACH_MM,
        }
    }

    fn farthest_mm(self) -> f64 {
        match self {
            Self::Canal => FARTHEST_CANAL_MM,
            _ => f64::INFINITY,
        }
    }
}

/// One place of a line, read from the film.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    pub at: FilmPoint,
    /// Standard uncertainty across the line that no neighbour shares, px.
    pub u_px: f64,
    /// Standard uncertainty across the line that neighbours share, px.
    pub common_u_px: f64,
    /// An instrument was read, not the canal.
    pub metal: bool,
}

/// A stretch with its fitted ridge.
struct Stretch {
    /// Where its middle lies along the line and which way it runs across.
    middle: FilmPoint,
    across: [f64; 2],
    profile: Vec<f64>,
    ridge: Ridge,
}

/// A ridge fitted to a profile; columns from the middle.
#[derive(Clone)]
struct Ridge {
    centre: f64,
    /// Of the expected sign above 0.
    height: f64,
    sum_of_squares: f64,
    /// First column and residuals of the window.
    first: usize,
    residuals: Vec<f64>,
    /// What a unit residual in each column of the window moves the centre and
    /// the height by.
    centre_by: Vec<f64>,
    height_by: Vec<f64>,
}

/// The readings along `line`, at steps of about [`STRETCH_MM`].
pub(super) fn readings(
    opacity: &Raster,
    line: &[FilmPoint],
    mm_per_px: f64,
    sought: Sought,
) -> Vec<Reading> {
    let metal = sought.is_metal();
    let px = |mm: f64| mm / mm_per_px;
    let column_px = px(COLUMN_MM).max(0.5);
    let sigmas: &[f64] = if metal {
        &METAL_SIGMAS_MM
    } else {
        &CANAL_SIGMAS_MM
    };
    let widest = sigmas.iter().copied().fold(0.0, f64::max);
    let reach_mm = WINDOW_SIGMAS * widest + WINDOW_MORE_MM + sought.reach_mm();
    let reach = (px(reach_mm) / column_px).ceil() as usize;
    let rows_each = (STRETCH_MM / ROW_MM).round() as usize;
    let axis = resampled(line, px(ROW_MM), 2);
    if axis.len() < rows_each {
        return Vec::new();
    }
    let ribbon = Ribbon::new(opacity, axis, reach, column_px);
    let sign = if metal { 1.0 } else { -1.0 };
    let sigmas: Vec<f64> = sigmas.iter().map(|mm| px(*mm) / column_px).collect();
    let search = Search {
        reach: px(sought.reach_mm()) / column_px,
        more: px(WINDOW_MORE_MM) / column_px,
        sign,
        middle: reach,
    };
    let profiles = profiles(&ribbon, rows_each);
    // How well each width describes each stretch, then jointly with its
    // neighbours: a canal's width changes slowly.
    let fits: Vec<Vec<Option<Ridge>>> = profiles
        .iter()
        .map(|(_, profile)| {
            sigmas
                .iter()
                .map(|sigma| search.best(profile, *sigma))
                .collect()
        })
        .collect();
    let other_side = Search {
        sign: -search.sign,
        ..search
    };
    let stretches: Vec<Stretch> = profiles
        .into_iter()
        .enumerate()
        .filter_map(|(index, (row, profile))| {
            let width = best_width(&fits, index)?;
            let ridge = fits[index][width].clone()?;
            // Where what was followed ends before its line does, the film shows
            // the other: metal in place of canal.
            let is_other = |sigma: &f64| {
                let other = other_side.best(&profile, *sigma);
                other.is_some_and(|other| other.mean_square() < ridge.mean_square())
            };
            let is_followed = sought != Sought::CanalByHand;
            (!(is_followed && sigmas.iter().any(is_other))).then(|| Stretch {
                middle: ribbon.axis[row],
                across: ribbon.across[row],
                profile,
                ridge,
            })
        })
        .collect();
    let correlation = residual_covariance(&stretches);
    stretches
        .iter()
        .filter_map(|stretch| stretch.reading(&correlation, column_px, mm_per_px, sought))
        .collect()
}

/// On how many stretches of `line`, of how many, a dark canal stands out from
/// the film's noise. `values` are opacities of `width` × `height` cells of
/// `mm_per_cell`; the line is in cells.
pub fn shown_stretches(
    width: usize,
    height: usize,
    values: &[f32],
    line: &[FilmPoint],
    mm_per_cell: f64,
) -> (usize, usize) {
    let length_mm: f64 = line.windows(2).map(|w| w[0].distance_px(w[1])).sum::<f64>() * mm_per_cell;
    let all = (length_mm / STRETCH_MM).round() as usize;
    let Some(raster) = Raster::from_values(width, height, values.to_vec()) else {
        return (0, 0);
    };
    if line.len() < 2 || all == 0 {
        return (0, 0);
    }
    let seen = readings(&raster, line, mm_per_cell, Sought::CanalByHand).len();
    (seen.min(all), all)
}

/// Mean profile of each stretch with the row of its middle.
fn profiles(ribbon: &Ribbon, rows_each: usize) -> Vec<(usize, Vec<f64>)> {
    let columns = ribbon.columns();
    let count = ribbon.axis.len() / rows_each;
    // What is left over lies at the coronal end.
    let first = ribbon.axis.len() % rows_each;
    (0..count)
        .map(|index| {
            let from = first + index * rows_each;
            let mut profile = vec![0.0; columns];
            for row in from..from + rows_each {
                let values = &ribbon.values[row * columns..][..columns];
                for (sum, value) in profile.iter_mut().zip(values) {
                    *sum += f64::from(*value) / rows_each as f64;
                }
            }
            (from + rows_each / 2, profile)
        })
        .collect()
}

/// Index of the width that describes a stretch and its neighbours best.
fn best_width(fits: &[Vec<Option<Ridge>>], index: usize) -> Option<usize> {
    let from = index.saturating_sub(WIDTH_STRETCHES);
    let to = (index + WIDTH_STRETCHES).min(fits.len() - 1);
    let cost = |width: usize| {
        let log = |ridge: &Ridge| ridge.mean_square().max(1e-18).ln();
        let near = fits[from..=to].iter();
        let found: Vec<f64> = near
            .filter_map(|fit| fit[width].as_ref().map(log))
            .collect();
        (!found.is_empty()).then(|| found.iter().sum::<f64>() / found.len() as f64)
    };
    (0..fits[index].len())
        .filter(|width| fits[index][*width].is_some())
        .filter_map(|width| Some((width, cost(width)?)))
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(width, _)| width)
}

/// How a ridge is sought on a profile; in columns.
struct Search {
    reach: f64,
    more: f64,
    /// +1 for bright ridges, −1 for dark ones.
    sign: f64,
    middle: usize,
}

impl Search {
    /// The best ridge of one width: the centre by a grid, then by Newton steps
    /// on the profile.
    fn best(&self, profile: &[f64], sigma: f64) -> Option<Ridge> {
        let step = 1.0;
        let steps = (self.reach / step).floor() as i64;
        let mut best: Option<(f64, f64)> = None;
        for k in -steps..=steps {
            let centre = k as f64 * step;
            let Some(fit) = self.linear(profile, sigma, centre) else {
                continue;
            };
            if self.sign * fit.1 > 0.0 && best.is_none_or(|(least, _)| fit.0 < least) {
                best = Some((fit.0, centre));
            }
        }
        let (_, mut centre) = best?;
        for _ in 0..6 {
            let shift = self.solve(profile, sigma, centre)?.0;
            centre += shift.clamp(-1.5, 1.5);
            if centre.abs() > self.reach + 1.0 {
                return None;
            }
            if shift.abs() < 1e-3 {
                break;
            }
        }
        let (_, ridge) = self.solve(profile, sigma, centre)?;
        (ridge.height > 0.0).then_some(ridge)
    }

    /// Window of a ridge, in columns of the profile.
    fn window(&self, columns: usize, sigma: f64) -> (usize, usize) {
        // The same for all centres, so that their squares can be compared.
        let half = (WINDOW_SIGMAS * sigma + self.more + self.reach).round() as usize;
        let from = self.middle.saturating_sub(half);
        (from, (self.middle + half).min(columns - 1))
    }

    /// Sum of squares and height with the centre held.
    fn linear(&self, profile: &[f64], sigma: f64, centre: f64) -> Option<(f64, f64)> {
        let (from, to) = self.window(profile.len(), sigma);
        let mut matrix = SMatrix::<f64, 4, 4>::zeros();
        let mut right = SVector::<f64, 4>::zeros();
        let mut squares = 0.0;
        for (column, value) in profile.iter().enumerate().take(to + 1).skip(from) {
            let row = self.terms(column, sigma, centre);
            let row = SVector::<f64, 4>::new(row[0], row[1], row[2], row[3]);
            matrix += row * row.transpose();
            right += row * *value;
            squares += value * value;
        }
        let solved = matrix.cholesky()?.solve(&right);
        Some((squares - solved.dot(&right), solved[3]))
    }

    /// Background (1, t, t²), ridge and its slope by the centre at unit height.
    fn terms(&self, column: usize, sigma: f64, centre: f64) -> [f64; 5] {
        let t = column as f64 - self.middle as f64;
        let x = (t - centre) / sigma;
        let ridge = (-0.5 * x * x).exp();
        let scaled = t / (4.0 * sigma);
        [1.0, scaled, scaled * scaled, ridge, ridge * x / sigma]
    }

    /// One Gauss–Newton step of all five numbers: the shift of the centre it
    /// asks for, and the ridge at `centre`.
    fn solve(&self, profile: &[f64], sigma: f64, centre: f64) -> Option<(f64, Ridge)> {
        let (from, to) = self.window(profile.len(), sigma);
        let (_, height) = self.linear(profile, sigma, centre)?;
        let rows: Vec<SVector<f64, 5>> = (from..=to)
            .map(|column| {
                let mut row = self.terms(column, sigma, centre);
                row[4] *= height;
                SVector::from(row)
            })
            .collect();
        let mut matrix = SMatrix::<f64, 5, 5>::zeros();
        let mut right = SVector::<f64, 5>::zeros();
        for (row, value) in rows.iter().zip(&profile[from..=to]) {
            matrix += row * row.transpose();
            right += row * *value;
        }
        let inverse = matrix.cholesky()?.inverse();
        let solved = inverse * right;
        let residuals: Vec<f64> = rows
            .iter()
            .zip(&profile[from..=to])
            .map(|(row, value)| value - row.dot(&solved))
            .collect();
        let by = |number: usize| -> Vec<f64> {
            let line = inverse.row(number).transpose();
            rows.iter().map(|row| line.dot(row)).collect()
        };
        Some((
            solved[4],
            Ridge {
                centre,
                height: self.sign * solved[3],
                sum_of_squares: residuals.iter().map(|r| r * r).sum(),
                first: from,
                centre_by: by(4),
                height_by: by(3),
                residuals,
            },
        ))
    }
}

impl Ridge {
    /// Variance of the residuals.
    fn mean_square(&self) -> f64 {
        self.sum_of_squares / (self.residuals.len() as f64 - 5.0).max(1.0)
    }
}

/// Largest distance over which residuals across are correlated, columns.
const MOST_LAGS: usize = 24;

/// Covariance of a profile's residuals at 0, 1, 2 … columns' distance, as a
/// share of their variance, pooled over all stretches.
fn residual_covariance(stretches: &[Stretch]) -> Vec<f64> {
    let mut sums = [0.0; MOST_LAGS];
    for stretch in stretches {
        let residuals = &stretch.ridge.residuals;
        let variance = stretch.ridge.sum_of_squares.max(1e-30);
        for (lag, sum) in sums.iter_mut().enumerate() {
            let pairs = residuals.iter().zip(residuals.iter().skip(lag));
            *sum += pairs.map(|(a, b)| a * b).sum::<f64>() / variance;
        }
    }
    let whole = sums[0].max(1e-30);
    // What a few stretches say of far columns is noise.
    sums.iter()
        .enumerate()
        .map(|(lag, sum)| sum / whole * (1.0 - lag as f64 / MOST_LAGS as f64))
        .collect()
}

impl Stretch {
    /// The reading; `None` where no ridge stands out.
    fn reading(
        &self,
        correlation: &[f64],
        column_px: f64,
        mm_per_px: f64,
        sought: Sought,
    ) -> Option<Reading> {
        let metal = sought.is_metal();
        let ridge = &self.ridge;
        debug_assert!(ridge.first + ridge.residuals.len() <= self.profile.len());
        let variance = ridge.mean_square();
        let u_of = |by: &[f64]| (variance * quadratic_form(by, correlation)).max(0.0).sqrt();
        let u_centre_px = u_of(&ridge.centre_by) * column_px;
        let is_seen = ridge.height > LEAST_HEIGHT[usize::from(metal)] * u_of(&ridge.height_by);
        let is_sharp = u_centre_px * mm_per_px <= LARGEST_U_MM;
        let offset = ridge.centre * column_px;
        let is_on_line = offset.abs() * mm_per_px <= sought.farthest_mm();
        (is_seen && is_sharp && is_on_line).then(|| Reading {
            at: FilmPoint::new(
                self.middle.x + offset * self.across[0],
                self.middle.y + offset * self.across[1],
            ),
            u_px: OVER_NOISE[usize::from(metal)] * u_centre_px,
            common_u_px: COMMON_MM[usize::from(metal)] / mm_per_px,
            metal,
        })
    }
}

/// Variance of the sum of `by` times residuals of unit variance.
fn quadratic_form(by: &[f64], correlation: &[f64]) -> f64 {
    let mut sum = 0.0;
    for (lag, share) in correlation.iter().enumerate() {
        let pairs = by.iter().zip(by.iter().skip(lag));
        let products: f64 = pairs.map(|(a, b)| a * b).sum();
        sum += share * products * if lag == 0 { 1.0 } else { 2.0 };
    }
    sum
}

#[cfg(test)]
mod tests;
