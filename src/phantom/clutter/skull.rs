//! The zygoma and the floor of the sinus over the apices of upper teeth.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::shadow::{Shadow, arc, moved};

/// A zygoma above upper molars.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ZygomaSpec {
    /// Its lowest point from the apex, mm; positive lies beyond the apex.
    pub beyond_apex_mm: f64,
    /// Shift across, mm.
    pub aside_mm: f64,
    /// Optical depth.
    pub depth: f64,
    /// Turn, degrees.
    pub turn_deg: f64,
}

/// The body of the zygoma, its cortical rim, and the line of the sinus floor.
pub(in crate::phantom) fn zygoma_shadows(zygoma: &ZygomaSpec, apex_y: f32) -> Vec<Shadow> {
    let (depth, turn_deg) = (zygoma.depth as f32, zygoma.turn_deg as f32);
    let shift = [
        zygoma.aside_mm as f32,
        apex_y + zygoma.beyond_apex_mm as f32,
    ];
    let place = |points: Vec<[f32; 2]>| moved(points, [0.0, 0.0], turn_deg, shift);
    let rim = arc([0.0, 9.0], [7.5, 9.0], 180.0, 360.0);
    let mut body = rim.clone();
    body.extend([[7.5, 30.0], [-7.5, 30.0]]);
    let floor = vec![
        [-25.0, 1.0],
        [-12.0, -1.2],
        [-4.0, -0.4],
        [4.0, -1.6],
        [13.0, -0.8],
        [25.0, 1.5],
    ];
    vec![
        Shadow::sheet(place(body), Vec::new(), depth, 2.0),
        Shadow::wire(place(rim), 0.7, 0.35 * depth),
        Shadow::wire(place(floor), 0.35, 0.25),
    ]
}
