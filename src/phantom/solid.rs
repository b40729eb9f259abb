//! Simple solids in space, cut exactly by each ray: stop, handle, shaft,
//! ball and ruler.

use nalgebra::Vector3;

use super::projection::Projection;

/// A finite cylinder or a ball in the tooth frame, mm.
#[derive(Clone, Copy, Debug)]
pub(super) enum Form {
    Cylinder {
        start: Vector3<f64>,
        axis: Vector3<f64>,
        length_mm: f64,
        radius_mm: f64,
    },
    Ball {
        centre: Vector3<f64>,
        radius_mm: f64,
    },
}

/// A solid of one material.
#[derive(Clone, Copy, Debug)]
pub(super) struct Solid {
    pub form: Form,
    /// Linear attenuation coefficient, 1/mm.
    pub attenuation_per_mm: f64,
}

/// Ray parameters at which |p + t·d|² = r², in order.
fn roots(dd: f64, pd: f64, pp: f64, radius: f64) -> Option<[f64; 2]> {
    let reduced = pd * pd - dd * (pp - radius * radius);
    (reduced > 0.0 && dd > 0.0).then(|| {
        let root = reduced.sqrt();
        [(-pd - root) / dd, (-pd + root) / dd]
    })
}

impl Form {
    /// mm of the solid along the ray through `origin`.
    pub fn chord(&self, origin: Vector3<f64>, ray: Vector3<f64>) -> f64 {
        let ray = ray.normalize();
        match *self {
            Self::Ball { centre, radius_mm } => {
                let p = origin - centre;
                roots(1.0, p.dot(&ray), p.norm_squared(), radius_mm).map_or(0.0, |[a, b]| b - a)
            }
            Self::Cylinder {
                start,
                axis,
                length_mm,
                radius_mm,
            } => {
                let p = origin - start;
                let (p_along, d_along) = (p.dot(&axis), ray.dot(&axis));
                let (p_side, d_side) = (p - axis * p_along, ray - axis * d_along);
                let side = if d_side.norm() < 1e-12 {
                    (p_side.norm() < radius_mm).then_some([f64::NEG_INFINITY, f64::INFINITY])
                } else {
                    roots(
                        d_side.norm_squared(),
                        p_side.dot(&d_side),
                        p_side.norm_squared(),
                        radius_mm,
                    )
                };
                let Some([mut near, mut far]) = side else {
                    return 0.0;
                };
                if d_along.abs() > 1e-12 {
                    let ends = [-p_along / d_along, (length_mm - p_along) / d_along];
                    near = near.max(ends[0].min(ends[1]));
                    far = far.min(ends[0].max(ends[1]));
                } else if p_along < 0.0 || p_along > length_mm {
                    return 0.0;
                }
                (far - near).max(0.0)
            }
        }
    }

    /// Raster box that holds the solid's shadow: columns, then rows, px.
    pub fn shadow_box(&self, projection: &Projection) -> [[f64; 2]; 2] {
        let (ends, radius) = match *self {
            Self::Ball { centre, radius_mm } => ([centre; 2], radius_mm),
            Self::Cylinder {
                start,
                axis,
                length_mm,
                radius_mm,
            } => ([start, start + axis * length_mm], radius_mm),
        };
        let [a, b] = ends.map(|p| projection.raster_px(p));
        let reach = 1.1 * radius * projection.px_per_mm(ends[0]) + 3.0;
        [
            [a.x.min(b.x) - reach, a.x.max(b.x) + reach],
            [a.y.min(b.y) - reach, a.y.max(b.y) + reach],
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Chords of elementary geometry.
    #[test]
    fn chords_equal_closed_forms() {
        let ball = Form::Ball {
            centre: Vector3::new(1.0, 2.0, 3.0),
            radius_mm: 2.5,
        };
        let chord = ball.chord(Vector3::new(1.0, 3.5, 50.0), -Vector3::z());
        assert!((chord - 4.0).abs() < 1e-12, "3-4-5 triangle: {chord}");
        let tube = Form::Cylinder {
            start: Vector3::zeros(),
            axis: Vector3::y(),
            length_mm: 4.0,
            radius_mm: 1.0,
        };
        let straight = tube.chord(Vector3::new(0.6, 2.0, 9.0), -Vector3::z());
        assert!((straight - 1.6).abs() < 1e-12, "{straight}");
        let slanted = tube.chord(Vector3::new(0.0, 2.0, 0.0), Vector3::new(0.0, 1.0, 1.0));
        assert!((slanted - 2.0 * 2f64.sqrt()).abs() < 1e-12, "{slanted}");
        let lengthwise = tube.chord(Vector3::new(0.2, -9.0, 0.0), Vector3::y());
        assert!((lengthwise - 4.0).abs() < 1e-12, "{lengthwise}");
        assert_eq!(tube.chord(Vector3::new(0.0, 4.1, 9.0), -Vector3::z()), 0.0);
    }
}
