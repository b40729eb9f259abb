//! Signs painted as strokes: they need no font and look the same everywhere.

use egui::{Color32, Pos2, Rect, Response, Sense, Shape, Stroke, Ui, Vec2};

use super::palette;

/// A sign.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Icon {
    Undo,
    Redo,
    TurnLeft,
    TurnRight,
    Mirror,
    /// Done, placed.
    Tick,
    /// Not yet done.
    Dot,
    /// Within the usual limits.
    Disc,
    /// To be looked at.
    Triangle,
    /// Wrong, beyond.
    Square,
    /// What belongs to this heading is hidden.
    Shut,
    /// It is shown.
    Opened,
}

/// Paints a sign into a square.
pub fn paint(painter: &egui::Painter, icon: Icon, rect: Rect, colour: Color32) {
    let side = rect.width().min(rect.height());
    let at = |x: f32, y: f32| rect.center() + Vec2::new(x, y) * side * 0.5;
    let stroke = Stroke::new((side * 0.11).max(1.5), colour);
    let line = |points: Vec<Pos2>| {
        painter.add(Shape::line(points, stroke));
    };
    // Part of a circle with an arrow head at its end; degrees clockwise from
    // the right.
    let arc = |from: f32, to: f32| {
        let on = |degrees: f32| {
            let v = Vec2::angled(degrees.to_radians()) * 0.68;
            at(v.x, v.y)
        };
        line(
            (0..=16)
                .map(|i| on(from + (to - from) * i as f32 / 16.0))
                .collect(),
        );
        let end = on(to);
        let way = (end - on(to - (to - from).signum() * 24.0)).normalized() * side * 0.24;
        let aside = Vec2::new(-way.y, way.x);
        line(vec![end - way + aside, end, end - way - aside]);
    };
    match icon {
        Icon::Undo => {
            line(vec![at(-0.2, -0.75), at(-0.7, -0.25), at(-0.2, 0.25)]);
            line(vec![
                at(-0.7, -0.25),
                at(0.3, -0.25),
                at(0.65, 0.1),
                at(0.65, 0.35),
                at(0.3, 0.7),
                at(-0.2, 0.7),
            ]);
        }
        Icon::Redo => {
            line(vec![at(0.2, -0.75), at(0.7, -0.25), at(0.2, 0.25)]);
            line(vec![
                at(0.7, -0.25),
                at(-0.3, -0.25),
                at(-0.65, 0.1),
                at(-0.65, 0.35),
                at(-0.3, 0.7),
                at(0.2, 0.7),
            ]);
        }
        Icon::TurnLeft => arc(60.0, -210.0),
        Icon::TurnRight => arc(120.0, 390.0),
        Icon::Mirror => {
            line(vec![at(0.0, -0.8), at(0.0, 0.8)]);
            line(vec![
                at(-0.25, -0.5),
                at(-0.8, 0.5),
                at(-0.25, 0.5),
                at(-0.25, -0.5),
            ]);
            line(vec![
                at(0.25, -0.5),
                at(0.8, 0.5),
                at(0.25, 0.5),
                at(0.25, -0.5),
            ]);
        }
        Icon::Shut => line(vec![at(-0.25, -0.5), at(0.25, 0.0), at(-0.25, 0.5)]),
        Icon::Opened => line(vec![at(-0.5, -0.25), at(0.0, 0.25), at(0.5, -0.25)]),
        Icon::Tick => line(vec![at(-0.6, 0.05), at(-0.15, 0.5), at(0.65, -0.5)]),
        Icon::Dot => {
            painter.circle_stroke(rect.center(), side * 0.2, stroke);
        }
        Icon::Disc => {
            painter.circle_filled(rect.center(), side * 0.36, colour);
        }
        Icon::Triangle => {
            let points = vec![at(0.0, -0.7), at(0.75, 0.6), at(-0.75, 0.6)];
            painter.add(Shape::convex_polygon(points, colour, Stroke::NONE));
        }
        Icon::Square => {
            painter.rect_filled(
                Rect::from_center_size(rect.center(), Vec2::splat(side * 0.64)),
                1.0,
                colour,
            );
        }
    }
}

/// A sign among words; `name` says what it means.
pub fn sign(ui: &mut Ui, icon: Icon, colour: Color32, name: &str) -> Response {
    let side = ui.text_style_height(&egui::TextStyle::Body) * 0.8;
    let (rect, response) = ui.allocate_exact_size(Vec2::splat(side), Sense::hover());
    paint(ui.painter(), icon, rect, colour);
    response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Label, true, name));
    response
}

/// A square button with a sign.
pub fn button(ui: &mut Ui, icon: Icon, enabled: bool, name: &str) -> Response {
    let side = ui.spacing().interact_size.y;
    let button = egui::Button::new("").min_size(Vec2::new(side * 1.2, side));
    let response = ui
        .add_enabled(enabled, button)
        .on_hover_text(name)
        .accessible_name(name);
    let palette = palette::of(ui);
    let colour = if enabled {
        palette.text
    } else {
        palette.quiet_text.gamma_multiply(0.5)
    };
    let rect = Rect::from_center_size(response.rect.center(), Vec2::splat(side * 0.6));
    paint(ui.painter(), icon, rect, colour);
    response
}
