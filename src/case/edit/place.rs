//! What a click on the film places.

use super::handle::{Handle, canal_of, coincident};
use super::lines::insert_into;
use super::{DUPLICATE_PX, file_object_index, new_object, rounded};
use crate::case::{CanalFile, Case, ScaleObjectKind};
use crate::units::FilmPoint;

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
                    matches!(handle, Handle::TracePoint { .. })
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
    let at = rounded(at);
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
            let has_apex = content.apex_px.is_some();
            Some(placed(
                Handle::Tip { canal },
                "Place file tip",
                if has_apex { Tool::Select } else { Tool::Apex },
            ))
        }
        Tool::Apex => {
            let content = case.canals.get_mut(canal)?;
            content.apex_px = Some(at);
            // Where no stop says it, the coronal end is what is missing.
            let next = match content.reference_px {
                None => Tool::Reference,
                Some(_) => Tool::Select,
            };
            Some(placed(Handle::Apex { canal }, "Place apex", next))
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
