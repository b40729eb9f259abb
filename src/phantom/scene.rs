//! All solids of one exposure, and the optical depth each pixel's ray meets.
//!
//! Nested solids are counted by differences: a root replaces bone, a canal
//! replaces dentine. Coefficients are for one effective energy near 40 keV,
//! of the size that tabulated mass attenuation gives for water, bone mineral
//! and iron there (MEM-M), and otherwise invented for the demo.

use nalgebra::Vector3;

use super::anatomy::{self, Placement};
use super::crown::Crown;
use super::path::CanalPath;
use super::projection::Projection;
use super::solid::{Form, Solid};
use super::spec::{Appearance, FileSpec, PhantomSpec, ToothShape};
use super::texture::{Trabeculae, gradient_noise};
use super::tube::{RowDistances, Section, Tube};

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
    pub const STEEL: f32 = 1.7;
    pub const STOP: f32 = 0.17;
    pub const HANDLE: f32 = 0.045;
}

/// mm of tissue in front of and behind everything.
const CHEEK_MM: f32 = 9.0;
/// Both cortical plates together, mm.
const PLATES_MM: f32 = 2.6;
/// Spacing of sections along a file, mm.
const FILE_STEP_MM: f64 = 0.05;
/// Half of the tip angle of 75° (ISO 3630-1, MEM-H).
const HALF_TIP_ANGLE_DEG: f64 = 37.5;

/// One tooth ready to be cut.
#[derive(Debug)]
struct ToothCut {
    crown: Crown,
    /// Crown frame from the mid-plane.
    local_from_plane: [[f32; 3]; 2],
    roots: Vec<Tube>,
    pulp: Vec<Tube>,
}

/// Everything the rays of one exposure may meet.
#[derive(Debug)]
pub(super) struct Scene {
    projection: Projection,
    width: usize,
    teeth: Vec<ToothCut>,
    file: Option<Tube>,
    solids: Vec<(Solid, [[f64; 2]; 2])>,
    /// Left and right wall at the floor, and the floor, of the access cavity.
    access: Option<[f32; 3]>,
    filling: Option<[f32; 4]>,
    look: Appearance,
    trabeculae: Trabeculae,
    crest_y: f32,
    jaw_canal_y: f32,
}

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
        }
    }

    fn clear(&mut self) {
        for buffer in self.roots.iter_mut().chain([
            &mut self.enamel,
            &mut self.dentine,
            &mut self.pulp,
            &mut self.metal,
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

/// The file along the canal from its tip to the end of its shaft.
fn file_sections(file: &FileSpec, path: &CanalPath) -> Vec<Section> {
    let tip = file.set_length_mm;
    let tip_radius = f64::from(file.size) / 200.0;
    let cone = HALF_TIP_ANGLE_DEG.to_radians().tan();
    let radius = |from_tip: f64| {
        let tapered = tip_radius + 0.5 * file.taper * from_tip.min(16.0);
        tapered.min(from_tip * cone)
    };
    let length = file.operative_length_mm;
    let steps = (length / FILE_STEP_MM).ceil() as usize;
    (0..=steps)
        .map(|i| length * i as f64 / steps as f64)
        .map(|from_tip| Section {
            centre: path.point(tip - from_tip),
            half_width_mm: radius(from_tip),
            half_depth_mm: radius(from_tip),
            share: 1.0,
        })
        .collect()
}

/// Stop, and handle with its core, on the straight part of the file.
fn file_solids(file: &FileSpec, path: &CanalPath) -> Vec<Solid> {
    let coronal = -path.direction(0.0);
    let mut solids = vec![Solid {
        form: Form::Cylinder {
            start: path.point(0.0),
            axis: coronal,
            length_mm: file.stop_thickness_mm,
            radius_mm: file.stop_diameter_mm / 2.0,
        },
        attenuation_per_mm: f64::from(coefficient::STOP),
    }];
    if file.handle {
        let start = path.point(file.set_length_mm - file.operative_length_mm);
        let core = f64::from(file.size) / 200.0 + 8.0 * file.taper;
        for (length_mm, radius_mm, attenuation) in [
            (11.0, 1.9, coefficient::HANDLE),
            (8.0, core, coefficient::STEEL),
        ] {
            solids.push(Solid {
                form: Form::Cylinder {
                    start,
                    axis: coronal,
                    length_mm,
                    radius_mm,
                },
                attenuation_per_mm: f64::from(attenuation),
            });
        }
        // Grip rings.
        for ring in 0..7 {
            solids.push(Solid {
                form: Form::Cylinder {
                    start: start + coronal * (1.0 + 1.3 * f64::from(ring)),
                    axis: coronal,
                    length_mm: 0.6,
                    radius_mm: 2.2,
                },
                attenuation_per_mm: f64::from(coefficient::HANDLE),
            });
        }
    }
    solids
}

fn scale_solids(spec: &PhantomSpec) -> Vec<Solid> {
    let steel = f64::from(coefficient::STEEL);
    let mut solids = Vec::new();
    if let Some(ball) = spec.ball {
        let [x, y] = ball.centre_mm;
        solids.push(Solid {
            form: Form::Ball {
                centre: Vector3::new(x, y, 0.0),
                radius_mm: ball.diameter_mm / 2.0,
            },
            attenuation_per_mm: steel,
        });
    }
    if let Some(ruler) = spec.ruler {
        let [x, y] = ruler.start_mm;
        let mut wire = |start: Vector3<f64>, axis: Vector3<f64>, length_mm: f64| {
            solids.push(Solid {
                form: Form::Cylinder {
                    start,
                    axis,
                    length_mm,
                    radius_mm: 0.06,
                },
                attenuation_per_mm: 4.0 * steel,
            });
        };
        let length = f64::from(ruler.divisions);
        wire(Vector3::new(x, y, 0.0), Vector3::y(), length);
        for tick in 0..=ruler.divisions {
            let long = if tick % 5 == 0 { 1.6 } else { 1.0 };
            wire(
                Vector3::new(x, y + f64::from(tick), 0.0),
                -Vector3::x(),
                long,
            );
        }
    }
    solids
}

impl Scene {
    pub fn new(spec: &PhantomSpec, path: &CanalPath, projection: Projection) -> Self {
        let look = &spec.look;
        let grown = look.ligament_mm + look.lamina_mm;
        let tubes = |sections: &[Vec<Section>], grow: f64| -> Vec<Tube> {
            sections
                .iter()
                .map(|s| Tube::new(s, grow, &projection))
                .collect()
        };
        let teeth = anatomy::teeth(spec)
            .into_iter()
            .map(|tooth| ToothCut {
                local_from_plane: Placement::inverse_rows(&tooth.place),
                roots: tubes(&tooth.roots, grown),
                pulp: tubes(&tooth.pulp, 0.0),
                crown: tooth.crown,
            })
            .collect::<Vec<_>>();
        let mut solids = scale_solids(spec);
        if let Some(file) = &spec.file {
            solids.extend(file_solids(file, path));
        }
        let crown = &teeth[0].crown;
        let access = spec.file.as_ref().map(|_| {
            let floor = spec.canal.reference_to_orifice_mm as f32 - 0.9;
            if spec.tooth.shape == ToothShape::LowerMolar {
                let distal = crown.middle_x * 1.5;
                [distal.min(0.0) - 0.5, distal.max(0.0) + 0.5, floor]
            } else {
                [-0.7, 0.7, floor]
            }
        });
        let filling = spec.tooth.restoration.then(|| {
            let far = crown.middle_x + 0.55 * crown.reach * crown.middle_x.signum();
            [
                far,
                crown.neck_y * 0.3,
                crown.reach * 0.36,
                crown.neck_y * 0.3,
            ]
        });
        Self {
            file: spec
                .file
                .as_ref()
                .map(|file| Tube::new(&file_sections(file, path), 0.0, &projection)),
            solids: solids
                .iter()
                .map(|s| (*s, s.form.shadow_box(&projection)))
                .collect(),
            access,
            filling,
            width: spec.detector.width_px as usize,
            trabeculae: Trabeculae {
                seed: look.bone_seed,
                mesh_mm: look.trabecula_mm as f32,
            },
            crest_y: (spec.tooth.crown_height_mm + look.crest_below_neck_mm) as f32,
            jaw_canal_y: (spec.canal.path_length_mm() + 3.5) as f32,
            look: look.clone(),
            teeth,
            projection,
        }
    }

    /// The tube of the root that holds the canal under treatment.
    pub fn treated_root(&self) -> &Tube {
        &self.teeth[0].roots[0]
    }

    /// Optical depth of the rays of `row` on the raster before quarter turns.
    pub fn optical_depth_row(&self, row: usize, out: &mut [f32]) {
        let mut buffers = RowBuffers::new(self.width);
        let y_px = row as f64 + 0.5;
        for column in 0..self.width {
            let (place, _) = self.projection.ray(column as f64 + 0.5, y_px);
            buffers.xs[column] = place.x as f32;
            buffers.ys[column] = place.y as f32;
        }
        buffers.clear();
        self.cut_teeth(y_px as f32, &mut buffers);
        self.cut_metal(y_px, &mut buffers);
        for (column, depth) in out.iter_mut().enumerate() {
            *depth = self.depth(column, &buffers);
        }
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

    fn cut_metal(&self, y_px: f64, row: &mut RowBuffers) {
        if let Some(file) = &self.file {
            for column in file.nearest(y_px as f32, &row.xs, &row.ys, &mut row.distances) {
                if let Some(passage) = file.passage(column, &row.distances) {
                    row.metal[column] += coefficient::STEEL * passage.chord(0.0);
                }
            }
        }
        for (solid, [columns, rows]) in &self.solids {
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
        let texture = 1.0 + 0.34 * self.look.bone_contrast as f32 * self.trabeculae.density(x, y);
        let spongy = (thick - with_lamina).max(0.15 * thick) * TRABECULAR_BONE * texture.max(0.1);
        let plates = PLATES_MM
            * smoothstep(-0.2, 3.5, y - crest)
            * CORTICAL_BONE
            * (1.0 + 0.05 * self.trabeculae.density(x * 0.37 + 40.0, y * 0.37));
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
