//! Words on a film that move apart instead of lying on one another.

use egui::{Align2, Color32, FontId, Painter, Pos2, Rect, Vec2};

use super::palette;

/// Ground around words, points.
const MARGIN: Vec2 = Vec2::new(5.0, 2.0);
/// Steps aside that are tried, in heights of the label.
const MOST_STEPS: i32 = 14;

/// Labels of one frame, painted when all have found their place.
#[derive(Default)]
pub struct Labels {
    taken: Vec<Rect>,
    placed: Vec<Placed>,
}

struct Placed {
    rect: Rect,
    galley: std::sync::Arc<egui::Galley>,
    colour: Color32,
}

impl Labels {
    /// Keeps a place free of labels.
    pub fn keep_free(&mut self, rect: Rect) {
        self.taken.push(rect);
    }

    /// Finds a place for words as near to `at` as the labels before it leave;
    /// where they stand.
    pub fn add(
        &mut self,
        painter: &Painter,
        at: Pos2,
        align: Align2,
        text: &str,
        font: FontId,
        colour: Color32,
    ) -> Rect {
        let galley = painter.layout_no_wrap(text.to_owned(), font, colour);
        let wanted = align.anchor_size(at, galley.size() + MARGIN * 2.0);
        let rect = free_place(wanted, painter.clip_rect(), &self.taken);
        self.taken.push(rect);
        self.placed.push(Placed {
            rect,
            galley,
            colour,
        });
        rect
    }

    /// Paints them over all else.
    pub fn paint(self, painter: &Painter) {
        for Placed {
            rect,
            galley,
            colour,
        } in self.placed
        {
            painter.rect_filled(rect, 3.0, palette::LABEL_GROUND);
            painter.galley(rect.min + MARGIN, galley, colour);
        }
    }
}

/// `wanted`, moved within `room` and by whole heights down or up until it lies
/// on none of `taken`; where it was wanted, if there is no such place.
pub fn free_place(wanted: Rect, room: Rect, taken: &[Rect]) -> Rect {
    let within = |rect: Rect| {
        let push =
            |low: f32, high: f32, from: f32, to: f32| (from - low).max(0.0) + (to - high).min(0.0);
        rect.translate(Vec2::new(
            push(rect.left(), rect.right(), room.left(), room.right()),
            push(rect.top(), rect.bottom(), room.top(), room.bottom()),
        ))
    };
    let step = wanted.height() + 1.0;
    let steps = (0..=MOST_STEPS).flat_map(|n| [n, -n]);
    steps
        .map(|n| within(wanted.translate(Vec2::new(0.0, step * n as f32))))
        .find(|rect| !taken.iter().any(|other| other.intersects(*rect)))
        .unwrap_or_else(|| within(wanted))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_wanted_at_one_place_lie_apart_and_on_the_film() {
        let room = Rect::from_min_size(Pos2::ZERO, Vec2::new(400.0, 300.0));
        let wanted = Rect::from_min_size(Pos2::new(360.0, 250.0), Vec2::new(90.0, 18.0));
        let mut taken: Vec<Rect> = Vec::new();
        for _ in 0..12 {
            let found = free_place(wanted, room, &taken);
            assert!(room.contains_rect(found), "{found:?}");
            for other in &taken {
                assert!(!other.intersects(found), "{other:?} {found:?}");
            }
            taken.push(found);
        }
    }

    #[test]
    fn a_label_with_room_stays_where_it_is_wanted() {
        let room = Rect::from_min_size(Pos2::ZERO, Vec2::new(400.0, 300.0));
        let wanted = Rect::from_min_size(Pos2::new(10.0, 10.0), Vec2::new(90.0, 18.0));
        assert_eq!(free_place(wanted, room, &[]), wanted);
    }
}
