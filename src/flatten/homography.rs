//! The plane projective map of four corners.

use nalgebra::{Matrix3, SMatrix, SVector, Vector3};

/// A projective map of the plane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Homography(Matrix3<f64>);

impl Homography {
    /// The map that takes each of `from` to its partner in `to`; `None` where
    /// three of either lie in a line.
    pub fn from_corners(from: [[f64; 2]; 4], to: [[f64; 2]; 4]) -> Option<Self> {
        let mut equations = SMatrix::<f64, 8, 8>::zeros();
        let mut right = SVector::<f64, 8>::zeros();
        // Sizes about 1 keep the equations well conditioned.
        let (unit_from, unit_to) = (largest(&from), largest(&to));
        for (i, ([x, y], [u, v])) in from.into_iter().zip(to).enumerate() {
            let [x, y] = [x / unit_from, y / unit_from];
            let [u, v] = [u / unit_to, v / unit_to];
            let rows = [
                [x, y, 1.0, 0.0, 0.0, 0.0, -x * u, -y * u],
                [0.0, 0.0, 0.0, x, y, 1.0, -x * v, -y * v],
            ];
            for (k, row) in rows.into_iter().enumerate() {
                for (column, value) in row.into_iter().enumerate() {
                    equations[(2 * i + k, column)] = value;
                }
            }
            right[2 * i] = u;
            right[2 * i + 1] = v;
        }
        let h = equations.lu().solve(&right)?;
        let normalised = Matrix3::new(h[0], h[1], h[2], h[3], h[4], h[5], h[6], h[7], 1.0);
        let to_unit = Matrix3::from_diagonal(&Vector3::new(unit_to, unit_to, 1.0));
        let from_unit =
            Matrix3::from_diagonal(&Vector3::new(unit_from.recip(), unit_from.recip(), 1.0));
        let matrix = to_unit * normalised * from_unit;
        matrix.iter().all(|v| v.is_finite()).then_some(Self(matrix))
    }

    /// The map with this matrix, row by row.
    pub fn from_rows(rows: [[f64; 3]; 3]) -> Self {
        let [a, b, c] = rows;
        Self(Matrix3::new(
            a[0], a[1], a[2], b[0], b[1], b[2], c[0], c[1], c[2],
        ))
    }

    /// Its matrix, row by row.
    pub fn rows(&self) -> [[f64; 3]; 3] {
        [0, 1, 2].map(|r| [0, 1, 2].map(|c| self.0[(r, c)]))
    }

    /// The image of a point; `None` on the horizon or beyond.
    pub fn map(&self, [x, y]: [f64; 2]) -> Option<[f64; 2]> {
        let p = self.0 * Vector3::new(x, y, 1.0);
        let image = [p.x / p.z, p.y / p.z];
        image.iter().all(|v| v.is_finite()).then_some(image)
    }

    /// The map back.
    pub fn inverse(&self) -> Option<Self> {
        self.0.try_inverse().map(Self)
    }

    /// Length there over length here, as the square root of the area's
    /// change, at a point.
    pub fn scale_at(&self, [x, y]: [f64; 2]) -> f64 {
        let m = &self.0;
        let p = m * Vector3::new(x, y, 1.0);
        // The Jacobian of (X/Z, Y/Z) has the determinant det(M)/Z³.
        (m.determinant() / p.z.powi(3)).abs().sqrt()
    }
}

fn largest(points: &[[f64; 2]; 4]) -> f64 {
    points
        .iter()
        .flatten()
        .fold(1e-9, |most, v| most.max(v.abs()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A camera 100 mm above a plane turned by 30° about y: closed form of the
    /// central projection (DERIVED).
    #[test]
    fn corners_give_the_central_projection_back() {
        let project = |[x, y]: [f64; 2]| {
            let (sin, cos) = 30f64.to_radians().sin_cos();
            let depth = 100.0 + sin * x;
            [500.0 + 2000.0 * cos * x / depth, 400.0 + 2000.0 * y / depth]
        };
        let plane = [[0.0, 0.0], [31.0, 0.0], [31.0, 41.0], [0.0, 41.0]];
        let map = Homography::from_corners(plane, plane.map(project)).unwrap();
        for p in [[15.5, 20.5], [3.0, 38.0], [29.0, 1.0]] {
            let (found, true_place) = (map.map(p).unwrap(), project(p));
            assert!((found[0] - true_place[0]).abs() < 1e-8);
            assert!((found[1] - true_place[1]).abs() < 1e-8);
            let back = map.inverse().unwrap().map(found).unwrap();
            assert!((back[0] - p[0]).abs() < 1e-9 && (back[1] - p[1]).abs() < 1e-9);
            // The scale against a difference quotient of areas.
            let e = 1e-5;
            let [a, b] = [[e, 0.0], [0.0, e]].map(|d| {
                let q = project([p[0] + d[0], p[1] + d[1]]);
                [q[0] - true_place[0], q[1] - true_place[1]]
            });
            let area = (a[0] * b[1] - a[1] * b[0]).abs() / (e * e);
            assert!((map.scale_at(p) / area.sqrt() - 1.0).abs() < 1e-5);
        }
    }

    #[test]
    fn three_corners_in_a_line_give_no_map() {
        let plane = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]];
        let line = [[0.0, 0.0], [5.0, 5.0], [10.0, 10.0], [0.0, 9.0]];
        let map = Homography::from_corners(plane, line);
        let at_corner = map
            .and_then(|map| map.inverse())
            .and_then(|map| map.map([5.0, 5.0]));
        assert!(at_corner.is_none_or(|p| (p[0] - 1.0).abs() > 1e-6 || p[1].abs() > 1e-6));
    }
}
