//! What tests share, with each other and with the programs of `tests/programs`.

#[path = "../support/block_pairs.rs"]
pub mod block_pairs;
#[path = "../support/drawn.rs"]
pub mod drawn;
#[path = "../support/pieces.rs"]
pub mod pieces;

use std::path::{Path, PathBuf};

/// The folder of real films, where there is one.
pub fn real_films() -> Option<PathBuf> {
    let folder = std::env::var_os("LENGTHFILM_FILMS").map_or_else(
        || Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/films"),
        PathBuf::from,
    );
    if folder.is_dir() {
        return Some(folder);
    }
    println!("skipped: no real films in {}", folder.display());
    None
}
