//! Synthetic periapical films whose truth is known to the last digit.
//!
//! A [`PhantomSpec`] describes tooth, canal, file, exposure and detector;
//! [`render`] gives the film and its [`Truth`]. Rays run from a point source
//! through solids in space to a flat detector; matter attenuates by
//! Beer–Lambert at one effective energy; focal spot and detector blur, quanta
//! fluctuate, and the response is logarithmic.
//!
//! The same spec gives the same film for any number of threads. Across
//! machines the elementary functions of the platform may differ in the last
//! bit, far below one step of a 16-bit sample.

mod anatomy;
pub mod block;
mod check;
mod clicks;
mod crown;
mod demo;
mod error;
mod exposure;
mod path;
mod projection;
mod random;
mod scene;
mod solid;
mod spec;
mod texture;
mod truth;
mod tube;
mod write;

use nalgebra::Vector3;
use rayon::prelude::*;

use crate::film::{Film, Polarity};
use exposure::Intensities;
use path::CanalPath;
use projection::Projection;
use scene::Scene;

pub use clicks::case_from_truth;
pub use demo::{Demo, demo, samples};
pub use error::PhantomError;
pub use spec::{
    Appearance, BallSpec, Bend, CanalKind, CanalSpec, DetectorSpec, FileSpec, PhantomSpec,
    RulerSpec, ToothShape, ToothSpec, ViewSpec,
};
pub use truth::{CurveTruth, FileTruth, Truth};
pub use write::{PhantomFiles, write};

/// A synthetic film with all that is true of it.
#[derive(Clone, Debug)]
pub struct Phantom {
    /// The film, larger samples more radio-opaque.
    pub film: Film,
    /// What is true of it.
    pub truth: Truth,
}

/// Solids are cut by their sections in the tooth's mid-plane, which rays must
/// not run along.
const GREATEST_DRAWN_TURN_DEG: f64 = 45.0;

/// What is true of the film `spec` describes, without exposing it.
///
/// # Errors
/// A value outside what can be built ([`PhantomSpec::check`]).
pub fn truth(spec: &PhantomSpec) -> Result<Truth, PhantomError> {
    Ok(arranged(spec)?.1)
}

/// The solids before source and detector, and what is true of them.
fn arranged(spec: &PhantomSpec) -> Result<(Scene, Truth), PhantomError> {
    spec.check()?;
    let path = CanalPath::new(&spec.canal);
    let centre = Vector3::new(0.0, spec.reference_to_apex_mm() / 2.0, 0.0);
    let projection = Projection::new(&spec.view, &spec.detector, centre);
    let scene = Scene::new(spec, &path, projection.clone());
    let truth = Truth::new(spec, &path, &projection, &scene);
    Ok((scene, truth))
}

/// Exposes the film `spec` describes.
///
/// # Errors
/// A value outside what can be built ([`PhantomSpec::check`]).
pub fn render(spec: &PhantomSpec) -> Result<Phantom, PhantomError> {
    if spec.view.turn_deg.abs() > GREATEST_DRAWN_TURN_DEG {
        return Err(PhantomError::Contradiction(
            "a tooth turned by more than 45 degrees (view.turn_deg) has a truth and no picture",
        ));
    }
    let (scene, truth) = arranged(spec)?;
    let detector = &spec.detector;
    let width = detector.width_px as usize;
    let mut values = vec![0.0f32; width * detector.height_px as usize];
    values
        .par_chunks_mut(width)
        .enumerate()
        .for_each(|(row, out)| {
            scene.optical_depth_row(row, out);
            for value in out {
                *value = (-*value).exp();
            }
        });
    let [row_pitch, column_pitch] = detector.pixel_pitch_mm;
    // Geometric unsharpness f·OFD/SOD is an even spread: variance width²/12.
    let unsharpness_mm = spec.view.focal_spot_mm * spec.view.object_to_detector_mm
        / (spec.view.source_to_detector_mm - spec.view.object_to_detector_mm);
    let focal_mm = unsharpness_mm / 12f64.sqrt();
    let mut intensities =
        Intensities { width, values }.blurred(focal_mm / column_pitch, focal_mm / row_pitch);
    if let Some(photons) = detector.photons {
        intensities = intensities.with_quantum_noise(photons, spec.seed);
    }
    let samples = intensities
        .blurred(
            detector.blur_mm / column_pitch,
            detector.blur_mm / row_pitch,
        )
        .log_samples(detector);
    let samples = quarter_turned(samples, width, spec.view.quarter_turns);
    let [columns, rows] = truth.film_size_px;
    let film = Film::from_samples(
        columns,
        rows,
        detector.bits,
        Polarity::HighIsOpaque,
        samples,
    )
    .ok_or(PhantomError::Contradiction(
        "samples and raster differ in size",
    ))?;
    Ok(Phantom { film, truth })
}

/// The raster turned clockwise by `turns` right angles.
fn quarter_turned(samples: Vec<u16>, width: usize, turns: u8) -> Vec<u16> {
    let height = samples.len() / width;
    match turns % 4 {
        0 => samples,
        1 => (0..width)
            .flat_map(|x| (0..height).rev().map(move |y| (x, y)))
            .map(|(x, y)| samples[y * width + x])
            .collect(),
        2 => samples.into_iter().rev().collect(),
        _ => (0..width)
            .rev()
            .flat_map(|x| (0..height).map(move |y| (x, y)))
            .map(|(x, y)| samples[y * width + x])
            .collect(),
    }
}
