//! Curvature methods against exact geometry and published definitions.
//!
//! Paths here are fitted to dense points without noise, so that placing the
//! landmarks is tested with the formulas.

use kurbo::{Affine, Point, Vec2};
use lengthfilm::curvature::{
    self, Curvature, CurvatureLandmark, CurvatureNumber, CurvatureQuantity, CurvatureSettings,
    CurveQuantity, DifficultyClass, Dimension, LandmarkOverrides, Measured, Method, Missing, Note,
    PathUnit, estrela, luiten, schafer, schneider,
};
use lengthfilm::geometry::{FitOptions, PathFit, Piece, StraightArcPath, fit_path};
use proptest::prelude::*;

use crate::support::pieces::{arc, straight};

const ANGLE_DEG: f64 = 0.01;
const LENGTH_MM: f64 = 0.001;

fn path(pieces: &[Piece]) -> StraightArcPath {
    let pieces: Vec<Piece> = pieces
        .iter()
        .copied()
        .filter(|p| p.length() > 0.0)
        .collect();
    StraightArcPath::new(Point::new(12.0, 5.0), 1.2, &pieces).unwrap()
}

/// The fit to 161 points of the path, told a deviation of 1 µm.
fn fitted(truth: &StraightArcPath) -> PathFit {
    let at = |i: usize| truth.point_at_length(truth.length() * i as f64 / 160.0);
    let points: Vec<Point> = (0..=160).map(at).collect();
    fit_path(&points, &FitOptions::new(0.001)).unwrap()
}

fn evaluated(path: &StraightArcPath) -> Curvature {
    evaluated_in(path, PathUnit::Millimetre)
}

fn evaluated_in(path: &StraightArcPath, unit: PathUnit) -> Curvature {
    let settings = CurvatureSettings::default();
    curvature::evaluate(path, unit, &LandmarkOverrides::none(), &settings)
}

#[track_caller]
fn assert_deg(measured: Measured, degrees: f64) {
    let measured = measured.unwrap().to_degrees();
    assert!(
        (measured - degrees).abs() <= ANGLE_DEG,
        "{measured}° is not {degrees}°"
    );
}

#[track_caller]
fn assert_mm(measured: Measured, mm: f64) {
    let measured = measured.unwrap();
    assert!(
        (measured - mm).abs() <= LENGTH_MM,
        "{measured} mm is not {mm} mm"
    );
}

/// DERIVED from each method's definition: 8 mm straight, arc of θ degrees and radius r,
/// straight tail s. Columns θ, r, s, arc, chord, Schneider, canal access
/// angle, x = BD, AD, DC, AC, length.
#[allow(clippy::approx_constant)] // As printed: some arcs are π/2 or π/3 long.
const EXACT_GEOMETRIES: [[f64; 12]; 11] = [
    [
        30.0, 5.0, 0.0, 2.6180, 2.5882, 15.000, 3.650, 0.5093, 7.9838, 2.5376, 10.5213, 10.6180,
    ],
    [
        45.0, 5.0, 0.0, 3.9270, 3.8268, 22.500, 7.235, 1.0075, 7.9363, 3.6918, 11.6281, 11.9270,
    ],
    [
        60.0, 5.0, 0.0, 5.2360, 5.0000, 30.000, 11.462, 1.5897, 7.8405, 4.7406, 12.5810, 13.2360,
    ],
    [
        60.0, 5.0, 3.0, 5.2360, 5.0000, 41.168, 20.235, 2.7670, 7.5063, 7.2336, 14.7398, 16.2360,
    ],
    [
        30.0, 2.0, 0.0, 1.0472, 1.0353, 15.000, 1.705, 0.2381, 7.9965, 1.0075, 9.0040, 9.0472,
    ],
    [
        45.0, 2.0, 0.0, 1.5708, 1.5307, 22.500, 3.561, 0.4968, 7.9846, 1.4479, 9.4324, 9.5708,
    ],
    [
        60.0, 2.0, 0.0, 2.0944, 2.0000, 30.000, 5.867, 0.8177, 7.9581, 1.8252, 9.7833, 10.0944,
    ],
    [
        60.0, 2.0, 3.0, 2.0944, 2.0000, 48.068, 17.762, 2.4406, 7.6186, 4.1756, 11.7943, 13.0944,
    ],
    [
        20.0, 10.0, 4.0, 3.4907, 3.4730, 15.354, 7.399, 1.0302, 7.9334, 7.3730, 15.3064, 15.4907,
    ],
    [
        40.0, 8.0, 3.0, 5.5851, 5.4723, 27.054, 13.826, 1.9118, 7.7682, 8.1330, 15.9012, 16.5851,
    ],
    [
        90.0, 5.0, 0.0, 7.8540, 7.0711, 45.000, 21.038, 2.8718, 7.4668, 6.4616, 13.9284, 15.8540,
    ],
];

#[test]
fn exact_geometries_from_dense_points() {
    for mirror in [1.0, -1.0] {
        for [
            theta,
            r,
            s,
            arc_length,
            chord,
            schneider,
            caa,
            x,
            ad,
            dc,
            ac,
            length,
        ] in EXACT_GEOMETRIES
        {
            let fit = fitted(&path(&[straight(8.0), arc(r, mirror * theta), straight(s)]));
            let found = evaluated(fit.path());
            assert_mm(Ok(fit.path().length()), length);
            assert_deg(found.schneider_rad, schneider);
            assert_deg(found.weine_rad, theta);
            assert_deg(found.pruett_rad, theta);
            assert_mm(found.pruett_radius, r);
            assert_mm(found.pruett_mismatch, 0.0);
            assert_deg(found.canal_access_rad, caa);
            assert_mm(found.curvature_height, x);
            assert_mm(found.curvature_distance, ad);
            assert_mm(found.curvature_distance_from_apex, dc);
            assert_mm(Ok(fit.path().start().distance(fit.path().end())), ac);
            let [curve] = found.curves[..] else {
                panic!("{:?}", found.curves)
            };
            assert_mm(Ok(curve.arc_length), arc_length);
            assert_mm(Ok(curve.radius), r);
            assert_mm(
                Ok(2.0 * curve.radius * (0.5 * curve.turn_rad.abs()).sin()),
                chord,
            );
            assert_mm(Ok(curve.start_from_apex), length - 8.0);
            assert_mm(Ok(curve.end_from_apex), s);
            assert_deg(Ok(found.net_turn_rad), mirror * theta);
            assert_deg(Ok(found.total_turn_rad), theta);
            // Schäfer's circle is the canal's own only where the arc is the
            // whole curved part.
            if s == 0.0 {
                assert_mm(found.schafer_radius, r);
                assert_mm(found.schafer_curve_length, arc_length);
            }
            assert!(!found.s_shaped);
            assert!(found.notes.is_empty());
        }
    }
}

/// DERIVED. For s = 0 the printed formula θ − (1 − s)/r
/// differs from the printed values, which are θ − 1/(2r): the last mm's chord
/// points half a mm back along the arc. The values follow from the definition.
#[test]
fn luiten_values() {
    for (r, theta, s, angle) in [
        (5.0, 60.0, 0.0, 54.270),
        (5.0, 30.0, 0.0, 24.270),
        (2.0, 60.0, 0.0, 45.676),
        (10.0, 20.0, 0.0, 17.135),
        (8.0, 40.0, 0.0, 36.419),
        (5.0, 60.0, 3.0, 60.000),
    ] {
        let fit = fitted(&path(&[straight(8.0), arc(r, theta), straight(s)]));
        assert_deg(evaluated(fit.path()).luiten_rad, angle);
    }
}

/// DERIVED: chord S and α in, r and L out.
#[test]
fn schafer_values() {
    for (chord, alpha, radius, length) in [
        (5.0, 15.0, 9.6593, 5.0576),
        (5.0, 20.0, 7.3095, 5.1030),
        (6.0, 25.0, 7.0986, 6.1947),
        (4.0, 27.0, 4.4054, 4.1520),
        (7.0, 35.0, 6.1021, 7.4551),
        (3.8637, 75.0, 2.0, 5.2360),
    ] {
        let arc = schafer::arc(chord, f64::to_radians(alpha)).unwrap();
        assert_mm(Ok(arc.radius), radius);
        assert_mm(Ok(arc.length), length);
    }
}

/// DERIVED: t = 2, α = 45° gives r 4.8284; α = 60°, r = 5
/// gives t 2.8868.
#[test]
fn pruett_tangent_lengths() {
    let circle = |t: f64, alpha: f64, short: f64| {
        let v = Vec2::from_angle(f64::to_radians(alpha));
        let (u, crossing) = (Vec2::new(1.0, 0.0), Point::new(t, 0.0));
        curvature::pruett::circle((Point::ORIGIN, u), (crossing + v * (t - short), v)).unwrap()
    };
    assert_mm(Ok(circle(2.0, 45.0, 0.0).radius), 4.8284);
    assert_mm(Ok(circle(2.8868, 60.0, 0.0).radius), 5.0);
    // Unequal tangents: the mismatch, and the circle of their mean length.
    let uneven = circle(2.0, 45.0, 0.4);
    assert_mm(Ok(uneven.tangent_mismatch()), 0.4);
    assert_mm(Ok(uneven.radius), 1.8 / f64::to_radians(22.5).tan());
}

/// DERIVED: joined 6 mm segments, φ → r.
#[test]
fn estrela_joined_segments() {
    let radius = |phi: f64| {
        let turn = Vec2::from_angle(f64::to_radians(phi));
        let joint = Point::new(6.0, 0.0);
        let segments = estrela::Segments {
            coronal: [Point::ORIGIN, joint],
            apical: [joint, joint + turn * 6.0],
        };
        let circle = estrela::circle(&segments).unwrap();
        assert!((circle.to_apical_segment - circle.to_coronal_segment).abs() < 1e-9);
        circle.radius()
    };
    for (phi, r) in [
        (10.0, 34.290),
        (20.0, 17.014),
        (30.0, 11.196),
        (40.0, 8.242),
        (45.0, 7.243),
        (60.0, 5.196),
        (90.0, 3.000),
    ] {
        assert_mm(Ok(radius(phi)), r);
    }
}

/// 6 mm chords of one circle of radius R stand √(R² − 9) from its centre.
#[test]
fn estrela_chords_on_a_circle() {
    for r in [4.0, 8.0, 12.0] {
        let turn = f64::to_degrees(14.0 / r);
        let found = evaluated(&path(&[straight(2.0), arc(r, turn)]));
        assert_mm(found.estrela_radius, f64::sqrt(r * r - 9.0));
        let place = |landmark| found.landmarks.get(landmark).unwrap();
        let joint = place(CurvatureLandmark::EstrelaJoint);
        assert_mm(Ok(joint.distance(place(CurvatureLandmark::ApicalEnd))), 6.0);
        assert_mm(
            Ok(joint.distance(place(CurvatureLandmark::EstrelaCoronal))),
            6.0,
        );
    }
}

#[test]
fn estrela_segments_drawn_apart_give_two_radii() {
    let canal = path(&[straight(8.0), arc(8.0, 40.0), straight(3.0)]);
    let automatic = evaluated(&canal);
    let mut moved = LandmarkOverrides::none();
    let joint = automatic
        .landmarks
        .get(CurvatureLandmark::EstrelaJoint)
        .unwrap();
    moved.set(
        CurvatureLandmark::EstrelaJointCoronal,
        joint - canal.poses()[0].direction * 2.0,
    );
    let settings = CurvatureSettings::default();
    let found = curvature::evaluate(&canal, PathUnit::Millimetre, &moved, &settings);
    // Closed form: the segments' lines meet in V under the deflection φ, their
    // middles stand t₁ and t₂ from V; the perpendicular on the first is
    // (t₂ + t₁ cos φ)/sin φ long, that on the second (t₁ + t₂ cos φ)/sin φ.
    let place = |landmark| found.landmarks.get(landmark).unwrap();
    let coronal = [
        place(CurvatureLandmark::EstrelaCoronal),
        place(CurvatureLandmark::EstrelaJointCoronal),
    ];
    let apical = [
        place(CurvatureLandmark::EstrelaJoint),
        place(CurvatureLandmark::EstrelaApical),
    ];
    let along = |[from, to]: [Point; 2]| (to - from).normalize();
    let (d1, d2) = (along(coronal), along(apical));
    let (m1, m2) = (
        coronal[0].midpoint(coronal[1]),
        apical[0].midpoint(apical[1]),
    );
    let t1 = (m2 - m1).cross(d2) / d1.cross(d2);
    let t2 = (m2 - m1 - d1 * t1).dot(d2);
    let (cos, sin) = (d1.dot(d2), d1.cross(d2).abs());
    assert_mm(found.estrela_radius_coronal, (t2 + t1 * cos) / sin);
    assert_mm(found.estrela_radius_apical, (t1 + t2 * cos) / sin);
    assert!((t1 - t2).abs() > 0.1, "the segments are drawn apart");
    let mean = 0.5 * (found.estrela_radius_apical.unwrap() + found.estrela_radius_coronal.unwrap());
    assert_mm(found.estrela_radius, mean);
}

/// An S of our own round numbers (no published block was found): 11 mm
/// straight, 30° at r 6, −20° at r 5; net 10, total 50 and, from the orifice's
/// axis to the foramen by Schneider's construction, 16.793 (DERIVED).
#[test]
fn s_of_two_arcs() {
    let truth = path(&[straight(11.0), arc(6.0, 30.0), arc(5.0, -20.0)]);
    let fit = fitted(&truth);
    let found = evaluated(fit.path());
    assert_deg(Ok(found.net_turn_rad), 10.0);
    assert_deg(Ok(found.total_turn_rad), 50.0);
    let [first, second] = found.curves[..] else {
        panic!("{:?}", found.curves)
    };
    assert_deg(Ok(first.turn_rad), 30.0);
    assert_deg(Ok(first.schneider_rad), 15.0);
    assert_mm(Ok(first.radius), 6.0);
    assert_deg(Ok(second.turn_rad), -20.0);
    assert_deg(Ok(second.schneider_rad), 10.0);
    assert_mm(Ok(second.radius), 5.0);
    assert_mm(Ok(second.end_from_apex), 0.0);
    // The most apical curve is the one measured, and the result says so.
    assert_deg(found.schneider_rad, 10.0);
    assert_deg(found.weine_rad, 20.0);
    assert_eq!(found.notes[..], [Note::OtherCurves { others: 1 }]);
    assert!(found.s_shaped);
    assert_eq!(found.difficulty.class, Some(DifficultyClass::High));
    let poses = fit.path().poses();
    let naive = schneider::angle_rad(poses[0].direction, poses[1].point, fit.path().end());
    assert_deg(naive, 16.793);

    // Blind to the sign, both curves would be one of 50° and no S.
    let blind = path(&[straight(11.0), arc(6.0, 30.0), arc(5.0, 20.0)]);
    let blind = evaluated(&blind);
    assert_eq!((blind.curves.len(), blind.s_shaped), (1, false));
    assert!((blind.net_turn_rad - found.net_turn_rad).abs() > 0.5);
}

#[test]
fn s_shape_needs_both_curves_above_the_threshold() {
    let s_shaped = |second: f64, threshold: f64| {
        let path = path(&[
            straight(6.0),
            arc(6.0, 30.0),
            straight(1.0),
            arc(6.0, second),
        ]);
        let settings = CurvatureSettings {
            s_shape_threshold_rad: threshold.to_radians(),
        };
        let none = LandmarkOverrides::none();
        curvature::evaluate(&path, PathUnit::Millimetre, &none, &settings).s_shaped
    };
    assert!(s_shaped(-10.1, 10.0));
    assert!(!s_shaped(-9.9, 10.0));
    assert!(!s_shaped(20.0, 10.0));
    assert!(s_shaped(-6.0, 5.0));
}

#[test]
fn straight_canal_has_angles_of_zero_and_no_radius() {
    let found = evaluated(&path(&[straight(15.0)]));
    for angle in [
        found.schneider_rad,
        found.weine_rad,
        found.axis_axis_rad,
        found.pruett_rad,
        found.luiten_rad,
        found.canal_access_rad,
    ] {
        // Nothing but rounding is left of the angle.
        assert!(angle.unwrap() < 1e-12, "{angle:?}");
    }
    for none in [
        found.pruett_radius,
        found.schafer_radius,
        found.schafer_curve_length,
        found.curvature_height,
        found.estrela_radius,
        found.smallest_radius,
    ] {
        assert_eq!(none, Err(Missing::NoCurve));
    }
    assert_eq!(found.notes[..], [Note::NoCurve]);
    assert_eq!(found.difficulty.class, Some(DifficultyClass::Low));
}

#[test]
fn canal_without_straight_coronal_piece_starts_its_curve_at_the_orifice() {
    let found = evaluated(&path(&[arc(10.0, 40.0), straight(4.0)]));
    let orifice = found.landmarks.get(CurvatureLandmark::Orifice);
    assert_eq!(found.landmarks.get(CurvatureLandmark::CurveStart), orifice);
    assert_eq!(found.landmarks.get(CurvatureLandmark::AxisStart), orifice);
    assert_eq!(found.notes[..], [Note::NoStraightCoronalPiece]);
    assert_deg(found.weine_rad, 40.0);
    // With B at A, both angles stand on the same lines.
    assert_deg(
        found.canal_access_rad,
        found.schneider_rad.unwrap().to_degrees(),
    );
    assert_mm(found.curvature_height, 0.0);
}

#[test]
fn short_canals_and_films_without_scale_give_reasons() {
    let short = evaluated(&path(&[straight(1.0), arc(3.0, 30.0)]));
    let length = 1.0 + 3.0 * f64::to_radians(30.0);
    let Err(Missing::TooShort {
        needed_mm,
        length_mm,
    }) = short.luiten_rad
    else {
        panic!()
    };
    assert_eq!(needed_mm, luiten::NEEDED_MM);
    assert_mm(Ok(length_mm), length);
    assert!(matches!(
        short.estrela_radius,
        Err(Missing::TooShort { .. })
    ));
    assert!(short.schneider_rad.is_ok());

    // A little longer than 12 mm, and still two chords of 6 mm do not fit.
    let bent = evaluated(&path(&[straight(1.0), arc(6.0, 106.0)]));
    let Err(Missing::TooShort {
        needed_mm,
        length_mm,
    }) = bent.estrela_radius
    else {
        panic!()
    };
    assert!(length_mm > estrela::NEEDED_MM && needed_mm > length_mm);

    let pixels = evaluated_in(&path(&[straight(300.0), arc(200.0, 40.0)]), PathUnit::Pixel);
    assert_eq!(pixels.luiten_rad, Err(Missing::NoScale));
    assert_eq!(pixels.estrela_radius, Err(Missing::NoScale));
    assert_deg(pixels.weine_rad, 40.0);
    for reason in [Missing::NoScale, Missing::NoCurve, Missing::NoCircle] {
        assert!(reason.to_string().len() > 20);
    }
}

#[test]
fn several_curves_take_the_straight_piece_before_the_last_as_axis() {
    let canal = path(&[
        straight(5.0),
        arc(6.0, 30.0),
        straight(2.0),
        arc(5.0, -35.0),
        straight(3.0),
    ]);
    let found = evaluated(&canal);
    let place = |landmark| found.landmarks.get(landmark).unwrap();
    let straight_between =
        place(CurvatureLandmark::AxisStart).distance(place(CurvatureLandmark::CurveStart));
    assert_mm(Ok(straight_between), 2.0);
    assert_deg(found.weine_rad, 35.0);
    assert_mm(found.pruett_radius, 5.0);
    assert_eq!(place(CurvatureLandmark::Orifice), canal.start());
    assert_eq!(found.notes[..], [Note::OtherCurves { others: 1 }]);
}

/// The classic three clicks: A, B and C moved by the user decide alone.
#[test]
fn moved_landmarks_win() {
    let canal = path(&[straight(8.0), arc(8.0, 40.0), straight(3.0)]);
    let mut moved = LandmarkOverrides::none();
    moved.set(CurvatureLandmark::Orifice, Point::new(0.0, 0.0));
    moved.set(CurvatureLandmark::CurveStart, Point::new(0.0, 8.0));
    moved.set(CurvatureLandmark::ApicalEnd, Point::new(3.0, 11.0));
    moved.set(CurvatureLandmark::CurveEnd, Point::new(f64::NAN, 0.0));
    let settings = CurvatureSettings::default();
    let found = curvature::evaluate(&canal, PathUnit::Millimetre, &moved, &settings);
    assert_deg(found.schneider_rad, 45.0);
    assert_deg(found.canal_access_rad, f64::atan2(3.0, 11.0).to_degrees());
    assert_mm(found.curvature_height, 8.0 * f64::atan2(3.0, 11.0).sin());
    assert_mm(
        found.schafer_radius,
        f64::hypot(3.0, 3.0) / (2.0 * f64::to_radians(45.0).sin()),
    );
    assert_eq!(
        found.landmarks.get(CurvatureLandmark::CurveStart),
        Some(Point::new(0.0, 8.0))
    );
    // A place that is no place is ignored.
    assert_eq!(moved.get(CurvatureLandmark::CurveEnd), None);
    // Names are stable and lead back.
    for landmark in CurvatureLandmark::ALL {
        assert_eq!(
            CurvatureLandmark::from_name(landmark.name()),
            Some(landmark)
        );
    }
    assert_eq!(CurvatureLandmark::from_name("elsewhere"), None);
}

/// A dragged point that stands where it stood changes nothing.
#[test]
fn landmarks_moved_to_their_own_place_change_nothing() {
    let canal = path(&[straight(8.0), arc(8.0, 40.0), straight(3.0)]);
    let automatic = evaluated(&canal);
    let mut moved = LandmarkOverrides::none();
    for (landmark, point) in automatic.landmarks.iter() {
        moved.set(landmark, point);
    }
    let settings = CurvatureSettings::default();
    let again = curvature::evaluate(&canal, PathUnit::Millimetre, &moved, &settings);
    for (a, b) in automatic
        .numbers()
        .values
        .iter()
        .zip(again.numbers().values)
    {
        assert!(a.is_nan() && b.is_nan() || (a - b).abs() < 1e-9, "{a} {b}");
    }
}

/// The apical axis: the straight end's where there is one, that of the curve's
/// apical half where there is none, and no jump between.
#[test]
fn axis_axis_is_continuous_in_the_tail() {
    let angle = |tail: f64| evaluated(&path(&[straight(8.0), arc(8.0, 40.0), straight(tail)]));
    assert_deg(angle(3.0).axis_axis_rad, 40.0);
    // By symmetry the axis of the apical half of an arc is its mid-tangent.
    assert_deg(angle(0.0).axis_axis_rad, 30.0);
    let step = angle(0.02).axis_axis_rad.unwrap() - angle(0.0).axis_axis_rad.unwrap();
    assert!(step.abs() < 0.01, "{step}");
}

/// The curvature row of the AAE form of 2022 (docs/methods.md 5.11); 10° and 30° themselves moderate.
#[test]
fn difficulty_row() {
    use DifficultyClass::{High, Low, Moderate};
    let class = |degrees: f64, s| DifficultyClass::of(degrees.to_radians(), s);
    assert_eq!(class(9.99, false), Some(Low));
    assert_eq!(class(10.0, false), Some(Moderate));
    assert_eq!(class(30.0, false), Some(Moderate));
    assert_eq!(class(30.01, false), Some(High));
    assert_eq!(class(5.0, true), Some(High));
    assert_eq!(class(f64::NAN, false), None);
}

/// The class is that of the worst curve: a severe canal with a slight recurve
/// is not an easy one, though Schneider's angle of the last curve is small.
#[test]
fn a_slight_recurve_does_not_make_a_severe_canal_easy() {
    let settings = CurvatureSettings::default();
    for (turn, recurve) in [
        (45.0, -4.0),
        (45.0, -6.0),
        (45.0, -9.0),
        (45.0, -12.0),
        (35.0, -5.0),
        (35.0, -9.9),
        (50.0, -9.9),
    ] {
        let canal = path(&[
            straight(7.0),
            arc(8.0, turn),
            arc(10.0, recurve),
            straight(1.0),
        ]);
        let none = LandmarkOverrides::none();
        let found = curvature::evaluate(&canal, PathUnit::Millimetre, &none, &settings);
        assert!(found.schneider_rad.unwrap().to_degrees() < 12.5);
        let difficulty = found.difficulty;
        assert!(
            difficulty.class > Some(DifficultyClass::Low),
            "{turn} {recurve}: {difficulty:?}"
        );
        assert_eq!(difficulty.curve, Some(0));
        assert_eq!(found.s_shaped, recurve < -10.0);
    }
}

/// A turn of exactly the threshold, but for rounding, is not above it.
#[test]
fn exactly_ten_degrees_make_no_s() {
    let settings = CurvatureSettings::default();
    for (recurve, s_shaped) in [(-10.0, false), (-10.0004, false), (-10.001, true)] {
        let canal = path(&[
            straight(7.0),
            arc(8.0, 25.0),
            arc(10.0, recurve),
            straight(1.0),
        ]);
        let none = LandmarkOverrides::none();
        let found = curvature::evaluate(&canal, PathUnit::Millimetre, &none, &settings);
        assert_eq!(found.s_shaped, s_shaped, "{recurve}");
    }
}

#[test]
fn constructions_stand_on_their_landmarks() {
    let canal = path(&[straight(8.0), arc(8.0, 40.0), straight(3.0)]);
    let drawn = curvature::constructions(&canal, PathUnit::Millimetre, &LandmarkOverrides::none());
    assert_eq!(
        drawn.iter().map(|c| c.method).collect::<Vec<_>>(),
        Method::ALL
    );
    for construction in &drawn {
        assert_eq!(construction.missing, None, "{:?}", construction.method);
        assert!(construction.lines.len() >= 2);
        assert_eq!(
            construction.points.len(),
            construction.method.landmarks().len()
        );
    }
    let start = canal.point_at_length(8.0);
    for method in [Method::Pruett, Method::Schafer] {
        let circle = drawn.iter().find(|c| c.method == method).unwrap().circles[0];
        assert!(
            (circle.center.distance(start) - circle.radius).abs() < 1e-9,
            "{method:?}"
        );
    }
    let schafer = drawn
        .iter()
        .find(|c| c.method == Method::Schafer)
        .unwrap()
        .circles[0];
    assert!((schafer.center.distance(canal.end()) - schafer.radius).abs() < 1e-9);

    let line = path(&[straight(15.0)]);
    let drawn = curvature::constructions(&line, PathUnit::Pixel, &LandmarkOverrides::none());
    let schneider = &drawn[0];
    assert_eq!(
        (schneider.missing, schneider.lines.len()),
        (Some(Missing::NoCurve), 0)
    );
}

#[test]
fn profile_band_holds_the_truth_and_finds_the_tightest_place() {
    let truth = path(&[straight(8.0), arc(6.0, 45.0), straight(3.0)]);
    let at = |i: usize| truth.point_at_length(truth.length() * i as f64 / 13.0);
    let points: Vec<Point> = (0..14)
        .map(|i| at(i) + Vec2::from_angle(2.4 * i as f64) * 0.02)
        .collect();
    let fit = fit_path(&points, &FitOptions::new(0.03)).unwrap();
    let profile = curvature::profile::CurvatureProfile::of(&fit, 0.25, 400, 3);
    let middle_of_arc = 3.0 + 0.5 * 6.0 * f64::to_radians(45.0);
    let tightest = profile.tightest.unwrap();
    assert!((tightest.middle_from_apex - middle_of_arc).abs() < 0.5);
    assert!((tightest.radius - 6.0).abs() < 1.0);
    let holds = |from_apex: f64, curvature: f64| {
        let sample = profile.samples.iter().min_by(|a, b| {
            (a.from_apex - from_apex)
                .abs()
                .total_cmp(&(b.from_apex - from_apex).abs())
        });
        let sample = sample.unwrap();
        assert!(sample.low <= sample.high);
        assert!(
            (sample.low..=sample.high).contains(&curvature),
            "{sample:?}"
        );
    };
    holds(middle_of_arc, 1.0 / 6.0);
    holds(1.0, 0.0);
    holds(12.0, 0.0);
    // Each sample is of the place that it names, counted from the apex.
    for sample in &profile.samples {
        let on_truth = truth.point_at_length(truth.length() - sample.from_apex);
        assert!(sample.point.distance(on_truth) < 0.15, "{sample:?}");
    }
    let drawn = |from_apex: f64| profile.samples[(from_apex / 0.25) as usize].curvature;
    assert!((drawn(middle_of_arc) - 1.0 / 6.0).abs() < 0.03);
    assert!(drawn(1.0).abs() < 0.03 && drawn(12.0).abs() < 0.03);
    // Wide where the curve may start or not, narrower in its middle; the forms
    // that the points leave possible differ most at the apex.
    let width = |i: usize| profile.samples[i].high - profile.samples[i].low;
    assert!(width((middle_of_arc / 0.25) as usize) < width(0));
    assert_eq!(
        profile,
        curvature::profile::CurvatureProfile::of(&fit, 0.25, 400, 3)
    );
}

/// Arcs that turn the same way are one curve, whatever lies between; its turn
/// and length are their sums.
#[test]
fn arcs_that_turn_the_same_way_are_one_curve() {
    let path = path(&[
        straight(5.0),
        arc(10.0, 20.0),
        straight(1.0),
        arc(6.0, 15.0),
        straight(2.0),
        arc(8.0, -12.0),
    ]);
    let curves = curvature::curve_by_curve::curves(&path);
    let turns: Vec<f64> = curves.iter().map(|c| c.turn_rad.to_degrees()).collect();
    assert_eq!(turns.len(), 2, "{turns:?}");
    assert!((turns[0] - 35.0).abs() < 1e-9 && (turns[1] + 12.0).abs() < 1e-9);
    let of_arc = |radius: f64, degrees: f64| radius * f64::to_radians(degrees);
    let both = of_arc(10.0, 20.0) + of_arc(6.0, 15.0);
    assert!((curves[0].arc_length - both).abs() < 1e-9);
    assert!((curves[0].radius - both / f64::to_radians(35.0)).abs() < 1e-9);
    assert!((curves[0].start_from_apex - (path.length() - 5.0)).abs() < 1e-9);
    assert!((curves[0].end_from_apex - (of_arc(8.0, 12.0) + 2.0)).abs() < 1e-9);
}

fn pieces() -> impl Strategy<Value = Vec<Piece>> {
    let one = (0.0..6.0_f64, 0.5..8.0_f64, -80.0..80.0_f64).prop_map(|(s, length, deg)| {
        [
            straight(s),
            Piece::Arc {
                length,
                turn_rad: deg.to_radians(),
            },
        ]
    });
    (proptest::collection::vec(one, 0..=3), 0.0..6.0_f64).prop_map(|(bends, tail)| {
        let mut pieces: Vec<Piece> = bends.into_iter().flatten().collect();
        pieces.push(straight(tail + 0.1));
        pieces
    })
}

fn moved(path: &StraightArcPath, by: Affine, mirror: bool) -> StraightArcPath {
    let scale = by.determinant().abs().sqrt();
    let sign = if mirror { -1.0 } else { 1.0 };
    let pieces: Vec<Piece> = path
        .pieces()
        .iter()
        .map(|piece| match *piece {
            Piece::Straight { length } => straight(length * scale),
            Piece::Arc { length, turn_rad } => Piece::Arc {
                length: length * scale,
                turn_rad: turn_rad * sign,
            },
        })
        .collect();
    let direction = by * (path.start() + path.poses()[0].direction) - by * path.start();
    StraightArcPath::new(by * path.start(), direction.atan2(), &pieces).unwrap()
}

proptest! {
    /// Angles do not depend on where, which way round and how large the canal
    /// is drawn; lengths go with the scale; only signed turns change in a
    /// mirror.
    #[test]
    fn invariant_under_motion_mirror_and_scale(
        pieces in pieces(),
        angle in -3.0..3.0_f64,
        scale in 0.2..50.0_f64,
        mirror: bool,
    ) {
        let canal = path(&pieces);
        let flip = if mirror { Affine::FLIP_X } else { Affine::IDENTITY };
        let by = Affine::translate((7.0, -3.0)) * Affine::rotate(angle) * flip * Affine::scale(scale);
        let other = moved(&canal, by, mirror);
        let (a, b) = (
            evaluated_in(&canal, PathUnit::Pixel).numbers(),
            evaluated_in(&other, PathUnit::Pixel).numbers(),
        );
        prop_assert_eq!(a.curve_count, b.curve_count);
        use CurvatureNumber::{Curve, Whole};
        let sign = if mirror { -1.0 } else { 1.0 };
        let whole = curvature::QUANTITIES.iter().filter(|row| match row.method {
            // Their segments have a length in mm.
            Some(method) => !matches!(method, Method::Luiten | Method::Estrela),
            None => true,
        });
        let whole = whole.map(|row| (Whole(row.quantity), match row.dimension {
            Dimension::Angle if row.quantity == CurvatureQuantity::NetTurn => sign,
            Dimension::Angle => 1.0,
            Dimension::Radius | Dimension::Length => scale,
        }));
        let of_curves = [
            (Curve(0, CurveQuantity::Turn), sign),
            (Curve(1, CurveQuantity::Turn), sign),
            (Curve(0, CurveQuantity::Radius), scale),
            (Curve(0, CurveQuantity::ArcLength), scale),
            (Curve(1, CurveQuantity::StartFromApex), scale),
            (Curve(1, CurveQuantity::EndFromApex), scale),
        ];
        for (quantity, factor) in whole.chain(of_curves) {
            let (expected, found) = (a.get(quantity) * factor, b.get(quantity));
            prop_assert_eq!(expected.is_nan(), found.is_nan(), "{:?}", quantity);
            let near = (expected - found).abs() <= 1e-6 * (1.0 + expected.abs());
            prop_assert!(expected.is_nan() || near, "{:?}: {} {}", quantity, expected, found);
        }
    }

    /// Any path and any moved landmarks give results or reasons, never a panic.
    #[test]
    fn any_landmarks_are_survived(
        pieces in pieces(),
        places in proptest::collection::vec(
            (0..CurvatureLandmark::ALL.len(), prop_oneof![Just(0.0), -1e3..1e3_f64, Just(1e300), Just(f64::NAN)],
             -30.0..30.0_f64), 0..6),
        in_mm: bool,
    ) {
        let canal = path(&pieces);
        let mut moved = LandmarkOverrides::none();
        for (index, x, y) in places {
            moved.set(CurvatureLandmark::ALL[index], Point::new(x, y));
        }
        let unit = if in_mm { PathUnit::Millimetre } else { PathUnit::Pixel };
        let found = curvature::evaluate(&canal, unit, &moved, &CurvatureSettings::default());
        for angle in [found.schneider_rad, found.weine_rad, found.luiten_rad] {
            prop_assert!(angle.is_err() || angle.is_ok_and(|a| (0.0..=3.15).contains(&a)));
        }
        prop_assert_eq!(curvature::constructions(&canal, unit, &moved).len(), 8);
    }
}
