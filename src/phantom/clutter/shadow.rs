//! Thin things between source and film, as their shadows fall on the tooth's
//! mid-plane.

/// A shadow in the mid-plane, mm.
#[derive(Clone, Debug)]
pub(in crate::phantom) struct Shadow {
    form: Form,
    /// Left, top, right and bottom.
    bounds: [f32; 4],
}

#[derive(Clone, Debug)]
enum Form {
    /// A round wire along a line.
    Wire {
        line: Vec<[f32; 2]>,
        radius_mm: f32,
        attenuation_per_mm: f32,
    },
    /// A sheet of even depth with round holes: centre and radii.
    Sheet {
        outline: Vec<[f32; 2]>,
        holes: Vec<([f32; 2], [f32; 2])>,
        depth: f32,
        /// Over this distance the sheet thins out towards its rim.
        rim_mm: f32,
    },
}

/// Distance from `p` to the segment `a`–`b`.
fn segment_distance(p: [f32; 2], a: [f32; 2], b: [f32; 2]) -> f32 {
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let (px, py) = (p[0] - a[0], p[1] - a[1]);
    let t = ((px * dx + py * dy) / (dx * dx + dy * dy).max(1e-12)).clamp(0.0, 1.0);
    (px - t * dx).hypot(py - t * dy)
}

fn bounds(points: &[[f32; 2]], reach: f32) -> [f32; 4] {
    let low = |k: usize| points.iter().map(|p| p[k]).fold(f32::MAX, f32::min) - reach;
    let high = |k: usize| points.iter().map(|p| p[k]).fold(f32::MIN, f32::max) + reach;
    [low(0), low(1), high(0), high(1)]
}

impl Shadow {
    pub fn wire(line: Vec<[f32; 2]>, radius_mm: f32, attenuation_per_mm: f32) -> Self {
        Self {
            bounds: bounds(&line, radius_mm),
            form: Form::Wire {
                line,
                radius_mm,
                attenuation_per_mm,
            },
        }
    }

    pub fn sheet(
        outline: Vec<[f32; 2]>,
        holes: Vec<([f32; 2], [f32; 2])>,
        depth: f32,
        rim_mm: f32,
    ) -> Self {
        Self {
            bounds: bounds(&outline, 0.0),
            form: Form::Sheet {
                outline,
                holes,
                depth,
                rim_mm,
            },
        }
    }

    /// Optical depth at a place of the mid-plane.
    pub fn depth(&self, x: f32, y: f32) -> f32 {
        let [left, top, right, bottom] = self.bounds;
        if x < left || x > right || y < top || y > bottom {
            return 0.0;
        }
        match &self.form {
            Form::Wire {
                line,
                radius_mm,
                attenuation_per_mm,
            } => {
                let d = line
                    .windows(2)
                    .map(|w| segment_distance([x, y], w[0], w[1]))
                    .fold(f32::MAX, f32::min);
                let inside = radius_mm * radius_mm - d * d;
                if inside > 0.0 {
                    2.0 * inside.sqrt() * attenuation_per_mm
                } else {
                    0.0
                }
            }
            Form::Sheet {
                outline,
                holes,
                depth,
                rim_mm,
            } => {
                let mut inside = false;
                let mut distance = f32::MAX;
                for (i, &a) in outline.iter().enumerate() {
                    let b = outline[(i + 1) % outline.len()];
                    if (a[1] > y) != (b[1] > y)
                        && x < (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]) + a[0]
                    {
                        inside = !inside;
                    }
                    distance = distance.min(segment_distance([x, y], a, b));
                }
                if !inside {
                    return 0.0;
                }
                for (centre, radii) in holes {
                    let (u, v) = ((x - centre[0]) / radii[0], (y - centre[1]) / radii[1]);
                    let beyond = (u.hypot(v) - 1.0) * radii[0].min(radii[1]);
                    if beyond < 0.0 {
                        return 0.0;
                    }
                    distance = distance.min(beyond);
                }
                let t = (distance / rim_mm.max(1e-3)).min(1.0);
                depth * t * (2.0 - t)
            }
        }
    }
}

/// Points along an elliptic arc, angles in degrees clockwise from +x.
pub(super) fn arc(centre: [f32; 2], radii: [f32; 2], from_deg: f32, to_deg: f32) -> Vec<[f32; 2]> {
    (0..=24)
        .map(|i| {
            let angle = (from_deg + (to_deg - from_deg) * i as f32 / 24.0).to_radians();
            [
                centre[0] + radii[0] * angle.cos(),
                centre[1] + radii[1] * angle.sin(),
            ]
        })
        .collect()
}

/// `points` turned clockwise about `pivot`, then shifted.
pub(super) fn moved(
    points: Vec<[f32; 2]>,
    pivot: [f32; 2],
    turn_deg: f32,
    shift: [f32; 2],
) -> Vec<[f32; 2]> {
    let (sin, cos) = turn_deg.to_radians().sin_cos();
    points
        .into_iter()
        .map(|[x, y]| {
            let (x, y) = (x - pivot[0], y - pivot[1]);
            [
                pivot[0] + shift[0] + cos * x - sin * y,
                pivot[1] + shift[1] + sin * x + cos * y,
            ]
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A wire's chord is that of a circle; a hole lets everything through.
    #[test]
    fn depths_equal_closed_forms() {
        let wire = Shadow::wire(vec![[0.0, 0.0], [10.0, 0.0]], 1.0, 2.0);
        assert!((wire.depth(5.0, 0.6) - 3.2).abs() < 1e-5, "3-4-5 triangle");
        assert_eq!(wire.depth(5.0, 1.01), 0.0);
        let square = vec![[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]];
        let sheet = Shadow::sheet(square, vec![([2.0, 2.0], [0.5, 0.5])], 1.5, 0.1);
        assert_eq!(sheet.depth(2.0, 2.0), 0.0);
        assert!((sheet.depth(1.0, 1.0) - 1.5).abs() < 1e-6);
        assert_eq!(sheet.depth(5.0, 1.0), 0.0);
    }
}
