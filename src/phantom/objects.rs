//! Files and scale objects as solids.

use nalgebra::Vector3;

use super::clutter::{StopSpec, stop_solids};
use super::parts::FileSpec;
use super::second::PlacedPath;
use super::solid::{Form, Solid};
use super::spec::PhantomSpec;
use super::tube::Section;

/// Attenuation of steel, 1/mm.
pub(super) const STEEL_PER_MM: f32 = 1.7;
/// Attenuation of a handle, 1/mm.
const HANDLE_PER_MM: f32 = 0.045;
/// Spacing of sections along a file, mm.
const FILE_STEP_MM: f64 = 0.05;
/// Half of the tip angle of 75° (ISO 3630-1, MEM-H).
const HALF_TIP_ANGLE_DEG: f64 = 37.5;

/// The file along the canal from its tip to the end of its shaft.
pub(super) fn file_sections(file: &FileSpec, path: &PlacedPath) -> Vec<Section> {
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
pub(super) fn file_solids(file: &FileSpec, stop: &StopSpec, path: &PlacedPath) -> Vec<Solid> {
    let coronal = -path.direction(0.0);
    let mut solids = stop_solids(stop, file, path.point(0.0), coronal);
    if file.handle {
        let start = path.point(file.set_length_mm - file.operative_length_mm);
        let core = f64::from(file.size) / 200.0 + 8.0 * file.taper;
        for (length_mm, radius_mm, attenuation) in
            [(11.0, 1.9, HANDLE_PER_MM), (8.0, core, STEEL_PER_MM)]
        {
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
                attenuation_per_mm: f64::from(HANDLE_PER_MM),
            });
        }
    }
    solids
}

pub(super) fn scale_solids(spec: &PhantomSpec) -> Vec<Solid> {
    let steel = f64::from(STEEL_PER_MM);
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
