//! The difficulty class of a canal: read from its worst curve, with its
//! probability.

use kurbo::Point;
use lengthfilm::geometry::{Piece, StraightArcPath};
use lengthfilm::measure::findings::CurvatureFindings;
use lengthfilm::measure::{MeasureSettings, Precision, measure};

use super::support::noisy_trace::noisy_trace;

/// Curvature of a canal of 7 mm straight, two arcs (radius 8 and 10 mm) and
/// 1 mm straight, traced with 12 points.
fn curvature(
    turns_deg: [f64; 2],
    noise_mm: f64,
    seed: u64,
    precision: Precision,
) -> CurvatureFindings {
    let [first, second] = turns_deg.map(f64::to_radians);
    let pieces = [
        Piece::Straight { length: 7.0 },
        Piece::Arc {
            length: 8.0 * first.abs(),
            turn_rad: first,
        },
        Piece::Arc {
            length: 10.0 * second.abs(),
            turn_rad: second,
        },
        Piece::Straight { length: 1.0 },
    ];
    let path = StraightArcPath::new(Point::new(15.0, 5.0), 1.4, &pieces).unwrap();
    let places = (0..12).map(|i| path.point_at_length(path.length() * f64::from(i) / 11.0));
    let (case, film) = noisy_trace(places, [noise_mm; 2], seed);
    let settings = MeasureSettings {
        precision,
        draws: 2000,
        ..MeasureSettings::default()
    };
    let mut found = measure(&case, &film, "a", &settings).unwrap();
    found.canals.remove(0).curvature.unwrap()
}

/// Severe canals with a slight recurve, clicked with noise: never "low".
#[test]
fn a_severe_canal_is_never_low() {
    let mut severe = vec![[45.0, -4.0], [45.0, -6.0], [45.0, -9.0], [45.0, -12.0]];
    for turn in [35.0, 40.0, 50.0] {
        severe.extend([5.0, 7.5, 9.9].map(|recurve: f64| [turn, -recurve]));
    }
    let mut low = Vec::new();
    for turns in severe {
        for noise_mm in [0.02, 0.05] {
            for seed in 0..8 {
                let found = curvature(turns, noise_mm, seed, Precision::ValuesOnly);
                if found.difficulty.class.as_deref() == Some("low") {
                    low.push((turns, noise_mm, seed, found.difficulty));
                }
            }
        }
    }
    assert!(low.is_empty(), "{low:?}");
}

/// Probabilities add up to 1 and go over from one class to the next as the
/// canal bends more; those of the linear law are near those of the draws.
#[test]
fn a_class_carries_its_probability() {
    let (mut high, mut apart) = (Vec::new(), Vec::new());
    for turn in [15.0, 30.0, 45.0, 50.0, 55.0, 60.0, 85.0] {
        let drawn = curvature([turn, -3.0], 0.05, 3, Precision::Full);
        let live = curvature([turn, -3.0], 0.05, 3, Precision::Live);
        for found in [&drawn, &live] {
            let p = found.difficulty.probabilities.unwrap();
            assert!((p.low + p.moderate + p.high - 1.0).abs() < 1e-9);
            assert!((0.0..=1.0).contains(&found.s_shaped_probability.unwrap()));
        }
        let p = drawn.difficulty.probabilities.unwrap();
        let by_law = live.difficulty.probabilities.unwrap();
        high.push(p.high);
        apart.push((p.high - by_law.high).abs());
        let uncertain = [p.low, p.moderate, p.high].iter().all(|&p| p < 0.995);
        let words = drawn.difficulty.words().unwrap();
        assert_eq!(words.contains('%'), uncertain, "{words}");
    }
    println!("{high:.2?} {apart:.2?}");
    assert!(high[0] < 0.05 && high[6] > 0.95, "{high:.2?}");
    assert!(high.iter().any(|p| (0.02..0.98).contains(p)), "{high:.2?}");
    assert!(apart.iter().all(|&apart| apart < 0.3), "{apart:.2?}");
    let none = curvature([28.0, -3.0], 0.05, 3, Precision::ValuesOnly);
    assert_eq!(none.difficulty.probabilities, None);
    assert_eq!(none.s_shaped_probability, None);
}

/// The interval of a radius holds it, need not be even about it and, unlike an
/// even one, never reaches below 0.
#[test]
fn a_radius_has_an_uneven_interval() {
    let found = curvature([30.0, -1.0], 0.05, 5, Precision::Full);
    let curve = found.curves[0];
    let (value, low, high) = (
        curve.radius_mm.unwrap().value,
        curve.radius_low_mm.unwrap(),
        curve.radius_high_mm.unwrap(),
    );
    assert!(low < value && value < high, "{low} {value} {high}");
    assert!(
        low > 0.0 && (high + low - 2.0 * value).abs() > 0.05,
        "{low} {value} {high}"
    );
}
