//! Every trace over the film as one mesh: made once per zoom, moved when the
//! film is.

use std::sync::Arc;

use egui::epaint::Tessellator;
use egui::{Mesh, Painter, Pos2, Shape, Stroke};

use crate::desktop::ui::palette;
use crate::desktop::view::ViewTransform;
use crate::grading::files::ClassGrade;
use crate::units::FilmPoint;

/// Opacity of one of many traces: this share of them laid over each other is
/// as good as solid.
const SOLID_SHARE: f32 = 0.15;
/// Width of a trace, points.
const WIDTH: f32 = 1.2;
/// How far a drawn line may leave out the curve it stands for, device pixels.
const FLATNESS: f32 = 0.2;

/// The mesh and the view it was made for.
#[derive(Default)]
pub struct TraceMesh {
    mesh: Arc<Mesh>,
    /// Zoom and pixels per point.
    scale: Option<(f64, f32)>,
    /// Where the film's corner was on the screen.
    corner: Pos2,
}

impl TraceMesh {
    /// Paints all traces of `class`, always the same one.
    pub fn paint(&mut self, painter: &Painter, view: &ViewTransform, class: &ClassGrade) {
        let pixels_per_point = painter.pixels_per_point();
        let corner = view.screen_from_film(FilmPoint::new(0.0, 0.0));
        if self.scale != Some((view.zoom, pixels_per_point)) {
            self.mesh = Arc::new(mesh(painter, view, class));
            self.scale = Some((view.zoom, pixels_per_point));
        } else if self.corner != corner {
            Arc::make_mut(&mut self.mesh).translate(corner - self.corner);
        }
        self.corner = corner;
        painter.add(Shape::Mesh(Arc::clone(&self.mesh)));
    }
}

fn mesh(painter: &Painter, view: &ViewTransform, class: &ClassGrade) -> Mesh {
    let options = painter
        .ctx()
        .options(|options| options.tessellation_options);
    // No text is drawn: the size of its texture does not matter.
    let mut tessellator = Tessellator::new(painter.pixels_per_point(), options, [1, 1], Vec::new());
    let flatness = FLATNESS / painter.pixels_per_point();
    let solid = (SOLID_SHARE * class.traces.len() as f32).max(2.0);
    let stroke = Stroke::new(WIDTH, palette::CANAL.gamma_multiply(1.0 / solid));
    let mut mesh = Mesh::default();
    for canal in class.traces.iter().flat_map(|trace| &trace.canals) {
        let path = canal.picture.path_px.iter();
        let points: Vec<Pos2> = path.map(|&point| view.screen_from_film(point)).collect();
        let line = Shape::line(flattened(&points, flatness), stroke);
        tessellator.tessellate_shape(line, &mut mesh);
    }
    mesh
}

/// As few of the points as keep within `flatness` of all of them (Douglas and
/// Peucker 1973, Cartographica 10:112–22; MEM-H).
fn flattened(points: &[Pos2], flatness: f32) -> Vec<Pos2> {
    let Some(last) = points.len().checked_sub(1) else {
        return Vec::new();
    };
    let mut kept = vec![false; points.len()];
    (kept[0], kept[last]) = (true, true);
    let mut spans = vec![(0, last)];
    while let Some((from, to)) = spans.pop() {
        let between = (from + 1..to).map(|at| (at, off(points[at], points[from], points[to])));
        if let Some((farthest, distance)) = between.max_by(|a, b| a.1.total_cmp(&b.1))
            && distance > flatness
        {
            kept[farthest] = true;
            spans.extend([(from, farthest), (farthest, to)]);
        }
    }
    let points = points.iter().zip(kept);
    points.filter(|(_, kept)| *kept).map(|(&p, _)| p).collect()
}

/// Distance of `p` from the segment `a`–`b`.
fn off(p: Pos2, a: Pos2, b: Pos2) -> f32 {
    let along = b - a;
    let t = (p - a).dot(along) / along.length_sq();
    // A segment without length has no direction.
    let t = if t.is_finite() {
        t.clamp(0.0, 1.0)
    } else {
        0.0
    };
    p.distance(a + t * along)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A chord of a circle of radius r spanning the angle φ leaves it by
    /// r (1 − cos φ/2): a quarter of r = 100 takes at least
    /// (π/2) / (2 arccos(1 − 0.2/100)) = 12.4 chords.
    #[test]
    fn a_flattened_arc_keeps_its_shape_with_few_points() {
        let arc: Vec<Pos2> = (0..=1000_u16)
            .map(|i| f32::from(i) / 1000.0 * std::f32::consts::FRAC_PI_2)
            .map(|angle| Pos2::new(100.0 * angle.cos(), 100.0 * angle.sin()))
            .collect();
        let few = flattened(&arc, 0.2);
        assert!((13..=26).contains(&(few.len() - 1)), "{}", few.len());
        assert_eq!((few[0], few[few.len() - 1]), (arc[0], arc[1000]));
        for &point in &arc {
            let segments = few.windows(2).map(|pair| off(point, pair[0], pair[1]));
            assert!(segments.fold(f32::INFINITY, f32::min) <= 0.2 + 1e-4);
        }
    }

    #[test]
    fn a_there_and_back_keeps_its_turn_and_nothing_gives_nothing() {
        let turn = [0.0, 50.0, 0.0].map(|x| Pos2::new(x, 0.0));
        assert_eq!(flattened(&turn, 0.2), turn);
        assert!(flattened(&[], 0.2).is_empty());
        assert_eq!(flattened(&turn[..1], 0.2), turn[..1]);
    }
}
