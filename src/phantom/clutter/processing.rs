//! What the reader's software did: curve, sharpening, smoothing, resampling.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::phantom::exposure::Intensities;

/// Curves from optical depth (0 black, 1 white) to grey.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum ResponseCurve {
    /// Even in optical depth.
    #[default]
    Even,
    /// A power.
    Power {
        /// Exponent.
        gamma: f64,
    },
    /// Steep in the middle, symmetric.
    Steep {
        /// Slope in the middle.
        slope: f64,
        /// Depth of the middle.
        middle: f64,
    },
    /// Toe and shoulder of film: steep where dark, and clipped at both ends.
    ToeAndShoulder {
        /// Share of the range lost at the black end.
        toe: f64,
        /// Share lost at the white end.
        shoulder: f64,
    },
    /// Grey levels spread evenly over their ranks, in part.
    Ranked {
        /// Share of the ranks in the result.
        share: f64,
    },
}

/// Processing of the finished picture.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Processing {
    /// Curve.
    pub curve: ResponseCurve,
    /// Unsharp masking: share of the difference added.
    pub sharpen: f64,
    /// Its blur (σ), mm.
    pub sharpen_mm: f64,
    /// Smoothing (σ), mm.
    pub smooth_mm: f64,
    /// The picture was kept at this pitch and enlarged again, mm.
    pub resampled_mm: f64,
}

/// `grey` through the curve.
pub(in crate::phantom) fn responded(curve: &ResponseCurve, grey: &mut [f32]) {
    match *curve {
        ResponseCurve::Even => {}
        ResponseCurve::Power { gamma } => {
            for g in grey {
                *g = g.clamp(0.0, 1.0).powf(gamma as f32);
            }
        }
        ResponseCurve::Steep { slope, middle } => {
            let (k, m) = (4.0 * slope as f32, middle as f32);
            let form = |t: f32| 1.0 / (1.0 + (-k * (t - m)).exp());
            let (low, high) = (form(0.0), form(1.0));
            for g in grey {
                *g = (form(*g) - low) / (high - low);
            }
        }
        ResponseCurve::ToeAndShoulder { toe, shoulder } => {
            let (toe, shoulder) = (toe as f32, shoulder as f32);
            for g in grey {
                let t = ((*g - toe) / (1.0 - toe - shoulder)).clamp(0.0, 1.0);
                *g = t * (1.6 - 0.6 * t * t);
            }
        }
        ResponseCurve::Ranked { share } => {
            const BINS: usize = 1024;
            let mut counts = vec![0u64; BINS];
            let bin = |g: f32| (g.clamp(0.0, 1.0) * (BINS - 1) as f32) as usize;
            for g in grey.iter() {
                counts[bin(*g)] += 1;
            }
            let mut sum = 0;
            let total = grey.len() as f32;
            let ranks: Vec<f32> = counts
                .iter()
                .map(|c| {
                    sum += c;
                    sum as f32 / total
                })
                .collect();
            for g in grey {
                *g += share as f32 * (ranks[bin(*g)] - *g);
            }
        }
    }
}

/// `grey` resampled, smoothed and sharpened.
pub(in crate::phantom) fn processed(
    processing: &Processing,
    mut grey: Vec<f32>,
    width: usize,
    pitch_mm: f64,
) -> Vec<f32> {
    if processing.resampled_mm > pitch_mm {
        grey = resampled(&grey, width, processing.resampled_mm / pitch_mm);
    }
    let blurred = |values: Vec<f32>, mm: f64| {
        Intensities { width, values }
            .blurred(mm / pitch_mm, mm / pitch_mm)
            .values
    };
    if processing.smooth_mm > 0.0 {
        grey = blurred(grey, processing.smooth_mm);
    }
    if processing.sharpen > 0.0 {
        let soft = blurred(grey.clone(), processing.sharpen_mm);
        let share = processing.sharpen as f32;
        for (g, s) in grey.iter_mut().zip(soft) {
            *g += share * (*g - s);
        }
    }
    grey
}

/// `grey` kept at `factor` times coarser pixels (means) and enlarged bilinearly.
fn resampled(grey: &[f32], width: usize, factor: f64) -> Vec<f32> {
    let height = grey.len() / width;
    let coarse = |n: usize| ((n as f64 / factor).ceil() as usize).max(2);
    let (cw, ch) = (coarse(width), coarse(height));
    let mut sums = vec![(0.0f32, 0.0f32); cw * ch];
    for (i, g) in grey.iter().enumerate() {
        let (x, y) = ((i % width) as f64 / factor, (i / width) as f64 / factor);
        let cell = &mut sums[(y as usize).min(ch - 1) * cw + (x as usize).min(cw - 1)];
        cell.0 += g;
        cell.1 += 1.0;
    }
    let cells: Vec<f32> = sums.iter().map(|(s, n)| s / n.max(1.0)).collect();
    (0..grey.len())
        .map(|i| {
            let x = (((i % width) as f64 + 0.5) / factor - 0.5).clamp(0.0, (cw - 1) as f64);
            let y = (((i / width) as f64 + 0.5) / factor - 0.5).clamp(0.0, (ch - 1) as f64);
            let (x0, y0) = ((x as usize).min(cw - 2), (y as usize).min(ch - 2));
            let (fx, fy) = ((x - x0 as f64) as f32, (y - y0 as f64) as f32);
            let at = |dx: usize, dy: usize| cells[(y0 + dy) * cw + x0 + dx];
            let top = at(0, 0) + fx * (at(1, 0) - at(0, 0));
            let bottom = at(0, 1) + fx * (at(1, 1) - at(0, 1));
            top + fy * (bottom - top)
        })
        .collect()
}
