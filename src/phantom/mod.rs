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
pub mod clutter;
mod crown;
mod demo;
mod error;
mod exposure;
mod family;
mod objects;
mod parts;
mod path;
mod projection;
mod random;
mod scene;
mod second;
pub mod shapes;
mod solid;
mod spec;
mod texture;
mod truth;
mod tube;
mod visibility;
mod write;

use nalgebra::Vector3;
use rayon::prelude::*;

use crate::film::{Film, Polarity};
use exposure::Intensities;
use path::CanalPath;
use projection::Projection;
use scene::Scene;

pub use clicks::{case_from_truth, starting_case, true_case};
pub use demo::{Demo, demo, samples};
pub use error::PhantomError;
pub use family::Families;
pub use parts::{
    Appearance, BallSpec, Bend, CanalKind, CanalSpec, DetectorSpec, FileSpec, RulerSpec,
    ToothShape, ToothSpec, ViewSpec,
};
pub use spec::PhantomSpec;
pub use truth::{CurveTruth, FileTruth, RootTruth, SecondFileTruth, Truth};
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
    let intensities = intensities.blurred(
        detector.blur_mm / column_pitch,
        detector.blur_mm / row_pitch,
    );
    let samples = if spec.clutter.is_none() {
        intensities.log_samples(detector)
    } else {
        let mut grey = intensities.log_grey(detector);
        finished(spec, &mut grey, width);
        exposure::quantised(&grey, detector.bits)
    };
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

/// Noise, processing, marks and the plate's edges put onto `grey`.
fn finished(spec: &PhantomSpec, grey: &mut Vec<f32>, width: usize) {
    let clutter = &spec.clutter;
    let pitch_mm = spec.detector.pixel_pitch_mm[1];
    for (i, noise) in clutter.noise.iter().enumerate() {
        let seed = spec.seed.wrapping_mul(97).wrapping_add(i as u64);
        clutter::add_noise(noise, grey, width, pitch_mm, seed);
    }
    *grey = clutter::processed(&clutter.processing, std::mem::take(grey), width, pitch_mm);
    clutter::responded(&clutter.processing.curve, grey);
    clutter::draw_marks(&clutter.marks, grey, width, pitch_mm);
    let exposed = visibility::exposed_area(spec);
    if !exposed.is_whole() {
        let beyond = if clutter.plate.dark_frame { 0.0 } else { 1.0 };
        grey.par_chunks_mut(width).enumerate().for_each(|(y, row)| {
            for (x, value) in row.iter_mut().enumerate() {
                let depth_mm = exposed.depth_mm(x as f64 + 0.5, y as f64 + 0.5);
                let share = (depth_mm / 0.1 + 0.5).clamp(0.0, 1.0) as f32;
                *value = beyond + share * (*value - beyond);
            }
        });
    }
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
