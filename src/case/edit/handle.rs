//! Every point of a case that can be taken hold of.
//!
//! Points of one canal that coincide exactly (the reference point on the stop
//! face, the tip at the end of the file's trace, the apex at the end of the
//! canal's) are one handle and move as one.

use crate::case::{Case, LANDMARKS, Landmark, ScaleObjectKind, WallSide};
use crate::units::FilmPoint;

/// Names one point of a case.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Handle {
    /// A point of a scale object.
    ScalePoint { object: usize, index: usize },
    /// A point of a canal's trace.
    TracePoint { canal: usize, index: usize },
    /// A landmark of a canal.
    Landmark { canal: usize, landmark: Landmark },
    /// A curvature landmark of a canal; in the case once the user has moved
    /// it.
    CurvatureLandmark { canal: usize, name: String },
    /// A point of a canal's wall.
    WallPoint {
        canal: usize,
        side: WallSide,
        index: usize,
    },
    /// A mark found again on another film.
    Mark { index: usize },
}

/// A handle with its place.
#[derive(Clone, Debug, PartialEq)]
pub struct PlacedHandle {
    pub handle: Handle,
    pub at: FilmPoint,
}

/// Where a handle is; `None` when the case has no such point.
pub fn position(case: &Case, handle: &Handle) -> Option<FilmPoint> {
    match handle {
        Handle::ScalePoint { object, index } => case
            .scale
            .objects
            .get(*object)?
            .points_px
            .get(*index)
            .copied(),
        Handle::TracePoint { canal, index } => {
            case.canals.get(*canal)?.trace_px.get(*index).copied()
        }
        Handle::Landmark { canal, landmark } => landmark.of(case.canals.get(*canal)?),
        Handle::CurvatureLandmark { canal, name } => {
            case.canals.get(*canal)?.landmarks.get(name).copied()
        }
        Handle::WallPoint { canal, side, index } => {
            let walls = case.canals.get(*canal)?.walls.as_ref()?;
            walls.side(*side).get(*index).copied()
        }
        Handle::Mark { index } => Some(case.marks.get(*index)?.px),
    }
}

/// The place a handle names, to be changed.
pub(super) fn position_mut<'a>(case: &'a mut Case, handle: &Handle) -> Option<&'a mut FilmPoint> {
    match handle {
        Handle::ScalePoint { object, index } => case
            .scale
            .objects
            .get_mut(*object)?
            .points_px
            .get_mut(*index),
        Handle::TracePoint { canal, index } => {
            case.canals.get_mut(*canal)?.trace_px.get_mut(*index)
        }
        Handle::Landmark { canal, landmark } => landmark.at_mut(case.canals.get_mut(*canal)?),
        Handle::CurvatureLandmark { canal, name } => {
            case.canals.get_mut(*canal)?.landmarks.get_mut(name)
        }
        Handle::WallPoint { canal, side, index } => {
            let walls = case.canals.get_mut(*canal)?.walls.as_mut()?;
            walls.side_mut(*side).get_mut(*index)
        }
        Handle::Mark { index } => Some(&mut case.marks.get_mut(*index)?.px),
    }
}

/// Every point of the case but curvature landmarks, those of the canals first.
fn all(case: &Case) -> Vec<PlacedHandle> {
    let mut found = Vec::new();
    let mut add = |handle: Handle, at: Option<FilmPoint>| {
        found.extend(at.map(|at| PlacedHandle { handle, at }));
    };
    for (canal, content) in case.canals.iter().enumerate() {
        for row in &LANDMARKS {
            let landmark = row.landmark;
            add(Handle::Landmark { canal, landmark }, landmark.of(content));
        }
    }
    for (object, content) in case.scale.objects.iter().enumerate() {
        for (index, at) in content.points_px.iter().enumerate() {
            add(Handle::ScalePoint { object, index }, Some(*at));
        }
    }
    for (canal, content) in case.canals.iter().enumerate() {
        for (index, at) in content.trace_px.iter().enumerate() {
            add(Handle::TracePoint { canal, index }, Some(*at));
        }
    }
    for (canal, content) in case.canals.iter().enumerate() {
        let Some(walls) = &content.walls else {
            continue;
        };
        for side in WallSide::BOTH {
            for (index, at) in walls.side(side).iter().enumerate() {
                add(Handle::WallPoint { canal, side, index }, Some(*at));
            }
        }
    }
    for (index, mark) in case.marks.iter().enumerate() {
        add(Handle::Mark { index }, Some(mark.px));
    }
    found
}

/// The canal a handle belongs to; rulers, balls and marks belong to none.
pub(super) fn canal_of(case: &Case, handle: &Handle) -> Option<usize> {
    match handle {
        Handle::ScalePoint { object, .. } => {
            let name = case.scale.objects.get(*object)?.canal.as_ref()?;
            case.canals.iter().position(|canal| &canal.name == name)
        }
        Handle::TracePoint { canal, .. }
        | Handle::Landmark { canal, .. }
        | Handle::CurvatureLandmark { canal, .. }
        | Handle::WallPoint { canal, .. } => Some(*canal),
        Handle::Mark { .. } => None,
    }
}

/// The handle and all others of its canal at the very same place.
pub(super) fn coincident(case: &Case, handle: &Handle) -> Vec<Handle> {
    let Some(at) = position(case, handle) else {
        return Vec::new();
    };
    let canal = canal_of(case, handle);
    if canal.is_none() || matches!(handle, Handle::CurvatureLandmark { .. }) {
        return vec![handle.clone()];
    }
    all(case)
        .into_iter()
        .filter(|other| other.at == at && canal_of(case, &other.handle) == canal)
        .map(|other| other.handle)
        .collect()
}

/// One handle for each place, as shown on the film; curvature landmarks come
/// with their construction.
pub fn handles(case: &Case) -> Vec<PlacedHandle> {
    let mut shown: Vec<PlacedHandle> = Vec::new();
    for placed in all(case) {
        let canal = canal_of(case, &placed.handle);
        let hidden = canal.is_some()
            && shown
                .iter()
                .any(|other| other.at == placed.at && canal_of(case, &other.handle) == canal);
        if !hidden {
            shown.push(placed);
        }
    }
    shown
}

/// A canal in running words: `canal MB`, but `Canal 1`.
pub fn canal_in_words(name: &str) -> String {
    if name.to_lowercase().starts_with("canal") {
        name.to_owned()
    } else {
        format!("canal {name}")
    }
}

/// The handle in words, for labels and steps: `Apex, canal MB`.
pub fn name_of(case: &Case, handle: &Handle) -> String {
    let named = |canal: usize| canal_in_words(case.canals.get(canal).map_or("", |c| &c.name));
    match handle {
        Handle::ScalePoint { object, index } => {
            let Some(content) = case.scale.objects.get(*object) else {
                return "Scale point".to_owned();
            };
            let last = content.points_px.len().saturating_sub(1);
            match content.kind {
                ScaleObjectKind::File => {
                    let canal = canal_in_words(content.canal.as_deref().unwrap_or(""));
                    match *index {
                        0 => format!("Stop, tooth side, {canal}"),
                        i if i == last => format!("File tip, {canal}"),
                        i => format!("File point {i}, {canal}"),
                    }
                }
                kind => {
                    let row = kind.row();
                    let (name, point) = (row.name, row.point_name);
                    format!("{name} {} {point} {}", object + 1, index + 1)
                }
            }
        }
        Handle::TracePoint { canal, index } => {
            format!("Canal point {}, {}", index + 1, named(*canal))
        }
        Handle::Landmark { canal, landmark } => {
            format!("{}, {}", landmark.row().name, named(*canal))
        }
        Handle::CurvatureLandmark { canal, name } => {
            let moved = case
                .canals
                .get(*canal)
                .is_some_and(|canal| canal.landmarks.contains_key(name));
            let how = if moved { "moved by hand" } else { "automatic" };
            format!("{}, {how}, {}", name.replace('_', " "), named(*canal))
        }
        Handle::WallPoint { canal, side, index } => {
            let side = match side {
                WallSide::Left => "Left",
                WallSide::Right => "Right",
            };
            format!("{side} wall point {}, {}", index + 1, named(*canal))
        }
        Handle::Mark { index } => {
            let name = case.marks.get(*index).map_or("", |mark| &mark.name);
            format!("Mark {name}")
        }
    }
}
