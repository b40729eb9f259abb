//! Step by step along a bright instrument.

use super::AssistError;
use super::raster::Raster;
use super::ribbon::{Ribbon, running_sums};
use crate::progress::Progress;
use crate::units::FilmPoint;

/// A place on an instrument and where it goes from there.
#[derive(Clone, Copy, Debug)]
pub(super) struct Heading {
    pub place: FilmPoint,
    /// Unit direction, film frame.
    pub direction: [f64; 2],
    /// Contrast against the brighter flank, opacity.
    pub contrast: f64,
    pub half_width_mm: f64,
}

impl Heading {
    pub fn reversed(self) -> Self {
        let [x, y] = self.direction;
        Self {
            direction: [-x, -y],
            ..self
        }
    }

    fn ahead(&self, px: f64) -> FilmPoint {
        FilmPoint::new(
            self.place.x + px * self.direction[0],
            self.place.y + px * self.direction[1],
        )
    }
}

/// Half widths tried, mm.
const HALF_WIDTHS_MM: [f64; 5] = [0.06, 0.1, 0.15, 0.22, 0.32];
/// The click may miss the axis by this much, mm.
const CLICK_REACH_MM: f64 = 0.6;
/// A contrast must exceed that of this share of the places around, times
/// [`LEAST_RATIO`].
const USUAL_QUANTILE: f64 = 0.75;
const LEAST_RATIO: f64 = 1.5;
/// Step of the tracker, mm.
const STEP_MM: f64 = 0.1;
/// Longest stretch without contrast that is bridged, mm.
const GAP_MM: f64 = 3.0;

/// The profile across `ribbon`, averaged over its rows.
fn mean_profile(ribbon: &Ribbon) -> Vec<f64> {
    let columns = ribbon.columns();
    let mut profile = vec![0.0f64; columns];
    for row in ribbon.values.chunks(columns) {
        for (p, v) in profile.iter_mut().zip(row) {
            *p += f64::from(*v);
        }
    }
    let rows = ribbon.axis.len() as f64;
    profile.iter().map(|p| p / rows).collect()
}

/// Contrast of a bar of half width `half` (columns) at `middle` against the
/// brighter of its flanks.
fn bar_contrast(sums: &[f64], middle: usize, half: usize) -> Option<f64> {
    let mean = |a: usize, b: usize| (sums[b] - sums[a]) / (b - a) as f64;
    let gap = half.div_ceil(2) + 2;
    let flank = half + 2;
    let out = half + gap + flank;
    if middle < out || middle + out + 1 >= sums.len() {
        return None;
    }
    let core = mean(middle - half / 2, middle + half / 2 + 1);
    let left = mean(middle - out, middle - half - gap);
    let right = mean(middle + half + gap + 1, middle + out + 1);
    Some(core - left.max(right))
}

/// Profiles across a straight piece of the film.
struct Prober<'a> {
    opacity: &'a Raster,
    mm_per_px: f64,
    column_px: f64,
}

impl Prober<'_> {
    /// The best bar on the straight piece `length_mm` long about `middle`,
    /// within `reach_mm` beside it: contrast, offset px, half width mm.
    fn best_bar(
        &self,
        middle: FilmPoint,
        [dx, dy]: [f64; 2],
        length_mm: f64,
        reach_mm: f64,
        half_widths_mm: &[f64],
    ) -> Option<(f64, f64, f64)> {
        let px = |mm: f64| mm / self.mm_per_px;
        let columns = |mm: f64| (px(mm) / self.column_px).round().max(1.0) as usize;
        let widest = half_widths_mm.iter().copied().fold(0.0, f64::max);
        let reach = columns(reach_mm) + 3 * columns(widest) + 8;
        let steps = (length_mm / STEP_MM).round() as i32;
        let axis: Vec<FilmPoint> = (-steps / 2..=steps / 2)
            .map(|k| {
                let s = f64::from(k) * px(STEP_MM);
                FilmPoint::new(middle.x + s * dx, middle.y + s * dy)
            })
            .collect();
        let ribbon = Ribbon::new(self.opacity, axis, reach, self.column_px);
        let sums = running_sums(&mean_profile(&ribbon));
        let mut best: Option<(f64, f64, f64)> = None;
        for &half_width_mm in half_widths_mm {
            let half = columns(half_width_mm);
            let reach_columns = columns(reach_mm);
            for column in reach - reach_columns..=reach + reach_columns {
                let Some(contrast) = bar_contrast(&sums, column, half) else {
                    continue;
                };
                if best.is_none_or(|(b, ..)| contrast > b) {
                    let offset = (column as f64 - reach as f64) * self.column_px;
                    best = Some((contrast, offset, half_width_mm));
                }
            }
        }
        best
    }
}

/// The instrument nearest to a click, if one runs there: a bar more opaque
/// than both flanks by much more than is usual around.
pub(super) fn direction_at(opacity: &Raster, near: FilmPoint, mm_per_px: f64) -> Option<Heading> {
    let prober = Prober {
        opacity,
        mm_per_px,
        column_px: (0.03 / mm_per_px).max(0.5),
    };
    let best_about = |p: FilmPoint, angles: usize, reach_mm: f64| {
        let mut best: Option<Heading> = None;
        for k in 0..angles {
            let (sin, cos) = (std::f64::consts::PI * k as f64 / angles as f64).sin_cos();
            let direction = [cos, sin];
            let bar = prober.best_bar(p, direction, 1.6, reach_mm, &HALF_WIDTHS_MM);
            if let Some((contrast, offset, half_width_mm)) = bar
                && best.is_none_or(|b| contrast > b.contrast)
            {
                best = Some(Heading {
                    place: FilmPoint::new(p.x - offset * sin, p.y + offset * cos),
                    direction,
                    contrast,
                    half_width_mm,
                });
            }
        }
        best
    };
    let found = best_about(near, 48, CLICK_REACH_MM)?;
    // What bars are usual in the neighbourhood, off this line?
    let mut usual = Vec::new();
    for k in 0..24 {
        let angle = std::f64::consts::TAU * f64::from(k) / 24.0;
        for radius_mm in [2.0, 3.5, 5.0] {
            let r = radius_mm / mm_per_px;
            let p = FilmPoint::new(near.x + r * angle.cos(), near.y + r * angle.sin());
            let (x, y) = opacity.cells_from_film(p);
            let inside = (0.0..opacity.width() as f64).contains(&x)
                && (0.0..opacity.height() as f64).contains(&y);
            let across = (p.x - found.place.x) * found.direction[1]
                - (p.y - found.place.y) * found.direction[0];
            if inside && across.abs() * mm_per_px > 1.2 {
                usual.extend(best_about(p, 8, 0.3).map(|h| h.contrast.max(0.0)));
            }
        }
    }
    if usual.len() < 8 {
        return None;
    }
    usual.sort_by(f64::total_cmp);
    let strong = usual[((usual.len() - 1) as f64 * USUAL_QUANTILE) as usize];
    (found.contrast > LEAST_RATIO * strong && found.contrast > 0.005).then_some(found)
}

/// Follows an instrument from a place on it to where it ends.
pub(super) struct Tracker<'a> {
    prober: Prober<'a>,
    mm_per_px: f64,
}

impl<'a> Tracker<'a> {
    pub fn new(opacity: &'a Raster, mm_per_px: f64) -> Self {
        Self {
            prober: Prober {
                opacity,
                mm_per_px,
                column_px: (0.03 / mm_per_px).max(0.5),
            },
            mm_per_px,
        }
    }

    /// Places after `start`, one a step, to the last that has contrast.
    pub fn track(
        &self,
        start: Heading,
        progress: &Progress,
    ) -> Result<Vec<FilmPoint>, AssistError> {
        let raster = self.prober.opacity;
        let step_px = STEP_MM / self.mm_per_px;
        let mut now = start;
        let mut places = vec![start.place];
        let mut contrasts = vec![start.contrast];
        let mut good = 0;
        // 60 mm is longer than any instrument.
        for step in 1..(60.0 / STEP_MM) as usize {
            if step % 32 == 0 {
                progress.check()?;
            }
            let ahead = now.ahead(step_px);
            let (x, y) = raster.cells_from_film(ahead);
            let inside = (1.0..raster.width() as f64 - 1.0).contains(&x)
                && (1.0..raster.height() as f64 - 1.0).contains(&y);
            if !inside {
                break;
            }
            let widths = [0.7, 1.0, 1.4].map(|f| (f * now.half_width_mm).clamp(0.05, 0.4));
            let bar = self
                .prober
                .best_bar(ahead, now.direction, 0.3, 0.15, &widths);
            let Some((contrast, offset, half_width_mm)) = bar else {
                break;
            };
            let recent = &contrasts[contrasts.len().saturating_sub(15)..];
            let usual = recent.iter().sum::<f64>() / recent.len() as f64;
            let gap = (step - 1 - good) as f64 * STEP_MM;
            let wanted = if gap > 0.25 { 0.75 } else { 0.4 };
            if contrast > wanted * usual {
                let [dx, dy] = now.direction;
                let gain = 0.8 * offset;
                now.place = FilmPoint::new(ahead.x - gain * dy, ahead.y + gain * dx);
                now.half_width_mm += 0.2 * (half_width_mm - now.half_width_mm);
                contrasts.push(contrast);
                places.push(now.place);
                good = step;
                let back = places[places.len().saturating_sub(6)];
                let length = back.distance_px(now.place);
                if places.len() >= 4 && length > 0.0 {
                    let fresh = [
                        (now.place.x - back.x) / length,
                        (now.place.y - back.y) / length,
                    ];
                    now.direction = blended(now.direction, fresh, 0.6);
                }
            } else {
                now.place = ahead;
                places.push(ahead);
                if gap > GAP_MM {
                    break;
                }
            }
        }
        places.truncate(good + 1);
        places.remove(0);
        Ok(places)
    }
}

/// `a` and `b` mixed, of unit length.
fn blended(a: [f64; 2], b: [f64; 2], share: f64) -> [f64; 2] {
    let [x, y] = [0, 1].map(|k| (1.0 - share) * a[k] + share * b[k]);
    let length = x.hypot(y).max(1e-9);
    [x / length, y / length]
}
