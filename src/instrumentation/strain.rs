//! Bending strain at the surface of a round file: ε = d/(2R), R the radius of
//! the file's own axis (beam theory, MEM-H).
//!
//! A fluted section reaches no farther from the axis than its nominal
//! diameter, so the value is an upper bound for it.

/// Samples in which a peak is looked for before it is refined.
const SCAN_STEPS: usize = 48;
/// Steps of golden-section search: each leaves 0.618 of the bracket.
const GOLDEN_STEPS: usize = 40;

/// Strain at the surface where the file's own axis has the radius `radius_mm`.
pub fn surface_strain(diameter_mm: f64, radius_mm: f64) -> f64 {
    surface_strain_at(diameter_mm, radius_mm.recip())
}

/// The same of a curvature, rad per mm; its sign does not count.
pub fn surface_strain_at(diameter_mm: f64, curvature_per_mm: f64) -> f64 {
    0.5 * diameter_mm * curvature_per_mm.abs()
}

/// Strain where the file lies on an inner wall of radius `wall_radius_mm`.
pub fn strain_from_inner_wall(diameter_mm: f64, wall_radius_mm: f64) -> f64 {
    surface_strain(diameter_mm, wall_radius_mm + 0.5 * diameter_mm)
}

/// Strain where the file lies on an outer wall of radius `wall_radius_mm`;
/// `None` where the file would not fit into it.
pub fn strain_from_outer_wall(diameter_mm: f64, wall_radius_mm: f64) -> Option<f64> {
    let radius_mm = wall_radius_mm - 0.5 * diameter_mm;
    (radius_mm > 0.0).then(|| surface_strain(diameter_mm, radius_mm))
}

/// The greatest strain of a stretch and where it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Peak {
    /// Place, in the coordinate asked for, mm.
    pub at_mm: f64,
    /// Strain there, as a share.
    pub strain: f64,
}

/// The greatest of `strain_at` between two places, both included; the first
/// place of those where it is greatest. `None` where it is nowhere a number.
pub fn peak(from_mm: f64, to_mm: f64, strain_at: impl Fn(f64) -> f64) -> Option<Peak> {
    let at = |k: usize| from_mm + (to_mm - from_mm) * k as f64 / SCAN_STEPS as f64;
    let mut best: Option<(usize, f64)> = None;
    for k in 0..=SCAN_STEPS {
        let strain = strain_at(at(k));
        if strain.is_finite() && best.is_none_or(|(_, greatest)| strain > greatest) {
            best = Some((k, strain));
        }
    }
    let (k, strain) = best?;
    let mut found = Peak {
        at_mm: at(k),
        strain,
    };
    let (mut low, mut high) = (at(k.saturating_sub(1)), at((k + 1).min(SCAN_STEPS)));
    let golden = 0.5 * (5f64.sqrt() - 1.0);
    for _ in 0..GOLDEN_STEPS {
        let [first, second] = [high - golden * (high - low), low + golden * (high - low)];
        for place in [first, second] {
            let strain = strain_at(place);
            if strain > found.strain {
                found = Peak {
                    at_mm: place,
                    strain,
                };
            }
        }
        if strain_at(first) > strain_at(second) {
            high = second;
        } else {
            low = first;
        }
    }
    Some(found)
}
