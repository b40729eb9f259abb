//! Further canals and files, root fillings, and a root of another tooth over
//! the treated one.

use nalgebra::Vector3;

use super::anatomy::{Placement, ToothSolids, canal_sections, distal_root};
use super::clutter::{OverlappingRoot, RootFilling, SecondFile, filling_share};
use super::path::CanalPath;
use super::spec::PhantomSpec;
use super::tube::Section;

/// A canal's path put somewhere in the tooth frame.
pub(super) struct PlacedPath {
    path: CanalPath,
    place: Placement,
}

impl PlacedPath {
    pub fn unmoved(path: &CanalPath) -> Self {
        Self {
            path: path.clone(),
            place: Placement::identity(),
        }
    }

    pub fn orifice_mm(&self) -> f64 {
        self.path.orifice_mm
    }

    pub fn foramen_mm(&self) -> f64 {
        self.path.foramen_mm
    }

    pub fn point(&self, along_mm: f64) -> Vector3<f64> {
        self.place.point(self.path.point(along_mm))
    }

    pub fn direction(&self, along_mm: f64) -> Vector3<f64> {
        self.place.direction(self.path.direction(along_mm))
    }
}

/// The path that a further file stands in.
pub(super) fn second_path(spec: &PhantomSpec, second: &SecondFile) -> PlacedPath {
    match &second.beside {
        None => {
            let (canal, place) = distal_root(&spec.tooth, &spec.canal);
            PlacedPath {
                path: CanalPath::new(&canal),
                place,
            }
        }
        Some(beside) => PlacedPath {
            path: CanalPath::new(&beside.canal),
            place: Placement::new(
                beside.turn_deg.to_radians(),
                Vector3::new(beside.shift_mm, 0.0, 0.0),
            ),
        },
    }
}

/// The second canals of the treated root, as tubes of pulp.
pub(super) fn second_canals(spec: &PhantomSpec) -> Vec<Vec<Section>> {
    spec.clutter
        .second_files
        .iter()
        .filter_map(|second| {
            let canal = &second.beside.as_ref()?.canal;
            let placed = second_path(spec, second);
            Some(canal_sections(&placed.path, canal, &placed.place))
        })
        .collect()
}

/// One root of the film with its canal, tooth frame, mm.
#[derive(Clone, Debug)]
pub(super) struct RootPlace {
    pub apex: Vector3<f64>,
    /// Orifice → foramen.
    pub canal: Vec<Section>,
    /// The root that holds the canal under treatment.
    pub treated: bool,
}

/// All roots of `teeth`, the treated one first; each tooth has one canal a
/// root, in the same order.
pub(super) fn root_places(teeth: &[ToothSolids]) -> Vec<RootPlace> {
    let mut places = Vec::new();
    for tooth in teeth {
        for (root, canal) in tooth.roots.iter().zip(&tooth.pulp) {
            if let Some(last) = root.last() {
                places.push(RootPlace {
                    apex: last.centre,
                    canal: canal.clone(),
                    treated: places.is_empty(),
                });
            }
        }
    }
    places
}

/// A root filling in the canal of `root`: its sections' share is the
/// attenuation, 1/mm.
pub(super) fn filling_sections(filling: &RootFilling, root: &RootPlace) -> Vec<Section> {
    let canal = &root.canal;
    let from_end = |i: usize| (canal[canal.len() - 1].centre - canal[i].centre).norm();
    (0..canal.len())
        .filter(|&i| from_end(i) >= filling.short_mm)
        .map(|i| Section {
            share: filling_share(filling, i as f64 / canal.len() as f64),
            ..canal[i]
        })
        .collect()
}

/// Root and canal of another tooth over the treated one; `neck_y` is where it
/// starts.
pub(super) fn overlapping_sections(
    root: &OverlappingRoot,
    neck_y: f64,
) -> (Vec<Section>, Vec<Section>) {
    let place = Placement::new(
        root.turn_deg.to_radians(),
        Vector3::new(root.shift_mm, neck_y, 0.0),
    );
    let tube = |half: &dyn Fn(f64) -> f64, end: f64| -> Vec<Section> {
        (0..=60)
            .map(|i| {
                let t = f64::from(i) / 60.0;
                Section {
                    centre: place.point(Vector3::new(0.0, t * end, 0.0)),
                    half_width_mm: half(t).max(0.02),
                    half_depth_mm: half(t).max(0.02) * 1.2,
                    share: 1.0,
                }
            })
            .collect()
    };
    let wide = root.half_width_mm;
    (
        tube(
            &|t| {
                wide * (1.0 - 0.55 * t)
                    * (1.0 - (t.max(0.85) - 0.85).powi(2) / 0.0225)
                        .max(0.0)
                        .sqrt()
            },
            root.length_mm,
        ),
        tube(&|t| wide * 0.16 * (1.0 - 0.6 * t), root.length_mm - 0.5),
    )
}
