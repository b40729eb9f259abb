//! What a click, a drag or a key does to a case. Pure functions on [`Case`].

use super::handle::{Handle, canal_of, coincident, position_mut};
use crate::case::{Canal, CanalFile, Case, ScaleObject, ScaleObjectKind};
use crate::units::FilmPoint;

/// Points nearer than this to the last one are the same click (docs/methods.md 2).
const DUPLICATE_PX: f64 = 0.5;

/// Places are kept to a ten-thousandth of a px: far below any click, and short
/// in the case file, where they then come back exactly.
pub fn kept(at: FilmPoint) -> FilmPoint {
    const STEPS_PER_PX: f64 = 1e4;
    let round = |v: f64| (v * STEPS_PER_PX).round() / STEPS_PER_PX;
    FilmPoint::new(round(at.x), round(at.y))
}

/// What a click on the film means.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Tool {
    /// Moves what is there.
    #[default]
    Select,
    /// Stop face, tip, then bends of the file in the canal.
    File,
    /// Two ends of a ruler's known distance.
    Ruler,
    /// Ends of a ball's diameter, or three and more points on its rim.
    Ball,
    /// The canal, orifice to apex.
    Trace,
    /// Coronal reference point.
    Reference,
    /// File tip alone.
    Tip,
    /// Radiographic apex.
    Apex,
    /// Foramen, where visible.
    Foramen,
    /// One click on the shank: the file is looked for.
    FindFile,
    /// Orifice and apex: the canal between them is looked for.
    FollowCanal,
}

impl Tool {
    /// A click adds a point.
    pub fn places(self) -> bool {
        self != Tool::Select
    }

    /// A click asks for a suggestion instead of adding a point.
    pub fn assists(self) -> bool {
        matches!(self, Tool::FindFile | Tool::FollowCanal)
    }

    /// A press on this point takes hold of it: all of them without a tool; with
    /// one those of its own kind, so that a new point can lie as close to the
    /// others as it does in the tooth.
    pub fn takes_hold_of(self, case: &Case, canal: usize, handle: &Handle) -> bool {
        self == Tool::Select
            || coincident(case, handle)
                .iter()
                .any(|one| self.has_placed(case, canal, one))
    }

    /// A point that this tool places in this canal.
    fn has_placed(self, case: &Case, canal: usize, handle: &Handle) -> bool {
        let is_own = canal_of(case, handle).is_none_or(|of| of == canal);
        let kind = match handle {
            Handle::ScalePoint { object, .. } => {
                case.scale.objects.get(*object).map(|object| object.kind)
            }
            _ => None,
        };
        is_own
            && match self {
                Tool::Select | Tool::FindFile | Tool::FollowCanal => false,
                Tool::File => {
                    kind == Some(ScaleObjectKind::File)
                        || matches!(handle, Handle::Tip { .. } | Handle::Reference { .. })
                }
                Tool::Ruler => kind == Some(ScaleObjectKind::Ruler),
                Tool::Ball => kind == Some(ScaleObjectKind::Ball),
                Tool::Trace => {
                    matches!(handle, Handle::TracePoint { .. }) && !trace_is_derived(case, canal)
                }
                Tool::Reference => matches!(handle, Handle::Reference { .. }),
                Tool::Tip => matches!(handle, Handle::Tip { .. }),
                Tool::Apex => matches!(handle, Handle::Apex { .. }),
                Tool::Foramen => matches!(handle, Handle::Foramen { .. }),
            }
    }
}

/// What a click has done.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed {
    /// The new point, so that the same press can still move it.
    pub handle: Handle,
    /// The step's name.
    pub label: &'static str,
    /// The tool for the next click.
    pub next: Tool,
    /// The known length of this object is what is missing now.
    pub wants_length_of: Option<usize>,
}

/// Adds the point a click with `tool` means; `None` when it means nothing
/// (no such canal, or the same place twice).
pub fn place(case: &mut Case, tool: Tool, canal: usize, at: FilmPoint) -> Option<Placed> {
    let at = kept(at);
    let placed = |handle, label, next| Placed {
        handle,
        label,
        next,
        wants_length_of: None,
    };
    match tool {
        Tool::Select | Tool::FindFile | Tool::FollowCanal => None,
        Tool::File => place_file_point(case, canal, at),
        Tool::Ruler => place_object_point(case, ScaleObjectKind::Ruler, at),
        Tool::Ball => place_object_point(case, ScaleObjectKind::Ball, at),
        Tool::Trace => {
            let replaces_derived = trace_is_derived(case, canal);
            let trace = &mut case.canals.get_mut(canal)?.trace_px;
            if replaces_derived {
                trace.clear();
            }
            if trace
                .last()
                .is_some_and(|last| last.distance_px(at) < DUPLICATE_PX)
            {
                return None;
            }
            trace.push(at);
            let index = trace.len() - 1;
            case.canals[canal].assisted = false;
            let handle = Handle::TracePoint { canal, index };
            Some(placed(handle, "Add canal point", Tool::Trace))
        }
        Tool::Reference => {
            case.canals.get_mut(canal)?.reference_px = Some(at);
            Some(placed(
                Handle::Reference { canal },
                "Place reference point",
                Tool::Select,
            ))
        }
        Tool::Tip => {
            // The file's trace ends at its tip.
            if let Some(object) = file_object_index(case, canal)
                && case.scale.objects[object].points_px.len() >= 2
                && let Some(last) = case.scale.objects[object].points_px.last_mut()
            {
                *last = at;
            }
            let content = case.canals.get_mut(canal)?;
            content.file.get_or_insert_with(CanalFile::default).tip_px = Some(at);
            Some(placed(
                Handle::Tip { canal },
                "Place file tip",
                Tool::Select,
            ))
        }
        Tool::Apex => {
            case.canals.get_mut(canal)?.apex_px = Some(at);
            Some(placed(Handle::Apex { canal }, "Place apex", Tool::Select))
        }
        Tool::Foramen => {
            case.canals.get_mut(canal)?.foramen_px = Some(at);
            Some(placed(
                Handle::Foramen { canal },
                "Place foramen",
                Tool::Select,
            ))
        }
    }
}

/// The file traced in a canal, as an index into the scale objects.
pub fn file_object_index(case: &Case, canal: usize) -> Option<usize> {
    let name = &case.canals.get(canal)?.name;
    case.scale.objects.iter().position(|object| {
        object.kind == ScaleObjectKind::File && object.canal.as_ref() == Some(name)
    })
}

/// First click: stop face, which is the reference point unless one is placed.
/// Second: tip. Further ones bend the line where they are.
fn place_file_point(case: &mut Case, canal: usize, at: FilmPoint) -> Option<Placed> {
    let name = case.canals.get(canal)?.name.clone();
    let object = file_object_index(case, canal).unwrap_or_else(|| {
        case.scale
            .objects
            .push(new_object(ScaleObjectKind::File, Some(name)));
        case.scale.objects.len() - 1
    });
    let set_length = case.canals[canal]
        .file
        .as_ref()
        .and_then(|file| file.set_length_mm);
    let content = &mut case.scale.objects[object];
    content.assisted = false;
    if content.true_length_mm.is_none() {
        content.true_length_mm = set_length;
    }
    let wants_length = content.true_length_mm.is_none();
    match content.points_px.len() {
        0 => {
            content.points_px.push(at);
            case.canals[canal].reference_px.get_or_insert(at);
            Some(Placed {
                handle: Handle::ScalePoint { object, index: 0 },
                label: "Place stop face",
                next: Tool::File,
                wants_length_of: None,
            })
        }
        1 if content.points_px[0].distance_px(at) < DUPLICATE_PX => None,
        1 => {
            content.points_px.push(at);
            let file = case.canals[canal]
                .file
                .get_or_insert_with(CanalFile::default);
            file.tip_px = Some(at);
            let has_apex = case.canals[canal].apex_px.is_some();
            Some(Placed {
                handle: Handle::ScalePoint { object, index: 1 },
                label: "Place file tip",
                next: if has_apex { Tool::Select } else { Tool::Apex },
                wants_length_of: wants_length.then_some(object),
            })
        }
        _ => {
            let index = insert_into(&mut content.points_px, at)?;
            Some(Placed {
                handle: Handle::ScalePoint { object, index },
                label: "Bend the file's line",
                next: Tool::File,
                wants_length_of: None,
            })
        }
    }
}

/// Puts a file that was found, stop face to tip, in place of the canal's own.
/// The stop face is the reference point unless one is placed elsewhere.
pub fn suggest_file(case: &mut Case, canal: usize, points_px: &[FilmPoint]) {
    let points: Vec<FilmPoint> = points_px.iter().map(|p| kept(*p)).collect();
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
            .push(new_object(ScaleObjectKind::File, Some(name)));
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
    content.file.get_or_insert_with(CanalFile::default).tip_px = Some(tip);
}

/// A trace that ends this near to the placed apex ends in it, mm: twice what a
/// followed path may be off, our own choice.
const JOINS_APEX_MM: f64 = 0.4;
/// The same where the film has no scale, px.
const JOINS_APEX_PX: f64 = 20.0;

/// Puts a canal that was followed, orifice first, in place of its trace. Its
/// end is the apex where none is placed. `mm_per_px`: scale of the film, if it
/// has one.
pub fn suggest_trace(
    case: &mut Case,
    canal: usize,
    points_px: &[FilmPoint],
    mm_per_px: Option<f64>,
) {
    let joins_px = mm_per_px.map_or(JOINS_APEX_PX, |scale| JOINS_APEX_MM / scale);
    let Some(content) = case.canals.get_mut(canal) else {
        return;
    };
    content.trace_px = points_px.iter().map(|p| kept(*p)).collect();
    content.assisted = true;
    orifice_first(case, canal);
    let content = &mut case.canals[canal];
    if let Some(end) = content.trace_px.last_mut() {
        match content.apex_px {
            Some(apex) if end.distance_px(apex) < joins_px => *end = apex,
            Some(_) => {}
            None => content.apex_px = Some(*end),
        }
    }
}

/// Two clicks make a ruler; a ball takes all further ones.
fn place_object_point(case: &mut Case, kind: ScaleObjectKind, at: FilmPoint) -> Option<Placed> {
    let open = case.scale.objects.iter().rposition(|object| {
        object.kind == kind && (kind == ScaleObjectKind::Ball || object.points_px.len() < 2)
    });
    let object = open.unwrap_or_else(|| {
        case.scale.objects.push(new_object(kind, None));
        case.scale.objects.len() - 1
    });
    let content = &mut case.scale.objects[object];
    if content
        .points_px
        .iter()
        .any(|p| p.distance_px(at) < DUPLICATE_PX)
    {
        return None;
    }
    content.points_px.push(at);
    let index = content.points_px.len() - 1;
    let (label, next) = match kind {
        ScaleObjectKind::Ball => ("Place ball point", Tool::Ball),
        _ if index == 0 => ("Place ruler end", Tool::Ruler),
        _ => ("Place ruler end", Tool::Select),
    };
    let unknown = content.true_length_mm.is_none() && content.true_diameter_mm.is_none();
    Some(Placed {
        handle: Handle::ScalePoint { object, index },
        label,
        next,
        wants_length_of: (index == 1 && unknown).then_some(object),
    })
}

fn new_object(kind: ScaleObjectKind, canal: Option<String>) -> ScaleObject {
    ScaleObject {
        kind,
        canal,
        true_length_mm: None,
        true_diameter_mm: None,
        nominal: false,
        points_px: Vec::new(),
        assisted: false,
        extra: serde_json::Map::new(),
    }
}

/// States the known length (ball: diameter) of a scale object; a file's is
/// also the set length in its canal.
pub fn place_scale_length(case: &mut Case, object: usize, length_mm: Option<f64>) {
    let Some(content) = case.scale.objects.get_mut(object) else {
        return;
    };
    match content.kind {
        ScaleObjectKind::Ball => content.true_diameter_mm = length_mm,
        ScaleObjectKind::Ruler => content.true_length_mm = length_mm,
        ScaleObjectKind::File => {
            content.true_length_mm = length_mm;
            let canal = content.canal.clone();
            if let Some(canal) = case
                .canals
                .iter_mut()
                .find(|c| Some(&c.name) == canal.as_ref())
            {
                canal
                    .file
                    .get_or_insert_with(CanalFile::default)
                    .set_length_mm = length_mm;
            }
        }
    }
}

/// Moves a handle, and with it all that coincide with it.
pub fn move_to(case: &mut Case, handle: &Handle, to: FilmPoint) {
    let to = kept(to);
    if let Handle::Landmark { canal, name } = handle {
        if let Some(canal) = case.canals.get_mut(*canal) {
            canal.landmarks.insert(name.clone(), to);
        }
        return;
    }
    for one in coincident(case, handle) {
        if let Some(at) = position_mut(case, &one) {
            *at = to;
        }
        mark_as_own(case, &one);
    }
}

/// A point moved by hand is no longer the assistant's.
fn mark_as_own(case: &mut Case, handle: &Handle) {
    match handle {
        Handle::ScalePoint { object, .. } => case.scale.objects[*object].assisted = false,
        Handle::TracePoint { canal, .. } => case.canals[*canal].assisted = false,
        _ => {}
    }
}

/// Takes away a handle and all that coincide with it; objects without points
/// go too.
pub fn delete(case: &mut Case, handle: &Handle) {
    let derived = (0..case.canals.len())
        .map(|canal| trace_is_derived(case, canal))
        .collect::<Vec<_>>();
    // Later indices first, so that earlier ones stay true.
    let mut going = coincident(case, handle);
    going.reverse();
    for one in going {
        match one {
            Handle::ScalePoint { object, index } => {
                case.scale.objects[object].points_px.remove(index);
            }
            Handle::TracePoint { canal, index } => {
                case.canals[canal].trace_px.remove(index);
                case.canals[canal].assisted = false;
            }
            Handle::Reference { canal } => case.canals[canal].reference_px = None,
            Handle::Tip { canal } => {
                if let Some(file) = &mut case.canals[canal].file {
                    file.tip_px = None;
                }
            }
            Handle::Apex { canal } => case.canals[canal].apex_px = None,
            Handle::Foramen { canal } => case.canals[canal].foramen_px = None,
            Handle::Landmark { canal, name } => {
                case.canals[canal].landmarks.remove(&name);
            }
        }
    }
    case.scale
        .objects
        .retain(|object| !object.points_px.is_empty());
    for (canal, _) in derived.iter().enumerate().filter(|(_, derived)| **derived) {
        case.canals[canal].trace_px.clear();
    }
}

/// Inserts a point on the line that `handle` belongs to, half way to its next
/// point (last point: from the one before).
pub fn insert_next(case: &mut Case, handle: &Handle) -> Option<Handle> {
    let line = |points: &mut Vec<FilmPoint>, index: usize| {
        let first = index.min(points.len().checked_sub(2)?);
        let (a, b) = (points[first], points[first + 1]);
        let middle = kept(FilmPoint::new((a.x + b.x) / 2.0, (a.y + b.y) / 2.0));
        points.insert(first + 1, middle);
        Some(first + 1)
    };
    // A landmark stands for the line point it coincides with.
    let on_line = coincident(case, handle)
        .into_iter()
        .find(|one| matches!(one, Handle::ScalePoint { .. } | Handle::TracePoint { .. }))?;
    match on_line {
        Handle::ScalePoint { object, index } => {
            let content = case.scale.objects.get_mut(object)?;
            if content.kind != ScaleObjectKind::File {
                return None;
            }
            let index = line(&mut content.points_px, index)?;
            Some(Handle::ScalePoint { object, index })
        }
        Handle::TracePoint { canal, index } => {
            let index = line(&mut case.canals.get_mut(canal)?.trace_px, index)?;
            Some(Handle::TracePoint { canal, index })
        }
        _ => None,
    }
}

/// Inserts `at` into the line that `on` names, where it is nearest.
pub fn insert_near(case: &mut Case, on: &Handle, at: FilmPoint) -> Option<Handle> {
    let at = kept(at);
    match on {
        Handle::ScalePoint { object, .. } => {
            let object = *object;
            let index = insert_into(&mut case.scale.objects.get_mut(object)?.points_px, at)?;
            Some(Handle::ScalePoint { object, index })
        }
        Handle::TracePoint { canal, .. } => {
            let canal = *canal;
            let index = insert_into(&mut case.canals.get_mut(canal)?.trace_px, at)?;
            Some(Handle::TracePoint { canal, index })
        }
        _ => None,
    }
}

/// Inserts a point between the two neighbours whose segment is nearest.
fn insert_into(points: &mut Vec<FilmPoint>, at: FilmPoint) -> Option<usize> {
    if points.iter().any(|p| p.distance_px(at) < DUPLICATE_PX) {
        return None;
    }
    let nearest = points
        .windows(2)
        .map(|pair| distance_to_segment_px(at, pair[0], pair[1]))
        .enumerate()
        .min_by(|a, b| a.1.total_cmp(&b.1))?
        .0;
    points.insert(nearest + 1, at);
    Some(nearest + 1)
}

/// Distance of `p` from the segment `a`–`b`, px.
fn distance_to_segment_px(p: FilmPoint, a: FilmPoint, b: FilmPoint) -> f64 {
    let (dx, dy) = (b.x - a.x, b.y - a.y);
    let length_squared = dx * dx + dy * dy;
    if length_squared == 0.0 {
        return p.distance_px(a);
    }
    let t = (((p.x - a.x) * dx + (p.y - a.y) * dy) / length_squared).clamp(0.0, 1.0);
    p.distance_px(FilmPoint::new(a.x + t * dx, a.y + t * dy))
}

/// Ends the canal's trace at its apex, turned round if it was drawn from there:
/// joins a placed apex, or makes the last
/// point the apex where none is placed. A last point nearer to it than
/// `joins_px` was meant to be on it.
pub fn finish_trace(case: &mut Case, canal: usize, joins_px: f64) {
    orifice_first(case, canal);
    let Some(content) = case.canals.get_mut(canal) else {
        return;
    };
    let Some(&last) = content.trace_px.last() else {
        return;
    };
    match content.apex_px {
        None => content.apex_px = Some(last),
        Some(apex) if last.distance_px(apex) >= joins_px.max(DUPLICATE_PX) => {
            content.trace_px.push(apex)
        }
        Some(apex) => *content.trace_px.last_mut().expect("not empty") = apex,
    }
}

/// Turns a trace round that was drawn from the apex.
fn orifice_first(case: &mut Case, canal: usize) {
    let is_reversed = |canal| case.runs_from_apex(canal);
    if case.canals.get(canal).is_some_and(is_reversed) {
        case.canals[canal].trace_px.reverse();
    }
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
    true
}

/// Takes away a canal and the file traced in it.
pub fn remove_canal(case: &mut Case, canal: usize) {
    if canal < case.canals.len() {
        let gone = case.canals.remove(canal);
        case.scale
            .objects
            .retain(|object| object.canal.as_ref() != Some(&gone.name));
    }
}

/// The same tooth and canals for another film: all that was typed, nothing
/// that was placed.
pub fn for_second_film(case: &Case) -> Case {
    let mut second = case.clone();
    second.film = crate::case::FilmReference::default();
    second.scale.objects.clear();
    for canal in &mut second.canals {
        canal.reference_px = None;
        canal.trace_px.clear();
        canal.apex_px = None;
        canal.foramen_px = None;
        canal.landmarks.clear();
        canal.assisted = false;
        if let Some(file) = &mut canal.file {
            file.tip_px = None;
        }
    }
    second
}

/// The canal's path where none was traced: the file's line, prolonged to the
/// apex; a tip beyond the apex is left out. `None` without file or apex.
fn derived_trace(case: &Case, canal: usize) -> Option<Vec<FilmPoint>> {
    let apex = case.canals.get(canal)?.apex_px?;
    let mut points = case.scale.objects[file_object_index(case, canal)?]
        .points_px
        .clone();
    if points.len() < 2 {
        return None;
    }
    // Drop every point that lies beyond the apex along the line.
    while let [.., before, last] = points.as_slice() {
        let along =
            (apex.x - last.x) * (last.x - before.x) + (apex.y - last.y) * (last.y - before.y);
        if along > 0.0 || points.len() == 1 {
            break;
        }
        points.pop();
    }
    if points.last()?.distance_px(apex) < DUPLICATE_PX {
        points.pop();
    }
    points.push(apex);
    (points.len() >= 2).then_some(points)
}

/// The canal's trace is empty or follows from its file and apex.
fn trace_is_derived(case: &Case, canal: usize) -> bool {
    let Some(trace) = case.canals.get(canal).map(|canal| &canal.trace_px) else {
        return false;
    };
    trace.is_empty() || derived_trace(case, canal).is_some_and(|derived| &derived == trace)
}

/// Applies a change; traces that followed from file and apex before it still
/// do afterwards.
pub(super) fn keeping_derived_traces(case: &mut Case, change: impl FnOnce(&mut Case)) {
    let derived: Vec<(String, Vec<FilmPoint>)> = (0..case.canals.len())
        .filter(|&canal| trace_is_derived(case, canal))
        .map(|canal| {
            (
                case.canals[canal].name.clone(),
                case.canals[canal].trace_px.clone(),
            )
        })
        .collect();
    let count = case.canals.len();
    change(case);
    for canal in 0..case.canals.len() {
        let content = &case.canals[canal];
        let followed = derived
            .get(canal)
            .filter(|_| count == case.canals.len())
            .or_else(|| derived.iter().find(|(name, _)| name == &content.name));
        let Some((_, old_trace)) = followed else {
            continue;
        };
        // A change that put other points there made a trace of the user's own;
        // one that moved single points, or none, did not. An emptied one is
        // derived anew.
        let is_other = content.trace_px.len() != old_trace.len()
            || content.trace_px.iter().zip(old_trace).all(|(a, b)| a != b);
        if is_other && !content.trace_px.is_empty() {
            continue;
        }
        case.canals[canal].trace_px = derived_trace(case, canal).unwrap_or_default();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::desktop::document::handles;

    fn case() -> Case {
        crate::desktop::engine::fresh_case("film.png")
    }

    fn p(x: f64, y: f64) -> FilmPoint {
        FilmPoint::new(x, y)
    }

    /// What [`Document`](crate::desktop::document::Document) does with edits.
    fn act(case: &mut Case, change: impl FnOnce(&mut Case)) {
        keeping_derived_traces(case, change);
    }

    fn with_file_and_apex() -> Case {
        let mut case = case();
        for (tool, at) in [
            (Tool::File, p(10.0, 10.0)),
            (Tool::File, p(10.0, 210.0)),
            (Tool::Apex, p(10.0, 225.0)),
        ] {
            act(&mut case, |c| {
                place(c, tool, 0, at).expect("a new place");
            });
        }
        case
    }

    #[test]
    fn three_clicks_give_reference_file_tip_apex_and_a_trace() {
        let case = with_file_and_apex();
        let canal = &case.canals[0];
        assert_eq!(canal.reference_px, Some(p(10.0, 10.0)));
        assert_eq!(
            canal.file.as_ref().and_then(|f| f.tip_px),
            Some(p(10.0, 210.0))
        );
        assert_eq!(
            canal.trace_px,
            [p(10.0, 10.0), p(10.0, 210.0), p(10.0, 225.0)]
        );
        assert_eq!(handles(&case).len(), 3, "coincident points are one handle");
    }

    #[test]
    fn moving_the_tip_moves_tip_file_and_derived_trace() {
        let mut case = with_file_and_apex();
        act(&mut case, |c| {
            move_to(c, &Handle::Tip { canal: 0 }, p(12.0, 200.0))
        });
        assert_eq!(
            case.canals[0].file.as_ref().and_then(|f| f.tip_px),
            Some(p(12.0, 200.0))
        );
        assert_eq!(case.scale.objects[0].points_px[1], p(12.0, 200.0));
        assert_eq!(case.canals[0].trace_px[1], p(12.0, 200.0));
    }

    #[test]
    fn a_tip_beyond_the_apex_leaves_the_derived_trace_ending_at_the_apex() {
        let mut case = with_file_and_apex();
        act(&mut case, |c| {
            move_to(c, &Handle::Apex { canal: 0 }, p(10.0, 190.0))
        });
        assert_eq!(case.canals[0].trace_px, [p(10.0, 10.0), p(10.0, 190.0)]);
        act(&mut case, |c| {
            move_to(c, &Handle::Apex { canal: 0 }, p(10.0, 230.0))
        });
        assert_eq!(case.canals[0].trace_px.len(), 3);
    }

    #[test]
    fn deleting_and_placing_the_tip_again_derives_the_trace_again() {
        let mut case = with_file_and_apex();
        act(&mut case, |c| delete(c, &Handle::Tip { canal: 0 }));
        assert!(case.canals[0].trace_px.is_empty());
        act(&mut case, |c| {
            place(c, Tool::File, 0, p(11.0, 205.0));
        });
        assert_eq!(case.canals[0].trace_px[1], p(11.0, 205.0));
    }

    #[test]
    fn a_trace_drawn_from_the_apex_is_turned_round_when_it_is_finished() {
        let mut case = with_file_and_apex();
        for y in [224.0, 180.0, 60.0] {
            act(&mut case, |c| {
                place(c, Tool::Trace, 0, p(14.0, y));
            });
        }
        act(&mut case, |c| finish_trace(c, 0, 6.0));
        assert_eq!(
            case.canals[0].trace_px,
            [p(14.0, 60.0), p(14.0, 180.0), p(10.0, 225.0)]
        );
    }

    #[test]
    fn a_trace_of_the_users_own_replaces_the_derived_one_and_stays() {
        let mut case = with_file_and_apex();
        for y in [60.0, 120.0, 180.0] {
            act(&mut case, |c| {
                place(c, Tool::Trace, 0, p(14.0, y));
            });
        }
        act(&mut case, |c| finish_trace(c, 0, 4.0));
        let own = case.canals[0].trace_px.clone();
        assert_eq!(
            own,
            [
                p(14.0, 60.0),
                p(14.0, 120.0),
                p(14.0, 180.0),
                p(10.0, 225.0)
            ]
        );
        act(&mut case, |c| {
            move_to(c, &Handle::Tip { canal: 0 }, p(12.0, 200.0))
        });
        assert_eq!(case.canals[0].trace_px, own);
        act(&mut case, |c| {
            move_to(c, &Handle::Apex { canal: 0 }, p(12.0, 230.0))
        });
        assert_eq!(
            case.canals[0].trace_px[3],
            p(12.0, 230.0),
            "the apex ends the trace"
        );
    }

    #[test]
    fn a_further_click_with_the_file_tool_bends_the_line_where_it_is() {
        let mut case = with_file_and_apex();
        act(&mut case, |c| {
            place(c, Tool::File, 0, p(15.0, 100.0));
        });
        assert_eq!(case.scale.objects[0].points_px[1], p(15.0, 100.0));
        assert_eq!(
            case.canals[0].file.as_ref().and_then(|f| f.tip_px),
            Some(p(10.0, 210.0))
        );
        assert_eq!(case.canals[0].trace_px.len(), 4);
    }

    /// 0.4 mm is 8 px at 0.05 mm/px and 40 px at 0.01 mm/px.
    #[test]
    fn a_followed_canal_joins_the_apex_within_a_distance_in_mm() {
        for (mm_per_px, off_px, joins) in [
            (Some(0.05), 7.9, true),
            (Some(0.05), 8.1, false),
            (Some(0.01), 39.9, true),
            (Some(0.01), 40.1, false),
            (None, 19.9, true),
            (None, 20.1, false),
        ] {
            let mut case = with_file_and_apex();
            let apex = case.canals[0].apex_px.unwrap();
            let end = p(apex.x, apex.y - off_px);
            suggest_trace(&mut case, 0, &[p(10.0, 20.0), end], mm_per_px);
            let expected = if joins { apex } else { kept(end) };
            assert_eq!(case.canals[0].trace_px.last(), Some(&expected), "{off_px}");
        }
    }

    #[test]
    fn the_same_place_twice_is_refused() {
        let mut case = case();
        assert!(place(&mut case, Tool::Trace, 0, p(5.0, 5.0)).is_some());
        assert!(place(&mut case, Tool::Trace, 0, p(5.2, 5.2)).is_none());
        assert!(place(&mut case, Tool::File, 0, p(5.0, 5.0)).is_some());
        assert!(place(&mut case, Tool::File, 0, p(5.1, 5.0)).is_none());
        assert!(
            place(&mut case, Tool::Trace, 7, p(50.0, 5.0)).is_none(),
            "no such canal"
        );
    }

    #[test]
    fn renaming_and_removing_a_canal_takes_its_file_along() {
        let mut case = with_file_and_apex();
        let second = add_canal(&mut case);
        assert!(!rename_canal(&mut case, second, "Canal 1"));
        assert!(rename_canal(&mut case, 0, "MB"));
        assert_eq!(case.scale.objects[0].canal.as_deref(), Some("MB"));
        remove_canal(&mut case, 0);
        assert!(case.scale.objects.is_empty());
        assert_eq!(case.canals.len(), 1);
    }
}
