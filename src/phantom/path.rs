//! The canal's centre line: straight pieces and arcs in space, each leaving
//! in the direction in which the one before ended.
//!
//! Tooth frame, mm: the origin is the coronal reference point, x and y span
//! the tooth's mid-plane (y apically along the coronal canal), z points to
//! the source. A turn is positive when it is clockwise with x to the right
//! and y down, as on the film.

use nalgebra::Vector3;

use super::parts::CanalSpec;

/// A straight piece (`curvature_per_mm` = 0) or an arc.
#[derive(Clone, Debug)]
struct Piece {
    start_mm: f64,
    origin: Vector3<f64>,
    tangent: Vector3<f64>,
    /// Unit vector towards the arc's centre.
    inward: Vector3<f64>,
    curvature_per_mm: f64,
}

impl Piece {
    fn point(&self, along_mm: f64) -> Vector3<f64> {
        let s = along_mm - self.start_mm;
        if self.curvature_per_mm == 0.0 {
            return self.origin + self.tangent * s;
        }
        let (sin, cos) = (s * self.curvature_per_mm).sin_cos();
        self.origin + (self.tangent * sin + self.inward * (1.0 - cos)) / self.curvature_per_mm
    }

    fn direction(&self, along_mm: f64) -> Vector3<f64> {
        let (sin, cos) = ((along_mm - self.start_mm) * self.curvature_per_mm).sin_cos();
        self.tangent * cos + self.inward * sin
    }
}

/// Where one bend of the path lies.
#[derive(Clone, Copy, Debug)]
pub(super) struct BendSpan {
    /// Signed turn, radians.
    pub turn_rad: f64,
    pub radius_mm: f64,
    /// Start and end along the path from the reference point.
    pub start_mm: f64,
    pub end_mm: f64,
}

/// Reference point → orifice → foramen, by arc length in mm.
#[derive(Clone, Debug)]
pub(super) struct CanalPath {
    pieces: Vec<Piece>,
    pub bends: Vec<BendSpan>,
    pub orifice_mm: f64,
    pub foramen_mm: f64,
}

impl CanalPath {
    pub fn new(canal: &CanalSpec) -> Self {
        let mut along = 0.0;
        let mut origin = Vector3::zeros();
        let mut tangent = Vector3::y();
        let mut pieces = Vec::new();
        let mut bends = Vec::new();
        let mut push = |length: f64, inward: Vector3<f64>, curvature_per_mm: f64| {
            let piece = Piece {
                start_mm: along,
                origin,
                tangent,
                inward,
                curvature_per_mm,
            };
            along += length;
            origin = piece.point(along);
            tangent = piece.direction(along).normalize();
            pieces.push(piece);
            (along - length, along, tangent)
        };
        let (.., mut heading) = push(
            canal.reference_to_orifice_mm + canal.straight_mm,
            Vector3::zeros(),
            0.0,
        );
        for bend in &canal.bends {
            let turn_rad = bend.turn_deg.to_radians();
            if turn_rad != 0.0 {
                let clockwise = Vector3::z().cross(&heading).normalize();
                let (sin, cos) = bend.plane_deg.to_radians().sin_cos();
                let towards = clockwise * cos + heading.cross(&clockwise) * sin;
                let length = turn_rad.abs() * bend.radius_mm;
                let (start_mm, end_mm, after) =
                    push(length, towards * turn_rad.signum(), 1.0 / bend.radius_mm);
                heading = after;
                bends.push(BendSpan {
                    turn_rad,
                    radius_mm: bend.radius_mm,
                    start_mm,
                    end_mm,
                });
            }
            if bend.straight_after_mm > 0.0 {
                push(bend.straight_after_mm, Vector3::zeros(), 0.0);
            }
        }
        Self {
            pieces,
            bends,
            orifice_mm: canal.reference_to_orifice_mm,
            foramen_mm: along,
        }
    }

    fn piece(&self, along_mm: f64) -> &Piece {
        let next = self.pieces.partition_point(|p| p.start_mm <= along_mm);
        &self.pieces[next.max(1) - 1]
    }

    /// Point at `along_mm` from the reference point; straight beyond both ends.
    pub fn point(&self, along_mm: f64) -> Vector3<f64> {
        let inside = along_mm.min(self.foramen_mm);
        self.piece(inside).point(inside) + self.direction(inside) * (along_mm - inside)
    }

    /// Unit tangent, apically.
    pub fn direction(&self, along_mm: f64) -> Vector3<f64> {
        let inside = along_mm.min(self.foramen_mm);
        self.piece(inside).direction(inside)
    }
}
