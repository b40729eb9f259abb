//! What a click, a drag or a key does to a case. Pure functions on [`Case`].

mod assessment;
mod canals;
mod handle;
mod lines;
mod place;
mod suggest;
mod walls;

pub use assessment::{assess_row, set_neighbour};
pub use canals::{
    add_canal, finish_trace, for_second_film, new_case, place_scale_length, remove_canal,
    rename_canal, set_length, set_shaping_files, set_step_back,
};
pub use handle::{Handle, PlacedHandle, canal_in_words, handles, name_of, position};
pub use lines::{delete, insert_near, insert_next, move_to};
pub use place::{Placed, Tool, place};
pub use suggest::{suggest_apex, suggest_file, suggest_tip, suggest_trace};
pub use walls::{finish_walls, next_mark_name, rename_mark};

use super::{Case, ScaleObjectKind};
use crate::units::FilmPoint;

/// Points nearer than this to the last one are the same click: our choice.
const DUPLICATE_PX: f64 = 0.5;

/// Places are kept to a ten-thousandth of a px: far below any click, and short
/// in the case file, where they then come back exactly.
pub fn rounded(at: FilmPoint) -> FilmPoint {
    const STEPS_PER_PX: f64 = 1e4;
    let round = |v: f64| (v * STEPS_PER_PX).round() / STEPS_PER_PX;
    FilmPoint::new(round(at.x), round(at.y))
}

/// The file traced in a canal, as an index into the scale objects.
pub fn file_object_index(case: &Case, canal: usize) -> Option<usize> {
    let name = &case.canals.get(canal)?.name;
    case.scale.objects.iter().position(|object| {
        object.kind == ScaleObjectKind::File && object.canal.as_ref() == Some(name)
    })
}

#[cfg(test)]
mod tests;
