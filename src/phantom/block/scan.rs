//! A block laid on a flatbed scanner: turned and shifted, without perspective.

use kurbo::Point;
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use serde::{Deserialize, Serialize};

use super::look::Look;
use super::photo::View;
use super::spec::FACE_MM;
use crate::flatten::Homography;
use crate::units::FilmPoint;

/// Room around the block's face, px.
const MARGIN_PX: f64 = 70.0;

/// How the face of a block lies on a scan.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Scan {
    pub px_per_mm: f64,
    /// Turn of the face on the scan, clockwise positive.
    pub turn_rad: f64,
    /// Where the face's top left corner lies, px.
    pub shift_px: [f64; 2],
}

impl Scan {
    /// A scan of some 40 px per mm, a little turned.
    pub fn random(rng: &mut ChaCha8Rng) -> Self {
        let turn_rad: f64 = rng.random_range(-0.05..0.05);
        let px_per_mm = rng.random_range(36.0..44.0);
        let [w, h] = FACE_MM;
        // What turning takes beyond the upright face on the left or at the top.
        let left = px_per_mm * h * turn_rad.sin().max(0.0);
        let top = px_per_mm * w * (-turn_rad).sin().max(0.0);
        Self {
            px_per_mm,
            turn_rad,
            shift_px: [MARGIN_PX + left, MARGIN_PX + top],
        }
    }

    /// Where a place of the face lies on the scan.
    pub fn px(&self, p: Point) -> FilmPoint {
        let (sin, cos) = self.turn_rad.sin_cos();
        FilmPoint::new(
            self.shift_px[0] + self.px_per_mm * (cos * p.x - sin * p.y),
            self.shift_px[1] + self.px_per_mm * (sin * p.x + cos * p.y),
        )
    }

    /// The view of a picture that holds the whole face; noise drawn from `seed`.
    pub fn view(&self, seed: u64) -> View {
        let [w, h] = FACE_MM;
        let corners = [[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]];
        let seen = corners.map(|[x, y]| {
            let p = self.px(Point::new(x, y));
            [p.x, p.y]
        });
        let farthest = |axis: usize| seen.iter().map(|p| p[axis]).fold(0.0, f64::max);
        View {
            size_px: [0, 1].map(|axis| (farthest(axis) + MARGIN_PX).ceil() as u32),
            photo_from_block: Homography::from_corners(corners, seen)
                .expect("a turned rectangle is a quadrilateral"),
            blur_px: 1.1,
            noise: 2.5,
            look: Look::default(),
            seed,
        }
    }
}
