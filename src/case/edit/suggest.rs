//! What assistance has found, put into a case.

use super::canals::orifice_first;
use super::{file_object_index, rounded};
use crate::case::{Case, Followed, Landmark, ScaleObject, ScaleObjectKind};
use crate::units::FilmPoint;

/// Puts a file that was found, stop face to tip, in place of the canal's own.
/// The stop face is the reference point unless one is placed elsewhere.
pub fn suggest_file(case: &mut Case, canal: usize, points_px: &[FilmPoint]) {
    let points: Vec<FilmPoint> = points_px.iter().map(|p| rounded(*p)).collect();
    let (Some(&stop), Some(&tip), Some(content)) =
        (points.first(), points.last(), case.canals.get(canal))
    else {
        return;
    };
    let name = content.name.clone();
    let set_length = content.file.as_ref().and_then(|file| file.set_length_mm);
    let object = file_object_index(case, canal).unwrap_or_else(|| {
        case.scale
            .objects
            .push(ScaleObject::new(ScaleObjectKind::File, Some(name)));
        case.scale.objects.len() - 1
    });
    let file = &mut case.scale.objects[object];
    let old_stop = file.points_px.first().copied();
    file.points_px = points;
    file.assisted = true;
    file.true_length_mm = file.true_length_mm.or(set_length);
    let content = &mut case.canals[canal];
    if content.reference_px.is_none() || content.reference_px == old_stop {
        content.reference_px = Some(stop);
    }
    Landmark::Tip.suggest(content, tip);
}

/// Puts only the tip of a file that was found: without its stop it gives no
/// scale, and the reference point stays as it is.
pub fn suggest_tip(case: &mut Case, canal: usize, tip: FilmPoint) {
    if let Some(content) = case.canals.get_mut(canal) {
        Landmark::Tip.suggest(content, rounded(tip));
    }
}

/// Puts a root's end that was found.
pub fn suggest_apex(case: &mut Case, canal: usize, apex: FilmPoint) {
    if let Some(content) = case.canals.get_mut(canal) {
        Landmark::Apex.suggest(content, rounded(apex));
    }
}

/// A trace that ends this near to the placed apex ends in it, mm: twice what a
/// followed path may be off, our own choice.
const JOINS_APEX_MM: f64 = 0.4;

/// The same where the film has no scale, px.
const JOINS_APEX_PX: f64 = 20.0;

/// Puts a canal that was followed, orifice first, in place of its trace, with
/// what the film says of it. Its end is the apex where none is placed. `mm_per_px`: scale of the film, if it
/// has one.
pub fn suggest_trace(
    case: &mut Case,
    canal: usize,
    points_px: &[FilmPoint],
    followed: Option<Followed>,
    mm_per_px: Option<f64>,
) {
    let joins_px = mm_per_px.map_or(JOINS_APEX_PX, |scale| JOINS_APEX_MM / scale);
    let Some(content) = case.canals.get_mut(canal) else {
        return;
    };
    content.trace_px = points_px.iter().map(|p| rounded(*p)).collect();
    content.assisted = true;
    content.followed = followed;
    orifice_first(case, canal);
    let content = &mut case.canals[canal];
    if let Some(end) = content.trace_px.last_mut() {
        match content.apex_px {
            Some(apex) if end.distance_px(apex) < joins_px => *end = apex,
            Some(_) => {}
            None => {
                let end = *end;
                Landmark::Apex.suggest(content, end);
            }
        }
    }
}
