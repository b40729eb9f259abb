//! All solids of one exposure.
//!
//! Nested solids are counted by differences: a root replaces bone, a canal
//! replaces dentine.

mod rays;

use super::anatomy::{self, Placement};
use super::clutter::{Bone, Shadow, clamp_shadows, crown_shadows, zygoma_shadows};
use super::crown::Crown;
use super::objects::{file_sections, file_solids, scale_solids};
use super::parts::{Appearance, ToothShape};
use super::path::CanalPath;
use super::projection::Projection;
use super::second::{
    PlacedPath, RootPlace, filling_sections, overlapping_sections, root_places, second_canals,
    second_path,
};
use super::solid::Solid;
use super::spec::PhantomSpec;
use super::texture::Trabeculae;
use super::tube::{Section, Tube};

/// One tooth ready to be cut.
#[derive(Debug)]
struct ToothCut {
    crown: Crown,
    /// Crown frame from the mid-plane.
    local_from_plane: [[f32; 3]; 2],
    roots: Vec<Tube>,
    pulp: Vec<Tube>,
    /// Crowns and restorations, crown frame.
    work: Vec<Shadow>,
}

/// A root of another tooth over the treated one.
#[derive(Debug)]
struct Overlap {
    root: Tube,
    canal: Tube,
}

/// Everything the rays of one exposure may meet.
#[derive(Debug)]
pub(super) struct Scene {
    projection: Projection,
    width: usize,
    teeth: Vec<ToothCut>,
    files: Vec<Tube>,
    /// Root fillings and posts; the share is the attenuation.
    fillings: Vec<Tube>,
    /// Stops and handles, then ball and ruler, with their shadows' boxes.
    file_solids: Vec<(Solid, [[f64; 2]; 2])>,
    solids: Vec<(Solid, [[f64; 2]; 2])>,
    /// Clamp and zygoma.
    shadows: Vec<Shadow>,
    overlap: Option<Overlap>,
    roots: Vec<RootPlace>,
    /// Left and right wall at the floor, and the floor, of the access cavity.
    access: Option<[f32; 3]>,
    filling: Option<[f32; 4]>,
    look: Appearance,
    bone: Bone,
    crest_y: f32,
    jaw_canal_y: f32,
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
        let clutter = &spec.clutter;
        let solid_teeth = anatomy::teeth(spec);
        let roots = root_places(&solid_teeth);
        let mut teeth = solid_teeth
            .into_iter()
            .map(|tooth| ToothCut {
                local_from_plane: Placement::inverse_rows(&tooth.place),
                roots: tubes(&tooth.roots, grown),
                pulp: tubes(&tooth.pulp, 0.0),
                crown: tooth.crown,
                work: Vec::new(),
            })
            .collect::<Vec<_>>();
        teeth[0].pulp.extend(tubes(&second_canals(spec), 0.0));
        for work in &clutter.crown_work {
            let [left, right] = spec.tooth.neighbours;
            let index = match work.tooth {
                0 => Some(0),
                -1 => left.then_some(1),
                _ => right.then_some(1 + usize::from(left)),
            };
            if let Some(tooth) = index.and_then(|i| teeth.get_mut(i)) {
                let crown = &tooth.crown;
                let shadows = crown_shadows(work, crown.middle_x, crown.reach, crown.neck_y);
                tooth.work.extend(shadows);
            }
        }
        let mut paths = Vec::new();
        paths.extend(
            spec.file
                .iter()
                .map(|file| (file, PlacedPath::unmoved(path))),
        );
        for second in &clutter.second_files {
            paths.push((&second.file, second_path(spec, second)));
        }
        let boxed = |solids: Vec<Solid>| -> Vec<(Solid, [[f64; 2]; 2])> {
            solids
                .into_iter()
                .map(|s| (s, s.form.shadow_box(&projection)))
                .collect()
        };
        let file_solids = paths
            .iter()
            .flat_map(|(file, path)| file_solids(file, &clutter.stop, path))
            .collect();
        let fillings = clutter
            .root_fillings
            .iter()
            .filter_map(|filling| {
                let sections = filling_sections(filling, roots.get(filling.root)?);
                (sections.len() > 1).then(|| Tube::new(&sections, 0.0, &projection))
            })
            .collect();
        let crown = &teeth[0].crown;
        let mut shadows = Vec::new();
        if let Some(clamp) = &clutter.clamp {
            let (middle, half) = (crown.middle_x, crown.reach);
            shadows.extend(clamp_shadows(clamp, middle, half, crown.neck_y));
        }
        if let Some(zygoma) = &clutter.zygoma {
            let apex_y = spec.reference_to_apex_mm() as f32;
            shadows.extend(zygoma_shadows(zygoma, apex_y));
        }
        let overlap = clutter.overlapping_root.as_ref().map(|root| {
            let (root, canal) = overlapping_sections(root, spec.tooth.crown_height_mm);
            Overlap {
                root: Tube::new(&root, grown, &projection),
                canal: Tube::new(&canal, 0.0, &projection),
            }
        });
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
            files: paths
                .iter()
                .map(|(file, path)| Tube::new(&file_sections(file, path), 0.0, &projection))
                .collect(),
            fillings,
            file_solids: boxed(file_solids),
            solids: boxed(scale_solids(spec)),
            shadows,
            overlap,
            roots,
            access,
            filling,
            width: spec.detector.width_px as usize,
            bone: Bone {
                texture: clutter.bone,
                trabeculae: Trabeculae {
                    seed: look.bone_seed,
                    mesh_mm: look.trabecula_mm as f32,
                },
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

    /// The film's roots, the treated one first.
    pub fn root_places(&self) -> &[RootPlace] {
        &self.roots
    }
}
