//! Intervals, budgets and click noise of measured cases, against closed forms
//! and against phantoms whose truth is known.

use std::path::Path;

use lengthfilm::calibration::DetectorFrame;
use lengthfilm::case::{ByPlaceKind, Case, StatedUncertainty};
use lengthfilm::curvature::CurvatureQuantity;
use lengthfilm::measure::click_noise::{self, RepeatError};
use lengthfilm::measure::findings::{CanalFindings, Findings, Quantity};
use lengthfilm::measure::{FilmSummary, InputError, MeasureSettings, Precision, measure};
use lengthfilm::phantom::{CanalKind, demo};
use lengthfilm::units::FilmPoint;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use serde_json::{Value, json};

#[path = "../programs/coverage_study.rs"]
#[expect(dead_code, reason = "the tables are printed by the program `coverage`")]
mod coverage_study;

/// Half width of a 95 % interval over the standard deviation, Gaussian.
const K95: f64 = 1.959_964;

fn film() -> FilmSummary {
    FilmSummary {
        width_px: 4000,
        height_px: 4000,
        ..FilmSummary::default()
    }
}

fn case(mut value: Value) -> Case {
    value["format"] = json!("lengthfilm-case");
    value["version"] = json!(1);
    if value.get("film").is_none() {
        value["film"] = json!({"path": "film.png"});
    }
    lengthfilm::case::parse(value.to_string().as_bytes(), Path::new("t")).unwrap()
}

fn findings(case: &Case, settings: &MeasureSettings) -> Findings {
    measure(case, &film(), "t", settings).unwrap()
}

/// Nothing uncertain but clicks and known lengths.
fn flat() -> MeasureSettings {
    let mut settings = MeasureSettings::default();
    settings.uncertainty.tilt_half_width_rad = 0.0;
    settings.uncertainty.bend_plane_half_width_rad = 0.0;
    settings.uncertainty.depth_to_object_mm = 0.0;
    settings.uncertainty.apex_aside_mm = 0.0;
    settings
}

fn live(settings: MeasureSettings) -> MeasureSettings {
    MeasureSettings {
        precision: Precision::Live,
        ..settings
    }
}

#[track_caller]
fn near(found: f64, expected: f64, relative: f64) {
    assert!(
        (found / expected - 1.0).abs() <= relative,
        "{found}, expected {expected} within {relative}"
    );
}

/// A straight canal under an almost perfect ruler, tip and apex on it.
fn straight_with_ruler() -> Case {
    case(json!({
        "film": {"path": "film.png", "pixel_pitch_mm": [0.05, 0.05]},
        "scale": {"objects": [{"kind": "ruler", "true_length_mm": 50.0,
                               "points_px": [[100, 100], [100, 1100]]}]},
        "canals": [{"name": "A", "reference_px": [500, 100],
                    "trace_px": [[500, 240], [500, 540]],
                    "file": {"set_length_mm": 21.0, "tip_px": [500, 520]},
                    "apex_px": [500, 540]}],
        "click_noise_mm": 0.05
    }))
}

/// Closed form: tip and apex are two clicks of 0.05 mm on a line, the scale is
/// 1 to 0.2 %: u(d) = √2 · 0.05 = 0.0707 mm. Additive length: with a reading
/// of ± 0.25 mm, √(0.0707² + 0.25²/3) = 0.1608 mm. 10,000 draws: 1.4 % of U at
/// two standard deviations for the Gaussian one.
#[test]
fn two_clicks_have_the_uncertainty_of_two_clicks() {
    for (settings, tolerance) in [(flat(), 0.03), (live(flat()), 0.01)] {
        let found = &findings(&straight_with_ruler(), &settings).canals[0];
        let tip = found.tip_to_apex_mm.unwrap();
        near(tip.u95, K95 * 0.05 * 2f64.sqrt(), tolerance);
    }
    let linear = &findings(&straight_with_ruler(), &live(flat())).canals[0];
    let u = linear.working_length_additive_mm.unwrap().u95 / K95;
    near(u, (0.005f64 + 0.0625 / 3.0).sqrt(), 0.01);
    // A rectangle and a Gaussian are less wide at 95 % than k = 1.96 says.
    let drawn = &findings(&straight_with_ruler(), &flat()).canals[0];
    let ratio = drawn.working_length_additive_mm.unwrap().u95 / (K95 * u);
    assert!((0.90..0.99).contains(&ratio), "{ratio}");
}

/// Grossman's proportion 21 × 23.1/22.05 with one reference point for both
/// lengths. Independent lengths of u 0.15 would give 0.3664 (law of first
/// order, DERIVED); clicks of 0.15/√2 that share the reference give, closed form,
/// u² = 22² [(0.2887/21)² + σ² ((1/22.05 − 1/23.1)² + 1/22.05² + 1/23.1²)].
#[test]
fn the_proportion_with_a_shared_reference_point() {
    let click = 0.15 / 2f64.sqrt();
    let shared = case(json!({
        "film": {"path": "film.png", "pixel_pitch_mm": [0.05, 0.05]},
        "scale": {"objects": [{"kind": "file", "canal": "A", "true_length_mm": 21.0,
                               "nominal": true, "points_px": [[500, 100], [500, 541]]}]},
        "canals": [{"name": "A", "reference_px": [500, 100], "allowance_mm": 0.0,
                    "trace_px": [[500, 100], [500, 562]], "apex_px": [500, 562]}],
        "click_noise_mm": click
    }));
    let (i, t) = (22.05f64.recip(), 23.1f64.recip());
    let variance =
        (0.5f64 / 21.0).powi(2) / 3.0 + click.powi(2) * ((i - t).powi(2) + i.powi(2) + t.powi(2));
    let expected = 22.0 * variance.sqrt();
    let linear = findings(&shared, &live(flat()));
    let u = linear.canals[0].working_length_proportion_mm.unwrap().u95 / K95;
    near(u, expected, 0.005);
    // The file's length is rectangular: its 95 % lie nearer than 1.96 u.
    let drawn = findings(&shared, &flat());
    let u95 = drawn.canals[0].working_length_proportion_mm.unwrap().u95;
    assert!((0.90..1.0).contains(&(u95 / (K95 * expected))), "{u95}");
}

/// Lean, closed form: a length under a film scale is 1/cos τ longer; for τ even
/// within ± 30° its 95 % bound is 1/cos(0.95 · 30°) − 1 = 13.8 %.
#[test]
fn a_leaning_root_is_longer_than_its_shadow() {
    let mut settings = flat();
    settings.uncertainty.tilt_half_width_rad = 30f64.to_radians();
    settings.uncertainty.film_scale_relative = 0.0;
    let leaning = case(json!({
        "film": {"path": "film.png", "pixel_pitch_mm": [0.05, 0.05], "magnification": 1.0,
                 "source_to_tooth_mm": 5000.0, "source_to_detector_mm": 5000.0},
        "canals": [{"name": "A", "trace_px": [[500, 240], [500, 640]]}],
        "click_noise_mm": 0.0
    }));
    let length = findings(&leaning, &settings).canals[0]
        .curved_length_mm
        .unwrap();
    near(length.value, 20.0, 1e-9);
    let bound = (0.95 * 30f64).to_radians().cos().recip() - 1.0;
    near(length.u95, 20.0 * bound, 0.02);
}

/// JCGM 101: the same seed gives the same draws, whatever the threads.
#[test]
fn findings_do_not_depend_on_the_number_of_threads() {
    let demo = demo().unwrap();
    let with_threads = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads);
        pool.build()
            .unwrap()
            .install(|| findings(&demo.case, &MeasureSettings::default()))
    };
    let one = with_threads(1);
    assert_eq!(one, with_threads(3));
    let mut other = demo.case.clone();
    other.seed += 1;
    let other = findings(&other, &MeasureSettings::default());
    assert_ne!(one, other);
    let (a, b) = (&one.canals[0], &other.canals[0]);
    let u95 = |canal: &CanalFindings| canal.working_length_additive_mm.unwrap().u95;
    near(u95(a), u95(b), 0.05);
}

/// The live value stands in for the one that follows: same value, U within a
/// fifth for lengths.
#[test]
fn the_linear_law_is_near_monte_carlo() {
    let case = demo().unwrap().case;
    let full = findings(&case, &MeasureSettings::default())
        .canals
        .remove(0);
    let quick = findings(&case, &live(MeasureSettings::default()))
        .canals
        .remove(0);
    let lengths: [fn(&CanalFindings) -> Option<Quantity>; 4] = [
        |c| c.tip_to_apex_mm,
        |c| c.working_length_additive_mm,
        |c| c.working_length_proportion_mm,
        |c| c.curved_length_mm,
    ];
    for of in lengths {
        let (full, quick) = (of(&full).unwrap(), of(&quick).unwrap());
        assert_eq!(full.value, quick.value);
        near(quick.u95, full.u95, 0.2);
    }
}

/// Shares add up; the file's reading rules an additive length by
/// (0.25²/3) / (0.25²/3 + 2 · 0.05²) = 80.6 % (closed form).
#[test]
fn the_budget_names_what_rules() {
    let found = findings(&straight_with_ruler(), &flat());
    let budget = &found.canals[0].budget;
    for of in budget {
        let sum: f64 = of.lines.iter().map(|line| line.share).sum();
        assert!((sum - 1.0).abs() < 1e-9, "{}: {sum}", of.result);
    }
    let of = |key: &str| budget.iter().find(|b| b.result == key).unwrap();
    let first = &of("working_length_additive_mm").lines[0];
    assert_eq!(first.input, "set_length");
    assert_eq!(first.words, "the file's set length");
    near(first.share, 0.806, 0.005);
    let inputs: Vec<_> = of("tip_to_apex_mm").lines[..2]
        .iter()
        .map(|line| line.input.as_str())
        .collect();
    assert!(inputs.contains(&"tip") && inputs.contains(&"apex"));

    let text = lengthfilm::measure::findings_text(&found);
    assert!(text.contains("the file's set length: 81 %"), "{text}");
    let json = serde_json::to_value(&found).unwrap();
    assert!(json["canals"][0]["budget"][0]["lines"][0]["share"].is_number());
}

/// Every angle of a bent canal has its budget; angles say what they are.
#[test]
fn angles_have_budgets_and_are_named_as_projected() {
    let found = findings(&demo().unwrap().case, &MeasureSettings::default());
    let canal = &found.canals[0];
    for key in [
        "schneider_deg",
        "weine_deg",
        "axis_axis_deg",
        "pruett_deg",
        "luiten_deg",
        "canal_access_deg",
        "curves[0].turn_deg",
    ] {
        let budget = canal.budget.iter().find(|b| b.result == key);
        let lines = &budget.unwrap_or_else(|| panic!("{key}")).lines;
        assert!(lines.iter().any(|line| line.input == "canal"), "{key}");
    }
    let json = serde_json::to_value(canal).unwrap();
    assert_eq!(json["curvature"]["as_projected"], true);
}

/// A kind's own click noise counts for that kind alone.
#[test]
fn click_noise_by_kind() {
    let mut by_kind = straight_with_ruler();
    by_kind.click_noise_by_kind_mm = Some(ByPlaceKind {
        apex: Some(0.3),
        ..ByPlaceKind::default()
    });
    let found = &findings(&by_kind, &live(flat())).canals[0];
    let expected = K95 * 0.05f64.hypot(0.3);
    near(found.tip_to_apex_mm.unwrap().u95, expected, 0.01);

    let mut assisted = straight_with_ruler();
    assisted.scale.objects[0].assisted = true;
    let mut settings = flat();
    settings.uncertainty.assisted_mm = 0.5;
    settings.uncertainty.ruler_half_width_mm = 0.0;
    let scale = findings(&assisted, &live(settings)).scale;
    // Two ends of 0.5 mm on 50 mm.
    near(
        scale.u_mm_per_px.unwrap() / scale.mm_per_px.unwrap(),
        0.5 * 2f64.sqrt() / 50.0,
        0.01,
    );
}

/// A click noise of few repeats is known less well. Tip and apex, each 0.05 mm
/// with 4 degrees of freedom: 8 for their difference (Welch–Satterthwaite,
/// JCGM 100, G.4.1), t975(8) = 2.306 (SciPy). Drawn, the difference of two
/// independent t(4), over √2, has its 95 % at 2.787 (numerical, 4 million
/// pairs by NumPy); 10,000 draws: 1.5 %, two allowed.
#[test]
fn few_repeats_widen_the_interval() {
    let mut few = straight_with_ruler();
    let of_ends = |value| ByPlaceKind {
        tip: Some(value),
        apex: Some(value),
        ..ByPlaceKind::default()
    };
    few.click_noise_by_kind_mm = Some(of_ends(0.05));
    few.click_noise_dof_by_kind = Some(of_ends(4.0));
    let u95 = |settings| {
        let found = findings(&few, &settings);
        found.canals[0].tip_to_apex_mm.unwrap().u95
    };
    let u = 0.05 * 2f64.sqrt();
    near(u95(live(flat())), 2.306 * u, 0.01);
    let drawn = u95(flat()) / u;
    near(drawn, 2.787, 0.03);

    few.click_noise_dof_by_kind = Some(of_ends(2.0));
    let error = measure(&few, &film(), "t", &flat())
        .unwrap_err()
        .to_string();
    assert!(error.contains("click_noise_dof_by_kind"), "{error}");
}

/// Drawing stops early only where U is settled: every U of the demo case is
/// then within its tolerance of that of all 10,000 draws, 5 % for lengths and
/// 10 % for angles at two standard deviations; the draws of both runs are
/// partly the same. Findings say how many there were.
#[test]
fn settled_intervals_agree_with_all_draws() {
    let case = demo().unwrap().case;
    let all = findings(&case, &MeasureSettings::default());
    let settled = findings(
        &case,
        &MeasureSettings {
            stop_when_settled: true,
            ..MeasureSettings::default()
        },
    );
    assert_eq!(all.draws, Some(10_000));
    assert_eq!(
        findings(&case, &live(MeasureSettings::default())).draws,
        None
    );
    assert!(settled.draws.unwrap() < 10_000, "{:?}", settled.draws);
    let mut compared = 0;
    for (a, b) in all.canals.iter().zip(&settled.canals) {
        let lengths = |c: &CanalFindings| {
            [
                c.curved_length_mm,
                c.chord_mm,
                c.reference_to_apex_mm,
                c.tip_to_apex_mm,
                c.tip_to_apex_straight_mm,
                c.working_length_additive_mm,
                c.working_length_proportion_mm,
            ]
        };
        let angles = |c: &CanalFindings| {
            let c = c.curvature.as_ref().unwrap();
            [
                c[CurvatureQuantity::Schneider],
                c[CurvatureQuantity::Weine],
                c[CurvatureQuantity::AxisAxis],
                c[CurvatureQuantity::Pruett],
                c[CurvatureQuantity::NetTurn],
            ]
        };
        let pairs = |a: &[Option<Quantity>], b: &[Option<Quantity>], within: f64| {
            let both = a.iter().zip(b).filter_map(|(a, b)| Some(((*a)?, (*b)?)));
            both.map(|(a, b)| {
                assert_eq!(a.value, b.value);
                near(b.u95, a.u95, within);
            })
            .count()
        };
        compared += pairs(&lengths(a), &lengths(b), 0.05);
        compared += pairs(&angles(a), &angles(b), 0.10);
    }
    assert!(compared >= 8, "{compared}");
}

/// What the case states counts, and nothing impossible is taken: a reading of
/// ± 0.5 mm doubles the file's part of the additive length.
#[test]
fn stated_inputs_count() {
    let mut stated = straight_with_ruler();
    stated.input_uncertainty = Some(StatedUncertainty {
        reading_half_width_mm: Some(0.5),
        ..StatedUncertainty::default()
    });
    let found = findings(&stated, &live(flat()));
    let u = found.canals[0].working_length_additive_mm.unwrap().u95 / K95;
    near(u, (0.005f64 + 0.25 / 3.0).sqrt(), 0.01);
    stated.input_uncertainty = Some(StatedUncertainty {
        lean_half_width_deg: Some(80.0),
        ..StatedUncertainty::default()
    });
    let error = measure(&stated, &film(), "t", &flat())
        .unwrap_err()
        .to_string();
    assert!(
        error.contains("input_uncertainty.lean_half_width_deg"),
        "{error}"
    );
    assert!(error.contains("45"), "{error}");
}

/// A depth difference of 3 mm at 300 mm is 1 % of every length under a ruler;
/// a canal's own file stands where the canal is.
#[test]
fn depth_between_object_and_canal() {
    let mut settings = flat();
    settings.uncertainty.depth_to_object_mm = 3.0;
    settings.uncertainty.ruler_half_width_mm = 0.0;
    let mut still = straight_with_ruler();
    still.click_noise_mm = Some(0.0);
    let found = &findings(&still, &live(settings.clone())).canals[0];
    let length = found.curved_length_mm.unwrap();
    near(length.u95, K95 * 0.01 * length.value, 0.01);

    let mut own = still.clone();
    own.scale.objects[0].kind = lengthfilm::case::ScaleObjectKind::File;
    own.scale.objects[0].canal = Some("A".into());
    settings.uncertainty.reading_half_width_mm = 0.0;
    let found = &findings(&own, &live(settings)).canals[0];
    assert!(found.curved_length_mm.unwrap().u95 < 1e-9);
}

/// A canal that shows straight is not known to be straight: 12 points of
/// 0.05 mm on 13 mm leave a turn of a few degrees open.
#[test]
fn a_straight_canal_has_an_uncertain_angle() {
    let points: Vec<_> = (0..12)
        .map(|i| [500.0, 240.0 + 24.0 * f64::from(i)])
        .collect();
    let straight = case(json!({
        "film": {"path": "film.png", "pixel_pitch_mm": [0.05, 0.05]},
        "canals": [{"name": "A", "trace_px": points}]
    }));
    for settings in [MeasureSettings::default(), live(MeasureSettings::default())] {
        let found = findings(&straight, &settings);
        let curvature = found.canals[0].curvature.as_ref().unwrap();
        assert!(curvature.curves.is_empty());
        let turn = curvature[CurvatureQuantity::NetTurn].unwrap();
        assert_eq!(turn.value, 0.0);
        assert!((2.0..8.0).contains(&turn.u95), "{}", turn.u95);
    }
}

#[test]
fn too_few_draws_are_refused_in_one_line() {
    let settings = MeasureSettings {
        draws: 10,
        ..MeasureSettings::default()
    };
    let error = measure(&straight_with_ruler(), &film(), "t", &settings).unwrap_err();
    assert!(matches!(error, InputError::Uncertainty(_)));
    assert!(!error.to_string().contains('\n'));
}

/// Advice is given on the interval: a tip whose interval reaches over the apex
/// is called neither short nor beyond.
#[test]
fn advice_waits_where_the_interval_straddles_a_limit() {
    let mut near_apex = straight_with_ruler();
    near_apex.canals[0].file.as_mut().unwrap().tip_px = Some(FilmPoint::new(500.0, 538.0));
    let found = findings(&near_apex, &flat());
    let codes: Vec<_> = found.warnings.iter().map(|w| w.code.as_str()).collect();
    assert!(codes.contains(&"apex_within_uncertainty"), "{codes:?}");
    assert!(!codes.contains(&"beyond_apex"));
    // Said once, although it is advice and warning.
    let text = lengthfilm::measure::findings_text(&found);
    assert_eq!(
        text.matches("too near the apex to say").count(),
        1,
        "{text}"
    );

    // 1.0 mm short, ± 0.14: on both sides of the limit of what is acceptable.
    let found = findings(&straight_with_ruler(), &flat());
    let advice = found.canals[0].advice.join(" ");
    assert!(advice.contains("lies across a limit"), "{advice}");
    assert!(!advice.contains("acceptable"), "{advice}");
}

/// Clicks of known noise, repeated: the noise comes back. 20 places × 5
/// repeats give 160 degrees of freedom, 5.6 %; three standard deviations.
#[test]
fn own_click_noise_from_repeats() {
    let mut rng = ChaCha8Rng::seed_from_u64(8);
    let frame = DetectorFrame::with_pitch([0.05, 0.025]);
    let mut click = |x_mm: f64, y_mm: f64| {
        let mut deviate = || -> f64 { StandardNormal.sample(&mut rng) };
        let (dx, dy) = (0.08 * deviate(), 0.08 * deviate());
        FilmPoint::new((x_mm + dx) / 0.025, (y_mm + dy) / 0.05)
    };
    let repeats: Vec<Vec<_>> = (0..5)
        .map(|_| {
            (0..20)
                .map(|i| click(3.0 * f64::from(i), 2.0 * f64::from(i)))
                .collect()
        })
        .collect();
    let found = click_noise::of_landmarks(&repeats, frame).unwrap();
    assert_eq!(found.dof, 160);
    // Chi-squared, 160 degrees of freedom: 126.8700 and 196.9151 (SciPy).
    let [low, high] = found.interval_95().unwrap();
    near(low, found.sd * (160f64 / 196.9151).sqrt(), 1e-5);
    near(high, found.sd * (160f64 / 126.8700).sqrt(), 1e-5);
    near(found.sd, 0.08, 3.0 / f64::sqrt(320.0));

    // One gentle arc traced six times with points wherever they fell.
    let traces: Vec<Vec<_>> = (0..6)
        .map(|trace| {
            let count = 10 + trace;
            let at = |i: i32| 0.6 * f64::from(i) / f64::from(count - 1);
            let on_arc = |a: f64| (30.0 * a.sin() + 5.0, 30.0 * (1.0 - a.cos()) + 5.0);
            (0..count)
                .map(|i| {
                    let (x, y) = on_arc(at(i));
                    click(x, y)
                })
                .collect()
        })
        .collect();
    let found = click_noise::of_traces(&traces, frame).unwrap();
    near(found.sd, 0.08, 3.0 / (2.0 * found.dof as f64).sqrt());

    assert_eq!(
        click_noise::of_landmarks(&repeats[..1], frame),
        Err(RepeatError::TooFew)
    );
    let uneven = [repeats[0].clone(), repeats[1][1..].to_vec()];
    assert!(matches!(
        click_noise::of_landmarks(&uneven, frame),
        Err(RepeatError::Uneven { repeat: 2, .. })
    ));
}

/// The stated 95 % intervals hold the truth. 204 phantom geometries of four
/// kinds and three ways of scaling; the full table, with 1500 a kind, is
/// printed by the program `coverage` and stands in docs/accuracy.md. A
/// result passes here when its count of hits is one that a coverage of
/// 93–97 % gives with a probability above 1 in 1000 on either side (normal
/// approximation of the binomial, z = 3.09).
#[test]
fn stated_intervals_hold_the_truth() {
    let settings = MeasureSettings {
        draws: 400,
        ..MeasureSettings::default()
    };
    let mut films = Vec::new();
    for kind in CanalKind::ALL {
        for scaling in coverage_study::Scaling::ALL {
            films.extend(coverage_study::study(kind, scaling, 17, &settings));
        }
    }
    for (name, of) in coverage_study::RESULTS {
        // Angles claim to be those of the shadow.
        if name.contains("in space") {
            continue;
        }
        let outcomes: Vec<_> = films.iter().flat_map(of).copied().collect();
        let line = coverage_study::coverage::line(&outcomes).unwrap();
        let n = line.count as f64;
        assert!(line.count >= 130, "{name}: {}", line.count);
        let margin = |p: f64| 3.09 * (p * (1.0 - p) / n).sqrt();
        let (low, high) = (0.93 - margin(0.93), (0.97 + margin(0.97)).min(1.0));
        assert!(
            (low..=high).contains(&line.coverage),
            "{name}: {:.3} of {} outside {low:.3}–{high:.3}",
            line.coverage,
            line.count
        );
    }
}

/// Lengths of bent canals on a film's own scale are held as often as stated:
/// 1200 films that nothing was tuned on. With bends of any shape taken to lie in
/// the film's plane but for their first pieces it was 92 %. 93 % is the aim's
/// lower end, three standard errors below the 95.5 % found.
#[test]
fn bent_canals_on_a_films_own_scale_are_held() {
    let settings = MeasureSettings {
        draws: 300,
        ..MeasureSettings::default()
    };
    let scaling = coverage_study::Scaling::FilmAlone;
    let mut lengths = Vec::new();
    for kind in [CanalKind::Single, CanalKind::LateBend] {
        for number in 100_000..100_600 {
            let found = coverage_study::film_outcome(kind, scaling, number, &settings);
            lengths.extend(found.curved_length);
        }
    }
    let line = coverage_study::coverage::line(&lengths).unwrap();
    println!("{line:?}");
    assert_eq!(line.count, 1200);
    assert!((0.93..=0.985).contains(&line.coverage), "{line:?}");
}
