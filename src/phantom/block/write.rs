//! A block as files: two photographs, their truth.

use std::path::{Path, PathBuf};

use serde_json::json;

use super::look::Look;
use super::photo::{View, photograph};
use super::shape::BlockTruth;
use super::spec::{BlockSpec, FACE_MM};
use crate::atomic_file;
use crate::phantom::PhantomError;

/// What was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BlockFiles {
    pub before: PathBuf,
    pub after: PathBuf,
    pub truth: PathBuf,
}

/// Photographs a block before and after, each with its look, into `folder`
/// (made if need be).
///
/// # Errors
/// A file that cannot be written.
pub fn write(
    spec: &BlockSpec,
    looks: [Look; 2],
    folder: &Path,
) -> Result<BlockFiles, PhantomError> {
    let failed = |source| PhantomError::Write {
        path: folder.to_path_buf(),
        source,
    };
    std::fs::create_dir_all(folder).map_err(failed)?;
    let files = BlockFiles {
        before: folder.join("before.png"),
        after: folder.join("after.png"),
        truth: folder.join("truth.json"),
    };
    let empty = PhantomError::Contradiction("the photograph has no pixels");
    let mut photos = Vec::new();
    let places = [(false, &files.before), (true, &files.after)];
    for ((after, path), look) in places.into_iter().zip(looks) {
        let seed = spec.photo_seed(after);
        let view = View {
            look,
            ..View::askew(seed)
        };
        let Some(photo) = photograph(spec, after, &view) else {
            return Err(empty);
        };
        photo.film.save_png16(path)?;
        photos.push(json!({
            "file": path.file_name().map(|name| name.to_string_lossy()),
            "corners_px": photo.corners_px,
            "marks_px": photo.marks_px,
            "photo_px_from_block_mm": view.photo_from_block.rows(),
            "look": view.look,
        }));
    }
    let truth = BlockTruth::new(spec);
    let step = 0.25;
    let count = (truth.path().length() / step).floor() as usize;
    let stations: Vec<f64> = (0..=count).rev().map(|i| i as f64 * step).collect();
    let wall = |of: &dyn Fn(f64) -> f64| -> Vec<[f64; 2]> {
        let places = stations.iter().map(|&s| truth.place(s, of(s)));
        places.map(|p| [p.x, p.y]).collect()
    };
    let levels = (0..=truth.path().length().floor() as usize).map(|s| truth.level(s as f64));
    let text = json!({
        "spec": spec,
        "face_mm": FACE_MM,
        "marks_mm": super::MARKS_MM,
        "centre_line_mm": wall(&|_| 0.0),
        "walls_before_mm": {
            "left": wall(&|s| truth.before(s)[0]), "right": wall(&|s| truth.before(s)[1]),
        },
        "walls_after_mm": {
            "left": wall(&|s| truth.after(s)[0]), "right": wall(&|s| truth.after(s)[1]),
        },
        "ends_short_mm": truth.short_mm(),
        "levels": levels.collect::<Vec<_>>(),
        "photographs": photos,
    });
    let mut bytes = serde_json::to_vec_pretty(&text)?;
    bytes.push(b'\n');
    atomic_file::write(&files.truth, &bytes).map_err(|source| PhantomError::Write {
        path: files.truth.clone(),
        source,
    })?;
    Ok(files)
}
