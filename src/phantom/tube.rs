//! Tubes along a curved axis: roots, canals and instruments.
//!
//! The axis is projected along the rays onto the tooth's mid-plane. There the
//! ray through a pixel passes the axis at the distance d of the nearest axis
//! point, and cuts an elliptic section with semi-axes a (across) and b (along
//! the ray) on a chord 2b·√(1 − d²/a²): exact for a straight tube of constant
//! section, and the chord is longest exactly on the projected axis.

use std::ops::Range;

use nalgebra::Vector3;

use super::projection::Projection;

/// A section of a tube in space.
#[derive(Clone, Copy, Debug)]
pub(super) struct Section {
    /// Centre, tooth frame, mm.
    pub centre: Vector3<f64>,
    /// Half width across the axis in the mid-plane, mm.
    pub half_width_mm: f64,
    /// Half depth towards the source, mm.
    pub half_depth_mm: f64,
    /// Share of the tube's contrast, 0–1.
    pub share: f64,
}

/// A section as its shadow falls on the mid-plane.
#[derive(Clone, Copy, Debug)]
struct Station {
    x: f32,
    y: f32,
    half_width: f32,
    half_chord: f32,
    share: f32,
}

#[derive(Clone, Debug)]
struct SegmentBox {
    rows: Range<f32>,
    columns: Range<f32>,
}

/// A tube ready to be cut row by row.
#[derive(Clone, Debug)]
pub(super) struct Tube {
    stations: Vec<Station>,
    boxes: Vec<SegmentBox>,
}

/// Squared distance to a tube's axis and place along it for one row.
#[derive(Clone, Debug)]
pub(super) struct RowDistances {
    distance_squared: Vec<f32>,
    place: Vec<f32>,
}

/// What a ray meets of one tube.
#[derive(Clone, Copy, Debug)]
pub(super) struct Passage {
    distance_squared: f32,
    half_width: f32,
    half_chord: f32,
    pub share: f32,
}

impl RowDistances {
    pub fn new(width: usize) -> Self {
        Self {
            distance_squared: vec![f32::INFINITY; width],
            place: vec![0.0; width],
        }
    }
}

impl Passage {
    /// Chord in mm through the tube grown by `grow` mm all round.
    pub fn chord(&self, grow: f32) -> f32 {
        let a = self.half_width + grow;
        let inside = 1.0 - self.distance_squared / (a * a).max(1e-12);
        if inside > 0.0 {
            2.0 * (self.half_chord + grow) * inside.sqrt()
        } else {
            0.0
        }
    }
}

impl Tube {
    /// A tube through `sections` that may be grown by up to `grow_mm`.
    pub fn new(sections: &[Section], grow_mm: f64, projection: &Projection) -> Self {
        let last = sections.len().saturating_sub(1);
        let stations = sections
            .iter()
            .enumerate()
            .map(|(i, section)| {
                let shadow = projection.onto_mid_plane(section.centre);
                let scale = (projection.source - shadow).norm()
                    / (projection.source - section.centre).norm();
                let axis =
                    sections[(i + 1).min(last)].centre - sections[i.saturating_sub(1)].centre;
                let ray = section.centre - projection.source;
                // A tube seen end-on would have no finite chord.
                let sine =
                    (axis.cross(&ray).norm() / (axis.norm() * ray.norm()).max(1e-12)).max(0.2);
                Station {
                    x: shadow.x as f32,
                    y: shadow.y as f32,
                    half_width: (section.half_width_mm * scale) as f32,
                    half_chord: (section.half_depth_mm / sine) as f32,
                    share: section.share as f32,
                }
            })
            .collect();
        let boxes = sections
            .windows(2)
            .map(|pair| {
                let [a, b] = [pair[0], pair[1]].map(|s| projection.raster_px(s.centre));
                let width = pair[0].half_width_mm.max(pair[1].half_width_mm) + grow_mm;
                let reach = width * projection.px_per_mm(pair[0].centre) * 1.05 + 2.0;
                SegmentBox {
                    rows: (a.y.min(b.y) - reach) as f32..(a.y.max(b.y) + reach) as f32,
                    columns: (a.x.min(b.x) - reach) as f32..(a.x.max(b.x) + reach) as f32,
                }
            })
            .collect();
        Self { stations, boxes }
    }

    /// Finds the nearest axis point for the pixels of one row, whose places
    /// in the mid-plane are `xs`, `ys`; returns the columns worth asking.
    pub fn nearest(
        &self,
        row: f32,
        xs: &[f32],
        ys: &[f32],
        field: &mut RowDistances,
    ) -> Range<usize> {
        let width = xs.len();
        let clamp = |column: f32| (column.max(0.0) as usize).min(width);
        let mut touched = width..0;
        for segment in self.boxes.iter().filter(|b| b.rows.contains(&row)) {
            touched.start = touched.start.min(clamp(segment.columns.start));
            touched.end = touched.end.max(clamp(segment.columns.end + 1.0));
        }
        if touched.is_empty() {
            return 0..0;
        }
        field.distance_squared[touched.clone()].fill(f32::INFINITY);
        for (i, segment) in self.boxes.iter().enumerate() {
            if !segment.rows.contains(&row) {
                continue;
            }
            let [a, b] = [self.stations[i], self.stations[i + 1]];
            let (dx, dy) = (b.x - a.x, b.y - a.y);
            let inverse = 1.0 / (dx * dx + dy * dy).max(1e-12);
            let columns = clamp(segment.columns.start)..clamp(segment.columns.end + 1.0);
            let places = xs[columns.clone()].iter().zip(&ys[columns.clone()]);
            let best = field.distance_squared[columns.clone()]
                .iter_mut()
                .zip(&mut field.place[columns]);
            for ((x, y), (distance, place)) in places.zip(best) {
                let t = (((x - a.x) * dx + (y - a.y) * dy) * inverse).clamp(0.0, 1.0);
                let (ex, ey) = (x - a.x - t * dx, y - a.y - t * dy);
                let squared = ex * ex + ey * ey;
                let nearer = squared < *distance;
                *distance = if nearer { squared } else { *distance };
                *place = if nearer { i as f32 + t } else { *place };
            }
        }
        touched
    }

    /// How the ray of `column` passes this tube, after [`Self::nearest`].
    pub fn passage(&self, column: usize, field: &RowDistances) -> Option<Passage> {
        let distance_squared = field.distance_squared[column];
        if distance_squared == f32::INFINITY {
            return None;
        }
        let i = (field.place[column] as usize).min(self.stations.len() - 2);
        let t = field.place[column] - i as f32;
        let [a, b] = [&self.stations[i], &self.stations[i + 1]];
        let mix = |from: f32, to: f32| from + t * (to - from);
        Some(Passage {
            distance_squared,
            half_width: mix(a.half_width, b.half_width),
            half_chord: mix(a.half_chord, b.half_chord),
            share: mix(a.share, b.share),
        })
    }

    /// Both sides of the tube from its start round its end and back, as
    /// points of the mid-plane, mm.
    pub fn outline(&self) -> Vec<Vector3<f64>> {
        let last = self.stations.len() - 1;
        let side = |i: usize, sign: f64| {
            let (a, b) = (
                &self.stations[i.saturating_sub(1)],
                &self.stations[(i + 1).min(last)],
            );
            let here = &self.stations[i];
            let axis = Vector3::new(f64::from(b.x - a.x), f64::from(b.y - a.y), 0.0);
            let across = Vector3::new(-axis.y, axis.x, 0.0) / axis.norm().max(1e-12);
            Vector3::new(f64::from(here.x), f64::from(here.y), 0.0)
                + across * (sign * f64::from(here.half_width))
        };
        (0..=last)
            .map(|i| side(i, 1.0))
            .chain((0..=last).rev().map(|i| side(i, -1.0)))
            .collect()
    }
}
