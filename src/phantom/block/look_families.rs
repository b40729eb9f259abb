//! Looks drawn from a seed, in two sets that have no kind in common: one to tune
//! the following of walls on, one to test it on.

use std::f64::consts::{PI, TAU};

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::look::{Blur, Dye, Grain, Jpeg, Light, Look, LookPart, Reflection, Shadow};
use super::spec::{BlockGeometry, BlockSpec, FACE_MM};
use crate::phantom::Families;
use crate::phantom::random::chance;

/// Share of photographs that have each part.
const SHARE: f64 = 0.6;

impl Look {
    /// A look of that set; equal arguments give equal looks. Ranges are common
    /// practice, no source.
    pub fn of_families(families: Families, seed: u64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed ^ 0x7A125);
        rng.set_stream(families as u64);
        let parts = LookPart::ALL.into_iter();
        let there: Vec<_> = parts.filter(|_| chance(&mut rng, SHARE)).collect();
        Self::with_all_parts(families, seed).only(&there)
    }

    /// The same with every part.
    pub fn with_all_parts(families: Families, seed: u64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed ^ 0x100C);
        rng.set_stream(families as u64);
        let rng = &mut rng;
        Self {
            light: Some(light(families, rng)),
            shadow: Some(shadow(families, rng)),
            reflections: reflections(families, rng),
            dye: Some(dye(families, rng)),
            blur: Some(blur(families, rng)),
            grain: Some(grain(families, rng)),
            jpeg: Some(jpeg(families, rng)),
        }
    }
}

impl BlockSpec {
    /// A block with a course of that set.
    pub fn of_families(families: Families, seed: u64) -> Self {
        let courses = match families {
            Families::Tuning => [BlockGeometry::Recurved, BlockGeometry::SShaped],
            Families::Test => [BlockGeometry::Hooked, BlockGeometry::LongCurve],
        };
        let random = Self::random(seed);
        let first = random.geometry == BlockGeometry::Recurved;
        Self {
            geometry: courses[usize::from(!first)],
            ..random
        }
    }
}

/// A number within a range.
fn within(rng: &mut ChaCha8Rng, least: f64, greatest: f64) -> f64 {
    rng.random_range(least..greatest)
}

fn place(rng: &mut ChaCha8Rng) -> [f64; 2] {
    [within(rng, 2.0, FACE_MM[0] - 2.0), within(rng, 4.0, 22.0)]
}

/// A place near the canals of all courses.
fn near_canal(rng: &mut ChaCha8Rng) -> [f64; 2] {
    [within(rng, 3.5, 8.5), within(rng, 7.0, 20.0)]
}

fn light(families: Families, rng: &mut ChaCha8Rng) -> Light {
    match (families, chance(rng, 0.5)) {
        (Families::Tuning, true) => Light::Slope {
            towards_rad: within(rng, 0.0, TAU),
            per_mm: within(rng, 0.005, 0.03),
        },
        (Families::Tuning, false) => Light::Lamp {
            at_mm: place(rng),
            reach_mm: within(rng, 14.0, 35.0),
        },
        (Families::Test, true) => Light::Vignette {
            share: within(rng, 0.1, 0.6),
        },
        (Families::Test, false) => Light::TwoLamps {
            at_mm: [place(rng), place(rng)],
            reach_mm: [within(rng, 8.0, 20.0), within(rng, 10.0, 40.0)],
        },
    }
}

fn shadow(families: Families, rng: &mut ChaCha8Rng) -> Shadow {
    let (through_mm, towards_rad) = (near_canal(rng), within(rng, 0.0, TAU));
    let (penumbra_mm, depth) = (within(rng, 0.15, 1.5), within(rng, 0.15, 0.5));
    match families {
        Families::Tuning => Shadow::Edge {
            through_mm,
            towards_rad,
            penumbra_mm,
            depth,
        },
        Families::Test => Shadow::Bar {
            through_mm,
            towards_rad,
            width_mm: within(rng, 1.0, 5.0),
            penumbra_mm,
            depth,
        },
    }
}

fn reflections(families: Families, rng: &mut ChaCha8Rng) -> Vec<Reflection> {
    let count = rng.random_range(1..4);
    let one = |rng: &mut ChaCha8Rng| {
        let (at_mm, grey) = (near_canal(rng), within(rng, 25.0, 170.0));
        match (families, chance(rng, 0.5)) {
            (Families::Tuning, true) => Reflection::Spot {
                at_mm,
                sd_mm: within(rng, 0.3, 2.0),
                grey,
            },
            (Families::Tuning, false) => Reflection::Disc {
                at_mm,
                radius_mm: within(rng, 0.4, 2.0),
                edge_mm: within(rng, 0.03, 0.3),
                grey,
            },
            (Families::Test, true) => Reflection::Streak {
                at_mm,
                along_rad: within(rng, 0.0, PI),
                length_mm: within(rng, 2.0, 12.0),
                sd_mm: within(rng, 0.06, 0.5),
                grey,
            },
            (Families::Test, false) => Reflection::Pane {
                at_mm,
                turn_rad: within(rng, 0.0, PI),
                half_mm: [within(rng, 0.3, 2.0), within(rng, 0.5, 3.0)],
                edge_mm: within(rng, 0.03, 0.2),
                grey,
            },
        }
    };
    (0..count).map(|_| one(rng)).collect()
}

fn dye(families: Families, rng: &mut ChaCha8Rng) -> Dye {
    let seed = rng.random();
    match (families, chance(rng, 0.5)) {
        (Families::Tuning, true) => Dye::Fading {
            over_mm: within(rng, 2.0, 7.0),
            least: within(rng, 0.1, 0.6),
        },
        (Families::Tuning, false) => Dye::Blotches {
            seed,
            length_mm: within(rng, 0.6, 3.0),
            depth: within(rng, 0.2, 0.7),
        },
        (Families::Test, true) => Dye::Streaks {
            seed,
            length_mm: within(rng, 0.8, 4.0),
            across: within(rng, 0.8, 2.0),
            depth: within(rng, 0.2, 0.7),
        },
        (Families::Test, false) => Dye::Bubbles {
            bubbles: (0..rng.random_range(2..9))
                .map(|_| {
                    [
                        within(rng, 0.5, 15.0),
                        within(rng, -1.0, 1.0),
                        within(rng, 0.05, 0.2),
                    ]
                })
                .collect(),
        },
    }
}

fn blur(families: Families, rng: &mut ChaCha8Rng) -> Blur {
    match (families, chance(rng, 0.5)) {
        (Families::Tuning, _) => Blur::Tilt {
            through_mm: place(rng),
            towards_rad: within(rng, 0.0, TAU),
            px_per_mm: within(rng, 0.03, 0.2),
        },
        (Families::Test, true) => Blur::Field {
            at_mm: place(rng),
            px_per_mm2: within(rng, 0.002, 0.02),
        },
        (Families::Test, false) => Blur::Motion {
            towards_rad: within(rng, 0.0, PI),
            sd_px: within(rng, 0.8, 2.5),
        },
    }
}

fn grain(families: Families, rng: &mut ChaCha8Rng) -> Grain {
    let sd = within(rng, 1.5, 9.0);
    match (families, chance(rng, 0.5)) {
        (Families::Tuning, _) => Grain::Soft {
            sd,
            size_px: within(rng, 0.6, 3.0),
        },
        (Families::Test, true) => Grain::Bands {
            sd,
            size_px: within(rng, 0.4, 1.5),
        },
        (Families::Test, false) => Grain::Squares {
            sd,
            size_px: rng.random_range(2..5),
        },
    }
}

fn jpeg(families: Families, rng: &mut ChaCha8Rng) -> Jpeg {
    let quality = rng.random_range(35..90);
    Jpeg {
        quality,
        again: match families {
            Families::Tuning => None,
            Families::Test => Some(rng.random_range(35..90)),
        },
    }
}
