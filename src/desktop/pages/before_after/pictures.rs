//! The two films: beside each other, or one over the other by their marks.

use std::sync::Arc;
use std::time::Duration;

use egui::{
    Align2, Button, Color32, FontId, Mesh, Painter, Pos2, Rect, Sense, Shape, Slider, Stroke,
    TextureHandle, TextureOptions, Ui, Vec2,
};

use super::work::{Compared, NAMES, Side};
use crate::case::{Case, WallSide};
use crate::desktop::ui::film_paint::{dragged_way, haloed_line, label};
use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::spoken;
use crate::desktop::view::{ViewTransform, ZOOM_STEP};
use crate::shaping::Pair;
use crate::units::FilmPoint;

/// Time each film is shown while they alternate, s: far below three flashes a
/// second (WCAG 2.1, 2.3.1).
const ALTERNATION_S: f64 = 0.7;

/// How the films are shown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Mode {
    #[default]
    Beside,
    Flicker,
    Overlay,
    Split,
}

impl Mode {
    const ALL: [(Self, &'static str, &'static str); 4] = [
        (Self::Beside, "Side by side", "Each film as it is"),
        (Self::Flicker, "Flicker", "Both in turn at one place"),
        (Self::Overlay, "Overlay", "One through the other"),
        (
            Self::Split,
            "Split",
            "Before to the left of a line, after to its right",
        ),
    ];
}

/// Textures and the way they are looked at.
pub struct Pictures {
    textures: [Option<TextureHandle>; 2],
    mode: Mode,
    /// Share of the second film: how much it covers, or how far.
    share: f32,
    hides_marks: bool,
    view: Option<ViewTransform>,
}

impl Default for Pictures {
    fn default() -> Self {
        Self {
            textures: [None, None],
            mode: Mode::Beside,
            share: 0.5,
            hides_marks: false,
            view: None,
        }
    }
}

impl Pictures {
    /// Another film has come to that place.
    pub fn forget(&mut self, place: usize) {
        self.textures[place] = None;
        self.view = None;
    }

    /// Shows them; over each other once they are compared.
    pub fn show(
        &mut self,
        ui: &mut Ui,
        sides: &[Option<Arc<Side>>; 2],
        compared: Option<&Compared>,
    ) {
        self.modes(ui, compared.is_some());
        let rect = ui.available_rect_before_wrap().shrink2(Vec2::new(0.0, 2.0));
        ui.painter().rect_filled(rect, 0.0, palette::FILM_GROUND);
        for (place, side) in sides.iter().enumerate() {
            if let (Some(side), None) = (side, &self.textures[place]) {
                let name = format!("{} shaping", NAMES[place]);
                let picture = side.shown.clone();
                let texture = ui.ctx().load_texture(name, picture, TextureOptions::LINEAR);
                self.textures[place] = Some(texture);
            }
        }
        match compared {
            Some(compared) if self.mode != Mode::Beside => self.registered(ui, rect, compared),
            _ => self.beside(ui, rect, sides, compared),
        }
    }

    fn modes(&mut self, ui: &mut Ui, is_compared: bool) {
        ui.horizontal_wrapped(|ui| {
            ui.add_enabled_ui(is_compared, |ui| {
                for (mode, name, hint) in Mode::ALL {
                    let button = Button::selectable(self.mode == mode, name);
                    let button = button.frame_when_inactive(true);
                    if ui.add(button).on_hover_text(hint).clicked() {
                        self.mode = mode;
                        ui.ctx().request_repaint();
                    }
                }
            });
            if is_compared && matches!(self.mode, Mode::Overlay | Mode::Split) {
                let slider = Slider::new(&mut self.share, 0.0..=1.0).show_value(false);
                ui.add(slider)
                    .on_hover_text("How much of the film after is seen")
                    .accessible_name("Share of the film after");
            }
            ui.checkbox(&mut self.hides_marks, "Bare films");
        });
    }

    /// Each film in a half of its own, as it is.
    fn beside(
        &self,
        ui: &Ui,
        rect: Rect,
        sides: &[Option<Arc<Side>>; 2],
        compared: Option<&Compared>,
    ) {
        let (left, right) = rect.split_left_right_at_fraction(0.5);
        for (place, half) in [left, right].into_iter().enumerate() {
            let half = half.shrink(3.0);
            let painter = ui.painter().with_clip_rect(half);
            if let (Some(side), Some(texture)) = (&sides[place], &self.textures[place]) {
                let view = ViewTransform::fitted(half, side.film.size_px());
                let to_screen = |p: FilmPoint| view.screen_from_film(p);
                film(&painter, texture, side, 1.0, to_screen);
                if !self.hides_marks {
                    let case = compared_case(compared, place).unwrap_or(&side.case);
                    drawn(&painter, case, place, to_screen);
                }
            }
            name(ui, &painter, half, NAMES[place]);
        }
    }

    /// Both in the frame of the first film.
    fn registered(&mut self, ui: &mut Ui, rect: Rect, compared: &Compared) {
        let pair = &compared.comparison.pair;
        let size = compared.sides[0].film.size_px();
        let view = self
            .view
            .get_or_insert_with(|| ViewTransform::fitted(rect, size));
        view.move_to_viewport(rect, size);
        let response = ui.allocate_rect(rect, Sense::drag());
        if response.dragged() {
            view.pan(dragged_way(ui, &response));
        }
        if let Some(at) = response.hover_pos() {
            let notches = ui.input(|input| input.smooth_scroll_delta().y / 50.0);
            if notches != 0.0 {
                view.zoom_about(at, ZOOM_STEP.powf(f64::from(notches)));
            }
        }
        view.keep_on_film(size);
        let view = *view;
        let [before, after] = &compared.sides;
        let [Some(first), Some(second)] = &self.textures else {
            return;
        };
        let on_first = |p: FilmPoint| view.screen_from_film(p);
        let on_second = |p: FilmPoint| view.screen_from_film(onto_first(pair, p));
        let painter = ui.painter().with_clip_rect(rect);
        let lines_of = |painter: &Painter, place: usize| {
            if !self.hides_marks {
                match place {
                    0 => drawn(painter, &pair.before.case, place, on_first),
                    _ => drawn(painter, &pair.after.case, place, on_second),
                }
            }
        };
        match self.mode {
            Mode::Flicker | Mode::Beside => {
                let time = ui.input(|input| input.time) / ALTERNATION_S;
                let place = usize::from(time.rem_euclid(2.0) >= 1.0);
                match place {
                    0 => film(&painter, first, before, 1.0, on_first),
                    _ => film(&painter, second, after, 1.0, on_second),
                }
                lines_of(&painter, place);
                name(ui, &painter, rect, NAMES[place]);
                let rest = (1.0 - time.fract()) * ALTERNATION_S;
                ui.ctx()
                    .request_repaint_after(Duration::from_secs_f64(rest.max(0.02)));
            }
            Mode::Overlay => {
                film(&painter, first, before, 1.0, on_first);
                film(&painter, second, after, self.share, on_second);
                lines_of(&painter, 0);
                lines_of(&painter, 1);
                name(ui, &painter, rect, "Before and after");
            }
            Mode::Split => {
                let x = rect.left() + rect.width() * (1.0 - self.share);
                let (left, right) = rect.split_left_right_at_x(x);
                let (of_left, of_right) =
                    (painter.with_clip_rect(left), painter.with_clip_rect(right));
                film(&of_left, first, before, 1.0, on_first);
                film(&of_right, second, after, 1.0, on_second);
                lines_of(&of_left, 0);
                lines_of(&of_right, 1);
                haloed_line(
                    &painter,
                    &[Pos2::new(x, rect.top()), Pos2::new(x, rect.bottom())],
                    1.5,
                    palette::FILM_TEXT,
                );
                name(ui, &painter, rect, "Before left, after right of the line");
            }
        }
    }
}

/// The case as it was compared: with walls that were followed.
fn compared_case(compared: Option<&Compared>, place: usize) -> Option<&Case> {
    let pair = &compared?.comparison.pair;
    Some(match place {
        0 => &pair.before.case,
        _ => &pair.after.case,
    })
}

/// A place of the second film on the first.
fn onto_first(pair: &Pair, p: FilmPoint) -> FilmPoint {
    pair.film_from_mm(pair.after_mm(p, &pair.registration.transform))
}

/// The film's four corners as they come to lie on the screen: the way there is
/// a similarity, so that what lies between is right too.
fn film(
    painter: &Painter,
    texture: &TextureHandle,
    side: &Side,
    opacity: f32,
    to_screen: impl Fn(FilmPoint) -> Pos2,
) {
    let [width, height] = side.film.size_px().map(f64::from);
    let shade = (opacity.clamp(0.0, 1.0) * 255.0).round() as u8;
    let mut mesh = Mesh::with_texture(texture.id());
    for (x, y) in [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)] {
        mesh.vertices.push(egui::epaint::Vertex {
            pos: to_screen(FilmPoint::new(x * width, y * height)),
            uv: Pos2::new(x as f32, y as f32),
            color: Color32::from_white_alpha(shade),
        });
    }
    mesh.indices.extend([0, 1, 2, 0, 2, 3]);
    painter.add(Shape::mesh(mesh));
}

/// Marks, canals and walls of a case.
fn drawn(painter: &Painter, case: &Case, place: usize, to_screen: impl Fn(FilmPoint) -> Pos2) {
    // Thin, with thin edges: the canal between its walls must stay in sight.
    let line = |points: &[FilmPoint], width: f32, colour: Color32| {
        let points: Vec<Pos2> = points.iter().map(|&p| to_screen(p)).collect();
        let edge = Stroke::new(width + 0.8, palette::HALO);
        if place == 0 {
            painter.add(Shape::line(points.clone(), edge));
            painter.add(Shape::line(points, Stroke::new(width, colour)));
        } else {
            painter.extend(Shape::dashed_line(&points, edge, 6.0, 4.0));
            painter.extend(Shape::dashed_line(
                &points,
                Stroke::new(width, colour),
                6.0,
                4.0,
            ));
        }
    };
    for canal in &case.canals {
        line(&canal.trace_px, 0.8, palette::CANAL);
        if let Some(walls) = &canal.walls {
            for side in WallSide::BOTH {
                line(walls.side(side), 1.2, palette::WALL);
            }
        }
    }
    for mark in &case.marks {
        let at = to_screen(mark.px);
        // Names are kept within the view: those of marks beyond it are not meant.
        if !painter.clip_rect().expand(6.0).contains(at) {
            continue;
        }
        painter.circle_stroke(at, 8.0, Stroke::new(3.0, palette::HALO));
        painter.circle_stroke(at, 8.0, Stroke::new(1.5, palette::MARK));
        let beside = at + Vec2::new(11.0, -11.0);
        let font = FontId::proportional(12.0);
        label(
            painter,
            beside,
            Align2::LEFT_CENTER,
            &mark.name,
            font,
            palette::FILM_TEXT,
        );
    }
}

/// Which film is seen, at its head.
fn name(ui: &Ui, painter: &Painter, rect: Rect, words: &str) {
    let font = egui::TextStyle::Body.resolve(ui.style());
    let head = rect.center_top() + Vec2::new(0.0, 8.0);
    let shown = label(
        painter,
        head,
        Align2::CENTER_TOP,
        words,
        font,
        palette::FILM_TEXT,
    );
    let id = egui::Id::unique(("film before or after", rect.left() as i32));
    spoken(
        &ui.interact(shown, id, Sense::hover()),
        &format!("Shown: {words}"),
    );
}
