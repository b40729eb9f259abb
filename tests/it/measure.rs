//! `measure` on cases with known answers: closed forms, the contract's
//! shape, and real films.

use std::path::Path;

use lengthfilm::curvature::CurvatureQuantity;
use lengthfilm::film::FilmCache;
use lengthfilm::grading::measures::compared_values;
use lengthfilm::measure::findings::Findings;
use lengthfilm::measure::{
    FilmSummary, MeasureSettings, Precision, measure, measure_file, open_case,
};
use lengthfilm::units::Quantity;
use serde_json::{Value, json};

use crate::support::real_films;

/// A film of `width` × `height` px that says nothing about its scale.
fn blank_film(width_px: u32, height_px: u32) -> FilmSummary {
    FilmSummary {
        width_px,
        height_px,
        ..FilmSummary::default()
    }
}

fn measured(mut case: Value) -> Findings {
    case["format"] = json!("lengthfilm-case");
    case["version"] = json!(1);
    if case.get("film").is_none() {
        case["film"] = json!({"path": "film.png"});
    }
    let case = lengthfilm::case::parse(case.to_string().as_bytes(), Path::new("t")).unwrap();
    measure(
        &case,
        &blank_film(2000, 2000),
        "t",
        &MeasureSettings::default(),
    )
    .unwrap()
}

fn codes(findings: &Findings) -> Vec<&str> {
    findings.warnings.iter().map(|w| w.code.as_str()).collect()
}

fn near(found: Option<Quantity>, expected: f64, tolerance: f64) {
    let found = found.expect("a value").value;
    assert!(
        (found - expected).abs() <= tolerance,
        "{found} is not {expected}"
    );
}

/// A straight file of 21 mm seen at 0.05 mm/px true scale, its tip 1.0 mm
/// short of the apex: DERIVED, additive 21.0 + 1.05/1.05 =
/// 22.0 and Grossman 21 × 23.1/22.05 = 22.0, each less 1.0.
#[test]
fn straight_canal_with_a_file_short_of_the_apex() {
    let findings = measured(json!({
        "film": {"path": "film.png", "pixel_pitch_mm": [0.0525, 0.0525]},
        "scale": {"objects": [{"kind": "file", "canal": "MB", "true_length_mm": 21.0,
                               "points_px": [[500, 100], [500, 520]]}]},
        "canals": [{"name": "MB", "reference_px": [500, 100],
                    "trace_px": [[500, 240], [500, 300], [500, 420], [500, 540]],
                    "file": {"set_length_mm": 21.0, "tip_px": [500, 520]},
                    "apex_px": [500, 540]}]
    }));
    assert_eq!(findings.scale.source, "file");
    assert!((findings.scale.mm_per_px.unwrap() - 0.05).abs() < 1e-12);
    assert!((findings.scale.magnification.unwrap() - 1.05).abs() < 1e-12);
    let canal = &findings.canals[0];
    near(canal.tip_to_apex_mm, 1.0, 1e-9);
    near(canal.tip_to_apex_straight_mm, 1.0, 1e-9);
    near(canal.reference_to_apex_mm, 22.0, 1e-9);
    near(canal.working_length_additive_mm, 21.0, 1e-9);
    near(canal.working_length_proportion_mm, 21.0, 1e-9);
    assert_eq!(canal.working_length_chart_mm, Some(21.0));
    near(canal.curved_length_mm, 15.0, 1e-9);
    let curvature = canal.curvature.as_ref().unwrap();
    near(curvature[CurvatureQuantity::Schneider], 0.0, 1e-6);
    assert_eq!(
        curvature[CurvatureQuantity::SmallestRadius],
        None,
        "straight: no radius"
    );
    assert_eq!(curvature.difficulty.class.as_deref(), Some("low"));
}

/// DERIVED (law of first order): proportion with Li 21 (u 0.2887), Lt 23.1
/// (0.15), La 22.05 (0.15) → 22.000, u 0.3664. There the three are
/// independent; here reference and clicks are shared, which JCGM 100 F.1.2.3
/// lets shrink the result: it must stay below, and above its largest part.
#[test]
fn shared_landmarks_lower_the_uncertainty_of_the_proportion() {
    let u_click = 0.15 / f64::sqrt(2.0);
    let findings = measured(json!({
        "film": {"path": "film.png", "pixel_pitch_mm": [0.05, 0.05]},
        "scale": {"objects": [{"kind": "file", "canal": "A", "true_length_mm": 21.0,
                               "nominal": true, "points_px": [[500, 100], [500, 541]]}]},
        "canals": [{"name": "A", "reference_px": [500, 100], "allowance_mm": 0.0,
                    "trace_px": [[500, 100], [500, 562]], "apex_px": [500, 562]}],
        "click_noise_mm": u_click
    }));
    let tooth = findings.canals[0].working_length_proportion_mm.unwrap();
    assert!((tooth.value - 22.0).abs() < 1e-9);
    let u = tooth.u95 / 1.959_964;
    assert!(u < 0.3664, "{u}");
    assert!(u > 0.3024, "{u}");
}

/// docs/methods.md 3: without a scale every mm is null, px and angles remain.
#[test]
fn no_scale_gives_no_millimetres() {
    let findings = measured(json!({
        "canals": [{"name": "MB", "trace_px": [[500, 240], [500, 440], [510, 540], [560, 640]],
                    "file": {"set_length_mm": 21.0, "tip_px": [555, 630]},
                    "apex_px": [560, 640]}]
    }));
    assert_eq!(findings.scale.source, "none");
    assert!(codes(&findings).contains(&"no_scale"));
    let text = serde_json::to_value(&findings.canals[0]).unwrap();
    assert_no_millimetres(&text);
    let canal = &findings.canals[0];
    assert!(canal.curved_length_px.unwrap() > 400.0);
    assert!(canal.curvature.as_ref().unwrap()[CurvatureQuantity::Schneider].is_some());
}

/// Every `_mm` key below `value` is null, inputs of the user apart.
fn assert_no_millimetres(value: &Value) {
    match value {
        Value::Object(map) => {
            for (key, value) in map {
                let is_input = key == "allowance_mm";
                assert!(
                    !key.ends_with("_mm") || is_input || value.is_null(),
                    "{key}: {value}"
                );
                assert_no_millimetres(value);
            }
        }
        Value::Array(items) => items.iter().for_each(assert_no_millimetres),
        _ => {}
    }
}

/// docs/methods.md 4: beyond the apex is negative and warned of.
#[test]
fn a_tip_beyond_the_apex_is_negative() {
    let findings = measured(json!({
        "scale": {"objects": [{"kind": "ruler", "true_length_mm": 10.0,
                               "points_px": [[100, 100], [100, 300]]}]},
        "canals": [{"name": "MB", "reference_px": [500, 100],
                    "trace_px": [[500, 240], [500, 540]],
                    "file": {"set_length_mm": 23.0, "tip_px": [500, 560]}}]
    }));
    near(findings.canals[0].tip_to_apex_mm, -1.0, 1e-9);
    near(findings.canals[0].tip_to_apex_straight_mm, -1.0, 1e-9);
    near(findings.canals[0].working_length_additive_mm, 21.0, 1e-9);
    assert!(codes(&findings).contains(&"beyond_apex"));
}

#[test]
fn doubtful_scales_are_warned_of() {
    let disagreeing = measured(json!({
        "scale": {"objects": [
            {"kind": "file", "true_length_mm": 20.0, "points_px": [[500, 100], [500, 500]]},
            {"kind": "file", "true_length_mm": 25.0, "points_px": [[600, 100], [600, 500]]}]}
    }));
    assert!(codes(&disagreeing).contains(&"scale_disagreement"));

    let foreshortened = measured(json!({
        "film": {"path": "film.png", "pixel_pitch_mm": [0.04, 0.04]},
        "scale": {"objects": [
            {"kind": "file", "true_length_mm": 20.0, "points_px": [[500, 100], [500, 500]]}]}
    }));
    assert!(codes(&foreshortened).contains(&"magnification_implausible"));

    let detector = measured(json!({
        "film": {"path": "film.png", "pixel_pitch_mm": [0.04, 0.04]}
    }));
    assert!(codes(&detector).contains(&"magnification_unknown"));
}

/// The limit of 1.15 is one limit, whether the magnification was typed or
/// follows from an object, whose last digits are rounding.
#[test]
fn typed_and_measured_magnification_meet_one_limit() {
    for (magnification, warns) in [(1.15, false), (1.16, true), (1.0, false), (0.99, true)] {
        let typed = measured(json!({
            "film": {"path": "film.png", "pixel_pitch_mm": [0.03, 0.03],
                     "magnification": magnification}
        }));
        let length_px = 17.0 * magnification / 0.03;
        let of_object = measured(json!({
            "film": {"path": "film.png", "pixel_pitch_mm": [0.03, 0.03]},
            "scale": {"objects": [{"kind": "ruler", "true_length_mm": 17.0,
                                   "points_px": [[500, 100], [500, 100.0 + length_px]]}]}
        }));
        for findings in [typed, of_object] {
            let warned = codes(&findings).contains(&"magnification_implausible");
            assert_eq!(warned, warns, "{:?}", findings.scale);
        }
    }
}

/// A working length below the chart's step gives no chart value, never 0.0.
#[test]
fn a_working_length_of_nearly_nothing_has_no_chart_value() {
    for (set_length_mm, chart) in [(1.1, None), (1.6, Some(0.5))] {
        let findings = measured(json!({
            "film": {"path": "film.png", "pixel_pitch_mm": [0.025, 0.025], "magnification": 1.0},
            "canals": [{"name": "MB", "reference_px": [500, 100],
                        "trace_px": [[500, 240], [500, 540]],
                        "file": {"set_length_mm": set_length_mm, "tip_px": [500, 540]},
                        "allowance_mm": 1.0}]
        }));
        let canal = &findings.canals[0];
        near(canal.working_length_additive_mm, set_length_mm - 1.0, 1e-9);
        assert_eq!(canal.working_length_chart_mm, chart);
        assert_eq!(
            codes(&findings).contains(&"no_chart_value"),
            chart.is_none()
        );
    }
}

/// SID and SOD give M = SID/SOD (docs/methods.md 3): 1.05263.
#[test]
fn typed_distances_give_the_magnification() {
    let findings = measured(json!({
        "film": {"path": "film.png", "pixel_pitch_mm": [0.03, 0.02],
                 "source_to_detector_mm": 200.0, "source_to_tooth_mm": 190.0},
        "canals": [{"name": "A", "trace_px": [[100, 100], [100, 1100]]},
                   {"name": "B", "trace_px": [[100, 100], [1100, 100]]}]
    }));
    assert!((findings.scale.magnification.unwrap() - 1.05263).abs() < 5e-6);
    near(
        findings.canals[0].curved_length_mm,
        30.0 / 1.052_631_579,
        1e-8,
    );
    near(
        findings.canals[1].curved_length_mm,
        20.0 / 1.052_631_579,
        1e-8,
    );
}

/// The keys that other programs rely on, on one example.
#[test]
fn the_promised_keys_are_there() {
    let findings = measured(json!({
        "film": {"path": "film.png", "pixel_pitch_mm": [0.025, 0.025]},
        "scale": {"objects": [
            {"kind": "file", "canal": "MB", "true_length_mm": 20.0,
             "points_px": [[512.0, 140.5], [515.2, 400.0], [530.0, 900.1]]},
            {"kind": "ruler", "true_length_mm": 10.0,
             "points_px": [[1152.0, 298.8], [1152.0, 584.6]]},
            {"kind": "ball", "true_diameter_mm": 5.0, "points_px": [[10, 10], [210, 10]]}]},
        "tooth": {"notation": "fdi", "number": "36"},
        "canals": [{"name": "MB", "reference_px": [512.0, 140.5],
                    "trace_px": [[514, 420], [516, 600], [525, 800], [548, 940]],
                    "file": {"set_length_mm": 20.0, "tip_px": [530.0, 900.1]},
                    "apex_px": [548, 940], "allowance_mm": 1.0, "landmarks": {}}],
        "click_noise_mm": 0.05, "seed": 1
    }));
    let value = serde_json::to_value(&findings).unwrap();
    for key in ["source", "mm_per_px", "u_mm_per_px", "magnification"] {
        assert!(value["scale"].get(key).is_some(), "scale.{key}");
    }
    let canal = &value["canals"][0];
    for key in [
        "name",
        "curved_length_mm",
        "curved_length_px",
        "chord_mm",
        "reference_to_apex_mm",
        "tip_to_apex_mm",
        "tip_to_apex_straight_mm",
        "working_length_additive_mm",
        "working_length_proportion_mm",
        "working_length_chart_mm",
        "curvature",
    ] {
        assert!(canal.get(key).is_some(), "canal.{key}");
    }
    for key in [
        "schneider_deg",
        "weine_deg",
        "axis_axis_deg",
        "pruett_deg",
        "pruett_radius_mm",
        "luiten_deg",
        "schafer_radius_mm",
        "schafer_curve_length_mm",
        "canal_access_deg",
        "curvature_height_mm",
        "curvature_distance_mm",
        "estrela_radius_mm",
        "curves",
        "net_turn_deg",
        "total_turn_deg",
        "smallest_radius_mm",
        "smallest_radius_from_apex_mm",
        "s_shaped",
        "difficulty",
    ] {
        assert!(canal["curvature"].get(key).is_some(), "curvature.{key}");
    }
    let tip = &canal["tip_to_apex_mm"];
    assert!(tip["value"].is_number() && tip["u95"].is_number());
}

/// Measures `case` written beside nothing but a path to a real film.
fn measured_on(film: &Path, mut case: Value) -> Findings {
    let folder = tempfile::tempdir().unwrap();
    case["format"] = json!("lengthfilm-case");
    case["version"] = json!(1);
    case["film"]["path"] = json!(film.canonicalize().unwrap());
    let path = folder.path().join("real.case.json");
    std::fs::write(&path, case.to_string()).unwrap();
    measure_file(&path, &FilmCache::default(), &MeasureSettings::default()).unwrap()
}

/// Scale arithmetic on a real film (975 of DenPAR, CC BY 4.0): the distances
/// held against were derived from the same points and ruler, so this checks
/// how a ruler and two points become millimetres, and no observer.
#[test]
fn real_film_975_by_its_ruler() {
    let Some(films) = real_films() else { return };
    let truth: Value =
        serde_json::from_slice(&std::fs::read(films.join("denpar_975_truth.json")).unwrap())
            .unwrap();
    let ticks = truth["ruler_ticks_y_px"].as_array().unwrap();
    let x = &truth["ruler_x_px"];
    let canals: Vec<_> = truth["derived_distances"]
        .as_array()
        .unwrap()
        .iter()
        .enumerate()
        .map(|(i, d)| json!({"name": format!("root {i}"), "trace_px": [d["from_cej"], d["to_apex"]]}))
        .collect();
    let findings = measured_on(
        &films.join("denpar_975_1168x883.png"),
        json!({"scale": {"objects": [{"kind": "ruler", "true_length_mm": 10.0,
                   "points_px": [[x, ticks[0]], [x, ticks[10]]]}]},
               "canals": canals}),
    );
    assert_eq!(findings.scale.source, "ruler");
    let distances = truth["derived_distances"].as_array().unwrap();
    assert_eq!(findings.canals.len(), 4);
    for (canal, truth) in findings.canals.iter().zip(distances) {
        let expected = truth["mm"].as_f64().unwrap();
        near(canal.curved_length_mm, expected, 0.02);
        println!(
            "{}: {:?}, derived {expected} mm",
            canal.name, canal.curved_length_mm
        );
    }
}

/// Extracted tooth 036 (CC BY 4.0): first to last red line, 14.30 mm,
/// calibrated on the 1 mm bar of the picture. So short a bar makes the result
/// uncertain; the stated interval holds the truth.
#[test]
fn real_extracted_tooth_036_by_a_one_millimetre_bar() {
    let Some(films) = real_films() else { return };
    let findings = measured_on(
        &films.join("Tooth036.ExtractedSlices.png"),
        json!({"scale": {"objects": [{"kind": "ruler", "true_length_mm": 1.0,
                   "points_px": [[146.0, 604.0], [169.0, 604.0]]}]},
               "canals": [{"name": "axis", "trace_px": [[103.0, 272.5], [103.0, 612.5]]}]}),
    );
    let length = findings.canals[0].curved_length_mm.unwrap();
    println!(
        "14.30 mm measures {:.2} ± {:.2} mm",
        length.value, length.u95
    );
    assert!((length.value - 14.30).abs() <= length.u95, "{length:?}");
    assert!(length.u95 > 1.0, "the short bar must show: {length:?}");
}

/// Both DICOM wrappers of film 975: which spacing was used.
#[test]
fn real_dicom_films_name_their_spacing() {
    let Some(films) = real_films() else { return };
    for (file, source, warning) in [
        (
            "denpar_975_IO_imagerpixelspacing.dcm",
            "imager_pixel_spacing",
            "magnification_unknown",
        ),
        (
            "denpar_975_IO_pixelspacing_only_noSOPclass.dcm",
            "pixel_spacing_origin_not_stated",
            "scale_origin_not_stated",
        ),
    ] {
        let findings = measured_on(
            &films.join(file),
            json!({"canals": [{"name": "A", "trace_px": [[118.9, 217.7], [237.1, 715.0]]}]}),
        );
        assert_eq!(findings.scale.source, source);
        assert!(
            codes(&findings).contains(&warning),
            "{:?}",
            findings.warnings
        );
        // 511.2 px at 0.035 mm.
        near(findings.canals[0].curved_length_mm, 17.89, 0.02);
        println!("{file}: {}", findings.scale.description);
    }
}

/// What grading uses: the same estimates, without the work behind intervals.
#[test]
fn values_alone_are_the_values_with_intervals() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-images");
    let measured = |name: &str, precision: Precision| {
        let (case, film) = open_case(&folder.join(name)).unwrap();
        let settings = MeasureSettings {
            precision,
            ..MeasureSettings::default()
        };
        let film = FilmSummary::from(&film);
        measure(&case, &film, name, &settings).unwrap()
    };
    let mut compared = 0;
    for name in ["molar-36-short.case.json", "premolar-35-s-bend.case.json"] {
        let live = measured(name, Precision::Live);
        let values = measured(name, Precision::ValuesOnly);
        for (live, values) in live.canals.iter().zip(&values.canals) {
            let (live, values) = (compared_values(live), compared_values(values));
            assert_eq!(live, values);
            compared += values.len();
        }
    }
    assert!(compared > 20, "{compared}");
}

/// Two straights that meet in a corner: the turn is there, but no radius
/// (an arc as short as a click fits as well), and the reason is given. The
/// same turn along an arc of 10 mm has its radius.
#[test]
fn a_kink_has_no_radius() {
    let turn = 20f64.to_radians();
    // 0.05 mm per px; straight down, then turned; a point each mm.
    let place = |radius_mm: f64, along_mm: f64| {
        let arc_mm = radius_mm * turn;
        let (x, y) = if along_mm <= 6.0 {
            (0.0, along_mm)
        } else if along_mm <= 6.0 + arc_mm {
            let angle = (along_mm - 6.0) / radius_mm;
            let aside = radius_mm * (1.0 - angle.cos());
            (aside, 6.0 + radius_mm * angle.sin())
        } else {
            let rest = along_mm - 6.0 - arc_mm;
            let end = [radius_mm * (1.0 - turn.cos()), 6.0 + radius_mm * turn.sin()];
            (end[0] + rest * turn.sin(), end[1] + rest * turn.cos())
        };
        [1000.0 + 20.0 * x, 400.0 + 20.0 * y]
    };
    let found = |radius_mm: f64| {
        let trace: Vec<_> = (0..15).map(|i| place(radius_mm, f64::from(i))).collect();
        measured(json!({
            "scale": {"objects": [{"kind": "ruler", "true_length_mm": 10.0,
                                   "points_px": [[100, 100], [100, 300]]}]},
            "canals": [{"name": "C", "trace_px": trace}]
        }))
    };
    let kinked = found(1e-6);
    let curvature = kinked.canals[0].curvature.as_ref().unwrap();
    assert_eq!(curvature.curves.len(), 1);
    near(
        curvature.curves[0].turn_deg.map(|q| Quantity {
            value: q.value.abs(),
            ..q
        }),
        20.0,
        0.5,
    );
    assert_eq!(curvature.curves[0].radius_mm, None);
    assert_eq!(curvature[CurvatureQuantity::SmallestRadius], None);
    assert_eq!(curvature[CurvatureQuantity::PruettRadius], None);
    assert!(codes(&kinked).contains(&"radius_not_resolved"));

    let curved = found(10.0);
    let curvature = curved.canals[0].curvature.as_ref().unwrap();
    near(curvature.curves[0].radius_mm, 10.0, 0.5);
    near(curvature[CurvatureQuantity::SmallestRadius], 10.0, 0.5);
    assert!(!codes(&curved).contains(&"radius_not_resolved"));
}

/// A straight canal at 0.025 mm/px, orifice (500, 200), apex (500, 700), file
/// of 14 mm with its tip 1 mm short; the reference 2.5 mm above the orifice.
fn straight(change: impl Fn(&mut Value)) -> Value {
    let mut case = json!({
        "scale": {"objects": [{"kind": "ruler", "true_length_mm": 10.0,
                               "points_px": [[900, 200], [900, 600]]}]},
        "canals": [{"name": "A", "reference_px": [500, 100],
                    "trace_px": [[500, 200], [500, 320], [500, 440], [500, 560], [500, 700]],
                    "file": {"set_length_mm": 14.0, "tip_px": [500, 660]},
                    "apex_px": [500, 700]}]
    });
    change(&mut case);
    case
}

/// Why a case is refused.
fn refusal(mut case: Value) -> String {
    case["format"] = json!("lengthfilm-case");
    case["version"] = json!(1);
    case["film"] = json!({"path": "film.png"});
    let case = lengthfilm::case::parse(case.to_string().as_bytes(), Path::new("t")).unwrap();
    let found = measure(
        &case,
        &blank_film(2000, 2000),
        "t",
        &MeasureSettings::default(),
    );
    found.unwrap_err().to_string()
}

/// Closed form: 600 px from reference to apex are 15 mm; with the reference
/// 1 mm along the trace 11.5 mm remain.
#[test]
fn a_reference_along_the_trace_counts_from_there() {
    let plain = measured(straight(|_| {}));
    near(plain.canals[0].reference_to_apex_mm, 15.0, 1e-6);
    let along = measured(straight(|case| {
        case["canals"][0]["reference_px"] = json!([500, 240]);
    }));
    near(along.canals[0].reference_to_apex_mm, 11.5, 1e-6);
    near(along.canals[0].working_length_proportion_mm, 10.5, 1e-6);
}

/// Without path and reference nobody knows on which side of the apex a tip
/// lies; with the reference it is told.
#[test]
fn the_side_of_the_apex_is_not_guessed() {
    let beyond = |reference: Value| {
        measured(straight(|case| {
            case["canals"][0]["trace_px"] = json!([]);
            case["canals"][0]["apex_px"] = json!([500, 600]);
            case["canals"][0]["reference_px"] = reference.clone();
        }))
    };
    let unknown = beyond(Value::Null);
    assert_eq!(unknown.canals[0].tip_to_apex_mm, None);
    assert_eq!(unknown.canals[0].working_length_chart_mm, None);
    let why = unknown.warnings.iter().find(|w| w.code == "no_tip_to_apex");
    assert!(why.unwrap().text.contains("side of the apex"));
    let known = beyond(json!([500, 100]));
    near(known.canals[0].tip_to_apex_mm, -1.5, 1e-6);
}

#[test]
fn lines_drawn_the_wrong_way_are_refused() {
    let turned = json!([[500, 700], [500, 560], [500, 440], [500, 320], [500, 200]]);
    let own_file = json!([{"kind": "file", "canal": "A", "true_length_mm": 14.0,
                           "points_px": [[500, 100], [500, 660]]}]);
    for known in ["apex_px", "reference_px", "file"] {
        let message = refusal(straight(|case| {
            let canal = &mut case["canals"][0];
            for key in ["apex_px", "reference_px", "file"] {
                if key != known {
                    canal[key] = Value::Null;
                }
            }
            canal["trace_px"] = turned.clone();
        }));
        assert!(
            message.contains("from the apex to the orifice"),
            "{known}: {message}"
        );
    }
    let by_the_stop = refusal(straight(|case| {
        case["scale"]["objects"] = own_file.clone();
        case["canals"][0] = json!({"name": "A", "trace_px": turned.clone()});
    }));
    assert!(
        by_the_stop.contains("from the apex to the orifice"),
        "{by_the_stop}"
    );
    let file = refusal(straight(|case| {
        case["scale"]["objects"] = json!([{"kind": "file", "canal": "A", "true_length_mm": 14.0,
                                           "points_px": [[500, 660], [500, 100]]}]);
    }));
    assert!(file.contains("from the tip to the stop"), "{file}");
}

#[test]
fn what_contradicts_itself_is_warned_of() {
    let warned = |change: &dyn Fn(&mut Value)| {
        let found = measured(straight(change));
        codes(&found)
            .into_iter()
            .map(str::to_owned)
            .collect::<Vec<_>>()
    };
    let plain = warned(&|_| {});
    let scale =
        warned(&|case| case["scale"]["objects"][0]["points_px"] = json!([[900, 200], [900, 240]]));
    let apex = warned(&|case| case["canals"][0]["apex_px"] = json!([620, 700]));
    let name = warned(&|case| {
        case["scale"]["objects"][0] = json!({"kind": "file", "canal": "a", "true_length_mm": 14.0,
                                             "points_px": [[500, 100], [500, 660]]});
    });
    let set = warned(&|case| {
        case["scale"]["objects"][0] = json!({"kind": "file", "canal": "A", "true_length_mm": 20.0,
                                             "points_px": [[500, 100], [500, 660]]});
    });
    let dense = warned(&|case| {
        let points: Vec<_> = (0..=100).map(|i| [500, 200 + 5 * i]).collect();
        case["canals"][0]["trace_px"] = json!(points);
    });
    for (codes, code) in [
        (scale, "scale_implausible"),
        (apex, "apex_off_path"),
        (name, "file_in_unknown_canal"),
        (set, "set_length_differs"),
        (dense, "points_too_close"),
    ] {
        assert!(codes.iter().any(|c| c == code), "{code}: {codes:?}");
        assert!(!plain.iter().any(|c| c == code), "{code}: {plain:?}");
    }
}

/// A rim of 40° says little of a ball's size, points on a line nothing.
#[test]
fn a_ball_needs_points_around_its_rim() {
    let rim = |degrees: [f64; 4]| {
        let points = degrees.map(|degree| {
            let (sin, cos) = degree.to_radians().sin_cos();
            [1000.0 + 100.0 * cos, 1000.0 + 100.0 * sin]
        });
        straight(|case| {
            case["scale"]["objects"][0] =
                json!({"kind": "ball", "true_diameter_mm": 5.0, "points_px": points});
        })
    };
    assert!(refusal(rim([0.0, 10.0, 20.0, 40.0])).contains("a third of the rim"));
    let around = measured(rim([0.0, 90.0, 180.0, 270.0]));
    assert!((around.scale.mm_per_px.unwrap() - 0.025).abs() < 1e-9);
    let line = straight(|case| {
        case["scale"]["objects"][0] = json!({"kind": "ball", "true_diameter_mm": 5.0,
                                             "points_px": [[1, 1], [50, 50], [99, 99]]});
    });
    assert!(refusal(line).contains("a third of the rim"));
}
