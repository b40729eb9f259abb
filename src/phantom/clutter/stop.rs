//! Rubber stops of several forms, opacities and tilts.

use nalgebra::{Rotation3, Unit, Vector3};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::phantom::parts::FileSpec;
use crate::phantom::solid::{Form, Solid};

/// Forms of stop.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum StopForm {
    /// A disc.
    #[default]
    Disc,
    /// A disc whose rim is narrower towards the handle.
    Stepped,
    /// A disc with a pointer to one side.
    Pointed,
    /// Thick in the middle, thin at both faces.
    Barrel,
    /// Narrower step by step towards the handle.
    Cone,
    /// Narrow between two rims.
    Waisted,
}

/// How the stops of a film look.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct StopSpec {
    /// Their form.
    pub form: StopForm,
    /// Attenuation, 1/mm.
    pub attenuation_per_mm: f64,
    /// Tilt of the tooth-side face against a plane square to the file, degrees.
    pub tilt_deg: f64,
    /// Direction of the tilt about the file, degrees; 0 tilts in the mid-plane.
    pub tilt_side_deg: f64,
}

impl Default for StopSpec {
    fn default() -> Self {
        Self {
            form: StopForm::Disc,
            // Written as single precision, as all other coefficients are.
            attenuation_per_mm: f64::from(0.17f32),
            tilt_deg: 0.0,
            tilt_side_deg: 0.0,
        }
    }
}

/// The stop of `file` whose tooth-side face has its centre at `face`;
/// `coronal` is the file's direction away from the tip.
pub(in crate::phantom) fn stop_solids(
    stop: &StopSpec,
    file: &FileSpec,
    face: Vector3<f64>,
    coronal: Vector3<f64>,
) -> Vec<Solid> {
    let hinge = Rotation3::from_axis_angle(
        &Unit::new_normalize(coronal),
        stop.tilt_side_deg.to_radians(),
    ) * Vector3::z();
    let axis = if stop.tilt_deg == 0.0 {
        coronal
    } else {
        Rotation3::from_axis_angle(&Unit::new_normalize(hinge), stop.tilt_deg.to_radians())
            * coronal
    };
    let disc = |from_mm: f64, length_mm: f64, radius_mm: f64, aside: Vector3<f64>| Solid {
        form: Form::Cylinder {
            start: face + axis * from_mm + aside,
            axis,
            length_mm,
            radius_mm,
        },
        attenuation_per_mm: stop.attenuation_per_mm,
    };
    let (thick, radius) = (file.stop_thickness_mm, file.stop_diameter_mm / 2.0);
    let none = Vector3::zeros();
    match stop.form {
        StopForm::Disc => vec![disc(0.0, thick, radius, none)],
        StopForm::Stepped => vec![
            disc(0.0, 0.6 * thick, radius, none),
            disc(0.6 * thick, 0.4 * thick, 0.7 * radius, none),
        ],
        StopForm::Pointed => {
            let side = axis.cross(&hinge).normalize();
            vec![
                disc(0.0, thick, 0.88 * radius, none),
                disc(0.0, thick, 0.45 * radius, side * (0.95 * radius)),
            ]
        }
        StopForm::Barrel => vec![
            disc(0.0, 0.25 * thick, 0.8 * radius, none),
            disc(0.25 * thick, 0.5 * thick, radius, none),
            disc(0.75 * thick, 0.25 * thick, 0.8 * radius, none),
        ],
        StopForm::Cone => (0..4)
            .map(|step| {
                let step = f64::from(step);
                disc(
                    0.25 * step * thick,
                    0.25 * thick,
                    (1.0 - 0.14 * step) * radius,
                    none,
                )
            })
            .collect(),
        StopForm::Waisted => vec![
            disc(0.0, 0.3 * thick, radius, none),
            disc(0.3 * thick, 0.4 * thick, 0.75 * radius, none),
            disc(0.7 * thick, 0.3 * thick, radius, none),
        ],
    }
}
