//! From a spec to teeth in space.

use nalgebra::{Rotation3, Vector3};

use super::crown::{Crown, Edge, Knots};
use super::parts::{Bend, CanalSpec, ToothShape, ToothSpec};
use super::path::CanalPath;
use super::spec::PhantomSpec;
use super::tube::Section;

/// Spacing of sections along roots and along canals, mm.
const ROOT_STEP_MM: f64 = 0.2;
const CANAL_STEP_MM: f64 = 0.1;
/// Length over which a root rounds off towards its apex.
const APEX_ROUNDING_MM: f64 = 2.6;
/// Length over which a root leaves its canal towards the apex.
const APEX_DEVIATION_MM: f64 = 2.5;

/// One tooth, all solids in the tooth frame.
#[derive(Clone, Debug)]
pub(super) struct ToothSolids {
    pub crown: Crown,
    /// Crown frame in the tooth frame.
    pub place: Placement,
    pub roots: Vec<Vec<Section>>,
    /// Chamber, horns and canals.
    pub pulp: Vec<Vec<Section>>,
}

/// A turn in the mid-plane and a shift.
#[derive(Clone, Copy, Debug)]
pub(super) struct Placement {
    turn: Rotation3<f64>,
    shift: Vector3<f64>,
}

impl Placement {
    pub fn identity() -> Self {
        Self {
            turn: Rotation3::identity(),
            shift: Vector3::zeros(),
        }
    }

    pub fn new(turn_rad: f64, shift: Vector3<f64>) -> Self {
        Self {
            turn: Rotation3::from_axis_angle(&Vector3::z_axis(), turn_rad),
            shift,
        }
    }

    pub fn point(&self, local: Vector3<f64>) -> Vector3<f64> {
        self.turn * local + self.shift
    }

    pub fn direction(&self, local: Vector3<f64>) -> Vector3<f64> {
        self.turn * local
    }

    /// Rows of the inverse in the mid-plane: local x = a·x + b·y + c.
    pub fn inverse_rows(&self) -> [[f32; 3]; 2] {
        let back = self.turn.inverse();
        let m = back.matrix();
        let offset = back * self.shift;
        [0, 1].map(|i| [m[(i, 0)] as f32, m[(i, 1)] as f32, -offset[i] as f32])
    }
}

/// `+1`: distal lies to the film's right.
fn distal_side(tooth: &ToothSpec) -> f64 {
    if tooth.mirrored { -1.0 } else { 1.0 }
}

/// Half width of the root where it starts and near its end, mm.
fn root_half_widths(tooth: &ToothSpec) -> [f64; 2] {
    match tooth.shape {
        ToothShape::LowerMolar => [tooth.neck_width_mm * 0.235, tooth.neck_width_mm * 0.13],
        _ => [tooth.neck_width_mm * 0.5, tooth.neck_width_mm * 0.2],
    }
}

/// Share of the full width `from_end_mm` before the root's end.
fn rounding(from_end_mm: f64) -> f64 {
    let t = 1.0 - (from_end_mm / APEX_ROUNDING_MM).clamp(0.0, 1.0);
    1.0 - t * t
}

fn smoothstep(t: f64) -> f64 {
    let t = t.clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// How far the root's axis has left the canal `from_end_mm` before its end.
fn deviation(from_end_mm: f64) -> f64 {
    smoothstep(1.0 - from_end_mm / APEX_DEVIATION_MM)
}

/// Foramen → root apex: along the canal's end, and sideways.
fn apex_offset(path: &CanalPath, tooth: &ToothSpec) -> [Vector3<f64>; 2] {
    let beyond = tooth.apex_beyond_foramen_mm;
    let end = path.direction(path.foramen_mm);
    let sideways = Vector3::z().cross(&end).normalize();
    let (sin, cos) = tooth.apex_side_deg.to_radians().sin_cos();
    let side = sideways * cos + end.cross(&sideways) * sin;
    [end * beyond, side * tooth.apex_aside_mm]
}

/// Foramen → radiographic apex in the tooth frame, mm.
pub(super) fn foramen_to_apex(spec: &PhantomSpec) -> Vector3<f64> {
    let [along, aside] = apex_offset(&CanalPath::new(&spec.canal), &spec.tooth);
    along + aside
}

impl PhantomSpec {
    /// Reference point → radiographic apex along the path, mm: the canal's
    /// path, then straight from the foramen to the apex.
    pub fn reference_to_apex_mm(&self) -> f64 {
        self.canal.path_length_mm() + foramen_to_apex(self).norm()
    }

    /// The same film with the file set so that its tip ends `short_mm` short
    /// of the radiographic apex along the path (negative: beyond).
    pub fn with_tip_short_of_apex(mut self, short_mm: f64) -> Self {
        let set_length_mm = self.reference_to_apex_mm() - short_mm;
        if let Some(file) = &mut self.file {
            file.set_length_mm = set_length_mm;
        }
        self
    }
}

fn root_sections(path: &CanalPath, tooth: &ToothSpec, place: &Placement) -> Vec<Section> {
    let start = tooth.crown_height_mm - 1.0;
    let end = path.foramen_mm + tooth.apex_beyond_foramen_mm;
    let [along, aside] = apex_offset(path, tooth);
    let [wide, narrow] = root_half_widths(tooth);
    let apex = path.point(path.foramen_mm) + along + aside;
    let steps = ((end - start) / ROOT_STEP_MM).ceil() as usize;
    // Finer towards the end, where the root rounds off.
    let places = (0..steps)
        .map(|i| start + (end - start) * i as f64 / steps as f64)
        .filter(|s| end - s > APEX_ROUNDING_MM)
        .chain(
            (0..=40)
                .rev()
                .map(|i| end - APEX_ROUNDING_MM * (f64::from(i) / 40.0).powi(2)),
        );
    places
        .map(|s| {
            // The root follows its canal loosely: a running mean.
            let window = (end - s).min(1.5);
            let mean = (-4..=4)
                .map(|k| path.point(s + window * f64::from(k) / 4.0))
                .fold(Vector3::zeros(), |sum, p| sum + p)
                / 9.0;
            let share = (s - start) / (end - start);
            let half = (wide + (narrow - wide) * share.powf(0.85)) * rounding(end - s);
            let centre = mean + aside * deviation(end - s);
            Section {
                centre: place.point(if s >= end { apex } else { centre }),
                half_width_mm: half,
                half_depth_mm: half * tooth.root_depth_ratio,
                share: 1.0,
            }
        })
        .collect()
}

/// Half width of a canal at `along_mm`, between orifice and foramen.
fn canal_half_width(path: &CanalPath, canal: &CanalSpec, along_mm: f64) -> f64 {
    let share =
        ((path.foramen_mm - along_mm) / (path.foramen_mm - path.orifice_mm)).clamp(0.0, 1.0);
    0.5 * (canal.foramen_width_mm + (canal.orifice_width_mm - canal.foramen_width_mm) * share)
}

pub(super) fn canal_sections(
    path: &CanalPath,
    canal: &CanalSpec,
    place: &Placement,
) -> Vec<Section> {
    let steps = ((path.foramen_mm - path.orifice_mm) / CANAL_STEP_MM)
        .ceil()
        .max(1.0) as usize;
    (0..=steps)
        .map(|i| {
            let s = path.orifice_mm + (path.foramen_mm - path.orifice_mm) * i as f64 / steps as f64;
            let half = canal_half_width(path, canal, s);
            let fade = if canal.calcified_apical_mm > 0.0 {
                let open = smoothstep((path.foramen_mm - s) / canal.calcified_apical_mm);
                0.12 + 0.88 * open
            } else {
                1.0
            };
            Section {
                centre: place.point(path.point(s)),
                half_width_mm: half,
                half_depth_mm: half * canal.depth_ratio,
                share: fade,
            }
        })
        .collect()
}

/// A tube between two points whose half width changes evenly.
fn horn(
    place: &Placement,
    from: [f64; 2],
    to: [f64; 2],
    half: [f64; 2],
    depth_ratio: f64,
) -> Vec<Section> {
    (0..=20)
        .map(|i| {
            let t = f64::from(i) / 20.0;
            let width = half[0] + (half[1] - half[0]) * t;
            Section {
                centre: place.point(Vector3::new(
                    from[0] + (to[0] - from[0]) * t,
                    from[1] + (to[1] - from[1]) * t,
                    0.0,
                )),
                half_width_mm: width,
                half_depth_mm: width * depth_ratio,
                share: 1.0,
            }
        })
        .collect()
}

/// The crown's form for each shape of tooth.
fn crown(tooth: &ToothSpec, canal: &CanalSpec) -> Crown {
    let height = tooth.crown_height_mm as f32;
    let half = (tooth.crown_width_mm / 2.0) as f32;
    let neck = (tooth.neck_width_mm / 2.0) as f32;
    let depth = (tooth.crown_depth_mm / 2.0) as f32;
    let root_depth = (root_half_widths(tooth)[0] * tooth.root_depth_ratio) as f32;
    let side = distal_side(tooth) as f32;
    let single = |edge, top_width: f32, top_depth: f32, drop: f32| Crown {
        middle_x: 0.0,
        reach: half,
        half_width: Knots(vec![
            (0.0, half * top_width),
            (height * 0.35, half),
            (height, neck),
            (height + 2.4, neck * 0.8),
        ]),
        half_depth: Knots(vec![
            (0.0, depth * top_depth),
            (height * 0.75, depth),
            (height, root_depth.max(depth * 0.85)),
            (height + 2.4, root_depth * 0.9),
        ]),
        neck_y: height,
        bottom_y: height + 2.4,
        bottom_rounding: 3.0,
        arch: None,
        edge,
        second_lobe_drop: drop,
        enamel_side_mm: 0.8,
        enamel_top_mm: 1.3,
    };
    match tooth.shape {
        ToothShape::Incisor => single(Edge::Straight, 0.97, 0.25, 0.0),
        ToothShape::Canine => single(Edge::Pointed { slope: 0.5 }, 0.9, 0.35, 0.6),
        ToothShape::Premolar => single(Edge::Pointed { slope: 0.45 }, 0.88, 0.75, 1.3),
        ToothShape::LowerMolar => {
            // The reference cusp stands over the mesial root.
            let middle_x = side * half * 0.52;
            let trunk = (canal.reference_to_orifice_mm as f32 - height).max(0.5) + 1.6;
            Crown {
                middle_x,
                reach: half,
                half_width: Knots(vec![
                    (0.0, half * 0.9),
                    (height * 0.38, half),
                    (height, neck),
                    (height + trunk, neck * 0.9),
                ]),
                half_depth: Knots(vec![
                    (0.0, depth * 0.8),
                    (height * 0.6, depth),
                    (height + trunk, root_depth),
                ]),
                neck_y: height,
                bottom_y: height + trunk,
                bottom_rounding: 2.0,
                arch: Some((side * neck * 0.56, 0.75)),
                edge: Edge::Cusps {
                    spacing_mm: half * 1.0,
                    depth_mm: 1.0,
                },
                second_lobe_drop: 0.9,
                enamel_side_mm: 1.1,
                enamel_top_mm: 1.7,
            }
        }
    }
}

/// Path of the molar's other root, in the tooth's own frame.
pub(super) fn distal_root(tooth: &ToothSpec, canal: &CanalSpec) -> (CanalSpec, Placement) {
    let side = distal_side(tooth);
    let length = canal.path_length_mm() - 0.9;
    let bend = Bend {
        turn_deg: -side * 9.0,
        radius_mm: 22.0,
        straight_after_mm: 0.8,
        plane_deg: 0.0,
    };
    let curved = 9f64.to_radians() * 22.0 + 0.8;
    let distal = CanalSpec {
        straight_mm: (length - canal.reference_to_orifice_mm - curved).max(1.0),
        bends: vec![bend],
        orifice_width_mm: 1.0,
        foramen_width_mm: 0.35,
        depth_ratio: 2.2,
        calcified_apical_mm: 0.0,
        ..canal.clone()
    };
    let shift = Vector3::new(side * tooth.neck_width_mm * 0.53, 0.0, 0.0);
    (distal, Placement::new(-side * 0.035, shift))
}

impl ToothSolids {
    /// Builds a tooth around its canal.
    pub fn new(tooth: &ToothSpec, canal: &CanalSpec, place: Placement) -> Self {
        let path = CanalPath::new(canal);
        let mut roots = vec![root_sections(&path, tooth, &place)];
        let mut pulp = vec![canal_sections(&path, canal, &place)];
        let orifice = canal.reference_to_orifice_mm;
        let half = canal.orifice_width_mm / 2.0;
        let roof = tooth.crown_height_mm * 0.72;
        if tooth.shape == ToothShape::LowerMolar {
            let (distal, offset) = distal_root(tooth, canal);
            let combined = Placement {
                turn: place.turn * offset.turn,
                shift: place.point(offset.shift),
            };
            let other = CanalPath::new(&distal);
            roots.push(root_sections(&other, tooth, &combined));
            pulp.push(canal_sections(&other, &distal, &combined));
            let far = distal_side(tooth) * tooth.neck_width_mm * 0.53;
            let floor = orifice - 0.5;
            let near_horn = [far * 0.04, roof];
            let far_horn = [far * 0.96, roof + 0.3];
            let chamber = 0.5 * (floor - roof).clamp(0.6, 1.6);
            let middle = floor - chamber * 0.8;
            pulp.push(horn(
                &place,
                [far * 0.06, middle],
                [far * 0.94, middle],
                [chamber; 2],
                1.9,
            ));
            pulp.push(horn(&place, [0.0, orifice], near_horn, [half, 0.5], 1.6));
            pulp.push(horn(
                &place,
                near_horn,
                [near_horn[0], roof - 1.2],
                [0.5, 0.15],
                1.4,
            ));
            pulp.push(horn(&place, [far, orifice], far_horn, [0.5, 0.55], 2.0));
            pulp.push(horn(
                &place,
                far_horn,
                [far_horn[0], roof - 0.9],
                [0.55, 0.15],
                1.4,
            ));
        } else {
            let bulge = half.max(0.45);
            pulp.push(horn(
                &place,
                [0.0, orifice],
                [0.0, roof],
                [half, bulge],
                1.8,
            ));
            pulp.push(horn(
                &place,
                [0.0, roof],
                [0.0, roof - 0.3 * tooth.crown_height_mm],
                [bulge, 0.12],
                1.4,
            ));
        }
        Self {
            crown: crown(tooth, canal),
            place,
            roots,
            pulp,
        }
    }

    /// Middle and half width of the crown across, tooth frame, mm.
    fn across(&self) -> [f64; 2] {
        [f64::from(self.crown.middle_x), f64::from(self.crown.reach)]
    }
}

/// The tooth under treatment and those beside it.
pub(super) fn teeth(spec: &PhantomSpec) -> Vec<ToothSolids> {
    let main = ToothSolids::new(&spec.tooth, &spec.canal, Placement::identity());
    let [middle, half] = main.across();
    let mut teeth = vec![main];
    for (index, side) in [-1.0, 1.0].into_iter().enumerate() {
        if spec.tooth.neighbours[index] {
            let contact = middle + side * (half + 0.05);
            teeth.push(neighbour(&spec.tooth, &spec.canal, side, contact));
        }
    }
    teeth
}

/// A tooth that touches the contact point on the given side of the main one.
fn neighbour(main: &ToothSpec, canal: &CanalSpec, side: f64, contact_x: f64) -> ToothSolids {
    let distal = side == distal_side(main);
    let shape = match (main.shape, distal) {
        (ToothShape::LowerMolar, false) => ToothShape::Premolar,
        (ToothShape::LowerMolar | ToothShape::Premolar, true) => ToothShape::LowerMolar,
        (ToothShape::Premolar, false) => ToothShape::Premolar,
        (ToothShape::Canine, true) => ToothShape::Premolar,
        (ToothShape::Canine, false) | (ToothShape::Incisor, _) => ToothShape::Incisor,
    };
    let [width, neck, depth, ratio] = match shape {
        ToothShape::Incisor => [5.4, 3.7, 5.6, 1.5],
        ToothShape::Canine => [6.8, 5.2, 7.4, 1.5],
        ToothShape::Premolar => [7.0, 5.2, 8.0, 1.4],
        ToothShape::LowerMolar => [10.5, 8.6, 9.8, 1.7],
    };
    let tooth = ToothSpec {
        shape,
        crown_height_mm: if shape == ToothShape::LowerMolar {
            7.0
        } else {
            main.crown_height_mm.min(9.0)
        },
        crown_width_mm: width,
        neck_width_mm: neck,
        crown_depth_mm: depth,
        root_depth_ratio: ratio,
        apex_beyond_foramen_mm: 0.3,
        apex_side_deg: 0.0,
        ..main.clone()
    };
    let turn = Bend {
        turn_deg: -7.0 * distal_side(main),
        radius_mm: 30.0,
        straight_after_mm: 1.0,
        plane_deg: 0.0,
    };
    let own = CanalSpec {
        reference_to_orifice_mm: tooth.crown_height_mm + 1.2,
        straight_mm: (canal.path_length_mm() - tooth.crown_height_mm - 7.2).clamp(5.0, 9.0),
        bends: vec![turn],
        orifice_width_mm: 0.8,
        foramen_width_mm: 0.3,
        depth_ratio: 1.6,
        calcified_apical_mm: 0.0,
    };
    let form = ToothSolids::new(&tooth, &own, Placement::identity());
    let [middle, half] = form.across();
    let shift = Vector3::new(contact_x + side * half - middle, 0.3, 0.0);
    // Roots of neighbours keep a little apart.
    ToothSolids::new(&tooth, &own, Placement::new(-side * 0.05, shift))
}
