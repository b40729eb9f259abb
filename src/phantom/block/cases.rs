//! Cases on scans of a block: what a student starts from, and the truth.

use kurbo::Point;

use super::scan::Scan;
use super::shape::BlockTruth;
use crate::case::{Canal, Case, FilmReference, Mark, Walls};
use crate::units::FilmPoint;

/// Name of the canal in every case on a block.
pub const CANAL: &str = "1";
/// Distance between the points of a true trace or wall, mm.
const STEP_MM: f64 = 0.5;

/// A case with the scan's scale and nothing marked.
pub fn starting_case(scan: &Scan, film: &str, sha256: String) -> Case {
    let unknown = Case::on_film(film);
    Case {
        film: FilmReference {
            sha256: Some(sha256),
            pixel_pitch_mm: Some([scan.px_per_mm.recip(); 2]),
            ..unknown.film
        },
        canals: vec![Canal {
            name: CANAL.to_owned(),
            ..Canal::default()
        }],
        ..unknown
    }
}

/// The same with marks, trace and walls as they truly are, `after` or before
/// shaping.
pub fn true_case(truth: &BlockTruth, after: bool, scan: &Scan, film: &str, sha256: String) -> Case {
    let mut case = starting_case(scan, film, sha256);
    let numbered = truth.marks().into_iter().zip(1..);
    case.marks = numbered
        .map(|(mark, number)| Mark {
            name: number.to_string(),
            px: scan.px(mark),
            extra: Default::default(),
        })
        .collect();
    let length = truth.path().length();
    let count = (length / STEP_MM).ceil() as usize;
    let line = |end_mm: f64, offset: &dyn Fn(f64) -> f64| -> Vec<FilmPoint> {
        let stations = (0..=count).rev();
        let stations = stations.map(|i| length * i as f64 / count as f64);
        let stations = stations.filter(|&s| s >= end_mm);
        stations
            .map(|s| scan.px(truth.place(s, offset(s))))
            .collect()
    };
    let walls = |s: f64| truth.walls(after, s);
    let end_mm = if after { truth.short_mm() } else { 0.0 };
    case.canals[0].trace_px = line(end_mm, &|s| 0.5 * (walls(s)[0] + walls(s)[1]));
    case.canals[0].walls = Some(Walls {
        left_px: line(0.0, &|s| walls(s)[0]),
        right_px: line(0.0, &|s| walls(s)[1]),
        ..Walls::default()
    });
    case
}

/// Where the canal ends, face frame, mm.
pub fn end_mm(truth: &BlockTruth, after: bool) -> Point {
    let end = if after { truth.short_mm() } else { 0.0 };
    let [left, right] = truth.walls(after, end);
    truth.place(end, 0.5 * (left + right))
}
