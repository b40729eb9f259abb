//! Dental work: crowns, restorations, root fillings and posts.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::shadow::{Shadow, moved};

/// Kinds of work on a crown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum CrownWorkKind {
    /// A cast crown over the whole tooth.
    MetalCrown,
    /// A filling between cusps, metal or composite by its depth.
    Restoration,
}

/// Work on the crown of the treated tooth or of one beside it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CrownWork {
    /// Its kind.
    pub kind: CrownWorkKind,
    /// −1 the tooth to the left, 0 the treated one, 1 the one to the right.
    pub tooth: i8,
    /// Optical depth.
    pub depth: f64,
    /// Seed of its outline.
    pub seed: u64,
}

/// A root filling or post in a canal that holds no file.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RootFilling {
    /// Which canal of the film, counted as the roots of the truth.
    pub root: usize,
    /// How far it ends short of the foramen, mm.
    pub short_mm: f64,
    /// A metal post in the coronal half.
    pub post: bool,
    /// Attenuation of the filling, 1/mm.
    pub attenuation_per_mm: f64,
}

/// A repeatable number of 0..1.
fn unit(seed: u64, k: u64) -> f32 {
    let h = crate::phantom::texture::mix(seed, k as i32, 77);
    (h >> 40) as f32 / (1u64 << 24) as f32
}

/// The shadows of work on a crown of this middle, half width and height
/// (tooth frame, mm).
pub(in crate::phantom) fn crown_shadows(
    work: &CrownWork,
    middle_x: f32,
    half: f32,
    height: f32,
) -> Vec<Shadow> {
    let wave = |k: u64| unit(work.seed, k) - 0.5;
    let outline = match work.kind {
        CrownWorkKind::MetalCrown => {
            let bottom = height * (0.85 + 0.2 * wave(1));
            vec![
                [-half * 0.92, 0.5],
                [-half * 0.6, -0.2],
                [0.0, 0.5 + 0.4 * wave(2)],
                [half * 0.6, -0.2],
                [half * 0.92, 0.5],
                [half * 1.02, height * 0.4],
                [half * 0.86, bottom],
                [half * 0.2, bottom - 0.5 + wave(3)],
                [-half * 0.3, bottom - 0.4 + wave(4)],
                [-half * 0.86, bottom],
                [-half * 1.02, height * 0.4],
            ]
        }
        CrownWorkKind::Restoration => {
            let (cx, wide) = (
                half * 1.1 * wave(1),
                half * (0.35 + 0.5 * unit(work.seed, 2)),
            );
            let (top, deep) = (0.2 * height, height * (0.3 + 0.35 * unit(work.seed, 3)));
            (0..14)
                .map(|i| {
                    let angle = i as f32 / 14.0 * std::f32::consts::TAU;
                    let r = 1.0 + 0.35 * wave(10 + i);
                    let (sin, cos) = angle.sin_cos();
                    // Squarish: the form of a prepared cavity.
                    let square = |t: f32| t.signum() * t.abs().powf(0.6);
                    [
                        cx + wide * r * square(cos),
                        top + deep * 0.5 + deep * 0.5 * r * square(sin),
                    ]
                })
                .collect()
        }
    };
    let place = moved(outline, [0.0, 0.0], 0.0, [middle_x, 0.0]);
    vec![Shadow::sheet(place, Vec::new(), work.depth as f32, 0.35)]
}

/// Attenuation of a root filling `share` of the way from orifice to foramen.
pub(in crate::phantom) fn filling_share(filling: &RootFilling, share: f64) -> f64 {
    if filling.post && share < 0.5 {
        1.7
    } else {
        filling.attenuation_per_mm
    }
}
