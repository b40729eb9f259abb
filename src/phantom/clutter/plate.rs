//! What of the plate was exposed: round corners, a collimator's cut, a clip.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A part of the plate that no radiation reached.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Unexposed {
    /// Outside a circle: a round collimator set beside the plate.
    Circle {
        /// Centre from the plate's middle, shares of its width and height.
        centre: [f64; 2],
        /// Radius, mm.
        radius_mm: f64,
    },
    /// Beyond a straight line.
    Edge {
        /// Direction of the line's normal, degrees clockwise from +x.
        normal_deg: f64,
        /// Distance of the line from the plate's corner in that direction, mm.
        depth_mm: f64,
        /// Unevenness of the line, mm.
        wave_mm: f64,
    },
}

/// The plate.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct PlateSpec {
    /// Radius of its round corners, mm; beyond them the reader sees nothing.
    pub corner_mm: f64,
    /// Width of the frame around the plate, mm.
    pub frame_mm: f64,
    /// Beyond the plate the picture is black; else white.
    pub dark_frame: bool,
    /// What was not exposed.
    pub unexposed: Vec<Unexposed>,
}

/// Which pixels the plate shows; raster before quarter turns.
#[derive(Clone, Debug)]
pub(in crate::phantom) struct ExposedArea {
    plate: PlateSpec,
    size_mm: [f64; 2],
    pitch_mm: [f64; 2],
}

impl ExposedArea {
    /// `size_px` columns and rows, `pitch_mm` `[row, column]`.
    pub fn new(plate: &PlateSpec, size_px: [u32; 2], pitch_mm: [f64; 2]) -> Self {
        Self {
            plate: plate.clone(),
            size_mm: [
                f64::from(size_px[0]) * pitch_mm[1],
                f64::from(size_px[1]) * pitch_mm[0],
            ],
            pitch_mm,
        }
    }

    /// Everything shows.
    pub fn is_whole(&self) -> bool {
        self.plate == PlateSpec::default()
    }

    /// How far inside the exposed area a raster place lies, mm; negative
    /// outside it.
    pub fn depth_mm(&self, x_px: f64, y_px: f64) -> f64 {
        let [width, height] = self.size_mm;
        let (x, y) = (x_px * self.pitch_mm[1], y_px * self.pitch_mm[0]);
        let frame = self.plate.frame_mm;
        let mut depth = (x - frame)
            .min(width - frame - x)
            .min(y - frame)
            .min(height - frame - y);
        let corner = self.plate.corner_mm;
        let (to_x, to_y) = (
            frame + corner - x.min(width - x),
            frame + corner - y.min(height - y),
        );
        if to_x > 0.0 && to_y > 0.0 {
            depth = depth.min(corner - to_x.hypot(to_y));
        }
        for part in &self.plate.unexposed {
            depth = depth.min(match *part {
                Unexposed::Circle { centre, radius_mm } => {
                    let dx = x - width * (0.5 + centre[0]);
                    let dy = y - height * (0.5 + centre[1]);
                    radius_mm - dx.hypot(dy)
                }
                Unexposed::Edge {
                    normal_deg,
                    depth_mm,
                    wave_mm,
                } => {
                    let (sin, cos) = normal_deg.to_radians().sin_cos();
                    let far = 0.5 * (width * cos.abs() + height * sin.abs()) - depth_mm;
                    let (u, v) = (x - 0.5 * width, y - 0.5 * height);
                    let along = v * cos - u * sin;
                    let wave = wave_mm * ((along * 0.9).sin() + 0.5 * (along * 2.3).sin());
                    far + wave - (u * cos + v * sin)
                }
            });
        }
        depth
    }
}
