//! What of a file the film shows.

use nalgebra::Vector3;

use super::clutter::{ExposedArea, ResponseCurve};
use super::parts::FileSpec;
use super::projection::Projection;
use super::scene::Scene;
use super::second::PlacedPath;
use super::spec::PhantomSpec;

/// Optical depth below white that metal still needs to be seen.
const LEAST_ROOM: f32 = 0.12;

/// The exposed area of the raster before quarter turns.
pub(super) fn exposed_area(spec: &PhantomSpec) -> ExposedArea {
    let detector = &spec.detector;
    ExposedArea::new(
        &spec.clutter.plate,
        [detector.width_px, detector.height_px],
        detector.pixel_pitch_mm,
    )
}

/// Tells whether something more opaque would show at a place.
pub(super) struct Visibility<'a> {
    scene: &'a Scene,
    projection: &'a Projection,
    exposed: ExposedArea,
    size_px: [f64; 2],
    white_depth: f32,
}

impl<'a> Visibility<'a> {
    pub fn new(spec: &PhantomSpec, scene: &'a Scene, projection: &'a Projection) -> Self {
        let detector = &spec.detector;
        let lost = match spec.clutter.processing.curve {
            ResponseCurve::ToeAndShoulder { shoulder, .. } => shoulder,
            _ => 0.0,
        };
        let range = detector.white_depth - detector.black_depth;
        Self {
            scene,
            projection,
            exposed: exposed_area(spec),
            size_px: [detector.width_px, detector.height_px].map(f64::from),
            white_depth: (detector.white_depth - lost * range) as f32,
        }
    }

    /// Whether the film shows the place at all.
    pub fn on_film(&self, point: Vector3<f64>) -> bool {
        let p = self.projection.raster_px(point);
        let [width, height] = self.size_px;
        (0.0..width).contains(&p.x)
            && (0.0..height).contains(&p.y)
            && self.exposed.depth_mm(p.x, p.y) > 0.05
    }

    /// Whether the film shows the place and is not white there without files.
    pub fn shows_metal(&self, point: Vector3<f64>) -> bool {
        let p = self.projection.raster_px(point);
        self.on_film(point)
            && self.scene.depth_without_files(p.x as usize, p.y as usize)
                < self.white_depth - LEAST_ROOM
    }

    /// Share of a stop that the film shows, 0–1; 0 too where its tooth-side
    /// face is hidden.
    pub fn stop_share(&self, file: &FileSpec, path: &PlacedPath) -> f64 {
        let coronal = -path.direction(0.0);
        let face = path.point(0.0);
        let across = coronal.cross(&Vector3::z()).normalize() * (0.5 * file.stop_diameter_mm);
        let shown = |height: f64, side: f64| {
            f64::from(u8::from(self.shows_metal(
                face + coronal * (height * file.stop_thickness_mm) + across * side,
            )))
        };
        let sides = [-0.75, -0.4, 0.4, 0.75];
        let at = |height: f64| sides.iter().map(|s| shown(height, *s)).sum::<f64>() / 4.0;
        let face_share = at(0.1);
        if face_share < 0.5 {
            return 0.0;
        }
        (face_share + at(0.5) + at(0.9)) / 3.0
    }
}
