//! Point source, tooth and detector: where a point of the tooth shows.
//!
//! World frame, mm: the central ray meets the detector at the origin; x runs
//! along the rows, z to the source, y down the film. The detector may be
//! tilted about x, the tooth is turned by its lean (about x), inclination
//! (about z) and turn (about y) around its centre, which lies
//! `object_to_detector_mm` above the origin. A shifted tube moves the source
//! along x.

use nalgebra::{Rotation3, Vector3};

use super::parts::{DetectorSpec, ViewSpec};
use crate::units::FilmPoint;

/// One exposure, with the tooth frame as the frame of reference.
#[derive(Clone, Debug)]
pub(super) struct Projection {
    /// Source in the tooth frame.
    pub source: Vector3<f64>,
    /// Outer corner of the first pixel in the tooth frame.
    corner: Vector3<f64>,
    /// One column and one row further, tooth frame.
    column_step: Vector3<f64>,
    row_step: Vector3<f64>,
    /// Detector's unit normal in the tooth frame.
    normal: Vector3<f64>,
    width_px: f64,
    height_px: f64,
    quarter_turns: u8,
}

impl Projection {
    /// `centre` is the tooth's centre in the tooth frame.
    pub fn new(view: &ViewSpec, detector: &DetectorSpec, centre: Vector3<f64>) -> Self {
        let tooth_from_world =
            (Rotation3::from_axis_angle(&Vector3::y_axis(), view.turn_deg.to_radians())
                * Rotation3::from_axis_angle(
                    &Vector3::z_axis(),
                    view.inclination_deg.to_radians(),
                )
                * Rotation3::from_axis_angle(&Vector3::x_axis(), view.lean_deg.to_radians()))
            .inverse();
        let [x, y] = view.tooth_centre_mm;
        let centre_world = Vector3::new(x, y, view.object_to_detector_mm);
        let to_tooth = |world: Vector3<f64>| tooth_from_world * (world - centre_world) + centre;
        let (sin, cos) = view.detector_tilt_deg.to_radians().sin_cos();
        let [row_pitch, column_pitch] = detector.pixel_pitch_mm;
        let across = Vector3::x() * column_pitch;
        let down = Vector3::new(0.0, cos, sin) * row_pitch;
        let (width_px, height_px) = (f64::from(detector.width_px), f64::from(detector.height_px));
        let source_to_tooth_mm = view.source_to_detector_mm - view.object_to_detector_mm;
        let source_aside_mm = -source_to_tooth_mm * view.tube_shift_deg.to_radians().tan();
        Self {
            source: to_tooth(Vector3::new(
                source_aside_mm,
                0.0,
                view.source_to_detector_mm,
            )),
            corner: to_tooth(-(across * width_px + down * height_px) / 2.0),
            column_step: tooth_from_world * across,
            row_step: tooth_from_world * down,
            normal: tooth_from_world * Vector3::new(0.0, -sin, cos),
            width_px,
            height_px,
            quarter_turns: view.quarter_turns,
        }
    }

    /// Magnification of a small object at `point` that lies parallel to the
    /// detector: detector distance over object distance, along the normal.
    pub fn magnification(&self, point: Vector3<f64>) -> f64 {
        let reach = |p: Vector3<f64>| (self.source - p).dot(&self.normal);
        reach(self.corner) / reach(point)
    }

    /// Largest number of px a mm at `point` may cover.
    pub fn px_per_mm(&self, point: Vector3<f64>) -> f64 {
        self.magnification(point) / self.column_step.norm().min(self.row_step.norm())
    }

    /// Shadow of `point` on the raster before quarter turns, px.
    pub fn raster_px(&self, point: Vector3<f64>) -> FilmPoint {
        let shadow = self.source + (point - self.source) * self.magnification(point);
        let offset = shadow - self.corner;
        FilmPoint::new(
            offset.dot(&self.column_step) / self.column_step.norm_squared(),
            offset.dot(&self.row_step) / self.row_step.norm_squared(),
        )
    }

    /// Shadow of `point` on the finished film, px.
    pub fn film_px(&self, point: Vector3<f64>) -> FilmPoint {
        let p = self.raster_px(point);
        match self.quarter_turns {
            0 => p,
            1 => FilmPoint::new(self.height_px - p.y, p.x),
            2 => FilmPoint::new(self.width_px - p.x, self.height_px - p.y),
            _ => FilmPoint::new(p.y, self.width_px - p.x),
        }
    }

    /// Where the ray to the raster position (px) crosses the tooth's
    /// mid-plane z = 0, and the ray's direction.
    pub fn ray(&self, x_px: f64, y_px: f64) -> (Vector3<f64>, Vector3<f64>) {
        let target = self.corner + self.column_step * x_px + self.row_step * y_px;
        let ray = target - self.source;
        (self.source - ray * (self.source.z / ray.z), ray)
    }

    /// The point of the mid-plane that hides `point` on the film.
    pub fn onto_mid_plane(&self, point: Vector3<f64>) -> Vector3<f64> {
        let ray = point - self.source;
        self.source - ray * (self.source.z / ray.z)
    }
}
