//! One phantom film read by the assistant and compared with its truth.

use lengthfilm::assist::{FollowOptions, LocateOptions, follow, locate_file, suggest};
use lengthfilm::film::Film;
use lengthfilm::phantom::{PhantomSpec, Truth, render};
use lengthfilm::progress::Progress;
use lengthfilm::units::FilmPoint;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::drawn::mean_and_95_percent_mm;
use super::tip_shows::{TipShows, tip_shows};

/// Distance of a click from where it should be, mm, any direction.
const CLICK_ERROR_MM: f64 = 0.15;
/// A path has left its canal where it lies farther off than this, mm: the
/// width of a canal's coronal third.
const LEFT_MM: f64 = 0.5;

/// A press is meant for one file where no other lies nearer than this, mm: some
/// three times the press's error.
const APART_MM: f64 = 0.4;

/// What was found of one file; mm.
#[derive(Clone, Debug)]
pub struct FileOutcome {
    pub found: bool,
    pub tip_visible: bool,
    pub tip_mm: f64,
    /// Where asked for, of a tip that is visible.
    pub tip_shows: Option<TipShows>,
    /// The tip found lies this far from the nearest tip of another file.
    pub other_tip_mm: f64,
    /// Size by ISO and how many files the film has.
    pub size: u16,
    pub files: usize,
    pub stop_share: f64,
    /// Error of the stop, where one was claimed.
    pub stop_mm: Option<f64>,
    pub confidence: f64,
    pub stop_confidence: f64,
}

/// How a canal was followed; mm.
#[derive(Clone, Debug)]
pub struct PathOutcome {
    /// Neither calcified nor covered.
    pub clear: bool,
    pub mean_mm: f64,
    pub p95_mm: f64,
    /// Share of the path farther off than [`LEFT_MM`].
    pub left_share: f64,
    pub confidence: f64,
}

/// What one film gave.
#[derive(Clone, Debug)]
pub struct Outcome {
    pub cluttered: bool,
    pub files: Vec<FileOutcome>,
    pub path: Option<PathOutcome>,
    /// Nearest suggested apex to the treated one, where that is visible.
    pub apex_mm: Option<f64>,
    /// Confidence of each suggested apex, and whether a root ends there.
    pub apices: Vec<(f64, bool)>,
    /// A file was found where there is none.
    pub invented_file: bool,
}

fn displaced(p: FilmPoint, mm_per_px: f64, rng: &mut ChaCha8Rng) -> FilmPoint {
    let direction = rng.random_range(0.0..std::f64::consts::TAU);
    let radius = CLICK_ERROR_MM / mm_per_px;
    FilmPoint::new(
        p.x + radius * direction.cos(),
        p.y + radius * direction.sin(),
    )
}

/// What is asked of a film.
#[derive(Clone, Copy, Debug)]
pub struct Asked {
    pub known_pitch: bool,
    /// No canals, no apices.
    pub files_only: bool,
    pub tip_shows: bool,
}

/// Renders the film and reads it.
pub fn examine(spec: &PhantomSpec, asked: Asked) -> Outcome {
    let phantom = render(spec).expect("the drawn spec can be rendered");
    examine_film(&phantom.film, &phantom.truth, asked)
}

fn inside(film: &Film, p: FilmPoint) -> bool {
    (0.0..f64::from(film.width_px())).contains(&p.x)
        && (0.0..f64::from(film.height_px())).contains(&p.y)
}

/// Reads one film.
pub fn examine_film(film: &Film, truth: &Truth, asked: Asked) -> Outcome {
    let spec = &truth.spec;
    let mm_per_px = truth.mm_per_px[0];
    let pitch_mm = asked.known_pitch.then_some(truth.pixel_pitch_mm[0]);
    let mut rng = ChaCha8Rng::seed_from_u64(spec.seed ^ 0x5eed);
    let locate_options = LocateOptions {
        mm_per_px: pitch_mm,
    };

    let mut truths = Vec::new();
    if let Some(f) = &truth.file {
        truths.push((
            &f.centre_line_px,
            f.tip_px,
            f.tip_visible,
            f.stop_px,
            f.stop_visible_share,
        ));
    }
    for f in &truth.second_files {
        truths.push((
            &f.centre_line_px,
            f.tip_px,
            f.tip_visible,
            f.stop_px,
            f.stop_visible_share,
        ));
    }
    let mut files = Vec::new();
    for (k, (line, tip, tip_visible, stop, stop_share)) in truths.iter().copied().enumerate() {
        // A press where this file lies on the film and apart from the others:
        // elsewhere nobody can tell which one is meant.
        let apart = |p: &FilmPoint| {
            let others = truths.iter().enumerate().filter(|(other, _)| *other != k);
            others
                .flat_map(|(_, other)| other.0)
                .all(|q| q.distance_px(*p) * mm_per_px >= APART_MM)
        };
        let shown: Vec<FilmPoint> = line
            .iter()
            .copied()
            .enumerate()
            .filter(|(i, p)| {
                let share = *i as f64 / (line.len() - 1) as f64;
                (0.2..0.9).contains(&share) && inside(film, *p) && apart(p)
            })
            .map(|(_, p)| p)
            .collect();
        if shown.is_empty() {
            continue;
        }
        let near = displaced(shown[rng.random_range(0..shown.len())], mm_per_px, &mut rng);
        if !inside(film, near) {
            continue;
        }
        let located = locate_file(film, near, &locate_options, &Progress::unwatched()).ok();
        let drawn = spec.file.iter();
        let mut drawn = drawn.chain(spec.clutter.second_files.iter().map(|s| &s.file));
        let size = drawn.nth(k).map_or(0, |f| f.size);
        let tip_shows =
            (asked.tip_shows && tip_visible).then(|| tip_shows(spec, k, tip, mm_per_px));
        let other_tips = truths.iter().enumerate().filter(|(other, _)| *other != k);
        let other_tip_mm = |found: FilmPoint| {
            let off = other_tips.map(|(_, f)| f.1.distance_px(found) * mm_per_px);
            off.fold(f64::INFINITY, f64::min)
        };
        files.push(match located {
            Some(found) => FileOutcome {
                found: true,
                tip_visible,
                tip_mm: found.tip_px.distance_px(tip) * mm_per_px,
                tip_shows,
                other_tip_mm: other_tip_mm(found.tip_px),
                size,
                files: truths.len(),
                stop_share,
                stop_mm: found.stop_px.map(|p| p.distance_px(stop) * mm_per_px),
                confidence: found.confidence,
                stop_confidence: found.stop_confidence,
            },
            None => FileOutcome {
                found: false,
                tip_visible,
                tip_mm: f64::INFINITY,
                tip_shows,
                other_tip_mm: f64::INFINITY,
                size,
                files: truths.len(),
                stop_share,
                stop_mm: None,
                confidence: 0.0,
                stop_confidence: 0.0,
            },
        });
    }
    let invented_file = truth.file.is_none() && truth.second_files.is_empty() && {
        let at = rng.random_range(0.1..0.9) * (truth.canal_px.len() - 1) as f64;
        let near = displaced(truth.canal_px[at as usize], mm_per_px, &mut rng);
        locate_file(film, near, &locate_options, &Progress::unwatched()).is_ok()
    };

    let tidy = spec.clutter.clamp.is_none()
        && spec.clutter.second_files.is_empty()
        && spec.clutter.marks == Default::default();
    if asked.files_only {
        return Outcome {
            cluttered: !tidy,
            files,
            path: None,
            apex_mm: None,
            apices: Vec::new(),
            invented_file,
        };
    }
    let ends = [truth.orifice_px, truth.foramen_px].map(|p| displaced(p, mm_per_px, &mut rng));
    let path = ends.iter().all(|p| inside(film, *p)).then(|| {
        let options = FollowOptions {
            bright: false,
            mm_per_px: pitch_mm,
        };
        let clutter = &spec.clutter;
        let clear = spec.canal.calcified_apical_mm == 0.0
            && clutter.overlapping_root.is_none()
            && truth.roots.first().is_none_or(|r| r.apex_visible);
        match follow(film, &ends, &options, &Progress::unwatched()) {
            Ok(found) => {
                let [mean_mm, p95_mm] =
                    mean_and_95_percent_mm(&found.points_px, &truth.canal_px, mm_per_px);
                let off = |p: &FilmPoint| {
                    let nearest = truth.canal_px.iter().map(|q| q.distance_px(*p));
                    nearest.fold(f64::INFINITY, f64::min) * mm_per_px
                };
                let left = found.path_px.iter().filter(|p| off(p) > LEFT_MM).count();
                PathOutcome {
                    clear,
                    mean_mm,
                    p95_mm,
                    left_share: left as f64 / found.path_px.len() as f64,
                    confidence: found.mean_confidence,
                }
            }
            Err(_) => PathOutcome {
                clear,
                mean_mm: f64::INFINITY,
                p95_mm: f64::INFINITY,
                left_share: 1.0,
                confidence: 0.0,
            },
        }
    });

    let found = suggest(film, pitch_mm, &Progress::unwatched()).expect("not cancelled");
    let nearest = |p: FilmPoint, of: &mut dyn Iterator<Item = FilmPoint>| {
        of.map(|q| q.distance_px(p) * mm_per_px)
            .fold(f64::INFINITY, f64::min)
    };
    let apex_mm = truth
        .roots
        .first()
        .filter(|r| r.apex_visible)
        .map(|r| nearest(r.apex_px, &mut found.roots.iter().map(|s| s.apex_px)));
    let apices = found
        .roots
        .iter()
        .map(|s| {
            let ends = truth.roots.iter().map(|r| r.apex_px);
            (
                s.confidence,
                nearest(s.apex_px, &mut ends.into_iter()) <= 0.5,
            )
        })
        .collect();
    Outcome {
        cluttered: !tidy,
        files,
        path,
        apex_mm,
        apices,
        invented_file,
    }
}
