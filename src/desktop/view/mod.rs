//! Pictures of a film: at every zoom, in tiles, under a tone, on the screen.

mod pyramid;
mod small;
mod tiles;
mod tone;
mod transform;

pub use pyramid::Pyramid;
pub use small::small_picture;
pub use tiles::FilmTiles;
pub use tone::{Tone, locally_raised};
pub use transform::{ViewTransform, ZOOM_STEP};
