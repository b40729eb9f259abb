//! What a phantom film shows: every dimension settable, or drawn from a seed.
//!
//! The film's numbers (lengths, angles, widths) are drawn from ranges that a
//! dentist would call plausible; tooth lengths lie around the published means
//! (Woelfel, as remembered: MEM-M), canal widths and bends are common
//! practice, no source.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Families of canal shape that [`PhantomSpec::random`] draws.
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

/// One phantom film, complete: the same spec gives the same film.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct PhantomSpec {
    /// Seed of the quantum noise.
    pub seed: u64,
    /// Family the canal was drawn from.
    pub kind: CanalKind,
    /// The canal.
    pub canal: CanalSpec,
    /// The tooth.
    pub tooth: ToothSpec,
    /// The file in the canal, if any.
    pub file: Option<FileSpec>,
    /// A ball for the scale, if any.
    pub ball: Option<BallSpec>,
    /// A ruler for the scale, if any.
    pub ruler: Option<RulerSpec>,
    /// Geometry of the exposure.
    pub view: ViewSpec,
    /// The detector.
    pub detector: DetectorSpec,
    /// Patient and film appearance.
    pub look: Appearance,
}

impl Default for PhantomSpec {
    fn default() -> Self {
        Self {
            seed: 1,
            kind: CanalKind::Single,
            canal: CanalSpec::default(),
            tooth: ToothSpec::default(),
            file: Some(FileSpec::default()),
            ball: None,
            ruler: None,
            view: ViewSpec::default(),
            detector: DetectorSpec::default(),
            look: Appearance::default(),
        }
    }
}

/// Why a phantom cannot be made.
#[derive(Debug, thiserror::Error)]
pub enum PhantomError {
    /// A value outside what can be built.
    #[error("phantom: `{key}` is {value}; allowed is {low} to {high}")]
    OutOfRange {
        /// Path of the key in the spec.
        key: &'static str,
        /// What it was.
        value: f64,
        /// Least allowed.
        low: f64,
        /// Most allowed.
        high: f64,
    },
    /// Values that exclude each other.
    #[error("phantom: {0}")]
    Contradiction(&'static str),
    /// A film file could not be written or read back.
    #[error(transparent)]
    Film(#[from] crate::film::FilmError),
    /// Another file could not be written.
    #[error("{}: cannot be written: {}", path.display(), crate::atomic_file::reason(.source))]
    Write {
        /// The file.
        path: std::path::PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// The built-in demo is damaged.
    #[error("the built-in demo cannot be read: {0}")]
    Demo(#[from] serde_json::Error),
}

impl PhantomSpec {
    /// Checks every value against what the renderer can build.
    pub fn check(&self) -> Result<(), PhantomError> {
        let within = |key, value: f64, low, high| {
            // Written so that NaN is refused.
            if value >= low && value <= high {
                Ok(())
            } else {
                Err(PhantomError::OutOfRange {
                    key,
                    value,
                    low,
                    high,
                })
            }
        };
        let canal = &self.canal;
        within(
            "canal.reference_to_orifice_mm",
            canal.reference_to_orifice_mm,
            2.0,
            20.0,
        )?;
        within("canal.straight_mm", canal.straight_mm, 0.0, 30.0)?;
        within("canal.bends (count)", canal.bends.len() as f64, 0.0, 4.0)?;
        for bend in &canal.bends {
            within("canal.bends.turn_deg", bend.turn_deg, -90.0, 90.0)?;
            within("canal.bends.radius_mm", bend.radius_mm, 1.0, 1000.0)?;
            within(
                "canal.bends.straight_after_mm",
                bend.straight_after_mm,
                0.0,
                30.0,
            )?;
            within("canal.bends.plane_deg", bend.plane_deg, -180.0, 180.0)?;
        }
        within("canal path length", canal.path_length_mm(), 8.0, 45.0)?;
        within("canal.orifice_width_mm", canal.orifice_width_mm, 0.1, 2.0)?;
        within("canal.foramen_width_mm", canal.foramen_width_mm, 0.05, 1.5)?;
        within("canal.depth_ratio", canal.depth_ratio, 0.5, 4.0)?;
        within(
            "canal.calcified_apical_mm",
            canal.calcified_apical_mm,
            0.0,
            30.0,
        )?;
        let tooth = &self.tooth;
        within("tooth.crown_height_mm", tooth.crown_height_mm, 3.0, 14.0)?;
        within("tooth.crown_width_mm", tooth.crown_width_mm, 3.0, 14.0)?;
        within(
            "tooth.neck_width_mm",
            tooth.neck_width_mm,
            2.0,
            tooth.crown_width_mm,
        )?;
        within("tooth.crown_depth_mm", tooth.crown_depth_mm, 2.0, 14.0)?;
        within("tooth.root_depth_ratio", tooth.root_depth_ratio, 0.5, 3.0)?;
        within(
            "tooth.apex_beyond_foramen_mm",
            tooth.apex_beyond_foramen_mm,
            0.0,
            1.5,
        )?;
        within("tooth.apex_aside_mm", tooth.apex_aside_mm, 0.0, 1.0)?;
        within("tooth.apex_side_deg", tooth.apex_side_deg, -360.0, 360.0)?;
        if canal.path_length_mm() < tooth.crown_height_mm + 4.0 {
            return Err(PhantomError::Contradiction(
                "the root is shorter than 4 mm: lengthen the canal or lower the crown",
            ));
        }
        if let Some(file) = &self.file {
            within("file.size", f64::from(file.size), 6.0, 140.0)?;
            within("file.taper", file.taper, 0.0, 0.12)?;
            let longest = file.operative_length_mm.min(canal.path_length_mm() + 6.0);
            within(
                "file.operative_length_mm",
                file.operative_length_mm,
                15.0,
                45.0,
            )?;
            within("file.set_length_mm", file.set_length_mm, 2.0, longest)?;
            within("file.stop_diameter_mm", file.stop_diameter_mm, 1.0, 6.0)?;
            within("file.stop_thickness_mm", file.stop_thickness_mm, 0.3, 3.0)?;
        }
        if let Some(ball) = self.ball {
            within("ball.diameter_mm", ball.diameter_mm, 0.5, 12.0)?;
            within("ball.centre_mm[0]", ball.centre_mm[0], -60.0, 60.0)?;
            within("ball.centre_mm[1]", ball.centre_mm[1], -60.0, 60.0)?;
        }
        if let Some(ruler) = self.ruler {
            within("ruler.divisions", f64::from(ruler.divisions), 1.0, 40.0)?;
            within("ruler.start_mm[0]", ruler.start_mm[0], -60.0, 60.0)?;
            within("ruler.start_mm[1]", ruler.start_mm[1], -60.0, 60.0)?;
        }
        let view = &self.view;
        within(
            "view.source_to_detector_mm",
            view.source_to_detector_mm,
            100.0,
            3000.0,
        )?;
        within(
            "view.object_to_detector_mm",
            view.object_to_detector_mm,
            0.0,
            50.0,
        )?;
        within("view.lean_deg", view.lean_deg, -45.0, 45.0)?;
        within("view.inclination_deg", view.inclination_deg, -90.0, 90.0)?;
        within(
            "view.detector_tilt_deg",
            view.detector_tilt_deg,
            -45.0,
            45.0,
        )?;
        within(
            "view.tooth_centre_mm[0]",
            view.tooth_centre_mm[0],
            -40.0,
            40.0,
        )?;
        within(
            "view.tooth_centre_mm[1]",
            view.tooth_centre_mm[1],
            -40.0,
            40.0,
        )?;
        within("view.focal_spot_mm", view.focal_spot_mm, 0.0, 3.0)?;
        within(
            "view.quarter_turns",
            f64::from(view.quarter_turns),
            0.0,
            3.0,
        )?;
        let detector = &self.detector;
        within(
            "detector.width_px",
            f64::from(detector.width_px),
            16.0,
            8192.0,
        )?;
        within(
            "detector.height_px",
            f64::from(detector.height_px),
            16.0,
            8192.0,
        )?;
        within(
            "detector.pixel_pitch_mm[0]",
            detector.pixel_pitch_mm[0],
            0.005,
            0.5,
        )?;
        within(
            "detector.pixel_pitch_mm[1]",
            detector.pixel_pitch_mm[1],
            0.005,
            0.5,
        )?;
        within("detector.bits", f64::from(detector.bits), 8.0, 16.0)?;
        if let Some(photons) = detector.photons {
            within("detector.photons", photons, 10.0, 1e9)?;
        }
        within("detector.blur_mm", detector.blur_mm, 0.0, 0.5)?;
        within("detector.black_depth", detector.black_depth, -1.0, 5.0)?;
        within(
            "detector.white_depth",
            detector.white_depth,
            detector.black_depth + 0.1,
            20.0,
        )?;
        let look = &self.look;
        within("look.bone_contrast", look.bone_contrast, 0.0, 3.0)?;
        within("look.bone_density", look.bone_density, 0.1, 3.0)?;
        within("look.trabecula_mm", look.trabecula_mm, 0.3, 5.0)?;
        within(
            "look.crest_below_neck_mm",
            look.crest_below_neck_mm,
            0.0,
            10.0,
        )?;
        within("look.ligament_mm", look.ligament_mm, 0.05, 1.0)?;
        within("look.lamina_mm", look.lamina_mm, 0.05, 1.0)
    }

    /// Reference point → radiographic apex along the path, mm: the canal's
    /// path, then straight from the foramen to the apex.
    pub fn reference_to_apex_mm(&self) -> f64 {
        self.canal.path_length_mm() + super::anatomy::foramen_to_apex(self).norm()
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

    /// A plausible film of the given kind; equal seeds give equal films.
    pub fn random(kind: CanalKind, seed: u64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(kind as u64);
        let rng = &mut rng;
        let mut spec = Self {
            seed,
            kind,
            tooth: draw_tooth(rng),
            view: draw_view(rng),
            detector: draw_detector(rng),
            look: draw_look(rng),
            ..Self::default()
        };
        spec.canal = draw_canal(kind, &spec.tooth, rng);
        spec.file = chance(rng, 0.6).then(|| draw_file(rng));
        if spec.file.is_some() {
            // Dentists set files in half millimetres: short of, at or beyond.
            let aim = spec.reference_to_apex_mm() - rng.random_range(-1.5..3.0);
            if let Some(file) = &mut spec.file {
                file.set_length_mm = (aim * 2.0).round() / 2.0;
                file.operative_length_mm = [21.0, 25.0, 28.0, 31.0]
                    .into_iter()
                    .find(|l| *l > aim + 2.5)
                    .unwrap_or(31.0);
            }
        }
        spec.centre_on_film(rng);
        spec
    }

    /// Moves the tooth so that reference point and apex lie well inside.
    fn centre_on_film(&mut self, rng: &mut ChaCha8Rng) {
        let height_mm = f64::from(self.detector.height_px) * self.detector.pixel_pitch_mm[0];
        let tall_mm = self.reference_to_apex_mm() * 1.08;
        let spare_mm = (height_mm - tall_mm - 3.0).max(0.0);
        let shift = if self.tooth.shape == ToothShape::LowerMolar {
            2.0
        } else {
            0.0
        };
        let side = if self.tooth.mirrored { 1.0 } else { -1.0 };
        self.view.tooth_centre_mm = [
            side * shift + rng.random_range(-1.0..1.0),
            spare_mm * rng.random_range(-0.15..0.2),
        ];
    }
}

fn chance(rng: &mut ChaCha8Rng, probability: f64) -> bool {
    rng.random_range(0.0..1.0) < probability
}

fn sign(rng: &mut ChaCha8Rng) -> f64 {
    if chance(rng, 0.5) { 1.0 } else { -1.0 }
}

fn draw_tooth(rng: &mut ChaCha8Rng) -> ToothSpec {
    let shape = [
        ToothShape::Incisor,
        ToothShape::Canine,
        ToothShape::Premolar,
        ToothShape::LowerMolar,
        ToothShape::LowerMolar,
    ][rng.random_range(0..5)];
    // Crown height, width, neck width, depth, root depth over width; mm.
    let (fdi, canal, reference, [height, width, neck, depth, ratio]) = match shape {
        ToothShape::Incisor => ("41", "C", "incisal edge", [9.0, 5.6, 3.9, 5.8, 1.5]),
        ToothShape::Canine => ("43", "C", "cusp tip", [10.5, 7.0, 5.4, 7.6, 1.5]),
        ToothShape::Premolar => ("45", "C", "buccal cusp", [8.3, 7.2, 5.4, 8.2, 1.4]),
        ToothShape::LowerMolar => ("36", "MB", "MB cusp", [7.3, 11.0, 9.0, 10.0, 1.7]),
    };
    let scale = rng.random_range(0.93..1.07);
    let slim = scale * rng.random_range(0.95..1.05);
    ToothSpec {
        shape,
        fdi: fdi.into(),
        canal_name: canal.into(),
        reference_name: reference.into(),
        mirrored: chance(rng, 0.5),
        crown_height_mm: height * scale,
        crown_width_mm: width * slim,
        neck_width_mm: neck * slim,
        crown_depth_mm: depth * scale,
        root_depth_ratio: ratio * rng.random_range(0.9..1.1),
        // Together 0.1–0.75 mm, as large surveys of roots found: means 0.39
        // (anterior) to 0.82 (posterior), Martos 2009 (SEEN).
        apex_beyond_foramen_mm: rng.random_range(0.1..0.7),
        apex_aside_mm: rng.random_range(0.0..0.2),
        apex_side_deg: rng.random_range(0.0..360.0),
        neighbours: [chance(rng, 0.75), chance(rng, 0.75)],
        restoration: chance(rng, 0.25),
    }
}

fn draw_canal(kind: CanalKind, tooth: &ToothSpec, rng: &mut ChaCha8Rng) -> CanalSpec {
    let molar = tooth.shape == ToothShape::LowerMolar;
    let side = sign(rng);
    let plane = |rng: &mut ChaCha8Rng| rng.random_range(-25.0..25.0);
    let bend = |turn_deg: f64, radius_mm: f64, straight_after_mm: f64, plane_deg: f64| Bend {
        turn_deg,
        radius_mm,
        straight_after_mm,
        plane_deg,
    };
    let bends = match kind {
        CanalKind::Single => {
            let turn = side * rng.random_range(15.0..45.0);
            vec![bend(
                turn,
                rng.random_range(5.0..14.0),
                rng.random_range(0.3..2.5),
                plane(rng),
            )]
        }
        CanalKind::SShaped => {
            let first = side * rng.random_range(15.0..32.0);
            let second = -side * rng.random_range(15.0..35.0);
            vec![
                bend(
                    first,
                    rng.random_range(6.0..12.0),
                    rng.random_range(0.3..1.5),
                    plane(rng),
                ),
                bend(
                    second,
                    rng.random_range(4.5..9.0),
                    rng.random_range(0.3..1.5),
                    plane(rng),
                ),
            ]
        }
        CanalKind::NearlyStraight => {
            let turn = side * rng.random_range(1.0..8.0);
            vec![bend(
                turn,
                rng.random_range(25.0..60.0),
                rng.random_range(0.3..2.0),
                plane(rng),
            )]
        }
        CanalKind::LateBend => {
            let turn = side * rng.random_range(25.0..50.0);
            vec![bend(
                turn,
                rng.random_range(1.8..3.5),
                rng.random_range(0.5..1.3),
                plane(rng),
            )]
        }
    };
    let orifice_below_neck = if molar {
        rng.random_range(0.8..2.2)
    } else {
        rng.random_range(-0.5..1.0)
    };
    let reference_to_orifice_mm = tooth.crown_height_mm + orifice_below_neck;
    // Root lengths of 12–16 mm from the neck, as published means show.
    let root_mm = rng.random_range(12.0..15.5);
    let curved: f64 = bends
        .iter()
        .map(|b| b.turn_deg.to_radians().abs() * b.radius_mm + b.straight_after_mm)
        .sum();
    CanalSpec {
        reference_to_orifice_mm,
        straight_mm: (root_mm - orifice_below_neck - curved).max(2.0),
        bends,
        orifice_width_mm: rng.random_range(0.6..1.2),
        foramen_width_mm: rng.random_range(0.2..0.4),
        depth_ratio: rng.random_range(1.0..1.8),
        calcified_apical_mm: if chance(rng, 0.25) {
            rng.random_range(2.0..4.5)
        } else {
            0.0
        },
    }
}

fn draw_file(rng: &mut ChaCha8Rng) -> FileSpec {
    FileSpec {
        size: [10, 15, 15, 20, 20, 25, 30][rng.random_range(0..7)],
        stop_diameter_mm: rng.random_range(2.2..3.2),
        stop_thickness_mm: rng.random_range(1.0..1.5),
        ..FileSpec::default()
    }
}

fn draw_view(rng: &mut ChaCha8Rng) -> ViewSpec {
    ViewSpec {
        source_to_detector_mm: rng.random_range(200.0..400.0),
        object_to_detector_mm: rng.random_range(6.0..18.0),
        lean_deg: rng.random_range(-8.0..8.0),
        inclination_deg: rng.random_range(-10.0..10.0),
        detector_tilt_deg: rng.random_range(-4.0..4.0),
        focal_spot_mm: [0.4, 0.7][rng.random_range(0..2)],
        quarter_turns: if chance(rng, 0.3) { 2 } else { 0 },
        ..ViewSpec::default()
    }
}

fn draw_detector(rng: &mut ChaCha8Rng) -> DetectorSpec {
    let pitch = [0.0195, 0.02, 0.025, 0.03, 0.04][rng.random_range(0..5)];
    let active_mm = [[26.0, 35.0], [30.0, 40.0]][rng.random_range(0..2)];
    DetectorSpec {
        width_px: (active_mm[0] / pitch) as u32,
        height_px: (active_mm[1] / pitch) as u32,
        pixel_pitch_mm: [pitch, pitch],
        bits: [12, 16, 16][rng.random_range(0..3)],
        // Quanta per area, so that a coarse pitch is no noisier for its size.
        photons: Some(rng.random_range(9000.0..30000.0) * (pitch / 0.02) * (pitch / 0.02)),
        blur_mm: rng.random_range(0.018..0.04),
        black_depth: rng.random_range(0.05..0.2),
        white_depth: rng.random_range(2.4..3.1),
    }
}

fn draw_look(rng: &mut ChaCha8Rng) -> Appearance {
    Appearance {
        bone_seed: rng.random(),
        bone_contrast: rng.random_range(0.7..1.3),
        bone_density: rng.random_range(0.8..1.2),
        trabecula_mm: rng.random_range(1.1..2.1),
        crest_below_neck_mm: rng.random_range(1.0..3.0),
        ligament_mm: rng.random_range(0.16..0.32),
        lamina_mm: rng.random_range(0.2..0.4),
        jaw_canal: chance(rng, 0.35),
    }
}
