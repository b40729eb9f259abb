//! What a click on the film places.

use super::handle::{Handle, canal_of, coincident};
use super::lines::insert_into;
use super::walls::{place_mark, place_wall_point};
use super::{DUPLICATE_PX, file_object_index, rounded};
use crate::case::{
    Canal, Case, LANDMARKS, Landmark, OBJECTS, ObjectTool, ScaleObject, ScaleObjectKind, WallSide,
};
use crate::units::FilmPoint;

/// What a click on the film means.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Tool {
    /// Moves what is there.
    #[default]
    Select,
    /// Stop face, tip, then bends of the file in the canal.
    File,
    /// The points of an object of known size, but a file.
    Object(ScaleObjectKind),
    /// The canal, orifice to apex.
    Trace,
    /// A landmark.
    Landmark(Landmark),
    /// A wall of the canal, orifice to apex.
    Wall(WallSide),
    /// Marks that are found again on another film.
    Mark,
    /// One click on the shank: the file is looked for.
    FindFile,
    /// Orifice and apex: the canal between them is looked for.
    FollowCanal,
    /// Two places, measured in passing.
    Distance,
    /// Three places, the vertex in the middle, measured in passing.
    Angle,
}

impl Tool {
    /// Every tool, in the order of the menus.
    pub fn all() -> impl Iterator<Item = Self> {
        let landmarks = LANDMARKS.iter().map(|row| Self::Landmark(row.landmark));
        let objects = OBJECTS.iter().filter(|row| row.tool.is_some());
        [Self::Select, Self::File, Self::Trace]
            .into_iter()
            .chain(landmarks)
            .chain(objects.map(|row| Self::Object(row.kind)))
            .chain([
                Self::Wall(WallSide::Left),
                Self::Wall(WallSide::Right),
                Self::Mark,
                Self::FindFile,
                Self::FollowCanal,
                Self::Distance,
                Self::Angle,
            ])
    }

    /// A click adds a point.
    pub fn places(self) -> bool {
        self != Tool::Select
    }

    /// Clicks make a line that has to be finished.
    pub fn draws_line(self) -> bool {
        matches!(self, Tool::Trace | Tool::Wall(_))
    }

    /// A click asks for a suggestion instead of adding a point.
    pub fn assists(self) -> bool {
        matches!(self, Tool::FindFile | Tool::FollowCanal)
    }

    /// A click measures in passing and changes nothing.
    pub fn gauges(self) -> bool {
        matches!(self, Tool::Distance | Tool::Angle)
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
                Tool::Select
                | Tool::FindFile
                | Tool::FollowCanal
                | Tool::Distance
                | Tool::Angle => false,
                Tool::File => {
                    kind == Some(ScaleObjectKind::File)
                        || matches!(
                            handle,
                            Handle::Landmark {
                                landmark: Landmark::Tip | Landmark::Reference,
                                ..
                            }
                        )
                }
                Tool::Object(own) => kind == Some(own),
                Tool::Trace => {
                    matches!(handle, Handle::TracePoint { .. })
                }
                Tool::Wall(own) => {
                    matches!(handle, Handle::WallPoint { side, .. } if *side == own)
                }
                Tool::Mark => matches!(handle, Handle::Mark { .. }),
                Tool::Landmark(own) => {
                    matches!(handle, Handle::Landmark { landmark, .. } if *landmark == own)
                }
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
    let at = rounded(at);
    let placed = |handle, label, next| Placed {
        handle,
        label,
        next,
        wants_length_of: None,
    };
    match tool {
        Tool::Select | Tool::FindFile | Tool::FollowCanal | Tool::Distance | Tool::Angle => None,
        Tool::File => place_file_point(case, canal, at),
        Tool::Object(kind) => place_object_point(case, kind, kind.row().tool.as_ref()?, at),
        Tool::Trace => {
            let trace = &mut case.canals.get_mut(canal)?.trace_px;
            if trace
                .last()
                .is_some_and(|last| last.distance_px(at) < DUPLICATE_PX)
            {
                return None;
            }
            trace.push(at);
            let index = trace.len() - 1;
            case.canals[canal].assisted = false;
            case.canals[canal].forget_readings_beside(index.saturating_sub(1));
            let handle = Handle::TracePoint { canal, index };
            Some(placed(handle, "Add canal point", Tool::Trace))
        }
        Tool::Wall(side) => {
            let handle = place_wall_point(case, canal, side, at)?;
            let label = match side {
                WallSide::Left => "Add left wall point",
                WallSide::Right => "Add right wall point",
            };
            Some(placed(handle, label, tool))
        }
        Tool::Mark => Some(placed(place_mark(case, at)?, "Place mark", tool)),
        Tool::Landmark(landmark) => {
            if landmark == Landmark::Tip {
                end_file_at(case, canal, at);
            }
            let content = case.canals.get_mut(canal)?;
            landmark.put(content, at);
            let next = match landmark {
                Landmark::Tip => next_unplaced(content, Landmark::Apex),
                // Where no stop says it, the coronal end is what is missing.
                Landmark::Apex => next_unplaced(content, Landmark::Reference),
                _ => Tool::Select,
            };
            let handle = Handle::Landmark { canal, landmark };
            Some(placed(handle, landmark.row().step, next))
        }
    }
}

/// The tool for a landmark that is still missing.
fn next_unplaced(canal: &Canal, landmark: Landmark) -> Tool {
    match landmark.of(canal) {
        None => Tool::Landmark(landmark),
        Some(_) => Tool::Select,
    }
}

/// The file's trace ends at its tip.
fn end_file_at(case: &mut Case, canal: usize, tip: FilmPoint) {
    if let Some(object) = file_object_index(case, canal)
        && case.scale.objects[object].points_px.len() >= 2
        && let Some(last) = case.scale.objects[object].points_px.last_mut()
    {
        *last = tip;
    }
}

/// First click: stop face, which is the reference point unless one is placed.
/// Second: tip. Further ones bend the line where they are.
fn place_file_point(case: &mut Case, canal: usize, at: FilmPoint) -> Option<Placed> {
    let name = case.canals.get(canal)?.name.clone();
    let object = file_object_index(case, canal).unwrap_or_else(|| {
        case.scale
            .objects
            .push(ScaleObject::new(ScaleObjectKind::File, Some(name)));
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
            Landmark::Tip.put(&mut case.canals[canal], at);
            Some(Placed {
                handle: Handle::ScalePoint { object, index: 1 },
                label: Landmark::Tip.row().step,
                next: next_unplaced(&case.canals[canal], Landmark::Apex),
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

/// Adds a point to the last object of that kind, or to a new one where that has
/// all its points.
fn place_object_point(
    case: &mut Case,
    kind: ScaleObjectKind,
    tool: &ObjectTool,
    at: FilmPoint,
) -> Option<Placed> {
    let is_complete = |points: usize| tool.most_points.is_some_and(|most| points >= most);
    let open = case
        .scale
        .objects
        .iter()
        .rposition(|object| object.kind == kind && !is_complete(object.points_px.len()));
    let object = open.unwrap_or_else(|| {
        case.scale.objects.push(ScaleObject::new(kind, None));
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
    let points = content.points_px.len();
    let next = if is_complete(points) {
        Tool::Select
    } else {
        Tool::Object(kind)
    };
    let unknown = content.known_size_mm().is_none();
    Some(Placed {
        handle: Handle::ScalePoint {
            object,
            index: points - 1,
        },
        label: tool.step,
        next,
        wants_length_of: (points == 2 && unknown).then_some(object),
    })
}
