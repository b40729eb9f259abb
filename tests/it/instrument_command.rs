//! `lengthfilm instrument` as a user or a script meets it, and its card.

use std::fs;
use std::path::Path;

use assert_cmd::Command;
use serde_json::{Value, json};

fn lengthfilm() -> Command {
    Command::cargo_bin("lengthfilm").unwrap()
}

/// A sample film with its case, changed by `change`.
fn sample(name: &str, change: impl FnOnce(&mut Value)) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-images");
    let text = fs::read_to_string(samples.join(format!("{name}.case.json"))).unwrap();
    let mut case: Value = serde_json::from_str(&text).unwrap();
    let film = case["film"]["path"].as_str().unwrap().to_owned();
    fs::copy(samples.join(&film), folder.path().join(&film)).unwrap();
    change(&mut case);
    fs::write(folder.path().join("a.case.json"), case.to_string()).unwrap();
    folder
}

fn instrument(folder: &Path, arguments: &[&str]) -> (Option<i32>, String, String) {
    let output = lengthfilm()
        .current_dir(folder)
        .args(["instrument", "a.case.json"])
        .args(arguments)
        .output()
        .unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (
        output.status.code(),
        text(output.stdout),
        text(output.stderr),
    )
}

fn found(folder: &Path, arguments: &[&str]) -> Value {
    let arguments = [arguments, &["--json"]].concat();
    let (code, out, err) = instrument(folder, &arguments);
    assert_eq!(code, Some(0), "{err}");
    serde_json::from_str(&out).unwrap()
}

fn codes(found: &Value) -> Vec<&str> {
    let warnings = found["warnings"].as_array().unwrap();
    warnings
        .iter()
        .map(|w| w["code"].as_str().unwrap())
        .collect()
}

#[test]
fn the_command_gives_what_it_promises() {
    let folder = sample("molar-36-short", |_| {});
    let found = found(
        folder.path(),
        &[
            "--file",
            "10/.02",
            "--file",
            "25/.06",
            "--file",
            "30/.02:1",
            "--tip-from-apex-mm",
            "1",
        ],
    );
    let canal = &found["canals"][0];
    let files = canal["files"].as_array().unwrap();
    assert_eq!(files.len(), 3);
    for (file, (size, taper, tip)) in
        files
            .iter()
            .zip([(10.0, 0.02, 1.0), (25.0, 0.06, 1.0), (30.0, 0.02, 2.0)])
    {
        assert_eq!(file["size"], size);
        assert_eq!(file["taper"], taper);
        assert_eq!(file["tip_from_apex_mm"], tip);
        let number = |key: &str| {
            file[key]
                .as_f64()
                .unwrap_or_else(|| panic!("{key}: {file}"))
        };
        let peak = file["peak_strain_percent"]["value"].as_f64().unwrap();
        assert!(peak > 0.0 && file["peak_strain_percent"]["u95"].as_f64().unwrap() > 0.0);
        // The peak's own formula at its own place.
        let (at, from_tip) = (number("peak_from_apex_mm"), number("peak_from_tip_mm"));
        assert!((at - from_tip - tip).abs() < 1e-9);
        let diameter = size / 100.0 + taper * from_tip;
        assert!((number("diameter_at_peak_mm") - diameter).abs() < 1e-9);
        let profile = file["profile"].as_array().unwrap();
        assert!(profile.len() > 20);
        let greatest = profile
            .iter()
            .map(|p| p["strain_percent"].as_f64().unwrap())
            .fold(0.0, f64::max);
        assert!(greatest <= peak * (1.0 + 1e-9) && greatest > 0.8 * peak);
        for point in profile {
            let value = |key: &str| point[key].as_f64().unwrap();
            let strain = 50.0 * value("diameter_mm") * value("curvature_per_mm");
            assert!((value("strain_percent") - strain).abs() < 1e-9);
        }
        assert!(number("in_bend_mm") > 0.0);
        assert!(file["binds"].is_null());
    }
    // A radius is uncertain in both files alike: their ratio is not.
    let times = &files[1]["times_first"];
    let relative = |q: &Value| q["u95"].as_f64().unwrap() / q["value"].as_f64().unwrap();
    assert!(times["value"].as_f64().unwrap() > 1.5);
    assert!(relative(times) < relative(&files[1]["peak_strain_percent"]));
    // Stops: the chart value less the step-back.
    let card = canal["card"].as_array().unwrap();
    let chart = canal["working_length_chart_mm"].as_f64().unwrap();
    assert_eq!(card[0]["file"], "10/.02");
    assert_eq!(card[1]["stop_mm"].as_f64().unwrap(), chart);
    assert_eq!(card[2]["stop_mm"].as_f64().unwrap(), chart - 1.0);
    let left = card[1]["diameter_left_mm"].as_array().unwrap();
    let at = |mm: f64| {
        let level = left
            .iter()
            .find(|level| level["from_apex_mm"] == mm)
            .unwrap();
        level["mm"].as_f64().unwrap()
    };
    assert!((at(1.0) - 0.25).abs() < 1e-9 && (at(4.0) - 0.43).abs() < 1e-9);
    assert!(codes(&found).contains(&"no_walls"));
    // For pre-curving: from the reference point.
    let bend = &canal["bends"][0];
    let whole = bend["start_from_reference_mm"].as_f64().unwrap()
        + bend["start_from_apex_mm"].as_f64().unwrap();
    assert!((whole - chart - 1.0).abs() < 0.75, "{whole}");
}

/// Walls drawn 0.2 mm from the path on each side at the apex, widening: the
/// command's passive depth is that of the closed form within what the sections
/// and the film's scale leave.
#[test]
fn walls_of_the_case_say_where_a_file_binds() {
    let folder = sample("molar-36-short", |case| {
        let trace: Vec<[f64; 2]> =
            serde_json::from_value(case["canals"][0]["trace_px"].clone()).unwrap();
        let side = |sign: f64| -> Vec<[f64; 2]> {
            let last = trace.len() - 1;
            (0..=last)
                .map(|i| {
                    let (before, after) = (trace[i.saturating_sub(1)], trace[(i + 1).min(last)]);
                    let (dx, dy) = (after[0] - before[0], after[1] - before[1]);
                    let half_px = 7.0 + 1.0 * (last - i) as f64;
                    let scale = sign * half_px / dx.hypot(dy);
                    // Seen from the orifice, +x is on the left of a root that
                    // points down the film.
                    [trace[i][0] + dy * scale, trace[i][1] - dx * scale]
                })
                .collect()
        };
        case["canals"][0]["walls"] = json!({"left_px": side(1.0), "right_px": side(-1.0)});
    });
    let found = found(folder.path(), &["--file", "10/.02", "--file", "60/.02"]);
    assert!(
        !codes(&found).contains(&"walls_unusable"),
        "{:?}",
        codes(&found)
    );
    let files = found["canals"][0]["files"].as_array().unwrap();
    let tip = |k: usize| {
        files[k]["binds"]["passive_tip_from_apex_mm"]
            .as_f64()
            .unwrap()
    };
    assert!(tip(0) < 1.0, "{}", tip(0));
    assert!(tip(1) > 2.0, "{}", tip(1));
    assert!(files[1]["binds"]["contact_from_apex_mm"].as_f64().unwrap() >= tip(1));
    assert!(files[1]["binds"]["passive_tip_u95_mm"].as_f64().unwrap() > 0.0);
}

/// Walls followed every 5 px but for 3 mm in the middle of the canal: a file that
/// would pass there may bind there, so where it binds is not known and the reason
/// is given; a thick one that stops coronal to it is as before.
#[test]
fn a_file_that_passes_where_followed_walls_do_not_show_has_no_place() {
    let write = |hidden: bool| {
        sample("molar-36-short", |case| {
            let trace: Vec<[f64; 2]> =
                serde_json::from_value(case["canals"][0]["trace_px"].clone()).unwrap();
            let lengths: Vec<f64> = trace
                .windows(2)
                .map(|p| (p[1][0] - p[0][0]).hypot(p[1][1] - p[0][1]))
                .collect();
            let whole: f64 = lengths.iter().sum();
            let mut sides = [Vec::new(), Vec::new()];
            let mut so_far = 0.0;
            for (pair, length) in trace.windows(2).zip(&lengths) {
                let (dx, dy) = (pair[1][0] - pair[0][0], pair[1][1] - pair[0][1]);
                for k in 0..(length / 5.0) as usize {
                    let at = 5.0 * k as f64;
                    let share = (so_far + at) / whole;
                    if hidden && (0.45..0.65).contains(&share) {
                        continue;
                    }
                    let half = 7.0 + 12.0 * (1.0 - share);
                    for (points, sign) in sides.iter_mut().zip([1.0, -1.0]) {
                        points.push([
                            pair[0][0] + (dx * at + sign * dy * half) / length,
                            pair[0][1] + (dy * at - sign * dx * half) / length,
                        ]);
                    }
                }
                so_far += length;
            }
            let count = sides[0].len();
            let reading = json!({"u_px": vec![0.1; count], "common_u_px": vec![0.1; count],
                                 "common_over_px": 40.0});
            case["canals"][0]["walls"] = json!({"left_px": sides[0], "right_px": sides[1],
                "followed": {"left": reading, "right": reading}});
        })
    };
    let files = ["--file", "10/.02", "--file", "100/.02"];
    let (shown, hidden) = (write(false), write(true));
    let (shown, hidden) = (found(shown.path(), &files), found(hidden.path(), &files));
    let binds = |found: &Value, k: usize| found["canals"][0]["files"][k]["binds"].clone();
    assert!(!codes(&shown).contains(&"walls_not_seen"));
    assert!(binds(&shown, 0)["passive_tip_from_apex_mm"].is_f64());
    assert!(binds(&hidden, 0).is_null(), "{}", binds(&hidden, 0));
    assert!(
        codes(&hidden).contains(&"walls_not_seen"),
        "{:?}",
        codes(&hidden)
    );
    let tip = |found: &Value| binds(found, 1)["passive_tip_from_apex_mm"].as_f64();
    let (with, without) = (tip(&hidden), tip(&shown).unwrap());
    assert!((with.unwrap() - without).abs() < 0.1, "{with:?} {without}");
}

#[test]
fn what_cannot_be_known_is_null_with_a_reason() {
    let no_scale = sample("molar-36-short", |case| {
        case["scale"] = json!({"objects": []});
        case["film"]["pixel_pitch_mm"] = Value::Null;
        case["film"]["source_to_detector_mm"] = Value::Null;
        case["film"]["source_to_tooth_mm"] = Value::Null;
    });
    let without = found(no_scale.path(), &["--file", "25/.06"]);
    let file = &without["canals"][0]["files"][0];
    assert!(file["peak_strain_percent"].is_null() && file["profile"] == json!([]));
    assert!(without["canals"][0]["card"][0]["stop_mm"].is_null());
    assert!(codes(&without).contains(&"no_strain_without_scale"));
    assert!(codes(&without).contains(&"no_working_length"));

    let few_points = sample("molar-36-short", |case| {
        let trace = case["canals"][0]["trace_px"].as_array().unwrap();
        let (first, last) = (trace[0].clone(), trace[trace.len() - 1].clone());
        case["canals"][0]["trace_px"] = json!([first, last]);
    });
    let found_few = found(few_points.path(), &["--file", "25/.06"]);
    assert!(codes(&found_few).contains(&"no_strain_without_path"));

    let crossed = sample("molar-36-short", |case| {
        let trace = case["canals"][0]["trace_px"].clone();
        case["canals"][0]["walls"] = json!({"left_px": trace, "right_px": [[10, 10], [20, 20]]});
    });
    let found_walls = found(crossed.path(), &["--file", "25/.06"]);
    assert!(codes(&found_walls).contains(&"walls_unusable"));
    assert!(found_walls["canals"][0]["files"][0]["binds"].is_null());

    let stepped = sample("molar-36-short", |_| {});
    let high = found(stepped.path(), &["--file", "25/.06:15"]);
    assert!(
        codes(&high).contains(&"tip_coronal_to_trace"),
        "{:?}",
        codes(&high)
    );
    assert!(high["canals"][0]["files"][0]["peak_strain_percent"].is_null());
    let long = found(stepped.path(), &["--file", "25/.06"]);
    assert!(
        codes(&long).contains(&"file_beyond_trace"),
        "{:?}",
        codes(&long)
    );
}

/// A corner has no radius that points could tell: no strain, and the reason.
#[test]
fn a_corner_has_no_strain() {
    let folder = sample("molar-36-short", |case| {
        let (sine, cosine) = 20f64.to_radians().sin_cos();
        let place = |mm: f64| {
            let (before, after) = (mm.min(6.0), (mm - 6.0).max(0.0));
            [
                400.0 + 20.0 * after * sine,
                300.0 + 20.0 * (before + after * cosine),
            ]
        };
        let trace: Vec<_> = (0..15).map(|mm| place(f64::from(mm))).collect();
        case["canals"] = json!([{"name": "C", "trace_px": trace}]);
        case["scale"] = json!({"objects": [{"kind": "ruler", "true_length_mm": 10.0,
                                            "points_px": [[100, 100], [100, 300]]}]});
    });
    let found = found(folder.path(), &["--file", "25/.06"]);
    assert!(codes(&found).contains(&"radius_not_resolved"));
    let file = &found["canals"][0]["files"][0];
    assert!(file["peak_strain_percent"].is_null() && file["profile"] == json!([]));
    assert!(file["in_bend_mm"].is_number());
}

/// The standard's tolerance is in the U: of two files that are nominally one,
/// each ± 0.02 mm (0.04 above size 60; rectangular), the ratio of the strains is
/// 1 ± 2 (1 − √0.05) times the tolerance over the diameter (triangular, DERIVED).
#[test]
fn files_of_one_size_differ_by_the_tolerance_of_the_standard() {
    let folder = sample("premolar-35-s-bend", |_| {});
    for (file, tolerance_mm) in [("25/.02", 0.02), ("70/.02", 0.04)] {
        let found = found(folder.path(), &["--file", file, "--file", file]);
        let second = &found["canals"][0]["files"][1];
        let diameter_mm = second["diameter_at_peak_mm"].as_f64().unwrap();
        let expected = 2.0 * (1.0 - 0.05f64.sqrt()) * tolerance_mm / diameter_mm;
        assert_eq!(second["times_first"]["value"], 1.0);
        let u95 = second["times_first"]["u95"].as_f64().unwrap();
        assert!(
            (u95 / expected - 1.0).abs() < 0.15,
            "{file}: {u95}, {expected}"
        );
    }
}

/// Sizes 25 to 40, each 1 mm short of the one before: stops 1 mm apart from the
/// chart's working length on (DERIVED).
#[test]
fn stops_of_a_series_of_step_backs() {
    let folder = sample("molar-36-short", |_| {});
    let files = ["25/.02", "30/.02:1", "35/.02:2", "40/.02:3"];
    let arguments: Vec<&str> = files.iter().flat_map(|file| ["--file", *file]).collect();
    let found = found(folder.path(), &arguments);
    let canal = &found["canals"][0];
    let chart = canal["working_length_chart_mm"].as_f64().unwrap();
    for (k, line) in canal["card"].as_array().unwrap().iter().enumerate() {
        assert_eq!(line["stop_mm"].as_f64().unwrap(), chart - k as f64);
    }
    // 3 mm above the first tip the widest is the last, as wide as its own tip.
    let shaped = canal["shaped"].as_array().unwrap();
    let level = canal["allowance_mm"].as_f64().unwrap() + 3.0;
    let there = shaped.iter().find(|s| s["from_apex_mm"] == level).unwrap();
    assert_eq!(
        (&there["file"], &there["mm"]),
        (&json!("40/.02"), &json!(0.4))
    );
}

/// A canal drawn as a ruler draws it: 0 with its U, and no place.
#[test]
fn a_straight_canal_has_no_strain_and_says_how_well_it_is_known() {
    let folder = sample("molar-36-short", |case| {
        let trace: Vec<[f64; 2]> = (0..10)
            .map(|k| [600.0, 300.0 + 60.0 * f64::from(k)])
            .collect();
        case["canals"][0]["apex_px"] = json!(trace[9]);
        case["canals"][0]["reference_px"] = json!([600.0, 100.0]);
        case["canals"][0]["trace_px"] = json!(trace);
        case["canals"][0].as_object_mut().unwrap().remove("file");
        case["scale"] = json!({"objects": [{"kind": "ruler", "true_length_mm": 10.0,
                                            "points_px": [[100, 100], [100, 500]]}]});
    });
    let found = found(folder.path(), &["--file", "25/.06"]);
    let file = &found["canals"][0]["files"][0];
    assert_eq!(file["peak_strain_percent"]["value"], 0.0);
    assert!(file["peak_strain_percent"]["u95"].as_f64().unwrap() > 0.0);
    assert!(file["peak_from_apex_mm"].is_null());
    assert_eq!(file["in_bend_mm"], 0.0);
}

#[test]
fn bad_input_gets_one_clear_line() {
    let folder = sample("molar-36-short", |_| {});
    for (arguments, said) in [
        (&["--file", "25"][..], "not a file"),
        (&["--file", "5/.02"], "size 5 is not possible"),
        (&["--file", "25/.5"], "taper 0.5 is not possible"),
        (&["--file", "25/.06/2"], "working part 2 is not possible"),
        (&["--file", "0=0.25,0=0.3"], "diameters"),
        (&["--file", "25/.06:20"], "step-back 20 is not possible"),
        (&[], "no files"),
        (
            &["--file", "25/.06", "--tip-from-apex-mm", "-1"],
            "a tip -1 mm",
        ),
        (
            &["--file", "25/.06", "--tip-from-apex-mm", "99"],
            "a tip 99 mm",
        ),
        (&["--file", "25/.06", "--step-mm", "0"], "levels every 0 mm"),
        (
            &["--file", "25/.06", "--canal", "ZZ"],
            "has no canal \"ZZ\"",
        ),
        (
            &["--file", "25/.06", "--card", "card.docx"],
            ".pdf, .html or .csv",
        ),
    ] {
        let (code, out, err) = instrument(folder.path(), arguments);
        assert_eq!(code, Some(1), "{arguments:?}: {err}");
        assert!(out.is_empty(), "{arguments:?}");
        assert_eq!(err.lines().count(), 1, "{err}");
        assert!(err.contains(said), "{arguments:?}: {err}");
    }
    for (files, said) in [
        (json!([{"size": 25}]), "needs a size and a taper"),
        (
            json!([{"size": 25, "taper": 0.06, "diameters_mm": [[0, 0.2], [16, 0.5]]}]),
            "not both",
        ),
        (
            json!([{"size": 250, "taper": 0.06}]),
            "size 250 is not possible",
        ),
        (
            json!([{"size": 25, "taper": 0.06, "step_back_mm": -1}]),
            "step-back -1",
        ),
    ] {
        let folder = sample("molar-36-short", |case| {
            case["canals"][0]["shaping_files"] = files;
        });
        let (code, _, err) = instrument(folder.path(), &[]);
        assert_eq!((code, err.lines().count()), (Some(1), 1), "{err}");
        assert!(err.contains(said) && err.contains("shaping_files"), "{err}");
    }
}

/// The files of the case are used where none are named.
#[test]
fn the_case_lists_its_files() {
    let folder = sample("molar-36-short", |case| {
        case["canals"][0]["shaping_files"] = json!([
            {"size": 15, "taper": 0.02},
            {"diameters_mm": [[0, 0.25], [3, 0.43], [16, 0.86]], "step_back_mm": 0.5},
        ]);
    });
    let found = found(folder.path(), &[]);
    let files = &found["canals"][0]["files"];
    assert_eq!(files[0]["file"], "15/.02");
    assert_eq!(files[1]["taper"], Value::Null);
    assert_eq!(files[1]["tip_from_apex_mm"], 1.5);
}

/// What may not be said of a file is said nowhere: no life in turns, no limit,
/// no verdict.
#[test]
fn nothing_is_said_of_life_limits_or_safety() {
    let folder = sample("molar-36-short", |_| {});
    let path = folder.path();
    let arguments = [
        "--file",
        "10/.02",
        "--file",
        "40/.06",
        "--card",
        "card.html",
    ];
    let (_, text, _) = instrument(path, &arguments);
    let (_, json, _) = instrument(path, &["--file", "40/.06", "--json"]);
    let html = fs::read_to_string(path.join("card.html")).unwrap();
    let (_, html) = html.split_once("</style>").unwrap();
    let html = html.to_owned();
    let help = lengthfilm()
        .args(["instrument", "--help"])
        .output()
        .unwrap();
    let help = String::from_utf8(help.stdout).unwrap();
    for said in [text, json, html, help] {
        let said = said.to_lowercase();
        for never in [
            "cycle",
            "safe",
            "danger",
            "fatigue",
            "fracture",
            "break",
            "limit",
            "nickel",
            "nitinol",
            "steel",
            "alloy",
            "martensit",
            "austenit",
            "risk",
        ] {
            assert!(!said.contains(never), "{never}: {said}");
        }
    }
}

#[test]
fn the_card_is_written_once_in_three_kinds() {
    let folder = sample("molar-36-short", |_| {});
    let path = folder.path();
    for name in ["card.pdf", "card.html", "card.csv"] {
        let arguments = ["--file", "15/.02", "--file", "=1", "--card", name];
        let (code, _, err) = instrument(path, &arguments);
        assert_eq!(code, Some(1), "{err}");
        let arguments = ["--file", "15/.02", "--file", "25/.06:0.5", "--card", name];
        let (code, _, err) = instrument(path, &arguments);
        assert_eq!(code, Some(0), "{err}");
        let (code, _, err) = instrument(path, &arguments);
        assert_eq!(code, Some(1), "{err}");
        assert!(err.contains("exists already"), "{err}");
    }
    let csv = fs::read_to_string(path.join("card.csv")).unwrap();
    let mut table = csv::Reader::from_reader(csv.as_bytes());
    let headers = table.headers().unwrap().clone();
    let column = |name: &str| headers.iter().position(|h| h == name).unwrap();
    let rows: Vec<_> = table.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), 2);
    let (stop, left) = (column("stop_mm"), column("diameter_left_at_2_mm"));
    let stops: Vec<f64> = rows.iter().map(|row| row[stop].parse().unwrap()).collect();
    assert_eq!(stops[0] - stops[1], 0.5);
    // 0.5 mm above a tip 1.5 mm from the apex: 0.25 + 0.06 × 0.5.
    assert_eq!(&rows[1][left], "0.28");
    let html = fs::read_to_string(path.join("card.html")).unwrap();
    for said in [
        "Working length",
        "15/.02",
        "white",
        "red",
        "Cautions",
        "electronically",
    ] {
        assert!(html.contains(said), "{said}");
    }
    let pdf = fs::read(path.join("card.pdf")).unwrap();
    assert!(pdf.starts_with(b"%PDF"));
    assert_eq!(pages(&pdf), 1);
}

/// Pages of a PDF whose page tree is not compressed, or as `Count` says.
fn pages(pdf: &[u8]) -> usize {
    let text = String::from_utf8_lossy(pdf);
    let counts = text.split("/Count ").skip(1);
    counts
        .filter_map(|rest| {
            let digits: String = rest.chars().take_while(char::is_ascii_digit).collect();
            digits.parse().ok()
        })
        .max()
        .unwrap_or(0)
}
