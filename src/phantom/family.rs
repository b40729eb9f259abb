//! Films as they are taken at the chair, drawn from a seed, in two sets of
//! appearances that have no kind in common: one to tune assistance on, one to
//! test it on.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::clutter::{
    BoneTexture, ClampForm, ClampSpec, Clutter, CrownWork, CrownWorkKind, MarkSpec, NoiseSpec,
    NoiseSpectrum, OverlappingRoot, PlateSpec, Processing, ResponseCurve, RootFilling, SecondCanal,
    SecondFile, StopForm, StopSpec, Unexposed, ZygomaSpec,
};
use super::parts::{Bend, CanalKind, CanalSpec, FileSpec, ToothShape};
use super::random::{chance, sign};
use super::spec::PhantomSpec;

/// Sets of appearances: bone textures, clamps, noise spectra, response curves
/// and stops of one set never occur in the other; nor do, of practice blocks,
/// courses, lights, shadows, reflections, dyes, blurs and grains.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Families {
    /// What tuning and training may see.
    Tuning,
    /// What only the test sees.
    Test,
}

impl Families {
    /// Textures of bone.
    pub fn bones(self) -> &'static [BoneTexture] {
        match self {
            Self::Tuning => &[
                BoneTexture::Network,
                BoneTexture::Strands,
                BoneTexture::Grains,
            ],
            Self::Test => &[BoneTexture::Cells, BoneTexture::Ladders],
        }
    }

    /// Forms of clamp.
    pub fn clamps(self) -> &'static [ClampForm] {
        match self {
            Self::Tuning => &[
                ClampForm::WingsAndBow,
                ClampForm::JawsAndLoop,
                ClampForm::DoubleBow,
            ],
            Self::Test => &[ClampForm::BarAndArms, ClampForm::FrameAndPlate],
        }
    }

    /// Spectra of the noise besides the quanta.
    pub fn noises(self) -> &'static [NoiseSpectrum] {
        match self {
            Self::Tuning => &[NoiseSpectrum::Smooth, NoiseSpectrum::Octaves],
            Self::Test => &[
                NoiseSpectrum::Rows,
                NoiseSpectrum::Weave,
                NoiseSpectrum::Grains,
            ],
        }
    }

    /// Forms of stop.
    pub fn stops(self) -> &'static [StopForm] {
        match self {
            Self::Tuning => &[
                StopForm::Disc,
                StopForm::Stepped,
                StopForm::Cone,
                StopForm::Waisted,
            ],
            Self::Test => &[StopForm::Pointed, StopForm::Barrel],
        }
    }

    fn curve(self, rng: &mut ChaCha8Rng) -> ResponseCurve {
        match (self, rng.random_range(0..3)) {
            (Self::Tuning, 0) => ResponseCurve::Even,
            (Self::Tuning, 1) => ResponseCurve::Power {
                gamma: rng.random_range(0.55..1.7),
            },
            (Self::Tuning, _) => ResponseCurve::Steep {
                slope: rng.random_range(1.0..2.2),
                middle: rng.random_range(0.35..0.65),
            },
            (Self::Test, 0) => ResponseCurve::Ranked {
                share: rng.random_range(0.3..0.8),
            },
            (Self::Test, _) => ResponseCurve::ToeAndShoulder {
                toe: rng.random_range(0.0..0.12),
                shoulder: rng.random_range(0.0..0.12),
            },
        }
    }
}

fn one_of<T: Copy>(kinds: &[T], rng: &mut ChaCha8Rng) -> T {
    kinds[rng.random_range(0..kinds.len())]
}

impl PhantomSpec {
    /// A film of the given set; `cluttered` adds what covers, crosses and cuts
    /// the tooth, otherwise only appearances vary. Equal arguments give equal
    /// films.
    pub fn of_families(families: Families, cluttered: bool, kind: CanalKind, seed: u64) -> Self {
        let mut spec = Self::random(kind, seed);
        let mut rng = ChaCha8Rng::seed_from_u64(seed ^ 0xFA41_11E5);
        rng.set_stream(families as u64 + 2 * u64::from(cluttered));
        let rng = &mut rng;
        draw_film(&mut spec, rng);
        if chance(rng, 0.75) {
            draw_file(&mut spec, rng);
        } else {
            spec.file = None;
        }
        spec.clutter = Clutter {
            bone: one_of(families.bones(), rng),
            noise: draw_noise(families, rng),
            processing: draw_processing(families, rng),
            stop: draw_stop(families, rng),
            ..Clutter::default()
        };
        place_on_film(&mut spec, cluttered && chance(rng, 0.5), rng);
        if cluttered {
            draw_clutter(&mut spec, families, rng);
        }
        spec
    }
}

fn draw_film(spec: &mut PhantomSpec, rng: &mut ChaCha8Rng) {
    let detector = &mut spec.detector;
    let active_mm = one_of(
        &[
            [26.0, 35.0],
            [30.0, 40.0],
            [24.0, 40.0],
            [41.0, 31.0],
            [36.0, 26.0],
        ],
        rng,
    );
    let pitch = detector.pixel_pitch_mm[0];
    detector.width_px = (active_mm[0] / pitch) as u32;
    detector.height_px = (active_mm[1] / pitch) as u32;
    detector.bits = one_of(&[8, 8, 12, 16], rng);
    detector.blur_mm = rng.random_range(0.02..0.075);
    detector.photons = detector.photons.map(|p| p * rng.random_range(0.15..1.0));
    spec.look.bone_contrast = rng.random_range(0.6..1.7);
    spec.look.trabecula_mm = rng.random_range(0.7..2.6);
    spec.view.inclination_deg = rng.random_range(-25.0..25.0);
    spec.view.quarter_turns = rng.random_range(0..4);
    spec.view.lean_deg = rng.random_range(-12.0..12.0);
}

fn draw_file(spec: &mut PhantomSpec, rng: &mut ChaCha8Rng) {
    let aim = spec.reference_to_apex_mm() - rng.random_range(-1.5..4.0);
    let set_length_mm = (aim * 2.0).round() / 2.0;
    spec.file = Some(FileSpec {
        size: one_of(&[6, 8, 8, 10, 10, 15, 15, 20, 20, 25, 30, 35, 40], rng),
        set_length_mm,
        operative_length_mm: [21.0, 25.0, 28.0, 31.0]
            .into_iter()
            .find(|l| *l > aim + 2.5)
            .unwrap_or(31.0),
        stop_diameter_mm: rng.random_range(2.0..4.2),
        stop_thickness_mm: rng.random_range(0.8..2.0),
        ..FileSpec::default()
    });
}

fn draw_noise(families: Families, rng: &mut ChaCha8Rng) -> Vec<NoiseSpec> {
    let count = rng.random_range(0..=2);
    (0..count)
        .map(|_| NoiseSpec {
            spectrum: one_of(families.noises(), rng),
            amplitude: rng.random_range(0.002..0.014),
            grain_mm: rng.random_range(0.03..0.11),
        })
        .collect()
}

fn draw_processing(families: Families, rng: &mut ChaCha8Rng) -> Processing {
    let mut processing = Processing {
        curve: families.curve(rng),
        ..Processing::default()
    };
    if chance(rng, 0.45) {
        processing.sharpen = rng.random_range(0.3..2.2);
        processing.sharpen_mm = rng.random_range(0.05..0.4);
    }
    if chance(rng, 0.25) {
        processing.smooth_mm = rng.random_range(0.02..0.07);
    }
    if chance(rng, 0.2) {
        processing.resampled_mm = rng.random_range(0.05..0.085);
    }
    processing
}

fn draw_stop(families: Families, rng: &mut ChaCha8Rng) -> StopSpec {
    StopSpec {
        form: one_of(families.stops(), rng),
        attenuation_per_mm: rng.random_range(0.07..0.4),
        tilt_deg: if chance(rng, 0.6) {
            rng.random_range(0.0..16.0)
        } else {
            0.0
        },
        tilt_side_deg: rng.random_range(0.0..360.0),
    }
}

/// Puts the tooth onto the film, or so that the film ends below the stop.
fn place_on_film(spec: &mut PhantomSpec, below_the_stop: bool, rng: &mut ChaCha8Rng) {
    let height_mm = f64::from(spec.detector.height_px) * spec.detector.pixel_pitch_mm[0];
    let length_mm = spec.reference_to_apex_mm();
    let enlarged = spec.view.source_to_detector_mm
        / (spec.view.source_to_detector_mm - spec.view.object_to_detector_mm);
    // From the tooth's middle to its reference point, as shown down the film.
    let half_mm = 0.5 * length_mm * enlarged * spec.view.inclination_deg.to_radians().cos();
    let top_mm = if below_the_stop {
        -rng.random_range(0.3..5.5)
    } else {
        let spare = height_mm - 2.0 * half_mm;
        (0.55 * spare).max(2.8).min(spare.max(2.8))
    };
    let side = if spec.tooth.shape == ToothShape::LowerMolar {
        if spec.tooth.mirrored { 2.0 } else { -2.0 }
    } else {
        0.0
    };
    spec.view.tooth_centre_mm = [
        (side + rng.random_range(-4.0..4.0)) / enlarged,
        ((-0.5 * height_mm + top_mm + half_mm) / enlarged).clamp(-40.0, 40.0),
    ];
}

fn draw_clutter(spec: &mut PhantomSpec, families: Families, rng: &mut ChaCha8Rng) {
    let roots = 1 + usize::from(spec.tooth.shape == ToothShape::LowerMolar);
    if chance(rng, 0.6) {
        spec.clutter.clamp = Some(ClampSpec {
            form: one_of(families.clamps(), rng),
            size: rng.random_range(0.8..1.25),
            sheet_depth: rng.random_range(0.5..2.4),
            wire_mm: rng.random_range(0.4..1.2),
            shift_mm: [rng.random_range(-2.0..2.0), rng.random_range(-2.5..1.5)],
            turn_deg: rng.random_range(-18.0..18.0),
        });
    }
    if spec.file.is_some() && chance(rng, 0.4) {
        let second = draw_second_file(spec, rng);
        spec.clutter.second_files.push(second);
        if roots == 2 && chance(rng, 0.3) {
            let third = draw_beside(spec, rng);
            spec.clutter.second_files.push(third);
        }
    }
    let distal_taken = (spec.clutter.second_files.iter()).any(|s| s.beside.is_none());
    let count = roots + spec.tooth.neighbours.iter().filter(|n| **n).count();
    for root in 1..count {
        if chance(rng, 0.3) && !(root == 1 && roots == 2 && distal_taken) {
            spec.clutter.root_fillings.push(RootFilling {
                root,
                short_mm: rng.random_range(0.0..3.0),
                post: chance(rng, 0.3),
                attenuation_per_mm: rng.random_range(0.35..1.1),
            });
        }
    }
    for tooth in [-1, 0, 1] {
        if chance(rng, 0.4) {
            let metal = chance(rng, 0.3) && tooth != 0;
            spec.clutter.crown_work.push(CrownWork {
                kind: if metal {
                    CrownWorkKind::MetalCrown
                } else {
                    CrownWorkKind::Restoration
                },
                tooth,
                depth: if metal || chance(rng, 0.35) {
                    rng.random_range(1.2..2.5)
                } else {
                    rng.random_range(0.2..0.8)
                },
                seed: rng.random(),
            });
        }
    }
    if chance(rng, 0.25) {
        spec.clutter.overlapping_root = Some(OverlappingRoot {
            shift_mm: sign(rng) * rng.random_range(0.5..4.5),
            turn_deg: rng.random_range(-14.0..14.0),
            half_width_mm: rng.random_range(1.2..2.6),
            length_mm: rng.random_range(10.0..16.0),
        });
    }
    if chance(rng, 0.25) {
        spec.clutter.zygoma = Some(ZygomaSpec {
            beyond_apex_mm: rng.random_range(-5.0..4.0),
            aside_mm: rng.random_range(-8.0..8.0),
            depth: rng.random_range(0.15..0.6),
            turn_deg: rng.random_range(-20.0..20.0),
        });
    }
    spec.clutter.plate = draw_plate(rng);
    spec.clutter.marks = MarkSpec {
        seed: rng.random(),
        scratches: rng.random_range(0..14),
        dust: rng.random_range(0..14),
        letters: if chance(rng, 0.4) {
            rng.random_range(1..5)
        } else {
            0
        },
        ruler: chance(rng, 0.25),
    };
}

fn draw_plate(rng: &mut ChaCha8Rng) -> PlateSpec {
    let mut plate = PlateSpec {
        dark_frame: chance(rng, 0.25),
        ..PlateSpec::default()
    };
    if chance(rng, 0.5) {
        plate.corner_mm = rng.random_range(2.0..6.0);
        plate.frame_mm = rng.random_range(0.0..1.2);
    }
    if chance(rng, 0.35) {
        plate.unexposed.push(if chance(rng, 0.5) {
            Unexposed::Circle {
                centre: [rng.random_range(-0.3..0.3), rng.random_range(-0.25..0.25)],
                radius_mm: rng.random_range(20.0..27.0),
            }
        } else {
            Unexposed::Edge {
                normal_deg: rng.random_range(0.0..360.0),
                depth_mm: rng.random_range(1.0..7.0),
                wave_mm: rng.random_range(0.0..0.5),
            }
        });
    }
    plate
}

/// A file in the molar's other root, or beside the first.
fn draw_second_file(spec: &PhantomSpec, rng: &mut ChaCha8Rng) -> SecondFile {
    let molar = spec.tooth.shape == ToothShape::LowerMolar;
    if !molar || chance(rng, 0.4) {
        return draw_beside(spec, rng);
    }
    let mut file = further_file(spec, rng);
    file.set_length_mm -= 0.9;
    SecondFile { file, beside: None }
}

fn further_file(spec: &PhantomSpec, rng: &mut ChaCha8Rng) -> FileSpec {
    let first = spec.file.clone().unwrap_or_default();
    FileSpec {
        size: one_of(&[8, 10, 15, 20, 25], rng),
        set_length_mm: first.set_length_mm - rng.random_range(0.0..2.5),
        ..first
    }
}

/// A second file in the same root: side by side or crossing the first.
fn draw_beside(spec: &PhantomSpec, rng: &mut ChaCha8Rng) -> SecondFile {
    let side = sign(rng);
    let shift_mm = side * rng.random_range(0.5..2.2);
    let length = spec.canal.path_length_mm();
    // Meets the first canal's line, or crosses it, near the end.
    let turn_deg = (shift_mm / length * rng.random_range(0.4..1.5))
        .atan()
        .to_degrees();
    let canal = CanalSpec {
        bends: spec
            .canal
            .bends
            .iter()
            .map(|bend| Bend {
                turn_deg: bend.turn_deg * rng.random_range(0.7..1.1),
                ..*bend
            })
            .collect(),
        calcified_apical_mm: 0.0,
        ..spec.canal.clone()
    };
    SecondFile {
        file: further_file(spec, rng),
        beside: Some(SecondCanal {
            canal,
            shift_mm,
            turn_deg,
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// No kind of anything occurs in both sets.
    #[test]
    fn sets_have_no_kind_in_common() {
        let (a, b) = (Families::Tuning, Families::Test);
        assert!(a.bones().iter().all(|k| !b.bones().contains(k)));
        assert!(a.clamps().iter().all(|k| !b.clamps().contains(k)));
        assert!(a.noises().iter().all(|k| !b.noises().contains(k)));
        assert!(a.stops().iter().all(|k| !b.stops().contains(k)));
    }

    /// Whatever is drawn can be built.
    #[test]
    fn drawn_films_pass_the_checks() {
        for seed in 0..400u64 {
            for families in [Families::Tuning, Families::Test] {
                let kind = CanalKind::ALL[(seed % 4) as usize];
                let spec = PhantomSpec::of_families(families, seed.is_multiple_of(2), kind, seed);
                spec.check().unwrap();
            }
        }
    }
}
