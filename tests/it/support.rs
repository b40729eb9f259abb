//! What tests share, with each other and with the programs of `tests/programs`.

#[path = "../support/block_hand_ins.rs"]
pub mod block_hand_ins;
#[path = "../support/block_pairs.rs"]
pub mod block_pairs;
#[path = "../support/drawn.rs"]
pub mod drawn;
#[path = "../support/noisy_trace.rs"]
pub mod noisy_trace;
#[path = "../support/pieces.rs"]
pub mod pieces;

use std::path::{Path, PathBuf};

/// Names of what lies in a folder, sorted.
pub fn names_in(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).expect("a folder");
    let names = entries.map(|entry| entry.expect("an entry").file_name());
    let mut names: Vec<String> = names
        .map(|name| name.into_string().expect("UTF-8"))
        .collect();
    names.sort();
    names
}

/// The folder of real films, where there is one.
pub fn real_films() -> Option<PathBuf> {
    let folder = std::env::var_os("LENGTHFILM_FILMS").map(PathBuf::from);
    if folder.as_ref().is_some_and(|folder| folder.is_dir()) {
        return folder;
    }
    println!("skipped: no real films, LENGTHFILM_FILMS names no folder");
    None
}
