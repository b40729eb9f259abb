//! Both films side by side: the canal traced on each, its path in space thrown
//! onto both, and the height of what is pointed at on the other film.

use std::sync::Arc;

use egui::{
    Align2, FontId, Id, Painter, Pos2, Rect, Response, Role, Sense, Shape, Stroke, TextStyle, Ui,
    Vec2, WidgetInfo,
};

use super::work::{Second, Shown};
use crate::case::Case;
use crate::case::edit::{Handle, name_of};
use crate::desktop::state::Desk;
use crate::desktop::state::film_pane::{FilmPane, extent};
use crate::desktop::ui::film_paint::{haloed_line, label};
use crate::desktop::ui::palette;
use crate::desktop::view::{FilmTiles, Tone, ViewTransform};
use crate::two_view::PairOnFilms;
use crate::units::FilmPoint;

/// Side of the place that takes hold of a point, points.
const HANDLE_SIDE: f32 = 18.0;
/// Between the films, points.
const GAP: f32 = 6.0;

/// The second film's own picture.
struct SecondPicture {
    of: Arc<Second>,
    tiles: FilmTiles,
}

/// State of both pictures.
#[derive(Default)]
pub struct Films {
    panes: [Option<FilmPane>; 2],
    of_case: usize,
    second: Option<SecondPicture>,
    /// Film and place pointed at in the last frame.
    pointed: Option<(usize, FilmPoint)>,
}

impl Films {
    /// Shows both films; points of the first can be moved.
    pub fn show(
        &mut self,
        ui: &mut Ui,
        desk: &mut Desk<'_>,
        second: Option<&Arc<Second>>,
        shown: Option<&Shown>,
    ) {
        self.follow(desk, second);
        let whole = ui.available_rect_before_wrap();
        ui.allocate_rect(whole, Sense::hover());
        let (left, right) = whole.split_left_right_at_fraction(0.5);
        let rects = [
            left.with_max_x(left.right() - GAP / 2.0),
            right.with_min_x(right.left() + GAP / 2.0),
        ];
        let name = shown.map(|(findings, _)| findings.canal.clone());
        let pair = shown.map(|(_, pair)| pair);
        let mut pointed = None;

        let canal = canal_of(desk, name.as_deref());
        let size = desk.workspace.film.size_px();
        let trace = |case: &Case, canal: Option<usize>| {
            let canal = canal.and_then(|canal| case.canals.get(canal));
            canal.map_or(Vec::new(), |canal| canal.trace_px.clone())
        };
        let points = trace(desk.workspace.document.case(), canal);
        let pane = self.panes[0].get_or_insert_with(|| FilmPane::new(size));
        pane.view.quarter_turns = desk.workspace.view.quarter_turns;
        pane.view.mirrored = desk.workspace.view.mirrored;
        pane.place(rects[0], size, extent(points.iter().copied()));
        let film = ui.interact(rects[0], Id::unique("two films A"), Sense::drag());
        if let Some(moved) = handles(ui, desk, pane.view, canal, rects[0]) {
            pointed = Some((0, moved));
        }
        pane.take_input(ui, &film, size);
        let views_a = pane.view;
        pointed = pointed.or(pointed_at(&film, &views_a, 0));
        let painter = ui.painter_at(rects[0]);
        painter.rect_filled(rects[0], 0.0, palette::FILM_GROUND);
        desk.workspace.shown_tiles().paint(&painter, &views_a);
        // A point may have moved in this very frame.
        let points = trace(desk.workspace.document.case(), canal);
        let one = OneFilm {
            index: 0,
            view: views_a,
            points: &points,
            shown,
            pointed: self.pointed,
        };
        one.paint(ui, &painter, rects[0], &film);

        match (second, &mut self.second) {
            (Some(second), Some(picture)) => {
                let size = second.film.size_px();
                let name = name.or_else(|| {
                    let own = canal.and_then(|c| desk.workspace.document.case().canals.get(c));
                    own.map(|canal| canal.name.clone())
                });
                let canals = &second.case.canals;
                let canal = canals.iter().position(|c| Some(&c.name) == name.as_ref());
                let points = trace(&second.case, canal);
                let pane = self.panes[1].get_or_insert_with(|| FilmPane::new(size));
                pane.place(rects[1], size, extent(points.iter().copied()));
                let film = ui.interact(rects[1], Id::unique("two films B"), Sense::drag());
                pane.take_input(ui, &film, size);
                let view = pane.view;
                pointed = pointed.or(pointed_at(&film, &view, 1));
                let painter = ui.painter_at(rects[1]);
                painter.rect_filled(rects[1], 0.0, palette::FILM_GROUND);
                picture.tiles.paint(&painter, &view);
                let one = OneFilm {
                    index: 1,
                    view,
                    points: &points,
                    shown,
                    pointed: self.pointed,
                };
                one.paint(ui, &painter, rects[1], &film);
            }
            _ => {
                let painter = ui.painter_at(rects[1]);
                painter.rect_filled(rects[1], 0.0, palette::FILM_GROUND);
                let font = TextStyle::Body.resolve(ui.style());
                title(&painter, rects[1], "B: the second film", font);
            }
        }
        if pointed != self.pointed && pair.is_some() {
            ui.ctx().request_repaint();
        }
        self.pointed = pointed;
    }

    fn follow(&mut self, desk: &Desk<'_>, second: Option<&Arc<Second>>) {
        if self.of_case != desk.session.case_count {
            self.of_case = desk.session.case_count;
            self.panes = [None, None];
            self.pointed = None;
        }
        let is_same = match (&self.second, second) {
            (Some(picture), Some(second)) => Arc::ptr_eq(&picture.of, second),
            (None, None) => true,
            _ => false,
        };
        if is_same {
            return;
        }
        self.panes[1] = None;
        self.second = second.map(|second| {
            let film = &second.film;
            let mut tone = Tone::automatic(&film.film);
            if let Some(preset) = &film.preset {
                tone.window = preset.clone();
            }
            SecondPicture {
                of: Arc::clone(second),
                tiles: FilmTiles::new(Arc::clone(&film.film), Arc::clone(&film.pyramid), tone),
            }
        });
    }
}

/// The canal shown: that of the answer, else the one worked on.
fn canal_of(desk: &Desk<'_>, name: Option<&str>) -> Option<usize> {
    let canals = &desk.workspace.document.case().canals;
    let named = name.and_then(|name| canals.iter().position(|canal| canal.name == name));
    named.or((desk.session.canal < canals.len()).then_some(desk.session.canal))
}

fn pointed_at(film: &Response, view: &ViewTransform, index: usize) -> Option<(usize, FilmPoint)> {
    let pointer = film.hover_pos().or(film.interact_pointer_pos())?;
    Some((index, view.film_from_screen(pointer)))
}

/// Points of the traced canal that a drag moves; the place of the one held or
/// pointed at.
fn handles(
    ui: &Ui,
    desk: &mut Desk<'_>,
    view: ViewTransform,
    canal: Option<usize>,
    rect: Rect,
) -> Option<FilmPoint> {
    let canal = canal?;
    let count = desk
        .workspace
        .document
        .case()
        .canals
        .get(canal)?
        .trace_px
        .len();
    let size = desk.workspace.film.size_px();
    let mut pointed = None;
    for index in 0..count {
        let case = desk.workspace.document.case();
        let at = case.canals[canal].trace_px[index];
        let handle = Handle::TracePoint { canal, index };
        let place = Rect::from_center_size(view.screen_from_film(at), Vec2::splat(HANDLE_SIDE));
        let id = Id::unique(("two films point", index));
        let response = ui.interact(place.intersect(rect), id, Sense::drag());
        let words = format!(
            "{} on film A, at {:.0}, {:.0} px",
            name_of(case, &handle),
            at.x,
            at.y
        );
        response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &words));
        if response.dragged()
            && let Some(pointer) = response.interact_pointer_pos()
        {
            let offset: Vec2 = match response.drag_started() {
                true => {
                    let pressed = ui.input(|input| input.pointer.press_origin());
                    let offset = place.center() - pressed.unwrap_or(pointer);
                    ui.data_mut(|data| data.insert_temp(id, offset));
                    offset
                }
                false => ui.data(|data| data.get_temp(id)).unwrap_or_default(),
            };
            let to = view.film_from_screen(pointer + offset);
            let to = FilmPoint::new(
                to.x.clamp(0.0, f64::from(size[0])),
                to.y.clamp(0.0, f64::from(size[1])),
            );
            desk.workspace.document.move_live(&handle, to);
            pointed = Some(to);
        } else if response.hovered() {
            pointed = Some(at);
        }
        if response.drag_stopped() {
            let label = format!("Move {}", name_of(desk.workspace.document.case(), &handle));
            desk.workspace.document.commit_live(&label);
        }
    }
    pointed
}

/// One film with what lies on it.
struct OneFilm<'a> {
    index: usize,
    view: ViewTransform,
    points: &'a [FilmPoint],
    shown: Option<&'a Shown>,
    pointed: Option<(usize, FilmPoint)>,
}

impl OneFilm<'_> {
    fn paint(&self, ui: &Ui, painter: &Painter, rect: Rect, film: &Response) {
        let font = TextStyle::Body.resolve(ui.style());
        let letter = ["A", "B"][self.index];
        let traced: Vec<Pos2> = self.on_screen(self.points.iter().copied());
        haloed_line(painter, &traced, 1.4, palette::CANAL);
        for &at in &traced {
            painter.circle_filled(at, 4.2, palette::HALO);
            painter.circle_filled(at, 3.0, palette::CANAL);
        }
        if let Some((findings, pair)) = self.shown {
            let places = findings.path_mm.iter();
            let shadow = places.filter_map(|&place| pair.film_from_space(self.index, place));
            let shadow = self.on_screen(shadow);
            for (width, colour) in [(4.0, palette::HALO), (2.0, palette::FILE)] {
                let stroke = Stroke::new(width, colour);
                painter.extend(Shape::dashed_line(&shadow, stroke, 8.0, 5.0));
            }
        }
        let mut words = format!("Film {letter} with the canal");
        if let Some(line) = self.height_line() {
            let ends = self.on_screen(line);
            haloed_line(painter, &ends, 1.6, palette::APEX);
            let [a, b] = line;
            words += &format!(
                "; the place pointed at on film {} lies on the line from {:.0}, {:.0} to {:.0}, \
                 {:.0} px",
                ["B", "A"][self.index],
                a.x,
                a.y,
                b.x,
                b.y
            );
        }
        film.widget_info(|| WidgetInfo::labeled(Role::Canvas, true, &words));
        title(painter, rect, letter, font.clone());
        if self.shown.is_some() {
            let at = rect.left_bottom() + Vec2::new(10.0, -10.0);
            let text = "solid: traced · dashed: path in space";
            let colour = palette::FILM_TEXT;
            label(painter, at, Align2::LEFT_BOTTOM, text, font, colour);
        }
    }

    /// Where on this film the place must lie that is pointed at on the other.
    fn height_line(&self) -> Option<[FilmPoint; 2]> {
        let (_, pair): &(_, PairOnFilms) = self.shown?;
        let (from, at) = self.pointed.filter(|(film, _)| *film != self.index)?;
        pair.same_height(from, at)
    }

    fn on_screen(&self, points: impl IntoIterator<Item = FilmPoint>) -> Vec<Pos2> {
        let points = points.into_iter();
        points.map(|at| self.view.screen_from_film(at)).collect()
    }
}

/// The film's letter.
fn title(painter: &Painter, rect: Rect, text: &str, font: FontId) {
    let at = rect.left_top() + Vec2::new(10.0, 10.0);
    label(
        painter,
        at,
        Align2::LEFT_TOP,
        text,
        font,
        palette::FILM_TEXT,
    );
}
