//! What tells metal on the film, and the centre line of an instrument.

use super::centre::{Evidence, Stiffness, Wish, film_points, smooth_course, two_sided_contrast};
use super::polyline::resampled;
use super::raster::Raster;
use super::ribbon::Ribbon;
use super::ridge::RidgeKind;
use crate::units::FilmPoint;

/// Step along an instrument, mm.
pub(super) const STEP_MM: f64 = 0.1;
/// Finer step for tip and stop, mm.
pub(super) const FINE_STEP_MM: f64 = 0.04;
/// Distance between ribbon columns, mm.
pub(super) const COLUMN_MM: f64 = 0.025;
/// On metal the bright contrast within this distance, mm, exceeds every dark
/// one there by this factor.
const BESIDE_MM: f64 = 0.65;
const METAL_OVER_DARK: f32 = 1.6;
/// Share of the shank that must stand out as only metal does.
const LEAST_METAL_SHARE: f64 = 0.65;
/// Half widths of instruments, mm.
const HALF_WIDTHS_MM: [f64; 4] = [0.07, 0.13, 0.22, 0.35];

/// Whether `line` stands out as only metal does: on most of its length the
/// bright ridge beside it exceeds every dark one there by far.
pub(super) fn is_metal(opacity: &Raster, line: &[FilmPoint], mm_per_px: f64) -> bool {
    let px = |mm: f64| mm / mm_per_px;
    let column_px = px(COLUMN_MM).max(0.5);
    let columns = |mm: f64| (px(mm) / column_px) as usize;
    let (near, reach) = (columns(BESIDE_MM), columns(1.5));
    let axis = resampled(line, px(STEP_MM), 8);
    let ribbon = Ribbon::new(opacity, axis, reach, column_px);
    let half_widths_px = HALF_WIDTHS_MM.map(|h| px(h).max(1.0));
    let along = ribbon.smoothed_along(&ribbon.values, 1.5);
    let [dark, bright] = [RidgeKind::Dark, RidgeKind::Bright].map(|kind| {
        two_sided_contrast(&ribbon, &along, &half_widths_px, kind)
            .chunks(ribbon.columns())
            .map(|row| {
                row[reach - near..=reach + near]
                    .iter()
                    .fold(0.0, |a: f32, &b| a.max(b))
            })
            .collect::<Vec<f32>>()
    });
    let metal = dark
        .iter()
        .zip(&bright)
        .filter(|(d, b)| **b > METAL_OVER_DARK * **d)
        .count();
    metal as f64 >= LEAST_METAL_SHARE * dark.len() as f64
}

/// `line` moved onto the instrument's centre and smoothed.
pub(super) fn centred(opacity: &Raster, line: &[FilmPoint], mm_per_px: f64) -> Vec<FilmPoint> {
    let px = |mm: f64| mm / mm_per_px;
    let column_px = px(COLUMN_MM).max(0.5);
    let columns = |mm: f64| (px(mm) / column_px).round() as usize;
    let axis = resampled(line, px(STEP_MM), 8);
    let ribbon = Ribbon::new(opacity, axis, columns(1.2), column_px);
    let half_widths_px = HALF_WIDTHS_MM.map(|h| px(h).max(1.0));
    let evidence = Evidence::of(&ribbon, &half_widths_px, 1.5, RidgeKind::Bright);
    let found = evidence.best_line(&ribbon, columns(0.3), &[]);
    let wishes: Vec<Wish> = found
        .offsets_px
        .iter()
        .zip(&found.clarity)
        .enumerate()
        .map(|(row, (&offset_px, &clarity))| Wish {
            row,
            offset_px,
            weight: (clarity / 1.5).min(1.0) / px(0.06).powi(2),
        })
        .collect();
    let bend_px = px(STEP_MM).powi(2) / px(2.5);
    let change_px = bend_px * STEP_MM;
    let stiffness = Stiffness {
        bend: 0.02 / bend_px.powi(2),
        bend_change: 0.1 / change_px.powi(2),
    };
    film_points(&ribbon, &smooth_course(&ribbon, &wishes, stiffness))
}
