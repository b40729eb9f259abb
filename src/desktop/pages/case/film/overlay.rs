//! Everything drawn on the film: lines, ruler, constructions, handles.

use egui::{Align2, Color32, Painter, Pos2, Rect, Stroke, TextStyle, Vec2};

use super::super::curvature;
use super::handles::{HandleResponse, lever, lever_of_landmarks};
use super::path::place_at_mm;
use super::ruler::{gauge, ruler};
use crate::case::edit::{Handle, PlacedHandle, Tool, name_of};
use crate::case::{self, Case, Outline, ScaleObjectKind, WallSide};
use crate::curvature::{CurvatureLandmark, Method};
use crate::desktop::state::Desk;
use crate::desktop::state::preferences::Ruler;
use crate::desktop::state::reading::{CanalDrawing, Mark};
use crate::desktop::state::repeats::Repeats;
use crate::desktop::ui::film_paint::{haloed_dashes, haloed_line};
use crate::desktop::ui::labels::Labels;
use crate::desktop::ui::palette;
use crate::desktop::ui::wording::tip_in_words;
use crate::desktop::view::ViewTransform;
use crate::measure::findings::CurvatureFindings;
use crate::units::FilmPoint;

/// Half the size of a handle's sign, points.
const SIGN: f32 = 6.0;

/// Paints all of it; `kept_free` is taken by other words.
pub fn paint(
    painter: &Painter,
    desk: &Desk<'_>,
    view: &ViewTransform,
    placed: &[PlacedHandle],
    responses: &[HandleResponse],
    kept_free: &[Rect],
) {
    lines(painter, desk, view);
    if desk.session.is_blinded() {
        return;
    }
    let mut labels = Labels::default();
    for rect in kept_free {
        labels.keep_free(*rect);
    }
    let case = desk.workspace.document.case();
    let reading = desk.workspace.last_reading();
    let canal = desk.session.canal;
    // The answer's words have the first choice of place.
    tip_gap(painter, desk, view, &mut labels);
    if let Some(drawing) = reading.drawings.get(canal) {
        let found = reading.findings.canals.get(canal);
        let to_reference = found
            .and_then(|found| found.reference_to_apex_mm)
            .map(|quantity| quantity.value);
        match desk.preferences.ruler {
            Ruler::Hidden => {}
            Ruler::FromApex => ruler(painter, view, drawing, None, &mut labels),
            Ruler::FromReference => ruler(painter, view, drawing, to_reference, &mut labels),
        }
        construction(painter, desk, view, drawing, &mut labels);
        if let Some(mm) = desk.session.marked_from_apex_mm
            && let Some(at) = place_at_mm(&drawing.path, mm)
        {
            let at = view.screen_from_film(at);
            painter.circle_stroke(at, 9.0, Stroke::new(4.0, palette::HALO));
            painter.circle_stroke(at, 9.0, Stroke::new(2.0, palette::FILM_TEXT));
            let text = format!("{mm:.1} mm from the apex");
            tag(painter, at + Vec2::new(14.0, 0.0), &text, &mut labels);
        }
    }
    gauge(painter, desk, view);
    assisted_tags(painter, case, view, &mut labels);
    mark_names(painter, case, view, &mut labels);
    for one in placed {
        let response = responses
            .iter()
            .find(|response| response.handle == one.handle)
            .map(|found| &found.response);
        let focused = response.is_some_and(|response| response.has_focus());
        let named =
            focused || response.is_some_and(|response| response.hovered() || response.dragged());
        let at = view.screen_from_film(one.at);
        let lever = lever(&one.handle);
        if lever != Vec2::ZERO {
            painter.circle_filled(at, 4.0, palette::HALO);
            painter.circle_filled(at, 2.5, palette::CONSTRUCTION);
            haloed_line(painter, &[at, at + lever], 1.0, palette::CONSTRUCTION);
        }
        let at = at + lever;
        let drawn_now = desk.session.tool.takes_hold_of(case, canal, &one.handle)
            && desk.session.tool != Tool::Select;
        if named || drawn_now || !is_between(case, &one.handle) {
            handle_sign(painter, case, &one.handle, at, focused);
        } else {
            quiet_point(painter, &one.handle, at);
        }
        if named {
            let beside = at + Vec2::new(14.0, -16.0);
            tag(painter, beside, &name_of(case, &one.handle), &mut labels);
        }
    }
    labels.paint(painter);
}

/// A point of a line between its ends: a place to take hold of, no landmark.
fn is_between(case: &Case, handle: &Handle) -> bool {
    match handle {
        Handle::TracePoint { .. } | Handle::WallPoint { .. } => true,
        Handle::ScalePoint { object, index } => {
            case.scale.objects.get(*object).is_some_and(|object| {
                object.kind == ScaleObjectKind::File
                    && (1..object.points_px.len().saturating_sub(1)).contains(index)
            })
        }
        _ => false,
    }
}

/// A point that only shows where its line can be taken hold of.
fn quiet_point(painter: &Painter, handle: &Handle, at: Pos2) {
    let colour = match handle {
        Handle::ScalePoint { .. } => palette::FILE,
        Handle::WallPoint { .. } => palette::WALL,
        _ => palette::CANAL,
    };
    painter.circle_filled(at, 3.5, palette::HALO);
    painter.circle_filled(at, 2.25, colour);
}

/// Paths, files, rulers and balls: also seen through the magnifier.
pub fn lines(painter: &Painter, desk: &Desk<'_>, view: &ViewTransform) {
    if let Some(repeats) = desk.session.repeats.as_ref().filter(|r| r.is_clicking()) {
        repeated(painter, repeats, view);
        return;
    }
    let case = desk.workspace.document.case();
    for object in &case.scale.objects {
        let points: Vec<Pos2> = object
            .points_px
            .iter()
            .map(|p| view.screen_from_film(*p))
            .collect();
        match object.kind.row().outline {
            // Drawn with its canal, as the curve it is measured along.
            _ if object.kind == ScaleObjectKind::File => {}
            Outline::Line => haloed_line(painter, &points, 2.0, palette::SCALE),
            Outline::Circle => ball(painter, view, &object.points_px),
        }
    }
    for (canal, drawing) in desk.workspace.last_reading().drawings.iter().enumerate() {
        let width = if canal == desk.session.canal {
            2.0
        } else {
            1.0
        };
        let path: Vec<Pos2> = drawing
            .path
            .iter()
            .map(|s| view.screen_from_film(s.at))
            .collect();
        haloed_line(painter, &path, width, palette::CANAL);
        let file: Vec<Pos2> = drawing
            .file
            .iter()
            .map(|p| view.screen_from_film(*p))
            .collect();
        haloed_dashes(painter, &file, width, palette::FILE);
    }
    walls(painter, case, view);
}

/// What may be seen of a round of repeated presses.
fn repeated(painter: &Painter, repeats: &Repeats, view: &ViewTransform) {
    let (line, held) = repeats.visible();
    let points: Vec<Pos2> = line.iter().map(|p| view.screen_from_film(*p)).collect();
    for at in points
        .iter()
        .copied()
        .chain(held.map(|p| view.screen_from_film(p)))
    {
        let around: Vec<Pos2> = ring(SIGN * 0.75).iter().map(|v| at + *v).collect();
        haloed_line(painter, &around, 2.0, palette::CANAL);
    }
}

/// The circle through a ball's rim: of the diameter for two points.
fn ball(painter: &Painter, view: &ViewTransform, points: &[FilmPoint]) {
    if let [a, b] = points {
        let centre = view.screen_from_film(FilmPoint::new((a.x + b.x) / 2.0, (a.y + b.y) / 2.0));
        let radius = (a.distance_px(*b) / 2.0 * view.zoom) as f32;
        painter.circle_stroke(centre, radius, Stroke::new(4.0, palette::HALO));
        painter.circle_stroke(centre, radius, Stroke::new(2.0, palette::SCALE));
    }
}

/// The construction chosen, with its method's name and values and the letters
/// of its places.
fn construction(
    painter: &Painter,
    desk: &Desk<'_>,
    view: &ViewTransform,
    drawing: &CanalDrawing,
    labels: &mut Labels,
) {
    let Some(wanted) = desk.session.construction else {
        return;
    };
    let fitted: Vec<Pos2> = drawing
        .fitted
        .iter()
        .map(|p| view.screen_from_film(*p))
        .collect();
    haloed_line(painter, &fitted, 1.0, palette::CONSTRUCTION);
    let marks = drawing.constructions.iter().find(|(one, _)| *one == wanted);
    let marks = marks.map_or(&[][..], |(_, marks)| marks);
    for mark in marks {
        match mark {
            Mark::Line(points) => {
                let points: Vec<Pos2> = points.iter().map(|p| view.screen_from_film(*p)).collect();
                haloed_line(painter, &points, 1.5, palette::CONSTRUCTION);
            }
            // A handle of its own; here its letter.
            Mark::Point { at, landmark } => {
                let at = view.screen_from_film(*at);
                if let Some(letter) = letter(wanted, *landmark) {
                    let beside = at + lever_of_landmarks() + Vec2::new(12.0, -12.0);
                    let font = TextStyle::Body.resolve(&painter.ctx().global_style());
                    let colour = palette::CONSTRUCTION;
                    labels.add(painter, beside, Align2::CENTER_CENTER, letter, font, colour);
                }
            }
        }
    }
}

/// "Schneider: 24.0 ± 4.0°", for the film and those who hear it.
pub fn construction_words(method: Method, found: &CurvatureFindings) -> String {
    let values = curvature::values(method, found);
    if values.is_empty() {
        format!("{}: not available", method.name())
    } else {
        format!("{}: {}", method.name(), values.join(", "))
    }
}

/// The letter by which publications call a place of a method.
fn letter(method: Method, landmark: CurvatureLandmark) -> Option<&'static str> {
    Some(match (method, landmark) {
        (Method::Luiten, CurvatureLandmark::ApicalEnd) => "D",
        (_, CurvatureLandmark::Orifice) => "A",
        (_, CurvatureLandmark::CurveStart | CurvatureLandmark::LuitenAxis) => "B",
        (_, CurvatureLandmark::ApicalEnd | CurvatureLandmark::LuitenApical) => "C",
        _ => return None,
    })
}

/// The name of every mark beside it.
fn mark_names(painter: &Painter, case: &Case, view: &ViewTransform, labels: &mut Labels) {
    for mark in &case.marks {
        let beside = view.screen_from_film(mark.px) + Vec2::new(14.0, -10.0);
        tag(painter, beside, &mark.name, labels);
    }
}

/// Left walls solid, right walls dashed.
fn walls(painter: &Painter, case: &Case, view: &ViewTransform) {
    for walls in case.canals.iter().filter_map(|canal| canal.walls.as_ref()) {
        for side in WallSide::BOTH {
            let points = walls.side(side).iter().map(|p| view.screen_from_film(*p));
            let points: Vec<Pos2> = points.collect();
            match side {
                WallSide::Left => haloed_line(painter, &points, 1.5, palette::WALL),
                WallSide::Right => haloed_dashes(painter, &points, 1.5, palette::WALL),
            }
        }
    }
}

/// Says beside its first point that a line was suggested, not placed.
fn assisted_tags(painter: &Painter, case: &Case, view: &ViewTransform, labels: &mut Labels) {
    let files = case.scale.objects.iter().filter(|object| object.assisted);
    let files = files.map(|object| (&object.points_px, "file: assisted"));
    let canals = case.canals.iter().filter(|canal| canal.assisted);
    let canals = canals.map(|canal| (&canal.trace_px, "canal: assisted"));
    let starts = files.chain(canals);
    let starts = starts.filter_map(|(points, text)| Some((*points.first()?, text)));
    // What belongs to a suggested line is said there.
    let tips = case.canals.iter().filter_map(|canal| {
        let file = canal.file.as_ref().filter(|file| file.assisted)?;
        let of_line = case.own_file(canal).is_some_and(|object| object.assisted);
        let tip = file.tip_px.filter(|_| !of_line)?;
        Some((tip, "tip: assisted"))
    });
    let apices = case.canals.iter().filter_map(|canal| {
        let of_line = canal.assisted && canal.trace_px.last() == canal.apex_px.as_ref();
        let apex = canal.apex_px.filter(|_| canal.apex_assisted && !of_line)?;
        Some((apex, "apex: assisted"))
    });
    for (place, text) in starts.chain(tips).chain(apices) {
        let beside = view.screen_from_film(place) + Vec2::new(14.0, 14.0);
        tag(painter, beside, text, labels);
    }
}

/// The gap between tip and apex, with its length in words beside it.
fn tip_gap(painter: &Painter, desk: &Desk<'_>, view: &ViewTransform, labels: &mut Labels) {
    let case = desk.workspace.document.case();
    let canal = desk.session.canal;
    let Some(content) = case.canals.get(canal) else {
        return;
    };
    let tip = content.file.as_ref().and_then(|file| file.tip_px);
    let found = desk.workspace.last_reading().findings.canals.get(canal);
    let Some(((tip, apex), d)) = tip
        .zip(content.apex_px)
        .zip(found.and_then(|found| found.tip_to_apex_mm))
    else {
        return;
    };
    let (tip, apex) = (view.screen_from_film(tip), view.screen_from_film(apex));
    haloed_line(painter, &[tip, apex], 3.0, palette::APEX);
    let beside = apex + Vec2::new(34.0, 14.0);
    let font = TextStyle::Heading.resolve(&painter.ctx().global_style());
    labels.add(
        painter,
        beside,
        Align2::LEFT_CENTER,
        &tip_in_words(d.value),
        font,
        palette::FILM_TEXT,
    );
}

/// A handle's own shape: never told apart by colour alone.
fn handle_sign(painter: &Painter, case: &Case, handle: &Handle, at: Pos2, focused: bool) {
    let r = SIGN;
    let (colour, shape): (Color32, Vec<Vec<Vec2>>) = match handle {
        Handle::Landmark { landmark, .. } => {
            let row = landmark.row();
            let strokes = row.on_screen.iter();
            (
                palette::of_place(row.kind),
                strokes.map(|s| stroke(s, r)).collect(),
            )
        }
        Handle::CurvatureLandmark { .. } => (
            palette::CONSTRUCTION,
            vec![closed(&[(-r, -r), (r, -r), (r, r), (-r, r)])],
        ),
        Handle::TracePoint { canal, .. } => {
            let mut shape = vec![ring(r * 0.75)];
            if case.canals[*canal].assisted {
                shape.push(ring(r * 0.2));
            }
            (palette::CANAL, shape)
        }
        Handle::WallPoint { .. } => (palette::WALL, vec![ring(r * 0.6)]),
        Handle::Mark { .. } => (
            palette::MARK,
            vec![
                ring(r),
                vec![Vec2::new(-r * 1.8, 0.0), Vec2::new(r * 1.8, 0.0)],
                vec![Vec2::new(0.0, -r * 1.8), Vec2::new(0.0, r * 1.8)],
            ],
        ),
        Handle::ScalePoint { object, .. } => {
            match case.scale.objects.get(*object).map(|o| o.kind) {
                Some(ScaleObjectKind::File) | None => {
                    let s = r * 0.75;
                    let mut shape = vec![closed(&[(-s, -s), (s, -s), (s, s), (-s, s)])];
                    if case.scale.objects.get(*object).is_some_and(|o| o.assisted) {
                        shape.push(ring(r * 0.2));
                    }
                    (palette::FILE, shape)
                }
                Some(_) => (
                    palette::SCALE,
                    vec![
                        vec![Vec2::new(-r, 0.0), Vec2::new(r, 0.0)],
                        vec![Vec2::new(0.0, -r), Vec2::new(0.0, r)],
                    ],
                ),
            }
        }
    };
    for line in &shape {
        let points: Vec<Pos2> = line.iter().map(|v| at + *v).collect();
        haloed_line(painter, &points, 2.0, colour);
    }
    if focused {
        painter.circle_stroke(at, 12.0, Stroke::new(4.0, palette::HALO));
        painter.circle_stroke(at, 12.0, Stroke::new(2.0, palette::FILM_TEXT));
    }
}

/// A stroke of a landmark's sign whose half size is `r`.
fn stroke(stroke: &case::Stroke, r: f32) -> Vec<Vec2> {
    let corner = |&[x, y]: &[f64; 2]| Vec2::new(x as f32, y as f32) * r;
    match stroke {
        case::Stroke::Open(corners) => corners.iter().map(corner).collect(),
        case::Stroke::Closed(corners) => {
            corners.iter().chain(corners.first()).map(corner).collect()
        }
        case::Stroke::Ring(radius) => ring(*radius as f32 * r),
    }
}

fn closed(points: &[(f32, f32)]) -> Vec<Vec2> {
    points
        .iter()
        .chain(points.first())
        .map(|&(x, y)| Vec2::new(x, y))
        .collect()
}

fn ring(radius: f32) -> Vec<Vec2> {
    (0..=16)
        .map(|i| Vec2::angled(i as f32 / 16.0 * std::f32::consts::TAU) * radius)
        .collect()
}

/// Cross hairs with an open middle.
pub fn cross(painter: &Painter, at: Pos2) {
    for way in [Vec2::X, -Vec2::X, Vec2::Y, -Vec2::Y] {
        haloed_line(
            painter,
            &[at + way * 5.0, at + way * 22.0],
            1.0,
            palette::FILM_TEXT,
        );
    }
}

/// Small words on the film.
fn tag(painter: &Painter, at: Pos2, text: &str, labels: &mut Labels) {
    let font = TextStyle::Body.resolve(&painter.ctx().global_style());
    let colour = palette::FILM_TEXT;
    labels.add(painter, at, Align2::LEFT_CENTER, text, font, colour);
}
