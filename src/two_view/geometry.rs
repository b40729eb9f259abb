//! Two exposures of one tooth: where a place in space shows, and back.
//!
//! Space frame, mm: x across film A, y in depth towards the source of film A,
//! z along the axis that the films share, towards the apex. Film coordinates
//! (u, v) are mm in the tooth's plane, u across and v along that axis. The
//! relations are plane trigonometry (DERIVED); each is checked against a
//! closed form.

use nalgebra::{Matrix3, Vector2, Vector3};

pub use crate::case::Receptor;

/// One exposure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct View {
    sine: f64,
    cosine: f64,
    receptor: Receptor,
    /// 1 / distance from the source to the tooth, 1/mm; 0 for parallel rays.
    nearness: f64,
    /// Where the origin of space shows, from the foot of the central ray, mm.
    centre: Vector2<f64>,
}

impl View {
    /// A view from `angle_rad` about the shared axis; `source_mm` is the
    /// distance from the source to the tooth, parallel rays without it.
    pub fn new(angle_rad: f64, receptor: Receptor, source_mm: Option<f64>) -> Self {
        let (sine, cosine) = angle_rad.sin_cos();
        Self {
            sine,
            cosine,
            receptor,
            nearness: source_mm.map_or(0.0, f64::recip),
            centre: Vector2::zeros(),
        }
    }

    /// The same view with the origin of space `centre` mm from the foot of the
    /// central ray, in mm of the tooth's plane.
    pub fn with_centre(self, centre: Vector2<f64>) -> Self {
        Self { centre, ..self }
    }

    /// The same view from `step_rad` farther round.
    pub fn turned_by(self, step_rad: f64) -> Self {
        let (sine, cosine) = (self.sine.atan2(self.cosine) + step_rad).sin_cos();
        Self {
            sine,
            cosine,
            ..self
        }
    }

    /// Where `place` shows, relative to where the origin of space shows, mm.
    pub fn shadow(&self, place: &Vector3<f64>) -> Vector2<f64> {
        let (across, near) = self.across_and_near(place);
        let magnified = (1.0 - near * self.nearness()).recip();
        Vector2::new(
            (self.centre.x + across) * magnified - self.centre.x,
            (self.centre.y + place.z) * magnified - self.centre.y,
        )
    }

    /// How the shadow of a point at `place` moves when the point moves by
    /// `step`: the derivative of [`View::shadow`].
    pub fn shadow_step(&self, place: &Vector3<f64>, step: &Vector3<f64>) -> Vector2<f64> {
        let (across, near) = self.across_and_near(place);
        let (step_across, step_near) = self.across_and_near(step);
        let nearness = self.nearness();
        let magnified = (1.0 - near * nearness).recip();
        let growth = step_near * nearness * magnified * magnified;
        Vector2::new(
            step_across * magnified + (self.centre.x + across) * growth,
            step.z * magnified + (self.centre.y + place.z) * growth,
        )
    }

    /// Where what shows at `shadow` shows on a detector tilted by `tilt_rad`
    /// about its horizontal through the foot of the central ray.
    pub fn on_tilted_detector(&self, shadow: Vector2<f64>, tilt_rad: f64) -> Vector2<f64> {
        let (sine, cosine) = tilt_rad.sin_cos();
        let whole = shadow + self.centre;
        let stretch = (cosine - whole.y * self.nearness() * sine).recip();
        Vector2::new(whole.x * cosine, whole.y) * stretch - self.centre
    }

    /// How much nearer to the source than the origin a place lies, over the
    /// origin's distance from it.
    pub fn nearness_of(&self, place: &Vector3<f64>) -> f64 {
        self.across_and_near(place).1 * self.nearness()
    }

    /// 1 / distance from the source, measured along the film's normal.
    fn nearness(&self) -> f64 {
        match self.receptor {
            Receptor::Turned => self.nearness,
            Receptor::Stayed => self.nearness / self.cosine,
        }
    }

    /// Place across the film and height above it of a vector in space, both
    /// linear in it.
    fn across_and_near(&self, v: &Vector3<f64>) -> (f64, f64) {
        match self.receptor {
            Receptor::Turned => (
                v.x * self.cosine + v.y * self.sine,
                v.y * self.cosine - v.x * self.sine,
            ),
            Receptor::Stayed => (v.x + v.y * self.sine / self.cosine, v.y),
        }
    }

    /// Rows of the linear equations `row · place = right` that a shadow (u, v)
    /// gives for the place it belongs to.
    fn equations(&self, shadow: Vector2<f64>) -> [(Vector3<f64>, f64); 2] {
        // (centre + across)·m = centre + u with m = 1/(1 − near·nearness).
        let whole = shadow + self.centre;
        let nearness = self.nearness();
        let axis = |v: Vector3<f64>| self.across_and_near(&v);
        let (across_x, near_x) = axis(Vector3::x());
        let (across_y, near_y) = axis(Vector3::y());
        [
            (
                Vector3::new(
                    across_x + whole.x * nearness * near_x,
                    across_y + whole.x * nearness * near_y,
                    0.0,
                ),
                shadow.x,
            ),
            (
                Vector3::new(
                    whole.y * nearness * near_x,
                    whole.y * nearness * near_y,
                    1.0,
                ),
                shadow.y,
            ),
        ]
    }

    /// The line of film coordinates on which a place must show whose shadow in
    /// this view is `shadow`, seen in `other`: where it shows at two depths, mm
    /// towards the source of this view.
    pub fn same_place_in(
        &self,
        other: &View,
        shadow: Vector2<f64>,
        depths_mm: [f64; 2],
    ) -> Option<[Vector2<f64>; 2]> {
        let [first, second] = self.equations(shadow);
        let near = |axis: Vector3<f64>| self.across_and_near(&axis).1;
        let depth_row = Vector3::new(near(Vector3::x()), near(Vector3::y()), 0.0);
        let at = |depth: f64| {
            let rows = Matrix3::from_rows(&[
                first.0.transpose(),
                second.0.transpose(),
                depth_row.transpose(),
            ]);
            let right = Vector3::new(first.1, second.1, depth);
            Some(other.shadow(&(rows.try_inverse()? * right)))
        };
        Some([at(depths_mm[0])?, at(depths_mm[1])?])
    }
}

/// The place whose shadows in two views come nearest to `shadows` in the
/// least-squares sense (four equations, three unknowns); `None` where the views
/// do not tell depth.
pub fn place_of(views: [&View; 2], shadows: [Vector2<f64>; 2]) -> Option<Vector3<f64>> {
    let mut normal = Matrix3::zeros();
    let mut right = Vector3::zeros();
    for (view, shadow) in views.into_iter().zip(shadows) {
        for (row, value) in view.equations(shadow) {
            normal += row * row.transpose();
            right += row * value;
        }
    }
    let place = normal.cholesky()?.solve(&right);
    place.iter().all(|c| c.is_finite()).then_some(place)
}

/// True tilt of a segment against the shared axis and the azimuth it points
/// to (0 in film A, 90° towards the source), rad, from its tilts on two films
/// `between_rad` apart, receptor turned. At 90° tan²γ = tan²α₁ + tan²α₂, the
/// true deformity of long bones.
pub fn tilt_of(tilts_rad: [f64; 2], between_rad: f64) -> (f64, f64) {
    let [a, b] = tilts_rad.map(f64::tan);
    let (sine, cosine) = between_rad.sin_cos();
    let depth = (b - a * cosine) / sine;
    (a.hypot(depth).atan(), depth.atan2(a))
}

/// The same where the receptor stayed.
pub fn tilt_of_stayed(tilts_rad: [f64; 2], between_rad: f64) -> (f64, f64) {
    let [a, b] = tilts_rad.map(f64::tan);
    let depth = (b - a) / between_rad.tan();
    (a.hypot(depth).atan(), depth.atan2(a))
}

/// Angle between two directions in space, rad, well conditioned at both ends.
pub fn angle_between(a: &Vector3<f64>, b: &Vector3<f64>) -> f64 {
    a.cross(b).norm().atan2(a.dot(b))
}

/// Depth between two things at the same x, from how far their shadows part
/// from one film to the next (signed; positive towards the source where Δ is
/// positive), parallel rays. Receptor turned: s/sin Δ; stayed: s/(tan β₂ −
/// tan β₁).
pub fn depth_between(receptor: Receptor, angles_rad: [f64; 2], parted_mm: f64) -> f64 {
    let [first, second] = angles_rad;
    match receptor {
        Receptor::Turned => parted_mm / (second - first).sin(),
        Receptor::Stayed => parted_mm / (second.tan() - first.tan()),
    }
}

/// Height above the film of a thing whose shadow moves `shift_mm` when the
/// tube moves `tube_mm` parallel to the film at the focus–film distance
/// `focus_film_mm`: F·s/(T + s) (classical).
pub fn height_above_film_mm(focus_film_mm: f64, tube_mm: f64, shift_mm: f64) -> f64 {
    focus_film_mm * shift_mm / (tube_mm + shift_mm)
}
