//! What the film itself hinders: whether it shows the canal's apical third, and
//! what lies near its landmarks.

use super::film_check_findings::{CanalOnFilm, FILM_CHECK_CODES, FilmCheckFinding};
use super::findings::Warning;
use super::model::Model;
use super::warnings::warning;
use crate::assist::shown_stretches;
use crate::case::edit::canal_in_words;
use crate::case::{Canal, Case};
use crate::film_check::{FilmSketch, film_remarks};
use crate::units::FilmPoint;

/// Below these shares of the apical third the film shows it not, or weakly (our
/// own limits; see docs/assist.md for what phantom films give).
const NOT_SHOWN: f64 = 0.2;
const WEAKLY_SHOWN: f64 = 0.5;
/// Clicks there are then so much less certain (our own choice: a hand that sees
/// no line keeps to the root's middle, some 0.2 mm).
const NOT_SHOWN_FACTOR: f64 = 4.0;
const WEAKLY_SHOWN_FACTOR: f64 = 2.0;
/// Fewer stretches say nothing.
const LEAST_STRETCHES: usize = 4;
/// A file's tip blurs the canal beyond it this far, mm.
const AT_FILE_MM: f64 = 0.4;
/// Step along the trace, mm.
const STEP_MM: f64 = 0.1;
/// Beyond an apex the film should show this much, mm (common practice, no
/// source), and stop and tip lie so far inside it (our own limit).
const APEX_MARGIN_MM: f64 = 2.0;
const FILE_MARGIN_MM: f64 = 1.0;
/// An unexposed part this near to an apex hides what surrounds it, mm (our own
/// limit).
const UNEXPOSED_MM: f64 = 3.0;
/// More clipped samples than this around an apex are too many (our own limit).
const MOST_CLIPPED: f64 = 0.002;
/// Around an apex means this far, mm.
const AROUND_APEX_MM: f64 = 1.5;
/// Length a film is taken to have where it has no scale, mm.
const USUAL_LENGTH_MM: f64 = 40.0;

/// Looks at the film where the case has its landmarks, takes the clicks of an
/// apical third that it does not show as less certain, and says what hinders.
pub(super) fn look(
    case: &Case,
    sketch: &FilmSketch,
    size_px: [u32; 2],
    detector_mm_per_px: Option<f64>,
    model: &mut Model,
) -> (FilmCheckFinding, Vec<Warning>) {
    let [width, height] = size_px.map(f64::from);
    let mm_per_px = detector_mm_per_px.unwrap_or(USUAL_LENGTH_MM / width.max(height));
    let edge_mm = |p: FilmPoint| p.x.min(width - p.x).min(p.y).min(height - p.y) * mm_per_px;
    let mut found = FilmCheckFinding {
        remarks: film_remarks(sketch),
        ..FilmCheckFinding::default()
    };
    let mut hindered: Vec<(Hindrance, &str)> = Vec::new();
    for (index, canal) in case.canals.iter().enumerate() {
        let mut hinder = |hindrance| hindered.push((hindrance, canal.name.as_str()));
        let mut on_film = CanalOnFilm {
            name: canal.name.clone(),
            apical_third_shown: apical_third_shown(case, canal, sketch, mm_per_px),
            click_factor: 1.0,
            ..CanalOnFilm::default()
        };
        match on_film.apical_third_shown {
            Some(share) if share < NOT_SHOWN => {
                on_film.click_factor = NOT_SHOWN_FACTOR;
                hinder(Hindrance::NotShown);
            }
            Some(share) if share < WEAKLY_SHOWN => {
                on_film.click_factor = WEAKLY_SHOWN_FACTOR;
                hinder(Hindrance::WeaklyShown);
            }
            _ => {}
        }
        model.doubt_apical_third(index, on_film.click_factor);
        if let Some(apex) = canal.apex_px.or(canal.trace_px.last().copied()) {
            let margin_mm = edge_mm(apex);
            let unexposed_px = sketch.unexposed_distance_px(apex, UNEXPOSED_MM / mm_per_px);
            on_film.apex_to_edge_mm = Some(margin_mm);
            on_film.apex_to_unexposed_mm = unexposed_px.map(|px| px * mm_per_px);
            if margin_mm < APEX_MARGIN_MM {
                hinder(Hindrance::ApexNearEdge);
            }
            if unexposed_px.is_some() {
                hinder(Hindrance::UnexposedNearApex);
            }
            if sketch.clipped_share(apex, AROUND_APEX_MM / mm_per_px) > MOST_CLIPPED {
                hinder(Hindrance::ClippedAtApex);
            }
        }
        if let Some(object) = case.own_file(canal)
            && let (Some(stop), Some(tip)) = (object.points_px.first(), object.points_px.last())
            && edge_mm(*stop).min(edge_mm(*tip)) < FILE_MARGIN_MM
        {
            hinder(Hindrance::FileNearEdge);
        }
        found.canals.push(on_film);
    }
    let warnings: Vec<Warning> = Hindrance::WORST_FIRST
        .iter()
        .filter_map(|hindrance| hindrance.warning(&hindered))
        .collect();
    found.hinders = warnings.first().map(|warning| warning.text.clone());
    (found, warnings)
}

/// What hinders at a canal, in the order of [`FILM_CHECK_CODES`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Hindrance {
    NotShown,
    UnexposedNearApex,
    FileNearEdge,
    ApexNearEdge,
    ClippedAtApex,
    WeaklyShown,
}

impl Hindrance {
    const WORST_FIRST: [Self; 6] = [
        Self::NotShown,
        Self::UnexposedNearApex,
        Self::FileNearEdge,
        Self::ApexNearEdge,
        Self::ClippedAtApex,
        Self::WeaklyShown,
    ];

    /// One warning for all canals it hinders at; `None` where there is none.
    fn warning(self, hindered: &[(Self, &str)]) -> Option<Warning> {
        let own = hindered.iter().filter(|(other, _)| *other == self);
        let names: Vec<&str> = own.map(|(_, name)| *name).collect();
        let whose = match names.as_slice() {
            [] => return None,
            [one] => canal_in_words(one),
            several => format!("canals {}", several.join(", ")),
        };
        let text = match self {
            Self::NotShown => format!(
                "The apical third of {whose} does not show on this film: points there are a \
                     guess and count as {NOT_SHOWN_FACTOR:.0} times less certain."
            ),
            Self::WeaklyShown => format!(
                "The apical third of {whose} shows weakly on this film: points there count as \
                     {WEAKLY_SHOWN_FACTOR:.0} times less certain."
            ),
            Self::UnexposedNearApex => {
                format!("A part of the film near the apex of {whose} shows nothing.")
            }
            Self::FileNearEdge => format!(
                "Stop or tip of the file in {whose} lies less than 1 mm from the film's edge: \
                     check that the whole file shows."
            ),
            Self::ApexNearEdge => format!(
                "The apex of {whose} lies less than {APEX_MARGIN_MM:.0} mm from the film's \
                     edge: what surrounds it does not show."
            ),
            Self::ClippedAtApex => format!(
                "Around the apex of {whose} the film is fully black or white in places: \
                     detail is lost there."
            ),
        };
        let canal = names.first().copied().filter(|_| names.len() == 1);
        Some(warning(FILM_CHECK_CODES[self as usize], canal, text))
    }
}

/// The apical third of a trace, coronal end first.
fn apical_third(trace: &[FilmPoint]) -> Vec<FilmPoint> {
    let length: f64 = trace.windows(2).map(|w| w[0].distance_px(w[1])).sum();
    let mut left = length / 3.0;
    let mut third: Vec<FilmPoint> = trace.last().copied().into_iter().collect();
    for pair in trace.windows(2).rev() {
        let piece = pair[0].distance_px(pair[1]);
        if piece >= left {
            let share = left / piece.max(1e-12);
            third.push(FilmPoint::new(
                pair[1].x + share * (pair[0].x - pair[1].x),
                pair[1].y + share * (pair[0].y - pair[1].y),
            ));
            break;
        }
        left -= piece;
        third.push(pair[0]);
    }
    third.reverse();
    third
}

/// Points along a line, `step_px` apart.
fn evenly(line: &[FilmPoint], step_px: f64) -> Vec<FilmPoint> {
    let mut points = Vec::new();
    for pair in line.windows(2) {
        let steps = (pair[0].distance_px(pair[1]) / step_px)
            .ceil()
            .clamp(1.0, 1e4) as usize;
        points.extend((0..steps).map(|i| {
            let share = i as f64 / steps as f64;
            let along = |a: f64, b: f64| a + share * (b - a);
            FilmPoint::new(along(pair[0].x, pair[1].x), along(pair[0].y, pair[1].y))
        }));
    }
    points.extend(line.last());
    points
}

/// Share of the apical third that the film shows.
fn apical_third_shown(
    case: &Case,
    canal: &Canal,
    sketch: &FilmSketch,
    mm_per_px: f64,
) -> Option<f64> {
    if canal.trace_px.len() < 2 {
        return None;
    }
    let third = evenly(&apical_third(&canal.trace_px), STEP_MM / mm_per_px);
    // Where a file stands, steel hides the canal.
    let tip = canal.file.as_ref().and_then(|file| file.tip_px);
    let tip = tip.or(case
        .own_file(canal)
        .and_then(|f| f.points_px.last().copied()));
    let beside = |tip: FilmPoint| {
        let way = third.iter().map(|p| p.distance_px(tip)).enumerate();
        way.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(at, _)| at)
    };
    let first = match tip.and_then(beside) {
        None | Some(0) => 0,
        Some(at) => (at + (AT_FILE_MM / STEP_MM) as usize).min(third.len()),
    };
    let free = &third[first..];
    let (values, cell_px) = sketch.opacity();
    let in_cells: Vec<FilmPoint> = free
        .iter()
        .map(|p| FilmPoint::new(p.x / cell_px, p.y / cell_px))
        .collect();
    let (seen, all) = shown_stretches(
        values.width,
        values.height,
        &values.values,
        &in_cells,
        mm_per_px * cell_px,
    );
    (all >= LEAST_STRETCHES).then(|| seen as f64 / all as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_apical_third_begins_at_two_thirds_of_the_way() {
        let p = |x: f64, y: f64| FilmPoint::new(x, y);
        let third = apical_third(&[p(0.0, 0.0), p(0.0, 50.0), p(0.0, 80.0), p(10.0, 80.0)]);
        assert_eq!(third, [p(0.0, 60.0), p(0.0, 80.0), p(10.0, 80.0)]);
        assert_eq!(apical_third(&[p(0.0, 0.0), p(0.0, 30.0)])[0], p(0.0, 20.0));
    }
}
