//! The commands as a user or a script meets them: exit codes, one clear line
//! per fault, nothing but JSON on standard output.

use std::fs;
use std::path::Path;

use assert_cmd::Command;
use lengthfilm::film::{Film, Polarity};
use serde_json::{Value, json};

fn lengthfilm() -> Command {
    Command::cargo_bin("lengthfilm").unwrap()
}

/// A folder with a small film and a sound case on it.
fn workspace() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let samples = (0..100 * 200).map(|i| (i % 65_521) as u16).collect();
    let film = Film::from_samples(100, 200, 16, Polarity::HighIsOpaque, samples).unwrap();
    film.save_png16(&folder.path().join("film.png")).unwrap();
    write_case(folder.path(), "sound", &sound_case());
    folder
}

fn sound_case() -> Value {
    json!({
        "format": "lengthfilm-case", "version": 1, "film": {"path": "film.png"},
        "scale": {"objects": [{"kind": "ruler", "true_length_mm": 10.0,
                               "points_px": [[90, 10], [90, 110]]}]},
        "canals": [{"name": "MB", "trace_px": [[50, 20], [50, 60], [50, 100], [52, 140]]}]
    })
}

fn write_case(folder: &Path, name: &str, case: &Value) {
    let path = folder.join(format!("{name}.case.json"));
    fs::write(path, case.to_string()).unwrap();
}

/// Runs `measure` on one case that must be refused, and returns its one line.
fn refusal(folder: &Path, name: &str) -> String {
    let output = lengthfilm()
        .current_dir(folder)
        .args(["measure", "--json", &format!("{name}.case.json")])
        .output()
        .unwrap();
    let message = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(1), "{message}");
    assert!(output.stdout.is_empty(), "{name}: wrote to standard output");
    assert_eq!(message.lines().count(), 1, "{message}");
    message
}

#[test]
fn one_case_prints_one_object_and_several_an_array() {
    let folder = workspace();
    write_case(folder.path(), "second", &sound_case());
    let run = |names: &[&str]| -> Value {
        let output = lengthfilm()
            .current_dir(folder.path())
            .args(["measure", "--json"])
            .args(names)
            .assert()
            .success();
        serde_json::from_slice(&output.get_output().stdout).unwrap()
    };
    let one = run(&["sound.case.json"]);
    assert_eq!(one["case"], "sound.case.json");
    assert!((one["scale"]["mm_per_px"].as_f64().unwrap() - 0.1).abs() < 1e-12);
    let two = run(&["sound.case.json", "second.case.json"]);
    assert_eq!(two.as_array().unwrap().len(), 2);
    assert_eq!(two[0]["canals"], two[1]["canals"]);
}

#[test]
fn one_bad_case_does_not_stop_the_others() {
    let folder = workspace();
    fs::write(folder.path().join("bad.case.json"), "{").unwrap();
    let output = lengthfilm()
        .current_dir(folder.path())
        .args(["measure", "--json", "bad.case.json", "sound.case.json"])
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(1));
    let found: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(found.as_array().unwrap().len(), 1);
    let message = String::from_utf8(output.stderr).unwrap();
    assert!(
        message.contains("bad.case.json") && message.contains("1 of 2"),
        "{message}"
    );
}

/// One record per case, the bad one named; two of one name are refused before
/// any is written.
#[test]
fn several_records_are_written_past_a_bad_case() {
    let folder = workspace();
    let path = folder.path();
    write_case(path, "second", &sound_case());
    fs::write(path.join("bad.case.json"), "{").unwrap();
    let report = |cases: &[&str]| {
        let mut command = lengthfilm();
        command.current_dir(path).arg("report").args(cases);
        command.args(["--replace", "--out", "{}.csv"]);
        command.output().unwrap()
    };
    let written = report(&["sound.case.json", "bad.case.json", "second.case.json"]);
    let message = String::from_utf8(written.stderr).unwrap();
    assert_eq!(written.status.code(), Some(1), "{message}");
    assert!(message.contains("bad.case.json"), "{message}");
    assert!(message.ends_with("1 of 3 could not be used\n"), "{message}");
    assert_eq!(written.stdout, b"sound.csv\nsecond.csv\n");
    for name in ["sound", "second"] {
        let table = fs::read_to_string(path.join(format!("{name}.csv"))).unwrap();
        let case = fs::read(path.join(format!("{name}.case.json"))).unwrap();
        let label = format!("case {}", &lengthfilm::film::hex_digest(&case)[..8]);
        assert!(table.contains(&label), "{label} in {table}");
        fs::remove_file(path.join(format!("{name}.csv"))).unwrap();
    }

    fs::create_dir(path.join("other")).unwrap();
    fs::copy(path.join("film.png"), path.join("other/film.png")).unwrap();
    write_case(&path.join("other"), "sound", &sound_case());
    let refused = report(&[
        "sound.case.json",
        "second.case.json",
        "other/sound.case.json",
    ]);
    let message = String::from_utf8(refused.stderr).unwrap();
    assert_eq!(refused.status.code(), Some(1), "{message}");
    assert!(message.contains("sound.csv") && message.contains("other/sound.case.json"));
    assert!(!path.join("sound.csv").exists() && !path.join("second.csv").exists());
}

#[test]
fn every_bad_input_gets_its_own_line() {
    let folder = workspace();
    let path = folder.path();
    let with = |name: &str, change: &dyn Fn(&mut Value)| {
        let mut case = sound_case();
        change(&mut case);
        write_case(path, name, &case);
        refusal(path, name)
    };

    assert!(with("newer", &|c| c["version"] = json!(2)).contains("newer"));
    assert!(with("version zero", &|c| c["version"] = json!(0)).contains("no case version 0"));
    assert!(with("other", &|c| c["format"] = json!("elsewhere")).contains("not a case file"));
    assert!(with("typed", &|c| c["canals"] = json!("MB")).contains("line 1"));
    let missing = with("missing", &|c| c["film"]["path"] = json!("absent.png"));
    assert!(
        missing.contains("absent.png") && missing.contains("missing"),
        "{missing}"
    );
    let changed = with("changed", &|c| c["film"]["sha256"] = json!("00"));
    assert!(changed.contains("changed since"), "{changed}");
    let outside = with("outside", &|c| {
        c["canals"][0]["trace_px"][0] = json!([50, 201])
    });
    assert!(outside.contains("outside the film"), "{outside}");
    let twice = with("twice", &|c| {
        c["canals"][0]["trace_px"][1] = json!([50.1, 20.2])
    });
    assert!(twice.contains("delete one"), "{twice}");
    let tooth = with("tooth", &|c| {
        c["tooth"] = json!({"notation": "fdi", "number": "99"})
    });
    assert!(tooth.contains("99"), "{tooth}");

    fs::write(
        path.join("nan.case.json"),
        sound_case().to_string().replace("10.0", "NaN"),
    )
    .unwrap();
    assert!(refusal(path, "nan").contains("not valid JSON"));
    fs::write(
        path.join("huge.case.json"),
        sound_case().to_string().replace("10.0", "1e999"),
    )
    .unwrap();
    assert!(refusal(path, "huge").contains("not valid JSON"));
    assert!(refusal(path, "absent").contains("no such file"));

    let png = fs::read(path.join("film.png")).unwrap();
    fs::write(path.join("cut.png"), &png[..png.len() / 2]).unwrap();
    assert!(with("cut", &|c| c["film"]["path"] = json!("cut.png")).contains("cut.png"));
    fs::write(path.join("text.png"), "no picture at all").unwrap();
    assert!(with("text", &|c| c["film"]["path"] = json!("text.png")).contains("text.png"));
}

#[test]
fn wrong_usage_is_exit_2() {
    for arguments in [
        &["measure"][..],
        &["measure", "--unknown", "a"],
        &["info"],
        &["no-such-command", "a"],
    ] {
        lengthfilm().args(arguments).assert().code(2);
    }
    lengthfilm().arg("--help").assert().success();
    lengthfilm().arg("--version").assert().success();
}

#[test]
fn info_prints_size_and_depth() {
    let folder = workspace();
    let output = lengthfilm()
        .current_dir(folder.path())
        .args(["info", "film.png", "--json"])
        .assert()
        .success();
    let info: Value = serde_json::from_slice(&output.get_output().stdout).unwrap();
    assert_eq!(info["width_px"], 100);
    assert_eq!(info["height_px"], 200);
    assert_eq!(info["bits_stored"], 16);
    lengthfilm().args(["info", "absent.png"]).assert().code(1);
}

/// Shrout & Fleiss 1979 (Psychol Bull 86:420–8, Table 4, SEEN): the six coefficients, through
/// the command.
#[test]
fn agreement_prints_the_published_coefficients() {
    let folder = tempfile::tempdir().unwrap();
    let table =
        "target,a,b,c,d\n1,9,2,5,8\n2,6,1,3,2\n3,8,4,6,8\n4,7,1,2,6\n5,10,5,6,9\n6,6,2,4,7\n";
    fs::write(folder.path().join("table.csv"), table).unwrap();
    let output = lengthfilm()
        .current_dir(folder.path())
        .args(["agreement", "table.csv", "--json"])
        .assert()
        .success();
    let found: Value = serde_json::from_slice(&output.get_output().stdout).unwrap();
    let published = [
        ("icc_1_1", 0.17),
        ("icc_2_1", 0.29),
        ("icc_3_1", 0.71),
        ("icc_1_k", 0.44),
        ("icc_2_k", 0.62),
        ("icc_3_k", 0.91),
    ];
    for (key, value) in published {
        let found = found["icc"][key]["value"].as_f64().unwrap();
        assert!((found - value).abs() <= 0.005, "{key}: {found}");
    }
    fs::write(folder.path().join("gap.csv"), "target,a,b\n1,9,\n2,6,1\n").unwrap();
    lengthfilm()
        .current_dir(folder.path())
        .args(["agreement", "gap.csv", "--json"])
        .assert()
        .code(1);
}
