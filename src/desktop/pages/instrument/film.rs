//! The film with the chosen file in its place, as light as it is bent.

use egui::{
    Align2, Color32, FontId, Id, Mesh, Painter, Pos2, Rect, Role, Sense, Shape, Stroke, TextStyle,
    Ui, Vec2, WidgetInfo,
};

use super::graph::strain_percent_at;
use super::scale::StrainScale;
use super::work::OnFilm;
use crate::desktop::state::Desk;
use crate::desktop::state::film_pane::{FilmPane, extent};
use crate::desktop::ui::film_paint::{haloed_line, label};
use crate::desktop::ui::palette;
use crate::desktop::view::ViewTransform;
use crate::instrumentation::{CanalAxis, FileFinding, FileRequest};
use crate::uncertainty::rounding::fixed;
use crate::units::FilmPoint;

/// Samples along the canal's line.
const LINE_SAMPLES: usize = 240;
/// Cross-sections of the file are this far apart, mm.
const SECTION_MM: f64 = 0.1;
/// A file is never drawn thinner than this, points.
const THINNEST: f32 = 4.0;
/// A pointer this near to the canal means a place on it, points.
const REACH: f32 = 18.0;
/// Side of the place that takes hold of the tip, points.
const TIP_SIDE: f32 = 26.0;

/// What is drawn.
pub struct Drawn<'a> {
    /// The canal's course and where it shows; `None`: its traced line alone.
    pub place: Option<(&'a CanalAxis, &'a OnFilm)>,
    /// The chosen file.
    pub file: Option<(&'a FileFinding, &'a FileRequest)>,
    pub scale: StrainScale,
    pub marked_from_apex_mm: Option<f64>,
}

/// What the pointer has done.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Moved {
    /// Tip of a file without step-back, mm from the apex.
    pub tip_from_apex_mm: Option<f64>,
    pub marked_from_apex_mm: Option<f64>,
}

/// Shows it and takes its input.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>, pane: &mut FilmPane, drawn: &Drawn<'_>) -> Moved {
    let rect = ui.available_rect_before_wrap();
    ui.allocate_rect(rect, Sense::hover());
    let size = desk.workspace.film.size_px();
    // As the case's own page shows it.
    pane.view.quarter_turns = desk.workspace.view.quarter_turns;
    pane.view.mirrored = desk.workspace.view.mirrored;
    let line = canal_line(desk, drawn);
    pane.place(rect, size, extent(line.iter().copied()));
    let film = ui.interact(rect, Id::unique("instrument film"), Sense::drag());
    let mut moved = Moved {
        // Above the film, so that a drag on it moves the file.
        tip_from_apex_mm: tip_handle(ui, pane.view, drawn),
        ..Moved::default()
    };
    pane.take_input(ui, &film, size);
    let view = pane.view;
    if let (Some((axis, on_film)), Some(pointer)) = (drawn.place, film.hover_pos()) {
        let from_apex_mm = on_film.distance_from_apex_mm(view.film_from_screen(pointer));
        let on_canal = (0.0..=axis.length_mm()).contains(&from_apex_mm);
        let foot = view.screen_from_film(on_film.place(from_apex_mm));
        if on_canal && foot.distance(pointer) <= REACH {
            moved.marked_from_apex_mm = Some(from_apex_mm);
        }
    }
    let words = in_words(drawn);
    film.widget_info(|| WidgetInfo::labeled(Role::Canvas, true, &words));

    let painter = ui.painter_at(rect);
    painter.rect_filled(rect, 0.0, palette::FILM_GROUND);
    desk.workspace.shown_tiles().paint(&painter, &view);
    let on_screen: Vec<Pos2> = line.iter().map(|&at| view.screen_from_film(at)).collect();
    haloed_line(&painter, &on_screen, 1.2, palette::CANAL);
    let font = TextStyle::Body.resolve(ui.style());
    if let (Some(place), Some((file, request))) = (drawn.place, drawn.file) {
        paint_file(&painter, &view, place, file, request, drawn.scale);
        paint_places(&painter, &view, place, file, &font);
        if let Some(mm) = drawn.marked_from_apex_mm {
            paint_marked(&painter, &view, place, (file, request), mm, &font);
        }
        legend(&painter, rect, drawn.scale, &font);
    }
    moved
}

/// The canal as a line on the film.
fn canal_line(desk: &Desk<'_>, drawn: &Drawn<'_>) -> Vec<FilmPoint> {
    if let Some((axis, on_film)) = drawn.place {
        let step = axis.length_mm() / LINE_SAMPLES as f64;
        return (0..=LINE_SAMPLES)
            .map(|k| on_film.place(axis.length_mm() - k as f64 * step))
            .collect();
    }
    let drawings = &desk.workspace.last_reading().drawings;
    let drawing = drawings.get(desk.session.canal);
    drawing.map_or(Vec::new(), |drawing| {
        drawing.path.iter().map(|sample| sample.at).collect()
    })
}

/// The handle on the file's tip; where it has been moved to.
fn tip_handle(ui: &Ui, view: ViewTransform, drawn: &Drawn<'_>) -> Option<f64> {
    let (_, on_film) = drawn.place?;
    let (file, request) = drawn.file?;
    let from_apex_at =
        |pointer: Pos2| on_film.distance_from_apex_mm(view.film_from_screen(pointer));
    let at = view.screen_from_film(on_film.place(file.tip_from_apex_mm));
    let place = Rect::from_center_size(at, Vec2::splat(TIP_SIDE));
    let id = Id::unique("instrument tip");
    let handle = ui.interact(place, id, Sense::drag());
    let words = format!(
        "Tip of {}, {} mm from the apex",
        file.file,
        fixed(file.tip_from_apex_mm, 1)
    );
    handle.widget_info(|| WidgetInfo::labeled(Role::Slider, true, &words));
    let handle = handle.on_hover_cursor(egui::CursorIcon::Grab);
    let mut tip_mm = None;
    if handle.dragged()
        && let Some(pointer) = handle.interact_pointer_pos()
    {
        // The grab may be beside the tip: what counts is how far the pointer
        // has come along the canal.
        let grabbed: f64 = match handle.drag_started() {
            true => {
                let pressed = ui.input(|input| input.pointer.press_origin());
                let from = pressed.unwrap_or(pointer);
                let offset = from_apex_at(from) - file.tip_from_apex_mm;
                ui.data_mut(|data| data.insert_temp(id, offset));
                offset
            }
            false => ui.data(|data| data.get_temp(id)).unwrap_or(0.0),
        };
        tip_mm = Some(from_apex_at(pointer) - grabbed);
    }
    Some(tip_mm? - request.step_back_mm)
}

/// The file in its place: as wide as it is, as light as it is bent; grey where
/// that is not known.
fn paint_file(
    painter: &Painter,
    view: &ViewTransform,
    (axis, on_film): (&CanalAxis, &OnFilm),
    file: &FileFinding,
    request: &FileRequest,
    scale: StrainScale,
) {
    const UNKNOWN: Color32 = Color32::from_gray(150);
    let tip_mm = file.tip_from_apex_mm;
    let Some([from, to]) = axis.reach_mm(&request.file, tip_mm) else {
        return;
    };
    let count = ((to - from) / SECTION_MM).ceil().max(1.0) as usize;
    let is_known = !file.profile.is_empty();
    let sections: Vec<(Pos2, Vec2, Color32)> = (0..=count)
        .map(|k| {
            let mm = from + (to - from) * k as f64 / count as f64;
            let here = view.screen_from_film(on_film.place(mm));
            let beyond = view.screen_from_film(on_film.place(mm - SECTION_MM));
            let along = (here - beyond).normalized();
            let points_per_mm = (here - beyond).length() / SECTION_MM as f32;
            let diameter = request.file.diameter_mm(mm - tip_mm).unwrap_or(0.0) as f32;
            let half = 0.5 * (diameter * points_per_mm).max(THINNEST);
            let strain = strain_percent_at(axis, request, tip_mm, mm).unwrap_or(0.0);
            let colour = if is_known {
                scale.colour(strain)
            } else {
                UNKNOWN
            };
            (here, along.rot90() * half, colour)
        })
        .collect();
    for side in [1.0, -1.0] {
        let edge: Vec<Pos2> = sections
            .iter()
            .map(|&(at, half, _)| at + half * side)
            .collect();
        painter.add(Shape::line(edge, Stroke::new(2.0, palette::HALO)));
    }
    let mut mesh = Mesh::default();
    for &(at, half, colour) in &sections {
        mesh.colored_vertex(at + half, colour);
        mesh.colored_vertex(at - half, colour);
    }
    for quad in 0..sections.len() as u32 - 1 {
        let first = 2 * quad;
        mesh.add_triangle(first, first + 1, first + 2);
        mesh.add_triangle(first + 1, first + 3, first + 2);
    }
    painter.add(Shape::mesh(mesh));
}

/// Tip, peak, and where the file binds.
fn paint_places(
    painter: &Painter,
    view: &ViewTransform,
    (_, on_film): (&CanalAxis, &OnFilm),
    file: &FileFinding,
    font: &FontId,
) {
    let at = |mm: f64| view.screen_from_film(on_film.place(mm));
    let words = |place: Pos2, text: &str| {
        let beside = place + Vec2::new(16.0, 0.0);
        let colour = palette::FILM_TEXT;
        label(
            painter,
            beside,
            Align2::LEFT_CENTER,
            text,
            font.clone(),
            colour,
        );
    };
    let tip = at(file.tip_from_apex_mm);
    painter.circle_stroke(tip, 8.0, Stroke::new(4.0, palette::HALO));
    painter.circle_stroke(tip, 8.0, Stroke::new(2.0, palette::FILE));
    if let Some((mm, peak)) = file.peak_from_apex_mm.zip(file.peak_strain_percent) {
        let place = at(mm);
        let corners = [
            Vec2::new(0.0, -7.0),
            Vec2::new(7.0, 0.0),
            Vec2::new(0.0, 7.0),
            Vec2::new(-7.0, 0.0),
            Vec2::new(0.0, -7.0),
        ];
        haloed_line(
            painter,
            &corners.map(|corner| place + corner),
            2.0,
            palette::FILM_TEXT,
        );
        let text = format!("peak {} %", fixed(peak.value, 1));
        words(place, &text);
    }
    if let Some(mm) = file.binds.and_then(|binds| binds.contact_from_apex_mm) {
        let (here, along) = (at(mm), at(mm - SECTION_MM) - at(mm));
        let across = along.normalized().rot90() * 14.0;
        let bar = [here - across, here + across];
        haloed_line(painter, &bar, 2.5, palette::CONSTRUCTION);
        words(here + across, "first binds here");
    }
}

/// The place that graph and film share.
fn paint_marked(
    painter: &Painter,
    view: &ViewTransform,
    (axis, on_film): (&CanalAxis, &OnFilm),
    (file, request): (&FileFinding, &FileRequest),
    mm: f64,
    font: &FontId,
) {
    let place = view.screen_from_film(on_film.place(mm));
    painter.circle_stroke(place, 5.0, Stroke::new(3.6, palette::HALO));
    painter.circle_stroke(place, 5.0, Stroke::new(1.8, palette::APEX));
    let strain = strain_percent_at(axis, request, file.tip_from_apex_mm, mm);
    let strain = strain.filter(|_| !file.profile.is_empty());
    let strain = strain.map_or(String::new(), |s| format!(", {} %", fixed(s, 1)));
    let text = format!("{} mm{strain}", fixed(mm, 1));
    let beside = place - Vec2::new(12.0, 0.0);
    let colour = palette::FILM_TEXT;
    label(
        painter,
        beside,
        Align2::RIGHT_CENTER,
        &text,
        font.clone(),
        colour,
    );
}

/// What the lightness means.
fn legend(painter: &Painter, rect: Rect, scale: StrainScale, font: &FontId) {
    const STEPS: usize = 60;
    const LENGTH: f32 = 120.0;
    let middle = rect.left_bottom() + Vec2::new(12.0, -8.0 - font.size * 0.75);
    let zero = label(
        painter,
        middle,
        Align2::LEFT_CENTER,
        "0",
        font.clone(),
        palette::FILM_TEXT,
    );
    let left = zero.right() + 4.0;
    for step in 0..STEPS {
        let share = step as f32 / (STEPS - 1) as f32;
        let colour = scale.colour(scale.top_percent * f64::from(share));
        let x = left + share * LENGTH;
        let rows = (middle.y - 6.0)..=(middle.y + 6.0);
        painter.vline(x, rows, Stroke::new(LENGTH / STEPS as f32 + 0.6, colour));
    }
    label(
        painter,
        Pos2::new(left + LENGTH + 4.0, middle.y),
        Align2::LEFT_CENTER,
        &format!("{} % strain at the surface", scale.top_percent),
        font.clone(),
        palette::FILM_TEXT,
    );
}

/// The picture in words.
fn in_words(drawn: &Drawn<'_>) -> String {
    let Some((file, _)) = drawn.file else {
        return "Film with the canal".to_owned();
    };
    let mut words = format!("Film with {} in the canal", file.file);
    if let Some((mm, peak)) = file.peak_from_apex_mm.zip(file.peak_strain_percent) {
        words += &format!(
            ", peak {} % {} mm from the apex",
            fixed(peak.value, 1),
            fixed(mm, 1)
        );
    }
    words
}
