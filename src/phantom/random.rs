//! Plausible films drawn from a seed.
//!
//! The numbers (lengths, angles, widths) come from ranges that a dentist would
//! call plausible; tooth lengths lie around the published means (Woelfel, as
//! remembered: MEM-M), canal widths and bends are common practice, no source.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::parts::{
    Appearance, Bend, CanalKind, CanalSpec, DetectorSpec, FileSpec, ToothShape, ToothSpec, ViewSpec,
};
use super::spec::PhantomSpec;

impl PhantomSpec {
    /// A plausible film of the given kind; equal seeds give equal films.
    pub fn random(kind: CanalKind, seed: u64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(kind as u64);
        let rng = &mut rng;
        let mut spec = Self {
            seed,
            kind,
            tooth: draw_tooth(rng),
            view: draw_view(rng),
            detector: draw_detector(rng),
            look: draw_look(rng),
            ..Self::default()
        };
        spec.canal = draw_canal(kind, &spec.tooth, rng);
        spec.file = chance(rng, 0.6).then(|| draw_file(rng));
        if spec.file.is_some() {
            // Dentists set files in half millimetres: short of, at or beyond.
            let aim = spec.reference_to_apex_mm() - rng.random_range(-1.5..3.0);
            if let Some(file) = &mut spec.file {
                file.set_length_mm = (aim * 2.0).round() / 2.0;
                file.operative_length_mm = [21.0, 25.0, 28.0, 31.0]
                    .into_iter()
                    .find(|l| *l > aim + 2.5)
                    .unwrap_or(31.0);
            }
        }
        spec.centre_on_film(rng);
        spec
    }

    /// Moves the tooth so that reference point and apex lie well inside.
    fn centre_on_film(&mut self, rng: &mut ChaCha8Rng) {
        let height_mm = f64::from(self.detector.height_px) * self.detector.pixel_pitch_mm[0];
        let tall_mm = self.reference_to_apex_mm() * 1.08;
        let spare_mm = (height_mm - tall_mm - 3.0).max(0.0);
        let shift = if self.tooth.shape == ToothShape::LowerMolar {
            2.0
        } else {
            0.0
        };
        let side = if self.tooth.mirrored { 1.0 } else { -1.0 };
        self.view.tooth_centre_mm = [
            side * shift + rng.random_range(-1.0..1.0),
            spare_mm * rng.random_range(-0.15..0.2),
        ];
    }
}

pub(super) fn chance(rng: &mut ChaCha8Rng, probability: f64) -> bool {
    rng.random_range(0.0..1.0) < probability
}

pub(super) fn sign(rng: &mut ChaCha8Rng) -> f64 {
    if chance(rng, 0.5) { 1.0 } else { -1.0 }
}

fn draw_tooth(rng: &mut ChaCha8Rng) -> ToothSpec {
    let shape = [
        ToothShape::Incisor,
        ToothShape::Canine,
        ToothShape::Premolar,
        ToothShape::LowerMolar,
        ToothShape::LowerMolar,
    ][rng.random_range(0..5)];
    // Crown height, width, neck width, depth, root depth over width; mm.
    let (fdi, canal, reference, [height, width, neck, depth, ratio]) = match shape {
        ToothShape::Incisor => ("41", "C", "incisal edge", [9.0, 5.6, 3.9, 5.8, 1.5]),
        ToothShape::Canine => ("43", "C", "cusp tip", [10.5, 7.0, 5.4, 7.6, 1.5]),
        ToothShape::Premolar => ("45", "C", "buccal cusp", [8.3, 7.2, 5.4, 8.2, 1.4]),
        ToothShape::LowerMolar => ("36", "MB", "MB cusp", [7.3, 11.0, 9.0, 10.0, 1.7]),
    };
    let scale = rng.random_range(0.93..1.07);
    let slim = scale * rng.random_range(0.95..1.05);
    ToothSpec {
        shape,
        fdi: fdi.into(),
        canal_name: canal.into(),
        reference_name: reference.into(),
        mirrored: chance(rng, 0.5),
        crown_height_mm: height * scale,
        crown_width_mm: width * slim,
        neck_width_mm: neck * slim,
        crown_depth_mm: depth * scale,
        root_depth_ratio: ratio * rng.random_range(0.9..1.1),
        // Together 0.1–0.75 mm, as large surveys of roots found
        // (means 0.38–0.69, SEEN).
        apex_beyond_foramen_mm: rng.random_range(0.1..0.7),
        apex_aside_mm: rng.random_range(0.0..0.2),
        apex_side_deg: rng.random_range(0.0..360.0),
        neighbours: [chance(rng, 0.75), chance(rng, 0.75)],
        restoration: chance(rng, 0.25),
    }
}

fn draw_canal(kind: CanalKind, tooth: &ToothSpec, rng: &mut ChaCha8Rng) -> CanalSpec {
    let molar = tooth.shape == ToothShape::LowerMolar;
    let side = sign(rng);
    let plane = |rng: &mut ChaCha8Rng| rng.random_range(-25.0..25.0);
    let bend = |turn_deg: f64, radius_mm: f64, straight_after_mm: f64, plane_deg: f64| Bend {
        turn_deg,
        radius_mm,
        straight_after_mm,
        plane_deg,
    };
    let bends = match kind {
        CanalKind::Single => {
            let turn = side * rng.random_range(15.0..45.0);
            vec![bend(
                turn,
                rng.random_range(5.0..14.0),
                rng.random_range(0.3..2.5),
                plane(rng),
            )]
        }
        CanalKind::SShaped => {
            let first = side * rng.random_range(15.0..32.0);
            let second = -side * rng.random_range(15.0..35.0);
            vec![
                bend(
                    first,
                    rng.random_range(6.0..12.0),
                    rng.random_range(0.3..1.5),
                    plane(rng),
                ),
                bend(
                    second,
                    rng.random_range(4.5..9.0),
                    rng.random_range(0.3..1.5),
                    plane(rng),
                ),
            ]
        }
        CanalKind::NearlyStraight => {
            let turn = side * rng.random_range(1.0..8.0);
            vec![bend(
                turn,
                rng.random_range(25.0..60.0),
                rng.random_range(0.3..2.0),
                plane(rng),
            )]
        }
        CanalKind::LateBend => {
            let turn = side * rng.random_range(25.0..50.0);
            vec![bend(
                turn,
                rng.random_range(1.8..3.5),
                rng.random_range(0.5..1.3),
                plane(rng),
            )]
        }
    };
    let orifice_below_neck = if molar {
        rng.random_range(0.8..2.2)
    } else {
        rng.random_range(-0.5..1.0)
    };
    let reference_to_orifice_mm = tooth.crown_height_mm + orifice_below_neck;
    // Root lengths of 12–16 mm from the neck, as published means show.
    let root_mm = rng.random_range(12.0..15.5);
    let curved: f64 = bends
        .iter()
        .map(|b| b.turn_deg.to_radians().abs() * b.radius_mm + b.straight_after_mm)
        .sum();
    CanalSpec {
        reference_to_orifice_mm,
        straight_mm: (root_mm - orifice_below_neck - curved).max(2.0),
        bends,
        orifice_width_mm: rng.random_range(0.6..1.2),
        foramen_width_mm: rng.random_range(0.2..0.4),
        depth_ratio: rng.random_range(1.0..1.8),
        calcified_apical_mm: if chance(rng, 0.25) {
            rng.random_range(2.0..4.5)
        } else {
            0.0
        },
    }
}

fn draw_file(rng: &mut ChaCha8Rng) -> FileSpec {
    FileSpec {
        size: [10, 15, 15, 20, 20, 25, 30][rng.random_range(0..7)],
        stop_diameter_mm: rng.random_range(2.2..3.2),
        stop_thickness_mm: rng.random_range(1.0..1.5),
        ..FileSpec::default()
    }
}

fn draw_view(rng: &mut ChaCha8Rng) -> ViewSpec {
    ViewSpec {
        source_to_detector_mm: rng.random_range(200.0..400.0),
        object_to_detector_mm: rng.random_range(6.0..18.0),
        lean_deg: rng.random_range(-8.0..8.0),
        inclination_deg: rng.random_range(-10.0..10.0),
        detector_tilt_deg: rng.random_range(-4.0..4.0),
        focal_spot_mm: [0.4, 0.7][rng.random_range(0..2)],
        quarter_turns: if chance(rng, 0.3) { 2 } else { 0 },
        ..ViewSpec::default()
    }
}

fn draw_detector(rng: &mut ChaCha8Rng) -> DetectorSpec {
    let pitch = [0.0195, 0.02, 0.025, 0.03, 0.04][rng.random_range(0..5)];
    let active_mm = [[26.0, 35.0], [30.0, 40.0]][rng.random_range(0..2)];
    DetectorSpec {
        width_px: (active_mm[0] / pitch) as u32,
        height_px: (active_mm[1] / pitch) as u32,
        pixel_pitch_mm: [pitch, pitch],
        bits: [12, 16, 16][rng.random_range(0..3)],
        // Quanta per area, so that a coarse pitch is no noisier for its size.
        photons: Some(rng.random_range(9000.0..30000.0) * (pitch / 0.02) * (pitch / 0.02)),
        blur_mm: rng.random_range(0.018..0.04),
        black_depth: rng.random_range(0.05..0.2),
        white_depth: rng.random_range(2.4..3.1),
    }
}

fn draw_look(rng: &mut ChaCha8Rng) -> Appearance {
    Appearance {
        bone_seed: rng.random(),
        bone_contrast: rng.random_range(0.7..1.3),
        bone_density: rng.random_range(0.8..1.2),
        trabecula_mm: rng.random_range(1.1..2.1),
        crest_below_neck_mm: rng.random_range(1.0..3.0),
        ligament_mm: rng.random_range(0.16..0.32),
        lamina_mm: rng.random_range(0.2..0.4),
        jaw_canal: chance(rng, 0.35),
    }
}
