//! Rubber-dam clamps: bars, bows, arms and plates with holes about the neck
//! of the treated tooth, and across the file in it.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::shadow::{Shadow, arc, moved};

/// Forms of clamp.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ClampForm {
    /// Wings with a hole on both sides, one bow over the crown.
    WingsAndBow,
    /// Jaws along the neck and a loop to one side, no wings.
    JawsAndLoop,
    /// Two bows one behind the other and a plate.
    DoubleBow,
    /// A bar straight across the crown with arms down its sides.
    BarAndArms,
    /// A wide frame with a plate of two holes.
    FrameAndPlate,
}

/// A clamp on the treated tooth.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ClampSpec {
    /// Its form.
    pub form: ClampForm,
    /// Size against a usual one.
    pub size: f64,
    /// Optical depth of its sheets; its wires are of steel.
    pub sheet_depth: f64,
    /// Radius of its wires, mm.
    pub wire_mm: f64,
    /// Shift from the middle of the neck, mm.
    pub shift_mm: [f64; 2],
    /// Turn, degrees, clockwise.
    pub turn_deg: f64,
}

/// Attenuation of the wires, 1/mm: steel, as the files.
const STEEL_PER_MM: f32 = 1.7;
/// Width over which stamped sheets thin out at their rim, mm.
const RIM_MM: f32 = 0.15;

/// The shadows of a clamp on a crown with the middle `middle_x`, the half
/// width `half` and the neck at `neck_y`, mid-plane, mm.
pub(in crate::phantom) fn clamp_shadows(
    clamp: &ClampSpec,
    middle_x: f32,
    half: f32,
    neck_y: f32,
) -> Vec<Shadow> {
    let size = clamp.size as f32;
    let wire_mm = clamp.wire_mm as f32;
    let depth = clamp.sheet_depth as f32;
    let pivot = [middle_x, neck_y];
    let place = |points: Vec<[f32; 2]>| {
        let scaled = points
            .into_iter()
            .map(|[x, y]| [middle_x + x * size, neck_y + y * size])
            .collect();
        let shift = clamp.shift_mm.map(|s| s as f32);
        moved(scaled, pivot, clamp.turn_deg as f32, shift)
    };
    let wire =
        |line: Vec<[f32; 2]>, thick: f32| Shadow::wire(place(line), wire_mm * thick, STEEL_PER_MM);
    let sheet = |outline: Vec<[f32; 2]>, holes: Vec<([f32; 2], [f32; 2])>| {
        let holes = holes
            .into_iter()
            .map(|(centre, radii)| (place(vec![centre])[0], radii.map(|r| r * size)))
            .collect();
        Shadow::sheet(place(outline), holes, depth, RIM_MM)
    };
    // Half of the tooth's width in the clamp's own measure.
    let h = half / size;
    let wing = |side: f32| {
        let x = |t: f32| side * (h * 0.75 + t);
        sheet(
            vec![
                [x(0.0), -1.4],
                [x(2.6), -1.9],
                [x(4.4), -0.9],
                [x(4.4), 1.0],
                [x(2.4), 1.9],
                [x(0.4), 1.2],
                [x(-0.9), 1.5],
                [x(-0.6), 0.4],
            ],
            vec![([x(2.4), 0.0], [0.95, 0.8])],
        )
    };
    match clamp.form {
        ClampForm::WingsAndBow => vec![
            wing(-1.0),
            wing(1.0),
            wire(arc([0.4, -1.0], [h * 0.75 + 2.4, 5.2], 180.0, 360.0), 1.0),
        ],
        ClampForm::JawsAndLoop => vec![
            wire(
                vec![
                    [-h * 1.05, -0.6],
                    [-h * 0.4, 0.3],
                    [h * 0.4, 0.3],
                    [h * 1.05, -0.6],
                ],
                1.1,
            ),
            wire(
                vec![
                    [-h * 1.05, 0.9],
                    [-h * 0.5, 1.6],
                    [h * 0.5, 1.5],
                    [h * 1.05, 0.8],
                ],
                0.8,
            ),
            wire(arc([h * 0.9, -2.4], [h * 0.8, 3.4], 80.0, 290.0), 1.0),
        ],
        ClampForm::DoubleBow => vec![
            wire(arc([0.0, -0.6], [h * 0.8 + 1.2, 4.0], 175.0, 365.0), 0.9),
            wire(arc([1.2, -0.2], [h * 0.8 + 2.2, 6.4], 180.0, 360.0), 0.9),
            sheet(
                vec![
                    [-h * 0.9, -0.5],
                    [h * 0.9, -0.7],
                    [h * 1.2, 0.7],
                    [h * 0.3, 1.3],
                    [-h * 0.4, 1.2],
                    [-h * 1.2, 0.6],
                ],
                Vec::new(),
            ),
        ],
        ClampForm::BarAndArms => vec![
            sheet(
                vec![
                    [-h * 1.3 - 2.0, -4.3],
                    [h * 1.3 + 2.0, -3.4],
                    [h * 1.3 + 2.0, -2.0],
                    [-h * 1.3 - 2.0, -2.9],
                ],
                Vec::new(),
            ),
            wire(
                vec![[-h * 1.15, -3.4], [-h * 1.25, 0.0], [-h * 0.6, 1.3]],
                0.9,
            ),
            wire(vec![[h * 1.15, -2.6], [h * 1.25, 0.2], [h * 0.6, 1.6]], 0.9),
        ],
        ClampForm::FrameAndPlate => {
            let mut shadows = vec![
                wire(arc([0.0, -6.0], [h + 6.5, 9.5], 10.0, 170.0), 1.2),
                sheet(
                    vec![
                        [-h * 0.7 - 1.5, -3.2],
                        [h * 0.7 + 1.5, -3.6],
                        [h * 0.7 + 1.9, 0.4],
                        [h * 0.35, 1.1],
                        [0.0, -0.2],
                        [-h * 0.35, 1.2],
                        [-h * 0.7 - 1.9, 0.6],
                    ],
                    vec![
                        ([-h * 0.6, -1.5], [1.0, 1.0]),
                        ([h * 0.6, -1.7], [1.0, 1.0]),
                    ],
                ),
            ];
            shadows.push(wire(vec![[-h - 3.0, -3.0], [-h - 1.0, 0.4]], 0.8));
            shadows
        }
    }
}
