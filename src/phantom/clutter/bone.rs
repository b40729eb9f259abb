//! Textures of the bone: trabeculae of several kinds and scales.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::phantom::texture::{Trabeculae, gradient_noise, mix};

/// Kinds of texture.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum BoneTexture {
    /// A network of struts of several widths.
    #[default]
    Network,
    /// Long strands that run one way and bend.
    Strands,
    /// Granular, without lines.
    Grains,
    /// Round marrow spaces between thin walls.
    Cells,
    /// Ladders of short plates across the spaces between roots.
    Ladders,
}

/// A texture with its seed and scale.
#[derive(Clone, Copy, Debug)]
pub(in crate::phantom) struct Bone {
    pub texture: BoneTexture,
    pub trabeculae: Trabeculae,
}

impl Bone {
    /// Relative bone density at a place of the mid-plane (mm), about −1 to 1
    /// around 0.
    pub fn density(&self, x: f32, y: f32) -> f32 {
        let seed = |k: u64| self.trabeculae.seed.wrapping_mul(31).wrapping_add(k);
        let mesh = self.trabeculae.mesh_mm;
        let (u, v) = (x / mesh, y / mesh);
        let noise = |k: u64, scale: f32| gradient_noise(seed(k), u * scale, v * scale);
        let patches = noise(5, 0.25) + 0.7 * noise(6, 0.6);
        match self.texture {
            BoneTexture::Network => self.trabeculae.density(x, y),
            BoneTexture::Strands => {
                let bend = 1.6 * noise(21, 0.2);
                let slant = 0.6 * noise(22, 0.07);
                let (along, across) = (u + slant * v, v - slant * u + bend);
                let line = |k: u64, tight: f32| {
                    let n = gradient_noise(seed(k), along * 0.22 * tight, across * 1.3 * tight);
                    (1.0 - 2.6 * n.abs()).max(0.0)
                };
                0.9 * (line(23, 1.0) + 0.7 * line(24, 1.9) - 0.62)
                    + 0.7 * patches
                    + 0.25 * noise(25, 5.0)
            }
            BoneTexture::Grains => {
                0.9 * noise(31, 1.4) + 0.9 * noise(32, 2.9) + 0.7 * noise(33, 6.1) + 0.6 * patches
            }
            BoneTexture::Cells => {
                let (wall, size) = self.cell_wall(u * 0.8 + 0.3 * noise(41, 0.9), v * 0.8);
                let wall = (-(wall / 0.11).powi(2)).exp();
                1.3 * wall - 0.45 + 0.5 * (size - 0.5) + 0.5 * patches
            }
            BoneTexture::Ladders => {
                let column = (u * 0.55 + 0.5 * noise(51, 0.3)).floor();
                let phase = mix(seed(52), column as i32, 0) as u32 as f32 / u32::MAX as f32;
                let rung = (v * 0.95 + phase + 0.5 * noise(53, 0.5)) * std::f32::consts::TAU;
                let strength = 0.5 + noise(54, 0.4);
                strength * rung.sin() + 0.5 * noise(55, 2.2) + 0.7 * patches
            }
        }
    }

    /// Difference of the distances to the two nearest seeds of a jittered
    /// lattice, and the random size of the nearest.
    fn cell_wall(&self, u: f32, v: f32) -> (f32, f32) {
        let seed = self.trabeculae.seed ^ 0xCE11;
        let (cell_x, cell_y) = (u.floor() as i32, v.floor() as i32);
        let (mut first, mut second, mut size) = (f32::MAX, f32::MAX, 0.0);
        for j in -1..=1 {
            for i in -1..=1 {
                let h = mix(seed, cell_x + i, cell_y + j);
                let unit = |bits: u64| (bits & 0xFFFF) as f32 / 65536.0;
                let dx = (cell_x + i) as f32 + unit(h) - u;
                let dy = (cell_y + j) as f32 + unit(h >> 16) - v;
                let d = dx.hypot(dy);
                if d < first {
                    second = first;
                    (first, size) = (d, unit(h >> 32));
                } else {
                    second = second.min(d);
                }
            }
        }
        (second - first, size)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every texture varies, and changes the bone's mean density (by 0.34 times
    /// its mean) by less than a fifth.
    #[test]
    fn textures_vary_and_keep_the_density() {
        for texture in [
            BoneTexture::Network,
            BoneTexture::Strands,
            BoneTexture::Grains,
            BoneTexture::Cells,
            BoneTexture::Ladders,
        ] {
            let bone = Bone {
                texture,
                trabeculae: Trabeculae {
                    seed: 9,
                    mesh_mm: 1.5,
                },
            };
            let values: Vec<f32> = (0..40_000)
                .map(|i| bone.density(0.31 * (i % 200) as f32, 0.29 * (i / 200) as f32))
                .collect();
            let mean = values.iter().sum::<f32>() / values.len() as f32;
            let variance =
                values.iter().map(|v| (v - mean).powi(2)).sum::<f32>() / values.len() as f32;
            assert!(0.34 * mean.abs() < 0.2, "{texture:?}: mean {mean}");
            assert!(
                (0.2..0.8).contains(&variance.sqrt()),
                "{texture:?}: {variance}"
            );
        }
    }
}
