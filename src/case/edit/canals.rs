//! Canals as wholes: added, named, finished, taken away, taken to another
//! film; and what is typed about their files.

use super::assessment::change_assessment;
use super::{DUPLICATE_PX, file_object_index};
use crate::case::{Canal, Case, FilmReference, LANDMARKS, ScaleObjectKind, ShapingFile};

/// States the known length (ball: diameter) of a scale object; a file's is
/// also the set length in its canal.
pub fn place_scale_length(case: &mut Case, object: usize, length_mm: Option<f64>) {
    let Some(content) = case.scale.objects.get_mut(object) else {
        return;
    };
    *content.known_size_mm_mut() = length_mm;
    if content.kind == ScaleObjectKind::File {
        let name = content.canal.clone();
        let mut canals = case.canals.iter_mut();
        if let Some(canal) = canals.find(|canal| Some(&canal.name) == name.as_ref()) {
            canal.file.get_or_insert_default().set_length_mm = length_mm;
        }
    }
}

/// States the length set on a canal's file, mm; where the file is traced, that
/// is its known length too.
pub fn set_length(case: &mut Case, canal: usize, length_mm: Option<f64>) {
    let Some(content) = case.canals.get_mut(canal) else {
        return;
    };
    content.file.get_or_insert_default().set_length_mm = length_mm;
    if let Some(object) = file_object_index(case, canal) {
        place_scale_length(case, object, length_mm);
    }
}

/// Names the files a canal is to be shaped with, in the order of use.
pub fn set_shaping_files(case: &mut Case, canal: usize, files: Vec<ShapingFile>) {
    if let Some(canal) = case.canals.get_mut(canal) {
        canal.shaping_files = files;
    }
}

/// States how far short of the working length one of them is set, mm.
pub fn set_step_back(case: &mut Case, canal: usize, file: usize, mm: f64) {
    let files = case.canals.get_mut(canal).map(|c| &mut c.shaping_files);
    if let Some(file) = files.and_then(|files| files.get_mut(file)) {
        file.step_back_mm = mm;
    }
}

/// Ends the canal's trace: reversed if it was drawn from the apex, and joined
/// to the apex where one is placed. A last point nearer to it than `joins_px`
/// was meant to be on it. Where no apex is placed the last point stays what it
/// is: an end of the line, no apex.
pub fn finish_trace(case: &mut Case, canal: usize, joins_px: f64) {
    orifice_first(case, canal);
    let Some(content) = case.canals.get_mut(canal) else {
        return;
    };
    let Some(&last) = content.trace_px.last() else {
        return;
    };
    match content.apex_px {
        None => {}
        Some(apex) if last.distance_px(apex) >= joins_px.max(DUPLICATE_PX) => {
            content.trace_px.push(apex)
        }
        Some(apex) => *content.trace_px.last_mut().expect("not empty") = apex,
    }
}

/// Reverses a trace that was drawn from the apex.
pub(super) fn orifice_first(case: &mut Case, canal: usize) {
    let is_reversed = |canal| case.runs_from_apex(canal);
    if case.canals.get(canal).is_some_and(is_reversed) {
        case.canals[canal].trace_px.reverse();
    }
}

/// A case for a film nobody has measured yet: one canal, nothing placed.
pub fn new_case(film_path: &str) -> Case {
    let mut case = Case::on_film(film_path);
    add_canal(&mut case);
    case
}

/// Adds a canal with a free name; its index.
pub fn add_canal(case: &mut Case) -> usize {
    let free = (1..)
        .map(|n| format!("Canal {n}"))
        .find(|name| case.canals.iter().all(|canal| &canal.name != name))
        .expect("there are more numbers than canals");
    case.canals.push(Canal {
        name: free,
        ..Canal::default()
    });
    case.canals.len() - 1
}

/// Renames a canal and the file that stands in it. `false`: the name is empty
/// or taken.
pub fn rename_canal(case: &mut Case, canal: usize, name: &str) -> bool {
    let name = name.trim();
    let taken = case
        .canals
        .iter()
        .enumerate()
        .any(|(i, c)| i != canal && c.name == name);
    if name.is_empty() || taken || canal >= case.canals.len() {
        return false;
    }
    let old = std::mem::replace(&mut case.canals[canal].name, name.to_owned());
    for object in &mut case.scale.objects {
        if object.canal.as_deref() == Some(old.as_str()) {
            object.canal = Some(name.to_owned());
        }
    }
    if let Some(assessment) = &mut case.assessment {
        for neighbour in &mut assessment.neighbour_canals {
            if *neighbour == old {
                name.clone_into(neighbour);
            }
        }
    }
    true
}

/// Takes away a canal and the file traced in it.
pub fn remove_canal(case: &mut Case, canal: usize) {
    if canal < case.canals.len() {
        let gone = case.canals.remove(canal);
        case.scale
            .objects
            .retain(|object| object.canal.as_ref() != Some(&gone.name));
        change_assessment(case, |assessment| {
            assessment
                .neighbour_canals
                .retain(|name| *name != gone.name);
        });
    }
}

/// The same tooth and canals for another film: all that was typed, nothing
/// that was placed.
pub fn for_second_film(case: &Case) -> Case {
    let mut second = case.clone();
    second.film = FilmReference::default();
    second.scale.objects.clear();
    for canal in &mut second.canals {
        for row in &LANDMARKS {
            row.landmark.clear(canal);
        }
        canal.trace_px.clear();
        canal.landmarks.clear();
        canal.assisted = false;
        canal.followed = None;
        canal.walls = None;
        canal.root_outline = None;
    }
    second.marks.clear();
    second
}
