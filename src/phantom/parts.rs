//! The parts of a phantom film: canal, tooth, file, view, detector, look.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Kinds of canal shape that [`super::PhantomSpec::random`] draws.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum CanalKind {
    /// One bend of 15–45°.
    Single,
    /// Two bends of opposite sign.
    SShaped,
    /// Less than 8° in all.
    NearlyStraight,
    /// A sharp bend in the last millimetres.
    LateBend,
}

impl CanalKind {
    /// All kinds, in a fixed order.
    pub const ALL: [Self; 4] = [
        Self::Single,
        Self::SShaped,
        Self::NearlyStraight,
        Self::LateBend,
    ];
}

/// Forms of tooth the phantom can build.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ToothShape {
    /// One root, straight incisal edge.
    Incisor,
    /// One root, one pointed cusp.
    Canine,
    /// One root, a buccal and a lower lingual cusp.
    Premolar,
    /// A mesial and a distal root; the canal asked for is the mesial one.
    LowerMolar,
}

/// One bend of the canal: an arc, then a straight piece.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Bend {
    /// Change of direction, degrees; positive = clockwise on the film.
    pub turn_deg: f64,
    /// Radius of the arc, mm.
    pub radius_mm: f64,
    /// Straight piece after the arc, mm.
    pub straight_after_mm: f64,
    /// Turn of the bend's plane out of the tooth's mid-plane, about the
    /// direction the canal has at the bend's start, degrees.
    pub plane_deg: f64,
}

/// The canal under treatment. Its path starts at the coronal reference point.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct CanalSpec {
    /// Straight from the reference point to the orifice, mm.
    pub reference_to_orifice_mm: f64,
    /// Straight from the orifice to the first bend, mm.
    pub straight_mm: f64,
    /// Bends in order; none: a straight canal.
    pub bends: Vec<Bend>,
    /// Width at the orifice, mm (in the mid-plane).
    pub orifice_width_mm: f64,
    /// Width at the foramen, mm.
    pub foramen_width_mm: f64,
    /// Depth (towards the source) over width of the canal's section.
    pub depth_ratio: f64,
    /// Length of canal above the foramen that fades by calcification, mm.
    pub calcified_apical_mm: f64,
}

impl Default for CanalSpec {
    fn default() -> Self {
        Self {
            reference_to_orifice_mm: 9.0,
            straight_mm: 5.0,
            bends: vec![Bend {
                turn_deg: -28.0,
                radius_mm: 12.0,
                straight_after_mm: 1.2,
                plane_deg: 10.0,
            }],
            orifice_width_mm: 0.9,
            foramen_width_mm: 0.28,
            depth_ratio: 1.2,
            calcified_apical_mm: 0.0,
        }
    }
}

impl CanalSpec {
    /// Reference point → foramen along the path, mm (closed form).
    pub fn path_length_mm(&self) -> f64 {
        self.reference_to_orifice_mm
            + self.straight_mm
            + self
                .bends
                .iter()
                .map(|b| b.turn_deg.to_radians().abs() * b.radius_mm + b.straight_after_mm)
                .sum::<f64>()
    }
}

/// The tooth around the canal.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct ToothSpec {
    /// Form.
    pub shape: ToothShape,
    /// ISO 3950 number for the case file; has no influence on the picture.
    pub fdi: String,
    /// Name of the canal for the case file.
    pub canal_name: String,
    /// Name of the reference point for the case file.
    pub reference_name: String,
    /// The distal side lies to the film's left.
    pub mirrored: bool,
    /// Reference point → neck (cemento-enamel junction), mm.
    pub crown_height_mm: f64,
    /// Largest width of the crown, mm.
    pub crown_width_mm: f64,
    /// Width at the neck, mm.
    pub neck_width_mm: f64,
    /// Largest thickness of the crown towards the source, mm.
    pub crown_depth_mm: f64,
    /// Depth over width of the root's section.
    pub root_depth_ratio: f64,
    /// How far the root goes on beyond the foramen along the canal's end, mm.
    pub apex_beyond_foramen_mm: f64,
    /// How far the root's end lies aside of the canal's direction there, mm.
    pub apex_aside_mm: f64,
    /// Direction in which the root leaves the canal there, about the canal's
    /// end, degrees; 0 and 180 lie in the mid-plane.
    pub apex_side_deg: f64,
    /// A tooth to the film's left and right.
    pub neighbours: [bool; 2],
    /// A bright filling in the crown.
    pub restoration: bool,
}

impl Default for ToothSpec {
    fn default() -> Self {
        Self {
            shape: ToothShape::LowerMolar,
            fdi: "36".into(),
            canal_name: "MB".into(),
            reference_name: "MB cusp".into(),
            mirrored: false,
            crown_height_mm: 7.3,
            crown_width_mm: 11.0,
            neck_width_mm: 9.0,
            crown_depth_mm: 10.0,
            root_depth_ratio: 1.7,
            apex_beyond_foramen_mm: 0.4,
            apex_aside_mm: 0.05,
            apex_side_deg: 0.0,
            neighbours: [true, true],
            restoration: false,
        }
    }
}

/// A hand file of constant taper standing in the canal, its stop resting on
/// the reference point.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct FileSpec {
    /// Nominal size: tip diameter in 1/100 mm.
    pub size: u16,
    /// Growth of the diameter, mm per mm (0.02 gives D16 = D0 + 0.32).
    pub taper: f64,
    /// Tooth-side face of the stop → tip, along the file, mm.
    pub set_length_mm: f64,
    /// Handle → tip, mm.
    pub operative_length_mm: f64,
    /// Diameter of the stop, mm.
    pub stop_diameter_mm: f64,
    /// Thickness of the stop, mm.
    pub stop_thickness_mm: f64,
    /// Draw the handle (it may leave the film).
    pub handle: bool,
}

impl Default for FileSpec {
    fn default() -> Self {
        Self {
            size: 15,
            taper: 0.02,
            set_length_mm: 20.0,
            operative_length_mm: 25.0,
            stop_diameter_mm: 2.6,
            stop_thickness_mm: 1.2,
            handle: true,
        }
    }
}

/// How the film was taken.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct ViewSpec {
    /// Source → detector along the central ray (SID), mm.
    pub source_to_detector_mm: f64,
    /// Tooth centre → detector along the central ray (OFD), mm.
    pub object_to_detector_mm: f64,
    /// Lean of the tooth out of the film's plane (apex towards the source
    /// positive), degrees: the tilt τ of L′ = L·cosτ·M.
    pub lean_deg: f64,
    /// Inclination of the tooth in the film's plane, degrees, clockwise.
    pub inclination_deg: f64,
    /// Tilt of the detector about its horizontal axis against the central
    /// ray, degrees.
    pub detector_tilt_deg: f64,
    /// Turn of the tooth about the film's upright axis through its centre,
    /// degrees, as for a second film from another direction: what lies towards
    /// the source moves to the right for positive ones. Beyond 45° there is a
    /// truth and no picture.
    pub turn_deg: f64,
    /// Direction of the tube aside of the film's normal, degrees, the film
    /// staying where it is; the same sign.
    pub tube_shift_deg: f64,
    /// Tooth centre relative to the central ray, mm in the tooth's plane.
    pub tooth_centre_mm: [f64; 2],
    /// Focal spot, mm.
    pub focal_spot_mm: f64,
    /// Quarter turns of the finished raster, clockwise: 0–3.
    pub quarter_turns: u8,
}

impl Default for ViewSpec {
    fn default() -> Self {
        Self {
            source_to_detector_mm: 300.0,
            object_to_detector_mm: 12.0,
            lean_deg: 0.0,
            inclination_deg: 0.0,
            detector_tilt_deg: 0.0,
            turn_deg: 0.0,
            tube_shift_deg: 0.0,
            tooth_centre_mm: [0.0, -1.0],
            focal_spot_mm: 0.7,
            quarter_turns: 0,
        }
    }
}

/// The detector and what it does to the picture.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct DetectorSpec {
    /// Columns before quarter turns.
    pub width_px: u32,
    /// Rows before quarter turns.
    pub height_px: u32,
    /// `[row, column]` pitch before quarter turns, mm.
    pub pixel_pitch_mm: [f64; 2],
    /// Depth of the stored samples, 8–16.
    pub bits: u8,
    /// Mean quanta per pixel without any object; absent: no noise.
    pub photons: Option<f64>,
    /// Standard deviation of the detector's own blur, mm.
    pub blur_mm: f64,
    /// Optical depth (natural logarithm) shown black.
    pub black_depth: f64,
    /// Optical depth shown white.
    pub white_depth: f64,
}

impl Default for DetectorSpec {
    fn default() -> Self {
        Self {
            width_px: 1368,
            height_px: 1840,
            pixel_pitch_mm: [0.02, 0.02],
            bits: 16,
            photons: Some(9000.0),
            blur_mm: 0.025,
            black_depth: 0.12,
            white_depth: 2.75,
        }
    }
}

impl DetectorSpec {
    /// The same detector with square pixels of another size: as large as
    /// before, and as many quanta on each mm².
    pub fn set_pitch_mm(&mut self, pitch_mm: f64) {
        let [row_scale, column_scale] = self.pixel_pitch_mm.map(|p| p / pitch_mm);
        self.width_px = (f64::from(self.width_px) * column_scale) as u32;
        self.height_px = (f64::from(self.height_px) * row_scale) as u32;
        self.photons = self.photons.map(|p| p / (row_scale * column_scale));
        self.pixel_pitch_mm = [pitch_mm; 2];
    }
}

/// Local appearance that varies between patients and films.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct Appearance {
    /// Seed of the bone texture.
    pub bone_seed: u64,
    /// Relative contrast of the trabeculae; 0 = none.
    pub bone_contrast: f64,
    /// Relative density of the bone; 1 = usual.
    pub bone_density: f64,
    /// Mesh of the trabecular network, mm.
    pub trabecula_mm: f64,
    /// Neck → alveolar crest, mm.
    pub crest_below_neck_mm: f64,
    /// Width of the periodontal ligament space, mm.
    pub ligament_mm: f64,
    /// Thickness of the lamina dura, mm.
    pub lamina_mm: f64,
    /// Show the nerve canal of the lower jaw below the apices.
    pub jaw_canal: bool,
}

impl Default for Appearance {
    fn default() -> Self {
        Self {
            bone_seed: 1,
            bone_contrast: 1.0,
            bone_density: 1.0,
            trabecula_mm: 1.5,
            crest_below_neck_mm: 1.6,
            ligament_mm: 0.22,
            lamina_mm: 0.3,
            jaw_canal: false,
        }
    }
}

/// A metal ball in the tooth's mid-plane.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BallSpec {
    /// Diameter, mm.
    pub diameter_mm: f64,
    /// Centre in the tooth frame's mid-plane, mm.
    pub centre_mm: [f64; 2],
}

/// A wire ruler in the tooth's mid-plane with a tick at every mm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RulerSpec {
    /// Divisions of 1 mm.
    pub divisions: u16,
    /// First tick in the tooth frame's mid-plane, mm; runs along +y.
    pub start_mm: [f64; 2],
}
