//! The canal in space, turned by dragging, with its shadows on both films.

use egui::{
    Align, Align2, Button, Color32, Id, Key, Painter, Pos2, Rect, Role, Sense, Stroke, TextStyle,
    Ui, Vec2, WidgetInfo,
};

use crate::case::Receptor;
use crate::desktop::ui::film_paint::{dragged_way, haloed_line};
use crate::desktop::ui::labels::Labels;
use crate::desktop::ui::palette;
use crate::two_view::TwoViewFindings;
use crate::uncertainty::rounding::fixed;

/// Turn per point of a drag, rad.
const TURN_PER_POINT: f32 = 0.01;
/// One arrow key, rad: 5°.
const KEY_STEP: f32 = 5.0 * std::f32::consts::PI / 180.0;
/// Room between the canal and its shadows, as a share of its length.
const SHADOW_ROOM: f64 = 0.2;
/// Share of the place that the canal fills.
const FILL: f32 = 0.74;

/// How the canal is looked at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turned {
    /// About the common axis: 0 shows it as film A does.
    about_axis_rad: f32,
    /// Tipped towards the eye: a right angle looks along the axis.
    tipped_rad: f32,
}

impl Default for Turned {
    fn default() -> Self {
        Self {
            about_axis_rad: 0.6,
            tipped_rad: 0.25,
        }
    }
}

/// Places in space, mm.
type Line = Vec<[f64; 3]>;

impl Turned {
    /// Shows the canal and takes the drag that turns it.
    pub fn show(&mut self, ui: &mut Ui, found: &TwoViewFindings) {
        let angle_rad = found.angle_deg.to_radians() as f32;
        ui.horizontal_wrapped(|ui| {
            for (words, about_axis_rad, tipped_rad) in [
                ("As film A", 0.0, 0.0),
                ("As film B", angle_rad, 0.0),
                ("Along the axis", 0.0, std::f32::consts::FRAC_PI_2),
            ] {
                if ui.add(Button::new(words)).clicked() {
                    self.about_axis_rad = about_axis_rad;
                    self.tipped_rad = tipped_rad;
                }
            }
            let quiet = palette::of(ui).quiet_text;
            ui.label(egui::RichText::new("drag to turn").color(quiet));
        });
        let rect = ui.available_rect_before_wrap();
        ui.allocate_rect(rect, Sense::hover());
        let id = Id::unique("canal in space");
        let canvas = ui.interact(rect, id, Sense::click_and_drag());
        if canvas.clicked() || canvas.drag_started() {
            canvas.request_focus();
        }
        if canvas.dragged() {
            let way = dragged_way(ui, &canvas) * TURN_PER_POINT;
            self.turn(way);
        }
        if canvas.has_focus() {
            ui.memory_mut(|memory| memory.set_focus_lock_filter(id, arrows()));
            let pressed = |key| ui.input(|input| input.num_presses(key)) as f32 * KEY_STEP;
            self.turn(Vec2::new(
                pressed(Key::ArrowRight) - pressed(Key::ArrowLeft),
                pressed(Key::ArrowDown) - pressed(Key::ArrowUp),
            ));
        }
        let words = format!(
            "Canal in space, turned by {}° about the axis, tipped by {}°",
            fixed(f64::from(self.about_axis_rad.to_degrees()), 0),
            fixed(f64::from(self.tipped_rad.to_degrees()), 0)
        );
        canvas.widget_info(|| WidgetInfo::labeled(Role::Canvas, true, &words));
        let painter = ui.painter_at(rect);
        painter.rect_filled(rect, 0.0, palette::FILM_GROUND);
        self.paint(ui, &painter, rect, found);
        if canvas.has_focus() {
            let stroke = Stroke::new(2.0, palette::of(ui).accent);
            painter.rect_stroke(rect, 0.0, stroke, egui::StrokeKind::Inside);
        }
    }

    fn turn(&mut self, by: Vec2) {
        use std::f32::consts::{FRAC_PI_2, PI};
        // Dragged right, what is near moves right.
        let about = self.about_axis_rad + by.x;
        self.about_axis_rad = (about + PI).rem_euclid(2.0 * PI) - PI;
        self.tipped_rad = (self.tipped_rad + by.y).clamp(-FRAC_PI_2, FRAC_PI_2);
    }

    /// Across the screen, down it, and towards the eye, mm.
    fn seen(&self, [x, y, z]: [f64; 3]) -> [f64; 3] {
        let (sine, cosine) = f64::from(self.about_axis_rad).sin_cos();
        let across = x * cosine + y * sine;
        let near = y * cosine - x * sine;
        let (sine, cosine) = f64::from(self.tipped_rad).sin_cos();
        [across, z * cosine - near * sine, near * cosine + z * sine]
    }

    fn paint(&self, ui: &Ui, painter: &Painter, rect: Rect, found: &TwoViewFindings) {
        let path = &found.path_mm;
        if path.len() < 2 {
            return;
        }
        let middle = middle_of(path);
        let path: Line = path
            .iter()
            .map(|p| [0, 1, 2].map(|axis: usize| p[axis] - middle[axis]))
            .collect();
        let length = found.length_mm.value.max(1.0);
        let points_per_mm = FILL * rect.height().min(rect.width()) / length as f32;
        let on_screen = |place: [f64; 3]| {
            let [across, down, _] = self.seen(place);
            rect.center() + Vec2::new(across as f32, down as f32) * points_per_mm
        };
        let line = |places: &Line| -> Vec<Pos2> { places.iter().map(|&p| on_screen(p)).collect() };
        let font = TextStyle::Small.resolve(ui.style());
        let mut labels = Labels::default();
        let mut words = |at: Pos2, align: Align2, text: &str, colour: Color32| {
            labels.add(painter, at, align, text, font.clone(), colour);
        };
        let shadows = shadows(&path, found, SHADOW_ROOM * length);
        for (shadow, name, colour) in [
            (&shadows[0], "as on film A", palette::CANAL),
            (&shadows[1], "as on film B", palette::CONSTRUCTION),
        ] {
            let points = line(shadow);
            haloed_line(painter, &points, 1.6, colour);
            // Threads from the canal to its shadow tell the depth.
            for index in [0, path.len() / 2, path.len() - 1] {
                let thread = [on_screen(path[index]), points[index]];
                painter.line_segment(thread, Stroke::new(0.7, colour.gamma_multiply(0.5)));
            }
            // Away from the other shadow's name.
            let other = on_screen(path[0]).x;
            let align = if points[0].x < other {
                Align2::RIGHT_BOTTOM
            } else {
                Align2::LEFT_BOTTOM
            };
            words(points[0], align, name, colour);
        }
        self.paint_path(painter, &path, length, &on_screen);
        for (number, curve) in found.curves.iter().enumerate() {
            let at = 0.5 * (curve.start_from_apex_mm + curve.end_from_apex_mm) / length;
            let index = ((1.0 - at) * (path.len() - 1) as f64).round().max(0.0) as usize;
            let place = on_screen(path[index.min(path.len() - 1)]) + Vec2::new(8.0, 0.0);
            let text = format!("curve {}", number + 1);
            words(place, Align2::LEFT_CENTER, &text, palette::FILM_TEXT);
        }
        let apex = on_screen(path[path.len() - 1]);
        painter.circle_filled(apex, 4.0, palette::APEX);
        words(
            apex + Vec2::new(0.0, 6.0),
            Align2::CENTER_TOP,
            "apex",
            palette::APEX,
        );
        self.paint_axes(painter, rect, &mut words);
        labels.paint(painter);
    }

    /// The canal: brighter where it is nearer.
    fn paint_path(
        &self,
        painter: &Painter,
        path: &Line,
        length: f64,
        on_screen: &impl Fn([f64; 3]) -> Pos2,
    ) {
        for pair in path.windows(2) {
            let near = self.seen(pair[0])[2] / length;
            let share = (0.75 + near).clamp(0.35, 1.0) as f32;
            let ends = [on_screen(pair[0]), on_screen(pair[1])];
            painter.line_segment(ends, Stroke::new(5.5, palette::HALO));
            let colour = palette::FILE.gamma_multiply(share).to_opaque();
            painter.line_segment(ends, Stroke::new(3.5, colour));
        }
    }

    /// Where right, the source and the apex are.
    fn paint_axes(
        &self,
        painter: &Painter,
        rect: Rect,
        words: &mut impl FnMut(Pos2, Align2, &str, Color32),
    ) {
        const ARM: f32 = 30.0;
        let origin = rect.left_bottom() + Vec2::new(42.0, -58.0);
        for (axis, name) in [
            ([1.0, 0.0, 0.0], "right of film A"),
            ([0.0, 1.0, 0.0], "source of A"),
            ([0.0, 0.0, 1.0], "apical"),
        ] {
            let [across, down, _] = self.seen(axis);
            let arm = Vec2::new(across as f32, down as f32) * ARM;
            let end = origin + arm;
            painter.line_segment([origin, end], Stroke::new(1.5, palette::FILM_TEXT));
            // An axis that points at the eye has no room for its name.
            if arm.length() > 0.3 * ARM {
                let way = arm.normalized();
                // Beyond the arm's end, so that the name covers no arm.
                let side = |along: f32| match along {
                    along if along > 0.5 => Align::Min,
                    along if along < -0.5 => Align::Max,
                    _ => Align::Center,
                };
                let align = Align2([side(way.x), side(way.y)]);
                words(end + way * 4.0, align, name, palette::FILM_TEXT);
            }
        }
    }
}

/// Keys that turn the canal and do not move the focus.
fn arrows() -> egui::EventFilter {
    egui::EventFilter {
        horizontal_arrows: true,
        vertical_arrows: true,
        ..Default::default()
    }
}

fn middle_of(path: &[[f64; 3]]) -> [f64; 3] {
    let [first, last] = [path[0], path[path.len() - 1]];
    [0, 1, 2].map(|axis: usize| 0.5 * (first[axis] + last[axis]))
}

/// The canal thrown onto both films by parallel rays, `room` mm behind it.
fn shadows(path: &Line, found: &TwoViewFindings, room: f64) -> [Line; 2] {
    let (sine, cosine) = found.angle_deg.to_radians().sin_cos();
    let farthest = |depth: &dyn Fn(&[f64; 3]) -> f64| {
        path.iter().map(depth).fold(f64::INFINITY, f64::min) - room
    };
    let behind_a = farthest(&|p| p[1]);
    let on_a = path.iter().map(|&[x, _, z]| [x, behind_a, z]).collect();
    let on_b = match found.receptor {
        Receptor::Turned => {
            // Across film B, and towards its source.
            let across = |p: &[f64; 3]| p[0] * cosine + p[1] * sine;
            let near = |p: &[f64; 3]| p[1] * cosine - p[0] * sine;
            let behind = farthest(&near);
            let place = |p: &[f64; 3]| {
                let u = across(p);
                [u * cosine - behind * sine, u * sine + behind * cosine, p[2]]
            };
            path.iter().map(place).collect()
        }
        Receptor::Stayed => {
            let tangent = sine / cosine;
            let place = |&[x, y, z]: &[f64; 3]| [x + (y - behind_a) * tangent, behind_a, z];
            path.iter().map(place).collect()
        }
    };
    [on_a, on_b]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Turned to film B's angle the canal is seen as film B shows it.
    #[test]
    fn turned_to_a_film_it_is_seen_as_there() {
        let place = [1.5, -2.0, 6.0];
        let as_a = Turned {
            about_axis_rad: 0.0,
            tipped_rad: 0.0,
        };
        let [across, down, near] = as_a.seen(place);
        assert_eq!([across, down, near], [1.5, 6.0, -2.0]);
        let delta = 40f32.to_radians();
        let as_b = Turned {
            about_axis_rad: delta,
            ..as_a
        };
        let [across, down, _] = as_b.seen(place);
        let (sine, cosine) = f64::from(delta).sin_cos();
        assert!((across - (1.5 * cosine - 2.0 * sine)).abs() < 1e-12);
        assert_eq!(down, 6.0);
    }

    #[test]
    fn turning_goes_round_and_tipping_stops_at_a_right_angle() {
        let mut turned = Turned::default();
        turned.turn(Vec2::new(100.0, 100.0));
        assert!(turned.about_axis_rad.abs() <= std::f32::consts::PI);
        assert_eq!(turned.tipped_rad, std::f32::consts::FRAC_PI_2);
    }
}
