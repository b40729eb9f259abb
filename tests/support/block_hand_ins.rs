//! Students' work on the blocks of an exercise set.

use std::path::{Path, PathBuf};

use lengthfilm::case::{self, Case};
use lengthfilm::practice::BlockOfSet;
use lengthfilm::units::FilmPoint;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// Moves every point of a case: marks, traces, walls.
pub fn move_points(case: &mut Case, mut by: impl FnMut(FilmPoint) -> FilmPoint) {
    for mark in &mut case.marks {
        mark.px = by(mark.px);
    }
    for canal in &mut case.canals {
        let walls = canal.walls.iter_mut();
        let walls = walls.flat_map(|walls| [&mut walls.left_px, &mut walls.right_px]);
        for line in [&mut canal.trace_px].into_iter().chain(walls) {
            line.iter_mut().for_each(|point| *point = by(*point));
        }
    }
}

/// The true cases of a block, each click off by a standard deviation of
/// `click_mm` per coordinate.
pub fn clicked_cases(block: &BlockOfSet, click_mm: f64, seed: u64) -> [Case; 2] {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let scans = block.pictures.each_ref().map(|picture| picture.scan);
    let [before, after] = block.true_cases(Path::new(""));
    let mut cases = [before.1, after.1];
    for (case, scan) in cases.iter_mut().zip(scans) {
        let mut off = || -> f64 {
            let normal: f64 = StandardNormal.sample(&mut rng);
            click_mm * scan.px_per_mm * normal
        };
        move_points(case, |p| FilmPoint::new(p.x + off(), p.y + off()));
        case.click_noise_mm = Some(click_mm.max(1e-3));
    }
    cases
}

/// Hands both cases in, in a folder of the student's own.
pub fn hand_in(class: &Path, student: &str, block: &BlockOfSet, cases: &[Case; 2]) -> [PathBuf; 2] {
    let folder = class.join(student);
    std::fs::create_dir_all(&folder).expect("made");
    [0, 1].map(|place| {
        let film = &block.pictures[place].film;
        let path = folder.join(film.replace(".png", ".case.json"));
        let mut case = cases[place].clone();
        case.film.path.clone_from(film);
        case::save(&case, &path).expect("saved");
        path
    })
}
