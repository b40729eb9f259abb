//! Bone texture: seeded lattice noise shaped into a trabecular network.

/// Mixes a lattice point into a well-spread 64-bit value.
pub(super) fn mix(seed: u64, x: i32, y: i32) -> u64 {
    let mut h = seed
        ^ (x as u32 as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15)
        ^ (y as u32 as u64).wrapping_mul(0xC2B2_AE3D_27D4_EB4F);
    h = (h ^ (h >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    h = (h ^ (h >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    h ^ (h >> 31)
}

/// Gradient noise of unit lattice, about −0.7 to 0.7.
pub(super) fn gradient_noise(seed: u64, x: f32, y: f32) -> f32 {
    let (cell_x, cell_y) = (x.floor(), y.floor());
    let (fx, fy) = (x - cell_x, y - cell_y);
    let corner = |i: i32, j: i32| {
        let h = mix(seed, cell_x as i32 + i, cell_y as i32 + j);
        let unit = |bits: u64| (bits & 0xFFFF) as f32 / 32768.0 - 1.0;
        unit(h) * (fx - i as f32) + unit(h >> 16) * (fy - j as f32)
    };
    let fade = |t: f32| t * t * t * (t * (t * 6.0 - 15.0) + 10.0);
    let (u, v) = (fade(fx), fade(fy));
    let top = corner(0, 0) + u * (corner(1, 0) - corner(0, 0));
    let bottom = corner(0, 1) + u * (corner(1, 1) - corner(0, 1));
    top + v * (bottom - top)
}

/// Network of thin bright struts around darker marrow spaces.
#[derive(Clone, Copy, Debug)]
pub(super) struct Trabeculae {
    pub seed: u64,
    /// Width of a mesh, mm.
    pub mesh_mm: f32,
}

impl Trabeculae {
    /// Relative bone density at a place of the mid-plane (mm), about −1 to 1
    /// around 0: three sheets of struts seen through each other.
    pub fn density(&self, x: f32, y: f32) -> f32 {
        let (x, y) = (x / self.mesh_mm, y / self.mesh_mm);
        let seed = |k: u64| {
            self.seed
                .wrapping_add(k.wrapping_mul(0x5851_F42D_4C95_7F2D))
        };
        let bend_x = gradient_noise(seed(90), x * 0.45, y * 0.45);
        let bend_y = gradient_noise(seed(91), x * 0.45, y * 0.45);
        let (x, y) = (x + 0.8 * bend_x, y + 0.6 * bend_y);
        let ridge = |n: f32| (1.0 - 2.2 * n.abs()).max(0.0);
        let cells = |n: f32| ridge(n) * ridge(n);
        // Struts run rather across than along the teeth.
        let struts = cells(gradient_noise(seed(1), x * 0.7, y * 1.15))
            + 0.9 * cells(gradient_noise(seed(2), x * 1.2 + 17.3, y * 1.1 + 5.1))
            + 0.7 * ridge(gradient_noise(seed(3), (x - y) * 1.3, (x + y) * 1.4))
            + 0.5 * ridge(gradient_noise(seed(4), x * 2.3, y * 2.5));
        let patches = gradient_noise(seed(5), x * 0.25, y * 0.25)
            + 0.7 * gradient_noise(seed(6), x * 0.6, y * 0.6);
        let grain = gradient_noise(seed(7), x * 3.9, y * 4.1)
            + 0.6 * gradient_noise(seed(8), x * 8.3, y * 7.9);
        0.55 * (struts - 1.45) + 0.8 * patches + 0.35 * grain
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The noise is a function of seed and place alone and has zero mean.
    #[test]
    fn noise_is_centred_and_seeded() {
        let sample = |seed: u64| -> Vec<f32> {
            (0..10_000)
                .map(|i| gradient_noise(seed, 0.37 * (i % 100) as f32, 0.41 * (i / 100) as f32))
                .collect()
        };
        let first = sample(3);
        let mean = first.iter().sum::<f32>() / first.len() as f32;
        assert!(mean.abs() < 0.02, "mean {mean}");
        assert_eq!(first, sample(3));
        assert_ne!(first, sample(4));
        assert!(first.iter().all(|n| n.abs() <= 1.0));
    }
}
