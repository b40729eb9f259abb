//! How often contradictions between scales are told: 5 % where there are none,
//! most of the time where there is one (simulation with the stated
//! uncertainties; docs/uncertainty.md).

use lengthfilm::case::{self, Case};
use lengthfilm::measure::{FilmSummary, MeasureSettings, Precision, measure};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use serde_json::{Value, json};

const PITCH_MM: f64 = 0.02;
const MAGNIFICATION: f64 = 1.05;
const CASES: usize = 1500;

struct Hand(ChaCha8Rng);

impl Hand {
    fn normal(&mut self, sd: f64) -> f64 {
        let z: f64 = StandardNormal.sample(&mut self.0);
        sd * z
    }

    fn even(&mut self, half_width: f64) -> f64 {
        half_width * self.0.random_range(-1.0..1.0)
    }

    /// Two clicks at the ends of a vertical line, `length_mm` long at the
    /// detector, px.
    fn line(&mut self, column_mm: f64, length_mm: f64) -> Value {
        let mut click = |mm: f64| (mm + self.normal(0.05)) / PITCH_MM;
        let top = [click(column_mm), click(3.0)];
        let bottom = [click(column_mm), click(3.0 + length_mm)];
        json!([top, bottom])
    }

    /// A ruler of 10 mm at a depth the tooth does not share.
    fn ruler(&mut self, column_mm: f64) -> Value {
        let true_mm = 10.0 + self.even(0.05);
        let depth = 1.0 + self.normal(3.0 / 300.0);
        let points = self.line(column_mm, true_mm * MAGNIFICATION * depth);
        json!({"kind": "ruler", "true_length_mm": 10.0, "points_px": points})
    }

    /// A straight file of 20 mm read to ±0.25 mm, tilted by up to 8°, entered
    /// `wrong_mm` too long. `depth_mm`: its spread about where the scale holds.
    fn file(&mut self, wrong_mm: f64, depth_mm: f64) -> Value {
        let true_mm = 20.0 + self.even(0.25);
        let tilt = self.even(8f64.to_radians()).cos();
        let depth = 1.0 + self.normal(depth_mm / 300.0);
        let points = self.line(12.0, true_mm * tilt * MAGNIFICATION * depth);
        json!({"kind": "file", "canal": "MB", "true_length_mm": 20.0 + wrong_mm, "points_px": points})
    }
}

/// Share of cases that carry the warning.
fn share(code: &str, make: impl Fn(&mut Hand) -> Value) -> f64 {
    let film = FilmSummary {
        width_px: 2000,
        height_px: 2000,
        ..FilmSummary::default()
    };
    let settings = MeasureSettings {
        precision: Precision::ValuesOnly,
        ..MeasureSettings::default()
    };
    let mut hand = Hand(ChaCha8Rng::seed_from_u64(14));
    let found = (0..CASES).filter(|_| {
        let text = make(&mut hand).to_string();
        let case: Case = case::parse(text.as_bytes(), std::path::Path::new("a")).unwrap();
        let found = measure(&case, &film, "a", &settings).unwrap();
        found.warnings.iter().any(|w| w.code == code)
    });
    found.count() as f64 / CASES as f64
}

fn case_of(film: Value, objects: Vec<Value>) -> Value {
    json!({"format": "lengthfilm-case", "version": 1, "film": film, "scale": {"objects": objects},
           "canals": [{"name": "MB"}]})
}

fn pitch_only() -> Value {
    json!({"path": "film.png", "pixel_pitch_mm": [PITCH_MM, PITCH_MM]})
}

/// Pitch and a magnification known to 0.5 %.
fn pitch_and_magnification(hand: &mut Hand) -> Value {
    let typed = MAGNIFICATION * (1.0 + hand.normal(0.005));
    json!({"path": "film.png", "pixel_pitch_mm": [PITCH_MM, PITCH_MM], "magnification": typed})
}

#[test]
fn false_alarms_are_about_one_in_twenty() {
    let scale = "scale_disagreement";
    let two_rulers = share(scale, |hand| {
        let objects = vec![hand.ruler(5.0), hand.ruler(20.0)];
        case_of(pitch_only(), objects)
    });
    let three_rulers = share(scale, |hand| {
        let objects = vec![hand.ruler(5.0), hand.ruler(20.0), hand.ruler(25.0)];
        case_of(pitch_only(), objects)
    });
    let ruler_and_typed = share(scale, |hand| {
        let film = pitch_and_magnification(hand);
        let objects = vec![hand.ruler(5.0)];
        case_of(film, objects)
    });
    let file_and_ruler = share(scale, |hand| {
        let objects = vec![hand.file(0.0, 2.0), hand.ruler(20.0)];
        case_of(pitch_only(), objects)
    });
    let file_and_pitch = share("set_length_pitch_disagreement", |hand| {
        let film = pitch_and_magnification(hand);
        let objects = vec![hand.file(0.0, 0.0)];
        case_of(film, objects)
    });
    println!(
        "two rulers {two_rulers:.3}, three {three_rulers:.3}, ruler and typed {ruler_and_typed:.3}, \
         file and ruler {file_and_ruler:.3}, file and pitch {file_and_pitch:.3}"
    );
    for found in [
        two_rulers,
        three_rulers,
        ruler_and_typed,
        file_and_ruler,
        file_and_pitch,
    ] {
        assert!((0.025..=0.075).contains(&found), "{found}");
    }
}

/// How often a length entered wrong is told where pitch and magnification are
/// known. More cannot be told from one film: the reading alone has ±0.25 mm.
#[test]
fn a_length_entered_wrong_is_told() {
    for (wrong_mm, least) in [(0.5, 0.5), (1.0, 0.95)] {
        for side in [-1.0, 1.0] {
            let told = share("set_length_pitch_disagreement", |hand| {
                let film = pitch_and_magnification(hand);
                let objects = vec![hand.file(side * wrong_mm, 0.0)];
                case_of(film, objects)
            });
            println!("{:+} mm: {told:.3}", side * wrong_mm);
            assert!(told >= least, "{wrong_mm} mm: {told}");
        }
    }
}

#[test]
fn a_typed_magnification_that_the_distances_contradict_is_told() {
    let code = "magnification_disagreement";
    let told = |typed: f64| {
        share(code, |_| {
            let mut film = pitch_only();
            film["magnification"] = json!(typed);
            film["source_to_detector_mm"] = json!(315.0);
            film["source_to_tooth_mm"] = json!(300.0);
            case_of(film, Vec::new())
        })
    };
    assert_eq!(told(1.05), 0.0);
    assert_eq!(told(1.12), 1.0);
}

/// A scale from the film's own edges, 41 mm apart (size 2 of ISO 3665, from
/// memory) over 1000 px: by hand, 41 mm lie 12 mm behind the tooth at 300 mm from
/// the source, so a px is 41 / 1000 / 1.04 mm in the tooth's plane; a stated
/// magnification takes the place of that, a file that of the edges.
#[test]
fn the_films_own_edges_give_a_scale_in_the_tooths_plane() {
    let film = FilmSummary {
        width_px: 2000,
        height_px: 2000,
        ..FilmSummary::default()
    };
    let settings = MeasureSettings::default();
    let plate = json!({"kind": "plate", "true_length_mm": 41.0,
                       "points_px": [[100.0, 500.0], [1100.0, 500.0]]});
    let measured = |film_key: Value, objects: Vec<Value>| {
        let text = case_of(film_key, objects).to_string();
        let case: Case = case::parse(text.as_bytes(), std::path::Path::new("a")).unwrap();
        measure(&case, &film, "a", &settings).unwrap()
    };
    let alone = measured(json!({"path": "film.png"}), vec![plate.clone()]);
    let scale = alone.scale.mm_per_px.unwrap();
    assert!((scale - 0.041 / 1.04).abs() < 1e-6, "{scale}");
    assert_eq!(alone.scale.source, "plate");
    // 6 mm of 300 mm are 2 %; ±0.5 mm of 41 mm are 0.7 %; both clicks 0.28 %.
    let relative = alone.scale.u_mm_per_px.unwrap() / scale;
    assert!((relative - 0.0214).abs() < 0.002, "{relative}");
    assert!(
        alone
            .warnings
            .iter()
            .any(|w| w.code == "scale_by_film_edges")
    );

    let stated = json!({"path": "film.png", "magnification": 1.1});
    let stated = measured(stated, vec![plate.clone()]);
    assert!((stated.scale.mm_per_px.unwrap() - 0.041 / 1.1).abs() < 1e-6);

    let file = json!({"kind": "file", "canal": "MB", "true_length_mm": 20.0,
                      "points_px": [[300.0, 200.0], [300.0, 720.0]]});
    let both = measured(json!({"path": "film.png"}), vec![plate, file]);
    assert!((both.scale.mm_per_px.unwrap() - 20.0 / 520.0).abs() < 1e-6);
    assert!(
        both.warnings
            .iter()
            .all(|w| w.code != "scale_by_film_edges")
    );
}
