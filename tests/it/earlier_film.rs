//! The scale of an earlier film, and equipment by name.

use std::path::Path;

use lengthfilm::case::{self, Case};
use lengthfilm::measure::findings::Findings;
use lengthfilm::measure::{
    FilmSummary, MeasureSettings, NoEarlierScale, Precision, earlier_film, measure,
};
use serde_json::{Value, json};

fn film(width_px: u32, height_px: u32) -> FilmSummary {
    FilmSummary {
        width_px,
        height_px,
        ..FilmSummary::default()
    }
}

fn parsed(case: &Value) -> Case {
    case::parse(case.to_string().as_bytes(), Path::new("a")).unwrap()
}

fn measured(case: &Value) -> Findings {
    let settings = MeasureSettings {
        precision: Precision::Live,
        ..MeasureSettings::default()
    };
    measure(&parsed(case), &film(900, 1200), "a", &settings).unwrap()
}

fn codes(found: &Findings) -> Vec<&str> {
    found.warnings.iter().map(|w| w.code.as_str()).collect()
}

/// A straight file of 20 mm shown 500 px long: 0.04 mm per px.
fn with_file() -> Value {
    json!({"format": "lengthfilm-case", "version": 1, "film": {"path": "film.png"},
           "scale": {"objects": [{"kind": "file", "canal": "MB", "true_length_mm": 20.0,
                                  "points_px": [[400, 200], [400, 450], [400, 700]]}]},
           "canals": [{"name": "MB"}]})
}

/// A canal on a film that shows no object of known size.
fn bare() -> Value {
    json!({"format": "lengthfilm-case", "version": 1, "film": {"path": "later.png"},
           "canals": [{"name": "MB", "trace_px": [[300, 300], [300, 400], [300, 500], [300, 600]],
                       "apex_px": [300, 600]}]})
}

fn with_earlier(mut later: Value) -> Value {
    let settings = MeasureSettings::default();
    let first = parsed(&with_file());
    let found = earlier_film(
        &first,
        &film(900, 1200),
        "a.case.json".into(),
        [900, 1200],
        &settings,
    );
    later["scale"]["earlier_film"] = serde_json::to_value(found.unwrap()).unwrap();
    later
}

#[test]
fn a_film_without_an_object_takes_the_scale_of_an_earlier_one() {
    let first = measured(&with_file());
    let alone = measured(&bare());
    assert!(alone.scale.mm_per_px.is_none() && codes(&alone).contains(&"no_scale"));

    let later = measured(&with_earlier(bare()));
    assert_eq!(later.scale.source, "earlier_film");
    assert!(later.scale.description.contains("file in canal MB"));
    assert_eq!(later.scale.mm_per_px, first.scale.mm_per_px);
    // What the first film's scale leaves open, and 1 % for the geometry.
    let relative =
        |found: &Findings| found.scale.u_mm_per_px.unwrap() / found.scale.mm_per_px.unwrap();
    let expected = relative(&first).hypot(0.01);
    assert!((relative(&later) - expected).abs() < 1e-9);
    assert!(codes(&later).contains(&"scale_from_earlier_film"));
    // 300 px of canal.
    let length = later.canals[0].curved_length_mm.unwrap();
    let mm = 300.0 * first.scale.mm_per_px.unwrap();
    assert!((length.value - mm).abs() < 0.02 * mm, "{length:?}");
    assert!(length.u95 > 1.96 * 0.01 * mm, "{length:?}");
}

/// 0.042 mm at the detector: the earlier film says how far the tooth is magnified.
#[test]
fn a_known_pitch_takes_its_magnification_from_the_earlier_film() {
    let mut later = with_earlier(bare());
    later["film"]["pixel_pitch_mm"] = json!([0.042, 0.042]);
    later["film"]["equipment"] = json!("plate reader 2");
    let found = measured(&later);
    let first = measured(&with_file()).scale.mm_per_px.unwrap();
    assert_eq!(found.scale.source, "typed_pitch");
    assert!(found.scale.description.contains("plate reader 2"));
    assert!((found.scale.mm_per_px.unwrap() - first).abs() < 1e-12);
    let magnification = found.scale.magnification.unwrap();
    assert!((magnification - 0.042 / first).abs() < 1e-9);
    let told = codes(&found);
    assert!(told.contains(&"scale_from_earlier_film"), "{told:?}");
    assert!(!told.contains(&"magnification_unknown") && !told.contains(&"pitch_disagreement"));
}

/// 0.042 mm at the detector and a typed M 1.05 make 0.04 mm, as the earlier film
/// has it; M 1.12 makes 6 % less.
#[test]
fn an_earlier_film_that_the_films_own_scale_contradicts_is_told() {
    let mut later = with_earlier(bare());
    later["film"]["pixel_pitch_mm"] = json!([0.042, 0.042]);
    for (magnification, is_told) in [(1.05, false), (1.12, true)] {
        later["film"]["magnification"] = json!(magnification);
        let found = measured(&later);
        assert_eq!(found.scale.source, "typed_pitch");
        let told = codes(&found);
        assert_eq!(told.contains(&"scale_disagreement"), is_told, "{told:?}");
        assert!(!told.contains(&"scale_from_earlier_film"), "{told:?}");
    }
}

#[test]
fn an_object_on_the_film_itself_comes_first() {
    let mut later = with_earlier(with_file());
    later["scale"]["objects"][0]["points_px"] = json!([[400, 200], [400, 450], [400, 710]]);
    let found = measured(&later);
    assert_eq!(found.scale.source, "file");
    assert!(!codes(&found).contains(&"scale_from_earlier_film"));
}

#[test]
fn scales_that_do_not_hold_are_refused() {
    let settings = MeasureSettings::default();
    let refused = |case: &Value, size_px: [u32; 2]| {
        let stored = "a.case.json".to_owned();
        earlier_film(&parsed(case), &film(900, 1200), stored, size_px, &settings).unwrap_err()
    };
    assert_eq!(refused(&bare(), [900, 1200]), NoEarlierScale::NoScale);
    let mut at_detector = bare();
    at_detector["film"]["pixel_pitch_mm"] = json!([0.04, 0.04]);
    assert_eq!(refused(&at_detector, [900, 1200]), NoEarlierScale::NoScale);
    assert_eq!(
        refused(&with_earlier(bare()), [900, 1200]),
        NoEarlierScale::FromAnother
    );
    let other = refused(&with_file(), [900, 1000]).to_string();
    assert!(
        other.contains("900 x 1200") && other.contains("900 x 1000"),
        "{other}"
    );
    // A quarter turn is no other receptor.
    let turned = earlier_film(
        &parsed(&with_file()),
        &film(900, 1200),
        "a.case.json".into(),
        [1200, 900],
        &settings,
    );
    assert!(turned.is_ok());

    // The same by hand in the case file.
    for (key, value) in [
        ("size_px", json!([640, 480])),
        ("mm_per_px", json!(7.0)),
        ("u_mm_per_px", json!(-0.001)),
    ] {
        let mut later = with_earlier(bare());
        later["scale"]["earlier_film"][key] = value;
        let problem = measure(&parsed(&later), &film(900, 1200), "a", &settings).unwrap_err();
        assert!(
            problem.to_string().contains("scale.earlier_film"),
            "{problem}"
        );
    }
}
