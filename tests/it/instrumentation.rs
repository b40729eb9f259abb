//! Files in curved canals: closed forms, films with known truth, the command
//! and its card.

use std::fs;
use std::path::Path;

use assert_cmd::Command;
use kurbo::Point;
use lengthfilm::geometry::{Piece, StraightArcPath};
use lengthfilm::instrumentation::{
    CanalAxis, FileRequest, IsoColour, NominalFile, STANDARD_SIZES, WidthProfile, colour_of,
    diameter_left_mm, part_in_bend, passive_depth, peak, shaped_mm, strain_from_inner_wall,
    strain_from_outer_wall, surface_strain, surface_strain_at, tip_tolerance_mm,
};
use serde_json::{Value, json};

#[path = "../programs/strain_study.rs"]
#[expect(dead_code, reason = "the table is printed by the program `strain`")]
mod strain_study;

/// Equal to as many digits as the table prints.
#[track_caller]
fn four_digits(found: f64, expected: f64, decimals: i32) {
    let half_unit = 0.5 * 10f64.powi(-decimals) * 1.000_1;
    assert!(
        (found - expected).abs() <= half_unit,
        "{found}, expected {expected}"
    );
}

fn file(text: &str) -> NominalFile {
    NominalFile::parse(text).unwrap()
}

/// Beam theory, ε = d/(2R) (MEM-H), values DERIVED: % for the radius of the
/// file's own axis, of an inner and of an outer wall.
#[test]
fn strain_by_axis_and_by_walls() {
    for (diameter, radius, axis, inner, outer) in [
        (0.25, 5.0, 2.5000, 2.4390, 2.5641),
        (0.30, 5.0, 3.0000, 2.9126, 3.0928),
        (0.40, 5.0, 4.0000, 3.8462, 4.1667),
        (0.30, 2.0, 7.5000, 6.9767, 8.1081),
        (0.40, 2.0, 10.0000, 9.0909, 11.1111),
        (0.43, 4.0, 5.3750, 5.1008, 5.6803),
    ] {
        four_digits(100.0 * surface_strain(diameter, radius), axis, 4);
        four_digits(100.0 * strain_from_inner_wall(diameter, radius), inner, 4);
        let found = strain_from_outer_wall(diameter, radius).unwrap();
        four_digits(100.0 * found, outer, 4);
    }
    assert_eq!(strain_from_outer_wall(0.4, 0.2), None);
    assert_eq!(strain_from_outer_wall(0.4, 0.1), None);
}

/// An arc of one radius, `from`..`to` mm from the tip (tip at the apex):
/// straight, arc, straight.
fn arc_axis(from: f64, to: f64, radius: f64) -> CanalAxis {
    let arc = Piece::Arc {
        length: to - from,
        turn_rad: (to - from) / radius,
    };
    let straight = |length| Piece::Straight { length };
    let pieces = [straight(17.0 - to), arc, straight(from)];
    let path = StraightArcPath::new(Point::ORIGIN, 1.0, &pieces).unwrap();
    CanalAxis::new(path, 17.0)
}

/// Constant curvature: the peak lies at the coronal end of the arc (DERIVED).
#[test]
fn a_tapered_file_in_an_arc() {
    for (size, taper, from, to, radius, diameters, strains) in [
        (
            25.0,
            0.02,
            2.0,
            7.5851,
            8.0,
            [0.2900, 0.4017],
            [1.8125, 2.5106],
        ),
        (
            25.0,
            0.06,
            2.0,
            7.5851,
            8.0,
            [0.3700, 0.7051],
            [2.3125, 4.4069],
        ),
        (
            30.0,
            0.04,
            3.0,
            6.9270,
            5.0,
            [0.4200, 0.5771],
            [4.2000, 5.7708],
        ),
        (
            20.0,
            0.04,
            0.0,
            2.6180,
            5.0,
            [0.2000, 0.3047],
            [2.0000, 3.0472],
        ),
        (
            25.0,
            0.08,
            1.0,
            3.0944,
            2.0,
            [0.3300, 0.4976],
            [8.2500, 12.4388],
        ),
    ] {
        let file = NominalFile::tapered(size, taper, 16.0).unwrap();
        for (at, diameter) in [from, to].into_iter().zip(diameters) {
            four_digits(file.diameter_mm(at).unwrap(), diameter, 4);
        }
        let axis = arc_axis(from, to, radius);
        let found = axis.peak(&file, 0.0, 0.0).unwrap();
        four_digits(100.0 * found.strain, strains[1], 4);
        assert!((found.at_mm - to).abs() < 1e-6, "{}", found.at_mm);
        let apical = file.diameter_mm(from).unwrap();
        let curvature = axis.curvature_per_mm(from + 1e-6);
        four_digits(100.0 * surface_strain_at(apical, curvature), strains[0], 4);
    }
}

/// A smooth bend κ = κ0 cos²(π(s − s0)/w): the peak lies coronal to that of the
/// curvature, where D′κ + Dκ′ = 0 (DERIVED).
#[test]
fn a_tapered_file_in_a_smooth_bend() {
    for (size, taper, greatest, middle, width, place, strain, at_middle) in [
        (25.0, 0.06, 0.20, 4.0, 6.0, 4.2166, 4.96554, 4.90000),
        (25.0, 0.02, 0.20, 4.0, 6.0, 4.1097, 3.31099, 3.30000),
        (30.0, 0.08, 0.25, 5.0, 8.0, 5.3538, 8.92919, 8.75000),
    ] {
        let file = NominalFile::tapered(size, taper, 16.0).unwrap();
        let strain_at = |s: f64| {
            let phase = std::f64::consts::PI * (s - middle) / width;
            surface_strain_at(file.diameter_mm(s).unwrap(), greatest * phase.cos().powi(2))
        };
        let found = peak(middle - 0.5 * width, middle + 0.5 * width, strain_at).unwrap();
        four_digits(found.at_mm, place, 4);
        four_digits(100.0 * found.strain, strain, 5);
        four_digits(100.0 * strain_at(middle), at_middle, 5);
    }
}

/// Passive depth and contact, closed forms (DERIVED): a canal of even taper,
/// W = 0.20 + 0.03 s over 16 mm.
#[test]
fn contact_in_a_canal_of_even_taper() {
    let widths = WidthProfile::new(vec![[0.0, 0.20], [16.0, 0.68]]).unwrap();
    for (text, tip, contact) in [
        ("15/.02", 0.0, None),
        ("20/.02", 0.0, Some(0.0)),
        ("25/.02", 1.6667, Some(1.667)),
        ("30/.02", 3.3333, Some(3.333)),
        ("20/.04", 4.0000, Some(16.0)),
        ("25/.06", 8.8333, Some(16.0)),
        ("15/.06", 7.1667, Some(16.0)),
    ] {
        let found = passive_depth(&file(text), 0.0, &widths);
        four_digits(found.tip_mm, tip, 4);
        assert_eq!(found.contact_mm.is_some(), contact.is_some(), "{text}");
        if let (Some(found), Some(contact)) = (found.contact_mm, contact) {
            four_digits(found, contact, 3);
        }
    }
}

/// The same in the median mesiodistal widths of mesiobuccal canals of lower
/// molars, 1/2/3/4 mm from the apex: 0.22/0.27/0.30/0.36 mm (Villas-Bôas and
/// others, J Endod 2011, n = 60, SEEN); 0.22 at the end and 0.06 per mm above
/// are assumed.
#[test]
fn contact_in_a_canal_of_median_widths() {
    let samples = vec![
        [0.0, 0.22],
        [1.0, 0.22],
        [2.0, 0.27],
        [3.0, 0.30],
        [4.0, 0.36],
        [16.0, 1.08],
    ];
    let widths = WidthProfile::new(samples).unwrap();
    for (text, tip, contact) in [
        ("20/.02", 0.0, 1.0),
        ("25/.02", 1.6, 1.6),
        ("30/.02", 3.0, 3.0),
        // As steep as the canal from 3 mm on, where it touches all along.
        ("25/.06", 2.1667, 3.0),
    ] {
        let found = passive_depth(&file(text), 0.0, &widths);
        four_digits(found.tip_mm, tip, 4);
        four_digits(found.contact_mm.unwrap(), contact, 4);
    }
}

/// A parallel file stops at the first narrower place; a file that thins out
/// again is held by its thickest part.
#[test]
fn contact_of_parallel_and_waisted_files() {
    let narrowing = WidthProfile::new(vec![[0.0, 0.5], [6.0, 0.2], [16.0, 0.7]]).unwrap();
    let parallel = passive_depth(&file("30/0"), 0.0, &narrowing);
    four_digits(parallel.tip_mm, 8.0, 4);
    let waisted = file("0=0.20,2=0.40,4=0.25,16=0.50");
    let even = WidthProfile::new(vec![[0.0, 0.2], [16.0, 1.0]]).unwrap();
    // Its thickest part, 2 mm from the tip, reaches where W = 0.40: 4 mm.
    let found = passive_depth(&waisted, 0.0, &even);
    four_digits(found.tip_mm, 2.0, 4);
    four_digits(found.contact_mm.unwrap(), 4.0, 4);
}

/// Part of a file of 16 mm in a bend (DERIVED).
#[test]
fn part_of_a_file_in_a_bend() {
    for (end, start, tip, from, to, length, share) in [
        (1.0, 6.585, 1.0, 0.0, 5.585, 5.585, 34.9),
        (0.0, 3.927, 1.0, 0.0, 2.927, 2.927, 18.3),
        (3.0, 8.585, 0.5, 2.5, 8.085, 5.585, 34.9),
        (10.0, 20.0, 1.0, 9.0, 16.0, 7.0, 43.8),
    ] {
        let part = part_in_bend(end, start, tip, 16.0).unwrap();
        four_digits(part.from_tip_mm, from, 4);
        four_digits(part.to_tip_mm, to, 4);
        four_digits(part.length_mm(), length, 4);
        assert!((100.0 * part.length_mm() / 16.0 - share).abs() <= 0.0501);
    }
    assert_eq!(part_in_bend(17.5, 20.0, 1.0, 16.0), None);
    assert_eq!(part_in_bend(0.0, 0.5, 1.0, 16.0), None);
}

/// Step-backs of 1 mm in steps of five sizes leave a taper of 0.05, of 0.5 mm
/// one of 0.10 (a teaching rule, MEM-H; DERIVED); at 3 mm above the first tip
/// the file 40/.02 is the widest.
#[test]
fn a_series_of_step_backs() {
    for (step_mm, cone) in [(1.0, 0.05), (0.5, 0.10)] {
        let files: Vec<_> = [25.0, 30.0, 35.0, 40.0]
            .into_iter()
            .enumerate()
            .map(|(k, size)| (NominalFile::iso(size).unwrap(), 1.0 + step_mm * k as f64))
            .collect();
        let tips: Vec<_> = files
            .iter()
            .map(|(_, tip)| shaped_mm(&files, *tip).unwrap())
            .collect();
        for pair in tips.windows(2) {
            let rise = pair[1].level.diameter_mm - pair[0].level.diameter_mm;
            four_digits(rise / step_mm, cone, 4);
        }
        if step_mm == 1.0 {
            for ((file, tip), left) in files.iter().zip([0.31, 0.34, 0.37, 0.40]) {
                four_digits(diameter_left_mm(file, *tip, 4.0).unwrap(), left, 4);
            }
            assert_eq!(shaped_mm(&files, 4.0).unwrap().file, 3);
            // The cutting part of the first ends at allowance + 16.
            assert!(diameter_left_mm(&files[0].0, 1.0, 17.0).is_some());
            assert_eq!(diameter_left_mm(&files[0].0, 1.0, 17.01), None);
            assert_eq!(diameter_left_mm(&files[0].0, 1.0, 0.9), None);
        }
    }
}

/// ISO 3630-1: colours (restated by a teaching text, SEEN), tolerances 0.02 mm
/// to size 60 (MEM-H), 0.04 above (edition of 1992, MEM-M).
#[test]
fn sizes_and_colours_of_the_standard() {
    for (sizes, colour) in [
        (vec![6], IsoColour::Pink),
        (vec![8], IsoColour::Grey),
        (vec![10, 12], IsoColour::Purple),
        (vec![15, 17, 45, 90], IsoColour::White),
        (vec![20, 22, 50, 100], IsoColour::Yellow),
        (vec![25, 27, 55, 110], IsoColour::Red),
        (vec![30, 32, 60, 120], IsoColour::Blue),
        (vec![35, 37, 70, 130], IsoColour::Green),
        (vec![40, 80, 140], IsoColour::Black),
    ] {
        for size in sizes {
            assert_eq!(colour_of(f64::from(size)).unwrap().colour, colour, "{size}");
        }
    }
    assert!(
        STANDARD_SIZES
            .windows(2)
            .all(|pair| pair[0].size < pair[1].size)
    );
    assert_eq!(colour_of(13.0), None);
    assert_eq!([60.0, 70.0].map(tip_tolerance_mm), [0.02, 0.04]);
    assert_eq!(file("27/.04").colour_words(), "red with gold");
}

#[test]
fn step_backs_are_read_and_bounded() {
    let request = FileRequest::parse("30/.02:1.5").unwrap();
    assert_eq!(
        (request.file.label(), request.step_back_mm),
        ("30/.02".to_owned(), 1.5)
    );
    for bad in [
        "30/.02:",
        "30/.02:x",
        "30/.02:-1",
        "30/.02:17",
        "30/.02:1:2",
    ] {
        assert!(FileRequest::parse(bad).is_err(), "{bad}");
    }
}

/// Coverage of the peak strain and of the ratio of two files on canals of known
/// course, files off by up to the tolerance. The rule for U was chosen on the
/// first 200 films; these are others. 95 % ± three standard errors (2 % each).
#[test]
fn the_stated_intervals_hold_the_truth() {
    let outcomes = strain_study::study(1000, 120, 1500);
    let coverage = strain_study::coverage(&outcomes, |outcome| outcome.peak);
    let ratio = strain_study::coverage(&outcomes, |outcome| outcome.ratio);
    println!("peak {coverage:?}\nratio {ratio:?}");
    assert!(coverage.count >= 80, "{coverage:?}");
    assert!((0.89..=1.0).contains(&coverage.share), "{coverage:?}");
    assert!((0.89..=1.0).contains(&ratio.share), "{ratio:?}");
}

// The command.

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
