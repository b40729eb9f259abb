//! The films of `sample-images`, and the demo that is built in.
//!
//! The demo is a training scenario without any person in it: on a phantom
//! lower first molar the length file in the mesial canal stands 1.2 mm short
//! of the radiographic apex.

use std::path::Path;

use super::clutter::{ClampForm, ClampSpec, Clutter};
use super::error::PhantomError;
use super::parts::{
    Appearance, Bend, CanalKind, CanalSpec, DetectorSpec, FileSpec, RulerSpec, ToothShape,
    ToothSpec, ViewSpec,
};
use super::spec::PhantomSpec;
use super::truth::Truth;
use crate::case::Case;
use crate::film::{OpenLimits, OpenedFilm, open_bytes};

const DEMO_FILM: &[u8] = include_bytes!("../../sample-images/molar-36-short.png");
const DEMO_CASE: &[u8] = include_bytes!("../../sample-images/molar-36-short.case.json");
const DEMO_TRUTH: &[u8] = include_bytes!("../../sample-images/molar-36-short.truth.json");

/// The built-in demo.
#[derive(Clone, Debug)]
pub struct Demo {
    /// Case with noisy clicks; its film's path is relative to `sample-images`.
    pub case: Case,
    /// The film.
    pub film: OpenedFilm,
    /// What is true of it.
    pub truth: Truth,
}

/// The demo, decoded from the program itself: no file is needed.
///
/// # Errors
/// Only when the program was built with damaged sample images.
pub fn demo() -> Result<Demo, PhantomError> {
    let limits = OpenLimits::default();
    Ok(Demo {
        case: serde_json::from_slice(DEMO_CASE)?,
        film: open_bytes(Path::new("molar-36-short.png"), DEMO_FILM, &limits)?,
        truth: serde_json::from_slice(DEMO_TRUTH)?,
    })
}

fn sample_detector(pitch_mm: f64) -> DetectorSpec {
    // The active area of a middle-sized sensor, 26 mm × 36 mm.
    DetectorSpec {
        width_px: (26.0 / pitch_mm) as u32,
        height_px: (36.0 / pitch_mm) as u32,
        pixel_pitch_mm: [pitch_mm; 2],
        bits: 12,
        photons: Some(50_000.0),
        ..DetectorSpec::default()
    }
}

/// The same film with the straight part of its canal so long that reference
/// point → apex is `length_mm`.
fn with_length(mut spec: PhantomSpec, length_mm: f64) -> PhantomSpec {
    spec.canal.straight_mm += length_mm - spec.reference_to_apex_mm();
    spec
}

fn bend(turn_deg: f64, radius_mm: f64, straight_after_mm: f64, plane_deg: f64) -> Bend {
    Bend {
        turn_deg,
        radius_mm,
        straight_after_mm,
        plane_deg,
    }
}

/// The films of `sample-images` by name; a name that ends in `-dicom` stands
/// for a DICOM file, the others for PNG.
pub fn samples() -> Vec<(&'static str, PhantomSpec)> {
    vec![
        ("molar-36-short", molar_short()),
        ("premolar-35-s-bend", premolar_s_bend()),
        ("incisor-12-late-bend", incisor_late_bend()),
        ("molar-46-beyond", molar_beyond()),
        ("canine-43-dicom", canine_with_ruler()),
        ("premolar-45-clamp", premolar_with_clamp()),
    ]
}

/// Lower first molar, mesial canal, file of 20 mm 1.2 mm short.
fn molar_short() -> PhantomSpec {
    let spec = PhantomSpec {
        seed: 36,
        kind: CanalKind::Single,
        canal: CanalSpec {
            reference_to_orifice_mm: 9.1,
            bends: vec![bend(-31.0, 11.0, 1.1, 12.0)],
            ..CanalSpec::default()
        },
        file: Some(FileSpec {
            size: 20,
            set_length_mm: 20.0,
            ..FileSpec::default()
        }),
        view: ViewSpec {
            inclination_deg: 4.0,
            lean_deg: 3.0,
            tooth_centre_mm: [-2.4, 1.6],
            ..ViewSpec::default()
        },
        detector: sample_detector(0.033),
        look: Appearance {
            bone_seed: 36,
            jaw_canal: true,
            ..Appearance::default()
        },
        ..PhantomSpec::default()
    };
    with_length(spec, 21.2)
}

/// Lower second premolar, two curves, file half a millimetre short.
fn premolar_s_bend() -> PhantomSpec {
    let spec = PhantomSpec {
        seed: 35,
        kind: CanalKind::SShaped,
        canal: CanalSpec {
            reference_to_orifice_mm: 8.6,
            bends: vec![bend(26.0, 9.0, 0.8, 0.0), bend(-30.0, 6.5, 0.8, 10.0)],
            orifice_width_mm: 0.8,
            ..CanalSpec::default()
        },
        tooth: ToothSpec {
            shape: ToothShape::Premolar,
            fdi: "35".into(),
            canal_name: "B".into(),
            reference_name: "buccal cusp".into(),
            crown_height_mm: 8.3,
            crown_width_mm: 7.2,
            neck_width_mm: 5.5,
            crown_depth_mm: 8.2,
            root_depth_ratio: 1.4,
            apex_aside_mm: 0.0,
            ..ToothSpec::default()
        },
        file: Some(FileSpec {
            size: 15,
            set_length_mm: 22.0,
            ..FileSpec::default()
        }),
        view: ViewSpec {
            inclination_deg: -5.0,
            lean_deg: -2.0,
            tooth_centre_mm: [0.5, 1.6],
            ..ViewSpec::default()
        },
        detector: sample_detector(0.033),
        look: Appearance {
            bone_seed: 351,
            ..Appearance::default()
        },
        ..PhantomSpec::default()
    };
    with_length(spec, 22.5)
}

/// Lower second premolar under a rubber-dam clamp; the film ends below the
/// file's stop.
fn premolar_with_clamp() -> PhantomSpec {
    let plain = premolar_s_bend();
    let spec = PhantomSpec {
        seed: 45,
        kind: CanalKind::Single,
        canal: CanalSpec {
            bends: vec![bend(18.0, 12.0, 0.8, 0.0)],
            ..plain.canal
        },
        tooth: ToothSpec {
            fdi: "45".into(),
            ..plain.tooth
        },
        view: ViewSpec {
            inclination_deg: 3.0,
            lean_deg: 2.0,
            tooth_centre_mm: [0.0, -9.0],
            ..ViewSpec::default()
        },
        clutter: Clutter {
            clamp: Some(ClampSpec {
                form: ClampForm::WingsAndBow,
                size: 1.0,
                sheet_depth: 1.0,
                wire_mm: 0.6,
                shift_mm: [0.0, 0.3],
                turn_deg: 4.0,
            }),
            ..Clutter::default()
        },
        look: Appearance {
            bone_seed: 451,
            ..Appearance::default()
        },
        ..plain
    };
    with_length(spec, 22.0)
}

/// Upper lateral incisor whose canal turns sharply near its end; no file.
fn incisor_late_bend() -> PhantomSpec {
    let spec = PhantomSpec {
        seed: 12,
        kind: CanalKind::LateBend,
        canal: CanalSpec {
            reference_to_orifice_mm: 9.6,
            bends: vec![bend(38.0, 2.8, 0.9, -8.0)],
            orifice_width_mm: 1.0,
            foramen_width_mm: 0.35,
            ..CanalSpec::default()
        },
        tooth: ToothSpec {
            shape: ToothShape::Incisor,
            fdi: "12".into(),
            canal_name: "C".into(),
            reference_name: "incisal edge".into(),
            crown_height_mm: 9.2,
            crown_width_mm: 6.4,
            neck_width_mm: 4.7,
            crown_depth_mm: 6.2,
            root_depth_ratio: 1.3,
            apex_beyond_foramen_mm: 0.3,
            ..ToothSpec::default()
        },
        file: None,
        view: ViewSpec {
            source_to_detector_mm: 250.0,
            object_to_detector_mm: 10.0,
            inclination_deg: 6.0,
            lean_deg: 5.0,
            tooth_centre_mm: [0.0, 0.5],
            quarter_turns: 2,
            ..ViewSpec::default()
        },
        detector: sample_detector(0.033),
        look: Appearance {
            bone_seed: 12,
            bone_contrast: 0.8,
            bone_density: 0.85,
            ..Appearance::default()
        },
        ..PhantomSpec::default()
    };
    with_length(spec, 22.8)
}

/// Lower right first molar, file 0.8 mm beyond the apex.
fn molar_beyond() -> PhantomSpec {
    let spec = PhantomSpec {
        seed: 46,
        kind: CanalKind::Single,
        canal: CanalSpec {
            reference_to_orifice_mm: 8.8,
            bends: vec![bend(22.0, 13.0, 1.5, -10.0)],
            ..CanalSpec::default()
        },
        tooth: ToothSpec {
            fdi: "46".into(),
            mirrored: true,
            restoration: true,
            ..ToothSpec::default()
        },
        file: Some(FileSpec {
            size: 15,
            set_length_mm: 21.0,
            ..FileSpec::default()
        }),
        view: ViewSpec {
            source_to_detector_mm: 220.0,
            object_to_detector_mm: 14.0,
            inclination_deg: -3.0,
            tooth_centre_mm: [2.4, 1.6],
            ..ViewSpec::default()
        },
        detector: sample_detector(0.033),
        look: Appearance {
            bone_seed: 46,
            trabecula_mm: 1.2,
            ..Appearance::default()
        },
        ..PhantomSpec::default()
    };
    with_length(spec, 20.2)
}

/// Lower canine, nearly straight, with a ruler and DICOM's own scale.
fn canine_with_ruler() -> PhantomSpec {
    let spec = PhantomSpec {
        seed: 43,
        kind: CanalKind::NearlyStraight,
        canal: CanalSpec {
            reference_to_orifice_mm: 10.4,
            bends: vec![bend(-6.0, 40.0, 1.0, 0.0)],
            orifice_width_mm: 1.0,
            foramen_width_mm: 0.32,
            calcified_apical_mm: 3.0,
            ..CanalSpec::default()
        },
        tooth: ToothSpec {
            shape: ToothShape::Canine,
            fdi: "43".into(),
            canal_name: "C".into(),
            reference_name: "cusp tip".into(),
            crown_height_mm: 10.2,
            crown_width_mm: 7.0,
            neck_width_mm: 5.5,
            crown_depth_mm: 7.6,
            root_depth_ratio: 1.4,
            ..ToothSpec::default()
        },
        file: None,
        ruler: Some(RulerSpec {
            divisions: 10,
            start_mm: [10.5, 14.0],
        }),
        view: ViewSpec {
            tooth_centre_mm: [0.0, 0.5],
            ..ViewSpec::default()
        },
        detector: sample_detector(0.04),
        look: Appearance {
            bone_seed: 43,
            ..Appearance::default()
        },
        ..PhantomSpec::default()
    };
    with_length(spec, 25.4)
}
