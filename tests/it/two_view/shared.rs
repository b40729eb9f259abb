//! What both films show beside the canal: a file of known length, the reference
//! point, other canals, readings of a followed line. Closed forms (DERIVED).

use lengthfilm::case::{Case, Followed, ScaleObject, ScaleObjectKind, SourceSide};
use lengthfilm::measure::{MeasureSettings, ReadFollowed};
use lengthfilm::two_view::{Exposures, Receptor, TwoViewFindings};
use nalgebra::Vector3;

use super::{PITCH_MM, case_of, find, find_with, px, shadow};

/// Even places along straight pieces and arcs that start at `from`, down the
/// axis: length, turn and plane of each piece, degrees.
pub fn along(from: Vector3<f64>, pieces: &[(f64, f64, f64)], step_mm: f64) -> Vec<Vector3<f64>> {
    const FINE: usize = 200;
    let (mut place, mut heading) = (from, Vector3::z());
    let mut all = vec![place];
    let (mut gone, mut next) = (0.0, step_mm);
    for &(length, turn_deg, plane_deg) in pieces {
        let (sine, cosine) = plane_deg.to_radians().sin_cos();
        let aside = Vector3::new(cosine, sine, 0.0);
        let axis = heading.cross(&aside).normalize();
        let step = length / FINE as f64;
        let half = turn_deg.to_radians() / FINE as f64 * 0.5;
        let turned = |v: Vector3<f64>| {
            nalgebra::Rotation3::from_axis_angle(&nalgebra::Unit::new_normalize(axis), half) * v
        };
        for _ in 0..FINE {
            heading = turned(heading);
            place += heading * step;
            heading = turned(heading);
            gone += step;
            if gone >= next - 1e-9 {
                all.push(place);
                next += step_mm;
            }
        }
    }
    all
}

fn on_film(places: &[Vector3<f64>], angle_deg: f64) -> Vec<[f64; 2]> {
    places
        .iter()
        .map(|&p| shadow(p, angle_deg, false))
        .collect()
}

/// A case with a canal and the file in it, at an angle.
fn with_file(
    canal: &[Vector3<f64>],
    file: &[Vector3<f64>],
    length_mm: f64,
    angle_deg: f64,
) -> Case {
    let mut case = case_of(&on_film(canal, angle_deg), 0.05);
    case.scale.objects = vec![ScaleObject {
        canal: Some("C".to_owned()),
        true_length_mm: Some(length_mm),
        points_px: on_film(file, angle_deg).into_iter().map(px).collect(),
        ..ScaleObject::new(ScaleObjectKind::File, None)
    }];
    case
}

fn pair(at: impl Fn(f64) -> Case, angle_deg: f64) -> TwoViewFindings {
    let exposures = Exposures::new(angle_deg, Receptor::Turned);
    find(&at(0.0), &at(angle_deg), &exposures).expect("a usable pair")
}

/// A straight file of 20 mm that leans by 6° on film A and by 8° on the film at
/// right angles: neither film shows the lean that the other does, so that their
/// scales are off by 0.972 and 0.540 %; both together are exact.
#[test]
fn a_shared_file_takes_out_what_each_film_hides() {
    let tangents = [6.0, 8.0].map(|lean: f64| lean.to_radians().tan());
    let lean = Vector3::new(tangents[0], tangents[1], 1.0).normalize();
    let at = |mm: f64| lean * (mm - 12.0);
    let file: Vec<_> = (0..8).map(|i| at(20.0 * f64::from(i) / 7.0)).collect();
    let canal: Vec<_> = (0..12)
        .map(|i| at(8.0 + 13.0 * f64::from(i) / 11.0))
        .collect();
    let found = pair(|angle| with_file(&canal, &file, 20.0, angle), 90.0);
    assert_eq!(found.calibration.source, "shared_file");
    let off = [
        found.calibration.film_a_scale_off_percent,
        found.calibration.film_b_scale_off_percent,
    ];
    for (off, expected) in off.into_iter().zip([0.972, 0.540]) {
        let off = off.expect("known of a shared file");
        assert!((off - expected).abs() < 0.001, "{off}, {expected}");
    }
    assert!((found.length_mm.value - 13.0).abs() < 2e-3, "{found:?}");
    // Where one film lies 40° from the other just as well.
    let found = pair(|angle| with_file(&canal, &file, 20.0, angle), 40.0);
    assert!((found.length_mm.value - 13.0).abs() < 2e-3, "{found:?}");
}

/// In an S-shaped canal the file's own eight points would be followed by a path
/// that bends once and is too short; with the canal's points the lengths are
/// true. The bends lie in the plane between both films.
#[test]
fn a_file_in_an_s_shaped_canal_is_as_long_as_it_is() {
    let plane = 45.0;
    let s_shape = [
        (9.0, 0.0, plane),
        (4.0, 28.0, plane),
        (1.0, 0.0, plane),
        (4.0, -32.0, plane),
        (2.0, 0.0, plane),
    ];
    let fine = along(Vector3::new(0.0, 0.0, -8.0), &s_shape, 0.1);
    assert_eq!(fine.len(), 201);
    // Stop to tip 19 mm, canal from 8 mm on: 12 mm.
    let pick = |from: f64, to: f64, count: usize| -> Vec<Vector3<f64>> {
        let share = |i: usize| from + (to - from) * i as f64 / (count - 1) as f64;
        (0..count)
            .map(|i| fine[(share(i) * 10.0).round() as usize])
            .collect()
    };
    let (file, canal) = (pick(0.0, 19.0, 8), pick(8.0, 20.0, 13));
    let found = pair(|angle| with_file(&canal, &file, 19.0, angle), 90.0);
    assert_eq!(found.curves.len(), 2, "{found:?}");
    assert!(
        (found.length_mm.value - 12.0).abs() < 0.02,
        "{:?}",
        found.length_mm
    );
}

/// A canal that leans into the depth by 4 mm over 20 mm of height: the film
/// shows 20.000 mm from reference point to apex, in space there are
/// √(20² + 4²) = 20.396 mm; depths of 1, 2, 3, 4 and 6 mm hide 0.0250, 0.0998,
/// 0.2237, 0.3961 and 0.8806 mm.
#[test]
fn what_one_film_hides_of_a_working_length() {
    for (depth, hidden) in [
        (1.0, 0.0250),
        (2.0, 0.0998),
        (3.0, 0.2237),
        (4.0, 0.3961),
        (6.0, 0.8806),
    ] {
        let at = |down: f64| Vector3::new(0.0, depth * (down / 20.0 - 0.5), down - 10.0);
        let canal: Vec<_> = (0..13).map(|i| at(8.0 + f64::from(i))).collect();
        let case_at = |angle: f64| {
            let mut case = case_of(&on_film(&canal, angle), 0.02);
            case.canals[0].reference_px = Some(px(shadow(at(0.0), angle, false)));
            case.canals[0].apex_px = case.canals[0].trace_px.last().copied();
            case
        };
        let found = pair(case_at, 90.0);
        let space = found.working_length_mm.expect("both films have it");
        let whole = 20.0 + hidden - found.allowance_mm;
        assert!((space.value - whole).abs() < 2e-3, "{depth}: {space:?}");
        let film = found.film_a;
        let own = film.working_length_mm.expect("film A has it");
        assert!((own - (20.0 - found.allowance_mm)).abs() < 2e-3, "{own}");
        let less = film.working_length_difference_mm.expect("both");
        assert!((less + hidden).abs() < 2e-3, "{depth}: {less}");
    }
}

/// Tube shift in words: a second canal 3 mm nearer to the source parts from the
/// first one; whichever way the receptor went, it is buccal where the source
/// is. Beyond it, lingual; beside it at the same depth, undecided.
#[test]
fn the_other_canal_is_buccal_or_lingual() {
    let canal = |x: f64, depth: f64| -> Vec<Vector3<f64>> {
        (0..12)
            .map(|i| Vector3::new(x, depth, f64::from(i) - 6.0))
            .collect()
    };
    for (receptor, stayed) in [(Receptor::Turned, false), (Receptor::Stayed, true)] {
        for (depth, side) in [(3.0, "buccal"), (-3.0, "lingual"), (0.0, "not decided")] {
            let case_at = |angle: f64| {
                let shown = |places: Vec<Vector3<f64>>| -> Vec<[f64; 2]> {
                    places.iter().map(|&p| shadow(p, angle, stayed)).collect()
                };
                let mut case = case_of(&shown(canal(0.0, 0.0)), 0.05);
                let mut other = case.canals[0].clone();
                other.name = "ML".to_owned();
                other.trace_px = shown(canal(1.0, depth)).into_iter().map(px).collect();
                case.canals.push(other);
                case
            };
            let mut exposures = Exposures::new(20.0, receptor);
            exposures.sides.source = Some(SourceSide::Buccal);
            let found = find(&case_at(0.0), &case_at(20.0), &exposures).expect("usable");
            let [other] = &found.other_canals[..] else {
                panic!("{:?}", found.other_canals);
            };
            assert_eq!((other.name.as_str(), other.side.as_str()), ("ML", side));
            let off = other.depth_mm.value - depth;
            assert!(off.abs() < 1e-3, "{receptor:?} {depth}: {other:?}");
        }
    }
}

/// Lines that were followed: where readings are asked for, the path is that of
/// the film and not of six clicks beside it, and is known better.
#[test]
fn readings_of_followed_lines_count_where_asked_for() {
    let bent = [(8.0, 0.0, 35.0), (5.0, 30.0, 35.0), (3.0, 0.0, 35.0)];
    let fine = along(Vector3::new(0.0, 0.0, -8.0), &bent, 0.1);
    let case_at = |angle: f64| {
        let line = on_film(&fine, angle);
        let last = line.len() - 1;
        // Clicks beside the line, to one side and the other.
        let clicks: Vec<[f64; 2]> = (0..7)
            .map(|i| {
                let [u, v] = line[i * last / 6];
                let aside = match i {
                    0 | 6 => 0.0,
                    _ if i % 2 == 0 => 0.06,
                    _ => -0.06,
                };
                [u + aside, v]
            })
            .collect();
        let mut case = case_of(&clicks, 0.05);
        let read: Vec<[f64; 2]> = line[2..last - 2].iter().step_by(2).copied().collect();
        case.canals[0].followed = Some(Followed {
            u_px: vec![0.03 / PITCH_MM; read.len()],
            common_u_px: vec![0.01 / PITCH_MM; read.len()],
            points_px: read.into_iter().map(px).collect(),
            common_over_px: 0.5 / PITCH_MM,
            ..Followed::default()
        });
        case
    };
    let [by_clicks, by_film] =
        [ReadFollowed::Nothing, ReadFollowed::Everything].map(|read_followed| {
            let settings = MeasureSettings {
                read_followed,
                draws: 400,
                ..MeasureSettings::default()
            };
            let exposures = Exposures::new(40.0, Receptor::Turned);
            find_with(&case_at(0.0), &case_at(40.0), &exposures, &settings).expect("usable")
        });
    let turn = by_film.curves[0].turn_deg;
    assert!((turn.value - 30.0).abs() < 1.0, "{turn:?}");
    let by_hand = by_clicks.total_turn_deg;
    assert!((turn.value - 30.0).abs() < (by_hand.value - 30.0).abs());
    assert!(turn.u95 < by_hand.u95, "{turn:?} {by_hand:?}");
}
