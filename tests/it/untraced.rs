//! A canal that nobody traced: its file's clicks give tip to apex and working
//! length, and nothing that begins at the orifice.

use std::path::Path;

use lengthfilm::measure::findings::Findings;
use lengthfilm::measure::{FilmSummary, MeasureSettings, measure};
use serde_json::{Value, json};

fn measured(mut case: Value) -> Findings {
    case["format"] = json!("lengthfilm-case");
    case["version"] = json!(1);
    let case = lengthfilm::case::parse(case.to_string().as_bytes(), Path::new("t")).unwrap();
    let film = FilmSummary {
        width_px: 2000,
        height_px: 2000,
        ..FilmSummary::default()
    };
    measure(&case, &film, "t", &MeasureSettings::default()).unwrap()
}

/// Stop, bend, tip: 300 px down, then 400 px along (3, 4)/5; the apex 60 px
/// farther that way.
fn bent_file(known_length_mm: f64) -> Value {
    json!({
        "film": {"path": "film.png", "pixel_pitch_mm": [0.025, 0.025], "magnification": 1.0},
        "scale": {"objects": [{"kind": "file", "canal": "MB", "true_length_mm": known_length_mm,
                               "points_px": [[500, 100], [500, 400], [740, 720]]}]},
        "canals": [{"name": "MB", "reference_px": [500, 100],
                    "file": {"set_length_mm": 17.0, "tip_px": [740, 720]},
                    "apex_px": [776, 768]}]
    })
}

/// Closed form: tip to apex is 60 of the 760 px from the reference point to the
/// apex, whatever the scale. A curve through the three clicks would bow off the
/// file and change the share.
#[test]
fn the_path_is_straight_from_click_to_click() {
    let found = measured(bent_file(17.5));
    let canal = &found.canals[0];
    let tip = canal.tip_to_apex_mm.expect("a distance").value;
    let whole = canal.reference_to_apex_mm.expect("a distance").value;
    assert!((tip / whole - 60.0 / 760.0).abs() < 1e-9, "{tip} {whole}");
    // By the film's pitch 700 px are 17.5 mm, and 60 px 1.5 mm.
    assert!((tip - 1.5).abs() < 0.02, "{tip}");
    let additive = canal.working_length_additive_mm.expect("a length").value;
    assert!((additive - (17.0 + tip - 1.0)).abs() < 1e-9, "{additive}");
}

/// Its two working lengths run along one line: they differ only by how the
/// scale reads 1.5 mm.
#[test]
fn both_working_lengths_run_along_the_same_pieces() {
    let found = measured(bent_file(17.0));
    let canal = &found.canals[0];
    let additive = canal.working_length_additive_mm.expect("a length").value;
    let proportion = canal.working_length_proportion_mm.expect("a length").value;
    assert!(
        (additive - proportion).abs() < 0.02,
        "{additive} {proportion}"
    );
}

/// However many clicks the file has, it is no canal: no length and no
/// curvature, each with its reason.
#[test]
fn a_file_is_no_canal() {
    let mut case = bent_file(17.0);
    case["scale"]["objects"][0]["points_px"] = json!([
        [500, 100],
        [500, 200],
        [500, 300],
        [520, 420],
        [570, 530],
        [640, 630],
        [740, 720]
    ]);
    let found = measured(case);
    let canal = &found.canals[0];
    assert!(canal.tip_to_apex_mm.is_some() && canal.working_length_additive_mm.is_some());
    assert_eq!(canal.curved_length_mm, None);
    assert_eq!(canal.curved_length_px, None);
    assert_eq!(canal.chord_mm, None);
    assert_eq!(canal.curvature, None);
    for code in ["no_trace", "no_curvature"] {
        let told = found.warnings.iter().find(|warning| warning.code == code);
        let text = &told.unwrap_or_else(|| panic!("no reason: {code}")).text;
        assert!(text.contains("trace the canal"), "{text}");
    }
}
