//! The optical depth that each pixel's ray meets.
//!
//! Coefficients are for one effective energy near 40 keV, of the size that
//! tabulated mass attenuation gives for water, bone mineral and iron there
//! (MEM-M), and otherwise invented for the demo.

use super::Scene;
use crate::phantom::texture::gradient_noise;
use crate::phantom::tube::{RowDistances, Tube};

/// Linear attenuation coefficients, 1/mm.
mod coefficient {
    pub const SOFT_TISSUE: f32 = 0.026;
    pub const LIGAMENT: f32 = 0.028;
    pub const TRABECULAR_BONE: f32 = 0.062;
    pub const CORTICAL_BONE: f32 = 0.115;
    pub const LAMINA_DURA: f32 = 0.125;
    pub const DENTINE: f32 = 0.145;
    pub const ENAMEL: f32 = 0.25;
    pub const PULP: f32 = 0.027;
    pub const FILLING: f32 = 0.3;
    pub const STEEL: f32 = crate::phantom::objects::STEEL_PER_MM;
}

/// mm of tissue in front of and behind everything.
const CHEEK_MM: f32 = 9.0;
/// Both cortical plates together, mm.
const PLATES_MM: f32 = 2.6;
/// Buffers of one row, reused by each worker.
struct RowBuffers {
    xs: Vec<f32>,
    ys: Vec<f32>,
    distances: RowDistances,
    /// Chords through root, root + ligament, root + ligament + lamina.
    roots: [Vec<f32>; 3],
    enamel: Vec<f32>,
    dentine: Vec<f32>,
    pulp: Vec<f32>,
    metal: Vec<f32>,
    /// Optical depth of dental work, clamps and what lies over the tooth.
    over: Vec<f32>,
}

impl RowBuffers {
    fn new(width: usize) -> Self {
        let zeros = || vec![0.0; width];
        Self {
            xs: zeros(),
            ys: zeros(),
            distances: RowDistances::new(width),
            roots: [zeros(), zeros(), zeros()],
            enamel: zeros(),
            dentine: zeros(),
            pulp: zeros(),
            metal: zeros(),
            over: zeros(),
        }
    }

    fn clear(&mut self) {
        for buffer in self.roots.iter_mut().chain([
            &mut self.enamel,
            &mut self.dentine,
            &mut self.pulp,
            &mut self.metal,
            &mut self.over,
        ]) {
            buffer.fill(0.0);
        }
    }
}

/// Union of two chords with a soft seam: the norm of order 16.
fn join(a: f32, b: f32) -> f32 {
    if a <= 0.0 || b <= 0.0 {
        return a.max(b);
    }
    let large = a.max(b);
    let ratio = a.min(b) / large;
    let squared = ratio * ratio;
    let fourth = squared * squared;
    let eighth = fourth * fourth;
    large * (1.0 + eighth * eighth).sqrt().sqrt().sqrt().sqrt()
}

fn smoothstep(low: f32, high: f32, x: f32) -> f32 {
    let t = ((x - low) / (high - low)).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

impl Scene {
    /// Optical depth of the rays of `row` on the raster before quarter turns.
    pub fn optical_depth_row(&self, row: usize, out: &mut [f32]) {
        let buffers = self.cut_row(row, true);
        for (column, depth) in out.iter_mut().enumerate() {
            *depth = self.depth(column, &buffers);
        }
    }

    /// Optical depth at a place of the raster as if no file were there.
    pub fn depth_without_files(&self, column: usize, row: usize) -> f32 {
        self.depth(column.min(self.width - 1), &self.cut_row(row, false))
    }

    fn cut_row(&self, row: usize, with_files: bool) -> RowBuffers {
        let mut buffers = RowBuffers::new(self.width);
        let y_px = row as f64 + 0.5;
        for column in 0..self.width {
            let (place, _) = self.projection.ray(column as f64 + 0.5, y_px);
            buffers.xs[column] = place.x as f32;
            buffers.ys[column] = place.y as f32;
        }
        buffers.clear();
        self.cut_teeth(y_px as f32, &mut buffers);
        self.cut_metal(y_px, with_files, &mut buffers);
        self.cut_over(y_px as f32, &mut buffers);
        buffers
    }

    fn cut_teeth(&self, y_px: f32, row: &mut RowBuffers) {
        let grow = [
            0.0,
            self.look.ligament_mm as f32,
            (self.look.ligament_mm + self.look.lamina_mm) as f32,
        ];
        for tooth in &self.teeth {
            for tube in &tooth.roots {
                for column in tube.nearest(y_px, &row.xs, &row.ys, &mut row.distances) {
                    if let Some(passage) = tube.passage(column, &row.distances) {
                        for (sum, grow) in row.roots.iter_mut().zip(grow) {
                            sum[column] = join(sum[column], passage.chord(grow));
                        }
                    }
                }
            }
            for tube in &tooth.pulp {
                for column in tube.nearest(y_px, &row.xs, &row.ys, &mut row.distances) {
                    if let Some(passage) = tube.passage(column, &row.distances) {
                        let chord = passage.share * passage.chord(0.0);
                        row.pulp[column] = join(row.pulp[column], chord);
                    }
                }
            }
            let [to_x, to_y] = tooth.local_from_plane;
            for column in 0..self.width {
                let (x, y) = (row.xs[column], row.ys[column]);
                let local_x = to_x[0] * x + to_x[1] * y + to_x[2];
                if (local_x - tooth.crown.middle_x).abs() > tooth.crown.reach + 1.0 {
                    continue;
                }
                let local_y = to_y[0] * x + to_y[1] * y + to_y[2];
                let chords = tooth.crown.chords(local_x, local_y);
                row.enamel[column] = row.enamel[column].max(chords.whole - chords.dentine);
                row.dentine[column] = row.dentine[column].max(chords.dentine);
                for (sum, grow) in row.roots.iter_mut().zip(grow) {
                    let chord = if grow == 0.0 {
                        chords.whole
                    } else {
                        tooth.crown.grown(local_x, local_y, grow)
                    };
                    sum[column] = join(sum[column], chord);
                }
            }
        }
    }

    fn cut_metal(&self, y_px: f64, with_files: bool, row: &mut RowBuffers) {
        let (files, file_solids): (&[Tube], &[_]) = if with_files {
            (&self.files, &self.file_solids)
        } else {
            (&[], &[])
        };
        for (tubes, of_share) in [(files, false), (&self.fillings[..], true)] {
            for tube in tubes {
                for column in tube.nearest(y_px as f32, &row.xs, &row.ys, &mut row.distances) {
                    if let Some(passage) = tube.passage(column, &row.distances) {
                        let per_mm = if of_share {
                            passage.share
                        } else {
                            coefficient::STEEL
                        };
                        row.metal[column] += per_mm * passage.chord(0.0);
                    }
                }
            }
        }
        for (solid, [columns, rows]) in file_solids.iter().chain(&self.solids) {
            if y_px < rows[0] || y_px > rows[1] {
                continue;
            }
            let clamp = |x: f64| (x.max(0.0) as usize).min(self.width);
            for column in clamp(columns[0])..clamp(columns[1] + 1.0) {
                let (place, ray) = self.projection.ray(column as f64 + 0.5, y_px);
                let chord = solid.form.chord(place, ray);
                row.metal[column] += (chord * solid.attenuation_per_mm) as f32;
            }
        }
    }

    /// Dental work, clamps, zygoma, and a root of another tooth.
    fn cut_over(&self, y_px: f32, row: &mut RowBuffers) {
        use coefficient::*;
        if !self.shadows.is_empty() {
            for column in 0..self.width {
                let (x, y) = (row.xs[column], row.ys[column]);
                row.over[column] += self.shadows.iter().map(|s| s.depth(x, y)).sum::<f32>();
            }
        }
        for tooth in self.teeth.iter().filter(|t| !t.work.is_empty()) {
            let [to_x, to_y] = tooth.local_from_plane;
            for column in 0..self.width {
                let (x, y) = (row.xs[column], row.ys[column]);
                let local_x = to_x[0] * x + to_x[1] * y + to_x[2];
                let local_y = to_y[0] * x + to_y[1] * y + to_y[2];
                let work = tooth.work.iter().map(|s| s.depth(local_x, local_y));
                row.over[column] += work.sum::<f32>();
            }
        }
        let Some(overlap) = &self.overlap else { return };
        let ligament = self.look.ligament_mm as f32;
        let lamina = ligament + self.look.lamina_mm as f32;
        for column in overlap
            .root
            .nearest(y_px, &row.xs, &row.ys, &mut row.distances)
        {
            if let Some(passage) = overlap.root.passage(column, &row.distances) {
                let [inner, middle, outer] =
                    [0.0, ligament, lamina].map(|grow| passage.chord(grow));
                row.over[column] += inner * (DENTINE - TRABECULAR_BONE)
                    - 0.7 * (middle - inner) * (TRABECULAR_BONE - LIGAMENT)
                    + 0.7 * (outer - middle) * (LAMINA_DURA - TRABECULAR_BONE);
            }
        }
        for column in overlap
            .canal
            .nearest(y_px, &row.xs, &row.ys, &mut row.distances)
        {
            if let Some(passage) = overlap.canal.passage(column, &row.distances) {
                row.over[column] -= passage.chord(0.0) * (DENTINE - PULP);
            }
        }
    }

    /// Optical depth of one ray from the chords found for it.
    fn depth(&self, column: usize, row: &RowBuffers) -> f32 {
        use coefficient::*;
        let (x, y) = (row.xs[column], row.ys[column]);
        let [tooth, with_ligament, with_lamina] =
            [0, 1, 2].map(|layer: usize| row.roots[layer][column]);
        let enamel = row.enamel[column];
        let hard = tooth.max(enamel);
        let mut teeth = (hard - enamel) * DENTINE + enamel * ENAMEL;
        teeth -= row.pulp[column].min(hard) * (DENTINE - PULP);
        if let Some([left, right, floor]) = self.access.filter(|_| hard > 0.0) {
            // Walls lean outwards towards the biting edge.
            let flare = 0.12 * (floor - y).max(0.0);
            let across = smoothstep(left - flare - 0.4, left - flare + 0.4, x)
                * (1.0 - smoothstep(right + flare - 0.4, right + flare + 0.4, x));
            let down = 1.0 - smoothstep(floor - 0.7, floor + 0.7, y);
            teeth *= 1.0 - 0.34 * across * down;
        }
        if let Some([cx, cy, wide, tall]) = self.filling.filter(|_| hard > 0.5) {
            let wobble = 0.2 * gradient_noise(self.look.bone_seed ^ 77, x * 0.7, y * 0.7);
            let (u, v) = ((x - cx) / wide, (y - cy) / tall);
            let inside = 1.0 + wobble - (u * u * u * u + v * v * v * v);
            teeth += FILLING * 4.0 * smoothstep(0.0, 0.35, inside) * (hard / 6.0).min(1.0);
        }
        CHEEK_MM * SOFT_TISSUE
            + self.gum_and_bone(x, y, [hard, with_ligament.max(hard), with_lamina.max(hard)])
            + teeth.max(0.0)
            + row.metal[column]
            + row.over[column]
    }

    fn gum_and_bone(&self, x: f32, y: f32, [hard, with_ligament, with_lamina]: [f32; 3]) -> f32 {
        use coefficient::*;
        let look_seed = self.look.bone_seed;
        let waves = 1.3 * gradient_noise(look_seed ^ 11, x * 0.22, 0.5)
            + 0.5 * gradient_noise(look_seed ^ 12, x * 0.8, 0.5);
        let crest = self.crest_y + waves;
        let gum = smoothstep(-4.6, -1.6, y - crest);
        let cover = smoothstep(-0.5, 1.6, y - crest);
        let gum_depth = gum * (8.0 - hard.min(6.0)).max(0.0) * SOFT_TISSUE;
        if cover == 0.0 {
            return gum_depth;
        }
        let thick = 7.5 + 3.5 * smoothstep(0.0, 12.0, y - crest);
        let density = self.look.bone_density as f32;
        let texture = 1.0 + 0.34 * self.look.bone_contrast as f32 * self.bone.density(x, y);
        let spongy = (thick - with_lamina).max(0.15 * thick) * TRABECULAR_BONE * texture.max(0.1);
        let plates = PLATES_MM
            * smoothstep(-0.2, 3.5, y - crest)
            * CORTICAL_BONE
            * (1.0 + 0.05 * self.bone.density(x * 0.37 + 40.0, y * 0.37));
        let crestal = 0.10 * (-((y - crest - 0.35) / 0.28).powi(2)).exp();
        let lamina = (with_lamina - with_ligament).max(0.0) * LAMINA_DURA;
        let ligament = (with_ligament - hard).max(0.0) * LIGAMENT;
        let jaw_canal = if self.look.jaw_canal {
            let v = y
                - self.jaw_canal_y
                - 0.12 * x
                - 0.5 * gradient_noise(look_seed ^ 21, x * 0.12, 0.5);
            let rim = |at: f32| (-((v - at) / 0.3).powi(2)).exp();
            -0.13 * (-(v / 1.3).powi(4)).exp() + 0.06 * (rim(-1.6) + rim(1.6))
        } else {
            0.0
        };
        let lines = crestal + jaw_canal;
        gum_depth * (1.0 - 0.4 * cover)
            + cover * (density * (spongy + plates + lamina + lines) + ligament)
    }
}
