//! The extracted canine 036 (Haberthür, Hlushchuk and Wolf, micro-CT; SEEN):
//! canal centroids read from four axial panels (43.2 px = 1 mm, ± 0.03 mm),
//! 0.01 mm a slice.

use lengthfilm::two_view::path::{Piece, Pose, SpacePath};
use lengthfilm::two_view::{Exposures, Receptor};
use nalgebra::Vector3;

use super::find_places;
use crate::support::real_films;

const CENTROIDS: [[f64; 3]; 4] = [
    [2.749, 2.859, 9.11],
    [2.541, 2.878, 14.05],
    [2.329, 2.378, 18.98],
    [1.614, 2.281, 23.41],
];

/// Slices from 3-D: polyline 14.393 mm, film x–z 14.366, y–z 14.326, height
/// 14.300; turns 6.01° and 8.10°, start to end 6.92° (DERIVED from the
/// readings).
#[test]
fn the_readings_themselves() {
    if real_films().is_none() {
        return;
    }
    let places = CENTROIDS.map(|[x, y, z]| Vector3::new(x, y, z));
    let steps: Vec<Vector3<f64>> = places.windows(2).map(|w| w[1] - w[0]).collect();
    let sum = |length: &dyn Fn(&Vector3<f64>) -> f64| steps.iter().map(length).sum::<f64>();
    for (found, truth) in [
        (sum(&|s| s.norm()), 14.393),
        (sum(&|s| s.x.hypot(s.z)), 14.366),
        (sum(&|s| s.y.hypot(s.z)), 14.326),
        (sum(&|s| s.z), 14.300),
    ] {
        assert!((found - truth).abs() < 6e-4, "{found}, {truth}");
    }
    let turn = |a: usize, b: usize| steps[a].angle(&steps[b]).to_degrees();
    for (found, truth) in [(turn(0, 1), 6.01), (turn(1, 2), 8.10), (turn(0, 2), 6.92)] {
        // A centroid given to 0.001 mm leaves 0.013° of each chord of 4.5 mm.
        assert!((found - truth).abs() < 0.013, "{found}, {truth}");
    }
}

/// The canal through the readings seen on two films: length and the turn from
/// the first to the last chord between the slices, within their readings'
/// errors. Four places 5 mm apart cannot show two bends of 6° and 8°: the
/// curve fitted has one.
#[test]
fn the_canal_from_two_films() {
    let Some(folder) = real_films() else { return };
    if !folder.join("Tooth036.ExtractedSlices.png").is_file() {
        println!(
            "skipped: the extracted tooth is not in {}",
            folder.display()
        );
        return;
    }
    let middle = Vector3::new(2.3, 2.6, 16.26);
    let places: Vec<Vector3<f64>> = CENTROIDS
        .iter()
        .map(|&[x, y, z]| Vector3::new(x, y, z) - middle)
        .collect();
    for (angle, most_mm, most_deg) in [(90.0, 0.05, 1.0), (40.0, 0.05, 1.5), (20.0, 0.05, 3.0)] {
        let found = find_places(&places, &Exposures::new(angle, Receptor::Turned), 0.03);
        let length = found.length_mm;
        let at = |height: f64| {
            let path = found.path_mm.iter().map(|&p| Vector3::from(p));
            let near = |p: &Vector3<f64>| (p.z - found.path_mm[0][2] - height).abs();
            path.min_by(|a, b| near(a).total_cmp(&near(b))).unwrap()
        };
        let heights = places.iter().map(|p| p.z - places[0].z);
        let chords: Vec<Vector3<f64>> = heights.map(at).collect();
        let turn = (chords[1] - chords[0])
            .angle(&(chords[3] - chords[2]))
            .to_degrees();
        println!(
            "tooth 036, {angle}°: {:.3} ± {:.3} mm, first to last chord {turn:.2}°, floor {:.1}°",
            length.value, length.u95, found.noise_floor_deg
        );
        assert!(
            (length.value - 14.393).abs() < most_mm,
            "{angle}: {}",
            length.value
        );
        assert!((length.value - 14.393).abs() < length.u95);
        assert!((turn - 6.92).abs() < most_deg, "{angle}: {turn}");
    }
    // Noiseless and dense, as a bent wire through the same directions: both
    // turns come back.
    let directions: Vec<Vector3<f64>> = places.windows(2).map(|w| w[1] - w[0]).collect();
    let first = directions[0].normalize();
    let mut pose = Pose::new(places[0], [first.x / first.z, first.y / first.z]);
    let start = pose;
    let mut pieces = vec![straight(4.0)];
    pose = pose.advanced(4.0, [0.0; 2]);
    for next in &directions[1..] {
        let turn = pose.turn_towards(&next.normalize());
        pose = pose.advanced(2.0, turn).advanced(3.0, [0.0; 2]);
        pieces.extend([
            Piece {
                length_mm: 2.0,
                turn_rad: turn,
            },
            straight(3.0),
        ]);
    }
    let wire = SpacePath::new(start, pieces).places(0.25);
    let found = find_places(&wire, &Exposures::new(90.0, Receptor::Turned), 0.002);
    assert!((found.length_mm.value - 14.0).abs() < 0.002);
    let turns: Vec<f64> = found.curves.iter().map(|c| c.turn_deg.value).collect();
    assert_eq!(turns.len(), 2, "{turns:?}");
    assert!(
        (turns[0] - 6.01).abs() < 0.1 && (turns[1] - 8.10).abs() < 0.1,
        "{turns:?}"
    );
}

fn straight(length_mm: f64) -> Piece {
    Piece {
        length_mm,
        turn_rad: [0.0; 2],
    }
}
