//! Lines and words on a film, and the drag that moves one.

use egui::{Align2, Color32, FontId, Painter, Pos2, Rect, Response, Shape, Stroke, Ui, Vec2};

use super::palette;

/// A line with a dark edge.
pub fn haloed_line(painter: &Painter, points: &[Pos2], width: f32, colour: Color32) {
    if points.len() > 1 {
        painter.add(Shape::line(
            points.to_vec(),
            Stroke::new(width + 2.0, palette::HALO),
        ));
        painter.add(Shape::line(points.to_vec(), Stroke::new(width, colour)));
    }
}

/// A dashed line with a dark edge.
pub fn haloed_dashes(painter: &Painter, points: &[Pos2], width: f32, colour: Color32) {
    if points.len() > 1 {
        let edge = Stroke::new(width + 2.0, palette::HALO);
        painter.add(Shape::line(points.to_vec(), edge));
        painter.extend(Shape::dashed_line(
            points,
            Stroke::new(width, colour),
            7.0,
            5.0,
        ));
    }
}

/// Words on a dark ground, kept within the film view, in more than one line
/// where that is narrow; where they stand.
pub fn label(
    painter: &Painter,
    at: Pos2,
    align: Align2,
    text: &str,
    font: FontId,
    colour: Color32,
) -> Rect {
    let margin = Vec2::new(5.0, 2.0);
    let room = painter.clip_rect();
    let width = room.width() - margin.x * 2.0;
    let galley = painter.layout(text.to_owned(), font, colour, width);
    let mut rect = align.anchor_size(at, galley.size() + margin * 2.0);
    let push =
        |low: f32, high: f32, from: f32, to: f32| (from - low).max(0.0) + (to - high).min(0.0);
    rect = rect.translate(Vec2::new(
        push(rect.left(), rect.right(), room.left(), room.right()),
        push(rect.top(), rect.bottom(), room.top(), room.bottom()),
    ));
    painter.rect_filled(rect, 3.0, palette::LABEL_GROUND);
    painter.galley(rect.min + margin, galley, colour);
    rect
}

/// How far a held pointer has come in this frame, points. In the frame of the
/// press only what came after it counts: the way to the press is no drag.
pub fn dragged_way(ui: &Ui, held: &Response) -> Vec2 {
    let way = ui.input(|input| {
        let pointer = &input.pointer;
        match pointer.press_origin().filter(|_| held.drag_started()) {
            Some(origin) => pointer.latest_pos().map(|now| now - origin),
            None => Some(pointer.delta()),
        }
    });
    way.unwrap_or_default()
}
