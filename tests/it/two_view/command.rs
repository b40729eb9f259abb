//! `two-view` as a user meets it: JSON, what the case remembers, and one clear
//! line for every pair that cannot be used.

use std::fs;
use std::path::Path;

use assert_cmd::Command;
use lengthfilm::case::{self, Case, SecondFilm};
use lengthfilm::film::{Film, Polarity};
use lengthfilm::two_view::{Exposures, Receptor};
use nalgebra::Vector3;
use serde_json::Value;

use super::{case_of, find, shadow};

fn lengthfilm() -> Command {
    Command::cargo_bin("lengthfilm").unwrap()
}

/// 14 places along a straight piece and an arc of 30° with radius 9 in a plane
/// turned by 35°.
fn places() -> Vec<Vector3<f64>> {
    let plane = 35f64.to_radians();
    (0..14)
        .map(|i| {
            let along = f64::from(i) - 8.0;
            let turn = (along / 9.0).max(0.0);
            let aside = 9.0 * (1.0 - turn.cos());
            let down = if along < 0.0 { along } else { 9.0 * turn.sin() };
            Vector3::new(aside * plane.cos() + 0.5, aside * plane.sin(), down)
        })
        .collect()
}

fn pair(angle_deg: f64) -> [Case; 2] {
    [0.0, angle_deg].map(|angle| {
        let shown: Vec<[f64; 2]> = places().iter().map(|&p| shadow(p, angle, false)).collect();
        case_of(&shown, 0.02)
    })
}

fn message(a: &Case, b: &Case, angle_deg: f64) -> String {
    let exposures = Exposures::new(angle_deg, Receptor::Turned);
    let error = find(a, b, &exposures).unwrap_err().to_string();
    assert_eq!(error.lines().count(), 1, "{error}");
    error
}

/// The codes of the warnings of a pair that can be used.
fn codes(a: &Case, b: &Case, exposures: &Exposures) -> Vec<String> {
    let found = find(a, b, exposures).unwrap();
    found.warnings.into_iter().map(|w| w.code).collect()
}

/// A second film taken from 40° round.
fn second_film(case: &str) -> SecondFilm {
    SecondFilm {
        case: case.to_owned(),
        angle_deg: 40.0,
        angle_half_width_deg: None,
        receptor: Receptor::Turned,
        right_is: None,
        source_is: None,
        extra: Default::default(),
    }
}

/// Two small films with their cases in a folder.
fn workspace(cases: &[Case; 2]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for (i, (name, case)) in ["a", "b"].into_iter().zip(cases).enumerate() {
        let samples = vec![1000 + i as u16; 2000 * 2000];
        let film = Film::from_samples(2000, 2000, 16, Polarity::HighIsOpaque, samples).unwrap();
        film.save_png16(&folder.path().join(format!("{name}.png")))
            .unwrap();
        let mut case = case.clone();
        case.film.path = format!("{name}.png");
        case::save(&case, &folder.path().join(format!("{name}.case.json"))).unwrap();
    }
    folder
}

fn run(folder: &Path, arguments: &[&str]) -> (Option<i32>, Vec<u8>, String) {
    let output = lengthfilm()
        .current_dir(folder)
        .arg("two-view")
        .args(arguments)
        .output()
        .unwrap();
    let message = String::from_utf8(output.stderr).unwrap();
    (output.status.code(), output.stdout, message)
}

/// Every key that outside checks rely on, with the values of the curve shown;
/// `--remember` writes the pair into case A, which is then enough.
#[test]
fn json_and_the_remembered_film() {
    let folder = workspace(&pair(40.0));
    let asked = [
        "a.case.json",
        "b.case.json",
        "--angle-deg",
        "40",
        "--remember",
        "--json",
    ];
    let (code, stdout, message) = run(folder.path(), &asked);
    assert_eq!(code, Some(0), "{message}");
    assert_eq!(message, "");
    let found: Value = serde_json::from_slice(&stdout).unwrap();
    let number = |value: &Value| value.as_f64().unwrap_or_else(|| panic!("{value}"));
    // 8 mm straight, 5 mm along the arc.
    assert!((number(&found["length_mm"]["value"]) - 13.0).abs() < 0.02);
    let turn = (5.0f64 / 9.0).to_degrees();
    let curve = &found["curves"][0];
    assert!((number(&curve["turn_deg"]["value"]) - turn).abs() < 0.3);
    assert!((number(&curve["radius_mm"]["value"]) - 9.0).abs() < 0.2);
    assert!((number(&curve["plane_deg"]) - 35.0).abs() < 1.0);
    assert!((number(&curve["start_from_apex_mm"]) - 5.0).abs() < 0.1);
    assert!((number(&curve["end_from_apex_mm"])).abs() < 0.1);
    assert_eq!(curve["distinguishable"], true);
    for key in ["net_turn_deg", "total_turn_deg"] {
        assert!((number(&found[key]["value"]) - turn).abs() < 0.3, "{key}");
        assert!(number(&found[key]["u95"]) > 0.0, "{key}");
    }
    assert!(number(&found["noise_floor_deg"]) > 0.0);
    assert!(number(&found["mismatch_mm"]) < 0.01);
    assert!(found["path_mm"][0].as_array().unwrap().len() == 3);
    for film in ["film_a", "film_b"] {
        let shown = number(&found[film]["length_mm"]);
        assert!(shown < 13.01 && shown > 12.0, "{film}: {shown}");
        assert!(found[film]["total_turn_deg"].is_number());
    }
    assert!(found["warnings"].is_array());

    let remembered = case::load(&folder.path().join("a.case.json")).unwrap();
    let second = remembered.second_film.expect("a second film");
    assert_eq!(
        (second.case.as_str(), second.angle_deg),
        ("b.case.json", 40.0)
    );
    let (code, again, message) = run(folder.path(), &["a.case.json", "--json"]);
    assert_eq!(code, Some(0), "{message}");
    assert_eq!(stdout, again, "the same pair gives the same numbers");
    let (code, text, _) = run(folder.path(), &["a.case.json"]);
    let text = String::from_utf8(text).unwrap();
    assert!(
        code == Some(0) && text.contains("Length in space: 13.0"),
        "{text}"
    );

    // The records of case A show it: table, page, structured report.
    for (ending, expected) in [
        ("csv", "space_length_mm"),
        ("html", "Length in space"),
        ("dcm", "SPACE_LENGTH"),
    ] {
        let out = format!("record.{ending}");
        let made = lengthfilm()
            .current_dir(folder.path())
            .args(["report", "a.case.json", "--out", &out])
            .output()
            .unwrap();
        assert!(
            made.status.success(),
            "{}",
            String::from_utf8_lossy(&made.stderr)
        );
        let record = fs::read(folder.path().join(out)).unwrap();
        let record = String::from_utf8_lossy(&record);
        assert!(record.contains(expected), "{ending}");
    }
}

#[test]
fn commands_that_lack_something() {
    let folder = workspace(&pair(40.0));
    for (arguments, words) in [
        (
            &["a.case.json", "--angle-deg", "40"][..],
            "remembers no second film",
        ),
        (&["a.case.json", "b.case.json"][..], "give --angle-deg"),
        (
            &["a.case.json", "b.case.json", "--angle-deg", "0"][..],
            "hold no depth",
        ),
        (
            &["a.case.json", "a.case.json", "--angle-deg", "40"][..],
            "one film",
        ),
        (
            &["a.case.json", "c.case.json", "--angle-deg", "40"][..],
            "c.case.json",
        ),
        (
            &[
                "a.case.json",
                "b.case.json",
                "--angle-deg",
                "40",
                "--canal",
                "DB",
            ][..],
            "\"DB\"",
        ),
    ] {
        let (code, stdout, message) = run(folder.path(), arguments);
        assert_eq!(code, Some(1), "{arguments:?}: {message}");
        assert!(
            stdout.is_empty() && message.lines().count() == 1,
            "{message}"
        );
        assert!(message.contains(words), "{message}");
    }
    let (code, ..) = run(
        folder.path(),
        &["a.case.json", "b.case.json", "--angle-deg", "east"],
    );
    assert_eq!(code, Some(2));
}

/// 0 and 180° hold no depth; neither do angles near them, and a receptor that
/// stays is not lit from beyond 60°.
#[test]
fn impossible_angles() {
    let [a, b] = pair(40.0);
    for angle in [0.0, 180.0, -180.0, 3.0, -4.9, 178.0] {
        assert!(message(&a, &b, angle).contains("no depth"), "{angle}");
    }
    for angle in [f64::NAN, f64::INFINITY] {
        assert!(message(&a, &b, angle).contains("not a number"));
    }
    let stayed = Exposures::new(75.0, Receptor::Stayed);
    let error = find(&a, &b, &stayed).unwrap_err().to_string();
    assert!(error.contains("receptor stayed"), "{error}");
    let wide = Exposures {
        angle_half_width_rad: 1.0,
        ..Exposures::new(40.0, Receptor::Turned)
    };
    assert!(
        find(&a, &b, &wide)
            .unwrap_err()
            .to_string()
            .contains("57.29")
    );
}

#[test]
fn another_canal_or_tooth() {
    let [a, mut b] = pair(40.0);
    b.canals[0].name = "ML".to_owned();
    let other = message(&a, &b, 40.0);
    assert!(
        other.contains("a.case.json: C") && other.contains("b.case.json: ML"),
        "{other}"
    );
    let [a, mut b] = pair(40.0);
    b.tooth.as_mut().unwrap().number = "37".to_owned();
    let other = message(&a, &b, 40.0);
    assert!(
        other.contains("tooth 36") && other.contains("tooth 37"),
        "{other}"
    );
}

#[test]
fn one_point_or_no_scale() {
    let [a, b] = pair(40.0);
    for (count, words) in [
        (0, "0 trace point"),
        (1, "has 1 point"),
        (3, "3 trace point"),
    ] {
        let mut few = b.clone();
        few.canals[0].trace_px.truncate(count);
        assert!(
            message(&a, &few, 40.0).contains(words),
            "{}",
            message(&a, &few, 40.0)
        );
    }
    let mut bare = b.clone();
    bare.film.pixel_pitch_mm = None;
    bare.film.magnification = None;
    let refused = message(&a, &bare, 40.0);
    assert!(
        refused.contains("b.case.json") && refused.contains("no scale"),
        "{refused}"
    );
}

/// Traces of different stretches: refused where nothing else explains it,
/// warned of where scales might.
#[test]
fn different_stretches() {
    let [a, b] = pair(40.0);
    let mut shorter = b.clone();
    shorter.canals[0].trace_px.drain(..5);
    let refused = message(&a, &shorter, 40.0);
    assert!(refused.contains("different stretches"), "{refused}");
    let mut little = b.clone();
    little.canals[0].trace_px.drain(..1);
    let exposures = Exposures::new(40.0, Receptor::Turned);
    assert!(
        codes(&a, &b, &exposures)
            .iter()
            .all(|c| c != "height_mismatch")
    );
    let warned = codes(&a, &little, &exposures);
    assert!(warned.contains(&"height_mismatch".to_owned()), "{warned:?}");
}

/// A film seen from behind: the canal would lean unbelievably in space.
#[test]
fn a_mirrored_film() {
    let leaning: Vec<Vector3<f64>> = places()
        .into_iter()
        .map(|p| Vector3::new(p.x + 0.2 * p.z, p.y, p.z))
        .collect();
    let exposures = Exposures::new(20.0, Receptor::Turned);
    let on_film = |angle: f64, sign: f64| {
        let shown: Vec<[f64; 2]> = leaning
            .iter()
            .map(|&p| {
                let [u, v] = shadow(p, angle, false);
                [sign * u, v]
            })
            .collect();
        case_of(&shown, 0.02)
    };
    let right = codes(&on_film(0.0, 1.0), &on_film(20.0, 1.0), &exposures);
    assert!(!right.contains(&"film_mirrored".to_owned()), "{right:?}");
    let mirrored = codes(&on_film(0.0, 1.0), &on_film(20.0, -1.0), &exposures);
    assert!(
        mirrored.contains(&"film_mirrored".to_owned()),
        "{mirrored:?}"
    );
}

/// A film on its head or its side is used upright and said so; the numbers
/// stay.
#[test]
fn turned_films() {
    let [a, b] = pair(40.0);
    let exposures = Exposures::new(40.0, Receptor::Turned);
    let upright = find(&a, &b, &exposures).unwrap();
    for turns in 1..4 {
        let mut turned = b.clone();
        for point in &mut turned.canals[0].trace_px {
            for _ in 0..turns {
                *point = lengthfilm::units::FilmPoint::new(2000.0 - point.y, point.x);
            }
        }
        let found = find(&a, &turned, &exposures).unwrap();
        assert!((found.length_mm.value - upright.length_mm.value).abs() < 1e-6);
        assert!((found.curves[0].plane_deg - upright.curves[0].plane_deg).abs() < 1e-3);
        assert_eq!(u32::from(found.film_b.quarter_turns), 4 - turns);
        assert!(found.warnings.iter().any(|w| w.code == "film_turned"));
    }
}

/// A case that remembers its second film: files are bent along the course in
/// space, not along the flatter shadow; a second film that cannot be used is
/// said, and the film's own course taken.
#[test]
fn files_are_bent_along_the_course_in_space() {
    let instrument = |cases: &[Case; 2]| -> Value {
        let folder = workspace(cases);
        let output = lengthfilm()
            .current_dir(folder.path())
            .args(["instrument", "a.case.json", "--file", "25/.06", "--json"])
            .output()
            .unwrap();
        let message = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(0), "{message}");
        serde_json::from_slice(&output.stdout).unwrap()
    };
    let strain = |found: &Value| {
        let file = &found["canals"][0]["files"][0]["peak_strain_percent"];
        (
            file["value"].as_f64().unwrap(),
            file["u95"].as_f64().unwrap(),
        )
    };
    let [mut a, b] = pair(40.0);
    let alone = instrument(&[a.clone(), b.clone()]);
    assert_eq!(alone["canals"][0]["canal_from"], "one_film");
    a.second_film = Some(second_film("b.case.json"));
    let found = instrument(&[a.clone(), b.clone()]);
    let canal = &found["canals"][0];
    assert_eq!(canal["canal_from"], "two_films");
    // The arc of radius 9 begins 5 mm from the apex, 4 mm from the tip.
    let expected = 100.0 * (0.25 + 0.06 * 4.0) / (2.0 * 9.0);
    let (value, u95) = strain(&found);
    assert!((value / expected - 1.0).abs() < 0.03, "{value}, {expected}");
    assert!(u95 > 0.0 && u95 < value, "{u95}");
    assert!(strain(&alone).0 < 0.9 * expected, "{:?}", strain(&alone));
    let bend = &canal["bends"][0];
    assert_eq!(
        bend["towards"],
        "right of film A, partly towards the source"
    );
    assert!((bend["radius_mm"]["value"].as_f64().unwrap() - 9.0).abs() < 0.2);
    assert!((canal["trace_to_apex_mm"].as_f64().unwrap() - 13.0).abs() < 0.02);

    let mut other = b;
    other.tooth.as_mut().unwrap().number = "37".to_owned();
    let refused = instrument(&[a, other]);
    assert_eq!(refused["canals"][0]["canal_from"], "one_film");
    let warnings = refused["warnings"].as_array().unwrap();
    let said = warnings.iter().find(|w| w["code"] == "second_film_unused");
    let said = said.expect("said")["text"].as_str().unwrap();
    assert!(
        said.contains("tooth 36") && said.contains("tooth 37"),
        "{said}"
    );
}

/// Another tooth's second film is refused by the case that remembers it, too.
#[test]
fn a_remembered_film_that_is_gone() {
    let [mut a, b] = pair(40.0);
    a.second_film = Some(second_film("gone.case.json"));
    let folder = workspace(&[a, b]);
    let (code, _, message) = run(folder.path(), &["a.case.json"]);
    assert_eq!(code, Some(1));
    assert!(message.contains("gone.case.json"), "{message}");
}
